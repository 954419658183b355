"""Whether a changed layout can be built: whether there is room in the walk for every piece that its parts list holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from ..errors import PlumblineError
from ..layout.model import Layout
from ..parts import bill_of
from ..parts.cuts import lacks
from .change import Change, changed

__all__ = ["builds", "can_be_built", "shortage"]

SAME = 1e-6
"""Lengths nearer than this [m] are the same."""


def shortage(layout: Layout) -> dict[str, float]:
    """Give what is wanting of each line's walk for its pieces [m], by the parts list; lines that have room for all are left out."""
    found: dict[str, float] = {}
    for piece in bill_of(layout).tight:
        found[piece.line] = found.get(piece.line, 0.0) + lacks(piece)
    return found


def builds(layout: Layout, before: Mapping[str, float]) -> bool:
    """Tell whether no line of a layout wants more room than it did `before`."""
    return all(lack <= before.get(line, 0.0) + SAME for line, lack in shortage(layout).items())


def can_be_built(
    layout: Layout, changes: Sequence[Change], batches: Callable[[Sequence[Change]], list[list[Change]]]
) -> tuple[Change, ...]:
    """Give the changes that can be made and built, each by itself. `batches` puts those that do not meddle with each other together, to be
    tried at once, and apart where that fails."""
    before = shortage(layout)

    def good(some: list[Change]) -> list[Change]:
        try:
            if builds(changed(layout, some), before):
                return some
        except PlumblineError:
            pass
        half = len(some) // 2
        return [] if half == 0 else good(some[:half]) + good(some[half:])

    kept = {change for batch in batches(changes) for change in good(batch)}
    return tuple(change for change in changes if change in kept)
