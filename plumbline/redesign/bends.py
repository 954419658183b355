"""Changes to bends: a sweep or two 45s for an elbow, and a needless rise or jog taken out with its corners."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..layout.model import Layout, Line, Part
from ..layout.vectors import angle_between, negative
from .change import Change, Edit
from .place import outside_of, room_for
from .prices import Prices

__all__ = ["softer", "straighter"]

_NEAR = math.radians(5.0)
_SMALL = 1e-6
_TURNS = ("elbow", "sweep", "bend 45", "bend 22.5", "bend")


def softer(layout: Layout, prices: Prices) -> Iterator[Change]:
    """For each tight elbow a sweep, and two 45s, where the runs beside it are long enough."""
    for line in layout.lines.values():
        for part in line.parts:
            if part.kind != "elbow" or part.loss is not None or part.id or "Kv" in part.details:
                continue
            for kind, steps in (("sweep", ("sweep",)), ("two 45s", ("bend 45", "bend 45"))):
                if not room_for(line, part.step, kind):
                    continue
                money, minutes = prices.of(kind, part.pipe)
                what = "a sweep" if kind == "sweep" else "two 45° bends"
                yield Change(kind, line.name, part.step,
                             f"put {what} in place of the elbow at step {part.step} of '{line.name}'",
                             f"{what} in place of the elbow", (Edit("swap", line.name, part.step, steps),), money, minutes)  # fmt: skip


def straighter(layout: Layout, prices: Prices) -> Iterator[Change]:
    """Take out a run between two corners, where the pipe comes back by as much further on: the walk before and after it goes the same
    way, and a later run opposite to it is so much longer, or just as long."""
    for line in layout.lines.values():
        parts = line.parts
        for index in range(2, len(parts) - 3):
            jog = parts[index]
            first, second = parts[index - 1], parts[index + 1]
            if jog.kind != "run" or not (_corner(first) and _corner(second) and parts[index - 2].kind == "run"):
                continue
            if angle_between(first.heading_in, second.heading_out) > _SMALL or parts[index + 2].kind != "run":
                continue
            for later in range(index + 3, len(parts)):
                back = parts[later]
                if back.kind != "run" or angle_between(back.heading_in, negative(jog.heading_in)) > _SMALL:
                    continue
                change = _straight(layout, line, index, later, prices)
                if change is not None:
                    yield change
                break


def _straight(layout: Layout, line: Line, index: int, later: int, prices: Prices) -> Change | None:
    parts = line.parts
    jog, back = parts[index], parts[later]
    if any(part.kind in ("tee", "wye") for part in parts[index + 1 : later]):
        return None  # what joins there would have to be moved, too
    left = back.length - jog.length
    edits = [Edit("swap", line.name, parts[number].step) for number in (index - 1, index, index + 1)]
    if left > _SMALL:
        taken = sum(0.5 * outside_of(back.pipe) for part in parts[later - 1 : later + 2] if not part.is_pipe)
        if left < taken:
            return None
        edits.append(Edit("cut", line.name, back.step, (), left))
    else:
        around = [parts[number] for number in (later - 1, later + 1) if 0 <= number < len(parts)]
        if left < -_SMALL or len(around) < 2 or not all(_corner(part) for part in around):
            return None
        edits += [Edit("swap", line.name, part.step) for part in (*around, back)]
    money, minutes = prices.of("straighten", jog.pipe)
    return Change("straighten", line.name, jog.step,
                  f"lay '{line.name}' straight on at step {parts[index - 1].step}: take out steps {parts[index - 1].step} to "
                  f"{parts[index + 1].step} and make step {back.step} so much shorter",
                  "laid straight", tuple(edits), money, minutes)  # fmt: skip


def _corner(part: Part) -> bool:
    return part.kind in _TURNS and part.turn > _NEAR and part.id is None
