"""Pipe hung anew: a belly, or a drain that climbs the way its water goes, brought to one even fall between the drops at its two ends."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from ..layout.model import Layout, Line, Part, Vector
from ..layout.vectors import minus, size
from ..units import Units, show
from ..upkeep.words import listed
from .bends import NEAR, TURNS
from .change import Change, Edit
from .place import inches_text, lay
from .prices import Prices
from .sheet import plain
from .ways import SLOPE

__all__ = ["hung"]

STEEP = math.radians(10.0)
"""Pipe that leans further is a drop or a rise [rad], and stays one (common practice, no source)."""

MILLIMETRE = 0.001
HOLDS = ("tee", "wye", "cap")

Hanging = Mapping[int, tuple[str, Part]]
"""The drops that come down to tees of a line, by the tee's step: their line and run."""


def hung(layout: Layout, line: Line, prices: Prices, *, drains: bool) -> Iterator[Change]:
    """Hang a line anew, each level piece of it that goes down and up again: its runs to one slope. If it `drains` the way it is walked, each that does
    not fall all along, to a drain's fall: what is wanting of that is taken from the drop behind it, or else from the one before. A tee that another line comes
    straight down to goes along, and that drop becomes as much longer or shorter."""
    parts, hanging = line.parts, _hanging(layout, line)
    for first, last in _level(parts, hanging):
        runs = [n for n in range(first, last + 1) if parts[n].kind == "run"]
        falling = [_falls(parts[n]) for n in runs]
        if all(falling) or not (drains or any(falling)):
            continue
        fall = parts[first].start[2] - parts[last].end[2]
        wanted = SLOPE * layout.limits["least fall"] * sum(parts[n].length for n in runs) if drains else fall
        lacks = max(wanted - fall, 0.0)
        lacks = MILLIMETRE * math.ceil(lacks / MILLIMETRE - 1e-6)
        drops = [n for n in (last + 2, first - 2) if _is_drop(parts, n, lacks)] if lacks else [None]
        for drop in drops[:1]:
            change = _hung(line, runs, range(first, last + 1), fall + lacks, drop, lacks, prices, layout.units, hanging)
            if change is not None:
                yield change


def _hanging(layout: Layout, line: Line) -> Hanging:
    out = {}
    for part in line.parts:
        leg = layout.tees[part.id or ""].legs[2] if part.kind == "tee" and part.step else None
        other = None if leg is None or leg.line == line.name else layout.lines[leg.line]
        if other is not None and other.end.name == part.id and _is_drop(other.parts, len(other.parts) - 1, 0.0):
            out[part.step] = other.name, other.parts[-1]
    return out


def _level(parts: Sequence[Part], hanging: Hanging) -> Iterator[tuple[int, int]]:
    """The pieces of a line between its drops and what holds it, as the first and last part of each: corners to drops are not among them."""
    first: int | None = None
    times = Counter(f"{part.step}" for part in parts)
    for n, part in enumerate((*parts, None)):
        lies = (
            part is not None
            and (_free(part) or part.step in hanging)
            and times[f"{part.step}"] == 1
            and all(abs(way[2]) <= math.sin(STEEP) for way in (part.heading_in, part.heading_out))
        )
        if lies and first is None:
            first = n
        if not lies and first is not None:
            yield first, n - 1
            first = None


def _falls(run: Part) -> bool:
    return run.end[2] < run.start[2] - 1e-6


def _free(part: Part) -> bool:
    """Whether a part of the piece can be hung anew: nothing joins it, holds it or hides it."""
    return part.kind not in HOLDS and plain(part) and not part.around and "past" not in part.details


def _is_drop(parts: Sequence[Part], n: int, lacks: float) -> bool:
    """Whether a run goes straight down, next to the piece but for a corner, and has as much to give and to fit the corners beside it."""
    if not 0 <= n < len(parts):
        return False
    run = parts[n]
    beside = [part for part in (*parts[n - 1 : n], *parts[n + 1 : n + 2]) if not part.is_pipe]
    return (
        run.kind == "run"
        and _free(run)
        and run.heading_in[2] < -math.cos(NEAR)
        and run.length - lacks > sum(lay(part.kind, run.pipe) for part in beside)
    )


def _hung(
    line: Line,
    runs: Sequence[int],
    piece: range,
    fall: float,
    drop: int | None,
    lacks: float,
    prices: Prices,
    units: Units,
    hanging: Hanging,
) -> Change | None:
    parts = line.parts
    whole = sum(parts[n].length for n in runs)
    ways = {n: minus(parts[n].end, parts[n].start) for n in runs}
    left, edits = fall, []
    top = parts[piece[0]].start[2] + (lacks if drop is not None and drop < piece[0] else 0.0)
    for n in piece:
        if n in runs:
            down = left if n == runs[-1] else MILLIMETRE * round(fall * parts[n].length / whole / MILLIMETRE)
            left -= down
            edits.append(_lay(line, n, (ways[n][0], ways[n][1], -down)))
        if parts[n].step in hanging and not parts[n].is_pipe:
            name, run = hanging[parts[n].step]
            long = run.length + parts[n].start[2] - (top - fall + left)
            if long < lay("tee", run.pipe) + lay("elbow", run.pipe):
                return None
            edits.append(Edit("lay", name, run.step, (), long, (0.0, 0.0, -long)))
        # A bend that only made the belly goes.
        if parts[n].kind in TURNS and parts[n].id is None and parts[n].turn <= STEEP:
            edits.append(Edit("swap", line.name, parts[n].step))
    if drop is not None:
        edits.append(_lay(line, drop, (0.0, 0.0, lacks - parts[drop].length)))
    steps = (
        f"step {parts[runs[0]].step}" if len(runs) == 1 else f"steps {parts[runs[0]].step} to {parts[runs[-1]].step}"
    )
    shorter = "" if drop is None else f", and make step {parts[drop].step} {_small(lacks, units)} shorter"
    drops = [edit.line for edit in edits if edit.line != line.name]
    if drops:
        shorter += (
            f", with the drop{'s' * (len(drops) > 1)} of {listed([repr(name) for name in drops])} at its tees to match"
        )
    slope = f"one even {'fall' if fall > 0.0 else 'rise'} of {_small(abs(fall), units)}"
    words = f"hang {steps} of '{line.name}' anew, with {slope} over {show(whole, 'length', units)}{shorter}"
    money, minutes = prices.of("hang anew", parts[runs[0]].pipe, metres=whole)
    return Change("hang anew", line.name, parts[runs[0]].step, words, "hung anew", tuple(edits), money, minutes)


def _small(length: float, units: Units) -> str:
    """A few millimetres, or as many sixteenths of an inch, as a tape shows them."""
    return inches_text(round(16.0 * length / 0.0254) / 16.0) if units.length == "ft" else f"{1000.0 * length:.0f} mm"


def _lay(line: Line, n: int, way: Vector) -> Edit:
    return Edit("lay", line.name, line.parts[n].step, (), size(way), way)
