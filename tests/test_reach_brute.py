"""Reach against a second, independent method: pipework as unit cells of a grid, and a rod's tip that steps
from cell to cell by what stands straight ahead of it. The grid knows nothing of lines, parts or tees; the
layout that is compared with it is made from the same drawing by laying lines through it at random.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import dataclass, field, replace
from itertools import pairwise, product
from typing import Any

import numpy as np
import pytest
from builders import layout, rod, walk

from plumbline.layout.model import Layout, Pipe, Rod
from plumbline.upkeep.intervals import Interval, Intervals, subtract, union
from plumbline.upkeep.reach import pushes, reach
from plumbline.upkeep.track import build_track

UNIT = 0.25
BORE, NARROW, WIDE = Pipe("26", 0.026, 0.0), Pipe("15", 0.015, 0.0), Pipe("52", 0.052, 0.0)
WAYS = [way for way in product((-1, 0, 1), repeat=3) if any(way) and not all(way)]
Point = tuple[int, int, int]
STOPS: frozenset[str] = frozenset()


def ahead(point: Point, way: Point, times: int = 1) -> Point:
    return tuple(p + times * w for p, w in zip(point, way, strict=True))  # type: ignore[return-value]


def back(way: Point) -> Point:
    return tuple(-w for w in way)  # type: ignore[return-value]


def turn(a: Point, b: Point) -> float:
    cosine = sum(x * y for x, y in zip(a, b, strict=True)) / math.hypot(*a) / math.hypot(*b)
    return math.acos(max(-1.0, min(1.0, cosine)))


@dataclass
class Drawing:
    """Pipe on a grid. `legs` are the ways that pipe leaves each node; `pipes` the edges of other bore; `at` what stands at a
    node; `faces` which way a cap opens, `room` what is stated of the space in front. Nodes are `step` cells apart."""

    step: int
    legs: dict[Point, set[Point]] = field(default_factory=dict)
    pipes: dict[frozenset[Point], Pipe] = field(default_factory=dict)
    at: dict[Point, str] = field(default_factory=dict)
    faces: dict[Point, Point] = field(default_factory=dict)
    room: dict[Point, float] = field(default_factory=dict)

    def bore(self, node: Point, way: Point) -> Pipe:
        return self.pipes.get(frozenset((node, ahead(node, way))), BORE)


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
            other_bore = dice.random()
            if other_bore < 0.2:
                drawing.pipes[frozenset((node, other))] = NARROW if other_bore < 0.05 else WIDE
    for node, legs in drawing.legs.items():
        if len(legs) == 1:
            drawing.at[node] = dice.choice(("cap", "plug", "vessel", "open air"))
        elif len(legs) == 2:
            a, b = sorted(legs)
            straight = a == back(b)
            # There is no capped fitting for a corner of more than 90°.
            corner = ("elbow", "elbow", "elbow", "cap") if turn(back(a), b) < math.radians(91) else ("elbow",)
            drawing.at[node] = dice.choice(
                ("joint", "joint", "cap", "union", "ball valve", "open valve") if straight else corner
            )
            if drawing.at[node] == "cap":
                free = [way for way in WAYS if way not in legs]
                square = [way for way in free if all(abs(turn(way, leg) - math.pi / 2) < 1e-6 for leg in legs)]
                leaning = [way for way in free if min(turn(way, leg) for leg in legs) > math.radians(44)]
                in_line = [back(leg) for leg in legs]
                drawing.faces[node] = dice.choice(square + leaning if straight else square + in_line)
        if drawing.at.get(node) in ("cap", "open air") and dice.random() < 0.4:
            drawing.room[node] = dice.choice((0.1, 0.3, 1.0))
    return drawing


# The first method: dumb stepping.


@dataclass
class Stepped:
    """Cells cleaned, each with the intervals [m] from its lesser end, named by their ends on the fine grid; and for each way
    through a cell from each opening the least length of rod that is in when the brush comes to it."""

    cells: dict[frozenset[Point], list[Interval]] = field(default_factory=dict)
    near: dict[tuple[Point, Point, Point], float] = field(default_factory=dict)


def free(drawing: Drawing, node: Point, most: float) -> float:
    """The space in front of an opening, up to `most`: as stated, else by feeling along the way out of it in steps of a
    millimetre for pipe that is nearer to it than its radius and the opening's."""
    if node in drawing.room:
        return drawing.room[node]
    out = drawing.faces[node] if node in drawing.faces else back(next(iter(drawing.legs[node])))
    scale = UNIT * drawing.step
    way = np.array(out) / math.hypot(*out)
    along = np.arange(0.001, most, 0.001)
    points = np.array(node) * scale + along[:, None] * way
    first = most
    for other, legs in drawing.legs.items():
        for leg in legs:
            if node in (other, ahead(other, leg)):
                continue
            start, run = np.array(other) * scale, np.array(leg) * scale
            share = np.clip(((points - start) @ run) / (run @ run), 0.0, 1.0)
            far = np.linalg.norm(points - start - share[:, None] * run, axis=1)
            near = np.nonzero(far <= drawing.bore(other, leg).bore / 2 + WIDE.bore / 2)[0]
            if len(near):
                first = min(first, float(along[near[0]]))
    return first


def brute(drawing: Drawing, tool: Rod) -> Stepped:
    """Feel the way for one rod or cord from every opening, cell by cell."""
    n = drawing.step
    fine: dict[Point, set[Point]] = {}
    bores: dict[frozenset[Point], float] = {}
    for node, legs in drawing.legs.items():
        for way in legs:
            for k in range(n):
                a = ahead(tuple(n * x for x in node), way, k)  # type: ignore[arg-type]
                b = ahead(a, way)
                fine.setdefault(a, set()).add(way)
                fine.setdefault(b, set()).add(back(way))
                bores[frozenset((a, b))] = drawing.bore(node, way).bore
    at = {tuple(n * x for x in node): what for node, what in drawing.at.items()}
    faces = {tuple(n * x for x in node): way for node, way in drawing.faces.items()}
    least = tool.bore_min if tool.passes is None else tool.passes
    stepped = Stepped()

    def opens(node: Point) -> bool:
        what = drawing.at.get(node)
        return what == "union" or (what in ("cap", "open air") and free(drawing, node, 0.6) >= (tool.room or 0.457))

    doors = {tuple(n * x for x in node): drawing.at[node] for node in drawing.at if opens(node)}

    def cover(cell: frozenset[Point], here: Point, there: Point, done: float, size: float) -> None:
        if tool.bore_min <= bores[cell] <= tool.bore_max:
            piece = (0.0, done) if here < there else (size - done, size)
            stepped.cells.setdefault(cell, []).append(piece)

    def step(door: Point, here: Point, way: Point, done: float, turned: float, path: tuple[Point, ...]) -> None:
        there = ahead(here, way)
        cell = frozenset((here, there))
        if bores[cell] < least:
            return
        size, left = UNIT * math.hypot(*way), tool.length - done
        if tool.cord:
            if left >= size - 1e-9 and there not in path:
                pull(door, there, way, done + size, turned, (*path, there))
            return
        cover(cell, here, there, min(left, size), size)
        if tool.bore_min <= bores[cell] <= tool.bore_max:
            key = (door, here, way)
            stepped.near[key] = min(stepped.near.get(key, math.inf), done)
        if left > size and there not in path:
            arrive(door, there, way, done + size, turned, (*path, there))

    def turns(here: Point, way: Point, leg: Point, turned: float) -> float | None:
        angle = turn(way, leg)
        return turned + angle if angle <= tool.bend + 1e-6 and turned + angle <= tool.turns + 1e-6 else None

    def arrive(door: Point, here: Point, way: Point, done: float, turned: float, path: tuple[Point, ...]) -> None:
        """A rod's tip at a node: straight on if it can, else wherever it turns to."""
        if at.get(here) == "ball valve" or faces.get(here) == way:
            return
        legs = fine[here] - {back(way)}
        for leg in {way} if way in legs else legs:
            now = turns(here, way, leg, turned)
            if now is not None:
                step(door, here, leg, done, now, path)

    def pull(door: Point, here: Point, way: Point, done: float, turned: float, path: tuple[Point, ...]) -> None:
        """A cord at a node: out of it, where it opens, and on into every leg."""
        if at.get(here) == "ball valve":
            return
        if here in doors:
            out = faces.get(here, way)
            if turns(here, way, out, turned) is not None:
                for a, b in pairwise(path):
                    size = math.dist(a, b) * UNIT
                    cover(frozenset((a, b)), a, b, size, size)
        for leg in fine[here] - {back(way)}:
            now = turns(here, way, leg, turned)
            if now is not None:
                step(door, here, leg, done, now, path)

    for here, what in doors.items():
        if what == "union":
            for way in fine[here]:
                step(here, here, way, 0.0, 0.0, (here,))
            continue
        into = back(faces[here]) if here in faces else next(iter(fine[here]))
        legs = fine[here] if tool.cord or into not in fine[here] else {into}
        for leg in legs:
            now = turns(here, into, leg, 0.0)
            if now is not None:
                step(here, here, leg, 0.0, now, (here,))
    return stepped


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
                kind = (
                    "tee"
                    if all(
                        abs(turn(a, b)) > math.radians(46)
                        for a in drawing.legs[here]
                        for b in drawing.legs[here]
                        if a != b
                    )
                    else "wye"
                )
                route.append((kind, {"id": f"{here}"}))
            elif what == "cap":
                route.append(("cap", {"id": f"{here}", "faces": drawing.faces[here]}))
            elif what in ("ball valve", "open valve"):
                route.append(("ball valve", {"id": f"{here}", "opening": 1.0 if what == "open valve" else 0.5}))
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
    # A cap between two bores has its opening made to the widest here.
    nodes = {f"{node}": node for node in drawing.legs}
    ends = {
        f"{line.name}.{side}": end.place
        for line in made.lines.values()
        for side, end in (("from", line.start), ("to", line.end))
    }
    places = {tuple(round(x / UNIT / drawing.step) for x in place): name for name, place in ends.items()}
    where = {**nodes, **{name: node for node, name in places.items()}}
    doors = tuple(replace(access, bore=WIDE.bore, room=drawing.room.get(where[access.id])) for access in made.accesses)
    return replace(made, accesses=doors), cells


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


def some_tool(dice: random.Random) -> Rod:
    """Any rod or cord; some clean narrower pipe than they go through, some go in where there is little room."""
    tool = dice.choice(TOOLS)
    bores = dice.choice(
        ((0.02, 0.055, None), (0.02, 0.03, None), (0.04, 0.06, None), (0.04, 0.06, 0.02), (0.01, 0.03, None))
    )
    room = dice.choice((None, None, 0.2))
    cord = dice.random() < 0.6
    tool = replace(tool, bore_min=bores[0], bore_max=bores[1], passes=bores[2], room=room, cord=cord)
    if cord:
        # Long and supple, so that a good share gets from one opening to another.
        tool = replace(tool, length=3 * tool.length, bend=max(tool.bend, math.pi / 2), turns=3 * math.pi)
    return tool


def needs(plumbing: Layout, cells: dict[str, list[tuple[Point, Point]]], drawing: Drawing) -> dict:
    """The rod that is in when the brush comes to each cell that it cleans a piece of, by opening and way."""
    doors = {}
    for access in plumbing.accesses:
        doors[access.id] = tuple(round(x / UNIT) for x in access.place)
    found: dict[tuple[Point, Point, Point], float] = {}
    for push in pushes(build_track(plumbing, STOPS)):
        for span in push.spans:
            so_far = 0.0
            for here, way in cells[span.line]:
                size = UNIT * math.hypot(*way)
                piece = span.clip(so_far, so_far + size)
                if piece is not None and piece.stop - piece.start > 1e-8:
                    start, go = (here, way) if span.forward else (ahead(here, way), back(way))
                    key = (doors[push.access], start, go)
                    found[key] = min(found.get(key, math.inf), piece.near)
                so_far += size
    return found


def compare(dice: random.Random, diagonal: bool, seen: Counter[str]) -> None:
    """One random layout, both ways."""
    drawing = draw(dice, diagonal)
    tool = some_tool(dice)
    made = lay(drawing, dice, tool)
    if made is None:
        return
    plumbing, cells = made
    stepped = brute(drawing, tool)
    expected = by_line(stepped.cells, cells)
    got = reach(plumbing, stopping=STOPS)
    for name in cells:
        assert len(got[name]) == len(expected[name]), (drawing, tool, name, got[name], expected[name])
        for mine, other in zip(got[name], expected[name], strict=True):
            assert mine == pytest.approx(other, abs=1e-8), (drawing, tool, name)
    if not tool.cord:
        mine = needs(plumbing, cells, drawing)
        others = {key: near for key, near in stepped.near.items() if near < tool.length - 1e-8}
        assert mine.keys() == others.keys(), (drawing, tool)
        assert all(near == pytest.approx(others[key], abs=1e-8) for key, near in mine.items()), (drawing, tool)
    whole = sum(line.length for line in plumbing.lines.values())
    covered = sum(high - low for pieces in got.values() for low, high in pieces)
    seen["layouts"] += 1
    seen["loops"] += loops(drawing) > 0
    seen["two loops"] += loops(drawing) > 1
    seen["tees"] += len(plumbing.tees) > 0
    seen["partly"] += 0.05 * whole < covered < 0.95 * whole
    seen["cords"] += tool.cord and covered > 0.0
    seen["shut for want of room"] += any(
        what in ("cap", "open air") and free(drawing, node, 0.6) < (tool.room or 0.457)
        for node, what in drawing.at.items()
    )


def compared(seed: int, diagonal: bool, count: int) -> None:
    dice = random.Random(seed + diagonal)
    seen: Counter[str] = Counter()
    while seen["layouts"] < count:
        compare(dice, diagonal, seen)
    # The comparison means something only if the sample is varied.
    assert min(seen["loops"], seen["tees"], seen["partly"]) > 0.15 * count, seen
    assert min(seen["two loops"], seen["cords"], seen["shut for want of room"]) > 0.03 * count, seen


@pytest.mark.second_method
@pytest.mark.slow
@pytest.mark.parametrize("diagonal", [False, True], ids=["square", "with diagonals"])
def test_reach_equals_dumb_stepping_on_random_pipework(diagonal: bool) -> None:
    compared(20, diagonal, 400)


@pytest.mark.second_method
@pytest.mark.slow
@pytest.mark.parametrize("diagonal", [False, True], ids=["square", "with diagonals"])
def test_reach_equals_dumb_stepping_on_thousands_of_layouts(diagonal: bool, request: pytest.FixtureRequest) -> None:
    """With `--pipework N` on so many of each sort. Nine laws of the program, broken one at a time, were all found by the 1,020th; a tenth, that of
    two ways the nearer counts, takes a ring in a rare place, and has a test of its own among those by hand."""
    compared(1000, diagonal, request.config.getoption("--pipework"))


def length_of(found: dict[str, Intervals]) -> float:
    return math.fsum(high - low for pieces in found.values() for low, high in pieces)


@pytest.mark.invariant
@pytest.mark.slow
def test_one_more_opening_or_a_better_rod_never_reaches_less() -> None:
    dice = random.Random(7)
    more = 0
    for _ in range(300):
        drawing = draw(dice, diagonal=dice.random() < 0.5)
        tool = some_tool(dice)
        seed = dice.random()
        made = lay(drawing, random.Random(seed), tool)
        if made is None:
            continue
        before = reach(made[0], stopping=STOPS)
        better = [
            replace(tool, length=tool.length * 1.4),
            replace(tool, turns=tool.turns + 0.8),
            replace(tool, bend=tool.bend + 0.8),
            replace(tool, room=0.05),
            replace(tool, bore_max=tool.bore_max * 2),
            replace(tool, passes=0.01),
        ]
        others = [replace(made[0], rods=(one,)) for one in better] + [replace(made[0], rods=(tool, TOOLS[3]))]
        shut = [node for node, what in drawing.at.items() if what in ("plug", "joint", "vessel")]
        if shut:
            node = dice.choice(shut)
            opened = replace(drawing, at={**drawing.at, node: "union" if drawing.at[node] == "joint" else "open air"})
            other = lay(opened, random.Random(seed), tool)
            assert other is not None
            others.append(other[0])
        for other_layout in others:
            after = reach(other_layout, stopping=STOPS)
            for name, pieces in before.items():
                assert subtract(pieces, after[name], slack=1e-9) == (), (drawing, tool, name)
            more += length_of(after) > length_of(before) + 1e-6
    assert more > 200
