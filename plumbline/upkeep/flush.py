"""Flush: the pipe through which opening an access, with the pump on, drives the water fast enough to
scour."""

from __future__ import annotations

from collections.abc import Mapping

from ..hydraulics.flows import Flows
from ..layout.model import Layout, Part
from .intervals import Interval, Intervals, union
from .shear import speed, wall_shear
from .track import bounds

__all__ = ["flushed", "scours", "speed"]


def flushed(layout: Layout, flows: Flows, flushes: Mapping[str, Flows]) -> dict[str, dict[str, Intervals]]:
    """Give the pipe that each flush scours, by access and line [m along the line].

    A run counts where its own bore carries the flow at the limit `scour speed` or faster and with the wall shear of the
    limit `scour shear` or more, and faster than in normal running by the limit `flush gain`: what an opening does not
    hasten it does not clean. A stretch of two bores may be scoured in the narrower alone.

    Parameters
    ----------
    layout : with its limits
    flows : in normal running
    flushes : for each access that can be opened, the flows with it open
    """
    runs = [
        (stretch, part, bounds(layout, stretch.line, index))
        for stretch in layout.stretches
        for index, part in enumerate(layout.lines[stretch.line].parts)
        if part.is_pipe and stretch.start <= part.at < stretch.stop
    ]
    out: dict[str, dict[str, Intervals]] = {}
    for access, opened in flushes.items():
        found: dict[str, list[Interval]] = {}
        for stretch, part, piece in runs:
            if scours(layout, part, flows.stretches[stretch.id].flow, opened.stretches[stretch.id].flow):
                found.setdefault(stretch.line, []).append(piece)
        out[access] = {line: union(pieces) for line, pieces in found.items()}
    return out


def scours(layout: Layout, run: Part, usual: float, flow: float) -> bool:
    """Tell whether a flow [m³/s] scours a run that usually carries `usual` [m³/s], by the limits above."""
    limits, water, pipe = layout.limits, layout.water, run.pipe
    least = max(limits["scour speed"], (1.0 + limits["flush gain"]) * speed(usual, pipe.bore))
    if speed(flow, pipe.bore) < least:
        return False
    return wall_shear(flow, pipe.bore, pipe.roughness, water.density, water.viscosity) >= limits["scour shear"]
