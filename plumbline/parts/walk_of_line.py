"""A line as a plumber builds it: pieces of pipe and what stands between them, in order, with what the file implies put in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from ..layout.model import Layout, Line, Part, Pipe, Vector
from ..units import Units, drill_words
from .model import Side
from .passing import Passage, passage
from .sizes import TeeFit, alike, both, coupling_gap, is_hose, lay_of, outside_of, socket_depth

__all__ = ["SIDES", "Element", "Segment", "Stands", "barbed", "walk_of"]

_BENDS = math.radians(10.0)
"""A fitting that turns more than this keeps its place when others stand beside it."""
SIDES: tuple[Side, Side] = ("from", "to")


@dataclass(frozen=True, slots=True)
class Element:
    """What stands between pieces of pipe. `name` says it in the user's words; `before` and `after` [m] are what it takes of the
    pipe on either side (None: not known).

    `kind`, `size` and `why` are those of the part to buy, `kind` empty where there is none or it is counted elsewhere. `fixed`:
    it keeps its place when others stand beside it; `loose`: an end that gives way. `socket`: pipe goes into it.
    """

    name: str
    step: int
    point: Vector
    pipe_before: Pipe
    pipe_after: Pipe
    before: float | None = None
    after: float | None = None
    kind: str = ""
    size: str = ""
    why: str = ""
    turn: float = 0.0
    fixed: bool = False
    loose: bool = False
    socket: bool = True
    bush: bool = False


@dataclass(frozen=True, slots=True)
class Segment:
    """Pipe or hose without anything in between. `steps` are its runs, `centres` [m] its length along the walk; `note` what is
    to be done to it."""

    pipe: Pipe
    hose: bool
    steps: tuple[int, ...]
    centres: float
    start: Vector
    end: Vector
    note: str = ""


@dataclass(frozen=True, slots=True)
class Stands:
    """A line in order: `stacks[0]`, `segments[0]`, `stacks[1]`, … `stacks[-1]`; a stack is what stands at one place.
    `passages` tell how its two ends get into their vessels."""

    line: Line
    stacks: tuple[tuple[Element, ...], ...]
    segments: tuple[Segment, ...]
    passages: tuple[Passage | None, Passage | None]


def walk_of(layout: Layout, line: Line, tees: Mapping[str, TeeFit]) -> Stands:
    """Put a line's pieces and fittings in order; `tees` are those of the layout by their id."""
    ways = (passage(layout, line, "from"), passage(layout, line, "to"))
    first = _end_element(line, "from", ways[0], tees)
    if first.kind == "pump adapter" and layout.pumps[line.start.name or ""].airlift is not None:
        first = replace(first, name=f"top of airlift '{line.start.name}'", kind="")
    stacks: list[list[Element]] = [[first]]
    segments: list[Segment] = []
    open_run = False
    for index, part in enumerate(line.parts):
        if part.is_pipe:
            for piece, through in _cut_at_floors(line, index, part, ways, layout.units):
                last = segments[-1] if open_run else None
                if last is not None and last.pipe == piece.pipe and last.hose == piece.hose:
                    note = "; ".join(one for one in (last.note, piece.note) if one)
                    segments[-1] = replace(
                        last,
                        steps=tuple(dict.fromkeys((*last.steps, *piece.steps))),
                        note=note,
                        centres=last.centres + piece.centres,
                        end=piece.end,
                    )
                elif piece.centres > 1e-9:
                    if last is not None:
                        stacks.append(_adapter(last, piece))
                    segments.append(piece)
                    open_run = True
                if through is not None:
                    stacks = [*stacks, []] if open_run else stacks
                    stacks[-1].append(through)
                    open_run = False
        elif _with_tee(line, part):
            continue
        else:
            if open_run:
                stacks.append([])
                open_run = False
            stacks[-1].append(_fitting(line, part, tees))
    if open_run:
        stacks.append([])
    stacks[-1].append(_end_element(line, "to", ways[1], tees))
    settled = [_with_tails(_with_bushes(stack), k, segments) for k, stack in enumerate(stacks)]
    return Stands(line, tuple(settled), tuple(segments), ways)


def _with_tee(line: Line, part: Part) -> bool:
    """Whether a part is counted with the tee that it stands at."""
    if part.kind == "hose adapter":
        return any(part is _last(line, side) and barbed(line, side, "tee") for side in SIDES)
    late = part.kind == "tee" and part.details.get("outlet", 0.0) > 1.0
    return late or part.kind in ("three-way valve", "indexing valve") or part.details.get("cross") == 2.0


def barbed(line: Line, side: Side, kind: str) -> bool:
    """Whether the file states the barb on which hose sits at an end that is a tee or a pump (`kind`): the same that is implied without it."""
    end, part = line.at(side), _last(line, side)
    return end.kind == kind and part.kind == "hose adapter" and is_hose(part.pipe) and is_hose(part.pipe_out)


def _last(line: Line, side: Side) -> Part:
    return line.parts[0] if side == "from" else line.parts[-1]


def _end_element(line: Line, side: Side, way: Passage | None, tees: Mapping[str, TeeFit]) -> Element:
    end, part = line.at(side), _last(line, side)
    pipe = part.pipe if side == "from" else part.pipe_out
    at = (line.step_at(side), end.place, pipe, pipe)
    if way is not None and way.how == "end":
        port = end.port == "port" or end.in_wall
        why = f"'{line.name}' {'has a port in' if port else 'goes through the floor of'} '{way.vessel}'"
        return Element(f"bulkhead of '{way.vessel}'", *at, kind="bulkhead", size=pipe.name, why=why, fixed=True)
    if end.kind == "pump" and barbed(line, side, "pump"):
        return Element(f"barb of pump '{end.name}'", *at, loose=True, socket=False)
    if end.kind == "pump":
        why = f"pump '{end.name}' {'feeds' if side == 'from' else 'is fed by'} '{line.name}'"
        return Element(f"adapter of pump '{end.name}'", *at, kind="pump adapter", size=pipe.name, why=why, loose=True)
    if end.kind == "tee":
        fit = tees[end.name or ""]
        take = fit.legs[line.name, side]
        return Element(f"{fit.kind} '{end.name}'", *at, take, take, fixed=True)
    if end.kind in ("cap", "plug"):
        name = f"cap '{end.name}'" if end.kind == "cap" else "plug"
        return Element(name, *at, 0.0, 0.0, f"end {end.kind}", pipe.name, loose=True)
    return Element("open end", *at, 0.0, 0.0, loose=True, socket=False)


def _fitting(line: Line, part: Part, tees: Mapping[str, TeeFit]) -> Element:
    pipes = (part.pipe, part.pipe_out)
    plain = Element(
        f"{part.kind} '{part.id}'" if part.id else part.kind,
        *(part.step, part.start, *pipes),
        kind=part.kind,
        size=part.pipe.name,
        turn=part.turn,
        fixed=part.turn > _BENDS,
    )
    if part.kind in ("tee", "wye"):
        # Counted once, with its three legs: see bill.py.
        before, after = (tees[part.id or ""].legs.get((line.name, side)) for side in ("before", "after"))
        return replace(plain, kind="", fixed=True, before=before, after=after)
    if part.kind in ("reducer", "expander"):
        kind = "hose adapter" if any(map(is_hose, pipes)) else "reducer"
        said = any(other.is_pipe and other.step == part.step for other in line.parts)
        why = f"the pipe of '{line.name}' changes at step {part.step}" if said else ""
        return replace(plain, name=kind, kind=kind, size=both(*pipes), why=why)
    if part.kind == "hose adapter":
        return plain if part.pipe.name == part.pipe_out.name else replace(plain, size=both(*pipes))
    take = lay_of(part.kind, part.pipe, part.turn)
    return replace(plain, before=take, after=take)


def _cut_at_floors(
    line: Line, index: int, part: Part, ways: tuple[Passage | None, Passage | None], units: Units
) -> list[tuple[Segment, Element | None]]:
    """A run, in pieces where it passes through a floor, each with the bulkhead that follows it."""
    hose = part.kind == "hose" or is_hose(part.pipe)
    cuts = sorted((way.at, way.vessel) for way in ways if way is not None and way.how == "run" and way.part == index)
    note = ""
    if part.kind == "spray bar":
        holes = part.details.get("holes", 0.0)
        note = f"drill {holes:.0f} holes of {drill_words(part.details.get('hole', 0.0), units)}"
        if "dripper" in part.details:
            each = 3.6e6 * part.details["dripper"]
            note = f"{holes:.0f} drippers of {each:.3g} L/h at {1e-5 * part.details['at']:.3g} bar"
    out: list[tuple[Segment, Element | None]] = []
    done = 0.0
    for at, vessel in (*cuts, (part.length, None)):
        start, end = (_between(part, along) for along in (done, at))
        segment = Segment(part.pipe, hose, (part.step,) if part.step else (), at - done, start, end, note)
        through = None
        if vessel is not None:
            why = f"'{line.name}' goes through the floor of '{vessel}'"
            place = (part.step, end, part.pipe, part.pipe)
            through = Element(f"bulkhead of '{vessel}'", *place, kind="bulkhead", size=part.pipe.name, why=why)
        out.append((segment, through))
        done = at
    return out


def _between(part: Part, along: float) -> Vector:
    share = along / part.length if part.length > 0.0 else 0.0
    east, north, up = (a + share * (b - a) for a, b in zip(part.start, part.end, strict=True))
    return (east, north, up)


def _adapter(before: Segment, after: Segment) -> list[Element]:
    """What joins two unlike pipes of one bore, or pipe and hose, where the file has nothing in between."""
    why = f"the pipe changes at step {after.steps[0]}"
    at = (after.steps[0], after.start, before.pipe, after.pipe)
    if before.hose != after.hose:
        return []
    if alike(before.pipe, after.pipe):
        gap = None if socket_depth(before.pipe) is None else coupling_gap() / 2.0
        return [Element("coupling", *at, gap, gap, "coupling", before.pipe.name, why)]
    return [Element("adapter", *at, kind="adapter", size=both(before.pipe, after.pipe), why=why)]


def _with_bushes(stack: list[Element]) -> list[Element]:
    """A reducer whose large side stands at a socket is a bush glued into it."""
    out = list(stack)
    for k, one in enumerate(out):
        if one.kind != "reducer":
            continue
        falls = outside_of(one.pipe_after) < outside_of(one.pipe_before)
        j = k - 1 if falls else k + 1
        large, small = (one.pipe_before, one.pipe_after) if falls else (one.pipe_after, one.pipe_before)
        if not 0 <= j < len(out) or not out[j].socket or out[j].bush or out[j].loose:
            continue
        facing = out[j].pipe_after if falls else out[j].pipe_before
        if not alike(facing, large) or is_hose(facing):
            continue
        deep, shallow = socket_depth(large), socket_depth(small)
        more = None if deep is None or shallow is None else deep - shallow
        takes = (0.0, more) if falls else (more, 0.0)
        out[k] = replace(one, kind="reducing bush", name="reducing bush", before=takes[0], after=takes[1], bush=True)
    return out


def _with_tails(stack: list[Element], k: int, segments: list[Segment]) -> tuple[Element, ...]:
    """Hose goes on a barbed fitting; on a rigid one only with an adapter, which is put in."""
    out = list(stack)
    before = segments[k - 1] if k > 0 else None
    after = segments[k] if k < len(segments) else None
    if not out and before is not None and after is not None and before.hose != after.hose:
        hose, rigid = (before, after) if before.hose else (after, before)
        return (_tail(hose, rigid.pipe, after.steps[0], after.start),)
    if out and before is not None and before.hose and _wants_tail(out[0], out[0].pipe_before):
        out.insert(0, _tail(before, out[0].pipe_before, out[0].step, out[0].point))
    if out and after is not None and after.hose and _wants_tail(out[-1], out[-1].pipe_after):
        out.append(_tail(after, out[-1].pipe_after, out[-1].step, out[-1].point))
    return tuple(out)


def _wants_tail(element: Element, facing: Pipe) -> bool:
    return element.socket and not is_hose(facing) and element.kind not in ("hose adapter", "pump adapter")


def _tail(hose: Segment, rigid: Pipe, step: int, point: Vector) -> Element:
    size = both(rigid, hose.pipe) if is_hose(hose.pipe) else f"{rigid.name} x hose"
    why = f"hose begins or ends at step {step}"
    return Element("hose adapter", step, point, rigid, rigid, kind="hose adapter", size=size, why=why)
