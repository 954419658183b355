"""Lines that stand empty."""

from __future__ import annotations

from ..hydraulics.flows import Flows
from ..layout.model import Layout

__all__ = ["dry_lines"]


def dry_lines(layout: Layout, flows: Flows) -> set[str]:
    """Name the lines that a standpipe leads into whose vessel receives nothing: they are empty."""
    return {
        line.name
        for line in layout.lines.values()
        for end in (line.start, line.end)
        if end.port == "standpipe"
        and end.name is not None
        and end.name in flows.vessels
        and flows.vessels[end.name].inflow <= 0.0
    }
