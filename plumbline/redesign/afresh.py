"""A line laid afresh between its ends: the fewest corners and the least pipe, with fall where it drains, and a cap at each corner so that it is roddable."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from ..catalogue import PipeRow
from ..hydraulics.flows import Flows
from ..layout.model import Layout, Line, Part, Vector
from ..layout.words import DIRECTIONS
from ..units import show
from .change import Change, Edit
from .place import free_name, lay, outside_of
from .prices import Prices
from .router import bodies, shortest_way
from .sizes import larger

__all__ = ["laid_afresh"]

KEPT = ("ball valve", "gate valve", "diaphragm valve", "butterfly valve", "check valve")
"""Fittings that a line laid afresh has again, in its longest run."""

GONE = ("run", "elbow", "sweep", "bend", "bend 45", "bend 22.5", "cap", "union")

SMALL = 0.06
"""A run may rise or fall by so much [m] along the level without a corner."""

LEAST = 0.3
"""What of pipe and corners' worth [m] it has to save."""


def laid_afresh(
    layout: Layout, flows: Flows, prices: Prices, bores: Mapping[str, float] | None = None, *, always: bool = False
) -> Iterator[Change]:
    """For each line without tees, hose or holes a change that lays it afresh, where that saves pipe or corners, or `always`. Lines in which no brush fits are
    laid in the least size that has the bore that one does, as `bores` tell [m]."""
    for line in layout.lines.values():
        parts = line.parts
        if (
            any(part.kind not in (*GONE, *KEPT) or part.step == 0 for part in parts)
            or not parts[0].is_pipe
            or not parts[-1].is_pipe
            or line.hidden
        ):
            continue
        if len({part.pipe.name for part in parts}) > 1 or any(part.loss is not None for part in parts):
            continue
        mine = [stretch for stretch in layout.stretches if stretch.line == line.name]
        drains = any(flows.stretches[stretch.id].gravity for stretch in mine)
        way = _drain(layout, line) if drains else _pumped(layout, line)
        if way is None:
            continue
        row = (
            next(iter(larger(layout, parts[0].pipe, bores[line.name])), None) if bores and line.name in bores else None
        )
        if bores and line.name in bores and row is None:
            continue
        change = _change(layout, line, way, prices, row)
        corners = sum(1 for part in parts if part.turn > math.radians(5.0))
        length = sum(math.dist(a, b) for a, b in pairwise(way))
        saved = line.length - length + 0.3 * (corners - (len(way) - 2))
        if change is not None and (always or saved > LEAST or (bores and line.name in bores and saved > 0.0)):
            yield change


def _pumped(layout: Layout, line: Line) -> tuple[Vector, ...] | None:
    start, end = line.parts[0].start, line.parts[-1].end
    leaves, comes = _axis(line.parts[0].heading_in), _axis(line.parts[-1].heading_out)
    if leaves is None or comes is None:
        return None
    # A small rise or fall goes into a level run.
    snapped = (end[0], end[1], start[2] if abs(end[2] - start[2]) < SMALL else end[2])
    planes: list[Vector] = []
    for part in line.parts:
        east, north, up = (_snap(part.end[n], (start[n], snapped[n])) for n in range(3))
        planes.append((east, north, up))
    names = [one.name or "" for one in (line.start, line.end)]
    names += [layout.pumps[name].vessel or "" for name in names if name in layout.pumps]
    radius = outside_of(line.parts[0].pipe) / 2.0
    way = shortest_way(start, leaves, snapped, comes, planes, bodies(layout, names), radius=radius)
    if way is None:
        return None
    lower = end[2] - snapped[2]
    if abs(lower) < 1e-9:
        return way
    level = [n for n in range(1, len(way)) if abs(way[n][2] - way[n - 1][2]) < 1e-9]
    if not level:
        return None
    longest = max(level, key=lambda n: math.dist(way[n], way[n - 1]))
    return tuple((x, y, z + (lower if n >= longest else 0.0)) for n, (x, y, z) in enumerate(way))


def _drain(layout: Layout, line: Line) -> tuple[Vector, ...] | None:
    """Down, along with a steady fall, and down again where it ends so; none for a drain that begins otherwise."""
    start, end = line.parts[0].start, line.parts[-1].end
    if _axis(line.parts[0].heading_in) != (0.0, 0.0, -1.0):
        return None
    down = _axis(line.parts[-1].heading_out) == (0.0, 0.0, -1.0)
    across, along = end[0] - start[0], end[1] - start[1]
    legs = [leg for leg in ((across, 0.0), (0.0, along)) if abs(leg[0]) + abs(leg[1]) > SMALL]
    if not legs or abs(across) + abs(along) - sum(abs(a) + abs(b) for a, b in legs) > 1e-9:
        return None
    fall = layout.limits["least fall"] * 1.1 * sum(abs(a) + abs(b) for a, b in legs)
    last = line.parts[-1].length if down else 0.0
    first = round(start[2] - end[2] - fall - last, 3)
    fall = start[2] - end[2] - first - last
    if first < 2.0 * lay("cap", line.parts[0].pipe) + 0.05:
        return None
    places = [start, (start[0], start[1], start[2] - first)]
    whole = sum(abs(a) + abs(b) for a, b in legs)
    for a, b in legs:
        x, y, z = places[-1]
        places.append((x + a, y + b, z - fall * (abs(a) + abs(b)) / whole))
    return (*places, end) if down else (*places[:-1], end)


def _change(layout: Layout, line: Line, way: Sequence[Vector], prices: Prices, row: PipeRow | None) -> Change | None:
    runs = list(pairwise(way))
    longest = max(range(len(runs)), key=lambda n: math.dist(*runs[n]))
    kept = [part for part in line.parts if part.kind in KEPT]
    mouth = any(access.line == line.name and access.kind == "vessel" and access.step > 0 for access in layout.accesses)
    # Facing on, the caps open along all runs but the first, which then wants a mouth of its own; facing back, along all but the last.
    onward = any(
        access.line == line.name and access.kind == "vessel" and access.step == 0 for access in layout.accesses
    )
    texts: list[str] = []
    names = 0
    for number, (a, b) in enumerate(runs):
        inside = [_said(part) for part in kept] if number == longest else []
        if not onward and number == len(runs) - 1 and not mouth:
            inside.append(f"union: {free_name(layout, f'{line.name} fresh union')}")
        pieces = len(inside) + 1
        for n in range(pieces):
            texts.append(_run([(y - x) / pieces for x, y in zip(a, b, strict=True)]))
            if n < len(inside):
                texts.append(inside[n])
        if number + 1 < len(runs):
            names += 1
            after = runs[number + 1]
            went = [y - x for x, y in zip(a, b, strict=True)]
            goes = [x - y for x, y in zip(*after, strict=True)]
            faces = _axis(goes if onward else went, loosely=True)
            if faces is None:
                return None
            word = next(word for word, way_of in DIRECTIONS.items() if way_of == faces)
            texts.append(f"cap: {{id: {free_name(layout, f'{line.name} fresh cap {names}')}, faces: {word}}}")
    pipe = line.parts[0].pipe
    if row is not None:
        pipe = replace(pipe, name=row.name, bore=row.bore, outside=row.outside)
    length = sum(math.dist(a, b) for a, b in runs)
    fittings = ["cap"] * names + [part.kind for part in kept]
    money, minutes = prices.of("lay afresh", pipe, metres=length, fittings=fittings)
    steps = list(dict.fromkeys(part.step for part in line.parts))
    edits = (Edit("swap", line.name, steps[0], tuple(texts)), *(Edit("swap", line.name, step) for step in steps[1:]))
    if row is not None:
        edits = (*edits, Edit("pipe", line.name, 0, (row.name,)))
    units = layout.units
    corners = sum(1 for part in line.parts if part.turn > math.radians(5.0))
    words = (f"lay '{line.name}' afresh{'' if row is None else f' in {row.name}'}: {show(length, 'length', units)} with {names} corner{'' if names == 1 else 's'}, a cap at each, in "
             f"place of {show(line.length, 'length', units)} with {corners}; see that the way is free")  # fmt: skip
    return Change("lay afresh", line.name, steps[-1], words, "laid afresh", edits, money, minutes)


def _said(part: Part) -> str:
    details = [f"id: {part.id}"] if part.id else []
    if part.opening < 1.0:
        details.append(f"opening: {100.0 * part.opening:g} %")
    return f"{part.kind}: {{{', '.join(details)}}}" if details else part.kind


def _run(vector: Sequence[float]) -> str:
    words = []
    for axis, (plus, minus) in enumerate((("east", "west"), ("north", "south"), ("up", "down"))):
        if abs(vector[axis]) > 1e-7:
            words.append(f"{plus if vector[axis] > 0 else minus}: {abs(vector[axis]):.6g} m")
    return f"{{{', '.join(words)}}}"


def _axis(heading: Sequence[float], *, loosely: bool = False) -> Vector | None:
    """The axis that a heading goes along, up to a fall of a tenth; None for a slanting one."""
    size = math.hypot(*heading)
    return next((way for way in DIRECTIONS.values()
                 if size > 0.0 and sum(x * y for x, y in zip(way, heading, strict=True)) / size > (0.99 if loosely else 0.995)), None)  # fmt: skip


def _snap(value: float, ends: Sequence[float]) -> float:
    return next((end for end in ends if abs(end - value) < SMALL), value)
