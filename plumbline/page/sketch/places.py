"""Where everything stands in the picture: runs eased, ends brought to their vessels, heights in order.

Three small linear programs, one an axis. Along east and north each corner has a place; a run keeps its direction, is never
shorter than can be seen, and is drawn as near as may be to its eased length; ends that share a vessel are drawn towards each
other. Heights are warped as a whole, so that what is higher stays higher and what is level stays level.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ...layout.model import Layout, Vector
from .apart import Same, set_apart
from .program import Program
from .skeleton import Corner, Grip, Run, Skeleton, skeleton

__all__ = ["Box", "Placed", "place"]

EASE = 0.6
"""Eased length is L₀·(L/L₀)^0.6 with L₀ the median run: a run ten times as long is drawn four times as long."""

SHORTEST = 0.4
"""Least drawn length, in median runs."""

MINOR = 0.25
"""A run's displacement along an axis counts as a fall or a slant, which may be small, below this share of its length."""

STRETCH = 1.6
"""A vessel's outline grows by at most this many of its half sides to hold an end; beyond, it is drawn a second time."""


@dataclass(frozen=True, slots=True)
class Box:
    """A vessel's outline in the picture: from `low` to `high`, the water at `water`, all in drawn lengths. `again` marks
    a second outline of the same vessel, for ends whose walk does not come out where the first one stands."""

    vessel: str
    low: Vector
    high: Vector
    water: float
    again: bool = False


@dataclass(frozen=True)
class Placed:
    """Everything in space, in drawn lengths of one median run each. `water` is the height at which each vessel's water
    is drawn."""

    skeleton: Skeleton
    points: dict[Corner, Vector]
    boxes: tuple[Box, ...]


def place(
    layout: Layout, *, levels: dict[str, float], to_scale: bool = False, tall: float = 1.0, spread: float = 1.0
) -> Placed:
    """Place a layout for drawing.

    Parameters:
        layout: read and walked.
        levels: where the water stands, by vessel [m above the datum].
        to_scale: keep all lengths; otherwise they are eased.
        tall: heights are drawn larger by this factor.
        spread: ends stand farther from the middle of their vessels by this factor.

    Returns:
        Corners and outlines.
    """
    bones = skeleton(layout)
    ease = _Ease(bones, to_scale)
    heights = _heights(layout, bones, ease, levels)
    heights = replace(heights, drawn=tall * heights.drawn)
    sides = _sides(layout, ease)
    slots = {corner: (spread * x, spread * y) for corner, (x, y) in _slots(bones, sides).items()}
    tops = {
        name: (heights(vessel.base), heights(_rim(vessel.base, vessel.rim, vessel.water)))
        for name, vessel in layout.vessels.items()
    }
    apart: list[tuple[str, str, int, float]] = []
    for _ in range(4):
        plan = [
            _axis(axis, layout, bones, ease, slots, sides, [one for one in apart if one[2] == axis]) for axis in (0, 1)
        ]
        more = _clashes(plan, sides, tops, apart)
        if not more:
            break
        apart += more
    set_apart(layout, bones, plan, sides)
    points = {
        corner: (plan[0][0][corner], plan[1][0][corner], heights(point[2])) for corner, point in bones.points.items()
    }
    boxes = []
    for name, vessel in layout.vessels.items():
        centre = (plan[0][1][name], plan[1][1][name])
        ends = [points[grip.corner] for grip in bones.grips if grip.vessel == name]
        boxes += _boxes(name, centre, sides[name], ends, tops[name], heights(levels.get(name, vessel.level)))
    return Placed(bones, points, tuple(boxes))


def _rim(base: float, rim: float | None, water: float) -> float:
    return base + (rim if rim is not None else 1.15 * water)


class _Ease:
    """Drawn lengths: `unit` [m] is the median run."""

    def __init__(self, bones: Skeleton, to_scale: bool) -> None:
        lengths = sorted(math.hypot(*run.by) for run in bones.runs)
        self.unit = lengths[len(lengths) // 2] if lengths else 1.0
        self.to_scale = to_scale
        self.shortest = 0.0 if to_scale else SHORTEST

    def __call__(self, length: float) -> float:
        share = length / self.unit
        return share if self.to_scale else float(share**EASE)

    def target(self, run: Run, axis: int) -> tuple[float, float]:
        """How long a run is to be drawn along an axis, and its least."""
        whole = math.hypot(*run.by)
        part = abs(run.by[axis])
        least = min(self.shortest, 1.0) * part / whole if part > MINOR * whole else 0.0
        return self(whole) * part / whole, least


def _axis(
    axis: int,
    layout: Layout,
    bones: Skeleton,
    ease: _Ease,
    slots: dict[Corner, tuple[float, float]],
    sides: dict[str, float],
    apart: list[tuple[str, str, int, float]],
) -> tuple[dict[Corner, float], dict[str, float]]:
    """Places along one level axis: of corners, and of the middles of vessels."""
    same: Same[Corner] = Same()
    for tie in bones.ties:
        same.join(*tie)
    for run in bones.runs:
        if abs(run.by[axis]) < 1e-9:
            same.join(run.tail, run.head)
    program = Program()
    for corner in bones.points:
        program.number(("corner", same.of(corner)))
    for run in bones.runs:
        tail, head = ("corner", same.of(run.tail)), ("corner", same.of(run.head))
        if tail != head and abs(run.by[axis]) >= 1e-9:
            target, least = ease.target(run, axis)
            sign = math.copysign(1.0, run.by[axis])
            program.near({head: sign, tail: -sign}, target, least, weight=1000.0 if ease.to_scale else 1.0)
    for grip in bones.grips:
        slot = slots[grip.corner][axis]
        program.pull({("corner", same.of(grip.corner)): 1.0, ("vessel", grip.vessel): -1.0}, slot,
                     free=0.12 * sides[grip.vessel], cost=3.0)  # fmt: skip
    first: tuple[float, float] | None = None
    for vessel in layout.vessels.values():
        if vessel.at is not None:
            first = first or vessel.at
            by = vessel.at[axis] - first[axis]
            program.pull({("vessel", vessel.name): 1.0, "site": -1.0}, math.copysign(ease(abs(by)), by), free=0.0,
                         cost=1000.0 if ease.to_scale else 0.5)  # fmt: skip
    for one, other, _, least in apart:
        program.above({("vessel", other): 1.0, ("vessel", one): -1.0}, least, cost=2.0)
    found = program.solve()
    corners = {corner: found["corner", same.of(corner)] for corner in bones.points}
    return corners, {name: found.get(("vessel", name), 0.0) for name in sides}


def _heights(layout: Layout, bones: Skeleton, ease: _Ease, levels: dict[str, float]) -> _Warp:
    """A rising function from heights [m] to drawn heights."""
    values = [point[2] for point in bones.points.values()]
    walls = []
    for name, vessel in layout.vessels.items():
        top = _rim(vessel.base, vessel.rim, vessel.water)
        walls.append((vessel.base, top))
        values += [vessel.base, vessel.level, levels.get(name, vessel.level), top]
    marks: list[float] = []
    for value in sorted(values):
        if not marks or value > marks[-1] + 1e-6:
            marks.append(value)
    warp = _Warp(np.array(marks), np.array(marks) / ease.unit)
    if ease.to_scale or len(marks) < 2:
        return warp
    program = Program()
    for low, high in pairwise(marks):
        program.at_least({high: 1.0, low: -1.0}, min(0.5 * (high - low) / ease.unit, 0.3 * ease(high - low)))
    for run in bones.runs:
        if abs(run.by[2]) < 1e-6:
            continue
        target, least = ease.target(run, 2)
        low, high = sorted((warp.mark(bones.points[run.tail][2]), warp.mark(bones.points[run.head][2])))
        if low != high:
            program.near({high: 1.0, low: -1.0}, target, least)
    for low, high in walls:
        program.near({warp.mark(high): 1.0, warp.mark(low): -1.0}, max(ease(high - low), 0.5), 0.35)
    found = program.solve()
    return replace(warp, drawn=np.array([found[mark] for mark in marks]))


@dataclass(frozen=True)
class _Warp:
    marks: np.ndarray
    drawn: np.ndarray

    def mark(self, value: float) -> float:
        return float(self.marks[int(np.argmin(np.abs(self.marks - value)))])

    def __call__(self, value: float) -> float:
        low, high = self.marks[0], self.marks[-1]
        if value < low or value > high:
            end = 0 if value < low else -1
            return float(self.drawn[end] + (value - self.marks[end]))
        return float(np.interp(value, self.marks, self.drawn))


def _sides(layout: Layout, ease: _Ease) -> dict[str, float]:
    """Half the drawn side of each vessel, drawn small to leave the pipe in sight; one without an area as large as the middle one of the others."""
    known = {name: 0.5 * ease(math.sqrt(vessel.area)) for name, vessel in layout.vessels.items() if vessel.area}
    middle = sorted(known.values())[len(known) // 2] if known else 0.5
    return {name: min(max(0.75 * known.get(name, middle), 0.3), 0.8) for name in layout.vessels}


def _slots(bones: Skeleton, sides: dict[str, float]) -> dict[Corner, tuple[float, float]]:
    """Where in its vessel each end goes, from the middle: towards the side that its pipe leaves by, ends that leave
    by the same side spread along it."""
    by_side: dict[tuple[str, int, int], list[Grip]] = defaultdict(list)
    for grip in bones.grips:
        by_side[grip.vessel, round(grip.side[0]), round(grip.side[1])].append(grip)
    slots: dict[Corner, tuple[float, float]] = {}
    for (vessel, _, _), grips in by_side.items():
        half = sides[vessel]
        for index, grip in enumerate(grips):
            along = 0.0 if len(grips) == 1 else (index / (len(grips) - 1) - 0.5) * 1.1 * half
            east, north = grip.side
            if east == north == 0.0:
                slots[grip.corner] = (along, 0.25 * half)
            else:
                slots[grip.corner] = (0.5 * half * east - along * north, 0.5 * half * north + along * east)
    return slots


def _clashes(
    plan: list[tuple[dict[Corner, float], dict[str, float]]],
    sides: dict[str, float],
    tops: dict[str, tuple[float, float]],
    known: list[tuple[str, str, int, float]],
) -> list[tuple[str, str, int, float]]:
    """Vessels that would stand in each other, each pair with the axis along which to part them."""
    out = []
    names = list(sides)
    told = {frozenset(one[:2]) for one in known}
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            need = sides[one] + sides[other] + 0.25
            gaps = [plan[axis][1][other] - plan[axis][1][one] for axis in (0, 1)]
            stacked = tops[one][1] <= tops[other][0] or tops[other][1] <= tops[one][0]
            if stacked or frozenset((one, other)) in told or max(map(abs, gaps)) >= need - 1e-6:
                continue
            axis = 0 if abs(gaps[0]) >= abs(gaps[1]) else 1
            out.append((one, other, axis, need) if gaps[axis] >= 0.0 else (other, one, axis, need))
    return out


def _boxes(
    name: str, centre: tuple[float, float], half: float, ends: list[Vector], top: tuple[float, float], water: float
) -> list[Box]:
    """The vessel's outline, grown to hold the ends near it, and further ones where ends come out elsewhere."""
    reach = half * (1.0 + STRETCH)
    near = [end for end in ends if max(abs(end[0] - centre[0]), abs(end[1] - centre[1])) <= reach]
    far = [end for end in ends if end not in near]
    edge = 0.18

    def outline(middle: tuple[float, float], size: float, held: list[Vector], again: bool) -> Box:
        low = [min([middle[k] - size, *(end[k] - edge for end in held)]) for k in (0, 1)]
        high = [max([middle[k] + size, *(end[k] + edge for end in held)]) for k in (0, 1)]
        return Box(name, (low[0], low[1], top[0]), (high[0], high[1], top[1]), water, again)

    boxes = [outline(centre, half, near, again=False)]
    while far:
        first = far[0]
        group = [end for end in far if max(abs(end[0] - first[0]), abs(end[1] - first[1])) <= half]
        far = [end for end in far if end not in group]
        boxes.append(outline((first[0], first[1]), 0.5 * half, group, again=True))
    return boxes
