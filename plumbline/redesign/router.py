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
