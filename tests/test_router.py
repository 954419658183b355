"""The router against a second search that tries all ways corner by corner, on small grids with bodies in the way."""

from __future__ import annotations

import itertools
import math
import random
from typing import Any, cast

import pytest

from plumbline.layout.model import Vector
from plumbline.redesign.ways import CLEAR, CORNER, STUB, Box, Spread, Target, shortest_way, spread

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


def walked(way: Spread, begin: Vector) -> float:
    """What it costs, walked leg by leg: the trunk, the main, the spurs, and a corner wherever the way turns; a spur out of a tee turns in the tee."""
    places: list[Vector] = [*way.trunk, *way.stations]
    length = sum(math.dist(a, b) for a, b in itertools.pairwise(places))
    corners = len(way.trunk) - 1
    for target, station in zip(way.order, way.stations, strict=True):
        across = math.hypot(target.place[0] - station[0], target.place[1] - station[1])
        down = abs(target.place[2] - station[2])
        length += across + down
        corners += (across > 1e-6) + (down > 1e-6) - (target is not way.order[-1])
    assert places[0] == begin
    return length + CORNER * corners


@pytest.mark.second_method
@pytest.mark.parametrize("seed", range(60))
def test_a_main_passes_its_ends_one_after_the_other(seed: int) -> None:
    """None where ends lie on both sides of where it begins, or a spur but the last one's has less than two stubs to turn in; else each has its
    tee, a stub on at least from the one before, and all of it costs what it comes to leg by leg."""
    dice = random.Random(seed)
    axis, side, height = dice.choice([0, 1]), dice.choice([0.0, 0.4]), 1.5
    begin: Vector = (0.0, 0.0, dice.choice([0.2, 1.0]))
    sign = dice.choice([-1.0, 1.0])
    targets = []
    for number in range(dice.choice([1, 2, 3, 4])):
        along = sign * round(dice.choice([0.0, 0.1, 0.3, 1.0, 2.0]) + dice.uniform(0.0, 0.2), 3)
        over = dice.choice([None, None, 1.0])
        off, low = dice.choice([0.0, 0.4, 0.5, -0.7]), dice.choice([0.9, 1.3, 1.5])
        if dice.random() < 0.05:
            along = -along
        place = (along, off, low) if axis == 0 else (off, along, low)
        targets.append(Target(str(number), place, 1e-4, cast(Any, None), "", over))
    way = spread(begin, targets, axis, side, height)
    cross, offsets = 1 - axis, [one.place[axis] for one in targets]
    ordered = sorted(targets, key=lambda one: abs(one.place[axis]))
    room = [
        abs(one.place[cross] - side) + (0.0 if one.over is not None else abs(height - one.place[2])) for one in ordered
    ]
    if (min(offsets) < -0.03 and max(offsets) > 0.03) or any(one < 2.0 * STUB for one in room[:-1]):
        assert way is None
        return
    assert way is not None
    assert [one.vessel for one in way.order] == [one.vessel for one in ordered]
    stands = 0.0
    for old, new, station in zip(ordered, way.order, way.stations, strict=True):
        stands = max(abs(old.place[axis]), stands + STUB)
        assert abs(station[axis]) == pytest.approx(stands)
        assert station[axis] == pytest.approx(new.place[axis])
        assert (station[cross], station[2]) == (side, height)
        assert new.place[cross] == old.place[cross]
        assert new.place[2] == (old.place[2] if old.over is None else height)
    assert way.worth == pytest.approx(walked(way, begin))
