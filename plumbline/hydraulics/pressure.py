"""Where the water is under less pressure than the air, and whether pumps with a suction line can still draw it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from ..catalogued import finding
from ..findings import Finding
from ..layout.model import Layout, Part, Stretch, Water
from ..units import show
from ..water import GRAVITY, air_pressure, saturation_pressure
from .filling import suctions as suction_lines
from .fittings import is_shut
from .flows import Flows
from .grade import stretch_grade
from .stretches import pipes_joined, supplied

__all__ = ["Low", "Suction", "low_places", "npsh_available", "pressures", "suctions", "vapour_head"]

_ROOM = 20.0
"""Temperature [°C] for the vapour pressure where the file states density and viscosity only."""


def npsh_available(air: float, vapour: float, density: float, lift: float, losses: float) -> float:
    """Give the net positive suction head available at a pump's inlet.

    NPSH = (p_air − p_vapour)/ρg − lift − losses.

    Parameters:
        air: absolute pressure on the water that is drawn from [Pa].
        vapour: its vapour pressure [Pa].
        density: ρ [kg/m³].
        lift: height of the inlet above that water [m], negative below it.
        losses: head lost on the way to the inlet [m].

    Returns:
        [m of that water].

    >>> round(npsh_available(101325.0, 2339.2, 998.2, 3.0, 0.5), 2)
    6.61

    Reference: ISO 9906, definition of NPSH; F. M. White, Fluid Mechanics, section 11.2 (from memory).
    """
    return (air - vapour) / (density * GRAVITY) - lift - losses


def vapour_head(water: Water) -> float:
    """Head at which water boils [m of water, absolute]; at 20 °C where its temperature is not known."""
    celsius = _ROOM if water.temperature is None else water.temperature
    return saturation_pressure(celsius) / (water.density * GRAVITY)


def pressures(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Findings on pressure: pipe under less pressure than the air, and pumps that suck too hard."""
    yield from _under_pressure(layout, flows)
    for suction in suctions(layout, flows):
        yield from _suction_lift(layout, suction)


# ---------------------------------------------------------------------- under the air's pressure


@dataclass(frozen=True, slots=True)
class Low:
    """A place under the air's pressure: `line`, `part` next to it (None where the line begins), `height` [m above the datum],
    `pressure` head [m], below zero under the air's; `pumped` where a pump pushes, `sucks` in a suction line."""

    line: str
    part: Part | None
    height: float
    pressure: float
    pumped: bool
    sucks: bool


def low_places(layout: Layout, flows: Flows, limit: float) -> tuple[Low, ...]:
    """Find where pipe that runs full is under less pressure than the air.

    Parameters:
        limit: head under the air's that is let pass [m].

    Returns:
        The lowest place of each connected piece of such pipe, in the order of the lines.

    Drains that take air in, still drains, and pipe behind a shut or closed valve are left out. Pressure is that of the mean
    flow: just behind a bend's inner wall or a valve's edge it is lower.
    """
    sucking = {name for lines in suction_lines(layout).values() for name in lines}
    worst: dict[str, Low] = {}
    touching: dict[str, list[str]] = defaultdict(list)
    for stretch in layout.stretches:
        if not _full(flows, stretch):
            continue
        places = stretch_grade(layout, flows, stretch)
        heads = [static - height for _, height, _, static in places]
        if not heads or not min(heads) < -limit:
            continue
        i = heads.index(min(heads))
        worst[stretch.id] = Low(
            stretch.line,
            places[i][0],
            places[i][1],
            heads[i],
            not flows.stretches[stretch.id].gravity,
            stretch.line in sucking,
        )
        for point, head in ((stretch.tail, heads[0]), (stretch.head, heads[-1])):
            if head < -limit:
                touching[point].append(stretch.id)
    return tuple(_one_each(worst, touching))


def _one_each(worst: dict[str, Low], touching: dict[str, list[str]]) -> Iterator[Low]:
    left = list(worst)
    while left:
        group, waiting = {left[0]}, [left[0]]
        while waiting:
            here = waiting.pop()
            more = {other for ids in touching.values() if here in ids for other in ids} - group
            group |= more
            waiting += more
        yield min((worst[name] for name in worst if name in group), key=lambda low: low.pressure)
        left = [name for name in left if name not in group]


def _full(flows: Flows, stretch: Stretch) -> bool:
    """Whether a stretch is full of water whose pressure is known."""
    got = flows.stretches[stretch.id]
    if got.vented or stretch.id in flows.held or stretch.id in flows.cut_off or not math.isfinite(got.head_tail):
        return False
    return got.flow != 0.0 or not (got.gravity or any(is_shut(part) for part in stretch.parts))


def _under_pressure(layout: Layout, flows: Flows) -> Iterator[Finding]:
    units = layout.units
    air = air_pressure(layout.altitude) / (layout.water.density * GRAVITY)
    most = air - vapour_head(layout.water)
    told = {suction.line for suction in suctions(layout, flows) if suction.npsh <= 0.0}
    pieces, given = pipes_joined(layout), supplied(layout)
    for low in low_places(layout, flows, layout.limits["under pressure"]):
        boils = -low.pressure >= most
        # What comes from outside is as good as given, and runs on as it is if air gets in where the pipe falls.
        falls = pieces[low.line] in given and not low.pumped
        if low.line in told or ((low.sucks or falls) and not boils):
            continue
        step = low.part.step if low.part is not None else None
        where = f"at step {step}" if step else "at the beginning"
        what = f" ({low.part.kind})" if low.part is not None and not low.part.is_pipe else ""
        place = f"{where}{what} of line '{low.line}', {show(low.height, 'length', units)} above the datum"
        under = show(-low.pressure, "head", units)
        down = f"lay the pipe {where} of '{low.line}' {under} lower"
        vent = f"put an open vent pipe {where} of line '{low.line}', if enough flows without that pull; if not, {down}"
        if boils:
            yield finding(
                "under-pressure",
                f"The water would boil {place}: the flow shown needs {under} of head under the air's pressure there, and "
                f"{show(most, 'head', units)} is the most there is. Less flows than shown.",
                vent if low.pumped and not low.sucks else down,
                line=low.line,
                step=step,
                level="fail",
                case="worse",
            )
            continue
        pull = "the pipe beyond pulls it over" if low.pumped else "the line is a siphon"
        yield finding(
            "under-pressure",
            f"The water {place}, is {under} of head under the air's pressure: {pull}, a joint that is not tight draws in air, "
            "and then less flows.",
            vent if low.pumped else f"{down}, or a cap there to start the siphon by",
            line=low.line,
            step=step,
        )


# ---------------------------------------------------------------------- suction lines


@dataclass(frozen=True, slots=True)
class Suction:
    """The suction side of a pump: its inlet's `height` [m above the datum], total suction lift `lift` (height and losses to the inlet,
    less than zero where water stands over it) of which `losses` are known where the water comes from a vessel; `air` and
    `vapour` heads [m, absolute]; `npsh` available [m] and what the pump's maker `asks` for [m], if stated."""

    pump: str
    line: str
    height: float
    lift: float
    losses: float | None
    air: float
    vapour: float
    npsh: float
    asks: float | None


def suctions(layout: Layout, flows: Flows) -> tuple[Suction, ...]:
    """Find what is left of the air's pressure at the inlets of pumps that have a suction line."""
    density = layout.water.density
    air = air_pressure(layout.altitude)
    vapour = vapour_head(layout.water)
    found = []
    for name, line in layout.lines.items():
        if line.end.kind != "pump" or line.end.name not in flows.pumps:
            continue
        pump = layout.pumps[line.end.name or ""]
        end = flows.ends[f"{name}.to"]
        if not math.isfinite(end.head):
            continue
        lift = end.height - end.head
        npsh = npsh_available(air, vapour * density * GRAVITY, density, lift, 0.0)
        losses = None
        if line.start.kind == "vessel":
            losses = flows.stands(layout.vessels[line.start.name or ""]) - end.head
        found.append(
            Suction(pump.name, name, end.height, lift, losses, air / (density * GRAVITY), vapour, npsh, pump.npsh)
        )
    return tuple(found)


def _suction_lift(layout: Layout, suction: Suction) -> Iterator[Finding]:
    units, limits = layout.units, layout.limits
    asks = suction.asks
    needs = limits["inlet head"] if asks is None else asks + limits["inlet margin"]
    short = max(needs - suction.npsh, suction.lift - limits["suction lift"])
    if short <= 0.0:
        return
    parts = f"{show(suction.lift, 'head', units)} go into lift and losses"
    if suction.losses is not None:
        parts = (
            f"{show(suction.lift - suction.losses, 'head', units)} go into lift, {show(suction.losses, 'head', units)} "
            f"into line '{suction.line}'"
        )
    warm = "" if layout.water.temperature is not None else " at 20 °C"
    said = (
        f"Pump '{suction.pump}' sucks hard: of the {show(suction.air, 'head', units)} of head that the air gives, {parts} "
        f"and {show(suction.vapour, 'head', units)} into vapour{warm}, so {show(suction.npsh, 'head', units)} are left at its inlet"
    )
    if suction.npsh < needs:
        why = "as a small pump mostly needs" if asks is None else "what its maker asks for and a margin"
        said += f"; it should have {show(needs, 'head', units)}, {why}."
    else:
        said += f"; more than {show(limits['suction lift'], 'head', units)} of suction are seldom kept up."
    lower = f"stand '{suction.pump}' {show(short, 'length', units)} lower, or in the water"
    cure = (
        f"{lower}; or a larger pipe for line '{suction.line}', without bends"
        if (suction.losses or 0.0) > short
        else lower
    )
    fails = suction.npsh <= 0.0 or (asks is not None and suction.npsh < asks)
    yield finding(
        "suction-lift",
        said,
        cure,
        line=suction.line,
        level="fail" if fails else None,
        case="worse" if fails else "usual",
    )
