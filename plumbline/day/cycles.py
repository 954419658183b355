"""Days that go round: where the water comes back to where it was, the cycle is written down again instead of followed again.

A cycle is taken to go on where it came twice alike: in the same time, with the same switches, each vessel's gain over it the same
to a twentieth of a millimetre. What it gains is carried on with it, so that water lost to the air is lost in every round; after
half a centimetre of that it is followed anew.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..hydraulics.network import FloatArray
from .moment import Switches

__all__ = ["Cycles", "Mark", "Round"]

ALIKE = 5e-5
"""Levels gained in two rounds that are alike differ by less [m]."""

DRIFT = 5e-3
"""How far levels may drift before a cycle is followed anew [m]."""


MOST = 6
"""How often the same thing may happen in a round: beds that share a timer fill by turns that do not go into one another."""


@dataclass(frozen=True)
class Mark:
    """Where the water stood as something happened: the `time` [s], `volumes` [m³], the switches, and how much was in the log."""

    time: float
    volumes: FloatArray
    switches: Switches
    moments: int
    events: int


@dataclass(frozen=True)
class Round:
    """A cycle to be written down `times` over: from the mark at its `begin` to the one at its `end`."""

    begin: Mark
    end: Mark
    times: int


class Cycles:
    """Watches for a cycle. `areas` [m²] of the vessels; `periods` [s] of the timers that go round by themselves."""

    def __init__(self, areas: FloatArray, periods: list[float]) -> None:
        self.areas = areas
        self.periods = periods
        self.marks: dict[tuple[str, str], list[Mark]] = {}
        self.period: float | None = None

    def at(self, what: tuple[str, str], mark: Mark, until: float) -> Round | None:
        """Note what happened; give the round to write down again, if there is one, up to a time [s] at most."""
        before = self.marks.setdefault(what, [])
        before.append(mark)
        del before[: -2 * MOST - 1]
        rounds = (
            self.alike(before[-1 - 2 * many], before[-1 - many], mark, until)
            for many in range(1, (len(before) + 1) // 2)
        )
        return next((one for one in rounds if one is not None), None)

    def alike(self, first: Mark, second: Mark, third: Mark, until: float) -> Round | None:
        """The round from the second of three marks to the third, where that from the first to the second was like it."""
        period = third.time - second.time
        same = abs(period - (second.time - first.time)) < 0.5 + 1e-3 * period
        gained = third.volumes - second.volumes
        same = (
            same and float(np.max(np.abs(gained - (second.volumes - first.volumes)) / self.areas, initial=0.0)) < ALIKE
        )
        same = same and first.switches == second.switches == third.switches
        same = same and all(abs(period / own - round(period / own)) < 1e-6 for own in self.periods)
        if not same or period <= 0.0:
            return None
        self.period = period
        moved = float(np.max(np.abs(gained) / self.areas, initial=0.0))
        times = int((until - third.time) / period)
        if moved > 0.0:
            times = min(times, int(DRIFT / moved))
        if times < 1:
            return None
        self.marks.clear()
        return Round(second, third, times)
