"""Pump curves: against scipy's PCHIP, Crane's affinity example, and the laws of a falling curve."""

import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from plumbline.hydraulics.pumps import PumpCurves, at_speed
from plumbline.layout.model import Layout
from plumbline.layout.pumps import box_curve

SMALL = ((0.0, 3.0), (2.5e-4, 2.6), (5e-4, 1.7), (6.667e-4, 0.6))
FLAT = ((1e-4, 2.0), (2e-4, 2.0), (3e-4, 1.9), (4e-4, 1.9), (5e-4, 0.0))
TWO = ((0.0, 5.0), (1e-3, 1.0))
BRINK = ((0.0, 2.0), (1e-4, 1.99), (1.1e-4, 0.5), (9e-4, 0.4), (1e-3, 0.0))
ALL = (SMALL, FLAT, TWO, BRINK)


@st.composite
def falling(draw):
    n = draw(st.integers(2, 8))
    steps = draw(st.lists(st.floats(0.05, 1.0), min_size=n - 1, max_size=n - 1))
    drops = draw(st.lists(st.floats(0.0, 1.0), min_size=n - 1, max_size=n - 1))
    flow = draw(st.floats(0.0, 1.0)) + np.concatenate(([0.0], np.cumsum(steps)))
    head = draw(st.floats(0.5, 2.0)) + sum(drops) - np.concatenate(([0.0], np.cumsum(drops)))
    return tuple((float(q) * 1e-3, float(h)) for q, h in zip(flow, head, strict=True))


def along(points, flows):
    """Head and slope of one pump at many flows."""
    curves = PumpCurves((points,))
    pairs = [curves.heads(np.array([flow])) for flow in flows]
    return np.array([head[0] for head, _ in pairs]), np.array([slope[0] for _, slope in pairs])


@pytest.mark.second_method
@pytest.mark.parametrize("points", ALL)
def test_between_the_points_it_is_scipys_pchip(points):
    q, h = np.array(points).T
    flows = np.linspace(q[0], q[-1], 301)
    head, slope = along(points, flows)
    second = PchipInterpolator(q, h) if len(points) > 2 else None
    expected = second(flows) if second else np.interp(flows, q, h)
    np.testing.assert_allclose(head, expected, rtol=0, atol=1.01e-6 * h[0])  # the tilt
    tilt = 1e-6 * h[0] / q[-1]
    rates = second(flows, 1) if second else np.full(301, (h[1] - h[0]) / (q[1] - q[0]))
    np.testing.assert_allclose(slope, rates - tilt, rtol=1e-9, atol=1e-9 * h[0] / q[-1])


@pytest.mark.second_method
@pytest.mark.slow
@given(points=falling())
def test_any_falling_points_agree_with_scipy_and_fall(points):
    q, h = np.array(points).T
    flows = np.linspace(q[0], q[-1], 101)
    head, _ = along(points, flows)
    if len(points) > 2:
        np.testing.assert_allclose(head, PchipInterpolator(q, h)(flows), rtol=0, atol=1.01e-6 * h[0])
    width = q[-1] - q[0]
    everywhere = np.linspace(q[0] - 2 * width - q[-1], q[-1] + 2 * width, 1001)
    head, slope = along(points, everywhere)
    assert (slope < 0.0).all()
    assert (np.diff(head) < 0.0).all()


@pytest.mark.invariant
@pytest.mark.parametrize("points", ALL)
def test_the_users_points_are_met(points):
    q, h = np.array(points).T
    head, _ = along(points, q)
    np.testing.assert_allclose(head, h, rtol=0, atol=1.01e-6 * h[0])


@pytest.mark.invariant
@pytest.mark.parametrize("points", ALL)
def test_head_and_slope_have_no_steps(points):
    q, h = np.array(points).T
    width = 0.1 * (q[-1] - q[0])
    seams = np.concatenate((q, [q[0] - width, q[-1] + width]))
    little = 1e-12 * q[-1]
    head_a, slope_a = along(points, seams - little)
    head_b, slope_b = along(points, seams + little)
    mean = h[0] / q[-1]
    np.testing.assert_allclose(head_b, head_a, rtol=0, atol=1e-6 * h[0])
    np.testing.assert_allclose(slope_b, slope_a, rtol=1e-6, atol=1e-5 * mean)


@pytest.mark.second_method
@pytest.mark.parametrize("points", ALL)
def test_slope_against_central_differences(points):
    q = np.array(points)[:, 0]
    flows = np.linspace(-0.5 * q[-1], 1.7 * q[-1], 173)
    step = 1e-6 * q[-1]
    _, slope = along(points, flows)
    numeric = (along(points, flows + step)[0] - along(points, flows - step)[0]) / (2 * step)
    np.testing.assert_allclose(slope, numeric, rtol=1e-3, atol=1e-4 * np.abs(slope).max())


@pytest.mark.invariant
@pytest.mark.parametrize("points", ALL)
def test_outside_the_points_the_lines_are_straight_and_steep_enough(points):
    q, h = np.array(points).T
    mean, width = h[0] / q[-1], q[-1] - q[0]
    for flows in (q[0] - width * np.array([0.11, 0.5, 2.0]), q[-1] + width * np.array([0.11, 0.5, 2.0])):
        head, slope = along(points, flows)
        assert np.ptp(slope) == 0.0
        assert slope[0] <= -mean
        assert (head[2] - head[0]) / (flows[2] - flows[0]) == pytest.approx(slope[0], rel=1e-9)


@pytest.mark.invariant
def test_an_end_steep_enough_goes_on_at_its_own_slope():
    head, slope = along(TWO, [1e-3, 1.05e-3, 2e-3])
    # the chord falls 4 m over 1 L/s, less than the mean 5 m: blended; twice as steep at the far end: not
    assert slope[2] == pytest.approx(-5000.0)
    steep = ((0.0, 4.0), (5e-4, 3.5), (1e-3, 1.0))
    _, slope = along(steep, [1e-3, 1.05e-3, 2e-3])
    assert np.ptp(slope) == pytest.approx(0.0, abs=1e-9)
    assert slope[0] < -4000.0
    assert head[0] == pytest.approx(1.0, abs=5.1e-6)  # the tilt


@pytest.mark.invariant
def test_several_pumps_at_once_and_none():
    flows = np.array([1e-4, 2e-4, -1e-4, 8e-4])
    head, slope = PumpCurves(ALL).heads(flows)
    for i, points in enumerate(ALL):
        one_head, one_slope = along(points, flows[i : i + 1])
        assert head[i] == one_head[0]
        assert slope[i] == one_slope[0]
    none, _ = PumpCurves(()).heads(np.zeros(0))
    assert none.shape == (0,)
    assert PumpCurves(()).duty(np.zeros(0)) == ()


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("flow", "word"),
    [
        (0.0, "shut-off"),
        (1e-11, "shut-off"),
        (-1e-11, "shut-off"),
        (-1e-6, "backwards"),
        (5e-5, "below first point"),
        (1e-4, "on curve"),
        (5e-4, "on curve"),
        (5.01e-4, "run-out"),
    ],
)
def test_duty_says_where_the_pump_works(flow, word):
    assert PumpCurves((FLAT,)).duty(np.array([flow])) == (word,)


@pytest.mark.pinned
def test_a_curve_from_no_flow_has_no_below_first_point():
    assert PumpCurves((SMALL, SMALL)).duty(np.array([0.0, 1e-8])) == ("shut-off", "on curve")


@pytest.mark.second_method
def test_box_parabola_within_its_stated_error():
    h0, q_max = 3.0, 6e-4
    flows = np.linspace(0.0, q_max, 4001)
    head, slope = along(box_curve(h0, q_max), flows)
    assert np.abs(head - h0 * (1 - (flows / q_max) ** 2)).max() < 8e-5 * h0
    assert slope[-1] == pytest.approx(-2 * h0 / q_max, rel=1e-6)


@pytest.mark.published
def test_white_11_6_pump_parabola():
    # White, Fluid Mechanics, example 11.6 [M]: H = 490 − 0.26 Q² ft, Q in 1000 gal/min; 430 ft at 15.2. The
    # points stand 1.25 apart; the curve between them is within 0.04 ft.
    points = tuple((float(q), 490 - 0.26 * float(q) ** 2) for q in np.arange(0.0, 40.1, 1.25))
    head, _ = along(points, [15.2])
    assert head[0] == pytest.approx(430.0, abs=0.5)
    flows = np.linspace(0, 40, 1601)
    assert np.abs(along(points, flows)[0] - (490 - 0.26 * flows**2)).max() < 0.04


@pytest.mark.published
def test_affinity_laws_crane_7_33():
    # Crane TP-410 (2009) example 7.33 [L]: 3500 to 1700 rpm from 400 gpm, 126 ft → 194.3 gpm, 29.7 ft.
    ((flow, head),) = at_speed(((400.0, 126.0),), 1700 / 3500)
    assert flow == pytest.approx(194.3, abs=0.05)
    assert head == pytest.approx(29.7, abs=0.05)


@pytest.mark.invariant
def test_affinity_laws_commute_with_the_curve():
    flows = np.linspace(-1e-4, 9e-4, 41)
    head, slope = along(SMALL, flows)
    slow, slow_slope = along(at_speed(SMALL, 0.6), 0.6 * flows)
    np.testing.assert_allclose(slow, 0.36 * head, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(slow_slope, 0.6 * slope, rtol=1e-9)


FLOWS = "a pump's curve needs flows that start at or above zero and rise"
HEADS = "a pump's curve needs heads that start above zero and never rise with the flow"


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: PumpCurves((((0.0, 1.0),),)), "a pump's curve needs at least two points"),
        (lambda: PumpCurves((((0.0, 1.0), (0.0, 0.5)),)), FLOWS),
        (lambda: PumpCurves((((-1.0, 1.0), (1.0, 0.5)),)), FLOWS),
        (lambda: PumpCurves((((0.0, 1.0), (1.0, 1.5)),)), HEADS),
        (lambda: PumpCurves((((0.0, 0.0), (1.0, -1.0)),)), HEADS),
        (
            lambda: PumpCurves((((0.0, 1.0), (1.0, float("nan"))),)),
            "a pump's curve needs numbers for flow and head",
        ),
        (lambda: box_curve(0.0, 1.0), "a pump's highest head and largest flow must both be above zero"),
        (lambda: at_speed(SMALL, 0.0), "a pump's speed ratio must be above zero"),
    ],
)
def test_what_cannot_be_is_said(call, said):
    with pytest.raises(ValueError, match=f"^{re.escape(said)}$"):
        call()


@pytest.mark.second_method
@pytest.mark.parametrize(
    "curve", ["{highest head: 4.3 psi, largest flow: 40 L/min}", "[[0 L/min, 4.3 psi], [40 L/min, 0 psi]]"]
)
def test_a_curve_s_head_may_be_a_pressure(read_text: Callable[[str], Layout], curve: str) -> None:
    """By hand: 4.3 psi of 6894.76 Pa over 1000 kg/m³ and 9.80665 m/s² are 3.0232 m."""
    text = f"vessels: {{tank: {{base: 0 m, water: 1 m}}}}\npumps: {{p: {{in: tank, curve: {curve}}}}}\nlines: {{a: {{pipe: pvc 25, from: p, route: [up: 2 m], to: open air}}}}\n"
    assert read_text(text).pumps["p"].curve[0][1] == pytest.approx(3.0232, abs=1e-4)
