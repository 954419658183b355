"""The new lines of a layout: of what pumps feed, of what they draw from, and of what drains."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from ..catalogue.rows import PipeRow
from ..hydraulics.part_full import capacity
from ..hydraulics.pumps import PumpCurves
from ..hydraulics.risers import curve_of
from ..hydraulics.valve_service import adjustable
from ..layout.model import End, Layout, Line, Vector
from ..layout.rewrite import quoted
from ..layout.words import DIRECTIONS
from ..upkeep.access import brim
from .laid import Laid, grid_of, walk
from .sheet import LEVEL, OVER, Head, Sheet, Stays, series
from .ways import (
    SLOPE,
    STUB,
    Box,
    Spread,
    Target,
    across,
    beside,
    bodies,
    both_ways,
    falling,
    level_of,
    on,
    spread,
    way_round,
)

__all__ = ["Drawer"]

SUCTION = 0.6
"""What a pump draws from is wider yet [m/s], since head lost there is lost to its inlet (common practice, no source)."""

SPARE = 1.25
"""What pushed pipe is sized for, of what its vessels want."""

DRAIN_SPARE = 1.5
"""What drains are sized for, of what they get."""

UP: Vector = (0.0, 0.0, 1.0)


class Drawer(Sheet):
    """Draws the new lines of one layout. Beds that drain one into the next are `chained`: each gets a spur of its own, and drains to where the last does."""

    @cached_property
    def fed_by_beds(self) -> dict[str, Line]:
        """The beds that another bed's drain feeds and nothing else, each with that drain."""
        into, vessels = defaultdict[str, list[Line]](list), self.layout.vessels
        for line in self.layout.lines.values():
            for end in (line.start, line.end):
                into[end.name or ""].append(line)
        out = {}
        for name, lines in into.items():
            comes = [line for line in lines if line.end.name == name and line.end.kind == "vessel"]
            beds = [vessels.get(end.name or "") for line in comes[:1] for end in (line.start, line.end)]
            if len(comes) == 1 and all(bed is not None and bed.holds == "plants" and bed.wants for bed in beds):
                out[name] = comes[0]
        return out

    @cached_property
    def chained(self) -> dict[str, tuple[tuple[Line, str, End], int]]:
        """The end that the water of a chain of beds goes to, by the name of each bed that another feeds, and how many beds that is on; no chain that has
        not the height for it."""
        out: dict[str, tuple[tuple[Line, str, End], int]] = {}
        for name in self.fed_by_beds:
            last, count = name, 1
            drains: list[Line] = []
            while count <= len(self.layout.vessels):
                drains = [line for line in self.layout.lines.values() if line.start.name == last]
                if len(drains) != 1 or drains[0].end.kind != "vessel" or drains[0].end.name not in self.fed_by_beds:
                    break
                last, count = drains[0].end.name or "", count + 1
            if len(drains) == 1 and drains[0].end.kind == "vessel" and drains[0].end.name not in self.fed_by_beds:
                out[name] = (drains[0], "to", drains[0].end), count
        short = {name for name, to in out.items() if not self.can_drain(self.fed_by_beds[name], *to)}
        return {name: to for name, to in out.items() if not short & self.upstream(name)}

    def parts(self, lines: Sequence[Line]) -> bool:
        """Whether lines laid anew take a chain of beds apart: a drain from one to the next, or what feeds the first of them."""
        begun = {line.end.name or "" for line in lines if line.end.kind == "vessel"}
        fed = any(end.kind == "pump" for line in lines for end in (line.start, line.end))
        return any(begun & (self.upstream(name) if fed else {name}) for name in self.chained)

    def unchained(self, lines: Sequence[Line]) -> list[Laid]:
        """Lay the pipe of lines that tees join; chains of beds that there is no main for stay."""
        try:
            return self.group(lines)
        except Stays:
            if not self.parts(lines):
                raise
            begun = {line.end.name or "" for line in lines}
            self.chained = {name: to for name, to in self.chained.items() if not begun & self.upstream(name)}
            return self.group(lines)

    def can_drain(self, line: Line, goes: tuple[Line, str, End], number: int) -> bool:
        """Whether a bed's drain can be laid to the end that its chain goes to."""
        try:
            self.refuse(line, ())
            self.drain(line, "from", line.start, goes, number)
        except Stays:
            return False
        return True

    def upstream(self, name: str) -> set[str]:
        """A bed and those that it is fed through, the first of all, which no bed feeds, among them."""
        out: set[str] = set()
        while name not in out:
            out.add(name)
            name = (self.fed_by_beds[name].start.name or "") if name in self.fed_by_beds else name
        return out

    def group(self, lines: Sequence[Line]) -> list[Laid]:
        """Lay the pipe of lines that tees join."""
        ends = [(line, side, end) for line in lines for side, end in (("from", line.start), ("to", line.end))]
        pumps = [(line, side) for line, side, end in ends if end.kind == "pump"]
        heads = {line.name: self.head(line) for line, _ in pumps}
        for line in lines:
            self.refuse(line, heads[line.name].steps if line.name in heads else ())
        open_ends = [(line, side, end) for line, side, end in ends if end.kind == "vessel"]
        if any(end.siphon is not None or end.float_valve is not None for _, _, end in open_ends):
            raise Stays("has a siphon or a float valve")
        if any(end.kind in ("draw", "open air") for _, _, end in ends):
            raise Stays("hangs on an end outside the vessels")
        if not pumps:
            return self.drains(open_ends)
        if all(side == "from" for _, side in pumps):
            mains = sorted(
                (line for line, _ in pumps), key=lambda line: -abs(self.flows.ends[f"{line.name}.from"].flow)
            )
            return self.feed([(line, heads[line.name]) for line in mains], open_ends)
        if len(pumps) > 1:
            raise Stays("runs from pump to pump, or is drawn from by several")
        if len(lines) > 1:
            raise Stays("is drawn from by a pump, at several places")
        return self.suction(lines[0], heads[lines[0].name])

    def feed(self, mains: Sequence[tuple[Line, Head]], ends: Sequence[tuple[Line, str, End]]) -> list[Laid]:
        """A riser, a main and spurs; the risers of other pumps join the first."""
        (main, head), *others = mains
        targets = self.targets(ends)
        begun = {target.vessel for target in targets}
        spurs = [self.fed_by_beds[name] for name in self.chained if begun & self.upstream(name)]
        targets += self.targets([(line, "to", line.end) for line in spurs])
        if spurs and not self.lifted([line for line, _ in mains], targets):
            raise Stays("has not the water for beds that are fed each by itself")
        if not targets:
            raise Stays("feeds no vessel")
        if any(self.layout.pumps[line.start.name or ""].airlift is not None for line, _ in mains):
            raise Stays("is fed by an airlift, and runs as that lets it")
        if any(not (abs(one.heading[2]) < 0.1 or one.heading[2] > 0.9) for _, one in mains):
            raise Stays("begins at a pump whose outlet looks neither up nor level")
        # A level outlet gets a hand of pipe before the riser.
        foot = head.place if head.heading[2] > 0.9 else on(head.place, head.heading, STUB)
        blocks = bodies(self.layout, self.around([line for line, _ in mains], [target.vessel for target in targets]))
        if len(targets) == 1 and not others:
            return self.alone(main, head, targets[0], blocks)
        way, *back = self.main(foot, targets, blocks)
        (_, *trunk), joins = way.trunk, [on(way.trunk[1], UP, -2.0 * STUB * n) for n in range(len(others), 0, -1)]
        if joins and joins[0][2] - foot[2] < 2.0 * STUB:
            raise Stays("has no height for its pumps to join")
        begin = [head.place] if foot is head.place else [head.place, foot]
        tees = {len(begin) + n: self.free(f"{line.name} joins") for n, (line, _) in enumerate(others)}
        way = replace(way, trunk=(*begin, *joins, *trunk))
        joined = [
            self.joined(*other, tee, place, blocks)
            for other, tee, place in zip(others, tees.values(), joins, strict=True)
        ]
        return [*self.pushed(main, head, way, tees, back), *joined]

    def lifted(self, mains: Sequence[Line], targets: Sequence[Target]) -> bool:
        """Whether the pumps of some lines, each its share, lift what all targets want to the highest of them, were there no friction; taken to do
        so where a pump stands in no vessel."""
        flow = sum(self.layout.vessels[target.vessel].wants or 0.0 for target in targets) / len(mains)
        top = max(target.place[2] for target in targets)
        pumps = [self.layout.pumps[line.start.name or ""] for line in mains]
        levels = [self.layout.vessels[pump.vessel].level if pump.vessel is not None else math.inf for pump in pumps]
        heads, _ = PumpCurves([curve_of(self.layout, pump) for pump in pumps]).heads(np.full(len(pumps), flow))
        return all(level + head > top for level, head in zip(levels, heads, strict=True))

    def main(self, foot: Vector, targets: Sequence[Target], blocks: Sequence[Box]) -> list[Spread]:
        """The main that is worth least: one way, or else both ways from its riser."""
        height = level_of(foot, targets)
        places = [(axis, side) for axis in (0, 1) for side in beside(foot, targets, 1 - axis)]
        single = [[way] for place in places if (way := spread(foot, targets, *place, height)) is not None]
        double = [both for place in places if (both := both_ways(foot, targets, *place, height))]
        for ways in (single, double):
            free = [some for some in ways if not any(way.hits(blocks) for way in some)]
            if free:
                return min(free, key=lambda some: sum(way.worth for way in some))
        raise Stays("has ends that no straight main serves")

    def around(self, mains: Iterable[Line], vessels: Iterable[str]) -> set[str]:
        """The vessels that lines may pass the walls of: those they end in, and those their pumps stand in."""
        pumps = [self.layout.pumps[line.start.name or ""] for line in mains]
        return {*vessels, *(pump.vessel for pump in pumps if pump.vessel is not None)}

    def joined(self, line: Line, head: Head, tee: str, place: Vector, blocks: Sequence[Box]) -> Laid:
        """From another pump to the tee in the riser of the first, with a check valve against its water."""
        flow = abs(self.flows.ends[f"{line.name}.from"].flow)
        row = self.first_row(
            line, head, max(self.by_speed(line.parts[0].pipe.name, flow), self.same_row(line), key=_bore)
        )
        way = way_round(head.place, [head.heading], place, LEVEL, blocks, row.bore)
        if way is None:
            raise Stays("has no way for its pumps to join")
        steps = (*head.steps, *walk(way, self.layout.units, check=True))
        return Laid(line.name, row, self.said(line, "from"), steps, tee, way, len(head.steps))

    def alone(self, main: Line, head: Head, target: Target, blocks: Sequence[Box]) -> list[Laid]:
        """All that a pump feeds is one vessel: the way with the fewest corners."""
        begin = head.place
        end = target.place if target.over is None else (*target.place[:2], max(target.over, begin[2] + 0.3))
        # What ends under water comes over the rim, and down.
        over = end if target.rim is None or target.over is not None else (*end[:2], max(target.rim, begin[2] + 0.3))
        comes = [way for way in DIRECTIONS.values() if way[2] <= 0.0] if over is end else LEVEL
        row = self.first_row(main, head, self.by_speed(main.parts[0].pipe.name, target.flow))
        way = way_round(begin, [head.heading], over, comes, blocks, row.bore)
        if way is None:
            raise Stays("has vessels in its way")
        way = way if over is end else (*way, end)
        valve = self.valve(target) if any(adjustable(part) for part in main.parts) else None
        return [self.laid(main, head, row, way, target, valve=valve)]

    def pushed(
        self, main: Line, head: Head, way: Spread, joins: Mapping[int, str], back: Sequence[Spread]
    ) -> list[Laid]:
        """Write a riser, a main and its spurs; `joins` are the tees that other pumps come in by, and `back` is the main's other half."""
        series, flow = main.parts[0].pipe.name, sum(target.flow for one in (way, *back) for target in one.order)
        first = self.first_row(main, head, self.by_speed(series, flow))
        places, pipes, tees, spurs = self.along(way, series)
        pipes = [*[first] * (len(way.trunk) - 1), *(pipes if back else [first, *pipes[1:]])]
        tees |= joins
        valve = self.valve(way.order[-1]) if spurs or back else None
        for half in back:
            tees[len(way.trunk) - 1] = tee = self.free(f"{main.name} tee")
            spurs += self.half(replace(half, trunk=(half.trunk[-1],)), tee, series)
        whole = self.laid(
            main, head, first, places, way.order[-1], valve=valve, tees=tees, pipes=pipes, check=bool(joins)
        )
        return [whole, *spurs]

    def half(self, way: Spread, tee: str, series: str) -> list[Laid]:
        """The other half of a main, from the tee on its riser."""
        places, pipes, tees, spurs = self.along(way, series)
        last = way.order[-1]
        steps = walk(places, self.layout.units, tees=tees, pipes=pipes, valve=self.valve(last))
        return [
            Laid(self.fed_by(last), pipes[0], tee, (*steps, *self.through(last.line, "to")), last.said, tuple(places)),
            *spurs,
        ]

    def along(self, way: Spread, series: str) -> tuple[list[Vector], list[PipeRow], dict[int, str], list[Laid]]:
        """A main's places, the pipe of its runs behind the trunk, its tees by place, and its spurs."""
        left, last = sum(target.flow for target in way.order), way.order[-1]
        places = [*way.trunk, *way.stations, *across(way.stations[-1], last.place)]
        pipes: list[PipeRow] = []
        tees: dict[int, str] = {}
        spurs: list[Laid] = []
        for number, (target, station) in enumerate(zip(way.order, way.stations, strict=True)):
            pipes.append(self.by_speed(series, left))
            if target is not last:
                tee = self.free(f"{target.vessel} tee")
                tees[len(way.trunk) + number] = tee
                spurs.append(self.spur(target, tee, (station, *across(station, target.place))))
                left -= target.flow
        return places, pipes + [pipes[-1]] * (len(places) - len(way.trunk) - len(pipes)), tees, spurs

    def spur(self, target: Target, tee: str, way: tuple[Vector, ...]) -> Laid:
        """From a tee of the main to a vessel."""
        row = self.by_speed(target.line.parts[-1].pipe.name, target.flow)
        steps = (*walk(way, self.layout.units, valve=self.valve(target)), *self.through(target.line, "to"))
        return Laid(self.fed_by(target), row, tee, steps, target.said, way)

    def laid(
        self,
        main: Line,
        head: Head,
        row: PipeRow,
        way: Sequence[Vector],
        target: Target,
        *,
        valve: str | None,
        tees: Mapping[int, str] | None = None,
        pipes: Sequence[PipeRow] = (),
        check: bool = False,
    ) -> Laid:
        """A line from a pump's outlet or to its inlet: what stays of it, the walk, and the bulkhead where it ends, if it has one."""
        checked = check or any(part.kind == "check valve" and part.step > len(head.steps) for part in main.parts)
        steps = walk(way, self.layout.units, tees=tees, pipes=pipes, valve=valve, check=checked)
        whole = (*head.steps, *steps, *self.through(target.line, "to"))
        return Laid(main.name, row, self.said(main, "from"), whole, target.said, tuple(way), len(head.steps))

    def suction(self, line: Line, head: Head) -> list[Laid]:
        """From a vessel to a pump's inlet, no higher than its two ends, so that no air gathers in it, in pipe no narrower than it was."""
        end, flow = line.end.place, abs(self.flows.ends[f"{line.name}.to"].flow)
        old = line.parts[0].pipe
        row = max(
            self.first_row(line, head, self.by_speed(old.name, flow, SUCTION)),
            self.same_row(line),
            key=lambda row: row.bore,
        )
        blocks = bodies(self.layout, [line.start.name or "", line.end.name or ""])
        way = way_round(head.place, [head.heading], end, [line.parts[-1].heading_out], blocks, row.bore)
        if way is None:
            raise Stays("has no straighter way to the pump")
        here = Target(line.start.name or "", end, flow, line, self.said(line, "to"), None)
        valve = (
            self.valve(here) if any(adjustable(part) for part in line.parts if part.step > len(head.steps)) else None
        )
        return [self.laid(line, head, row, way, here, valve=valve)]

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
            design = flow if wants is None else SPARE * wants
            if design > 0.0:
                rim = brim(self.layout.vessels[name]) + OVER if end.port == "open" else None
                over = None if end.submerged else rim
                found.append(Target(name, end.place, design, line, self.said(line, side), over, rim))
        return found

    def fed_by(self, target: Target) -> str:
        """The name of the line that feeds a vessel: that which did, unless it was the main."""
        if not any(part.kind in ("tee", "wye") for part in target.line.parts) and target.line.start.kind == "tee":
            return target.line.name
        return self.line_name(f"{target.vessel} feed")

    def valve(self, target: Target) -> str:
        """The vessel's own valve again, or a new one."""
        own = next(
            (
                part
                for part in target.line.parts
                if adjustable(part) and part.turn < 0.1 and part.id and quoted(part.id) not in self.ids
            ),
            None,
        )
        kind, name = (
            ("ball valve", self.free(f"{target.vessel} valve")) if own is None else (own.kind, quoted(own.id or ""))
        )
        self.ids.add(name)
        stood = [part.opening for part in target.line.parts if adjustable(part)]
        if self.layout.vessels[target.vessel].wants is None and stood and 0.0 < min(stood) < 1.0:
            # Where nothing is wanted nothing is set by it: it stands as it stood.
            return f"{kind}: {{id: {name}, opening: {100.0 * min(stood):g} %}}"
        return f"{kind}: {{id: {name}}}"

    def drains(self, ends: Sequence[tuple[Line, str, End]]) -> list[Laid]:
        """A line of its own from each way out to where the water goes."""
        out: list[tuple[Line, str, End]] = []
        into: list[tuple[Line, str, End]] = []
        for line, side, end in ends:
            flow = self.flows.ends[f"{line.name}.{side}"].flow * (1.0 if side == "from" else -1.0)
            leaves = flow > 0.0 or (flow == 0.0 and end.port == "standpipe")
            (out if leaves else into).append((line, side, end))
        if not out:
            raise Stays("drains nothing")
        if len(into) != 1:
            raise Stays(
                "shares out the water of a vessel and no pump's"
                if len(out) == 1 < len(into)
                else "carries water to and fro, or nowhere"
            )
        goes, beside = self.chained.get(into[0][2].name or "", (into[0], 0))
        apart = {name for bed in self.chained for name in self.upstream(bed)}
        return [self.drain(*one, goes, beside + number, apart=one[2].name in apart) for number, one in enumerate(out)]

    def drain(
        self, line: Line, side: str, end: End, goes: tuple[Line, str, End], number: int, *, apart: bool = False
    ) -> Laid:
        """Down, along with a steady fall, and down again; `apart` from the chain of beds that its water came through."""
        if end.port == "open":
            raise Stays("begins at an open end")
        sink_line, sink_side, sink = goes
        flow = abs(self.flows.ends[f"{line.name}.{side}"].flow)
        if apart:
            # What came through the beds of a chain goes to each by itself.
            flow = min(flow, SPARE * (self.layout.vessels[end.name or ""].wants or math.inf))
        least = self.layout.limits["least fall"]
        start, (east, north, foot) = end.place, sink.place
        # Water comes out of a standpipe's foot downwards, and of a wall sideways.
        sideways = abs(end.heading[2]) < 0.5
        x, y, z = on(start, end.heading, -STUB) if sideways else start
        dx, dy, aside = east - x, north - y, STUB * number
        dx, dy = (dx, dy + aside) if abs(dx) >= abs(dy) else (dx + aside, dy)
        pipe = line.parts[0].pipe if side == "from" else line.parts[-1].pipe
        row = _by_fall(self.layout, pipe.name, flow * DRAIN_SPARE, SLOPE * least)
        blocks = bodies(self.layout, [end.name or "", sink.name or ""])
        way = way_round((x, y, foot), LEVEL, (x + dx, y + dy, foot), LEVEL, blocks, row.bore)
        if way is None:
            raise Stays("has vessels in its way")
        level = falling(way, 0.0, SLOPE * least, grid_of(self.layout.units))
        fall = level[0][2]
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
        along = [on(place, UP, z - first - fall) for place in level]
        places = [*([start] if sideways else []), (x, y, z), *along, *([on(along[-1], UP, -last)] if last else [])]
        valve = next((part.step for part in line.parts if adjustable(part) and part.turn < 0.1), None)
        as_is = None if valve is None else self.script.slice(self.script.lines[line.name].steps[valve - 1])
        steps = (
            *self.through(line, "from" if side == "from" else "to"),
            *walk(places, self.layout.units, valve=as_is),
            *self.through(sink_line, "from" if sink_side == "from" else "to"),
        )
        return Laid(line.name, row, self.said(line, side), steps, self.said(sink_line, sink_side), tuple(places))


def _bore(row: PipeRow) -> float:
    return row.bore


def _by_fall(layout: Layout, like: str, flow: float, fall: float) -> PipeRow:
    """The smallest pipe of a series that carries a flow [m³/s] part-full, and no smaller than a drain is."""
    nu = layout.water.viscosity / layout.water.density
    rows = [row for row in series(like) if row.bore >= 0.03]
    return next((row for row in rows if capacity(row.bore, fall, 1e-5, nu) >= flow), rows[-1])
