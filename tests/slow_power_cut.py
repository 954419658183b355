"""A slow, plain second way to where water comes to rest after a power cut: pipe cut into short cells, water moved cell by
cell and spoonful by spoonful, with flood fill in place of any theory of air and barriers.

At each step the highest giver moves: a vessel whose water covers a pipe end gives a spoonful, or air takes the cell of water
beside it. What moves goes to the lowest place that it reaches: through cells full of water over any hump, through cells
full of air only below where it came from. Water, and air after it, passes a check valve along the walk only. Pipe that surely runs with
air over its water is empty but for its stream, cell by cell as deep as friction on its fall has it, which runs off first.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable
from functools import partial
from itertools import chain

from plumbline.hydraulics.flows import Flows
from plumbline.layout.model import Layout, Part
from plumbline.water import GRAVITY

CELL = 0.02
"""Greatest length of a cell [m]."""

SPOON = 2e-4
"""What a vessel gives at a time, as fall of its level [m]."""

LEAST = 1e-8
"""Least of a spoonful, where more would be more than the vessel has to give [m]."""

NEAR = 1e-5
"""Levels nearer than this are the same [m]."""


def _under(part: Part) -> float:
    """How far under its axis still water runs along a part: half a bore, in what lies or turns into what lies [m]."""
    return 0.5 * part.pipe.bore * (min(abs(part.heading_in[2]), abs(part.heading_out[2])) <= 0.7)


def _segment(depth: float, bore: float) -> tuple[float, float, float]:
    """Area [m²], hydraulic radius [m] and width of the surface [m] of water in round pipe."""
    angle = math.acos(1.0 - 2.0 * depth / bore)
    area, wetted = bore**2 / 4.0 * (angle - math.sin(angle) * math.cos(angle)), bore * angle
    return area, area / wetted, bore * math.sin(angle)


def _depth(bore: float, enough: Callable[[float], bool]) -> float:
    """The least depth that is enough, by halving [m]."""
    low, high = 1e-6 * bore, 0.82 * bore
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _friction(speed: float, wide: float, rough: float, nu: float) -> float:
    """Darcy's factor (Swamee and Jain 1976, from memory), or 64/Re."""
    re = abs(speed) * wide / nu
    return 64.0 / re if re < 2300.0 else 0.25 / math.log10(rough / (3.7 * wide) + 5.74 / re**0.9) ** 2


def _carries(flow: float, part: Part, fall: float, nu: float, depth: float) -> bool:
    """Whether a stream so deep carries a flow down a fall: V² = 8 g R S/f."""
    area, radius, _ = _segment(depth, part.pipe.bore)
    speed = flow / area
    return speed**2 * _friction(speed, 4.0 * radius, part.pipe.roughness, nu) <= 8.0 * GRAVITY * radius * fall


def stream_share(flow: float, part: Part, fall: float, nu: float) -> float:
    """How much of a part's section a stream fills; all where it does not fall so that it carries it part-full."""
    bore = part.pipe.bore
    if fall <= 0.0 or not _carries(flow, part, fall, nu, 0.82 * bore):
        return 1.0
    depth = _depth(bore, partial(_carries, flow, part, fall, nu))
    return _segment(depth, bore)[0] / (math.pi / 4.0 * bore**2)


def _critical(flow: float, bore: float) -> float:
    """The energy of the critical depth over the floor, Q² T = g A³, or of pipe as good as full [m]."""

    def fast(depth: float) -> bool:
        area, _, width = _segment(depth, bore)
        return flow**2 * width <= GRAVITY * area**3

    depth = _depth(bore, fast)
    area, _, _ = _segment(depth, bore)
    return depth + (flow / area) ** 2 / (2.0 * GRAVITY)


class SlowCut:
    """The cells of a layout, and its vessels, which all have an area. `flows` tell where the water stands to begin with, and what runs."""

    def __init__(self, layout: Layout, flows: Flows, *, other_first: bool = False) -> None:
        self.other_first = other_first
        """Whether of givers that stand level the other one goes first."""
        self.vessels = layout.vessels
        self.level = {}
        for name, vessel in layout.vessels.items():
            found = flows.vessels[name].level
            level = vessel.level if found is None else found
            self.level[name] = level if vessel.rim is None else min(level, vessel.base + vessel.rim)
        self.spilled = dict.fromkeys(layout.vessels, 0.0)
        self.ground = 0.0
        self.height: list[float] = []
        self.volume: list[float] = []
        self.wet: list[bool] = []
        self.downstream: dict[int, set[int]] = defaultdict(set)
        """Where water in a cell may go on to."""
        self.upstream: dict[int, set[int]] = defaultdict(set)
        """Where air may come into a cell from."""
        self.opens: dict[int, str | None] = {}
        joints: dict[tuple[str, int], int] = {}
        for line in layout.lines.values():
            here = joints[line.name, 0] = self.cell(line.start.place[2], 0.0)
            for number, part in enumerate(line.parts):
                pieces = max(int(part.length / CELL + 1.0), 2) if part.length > 0.0 else 0
                rise = part.end[2] - part.start[2]
                for piece in range(pieces):
                    there = self.cell(
                        part.start[2] + rise * (piece + 0.5) / pieces - _under(part),
                        3.141592653589793 / 4 * part.pipe.bore**2 * part.length / pieces,
                    )
                    here = self.link(here, there)
                there = joints[line.name, number + 1] = self.cell(part.end[2], 0.0)
                before = joints[line.name, number]
                self.height[before] = min(self.height[before], part.start[2] - _under(part))
                self.height[there] -= _under(part)
                if part.opening > 0.0:
                    self.link(here, there, one_way=part.kind == "check valve")
                here = there
        for line in layout.lines.values():
            for end, joint in ((line.start, 0), (line.end, len(line.parts))):
                if end.port == "standpipe" or abs(end.heading[2]) > 0.7:
                    self.height[joints[line.name, joint]] = end.place[2]
        pumps: dict[str, list[int]] = defaultdict(list)
        for line in layout.lines.values():
            for end, joint in ((line.start, joints[line.name, 0]), (line.end, joints[line.name, len(line.parts)])):
                if end.kind == "tee":
                    tee = layout.tees[end.name or ""]
                    parts = layout.lines[tee.line].parts
                    at = [part.step for part in parts].index(tee.step)
                    here = [joint, joints[tee.line, at], joints[tee.line, at + 1]]
                    lowest = min(self.height[one] for one in here)
                    for one in here:
                        self.height[one] = lowest
                    self.link(joint, here[1])
                elif end.kind == "pump":
                    for other in pumps[end.name or ""]:
                        self.link(other, joint)
                    pumps[end.name or ""].append(joint)
                    if (vessel := layout.pumps[end.name or ""].vessel) is not None:
                        self.opens[joint] = vessel
                elif end.kind in ("vessel", "open air"):
                    self.opens[joint] = end.name
        # Upright pipe begins where the water of pipe that lies falls into it.
        for line in layout.lines.values():
            for number in range(len(line.parts)):
                before, there = joints[line.name, number], joints[line.name, number + 1]
                top = max(self.height[before], self.height[there])
                for cell in range(before + 1, there):
                    self.height[cell] = min(self.height[cell], top)
        self.pumped = self.joined(joint for found in pumps.values() for joint in found)
        self.let_air_in(layout, flows, joints)
        self.let_still_pipe_drain(layout, flows, joints)
        self.streams = dict.fromkeys(range(len(self.height)), 0.0)
        self.let_streams_run(layout, flows, joints)
        self.first, self.first_piped = self.water(), self.piped()
        self.run_off()

    def joined(self, joints: Iterable[int]) -> set[int]:
        """The cells of pipe that joins some joints."""
        queue = list(joints)
        seen = set(queue)
        while queue:
            cell = queue.pop()
            new = (self.downstream[cell] | self.upstream[cell]) - seen
            seen |= new
            queue += new
        return seen

    def let_air_in(self, layout: Layout, flows: Flows, joints: dict[tuple[str, int], int]) -> None:
        """Empty the cells that hold air while the pumps run: from open ends in the air, through pipe in which nothing
        flows, as far down as the water stands in it."""
        stands = dict.fromkeys(range(len(self.height)), math.inf)
        for stretch in layout.stretches:
            found = flows.stretches[stretch.id]
            if found.flow != 0.0:
                continue
            numbers = [number for number, part in enumerate(layout.lines[stretch.line].parts) if part in stretch.parts]
            head, shut = (
                found.head_tail,
                any(part.opening == 0.0 or part.kind == "check valve" for part in stretch.parts),
            )
            if math.isnan(head) and not shut:
                head = found.head_head
            for number in numbers:
                part = layout.lines[stretch.line].parts[number]
                if part.opening == 0.0 or part.kind == "check valve":
                    head = found.head_head
                else:
                    for cell in range(joints[stretch.line, number] + 1, joints[stretch.line, number + 1] + 1):
                        stands[cell] = math.inf if math.isnan(head) else head
        queue = [joint for joint in self.opens if not self.under_water(joint)]
        while queue:
            cell = queue.pop()
            if stands[cell] < self.height[cell] and self.wet[cell]:
                self.wet[cell] = False
                queue += self.downstream[cell]

    def let_still_pipe_drain(self, layout: Layout, flows: Flows, joints: dict[tuple[str, int], int]) -> None:
        """Empty pipe that no pump pushes into, in which nothing flows and into which air comes, of what does not stay in it
        anyway; that ran out long ago."""
        old = dict(self.level), dict(self.spilled), self.ground
        for line in layout.lines:
            joined = self.joined([joints[line, 0]])
            ids = [one.id for one in layout.stretches if joints[one.line, 0] in joined]
            open_to_air = any(joint in joined and not self.under_water(joint) for joint in self.opens)
            if not joined & self.pumped and open_to_air and all(flows.stretches[name].flow == 0.0 for name in ids):
                while self.step(joined):
                    pass
        self.level, self.spilled, self.ground = old

    def let_streams_run(self, layout: Layout, flows: Flows, joints: dict[tuple[str, int], int]) -> None:
        """Let air into the cells over which it stands while water runs, from the water beyond upwards: the head is what friction asks for,
        or the critical depth in what lies, or the velocity head in what stands. What is left is the stream, where the pipe falls."""
        nu = layout.water.viscosity / layout.water.density
        for stretch in layout.stretches:
            found = flows.stretches[stretch.id]
            if not found.vented or stretch.id in flows.doubtful or found.flow == 0.0:
                continue
            forward, flow = found.flow > 0.0, abs(found.flow)
            head = found.head_head if forward else found.head_tail
            parts = [one for one in enumerate(layout.lines[stretch.line].parts) if one[1] in stretch.parts]
            for number, part in parts[::-1] if forward else parts:
                bore = part.pipe.bore
                speed = flow / (math.pi / 4.0 * bore**2)
                fall = (part.start[2] - part.end[2]) / part.length * (1 if forward else -1) if part.length else 0.0
                cells = list(range(joints[stretch.line, number] + 1, joints[stretch.line, number + 1]))
                share = stream_share(flow, part, fall, nu)
                for at, cell in list(enumerate(cells))[:: -1 if forward else 1]:
                    axis = part.start[2] + (part.end[2] - part.start[2]) * (at + 0.5) / len(cells)
                    along = part.length / len(cells) / bore * _friction(speed, bore, part.pipe.roughness, nu)
                    lies = _under(part) > 0.0
                    least = axis - 0.5 * bore + _critical(flow, bore) if lies else axis + speed**2 / (2.0 * GRAVITY)
                    head = max(head + along * speed**2 / (2.0 * GRAVITY), least)
                    if head - speed**2 / (2.0 * GRAVITY) < axis + 0.5 * bore:
                        self.wet[cell] = share == 1.0
                        self.streams[cell] = share * self.volume[cell] * (share < 1.0)
                        for joint in self.upstream[cell] | self.downstream[cell]:
                            self.wet[joint] = self.wet[joint] and self.volume[joint] > 0.0

    def run_off(self) -> None:
        """Let the streams run off, each down to the lowest place that it reaches."""
        for cell, volume in self.streams.items():
            if volume > 0.0 and (out := self.lowest([cell], self.height[cell], set(), None)) is not None:
                self.into(out, volume)
                self.streams[cell] = 0.0

    def cell(self, height: float, volume: float) -> int:
        self.height.append(height)
        self.volume.append(volume)
        self.wet.append(True)
        return len(self.height) - 1

    def link(self, a: int, b: int, *, one_way: bool = False) -> int:
        self.downstream[a].add(b)
        self.upstream[b].add(a)
        if not one_way:
            self.downstream[b].add(a)
            self.upstream[a].add(b)
        return b

    def stands(self, joint: int) -> float:
        """What stands at an opening: the vessel's level, or the opening's own height."""
        vessel = self.opens[joint]
        return self.height[joint] if vessel is None else max(self.height[joint], self.level[vessel])

    def under_water(self, joint: int) -> bool:
        vessel = self.opens[joint]
        return vessel is not None and self.level[vessel] > self.height[joint] + 1e-7

    def lowest(self, start: list[int], head: float, shut: set[int], own: str | None) -> int | None:
        """The lowest opening that water at a head reaches from some cells, not by the cells in `shut`."""
        seen, queue, best = set(start), list(start), None
        while queue:
            cell = queue.pop()
            opens = cell in self.opens and (own is None or self.opens[cell] != own)
            if opens and self.stands(cell) < head - NEAR and (best is None or self.stands(cell) < self.stands(best)):
                best = cell
            for other in self.downstream[cell]:
                if other not in seen and other not in shut and (self.wet[other] or self.height[other] < head - 1e-7):
                    seen.add(other)
                    queue.append(other)
        return best

    def empty_cell(self, joint: int, head: float, area: float) -> int | None:
        """The first empty cell that a vessel's water runs into and fills, and leaves the vessel above its way."""
        seen, queue = {joint}, [joint]
        while queue:
            cell = queue.pop()
            left = head - self.volume[cell] / area - NEAR
            beside = [self.height[cell], *(self.height[other] for other in self.upstream[cell])]
            edge = 0.5 * (self.height[cell] + max(beside))
            if not self.wet[cell] and self.volume[cell] > 0.0 and edge < left:
                return cell
            for other in self.downstream[cell]:
                if other not in seen and self.height[other] < left:
                    seen.add(other)
                    queue.append(other)
        return None

    def into(self, joint: int, volume: float) -> None:
        vessel = self.opens[joint]
        if vessel is None:
            self.ground += volume
            return
        area, stated = self.vessels[vessel].area, self.vessels[vessel]
        assert area is not None
        room = float("inf") if stated.rim is None else max(area * (stated.base + stated.rim - self.level[vessel]), 0.0)
        self.level[vessel] += min(volume, room) / area
        self.spilled[vessel] += max(volume - room, 0.0)

    def step(self, pipe: set[int] | None = None) -> bool:
        """Move the highest giver that can, or the highest cell of some pipe alone; False where none can."""
        givers: list[tuple[float, int, bool]] = []
        for joint in self.opens:
            if self.under_water(joint):
                givers.append((self.stands(joint), joint, True))
            elif self.wet[joint]:
                givers.append((self.height[joint], joint, False))
        for cell, wet in enumerate(self.wet):
            if wet and (dry := [other for other in self.upstream[cell] if not self.wet[other]]):
                givers.append((max(0.5 * (self.height[cell] + self.height[other]) for other in dry), cell, False))

        # What drains down by itself does so first, as the fast way has it; then the highest; air comes into an end as soon
        # as it is uncovered.
        def order(giver: tuple[float, int, bool]) -> tuple[bool, float]:
            return giver[1] not in self.pumped, giver[0] - (NEAR if giver[2] else 0.0)

        # In pipe that lies level air comes in over the water that leaves, once nothing else runs.
        inside = [giver for giver in givers if pipe is None or (giver[1] in pipe and not giver[2])]
        ranked = sorted(inside[::-1] if self.other_first else inside, key=order, reverse=True)
        moves = ((giver, False) for giver in ranked), ((giver, True) for giver in ranked if not giver[2])
        for (head, cell, vessel), last in chain(*moves):
            if vessel:
                name = self.opens[cell]
                assert name is not None
                area = self.vessels[name].area
                assert area is not None
                out = self.lowest([cell], head, set(), name)
                if out is not None:
                    # No more than makes the two level.
                    other = self.opens[out]
                    room = (
                        (self.vessels[other].area or 0.0) if other is not None and self.under_water(out) else math.inf
                    )
                    covered = (
                        self.height[joint]
                        for joint in self.opens
                        if self.opens[joint] == name and self.under_water(joint)
                    )
                    fall = min(
                        SPOON, (head - self.stands(out)) / (1.0 + area / room), *(head - height for height in covered)
                    )
                    while fall > LEAST and self.lowest([cell], head - fall, set(), name) is None:
                        fall *= 0.5
                    self.level[name] -= fall
                    self.into(out, fall * area)
                    return True
                empty = self.empty_cell(cell, head, area)
                if empty is not None:
                    self.wet[empty] = True
                    self.level[name] -= self.volume[empty] / area
                    return True
            else:
                dry = {
                    other
                    for other in self.upstream[cell]
                    if not self.wet[other] and not (last and abs(self.height[other] - self.height[cell]) < 1e-7)
                }
                outer = {cell} if cell in self.opens else set()
                out = self.lowest(
                    [
                        other
                        for other in self.downstream[cell]
                        if other not in dry and (self.wet[other] or self.height[other] < head + 1e-7 * last)
                    ],
                    head + 2e-7 * last,
                    dry | outer,
                    None,
                )
                if out is not None and out != cell:
                    self.wet[cell] = False
                    self.into(out, self.volume[cell])
                    return True
        return False

    def water(self) -> float:
        """All water [m³]."""
        stored = sum((vessel.area or 0.0) * (self.level[name] - vessel.base) for name, vessel in self.vessels.items())
        return stored + self.piped() + sum(self.spilled.values()) + self.ground

    def piped(self) -> float:
        """What stands in the pipes [m³]."""
        return sum(volume for volume, wet in zip(self.volume, self.wet, strict=True) if wet) + sum(
            self.streams.values()
        )


def slow_cut(layout: Layout, flows: Flows, *, other_first: bool = False) -> SlowCut:
    """Let a layout's water come to rest, cell by cell."""
    cut = SlowCut(layout, flows, other_first=other_first)
    while cut.step():
        pass
    return cut
