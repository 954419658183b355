"""Setting valves: the openings, in steps that a hand can set, with which the water does what is asked, or the nearest to it.

A valve that serves one vessel alone, the vessel's *own*, is first closed until its vessel gets just what it should: with D the head lost in the
valve's stretch, h the velocity head at the valve and r the share of its flow that is to be left, K grows by (D/h)(1/r² − 1), exact if
the heads at the stretch's ends stayed; a few rounds do. Then it is set in steps, from the last step below upwards: as long as some
vessel is short, that one's valve is opened by a step. Opening one valve takes from the others and never gives to them, so this climbs to the
least openings in such steps at which none is short, if there are any. Where something else is amiss there, as a vessel that overtops
because it gets what the others do not take, openings above the least are tried.

Other valves are *shared* by several vessels, or are *by-passes* that serve none that wants water. A shared one brings its vessels more the further it
is open, and a by-pass leaves the others more the further it is shut: only where the water can be got so far is it looked for in between.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from ..errors import SolveError
from ..hydraulics.find import find_flows
from ..hydraulics.flows import Flows
from ..hydraulics.valve_service import Valve, adjustable, find_service, opening_table, with_openings
from ..hydraulics.valve_units import opening_for
from ..layout.model import Layout
from .water import Settled, Unmet, Wanted, judged, short_of

__all__ = ["Tap", "settle", "taps_of"]

GRAVITY = 9.80665
STEPS = (0.05, 0.01)
"""Valves are set in twentieths, or where that gives too much away in hundredths: about what a handle can be set to."""

ROUNDS = 20
NEAR = 0.003
"""Valves are throttled until each vessel gets within this share of what it should."""

LEVELS = (1.0, 0.7, 0.5, 0.35, 0.2, 0.1)
"""Openings tried above the least, and of valves that are not a vessel's own."""

CLIMB = 60
"""How many steps up are tried at most."""

Openings = dict[tuple[str, int], float]


@dataclass(frozen=True, slots=True)
class Tap:
    """A valve that may be set: a `vessel`'s own, one that several share, or a by-pass."""

    valve: Valve
    role: Literal["own", "shared", "bypass"]
    vessel: str | None = None


def taps_of(layout: Layout, flows: Flows) -> dict[str, Tap]:
    """Give every valve that may be set: those that serve one vessel alone by the vessel's name, others by line and number."""
    if not any(vessel.wants for vessel in layout.vessels.values()):
        return {}
    service = find_service(layout, flows)
    out = {}
    for one in service.servings:
        if (
            len(one.valves) == 1
            and {name for name, _ in one.valves[0].cuts} == {one.vessel}
            and adjustable(one.valves[0].part)
        ):
            out[one.vessel] = Tap(one.valves[0], "own", one.vessel)
    taken = {tap.valve.key for tap in out.values()}
    for role, valves in (("shared", service.valves), ("bypass", service.bypasses)):
        for valve in valves:
            if valve.key not in taken and adjustable(valve.part) and valve.part.opening > 0.0:
                steps = [part.step for part in layout.lines[valve.line].parts if adjustable(part)]
                name = f"{valve.line} valve {steps.index(valve.part.step) + 1}"
                out[name] = Tap(valve, "shared" if role == "shared" else "bypass")
    return out


def settle(
    layout: Layout,
    free: Mapping[str, Tap],
    wanted: Wanted,
    warm: dict[str, float] | None = None,
    *,
    thorough: bool = False,
) -> Settled:
    """Set the valves that are `free`, by name, and judge what comes of it, where no setting will do with those that came nearest. `warm` is what the
    valves took in a layout much like it, K beyond open by vessel, to begin from, and is kept up; `thorough` judges everything even where
    some vessel is short."""
    own = {name: tap.valve for name, tap in free.items() if tap.role == "own"}
    others = {name: tap for name, tap in free.items() if tap.role != "own"}
    best = _settle_own(layout, own, wanted, warm, thorough=thorough)
    if not _amiss(best) or not others:
        return best
    for turned in _turned(layout, others, own, wanted, warm):
        got = _settle_own(with_openings(layout, turned), own, wanted, dict(warm or {}), thorough=thorough)
        if not _amiss(got):
            said = {name: turned[tap.valve.key] for name, tap in others.items() if tap.valve.key in turned}
            return replace(got, openings={**turned, **got.openings}, set={**got.set, **said})
    return best


def _turned(
    layout: Layout, others: Mapping[str, Tap], own: Mapping[str, Valve], wanted: Wanted, warm: dict[str, float] | None
) -> Iterator[Openings]:
    """Openings of valves that are not a vessel's own, worth trying: all as far as does good, then each alone and in between."""
    least = min(LEVELS)
    most = {tap.valve.key: (1.0 if tap.role == "shared" else least) for tap in others.values()}
    turned = with_openings(layout, most)
    if len(most) > 1:
        yield most
    elif _short(_settle_own(turned, own, wanted, dict(warm or {}))):
        # Not even so far: in between there is less for whoever is short.
        return
    for tap in others.values():
        for level in LEVELS if tap.role == "shared" else LEVELS[::-1]:
            if abs(level - tap.valve.part.opening) > 1e-9:
                yield {tap.valve.key: level}


def _amiss(got: Settled) -> float:
    """How much is unmet that valves might cure: a thing is worse than any size of another. Dead ends are none of them."""
    some = [one for one in got.unmet if one.kind != "dead-leg"]
    size = sum(min(max(one.lacks, 0.0), 1e3) for one in some)
    return len(some) + size / (1e3 * len(some) + 1.0) if some else 0.0


def _short(got: Settled) -> bool:
    return any(one.kind in ("margin", "too-little-water") for one in got.unmet)


# ---------------------------------------------------------------------- valves of their own


def _settle_own(
    layout: Layout,
    free: Mapping[str, Valve],
    wanted: Wanted,
    warm: dict[str, float] | None = None,
    *,
    thorough: bool = False,
) -> Settled:
    aims = wanted.aims(layout)
    free = {name: valve for name, valve in free.items() if name in aims}
    if not free:
        return judged(layout, {}, wanted)
    extra = dict(warm or {})
    best: Settled | None = None
    try:
        for openings, flows in _throttled(layout, free, aims, extra):
            short = [name for name, aim in aims.items() if flows.vessels[name].inflow < (1.0 - 2.0 * NEAR) * aim]
            if short:
                if thorough and best is None:
                    best = judged(layout, openings, wanted)
                return best or Settled(openings, flows, tuple(short_of(layout, flows, name, wanted) for name in short))
            if warm is not None:
                warm.update(extra)
            for step in STEPS:
                found = _climb(layout, free, aims, openings, step)
                if found is None:
                    continue
                best = _better(best, judged(layout, found, wanted))
                if _amiss(best) and step == STEPS[0] and not _short(best):
                    best = _above(layout, free, aims, found, wanted, best)
                if not _amiss(best):
                    return replace(best, set={name: best.openings[valve.key] for name, valve in free.items()})
    except SolveError as error:
        best = best or Settled({}, None, (Unmet("no steady flow", None, "", 1.0, str(error)),))
    if best is None:
        # Hundredths are too coarse, or some vessel without a valve is a little short.
        best = judged(layout, {key: round(value, 2) for key, value in openings.items()}, wanted)
    return best


def _climb(
    layout: Layout,
    free: Mapping[str, Valve],
    aims: Mapping[str, float],
    openings: Mapping[tuple[str, int], float],
    step: float,
) -> Openings | None:
    """The least openings in steps, from those given rounded up, at which no vessel is short; None where there are none."""
    near = {key: min(1.0, round(math.ceil(value / step - 1e-6) * step, 6)) for key, value in openings.items()}
    for _ in range(CLIMB):
        flows = find_flows(with_openings(layout, near))
        short = [name for name, aim in aims.items() if flows.vessels[name].inflow < aim * (1.0 - 1e-6)]
        if not short:
            return near
        if any(name not in free or near[free[name].key] >= 1.0 - 1e-9 for name in short):
            return None
        for name in short:
            key = free[name].key
            near[key] = min(1.0, round(near[key] + step, 6))
    return None


def _above(
    layout: Layout, free: Mapping[str, Valve], aims: Mapping[str, float], least: Openings, wanted: Wanted, best: Settled
) -> Settled:
    """Try openings above the least at which no vessel is short: each valve in turn as far open as can be, the others set afresh for it, and in
    between where that does some good."""
    for valve in free.values():
        far: Settled | None = None
        start = _amiss(best)
        for level in sorted({valve.part.opening, *LEVELS}, reverse=True):
            if level <= least[valve.key] + 1e-9 or (far is not None and _amiss(far) >= start):
                break
            found = _climb(layout, free, aims, {**least, valve.key: level}, STEPS[0])
            if found is None:
                continue
            got = judged(layout, found, wanted)
            best, far = _better(best, got), far or got
            if not _amiss(best):
                return best
    return best


def _better(one: Settled | None, other: Settled) -> Settled:
    """The one with less amiss."""
    return other if one is None or _amiss(other) < _amiss(one) else one


def _throttled(
    layout: Layout, free: Mapping[str, Valve], aims: Mapping[str, float], extra: dict[str, float]
) -> Iterator[tuple[dict[tuple[str, int], float], Flows]]:
    """Openings, with their flows: the first at which every vessel gets its aim, if there are any, and the least at which each vessel with a
    free valve still does."""
    openings = {}
    for name, valve in free.items():
        table = opening_table(valve.part)
        openings[valve.key] = opening_for(extra.setdefault(name, 0.0), table.points, table.shut_at)
    met = False
    for _ in range(ROUNDS):
        flows = find_flows(with_openings(layout, openings))
        if not met and all(flows.vessels[name].inflow >= aim for name, aim in aims.items()):
            met = True
            yield dict(openings), flows
        moved = False
        for name, valve in free.items():
            left = _left(flows, name, valve, aims[name])
            if left is None and extra[name] > 0.0:
                extra[name], openings[valve.key], moved = 0.0, 1.0, True
            if left is None or abs(left - 1.0) <= NEAR or (left > 1.0 and extra[name] == 0.0):
                continue
            stretch = flows.stretches[valve.stretch]
            speed = abs(stretch.flow) / (math.pi / 4.0 * valve.part.pipe.bore**2)
            change = stretch.loss / (speed**2 / (2.0 * GRAVITY)) * (1.0 / left**2 - 1.0)
            extra[name] = max(extra[name] + change, 0.0)
            table = opening_table(valve.part)
            openings[valve.key] = opening_for(extra[name], table.points, table.shut_at)
            moved = True
        if not moved:
            break
    yield openings, flows


def _left(flows: Flows, name: str, valve: Valve, aim: float) -> float | None:
    """The share of a valve's flow that is to be left; None where nothing flows."""
    got, through = flows.vessels[name].inflow, abs(flows.stretches[valve.stretch].flow)
    if got <= 0.0 or through <= 0.0:
        return None
    # What comes to the vessel past the valve cannot be throttled here.
    return max(aim - (got - through), 0.05 * through) / through
