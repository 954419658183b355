"""Where a line passes through the floor or wall of the vessel that it ends in: there a bulkhead fitting is implied."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from .. import catalogue
from ..layout.model import End, Layout, Line, Part, Vector, Vessel
from .model import Side

__all__ = ["Passage", "passage", "stated"]

ASIDE = 0.1
"""A line that has gone aside by more than this [m] before it is below the floor came through the wall (common practice, no source)."""
_NEAR = 1e-3
"""A floor within a millimetre of the end of a run is taken to stand at that end [m]."""


@dataclass(frozen=True, slots=True)
class Passage:
    """How a line gets into a vessel. `how` is "end" (a port, at the line's very end), "run" (through the floor, `at` [m] from the
    start of the run `part`), "somewhere" (through the wall, at no stated place), "rim" (over it, or falling in from above; no
    bulkhead), "stated" (the file has the bulkhead), or "unknown" (the vessel's rim is not given)."""

    how: Literal["end", "run", "somewhere", "rim", "stated", "unknown"]
    vessel: str
    part: int = 0
    at: float = 0.0


def passage(layout: Layout, line: Line, side: Side) -> Passage | None:
    """Tell how a line's end gets into its vessel; None where the end is in no vessel, or the whole line stays inside one.

    Walked outwards from the end: where the line goes straight below the floor it came through the floor there, and where it first
    reaches the rim's height it came over the rim. Where it does neither it passes through the wall; in plan nobody knows where.
    """
    end, beyond = line.at(side), "to" if side == "from" else "from"
    vessel = _vessel(layout, end, side)
    if vessel is None:
        return None
    other = _vessel(layout, line.at(beyond), beyond)
    if other is not None and other.name == vessel.name:
        return None
    if stated(line, side, other is not None):
        return Passage("stated", vessel.name)
    if end.port == "port" or end.in_wall:
        return Passage("end", vessel.name)
    if end.weir is not None:
        return Passage("rim", vessel.name)
    rim = None if vessel.rim is None else vessel.base + vessel.rim
    if rim is not None and end.port != "standpipe" and end.place[2] >= rim - _NEAR:
        return Passage("rim", vessel.name)
    for index, part, near, far in _outwards(line, side):
        if rim is not None and far >= rim - _NEAR and far > near:
            return Passage("rim", vessel.name)
        if far < vessel.base - _NEAR <= near:
            share = (near - vessel.base) / (near - far)
            if _aside(part, side, share, end.place) > ASIDE:
                break
            along = part.length * (share if side == "from" else 1.0 - share)
            first = index == (0 if side == "from" else len(line.parts) - 1)
            if first and near - vessel.base < _NEAR:
                return Passage("end", vessel.name)
            return Passage("run", vessel.name, index, along)
    if rim is None or (end.kind == "pump" and line.at(beyond).kind == "tee"):
        return Passage("unknown", vessel.name)
    return Passage("somewhere", vessel.name)


def _aside(part: Part, side: Side, share: float, place: Vector) -> float:
    """How far from its end, in plan, a line is at a share of a run [m]."""
    near, far = (part.start, part.end) if side == "from" else (part.end, part.start)
    east, north = (near[k] + share * (far[k] - near[k]) - place[k] for k in (0, 1))
    return math.hypot(east, north)


def _vessel(layout: Layout, end: End, side: str) -> Vessel | None:
    if end.kind == "vessel":
        return layout.vessels[end.name or ""]
    if end.kind == "pump" and side == "from":
        stands = layout.pumps[end.name or ""].vessel
        return None if stands is None else layout.vessels[stands]
    return None


def stated(line: Line, side: Side, both_ends: bool) -> bool:
    """Whether the file has a bulkhead for this end: before any tee, and where both ends want one, in this half of the line."""
    parts = line.parts if side == "from" else line.parts[::-1]
    for part in parts:
        if part.kind in ("tee", "wye"):
            return False
        if not part.is_pipe and catalogue.fittings()[part.kind].through_wall:
            here = part.at if side == "from" else line.length - part.at
            return not both_ends or here <= line.length / 2.0 + _NEAR
    return False


def _outwards(line: Line, side: Side) -> Iterator[tuple[int, Part, float, float]]:
    """The runs from an end outwards: place among the parts, the run, and the heights of its near and its far end."""
    numbered = list(enumerate(line.parts))
    for index, part in numbered if side == "from" else reversed(numbered):
        if part.is_pipe:
            near, far = (part.start, part.end) if side == "from" else (part.end, part.start)
            yield index, part, near[2], far[2]
