"""The proof of a redesign: the changed layout as a file, read again and checked in full; and old and new held against each other."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from ..check import CheckResult, check
from ..errors import PlumblineError
from ..findings import Finding
from ..layout import layout_of, read_layout
from ..layout.rewrite import write_new
from .change import apply
from .search import Redesign

__all__ = ["Difference", "difference", "prove", "write_redesign"]

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


def prove(redesign: Redesign) -> CheckResult:
    """Write a redesign in memory, read it and check it anew.

    Raises:
        PlumblineError: where that does not find what the redesign claims.
    """
    layout = redesign.before.layout
    return _checked(redesign, check(layout_of(apply(layout.text, redesign.changes), layout.path)))


def write_redesign(redesign: Redesign, path: str | os.PathLike[str], *, over: bool = False) -> CheckResult:
    """Write a redesign to a new file, whole or not at all, and check it from that file.

    Parameters:
        redesign: of `search`.
        path: of the new file.
        over: whether a file that is there may be written over; never the layout's own.

    Returns:
        The check of what was written.

    Raises:
        PlumblineError: where the file is there already or cannot be written, or where what is read from it is not what the
            redesign claims; then nothing is written.
    """
    own = redesign.before.layout.path
    if own and os.path.exists(path) and os.path.exists(own) and os.path.samefile(path, own):
        raise PlumblineError(
            f"'{os.fspath(path)}' is the layout itself, which is never written over. Give another name."
        )
    done: list[CheckResult] = []

    def accept(draft: str) -> None:
        done.append(_checked(redesign, check(read_layout(draft))))

    write_new(path, apply(redesign.before.layout.text, redesign.changes), accept, over=over)
    return done[0]


def _checked(redesign: Redesign, result: CheckResult) -> CheckResult:
    claimed = redesign.result
    vessels = claimed.flows.vessels
    same = (
        result.verdict == claimed.verdict
        and result.score.tenths == claimed.score.tenths
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
