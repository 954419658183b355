"""A glance at what a fault leads to, in a few long implicit steps: most change little, and come near no harm that is not there at once.

Only the others are followed as the day is. A long implicit step goes straight to where the water tends, and is damped however long it is
(backward Euler); what it says of the way there is rough, so that it counts only where nothing comes near a rim, an intake or half a tank.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..day import Course, Event
from ..day.follow import Watch
from ..day.moment import Moment, Switches, Waters
from ..day.result import PumpCourse, VesselCourse, WaterAccount
from ..errors import SolveError

__all__ = ["glance"]

MOMENTS = (60.0, 600.0, 3600.0)
"""When to look, besides at once and at the end [s]."""

NEAR = 0.005
"""Nearer than this to what is watched for is followed [m]."""

NEAR_FLOW = 1.0
"""Likewise of flows, as a share of what they are watched at: twice that."""


def glance(
    waters: Waters,
    levels: Mapping[str, float],
    switches: Switches,
    watches: Sequence[Watch],
    until: float,
    near: Moment | None,
) -> Course | None:
    """Look at the water at once, at a few moments and at the end.

    Parameters:
        waters, levels, switches: as the fault finds and leaves them.
        watches: what harm shows by.
        until: the end [s].
        near: a moment to begin the search from.

    Returns:
        The course at those moments, with what is told of at once; None where it has to be followed.
    """
    layout = waters.layout
    volumes = waters.volumes({name: levels.get(name, vessel.level) for name, vessel in layout.vessels.items()})
    try:
        first = waters.solve(switches, volumes, 1e-3, None if near is None else near.solution)
        told = [watch for watch in watches if watch.value(first) >= 0.0]
        moments, times = [first], [0.0]
        for time in (*(time for time in MOMENTS if time < until), until):
            last = moments[-1]
            moments.append(waters.solve(switches, last.volumes, time - times[-1], last.solution))
            times.append(time)
    except SolveError:
        return None
    if any(waters.aired(switches, moment) for moment in (moments[0], moments[-1])):
        return None
    for watch in watches:
        values = [watch.value(moment) for moment in moments]
        if min(values) < 0.0 if watch in told else max(values) > -_margin(watch):
            return None
    return _course(waters, switches, times, moments, told)


def _margin(watch: Watch) -> float:
    return NEAR_FLOW if watch.kind == "inflow ends" else NEAR


def _course(waters: Waters, switches: Switches, times: list[float], moments: list[Moment], told: list[Watch]) -> Course:
    layout = waters.layout
    levels = [waters.levels(moment.volumes) for moment in moments]
    inflows = [waters.inflows(moment) for moment in moments]
    first, last = moments[0], moments[-1]
    on = {name: name not in switches.off for name in layout.pumps}
    return Course(
        times=tuple(times),
        vessels={name: VesselCourse(tuple(float(one[i]) for one in levels)) for i, name in enumerate(waters.names)},
        ends={},
        pumps={name: PumpCourse((is_on,) * len(times), 0, times[-1] * is_on) for name, is_on in on.items()},
        events=tuple(Event(0.0, watch.kind, watch.where, "") for watch in told),
        water=WaterAccount(float(sum(first.volumes)), float(sum(last.volumes)), 0.0, 0.0),
        steps=len(times) - 1,
        inflows={name: tuple(float(one[i]) for one in inflows) for i, name in enumerate(layout.vessels)},
    )
