"""Changes to bends: a sweep or two 45s for an elbow, and a needless rise or jog taken out with its corners."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..layout.model import Layout, Line, Part
from ..layout.vectors import angle_between, negative
from ..parts.sizes import outside_of
from .change import Change, Edit
from .place import room_for
from .prices import Prices

__all__ = ["softer", "straighter"]

NEAR = math.radians(5.0)
SMALL = 1e-6
TURNS = ("elbow", "sweep", "bend 45", "bend 22.5", "bend")


def softer(layout: Layout, prices: Prices) -> Iterator[Change]:
    """For each tight elbow a sweep, and two 45s, where the runs beside it are long enough."""
    softened = (("sweep", "a sweep", ("sweep",)), ("two 45s", "two 45° bends", ("bend 45", "bend 45")))
    for line in layout.lines.values():
        for part in line.parts:
            if part.kind != "elbow" or part.loss is not None or part.id or "Kv" in part.details:
                continue
            for kind, what, steps in softened:
                if room_for(line, part.step, kind):
                    words = f"put {what} in place of the elbow at step {part.step} of '{line.name}'"
                    edit, note = Edit("swap", line.name, part.step, steps), f"{what} in place of the elbow"
                    yield prices.change(kind, line.name, part.step, part.pipe, words, note, edit)


def straighter(layout: Layout, prices: Prices) -> Iterator[Change]:
    """Take out a run between two corners, where the pipe comes back by as much further on: the walk before and after it goes the same
    way, and a later run opposite to it is so much longer, or just as long."""
    for line in layout.lines.values():
        parts = line.parts
        for index in range(2, len(parts) - 3):
            first, jog, second = parts[index - 1 : index + 2]
            runs = all(part.kind == "run" for part in (parts[index - 2], jog, parts[index + 2]))
            if not (runs and _corner(first) and _corner(second)):
                continue
            if angle_between(first.heading_in, second.heading_out) > SMALL:
                continue
            back = (later for later in range(index + 3, len(parts)) if parts[later].kind == "run"
                    and angle_between(parts[later].heading_in, negative(jog.heading_in)) <= SMALL)  # fmt: skip
            change = _straight(line, index, next(back, None), prices)
            if change is not None:
                yield change


def _straight(line: Line, index: int, later: int | None, prices: Prices) -> Change | None:
    """The run at `index` and its corners taken out, the run `later` made shorter; None where that cannot be."""
    parts = line.parts
    if later is None or any(part.kind in ("tee", "wye") for part in parts[index + 1 : later]):
        return None  # what joins there would have to be moved, too
    jog, back = parts[index], parts[later]
    left = back.length - jog.length
    edits = [Edit("swap", line.name, parts[number].step) for number in (index - 1, index, index + 1)]
    if left > SMALL:
        taken = sum(0.5 * outside_of(back.pipe) for part in parts[later - 1 : later + 2] if not part.is_pipe)
        if left < taken:
            return None
        edits.append(Edit("cut", line.name, back.step, (), left))
    else:
        around = [parts[number] for number in (later - 1, later + 1) if 0 <= number < len(parts)]
        if left < -SMALL or len(around) < 2 or not all(_corner(part) for part in around):
            return None
        edits += [Edit("swap", line.name, part.step) for part in (*around, back)]
    before, after = parts[index - 1].step, parts[index + 1].step
    words = f"lay '{line.name}' straight on at step {before}: take out steps {before} to {after} and make step {back.step} so much shorter"
    return prices.change("straighten", line.name, jog.step, jog.pipe, words, "laid straight", *edits)


def _corner(part: Part) -> bool:
    return part.kind in TURNS and part.turn > NEAR and part.id is None
