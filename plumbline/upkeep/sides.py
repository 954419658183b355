"""The two sides of a solids filter: which pipe carries water from the fish that has not passed one."""

from __future__ import annotations

from typing import Literal

from ..hydraulics.flows import Flows
from ..layout.model import Layout
from .ways import Node, ends_of, filter_in, is_running, systems, vessel_node, water_ways

__all__ = ["Side", "dirty_nodes", "holding", "sides"]

Side = Literal["dirty", "clean"]


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
