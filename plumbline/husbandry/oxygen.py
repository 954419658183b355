"""How much oxygen water holds."""

from __future__ import annotations

import math

from ..water import ATMOSPHERE, saturation_pressure

__all__ = ["WARMEST", "oxygen_saturation"]

_COEFFICIENTS = (-139.34411, 1.575701e5, -6.642308e7, 1.243800e10, -8.621949e11)
WARMEST = 40.0
"""The oxygen in water is known up to here [°C]."""


def oxygen_saturation(celsius: float, pressure: float = ATMOSPHERE) -> float:
    """Give the oxygen in fresh water that is in balance with moist air.

    ln C = −139.34411 + 1.575701·10⁵/T − 6.642308·10⁷/T² + 1.243800·10¹⁰/T³ − 8.621949·10¹¹/T⁴ at one atmosphere, C in mg/L
    and T in K; by pressure as (p − p_v)/(p₀ − p_v), with the vapour's pressure p_v of IAPWS SR1-86.

    Parameters:
        celsius: of the water [°C]
        pressure: of the air [Pa]

    Returns:
        concentration [kg/m³]

    Raises:
        ValueError: outside 0 to 40 °C, or where the air's pressure is no higher than the vapour's

    Validity: 0 to 40 °C, no salt.

    >>> round(oxygen_saturation(20.0) * 1000.0, 2)
    9.09

    Reference: Benson and Krause 1984, as in Standard Methods for the Examination of Water and Wastewater, 4500-O (from memory).
    """
    if not 0.0 <= celsius <= WARMEST:
        raise ValueError(f"oxygen in water is known from 0 to 40 °C, not at {celsius:g} °C")
    kelvin = celsius + 273.15
    milligrams: float = math.exp(sum(c / kelvin**power for power, c in enumerate(_COEFFICIENTS)))
    vapour = saturation_pressure(max(celsius, 0.01))
    if pressure <= vapour:
        raise ValueError(f"the air's pressure, {pressure:g} Pa, is no higher than that of the water's vapour")
    return 1e-3 * milligrams * (pressure - vapour) / (ATMOSPHERE - vapour)
