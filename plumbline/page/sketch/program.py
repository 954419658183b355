"""A linear program that is written down a wish at a time."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np

from ...errors import PlumblineError

__all__ = ["Program"]

_EASY, _HARD = 1.0, 3.0
"""What it costs to change a length by its own size: by up to a half, and beyond. The corner in between spreads a change
over many lengths where one would have to bear all of it."""


class Program:
    """Numbers to be found, by name, and what is asked of sums of them (name to factor): some of it at a cost, some always."""

    def __init__(self) -> None:
        self.columns: dict[Hashable, int] = {}
        self.costs: list[float] = []
        self.bounds: list[tuple[float | None, float | None]] = []
        self.equal: list[tuple[dict[int, float], float]] = []
        self.less: list[tuple[dict[int, float], float]] = []

    def number(self, name: Hashable) -> int:
        """The column of a number, which may take any value."""
        if name not in self.columns:
            self.columns[name] = self._column(0.0, None, None)
        return self.columns[name]

    def near(self, sum_of: Mapping[Hashable, float], target: float, least: float, *, weight: float = 1.0) -> None:
        """A length that is to be near a target, and is never below `least`."""
        target = max(target, least)
        dear = weight / max(target, 1e-3)
        self._towards(self._row(sum_of), target, (_EASY * dear, 0.5 * target), (_HARD * dear, None))
        self.at_least(sum_of, least)

    def pull(self, sum_of: Mapping[Hashable, float], target: float, *, free: float, cost: float) -> None:
        """A sum that is to be within `free` of a target; every length beyond costs."""
        row = self._row(sum_of)
        row[self._column(0.0, -free, free)] = -1.0
        self._towards(row, target, (cost, None))

    def above(self, sum_of: Mapping[Hashable, float], least: float, *, cost: float) -> None:
        """A sum that is not to be below `least`; what is wanting costs."""
        self.at_least(sum_of, least)
        self.less[-1][0][self._column(cost, 0.0, None)] = -1.0

    def at_least(self, sum_of: Mapping[Hashable, float], least: float) -> None:
        """A sum that is never below `least`."""
        self.less.append(({column: -value for column, value in self._row(sum_of).items()}, -least))

    def solve(self) -> dict[Hashable, float]:
        """Find the numbers.

        Raises:
            PlumblineError: where what is always asked cannot be.
        """
        from scipy.optimize import linprog

        if not self.columns:
            return {}
        found = linprog(
            self.costs, *self._matrix(self.less), *self._matrix(self.equal), bounds=self.bounds, method="highs"
        )
        if found.status != 0 or found.x is None:
            raise PlumblineError("The sketch cannot be drawn: its walks do not close.")
        return {name: float(found.x[column]) for name, column in self.columns.items()}

    def _towards(self, row: dict[int, float], target: float, *slopes: tuple[float, float | None]) -> None:
        """A row that is to be its target; to either side it may be out by so much at each cost."""
        for sign in (1.0, -1.0):
            for cost, most in slopes:
                row[self._column(cost, 0.0, most)] = -sign
        self.equal.append((row, target))

    def _column(self, cost: float, low: float | None, high: float | None) -> int:
        self.costs.append(cost)
        self.bounds.append((low, high))
        return len(self.costs) - 1

    def _row(self, sum_of: Mapping[Hashable, float]) -> dict[int, float]:
        return {self.number(name): value for name, value in sum_of.items()}

    def _matrix(self, rows: list[tuple[dict[int, float], float]]) -> tuple[Any, list[float] | None]:
        from scipy.sparse import csr_array

        if not rows:
            return None, None
        i, j, values = zip(*((i, j, value) for i, (row, _) in enumerate(rows) for j, value in row.items()), strict=True)
        places = (np.array(i, dtype=np.int32), np.array(j, dtype=np.int32))
        return csr_array((np.array(values), places), shape=(len(rows), len(self.costs))), [limit for _, limit in rows]
