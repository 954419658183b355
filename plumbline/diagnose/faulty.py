"""A layout with one thing about it changed by one amount, as each kind of cause changes it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Literal

from ..hydraulics.fittings import part_k
from ..hydraulics.risers import curve_of
from ..hydraulics.valve_service import with_openings
from ..layout.altered import Parts, with_end, with_part, with_parts, with_pump, with_vessel
from ..layout.model import End, Layout, Leg, Part, Pipe, Stretch

__all__ = [
    "can_narrow",
    "filled",
    "hole_loss",
    "leaked_back",
    "narrowed",
    "not_topped_up",
    "opened",
    "raised",
    "resized",
    "with_curve",
    "with_loss",
]

_DEEP = -1e3
"""A float that hangs so far below a vessel's floor [m] never opens its valve."""


def hole_loss(share: float) -> float:
    """K of a plug with a round hole, on the speed in the pipe: (1/(Cc m) − 1)², Cc = 0.63 + 0.37 m³.

    Parameters:
        share: the hole's diameter over the bore; m is its square.

    Returns:
        K [-], nothing where the hole is as wide as the pipe.

    >>> round(hole_loss(0.5), 1)
    28.0

    Reference: Borda and Carnot's loss behind the contraction, with Weisbach's coefficient of contraction (from memory).
    """
    area = share**2
    return float((1.0 / ((0.63 + 0.37 * area**3) * area) - 1.0) ** 2)


def can_narrow(part: Part) -> bool:
    """Whether a part is pipe that a bore of its own can be given to."""
    return part.is_pipe and part.kind != "spray bar" and part.length > 0.0


def _of_bore(pipe: Pipe, share: float) -> Pipe:
    return replace(pipe, bore=pipe.bore * share)


def _bored(part: Part, share: float) -> Part:
    """A part with a share of the bore at either end."""
    return replace(part, pipe=_of_bore(part.pipe, share), pipe_out=_of_bore(part.pipe_out, share))


def narrowed(layout: Layout, runs: set[tuple[str, int, float]], share: float) -> Layout:
    """Runs (line, step, place) with a share of their bore; fittings and tees stay as they are."""

    def change(line: str, parts: Parts) -> Parts:
        return tuple(
            _bored(part, share) if (line, part.step, part.at) in runs and can_narrow(part) else part for part in parts
        )

    return with_parts(layout, change)


def resized(layout: Layout, line: str, share: float) -> Layout:
    """A line of pipe of another size, with the fittings on it and the legs of its tees."""

    def change(name: str, parts: Parts) -> Parts:
        return tuple(_bored(part, share) if name == line and part.kind != "spray bar" else part for part in parts)

    def leg(one: Leg) -> Leg:
        return replace(one, pipe=_of_bore(one.pipe, share)) if one.line == line else one

    tees = {}
    for name, tee in layout.tees.items():
        first, second, branch = map(leg, tee.legs)
        tees[name] = replace(tee, legs=(first, second, branch))
    return replace(with_parts(layout, change), tees=tees)


def with_loss(layout: Layout, stretch: Stretch, at: Part, k: float) -> Layout:
    """A loss of that K behind a part, or before it where it ends its stretch by a fitting, as a fitting of its own."""
    pipe = at.pipe_out if at.is_pipe else at.pipe
    heading = at.heading_out if at.is_pipe else at.heading_in
    place, along = (at.end, at.at + at.length) if at.is_pipe else (at.start, at.at)
    lump = Part("fitting", at.step, place, place, heading, heading, 0.0, 0.0, along, pipe, pipe, at.mark, loss=k)

    def change(line: str, parts: Parts) -> Parts:
        found = next((n for n, part in enumerate(parts) if part is at or part == at), None)
        if line != stretch.line or found is None:
            return parts
        place = found + (1 if at.is_pipe else 0)
        return (*parts[:place], lump, *parts[place:])

    return with_parts(layout, change)


def with_curve(layout: Layout, pump: str, flow: float, head: float, speed: float = 1.0) -> Layout:
    """A pump that gives so much more flow at every head, and head at every flow; `speed` tells how fast it turns for it."""
    old = layout.pumps[pump]
    points = tuple((q * flow, h * head) for q, h in curve_of(layout, old))
    return with_pump(layout, pump, curve=points, speed=old.speed * speed)


def raised(layout: Layout, vessel: str, by: float) -> Layout:
    """A vessel that stands higher, with the pipe ends in it."""
    layout = with_vessel(layout, vessel, base=layout.vessels[vessel].base + by)
    for name, side, end in list(_ends_at(layout, vessel)):
        layout = with_end(layout, name, side, place=(*end.place[:2], end.place[2] + by))
    return layout


def _ends_at(layout: Layout, vessel: str) -> Iterator[tuple[str, Literal["start", "end"], End]]:
    """The ends of lines in a vessel: the line, the side of it and the end."""
    sides: tuple[Literal["start", "end"], ...] = ("start", "end")
    for name, side in product(layout.lines, sides):
        end: End = getattr(layout.lines[name], side)
        if end.kind == "vessel" and end.name == vessel:
            yield name, side, end


def leaked_back(layout: Layout, line: str, check: Part, share: float) -> Layout:
    """A check valve that leaves an opening of a share of its bore."""
    return with_part(layout, line, check, kind="union", loss=part_k(check).forward + hole_loss(share))


def opened(layout: Layout, valve: tuple[str, int], opening: float) -> Layout:
    """A valve (line, step) that stands otherwise."""
    return with_openings(layout, {valve: opening})


def not_topped_up(layout: Layout, vessel: str, by: float) -> Layout:
    """A vessel with less water in it, whose float valves stay shut; nothing that goes to the air is made good any more."""
    for name, side, end in list(_ends_at(layout, vessel)):
        if end.float_valve is not None:
            layout = with_end(layout, name, side, float_valve=_DEEP)
    for name in layout.vessels:
        layout = with_vessel(layout, name, loses=0.0)
    return filled(layout, vessel, by)


def filled(layout: Layout, vessel: str, by: float) -> Layout:
    """A vessel with more water in it before the pumps start."""
    return with_vessel(layout, vessel, water=layout.vessels[vessel].water + by)
