"""The water before anything goes wrong: where it stands, how it runs, and what is watched for from there on.

What a fault leads to gets a glance first, in a few long implicit steps: most change little, and come near no harm that is not there at once.
Only the others are followed as the day is. A long implicit step goes straight to where the water tends, and is damped however long it is
(backward Euler); what it says of the way there is rough, so that it counts only where nothing comes near a rim, an intake or half a tank.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..day import Course, Event, follow_day
from ..day.moment import Moment, Switches, Waters
from ..day.result import PumpCourse, VesselCourse, WaterAccount
from ..day.steps import Watch
from ..errors import SolveError
from ..hydraulics.find import settle
from ..hydraulics.stretches import BARE, intakes
from ..layout.model import Layout
from .fault import Fault, working

__all__ = ["DRY", "NO_CHANGE", "Running", "first_moment", "glance", "nothing_wrong", "run"]

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
        margin = NEAR_FLOW if watch.kind == "inflow ends" else NEAR
        if min(values) < 0.0 if watch in told else max(values) > -margin:
            return None
    return _course(waters, switches, times, moments, told)


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


DRY = 0.1
"""A vessel that gets less than this share of what it is used to gets no water."""

ROUGH = 300.0
"""The moment at which an inflow is down to that is found to 3 % of it, and not to the last drop of a standpipe that runs dry."""

NO_CHANGE = 1e-9
"""Flows that differ by less are the same [m³/s]."""


@dataclass(frozen=True)
class Running:
    """How a layout runs, for `hours`. `waters` are its vessels and its network, `levels` [m above the datum] where a mishap finds
    them, `vented` the stretches with air in them, `course` how it goes on with nothing wrong, `moment` where that begins."""

    layout: Layout
    hours: float
    waters: Waters
    levels: Mapping[str, float]
    vented: frozenset[str]
    course: Course
    moment: Moment

    @property
    def usual(self) -> Mapping[str, float]:
        """What comes to each vessel, on the mean of the time [m³/s]."""
        times = np.array(self.course.times)
        return {name: float(np.trapezoid(flows, times) / times[-1]) for name, flows in self.course.inflows.items()}

    def moment_with(self, fault: Fault) -> Moment:
        """The first moment of a fault that leaves the pipework as it is."""
        return first_moment(self.waters, fault, levels=self.levels, vented=self.vented, near=self.moment)

    def known_moment(self, fault: Fault) -> Moment | None:
        """The same; None of a fault that changes the pipework, and where it has no flows, or clocks and levels switch what is to come."""
        if self.layout.timed or fault.layout is not self.layout:
            return None
        try:
            return self.moment_with(fault)
        except SolveError:
            return None

    def changed(self, moment: Moment | None) -> bool:
        """Whether a fault changes anything at once, by its first moment; where that is not known, it may."""
        if moment is None:
            return True
        flows, usual = moment.solution.flows, self.moment.solution.flows
        # An airlift without its air is an open pipe: another network.
        return len(flows) != len(usual) or bool(np.max(np.abs(flows - usual), initial=0.0) > NO_CHANGE)

    def found_by(self, fault: Fault) -> Mapping[str, float]:
        """Where a fault finds the levels [m above the datum]: a switch that sticks, where it should have turned next."""
        turns = [event.time for event in self.course.events if (event.kind, event.where) == fault.shows]
        if not turns:
            return self.levels
        now = self.course.times.index(turns[0])
        return {name: one.level[now] for name, one in self.course.vessels.items()}

    def follow(self, fault: Fault, moment: Moment | None = None) -> Course:
        """The course of the water from a fault on; its first `moment`, where it is known, saves time.

        Raises:
            SolveError: where flows cannot be found at some time.
        """
        waters = self.waters if fault.layout is self.layout else Waters(fault.layout, fault.opened)
        watches = watching(fault.layout, {} if self.layout.timed else self.usual)
        vented = self.vented & {one.id for one in fault.layout.stretches}
        near = moment or self.moment
        if not (self.layout.timed or fault.layout.timed or fault.opened or fault.spills):
            course = glance(waters, self.levels, _switches(fault, vented), watches, 3600.0 * self.hours, near)
            if course is not None:
                return course
        return follow_day(
            fault.layout,
            hours=self.hours,
            levels=self.found_by(fault),
            vented=vented,
            off=fault.off,
            blocked=fault.blocked,
            opened=fault.opened,
            watching=_not_told(watches),
            waters=waters,
            near=near,
        )


def run(layout: Layout, hours: float) -> Running:
    """Find how a layout runs with nothing wrong: from steady running, or from its written levels where clocks or siphons turn it.

    Raises:
        SolveError: where it has no steady flow, or none was found.
    """
    levels: Mapping[str, float] = {}
    vented: frozenset[str] = frozenset()
    if not _clocked(layout):
        settled = settle(layout, margins=False)
        levels, vented = settled.levels, settled.vented
    waters = Waters(layout, [access.id for access in layout.accesses if access.kind == "cap"])
    moment = first_moment(waters, levels=levels, vented=vented)
    course = follow_day(
        layout,
        hours=hours,
        levels=levels,
        vented=vented,
        watching=_not_told(watching(layout, {})),
        waters=waters,
        near=moment,
    )
    return Running(layout, hours, waters, levels, vented, course, moment)


def _clocked(layout: Layout) -> bool:
    """Whether clocks or siphons turn it, so that it has no one level to stand at; a float switch waits, and a float valve is shut."""
    timers = [pump.runs for pump in layout.pumps.values()]
    timers += [part.runs for line in layout.lines.values() for part in line.parts]
    return any(timer is not None and (timer.off > 0.0 or timer.windows) for timer in timers) or any(
        end.siphon is not None for end in layout.ends.values()
    )


def first_moment(
    waters: Waters,
    fault: Fault | None = None,
    *,
    levels: Mapping[str, float] | None = None,
    vented: frozenset[str] = frozenset(),
    near: Moment | None = None,
) -> Moment:
    """The water at the levels that a fault finds; as written where none are given.

    Raises:
        SolveError: where its flows cannot be found.
    """
    at = levels or {}
    volumes = waters.volumes({name: at.get(name, vessel.level) for name, vessel in waters.layout.vessels.items()})
    switches = _switches(fault or nothing_wrong(waters.layout), vented)
    return waters.solve(switches, volumes, 1e-3, None if near is None else near.solution)


def nothing_wrong(layout: Layout) -> Fault:
    """No fault at all, to hold others against."""
    return Fault("", "", None, None, "", layout)


def _switches(fault: Fault, vented: frozenset[str]) -> Switches:
    stands_by = {pump.name for pump in fault.layout.pumps.values() if pump.stands_by}
    return Switches(off=fault.off | stands_by, vented=vented, blocked=fault.blocked, opened=fault.opened)


def watching(layout: Layout, usual: Mapping[str, float]) -> list[Watch]:
    """What is told of: rims, half the fish's water, intakes; and inflows, of vessels that are used to some, that come to an end."""
    found = []
    for name, vessel in layout.vessels.items():
        if vessel.area is None:
            continue
        if vessel.rim is not None:
            found.append(Watch("overtops", name, _over(name, vessel.base + vessel.rim)))
        if vessel.holds == "fish":
            found.append(Watch("fish tank below half", name, _under(name, vessel.base + 0.5 * vessel.water)))
    for pump in (layout.pumps[name] for name in working(layout)):
        if intakes(layout)[pump.name]:
            found.append(Watch("sucks air", pump.name, _bared(layout, pump.name)))
    waters = Waters(layout)
    order = list(layout.vessels)
    for name, flow in usual.items():
        if flow > 0.0 and layout.vessels[name].holds in ("fish", "plants"):
            found.append(Watch("inflow ends", name, _less(waters, order.index(name), DRY * flow), ROUGH))
    return found


def _not_told(watches: Sequence[Watch]) -> list[Watch]:
    """Those that a day does not tell of by itself."""
    return [watch for watch in watches if watch.kind not in ("overtops", "sucks air")]


def _over(vessel: str, height: float) -> Callable[[Moment], float]:
    return lambda moment: float(moment.solution.heads[moment.assembly.vessels[vessel]]) - height


def _under(vessel: str, height: float) -> Callable[[Moment], float]:
    return lambda moment: height - float(moment.solution.heads[moment.assembly.vessels[vessel]])


def _bared(layout: Layout, pump: str) -> Callable[[Moment], float]:
    return lambda moment: BARE - moment.assembly.over_intake(layout, pump, moment.solution)


def _less(waters: Waters, place: int, flow: float) -> Callable[[Moment], float]:
    return lambda moment: 1.0 - float(waters.inflows(moment)[place]) / flow
