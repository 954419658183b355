"""Changes of what holds water back: a valve set, put in or moved to its tee; check valves in and out; a hole that breaks a siphon; a standpipe sawn
shorter."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator

from ..hydraulics.flows import Flows
from ..hydraulics.valve_service import adjustable, label
from ..layout.model import Layout, Line, Part
from ..parts.sizes import outside_of
from ..units import show
from .change import Change, Edit
from .place import lay, part_at
from .prices import Prices
from .script import read_script

__all__ = [
    "against_siphons",
    "check_valve_in",
    "check_valves_out",
    "move_valve",
    "new_valve",
    "set_valve",
    "shorter_standpipe",
    "siphon_break",
]

HOLE = 0.005
"""Bore of the hole that breaks a siphon [m]: a few millimetres, common practice, no source."""


def set_valve(layout: Layout, line: str, step: int, opening: float, prices: Prices) -> Change:
    """Set a valve to an opening, 0 shut to 1 full open."""
    part = part_at(layout.lines[line], step)
    verb = "open" if opening > part.opening else "throttle"
    name = f"valve {label(line, part)}" if part.id else label(line, part)
    words = f"{verb} {name} from {part.opening:.0%} to {opening:.0%}"
    edit = Edit("open", line, step, (), opening)
    return prices.change("set valve", line, step, part.pipe, words, f"was {part.opening:.0%} open", edit)


def new_valve(line: Line, prices: Prices) -> Change | None:
    """Put a ball valve into the longest run of a line behind its last tee, so that it serves the line's vessel alone; None where there is no room."""
    joins = max((part.step for part in line.parts if part.kind in ("tee", "wye")), default=0)
    runs = [part for part in line.parts if part.kind == "run" and part.step > joins]
    run = max(runs, key=lambda part: part.length, default=None)
    if run is None or run.length < 4.0 * lay("union", run.pipe) + 2.0 * outside_of(run.pipe):
        return None
    words = f"put a ball valve into step {run.step} of '{line.name}'"
    edit = Edit("split", line.name, run.step, ("ball valve",), round(run.length / 2, 2))
    return prices.change("new valve", line.name, run.step, run.pipe, words, "new valve", edit)


def move_valve(layout: Layout, line: Line, part: Part, prices: Prices) -> Change | None:
    """Move a shut valve in a line's dead end to the line's own tee, so that little stands before it; None where it does not fit."""
    first = next((run for run in line.parts if run.is_pipe), None)
    if not adjustable(part) or line.start.kind != "tee" or first is None or first.kind != "run" or first.step == 0:
        return None
    at = round(0.8 * layout.limits["dead leg"] * first.pipe.bore, 2)
    if part.step <= first.step or at < 2.0 * lay("tee", first.pipe) or at > first.length - lay("tee", first.pipe):
        return None
    name = f"id: {part.id}, " if part.id else ""
    words = f"move {label(line.name, part)} to {show(at, 'size', layout.units)} from tee '{line.start.name}'"
    valve = f"{part.kind}: {{{name}opening: {100 * part.opening:g} %}}"
    edits = (Edit("swap", line.name, part.step), Edit("split", line.name, first.step, (valve,), at))
    return prices.change("move valve", line.name, part.step, part.pipe, words, "valve moved", *edits)


def against_siphons(layout: Layout, lines: Iterable[Line], prices: Prices) -> Iterator[Change]:
    """Keep water from siphoning back through some lines, by a check valve or a hole, wherever one can be put in."""
    for line in lines:
        for change in (check_valve_in(layout, line, prices), siphon_break(layout, line, prices)):
            if change is not None:
                yield change


def check_valve_in(layout: Layout, line: Line, prices: Prices) -> Change | None:
    """Put a check valve into a pump's line, close after the pump."""
    first = next((part for part in line.parts if part.is_pipe), None)
    if line.start.kind != "pump" or first is None or first.kind != "run" or first.step == 0:
        return None
    at = round(max(2.0 * outside_of(first.pipe), 0.1), 2)
    if first.length < at + 2.0 * outside_of(first.pipe):
        return None
    far = show(at, "length", layout.units)
    words = f"put a check valve into '{line.name}', {far} after pump '{line.start.name}'"
    edit = Edit("split", line.name, first.step, ("check valve",), at)
    return prices.change("check valve", line.name, first.step, first.pipe, words, "check valve", edit)


def check_valves_out(layout: Layout, flows: Flows, prices: Prices) -> Iterator[Change]:
    """Take a check valve out of a line in which nothing flows, and join the pipe; one behind a pump stays."""
    still = {stretch.line for stretch in layout.stretches if flows.stretches[stretch.id].flow == 0.0}
    for line in layout.lines.values():
        for part in line.parts:
            if part.kind == "check valve" and line.name in still and line.start.kind != "pump":
                words = (
                    f"take the check valve at step {part.step} of '{line.name}' out, and join the pipe with a coupling"
                )
                edit, note = Edit("swap", line.name, part.step), "check valve taken out"
                yield prices.change("take out check valve", line.name, part.step, part.pipe, words, note, edit)


def siphon_break(layout: Layout, line: Line, prices: Prices) -> Change | None:
    """Drill a hole into the pipe that goes down into a vessel, just under the vessel's surface, so that a siphon draws air."""
    last = line.parts[-1]
    vessel = layout.vessels.get(line.end.name or "")
    if vessel is None or not line.end.submerged or last.kind != "run" or last.step == 0 or last.heading_in[2] > -0.99:
        return None
    at = last.start[2] - (vessel.level - 0.02)
    if at < 0.02 or last.length - at < 0.03:
        return None
    bore, rest = f"{1000 * HOLE:g} mm", round(last.length - at - 0.01, 6)
    steps = (f"spray bar: {{down: 10 mm, holes: 1, hole: {bore}, in: {line.end.name}}}", f"down: {rest:.9g} m")
    words = f"drill a hole of {bore} into step {last.step} of '{line.name}', 20 mm under the surface of '{vessel.name}'"
    edit, note = Edit("cut", line.name, last.step, steps, round(at, 6)), "hole that breaks the siphon"
    return prices.change("siphon break", line.name, last.step, last.pipe, words, note, edit)


FREEBOARD = 0.02
"""Between the water over a standpipe that was sawn shorter and its vessel's rim [m] (common practice, no source)."""

_STANDPIPE = re.compile(r"(\bstandpipe:\s*)[^,}\n#]+")


def shorter_standpipe(layout: Layout, line: Line, flow: float, prices: Prices) -> Change | None:
    """Saw the standpipe that a line begins at shorter, so that its vessel's water stays under the rim with a flow [m³/s] over it; None where that
    would leave it less than half as high.

    Reference: a vertical outlet, BS EN 12056-3: Q [L/s] = D h^1.5/7500 for h up to D/2, D² h^0.5/15000 above, in mm (from memory).
    """
    end, vessel = line.start, layout.vessels.get(line.start.name or "")
    said = read_script(layout.text).of(line.name)
    if end.port != "standpipe" or vessel is None or vessel.rim is None or said is None or "from" not in said.keys:
        return None
    bore, amount = 1e3 * line.parts[0].pipe.bore, 1e3 * flow
    shallow = (7500.0 * amount / bore) ** (2.0 / 3.0)
    over = shallow if shallow <= bore / 2.0 else (15000.0 * amount / bore**2) ** 2
    crest = math.floor(1e3 * (vessel.rim - FREEBOARD) - over) / 1e3
    now = end.place[2] - vessel.base
    text, count = _STANDPIPE.subn(rf"\g<1>{crest:g} m", read_script(layout.text).slice(said.keys["from"]))
    first, off = line.parts[0], now - crest
    upright = first.kind == "run" and first.step > 0 and first.heading_in[2] < -0.999 and first.length > off
    if not now / 2.0 < crest < now or count != 1 or not upright:
        return None
    words = f"saw {1e3 * off:.0f} mm off the standpipe of '{vessel.name}', to {show(crest, 'length', layout.units)} over its floor"
    left = first.length - off
    edits = (Edit("end", line.name, 0, (text,)), Edit("lay", line.name, first.step, (), left, (0.0, 0.0, -left)))
    note = f"standpipe {1e3 * off:.0f} mm shorter"
    return prices.change("shorter standpipe", line.name, 0, first.pipe, words, note, *edits)
