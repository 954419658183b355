"""What comes but once: a vessel that runs over as the pumps first start, and the worst power cut of a day, when most water stands outside the
vessels that pumps draw from, a siphon in the middle of its run.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from ..errors import SolveError
from ..findings import Finding
from ..hydraulics.contents import content
from ..hydraulics.find import find_flows
from ..hydraulics.flows import Flows
from ..hydraulics.stretches import pump_sources
from ..layout.model import Layout
from .follow import follow_day
from .moment import Switches, Waters
from .result import Course, Cut
from .told import overtops

__all__ = ["judge_start", "reached", "whole_day", "with_worst_cut"]

MOMENTS = (60.0, 300.0, 900.0, 3600.0)
"""When to look, with one long implicit step from each to the next [s]: it is damped, so that a level shows less of how far it overshoots."""

OVERSHOOTS = 1e-3
"""A level that goes no higher than this over both its ends does not overshoot [m]."""

HOURS = 24.0
"""How long what may run over is followed [h]."""


def whole_day(
    layout: Layout, flows: Flows | None = None, *, hours: float = 24.0, progress: Callable[[float], None] | None = None
) -> Course:
    """Follow a day from the levels as written, and the worst power cut in it.

    Parameters:
        flows: in steady running, whose pipes have air in them from the start: a siphon begins with it, and one that runs too slow to sweep it
            out never becomes one. Left out, they are found.
        hours, progress: as for `follow_day`.

    Raises:
        SolveError: where flows cannot be found at some time.
    """
    if flows is None:
        try:
            flows = find_flows(layout, margins=False)
        except SolveError:
            flows = None  # a day may run where no steady state is
    vented = frozenset[str]() if flows is None else aired(flows)
    return with_worst_cut(layout, follow_day(layout, hours=hours, vented=vented, progress=progress))


def aired(flows: Flows) -> frozenset[str]:
    """The stretches that run with air over their water."""
    return frozenset(name for name, one in flows.stretches.items() if one.vented)


def judge_start(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Say which vessels run over once, though not in steady running.

    Parameters:
        layout: in which nothing switches through the day.

    Raises:
        SolveError: where flows cannot be found on the way.
    """
    vented = aired(flows)
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
        over = peak - max(vessel.level, flows.stands(vessel))
        if (
            vessel.rim is not None
            and got.spilt <= 0.0
            and over > OVERSHOOTS
            and peak + 2.0 * over > vessel.base + vessel.rim
        ):
            found.append(name)
    return found


AFTER_CUT = 12.0
"""For how long the water is followed after a power cut [h]: a night. Once it stands still that takes one step."""


def with_worst_cut(layout: Layout, course: Course) -> Course:
    """Add the worst power cut to a day's course: all pumps stop when most water stands outside the vessels they draw from.

    Returns:
        The course with it; as it is where nothing is pumped.

    Raises:
        SolveError: where flows cannot be found.
    """
    sources = pump_sources(layout)
    others = [layout.vessels[name] for name in course.vessels if name not in sources]
    if not layout.pumps or not others:
        return course
    outside = [
        sum(content(vessel, course.vessels[vessel.name].level[i]) for vessel in others)
        for i in range(len(course.times))
    ]
    worst = max(range(len(outside)), key=outside.__getitem__)
    time = course.times[worst]
    levels = {name: one.level[worst] for name, one in course.vessels.items()}
    stood = course.switches[worst]
    after = follow_day(
        layout, hours=AFTER_CUT, levels=levels, off=frozenset(layout.pumps), primed=stood.primed, vented=stood.vented
    )
    spilt = {name: one.spilt for name, one in after.vessels.items() if one.spilt > 1e-5}
    rests = {name: one.level[-1] for name, one in after.vessels.items()}
    return replace(course, cut=Cut(time, spilt, rests, after.water.added, AFTER_CUT))


NEVER = 0.01
"""A level that stands so far over the highest of the day is never reached [m]."""


def reached(flows: Flows, course: Course | None) -> Flows:
    """The flows as they are; but with the levels of the day's worst moment where they stand higher than the water comes in a day, since a turn
    ends before."""
    if course is None or course.cut is None:
        return flows
    days = course.vessels.items()
    if not any((level := flows.vessels[name].level) is not None and level > one.highest + NEVER for name, one in days):
        return flows
    at = course.times.index(course.cut.time)
    stands = {name: replace(flows.vessels[name], level=one.level[at]) for name, one in days}
    return replace(flows, vessels={**flows.vessels, **stands})
