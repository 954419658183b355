"""A second, plain and slow model of water between vessels, for tests: nothing of the program's own hydraulics is used.

Vessels hold water, ways join them. A way is a chain of parts walked from its first end to its second, and asks for a head
at its first end for each flow: what stands at its second end, and what is lost between. Three things make that the law of
a pipe that may take air:

- A crest (the top of a vented riser, a hump that draws air, a vented tee below its branch): what comes is lifted to there,
  what goes on falls free, so the head before it is the greater of the crest's height and what is asked behind it.
- A mouth in a vessel asks for the greatest of its weir's, its orifice's and the full pipe's level.
- A check valve or a running pump passes water one way.

What is asked for rises with the flow, so each flow is found in a bracket, and each inner place's head as well. Levels go in
small explicit steps (`run`), or to rest by implicit ones of growing length (`settle`); both move water from store to store,
so none is made or lost.

Laws and sources: Darcy-Weisbach and Colebrook-White, a cubic in Re between 2300 and 4000; standpipes and holes in a floor BS EN
12056-3 (from memory); a round mouth in a wall its critical depth (Chow 1959, from memory), then an orifice.
All in SI units: m, s, m³.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

import numpy as np

G = 9.80665
DENSITY, VISCOSITY = 998.0, 1.002e-3
NU = VISCOSITY / DENSITY
MOST = 0.2  # m³/s: no pipe here carries more
LITRE_MIN = 1e-3 / 60


# ---- what flowing costs


def friction_factor(re: float, relative: float) -> float:
    """Darcy's factor: 64/Re up to Re 2300, Colebrook-White from 4000, between them a cubic in Re for f Re² that meets both
    in value and slope."""
    if re <= 2300:
        return 64 / max(re, 1e-12)
    if re >= 4000:
        return _colebrook(re, relative)
    step, low, high = 1700.0, 64 * 2300.0, _colebrook(4000.0, relative) * 4000.0**2
    slope_low = 64.0
    slope_high = _slope(relative)
    t = (re - 2300) / step
    cubic = (
        (2 * t**3 - 3 * t**2 + 1) * low
        + (t**3 - 2 * t**2 + t) * step * slope_low
        + (3 * t**2 - 2 * t**3) * high
        + (t**3 - t**2) * step * slope_high
    )
    return cubic / re**2


@lru_cache
def _slope(relative: float) -> float:
    d = 0.01
    return (_colebrook(4000 + d, relative) * (4000 + d) ** 2 - _colebrook(4000 - d, relative) * (4000 - d) ** 2) / (
        2 * d
    )


def _colebrook(re: float, relative: float) -> float:
    x = -1.8 * math.log10((relative / 3.7) ** 1.11 + 6.9 / re)  # Haaland's, to begin from
    for _ in range(4):
        inside = relative / 3.7 + 2.51 * x / re
        x -= (x + 2 * math.log10(inside)) / (1 + 2 * 2.51 / (re * inside * math.log(10)))
    return 1 / (x * x)


def area_of(bore: float) -> float:
    """Section of a bore."""
    return math.pi / 4 * bore * bore


def speed_head(flow: float, bore: float) -> float:
    """V²/2g."""
    return (flow / area_of(bore)) ** 2 / (2 * G)


# ---- the parts of a way; `rise(q, h, before)` is the head asked for before it when h is asked for behind it


@dataclass(frozen=True)
class Run:
    """A straight pipe."""

    length: float
    bore: float
    roughness: float = 1.5e-6

    def rise(self, flow: float, head: float) -> float:
        if flow <= 0 or self.length <= 0:
            return head
        re = 4 * flow / (math.pi * self.bore * NU)
        f = friction_factor(re, self.roughness / self.bore)
        return head + f * self.length / self.bore * speed_head(flow, self.bore)


@dataclass(frozen=True)
class Loss:
    """A fitting, K on the velocity head in its bore; `back` is its K for flow against the walk where that differs."""

    k: float
    bore: float

    def rise(self, flow: float, head: float) -> float:
        return head + self.k * speed_head(flow, self.bore)


@dataclass(frozen=True)
class Crest:
    """A place at which the pipe takes air, at this height."""

    height: float

    def rise(self, flow: float, head: float) -> float:
        return max(head, self.height)


@dataclass(frozen=True)
class Check:
    """Passes water along the walk only."""

    def rise(self, flow: float, head: float) -> float:
        return head


@dataclass(frozen=True)
class Holes:
    """An outlet that gives `flow` under `head` and goes with the head's root: a hole, or a dripper."""

    flow: float
    head: float

    def rise(self, flow: float, head: float) -> float:
        return head + self.head * (flow / self.flow) ** 2


@dataclass
class Pump:
    """A pump whose curve is straight between points (flow, head), and beyond them; off, it is shut."""

    curve: Sequence[tuple[float, float]]
    on: bool = True

    def rise(self, flow: float, head: float) -> float:
        points = self.curve
        for (q0, h0), (q1, h1) in pairwise(points):
            if flow <= q1 or (q1, h1) == points[-1]:
                return head - (h0 + (h1 - h0) * (flow - q0) / (q1 - q0))
        raise AssertionError


@dataclass
class Shutter:
    """A valve that is open or shut, by a timer or a float."""

    open: bool = True

    def rise(self, flow: float, head: float) -> float:
        return head


Part = Run | Loss | Crest | Check | Holes | Pump | Shutter


# ---- mouths: the level that a flow into the pipe asks for, whatever stands behind


def standpipe_head(flow: float, bore: float) -> float:
    """Head over an upright pipe's top: BS EN 12056-3, Q = D h^1.5/7500 up to h = D/2,
    D² h^0.5/15000 above, L/s and mm (from memory).

    >>> round(standpipe_head(4.714e-3, 0.1), 4)
    0.05
    """
    litres, mm = flow * 1e3, bore * 1e3
    weir = (7500 * litres / mm) ** (2 / 3)
    return (weir if weir <= mm / 2 else (15000 * litres / mm**2) ** 2) / 1e3


def hole_head(flow: float, bore: float, k: float) -> float:
    """Head over a hole in a floor whose entrance's K is known: the weir of BS EN 12056-3, then an orifice's (1 + K) V²/2g."""
    weir = (7500 * flow * 1e3 / (bore * 1e3)) ** (2 / 3) / 1e3
    return max(weir, (1 + k) * speed_head(flow, bore))


def wall_head(flow: float, bore: float, k: float) -> float:
    """Head over the axis of a round mouth in a wall, with its entrance's K: energy at the critical depth while
    V/√(gD) < 0.6 (as if full), an orifice's (1 + K) V²/2g from 1.2 on, a straight line between."""
    fast = flow / area_of(bore) / math.sqrt(G * bore)

    def weir(q: float) -> float:
        depth, energy_half = _critical(q, bore)
        return depth - bore / 2 + (1 + k) * energy_half

    def orifice(q: float) -> float:
        return (1 + k) * speed_head(q, bore)

    unit = area_of(bore) * math.sqrt(G * bore)
    if fast <= 0.6:
        return weir(flow)
    if fast >= 1.2:
        return orifice(flow)
    low, high = weir(0.6 * unit), orifice(1.2 * unit)
    return low + (high - low) * (fast - 0.6) / 0.6


def _critical(flow: float, bore: float) -> tuple[float, float]:
    """Critical depth in a round pipe and half its mean depth, V²/2g there: Q² T = g A³ (Chow 1959), by a fine table over
    half the angle that the surface spans."""
    unit = flow / math.sqrt(G * bore**5)
    n = min(max(bisect_left(_FLOWS, unit), 1), len(_FLOWS) - 1)
    share = (unit - _FLOWS[n - 1]) / (_FLOWS[n] - _FLOWS[n - 1])
    depth, half = (column[n - 1] + share * (column[n] - column[n - 1]) for column in (_DEPTHS, _HALVES))
    return bore * depth, bore * half


def _elements(half: float) -> tuple[float, float, float]:
    """Of a bore of 1: Q/√g, depth and A/2T at critical flow."""
    a, t = (half - math.sin(half) * math.cos(half)) / 4, math.sin(half)
    return math.sqrt(a**3 / t), (1 - math.cos(half)) / 2, a / (2 * t)


_FLOWS, _DEPTHS, _HALVES = zip((0.0, 0.0, 0.0), *(_elements(n / 1000) for n in range(1, 3100)), strict=True)


@dataclass(frozen=True)
class End:
    """Where a way ends: in a vessel (with a mouth of some `kind` if water can go in there), in open air, or at a place.

    kind: "standpipe" or "floor" (height of the crest or the hole), "drowned" (of a pipe's end that hangs down, which takes
    air by the same law), "wall" (of the axis), "intake" (of a pump: nothing flows once the level is down there), "siphon" (a
    bell, whose way says when it takes air), "air", "place".
    """

    kind: str
    at: str = ""
    height: float = 0.0
    bore: float = 0.05
    enters: float = 0.5
    leaves: float = 1.0

    def asks(self, flow: float, head: float) -> float:
        """The level outside that a flow into the pipe asks for, with `head` asked for just inside."""
        if self.kind == "place":
            return head
        full = head + self.enters * speed_head(flow, self.bore)
        if self.kind == "standpipe":
            return max(full, self.height + standpipe_head(flow, self.bore))
        if self.kind in ("floor", "drowned"):
            return max(full, self.height + hole_head(flow, self.bore, self.enters))
        if self.kind == "wall":
            return max(full, self.height + wall_head(flow, self.bore, self.enters))
        return full

    def stands(self, flow: float, level: float) -> float:
        """The head just inside, with a flow out of the pipe, over a level outside."""
        if self.kind == "place":
            return level
        outside = self.height if self.kind == "air" else max(level, self.height)
        return outside + self.leaves * speed_head(flow, self.bore)


@dataclass
class Way:
    """A chain of parts from one end to the other; a positive flow goes along it."""

    name: str
    first: End
    second: End
    parts: Sequence[Part] = ()
    crest: float | None = None  # of a bell siphon: its height, taking air until primed
    breaks: float = -math.inf  # the level at which it takes air again
    catches: float = 0.3  # V/√(gD) over the crest that primes it: air no longer escapes upstream (Wisner 1975)
    primed: bool = False
    last: float = field(default=1e-4, repr=False)  # to begin the next search from
    last_signed: float = field(default=1e-4, repr=False)

    @property
    def open(self) -> bool:
        """Whether no shut valve and no stopped pump is in it, and it is no siphon that has just broken."""
        return not any(
            (isinstance(p, Shutter) and not p.open) or (isinstance(p, Pump) and not p.on) for p in self.parts
        )

    @property
    def one_way(self) -> bool:
        """Whether water goes along it only."""
        check = any(isinstance(p, Check | Pump | Holes) for p in self.parts)
        return check or self.second.kind == "air" or self.crest is not None

    def asked(self, flow: float, far: float, *, along: bool = True) -> float:
        """Head asked for at the end where the water goes in, with `far` outside the other."""
        into, out = (self.first, self.second) if along else (self.second, self.first)
        head = out.stands(flow, far)
        for part in reversed(self.parts) if along else self.parts:
            head = part.rise(flow, head)
        if self.crest is not None and not self.primed:
            return max(into.asks(flow, head), self.crest + standpipe_head(flow, into.bore))
        return into.asks(flow, head)

    def dry(self, first: float) -> bool:
        """Whether the level stands no higher than its pump's intake, or than where its siphon breaks."""
        broken = self.crest is not None and self.primed and first <= self.breaks
        return broken or (self.first.kind == "intake" and first <= self.first.height)

    def flow(self, first: float, second: float) -> float:
        """The flow with these heads (levels, or heads of places) at its ends."""
        if not self.open or self.dry(first):
            return 0.0
        if first > self.asked(0.0, second):
            return self._bracket(lambda q: self.asked(q, second) - first)
        if not self.one_way and second > self.asked(0.0, first, along=False):
            return -self._bracket(lambda q: self.asked(q, first, along=False) - second)
        return 0.0

    def _bracket(self, lacks: Callable[[float], float]) -> float:
        """The root of a rising function, from a guess, in a bracket, by halving what regula falsi (Illinois) leaves."""
        guess = min(max(self.last, 1e-9), MOST)
        low, high, f_low, f_high = 0.0, guess, lacks(0.0), lacks(guess)
        while f_high < 0 and high < MOST:
            low, f_low, high = high, f_high, min(2 * high, MOST)
            f_high = lacks(high)
        if f_high < 0:
            return MOST
        if f_high == 0:
            return high
        side = 0
        for n in range(200):
            if high - low <= 1e-13 + 1e-11 * high:
                break
            mid = (low + high) / 2 if n % 4 == 3 else (low * f_high - high * f_low) / (f_high - f_low)
            if not low < mid < high:
                mid = (low + high) / 2
            f = lacks(mid)
            if f < 0:
                low, f_low = mid, f
                f_high *= 0.5 if side < 0 else 1.0
                side = -1
            else:
                high, f_high = mid, f
                f_low *= 0.5 if side > 0 else 1.0
                side = 1
                if f == 0.0:
                    self.last = mid
                    return mid
        self.last = high
        return (low + high) / 2


# ---- stores


@dataclass
class Vessel:
    """A store: its floor above the datum, its area (one number, or a table of height over its floor and area), its rim over
    its floor, and the height of its water's surface above the datum. `held` is a reservoir."""

    floor: float
    area: float | Sequence[tuple[float, float]]
    level: float
    rim: float = math.inf
    held: bool = False
    supply: float = 0.0  # put in from outside
    draws: float = 0.0  # taken out to outside

    def __post_init__(self) -> None:
        if not isinstance(self.area, int | float):
            self._heights = np.array([h for h, _ in self.area], float)
            areas = np.array([a for _, a in self.area], float)
            self._areas = areas
            self._volumes = np.concatenate([[0.0], np.cumsum(np.diff(self._heights) * (areas[1:] + areas[:-1]) / 2)])

    def area_at(self, level: float) -> float:
        """Its area at a level; the table is straight between its rows and goes on as at its ends."""
        if isinstance(self.area, int | float):
            return float(self.area)
        return float(np.interp(level - self.floor, self._heights, self._areas))

    def volume(self, level: float) -> float:
        """Water in it over its floor."""
        depth = level - self.floor
        if isinstance(self.area, int | float):
            return self.area * depth
        h, a, v = self._heights, self._areas, self._volumes
        if depth >= h[-1]:
            return float(v[-1] + (depth - h[-1]) * a[-1])
        n = max(int(np.searchsorted(h, depth, side="right")) - 1, 0)
        slope = (a[n + 1] - a[n]) / (h[n + 1] - h[n])
        d = depth - h[n]
        return float(v[n] + a[n] * d + slope * d * d / 2)

    def level_of(self, volume: float) -> float:
        """The level with a volume of water in it."""
        if isinstance(self.area, int | float):
            return self.floor + volume / self.area
        low, high = 0.0, float(self._heights[-1]) + max(0.0, volume - float(self._volumes[-1])) / float(self._areas[-1])
        for _ in range(80):
            mid = (low + high) / 2
            low, high = (mid, high) if self.volume(self.floor + mid) < volume else (low, mid)
        return self.floor + (low + high) / 2

    def spills(self, level: float) -> float:
        """What runs over its rim: a broad weir as long as a round vessel's rim, Q = 1.7 L h^1.5."""
        over = level - self.floor - self.rim
        return 1.7 * 2 * math.sqrt(math.pi * self.area_at(level)) * over**1.5 if over > 0 else 0.0


@dataclass
class Device:
    """Something that turns pumps and valves: called with time, levels by vessel and itself; returns when it next acts of
    itself. It may change `on` of pumps and `open` of shutters."""

    acts: Callable[[float, Mapping[str, float]], None]
    next_time: Callable[[float], float] = lambda t: math.inf


@dataclass
class System:
    """Vessels, inner places, ways, and what turns them."""

    vessels: dict[str, Vessel]
    ways: list[Way]
    places: tuple[str, ...] = ()
    draws: dict[str, float] = field(default_factory=dict)  # at inner places, taken out
    devices: list[Device] = field(default_factory=list)
    lost: float = 0.0
    added: float = 0.0
    spilled: dict[str, float] = field(default_factory=dict)
    heads: dict[str, float] = field(default_factory=dict)  # of inner places, as last settled

    def levels(self) -> dict[str, float]:
        return {name: vessel.level for name, vessel in self.vessels.items()}

    def water(self) -> float:
        """All water in vessels that are not held."""
        return sum(v.volume(v.level) for v in self.vessels.values() if not v.held)

    # -- flows from levels

    def flows(self, levels: Mapping[str, float], heads: dict[str, float] | None = None) -> dict[str, float]:
        """Flows by way, with the heads of inner places so found that what comes to each goes on."""
        heads = dict.fromkeys(self.places, max(levels.values(), default=0.0)) if heads is None else heads
        if self.places:
            trial = dict(levels)
            if self._newton((), {}, trial, heads, 1.0):
                return {way.name: way.last_signed for way in self.ways}
            self._sweep(levels, heads)
        return {way.name: self._one(way, levels, heads) for way in self.ways}

    def _one(self, way: Way, levels: Mapping[str, float], heads: Mapping[str, float]) -> float:
        def head(end: End) -> float:
            return heads[end.at] if end.kind == "place" else end.height if end.kind == "air" else levels[end.at]

        return way.flow(head(way.first), head(way.second))

    def _excess(self, place: str, levels: Mapping[str, float], heads: Mapping[str, float]) -> float:
        """Net flow into an inner place."""
        total = -self.draws.get(place, 0.0)
        for way in self.ways:
            if place in (way.first.at, way.second.at):
                q = self._one(way, levels, heads)
                total += q * ((way.second.at == place) - (way.first.at == place))
        return total

    def _sweep(self, levels: Mapping[str, float], heads: dict[str, float]) -> None:
        """Each place's head in turn where its flows balance, the others held, until none moves: what comes to a place
        falls as its head rises, so each is found in a bracket and the sweeps settle."""
        for _ in range(3000):
            most = 0.0
            for name in self.places:
                before = heads[name]
                low, high = before - 1e-3, before + 1e-3
                while self._excess(name, levels, {**heads, name: low}) < 0 and low > before - 100:
                    low = before - 4 * (before - low)
                while self._excess(name, levels, {**heads, name: high}) > 0 and high < before + 100:
                    high = before + 4 * (high - before)
                for _ in range(60):
                    mid = (low + high) / 2
                    low, high = (mid, high) if self._excess(name, levels, {**heads, name: mid}) > 0 else (low, mid)
                heads[name] = (low + high) / 2
                most = max(most, abs(heads[name] - before))
            if most < 1e-12:
                return

    def _newton(
        self,
        free: Sequence[str],
        before: Mapping[str, float],
        levels: dict[str, float],
        heads: dict[str, float],
        dt: float,
    ) -> bool:
        """Flows, heads of places and levels of the `free` vessels at once, at the end of an implicit step. Flows are
        unknowns, since what is asked for is smooth in them; within a nothing of flow it goes straight from the one sense to the
        other. False where it does not converge; the levels and heads are then of no use."""
        none, names, count = 1e-14, [*self.places, *free], len(self.ways)
        where = {name: count + k for k, name in enumerate(names)}
        x = np.array(
            [way.last_signed for way in self.ways] + [heads[n] for n in self.places] + [levels[n] for n in free]
        )

        def head(x: np.ndarray, end: End) -> float:
            if end.kind == "air":
                return end.height
            return float(x[where[end.at]]) if end.at in where else levels[end.at]

        def asks(way: Way, q: float, first: float, second: float) -> float:
            if not way.open or way.dry(first) or (q <= -none and way.one_way):
                return q * 1e6
            if q < none:
                back = 1e6 * none if way.one_way else way.asked(max(-q, none), first, along=False) - second
                if q <= -none:
                    return -back
                ahead = way.asked(none, second) - first
                t = (q + none) / (2 * none)
                return -back * (1 - t) + ahead * t
            return way.asked(q, second) - first

        def rest(x: np.ndarray, old: np.ndarray) -> np.ndarray:
            """Ways that a step would turn round come to rest where neither sense is asked for, and begin to run where one is."""
            for k, way in enumerate(self.ways):
                if x[k] * old[k] < 0 or abs(old[k]) <= none:
                    first, second = head(x, way.first), head(x, way.second)
                    back, ahead = asks(way, -none, first, second), asks(way, none, first, second)
                    if back <= 0 <= ahead:
                        x[k] = none * (2 * -back / max(ahead - back, 1e-300) - 1)
                    elif abs(x[k]) < 1e-7 or (way.one_way and x[k] < 0):
                        x[k] = 1e-7 if ahead < 0 else -1e-7
            return x

        def miss(x: np.ndarray) -> np.ndarray:
            f = np.zeros(len(x))
            for k, way in enumerate(self.ways):
                q = float(x[k])
                f[k] = asks(way, q, head(x, way.first), head(x, way.second))
                for end, sign in ((way.first, -1), (way.second, 1)):
                    if end.at in where:
                        f[where[end.at]] += sign * q
            for name in self.places:
                f[where[name]] -= self.draws.get(name, 0.0)
            for name in free:
                vessel, level = self.vessels[name], float(x[where[name]])
                f[where[name]] += vessel.supply - vessel.draws - vessel.spills(level)
                f[where[name]] -= (vessel.volume(level) - before[name]) / dt
            f[count:] *= 1e3
            return f

        f, near = (
            miss(x),
            min(1e-7, 1e-4 / dt),
        )  # near enough where rounding ends the search: a ten-thousandth of a litre
        for _ in range(60):
            worst = float(np.abs(f).max())
            if worst < 1e-9:
                break
            slope = np.zeros((len(x), len(x)))
            for k, way in enumerate(self.ways):
                q, first, second = float(x[k]), head(x, way.first), head(x, way.second)
                d = max(1e-6 * abs(q), none / 50)
                slope[k, k] = (asks(way, q + d, first, second) - asks(way, q - d, first, second)) / (2 * d)
                for end, sign in ((way.first, -1), (way.second, 1)):
                    if end.at in where:
                        j, e = where[end.at], 1e-7
                        slope[j, k] += sign * 1e3
                        moved = (first + e, second) if end is way.first else (first, second + e)
                        slope[k, j] += (asks(way, q, *moved) - asks(way, q, first, second)) / e
            for name in self.places:  # where a head does not matter, since the place takes air, it stays as it is
                slope[where[name], where[name]] -= 1e-7
            for name in free:
                vessel, j = self.vessels[name], where[name]
                level = float(x[j])
                slope[j, j] -= 1e3 * vessel.area_at(level) / dt
                slope[j, j] -= 1e3 * (vessel.spills(level + 1e-6) - vessel.spills(level)) / 1e-6
            try:
                move = np.linalg.solve(slope, -f)
            except np.linalg.LinAlgError:
                move = np.linalg.lstsq(slope, -f, rcond=None)[0]
            if not np.isfinite(move).all():
                return False
            share = min(1.0, 2.0 / max(float(np.abs(move[count:]).max(initial=0.0)), 1e-9))
            while share > 1e-5:
                tried = rest(x + share * move, x)
                new = miss(tried)
                if float(new @ new) < float(f @ f) * (1 - 1e-4 * share):
                    break
                share /= 2
            else:
                if worst < near:
                    break
                return False
            x, f = tried, new
        else:
            return False
        for k, way in enumerate(self.ways):
            way.last_signed = float(x[k])
        heads.update({n: float(x[where[n]]) for n in self.places})
        levels.update({n: float(x[where[n]]) for n in free})
        return True

    def net(self, levels: Mapping[str, float], flows: Mapping[str, float]) -> dict[str, float]:
        """What each vessel gains, by flows, supply, draws and what it spills."""
        gains = {n: v.supply - v.draws - v.spills(levels[n]) for n, v in self.vessels.items()}
        for way in self.ways:
            for end, sign in ((way.first, -1), (way.second, 1)):
                if end.kind not in ("place", "air"):
                    gains[end.at] += sign * flows[way.name]
        return gains

    # -- to rest

    def settle(self, *, longest: float = 1e7, first: float = 2.0) -> dict[str, float]:
        """Levels to where they stay, by implicit steps of growing length; returns the flows there. Siphons and devices stay as
        they are. What is put in from outside goes on for ever, so a system that fills for ever ends at its rims."""
        failed, dt, t, heads = 0, first, 0.0, dict.fromkeys(self.places, max(self.levels().values(), default=0.0))
        free = [n for n, v in self.vessels.items() if not v.held]
        while t < longest:
            before = {n: self.vessels[n].volume(self.vessels[n].level) for n in free}
            trial, heads = self.levels(), dict(heads)
            if not self._newton(free, before, trial, heads, dt):
                dt, failed = dt / 4, failed + 1
                if failed > 8:
                    raise ArithmeticError("the slow model finds no step")
                continue
            moved = max((abs(trial[n] - self.vessels[n].level) for n in free), default=0.0)
            for n in free:
                self.vessels[n].level = trial[n]
            t += dt
            if moved < 1e-10 and dt > 1e4:
                break
            dt *= 4.0 if moved < 0.01 else 2.0 if moved < 0.05 else 1.0
        self.heads = heads
        return {way.name: way.last_signed for way in self.ways}

    # -- through time

    def run(
        self,
        until: float,
        *,
        step: float = 1.0,
        most: float = math.inf,
        start: float = 0.0,
        watch: Callable[[float, System, dict[str, float]], None] | None = None,
    ) -> None:
        """Small explicit steps from `start` to `until`, so short that no level moves by more than `most`; each is cut where a timer acts, where a siphon primes or breaks, or
        where a float acts (its level is overrun by no more than a step moves)."""
        t, heads = start, dict.fromkeys(self.places, max(self.levels().values(), default=0.0))
        while t < until - 1e-9:
            for device in self.devices:
                device.acts(t, self.levels())
            levels = self.levels()
            flows = self.flows(levels, heads)
            self._siphons(levels, flows)
            if watch:
                watch(t, self, flows)
            due = min((d.next_time(t) for d in self.devices), default=math.inf)
            dt = min(step, until - t, max(due - t, 1e-6))
            if most < math.inf:
                gains = self.net(levels, flows)
                fastest = max(abs(gains[n]) / v.area_at(levels[n]) for n, v in self.vessels.items() if not v.held)
                dt = min(dt, max(most / max(fastest, 1e-12), 0.05))
            self._move(levels, flows, dt)
            t += dt

    def _siphons(self, levels: Mapping[str, float], flows: dict[str, float]) -> None:
        changed = False
        for way in self.ways:
            if way.crest is None:
                continue
            if way.primed and levels[way.first.at] <= way.breaks:
                way.primed, changed = False, True
            elif not way.primed and flows[way.name] > 0:
                bore = way.first.bore
                way.primed = flows[way.name] >= way.catches * area_of(bore) * math.sqrt(G * bore)
                changed |= way.primed
        if changed:
            flows.update(self.flows(levels))

    def _move(self, levels: Mapping[str, float], flows: dict[str, float], dt: float) -> None:
        """Move the water of one step; what a vessel has not, it does not give."""
        for name, vessel in self.vessels.items():
            if vessel.held:
                continue
            outs = [
                (w, end) for w in self.ways for end in (w.first, w.second) if end.at == name and end.kind != "place"
            ]
            leaves = sum(max((1 if end is w.first else -1) * flows[w.name], 0.0) for w, end in outs)
            have = vessel.volume(levels[name])
            if leaves * dt > have + 1e-15 and not self.places:
                for w, end in outs:
                    if (1 if end is w.first else -1) * flows[w.name] > 0:
                        flows[w.name] *= max(have, 0.0) / (leaves * dt)
        gains = self.net(levels, flows)
        for name, vessel in self.vessels.items():
            spill = vessel.spills(levels[name])
            if vessel.held:
                self.added -= gains[name] * dt  # a reservoir stands outside
                continue
            self.spilled[name] = self.spilled.get(name, 0.0) + spill * dt
            self.added += vessel.supply * dt
            self.lost += (vessel.draws + spill) * dt
            vessel.level = vessel.level_of(vessel.volume(vessel.level) + gains[name] * dt)
        for way in self.ways:
            self.lost += dt * flows[way.name] * (way.second.kind == "air")
        for drawn in self.draws.values():
            self.lost += dt * max(drawn, 0.0)
            self.added += dt * max(-drawn, 0.0)


# ---- what turns pumps and valves


def set_all(things: Iterable[Pump | Shutter], on: bool) -> None:
    """Turn pumps on or off, shutters open or shut."""
    for thing in things:
        if isinstance(thing, Pump):
            thing.on = on
        else:
            thing.open = on


def timer(things: Sequence[Pump | Shutter], on: float, off: float) -> Device:
    """On for `on` seconds, off for `off`, beginning on at time 0."""

    def acts(t: float, levels: Mapping[str, float]) -> None:
        set_all(things, (t + 1e-6) % (on + off) < on)

    def next_time(t: float) -> float:
        turn, phase = divmod(t + 1e-6, on + off)
        return turn * (on + off) + (on if phase < on else on + off)

    return Device(acts, next_time)


def clock(things: Sequence[Pump | Shutter], windows: Sequence[tuple[float, float]]) -> Device:
    """On between the given seconds of the day."""
    edges = sorted({e for window in windows for e in window})

    def acts(t: float, levels: Mapping[str, float]) -> None:
        of_day = (t + 1e-6) % 86400
        set_all(things, any(a <= of_day < b if a <= b else not b <= of_day < a for a, b in windows))

    def next_time(t: float) -> float:
        day, of_day = divmod(t + 1e-6, 86400)
        return day * 86400 + next((e for e in edges if e > of_day), 86400 + edges[0])

    return Device(acts, next_time)


def float_switch(things: Sequence[Pump | Shutter], vessel: str, low: float, high: float, *, on_above: bool) -> Device:
    """Two levels above the datum: on at the one, off at the other; between them it stays as it was."""

    def acts(t: float, levels: Mapping[str, float]) -> None:
        if levels[vessel] >= high:
            set_all(things, on_above)
        elif levels[vessel] <= low:
            set_all(things, not on_above)

    return Device(acts)


def float_valve(vessel: Vessel, name: str, shuts_at: float, flow: float, *, band: float = 0.02) -> Device:
    """A supply that runs at `flow` from where the level is `band` below a height above the datum until it is there."""
    opened = [False]

    def acts(t: float, levels: Mapping[str, float]) -> None:
        opened[0] = levels[name] < shuts_at - (0.0 if opened[0] else band)
        vessel.supply = flow if opened[0] else 0.0

    return Device(acts)
