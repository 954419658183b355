"""What the current in a tank means for its fish and its solids, in plain words and as findings. Only tanks whose bar says where its holes
point are judged."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..catalogued import finding
from ..findings import Finding, Level
from ..layout.model import Layout
from ..units import Units, drill_words, show
from .flows import Flows
from .hole_size import HoleSize, find_hole, judge_speed, least_speed, swim_limit, turned, wanted_speed
from .tank_current import Range, Swimmer, TankCurrent, tank_currents

__all__ = [
    "fish_words",
    "from_to",
    "hole_words",
    "judge_currents",
    "long_words",
    "slow_words",
    "slowly",
    "turn_words",
]

_KNOWN = {
    "asked": "",
    "file": "",
    "wish": ", reckoned from the weight at which the wish puts them in",
    "catalogue": ", reckoned from 50 g as the file does not say how small the fish are",
}


def slowly(speed: float, units: Units) -> str:
    """A speed of water that fish swim in, in centimetres a second where the file is metric.

    >>> slowly(0.147, Units()), slowly(0.147, Units(speed="ft/s"))
    ('15 cm/s', '0.48 ft/s')
    """
    return f"{100.0 * speed:.0f} cm/s" if units.speed == "m/s" else show(speed, "speed", units)


def long_words(length: float, units: Units) -> str:
    """The length of a fish.

    >>> long_words(0.084, Units())
    '8.4 cm'
    """
    return f"{100.0 * length:.3g} cm" if units.size == "mm" else show(length, "size", units)


def from_to(speed: Range, units: Units) -> str:
    """A speed with its range."""
    low, likely, high = (slowly(value, units) for value in (speed.low, speed.likely, speed.high))
    return f"about {likely} ({low} to {high})"


def fish_words(layout: Layout, fish: Swimmer) -> str:
    """What the smallest fish can do."""
    length = long_words(fish.length, layout.units)
    limit = layout.limits["swimming"]
    share = "" if limit == 1.0 else f", and are asked for {100.0 * limit:.0f} % of that"
    return (
        f"the smallest fish ({length}{_KNOWN[fish.known]}) can swim {slowly(fish.speed, layout.units)} for hours{share}"
    )


def slow_words(layout: Layout, current: TankCurrent) -> str:
    """What a current would have to be to move solids."""
    least = slowly(least_speed(layout, current), layout.units)
    return f"solids move to the middle from about {least} on"


def turn_words(angle: float) -> str:
    """How far to turn an upright bar, to the next 5° off the wall."""
    degrees = 5 * math.ceil(math.degrees(angle) / 5.0 - 1e-9)
    return f"turn the bar so that its holes point {degrees}° off the wall"


def hole_words(layout: Layout, current: TankCurrent, size: HoleSize) -> str:
    """Which drill to take, with both neighbours of the exact size."""
    units = layout.units
    bar, best = current.turning[0], size.best
    now, line = bar.bar.hole, bar.line
    gives = f"{slowly(best.speed, units)}{'' if best.verdict == 'good' else f' (still {best.verdict})'}"
    where = f"in the bar of '{line}'"
    if size.below is None or size.above is None:
        do = (
            f"put holes of {drill_words(best.hole, units)} {where} in place of {drill_words(now, units)}"
            if best.hole != now
            else f"leave the holes {where} at {drill_words(now, units)}"
        )
        if size.wanted > best.speed:
            return f"{do}: {gives}, the most that any holes give; more takes more flow"
        return f"{do}: {gives}, the least that holes give there; less flow does the rest"
    other = size.above if best is size.below else size.below
    neighbour = f"{drill_words(other.hole, units)} would give {slowly(other.speed, units)}"
    if best.hole == now:
        return f"leave the holes {where} at {drill_words(now, units)}: {gives}; {neighbour}"
    if best.hole > now:
        return f"drill the holes {where} out to {drill_words(best.hole, units)} in place of {drill_words(now, units)}: {gives}; {neighbour}"
    return f"make a new bar for '{line}', with holes of {drill_words(best.hole, units)} in place of {drill_words(now, units)}: {gives}; {neighbour}"


def judge_currents(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Say where a current is too fast for the smallest fish, or too slow to move solids.

    Yields:
        `current-too-fast`: a failure; a warning where the fish's length is the catalogue's, and advice where only the high end of the range
        is too fast. `current-too-slow`: a warning; advice where the high end is fast enough.
    """
    for current in tank_currents(layout, flows):
        if not current.turns or current.speed is None:
            continue
        bar = current.turning[0]
        verdict = judge_speed(layout, current)
        if verdict == "too fast":
            assert current.fish is not None
            level: Level = "warn" if current.fish.known == "catalogue" else "fail"
            yield finding(
                "current-too-fast",
                f"The spray bar turns '{current.vessel}' at {from_to(current.speed, layout.units)}: {fish_words(layout, current.fish)}.",
                _slower(layout, flows, current),
                line=bar.line,
                step=bar.step,
                level=level,
            )
        elif current.fish is not None and current.speed.high > swim_limit(layout, current):
            yield finding(
                "current-too-fast",
                f"The spray bar may turn '{current.vessel}' too fast while few fish are in it: at up to "
                f"{slowly(current.speed.high, layout.units)}; {fish_words(layout, current.fish)}.",
                "watch the smallest fish in the first days: if they drift or crowd in the middle, throttle the bar's line",
                line=bar.line,
                step=bar.step,
                level="advice",
                case="milder",
            )
        if verdict == "too slow":
            fast_enough = current.speed.high >= least_speed(layout, current)
            yield finding(
                "current-too-slow",
                f"The spray bar turns '{current.vessel}' at {from_to(current.speed, layout.units)}: {slow_words(layout, current)}.",
                _cure(layout, current),
                line=bar.line,
                step=bar.step,
                level="advice" if fast_enough else "warn",
                case="milder" if fast_enough else "usual",
            )


def _slower(layout: Layout, flows: Flows, current: TankCurrent) -> str:
    """Turn the bar, which costs nothing, or drill it out."""
    angle = turned(current, flows.vessels[current.vessel].inflow, wanted_speed(layout, current))
    by_holes = _cure(layout, current)
    return by_holes if angle is None else f"{turn_words(angle)}; or {by_holes}"


def _cure(layout: Layout, current: TankCurrent) -> str:
    size = find_hole(layout, current, wanted_speed(layout, current))
    return "throttle the bar's line" if size is None else hole_words(layout, current, size)
