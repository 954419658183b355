"""Cutting pieces from stock lengths: the fewest lengths, with a proven bound. Whole numbers only, in any unit. Cutting patterns are generated as
columns of a linear programme, or all of them listed; an integer programme covers with them what is wanted.

Each cut takes a kerf. A length that holds m pieces is cut m − 1 times, and once more where something is left; so pieces
fit where Σ(piece + kerf) ≤ stock + kerf, and the problem is one-dimensional cutting stock, or bin packing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from time import perf_counter
from typing import Literal

import numpy as np

from ..programs import Program

__all__ = ["Packing", "all_patterns", "by_columns", "cover", "least_bound", "most_worth", "pack"]

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


Way = Literal["none", "counting", "columns", "patterns", "gap"]

MOST_FOR_COLUMNS = 400
"""Different pieces up to which columns are generated; beyond, first fit decreasing and a bound by counting are given."""
MOST_STATES = 2_000_000
"""Stock length, in units, up to which the knapsack of the column generation is solved by its table."""
MOST_PATTERNS = 20_000
TASTES = (1.0, 1.2, 1.4, 1.1, 1.3, 1.15, 1.25)
"""Powers of the size that pieces are worth when lengths are filled one by one."""


@dataclass(frozen=True, slots=True)
class Packing:
    """Which pieces come from which stock length.

    `bins` holds, for each stock length, the numbers of the pieces (their places in the list given). No cutting needs fewer
    than `bound`; `way` says how that was proven: "counting" lengths, "columns" (linear programme over cutting patterns),
    "patterns" (integer programme over all of them), or "gap" where `bound` is below the number of bins.
    """

    bins: tuple[tuple[int, ...], ...]
    bound: int
    way: Way

    @property
    def proven(self) -> bool:
        """True where no cutting needs fewer."""
        return len(self.bins) == self.bound


def pack(lengths: Sequence[int], stock: int, kerf: int = 0, *, seconds: float = 10.0) -> Packing:
    """Cut pieces from the fewest stock lengths.

    The longest pieces come first. The search takes some `seconds`, half of them for the columns, the rest for integer programmes. The bound
    holds whatever happens. First fit decreasing, alone, needs at most 11/9 of the least number and 6/9 more (Dósa 2007, from memory).

    Raises:
        ValueError: for a piece longer than the stock, or no length at all.

    >>> pack([6, 5, 4, 3, 2], 10).bins
    ((0, 2), (1, 3, 4))
    >>> pack([5, 5], 10).bins, len(pack([5, 5], 10, kerf=1).bins)
    (((0, 1),), 2)

    Reference:
        Gilmore and Gomory, Operations Research 9 (1961) 849 and 11 (1963) 863; Martello and Toth, Knapsack Problems (1990), ch. 8
        (bound L2; from memory); Farley, Operations Research 38 (1990) 922 (bound from any prices; from memory).
    """
    if any(length <= 0 or length > stock for length in lengths) or kerf < 0:
        raise ValueError("every piece must be above 0 and no longer than the stock")
    if not lengths:
        return Packing((), 0, "none")
    room = stock + kerf
    sizes = [length + kerf for length in lengths]
    best = min(_decreasing(sizes, room, tight=False), _decreasing(sizes, room, tight=True), key=len)
    bound, way = least_bound(sizes, room), "counting"
    if len(best) > bound:
        best, bound, way = _improved(sizes, room, best, bound, seconds)
    bins = sorted(
        (tuple(sorted(one, key=lambda i: (-sizes[i], i))) for one in best),
        key=lambda one: ([-sizes[i] for i in one], one),
    )
    return Packing(tuple(bins), bound, way if len(bins) == bound else "gap")  # type: ignore[arg-type]


def least_bound(sizes: Sequence[int], room: int) -> int:
    """Bound the number of bins from below by counting: Martello and Toth's L2, the best over all thresholds.

    For a threshold t up to half the room: pieces over room − t want a bin each and take nothing else of size t or more; those
    over half the room want a bin each; what the pieces from t to half the room need beyond the gaps left there, rounded up, more.

    >>> least_bound([6, 6, 6, 4], 10), least_bound([5, 5, 5], 10)
    (3, 2)
    """
    best = -(-sum(sizes) // room)
    for t in {0, *(size for size in sizes if 2 * size <= room)}:
        alone = sum(1 for size in sizes if size > room - t)
        large = [size for size in sizes if room - t >= size and 2 * size > room]
        small = sum(size for size in sizes if t <= size and 2 * size <= room)
        over = small - sum(room - size for size in large)
        best = max(best, alone + len(large) + max(0, -(-over // room)))
    return best


def _decreasing(sizes: Sequence[int], room: int, *, tight: bool) -> list[list[int]]:
    """First fit decreasing or, where `tight`, best fit decreasing."""
    bins: list[list[int]] = []
    free: list[int] = []
    for i in sorted(range(len(sizes)), key=lambda i: (-sizes[i], i)):
        fits = [b for b, left in enumerate(free) if left >= sizes[i]]
        if not fits:
            bins.append([i])
            free.append(room - sizes[i])
            continue
        b = min(fits, key=lambda b: free[b]) if tight else fits[0]
        bins[b].append(i)
        free[b] -= sizes[i]
    return bins


def _improved(
    sizes: Sequence[int], room: int, best: list[list[int]], bound: int, seconds: float
) -> tuple[list[list[int]], int, Way]:
    """Fullest lengths first; then a linear programme by columns, an integer one over those columns, and over all patterns if few."""
    counts = Counter(sizes)
    kinds = sorted(counts, reverse=True)
    wants = [counts[kind] for kind in kinds]
    way: Way = "counting"
    if len(kinds) > MOST_FOR_COLUMNS or room > MOST_STATES:
        return best, bound, way
    end = perf_counter() + seconds
    for taste in TASTES:
        best = _shorter(best, _fullest(kinds, wants, room, taste), sizes, kinds)
        if len(best) == bound or perf_counter() > end:
            break
    if len(best) > bound:
        columns, proven = by_columns(kinds, wants, room, _as_counts(best, sizes, kinds), seconds / 2.0)
        if proven > bound:
            bound, way = proven, "columns"
        if len(best) > bound:
            chosen, _ = cover(columns, wants, max(seconds / 4.0, end - perf_counter()))
            best = _shorter(best, chosen, sizes, kinds)
    if len(best) > bound:
        every = all_patterns(kinds, wants, room, MOST_PATTERNS)
        if every is not None:
            chosen, least = cover(every, wants, max(seconds / 4.0, end - perf_counter()))
            best = _shorter(best, chosen, sizes, kinds)
            if least > bound:
                bound, way = min(least, len(best)), "patterns"
    return best, bound, way


def _fullest(kinds: Sequence[int], wants: Sequence[int], room: int, taste: float) -> list[tuple[int, ...]]:
    """One length after the other: the longest piece that is left, and with it what fills the length best, a piece being worth
    its size to a power: above 1, long pieces go first and the short ones are kept for the gaps at the end."""
    worth = [round(1000.0 * (kind / kinds[0]) ** taste * 1000.0) for kind in kinds]
    left = list(wants)
    chosen = []
    while any(left):
        first = next(k for k, count in enumerate(left) if count)
        left[first] -= 1
        _, rest = most_worth(kinds, left, room - kinds[first], worth)
        pattern = [count + (k == first) for k, count in enumerate(rest)]
        left = [count - used for count, used in zip(left, rest, strict=True)]
        chosen.append(tuple(pattern))
    return chosen


def _as_counts(bins: list[list[int]], sizes: Sequence[int], kinds: list[int]) -> list[tuple[int, ...]]:
    place = {kind: k for k, kind in enumerate(kinds)}
    found = []
    for one in bins:
        row = [0] * len(kinds)
        for i in one:
            row[place[sizes[i]]] += 1
        found.append(tuple(row))
    return list(dict.fromkeys(found))


def _shorter(
    best: list[list[int]], chosen: list[tuple[int, ...]] | None, sizes: Sequence[int], kinds: list[int]
) -> list[list[int]]:
    """The better of a packing and of patterns that cover at least what is wanted."""
    if chosen is None or len(chosen) >= len(best):
        return best
    waiting: dict[int, list[int]] = {kind: [i for i, size in enumerate(sizes) if size == kind] for kind in kinds}
    bins = []
    for pattern in chosen:
        one: list[int] = []
        for kind, count in zip(kinds, pattern, strict=True):
            one += [waiting[kind].pop(0) for _ in range(min(count, len(waiting[kind])))]
        if one:
            bins.append(one)
    return bins
