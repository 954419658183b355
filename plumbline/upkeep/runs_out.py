"""Which vessels run out by an opening, and by which way: from the opening upstream, over the lowest of its highest places."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from ..hydraulics.fittings import is_one_way, is_shut
from ..hydraulics.valve_service import adjustable
from ..layout.model import Access, Layout, Part, Stretch

__all__ = ["FILM", "Passed", "Source", "runs_out", "siphons_over"]

FILM = 0.01
"""Water less than this over an opening [m] is a dribble."""

Passed = tuple[tuple[tuple[str, int], Part], ...]
"""The open valves on a way, each with its line and step."""


@dataclass(frozen=True, slots=True)
class Source:
    """A vessel that runs out by an opening with the pumps off: down to `level` [m above the datum], `volume` [m³] of it (None where no area is
    known), in through the line end `mouth`. `below` [m]: how far that takes its water down."""

    vessel: str
    mouth: str
    level: float
    below: float
    volume: float | None


def runs_out(
    layout: Layout, access: Access, off: Collection[tuple[str, int]]
) -> tuple[tuple[Source, ...], dict[str, Passed]]:
    """Give the vessels that run out by an opening with the pumps and some valves `off`, and the valves on the way to each mouth, from the
    opening on: by the way whose highest place is lowest. A standpipe that is pulled opens its vessel, and what lies behind that vessel's mouths."""
    ways = _Ways(layout, access, off)
    ways.go()
    return tuple(ways.found.values()), ways.passed


def siphons_over(layout: Layout, access: Access) -> tuple[str, ...]:
    """Give the vessels whose siphon, once it runs, runs on by an opening with the pumps off."""
    ways = _Ways(layout, access, frozenset())
    ways.go()
    return tuple(
        end.name or ""
        for point, end in layout.ends.items()
        if end.siphon is not None
        and point in ways.seen
        and ways.height + FILM < layout.vessels[end.name or ""].base + end.siphon.breaks
    )


class _Ways:
    """The ways from one opening."""

    def __init__(self, layout: Layout, access: Access, off: Collection[tuple[str, int]]) -> None:
        self.layout, self.access, self.off = layout, access, off
        self.height = access.place[2]
        self.mouths = _mouths(layout)
        self.next_to: dict[str, list[tuple[Stretch, str, bool]]] = {}
        for stretch in layout.stretches:
            self.next_to.setdefault(stretch.tail, []).append((stretch, stretch.head, True))
            self.next_to.setdefault(stretch.head, []).append((stretch, stretch.tail, False))
        self.found: dict[str, Source] = {}
        self.passed: dict[str, Passed] = {}
        self.seen: set[str] = set()
        self.count = itertools.count()
        self.todo: list[tuple[float, int, str, Passed]] = []

    def go(self) -> None:
        """Begin at the opening, and go on while there is pipe."""
        {"standpipe": self.in_the_vessel, "hose end": self.in_the_pipe}.get(self.access.kind, self.at_a_point)()
        while self.todo:
            top, _, point, passed = heapq.heappop(self.todo)
            if point in self.seen:
                continue
            self.seen.add(point)
            if point in self.mouths:
                name, height = self.mouths[point]
                self.draws(name, point.removesuffix(".out"), max(height, self.height, top), passed)
                continue
            self.beyond(point, top, passed)
            for name, pump in self.layout.pumps.items():
                if pump.vessel is None and point in (f"{name}.in", f"{name}.out"):
                    self.push(top, f"{name}.in" if point.endswith(".out") else f"{name}.out", passed)

    def at_a_point(self) -> None:
        self.push(self.height, self.access.id, ())

    def in_the_pipe(self) -> None:
        """A hose's end parts a stretch: water comes from both sides."""
        line, step = self.access.line, self.access.step
        stretch = next(
            one
            for one in self.layout.stretches
            if one.line == line and any(part.step == step and not part.is_pipe for part in one.parts)
        )
        here = next(n for n, part in enumerate(stretch.parts) if part.step == step and not part.is_pipe)
        self.on(stretch.parts[here + 1 :], stretch.head, True, self.height, ())
        self.on(stretch.parts[:here][::-1], stretch.tail, False, self.height, ())

    def in_the_vessel(self) -> None:
        """A standpipe's socket lets out its vessel, and what comes into that by the mouths under its water."""
        name = self.layout.lines[self.access.line].start.name or ""
        self.draws(name, f"{self.access.line}.from", self.height, ())
        inside = {
            point: height
            for point, (vessel, height) in self.mouths.items()
            if vessel == name and height < self.layout.vessels[name].level - FILM
        }
        self.seen |= inside.keys()
        for point, height in inside.items():
            self.beyond(point, max(self.height, height), ())

    def draws(self, name: str, mouth: str, low: float, passed: Passed) -> None:
        """A vessel runs out by a mouth down to a height, if its water stands over it."""
        vessel = self.layout.vessels[name]
        deep = vessel.level - low
        if deep > FILM:
            self.found[mouth] = Source(name, mouth, low, deep, None if vessel.area is None else vessel.area * deep)
            self.passed[mouth] = passed

    def beyond(self, point: str, top: float, passed: Passed) -> None:
        for stretch, other, along in self.next_to.get(point, ()):
            self.on(stretch.parts if along else stretch.parts[::-1], other, along, top, passed, stretch.line)

    def on(self, parts: Sequence[Part], other: str, along: bool, top: float, passed: Passed, line: str = "") -> None:
        """Go on through pipe to the point behind it, where water comes that way: not through a shut valve, nor against a check valve. Towards the
        opening it comes against the walk where the way out of it goes along."""
        valves = []
        for part in parts:
            top = max(top, part.start[2], part.end[2])
            if part.is_pipe:
                continue
            key = (line or self.access.line, part.step)
            if key in self.off or is_shut(part) or (along and is_one_way(part)):
                return
            if adjustable(part):
                valves.append((key, part))
        self.push(top, other, (*passed, *valves))

    def push(self, top: float, point: str, passed: Passed) -> None:
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
