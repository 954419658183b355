"""What a flush carries out: how long the dirt of each piece of pipe takes to the opening, and how long there is water to carry it."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping

from ..hydraulics.flows import Flows
from ..hydraulics.stretches import pipes_joined
from ..layout.model import Layout, Stretch
from .intervals import Interval
from .shear import speed

__all__ = ["BY_HAND", "exits_of", "lasts", "leaves_within", "mouths_out", "times_out"]

BY_HAND = 10.0
"""A flush whose water lasts less than this [s] is over before a hand has shut the cap again (common practice, no source)."""


def exits_of(layout: Layout, opened: Collection[str]) -> frozenset[str]:
    """The points where dirt comes out with caps or drain valves open, by the ids of `Opening`: the caps themselves, for a standpipe every other
    end of its pipe in a vessel or open air, and for a valve every end in open air."""
    known = {access.id: access for access in layout.accesses if access.kind in ("cap", "standpipe")}
    out = {name for name in opened if name in known and known[name].kind == "cap"}
    pieces = pipes_joined(layout)
    for line in (known[name].line for name in opened if name in known and known[name].kind == "standpipe"):
        out |= {
            point
            for point, end in layout.ends.items()
            if end.kind in ("vessel", "open air")
            and pieces[point.rpartition(".")[0]] == pieces[line]
            and point != f"{line}.from"
        }
    if any(name not in known for name in opened):
        out |= {point for point, end in layout.ends.items() if end.kind == "open air"}
    return frozenset(out)


def mouths_out(layout: Layout, flows: Flows) -> frozenset[str]:
    """The ends of lines where water comes out of the pipe, into a vessel, through a pump that stands still or into open air."""
    pumps = {f"{name}.out" for name, pump in layout.pumps.items() if pump.vessel is not None}
    return frozenset(pumps) | frozenset(
        point for point, end in layout.ends.items() if end.kind in ("vessel", "open air") and flows.out_of(point) > 0.0
    )


def times_out(layout: Layout, flows: Flows, exits: Collection[str]) -> dict[str, float]:
    """Give for each stretch from whose end the water runs on to one of the `exits` how long it takes from that end [s], by the quickest way;
    others carry their dirt elsewhere and are left out."""
    import networkx as nx

    ways: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    ways.add_nodes_from(exits)
    ends = {}
    for stretch in layout.stretches:
        flow = flows.stretches[stretch.id].flow
        if flow != 0.0:
            tail, ends[stretch.id] = (stretch.tail, stretch.head) if flow > 0.0 else (stretch.head, stretch.tail)
            through = sum(part.length / speed(flow, part.pipe.bore) for part in stretch.parts if part.is_pipe)
            ways.add_edge(ends[stretch.id], tail, time=through)
    times = nx.multi_source_dijkstra_path_length(ways, set(exits), weight="time") if exits else {}
    return {name: times[end] for name, end in ends.items() if end in times}


def lasts(layout: Layout, flows: Flows, times: Mapping[str, float]) -> float:
    """Give how long the water lasts that a flush draws on [s]: until the first vessel whose water runs on to the opening is down to the lowest
    of the ways that it runs there by, nothing topping it up. Infinite where none is lowered, or where no area is known.

    Parameters:
        layout, flows: with the opening open
        times: from `times_out`: the stretches that lead there
    """
    low: dict[str, float] = {}
    leads = {
        stretch.tail if flows.stretches[stretch.id].flow > 0.0 else stretch.head
        for stretch in layout.stretches
        if stretch.id in times
    }
    for name, pump in layout.pumps.items():
        duty = flows.pumps.get(name)
        if pump.vessel is not None and duty is not None and duty.flow > 0.0 and f"{name}.out" in leads:
            height = layout.vessels[pump.vessel].base + pump.intake
            low[pump.vessel] = min(low.get(pump.vessel, math.inf), height)
    for name, line in layout.lines.items():
        for side, end, sign in (("from", line.start, 1.0), ("to", line.end, -1.0)):
            got = flows.ends.get(f"{name}.{side}")
            if end.kind != "vessel" or end.name is None or got is None or sign * got.flow <= 0.0:
                continue
            if f"{name}.{side}" in leads or line.end.kind == "pump":
                low[end.name] = min(low.get(end.name, math.inf), end.place[2])
    out = math.inf
    for name, vessel_flow in flows.vessels.items():
        vessel = layout.vessels[name]
        lost = vessel_flow.outflow - vessel_flow.inflow
        if vessel.area is None or lost <= 1e-9 or name not in low:
            continue
        level = vessel.level if vessel_flow.level is None else vessel_flow.level
        out = min(out, vessel.area * max(level - low[name], 0.0) / lost)
    return out


def leaves_within(
    layout: Layout, stretch: Stretch, flows: Flows, times: Mapping[str, float], seconds: float
) -> Interval | None:
    """Give the pipe of a stretch whose dirt comes out within some time [m along its line]; None where none does."""
    if stretch.id not in times or stretch.stop <= stretch.start:
        return None
    flow, left = flows.stretches[stretch.id].flow, seconds - times[stretch.id]
    if left <= 0.0:
        return None
    reached = 0.0
    for part in reversed(stretch.parts) if flow > 0.0 else stretch.parts:
        if not part.is_pipe or part.length <= 0.0:
            continue
        takes = part.length / speed(flow, part.pipe.bore)
        reached += part.length * min(1.0, left / takes)
        left -= takes
        if left <= 0.0:
            break
    return (
        (max(stretch.stop - reached, stretch.start), stretch.stop)
        if flow > 0.0
        else (stretch.start, min(stretch.start + reached, stretch.stop))
    )
