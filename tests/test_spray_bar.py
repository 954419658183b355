"""A spray bar hole by hole: against printed values, against all its equations at once, and in the network."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from conftest import ReadText
from numpy.testing import assert_allclose
from scipy.optimize import brentq, fsolve

from plumbline.hydraulics.assemble import assemble
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.friction import friction_loss, one_friction_loss
from plumbline.hydraulics.grade import grade_lines
from plumbline.hydraulics.spray_bar import Bar, bar_of, end_head, holes_of, inlet_head

G = 9.80665
LPM = 60000.0


def bar(n: int = 12, hole: float = 0.006, above: float = 0.0, **more: float) -> Bar:
    """A bar of 50 mm pipe with holes 50 mm apart, each one `above` higher than the last."""
    heights = [above * i for i in range(n)]
    lowest = min(heights)
    plain = Bar(0.05, 1.5e-6, hole, (0.025, *(0.05,) * (n - 1)), tuple(h - lowest for h in heights), 1.0e-6)
    return replace(plain, **more)


def of_area(ratio: float, n: int) -> Bar:
    """A bar without friction, of so much area of holes over the pipe's."""
    return bar(n, 0.05 * math.sqrt(ratio / n), friction=0.0)


# ---------------------------------------------------------------------- published values


@pytest.mark.second_method
@pytest.mark.parametrize(("ratio", "first_over_last"), [(0.25, 0.988), (0.5, 0.952), (1.0, 0.814)])
def test_the_cosine_law_of_a_bar_without_friction(ratio: float, first_over_last: float) -> None:
    """cos(Cd ΣA/A) for Cd 0.62, the limit of many holes with full recovery (potential flow; worked by hand)."""
    got = holes_of(of_area(ratio, 2000), 1e-3)
    assert got[0].flow / got[-1].flow == pytest.approx(first_over_last, abs=5e-4)


@pytest.mark.second_method
@pytest.mark.parametrize(("times", "uneven", "digit"), [(10.0, 5.13, 0.01), (5.0, 10.6, 0.1), (2.0, 29.0, 1.0)])
def test_ten_times_the_velocity_pressure_keeps_unevenness_to_five_per_cent(
    times: float, uneven: float, digit: float
) -> None:
    """100 (1 − √(1 − 1/R)), R the drop through the holes over the velocity pressure at the inlet (Senecal; Perry's, section 6)."""
    ratio = math.asin(math.sqrt(1.0 / times)) / 0.62
    one = of_area(ratio, 4000)
    speed_head = (1e-3 / (0.25 * math.pi * one.bore**2)) ** 2 / (2.0 * G)
    assert end_head(one, 1e-3) / speed_head == pytest.approx(times, rel=2e-3)
    got = holes_of(one, 1e-3)
    assert 100.0 * (1.0 - got[0].flow / got[-1].flow) == pytest.approx(uneven, abs=0.5 * digit)


@pytest.mark.published
def test_christiansens_factor_for_ten_outlets() -> None:
    """F = 0.385 for ten equal outlets, exponent 2, the first a whole gap from the inlet (Christiansen 1942, from memory)."""
    one = replace(bar(10, 0.0005), gaps=(0.05,) * 10, roughness=0.05 * 0.05, bore=0.05, viscosity=1e-12)
    flow = 1e-3
    full, _ = one_friction_loss(flow, one.bore, 0.5, one.roughness, one.viscosity, G)
    assert (inlet_head(one, flow)[0] - end_head(one, flow)) / full == pytest.approx(0.385, abs=5e-4)


# ---------------------------------------------------------------------- a second way


def all_at_once(one: Bar, flow: float) -> tuple[np.ndarray, float]:
    """Every hole's equation and every gap's, solved together by MINPACK; (flows, head at the inlet)."""
    n = len(one.gaps)
    area = 0.25 * math.pi * one.bore**2
    each = one.cd * 0.25 * math.pi * one.hole**2 * math.sqrt(2.0 * G)
    above = np.array(one.above)

    def left(unknown: np.ndarray) -> np.ndarray:
        q, head = unknown[:n] * flow, unknown[n:]  # head: static, before each hole
        into = flow - np.concatenate([[0.0], np.cumsum(q)[:-1]])
        onward = into - q
        behind = head + one.recovery * (into**2 - onward**2) / (2.0 * G * area**2)
        lost, _ = friction_loss(
            onward[:-1], one.bore, np.array(one.gaps[1:]) * one.friction, one.roughness, one.viscosity, G
        )
        mean = 0.5 * (head + behind) - above
        holes = q / flow - np.where(mean > 0.0, each * np.sqrt(np.maximum(mean, 0.0)), 0.0) / flow
        return np.concatenate([holes, behind[:-1] - lost - head[1:], [np.sum(q) / flow - 1.0]])

    guess = np.concatenate([np.full(n, 1.0 / n), np.full(n, (flow / n / each) ** 2) + above.max()])
    found, _, _, message = fsolve(left, guess, xtol=1e-14, full_output=True)
    assert np.abs(left(found)).max() < 1e-10, message
    first, _ = friction_loss(flow, one.bore, one.gaps[0] * one.friction, one.roughness, one.viscosity, G)
    return found[:n] * flow, float(found[n] + first + (flow / area) ** 2 / (2.0 * G))


@pytest.mark.second_method
@pytest.mark.parametrize(
    "one",
    [
        bar(),
        bar(12, 0.009),
        bar(5, 0.012, recovery=0.7),
        bar(20, 0.004, bore=0.0212),
        bar(8, 0.006, above=0.02),
        bar(8, 0.006, above=-0.02),
        bar(1, 0.01),
    ],
)
@pytest.mark.parametrize("flow", [4e-4, 8e-4])
def test_all_equations_at_once_give_the_same(one: Bar, flow: float) -> None:
    flows, head = all_at_once(one, flow)
    assert_allclose([hole.flow for hole in holes_of(one, flow)], flows, rtol=1e-9)
    assert inlet_head(one, flow)[0] == pytest.approx(head, rel=1e-9)


@pytest.mark.second_method
@pytest.mark.parametrize("flow", [1e-9, 1e-6, 3.9e-5, 7e-5, 1e-4, 1e-2])
@pytest.mark.parametrize("roughness", [0.0, 1.5e-6, 1e-3])
def test_friction_without_arrays_is_friction(flow: float, roughness: float) -> None:
    for signed in (flow, -flow):
        plain = one_friction_loss(signed, 0.025, 3.0, roughness, 1.0e-6, G)
        assert_allclose(plain, friction_loss(signed, 0.025, 3.0, roughness, 1.0e-6, G), rtol=1e-13)


# ---------------------------------------------------------------------- invariants and limits


@pytest.mark.invariant
@pytest.mark.parametrize("n", [1, 12, 200])
@pytest.mark.parametrize("above", [0.0, 0.05, -0.05])
@pytest.mark.parametrize("hole", [0.001, 0.006, 0.02])
def test_the_head_rises_with_the_flow_and_its_derivative_is_right(n: int, above: float, hole: float) -> None:
    one = bar(n, hole, above, bore=0.0212)
    heads = []
    for flow in (1e-11, 1e-7, 1e-5, 1e-4, 1e-3, 1e-2):
        head, slope = inlet_head(one, flow)
        step = 1e-5 * flow
        up, down = (inlet_head(one, flow + d)[0] for d in (step, -step))
        assert slope == pytest.approx((up - down) / (2.0 * step), rel=1e-4)
        assert sum(hole.flow for hole in holes_of(one, flow)) == pytest.approx(flow, rel=1e-12)
        assert inlet_head(one, -flow) == (-head, slope)
        heads.append(head)
    assert heads == sorted(heads)
    assert inlet_head(one, 0.0) == (0.0, 0.0)


@pytest.mark.invariant
def test_in_the_air_the_higher_holes_stay_dry_at_a_small_flow() -> None:
    got = holes_of(bar(10, 0.006, above=0.05), 2e-5)
    assert got[0].flow > got[1].flow > 0.0
    assert got[-1] == type(got[-1])(0.0, 0.0, 0.0)


@pytest.mark.second_method
def test_one_hole_is_an_orifice_at_the_end_of_its_pipe() -> None:
    """By hand: q = Cd a √(2 g h) where nothing is recovered and nothing rubs."""
    one = bar(1, 0.01, friction=0.0, recovery=0.0)
    head = (5e-4 / (0.62 * math.pi / 4.0 * 0.01**2)) ** 2 / (2.0 * G)
    assert end_head(one, 5e-4) == pytest.approx(head, rel=1e-12)


# ---------------------------------------------------------------------- in the network

HEADER = """
water: 20 degC
vessels:
  header: {{base: 2 m, water: 0.5 m}}
  tank: {{base: 0 m, water: {water} m, rim: 1.2 m, holds: fish}}
lines:
  feed:
    pipe: {{bore: 21.2 mm, roughness: 0.0015 mm}}
    from: {{vessel: header, K: 0}}
    route: [{{down: 1 m}}, spray bar: {{down: 0.6 m, holes: 10, hole: 4 mm, in: tank}}]
    to: cap
"""


@pytest.mark.second_method
@pytest.mark.parametrize("water", [0.2, 0.7, 1.05])
def test_the_network_and_the_march_agree(read_text: ReadText, water: float) -> None:
    """The bar (holes from 0.43 to 0.97 m) in the air, half in the water and all in it, by bracketing one number."""
    layout = read_text(HEADER.format(water=water))
    flows = find_flows(layout)
    part = layout.lines["feed"].parts[-1]
    one = bar_of(layout, part)
    lowest = max(water, 0.43)

    def left(flow: float) -> float:
        lost, _ = one_friction_loss(flow, 0.0212, 1.0, 1.5e-6, one.viscosity, G)
        return 2.5 - lost - lowest - inlet_head(one, flow)[0]

    flow = brentq(left, 1e-7, 1e-2, xtol=1e-18, rtol=1e-14)
    assert flows.stretches["feed.1"].flow == pytest.approx(flow, rel=1e-9)
    assert flows.vessels["tank"].inflow == pytest.approx(flow, rel=1e-9)
    assert flows.stretches["feed.1"].head_head == pytest.approx(lowest + end_head(one, flow), rel=1e-9)


@pytest.mark.invariant
@pytest.mark.parametrize("water", [0.2, 0.7, 1.05])
def test_what_a_bar_costs_adds_up_along_its_route_and_its_grade_line(read_text: ReadText, water: float) -> None:
    layout = read_text(HEADER.format(water=water))
    flows = find_flows(layout)
    (route,) = flows.routes
    assert route.lift + sum(part.loss for part in route.losses) == pytest.approx(0.0, abs=1e-9)
    labels = [part.label for part in route.losses]
    assert labels == ["run at step 1", "spray bar at step 2", "speed lost at the end"]
    assert all(part.loss > 0.0 for part in route.losses)
    (line,) = grade_lines(layout, flows)
    assert line.points[0].total == pytest.approx(2.5)
    assert line.points[-1].total == pytest.approx(2.5 + route.lift, abs=1e-9)


@pytest.mark.invariant
def test_a_bar_is_one_link_with_its_holes(read_text: ReadText) -> None:
    network = assemble(read_text(HEADER.format(water=0.9))).network
    assert len(network.bars) == 1
    assert len(network.run_link) == 1  # the pipe before the bar; its own pipe is in the bar
    assert (len(network.bars[0].gaps), network.bars[0].hole, network.bars[0].bore) == (10, 0.004, pytest.approx(0.0212))


@pytest.mark.second_method
def test_a_hole_in_a_pipe_that_goes_on_does_not_stop_the_water(read_text: ReadText) -> None:
    """As the hole that breaks a siphon: the pipe's end counts, once, and the hole lets out nothing to speak of."""
    route = "[{{down: 1.2 m}}, {hole}, {{down: 0.3 m}}]"
    text = HEADER.format(water=0.9).replace("to: cap", "to: tank")
    old = "[{down: 1 m}, spray bar: {down: 0.6 m, holes: 10, hole: 4 mm, in: tank}]"
    with_hole, without = (
        find_flows(read_text(text.replace(old, route.format(hole=step))))
        for step in ("spray bar: {down: 10 mm, holes: 1, hole: 4 mm, in: tank}", "down: 10 mm")
    )
    flow = without.stretches["feed.1"].flow
    assert with_hole.stretches["feed.1"].flow == pytest.approx(flow, rel=1e-9)
    assert with_hole.vessels["tank"].inflow == pytest.approx(flow, rel=1e-9)
