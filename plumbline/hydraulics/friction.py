"""Pipe friction: Darcy–Weisbach with laminar flow, a smooth bridge, and Colebrook–White.

Everything rests on one function of the Reynolds number, φ(Re) = f·Re², which is proportional to the head lost:
φ = 64·Re in laminar flow, so the loss is linear in the flow and its derivative is never zero.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "LAMINAR_LIMIT",
    "TURBULENT_LIMIT",
    "Runs",
    "bridge",
    "friction_factor",
    "friction_loss",
    "one_friction_loss",
    "ready_runs",
    "runs_loss",
]

FloatArray = NDArray[np.float64]

LAMINAR_LIMIT = 2300.0
"""Reynolds number up to which flow is taken as laminar: White, *Fluid Mechanics*, section 6.1 (from memory)."""

TURBULENT_LIMIT = 4000.0
"""Reynolds number from which Colebrook–White holds: the lower end of the turbulent part of Moody's chart, and
Crane TP-410, chapter 1, which calls 2000 to 4000 the critical zone (from memory)."""

_TWO_OVER_LN10 = 2.0 / math.log(10.0)


class _Rough(NamedTuple):
    """What the laws need of ε/D: a = ε/(3.7 D), and a^1.11 for Haaland's first guess [-]."""

    a: FloatArray
    first: FloatArray


class Runs(NamedTuple):
    """What friction needs of pipe and water, made ready for many flows: `per_flow` Re over |Q| [s/m³], `scale` h over φ [m], `rough`."""

    per_flow: FloatArray
    scale: FloatArray
    rough: _Rough


def friction_factor(re: ArrayLike, relative_roughness: ArrayLike) -> FloatArray:
    """Give the Darcy friction factor of full pipe.

    Laminar f = 64/Re up to Re 2300; Colebrook–White 1/√f = −2 log10(ε/(3.7 D) + 2.51/(Re √f)) from Re 4000, solved to
    machine precision; `bridge` in between.

    Parameters:
        re: Reynolds number [-], > 0; arrays broadcast.
        relative_roughness: ε/D [-], 0 to 0.05.

    Returns:
        Darcy friction factor [-].

    Above ε/D = 0.05 the formula is still evaluated, outside the range of Moody's chart.

    >>> f = friction_factor([1000.0, 1e5, 1e5], [0.0, 1e-4, 1e-3])
    >>> [round(float(value), 6) for value in f]
    [0.064, 0.018514, 0.022175]

    Reference: Colebrook (1939), J. Inst. Civil Engineers 11, 133–156; White, *Fluid Mechanics*, eq. 6.48 (from memory).
    """
    reynolds = np.asarray(re, dtype=np.float64)
    phi, _ = _phi(reynolds, _rough(np.asarray(relative_roughness, dtype=np.float64)))
    return np.asarray(phi / reynolds**2)


def friction_loss(
    q: ArrayLike,
    bore: ArrayLike,
    length: ArrayLike,
    roughness: ArrayLike,
    kinematic_viscosity: float,
    gravity: float,
) -> tuple[FloatArray, FloatArray]:
    """Give the head lost to friction in full round pipe, and its derivative with respect to flow.

    h = f (L/D) V²/(2g) = (L/D) (ν/D)²/(2g) · φ(Re), with Re = 4|Q|/(π D ν) and the sign of Q. The loss rises
    strictly with the flow and is linear at rest, where dh/dQ = 128 ν L/(π g D⁴) (Hagen–Poiseuille).

    Parameters:
        q: flow [m³/s], either sign or zero; arrays broadcast.
        bore: inside diameter D [m].
        length: developed length L [m].
        roughness: ε [m].
        kinematic_viscosity: ν [m²/s].
        gravity: g [m/s²].

    Returns:
        (h, dh/dq) : head loss [m], signed like the flow, and its derivative [s/m²], never negative.

    >>> h, dh = friction_loss(200 / 60000, 0.05, 10.0, 1.5e-6, 0.801e-6, 9.80665)
    >>> print(f"{h:.3f} m")
    0.527 m

    Reference: as `friction_factor`.
    """
    flow = np.asarray(q, dtype=np.float64)
    return runs_loss(flow, ready_runs(bore, length, roughness, kinematic_viscosity, gravity))


def ready_runs(
    bore: ArrayLike, length: ArrayLike, roughness: ArrayLike, kinematic_viscosity: float, gravity: float
) -> Runs:
    """Make ready what `friction_loss` needs besides the flow; parameters as there."""
    diameter = np.asarray(bore, dtype=np.float64)
    per_flow = 4.0 / (np.pi * diameter * kinematic_viscosity)
    scale = np.asarray(length, dtype=np.float64) * (kinematic_viscosity**2 / (2.0 * gravity)) / diameter**3
    return Runs(per_flow, scale, _rough(np.asarray(roughness, dtype=np.float64) / diameter))


def runs_loss(flow: FloatArray, runs: Runs) -> tuple[FloatArray, FloatArray]:
    """Give what `friction_loss` gives, for runs made ready."""
    phi, slope = _phi(np.abs(flow) * runs.per_flow, runs.rough)
    return np.asarray(np.copysign(runs.scale * phi, flow)), np.asarray(runs.scale * slope * runs.per_flow)


def one_friction_loss(
    q: float, bore: float, length: float, roughness: float, kinematic_viscosity: float, gravity: float
) -> tuple[float, float]:
    """Give what `friction_loss` gives, for one piece of pipe and without arrays: where each piece waits for the last.

    Parameters and returns are those of `friction_loss`, as plain numbers.

    >>> h, dh = one_friction_loss(200 / 60000, 0.05, 10.0, 1.5e-6, 0.801e-6, 9.80665)
    >>> print(f"{h:.3f} m")
    0.527 m

    Reference: as `friction_factor`.
    """
    per_flow = 4.0 / (math.pi * bore * kinematic_viscosity)
    re = abs(q) * per_flow
    if re <= LAMINAR_LIMIT:
        phi, slope = 64.0 * re, 64.0
    else:
        a = roughness / bore / 3.7
        phi, slope = _turbulent_phi(max(re, TURBULENT_LIMIT), a, a**1.11, math)
        if re < TURBULENT_LIMIT:
            phi, slope = _cubic(re, phi, slope)
    scale = length * (kinematic_viscosity**2 / (2.0 * gravity)) / bore**3
    return math.copysign(scale * phi, q), scale * slope * per_flow


def bridge(re: ArrayLike, phi: ArrayLike, slope: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Join laminar to turbulent flow between Re 2300 and Re 4000.

    The cubic in Re that takes the value and slope of φ = f·Re² at both ends: 64·Re and 64 at the laminar end, the
    given ones at the turbulent end. It rises for every roughness, since both end slopes are well under three times
    the chord's (Fritsch and Carlson's condition).

    Parameters:
        re: Reynolds number [-], 2300 to 4000.
        phi, slope: φ and dφ/dRe at Re 4000 [-].

    Returns:
        (φ, dφ/dRe) at `re` [-].

    Common practice, no source: flow in this range is unsteady and nobody's formula holds; what is asked here is a
    law without jumps. Monotony: Fritsch and Carlson (1980), SIAM J. Numer. Anal. 17, 238–246.
    """
    value, rises = _cubic(*(np.asarray(one, dtype=np.float64) for one in (re, phi, slope)))
    return np.asarray(value), np.asarray(rises)


def _cubic(re: Any, phi: Any, slope: Any) -> tuple[Any, Any]:
    """`bridge` of numbers or arrays."""
    width = TURBULENT_LIMIT - LAMINAR_LIMIT
    t = (re - LAMINAR_LIMIT) / width
    rise, left, right = phi - 64.0 * LAMINAR_LIMIT, 64.0 * width, slope * width
    square, cube = 3.0 * rise - 2.0 * left - right, left + right - 2.0 * rise
    value = 64.0 * LAMINAR_LIMIT + t * (left + t * (square + t * cube))
    return value, (left + t * (2.0 * square + 3.0 * t * cube)) / width


def _rough(relative_roughness: FloatArray) -> _Rough:
    a = relative_roughness / 3.7
    return _Rough(a, a**1.11)


def _phi(re: FloatArray, rough: _Rough) -> tuple[FloatArray, FloatArray]:
    """φ = f·Re² and dφ/dRe over the whole range of Re ≥ 0."""
    phi, slope = _turbulent_phi(np.maximum(re, TURBULENT_LIMIT), rough.a, rough.first, np)
    between = (re > LAMINAR_LIMIT) & (re < TURBULENT_LIMIT)
    if between.any():
        bridged, its_slope = bridge(np.clip(re, LAMINAR_LIMIT, TURBULENT_LIMIT), phi, slope)
        phi, slope = np.where(between, bridged, phi), np.where(between, its_slope, slope)
    laminar = re <= LAMINAR_LIMIT
    return np.where(laminar, 64.0 * re, phi), np.where(laminar, 64.0, slope)


def _turbulent_phi(re: Any, a: Any, first: Any, of: Any) -> tuple[Any, Any]:
    """φ and dφ/dRe by Colebrook–White, in x = 1/√f: x + 2 log10(a + b x) = 0; of arrays with `of` numpy, of numbers with math."""
    b = 2.51 / re
    # Haaland's explicit formula is within 2 %, so three Newton steps reach the last digit. The equation is smooth, rising and only
    # slightly concave in x.
    x = -1.8 * of.log10(first + 6.9 / re)
    for _ in range(3):
        inner = a + b * x
        x = x - (x + _TWO_OVER_LN10 * of.log(inner)) / (1.0 + _TWO_OVER_LN10 * b / inner)
    # d ln f / d ln Re, from the implicit derivative of x.
    power = -2.0 * _TWO_OVER_LN10 * b / (a + b * x + _TWO_OVER_LN10 * b)
    phi = (re / x) ** 2
    return phi, phi / re * (2.0 + power)
