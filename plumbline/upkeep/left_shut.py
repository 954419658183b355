"""Openings that are left shut: why, in words, and what would let them be opened."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from ..catalogued import finding
from ..findings import Finding, as_tuple
from ..layout.model import Access, Layout
from ..units import show
from .runs_out import Pipes, spot_of
from .spills import Spill, endangered, guard, is_fish
from .words import access_name, listed

__all__ = ["unsafe", "valve_between", "why_no_flush", "why_shut"]


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


def why_shut(layout: Layout, spill: Spill) -> str:
    """Say in a clause why an opening cannot be opened safely."""
    if spill.floods:
        return f"pulled with the system full it floods {listed(repr(name) for name in spill.floods)}"
    fish = dict.fromkeys(repr(one.vessel) for one in spill.left if is_fish(layout, one) and one.mouth not in spill.plug)
    return f"nothing keeps {listed(fish)} from running out there"


def why_no_flush(layout: Layout, spill: Spill | None) -> str:
    """Say in a clause why an opening is no way to flush, empty where it is one."""
    if spill is None or spill.flushes:
        return ""
    if not spill.safe:
        return why_shut(layout, spill)
    return (
        f"no valve stops {listed(dict.fromkeys(repr(one.vessel) for one in spill.left if one not in spill.down[:1]))}"
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


def valve_between(vessels: Iterable[str], what: str) -> str:
    """Say what keeps the water of vessels from an opening."""
    names = [repr(name) for name in vessels]
    if len(names) > 1:
        return f"put ball valves into the pipe between {what} and each of {listed(names)}, and shut them first"
    return f"put a ball valve into the pipe between {names[0]} and {what}, and shut it first"


def _keeps_back(layout: Layout, access: Access, spill: Spill) -> str:
    """What would let it be opened."""
    own = layout.lines[access.line].start.name if access.kind == "standpipe" else None
    others = [one.vessel for one in spill.left if one.vessel != own and endangered(layout, one)]
    if spill.floods:
        return f"take {listed([repr(name) for name in spill.floods])} down first, or leave the standpipe in"
    if not others or (own is not None and layout.vessels[own].holds == "fish"):
        return "leave it in while there are fish in the vessel"
    if own is None and not guard(Pipes(layout), spot_of(Pipes(layout), access), access.at).possible:
        return f"move {access.id} to where a valve can stand before it, or leave it shut"
    return valve_between(others, repr(own) if own else access.id)
