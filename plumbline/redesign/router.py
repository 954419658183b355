"""The way of a line laid afresh: the fewest corners, then the least pipe, between two places with given headings, clear of vessels.

Pipe runs along the site's axes. The grid is that of the sensible planes: those through the two ends, and through the corners of the ways that exist. A
state is a place and the heading that pipe comes to it with; Dijkstra's search goes from state to state, a corner costing what it is worth in
pipe.

Reference: Dijkstra (1959), Numerische Mathematik 1, 269–271 (from memory).
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Sequence
from itertools import count

from ..layout.model import Layout, Vector
from ..layout.words import DIRECTIONS

__all__ = ["CLEAR", "CORNER", "Box", "bodies", "hits", "shortest_way"]

Box = tuple[Vector, Vector]
"""A body that pipe keeps clear of: its least and its greatest corner [m]."""

CORNER = 1.5
"""What a corner is worth in metres of pipe: a plumber walks so much further to save one (common practice, no source)."""

CLEAR = 0.02
"""Pipe's axis keeps so far from a body [m] besides its own radius."""

SAME = 1e-6
WAYS: tuple[Vector, ...] = tuple(DIRECTIONS.values())


def bodies(layout: Layout, leave_out: Iterable[str] = ()) -> tuple[Box, ...]:
    """The vessels whose place in plan and area the file gives, as boxes from their floor to their rim; those left out are where the line ends."""
    out = []
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
    """Find the places where pipe turns, the two ends included; None where there is no way on the grid.

    Parameters:
        start, end: where the pipe begins and ends [m].
        leaves, comes: its headings there.
        planes: places whose planes pipe may run in besides those of the ends.
        blocks: bodies to keep clear of.
        radius: of the pipe [m].
        corner: what a corner is worth [m].

    >>> shortest_way((0, 0, 0), (0, 0, 1), (1, 0, 2), (1, 0, 0), ())
    ((0, 0, 0), (0, 0, 2), (1, 0, 2))
    """
    axes = [sorted({start[axis], end[axis], *(place[axis] for place in planes)}) for axis in range(3)]
    axes = [[value for n, value in enumerate(values) if n == 0 or value - values[n - 1] > SAME] for values in axes]

    def index(place: Vector) -> tuple[int, int, int]:
        at = [min(range(len(axes[axis])), key=lambda n: abs(axes[axis][n] - place[axis])) for axis in range(3)]
        return (at[0], at[1], at[2])

    def place(at: tuple[int, int, int]) -> Vector:
        return (axes[0][at[0]], axes[1][at[1]], axes[2][at[2]])

    goal, order = index(end), count()
    first = (index(start), leaves)
    todo: list[tuple[float, int, tuple[tuple[int, int, int], Vector], tuple[tuple[int, int, int], Vector] | None]] = [
        (0.0, next(order), first, None)
    ]
    before: dict[tuple[tuple[int, int, int], Vector], tuple[tuple[int, int, int], Vector] | None] = {}
    while todo:
        cost, _, state, last = heapq.heappop(todo)
        if state in before:
            continue
        before[state] = last
        at, heading = state
        if at == goal and _same(heading, comes):
            return _corners(start, end, [place(one[0]) for one in _back(before, state)])
        for way in WAYS:
            turned = not _same(way, heading)
            if _opposite(way, heading) or (turned and last is None):
                continue
            axis = next(n for n in range(3) if way[n])
            to = list(at)
            to[axis] += 1 if way[axis] > 0 else -1
            if not 0 <= to[axis] < len(axes[axis]):
                continue
            there = (to[0], to[1], to[2])
            if any(hits(place(at), place(there), box, radius + CLEAR) for box in blocks):
                continue
            step = abs(axes[axis][there[axis]] - axes[axis][at[axis]])
            heapq.heappush(todo, (cost + step + (corner if turned else 0.0), next(order), (there, way), state))
    return None


def _back(
    before: dict[tuple[tuple[int, int, int], Vector], tuple[tuple[int, int, int], Vector] | None],
    state: tuple[tuple[int, int, int], Vector],
) -> list[tuple[tuple[int, int, int], Vector]]:
    out = [state]
    while (last := before[out[-1]]) is not None:
        out.append(last)
    return out[::-1]


def _corners(start: Vector, end: Vector, places: Sequence[Vector]) -> tuple[Vector, ...]:
    """The ends and the places between them where the way turns."""
    kept = [start]
    for last, here, on in zip(places, places[1:], places[2:], strict=False):
        a = [here[n] - last[n] for n in range(3)]
        b = [on[n] - here[n] for n in range(3)]
        if sum(x * y for x, y in zip(a, b, strict=True)) < SAME * SAME:
            kept.append(here)
    return (*kept, end)


def _same(a: Vector, b: Vector) -> bool:
    return all(abs(x - y) < 1e-3 for x, y in zip(a, b, strict=True))


def _opposite(a: Vector, b: Vector) -> bool:
    return all(abs(x + y) < 1e-3 for x, y in zip(a, b, strict=True))


def hits(a: Vector, b: Vector, box: Box, clear: float) -> bool:
    """Whether a run along an axis comes nearer to a box than `clear`."""
    return all(
        max(min(a[n], b[n]), box[0][n] - clear + SAME) < min(max(a[n], b[n]), box[1][n] + clear - SAME)
        or (abs(a[n] - b[n]) < SAME and box[0][n] - clear + SAME < a[n] < box[1][n] + clear - SAME)
        for n in range(3)
    )
