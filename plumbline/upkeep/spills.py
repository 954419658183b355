"""What runs out when an opening is opened, from which vessel, down to where; and what a hand has to do first so that nothing does."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

from ..catalogued import finding
from ..errors import SolveError
from ..findings import Finding, as_tuple
from ..hydraulics.flows import Flows
from ..hydraulics.opened import pulled
from ..hydraulics.power_cut import PowerCut, power_cut
from ..hydraulics.valve_service import label, with_openings
from ..layout.model import Access, Layout
from ..layout.vectors import minus
from ..units import show
from ..water import GRAVITY
from .access import closed_accesses, water_around
from .runs_out import FILM, Source, runs_out, siphons_over
from .words import access_name, listed

__all__ = ["Source", "Spill", "spills", "unsafe"]

SPILT = 1e-3
"""Water less than this over a rim [m³] is a dribble."""


HOLE = 0.6
"""The share of a hole that a jet fills: the discharge coefficient of a sharp edge, 0.6 to 0.62 in all handbooks (from memory)."""


@dataclass(frozen=True, slots=True)
class Spill:
    """What opening an access lets out with the pumps off and unplugged, and what is to be done first.

    `head` [m] of water stands over it, `flow` [m³/s] comes out at first, about; `pipe` [m³] is what the pipe above it holds besides.
    `shut` are the valves, by label, that keep the `sources` from it, all but those that are `left`, `plug` the mouths in arm's reach to plug, `lower` the vessels to take down first.
    Where a standpipe is pulled `down` are the vessels, its own first, that run down its line all the same, and `floods` [m³] what goes over
    rims by that. `waits` are the vessels whose siphons run out by it if they are at it, `ebbs` those that run down far enough by themselves with the
    pumps off, once that is known. It is not `safe` where fish would be left too shallow, and no valve and no plug keeps them from it, or where it floods.
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
    waits: tuple[str, ...] = ()
    left: tuple[Source, ...] = ()
    ebbs: tuple[Source, ...] = ()

    def after(self, cut: PowerCut) -> Spill:
        """The same, with the vessels that run down by themselves once the pumps stop told apart from those to be taken down."""
        levels = {row.vessel: row.after for row in cut.vessels if row.after is not None}
        ebbs = tuple(one for one in self.lower if levels.get(one.vessel, math.inf) <= one.level + FILM)
        return replace(self, ebbs=ebbs, lower=tuple(one for one in self.lower if one not in ebbs))


def spills(layout: Layout, flows: Flows) -> dict[str, Spill]:
    """Tell what opening each cap, union and open end lets out, by its id.

    With the pumps off water comes from every vessel that open pipe leads down from to the opening: not through a shut valve nor against a check
    valve, and not over pipe that stands higher than its level; through a pump that stands still it does. A standpipe or an overflow gives no more than
    the film over its crest. It runs until the vessel is down to its mouth or to the opening. A standpipe that is pulled opens its vessel at its
    socket: that runs out down the line, with all that comes to it from other vessels. Openings that hang in a vessel are left out.
    """
    closed = closed_accesses(layout)
    cut = _spilled(layout, flows) if any(access.kind == "standpipe" for access in layout.accesses) else {}
    return {
        access.id: _spill(layout, flows, access, cut)
        for access in layout.accesses
        if access.kind in ("cap", "union", "hose end", "standpipe")
        and access.id not in closed
        and not _in_a_vessel(layout, access)
    }


def _in_a_vessel(layout: Layout, access: Access) -> bool:
    """Whether an opening hangs in a vessel, at the end of a bar of holes, right on a pump that stands in it, or in a pipe under the
    fish's water: what the pipe lets out there stays in."""
    line = layout.lines[access.line]
    pump = layout.pumps.get(line.start.name or "") if line.start.kind == "pump" and access.at < 1e-6 else None
    around = water_around(layout, access)
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


@as_tuple
def unsafe(layout: Layout, found: Mapping[str, Spill]) -> Iterator[Finding]:
    """Report the openings that cannot be opened safely as the system stands."""
    accesses = {access.id: access for access in layout.accesses}
    for name, spill in found.items():
        if spill.safe:
            continue
        access = accesses[name]
        yield finding(
            "floods-when-opened",
            f"{access_name(layout, access)[0].upper()}{access_name(layout, access)[1:]} cannot be "
            f"{'pulled' if access.kind == 'standpipe' else 'opened'} with the system full: {_runs_out(layout, spill)}.",
            _keeps_back(layout, access, spill),
            line=access.line,
            step=access.step if any(part.step == access.step for part in layout.lines[access.line].parts) else None,
        )


def _runs_out(layout: Layout, spill: Spill) -> str:
    units = layout.units
    if spill.floods:
        over = listed(
            [f"{show(much, 'volume', units)} over the rim of '{name}'" for name, much in spill.floods.items()]
        )
        return f"{over} would run out onto the ground"
    parts = []
    for one in spill.left:
        much = "its water" if one.volume is None else show(one.volume, "volume", units)
        parts.append(f"{much} of '{one.vessel}', {show(one.below, 'length', units)} deep")
    return f"{listed(parts)} would run out, {show(spill.flow, 'flow', units)} at first, and no valve keeps it back"


def _keeps_back(layout: Layout, access: Access, spill: Spill) -> str:
    """What would let it be opened."""
    own = layout.lines[access.line].start.name if access.kind == "standpipe" else None
    others = [one.vessel for one in spill.left if one.vessel != own]
    if spill.floods:
        return f"take {listed([repr(name) for name in spill.floods])} down first, or leave the standpipe in"
    if not others or (own is not None and layout.vessels[own].holds == "fish"):
        return "leave it in while there are fish in the vessel"
    return f"put a ball valve into the pipe between {listed([repr(name) for name in others])} and {repr(own) if own else access.id}, and shut it first"


def _spill(layout: Layout, flows: Flows, access: Access, cut: Mapping[str, float]) -> Spill:
    sources, ways = runs_out(layout, access, frozenset())
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
            if one.mouth not in runs_out(layout, access, frozenset({*off, key}))[1]:
                off.add(key)
                shut.append(label(key[0], part))
                break
    left = runs_out(layout, access, frozenset(off))[0]
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
    return Spill(
        access.id,
        head,
        flow,
        pipe,
        sources,
        tuple(dict.fromkeys(shut)),
        tuple(plug),
        tuple(lower),
        tuple(down),
        floods,
        safe and not floods,
        siphons_over(layout, access) if own is None else (),
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
