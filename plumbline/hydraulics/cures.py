"""Cures that several findings offer, in the user's own names."""

from __future__ import annotations

from .. import catalogue
from ..layout.model import Layout, Part
from ..units import show
from .flows import Flows

__all__ = ["part_name", "throttle"]


def part_name(part: Part) -> str:
    """A part by its kind, and by its own name where it has one."""
    return f"{part.called} '{part.id}'" if part.id else part.called


def throttle(layout: Layout, flows: Flows, vessel: str) -> str:
    """How to give a vessel less, that gets more than it wants: the valve on its own line, or a new one."""
    got = flows.vessels[vessel]
    units = layout.units
    why = f"'{vessel}' gets {show(got.inflow, 'flow', units)} and wants {show(got.wanted or 0.0, 'flow', units)}"
    rows = catalogue.fittings()
    for line in layout.lines.values():
        if line.end.name != vessel or line.end.port == "standpipe":
            continue
        for part in line.parts:
            if not part.is_pipe and rows[part.kind].opening:
                return f"throttle the {part_name(part)} at step {part.step} of line '{line.name}': {why}; 'plumbline balance' tells how far"
    return f"put a valve into the line to '{vessel}' and throttle it: {why}"
