"""What the changes need to know of a place: its part, the room beside it, the way a cap is to face, and names that are free."""

from __future__ import annotations

import math

from .. import catalogue
from ..layout.model import Layout, Line, Part, Pipe, Vector
from ..layout.rewrite import quoted
from ..layout.vectors import angle_between
from ..layout.words import DIRECTIONS
from ..parts.sizes import outside_of
from ..units import inches

__all__ = ["faces_text", "free_name", "inches_text", "lay", "part_at", "room_for"]

STRAIGHT = math.radians(5.0)
"""A cap that faces along an axis, seen from a leg off it by less, is said to face that axis."""


def lay(kind: str, pipe: Pipe) -> float:
    """How much of the walk a fitting takes up on each side of its centre [m]; nothing where it is not known."""
    if kind == "two 45s":
        # The two centres stand 2·lay apart, at the ends of the long side of a right-angled triangle over the old corner.
        return lay("bend 45", pipe) * (1.0 + math.sqrt(2.0))
    row = catalogue.fittings()[kind]
    return row.lay.length(outside_of(pipe)) if row.lay is not None else 0.0


def part_at(line: Line, step: int) -> Part:
    """The part of a step: the fitting or run itself, not what the reader put in beside it."""
    return [part for part in line.parts if part.step == step][-1]


def room_for(line: Line, step: int, kind: str) -> bool:
    """Tell whether a fitting fits in place of the one at a step: neither run beside it is shorter than what it and the fitting
    at the run's far end take up."""
    before = [part for part in reversed(line.parts) if part.step < step]
    after = [part for part in line.parts if part.step > step]
    return _room_along(before, kind) and _room_along(after, kind)


def _room_along(parts: list[Part], kind: str) -> bool:
    """The same one way: `parts` from the place on."""
    first = next((n for n, part in enumerate(parts) if part.is_pipe), None)
    if first is None:
        return True
    run = parts[first]
    beyond = next((part for part in parts[first + 1 :] if part.step != run.step), None)
    taken = 0.0 if beyond is None or beyond.is_pipe else lay(beyond.kind, run.pipe)
    return run.length >= lay(kind, run.pipe) + taken - 1e-9


def faces_text(way: Vector) -> str:
    """A heading as the language says it.

    >>> faces_text((0.0, 0.0, 1.0)), faces_text((0.6, 0.0, -0.8))
    ('up', '{down: 0.8, east: 0.6}')
    """
    for word, axis in DIRECTIONS.items():
        if angle_between(way, axis) <= STRAIGHT:
            return word
    words = {word: sum(a * b for a, b in zip(way, axis, strict=True)) for word, axis in DIRECTIONS.items()}
    some = sorted(((share, word) for word, share in words.items() if share > 5e-4), reverse=True)
    return "{" + ", ".join(f"{word}: {share:.3g}" for share, word in some) + "}"


def free_name(layout: Layout, name: str) -> str:
    """A name that nothing in the layout has yet, as it may stand in the text."""
    taken = {*layout.vessels, *layout.pumps, *layout.tees, *(access.id for access in layout.accesses)}
    taken |= {part.id for line in layout.lines.values() for part in line.parts if part.id}
    count, said = 1, name
    while said in taken:
        count += 1
        said = f"{name} {count}"
    return quoted(said)


def inches_text(length: float) -> str:
    """A length in inches as a tape has it; one that is no sixteenth in decimals.

    >>> inches_text(21.5), inches_text(24.0), inches_text(0.75), inches_text(10.3)
    ('1 ft 9 1/2 in', '2 ft', '3/4 in', '10.3 in')
    """
    if abs(16.0 * length - round(16.0 * length)) > 1e-6:
        return f"{round(length, 9):.10g} in"
    feet, rest = divmod(round(16.0 * length), 12 * 16)
    part = f"{inches(rest / 16.0 * 0.0254, 16)} in" if rest or not feet else ""
    return " ".join(word for word in (f"{feet} ft" if feet else "", part) if word)
