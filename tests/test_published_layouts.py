"""Worked examples from print, written down as layouts and solved whole: reader, walk, assembly and solver together.

Marks: [L] read in a stored text, [M] from memory, [V] recomputed independently.
"""

from __future__ import annotations

import math

import pytest
from conftest import ReadText

from plumbline.hydraulics.find import find_flows

M3H = 3600.0
FT = 0.3048
GPM = 231 * 0.0254**3 / 60
WHITE_WATER = "water: {density: 1000 kg/m^3, viscosity: 1.02e-3 Pa s}"
WHITE_PIPES = {
    "one": (100, "{bore: 8 cm, roughness: 0.24 mm}"),
    "two": (150, "{bore: 6 cm, roughness: 0.12 mm}"),
    "three": (80, "{bore: 4 cm, roughness: 0.20 mm}"),
}


@pytest.mark.published
def test_parallel_pipes_of_white_example_6_17(read_text: ReadText) -> None:
    """White, Fluid Mechanics, Ex. 6.17 [M][V]: 62.5, 25.9 and 11.4 m³/h, 99.8 together; Δh = Δp/ρg + Δz."""
    head = 150e3 / (1000 * 9.81) + 5.0
    lines = "".join(
        f"""
  {name}:
    pipe: {pipe}
    from: {{vessel: a, K: 0}}
    route: [{{east: {length} m}}]
    to: {{vessel: b, K: 0}}"""
        for name, (length, pipe) in WHITE_PIPES.items()
    )
    flows = find_flows(
        read_text(
            f"{WHITE_WATER}\nvessels:\n  a: {{base: 0 m, water: {head} m}}\n  b: {{base: 0 m, water: 0 m}}\nlines:{lines}"
        )
    )
    found = [flows.stretches[f"{name}.1"].flow * M3H for name in WHITE_PIPES]
    assert found == pytest.approx([62.5, 25.9, 11.4], abs=0.05)
    assert sum(found) == pytest.approx(99.8, abs=0.05)
    assert flows.vessels["b"].inflow * M3H == pytest.approx(99.8, abs=0.05)


@pytest.mark.published
def test_three_reservoirs_of_white_example_6_18(read_text: ReadText) -> None:
    """White, Ex. 6.18: −52.8, +47.0, +5.8 m³/h towards the junction, whose head is 34.53 m [L answers, M inputs]."""
    layout = read_text(f"""
{WHITE_WATER}
vessels:
  low: {{base: 0 m, water: 20 m}}
  high: {{base: 0 m, water: 100 m}}
  middle: {{base: 0 m, water: 40 m}}
lines:
  main:
    pipe: {WHITE_PIPES["one"][1]}
    from: {{vessel: low, K: 0}}
    route:
      - east: 100 m
      - tee: {{id: j, K: 0}}
      - {{east: 150 m, pipe: {WHITE_PIPES["two"][1]}}}
    to: {{vessel: high, K: 0}}
  side:
    pipe: {WHITE_PIPES["three"][1]}
    from: j
    route: [{{north: 80 m}}]
    to: {{vessel: middle, K: 0}}
""")
    flows = find_flows(layout)
    towards = [flows.stretches["main.1"].flow, -flows.stretches["main.2"].flow, -flows.stretches["side.1"].flow]
    assert [q * M3H for q in towards] == pytest.approx([-52.8, 47.0, 5.8], abs=0.05)
    # The junction's head is printed after a few rounds of hand iteration, to about 0.02 m.
    assert flows.ends["side.from"].head == pytest.approx(34.53, abs=0.02)


@pytest.mark.published
def test_three_reservoirs_of_munson_example_8_14(read_text: ReadText) -> None:
    """Munson, Fundamentals of Fluid Mechanics, Ex. 8.14 [L inputs, M answers]: f = 0.02 throughout; levels 100, 20 and 0 ft.

    A wall rough enough for f = 0.02 at complete turbulence, and a liquid thin enough for that, stand for the constant f. The book
    solves V₁² + 0.4 V₃² = 322 and V₁² + 0.5 V₂² = 258 (ft/s): with 2g = 64.4 ft/s², and 257.6 rounded. These are the levels here.
    """
    level = 322 * 20 / (2 * 9.80665 / FT)
    down = 258 * 20 / (2 * 9.80665 / FT)
    roughness = 3.7 * 10 ** (-0.5 / math.sqrt(0.02))
    layout = read_text(f"""
water: {{density: 1000 kg/m^3, viscosity: 1e-6 Pa s}}
vessels:
  a: {{base: 0 ft, water: {level} ft}}
  b: {{base: 0 ft, water: {level - down} ft}}
  c: {{base: 0 ft, water: 0 ft}}
lines:
  main:
    pipe: {{bore: 1 ft, roughness: {roughness:.6f} ft}}
    from: {{vessel: a, K: 0}}
    route: [{{east: 1000 ft}}, {{tee: {{id: j, K: 0}}}}, {{east: 500 ft}}]
    to: {{vessel: b, K: 0}}
  side:
    pipe: {{bore: 1 ft, roughness: {roughness:.6f} ft}}
    from: j
    route: [{{north: 400 ft}}]
    to: {{vessel: c, K: 0}}
""")
    flows = find_flows(layout)
    found = [flows.stretches[name].flow / FT**3 for name in ("main.1", "main.2", "side.1")]
    assert found[0] == pytest.approx(12.5, abs=0.05)
    assert found[1] == pytest.approx(2.26, abs=0.005)
    assert found[2] == pytest.approx(12.5 - 2.26, abs=0.05)  # printed as 10.2, from the two rounded ones


def white_pump(speed: float = 1.0) -> str:
    """White's pump, H = 490 − 0.26 Q² ft with Q in thousands of gallons a minute, as points."""
    return ", ".join(f"[{q * 1000} gal/min, {490 - 0.26 * q * q} ft]" for q in range(0, 43, 1))


def white_system(lift: float, lines: str, pumps: str) -> str:
    """A pit, a lift, and a loss of 1.335 Q² ft put into one fitting on a 36 in bore."""
    area = math.pi / 4 * (3 * FT) ** 2
    k = 1.335 * FT * 2 * 9.80665 * area**2 / (1000 * GPM) ** 2
    return f"""
water: 60 degF
vessels:
  pit: {{base: 0 ft, water: 10 ft}}
  top: {{base: 0 ft, water: {10 + lift} ft}}
pumps:
{pumps}
lines:
{lines.replace("LOSS", f"fitting: {{K: {k}}}")}
"""


BIG = "pipe: {bore: 3 ft, roughness: 0 mm}"


@pytest.mark.published
def test_one_pump_of_white_example_11_6(read_text: ReadText) -> None:
    """White, Ex. 11.6 [M][V]: 15.2 thousand gal/min at 430 ft."""
    lines = f"  up: {{{BIG}, from: a, route: [{{up: 1 ft}}, LOSS], to: {{vessel: top, K: 0}}}}"
    flows = find_flows(read_text(white_system(120, lines, f"  a: {{in: pit, curve: [{white_pump()}]}}")))
    assert flows.pumps["a"].flow / GPM / 1000 == pytest.approx(15.2, abs=0.05)
    assert flows.pumps["a"].head / FT == pytest.approx(430, abs=0.5)


@pytest.mark.published
def test_two_pumps_in_parallel_of_white_example_11_7(read_text: ReadText) -> None:
    """White, Ex. 11.7 [M][V]: 16.3 thousand gal/min through both."""
    lines = f"""
  up: {{{BIG}, from: a, route: [{{up: 1 ft}}, {{tee: {{id: j, K: 0}}}}, {{up: 1 ft}}, LOSS], to: {{vessel: top, K: 0}}}}
  beside: {{{BIG}, from: b, route: [{{up: 1 ft}}, {{fitting: {{K: 0}}}}, {{east: 1 ft}}], to: j}}"""
    pumps = f"  a: {{in: pit, curve: [{white_pump()}]}}\n  b: {{in: pit, curve: [{white_pump()}]}}"
    flows = find_flows(read_text(white_system(120, lines, pumps)))
    total = flows.pumps["a"].flow + flows.pumps["b"].flow
    assert total / GPM / 1000 == pytest.approx(16.3, abs=0.05)
    assert flows.pumps["a"].flow == pytest.approx(flows.pumps["b"].flow, rel=1e-3)


@pytest.mark.published
def test_two_pumps_in_series_of_white_example_11_8(read_text: ReadText) -> None:
    """White, Ex. 11.8 [M][V]: a lift of 500 ft, 16.1 thousand gal/min at 845 ft of both pumps together."""
    lines = f"""
  between: {{{BIG}, from: a, route: [{{up: 1 ft}}], to: b}}
  up: {{{BIG}, from: b, route: [{{up: 1 ft}}, LOSS], to: {{vessel: top, K: 0}}}}"""
    pumps = f"  a: {{in: pit, curve: [{white_pump()}]}}\n  b: {{curve: [{white_pump()}]}}"
    flows = find_flows(read_text(white_system(500, lines, pumps)))
    assert flows.pumps["a"].flow / GPM / 1000 == pytest.approx(16.1, abs=0.05)
    assert (flows.pumps["a"].head + flows.pumps["b"].head) / FT == pytest.approx(845, abs=0.5)


@pytest.mark.published
def test_flow_from_a_tank_of_crane_example_7_6(read_text: ReadText) -> None:
    """Crane TP-410, Ex. 7.6, as worked in the documentation of `fluids` [L]: 7 m of head, 15 °C, 60 m of 80 mm schedule 40 pipe,
    six threaded elbows, a reduced-port ball valve (seat 60 mm, cones of 16° and 30°), flush entrance, f 0.017 → 2.74 m/s.

    Crane puts f = 0.017; the wall here is made just so rough that Colebrook's f is 0.017 at Crane's speed. Elbow 30 fT and ball
    valve 3 fT, as in Crane's tables [M].
    """
    bore, seat, ft, kinematic = 0.0779, 0.060, 0.017, 1.1386e-6
    reynolds = 2.74 * bore / kinematic
    roughness = 3.7 * (10 ** (-0.5 / math.sqrt(0.017)) - 2.51 / (reynolds * math.sqrt(0.017))) * bore
    # Crane's formula for a valve with a narrower seat: the first cone narrows, the second widens.
    beta = seat / bore
    narrowing, widening = (math.sin(math.radians(cone / 2)) for cone in (16, 30))
    valve = (3 * ft + 0.8 * narrowing * (1 - beta**2) + 2.6 * widening * (1 - beta**2) ** 2) / beta**4
    layout = read_text(f"""
water: 15 degC
vessels: {{tank: {{base: 0 m, water: 7 m}}}}
lines:
  drain:
    pipe: {{bore: {bore} m, roughness: {roughness} m}}
    from: {{vessel: tank, height: 0 m}}
    route: [{{east: 60 m}}, {{fitting: {{K: {6 * 30 * ft + valve}}}}}]
    to: open air
""")
    found = find_flows(layout).stretches["drain.1"]
    assert found.velocity == pytest.approx(2.74, abs=0.005)
    # Printed beside it are 781 L/min, which is 2.73 m/s in this bore: Crane's two figures are rounded on the way.
    assert found.flow * 60_000 == pytest.approx(781, rel=0.005)
