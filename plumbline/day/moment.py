"""The water at one moment: the network under given switches, its flows at given levels, and a step on in time."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..errors import SolveError
from ..hydraulics.air import CARRIES, CLEARS, pulls
from ..hydraulics.assemble import Assembly, assemble
from ..hydraulics.contents import content, level_of, mean_area
from ..hydraulics.find import settle
from ..hydraulics.linear import inflow, outflow
from ..hydraulics.network import FloatArray, Solution
from ..hydraulics.read_back import stretch_flow
from ..hydraulics.stretches import dry_arms
from ..hydraulics.together import solve_from
from ..hydraulics.valve_service import with_openings
from ..layout.model import Layout
from ..water import GRAVITY

__all__ = ["Moment", "Switches", "Waters"]

TOLERANCE = 1e-9
MOST_ROUNDS = 20


@dataclass(frozen=True, slots=True)
class Switches:
    """All that remembers, or is set by the clock: pumps that are `off`; timed valves that are `shut`, by (line, step); siphons that
    are `primed` and float valves that are `wide_open`, by line end; `vented` stretches that air has got into; draws that no water comes to,
    `undrawn`, by line end. And what has gone wrong: stretches that are `blocked`, and caps that stand `opened`, by their ids."""

    off: frozenset[str] = frozenset()
    shut: frozenset[tuple[str, int]] = frozenset()
    primed: frozenset[str] = frozenset()
    wide_open: frozenset[str] = frozenset()
    vented: frozenset[str] = frozenset()
    undrawn: frozenset[str] = frozenset()
    blocked: frozenset[str] = frozenset()
    opened: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Moment:
    """The network solved at one time. `volumes` [m³] and `gains` [m³/s] of the vessels followed, in their order."""

    assembly: Assembly
    solution: Solution
    volumes: FloatArray
    gains: FloatArray


class Waters:
    """A layout's vessels with an area, ready to be followed. `caps` may be opened on the way, by their ids."""

    def __init__(self, layout: Layout, caps: Collection[str] = ()) -> None:
        # A valve with a timer that is written shut, as it mostly is, opens wide while it runs.
        shut = {
            (name, part.step): 1.0
            for name, line in layout.lines.items()
            for part in line.parts
            if part.runs is not None and part.opening <= 0.0
        }
        self.layout = layout = with_openings(layout, shut) if shut else layout
        self.came: tuple[Moment, FloatArray] | None = None
        self.caps = frozenset(caps)
        self.vessels = [vessel for vessel in layout.vessels.values() if vessel.area is not None]
        self.names = [vessel.name for vessel in self.vessels]
        self.areas = np.array([vessel.area or 1.0 for vessel in self.vessels])
        self.assemblies: dict[Switches, Assembly] = {}
        self.turned: dict[frozenset[tuple[str, int]], Layout] = {frozenset(): layout}
        self.sleeves = _sleeves(layout)
        narrow = {one.id: min((part.pipe.bore for part in one.parts), default=math.inf) for one in layout.stretches}
        self.limits = {
            name: [limit * 0.25 * math.pi * bore**2 * math.sqrt(GRAVITY * bore) for limit in (CARRIES, CLEARS)]
            for name, bore in narrow.items()
        }

    def volumes(self, levels: Mapping[str, float]) -> FloatArray:
        """The water in the vessels at some levels [m³]."""
        return np.array([content(vessel, levels[vessel.name]) for vessel in self.vessels])

    def levels(self, volumes: FloatArray) -> FloatArray:
        """Where that much water stands [m above the datum]."""
        return np.array(
            [level_of(vessel, volume) for vessel, volume in zip(self.vessels, volumes.tolist(), strict=True)]
        )

    def set_as(self, switches: Switches) -> Layout:
        """The layout with its timed valves as they stand."""
        if switches.shut not in self.turned:
            self.turned[switches.shut] = with_openings(self.layout, dict.fromkeys(switches.shut, 0.0))
        return self.turned[switches.shut]

    def assembly(self, switches: Switches) -> Assembly:
        """The network under some switches; what is blocked, opened or not drawn takes no other network, only other ways that are shut and draws."""
        whole = replace(switches, undrawn=frozenset(), blocked=frozenset(), opened=frozenset())
        made = self.unharmed(whole)
        if switches == whole and not made.caps:
            return made
        shut, draw = made.network.shut.copy(), made.network.draw.copy()
        draw[[made.nodes[point] for point in switches.undrawn]] = 0.0
        for name in switches.blocked:
            shut[[made.links[name].link, made.links[name].at(1)]] = True
        shut[[link for name, link in made.caps.items() if name not in switches.opened]] = True
        return replace(made, network=replace(made.network, shut=shut, draw=draw))

    def unharmed(self, switches: Switches) -> Assembly:
        """The network with nothing blocked, and every cap open that may be opened."""
        if switches not in self.assemblies:
            self.assemblies[switches] = assemble(
                self.set_as(switches),
                stored={vessel.name: (1.0, vessel.level) for vessel in self.vessels},
                vented=switches.vented,
                opened=self.caps,
                stopped=switches.off,
                primed=switches.primed,
                wide_open=switches.wide_open,
                sleeves=self.sleeves,
                losses={vessel.name: vessel.loses for vessel in self.vessels},
            )
        return self.assemblies[switches]

    def solve(self, switches: Switches, target: FloatArray, seconds: float, start: Solution | None) -> Moment:
        """Find levels and flows at which the vessels hold `target` + gains × `seconds`.

        Parameters:
            target: (n,) [m³].
            seconds: the implicit part of a step [s]; next to none for the flows at the target itself.
            start: an earlier solution to begin from.

        Raises:
            SolveError
        """
        assembly = self.assembly(switches)
        network = assembly.network
        nodes = [assembly.vessels[name] for name in self.names]
        levels = self.levels(target)
        storage, stored = network.storage.copy(), network.stored.copy()
        areas = [mean_area(vessel, level, level) for vessel, level in zip(self.vessels, levels.tolist(), strict=True)]
        stored[nodes] = levels
        if start is not None and (len(start.heads), len(start.flows)) != (len(network.draw), len(network.tail)):
            start = None
        for _ in range(MOST_ROUNDS):
            storage[nodes] = np.array(areas) / seconds
            stepped = replace(network, storage=storage, stored=stored)
            start = solution = solve_from(stepped, start, TOLERANCE)
            ends = solution.heads[nodes]
            now = [
                mean_area(vessel, a, b) if vessel.areas else area
                for vessel, a, b, area in zip(self.vessels, levels.tolist(), ends.tolist(), areas, strict=True)
            ]
            moved = (abs(a - b) * abs(e - s) for a, b, e, s in zip(now, areas, ends, levels, strict=True))
            if max(moved, default=0.0) < 1e-12:
                break
            areas = now
        gains = storage[nodes] * (ends - levels)
        return Moment(replace(assembly, network=stepped), solution, target + seconds * gains, gains)

    def outside(self, moment: Moment) -> tuple[float, float]:
        """What comes from outside the vessels that are followed at a moment, and what leaves them [m³/s]."""
        network, flows = moment.assembly.network, moment.solution.flows
        out = outflow(network, flows)
        fixed = np.isfinite(network.fixed_head)
        given = np.where(fixed, out, -network.draw)
        return float(np.sum(np.maximum(given, 0.0))), float(np.sum(np.maximum(-given, 0.0)))

    def inflows(self, moment: Moment) -> FloatArray:
        """What comes into each vessel at a moment, in the layout's order [m³/s]."""
        if self.came is not None and self.came[0] is moment:
            return self.came[1]
        into = inflow(moment.assembly.network, moment.solution.flows)
        inflows = into[[moment.assembly.vessels[name] for name in self.layout.vessels]]
        self.came = moment, inflows
        return inflows

    def aired(self, switches: Switches, moment: Moment) -> frozenset[str]:
        """The stretches that air gets into at a moment, beyond those that it is in."""
        layout = self.set_as(switches)
        found = pulls(layout, moment.assembly, moment.solution, switches.vented)
        held = {stretch.id for stretch in layout.stretches if self.holds(stretch.line, switches)}
        new = {name for one in found if one.lets_air_in or one.froude < CARRIES for name in one.stretches}
        new |= dry_arms(layout, switches.vented | new, stretch_flow(moment.assembly, moment.solution))
        return frozenset(new) - switches.vented - held

    def carries(self, moment: Moment) -> list[int]:
        """How many of the two limits of air in pipe the water of each stretch is over."""
        flows = stretch_flow(moment.assembly, moment.solution)
        return [sum(abs(flows[name]) >= limit for limit in limits) for name, limits in self.limits.items()]

    def holds(self, line: str, switches: Switches) -> bool:
        """Whether a line's siphon runs full."""
        return f"{line}.from" in switches.primed or f"{line}.to" in switches.primed


def _sleeves(layout: Layout) -> Mapping[str, float]:
    """What the sleeves around standpipes take, by line end [s²/m⁵], at the flows of steady running: how rough the gap is to the water hardly
    changes with the flow. Nothing where there is no such running."""
    if not any(end.sleeve for line in layout.lines.values() for end in (line.start, line.end)):
        return {}
    try:
        return settle(layout, margins=False).sleeves
    except SolveError:
        return {}
