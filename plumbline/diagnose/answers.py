"""What each cause makes of every reading, by its amount: solved at some amounts, and interpolated in between."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from ..errors import SolveError
from ..hydraulics.find import Settled, nearby
from ..hydraulics.flows import Flows
from ..hydraulics.network import FloatArray
from ..layout.model import Layout
from .causes import Cause, ladder
from .places import Place, Spread, predicted, spread

__all__ = ["Answers", "CauseSolver"]

SILENT = 0.25
"""A cause that moves no reading by this many standard deviations, however bad, is not looked at closer."""


@dataclass(frozen=True)
class Answers:
    """One cause's readings. `at` (n,) [-] are the solved amounts as places on its ladder, rising; `amounts` (n,) themselves; `values`
    (n, k) [SI] at k places, and `moves` (n, k, p) for one standard deviation of each of p uncertain numbers."""

    cause: Cause
    at: FloatArray
    amounts: FloatArray
    values: FloatArray
    moves: FloatArray

    def value(self, at: FloatArray, rows: Sequence[int]) -> FloatArray:
        """The readings at some places on the ladder, (len(at), rows)."""
        return self._between(self.values[:, list(rows)], at)

    def move(self, at: FloatArray, rows: Sequence[int]) -> FloatArray:
        """Their moves, (len(at), rows, p)."""
        return self._between(self.moves[:, list(rows)], at)

    def amount(self, at: float) -> float:
        """The amount at a place on the ladder."""
        return float(self._between(self.amounts[:, None], np.array([at]))[0, 0])

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

    def __post_init__(self) -> None:
        try:
            self.usual = spread(self.layout, self.near.flows, self.places)
        except SolveError:
            self.usual = Spread((), np.zeros((len(self.places), 0)))
        self.values = self.seen(self.layout, self.near.flows)
        self.still = np.sqrt(self.sigma**2 + np.sum(self.usual.moves**2, axis=1))

    def seen(self, layout: Layout, flows: Flows) -> FloatArray:
        """The readings that some flows make."""
        return predicted(layout, flows, self.places, self.layout, self.near.flows)

    def all(self, causes: Sequence[Cause]) -> list[Answers]:
        """Solve every cause; one that has no steady flow at any of its amounts is left out."""
        found = []
        for number, cause in enumerate(causes):
            found += [one for one in [self.answers(cause)] if one is not None]
            if self.tell is not None:
                self.tell(number + 1, len(causes))
        return found

    def answers(self, cause: Cause) -> Answers | None:
        """One cause at the amounts of its ladder; at every other one where it tells nothing."""
        if cause.kind == "as written":
            return Answers(cause, np.zeros(1), np.zeros(1), self.values[None], self.usual.moves[None])
        steps = dict(enumerate(ladder(cause)))
        rows = _Rows(self, cause, {})
        for at in list(steps)[::2]:  # from mild to bad, each from the one before it
            rows.add(at, steps[at])
        if not self.silent(rows):
            for at in list(steps)[1::2]:
                rows.add(at, steps[at])
        return rows.answers()

    def silent(self, rows: _Rows) -> bool:
        """Whether no reading moves, however bad it is."""
        moved = [np.abs(row.values - self.values)[: self.read] for row in rows.found.values()]
        return all(bool(np.all(one < SILENT * self.still[: self.read])) for one in moved)

    def closer(self, answers: Answers, at: float) -> Answers:
        """The same with one more amount solved, unless it is next to one that is."""
        if len(answers.at) < 3 or float(np.min(np.abs(answers.at - at))) < 0.05:
            return answers
        rows = _Rows(self, answers.cause, {})
        rows.add(at, answers.amount(at))
        more = rows.answers()
        if more is None:
            return answers
        order = np.argsort(np.append(answers.at, more.at))

        def joined(one: FloatArray, other: FloatArray) -> FloatArray:
            return np.asarray(np.concatenate([one, other])[order])

        return replace(answers, at=joined(answers.at, more.at), amounts=joined(answers.amounts, more.amounts),
                       values=joined(answers.values, more.values), moves=joined(answers.moves, more.moves))  # fmt: skip


@dataclass(frozen=True)
class _Row:
    amount: float
    values: FloatArray
    moves: FloatArray
    state: Settled


@dataclass(frozen=True)
class _Rows:
    """The amounts of a cause that are solved, by place on its ladder; each begins from the nearest one."""

    solver: CauseSolver
    cause: Cause
    found: dict[float, _Row]

    def add(self, at: float, amount: float) -> None:
        """Solve one more; one without steady flow is left out."""
        solver, cause = self.solver, self.cause
        near = min(self.found, key=lambda other: abs(other - at), default=None)
        start = None if near is None else self.found[near].state
        try:
            changed = cause.changed(amount)
            leaks = {cause.leak: amount} if cause.leak else None
            state = nearby(changed, solver.near, solver.layout, start=start, leaks=leaks)
        except SolveError:
            return
        try:
            moves = spread(changed, state.flows, solver.places, solver.usual.names).moves
        except (SolveError, ValueError):
            moves = solver.usual.moves
        values = solver.seen(changed, state.flows)
        if np.all(np.isfinite(values[: solver.read])):
            self.found[at] = _Row(amount, np.where(np.isfinite(values), values, solver.values), moves, state)

    def answers(self) -> Answers | None:
        """What was found, if anything was."""
        if not self.found:
            return None
        rows = [self.found[at] for at in sorted(self.found)]
        return Answers(self.cause, np.array(sorted(self.found), dtype=float), np.array([row.amount for row in rows]),
                       np.array([row.values for row in rows]), np.array([row.moves for row in rows]))  # fmt: skip
