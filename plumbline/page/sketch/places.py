"""Where everything stands in the picture: runs eased, ends brought to their vessels, heights in order.

Three small linear programs, one an axis. Along east and north each corner has a place; a run keeps its direction, is never
shorter than can be seen, and is drawn as near as may be to its eased length; ends that share a vessel are drawn towards each
other. Heights are warped as a whole, so that what is higher stays higher and what is level stays level.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Sequence, Set
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import networkx as nx
import numpy as np

from ...layout.model import Layout, Vector
from .program import Program
from .skeleton import Corner, Grip, Run, Skeleton, skeleton

__all__ = ["Box", "Placed", "place", "stand_in_each_other"]

EASE = 0.6
"""Eased length is L₀·(L/L₀)^0.6 with L₀ the median run: a run ten times as long is drawn four times as long."""

SHORTEST = 0.4
"""Least drawn length, in median runs."""

MINOR = 0.25
"""A run's displacement along an axis counts as a fall or a slant, which may be small, below this share of its length."""

STRETCH = 1.6
"""A vessel's outline grows by at most this many of its half sides to hold an end; beyond, it is drawn a second time."""

_EDGE = 0.18
"""Of a grown outline beyond the end that it holds, in drawn lengths; of a small vessel less, 0.4 of its half side."""

_APART, _PARTING, _TRIES = 0.25, 8.0, 16
"""How far apart vessels are drawn that would stand in each other, in drawn lengths; what each length that is wanting costs, which has to be more than
an end that comes out elsewhere; and how often it is looked whether any still do."""

_Plan = list[dict[Corner | str, float]]
"""Where corners and the middles of vessels are in plan: along east, and along north."""

_Clash = tuple[str, str, int, float]
"""Two vessels that would stand in each other, the axis along which to part them, the second beyond the first, and how far."""


@dataclass(frozen=True, slots=True)
class Box:
    """A vessel's outline in the picture: from `low` to `high`, the water at `water`, all in drawn lengths. `again` marks
    a second outline of the same vessel, for ends whose walk does not come out where the first one stands."""

    vessel: str
    low: Vector
    high: Vector
    water: float
    again: bool = False

    def corners(self) -> list[Vector]:
        """All eight."""
        (x0, y0, z0), (x1, y1, z1) = self.low, self.high
        return [(x, y, z) for x in (x0, x1) for y in (y0, y1) for z in (z0, z1)]


@dataclass(frozen=True)
class Placed:
    """Everything in space, in drawn lengths of one median run each."""

    skeleton: Skeleton
    points: dict[Corner, Vector]
    boxes: tuple[Box, ...]


def place(
    layout: Layout, *, levels: dict[str, float], to_scale: bool = False, tall: float = 1.0, spread: float = 1.0
) -> Placed:
    """Place a layout for drawing, with the water at its `levels` [m above the datum]; lengths are eased, or kept `to_scale`; heights are
    drawn larger by the factor `tall`, and ends stand farther from the middle of their vessels by `spread`."""
    bones = skeleton(layout)
    ease = _Ease(bones, to_scale)
    heights = _heights(layout, bones, ease, levels)
    heights = replace(heights, drawn=tall * heights.drawn)
    sides = _sides(layout, ease)
    slots = {corner: (spread * x, spread * y) for corner, (x, y) in _slots(bones, sides).items()}
    tops = {name: (heights(low), heights(high)) for name, (low, high) in _walls(layout).items()}
    apart: list[_Clash] = []

    def drawn(plan: _Plan) -> Placed:
        points = {
            corner: (plan[0][corner], plan[1][corner], heights(walked[2])) for corner, walked in bones.points.items()
        }
        boxes = []
        for name, vessel in layout.vessels.items():
            ends = [points[grip.corner] for grip in bones.grips if grip.vessel == name]
            row = [points[grip.corner] for grip in bones.rows if grip.vessel == name]
            level = heights(levels.get(name, vessel.level))
            boxes += _boxes(name, (plan[0][name], plan[1][name]), sides[name], ends, row, tops[name], level)
        return Placed(bones, points, tuple(boxes))

    sited = {name for name, vessel in layout.vessels.items() if vessel.at is not None}
    for _ in range(_TRIES):
        plan = [_axis(axis, layout, bones, ease, slots, sides, apart) for axis in (0, 1)]
        more = _clashes(drawn(plan).boxes, plan, sited)
        if not more:
            break
        apart += more
    _set_apart(layout, bones, plan, sides)
    return drawn(plan)


def _walls(layout: Layout) -> dict[str, tuple[float, float]]:
    """Floor and rim of each vessel [m above the datum]."""
    rims = {name: 1.15 * vessel.water if vessel.rim is None else vessel.rim for name, vessel in layout.vessels.items()}
    return {name: (vessel.base, vessel.base + rims[name]) for name, vessel in layout.vessels.items()}


def stand_in_each_other(layout: Layout) -> list[tuple[str, str]]:
    """Vessels that the file itself places in each other: so near that they are, round or square."""
    sited = [
        (vessel, vessel.at, 0.5 * math.sqrt(vessel.area))
        for vessel in layout.vessels.values()
        if vessel.at and vessel.area
    ]
    walls = _walls(layout)
    return [
        (one.name, other.name)
        for (one, here, half), (other, there, wide) in combinations(sited, 2)
        if math.dist(here, there) < half + wide - 1e-6
        and "long" not in (one.shape, other.shape)
        and walls[one.name][0] < walls[other.name][1]
        and walls[other.name][0] < walls[one.name][1]
    ]


class _Ease:
    """Drawn lengths: `unit` [m] is the median run."""

    def __init__(self, bones: Skeleton, to_scale: bool) -> None:
        lengths = sorted(math.hypot(*run.by) for run in bones.runs)
        self.unit = lengths[len(lengths) // 2] if lengths else 1.0
        self.to_scale = to_scale
        self.weight = 1000.0 if to_scale else 1.0

    def __call__(self, length: float) -> float:
        share = length / self.unit
        return share if self.to_scale else float(share**EASE)

    def target(self, run: Run, axis: int) -> tuple[float, float]:
        """How long a run is to be drawn along an axis, and its least."""
        whole = math.hypot(*run.by)
        part = abs(run.by[axis])
        least = SHORTEST * part / whole if part > MINOR * whole and not self.to_scale else 0.0
        return self(whole) * part / whole, least


def _axis(
    axis: int,
    layout: Layout,
    bones: Skeleton,
    ease: _Ease,
    slots: dict[Corner, tuple[float, float]],
    sides: dict[str, float],
    apart: list[_Clash],
) -> dict[Corner | str, float]:
    """Places along one level axis: of corners, and of the middles of vessels."""
    same = nx.utils.UnionFind(bones.points)
    for tie in bones.ties:
        same.union(*tie)
    for run in bones.runs:
        if abs(run.by[axis]) < 1e-9:
            same.union(run.tail, run.head)
    program = Program()
    for corner in bones.points:
        program.number(same[corner])
    for run in bones.runs:
        if same[run.tail] != same[run.head] and abs(run.by[axis]) >= 1e-9:
            sign = math.copysign(1.0, run.by[axis])
            target, least = ease.target(run, axis)
            program.near({same[run.head]: sign, same[run.tail]: -sign}, target, least, weight=ease.weight)
    for grip in bones.grips:
        ends: dict[Hashable, float] = {same[grip.corner]: 1.0, grip.vessel: -1.0}
        row = grip in bones.rows
        program.pull(
            ends, 0.0 if row else slots[grip.corner][axis], free=0.12 * sides[grip.vessel], cost=0.2 if row else 3.0
        )
    sited = {vessel.name: vessel.at[axis] for vessel in layout.vessels.values() if vessel.at is not None}
    for name, at in sited.items():
        by = at - next(iter(sited.values()))
        program.pull(
            {name: 1.0, ("site",): -1.0},
            math.copysign(ease(abs(by)), by),
            free=0.0,
            cost=1000.0 if ease.to_scale else 0.5,
        )
    for one, other, along, least in apart:
        if along == axis:
            program.above({other: 1.0, one: -1.0}, least, cost=_PARTING)
    found = program.solve()
    return {corner: found[same[corner]] for corner in bones.points} | {name: found.get(name, 0.0) for name in sides}


def _heights(layout: Layout, bones: Skeleton, ease: _Ease, levels: dict[str, float]) -> _Warp:
    """A rising function from heights [m] to drawn heights."""
    walls = _walls(layout).values()
    values = [point[2] for point in bones.points.values()]
    values += [vessel.level for vessel in layout.vessels.values()]
    values += [*levels.values(), *(end for wall in walls for end in wall)]
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
        low, high = sorted((warp.mark(bones.points[run.tail][2]), warp.mark(bones.points[run.head][2])))
        if abs(run.by[2]) >= 1e-6 and low != high:
            program.near({high: 1.0, low: -1.0}, *ease.target(run, 2))
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
        beyond = value - min(max(value, self.marks[0]), self.marks[-1])
        return float(np.interp(value, self.marks, self.drawn) + beyond)


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


def _clashes(boxes: Sequence[Box], plan: _Plan, sited: Set[str]) -> list[_Clash]:
    """Vessels that stand in each other, but for those that the file itself has so; each is parted along the axis on which that takes least."""
    out = []
    for one, other in combinations(boxes, 2):
        deep = [min(one.high[k], other.high[k]) - max(one.low[k], other.low[k]) for k in range(3)]
        if one.vessel == other.vessel or {one.vessel, other.vessel} <= sited or min(deep) < 1e-6:
            continue
        axis = 0 if deep[0] <= deep[1] else 1
        first, second = (
            (one, other) if one.low[axis] + one.high[axis] <= other.low[axis] + other.high[axis] else (other, one)
        )
        gap = plan[axis][second.vessel] - plan[axis][first.vessel]
        out.append((first.vessel, second.vessel, axis, gap + first.high[axis] - second.low[axis] + _APART))
    return out


def _set_apart(layout: Layout, bones: Skeleton, plan: _Plan, sides: dict[str, float]) -> None:
    """Draw pieces that nothing joins apart, in rows from the west; vessels whose place on the site is given are one piece."""
    graph: nx.Graph[Corner | str] = nx.Graph()
    graph.add_nodes_from([*bones.points, *sides])
    graph.add_edges_from((run.tail, run.head) for run in bones.runs)
    graph.add_edges_from(bones.ties)
    graph.add_edges_from((grip.corner, grip.vessel) for grip in bones.grips)
    graph.add_edges_from(pairwise(vessel.name for vessel in layout.vessels.values() if vessel.at is not None))
    pieces = [list(piece) for piece in nx.connected_components(graph)]
    if len(pieces) < 2:
        return

    def span(axis: int, piece: list[Corner | str]) -> tuple[float, float]:
        around = [(plan[axis][one], sides[one] + 0.2 if isinstance(one, str) else 0.0) for one in piece]
        return min(at - half for at, half in around), max(at + half for at, half in around)

    columns = math.ceil(math.sqrt(len(pieces)))
    north = 0.0
    for row in range(0, len(pieces), columns):
        group = [(piece, span(0, piece), span(1, piece)) for piece in pieces[row : row + columns]]
        east = 0.0
        for piece, across, along in group:
            for one in piece:
                plan[0][one] += east - across[0]
                plan[1][one] += north - along[0]
            east += across[1] - across[0] + 0.8
        north += max(high - low for _, _, (low, high) in group) + 0.8


def _boxes(
    name: str,
    centre: tuple[float, float],
    half: float,
    ends: list[Vector],
    row: list[Vector],
    top: tuple[float, float],
    water: float,
) -> list[Box]:
    """The vessel's outline, grown to hold the ends near it and the whole row of falls into it, and further ones where ends come out elsewhere."""

    def held(middle: tuple[float, ...], reach: float) -> list[Vector]:
        return [end for end in ends if max(abs(end[0] - middle[0]), abs(end[1] - middle[1])) <= reach]

    def outline(middle: tuple[float, ...], size: float, inside: list[Vector], again: bool) -> Box:
        edge = min(_EDGE, 0.4 * half)
        low = [min([middle[k] - size, *(end[k] - edge for end in inside)]) for k in (0, 1)]
        high = [max([middle[k] + size, *(end[k] + edge for end in inside)]) for k in (0, 1)]
        return Box(name, (low[0], low[1], top[0]), (high[0], high[1], top[1]), water, again)

    near = [*held(centre, half * (1.0 + STRETCH)), *row]
    boxes = [outline(centre, half, near, again=False)]
    far = [end for end in ends if end not in near]
    while far:
        group = [end for end in held(far[0], half) if end in far]
        boxes.append(outline(far[0], 0.5 * half, group, again=True))
        far = [end for end in far if end not in group]
    return boxes
