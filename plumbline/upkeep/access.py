"""Whether a hand gets at an opening: how far down in a vessel it lies, and how much room there is in front of it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from .. import catalogue
from ..findings import as_tuple
from ..layout.model import Access, End, Layout, Line, Vessel
from ..units import show
from .intervals import Intervals, union
from .room_ahead import RoomAhead

__all__ = ["closed_accesses", "deep_pipe", "free_room", "ports_out_of_reach", "water_around"]

NEAR = 1e-6
"""Places nearer than this [m] are the same."""

LEVEL = 0.5
"""A mouth whose heading has this share or more along the level looks at a wall."""

STEEP = 0.5
"""Pipe that falls by more than this share of its length, from the end that stands in a vessel, stands in the vessel too."""


def brim(vessel: Vessel) -> float:
    """Give the height of a vessel's rim above the datum [m]: of its water, where the file gives no rim."""
    return vessel.base + (vessel.rim if vessel.rim is not None else vessel.water)


@as_tuple
def ports_out_of_reach(layout: Layout) -> Iterator[Access]:
    """Give the line ends in vessels that lie deeper below the rim than the limit `arm reach` [m], as accesses that would be."""
    known = {access.id for access in layout.accesses}
    for line in layout.lines.values():
        steps = line.parts[-1].step + 1 if line.parts else 0
        for side, end, step, at in (("from", line.start, 0, 0.0), ("to", line.end, steps, line.length)):
            name = f"{line.name}.{side}"
            if end.kind == "vessel" and line.parts and name not in known and _too_deep(layout, end):
                bore = (line.parts[0].pipe if side == "from" else line.parts[-1].pipe_out).bore
                yield Access(name, "vessel", line.name, step, at, end.place, end.heading, bore)


def closed_accesses(layout: Layout) -> dict[str, str]:
    """Tell for each access, by id, that no hand gets at it, why: only those are named."""
    deep = deep_pipe(layout)
    found = {}
    for access in (*layout.accesses, *ports_out_of_reach(layout)):
        vessel: str | None = None
        if access.kind == "vessel":
            line = layout.lines[access.line]
            end = line.start if access.step == 0 else line.end
            vessel = end.name if _too_deep(layout, end) else None
        elif access.kind == "standpipe":
            # It is lifted out by its top, and the rod goes down to its socket from above.
            vessel = (
                layout.lines[access.line].start.name if _too_deep(layout, layout.lines[access.line].start) else None
            )
        else:
            start = layout.lines[access.line].start
            inside = _stands_in(layout, start) if access.at < NEAR and start.kind == "pump" else None
            deeper = inside is not None and _too_deep(layout, start, inside)
            vessel = (
                inside.name
                if inside is not None and deeper
                else next((name for name, pipe in deep[access.line] if _lies(access.at, pipe)), None)
            )
        if vessel is not None:
            below = show(brim(layout.vessels[vessel]) - access.place[2], "length", layout.units)
            arm = show(layout.limits["arm reach"], "length", layout.units)
            found[access.id] = f"{below} below the rim of '{vessel}', where an arm reaches {arm}"
    return found


def deep_pipe(layout: Layout) -> dict[str, tuple[tuple[str, Intervals], ...]]:
    """Give the pipe that stands in a vessel deeper than an arm reaches, by line: the vessel, and where [m along the line].

    Pipe stands in a vessel from a submersible pump or an end that it rises from, up to the rim, and from a standpipe's crest
    down to the floor, as long as it is steep and no bulkhead takes it through the wall. Where it runs level the file does not
    tell whether it has left the vessel, and nothing is said of it.
    """
    return {
        line.name: tuple(
            (vessel.name, pipe)
            for forward in (True, False)
            for vessel in [_stands_in(layout, line.start if forward else line.end)]
            if vessel is not None and (pipe := union(_deep(layout, line, vessel, forward, layout.limits["arm reach"])))
        )
        for line in layout.lines.values()
    }


def water_around(layout: Layout, name: str, at: float, height: float) -> Vessel | None:
    """Give the vessel under whose own water an opening is, in a line's pipe that rises out of it, so that what it
    lets out stays in there. It is `at` [m] along
    the line, at a `height` [m above the datum]."""
    line = layout.lines[name]
    for forward, end in ((True, line.start), (False, line.end)):
        vessel = _stands_in(layout, end)
        under = vessel is not None and end.port != "standpipe" and height < vessel.level
        if vessel is not None and under and _lies(at, union(_deep(layout, line, vessel, forward, 0.0))):
            return vessel
    return None


def _lies(at: float, pipe: Intervals) -> bool:
    return any(low - NEAR / 10 <= at <= high + NEAR / 10 for low, high in pipe)


def _too_deep(layout: Layout, end: End, inside: Vessel | None = None) -> bool:
    depth = brim(inside or layout.vessels[end.name or ""]) - end.place[2]
    return depth > layout.limits["arm reach"] + 1e-9


def _stands_in(layout: Layout, end: End) -> Vessel | None:
    if end.kind == "vessel" and end.name is not None:
        return layout.vessels[end.name]
    inside = layout.pumps[end.name or ""].vessel if end.kind == "pump" else None
    return None if inside is None else layout.vessels[inside]


def _deep(layout: Layout, line: Line, vessel: Vessel, forward: bool, arm: float) -> Iterator[tuple[float, float]]:
    """Pipe of a line that stands in a vessel, so far under its rim."""
    end = line.start if forward else line.end
    top, floor = brim(vessel) - arm, vessel.base
    down = end.port == "standpipe"
    for part in line.parts if forward else reversed(line.parts):
        if not part.is_pipe and catalogue.fittings()[part.kind].through_wall:
            return
        if not part.is_pipe or part.length <= 0.0:
            continue
        near, far = (part.start[2], part.end[2]) if forward else (part.end[2], part.start[2])
        if (near - far if down else far - near) <= STEEP * part.length:
            return
        # Heights that are deep, as shares of the run; the foot of a standpipe is where it goes through the floor.
        low, high = max(min(near, far), floor), min(max(near, far), top)
        if high > low:
            one, two = sorted(((low - near) / (far - near), (high - near) / (far - near)))
            start, stop = (one, two) if forward else (1.0 - two, 1.0 - one)
            inset = NEAR if down else 0.0
            yield part.at + start * part.length + inset, part.at + stop * part.length - inset
        if (far < floor) if down else (far > brim(vessel)):
            return


def free_room(layout: Layout, ahead: RoomAhead) -> dict[str, float]:
    """Give the clear space in front of each cap, open end and mouth in a vessel [m], by id, as far as the file tells.

    What the file states counts. Else it is the way, straight out of the opening, to the next pipe whose place against it is
    known: of the same line, or of lines joined to it by tees. It is measured from the fitting's centre. In front of a mouth in a vessel also
    its floor and the wall across it count. Vessels have no other outline in the file, and walls are not in it, so that it cannot know more.
    """
    return {
        access.id: access.room
        if access.room is not None
        else min(ahead.of(access.line, access.place, access.faces, access.bore), room_inside(layout, access))
        for access in layout.accesses
        if access.faces is not None and access.kind != "union"
    }


def room_inside(layout: Layout, access: Access) -> float:
    """Give the way straight out of a mouth in a vessel to its floor or to the wall across it [m]; infinite for other accesses.

    The width of a vessel is that of a square or, where the file says so, a circle of its area.
    """
    line = layout.lines[access.line]
    end = line.start if access.step == 0 else line.end
    if access.kind != "vessel" or access.faces is None or end.name is None:
        return math.inf
    vessel, (east, north, up) = layout.vessels[end.name], access.faces
    found = math.inf
    if up < -NEAR:
        found = max(access.place[2] - vessel.base, 0.0) / -up
    level = math.hypot(east, north)
    if level > LEVEL and vessel.area is not None and vessel.base <= access.place[2] < brim(vessel):
        width = math.sqrt(vessel.area) * (2.0 / math.sqrt(math.pi) if vessel.shape == "round" else 1.0)
        found = min(found, width / level)
    return found
