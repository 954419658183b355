"""Newton's method on heads and flows, with a damped step, and a slower way for networks where it stalls."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ..errors import SolveError
from .laws import Laws, Losses, first_losses, losses, needs
from .linear import SingularStep, StepSolver, balance, rounding
from .network import BoolArray, FloatArray

__all__ = ["Point", "Problem", "Tally", "find", "worst_place"]

BARRIER = 1e6
"""How much steeper than its usual resistance a one-way link is against reversed flow, while its state is not settled."""

TIGHTER = (1.0, 10.0, 1e2, 1e3, 1e4, 1e5, BARRIER)
"""The barriers tried one after the other where a step to the last at once fails."""

PLAIN_STEPS = 40
WHOLE_STEPS = 30
FARTHEST = 2.0
SHORT_NEWTON = 15
MARCH_STEPS = 400
MARCH_TIMES = ((0.5, 2.0), (0.25, 1.0), (0.02, 0.1))
"""Shortest and longest step in time of each march, in turn. Found by trial on 4,000 random networks of tees, most of them
wilder than any plumbing: longer steps go round in circles in some, shorter ones are only slower."""


class Stalled(Exception):  # noqa: N818 - caught by the solver, which tries a slower way or tells the user
    """The method stopped short of the tolerance; `point` is the best point it reached."""

    def __init__(self, point: Point | None) -> None:
        self.point = point
        super().__init__()


@dataclass
class Tally:
    """What a solve has used: Newton steps and seconds in factorisations."""

    limit: int
    steps: int = 0
    factor_seconds: float = 0.0

    def error(self, why: str, residual: float, worst: str) -> SolveError:
        """Why there is no solution, with what was left over [m], and where most."""
        return SolveError(why, iterations=self.steps, residual=residual, worst=worst)


@dataclass(frozen=True)
class Problem:
    """A network with a settled set of open links, ready for Newton steps.

    `valves` (m,) True for open one-way links; `steepness` (m,) [s/m²] their resistance to reversed flow and `usual` (m,)
    [s/m²] a resistance typical of the link; `tolerance` relative to the scales `head_scale` [m] and `flow_scale` [m³/s].
    """

    laws: Laws
    step: StepSolver
    open_links: BoolArray
    valves: BoolArray
    usual: FloatArray
    head_scale: float
    flow_scale: float
    tolerance: float
    barrier: float = BARRIER

    @property
    def steepness(self) -> FloatArray:
        """Resistance to reversed flow [s/m²]."""
        return self.barrier * self.usual


@dataclass(frozen=True)
class Point:
    """Heads and flows with everything that follows from them.

    `energy` (m,) [m] is what the energy equation lacks, `row` (m,) [m] the same where a one-way link counts by what it
    violates, `mass` (n,) [m³/s] out − in + draw + stored, zero at fixed heads; `residual` [m] the largest row and
    `size` the sum of their squares. `asked` (m,) [m] is the head at the tail that meets each law; `feels` (m,) 1 where a link feels
    the head beyond it, else 0.
    """

    heads: FloatArray
    flows: FloatArray
    losses: Losses
    energy: FloatArray
    row: FloatArray
    mass: FloatArray
    residual: float
    size: float
    settled: bool
    asked: FloatArray
    feels: FloatArray


def evaluate(problem: Problem, heads: FloatArray, flows: FloatArray, at: Losses | None = None) -> Point:
    """Give the `Point` at (n,) `heads` and (m,) `flows`; `at` replaces the laws by straight lines.

    A one-way link satisfies min(loss − ΔH, c Q + c/R (loss − ΔH)) = 0 with c its usual resistance and R ≫ c: either its law
    holds and Q ≥ 0, or Q is the trickle −(loss − ΔH)/R. Newton's row is the derivative of the lesser of both.
    """
    network = problem.laws.network
    found = losses(problem.laws, flows) if at is None else at
    asked = needs(problem.laws, heads, flows, found)
    slope = np.maximum(asked.slope, 1e-10 * problem.laws.secant)
    if len(found.tee) and asked.feels.min() < 1.0:
        # Where a stage sets the head, no tee has a share in it.
        found = replace(found, tee=found.tee * np.where(asked.staged, 0.0, 1.0)[network.tee_link][:, :, None])
    energy = np.where(problem.open_links, heads[network.tail] - asked.head, 0.0)
    row = energy
    if at is None and problem.valves.any():
        usual, steep = problem.usual, problem.steepness
        shut = problem.valves & (-energy * (1.0 - 1.0 / problem.barrier) > usual * flows)
        slope = slope + np.where(shut, steep, 0.0)
        energy = energy - np.where(shut, steep * flows, 0.0)
        row = np.where(shut, energy / problem.barrier, energy)
        # Where nothing can pass, since nothing goes on beyond, a shut link is as it should be without its trickle.
        row = np.where(shut & (np.abs(flows) <= 1e-12 * problem.flow_scale), 0.0, row)
    mass = np.where(problem.step.unknown, balance(network, heads, flows), 0.0)
    residual = float(np.max(np.abs(row), initial=0.0))
    scale = max(problem.head_scale, float(np.max(np.abs(found.head) * problem.open_links, initial=0.0)))
    flow_scale = max(problem.flow_scale, float(np.max(np.abs(flows), initial=0.0)))
    # Heads behind a valve that holds back a draw are huge for a while, and so is their rounding.
    allowed = problem.tolerance * scale + 2e-15 * float(np.max(np.abs(heads), initial=0.0))
    settled = (
        residual <= allowed
        and float(np.max(np.abs(energy) * (row != 0.0), initial=0.0)) <= 100.0 * allowed
        and float(np.max(np.abs(mass), initial=0.0)) <= problem.tolerance * flow_scale + rounding(network, heads)
    )
    size = float(row @ row)
    found = Losses(found.head, slope, found.tee, found.friction, found.steep)
    return Point(heads, flows, found, energy, row, mass, residual, size, settled, asked.head, asked.feels)


def find(problem: Problem, heads: FloatArray, flows: FloatArray | None, tally: Tally, *, quick: bool = False) -> Point:
    """Find heads and flows that satisfy the laws and the water balance.

    Plain damped Newton first. Where it stalls (tees whose losses bend sharply with the split), the water is let run
    in time until it is steady.

    Parameters:
        heads: (n,) [m], right at fixed heads, a guess elsewhere.
        flows: (m,) [m³/s] a first guess, zero in links that are not open; None to begin from straight-line laws.
        quick: give up where plain Newton stalls.

    Raises:
        Stalled
    """
    best: Point | None = None
    for way in _ways(problem, heads, flows, tally, quick=quick):
        try:
            return _polish(problem, way())
        except SingularStep:
            continue
        except Stalled as stop:
            if best is None or (stop.point is not None and stop.point.size < best.size):
                best = stop.point
    raise Stalled(best)


def _ways(
    problem: Problem, heads: FloatArray, flows: FloatArray | None, tally: Tally, *, quick: bool
) -> Iterator[Callable[[], Point]]:
    """The ways to a solution, the one that most often leads there soonest first."""

    def begin() -> Point:
        return evaluate(problem, heads, flows) if flows is not None else _first(problem, heads, tally)

    one_way = bool(problem.valves.any())
    if one_way:
        yield lambda: _whole(problem, begin(), tally)
    yield lambda: _damped(problem, begin(), tally)
    if quick:
        return
    if one_way:
        yield lambda: _whole(problem, _first(problem, heads, tally), tally)
        yield lambda: _tightened(problem, heads, tally)
    for shortest, longest in MARCH_TIMES:
        yield partial(_march, problem, heads, tally, shortest, longest)


def _tightened(problem: Problem, heads: FloatArray, tally: Tally) -> Point:
    """Let one-way links leak, and make them tighter step by step, each time from where the last one led."""
    point = _first(problem, heads, tally)
    for barrier in TIGHTER:
        leaky = replace(problem, barrier=barrier)
        point = _damped(leaky, evaluate(leaky, point.heads, point.flows), tally, 2 * PLAIN_STEPS)
    return point


def worst_place(problem: Problem, point: Point | None) -> str:
    """Name the link with the largest residual, "link 3"."""
    if point is None or not len(point.row) or not np.all(np.isfinite(point.row)):
        return ""
    return f"link {int(np.argmax(np.abs(point.row)))}"


def _first(problem: Problem, heads: FloatArray, tally: Tally) -> Point:
    rest = np.zeros(len(problem.open_links))
    point = _move(problem, evaluate(problem, heads, rest, first_losses(problem.laws)), tally)
    problem.step.reorder()
    return point


def _move(problem: Problem, point: Point, tally: Tally, inertia: FloatArray | None = None) -> Point:
    """Take one whole step; `inertia` (m,) [s/m²] is added to the slopes."""
    d_head, d_flow = _direction(problem, point, tally, inertia)
    moved = evaluate(problem, point.heads + d_head, point.flows + d_flow)
    if not np.isfinite(moved.size):
        raise Stalled(point)
    tally.steps += 1
    return moved


def _direction(
    problem: Problem, point: Point, tally: Tally, inertia: FloatArray | None = None
) -> tuple[FloatArray, FloatArray]:
    if tally.steps >= tally.limit:
        raise Stalled(point)
    slope = point.losses.slope if inertia is None else point.losses.slope + inertia
    before = problem.step.factor_seconds
    try:
        return problem.step.step(slope, point.losses.tee, point.mass, point.energy, point.feels)
    finally:
        tally.factor_seconds += problem.step.factor_seconds - before


def _whole(problem: Problem, point: Point, tally: Tally) -> Point:
    """Newton's whole steps, however the residual goes: where laws have corners, the pieces that a step picks soon stay the same,
    while a step that has to make the residual less may stop short of a corner for ever.

    Reference: Qi and Sun (1993), "A nonsmooth version of Newton's method", Math. Programming 58 (from memory).
    """
    guess, seen = problem.laws.guess, set[str]()
    for _ in range(WHOLE_STEPS):
        d_head, d_flow = _direction(problem, point, tally)
        # A law that is flat at rest says nothing of how far to go.
        share = 1.0 / max(1.0, float(np.max(np.abs(d_flow) / (FARTHEST * (guess + np.abs(point.flows))), initial=0.0)))
        point = evaluate(problem, point.heads + share * d_head, point.flows + share * d_flow)
        if not np.isfinite(point.size):
            break
        tally.steps += 1
        if point.settled:
            return point
        # The same again: it goes round between pieces of the laws.
        if (size := f"{point.size:.6e}") in seen:
            break
        seen.add(size)
    raise Stalled(point)


def _damped(problem: Problem, point: Point, tally: Tally, most: int = PLAIN_STEPS) -> Point:
    """Newton with a backtracking line search on the energy residual.

    The water balance is linear, so the first whole step meets it and any fraction of a later step keeps it.
    """
    point = _move(problem, point, tally)
    for _ in range(most):
        if point.settled:
            return point
        d_head, d_flow = _direction(problem, point, tally)
        share = 1.0
        while True:
            tried = evaluate(problem, point.heads + share * d_head, point.flows + share * d_flow)
            if tried.size <= (1.0 - 2e-4 * share) * point.size or tried.settled:
                break
            # The least of the parabola through the old size, its slope and the new size.
            least = share**2 * point.size / (tried.size - point.size + 2.0 * share * point.size)
            share *= min(0.5, max(0.1, least / share)) if np.isfinite(least) else 0.1
            if share < 1e-4:
                raise Stalled(point)
        tally.steps += 1
        point = tried
    if point.settled:
        return point
    raise Stalled(point)


def _march(problem: Problem, heads: FloatArray, tally: Tally, shortest: float, longest: float) -> Point:
    """Implicit steps in time, in which every column of water has inertia; Newton is tried from where they lead.

    The inertia outweighs whatever makes a tee's loss fall with rising flow, so that such a flow runs on to where it
    is stable, while Newton would be thrown back and forth across the bend. The step in time is in units of
    inertia over slope, and shrinks while the residual grows.

    Reference: Kelley and Keyes (1998), "Convergence analysis of pseudo-transient continuation", SIAM J. Numer. Anal. 35, 508–523.
    """
    point = best = _first(problem, heads, tally)
    time, wait, since = longest, 4.0, 0
    for _ in range(MARCH_STEPS):
        moved = _move(problem, point, tally, _inertia(problem, point) / time)
        time = min(longest, 1.1 * time) if moved.size < point.size else max(shortest, 0.5 * time)
        point, since = moved, since + 1
        if point.size < best.size:
            best = point
        if since >= wait or point.settled:
            since, wait = 0, 1.3 * wait
            with suppress(Stalled, SingularStep):
                return _damped(problem, point, tally, SHORT_NEWTON)
    raise Stalled(best)


def _inertia(problem: Problem, point: Point) -> FloatArray:
    """Inertia of each link [s/m²] that outweighs every fall of a tee's loss with rising flow."""
    size = np.abs(point.losses.tee)
    most = np.maximum(size.sum(axis=2), size.sum(axis=1)).ravel()
    links = problem.laws.network.tee_link.ravel()
    own = problem.laws.secant + point.losses.slope
    return own + np.bincount(links, weights=most, minlength=len(own))


def _polish(problem: Problem, point: Point) -> Point:
    """Bring the residual down to rounding with the matrix at hand, as long as that helps; not where little is asked for."""
    if problem.tolerance > 1e-8:
        return point
    least = 1e-15 * max(problem.head_scale, float(np.max(np.abs(point.heads), initial=0.0)))
    for _ in range(3):
        # Of a shut link the residual is the trickle's, a millionth of the head that it lacks.
        if float(np.max(np.abs(point.energy), initial=0.0)) <= least:
            return point
        try:
            d_head, d_flow = problem.step.again(point.mass, point.energy)
        except SingularStep:
            return point
        tried = evaluate(problem, point.heads + d_head, point.flows + d_flow)
        if not (tried.settled and tried.residual < 0.5 * point.residual):
            return point
        point = tried
    return point
