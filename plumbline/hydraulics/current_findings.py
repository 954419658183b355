"""What the current in a tank means for its fish and its solids. Only tanks whose bar says where its holes point are judged."""

from __future__ import annotations

from collections.abc import Iterator

from ..catalogued import finding
from ..findings import Finding, Level
from ..layout.model import Layout
from .current_words import fish_words, from_to, hole_words, slow_words, slowly, turn_words
from .flows import Flows
from .hole_size import find_hole, judge_speed, least_speed, swim_limit, turned, wanted_speed
from .tank_current import TankCurrent, tank_currents

__all__ = ["judge_currents"]


def judge_currents(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Say where a current is too fast for the smallest fish, or too slow to move solids.

    Parameters:
        layout, flows: as solved.

    Yields:
        `current-too-fast`: a failure; a warning where the fish's length is the catalogue's, and advice where only the high end of the range
        is too fast. `current-too-slow`: a warning; advice where the high end is fast enough.
    """
    for current in tank_currents(layout, flows):
        if not current.turns or current.speed is None:
            continue
        bar = next(one for one in current.bars if one.aim is not None)
        verdict = judge_speed(layout, current)
        if verdict == "too fast":
            assert current.fish is not None
            level: Level = "warn" if current.fish.known == "catalogue" else "fail"
            yield finding(
                "current-too-fast",
                f"The spray bar turns '{current.vessel}' at {from_to(current.speed, layout.units)}: {fish_words(layout, current.fish)}.",
                _slower(layout, flows, current), line=bar.line, step=bar.step, level=level,
            )  # fmt: skip
        elif current.fish is not None and current.speed.high > swim_limit(layout, current):
            yield finding(
                "current-too-fast",
                f"The spray bar may turn '{current.vessel}' too fast while few fish are in it: at up to "
                f"{slowly(current.speed.high, layout.units)}; {fish_words(layout, current.fish)}.",
                "watch the smallest fish in the first days: if they drift or crowd in the middle, throttle the bar's line",
                line=bar.line, step=bar.step, level="advice", case="milder",
            )  # fmt: skip
        if verdict == "too slow":
            fast_enough = current.speed.high >= least_speed(layout, current)
            yield finding(
                "current-too-slow",
                f"The spray bar turns '{current.vessel}' at {from_to(current.speed, layout.units)}: {slow_words(layout, current)}.",
                _cure(layout, current), line=bar.line, step=bar.step, level="advice" if fast_enough else "warn",
                case="milder" if fast_enough else "usual",
            )  # fmt: skip


def _slower(layout: Layout, flows: Flows, current: TankCurrent) -> str:
    """Turn the bar, which costs nothing, or drill it out."""
    angle = turned(current, flows.vessels[current.vessel].inflow, wanted_speed(layout, current))
    by_holes = _cure(layout, current)
    return by_holes if angle is None else f"{turn_words(angle)}; or {by_holes}"


def _cure(layout: Layout, current: TankCurrent) -> str:
    size = find_hole(layout, current, wanted_speed(layout, current))
    return "throttle the bar's line" if size is None else hole_words(layout, current, size)
