"""Pipe friction: published values, a rival library, and the limits it has to keep."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.friction import Clamond, Colebrook

from plumbline.hydraulics.friction import LAMINAR_LIMIT, TURBULENT_LIMIT, friction_factor, friction_loss

NU, G = 1.0034e-6, 9.80665
ROUGH = [0.0, 1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 0.05]


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("re", "rough", "f"),
    [
        (1e5, 1e-4, 0.018514),
        (1e5, 1e-3, 0.022175),
        (1e6, 1e-3, 0.019943),
        (1e4, 0.01, 0.043127),
        (1e5, 0.01, 0.038504),
        (1e8, 0.01, 0.037904),
    ],
)
def test_colebrook_values(re: float, rough: float, f: float) -> None:
    """Colebrook–White, recomputed independently [V]."""
    assert friction_factor(re, rough) == pytest.approx(f, abs=5e-7)


@pytest.mark.published
@pytest.mark.parametrize(
    ("re", "f"), [(4e3, 0.0399), (1e4, 0.0309), (1e5, 0.0180), (1e6, 0.0116), (1e7, 0.0081), (1e8, 0.0059)]
)
def test_smooth_pipe_of_white_chapter_6(re: float, f: float) -> None:
    """White, Fluid Mechanics, ch. 6, Prandtl's law for smooth pipe [M][V]."""
    assert friction_factor(re, 0.0) == pytest.approx(f, abs=5e-5)


@pytest.mark.published
def test_plastic_pipe_of_crane_example_7_1() -> None:
    """Crane TP-410, Ex. 7.1 [L]: a smooth pipe at Re 100,600; f 0.0179, read off a chart to a unit of its last digit."""
    assert friction_factor(100_600.0, 0.0) == pytest.approx(0.0179, abs=1e-4)


@pytest.mark.second_method
def test_laminar_flow_at_reynolds_1000() -> None:
    """f = 64/Re: 0.064."""
    assert friction_factor(1000.0, 0.01) == pytest.approx(0.064, rel=1e-12)


@pytest.mark.second_method
@pytest.mark.parametrize("rough", ROUGH)
def test_agrees_with_fluids_over_the_whole_turbulent_range(rough: float) -> None:
    re = np.geomspace(TURBULENT_LIMIT, 1e8, 60)
    ours = friction_factor(re, rough)
    assert ours == pytest.approx([Colebrook(float(x), rough) for x in re], rel=1e-10)
    assert ours == pytest.approx([Clamond(float(x), rough) for x in re], rel=1e-9)


@pytest.mark.invariant
@pytest.mark.parametrize("rough", ROUGH)
def test_loss_rises_with_flow_through_every_regime(rough: float) -> None:
    re = np.geomspace(1.0, 1e6, 20_001)
    q = re * np.pi * 0.02 * NU / 4
    h, slope = friction_loss(q, 0.02, 1.0, rough * 0.02, NU, G)
    assert np.all(np.diff(h) > 0.0)
    assert np.all(slope > 0.0)


@pytest.mark.invariant
@pytest.mark.parametrize("rough", ROUGH)
@pytest.mark.parametrize("limit", [LAMINAR_LIMIT, TURBULENT_LIMIT])
def test_the_bridge_meets_both_sides_in_value_and_slope(rough: float, limit: float) -> None:
    q = limit * np.pi * 0.02 * NU / 4 * np.array([1 - 1e-9, 1 + 1e-9])
    h, slope = friction_loss(q, 0.02, 1.0, rough * 0.02, NU, G)
    assert h[1] == pytest.approx(h[0], rel=1e-7)
    assert slope[1] == pytest.approx(slope[0], rel=1e-5)


@pytest.mark.second_method
@pytest.mark.parametrize("rough", ROUGH)
def test_slope_against_central_differences(rough: float) -> None:
    re = np.array([10.0, 1500.0, 2299.0, 2500.0, 3000.0, 3999.0, 4100.0, 1e4, 1e5, 1e6])
    q = re * np.pi * 0.02 * NU / 4
    _, slope = friction_loss(q, 0.02, 1.0, rough * 0.02, NU, G)
    step = 1e-6 * q
    up, _ = friction_loss(q + step, 0.02, 1.0, rough * 0.02, NU, G)
    down, _ = friction_loss(q - step, 0.02, 1.0, rough * 0.02, NU, G)
    assert slope == pytest.approx((up - down) / (2 * step), rel=1e-5)


@pytest.mark.invariant
def test_loss_is_odd_in_the_flow_and_safe_at_none() -> None:
    q = np.array([0.0, 1e-9, 1e-5, 1e-3])
    h, slope = friction_loss(q, 0.02, 3.0, 1.5e-6, NU, G)
    back, back_slope = friction_loss(-q, 0.02, 3.0, 1.5e-6, NU, G)
    assert np.array_equal(h, -back)
    assert np.array_equal(slope, back_slope)
    assert h[0] == 0.0
    assert slope[0] == pytest.approx(128 * NU * 3.0 / (np.pi * G * 0.02**4), rel=1e-12)
