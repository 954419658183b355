"""The monotone cubic through points, against the library's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from plumbline.hydraulics.monotone import interpolated, slopes


@pytest.mark.second_method
@pytest.mark.parametrize("count", [2, 3, 4, 9])
def test_a_curve_through_points_is_the_library_s(count: int) -> None:
    rng = np.random.default_rng(count)
    x, y = np.cumsum(rng.uniform(0.1, 1.0, count)), rng.integers(-3, 4, (count, 5, 4)).astype(float)
    at = np.linspace(x[0], x[-1], 61)
    library = PchipInterpolator(x, y, axis=0)
    assert interpolated(x, y, at) == pytest.approx(library(at), abs=1e-12)
    assert slopes(x, y) == pytest.approx(library(x, 1), abs=1e-9)


@pytest.mark.invariant
def test_one_point_is_the_same_everywhere() -> None:
    assert interpolated(np.zeros(1), np.array([[3.0, 4.0]]), np.zeros(2)).tolist() == [[3.0, 4.0], [3.0, 4.0]]
