"""What water stands where, in vessels and in pipes, how full pipe drains as air comes, and how vessels run into empty pipe."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence

from ..layout.model import Layout
from .air_ways import air_reach, climbs, spill_heights
from .contents import between, content, moved
from .flows import Flows
from .still_pipes import Group, Piece, pipe_groups, running_levels

__all__ = ["SAME", "Stores", "Ways", "aired", "dry_share", "share_above"]

SAME = 1e-9
"""Heights nearer than this are the same [m]."""


class Ways:
    """How far air reaches in a group, `reach` [m] by node, and by which edge, `by`. What water has to stand at to get from somewhere
    to somewhere is worked out when it is first asked for."""

    def __init__(self, group: Group, sources: Mapping[int, float]) -> None:
        self.group = group
        self.reach, self.by = air_reach(group.heights, group.edges, sources)
        self.highest = max(self.reach)
        self._to: dict[int, tuple[list[float], list[int]]] = {}
        self._crests: dict[int, list[tuple[int, float]]] = {}
        self._heads: Sequence[float] = ()
        self._order: list[tuple[float, int]] = []

    def to(self, outlet: int) -> tuple[list[float], list[int]]:
        """What water has to stand at in each node to get to an opening [m], and by which edge it goes on."""
        if outlet not in self._to:
            self._to[outlet] = spill_heights(self.reach, self.group.edges, self.group.openings[outlet].node)
        return self._to[outlet]

    def lowest_first(self, heads: Sequence[float]) -> list[tuple[float, int]]:
        """What water stands against at each opening [m], of `heads`, with the opening."""
        if heads != self._heads:
            self._heads, self._order = list(heads), sorted((against, outlet) for outlet, against in enumerate(heads))
        return self._order

    def crests(self, inlet: int) -> list[tuple[int, float]]:
        """The openings at which water from an opening could come out, other than its own vessel's, each with what it has to stand at for that
        [m]: at least as high as the opening itself."""
        if inlet not in self._crests:
            start = self.group.openings[inlet]
            over = climbs(self.reach, self.group.edges, start.node)
            own = self.group.heights[start.node]
            self._crests[inlet] = [
                (outlet, max(over[opening.node], own))
                for outlet, opening in enumerate(self.group.openings)
                if opening.vessel != start.vessel and over[opening.node] < math.inf
            ]
        return self._crests[inlet]


def dry_share(ways: Ways, piece: Piece, heads: Sequence[float], *, last: bool = False) -> tuple[float, int | None]:
    """Give the share of a piece that air takes, its upper part, and the opening that its water goes to.

    Air follows water that leaves at an opening with a head below W, and takes the pipe on its way while W is at least
    M: a piece that leads down from the air to the head that the water stands against, a piece that leads up whole. Pipe that lies level with
    an open mouth runs out by it, as the air comes in over the water there.

    Parameters:
        heads: what each of its openings stands against [m].
        last: nothing else runs any more, and pipe that lies level runs out by an end that air is at, the air coming in over the water.

    Returns:
        Share [-]; the number of the opening, None where the piece has no way out for its water, and keeps it.
    """
    best: tuple[float, float, int | None] = (0.0, 0.0, None)
    flat = piece.top - piece.foot < SAME
    highest = max(ways.reach[piece.high], ways.reach[piece.low])
    for against, outlet in ways.lowest_first(heads):
        level = flat and abs(against - piece.foot) <= SAME
        if highest <= against + (-SAME if level else SAME) or best[0] == -1.0:
            break  # no air comes here by the others, or no more of it
        over, by = ways.to(outlet)
        if level and min(over[piece.high], over[piece.low]) <= piece.foot + SAME:
            return 1.0, outlet
        ends = (piece.high, piece.low), (piece.low, piece.high)
        for enters, leaves in (*ends, *((end, end) for end, _ in ends if flat and last)):
            reach, needed = ways.reach[enters], over[leaves]
            if reach <= against + SAME or reach < needed - SAME:
                continue
            if ways.by[enters] == piece.edge or by[leaves] == piece.edge:
                continue  # water does not leave by the way that the air comes
            whole = flat or enters == piece.low
            share = 1.0 if whole else share_above(piece, max(against, needed))
            found = (-share, against, outlet)
            if best[2] is None or found < best:
                best = found
    return -best[0], best[2]


def aired(group: Group, ways: Ways, heads: Sequence[float], known: Mapping[int, float]) -> dict[int, float]:
    """Give the nodes that air has come to, with their heights [m], beside those that are known.

    Parameters:
        heads: what each of its openings stands against [m].
        known: nodes that have air already.
    """
    new = {}
    for node, height in enumerate(group.heights):
        reach = ways.reach[node]
        if math.isinf(reach) or known.get(node, -math.inf) >= height:
            continue
        for against, outlet in ways.lowest_first(heads):
            if reach <= against + SAME:
                break
            over, by = ways.to(outlet)
            through = by[node] != ways.by[node] or by[node] < 0
            if reach >= over[node] - SAME and through:
                new[node] = height
                break
    return new


def share_above(piece: Piece, height: float) -> float:
    """The share of a piece that lies above a height [m]."""
    if piece.top - piece.foot < SAME:
        return 1.0 if piece.foot > height + SAME else 0.0
    return min(max((piece.top - height) / (piece.top - piece.foot), 0.0), 1.0)


SAME_VOLUME = 1e-13


class Stores:
    """The water as it stands. `levels` [m] by vessel; `before` as they were; `contents` [m³] by group and piece; `spilled` [m³]
    over rims; `lost` onto the ground; `out_of_account` into vessels without an area. `at` are each vessel's openings, as
    (group, opening), `touching` its groups, and `joined` the vessels that each group joins; `stale` are the openings of
    each group whose levels have moved since they were looked at."""

    def __init__(self, layout: Layout, flows: Flows) -> None:
        self.layout = layout
        self.groups: tuple[Group, ...] = pipe_groups(layout, flows)
        self.before = running_levels(layout, flows)
        self.levels = dict(self.before)
        self.spilled: dict[str, float] = {}
        self.lost = 0.0
        self.out_of_account = 0.0
        self.at: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for number, group in enumerate(self.groups):
            for count, opening in enumerate(group.openings):
                if opening.vessel is not None:
                    self.at[opening.vessel].append((number, count))
        self.joined = [
            frozenset(one.vessel for one in group.openings if one.vessel is not None) for group in self.groups
        ]
        self.touching = {name: frozenset(number for number, _ in self.at[name]) for name in layout.vessels}
        self.climbs: dict[tuple[int, int], list[float]] = {}
        self.airy: list[dict[int, float]] = [
            {node: group.heights[node] for node in group.airy} for group in self.groups
        ]
        self.ways: list[Ways | None] = [None] * len(self.groups)
        self.against: list[list[float]] = [[-math.inf] * len(group.openings) for group in self.groups]
        self.stale = {number: set(range(len(group.openings))) for number, group in enumerate(self.groups)}
        self.contents: list[list[float]] = []
        for number, group in enumerate(self.groups):
            self.contents.append([self.holds(number, piece) for piece in group.pieces])
        self.first_contents = [list(contents) for contents in self.contents]
        self.water_before = self.water()

    def water(self) -> float:
        """All water: in vessels with an area, in pipes, and what left them for the ground or for vessels without an area [m³]."""
        vessels = (
            content(vessel, self.levels[name])
            for name, vessel in self.layout.vessels.items()
            if vessel.area is not None
        )
        pipes = (volume for pieces in self.contents for volume in pieces)
        return math.fsum([*vessels, *pipes, *self.spilled.values(), self.lost, self.out_of_account])

    @property
    def drained_from(self) -> list[float]:
        """What ran out of each group's pipe [m³]."""
        return [
            math.fsum(first) - math.fsum(now) for first, now in zip(self.first_contents, self.contents, strict=True)
        ]

    @property
    def drained(self) -> float:
        """What ran down out of all pipes [m³]."""
        return math.fsum(self.drained_from)

    def fresh(self, number: int) -> None:
        """Look again at the openings of a group whose vessels' levels have changed."""
        for count in sorted(self.stale.pop(number, ())):
            self.stand(number, count)

    def heads(self, number: int) -> list[float]:
        """What water that comes out at each opening of a group stands against [m]."""
        self.fresh(number)
        return self.against[number]

    def stand(self, number: int, count: int) -> None:
        """Note what water that comes out at an opening stands against, the vessel's level or the opening's own height [m]; one that is
        uncovered once lets air in for good."""
        group, sources = self.groups[number], self.airy[number]
        opening = group.openings[count]
        height = group.heights[opening.node]
        level = -math.inf if opening.vessel is None else self.levels[opening.vessel]
        if height >= level - SAME and sources.get(opening.node, -math.inf) < height:
            sources[opening.node] = height
            self.changed(number)
        before, self.against[number][count] = self.against[number][count], max(height, level)
        if before != max(height, level):
            self.stirred(number, max(before, height, level))

    def changed(self, number: int) -> None:
        """The ways of air in a group are others than before."""
        self.ways[number] = None
        self.stirred(number)

    def stirred(self, number: int, upto: float = math.inf) -> None:
        """What a group's water may do is other than before, at heights `upto` something [m]."""

    def run_on(self, vessel: str, giver: str | None = None) -> str | None:
        """Where water that comes into a vessel from a giver, or from the pipes, stays."""
        return vessel

    def way(self, number: int) -> Ways:
        """The ways of air and water in a group as they are now."""
        self.fresh(number)
        ways = self.ways[number]
        if ways is None:
            ways = self.ways[number] = Ways(self.groups[number], self.airy[number])
        return ways

    def rim(self, vessel: str) -> list[float]:
        """The height of a vessel's rim, if known."""
        stated = self.layout.vessels[vessel]
        return [] if stated.rim is None else [stated.base + stated.rim]

    def full(self, vessel: str) -> bool:
        """Whether a vessel's water is at its rim."""
        return any(self.levels[vessel] >= rim - SAME for rim in self.rim(vessel))

    def add(self, vessel: str, volume: float) -> None:
        """Put water into a vessel, or with a volume below 0 take it out."""
        stated = self.layout.vessels[vessel]
        if stated.area is None:
            self.out_of_account += volume
        else:
            self.levels[vessel] = moved(stated, self.levels[vessel], volume)
            for number, count in self.at[vessel]:
                self.stale.setdefault(number, set()).add(count)

    def receive(self, vessel: str | None, volume: float) -> None:
        """Put water into a vessel, over its rim if there is no more room, or onto the ground."""
        if vessel is None:
            self.lost += volume
            return
        stated, room = self.layout.vessels[vessel], math.inf
        if stated.area is not None:
            rims = self.rim(vessel)
            room = min((max(between(stated, self.levels[vessel], rim), 0.0) for rim in rims), default=math.inf)
        if volume > room:
            self.spilled[vessel] = self.spilled.get(vessel, 0.0) + volume - room
        self.add(vessel, min(volume, room))

    def drain(self, pumped: bool) -> bool:
        """Let the pipes of pumps, or the others, drain to where the air comes, all at once; say whether anything moved."""
        numbers = [number for number, group in enumerate(self.groups) if bool(group.pumps) is pumped]
        for last in (False, True):
            comes: dict[str | None, float] = defaultdict(float)
            for number in numbers:
                for outlet, volume in self.drain_group(number, last).items():
                    comes[self.groups[number].openings[outlet].vessel] += volume
            for vessel, volume in comes.items():
                self.receive(None if vessel is None else self.run_on(vessel), volume)
            let_in = [self.let_in_air(number) for number in numbers]
            if comes or any(let_in):
                return True
        return False

    def drain_group(self, number: int, last: bool) -> dict[int, float]:
        """Let one group's pipe drain, level pipe beside air as the `last`: what runs out by each opening [m³]."""
        group, ways, heads = self.groups[number], self.way(number), self.heads(number)
        runs_out: dict[int, float] = defaultdict(float)
        for index, piece in enumerate(group.pieces):
            dry, outlet = dry_share(ways, piece, heads, last=last)
            if outlet is None:
                continue
            volume = self.contents[number][index] - piece.volume * (1.0 - dry)
            if volume > SAME_VOLUME:
                self.contents[number][index] -= volume
                runs_out[outlet] += volume
        return runs_out

    def let_in_air(self, number: int) -> bool:
        """Let air into a group as its water goes; say whether any came."""
        new = aired(self.groups[number], self.way(number), self.heads(number), self.airy[number])
        if new:
            self.airy[number].update(new)
            self.changed(number)
        return bool(new)

    def fill(self, vessel: str, number: int, count: int) -> bool:
        """Let a vessel's water run into empty pipe below its level; say whether any did."""
        group, stated = self.groups[number], self.layout.vessels[vessel]
        if group.heights[group.openings[count].node] >= self.levels[vessel] - SAME:
            return False
        if (number, count) not in self.climbs:
            self.climbs[number, count] = climbs(group.heights, group.edges, group.openings[count].node)
        over = self.climbs[number, count]
        moved = False
        for index, piece in enumerate(group.pieces):
            edge, level = group.edges[piece.edge], self.levels[vessel]
            climb = over[edge.tail] if edge.one_way else min(over[edge.tail], over[edge.head])
            if climb >= level - SAME:
                continue
            volume = piece.volume * (1.0 - share_above(piece, level)) - self.contents[number][index]
            volume = volume if stated.area is None else min(volume, between(stated, climb, level))
            if volume > SAME_VOLUME:
                moved = True
                self.contents[number][index] += volume
                self.add(vessel, -volume)
        return moved

    def holds(self, number: int, piece: Piece) -> float:
        """What a piece holds while the pumps run [m³]."""
        if math.isfinite(piece.stands):
            return piece.volume * (1.0 - share_above(piece, piece.stands))
        if piece.share >= 1.0:
            return piece.volume
        dry, outlet = dry_share(self.way(number), piece, self.heads(number))
        return piece.volume if outlet is None else piece.volume * (1.0 - dry * (1.0 - piece.share))
