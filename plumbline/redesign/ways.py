"""The ways that pipe laid anew can run: one riser, one straight main and short spurs to several ends, or the way with the fewest corners to one.

That is the fewest corners, then the least pipe, between two places with given headings, clear of vessels. Pipe runs along the site's axes. The grid is
that of the sensible planes: those through the two ends, and through the corners of the ways that exist. A state is a place and the heading that pipe comes
to it with; Dijkstra's search goes from state to state, a corner costing what it is worth in pipe.

Reference: Dijkstra (1959), Numerische Mathematik 1, 269–271 (from memory).
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import count, pairwise

from ..layout.model import Layout, Line, Vector
from ..layout.words import DIRECTIONS

__all__ = [
    "CLEAR",
    "CORNER",
    "SLOPE",
    "STUB",
    "Box",
    "Spread",
    "Target",
    "across",
    "beside",
    "bodies",
    "both_ways",
    "falling",
    "hits",
    "level_of",
    "measured",
    "measured_in_all",
    "on",
    "shortest_way",
    "spread",
    "way_round",
    "worth",
    "worth_of",
]

Box = tuple[Vector, Vector]
"""A body that pipe keeps clear of: its least and its greatest corner [m]."""

CORNER = 1.5
"""What a corner is worth in metres of pipe: a plumber walks so much further to save one (common practice, no source)."""

CLEAR = 0.02
"""Pipe's axis keeps so far from a body [m] besides its own radius."""

SAME = 1e-6


def bodies(layout: Layout, leave_out: Iterable[str] = ()) -> tuple[Box, ...]:
    """What the file says is to be kept clear, and the vessels whose place in plan and area it gives, as boxes from their floor to their rim; those left out
    are where the line ends."""
    out = [*layout.keep_clear.values()]
    for name, vessel in layout.vessels.items():
        if vessel.at is None or vessel.area is None or name in set(leave_out):
            continue
        half = math.sqrt(vessel.area) / 2.0
        east, north = vessel.at
        top = vessel.base + (vessel.rim if vessel.rim is not None else vessel.water)
        out.append(((east - half, north - half, vessel.base), (east + half, north + half, top)))
    return tuple(out)


def shortest_way(
    start: Vector,
    leaves: Vector,
    end: Vector,
    comes: Vector,
    planes: Sequence[Vector],
    blocks: Sequence[Box] = (),
    *,
    radius: float = 0.0,
    corner: float = CORNER,
) -> tuple[Vector, ...] | None:
    """Find the places where pipe turns, the two ends included [m]; None where there is no way on the grid.

    Parameters:
        leaves, comes: the headings at its two ends.
        planes: places whose planes pipe may run in besides those of the ends.
        radius: of the pipe [m].
        corner: what a corner is worth [m].

    >>> shortest_way((0, 0, 0), (0, 0, 1), (1, 0, 2), (1, 0, 0), ())
    ((0, 0, 0), (0, 0, 2), (1, 0, 2))
    """
    axes = [sorted({start[axis], end[axis], *(place[axis] for place in planes)}) for axis in range(3)]
    axes = [[value for n, value in enumerate(values) if n == 0 or value - values[n - 1] > SAME] for values in axes]

    def index(place: Vector) -> tuple[int, ...]:
        return tuple(min(range(len(a)), key=lambda n: abs(a[n] - x)) for a, x in zip(axes, place, strict=True))

    def place(at: tuple[int, ...]) -> Vector:
        return (axes[0][at[0]], axes[1][at[1]], axes[2][at[2]])

    first, goal, order = index(start), index(end), count()
    todo: list[tuple[float, int, tuple[int, ...], Vector, tuple[Vector, ...]]] = [
        (0.0, next(order), first, leaves, (start,))
    ]
    seen: set[tuple[tuple[int, ...], Vector]] = set()
    while todo:
        cost, _, at, heading, corners = heapq.heappop(todo)
        if (at, heading) in seen:
            continue
        seen.add((at, heading))
        if at == goal and _along(heading, comes) > 0:
            return (*corners, end)
        for way in DIRECTIONS.values():
            goes = _along(way, heading)
            if goes < 0 or (goes == 0 and at == first):
                continue
            to = tuple(n + round(step) for n, step in zip(at, way, strict=True))
            if not all(0 <= n < len(values) for n, values in zip(to, axes, strict=True)):
                continue
            here, there = place(at), place(to)
            if any(hits(here, there, box, radius + CLEAR) for box in blocks):
                continue
            turns = (*corners, here) if goes == 0 else corners
            dearer = cost + math.dist(here, there) + (corner if goes == 0 else 0.0)
            heapq.heappush(todo, (dearer, next(order), to, way, turns))
    return None


def _along(a: Vector, b: Vector) -> int:
    """1 where two headings are the same, −1 where they are opposite, else 0."""
    return next((sign for sign in (1, -1) if all(abs(x - sign * y) < 1e-3 for x, y in zip(a, b, strict=True))), 0)


def hits(a: Vector, b: Vector, box: Box, clear: float) -> bool:
    """Whether a run along an axis comes nearer to a box than `clear`."""
    return all(
        max(min(a[n], b[n]), box[0][n] - clear + SAME) < min(max(a[n], b[n]), box[1][n] + clear - SAME)
        or (abs(a[n] - b[n]) < SAME and box[0][n] - clear + SAME < a[n] < box[1][n] + clear - SAME)
        for n in range(3)
    )


SLOPE = 1.1
"""Drains are laid to so much of the limit `least fall`, so that a saw's width takes nothing from it."""

STUB = 0.15
"""Pipe beyond the last tee of a main to its cap, out of a wall before the first turn, and between two ends in one place [m]."""


@dataclass(frozen=True)
class Target:
    """Where a spur goes: the `vessel`, the `place` of the end, the `flow` it is sized for [m³/s], the `line` that ends there now and how the
    file says that end. One in the air may end at any height from `over` on [m], over the vessel's rim; None for others. One that comes over
    the vessel's rim and not through its wall has to pass over `rim` [m]."""

    vessel: str
    place: Vector
    flow: float
    line: Line
    said: str
    over: float | None
    rim: float | None = None


@dataclass(frozen=True)
class Spread:
    """A way to serve some targets: the `trunk` up to where the main begins, the targets in `order` along it, and the `stations` on it
    beside each; `worth` what it costs in metres of pipe."""

    trunk: tuple[Vector, ...]
    order: tuple[Target, ...]
    stations: tuple[Vector, ...]
    worth: float

    def hits(self, blocks: Sequence[Box]) -> bool:
        """Whether some of it would go through a vessel that it does not end in."""
        runs = [*pairwise((*self.trunk, *self.stations))]
        for target, station in zip(self.order, self.stations, strict=True):
            runs += pairwise((station, *across(station, target.place)))
        return any(hits(a, b, box, CLEAR) for a, b in runs for box in blocks)


def falling(level: Sequence[Vector], foot: float, fall: float, grid: float) -> list[Vector]:
    """Give a level way a steady fall [m/m] to its end at the height `foot`, each leg's to the next mark of a tape [m], so that rounding takes nothing from it.

    >>> falling([(0.0, 0.0, 5.0), (1.0, 0.0, 5.0), (1.0, 2.0, 5.0)], 0.5, 0.0204, 0.001)
    [(0.0, 0.0, 0.562), (1.0, 0.0, 0.541), (1.0, 2.0, 0.5)]
    """
    marks, places = [0], [level[-1]]
    for a, b in pairwise(reversed(level)):
        marks.insert(0, marks[0] + math.ceil(fall * math.dist(a[:2], b[:2]) / grid - 1e-6))
        places.insert(0, b)
    return [(east, north, round(foot + mark * grid, 9)) for (east, north, _), mark in zip(places, marks, strict=True)]


def way_round(
    start: Vector, leaves: Sequence[Vector], end: Vector, comes: Sequence[Vector], blocks: Sequence[Box], bore: float
) -> tuple[Vector, ...] | None:
    """The way with the fewest corners and the least pipe, clear of vessels, by any of some headings at either end."""
    if math.dist(start, end) < 0.03:
        return (start,)
    edge = bore / 2.0 + 0.05
    # It may turn two hands on from each end, too.
    ends = [(start, way, 1.0) for way in leaves] + [(end, way, -1.0) for way in comes]
    corners = [on(place, way, 2.0 * STUB * side) for place, way, side in ends]
    for low, high in blocks:
        corners += [(low[0] - edge, low[1] - edge, end[2]), (high[0] + edge, high[1] + edge, end[2])]
    found = [
        way
        for out in leaves
        for into in comes
        if (way := shortest_way(start, out, end, into, corners, blocks, radius=bore / 2.0)) is not None
    ]
    return min(found, key=worth, default=None)


def on(place: Vector, heading: Vector, far: float) -> Vector:
    """A place so far on along a heading."""
    east, north, up = (p + far * h for p, h in zip(place, heading, strict=True))
    return (east, north, up)


def worth(way: Sequence[Vector]) -> float:
    """What a way costs in metres of pipe, its corners included."""
    return sum(math.dist(a, b) for a, b in pairwise(way)) + CORNER * (len(way) - 2)


def worth_of(line: Line, kept: int = 0) -> float:
    """The same of a line as it is, behind some steps that stay."""
    length, corners = measured(line, kept)
    return length + CORNER * corners


def measured(line: Line, kept: int = 0) -> tuple[float, int]:
    """The length [m] and the corners of a line, behind some steps that stay."""
    rest = [part for part in line.parts if part.step > kept]
    corners = sum(1 for part in rest if part.turn > math.radians(5.0) and not part.is_pipe)
    return sum(part.length for part in rest), corners


def measured_in_all(layout: Layout) -> tuple[float, int]:
    """The length [m] and the corners of all lines."""
    lengths, corners = zip(*(measured(line) for line in layout.lines.values()), strict=True)
    return sum(lengths), sum(corners)


def beside(begin: Vector, targets: Sequence[Target], cross: int) -> list[float]:
    """The places across its own way that a main can run in: pipe is least where it passes an end, or as near to one as a spur has room."""
    wide = [target.place[cross] + side * 2.0 * STUB for target in targets for side in (-1.0, 0.0, 1.0)]
    return sorted({begin[cross], *wide})


def level_of(begin: Vector, targets: Sequence[Target]) -> float:
    """How high a main runs [m]: over every rim, so that it stays under pressure; from a higher end, those that lie lower would pull air in."""
    least = [target.rim for target in targets if target.rim is not None]
    return max(begin[2] + 0.3, *(least or [min(target.place[2] for target in targets)]))


def spread(begin: Vector, targets: Sequence[Target], axis: int, side: float, height: float) -> Spread | None:
    """A main along an axis, at a place across it and a height; None where it would have to run both ways, or a spur has no room."""
    cross = 1 - axis
    targets = [
        target if target.over is None else replace(target, place=(*target.place[:2], height)) for target in targets
    ]
    trunk: list[Vector] = [begin, (begin[0], begin[1], height)]
    if abs(side - begin[cross]) > 0.03:
        trunk.append(_at(axis, begin[axis], side, height))
    offsets = [target.place[axis] - begin[axis] for target in targets]
    if min(offsets) < -0.03 and max(offsets) > 0.03:
        return None
    order = sorted(targets, key=lambda target: abs(target.place[axis] - begin[axis]))
    way = 1.0 if max(offsets) > 0.03 else -1.0
    stations: list[Vector] = []
    before = 0.0
    for number, target in enumerate(order):
        spare = abs(target.place[cross] - side) + abs(height - target.place[2])
        if number + 1 < len(order) and spare < 2.0 * STUB:
            return None
        before = max(abs(target.place[axis] - begin[axis]), before + STUB)
        stations.append(_at(axis, begin[axis] + way * before, side, height))
    # An end follows its tee along the main: where in the vessel the water comes in is no matter to a hand's breadth.
    moved = [
        replace(target, place=_at(axis, station[axis], target.place[cross], target.place[2]))
        for target, station in zip(order, stations, strict=True)
    ]
    length = sum(math.dist(a, b) for a, b in pairwise(trunk)) + before
    corners = len(trunk) - 1
    for target, station in zip(moved, stations, strict=True):
        legs = across(station, target.place)
        length += sum(math.dist(a, b) for a, b in zip((station, *legs), legs, strict=False))
        corners += len(legs) - (0 if target is moved[-1] else 1)
    return Spread(tuple(trunk), tuple(moved), tuple(stations), length + CORNER * corners)


def both_ways(begin: Vector, targets: Sequence[Target], axis: int, side: float, height: float) -> list[Spread]:
    """A main that goes both ways from the end of one trunk, as two; none where it goes one way, or a spur has no room."""
    ahead = [target for target in targets if target.place[axis] > begin[axis]]
    behind = [target for target in targets if target not in ahead]
    if not ahead or not behind:
        return []
    found = [spread(begin, some, axis, side, height) for some in (ahead, behind)]
    return sorted((way for way in found if way is not None), key=lambda way: -len(way.order)) if all(found) else []


def _at(axis: int, along: float, across: float, height: float) -> Vector:
    return (along, across, height) if axis == 0 else (across, along, height)


def across(station: Vector, place: Vector) -> tuple[Vector, ...]:
    """From a place on the main level across to over or under an end, and straight to it."""
    over = (place[0], place[1], station[2])
    return tuple(one for one, last in ((over, station), (place, over)) if math.dist(one, last) > 1e-6)
