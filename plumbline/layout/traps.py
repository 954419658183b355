"""Low points that do not drain, and humps from which air cannot rise.

Both are one question asked of the whole pipework at once, tees included: fill the pipe from each lowest point
and see how far the water must rise before it runs out at an opening or over into pipe that drains. Humps are
the same upside down. Water and air are taken to move freely both ways, so a check or shut valve that holds a
column up is not seen, and neither is the vessel's own water above a pipe's end.
"""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..findings import as_tuple
from .model import Layout, once

__all__ = ["Trap", "air_held", "basins", "trapped"]


@dataclass(frozen=True, slots=True)
class Trap:
    """A low point or hump: its place (`line`, `at` [m], `step`) and its `depth` [m] up to where it runs
    over."""

    line: str
    at: float
    step: int | None
    depth: float


def basins(
    heights: Sequence[float], edges: Sequence[tuple[int, int]], outlets: Sequence[int]
) -> tuple[tuple[int, float], ...]:
    """Find every low point of a network of pipe and how deep the water stands in it.

    Points are taken in rising order, so that pools grow and meet (Kruskal's order on a join tree). A pool
    empties no further than where it first touches an outlet or a pool that drains; where two undrained pools
    meet, the shallower one is done, and the deeper goes on rising.

    Parameters:
        heights: (n,) [m]
        edges: pairs of points that pipe joins, straight in between
        outlets: points where water leaves freely

    Returns:
        (point, depth [m]) for every low point with a depth over zero

    A U with arms of 0.3 and 0.5 m, open at both tops, holds 0.3 m:

    >>> basins([0.3, 0.0, 0.5], [(0, 1), (1, 2)], [0, 2])
    ((1, 0.3),)

    Reference: Carr, Snoeyink and Axen (2003), Comput. Geom. 24, 75–94, for join trees.
    """
    neighbours: list[list[int]] = [[] for _ in heights]
    for a, b in edges:
        neighbours[a].append(b)
        neighbours[b].append(a)
    pool: dict[int, int] = {}
    lowest: dict[int, int] = {}
    drained: dict[int, bool] = {}
    open_points = set(outlets)
    found: list[tuple[int, float]] = []

    def root(point: int) -> int:
        while pool[point] != point:
            pool[point] = pool[pool[point]]
            point = pool[point]
        return point

    def drain(point: int, level: float) -> None:
        if not drained[point]:
            found.append((lowest[point], level - heights[lowest[point]]))
            drained[point] = True

    for point in sorted(range(len(heights)), key=lambda n: (heights[n], n)):
        pool[point], lowest[point], drained[point] = point, point, False
        level = heights[point]
        if point in open_points:
            drain(point, level)
        for other in neighbours[point]:
            if other not in pool:
                continue
            a, b = root(point), root(other)
            if a == b:
                continue
            if drained[a] or drained[b]:
                drain(a, level)
                drain(b, level)
            deep, shallow = sorted((a, b), key=lambda n: (heights[lowest[n]], n))
            if not drained[shallow]:
                found.append((lowest[shallow], level - heights[lowest[shallow]]))
            pool[shallow] = deep
    for point in {root(point) for point in pool}:
        if not drained[point]:
            drain(point, max(heights[n] for n in pool if root(n) == point))
    return tuple(sorted((point, depth) for point, depth in found if depth > 0.0))


@as_tuple
def trapped(layout: Layout, *, air: bool) -> Iterator[Trap]:
    """Find the layout's low points, or with `air` its humps, of any depth. Every access counts as an opening."""
    pipework = _pipework(layout, air=air)
    opened = [pipework.numbers[access.line, _index(layout, access.line, access.step)] for access in layout.accesses]
    sign = -1.0 if air else 1.0
    heights = [sign * height for height in pipework.heights]
    for point, depth in basins(heights, pipework.joints, [*pipework.outlets, *opened]):
        name, index = pipework.places[point]
        line = layout.lines[name]
        near = line.parts[min(index, len(line.parts) - 1)] if line.parts else None
        at = line.parts[index].at if index < len(line.parts) else line.length
        yield Trap(name, at, near.step if near else None, depth)


@once
def air_held(layout: Layout) -> Mapping[tuple[str, int, float], float]:
    """How far the pipe goes down at least on the way from where a part begins to where air can rise out, all caps being shut [m]; by the part's line, its step
    and how far along the line it is [m]. Infinite where no way leads out. So deep a pocket of air may stand there; a hump's top is at a fitting or an end."""
    pipework = _pipework(layout, air=True)
    near: dict[int, list[int]] = defaultdict(list)
    for a, b in pipework.joints:
        near[a].append(b)
        near[b].append(a)
    # The way whose lowest place is the highest, from the openings inwards.
    sills: dict[int, float] = {}
    queue = [(-pipework.heights[point], point) for point in pipework.outlets]
    heapq.heapify(queue)
    while queue:
        sill, point = heapq.heappop(queue)
        if point in sills:
            continue
        sills[point] = -sill
        for other in near[point]:
            heapq.heappush(queue, (max(sill, -pipework.heights[other]), other))
    return {
        (line.name, part.step, part.at): pipework.heights[point] - sills.get(point, -math.inf)
        for line in layout.lines.values()
        for index, part in enumerate(line.parts)
        for point in [pipework.numbers[line.name, index]]
    }


@dataclass(frozen=True, slots=True)
class _Pipework:
    """All places of the walks, numbered: their line and its part, their heights [m], what pipe joins, and where water or air goes out."""

    numbers: Mapping[tuple[str, int], int]
    places: Sequence[tuple[str, int]]
    heights: Sequence[float]
    joints: Sequence[tuple[int, int]]
    outlets: Sequence[int]


def _pipework(layout: Layout, *, air: bool) -> _Pipework:
    """Openings are vessel ends, open air, draws and spray bars; a submersible pump lets water back out, not air; an airlift's riser is open at
    its top."""
    numbers: dict[tuple[str, int], int] = {}
    places: list[tuple[str, int]] = []
    heights: list[float] = []
    for line in layout.lines.values():
        for index in range(len(line.parts) + 1):
            numbers[line.name, index] = len(places)
            places.append((line.name, index))
            place = line.parts[index].start if index < len(line.parts) else line.end.place
            heights.append(place[2])
    joints: list[tuple[int, int]] = []
    outlets: list[int] = []
    pumps: dict[str, int] = {}
    for line in layout.lines.values():
        joints += [(numbers[line.name, n], numbers[line.name, n + 1]) for n in range(len(line.parts))]
        for end, index in ((line.start, 0), (line.end, len(line.parts))):
            point = numbers[line.name, index]
            if end.kind == "tee" and end.name is not None:
                tee = layout.tees[end.name]
                joints.append((point, numbers[tee.line, _index(layout, tee.line, tee.step)]))
                # Lines that meet may miss by the closure tolerance; the tee's own height holds for both.
                heights[point] = heights[joints[-1][1]]
            elif end.kind == "pump" and layout.pumps[end.name or ""].vessel is None:
                joints.append((point, pumps.setdefault(end.name or "", point)))
            elif (
                end.kind in ("vessel", "open air", "draw")
                or (end.kind == "pump" and not air)
                or (end.kind == "pump" and layout.pumps[end.name or ""].airlift is not None)
            ):
                outlets.append(point)
        for index, part in enumerate(line.parts):
            if part.kind == "spray bar":
                outlets += [numbers[line.name, index], numbers[line.name, index + 1]]
    return _Pipework(numbers, places, heights, joints, outlets)


def _index(layout: Layout, line: str, step: int) -> int:
    """The number of the point where a step's fitting stands: 0 for the line's start, the last for its end."""
    parts = layout.lines[line].parts
    return 0 if step == 0 else next((n for n, part in enumerate(parts) if part.step == step), len(parts))
