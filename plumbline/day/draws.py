"""Draws that run dry: a fixed flow is none where no water comes to it."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping

from ..hydraulics.stretch_links import FLOAT_BAND
from ..hydraulics.stretches import intakes, mouths, only_out, pipes_joined, pushed, supplied
from ..layout.model import Layout
from .moment import Switches

__all__ = ["WELL_OVER", "draws", "short", "sources", "until_short"]

WELL_OVER = 1e-3
"""An intake that drew air does so until the water stands so far over it, and a vessel runs over until it stands so far under its rim [m];
a trickle would have it told time and again."""


def draws(layout: Layout) -> list[str]:
    """The line ends at which a fixed flow is drawn off."""
    return [point for point, end in layout.ends.items() if end.kind == "draw" and end.draw > 0.0]


def sources(layout: Layout, off: Collection[str], point: str) -> list[tuple[str, float]]:
    """What a draw's pipe takes water from now, vessels with the heights down to which it does: the intakes of pumps at work, which take what comes
    to them for as long as any does, and mouths."""
    groups = pipes_joined(layout)
    group = groups[point.rpartition(".")[0]]
    at_work = [name for name in layout.pumps.keys() - off if group in pushed(layout, {name})]
    return [(one.vessel, one.height - WELL_OVER) for name in at_work for one in intakes(layout)[name]] + [
        (end.name or "", end.place[2])
        for other, (end, _, _) in mouths(layout).items()
        if groups[other.rpartition(".")[0]] == group and not only_out(end)
    ]


def short(layout: Layout, switches: Switches, level: Callable[[str], float], by: float = 0.0) -> frozenset[str]:
    """The draws that no water comes to: all that their pipe takes water from is down to where it does, or as near to that as `by` [m], or, of one
    that has run dry, has not come well over it again."""
    supplies = supplied(layout)
    return frozenset(
        point
        for point in draws(layout)
        if pipes_joined(layout)[point.rpartition(".")[0]] not in supplies
        and all(
            level(vessel) <= height + (FLOAT_BAND if point in switches.undrawn else by)
            for vessel, height in sources(layout, switches.off, point)
        )
    )


def until_short(layout: Layout, switches: Switches, level: Callable[[str], float], falls: Mapping[str, float]) -> float:
    """How long until what a draw takes its water from is down to there, as the levels fall [m/s] [s]."""
    left = (
        (level(vessel) - height, falls[vessel])
        for point in draws(layout)
        for vessel, height in sources(layout, switches.off, point)
        if vessel in falls
    )
    return min((over / rate for over, rate in left if over > 0.0 and rate > 1e-9), default=math.inf)
