"""The water's ways: which vessels and points it runs between, and which way, as the solved flows have it; and on which side of a solids filter."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from ..catalogue import fittings
from ..hydraulics.flows import Flows
from ..hydraulics.spray_bar import capped_bar
from ..layout.model import Layout, Stretch

if TYPE_CHECKING:
    import networkx as nx

__all__ = ["LEAST", "Node", "Side", "dirty_nodes", "holding", "sides", "systems", "vessel_node", "water_ways"]

LEAST = 1e-9
"""Less than this [m³/s] is the solver's rounding, not water that runs: it is the least flow that a file may state."""

Side = Literal["dirty", "clean"]

Node = tuple[str, str]
"""A vessel, ("vessel", its name), a point of the pipe, ("point", its name), or a solids filter that stands in a line, ("filter", its name)."""


def vessel_node(name: str) -> Node:
    """Give a vessel's node."""
    return ("vessel", name)


def is_running(stretch: Stretch, flows: Flows) -> bool:
    """Tell whether water runs in a stretch."""
    return abs(flows.stretches[stretch.id].flow) > LEAST


def ends_of(layout: Layout, stretch: Stretch) -> tuple[Node, Node]:
    """Give the nodes at a stretch's tail and head. An end of its line in a vessel is that vessel; so is the far side of a spray bar
    whose jets fall into one."""
    line = layout.lines[stretch.line]
    tail, head = ("point", stretch.tail), ("point", stretch.head)
    if stretch.tail == f"{line.name}.from" and line.start.kind == "vessel" and line.start.name is not None:
        tail = vessel_node(line.start.name)
    if stretch.head == f"{line.name}.to" and line.end.kind == "vessel" and line.end.name is not None:
        head = vessel_node(line.end.name)
    bar = capped_bar(layout, stretch)
    if bar is not None:
        head = vessel_node(bar.vessel) if bar.vessel is not None else ("point", f"{stretch.id} jets")
    return tail, head


def filter_in(stretch: Stretch) -> Node | None:
    """Give the node of the solids filter that stands in a stretch of pipe; None where there is none."""
    rows = fittings()
    for part in stretch.parts:
        if not part.is_pipe and rows[part.kind].solids:
            return ("filter", part.id or f"{part.kind} of {stretch.line}")
    return None


def water_ways(layout: Layout, flows: Flows) -> nx.DiGraph[Node]:
    """Build the graph of the water's ways in normal running: a node for every vessel and every point that water runs through, and an edge where
    water runs from one to the other: its `length` [m], and what it is, `kind` "line" or "pump", by `name`. Of two pipes that run alike between
    the same two points the shorter stands for both.
    """
    import networkx as nx

    graph: nx.DiGraph[Node] = nx.DiGraph()
    graph.add_nodes_from(vessel_node(name) for name in layout.vessels)

    def join(one: Node, other: Node, length: float, kind: str, name: str) -> None:
        if not graph.has_edge(one, other) or graph.edges[one, other]["length"] > length:
            graph.add_edge(one, other, length=length, kind=kind, name=name)

    for stretch in layout.stretches:
        if is_running(stretch, flows):
            tail, head = ends_of(layout, stretch)
            way = (tail, head) if flows.stretches[stretch.id].flow > 0.0 else (head, tail)
            inside = filter_in(stretch)
            if inside is None:
                join(*way, stretch.length, "line", stretch.line)
            else:
                join(way[0], inside, stretch.length, "line", stretch.line)
                join(inside, way[1], 0.0, "line", stretch.line)
    for name, duty in flows.pumps.items():
        if abs(duty.flow) > LEAST:
            inlet, outlet = _sides_of(layout, name)
            join(*((inlet, outlet) if duty.flow > 0.0 else (outlet, inlet)), 0.0, "pump", name)
    return graph


def systems(layout: Layout) -> dict[Node, int]:
    """Number the systems of a layout: what pipe, pumps and vessels join, whether water runs or not, has one number."""
    import networkx as nx

    graph: nx.Graph[Node] = nx.Graph()
    graph.add_nodes_from(vessel_node(name) for name in layout.vessels)
    for stretch in layout.stretches:
        tail, head = ends_of(layout, stretch)
        inside = filter_in(stretch)
        graph.add_edges_from([(tail, head)] if inside is None else [(tail, inside), (inside, head)])
    graph.add_edges_from(_sides_of(layout, name) for name in layout.pumps)
    return {node: number for number, part in enumerate(nx.connected_components(graph)) for node in part}


def _sides_of(layout: Layout, pump: str) -> tuple[Node, Node]:
    """The nodes that a pump takes water from and gives it to."""
    vessel = layout.pumps[pump].vessel
    return vessel_node(vessel) if vessel is not None else ("point", f"{pump}.in"), ("point", f"{pump}.out")


def holding(layout: Layout, what: str) -> list[Node]:
    """Give the nodes of the vessels that hold something ("fish", "plants", "solids filter"), in the file's order; then the solids filters
    that stand in a line."""
    found = [vessel_node(name) for name, vessel in layout.vessels.items() if vessel.holds == what]
    if what != "solids filter":
        return found
    return [*found, *(node for stretch in layout.stretches if (node := filter_in(stretch)) is not None)]


def sides(layout: Layout, flows: Flows) -> dict[str, Side | None]:
    """Tell for each stretch, by id, on which side of the solids filter its water is.

    Water out of a vessel that holds fish is dirty, water out of one that holds a solids filter is clean, and every other vessel, tee
    and pump passes on what comes in: dirty where any of it is. What no dirty water gets into is clean. None where no water runs, and in a
    system without fish.
    """
    dirty = dirty_nodes(layout, flows)
    number = systems(layout)
    with_fish = {number[fish] for fish in holding(layout, "fish")}
    out: dict[str, Side | None] = {}
    for stretch in layout.stretches:
        tail, head = ends_of(layout, stretch)
        if not is_running(stretch, flows) or number[tail] not in with_fish:
            out[stretch.id] = None
        else:
            out[stretch.id] = (
                "dirty" if (tail if flows.stretches[stretch.id].flow > 0.0 else head) in dirty else "clean"
            )
    return out


def dirty_nodes(layout: Layout, flows: Flows) -> set[Node]:
    """Give the vessels and points out of which dirty water runs: the fish, and all that water from them gets to without going through a
    solids filter. It is the least set that the rules of `sides` leave as it is, so a cycle needs no care of its own."""
    import networkx as nx

    ways = water_ways(layout, flows)
    ways.remove_nodes_from(holding(layout, "solids filter"))
    fish = holding(layout, "fish")
    return {*fish, *(node for one in fish for node in nx.descendants(ways, one))}
