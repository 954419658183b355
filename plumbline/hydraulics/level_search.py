"""Levels and flows that depend on each other: which levels are felt, and the next to try."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from ..layout.model import Layout
from .assemble import Assembly
from .flows import Flows
from .network import FloatArray, Solution

__all__ = ["SAME_LEVEL", "LevelSearch", "felt_levels", "raised_levels"]

SAME_LEVEL = 1e-9
"""Levels and flows are found in turn until no level moves by more than this [m]; a few rounds do."""


class LevelSearch:
    """Search for levels x that give themselves back, g(x) = x, by Anderson's method: of the tries so far that combination is
    taken whose differences g(x) − x cancel best, of as many tries as there are levels and one. For one level this is the
    secant method.

    >>> search, x = LevelSearch(), {"bed": 1.0}
    >>> for _ in range(7):
    ...     x = search.next(x, {"bed": 3.0 / x["bed"]})
    >>> round(x["bed"], 9) == round(3.0**0.5, 9)
    True

    Reference: Anderson, J. ACM 12 (1965) 547; Walker and Ni, SIAM J. Numer. Anal. 49 (2011) 1715 (from memory).
    """

    def __init__(self) -> None:
        self.names: tuple[str, ...] = ()
        self.tried: list[FloatArray] = []
        self.missed: list[FloatArray] = []

    def next(self, tried: Mapping[str, float], found: Mapping[str, float]) -> dict[str, float]:
        """Give the levels to try next.

        Parameters:
            tried: levels that were tried [m].
            found: what they gave, by the same names [m]; where these are others than last time, the search begins anew.
        """
        names = tuple(sorted(found))
        if names != self.names:
            self.names, self.tried, self.missed = names, [], []
        x = np.array([tried[name] for name in names])
        miss = np.array([found[name] for name in names]) - x
        self.tried = [*self.tried[-len(names) :], x]
        self.missed = [*self.missed[-len(names) :], miss]
        new = x + miss
        if len(self.tried) > 1:
            moves, changes = np.diff(self.tried, axis=0), np.diff(self.missed, axis=0)
            weights = np.linalg.lstsq(changes.T, miss, rcond=None)[0]
            new = new - (moves + changes).T @ weights
        return dict(zip(names, new.tolist(), strict=True))


def felt_levels(layout: Layout, assembly: Assembly) -> set[str]:
    """Vessels with a standpipe whose level something else feels: a pump in them, or a pipe end under their water."""
    felt = {pump.vessel for pump in layout.pumps.values()}
    felt |= {
        end.name for line in layout.lines.values() for end in (line.start, line.end) if end.submerged
    }  # fmt: skip
    felt |= {part.vessel for line in layout.lines.values() for part in line.parts}
    return {name for name in felt if name is not None and name in assembly.roles.spills}


def raised_levels(layout: Layout, assembly: Assembly, solution: Solution, flows: Flows) -> Iterator[tuple[str, float]]:
    """Vessels whose drains need a higher level than full pipe under it would, while water that comes in under their water
    feels that level; and the level."""
    felt = {part.vessel for line in layout.lines.values() for part in line.parts}
    felt |= {
        end.name
        for name, line in layout.lines.items()
        for end, side, sign in ((line.start, "from", -1.0), (line.end, "to", 1.0))
        if end.submerged and sign * flows.ends[f"{name}.{side}"].flow > 0.0
    }
    for name in assembly.roles.finds_level & felt:
        level = flows.vessels[name].level
        if level is not None and level > float(solution.heads[assembly.vessels[name][0]]) + SAME_LEVEL:
            yield name, level
