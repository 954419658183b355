"""Drains that open to the air: what head they need, and where the water stands in the vessels that they empty.

A drain fed by a standpipe draws air with the water, so its pressure does not fall below the air's: the water is nowhere lower
than the pipe. From the outlet upwards, the head needed at each point is what is needed below it and what is lost between,
or the pipe's own height and the velocity head, whichever is more. Where the fall is larger than the loss the water runs
part-full and falls freely; where it is smaller, the pipe fills and the water backs up, in the end into the vessel.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from ..layout.model import Layout, Part, Stretch
from .assemble import Assembly, end_bores
from .flows import StretchFlow
from .part_loss import part_loss, velocity_head
from .vessels import pipes_joined

__all__ = ["Needs", "crest_head", "needs"]

Needs = dict[tuple[str, int], float]
"""Total head inside the pipe [m] at a stretch's tail (0) or head (1), by (stretch id, side)."""


def crest_head(flow: float, bore: float) -> float:
    """Give the head over a standpipe's crest that a flow needs.

    Q = D h^1.5/7500 up to h = D/2, a weir, and Q = D² h^0.5/15000 above, an orifice (Q in L/s, D and h in mm).

    Parameters
    ----------
    flow : [m³/s]
    bore : D, inside diameter of the standpipe [m]

    Returns
    -------
    h [m], above the crest

    >>> round(crest_head(4.714e-3, 0.1), 4)
    0.05

    Reference: BS EN 12056-3, outlets of gutters (from memory).
    """
    q, d = abs(flow) * 1e3, bore * 1e3
    weir = float((7500.0 * q / d) ** (2.0 / 3.0))
    return (weir if weir <= 0.5 * d else (15000.0 * q / d**2) ** 2) / 1e3


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
    the heads inside the drains' stretches, and by vessel the level at which its standpipes carry what it receives [m]
    """
    march = _March(layout, assembly, stretches, outside, legs)
    levels: dict[str, float] = {}
    for line in layout.lines.values():
        pieces = [stretch for stretch in layout.stretches if stretch.line == line.name]
        for end, stretch, side in ((line.start, pieces[0], 0), (line.end, pieces[-1], 1)):
            name = end.name or ""
            if end.port != "standpipe" or name not in assembly.roles.spills or stretch.line not in march.vented:
                continue
            flow = stretches[stretch.id].flow
            into = flow if side == 0 else -flow
            level = end.place[2]
            if into > 0.0:
                bore = march.bore(stretch, side)
                entrance = assembly.links[stretch.id]
                k = (entrance.start if side == 0 else entrance.end)[0]
                level = max(
                    level + crest_head(flow, bore),
                    march.need(stretch, side) + k * velocity_head(flow, bore, march.gravity),
                )
            levels[name] = max(levels.get(name, level), level)
    for stretch in layout.stretches:
        if stretch.line in march.vented and stretches[stretch.id].flow != 0.0:
            march.need(stretch, 0)
            march.need(stretch, 1)
    return march.found, levels


class _March:
    def __init__(
        self,
        layout: Layout,
        assembly: Assembly,
        stretches: Mapping[str, StretchFlow],
        outside: Mapping[str, tuple[float, float]],
        legs: Mapping[tuple[str, int], float],
    ) -> None:
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

    def flow_out(self, stretch: Stretch, side: int) -> float:
        """Flow that leaves a stretch at its `side`."""
        flow = self.stretches[stretch.id].flow
        return flow if side == 1 else -flow

    def bore(self, stretch: Stretch, side: int) -> float:
        return end_bores(stretch)[side]

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
        flow = self.stretches[stretch.id].flow
        speed = velocity_head(flow, self.bore(stretch, side), self.gravity)
        heads = [self._floor(stretch, side, flow)]
        if below:
            for other, at in below:
                lost = self.legs.get((stretch.id, side), 0.0) - self.legs.get((other.id, at), 0.0)
                heads.append(self.need(other, at) + lost)
        else:
            link = self.assembly.links[stretch.id]
            leaving = (link.start if side == 0 else link.end)[1]
            heads.append(self.outside[stretch.id][side] + leaving * speed)
        return max(heads)

    def inlet(self, stretch: Stretch, side: int) -> float:
        """Where water enters the stretch: walked up from its outlet, part by part."""
        head = self.need(stretch, 1 - side)
        flow = self.stretches[stretch.id].flow
        link = self.assembly.links[stretch.id]
        pairs = list(zip(stretch.parts, link.parts, strict=True))
        for part, k in reversed(pairs) if side == 0 else pairs:
            head += part_loss(part, k, flow, self.nu, self.gravity)
            head = max(head, self._height(part, upstream=side) + velocity_head(flow, part.pipe.bore, self.gravity))
        return head

    @staticmethod
    def _height(part: Part, upstream: int) -> float:
        return (part.start if upstream == 0 else part.end)[2]

    def _floor(self, stretch: Stretch, side: int, flow: float) -> float:
        if not stretch.parts:
            return -float("inf")
        part = stretch.parts[0 if side == 0 else -1]
        return self._height(part, side) + velocity_head(flow, self.bore(stretch, side), self.gravity)


def vented_lines(layout: Layout, assembly: Assembly) -> frozenset[str]:
    """Lines of drains that take air in: joined to a standpipe that spills, and to no pump."""
    groups = pipes_joined(layout)
    ends = [(groups[name], end) for name, line in layout.lines.items() for end in (line.start, line.end)]
    pumped = {group for group, end in ends if end.kind == "pump"}
    airy = {group for group, end in ends if end.port == "standpipe" and end.name in assembly.roles.spills}
    return frozenset(name for name, group in groups.items() if group in airy - pumped)
