"""What comes once, as the pumps first start: a vessel that runs over on the way from the levels as written to steady running."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..findings import Finding
from ..hydraulics.flows import Flows
from ..layout.model import Layout
from .follow import follow_day
from .moment import Switches, Waters
from .told import overtops

__all__ = ["judge_start"]

MOMENTS = (60.0, 300.0, 900.0, 3600.0)
"""When to look, with one long implicit step from each to the next [s]: it is damped, so that a level shows less of how far it overshoots."""

OVERSHOOTS = 1e-3
"""A level that goes no higher than this over both its ends does not overshoot [m]."""

HOURS = 24.0
"""How long what may run over is followed [h]."""


def judge_start(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Say which vessels run over once, though not in steady running.

    Parameters:
        layout: in which nothing switches through the day.

    Raises:
        SolveError: where flows cannot be found on the way.
    """
    vented = frozenset(name for name, one in flows.stretches.items() if one.vented)
    off = frozenset(pump.name for pump in layout.pumps.values() if pump.stands_by)
    waters = Waters(layout)
    if names := _may_run_over(layout, flows, waters, Switches(off=off, vented=vented)):
        course = follow_day(layout, hours=HOURS, vented=vented, waters=waters)
        yield from (found for name in names for found in overtops(layout, course, name))


def _may_run_over(layout: Layout, flows: Flows, waters: Waters, switches: Switches) -> list[str]:
    """The vessels whose level overshoots, so far that at three times as much they would run over."""
    volumes = waters.volumes({name: vessel.level for name, vessel in layout.vessels.items()})
    peaks, near, before = waters.levels(volumes), None, 0.0
    for time in MOMENTS:
        moment = waters.solve(switches, volumes, time - before, near)
        volumes, near, before = moment.volumes, moment.solution, time
        peaks = np.maximum(peaks, waters.levels(volumes))
    found = []
    for name, peak in zip(waters.names, peaks.tolist(), strict=True):
        vessel, got = layout.vessels[name], flows.vessels[name]
        over = peak - max(vessel.level, vessel.level if got.level is None else got.level)
        if (
            vessel.rim is not None
            and got.spilt <= 0.0
            and over > OVERSHOOTS
            and peak + 2.0 * over > vessel.base + vessel.rim
        ):
            found.append(name)
    return found
