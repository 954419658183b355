"""Reach against a second, independent method: pipework as unit cells of a grid, and a rod's tip that steps
from cell to cell by what stands straight ahead of it. The grid knows nothing of lines, parts or tees; the
layout that is compared with it is made from the same drawing by laying lines through it at random.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Any

import pytest
from builders import layout, rod, walk

from plumbline.layout.model import Layout, Pipe, Rod
from plumbline.upkeep.intervals import Interval, Intervals, union
from plumbline.upkeep.reach import reach

UNIT = 0.25
BORE, NARROW = Pipe("26", 0.026, 0.0), Pipe("15", 0.015, 0.0)
WAYS = [way for way in product((-1, 0, 1), repeat=3) if any(way) and not all(way)]
Point = tuple[int, int, int]
STOPS = frozenset({"ball valve"})


def ahead(point: Point, way: Point, times: int = 1) -> Point:
    return tuple(p + times * w for p, w in zip(point, way, strict=True))  # type: ignore[return-value]


def back(way: Point) -> Point:
    return tuple(-w for w in way)  # type: ignore[return-value]


def turn(a: Point, b: Point) -> float:
    cosine = sum(x * y for x, y in zip(a, b, strict=True)) / math.hypot(*a) / math.hypot(*b)
    return math.acos(max(-1.0, min(1.0, cosine)))


@dataclass
class Drawing:
    """Pipe on a grid. `legs` are the ways that pipe leaves each node; `narrow` the edges of small bore; `at`
    what stands at a node; `faces` which way a cap opens. Nodes are `step` cells apart."""

    step: int
    legs: dict[Point, set[Point]] = field(default_factory=dict)
    narrow: set[frozenset[Point]] = field(default_factory=set)
    at: dict[Point, str] = field(default_factory=dict)
    faces: dict[Point, Point] = field(default_factory=dict)

    def bore(self, node: Point, way: Point) -> Pipe:
        return NARROW if frozenset((node, ahead(node, way))) in self.narrow else BORE


def allowed(legs: set[Point]) -> bool:
    """Two legs turn by at most 135°; three are a tee or wye: a straight run and a branch."""
    if any(turn(a, b) < math.radians(44) for a in legs for b in legs if a != b):
        return False
    return len(legs) < 3 or (len(legs) == 3 and any(back(leg) in legs for leg in legs))


def draw(dice: random.Random, diagonal: bool) -> Drawing:
    """Grow pipe from node to node of a small grid, closing loops as it comes to pipe that it has laid
    before."""
    ways = WAYS if diagonal else [way for way in WAYS if sum(map(abs, way)) == 1]
    box = (3, 4, 1) if diagonal else (3, 3, 2)
    drawing = Drawing(dice.choice((1, 3)))
    drawing.legs[1, 1, 0] = set()
    for _ in range(dice.randint(5, 120)):
        node = dice.choice(sorted(drawing.legs))
        way = dice.choice(ways)
        other = ahead(node, way)
        if not all(0 <= x < size for x, size in zip(other, box, strict=True)):
            continue
        if other in drawing.legs and dice.random() < 0.1:
            continue
        here, there = drawing.legs[node] | {way}, drawing.legs.get(other, set()) | {back(way)}
        if way not in drawing.legs[node] and allowed(here) and allowed(there):
            drawing.legs[node], drawing.legs[other] = here, there
            if dice.random() < 0.05:
                drawing.narrow.add(frozenset((node, other)))
    for node, legs in drawing.legs.items():
        if len(legs) == 1:
            drawing.at[node] = dice.choice(("cap", "plug", "vessel", "open air"))
        elif len(legs) == 2:
            a, b = sorted(legs)
            straight = a == back(b)
            drawing.at[node] = dice.choice(
                ("joint", "joint", "cap", "union", "ball valve") if straight else ("elbow", "elbow", "elbow", "cap")
            )
            if drawing.at[node] == "cap":
                free = [way for way in WAYS if way not in legs]
                square = [way for way in free if all(abs(turn(way, leg) - math.pi / 2) < 1e-6 for leg in legs)]
                leaning = [way for way in free if min(turn(way, leg) for leg in legs) > math.radians(44)]
                in_line = [back(leg) for leg in legs]
                drawing.faces[node] = dice.choice(square + leaning if straight else square + in_line)
    return drawing


# The first method: dumb stepping.


def brute(drawing: Drawing, tool: Rod) -> dict[frozenset[Point], list[Interval]]:
    """Cells covered, each with the intervals [m] from its lesser end. Cells are named by their ends on the
    fine grid."""
    n = drawing.step
    fine: dict[Point, set[Point]] = {}
    thin: set[frozenset[Point]] = set()
    for node, legs in drawing.legs.items():
        for way in legs:
            for k in range(n):
                a = ahead(tuple(n * x for x in node), way, k)  # type: ignore[arg-type]
                b = ahead(a, way)
                fine.setdefault(a, set()).add(way)
                fine.setdefault(b, set()).add(back(way))
                if drawing.bore(node, way) is NARROW:
                    thin.add(frozenset((a, b)))
    at = {tuple(n * x for x in node): what for node, what in drawing.at.items()}
    faces = {tuple(n * x for x in node): way for node, way in drawing.faces.items()}
    found: dict[frozenset[Point], list[Interval]] = {}

    def step(here: Point, way: Point, left: float, turned: float, seen: frozenset[Point]) -> None:
        there = ahead(here, way)
        cell = frozenset((here, there))
        if cell in thin:
            return
        size = UNIT * math.hypot(*way)
        done = min(left, size)
        found.setdefault(cell, []).append((0.0, done) if here < there else (size - done, size))
        if left > size and there not in seen:
            arrive(there, way, left - size, turned, seen | {there})

    def arrive(here: Point, way: Point, left: float, turned: float, seen: frozenset[Point]) -> None:
        if at.get(here) == "ball valve" or faces.get(here) == way:
            return
        legs = fine[here] - {back(way)}
        for leg in {way} if way in legs else legs:
            angle = turn(way, leg)
            if angle <= tool.bend + 1e-6 and turned + angle <= tool.turns + 1e-6:
                step(here, leg, left, turned + angle, seen)

    for here, what in at.items():
        if what == "union":
            for way in fine[here]:
                step(here, way, tool.length, 0.0, frozenset({here}))
        elif what in ("cap", "open air"):
            out = faces[here] if here in faces else back(next(iter(fine[here])))
            arrive(here, back(out), tool.length, 0.0, frozenset({here}))
    return found


# The second: lines laid through the same drawing, and the project's own reach.


def lay(drawing: Drawing, dice: random.Random, tool: Rod) -> tuple[Layout, dict[str, list[tuple[Point, Point]]]] | None:
    """Choose at every tee which two legs one line passes; None where that leaves a ring without an end."""
    partner: dict[tuple[Point, Point], Point] = {}
    for node, legs in drawing.legs.items():
        pair = sorted(legs) if len(legs) == 2 else dice.sample(sorted(legs), 2) if len(legs) == 3 else []
        if pair:
            partner[node, pair[0]], partner[node, pair[1]] = pair[1], pair[0]
    starts = [(node, way) for node in drawing.legs for way in drawing.legs[node] if (node, way) not in partner]
    dice.shuffle(starts)
    lines, cells, laid = [], {}, set()
    for node, way in starts:
        if (node, way) in laid:
            continue
        name = f"line {len(lines)}"
        route: list[Any] = []
        at, here, go = node, node, way
        along: list[tuple[Point, Point]] = []
        while True:
            length = drawing.step * UNIT * math.hypot(*go)
            route.append((list(go), length, drawing.bore(here, go)))
            along += [
                (ahead(tuple(drawing.step * x for x in here), go, k), go)  # type: ignore[arg-type]
                for k in range(drawing.step)
            ]
            here = ahead(here, go)
            came = back(go)
            if (here, came) not in partner:
                break
            go = partner[here, came]
            what = drawing.at.get(here, "tee")
            if what == "tee":
                kind = "tee" if all(abs(turn(a, b)) > math.radians(46) for a in drawing.legs[here]
                                    for b in drawing.legs[here] if a != b) else "wye"  # fmt: skip
                route.append((kind, {"id": f"{here}"}))
            elif what == "cap":
                route.append(("cap", {"id": f"{here}", "faces": drawing.faces[here]}))
            elif what != "joint":
                route.append((what, {"id": f"{here}"}))
        laid |= {(node, way), (here, came)}

        def end(point: Point) -> str:
            what = drawing.at.get(point, "tee")
            return what if what in ("plug", "open air") else f"{what} {point}"

        place = tuple(drawing.step * UNIT * x for x in at)
        lines.append(walk(name, end(node), route, end(here), at=place, pipe=BORE))  # type: ignore[arg-type]
        cells[name] = along
    count = sum(len(legs) for legs in drawing.legs.values()) // 2 * drawing.step
    if not lines or sum(len(along) for along in cells.values()) != count:
        return None
    made = layout(*lines, rods=[tool])
    # A cap between two bores has its opening made to the wider one here.
    return replace(made, accesses=tuple(replace(access, bore=BORE.bore) for access in made.accesses)), cells


def by_line(
    found: dict[frozenset[Point], list[Interval]], cells: dict[str, list[tuple[Point, Point]]]
) -> dict[str, Intervals]:
    out = {}
    for name, along in cells.items():
        pieces, so_far = [], 0.0
        for here, way in along:
            there = ahead(here, way)
            size = UNIT * math.hypot(*way)
            for low, high in found.get(frozenset((here, there)), []):
                pieces.append(
                    (so_far + low, so_far + high) if here < there else (so_far + size - high, so_far + size - low)
                )
            so_far += size
        # Cells are summed one by one, so their ends differ by rounding; a nanometre is not a gap.
        out[name] = union((low - 1e-9, high + 1e-9) for low, high in pieces)
    return out


def loops(drawing: Drawing) -> int:
    edges = sum(len(legs) for legs in drawing.legs.values()) // 2
    return edges - len(drawing.legs) + 1


TOOLS = [
    rod(length, bend, turns)
    for length in (0.6, 1.0, 1.75, 3.1, 8.0)
    for bend, turns in ((22.5, 45), (45, 90), (90, 90), (90, 270), (135, 360), (95, 3600))
]


@pytest.mark.parametrize("diagonal", [False, True], ids=["square", "with diagonals"])
def test_reach_equals_dumb_stepping_on_random_pipework(diagonal: bool) -> None:
    dice = random.Random(20 + diagonal)
    seen: Counter[str] = Counter()
    while seen["layouts"] < 1000:
        drawing = draw(dice, diagonal)
        tool = dice.choice(TOOLS)
        made = lay(drawing, dice, tool)
        if made is None:
            continue
        plumbing, cells = made
        expected = by_line(brute(drawing, tool), cells)
        got = reach(plumbing, stopping=STOPS)
        for name in cells:
            assert len(got[name]) == len(expected[name]), (drawing, tool, name, got[name], expected[name])
            for mine, other in zip(got[name], expected[name], strict=True):
                assert mine == pytest.approx(other, abs=1e-8), (drawing, tool, name)
        whole = sum(line.length for line in plumbing.lines.values())
        covered = sum(high - low for pieces in got.values() for low, high in pieces)
        seen["layouts"] += 1
        seen["loops"] += loops(drawing) > 0
        seen["two loops"] += loops(drawing) > 1
        seen["tees"] += len(plumbing.tees) > 0
        seen["partly"] += 0.05 * whole < covered < 0.95 * whole
    # The comparison means something only if the sample is varied.
    assert min(seen["loops"], seen["tees"], seen["partly"]) > 250, seen
    assert seen["two loops"] > 50, seen
