"""Draws the new lines of a layout, a group of joined lines at a time: what a pump feeds, and what drains."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from .. import catalogue
from ..catalogue import PipeRow
from ..check import CheckResult
from ..hydraulics.part_full import capacity
from ..layout.model import End, Layout, Line, Vector
from ..layout.rewrite import quoted
from ..layout.words import DIRECTIONS
from ..upkeep.access import brim
from ..upkeep.tools import tools
from .laid import Laid, walk
from .place import free_name
from .router import Box, bodies
from .script import read_script
from .ways import STUB, Spread, Target, across, beside, spread, way_round

__all__ = ["OVER", "Drawer", "Stays", "series"]

PLAIN = ("run", "elbow", "sweep", "bend", "bend 45", "bend 22.5", "cap", "union", "tee", "wye", "reducer", "expander", "ball valve",
         "gate valve", "diaphragm valve", "butterfly valve", "check valve", "dry socket")  # fmt: skip
"""What may stand in a line that is laid anew: all of it can be left out, and valves are put in again where they are needed."""

VALVES = ("ball valve", "gate valve", "diaphragm valve", "butterfly valve")

SPEED = 1.0
"""Pushed pipe is as wide as keeps the water under this [m/s]: fast enough to keep it clean, slow enough to cost little head
(common practice, no source)."""

SPARE_FLOW, SPARE_DRAIN = 1.25, 1.5
"""What pipe is sized for, of what its vessels want, and of what a drain gets."""

OVER = 0.1
"""A pipe that ends in the air ends so far over its vessel's rim [m], where a hand sees what comes."""


class Stays(Exception):  # noqa: N818 - a reason to leave pipe as it is, no fault
    """Pipe that stays as it is, and why."""


class Drawer:
    """Draws the new lines of one layout."""

    def __init__(self, result: CheckResult) -> None:
        self.layout, self.flows = result.layout, result.flows
        self.script = read_script(result.layout.text)
        self.names = set(result.layout.lines)
        self.ids: set[str] = set()
        self.least = min((tool.bore_min for tool in tools(result.layout.rods)), default=0.0)

    def group(self, lines: Sequence[Line]) -> list[Laid]:
        """Lay the pipe of lines that tees join."""
        for line in lines:
            odd = next((part.kind for part in line.parts if part.kind not in PLAIN or part.step == 0), None)
            if odd is not None:
                raise Stays({"run": "has no steps", "spray bar": "has holes along it"}.get(odd, f"has a {odd}"))
            if line.name not in self.script.lines or self.script.lines[line.name].spread:
                raise Stays("stands in the file among several of its kind")
            if any(part.around for part in line.parts):
                raise Stays("lies where nobody gets at it, as the file says")
        ends = [(line, side, end) for line in lines for side, end in (("from", line.start), ("to", line.end))]
        pumps = [(line, end) for line, side, end in ends if end.kind == "pump"]
        open_ends = [(line, side, end) for line, side, end in ends if end.kind == "vessel"]
        if any(end.siphon is not None or end.float_valve is not None for _, _, end in open_ends):
            raise Stays("has a siphon or a float valve")
        if any(end.kind in ("draw", "open air") for _, _, end in ends):
            raise Stays("hangs on an end outside the vessels")
        if not pumps:
            return self.drains(open_ends)
        if len(pumps) > 1 or pumps[0][0].start is not pumps[0][1]:
            raise Stays("is shared by several pumps, or a pump draws from it")
        return self.feed(pumps[0][0], open_ends)

    def said(self, line: Line, side: str) -> str:
        """An end as the file has it."""
        return self.script.slice(self.script.lines[line.name].keys[side])

    # ------------------------------------------------------------------ what is pushed

    def feed(self, main: Line, ends: Sequence[tuple[Line, str, End]]) -> list[Laid]:
        """A riser, a main and spurs."""
        targets = self.targets(ends)
        if not targets:
            raise Stays("feeds no vessel")
        begin = main.parts[0].start
        if main.parts[0].heading_in[2] < 0.9:
            raise Stays("begins at a pump whose outlet does not look up")
        blocks = bodies(self.layout, self.around(main, [target.vessel for target in targets]))
        if len(targets) == 1:
            return self.alone(main, targets[0], blocks)
        ways = [way for axis in (0, 1) for side in beside(begin, targets, 1 - axis)
                if (way := spread(begin, targets, axis, side)) is not None and not way.hits(blocks)]  # fmt: skip
        if not ways:
            raise Stays("has ends that no one straight main serves")
        return self.pushed(main, min(ways, key=lambda way: way.worth))

    def around(self, line: Line, vessels: Iterable[str]) -> set[str]:
        """The vessels that a line may pass the walls of: those it ends in, and the one its pump stands in."""
        pump = self.layout.pumps.get(line.start.name or "")
        return {*vessels, *((pump.vessel,) if pump is not None and pump.vessel is not None else ())}

    def alone(self, main: Line, target: Target, blocks: Sequence[Box]) -> list[Laid]:
        """All that a pump feeds is one vessel: the way with the fewest corners."""
        begin = main.parts[0].start
        end = target.place if target.over is None else (*target.place[:2], max(target.over, begin[2] + 0.3))
        comes = [way for way in DIRECTIONS.values() if way[2] <= 0.0]
        row = self.by_speed(main.parts[0].pipe.name, target.flow)
        way = way_round(begin, [(0.0, 0.0, 1.0)], end, comes, blocks, row.bore)
        if way is None:
            raise Stays("has vessels in its way")
        throttled = any(part.kind in VALVES for part in main.parts)
        steps = walk(way, valve=self.valve(target) if throttled else None, check=_checked(main))
        return [Laid(main.name, row, self.said(main, "from"), tuple(steps), target.said, way)]

    def targets(self, ends: Sequence[tuple[Line, str, End]]) -> list[Target]:
        """Where the water is to go: one end for each vessel, the one that gets most."""
        best: dict[str, tuple[float, Line, str, End]] = {}
        for line, side, end in ends:
            flow = abs(self.flows.ends[f"{line.name}.{side}"].flow)
            if end.name is not None and (end.name not in best or flow > best[end.name][0]):
                best[end.name] = (flow, line, side, end)
        found = []
        for name, (flow, line, side, end) in best.items():
            wants = self.layout.vessels[name].wants
            design = flow if wants is None else SPARE_FLOW * wants
            if design > 0.0:
                over = brim(self.layout.vessels[name]) + OVER if end.port == "open" and not end.submerged else None
                found.append(Target(name, end.place, design, line, self.said(line, side), over))
        return found

    def pushed(self, main: Line, way: Spread) -> list[Laid]:
        """Write a riser, a main and its spurs."""
        series = main.parts[0].pipe.name
        left = sum(target.flow for target in way.order)
        last = way.order[-1]
        places = [*way.trunk, *way.stations, *across(way.stations[-1], last.place)]
        pipes = [self.by_speed(series, left)] * (len(way.trunk) - 1)
        tees: dict[int, str] = {}
        spurs: list[Laid] = []
        for number, (target, station) in enumerate(zip(way.order, way.stations, strict=True)):
            pipes.append(self.by_speed(series, left))
            if target is last:
                break
            tee = self.free(f"{target.vessel} tee")
            tees[len(way.trunk) + number] = tee
            spurs.append(self.spur(target, tee, (station, *across(station, target.place))))
            left -= target.flow
        pipes += [pipes[-1]] * (len(places) - 1 - len(pipes))
        valve = self.valve(last) if spurs else None
        steps = walk(places, tees=tees, pipes=pipes, valve=valve, check=_checked(main))
        return [Laid(main.name, pipes[0], self.said(main, "from"), tuple(steps), last.said, tuple(places)), *spurs]

    def spur(self, target: Target, tee: str, way: tuple[Vector, ...]) -> Laid:
        """From a tee of the main to a vessel."""
        row = self.by_speed(target.line.parts[-1].pipe.name, target.flow)
        name = target.line.name
        if any(part.kind in ("tee", "wye") for part in target.line.parts):
            name = self.line_name(f"{target.vessel} feed")
        return Laid(name, row, tee, tuple(walk(way, valve=self.valve(target))), target.said, way)

    def valve(self, target: Target) -> str:
        """The vessel's own valve again, or a new one."""
        own = next(
            (part for part in target.line.parts if part.kind in VALVES and part.id and quoted(part.id) not in self.ids),
            None,
        )
        kind, name = (
            ("ball valve", self.free(f"{target.vessel} valve")) if own is None else (own.kind, quoted(own.id or ""))
        )
        self.ids.add(name)
        stood = [part.opening for part in target.line.parts if part.kind in VALVES]
        if self.layout.vessels[target.vessel].wants is None and stood and 0.0 < min(stood) < 1.0:
            # Where nothing is wanted nothing is set by it: it stands as it stood.
            return f"{kind}: {{id: {name}, opening: {100.0 * min(stood):g} %}}"
        return f"{kind}: {name}"

    def free(self, name: str) -> str:
        """A name that nothing has yet, as the file says it."""
        said = free_name(self.layout, name)
        while said in self.ids:
            name = f"{name} again"
            said = free_name(self.layout, name)
        self.ids.add(said)
        return said

    def line_name(self, name: str) -> str:
        """A name that no line has yet."""
        while name in self.names:
            name = f"{name} again"
        self.names.add(name)
        return name

    def by_speed(self, like: str, flow: float) -> PipeRow:
        """The smallest pipe of a series that keeps a flow [m³/s] under the speed and that a rod at hand cleans."""
        rows = [row for row in series(like) if row.bore >= self.least - 1e-9] or series(like)
        return next((row for row in rows if flow <= SPEED * math.pi / 4.0 * row.bore**2), rows[-1])

    # ------------------------------------------------------------------ what drains

    def drains(self, ends: Sequence[tuple[Line, str, End]]) -> list[Laid]:
        """A line of its own from each way out to where the water goes."""
        out: list[tuple[Line, str, End]] = []
        into: list[tuple[Line, str, End]] = []
        for line, side, end in ends:
            flow = self.flows.ends[f"{line.name}.{side}"].flow * (1.0 if side == "from" else -1.0)
            leaves = flow > 0.0 or (flow == 0.0 and end.port == "standpipe")
            (out if leaves else into).append((line, side, end))
        if len(into) != 1 or not out:
            raise Stays("carries water to and fro, or nowhere" if out else "drains nothing")
        sink_line, sink_side, sink = into[0]
        return [
            self.drain(line, side, end, self.said(sink_line, sink_side), sink, n)
            for n, (line, side, end) in enumerate(out)
        ]

    def drain(self, line: Line, side: str, end: End, said: str, sink: End, number: int) -> Laid:
        """Down, along with a steady fall, and down again."""
        flow = abs(self.flows.ends[f"{line.name}.{side}"].flow)
        if end.port == "open":
            raise Stays("begins at an open end")
        east, north, foot = sink.place
        start = end.place
        # Water comes out of a standpipe's foot downwards, and of a wall sideways.
        sideways = abs(end.heading[2]) < 0.5
        x, y, z = (s - STUB * h if sideways else s for s, h in zip(start, end.heading, strict=True))
        aside = STUB * number
        dx, dy = east - x, north - y
        if abs(dx) >= abs(dy):
            dy += aside
        else:
            dx += aside
        pipe = line.parts[0].pipe if side == "from" else line.parts[-1].pipe
        row = _by_fall(self.layout, pipe.name, flow * SPARE_DRAIN, self.layout.limits["least fall"])
        level = [way for way in DIRECTIONS.values() if way[2] == 0.0]
        blocks = bodies(self.layout, [end.name or "", sink.name or ""])
        way = way_round((x, y, foot), level, (x + dx, y + dy, foot), level, blocks, row.bore)
        if way is None:
            raise Stays("has vessels in its way")
        legs = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(way)]
        along = sum(abs(a) + abs(b) for a, b in legs)
        fall = self.layout.limits["least fall"] * 1.1 * along
        # Over the rim and in, without another corner, where there is the height for it.
        rim = brim(self.layout.vessels[sink.name or ""]) + OVER
        if sink.port == "open" and not sink.submerged and z - fall - max(rim, foot) > 0.1:
            foot = max(rim, foot)
        height = z - foot - fall
        comes_down = sink.heading[2] < -0.5 and foot == sink.place[2]
        last = min(0.3, height / 2.0) if comes_down else 0.0
        first = height - last
        if first < 0.1:
            raise Stays("has no height to be laid with a fall")
        places: list[Vector] = [*([start] if sideways else []), (x, y, z), (x, y, z - first)]
        for a, b in legs:
            p, q, r = places[-1]
            places.append((p + a, q + b, r - fall * (abs(a) + abs(b)) / along))
        if last:
            p, q, r = places[-1]
            places.append((p, q, r - last))
        return Laid(line.name, row, self.said(line, side), tuple(walk(places)), said, tuple(places))


def _checked(line: Line) -> bool:
    """Whether a line has a check valve that lets its water through."""
    return any(part.kind == "check valve" for part in line.parts)


def _by_fall(layout: Layout, like: str, flow: float, fall: float) -> PipeRow:
    """The smallest pipe of a series that carries a flow [m³/s] part-full, and no smaller than a drain is."""
    nu = layout.water.viscosity / layout.water.density
    rows = [row for row in series(like) if row.bore >= 0.03]
    return next((row for row in rows if capacity(row.bore, fall, 1e-5, nu) >= flow), rows[-1])


def series(like: str) -> list[PipeRow]:
    """The pipes of a series, the smallest first; pvc where a line is of something that has none."""
    name = like if like in catalogue.pipes() and not like.startswith("hose") else "pvc 25"
    return sorted(catalogue.series(name), key=lambda row: row.bore)
