"""The flows of a layout: assemble, follow the levels until they stay, and read the answer back in the layout's own names.

Steady running is where the water comes to rest or to a steady run from the levels as written, with all the water that the
file writes and no more: the levels are unknowns of the same solve as the flows, each vessel's balance holding what it stores
over a step in time, and the steps grow until nothing moves.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from ..errors import SolveError
from ..layout.model import Layout, Pump
from .air import CARRIES, CLEARS, Pull, pulls
from .assemble import Assembly, Supply, assemble, pieces_by_line, sleeve_gap
from .capacity import spare_flows
from .contents import content, mean_area
from .filling import static_reach
from .fittings import part_k
from .flows import Flows
from .friction import friction_factor
from .islands import components
from .network import BoolArray, Network, Solution
from .read_back import heads_outside, leg_heads, read_back, stretch_flow
from .solver import solve
from .vessels import BARE, only_out, pipes_joined

__all__ = ["Settled", "find_flows", "nearby", "settle"]

SAME_LEVEL = 1e-9
"""Levels that move by less than this in the last step stay [m]."""

STEPS = (60.0, 3e3, 1e5, 1e7, 1e7, 1e7)
"""The steps in time [s], from the levels as written to where they stay. A step is implicit, so that a long one is as safe as
a short one and only takes the solver further at once."""

STILL_GOING = 1e-6
"""The share of the largest flow that a vessel may still store in the last step."""

ROUGH, AGAIN = (60.0, 3e3), (1e7, 1e7, 1e7)
"""The first of them, near enough to see where air gets in; and the rest, from there or from another state of the same water."""

NEAR_ENOUGH = 1e-6
"""Residual at which a step that others follow is solved [-]."""

FROM_A_START = 100
"""Newton steps that a start is worth; one that leads nowhere in so many is dropped."""

NEARBY = 1e-8
"""Residual at which flows are near enough to be compared with readings [-]."""

MOST_ROUNDS = 30

Siphons = Literal["likely", "held", "broken"]


def find_flows(
    layout: Layout,
    *,
    opened: Collection[str] = (),
    levels: Mapping[str, float] | None = None,
    stopped: bool | Collection[str] = False,
    fed: Mapping[str, Supply] | None = None,
    siphons: Siphons = "likely",
) -> Flows:
    """Find the steady flows of a layout.

    Parameters:
        layout: read and walked.
        opened: ids of caps that stand open, so that water runs out there (for a flush).
        levels: where the water stands in vessels whose level is not as stated [m above the datum]; left out, it is found.
            With them vessels are held at those levels, as they are for the first minutes, and only flows and duty points are
            found, without routes or what the drains need.
        stopped: all pumps stand still, or those named; water may pass through them.
        fed: water put in from outside, by id of the cap it comes in at; only with `levels`.
        siphons: whether a siphon holds where that is in doubt: as is likely, or all of them held, or broken.

    Returns:
        Flows, heads and duty points with the residuals of the equations.

    Raises:
        SolveError: when there is no steady state, or none was found; never a number instead.
    """
    return settle(layout, opened=opened, levels=levels, stopped=stopped, fed=fed, siphons=siphons).flows


@dataclass(frozen=True)
class Settled:
    """Flows, and what to begin from when a layout that differs a little is to be solved next: the `solution`, the `nodes`
    that it numbers, the `levels` found [m above the datum], and the stretches that air gets to."""

    flows: Flows
    solution: Solution
    nodes: Mapping[str, int]
    levels: Mapping[str, float]
    vented: frozenset[str] = frozenset()
    sleeves: Mapping[str, float] = field(default_factory=dict)


def nearby(
    layout: Layout,
    near: Settled,
    before: Layout,
    *,
    start: Settled | None = None,
    leaks: Mapping[str, float] | None = None,
) -> Settled:
    """Find the flows of a layout from those of one much like it, in one step, while air stands where it did; else as `settle` does.

    Parameters:
        layout: with the same places and pipes as the one before; heights of vessels and what stands in them may differ.
        near: of the one before.
        before: the layout that those flows are of.
        start: another that is nearer to it; it only saves time.
        leaks: diameters of holes [m] at places of the network (see `Layout.stretches`); levels are then held as they were, since
            water that leaks away takes them down for ever.

    Returns:
        Flows, heads and levels, without routes. Beside a leak air is taken to stand where it did.

    Raises:
        SolveError: where there are none, or a pump would run dry that did not.
    """
    still = frozenset(pump.name for pump in layout.pumps.values() if pump.stands_by)
    run = _Run(layout, frozenset(), still, {}, near, SAME_LEVEL)
    moved = {name: near.levels[name] + layout.vessels[name].level - before.vessels[name].level for name in near.levels}
    if leaks:
        run.hold, moved = moved, {}
    assembly = run.assembly(moved, near.vented, near.sleeves, leaks)
    begin = _fitted((start or near).solution, assembly.network)
    solution = run.step(assembly, moved, AGAIN[-1], begin, NEARBY)
    levels = {name: float(solution.heads[assembly.vessels[name]]) for name in near.levels}
    state = _State(assembly, solution, levels, near.vented, dict(near.sleeves))
    dry = [
        pump.name
        for pump in layout.pumps.values()
        if pump.vessel in levels and pump.name in assembly.pumps and run.bare(state, pump)
    ]
    if any(near.flows.pumps[name].state != "starved" for name in dry):
        raise SolveError(f"pump '{dry[0]}' would run dry")
    if not leaks and any(run.lets_air_in(pull) and not pull.stretches <= near.vented for pull in run.pulls(state)):
        return settle(layout, near=start or near, margins=False)
    return Settled(run.read(state, margins=False), solution, assembly.nodes, levels, near.vented, near.sleeves)


def settle(
    layout: Layout,
    *,
    opened: Collection[str] = (),
    levels: Mapping[str, float] | None = None,
    stopped: bool | Collection[str] = False,
    fed: Mapping[str, Supply] | None = None,
    near: Settled | None = None,
    margins: bool = True,
    siphons: Siphons = "likely",
    same_level: float = SAME_LEVEL,
) -> Settled:
    """Find the steady flows of a layout, from those of one much like it where that is given.

    Parameters:
        layout, opened, levels, stopped, fed, siphons: as for `find_flows`.
        near: of a layout with the same places and pipes; it only saves time.
        margins: False leaves out the routes and how much more the drains would carry.
        same_level: levels that move by less than this in the last step have settled [m].

    Returns:
        The flows, and what to begin the next from.

    Raises:
        SolveError: as `find_flows` does.
    """
    still = frozenset(layout.pumps) if stopped is True else frozenset(stopped or ())
    still |= {pump.name for pump in layout.pumps.values() if pump.stands_by}
    run = _Run(layout, frozenset(opened), still, dict(fed or {}), near, same_level)
    if levels is not None:
        run.hold = run.given = {name: levels.get(name, vessel.level) for name, vessel in layout.vessels.items()}
    else:
        run.keep(run.drawn_on(dry=True))
    for _ in range(len(layout.vessels) + 2):
        try:
            state = run.settled(siphons)
        except SolveError as error:
            if levels is not None or not run.keep(run.drawn_on()):
                raise (_drawn_too_high(layout) or error) from None
            continue
        if levels is not None or not run.keep(run.never_settle(state)):
            break
    flows = run.read(state, margins=margins and levels is None)
    return Settled(flows, state.solution, state.assembly.nodes, state.levels, state.vented, state.sleeves)


@dataclass(frozen=True)
class _State:
    """Where a run stands: the network, its solution, and the vessels' levels."""

    assembly: Assembly
    solution: Solution
    levels: dict[str, float]
    vented: frozenset[str]
    sleeves: dict[str, float]
    doubtful: frozenset[str] = frozenset()


class _Run:
    """One layout under one set of conditions."""

    def __init__(self, layout: Layout, opened: frozenset[str], stopped: frozenset[str], fed: dict[str, Supply],
                 near: Settled | None, same_level: float) -> None:  # fmt: skip
        self.layout = layout
        self.opened = opened
        self.stopped = stopped
        self.fed = fed
        self.near = near
        self.same_level = same_level
        self.hold: dict[str, float] = {}
        self.given: dict[str, float] = {}
        self.sinks = _without_way_out(layout)

    # ------------------------------------------------------------------ levels

    def free(self) -> list[str]:
        """Vessels whose level follows from the flows."""
        return [name for name, vessel in self.layout.vessels.items()
                if vessel.area is not None and name not in self.hold]  # fmt: skip

    def settled(self, siphons: Siphons) -> _State:
        """Follow the water until it stays, and let air in where it comes."""
        state, rough = self.follow(None, frozenset(), {}), bool(self.free())
        for _ in range(MOST_ROUNDS):
            sleeves = self.sleeves(state)
            broken, held = self.broken(state, siphons)
            same = all(math.isclose(sleeves[key], state.sleeves.get(key, 0.0), rel_tol=1e-9) for key in sleeves)
            if not rough and not broken - state.vented and same:
                return replace(state, doubtful=state.doubtful | held)
            doubtful = state.doubtful | held
            state, rough = replace(self.follow(state, state.vented | broken, sleeves), doubtful=doubtful), False
        raise SolveError("the air in the pipes never settles: it comes and goes with the flows")

    def follow(self, begin: _State | None, vented: frozenset[str], sleeves: dict[str, float]) -> _State:
        """Follow the levels until they stay, with air in some stretches."""
        free = self.free()
        levels = {name: self.layout.vessels[name].level for name in free}
        start: Solution | None = None
        if begin is not None:
            levels, start = {name: begin.levels[name] for name in free}, begin.solution
        elif self.near is not None:
            levels = {name: self.near.levels.get(name, level) for name, level in levels.items()}
            start = self.near.solution
        assembly = self.assembly(levels, vented, sleeves)
        if start is not None and (len(start.heads), len(start.flows)) != (
            len(assembly.network.fixed_head), len(assembly.network.tail)):  # fmt: skip
            start = None
        try:
            solution, ends = self.march(assembly, levels, ROUGH if begin is None and start is None else AGAIN, start)
        except SolveError:
            solution, ends = self.march(assembly, levels, STEPS, None)
        network = assembly.network
        storage, stored = network.storage.copy(), network.stored.copy()
        for name, level in ends.items():
            node = assembly.vessels[name]
            storage[node], stored[node] = mean_area(self.layout.vessels[name], level, level) / AGAIN[-1], level
        assembly = replace(assembly, network=replace(network, storage=storage, stored=stored))
        return _State(assembly, solution, ends, vented, sleeves)

    def march(self, assembly: Assembly, levels: dict[str, float], steps: tuple[float, ...], start: Solution | None
              ) -> tuple[Solution, dict[str, float]]:  # fmt: skip
        """Step on until the levels stay; the last solution, and the levels."""
        for step in steps if levels else (1.0,):
            start = self.step(assembly, levels, step, start, 1e-10 if step >= AGAIN[-1] or not levels else NEAR_ENOUGH)
            now = {name: float(start.heads[assembly.vessels[name]]) for name in levels}
            moved = max((abs(now[name] - levels[name]) for name in levels), default=0.0)
            levels = now
            if moved < self.same_level and step >= 1e7:
                break
        assert start is not None
        return start, levels

    def step(self, assembly: Assembly, levels: Mapping[str, float], seconds: float, start: Solution | None,
             tolerance: float) -> Solution:  # fmt: skip
        """One implicit step in time: the levels at its end, with the flows that bring them there."""
        network = assembly.network
        storage, stored = network.storage.copy(), network.stored.copy()
        curved = [name for name in levels if self.layout.vessels[name].areas]
        for name, level in levels.items():
            node = assembly.vessels[name]
            storage[node], stored[node] = mean_area(self.layout.vessels[name], level, level) / seconds, level
        for _ in range(MOST_ROUNDS):
            stepped = replace(network, storage=storage, stored=stored)
            start = solution = _solve_named(stepped, assembly, start, tolerance)
            left = 0.0
            for name in curved:
                node, level = assembly.vessels[name], levels[name]
                ends = float(solution.heads[node])
                area = mean_area(self.layout.vessels[name], level, ends) / seconds
                left = max(left, abs(area - storage[node]) * abs(ends - level) * seconds)
                storage[node] = area
            if left < 1e-9:
                return solution
        return solution

    def assembly(self, levels: Mapping[str, float], vented: Collection[str], sleeves: Mapping[str, float],
                 leaks: Mapping[str, float] | None = None) -> Assembly:  # fmt: skip
        return assemble(
            self.layout,
            levels=self.hold,
            stored={name: (1.0, level) for name, level in levels.items()},
            vented=vented,
            opened=self.opened,
            stopped=self.stopped,
            fed=self.fed,
            sleeves=sleeves,
            leaks=leaks,
        )

    # ------------------------------------------------------------------ air

    def broken(self, state: _State, siphons: Siphons) -> tuple[frozenset[str], frozenset[str]]:
        """The stretches that air gets to, beyond those that it is in already; and those of which that is in doubt."""
        found = self.pulls(state)
        aired = frozenset(name for pull in found if self.lets_air_in(pull) for name in pull.stretches)
        if aired or siphons == "held":
            return aired, frozenset()
        slow, doubtful = self.in_doubt(state, [pull for pull in found if not pull.mouth and pull.froude < math.inf])
        return (doubtful, frozenset()) if siphons == "broken" else (slow, doubtful)

    def in_doubt(self, state: _State, found: Sequence[Pull]) -> tuple[frozenset[str], frozenset[str]]:
        """Of pipework that ends in the air, the stretches that are likely not to run full, and those of which it is in doubt: a siphon
        begins with air in it, and where the water that then runs carries none down it never becomes one, however fast it would run."""
        names = frozenset(name for pull in found for name in pull.stretches)
        if not names:
            return names, names
        try:
            begun = self.follow(state, state.vented | names, state.sleeves)
        except SolveError:
            return frozenset(), frozenset(name for pull in found if pull.froude < CLEARS for name in pull.stretches)
        slow, doubtful = set[str](), set[str]()
        for pull in found:
            starts = max(self.froude(begun, name) for name in pull.stretches)
            doubtful |= pull.stretches if starts < CLEARS else set()
            slow |= pull.stretches if starts < CARRIES else set()
        return frozenset(slow), frozenset(doubtful)

    @staticmethod
    def lets_air_in(pull: Pull) -> bool:
        """Whether air surely gets into pipework whose water is pulled."""
        return pull.aired or (pull.mouth and pull.froude < CLEARS)

    def pulls(self, state: _State) -> tuple[Pull, ...]:
        """The pipework whose water is pulled."""
        flows = stretch_flow(state.assembly, state.solution)
        return pulls(self.layout, state.assembly, state.solution, flows,
                     heads_outside(self.layout, state.assembly, state.solution),
                     leg_heads(self.layout, state.assembly, state.solution), state.vented)  # fmt: skip

    def froude(self, state: _State, name: str) -> float:
        """The largest V/√(gD) in a stretch."""
        stretch = next(one for one in self.layout.stretches if one.id == name)
        flow = abs(stretch_flow(state.assembly, state.solution)[name])
        return max(flow / (0.25 * math.pi * part.pipe.bore**2) / math.sqrt(9.80665 * part.pipe.bore)
                   for part in stretch.parts)  # fmt: skip

    def sleeves(self, state: _State) -> dict[str, float]:
        """What the way up between each standpipe and its sleeve takes: entrance, friction on the gap, and its speed [s²/m⁵]."""
        found: dict[str, float] = {}
        pieces = pieces_by_line(self.layout)
        flows = stretch_flow(state.assembly, state.solution)
        nu = self.layout.water.viscosity / self.layout.water.density
        for name, line in self.layout.lines.items():
            for end, side in ((line.start, 0), (line.end, 1)):
                stretch = pieces[name][-side]
                gap = sleeve_gap(end, stretch, side)
                if gap is None:
                    continue
                area, width = gap
                speed = max(abs(flows[stretch.id]), 1e-9) / area
                pipe = (stretch.parts[0].pipe if side == 0 else stretch.parts[-1].pipe_out) if stretch.parts else None
                rough = pipe.roughness if pipe is not None else 0.0
                height = end.place[2] - self.layout.vessels[end.name or ""].base
                k = 1.5 + float(friction_factor(speed * width / nu, rough / width)) * height / width
                found[f"{name}.{'to' if side else 'from'}"] = k / (2.0 * 9.80665 * area**2)
        return found

    # ------------------------------------------------------------------ what never settles

    def keep(self, names: Collection[str]) -> bool:
        """Hold vessels as written; say whether there were any."""
        self.hold |= {name: self.layout.vessels[name].level for name in names}
        return bool(names)

    def drawn_on(self, *, dry: bool = False) -> set[str]:
        """Vessels whose water is drawn on from outside by more than comes to it from there; with `dry`, where no reservoir gives
        the rest, so that they cannot but run dry. Only those that pumps draw from, where there are any."""
        free = self.free()
        if not free:
            return set()
        assembly = self.assembly({name: self.layout.vessels[name].level for name in free}, frozenset(), {})
        network = assembly.network
        joined = components(len(network.draw), network.tail[~network.shut], network.head[~network.shut])
        sources = self.sources(joined, assembly)
        hold: set[str] = set()
        for label in {int(joined[assembly.vessels[name]]) for name in free}:
            here = joined == label
            if float(np.sum(network.draw[here])) > 0.0 and not (dry and self.fed_from_a_reservoir(assembly, here)):
                names = {name for name in free if here[assembly.vessels[name]]}
                hold |= sources.get(label, set()) & names or names
        return hold

    def never_settle(self, state: _State) -> set[str]:
        """Vessels to hold as written, since the water that they stand in runs away for ever, or comes for ever."""
        free = self.free()
        if not free:
            return set()
        network, solution = state.assembly.network, state.solution
        largest = float(np.max(np.abs(solution.flows), initial=0.0))
        joined = components(len(network.draw), network.tail[~network.shut], network.head[~network.shut])
        groups: dict[int, list[str]] = defaultdict(list)
        for name in free:
            groups[int(joined[state.assembly.vessels[name]])].append(name)
        sources = self.sources(joined, state.assembly)
        hold: set[str] = set()
        for label, names in groups.items():
            vessels = [self.layout.vessels[name] for name in names]
            before = math.fsum(content(vessel, vessel.level) for vessel in vessels)
            after = math.fsum(content(vessel, state.levels[vessel.name]) for vessel in vessels)
            rising = [name for name in names if self.stores(state, name) > STILL_GOING * largest + 1e-12]
            lost = before - after > 1e-6 + 1e-6 * before
            here = joined == label
            comes = bool(np.any(network.draw[here] < 0.0)) or self.fed_from_a_reservoir(state.assembly, here)
            starved = {pump.vessel for pump in self.layout.pumps.values() if pump.vessel in names and pump.name in
                       state.assembly.pumps and self.bare(state, pump)}  # fmt: skip
            full = {name for name in self.sinks & set(names) if name in rising or starved or self.spills(state, name)}
            if full:
                hold |= full  # what comes there never goes away: its other vessels are told as if it had room
                continue
            if rising:
                hold |= sources.get(label, set()) & set(names) or set(rising)
            elif lost and (starved or not (comes or sources.get(label, set()) & set(names))):
                pumped = sources.get(label, set()) & set(names)
                losers = {vessel.name for vessel in vessels
                          if vessel.level - state.levels[vessel.name] > 1e-6 and self.gives_alone(state, vessel.name)}  # fmt: skip
                hold |= pumped or losers
        return hold

    def fed_from_a_reservoir(self, assembly: Assembly, here: BoolArray) -> bool:
        """Whether a vessel among some nodes holds its level whatever flows, and gives water."""
        return any(here[node] and math.isfinite(assembly.network.fixed_head[node]) and name not in self.sinks
                   for name, node in assembly.vessels.items())  # fmt: skip

    def bare(self, state: _State, pump: Pump) -> bool:
        """Whether a pump's vessel is down to its intake."""
        return state.levels[pump.vessel or ""] - self.layout.vessels[pump.vessel or ""].base - pump.intake < BARE

    def sources(self, joined: np.ndarray, assembly: Assembly) -> dict[int, set[str]]:
        """The vessels that pumps draw from, by the label of the pipework they are in."""
        found: dict[int, set[str]] = defaultdict(set)
        for pump in self.layout.pumps.values():
            if pump.name not in assembly.pumps:
                continue
            names = {pump.vessel} if pump.vessel is not None else _sucked(self.layout, pump.name)
            for name in names:
                if name in assembly.vessels:
                    found[int(joined[assembly.vessels[name]])].add(name)
        return found

    def stores(self, state: _State, name: str) -> float:
        """What a vessel gains in the last step [m³/s]."""
        node = state.assembly.vessels[name]
        network, flows = state.assembly.network, state.solution.flows
        gained = float(np.sum(flows[network.head == node]) - np.sum(flows[network.tail == node]))
        return gained - float(network.draw[node])

    def spills(self, state: _State, name: str) -> bool:
        """Whether water runs over a vessel's rim."""
        return name in state.assembly.rims and float(state.solution.flows[state.assembly.rims[name]]) > 1e-9

    def gives_alone(self, state: _State, name: str) -> bool:
        """Whether a vessel gets no water."""
        node = state.assembly.vessels[name]
        network, flows = state.assembly.network, state.solution.flows
        into = np.sum(np.maximum(flows[network.head == node], 0.0)) + np.sum(
            np.maximum(-flows[network.tail == node], 0.0)
        )
        return bool(into <= 1e-9)

    # ------------------------------------------------------------------ the answer

    def read(self, state: _State, *, margins: bool) -> Flows:
        """The flows in the layout's names."""
        flows = read_back(self.layout, state.assembly, state.solution, state.levels, state.vented, state.doubtful,
                          routes=margins)  # fmt: skip
        if self.given:
            vessels = {name: replace(got, level=self.given[name]) for name, got in flows.vessels.items()}
            flows = replace(flows, vessels=vessels)
        if not margins:
            return flows
        spare = spare_flows(self.layout, state.assembly, state.solution, state.levels)
        vessels = {name: replace(got, carries=spare.get(name)) for name, got in flows.vessels.items()}
        return replace(flows, vessels=vessels)


def _sucked(layout: Layout, pump: str) -> set[str]:
    """The vessels that a pump's suction lines begin in."""
    return {line.start.name or "" for line in layout.lines.values()
            if line.end.kind == "pump" and line.end.name == pump and line.start.kind == "vessel"}  # fmt: skip


def _without_way_out(layout: Layout) -> frozenset[str]:
    """Vessels that a pump or a fall brings water to, and that no open pipe and no pump takes any from."""
    gives: set[str] = {pump.vessel for pump in layout.pumps.values() if pump.vessel is not None}
    gets: set[str] = {part.vessel for line in layout.lines.values() for part in line.parts if part.vessel is not None}
    pieces = pipes_joined(layout)
    pushed = {pieces[name] for name, line in layout.lines.items() if line.start.kind == "pump"}
    supplied = {pieces[name] for name, line in layout.lines.items()
                if any(end.kind == "draw" and end.draw < 0.0 for end in (line.start, line.end))}  # fmt: skip
    for line in layout.lines.values():
        shut = any(part.opening <= 0.0 for part in line.parts)
        for end, along in ((line.start, True), (line.end, False)):
            if end.kind != "vessel":
                continue
            checked = not along and any(part_k(part).one_way for part in line.parts)
            if only_out(end) or pieces[line.name] in pushed | supplied:
                gets.add(end.name or "")
            if not (shut or checked or only_out(end) or pieces[line.name] in supplied):
                gives.add(end.name or "")
    return frozenset(gets - gives)


def _drawn_too_high(layout: Layout) -> SolveError | None:
    """What there is to say where water is drawn off at a place that no water comes up to."""
    reached = static_reach(layout)
    ends = [(f"{name}.{side}", end) for name, line in layout.lines.items()
            for side, end in (("from", line.start), ("to", line.end))]  # fmt: skip
    dry = [
        point.rpartition(".")[0]
        for point, end in ends
        if end.kind == "draw" and end.draw > 0.0 and point not in reached
    ]
    if not dry:
        return None
    return SolveError(f"water is drawn off at the end of line '{dry[0]}', and none comes there: started from dry, it "
                      "stands lower than pipe on the way, whatever the pumps")  # fmt: skip


def _fitted(solution: Solution, network: Network) -> Solution:
    """A solution to begin from in a network that has other last nodes and links."""
    n, m = len(network.draw), len(network.tail)

    def fit(values: np.ndarray, size: int, fill: float) -> np.ndarray:
        return np.concatenate([values[:size], np.full(max(size - len(values), 0), fill, dtype=values.dtype)])

    if (len(solution.heads), len(solution.flows)) == (n, m):
        return solution
    return replace(
        solution, heads=fit(solution.heads, n, math.nan), floating=fit(solution.floating, n, 0.0),
        flows=fit(solution.flows, m, 0.0), closed=fit(solution.closed, m, 0.0), turned=fit(solution.turned, m, 0.0),
    )  # fmt: skip


def _solve_named(network: Network, assembly: Assembly, start: Solution | None, tolerance: float) -> Solution:
    """Solve, from the beginning where it fails from a start; an error is told in the layout's names."""
    try:
        if start is not None:
            with suppress(SolveError):
                return solve(network, start=start, tolerance=tolerance, max_steps=FROM_A_START)
        return solve(network, tolerance=tolerance)
    except SolveError as error:
        raise _in_plain_names(error, assembly) from None


def _in_plain_names(error: SolveError, assembly: Assembly) -> SolveError:
    """Put the layout's names in place of the solver's numbers."""
    link_names = {link.link: f"stretch '{name}'" for name, link in assembly.links.items()}
    link_names |= {link: f"pump '{name}'" for name, link in (*assembly.pumps.items(), *assembly.intakes.items())}
    node_names = {node: f"'{name}'" for name, node in assembly.nodes.items()}

    def named(text: str) -> str:
        text = re.sub(r"\blink (\d+)", lambda m: link_names.get(int(m[1]), m[0]), text)
        return re.sub(r"\bnode (\d+)", lambda m: node_names.get(int(m[1]), m[0]), text)

    return SolveError(named(str(error)), iterations=error.iterations, residual=error.residual, worst=named(error.worst))
