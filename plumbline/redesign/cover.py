"""The fewest and cheapest accesses: which changes to make so that all pipe, or a share of it, can be cleaned, as a set cover.

Minimise Σ cost·x over x in {0, 1}, such that each atom of pipe (a piece that no access cleans a part of) is cleaned by some access
whose change is made, or that is there; or is taken away. Solved as a mixed-integer program to a gap of zero: what it gives is provably
least, for the atoms and rows that it is given.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..programs import Program
from .clean import Pipe

__all__ = ["THERE", "Answer", "Atom", "Cut", "Problem", "Provider", "atoms", "least", "most"]

SLACK = 1e-6
"""Pieces up to this [m] are rounding, not pipe."""

SHORT = 1e-5
"""A share of the pipe may be missed by so much [m]: ten times what the solver takes for nothing."""

THERE = -1
"""Stands for what is there already, in place of the number of a change."""


Term = tuple[int, frozenset[int], tuple[frozenset[int], ...]]
"""The number of a change, those that undo what it does, and those that it needs besides."""


@dataclass(frozen=True, slots=True)
class Provider:
    """Cleans some pipe once change `number` is made (THERE: it is there); `needs` other changes too, any one of each group. Of that pipe it does not
    clean what is `lost` by other changes, by number."""

    number: int
    pipe: Pipe
    needs: tuple[frozenset[int], ...] = ()
    lost: tuple[tuple[int, Pipe], ...] = ()

    def term(self, line: str, place: float) -> Term:
        """What it takes for it to clean a place."""
        return self.number, frozenset(n for n, pipe in self.lost if _in(pipe.get(line, ()), place)), self.needs


_CENT = 1e-6
"""Costs that differ by less are the same."""

_SAME = 1e-9
"""Shares that differ by less are the same."""


@dataclass(frozen=True, slots=True)
class Atom:
    """Pipe that the same providers clean, `length` [m] in all; `gone` are the changes that take it away."""

    length: float
    terms: frozenset[Term]
    gone: frozenset[int]


@dataclass(frozen=True)
class Answer:
    """What was found: the numbers of the changes `chosen`, their `cost`, and a `bound` that no choice can be below."""

    chosen: frozenset[int]
    cost: float
    bound: float


@dataclass(frozen=True)
class Cut:
    """Σ factor·x ≥ `least`, over changes by number."""

    factors: Mapping[int, float]
    least: float


@dataclass(frozen=True)
class Problem:
    """All that `least` is asked: the `costs` of the changes; the `atoms`; the `share` of pipe to be cleaned; `taste`, which decides among
    choices of the same cost, less being better; `clashes`, groups of changes of which one at most is made; `cuts`; and what it costs more to make
    some changes `together`."""

    costs: Sequence[float]
    atoms: Sequence[Atom]
    share: float = 1.0
    taste: Sequence[float] | None = None
    clashes: Sequence[frozenset[int]] = ()
    cuts: Sequence[Cut] = ()
    together: Sequence[tuple[frozenset[int], float]] = ()


def atoms(
    lengths: Mapping[str, float], providers: Sequence[Provider], removed: Sequence[tuple[int, Pipe]] = ()
) -> tuple[Atom, ...]:
    """Cut all pipe, `lengths` by line [m], where what cleans it changes, and gather what is cleaned by the same providers. `removed` is the pipe
    that changes, by number, take away."""
    found: dict[tuple[frozenset[Term], frozenset[int]], float] = {}
    for line, length in lengths.items():
        cleans = [(p, p.pipe[line]) for p in providers if p.pipe.get(line)]
        gone_from = [(p, pipe[line]) for p, _ in cleans for _, pipe in p.lost if pipe.get(line)]
        goes = [(number, pipe[line]) for number, pipe in removed if pipe.get(line)]
        within = (x for _, some in (*cleans, *goes, *gone_from) for piece in some for x in piece if 0.0 < x < length)
        edges = sorted({0.0, length, *within})
        for low, high in pairwise(edges):
            if high - low <= SLACK:
                continue
            middle = (low + high) / 2.0
            terms = frozenset(p.term(line, middle) for p, some in cleans if _in(some, middle))
            gone = frozenset(number for number, some in goes if _in(some, middle))
            found[terms, gone] = found.get((terms, gone), 0.0) + high - low
    return tuple(Atom(size, terms, gone) for (terms, gone), size in found.items())


def _in(pieces: Iterable[tuple[float, float]], place: float) -> bool:
    return any(low < place < high for low, high in pieces)


def least(problem: Problem) -> Answer | None:
    """Find the cheapest changes that clean the share of pipe asked for, None where no choice will do.

    Two pieces of pipe, three accesses: the one that cleans both is cheaper than the other two together.

    >>> pipe = ({"a": ((0.0, 1.0),)}, {"a": ((1.0, 2.0),)}, {"a": ((0.0, 2.0),)})
    >>> some = atoms({"a": 2.0}, [Provider(number, one) for number, one in enumerate(pipe)])
    >>> least(Problem([2.0, 2.0, 3.0], some)).chosen
    frozenset({2})
    """
    rows = _Rows(len(problem.costs))
    if problem.share >= 1.0 - 1e-12:
        for atom in problem.atoms:
            if not _always(atom):
                rows.add({**rows.cleaned(atom), **dict.fromkeys(atom.gone, 1.0)}, 1.0)
    else:
        _partly(rows, problem)
    rows.keep(problem)
    if rows.count == 0:
        return Answer(frozenset(), 0.0, 0.0) if all(need <= 0.0 for need in rows.needs) else None
    costs = dict(enumerate(problem.costs))
    for group, more in problem.together:
        both = rows.new(part=True)
        rows.add({both: 1.0, **dict.fromkeys(group, -1.0)}, 1.0 - len(group))
        costs[both] = more
    whole = [costs.get(number, 0.0) for number in range(rows.count)]
    solved = rows.solve(whole)
    if solved.unknowns is None:
        return None
    chosen = solved.chosen(len(problem.costs))
    cost = _cost(problem, chosen)
    bound = cost if solved.proven else min(solved.bound, cost)
    if problem.taste is not None and bound == cost:
        rows.add({number: -value for number, value in costs.items() if value}, -cost - _CENT)
        again = rows.solve(problem.taste)
        if again.unknowns is not None and _cost(problem, again.chosen(len(problem.taste))) <= cost + _CENT:
            chosen = again.chosen(len(problem.taste))
    return Answer(chosen, _cost(problem, chosen), bound)


def _cost(problem: Problem, chosen: frozenset[int]) -> float:
    more = (value for group, value in problem.together if group <= chosen)
    return math.fsum((*(problem.costs[number] for number in chosen), *more))


def most(problem: Problem) -> float | None:
    """Find the largest share of the pipe that can be cleaned, at any cost; None where not even the cuts can be kept.

    Pipe that is taken away counts neither as cleaned nor as left, so that the share is a quotient: what is cleaned less `aim` times
    what is left is made largest, and `aim` raised to the share found, until it rises no more.

    Reference: Dinkelbach (1967), Management Science 13, 492-498 (from memory).

    >>> most(Problem([2.0], atoms({"a": 2.0}, [Provider(0, {"a": ((0.0, 1.0),)})])))
    0.5
    """
    if not problem.atoms:
        return 1.0
    rows = _Rows(len(problem.costs))
    pipe = list(_pipe(rows, problem))
    rows.keep(problem)
    best, aim = None, 1.0
    while True:
        worth = [0.0] * rows.count
        for length, cleaned, gone in pipe:
            worth[cleaned] -= length
            if gone is not None:
                worth[gone] -= aim * length
        solved = rows.solve(worth)
        if solved.unknowns is None:
            return best
        share = _share(problem, solved.chosen(len(problem.costs)))
        if best is not None and share <= best + _SAME:
            return best
        best = aim = share


def _share(problem: Problem, chosen: frozenset[int]) -> float:
    """The share of the pipe left that a choice cleans; all, where none is left."""
    left = [atom for atom in problem.atoms if not atom.gone & chosen]
    size = math.fsum(atom.length for atom in left)
    clean = math.fsum(atom.length for atom in left if any(_holds(term, chosen) for term in atom.terms))
    return clean / size if size > 0.0 else 1.0


def _holds(term: Term, chosen: frozenset[int]) -> bool:
    number, blockers, needs = term
    return (number == THERE or number in chosen) and not blockers & chosen and all(group & chosen for group in needs)


def _always(atom: Atom) -> bool:
    return any(number == THERE and not blockers and not needs for number, blockers, needs in atom.terms)


def _partly(rows: _Rows, problem: Problem) -> None:
    """Σ length·z ≥ share·Σ length·(1 − gone), with z up to what cleans the atom, none where it is taken away."""
    whole: dict[int, float] = {}
    need = -SHORT
    for length, cleaned, gone in _pipe(rows, problem):
        need += problem.share * length
        whole[cleaned] = length
        if gone is not None:
            whole[gone] = problem.share * length
    rows.add(whole, need)


def _pipe(rows: _Rows, problem: Problem) -> Iterator[tuple[float, int, int | None]]:
    """For each atom its length, and the unknowns that say how far it is cleaned, and whether it is taken away: None where nothing does."""
    for atom in problem.atoms:
        gone = None
        if atom.gone:
            # One number, up to 1, for all the changes that take it away: they are apart, or one does.
            gone = rows.new(part=True)
            rows.add({gone: -1.0, **dict.fromkeys(atom.gone, 1.0)}, 0.0)
        cleaned = rows.new(part=True)
        if not _always(atom):
            rows.add({cleaned: -1.0, **rows.cleaned(atom)}, 0.0)
        for number in atom.gone:
            rows.add({cleaned: -1.0, number: -1.0}, -1.0)
        yield atom.length, cleaned, gone


class _Rows(Program):
    """The rows of a problem, and an unknown for each way to clean that takes more than one change."""

    def __init__(self, count: int) -> None:
        super().__init__(count)
        self.joint: dict[Term, int] = {}

    def keep(self, problem: Problem) -> None:
        """The rows of a problem's clashes and cuts."""
        for group in problem.clashes:
            self.add(dict.fromkeys(group, -1.0), -1.0)
        for cut in problem.cuts:
            self.add(cut.factors, cut.least)

    def cleaned(self, atom: Atom) -> dict[int, float]:
        """The unknowns whose sum is at least 1 where an atom is cleaned."""
        return {self.term(term): 1.0 for term in atom.terms}

    def term(self, term: Term) -> int:
        """The unknown that says whether a provider is there and in force."""
        number, blockers, needs = term
        if number != THERE and not blockers and not needs:
            return number
        if term not in self.joint:
            self.joint[term] = y = self.new(part=True)
            if number != THERE:
                self.add({number: 1.0, y: -1.0}, 0.0)
            for blocker in blockers:
                self.add({blocker: -1.0, y: -1.0}, -1.0)
            for group in needs:
                self.add({**dict.fromkeys(group, 1.0), y: -1.0}, 0.0)
        return self.joint[term]
