"""What one part costs at a given flow."""

from __future__ import annotations

import math

from ..layout.model import Part
from .fittings import PartK
from .friction import one_friction_loss
from .spray_bar import Bar, end_head, inlet_head

__all__ = ["part_loss", "velocity_head"]


def velocity_head(flow: float, bore: float, gravity: float) -> float:
    """Give V²/2g of a flow [m³/s] in a bore [m].

    >>> round(velocity_head(0.001, 0.0357, 9.80665), 3)
    0.051
    """
    return (flow / (0.25 * math.pi * bore**2)) ** 2 / (2.0 * gravity)


def part_loss(part: Part, k: PartK, flow: float, kinematic_viscosity: float, gravity: float,
              bar: Bar | None = None) -> float:  # fmt: skip
    """Give the head that a part takes from a flow.

    h = f (L/D) V²/2g for pipe, K(Re) V²/2g for a fitting; for a spray bar what is lost from its inlet to its closed end.

    Parameters:
        flow: along the walk [m³/s], either sign.
        kinematic_viscosity: [m²/s].
        gravity: [m/s²].
        bar: the spray bar that the part is, if it is one.

    Returns:
        Head loss [m], never negative.
    """
    if part.is_pipe:
        if part.kind == "spray bar" and bar is not None:
            return abs(inlet_head(bar, flow)[0] - end_head(bar, flow))
        pipe = part.pipe
        lost, _ = one_friction_loss(abs(flow), pipe.bore, part.length, pipe.roughness, kinematic_viscosity, gravity)
        return lost + k.forward * velocity_head(flow, pipe.bore, gravity)
    reynolds = abs(flow) / (0.25 * math.pi * k.bore) / kinematic_viscosity
    coefficient = (k.forward if flow > 0.0 else k.back) + (k.laminar / reynolds if reynolds > 0.0 else 0.0)
    return coefficient * velocity_head(flow, k.bore, gravity)
