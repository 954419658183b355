"""Density, viscosity, saturation pressure and surface tension of liquid water, by the IAPWS releases, in closed form.

The releases used are short equations made for this range, so that nothing is imported for them.
"""

from __future__ import annotations

from math import exp

__all__ = ["ATMOSPHERE", "GRAVITY", "air_pressure", "density", "saturation_pressure", "surface_tension", "viscosity"]

GRAVITY = 9.80665
"""Standard gravity [m/s²]."""

ATMOSPHERE = 101_325.0
"""One standard atmosphere [Pa]."""

_LOWEST, _HIGHEST = 0.0, 100.0
_LOWEST_PRESSURE, _HIGHEST_PRESSURE = 0.5e5, 3.0e5

# IAPWS SR6-08(2011), Eq. (2) and (3): reference pressure, specific gas constant, temperatures, then
# (coefficient, power) of α = 10/(593 − T) and of β = 10/(T − 232), for v and for its slope in pressure.
_P0, _R = 1.0e5, 461.51805
_VOLUME_ALPHA = (
    (1.93763157e-2, 0),
    (6.74458446e3, 4),
    (-2.22521604e5, 5),
    (1.00231247e8, 7),
    (-1.63552118e9, 8),
    (8.32299658e9, 9),
)
_VOLUME_BETA = (
    (5.78545292e-3, 1),
    (-1.53195665e-2, 2),
    (3.11337859e-2, 3),
    (-4.23546241e-2, 4),
    (3.38713507e-2, 5),
    (-1.19946761e-2, 6),
)
_SLOPE_ALPHA = ((-7.5245878e-6, 1), (-1.3767418e-2, 3), (1.0627293e1, 5), (-2.0457795e2, 6), (1.2037414e3, 7))
_SLOPE_BETA = (
    (-3.1091470e-6, 1),
    (2.8964919e-5, 3),
    (-1.3112763e-4, 4),
    (3.0410453e-4, 5),
    (-3.9034594e-4, 6),
    (2.3403117e-4, 7),
    (-4.8510101e-5, 9),
)

# IAPWS SR6-08(2011), Eq. (7): (coefficient [µPa·s], power) of T/(300 K).
_VISCOSITY = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))

# IAPWS SR1-86(1992), Eq. (1): (coefficient, power) of 1 − T/Tc.
_TC, _PC = 647.096, 22.064e6
_SATURATION = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)


def density(temperature_c: float, pressure: float = ATMOSPHERE) -> float:
    """Density of liquid water.

    ρ = 1/v, v = v₀(T) + (p − p₀)·(∂v/∂p)₀ with p₀ = 0.1 MPa.

    Parameters:
        temperature_c: temperature [°C]
        pressure: absolute pressure [Pa], one atmosphere if left out

    Returns:
        Density [kg/m³].

    Raises:
        ValueError: outside 0–100 °C or 0.05–0.3 MPa.

    Validity: pure liquid water; nothing is extrapolated. The release itself runs from −20 to 110 °C.

    >>> round(density(20.0), 3)
    998.207

    Reference:
        IAPWS SR6-08(2011), Properties of liquid water at 0.1 MPa, Eq. (2) and (3), Table 1.
    """
    kelvin = _kelvin(temperature_c)
    if not _LOWEST_PRESSURE <= pressure <= _HIGHEST_PRESSURE:
        raise ValueError(
            f"a pressure of {pressure:g} Pa is outside the range of this density of water, "
            f"{_LOWEST_PRESSURE:g} to {_HIGHEST_PRESSURE:g} Pa"
        )
    alpha, beta = 10.0 / (593.0 - kelvin), 10.0 / (kelvin - 232.0)
    volume = _series(_VOLUME_ALPHA, alpha) + _series(_VOLUME_BETA, beta)
    slope = _series(_SLOPE_ALPHA, alpha) + _series(_SLOPE_BETA, beta)
    return 1.0 / (10.0 * _R / _P0 * (volume + (pressure / _P0 - 1.0) * slope))


def viscosity(temperature_c: float) -> float:
    """Dynamic viscosity of liquid water at one atmosphere.

    µ = Σ aᵢ (T/300 K)^bᵢ µPa·s. It agrees with the wide-range formulation R12-08 within 0.003 %.

    Parameters:
        temperature_c: temperature [°C]

    Returns:
        Dynamic viscosity [Pa·s]. Divide by `density` for the kinematic viscosity [m²/s].

    Raises:
        ValueError: outside 0–100 °C.

    Validity: pure liquid water near 0.1 MPa; the release's own range is −20 to 110 °C.

    >>> round(viscosity(20.0) * 1e6, 1)
    1001.6

    Reference:
        IAPWS SR6-08(2011), Properties of liquid water at 0.1 MPa, Eq. (7), Table 5.
    """
    ratio = _kelvin(temperature_c) / 300.0
    return float(1e-6 * sum(coefficient * ratio**power for coefficient, power in _VISCOSITY))


def saturation_pressure(temperature_c: float) -> float:
    """Absolute pressure at which water boils.

    ln(p/p_c) = T_c/T · Σ aᵢ (1 − T/T_c)^nᵢ.

    Parameters:
        temperature_c: temperature [°C]

    Returns:
        Saturation pressure [Pa, absolute].

    Raises:
        ValueError: outside 0–100 °C.

    Validity: the release runs from the triple point, 0.01 °C, to the critical point; the last hundredth of a
    degree above freezing is taken along.

    >>> round(saturation_pressure(20.0), 1)
    2339.2

    Reference:
        IAPWS SR1-86(1992), Saturation properties of ordinary water substance, Eq. (1).
    """
    kelvin = _kelvin(temperature_c)
    theta = 1.0 - kelvin / _TC
    return _PC * exp(_TC / kelvin * sum(a * theta**n for a, n in _SATURATION))


def surface_tension(temperature_c: float) -> float:
    """Surface tension of clean water against its own vapour, which that against air hardly differs from.

    σ = B τ^µ (1 + b τ), τ = 1 − T/T_c, with B = 0.2358 N/m, b = −0.625, µ = 1.256.

    Parameters:
        temperature_c: temperature [°C]

    Returns:
        Surface tension [N/m].

    Raises:
        ValueError: outside 0–100 °C.

    Validity: clean water; what fish and feed give off lowers it, by how much is not known.

    >>> round(surface_tension(20.0) * 1e3, 2)
    72.74

    Reference:
        IAPWS R1-76(2014), Surface tension of ordinary water substance, Eq. (1) (from memory).
    """
    tau = 1.0 - _kelvin(temperature_c) / _TC
    return float(0.2358 * tau**1.256 * (1.0 - 0.625 * tau))


def _kelvin(temperature_c: float) -> float:
    if not _LOWEST <= temperature_c <= _HIGHEST:  # NaN fails too
        raise ValueError(
            f"water at {temperature_c:g} °C is outside the range of liquid water at one atmosphere, "
            f"{_LOWEST:g} to {_HIGHEST:g} °C"
        )
    return temperature_c + 273.15


def _series(terms: tuple[tuple[float, int], ...], x: float) -> float:
    return sum(coefficient * float(x**power) for coefficient, power in terms)


def air_pressure(altitude: float) -> float:
    """Give the pressure of the air at a height above the sea.

    p = p₀ (1 − 2.25577·10⁻⁵ h)^5.25588.

    Parameters:
        altitude: h, height above the sea [m].

    Returns:
        Absolute pressure [Pa] in the standard atmosphere; the weather moves it by some per cent.

    Raises:
        ValueError: outside −1000 to 11,000 m.

    Validity: the standard atmosphere's lowest layer.

    >>> round(air_pressure(1000.0), -1)
    89870.0

    Reference: ISO 2533 and US Standard Atmosphere 1976, in the closed form of ASHRAE Handbook, Fundamentals, ch. 1, eq. 3.
    """
    if not -1000.0 <= altitude <= 11000.0:
        raise ValueError(f"the standard atmosphere is taken from -1000 to 11000 m, not at {altitude:g} m")
    return float(ATMOSPHERE * (1.0 - 2.25577e-5 * altitude) ** 5.25588)
