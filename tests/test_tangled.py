"""Six tangles as the trade builds them, each with what a plumber would say of it. No published values here: what each says is worked out by
hand from its drawing."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from plumbline.check import CheckResult, check
from plumbline.layout import layout_of, read_layout
from plumbline.redesign.accesses import accesses
from plumbline.redesign.change import changed
from plumbline.redesign.prices import read_prices
from plumbline.redesign.search import Targets, search
from plumbline.redesign.valves import check_valve_in
from plumbline.report.card import card_as_json, card_words
from plumbline.report.redesign import headline
from plumbline.upkeep.card import wall_card, wash_jobs
from plumbline.upkeep.flushing import flush_ways
from plumbline.upkeep.intervals import length
from plumbline.upkeep.spills import spills

LAYOUTS = Path(__file__).parent.parent / "layouts"
TANGLED = Path(__file__).parent / "data" / "tangled"


pytestmark = pytest.mark.second_method


@cache
def checked(name: str) -> CheckResult:
    folder = LAYOUTS if name == "low_cap" else TANGLED
    return check(read_layout(folder / f"{name}.yaml"))


@pytest.mark.parametrize(
    ("name", "verdict"),
    [
        ("ring", "attention"),
        ("hoses", "attention"),
        ("low_cap", "fail"),
        ("backflow", "fail"),
        ("detour", "attention"),
        ("channels", "attention"),
    ],
)
def test_each_is_read_and_judged(name: str, verdict: str) -> None:
    assert checked(name).verdict == verdict


def test_rods_do_not_pass_the_looped_hose() -> None:
    """1.2 m of hose from a pipe that goes up to one that goes east, 0.5 m away, turns 2 · 65.4° + |90° − 65.4°| + 65.4° in all: more than any
    rod takes. From the union a rod gets up to it, from the bed only to the first elbow."""
    result = checked("hoses")
    reached = result.upkeep.reached["riser"]
    assert length(reached) < 0.6 * result.layout.lines["riser"].length
    assert any(low < 0.95 < high for low, high in reached)
    (gap,) = [one for one in result.upkeep.gaps if one.line == "riser" and one.start < 2.2 + 0.5 < one.stop]
    assert "hose" in " ".join(failure.reason for failure in gap.why)


def test_a_flood_that_comes_back_through_the_pump_is_cured() -> None:
    """The feed ends under the bed's water: a check valve after the pump or a hole under the surface ends the siphon."""
    found = search(checked("backflow").layout, Targets(cleanable=0.0), read_prices())
    assert found is not None
    assert not found.left
    assert {change.kind for change in found.changes} & {"check valve", "siphon break"}
    assert found.result.verdict != "fail"


def test_the_manifolds_cap_does_not_clean_what_it_draws_from() -> None:
    """Opened, the flush end takes the water from the channels: their outlets run slower, and nothing of them comes out at it."""
    flushes = checked("channels").upkeep.flushes["flush end"]
    assert {line for line, pieces in flushes.items() if pieces} <= {"manifold"}


def test_no_job_empties_the_fish_tank() -> None:
    """The low cap stands 0.3 m under the tank's port at 0.65 m: 0.95 m over the port, all of 2 m² of it, run out; 0.4 m³ come from the header at
    its union, and its own valve stands behind that, so its mouth, an arm's length down, is plugged."""
    result = checked("low_cap")
    low = result.upkeep.spills["low cap"]
    assert not low.safe
    assert [(one.vessel, one.mouth) for one in low.sources] == [("tank", "bottom.from")]
    assert low.sources[0].below == pytest.approx(0.95)
    assert low.sources[0].volume == pytest.approx(1.9)
    assert low.head == pytest.approx(1.6 - 0.35)
    union = result.upkeep.spills["header union"]
    assert union.safe
    assert [one.vessel for one in union.sources] == ["header"]
    assert union.plug == ("down.from",)
    card = wall_card(result.layout, result.flows, result.upkeep, wash_jobs(flush_ways(result.layout)), share=1.0)
    assert all("low cap" not in job.places for visit in card.routine.visits for job in visit.jobs)


@pytest.mark.some(1)
@pytest.mark.parametrize(
    ("where", "shut", "safe"),
    [
        ("{ball valve: keeper}, {west: 0.2 m}, {cap: {id: c, faces: up}}, {west: 0.2 m}", ("'keeper'",), True),
        ("{gate valve: {id: keeper, opening: 0}}, {west: 0.2 m}, {cap: {id: c, faces: up}}, {west: 0.2 m}", None, True),
        ("{cap: {id: c, faces: up}}, {west: 0.2 m}, {ball valve: keeper}, {west: 0.2 m}", (), False),
    ],
)
def test_a_valve_before_a_cap_keeps_the_water_back(where: str, shut: tuple | None, safe: bool) -> None:
    layout = layout_of(f"""\
vessels:
  tank: {{holds: fish, base: 0.5 m, rim: 1.2 m, water: 1 m, area: 1 m^2}}
  sump: {{base: -0.4 m, rim: 0.8 m, water: 0.4 m, area: 1 m^2}}
lines:
  out:
    pipe: pvc 40
    from: {{vessel: tank, height: 0.1 m}}
    route: [{{west: 0.5 m}}, {where}, elbow, {{down: 0.2 m}}]
    to: sump
""")
    spill = spills(layout, check(layout).flows)["c"]
    assert spill.safe == safe
    assert spill.shut == (shut or ())
    assert bool(spill.sources) == (shut is not None)


@pytest.mark.slow(2)
def test_an_idle_ring_is_taken_out_and_not_flushed() -> None:
    """Twenty unions would not make sense of it: nothing moves in it, and its two tees go with it."""
    found = search(checked("ring").layout, Targets(), read_prices())
    assert found is not None
    assert [change.line for change in found.changes if change.kind == "take out loop"] == ["ring"]
    assert "ring" not in found.result.layout.lines
    assert found.result.upkeep.cleanable_fraction == pytest.approx(1.0)


def test_no_union_goes_onto_a_microtube() -> None:
    """A tube of 6 mm is pulled off and rinsed, and no change puts a union into it."""
    result = checked("channels")
    cures = {
        one.line: one.cure
        for one in result.findings
        if one.kind == "unreachable" and one.line in ("tube a", "tube b", "tube c")
    }
    assert len(cures) == 3
    assert all(cure.startswith("pull this tube off its barbs") for cure in cures.values())
    assert not [
        change for change in accesses(result.layout, read_prices()) if change.kind == "union" and "tube" in change.line
    ]


def test_what_no_change_cleans_is_not_said_to_meet_all_that_is_asked() -> None:
    """One piece of pipe between a tank and a bed that no rod fits and no size of which is sold larger."""
    layout = layout_of("""\
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
  bed: {base: 0 m, rim: 1 m, water: 0.2 m, area: 1 m^2}
lines:
  a: {pipe: {bore: 6 mm, material: hose}, from: {vessel: tank, height: 0.1 m}, route: [{east: 1 m}], to: {vessel: bed, height: 0.1 m}}
rods: {}
""")
    found = search(layout, Targets(), read_prices())
    assert found is None or headline(found) == "no change tried does what is asked for"


def test_what_runs_over_until_the_sump_has_fallen_is_not_told_as_a_flow() -> None:
    """With its valve less shut, the header takes all that the pump gives once the sump has fallen by what was lost."""
    text = (LAYOUTS / "low_cap.yaml").read_text(encoding="utf-8").replace("opening: 50 %", "opening: 60 %")
    (found,) = [one for one in check(layout_of(text)).findings if one.kind == "overtops"]
    assert found.message.endswith("It runs over until so much water is lost that no more comes than goes.")


def test_the_card_tells_no_job_where_the_bed_would_flood_the_sump() -> None:
    """The bed's 0.3 m of water stand over the sump's rim, and the feed ends under them: unplugged, the pump lets them back. With a check valve after
    the pump nothing does, and the card has its jobs."""
    result = checked("backflow")
    card = wall_card(result.layout, result.flows, result.upkeep, cut=result.cut)
    assert card_words(card).first.startswith("Do not switch the pump off yet: 'sump' would run over.")
    assert card.routine.visits
    assert card_words(card).visits == ()
    assert card_as_json(card)["visits"] == []
    assert card_as_json(card)["floods"] == ["sump"]
    text = (TANGLED / "backflow.yaml").read_text(encoding="utf-8")
    cured = check(changed(layout_of(text), [check_valve_in(result.layout, result.layout.lines["feed"], read_prices())]))
    card = wall_card(cured.layout, cured.flows, cured.upkeep, cut=cured.cut)
    assert card_words(card).visits


@pytest.mark.parametrize(
    ("way", "stays"),
    [
        ("{up: 0.4 m}, {union: u}, {up: 0.6 m}, elbow, {west: 1 m}", True),
        ("bulkhead, {west: 0.4 m}, {union: u}, {west: 0.6 m}", False),
    ],
)
def test_what_is_opened_under_the_fish_s_own_water_lets_nothing_out(way: str, stays: bool) -> None:
    """The pipe hangs in the tank, its union 0.4 m under the water; or it goes through the wall, and the union stands beside the tank, as deep."""
    layout = layout_of(f"""\
vessels:
  tank: {{holds: fish, base: 0 m, rim: 1.0 m, water: 0.9 m, area: 1 m^2}}
  sump: {{base: -1 m, rim: 0.8 m, water: 0.4 m, area: 1 m^2}}
lines:
  out: {{pipe: pvc 40, from: {{vessel: tank, height: 0.1 m}}, route: [{way}, elbow, {{down: 0.2 m}}], to: sump}}
""")
    assert ("u" in spills(layout, check(layout).flows)) != stays
