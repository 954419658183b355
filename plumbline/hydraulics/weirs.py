"""How high water stands over a weir: a notch in a wall, the wall's whole edge, or a V."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..water import GRAVITY

__all__ = ["WEIRS", "Shape", "drowned_head", "notch_numbers", "weir_flow", "weir_head"]

FloatArray = NDArray[np.float64]

Shape = Literal["notch", "weir", "v-notch"]
WEIRS: tuple[Shape, ...] = ("notch", "weir", "v-notch")

COEFFICIENT = {"notch": (0.587, -0.0023), "weir": (0.602, 0.075)}
"""Ce of a sharp crest, C₀ + C₁ h/p: in a wide wall, and over the whole wall."""

WIDER = {"notch": 0.0024, "weir": -0.0009}
"""What surface tension and stickiness add to the width [m]."""

DEEPER = 0.001
"""What they add to the depth over the crest [m]."""

MOST = 2.5
"""h/p beyond which Ce is taken to stay: the end of what was measured."""

ON_FLOOR = 0.001
"""A crest lower than this over the floor [m] lies on it."""

FILM = 0.002
"""Under this depth [m] the flow is taken to go with the depth itself, so that the law begins at rest."""

_ANGLES = np.radians([20.0, 40.0, 60.0, 80.0, 100.0])
_C_OF_V = [0.59, 0.58, 0.575, 0.575, 0.58]
_K_OF_V = [0.0028, 0.0017, 0.0012, 0.001, 0.001]


def notch_numbers(angle: float) -> tuple[float, float]:
    """Give Ce tan(θ/2) [-] and k [m] of a V-notch of an angle θ [rad] between 20 and 100°.

    Reference: Shen, USGS Water-Supply Paper 1617-B (1981), as tabulated in Blevins, Applied Fluid Dynamics Handbook (1984), and
    quoted in fluids.open_flow.
    """
    return float(np.interp(angle, _ANGLES, _C_OF_V)) * math.tan(angle / 2.0), float(np.interp(angle, _ANGLES, _K_OF_V))


def weir_flow(
    shape: Shape, head: FloatArray, wide: FloatArray, deep: FloatArray, gravity: float = GRAVITY
) -> tuple[FloatArray, FloatArray]:
    """Give the flow over a crest, and its derivative.

    Q = Ce (2/3) √(2g) (b + Kb) (h + Kh)^1.5 with Ce = C₀ + C₁ h/p, or Q = Ce (8/15) √(2g) tan(θ/2) (h + k)^2.5 for a V.

    Parameters:
        shape: "notch", much narrower than its wall; "weir", as wide as it; or "v-notch".
        head: h (k,), depth of water over the crest [m].
        wide: (k,) b [m]; of a V Ce tan(θ/2) [-].
        deep: (k,) p, height of the crest over the floor before it [m]; of a V k [m].

    Returns:
        (k,) [m³/s], (k,) [m²/s].

    Validity: a sharp crest and free fall. Measured for h over 30 mm, b over 150 mm and p over 100 mm; of a V for h over 50 mm.

    >>> flow, _ = weir_flow("weir", np.array([0.3]), np.array([2.0]), np.array([0.4]))
    >>> round(float(flow[0]), 3)
    0.642

    Reference: Kindsvater and Carter, J. Hydraul. Div. ASCE 83 (1957), with the constants of Bos, Discharge Measurement
    Structures (1989), ch. 5 (from memory); `notch_numbers` for a V.
    """
    if shape == "v-notch":
        lead = 8.0 / 15.0 * math.sqrt(2.0 * gravity) * wide
        return lead * (head + deep) ** 2.5, 2.5 * lead * (head + deep) ** 1.5
    first, more = COEFFICIENT[shape]
    lead = 2.0 / 3.0 * math.sqrt(2.0 * gravity) * np.maximum(wide + WIDER[shape], 1e-3)
    # A crest on the floor itself is a brink, whose free fall takes 0.577 (critical depth): no more than a crest high over it.
    high = np.where(deep < ON_FLOOR, np.inf, deep)
    share = np.minimum(head / high, MOST)
    grows = np.where(share < MOST, more / high, 0.0)
    over = head + DEEPER
    return lead * (first + more * share) * over**1.5, lead * (
        1.5 * (first + more * share) * np.sqrt(over) + grows * over**1.5
    )


def weir_head(
    shape: Shape, flow: FloatArray, wide: FloatArray, deep: FloatArray, gravity: float = GRAVITY
) -> tuple[FloatArray, FloatArray]:
    """Give the depth over a crest that a flow needs, and its derivative: `weir_flow` turned round by Newton's method.

    Parameters:
        flow: (k,) [m³/s], not below nothing.
        shape, wide, deep: as in `weir_flow`.

    Returns:
        (k,) [m], (k,) [s/m²].
    """
    least, _ = weir_flow(shape, np.full(len(flow), FILM), wide, deep, gravity)
    tried = np.maximum(flow, least)
    power = 2.5 if shape == "v-notch" else 1.5
    # From the film's own power law; Q(h) is convex, so that Newton's steps from there come down on it and do not leave it.
    head = FILM * (tried / least) ** (1.0 / power)
    for _ in range(12):
        found, slope = weir_flow(shape, head, wide, deep, gravity)
        head = np.maximum(head - (found - tried) / slope, 0.5 * FILM)
    _, slope = weir_flow(shape, head, wide, deep, gravity)
    slow = flow < least
    return np.where(slow, FILM * flow / least, head), np.where(slow, FILM / least, 1.0 / slope)


def drowned_head(
    shape: Shape, flow: FloatArray, behind: FloatArray, wide: FloatArray, deep: FloatArray, gravity: float = GRAVITY
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give the depth h₁ over a crest that a flow needs where the water behind stands h₂ over it too, and its derivatives by both.

    Q = Q₁(h₁) (1 − (h₂/h₁)^n)^0.385, Q₁ what runs over it in a free fall, n 1.5, or 2.5 for a V. Raised to 1/0.385 it is next to
    straight in h₁, so that Newton's method comes down on it within a few steps.

    Parameters:
        flow: (k,) [m³/s], not below nothing.
        behind: (k,) h₂ [m], above nothing.
        shape, wide, deep: as in `weir_flow`.

    Returns:
        (k,) h₁ [m], (k,) ∂h₁/∂Q [s/m²], (k,) ∂h₁/∂h₂ [-].

    Validity: measured for crests of many shapes, h₂/h₁ from 0 to 0.9, within 5 % of the flow.

    >>> h, _, feels = drowned_head("weir", np.array([0.01]), np.array([0.05]), np.array([0.5]), np.array([0.25]))
    >>> print(f"{h[0]:.4f} m, {feels[0]:.2f}")
    0.0648 m, 0.58

    Reference: Villemonte (1947), Engineering News-Record 139, 866 (formula looked up at second hand).
    """
    power = 2.5 if shape == "v-notch" else 1.5
    whole = 1.0 / 0.385
    head = 1.5 * behind + weir_head(shape, flow, wide, deep, gravity)[0]
    for _ in range(50):
        free, slope = _filmy(shape, head, wide, deep, gravity)
        drowned = np.minimum(behind / head, 1.0) ** power
        grown = free**whole
        by_head = whole * free ** (whole - 1.0) * slope * (1.0 - drowned) + grown * power * drowned / head
        step = (grown * (1.0 - drowned) - flow**whole) / by_head
        head = np.maximum(head - step, behind)
        if np.max(np.abs(step), initial=0.0) < 1e-13:
            break
    return head, whole * flow ** (whole - 1.0) / by_head, grown * power * drowned / behind / by_head


def _filmy(
    shape: Shape, head: FloatArray, wide: FloatArray, deep: FloatArray, gravity: float
) -> tuple[FloatArray, FloatArray]:
    """What runs over a crest in a free fall, and its derivative, with a film's flow going with its depth as `weir_head` has it."""
    flow, slope = weir_flow(shape, np.maximum(head, FILM), wide, deep, gravity)
    thin = head < FILM
    return np.where(thin, flow * head / FILM, flow), np.where(thin, flow / FILM, slope)
