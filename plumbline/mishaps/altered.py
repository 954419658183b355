"""Copies of a layout in which one thing is otherwise: a part, a line's end, a pump, a joint that has come apart."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

from ..layout.model import Access, Layout, Part, Stretch

__all__ = ["parted", "with_end", "with_part", "with_pump"]


def with_part(layout: Layout, line: str, part: Part, **changes: Any) -> Layout:
    """The layout with one part of a line otherwise."""
    new = replace(part, **changes)

    def put(parts: tuple[Part, ...]) -> tuple[Part, ...]:
        return tuple(new if one is part or one == part else one for one in parts)

    lines = {**layout.lines, line: replace(layout.lines[line], parts=put(layout.lines[line].parts))}
    stretches = tuple(replace(one, parts=put(one.parts)) if one.line == line else one for one in layout.stretches)
    return replace(layout, lines=lines, stretches=stretches)


def with_end(layout: Layout, line: str, side: Literal["start", "end"], **changes: Any) -> Layout:
    """The layout with one end of a line otherwise."""
    old = layout.lines[line]
    new = replace(getattr(old, side), **changes)
    return replace(layout, lines={**layout.lines, line: replace(old, **{side: new})})


def with_pump(layout: Layout, pump: str, **changes: Any) -> Layout:
    """The layout with one pump otherwise."""
    return replace(layout, pumps={**layout.pumps, pump: replace(layout.pumps[pump], **changes)})


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
