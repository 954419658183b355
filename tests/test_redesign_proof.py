"""The proof: what is written, read again and checked, is what is claimed; the command; best buys and what each change wins."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from test_redesign_search import PRICES, RISER, meets

from plumbline.check import CheckResult, check
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.files import new_file
from plumbline.layout import layout_of, read_layout
from plumbline.redesign.buys import best_buys, one_thing, standing, within, worth
from plumbline.redesign.change import apply, changed
from plumbline.redesign.search import Redesign, Targets, difference, prove, search

LAYOUTS = Path(__file__).parent.parent / "layouts"


@cache
def riser() -> Redesign:
    found = search(layout_of(RISER.replace("wants: 20", "wants: 25")), Targets(), PRICES)
    assert found is not None
    assert found.changes
    return found


@pytest.mark.invariant
def test_a_written_redesign_checks_as_claimed(tmp_path: Path) -> None:
    found = riser()
    new = tmp_path / "new.yaml"
    result = prove(found, new_file(new, "layout"))
    again = check(read_layout(new))
    assert meets(again, 1.0)
    for one in (result, again, prove(found)):
        assert one.score.tenths == found.result.score.tenths
        assert one.verdict == found.result.verdict
        assert one.flows.vessels["bed"].inflow == pytest.approx(found.result.flows.vessels["bed"].inflow, rel=1e-9)
    assert list(tmp_path.iterdir()) == [new]


@pytest.mark.invariant
def test_nothing_is_written_over_unless_told_and_never_the_layout_itself(tmp_path: Path) -> None:
    own, new = tmp_path / "own.yaml", tmp_path / "new.yaml"
    own.write_text(RISER.replace("wants: 20", "wants: 25"), encoding="utf-8")
    new.write_text("mine", encoding="utf-8")
    found = search(read_layout(own), Targets(), PRICES)
    assert found is not None
    with pytest.raises(PlumblineError, match="is there already"):
        prove(found, new_file(new, "layout"))
    assert new.read_text() == "mine"
    prove(found, new_file(new, "layout", inputs=(own,), over=True))
    assert meets(check(read_layout(new)), 1.0)
    text = own.read_text()
    with pytest.raises(PlumblineError, match="never written over"):
        prove(found, new_file(own, "layout", inputs=(own,), over=True))
    assert own.read_text() == text


@pytest.mark.invariant
def test_changes_left_out_of_what_is_claimed_are_not_written(tmp_path: Path) -> None:
    found = riser()
    liar = replace(found, changes=found.changes[:-1])
    with pytest.raises(PlumblineError, match="does not check as it should"):
        prove(liar, new_file(tmp_path / "new.yaml", "layout"))
    assert list(tmp_path.iterdir()) == []


def verdict(result: CheckResult) -> CheckResult:
    return replace(result, verdict="ok" if result.verdict != "ok" else "attention")


def a_tenth(result: CheckResult) -> CheckResult:
    mark = result.score.marks["return"]
    marks = {**result.score.marks, "return": replace(mark, tenths=mark.tenths - 1)}
    return replace(result, score=replace(result.score, marks=marks))


def share(result: CheckResult) -> CheckResult:
    left = result.upkeep.cleanable_fraction - 1e-3
    return replace(result, upkeep=replace(result.upkeep, cleanable_fraction=left))


def inflow(result: CheckResult, name: str = "bed", times: float = 1.01) -> CheckResult:
    vessels = dict(result.flows.vessels)
    vessels[name] = replace(vessels[name], inflow=times * vessels[name].inflow)
    return replace(result, flows=replace(result.flows, vessels=vessels))


def less_inflow(result: CheckResult) -> CheckResult:
    return inflow(result, "tank", 0.99)


def one_vessel_more(result: CheckResult) -> CheckResult:
    vessels = {**result.flows.vessels, "other": result.flows.vessels["bed"]}
    return replace(result, flows=replace(result.flows, vessels=vessels))


@pytest.mark.invariant
@pytest.mark.parametrize("falsified", [verdict, a_tenth, share, inflow, less_inflow, one_vessel_more])
def test_a_claim_false_in_one_thing_is_refused(tmp_path: Path, falsified: Callable[[CheckResult], CheckResult]) -> None:
    """The verdict, the score by a tenth, the share by a thousandth, one inflow by 1 %, or a vessel that is not there."""
    found = riser()
    liar = replace(found, result=falsified(found.result))
    with pytest.raises(PlumblineError, match="does not check as it should"):
        prove(liar)
    with pytest.raises(PlumblineError, match="does not check as it should"):
        prove(liar, new_file(tmp_path / "new.yaml", "layout"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow(1)
@pytest.mark.second_method
def test_each_claimed_improvement_is_the_difference_of_two_checks_of_their_own() -> None:
    found = riser()
    layout = found.before.layout
    worths = worth(found)
    assert [one.change for one in worths] == list(found.changes)
    for one in worths:
        alone = check(layout_of(apply(layout.text, [one.change])))
        rest = check(layout_of(apply(layout.text, [change for change in found.changes if change is not one.change])))
        assert one.alone == standing(alone)
        assert one.without == standing(rest)
    first = one_thing(found, worths)
    assert first is not None
    assert first.alone is not None
    assert first.alone.fail == min(one.alone.fail for one in worths if one.alone is not None)
    assert first.alone.marks > standing(found.before).marks


@pytest.mark.second_method
def test_findings_gone_and_come_are_what_the_two_lists_differ_by() -> None:
    found = riser()
    told = difference(found.before, found.result)
    before = sorted((f.kind, f.line or "") for f in found.before.findings)
    after = sorted((f.kind, f.line or "") for f in found.result.findings)
    for finding in told.gone:
        before.remove((finding.kind, finding.line or ""))
    for finding in told.come:
        after.remove((finding.kind, finding.line or ""))
    assert before == after
    assert told.gone


@pytest.mark.slow(1)
@pytest.mark.second_method
def test_no_best_buy_is_beaten_and_each_is_what_a_check_finds() -> None:
    found = riser()
    buys = best_buys(found, PRICES.hour)
    assert buys[0].changes == ()
    assert buys[-1].changes == found.changes
    costs = [buy.cost for buy in buys]
    assert costs == sorted(costs)
    for buy in buys:
        assert buy.standing == standing(check(changed(found.before.layout, buy.changes)))
        assert buy.cost == pytest.approx(sum(change.cost(PRICES.hour) for change in buy.changes))
    for one in buys:
        for other in buys:
            better = other.cost < one.cost - 1e-9 and other.standing.cleanable > one.standing.cleanable + 1e-9
            assert not (
                better
                and other.standing.fail <= one.standing.fail
                and (other.standing.margin or 0) >= (one.standing.margin or 0)
            )


@pytest.mark.invariant
def test_a_budget_takes_the_best_that_it_pays_for() -> None:
    found = riser()
    buys = best_buys(found, PRICES.hour)
    for budget in (0.0, 0.5 * found.cost, found.cost - 0.01, found.cost):
        got = within(found, buys, budget)
        assert got.cost <= budget + 1e-9
        assert (got.budget is None) == (budget >= found.cost)
    assert within(found, buys, 0.0).changes == ()


# ---------------------------------------------------------------------- the command


@pytest.fixture
def own(tmp_path: Path) -> Path:
    path = tmp_path / "own.yaml"
    path.write_text("# Mine, all mine.\n" + RISER.replace("wants: 20", "wants: 25"), encoding="utf-8")
    return path


@pytest.mark.slow
@pytest.mark.invariant
def test_the_command_writes_a_layout_that_checks_clean(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    new = own.with_name("new.yaml")
    text = own.read_text()
    assert main(["redesign", str(own), "-o", str(new)]) == 0
    screen = capsys.readouterr().out
    assert (
        "no cheaper set of the changes tried does it, flushes taken as in pipe that was tried, and valves as the water asks them, or in this pipe as far open and shut as it lets them"
        in " ".join(screen.split())
    )
    for words in (
        "What to do",
        "If you do only one thing this weekend",
        "Old and new",
        "Gone (",
        "placeholders",
        "Written to",
    ):
        assert words in screen
    assert own.read_text() == text
    assert new.read_text().startswith("# Mine, all mine.\n")
    assert main(["check", str(new)]) == 0
    capsys.readouterr()
    assert main(["redesign", str(new)]) == 0
    assert "it meets all that is asked for as it is" in capsys.readouterr().out
    assert main(["redesign", str(own), "-o", str(new), "--quick"]) == 2
    assert "is there already" in capsys.readouterr().err
    assert main(["redesign", str(own), "-o", str(new), "--quick", "--force"]) == 0


@pytest.mark.pinned
def test_the_command_gives_json(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["redesign", str(own), "--json", "--hour", "0"]) == 0
    got = json.loads(capsys.readouterr().out)
    assert got["proven"] is True
    assert (
        got["proven_over"]
        == "sets of the changes tried, flushes taken as in pipe that was tried, and valves as the water asks them, or in this pipe as far open and shut as it lets them"
    )
    assert got["gap"] == 0.0
    assert got["placeholder_prices"] is True
    assert got["cost"] == pytest.approx(sum(change["money"] for change in got["changes"]), abs=0.01)
    assert got["new"]["cleanable_fraction"] == pytest.approx(1.0)
    assert got["best_buys"][0]["changes"] == []
    assert {"alone", "without", "kind", "line", "words"} <= got["changes"][0].keys()


@pytest.mark.slow
@pytest.mark.invariant
def test_less_may_be_asked(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    costs = []
    for asked in (["--cleanable", "0"], ["--cleanable", "70%"], []):
        assert main(["redesign", str(own), "--json", "--quick", *asked]) == 0
        costs.append(json.loads(capsys.readouterr().out)["cost"])
    assert costs == sorted(costs)
    assert costs[0] < costs[-1]
    assert main(["redesign", str(own), "--budget", "1", "--json"]) in (0, 1)
    got = json.loads(capsys.readouterr().out)
    assert got["cost"] <= 1.0
    assert got["gap"] is None


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--cleanable", "150%"], "'150%' is no share"),
        (["--budget", "-3"], "'-3' is no amount"),
        (["--hour", "1e308"], "'1e308' is no amount: a number from 0 to 1000000000"),
        (["--prices", "nowhere.yaml"], "cannot be read"),
    ],
)
def test_what_is_asked_wrongly_is_said_plainly(
    own: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    try:
        status = main(["redesign", str(own), *arguments])
    except SystemExit as stop:
        status = int(stop.code or 0)
    assert status == 2
    assert words in capsys.readouterr().err
