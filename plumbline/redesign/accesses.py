"""Changes that open the pipe, as a way in for a rod, a drain or a vent: a capped tee for a bend, a cap for a plug, a union in a run."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from .. import catalogue
from ..layout.model import Layout, Line, Part, Rod
from ..layout.vectors import direction_words, negative
from ..parts.sizes import socket_depth
from ..units import show
from ..upkeep.reach import stopping_kinds
from ..upkeep.track import stops
from .change import Change, Edit
from .place import faces_text, free_name, lay, room_for
from .prices import Prices

__all__ = ["CENTIMETRE", "accesses", "capped_tee", "clear", "end_caps", "unions"]

COMES_IN = (45.0, 90.0)
"""Turns that a capped tee comes in [deg]."""

NEAR = math.radians(5.0)
CENTIMETRE = 0.01
THINNEST = 0.012
"""Unions are not made for thinner pipe [m] (common practice, no source): microtube is pulled off its barbs."""


def accesses(layout: Layout, prices: Prices) -> tuple[Change, ...]:
    """Every access that a plumber could put in and that the file does not name yet: at each bend a capped tee facing along either leg, for
    each plug a cap, in each run unions. None for which there is no room."""
    found: list[Change] = []
    for line in layout.lines.values():
        for part in line.parts:
            if part.is_pipe:
                found += unions(layout, line, part, prices)
            else:
                tees = (capped_tee(layout, line, part, prices, forward=forward) for forward in (True, False))
                found += (change for change in tees if change is not None)
        found += end_caps(layout, line, prices)
    return tuple(found)


def capped_tee(layout: Layout, line: Line, part: Part, prices: Prices, *, forward: bool) -> Change | None:
    """Put a capped tee in place of a bend, so that a rod put in runs down the leg ahead (`forward`) or back; None where it does not fit."""
    turns = any(abs(part.turn - math.radians(turn)) <= NEAR for turn in COMES_IN)
    bend = part.kind in ("elbow", "sweep", "bend", "bend 45")
    if part.is_pipe or not turns or not bend or part.loss is not None or not room_for(line, part.step, "cap"):
        return None
    faces = negative(part.heading_out) if forward else part.heading_in
    name = free_name(layout, f"{line.name} cap {part.step}")
    words = f"put a capped tee in place of the {part.kind} at step {part.step} of '{line.name}', facing {direction_words(faces)}"
    edit = Edit("swap", line.name, part.step, (f"cap: {{id: {name}, faces: {faces_text(faces)}}}",))
    note = f"capped tee in place of the {part.kind}"
    return prices.change("capped tee", line.name, part.step, part.pipe, words, note, edit, access=name)


def end_caps(layout: Layout, line: Line, prices: Prices) -> Iterator[Change]:
    """Put a cap in place of a plug at a line's end."""
    last = line.parts[-1]
    ends = ((0, 0, "start", line.start, line.parts[0].pipe), (1, last.step + 1, "end", line.end, last.pipe_out))
    for side, step, where, end, pipe in ends:
        if end.kind == "plug":
            name = free_name(layout, f"{line.name} {where}").strip("'")
            words = f"put a cap in place of the plug at the {where} of '{line.name}'"
            edit = Edit("end", line.name, side, (f"cap {name}",))
            yield prices.change("cap end", line.name, step, pipe, words, "cap in place of the plug", edit, access=name)


def unions(layout: Layout, line: Line, part: Part, prices: Prices) -> Iterator[Change]:
    """Put a union into a run: in its middle, near either end where it is long, and where a rod put in both ways just reaches what bounds it."""
    if part.kind != "run" or part.length <= 0.0 or (part.pipe.outside or part.pipe.bore) < THINNEST:
        return
    if any(other.kind == "dry socket" and other.step == part.step for other in line.parts):
        return  # a standpipe that pulls out needs none
    before, after = (clear(line, part, "union", ahead=ahead) for ahead in (False, True))
    low, high = math.ceil(before / CENTIMETRE), math.floor((part.length - after) / CENTIMETRE)
    if low > high:
        return
    places = sorted({min(max(place, low), high) for place in _places(layout, line, part, low, high)})
    for number, place in enumerate(places):
        at = place * CENTIMETRE
        letter = "" if len(places) == 1 else chr(97 + number) if len(places) <= 26 else f" {number + 1}"
        name = free_name(layout, f"{line.name} union {part.step}{letter}")
        far = show(at, "length", layout.units)
        words = f"put a union into step {part.step} of '{line.name}', {far} from its beginning"
        edit = Edit("split", line.name, part.step, (f"union: {name}",), at)
        yield prices.change("union", line.name, part.step, part.pipe, words, "union", edit, access=name)


def clear(line: Line, run: Part, kind: str, *, ahead: bool) -> float:
    """How far a union or a valve stands from the fitting at a run's end at least [m]: the pipe between them
    reaches into a socket of each."""
    where = line.parts.index(run)
    beside = line.parts[where + 1 :][:1] if ahead else line.parts[:where][-1:]
    kinds = [part.kind for part in beside if part.kind in catalogue.fittings()]
    own = lay(kind, run.pipe)
    return own + lay((kinds or ["elbow"])[0], run.pipe) + 2.0 * (socket_depth(run.pipe) or own)


def _places(layout: Layout, line: Line, part: Part, low: int, high: int) -> list[int]:
    """Places for a union in a run [cm from its start].

    A rod of length r reaches r both ways. Of unions that clean a length of pipe between them each may be moved on until its rod just
    reaches the end of what is to be cleaned, or of what the one before it cleans: so they stand at r, 3r, 5r, … from where something stops
    the rod or the line ends, seen from either end.
    """
    found = [min(max(round(part.length / 2.0 / CENTIMETRE), low), high), *((low, high) if high - low > 40 else ())]
    found += _over_water(layout, part)
    rods = [rod for rod in layout.rods if not rod.cord]
    for rod, forward in itertools.product(rods, (True, False)):
        end = _stopped(line, part, rod, forward)
        near = end - part.at if forward else part.at + part.length - end
        for number in range(math.ceil(near / (2.0 * rod.length))):
            away = (near - (2 * number + 1) * rod.length) / CENTIMETRE
            # Down to the centimetre, towards the end that the rod is to reach.
            found.append(math.ceil(away - 1e-6) if forward else math.floor(part.length / CENTIMETRE - away + 1e-6))
    return [place for place in dict.fromkeys(found) if low <= place <= high]


def _over_water(layout: Layout, run: Part) -> Iterator[int]:
    """Just above the water of each vessel with fish that a run comes up through the level of, where none of it
    stands over a union [cm from its start]."""
    for vessel in layout.vessels.values():
        rise = run.heading_in[2]
        if vessel.holds == "fish" and min(run.start[2], run.end[2]) < vessel.level < max(run.start[2], run.end[2]):
            away = (vessel.level - run.start[2]) / rise / CENTIMETRE
            yield math.ceil(away) + 1 if rise > 0.0 else math.floor(away) - 1


def _stopped(line: Line, run: Part, rod: Rod, forward: bool) -> float:
    """Where a rod that comes along a run is stopped, or where the line ends [m along the line]."""
    turned = 0.0
    beyond = [part for part in line.parts if (part.at >= run.at + run.length if forward else part.at <= run.at)]
    for part in beyond if forward else reversed(beyond):
        if part.is_pipe:
            continue
        turned += part.turn
        if stops(part, stopping_kinds()) or part.turn > rod.bend + 1e-6 or turned > rod.turns + 1e-6:
            return part.at
    return line.length if forward else 0.0
