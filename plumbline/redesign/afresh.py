"""A redesign that begins with a clean sheet: the pipe laid anew first, then the cheapest changes that make that good."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..check import check
from ..errors import PlumblineError
from ..layout.model import Layout
from .clean_sheet import clean_sheet
from .prices import Prices
from .search import Redesign, Targets, search

__all__ = ["search_afresh"]


def search_afresh(
    layout: Layout, targets: Targets, prices: Prices, *, tell: Callable[[str], None] = lambda _: None
) -> Redesign:
    """Lay the pipe of a layout anew, and find the cheapest changes with which that meets the targets.

    Parameters:
        layout, targets, prices, tell: as for `search`.

    Returns:
        The redesign, held against the layout as it stands.

    Raises:
        PlumblineError: where nothing can be laid anew, or what is laid does not meet what is asked; it says what stands against it.
        SolveError: where the layout as it stands has no flow.
    """
    tell("the layout as it stands")
    before = check(layout)
    tell("a clean sheet")
    sheet = clean_sheet(before, prices)
    found = search(sheet.layout, targets, prices, tell=tell)
    if found is None:
        fails = [finding.message for finding in check(sheet.layout).findings if finding.level == "fail"]
        stands = (
            " ".join(fails) or "Not all of its pipe would be cleanable, or some vessel would have too little to spare."
        )
        raise PlumblineError(f"Laid afresh it does not meet what is asked, whatever is changed then. {stands}")
    changes = (*sheet.changes, *found.changes)
    return replace(
        found, before=before, changes=changes, cost=found.cost + sheet.cost(prices.hour), bound=0.0, sheet=sheet
    )
