"""Dead legs: pipe that leads nowhere, by the layout's shape, and pipe in which the water stands, by the
flows."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from .. import catalogue
from ..catalogued import bore_or_less, finding
from ..findings import Finding, as_tuple
from ..hydraulics.flows import Flows
from ..hydraulics.stretches import only_out, pipes_joined
from ..layout.model import End, Layout, Part, Stretch, once
from ..units import show
from .shear import volume
from .words import adjoining, dry_lines, steps_of

if TYPE_CHECKING:
    import networkx as nx

__all__ = ["DeadLeg", "by_shape", "dead_legs", "length_in_use", "standing_water"]

_OUTSIDE: Hashable = ("outside",)

PASSES = 1e-8
"""A flow over this is one, however slow [m³/s]."""


@dataclass(frozen=True, slots=True)
class DeadLeg:
    """Pipe that hangs from `root` and leads nowhere. `pieces` are (stretch, from, to) [m along its line];
    `length` [m] the longest way from the root's axis; `bore` [m] of the pipe at the root; `volume` [m³] of
    all of it; `ends` says what closes it ("cap", "plug", "shut valve", …). `drained` is True where it hangs from an end in air,
    so that no water comes in to stand in it. `wall` [m] is how far the inner wall of the pipe in use lies from its axis there, 0
    where it hangs from no tee."""

    root: str
    pieces: tuple[tuple[Stretch, float, float], ...]
    length: float
    bore: float
    volume: float
    ends: tuple[str, ...]
    drained: bool = False
    wall: float = 0.0

    def ratio_from(self, start: Literal["axis", "wall"]) -> float:
        """Length over bore from the axis or the inner wall of the pipe in use [-], not below 0."""
        return max(self.length - (self.wall if start == "wall" else 0.0), 0.0) / self.bore

    def met(self) -> dict[str, bool]:
        """Tell for each standard of the catalogue whether the leg is short enough."""
        return {
            row.name: self.ratio_from(row.start) <= row.diameters * (1 + 1e-9) for row in catalogue.dead_legs().values()
        }

    @property
    def ratio(self) -> float:
        """Length over bore [-]."""
        return self.length / self.bore


@dataclass(frozen=True, slots=True)
class _Edge:
    """A stretch, or what a shut valve leaves on one side of it."""

    stretch: Stretch
    start: float
    stop: float
    tail: Hashable
    head: Hashable

    @property
    def points(self) -> tuple[Hashable, Hashable]:
        return self.tail, self.head

    @property
    def length(self) -> float:
        return self.stop - self.start


@once
def by_shape(layout: Layout) -> tuple[DeadLeg, ...]:
    """Find every dead leg by shape.

    Pipe is in use where it lies on some simple path between two live points: vessels, pumps, open air and
    draws, with every shut valve taken as a wall. Joining all live points to one more node, that is where it
    shares a biconnected component with that node. All other pipe leads nowhere, a loop on a single stalk
    included; what hangs together is one dead leg, and its root is where it hangs.

    Reference: Hopcroft and Tarjan (1973), Commun. ACM 16, 372–378, for the components.
    """
    import networkx as nx

    edges, live, closed = _edges(layout)
    graph: nx.Graph[Hashable] = nx.Graph()
    for number, edge in enumerate(edges):
        # A node for every edge keeps two stretches between the same points apart.
        graph.add_edge(edge.tail, ("edge", number), weight=edge.length / 2)
        graph.add_edge(("edge", number), edge.head, weight=edge.length / 2)
    for pump in layout.pumps.values():
        inlet, outlet = ("pump", pump.name, "in"), ("pump", pump.name, "out")
        if inlet in graph and outlet in graph:
            graph.add_edge(inlet, outlet, weight=0.0)
    graph.add_edges_from((_OUTSIDE, point) for point in live)
    used: set[Hashable] = set()
    blocks: Any = nx.biconnected_components(graph)  # sets of nodes, whatever its type stubs say
    for block in blocks:
        if _OUTSIDE in block and len(block) > 2:
            used |= block
    dead = [number for number in range(len(edges)) if ("edge", number) not in used]
    roots = {point for number in dead for point in edges[number].points if point in used or point in live}
    hanging = graph.subgraph(
        [("edge", number) for number in dead] + [point for number in dead for point in edges[number].points]
    )
    parts = sorted(
        (([number for number in dead if ("edge", number) in part], part) for part in nx.connected_components(hanging)),
        key=lambda pair: pair[0],
    )
    return tuple(
        _leg(layout, [edges[number] for number in some], graph.subgraph(part), roots, closed) for some, part in parts
    )


def length_in_use(layout: Layout) -> float:
    """Give the length of all pipe that is no dead leg [m]; of all pipe where that is nothing.

    Shares of it do not change when a dead leg is shortened or cut away.
    """
    whole = math.fsum(line.length for line in layout.lines.values())
    dead = math.fsum(stop - start for leg in by_shape(layout) for _, start, stop in leg.pieces)
    return whole - dead if whole - dead > 1e-9 * whole else whole or 1.0


@as_tuple
def dead_legs(layout: Layout, legs: Sequence[DeadLeg]) -> Iterator[Finding]:
    """Report the dead legs longer than the limit `dead leg`, in bores."""
    limit = layout.limits["dead leg"]
    for leg in legs:
        if leg.ratio <= limit * (1 + 1e-9):
            continue
        stretch, start, stop = leg.pieces[0]
        line = stretch.line
        size = show(leg.length, "length", layout.units)
        held = show(leg.volume, "volume", layout.units)
        yield finding(
            "dead-leg",
            f"{size} of '{line}' is a dead leg from {leg.root}, {leg.ratio:.3g} bores where "
            f"{limit:g} are allowed: {held} of water that does not move.",
            _cure(layout, leg, limit),
            line=line,
            step=next((part.step for part in stretch.parts if part.is_pipe and part.at >= start - 1e-9), None),
            start=start,
            stop=stop,
        )


def _opens(part: Part) -> bool:
    """Whether a timer opens a valve at some time of the day."""
    return part.runs is not None and not part.runs.never


def _waits_for_floats(layout: Layout) -> set[str]:
    """Lines that lead to float valves and nowhere else, themselves or by the tees that join them."""
    groups = pipes_joined(layout)
    floats = {
        name
        for name, line in layout.lines.items()
        if line.start.float_valve is not None or line.end.float_valve is not None
    }
    outlets = Counter(
        groups[name]
        for name, line in layout.lines.items()
        for end in (line.start, line.end)
        if end.kind in ("vessel", "open air", "draw", "pump") and end.float_valve is None
    )
    served = {groups[name] for name in floats}
    return floats | {name for name, group in groups.items() if group in served and outlets[group] <= 1}


def _starved(layout: Layout, flows: Flows) -> set[str]:
    """Lines of a pump whose vessel is down to its intake, which has a finding of its own."""
    groups = pipes_joined(layout)
    dead = {
        groups[name]
        for name, line in layout.lines.items()
        if line.start.kind == "pump"
        and (duty := flows.pumps.get(line.start.name or "")) is not None
        and duty.state == "starved"
        and duty.flow <= 0.0
    }
    return {name for name, group in groups.items() if group in dead}


@as_tuple
def standing_water(layout: Layout, flows: Flows, legs: Sequence[DeadLeg]) -> Iterator[Finding]:
    """Report pipe with something at both ends in which the water still stands.

    Slower than the limit `dead leg flow` [m/s], longer than the limit `dead leg` in bores, and no part of a
    dead leg by shape.
    """
    hanging = {stretch.id for leg in legs for stretch, _, _ in leg.pieces}
    # A drain whose vessel receives nothing is empty, and that has its own finding.
    dry = dry_lines(layout, flows)
    # What a float valve holds back is fresh, and comes when it is wanted; a timer lets water through every day.
    dry |= {name for name, line in layout.lines.items() if any(_opens(part) for part in line.parts)}
    dry |= _waits_for_floats(layout) | _starved(layout, flows)
    still = [
        stretch
        for stretch in layout.stretches
        if stretch.id not in hanging
        and stretch.line not in dry
        and not flows.stretches[stretch.id].dry
        and flows.stretches[stretch.id].velocity < layout.limits["dead leg flow"]
    ]
    for group in adjoining(still):
        wet = {stretch.id: _under_water(layout, flows, stretch) for stretch in group}
        size = sum(stop - start for spans in wet.values() for start, stop in spans)
        if size <= layout.limits["dead leg"] * min(stretch.bore for stretch in group):
            continue
        line = group[0].line
        held = sum(volume(stretch, *span) for stretch in group for span in wet[stretch.id])
        ids = {stretch.id for stretch in group}
        if ids & flows.held:
            why = "a check valve or a free end holds the water back"
            spare = next(
                (
                    name
                    for name, pump in layout.pumps.items()
                    if flows.rests(pump) and f"{name}.out" in (group[0].tail, group[-1].head)
                ),
                None,
            )
            cure = (
                f"run '{spare}' for a few minutes every week"
                if spare
                else f"let water through for a few minutes every week, or take '{line}' out"
            )
        elif ids & flows.cut_off:
            why = "a shut valve cuts it off"
            cure = "open the valve for a few minutes every week"
        elif (flow := min(abs(flows.stretches[name].flow) for name in ids)) > PASSES:
            bore = math.sqrt(4.0 * flow / (math.pi * layout.limits["dead leg flow"]))
            why = f"no more than {show(flow, 'flow', layout.units)} pass"
            pipe = next(part.pipe for part in group[0].parts if part.is_pipe)
            narrower = bore_or_less(bore, pipe, layout.units, "in its place")
            cure = ", or ".join(("rinse it through every few weeks", *narrower))
        else:
            why = "the heads at its two ends balance"
            cure = "throttle one side so that water passes, or cut the pipe and cap both halves short"
        yield finding(
            "standing-water",
            f"Water stands in {show(size, 'length', layout.units)} of '{line}' ({steps_of(group)}), "
            f"{show(held, 'volume', layout.units)}: {why}.",
            cure,
            line=line,
            step=next((part.step for part in group[0].parts if part.step), None),
            start=group[0].start,
            stop=group[-1].stop,
        )


def _under_water(layout: Layout, flows: Flows, stretch: Stretch) -> list[tuple[float, float]]:
    """Where still water stands in a stretch, along its line [m]: of one that ends free in the air, as high as at its other end; in all of another."""
    ends = layout.lines[stretch.line]
    free = [
        point == f"{stretch.line}.{side}" and only_out(end)
        for point, side, end in ((stretch.tail, "from", ends.start), (stretch.head, "to", ends.end))
    ]
    found = flows.stretches[stretch.id]
    head = found.head_head if free[0] else found.head_tail
    if not any(free) or found.flow != 0.0 or math.isnan(head):
        return [(stretch.start, stretch.stop)]
    spans = []
    for part in stretch.parts:
        low, high = sorted((part.start[2], part.end[2]))
        share = min(max((head - low) / (high - low), 0.0), 1.0) if high > low else float(head > low)
        size = share * part.length
        rises = part.end[2] >= part.start[2]
        spans.append((part.at, part.at + size) if rises else (part.at + part.length - size, part.at + part.length))
    return spans


def _edges(layout: Layout) -> tuple[list[_Edge], set[Hashable], dict[Hashable, str]]:
    """Cut the stretches at shut valves and spray bars. Returns them, the live points, and what closes each dead end."""
    from ..hydraulics.fittings import is_shut

    edges: list[_Edge] = []
    live: set[Hashable] = set()
    closed: dict[Hashable, str] = {}
    for stretch in layout.stretches:
        line = layout.lines[stretch.line]
        first = stretch.start <= 0.0
        last = stretch.stop >= line.length
        tail = _end_point(line.name, "from", line.start, live, closed) if first else stretch.tail
        head = _end_point(line.name, "to", line.end, live, closed) if last else stretch.head
        at, start = tail, stretch.start
        pump = layout.pumps.get(line.start.name or "") if first and line.start.kind == "pump" else None
        if pump is not None and pump.vessel is not None:
            live.add(tail)
        for part in stretch.parts:
            if part.opening < 1.0 and is_shut(part) and not _opens(part):
                before, after = (
                    ("shut", line.name, part.step, "before"),
                    ("shut", line.name, part.step, "after"),
                )
                edges.append(_Edge(stretch, start, part.at, at, before))
                closed[before] = closed[after] = f"shut {part.kind}"
                at, start = after, part.at
            elif part.kind == "spray bar":
                # Water leaves all along it, so what lies beyond either end is a leg of its own.
                for side, place in (("before", part.at), ("after", part.at + part.length)):
                    hole = ("spray bar", line.name, part.step, side)
                    edges.append(_Edge(stretch, start, place, at, hole))
                    live.add(hole)
                    at, start = hole, place
        edges.append(_Edge(stretch, start, stretch.stop, at, head))
    return edges, live, closed


def _end_point(line: str, side: str, end: End, live: set[Hashable], closed: dict[Hashable, str]) -> Hashable:
    if end.kind == "tee":
        return end.name
    if end.kind == "pump":
        point: Hashable = ("pump", end.name, "out" if side == "from" else "in")
    else:
        point = ("end", line, side)
    if end.kind in ("cap", "plug"):
        closed[point] = end.kind
    elif end.kind != "pump":
        live.add(point)
    return point


def _leg(
    layout: Layout, edges: list[_Edge], graph: nx.Graph[Hashable], roots: set[Hashable], closed: Mapping[Hashable, str]
) -> DeadLeg:
    """Measure what hangs together: the way to its furthest point, its water, and what closes it."""
    import networkx as nx

    points = [point for edge in edges for point in edge.points]
    root = next((point for point in points if point in roots), points[0])
    away = nx.single_source_dijkstra_path_length(graph, root)
    # On a loop the furthest point is where the ways round both sides are equal.
    far = max((away[edge.tail] + away[edge.head] + edge.length) / 2 for edge in edges)
    edges = sorted(edges, key=lambda edge: min(away[edge.tail], away[edge.head]))
    first = edges[0]
    near = [part for part in first.stretch.parts if part.is_pipe and first.start <= part.at < first.stop]
    outward = away[first.tail] <= away[first.head]
    return DeadLeg(
        root=_name(layout, root, closed),
        pieces=tuple((edge.stretch, edge.start, edge.stop) for edge in edges),
        length=far,
        bore=near[0 if outward else -1].pipe.bore if near else first.stretch.bore,
        volume=sum(volume(edge.stretch, edge.start, edge.stop) for edge in edges),
        ends=tuple(dict.fromkeys(closed[point] for point in points if point in closed)),
        drained=_in_air(layout, root),
        wall=_wall(layout, root, {edge.stretch.line for edge in edges}),
    )


def _wall(layout: Layout, root: Hashable, lines: Collection[str]) -> float:
    """Half the bore of the pipe in use at a tee that a dead leg hangs from [m]."""
    tee = layout.tees.get(str(root))
    if tee is None:
        return 0.0
    others = [leg.pipe.bore for leg in tee.legs if leg.line not in lines] or [leg.pipe.bore for leg in tee.legs]
    return 0.5 * max(others)


def _in_air(layout: Layout, point: Hashable) -> bool:
    """Whether a point is an end of a line that lets no water in."""
    if not isinstance(point, tuple) or point[0] != "end":
        return False
    line = layout.lines[point[1]]
    return only_out(line.start if point[2] == "from" else line.end)


def _name(layout: Layout, point: Hashable, closed: Mapping[Hashable, str]) -> str:
    if isinstance(point, tuple):
        if point[0] == "pump":
            return str(point[1])
        if point[0] == "end":
            line = layout.lines[point[1]]
            end = line.start if point[2] == "from" else line.end
            return end.name or f"the {end.kind} end"
        return f"the {closed.get(point, point[0])} at step {point[2]}"
    tee = layout.tees.get(str(point))
    return tee.called if tee is not None else str(point)


def _cure(layout: Layout, leg: DeadLeg, limit: float) -> str:
    short = show(limit * leg.bore, "length", layout.units)
    valve = next((end for end in leg.ends if end.endswith("valve")), None)
    if leg.root.startswith("the shut"):
        return f"take this pipe out and plug {leg.root}, or open it every week"
    if valve is not None:
        kind = valve.removeprefix("shut ")
        return f"move the {kind} to within {short} of {leg.root}, or run water through it every week"
    if "cap" in leg.ends:
        return f"cut it back to within {short} of {leg.root}, or flush it through its cap every week"
    return f"cut it back to within {short} of {leg.root}, or put a drain valve at its end to flush every week"
