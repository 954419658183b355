"""The set of jobs that cleans enough pipe in the least time: a set cover with fixed charges, solved exactly."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

__all__ = ["least_jobs"]

SAME = 1e-4
"""A length of pipe under this [m] is no pipe: well over the solver's own 1e-6, on which it may trip."""

LONGEST = 30.0
"""Time after which the best found so far has to do [s]."""


def least_jobs(
    minutes: Sequence[float],
    cleans: Sequence[Collection[int]],
    places: Sequence[Collection[str]],
    opening: Mapping[str, float],
    lengths: Sequence[float],
    *,
    share: float = 1.0,
    given: Collection[int] = (),
) -> tuple[list[int], bool]:
    """Choose the jobs of the least total time that clean enough pipe.

    min Σ tⱼxⱼ + Σ oₚyₚ; x, y ∈ {0, 1}, 0 ≤ z ≤ 1; zᵢ ≤ Σ_{j cleans i} xⱼ; xⱼ ≤ yₚ for each place p of job j; Σ lᵢzᵢ ≥ share·Σ lᵢ.

    Parameters
    ----------
    minutes : (n,) time of each job without opening its places [min]
    cleans : (n,) the numbers of the pieces that each job cleans; each piece is cleaned by some job
    places : (n,) what has to be open for each job
    opening : time to open and close each place [min]
    lengths : (m,) of the pieces [m]
    share : of the pieces' whole length, what has to be clean at the end
    given : numbers of jobs that are done in any case

    Returns
    -------
    The numbers of the jobs, rising, and True where no other choice takes less time; among equals the jobs listed first.

    >>> least_jobs([3.0, 3.0, 4.0], [{0}, {1}, {0, 1}], [{"a"}, {"b"}, {"b"}], {"a": 1.0, "b": 1.0}, [1.0, 1.0])
    ([2], True)

    Reference: fixed-charge set covering, as in Nemhauser and Wolsey, *Integer and Combinatorial Optimization*, 1988
    (from memory); branch and bound by HiGHS through `scipy.optimize.milp`.
    """
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    if not lengths:
        return sorted(given), True
    place_number = {place: len(minutes) + n for n, place in enumerate(opening)}
    first = len(minutes) + len(opening)
    size = first + len(lengths)
    entries: list[tuple[int, int, float]] = [(row, first + row, -1.0) for row in range(len(lengths))]
    count = len(lengths)
    for column, (pieces, needed) in enumerate(zip(cleans, places, strict=True)):
        entries += [(piece, column, 1.0) for piece in pieces]
        for place in needed:
            entries += [(count, column, -1.0), (count, place_number[place], 1.0)]
            count += 1
    entries += [(count, first + n, length) for n, length in enumerate(lengths)]
    least = np.zeros(count + 1)
    least[count] = share * sum(lengths) - SAME
    rows, columns, values = zip(*entries, strict=True)
    cost = np.zeros(size)
    # A hair more for each later job, over the solver's own 1e-6, makes the answer the same everywhere.
    cost[: len(minutes)] = [time + 1e-5 * n for n, time in enumerate(minutes)]
    cost[len(minutes) : first] = list(opening.values())
    lower = np.zeros(size)
    lower[list(given)] = 1.0
    if share >= 1.0:
        lower[first:] = 1.0
    # Older solvers take no wider index than this.
    spots = (np.array(rows, dtype=np.int32), np.array(columns, dtype=np.int32))
    rules = LinearConstraint(coo_array((values, spots), shape=(count + 1, size)).tocsr(), least, np.inf)
    whole = np.concatenate([np.ones(first, dtype=int), np.zeros(len(lengths), dtype=int)])
    # Where its own simplification of the problem fails, the solver may do without.
    for presolve in (True, False):
        found = milp(
            cost,
            constraints=rules,
            integrality=whole,
            bounds=Bounds(lower, np.ones(size)),
            options={"time_limit": LONGEST, "mip_rel_gap": 0.0, "presolve": presolve},
        )
        if found.x is not None:
            break
    if found.x is None:  # all jobs together clean all pieces, so only the solver can have failed
        return list(range(len(minutes))), False
    return [n for n in range(len(minutes)) if found.x[n] > 0.5], bool(found.status == 0)
