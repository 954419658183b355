"""One loss in other units: from a stated head or Kv to K, and from K to what the solver takes, head loss = square·Q² + linear·Q."""

from __future__ import annotations

from math import pi

from ..water import GRAVITY

__all__ = ["from_head", "from_kv", "to_linear", "to_square"]


def from_head(head: float, flow: float, bore: float) -> float:
    """A loss stated as the head that a part takes at a flow.

    K = 2 g h A²/Q².

    Parameters:
        head: h [m].
        flow: Q [m³/s].
        bore: inside diameter [m].

    Returns:
        K_inf [-] on the velocity head of `bore`.

    Validity: a loss that goes with the flow squared. Fine media lose less at small flows and more at large ones than that.

    >>> round(from_head(0.4, 40.0 / 60000.0, 0.026), 2)
    4.98

    Reference: definition of the loss coefficient.
    """
    return 2.0 * GRAVITY * head * (_area(bore) / flow) ** 2


def from_kv(Kv: float, bore: float) -> float:
    """A loss stated as flow at one bar.

    K = 2 (Δp/ρ) A²/Q², with Q = Kv m³/h, Δp = 1 bar, ρ = 1000 kg/m³.

    Parameters:
        Kv: flow of cold water at a pressure drop of 1 bar [m³/h].
        bore: inside diameter [m].

    Returns:
        K_inf [-] on the velocity head of `bore`.

    Raises:
        ValueError: unless Kv is above zero.

    Validity: turbulent flow, the same bore on both sides.

    >>> round(from_kv(10.0, 0.026), 2)
    7.31

    Reference: IEC 60534-2-1 (definition of the flow coefficient).
    """
    if not Kv > 0.0:
        raise ValueError("a flow coefficient must be above zero")
    return 2.0 * 1e5 / 1000.0 * (3600.0 * _area(bore) / Kv) ** 2


def to_square(K: float, bore: float, gravity: float = GRAVITY) -> float:
    """Turn K_inf into the solver's coefficient of Q².

    h = K V²/2g = [K/(2 g A²)] Q².

    Parameters:
        K: [-] on the velocity head of `bore`.
        bore: inside diameter [m].
        gravity: [m/s²].

    Returns:
        Coefficient [s²/m⁵].

    >>> round(to_square(1.0, 0.026))
    180874

    Reference: definition of the loss coefficient.
    """
    return K / (2.0 * gravity * _area(bore) ** 2)


def to_linear(K1: float, bore: float, viscosity_kinematic: float, gravity: float = GRAVITY) -> float:
    """Turn K1 of K1/Re into the solver's coefficient of Q.

    h = (K1 ν/(V D)) V²/2g = [K1 ν/(2 g D A)] Q.

    Parameters:
        K1: [-] on the velocity head and Reynolds number of `bore`.
        bore: inside diameter [m].
        viscosity_kinematic: ν [m²/s].
        gravity: [m/s²].

    Returns:
        Coefficient [s/m²].

    >>> round(to_linear(800.0, 0.026, 1e-6), 2)
    2.95

    Reference: definitions of the loss coefficient and the Reynolds number.
    """
    return K1 * viscosity_kinematic / (2.0 * gravity * bore * _area(bore))


def _area(bore: float) -> float:
    return pi / 4.0 * bore**2
