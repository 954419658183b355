"""Drains that open to the air: what head they need, and where the water stands in the vessels that they empty.

A drain fed by a standpipe draws air with the water, so its pressure does not fall below the air's: the water is nowhere lower
than the pipe. From the outlet upwards, the head needed at each point is what is needed below it and what is lost between,
or the pipe's own height and the velocity head, whichever is more. Where the fall is larger than the loss the water runs
part-full and falls freely; where it is smaller, the pipe fills and the water backs up, in the end into the vessel.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping

from ..layout.model import STEEP_MOUTH, End, Layout, Part, Stretch
from .assemble import Assembly, end_bores
from .flows import StretchFlow
from .friction import friction_factor
from .mouths import crest_head, overflow_head
from .part_loss import part_loss, velocity_head
from .spray_bar import end_head
from .vessels import Roles, pipes_joined

__all__ = ["Needs", "drains_freely", "needs", "sleeve_gap", "spare_flows", "vented_lines"]

MULTIPLES = (1.0, 1.1, 1.25, 1.4, 1.6, 2.0, 2.5, 3.2, 4.0, 5.5, 8.0)
"""Multiples of today's flow at which drains are tried."""

FRACTIONS = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
"""Fractions of it, tried first where a vessel overtops already."""

Needs = dict[tuple[str, int], float]
"""Total head inside the pipe [m] at a stretch's tail (0) or head (1), by (stretch id, side)."""


def needs(
    layout: Layout,
    assembly: Assembly,
    stretches: Mapping[str, StretchFlow],
    outside: Mapping[str, tuple[float, float]],
    legs: Mapping[tuple[str, int], float],
) -> tuple[Needs, dict[str, float]]:
    """Find the heads that vented drains need, and the level of each vessel that they empty.

    Parameters
    ----------
    layout, assembly : as solved
    stretches : flows by stretch id
    outside : heads of the nodes at each stretch's tail and head [m]
    legs : heads inside the tees' legs as if everything ran full; their differences are the tees' losses

    Returns
    -------
    the heads inside the drains' stretches, and by vessel the level at which its outlets carry what it receives [m]
    """
    march = _March(layout, assembly, stretches, outside, legs)
    levels = march.levels()
    for stretch in layout.stretches:
        if stretch.line in march.vented and stretches[stretch.id].flow != 0.0:
            march.need(stretch, 0)
            march.need(stretch, 1)
    return march.found, levels


def spare_flows(
    layout: Layout,
    assembly: Assembly,
    stretches: Mapping[str, StretchFlow],
    outside: Mapping[str, tuple[float, float]],
    legs: Mapping[tuple[str, int], float],
) -> dict[str, float]:
    """Find how much more than today the drains of each vessel carry with its water at the rim, all drains carrying so
    many times as much.

    Parameters
    ----------
    as for `needs`

    Returns
    -------
    flow by vessel [m³/s], negative where it overtops already; found between multiples of today's flow by straight lines, within about a tenth; vessels without
    a rim, or that receive nothing, are left out, and those with room for more than eight times as much are given as that
    """
    rims = {
        name: vessel.base + vessel.rim
        for name, vessel in layout.vessels.items()
        if vessel.rim is not None and name in assembly.roles.spills | assembly.roles.finds_level
    }
    now = _March(layout, assembly, stretches, outside, legs).levels()
    over = any(level > rims.get(name, level) for name, level in now.items())
    found: dict[str, float] = {}
    before: dict[str, float] = {}
    last = 0.0
    for factor in (*FRACTIONS, *MULTIPLES) if over else MULTIPLES:
        march = _March(layout, assembly, stretches, outside, legs, factor)
        levels = march.levels()
        for name in rims.keys() - found.keys():
            if name in levels and levels[name] > rims[name]:
                low = before.get(name, levels[name])
                share = (rims[name] - low) / (levels[name] - low) if levels[name] > low else 0.0
                found[name] = last + max(share, 0.0) * (factor - last)
        before, last = levels, factor
        if len(found) == len(rims):
            break
    received = _received(layout, assembly, stretches)
    return {name: (found.get(name, last) - 1.0) * received[name] for name in rims if received.get(name, 0.0) > 0.0}


def _received(layout: Layout, assembly: Assembly, stretches: Mapping[str, StretchFlow]) -> dict[str, float]:
    """What goes down each vessel's outlets [m³/s]."""
    out: dict[str, float] = {}
    for name, _, _, into in _outlets(layout, assembly, stretches):
        out[name] = out.get(name, 0.0) + max(into, 0.0)
    return out


def _outlets(
    layout: Layout, assembly: Assembly, stretches: Mapping[str, StretchFlow]
) -> Iterator[tuple[str, Stretch, int, float]]:
    """Each outlet that carries what its vessel receives: the vessel, its stretch, the side it is on, and the flow into it
    [m³/s]."""
    pieces: dict[str, list[Stretch]] = {}
    for stretch in layout.stretches:
        pieces.setdefault(stretch.line, []).append(stretch)
    for line in layout.lines.values():
        for end, stretch, side in ((line.start, pieces[line.name][0], 0), (line.end, pieces[line.name][-1], 1)):
            if drains_freely(end, assembly.roles):
                flow = stretches[stretch.id].flow
                yield end.name or "", stretch, side, flow if side == 0 else -flow


class _March:
    def __init__(
        self,
        layout: Layout,
        assembly: Assembly,
        stretches: Mapping[str, StretchFlow],
        outside: Mapping[str, tuple[float, float]],
        legs: Mapping[tuple[str, int], float],
        factor: float = 1.0,
    ) -> None:
        self.factor = factor
        self.layout = layout
        self.assembly = assembly
        self.stretches = stretches
        self.outside = outside
        self.legs = legs
        self.gravity = assembly.network.gravity
        self.nu = layout.water.viscosity / layout.water.density
        self.vented = vented_lines(layout, assembly)
        self.found: Needs = {}
        self.at_point: dict[str, list[tuple[Stretch, int]]] = defaultdict(list)
        for stretch in layout.stretches:
            self.at_point[stretch.tail].append((stretch, 0))
            self.at_point[stretch.head].append((stretch, 1))

    def levels(self) -> dict[str, float]:
        """The level of each vessel at which its outlets carry what it receives [m]."""
        levels: dict[str, float] = {}
        for name, stretch, side, into in _outlets(self.layout, self.assembly, self.stretches):
            if stretch.line not in self.vented:
                continue
            line = self.layout.lines[stretch.line]
            end = line.start if side == 0 else line.end
            level = end.place[2]
            if into > 0.0:
                flow, bore = self.factor * into, end_bores(stretch)[side]
                link = self.assembly.links[stretch.id]
                entrance = (link.start if side == 0 else link.end)[0] * velocity_head(flow, bore, self.gravity)
                if end.in_wall:
                    level += overflow_head(flow, bore, (link.start if side == 0 else link.end)[0], self.gravity)
                elif end.port == "standpipe" or end.heading[2] > STEEP_MOUTH:
                    level += crest_head(flow, bore)  # a crest, or a hole in the floor
                level = max(level, self.need(stretch, side) + entrance)
                level += self.sleeve_head(name, stretch, side, flow)
            levels[name] = max(levels.get(name, level), level)
        return levels

    def sleeve_head(self, vessel: str, stretch: Stretch, side: int, flow: float) -> float:
        """What the way up between a standpipe and its sleeve takes: entrance, friction on the gap, and its speed [m]."""
        line = self.layout.lines[stretch.line]
        end = line.start if side == 0 else line.end
        gap = sleeve_gap(end, stretch, side)
        if gap is None:
            return 0.0
        area, width = gap
        speed = flow / area
        reynolds = speed * width / self.nu
        pipe = (stretch.parts[0].pipe if side == 0 else stretch.parts[-1].pipe_out) if stretch.parts else None
        rough = pipe.roughness if pipe is not None else 0.0
        height = end.place[2] - self.layout.vessels[vessel].base
        k = 1.5 + float(friction_factor(reynolds, rough / width)) * height / width
        return k * speed**2 / (2.0 * self.gravity)

    def flow(self, stretch: Stretch) -> float:
        """Flow along a stretch, so many times what it is."""
        return self.factor * self.stretches[stretch.id].flow

    def flow_out(self, stretch: Stretch, side: int) -> float:
        """Flow that leaves a stretch at its `side`."""
        return self.flow(stretch) if side == 1 else -self.flow(stretch)

    def need(self, stretch: Stretch, side: int) -> float:
        """Head needed inside a stretch at its `side`; streams run downhill, so this ends."""
        key = (stretch.id, side)
        if key not in self.found:
            self.found[key] = (
                self.outlet(stretch, side) if self.flow_out(stretch, side) > 0.0 else self.inlet(stretch, side)
            )
        return self.found[key]

    def outlet(self, stretch: Stretch, side: int) -> float:
        """Where water leaves the stretch: what is needed below, and the pipe's own height."""
        point = stretch.head if side else stretch.tail
        below = [
            (other, at)
            for other, at in self.at_point[point]
            if other.id != stretch.id and self.flow_out(other, at) < 0.0
        ]
        flow = self.flow(stretch)
        speed = velocity_head(flow, end_bores(stretch)[side], self.gravity)
        heads = [self._floor(stretch, side, flow)]
        if below:
            for other, at in below:
                lost = self.legs.get((stretch.id, side), 0.0) - self.legs.get((other.id, at), 0.0)
                heads.append(self.need(other, at) + self.factor**2 * lost)
        else:
            link = self.assembly.links[stretch.id]
            leaving = (link.start if side == 0 else link.end)[1]
            holes = end_head(link.bar, flow) if link.bar is not None and side == 1 else 0.0
            heads.append(self.outside[stretch.id][side] + leaving * speed + abs(holes))
        return max(heads)

    def inlet(self, stretch: Stretch, side: int) -> float:
        """Where water enters the stretch: walked up from its outlet, part by part."""
        head = self.need(stretch, 1 - side)
        flow = self.flow(stretch)
        link = self.assembly.links[stretch.id]
        pairs = list(zip(stretch.parts, link.parts, strict=True))
        for part, k in reversed(pairs) if side == 0 else pairs:
            head += part_loss(part, k, flow, self.nu, self.gravity, link.bar)
            head = max(head, self._height(part, upstream=side) + velocity_head(flow, part.pipe.bore, self.gravity))
        return head

    @staticmethod
    def _height(part: Part, upstream: int) -> float:
        return (part.start if upstream == 0 else part.end)[2]

    def _floor(self, stretch: Stretch, side: int, flow: float) -> float:
        if not stretch.parts:
            return -float("inf")
        part = stretch.parts[0 if side == 0 else -1]
        return self._height(part, side) + velocity_head(flow, end_bores(stretch)[side], self.gravity)


def sleeve_gap(end: End, stretch: Stretch, side: int) -> tuple[float, float] | None:
    """Give the area [m²] and the hydraulic diameter [m] of the gap between a standpipe and its sleeve; None without one.

    Area π/4 (Ds² − d²) and hydraulic diameter Ds − d, with d the pipe's outside diameter, or its bore where that is not
    known; a sleeve that is not wider than the pipe counts as a gap of a tenth of a millimetre.
    """
    if end.sleeve is None:
        return None
    outside = end_bores(stretch)[side]
    if stretch.parts:
        pipe = stretch.parts[0].pipe if side == 0 else stretch.parts[-1].pipe_out
        outside = pipe.outside or pipe.bore
    wide = max(end.sleeve, outside + 1e-4)
    return 0.25 * math.pi * (wide**2 - outside**2), wide - outside


def drains_freely(end: End, roles: Roles) -> bool:
    """Whether an end is an outlet that carries what its vessel receives: a standpipe that spills, or a port of a vessel
    that finds its level."""
    if end.kind != "vessel":
        return False
    if end.port == "standpipe":
        return end.name in roles.spills
    return end in roles.ports or (end.submerged and end.name in roles.finds_level)


def vented_lines(layout: Layout, assembly: Assembly, *, standpipes_only: bool = False) -> frozenset[str]:
    """Lines of pipe that can take air in: joined to an outlet that carries what its vessel receives, and to no pump."""
    groups = pipes_joined(layout)
    ends = [(groups[name], end) for name, line in layout.lines.items() for end in (line.start, line.end)]
    pumped = {group for group, end in ends if end.kind == "pump"}
    airy = {
        group
        for group, end in ends
        if drains_freely(end, assembly.roles) and (end.port == "standpipe" or not standpipes_only)
    }
    return frozenset(name for name, group in groups.items() if group in airy - pumped)
