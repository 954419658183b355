"""What harm a course of the water does: where, when, how much water is lost; and how long the fish have oxygen once no water comes to them, or once the power
is away.

V dC/dt = q (C_in − C) − U, well mixed: the water in the tank V and what comes to it q follow the course of the mishap, U is what the fish
use. Nothing comes in over the surface, and no air stone runs: that is on the safe side. All that is taken is a row of `catalogue/husbandry.yaml`.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial

import numpy as np

from ..catalogue.reading import data
from ..day import Course
from ..husbandry import size
from ..husbandry.oxygen import WARMEST, oxygen_saturation
from ..husbandry.read import read_wish
from ..husbandry.wish import Between, Wish
from ..hydraulics.contents import content
from ..layout.model import Layout, Vessel
from ..water import air_pressure
from .fault import Fault
from .running import DRY, NO_CHANGE, Running

__all__ = ["FishAir", "Harm", "fish_air", "harms_of", "lasts", "lost", "table"]

table = cache(partial(data, "mishaps.yaml"))
"""What can go wrong, and what harm is, with their words and weights."""

LASTS = 600.0
"""Water that stays away for no longer than this, beyond what is usual, is none that stays away [s]."""


@dataclass(frozen=True, slots=True)
class Harm:
    """One harm: `what`, a row of `catalogue/mishaps.yaml`; `where`, a vessel, a pump, a cap or a line; `time` [s] after the mishap."""

    what: str
    where: str
    time: float

    @property
    def key(self) -> tuple[str, str]:
        """What it is, and where."""
        return self.what, self.where

    @property
    def weight(self) -> float:
        """How much it weighs."""
        return float(table()["harms"][self.what]["weight"])

    @property
    def words(self) -> str:
        """What is seen of it."""
        return str(table()["harms"][self.what]["says"]).format(where=self.where)


def harms_of(running: Running, fault: Fault, course: Course, besides: Sequence[Harm] = ()) -> tuple[Harm, ...]:
    """Give the harms of a course, the first one first.

    Parameters:
        fault: what has gone wrong.
        course: what comes of it.
        besides: harms that are there without it; they are left out.
    """
    there = {harm.key for harm in besides}
    found = [*_told(course), *_run_out(fault, course), *_dry(running, course)]
    first: dict[tuple[str, str], Harm] = {}
    for harm in sorted(found, key=lambda one: (round(one.time), -one.weight, one.where)):
        first.setdefault(harm.key, harm)
    return tuple(harm for key, harm in first.items() if key not in there)


def _told(course: Course) -> Iterator[Harm]:
    harms = {"overtops": "floor wet", "fish tank below half": "fish tank below half", "sucks air": "pump dry"}
    for event in course.events:
        if event.kind in harms:
            yield Harm(harms[event.kind], event.where, event.time)


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


def _dry(running: Running, course: Course) -> Iterator[Harm]:
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


LONGEST = 7 * 86400.0
"""What lasts longer lasts [s]."""


@dataclass(frozen=True, slots=True)
class FishAir:
    """The fish of a layout. `stock` [kg] by vessel; `use` of oxygen by a kilogram of fish [1/s]; oxygen [kg/m³] in the tank at the `start`, in
    what `comes` to it, and the `limit` at which fish are in distress. `said` tells whether the file's own wish gave the stock."""

    stock: dict[str, Between]
    use: Between
    start: Between
    comes: Between
    limit: Between
    said: bool


def fish_air(layout: Layout) -> FishAir | None:
    """Give the fish of a layout, by its wish or by the usual stocking; None where no vessel of known size holds fish.

    Reference: as the rows of `catalogue/husbandry.yaml` say; in the worst case the fish have just been fed.
    """
    tanks = {
        name: vessel.area * vessel.water
        for name, vessel in layout.vessels.items()
        if vessel.holds == "fish" and vessel.area is not None
    }
    if not tanks:
        return None
    wish = _wish(layout)
    water = sum(tanks.values())
    said = wish.fish is not None
    whole = size(wish).value("stock by growth") if said else wish.number("stocking") * water
    rate = wish.number("feeding rate") * wish.number("fish oxygen")
    use = Between(rate.low, rate.likely, rate.high * wish.number("feeding peak").high)
    comes = wish.number("inlet saturation") * oxygen_saturation(min(max(wish.celsius, 0.0), WARMEST), wish.pressure)
    kept = wish.number("oxygen in tank")
    start = Between(min(kept.low, comes.low), min(kept.likely, comes.likely), comes.high)
    return FishAir(
        {name: whole * (volume / water) for name, volume in tanks.items()},
        use,
        start,
        comes,
        wish.number("oxygen of distress"),
        said,
    )


def _wish(layout: Layout) -> Wish:
    if "wish" in layout.text and os.path.exists(layout.path):
        return read_wish(layout.path, {}).wish
    celsius = layout.water.temperature
    return Wish(celsius=24.0 if celsius is None else celsius, pressure=air_pressure(layout.altitude))


def lasts(fish: FishAir, vessel: Vessel, course: Course, start: float) -> Between:
    """Give how long the fish in a vessel have oxygen [s], from a time of a course on [s]; infinite where it never gets short.

    The low end takes all that is bad together, the high end all that is good.
    """
    use = fish.stock[vessel.name] * fish.use
    ends = (
        (fish.start.low, fish.comes.low, use.high, fish.limit.high),
        (fish.start.likely, fish.comes.likely, use.likely, fish.limit.likely),
        (fish.start.high, fish.comes.high, use.low, fish.limit.low),
    )
    low, likely, high = (_reaches(vessel, course, start, *some) for some in ends)
    return Between(low, max(low, likely), max(low, likely, high))


def _reaches(
    vessel: Vessel, course: Course, start: float, begins: float, comes: float, use: float, limit: float
) -> float:
    """When the oxygen is down to its limit, after `start` [s]: exactly over each step, in which water and flow are held."""
    times, levels, flows = course.times, course.vessels[vessel.name].level, course.inflows[vessel.name]
    now, oxygen = start, begins
    for i, begin in enumerate(times):
        stop = times[i + 1] if i + 1 < len(times) else start + LONGEST
        if stop <= now:
            continue
        j = min(i + 1, len(times) - 1)
        volume = max(0.5 * (content(vessel, levels[i]) + content(vessel, levels[j])), 1e-6)
        flow = 0.5 * (flows[i] + flows[j])
        left = _time_to(oxygen, limit, flow / volume, flow / volume * comes - use / volume)
        if now + left <= stop:
            return now + left - start
        oxygen = _after(oxygen, flow / volume, flow / volume * comes - use / volume, stop - max(now, begin))
        now = stop
    return math.inf


def _after(oxygen: float, rate: float, gain: float, time: float) -> float:
    """C' = gain − rate C, a time on."""
    if rate * time < 1e-9:
        return oxygen + gain * time
    return gain / rate + (oxygen - gain / rate) * math.exp(-rate * time)


def _time_to(oxygen: float, limit: float, rate: float, gain: float) -> float:
    """When that is down to a limit [s]; infinite where it never is."""
    if oxygen <= limit:
        return 0.0
    if gain - rate * limit >= 0.0:
        return math.inf
    if rate < 1e-12:
        return (oxygen - limit) / -gain
    rest = gain / rate
    return math.log((oxygen - rest) / (limit - rest)) / rate
