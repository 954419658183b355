"""Places under the air's pressure, and the suction side of pumps: against printed values, and against Bernoulli by hand."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from plumbline.findings import Finding
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.pressure import (
    low_places,
    npsh_available,
    pressures,
    suctions,
    vapour_head,
)
from plumbline.layout.model import Layout, Water
from plumbline.water import GRAVITY, air_pressure, density, viscosity

ReadText = Callable[[str], Layout]
FOOT, PSI, POUND_FOOT3 = 0.3048, 6894.757293168, 16.01846337


# ---------------------------------------------------------------------- printed values


@pytest.mark.published
@pytest.mark.parametrize(
    ("altitude", "kilopascal"),
    [(-500.0, 107.478), (500.0, 95.461), (1000.0, 89.875), (2000.0, 79.495), (3000.0, 70.108)],
)
def test_air_pressure_is_that_of_ashrae(altitude: float, kilopascal: float) -> None:
    """ASHRAE Handbook, Fundamentals, ch. 1, Table 1, Standard atmospheric data (from memory). At 3,000 m the closed form is half a unit of
    the last digit off, and a fiftieth."""
    assert air_pressure(altitude) / 1e3 == pytest.approx(kilopascal, abs=5.3e-4)


@pytest.mark.second_method
@pytest.mark.parametrize("altitude", [-400.0, 0.0, 300.0, 1200.0, 2500.0, 5000.0])
def test_air_pressure_against_the_standard_atmosphere_in_layers(altitude: float) -> None:
    """A second way: the US Standard Atmosphere 1976 of `fluids`, which counts with geopotential height; the closed form takes
    height as it is, which makes 0.06 % at 5 km."""
    from fluids.atmosphere import ATMOSPHERE_1976

    assert air_pressure(altitude) == pytest.approx(ATMOSPHERE_1976(altitude).P, rel=6e-4)


@pytest.mark.published
@pytest.mark.parametrize(("fahrenheit", "feet"), [(50.0, 0.411), (60.0, 0.591), (85.0, 1.379), (100.0, 2.203)])
def test_vapour_head_is_that_of_the_table(fahrenheit: float, feet: float) -> None:
    """Bachus & Custodio, Know and Understand Centrifugal Pumps, 2003, "Properties of water II" (looked up); its steam table is
    older, to about 0.2 %; above 100 °F its own density is off by 0.1 %."""
    celsius = (fahrenheit - 32.0) / 1.8
    assert vapour_head(Water(density(celsius), viscosity(celsius), celsius)) / FOOT == pytest.approx(feet, rel=2.5e-3)


@pytest.mark.published
def test_a_pump_that_sucks_on_a_mountain() -> None:
    """Bachus & Custodio, ch. 2: a pump 8 ft above an open tank at 7,000 ft, water at 50 °F, 1 ft of friction and 2 ft at the
    inlet; air 26.2 ft, vapour 0.411 ft (looked up): 26.2 − 8 − 0.411 − 1 − 2 = 14.8 ft is left."""
    rho = density(10.0)
    air = air_pressure(7000.0 * FOOT)
    assert air / (rho * GRAVITY) / FOOT == pytest.approx(26.2, abs=0.05)
    npsh = npsh_available(air, vapour_head(Water(rho, viscosity(10.0), 10.0)) * rho * GRAVITY, rho, 8 * FOOT, 3 * FOOT)
    assert npsh / FOOT == pytest.approx(14.8, abs=0.05)


@pytest.mark.published
@pytest.mark.parametrize(
    ("vapour", "weight", "feet"), [(0.26, 62.4, -12.7), (11.52, 62.4 * 0.9635, -38.4)], ids=["60 °F", "200 °F"]
)
def test_where_a_pump_must_stand_below_its_reservoir(vapour: float, weight: float, feet: float) -> None:
    """F. M. White, Fluid Mechanics, Ex. 11.2 (from memory, recomputed): a pump that asks for 40 ft, 6 ft lost on the way,
    14.7 psi of air; water at 60 °F and at 200 °F."""
    rho = weight * POUND_FOOT3
    lift = npsh_available(14.7 * PSI, vapour * PSI, rho, 0.0, 6.0 * FOOT) - 40.0 * FOOT
    assert lift / FOOT == pytest.approx(feet, abs=0.05)


@pytest.mark.pinned
def test_heights_outside_the_lowest_layer_are_refused() -> None:
    for height in (-1001.0, 11001.0, math.nan):
        with pytest.raises(ValueError, match="the standard atmosphere is taken from -1000 to 11000 m"):
            air_pressure(height)


# ---------------------------------------------------------------------- a hump


def over_a_wall(up: float, *, more: str = "", limits: str = "") -> str:
    """A pumped line over a wall and down into a pool, every loss stated, in wide pipe."""
    return f"""
    {limits}
    water: 20 degC
    vessels:
      pond: {{base: 0 m, water: 1 m}}
      pool: {{base: 0 m, water: 2 m}}
    pumps:
      lift: {{in: pond, height: 0 m, curve: [[0 L/min, {up + 2} m], [60 L/min, {up - 1} m], [100 L/min, 1 m]]}}
    lines:
      main:
        pipe: {{bore: 40 mm, roughness: 0 mm}}
        from: lift
        route: [{{up: {up} m}}, elbow: {{K: 0.9}}, {{east: 1 m}}, elbow: {{K: 0.9}}, {{down: {up - 1} m}}]
        to: pool
    {more}
    """


def found(layout: Layout, kind: str) -> list[Finding]:
    return [one for one in pressures(layout, find_flows(layout)) if one.kind == kind]


@pytest.mark.second_method
def test_the_lowest_pressure_is_that_of_bernoulli_from_the_pool_back(read_text: ReadText) -> None:
    from fluids.friction import friction_factor

    layout = read_text(over_a_wall(4.0))
    flows = find_flows(layout)
    (low,) = low_places(layout, flows, 0.5)
    q = flows.ends["main.to"].flow
    speed = q / (math.pi / 4 * 0.04**2)
    head = speed**2 / (2 * GRAVITY)
    reynolds = speed * 0.04 * layout.water.density / layout.water.viscosity
    drop = float(friction_factor(Re=reynolds, eD=0.0)) * 3.0 / 0.04 * head
    # Beyond the second elbow: the pool's level, what the drop loses and the exit, less the speed and the height.
    assert low.pressure == pytest.approx(2.0 + drop + head - head - 4.0, abs=1e-4)
    assert (low.line, low.height, low.pumped, low.sucks) == ("main", 4.0, True, False)
    assert low.part is not None
    assert (low.part.kind, low.part.step) == ("elbow", 4)


@pytest.mark.pinned
def test_the_hump_is_named_with_its_height_and_how_much(read_text: ReadText) -> None:
    layout = read_text(over_a_wall(4.0))
    (low,) = low_places(layout, find_flows(layout), 0.5)
    (one,) = found(layout, "under-pressure")
    assert (one.level, one.line, one.step) == ("warn", "main", 4)
    assert one.message == (
        f"The water at step 4 (elbow) of line 'main', 4.00 m above the datum, is {-low.pressure:.2f} m of head under the air's "
        "pressure: the pipe beyond pulls it over, a joint that is not tight draws in air, and then less flows."
    )
    assert one.cure == (
        "put an open vent pipe at step 4 of line 'main', if enough flows without that pull; if not, lay the pipe at step 4 of "
        f"'main' {-low.pressure:.2f} m lower"
    )


@pytest.mark.invariant
def test_the_limit_decides(read_text: ReadText) -> None:
    layout = read_text(over_a_wall(4.0))
    (low,) = low_places(layout, find_flows(layout), 0.5)
    for limit, count in ((-low.pressure - 0.01, 1), (-low.pressure + 0.01, 0)):
        own = read_text(over_a_wall(4.0, limits=f"limits: {{under pressure: {limit} m}}"))
        assert len(found(own, "under-pressure")) == count


@pytest.mark.invariant
def test_where_the_water_would_boil_it_fails(read_text: ReadText) -> None:
    low, high = (found(read_text(over_a_wall(up)), "under-pressure")[0] for up in (11.5, 13.0))
    assert low.level == "warn"
    assert high.level == "fail"
    assert high.message.startswith("The water would boil at step 4 (elbow) of line 'main', 13.00 m above the datum: ")
    assert high.message.endswith("and 10.11 m is the most there is. Less flows than shown.")
    assert high.cure.startswith(
        "put an open vent pipe at step 4 of line 'main', if enough flows without that pull; if not, "
    )
    # At 3,000 m the air holds up 7.2 m: what only sucks at sea level boils there.
    assert found(read_text(over_a_wall(9.8)), "under-pressure")[0].level == "warn"
    assert found(read_text(over_a_wall(9.8, limits="altitude: 3000 m")), "under-pressure")[0].level == "fail"


@pytest.mark.invariant
def test_one_hump_of_two_lines_is_told_once_and_two_humps_twice(read_text: ReadText) -> None:
    body = """
    vessels:
      pond: {{base: 0 m, water: 1 m}}
      west pool: {{base: 0 m, water: 2 m}}
      east pool: {{base: 0 m, water: 2 m}}
    pumps: {{lift: {{in: pond, curve: [[0 L/min, 6 m], [60 L/min, 4 m], [100 L/min, 1 m]]}}}}
    lines:
      main:
        pipe: {{bore: 40 mm, roughness: 0 mm}}
        from: lift
        route: [{{up: {tee} m}}, tee: t, {{west: 1 m}}, {top} {{down: {down} m}}]
        to: west pool
      branch:
        pipe: {{bore: 40 mm, roughness: 0 mm}}
        from: t
        route: [{{east: 1 m}}, {top} {{down: {down} m}}]
        to: east pool
    """
    one = read_text(body.format(tee=4.0, top="elbow,", down=3.0))
    assert len(found(one, "under-pressure")) == 1
    two = read_text(body.format(tee=1.0, top="elbow, {up: 3 m}, elbow, {north: 1 m}, elbow,", down=3.0))
    assert [one.line for one in found(two, "under-pressure")] == ["main", "branch"]


@pytest.mark.invariant
def test_water_that_falls_from_a_tap_is_pulled_by_nothing_that_it_hangs_on(read_text: ReadText) -> None:
    """The pipe is under the air's pressure as a siphon's is, but a tap gives what it gives; the same pipe out of a tank is told of."""
    text = """
    vessels:
      header: {{base: 2 m, water: 1 m}}
      sump: {{base: 0 m, water: 0.4 m}}
    lines:
      mains:
        pipe: {{bore: 15 mm, material: pvc}}
        from: {start}
        route: [{{east: 1 m}}, elbow, {{down: 1.45 m}}]
        to: sump
    """
    tap = read_text(text.format(start="{supply: 8 L/min, height: 2.2 m}"))
    tank = read_text(text.format(start="{vessel: header, height: 0.2 m}"))
    assert low_places(tap, find_flows(tap), 0.5)[0].pressure < -1.0
    assert (len(found(tap, "under-pressure")), len(found(tank, "under-pressure"))) == (0, 1)


@pytest.mark.pinned
def test_a_siphon_between_vessels_is_told_as_one(read_text: ReadText) -> None:
    layout = read_text("""
    vessels:
      high: {base: 1 m, water: 1 m}
      low: {base: 0 m, water: 0.5 m}
    lines:
      siphon:
        pipe: pvc 32
        from: {vessel: high, height: 0.2 m}
        route: [{up: 1.8 m}, elbow, {east: 1 m}, elbow, {down: 2.8 m}]
        to: low
    """)
    (one,) = found(layout, "under-pressure")
    assert "the line is a siphon" in one.message
    assert "a cap there to start the siphon by" in one.cure


@pytest.mark.invariant
def test_a_drain_that_takes_air_in_and_still_drains_are_left_out(read_text: ReadText) -> None:
    layout = read_text("""
    vessels:
      source: {base: 2 m, water: 1 m}
      bed: {base: 1 m, water: 0.3 m, rim: 0.4 m, area: 1 m^2}
      sump: {base: -2 m, water: 0.5 m}
      spare: {base: 1 m, water: 0.2 m, rim: 0.4 m}
    lines:
      feed: {pipe: pvc 20, from: {vessel: source, height: 0.2 m}, route: [{east: 1 m}, elbow, {down: 0.7 m}], to: bed}
      drain:
        pipe: pvc 32
        from: {vessel: bed, standpipe: 0.3 m}
        route: [{down: 0.2 m}, elbow, {east: 3 m, down: 30 mm}, elbow, {down: 2 m}]
        to: sump
      dry: {pipe: pvc 32, from: {vessel: spare, standpipe: 0.3 m}, route: [{down: 2 m}], to: sump}
    """)
    assert [low for low in low_places(layout, find_flows(layout), 0.05) if low.line != "feed"] == []


@pytest.mark.invariant
def test_pipe_to_a_bed_too_high_for_the_pump_holds_air_and_is_left_out(read_text: ReadText) -> None:
    layout = read_text("""
    vessels:
      pond: {base: 0 m, water: 1 m}
      bed: {base: 1 m, water: 0.2 m, rim: 0.4 m, area: 1 m^2}
      loft: {base: 5 m, water: 0.2 m, rim: 0.6 m, area: 1 m^2}
    pumps:
      lift: {in: pond, height: 0 m, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
    lines:
      main: {pipe: pvc 25, from: lift, route: [{up: 0.5 m}, tee: t, {up: 1 m}], to: bed}
      riser: {pipe: pvc 25, from: {vessel: loft, height: 0.5 m}, route: [{east: 0.2 m}, elbow, {down: 5 m}, elbow, {west: 0.5 m}], to: t}
      back: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.5 m}], to: pond}
    """)
    flows = find_flows(layout)
    assert {stretch.line for stretch in layout.stretches if stretch.id in flows.held} == {"riser"}
    assert low_places(layout, flows, 0.1) == ()


# ---------------------------------------------------------------------- suction lines


def bank_pump(up: float, *, pump: str = "", top: str = "") -> str:
    return f"""
    {top}
    vessels:
      pond: {{base: 0 m, water: 1 m}}
      header: {{base: {up + 4} m, water: 0.5 m}}
    pumps:
      bank: {{curve: [[0 L/min, 14 m], [30 L/min, 8 m], [60 L/min, 1 m]]{pump}}}
    lines:
      suction:
        pipe: {{bore: 26 mm, roughness: 0 mm}}
        from: {{vessel: pond, height: 0.2 m, K: 0.8}}
        route: [foot valve: {{K: 2}}, {{up: {up} m}}, elbow: {{K: 0.9}}, {{east: 2 m}}]
        to: bank
      rising: {{pipe: pvc 25, from: bank, route: [{{up: 4.6 m}}, elbow, {{east: 1 m}}, elbow, {{down: 0.5 m}}], to: header}}
    """


@pytest.mark.second_method
def test_what_is_left_at_the_inlet_by_hand(read_text: ReadText) -> None:
    from fluids.friction import friction_factor

    layout = read_text(bank_pump(4.0, top="water: 25 degC\n    altitude: 500 m"))
    flows = find_flows(layout)
    (suction,) = suctions(layout, flows)
    rho, mu = layout.water.density, layout.water.viscosity
    speed = flows.pumps["bank"].flow / (math.pi / 4 * 0.026**2)
    head = speed**2 / (2 * GRAVITY)
    f = float(friction_factor(Re=speed * 0.026 * rho / mu, eD=0.0))
    losses = (0.8 + 2.0 + 0.9 + f * 6.0 / 0.026) * head
    assert suction.losses == pytest.approx(losses, abs=1e-4)
    assert suction.height == pytest.approx(4.2)
    assert suction.lift == pytest.approx(3.2 + losses, abs=1e-4)
    # 95.461 kPa at 500 m (ASHRAE, as above); 3169.9 Pa of vapour at 25 °C (steam tables, from memory).
    assert suction.npsh == pytest.approx((95461.0 - 3169.9) / (rho * GRAVITY) - 3.2 - losses, abs=2e-4)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("up", "pump", "top", "level"),
    [
        (3.0, "", "", None),
        (7.0, "", "", "warn"),  # 3.7 m are left, but 6.4 m are sucked
        (7.0, "", "limits: {suction lift: 6.5 m}", None),
        (8.0, "", "limits: {suction lift: 9 m}", "warn"),  # 2.8 m are left
        (4.2, ", npsh: 5.2 m", "", None),  # 6.4 m are left
        (4.2, ", npsh: 5.6 m", "", "warn"),
        (4.2, ", npsh: 6.5 m", "", "fail"),
        (9.0, "", "altitude: 3000 m", "fail"),  # less than nothing is left
    ],
)
def test_the_limits_or_the_makers_figure_decide(
    read_text: ReadText, up: float, pump: str, top: str, level: str | None
) -> None:
    layout = read_text(bank_pump(up, pump=pump, top=top))
    assert [one.level for one in found(layout, "suction-lift")] == ([level] if level else [])


@pytest.mark.pinned
def test_the_long_lift_is_told_even_where_the_pump_asks_for_little(read_text: ReadText) -> None:
    layout = read_text(bank_pump(7.0, pump=", npsh: 0.5 m"))
    (one,) = found(layout, "suction-lift")
    assert one.message.endswith("; more than 6.00 m of suction are seldom kept up.")


@pytest.mark.pinned
def test_it_says_where_the_air_goes_and_what_to_do(read_text: ReadText) -> None:
    layout = read_text(bank_pump(4.2, pump=", npsh: 5.6 m", top="water: {density: 998 kg/m^3, viscosity: 1e-3 Pa s}"))
    (suction,) = suctions(layout, find_flows(layout))
    (one,) = found(layout, "suction-lift")
    assert suction.losses is not None
    assert one.message == (
        f"Pump 'bank' sucks hard: of the 10.35 m of head that the air gives, 3.40 m go into lift, {suction.losses:.2f} m into "
        f"line 'suction' and 0.24 m into vapour at 20 °C, so {suction.npsh:.2f} m are left at its inlet; it should have 6.50 m, "
        "what its maker asks for and a margin."
    )
    assert one.cure.startswith(f"stand 'bank' {6.5 - suction.npsh:.2f} m lower, or in the water")
    assert one.line == "suction"


@pytest.mark.invariant
def test_the_suction_line_itself_is_not_told_twice(read_text: ReadText) -> None:
    for up, top in ((6.0, ""), (9.0, "altitude: 3000 m")):
        assert found(read_text(bank_pump(up, top=top)), "under-pressure") == []


@pytest.mark.invariant
def test_a_pump_under_water_has_no_suction_line(read_text: ReadText) -> None:
    layout = read_text(over_a_wall(4.0))
    assert suctions(layout, find_flows(layout)) == ()
