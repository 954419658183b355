"""Setting valves: the openings, in steps that a hand can set, with which the water does what is asked, or the nearest to it.

A valve that serves one vessel alone, the vessel's *own*, is first closed until its vessel gets just what it should: with D the head lost in the
valve's stretch, h the velocity head at the valve and r the share of its flow that is to be left, K grows by (D/h)(1/r² − 1), exact if
the heads at the stretch's ends stayed; a few rounds do. Then it is set in steps, from the last step below upwards: as long as some
vessel is short, that one's valve is opened by a step. Opening one valve takes from the others and never gives to them, so this climbs to the
least openings in such steps at which none is short, if there are any. Where something else is amiss there, as a vessel that overtops
because it gets what the others do not take, openings above the least are tried.

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

import numpy as np

from ..errors import SolveError
from ..hydraulics import find
from ..hydraulics.flows import Flows
from ..hydraulics.network import FloatArray
from ..hydraulics.valve_heads import opening_for
from ..hydraulics.valve_service import Valve, adjustable, find_service, opening_table, with_openings
from ..layout.model import Layout
from ..water import GRAVITY
from .rows import rows_of
from .water import Settled, Unmet, Wanted, judged, short_of

__all__ = ["Goal", "Tap", "settle", "taps_of"]

STEPS = (0.05, 0.01)
"""Valves are set in twentieths, or where that gives too much away in hundredths: about what a handle can be set to."""

EASED = 0.05
"""Steps in which valves are moved towards a goal."""

Goal = Literal["stands", "open", "shut"]
"""What valves are moved towards as far as the water lets them: where they stand, those that are no vessel's own; or all of them open, or shut."""

ROUNDS = 30
NEAR = 0.003
"""Valves are throttled until each vessel gets within this share of what it should."""

NOTHING_LEFT = 1e6
"""K of a stretch in which nothing flows."""

LEAP = 2.0
"""A valve is turned by so much at most of what it would be turned by if the others felt nothing of it."""

LEVELS = (1.0, 0.7, 0.5, 0.35, 0.2, 0.1)
"""Openings tried above the least, and of valves that are not a vessel's own."""

ROW_LEVELS = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1)
"""Openings tried of the valves of a row."""

CLIMB = 60
"""How many steps up are tried at most."""

Openings = dict[tuple[str, int], float]


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
        return _Own(there, own, wanted, near).settled(warm, thorough=thorough, tight=tight)

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
        if kept and not _amiss(got := held(kept)):
            return got
        if rest and not _amiss(got := turned(rest)):
            return got
        best = settled({}, warm)
        if not _amiss(best) or not others:
            return best
        return next((got for got in _turned(others, best, turned) if not _amiss(got)), best)

    best = found()
    if goal is None or _amiss(best):
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
            if _amiss(moved):
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
    if len(most) == 1 and _short(far):
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
        return sum((Counter({(one.kind, one.place): round(1e9 * one.lacks)}) for one in _curable(some)), Counter())

    return bool(lacks(as_is) - lacks(got))


def _curable(got: Settled) -> list[Unmet]:
    """What is unmet that valves might cure: a dead end stays one however far they are open, and so does a vessel that nothing leads out of at any level."""
    return [one for one in got.unmet if one.kind not in ("dead-leg", "no-way-out")]


def _amiss(got: Settled) -> float:
    """How much is unmet that valves might cure: a thing is worse than any size of another."""
    some = _curable(got)
    size = sum(min(max(one.lacks, 0.0), 1e3) for one in some)
    return len(some) + size / (1e3 * len(some) + 1.0) if some else 0.0


def _short(got: Settled) -> bool:
    return any(one.kind in ("margin", "too-little-water") for one in got.unmet)


def _better(one: Settled | None, other: Settled) -> Settled:
    return other if one is None or _amiss(other) < _amiss(one) else one


class _Own:
    """A layout, and the valves of their own that some vessels have, by vessel."""

    def __init__(
        self, layout: Layout, valves: Mapping[str, Valve], wanted: Wanted, near: find.Settled | None = None
    ) -> None:
        self.layout, self.wanted, self.aims = layout, wanted, wanted.aims(layout)
        self.free = {name: valve for name, valve in valves.items() if name in self.aims}
        self.near = near
        self.last: Layout | None = None

    def judged(self, openings: Openings) -> Settled:
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
                    if not _amiss(best):
                        return told(best)
                    least = found if step == STEPS[0] else least
                    if not _short(best) and self.takes_what_is_left(best):
                        best = self.above(found, best)
                        return told(best) if not _amiss(best) else best
            if least is not None and best is not None and not _short(best):
                best = self.above(least, best)
                if not _amiss(best):
                    return told(best)
        except SolveError as error:
            best = best or Settled({}, None, (Unmet("no steady flow", None, "", 1.0, str(error)),))
        # Hundredths may be too coarse, or some vessel without a valve a little short.
        return best or self.judged({key: round(value, 2) for key, value in openings.items()})

    def takes_what_is_left(self, got: Settled) -> bool:
        """Whether what is amiss is so in vessels that none of these valves closes on, so that closing any gives them but more."""
        lines = self.layout.lines
        ill = {lines[one.place].start.name if one.place in lines else one.place for one in _curable(got)}
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
            start = _amiss(best)
            for level in sorted({valve.part.opening, *LEVELS}, reverse=True):
                if level <= least[valve.key] + 1e-9 or (far is not None and _amiss(far) >= start):
                    break
                found = self.climb({**least, valve.key: level}, STEPS[0])
                if found is None:
                    continue
                got = self.judged(found)
                best, far = _better(best, got), far or got
                if not _amiss(best):
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
