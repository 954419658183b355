"""Gutters: vessels whose floor falls, how much they hold, and how deep the water stands at either end."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import fluids
import numpy as np
import pytest
from scipy.integrate import solve_ivp

from plumbline.check import check
from plumbline.errors import LayoutError
from plumbline.hydraulics.contents import content
from plumbline.hydraulics.gutters import PLASTIC, critical_depth, depth_at_inlet, depth_upstream, inlet_depth
from plumbline.layout import layout_of
from plumbline.layout.model import Layout

ReadText = Callable[[str], Layout]
VISCOSITY = 1.0e-6
GRAVITY = 9.80665
approx = pytest.approx

TEXT = """
vessels:
  sump: {base: 0 m, rim: 0.7 m, water: 0.5 m, area: 0.6 m^2}
  channel: {again: 2, base: 1 m, rim: 80 mm, water: 5 mm, gutter: {length: 3 m, width: 100 mm, fall: 1 in 100}}
  trough: {base: 1 m, rim: 150 mm, water: 60 mm, gutter: {length: 4 m, width: 0.2 m, fall: 1 in 100}}
pumps: {lift: {in: sump, curve: {highest head: 3 m, largest flow: 30 L/min}}}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 1.3 m}, elbow, {manifold: {id: head, east: 1.5 m, outlets: 3}}], to: cap}
  feed: {pipe: pvc 20, from: [head 1, head 2], route: [{down: 0.1 m}], to: channel}
  last feed: {pipe: pvc 20, from: head 3, route: [{down: 0.1 m}], to: trough}
  drop: {from: {vessel: channel, weir: 0 m, width: 100 mm}, to: sump}
  out: {pipe: pvc 40, from: {vessel: trough, standpipe: 60 mm}, route: [{down: 0.3 m}], to: sump}
"""


def profile(flow: float, outlet: float, length: float, width: float, fall: float) -> float:
    """The depth at the inlet end by dy/dx = (S − Sf)/(1 − Fr²), integrated with scipy, with fluids' friction factor."""

    def slope(_: float, depth: np.ndarray) -> list[float]:
        y = float(depth[0])
        speed, bore = flow / (width * y), 4.0 * width * y / (width + 2.0 * y)
        factor = fluids.friction_factor(Re=speed * bore / VISCOSITY, eD=PLASTIC / bore, Method="Colebrook")
        lost = factor * speed**2 / (2.0 * GRAVITY * bore)
        return [-(fall - lost) / (1.0 - speed**2 / (GRAVITY * y))]

    return float(solve_ivp(slope, (0.0, length), [outlet], rtol=1e-9, atol=1e-10).y[0, -1])


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("flow", "outlet", "length", "width", "fall"),
    [
        (60.0, 0.08, 4.0, 0.15, 0.01),
        (100.0, 0.06, 6.0, 0.2, 0.0),
        (40.0, 0.05, 5.0, 0.1, 0.001),
        (200.0, 0.12, 3.0, 0.2, 0.005),
    ],
)
def test_the_depth_at_the_inlet_end_is_that_of_the_flow_s_own_equation(
    flow: float, outlet: float, length: float, width: float, fall: float
) -> None:
    q = flow / 60000.0
    found = inlet_depth(q, outlet, length, width, fall, VISCOSITY)
    assert found == approx(profile(q, outlet, length, width, fall), rel=2e-3)


@pytest.mark.published
def test_a_backwater_is_that_of_a_printed_sheet() -> None:
    """11.3 m³/s on 6.097 m of width at 0.0016, Manning's n 0.025, 1.524 m deep at the end, step by step of 150 m up to the uniform depth: a worked
    sheet, "Standard step method, backwater integration" (scribd.com/doc/269243039, [L]), which ends its steps at a residual of 1 mm. Its energy at
    the end, 1.5998 m, says that the flow is 400 ft³/s before it is rounded, as its depth is 5 ft and its width 20 ft."""
    flow, width, n = 400 * 0.3048**3, 6.097, 0.025
    assert 1.524 + (flow / (width * 1.524)) ** 2 / (2 * 9.81) == approx(1.5998, abs=1e-4)

    def manning(depth: float) -> float:
        area = width * depth
        return (flow * n / area) ** 2 / (area / (width + 2.0 * depth)) ** (4.0 / 3.0)

    def up(depth: float, metres: float, pieces: int) -> float:
        return depth_upstream(flow, depth, metres, width, 0.0016, manning, pieces=pieces, gravity=9.81)

    printed = [1.5240, 1.4236, 1.3530, 1.3090, 1.2837, 1.2699, 1.2623, 1.2589, 1.2574, 1.2567, 1.2564, 1.2563, 1.2562]
    for below, above in pairwise(printed):
        assert up(below, 150.0, 1) == approx(above, abs=1e-3)
    assert up(1.524, 6000.0, 400) == approx(printed[-1], abs=1e-3)


@pytest.mark.second_method
def test_a_steep_gutter_runs_as_deep_as_friction_has_it() -> None:
    """By hand, 30 L/min on 100 mm at 1 in 50: the friction slope at the depth found is the fall, and it is under the critical depth."""
    q, width = 0.5e-3, 0.1
    depth = inlet_depth(q, 0.0, 10.0, width, 0.02, VISCOSITY)
    bore, speed = 4.0 * width * depth / (width + 2.0 * depth), q / (width * depth)
    factor = fluids.friction_factor(Re=speed * bore / VISCOSITY, eD=PLASTIC / bore, Method="Colebrook")
    assert factor * speed**2 / (2.0 * GRAVITY * bore) == approx(0.02, rel=1e-3)
    assert depth < critical_depth(q, width) == approx((0.005**2 / GRAVITY) ** (1.0 / 3.0))


@pytest.mark.invariant
def test_water_at_rest_in_a_gutter_is_level(read_text: ReadText) -> None:
    """It reaches up the fall as far as it is deep, and holds the wedge that is cut off there: half of its length times depth times width."""
    assert inlet_depth(0.0, 0.05, 3.0, 0.1, 0.01, VISCOSITY) == approx(0.02)
    assert inlet_depth(0.0, 0.02, 3.0, 0.1, 0.01, VISCOSITY) == 0.0
    vessel = read_text(TEXT).vessels["trough"]
    assert content(vessel, vessel.base + 0.03) == approx(0.5 * 3.0 * 0.03 * 0.2)
    assert content(vessel, vessel.base + 0.06) == approx(0.5 * 4.0 * 0.04 * 0.2 + 4.0 * 0.02 * 0.2)
    assert vessel.area == approx(4.0 * 0.2)


@pytest.mark.invariant
def test_a_gutter_stands_deeper_at_its_outlet_end_and_keeps_its_water(read_text: ReadText) -> None:
    layout = read_text(TEXT)
    result = check(layout)
    vessels = layout.vessels
    deep = {name: (got.level or 0.0) - vessels[name].base for name, got in result.flows.vessels.items()}
    high = depth_at_inlet(layout, vessels["trough"], result.flows.vessels["trough"])
    assert high is not None
    assert high == approx(deep["trough"] - 0.04, abs=1e-3)
    assert depth_at_inlet(layout, vessels["sump"], result.flows.vessels["sump"]) is None
    held = math.fsum(content(vessels[name], vessels[name].base + depth) for name, depth in deep.items())
    assert held == approx(math.fsum(content(vessel, vessel.level) for vessel in vessels.values()), rel=2e-3)


@pytest.mark.invariant
def test_a_level_gutter_too_narrow_for_its_water_overtops_at_its_inlet_end() -> None:
    text = TEXT.replace(
        "rim: 150 mm, water: 60 mm, gutter: {length: 4 m, width: 0.2 m, fall: 1 in 100}",
        "rim: 61 mm, water: 60 mm, gutter: {length: 12 m, width: 8 mm}",
    ).replace("trough, standpipe: 60 mm", "trough, weir: 5 mm, width: 0.3 m")
    (found,) = [one for one in check(layout_of(text, "narrow.yaml")).findings if "at its inlet end" in one.message]
    assert (found.kind, found.cure) == ("overtops", "more fall, or a wider gutter")


@pytest.mark.invariant
@pytest.mark.parametrize("word", ["pitch", "slope", "falls"])
def test_other_words_for_a_gutter_s_fall_are_read(word: str) -> None:
    text = TEXT.replace("width: 0.2 m, fall: 1 in 100", f"width: 0.2 m, {word}: 1 in 100")
    assert layout_of(text, "said.yaml").vessels == layout_of(TEXT, "said.yaml").vessels


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "gutter: {length: 4 m, width: 0.2 m, fall: 1 in 100}",
            "area: 1 m^2, gutter: {length: 4 m, width: 0.2 m}",
            "one of them",
        ),
        (
            "gutter: {length: 4 m, width: 0.2 m, fall: 1 in 100}",
            "fall: 1 in 100",
            "write gutter: {length: 3 m, width: 100 mm, fall: 1 in 100}",
        ),
        ("width: 0.2 m, fall: 1 in 100", "width: 0.2 m, fall: 30 mm", "fall: 30 mm in 2 m"),
        ("length: 4 m, width: 0.2 m", "length: 4 m", "'width', between its sides"),
    ],
)
def test_a_gutter_said_otherwise_is_told_what_to_write(old: str, new: str, said: str) -> None:
    with pytest.raises(LayoutError) as error:
        layout_of(TEXT.replace(old, new), "said.yaml")
    assert said in str(error.value)
