"""Lines laid afresh to another end: a drain into the next that runs to the same vessel, a feed off a pump's own line in place of the end of a chain."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from ..check import CheckResult
from ..errors import PlumblineError
from ..hydraulics.valve_service import adjustable
from ..layout.model import Layout, Line, Part, Pipe, Vector
from ..layout.vectors import minus, unit
from ..parts.sizes import outside_of
from ..units import show
from ..upkeep.intervals import subtract
from .change import Change, Edit, changed
from .clean import rodded_with
from .laid import grid_of, walk
from .place import faces_text, free_name, lay
from .prices import Prices
from .script import read_script
from .sheet import LEVEL, PLAIN
from .sizes import larger
from .ways import SLOPE, STUB, bodies, falling, on, way_round

__all__ = ["joined"]

UP: Vector = (0.0, 0.0, 1.0)


def joined(result: CheckResult, narrow: Mapping[str, float], prices: Prices) -> Iterator[Change]:
    """For each line the cheapest way to another end from which the caps that it brings clean all of it; those that are too `narrow` for a brush in pipe of
    the bore [m] that one fits."""
    layout = result.layout
    for line in layout.lines.values():
        if any((part.kind not in PLAIN and not adjustable(part)) or part.kind in ("tee", "wye") for part in line.parts):
            continue
        pipe = _pipe(layout, line, narrow.get(line.name, 0.0))
        found = [
            change
            for to in layout.lines.values()
            if (drains := _drains(result, line, to)) or _hangs(layout, line, to)
            for run in to.parts
            if run.kind == "run" and run.step > 0 and not run.around
            if (change := _laid(layout, line, to, run, pipe, prices, drains=drains)) is not None
        ]
        for change in sorted(found, key=lambda one: one.cost(prices.hour)):
            if _clean(layout, change):
                yield change
                break


def _clean(layout: Layout, change: Change) -> bool:
    try:
        whole = [(0.0, changed(layout, [change]).lines[change.line].length)]
        pipes = rodded_with(layout, (), (change,))[0].values()
    except PlumblineError:
        return False
    return not subtract(whole, [piece for pipe in pipes for piece in pipe.get(change.line, ())], slack=1e-3)


def _pipe(layout: Layout, line: Line, least: float) -> Pipe:
    """The widest of a line, or the next that is rigid and takes a brush."""
    pipe = max((part.pipe for part in line.parts if part.is_pipe), key=lambda one: one.bore)
    rows = larger(layout, pipe, least) if least > pipe.bore or pipe.name.startswith("hose") else []
    return replace(pipe, name=rows[0].name, bore=rows[0].bore, outside=rows[0].outside) if rows else pipe


def _drains(result: CheckResult, line: Line, to: Line) -> bool:
    """Whether a line drains a vessel into the one that another drains to."""
    still = {one.line for one in result.layout.stretches if not result.flows.stretches[one.id].gravity}
    kinds = [end.kind for end in (line.start, line.end, to.start, to.end)]
    same = line.end.name == to.end.name and line.start.name != to.start.name
    down = line.start.port == "standpipe" and to.start.port == "standpipe"
    return line is not to and kinds == ["vessel"] * 4 and same and down and not still & {line.name, to.name}


def _hangs(layout: Layout, line: Line, to: Line) -> bool:
    """Whether a line feeds a vessel off one that itself hangs on a tee, and the other is a pump's own."""
    tee = layout.tees.get(line.start.name or "") if line.start.kind == "tee" else None
    branch = tee is not None and tee.kind == "tee" and tee.legs[2].line == line.name
    on_spur = tee is not None and layout.lines[tee.line].start.kind == "tee"
    return branch and on_spur and line.end.kind == "vessel" and to.start.kind == "pump"


def _laid(
    layout: Layout, line: Line, to: Line, run: Part, pipe: Pipe, prices: Prices, *, drains: bool
) -> Change | None:
    """A line laid to a new tee in a run of another; None where there is no room or no fall."""
    axis = max(range(3), key=lambda n: abs(run.heading_in[n]))
    own = line.start.place if drains else line.end.place
    room = lay("tee", run.pipe) + 2.0 * outside_of(run.pipe)
    at = round(
        min(max((own[axis] - run.start[axis]) * math.copysign(1.0, run.heading_in[axis]), room), run.length - room), 2
    )
    if axis == 2 or at < room or run.pipe.name.startswith("hose") or (drains and run.pipe.bore < pipe.bore):
        return None
    place = on(run.start, run.heading_in, at)
    # Places are cut to the centimetre, and lines meet to two.
    east, north, up = (
        a if n == axis and abs(a - b) < 0.01 else b for n, (a, b) in enumerate(zip(own, place, strict=True))
    )
    tee = (east, north, up)
    sideways = [way for way in LEVEL if abs(way[axis]) < 0.5]
    blocks = bodies(layout, [end.name or "" for end in (line.start, line.end)])
    if drains:
        level = way_round((*own[:2], tee[2]), LEVEL, tee, sideways, blocks, pipe.bore)
        along = falling(level or (tee,), tee[2], SLOPE * layout.limits["least fall"], grid_of(layout.units))
        places = [own, *along] if len(along) > 1 and own[2] - along[0][2] >= STUB else []
    else:
        places = list(way_round(tee, [*sideways, UP], own, [line.parts[-1].heading_out], blocks, pipe.bore) or ())
    if len(places) < 2 or any(math.dist(a, b) < STUB for a, b in pairwise(places)):
        return None
    return _written(layout, line, to, run, at, places, pipe, prices, drains=drains)


def _written(
    layout: Layout,
    line: Line,
    to: Line,
    run: Part,
    at: float,
    places: list[Vector],
    pipe: Pipe,
    prices: Prices,
    *,
    drains: bool,
) -> Change:
    """The change that lays a line through some places, a capped tee at each corner."""
    tee = free_name(layout, f"{line.name} tee")
    valve = next((part.step for part in line.parts if adjustable(part)), None)
    script = read_script(layout.text)
    own = script.of(line.name)
    as_is = None if valve is None or own is None else script.slice(own.steps[valve - 1])
    corners = iter(range(1, len(places) - 1))
    steps = [
        _corner(layout, line, places, next(corners), drains=drains) if text == "elbow" else text
        for text in walk(places, layout.units, valve=as_is)
    ]
    first, *rest = dict.fromkeys(part.step for part in line.parts if part.step > 0)
    edits = [Edit("swap", line.name, first, tuple(steps)), *(Edit("swap", line.name, step) for step in rest)]
    edits += [Edit("end", line.name, int(drains), (tee,)), Edit("split", to.name, run.step, (f"tee: {tee}",), at)]
    if any(part.pipe.name != pipe.name for part in line.parts if part.is_pipe):
        edits.append(Edit("pipe", line.name, 0, (pipe.name,)))
    far = show(at, "length", layout.units)
    words = f"lay '{line.name}' afresh, {'into' if drains else 'from'} a new tee in step {run.step} of '{to.name}', {far} from its beginning"
    if not drains:
        old = layout.tees[line.start.name or ""]
        edits.append(Edit("swap", old.line, old.step))
        words += f", and take tee '{old.id}' out"
    metres = sum(math.dist(a, b) for a, b in pairwise(places))
    money, minutes = prices.of("lay afresh", pipe, metres=metres, fittings=["tee", *["cap"] * (len(places) - 2)])
    return Change("lay afresh", line.name, first, words, "laid afresh", tuple(edits), money, minutes)


def _corner(layout: Layout, line: Line, places: Sequence[Vector], n: int, *, drains: bool) -> str:
    """A capped tee at a corner, for a rod into the leg behind it of a drain, and into the one before it of a feed."""
    near, far = (n, n + 1) if drains else (n, n - 1)
    name = free_name(layout, f"{line.name} cap {n}")
    return f"cap: {{id: {name}, faces: {faces_text(unit(minus(places[near], places[far])))}}}"
