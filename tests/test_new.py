"""A first layout from a few answers: it checks clean at the corners of what may be asked, and refuses the rest."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from plumbline import check, read_layout
from plumbline.check import CheckResult
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.start import SYSTEMS, Wish, begin
from plumbline.start.asking import wish_from

L_MIN = 1.0 / 60_000.0


def made(wish: Wish, folder: Path) -> CheckResult:
    path = folder / "made.yaml"
    path.write_text(begin(wish), encoding="utf-8")
    return check(read_layout(path))


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_usual_checks_clean(system: str, tmp_path: Path) -> None:
    result = made(Wish(system), tmp_path)
    assert result.verdict == "ok"
    assert not [one for one in result.findings if one.level != "advice"]
    assert result.score.cleanable > 0.999
    assert sum(line.startswith("#") or "  # " in line for line in result.layout.text.splitlines()) >= 8


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize(
    "wish",
    [
        Wish("beds", 12 * L_MIN, 0.4, 0.85),
        Wish("beds", 12 * L_MIN, 2.0, 1.6),
        Wish("beds", 30 * L_MIN, 2.0, 1.6),
        Wish("filter", 25 * L_MIN, 2.5),
        Wish("filter", 60 * L_MIN, 0.5),
        Wish("raft", 25 * L_MIN, 0.5),
        Wish("raft", 60 * L_MIN, 2.5),
        Wish("manifold", 12 * L_MIN, 0.8, 0.6, 2),
        Wish("manifold", 12 * L_MIN, 1.6, 1.4, 6),
        Wish("manifold", 20 * L_MIN, 0.8, 0.6, 6),
        Wish("manifold", 20 * L_MIN, 1.6, 1.4, 2),
        Wish("whole", 6 * L_MIN, 0.8),
        Wish("whole", 6 * L_MIN, 2.5),
        Wish("whole", 60 * L_MIN, 0.8),
        Wish("whole", 60 * L_MIN, 2.5),
        Wish("whole", 15 * L_MIN, 2.5, area=20.0, tank=4.0),
        Wish("whole", 15 * L_MIN, area=1.0, tank=0.25),
    ],
    ids=str,
)
def test_the_corners_of_what_may_be_asked_check_clean(wish: Wish, tmp_path: Path) -> None:
    result = made(wish, tmp_path)
    assert result.verdict == "ok"
    wanting = [vessel for vessel in result.layout.vessels.values() if vessel.wants]
    assert wanting
    for vessel in wanting:
        assert result.flows.vessels[vessel.name].inflow >= vessel.wants
    assert sum(one.holds == "plants" for one in result.layout.vessels.values()) == (
        wish.beds or {"beds": 2, "raft": 1, "whole": 1}.get(wish.system, 0)
    )


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("wish", "said"),
    [
        (Wish("beds", flow=100 * L_MIN), "A flow of 100 L/min is outside what this start is for: 12 to 30 L/min."),
        (Wish("beds", height=3.0), "A height of 3 m is outside what this start is for: 0.85 to 1.6 m."),
        (Wish("filter", beds=2), "A system 'filter' asks for no beds."),
        (Wish("manifold", beds=9), "9 beds are outside what this start is for: 2 to 6."),
    ],
)
def test_what_it_is_not_for_is_refused(wish: Wish, said: str) -> None:
    with pytest.raises(PlumblineError) as told:
        begin(wish)
    assert str(told.value) == said


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize("name", ["""it's: "mine" # [x]""", 'a\x1b[31m "\\" \u202e: {', "no", "3", "水槽 🐟"])
def test_a_name_may_be_anything(name: str, tmp_path: Path) -> None:
    assert made(Wish("filter", name=name), tmp_path).layout.name == name


@pytest.mark.pinned
def test_it_asks_for_what_was_not_given() -> None:
    asked: list[str] = []
    answers = iter(["manifold", "", "3", "", "1.2 m", "15 L/min"])

    def answer(question: str) -> str:
        asked.append(question)
        return next(answers)

    wish = wish_from({}, ask=True, answer=answer)
    assert wish.system == "manifold"
    assert wish.beds == 3
    assert wish.height is None
    assert wish.distance == pytest.approx(1.2)
    assert wish.flow == pytest.approx(15 * L_MIN)
    assert len(asked) == 6
    assert all(name in asked[0] for name in SYSTEMS)
    assert "12 to 20 L/min [12 L/min]" in asked[-1]


@pytest.mark.pinned
def test_options_are_not_asked_for_again() -> None:
    asked: list[str] = []
    wish = wish_from(
        {"system": "raft", "flow": "40 L/min", "name": "mine"}, ask=True, answer=lambda text: asked.append(text) or ""
    )  # type: ignore[func-returns-value]
    assert (wish.system, wish.name) == ("raft", "mine")
    assert len(asked) == 1


@pytest.mark.pinned
def test_the_command_writes_a_new_file_only(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "mine.yaml"
    assert main(["new", "-o", str(out), "--system", "raft", "--flow", "2.4 m^3/h", "--name", "Shed"]) == 0
    assert capsys.readouterr().out.startswith(f"'{out}' is written; it checks clean.")
    first = out.read_bytes()
    assert main(["check", str(out)]) == 0
    assert "Shed: sound" in capsys.readouterr().out
    assert main(["new", "-o", str(out)]) == 2
    assert "nothing is written over" in capsys.readouterr().err
    assert out.read_bytes() == first
    assert main(["new", "-o", str(tmp_path / "x.yaml"), "--system", "beds", "--flow", "lots"]) == 2
    assert re.search(r"lots.*for the flow\.", capsys.readouterr().err, re.DOTALL)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.yaml"]
