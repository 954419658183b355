"""Traps: low points that cannot be drained, and humps from which air cannot leave.

Both are one question asked of the whole pipework at once, tees included: fill the pipe from each lowest point
and see how far the water must rise before it runs out at an opening or over into pipe that drains. Humps are
the same upside down. Water and air are taken to move freely both ways, so a check or shut valve that holds a
column up is not seen, and neither is the vessel's own water above a pipe's end.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..catalogued import finding
from ..findings import Finding, as_tuple
from ..hydraulics.flows import Flows
from ..layout.model import Layout, Stretch
from ..units import show
from ..water import GRAVITY
from .shear import settles, speed

__all__ = ["Trap", "basins", "humps", "low_points", "trapped"]


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
    """Find the layout's low points, or with `air` its humps, of any depth.

    Openings are vessel ends, open air, draws, spray bars and every access; a submersible pump lets water back
    out, not air; an airlift's riser is open at its top.
    """
    sign = -1.0 if air else 1.0
    numbers: dict[tuple[str, int], int] = {}
    places: list[tuple[str, int]] = []
    heights: list[float] = []
    for line in layout.lines.values():
        for index in range(len(line.parts) + 1):
            numbers[line.name, index] = len(places)
            places.append((line.name, index))
            place = line.parts[index].start if index < len(line.parts) else line.end.place
            heights.append(sign * place[2])
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
    outlets += [numbers[access.line, _index(layout, access.line, access.step)] for access in layout.accesses]
    for point, depth in basins(heights, joints, outlets):
        name, index = places[point]
        line = layout.lines[name]
        near = line.parts[min(index, len(line.parts) - 1)] if line.parts else None
        at = line.parts[index].at if index < len(line.parts) else line.length
        yield Trap(name, at, near.step if near else None, depth)


@as_tuple
def low_points(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Report low points deeper than the limit `low point depth` without a drain: a warning where the water is
    slower than `self-cleansing speed`, advice elsewhere."""
    for trap in trapped(layout, air=False):
        if trap.depth <= layout.limits["low point depth"]:
            continue
        velocity, _ = _flow_at(layout, flows, trap)
        slow = settles(velocity, layout.limits)
        after = "and solids settle in it" if slow else "though the flow keeps it clean while the pump runs"
        yield finding(
            "low-point",
            f"'{trap.line}' has a low point{_at(layout, trap)} that holds "
            f"{show(trap.depth, 'size' if trap.depth < 0.1 else 'length', layout.units)} of water with no drain, {after}.",
            f"put a drain valve or a cap{_at(layout, trap)}, or lay the pipe with a steady fall",
            level="warn" if slow else "advice",
            line=trap.line,
            step=trap.step,
            case="usual" if slow else "milder",
            start=trap.at,
            stop=trap.at,
        )


@as_tuple
def humps(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Report humps higher than the limit `hump height` without a vent, unless the stream clears them of air.

    With F = V/√(gD): nothing from `clear speed for air` on, advice from `escape speed for air`, a warning
    below.
    """
    for trap in trapped(layout, air=True):
        if trap.depth <= layout.limits["hump height"]:
            continue
        velocity, bore = _flow_at(layout, flows, trap)
        number = velocity / math.sqrt(GRAVITY * bore)
        if number >= layout.limits["clear speed for air"]:
            continue
        stays = number < layout.limits["escape speed for air"]
        does = "too slow to carry any off" if stays else "fast enough to carry some of it off"
        clearing = layout.limits["clear speed for air"] * math.sqrt(GRAVITY * bore)
        yield finding(
            "hump",
            f"Air gathers in a hump of '{trap.line}'{_at(layout, trap)}, "
            f"{show(trap.depth, 'size' if trap.depth < 0.1 else 'length', layout.units)} high: the water at "
            f"{show(velocity, 'speed', layout.units)} is {does} "
            f"({show(clearing, 'speed', layout.units)} clears it).",
            f"put a vent or a cap at its top{_at(layout, trap)}",
            level="warn" if stays else "advice",
            line=trap.line,
            step=trap.step,
            case="usual" if stays else "milder",
            start=trap.at,
            stop=trap.at,
        )


def _index(layout: Layout, line: str, step: int) -> int:
    """The number of the point where a step's fitting stands: 0 for the line's start, the last for its end."""
    parts = layout.lines[line].parts
    return 0 if step == 0 else next((n for n, part in enumerate(parts) if part.step == step), len(parts))


def _at(layout: Layout, trap: Trap) -> str:
    if trap.step is None:
        return ""
    part = [part for part in layout.lines[trap.line].parts if part.step == trap.step][-1]
    return f" at step {trap.step}" + ("" if part.is_pipe else f" ({part.kind})")


def _flow_at(layout: Layout, flows: Flows, trap: Trap) -> tuple[float, float]:
    """Speed [m/s] and bore [m] of the pipe at a trap; the slower where two stretches meet there."""
    near: list[tuple[float, float]] = []
    for stretch in layout.stretches:
        if stretch.line == trap.line and stretch.start - 1e-9 <= trap.at <= stretch.stop + 1e-9:
            bore = _bore_at(stretch, trap.at)
            near.append((speed(flows.stretches[stretch.id].flow, bore), bore))
    return min(near)


def _bore_at(stretch: Stretch, at: float) -> float:
    runs = [part for part in stretch.parts if part.is_pipe and part.at - 1e-9 <= at <= part.at + part.length + 1e-9]
    return runs[0].pipe.bore if runs else stretch.bore
