"""Flush: the pipe through which opening an access, with the pump on, drives the water fast enough to
scour."""

from __future__ import annotations

import math
from collections.abc import Mapping

from ..hydraulics.flows import Flows
from ..layout.model import Layout
from .intervals import Interval, Intervals, union
from .track import bounds

__all__ = ["flushed", "speed"]


def speed(flow: float, bore: float) -> float:
    """Give the mean speed in full pipe, V = 4|Q|/(πD²).

    Parameters
    ----------
    flow : [m³/s], either sign
    bore : inside diameter [m]

    Returns
    -------
    mean speed [m/s]

    >>> round(speed(30 / 60000, 0.026), 3)
    0.942
    """
    return 4.0 * abs(flow) / (math.pi * bore**2)


def flushed(layout: Layout, flows: Flows, flushes: Mapping[str, Flows]) -> dict[str, dict[str, Intervals]]:
    """Give the pipe that each flush scours, by access and line [m along the line].

    A run counts where its own bore carries the flow at the limit `scour speed` or faster, and faster than in normal
    running by the limit `flush gain`: what an opening does not hasten it does not clean. A stretch of two bores may be
    scoured in the narrower alone.

    Parameters
    ----------
    layout : with its limits
    flows : in normal running
    flushes : for each access that can be opened, the flows with it open
    """
    least, gain = layout.limits["scour speed"], 1.0 + layout.limits["flush gain"]
    runs = [
        (stretch, part.pipe.bore, bounds(layout, stretch.line, index))
        for stretch in layout.stretches
        for index, part in enumerate(layout.lines[stretch.line].parts)
        if part.is_pipe and stretch.start <= part.at < stretch.stop
    ]
    out: dict[str, dict[str, Intervals]] = {}
    for access, opened in flushes.items():
        found: dict[str, list[Interval]] = {}
        for stretch, bore, piece in runs:
            usual = speed(flows.stretches[stretch.id].flow, bore)
            if speed(opened.stretches[stretch.id].flow, bore) >= max(least, gain * usual):
                found.setdefault(stretch.line, []).append(piece)
        out[access] = {line: union(pieces) for line, pieces in found.items()}
    return out
