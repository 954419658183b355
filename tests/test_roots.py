"""Roots of one number, against scipy's."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from plumbline.hydraulics.roots import last_good, root

CURVES: list[Callable[[float], float]] = [
    lambda x: 1.7 - x,
    lambda x: 3.0 - x**2,
    lambda x: math.exp(-x) - 0.1,
    lambda x: 1.0 - x if x < 1.0 else -1e3,  # as where nothing can be found any more
    lambda x: math.copysign(abs(x - 2.0) ** 0.1, 2.0 - x),
]


@pytest.mark.second_method
@pytest.mark.parametrize("curve", CURVES)
@given(low=st.floats(1e-4, 0.9), high=st.floats(2.5, 1e4))
def test_the_root_is_scipys(curve: Callable[[float], float], low: float, high: float) -> None:
    found = root(curve, low, high)
    assert found == pytest.approx(brentq(curve, low, high, xtol=1e-13, rtol=1e-12), rel=5e-12)


@pytest.mark.invariant
@pytest.mark.parametrize("curve", CURVES[:5])
def test_it_asks_seldom(curve: Callable[[float], float]) -> None:
    asked = []

    def counted(x: float) -> float:
        asked.append(x)
        return curve(x)

    root(counted, 0.1, 4.0)
    assert len(asked) <= 50
    asked.clear()
    near = brentq(curve, 0.1, 4.0)
    root(counted, 0.999 * near, 1.001 * near)
    assert len(asked) <= (9 if curve(near * 1.0001) > -10.0 and curve is not CURVES[4] else 45)


@pytest.mark.invariant
def test_of_a_straight_line_it_asks_thrice() -> None:
    asked = []
    assert root(lambda x: asked.append(x) or 2.0 - x, 1.0, 3.5) == 2.0
    assert asked == [1.0, 3.5, 2.0]


@pytest.mark.pinned
def test_alike_signs_are_refused() -> None:
    with pytest.raises(ValueError, match=r"^no change of sign between the two places$"):
        root(lambda x: x, 1.0, 2.0)


@pytest.mark.invariant
@pytest.mark.parametrize("curve", CURVES)
def test_something_is_left_at_the_last_good_place_and_not_beyond(curve: Callable[[float], float]) -> None:
    place = last_good(curve, 0.1, 4.0)
    assert curve(place) >= 0.0
    assert curve(place * (1.0 + 1e-11)) < 0.0


@pytest.mark.invariant
def test_the_ends_are_good_or_bad_throughout() -> None:
    assert last_good(lambda x: 5.0 - x, 1.0, 4.0) == 4.0
    assert last_good(lambda x: 0.5 - x, 1.0, 4.0) == 1.0
