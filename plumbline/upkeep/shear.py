"""Speed, wall shear and the water in pipe, full and part-full."""

from __future__ import annotations

import math
from collections.abc import Mapping

from ..layout.model import Stretch
from ..water import GRAVITY

__all__ = ["film_shear", "settles", "speed", "volume", "wall_shear"]


def speed(flow: float, bore: float) -> float:
    """Give the mean speed in full pipe, V = 4|Q|/(πD²).

    Parameters:
        flow: [m³/s], either sign
        bore: inside diameter [m]

    Returns:
        mean speed [m/s]

    >>> round(speed(30 / 60000, 0.026), 3)
    0.942
    """
    return 4.0 * abs(flow) / (math.pi * bore**2)


def settles(velocity: float, limits: Mapping[str, float]) -> bool:
    """Tell whether fish solids come to rest at a speed [m/s]: one under the limit `self-cleansing speed`, told to the hundredth as that is.

    >>> settles(0.29, {"self-cleansing speed": 0.3}), settles(0.2972, {"self-cleansing speed": 0.3})
    (True, False)
    """
    return velocity < limits["self-cleansing speed"] - 0.005


def wall_shear(flow: float, bore: float, roughness: float, density: float, viscosity: float) -> float:
    """Give the wall shear in full pipe, τ = f ρ V²/8.

    Parameters:
        flow: [m³/s], either sign
        bore: inside diameter [m]
        roughness: [m]
        density: ρ [kg/m³]
        viscosity: dynamic, μ [Pa·s]

    Returns:
        shear stress [Pa]; 0 at rest

    >>> round(wall_shear(30 / 60000, 0.026, 1.5e-6, 998.0, 1.0e-3), 2)
    2.74

    Reference: White, *Fluid Mechanics*, eq. 6.11, f = 8τ/(ρV²) (from memory).
    """
    from ..hydraulics.friction import friction_factor

    if flow == 0.0:
        return 0.0
    velocity = speed(flow, bore)
    factor = float(friction_factor(density * velocity * bore / viscosity, roughness / bore))
    return factor * density * velocity**2 / 8.0


def film_shear(radius: float, fall: float, density: float, gravity: float = GRAVITY) -> float:
    """Give the wall shear of a steady part-full stream, τ = ρ g R S.

    Parameters:
        radius: hydraulic radius of the stream, R [m]; a quarter of the bore where the pipe is full or half full
        fall: S, drop over developed length [-], not below 0
        density: ρ [kg/m³]
        gravity: g [m/s²]

    Returns:
        shear stress, the mean over the wetted wall [Pa]

    >>> round(film_shear(0.0125, 0.01, 998.0), 2)
    1.22

    Reference: ASCE Manual 60 / WEF FD-5, tractive force method, at second hand; Chow (1959), eq. 7-3 (from memory).
    """
    return density * gravity * radius * max(fall, 0.0)


def volume(stretch: Stretch, start: float | None = None, stop: float | None = None) -> float:
    """Give the water [m³] that the full pipe of a stretch holds, or a part of it between two places along its line [m]."""
    low = stretch.start if start is None else start
    high = stretch.stop if stop is None else stop
    out = 0.0
    for part in stretch.parts:
        size = min(high, part.at + part.length) - max(low, part.at)
        if part.is_pipe and size > 0.0:
            out += math.pi / 4 * part.pipe.bore**2 * size
    return out
