"""Lines that stand empty."""

from __future__ import annotations

from ..hydraulics.flows import Flows
from ..layout.model import Layout

__all__ = ["dry_lines"]


def dry_lines(layout: Layout, flows: Flows) -> set[str]:
    """Name the lines that no water comes into: emergency ways out, and drains of vessels that get nothing."""
    wet = {stretch.line for stretch in layout.stretches if not flows.stretches[stretch.id].dry}
    return set(layout.lines) - wet
