"""Mixed-integer programs: put together row by row, solved by HiGHS to a gap of zero."""

from __future__ import annotations

import ctypes
import math
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from .deadline import in_time, seconds_left

__all__ = ["Program", "Solved"]


@dataclass(frozen=True)
class Solved:
    """The unknowns found, None where there are none; a `bound` that no cost is below, which is the least cost itself where that is `proven`."""

    unknowns: np.ndarray | None
    bound: float
    proven: bool

    def chosen(self, count: int) -> frozenset[int]:
        """The numbers of those of the first `count` unknowns that are not nought, of unknowns up to 1."""
        return (
            frozenset() if self.unknowns is None else frozenset(map(int, np.flatnonzero(self.unknowns[:count] > 0.5)))
        )


class Program:
    """Σ cost·x as little as can be, with Σ value·x ≥ need in every row; each x is whole, unless it is a `part`, and from 0 to `most`.

    >>> program = Program(2)
    >>> program.add({0: 1.0, 1: 1.0}, 1.0)
    >>> program.solve([3.0, 2.0]).chosen(2)
    frozenset({1})
    """

    def __init__(self, count: int = 0, *, most: float = 1.0) -> None:
        self.count, self.most = count, most
        self.parts: set[int] = set()
        self.least: dict[int, float] = {}
        self.needs: list[float] = []
        self.entries: list[tuple[int, int, float]] = []

    def new(self, *, part: bool = False) -> int:
        """One more unknown; `part` where it need not be whole."""
        self.count += 1
        if part:
            self.parts.add(self.count - 1)
        return self.count - 1

    def add(self, factors: Mapping[int, float], need: float) -> None:
        """One more row."""
        self.entries += [(len(self.needs), column, value) for column, value in factors.items()]
        self.needs.append(need)

    def solve(self, costs: Sequence[float], *, seconds: float | None = None, stubborn: bool = False) -> Solved:
        """Solve it, unknowns without a cost costing nothing, in some seconds at most, and by the time that is set round it, or `TimeUp`. Where the solver finds
        nothing, a `stubborn` one is let go on without its own simplification of the problem, over which it may trip."""
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import coo_array

        in_time()
        most = min(math.inf if seconds is None else seconds, max(seconds_left(), 0.0))
        rules = []
        if self.needs:
            # A need that nothing can give has no entry.
            rows, columns, values = zip(*self.entries, strict=True) if self.entries else ((), (), ())
            # Older solvers take no wider index than this.
            spots = (np.array(rows, dtype=np.int32), np.array(columns, dtype=np.int32))
            matrix = coo_array((values, spots), shape=(len(self.needs), self.count)).tocsr()
            rules = [LinearConstraint(matrix, np.asarray(self.needs), np.inf)]
        weights = np.concatenate([np.asarray(costs, float), np.zeros(self.count - len(costs))])
        lower, whole = np.zeros(self.count), np.ones(self.count, dtype=np.int8)
        lower[list(self.least)], whole[list(self.parts)] = list(self.least.values()), 0
        for presolve in (True, False) if stubborn else (True,):
            options: Any = {"mip_rel_gap": 0.0, "presolve": presolve} | (
                {"time_limit": most} if most < math.inf else {}
            )
            bounds = Bounds(lower, self.most)
            with _silent():
                found = milp(weights, constraints=rules, integrality=whole, bounds=bounds, options=options)
            in_time()
            if found.x is not None:
                break
        bound = getattr(found, "mip_dual_bound", None)
        return Solved(found.x, float(bound) if bound is not None and np.isfinite(bound) else 0.0, bool(found.success))


@contextmanager
def _silent() -> Iterator[None]:
    """Keep what the solver writes past Python from standard output, which may be another program's: it has no option for all of it."""
    try:
        kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    except OSError:  # there is no standard output
        yield
        return
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        with suppress(OSError, AttributeError, TypeError):
            ctypes.CDLL(None).fflush(None)
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
