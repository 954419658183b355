"""Water properties against IAPWS tables and against the wide-range viscosity formulation R12-08."""

import re
from itertools import pairwise
from math import exp

import pytest

from plumbline import water

# IAPWS-95 and R12-08 at 101,325 Pa, computed with the general library `iapws` 1.5.5:
# °C, kg/m³, µPa·s, mm²/s. [V]
IAPWS_95 = [
    (0.01, 999.844, 1791.1, 1.7914),
    (5.0, 999.967, 1518.2, 1.5182),
    (10.0, 999.703, 1305.9, 1.3063),
    (15.0, 999.103, 1137.6, 1.1386),
    (20.0, 998.207, 1001.6, 1.0034),
    (25.0, 997.048, 890.0, 0.8927),
    (30.0, 995.650, 797.2, 0.8007),
    (35.0, 994.033, 719.1, 0.7234),
    (40.0, 992.216, 652.7, 0.6579),
    (60.0, 983.196, 466.0, 0.4740),
    (80.0, 971.790, 354.1, 0.3643),
    (99.0, 959.066, 284.6, 0.2967),
]

# IAPWS R12-08, Tables 1 and 2: the second method, used here only.
DILUTE = (1.67752, 2.20462, 0.6366564, -0.241605)
FINITE = {
    (0, 0): 5.20094e-1,
    (1, 0): 8.50895e-2,
    (2, 0): -1.08374,
    (3, 0): -2.89555e-1,
    (0, 1): 2.22531e-1,
    (1, 1): 9.99115e-1,
    (2, 1): 1.88797,
    (3, 1): 1.26613,
    (5, 1): 1.20573e-1,
    (0, 2): -2.81378e-1,
    (1, 2): -9.06851e-1,
    (2, 2): -7.72479e-1,
    (3, 2): -4.89837e-1,
    (4, 2): -2.57040e-1,
    (0, 3): 1.61913e-1,
    (1, 3): 2.57399e-1,
    (0, 4): -3.25372e-2,
    (3, 4): 6.98452e-2,
    (4, 5): 8.72102e-3,
    (3, 6): -4.35673e-3,
    (5, 6): -5.93264e-4,
}


def r12_viscosity(kelvin: float, density: float) -> float:
    """Viscosity [µPa·s] by R12-08 without the critical term."""
    t, r = kelvin / 647.096, density / 322.0
    dilute = 100 * t**0.5 / sum(h / t**i for i, h in enumerate(DILUTE))
    return dilute * exp(r * sum(h * (1 / t - 1) ** i * (r - 1) ** j for (i, j), h in FINITE.items()))


@pytest.mark.second_method
@pytest.mark.parametrize(("celsius", "density", "viscosity", "kinematic"), IAPWS_95)
def test_iapws_95_at_one_atmosphere(celsius, density, viscosity, kinematic):
    # One unit of the last printed digit: SR6-08 is within 0.06 g/m³ and 30 ppm of the wide-range equations.
    assert water.density(celsius) == pytest.approx(density, abs=0.0006)
    assert water.viscosity(celsius) * 1e6 == pytest.approx(viscosity, abs=0.1)
    assert water.viscosity(celsius) / water.density(celsius) * 1e6 == pytest.approx(kinematic, abs=1e-4)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("celsius", "pressure", "density"),
    # IAPWS-95 by `iapws` 1.5.5 [V]
    [(5.0, 0.06e6, 999.9463), (20.0, 0.2e6, 998.2523), (50.0, 0.3e6, 988.1217)],
)
def test_iapws_95_under_pressure(celsius, pressure, density):
    assert water.density(celsius, pressure) == pytest.approx(density, abs=1.5e-4)


@pytest.mark.published
@pytest.mark.parametrize(
    ("kelvin", "density", "viscosity"),
    [  # IAPWS R12-08, Table 4 [L][V]
        (298.15, 998.0, 889.735100),
        (298.15, 1200.0, 1437.649467),
        (373.15, 1000.0, 307.883622),
        (433.15, 1.0, 14.538324),
        (433.15, 1000.0, 217.685358),
    ],
)
def test_the_second_viscosity_method_passes_the_check_table_of_r12_08(kelvin, density, viscosity):
    assert r12_viscosity(kelvin, density) == pytest.approx(viscosity, abs=6e-7)


@pytest.mark.second_method
@pytest.mark.parametrize("celsius", range(0, 101, 5))
def test_viscosity_agrees_with_the_second_method(celsius):
    # The two IAPWS equations differ by at most 29 ppm (at 22 °C); R12-08 itself is good to about 1 %.
    second = r12_viscosity(celsius + 273.15, water.density(celsius))
    assert water.viscosity(celsius) * 1e6 == pytest.approx(second, rel=3e-5)


@pytest.mark.second_method
@pytest.mark.parametrize(("celsius", "pressure"), [(20.0, 2339.2), (40.0, 7384.4)])
def test_saturation_pressure_iapws(celsius, pressure):
    # By IAPWS-95 or IF-97 [V]; SR1-86 is within 0.02 % of both.
    assert water.saturation_pressure(celsius) == pytest.approx(pressure, rel=2e-4)


@pytest.mark.published
def test_water_boils_at_99_974_degrees_at_one_atmosphere():
    # IAPWS SR1-86, boiling point at 0.101325 MPa: 373.1243 K [M], of which the last digit is worth 0.2 Pa.
    assert water.saturation_pressure(373.1243 - 273.15) == pytest.approx(101_325.0, abs=0.2)


@pytest.mark.invariant
def test_density_is_greatest_near_four_degrees_and_viscosity_falls():
    tenths = [i / 10 for i in range(1001)]
    densest = max(tenths, key=water.density)
    assert 3.9 <= densest <= 4.0  # 3.98 °C [M]
    thick = [water.viscosity(t) for t in tenths]
    assert all(a > b for a, b in pairwise(thick))


@pytest.mark.pinned
@pytest.mark.parametrize("celsius", [-0.01, 100.01, float("nan")])
@pytest.mark.parametrize("function", [water.density, water.viscosity, water.saturation_pressure])
def test_outside_the_range_is_said(function, celsius):
    said = f"water at {celsius:g} °C is outside the range of liquid water at one atmosphere, 0 to 100 °C"
    with pytest.raises(ValueError, match=f"^{re.escape(said)}$"):
        function(celsius)


@pytest.mark.pinned
@pytest.mark.parametrize("pressure", [0.49e5, 3.1e5, float("nan")])
def test_pressure_outside_the_range_is_said(pressure):
    said = f"a pressure of {pressure:g} Pa is outside the range of this density of water, 50000 to 300000 Pa"
    with pytest.raises(ValueError, match=f"^{re.escape(said)}$"):
        water.density(20.0, pressure)
