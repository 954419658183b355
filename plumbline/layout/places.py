"""Where everything stands: points that lines share, heights that they are given, and whether the places agree."""

from __future__ import annotations

import math
from collections import defaultdict, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

from ..units import Units, show
from .faults import Faults
from .model import Mark, Vector, Vessel
from .vectors import add, direction_words, minus, negative, size

__all__ = ["Anchor", "Finder", "Places", "Spot", "Tie"]

Spot = tuple[str, str]
"""A point that lines share or begin at: ("line", name) for a line's start, ("tee", id), ("pump", name)."""


@dataclass(frozen=True, slots=True)
class Tie:
    """`to` lies at `offset` from `fro`; `mark` and `words` say where the file claims it, `other` where `to` is said."""

    fro: Spot
    to: Spot
    offset: Vector
    mark: Mark
    words: str
    other: Mark


@dataclass(frozen=True, slots=True)
class Anchor:
    """What the file says of the point at `offset` from `spot`: its height [m], NaN where the walk alone says it, and
    the vessel that it is in."""

    spot: Spot
    offset: Vector
    height: float
    mark: Mark
    words: str
    vessel: str | None = None


@dataclass(frozen=True, slots=True)
class Places:
    """The place of every spot. `sure` are the spots whose height is given and not contradicted."""

    of: Mapping[Spot, Vector]
    sure: frozenset[Spot]


@dataclass
class Finder:
    """Places every spot: walks the ties, then sets each connected group by its anchors. What disagrees by more than the `tolerance` [m] is a
    fault."""

    starts: Sequence[Spot]
    ties: Sequence[Tie]
    said: Sequence[Anchor]
    vessels: Mapping[str, Vessel]
    tolerance: float
    units: Units
    faults: Faults

    def __post_init__(self) -> None:
        """Find what hangs together."""
        self.groups = _groups(self.starts, self.ties)
        self.group_of = {spot: index for index, group in enumerate(self.groups) for spot in group}
        self.anchors: dict[int, list[Anchor]] = defaultdict(list)
        for anchor in self.said:
            self.anchors[self.group_of[anchor.spot]].append(anchor)

    def whole(self) -> Places:
        """The places."""
        torn = {self.group_of[tie.fro] for tie in self.ties if not self.closes(tie)}
        heights: dict[int, float] = {}
        sure: set[Spot] = set()
        for index, group in enumerate(self.groups):
            height, agreed = self.height(index, torn=index in torn)
            heights[index] = height
            if agreed and index not in torn:
                sure.update(group)
        return Places(self.plan(heights), frozenset(sure))

    def closes(self, tie: Tie) -> bool:
        """Whether a tie leads to where its group has the spot; a miss is a fault."""
        group = self.groups[self.group_of[tie.fro]]
        miss = minus(add(group[tie.fro], tie.offset), group[tie.to])
        if size(miss) <= self.tolerance:
            return True
        what = f"{tie.to[0]} '{tie.to[1]}'"
        found = f"{tie.words} {what}, but misses it by {self.shown(size(miss))}"
        found = f"{found}: the walk comes out too far {direction_words(miss)}"
        self.faults.add(tie.mark, found, f"walks that meet within {self.close}", also=[tie.other])
        return False

    def height(self, index: int, *, torn: bool) -> tuple[float, bool]:
        """The height of a group, from its first anchor, and whether there is one and the others agree with it."""
        group = self.groups[index]
        firm = [anchor for anchor in self.anchors[index] if not math.isnan(anchor.height)]
        if not firm:
            name = next((spot[1] for spot in group if spot[0] == "line"), "")
            self.faults.left_out(
                f"line '{name}'", "its walk begins at the site's datum", "neither of its ends has a height"
            )
            return 0.0, False
        first = firm[0]
        shift = first.height - add(group[first.spot], first.offset)[2]
        agreed = True
        for anchor in firm[1:]:
            miss = add(group[anchor.spot], anchor.offset)[2] + shift - anchor.height
            if abs(miss) > self.tolerance and not torn:
                agreed = False
                way = "high" if miss > 0 else "low"
                found = f"{anchor.words}, but the walk comes out {self.shown(abs(miss))} too {way}"
                heights = f"heights that agree within {self.close}: {first.words}"
                hint = "to let one run take up what is left write down: rest on it"
                expected = f"{heights}, and the walk leads from there to here"
                self.faults.add(anchor.mark, found, expected, hint=hint, also=[first.mark])
        return shift, agreed

    def plan(self, heights: Mapping[int, float]) -> dict[Spot, Vector]:
        """Every spot's place: each group shifted to the first vessel whose place in plan is known, by the file or by
        a group placed before; the first of those that nothing places begins at the site's zero."""
        known = {vessel.name: vessel.at for vessel in self.vessels.values() if vessel.at is not None}
        places: dict[Spot, Vector] = {}
        groups_at: dict[str | None, list[int]] = defaultdict(list)
        for index in range(len(self.groups)):
            for anchor in self.anchors[index]:
                groups_at[anchor.vessel].append(index)
        held = [index for name in known for index in groups_at[name]]
        heapify(held)
        placed: set[int] = set()
        first = 0
        while len(placed) < len(self.groups):
            while first in placed:
                first += 1
            index = heappop(held) if held else first
            if index in placed:
                continue
            placed.add(index)
            group = self.groups[index]
            shift = (0.0, 0.0, heights[index])
            anchors = [(anchor, anchor.vessel) for anchor in self.anchors[index] if anchor.vessel is not None]
            for anchor, vessel in anchors:
                if vessel in known:
                    point, at = add(group[anchor.spot], anchor.offset), known[vessel]
                    shift = (at[0] - point[0], at[1] - point[1], heights[index])
                    break
            places.update({spot: add(point, shift) for spot, point in group.items()})
            for anchor, vessel in anchors:
                if vessel not in known:
                    point = add(places[anchor.spot], anchor.offset)
                    known[vessel] = (point[0], point[1])
                    for other in groups_at[vessel]:
                        heappush(held, other)
        return places

    def shown(self, length: float) -> str:
        """A length in the file's units."""
        return show(length, "length", self.units)

    @property
    def close(self) -> str:
        """How near walks have to meet."""
        return show(self.tolerance, "size", self.units)


def _groups(starts: Sequence[Spot], ties: Sequence[Tie]) -> list[dict[Spot, Vector]]:
    """The spots that ties connect, each group with its places from its own first spot."""
    neighbours: dict[Spot, list[tuple[Spot, Vector]]] = defaultdict(list)
    for tie in ties:
        neighbours[tie.fro].append((tie.to, tie.offset))
        neighbours[tie.to].append((tie.fro, negative(tie.offset)))
    groups: list[dict[Spot, Vector]] = []
    seen: set[Spot] = set()
    for start in [*starts, *neighbours]:
        if start in seen:
            continue
        group: dict[Spot, Vector] = {start: (0.0, 0.0, 0.0)}
        queue = deque([start])
        while queue:
            spot = queue.popleft()
            for other, offset in neighbours[spot]:
                if other not in group:
                    group[other] = add(group[spot], offset)
                    queue.append(other)
        seen.update(group)
        groups.append(group)
    return groups
