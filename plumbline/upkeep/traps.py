"""What is said of low points that cannot be drained, and of humps from which air cannot leave."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..catalogued import finding
from ..findings import Finding, as_tuple
from ..hydraulics.flows import Flows
from ..layout.model import Layout, Stretch
from ..layout.traps import Trap, trapped
from ..units import show
from ..water import GRAVITY
from .shear import settles, speed

__all__ = ["humps", "low_points"]


@as_tuple
def low_points(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Report low points deeper than the limit `low point depth` without a drain: a warning where the water is
    slower than `self-cleansing speed`, advice elsewhere."""
    for trap in trapped(layout, air=False):
        if trap.depth <= layout.limits["low point depth"]:
            continue
        velocity, _ = _flow_at(layout, flows, trap)
        slow = settles(velocity, layout.limits)
        after = "and solids settle in it" if slow else "though the flow keeps it clean while the pump runs"
        yield finding(
            "low-point",
            f"'{trap.line}' has a low point{_at(layout, trap)} that holds "
            f"{show(trap.depth, 'size' if trap.depth < 0.1 else 'length', layout.units)} of water with no drain, {after}.",
            f"put a drain valve or a cap{_at(layout, trap)}, or lay the pipe with a steady fall",
            level="warn" if slow else "advice",
            line=trap.line,
            step=trap.step,
            case="usual" if slow else "milder",
            start=trap.at,
            stop=trap.at,
        )


@as_tuple
def humps(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Report humps higher than the limit `hump height` without a vent, unless the stream clears them of air.

    With F = V/√(gD): nothing from `clear speed for air` on, advice from `escape speed for air`, a warning
    below.
    """
    for trap in trapped(layout, air=True):
        if trap.depth <= layout.limits["hump height"]:
            continue
        velocity, bore = _flow_at(layout, flows, trap)
        number = velocity / math.sqrt(GRAVITY * bore)
        if number >= layout.limits["clear speed for air"]:
            continue
        stays = number < layout.limits["escape speed for air"]
        does = "too slow to carry any off" if stays else "fast enough to carry some of it off"
        clearing = layout.limits["clear speed for air"] * math.sqrt(GRAVITY * bore)
        yield finding(
            "hump",
            f"Air gathers in a hump of '{trap.line}'{_at(layout, trap)}, "
            f"{show(trap.depth, 'size' if trap.depth < 0.1 else 'length', layout.units)} high: the water at "
            f"{show(velocity, 'speed', layout.units)} is {does} "
            f"({show(clearing, 'speed', layout.units)} clears it).",
            f"put a vent or a cap at its top{_at(layout, trap)}",
            level="warn" if stays else "advice",
            line=trap.line,
            step=trap.step,
            case="usual" if stays else "milder",
            start=trap.at,
            stop=trap.at,
        )


def _at(layout: Layout, trap: Trap) -> str:
    if trap.step is None:
        return ""
    part = [part for part in layout.lines[trap.line].parts if part.step == trap.step][-1]
    return f" at step {trap.step}" + ("" if part.is_pipe else f" ({part.kind})")


def _flow_at(layout: Layout, flows: Flows, trap: Trap) -> tuple[float, float]:
    """Speed [m/s] and bore [m] of the pipe at a trap; the slower where two stretches meet there."""
    near: list[tuple[float, float]] = []
    for stretch in layout.stretches:
        if stretch.line == trap.line and stretch.start - 1e-9 <= trap.at <= stretch.stop + 1e-9:
            bore = _bore_at(stretch, trap.at)
            near.append((speed(flows.stretches[stretch.id].flow, bore), bore))
    return min(near)


def _bore_at(stretch: Stretch, at: float) -> float:
    runs = [part for part in stretch.parts if part.is_pipe and part.at - 1e-9 <= at <= part.at + part.length + 1e-9]
    return runs[0].pipe.bore if runs else stretch.bore
