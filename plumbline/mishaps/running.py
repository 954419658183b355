"""The water before anything goes wrong: where it stands, how it runs, and what is watched for from there on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from ..day import Course, follow_day
from ..day.follow import Watch
from ..day.moment import Moment, Solver, Switches, Waters
from ..hydraulics.find import settle
from ..hydraulics.solver import solve
from ..hydraulics.stretches import BARE
from ..layout.model import Layout
from .fault import Fault, working
from .glance import glance

__all__ = ["DRY", "NO_CHANGE", "Running", "first_moment", "nothing_wrong", "run"]

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

    def changes(self, fault: Fault) -> bool:
        """Whether a fault changes anything at once; where clocks and levels switch, it may later."""
        if self.layout.timed or fault.layout is not self.layout:
            return True
        flows, usual = self.moment_with(fault).solution.flows, self.moment.solution.flows
        # An airlift without its air is an open pipe: another network.
        return len(flows) != len(usual) or bool(np.max(np.abs(flows - usual), initial=0.0) > NO_CHANGE)

    def follow(self, fault: Fault) -> Course:
        """The course of the water from a fault on.

        Raises:
            SolveError: where flows cannot be found at some time.
        """
        waters = self.waters if fault.layout is self.layout else Waters(fault.layout, fault.opened, self.waters.solver)
        watches = watching(fault.layout, {} if self.layout.timed else self.usual)
        vented = self.vented & {one.id for one in fault.layout.stretches}
        if not (self.layout.timed or fault.layout.timed or fault.opened or fault.spills):
            course = glance(waters, self.levels, _switches(fault, vented), watches, 3600.0 * self.hours, self.moment)
            if course is not None:
                return course
        return follow_day(
            fault.layout,
            hours=self.hours,
            levels=self.levels,
            vented=vented,
            off=fault.off,
            blocked=fault.blocked,
            opened=fault.opened,
            watching=[watch for watch in watches if watch.kind != "intake bare"],
            waters=waters,
            near=self.moment,
        )


def run(layout: Layout, hours: float, solver: Solver = solve) -> Running:
    """Find how a layout runs with nothing wrong: from steady running, or from its written levels where clocks or siphons turn it. `solver` is
    asked for the flows of what is followed from there on.

    Raises:
        SolveError: where it has no steady flow, or none was found.
    """
    levels: Mapping[str, float] = {}
    vented: frozenset[str] = frozenset()
    if not _clocked(layout):
        settled = settle(layout, margins=False)
        levels, vented = settled.levels, settled.vented
    waters = Waters(layout, [access.id for access in layout.accesses if access.kind == "cap"], solver)
    moment = first_moment(waters, levels=levels, vented=vented)
    course = follow_day(layout, hours=hours, levels=levels, vented=vented, watching=watching(layout, {}), waters=waters,
                        near=moment)  # fmt: skip
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
            found.append(Watch("floor wet", name, _over(name, vessel.base + vessel.rim)))
        if vessel.holds == "fish":
            found.append(Watch("fish tank below half", name, _under(name, vessel.base + 0.5 * vessel.water)))
    for pump in (layout.pumps[name] for name in working(layout)):
        if pump.vessel is not None and layout.vessels[pump.vessel].area is not None:
            height = layout.vessels[pump.vessel].base + pump.intake
            found.append(Watch("intake bare", pump.name, _under(pump.vessel, height + BARE)))
    waters = Waters(layout)
    order = list(layout.vessels)
    for name, flow in usual.items():
        if flow > 0.0 and layout.vessels[name].holds in ("fish", "plants"):
            found.append(Watch("inflow ends", name, _less(waters, order.index(name), DRY * flow), ROUGH))
    return found


def _over(vessel: str, height: float) -> Callable[[Moment], float]:
    return lambda moment: float(moment.solution.heads[moment.assembly.vessels[vessel]]) - height


def _under(vessel: str, height: float) -> Callable[[Moment], float]:
    return lambda moment: height - float(moment.solution.heads[moment.assembly.vessels[vessel]])


def _less(waters: Waters, place: int, flow: float) -> Callable[[Moment], float]:
    return lambda moment: 1.0 - float(waters.inflows(moment)[place]) / flow
