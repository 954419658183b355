"""Where air gets into pipe that the water would pull empty: by a mouth that takes air, by a branch that stands empty, by a
vent, or up a free end that the water leaves too slowly.

Pipe whose water would stand under less than the air's pressure is a siphon. It holds as long as nothing lets air in; where
air comes, water falls on as a drain does and pulls on nothing.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from ..layout.model import STEEP_MOUTH, Layout, Part, Stretch
from ..layout.traps import air_held
from ..water import GRAVITY
from .assemble import Assembly
from .fittings import part_loss, velocity_head
from .islands import components
from .network import Solution
from .read_back import heads_outside, leg_heads, stretch_flow
from .stages import mouth_head
from .stretches import end_bores, meets, mouths

__all__ = ["CARRIES", "CLEARS", "Pull", "drowned_mouths", "froude", "pulls"]

CARRIES, CLEARS = 0.3, 1.0
"""V/√(gD): under the first air gets back up against the water; over the second it is swept out (Wisner 1975, in Sanks,
looked up). Between them it is carried along, more or less."""

NEAR = 0.25
"""How much of a bore the water at a junction may stand above or under the crown of pipe with air in it, for it to be in doubt whether that
air gets on; common practice, no source."""

SUCTION = 1e-3
"""Less than so far under the axis the water is not said to be pulled [m]."""


@dataclass(frozen=True, slots=True)
class Pull:
    """A piece of pipework whose water is pulled: the `stretches` it lies in; `aired` True where air surely gets in by pipe
    that stands empty; `near` True where that hangs on so little of the water's depth that it may be otherwise; `mouth` True where the mouth that the water comes in by takes air; `froude` the largest V/√(gD) in it,
    infinite where neither that nor a free end lets air in; `begins` True where it holds a hump that air cannot rise out of, so that it begins with
    air in it though nothing lets any in."""

    stretches: frozenset[str]
    aired: bool
    near: bool
    mouth: bool
    froude: float
    begins: bool

    @property
    def lets_air_in(self) -> bool:
        """Whether air surely gets in."""
        return self.aired or (self.mouth and self.froude < CLEARS)


@dataclass(slots=True)
class _Interval:
    """A run of places in one stretch that are pulled, in the order of the flow: from its `first` place, to its `last` one, or up
    `to_end`, where a free end has the air's pressure; `hump` where it holds a place from which air would have to go down by more than a bore
    to get out."""

    stretch: Stretch
    first: bool
    last: bool
    to_end: bool
    froude: float
    hump: bool


def pulls(layout: Layout, assembly: Assembly, solution: Solution, vented: Collection[str]) -> tuple[Pull, ...]:
    """Find the pieces of pipework whose water is pulled, and whether air gets in.

    Parameters:
        vented: ids of stretches that air gets to already; they are left out.
    """
    return tuple(_Search(layout, assembly, solution, vented).found())


def drowned_mouths(layout: Layout, flows: Mapping[str, float]) -> dict[str, str]:
    """Find the crests and holes in floors over which the water stands, above a drop in which it carries its air down: their pipe may run
    full, and then it draws on them. A full drop is not steady where air gets in over its mouth: it gulps, between the two.

    Parameters:
        flows: by stretch id [m³/s].

    Returns:
        By line end, the id of its stretch.
    """
    found = {}
    for point, (end, stretch, side) in mouths(layout).items():
        into, bore = (-1.0 if side else 1.0) * flows[stretch.id], end_bores(stretch)[side]
        if end.in_wall or end.weir or end.siphon or end.heading[2] < STEEP_MOUTH:
            continue
        fastest = max((froude(part, into) for part in stretch.parts if part.is_pipe), default=0.0)
        if into > 0.0 and mouth_head("crest", into, bore) > 0.5 * bore and fastest >= CARRIES:
            found[point] = stretch.id
    return found


class _Search:
    def __init__(self, layout: Layout, assembly: Assembly, solution: Solution, vented: Collection[str]) -> None:
        self.layout = layout
        self.assembly = assembly
        self.solution = solution
        self.ends = layout.ends
        self.flows = stretch_flow(assembly, solution)
        self.outside = heads_outside(layout, assembly, solution)
        self.legs = leg_heads(layout, assembly, solution)
        self.vented = frozenset(vented)
        self.nu = layout.water.viscosity / layout.water.density

    def found(self) -> Iterator[Pull]:
        intervals = [one for stretch in self.layout.stretches for one in self.intervals(stretch)]
        at: dict[str, list[int]] = defaultdict(list)
        for number, one in enumerate(intervals):
            up, down = self.sides(one.stretch)
            if one.first:
                at[up].append(number)
            if one.last:
                at[down].append(number)
        joins = np.array([(numbers[0], other) for numbers in at.values() for other in numbers[1:]], dtype=np.int64)
        pieces: dict[int, list[_Interval]] = defaultdict(list)
        for one, label in zip(intervals, components(len(intervals), *joins.reshape(-1, 2).T).tolist(), strict=True):
            pieces[label].append(one)
        for piece in pieces.values():
            mouth = any(self.takes_air(one) for one in piece)
            free = mouth or any(self.ends_free(one) for one in piece)
            fastest = max(one.froude for one in piece) if free else math.inf
            low, usual, high = (any(self.aired(one, more) for one in piece) for more in (-NEAR, 0.0, NEAR))
            begins = any(one.hump for one in piece)
            yield Pull(frozenset(one.stretch.id for one in piece), usual, low != high, mouth, fastest, begins)

    def sides(self, stretch: Stretch) -> tuple[str, str]:
        """The points that a stretch's water comes from and goes to."""
        forward = self.flows[stretch.id] > 0.0
        return (stretch.tail, stretch.head) if forward else (stretch.head, stretch.tail)

    def intervals(self, stretch: Stretch) -> Iterator[_Interval]:
        """The places of a stretch that are pulled."""
        flow = self.flows[stretch.id]
        link = self.assembly.links[stretch.id]
        if flow == 0.0 or stretch.id in self.vented or link.bar is not None or not stretch.parts:
            return
        forward = flow > 0.0
        # From the downstream end up, and told from the upstream end down.
        side = 1 if forward else 0
        head = self.legs.get((stretch.id, side), self.outside[stretch.id][side])
        leaving = (link.end if forward else link.start)[1]
        head += leaving * velocity_head(flow, end_bores(stretch)[side], GRAVITY)
        places: list[tuple[bool, Part]] = []
        pairs = list(zip(stretch.parts, link.parts, strict=True))
        for part, k in reversed(pairs) if forward else pairs:
            below, above = (part.end, part.start) if forward else (part.start, part.end)
            places.append((self.pulled(part, flow, head, below[2]), part))
            head += part_loss(part, k, flow, self.nu, GRAVITY)
            places.append((self.pulled(part, flow, head, above[2]), part))
        places.reverse()
        begun = None
        for i, pulled in enumerate([*(pulled for pulled, _ in places), False]):
            if pulled and begun is None:
                begun = i
            elif not pulled and begun is not None:
                inside = [part for _, part in places[begun:i]]
                fastest = max(froude(part, flow) for part in inside)
                held = air_held(self.layout)
                hump = any(held[stretch.line, part.step, part.at] > part.pipe.bore for part in inside)
                yield _Interval(stretch, begun == 0, i == len(places), i >= len(places) - 1, fastest, hump)
                begun = None

    def pulled(self, part: Part, flow: float, head: float, height: float) -> bool:
        return head - velocity_head(flow, part.pipe.bore, GRAVITY) - height < -SUCTION

    def ends_free(self, one: _Interval) -> bool:
        """Whether what is pulled ends at a mouth in the air."""
        if not one.to_end:
            return False
        link = self.assembly.links[one.stretch.id].link
        end = self.ends.get(self.sides(one.stretch)[1])
        return end is not None and (end.kind == "open air" or bool(self.solution.falls[link]))

    def takes_air(self, one: _Interval) -> bool:
        """Whether what is pulled begins at a mouth that is not full."""
        return one.first and bool(self.solution.staged[self.assembly.links[one.stretch.id].link])

    def aired(self, one: _Interval, more: float = 0.0) -> bool:
        """Whether air surely gets in at either end of what is pulled: over a crest it always comes down with the water. Past water that
        stands `more` of a bore over the crown of pipe with air in it too."""
        up, down = self.sides(one.stretch)
        end = self.ends.get(up)
        if end is not None and end.port == "standpipe" and self.takes_air(one):
            return True
        return (one.first and self.opens(up, more)) or (one.last and self.opens(down, more))

    def opens(self, point: str, more: float) -> bool:
        """Whether air comes to a point where stretches meet, through pipe that stands empty or that air is in."""
        if point not in self.assembly.nodes:
            return False
        head = float(self.solution.heads[self.assembly.nodes[point]])
        seen: set[str] = set()
        queue = [point]
        while queue:
            here = queue.pop()
            for stretch, _ in meets(self.layout).get(here, ()):
                if stretch.id in seen:
                    continue
                seen.add(stretch.id)
                if stretch.id in self.vented:
                    if self.flows[stretch.id] != 0.0 and self.at_air(stretch, here, more):
                        return True
                    continue
                if self.flows[stretch.id] != 0.0 or any(k.shut for k in self.assembly.links[stretch.id].parts):
                    continue
                if any(min(part.start[2], part.end[2]) < head for part in stretch.parts):
                    continue
                other = stretch.head if here == stretch.tail else stretch.tail
                if self.lets_air_in(other) or any(self.breathes(part) for part in stretch.parts):
                    return True
                queue.append(other)
        return False

    def at_air(self, stretch: Stretch, point: str, more: float) -> bool:
        """Whether the water in a vented stretch stands no higher than its crown at a point, or `more` of a bore over it."""
        height = (stretch.parts[0].start if point == stretch.tail else stretch.parts[-1].end)[2]
        return float(self.solution.heads[self.assembly.nodes[point]]) <= height + (0.5 + more) * stretch.bore + SUCTION

    def breathes(self, part: Part) -> bool:
        """Whether a part has holes over the water that they spray into, or in the open air."""
        if part.kind != "spray bar" or part.vessel is None:
            return part.kind == "spray bar"
        return (
            min(part.start[2], part.end[2]) >= float(self.solution.heads[self.assembly.vessels[part.vessel]]) - SUCTION
        )

    def lets_air_in(self, point: str) -> bool:
        """Whether a line's end is open to the air."""
        end = self.ends.get(point)
        if end is None:
            return False
        if end.kind == "vessel":
            level = float(self.solution.heads[self.assembly.vessels[end.name or ""]])
            return end.place[2] >= level - SUCTION
        return end.kind == "open air"


def froude(part: Part, flow: float) -> float:
    """V/√(gD) of a flow in a part."""
    bore = part.pipe.bore
    return abs(flow) / (0.25 * math.pi * bore**2) / math.sqrt(GRAVITY * bore)
