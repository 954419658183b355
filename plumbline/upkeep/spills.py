"""What an opening can be used for: what runs out when it is opened, from which vessel, down to where; what a hand
has to do first so that nothing
does; and so whether it is good for rods, for a flush, or for neither. All that asks whether an opening is an
access asks here."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Hashable, Mapping
from dataclasses import dataclass, replace

from .. import catalogue
from ..errors import SolveError
from ..hydraulics.flows import Flows
from ..hydraulics.opened import pulled
from ..hydraulics.power_cut import PowerCut, power_cut
from ..hydraulics.valve_service import label, with_openings
from ..layout.model import Access, Layout
from ..layout.vectors import minus
from ..water import GRAVITY
from .access import closed_accesses, water_around
from .runs_out import FILM, Key, Passed, Pipes, Source, Spot, last_valve, runs_out, siphons_over, spot_of

__all__ = ["Guard", "Source", "Spill", "endangered", "guard", "is_fish", "kept_back", "spills"]

SPILT = 1e-3
"""Water less than this over a rim [m³] is a dribble."""


HOLE = 0.6
"""The share of a hole that a jet fills: the discharge coefficient of a sharp edge, 0.6 to 0.62 in all handbooks (from memory)."""


@dataclass(frozen=True, slots=True)
class Spill:
    """What opening an access lets out with the pumps off and unplugged, and what is to be done first.

    `head` [m] of water stands over it, `flow` [m³/s] comes out at first, about; `pipe` [m³] is what the pipe above it holds besides.
    `shut` are the valves, by label (`bars`, by line and step: no rod passes them so), that keep the `sources` from
    it, all but those that are `left`, `plug` the
    mouths in arm's reach to plug, `lower` the vessels to take down first.
    Where a standpipe is pulled `down` are the vessels, its own first, that run down its line all the same, and `floods` [m³] what goes over
    rims by that. `waits` are the vessels whose siphons run out by it if they are at it, `ebbs` those that run down far enough by themselves with the
    pumps off, once that is known. It is not `safe` where fish would be left too shallow, and no valve and no plug
    keeps them from it, or where it floods: then it is
    no access. `drained` is the other way to prepare it, where there is one: valves that rods pass left open as far
    as fish allow it, and vessels without fish
    taken down in place of their mouths plugged.
    """

    access: str
    head: float
    flow: float
    pipe: float
    sources: tuple[Source, ...]
    shut: tuple[str, ...]
    bars: frozenset[Hashable]
    plug: tuple[str, ...]
    lower: tuple[Source, ...]
    down: tuple[Source, ...]
    floods: Mapping[str, float]
    safe: bool
    waits: tuple[str, ...] = ()
    left: tuple[Source, ...] = ()
    ebbs: tuple[Source, ...] = ()
    drained: Spill | None = None

    @property
    def flushes(self) -> bool:
        """Whether water can be let out by it and stopped again: nothing stands over it with the pumps off, or
        valves keep back all that does until a hand opens
        them. A standpipe is there to be pulled with water over it; not where another vessel has to be shut off
        first, for then less comes."""
        return self.safe and (not self.left or bool(self.down and not self.shut))

    def after(self, cut: PowerCut) -> Spill:
        """The same, with the vessels that run down by themselves once the pumps stop told apart from those to be taken down."""
        levels = {row.vessel: row.after for row in cut.vessels if row.after is not None}
        ebbs = tuple(one for one in self.lower if levels.get(one.vessel, math.inf) <= one.level + FILM)
        rest = tuple(one for one in self.lower if one not in ebbs)
        return replace(self, ebbs=ebbs, lower=rest, drained=self.drained and self.drained.after(cut))


def spills(layout: Layout, flows: Flows | None = None, only: Collection[str] | None = None) -> dict[str, Spill]:
    """Tell what opening each cap, union and open end lets out, by its id; of those named alone where some are.

    With the pumps off water comes from every vessel that open pipe leads down from to the opening: not through a shut valve nor against a check
    valve, and not over pipe that stands higher than its level; through a pump that stands still it does. A standpipe or an overflow gives no more than
    the film over its crest. It runs until the vessel is down to its mouth or to the opening. A standpipe that is pulled opens its vessel at its
    socket: that runs out down the line, with all that comes to it from other vessels; without `flows` it is not
    known whether that floods.
    Openings that hang in a vessel are left out.
    """
    closed = closed_accesses(layout)
    pulls = any(access.kind == "standpipe" for access in layout.accesses)
    cut = _spilled(layout, flows) if flows is not None and pulls else {}
    pipes = Pipes(layout)
    return {
        access.id: _spill(pipes, flows, access, cut)
        for access in layout.accesses
        if access.kind in ("cap", "union", "hose end", "standpipe")
        and (only is None or access.id in only)
        and access.id not in closed
        and not _in_a_vessel(layout, access)
    }


def _in_a_vessel(layout: Layout, access: Access) -> bool:
    """Whether an opening hangs in a vessel, at the end of a bar of holes, right on a pump that stands in it, or in a pipe under the
    fish's water: what the pipe lets out there stays in."""
    line = layout.lines[access.line]
    pump = layout.pumps.get(line.start.name or "") if line.start.kind == "pump" and access.at < 1e-6 else None
    around = water_around(layout, access.line, access.at, access.place[2])
    # Any other vessel is taken down to work in the dry; fish keep their water.
    with_fish = around is not None and around.holds == "fish"
    return (
        (pump is not None and pump.vessel is not None)
        or with_fish
        or any(
            part.vessel is not None and abs(access.at - at) < 1e-6
            for part in line.parts
            for at in (part.at, part.at + part.length)
        )
    )


def endangered(layout: Layout, source: Source) -> bool:
    """Whether what runs out of a vessel has to be kept back by a valve: it holds fish, and no arm gets at its
    mouth to plug it."""
    return is_fish(layout, source) and all(other.id != source.mouth for other in layout.accesses)


def is_fish(layout: Layout, source: Source) -> bool:
    """Whether what runs out leaves fish too shallow."""
    return layout.vessels[source.vessel].holds == "fish" and source.below > layout.limits["level drop"]


def kept_back(
    pipes: Pipes, spot: Spot, wanted: Callable[[Source], bool] = lambda _: True, off: Collection[Key] = ()
) -> dict[Key, str]:
    """Give the valves to shut, with their labels, so that what runs out by an opening, as far as it is `wanted`,
    is kept from it; those nearest to the vessels, so that as
    much as can be of the pipe behind the opening is free of them. Where no valve stands on a way all others to
    that mouth stay open."""
    shut: dict[Key, str] = {}
    while True:
        found, ways = runs_out(pipes, spot, {*off, *shut})
        more = [last_valve(ways[one.mouth]) for one in found if wanted(one)]
        if not any(more):
            break
        shut |= {valve[0]: label(valve[0][0], valve[1]) for valve in more if valve is not None}
    still = {one.mouth for one in found}
    for key in tuple(shut):
        rest = {other: name for other, name in shut.items() if other != key}
        if {one.mouth for one in runs_out(pipes, spot, {*off, *rest})[0] if wanted(one)} <= still:
            shut = rest
    return shut


@dataclass(frozen=True, slots=True)
class Guard:
    """What keeps fish's water from an opening: `shut` are the valves there that do, `vessels` those that new
    valves have to keep back, which would stand in the
    `runs` of pipe, by line and step, nearest to them that a hand gets at. A rod passes none of the `bars`. It is
    not `possible` where a hand gets at no such run."""

    shut: frozenset[Key]
    vessels: tuple[str, ...]
    runs: tuple[Key, ...]
    bars: frozenset[Hashable]
    possible: bool


def guard(pipes: Pipes, spot: Spot, at: float) -> Guard:
    """Tell of an opening, there or not, `at` [m] along its line, what fish's water asks of it."""
    layout = pipes.layout
    free = Guard(frozenset(), (), (), frozenset(), True)
    if all(vessel.holds != "fish" or vessel.level < spot.height for vessel in layout.vessels.values()):
        return free
    around = water_around(layout, spot.line, at, spot.height)
    if around is not None and around.holds == "fish":
        return free
    shut = frozenset(kept_back(pipes, spot, lambda one: endangered(layout, one)))
    found, ways = runs_out(pipes, spot, shut)
    left = [one for one in found if endangered(layout, one)]
    places = [_place_for_valve(layout, ways[one.mouth]) for one in left]
    runs = tuple(dict.fromkeys(place[0] for place in places if place is not None))
    beyond = {bar for place in places if place is not None for bar in place[1]}
    return Guard(shut, tuple(dict.fromkeys(one.vessel for one in left)), runs, shut | beyond, None not in places)


def _place_for_valve(layout: Layout, way: Passed) -> tuple[Key, tuple[Hashable, ...]] | None:
    """The run on a way nearest to the vessel that a hand gets at, and what lies behind a valve at that end of it."""
    runs = [(key, part) for key, part in way if part.is_pipe]
    last = next((n for n in reversed(range(len(runs))) if runs[n][1].kind == "run" and not runs[n][1].around), None)
    if last is None:
        return None
    behind = runs[last + 1 :][:1]
    numbers = (
        (key[0], n)
        for key, part in behind
        for n, other in enumerate(layout.lines[key[0]].parts)
        if other.is_pipe and other.at == part.at
    )
    return runs[last][0], tuple(("pipe", *place) for place in numbers)


def _spill(pipes: Pipes, flows: Flows | None, access: Access, cut: Mapping[str, float]) -> Spill:
    layout, spot = pipes.layout, spot_of(pipes, access)
    sources, _ = runs_out(pipes, spot)
    shut = kept_back(pipes, spot) if sources else {}
    spill = _prepared(pipes, flows, access, spot, sources, shut, cut)
    if spot.vessel is not None or not spill.safe:
        return spill
    passed = {key for key in shut if _lets_past(layout, key)}
    free = {key: name for key, name in shut.items() if key not in passed}
    free |= kept_back(pipes, spot, lambda one: endangered(layout, one), free) if passed else {}
    if free.keys() == shut.keys() and not spill.plug:
        return spill
    return replace(spill, drained=_prepared(pipes, flows, access, spot, sources, free, cut, drained=True))


def _lets_past(layout: Layout, key: Key) -> bool:
    """Whether a valve lets rods past as it stands, open."""
    kinds = (part.kind for part in layout.lines[key[0]].parts if part.step == key[1] and not part.is_pipe)
    return any(catalogue.fittings()[kind].rod == "passes open" for kind in kinds)


def _prepared(
    pipes: Pipes,
    flows: Flows | None,
    access: Access,
    spot: Spot,
    sources: tuple[Source, ...],
    shut: Mapping[Key, str],
    cut: Mapping[str, float],
    *,
    drained: bool = False,
) -> Spill:
    """What is to be done once some valves are shut; where it is to be `drained`, only fish are kept back by a
    plug."""
    layout = pipes.layout
    own = f"{access.line}.from" if spot.vessel is not None else None
    left = runs_out(pipes, spot, shut.keys())[0] if shut else sources
    reachable = {other.id for other in layout.accesses if other.kind == "vessel"}
    plug: list[str] = []
    lower: list[Source] = []
    safe = True
    for one in left:
        if one.mouth in reachable and one.mouth != own and (is_fish(layout, one) or not drained):
            plug.append(one.mouth)
        elif is_fish(layout, one):
            safe = False
        else:
            lower.append(one)
    floods: dict[str, float] = {}
    if own is not None and safe and flows is not None:
        floods = _floods(layout, flows, access.line, shut.keys(), cut)
    head = max((layout.vessels[one.vessel].level - access.place[2] for one in sources), default=0.0)
    flow = HOLE * math.pi / 4.0 * access.bore**2 * math.sqrt(2.0 * GRAVITY * head) if head > 0.0 else 0.0
    return Spill(
        access.id,
        head,
        flow,
        _above(layout, access) if own is None else 0.0,
        sources,
        tuple(dict.fromkeys(shut.values())),
        frozenset(shut),
        tuple(plug),
        tuple(lower) if own is None else (),
        () if own is None else tuple(lower),
        floods,
        safe and not floods,
        siphons_over(pipes, spot) if own is None else (),
        left,
    )


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
