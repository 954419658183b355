"""A step on in time, and the part of it up to where a value comes to nothing.

V' = q(V), V the water in each vessel and q what it gains with the levels as they are, one solve of the network. The step is
the trapezoid rule to a part of it and the second backward difference on (TR-BDF2), both implicit, so that vessels that come level
in seconds do not hold up a day; it is second-order, damps what is fast, and keeps the sum of all water to rounding. The third
derivative that its own three rates give sets the length of the step.

Reference: Bank et al. (1985), IEEE Trans. Electron Devices 32, 1992; Hosea and Shampine (1996), Appl. Numer. Math. 20, 21, for
the error's estimate (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import SolveError
from ..hydraulics.network import FloatArray
from .moment import Moment, Switches, Waters

__all__ = ["AT_EVENT", "WEIGHTS", "Step", "Trigger", "Watch", "crossing", "cut_at", "step_on"]

GAMMA = 2.0 - math.sqrt(2.0)
"""Where the trapezoid's part of a step ends, as a share of it."""

WEIGHTS = (math.sqrt(2.0) / 4.0, math.sqrt(2.0) / 4.0, 0.5 * GAMMA)
"""What the rates at the begin, at γ and at the end of a step count for in it."""

CLOSE = 3e-4
"""The error of a step's levels [m]."""

TOLD_TO = 1.0
"""What is only told of is told to the second [s]."""

AT_EVENT = 1e-5
"""A tenth of how near to a level a step ends that something switches at [m], and no less far behind it."""


@dataclass(frozen=True)
class Watch:
    """Something to be told of, once, where `value`, of a moment's levels [m] or flows over `scale`, rises through nothing."""

    kind: str
    where: str
    value: Callable[[Moment], float]
    scale: float = 1.0


@dataclass
class Trigger:
    """Something that switches where `value`, of a moment's levels and flows, rises through nothing; or that is only `told`."""

    value: Callable[[Moment], float]
    fire: Callable[[], None]
    scale: float = 1.0
    told: bool = False


Step = tuple[Moment, Moment, float]
"""The moments at γ and at the end of a step, and its error over what is allowed."""


def crossing(seen: Sequence[tuple[float, float]], aim: float) -> float:
    """When a value reaches an aim, by the parabola for time through three of (time [s], value), or the straight line between the two on
    either side of nothing where they do not rise.

    >>> round(crossing([(1.0, -1.0), (2.0, 0.0), (3.0, 3.0)], 0.0), 9)
    2.0
    """
    over = next(i for i, (_, value) in enumerate(seen) if value >= 0.0)
    three = seen[over - 1 : over + 2] if over + 1 < len(seen) else seen[max(over - 2, 0) :]
    if len(three) < 3 or not three[0][1] < three[1][1] < three[2][1]:
        three = seen[over - 1 : over + 1]
    return sum(
        time * math.prod((aim - other) / (value - other) for _, other in three if other != value)
        for time, value in three
    )


def step_on(waters: Waters, switches: Switches, now: Moment, volumes: FloatArray, step: float) -> Step | None:
    """Go a step [s] on from a moment, and the volumes that it is of [m³]; None where flows are not found."""
    try:
        half = 0.5 * GAMMA * step
        middle = waters.solve(switches, volumes + half * now.gains, half, now.solution)
        target = (middle.volumes - (1.0 - GAMMA) ** 2 * volumes) / (GAMMA * (2.0 - GAMMA))
        end = waters.solve(switches, target, (1.0 - GAMMA) / (2.0 - GAMMA) * step, middle.solution)
    except SolveError:
        return None
    k = (-3.0 * GAMMA**2 + 4.0 * GAMMA - 2.0) / (12.0 * (2.0 - GAMMA))
    bend = now.gains / GAMMA - middle.gains / (GAMMA * (1.0 - GAMMA)) + end.gains / (1.0 - GAMMA)
    before, after = waters.levels(volumes), waters.levels(end.volumes)
    error = float(np.max(np.abs(2.0 * k * step * bend) / waters.areas, initial=0.0)) / CLOSE
    moved = float(np.max(np.abs(after - before), initial=0.0))
    return middle, end, max(error, moved / 0.1)


def cut_at(
    trigger: Trigger, now: Moment, step: float, middle: Moment, end: Moment, take: Callable[[float], Step | None]
) -> tuple[float, Moment, Moment] | None:
    """Find the step at which something switches: the root of a curve through what is known is tried next, or the middle where the last
    try left more than six tenths (after Dekker's safeguard: Brent, Algorithms for Minimization without Derivatives, 1973; from memory)."""
    soon, near = TOLD_TO if trigger.told else 1e-4, AT_EVENT * trigger.scale
    seen = [(0.0, trigger.value(now)), (GAMMA * step, trigger.value(middle)), (step, trigger.value(end))]
    if seen[0][1] >= 0.0:
        return step, middle, end
    width = math.inf
    for _ in range(30):
        over = next(i for i, (_, value) in enumerate(seen) if value >= 0.0)
        before, (after, value) = seen[over - 1][0], seen[over]
        if step == after and (after - before < soon or (value < near and not trigger.told)):
            break
        share = (crossing(seen[max(over - 2, 0) : over + 2], near / 3.0) - before) / (after - before)
        share, width = (share if after - before < 0.6 * width else 0.5), after - before
        step = after if after - before < soon else before + min(max(share, 0.02), 0.98) * (after - before)
        taken = take(max(step, 1e-6))
        if taken is None:
            return None
        middle, end, _ = taken
        seen = sorted({**dict(seen), step: trigger.value(end)}.items())
        if max(value for _, value in seen) < 0.0:
            return None
    return step, middle, end
