"""How an airlift does at its duty point: regime, efficiency, what its air costs, and where its model is not to be trusted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from .. import catalogue
from ..catalogued import finding
from ..errors import SolveError
from ..findings import Finding
from ..layout.altered import with_pump
from ..layout.model import Airlift, Layout, Pipe, Pump
from ..units import show
from .airlift import Mixture, isothermal_power, riser_heads
from .find import find_flows
from .flows import Duty, Flows
from .risers import AirPower, air_power, as_riser, surroundings

__all__ = [
    "AirliftDuty",
    "Regime",
    "Sensitivity",
    "airlift_duty",
    "judge_airlifts",
    "regime_of",
    "sensitivities",
    "settled",
    "with_airlift",
]

Regime = Literal["still", "bubbly", "slug", "churn"]
"""How air and water share the riser, at its top."""

ANNULAR = 0.9
"""Wallis's number of the air from which it blows the water up along the wall: Wallis, One-dimensional Two-phase Flow, 1969 (from
memory)."""

TESTED_BORES = (0.019, 0.0283)
TESTED_RATIOS = (0.4, 0.75)
TESTED_LENGTH = 3.75
"""Risers that the model was held against: bores [m], depth over length, and the least length [m] at which it did well
(docs/airlift.md)."""


@dataclass(frozen=True, slots=True)
class AirliftDuty:
    """An airlift at its duty point. `flow` [m³/s] and `head` [m]; `lift` [m] of the riser's top over the water outside, and `stands`
    [m] how far over that top the water stands in its open end; `foot` and `top` the share of air in the riser; `speed` of the mixture at
    the top [m/s]; `efficiency` ρgQH over the isothermal power of the air at the inlet; `power` what the air costs; `best_air` [m³/s] what
    gives the most head at this flow; `past_best` whether less air gives more; `outside` where the model is not known to hold."""

    name: str
    airlift: Airlift
    flow: float
    head: float
    lift: float
    stands: float
    regime: Regime
    foot: float
    top: float
    speed: float
    efficiency: float
    power: AirPower
    best_air: float
    past_best: bool
    outside: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What one change does: its words, and the flow then [m³/s]; None where it cannot be made, with the reason in `why`."""

    change: str
    flow: float | None
    why: str = ""


def airlift_duty(layout: Layout, flows: Flows, name: str) -> AirliftDuty:
    """Look at an airlift at its duty point.

    Parameters:
        name: of a pump that is an airlift and feeds a line.
    """
    airlift, duty = _airlift(settled(layout, flows, name)), flows.pumps[name]
    around = surroundings(layout.water, layout.altitude)
    riser = as_riser(airlift, around)
    flow = max(duty.flow, 0.0)
    found = riser_heads(flow, airlift.air, **riser)
    airs = airlift.air * np.geomspace(0.01, 20.0, 241)
    heads = riser_heads(flow, airs, **riser).head
    best = float(airs[int(np.argmax(heads))])
    still = around.density * around.gravity * airlift.depth
    lift = airlift.length - airlift.depth
    return AirliftDuty(
        name=name,
        airlift=airlift,
        flow=duty.flow,
        head=duty.head,
        lift=lift,
        stands=max(duty.head - lift, 0.0),
        regime=regime_of(float(found.top), airlift.riser.bore),
        foot=float(found.foot),
        top=float(found.top),
        speed=float(found.speed),
        efficiency=duty.useful / float(isothermal_power(airlift.air, still, around.atmosphere)),
        power=air_power(airlift, around),
        best_air=best,
        past_best=best < 0.95 * airlift.air,
        outside=outside_of_range(airlift, found),
    )


def settled(layout: Layout, flows: Flows, name: str) -> Pump:
    """A pump as it stands in running: the air of an airlift as deep under the water as that has settled, no less than a millimetre."""
    pump = layout.pumps[name]
    if pump.airlift is None or pump.vessel is None:
        return pump
    vessel = layout.vessels[pump.vessel]
    depth = pump.airlift.depth + flows.stands(vessel) - vessel.level
    return replace(pump, airlift=replace(pump.airlift, depth=min(max(depth, 0.001), pump.airlift.length)))


def regime_of(void: float, bore: float) -> Regime:
    """Say how air and water share a riser.

    Parameters:
        void: share of air, at the riser's top.
        bore: of the riser [m].

    >>> [regime_of(void, bore) for void, bore in ((0.0, 0.04), (0.2, 0.06), (0.2, 0.04), (0.5, 0.06), (0.8, 0.04))]
    ['still', 'bubbly', 'slug', 'slug', 'churn']

    Reference: catalogue/airlift.yaml: Taitel, Barnea and Dukler 1980; McQuillan and Whalley 1985 (from memory).
    """
    rows = catalogue.airlift()
    if void <= 0.0:
        return "still"
    if void < rows["bubbly void"].likely and bore > rows["bubbly bore"].likely:
        return "bubbly"
    return "churn" if void > rows["churn void"].likely else "slug"


def outside_of_range(airlift: Airlift, mixture: Mixture) -> tuple[str, ...]:
    """Where an airlift lies outside what its model holds for, or was held against, in words."""
    rows, bore = catalogue.airlift(), airlift.riser.bore
    said = []
    if bore < rows["narrowest bore"].likely:
        said.append("its riser is so narrow that surface tension holds the air")
    elif bore > rows["widest bore"].likely:
        said.append("its riser is so wide that no slug of air fills it")
    elif not 0.99 * TESTED_BORES[0] <= bore <= 1.01 * TESTED_BORES[1]:
        said.append("its bore is not among those that were tested")
    if float(mixture.gas) > ANNULAR:
        said.append("its air blows the water up along the wall")
    ratio = airlift.depth / airlift.length
    if not TESTED_RATIOS[0] - 0.005 <= ratio <= TESTED_RATIOS[1] + 0.005:
        said.append(f"a submergence of {ratio:.0%} of the riser is not among those that were tested")
    if airlift.length < TESTED_LENGTH:
        said.append("the one short riser that was tested, 0.8 m, gave a third less than the model says")
    return tuple(said)


def sensitivities(layout: Layout, flows: Flows, name: str) -> tuple[Sensitivity, ...]:
    """Solve the layout again with a little more air, a deeper inlet, and the next sizes of riser."""
    pump = layout.pumps[name]
    own = _airlift(pump)
    deeper = 0.1 * own.depth
    lower = replace(own, length=own.length + deeper, depth=own.depth + deeper)
    changes: list[tuple[str, Airlift | str]] = [
        ("10 % more air", replace(own, air=1.1 * own.air)),
        ("air inlet 10 % deeper", lower if pump.height - own.length >= deeper else "the floor is in the way"),
        *((what, replace(own, riser=pipe)) for what, pipe in next_sizes(own.riser)),
    ]
    return tuple(
        Sensitivity(what, None, changed) if isinstance(changed, str) else _solved(layout, name, what, changed)
        for what, changed in changes
    )


def next_sizes(pipe: Pipe) -> list[tuple[str, Pipe]]:
    """The next size down and up of the catalogue's own series; a fifth less and more where the pipe is none of them."""
    rows = catalogue.series(pipe.name)
    if not rows:
        shares = (("a fifth narrower", 0.8), ("a fifth wider", 1.2))
        return [(f"riser {word}", replace(pipe, bore=share * pipe.bore)) for word, share in shares]
    down = [row for row in rows if row.bore < pipe.bore - 1e-6][-1:]
    up = [row for row in rows if row.bore > pipe.bore + 1e-6][:1]
    return [
        (f"riser of {row.name}", replace(pipe, name=row.name, bore=row.bore, outside=row.outside)) for row in down + up
    ]


def with_airlift(layout: Layout, name: str, airlift: Airlift) -> Layout:
    """The layout with another riser or other air for one of its airlifts."""
    return with_pump(layout, name, airlift=airlift, curve=())


def judge_airlifts(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Say what is to be known of the airlifts: that their flow is a model's, and where they blow too much air."""
    units = layout.units
    for name, pump in layout.pumps.items():
        if pump.airlift is None or name not in flows.pumps:
            continue
        found = airlift_duty(layout, flows, name)
        feeds = layout.fed_by(name)
        line = None if feeds is None else feeds.name
        doubts = "; ".join(found.outside)
        yield finding(
            "airlift-curve",
            f"What airlift '{name}' gives is a model's, which was a third off measured ones (root mean square)"
            + (f": {doubts}." if doubts else "."),
            f"with the air on, time how long '{name}' takes to fill a bucket, before anything rests on it",
            line=line,
        )
        yield from _moves_nothing(layout, flows.pumps[name], pump, found, line)
        if found.past_best:
            yield finding(
                "too-much-air",
                f"Airlift '{name}' is given {show(pump.airlift.air, 'flow', units)} of air: less would lift more. The most head at this flow "
                f"comes with about {show(found.best_air, 'flow', units)}.",
                f"turn the air of '{name}' down until the flow is greatest: it costs less too",
                line=line,
            )


def _moves_nothing(layout: Layout, duty: Duty, pump: Pump, found: AirliftDuty, line: str | None) -> Iterator[Finding]:
    """An airlift that moves nothing, or that water runs back through; its curve has no other ends."""
    stands = show(duty.curve[0][1], "head", layout.units)
    cure = f"air let in deeper, or '{pump.name}' lower; more air lifts higher only up to a point"
    if found.past_best:
        cure = f"turn the air of '{pump.name}' down first"
    if duty.state == "backwards":
        yield finding(
            "pump-backwards",
            f"Water runs back through the riser of airlift '{pump.name}': its highest head, {stands}, is less than "
            "what stands against it.",
            cure,
            line=line,
        )
    elif duty.state == "shut-off":
        yield finding(
            "pump-shut-off",
            f"By its model airlift '{pump.name}' moves no water: with no flow the mixture holds up {stands} over the "
            f"water in '{pump.vessel}', and more is asked.",
            cure,
            line=line,
        )


def _airlift(pump: Pump) -> Airlift:
    if pump.airlift is None:
        raise ValueError(f"pump '{pump.name}' is no airlift")
    return pump.airlift


def _solved(layout: Layout, name: str, what: str, airlift: Airlift) -> Sensitivity:
    try:
        return Sensitivity(what, find_flows(with_airlift(layout, name, airlift), margins=False).pumps[name].flow)
    except SolveError:
        return Sensitivity(what, None, "no steady flow is found then")
