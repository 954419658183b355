"""An airlift: air blown in at the foot of an upright riser, and the head that it gives at each flow of water.

The riser is open at its top, where the air leaves and the water goes on alone. What stands at the foot, ρgS, has to carry the
mixture's weight and friction; the head that is left at the top over the water outside is the pump's head.

The drift-flux model: the air's speed is C₀ times that of the mixture and the rise of slugs besides (Nicklin), which in narrow
risers surface tension slows (Reinemann and others). It holds for slug flow. Past the air that gives the most water the true
flow falls much less than the model's.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..water import GRAVITY
from .friction import friction_factor
from .network import FloatArray

__all__ = [
    "DISTRIBUTION",
    "Mixture",
    "Surroundings",
    "curve_points",
    "free_flow",
    "free_flows",
    "isothermal_power",
    "most_air",
    "riser_heads",
    "slug_rise",
    "void_fraction",
]

DISTRIBUTION = 1.2
"""C₀: slugs ride where the mixture is fastest. Nicklin, Wilkes and Davidson, Trans. Inst. Chem. Eng. 40, 1962, 61, as quoted in
the documentation of `fluids` (looked up)."""

_STEPS = 16
_JUMPS = 4
_POINTS = 25
_ZOOMS, _GRID = 4, 17
_LEAST_PRESSURE = 0.3
"""Share of the atmosphere's pressure under which a riser is taken not to work at all: far under what any of them comes to."""

_OPEN_FALL, _OPEN_MORE = 10.0, 0.02
_LEAST_HEAD = 1e-3


class Surroundings(NamedTuple):
    """What a riser stands in. `density` [kg/m³], dynamic `viscosity` [Pa·s] and `surface_tension` [N/m] of the water,
    `atmosphere` [Pa], `gravity` [m/s²]."""

    density: float
    viscosity: float
    surface_tension: float
    atmosphere: float
    gravity: float = GRAVITY


class Mixture(NamedTuple):
    """What goes on in a riser; arrays of one shape. `head` [m] at the top, −inf where the foot's pressure does not suffice;
    `foot` and `top` the share of air there [-]; `speed` of the mixture at the top [m/s]; `gas` [-], Wallis's number
    j_g √(ρ_g/(gDρ)) of the air at the top."""

    head: FloatArray
    foot: FloatArray
    top: FloatArray
    speed: FloatArray
    gas: FloatArray


def slug_rise(bore: ArrayLike, around: Surroundings) -> FloatArray:
    """How fast a slug of air rises through still water in an upright tube.

    v = 0.352 √(gD) (1 − 3.18 Σ − 14.77 Σ²), Σ = σ/(ρgD²), and none where that is below nothing.

    Parameters:
        bore: inside diameter D [m].

    Returns:
        v [m/s]; 0.352 √(gD) in wide tubes.

    Validity: Σ from 0.02 to 0.2, and Re over 500 (6 to 19 mm in water); wider tubes tend to Nicklin's 0.35 √(gD). In tubes over
    some 100 mm slugs break up.

    >>> water = Surroundings(998.2, 1.002e-3, 0.0727, 101325.0)
    >>> print(slug_rise([0.005, 0.01, 0.04], water).round(4))
    [0.     0.0752 0.2171]

    Reference: Reinemann, Parlange and Timmons, Int. J. Multiphase Flow 16, 1990, 113 (range looked up, coefficients from memory).
    """
    d = np.asarray(bore, dtype=float)
    sigma = around.surface_tension / (around.density * around.gravity * d**2)
    return np.asarray(
        0.352 * np.sqrt(around.gravity * d) * np.maximum(1.0 - 3.18 * sigma - 14.77 * sigma**2, 0.0), dtype=float
    )


def void_fraction(
    gas: ArrayLike, water: ArrayLike, rise: ArrayLike, *, distribution: float = DISTRIBUTION
) -> FloatArray:
    """Share of a riser's section that is air.

    α = j_g / (C₀ (j_g + j_l) + v)

    Parameters:
        gas, water: flows of air and water over the section of the riser, j_g and j_l [m/s]; not both nothing.
        rise: v, of slugs in still water [m/s].
        distribution: C₀ [-]; 1 with no rise is air and water at one speed.

    Returns:
        α [-], 0 to 1/C₀.

    >>> print(void_fraction(0.5, 0.5, 0.22).round(4))
    0.3521

    Reference: Nicklin, Wilkes and Davidson, Trans. Inst. Chem. Eng. 40, 1962, 61, as in fluids.two_phase_voidage (looked up).
    """
    j = np.asarray(gas, dtype=float)
    return np.asarray(j / (distribution * (j + np.asarray(water, dtype=float)) + np.asarray(rise, dtype=float)))


def riser_heads(
    q: ArrayLike,
    air: ArrayLike,
    *,
    bore: ArrayLike,
    length: ArrayLike,
    submergence: ArrayLike,
    roughness: ArrayLike,
    inlet_k: float,
    around: Surroundings,
    steps: int = _STEPS,
) -> Mixture:
    """Head that an airlift gives over the water that it stands in.

    H = L − Δp/(ρg), Δp the fall of pressure from still water at the air inlet's depth to the riser's top:
    the foot, (1 + K) ρ j_l²/2; the mixture's speeding-up, ρ j_l²/(1 − α); and along the riser
    dp/dz = −(1 − α) ρ (g + f j²/(2D)), with α from `void_fraction`, j = j_g + j_l, and j_g growing as the pressure falls
    (isothermal). The mixture's velocity head is lost at the open top; the air's own weight is left out (0.1 %).

    Parameters:
        q: flow of water [m³/s], none or more; all arrays broadcast.
        air: flow of free air, at the site's own pressure [m³/s].
        bore, length: of the riser, from the air inlet to its top [m].
        submergence: depth of the air inlet under the water outside [m].
        roughness: of its wall [m].
        inlet_k: loss at its foot, on the water's velocity head [-].
        steps: of Runge–Kutta's fourth order along the riser.

    Validity: slug flow, and air up to what gives the most water (`most_air`). Against measurements see docs/airlift.md.

    >>> water = Surroundings(998.2, 1.002e-3, 0.0727, 101325.0)
    >>> found = riser_heads([0.0, 3e-4], 20 / 60000, bore=0.036, length=1.0, submergence=0.8, roughness=1.5e-6,
    ...                     inlet_k=0.78, around=water)
    >>> print(found.head.round(3))
    [0.535 0.314]

    Reference: Nicklin, Trans. Inst. Chem. Eng. 41, 1963, 29, and Reinemann, Parlange and Timmons 1990, for friction in the water
    between the slugs at the mixture's speed (from memory); gas expansion and speeding-up by momentum.
    """
    q, air, bore, length, depth = np.broadcast_arrays(
        *(np.asarray(one, dtype=float) for one in (q, air, bore, length, submergence))
    )
    rho, g, p0 = around.density, around.gravity, around.atmosphere
    area = 0.25 * np.pi * bore**2
    water, rise = q / area, slug_rise(bore, around)
    relative = np.asarray(roughness, dtype=float) / bore

    def at(p: FloatArray) -> tuple[FloatArray, FloatArray]:
        gas = air * p0 / (p * area)
        return gas, void_fraction(gas, water, rise)

    def possible(p: FloatArray) -> FloatArray:
        return np.where(p > _LEAST_PRESSURE * p0, p, np.nan)

    def slope(p: FloatArray) -> FloatArray:
        p = possible(p)  # a stage of a step may overshoot
        gas, alpha = at(p)
        j = gas + water
        f = friction_factor(np.maximum(rho * j * bore / around.viscosity, 1e-3), relative)
        lost = (1.0 - alpha) * rho * (g + 0.5 * f * j**2 / bore)
        # d(ρ j_l²/(1 − α))/dp, from dα/dp = −(α/p)(1 − C₀ α)
        thinner = rho * water**2 / (1.0 - alpha) ** 2 * (alpha / p) * (1.0 - DISTRIBUTION * alpha)
        return np.asarray(-lost / np.where(thinner < 0.5, 1.0 - thinner, np.nan))

    with np.errstate(invalid="ignore"):
        still = p0 + rho * g * depth - 0.5 * (1.0 + inlet_k) * rho * water**2
        p = possible(still)
        for _ in range(_JUMPS):  # the jump in speed where the air comes in
            alpha = at(p)[1]
            p = possible(still - rho * water**2 * alpha / (1.0 - alpha))
        foot = at(p)[1]
        dz = length / steps
        for _ in range(steps):
            a = slope(p)
            b = slope(p + 0.5 * dz * a)
            c = slope(p + 0.5 * dz * b)
            d = slope(p + dz * c)
            p = possible(p + dz * (a + 2.0 * b + 2.0 * c + d) / 6.0)
        gas, top = at(p)
    head = np.where(np.isnan(p), -np.inf, (p - p0) / (rho * g) + length - depth)
    number = gas * np.sqrt(1.204 * p / 101_325.0 / (g * bore * rho))  # air at 20 °C: 1.204 kg/m³ at one atmosphere
    return Mixture(np.asarray(head), foot, top, np.asarray(gas + water), np.asarray(number))


def free_flows(
    air: ArrayLike, *, bore: ArrayLike, length: ArrayLike, submergence: ArrayLike, **riser: Any
) -> FloatArray:
    """Flow of water over the riser's open top with nothing after it: where H = L − S.

    Parameters:
        as for `riser_heads`; arrays broadcast

    Returns:
        Flows [m³/s], none where the mixture does not come to the top.

    >>> water = Surroundings(998.2, 1.002e-3, 0.0727, 101325.0)
    >>> flow = free_flows([0.0, 20 / 60000], bore=0.036, length=1.0, submergence=0.8, roughness=1.5e-6, inlet_k=0.78,
    ...                   around=water)
    >>> print((flow * 60000).round(1))
    [ 0.  33.2]
    """
    air, bore, length, depth = (
        one[..., None]
        for one in np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in (air, bore, length, submergence)))
    )
    low = np.zeros_like(air)
    falls = 2.0 * riser["around"].gravity * np.maximum(depth, 0.0) / (1.0 + riser["inlet_k"])
    high = 0.25 * np.pi * bore**2 * np.sqrt(falls)
    for _ in range(_ZOOMS):
        flows = low + (high - low) * np.linspace(0.0, 1.0, _GRID)
        heads = riser_heads(flows, air, bore=bore, length=length, submergence=depth, **riser).head
        more = heads - (length - depth)
        after = np.where((more <= 0.0).any(axis=-1), np.argmax(more <= 0.0, axis=-1), _GRID - 1)[..., None]
        last = np.maximum(after - 1, 0)
        low, high = np.take_along_axis(flows, last, -1), np.take_along_axis(flows, after, -1)
        at_low, at_high = np.take_along_axis(more, last, -1), np.take_along_axis(more, after, -1)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(np.isfinite(at_high) & (at_low > 0.0) & (at_high < 0.0), at_low / (at_low - at_high), 0.0)
    return np.asarray((low + share * (high - low))[..., 0])


def free_flow(air: float, **riser: Any) -> float:
    """`free_flows` of one riser [m³/s]."""
    return float(free_flows(air, **riser))


def curve_points(air: float, **riser: Any) -> tuple[tuple[float, float], ...]:
    """An airlift's curve for the solver: heads at flows up to the free flow, then the fall of an open top.

    Beyond the free flow the riser gives no more: its top is open, so that a pipe that falls away from it draws in air and
    not more water. There the curve falls by 10 m over 2 % of the flow.

    Parameters:
        as for `riser_heads`, one riser

    Returns:
        ((flow [m³/s], head [m]), …), flows rising and heads falling; without air, or where nothing comes to the top, a curve of
        hardly any flow from its highest head, no less than 1 mm.
    """
    flow = free_flow(air, **riser)
    # closer towards the end, where the open top's fall pulls at the slope between points
    flows = flow * (1.0 - np.linspace(1.0, 0.0, _POINTS) ** 2) if flow > 0.0 else np.zeros(1)
    heads = riser_heads(flows, air, **riser).head
    if not heads[0] > _LEAST_HEAD:  # so much air that nothing stands up in the riser at all
        return (0.0, _LEAST_HEAD), (1e-6, -_OPEN_FALL)
    points = [(float(q), float(h)) for q, h in zip(flows, heads, strict=True)]
    last, lowest = points[-1]
    return (*points, (max((1.0 + _OPEN_MORE) * last, 1e-6), lowest - _OPEN_FALL))


def most_air(**riser: Any) -> tuple[float, float]:
    """The air that gives the most water over the riser's open top, and that flow.

    Parameters:
        as for `riser_heads`, one riser

    Returns:
        Free air and water [m³/s], within a hundredth; (0, 0) where no air brings water to the top.

    Validity: measured maxima lie at 0.7 to 1.4 times this air, but for short risers (docs/airlift.md).
    """
    area = 0.25 * np.pi * riser["bore"] ** 2
    low, high = 0.02 * area, 30.0 * area
    best = (0.0, 0.0)
    for _ in range(3):
        airs = np.geomspace(low, high, 13)
        waters = free_flows(airs, **riser)
        at = int(np.argmax(waters))
        if waters[at] <= 0.0:
            return 0.0, 0.0
        best = (float(airs[at]), float(waters[at]))
        low, high = float(airs[max(at - 1, 0)]), float(airs[min(at + 1, len(airs) - 1)])
    return best


def isothermal_power(air: ArrayLike, pressure: ArrayLike, atmosphere: float) -> FloatArray:
    """Least power that compresses a flow of free air.

    P = p₀ Q ln(1 + p/p₀)

    Parameters:
        air: flow of free air [m³/s].
        pressure: over the atmosphere's [Pa].
        atmosphere: p₀ [Pa].

    Returns:
        P [W].

    >>> print(isothermal_power(60 / 60000, 15e3, 101325.0).round(2))
    13.99

    Reference: an ideal gas compressed at one temperature.
    """
    return np.asarray(atmosphere * np.asarray(air, dtype=float) * np.log1p(np.asarray(pressure) / atmosphere))
