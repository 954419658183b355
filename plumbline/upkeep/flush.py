"""Flush: the pipe through which opening an access, with the pump on, drives the water fast enough to
scour."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Mapping
from operator import attrgetter

from ..hydraulics.flows import Flows
from ..hydraulics.opened import without_standpipes
from ..layout.model import Layout, Part, Stretch
from .carry_out import BY_HAND, exits_of, lasts, leaves_within, times_out
from .intervals import Interval, Intervals, by_line, clip
from .shear import speed, wall_shear
from .track import bounds

__all__ = ["flushed", "scours", "speed"]


def flushed(
    layout: Layout, flows: Flows, flushes: Mapping[str, Flows], exits: Mapping[str, Collection[str]] | None = None
) -> dict[str, dict[str, Intervals]]:
    """Give the pipe that each flush scours, by access and line [m along the line].

    A run counts where its own bore carries the flow at the limit `scour speed` or faster and with the wall shear of the
    limit `scour shear` or more, and faster than in normal running by the limit `flush gain`: what an opening does not
    hasten it does not clean. A stretch of two bores may be scoured in the narrower alone. And it counts only where the water runs on to the
    opening, and as far from it as its dirt comes while there is water to carry it.

    Parameters:
        flushes: for each access that can be opened, the flows with it open
        exits: the points where dirt comes out in each, where that is not the access of its name alone
    """
    by_id = {stretch.id: stretch for stretch in layout.stretches}

    def numbers(stretch: Stretch) -> range:
        parts = layout.lines[stretch.line].parts
        return range(*(bisect_left(parts, end, key=attrgetter("at")) for end in (stretch.start, stretch.stop)))

    runs = [
        (stretch, part, bounds(layout, stretch.line, index))
        for stretch in layout.stretches
        for index in numbers(stretch)
        if (part := layout.lines[stretch.line].parts[index]).is_pipe
    ]
    out: dict[str, dict[str, Intervals]] = {}
    for access, running in flushes.items():
        found: list[tuple[str, Interval]] = []
        times = times_out(layout, running, exits_of(layout, (access,)) if exits is None else exits[access])
        seconds = lasts(without_standpipes(layout, (access,)), running, times)
        times = times if seconds >= BY_HAND else {}
        cleared = {
            name: leaves_within(layout, stretch, running, times, seconds) for name in times for stretch in [by_id[name]]
        }
        for stretch, part, piece in runs:
            out_of = cleared.get(stretch.id)
            if out_of is not None and scours(
                layout, part, flows.stretches[stretch.id].flow, running.stretches[stretch.id].flow
            ):
                found += [(stretch.line, cleared_piece) for cleared_piece in clip([piece], *out_of)]
        out[access] = by_line(found)
    return out


def scours(layout: Layout, run: Part, usual: float, flow: float) -> bool:
    """Tell whether a flow [m³/s] scours a run that usually carries `usual` [m³/s], by the limits above."""
    limits, water, pipe = layout.limits, layout.water, run.pipe
    least = max(limits["scour speed"], (1.0 + limits["flush gain"]) * speed(usual, pipe.bore))
    if speed(flow, pipe.bore) < least:
        return False
    return wall_shear(flow, pipe.bore, pipe.roughness, water.density, water.viscosity) >= limits["scour shear"]
