"""The valves that serve one vessel alone each, the vessels' *own*: the least openings at which none is short, or others above them where something
else is amiss; and how much is amiss with some setting.

A vessel's own valve is first closed until its vessel gets just what it should: with D the head lost in the
valve's stretch, h the velocity head at the valve and r the share of its flow that is to be left, K grows by (D/h)(1/r² − 1), exact if
the heads at the stretch's ends stayed; a few rounds do. Then it is set in steps, from the last step below upwards: as long as some
vessel is short, that one's valve is opened by a step. Opening one valve takes from the others and never gives to them, so this climbs to the
least openings in such steps at which none is short, if there are any. Where something else is amiss there, as a vessel that overtops
because it gets what the others do not take, openings above the least are tried.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from ..errors import SolveError
from ..hydraulics import find
from ..hydraulics.flows import Flows
from ..hydraulics.network import FloatArray
from ..hydraulics.valve_heads import opening_for
from ..hydraulics.valve_service import Valve, opening_table, with_openings
from ..layout.model import Layout
from ..water import GRAVITY
from .water import Settled, Unmet, Wanted, judged, short_of

__all__ = ["LEVELS", "Openings", "Own", "amiss", "curable", "lacks_water"]

STEPS = (0.05, 0.01)
"""Valves are set in twentieths, or where that gives too much away in hundredths: about what a handle can be set to."""

ROUNDS = 30
NEAR = 0.003
"""Valves are throttled until each vessel gets within this share of what it should."""

NOTHING_LEFT = 1e6
"""K of a stretch in which nothing flows."""

LEAP = 2.0
"""A valve is turned by so much at most of what it would be turned by if the others felt nothing of it."""

LEVELS = (1.0, 0.7, 0.5, 0.35, 0.2, 0.1)
"""Openings tried above the least, and of valves that are not a vessel's own."""

CLIMB = 60
"""How many steps up are tried at most."""

Openings = dict[tuple[str, int], float]


def curable(got: Settled) -> list[Unmet]:
    """What is unmet that valves might cure: a dead end stays one however far they are open, and so does a vessel that nothing leads out of at any level."""
    return [one for one in got.unmet if one.kind not in ("dead-leg", "no-way-out")]


def amiss(got: Settled) -> float:
    """How much is unmet that valves might cure: a thing is worse than any size of another."""
    some = curable(got)
    size = sum(min(max(one.lacks, 0.0), 1e3) for one in some)
    return len(some) + size / (1e3 * len(some) + 1.0) if some else 0.0


def lacks_water(got: Settled) -> bool:
    """Whether some vessel is short."""
    return any(one.kind in ("margin", "too-little-water") for one in got.unmet)


def _better(one: Settled | None, other: Settled) -> Settled:
    return other if one is None or amiss(other) < amiss(one) else one


class Own:
    """A layout, and the valves of their own that some vessels have, by vessel."""

    def __init__(
        self, layout: Layout, valves: Mapping[str, Valve], wanted: Wanted, near: find.Settled | None = None
    ) -> None:
        self.layout, self.wanted, self.aims = layout, wanted, wanted.aims(layout)
        self.free = {name: valve for name, valve in valves.items() if name in self.aims}
        self.near = near
        self.last: Layout | None = None

    def judged(self, openings: Openings) -> Settled:
        """The water with these at some openings."""
        return judged(self.layout, openings, self.wanted, self.near)

    def flows(self, openings: Openings, *, whole: bool = False) -> Flows:
        """The flows at some openings: in one step from those at the last while air stands where it did, or the `whole` way."""
        there = with_openings(self.layout, openings)
        if whole or self.near is None or self.last is None:
            self.near = find.settle(there, near=self.near, margins=False)
        else:
            self.near = find.nearby(there, self.near, self.last)
        self.last = there
        return self.near.flows

    def settled(self, warm: dict[str, float] | None = None, *, thorough: bool = False, tight: bool = False) -> Settled:
        """The water with these valves set."""
        if not self.free:
            return self.judged({})
        extra = dict(warm or {})
        best: Settled | None = None
        least: Openings | None = None

        def told(best: Settled) -> Settled:
            return replace(best, set={name: best.openings[valve.key] for name, valve in self.free.items()})

        try:
            found_at = [*self.throttled(extra)][-1:] if tight else self.throttled(extra)
            for openings, nearly in found_at:
                flows, short = nearly, self.lacking(nearly, 1.0 - 2.0 * NEAR)
                if any(extra.get(name, 0.0) <= 0.0 for name in short):
                    flows = self.flows(openings, whole=True)
                    short = self.lacking(flows, 1.0 - 2.0 * NEAR)
                if any(extra.get(name, 0.0) <= 0.0 for name in short):
                    if thorough and best is None:
                        best = self.judged(openings)
                    lacking = (short_of(self.layout, flows, name, self.wanted) for name in short)
                    return best or Settled(openings, flows, tuple(lacking))
                if warm is not None:
                    warm.update(extra)
                for step in STEPS:
                    found = self.climb(openings, step)
                    if found is None:
                        continue
                    best = _better(best, self.judged(found))
                    if not amiss(best):
                        return told(best)
                    least = found if step == STEPS[0] else least
                    if not lacks_water(best) and self.takes_what_is_left(best):
                        best = self.above(found, best)
                        return told(best) if not amiss(best) else best
            if least is not None and best is not None and not lacks_water(best):
                best = self.above(least, best)
                if not amiss(best):
                    return told(best)
        except SolveError as error:
            best = best or Settled({}, None, (Unmet("no steady flow", None, "", 1.0, str(error)),))
        # Hundredths may be too coarse, or some vessel without a valve a little short.
        return best or self.judged({key: round(value, 2) for key, value in openings.items()})

    def takes_what_is_left(self, got: Settled) -> bool:
        """Whether what is amiss is so in vessels that none of these valves closes on, so that closing any gives them but more."""
        lines = self.layout.lines
        ill = {lines[one.place].start.name if one.place in lines else one.place for one in curable(got)}
        fed = {line.start.name for line in lines.values() if line.end.name in ill}
        return ill <= self.layout.vessels.keys() and not (ill | fed) & self.free.keys()

    def lacking(self, flows: Flows, share: float) -> list[str]:
        """The vessels that get less than a share of what they should."""
        return [name for name, aim in self.aims.items() if flows.vessels[name].inflow < share * aim]

    def climb(self, openings: Mapping[tuple[str, int], float], step: float) -> Openings | None:
        """The least openings in steps, from those given rounded up, at which no vessel is short; None where there are none."""
        near = {key: min(1.0, round(math.ceil(value / step - 1e-6) * step, 6)) for key, value in openings.items()}
        for _ in range(CLIMB):
            short = self.lacking(self.flows(near), 1.0 - 1e-6)
            if not short:
                return near
            if any(name not in self.free or near[self.free[name].key] >= 1.0 - 1e-9 for name in short):
                return None
            for name in short:
                key = self.free[name].key
                near[key] = min(1.0, round(near[key] + step, 6))
        return None

    def above(self, least: Openings, best: Settled) -> Settled:
        """Try openings above the least at which no vessel is short: each valve in turn as far open as can be, the others set afresh for it, and in
        between where that does some good."""
        for valve in self.free.values():
            far: Settled | None = None
            start = amiss(best)
            for level in sorted({valve.part.opening, *LEVELS}, reverse=True):
                if level <= least[valve.key] + 1e-9 or (far is not None and amiss(far) >= start):
                    break
                found = self.climb({**least, valve.key: level}, STEPS[0])
                if found is None:
                    continue
                got = self.judged(found)
                best, far = _better(best, got), far or got
                if not amiss(best):
                    return best
        return best

    def throttled(self, extra: dict[str, float]) -> Iterator[tuple[Openings, Flows]]:
        """Openings, with their flows: the first at which every vessel gets its aim, if there are any, and the least at which each vessel with a
        free valve still does. `extra` is K beyond open, by vessel."""
        for name in self.free:
            extra.setdefault(name, 0.0)
        openings = {valve.key: _opening(valve, extra[name]) for name, valve in self.free.items()}
        slope, step, before, turned, met = np.eye(0), np.zeros(0), np.zeros(0), list[str](), False
        for _ in range(ROUNDS):
            flows = self.flows(openings)
            if not met and not self.lacking(flows, 1.0):
                met = True
                yield dict(openings), flows
            passed = {name: _passes(flows, name, valve, self.aims[name]) for name, valve in self.free.items()}
            # One that is full open already gives no more.
            turns = [name for name, (over, _) in passed.items() if over > 0.0 or extra[name] > 0.0]
            over = np.array([passed[name][0] for name in turns])
            if all(abs(over) <= NEAR):
                break
            if turns != turned:
                slope, turned = np.eye(len(turns)), turns
            elif step.any():
                slope += np.outer(over - before - slope @ step, step) / (step @ step)
            before, step = over, _solved(slope, -over)
            for n, name in enumerate(turns):
                loss = passed[name][1]
                more = max(loss * (math.exp(-2.0 * step[n]) - 1.0), -extra[name])
                step[n] = -0.5 * math.log1p(more / loss) if more else 0.0
                extra[name] += more
                openings[self.free[name].key] = _opening(self.free[name], extra[name])
        yield openings, flows


def _solved(slope: FloatArray, wanted: FloatArray) -> FloatArray:
    """The turns that change the flows as wanted; each valve by itself where what was learnt of them leads the other way."""
    try:
        step = np.linalg.solve(slope, wanted)
    except np.linalg.LinAlgError:
        step = wanted
    most = LEAP * abs(wanted)
    return np.clip(step if step @ wanted > 0.0 else wanted, -most, most)


def _opening(valve: Valve, extra: float) -> float:
    """The opening at which a valve takes so much K beyond open."""
    table = opening_table(valve.part)
    return opening_for(extra, table.points, table.shut_at)


def _passes(flows: Flows, name: str, valve: Valve, aim: float) -> tuple[float, float]:
    """By how much a valve passes more than it should, as a logarithm, and what its stretch takes as K; where nothing flows it is opened."""
    stretch = flows.stretches[valve.stretch]
    got, through = flows.vessels[name].inflow, abs(stretch.flow)
    if got <= 0.0 or through <= 0.0:
        return -1.0, NOTHING_LEFT
    # What comes to the vessel past the valve cannot be throttled here.
    left = max(aim - (got - through), 0.05 * through) / through
    speed = through / (math.pi / 4.0 * valve.part.pipe.bore**2)
    return -math.log(left), stretch.loss / (speed**2 / (2.0 * GRAVITY))
