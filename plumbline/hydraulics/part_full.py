"""Round pipe that runs part-full down a fall, as drains do."""

from __future__ import annotations

import math
from functools import lru_cache

from ..water import GRAVITY
from .roots import root

__all__ = ["capacity", "part_full_speed", "shares"]


def shares(depth: float) -> tuple[float, float, float, float]:
    """Give area, hydraulic radius, speed and flow of part-full round pipe over those of full pipe at the same fall.

    With θ = 2 arccos(1 − 2 y/D): A/Af = (θ − sin θ)/2π, R/Rf = 1 − sin θ/θ, V/Vf = (R/Rf)^⅔ (Manning, n constant).

    Parameters:
        depth: y/D [-], above 0 to 1.

    Returns:
        (A/Af, R/Rf, V/Vf, Q/Qf) [-].

    >>> [round(x, 4) for x in shares(0.5)]
    [0.5, 1.0, 1.0, 0.5]

    Reference: Chow, *Open-Channel Hydraulics* (1959), fig. 2-5 and 6-5 with n constant (from memory).
    """
    theta = 2.0 * math.acos(max(1.0 - 2.0 * depth, -1.0))
    area = (theta - math.sin(theta)) / (2.0 * math.pi)
    radius = 1.0 - math.sin(theta) / theta
    speed = radius ** (2.0 / 3.0)
    return area, radius, speed, speed * area


def capacity(bore: float, fall: float, roughness: float, kinematic_viscosity: float, gravity: float = GRAVITY) -> float:
    """Give the flow of a pipe that runs just full down a fall, with no head but its own.

    V = −2 √(2 g D S) log₁₀(ε/(3.7 D) + 2.51 ν/(D √(2 g D S))): Colebrook–White with h/L = S, solved for V.

    Parameters:
        bore: D [m].
        fall: S, drop over developed length [-], above 0.
        roughness: ε [m].
        kinematic_viscosity: ν [m²/s].
        gravity: g [m/s²].

    Returns:
        Flow [m³/s].

    Turbulent flow only: below Re 4000 a little low.

    >>> round(capacity(0.05, 0.02, 1.5e-6, 1.0e-6) * 60000, 1)
    113.4

    Reference: Colebrook (1939), J. Inst. Civil Engineers 11, 133–156.
    """
    root = math.sqrt(2.0 * gravity * bore * fall)
    speed = -2.0 * root * math.log10(roughness / (3.7 * bore) + 2.51 * kinematic_viscosity / (bore * root))
    return speed * 0.25 * math.pi * bore**2


@lru_cache(maxsize=10000)
def part_full_speed(flow: float, bore: float, fall: float, roughness: float, kinematic_viscosity: float) -> float:
    """Give the mean speed of a flow in a drain: part-full where the fall carries it so, else full.

    Parameters:
        flow: [m³/s], either sign.
        bore, roughness: [m].
        fall: drop over developed length along the flow [-]; 0 or less runs full.
        kinematic_viscosity: [m²/s].

    Returns:
        Speed [m/s].

    >>> full = 30 / 60000 / (math.pi / 4 * 0.05**2)
    >>> part_full_speed(30 / 60000, 0.05, 0.02, 1.5e-6, 1.0e-6) > 2 * full
    True
    """
    area = 0.25 * math.pi * bore**2
    flow = abs(flow)
    if flow == 0.0:
        return 0.0
    full = capacity(bore, fall, roughness, kinematic_viscosity) if fall > 0.0 else 0.0
    if flow >= full:
        return flow / area
    least, most = 1e-9, 0.8196  # above the most the flow is larger than that of the full pipe
    film = shares(least)[3] * full >= flow
    depth = least if film else root(lambda depth: shares(depth)[3] - flow / full, least, most)
    return flow / (shares(depth)[0] * area)
