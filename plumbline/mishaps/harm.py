"""What harm a course of the water does: where, when, and how much water is lost."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..catalogue.reading import data
from ..day import Course
from .fault import Fault
from .running import DRY, NO_CHANGE, Running

__all__ = ["Harm", "harms_of", "lost"]

LASTS = 600.0
"""Water that stays away for no longer than this, beyond what is usual, is none that stays away [s]."""


@dataclass(frozen=True, slots=True)
class Harm:
    """One harm: `what`, a row of `catalogue/mishaps.yaml`; `where`, a vessel, a pump, a cap or a line; `time` [s] after the mishap."""

    what: str
    where: str
    time: float

    @property
    def weight(self) -> float:
        """How much it weighs."""
        return float(data("mishaps.yaml")["harms"][self.what]["weight"])

    @property
    def words(self) -> str:
        """What is seen of it."""
        return str(data("mishaps.yaml")["harms"][self.what]["says"]).format(where=self.where)


def harms_of(running: Running, fault: Fault, course: Course, besides: Sequence[Harm] = ()) -> tuple[Harm, ...]:
    """Give the harms of a course, the first one first.

    Parameters:
        running: the layout with nothing wrong.
        fault: what has gone wrong.
        course: what comes of it.
        besides: harms that are there without it; they are left out.
    """
    there = {(harm.what, harm.where) for harm in besides}
    found = [*_told(course), *_run_out(fault, course), *_dry(running, fault, course)]
    first: dict[tuple[str, str], Harm] = {}
    for harm in sorted(found, key=lambda one: (one.time, -one.weight, one.where)):
        first.setdefault((harm.what, harm.where), harm)
    return tuple(harm for key, harm in first.items() if key not in there)


def _told(course: Course) -> Iterator[Harm]:
    for event in course.events:
        if event.kind in ("floor wet", "fish tank below half"):
            yield Harm(event.kind, event.where, event.time)
        elif event.kind == "sucks air":
            yield Harm("pump dry", event.where, event.time)


def _run_out(fault: Fault, course: Course) -> Iterator[Harm]:
    """Water beside its vessel, out of what stands open or past the bed."""
    if sum(course.spilt.values()) > 1e-6:
        name = max(course.spilt, key=lambda one: course.spilt[one])
        yield Harm("floor wet", _place(fault, name), 0.0)
    for end in fault.spills:
        flows = course.ends[end]
        at = next((i for i, flow in enumerate(flows) if flow > NO_CHANGE), None)
        if at is not None:
            yield Harm("floor wet", _place(fault, end), course.times[at])


def _place(fault: Fault, name: str) -> str:
    """Where water runs out, by a name of the user's."""
    return name if fault.kind == "cap left open" else fault.line or name


def _dry(running: Running, fault: Fault, course: Course) -> Iterator[Harm]:
    for name, usual in running.usual.items():
        vessel = running.layout.vessels[name]
        if vessel.holds not in ("fish", "plants") or usual <= NO_CHANGE:
            continue
        rest = max((stop - start for start, stop in _gaps(running.course, name, DRY * usual)), default=0.0)
        long = [start for start, stop in _gaps(course, name, DRY * usual) if stop - start > rest + LASTS]
        if long:
            yield Harm("no water to the fish" if vessel.holds == "fish" else "no water to a bed", name, long[0] + rest)


def _gaps(course: Course, vessel: str, least: float) -> Iterator[tuple[float, float]]:
    """From when to when a vessel gets less than so much [s]."""
    times, flows = course.times, course.inflows[vessel]
    start: float | None = times[0] if flows[0] < least else None
    for i in range(1, len(times)):
        if (flows[i] < least) == (start is not None):
            continue
        share = (least - flows[i - 1]) / (flows[i] - flows[i - 1])
        moment = times[i - 1] + share * (times[i] - times[i - 1])
        if start is None:
            start = moment
        else:
            yield start, moment
            start = None
    if start is not None:
        yield start, times[-1]


def lost(running: Running, fault: Fault, course: Course) -> float:
    """Give the water that a mishap puts beside the vessels in the time that it is followed [m³]."""
    usual: Mapping[str, float] = {name: one.spilt for name, one in running.course.vessels.items()}
    over = sum(max(one.spilt - usual.get(name, 0.0), 0.0) for name, one in course.vessels.items())
    past = sum(float(np.trapezoid(course.ends[end], course.times)) for end in fault.spills)
    return over + past + sum(course.spilt.values())
