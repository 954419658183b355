"""Water left to itself: vessels give to lower ones through the pipes, and pipes drain, until nothing moves any more.

The rules stand in `power_cut`. Volumes are moved from one store to another and never set, so that water is conserved to
rounding. Between two moves no opening is uncovered or drowned: each goes at most to the next height at which one is.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from ..errors import SolveError
from ..layout.model import Layout
from .draining import SAME, Ways, aired, dry_share, share_above
from .flows import Flows
from .still_pipes import Group, Opening, Piece, pipe_groups

__all__ = ["Ending", "Rest", "come_to_rest"]

SAME_VOLUME = 1e-13
MOST_MOVES = 20000
MOST_ROUNDS = 200

Why = Literal["its end draws air", "the levels are the same", "air breaks the siphon"]


@dataclass(frozen=True, slots=True)
class Ending:
    """Where a vessel stops giving: out at opening `outlet` of the group, at `height` [m], and `why`. `against` is what
    already stands at the outlet [m]."""

    outlet: int
    height: float
    against: float
    why: Why


def come_to_rest(layout: Layout, flows: Flows) -> Rest:
    """Let the water of a layout come to rest with all pumps stopped.

    Parameters:
        layout: read and walked.
        flows: its steady flows, with the levels that its drains need.

    Raises:
        SolveError: when it never comes to rest.
    """
    rest = Rest(layout, flows)
    for _ in range(MOST_ROUNDS):
        rest.settle()
        if not rest.drain():
            rest.mark_unknown()
            return rest
    raise SolveError("after a power cut the water never comes to rest: vessels and pipes keep giving to each other")


class Rest:
    """The water as it stands. `levels` [m] by vessel; `before` as they were; `contents` [m³] by group and piece;
    `given` [m³] by (giver, group, opening in, opening out), None where it is not known, and what `stopped` it; `spilled` [m³] over rims; `lost`
    onto the ground; `out_of_account` into vessels without an area; `unknown` are vessels whose level cannot be known."""

    def __init__(self, layout: Layout, flows: Flows) -> None:
        self.layout = layout
        self.groups: tuple[Group, ...] = pipe_groups(layout, flows)
        self.before: dict[str, float] = {}
        for name, vessel in layout.vessels.items():
            found = flows.vessels[name].level
            level = vessel.level if found is None else found
            # One that overtops in normal running stands at its rim.
            self.before[name] = level if vessel.rim is None else min(level, vessel.base + vessel.rim)
        self.levels = dict(self.before)
        self.given: dict[tuple[str, int, int, int], float | None] = {}
        self.stopped: dict[tuple[str, int, int, int], Ending] = {}
        self.spilled: dict[str, float] = {}
        self.lost = 0.0
        self.out_of_account = 0.0
        self.unknown: set[str] = set()
        self.at: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for number, group in enumerate(self.groups):
            for count, opening in enumerate(group.openings):
                if opening.vessel is not None:
                    self.at[opening.vessel].append((number, count))
        self.airy: list[dict[int, float]] = [
            dict(enumerate(group.heights)) if group.vented else {} for group in self.groups
        ]
        self.ways: list[Ways | None] = [None] * len(self.groups)
        self.contents: list[list[float]] = []
        for number, group in enumerate(self.groups):
            self.contents.append([self.holds(number, piece) for piece in group.pieces])
        self.first_contents = [list(contents) for contents in self.contents]
        self.water_before = self.water()

    # ------------------------------------------------------------------ how much there is

    def water(self) -> float:
        """All water: in vessels with an area, in pipes, and what left them for the ground or for vessels without an area [m³]."""
        vessels = (
            vessel.area * (self.levels[name] - vessel.base)
            for name, vessel in self.layout.vessels.items()
            if vessel.area is not None
        )
        pipes = (volume for pieces in self.contents for volume in pieces)
        return math.fsum([*vessels, *pipes, *self.spilled.values(), self.lost, self.out_of_account])

    @property
    def drained_from(self) -> list[float]:
        """What ran out of each group's pipe [m³]."""
        return [
            math.fsum(first) - math.fsum(now)
            for first, now in zip(self.first_contents, self.contents, strict=True)
        ]  # fmt: skip

    @property
    def drained(self) -> float:
        """What ran down out of all pipes [m³]."""
        return math.fsum(self.drained_from)

    def joins(self, number: int) -> set[str]:
        """The vessels that a group joins."""
        return {opening.vessel for opening in self.groups[number].openings if opening.vessel is not None}

    # ------------------------------------------------------------------ air, and ways for the water

    def head(self, number: int, opening: Opening) -> float:
        """What water that comes out at an opening stands against: the vessel's level, or the opening's own height [m]."""
        height = self.groups[number].heights[opening.node]
        return height if opening.vessel is None else max(height, self.levels[opening.vessel])

    def heads(self, number: int) -> list[float]:
        """The heads that a group's openings stand against [m]."""
        return [self.head(number, opening) for opening in self.groups[number].openings]

    def way(self, number: int) -> Ways:
        """The ways of air and water in a group as they are now; an opening that was once uncovered lets air in for good."""
        group, sources = self.groups[number], self.airy[number]
        changed = False
        for opening in group.openings:
            height = group.heights[opening.node]
            dry = opening.vessel is None or height >= self.levels[opening.vessel] - SAME
            if dry and sources.get(opening.node, -math.inf) < height:
                sources[opening.node] = height
                changed = True
        ways = self.ways[number]
        if ways is None or changed:
            ways = self.ways[number] = Ways(group, sources)
        return ways

    def endings(self, vessel: str, number: int, inlet: int) -> list[Ending]:
        """Where a vessel would stop giving by an opening, for each opening that it could come out at."""
        group, ways = self.groups[number], self.way(number)
        own = group.heights[group.openings[inlet].node]
        out = []
        for outlet, opening in enumerate(group.openings):
            if opening.vessel == vessel:
                continue
            over, against = ways.spills[outlet][0][group.openings[inlet].node], self.head(number, opening)
            if math.isinf(over) and over > 0.0:
                continue
            height = max(over, own, against)
            why: Why = "air breaks the siphon"
            if height <= own + SAME:
                why = "its end draws air"
            elif height <= against + SAME and opening.vessel is not None and against > group.heights[opening.node]:
                why = "the levels are the same"
            out.append(Ending(outlet, height, against, why))
        return out

    def options(self, vessel: str, *, brim: bool) -> Iterator[tuple[int, int, Ending]]:
        """The ways by which a vessel gives now, or with `brim` would if it got any more, as (group, inlet, ending)."""
        for number, inlet in self.at[vessel]:
            group = self.groups[number]
            if group.heights[group.openings[inlet].node] > self.levels[vessel] + SAME:
                continue
            for ending in self.endings(vessel, number, inlet):
                above = self.levels[vessel] - ending.height
                if above > SAME or (brim and above >= -SAME and ending.against < ending.height - SAME):
                    yield number, inlet, ending

    def best(self, vessel: str, *, brim: bool = False) -> tuple[int, int, Ending] | None:
        """The way that a vessel's water takes: gravity pipe before pumped pipe, then the lowest outlet."""
        return min(
            self.options(vessel, brim=brim),
            key=lambda option: (bool(self.groups[option[0]].pumps), option[2].against, option[2].height),
            default=None,
        )  # fmt: skip

    # ------------------------------------------------------------------ vessels give

    def settle(self) -> None:
        """Let vessels give until none can."""
        areas = {name: vessel.area for name, vessel in self.layout.vessels.items() if vessel.area is not None}
        for _ in range(MOST_MOVES):
            options = {name: option for name in areas if (option := self.best(name)) is not None}
            if not options:
                return
            # What drains down by itself does so first; the highest before lower ones.
            falling = [name for name, option in options.items() if not self.groups[option[0]].pumps]
            giver = max(falling or options, key=lambda name: self.levels[name])
            self.give(giver, areas[giver], *options[giver])
        raise SolveError("after a power cut the water never comes to rest: vessels keep giving to each other")

    def give(self, giver: str, area: float, number: int, inlet: int, ending: Ending) -> None:
        """Move water from a vessel along a way, at most to the next height at which something changes."""
        outlet = self.groups[number].openings[ending.outlet]
        receiver = outlet.vessel if outlet.vessel is None else self.run_on(outlet.vessel, giver)
        level = self.levels[giver]
        marks = [height for height in (*self.heights_near(giver), *self.levels.values()) if height < level - SAME]
        volume = area * (level - max([ending.height, *marks]))
        room = None if receiver is None else self.layout.vessels[receiver].area
        if receiver is not None and room is not None and not self.full(receiver):
            there = self.levels[receiver]
            marks = [*self.heights_in(receiver), ending.height, *self.rim(receiver)]
            volume = min([volume, *(room * (mark - there) for mark in marks if mark > there + SAME)])
            if receiver == outlet.vessel and ending.height <= there + SAME:
                volume = min(volume, (level - there) / (1.0 / area + 1.0 / room))
        self.add(giver, -volume)
        self.receive(receiver, volume)
        key = (giver, number, inlet, ending.outlet)
        self.given[key] = (self.given.get(key) or 0.0) + volume
        self.stopped[key] = ending

    def heights_near(self, vessel: str) -> list[float]:
        """The heights of all openings of the groups that a vessel is joined to: vessels that fall together uncover theirs in
        the order of their heights."""
        groups = [self.groups[number] for number, _ in self.at[vessel]]
        return [group.heights[opening.node] for group in groups for opening in group.openings]

    def heights_in(self, vessel: str) -> list[float]:
        """The heights of a vessel's openings."""
        return [self.groups[n].heights[self.groups[n].openings[count].node] for n, count in self.at[vessel]]

    def run_on(self, vessel: str, giver: str) -> str | None:
        """Where water that comes into a vessel stays: further down, if the vessel is as full as a way out lets it be."""
        passed = {giver}
        here: str | None = vessel
        while here is not None and here not in passed and self.layout.vessels[here].area is not None:
            passed.add(here)
            option = self.best(here, brim=True)
            if option is None:
                return here
            further = self.groups[option[0]].openings[option[2].outlet].vessel
            if further in passed:
                return here
            here = further
        return here

    def rim(self, vessel: str) -> list[float]:
        """The height of a vessel's rim, if known."""
        stated = self.layout.vessels[vessel]
        return [] if stated.rim is None else [stated.base + stated.rim]

    def full(self, vessel: str) -> bool:
        """Whether a vessel's water is at its rim."""
        return any(self.levels[vessel] >= rim - SAME for rim in self.rim(vessel))

    def add(self, vessel: str, volume: float) -> None:
        """Put water into a vessel, or with a volume below 0 take it out."""
        area = self.layout.vessels[vessel].area
        if area is None:
            self.out_of_account += volume
        else:
            self.levels[vessel] += volume / area

    def receive(self, vessel: str | None, volume: float) -> None:
        """Put water into a vessel, over its rim if there is no more room, or onto the ground."""
        if vessel is None:
            self.lost += volume
            return
        area = self.layout.vessels[vessel].area
        room = math.inf
        if area is not None:
            room = min((max(area * (rim - self.levels[vessel]), 0.0) for rim in self.rim(vessel)), default=math.inf)
        if volume > room:
            self.spilled[vessel] = self.spilled.get(vessel, 0.0) + volume - room
        self.add(vessel, min(volume, room))

    # ------------------------------------------------------------------ pipes drain

    def drain(self) -> bool:
        """Let the pipes drain to where the air comes; say whether anything moved."""
        moved = False
        for number, group in enumerate(self.groups):
            ways = self.way(number)
            for index, piece in enumerate(group.pieces):
                dry, outlet, level = dry_share(group, ways, piece, self.heads(number))
                if outlet is None:
                    continue
                volume = self.contents[number][index] - piece.volume * (1.0 - dry)
                if volume > SAME_VOLUME or (level and volume < -SAME_VOLUME):
                    moved = True
                    self.contents[number][index] -= volume
                    self.receive(group.openings[outlet].vessel, volume)
            new = aired(group, ways, self.heads(number), self.airy[number])
            if new:
                moved = True
                self.airy[number].update(new)
                self.ways[number] = None
        return moved

    def holds(self, number: int, piece: Piece) -> float:
        """What a piece holds while the pumps run [m³]."""
        group = self.groups[number]
        if math.isfinite(piece.stands):
            return piece.volume * (1.0 - share_above(group, piece, piece.stands))
        if not group.vented:
            return piece.volume
        dry, outlet, _ = dry_share(group, self.way(number), piece, self.heads(number))
        return piece.volume if outlet is None else piece.volume * (1.0 - dry * (1.0 - piece.share))

    # ------------------------------------------------------------------ what cannot be known

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
