"""Large farms cost what their size asks for: the work is counted, not timed, and what is nearest is what a library finds nearest."""

from __future__ import annotations

from collections import Counter

import networkx as nx
import pytest
from benchmark_redesign import farm, layout_of

from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.resting import Rest
from plumbline.layout.model import Layout
from plumbline.upkeep.reach import stopping_kinds
from plumbline.upkeep.track import Piece, Track, bounds, build_track
from plumbline.upkeep.why import Neighbours


@pytest.fixture(scope="module")
def small() -> Layout:
    return layout_of(farm(6))


@pytest.mark.invariant
def test_the_moves_of_a_power_cut_grow_as_the_farm_does(small: Layout) -> None:
    moves = []
    for made in (small, layout_of(farm(24))):
        rest = Rest(made, find_flows(made))
        moves.append(sum(1 for _ in iter(rest.move, False)))
    assert 6 <= moves[0] <= moves[1] <= 4 * moves[0]


def length(track: Track, piece: Piece) -> float:
    start, stop = bounds(track.layout, piece.line, piece.number)
    return stop - start


@pytest.mark.second_method
def test_the_nearest_accesses_are_those_that_networkx_finds(small: Layout) -> None:
    """All ways on as a graph from the accesses; Dijkstra forward from each, where the tool looks backward from the pipe."""
    track = build_track(small, stopping_kinds())
    graph = nx.DiGraph()
    for source, moves in (*track.entries.items(), *track.onward.items()):
        graph.add_weighted_edges_from((source, move.to, length(track, move.to)) for move in moves)
    forward = {
        door.id: nx.single_source_dijkstra_path_length(graph, door.id) for door in track.doors if door.id in graph
    }
    near, seen = Neighbours(track), Counter[str]()
    for piece in track.onward:
        found = list(near.nearest(piece))
        expected = {name: lengths[piece] for name, lengths in forward.items() if piece in lengths}
        assert {way.access: way.length for way in found} == pytest.approx(expected)
        assert [way.length for way in found] == sorted(way.length for way in found)
        for way in found:
            assert sum(length(track, move.to) for move in way.moves) == pytest.approx(way.length)
            assert way.moves[0] in track.entries[way.access]
        seen["ways"] += len(found)
    assert seen["ways"] > 100
