"""The airlift of a layout: its riser, what it stands in, its curve, and the power that its air takes."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

from .. import catalogue
from ..catalogue.loss_laws import Constant
from ..layout.model import Airlift, Default, Layout, Pump, Water
from ..water import GRAVITY, air_pressure, surface_tension
from .airlift import Surroundings, curve_points, isothermal_power

__all__ = [
    "AirPower",
    "air_power",
    "airlift_curve",
    "as_riser",
    "curve_of",
    "estimates",
    "inlet_k",
    "power_of",
    "surroundings",
]


class AirPower(NamedTuple):
    """What an air pump takes. `pressure` [Pa] over the atmosphere's at the pump; `air` power by isothermal compression [W];
    `low`, `likely` and `high` from the mains [W]."""

    pressure: float
    air: float
    low: float
    likely: float
    high: float


def surroundings(water: Water, altitude: float) -> Surroundings:
    """What a layout's risers stand in; the surface tension of clean water, at 20 °C where no temperature is stated."""
    celsius = 20.0 if water.temperature is None else water.temperature
    return Surroundings(water.density, water.viscosity, surface_tension(celsius), air_pressure(altitude), GRAVITY)


def as_riser(airlift: Airlift, around: Surroundings) -> dict[str, Any]:
    """What `riser_heads` and the others take of an airlift, but for its air: an open pipe end at the foot."""
    return {
        "bore": airlift.riser.bore,
        "length": airlift.length,
        "submergence": airlift.depth,
        "roughness": airlift.riser.roughness,
        "inlet_k": inlet_k(),
        "around": around,
    }


def inlet_k() -> float:
    """Loss at a riser's foot: that of a pipe that stands in the water, of the catalogue's."""
    law = catalogue.fittings()["entrance re-entrant"].loss
    assert isinstance(law, Constant)
    return law.k


@lru_cache(maxsize=64)
def airlift_curve(airlift: Airlift, around: Surroundings) -> tuple[tuple[float, float], ...]:
    """The curve of a layout's airlift: `curve_points`."""
    return curve_points(airlift.air, **as_riser(airlift, around))


def curve_of(layout: Layout, pump: Pump) -> tuple[tuple[float, float], ...]:
    """What a pump gives, ((flow [m³/s], head [m]), …): what the file states, or what an airlift's riser and air make."""
    if pump.curve or pump.airlift is None:
        return pump.curve
    return airlift_curve(pump.airlift, surroundings(layout.water, layout.altitude))


def power_of(layout: Layout, pump: Pump) -> float | None:
    """What a pump takes from the mains [W]: what the file states, for an airlift else an estimate; None where it is not known."""
    if pump.power is not None or pump.airlift is None:
        return pump.power
    return air_power(pump.airlift, surroundings(layout.water, layout.altitude)).likely


def estimates(layout: Layout) -> tuple[Default, ...]:
    """The powers of air pumps that the file leaves out, and that are estimated."""
    return tuple(
        Default(
            f"pump '{pump.name}'",
            f"{power_of(layout, pump):.0f} W, an estimate for its air pump from air and depth",
            "catalogue/airlift.yaml, efficiency 20 % (10 to 30 %), from memory",
        )
        for pump in layout.pumps.values()
        if pump.airlift is not None and pump.power is None
    )


def air_power(airlift: Airlift, around: Surroundings) -> AirPower:
    """Estimate what the air costs.

    P = p₀ Q ln(1 + p/p₀)/η, p = ρgS and what hose, valve and inlet take

    Returns:
        `AirPower`; low with the best pump and the least loss in the line, high with the worst and most.

    Reference: isothermal compression; pressure and efficiency from catalogue/airlift.yaml (from memory).
    """
    line, pump = catalogue.airlift()["air line"], catalogue.airlift()["air pump"]
    still = around.density * around.gravity * airlift.depth
    low, likely, high = (
        float(isothermal_power(airlift.air, still + more, around.atmosphere))
        for more in (line.low, line.likely, line.high)
    )
    return AirPower(still + line.likely, likely, low / pump.high, likely / pump.likely, high / pump.low)
