"""What runs out when an opening is opened, from which vessel, down to where; and what a hand has to do first so that nothing does."""

from __future__ import annotations

import heapq
import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from ..catalogue import fittings
from ..catalogued import finding
from ..findings import Finding
from ..hydraulics.fittings import part_k
from ..hydraulics.flows import Flows
from ..hydraulics.valve_service import adjustable, label
from ..layout.model import Access, End, Layout, Part, Stretch
from ..layout.vectors import minus
from ..units import show
from .access import closed_accesses
from .words import access_name, listed

__all__ = ["Source", "Spill", "spills", "unsafe"]

FILM = 0.01
"""Water less than this over an opening [m] is a dribble."""

GRAVITY = 9.80665

HOLE = 0.6
"""The share of a hole that a jet fills: the discharge coefficient of a sharp edge, 0.6 to 0.62 in all handbooks (from memory)."""


@dataclass(frozen=True, slots=True)
class Source:
    """A vessel that runs out by an opening with the pumps off: down to `level` [m above the datum], `volume` [m³] of it (None where no area is
    known), in through the line end `mouth`. `below` [m]: how far that takes its water down."""

    vessel: str
    mouth: str
    level: float
    below: float
    volume: float | None


@dataclass(frozen=True, slots=True)
class Spill:
    """What opening an access lets out with the pumps off and unplugged, and what is to be done first.

    `head` [m] of water stands over it, `flow` [m³/s] comes out at first, about; `pipe` [m³] is what the pipe above it holds besides.
    `shut` are the valves, by label, that keep the `sources` from it, `plug` the mouths in arm's reach to plug, `lower` the vessels to take down first.
    `pumped` [m] is the head that stands over it while the pumps run. It is not `safe` where fish would be left too shallow, and no valve and no
    plug keeps them from it.
    """

    access: str
    head: float
    flow: float
    pipe: float
    sources: tuple[Source, ...]
    shut: tuple[str, ...]
    plug: tuple[str, ...]
    lower: tuple[Source, ...]
    pumped: float
    safe: bool


def spills(layout: Layout, flows: Flows) -> dict[str, Spill]:
    """Tell what opening each cap, union and open end lets out, by its id.

    With the pumps off water comes from every vessel that open pipe leads down from to the opening: not through a shut valve nor against a check
    valve, and not over pipe that stands higher than its level; through a pump that stands still it does. A standpipe or an overflow gives no more than
    the film over its crest. It runs until the vessel is down to its mouth or to the opening.
    """
    closed = closed_accesses(layout)
    return {access.id: _spill(layout, flows, access) for access in layout.accesses
            if access.kind in ("cap", "union", "hose end") and access.id not in closed}  # fmt: skip


def unsafe(layout: Layout, found: Mapping[str, Spill]) -> tuple[Finding, ...]:
    """Report the openings that cannot be opened safely as the system stands."""
    out = []
    accesses = {access.id: access for access in layout.accesses}
    for name, spill in found.items():
        if spill.safe:
            continue
        access = accesses[name]
        out.append(
            finding(
                "floods-when-opened",
                f"{access_name(layout, access)[0].upper()}{access_name(layout, access)[1:]} cannot be opened with the system full: "
                f"{_runs_out(layout, spill)}, and no valve keeps it back.",
                f"put a ball valve into the pipe between {listed([repr(one.vessel) for one in spill.sources])} and {name}, "
                "and shut it first",
                line=access.line,
                step=access.step if any(part.step == access.step for part in layout.lines[access.line].parts) else None,
            )
        )
    return tuple(out)


def _runs_out(layout: Layout, spill: Spill) -> str:
    units = layout.units
    parts = []
    for one in spill.sources:
        much = "its water" if one.volume is None else show(one.volume, "volume", units)
        parts.append(f"{much} of '{one.vessel}', {show(one.below, 'length', units)} deep")
    return f"{listed(parts)} would run out, {show(spill.flow, 'flow', units)} at first"


def _spill(layout: Layout, flows: Flows, access: Access) -> Spill:
    sources, ways = _sources(layout, access, frozenset())
    shut: list[str] = []
    off: set[tuple[str, int]] = set()
    plug: list[str] = []
    lower: list[Source] = []
    safe = True
    for one in sources:
        # The valve nearest to the opening first, so that as little as can be stands between them.
        for key, part in ways[one.mouth]:
            if one.mouth not in _sources(layout, access, frozenset({*off, key}))[1]:
                off.add(key)
                shut.append(label(key[0], part))
                break
    left = _sources(layout, access, frozenset(off))[0]
    reachable = {other.id for other in layout.accesses if other.kind == "vessel"}
    for one in left:
        vessel = layout.vessels[one.vessel]
        if one.mouth in reachable:
            plug.append(one.mouth)
        elif vessel.holds == "fish" and one.below > layout.limits["level drop"]:
            safe = False
        else:
            lower.append(one)
    head = max((layout.vessels[one.vessel].level - access.place[2] for one in sources), default=0.0)
    flow = HOLE * math.pi / 4.0 * access.bore**2 * math.sqrt(2.0 * GRAVITY * head) if head > 0.0 else 0.0
    return Spill(access.id, head, flow, _above(layout, access), sources, tuple(dict.fromkeys(shut)), tuple(plug),
                 tuple(lower), _pumped(layout, flows, access), safe)  # fmt: skip


# ---------------------------------------------------------------------- ways


def _sources(
    layout: Layout, access: Access, off: Collection[tuple[str, int]]
) -> tuple[tuple[Source, ...], dict[str, tuple[tuple[tuple[str, int], Part], ...]]]:
    """The vessels that run out by an opening with some valves `off`, and the valves on the way to each mouth, from the opening on: by the way whose
    highest place is lowest."""
    next_to: dict[str, list[tuple[Stretch, str, bool]]] = {}
    for stretch in layout.stretches:
        next_to.setdefault(stretch.tail, []).append((stretch, stretch.head, True))
        next_to.setdefault(stretch.head, []).append((stretch, stretch.tail, False))
    mouths = _mouths(layout)
    found: dict[str, Source] = {}
    ways: dict[str, tuple[tuple[tuple[str, int], Part], ...]] = {}
    seen: set[str] = set()
    z = access.place[2]
    todo: list[tuple[float, int, str, tuple[tuple[tuple[str, int], Part], ...]]] = [(z, 0, access.id, ())]
    count = 0
    while todo:
        top, _, point, passed = heapq.heappop(todo)
        if point in seen:
            continue
        seen.add(point)
        if point in mouths:
            vessel_name, height, mouth = mouths[point]
            vessel = layout.vessels[vessel_name]
            low = max(height, z, top if top > height else height)
            if vessel.level > low + FILM:
                depth = vessel.level - low
                volume = None if vessel.area is None else vessel.area * depth
                found[mouth] = Source(vessel_name, mouth, low, depth, volume)
                ways[mouth] = passed
            continue
        for stretch, other, along in next_to.get(point, ()):
            onward = _through(stretch, along, off)
            if onward is not None:
                high, valves = onward
                count += 1
                heapq.heappush(todo, (max(top, high), count, other, (*passed, *valves)))
        for name, pump in layout.pumps.items():
            if pump.vessel is None and point in (f"{name}.in", f"{name}.out"):
                count += 1
                heapq.heappush(todo, (top, count, f"{name}.in" if point.endswith(".out") else f"{name}.out", passed))
    return tuple(found.values()), ways


def _mouths(layout: Layout) -> dict[str, tuple[str, float, str]]:
    """Points where pipe meets the water of a vessel, with the vessel, the height of the mouth and its name."""
    out = {}
    for name, line in layout.lines.items():
        ends: tuple[tuple[str, End], ...] = (("from", line.start), ("to", line.end))
        for side, end in ends:
            if end.kind == "vessel" and end.name is not None and end.port != "standpipe":
                out[f"{name}.{side}"] = (end.name, end.place[2], f"{name}.{side}")
    for name, pump in layout.pumps.items():
        if pump.vessel is not None and pump.airlift is None:
            out[f"{name}.out"] = (pump.vessel, layout.vessels[pump.vessel].base + pump.intake, name)
    return out


def _through(
    stretch: Stretch, along: bool, off: Collection[tuple[str, int]]
) -> tuple[float, tuple[tuple[tuple[str, int], Part], ...]] | None:
    """Follow a stretch away from the opening: its highest place and its open valves in order; None where water cannot come that way."""
    high, valves = -math.inf, []
    for part in stretch.parts if along else reversed(stretch.parts):
        high = max(high, part.start[2], part.end[2])
        key = (stretch.line, part.step)
        if part.is_pipe:
            continue
        if key in off or part_k(part).shut:
            return None
        # Water comes towards the opening: against the walk where the way out of it goes along.
        if fittings()[part.kind].one_way and along:
            return None
        if adjustable(part):
            valves.append((key, part))
    return high, tuple(valves)


def _above(layout: Layout, access: Access) -> float:
    """The water in the pipe of an opening's line that stands above it [m³]: what drips out whatever is shut."""
    out = 0.0
    for part in layout.lines[access.line].parts:
        if part.is_pipe and part.length > 0.0:
            rise = abs(minus(part.end, part.start)[2])
            top, foot = max(part.start[2], part.end[2]), min(part.start[2], part.end[2])
            share = (
                1.0 if foot >= access.place[2] else 0.0 if top <= access.place[2] else (top - access.place[2]) / rise
            )
            out += share * math.pi / 4.0 * part.pipe.bore**2 * part.length
    return out


def _pumped(layout: Layout, flows: Flows, access: Access) -> float:
    """The head over an opening while the pumps run [m]: none in pipe that takes air."""
    heads = [
        head
        for stretch in layout.stretches
        if access.id in (stretch.tail, stretch.head) and not flows.stretches[stretch.id].vented
        for head in [flows.stretches[stretch.id].head_tail if stretch.tail == access.id else flows.stretches[stretch.id].head_head]
        if not math.isnan(head)
    ]  # fmt: skip
    return max(max(heads, default=access.place[2]) - access.place[2], 0.0)
