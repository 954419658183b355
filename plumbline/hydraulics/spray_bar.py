"""A spray bar, hole by hole: from its capped end back to its inlet.

Between holes the pipe costs friction. Where water leaves, what stays runs slower, and some of the speed it loses comes
back as pressure. Each hole is an orifice under the static head abreast of it, the mean of that before it and behind it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from ..errors import SolveError
from ..layout.model import Layout, Part, Stretch
from ..water import GRAVITY
from .friction import one_friction_loss
from .stages import HOLE_CD

__all__ = [
    "RECOVERY",
    "Bar",
    "Hole",
    "bar_of",
    "capped_bar",
    "end_head",
    "hole_heights",
    "holes_of",
    "inlet_head",
    "open_bar",
    "outside_head",
]

RECOVERY = 1.0
"""Share of the lost velocity head that comes back as pressure: all of it, as Howland (1953) took it, as told by Bailey (1975),
J. Mech. Eng. Sci. 17, 338–347 [looked up]; also K near 0.5 in Perry's 2K(ρV²/2), section 6 [from memory]. Measurements scatter."""

_MOST_STEPS = 1000
_NEXT_TO_NONE = 1e-60
_STILL = 1e-10
"""Head [m] under which a hole lets out in proportion to its head, as slow flow does; above it with the root of the head."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A pipe with n holes and a capped end, in the order of the flow.

    `bore`, `roughness` [m] of the pipe; `hole` [m] diameter of each hole, `cd` its discharge coefficient; `gaps` (n,) [m] of pipe
    before each hole; `above` (n,) [m] how far the head outside each hole stands above the lowest such head, from which all
    heads of the bar count; `recovery` 0 to 1; `friction` a factor on all friction; `viscosity` kinematic [m²/s].
    """

    bore: float
    roughness: float
    hole: float
    gaps: tuple[float, ...]
    above: tuple[float, ...]
    viscosity: float
    cd: float = HOLE_CD
    recovery: float = RECOVERY
    friction: float = 1.0
    gravity: float = GRAVITY


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole: `flow` [m³/s] and the `head` [m] that drives it, none where it is dry; `speed` [m/s] of its jet where it is
    narrowest, √(2 g head)."""

    flow: float
    head: float
    speed: float


def capped_bar(layout: Layout, stretch: Stretch) -> Part | None:
    """Give the spray bar that a stretch ends in: one that nothing but closed pipe lies behind, up to a cap, a plug or a shut valve.

    A bar that water may come to from its other end too, or that goes on to a way out, is `open_bar`'s.
    """
    spray = next((part for part in stretch.parts if part.kind == "spray bar"), None)
    if spray is None:
        return None
    line = layout.lines[stretch.line]
    behind = [part for part in line.parts if part.step > spray.step]
    stop = next((part.step for part in behind if part.opening <= 0.0), None)
    if stop is None and line.end.kind not in ("cap", "plug"):
        return None
    goes_on = any(
        tee.line == stretch.line and spray.step < tee.step < (stop or math.inf) for tee in layout.tees.values()
    )
    return None if goes_on else spray


def open_bar(layout: Layout, stretch: Stretch) -> Part | None:
    """Give the spray bar of a stretch that water may pass through, from either end."""
    spray = next((part for part in stretch.parts if part.kind == "spray bar"), None)
    return None if spray is None or capped_bar(layout, stretch) is not None else spray


def bar_of(layout: Layout, part: Part) -> Bar:
    """Give the bar that a step of a layout describes.

    The holes stand evenly, L/n apart, the first and the last half of that from the ends. A hole under the vessel's stated
    level has that level outside, another has air at its own height.

    Returns:
        The `Bar`; `outside_head` gives the height that its heads count from.
    """
    n = round(part.details["holes"])
    gap = part.length / n
    level = layout.vessels[part.vessel].level if part.vessel is not None else -math.inf
    outside = [max(level, height) for height in hole_heights(part, n)]
    lowest = min(outside)
    return Bar(
        bore=part.pipe.bore,
        roughness=part.pipe.roughness,
        hole=_hole(layout, part),
        gaps=(0.5 * gap, *(gap,) * (n - 1)),
        above=tuple(height - lowest for height in outside),
        viscosity=layout.water.viscosity / layout.water.density,
    )


def _hole(layout: Layout, part: Part) -> float:
    """The hole of a spray bar, or the one that gives what a dripper does: both go with the root of the pressure.

    Reference: emitters with a long or tortuous path, q = k hˣ with x near 0.5 (Keller and Karmeli 1974, from memory).
    """
    if "dripper" not in part.details:
        return part.details["hole"]
    speed = math.sqrt(2.0 * part.details["at"] / layout.water.density)
    return math.sqrt(4.0 * part.details["dripper"] / (math.pi * HOLE_CD * speed))


def outside_head(layout: Layout, part: Part) -> float | None:
    """Give the height of the lowest hole [m above the datum] of a bar that is all in the air; None where the vessel's level
    covers a hole, and heads count from that level."""
    lowest = min(hole_heights(part, round(part.details["holes"])))
    if part.vessel is not None and lowest < layout.vessels[part.vessel].level:
        return None
    return lowest


def hole_heights(part: Part, n: int) -> list[float]:
    """The heights of a bar's holes, or of as many groups of them [m above the datum]."""
    rise = part.end[2] - part.start[2]
    return [part.start[2] + (i + 0.5) / n * rise for i in range(n)]


def inlet_head(bar: Bar, flow: float) -> tuple[float, float]:
    """Give the total head that a flow asks for at a bar's inlet, and its derivative.

    From the closed end up, with p the static head and Q the flow in the pipe: q = C √(p̄ − above), p̄ the mean of p before
    and behind the hole, C = Cd a √(2g); Q rises by q; p falls by recovery × ΔV²/2g; p rises by the friction of the gap. The
    inlet's total head is p + V²/2g. The head at the end is found at which the holes' flows add up to `flow`.

    Parameters:
        flow: into the bar [m³/s]; below nothing, the same head with its sign turned.

    Returns:
        (head [m] above the lowest head outside, its derivative by the flow [s/m²]); nothing at no flow.

    Raises:
        SolveError: if the flows of the holes do not add up to within 1e-12.

    >>> bar = Bar(0.05, 1.5e-6, 0.006, (0.025,) + (0.05,) * 11, (0.0,) * 12, 1e-6)
    >>> round(inlet_head(bar, 0.0006)[0], 3)
    0.417

    Reference: Perry's Chemical Engineers' Handbook, section 6, perforated pipe distributors (from memory); Rawn, Bowerman and
    Brooks (1960), the march from the far end (from memory).
    """
    if flow == 0.0:
        return 0.0, 0.0
    got = _march(bar, *_end_for(bar, abs(flow)))
    return math.copysign(got.head, flow), got.head_slope / got.flow_slope


def end_head(bar: Bar, flow: float) -> float:
    """Give the head at a bar's closed end [m above the lowest head outside] at a flow [m³/s], signed like it."""
    return math.copysign(_end_for(bar, abs(flow))[0], flow) if flow else 0.0


def holes_of(bar: Bar, flow: float) -> tuple[Hole, ...]:
    """Give each hole of a bar, from the inlet to the closed end, at a flow into it [m³/s] of nothing or more."""
    if flow <= 0.0:
        return tuple(Hole(0.0, 0.0, 0.0) for _ in bar.gaps)
    per_root = bar.cd * 0.25 * math.pi * bar.hole**2
    flows = _march(bar, *_end_for(bar, flow)).flows
    speeds = [q / per_root for q in (*reversed(flows), *(0.0,) * (len(bar.gaps) - len(flows)))]
    return tuple(Hole(speed * per_root, speed**2 / (2.0 * bar.gravity), speed) for speed in speeds)


@dataclass(frozen=True, slots=True)
class _March:
    """What a head at the closed end leads to: the bar's `flow` and inlet `head`, their derivatives by that head, and the
    holes' flows from the end."""

    flow: float
    head: float
    flow_slope: float
    head_slope: float
    flows: tuple[float, ...]


def _march(bar: Bar, end: float, count: int) -> _March:
    """From the head `end` behind the first `count` holes up to the inlet."""
    twice_g = 2.0 * bar.gravity
    area = 0.25 * math.pi * bar.bore**2
    square = twice_g * (bar.cd * 0.25 * math.pi * bar.hole**2) ** 2
    regain = bar.recovery / (twice_g * area**2)
    half = 0.5 * regain * square
    p, dp, flow, dflow = end, 1.0, 0.0, 0.0
    flows: list[float] = []
    for gap, above in zip(reversed(bar.gaps[:count]), reversed(bar.above[:count]), strict=True):
        q = dq = 0.0
        if p - above > 1e-100:
            # (1 + b) q² + 2 b Q q = C² (p − above), with b = C² recovery/(4 g A²)
            drive, by_head = p - above, 1.0
            if drive < _STILL:
                drive, by_head = drive * (drive / _STILL), 2.0 * (drive / _STILL)
            root = math.sqrt((half * flow) ** 2 + (1.0 + half) * square * drive)
            q = square * drive / (half * flow + root)
            dq = 0.5 * (square * by_head * dp - 2.0 * half * q * dflow) / root
        before, dbefore = flow + q, dflow + dq
        p -= regain * (before**2 - flow**2)
        dp -= 2.0 * regain * (before * dbefore - flow * dflow)
        flow, dflow = before, dbefore
        flows.append(q)
        lost, slope = one_friction_loss(flow, bar.bore, gap * bar.friction, bar.roughness, bar.viscosity, bar.gravity)
        p += lost
        dp += slope * dflow
    speed = 1.0 / (twice_g * area**2)
    return _March(flow, p + speed * flow**2, dflow, dp + 2.0 * speed * flow * dflow, tuple(flows))


@lru_cache(maxsize=4096)
def _end_for(bar: Bar, flow: float) -> tuple[float, int]:
    """The head at the last hole that lets out anything, and how many do, at which their flows add up to `flow`.

    Newton's method on the root of the head, kept between two heads of which one lets out too little and one too much. In a
    long bar with slow flow the far holes get less than a number can say: those are left out.
    """
    count = _reached(bar, flow)
    each = flow / count / (bar.cd * 0.25 * math.pi * bar.hole**2)
    low, high = 0.0, math.sqrt(each**2 / (2.0 * bar.gravity)) + math.sqrt(max(bar.above)) + math.sqrt(_STILL)
    while _march(bar, high**2, count).flow < flow:
        low, high = high, 2.0 * high
    x = high
    for _ in range(_MOST_STEPS):
        got = _march(bar, x**2, count)
        left = got.flow - flow
        if abs(left) <= 1e-15 * flow:
            break
        low, high = (x, high) if left < 0.0 else (low, x)
        slope = 2.0 * x * got.flow_slope
        nearer = x - left / slope if slope > 0.0 else low
        nearer = nearer if low < nearer < high else 0.5 * (low + high)
        if nearer in (low, high, x):
            break
        x = nearer
    left = _march(bar, x**2, count).flow - flow
    if not abs(left) <= 1e-12 * flow:
        raise SolveError("the flows of a spray bar's holes do not add up", residual=left)
    return x**2, count


def _reached(bar: Bar, flow: float) -> int:
    """How many holes from the inlet a flow gets to: all, unless next to no head at the last already lets out more."""
    count, most = 1, len(bar.gaps)
    if _march(bar, _NEXT_TO_NONE, most).flow <= flow:
        return most
    while most - count > 1:
        middle = (count + most) // 2
        if _march(bar, _NEXT_TO_NONE, middle).flow <= flow:
            count = middle
        else:
            most = middle
    return count
