"""A slow, plain second way to where water comes to rest after a power cut: pipe cut into short cells, water moved cell by
cell and spoonful by spoonful, with flood fill in place of any theory of air and barriers.

At each step the highest giver moves: a vessel whose water covers a pipe end gives a spoonful, or air takes the cell of water
beside it. What moves goes to the lowest place that it reaches: through cells full of water over any hump, through cells
full of air only below where it came from. Check valves are taken to hold; part-full drains are not modelled.
"""

from __future__ import annotations

from collections import defaultdict

from plumbline.layout.model import Layout

CELL = 0.02
"""Greatest length of a cell [m]."""

SPOON = 2e-4
"""What a vessel gives at a time, as fall of its level [m]."""


class SlowCut:
    """The cells of a layout whose pipe is full, and its vessels, which all have an area."""

    def __init__(self, layout: Layout) -> None:
        self.vessels = layout.vessels
        self.level = {name: vessel.level for name, vessel in layout.vessels.items()}
        self.spilled = dict.fromkeys(layout.vessels, 0.0)
        self.ground = 0.0
        self.height: list[float] = []
        self.volume: list[float] = []
        self.links: dict[int, set[int]] = defaultdict(set)
        self.opens: dict[int, str | None] = {}
        joints: dict[tuple[str, int], int] = {}
        for line in layout.lines.values():
            here = joints[line.name, 0] = self.cell(line.start.place[2], 0.0)
            for number, part in enumerate(line.parts):
                pieces = max(int(part.length / CELL + 1.0), 2) if part.length > 0.0 else 0
                rise = part.end[2] - part.start[2]
                for piece in range(pieces):
                    there = self.cell(part.start[2] + rise * (piece + 0.5) / pieces,
                                      3.141592653589793 / 4 * part.pipe.bore**2 * part.length / pieces)  # fmt: skip
                    here = self.link(here, there)
                there = joints[line.name, number + 1] = self.cell(part.end[2], 0.0)
                if part.kind != "check valve" and part.opening > 0.0:
                    self.link(here, there)
                here = there
        for line in layout.lines.values():
            for end, joint in ((line.start, joints[line.name, 0]), (line.end, joints[line.name, len(line.parts)])):
                if end.kind == "tee":
                    tee = layout.tees[end.name or ""]
                    parts = layout.lines[tee.line].parts
                    self.link(joint, joints[tee.line, [part.step for part in parts].index(tee.step)])
                elif end.kind == "pump":
                    self.opens[joint] = layout.pumps[end.name or ""].vessel
                elif end.kind in ("vessel", "open air"):
                    self.opens[joint] = end.name
        self.wet = [True] * len(self.height)

    def cell(self, height: float, volume: float) -> int:
        self.height.append(height)
        self.volume.append(volume)
        return len(self.height) - 1

    def link(self, a: int, b: int) -> int:
        self.links[a].add(b)
        self.links[b].add(a)
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
            if opens and self.stands(cell) < head - 1e-7 and (best is None or self.stands(cell) < self.stands(best)):
                best = cell
            for other in self.links[cell]:
                if other not in seen and other not in shut and (self.wet[other] or self.height[other] < head - 1e-7):
                    seen.add(other)
                    queue.append(other)
        return best

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

    def step(self) -> bool:
        """Move the highest giver that can; False where none can."""
        givers: list[tuple[float, int, bool]] = []
        for joint in self.opens:
            if self.under_water(joint):
                givers.append((self.stands(joint), joint, True))
            elif self.wet[joint]:
                givers.append((self.height[joint], joint, False))
        for cell, wet in enumerate(self.wet):
            if wet and (dry := [other for other in self.links[cell] if not self.wet[other]]):
                givers.append((max(0.5 * (self.height[cell] + self.height[other]) for other in dry), cell, False))
        for head, cell, vessel in sorted(givers, reverse=True):
            if vessel:
                name = self.opens[cell]
                assert name is not None
                area = self.vessels[name].area
                assert area is not None
                if not self.wet[cell] and self.height[cell] >= head:
                    continue
                out = self.lowest([cell], head, set(), name)
                if out is not None:
                    self.level[name] -= SPOON
                    self.into(out, SPOON * area)
                    return True
            else:
                dry = {other for other in self.links[cell] if not self.wet[other]}
                outer = {cell} if cell in self.opens else set()
                out = self.lowest([other for other in self.links[cell] if other not in dry
                                   and (self.wet[other] or self.height[other] < head)], head, dry | outer, None)  # fmt: skip
                if out is not None and out != cell:
                    self.wet[cell] = False
                    self.into(out, self.volume[cell])
                    return True
        return False

    def water(self) -> float:
        """All water [m³]."""
        stored = sum((vessel.area or 0.0) * (self.level[name] - vessel.base) for name, vessel in self.vessels.items())
        pipes = sum(volume for volume, wet in zip(self.volume, self.wet, strict=True) if wet)
        return stored + pipes + sum(self.spilled.values()) + self.ground


def slow_cut(layout: Layout) -> SlowCut:
    """Let a layout's water come to rest, cell by cell."""
    cut = SlowCut(layout)
    while cut.step():
        pass
    return cut
