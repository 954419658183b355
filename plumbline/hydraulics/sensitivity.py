"""How flows and heads move when the numbers behind them move: the derivative of a solution, from Newton's own matrix.

At a solution x = (H, Q) of F(x, p) = 0 a small change of the numbers p moves it by (∂F/∂x) dx = −(∂F/∂p) dp. The matrix
∂F/∂x is the one that Newton's method ends with; it is factorised once and solved for each p.
"""

from __future__ import annotations

import numpy as np

from ..errors import SolveError
from .islands import find_islands
from .laws import build_laws, losses, needs
from .linear import SingularStep, StepSolver, balance
from .network import FloatArray, Network, Solution

__all__ = ["Tangent"]


class Tangent:
    """A network at its solution, ready to say how it answers to small changes.

    One-way links that are held shut stay so: what is asked for is the derivative, not what happens beyond a valve's
    tipping point.

    Raises:
        SolveError: where the flows have no single derivative.
        ValueError: where the flows do not satisfy the network within 1e-4 of the largest.

    `heads` (n,) [m] are those of the solution, NaN where nothing fixes them; `at_rest` (m,) [m] is the head that the links
    ask for at their tails without flow; `slip` [m³/s] is how far a Newton step would still move the flows.

    Example: 10 m of head over 100 m of 50 mm pipe. A metre more at the upper end gives 15.4 L/min more: a little over half a tenth, since the loss goes
    with Q^1.8.

    >>> from plumbline.hydraulics.network import make_network
    >>> from plumbline.hydraulics.solver import solve
    >>> net = make_network(
    ...     fixed_head=[10.0, 0.0], tail=[0], head=[1],
    ...     run_link=[0], run_bore=[0.05], run_length=[100.0], run_roughness=[1.5e-6],
    ... )
    >>> solution = solve(net)
    >>> _, more = Tangent(net, solution).answer(np.array([1.0]))
    >>> f"{more[0] * 60000:.1f} L/min"
    '15.4 L/min'

    Reference: implicit differentiation; JCGM 100:2008, 5.1 (from memory).
    """

    def __init__(self, network: Network, solution: Solution) -> None:
        closed = solution.closed
        self.network = network
        self.flows = np.where(closed, 0.0, solution.flows)
        self.open_links = ~closed
        self.heads = solution.heads
        known = self.heads[np.isfinite(self.heads)]
        datum = float(np.mean(known)) if len(known) else 0.0
        low = network.pressed(self.heads[network.head] > network.float_at).above(datum)
        heads = np.nan_to_num(np.where(np.isfinite(low.fixed_head), low.fixed_head, self.heads - datum))
        with np.errstate(all="ignore"):
            laws = build_laws(low)
            found = losses(laws, self.flows)
            asked = needs(laws, heads, self.flows, found)
            nothing = np.zeros(len(self.flows))
            self.at_rest = needs(laws, heads, nothing, losses(laws, nothing)).head + datum
        islands = find_islands(network, self.open_links)
        largest = float(np.max(np.abs(self.flows), initial=0.0))
        head_scale = max(1e-2, float(np.max(np.abs(found.head) * self.open_links, initial=0.0)))
        self._step = _Once(network, self.open_links, islands.unknown, laws.keeps, head_scale, largest or 1.0)
        lacking = np.where(self.open_links, heads[network.tail] - asked.head, 0.0)
        lacking = np.where(network.valves & (self.flows == 0.0), 0.0, lacking)
        self._rest = np.zeros(len(heads))
        mass = np.where(islands.unknown, balance(low, heads, self.flows), 0.0)
        slope = np.maximum(asked.slope, 1e-10 * laws.secant)
        tee = found.tee
        if len(tee):
            tee = tee * np.where(asked.staged, 0.0, 1.0)[network.tee_link][:, :, None]
        try:
            _, d_flow = self._step.step(slope, tee, mass, lacking, asked.feels)
        except SingularStep:
            raise SolveError("how sure the flows are cannot be told: they depend on each other") from None
        self.slip = float(np.max(np.abs(d_flow), initial=0.0))
        if self.slip > 1e-4 * largest + 1e-12:
            raise SolveError(f"how sure the flows are cannot be told: a step moves them by {self.slip * 6e4:.3g} L/min")

    def answer(self, energy: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Give the change of heads and flows per unit of a number p.

        Parameters:
            energy: (m,) derivative by p of what each energy equation lacks, H[tail] − H[head] − loss, at the flows as they
                are: +1 for a link whose tail's fixed head rises, −1 for one whose head's does, −∂loss/∂p for the losses.

        Returns:
            (dH (n,) [m], dQ (m,) [m³/s]) per unit of p; zero at fixed heads, in shut links and in held ones.
        """
        return self._step.again(self._rest, np.where(self.open_links, energy, 0.0))


class _Once(StepSolver):
    """Keeps the inverse of a full matrix: many right-hand sides follow, and it is small."""

    _inverse: FloatArray | None = None

    def _solve(self, right: FloatArray) -> FloatArray:
        if not self._dense:
            return super()._solve(right)
        if self._inverse is None:
            try:
                self._inverse = np.linalg.inv(self._matrix)
            except np.linalg.LinAlgError as error:
                raise SingularStep from error
        return np.asarray(self._inverse @ right)
