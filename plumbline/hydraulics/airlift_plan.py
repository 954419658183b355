"""What airlift would do the same as a pump: for each size of riser the least air that gives its flow at its head, and what that costs.

The airlift stands in the pump's vessel, its air inlet as deep as that allows, and its open top as high above the water as the pump's
head: from there the water runs down through the pipe as it is, with the pump's own head to spend.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from .. import catalogue
from ..layout.model import Airlift, Layout, Pipe
from .airlift import Surroundings, isothermal_power, most_air, riser_heads
from .airlift_duty import Regime, outside_of_range, regime_of
from .flows import Flows
from .network import FloatArray
from .pumping import DAYS
from .risers import AirPower, air_power, as_riser, inlet_k, surroundings

__all__ = ["AirliftPlan", "Case", "Option", "Verdict", "plan_airlift"]

Verdict = Literal["worth trying", "may do", "costs more", "does not lift", "no place"]
"""`worth trying`: most likely less electricity than the pump takes; `may do`: about as much, within what the estimate may be out;
`costs more`; `does not lift`: no size of riser does it; `no place`: no vessel to stand in, or nothing to do."""

_NARROWEST, _WIDEST = 0.012, 0.125
_USUAL = "pvc 25"


@dataclass(frozen=True, slots=True)
class Option:
    """One size of riser for a `flow` [m³/s]. `airlift` with the least air that does it, None where none does; then `most` [m³/s] is the
    most water that it gives so high, and `ratio` the depth over its length. `power` and `buy` [m³/s] are what the air costs, and what the air pump should
    give at its pressure; `energy` [kWh a year] is low, likely and high; `efficiency` ρgQH over isothermal power."""

    pipe: Pipe
    flow: float
    ratio: float
    airlift: Airlift | None
    most: float
    power: AirPower | None = None
    buy: float = 0.0
    energy: tuple[float, float, float] = (0.0, 0.0, 0.0)
    efficiency: float = 0.0
    regime: Regime = "slug"
    outside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Case:
    """All sizes at one head [m]. `best` is the option with the least power, None where none does it; `highest` [m] is the greatest head at
    which some size still gives the flow."""

    head: float
    options: tuple[Option, ...]
    best: Option | None
    highest: float


@dataclass(frozen=True, slots=True)
class AirliftPlan:
    """An airlift in the place of a pump. `flow` [m³/s], `lift` [m] of the water alone, `depth` [m] of the air inlet (`stated` where the
    user says so, and the vessel may not be that deep). `as_piped` at the pump's head, `lift_alone` with pipe so wide that it loses nothing.
    `pump_power` [W] is low, likely and high: three times what the file states, or an estimate where it states none (`rated` False)."""

    pump: str
    vessel: str | None
    flow: float
    lift: float
    depth: float
    stated: bool
    as_piped: Case | None
    lift_alone: Case | None
    pump_power: tuple[float, float, float]
    rated: bool
    verdict: Verdict
    why: str = ""


def plan_airlift(layout: Layout, flows: Flows, name: str, *, depth: float | None = None) -> AirliftPlan:
    """Find the airlifts that would do what a pump does.

    Parameters:
        name: of a pump that feeds a line and is no airlift.
        depth: of the air inlet under the water [m]; left out, the vessel's water less some room at the foot.

    Validity: as `riser_heads`; about a third off measured flows (root mean square).
    """
    pump, duty = layout.pumps[name], flows.pumps[name]
    rated = pump.power is not None
    power = _pump_power(pump.power, duty.useful)
    deep, why = 0.0, ""
    if pump.vessel is None:
        why = "it stands in no vessel, so that no riser can stand in its place"
    elif duty.flow <= 0.0 or duty.head <= 0.0:
        why = "it moves no water, so that there is nothing to do the same as"
    else:
        allowed = layout.vessels[pump.vessel].water - catalogue.airlift()["room at the foot"].likely
        deep = allowed if depth is None else depth
        why = "the water that it stands in is too shallow for an air inlet" if deep <= 0.0 else ""
    if why:
        return AirliftPlan(name, pump.vessel, duty.flow, 0.0, 0.0, False, None, None, power, rated, "no place", why)
    lift = max(
        (route.lift for route in flows.routes if route.source == pump.vessel and route.pumped > 0.0), default=duty.head
    )
    around = surroundings(layout.water, layout.altitude)
    pipes = _sizes(layout, name)
    as_piped = _case(pipes, duty.flow, duty.head, deep, around, pump.hours)
    alone = _case(pipes, duty.flow, max(lift, 0.01), deep, around, pump.hours) if lift < 0.95 * duty.head else None
    return AirliftPlan(
        name,
        pump.vessel,
        duty.flow,
        lift,
        deep,
        depth is not None,
        as_piped,
        alone,
        power,
        rated,
        _verdict(as_piped.best, power),
    )


def _pump_power(stated: float | None, useful: float) -> tuple[float, float, float]:
    if stated is not None:
        return stated, stated, stated
    row = catalogue.airlift()["water pump"]
    return useful / row.high, useful / row.likely, useful / row.low


def _verdict(best: Option | None, pump: tuple[float, float, float]) -> Verdict:
    if best is None or best.power is None:
        return "does not lift"
    if best.power.high <= pump[0] or best.power.likely <= 0.7 * pump[1]:
        return "worth trying"
    return "may do" if best.power.low <= pump[1] else "costs more"


def _sizes(layout: Layout, name: str) -> list[Pipe]:
    """The sizes of riser to try: the series of the pipe that the pump feeds, or the usual one."""
    line = layout.fed_by(name)
    rows = catalogue.series(line.parts[0].pipe.name) if line is not None else ()
    if sum(_NARROWEST <= row.bore <= _WIDEST for row in rows) < 3:
        rows = catalogue.series(_USUAL)
    return [
        Pipe(row.name, row.bore, catalogue.materials()[row.material].roughness, row.outside, row.material)
        for row in rows
        if _NARROWEST <= row.bore <= _WIDEST
    ]


def _case(pipes: list[Pipe], flow: float, head: float, depth: float, around: Surroundings, hours: float) -> Case:
    airs = _least_air(pipes, flow, head, depth, around)
    options = tuple(
        _option(pipe, None if np.isnan(air) else float(air), flow, head, depth, around, hours)
        for pipe, air in zip(pipes, airs, strict=True)
    )
    able = [one for one in options if one.power is not None]
    best = min(able, key=lambda one: one.power.likely if one.power is not None else 0.0, default=None)
    highest = head if best is not None else _highest(pipes, flow, head, depth, around)
    return Case(head, options, best, highest)


def _option(
    pipe: Pipe, air: float | None, flow: float, head: float, depth: float, around: Surroundings, hours: float
) -> Option:
    length = depth + head
    ratio = depth / length
    if air is None:
        _, most = most_air(**as_riser(Airlift(0.0, pipe, length, depth), around))
        return Option(pipe, flow, ratio, None, most)
    airlift = Airlift(air, pipe, length, depth)
    found = riser_heads(flow, air, **as_riser(airlift, around))
    power = air_power(airlift, around)
    year = hours * DAYS / 1000.0
    still = around.density * around.gravity * depth
    useful = around.density * around.gravity * flow * head
    return Option(
        pipe,
        flow,
        ratio,
        airlift,
        flow,
        power,
        (1.0 + catalogue.airlift()["air to spare"].likely) * air,
        (power.low * year, power.likely * year, power.high * year),
        useful / float(isothermal_power(air, still, around.atmosphere)),
        regime_of(float(found.top), pipe.bore),
        outside_of_range(airlift, found),
    )


def _least_air(
    pipes: list[Pipe], flow: float, head: ArrayLike, depth: float, around: Surroundings, *, zooms: int = 3
) -> FloatArray:
    """The least air with which each size gives the flow at the head, or at its own of as many, while slugs hold together: where the head at that flow
    first comes to it as the air grows [m³/s], the closer the more zooms; not a number for a size with which none does."""
    bore, roughness, head, row = (
        np.broadcast_to(one, len(pipes))[:, None]
        for one in ([pipe.bore for pipe in pipes], [pipe.roughness for pipe in pipes], head, range(len(pipes)))
    )
    riser: dict[str, Any] = {"bore": bore, "length": depth + head, "submergence": depth, "roughness": roughness}
    most = catalogue.airlift()["churn void"].likely
    airs = 0.25 * np.pi * bore**2 * np.geomspace(1e-3, 30.0, 161)
    for _ in range(zooms):
        found = riser_heads(flow, airs, **riser, inlet_k=inlet_k(), around=around)
        enough = (found.head >= head) & (found.top <= most)
        at = np.argmax(enough, axis=1, keepdims=True)
        low, high = airs[row, np.maximum(at - 1, 0)], airs[row, at]
        airs = np.linspace(low[:, 0], high[:, 0], 33, axis=1)
    return np.where(enough.any(axis=1), high[:, 0], np.nan)


def _highest(pipes: list[Pipe], flow: float, head: float, depth: float, around: Surroundings) -> float:
    """The greatest head at which one of the sizes still gives the flow, between none and `head` [m]."""
    low, high = np.zeros(len(pipes)), np.full(len(pipes), head)
    for _ in range(12):
        middle = 0.5 * (low + high)
        gives = np.isfinite(_least_air(pipes, flow, middle, depth, around, zooms=1))
        low, high = np.where(gives, middle, low), np.where(gives, high, middle)
    return float(low.max())
