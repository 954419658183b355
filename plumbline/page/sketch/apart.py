"""Pieces of a layout that nothing joins, drawn apart."""

from __future__ import annotations

import math
from itertools import pairwise

import networkx as nx

from ...layout.model import Layout
from .skeleton import Corner, Skeleton

__all__ = ["Plan", "set_apart"]

Plan = list[dict[Corner | str, float]]
"""Where corners and the middles of vessels are in plan: along east, and along north."""


def set_apart(layout: Layout, bones: Skeleton, plan: Plan, sides: dict[str, float]) -> None:
    """Draw pieces that nothing joins apart, in rows from the west; vessels whose place on the site is given are one piece."""
    graph: nx.Graph[Corner | str] = nx.Graph()
    graph.add_nodes_from([*bones.points, *sides])
    graph.add_edges_from((run.tail, run.head) for run in bones.runs)
    graph.add_edges_from(bones.ties)
    graph.add_edges_from((grip.corner, grip.vessel) for grip in bones.grips)
    graph.add_edges_from(pairwise(vessel.name for vessel in layout.vessels.values() if vessel.at is not None))
    pieces = [list(piece) for piece in nx.connected_components(graph)]
    if len(pieces) < 2:
        return

    def span(axis: int, piece: list[Corner | str]) -> tuple[float, float]:
        around = [(plan[axis][one], sides[one] + 0.2 if isinstance(one, str) else 0.0) for one in piece]
        return min(at - half for at, half in around), max(at + half for at, half in around)

    columns = math.ceil(math.sqrt(len(pieces)))
    north = 0.0
    for row in range(0, len(pieces), columns):
        group = [(piece, span(0, piece), span(1, piece)) for piece in pieces[row : row + columns]]
        east = 0.0
        for piece, across, along in group:
            for one in piece:
                plan[0][one] += east - across[0]
                plan[1][one] += north - along[0]
            east += across[1] - across[0] + 0.8
        north += max(high - low for _, _, (low, high) in group) + 0.8
