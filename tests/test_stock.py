"""Cutting from stock lengths: published examples, every way of cutting tried on small cases, and what must hold of any answer."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbline.parts.stock import all_patterns, by_columns, cover, least_bound, most_worth, pack

WIDTHS = {
    1380: 22,
    1520: 25,
    1560: 12,
    1710: 14,
    1820: 18,
    1880: 18,
    1930: 20,
    2000: 10,
    2050: 12,
    2100: 14,
    2140: 16,
    2150: 18,
    2200: 20,
}
"""The paper machine of 5600 mm in Wikipedia's article "Cutting stock problem" [L]: 308 patterns, 407,160 mm wanted in all, 73 rolls in the
best cutting, 0.401 % wasted."""
RAWS = {45: 97, 36: 610, 31: 395, 14: 211}
"""Chvátal, Linear Programming (1983), p. 195: raws of 100 in. The data looked up at second hand; the best, 453, and the linear
programme's 452.25 from memory."""


def listed(wanted: dict[int, int]) -> list[int]:
    return [length for length, count in wanted.items() for _ in range(count)]


def sound(lengths: Sequence[int], stock: int, kerf: int) -> int:
    """Check a packing piece by piece, as a saw goes, and return its number of stock lengths."""
    packing = pack(lengths, stock, kerf)
    assert sorted(i for one in packing.bins for i in one) == list(range(len(lengths)))
    for one in packing.bins:
        left = stock
        for k, i in enumerate(one):
            left -= lengths[i] + (kerf if k else 0)
        assert left >= 0
    assert packing.bound <= len(packing.bins)
    assert packing.proven == (packing.way != "gap")
    return len(packing.bins)


def fewest(lengths: Sequence[int], stock: int, kerf: int) -> int:
    """The least number of stock lengths, by trying every set of pieces for the length that holds the first piece left."""

    @cache
    def least(left: frozenset[int]) -> int:
        if not left:
            return 0
        first, *rest = sorted(left)
        best = len(left)
        for pick in range(2 ** len(rest)):
            some = [first, *(i for bit, i in enumerate(rest) if pick >> bit & 1)]
            if sum(lengths[i] for i in some) + kerf * (len(some) - 1) <= stock:
                best = min(best, 1 + least(left - frozenset(some)))
        return best

    return least(frozenset(range(len(lengths))))


# ---------------------------------------------------------------------- published


@pytest.mark.published
def test_the_paper_machine_takes_73_rolls() -> None:
    """The article on the cutting stock problem, at `WIDTHS`: 73 rolls, and 0.401 % wasted [L]."""
    assert sum(listed(WIDTHS)) == 407_160
    packing = pack(listed(WIDTHS), 5600)
    assert (len(packing.bins), packing.bound) == (73, 73)
    waste = 1 - sum(listed(WIDTHS)) / (73 * 5600)
    assert waste == pytest.approx(0.00401, abs=5e-6)


@pytest.mark.published
def test_the_paper_machine_has_308_patterns() -> None:
    """The same article [L]."""
    # The article counts all that fit, full or not; each of them is a part of a full one.
    kinds = sorted(WIDTHS, reverse=True)
    full = all_patterns(kinds, [5600 // kind for kind in kinds], 5600, 10_000)
    assert full is not None
    parts = {part for pattern in full for part in below(pattern)}
    assert len(parts - {(0,) * len(kinds)}) == 308


def below(pattern: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    if not pattern:
        yield ()
        return
    for rest in below(pattern[1:]):
        for count in range(pattern[0] + 1):
            yield (count, *rest)


@pytest.mark.published
def test_chvatal_raws_of_100_inches() -> None:
    """Chvátal (1983), at `RAWS`: the data [L], the best of 453 [M]."""
    packing = pack(listed(RAWS), 100)
    assert (len(packing.bins), packing.bound, packing.way) == (453, 453, "columns")


@pytest.mark.published
def test_chvatal_linear_programme_is_452_and_a_quarter() -> None:
    """Chvátal (1983), at `RAWS`: 452 1/4 [M]."""
    from scipy.optimize import linprog

    kinds, wants = list(RAWS), list(RAWS.values())
    columns, bound = by_columns(kinds, wants, 100, [], 30.0)
    solved = linprog(
        [1.0] * len(columns), A_ub=[[-float(c[k]) for c in columns] for k in range(4)], b_ub=[-w for w in wants]
    )
    assert solved.fun == pytest.approx(452.25, abs=5e-7)
    assert bound == 453


@pytest.mark.published
def test_a_case_whose_bound_by_unlimited_patterns_is_one_too_low() -> None:
    # Fieldhouse (1990), as in Rietz and Scheithauer: stock 132, lengths 44, 33, 12, wanted 2, 3, 6; the linear programme over patterns
    # without regard to what is wanted gives 259/132, the best cutting 3 [M][V].
    lengths, wants = [44, 33, 12], [2, 3, 6]
    assert pytest.approx(259 / 132) == 2 / 3 + 3 / 4 + 6 / 11
    assert fewest(listed(dict(zip(lengths, wants, strict=True))), 132, 0) == 3
    packing = pack(listed(dict(zip(lengths, wants, strict=True))), 132)
    assert len(packing.bins) == packing.bound == 3


@pytest.mark.published
def test_boards_of_17_in_a_course_on_mathematical_programming() -> None:
    # 25 of 3, 20 of 5 and 15 of 9 from 17: after Winston, Operations Research: the data [L], 19 boards [M]. 310/17 is above 18.
    assert sound(listed({3: 25, 5: 20, 9: 15}), 17, 0) == 19 == -(-310 // 17)


# ---------------------------------------------------------------------- a second way, and what must hold


@pytest.mark.second_method
@pytest.mark.parametrize("seed", range(60))
def test_small_cases_against_every_way_of_cutting(seed: int) -> None:
    chance = random.Random(seed)
    stock, kerf = chance.choice([20, 37, 100]), chance.choice([0, 0, 1, 3])
    longest = chance.choice([stock, stock * 2 // 3, stock // 2])
    lengths = [chance.randint(max(1, stock // 8), longest) for _ in range(chance.randint(1, 10))]
    best = fewest(tuple(lengths), stock, kerf)
    packing = pack(lengths, stock, kerf)
    assert sound(lengths, stock, kerf) == best
    assert packing.bound == best
    assert least_bound([length + kerf for length in lengths], stock + kerf) <= best


@pytest.mark.invariant
@given(st.lists(st.integers(1, 60), min_size=1, max_size=40), st.integers(60, 90), st.integers(0, 4))
def test_any_packing_is_sound_and_no_worse_than_first_fit_decreasing(lengths: list[int], stock: int, kerf: int) -> None:
    free: list[int] = []
    for length in sorted(lengths, reverse=True):
        place = next((k for k, left in enumerate(free) if left >= length + kerf), None)
        if place is None:
            free.append(stock - length)
        else:
            free[place] -= length + kerf
    assert sound(lengths, stock, kerf) <= len(free)


@pytest.mark.invariant
def test_perfect_lengths_cut_up_at_random_are_found_again() -> None:
    # Stock lengths cut up whole, the pieces shuffled: the best is known by how it was made.
    for seed in range(6):
        chance = random.Random(seed)
        pieces = []
        for _ in range(12):
            cuts = sorted(chance.sample(range(300, 2700), 2))
            pieces += [b - a for a, b in pairwise([0, *cuts, 3000])]
        chance.shuffle(pieces)
        packing = pack(pieces, 3000, seconds=6.0)
        assert packing.bound == 12
        assert len(packing.bins) <= 13


@pytest.mark.second_method
def test_a_kerf_is_taken_between_pieces_and_not_at_the_end() -> None:
    assert len(pack([100, 97], 200, 3).bins) == 1
    assert len(pack([100, 98], 200, 3).bins) == 2
    assert len(pack([100], 100, 3).bins) == 1


@pytest.mark.second_method
def test_a_case_that_only_all_patterns_prove() -> None:
    # Fieldhouse's lengths with one more whole length of each kind wanted: the linear programme now says 5 whatever is wanted.
    kinds, wants = (44, 33, 12), (5, 7, 17)
    full = [some for some in below((3, 4, 11)) if sum(n * k for n, k in zip(some, kinds, strict=True)) <= 132]

    @cache
    def least(left: tuple[int, ...]) -> int:
        if not any(left):
            return 0
        first = next(k for k, count in enumerate(left) if count)
        return 1 + min(
            least(tuple(max(0, a - b) for a, b in zip(left, some, strict=True))) for some in full if some[first]
        )

    packing = pack(listed(dict(zip(kinds, wants, strict=True))), 132)
    assert len(packing.bins) == packing.bound == least(wants) == 6
    assert packing.way == "patterns"
    assert by_columns(kinds, wants, 132, [], 10.0)[1] == 5


@pytest.mark.second_method
def test_the_integer_programme_chooses_the_fewest_patterns() -> None:
    every = all_patterns([44, 33, 12], [2, 3, 6], 132, 1000)
    assert every is not None
    chosen, least = cover(every, [2, 3, 6], 10.0)
    assert chosen is not None
    assert len(chosen) == least == 3
    assert all(sum(one[k] for one in chosen) >= want for k, want in enumerate((2, 3, 6)))


@pytest.mark.second_method
@pytest.mark.parametrize("seed", range(20))
def test_the_knapsack_against_every_choice(seed: int) -> None:
    chance = random.Random(seed)
    kinds = sorted({chance.randint(3, 30) for _ in range(4)}, reverse=True)
    wants = [chance.randint(1, 4) for _ in kinds]
    worth = [chance.randint(0, 40) for _ in kinds]
    room = chance.randint(20, 80)
    best = max(
        sum(n * w for n, w in zip(some, worth, strict=True))
        for some in below(tuple(wants))
        if sum(n * k for n, k in zip(some, kinds, strict=True)) <= room
    )
    value, pattern = most_worth(kinds, wants, room, worth)
    assert value == best == sum(n * w for n, w in zip(pattern, worth, strict=True))
    assert sum(n * k for n, k in zip(pattern, kinds, strict=True)) <= room
    assert all(n <= most for n, most in zip(pattern, wants, strict=True))


@pytest.mark.second_method
def test_the_knapsack_may_take_any_number_of_a_kind() -> None:
    for count in range(1, 9):
        assert most_worth([10, 3], [2, 8], 20 + 3 * count, [100, 1]) == (200 + count, (2, count))


@pytest.mark.second_method
@pytest.mark.parametrize("seed", range(10))
def test_all_patterns_are_full_and_none_is_missing(seed: int) -> None:
    chance = random.Random(seed)
    kinds = sorted({chance.randint(3, 30) for _ in range(4)}, reverse=True)
    wants = [chance.randint(1, 3) for _ in kinds]
    room = chance.randint(30, 80)
    fits = [some for some in below(tuple(wants)) if sum(n * k for n, k in zip(some, kinds, strict=True)) <= room]
    more = {
        some
        for some in fits
        if not any(other != some and all(a >= b for a, b in zip(other, some, strict=True)) for other in fits)
    }
    found = all_patterns(kinds, wants, room, 10_000)
    assert found is not None
    assert Counter(found) == Counter(more)
    assert all_patterns(kinds, wants, room, len(more) - 1) is None


@pytest.mark.pinned
@pytest.mark.parametrize("wrong", [([0], 10, 0), ([11], 10, 0), ([5], 10, -1)])
def test_what_cannot_be_cut_is_an_error(wrong: tuple[list[int], int, int]) -> None:
    with pytest.raises(ValueError, match="every piece must be above 0 and no longer than the stock"):
        pack(*wrong)


@pytest.mark.pinned
def test_nothing_to_cut() -> None:
    assert pack([], 10).bins == ()
