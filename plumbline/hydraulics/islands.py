"""Which heads can be found: the parts of a network that no open link joins to a fixed head."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import SolveError
from .network import BoolArray, IntArray, Network

__all__ = ["Islands", "components", "draws_can_be_met", "find_islands", "hanging", "has_loops", "reject_lossless_loops"]


@dataclass(frozen=True)
class Islands:
    """`floating` (n,) True for nodes that no open link joins to a fixed head; `unknown` (n,) True where a head is to be
    found: all nodes without a fixed head, but for one pinned node in each island."""

    floating: BoolArray
    unknown: BoolArray


def components(nodes: int, one_end: IntArray, other_end: IntArray) -> IntArray:
    """Label each node with the lowest number among the nodes that it is joined to.

    Parameters:
        nodes: how many.
        one_end, other_end: (m,) the joins.

    Returns:
        (nodes,) labels.

    >>> components(5, np.array([3, 1]), np.array([4, 3])).tolist()
    [0, 1, 2, 1, 1]
    """
    label = np.arange(nodes)
    while True:
        a, b = label[one_end], label[other_end]
        apart = a != b
        if not apart.any():
            return label
        a, b = a[apart], b[apart]
        np.minimum.at(label, np.maximum(a, b), np.minimum(a, b))
        while True:
            shorter = label[label]
            if np.array_equal(shorter, label):
                break
            label = shorter


def hanging(network: Network, open_links: BoolArray) -> BoolArray:
    """Find the links that lead only to what is drawn off: their flow is given, and any head that brings it there will do.

    Parameters:
        open_links: (m,) True where water may pass.

    Returns:
        (m,) True for each link with a draw beyond it, but no level that is known, no water put in, and no ring.
    """
    left, draw, n = open_links.copy(), network.draw.copy(), len(network.draw)
    found = np.zeros(len(left), dtype=bool)
    if not np.any((draw > 0.0) & ~network.known):
        return found
    while True:
        ways = np.bincount(network.tail[left], minlength=n) + np.bincount(network.head[left], minlength=n)
        last = ~network.known & (ways == 1) & (draw >= 0.0)
        links = np.flatnonzero(left & (last[network.tail] ^ last[network.head]))
        if not len(links):
            return found
        tail, head = network.tail[links], network.head[links]
        beyond = draw[np.where(last[tail], tail, head)]
        np.add.at(draw, np.where(last[tail], head, tail), beyond)
        left[links], found[links] = False, beyond > 0.0


def has_loops(network: Network, open_links: BoolArray) -> bool:
    """Whether water has two ways anywhere, fixed heads counting as one place. Without loops the water balance alone sets all
    flows, whatever the laws."""
    n = len(network.fixed_head)
    place = np.where(network.known, n, np.arange(n))
    tail, head = place[network.tail[open_links]], place[network.head[open_links]]
    label = components(n + 1, tail, head)
    there = np.unique(np.append(place, n))
    return len(tail) > len(there) - len(np.unique(label[there]))


def find_islands(network: Network, open_links: BoolArray) -> Islands:
    """Find the islands and pin one head in each, so that their flows can still be found.

    Parameters:
        open_links: (m,) True where water may pass.

    Raises:
        SolveError: if an island's draws do not add up to nothing.
    """
    label = components(len(network.fixed_head), network.tail[open_links], network.head[open_links])
    floating = _without(label, network.known)
    _check_draws(network, label, floating)
    pinned = floating & (label == np.arange(len(label)))
    return Islands(floating, ~np.isfinite(network.fixed_head) & ~pinned)


def draws_can_be_met(network: Network, open_links: BoolArray) -> bool:
    """Tell whether any flows at all balance every node, with one-way links passing water forwards only.

    A linear program without cost, asked only when no solution was found, to tell the user why.

    Parameters:
        open_links: (m,) True where water may pass.
    """
    from scipy.optimize import linprog
    from scipy.sparse import csr_array

    links = np.flatnonzero(open_links)
    rows = np.concatenate([network.head[links], network.tail[links]])
    columns = np.tile(np.arange(len(links)), 2)
    signs = np.repeat([1.0, -1.0], len(links))
    balance = csr_array((signs, (rows, columns)), shape=(len(network.draw), len(links)))
    free = np.flatnonzero(~network.known)
    scale = float(np.max(np.abs(network.draw[free]), initial=0.0)) or 1.0
    bounds = [(0.0 if one_way else None, None) for one_way in network.valves[links]]
    cost = np.zeros(len(links))
    found = linprog(cost, A_eq=balance[free], b_eq=network.draw[free] / scale, bounds=bounds)  # type: ignore[call-overload]
    return bool(found.status != 2)


def reject_lossless_loops(network: Network, open_links: BoolArray, lossless: BoolArray) -> None:
    """Refuse links without any loss that form a loop, or that join two fixed heads: their flows have no single value.

    Parameters:
        open_links: (m,) True where water may pass.
        lossless: (m,) True where a link loses nothing at any flow.

    Raises:
        SolveError
    """
    links = np.flatnonzero(open_links & lossless)
    if not len(links):
        return
    # All fixed heads count as one node: they are joined through the ground.
    fixed = network.known
    ground = np.where(fixed, np.argmax(fixed), np.arange(len(fixed)))
    parent: dict[int, int] = {}

    def root(node: int) -> int:
        while parent.get(node, node) != node:
            parent[node] = parent.get(parent[node], parent[node])
            node = parent[node]
        return node

    for link in links:
        a, b = root(int(ground[network.tail[link]])), root(int(ground[network.head[link]]))
        if a == b:
            raise SolveError(
                f"link {link} closes a loop of links that lose no head, so the flow in it has no single value; "
                "give one of them a length or a loss",
                worst=f"link {link}",
            )
        parent[a] = b


def _without(label: IntArray, known: BoolArray) -> BoolArray:
    """True for the nodes whose component holds no known level."""
    tied = np.zeros(len(label), dtype=bool)
    tied[label[known]] = True
    return ~tied[label]


def _check_draws(network: Network, label: IntArray, floating: BoolArray) -> None:
    """Every island's draws must add up to nothing."""
    n = len(label)
    draw = np.where(floating, network.draw, 0.0)
    total = np.bincount(label, weights=draw, minlength=n)
    size = np.bincount(label, weights=np.abs(draw), minlength=n)
    unmet = np.flatnonzero(np.abs(total) > 1e-9 * size)
    if len(unmet):
        inside = np.flatnonzero(label == unmet[0])
        node = int(inside[np.argmax(np.abs(draw[inside]))])
        raise SolveError(
            f"the draw of {draw[node] * 6e4:.6g} L/min at node {node} cannot be met: "
            "no open path joins it to water with a known level",
            worst=f"node {node}",
        )
