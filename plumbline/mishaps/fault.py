"""Every single part that can go wrong, as a change of the layout or of what the day is followed with."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from ..hydraulics.fittings import part_k
from ..hydraulics.opened import pulled
from ..hydraulics.valve_service import adjustable, label, with_openings
from ..layout.altered import with_end, with_part, with_parts, with_pump
from ..layout.model import Access, End, Layout, Line, Part, Stretch
from ..upkeep.words import access_name

__all__ = ["Fault", "faults_of", "lengths_of", "working"]

SCREENS = ("screen", "strainer")


@dataclass(frozen=True)
class Fault:
    """One part gone wrong. `kind` is a row of `catalogue/mishaps.yaml`; `part` says which, in the user's words, at `step` of `line`; `key`
    tells it from others and stays the same when steps are put in elsewhere. `layout` is what is left of it, with stretches `blocked`, caps
    `opened` and pumps `off`; `spills` are ends ("LINE.to") whose water falls beside its vessel. `after` is the kind of the mishap that brings a
    hidden one to light; `shows` the event of sound running, by kind and where, at which it begins to tell. `note` says what else to know."""

    kind: str
    part: str
    line: str | None
    step: int | None
    key: str
    layout: Layout
    blocked: frozenset[str] = frozenset()
    opened: frozenset[str] = frozenset()
    off: frozenset[str] = frozenset()
    spills: tuple[str, ...] = ()
    after: str = ""
    shows: tuple[str, str] | None = None
    note: str = ""

    @property
    def effect(self) -> tuple[object, ...]:
        """What it comes to: faults with the same are followed once."""
        return id(self.layout), self.blocked, self.opened, self.off, self.shows


def faults_of(layout: Layout) -> Iterator[Fault]:
    """Give every fault of the single parts of a layout, but for jets, for which the water has to be known."""
    running = frozenset(working(layout))
    for name in working(layout):
        yield from _of_pump(layout, name)
    if running:
        yield Fault("power away", "power", None, None, "power", layout, off=running)
    for pieces in lengths_of(layout):
        yield from _of_length(layout, pieces)
    for name in layout.indexing:
        yield Fault("indexing valve stuck", f"the indexing valve '{name}'", None, None, name, _unturned(layout, name))
    for line in layout.lines.values():
        yield from _of_ends(layout, line)
    for access in layout.accesses:
        if access.kind == "standpipe":
            part = access_name(layout, access)
            yield Fault("standpipe out", part, access.line, access.step, access.id, pulled(layout, access.line))
        if access.kind == "cap":
            part, opened = f"cap '{access.id}'", frozenset([access.id])
            yield Fault("cap left open", part, access.line, access.step, access.id, layout, opened=opened)


def working(layout: Layout) -> list[str]:
    """The pumps that feed a line and do not stand by."""
    feeding = {stretch.tail for stretch in layout.stretches}
    return [name for name, pump in layout.pumps.items() if f"{name}.out" in feeding and not pump.stands_by]


def _rests(layout: Layout, line: str) -> bool:
    """Whether the pump that a line begins at rests while others run, or at times: then its check valve has something to keep back each day."""
    pump = layout.pumps.get(layout.lines[line].start.name or "")
    return pump is not None and (pump.runs is not None or pump.switch is not None)


def _unturned(layout: Layout, valve: str) -> Layout:
    """An indexing valve that no flow is enough to turn."""

    def stick(part: Part) -> Part:
        mine = (part.kind, part.id) == ("indexing valve", valve)
        return replace(part, details={**part.details, "least": math.inf}) if mine else part

    return with_parts(layout, lambda _, parts: tuple(map(stick, parts)))


def lengths_of(layout: Layout) -> list[tuple[Stretch, ...]]:
    """The pipe between tees and ends: stretches that follow each other over caps and unions, which stop the same water wherever they are
    blocked."""
    found: list[list[Stretch]] = []
    for stretch in layout.stretches:
        before = found[-1][-1] if found else None
        if (
            before is not None
            and (before.line, before.head) == (stretch.line, stretch.tail)
            and stretch.tail not in layout.tees
        ):
            found[-1].append(stretch)
        else:
            found.append([stretch])
    return [tuple(pieces) for pieces in found]


def _of_pump(layout: Layout, name: str) -> Iterator[Fault]:
    pump, part = layout.pumps[name], f"pump '{name}'"
    off = frozenset([name])
    yield Fault("pump stopped", part, None, None, name, layout, off=off)
    first = next(one for one in layout.stretches if one.tail == f"{name}.out")
    if pump.airlift is None:
        yield Fault("intake blocked", part, None, None, name, layout, blocked=frozenset([first.id]))
    if pump.switch is not None:
        for state, next_turn, changed, still in (
            ("on", "pump off", with_pump(layout, name, switch=None), frozenset[str]()),
            ("off", "pump on", layout, off),
        ):
            kind, shows = f"float switch stuck {state}", (next_turn, name)
            yield Fault(kind, part, None, None, name, changed, off=still, shows=shows)
    if pump.runs is not None:
        yield Fault("timer stuck on", part, None, None, name, with_pump(layout, name, runs=None))
        yield Fault("timer stuck off", part, None, None, name, layout, off=off)


def _of_length(layout: Layout, pieces: tuple[Stretch, ...]) -> Iterator[Fault]:
    first, last = pieces[0], pieces[-1]
    line = layout.lines[first.line]
    if not first.parts and first.tail in layout.tees and layout.tees[first.tail].outlet:
        return  # within an indexing valve
    stop = frozenset([first.id])
    step = first.parts[0].step if first.parts else None
    start = line.start if first.tail == f"{line.name}.from" else None
    kind, part = "pipe blocked", _length_words(layout, line, pieces)
    if start is not None and start.weir is not None:
        if start.weir.whole and line.length == 0.0:
            return  # nothing stops a whole edge
        kind, part = "notch blocked", f"the {start.called} of '{line.name}' in '{start.name}'"
    elif start is not None and start.kind == "vessel" and start.port == "standpipe":
        kind, part = "standpipe blocked", f"the {start.called} of '{line.name}' in '{start.name}'"
    elif start is not None and start.kind == "vessel" and line.end.kind != "pump":
        kind = "drain blocked"
    yield Fault(kind, part, line.name, step, f"{first.tail} {last.head}", layout, blocked=stop)
    for piece in pieces:
        for index, one in enumerate(piece.parts):
            yield from _of_part(layout, piece, index, one, stop)


def _length_words(layout: Layout, line: Line, pieces: tuple[Stretch, ...]) -> str:
    tail, head = pieces[0].tail, pieces[-1].head
    begins, ends = tail == _point(line, "from"), head == _point(line, "to")
    ends = ends or (head in layout.tees and layout.tees[head].outlet > 0)
    if begins and ends:
        return f"'{line.name}'"
    return f"'{line.name}'{'' if begins else f' from {tail!r}'}{'' if ends else f' up to {head!r}'}"


def _point(line: Line, side: str) -> str:
    end: End = line.start if side == "from" else line.end
    if end.kind == "pump":
        return f"{end.name}.{'out' if side == 'from' else 'in'}"
    return end.name if end.kind in ("tee", "cap") and end.name is not None else f"{line.name}.{side}"


def _of_part(layout: Layout, stretch: Stretch, index: int, part: Part, stop: frozenset[str]) -> Iterator[Fault]:
    name, step = stretch.line, part.step
    said = label(name, part)
    key = f"{part.kind} {part.id or ''} {name} {sum(one.kind == part.kind for one in layout.lines[name].parts if one.at < part.at)}"
    k = part_k(part)

    def fault(
        kind: str, changed: Layout, said: str = said, blocked: frozenset[str] = frozenset(), after: str = ""
    ) -> Fault:
        off = frozenset(layout.pumps) if after else frozenset[str]()
        return Fault(kind, said, name, step, key, changed, blocked, off=off, after=after)

    if part.kind in SCREENS:
        yield fault("screen blocked", layout, blocked=stop)
    if k.one_way:
        yield fault("check valve stuck shut", layout, blocked=stop)
        open_flap = with_part(layout, name, part, kind="union", loss=k.forward)
        if _rests(layout, name):
            yield fault("check valve lets back", open_flap)
        else:
            yield fault("check valve stuck open", open_flap, after="power away")
    elif part.runs is not None:
        yield fault("timed valve stuck open", with_part(layout, name, part, runs=None, opening=1.0))
        yield fault("timed valve stuck shut", layout, blocked=stop)
    elif adjustable(part):
        if not k.shut:
            yield fault("valve shut", layout, blocked=stop)
        if part.opening < 1.0:
            yield fault("valve wide open", with_openings(layout, {(name, step): 1.0}))
    if part.kind == "hose":
        changed, ends = parted(layout, stretch, index)
        yield Fault("hose off", f"the hose at step {step} of '{name}'", name, step, key, changed, opened=ends)


def _of_ends(layout: Layout, line: Line) -> Iterator[Fault]:
    def fault(kind: str, part: str, changed: Layout, blocked: frozenset[str] = frozenset()) -> Fault:
        return Fault(kind, part, line.name, None, line.name, changed, blocked)

    sides: tuple[tuple[Literal["start", "end"], End], ...] = (("start", line.start), ("end", line.end))
    for side, end in sides:
        point = f"{line.name}.{'from' if side == 'start' else 'to'}"
        if end.float_valve is not None:
            near = next(one for one in layout.stretches if one.line == line.name and point in (one.tail, one.head))
            part = f"the top-up of '{end.name}'"
            yield fault("top-up stuck open", part, with_end(layout, line.name, side, float_valve=None))
            yield fault("top-up stuck shut", part, layout, frozenset([near.id]))
        if end.siphon is not None:
            part = f"the siphon in '{end.name}'"
            foot = (*end.place[:2], layout.vessels[end.name or ""].base + end.siphon.breaks)
            yield fault("siphon never starts", part, with_end(layout, line.name, side, siphon=None))
            # It draws down to its bell and holds the water there, as a pipe's end at that height does.
            held = with_end(layout, line.name, side, siphon=None, port="open", place=foot)
            yield fault("siphon never stops", part, held)


def parted(layout: Layout, stretch: Stretch, index: int) -> tuple[Layout, frozenset[str]]:
    """The layout with a stretch in two before one of its parts, and the two open ends, as caps to be opened."""
    part = stretch.parts[index]
    names = (f"{stretch.id} off", f"{stretch.id} loose")
    before = replace(stretch, head=names[0], parts=stretch.parts[:index], stop=part.at)
    after = replace(stretch, id=names[1], tail=names[1], parts=stretch.parts[index:], start=part.at)
    ends = tuple(
        Access(name, "cap", stretch.line, part.step, part.at, part.start, None, part.pipe.bore) for name in names
    )
    pieces = tuple(piece for one in layout.stretches for piece in ((before, after) if one.id == stretch.id else (one,)))
    return replace(layout, stretches=pieces, accesses=(*layout.accesses, *ends)), frozenset(names)
