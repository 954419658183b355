"""Bends: tight ones, and how far the pipe turns between one access and the next."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..catalogue import weights
from ..catalogued import finding
from ..findings import Finding, as_tuple
from ..layout.model import Access, Layout, Line, Part
from ..layout.vectors import direction_words, negative
from ..units import show
from .access import deep_pipe
from .intervals import Intervals, subtract
from .track import SAME
from .unreached import Gap
from .words import access_name, degrees, listed

__all__ = ["Between", "between_accesses", "sharp_bends", "turning"]

QUARTER = math.pi / 2
"""A quarter turn [rad]."""


@dataclass(frozen=True, slots=True)
class Between:
    """The pipe of a line between two neighbouring accesses or ends, [m] along it, with the fittings that turn
    it.

    `turn` [rad] is the sum of their turns; `first` and `last` name what stands at either end.
    """

    line: str
    start: float
    stop: float
    first: str
    last: str
    bends: tuple[Part, ...]
    turn: float


@as_tuple
def sharp_bends(layout: Layout, sharp: frozenset[str]) -> Iterator[Finding]:
    """Report each line's tight bends: of a `sharp` kind and turning more than the limit `sharp bend`
    [rad]."""
    limit = layout.limits["sharp bend"]
    for line in layout.lines.values():
        tight = [part for part in line.parts if part.kind in sharp and part.turn > limit + SAME]
        if not tight:
            continue
        steps = listed([str(part.step) for part in tight])
        one = len(tight) == 1
        message = (
            f"'{line.name}' turns {degrees(tight[0].turn)} in one tight {tight[0].kind}, at step {steps}."
            if one
            else f"'{line.name}' has {len(tight)} tight bends, at steps {steps}."
        )
        yield finding(
            "sharp-bend",
            message,
            _softer(tight),
            line=line.name,
            step=tight[0].step,
            weight=weights()["sharp-bend"].of(len(tight)),
        )


def _softer(tight: Sequence[Part]) -> str:
    """What to do about tight bends: nothing about those that nobody gets at."""
    open_ones = [part for part in tight if not part.around]
    if not open_ones:
        return f"leave what is {tight[0].around} as it is; lay sweeps if it is ever opened"
    where = "it" if len(tight) == 1 else "each" if len(open_ones) == len(tight) else "each that a hand gets at"
    return f"put a sweep or two 45° bends in place of {where}"


@as_tuple
def between_accesses(layout: Layout) -> Iterator[Between]:
    """Cut every line at its accesses and add up the turns of each piece.

    A fitting that is an access itself turns neither piece: a rod comes up to it from either side and need not turn
    there. A tee's turn counts where the line walks in at the run and out at the branch, or the other way.
    """
    for line in layout.lines.values():
        if not line.parts:
            continue
        last_step = line.parts[-1].step
        marks = sorted((access for access in layout.accesses if access.line == line.name), key=lambda a: a.step)
        inner = [access for access in marks if 1 <= access.step <= last_step]
        ends = [(0, 0.0, _end_name(line, marks, 0)), *((a.step, a.at, access_name(layout, a)) for a in inner)]
        ends.append((last_step + 1, line.length, _end_name(line, marks, last_step + 1)))
        for (low, start, first), (high, stop, last) in pairwise(ends):
            bends = [part for part in line.parts if low < part.step < high and part.turn > SAME]
            turn = math.fsum(part.turn for part in bends)
            yield Between(line.name, start, stop, first, last, tuple(bends), turn)


@as_tuple
def turning(layout: Layout, reached: Mapping[str, Intervals], gaps: Sequence[Gap] = ()) -> Iterator[Finding]:
    """Report pipe that turns more than the limit `turning between accesses` [rad] from one access to the
    next.

    Advice where rods at hand reach all of it all the same. `gaps` are the pieces that nothing cleans: where the opening
    advised for one of them divides the turning too, the cure refers to it.
    """
    limit = layout.limits["turning between accesses"]
    for piece in between_accesses(layout):
        if piece.turn <= limit + SAME:
            continue
        left = subtract([(piece.start, piece.stop)], reached.get(piece.line, ()), slack=1e-6)
        yield finding(
            "turning",
            f"'{piece.line}' turns {degrees(piece.turn)} between {piece.first} and {piece.last}, in "
            f"{show(piece.stop - piece.start, 'length', layout.units)}: more than {degrees(limit)}.",
            _told(piece, gaps, limit) or _cure(layout, piece, left),
            level="warn" if left else "advice",
            line=piece.line,
            step=_middle(piece).step,
            weight=weights()["turning"].of((piece.turn - limit) / QUARTER, "usual" if left else "milder"),
            start=piece.start,
            stop=piece.stop,
        )


def _middle(piece: Between) -> Part:
    """The bend at which half the turning is done."""
    so_far = 0.0
    for bend in piece.bends:
        so_far += bend.turn
        if so_far >= piece.turn / 2 - SAME:
            return bend
    return piece.bends[-1]


def _told(piece: Between, gaps: Sequence[Gap], limit: float) -> str:
    """A cure that another finding gives, where it leaves no more turning than allowed on either side; empty where none does."""
    for gap in gaps:
        new = gap.opening
        if new is None or gap.line != piece.line or not piece.start < new.at < piece.stop:
            continue
        before = math.fsum(bend.turn for bend in piece.bends if bend.at < new.at)
        after = math.fsum(bend.turn for bend in piece.bends if bend.at > new.at)
        if max(before, after) <= limit + SAME:
            where = f"into step {new.step}" if new.fitting == "union" else f"at step {new.step}"
            return f"the {new.fitting} {where} that its unreached pipe wants divides the turning too"
    return ""


def _cure(layout: Layout, piece: Between, left: Intervals) -> str:
    """A capped tee at the middle bend that a hand can get at, opening along the leg with more unreached pipe."""
    deep = [low_high for _, pipe in deep_pipe(layout)[piece.line] for low_high in pipe]
    middle = _middle(piece)
    dry = [bend for bend in piece.bends if not bend.around and not any(low <= bend.at <= high for low, high in deep)]
    if not dry:
        return "bring a bend of it, capped, to where a hand gets at it, or take this pipe out to clean it"
    bend = min(dry, key=lambda one: abs(piece.bends.index(one) - piece.bends.index(middle)))
    behind = sum(min(stop, bend.at) - start for start, stop in left if start < bend.at)
    ahead = sum(stop - max(start, bend.at) for start, stop in left if stop > bend.at)
    leg = negative(bend.heading_in) if behind > ahead else bend.heading_out
    if bend.kind in ("tee", "wye"):
        return f"put a union beside the {bend.kind} at step {bend.step}"
    way = direction_words(negative(leg))
    return f"put a capped tee in place of the {bend.kind} at step {bend.step}, facing {way}"


def _end_name(line: Line, marks: list[Access], step: int) -> str:
    access = next((access.id for access in marks if access.step == step and access.kind in ("cap", "union")), None)
    end = line.start if step == 0 else line.end
    return access or end.name or f"the {end.kind} end"
