"""The flows of a layout: assemble, solve, and read the answer back in the layout's own names."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..errors import SolveError
from ..layout.model import End, Layout
from .assemble import Assembly, Supply, assemble, end_bores, reaches_a_level
from .drains import needs, spare_flows, vented_lines
from .flows import Duty, EndFlow, Flows, StretchFlow, VesselFlow
from .level_search import SAME_LEVEL, LevelSearch, felt_levels, raised_levels
from .network import FloatArray, Solution
from .part_loss import velocity_head
from .pumps import PumpCurves
from .routes import route_ledgers
from .solver import solve
from .spray_bar import end_head
from .tees import tee_drops
from .vessels import pipes_joined, vessel_roles

__all__ = ["Settled", "find_flows", "settle"]

MOST_ROUNDS = 30


def find_flows(
    layout: Layout,
    *,
    opened: Collection[str] = (),
    levels: Mapping[str, float] | None = None,
    stopped: bool = False,
    fed: Mapping[str, Supply] | None = None,
    backed: Collection[str] = (),
) -> Flows:
    """Find the steady flows of a layout.

    Parameters:
        layout: read and walked.
        opened: ids of caps that stand open, so that water runs out there (for a flush).
        levels: where the water stands in vessels whose level is not as stated [m above the datum]; left out, it is found.
            With them vessels are held at those levels, as they are for the first minutes, and only flows and duty points are
            found, without routes or what the drains need.
        stopped: all pumps stand still, water may pass through them, and no standpipe runs; only with `levels`.
        fed: water put in from outside, by id of the cap it comes in at; only with `levels`.
        backed: with `levels`, the vessels among them whose ports carry what they receive as a standpipe does.

    Returns:
        Flows, heads and duty points with the residuals of the equations.

    Raises:
        SolveError: when there is no steady state, or none was found; never a number instead.
    """
    return settle(layout, opened=opened, levels=levels, stopped=stopped, fed=fed, backed=backed).flows


@dataclass(frozen=True)
class Settled:
    """Flows, and what to begin from when a layout that differs a little is to be solved next: the `solution`, the `nodes`
    that it numbers, and the `levels` found in vessels that something feels [m above the datum]."""

    flows: Flows
    solution: Solution
    nodes: Mapping[str, int]
    levels: Mapping[str, float]


def settle(
    layout: Layout,
    *,
    opened: Collection[str] = (),
    levels: Mapping[str, float] | None = None,
    stopped: bool = False,
    fed: Mapping[str, Supply] | None = None,
    backed: Collection[str] = (),
    near: Settled | None = None,
    margins: bool = True,
    same_level: float = SAME_LEVEL,
) -> Settled:
    """Find the steady flows of a layout, from those of one much like it where that is given.

    Parameters:
        layout, opened, levels, stopped, fed, backed: as for `find_flows`.
        near: of a layout with the same places and pipes; it only saves time.
        margins: False leaves out the routes and how much more the drains would carry.
        same_level: levels that move by less than this from round to round have settled [m].

    Returns:
        The flows, and what to begin the next from.

    Raises:
        SolveError: as `find_flows` does.
    """
    held: set[str] = set()
    dry: set[str] = set()
    airy, never = set(backed), set[str]()
    stands: Mapping[str, float] = levels or {}
    search = LevelSearch()
    if near is not None and levels is None:
        stands = near.levels
    for _ in range(2 * len(layout.vessels) + MOST_ROUNDS):
        if levels is not None:
            roles = vessel_roles(layout, held, dry, airy)
            held |= roles.finds_level | (roles.spills if stopped else frozenset())
        assembly = assemble(
            layout, opened=opened, held=held, dry=dry, levels=stands, stopped=stopped, fed=fed, backed=airy
        )
        stuck = _without_way_out(assembly) - held
        if stuck:
            held |= stuck
            continue
        try:
            solution = _solve_near(assembly, near)
        except SolveError as error:
            empty = _without_water(assembly, error) - dry
            if empty:
                never |= empty & airy
                dry |= empty - airy
                airy -= empty
                continue
            raise _in_plain_names(error, assembly) from None
        drained = _without_surplus(layout, assembly, solution)
        if drained:
            never |= drained & airy
            dry |= drained - airy
            airy -= drained
            continue
        if levels is not None:
            flows = _read_back(layout, assembly, solution, drains=False, margins=False)
            return Settled(flows, solution, assembly.nodes, levels)
        flows = _read_back(layout, assembly, solution, drains=True, margins=False)
        found = {
            name: got.level for name in felt_levels(layout, assembly) if (got := flows.vessels[name]).level is not None
        }
        risen = {name: level for name, level in raised_levels(layout, assembly, solution, flows) if name not in never}
        if risen:
            airy |= risen.keys()
            stands = {**found, **risen}
            continue
        before = {name: stands.get(name, layout.vessels[name].level) for name in found}
        if all(abs(level - before[name]) < same_level for name, level in found.items()):
            if margins:
                flows = _read_back(layout, assembly, solution, drains=True, margins=True)
            return Settled(flows, solution, assembly.nodes, found)
        stands = search.next(before, found)
        near = Settled(flows, solution, assembly.nodes, found) if near is not None else None
    raise SolveError("the vessels never settle: their levels and their flows keep changing each other")


def _solve_near(assembly: Assembly, near: Settled | None) -> Solution:
    """Solve from flows found before, or from nothing where they are of another network or lead nowhere."""
    if near is not None and near.nodes == assembly.nodes and len(near.solution.flows) == len(assembly.network.tail):
        try:
            return solve(assembly.network, start=near.solution)
        except SolveError:
            pass
    return solve(assembly.network)


def _without_way_out(assembly: Assembly) -> set[str]:
    """Vessels whose surplus no open pipe can carry away."""
    joined = reaches_a_level(assembly)
    return {
        name for name in assembly.roles.spills | assembly.roles.finds_level if not joined[assembly.vessels[name][1]]
    }


def _without_water(assembly: Assembly, error: SolveError) -> set[str]:
    """The vessel at whose spill the solver found no balance: its drain would have to run backwards, and ends in the air."""
    return {name for name in assembly.roles.spills if error.worst == f"node {assembly.vessels[name][1]}"}


def _without_surplus(layout: Layout, assembly: Assembly, solution: Solution) -> set[str]:
    """Vessels whose standpipes would have to bring water in."""
    largest = float(np.max(np.abs(solution.flows), initial=0.0))
    spilled = dict.fromkeys(assembly.roles.spills, 0.0)
    for line in layout.lines.values():
        for end, away in ((line.start, 1.0), (line.end, -1.0)):
            if (end.port == "standpipe" or end in assembly.roles.ports) and end.name in spilled:
                spilled[end.name] += away * _flow_at(layout, assembly, solution, line.name, end is line.end)
    return {name for name, flow in spilled.items() if flow < -1e-9 * largest}


def _flow_at(layout: Layout, assembly: Assembly, solution: Solution, line: str, at_end: bool) -> float:
    pieces = [stretch for stretch in layout.stretches if stretch.line == line]
    link = assembly.links[(pieces[-1] if at_end else pieces[0]).id]
    return float(link.sign * solution.flows[link.link])


def _in_plain_names(error: SolveError, assembly: Assembly) -> SolveError:
    """Put the layout's names in place of the solver's numbers."""
    link_names = {link.link: f"stretch '{name}'" for name, link in assembly.links.items()}
    link_names |= {link: f"pump '{name}'" for name, link in assembly.pumps.items()}
    node_names = {node: f"'{name}'" for name, node in assembly.nodes.items()}

    def named(text: str) -> str:
        text = re.sub(r"\blink (\d+)", lambda m: link_names.get(int(m[1]), m[0]), text)
        return re.sub(r"\bnode (\d+)", lambda m: node_names.get(int(m[1]), m[0]), text)

    return SolveError(named(str(error)), iterations=error.iterations, residual=error.residual, worst=named(error.worst))


# ---------------------------------------------------------------------- reading back


def _read_back(layout: Layout, assembly: Assembly, solution: Solution, *, drains: bool, margins: bool) -> Flows:
    gravity = assembly.network.gravity
    legs = _leg_heads(layout, assembly, solution)
    pumped = _under_pressure(layout)
    stretches: dict[str, StretchFlow] = {}
    nodes: dict[str, tuple[float, float]] = {}
    held, cut_off = set(), set()
    for stretch in layout.stretches:
        link = assembly.links[stretch.id]
        flow = float(link.sign * solution.flows[link.link])
        tail, head = assembly.network.tail[link.link], assembly.network.head[link.link]
        outside = solution.heads[[tail, head] if link.sign > 0.0 else [head, tail]]
        nodes[stretch.id] = (float(outside[0]), float(outside[1]))
        inside = [legs.get((stretch.id, side), float(outside[side])) for side in (0, 1)]
        bores = end_bores(stretch)
        for side, (entering, leaving) in enumerate((link.start, link.end)):
            toward = flow if side == 0 else -flow
            speed_head = velocity_head(flow, bores[side], gravity)
            inside[side] += -entering * speed_head if toward > 0.0 else leaving * speed_head
        if link.bar is not None:
            inside[1] += end_head(link.bar, flow)
        velocity = abs(flow) / (0.25 * np.pi * stretch.bore**2) if stretch.bore > 0.0 else 0.0
        stretches[stretch.id] = StretchFlow(flow, velocity, inside[0], inside[1], abs(inside[0] - inside[1]) if flow else 0.0,
                                            gravity=stretch.line not in pumped)  # fmt: skip
        if solution.closed[link.link] and not assembly.network.shut[link.link]:
            held.add(stretch.id)
        if solution.floating[tail] and solution.floating[head]:
            cut_off.add(stretch.id)
    heads, levels = needs(layout, assembly, stretches, nodes, legs) if drains else ({}, {})
    spare = spare_flows(layout, assembly, stretches, nodes, legs) if margins and levels else {}
    airy = vented_lines(layout, assembly, standpipes_only=True)
    spilling = {stretch.id for stretch in layout.stretches if stretch.line in airy}
    for (name, side), head in heads.items():
        old = stretches[name]
        # A port may feed pipe that runs full under its vessel's head; what stands above that does so because of air.
        backed = head > (old.head_head if side else old.head_tail) + 1e-6
        vented = old.vented or backed or name in spilling
        stretches[name] = (
            replace(old, head_head=head, vented=vented) if side else replace(old, head_tail=head, vented=vented)
        )
    pumps = _duties(layout, assembly, solution)
    pump_heads = {name: duty.head for name, duty in pumps.items()}
    return Flows(
        stretches=stretches,
        pumps=pumps,
        vessels=_vessels(layout, assembly, solution, stretches, levels, spare),
        ends=_ends(layout, stretches),
        routes=route_ledgers(layout, assembly, nodes, stretches, legs, pump_heads, levels) if margins else (),
        held=frozenset(held),
        cut_off=frozenset(cut_off),
        dry=assembly.roles.dry,
        backed=assembly.roles.backed,
        mass_residual=solution.mass_residual,
        head_residual=solution.energy_residual,
        steps=solution.steps,
    )


def _leg_heads(layout: Layout, assembly: Assembly, solution: Solution) -> dict[tuple[str, int], float]:
    """The total head inside each leg of each lossy tee, by (stretch id, 0 at its tail or 1 at its head)."""
    network = assembly.network
    if not assembly.tees:
        return {}
    toward: FloatArray = network.tee_sign * solution.flows[network.tee_link]
    drops, _ = tee_drops(toward, network.tee_bore, network.tee_angle, network.gravity)
    ids = {link.link: (name, link.sign) for name, link in assembly.links.items()}
    heads = {}
    for row, tee in enumerate(assembly.tees):
        node = solution.heads[assembly.nodes[tee]]
        for leg in range(3):
            name, sign = ids[int(network.tee_link[row, leg])]
            side = 1 if network.tee_sign[row, leg] * sign > 0.0 else 0
            heads[name, side] = float(node + drops[row, leg])
    return heads


def _under_pressure(layout: Layout) -> set[str]:
    """Lines that a pump pushes into."""
    groups = pipes_joined(layout)
    pushed = {groups[name] for name, line in layout.lines.items() if "pump" in (line.start.kind, line.end.kind)}
    return {name for name, group in groups.items() if group in pushed}


def _duties(layout: Layout, assembly: Assembly, solution: Solution) -> dict[str, Duty]:
    names = list(assembly.pumps)
    if not names:
        return {}
    flows = solution.flows[assembly.network.pump_link]
    curves = PumpCurves(assembly.network.pump_curves)
    heads, _ = curves.heads(flows)
    states = curves.duty(flows)
    weight = layout.water.density * assembly.network.gravity
    return {
        name: Duty(float(q), float(h), state, layout.pumps[name].power, float(max(weight * q * h, 0.0)))
        for name, q, h, state in zip(names, flows, heads, states, strict=True)
    }


def _vessels(
    layout: Layout,
    assembly: Assembly,
    solution: Solution,
    stretches: dict[str, StretchFlow],
    levels: dict[str, float],
    spare: dict[str, float],
) -> dict[str, VesselFlow]:
    into = dict.fromkeys(layout.vessels, 0.0)
    out = dict.fromkeys(layout.vessels, 0.0)

    def pass_on(name: str | None, flow: float) -> None:
        if name is not None:
            (into if flow > 0.0 else out)[name] += abs(flow)

    for stretch in layout.stretches:
        line, flow = layout.lines[stretch.line], stretches[stretch.id].flow
        if stretch.tail == f"{line.name}.from" and line.start.kind == "vessel":
            pass_on(line.start.name, -flow)
        if stretch.head == f"{line.name}.to" and line.end.kind == "vessel":
            pass_on(line.end.name, flow)
        if assembly.links[stretch.id].bar is not None:
            pass_on(next((part.vessel for part in stretch.parts if part.vessel), None), flow)
    for name, link in assembly.pumps.items():
        pass_on(layout.pumps[name].vessel, -float(solution.flows[link]))
    roles = assembly.roles
    found = {name: float(solution.heads[assembly.vessels[name][1]]) for name in roles.spills | roles.finds_level}
    found |= levels
    most = {name: into[name] + more for name, more in spare.items()}
    return {
        name: VesselFlow(into[name], out[name], vessel.wants, found.get(name), name in found, most.get(name))
        for name, vessel in layout.vessels.items()
    }


def _ends(layout: Layout, stretches: dict[str, StretchFlow]) -> dict[str, EndFlow]:
    ends: dict[str, EndFlow] = {}
    for name, line in layout.lines.items():
        pieces = [stretches[s.id] for s in layout.stretches if s.line == name]
        sides: tuple[tuple[str, End, float, float], ...] = (
            ("from", line.start, pieces[0].head_tail, pieces[0].flow),
            ("to", line.end, pieces[-1].head_head, pieces[-1].flow),
        )
        for side, end, head, flow in sides:
            ends[f"{name}.{side}"] = EndFlow(end.place[2], head, flow)
    return ends
