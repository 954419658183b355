"""Reach: cases worked by hand, and what must hold whatever the layout."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from builders import PIPE, layout, rod, walk

from plumbline.layout.model import Layout, Line, Pipe, Rod
from plumbline.upkeep import intervals
from plumbline.upkeep.hoses import hose_turns
from plumbline.upkeep.reach import pushes, reach
from plumbline.upkeep.track import build_track

STOPS = frozenset({"gate valve", "ball valve", "check valve", "strainer", "flow meter"})
STRAIGHT = rod()
CABLE = rod(length=5.0, bend=95.0, turns=270.0)


def reached(made: Layout) -> dict[str, list[tuple[float, float]]]:
    return {
        name: [(round(a, 9), round(b, 9)) for a, b in pieces] for name, pieces in reach(made, stopping=STOPS).items()
    }


def one(
    *route: object,
    rods: tuple[Rod, ...] = (STRAIGHT,),
    start: str = "vessel tank",
    end: str = "vessel bed",
    **more,
):
    return layout(walk("a", start, route, end, **more), rods=rods)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("made", "expected"),
    [
        pytest.param(one(("east", 3.0), start="cap c1"), [(0.0, 3.0)], id="straight run from a cap at its end"),
        pytest.param(one(("east", 5.5), start="cap c1"), [(0.0, 4.0)], id="rod of 4 m in a run of 5.5 m"),
        pytest.param(one(("east", 5.5), start="cap c1", end="cap c2"), [(0.0, 5.5)], id="two rods overlap"),
        pytest.param(
            one(("east", 1.0), ("union", {"id": "u"}), ("east", 6.0)),
            [(0.0, 5.0)],
            id="a union lets it in both ways",
        ),
        pytest.param(
            one(("up", 1.5), "elbow", ("east", 2.0), start="cap c1"),
            [(0.0, 1.5)],
            id="an elbow stops a stiff rod",
        ),
        pytest.param(
            one(("up", 1.5), "elbow", ("east", 2.0), start="cap c1", rods=(CABLE,)),
            [(0.0, 3.5)],
            id="a cable takes it",
        ),
        pytest.param(
            one(("up", 1.5), ("cap", {"id": "c", "faces": "up"}), ("east", 2.0)),
            [(0.0, 1.5)],
            id="capped tee for an elbow, looking down the riser",
        ),
        pytest.param(
            one(("up", 1.5), ("cap", {"id": "c", "faces": "west"}), ("east", 2.0)),
            [(1.5, 3.5)],
            id="capped tee for an elbow, looking along the top",
        ),
        pytest.param(
            one(("up", 1.5), ("cap", {"id": "c", "faces": "west"}), ("east", 2.0), rods=(CABLE,)),
            [(1.5, 3.5)],
            id="even a cable goes straight on past the other leg",
        ),
        pytest.param(
            one(("east", 2.0), ("cap", {"id": "c", "faces": "up"}), ("east", 2.0)),
            [],
            id="a cap square to the run",
        ),
        pytest.param(
            one(("east", 2.0), ("cap", {"id": "c", "faces": "up"}), ("east", 2.0), rods=(CABLE,)),
            [(0.0, 4.0)],
            id="a cable turns either way from a square cap",
        ),
        pytest.param(
            one(("east", 2.0), ("cap", {"id": "c", "faces": "up west"}), ("east", 2.0), rods=(rod(bend=45),)),
            [(2.0, 4.0)],
            id="a cap leaning back lets a rod down one leg",
        ),
        pytest.param(
            one(("east", 1.0), "gate valve", ("east", 1.0), start="cap c"),
            [(0.0, 1.0)],
            id="nothing passes a valve",
        ),
        pytest.param(
            one(("east", 1.0), "reducer", ("east", 1.0, Pipe("15", 0.015, 0.0)), ("east", 1.0), start="cap c"),
            [(0.0, 1.0)],
            id="a bore too small stops it where that run begins",
        ),
        pytest.param(
            one(
                ("east", 1.0),
                "bend 22.5",
                ([math.cos(math.pi / 8), math.sin(math.pi / 8), 0], 1.0),
                "bend 22.5",
                ("east north", 1.0),
                "bend 22.5",
                ([math.sin(math.pi / 8), math.cos(math.pi / 8), 0], 1.0),
                start="cap c",
            ),
            [(0.0, 3.0)],
            id="two bends of 22.5 make 45, the third is too many",
        ),
        pytest.param(one(("east", 1.0), start="plug", end="plug"), [], id="no access, no reach"),
        pytest.param(one(("east", 1.0), start="cap c", rods=()), [], id="no rod, no reach"),
    ],
)
def test_reach_by_hand(made: Layout, expected: list[tuple[float, float]]) -> None:
    assert reached(made) == {"a": expected}


def tee(kind: str, branch: str, access: str, rods: tuple[Rod, ...]) -> dict[str, list[tuple[float, float]]]:
    """A run of 2 + 2 m going east with a branch of 1 m; `access` says which of its ends is a cap."""
    ends = {"from": "vessel tank", "to": "vessel bed", "branch": "plug"}
    ends[access] = "cap c"
    run = walk("run", ends["from"], [("east", 2.0), (kind, {"id": "t"}), ("east", 2.0)], ends["to"])
    return reached(layout(run, walk("side", "tee t", [(branch, 1.0)], ends["branch"], at=(2, 0, 0)), rods=rods))


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("seen", "run", "side"),
    [
        (("tee", "north", "from", (STRAIGHT,)), [(0.0, 4.0)], []),
        (("tee", "north", "to", (CABLE,)), [(0.0, 4.0)], []),
        (("tee", "north", "branch", (STRAIGHT,)), [], [(0.0, 1.0)]),
        (("tee", "north", "branch", (CABLE,)), [(0.0, 4.0)], [(0.0, 1.0)]),
        # The branch leans west: from it, 45° into the leg after the tee and 135° into the one before.
        (("wye", "north west", "branch", (rod(bend=45),)), [(2.0, 4.0)], [(0.0, 1.0)]),
        (("wye", "north west", "branch", (rod(bend=135, turns=135),)), [(0.0, 4.0)], [(0.0, 1.0)]),
        (("wye", "north west", "to", (rod(bend=135, turns=135),)), [(0.0, 4.0)], []),
    ],
)
def test_a_tee_seen_from_each_leg(seen: tuple, run: list, side: list) -> None:
    assert tee(*seen) == {"run": run, "side": side}


@pytest.mark.second_method
def test_a_line_that_walks_into_the_run_and_out_at_the_branch() -> None:
    main = walk("main", "cap c", [("east", 1.0), ("tee", {"id": "t"}), ("north", 1.0)], "plug")
    other = walk("other", "tee t", [("east", 1.5)], "plug", at=(1, 0, 0))
    assert reached(layout(main, other, rods=[CABLE])) == {"main": [(0.0, 1.0)], "other": [(0.0, 1.5)]}


def ring() -> tuple[Line, Line]:
    """A square ring of 1 m sides on a stalk of 1 m; one line walks all of it and ends where it met the
    ring."""
    ring_line = walk(
        "ring",
        "tee t",
        [("east", 1.0), "elbow", ("north", 1.0), "elbow", ("west", 2.0), "elbow", ("south", 1.0)],
        "tee s",
        at=(1, 0, 0),
    )
    stalk = walk(
        "stalk",
        "cap c",
        [("north", 1.0), ("tee", {"id": "t"}), ("west", 1.0), ("tee", {"id": "s"}), ("west", 0.5)],
        "plug",
        at=(1, -1, 0),
    )
    return ring_line, stalk


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("length", "turns", "ring_pieces", "stalk_pieces"),
    [
        # East along the ring and west along the stalk, 90° each, 1.5 m to spare.
        (2.5, 90.0, [(0.0, 1.0)], [(0.0, 2.5)]),
        # Round the ring's far side: 90° at the tee, three elbows make 360°; 5 m of ring and 1 m of stalk.
        (6.5, 360.0, [(0.0, 5.0)], [(0.0, 2.5)]),
        # Not quite round: the ring's last 0.5 m stay; from the other side the rod goes straight on at s.
        (5.5, 360.0, [(0.0, 4.5)], [(0.0, 2.5)]),
    ],
)
def test_a_loop(length: float, turns: float, ring_pieces: list, stalk_pieces: list) -> None:
    made = layout(*ring(), rods=[rod(length, 90.0, turns)])
    assert reached(made) == {"ring": ring_pieces, "stalk": stalk_pieces}


@pytest.mark.second_method
@pytest.mark.parametrize("first", ["stalk", "ring"])
def test_of_two_ways_to_the_same_pipe_the_nearer_tells_the_length_of_rod(first: str) -> None:
    """The stalk's end is 2 m from the cap, and 6 m round the ring; whichever way is laid as one line with it."""
    ring_line, stalk = ring()
    if first == "ring":
        ring_line = walk("ring", "tee t", [("west", 1.0)], "tee s", at=(1, 0, 0))
        round_it = [("east", 1.0), "elbow", ("north", 1.0), "elbow", ("west", 2.0), "elbow", ("south", 1.0)]
        stalk = walk(
            "stalk",
            "cap c",
            [("north", 1.0), ("tee", {"id": "t"}), *round_it, ("tee", {"id": "s"}), ("west", 0.5)],
            "plug",
            at=(1, -1, 0),
        )
    made = layout(ring_line, stalk, rods=[rod(9.0, 90.0, 450.0)])
    (push,) = pushes(build_track(made, STOPS))
    whole = made.lines["stalk"].length
    ends = [span.clip(whole - 0.5, whole) for span in push.spans if span.line == "stalk" and span.forward]
    assert min(piece.near for piece in ends if piece is not None) == pytest.approx(2.0)


@pytest.mark.second_method
def test_a_rod_never_takes_the_same_pipe_twice() -> None:
    """On a loop with one stalk it comes round to the tee that it entered by and stops there."""
    loop = walk(
        "loop",
        "cap c",
        [
            ("north", 1.0),
            ("tee", {"id": "t"}),
            ("east", 1.0),
            "elbow",
            ("north", 1.0),
            "elbow",
            ("west", 2.0),
            "elbow",
            ("south", 1.0),
            "elbow",
            ("east", 1.0),
        ],
        "tee t",
    )
    made = layout(loop, rods=[rod(50.0, 90.0, 3600.0)])
    (push,) = pushes(build_track(made, STOPS))
    assert intervals.length(push.covers["loop"]) == pytest.approx(7.0, abs=1e-12)


@pytest.mark.second_method
def test_a_rod_does_not_come_back_past_its_own_way_in() -> None:
    """A cap leans so that a rod goes in eastward only. Round the ring it comes back to the tee from the
    branch, where it could turn west, past the cap and into the pipe beyond; but the rod itself lies there."""
    line = walk(
        "a",
        "vessel tank",
        [
            ("east", 2.0),
            ("cap", {"id": "c", "faces": "up west"}),
            ("east", 1.0),
            ("tee", {"id": "t"}),
            ("east", 1.0),
            "elbow",
            ("north", 1.0),
            "elbow",
            ("west", 1.0),
            "elbow",
            ("south", 1.0),
        ],
        "tee t",
    )
    assert reached(layout(line, rods=[rod(50.0, 90.0, 3600.0)])) == {"a": [(2.0, 7.0)]}


@pytest.mark.second_method
def test_tees_without_pipe_between_them_are_passed_once_only() -> None:
    """In from wye u's branch the rod can only go east, through t and round to t's branch; the way west lies
    back through u, where the rod is."""
    ring = [("east", 1.0), "elbow", ("north", 1.0), "elbow", ("west", 1.0), "elbow", ("south", 1.0)]
    line = walk("a", "plug", [("east", 1.0), ("wye", {"id": "u"}), ("tee", {"id": "t"}), *ring], "tee t")
    side = walk("b", "tee u", [("south west", 1.0)], "cap c", at=(1, 0, 0))
    assert reached(layout(line, side, rods=[rod(50.0, 90.0, 3600.0)])) == {"a": [(1.0, 5.0)], "b": [(0.0, 1.0)]}


@pytest.mark.second_method
@pytest.mark.parametrize(("aslant", "pieces"), [(20.0, [(0.0, 1.0)]), (25.0, [])])
def test_an_end_that_opens_aslant_costs_its_turn(aslant: float, pieces: list) -> None:
    made = one(("east", 1.0), start="cap c")
    angle = math.radians(aslant)
    faces = (-math.cos(angle), math.sin(angle), 0.0)
    made = replace(made, accesses=(replace(made.accesses[0], faces=faces),))
    assert reached(made) == {"a": pieces}


@pytest.mark.second_method
@pytest.mark.parametrize(("bore", "pieces"), [(0.019, []), (0.02, [(0.0, 1.0)]), (0.2, [(0.0, 1.0)])])
def test_an_opening_may_be_wider_than_the_brush_but_not_narrower(bore: float, pieces: list) -> None:
    made = one(("east", 1.0), start="cap c")
    made = replace(made, accesses=(replace(made.accesses[0], bore=bore),))
    assert reached(made) == {"a": pieces}


@pytest.mark.second_method
def test_a_hose_turns_the_rod_but_not_sharply() -> None:
    """A hose that leaves a pipe at 90° bends gently: it costs a rod its total turning, not its sharpest
    turn."""
    line = walk("a", "cap c", [("east", 1.0), ("north", 2.0)], "plug")
    soft = replace(line, parts=(line.parts[0], replace(line.parts[1], kind="hose")))
    assert reached(layout(line, rods=[rod(bend=45, turns=90)])) == {"a": [(0.0, 1.0)]}
    assert reached(layout(soft, rods=[rod(bend=45, turns=90)])) == {"a": [(0.0, 3.0)]}
    assert reached(layout(soft, rods=[rod(bend=45, turns=89)])) == {"a": [(0.0, 1.0)]}


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("turns", "far"),
    [
        # Up, over in a half circle and down again: 90° to the crown and 90° down to the next pipe.
        (89, 1.0),
        (179, 2.6),
        (180, 3.6),
    ],
)
def test_a_hose_that_goes_right_round_turns_the_rod_right_round(turns: float, far: float) -> None:
    """1.6 m of hose between two uprights 0.5 m apart, behind a union: what it turns counts wherever a fitting stands."""
    line = walk("a", "vessel tank", [("up", 1.0), "union", ("east", 0.5), "union", ("down", 1.0)], "plug", at=(0, 0, 1))
    parts = list(line.parts)
    parts[1] = replace(parts[1], heading_out=parts[1].heading_in, turn=0.0)
    parts[2] = replace(parts[2], kind="hose", length=1.6)
    parts[3] = replace(parts[3], at=2.6, heading_in=parts[4].heading_in, turn=0.0)
    parts[4] = replace(parts[4], at=2.6)
    line = replace(line, parts=tuple(parts), length=3.6)
    made = layout(line, rods=[rod(9.0, 45, turns)], vessel_access=["a.from"])
    made = replace(made, accesses=tuple(one for one in made.accesses if one.kind == "vessel"))
    assert reached(made) == {"a": [(0.0, far)]}


@pytest.mark.second_method
@pytest.mark.parametrize(("length", "bend", "passes"), [(1.0, 22.5, True), (0.25, 22.5, False), (0.25, 45.0, True)])
def test_a_short_hose_bends_sharply(length: float, bend: float, passes: bool) -> None:
    """A quarter turn in 0.25 m of 26 mm hose: π·26 mm, a sweep's arc, is a third of it, and so 29° of the 90 count as one turn."""
    line = walk("a", "cap c", [("east", 1.0), ("north", length)], "plug")
    soft = replace(line, parts=(line.parts[0], replace(line.parts[1], kind="hose")))
    assert reached(layout(soft, rods=[rod(bend=bend, turns=90)])) == {"a": [(0.0, 1.0 + length if passes else 1.0)]}


@pytest.mark.second_method
@pytest.mark.parametrize(("longer", "turns"), [(1.0, 0.0), (1.2, 4 * math.acos(1 / 1.2)), (2.0, 4 * math.pi / 3)])
def test_a_slack_hose_turns_though_it_goes_straight_on(longer: float, turns: float) -> None:
    """Between two pipes in line a hose longer than the way bulges: four times the angle whose cosine is the way over its length."""
    line = walk("a", "plug", [("east", 1.0), ("east", 1.0), ("east", 1.0)], "plug")
    parts = (line.parts[0], replace(line.parts[1], kind="hose", length=longer), replace(line.parts[2], at=1.0 + longer))
    made = layout(replace(line, parts=parts, length=2.0 + longer))
    found = hose_turns(made, made.lines["a"])[1]
    assert found.first + found.last == pytest.approx(turns, abs=1e-12)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("opening", "loss", "passes"), [(1.0, None, True), (0.9, None, False), (0.0, None, False), (1.0, 1.5, False)]
)
def test_a_ball_valve_that_stands_full_open_lets_a_rod_past(opening: float, loss: float | None, passes: bool) -> None:
    """Its ball is as wide as the pipe, by the catalogue's row (β = 1), unless a loss of its own is stated."""
    route = [("east", 1.0), ("ball valve", {"opening": opening, "loss": loss}), ("east", 1.0)]
    made = layout(walk("a", "cap c", route, "plug"), rods=[STRAIGHT])
    assert reach(made) == {"a": ((0.0, 2.0 if passes else 1.0),)}


@pytest.mark.second_method
def test_a_capped_corner_with_a_little_fall_is_still_square() -> None:
    """Three legs square to each other but for a fall of 3°: a rod turns from one run into the other all the
    same."""
    fall = math.radians(3.0)
    route = [([math.cos(fall), 0.0, math.sin(fall)], 1.0), ("cap", {"id": "c", "faces": "up"}), ("north", 1.0)]
    assert reached(one(*route, start="cap d", rods=(CABLE,))) == {"a": [(0.0, 2.0)]}


@pytest.mark.second_method
def test_turns_at_the_entry_count_towards_the_sum() -> None:
    route = [("east", 2.0), ("cap", {"id": "c", "faces": "up"}), ("east", 2.0), "elbow", ("north", 1.0)]
    assert reached(one(*route, rods=(rod(5.0, 90.0, 90.0),))) == {"a": [(0.0, 4.0)]}
    assert reached(one(*route, rods=(rod(5.0, 90.0, 180.0),))) == {"a": [(0.0, 5.0)]}


@pytest.mark.second_method
def test_an_opening_too_small_for_the_brush_lets_none_in() -> None:
    small = walk(
        "a",
        "vessel tank",
        [("east", 1.0), ("cap", {"id": "c", "faces": "west"}), ("up", 1.0)],
        "plug",
        pipe=Pipe("19", 0.019, 0.0),
    )
    assert reached(layout(small, rods=[STRAIGHT])) == {"a": []}


@pytest.mark.second_method
def test_a_vessels_port_in_reach_is_an_access() -> None:
    line = walk("a", "vessel tank", [("down", 0.5), "elbow", ("west", 2.0)], "vessel sump")
    assert reached(layout(line, rods=[STRAIGHT], vessel_access=["a.from"])) == {"a": [(0.0, 0.5)]}
    assert reached(layout(line, rods=[STRAIGHT])) == {"a": []}


@pytest.mark.second_method
def test_a_little_bend_without_a_fitting_counts() -> None:
    """Pipe may be bent by a few degrees in place; ten times 4.6° is more than 45° all together."""
    route = [([math.cos(math.radians(4.6 * n)), math.sin(math.radians(4.6 * n)), 0.0], 0.3) for n in range(11)]
    assert reached(one(*route, start="cap c")) == {"a": [(0.0, 3.0)]}


# Whatever the layout: the way it is written down does not matter.

ROUTE = [
    ("up", 1.5),
    ("cap", {"id": "c", "faces": "up"}),
    ("east", 1.4),
    ("cap", {"id": "d", "faces": "up"}),
    ("east", 0.6),
    "bend 45",
    ("east north", 1.0),
    "ball valve",
    ("east north", 0.5),
    ("union", {"id": "u"}),
    ("east north", 0.25),
    "elbow",
    ("up", 1.0),
]


def backwards(route: list) -> list:
    turned = {"up": "down", "down": "up", "east": "west", "west": "east", "north": "south", "south": "north"}
    return [
        (" ".join(turned[w] for w in step[0].split()), *step[1:])
        if isinstance(step, tuple) and isinstance(step[1], float)
        else step
        for step in reversed(route)
    ]


@pytest.mark.invariant
@pytest.mark.parametrize("tool", [STRAIGHT, CABLE, rod(1.0, 50.0, 50.0)], ids=["stiff", "cable", "short"])
def test_walking_a_line_the_other_way_changes_nothing(tool: Rod) -> None:
    there = layout(walk("a", "vessel tank", ROUTE, "open air"), rods=[tool])
    back = layout(walk("a", "open air", backwards(ROUTE), "vessel tank", at=(7, 7, 7)), rods=[tool])
    size = there.lines["a"].length
    turned = [(round(size - b, 9), round(size - a, 9)) for a, b in reversed(reached(back)["a"])]
    assert turned == reached(there)["a"] != []


@pytest.mark.invariant
@pytest.mark.parametrize("swap", [{"east": "west", "west": "east"}, {"up": "down", "down": "up"}])
@pytest.mark.parametrize("tool", [STRAIGHT, CABLE], ids=["stiff", "cable"])
def test_mirrored_and_shifted_layouts_reach_the_same(swap: dict[str, str], tool: Rod) -> None:
    def mirrored(word: str) -> str:
        return " ".join(swap.get(w, w) for w in word.split())

    route = [
        (mirrored(step[0]), step[1])
        if isinstance(step, tuple) and isinstance(step[1], float)
        else (step[0], {**step[1], "faces": mirrored(step[1]["faces"])})
        if isinstance(step, tuple) and "faces" in step[1]
        else step
        for step in ROUTE
    ]
    here = layout(walk("a", "vessel tank", ROUTE, "open air"), rods=[tool])
    there = layout(walk("a", "vessel tank", route, "open air", at=(12.3, -4.5, 6.7)), rods=[tool])
    assert reached(here) == reached(there)


@pytest.mark.invariant
def test_a_longer_or_more_supple_rod_never_reaches_less() -> None:
    line = walk("a", "vessel tank", ROUTE, "open air")
    for better, worse in [
        ((4.0, 45, 90), (3.0, 45, 90)),
        ((4.0, 90, 90), (4.0, 45, 90)),
        ((4.0, 90, 180), (4.0, 90, 90)),
    ]:
        more = reach(layout(line, rods=[rod(*better)]), stopping=STOPS)["a"]
        less = reach(layout(line, rods=[rod(*worse)]), stopping=STOPS)["a"]
        assert intervals.subtract(less, more) == ()


@pytest.mark.invariant
def test_pipe_of_default_bore_fits() -> None:
    assert STRAIGHT.bore_min <= PIPE.bore <= STRAIGHT.bore_max
