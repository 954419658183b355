"""How far a hose turns what is pushed through it: by the headings at its two ends, the way between them and its length."""

from __future__ import annotations

import math
from typing import NamedTuple

from ..layout.model import Layout, Line, Vector
from ..layout.vectors import angle_between, minus, negative

__all__ = ["HoseTurn", "hose_turns"]

SWEEP = math.pi
"""A sweep's arc in outside diameters: a quarter turn at a radius of two of them (ISO 264, from memory). What a hose turns within so
much of its length counts as one turn, as a sweep's does."""


class HoseTurn(NamedTuple):
    """What a hose turns [rad] between the fitting before it and its middle, from there to the fitting behind it, and the most of it
    within the length of a sweep; and what it `bulges` to either side, which is all that an end turns that is off its barb, in the hand."""

    first: float
    last: float
    tight: float
    bulges: float

    def held(self, *, first: bool) -> HoseTurn:
        """The same hose with its first or its last end in the hand."""
        one, other = (self.bulges, self.last) if first else (self.first, self.bulges)
        whole = self.first + self.last
        return self._replace(first=one, last=other, tight=self.tight * (one + other) / whole if whole > 0.0 else 0.0)


def hose_turns(layout: Layout, line: Line) -> dict[int, HoseTurn]:
    """Give the turns of a line's hoses, by the number of the part.

    With c from end to end and a length of L, a hose bulges by φ = arccos(c/L) to either side at the least: two straight halves
    with a corner between them are the least that any curve so long turns. Where the pipe before it makes an angle α with the straight way and
    that behind it β, it turns |α − φ| + 2φ + |β − φ| in all; where it ends in a vessel or at a pump, its heading there is free.

    Reference: the least total curvature of an arc longer than its chord, 2 arccos(c/L), is Schmidt's inequality (from memory).
    """
    out = {}
    for index, part in enumerate(line.parts):
        chord = math.hypot(*minus(part.end, part.start))
        if part.kind != "hose" or chord <= 0.0:
            continue
        bulge = math.acos(min(1.0, chord / part.length))
        before = line.parts[index - 1].heading_out if index > 0 else _leg(layout, line, "from")  # None where it is free
        after = _heading_after(layout, line, index)
        turns = [
            bulge if way is None else abs(angle_between(way, own) - bulge) + bulge
            for way, own in ((before, part.heading_in), (after, part.heading_out))
        ]
        outside = part.pipe.outside or part.pipe.bore
        tight = sum(turns) * min(1.0, SWEEP * outside / part.length)
        out[index] = HoseTurn(turns[0], turns[1], tight, bulge)
    return out


def _heading_after(layout: Layout, line: Line, index: int) -> Vector | None:
    if index + 1 < len(line.parts):
        # Of two hoses that meet, the second one makes the turn between them.
        return None if line.parts[index + 1].kind == "hose" else line.parts[index + 1].heading_in
    leg = _leg(layout, line, "to")
    return None if leg is None else negative(leg)


def _leg(layout: Layout, line: Line, side: str) -> Vector | None:
    end = line.start if side == "from" else line.end
    tee = layout.tees.get(end.name or "") if end.kind == "tee" else None
    legs = () if tee is None else tee.legs
    return next((leg.heading for leg in legs if (leg.line, leg.side) == (line.name, side)), None)
