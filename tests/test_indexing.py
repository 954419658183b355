"""An indexing valve: its outlets in turn, in steady running and through the day, against hand counts and against plain layouts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from checks import checked
from conftest import ReadText

from plumbline.check import check
from plumbline.day import follow_day, switching
from plumbline.day.told import what_goes_wrong
from plumbline.day.turns import judge_turns
from plumbline.diagnose import diagnose
from plumbline.errors import LayoutError
from plumbline.hydraulics.balance import balance
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.how_sure import how_sure
from plumbline.hydraulics.turns import in_turns
from plumbline.layout.model import Layout
from plumbline.parts import bill_of
from plumbline.upkeep.fouling import fouling

LAYOUTS = Path(__file__).parent.parent / "layouts"

HEAD = """
water: {density: 998 kg/m^3, viscosity: 1.002e-3 Pa s}
vessels:
  sump: {base: 0 m, rim: 0.9 m, water: 0.70 m, area: 0.9 m^2}
  left: {holds: plants, base: 1.0 m, rim: 0.32 m, water: 0 m, area: 0.8 m^2, wants: 20 L/min}
  right: {base: 1.0 m, rim: RIM m, water: 0 m, area: SIZE m^2, wants: 20 L/min}
pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 4.5 m], [30 L/min, 3.6 m], [50 L/min, 2.6 m], [70 L/min, 1.2 m]], RUNS}
lines:
"""
BEDS = (
    HEAD
    + """
  riser: {pipe: {bore: 32 mm}, from: lift, route: [{up: 1.55 m}, elbow, {east: 0.8 m}], to: {indexing valve: turner, outlets: 4, at least: LEAST L/min}}
  left feed: {pipe: {bore: 26 mm}, from: turner 1, route: [{north: 1.2 m}, elbow, {down: 0.25 m}], to: left}
  right feed: {pipe: {bore: 20 mm}, from: turner 3, route: [{south: 2.2 m}, elbow, {down: 0.25 m}], to: right}
  left foot: {pipe: {bore: 20 mm}, from: {vessel: left, height: 0 m}, route: [{down: 0.7 m}], to: sump}
  right foot: {pipe: {bore: FOOT mm}, from: {vessel: right, height: 0 m}, route: [{down: 0.7 m}], to: sump}
  left pipe: {pipe: {bore: 80 mm}, from: {vessel: left, standpipe: 0.2 m}, route: [{down: 0.75 m}], to: sump}
"""
)


def beds(
    read_text: ReadText,
    runs: str = "runs: {on: 10 min, off: 5 min}",
    *,
    least: str = "5",
    rim: str = "0.32",
    size: str = "0.8",
    foot: str = "30",
    text: str = BEDS,
) -> Layout:
    for word, said in (("RUNS", runs), ("LEAST", least), ("RIM", rim), ("SIZE", size), ("FOOT", foot)):
        text = text.replace(word, said)
    return read_text(text)


@pytest.mark.second_method
def test_each_turn_is_the_same_pipe_with_a_globe_valve_and_no_other_outlet(read_text: ReadText) -> None:
    """The valve is taken as a globe valve at each outlet: so each bed gets what a layout with that one feed gives it."""
    flows = find_flows(beds(read_text))
    alone = BEDS.replace("to: {indexing valve: turner, outlets: 4, at least: LEAST L/min}", "to: plug")
    alone = alone.replace("{east: 0.8 m}]", "{east: 0.8 m}, {tee: {id: t, K: 0}}, {east: 0.1 m}]").replace(
        "route: [{north", "route: [globe valve, {north"
    )
    alone = alone.replace("route: [{south", "route: [globe valve, {south")
    for bed, other, outlet in (("left", "right feed", "turner 1"), ("right", "left feed", "turner 3")):
        lines = [line for line in alone.splitlines() if not line.startswith(f"  {other}:")]
        plain = find_flows(beds(read_text, text="\n".join(lines).replace(outlet, "t")))
        assert flows.vessels[bed].inflow == pytest.approx(plain.vessels[bed].inflow, rel=1e-9)
        assert flows.ends[f"{bed} feed.to"].head == pytest.approx(plain.ends[f"{bed} feed.to"].head, abs=1e-9)
    assert flows.vessels["left"].inflow > 1.1 * flows.vessels["right"].inflow


@pytest.mark.invariant
def test_each_turn_keeps_its_own_balance(read_text: ReadText) -> None:
    layout = beds(read_text)
    flows = find_flows(layout)
    assert len(flows.turns) == len(in_turns(layout)) == 2
    for turn, (fed, dry) in zip(flows.turns, (("left", "right"), ("right", "left")), strict=True):
        assert turn.vessels[fed].inflow == pytest.approx(turn.pumps["lift"].flow, rel=1e-9)
        assert turn.vessels[dry].inflow == 0.0
    assert flows.pumps["lift"].flow == max(turn.pumps["lift"].flow for turn in flows.turns)


@pytest.mark.invariant
def test_how_sure_a_bed_is_of_its_water_is_told_of_its_own_turn(read_text: ReadText) -> None:
    layout = beds(read_text)
    sure, flows = how_sure(layout), find_flows(layout)
    for bed in ("left", "right"):
        inflow = sure.vessels[bed].inflow
        assert inflow.low < inflow.value == flows.vessels[bed].inflow < inflow.high


@pytest.mark.slow(1)
@pytest.mark.second_method
def test_what_a_bed_gets_in_its_turn_is_what_check_says(read_text: ReadText) -> None:
    """Litres through the day: each turn of ten minutes at the steady flow, but for the sump's fall meanwhile, 0.2 m of 4.5 m of head:
    within 4 %. By the clock runs begin at 0, 15, 30 and 45 minutes, with outlets 1 to 4; 2 and 4 are capped."""
    layout = beds(read_text)
    course, flows = follow_day(layout, hours=0.99), find_flows(layout)
    for bed, begins in (("left", 0.0), ("right", 1800.0)):
        inflow = course.inflows[bed]
        inside = [q for time, q in zip(course.times, inflow, strict=True) if begins < time < begins + 590.0]
        assert min(inside) == pytest.approx(flows.vessels[bed].inflow, rel=0.04)
        assert max(inside) == pytest.approx(flows.vessels[bed].inflow, rel=0.04)
        outside = [q for time, q in zip(course.times, inflow, strict=True) if not begins - 1.0 < time < begins + 601.0]
        assert max(outside) < 1e-9
    water = course.water
    assert water.end + water.lost - water.added == pytest.approx(water.start, rel=1e-9)


@pytest.mark.second_method
@pytest.mark.slow
def test_six_beds_are_flooded_one_after_the_other() -> None:
    """Twelve minutes a turn, six of them a round: 24 h hold 20 rounds, and bed n is at its highest in turn n."""
    course = checked("indexing_valve").day
    assert course is not None
    assert course.period == pytest.approx(72 * 60.0, abs=1.0)
    assert course.pumps["lift"].starts == 24 * 5  # the one at midnight, with which the day ends, among them
    for n in range(1, 7):
        when = [event.time for event in course.events if event.kind == f"turns to {n}" and event.where == "turner"]
        first = (n - 1) * 720.0
        assert when[:2] == pytest.approx([first, first + 4320.0] if n > 1 else [4320.0, 8640.0], abs=1.0)
        level = course.vessels[f"bed {n}"].level
        early = [at for time, at in zip(course.times, level, strict=True) if first + 400.0 < time < first + 600.0]
        assert min(early) > 1.19
        assert max(
            [at for time, at in zip(course.times, level, strict=True) if time < first] or [1.0]
        ) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.invariant
def test_a_pump_without_a_timer_never_turns_the_valve(read_text: ReadText) -> None:
    kinds = {one.kind for one in judge_turns(beds(read_text), find_flows(beds(read_text)))}
    assert "valve-never-turns" not in kinds
    still = beds(read_text, "power: 30 W")
    found = next(one for one in judge_turns(still, find_flows(still)) if one.kind == "valve-never-turns")
    assert found.level == "fail"
    assert "pump 'lift' never stops" in found.message


@pytest.mark.invariant
def test_capped_outlets_and_slow_turns_are_told(read_text: ReadText) -> None:
    for least, stays in (("5", False), ("500", True)):
        layout = beds(read_text, least=least)
        capped, *slow = judge_turns(layout, find_flows(layout))
        assert capped.kind == "valve-turn-lost"
        assert capped.message.startswith("2 of the 4 outlets of the indexing valve 'turner' are capped")
        assert [one.kind for one in slow] == ["valve-never-turns"] * stays
        assert all("in the turn of outlets 1 and 3" in one.message for one in slow)


@pytest.mark.some(1)
@pytest.mark.second_method
@pytest.mark.parametrize(("minutes", "over"), [(1, False), (9, True)])
def test_the_last_bed_overtops_where_the_run_is_too_long(read_text: ReadText, minutes: int, over: bool) -> None:
    """0.4 m² with a rim at 0.25 m hold 100 L, and its foot of 12 mm lets out less than 12 L/min meanwhile, by Torricelli: between 25 and 40 L/min
    fill it in more than one minute and in less than nine."""
    layout = beds(read_text, f"runs: {{on: {minutes} min, off: 20 min}}", rim="0.25", size="0.4", foot="12")
    course = follow_day(layout, hours=3.0)
    told = {one.kind for one in what_goes_wrong(layout, course) if "'right'" in one.message}
    assert ("day-overtops" in told) == over
    assert course.vessels["left"].spilt == 0.0


@pytest.mark.slow(4)
@pytest.mark.invariant
def test_a_bed_that_still_stands_as_its_next_turn_comes_does_not_drain(read_text: ReadText) -> None:
    """Without its foot the left bed stays at its standpipe from one turn to the next; with it, it is empty long before."""
    blocked = "\n".join(line for line in BEDS.splitlines() if not line.startswith("  left foot"))
    for text, told in ((blocked, True), (BEDS, False)):
        layout = beds(read_text, text=text)
        found = [
            one.message
            for one in what_goes_wrong(layout, follow_day(layout, hours=6.0))
            if one.kind == "bed-does-not-drain"
        ]
        assert any("'left'" in one for one in found) == told


@pytest.mark.slow(3)
@pytest.mark.invariant
def test_it_is_one_part_to_buy_and_no_rod_goes_through_it(read_text: ReadText) -> None:
    layout = beds(read_text)
    assert [len(item.places) for item in bill_of(layout).items if item.kind == "indexing valve"] == [1]
    assert not [item for item in bill_of(layout).items if item.kind in ("tee", "end plug")]
    rods = {one.line: one for one in check(layout).findings if one.kind == "unreachable"}
    assert "left feed" in rods


@pytest.mark.invariant
def test_steps_of_an_outlets_line_are_numbered_as_the_file_has_them(read_text: ReadText) -> None:
    """What changes a step by its number would change another one otherwise."""
    parts = beds(read_text).lines["left feed"].parts
    assert [(part.kind, part.step) for part in parts] == [("indexing valve", 0), ("run", 1), ("elbow", 2), ("run", 3)]


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "indexing valve: turner, outlets: 4, at least: LEAST L/min",
            "indexing valve: turner",
            "does not say how many outlets it has",
        ),
        (
            "indexing valve: turner, outlets: 4, at least: LEAST L/min",
            "plug: yes, outlets: 4",
            "'outlets' without an indexing valve",
        ),
        ("outlets: 4", "outlets: 1", "'outlets' is '1'"),
        ("outlets: 4", "outlets: 9", "expected a whole number, from 2 to 8"),
        ("from: turner 3", "from: turner 5", "unknown name 'turner 5'"),
        ("from: turner 3", "from: turner 1", "2 line ends join tee 'turner 1'"),
        ("from: lift", "from: {indexing valve: other, outlets: 2}", "the start of line 'riser' is an indexing valve"),
    ],
)
def test_faults_are_told_with_their_line(read_text: ReadText, old: str, new: str, said: str) -> None:
    with pytest.raises(LayoutError) as told:
        beds(read_text, text=BEDS.replace(old, new))
    assert said in str(told.value)


@pytest.mark.slow(2)
@pytest.mark.second_method
def test_it_stays_at_an_outlet_that_gets_too_little_to_turn_it(read_text: ReadText) -> None:
    """The left bed gets more than the right one: with a need between the two the valve comes to the right bed, over a capped outlet, and
    goes no further; with one under both it goes round."""
    flows = find_flows(beds(read_text))
    left, right = (flows.ends[f"{name} feed.to"].flow * 60000.0 for name in ("left", "right"))
    assert left > right + 2.0
    for least, turns in ((0.5 * (left + right), [2, 3]), (0.9 * right, [2, 3, 4, 1])):
        course = follow_day(beds(read_text, least=f"{least:.2f}"), hours=1.2)
        told = [one.kind for one in course.events if one.where == "turner"]
        assert told[: len(turns)] == [f"turns to {number}" for number in turns]
        assert len(told) == (2 if turns == [2, 3] else 4)


# ---------------------------------------------------------------------- what looks at steady running, turn by turn

VALVES = BEDS.replace("route: [{north: 1.2 m}", "route: [ball valve, {north: 1.2 m}").replace(
    "route: [{south: 2.2 m}", "route: [{ball valve: half-open}, {south: 2.2 m}"
)


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_pipe_fouls_for_each_bed_as_in_its_own_turn(read_text: ReadText) -> None:
    """Each turn by itself is a plain layout. Its own feed fouls as there; what they share fouls by the turn in which most flows, so that
    the other bed is out by a share of what it loses."""
    layout = beds(read_text)
    together = fouling(layout, {}, months=4)
    for turn, name, feed in zip(in_turns(layout), ("left", "right"), ("left feed.1", "right feed.1"), strict=True):
        alone = fouling(turn, {}, months=4)
        mine, its = together.courses[name].likely, alone.courses[name].likely
        assert mine[0] == pytest.approx(its[0], rel=1e-6)
        assert mine[0] - mine[-1] == pytest.approx(its[0] - its[-1], rel=0.15)
        assert next(one for one in together.blames if one.stretch == feed).gains[name] > 0.0


@pytest.mark.slow(1)
@pytest.mark.second_method
def test_a_balance_sets_each_bed_s_own_valve_in_its_own_turn(read_text: ReadText) -> None:
    """As the plain layouts of the turns are balanced by themselves; nothing is throttled for a bed that is not fed meanwhile."""
    layout = beds(read_text, text=VALVES)
    found = balance(layout)
    for turn, other in zip(in_turns(layout), ("right", "left"), strict=True):
        alone = balance(replace(turn, vessels={**turn.vessels, other: replace(turn.vessels[other], wants=None)}))
        for vessel in alone.vessels:
            mine = next(one for one in found.vessels if one.name == vessel.name)
            assert (mine.after, mine.valves) == (pytest.approx(vessel.after, rel=1e-6), vessel.valves)
        assert {one: found.openings[one] for one in alone.openings} == alone.openings
    assert [one.name for one in found.vessels] == ["left", "right"]


@pytest.mark.slow
@pytest.mark.invariant
def test_a_diagnosis_reads_each_bed_in_its_own_turn(read_text: ReadText) -> None:
    """A bucket under each feed in its turn: the one that is half as full has the clog."""
    flows = find_flows(beds(read_text))
    seconds = {name: 10.0 / (flows.ends[f"{name} feed.to"].flow * 1e3) for name in ("left", "right")}
    said = (
        "readings:\n"
        f"  - {{at: left feed.to, caught: 10 L in {seconds['left']:.1f} s}}\n"
        f"  - {{at: right feed.to, caught: 10 L in {2.0 * seconds['right']:.1f} s}}\n"
    )
    found = diagnose(beds(read_text, text=BEDS + said))
    first = found.suspects[0]
    assert (first.cause.kind, first.cause.line) == ("narrowed", "right feed")
    assert sum(one.chance for one in found.suspects if one.cause.line == "right feed") > 0.9


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_what_comes_to_the_valve_is_told_at_the_line_s_end(read_text: ReadText) -> None:
    """Behind its first outlet the valve's feed has only what the later ones get."""
    layout = beds(read_text)
    flows = find_flows(layout)
    assert flows.ends["riser.to"].flow == flows.ends["left feed.to"].flow
    course = follow_day(layout, hours=1.0)
    for name, here in (("left feed.to", 1), ("right feed.to", 31)):
        at = next(i for i, time in enumerate(course.times) if time >= 60.0 * here)
        assert course.ends["riser.to"][at] == pytest.approx(course.ends[name][at], abs=1e-9)
        assert course.ends[name][at] > 1e-4


@pytest.mark.invariant
def test_it_goes_on_as_what_feeds_it_starts_again_and_its_last_turn_had_lifted_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """By hand, in the order of what switches: pumps a and b feed it, a timed valve stands in its line, and outlet 3 of its 3 is capped."""
    monkeypatch.setattr(switching, "shut_in", lambda _, outlets: frozenset(outlets.items()))
    valve = SimpleNamespace(outlets=3, ways={1: ("x", 1), 2: ("y", 1)})
    water = SimpleNamespace(
        layout=SimpleNamespace(indexing={"v": valve}),
        feeders={"v": ("main", frozenset({"a", "b"}))},
        outlets={"v": 1},
        fed=frozenset({"v"}),
        lifted={"v"},
    )
    for off, shut, lifts, stands in [
        (set(), False, True, 1),  # it goes on running
        ({"a"}, False, True, 1),  # the other pump runs on
        ({"a", "b"}, False, True, 1),  # it rests, and is lifted
        ({"b"}, False, False, 2),  # and goes on
        ({"b"}, True, False, 2),  # too little had come when its timed valve shuts
        ({"b"}, False, True, 2),  # so that it stays
        ({"b"}, True, False, 2),
        (set(), False, False, 3),  # capped
        ({"a", "b"}, False, False, 3),
        (set(), False, False, 1),  # so that it goes on without having been lifted, round to the first
    ]:
        shuts = {("main", 4)} if shut else {("other", 1)}
        assert switching.Switching.turned(cast(Any, water), off, shuts) == {("v", stands)}
        water.lifted |= {"v"} if lifts else set()


@pytest.mark.invariant
def test_one_that_falls_by_itself_is_fed_while_its_line_is_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(switching, "shut_in", lambda _, outlets: frozenset(outlets.items()))
    water = SimpleNamespace(
        layout=SimpleNamespace(indexing={"v": SimpleNamespace(outlets=2, ways={1: ("x", 1), 2: ("y", 1)})}),
        feeders={"v": ("main", frozenset())},
        outlets={"v": 1},
        fed=frozenset(),
        lifted={"v"},
    )
    for shut, stands in [({("main", 1)}, 1), (set(), 2), (set(), 2), ({("main", 1)}, 2), (set(), 2)]:
        assert switching.Switching.turned(cast(Any, water), {"a"}, shut) == {("v", stands)}


@pytest.mark.second_method
def test_a_row_of_fewer_lines_than_there_are_outlets_begins_at_the_first(read_text: ReadText) -> None:
    """Three beds on a valve of four outlets, written once or one by one: the fourth is capped, and has its turn all the same."""
    head = """\
vessels:
  sump: {base: 0 m, water: 0.6 m, area: 0.9 m^2}
  bed: {again: 3, base: 1 m, water: 0.05 m, area: 0.5 m^2}
pumps: {lift: {in: sump, curve: [[0 L/min, 5 m], [60 L/min, 1 m]]}}
lines:
  riser: {pipe: pvc 32, from: lift, route: [{up: 1.5 m}, elbow, {east: 1 m}], to: {indexing valve: turner, outlets: 4}}
  foot: {again: 3, pipe: pvc 32, from: bed, route: [{down: 0.7 m}], to: sump}
"""

    def feed(name: str, start: str, bed: str) -> str:
        return (
            f"  {name}: {{pipe: pvc 25, from: {start}, route: [{{north: 1 m}}, elbow, {{down: 0.2 m}}], to: {bed}}}\n"
        )

    of_a_row = read_text(head + feed("feed", "turner", "bed"))
    one_by_one = read_text(head + "".join(feed(f"feed {n}", f"turner {n}", f"bed {n}") for n in (1, 2, 3)))
    assert of_a_row.indexing.keys() == one_by_one.indexing.keys()
    ways = [{n: line for n, (line, _) in one.indexing["turner"].ways.items()} for one in (of_a_row, one_by_one)]
    assert ways[0] == ways[1] == {1: "feed 1", 2: "feed 2", 3: "feed 3"}
    assert of_a_row.indexing["turner"].outlets == 4
    assert find_flows(of_a_row).ends["feed 3.to"].flow == find_flows(one_by_one).ends["feed 3.to"].flow > 0.0
    with pytest.raises(LayoutError, match="line 'feed' would stand 3 and 5 times"):
        read_text(head + feed("feed", "turner", "bed").replace("{pipe", "{again: 5, pipe"))
