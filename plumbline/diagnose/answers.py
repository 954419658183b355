"""What each cause makes of every reading, by its amount: solved at some amounts, and interpolated in between."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import count, pairwise, product

import numpy as np

from ..errors import SolveError
from ..hydraulics.find import Settled, nearby
from ..hydraulics.flows import Flows
from ..hydraulics.monotone import interpolated
from ..hydraulics.network import FloatArray
from ..hydraulics.together import side_by_side
from ..layout.model import Layout
from .causes import Cause
from .faulty import with_curve
from .places import Place, Spread, predicted, spread

__all__ = ["Answers", "CauseSolver"]

SILENT = 0.25
"""What moves no reading by this many standard deviations, a cause however bad or a curve, is not looked at closer."""

BORNE = 0.5
"""So far may an interpolated reading be out [standard deviations of the reading] before one more amount is solved beside it: it
blurs what is read by no more than an eighth, √(1 + ¼)."""

HALVINGS = 4
"""So often is a piece of the range halved at the most."""

SPLIT = 0.5
"""The share of the variance of a pump's curve that its branches stand for; the rest is in each branch, so that they overlap."""

LEAST_CURVE = 0.05
"""A pump gives no less of its curve than this, however little is known of it."""

NEXT = 0.01
"""An amount nearer than this, as a share of the range, to one that is solved is not solved again."""


@dataclass(frozen=True)
class Branch:
    """Pump curves that are out by so much, and what the readings then are: their `weight`; the `shift` (k,) [SI] of the readings beside those of the
    curves as written, and the `excess` (k, p) of their moves."""

    weight: float
    shift: FloatArray
    excess: FloatArray


@dataclass(frozen=True)
class Branches:
    """What curves that are out by more than a little do: a pump may lift no more, or a siphon let go, and no slope tells of that. A normal number
    is shared among one branch as written and two for each number that is felt, solved by themselves, and `within` (p,) is how much of a
    standard deviation of each number is left in each branch.

    Reference: Alspach and Sorenson, "Nonlinear Bayesian estimation using Gaussian sum approximations", IEEE Transactions on Automatic
    Control 17 (1972); the places of the branches as of Julier and Uhlmann's sigma points (1997). Both from memory.
    """

    within: FloatArray
    some: tuple[Branch, ...]


@dataclass(frozen=True)
class Answers:
    """One cause's readings. `at` (n,) [-] are the solved amounts as places in the range of its amounts, rising from 0, mild, to 1, bad;
    `values` (n, k) [SI] at k places, and `moves` (n, k, p) for one standard deviation of each of p uncertain numbers. `able` is the share
    of its range at which there is a steady flow at all."""

    cause: Cause
    at: FloatArray
    values: FloatArray
    moves: FloatArray
    branches: Branches
    able: float = 1.0

    def with_more(self, other: Answers) -> Answers:
        """The same with what was solved for another's amounts."""
        order = np.argsort(np.append(self.at, other.at))
        at, values, moves = (
            np.asarray(np.concatenate([getattr(one, name) for one in (self, other)])[order])
            for name in ("at", "values", "moves")
        )
        return replace(self, at=at, values=values, moves=moves)

    def value(self, at: FloatArray, rows: Sequence[int]) -> FloatArray:
        """The readings at some places of the range, (len(at), rows)."""
        return interpolated(self.at, self.values[:, list(rows)], at)

    def move(self, at: FloatArray, rows: Sequence[int]) -> FloatArray:
        """Their moves, (len(at), rows, p)."""
        return interpolated(self.at, self.moves[:, list(rows)], at)

    def parts(self, at: FloatArray, rows: Sequence[int]) -> Iterator[tuple[float, FloatArray, FloatArray]]:
        """The weight, the readings and their moves in each branch."""
        values, moves = self.value(at, rows), self.move(at, rows)
        for one in self.branches.some:
            yield one.weight, values + one.shift[list(rows)], (moves + one.excess[list(rows)]) * self.branches.within


@dataclass
class CauseSolver:
    """Solves causes of one layout: `layout` as found, `near` its settled flows, at `places` of which the first `read` are those of the
    readings, with `sigma` (k,) [SI] of the readings alone. `tell` is called with how many causes are done, and of how many.

    Causes are solved side by side: each has its amounts one after the other, and what all ask of the solver meanwhile is one solve."""

    layout: Layout
    near: Settled
    places: tuple[Place, ...]
    read: int
    sigma: FloatArray
    tell: Callable[[int, int], None] | None = None
    usual: Spread = field(init=False)
    branches: Branches = field(init=False)

    def __post_init__(self) -> None:
        try:
            self.usual = spread(self.layout, self.near.flows, self.places)
        except SolveError:
            self.usual = Spread((), np.zeros((len(self.places), 0)), {})
        self.values = self.seen(self.layout, self.near.flows)
        self.still = np.sqrt(self.sigma**2 + np.sum(self.usual.moves**2, axis=1))
        self.branches = self.branched(self.layout, None, _Row(self.values, self.usual.moves, self.near))

    def seen(self, layout: Layout, flows: Flows) -> FloatArray:
        """The readings that some flows make."""
        return predicted(layout, flows, self.places, self.layout, self.near.flows)

    def far(self, one: FloatArray, other: FloatArray) -> float:
        """How far apart two sets of values are where they were read, in standard deviations."""
        return float(np.max(np.abs(one - other)[: self.read] / self.still[: self.read]))

    def felt(self, moves: FloatArray) -> bool:
        """Whether moves (k,) of the readings are more than what is taken for none."""
        return bool(np.any(np.abs(moves[: self.read]) > SILENT * self.still[: self.read]))

    def all(self, causes: Sequence[Cause]) -> list[Answers]:
        """Solve every cause; one that has no steady flow at any of its amounts is left out."""
        done = count(1)

        def answers(cause: Cause) -> Answers | None:
            found = self.answers(cause)
            if self.tell is not None:
                self.tell(next(done), len(causes))
            return found

        return [one for one in side_by_side([partial(answers, cause) for cause in causes]) if one is not None]

    def answers(self, cause: Cause) -> Answers | None:
        """One cause at a few amounts; at those between where it tells anything, and closer where the readings bend."""
        if cause.kind == "as written":
            return Answers(cause, np.zeros(1), self.values[None], self.usual.moves[None], self.branches)
        rows = _Rows(self, cause, {})
        rough = cause.rough
        for at in rough:  # from mild to bad, each from the one before it
            rows.add(at)
        if any(row is None or self.far(row.values, self.values) > SILENT for row in rows.tried.values()):
            for low, high in pairwise(rough):
                rows.halve(low, high)
        return rows.answers()

    def closer(self, answers: Answers, at: float) -> Answers:
        """The same with one more amount solved, and the branches about it, unless it is next to one that is and they are known."""
        known = float(np.min(np.abs(answers.at - at))) < NEXT
        if len(answers.at) < 3 or (known and answers.branches is not self.branches):
            return answers
        rows = _Rows(self, answers.cause, {})
        rows.add(at)
        more, row = rows.answers(), rows.tried[at]
        if more is None or row is None:
            return answers
        if answers.branches is self.branches:  # till now those of the file as written
            cause = answers.cause
            answers = replace(answers, branches=self.branched(cause.changed(cause.amount(at)), cause.leaks(at), row))
        return answers if known else answers.with_more(more)

    def branched(self, layout: Layout, leaks: Mapping[str, float] | None, row: _Row) -> Branches:
        """The branches about a solved layout. One in which there is no steady flow is left out with its weight, as is an amount at which there
        is none: a pump that runs dry is heard, with its curve as written or another."""
        felt = [
            (pump, what, name)
            for pump, what in product(layout.pumps, ("flow", "head"))
            for name in [f"the curve of pump '{pump}', its {what}"]
            if name in self.usual.names and self.felt(row.moves[:, self.usual.names.index(name)])
        ]
        spread_over = max(3.0, len(felt) + 1.0)
        within = np.ones(len(self.usual.names))
        some = [Branch(1.0 - len(felt) / spread_over, np.zeros(len(row.values)), np.zeros(row.moves.shape))]
        for pump, what, name in felt:
            within[self.usual.names.index(name)] = math.sqrt(1.0 - SPLIT)
            far = math.sqrt(SPLIT * spread_over) * self.usual.sigmas[name]
            for by in (1.0 + far, max(1.0 - far, LEAST_CURVE)):
                changed = with_curve(layout, pump, **{"flow": 1.0, "head": 1.0, what: by})
                other = self.solved(changed, leaks, row.state)
                if other is not None:
                    some.append(Branch(0.5 / spread_over, other.values - row.values, other.moves - row.moves))
        return Branches(within, tuple(some))

    def solved(self, layout: Layout, leaks: Mapping[str, float] | None, start: Settled | None) -> _Row | None:
        """The readings of a layout near that as found, and their moves; None where it has no steady flow."""
        try:
            state = nearby(layout, self.near, self.layout, start=start, leaks=leaks)
        except SolveError:
            return None
        try:
            moves = spread(layout, state.flows, self.places, self.usual.names).moves
        except SolveError:  # no single derivative: as one-way valves just tip
            moves = self.usual.moves
        values = self.seen(layout, state.flows)
        if not np.all(np.isfinite(values[: self.read])):
            return None
        return _Row(np.where(np.isfinite(values), values, self.values), moves, state)


@dataclass(frozen=True)
class _Row:
    values: FloatArray
    moves: FloatArray
    state: Settled


@dataclass(frozen=True)
class _Rows:
    """The amounts of a cause that were tried, by place in its range, None where there is no steady flow; each begins from the nearest."""

    solver: CauseSolver
    cause: Cause
    tried: dict[float, _Row | None]

    @property
    def solved(self) -> dict[float, _Row]:
        """Those that have flows, from mild to bad."""
        return {at: row for at, row in sorted(self.tried.items()) if row is not None}

    def add(self, at: float) -> None:
        self.tried[at] = self.row(at)

    def row(self, at: float) -> _Row | None:
        """One amount, solved; None where it has no steady flow."""
        cause = self.cause
        near = min(self.solved, key=lambda other: abs(other - at), default=None)
        try:
            changed = cause.changed(cause.amount(at))
        except SolveError:
            return None
        return self.solver.solved(changed, cause.leaks(at), None if near is None else self.solved[near].state)

    def halve(self, low: float, high: float, times: int = HALVINGS) -> None:
        """Solve halfway between two, and again in each half while what was interpolated there is off by more than is borne, or the flows end
        there: next to where a pump runs dry readings bend most."""
        ends = self.tried[low], self.tried[high]
        if ends == (None, None):
            return
        middle, before = 0.5 * (low + high), self.answers()
        self.add(middle)
        row = self.tried[middle]
        if times == 1 or before is None:
            return
        if row is None or None in ends or self.off(before, middle, row):
            self.halve(low, middle, times - 1)
            self.halve(middle, high, times - 1)

    def off(self, before: Answers, at: float, row: _Row) -> bool:
        """Whether what was interpolated at a place is off by more than is borne."""
        return self.solver.far(row.values, before.value(np.array([at]), range(len(row.values)))[0]) > BORNE

    def answers(self) -> Answers | None:
        """What was found, if anything was. The flows are taken to end halfway between the last amount that has some and the next."""
        solved = self.solved
        if not solved:
            return None
        places = sorted(self.tried)
        halves = [0.5 * (high - low) for low, high in pairwise(places)]
        reach = [sum(pair) for pair in zip([0.0, *halves], [*halves, 0.0], strict=True)]
        able = sum(size for at, size in zip(places, reach, strict=True) if at in solved)
        return Answers(
            self.cause,
            np.array(list(solved)),
            np.array([row.values for row in solved.values()]),
            np.array([row.moves for row in solved.values()]),
            self.solver.branches,
            able if len(places) > 1 else 1.0,
        )
