"""The whole answer on each tank that spray bars turn: the verdict on its current, and which holes would give the current wanted, the whole
network solved anew with each."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

from .. import catalogue
from ..errors import SolveError
from ..layout.altered import with_parts
from ..layout.model import Layout, Part
from .find import Settled, find_flows, settle
from .roots import root
from .tank_current import TankCurrent, tank_currents

__all__ = [
    "DRILLS",
    "Drilled",
    "HoleSize",
    "TankAnswer",
    "find_hole",
    "judge_speed",
    "least_speed",
    "swim_limit",
    "tank_answers",
    "turned",
    "wanted_speed",
    "with_holes",
]

DRILLS = tuple(0.0005 * half for half in range(2, 41))
"""Drills a plumber owns, 1 to 20 mm by half millimetres [m]. Common practice, no source."""
INCH_DRILLS = tuple(0.0254 / 64 * part for part in range(3, 51))
"""Of one who works in inches: 3/64 to 25/32 in by sixty-fourths [m]."""

MOST_AREA = 1.0
"""Holes are tried up to this share of the pipe's section, all of a bar together: beyond it the first hole gives less than four fifths of the last
(the cosine law), and a march for holes small beside their pipe says little."""


@dataclass(frozen=True)
class Drilled:
    """What one drill would do: `hole` [m], mean `speed` [m/s] at low, likely and high, the tank's `inflow` [m³/s], the fastest `jet` [m/s] and
    the least even bar's `evenness`; `verdict` "too fast", "too slow" or "good"."""

    hole: float
    current: TankCurrent
    inflow: float
    verdict: str

    @property
    def speed(self) -> float:
        """The likely mean speed [m/s]."""
        return 0.0 if self.current.speed is None else self.current.speed.likely

    @property
    def jet(self) -> float:
        """The fastest jet [m/s]."""
        return max(hole.speed for bar in self.current.bars for hole in bar.holes)


@dataclass(frozen=True)
class HoleSize:
    """The hole that gives a wanted current. `exact` [m], None where no hole does; `below` and `above` the drills on either side of it; `best` the
    one to take; `fastest` the drill with the fastest current of all."""

    wanted: float
    exact: float | None
    below: Drilled | None
    above: Drilled | None
    best: Drilled
    fastest: Drilled


def judge_speed(layout: Layout, current: TankCurrent) -> str:
    """Say whether the likely current is "too fast" for the fish, "too slow" to move solids, or "good"; "" where there is none to judge.

    Too slow is under `least_speed`.
    """
    if current.speed is None:
        return ""
    most = swim_limit(layout, current)
    if current.speed.likely > most:
        return "too fast"
    return "too slow" if current.speed.likely < least_speed(layout, current) else "good"


def least_speed(layout: Layout, current: TankCurrent) -> float:
    """Give the least mean speed to ask for [m/s]: the limit `tank current`, or half of what the smallest fish can do where that is less."""
    return min(layout.limits["tank current"], 0.5 * swim_limit(layout, current))


def swim_limit(layout: Layout, current: TankCurrent) -> float:
    """Give the current that the smallest fish is not to be asked to pass [m/s]."""
    return math.inf if current.fish is None else layout.limits["swimming"] * current.fish.speed


def wanted_speed(layout: Layout, current: TankCurrent) -> float:
    """Give a current to aim at: 1⅓ times the least that moves solids, but at most four fifths of what the fish can do."""
    return min(layout.limits["tank current"] * 4.0 / 3.0, 0.8 * swim_limit(layout, current))


def find_hole(layout: Layout, current: TankCurrent, wanted: float, *, length: float | None = None) -> HoleSize | None:
    """Find the diameter of all holes of a tank's turning bars that gives a mean speed.

    Small holes let little water through, and large ones let it out slowly, so that the current has a greatest value in
    between; the larger hole of the two that give a slower one is taken, which passes more water and clogs less.

    Parameters:
        wanted: likely mean speed [m/s].
        length: of the smallest fish [m], in place of what the file says.

    Returns:
        The size; None where the tank's current is not known or nothing flows.
    """
    if current.speed is None:
        return None
    turning = current.turning
    most = min(one.bar.bore * math.sqrt(MOST_AREA / len(one.holes)) for one in turning)
    tries: dict[float, Drilled | None] = {}
    near: Settled | None = None

    def drilled(hole: float) -> Drilled | None:
        nonlocal near
        if hole not in tries:
            tries[hole], near = _drilled(layout, current, [one.part for one in turning], hole, length, near)
        return tries[hole]

    drills = [hole for hole in (INCH_DRILLS if layout.units.size == "in" else DRILLS) if hole <= most]
    made = [one for one in map(drilled, drills) if one is not None]
    if not made:
        return None
    fastest = max(made, key=lambda one: one.speed)
    slower = [one for one in made if one.hole >= fastest.hole]
    pair = next((two for two in pairwise(slower) if two[0].speed >= wanted >= two[1].speed), None)
    if pair is None:
        best = fastest if wanted > fastest.speed else slower[-1]
        return HoleSize(wanted, None, None, None, best, fastest)
    below, above = pair

    def left(hole: float) -> float:
        found = drilled(hole)
        return -wanted if found is None else found.speed - wanted

    exact = root(left, below.hole, above.hole, relative=1e-9)
    closest = sorted(pair, key=lambda one: abs(one.speed - wanted))
    best = next((one for one in closest if one.verdict == "good"), above)
    return HoleSize(wanted, exact, below, above, best, fastest)


def turned(current: TankCurrent, inflow: float, wanted: float) -> float | None:
    """Give how far off the wall an upright bar would have to point for a mean speed [rad], everything else being as it is.

    cos θ' = cos θ (Q V + Ct A V²)/Σ q v cos θ, with Ct the likely drag.

    Parameters:
        inflow: Q, all that comes into the tank [m³/s].
        wanted: likely mean speed V [m/s].

    Returns:
        The angle; None where there is more than one bar, or it lies, or it would have to push harder.
    """
    if current.wetted is None or len(current.turning) != 1:
        return None
    (one,) = current.turning
    if abs(one.part.heading_in[2]) < math.sqrt(0.5) or one.pull <= 0.0:
        return None
    drag = catalogue.tank_current()["tank drag"].likely
    share = math.cos(one.aim or 0.0) * (inflow * wanted + drag * current.wetted * wanted**2) / one.pull
    return math.acos(share) if share <= math.cos(one.aim or 0.0) else None


def with_holes(layout: Layout, parts: list[Part], hole: float) -> Layout:
    """Give the layout with other holes in some of its spray bars."""
    places = {(part.mark, part.step) for part in parts}
    changed: Callable[[Part], Part] = lambda part: (  # noqa: E731
        replace(part, details={**part.details, "hole": hole})
        if part.kind == "spray bar" and (part.mark, part.step) in places
        else part
    )
    return with_parts(layout, lambda _, parts: tuple(map(changed, parts)))


def _drilled(
    layout: Layout, current: TankCurrent, parts: list[Part], hole: float, length: float | None, near: Settled | None
) -> tuple[Drilled | None, Settled | None]:
    """What one drill does, and what to begin the next from."""
    other = with_holes(layout, parts, hole)
    try:
        settled = settle(other, near=near, margins=False)
    except SolveError:
        return None, near
    flows = settled.flows
    found = next((one for one in tank_currents(other, flows, length=length) if one.vessel == current.vessel), None)
    if found is None:
        return None, settled
    return Drilled(hole, found, flows.vessels[current.vessel].inflow, judge_speed(other, found)), settled


@dataclass(frozen=True)
class TankAnswer:
    """A tank's `current`; the `verdict` on it, "too fast", "too slow", "good" or "" where nothing can be said; the tank's `inflow` [m³/s];
    the speed `wanted` [m/s], the hole `size` that gives it, and the `turn` off the wall that does [rad], where they were looked for."""

    current: TankCurrent
    verdict: str
    inflow: float
    wanted: float
    size: HoleSize | None
    turn: float | None


def tank_answers(layout: Layout, *, wanted: float | None = None, length: float | None = None) -> tuple[TankAnswer, ...]:
    """Find the current of each tank that spray bars blow into, and a cure where it is bad or another is wanted.

    Parameters:
        wanted: likely mean speed to look for [m/s]; left out, one that suits, where the verdict is not good
        length: of the smallest fish [m], in place of what the file says

    Raises:
        SolveError: when the layout has no steady flow
    """
    flows = find_flows(layout, margins=False)
    answers = []
    for current in tank_currents(layout, flows, length=length):
        verdict = judge_speed(layout, current)
        inflow = flows.vessels[current.vessel].inflow
        speed = wanted_speed(layout, current) if wanted is None else wanted
        look = current.speed is not None and (wanted is not None or verdict != "good")
        answers.append(
            TankAnswer(
                current=current,
                verdict=verdict,
                inflow=inflow,
                wanted=speed,
                size=find_hole(layout, current, speed, length=length) if look else None,
                turn=turned(current, inflow, speed) if look else None,
            )
        )
    return tuple(answers)
