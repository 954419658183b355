"""Upkeep: reasons and cures, dead legs, bends, slow flow, traps, flush, and what they add up to."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from builders import LIMITS, flows, layout, rod, walk

from plumbline import catalogue
from plumbline.findings import Finding
from plumbline.hydraulics.flows import EndFlow, Flows, VesselFlow
from plumbline.layout.model import Layout, Line, Pipe
from plumbline.layout.traps import basins, trapped
from plumbline.upkeep import Upkeep, bends, intervals, look_after, traps
from plumbline.upkeep.carried import slow_flow, wall_shear
from plumbline.upkeep.dead_legs import by_shape, dead_legs, standing_water
from plumbline.upkeep.flush import flushed
from plumbline.upkeep.reach import pushes, sharp_kinds, stopping_kinds
from plumbline.upkeep.track import build_track
from plumbline.upkeep.unreached import unreached as every_gap

STIFF = rod()


def upkeep(made: Layout, running: Flows | None = None, **flushes: Flows) -> Upkeep:
    return look_after(made, running or flows(made), flushes)


def of(kind: str, findings: tuple[Finding, ...]) -> list[Finding]:
    return [finding for finding in findings if finding.kind == kind]


def only(kind: str, result: Upkeep) -> Finding:
    (finding,) = of(kind, result.findings)
    return finding


# Unreachable pipe: the reason and the cure.


def unreached(*lines: Line, rods: tuple = (STIFF,), **more) -> list[tuple[str, str]]:
    made = layout(*lines, rods=rods, **more)
    return [(one.message, one.cure) for one in of("unreachable", upkeep(made).findings)]


@pytest.mark.invariant
@pytest.mark.parametrize(("beyond", "told"), [(0.004, 0), (0.006, 1)])
def test_pipe_shorter_than_a_tape_tells_is_not_spoken_of(beyond: float, told: int) -> None:
    assert len(unreached(walk("a", "cap c1", [("east", STIFF.length + beyond)], "plug"))) == told


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("route", "start", "end", "message", "cure"),
    [
        pytest.param(
            [("east", 4.6)],
            "cap c1",
            "vessel bed",
            "0.60 m of 'a' (step 1, 0.3 L) cannot be cleaned: c1: rod too short by 0.60 m.",
            "use a rod at least 4.60 m long at c1, or put a union into step 1, 4.30 m along 'a'",
            id="too short",
        ),
        pytest.param(
            [("east", 10.0)],
            "vessel tank",
            "vessel bed",
            "All 10.00 m of 'a' (5.3 L) cannot be cleaned: no access leads to it.",
            "put a union into step 1, 5.00 m along 'a' (opens 8.00 m of it)",
            id="a union opens a rod's length each way",
        ),
        pytest.param(
            [("up", 1.5), "elbow", ("east", 2.0)],
            "cap c1",
            "vessel bed",
            "2.00 m of 'a' (step 3, 1.1 L) cannot be cleaned: c1: the elbow at step 2 turns 90°, more than the 22.5° "
            "that the brush passes.",
            "get a sprung cable to put in at c1, or put a capped tee in place of the elbow at step 2, facing west",
            id="elbow",
        ),
        pytest.param(
            [("up", 1.0), ("gate valve", {"id": "v2"}), ("up", 1.0)],
            "cap c1",
            "vessel bed",
            "1.00 m of 'a' (step 3, 0.5 L) cannot be cleaned: c1: stopped by the gate valve 'v2' at step 2.",
            "put a union into step 3, 1.50 m along 'a'",
            id="valve",
        ),
        pytest.param(
            [("east", 1.0), ("cap", {"id": "c1", "faces": "up"}), ("east", 1.0)],
            "vessel tank",
            "plug",
            "All 2.00 m of 'a' (1.1 L) cannot be cleaned: c1: opens square to the pipe: 90°, more than the 22.5° "
            "that the brush passes.",
            "get a sprung cable to put in at c1, or put a cap in place of the plug at the end",
            id="square cap",
        ),
        pytest.param(
            [("up", 1.0), ("cap", {"id": "c1", "faces": "up"}), ("east", 1.0)],
            "vessel tank",
            "vessel bed",
            "1.00 m of 'a' (step 3, 0.5 L) cannot be cleaned: c1: opens along the other leg of the cap at step 2.",
            "put a union into step 3, 1.50 m along 'a'",
            id="the other leg",
        ),
        pytest.param(
            [("east", 1.0), "reducer", ("east", 1.0, Pipe("15", 0.015, 0.0))],
            "cap c1",
            "vessel bed",
            "1.00 m of 'a' (step 3, 0.2 L) cannot be cleaned: c1: no brush for the 15 mm bore of the pipe at step 3.",
            "get a 15 mm brush",
            id="bore",
        ),
        pytest.param(
            [("east", 1.0)],
            "vessel tank",
            "vessel bed",
            "All 1.00 m of 'a' (0.5 L) cannot be cleaned: no access leads to it.",
            "put a union into step 1, 0.50 m along 'a'",
            id="no access",
        ),
        pytest.param(
            [
                ("east", 0.5),
                "bend 22.5",
                ([math.cos(math.pi / 8), math.sin(math.pi / 8), 0], 0.5),
                "bend 22.5",
                ("east north", 0.5),
                "bend 22.5",
                ([math.sin(math.pi / 8), math.cos(math.pi / 8), 0], 0.5),
            ],
            "cap c1",
            "vessel bed",
            "0.50 m of 'a' (step 7, 0.3 L) cannot be cleaned: c1: turns add up to 67.5°, more than the 45° the rod takes in "
            "all, at the bend 22.5 at step 6.",
            "get a flexible brush rod with a 30 mm brush to put in at c1, or put a capped tee in place of the bend 22.5 at "
            "step 6, facing south and west",
            id="turns in all",
        ),
    ],
)
def test_why_a_piece_is_not_reached_and_what_helps(route, start, end, message, cure) -> None:
    assert unreached(walk("a", start, route, end)) == [(message, cure)]


@pytest.mark.pinned
def test_a_rod_goes_past_a_branch() -> None:
    run = walk("run", "cap c1", [("east", 2.0), ("tee", {"id": "t1"}), ("east", 1.0)], "cap c2")
    side = walk("side", "tee t1", [("north", 1.0)], "vessel bed", at=(2, 0, 0))
    assert unreached(run, side) == [
        (
            "All 1.00 m of 'side' (0.5 L) cannot be cleaned: c2: a rod goes straight on at the tee at step 2 of 'run'.",
            "put a union into step 1, 0.50 m along 'side'",
        )
    ]


@pytest.mark.pinned
def test_the_reason_is_the_rods_that_gets_furthest() -> None:
    line = walk("a", "cap c1", [("up", 1.5), "elbow", ("east", 5.0)], "vessel bed")
    for rods in ((STIFF, rod(5.0, 95.0, 270.0)), (rod(5.0, 95.0, 270.0), STIFF)):
        ((message, _),) = unreached(line, rods=rods)
        assert message == "1.50 m of 'a' (step 3, 0.8 L) cannot be cleaned: c1: rod too short by 1.50 m."


@pytest.mark.pinned
def test_without_a_rod_the_message_says_so() -> None:
    assert unreached(walk("a", "cap c", [("east", 1.0)], "plug"), rods=()) == [
        ("All 1.00 m of 'a' (0.5 L) cannot be cleaned: the layout has no rod.", "get a 30 mm brush")
    ]


@pytest.mark.invariant
def test_a_longer_rod_is_no_cure_where_a_valve_stands_in_the_way_too() -> None:
    ((message, cure),) = unreached(walk("a", "cap c1", [("east", 5.0), "gate valve", ("east", 1.0)], "vessel bed"))
    assert "c1: rod too short by 2.00 m" in message
    assert "use a rod" not in cure


@pytest.mark.invariant
def test_the_cure_that_is_named_does_cure() -> None:
    """Whatever capped tee is advised, put it in: the pipe that it promised to open is then reached."""
    route = [("up", 1.5), "elbow", ("east", 3.0), "elbow", ("north", 1.0), "elbow", ("up", 0.5)]
    for _ in range(3):
        made = layout(walk("a", "vessel tank", route, "vessel bed"), rods=[STIFF])
        finding = only("unreachable", upkeep(made))
        assert finding.cure.startswith("put a capped tee in place of the elbow at step ")
        words = (
            finding.cure.removeprefix("put a capped tee in place of the elbow at step ").replace("(", ",").split(",")
        )
        step, faces = int(words[0]), words[1].strip().removeprefix("facing ").strip()
        before = finding.stop - finding.start
        route[step - 1] = ("cap", {"id": f"c{step}", "faces": faces})
        after = upkeep(layout(walk("a", "vessel tank", route, "vessel bed"), rods=[STIFF]))
        left = sum(one.stop - one.start for one in of("unreachable", after.findings))
        promised = before if "opens" not in finding.cure else float(finding.cure.split("opens ")[1].split(" m")[0])
        assert before - left == pytest.approx(promised, abs=0.005)
        if len(of("unreachable", after.findings)) != 1:
            break


@pytest.mark.second_method
def test_the_weight_is_the_share_of_pipe_that_stays_dirty() -> None:
    made = layout(walk("a", "cap c1", [("east", 5.0)], "vessel bed"), rods=[STIFF])
    result = upkeep(made)
    assert result.cleanable_fraction == pytest.approx(0.8, abs=1e-12)
    # Of the whole it costs 80 %, of a fifth as much as five of them multiply up to; where the water keeps the pipe clean, a quarter of that.
    assert (1.0 - only("unreachable", result).weight) ** 5 == pytest.approx(0.2**0.25, abs=1e-12)
    slow = only("unreachable", upkeep(made, flows(made, 0.1)))
    assert (1.0 - slow.weight) ** 5 == pytest.approx(0.2, abs=1e-12)
    assert (only("unreachable", result).start, only("unreachable", result).stop) == (4.0, 5.0)


@pytest.mark.second_method
def test_volume_counts_and_not_metres_and_pipe_that_joins_nothing_counts_for_nothing() -> None:
    """1 m of 26 mm in a dirty line beside 9 m of half the bore is 1/(1 + 9/4) of the water; 24 m more that lead nowhere change nothing."""
    thin = Pipe("13", 0.013, 0.0)
    dirty = walk("a", "vessel tank", [("east", 1.0)], "vessel bed")
    other = walk("b", "vessel tank", [("east", 9.0)], "vessel bed", pipe=thin)
    loose = walk("c", "cap c1", [("east", 24.0)], "cap c2")
    slow = {"a": 0.1, "b": 0.1, "c": 0.0}
    costs = []
    for lines in ((dirty, other), (dirty, other, loose)):
        made = layout(*lines, rods=[STIFF])
        found = {one.line: one.weight for one in of("unreachable", upkeep(made, flows(made, slow)).findings)}
        costs.append((found["a"], found["b"]))
        assert found.get("c", 0.0) == 0.0
    assert costs[0] == costs[1]
    assert 1.0 - costs[0][0] == pytest.approx(0.2 ** (1.0 / (1.0 + 9.0 / 4.0)))
    assert 1.0 - costs[0][1] == pytest.approx(0.2 ** (9.0 / 4.0 / (1.0 + 9.0 / 4.0)))


@pytest.mark.second_method
def test_a_flush_carries_out_only_what_runs_to_the_opening() -> None:
    """From the other end: what the opening draws away from it takes its dirt elsewhere."""
    made = layout(walk("a", "cap c1", [("up", 1.5), "elbow", ("east", 2.0)], "vessel bed"), rods=[STIFF])
    assert upkeep(made, c1=flows(made, 0.71)).flushed == {"a": ()}


@pytest.mark.second_method
def test_a_flush_cleans_as_far_as_its_water_lasts() -> None:
    """At 0.71 m/s the 20 s that a vessel's water lasts bring the dirt of 14.2 m out, and no more; 8 s are over before a hand shuts the cap."""
    made = layout(walk("a", "cap c1", [("up", 1.0), "elbow", ("east", 19.0)], "vessel bed"), rods=[STIFF])
    running = flows(made, -0.71)
    flow = running.stretches[made.stretches[0].id].flow
    ends = {"a.from": EndFlow(0.0, 0.0, flow), "a.to": EndFlow(1.0, 1.0, flow)}
    vessel = VesselFlow(0.0, -flow, None, level=1.1)

    def cleaned(area: float) -> dict:
        with_water = replace(made, vessels={"bed": replace(made.vessels["bed"], base=0.9, water=0.2, area=area)})
        return flushed(with_water, flows(made, 0.0), {"c1": replace(running, ends=ends, vessels={"bed": vessel})})["c1"]

    lasting = -flow * 20.0 / 0.1
    assert cleaned(lasting) == {"a": ((0.0, pytest.approx(0.71 * 20.0)),)}
    assert cleaned(10.0 * lasting) == {"a": ((0.0, 20.0),)}
    assert cleaned(0.4 * lasting) == {}


@pytest.mark.invariant
def test_what_a_flush_scours_need_not_be_reached() -> None:
    made = layout(walk("a", "cap c1", [("up", 1.5), "elbow", ("east", 2.0)], "vessel bed"), rods=[STIFF])
    result = upkeep(made, c1=flows(made, -0.71))
    assert result.cleanable_fraction == 1.0
    assert of("unreachable", result.findings) == []
    assert result.reached_m(made.stretches[0]) == pytest.approx(1.5)
    assert result.flushed_m(made.stretches[0]) == pytest.approx(3.5)


@pytest.mark.invariant
def test_a_flush_scours_the_narrow_part_of_a_stretch_and_not_the_wide() -> None:
    narrow = Pipe("20", 0.02, 0.0)
    made = layout(walk("a", "vessel tank", [("east", 1.0), "reducer", ("east", 2.0, narrow)], "cap c"))
    assert flushed(made, flows(made, 0.1), {"c": flows(made, 0.5)}) == {"c": {"a": ((1.0, 3.0),)}}
    assert flushed(made, flows(made, 0.1), {"c": flows(made, 0.4)}) == {"c": {}}
    # What runs as fast all the time is not cleaned by an opening elsewhere: a tenth more is the least that counts.
    assert flushed(made, flows(made, 0.5), {"c": flows(made, 0.54)}) == {"c": {}}
    assert flushed(made, flows(made, 0.5), {"c": flows(made, 0.56)}) == {"c": {"a": ((1.0, 3.0),)}}


@pytest.mark.pinned
def test_blind_accesses() -> None:
    valve = [("east", 0.5), "ball valve", ("east", 0.5)]
    square = walk("a", "vessel tank", [*valve, ("cap", {"id": "c1", "faces": "up"}), *valve], "vessel bed")
    made = layout(square, rods=[STIFF])
    assert only("blind-access", upkeep(made)).message == (
        "No rod goes in at c1: opens square to the pipe: 90°, more than the 22.5° that the brush passes."
    )
    assert of("blind-access", upkeep(made, c1=flows(made, 0.9)).findings) == []


# Dead legs.


def with_spur(*route: object, end: str = "plug", pipe: Pipe | None = None, **more) -> Layout:
    main = walk("main", "vessel tank", [("east", 1.0), ("tee", {"id": "t1"}), ("east", 1.0)], "vessel bed")
    pipe = pipe or Pipe("20", 0.02, 0.0)
    return layout(main, walk("spur", "tee t1", list(route), end, at=(1, 0, 0), pipe=pipe), **more)


@pytest.mark.published
@pytest.mark.parametrize(("length", "dead"), [(0.119, False), (0.120, False), (0.121, True), (0.6, True)])
def test_fda_six_diameters_from_the_axis_of_the_pipe_in_use(length: float, dead: bool) -> None:
    """FDA, Guide to Inspections of High Purity Water Systems: no more than 6 D from the axis [L]; 6 x 20 mm =
    120 mm."""
    made = with_spur(("north", length))
    assert bool(dead_legs(made, by_shape(made))) == dead


@pytest.mark.invariant
@pytest.mark.parametrize(("limit", "dead"), [(6.0, False), (3.0, True), (2.0, True), (1.5, True)])
def test_stricter_limits_of_other_sources(limit: float, dead: bool) -> None:
    """WHO TRS 970 annex 2: 3 D; ASME BPE: 2; WHO TRS 929: 1.5 [M]; a spur of 5 D passes the FDA's 6 alone."""
    made = with_spur(("north", 0.1), limits={"dead leg": limit})
    assert bool(dead_legs(made, by_shape(made))) == dead


@pytest.mark.pinned
def test_a_dead_legs_message() -> None:
    (finding,) = dead_legs(made := with_spur(("north", 0.8), end="cap c2"), by_shape(made))
    assert finding.message == (
        "0.80 m of 'spur' is a dead leg from tee t1, 40 bores where 6 are allowed: 0.3 L of water that does not move."
    )
    assert finding.cure == "cut it back to within 0.12 m of tee t1, or flush it through its cap every week"


@pytest.mark.second_method
def test_a_tree_of_spurs_is_one_dead_leg_as_long_as_its_longest_way() -> None:
    small = Pipe("20", 0.02, 0.0)
    main = walk("main", "vessel tank", [("east", 1.0), ("tee", {"id": "t1"}), ("east", 1.0)], "vessel bed")
    route = [("north", 0.5), ("tee", {"id": "t2"}), ("north", 0.2)]
    spur = walk("spur", "tee t1", route, "plug", at=(1, 0, 0), pipe=small)
    twig = walk("twig", "tee t2", [("east", 0.7)], "cap c", at=(1, 0.5, 0), pipe=small)
    (leg,) = by_shape(layout(main, spur, twig))
    assert (leg.root, leg.ends) == ("tee t1", ("plug", "cap"))
    assert leg.length == pytest.approx(1.2, abs=1e-12)
    assert leg.volume == pytest.approx(math.pi / 4 * 0.02**2 * 1.4, rel=1e-12)


@pytest.mark.invariant
def test_two_spurs_from_one_run_are_two_dead_legs() -> None:
    main = walk(
        "main",
        "vessel tank",
        [("east", 1.0), ("tee", {"id": "t1"}), ("east", 1.0), ("tee", {"id": "t2"}), ("east", 1.0)],
        "vessel bed",
    )
    spurs = [walk(f"spur {n}", f"tee t{n}", [("north", 0.5)], "plug", at=(n, 0, 0)) for n in (1, 2)]
    assert sorted(leg.root for leg in by_shape(layout(main, *spurs))) == ["tee t1", "tee t2"]


@pytest.mark.second_method
def test_a_loop_on_one_stalk_leads_nowhere() -> None:
    main = walk("main", "vessel tank", [("east", 1.0), ("tee", {"id": "t1"}), ("east", 1.0)], "vessel bed")
    loop = walk(
        "loop",
        "tee t1",
        [
            ("north", 1.0),
            ("tee", {"id": "t2"}),
            ("east", 1.0),
            "elbow",
            ("north", 1.0),
            "elbow",
            ("west", 1.0),
            "elbow",
            ("south", 1.0),
        ],
        "tee t2",
        at=(1, 0, 0),
    )
    (leg,) = by_shape(layout(main, loop))
    assert leg.root == "tee t1"
    # Half way round a ring of 4 m, at the end of a stalk of 1 m.
    assert leg.length == pytest.approx(3.0, abs=1e-12)


@pytest.mark.invariant
def test_a_ring_in_use_has_no_dead_leg() -> None:
    supply = walk(
        "supply",
        "vessel tank",
        [("east", 1.0), ("tee", {"id": "a"}), ("north", 2.0), ("tee", {"id": "b"}), ("north", 1.0)],
        "vessel bed",
    )
    other = walk(
        "other",
        "tee a",
        [("east", 1.0), "elbow", ("north", 2.0), "elbow", ("west", 1.0)],
        "tee b",
        at=(1, 0, 0),
    )
    assert by_shape(layout(supply, other)) == ()


@pytest.mark.second_method
def test_pipe_on_either_side_of_a_shut_valve_is_dead() -> None:
    made = with_spur(("north", 0.3), ("ball valve", {"opening": 0.0}), ("north", 2.0), end="vessel bed")
    before, after = sorted(by_shape(made), key=lambda leg: leg.length)
    assert (before.root, before.length, before.ends) == ("tee t1", pytest.approx(0.3), ("shut ball valve",))
    assert (after.root, after.length, after.ends) == ("bed", pytest.approx(2.0), ("shut ball valve",))
    assert dead_legs(made, [before])[0].cure == (
        "move the ball valve to within 0.12 m of tee t1, or run water through it every week"
    )
    assert by_shape(with_spur(("north", 0.3), ("ball valve", {"opening": 0.1}), ("north", 2.0), end="vessel bed")) == ()


@pytest.mark.invariant
def test_a_pump_in_a_line_joins_both_sides() -> None:
    suction = walk("suction", "vessel tank", [("east", 1.0)], "pump lift")
    riser = walk("riser", "pump lift", [("up", 1.0)], "vessel bed", at=(1, 0, 0))
    assert by_shape(layout(suction, riser)) == ()


@pytest.mark.invariant
def test_a_spray_bar_is_no_dead_leg_and_its_closed_end_is_short() -> None:
    line = walk("a", "vessel tank", [("up", 1.0), "elbow", ("east", 1.0)], "plug")
    bar = replace(line.parts[2], kind="spray bar")
    line = replace(line, parts=(*line.parts[:2], bar))
    made = layout(line)
    assert dead_legs(made, by_shape(made)) == ()
    assert by_shape(layout(replace(line, parts=(*line.parts[:2], replace(bar, kind="run")))))[
        0
    ].length == pytest.approx(2.0)


@pytest.mark.invariant
def test_a_dead_leg_is_not_told_again_as_standing_water_or_slow_flow() -> None:
    made = with_spur(("north", 0.8))
    result = upkeep(made, flows(made, {"spur": 0.0}))
    assert [one.kind for one in result.findings if one.line == "spur"] == ["unreachable", "dead-leg"]


# Standing water.


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("how", "why"),
    [
        ({}, "the heads at its two ends balance"),
        ({"held": ["a 1"]}, "a check valve or a free end holds the water back"),
        ({"cut_off": ["a 1"]}, "a shut valve cuts it off"),
    ],
)
def test_standing_water_and_its_reason(how: dict, why: str) -> None:
    made = layout(walk("a", "vessel tank", [("east", 1.0), ("union", {"id": "u"}), ("east", 2.0)], "vessel bed"))
    (finding,) = standing_water(made, flows(made, 0.0, **how), by_shape(made))
    assert finding.message == f"Water stands in 3.00 m of 'a' (steps 1 to 3), 1.6 L: {why}."
    assert (finding.start, finding.stop) == (0.0, 3.0)


@pytest.mark.invariant
def test_water_stands_below_its_limit_only() -> None:
    made = layout(walk("a", "vessel tank", [("east", 1.0)], "vessel bed"))
    assert standing_water(made, flows(made, 0.0101), ()) == ()
    assert len(standing_water(made, flows(made, 0.0099), ())) == 1


@pytest.mark.invariant
def test_a_short_piece_of_standing_water_is_let_be() -> None:
    short = layout(walk("a", "vessel tank", [("east", 6 * 0.026 - 1e-6)], "vessel bed"))
    assert standing_water(short, flows(short, 0.0), ()) == ()


# Bends.


@pytest.mark.published
@pytest.mark.parametrize(
    ("kind", "way", "sharp"),
    [
        ("elbow", "north", True),
        ("sweep", "north", False),
        ("bend 45", "east north", False),
        ("bend", "east north", False),
        ("bend", [1, 1.02, 0], True),
    ],
)
def test_ipc_a_turn_of_more_than_45_degrees_is_sharp(kind: str, way, sharp: bool) -> None:
    """International Plumbing Code 708.1.4: a turn of more than 45° [L]; a sweep's long radius is let off
    here."""
    made = layout(walk("a", "vessel tank", [("east", 1.0), kind, (way, 1.0)], "vessel bed"))
    assert bool(bends.sharp_bends(made, sharp_kinds())) == sharp


def zigzag(*turns: float) -> list:
    """A flat route that turns by these angles in degrees, one way."""
    route: list = [("east", 1.0)]
    angle = 0.0
    for turn in turns:
        angle += math.radians(turn)
        route += ["sweep", ([math.cos(angle), math.sin(angle), 0.0], 1.0)]
    return route


@pytest.mark.published
@pytest.mark.parametrize(
    ("turns", "much"),
    [
        ((90, 45), False),
        ((45, 45, 45), False),
        ((90, 45, 5), True),
        ((45, 45, 45, 22.5), True),
        ((90, 90), True),
    ],
)
def test_upc_turns_may_add_up_to_135_degrees(turns: tuple, much: bool) -> None:
    """Uniform Plumbing Code 707.4: a cleanout where turns add up to more than 135° [L]."""
    made = layout(walk("a", "cap c1", zigzag(*turns), "cap c2"))
    assert bool(bends.turning(made, {})) == much


@pytest.mark.second_method
def test_an_access_between_resets_the_sum() -> None:
    route = zigzag(90, 90)
    route[2:2] = [("union", {"id": "u"}), ("north", 1.0)]
    made = layout(walk("a", "cap c1", route, "cap c2"))
    assert bends.turning(made, {}) == ()
    assert [(piece.first, piece.last, round(math.degrees(piece.turn))) for piece in bends.between_accesses(made)] == [
        ("c1", "u", 90),
        ("u", "c2", 90),
    ]


@pytest.mark.invariant
def test_a_capped_corner_is_no_turn_on_either_side() -> None:
    """Rods come up to it from both sides, and one goes down from it; none has to turn there."""
    route = ["up", "elbow", "east", ("cap", {"id": "c", "faces": "east"}), "north", "elbow", "up"]
    walked = [(step, 1.0) if step in ("up", "east", "north") else step for step in route]
    made = layout(walk("a", "vessel tank", walked, "vessel bed"))
    assert [round(math.degrees(piece.turn)) for piece in bends.between_accesses(made)] == [90, 90]


@pytest.mark.pinned
def test_turning_message_and_cure() -> None:
    route = [("up", 1.5), "elbow", ("east", 3.0), "elbow", ("north", 1.0)]
    made = layout(walk("a", "vessel tank", route, "vessel bed"), rods=[STIFF])
    finding = only("turning", upkeep(made))
    assert finding.message == "'a' turns 180° between tank and bed, in 5.50 m: more than 135°."
    # The pipe between the elbows wants the same tee; it is told there, and only referred to here.
    assert only("unreachable", upkeep(made)).cure.startswith(
        "put a capped tee in place of the elbow at step 2, facing west"
    )
    assert finding.cure == "the capped tee at step 2 that its unreached pipe wants divides the turning too"
    assert finding.level == "warn"


@pytest.mark.invariant
def test_turning_is_advice_where_a_rod_reaches_all_the_same() -> None:
    made = layout(walk("a", "cap c1", zigzag(90, 90), "cap c2"), rods=[rod(9.0, 95.0, 270.0)])
    assert only("turning", upkeep(made)).level == "advice"


@pytest.mark.pinned
def test_sharp_bends_are_told_once_a_line() -> None:
    route = [("up", 1.0), "elbow", ("east", 1.0), "elbow", ("up", 1.0), "elbow", ("east", 1.0)]
    (finding,) = bends.sharp_bends(layout(walk("a", "vessel tank", route, "vessel bed")), sharp_kinds())
    assert finding.message == "'a' has 3 tight bends, at steps 2, 4 and 6."
    one = catalogue.weights()["sharp-bend"].value
    assert 1 - finding.weight == pytest.approx((1 - one) ** 3, rel=1e-12)


# Carry.


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("speed", "slow"), [(0.301, False), (0.299, False), (0.294, True), (0.011, True), (0.009, False)]
)
def test_slow_flow_lies_between_standing_and_self_cleansing(speed: float, slow: bool) -> None:
    made = layout(walk("a", "vessel tank", [("east", 1.0)], "vessel bed"))
    assert bool(slow_flow(made, flows(made, speed), ())) == slow


@pytest.mark.pinned
def test_neighbouring_slow_stretches_are_told_as_one() -> None:
    wide = Pipe("52", 0.052, 1.5e-6)
    route = [("west", 1.0), ("union", {"id": "u"}), ("west", 2.0)]
    made = layout(walk("return", "vessel bed", route, "vessel tank", pipe=wide))
    (finding,) = slow_flow(made, flows(made, 0.12), ())
    assert finding.message == (
        "3.00 m of 'return' (steps 1 to 3) runs at 0.12 m/s: solids settle below 0.30 m/s (wall shear 0.063 Pa, "
        "0.32 Pa wanted)."
    )
    # The same flow at 0.3 m/s: 52 mm · √(0.12/0.3) = 32.9 mm.
    assert finding.cure.startswith("a bore of 33 mm or less at this flow")
    # A drain without fall runs full, as it is said.
    (gravity,) = slow_flow(made, flows(made, 0.12, gravity=["return 1"]), ())
    assert gravity.message == finding.message


@pytest.mark.invariant
def test_nothing_settles_in_a_steep_drop() -> None:
    made = layout(walk("drop", "vessel bed", [("down", 2.0)], "vessel tank"))
    assert slow_flow(made, flows(made, 0.12), ()) == ()


@pytest.mark.invariant
def test_the_widest_run_of_a_stretch_is_the_slowest() -> None:
    route = [("east", 1.0), "expander", ("east", 1.0, Pipe("52", 0.052, 0.0))]
    made = layout(walk("a", "vessel tank", route, "vessel bed"))
    (finding,) = slow_flow(made, flows(made, 0.8), ())
    assert (finding.step, "runs at 0.20 m/s" in finding.message) == (3, True)


@pytest.mark.published
def test_wall_shear_against_prandtls_smooth_pipe() -> None:
    """White, Fluid Mechanics, ch. 6: f = 0.0180 at Re 1e5 in a smooth pipe [M][V]; τ = f ρ V²/8, laminar τ =
    8 μ V/D."""
    bore, density, viscosity = 0.05, 1000.0, 1e-3
    velocity = 1e5 * viscosity / (density * bore)
    flow = velocity * math.pi / 4 * bore**2
    assert wall_shear(flow, bore, 0.0, density, viscosity) == pytest.approx(
        0.0180 * density * velocity**2 / 8, rel=0.003
    )
    slow = 1e3 * viscosity / (density * bore)
    laminar = wall_shear(-slow * math.pi / 4 * bore**2, bore, 0.0, density, viscosity)
    assert laminar == pytest.approx(8 * viscosity * slow / bore, rel=1e-9)


# Traps.


def depths(*lines: Line, air: bool = False) -> list[tuple[str, int | None, float]]:
    return [
        (trap.line, trap.step, round(trap.depth, 9)) for trap in trapped(layout(*lines), air=air) if trap.depth > 1e-9
    ]


DIP = [
    ("east", 0.5),
    "elbow",
    ("down", 0.4),
    "elbow",
    ("east", 1.0),
    "elbow",
    ("up", 0.3),
    "elbow",
    ("east", 0.5),
]


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("route", "expected"),
    [
        pytest.param(DIP, [("a", 4, 0.3)], id="a dip, as deep as its lower side"),
        pytest.param([*DIP[:5], ("cap", {"id": "c", "faces": "east"}), *DIP[6:]], [], id="with a cap at its bottom"),
        pytest.param(
            [*DIP[:2], ("down", 0.2), ("union", {"id": "u"}), ("down", 0.2), *DIP[3:]],
            [("a", 6, 0.2)],
            id="a union 0.2 m above the bottom drains what is above it only",
        ),
        pytest.param([("down", 1.0), "elbow", ("east", 1.0)], [], id="falling all the way"),
        pytest.param([("up", 1.0), "elbow", ("east", 1.0), "elbow", ("down", 1.0)], [], id="a hump is no dip"),
    ],
)
def test_low_points(route: list, expected: list) -> None:
    assert depths(walk("a", "vessel bed", route, "vessel tank")) == expected


@pytest.mark.second_method
def test_a_tee_into_lower_pipe_drains_a_dip() -> None:
    route = [("down", 0.4), "elbow", ("east", 0.5), ("tee", {"id": "t"}), ("east", 0.5), "elbow", ("up", 0.4)]
    line = walk("a", "vessel bed", route, "vessel tank")
    down = walk("b", "tee t", [("down", 0.2)], "vessel sump", at=(0.5, 0, -0.4))
    closed = walk("b", "tee t", [("down", 0.2)], "plug", at=(0.5, 0, -0.4))
    up = walk("b", "tee t", [("up", 0.2)], "vessel grow", at=(0.5, 0, -0.4))
    assert depths(line, down) == []
    assert depths(line, closed) == [("b", 1, 0.6)]
    assert depths(line, up) == [("a", 2, 0.2)]


@pytest.mark.invariant
def test_a_riser_drains_back_through_a_submersible_pump() -> None:
    assert depths(walk("a", "pump lift", [("up", 1.0)], "vessel bed")) == []


@pytest.mark.invariant
def test_humps_are_low_points_upside_down() -> None:
    """Mirrored in height, low points become humps and the other way."""
    turned = {"up": "down", "down": "up"}
    mirrored = [(turned.get(step[0], step[0]), step[1]) if isinstance(step, tuple) else step for step in DIP]
    dip, hump = walk("a", "vessel bed", DIP, "vessel tank"), walk("a", "vessel bed", mirrored, "vessel tank")
    assert depths(dip) == depths(hump, air=True) != []
    assert depths(dip, air=True) == depths(hump) == []


@pytest.mark.second_method
def test_basins_against_flooding_by_hand() -> None:
    """Random networks: the water left at each low point, by lowering the level at every point until nothing
    runs off."""
    dice = random.Random(5)
    for _ in range(300):
        n = dice.randint(2, 12)
        heights = [float(h) for h in dice.sample(range(100), n)]
        edges = {(dice.randrange(k), k) for k in range(1, n)}
        edges |= {tuple(sorted(dice.sample(range(n), 2))) for _ in range(dice.randint(0, 3))}
        outlets = dice.sample(range(n), dice.randint(1, 2))
        levels = [h if k in outlets else 1e3 for k, h in enumerate(heights)]
        for _ in range(n):
            for a, b in (*edges, *[(b, a) for a, b in edges]):
                levels[a] = max(heights[a], min(levels[a], levels[b]))
        found = dict(basins(heights, sorted(edges), outlets))
        near = {k: [b if a == k else a for a, b in edges if k in (a, b)] for k in range(n)}
        for k in range(n):
            lowest = all(heights[k] < heights[m] for m in near[k])
            if (
                levels[k] > heights[k]
                and lowest
                and all(
                    heights[k] < heights[m]
                    for m in range(n)
                    if m != k and levels[m] == levels[k] and levels[m] > heights[m]
                )
            ):
                assert found[k] == levels[k] - heights[k]
            assert found.get(k, 0.0) <= max(levels[k] - heights[k], 0.0)


@pytest.mark.pinned
def test_a_low_point_is_worse_where_the_water_is_slow() -> None:
    made = layout(walk("a", "vessel bed", DIP, "vessel tank"))
    (slow,) = traps.low_points(made, flows(made, 0.1))
    (fast,) = traps.low_points(made, flows(made, 0.5))
    assert slow.message == (
        "'a' has a low point at step 4 (elbow) that holds 0.30 m of water with no drain, and solids settle in it."
    )
    assert (slow.level, fast.level) == ("warn", "advice")
    assert slow.weight == pytest.approx(3 * fast.weight)
    shallow = layout(walk("a", "vessel bed", DIP, "vessel tank"), limits={"low point depth": 0.31})
    assert traps.low_points(shallow, flows(shallow, 0.1)) == ()


@pytest.mark.published
@pytest.mark.parametrize(("number", "level"), [(0.29, "warn"), (0.31, "advice"), (0.99, "advice"), (1.01, None)])
def test_air_at_a_hump_by_its_froude_number(number: float, level: str | None) -> None:
    """V/√(gD) under 0.3 lets air back up, 0.3 to 1 carries some, over 1 clears it [L]."""
    made = layout(walk("a", "vessel bed", [("up", 0.5), "elbow", ("east", 1.0), "elbow", ("down", 0.2)], "vessel tank"))
    found = traps.humps(made, flows(made, number * math.sqrt(9.80665 * 0.026)))
    assert [one.level for one in found] == ([level] if level else [])


# All together.


@pytest.mark.invariant
def test_a_sound_layout_has_nothing_to_say() -> None:
    made = layout(
        walk("a", "pump lift", [("up", 1.5), ("cap", {"id": "c1", "faces": "up"}), ("east", 1.0)], "vessel bed"),
        rods=[STIFF],
        vessel_access=["a.to"],
    )
    result = upkeep(made)
    assert (result.findings, result.cleanable_fraction) == ((), 1.0)


@pytest.mark.invariant
def test_pushes_tell_the_routine_and_cover_just_what_is_reached() -> None:
    route = [
        ("up", 1.5),
        ("cap", {"id": "c1", "faces": "up"}),
        ("east", 1.0),
        ("union", {"id": "u"}),
        ("east", 1.0),
    ]
    made = layout(walk("a", "vessel tank", route, "vessel bed"), rods=[STIFF])
    result = upkeep(made)
    assert [(push.access, push.covers) for push in result.pushes] == [
        ("c1", {"a": ((0.0, 1.5),)}),
        ("u", {"a": ((1.5, 3.5),)}),
    ]
    assert result.reached == {"a": ((0.0, 3.5),)}


@pytest.mark.second_method
def test_each_stretch_knows_which_rod_reaches_it_how_long_and_which_way() -> None:
    """Up 1.5 m to a capped corner that looks down the riser; from the union both ways; 1 m from the bed's port."""
    route = [("up", 1.5), ("cap", {"id": "c1", "faces": "up"}), ("east", 1.0), ("union", {"id": "u"}), ("east", 6.0)]
    made = layout(walk("a", "vessel tank", route, "vessel bed"), rods=[STIFF], vessel_access=["a.to"])
    result = upkeep(made)
    seen = [
        [(push.access, push.rod, s.start, s.stop, s.forward, s.near, s.need) for push, s in result.rodded(stretch)]
        for stretch in made.stretches
    ]
    assert seen == [
        [("c1", "brush", 0.0, 1.5, False, 0.0, 1.5)],
        [("u", "brush", 1.5, 2.5, False, 0.0, 1.0)],
        [("u", "brush", 2.5, 6.5, True, 0.0, 4.0), ("a.to", "brush", 4.5, 8.5, False, 0.0, 4.0)],
    ]


@pytest.mark.second_method
def test_a_span_cut_at_a_tee_tells_the_rod_that_each_stretch_takes() -> None:
    run = walk("run", "cap c1", [("east", 2.0), ("tee", {"id": "t1"}), ("east", 1.0)], "vessel bed")
    side = walk("side", "tee t1", [("north", 1.0)], "vessel tank", at=(2, 0, 0))
    made = layout(run, side, rods=[STIFF])
    result = upkeep(made)
    seen = [[(s.start, s.stop, s.near, s.need) for _, s in result.rodded(stretch)] for stretch in made.stretches]
    assert seen == [[(0.0, 2.0, 0.0, 2.0)], [(2.0, 3.0, 2.0, 3.0)], []]


@pytest.mark.second_method
def test_a_ring_is_brushed_both_ways_round() -> None:
    """A stalk of 1 m into a ring of 6 m: a rod turns either way at the tee, and each piece has two ways to it."""
    ring = [("east", 1.0), "elbow", ("north", 1.0), "elbow", ("west", 2.0), "elbow", ("south", 1.0), "elbow"]
    line = walk("a", "cap c", [("north", 1.0), ("tee", {"id": "t"}), *ring, ("east", 1.0)], "tee t")
    made = layout(line, rods=[rod(9.0, 90.0, 900.0)])
    result = upkeep(made)
    assert [(s.start, s.stop, s.forward, s.near, s.need) for _, s in result.rodded(made.stretches[1])] == [
        (1.0, 7.0, True, 1.0, 7.0),
        (1.0, 7.0, False, 1.0, 7.0),
    ]


@pytest.mark.pinned
def test_kinds_of_fitting_come_from_the_catalogue() -> None:
    assert {"gate valve", "check valve", "strainer", "flow meter"} <= stopping_kinds()
    assert not {"elbow", "tee", "cap", "union", "reducer", "bulkhead"} & stopping_kinds()
    assert "elbow" in sharp_kinds()
    assert not {"sweep", "bend 45"} & sharp_kinds()


@pytest.mark.invariant
def test_unreachable_pieces_and_reached_pieces_make_up_all_pipe() -> None:
    route = [("up", 2.0), "elbow", ("east", 7.0), ("union", {"id": "u"}), ("east", 5.0), "elbow", ("up", 1.0)]
    made = layout(walk("a", "cap c", route, "vessel bed"), rods=[STIFF])
    track = build_track(made, stopping_kinds())
    covered = intervals.union(piece for push in pushes(track) for piece in push.covers["a"])
    gaps = [(one.start, one.stop) for one in every_gap(track, {"a": covered})]
    assert intervals.length(covered) + intervals.length(gaps) == pytest.approx(15.0, abs=1e-9)
    assert set(LIMITS) >= {"dead leg", "sharp bend"}
