"""The shape of a tee: which two of its legs are the through-run, and how the branch leaves it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from .faults import Faults
from .model import Leg, Mark, Part, Tee, Vector
from .vectors import NOWHERE, angle_between, bent, direction_words, negative

__all__ = ["Joining", "shape_tee"]

_WYE = (20.0, 75.0)
"""Between these angles [deg] a branch counts as slanting: wyes are sold at 45° and, rarely, 30° and 60°."""
_UP: Vector = (0.0, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Joining:
    """The leg that another line's end, or its own line's, brings to a tee. `loose` tells that its heading was not
    walked, so that it fits itself to the tee; `own` that a hose of the tee's own line goes on from it, which bends to whichever way is left; `mark` where the file has the end.
    `way` is the direction, seen as one walks, that the leg begins in, if the file says one."""

    leg: Leg
    loose: bool
    own: bool
    mark: Mark
    way: str = ""


def shape_tee(
    tee: str,
    part: Part,
    line: str,
    place: Vector,
    joining: Joining,
    stated: float | None,
    tolerance: float,
    faults: Faults,
) -> Tee | None:
    """Tell the through-run from the branch by the headings; None, and a fault, where no tee is made that way."""
    legs = [
        Leg(line, "before", negative(part.heading_in), part.pipe),
        Leg(line, "after", part.heading_out, part.pipe_out),
        joining.leg,
    ]
    kind: Literal["tee", "wye"] = "wye" if part.kind == "wye" else "tee"
    if joining.loose and NOWHERE not in (legs[0].heading, legs[1].heading):
        legs[2] = replace(legs[2], heading=_fitted(kind, legs, tolerance))
    order = _straight(legs, tolerance)
    if joining.own and _same_way(legs, tolerance):
        legs[1] = replace(legs[1], heading=negative(legs[0].heading))
        order = _straight(legs, tolerance)
    if order is None:
        if stated is not None:
            return Tee(tee, kind, line, part.step, place, (legs[0], legs[1], legs[2]), math.pi / 2, part.mark, stated)
        known = [direction_words(leg.heading) for leg in legs if leg.heading != NOWHERE]
        ways = f"they go {'; '.join(known)}" if len(known) == 3 else "a line with no run says no direction"
        found = f"no two legs of {kind} '{tee}' are in line: {ways}"
        faults.add(part.mark, found, "a straight through-run and one branch, or a stated loss, K", also=[joining.mark])
        return None
    first, second, branch = order
    angle = angle_between(second.heading, branch.heading)
    if angle > math.pi / 2:
        first, second, angle = second, first, angle_between(first.heading, branch.heading)
    degrees, slack = math.degrees(angle), math.degrees(tolerance)
    low, high = _WYE if kind == "wye" else (90.0 - slack, 90.0 + slack)
    if stated is None and not low - 1e-9 <= degrees <= high + 1e-9:
        other = "tee" if kind == "wye" else "wye"
        fits = degrees >= 90.0 - slack if kind == "wye" else _WYE[0] <= degrees <= _WYE[1]
        hint = f"for a branch that leaves {direction_words(branch.heading)} write {other}" if fits else ""
        found = f"the branch of {kind} '{tee}' leaves at {degrees:.0f}° to the run"
        if degrees <= slack:
            found = f"two legs of {kind} '{tee}' go the same way, {direction_words(branch.heading)}"
            way = direction_words(joining.leg.heading)
            hint = f"a line begins facing north, so that its {joining.way} is {way}" if joining.way else hint
        faults.add(part.mark, found, "a branch at 90° for a tee, about 45° for a wye", hint=hint, also=[joining.mark])
        return None
    return Tee(tee, kind, line, part.step, place, (first, second, branch), angle, part.mark, stated)


def _same_way(legs: list[Leg], tolerance: float) -> bool:
    """Whether the leg that joins goes where the tee's own line goes on."""
    return (
        NOWHERE not in (legs[1].heading, legs[2].heading)
        and angle_between(legs[1].heading, legs[2].heading) <= tolerance
    )


def _straight(legs: list[Leg], tolerance: float) -> tuple[Leg, Leg, Leg] | None:
    """(run, run, branch), or None where no two legs are in line or a leg has no heading."""
    if any(leg.heading == NOWHERE for leg in legs):
        return None
    ways = [
        (abs(angle_between(legs[a].heading, legs[b].heading) - math.pi), (a, b, c))
        for a, b, c in ((0, 1, 2), (0, 2, 1), (1, 2, 0))
    ]
    off, (a, b, c) = min(ways, key=lambda way: way[0])
    return (legs[a], legs[b], legs[c]) if off <= tolerance else None


def _fitted(kind: str, legs: list[Leg], tolerance: float) -> Vector:
    """The heading nearest to a loose leg's own that makes a tee of it."""
    one, two, own = (leg.heading for leg in legs)
    if abs(angle_between(one, two) - math.pi) > tolerance:
        choices = [negative(one), negative(two)]
    else:
        across = bent(one, math.pi / 2, own if own != NOWHERE else _UP)
        slanted = [bent(run, math.pi / 4, across) for run in (one, two)]
        choices = slanted if kind == "wye" else [across]
    return min(choices, key=lambda way: angle_between(way, own))
