"""How fast jets turn a tank: their thrust against the drag of the wetted walls."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from .. import catalogue
from ..layout.model import Layout, Part, Vessel
from .flows import Flows
from .spray_bar import Bar, Hole, bar_of, capped_bar, holes_of, outside_head

__all__ = [
    "JetBar",
    "Range",
    "Swimmer",
    "TankCurrent",
    "mean_speed",
    "safe_speed",
    "swimmer",
    "tank_currents",
    "wetted_area",
]


@dataclass(frozen=True, slots=True)
class Range:
    """A number between two ends, in SI."""

    low: float
    likely: float
    high: float


@dataclass(frozen=True)
class JetBar:
    """A spray bar at work, at `step` of `line`. `flow` [m³/s]; its `holes` from the inlet to the closed end; `aim` [rad] off the wall, None
    where the file does not say; `thrust` [N] of all jets along the wall (as if `aim` were nothing where it is not said); `pull` [m⁴/s²] that over the
    density; `in_air` where no hole is under water; `speed_heads` the least drop through a hole over the velocity head at the inlet;
    `evenness` the least flow of a hole over the greatest, at the recoveries of the catalogue."""

    line: str
    step: int
    part: Part
    bar: Bar
    flow: float
    holes: tuple[Hole, ...]
    aim: float | None
    thrust: float
    pull: float
    in_air: bool
    speed_heads: float
    evenness: Range


@dataclass(frozen=True)
class Swimmer:
    """The smallest fish in a tank: `length` [m], where that is `known` from ("asked", "file", "wish" or "catalogue"), and the `speed` [m/s] that it can swim
    for hours."""

    length: float
    known: str
    speed: float


@dataclass(frozen=True)
class TankCurrent:
    """How a vessel's spray bars turn its water. `bars` that blow into it; `thrust` [N] of those; `wetted` [m²] floor and wall, and the mean
    `speed` [m/s], None where the tank's area is not known or its shape is long; `turns` True where the file says where the holes of a bar point;
    `fish` the smallest one, None in a vessel that holds none; `changed` [s] in which as much as its water comes in."""

    vessel: str
    bars: tuple[JetBar, ...]
    thrust: float
    wetted: float | None
    speed: Range | None
    turns: bool
    fish: Swimmer | None
    changed: float | None

    @property
    def turning(self) -> list[JetBar]:
        """The bars that turn it."""
        return [one for one in self.bars if one.aim is not None or not self.turns]


def tank_currents(layout: Layout, flows: Flows, *, length: float | None = None) -> tuple[TankCurrent, ...]:
    """Find how each vessel with a spray bar is turned.

    Parameters:
        length: of the smallest fish [m], in place of what the file says.

    Returns:
        One for each vessel that a spray bar blows into, in the order of the file; where the file says the aim of some bars, only those turn it,
        else all are taken to blow along the wall.
    """
    bars: dict[str, list[JetBar]] = {}
    for name, one in _bars(layout, flows):
        bars.setdefault(name, []).append(one)
    return tuple(
        _current(layout, flows, layout.vessels[name], tuple(bars[name]), length)
        for name in layout.vessels
        if name in bars
    )


def mean_speed(pull: float, inflow: float, wetted: float, drag: float) -> float:
    """Give the mean speed at which a tank's water turns.

    Σ q v cos θ = Q V + Ct A V²: what the jets bring goes out with the water and into the walls.

    Parameters:
        pull: Σ q v cos θ of the jets, their thrust over the density [m⁴/s²].
        inflow: Q, all that comes into the tank [m³/s].
        wetted: A, floor and wall [m²].
        drag: Ct [-].

    Returns:
        V [m/s].

    >>> round(mean_speed(5.2e-4, 3.3e-4, 4.3, 0.005), 3)
    0.148

    Reference: F = ρ Q (v − V), Tvinnereim and Skybakmoen (1989), as told in Oca and Masaló (2007), Aquacultural Engineering 36, 36–44 (from memory).
    """
    return (math.sqrt(inflow**2 + 4.0 * drag * wetted * pull) - inflow) / (2.0 * drag * wetted)


def safe_speed(length: float) -> float:
    """Give the speed that a fish can swim for hours [m/s], from its length [m].

    V = 5.25/L^0.37 lengths a second, L in centimetres.

    >>> round(safe_speed(0.10), 3)
    0.224

    Reference: Timmons and Ebeling, Recirculating Aquaculture (from memory). The small fish is the slower one.
    """
    rows = catalogue.tank_current()
    factor, power = rows["swimming factor"].likely, rows["swimming power"].likely
    return factor * length / math.pow(100.0 * length, power)


def wetted_area(vessel: Vessel, depth: float) -> float | None:
    """Give the floor and wall that water of a depth [m] touches [m²]; None where that is not known.

    >>> from plumbline.layout.model import Mark
    >>> round(wetted_area(Vessel("tank", 0.0, 0.8, Mark(1, 1), area=1.0), 0.8), 3)
    3.836
    """
    if vessel.area is None or vessel.shape == "long" or depth <= 0.0:
        return None
    around = 4.0 * math.sqrt(vessel.area) if vessel.shape == "square" else 2.0 * math.sqrt(math.pi * vessel.area)
    return vessel.area + around * depth


def swimmer(layout: Layout, vessel: Vessel, length: float | None = None) -> Swimmer | None:
    """Give the smallest fish of a vessel: as asked, as its file says, or by the weight at which fish are put in.

    L = (100 W/K)^(1/3), K Fulton's condition factor of a stout fish, which is the shorter and slower one.

    Parameters:
        length: as asked [m].

    Returns:
        The fish; None where the vessel holds none and no length is asked.
    """
    if length is None and vessel.holds != "fish" and vessel.smallest_fish is None:
        return None
    known = "asked"
    if length is None:
        length, known = vessel.smallest_fish, "file"
    if length is None:
        known = "catalogue" if layout.put_in is None else "wish"
        weight = catalogue.husbandry()["start weight"].likely if layout.put_in is None else layout.put_in
        length = 0.01 * (100.0 * 1000.0 * weight / catalogue.tank_current()["condition"].high) ** (1.0 / 3.0)
    return Swimmer(length, known, safe_speed(length))


def _bars(layout: Layout, flows: Flows) -> Iterator[tuple[str, JetBar]]:
    recovery = catalogue.tank_current()["recovery"]
    for stretch in layout.stretches:
        part = capped_bar(layout, stretch)
        flow = flows.stretches[stretch.id].flow
        if part is None or part.vessel is None or flow <= 0.0 or "dripper" in part.details:
            continue
        bar = bar_of(layout, part)
        holes = holes_of(bar, flow)
        aim = part.details.get("aim")
        pull = sum(hole.flow * hole.speed for hole in holes) * math.cos(aim or 0.0)
        speed_head = (flow / (0.25 * math.pi * bar.bore**2)) ** 2 / (2.0 * bar.gravity)
        even = sorted(_evenness(bar, flow, share) for share in (recovery.low, recovery.likely, recovery.high))
        yield (
            part.vessel,
            JetBar(
                line=stretch.line,
                step=part.step,
                part=part,
                bar=bar,
                flow=flow,
                holes=holes,
                aim=aim,
                thrust=layout.water.density * pull,
                pull=pull,
                in_air=outside_head(layout, part) is not None,
                speed_heads=min(hole.head for hole in holes) / speed_head,
                evenness=Range(even[0], _evenness(bar, flow, recovery.likely), even[-1]),
            ),
        )


def _evenness(bar: Bar, flow: float, recovery: float) -> float:
    found = [hole.flow for hole in holes_of(replace(bar, recovery=recovery), flow)]
    return min(found) / max(found)


def _current(
    layout: Layout, flows: Flows, vessel: Vessel, bars: tuple[JetBar, ...], length: float | None
) -> TankCurrent:
    aimed = any(one.aim is not None for one in bars)
    turning = [one for one in bars if one.aim is not None or not aimed]
    found = flows.vessels[vessel.name]
    depth = flows.stands(vessel) - vessel.base
    wetted = wetted_area(vessel, depth)
    drag = catalogue.tank_current()["tank drag"]
    pull = sum(one.pull for one in turning)
    speed = None
    if wetted is not None:
        slow, likely, fast = (mean_speed(pull, found.inflow, wetted, by) for by in (drag.high, drag.likely, drag.low))
        speed = Range(slow, likely, fast)
    return TankCurrent(
        vessel=vessel.name,
        bars=bars,
        thrust=layout.water.density * pull,
        wetted=wetted,
        speed=speed,
        turns=aimed,
        fish=swimmer(layout, vessel, length),
        changed=None if vessel.area is None or found.inflow <= 0.0 else vessel.area * depth / found.inflow,
    )
