"""From a solved network back to the layout's own names."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..layout.model import Layout, Part, Stretch
from ..water import GRAVITY
from .assemble import Assembly, oriented
from .fittings import PartK, part_loss, velocity_head
from .flows import Duty, DutyState, EndFlow, Flows, Solved, StretchFlow, VesselFlow
from .islands import components
from .network import FloatArray, Solution
from .pumps import PumpCurves
from .risers import power_of
from .routes import route_ledgers
from .spray_bar import Bar, end_head
from .stages import mouth_head
from .stretches import (
    BARE,
    arrives,
    end_bores,
    floor,
    lies,
    narrowing,
    only_out,
    pieces_by_line,
    pipes_joined,
    side_of,
    sill,
    stands,
    tee_stretch,
)
from .tees import tee_drops

__all__ = ["heads_along", "heads_outside", "leg_heads", "read_back", "stretch_flow"]


def stretch_flow(assembly: Assembly, solution: Solution) -> dict[str, float]:
    """The flow along each stretch [m³/s]."""
    return {name: float(link.sign * solution.flows[link.link]) for name, link in assembly.links.items()}


def heads_outside(layout: Layout, assembly: Assembly, solution: Solution) -> dict[str, tuple[float, float]]:
    """The total heads at each stretch's tail and head, outside of its ends: where water falls out, that is its mouth's height, and at a
    float valve what it presses with is there too [m above the datum]."""
    network = assembly.network
    found = {}
    for stretch in layout.stretches:
        link = assembly.links[stretch.id]
        first, last = link.at(0), link.at(1)
        heads = [float(solution.heads[network.tail[first]]), float(solution.heads[network.head[last]])]
        if solution.flows[last] > 0.0:
            heads[1] = max(heads[1], float(network.tip_head[last]))
        if solution.flows[first] < 0.0:
            heads[0] = max(heads[0], float(network.tip_tail[first]))
        heads[1] += network.float_press(solution.heads, last)
        found[stretch.id] = (heads[0], heads[1]) if link.sign > 0.0 else (heads[1], heads[0])
    return found


def leg_heads(layout: Layout, assembly: Assembly, solution: Solution) -> dict[tuple[str, int], float]:
    """The total head inside each leg of each lossy tee, by (stretch id, 0 at its tail or 1 at its head)."""
    network = assembly.network
    if not assembly.tees:
        return {}
    toward: FloatArray = network.tee_sign * solution.flows[network.tee_link]
    drops, _ = tee_drops(toward, network.tee_bore, network.tee_angle, network.gravity)
    pieces = pieces_by_line(layout)
    heads = {}
    for row, name in enumerate(assembly.tees):
        tee = layout.tees[name]
        node = solution.heads[assembly.nodes[name]]
        for number, leg in enumerate(tee.legs):
            stretch = tee_stretch(pieces, tee, number)
            heads[stretch.id, 1 if leg.side in ("before", "to") else 0] = float(node + drops[row, number])
    return heads


def read_back(
    layout: Layout,
    assembly: Assembly,
    solution: Solution,
    levels: Mapping[str, float],
    vented: Collection[str],
    doubtful: Collection[str],
    *,
    routes: bool,
) -> Flows:
    """Give the flows of a solved network.

    Parameters:
        levels: of the vessels that found their own [m above the datum].
        doubtful: ids of those that may be in the other state.
    """
    reader = _Reader(layout, assembly, solution, frozenset(vented))
    stretches = {stretch.id: reader.stretch(stretch) for stretch in layout.stretches}
    network = assembly.network
    # Pipe that merely stands empty is not cut off: water would come to it if it rose.
    joined = components(len(network.draw), network.tail[~network.shut], network.head[~network.shut])
    fed = np.isin(joined, joined[network.known])
    held, cut_off = set(), set()
    for name, link in assembly.links.items():
        if solution.closed[link.link] and not network.shut[link.link]:
            held.add(name)
        if not fed[network.tail[link.link]] and not fed[network.head[link.link]]:
            cut_off.add(name)
    pumps = _duties(layout, assembly, solution)
    pump_heads = {name: duty.head for name, duty in pumps.items()}
    return Flows(
        stretches=stretches,
        pumps=pumps,
        vessels=_vessels(layout, assembly, solution, levels),
        ends=_ends(layout, stretches),
        routes=route_ledgers(layout, assembly, solution, reader.outside, reader.flows, reader.legs, pump_heads)
        if routes
        else (),
        held=frozenset(name for name in held if not stretches[name].dry or reader.draws_air(name)),
        cut_off=frozenset(cut_off),
        doubtful=frozenset(doubtful),
        mass_residual=solution.mass_residual,
        head_residual=solution.energy_residual,
        steps=solution.steps,
        solved=_as_it_runs(assembly, solution),
    )


def _as_it_runs(assembly: Assembly, solution: Solution) -> Solved:
    """The network with its links running as the water does."""
    turned = solution.turned
    if not turned.any():
        return Solved(assembly, solution)
    flows = np.where(turned & (solution.flows != 0.0), -solution.flows, solution.flows)
    return Solved(oriented(assembly, turned), replace(solution, flows=flows, turned=np.zeros_like(turned)))


class _Reader:
    """Reads one stretch after the other."""

    def __init__(self, layout: Layout, assembly: Assembly, solution: Solution, vented: frozenset[str]) -> None:
        self.layout = layout
        self.assembly = assembly
        self.solution = solution
        self.vented = vented
        self.gravity = assembly.network.gravity
        self.nu = layout.water.viscosity / layout.water.density
        self.legs = leg_heads(layout, assembly, solution)
        self.outside = heads_outside(layout, assembly, solution)
        self.flows = stretch_flow(assembly, solution)
        self.groups = pipes_joined(layout)
        pushed = {
            self.groups[name] for name, line in layout.lines.items() if "pump" in (line.start.kind, line.end.kind)
        }
        self.pumped = {name for name, group in self.groups.items() if group in pushed}

    def stretch(self, stretch: Stretch) -> StretchFlow:
        link, flow = self.assembly.links[stretch.id], self.flows[stretch.id]
        at_head = float(self.solution.flows[link.last]) if link.holes else 0.0 if link.bar is not None else flow
        outside = self.outside[stretch.id]
        inside = [self.legs.get((stretch.id, side), outside[side]) for side in (0, 1)]
        bores = end_bores(stretch)
        for side, (entering, leaving) in enumerate((link.start, link.end)):
            toward = flow if side == 0 else -flow
            speed_head = velocity_head(flow, bores[side], self.gravity)
            inside[side] += -entering * speed_head if toward > 0.0 else leaving * speed_head
        for side, point in ((0, stretch.tail), (1, stretch.head)):
            into, out = narrowing(self.layout, point, bores[side])
            inside[side] += (-into if (flow if side == 0 else -flow) > 0.0 else out) * flow**2
        if link.bar is not None:
            inside[1] += end_head(link.bar, flow)
        # A mouth that lets through less than the pipe beyond carries does not fill it, unless it is pulled up over the mouth.
        free = stretch.id in self.vented or bool(
            self.solution.staged[link.link] and link.bar is None and not _lifts(stretch, flow)
        )
        if free and flow != 0.0 and link.bar is None:
            up = 0 if flow > 0.0 else 1
            inside[up] = self.walked(stretch, flow, inside[1 - up])
        velocity = abs(flow) / (0.25 * math.pi * stretch.bore**2) if stretch.bore > 0.0 else 0.0
        return StretchFlow(
            flow,
            velocity,
            inside[0],
            inside[1],
            abs(inside[0] - inside[1]) if flow else 0.0,
            at_head,
            gravity=stretch.line not in self.pumped,
            vented=free and flow != 0.0,
            dry=flow == 0.0 and self.dry(stretch),
        )

    def draws_air(self, name: str) -> bool:
        """Whether an empty stretch ends free in the air, and water runs in the pipework that it belongs to."""
        stretch = next(one for one in self.layout.stretches if one.id == name)
        ends = [end for point, end in self.layout.ends.items() if point in (stretch.tail, stretch.head)]
        return any(only_out(end) for end in ends) and any(
            self.flows[one.id] != 0.0
            for one in self.layout.stretches
            if self.groups[one.line] == self.groups[stretch.line]
        )

    def walked(self, stretch: Stretch, flow: float, head: float) -> float:
        """The head at the upstream end of pipe that falls away from what stands above it, from that at its downstream end."""
        return heads_along(stretch, self.assembly.links[stretch.id].parts, flow, head, True, self.nu)[-1]

    def dry(self, stretch: Stretch) -> bool:
        """Whether a stretch without flow stands empty: no water at either end comes over its sill."""
        if not stretch.parts or stretch.line in self.pumped:
            return False
        network, link = self.assembly.network, self.assembly.links[stretch.id]
        heads = [self.solution.heads[node] for node in (network.tail[link.at(0)], network.head[link.at(1)])]
        return not any(math.isfinite(head) and head > sill(stretch) for head in heads)


def _lifts(stretch: Stretch, flow: float) -> bool:
    """Whether water that enters a stretch goes up over where it does by more than a bore, as only a siphon lets it."""
    heights = [place[2] for part in stretch.parts for place in (part.start, part.end)]
    return bool(heights) and max(heights) > (heights[0] if flow > 0.0 else heights[-1]) + stretch.bore


def heads_along(
    stretch: Stretch,
    parts: Sequence[PartK],
    flow: float,
    head: float,
    vented: bool,
    viscosity: float,
    bar: Bar | None = None,
) -> list[float]:
    """The total heads between the parts of a stretch, from its downstream end up [m above the datum].

    Head before a part = head after it + what it loses. Where air gets in, the water has nowhere less energy than it asks for there (see
    `stood`); but in a drop it pulls on what stands above it as far as the turn into it costs.
    """
    forward = flow > 0.0 or flow == 0.0
    gravity = GRAVITY
    pairs = list(zip(stretch.parts, parts, strict=True))
    heads = [head]
    for number, (part, k) in enumerate(reversed(pairs) if forward else pairs):
        if vented and number == 0:
            head = heads[0] = max(head, stood(stretch, part, int(forward), flow))
        head += part_loss(part, k, flow, viscosity, gravity, bar if part.kind == "spray bar" else None) if flow else 0.0
        heads.append(max(head, stood(stretch, part, int(not forward), flow)) if vented else head)
        head = heads[-1] if stands(part, forward) else head
    return heads


def stood(stretch: Stretch, part: Part, side: int, flow: float) -> float:
    """The total head that a flow has at least at a side of a part that air gets to [m above the datum]: what its stage in the network asks for,
    and at an upright end of its line, that height."""
    height, bore = side_of(part, side)
    if lies(part):
        return height + mouth_head("wall", abs(flow), bore, 0.0)
    point, end = (stretch.tail, stretch.head)[side], f"{stretch.line}.{('from', 'to')[side]}"
    outer = part is stretch.parts[-side] and point == end
    return (height if outer else floor(part, side)) + velocity_head(flow, bore, GRAVITY)


def _duties(layout: Layout, assembly: Assembly, solution: Solution) -> dict[str, Duty]:
    names = list(assembly.pumps)
    if not names:
        return {}
    flows = solution.flows[assembly.network.pump_link]
    curves = PumpCurves(assembly.network.pump_curves)
    heads, _ = curves.heads(flows)
    states = curves.duty(flows)
    weight = layout.water.density * assembly.network.gravity
    duties = {}
    for name, q, h, state, curve in zip(names, flows, heads, states, assembly.network.pump_curves, strict=True):
        pump = layout.pumps[name]
        down = assembly.over_intake(layout, name, solution) < BARE
        works: DutyState = state if not down else "starved" if pump.leaves == pump.intake else "by its switch"
        useful = float(max(weight * q * h, 0.0))
        duties[name] = Duty(float(q), float(h), works, power_of(layout, pump), useful, curve)
    return duties


def _vessels(
    layout: Layout, assembly: Assembly, solution: Solution, levels: Mapping[str, float]
) -> dict[str, VesselFlow]:
    over = {name: float(solution.flows[link]) for name, link in assembly.rims.items()}
    return {
        name: VesselFlow(
            *assembly.passes(name, solution.flows),
            vessel.wants,
            levels.get(name),
            name in levels,
            spilt=over.get(name, 0.0),
        )
        for name, vessel in layout.vessels.items()
    }


def _ends(layout: Layout, stretches: Mapping[str, StretchFlow]) -> dict[str, EndFlow]:
    ends: dict[str, EndFlow] = {}
    for name, pieces in pieces_by_line(layout).items():
        line = layout.lines[name]
        first, last = stretches[pieces[0].id], stretches[arrives(layout, pieces).id]
        ends[f"{name}.from"] = EndFlow(line.start.place[2], first.head_tail, first.flow)
        ends[f"{name}.to"] = EndFlow(line.end.place[2], last.head_head, last.flow_head)
    return ends
