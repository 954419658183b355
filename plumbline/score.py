"""The score: 100 for a layout with nothing to say, and a ledger that names every point lost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .catalogue import weights
from .findings import Finding

__all__ = ["LedgerRow", "Score", "tally"]


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
class Score:
    """`tenths` of points kept, 0 to 1000; `ledger` rows add up to exactly 1000 − `tenths`; `cleanable` is the share of
    pipe length that can be cleaned, 0 to 1."""

    tenths: int
    cleanable: float
    ledger: tuple[LedgerRow, ...]

    @property
    def points(self) -> float:
        """Points kept, 0 to 100."""
        return self.tenths / 10.0


def tally(findings: Iterable[Finding], cleanable: float) -> Score:
    """Add up what the findings cost.

    Each finding takes its weight's share of the points that are left, the largest first, so the score is
    100·Π(1 − w): it never falls below zero, any further finding lowers it, and their order does not matter. What another finding
    of the same line has cost already, by the catalogue's `unless`, costs nothing again. The rows are kept in tenths of a point, rounded so
    that they add up exactly; a row that rounds to nothing is left out.

    Parameters:
        findings: with their weights, 0 to 1.
        cleanable: share of pipe length that can be cleaned, 0 to 1.

    >>> tally([], 1.0).points
    100.0
    """
    rows = []
    left, kept = 1000.0, 1000
    for finding in sorted(_counted(findings), key=lambda one: (-one.weight, one.kind, one.line or "", one.message)):
        left *= 1.0 - finding.weight
        tenths = kept - round(left)
        if tenths > 0:
            rows.append(LedgerRow(tenths, finding))
            kept -= tenths
    return Score(kept, cleanable, tuple(rows))


def _counted(findings: Iterable[Finding]) -> list[Finding]:
    """Without those that another finding of the same line has paid for."""
    some = list(findings)
    told = {(one.kind, one.line) for one in some}
    rows = weights()
    return [
        one for one in some if one.line is None or not any((kind, one.line) in told for kind in rows[one.kind].unless)
    ]
