"""How deep water stands along a gutter: a vessel whose floor falls from its inlet end to its outlet end."""

from __future__ import annotations

from collections.abc import Callable

from ..layout.model import Layout, Vessel
from ..water import GRAVITY
from .flows import VesselFlow
from .friction import one_friction_loss

__all__ = ["critical_depth", "depth_at_inlet", "depth_upstream", "friction_slope", "inlet_depth"]

PIECES = 200
"""Into how many pieces a gutter is cut from its outlet up."""

PLASTIC = 1.5e-6
"""Roughness of its wall [m], as of drawn plastic pipe."""


def critical_depth(flow: float, width: float, gravity: float = GRAVITY) -> float:
    """Give the depth y at which a flow [m³/s] over a width [m] has its least energy [m]: y³ = q²/g.

    >>> round(critical_depth(0.01, 0.1), 4)
    0.1007

    Reference: Chow, *Open-Channel Hydraulics* (1959), ch. 4 (from memory).
    """
    return float(((flow / width) ** 2 / gravity) ** (1.0 / 3.0))


def friction_slope(flow: float, depth: float, width: float, viscosity: float, gravity: float = GRAVITY) -> float:
    """Give the head lost over each metre of a channel between upright sides [-]: f V²/(2 g · 4R), as in round pipe of a bore of four
    hydraulic radii R = b y/(b + 2 y). `viscosity` is kinematic [m²/s]; a very thin film that runs laminar loses up to half as much again.

    Reference: Chow (1959), ch. 1 and 8 (from memory).
    """
    bore = 4.0 * width * depth / (width + 2.0 * depth)
    alike = flow / (width * depth) * 0.25 * 3.141592653589793 * bore**2
    return one_friction_loss(alike, bore, 1.0, PLASTIC, viscosity, gravity)[0]


def inlet_depth(
    flow: float, outlet: float, length: float, width: float, fall: float, viscosity: float, gravity: float = GRAVITY
) -> float:
    """Give the depth at the inlet end of a gutter from that at its outlet end.

    dE/dx = fall − friction slope, E = y + V²/2g, from the outlet up, piece by piece (standard step). Where the water above runs faster than
    waves do, it is as deep as friction alone has it.

    Parameters:
        flow: [m³/s], not negative.
        outlet: depth over the floor at the outlet end [m].
        length, width: [m].
        fall: of the floor, drop over length [-], 0 or more.
        viscosity: kinematic [m²/s].

    Returns:
        Depth over the floor at the inlet end [m]: none where the gutter lies dry there.

    >>> round(inlet_depth(0.0, 0.05, 3.0, 0.1, 0.01, 1e-6), 3)
    0.02

    Reference: Chow (1959), ch. 10 (from memory).
    """
    if flow <= 0.0:
        return max(outlet - fall * length, 0.0)

    def slope(depth: float) -> float:
        return friction_slope(flow, depth, width, viscosity, gravity)

    return depth_upstream(flow, outlet, length, width, fall, slope, gravity=gravity)


def depth_upstream(
    flow: float,
    outlet: float,
    length: float,
    width: float,
    fall: float,
    slope: Callable[[float], float],
    *,
    pieces: int = PIECES,
    gravity: float,
) -> float:
    """Give the depth at the upper end of a channel between upright sides from that at its lower end, by the standard step method.

    Parameters:
        flow, outlet, length, width, fall: as for `inlet_depth`, the flow over nothing.
        slope: the friction slope at a depth [-], falling with it.
        pieces: into how many it is cut.

    Returns:
        Depth over the floor at the upper end [m].

    Reference: Chow (1959), ch. 10 (from memory).
    """

    def energy(depth: float) -> float:
        return depth + (flow / (width * depth)) ** 2 / (2.0 * gravity)

    critical, piece = critical_depth(flow, width, gravity), length / pieces
    depth = max(outlet, critical)
    for _ in range(pieces):
        known = energy(depth) + piece * (0.5 * slope(depth) - fall)

        def lacks(y: float, known: float = known) -> float:
            return energy(y) - 0.5 * piece * slope(y) - known

        if lacks(critical) >= 0.0:
            if fall > slope(critical):
                return _root(lambda y: fall - slope(y), 1e-6, critical)
            depth = critical
            continue
        depth = _root(lacks, critical, depth + known + critical)
    return depth


def _root(rises: Callable[[float], float], low: float, high: float) -> float:
    """Where what rises from below nothing to above it is nothing."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if rises(middle) < 0.0 else (low, middle)
    return 0.5 * (low + high)


def depth_at_inlet(layout: Layout, vessel: Vessel, got: VesselFlow) -> float | None:
    """How deep water stands at the inlet end of a vessel that is a gutter [m]."""
    if vessel.gutter is None or got.level is None:
        return None
    gutter = vessel.gutter
    viscosity = layout.water.viscosity / layout.water.density
    return inlet_depth(got.inflow, got.level - vessel.base, gutter.length, gutter.width, gutter.fall, viscosity)
