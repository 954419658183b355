"""Which vessels run out by an opening, and by which way: from the opening upstream, over the lowest of its highest places."""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from ..hydraulics.fittings import is_one_way, is_shut
from ..hydraulics.valve_service import adjustable
from ..layout.model import Access, Layout, Part, Stretch, Vector

__all__ = [
    "FILM",
    "Key",
    "Passed",
    "Pipes",
    "Source",
    "Spot",
    "last_valve",
    "runs_out",
    "siphons_over",
    "spot_in",
    "spot_of",
]

FILM = 0.01
"""Water less than this over an opening [m] is a dribble."""

Key = tuple[str, int]
"""A fitting by its line and step, as a rod's hurdles have it."""

Passed = tuple[tuple[Key, Part], ...]
"""The runs of pipe on a way, and the open valves that a hand gets at."""


@dataclass(frozen=True, slots=True)
class Source:
    """A vessel that runs out by an opening with the pumps off: down to `level` [m above the datum], `volume` [m³] of it (None where no area is
    known), in through the line end `mouth`. `below` [m]: how far that takes its water down."""

    vessel: str
    mouth: str
    level: float
    below: float
    volume: float | None


@dataclass(frozen=True, slots=True)
class Spot:
    """Where pipe is opened, `height` [m above the datum]: at a `point` where stretches meet; or inside one, with
    the parts that lead on to its head
    and back to its tail (`ways`: parts, the point behind them, and whether they go along the walk); or a
    standpipe's socket, in a `vessel`."""

    line: str
    height: float
    point: str | None = None
    ways: tuple[tuple[tuple[Part, ...], str, bool], ...] = ()
    vessel: str | None = None


class Pipes:
    """The pipe of a layout as water runs back through it: what is next to each point, the mouths in vessels, and
    the highest level."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.mouths = _mouths(layout)
        self.highest = max((vessel.level for vessel in layout.vessels.values()), default=0.0)
        self.suctions = [(f"{name}.in", f"{name}.out") for name, pump in layout.pumps.items() if pump.vessel is None]
        self.next_to: dict[str, list[tuple[Stretch, str, bool]]] = {}
        self.of_line: dict[str, list[Stretch]] = {}
        for stretch in layout.stretches:
            self.next_to.setdefault(stretch.tail, []).append((stretch, stretch.head, True))
            self.next_to.setdefault(stretch.head, []).append((stretch, stretch.tail, False))
            self.of_line.setdefault(stretch.line, []).append(stretch)


def spot_of(pipes: Pipes, access: Access) -> Spot:
    """Give the place that an access opens. A hose's end parts its stretch; a standpipe that is pulled opens its
    vessel at the socket."""
    line = pipes.layout.lines[access.line]
    if access.kind == "standpipe":
        return Spot(access.line, access.place[2], vessel=line.start.name or "")
    if access.kind == "hose end":
        index = next(n for n, part in enumerate(line.parts) if part.step == access.step and not part.is_pipe)
        return spot_in(pipes, access.line, index, access.place)
    return Spot(access.line, access.place[2], access.id)


def spot_in(pipes: Pipes, line: str, index: int, place: Vector) -> Spot:
    """Give a place in a line's part, counted from 0, as it would be opened there: a fitting by itself, a run where
    it is cut."""
    part = pipes.layout.lines[line].parts[index]
    # A cap or a union at the boundary belongs to the stretch before it.
    stretch = next(one for one in pipes.of_line[line] if any(part is other for other in one.parts))
    here = next(n for n, other in enumerate(stretch.parts) if other is part)
    on, back = stretch.parts[here + 1 :], stretch.parts[:here][::-1]
    if part.is_pipe:
        on, back = (replace(part, start=place), *on), (replace(part, end=place), *back)
    return Spot(line, place[2], ways=((on, stretch.head, True), (back, stretch.tail, False)))


def last_valve(way: Passed) -> tuple[Key, Part] | None:
    """Give the valve that stands nearest to the vessel on a way."""
    return next(((key, part) for key, part in reversed(way) if not part.is_pipe), None)


def runs_out(pipes: Pipes, spot: Spot, off: Collection[Key] = ()) -> tuple[tuple[Source, ...], dict[str, Passed]]:
    """Give the vessels that run out by an opening with the pumps and some valves `off`, and the way to each mouth,
    from the
    opening on: by the way whose highest place is lowest. A standpipe that is pulled opens its vessel, and what lies behind that vessel's mouths."""
    ways = _Ways(pipes, spot, off, pipes.highest)
    ways.go()
    return tuple(ways.found.values()), ways.passed


def siphons_over(pipes: Pipes, spot: Spot) -> tuple[str, ...]:
    """Give the vessels whose siphon, once it runs, runs on by an opening with the pumps off."""
    siphons = {
        point: (end.name or "", end.siphon.breaks) for point, end in pipes.layout.ends.items() if end.siphon is not None
    }
    if not siphons:
        return ()
    ways = _Ways(pipes, spot, (), math.inf)
    ways.go()
    return tuple(
        name
        for point, (name, breaks) in siphons.items()
        if point in ways.seen and spot.height + FILM < pipes.layout.vessels[name].base + breaks
    )


class _Ways:
    """The ways from one opening, as far as no pipe on them stands as high as `least` [m above the datum], over
    which no water comes."""

    def __init__(self, pipes: Pipes, spot: Spot, off: Collection[Key], least: float) -> None:
        self.pipes, self.layout, self.spot, self.off, self.least = pipes, pipes.layout, spot, off, least
        self.found: dict[str, Source] = {}
        self.passed: dict[str, Passed] = {}
        self.seen: set[str] = set()
        self.count = itertools.count()
        self.todo: list[tuple[float, int, str, Passed]] = []

    def go(self) -> None:
        """Begin at the opening, and go on while there is pipe."""
        spot = self.spot
        if spot.vessel is not None:
            self.in_the_vessel(spot.vessel)
        if spot.point is not None:
            self.push(spot.height, spot.point, ())
        for parts, other, along in spot.ways:
            self.on(parts, other, along, spot.height, (), spot.line)
        while self.todo:
            top, _, point, passed = heapq.heappop(self.todo)
            if point in self.seen:
                continue
            self.seen.add(point)
            if point in self.pipes.mouths:
                name, height = self.pipes.mouths[point]
                self.draws(name, point.removesuffix(".out"), max(height, spot.height, top), passed)
                continue
            self.beyond(point, top, passed)
            for ends in self.pipes.suctions:
                if point in ends:
                    self.push(top, ends[1 - ends.index(point)], passed)

    def in_the_vessel(self, name: str) -> None:
        """A standpipe's socket lets out its vessel, and what comes into that by the mouths under its water."""
        low = self.spot.height
        self.draws(name, f"{self.spot.line}.from", low, ())
        inside = {
            point: height
            for point, (vessel, height) in self.pipes.mouths.items()
            if vessel == name and height < self.layout.vessels[name].level - FILM
        }
        self.seen |= inside.keys()
        for point, height in inside.items():
            self.beyond(point, max(low, height), ())

    def draws(self, name: str, mouth: str, low: float, passed: Passed) -> None:
        """A vessel runs out by a mouth down to a height, if its water stands over it."""
        vessel = self.layout.vessels[name]
        deep = vessel.level - low
        if deep > FILM:
            self.found[mouth] = Source(name, mouth, low, deep, None if vessel.area is None else vessel.area * deep)
            self.passed[mouth] = passed

    def beyond(self, point: str, top: float, passed: Passed) -> None:
        for stretch, other, along in self.pipes.next_to.get(point, ()):
            self.on(stretch.parts if along else stretch.parts[::-1], other, along, top, passed, stretch.line)

    def on(self, parts: Sequence[Part], other: str, along: bool, top: float, passed: Passed, line: str) -> None:
        """Go on through pipe to the point behind it, where water comes that way: not through a shut valve, nor against a check valve. Towards the
        opening it comes against the walk where the way out of it goes along."""
        here = []
        for part in parts:
            top = max(top, part.start[2], part.end[2])
            key = (line, part.step)
            if part.is_pipe:
                here.append((key, part))
                continue
            if key in self.off or is_shut(part) or (along and is_one_way(part)):
                return
            if adjustable(part) and not part.around:
                here.append((key, part))
        self.push(top, other, (*passed, *here))

    def push(self, top: float, point: str, passed: Passed) -> None:
        if top < self.least:
            heapq.heappush(self.todo, (top, next(self.count), point, passed))


def _mouths(layout: Layout) -> dict[str, tuple[str, float]]:
    """Points where pipe meets the water of a vessel, with the vessel and the height of the mouth."""
    out = {
        point: (end.name, end.place[2])
        for point, end in layout.ends.items()
        if end.kind == "vessel" and end.name is not None and end.port != "standpipe"
    }
    for name, pump in layout.pumps.items():
        if pump.vessel is not None and pump.airlift is None:
            out[f"{name}.out"] = (pump.vessel, layout.vessels[pump.vessel].base + pump.intake)
    return out
