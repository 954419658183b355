"""Tees and wyes by other published methods, and whether the uncertainty stated for them covers what they differ by."""

from __future__ import annotations

import math

import numpy as np
import pytest
from second_tees import MUNICH, SHARES, gardel, ours, rennels, spread

from plumbline import catalogue

GPM_7_35, GPM_7_36 = np.array([100 / 400]), np.array([250 / 650])


@pytest.mark.second_method
@pytest.mark.parametrize(("degrees", "dividing"), list(MUNICH))
def test_gardels_formulas_meet_the_munich_measurements(degrees: int, dividing: bool) -> None:
    # Both [M]; that two sources agree says that they are remembered rightly. Gardel's tee differs from Vogel's, as he says,
    # most where the whole flow comes out of the branch.
    branch, run = gardel(SHARES, 1.0, degrees, dividing=dividing)
    measured_branch, measured_run = MUNICH[degrees, dividing]
    np.testing.assert_allclose(branch, measured_branch, atol=0.09 if degrees == 45 else 0.15 if dividing else 0.30)
    np.testing.assert_allclose(run, measured_run, atol=0.085)


@pytest.mark.second_method
def test_rennels_dividing_tee_agrees_with_gardels() -> None:
    # Rennels and Hudson (2012), ch. 16 [M, L for its terms], against Gardel (1957) [M], equal bores.
    for one, other in zip(rennels(SHARES, 1.0), gardel(SHARES, 1.0, 90, dividing=True), strict=True):
        np.testing.assert_allclose(
            one, other, atol=0.05
        )  # both fits to measurements; furthest apart where little branches off


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("degrees", "dividing", "branch", "run"),
    [(90, True, 0.42, 0.08), (90, False, 0.21, 0.11), (45, True, 0.19, 0.08), (45, False, 0.20, 0.28)],
)
def test_what_crane_and_gardel_differ_by(degrees: int, dividing: bool, branch: float, run: float) -> None:
    # Equal bores; the largest difference over the table's shares, in velocity heads of the combined leg.
    one, other = ours(SHARES, 1.0, degrees, dividing=dividing), gardel(SHARES, 1.0, degrees, dividing=dividing)
    assert np.abs(one[0] - other[0]).max() == pytest.approx(branch, abs=0.005)
    assert np.abs(one[1] - other[1]).max() == pytest.approx(run, abs=0.005)


@pytest.mark.second_method
@pytest.mark.parametrize(("degrees", "dividing"), list(MUNICH))
def test_crane_has_the_signs_of_the_measurements(degrees: int, dividing: bool) -> None:
    for one, measured in zip(ours(SHARES, 1.0, degrees, dividing=dividing), MUNICH[degrees, dividing], strict=True):
        clear = np.abs(measured) > 0.2
        assert (np.sign(one[clear]) == np.sign(np.array(measured)[clear])).all()


@pytest.mark.second_method
def test_cranes_worked_examples_by_gardel() -> None:
    # Crane TP-410, examples 7.35 and 7.36 [L]: K branch −0.042, run 0.325; branch 0.465, run −0.068.
    tee, wye = gardel(GPM_7_35, 1.0, 90, dividing=False), gardel(GPM_7_36, 1.0, 45, dividing=True)
    assert [tee[0][0] - -0.042, tee[1][0] - 0.325] == pytest.approx([-0.21, -0.08], abs=0.005)
    assert [wye[0][0] - 0.465, wye[1][0] - -0.068] == pytest.approx([0.05, 0.08], abs=0.005)


@pytest.mark.second_method
@pytest.mark.parametrize("degrees", [45, 60, 90])
def test_the_methods_meet_where_the_branch_stops_but_for_half_a_tenth(degrees: int) -> None:
    stopped = np.array([0.0])
    for dividing in (True, False):
        one, other = ours(stopped, 1.0, degrees, dividing=dividing), gardel(stopped, 1.0, degrees, dividing=dividing)
        assert one[0] == pytest.approx(other[0], abs=0.05)
        assert one[1] == pytest.approx(other[1], abs=0.05)


@pytest.mark.second_method
@pytest.mark.parametrize(("row", "angles"), [("tees", (90,)), ("wyes", (45, 60))])
def test_the_stated_uncertainty_is_what_the_methods_differ_by(row: str, angles: tuple[int, ...]) -> None:
    # √3 times the root mean square, in steps of 5 %, for equal bores; no less, and no more.
    limit = catalogue.uncertainty()[row].value
    assert limit - 0.05 < math.sqrt(3.0) * spread((1.0,), angles) <= limit


@pytest.mark.invariant
@pytest.mark.parametrize("beta", [1.0, 0.8, 0.6])
def test_no_method_makes_power(beta: float) -> None:
    # As for the one used: a formula remembered wrongly would sooner or later.
    for degrees in (45, 60, 90):
        for dividing in (True, False):
            branch, run = gardel(np.linspace(0.0, 1.0, 101), beta**2, degrees, dividing=dividing)
            share = np.linspace(0.0, 1.0, 101)
            assert (share * branch + (1.0 - share) * run > 0.0).all()
