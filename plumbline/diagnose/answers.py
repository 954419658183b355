"""What each cause makes of every reading, by its amount: solved at some amounts, and interpolated in between."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise, product

import numpy as np
from scipy.interpolate import PchipInterpolator

from ..errors import SolveError
from ..hydraulics.find import Settled, nearby
from ..hydraulics.flows import Flows
from ..hydraulics.network import FloatArray
from ..layout.model import Layout
from .causes import Cause, with_curve
from .places import Place, Spread, predicted, spread

__all__ = ["Answers", "CauseSolver"]

SILENT = 0.25
"""A cause that moves no reading by this many standard deviations, however bad, is not looked at closer."""

BORNE = 0.5
"""So far may an interpolated reading be out [standard deviations of the reading] before one more amount is solved beside it: it
blurs what is read by no more than an eighth, √(1 + ¼)."""

HALVINGS = 4
"""So often is a piece of the range halved at the most."""

WIDE = math.sqrt(3.0)
"""Standard deviations at which a pump's curve is tried, to either side: with these a mean and a variance are right to the fourth power."""

LEAST_CURVE = 0.05
"""A pump gives no less of its curve than this, however little is known of it."""

NEXT = 0.01
"""An amount nearer than this, as a share of the range, to one that is solved is not solved again."""


@dataclass(frozen=True)
class Bend:
    """What pump curves that are out by more than a little do to readings besides their moves: those bend. A number z, normal, moves a
    reading by s z + c z², so that its mean is shifted by c and a variance 2 c² comes to it. `shift` (k,) [SI] of all the numbers; `excess`
    (k, p) of the secant s over the derivative, by number; `curved` (k, m) the √2 c of each of the m numbers of the curves.

    Reference: JCGM 100:2008, 5.1.2, note, the terms of next higher order (from memory); here from two solutions at ±√3 standard deviations.
    """

    shift: FloatArray
    excess: FloatArray
    curved: FloatArray


@dataclass(frozen=True)
class Answers:
    """One cause's readings. `at` (n,) [-] are the solved amounts as places in the range of its amounts, rising from 0, mild, to 1, bad;
    `values` (n, k) [SI] at k places, and `moves` (n, k, p) for one standard deviation of each of p uncertain numbers. `able` is the share
    of its range at which there is a steady flow at all."""

    cause: Cause
    at: FloatArray
    values: FloatArray
    moves: FloatArray
    able: float = 1.0
    bend: Bend | None = None

    def value(self, at: FloatArray, rows: Sequence[int]) -> FloatArray:
        """The readings at some places of the range, (len(at), rows)."""
        values = self._between(self.values[:, list(rows)], at)
        return values if self.bend is None else values + self.bend.shift[list(rows)]

    def move(self, at: FloatArray, rows: Sequence[int]) -> FloatArray:
        """Their moves, (len(at), rows, p)."""
        moves = self._between(self.moves[:, list(rows)], at)
        if self.bend is None:
            return moves
        curved = np.broadcast_to(self.bend.curved[list(rows)], (len(at), len(rows), self.bend.curved.shape[1]))
        return np.concatenate([moves + self.bend.excess[list(rows)], curved], axis=2)

    def _between(self, known: FloatArray, at: FloatArray) -> FloatArray:
        if len(self.at) == 1:
            return np.repeat(known, len(at), axis=0)
        if len(self.at) == 2:
            share = ((at - self.at[0]) / (self.at[1] - self.at[0])).reshape(-1, *[1] * (known.ndim - 1))
            return np.asarray(known[0] + share * (known[1] - known[0]))
        return np.asarray(PchipInterpolator(self.at, known, axis=0)(at))


@dataclass
class CauseSolver:
    """Solves causes of one layout: `layout` as found, `near` its settled flows, at `places` of which the first `read` are those of the
    readings, with `sigma` (k,) [SI] of the readings alone. `tell` is called with how many causes are done, and of how many."""

    layout: Layout
    near: Settled
    places: tuple[Place, ...]
    read: int
    sigma: FloatArray
    tell: Callable[[int, int], None] | None = None
    usual: Spread = field(init=False)
    bend: Bend | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        try:
            self.usual = spread(self.layout, self.near.flows, self.places)
        except SolveError:
            self.usual = Spread((), np.zeros((len(self.places), 0)), {})
        self.values = self.seen(self.layout, self.near.flows)
        self.still = np.sqrt(self.sigma**2 + np.sum(self.usual.moves**2, axis=1))
        self.bend = self.bent(self.layout, None, _Row(self.values, self.usual.moves, self.near))

    def seen(self, layout: Layout, flows: Flows) -> FloatArray:
        """The readings that some flows make."""
        return predicted(layout, flows, self.places, self.layout, self.near.flows)

    def far(self, one: FloatArray, other: FloatArray) -> float:
        """How far apart two sets of values are where they were read, in standard deviations."""
        return float(np.max(np.abs(one - other)[: self.read] / self.still[: self.read]))

    def all(self, causes: Sequence[Cause]) -> list[Answers]:
        """Solve every cause; one that has no steady flow at any of its amounts is left out."""
        found = []
        for number, cause in enumerate(causes):
            found += [one for one in [self.answers(cause)] if one is not None]
            if self.tell is not None:
                self.tell(number + 1, len(causes))
        return found

    def answers(self, cause: Cause) -> Answers | None:
        """One cause at a few amounts; at those between where it tells anything, and closer where the readings bend."""
        if cause.kind == "as written":
            return Answers(cause, np.zeros(1), self.values[None], self.usual.moves[None], bend=self.bend)
        rows = _Rows(self, cause, {})
        rough = cause.rough
        for at in rough:  # from mild to bad, each from the one before it
            rows.add(at)
        if any(self.far(row.values, self.values) > SILENT for row in rows.solved.values()):
            for low, high in pairwise(rough):
                rows.halve(low, high)
        return rows.answers()

    def closer(self, answers: Answers, at: float) -> Answers:
        """The same with one more amount solved, unless it is next to one that is."""
        if len(answers.at) < 3 or float(np.min(np.abs(answers.at - at))) < NEXT:
            return answers
        rows = _Rows(self, answers.cause, {})
        rows.add(at)
        more, row = rows.answers(), rows.tried[at]
        if more is None or row is None:
            return answers
        order = np.argsort(np.append(answers.at, more.at))
        at_, values, moves = (
            np.asarray(np.concatenate([getattr(answers, name), getattr(more, name)])[order])
            for name in ("at", "values", "moves")
        )
        cause = answers.cause
        bend = answers.bend
        if bend is self.bend:  # till now that of the file as written
            bend = self.bent(cause.changed(cause.amount(at)), cause.leaks(at), row)
        return replace(answers, at=at_, values=values, moves=moves, bend=bend)

    def bent(self, layout: Layout, leaks: Mapping[str, float] | None, row: _Row) -> Bend:
        """How the readings bend with the pumps' curves about a solved layout."""
        names = self.usual.names
        excess, curved = np.zeros(self.usual.moves.shape), []
        for pump, what in product(layout.pumps, ("flow", "head")):
            name = f"the curve of pump '{pump}', its {what}"
            if name not in names or not np.any(row.moves[: self.read, names.index(name)]):
                continue
            far = WIDE * self.usual.sigmas[name]
            ends = []
            for by in (1.0 + far, max(1.0 - far, LEAST_CURVE)):
                changed = with_curve(layout, pump, **{"flow": 1.0, "head": 1.0, what: by})
                ends.append(self.moved(changed, leaks, row))
            up, down = ends
            up, down = (
                (-down if up is None and down is not None else up),
                (-up if down is None and up is not None else down),
            )
            if up is None or down is None:
                continue
            excess[:, names.index(name)] = 0.5 * (up - down) / WIDE - row.moves[:, names.index(name)]
            curved.append(0.5 * (up + down) / WIDE**2)
        bends = np.array(curved).reshape(len(curved), len(self.places)).T
        return Bend(np.sum(bends, axis=1), excess, math.sqrt(2.0) * bends)

    def moved(self, layout: Layout, leaks: Mapping[str, float] | None, row: _Row) -> FloatArray | None:
        """How far the values of another layout, near a solved one, are from that one's; None where it has no steady flow."""
        try:
            values = self.seen(layout, nearby(layout, self.near, self.layout, start=row.state, leaks=leaks).flows)
        except SolveError:
            return None
        return np.where(np.isfinite(values), values - row.values, 0.0)


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
        solver, cause = self.solver, self.cause
        near = min(self.solved, key=lambda other: abs(other - at), default=None)
        start = None if near is None else self.solved[near].state
        try:
            changed = cause.changed(cause.amount(at))
            state = nearby(changed, solver.near, solver.layout, start=start, leaks=cause.leaks(at))
        except SolveError:
            return None
        try:
            moves = spread(changed, state.flows, solver.places, solver.usual.names).moves
        except (SolveError, ValueError):
            moves = solver.usual.moves
        values = solver.seen(changed, state.flows)
        if not np.all(np.isfinite(values[: solver.read])):
            return None
        return _Row(np.where(np.isfinite(values), values, solver.values), moves, state)

    def halve(self, low: float, high: float, times: int = HALVINGS) -> None:
        """Solve halfway between two, and again in each half while what was interpolated there is off by more than is borne."""
        if self.tried[low] is None and self.tried[high] is None:
            return
        middle, before = 0.5 * (low + high), self.answers()
        self.add(middle)
        row = self.tried[middle]
        if row is None or before is None or None in (self.tried[low], self.tried[high]) or times == 1:
            return
        if self.solver.far(row.values, before.value(np.array([middle]), range(len(row.values)))[0]) > BORNE:
            self.halve(low, middle, times - 1)
            self.halve(middle, high, times - 1)

    def answers(self) -> Answers | None:
        """What was found, if anything was. The flows are taken to end halfway between the last amount that has some and the next."""
        solved = self.solved
        if not solved:
            return None
        places = sorted(self.tried)
        halves = [0.5 * (high - low) for low, high in pairwise(places)]
        reach = [sum(pair) for pair in zip([0.0, *halves], [*halves, 0.0], strict=True)]
        able = sum(size for at, size in zip(places, reach, strict=True) if at in solved)
        return Answers(self.cause, np.array(list(solved)), np.array([row.values for row in solved.values()]),
                       np.array([row.moves for row in solved.values()]), able if len(places) > 1 else 1.0, self.solver.bend)  # fmt: skip
