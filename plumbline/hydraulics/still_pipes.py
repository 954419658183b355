"""The pipework at rest: where it is open, what it holds, how air comes in, and what water has to climb to get out.

A group is pipe in one piece: joined by tees, and through stopped pumps, but not through shut valves. Its nodes are the
ends of the lines' parts. A check valve lets water, and the air that follows it, pass along the walk only.
"""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..layout.model import End, Layout, Line, Part, Stretch
from .fittings import part_k
from .flows import Flows
from .part_full import part_full_speed

__all__ = ["Edge", "Group", "Opening", "Piece", "air_reach", "pipe_groups", "spill_heights"]

NOWHERE = -math.inf


@dataclass(frozen=True, slots=True)
class Edge:
    """A way between two nodes; with `one_way` only from `tail` to `head`."""

    tail: int
    head: int
    one_way: bool = False


@dataclass(frozen=True, slots=True)
class Opening:
    """Where a group is open: at `node`, into `vessel` (None: onto the ground). `line` and `side` ("from", "to", or
    "spray") say which end of which line; `pump` is the stopped pump whose outlet it is."""

    node: int
    vessel: str | None
    line: str
    side: str
    pump: str | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """Pipe along an edge of a group, straight from node `low` up to node `high`: its `volume` [m³]. `share` of it holds
    water while the pumps run; the rest is the uppermost, and `stands` [m] is how high the water reaches where it is still
    (NaN where it flows, or nothing is known)."""

    edge: int
    low: int
    high: int
    volume: float
    share: float
    stands: float


@dataclass(frozen=True)
class Group:
    """Pipe in one piece: `heights` of its nodes [m], its ways, openings and pieces. `pumps` are those whose pipe it is;
    `vented` tells that air is in it already, as in a drain under a standpipe."""

    heights: tuple[float, ...]
    edges: tuple[Edge, ...]
    openings: tuple[Opening, ...]
    pieces: tuple[Piece, ...]
    pumps: tuple[str, ...]
    vented: bool


# ---------------------------------------------------------------------- two questions asked of a group


def air_reach(heights: Sequence[float], edges: Sequence[Edge], sources: Mapping[int, float]
              ) -> tuple[list[float], list[int]]:  # fmt: skip
    """Find, for each node of full pipe, up to what height of water air comes to it from some opening.

    W(n) = max over ways from an opening to n of the lowest point on the way, n and the opening included: as long as
    the water in the pipe stands for more than W(n), it closes the way of the air to n.

    Parameters
    ----------
    heights : (n,) [m]
    edges : the ways between nodes
    sources : nodes that are open to the air, each with its height [m]

    Returns
    -------
    W (n,) [m], −∞ where no air comes, and (n,) the edge by which it comes, −1 at a source or where none comes

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

    Parameters
    ----------
    reach : W (n,) [m], from `air_reach`
    edges : the ways between nodes
    target : a node

    Returns
    -------
    M (n,) [m], ∞ where no way leads there, and (n,) the edge by which the way goes on, −1 at the target

    >>> spill_heights([0.5, 0.5, 0.0], [Edge(0, 1), Edge(1, 2)], 2)[0]
    [0.5, 0.5, 0.0]
    """
    needed = [math.inf] * len(reach)
    by = [-1] * len(reach)
    back: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for number, edge in enumerate(edges):
        back[edge.head].append((edge.tail, number))
        if not edge.one_way:
            back[edge.tail].append((edge.head, number))
    needed[target] = reach[target]
    queue = [(reach[target], target)]
    while queue:
        value, node = heapq.heappop(queue)
        if value > needed[node]:
            continue
        for other, number in back[node]:
            got = max(value, reach[other])
            if got < needed[other]:
                needed[other], by[other] = got, number
                heapq.heappush(queue, (got, other))
    return needed, by


# ---------------------------------------------------------------------- from a layout


def pipe_groups(layout: Layout, flows: Flows) -> tuple[Group, ...]:
    """Take a layout's pipework apart into groups, as it is while the pumps run.

    Parameters:
        layout: read and walked.
        flows: its steady flows.
    """
    build = _Build(layout, flows)
    for line in layout.lines.values():
        build.line(line)
    return build.groups()


class _Build:
    """All nodes of a layout in one row, to be taken apart at the end."""

    def __init__(self, layout: Layout, flows: Flows) -> None:
        self.layout = layout
        self.flows = flows
        self.nu = layout.water.viscosity / layout.water.density
        self.numbers: dict[tuple[str, int], int] = {}
        self.heights: list[float] = []
        self.edges: list[Edge] = []
        self.openings: list[Opening] = []
        self.pieces: list[tuple[int, Part, Stretch]] = []
        self.standpipes: set[int] = set()
        self.pump_nodes: dict[int, str] = {}
        self.stretch_of = {
            (stretch.line, part.step, part.at): stretch for stretch in layout.stretches for part in stretch.parts
        }
        for line in layout.lines.values():
            for index in range(len(line.parts) + 1):
                self.numbers[line.name, index] = len(self.heights)
                self.heights.append((line.parts[index].start if index < len(line.parts) else line.end.place)[2])

    def line(self, line: Line) -> None:
        """The ways and openings of a line."""
        for index, part in enumerate(line.parts):
            k = part_k(part)
            here, there = self.numbers[line.name, index], self.numbers[line.name, index + 1]
            if k.shut:
                continue
            if part.length > 0.0:
                stretch = self.stretch_of[line.name, part.step, part.at]
                self.pieces.append((len(self.edges), part, stretch))
            self.edges.append(Edge(here, there, k.one_way))
            if part.kind == "spray bar":
                self.openings += [Opening(node, part.vessel, line.name, "spray") for node in (here, there)]
        self.end(line, line.start, self.numbers[line.name, 0], "from")
        self.end(line, line.end, self.numbers[line.name, len(line.parts)], "to")

    def end(self, line: Line, end: End, node: int, side: str) -> None:
        """What a line's end opens into or joins."""
        if end.kind == "vessel":
            self.openings.append(Opening(node, end.name, line.name, side))
            if end.port == "standpipe":
                self.standpipes.add(node)
        elif end.kind == "open air":
            self.openings.append(Opening(node, None, line.name, side))
        elif end.kind == "tee":
            tee = self.layout.tees[end.name or ""]
            parts = self.layout.lines[tee.line].parts
            index = next(n for n, part in enumerate(parts) if part.step == tee.step and part.id == tee.id)
            self.edges.append(Edge(node, self.numbers[tee.line, index]))
        elif end.kind == "pump":
            name = end.name or ""
            pump = self.layout.pumps[name]
            if pump.vessel is not None:
                self.openings.append(Opening(node, pump.vessel, line.name, side, name))
            others = [other for other, said in self.pump_nodes.items() if said == name]
            self.edges += [Edge(other, node) for other in others]
            self.pump_nodes[node] = name

    def groups(self) -> tuple[Group, ...]:
        """The groups, in the order of the lines."""
        label = list(range(len(self.heights)))

        def root(node: int) -> int:
            while label[node] != node:
                label[node] = label[label[node]]
                node = label[node]
            return node

        for edge in self.edges:
            a, b = sorted((root(edge.tail), root(edge.head)))
            label[b] = a
        members: dict[int, list[int]] = defaultdict(list)
        for node in range(len(label)):
            members[root(node)].append(node)
        return tuple(self.group(nodes) for nodes in members.values())

    def group(self, nodes: Iterable[int]) -> Group:
        new = {node: number for number, node in enumerate(nodes)}
        kept = {number: count for count, number in enumerate(n for n, e in enumerate(self.edges) if e.tail in new)}
        edges = tuple(
            Edge(new[self.edges[n].tail], new[self.edges[n].head], self.edges[n].one_way) for n in kept
        )  # fmt: skip
        pumps = tuple(dict.fromkeys(name for node, name in self.pump_nodes.items() if node in new))
        inside = [(kept[number], part, stretch) for number, part, stretch in self.pieces if number in kept]
        still = all(self.flows.stretches[stretch.id].flow == 0.0 for _, _, stretch in inside)
        vented = not pumps and (still or any(node in new for node in self.standpipes))
        return Group(
            heights=tuple(self.heights[node] for node in new),
            edges=edges,
            openings=tuple(
                Opening(new[o.node], o.vessel, o.line, o.side, o.pump) for o in self.openings if o.node in new
            ),
            pieces=tuple(self.piece(number, edges[number], part, stretch, vented) for number, part, stretch in inside),
            pumps=pumps,
            vented=vented,
        )

    def piece(self, number: int, edge: Edge, part: Part, stretch: Stretch, vented: bool) -> Piece:
        found = self.flows.stretches[stretch.id]
        volume = 0.25 * math.pi * part.pipe.bore**2 * part.length
        rises = part.end[2] >= part.start[2]
        low, high = (edge.tail, edge.head) if rises else (edge.head, edge.tail)
        share, stands = 1.0, math.nan
        if found.flow == 0.0:
            share = 0.0 if vented else 1.0
            heads = [head for head in (found.head_tail, found.head_head) if math.isfinite(head)]
            stands = max(heads) if heads and not vented else math.nan
        elif vented:
            fall = (part.start[2] - part.end[2]) / part.length * math.copysign(1.0, found.flow)
            speed = part_full_speed(found.flow, part.pipe.bore, fall, part.pipe.roughness, self.nu)
            share = min(abs(found.flow) * part.length / (speed * volume), 1.0)
        return Piece(number, low, high, volume, share, stands)
