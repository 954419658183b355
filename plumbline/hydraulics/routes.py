"""Where the head goes: each way from a source to an end, part by part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..layout.model import Layout, Part, Stretch
from .assemble import Assembly
from .fittings import PartK, part_loss, velocity_head
from .flows import FREE_FALL, PartLoss, RouteLedger
from .network import Solution
from .spray_bar import Bar, end_head
from .stretch_links import LinkOf
from .stretches import end_bores, narrowing, way_back

__all__ = ["ledger_name", "route_ledgers"]

LegHeads = Mapping[tuple[str, int], float]
"""Total head inside a tee's leg, by (stretch id, 0 at its tail or 1 at its head)."""


def route_ledgers(
    layout: Layout,
    assembly: Assembly,
    solution: Solution,
    heads: Mapping[str, tuple[float, float]],
    flows: Mapping[str, float],
    legs: LegHeads,
    pumped: Mapping[str, float],
) -> tuple[RouteLedger, ...]:
    """Trace every end at which water comes out back to where it comes from.

    Parameters:
        heads: total heads outside each stretch's tail and head [m].
        flows: by stretch id [m³/s].
        pumped: the head that each pump adds [m].

    Returns:
        A ledger for each such end, in the order of the lines. Where streams combine, the larger one is followed.
        In each, `pumped` = `lift` + Σ losses, to the accuracy of the solution.
    """
    tracer = _Tracer(layout, assembly, solution, heads, flows, legs, pumped)
    largest = max(map(abs, flows.values()), default=0.0)
    ledgers = []
    for stretch in layout.stretches:
        flow = flows[stretch.id]
        line = layout.lines[stretch.line]
        for side, point, end in ((1, stretch.head, line.end), (0, stretch.tail, line.start)):
            leaves = flow if side == 1 else -flow
            if assembly.links[stretch.id].holes:
                continue  # its water comes out all along
            sprays = side == 1 and assembly.links[stretch.id].bar is not None
            outlet = point == f"{line.name}.{'to' if side else 'from'}" and end.kind in ("vessel", "open air", "draw")
            if leaves > 1e-9 * largest and (outlet or sprays):
                ledgers.append(tracer.trace(stretch, side))
    return tuple(ledgers)


def ledger_name(part: Part) -> str:
    """A part as the ledger calls it."""
    name = f"{part.kind} {part.id}" if part.id and not part.id.startswith(part.kind) else part.id or part.kind
    return f"{name} at step {part.step}" if part.step else name


@dataclass(frozen=True)
class _Tracer:
    layout: Layout
    assembly: Assembly
    solution: Solution
    heads: Mapping[str, tuple[float, float]]
    flows: Mapping[str, float]
    legs: LegHeads
    pumped: Mapping[str, float]
    lost: dict[tuple[str, int], list[PartLoss]] = field(default_factory=dict)

    def trace(self, stretch: Stretch, side: int) -> RouteLedger:
        """From an outlet against the flow, to the vessel, supply or air that the water comes from."""
        outlet = f"{stretch.line}.{'to' if side else 'from'}"
        line = self.layout.lines[stretch.line]
        end = line.end if side else line.start
        vessel = end.name if end.kind == "vessel" else next((p.vessel for p in stretch.parts if p.vessel), None)
        valve = self.assembly.network.float_press(self.solution.heads, self.assembly.links[stretch.id].at(side))
        end_head = self.heads[stretch.id][side] - valve
        losses = [PartLoss("float valve", stretch.line, 0, valve)] if valve > 0.0 else []
        pumped = 0.0
        way = way_back(self.layout, self.flows, self.assembly.pumps, stretch, side)
        for number, (piece, out) in enumerate(way):
            losses += self.stretch_losses(piece, out_side=out)
            back = 1 - out
            free = self.free_fall(piece, out)
            if free > 0.0:
                losses.append(PartLoss(FREE_FALL, piece.line, 0, free))
            point = piece.head if back else piece.tail
            pump = self.layout.pumps.get(point.removesuffix(".out")) if point.endswith(".out") else None
            if pump is not None and pump.name in self.assembly.pumps:
                pumped += self.pumped[pump.name]
            if number + 1 < len(way) and (piece.id, back) in self.legs:
                before, at = way[number + 1]
                lost = self.legs[before.id, at] - self.legs[piece.id, back]
                losses.append(
                    PartLoss(
                        self.layout.tees[point].called, self.layout.tees[point].line, self.layout.tees[point].step, lost
                    )
                )
        if pump is not None and pump.vessel is not None and pump.name in self.assembly.pumps:
            source, source_head = pump.vessel, float(self.solution.heads[self.assembly.vessels[pump.vessel]])
        else:
            first = self.layout.ends.get(point)
            source = first.name or "" if first is not None and first.kind == "vessel" else point
            source_head = self.heads[piece.id][back]
        return RouteLedger(
            source, outlet, vessel, pumped, end_head - source_head, tuple(reversed(losses)), tuple(reversed(way))
        )

    def stretch_losses(self, stretch: Stretch, out_side: int) -> list[PartLoss]:
        """What each part of a stretch costs, from its outlet back; ends and a stated K of a tee are parts too. Ways share what they have in
        common."""
        if (stretch.id, out_side) not in self.lost:
            self.lost[stretch.id, out_side] = self._stretch_losses(stretch, out_side)
        return self.lost[stretch.id, out_side]

    def _stretch_losses(self, stretch: Stretch, out_side: int) -> list[PartLoss]:
        link = self.assembly.links[stretch.id]
        flow = self.flows[stretch.id]
        forward = out_side == 1
        gravity = self.assembly.network.gravity
        items = [
            self.part_loss(part, k, flow, stretch.line, link.bar)
            for part, k in zip(stretch.parts, link.parts, strict=True)
        ]
        ends = self.end_losses(stretch, link, abs(flow), gravity)
        ordered = [*ends[:1], *items, *ends[1:]]
        if forward:
            ordered.reverse()
        return [item for item in ordered if item is not None]

    def free_fall(self, stretch: Stretch, side: int) -> float:
        """The head that a stretch's water gives up by falling freely: what stands at its upstream end beyond what stands below
        and what its parts took."""
        link = self.assembly.links[stretch.id].link
        if not self.solution.staged[link]:
            return 0.0
        above, below = (self.legs.get((stretch.id, at), self.heads[stretch.id][at]) for at in (1 - side, side))
        own = self.stretch_losses(stretch, out_side=side)
        return above - below - sum(item.loss for item in own)

    def part_loss(self, part: Part, k: PartK, flow: float, line: str, bar: Bar | None) -> PartLoss:
        nu = self.layout.water.viscosity / self.layout.water.density
        lost = part_loss(part, k, flow, nu, self.assembly.network.gravity, bar)
        return PartLoss(ledger_name(part), line, part.step, lost)

    def end_losses(self, stretch: Stretch, link: LinkOf, flow: float, gravity: float) -> list[PartLoss | None]:
        """The losses at a stretch's tail and head; None where there is none."""
        found: list[PartLoss | None] = []
        towards_head = self.flows[stretch.id] > 0.0
        for side, bore in enumerate(end_bores(stretch)):
            entering, leaving = link.start if side == 0 else link.end
            enters = towards_head == (side == 0)
            k = entering if enters else leaving
            point = stretch.tail if side == 0 else stretch.head
            tee = self.layout.tees.get(point)
            if tee is not None and tee.loss:
                k = 0.5 * tee.loss
            into, out = narrowing(self.layout, point, bore)
            lost = k * velocity_head(flow, bore, gravity) + (into if enters else out) * flow**2
            if side == 1 and link.bar is not None:
                lost = end_head(link.bar, flow)
            what = tee.called if tee is not None else "entrance" if enters else "speed lost at the end"
            step = stretch.parts[-1].step if side == 1 and stretch.parts else 0
            found.append(PartLoss(what, stretch.line, step, lost) if lost > 0.0 else None)
        return found
