"""Copies of a layout in which something is otherwise: parts, a line's end, a pump, a vessel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal

from .model import Layout, Part

__all__ = ["Parts", "with_end", "with_part", "with_parts", "with_pump", "with_vessel"]

Parts = tuple[Part, ...]


def with_parts(layout: Layout, change: Callable[[str, Parts], Parts]) -> Layout:
    """The layout with the parts of its lines and stretches, by the line's name, changed alike."""
    lines = {name: replace(line, parts=change(name, line.parts)) for name, line in layout.lines.items()}
    stretches = tuple(replace(one, parts=change(one.line, one.parts)) for one in layout.stretches)
    return replace(layout, lines=lines, stretches=stretches)


def with_part(layout: Layout, line: str, part: Part, **changes: Any) -> Layout:
    """The layout with one part of a line otherwise."""
    new = replace(part, **changes)

    def put(name: str, parts: Parts) -> Parts:
        return tuple(new if name == line and (one is part or one == part) else one for one in parts)

    return with_parts(layout, put)


def with_end(layout: Layout, line: str, side: Literal["start", "end"], **changes: Any) -> Layout:
    """The layout with one end of a line otherwise."""
    old = layout.lines[line]
    new = replace(getattr(old, side), **changes)
    return replace(layout, lines={**layout.lines, line: replace(old, **{side: new})})


def with_pump(layout: Layout, pump: str, **changes: Any) -> Layout:
    """The layout with one pump otherwise."""
    return replace(layout, pumps={**layout.pumps, pump: replace(layout.pumps[pump], **changes)})


def with_vessel(layout: Layout, vessel: str, **changes: Any) -> Layout:
    """The layout with one vessel otherwise."""
    return replace(layout, vessels={**layout.vessels, vessel: replace(layout.vessels[vessel], **changes)})
