"""Water left to itself: vessels give to lower ones through the pipes, and pipes drain, until nothing moves any more.

The rules stand in `power_cut`. Volumes are moved from one store to another and never set, so that water is conserved to
rounding. Between two moves no opening is uncovered or drowned: each goes at most to the next height at which one is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple

from ..errors import SolveError
from ..layout.model import Layout
from .contents import between, mean_area
from .flows import Flows
from .stores import SAME, Stores

__all__ = ["Ending", "Rest", "come_to_rest"]

TURN = 1e-4
"""Vessels that stand level take turns in giving and receiving, by so much [m]: no less, or those that are joined in a row would follow one another
down in ever smaller moves."""

MOST_MOVES = 50000

Why = Literal["its end draws air", "the levels are the same", "air breaks the siphon"]


class Ending(NamedTuple):
    """Where a vessel stops giving: out at opening `outlet` of the group, at `height` [m], and `why`. `against` is what
    already stands at the outlet [m]."""

    outlet: int
    height: float
    against: float
    why: Why


Option = tuple[int, int, Ending]
"""A way by which a vessel gives: the group, its opening there, and where that ends."""


def come_to_rest(layout: Layout, flows: Flows) -> Rest:
    """Let the water of a layout come to rest with all pumps stopped.

    Parameters:
        flows: its steady flows, with the levels that its drains need.

    Raises:
        SolveError: when it never comes to rest.
    """
    rest = Rest(layout, flows)
    for _ in range(MOST_MOVES):
        if not rest.move():
            rest.mark_unknown()
            return rest
    raise SolveError("after a power cut the water never comes to rest: vessels and pipes keep giving to each other")


class Rest(Stores):
    """The water as it gives itself on: `given` [m³] by (giver, group, opening in, opening out), None where it is not known,
    and what `stopped` it; `unknown` are vessels whose level cannot be known. Below the `heedless` height [m] a choice does not change with
    what stands at the far ends: there is no other, and water has to climb higher on its way."""

    def __init__(self, layout: Layout, flows: Flows) -> None:
        self.choices: dict[tuple[str, bool], Option | None] = {}
        self.heedless: dict[tuple[str, bool], float] = {}
        super().__init__(layout, flows)
        self.given: dict[tuple[str, int, int, int], float | None] = {}
        self.stopped: dict[tuple[str, int, int, int], Ending] = {}
        self.unknown: set[str] = set()

    def endings(self, number: int, inlet: int) -> list[Ending]:
        """Where a vessel would stop giving by an opening, for each opening that it could come out at."""
        group, heads = self.groups[number], self.heads(number)
        own = group.heights[group.openings[inlet].node]
        out = []
        for outlet, crest in self.way(number).crests(inlet):
            against = heads[outlet]
            height = max(crest, against)
            why: Why = "air breaks the siphon"
            if height <= own + SAME:
                why = "its end draws air"
            elif height <= against + SAME and against > group.heights[group.openings[outlet].node]:
                why = "the levels are the same"
            out.append(Ending(outlet, height, against, why))
        return out

    def wet(self, vessel: str) -> Iterator[tuple[int, int]]:
        """A vessel's openings that its water comes up to, as (group, opening)."""
        for number, inlet in self.at[vessel]:
            group = self.groups[number]
            if group.heights[group.openings[inlet].node] <= self.levels[vessel] + SAME:
                yield number, inlet

    def options(self, vessel: str, *, brim: bool) -> Iterator[Option]:
        """The ways by which a vessel gives now, or with `brim` would if it got any more, as (group, inlet, ending)."""
        for number, inlet in self.wet(vessel):
            for ending in self.endings(number, inlet):
                above = self.levels[vessel] - ending.height
                if above > SAME or (brim and above >= -SAME and ending.against < ending.height - SAME):
                    yield number, inlet, ending

    def best(self, vessel: str, *, brim: bool = False) -> Option | None:
        """The way that a vessel's water takes: gravity pipe before pumped pipe, then the lowest outlet."""
        if self.stale:
            for number in self.touching[vessel]:
                self.fresh(number)
        if (vessel, brim) not in self.choices:
            options = list(self.options(vessel, brim=brim))
            self.choices[vessel, brim] = min(
                options,
                key=lambda option: (bool(self.groups[option[0]].pumps), option[2].against, option[2].height),
                default=None,
            )
            crests = (crest for at, inlet in self.wet(vessel) for _, crest in self.way(at).crests(inlet))
            self.heedless[vessel, brim] = -math.inf if len(options) > 1 else min(crests, default=math.inf)
        return self.choices[vessel, brim]

    def stirred(self, number: int, upto: float = math.inf) -> None:
        """The vessels that a group joins may give by other ways than before."""
        for name in self.joined[number]:
            for brim in (False, True):
                if upto > self.heedless.get((name, brim), -math.inf) - 2.0 * SAME:
                    self.choices.pop((name, brim), None)

    def add(self, vessel: str, volume: float) -> None:
        """Put water into a vessel or take it out; how it may give is other than before."""
        super().add(vessel, volume)
        self.forget(vessel)

    def forget(self, vessel: str) -> None:
        """A vessel may give by another way from now on."""
        self.choices.pop((vessel, False), None)
        self.choices.pop((vessel, True), None)

    def top(self, number: int, inlet: int, outlet: int) -> float:
        """The highest point of the way from one opening of a group to another [m]."""
        group, onward = self.groups[number], self.way(number).to(outlet)[1]
        node = group.openings[inlet].node
        highest = group.heights[node]
        while onward[node] >= 0:
            edge = group.edges[onward[node]]
            node = edge.head if edge.tail == node else edge.tail
            highest = max(highest, group.heights[node])
        return highest

    def move(self) -> bool:
        """Make one move; say whether there was one. What gravity pipe carries goes first, the highest before lower ones."""
        sized = (name for name, vessel in self.layout.vessels.items() if vessel.area is not None)
        options = {name: option for name in sized if (option := self.best(name)) is not None}
        for pumped in (False, True):
            givers = [name for name, option in options.items() if bool(self.groups[option[0]].pumps) is pumped]
            if givers:
                giver = max(givers, key=lambda name: self.levels[name])
                self.forget(giver)
                self.give(giver, *(self.best(giver) or options[giver]))
                return True
            if self.drain(pumped):
                return True
        ends = [(vessel, *opening) for vessel, openings in self.at.items() for opening in openings]
        filled = [self.fill(*end) for end in ends if not self.gives_for_ever(*end)]
        return any(filled)

    def gives_for_ever(self, vessel: str, number: int, inlet: int) -> bool:
        """Whether a vessel of no known size still gives by an opening: what it would give to the pipe runs out of it again."""
        return self.layout.vessels[vessel].area is None and any(
            option[:2] == (number, inlet) for option in self.options(vessel, brim=False)
        )

    def give(self, giver: str, number: int, inlet: int, ending: Ending) -> None:
        """Move water from a vessel along a way, at most to the next height at which something changes."""
        outlet = self.groups[number].openings[ending.outlet]
        receiver = outlet.vessel if outlet.vessel is None else self.run_on(outlet.vessel, giver)
        level, gives = self.levels[giver], self.layout.vessels[giver]
        marks = [*self.heights_near(giver), *self.levels_near(giver, number)]
        volume = between(gives, max([ending.height, *(mark for mark in marks if mark < level - SAME)]), level)
        takes = None if receiver is None else self.layout.vessels[receiver]
        if receiver is not None and takes is not None and takes.area is not None and not self.full(receiver):
            there = self.levels[receiver]
            marks = [
                *self.heights_near(receiver),
                *self.levels_near(receiver, number),
                ending.height if receiver == outlet.vessel else self.no_nearer(receiver, ending.height),
                *self.rim(receiver),
            ]
            area, room = mean_area(gives, level, level), mean_area(takes, there, there)
            volume = min([volume, *(between(takes, there, mark) for mark in marks if mark > there + SAME)])
            if receiver == outlet.vessel and self.has_equals(giver, receiver, ending):
                volume = min(volume, room * TURN)
            if receiver == outlet.vessel and ending.height <= there + SAME:
                volume = min(volume, (level - there) / (1.0 / area + 1.0 / room))
        self.add(giver, -volume)
        self.receive(receiver, volume)
        key = (giver, number, inlet, ending.outlet)
        self.given[key] = (self.given.get(key) or 0.0) + volume
        self.stopped[key] = ending

    def has_equals(self, giver: str, receiver: str | None, ending: Ending) -> bool:
        """Whether a vessel could as well give to some other vessel, where water stands as high."""
        return any(
            abs(other.against - ending.against) < SAME and self.groups[number].openings[other.outlet].vessel != receiver
            for number, _, other in self.options(giver, brim=False)
        )

    def heights_near(self, vessel: str) -> list[float]:
        """The heights of all openings of the groups that a vessel is joined to: vessels that fall together uncover theirs in
        the order of their heights."""
        groups = [self.groups[number] for number, _ in self.at[vessel]]
        return [group.heights[opening.node] for group in groups for opening in group.openings]

    def levels_near(self, vessel: str, number: int) -> list[float]:
        """Where the water stands in the vessels that a group, or one of its like, joins to a vessel: who of them gives first goes by
        their levels, and with vessels further off it is no matter. Those that stand level take turns."""
        pumped = bool(self.groups[number].pumps)
        near = {
            name
            for other, _ in self.at[vessel]
            if bool(self.groups[other].pumps) is pumped
            for name in self.joined[other]
        }
        return [self.no_nearer(vessel, self.levels[name]) for name in near]

    def no_nearer(self, vessel: str, height: float) -> float:
        """A height that a vessel's water is to stop at: no nearer than a turn, of those that stand level."""
        away = height - self.levels[vessel]
        return self.levels[vessel] + math.copysign(TURN, away) if SAME < abs(away) < TURN else height

    def run_on(self, vessel: str, giver: str | None = None) -> str | None:
        """Where water that comes into a vessel stays: further down, if the vessel is as full as a gravity pipe lets it be."""
        passed = {giver}
        here: str | None = vessel
        while here is not None and here not in passed and self.layout.vessels[here].area is not None:
            passed.add(here)
            option = self.best(here, brim=True)
            if option is None or self.groups[option[0]].pumps:
                return here
            further = self.groups[option[0]].openings[option[2].outlet].vessel
            if further in passed:
                return here
            here = further
        return here

    def mark_unknown(self) -> None:
        """Vessels without an area that would give: how much is not known, nor where what they give to comes to rest."""
        for name, vessel in self.layout.vessels.items():
            if vessel.area is not None:
                continue
            for number, inlet, ending in self.options(name, brim=False):
                key = (name, number, inlet, ending.outlet)
                self.given[key], self.stopped[key] = None, ending
                self.unknown.add(name)
                self.taint(self.groups[number].openings[ending.outlet].vessel)

    def taint(self, vessel: str | None) -> None:
        """Water of unknown amount comes into a vessel, and from there on."""
        while vessel is not None and vessel not in self.unknown:
            self.unknown.add(vessel)
            option = self.best(vessel, brim=True)
            vessel = None if option is None else self.groups[option[0]].openings[option[2].outlet].vessel
