"""Cutting patterns: generated as columns of a linear programme, or all of them; and the integer programme that covers what is wanted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from time import perf_counter

import numpy as np

from ..programs import Program

__all__ = ["all_patterns", "by_columns", "cover", "most_worth"]

Pattern = tuple[int, ...]
"""How many of each kind of piece one stock length gives."""

SCALE = 10**6
"""Prices are rounded down to whole millionths, so that the bound that they prove is exact."""


def most_worth(kinds: Sequence[int], wants: Sequence[int], room: int, worth: Sequence[int]) -> tuple[int, Pattern]:
    """Find the pattern that is worth most, no kind oftener than wanted: a bounded knapsack, by its table, exactly, in whole numbers.

    >>> most_worth([5, 4, 3], [1, 2, 2], 10, [6, 5, 3])
    (11, (1, 1, 0))

    Reference:
        Bellman's recursion, with each count split into powers of two; Martello and Toth, Knapsack Problems (1990), ch. 3 (from memory).
    """
    table = np.zeros(room + 1, dtype=np.int64)
    steps: list[tuple[int, int, np.ndarray]] = []
    for k, (size, most, value) in enumerate(zip(kinds, wants, worth, strict=True)):
        left, share = min(most, room // size), 1
        while left > 0 and value > 0:
            take = min(share, left)
            weight = take * size
            taken = np.zeros(room + 1, dtype=bool)
            if weight <= room:
                gain = table[: room + 1 - weight] + take * value
                taken[weight:] = gain > table[weight:]
                table[weight:] = np.where(taken[weight:], gain, table[weight:])
            steps.append((k, take, taken))
            left -= take
            share *= 2
    counts, here = [0] * len(kinds), room
    for k, take, taken in reversed(steps):
        if taken[here]:
            counts[k] += take
            here -= take * kinds[k]
    return int(table[room]), tuple(counts)


def by_columns(
    kinds: Sequence[int], wants: Sequence[int], room: int, start: Sequence[Pattern], seconds: float
) -> tuple[list[Pattern], int]:
    """Generate cutting patterns as they are worth having, and bound the number of stock lengths from below.

    min Σ x_p, A x ≥ wants, over the patterns so far; its prices π ask the knapsack for the pattern that is worth most. With v that
    worth, π/v is feasible in the dual of the programme over all patterns, so Σ wants·π / v, rounded up, is a bound (Farley).

    Returns:
        The patterns, and the bound, from whole numbers only.
    """
    from scipy.optimize import linprog

    columns = list(dict.fromkeys([*start, *(_alone(k, kinds, wants, room) for k in range(len(kinds)))]))
    bound, end = 0, perf_counter() + seconds
    while perf_counter() < end:
        matrix = np.array(columns, dtype=float).T
        solved = linprog(np.ones(len(columns)), A_ub=-matrix, b_ub=-np.array(wants, dtype=float), method="highs")
        if solved.status != 0 or solved.fun is None:
            break
        prices = [max(0, int(-price * SCALE)) for price in solved.ineqlin.marginals]
        worth, pattern = most_worth(kinds, wants, room, prices)
        if worth > 0:
            bound = max(bound, -(-sum(w * p for w, p in zip(wants, prices, strict=True)) // worth))
        if worth <= SCALE + len(kinds) or pattern in columns or bound >= int(np.ceil(solved.fun - 1e-6)):
            break
        columns.append(pattern)
    return columns, bound


def _alone(k: int, kinds: Sequence[int], wants: Sequence[int], room: int) -> Pattern:
    return tuple(min(wants[k], room // kinds[k]) if i == k else 0 for i in range(len(kinds)))


def all_patterns(kinds: Sequence[int], wants: Sequence[int], room: int, most: int) -> list[Pattern] | None:
    """List every pattern to which no further piece could be added; None where there are more than `most`.

    `kinds` fall, so that what is left over is judged by the smallest kind that may still be added.

    >>> all_patterns([5, 3], [2, 3], 10, 100)
    [(2, 0), (1, 1), (0, 3)]
    """
    found: list[Pattern] = []
    counts = [0] * len(kinds)

    def fill(k: int, left: int) -> bool:
        if k == len(kinds):
            full = all(counts[i] == wants[i] or kinds[i] > left for i in range(len(kinds)))
            if full:
                found.append(tuple(counts))
            return len(found) <= most
        for count in range(min(wants[k], left // kinds[k]), -1, -1):
            counts[k] = count
            if not _too_empty(k, counts, left - count * kinds[k]) and not fill(k + 1, left - count * kinds[k]):
                return False
        counts[k] = 0
        return True

    after = [sum(w * s for w, s in zip(wants[k + 1 :], kinds[k + 1 :], strict=True)) for k in range(len(kinds))]

    def _too_empty(k: int, counts: list[int], left: int) -> bool:
        # Whatever follows, another piece of this kind would still fit: no full pattern lies there.
        return counts[k] < wants[k] and left - after[k] >= kinds[k]

    return found if fill(0, room) else None


def cover(patterns: Sequence[Pattern], wants: Sequence[int], seconds: float) -> tuple[list[Pattern] | None, int]:
    """Choose the fewest patterns that give at least what is wanted.

    Returns:
        The patterns, each as often as it is cut, or None where none was found in time; and a bound on their number from below,
        which holds for these patterns.

    Reference:
        The integer programme of Kantorovich, and of Gilmore and Gomory.
    """
    program = Program(len(patterns), most=math.inf)
    for k, want in enumerate(wants):
        program.add({n: float(pattern[k]) for n, pattern in enumerate(patterns) if pattern[k]}, float(want))
    solved = program.solve([1.0] * len(patterns), seconds=seconds)
    least = math.ceil(solved.bound - 1e-6)
    if solved.unknowns is None:
        return None, least
    chosen = [
        pattern for pattern, times in zip(patterns, np.rint(solved.unknowns), strict=True) for _ in range(int(times))
    ]
    enough = all(sum(pattern[k] for pattern in chosen) >= want for k, want in enumerate(wants))
    return (chosen if enough else None), least
