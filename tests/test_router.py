"""The router against a second search that tries all ways corner by corner, on small grids with bodies in the way."""

from __future__ import annotations

import itertools
import math
import random

import pytest

from plumbline.layout.model import Vector
from plumbline.redesign.ways import CLEAR, CORNER, Box, shortest_way

AXES: tuple[Vector, ...] = ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1))


def cost(way: tuple[Vector, ...]) -> float:
    return sum(math.dist(a, b) for a, b in itertools.pairwise(way)) + CORNER * (len(way) - 2)


def free(a: Vector, b: Vector, blocks: list[Box]) -> bool:
    """Walked in steps of a centimetre."""
    steps = max(1, int(math.dist(a, b) / 0.01))
    for n in range(steps + 1):
        at = [x + (y - x) * n / steps for x, y in zip(a, b, strict=True)]
        for low, high in blocks:
            if all(lo - CLEAR + 1e-6 < x < hi + CLEAR - 1e-6 for x, lo, hi in zip(at, low, high, strict=True)):
                return False
    return True


def best(
    start: Vector, leaves: Vector, end: Vector, comes: Vector, grid: list[list[float]], blocks: list[Box]
) -> float:
    """The least cost of any way of up to four corners, by trying all."""
    found = math.inf
    todo: list[tuple[tuple[Vector, ...], Vector]] = [((start,), leaves)]
    while todo:
        way, heading = todo.pop()
        here = way[-1]
        axis = next(n for n in range(3) if heading[n])
        for value in grid[axis]:
            if (value - here[axis]) * heading[axis] <= 1e-9:
                continue
            there = tuple(value if n == axis else here[n] for n in range(3))
            if not free(here, there, blocks):  # type: ignore[arg-type]
                continue
            longer = (*way, there)
            if there == end and heading == comes:
                found = min(found, cost(longer))  # type: ignore[arg-type]
            if len(longer) < 6:
                todo += [(longer, turn) for turn in AXES if turn not in (heading, tuple(-x for x in heading))]  # type: ignore[misc]
    return found


@pytest.mark.slow
@pytest.mark.second_method
@pytest.mark.parametrize("seed", range(40))
def test_no_way_on_the_grid_is_better(seed: int) -> None:
    dice = random.Random(seed)
    grid = [sorted({0.0, *(round(dice.uniform(0.0, 3.0), 1) for _ in range(2))}) for _ in range(3)]
    places: list[Vector] = list(itertools.product(*grid))
    start, end = dice.sample(places, 2)
    leaves, comes = dice.choice(AXES), dice.choice(AXES)
    blocks: list[Box] = []
    for _ in range(dice.randint(0, 2)):
        low = [dice.uniform(0.0, 2.5) for _ in range(3)]
        blocks.append(((low[0], low[1], low[2]), (low[0] + 0.5, low[1] + 0.5, low[2] + 0.5)))
    way = shortest_way(start, leaves, end, comes, places, blocks)
    other = best(start, leaves, end, comes, grid, blocks)
    if way is None:
        assert other == math.inf
    elif len(way) <= 6:
        assert cost(way) == pytest.approx(other)
    else:
        assert cost(way) <= other + 1e-9
    if way is not None:
        assert all(free(a, b, blocks) for a, b in itertools.pairwise(way))


@pytest.mark.second_method
def test_a_vessel_in_the_way_is_gone_round() -> None:
    """Straight on is 3 m; over a body 1 m high two corners up and two down, or round it in plan, on the planes given."""
    body: Box = ((1.0, -0.5, 0.0), (2.0, 0.5, 1.0))
    way = shortest_way((0, 0, 0.5), (1, 0, 0), (3, 0, 0.5), (1, 0, 0), [(0.5, 0.0, 1.2), (2.5, 0.0, 0.5)], [body])
    assert way == ((0, 0, 0.5), (0.5, 0, 0.5), (0.5, 0, 1.2), (2.5, 0, 1.2), (2.5, 0, 0.5), (3, 0, 0.5))
    assert shortest_way((0, 0, 0.5), (1, 0, 0), (3, 0, 0.5), (1, 0, 0), [], [body]) is None
