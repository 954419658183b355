"""Flush states: the network with caps or drain valves open or a standpipe pulled, the pumps on or off, or a hose put in at a cap."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..errors import SolveError
from ..layout.altered import with_end, with_parts
from ..layout.model import Layout, Part
from ..water import GRAVITY
from .assemble import Supply
from .find import find_flows
from .fittings import is_shut
from .flows import Flows
from .stretches import pipes_joined
from .valve_service import adjustable, label, with_openings

__all__ = ["Opening", "comes_out", "flows_with", "openings", "pulled", "ways_out", "without_standpipes"]


@dataclass(frozen=True, slots=True)
class Opening:
    """Something that lets water out when opened: a cap or a standpipe (`id` of its access) or a shut drain valve (`id` "LINE:STEP").
    `at` [m] is how far along its line; `label` names it in the user's words; `piece` numbers the connected pipe it belongs to."""

    id: str
    kind: Literal["cap", "standpipe", "valve"]
    line: str
    step: int
    at: float
    label: str
    piece: int


def openings(layout: Layout) -> tuple[Opening, ...]:
    """Give every cap, every standpipe that pulls out, and every shut valve in pipe that has an end in open air."""
    pieces = pipes_joined(layout)
    airy = {pieces[point.rpartition(".")[0]] for point, end in layout.ends.items() if end.kind == "open air"}
    caps = [
        Opening(
            access.id,
            "cap" if access.kind == "cap" else "standpipe",
            access.line,
            access.step,
            access.at,
            f"'{access.id}'" if access.kind == "cap" else f"the standpipe of '{access.line}'",
            pieces[access.line],
        )
        for access in layout.accesses
        if access.kind in ("cap", "standpipe")
    ]
    valves = [
        Opening(f"{name}:{part.step}", "valve", name, part.step, part.at, label(name, part), pieces[name])
        for name, line in layout.lines.items()
        if pieces[name] in airy
        for part in line.parts
        if part.opening < 1.0 and adjustable(part) and is_shut(part)
    ]
    return (*caps, *valves)


def flows_with(
    layout: Layout, flows: Flows, opened: Sequence[Opening], *, stopped: bool = False, hose_at: Opening | None = None
) -> Flows | None:
    """Solve the network in a flush state, with the vessels' levels as in normal running.

    Parameters:
        layout: read and walked; with its `hose` where one is put in.

    Returns:
        The flows, or None where that state has no steady flow.
    """
    levels = {name: got.level for name, got in flows.vessels.items() if got.level is not None}
    turned = with_openings(layout, {(one.line, one.step): 1.0 for one in opened if one.kind == "valve"})
    turned = without_standpipes(turned, {one.id for one in opened})
    caps = tuple(one.id for one in opened if one.kind == "cap")
    fed = None
    if hose_at is not None and layout.hose is not None:
        head = layout.hose.pressure / (layout.water.density * GRAVITY)
        fed = {hose_at.id: Supply(head, layout.hose.flow)}
    try:
        return find_flows(turned, opened=caps, levels=levels, stopped=stopped, fed=fed)
    except SolveError:
        return None


def pulled(layout: Layout, line: str) -> Layout:
    """Return the layout with the standpipe at a line's beginning lifted out: the vessel is open at its socket."""
    foot = next(part for part in layout.lines[line].parts if part.kind == "dry socket")

    def out(part: Part) -> Part:
        return replace(part, start=foot.start, end=foot.start, length=0.0) if part.at < foot.at else part

    lifted = with_parts(layout, lambda name, parts: tuple(map(out, parts)) if name == line else parts)
    return with_end(
        lifted, line, "start", place=foot.start, port="port", siphon=None, sleeve=None, submerged=True, pulls_out=False
    )


def without_standpipes(layout: Layout, opened: Collection[str]) -> Layout:
    """Return the layout with the standpipes pulled that are among what is opened, by the ids of `Opening`."""
    for access in layout.accesses:
        if access.kind == "standpipe" and access.id in opened:
            layout = pulled(layout, access.line)
    return layout


def comes_out(layout: Layout, flows: Flows, caps: Collection[str]) -> float:
    """Give the water that comes out at caps, by their ids [m³/s]; negative where it goes in."""
    out = 0.0
    for stretch in layout.stretches:
        flow = flows.stretches[stretch.id].flow
        out += (flow if stretch.head in caps else 0.0) - (flow if stretch.tail in caps else 0.0)
    return out


def ways_out(layout: Layout, flows: Flows, opened: Sequence[Opening]) -> float:
    """Give the water that leaves the system in a flush state, by the opened caps and all ends in open air [m³/s]."""
    out = comes_out(layout, flows, {one.id for one in opened if one.kind == "cap"})
    return out + sum(flows.out_of(point) for point, end in layout.ends.items() if end.kind == "open air")
