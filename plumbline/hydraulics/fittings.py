"""What each part of a line costs: its loss coefficient from the catalogue's law or from what the user stated, and its head at a flow."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from .. import catalogue
from ..catalogue.loss_laws import Constant, Crane, FromBores, Jet, LossLaw, RennelsBend, ThreeK, Through
from ..layout.model import End, Layout, Part, once
from . import loss_units, losses
from .friction import one_friction_loss
from .spray_bar import Bar, end_head, inlet_head

__all__ = ["PartK", "end_k", "is_one_way", "is_shut", "part_k", "part_loss", "parts_k", "stretch_ks", "velocity_head"]


@dataclass(frozen=True, slots=True)
class PartK:
    """K(Re) = `forward` + `laminar`/Re along the walk and `back` + `laminar`/Re against it, on the velocity head in `bore` [m].

    `shut` is True where nothing passes, `one_way` where water passes only along the walk.
    """

    forward: float
    back: float
    laminar: float
    bore: float
    shut: bool = False
    one_way: bool = False


def part_k(part: Part) -> PartK:
    """Return the loss of a fitting; a run has none of its own (its friction is the pipe's) but for the bends of a hose.

    A stated K or Kv stands in place of the catalogue's. A partly open valve adds what its opening costs.
    """
    row = catalogue.fittings()[part.kind] if not part.is_pipe else None
    bore = part.pipe.bore
    if row is None:
        bends = (
            losses.hose_bends(bore, part.details["bends"], part.details.get("radius", 5.0 * bore))
            if "bends" in part.details
            else 0.0
        )
        return PartK(bends, bends, 0.0, bore)
    shut, details = is_shut(part), part.details
    stated = part.loss
    if stated is None and "Kv" in details:
        stated = loss_units.from_kv(details["Kv"], bore)
    elif stated is None and "loses" in details:
        stated = loss_units.from_head(details["loses"], details["at"], bore)
    if stated is not None:
        k = PartK(stated, stated, 0.0, bore)
    else:
        at_corner = row.loss_at_corner is not None and (
            part.turn > catalogue.limits()["turn tolerance"].value or "side" in details
        )
        k = _law((row.loss_at_corner if at_corner else None) or row.loss, part)
    if "clogged" in details:
        # The open area that is left carries the same flow: its speed, squared.
        dirt = (1.0 - details["clogged"]) ** -2
        k = replace(k, forward=k.forward * dirt, back=k.back * dirt, laminar=k.laminar * dirt)
    if row.opening is not None and not shut and part.opening < 1.0:
        table = catalogue.openings()[row.opening]
        forward, back = (
            losses.valve_opening(one, part.opening, table.points, table.shut_at) for one in (k.forward, k.back)
        )
        k = replace(k, forward=forward, back=back)
    return replace(k, shut=shut, one_way=row.one_way) if shut or row.one_way else k


def is_shut(part: Part) -> bool:
    """Tell whether nothing passes a part: a valve that is shut, or open so little that its table has it as shut."""
    if part.is_pipe or part.opening >= 1.0:
        return False
    row = catalogue.fittings()[part.kind]
    return part.opening <= (0.0 if row.opening is None else max(0.0, catalogue.openings()[row.opening].shut_at))


def is_one_way(part: Part) -> bool:
    """Tell whether water passes a part only along the walk."""
    return not part.is_pipe and catalogue.fittings()[part.kind].one_way


def parts_k(parts: Sequence[Part]) -> tuple[PartK, ...]:
    """Return the losses of parts that follow each other in a walk.

    A fitting that stands against a change of bore counts in the narrower of the two, whichever way it was walked: that is on the safe
    side (common practice, no source).
    """
    return tuple(part_k(_in_narrower(parts, i)) for i in range(len(parts)))


@once
def stretch_ks(layout: Layout) -> Mapping[str, tuple[PartK, ...]]:
    """The losses of the parts of each stretch, by its id."""
    return {stretch.id: parts_k(stretch.parts) for stretch in layout.stretches}


def _in_narrower(parts: Sequence[Part], i: int) -> Part:
    part = parts[i]
    if part.is_pipe or part.kind in _CHANGES or part.pipe.bore != part.pipe_out.bore:
        return part
    beside = [
        other
        for other in (parts[i - 1] if i else None, parts[i + 1] if i + 1 < len(parts) else None)
        if other is not None and other.kind in _CHANGES
    ]
    narrow = min(
        (pipe for other in beside for pipe in (other.pipe, other.pipe_out)),
        key=lambda pipe: pipe.bore,
        default=part.pipe,
    )
    return part if narrow.bore >= part.pipe.bore else replace(part, pipe=narrow, pipe_out=narrow)


_CHANGES = ("reducer", "expander")


def _law(law: LossLaw, part: Part) -> PartK:
    bore, laminar = part.pipe.bore, 0.0
    match law:
        case ThreeK(k1, ki, kd):
            k, laminar = losses.three_k(bore, k1, ki, kd)
        case Crane(n):
            k = losses.crane(bore, n)
        case Constant(k):
            pass
        case RennelsBend(radius):
            k = losses.bend(bore, part.turn, radius, part.pipe.roughness) if part.turn > 0.0 else 0.0
        case Through(share):
            inside = part.details.get("bore", share * _hose_bore(part))
            return PartK(*losses.through(bore, inside, part.pipe_out.bore), 0.0, bore)
        case Jet(k):
            k *= (bore / part.pipe_out.bore) ** 4
        case FromBores():
            return PartK(*losses.reducer(bore, part.pipe_out.bore, part.details.get("angle")), 0.0, bore)
        case _:
            k = 0.0
    return PartK(k, k, laminar, bore)


def _hose_bore(part: Part) -> float:
    """The bore of the hose beside a part; without one, the smaller bore [m]."""
    hoses = [pipe.bore for pipe in (part.pipe, part.pipe_out) if (pipe.material or "").startswith("hose")]
    return min(hoses or [part.pipe.bore, part.pipe_out.bore])


def end_k(end: End) -> tuple[float, float]:
    """K of a line's end for water that enters the line there, and for water that leaves it there.

    A bare end in a vessel and a standpipe stand free in the water (re-entrant); a port and an overflow are flush with the wall. Water that
    leaves loses its velocity head. Inside the pipework (tees, pumps, caps) an end costs nothing of its own.
    """
    if end.kind not in ("vessel", "open air"):
        return 0.0, 0.0
    if end.loss is not None:
        return end.loss, end.loss
    rows = catalogue.fittings()
    entrance = rows["entrance flush" if end.port == "port" or end.in_wall else "entrance re-entrant"].loss
    leaving = rows["exit"].loss
    assert isinstance(entrance, Constant)
    assert isinstance(leaving, Constant)
    return entrance.k, leaving.k


def velocity_head(flow: float, bore: float, gravity: float) -> float:
    """Give V²/2g of a flow [m³/s] in a bore [m].

    >>> round(velocity_head(0.001, 0.0357, 9.80665), 3)
    0.051
    """
    return (flow / (0.25 * math.pi * bore**2)) ** 2 / (2.0 * gravity)


def part_loss(
    part: Part, k: PartK, flow: float, kinematic_viscosity: float, gravity: float, bar: Bar | None = None
) -> float:
    """Give the head that a part takes from a flow.

    h = f (L/D) V²/2g for pipe, K(Re) V²/2g for a fitting; for a spray bar what is lost from its inlet to its closed end.

    Parameters:
        flow: along the walk [m³/s], either sign.
        kinematic_viscosity: [m²/s].
        gravity: [m/s²].

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
