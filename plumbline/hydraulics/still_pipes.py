"""The pipework at rest: where it is open, what it holds, how air comes in, and what water has to climb to get out: the floor of pipe that lies.

A group is pipe in one piece: joined by tees, and through stopped pumps, but not through shut valves. Its nodes are the
ends of the lines' parts. A check valve lets water, and the air that follows it, pass along the walk only.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ..layout.model import End, Layout, Line, Part, Stretch
from ..water import GRAVITY
from .air_ways import Edge, air_reach
from .fittings import is_one_way, is_shut, parts_k, velocity_head
from .flows import Flows
from .islands import components
from .part_full import part_full_speed
from .read_back import heads_along
from .stretches import end_lip, lip, side_of

__all__ = ["Group", "Opening", "Piece", "pipe_groups", "running_levels"]


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
    """Pipe along an edge of a group, straight from node `low` up to node `high`, from its `foot` to its `top` [m]: its `volume` [m³]. `share` of it holds
    water while the pumps run; the rest is the uppermost, and `stands` [m] is how high the water reaches where it is still
    and air stands over it (NaN elsewhere)."""

    edge: int
    low: int
    high: int
    foot: float
    top: float
    volume: float
    share: float
    stands: float


@dataclass(frozen=True)
class Group:
    """Pipe in one piece: `heights` of its nodes [m], its ways, openings and pieces. `pumps` are those whose pipe it is;
    `airy` are the nodes that have air while the pumps run."""

    heights: tuple[float, ...]
    edges: tuple[Edge, ...]
    openings: tuple[Opening, ...]
    pieces: tuple[Piece, ...]
    pumps: tuple[str, ...]
    airy: frozenset[int]


# ---------------------------------------------------------------------- from a layout


def running_levels(layout: Layout, flows: Flows) -> dict[str, float]:
    """Give where the water stands in each vessel while the pumps run [m above the datum]; what overtops stands at its rim."""
    levels = {}
    for name, vessel in layout.vessels.items():
        level = flows.stands(vessel)
        levels[name] = level if vessel.rim is None else min(level, vessel.base + vessel.rim)
    return levels


def pipe_groups(layout: Layout, flows: Flows) -> tuple[Group, ...]:
    """Take a layout's pipework apart into groups, as it is while the pumps run."""
    build = _Build(layout, flows)
    for line in layout.lines.values():
        build.line(line)
    return build.groups()


def _lips(line: Line) -> list[float]:
    """The heights that water runs over at the ends of a line's parts [m]: the lower where two of them meet, but a bar's own at its holes."""
    parts = line.parts
    inner = [
        max(sides) if "spray bar" in (before.kind, after.kind) else min(sides)
        for before, after in pairwise(parts)
        for sides in [(lip(before, 1), lip(after, 0))]
    ]
    return [end_lip(line.start, parts[0], 0), *inner, end_lip(line.end, parts[-1], 1)]


class _Build:
    """All nodes of a layout in one row, to be taken apart at the end."""

    def __init__(self, layout: Layout, flows: Flows) -> None:
        self.layout = layout
        self.flows = flows
        self.levels = running_levels(layout, flows)
        self.nu = layout.water.viscosity / layout.water.density
        self.numbers: dict[tuple[str, int], int] = {}
        self.heights: list[float] = []
        self.edges: list[Edge] = []
        self.openings: list[Opening] = []
        self.pieces: dict[int, tuple[Part, Stretch]] = {}
        self.pump_nodes: dict[int, str] = {}
        self.heads: dict[str, list[float]] = {}
        self.stretch_of = {
            (stretch.line, part.step, part.at): stretch for stretch in layout.stretches for part in stretch.parts
        }
        for line in layout.lines.values():
            for index, height in enumerate(_lips(line)):
                self.numbers[line.name, index] = len(self.heights)
                self.heights.append(height)

    def line(self, line: Line) -> None:
        for index, part in enumerate(line.parts):
            here, there = self.numbers[line.name, index], self.numbers[line.name, index + 1]
            if is_shut(part):
                continue
            if part.length > 0.0:
                stretch = self.stretch_of[line.name, part.step, part.at]
                self.pieces[len(self.edges)] = (part, stretch)
            self.edges.append(Edge(here, there, is_one_way(part)))
            if part.kind == "spray bar":
                self.openings += [Opening(node, part.vessel, line.name, "spray") for node in (here, there)]
        self.end(line, line.start, self.numbers[line.name, 0], "from")
        self.end(line, line.end, self.numbers[line.name, len(line.parts)], "to")

    def end(self, line: Line, end: End, node: int, side: str) -> None:
        if end.kind == "vessel":
            self.openings.append(Opening(node, end.name, line.name, side))
        elif end.kind == "open air":
            self.openings.append(Opening(node, None, line.name, side))
        elif end.kind == "tee":
            tee = self.layout.tees[end.name or ""]
            parts = self.layout.lines[tee.line].parts
            index = next(n for n, part in enumerate(parts) if part.step == tee.step and part.id == tee.id)
            legs = [node, self.numbers[tee.line, index], self.numbers[tee.line, index + 1]]
            # What runs in by a leg that lies falls on over that leg's floor.
            for leg, lowest in [(leg, min(self.heights[one] for one in legs)) for leg in legs]:
                self.heights[leg] = lowest
            self.edges.append(Edge(node, legs[1]))
        elif end.kind == "pump":
            name = end.name or ""
            pump = self.layout.pumps[name]
            if pump.vessel is not None:
                self.openings.append(Opening(node, pump.vessel, line.name, side, name))
            others = [other for other, said in self.pump_nodes.items() if said == name]
            self.edges += [Edge(other, node) for other in others]
            self.pump_nodes[node] = name

    def groups(self) -> tuple[Group, ...]:
        joins = np.array([(edge.tail, edge.head) for edge in self.edges], dtype=np.int64).reshape(-1, 2)
        labels = components(len(self.heights), joins[:, 0], joins[:, 1]).tolist()
        nodes: dict[int, list[int]] = defaultdict(list)
        for node, label in enumerate(labels):
            nodes[label].append(node)
        edges: dict[int, list[int]] = defaultdict(list)
        for number, edge in enumerate(self.edges):
            edges[labels[edge.tail]].append(number)
        openings: dict[int, list[Opening]] = defaultdict(list)
        for opening in self.openings:
            openings[labels[opening.node]].append(opening)
        return tuple(self.group(nodes[label], edges[label], openings[label]) for label in nodes)

    def group(self, nodes: Sequence[int], numbers: Sequence[int], found: Sequence[Opening]) -> Group:
        new = {node: number for number, node in enumerate(nodes)}
        edges = tuple(Edge(new[self.edges[n].tail], new[self.edges[n].head], self.edges[n].one_way) for n in numbers)
        pumps = tuple(dict.fromkeys(self.pump_nodes[node] for node in nodes if node in self.pump_nodes))
        inside = [(count, *self.pieces[number]) for count, number in enumerate(numbers) if number in self.pieces]
        heights = [self.heights[node] for node in nodes]
        openings = tuple(replace(opening, node=new[opening.node]) for opening in found)
        dry = {
            o.node: heights[o.node] for o in openings if o.vessel is None or heights[o.node] >= self.levels[o.vessel]
        }
        flowing = {number for number, _, stretch in inside if self.flows.stretches[stretch.id].flow != 0.0}
        ran_out = not pumps and not flowing and bool(dry)
        # Air comes into pipe that runs full by still pipe alone.
        air, _ = air_reach(heights, [edge for number, edge in enumerate(edges) if number not in flowing], dry)
        over = {
            (edges[number].tail, edges[number].head)[side]
            for number, part, stretch in inside
            for side in self.under_air(stretch, part)
        }
        airy = frozenset(range(len(heights)) if ran_out else over)
        pieces = tuple(self.piece(number, edges[number], part, stretch, airy, air) for number, part, stretch in inside)
        above = {node for piece in pieces for node in (piece.low, piece.high) if heights[node] > piece.stands}
        return Group(tuple(heights), edges, openings, pieces, pumps, airy | above)

    def under_air(self, stretch: Stretch, part: Part) -> Iterator[int]:
        """The sides of a part, 0 its beginning or 1 its end, at which the water that runs there surely has air over it: where that is in doubt,
        it may go on as a siphon."""
        found = self.flows.stretches[stretch.id]
        if not found.vented or stretch.id in self.flows.doubtful:
            return
        if stretch.id not in self.heads:
            forward, ks = found.flow > 0.0, parts_k(stretch.parts)
            below = found.head_head if forward else found.head_tail
            heads = heads_along(stretch, ks, found.flow, below, True, self.nu)
            self.heads[stretch.id] = heads[::-1] if forward else heads
        heads, at = self.heads[stretch.id], stretch.parts.index(part)
        for side in (0, 1):
            axis, bore = side_of(part, side)
            if heads[at + side] - velocity_head(found.flow, bore, GRAVITY) < axis + 0.5 * bore:
                yield side

    def piece(
        self, number: int, edge: Edge, part: Part, stretch: Stretch, airy: Collection[int], air: Sequence[float]
    ) -> Piece:
        found = self.flows.stretches[stretch.id]
        volume = 0.25 * math.pi * part.pipe.bore**2 * part.length
        foot, top = sorted(lip(part, side) for side in (0, 1))
        rises = part.end[2] >= part.start[2]
        low, high = (edge.tail, edge.head) if rises else (edge.head, edge.tail)
        share, stands, vented = 1.0, math.nan, high in airy
        if found.flow == 0.0:
            share = 0.0 if vented else 1.0
            # What shuts a stretch off parts the heads at its two ends.
            shut = next((n for n, one in enumerate(stretch.parts) if is_shut(one) or is_one_way(one)), None)
            after = shut is not None and stretch.parts.index(part) > shut
            near, far = (found.head_head, found.head_tail) if after else (found.head_tail, found.head_head)
            head = far if math.isnan(near) and shut is None else near
            stands = head if not vented and air[high] > head else math.nan
        elif vented:
            fall = (part.start[2] - part.end[2]) / part.length * math.copysign(1.0, found.flow)
            speed = part_full_speed(found.flow, part.pipe.bore, fall, part.pipe.roughness, self.nu)
            share = min(abs(found.flow) * part.length / (speed * volume), 1.0)
        return Piece(number, low, high, foot, top, volume, share, stands)
