"""Air and water in still pipe as ways through a graph: how far air comes, what water has to climb.

Nodes are the ends of the pipework's parts, with their heights; a check valve is a way that leads along the walk only.
"""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

__all__ = ["Edge", "air_reach", "climbs", "spill_heights", "turned"]

NOWHERE = -math.inf


@dataclass(frozen=True, slots=True)
class Edge:
    """A way between two nodes; with `one_way` only from `tail` to `head`."""

    tail: int
    head: int
    one_way: bool = False


def air_reach(
    heights: Sequence[float], edges: Sequence[Edge], sources: Mapping[int, float]
) -> tuple[list[float], list[int]]:
    """Find, for each node of full pipe, up to what height of water air comes to it from some opening.

    W(n) = max over ways from an opening to n of the lowest point on the way, n and the opening included: as long as
    the water in the pipe stands for more than W(n), it closes the way of the air to n.

    Parameters:
        heights: (n,) [m].
        edges: the ways between nodes.
        sources: nodes that are open to the air, each with its height [m].

    Returns:
        W (n,) [m], −∞ where no air comes, and (n,) the edge by which it comes, −1 at a source or where none comes.

    An inverted U, open at 0.5 m on one side: air goes over its top once the water is down to 0.5 m.

    >>> air_reach([0.5, 1.2, 0.0], [Edge(0, 1), Edge(1, 2)], {0: 0.5})[0]
    [0.5, 0.5, 0.0]

    Reference: the widest way through a graph (Pollack 1960, from memory).
    """
    reach = [NOWHERE] * len(heights)
    by = [-1] * len(heights)
    onward: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for number, edge in enumerate(edges):
        onward[edge.tail].append((edge.head, number))
        if not edge.one_way:
            onward[edge.head].append((edge.tail, number))
    queue = []
    for node, height in sources.items():
        reach[node] = height
        queue.append((-height, node))
    heapq.heapify(queue)
    while queue:
        value, node = heapq.heappop(queue)
        if -value < reach[node]:
            continue
        for other, number in onward[node]:
            got = min(-value, heights[other])
            if got > reach[other]:
                reach[other], by[other] = got, number
                heapq.heappush(queue, (-got, other))
    return reach, by


def spill_heights(reach: Sequence[float], edges: Sequence[Edge], target: int) -> tuple[list[float], list[int]]:
    """Find, for each node, how high water has to stand there to run on to the target.

    M(n) = min over ways from n to the target of the largest W on the way: where air is in the pipe water has to run
    over, and where none is it goes as a siphon, however high the pipe.

    Parameters:
        reach: W (n,) [m], from `air_reach`.
        edges: the ways between nodes.
        target: a node.

    Returns:
        M (n,) [m], ∞ where no way leads there, and (n,) the edge by which the way goes on, −1 at the target.

    >>> spill_heights([0.5, 0.5, 0.0], [Edge(0, 1), Edge(1, 2)], 2)[0]
    [0.5, 0.5, 0.0]
    """
    # The least of largest is the widest way of what is turned upside down.
    deep, by = air_reach([-height for height in reach], turned(edges), {target: -reach[target]})
    return [-height for height in deep], by


def turned(edges: Sequence[Edge]) -> list[Edge]:
    """The same ways from their ends."""
    return [Edge(edge.head, edge.tail, edge.one_way) for edge in edges]


def climbs(heights: Sequence[float], edges: Sequence[Edge], source: int) -> list[float]:
    """Find, for each node, how high water has to stand at the source to run there over empty pipe.

    min over ways from the source to the node of the highest point on the way.

    Parameters:
        heights: (n,) [m].
        edges: the ways between nodes.
        source: a node.

    Returns:
        (n,) [m], ∞ where no way leads there.

    >>> climbs([0.5, 1.2, 0.0], [Edge(0, 1), Edge(1, 2)], 0)
    [0.5, 1.2, 1.2]
    """
    return spill_heights(heights, turned(edges), source)[0]
