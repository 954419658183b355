"""Pieces of a layout that nothing joins, drawn apart."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable
from typing import Generic, TypeVar

from ...layout.model import Layout
from .skeleton import Corner, Skeleton

__all__ = ["Same", "set_apart"]

Thing = TypeVar("Thing", bound=Hashable)


class Same(Generic[Thing]):
    """Things that belong together."""

    def __init__(self) -> None:
        self.root: dict[Thing, Thing] = {}

    def of(self, thing: Thing) -> Thing:
        """The one that stands for all that a thing belongs with."""
        while self.root.get(thing, thing) != thing:
            thing = self.root[thing]
        return thing

    def join(self, one: Thing, other: Thing) -> None:
        """Put two together."""
        one, other = self.of(one), self.of(other)
        if one != other:
            self.root[other] = one


def set_apart(
    layout: Layout, bones: Skeleton, plan: list[tuple[dict[Corner, float], dict[str, float]]], sides: dict[str, float]
) -> None:
    """Pieces that nothing joins are drawn apart, in rows from the west."""
    same: Same[Hashable] = Same()
    for run in bones.runs:
        same.join(run.tail, run.head)
    for tie in bones.ties:
        same.join(*tie)
    for grip in bones.grips:
        same.join(grip.corner, grip.vessel)
    placed = [vessel.name for vessel in layout.vessels.values() if vessel.at is not None]
    for name in placed[1:]:
        same.join(placed[0], name)
    pieces: dict[Hashable, list[Corner | str]] = defaultdict(list)
    everything: list[Corner | str] = [*bones.points, *sides]
    for thing in everything:
        pieces[same.of(thing)].append(thing)
    if len(pieces) < 2:
        return
    extents = []
    for things in pieces.values():
        spans = []
        for corners, vessels in plan:
            places = [
                (vessels[one], sides[one] + 0.2) if isinstance(one, str) else (corners[one], 0.0) for one in things
            ]
            spans.append((min(at - half for at, half in places), max(at + half for at, half in places)))
        extents.append(spans)
    columns = math.ceil(math.sqrt(len(pieces)))
    north = 0.0
    for row in range(0, len(pieces), columns):
        east = 0.0
        group = list(zip(list(pieces.values())[row : row + columns], extents[row : row + columns], strict=True))
        for things, spans in group:
            for axis, start in ((0, east), (1, north)):
                corners, vessels = plan[axis]
                for one in things:
                    if isinstance(one, str):
                        vessels[one] += start - spans[axis][0]
                    else:
                        corners[one] += start - spans[axis][0]
            east += spans[0][1] - spans[0][0] + 0.8
        north += max(spans[1][1] - spans[1][0] for _, spans in group) + 0.8
