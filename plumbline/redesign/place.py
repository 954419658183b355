"""What the changes need to know of a place: its pipe, the room beside it, the way a cap is to face, and names that are free."""

from __future__ import annotations

import math

from .. import catalogue
from ..layout.model import Layout, Line, Part, Pipe, Vector
from ..layout.vectors import angle_between
from ..layout.words import DIRECTIONS
from .change import quoted

__all__ = ["faces_text", "free_name", "lay", "outside_of", "part_at", "room_for", "runs_beside"]

_STRAIGHT = math.radians(5.0)
"""A cap that faces along an axis, seen from a leg off it by less, is said to face that axis."""


def outside_of(pipe: Pipe) -> float:
    """Outside diameter [m]; a tenth more than the bore where it is not known."""
    return pipe.outside if pipe.outside is not None else 1.1 * pipe.bore


def lay(kind: str, pipe: Pipe) -> float:
    """How much of the walk a fitting takes up on each side of its centre [m]."""
    if kind == "two 45s":
        # The two centres stand 2·lay apart, at the ends of the long side of a right-angled triangle over the old corner.
        one = lay("bend 45", pipe)
        return one + 2.0 * one / math.sqrt(2.0)
    row = catalogue.fittings()[kind]
    return row.lay.length(outside_of(pipe)) if row.lay is not None else 0.0


def part_at(line: Line, step: int) -> Part:
    """The part of a step: the fitting or run itself, not what the reader put in beside it."""
    return [part for part in line.parts if part.step == step][-1]


def runs_beside(line: Line, step: int) -> tuple[Part | None, Part | None]:
    """The runs before and after a step."""
    before = [part for part in line.parts if part.step < step and part.is_pipe]
    after = [part for part in line.parts if part.step > step and part.is_pipe]
    return (before[-1] if before else None, after[0] if after else None)


def room_for(line: Line, step: int, kind: str) -> bool:
    """Tell whether a fitting fits in place of the one at a step: neither run beside it is shorter than what it and the fitting
    at the run's far end take up."""
    for forward, run in zip((False, True), runs_beside(line, step), strict=True):
        if run is None:
            continue
        beyond = [part for part in line.parts if not part.is_pipe
                  and (run.step < part.step if forward else step > run.step > part.step)]  # fmt: skip
        far = (beyond[0] if forward else beyond[-1]) if beyond else None
        adjoins = far is not None and not _run_between(line, run, far)
        taken = lay(far.kind, run.pipe) if far is not None and adjoins else 0.0
        if run.length < lay(kind, run.pipe) + taken - 1e-9:
            return False
    return True


def _run_between(line: Line, run: Part, far: Part) -> bool:
    low, high = sorted((run.step, far.step))
    return any(part.is_pipe and low < part.step < high for part in line.parts)


def faces_text(way: Vector) -> str:
    """A heading as the language says it.

    >>> faces_text((0.0, 0.0, 1.0)), faces_text((0.6, 0.0, -0.8))
    ('up', '{down: 0.8, east: 0.6}')
    """
    for word, axis in DIRECTIONS.items():
        if angle_between(way, axis) <= _STRAIGHT:
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
