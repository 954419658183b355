"""Setting valves: the openings, in steps that a hand can set, with which the water does what is asked, or the nearest to it.

A valve that serves one vessel alone is that vessel's *own*, and set by `own_valves`.
Other valves are *shared* by several vessels, or are *by-passes* that serve none that wants water. A shared one brings its vessels more the further it
is open, and a by-pass leaves the others more the further it is shut: only where the water can be got so far is it looked for in between. What does
is then eased back, each of them in turn, towards where it stands as far as the water still lets it: no valve is turned further than it must be.
What the water leaves open is used where pipe is to be cleaned: a flush gains by what other valves hold back and by what its own lets through, and a ball valve
that stands full open lets a rod through. So all that may be set are also taken as far open, and as far shut, as the water lets them, one after the other.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from ..errors import SolveError
from ..hydraulics import find
from ..hydraulics.flows import Flows
from ..hydraulics.valve_service import Valve, adjustable, find_service, with_openings
from ..layout.model import Layout
from .own_valves import LEVELS, Openings, Own, amiss, curable, lacks_water
from .rows import rows_of
from .water import Settled, Wanted, judged, short_of

__all__ = ["Goal", "Tap", "settle", "taps_of"]

EASED = 0.05
"""Steps in which valves are moved towards a goal."""

Goal = Literal["stands", "open", "shut"]
"""What valves are moved towards as far as the water lets them: where they stand, those that are no vessel's own; or all of them open, or shut."""

ROW_LEVELS = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1)
"""Openings tried of the valves of a row."""


@dataclass(frozen=True, slots=True)
class Tap:
    """A valve that may be set: a `vessel`'s own, one that several share, or a by-pass. One of a row shares with the others, by line and step, what the file
    writes once for all of them."""

    valve: Valve
    role: Literal["own", "shared", "bypass"]
    vessel: str | None = None
    others: tuple[tuple[str, int], ...] = ()

    def at(self, opening: float) -> Openings:
        """It, and those that are set with it, at an opening."""
        return dict.fromkeys((self.valve.key, *self.others), opening)


def taps_of(layout: Layout, flows: Flows) -> dict[str, Tap]:
    """Give every valve that may be set: those that serve one vessel alone by the vessel's name, others by line and number."""
    if not any(vessel.wants for vessel in layout.vessels.values()):
        return {}
    service = find_service(layout, flows)
    out = {}
    for one in service.servings:
        valve = one.valves[0] if len(one.valves) == 1 else None
        if valve is not None and {name for name, _ in valve.cuts} == {one.vessel} and adjustable(valve.part):
            out[one.vessel] = Tap(valve, "own", one.vessel)
    taken = {tap.valve.key for tap in out.values()}
    for role, valves in (("shared", service.valves), ("bypass", service.bypasses)):
        for valve in valves:
            if valve.key not in taken and adjustable(valve.part) and valve.part.opening > 0.0:
                steps = [part.step for part in layout.lines[valve.line].parts if adjustable(part)]
                name = f"{valve.line} valve {steps.index(valve.part.step) + 1}"
                out[name] = Tap(valve, "shared" if role == "shared" else "bypass")
    return _alike(layout, out)


def _alike(layout: Layout, taps: Mapping[str, Tap]) -> dict[str, Tap]:
    """The same with one for all of a row in place of each of its lines' own."""
    row_with = {line: (row, lines) for row, lines in rows_of(layout).items() for line in lines}
    out: dict[str, Tap] = {}
    for name, tap in taps.items():
        row, lines = row_with.get(tap.valve.line, ("", ()))
        step = tap.valve.part.step
        others = tuple((line, step) for line in lines if line != tap.valve.line)
        said = f"each {row} valve at step {step}" if row else name
        out.setdefault(said, Tap(tap.valve, "shared", None, others) if row else tap)
    return out


def settle(
    layout: Layout,
    free: Mapping[str, Tap],
    wanted: Wanted,
    warm: dict[str, float] | None = None,
    *,
    near: find.Settled | None = None,
    thorough: bool = False,
    tight: bool = False,
    first: Mapping[str, float] | None = None,
    goal: Goal | None = None,
) -> Settled:
    """Set the valves that are `free`, by name, and judge what comes of it, where no setting will do with those that came nearest. `warm` is what the
    valves took in a layout much like it, K beyond open by vessel, to begin from, and is kept up; `near` is the layout's own water as it
    stands, where that is known, and only saves time; `thorough` judges everything even where some vessel is short; `tight` closes them as far as they
    may be, whether or not anything is amiss before; `first` are openings, by name, that are taken where they do, all of them or those of valves that are no vessel's own.
    What is found otherwise is moved towards a `goal`, where one is given."""
    own = {name: tap.valve for name, tap in free.items() if tap.role == "own"}
    others = {name: tap for name, tap in free.items() if tap.role != "own"}

    def settled(turned: Openings, warm: dict[str, float] | None) -> Settled:
        there = with_openings(layout, turned) if turned else layout
        return Own(there, own, wanted, near).settled(warm, thorough=thorough, tight=tight)

    def turned(levels: Mapping[str, float]) -> Settled:
        """With some set that are no vessel's own, and the others set afresh for it."""
        openings = {key: at for name, level in levels.items() for key, at in others[name].at(level).items()}
        got = settled(openings, dict(warm or {}))
        return replace(got, openings={**openings, **got.openings}, set={**got.set, **levels}, turned=bool(levels))

    def held(levels: Mapping[str, float]) -> Settled:
        """With all set, and none afresh."""
        openings = {key: at for name, level in levels.items() for key, at in free[name].at(level).items()}
        got = _judged_if_enough(layout, openings, wanted, near)
        return replace(got, set=dict(levels), turned=not levels.keys().isdisjoint(others))

    def found() -> Settled:
        kept = {name: level for name, level in (first or {}).items() if name in free}
        rest = {name: level for name, level in kept.items() if name in others}
        if kept and not amiss(got := held(kept)):
            return got
        if rest and not amiss(got := turned(rest)):
            return got
        best = settled({}, warm)
        if not amiss(best) or not others:
            return best
        return next((got for got in _turned(others, best, turned) if not amiss(got)), best)

    best = found()
    if goal is None or amiss(best):
        return best
    if goal == "stands":
        return (
            _moved(others, best, {name: tap.valve.part.opening for name, tap in others.items()}, turned)
            if best.turned
            else best
        )
    return _moved(free, best, dict.fromkeys(free, 1.0 if goal == "open" else EASED), held)


def _judged_if_enough(layout: Layout, openings: Openings, wanted: Wanted, near: find.Settled | None) -> Settled:
    """As `judged`, but where some vessel is short no more is told; `near` is of the layout as it stands."""
    turned = with_openings(layout, openings)
    try:
        there = find.settle(turned, margins=False) if near is None else find.nearby(turned, near, layout)
    except SolveError:
        there = None
    if there is not None:
        aims = wanted.aims(layout)
        short = [name for name, aim in aims.items() if there.flows.vessels[name].inflow < aim * (1.0 - 1e-9)]
        if short:
            return Settled(openings, there.flows, tuple(short_of(layout, there.flows, name, wanted) for name in short))
    return judged(layout, openings, wanted, there or near)


def _moved(
    taps: Mapping[str, Tap],
    found: Settled,
    goals: Mapping[str, float],
    settled: Callable[[Mapping[str, float]], Settled],
) -> Settled:
    """A setting that does, each of its valves moved in turn towards a goal as far as nothing is amiss."""
    got = found
    # Twice, since what one gives up another may take.
    for name, tap in (*taps.items(), *(taps.items() if len(taps) > 1 else ())):
        now, goal = got.set.get(name, tap.valve.part.opening), goals[name]
        if abs(goal - now) < 1e-9:
            continue
        step = math.copysign(EASED, goal - now)
        levels = [now + step * n for n in range(math.ceil((goal - now) / step - 1e-6))] + [goal]
        # The first of these is what it is set to; what lies before one that does is taken to do too.
        good, bad, middle = 0, len(levels), len(levels) - 1
        while bad - good > 1:
            kept = {one: level for one, level in got.set.items() if one in taps}
            moved = settled({**kept, name: round(levels[middle], 9)})
            if amiss(moved):
                bad = middle
            else:
                good, got = middle, moved
            middle = (good + bad) // 2
    return got


def _turned(
    others: Mapping[str, Tap], as_is: Settled, settled: Callable[[Mapping[str, float]], Settled]
) -> Iterator[Settled]:
    """The water with valves turned that are not a vessel's own: all as far as does good, then each alone as far as it goes both ways, and in between
    where either does good to something that is unmet as it is."""
    least = min(LEVELS)
    most = {name: 1.0 if tap.role == "shared" else least for name, tap in others.items()}
    far = settled(most)
    yield far
    if len(most) == 1 and lacks_water(far):
        # Not even so far: in between there is less for whoever is short.
        return
    for name, tap in others.items():
        # All of a row throttled share more evenly, so that between as far as it goes both ways there may be enough for each.
        first, *between, last = ROW_LEVELS if tap.others else LEVELS if tap.role == "shared" else LEVELS[::-1]
        good = bool(tap.others)
        for level in (first, last, *between):
            one = {name: level}
            if abs(level - tap.valve.part.opening) <= 1e-9:
                continue
            if level in between and not good:
                break
            got = far if one == most else settled(one)
            good = good or _does_good(got, as_is)
            yield got


def _does_good(got: Settled, as_is: Settled) -> bool:
    """Whether something is less unmet than it was."""

    def lacks(some: Settled) -> Counter[tuple[str, str]]:
        return sum((Counter({(one.kind, one.place): round(1e9 * one.lacks)}) for one in curable(some)), Counter())

    return bool(lacks(as_is) - lacks(got))
