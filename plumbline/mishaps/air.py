"""How long the fish have oxygen once no water comes to them, or once the power is away.

V dC/dt = q (C_in − C) − U, well mixed: the water in the tank V and what comes to it q follow the course of the mishap, U is what the fish
use. Nothing comes in over the surface, and no air stone runs: that is on the safe side. All that is taken is a row of `catalogue/husbandry.yaml`.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass

from ..day import Course
from ..husbandry import size
from ..husbandry.between import Between
from ..husbandry.oxygen import WARMEST, oxygen_saturation
from ..husbandry.read import read_wish
from ..husbandry.wish import Wish
from ..hydraulics.contents import content
from ..hydraulics.pressure import air_pressure
from ..layout.model import Layout, Vessel

__all__ = ["FishAir", "fish_air", "lasts"]

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
    tanks = {name: vessel.area * vessel.water for name, vessel in layout.vessels.items()
             if vessel.holds == "fish" and vessel.area is not None}  # fmt: skip
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
    return FishAir({name: whole * (volume / water) for name, volume in tanks.items()}, use, start, comes,
                   wish.number("oxygen of distress"), said)  # fmt: skip


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
