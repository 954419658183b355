"""How pipe that stands full drains: where the air comes, and which part of each piece it takes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from .air_ways import air_reach, climbs, spill_heights
from .still_pipes import Group, Piece

__all__ = ["SAME", "Ways", "aired", "dry_share", "share_above"]

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
        self._from: dict[int, list[float]] = {}

    def to(self, outlet: int) -> tuple[list[float], list[int]]:
        """What water has to stand at in each node to get to an opening [m], and by which edge it goes on."""
        if outlet not in self._to:
            self._to[outlet] = spill_heights(self.reach, self.group.edges, self.group.openings[outlet].node)
        return self._to[outlet]

    def over(self, inlet: int, outlet: int) -> float:
        """What water has to stand at to get from one opening to another [m]."""
        if inlet not in self._from:
            self._from[inlet] = climbs(self.reach, self.group.edges, self.group.openings[inlet].node)
        return self._from[inlet][self.group.openings[outlet].node]


def dry_share(group: Group, ways: Ways, piece: Piece, heads: Sequence[float]) -> tuple[float, int | None]:
    """Give the share of a piece that air takes, its upper part, and the opening that its water goes to.

    Air follows water that leaves at an opening with a head below W, and takes the pipe on its way while W is at least
    M: a piece that leads down from the air to the head that the water stands against, a piece that leads up whole.

    Parameters:
        heads: what each of its openings stands against [m].

    Returns:
        Share [-]; the number of the opening, None where the piece has no way out for its water, and keeps it.
    """
    best: tuple[float, float, int | None] = (0.0, 0.0, None)
    flat = group.heights[piece.high] - group.heights[piece.low] < SAME
    for outlet, against in enumerate(heads):
        if ways.highest <= against + SAME:
            continue
        over, by = ways.to(outlet)
        for enters, leaves in ((piece.high, piece.low), (piece.low, piece.high)):
            reach, needed = ways.reach[enters], over[leaves]
            if reach <= against + SAME or reach < needed - SAME:
                continue
            if ways.by[enters] == piece.edge or by[leaves] == piece.edge:
                continue  # water does not leave by the way that the air comes
            whole = flat or enters == piece.low
            share = 1.0 if whole else share_above(group, piece, max(against, needed))
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
    lower = [(outlet, against) for outlet, against in enumerate(heads) if ways.highest > against + SAME]
    for node, height in enumerate(group.heights):
        reach = ways.reach[node]
        if math.isinf(reach) or known.get(node, -math.inf) >= height:
            continue
        for outlet, against in lower:
            over, by = ways.to(outlet)
            through = by[node] != ways.by[node] or by[node] < 0
            if reach > against + SAME and reach >= over[node] - SAME and through:
                new[node] = height
                break
    return new


def share_above(group: Group, piece: Piece, height: float) -> float:
    """The share of a piece that lies above a height [m]."""
    low, high = group.heights[piece.low], group.heights[piece.high]
    if high - low < SAME:
        return 1.0 if low > height + SAME else 0.0
    return min(max((high - height) / (high - low), 0.0), 1.0)
