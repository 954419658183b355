"""The system curve: known where the losses are a stated K, and the same whatever pump it is found with.

Invariants only; the losses themselves are held to published values elsewhere.
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from conftest import ReadText

from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.system_curve import system_curve
from plumbline.layout.model import Layout

TEXT = """
    name: lift
    water: 20 degC
    vessels:
      low: {{base: 0 m, water: 1 m}}
      high: {{base: 2 m, water: 1 m}}
    pumps:
      lift: {{in: low, height: 0 m, curve: {curve}}}
    lines:
      riser:
        pipe: {{bore: 50 mm, roughness: 0.001 mm}}
        from: lift
        route: [{{up: 1 m}}, {{fitting: {{K: 900}}}}, {{up: 1.5 m}}]
        to: high
"""
CURVE = "[[0 L/min, 5 m], [30 L/min, 4 m], [60 L/min, 2.5 m], [90 L/min, 0.5 m]]"


def lifted(read_text: ReadText, curve: str = CURVE) -> Layout:
    return read_text(TEXT.format(curve=curve))


@pytest.mark.second_method
def test_it_is_the_lift_and_the_stated_loss(read_text: ReadText) -> None:
    """Static head 2 m, and K·v²/2g; pipe and ends add less than 2 % of a K of 900."""
    layout = lifted(read_text)
    curve = system_curve(layout, find_flows(layout), "lift")
    area = math.pi / 4 * 0.05**2
    assert len(curve.points) >= 6
    for flow, head in curve.points:
        stated = 900.0 * (flow / area) ** 2 / (2 * 9.80665)
        assert stated - 1e-9 <= head - 2.0 <= 1.02 * stated + 1e-3


@pytest.mark.invariant
def test_it_passes_the_duty_point_and_begins_near_still_water(read_text: ReadText) -> None:
    layout = lifted(read_text)
    flows = find_flows(layout)
    points = system_curve(layout, flows, "lift").points
    duty = flows.pumps["lift"]
    assert min(abs(flow - duty.flow) + abs(head - duty.head) for flow, head in points) < 1e-6
    assert points[0][0] < 0.2 * duty.flow
    assert points[-1][0] > 1.1 * duty.flow
    assert all(a[1] < b[1] for a, b in pairwise(points))


@pytest.mark.invariant
def test_another_pump_finds_the_same_curve(read_text: ReadText) -> None:
    one = lifted(read_text)
    other = lifted(read_text, "[[0 L/min, 4 m], [50 L/min, 3 m], [100 L/min, 1 m]]")
    first = system_curve(one, find_flows(one), "lift").points
    second = system_curve(other, find_flows(other), "lift").points
    both = [(flow, head) for flow, head in second if first[0][0] < flow < first[-1][0]]
    assert len(both) > 3
    for flow, head in both:
        above = next(i for i, (q, _) in enumerate(first) if q >= flow)
        (q0, h0), (q1, h1) = first[above - 1], first[above]
        # The head over the lift goes as the square of the flow, so it is straight in the square.
        t = (flow**2 - q0**2) / (q1**2 - q0**2)
        assert head == pytest.approx(h0 + t * (h1 - h0), abs=1e-3)


@pytest.mark.invariant
def test_a_pump_that_never_lifts_has_none(read_text: ReadText) -> None:
    layout = lifted(read_text, "[[0 L/min, 0.5 m], [30 L/min, 0.1 m]]")
    flows = find_flows(layout)
    assert flows.pumps["lift"].flow <= 0.0
    assert system_curve(layout, flows, "lift").points == ()
