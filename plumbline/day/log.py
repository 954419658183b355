"""What is written down of a day on the way, and what it adds up to."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from ..hydraulics.network import FloatArray
from ..hydraulics.stretches import arrives, pieces_by_line
from .cycles import Round
from .moment import Moment, Switches, Waters
from .result import Course, Event, PumpCourse, VesselCourse, WaterAccount
from .steps import WEIGHTS

__all__ = ["Log"]


class Log:
    """The `times` [s], and at each of them levels, flows and switches; `events`; and `sums`: what was added, lost and spilt [m³], and for how long pumps
    ran and drew air [s]."""

    def __init__(self, waters: Waters, opened: Collection[str], volumes: FloatArray) -> None:
        self.waters = waters
        self.layout = layout = waters.layout
        self.opened = opened
        self.first = float(np.sum(volumes))
        self.times: list[float] = []
        self.levels: list[FloatArray] = []
        self.ends: list[list[float]] = []
        self.inflows: list[list[float]] = []
        self.switches: list[Switches] = []
        self.events: list[Event] = []
        spilt = [("spilt", name) for name in (*layout.vessels, *(f"cap {name}" for name in opened))]
        per_pump = [(what, name) for name in layout.pumps for what in ("starved", "seconds", "starts")]
        self.sums: dict[tuple[str, str], float] = dict.fromkeys([("added", ""), ("lost", ""), *spilt, *per_pump], 0.0)
        self.sums_at: dict[float, FloatArray] = {}
        self.arrives = {name: arrives(layout, pieces).id for name, pieces in pieces_by_line(layout).items()}

    def through(self, moment: Moment, line: str) -> float:
        """What comes to a line's end [m³/s]."""
        link = moment.assembly.links[self.arrives[line]]
        return link.sign * float(moment.solution.flows[link.at(1)])

    def write(self, time: float, volumes: FloatArray, moment: Moment, switches: Switches) -> None:
        """Write down a moment."""
        self.times.append(time)
        self.levels.append(self.waters.levels(volumes))
        self.ends.append([self.through(moment, name) for name in self.layout.lines])
        self.inflows.append(self.waters.inflows(moment).tolist())
        self.switches.append(switches)

    def account(
        self, moments: tuple[Moment, Moment, Moment], step: float, at_work: Collection[str], starved: Collection[str]
    ) -> None:
        """Add up what a step brought from outside and took away, of its beginning, its middle and its end; which pumps ran, and drew air."""
        for weight, moment in zip(WEIGHTS, moments, strict=True):
            added, lost = self.waters.outside(moment)
            self.sums["added", ""] += weight * step * added
            self.sums["lost", ""] += weight * step * lost
            caps = {f"cap {name}": moment.assembly.caps[name] for name in self.opened}
            for name, link in (moment.assembly.rims | caps).items():
                self.sums["spilt", name] += weight * step * float(moment.solution.flows[link])
        for name in at_work:
            self.sums["seconds", name] += step
            self.sums["starved", name] += step * (name in starved)

    def mark_sums(self, time: float) -> None:
        """Keep what all adds up to at a time [s], for a round that may begin there."""
        self.sums_at[time] = np.array(list(self.sums.values()))

    def repeat(self, found: Round) -> None:
        """Write a round down again."""
        period = found.end.time - found.begin.time
        levels = self.waters.levels(found.end.volumes) - self.waters.levels(found.begin.volumes)
        inside = slice(found.begin.moments, found.end.moments)
        times, stood, ends, inflows = self.times[inside], self.levels[inside], self.ends[inside], self.inflows[inside]
        switches = self.switches[inside]
        events = self.events[found.begin.events : found.end.events]
        for turn in range(1, found.times + 1):
            self.times += [time + turn * period for time in times]
            self.levels += [level + turn * levels for level in stood]
            self.ends += ends
            self.inflows += inflows
            self.switches += switches
            self.events += [replace(event, time=event.time + turn * period) for event in events]
        begin, end = self.sums_at[found.begin.time], self.sums_at[found.end.time]
        self.sums = dict(zip(self.sums, (end + found.times * (end - begin)).tolist(), strict=True))
        self.sums_at.clear()

    def whole(self, volumes: FloatArray, period: float | None, steps: int) -> Course:
        """All of it, up to the volumes [m³] at its end."""
        levels = np.array(self.levels).reshape(len(self.times), len(self.waters.names))
        ends = np.array(self.ends).reshape(len(self.times), len(self.layout.lines))
        inflows = np.array(self.inflows).reshape(len(self.times), len(self.layout.vessels))
        end = float(np.sum(volumes))
        return Course(
            times=tuple(self.times),
            vessels={
                name: VesselCourse(tuple(levels[:, i].tolist()), self.sums["spilt", name])
                for i, name in enumerate(self.waters.names)
            },
            ends={f"{name}.to": tuple(ends[:, i].tolist()) for i, name in enumerate(self.layout.lines)},
            pumps={
                name: PumpCourse(
                    tuple(name not in switches.off for switches in self.switches),
                    round(self.sums["starts", name]),
                    self.sums["seconds", name],
                    self.sums["starved", name],
                )
                for name in self.layout.pumps
            },
            events=tuple(self.events),
            water=WaterAccount(self.first, end, self.sums["added", ""], self.sums["lost", ""]),
            period=period,
            steps=steps,
            inflows={name: tuple(inflows[:, i].tolist()) for i, name in enumerate(self.layout.vessels)},
            switches=tuple(self.switches),
            spilt={name: self.sums["spilt", f"cap {name}"] for name in self.opened},
        )
