"""The set of jobs that cleans enough pipe in the least time: a set cover with fixed charges, solved exactly."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from ..programs import Program

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

    Parameters:
        minutes: (n,) time of each job without opening its places [min]
        cleans: (n,) the numbers of the pieces that each job cleans; each piece is cleaned by some job
        places: (n,) what has to be open for each job
        opening: time to open and close each place [min]
        lengths: (m,) of the pieces [m]
        share: of the pieces' whole length, what has to be clean at the end
        given: numbers of jobs that are done in any case

    Returns:
        The numbers of the jobs, rising, and True where no other choice takes less time; among equals the jobs listed first.

    >>> least_jobs([3.0, 3.0, 4.0], [{0}, {1}, {0, 1}], [{"a"}, {"b"}, {"b"}], {"a": 1.0, "b": 1.0}, [1.0, 1.0])
    ([2], True)

    Reference: fixed-charge set covering, as in Nemhauser and Wolsey, *Integer and Combinatorial Optimization*, 1988
    (from memory).
    """
    if not lengths:
        return sorted(given), True
    program = Program(len(minutes))
    open_at = {place: program.new() for place in opening}
    clean = [program.new(part=True) for _ in lengths]
    for piece, share_of_it in enumerate(clean):
        program.add({share_of_it: -1.0, **{job: 1.0 for job, pieces in enumerate(cleans) if piece in pieces}}, 0.0)
    for job, needed in enumerate(places):
        for place in needed:
            program.add({job: -1.0, open_at[place]: 1.0}, 0.0)
    program.add(dict(zip(clean, lengths, strict=True)), share * sum(lengths) - SAME)
    program.least = dict.fromkeys(given, 1.0) | (dict.fromkeys(clean, 1.0) if share >= 1.0 else {})
    # A hair more for each later job, over the solver's own 1e-6, makes the answer the same everywhere.
    costs = [time + 1e-5 * n for n, time in enumerate(minutes)] + list(opening.values())
    found = program.solve(costs, seconds=LONGEST, stubborn=True)
    if found.unknowns is None:  # all jobs together clean all pieces, so only the solver can have failed
        return list(range(len(minutes))), False
    return sorted(found.chosen(len(minutes))), found.proven
