"""Works out what goes on the page beside the check."""

from __future__ import annotations

from collections.abc import Callable

from ..check import CheckResult, flushes
from ..errors import SolveError
from ..mishaps import Mishaps, find_mishaps
from ..parts import bill_of, cost_of, plan_for
from ..upkeep.card import wall_card
from ..upkeep.flushing import flush_ways
from ..upkeep.fouling import fouling
from ..upkeep.washes import wash_jobs
from .more import Extras

__all__ = ["extras_of"]


def extras_of(
    result: CheckResult,
    after: CheckResult | None = None,
    *,
    months: int = 12,
    mishaps: bool = False,
    tell: Callable[[str], None] = lambda _: None,
) -> Extras:
    """Plan the cleaning, follow the fouling, and count the parts of a checked layout.

    Parameters:
        result: of a check.
        after: the check of a redesign of it.
        months: how far to follow the fouling.
        mishaps: whether each part is to go wrong, too, which takes a while.
        tell: called with what is being worked out.

    Returns:
        What the page shows besides; without the fouling where its water has no steady flow any more.
    """
    layout = result.layout
    tell("planning the cleaning")
    card = wall_card(layout, result.flows, result.upkeep, wash_jobs(flush_ways(layout)))
    tell(f"following the fouling for {months} months")
    try:
        fouled = fouling(layout, flushes(layout, result.flows), months=months)
    except SolveError:
        fouled = None
    tell("counting parts")
    bill = bill_of(layout)
    plan = plan_for(bill, None)
    return Extras(
        card, fouled, (bill, plan, cost_of(bill, plan, None)), after, _mishaps(result, tell) if mishaps else None
    )


def _mishaps(result: CheckResult, tell: Callable[[str], None]) -> Mishaps:
    return find_mishaps(result.layout, progress=lambda number, of, what: tell(f"{number} of {of} mishaps: {what}"))
