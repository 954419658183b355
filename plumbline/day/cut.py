"""The worst power cut of a day: not in steady running, but when the beds stand full, a siphon in the middle of its run."""

from __future__ import annotations

from dataclasses import replace

from ..hydraulics.vessels import pump_sources
from ..layout.model import Layout
from .follow import follow_day
from .result import Course, Cut

__all__ = ["with_worst_cut"]

HOURS = 2.0
"""For how long the water is followed after it [h]."""


def with_worst_cut(layout: Layout, course: Course) -> Course:
    """Add the worst power cut to a day's course: all pumps stop when most water stands outside the vessels they draw from.

    Returns:
        The course with it; as it is where nothing is pumped.

    Raises:
        SolveError: where flows cannot be found.
    """
    sources = pump_sources(layout)
    areas = {name: layout.vessels[name].area or 0.0 for name in course.vessels if name not in sources}
    if not layout.pumps or not areas:
        return course
    outside = [
        sum(area * course.vessels[name].level[i] for name, area in areas.items()) for i in range(len(course.times))
    ]
    worst = max(range(len(outside)), key=outside.__getitem__)
    time = course.times[worst]
    levels = {name: one.level[worst] for name, one in course.vessels.items()}
    after = follow_day(
        layout, hours=HOURS, levels=levels, off=frozenset(layout.pumps), primed=_primed(layout, course, time)
    )
    spilt = {name: one.spilt for name, one in after.vessels.items() if one.spilt > 1e-5}
    return replace(course, cut=Cut(time, spilt, {name: one.level[-1] for name, one in after.vessels.items()}))


def _primed(layout: Layout, course: Course, time: float) -> frozenset[str]:
    """The siphons that run at a time."""
    running = set()
    for point, end in layout.ends.items():
        if end.siphon is None:
            continue
        told = [
            event
            for event in course.events
            if event.where == end.name and event.time <= time and "siphon" in event.kind
        ]
        if told and told[-1].kind == "siphon starts":
            running.add(point)
    return frozenset(running)
