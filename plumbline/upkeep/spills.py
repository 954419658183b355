"""What runs out when an opening is opened, from which vessel, down to where; and what a hand has to do first so that nothing does."""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from ..catalogue import fittings
from ..catalogued import finding
from ..errors import SolveError
from ..findings import Finding
from ..hydraulics.fittings import part_k
from ..hydraulics.flows import Flows
from ..hydraulics.opened import pulled
from ..hydraulics.power_cut import power_cut
from ..hydraulics.valve_service import adjustable, label, with_openings
from ..layout.model import Access, End, Layout, Part, Stretch
from ..layout.vectors import minus
from ..units import show
from .access import closed_accesses
from .words import access_name, listed

__all__ = ["Source", "Spill", "spills", "unsafe"]

FILM = 0.01
"""Water less than this over an opening [m] is a dribble."""

SPILT = 1e-3
"""Water less than this over a rim [m³] is a dribble."""

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
    Where a standpipe is pulled `down` are the vessels, its own first, that run down its line all the same, and `floods` [m³] what goes over
    rims by that. It is not `safe` where fish would be left too shallow, and no valve and no plug keeps them from it, or where it floods.
    """

    access: str
    head: float
    flow: float
    pipe: float
    sources: tuple[Source, ...]
    shut: tuple[str, ...]
    plug: tuple[str, ...]
    lower: tuple[Source, ...]
    down: tuple[Source, ...]
    floods: Mapping[str, float]
    safe: bool


def spills(layout: Layout, flows: Flows) -> dict[str, Spill]:
    """Tell what opening each cap, union and open end lets out, by its id.

    With the pumps off water comes from every vessel that open pipe leads down from to the opening: not through a shut valve nor against a check
    valve, and not over pipe that stands higher than its level; through a pump that stands still it does. A standpipe or an overflow gives no more than
    the film over its crest. It runs until the vessel is down to its mouth or to the opening. A standpipe that is pulled opens its vessel at its
    socket: that runs out down the line, with all that comes to it from other vessels.
    """
    closed = closed_accesses(layout)
    cut = _spilled(layout, flows) if any(access.kind == "standpipe" for access in layout.accesses) else {}
    return {access.id: _spill(layout, flows, access, cut) for access in layout.accesses
            if access.kind in ("cap", "union", "hose end", "standpipe") and access.id not in closed}  # fmt: skip


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
                f"{access_name(layout, access)[0].upper()}{access_name(layout, access)[1:]} cannot be "
                f"{'pulled' if access.kind == 'standpipe' else 'opened'} with the system full: {_runs_out(layout, spill)}.",
                _keeps_back(layout, access, spill),
                line=access.line,
                step=access.step if any(part.step == access.step for part in layout.lines[access.line].parts) else None,
            )
        )
    return tuple(out)


def _runs_out(layout: Layout, spill: Spill) -> str:
    units = layout.units
    if spill.floods:
        over = listed(
            [f"{show(much, 'volume', units)} over the rim of '{name}'" for name, much in spill.floods.items()]
        )
        return f"{over} would run out onto the ground"
    parts = []
    for one in spill.sources:
        much = "its water" if one.volume is None else show(one.volume, "volume", units)
        parts.append(f"{much} of '{one.vessel}', {show(one.below, 'length', units)} deep")
    return f"{listed(parts)} would run out, {show(spill.flow, 'flow', units)} at first, and no valve keeps it back"


def _keeps_back(layout: Layout, access: Access, spill: Spill) -> str:
    """What would let it be opened."""
    own = layout.lines[access.line].start.name if access.kind == "standpipe" else None
    others = [one.vessel for one in spill.sources if one.vessel != own]
    if spill.floods:
        return f"take {listed([repr(name) for name in spill.floods])} down first, or leave the standpipe in"
    if not others or (own is not None and layout.vessels[own].holds == "fish"):
        return "leave it in while there are fish in the vessel"
    return f"put a ball valve into the pipe between {listed([repr(name) for name in others])} and {repr(own) if own else access.id}, and shut it first"


def _spill(layout: Layout, flows: Flows, access: Access, cut: Mapping[str, float]) -> Spill:
    sources, ways = _sources(layout, access, frozenset())
    own = f"{access.line}.from" if access.kind == "standpipe" else None
    shut: list[str] = []
    off: set[tuple[str, int]] = set()
    plug: list[str] = []
    lower: list[Source] = []
    down: list[Source] = []
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
        if one.mouth in reachable and one.mouth != own:
            plug.append(one.mouth)
        elif vessel.holds == "fish" and one.below > layout.limits["level drop"]:
            safe = False
        else:
            (lower if own is None else down).append(one)
    floods = _floods(layout, flows, access.line, off, cut) if own is not None and safe else {}
    head = max((layout.vessels[one.vessel].level - access.place[2] for one in sources), default=0.0)
    flow = HOLE * math.pi / 4.0 * access.bore**2 * math.sqrt(2.0 * GRAVITY * head) if head > 0.0 else 0.0
    pipe = _above(layout, access) if own is None else 0.0
    return Spill(access.id, head, flow, pipe, sources, tuple(dict.fromkeys(shut)), tuple(plug),
                 tuple(lower), tuple(down), floods, safe and not floods)  # fmt: skip


def _floods(
    layout: Layout, flows: Flows, line: str, off: Collection[tuple[str, int]], cut: Mapping[str, float]
) -> dict[str, float]:
    """What goes over rims, by vessel [m³], where the water has come to rest with a standpipe pulled, beyond what does in a power `cut`."""
    after = _spilled(pulled(with_openings(layout, dict.fromkeys(off, 0.0)), line), flows)
    return {name: much - cut.get(name, 0.0) for name, much in after.items() if much > cut.get(name, 0.0) + SPILT}


def _spilled(layout: Layout, flows: Flows) -> dict[str, float]:
    """What goes over rims when all pumps stop, by vessel [m³]; nothing is known where the water never comes to rest."""
    try:
        return {one.vessel: one.spilled for one in power_cut(layout, flows).vessels}
    except SolveError:
        return {}


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
    count = itertools.count()
    z = access.place[2]
    todo: list[tuple[float, int, str, tuple[tuple[tuple[str, int], Part], ...]]] = []

    def on(
        top: float,
        passed: tuple[tuple[tuple[str, int], Part], ...],
        line: str,
        parts: Sequence[Part],
        other: str,
        along: bool,
    ) -> None:
        """Go on through pipe to the point behind it, if water comes that way."""
        onward = _through(line, parts, along, off)
        if onward is not None:
            heapq.heappush(todo, (max(top, onward[0]), next(count), other, (*passed, *onward[1])))

    if access.kind == "standpipe":
        end = layout.lines[access.line].start
        vessel = layout.vessels[end.name or ""]
        deep = vessel.level - z
        if deep > FILM:
            found[f"{access.line}.from"] = Source(
                vessel.name, f"{access.line}.from", z, deep, None if vessel.area is None else vessel.area * deep
            )
            ways[f"{access.line}.from"] = ()
        inside = {
            point: height
            for point, (name, height, _) in mouths.items()
            if name == vessel.name and height < vessel.level - FILM
        }
        seen |= inside.keys()
        for point, height in inside.items():
            for stretch, other, along in next_to.get(point, ()):
                on(max(z, height), (), stretch.line, stretch.parts if along else stretch.parts[::-1], other, along)
    elif access.kind == "hose end":
        stretch = next(one for one in layout.stretches if one.line == access.line and one.start <= access.at <= one.stop
                       and any(part.step == access.step for part in one.parts))  # fmt: skip
        here = next(n for n, part in enumerate(stretch.parts) if part.step == access.step and not part.is_pipe)
        on(z, (), stretch.line, stretch.parts[here + 1 :], stretch.head, True)
        on(z, (), stretch.line, stretch.parts[:here][::-1], stretch.tail, False)
    else:
        todo.append((z, next(count), access.id, ()))
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
            on(top, passed, stretch.line, stretch.parts if along else stretch.parts[::-1], other, along)
        for name, pump in layout.pumps.items():
            if pump.vessel is None and point in (f"{name}.in", f"{name}.out"):
                behind = f"{name}.in" if point.endswith(".out") else f"{name}.out"
                heapq.heappush(todo, (top, next(count), behind, passed))
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
    line: str, parts: Sequence[Part], along: bool, off: Collection[tuple[str, int]]
) -> tuple[float, tuple[tuple[tuple[str, int], Part], ...]] | None:
    """Follow pipe away from the opening: its highest place and its open valves in order; None where water cannot come that way."""
    high, valves = -math.inf, []
    for part in parts:
        high = max(high, part.start[2], part.end[2])
        key = (line, part.step)
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
