"""A clean sheet: vessels, pumps and where pipe ends are kept, and all plain pipe between them is laid anew.

What a pump feeds gets one riser, one straight main over the highest rim, and a short spur with a valve to each vessel. What
drains gets a line of its own from each way out to where the water went, down, along with a steady fall, and down again. Of the two ways that a
main can run, and the places beside the riser that it can run in, the one with the least pipe and corners is taken. Idle lines are left out.
Pipe is sized by speed where it is pushed, and by what it carries part-full where it drains.

Lines that hold what this cannot lay (spray bars, hose, filters in the pipe, siphons) stay as they are, and it is said why.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from .. import catalogue
from ..catalogue import PipeRow
from ..check import CheckResult, check
from ..errors import LayoutError, PlumblineError
from ..hydraulics.balance import balance
from ..hydraulics.part_full import capacity
from ..hydraulics.vessels import pipes_joined
from ..layout import layout_of
from ..layout.model import End, Layout, Line, Vector
from ..layout.rewrite import quoted, set_openings
from ..layout.words import DIRECTIONS
from ..units import show
from ..upkeep.access import brim
from ..upkeep.tools import tools
from .buildable import shortage
from .change import Change
from .place import free_name
from .prices import Prices
from .router import CLEAR, CORNER, Box, bodies, hits, shortest_way
from .script import CannotChange, Script, read_script

__all__ = ["CleanSheet", "clean_sheet"]

PLAIN = ("run", "elbow", "sweep", "bend", "bend 45", "bend 22.5", "cap", "union", "tee", "wye", "reducer", "expander", "ball valve",
         "gate valve", "diaphragm valve", "butterfly valve", "check valve")  # fmt: skip
"""What may stand in a line that is laid anew: all of it can be left out, and valves are put in again where they are needed."""

VALVES = ("ball valve", "gate valve", "diaphragm valve", "butterfly valve")

SPEED = 1.0
"""Pushed pipe is as wide as keeps the water under this [m/s]: fast enough to keep it clean, slow enough to cost little head
(common practice, no source)."""

SPARE_FLOW, SPARE_DRAIN = 1.25, 1.5
"""What pipe is sized for, of what its vessels want, and of what a drain gets."""

NARROW = ("small-standpipe", "drain-full", "drain-gulps", "thin-drain", "overtops")
"""Findings that a wider drain cures."""

MOST_SIZES = 6
"""How often sizes are thought over."""

OVER = 0.1
"""A pipe that ends in the air ends so far over its vessel's rim [m], where a hand sees what comes."""

LEAST = 0.3
"""What a single line laid anew has to save, in metres of pipe; a corner counts as it does for its way."""

STUB = 0.15
"""Pipe beyond the last tee of a main to its cap, out of a wall before the first turn, and between two ends in one place [m]."""


@dataclass(frozen=True)
class CleanSheet:
    """The layout with its pipe laid anew; `changes` tell what is laid and what goes, without edits of their own, and `kept` says which
    lines stay as they are and why."""

    layout: Layout
    changes: tuple[Change, ...]
    kept: tuple[str, ...]

    def notes(self, old: Layout) -> Iterator[str]:
        """What to know of it: what stays and why, and what of the old pipe can be used again."""
        yield from self.kept
        again = _used_again(old, self.layout)
        if again:
            said = [f"{show(length, 'length', old.units)} of {name}" for name, length in again.items()]
            yield f"Of the old pipe {', '.join(said)} can be cut to what is laid, where it is sound."
        yield "Walls and walkways are not in the file: see that each way is free before anything is cut."

    def cost(self, hour: float) -> float:
        """With labour at a price of an `hour`."""
        return sum(change.cost(hour) for change in self.changes)


@dataclass(frozen=True)
class _Laid:
    """A line to be written: its ends as they stand in the file, its pipe, and its steps."""

    name: str
    row: PipeRow
    start: str
    steps: tuple[str, ...]
    end: str
    places: tuple[Vector, ...]

    @property
    def length(self) -> float:
        return sum(math.dist(a, b) for a, b in pairwise(self.places))


def clean_sheet(result: CheckResult, prices: Prices) -> CleanSheet:
    """Lay the pipe of a layout anew.

    Parameters:
        result: the check of the layout as it stands.
        prices: of changes.

    Returns:
        The new layout, what was laid, and what was kept.

    Raises:
        PlumblineError: where nothing in it can be laid anew, with why.
    """
    drawer = _Drawer(result)
    groups: dict[int, list[Line]] = defaultdict(list)
    for name, number in pipes_joined(result.layout).items():
        groups[number].append(result.layout.lines[name])
    # What a cap or a union cures is no reason to lay a line anew.
    troubled = {
        one.line for one in result.findings if one.level != "advice" and one.kind not in ("unreachable", "turning")
    }
    laid: list[_Laid] = []
    kept: dict[str, str] = {}
    gone: list[Line] = []
    for lines in groups.values():
        try:
            new = drawer.group(lines)
            if (len(lines) == len(new) == 1 and lines[0].name not in troubled
                    and _worth(new[0].places) > _worth_of(lines[0]) - LEAST):  # fmt: skip
                raise _Stays("is as short and as straight as it can be")
        except _Stays as why:
            kept |= {line.name: str(why) for line in lines}
            continue
        laid += new
        gone += lines
    if not laid:
        reasons = "; ".join(f"{_listed([name])} {kept[name]}" for name in kept) or "it has no pipe"
        raise PlumblineError(
            f"Nothing is laid afresh here: {reasons}. Without --afresh the cheapest changes are looked for."
        )
    layout, laid = _sized(result.layout, drawer.script, laid, set(kept))
    changes = [_told(result.layout, one, prices) for one in laid]
    names = {one.name for one in laid}
    out = [line.name for line in gone if line.name not in names]
    if out:
        changes.append(Change("take out", out[0], 1, f"take out {_listed(out)}", "", (), 0.0, 10.0 * len(out)))
    return CleanSheet(
        layout, tuple(changes), tuple(f"{_listed([name])} stays as it is: it {kept[name]}." for name in kept)
    )


def _sized(layout: Layout, script: Script, laid: list[_Laid], kept: set[str]) -> tuple[Layout, list[_Laid]]:
    """The layout with new lines, its valves set, each drain as wide as its standpipe and fall ask, and what is pushed as wide as its
    vessels' wants do."""
    try:
        made = layout_of(_written(script, laid, kept), layout.path)
    except LayoutError as error:
        raise PlumblineError(
            f"What is laid afresh does not fit together: {error.faults[0].found}. Without --afresh the cheapest changes are looked for."
        ) from None
    lacking = shortage(made)
    full: set[str] = set()
    for _ in range(MOST_SIZES):
        result, short = _set(made)
        narrow = {finding.line for finding in result.findings if finding.kind in NARROW}
        pushed = {one.name for one in laid if made.lines[one.name].start.kind in ("pump", "tee")} if short else set()
        wider = [replace(one, row=_wider(one.row)) if one.name in (narrow | pushed) - full else one for one in laid]
        if wider == laid:
            break
        made = layout_of(_written(script, wider, kept), layout.path)
        # Wider fittings take more of the walk: where there is no room for them the size stays.
        tight = {name for name, lack in shortage(made).items() if lack > lacking.get(name, 0.0) + 1e-6}
        full |= tight
        laid = [old if new.name in tight else new for old, new in zip(laid, wider, strict=True)]
        made = layout_of(_written(script, laid, kept), layout.path)
    return _set(made)[0].layout, laid


def _set(layout: Layout) -> tuple[CheckResult, bool]:
    """The check of a layout with its valves set for what its vessels want, and whether they get less than they should."""
    try:
        found = balance(layout)
    except PlumblineError:
        return check(layout), False
    marks = {setting.mark: setting.after for setting in found.settings}
    made = layout_of(set_openings(layout.text, marks), layout.path)
    least = 1.0 + layout.limits["margin"]
    return check(made), any(share.share < least for share in found.vessels)


def _wider(row: PipeRow) -> PipeRow:
    """The next size of a series, or the widest."""
    return next((one for one in _series(row.name) if one.bore > row.bore + 1e-6), row)


class _Stays(Exception):  # noqa: N818 - a reason to leave pipe as it is, no fault
    """Pipe that stays as it is, and why."""


class _Drawer:
    """Draws the new lines of one layout."""

    def __init__(self, result: CheckResult) -> None:
        self.layout, self.flows = result.layout, result.flows
        self.script = read_script(result.layout.text)
        self.names = set(result.layout.lines)
        self.ids: set[str] = set()
        self.least = min((tool.bore_min for tool in tools(result.layout.rods)), default=0.0)

    def group(self, lines: Sequence[Line]) -> list[_Laid]:
        """Lay the pipe of lines that tees join."""
        for line in lines:
            odd = next((part.kind for part in line.parts if part.kind not in PLAIN or part.step == 0), None)
            if odd is not None:
                raise _Stays(f"has a {odd}" if odd != "run" else "has no steps")
            if line.name not in self.script.lines or self.script.lines[line.name].spread:
                raise _Stays("stands in the file among several of its kind")
            if any(part.around for part in line.parts):
                raise _Stays("lies where nobody gets at it, as the file says")
        ends = [(line, side, end) for line in lines for side, end in (("from", line.start), ("to", line.end))]
        pumps = [(line, end) for line, side, end in ends if end.kind == "pump"]
        open_ends = [(line, side, end) for line, side, end in ends if end.kind == "vessel"]
        if any(end.siphon is not None or end.float_valve is not None for _, _, end in open_ends):
            raise _Stays("has a siphon or a float valve")
        if any(end.kind in ("draw", "open air") for _, _, end in ends):
            raise _Stays("hangs on an end outside the vessels")
        if not pumps:
            return self.drains(open_ends)
        if len(pumps) > 1 or pumps[0][0].start is not pumps[0][1]:
            raise _Stays("is shared by several pumps, or a pump draws from it")
        return self.feed(pumps[0][0], open_ends)

    def said(self, line: Line, side: str) -> str:
        """An end as the file has it."""
        return self.script.slice(self.script.lines[line.name].keys[side])

    # ------------------------------------------------------------------ what is pushed

    def feed(self, main: Line, ends: Sequence[tuple[Line, str, End]]) -> list[_Laid]:
        """A riser, a main and spurs."""
        targets = self.targets(ends)
        if not targets:
            raise _Stays("feeds no vessel")
        begin = main.parts[0].start
        if main.parts[0].heading_in[2] < 0.9:
            raise _Stays("begins at a pump whose outlet does not look up")
        blocks = bodies(self.layout, self.around(main, [target.vessel for target in targets]))
        if len(targets) == 1:
            return self.alone(main, targets[0], blocks)
        ways = [way for axis in (0, 1) for side in _beside(begin, targets, 1 - axis)
                if (way := _spread(begin, targets, axis, side)) is not None and not way.hits(blocks)]  # fmt: skip
        if not ways:
            raise _Stays("has ends that no one straight main serves")
        return self.pushed(main, min(ways, key=lambda way: way.worth))

    def around(self, line: Line, vessels: Iterable[str]) -> set[str]:
        """The vessels that a line may pass the walls of: those it ends in, and the one its pump stands in."""
        pump = self.layout.pumps.get(line.start.name or "")
        return {*vessels, *((pump.vessel,) if pump is not None and pump.vessel is not None else ())}

    def alone(self, main: Line, target: _Target, blocks: Sequence[Box]) -> list[_Laid]:
        """All that a pump feeds is one vessel: the way with the fewest corners."""
        begin = main.parts[0].start
        end = target.place if target.over is None else (*target.place[:2], max(target.over, begin[2] + 0.3))
        comes = [way for way in DIRECTIONS.values() if way[2] <= 0.0]
        row = self.by_speed(main.parts[0].pipe.name, target.flow)
        way = _way_round(begin, [(0.0, 0.0, 1.0)], end, comes, blocks, row.bore)
        if way is None:
            raise _Stays("has vessels in its way")
        throttled = any(part.kind in VALVES for part in main.parts)
        steps = _walk(way, valve=self.valve(target) if throttled else None, check=_checked(main))
        return [_Laid(main.name, row, self.said(main, "from"), tuple(steps), target.said, way)]

    def targets(self, ends: Sequence[tuple[Line, str, End]]) -> list[_Target]:
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
                found.append(_Target(name, end.place, design, line, self.said(line, side), over))
        return found

    def pushed(self, main: Line, way: _Spread) -> list[_Laid]:
        """Write a riser, a main and its spurs."""
        series = main.parts[0].pipe.name
        left = sum(target.flow for target in way.order)
        last = way.order[-1]
        places = [*way.trunk, *way.stations, *_across(way.stations[-1], last.place)]
        pipes = [self.by_speed(series, left)] * (len(way.trunk) - 1)
        tees: dict[int, str] = {}
        spurs: list[_Laid] = []
        for number, (target, station) in enumerate(zip(way.order, way.stations, strict=True)):
            pipes.append(self.by_speed(series, left))
            if target is last:
                break
            tee = self.free(f"{target.vessel} tee")
            tees[len(way.trunk) + number] = tee
            spurs.append(self.spur(target, tee, (station, *_across(station, target.place))))
            left -= target.flow
        pipes += [pipes[-1]] * (len(places) - 1 - len(pipes))
        valve = self.valve(last) if spurs else None
        steps = _walk(places, tees=tees, pipes=pipes, valve=valve, check=_checked(main))
        return [_Laid(main.name, pipes[0], self.said(main, "from"), tuple(steps), last.said, tuple(places)), *spurs]

    def spur(self, target: _Target, tee: str, way: tuple[Vector, ...]) -> _Laid:
        """From a tee of the main to a vessel."""
        row = self.by_speed(target.line.parts[-1].pipe.name, target.flow)
        name = target.line.name
        if any(part.kind in ("tee", "wye") for part in target.line.parts):
            name = self.line_name(f"{target.vessel} feed")
        return _Laid(name, row, tee, tuple(_walk(way, valve=self.valve(target))), target.said, way)

    def valve(self, target: _Target) -> str:
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
        rows = [row for row in _series(like) if row.bore >= self.least - 1e-9] or _series(like)
        return next((row for row in rows if flow <= SPEED * math.pi / 4.0 * row.bore**2), rows[-1])

    # ------------------------------------------------------------------ what drains

    def drains(self, ends: Sequence[tuple[Line, str, End]]) -> list[_Laid]:
        """A line of its own from each way out to where the water goes."""
        out: list[tuple[Line, str, End]] = []
        into: list[tuple[Line, str, End]] = []
        for line, side, end in ends:
            flow = self.flows.ends[f"{line.name}.{side}"].flow * (1.0 if side == "from" else -1.0)
            leaves = flow > 0.0 or (flow == 0.0 and end.port == "standpipe")
            (out if leaves else into).append((line, side, end))
        if len(into) != 1 or not out:
            raise _Stays("carries water to and fro, or nowhere" if out else "drains nothing")
        sink_line, sink_side, sink = into[0]
        return [
            self.drain(line, side, end, self.said(sink_line, sink_side), sink, n)
            for n, (line, side, end) in enumerate(out)
        ]

    def drain(self, line: Line, side: str, end: End, said: str, sink: End, number: int) -> _Laid:
        """Down, along with a steady fall, and down again."""
        flow = abs(self.flows.ends[f"{line.name}.{side}"].flow)
        if end.port == "open":
            raise _Stays("begins at an open end")
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
        way = _way_round((x, y, foot), level, (x + dx, y + dy, foot), level, blocks, row.bore)
        if way is None:
            raise _Stays("has vessels in its way")
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
            raise _Stays("has no height to be laid with a fall")
        places: list[Vector] = [*([start] if sideways else []), (x, y, z), (x, y, z - first)]
        for a, b in legs:
            p, q, r = places[-1]
            places.append((p + a, q + b, r - fall * (abs(a) + abs(b)) / along))
        if last:
            p, q, r = places[-1]
            places.append((p, q, r - last))
        return _Laid(line.name, row, self.said(line, side), tuple(_walk(places)), said, tuple(places))


@dataclass(frozen=True)
class _Target:
    """Where a spur goes: the `vessel`, the `place` of the end, the `flow` it is sized for [m³/s], the `line` that ends there now and how the
    file says that end. One in the air may end at any height from `over` on [m], over the vessel's rim; None for others."""

    vessel: str
    place: Vector
    flow: float
    line: Line
    said: str
    over: float | None


@dataclass(frozen=True)
class _Spread:
    """A way to serve some targets: the `trunk` up to where the main begins, the targets in `order` along it, and the `stations` on it
    beside each; `worth` what it costs in metres of pipe."""

    trunk: tuple[Vector, ...]
    order: tuple[_Target, ...]
    stations: tuple[Vector, ...]
    worth: float

    def hits(self, blocks: Sequence[Box]) -> bool:
        """Whether some of it would go through a vessel that it does not end in."""
        runs = [*pairwise((*self.trunk, *self.stations))]
        for target, station in zip(self.order, self.stations, strict=True):
            runs += pairwise((station, *_across(station, target.place)))
        return any(hits(a, b, box, CLEAR) for a, b in runs for box in blocks)


def _way_round(start: Vector, leaves: Sequence[Vector], end: Vector, comes: Sequence[Vector], blocks: Sequence[Box],
               bore: float) -> tuple[Vector, ...] | None:  # fmt: skip
    """The way with the fewest corners and the least pipe, clear of vessels, by any of some headings at either end."""
    if math.dist(start, end) < 0.03:
        return (start,)
    edge = bore / 2.0 + 0.05
    corners: list[Vector] = []
    for low, high in blocks:
        corners += [(low[0] - edge, low[1] - edge, end[2]), (high[0] + edge, high[1] + edge, end[2])]
    found = [way for out in leaves for into in comes
             if (way := shortest_way(start, out, end, into, corners, blocks, radius=bore / 2.0)) is not None]  # fmt: skip
    return min(found, key=_worth, default=None)


def _worth(way: Sequence[Vector]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(way)) + CORNER * (len(way) - 2)


def _worth_of(line: Line) -> float:
    """The same of a line as it is."""
    return line.length + CORNER * sum(1 for part in line.parts if part.turn > math.radians(5.0) and not part.is_pipe)


def _beside(begin: Vector, targets: Sequence[_Target], cross: int) -> list[float]:
    """The places across its own way that a main can run in: pipe is least where it passes an end, or as near to one as a spur has room."""
    wide = [target.place[cross] + side * 2.0 * STUB for target in targets for side in (-1.0, 0.0, 1.0)]
    return sorted({begin[cross], *wide})


def _spread(begin: Vector, targets: Sequence[_Target], axis: int, side: float) -> _Spread | None:
    """A main along an axis, at a place across it; None where it would have to run both ways, or a spur has no room."""
    # Under every end the main stays under pressure: from a higher one, the ends that lie lower would pull air in by the others.
    least = [target.over for target in targets if target.over is not None]
    cross, height = 1 - axis, max(begin[2] + 0.3, *(least or [min(target.place[2] for target in targets)]))
    targets = [
        target if target.over is None else replace(target, place=(*target.place[:2], height)) for target in targets
    ]
    up = (begin[0], begin[1], height)
    trunk: list[Vector] = [begin, up]
    if abs(side - begin[cross]) > 0.03:
        trunk.append(_at(axis, begin[axis], side, height))
    offsets = [target.place[axis] - begin[axis] for target in targets]
    if min(offsets) < -0.03 and max(offsets) > 0.03:
        return None
    order = sorted(targets, key=lambda target: abs(target.place[axis] - begin[axis]))
    way = 1.0 if max(offsets) > 0.03 else -1.0
    stations: list[Vector] = []
    before = 0.0
    for number, target in enumerate(order):
        along = max(abs(target.place[axis] - begin[axis]), before + STUB if stations else STUB)
        last = number + 1 == len(order)
        spare = abs(target.place[cross] - side) + abs(height - target.place[2])
        if not last and spare < 2.0 * STUB:
            return None
        before = along
        stations.append(_at(axis, begin[axis] + way * along, side, height))
    # An end follows its tee along the main: where in the vessel the water comes in is no matter to a hand's breadth.
    moved = [replace(target, place=_at(axis, station[axis], target.place[cross], target.place[2]))
             for target, station in zip(order, stations, strict=True)]  # fmt: skip
    length = sum(math.dist(a, b) for a, b in pairwise(trunk)) + before
    corners = len(trunk) - 1
    for target, station in zip(moved, stations, strict=True):
        legs = _across(station, target.place)
        length += sum(math.dist(a, b) for a, b in zip((station, *legs), legs, strict=False))
        corners += len(legs) - (0 if target is moved[-1] else 1)
    return _Spread(tuple(trunk), tuple(moved), tuple(stations), length + CORNER * corners)


def _at(axis: int, along: float, across: float, height: float) -> Vector:
    return (along, across, height) if axis == 0 else (across, along, height)


def _across(station: Vector, place: Vector) -> tuple[Vector, ...]:
    """From a place on the main level across to over or under an end, and straight to it."""
    over = (place[0], place[1], station[2])
    return tuple(one for one, last in ((over, station), (place, over)) if math.dist(one, last) > 1e-6)


def _walk(places: Sequence[Vector], *, tees: Mapping[int, str] | None = None, pipes: Sequence[PipeRow] = (),
          valve: str | None = None, check: bool = False) -> list[str]:  # fmt: skip
    """The steps of a walk through some places: an elbow where it turns, a tee where `tees` names one, a valve in the middle of the last
    long run, a check valve in that of the first, and the pipe of each run where it is not that of the first."""
    runs = [n for n in range(1, len(places)) if math.dist(places[n], places[n - 1]) > 1e-6]
    ahead = [n for n in runs if tees is None or n > max(tees, default=0)]
    valved = max(ahead, key=lambda n: math.dist(places[n], places[n - 1])) if valve is not None else None
    steps: list[str] = []
    went: list[float] | None = None
    for n in runs:
        goes = [b - a for a, b in zip(places[n - 1], places[n], strict=True)]
        if tees and n - 1 in tees:
            steps.append(f"tee: {tees[n - 1]}")
        elif went is not None and _turns(went, goes):
            steps.append("elbow")
        own = pipes[n - 1].name if pipes and pipes[n - 1].name != pipes[0].name else None
        inside = (["check valve"] if check and n == runs[0] else []) + (
            [valve] if valve is not None and n == valved else []
        )
        piece = _run([x / (1.0 + len(inside)) for x in goes], own)
        steps += [piece, *(text for one in inside for text in (one, piece))]
        went = goes
    return steps


def _checked(line: Line) -> bool:
    """Whether a line has a check valve that lets its water through."""
    return any(part.kind == "check valve" for part in line.parts)


def _turns(went: Sequence[float], goes: Sequence[float]) -> bool:
    return sum(a * b for a, b in zip(went, goes, strict=True)) < 0.9 * math.hypot(*went) * math.hypot(*goes)


def _run(vector: Sequence[float], pipe: str | None) -> str:
    words = [f"{plus if size > 0.0 else minus}: {abs(size):.4g} m"
             for size, (plus, minus) in zip(vector, (("east", "west"), ("north", "south"), ("up", "down")), strict=True)
             if abs(size) > 5e-5]  # fmt: skip
    if pipe is not None:
        words.append(f"pipe: {pipe}")
    return f"{{{', '.join(words)}}}"


def _by_fall(layout: Layout, like: str, flow: float, fall: float) -> PipeRow:
    """The smallest pipe of a series that carries a flow [m³/s] part-full, and no smaller than a drain is."""
    nu = layout.water.viscosity / layout.water.density
    rows = [row for row in _series(like) if row.bore >= 0.03]
    return next((row for row in rows if capacity(row.bore, fall, 1e-5, nu) >= flow), rows[-1])


def _series(like: str) -> list[PipeRow]:
    """The pipes of a series, the smallest first; pvc where a line is of something that has none."""
    name = like if like in catalogue.pipes() and not like.startswith("hose") else "pvc 25"
    return sorted(catalogue.series(name), key=lambda row: row.bore)


def _used_again(old: Layout, new: Layout) -> dict[str, float]:
    """How much of each pipe in the old runs is long enough for the new ones [m]: each new run, the longest first, takes the shortest old one
    that holds it, and leaves the rest."""

    def runs(layout: Layout) -> Iterator[tuple[str, float]]:
        lengths = [
            (part.pipe.name, part.length) for line in layout.lines.values() for part in line.parts if part.kind == "run"
        ]
        return iter(sorted(lengths, key=lambda run: -run[1]))

    there: dict[str, list[float]] = defaultdict(list)
    for name, length in runs(old):
        there[name].append(length)
    used: dict[str, float] = defaultdict(float)
    for name, length in runs(new):
        long_enough = [one for one in there[name] if one >= length]
        if long_enough:
            there[name].remove(min(long_enough))
            there[name].append(min(long_enough) - length)
            used[name] += length
    return dict(used)


# ---------------------------------------------------------------------- the text


def _written(script: Script, laid: Iterable[_Laid], kept: set[str]) -> str:
    """The text with the new lines in place of the old."""
    if not script.lines:
        raise CannotChange("the file has no lines")
    first = min(line.key.start for line in script.lines.values())
    last = max(script.end(line.value) for line in script.lines.values())
    text = script.text
    begin = text.rfind("\n", 0, first) + 1
    indent = text[begin:first]
    # What was said between the old lines goes with them.
    begin = max(match.end() for match in re.finditer(r"(?m)^lines:.*\n", text[:begin]))
    if indent.strip():
        raise PlumblineError(
            "The lines stand in brackets in the file: write each on lines of its own to have them laid afresh."
        )
    blocks = [_block(one, indent) for one in laid]
    blocks += [
        indent + script.text[line.key.start : script.end(line.value)]
        for name, line in script.lines.items()
        if name in kept
    ]
    said = f"{indent}# Laid afresh: see that each way is free before anything is cut."
    return text[:begin] + "\n".join([said, *blocks]) + text[last:]


def _block(one: _Laid, indent: str) -> str:
    inner = f"\n{indent}  "
    route = "".join(f"{inner}  - {step}" for step in one.steps)
    return f"{indent}{quoted(one.name)}:{inner}pipe: {one.row.name}{inner}from: {one.start}{inner}route:{route}{inner}to: {one.end}"


def _told(layout: Layout, one: _Laid, prices: Prices) -> Change:
    """What is laid, in words, with what it costs."""
    fittings = [step.split(":")[0] for step in one.steps if not step.startswith("{")]
    pipe = next(iter(layout.lines.values())).parts[0].pipe
    pipe = replace(pipe, name=one.row.name, bore=one.row.bore, outside=one.row.outside)
    money, minutes = prices.of("lay afresh", pipe, metres=one.length, fittings=fittings)
    corners = fittings.count("elbow")
    with_what = [f"{corners} corner{'' if corners == 1 else 's'}"]
    tees = fittings.count("tee")
    if tees:
        with_what.append(f"{tees} tee{'' if tees == 1 else 's'}")
    old = layout.lines.get(one.name)
    before = "" if old is None else (
        f", in place of {show(old.length, 'length', layout.units)} with "
        f"{sum(1 for part in old.parts if part.turn > math.radians(5.0) and not part.is_pipe)}"
    )  # fmt: skip
    words = f"lay '{one.name}' afresh in {one.row.name}: {show(one.length, 'length', layout.units)} with {' and '.join(with_what)}{before}; see that the way is free"
    return Change("lay afresh", one.name, 1, words, "", (), money, minutes)


def _listed(names: Sequence[str]) -> str:
    said = [f"'{name}'" for name in names]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
