"""Cutting joined lines into stretches, and finding every place where a rod or a hand gets in."""

from __future__ import annotations

from collections.abc import Mapping

from .. import catalogue
from .model import Access, AccessKind, Line, Part, Stretch, Vessel

__all__ = ["BARB", "accesses_of", "beside", "is_hose", "stretches_of"]

_BOUNDARY = ("tee", "wye", "cap", "union")


def stretches_of(lines: Mapping[str, Line]) -> tuple[Stretch, ...]:
    """Cut each line at its tees, wyes, caps and unions. A cap or union goes with the stretch before it."""
    stretches: list[Stretch] = []
    for line in lines.values():
        tail = _point(line, "from")
        start = 0.0
        parts: list[Part] = []
        number = 1
        for part in line.parts:
            if part.kind not in _BOUNDARY:
                parts.append(part)
                continue
            if part.kind in ("cap", "union"):
                parts.append(part)
            head = part.id or ""
            stretches.append(_stretch(line, number, tail, head, start, part.at, parts))
            tail, start, parts, number = head, part.at, [], number + 1
        stretches.append(_stretch(line, number, tail, _point(line, "to"), start, line.length, parts))
    return tuple(stretches)


def _stretch(line: Line, number: int, tail: str, head: str, start: float, stop: float, parts: list[Part]) -> Stretch:
    longest = max(parts, key=lambda part: part.length, default=None)
    bore = longest.pipe.bore if longest is not None else _bore_at(line, start)
    return Stretch(f"{line.name}.{number}", line.name, tail, head, start, stop, tuple(parts), bore)


def _bore_at(line: Line, along: float) -> float:
    """The bore where a stretch has no part of its own: that of the last part before it, or the first after."""
    before = [part.pipe_out.bore for part in line.parts if part.at + part.length <= along + 1e-9]
    return before[-1] if before else line.parts[0].pipe.bore


def _point(line: Line, side: str) -> str:
    end = line.at(side)
    if end.kind == "pump":
        return f"{end.name}.{'out' if side == 'from' else 'in'}"
    if end.kind in ("tee", "cap") and end.name is not None:
        return end.name
    return f"{line.name}.{side}"


def accesses_of(lines: Mapping[str, Line], vessels: Mapping[str, Vessel], arm_reach: float) -> tuple[Access, ...]:
    """Every cap, union and open end, every end of a hose on a barb or under a clip, and every line end in a vessel that an arm reaches from
    the rim; none that lies where no hand gets at it, as the file says.

    `arm_reach` [m] is measured down from the vessel's rim (from its water where the rim is not given).
    """
    found: list[Access] = []
    for line in lines.values():
        found += _end_access(line, "from", vessels, arm_reach)
        for index, part in enumerate(line.parts):
            if not part.around and (kind := _opens_as(line, index)) is not None:
                name, room = part.id or f"{line.name} step {part.step}", part.details.get("room")
                place = (line.name, part.step, part.at, part.start)
                found.append(Access(name, kind, *place, part.faces, part.pipe.bore, room))
        found += _end_access(line, "to", vessels, arm_reach)
    return tuple(found)


def _opens_as(line: Line, index: int) -> AccessKind | None:
    """As what a fitting opens: as it is called or, of a hose's clip or its barb, as a hose end. A clip over a barb is not another one."""
    part = line.parts[index]
    if part.kind == "cap":
        return "cap"
    if part.is_pipe or not catalogue.fittings()[part.kind].access:
        return None
    if part.kind in ("union", "dry socket"):
        return "union" if part.kind == "union" else "standpipe"
    sides = [beside(line, index, forward) for forward in (False, True)]
    barbed = part.kind != BARB and any(one.kind == BARB for side in sides for one in side)
    return "hose end" if not barbed and any(is_hose(side[-1]) for side in sides if side) else None


BARB = "hose adapter"
"""What a hose is pushed on; from it a rod goes into the hose alone."""


def is_hose(part: Part) -> bool:
    """Whether a part is hose, that is pushed on and pulls off."""
    return part.is_pipe and (part.kind == "hose" or (part.pipe.material or "").startswith("hose"))


def beside(line: Line, index: int, forward: bool) -> list[Part]:
    """The fittings from a part on, one way along the line, and the pipe that they lead to."""
    found = []
    for part in line.parts[index + 1 :] if forward else line.parts[:index][::-1]:
        found.append(part)
        if part.is_pipe:
            break
    return found


_ENDS: Mapping[str, AccessKind] = {"cap": "cap", "open air": "open end", "vessel": "vessel"}


def _end_access(line: Line, side: str, vessels: Mapping[str, Vessel], arm_reach: float) -> list[Access]:
    end = line.at(side)
    if end.kind not in _ENDS or end.buried:
        return []
    if end.kind == "vessel":
        vessel = vessels[end.name or ""]
        brim = vessel.base + (vessel.rim if vessel.rim is not None else vessel.water)
        if brim - end.place[2] > arm_reach + 1e-9:
            return []
    name = end.name or "" if end.kind == "cap" else f"{line.name}.{side}"
    along, bore = (0.0, line.parts[0].pipe.bore) if side == "from" else (line.length, line.parts[-1].pipe_out.bore)
    place = (line.name, line.step_at(side), along, end.place)
    return [Access(name, _ENDS[end.kind], *place, end.heading, bore, end.room)]
