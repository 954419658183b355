"""Steady flow in a network: heads and flows that satisfy every law and every water balance, or an error."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import SolveError
from .islands import (
    Islands,
    components,
    draws_can_be_met,
    find_islands,
    hanging,
    has_loops,
    reject_lossless_loops,
)
from .laws import Laws, build_laws, losses, median, needs
from .linear import StepSolver, balance, rounding
from .network import BoolArray, FloatArray, Network, Solution
from .newton import Point, Problem, Stalled, Tally, find, worst_place

__all__ = ["solve"]

NO_SINGLE = "the flows have no single value: the equations for them depend on each other"


def solve(
    network: Network,
    *,
    start: Solution | None = None,
    tolerance: float = 1e-10,
    max_steps: int = 2000,
) -> Solution:
    """Find the heads and flows of a network, steady or at the end of one implicit step.

    H[tail] − H[head] = loss(Q) in every open link, Σ in − Σ out = draw at every node without a fixed head, and in a one-way link either
    Q ≥ 0 or Q = 0 with H[tail] − H[head] ≤ loss(0). Where a node stores, Σ in − Σ out = draw + storage (H − stored). An open-ended
    link passes by the law of its stages, and falls from a tip that stands above the head beyond it (see `Network`).

    Parameters:
        start: an earlier solution of a similar network with as many nodes and links, to begin from.
        tolerance: largest energy residual over the largest head at work, and mass residual over the largest flow [-].
        max_steps: Newton steps after which to give up.

    Returns:
        The `Solution`. Flows under 1e-13 of the largest are rounding and given as zero. Heads of an island without a
        fixed head are NaN, its flows are still found.

    Raises:
        SolveError: if draws cannot be met, flows have no single value, or the tolerance is not reached; never a number instead.

    Example: 10 m of head over 100 m of 50 mm pipe.

    >>> from plumbline.hydraulics.network import make_network
    >>> net = make_network(
    ...     fixed_head=[10.0, 0.0], tail=[0], head=[1],
    ...     run_link=[0], run_bore=[0.05], run_length=[100.0], run_roughness=[1.5e-6],
    ... )
    >>> f"{solve(net).flows[0] * 60000:.1f} L/min"
    '278.3 L/min'

    Reference: Todini and Pilati (1988), "A gradient algorithm for the analysis of pipe networks" (from memory).
    """
    with np.errstate(all="ignore"):
        return _solve(network, start, tolerance, Tally(max_steps))


@dataclass(frozen=True)
class _Scales:
    """Sizes to measure residuals by: `head` [m] and `flow` [m³/s]; `datum` [m] is taken off all heads meanwhile."""

    head: float
    flow: float
    datum: float


def _solve(network: Network, start: Solution | None, tolerance: float, tally: Tally) -> Solution:
    scales = _measure(network, build_laws(network))
    state = _likely_state(network)
    network = network.above(scales.datum)
    heads = np.nan_to_num(np.where(network.storage > 0.0, network.stored, network.fixed_head))
    flows = None
    if start is not None:
        free = np.isnan(network.fixed_head) & np.isfinite(start.heads)
        heads = np.where(free, np.nan_to_num(start.heads) - scales.datum, heads)
        turned = np.where(start.flows != 0.0, start.flows < 0.0, start.turned) & network.open_ended & ~network.one_way
        sunk = heads[network.head] < network.float_at
        state = _State(network.valves & start.closed & ~network.shut, turned, state.pressed & ~sunk)
        flows = np.where(turned, -start.flows, start.flows)
    seen, guessed, freed = set[bytes](), set[bytes](), set[bytes]()
    careful = False
    while True:
        drawn, laws = _laws_with(network, state)
        lossless = laws.keeps & (laws.secant <= 0.0)
        lossless[network.pump_link] = False
        open_links = ~network.shut & ~state.held
        reject_lossless_loops(network, open_links, lossless)
        try:
            islands = find_islands(network, open_links)
        except SolveError:
            state = _freed(network, state, open_links, freed)
            continue
        problem = _pose(laws, open_links, islands, scales, tolerance)
        begin = None if flows is None else np.where(open_links, flows, 0.0)
        try:
            point = _find(problem, heads, begin, tally, quick=bool(problem.valves.any()))
        except Stalled as stop:
            # One-way links that seem to hold water back.
            likely = problem.valves & (stop.point.flows < 0.0) if stop.point is not None else np.zeros_like(state.held)
            held = replace(state, held=state.held | likely)
            without = None
            if likely.any() and held.key not in guessed:
                # A kink of a tee's loss at no flow in a leg that a valve shuts, or valves that face each other: without them
                # the laws are smooth.
                guessed.add(held.key)
                hanging_then, laws_then = _laws_with(network, held)
                without = _with_held(laws_then, held.held, islands, scales, tolerance, heads, tally)
            if without is None:
                point = _find(problem, heads, begin, tally)
            else:
                (problem, point, islands), state, drawn = without, held, hanging_then
        heads, flows = point.heads, point.flows
        wrong, back = _wrong(problem, point, islands, state.held)
        afloat = point.heads[network.head] > network.float_at
        other = open_links & np.isfinite(network.float_at) & (state.pressed ^ afloat)
        if not wrong.any() and not other.any():
            _reach(network, drawn, point, scales, tally)
            return _unturned(_finish(problem, point, islands, scales, tally), state.turned & ~drawn)
        # All wrong links are changed at once, until a state comes back; from then on only the first wrong one, which
        # cannot go round in circles where losses rise with flow (Murty's least-index rule).
        if state.key in seen:
            careful = True
        seen.add(state.key)
        if len(seen) > 20 + 4 * int(np.count_nonzero(network.valves)) or tally.steps >= tally.limit:
            why = "the one-way valves never settle: each state of them asks for another"
            raise tally.error(why, point.residual, f"link {int(np.argmax(wrong | other))}")
        if careful:
            first = np.arange(len(wrong)) == np.argmax(wrong | other)
            wrong, other = wrong & first, other & first
        back = back & wrong
        flows = np.where(back, 0.0, flows)
        state = _State(state.held ^ wrong, state.turned ^ back, state.pressed ^ other)


@dataclass(frozen=True)
class _State:
    """Which one-way links are `held`, which open-ended ones run against the network's direction, `turned`, and which floats are
    `pressed` up by the water; (m,) each."""

    held: BoolArray
    turned: BoolArray
    pressed: BoolArray

    @property
    def key(self) -> bytes:
        return self.held.tobytes() + self.turned.tobytes() + self.pressed.tobytes()


def _laws_with(network: Network, state: _State) -> tuple[BoolArray, Laws]:
    """The laws of all links in a state, and which lead only to a draw: their flow is given, and an airy stage there would leave the head
    beyond it without a value."""
    drawn = network.open_ended & hanging(network, ~network.shut & ~state.held)
    return drawn, build_laws(network.pressed(state.pressed).full(drawn).turned(state.turned & ~drawn))


def _freed(network: Network, state: _State, open_links: BoolArray, before: set[bytes]) -> _State:
    """Open the held ends by which water that is put in has to leave, or what is drawn off has to come.

    Raises:
        SolveError: where there are none, or it has been tried.
    """
    label = components(len(network.draw), network.tail[open_links], network.head[open_links])
    known = np.zeros(len(label), dtype=bool)
    known[label[network.known]] = True
    net = np.bincount(label, weights=network.draw, minlength=len(label))
    at_tail, at_head = label[network.tail], label[network.head]
    asks = [~known[at] & (np.abs(net[at]) > 0.0) for at in (at_tail, at_head)]
    # Water put in goes out by the end that it stands behind, water drawn off comes in there.
    turned = np.where(asks[0], net[at_tail] > 0.0, net[at_head] < 0.0)
    links = state.held & network.open_ended & (asks[0] ^ asks[1]) & ~(network.one_way & turned)
    new = replace(state, held=state.held & ~links, turned=np.where(links, turned, state.turned))
    if not links.any() or new.key in before:
        find_islands(network, open_links)
    before.add(new.key)
    return new


def _reach(network: Network, drawn: BoolArray, point: Point, scales: _Scales, tally: Tally) -> None:
    """Refuse draws that the water does not come up to: at an airy place it stands as high as the pipe, within half a bore.

    Raises:
        SolveError: which names the worst link, and how far the water stands under it.
    """
    if not drawn.any():
        return
    back = drawn & (point.flows < 0.0)
    there = network.turned(back)
    bore = np.zeros(len(drawn))
    np.maximum.at(bore, network.run_link, network.run_bore)
    stages = there.stages.only(drawn[there.stages.link] & ~there.stages.back)
    short = stages.height - 0.5 * bore[stages.link] - point.heads[there.tail[stages.link]]
    if np.max(short, initial=0.0) > 1e-6 * scales.head:
        worst, place = int(stages.link[np.argmax(short)]), float(np.max(short))
        why = f"the draws cannot all be met: air is in the pipe, and the water stands {place:.3g} m too low to run on by link {worst}"
        raise tally.error(why, place, f"link {worst}")


def _likely_state(network: Network) -> _State:
    """Hold the open-ended links that stand dry, and turn those that water is likely to enter at the head's end: it stands higher
    there, or at the tail under the mouth."""
    level = np.where(network.storage > 0.0, network.stored, network.fixed_head)
    lip = np.full((2, len(network.tail)), np.inf)
    stages = network.stages
    for back in (0, 1):
        here = stages.back == bool(back)
        np.minimum.at(lip[back], stages.link[here], stages.height[here])
    tail, head = level[network.tail], level[network.head]
    in_pipe = (np.isnan(tail), np.isnan(head))
    forward = in_pipe[0] | (tail > lip[0])
    backward = ~in_pipe[1] & (head > lip[1])
    higher = ~in_pipe[0] & ~in_pipe[1] & (head > tail)
    turned = network.open_ended & ~network.one_way & backward & (~forward | higher)
    held = network.open_ended & ~network.shut & ~forward & (network.one_way | ~(backward | in_pipe[1]))
    return _State(np.asarray(held), np.asarray(turned), np.isfinite(network.float_at))


def _unturned(solution: Solution, turned: BoolArray) -> Solution:
    """The same with flows along the network's own links."""
    return replace(
        solution, flows=np.where(turned & (solution.flows != 0.0), -solution.flows, solution.flows), turned=turned
    )


def _with_held(
    laws: Laws, held: BoolArray, before: Islands, scales: _Scales, tolerance: float, heads: FloatArray, tally: Tally
) -> tuple[Problem, Point, Islands] | None:
    """Solve with some one-way links shut; None unless that is quick and cuts nothing off that was joined `before`."""
    network = laws.network
    open_links = ~network.shut & ~held
    try:
        islands = find_islands(network, open_links)
        problem = _pose(laws, open_links, islands, scales, tolerance)
        point = _find(problem, heads, None, tally, quick=True)
    except (SolveError, Stalled):
        return None
    if np.any(islands.floating & ~before.floating):
        return None
    return problem, point, islands


def _measure(network: Network, laws: Laws) -> _Scales:
    fixed = np.concatenate(
        [
            network.fixed_head[np.isfinite(network.fixed_head)],
            network.stored[network.storage > 0.0],
            network.tip_head[np.isfinite(network.tip_head)],
        ]
    )
    datum = float(np.mean(fixed)) if len(fixed) else 0.0
    head = max(1e-2, float(np.ptp(fixed)) if len(fixed) else 0.0)
    if laws.pumps is not None:
        lift, _ = laws.pumps.heads(np.zeros(len(network.pump_link)))
        head = max(head, float(np.max(np.abs(lift))))
    flow = median(laws.guess) if len(laws.guess) else 1.0
    return _Scales(head, flow, datum)


def _pose(laws: Laws, open_links: BoolArray, islands: Islands, scales: _Scales, tolerance: float) -> Problem:
    step = StepSolver(laws.network, open_links, islands.unknown, laws.keeps, scales.head, scales.flow)
    usual = np.maximum(laws.secant, scales.head / laws.guess)
    valves = laws.network.valves & open_links
    # Each balance is measured against the flows of this network, not against a guess that may be far larger.
    return Problem(laws, step, open_links, valves, usual, scales.head, 1e-6 * scales.flow, tolerance)


def _find(problem: Problem, heads: FloatArray, flows: FloatArray | None, tally: Tally, *, quick: bool = False) -> Point:
    try:
        point = find(problem, heads, flows, tally, quick=quick)
    except Stalled as stop:
        if quick:
            raise
        residual = float("nan") if stop.point is None else stop.point.residual
        worst = worst_place(problem, stop.point)
        reason = f"no steady flow was found in {tally.steps} steps; {residual:.3g} m of head is left over at {worst}"
        if not draws_can_be_met(problem.laws.network, problem.open_links):
            reason = (
                "the draws cannot all be met: valves that pass water one way only stand between them and every source"
            )
        elif stop.point is None:
            reason = NO_SINGLE
        raise tally.error(reason, residual, worst) from None
    if not problem.step.definite and problem.step.doubtful() and has_loops(problem.laws.network, problem.open_links):
        raise tally.error(NO_SINGLE, point.residual, worst_place(problem, point))
    return point


def _wrong(problem: Problem, point: Point, islands: Islands, held: BoolArray) -> tuple[BoolArray, BoolArray]:
    """One-way links in the wrong state: open ones with reversed flow, and held ones that would let water through; and those of
    them that would let it through the other way."""
    laws = problem.laws
    network = laws.network
    small = 1e-9 * problem.head_scale
    excess = point.heads[network.tail] - point.asked
    wrong = problem.valves & (point.flows < 0.0) & (excess < -small)
    floating = islands.floating
    known = ~floating[network.tail] & ~floating[network.head]
    wrong |= held & known & (excess > small)
    ways = held & network.open_ended
    if not ways.any():
        return np.asarray(wrong), np.zeros(len(wrong), dtype=bool)
    # Nothing stands in a pipe that air fills: whatever stands over its mouth goes in.
    heads = np.where(floating, -np.inf, point.heads)
    empty = ways & ~floating[network.tail] & floating[network.head]
    if empty.any():
        wrong |= empty & (heads[network.tail] - needs(laws, heads, point.flows, point.losses).head > small)
    both = ways & ~network.one_way & ~floating[network.head] & ~wrong
    if both.any():
        # Under the lowest that a mouth asks for at rest nothing goes in there.
        lip, behind = np.full(len(wrong), -np.inf), network.stages.only(network.stages.back)
        np.maximum.at(lip, behind.link, behind.height - 0.5 * behind.bore)
        both &= point.heads[network.head] - lip > small
    back = np.zeros(len(wrong), dtype=bool)
    if both.any():
        other = build_laws(network.turned(both))
        heads = np.where(floating, -np.inf, point.heads)
        asked = needs(other, heads, point.flows, losses(other, point.flows)).head
        back = both & (heads[network.head] - asked > small)
    return np.asarray(wrong | back), np.asarray(back)


def _finish(problem: Problem, point: Point, islands: Islands, scales: _Scales, tally: Tally) -> Solution:
    """Round off, measure both residuals again from the final numbers, and give the heads back their datum."""
    network = problem.laws.network
    n = len(network.draw)
    fixed = np.isfinite(network.fixed_head)
    largest = float(np.max(np.abs(point.flows), initial=0.0))
    nothing = (np.abs(point.flows) <= 1e-13 * largest) | (problem.valves & (point.flows < 0.0))
    flows = np.where(nothing | ~problem.open_links, 0.0, point.flows)
    at_rest = largest <= 1e-9 * scales.flow and not np.any(network.draw[~fixed])
    heads = np.where(fixed, network.fixed_head, point.heads)
    flow_scale = max(largest, problem.flow_scale, float(np.max(np.abs(network.draw), initial=0.0)))
    least = 10.0 * (problem.tolerance * flow_scale + rounding(network, heads))
    # At rest: what is left of the guess, under a nanometre per second, is nothing, unless a mouth's head hangs on it.
    tries = [(np.zeros_like(flows), 2e-9 * scales.flow), (flows, least)] if at_rest else [(flows, least)]
    for flows, least in tries:
        unbalanced = np.where(fixed, 0.0, balance(network, heads, flows))
        found = losses(problem.laws, flows)
        asked, lost = needs(problem.laws, heads, flows, found), found.head
        still = problem.valves & (flows == 0.0)
        left = np.where(problem.open_links & ~still, heads[network.tail] - asked.head, 0.0)
        # At no flow an open one-way link may ask for more than there is: then it is as good as held.
        left = np.where(still, np.maximum(heads[network.tail] - asked.head, 0.0), left)
        mass, energy = float(np.max(np.abs(unbalanced), initial=0.0)), float(np.max(np.abs(left), initial=0.0))
        head_scale = max(problem.head_scale, float(np.max(np.abs(lost) * problem.open_links, initial=0.0)))
        # Heads far above the datum carry rounding of their own.
        allowed = 10.0 * problem.tolerance * head_scale + 1e-15 * float(np.max(np.abs(heads), initial=0.0))
        if energy <= allowed and mass <= least:
            break
    else:
        worst = int(np.argmax(np.abs(left)))
        why = (
            f"the flows found do not satisfy their own equations: {energy:.3g} m is left over at link {worst}, "
            f"{mass * 6e4:.3g} L/min in a balance"
        )
        place = f"link {worst}" if energy > allowed else f"node {int(np.argmax(np.abs(unbalanced)))}"
        raise tally.error(why, energy, place)
    return Solution(
        heads=np.where(islands.floating, np.nan, heads + scales.datum),
        flows=flows,
        closed=~problem.open_links,
        floating=islands.floating if n else np.zeros(0, dtype=bool),
        mass_residual=mass,
        energy_residual=energy,
        steps=tally.steps,
        factor_seconds=tally.factor_seconds,
        staged=asked.staged & problem.open_links & (flows > 0.0),
        falls=asked.falls & problem.open_links & (flows > 0.0),
    )
