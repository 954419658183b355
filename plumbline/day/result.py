"""What a day comes to: times, levels, flows, what ran, and what happened."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .moment import Switches

__all__ = ["Course", "Cut", "Event", "PumpCourse", "VesselCourse", "WaterAccount"]


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened at `time` [s]: its `kind`, `where`, by the user's name, and in words."""

    time: float
    kind: str
    where: str
    message: str


@dataclass(frozen=True, slots=True)
class VesselCourse:
    """One vessel: its `level` at each time [m above the datum], `spilt` [m³] over its rim in all."""

    level: tuple[float, ...]
    spilt: float = 0.0

    @property
    def lowest(self) -> float:
        """The lowest level [m above the datum]."""
        return min(self.level)

    @property
    def highest(self) -> float:
        """The highest level [m above the datum]."""
        return max(self.level)


@dataclass(frozen=True, slots=True)
class PumpCourse:
    """One pump: whether it is `on` at each time, how often it `starts` and how long it runs, `seconds`; `starved` [s] for how
    long of that its intake drew air."""

    on: tuple[bool, ...]
    starts: int
    seconds: float
    starved: float = 0.0


@dataclass(frozen=True, slots=True)
class WaterAccount:
    """Water in all vessels of known size at `start` and `end`, what was `added` from outside and what was `lost` [m³]."""

    start: float
    end: float
    added: float
    lost: float


@dataclass(frozen=True, slots=True)
class Cut:
    """The worst power cut of a day: at `time` [s], when most water stands outside the vessels that pumps draw from. `spilt` [m³] by
    vessel runs over rims in the `hours` after it; `levels` [m above the datum] are those at their end; `added` [m³] comes in from outside
    meanwhile."""

    time: float
    spilt: Mapping[str, float]
    levels: Mapping[str, float]
    added: float
    hours: float


_ROUNDS = 3


@dataclass(frozen=True)
class Course:
    """The course of a day. `times` [s after midnight]; `vessels` and `pumps` by name; `ends` the flows at each time [m³/s] by
    "LINE.to"; `period` [s] of the cycle that it comes to, None where it comes to none; `steps` how many were taken; `cut` the worst
    power cut in it; `inflows` what comes into each vessel at each time [m³/s], by name; `switches` how all that
    switches, and the air in the pipes, stand at each time; `spilt` [m³] out of caps that stand open, by their ids."""

    times: tuple[float, ...]
    vessels: Mapping[str, VesselCourse]
    ends: Mapping[str, tuple[float, ...]]
    pumps: Mapping[str, PumpCourse]
    events: tuple[Event, ...]
    water: WaterAccount
    period: float | None = None
    steps: int = 0
    cut: Cut | None = None
    inflows: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    switches: tuple[Switches, ...] = ()
    spilt: Mapping[str, float] = field(default_factory=dict)

    @property
    def window(self) -> tuple[float, float, str]:
        """From when to when it is shown [s], and what that is called: all of it, or a few rounds of a short cycle."""
        if self.period is None or 4.0 * _ROUNDS * self.period > self.times[-1]:
            return self.times[0], self.times[-1], "through the day"
        end = self.events[-1].time
        return end - _ROUNDS * self.period, end, f"{_ROUNDS} rounds of it"
