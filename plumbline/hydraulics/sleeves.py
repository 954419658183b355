"""What a sleeve around a standpipe takes: water comes up between the two, from the floor to the crest."""

from __future__ import annotations

import math
from collections.abc import Mapping

from ..layout.model import End, Layout, Stretch
from .friction import friction_factor
from .stretches import end_bores, pieces_by_line

__all__ = ["sleeve_gap", "sleeve_squares"]


def sleeve_squares(layout: Layout, flows: Mapping[str, float]) -> dict[str, float]:
    """Give what the way up between each standpipe and its sleeve takes: entrance, friction on the gap, and its speed.

    Parameters:
        flows: by stretch id [m³/s].

    Returns:
        By line end, the coefficient of Q² [s²/m⁵].
    """
    found: dict[str, float] = {}
    pieces = pieces_by_line(layout)
    nu = layout.water.viscosity / layout.water.density
    for name, line in layout.lines.items():
        for end, side in ((line.start, 0), (line.end, 1)):
            stretch = pieces[name][-side]
            gap = sleeve_gap(end, stretch, side)
            if gap is None:
                continue
            area, width = gap
            speed = max(abs(flows[stretch.id]), 1e-9) / area
            pipe = (stretch.parts[0].pipe if side == 0 else stretch.parts[-1].pipe_out) if stretch.parts else None
            rough = pipe.roughness if pipe is not None else 0.0
            height = end.place[2] - layout.vessels[end.name or ""].base
            k = 1.5 + float(friction_factor(speed * width / nu, rough / width)) * height / width
            found[f"{name}.{'to' if side else 'from'}"] = k / (2.0 * 9.80665 * area**2)
    return found


def sleeve_gap(end: End, stretch: Stretch, side: int) -> tuple[float, float] | None:
    """Give the area [m²] and the hydraulic diameter [m] of the gap between a standpipe and its sleeve; None without one.

    Area π/4 (Ds² − d²) and hydraulic diameter Ds − d, with d the pipe's outside diameter, or its bore where that is not
    known; a sleeve that is not wider than the pipe counts as a gap of a tenth of a millimetre.
    """
    if end.sleeve is None:
        return None
    outside = end_bores(stretch)[side]
    if stretch.parts:
        pipe = stretch.parts[0].pipe if side == 0 else stretch.parts[-1].pipe_out
        outside = pipe.outside or pipe.bore
    wide = max(end.sleeve, outside + 1e-4)
    return 0.25 * math.pi * (wide**2 - outside**2), wide - outside
