"""Every way to flush a layout: what each opens, what it scours, how long it takes and how much water it costs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from ..findings import as_tuple
from ..hydraulics.find import find_flows
from ..hydraulics.opened import Opening, comes_out, flows_with, openings, ways_out, without_standpipes
from ..hydraulics.stretches import pipes_joined
from ..layout.model import Layout, Stretch
from .carry_out import exits_of, lasts, mouths_out, times_out
from .flush import flushed
from .intervals import Intervals, clip, length, subtract, together, union
from .left_shut import why_no_flush
from .shear import speed, volume, wall_shear
from .spills import spills
from .words import adjoining

__all__ = ["Flush", "Flushing", "Washed", "Weak", "flush_ways"]

VOLUMES = 3.0
"""Volumes of a stretch that are to pass: common practice, no source."""

State = tuple[tuple[Opening, ...], Opening | None, bool]
"""What stands open, the cap that a hose is put in at, and whether the pumps stand still."""

SAME = 1e-6
"""Pipe shorter than this [m] is rounding."""


@dataclass(frozen=True, slots=True)
class Washed:
    """One stretch in a flush state: `velocity` [m/s] in its bore, `shear` [Pa] on its wall, `scoured` [m] of it, the
    `seconds` until three volumes of it have passed (None where nothing flows), and whether it is `hastened` at all."""

    velocity: float
    shear: float
    scoured: float
    seconds: float | None
    hastened: bool


@dataclass(frozen=True)
class Flush:
    """One way to flush. `opened` are what stands open; `hose` the cap that a hose is put in at; `stopped` tells that the
    pumps stand still. `loses` [m³/s] leave the system, `brings` [m³/s] come
    in by the hose; `stretches` by id; `scours` [m along the line] by line;
    `seconds` until three volumes of every stretch that it scours have passed and the dirt of its far end is out, or the water that there is has gone; `water` [m³] what that takes; `falls` [m]
    by vessel: how far its level falls meanwhile, if nothing else tops it up; vessels without an area are left out."""

    opened: tuple[Opening, ...]
    hose: Opening | None
    stopped: bool
    loses: float
    brings: float
    stretches: Mapping[str, Washed]
    scours: Mapping[str, Intervals]
    seconds: float
    falls: Mapping[str, float]

    @property
    def water(self) -> float:
        """Water lost [m³]."""
        return self.loses * self.seconds

    @property
    def length(self) -> float:
        """Pipe that it scours [m]."""
        return sum(length(pieces) for pieces in self.scours.values())


@dataclass(frozen=True, slots=True)
class Weak:
    """Neighbouring pipe of one line that no way scours: its `stretches` and `pieces` [m along the line]; of the stretch that
    is slowest even so, the `usual` speed [m/s] and the largest that any way gives it, `velocity` with `shear` [Pa]; `best` is
    that way, None where none makes it faster than usual."""

    line: str
    stretches: tuple[Stretch, ...]
    pieces: Intervals
    usual: float
    velocity: float
    shear: float
    best: Flush | None


@dataclass(frozen=True)
class Flushing:
    """All ways to flush a layout. `ways` in the order: pumps on, pumps off, two at once, hose; those that scour nothing are
    in `idle`. `unsolved` are states without a steady flow. `weak` is what none of them scours. `shut` is what
    cannot be opened for a flush, with why."""

    layout: Layout
    ways: tuple[Flush, ...]
    idle: tuple[Flush, ...]
    unsolved: tuple[State, ...]
    weak: tuple[Weak, ...]
    shut: tuple[tuple[Opening, str], ...] = ()

    @property
    def scoured(self) -> float:
        """Pipe that some way scours [m]."""
        return sum(length(pieces) for pieces in _together(self.ways).values())


def flush_ways(layout: Layout) -> Flushing:
    """Try every cap, standpipe that pulls out and drain valve that a hand can open for it and shut again, with the
    pumps on and off, and the hose if the file names
    one.

    Two are opened together where each alone hastens some pipe that none scours alone; a hose is put in at one cap with
    another open wherever connected pipe is left that the hose alone does not scour. Of those the ones that add most are
    kept, the best first, until none adds any.

    Raises:
        SolveError: when the layout has no steady flow in normal running.
    """
    tried = _Tried(layout)
    found, spilled = openings(layout), spills(layout, tried.usual)
    shut = {one: why for one in found if (why := why_no_flush(layout, spilled.get(one.id)))}
    every = tuple(one for one in found if one not in shut)
    states = (False, True) if layout.pumps else (False,)
    for stopped in states:
        for one in every:
            tried.add((one,), None, stopped)
    singles = list(tried.ways)
    tried.add_best(((pair, None, stopped) for stopped in states for pair in tried.pairs(every, stopped)), singles)
    if layout.hose is not None:
        # What is taken down or plugged first lets a hose be put in.
        caps = [one for one in found if one.kind == "cap" and (one.id not in spilled or spilled[one.id].safe)]
        before = len(tried.ways)
        for cap in caps:
            # With the pumps off, so that the hose alone moves the water.
            tried.add((), cap, True)
        pairs = [(cap, other) for cap in caps for other in every if other != cap and other.piece == cap.piece]
        tried.add_best((((other,), cap, True) for cap, other in pairs), tried.ways[before:])
    return Flushing(
        layout, tuple(tried.ways), tuple(tried.idle), tuple(tried.unsolved), tried.weak(), tuple(shut.items())
    )


class _Tried:
    """The ways tried so far."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.usual = find_flows(layout, margins=False)
        self.pieces = pipes_joined(layout)
        self.ways: list[Flush] = []
        self.idle: list[Flush] = []
        self.unsolved: list[State] = []

    def add(self, opened: tuple[Opening, ...], hose: Opening | None, stopped: bool) -> None:
        """Try one way and keep it."""
        found = self.solve(opened, hose, stopped)
        if found is None:
            self.unsolved.append((opened, hose, stopped))
        else:
            (self.ways if found.length > SAME else self.idle).append(found)

    def add_best(self, states: Iterable[State], before: Sequence[Flush]) -> None:
        """Try two openings at once for the pipe that the ways before leave, and keep what adds most."""
        done = _together(before)
        wanting = {
            self.pieces[name]
            for name, line in self.layout.lines.items()
            if subtract([(0.0, line.length)], done.get(name, ()), slack=SAME)
        }
        tried = [
            found for state in states if (state[0][0]).piece in wanting and (found := self.solve(*state)) is not None
        ]
        while tried:
            best = max(tried, key=lambda way: (_added(way, done), -way.water))
            if _added(best, done) <= SAME:
                return
            self.ways.append(best)
            done = _together([*before, *self.ways])
            tried.remove(best)

    def pairs(self, every: Sequence[Opening], stopped: bool) -> list[tuple[Opening, Opening]]:
        """The pairs worth trying: each alone hastens some same stretch that no single one scours."""
        done = _together(self.ways)
        left = [s for s in self.layout.stretches if subtract([(s.start, s.stop)], done.get(s.line, ()), slack=SAME)]
        hastened = {
            way.opened[0]: {stretch.id for stretch in left if way.stretches[stretch.id].hastened}
            for way in (*self.ways, *self.idle)
            if way.stopped == stopped
        }
        return [pair for pair in combinations(every, 2) if hastened.get(pair[0], set()) & hastened.get(pair[1], set())]

    def solve(self, opened: tuple[Opening, ...], hose: Opening | None, stopped: bool) -> Flush | None:
        """One way, worked out; None where it has no steady flow."""
        flows = flows_with(self.layout, self.usual, opened, stopped=stopped, hose_at=hose)
        if flows is None:
            return None
        ids = [one.id for one in opened]
        exits = exits_of(self.layout, ids)
        if hose is not None:
            # A hose's water is clean and plenty: what it drives out of the pipe into a vessel is out of the pipe.
            exits |= mouths_out(self.layout, flows)
        there = without_standpipes(self.layout, ids)
        scours = flushed(there, self.usual, {"this": flows}, {"this": exits})["this"]
        stretches = {
            stretch.id: self.washed(stretch, flows.stretches[stretch.id].flow, scours)
            for stretch in self.layout.stretches
        }
        times = times_out(self.layout, flows, exits)
        seconds = max(
            (
                max(one.seconds, times.get(name, 0.0) + one.seconds / VOLUMES)
                for name, one in stretches.items()
                if one.scoured > SAME and one.seconds is not None
            ),
            default=0.0,
        )
        seconds = min(seconds, lasts(there, flows, times))
        falls = {
            name: (flows.vessels[name].outflow - flows.vessels[name].inflow) * seconds / vessel.area
            for name, vessel in self.layout.vessels.items()
            if vessel.area is not None
        }
        out = ways_out(self.layout, flows, opened)
        brings = 0.0 if hose is None else -comes_out(self.layout, flows, {hose.id})
        return Flush(opened, hose, stopped, out, brings, stretches, scours, seconds, falls)

    def washed(self, stretch: Stretch, flow: float, scours: Mapping[str, Intervals]) -> Washed:
        """What a flow [m³/s] does in a stretch."""
        water = self.layout.water
        longest = max((part for part in stretch.parts if part.is_pipe), key=lambda part: part.length, default=None)
        roughness = 0.0 if longest is None else longest.pipe.roughness
        return Washed(
            speed(flow, stretch.bore),
            wall_shear(flow, stretch.bore, roughness, water.density, water.viscosity),
            length(clip(scours.get(stretch.line, ()), stretch.start, stretch.stop)),
            None if flow == 0.0 else VOLUMES * volume(stretch) / abs(flow),
            self.faster(stretch, flow),
        )

    @as_tuple
    def weak(self) -> Iterator[Weak]:
        """What no way scours, and what comes nearest."""
        done = _together(self.ways)
        left = {
            stretch.id: pieces
            for stretch in self.layout.stretches
            if (pieces := subtract([(stretch.start, stretch.stop)], done.get(stretch.line, ()), slack=SAME))
        }
        for group in adjoining(stretch for stretch in self.layout.stretches if stretch.id in left):
            best = {stretch.id: self.fastest(stretch) for stretch in group}
            slowest = min(group, key=lambda stretch: self.velocity(stretch, best[stretch.id]))
            way = best[slowest.id]
            yield Weak(
                group[0].line,
                group,
                union(piece for stretch in group for piece in left[stretch.id]),
                speed(self.usual.stretches[slowest.id].flow, slowest.bore),
                self.velocity(slowest, way),
                self.washed(slowest, self.usual.stretches[slowest.id].flow, {}).shear
                if way is None
                else way.stretches[slowest.id].shear,
                way,
            )

    def fastest(self, stretch: Stretch) -> Flush | None:
        """The way that moves the water in a stretch fastest, None where none makes it faster than usual."""
        best = max([*self.ways, *self.idle], key=lambda way: way.stretches[stretch.id].velocity, default=None)
        return best if best is not None and best.stretches[stretch.id].hastened else None

    def faster(self, stretch: Stretch, flow: float) -> bool:
        """Whether a flow [m³/s] is more than a stretch usually has, by the limit `flush gain`."""
        return abs(flow) > (1.0 + self.layout.limits["flush gain"]) * abs(self.usual.stretches[stretch.id].flow)

    def velocity(self, stretch: Stretch, way: Flush | None) -> float:
        """The speed [m/s] of a stretch: that of a way, or the usual one."""
        if way is None:
            return speed(self.usual.stretches[stretch.id].flow, stretch.bore)
        return way.stretches[stretch.id].velocity


def _together(ways: Iterable[Flush]) -> dict[str, Intervals]:
    """Pipe that any of the ways scours [m along the line]."""
    return together(way.scours for way in ways)


def _added(way: Flush, done: Mapping[str, Intervals]) -> float:
    """Pipe that a way scours beyond what is done [m]."""
    return sum(length(subtract(pieces, done.get(line, ()))) for line, pieces in way.scours.items())
