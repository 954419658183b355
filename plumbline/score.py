"""The score: three marks, for the water that comes, its return and the cleaning, each 100 where there is nothing to say, with a ledger that
names every point lost; and the worst of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from .catalogue import weights
from .findings import Finding

__all__ = ["MARKS", "LedgerRow", "Mark", "MarkName", "Score", "tally"]

MarkName = Literal["water", "return", "cleaning"]
MARKS: tuple[MarkName, ...] = ("water", "return", "cleaning")


@dataclass(frozen=True, slots=True)
class LedgerRow:
    """Points lost in one place for one reason, in tenths of a point, with the finding that says so."""

    tenths: int
    finding: Finding

    @property
    def points(self) -> float:
        """Points lost."""
        return self.tenths / 10.0


@dataclass(frozen=True, slots=True)
class Mark:
    """`tenths` of points kept, 0 to 1000; `ledger` rows add up to exactly 1000 − `tenths`."""

    tenths: int
    ledger: tuple[LedgerRow, ...]

    @property
    def points(self) -> float:
        """Points kept, 0 to 100."""
        return self.tenths / 10.0


@dataclass(frozen=True, slots=True)
class Score:
    """The three `marks`; `cleanable` is the share of pipe length that can be cleaned, 0 to 1. What is said of the score as a whole is said of
    the worst mark, the first of them where two are as bad."""

    cleanable: float
    marks: Mapping[MarkName, Mark]

    @property
    def worst(self) -> MarkName:
        """The mark with the fewest points."""
        return min(MARKS, key=lambda name: self.marks[name].tenths)

    @property
    def tenths(self) -> int:
        """Tenths of points kept by the worst mark."""
        return self.marks[self.worst].tenths

    @property
    def points(self) -> float:
        """Points kept by the worst mark, 0 to 100."""
        return self.tenths / 10.0

    @property
    def ledger(self) -> tuple[LedgerRow, ...]:
        """What the worst mark lost."""
        return self.marks[self.worst].ledger


def tally(findings: Iterable[Finding], cleanable: float) -> Score:
    """Add up what the findings cost.

    Each finding takes its weight's share of the points that are left of its mark, the largest first, so a mark is
    100·Π(1 − w): it never falls below zero, any further finding lowers it, and their order does not matter. What another finding
    of the same line has cost already, by the catalogue's `unless`, costs nothing again. The rows are kept in tenths of a point, rounded so
    that they add up exactly; a row that rounds to nothing is left out.

    Parameters:
        findings: with their weights, 0 to 1.
        cleanable: share of pipe length that can be cleaned, 0 to 1.

    >>> tally([], 1.0).points
    100.0
    """
    rows = weights()
    counted = _counted(findings)
    return Score(cleanable, {name: _mark([one for one in counted if rows[one.kind].mark == name]) for name in MARKS})


def _mark(findings: Iterable[Finding]) -> Mark:
    rows = []
    left, kept = 1000.0, 1000
    for finding in sorted(findings, key=lambda one: (-one.weight, one.kind, one.line or "", one.message)):
        left *= 1.0 - finding.weight
        tenths = kept - round(left)
        if tenths > 0:
            rows.append(LedgerRow(tenths, finding))
            kept -= tenths
    return Mark(kept, tuple(rows))


def _counted(findings: Iterable[Finding]) -> list[Finding]:
    """Without those that another finding of the same line has paid for."""
    some = list(findings)
    told = {(one.kind, one.line) for one in some}
    rows = weights()
    return [
        one for one in some if one.line is None or not any((kind, one.line) in told for kind in rows[one.kind].unless)
    ]
