"""How far down the flow a place in the pipe lies: from the pumps' outlets along the water's way, through vessels and on."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..hydraulics.flows import Flows
from ..layout.model import Layout, Stretch

__all__ = ["Downstream", "down_the_flow"]


@dataclass(frozen=True)
class Downstream:
    """Distances along the water's way [m]: `upstream` of each stretch (by id) at the end where water enters it; `forward`
    where it runs the way the line walks."""

    stretches: tuple[Stretch, ...]
    upstream: dict[str, float]
    forward: dict[str, bool]

    def at(self, line: str, at: float) -> float:
        """Give how far down the flow a place of a line lies [m]; infinite where no flowing water gets to."""
        found = math.inf
        for stretch in self.stretches:
            if stretch.line == line and stretch.start - 1e-9 <= at <= stretch.stop + 1e-9:
                along = at - stretch.start if self.forward[stretch.id] else stretch.stop - at
                found = min(found, self.upstream[stretch.id] + along)
        return found


def down_the_flow(layout: Layout, flows: Flows) -> Downstream:
    """Follow the water from the pumps' outlets, or, where nothing pumps, from where water only leaves: of two ways to a place the shorter
    counts, and standing pipe hangs behind the place where it joins."""
    import networkx as nx

    graph: nx.DiGraph[str] = nx.DiGraph()
    standing: nx.Graph[str] = nx.Graph()
    for stretch in layout.stretches:
        flow = flows.stretches[stretch.id].flow
        graph.add_nodes_from((stretch.tail, stretch.head))
        if flow == 0.0:
            standing.add_edge(stretch.tail, stretch.head, weight=stretch.length)
            continue
        tail, head = (stretch.tail, stretch.head) if flow > 0.0 else (stretch.head, stretch.tail)
        graph.add_edge(tail, head, weight=stretch.length)
    pumped = []
    for point, end in layout.ends.items():
        if end.kind == "vessel" and point in graph:
            inside = f"in {end.name}"
            graph.add_edge(*((inside, point) if graph.out_degree(point) > 0 else (point, inside)), weight=0.0)
    for name, line in layout.lines.items():
        for part in line.parts:
            if part.vessel is not None and f"{name}.to" in graph:
                graph.add_edge(f"{name}.to", f"in {part.vessel}", weight=0.0)
    for name, pump in layout.pumps.items():
        out = f"{name}.out"
        if out not in graph:
            continue
        if pump.vessel is None:
            graph.add_edge(f"{name}.in", out, weight=0.0)
        if graph.out_degree(out) > 0:
            pumped.append(out)
    sources = pumped or [node for node in graph if graph.in_degree(node) == 0 and graph.out_degree(node) > 0]
    reached = nx.multi_source_dijkstra_path_length(graph, sources) if sources else {}
    joined = [node for node in standing if node in reached]
    for node in joined:
        for other, more in nx.single_source_dijkstra_path_length(standing, node).items():
            reached[other] = min(reached.get(other, math.inf), reached[node] + more)
    forward = {
        stretch.id: flows.stretches[stretch.id].flow > 0.0
        or (
            flows.stretches[stretch.id].flow == 0.0
            and reached.get(stretch.tail, math.inf) <= reached.get(stretch.head, math.inf)
        )
        for stretch in layout.stretches
    }
    upstream = {
        stretch.id: reached.get(stretch.tail if forward[stretch.id] else stretch.head, math.inf)
        for stretch in layout.stretches
    }
    return Downstream(layout.stretches, upstream, forward)
