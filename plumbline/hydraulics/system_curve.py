"""The system curve of a pump: the head that the pipe asks of it at each flow.

A pump set to another speed works at another point of the same system curve, so the duty points of one pump at many speeds
are that curve. All other pumps run on as they are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from ..errors import SolveError
from ..layout.model import Layout
from .find import find_flows
from .flows import Flows
from .pumping import run_at
from .risers import curve_of

__all__ = ["SystemCurve", "system_curve"]

SPEEDS = (0.3, 0.45, 0.6, 0.75, 0.9, 1.0, 1.15, 1.3)
"""Shares of its present speed at which a pump is tried."""

CLOSE = 0.15
"""Between still water and the first flow, speeds are halved until the first flow is below this share of the present one."""


@dataclass(frozen=True, slots=True)
class SystemCurve:
    """What the pipe asks of a pump: `points` of (flow [m³/s], head [m]) with rising flow."""

    pump: str
    points: tuple[tuple[float, float], ...]


def system_curve(layout: Layout, flows: Flows, pump: str) -> SystemCurve:
    """Find the system curve of a pump.

    Parameters:
        flows: its steady flows; vessels keep the levels that these have.

    Returns:
        Points from little flow to more than the present one; fewer, or none, where the layout has no steady flow at those
        speeds.

    Reference: the affinity laws only move the pump's curve; where the two cross is the system's. Crane Co., TP-410, 2009,
    "system curves" (from memory).
    """
    levels = {name: got.level for name, got in flows.vessels.items() if got.level is not None}
    own = replace(layout.pumps[pump], curve=curve_of(layout, layout.pumps[pump]))
    found: dict[float, tuple[float, float]] = {}

    def tried(share: float) -> tuple[float, float] | None:
        at = replace(layout, pumps={**layout.pumps, pump: run_at(own, own.speed * share)})
        try:
            duty = find_flows(at, levels=levels).pumps[pump]
        except (SolveError, KeyError):
            return None
        return (duty.flow, duty.head) if duty.flow > 0.0 else None

    for share in SPEEDS:
        point = tried(share)
        if point is not None:
            found[share] = point
    now = flows.pumps[pump].flow
    if found:
        high = min(found)
        low = max((share for share in SPEEDS if share < high), default=0.0)
        for _ in range(6):
            if found[high][0] <= CLOSE * now or low <= 0.0:
                break
            middle = 0.5 * (low + high)
            point = tried(middle)
            if point is None:
                low = middle
            else:
                found[middle] = point
                high = middle
    return SystemCurve(pump, _rising(found))


def _rising(found: Mapping[float, tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Points in order of flow, each flow once."""
    out: list[tuple[float, float]] = []
    for flow, head in sorted(found.values()):
        if not out or flow > out[-1][0] * (1.0 + 1e-9):
            out.append((flow, head))
    return tuple(out)
