"""The proof of a redesign: the changed layout's text, read again and checked in full; and old and new held against each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from ..check import CheckResult, check
from ..errors import PlumblineError
from ..files import NewFile
from ..findings import Finding
from ..layout import layout_of
from .change import apply
from .search import Redesign

__all__ = ["Difference", "difference", "prove"]

SAME = 1e-6
"""Two checks of the same text agree to this."""


@dataclass(frozen=True)
class Difference:
    """Old against new: the findings `gone` and `come`. One is the same as another if kind and line are, whatever the numbers in it."""

    gone: tuple[Finding, ...]
    come: tuple[Finding, ...]


def difference(before: CheckResult, after: CheckResult) -> Difference:
    """Hold two checks against each other."""
    return Difference(_beyond(before.findings, after.findings), _beyond(after.findings, before.findings))


def _beyond(some: Iterable[Finding], others: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings of one list that the other has not, as many as there are more of a kind in a line, the least first to stay."""
    left = Counter((finding.kind, finding.line) for finding in others)
    out = []
    for finding in some:
        if left[finding.kind, finding.line] > 0:
            left[finding.kind, finding.line] -= 1
        else:
            out.append(finding)
    return tuple(out)


def prove(redesign: Redesign, file: NewFile | None = None) -> CheckResult:
    """Read and check the text of a redesign anew, write it to a new file if one is given, whole or not at all, and give the check.

    Raises:
        PlumblineError: where that does not find what the redesign claims, or the file cannot be written; then nothing is written.
    """
    text = apply(redesign.base.text, redesign.changes)
    result = _checked(redesign, check(layout_of(text, redesign.base.path if file is None else file.path)))
    if file is not None:
        file.write(text)
    return result


def _checked(redesign: Redesign, result: CheckResult) -> CheckResult:
    claimed = redesign.result
    vessels = claimed.flows.vessels
    same = (
        result.verdict == claimed.verdict
        and result.score.marks.keys() == claimed.score.marks.keys()
        and all(mark.tenths == claimed.score.marks[name].tenths for name, mark in result.score.marks.items())
        and abs(result.upkeep.cleanable_fraction - claimed.upkeep.cleanable_fraction) < SAME
        and result.flows.vessels.keys() == vessels.keys()
        and all(abs(got.inflow - vessels[name].inflow) <= SAME * max(vessels[name].inflow, SAME)
                for name, got in result.flows.vessels.items())
    )  # fmt: skip
    if not same:
        raise PlumblineError(
            "What was written does not check as it should; it was not kept. Make the changes in the file by hand."
        )
    return result
