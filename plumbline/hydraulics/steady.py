"""Follow the water of a layout from where it is written until it and the air in its pipes stay.

Steady running is where the water comes to rest or to a steady run from the levels as written, with all the water that the
file writes and no more: the levels are unknowns of the same solve as the flows, each vessel's balance holding what it stores
over a step in time, and the steps grow until nothing moves.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from ..errors import SolveError
from ..layout.model import Layout
from .air import CARRIES, CLEARS, Pull, drowned_mouths, froude, pulls
from .assemble import Assembly, Supply, assemble
from .capacity import spare_flows
from .contents import content, mean_area
from .flows import Flows
from .network import FloatArray, Network, Solution
from .never_settles import drawn_on, made_good, solve_named
from .read_back import read_back, stretch_flow
from .stretches import dry_arms, open_runs, sleeve_squares
from .turns import all_turns

__all__ = ["SAME_LEVEL", "Run", "Settled", "Siphons"]

SAME_LEVEL = 1e-9
"""Levels that move by less than this in the last step stay [m]."""

STEPS = (60.0, 3e3, 1e5, 1e7, 1e7, 1e7)
"""The steps in time [s], from the levels as written to where they stay. A step is implicit, so that a long one is as safe as
a short one and only takes the solver further at once."""

ROUGH, AGAIN = (60.0, 3e3), (1e7, 1e7, 1e7)
"""The first of them, near enough to see where air gets in; and the rest, from there or from another state of the same water."""

NEAR_ENOUGH = 1e-6
"""Residual at which a step that others follow is solved [-]."""

NEARBY = 1e-8
"""Residual at which flows are near enough to be compared with readings [-]."""

SAME_WATER = 1e-5
"""Water [m³] that the first, coarse steps may lose by rounding."""

MOST_ROUNDS = 30

STANDS = 1e-6
"""V/√(gD) under which water stands: what is left of a link that lets nothing pass is rounding."""

Siphons = Literal["likely", "held", "broken"]


@dataclass(frozen=True)
class Settled:
    """Flows, and what to begin from when a layout that differs a little is to be solved next: the `solution`,
    the `levels` found [m above the datum], the stretches that air gets to, and the `losses` to air and plants that are
    made good [m³/s]. Of indexing valves `turns` are those while each outlet has its turn, the flows are of all of them, and all else is of
    the first."""

    flows: Flows
    solution: Solution
    levels: Mapping[str, float]
    vented: frozenset[str] = frozenset()
    sleeves: Mapping[str, float] = field(default_factory=dict)
    turns: tuple[Settled, ...] = ()
    losses: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, turns: Sequence[Settled]) -> Settled:
        """All turns in one answer."""
        return replace(turns[0], flows=all_turns([one.flows for one in turns]), turns=tuple(turns))


@dataclass(frozen=True)
class _State:
    """Where a run stands: the network, its solution, and the vessels' levels."""

    assembly: Assembly
    solution: Solution
    levels: dict[str, float]
    vented: frozenset[str]
    sleeves: dict[str, float]
    doubtful: frozenset[str] = frozenset()


@dataclass
class Run:
    """One layout under one set of conditions; vessels in `hold` stay where they are, and those in `given` are told as that."""

    layout: Layout
    opened: frozenset[str]
    stopped: frozenset[str]
    fed: dict[str, Supply]
    near: Settled | None
    same_level: float
    running: bool = False
    hold: dict[str, float] = field(default_factory=dict)
    given: dict[str, float] = field(default_factory=dict)
    losses: Mapping[str, float] = field(default_factory=dict)
    drawn: dict[str, str] = field(default_factory=dict)

    # ------------------------------------------------------------------ levels

    def free(self) -> list[str]:
        """Vessels whose level follows from the flows."""
        return [
            name for name, vessel in self.layout.vessels.items() if vessel.area is not None and name not in self.hold
        ]

    def settled(self, siphons: Siphons) -> _State:
        """Follow the water until it stays, and let air in where it comes; where siphons are held, drops under drowned mouths are full too."""
        state = self.rested(siphons)
        drowned = self.drowned(state)
        if siphons == "held" and drowned:
            self.drawn |= drowned
            return self.rested(siphons)
        return replace(state, doubtful=state.doubtful | frozenset(drowned.values()))

    def drowned(self, state: _State) -> dict[str, str]:
        """The drowned mouths that share their vessel with another way out: of one that is alone all that comes goes by it, drawn or not."""
        assembly, flows = state.assembly, state.solution.flows
        found = drowned_mouths(self.layout, stretch_flow(assembly, state.solution))
        return {point: stretch for point, stretch in found.items() if self.gives(point, assembly, flows) > 1}

    def gives(self, point: str, assembly: Assembly, flows: FloatArray) -> int:
        """By how many ways the vessel of a line's end gives water, beside its pumps."""
        pumped = set(assembly.intakes.values())
        ways = assembly.ways(self.layout.ends[point].name or "")
        return sum(sign * flows[link] < 0.0 for link, sign in ways if link not in pumped)

    def rested(self, siphons: Siphons) -> _State:
        """The state at which the water and the air in the pipes stay."""
        sleeves = {} if self.near is None else dict(self.near.sleeves)
        state, rough = self.follow(None, open_runs(self.layout), sleeves), bool(self.free())
        for _ in range(MOST_ROUNDS):
            sleeves, same = self.sleeves(state)
            broken, held = self.aired(state, siphons)
            if not rough and not broken - state.vented and same:
                return replace(state, doubtful=state.doubtful | held)
            doubtful = state.doubtful | held
            state, rough = replace(self.follow(state, state.vented | broken, sleeves), doubtful=doubtful), False
        raise SolveError("the air in the pipes never settles: it comes and goes with the flows")

    def sleeves(self, state: _State) -> tuple[dict[str, float], bool]:
        """What the sleeves take at the flows as they are, and whether that is what they are taken to."""
        sleeves = sleeve_squares(self.layout, stretch_flow(state.assembly, state.solution))
        return sleeves, all(math.isclose(sleeves[key], state.sleeves.get(key, 0.0), rel_tol=1e-9) for key in sleeves)

    def stepped(
        self,
        levels: dict[str, float],
        near: Settled,
        start: Solution,
        leaks: Mapping[str, float] | None,
        *,
        exact: bool,
    ) -> _State:
        """One long step from the levels, with air where it is nearby; where `exact`, on until levels and sleeves stay."""
        sleeves = dict(near.sleeves)
        for _ in range(MOST_ROUNDS):
            assembly = self.assembly(levels, near.vented, sleeves, leaks)
            begin = _fitted(start, assembly.network)
            if exact:
                start, levels = self.march(assembly, levels, AGAIN, begin)
            else:
                start = self.step(assembly, levels, AGAIN[-1], begin, NEARBY)
            ends = {name: float(start.heads[assembly.vessels[name]]) for name in near.levels}
            # As it was solved, so that it has its derivatives: they are of a network whose equations hold.
            assembly = replace(assembly, network=self.storing(assembly, levels, AGAIN[-1]))
            state = _State(assembly, start, ends, near.vented, sleeves)
            sleeves, same = self.sleeves(state)
            if same or not exact:
                return state
        raise SolveError("the water in the sleeves never settles")

    def follow(self, begin: _State | None, vented: frozenset[str], sleeves: dict[str, float]) -> _State:
        """Follow the levels until they stay, with air in some stretches."""
        free = self.free()
        # Where water ran away while air was taken to stand elsewhere than it does, it is begun again from where it was.
        levels = {name: self.layout.vessels[name].level for name in free}
        start: Solution | None = None
        if self.near is not None:
            there = {name: self.near.levels.get(name, level) for name, level in levels.items()}
            # What ran over a rim there need not do so here.
            if self.running or _holds_all(self.layout, there):
                levels, start = there, self.near.solution
        if begin is not None:
            start, there = begin.solution, {name: begin.levels[name] for name in free}
            levels = there if _holds_all(self.layout, there) else levels
        assembly = self.assembly(levels, vented, sleeves)
        if start is not None and (len(start.heads), len(start.flows)) != (
            len(assembly.network.fixed_head),
            len(assembly.network.tail),
        ):
            start = None
        try:
            solution, ends = self.march(assembly, levels, ROUGH if begin is None and start is None else AGAIN, start)
        except SolveError:
            solution, ends = self.march(assembly, levels, STEPS, None)
        assembly = replace(assembly, network=self.storing(assembly, ends, AGAIN[-1]))
        return _State(assembly, solution, ends, vented, sleeves)

    def storing(self, assembly: Assembly, levels: Mapping[str, float], seconds: float) -> Network:
        """The network with vessels that store over a step in time, from these levels."""
        storage, stored = assembly.network.storage.copy(), assembly.network.stored.copy()
        for name, level in levels.items():
            node = assembly.vessels[name]
            storage[node], stored[node] = mean_area(self.layout.vessels[name], level, level) / seconds, level
        return replace(assembly.network, storage=storage, stored=stored)

    def march(
        self, assembly: Assembly, levels: dict[str, float], steps: tuple[float, ...], start: Solution | None
    ) -> tuple[Solution, dict[str, float]]:
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

    def step(
        self, assembly: Assembly, levels: Mapping[str, float], seconds: float, start: Solution | None, tolerance: float
    ) -> Solution:
        """One implicit step in time: the levels at its end, with the flows that bring them there."""
        network = self.storing(assembly, levels, seconds)
        curved = [name for name in levels if self.layout.vessels[name].areas]
        for _ in range(MOST_ROUNDS):
            start = solve_named(network, assembly, start, tolerance)
            storage, left = network.storage.copy(), 0.0
            for name in curved:
                node, level = assembly.vessels[name], levels[name]
                ends = float(start.heads[node])
                area = mean_area(self.layout.vessels[name], level, ends) / seconds
                left = max(left, abs(area - storage[node]) * abs(ends - level) * seconds)
                storage[node] = area
            if left < 1e-9:
                break
            network = replace(network, storage=storage)
        assert start is not None
        return start

    def assembly(
        self,
        levels: Mapping[str, float],
        vented: Collection[str],
        sleeves: Mapping[str, float],
        leaks: Mapping[str, float] | None = None,
    ) -> Assembly:
        """The network, with the vessels that are free moving from some levels [m above the datum], and air in the vented stretches."""
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
            losses=self.losses,
            drawn=self.drawn.keys(),
            steady=True,
        )

    # ------------------------------------------------------------------ air

    def aired(self, state: _State, siphons: Siphons = "likely") -> tuple[frozenset[str], frozenset[str]]:
        """The same as `broken`, with the arms that fall dry behind."""
        broken, held = self.broken(state, siphons)
        return broken | dry_arms(self.layout, state.vented | broken, stretch_flow(state.assembly, state.solution)), held

    def broken(self, state: _State, siphons: Siphons) -> tuple[frozenset[str], frozenset[str]]:
        """The stretches that air gets to, beyond those that it is in already; and those of which that is in doubt."""
        found = self.pulls(state)
        near = frozenset(name for pull in found if pull.near for name in pull.stretches)
        aired = frozenset(name for pull in found if pull.lets_air_in for name in pull.stretches)
        near |= frozenset(self.drawn.values())
        aired = aired - near if siphons == "held" else aired | near if siphons == "broken" else aired
        if aired or siphons == "held":
            return aired, near if siphons == "likely" else frozenset()
        slow, doubtful = self.in_doubt(
            state, [pull for pull in found if not pull.mouth and (pull.begins or pull.froude < math.inf)]
        )
        return (doubtful, frozenset()) if siphons == "broken" else (slow, doubtful | near)

    def in_doubt(self, state: _State, found: Sequence[Pull]) -> tuple[frozenset[str], frozenset[str]]:
        """Of pipework that ends in the air, or holds a hump, the stretches that are likely not to run full, and those of which it is in doubt: a
        siphon begins with air in it, and where the water that then runs carries none down it never becomes one, however fast it would run."""
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
            if starts < STANDS and pull.froude == math.inf:
                continue  # Water started from dry never gets over, which is told: where it runs all the same, someone has drawn the air off.
            doubtful |= pull.stretches if starts < CLEARS else set()
            slow |= pull.stretches if starts < CARRIES else set()
        return frozenset(slow), frozenset(doubtful)

    def pulls(self, state: _State) -> tuple[Pull, ...]:
        """The pieces of pipework whose water is pulled."""
        return pulls(self.layout, state.assembly, state.solution, state.vented)

    def froude(self, state: _State, name: str) -> float:
        """The largest V/√(gD) in a stretch."""
        stretch = next(one for one in self.layout.stretches if one.id == name)
        flow = stretch_flow(state.assembly, state.solution)[name]
        return max(froude(part, flow) for part in stretch.parts)

    # ------------------------------------------------------------------ what never settles

    def keep(self, names: Iterable[str]) -> bool:
        """Hold vessels as written; say whether there were any."""
        held = {name: self.layout.vessels[name].level for name in names}
        self.hold |= held
        return bool(held)

    def drawn_on(self, *, dry: bool = False) -> set[str]:
        """Vessels to hold since more is drawn from them than comes (see `never_settles.drawn_on`)."""
        free = self.free()
        levels = {name: self.layout.vessels[name].level for name in free}
        return drawn_on(self.layout, self.assembly(levels, frozenset(), {}), free, dry=dry) if free else set()

    def make_good(self) -> None:
        """Take out what goes to the air and to plants, as far as it is made good."""
        levels = {name: self.layout.vessels[name].level for name in self.free()}
        if any(self.layout.vessels[name].loses > 0.0 for name in levels):
            self.losses = made_good(self.layout, self.assembly(levels, frozenset(), {}), list(levels))

    def forget(self, names: Iterable[str]) -> bool:
        """Leave out what vessels lose that nothing comes to; say whether there were any."""
        dry = set(names)
        self.losses = {name: loss for name, loss in self.losses.items() if name not in dry}
        return bool(dry)

    # ------------------------------------------------------------------ the answer

    def read(self, state: _State, *, margins: bool, spare: bool = False) -> Flows:
        """The answer in the layout's names; with `margins` its routes, with `spare` what its drains would carry more."""
        flows = read_back(
            self.layout, state.assembly, state.solution, state.levels, state.vented, state.doubtful, routes=margins
        )
        if self.given:
            vessels = {name: replace(got, level=self.given[name]) for name, got in flows.vessels.items()}
            flows = replace(flows, vessels=vessels)
        if not spare:
            return flows
        most = spare_flows(self.layout, state.assembly, state.solution, state.levels)
        vessels = {name: replace(got, carries=most.get(name)) for name, got in flows.vessels.items()}
        return replace(flows, vessels=vessels)


def _holds_all(layout: Layout, levels: Mapping[str, float]) -> bool:
    """Whether vessels hold at some levels [m above the datum] all the water that the file writes for them, so that none ran over a rim."""
    more = ((layout.vessels[name], level) for name, level in levels.items())
    return abs(math.fsum(content(vessel, level) - content(vessel, vessel.level) for vessel, level in more)) < SAME_WATER


def _fitted(solution: Solution, network: Network) -> Solution:
    """A solution to begin from in a network that has other last nodes and links."""
    n, m = len(network.draw), len(network.tail)

    def fit(values: np.ndarray, size: int, fill: float) -> np.ndarray:
        return np.concatenate([values[:size], np.full(max(size - len(values), 0), fill, dtype=values.dtype)])

    if (len(solution.heads), len(solution.flows)) == (n, m):
        return solution
    return replace(
        solution,
        heads=fit(solution.heads, n, math.nan),
        floating=fit(solution.floating, n, 0.0),
        flows=fit(solution.flows, m, 0.0),
        closed=fit(solution.closed, m, 0.0),
        turned=fit(solution.turned, m, 0.0),
    )
