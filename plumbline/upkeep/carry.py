"""Carry: whether the water in normal running is fast enough that fish solids do not settle."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping

from ..catalogue import weights
from ..catalogued import bore_or_less, finding
from ..findings import Finding
from ..hydraulics.flows import Flows
from ..hydraulics.part_full import part_full_speed
from ..layout.model import Layout, Part, Stretch
from ..units import show
from .dead_legs import length_in_use
from .groups import adjoining, steps_of
from .shear import settles, speed, wall_shear
from .ways import Side

__all__ = ["run_speed", "slow_flow", "wall_shear"]


STEEP = math.sin(math.radians(45.0))
"""Runs steeper than this are not judged: nothing comes to rest on a wall."""


def run_speed(layout: Layout, stretch: Stretch, run: Part, flows: Flows) -> float:
    """Give the speed of the water in a run [m/s]: of the part-full stream where it is a drain with fall, else of the full
    pipe."""
    flow = flows.stretches[stretch.id].flow
    if not flows.stretches[stretch.id].gravity or run.length <= 0.0:
        return speed(flow, run.pipe.bore)
    down = (run.start[2] - run.end[2]) / run.length * (1.0 if flow > 0.0 else -1.0)
    nu = layout.water.viscosity / layout.water.density
    return part_full_speed(flow, run.pipe.bore, down, run.pipe.roughness, nu)


def slow_flow(
    layout: Layout, flows: Flows, skip: Collection[str], sides: Mapping[str, Side | None] | None = None
) -> tuple[Finding, ...]:
    """Report pipe in which water flows, but slower than the limit `self-cleansing speed`.

    Neighbouring stretches of one line are told as one, by the slowest run among them. `skip` are the ids of
    stretches that other findings speak of (dead legs, standing water). Runs steeper than 45° are not judged; in a spray
    bar the flow dwindles by design, so it is not either. Behind a solids filter, by `sides` "clean", it is advice and costs less: what
    passes the filter is fine, and settles slowly.
    """
    sides = sides or {}
    still = layout.limits["dead leg flow"]
    slow = []
    for stretch in layout.stretches:
        run = _slowest(layout, stretch, flows)
        if run is None or stretch.length <= 0.0 or stretch.id in skip:
            continue
        moves = speed(flows.stretches[stretch.id].flow, run.pipe.bore) >= still
        if moves and settles(run_speed(layout, stretch, run, flows), layout.limits):
            slow.append(stretch)
    used = length_in_use(layout)
    behind = [stretch for stretch in slow if sides.get(stretch.id) == "clean"]
    before = [stretch for stretch in slow if sides.get(stretch.id) != "clean"]
    return tuple(
        _finding(layout, flows, group, used, clean)
        for clean, some in ((False, before), (True, behind))
        for group in adjoining(some)
    )


def _finding(layout: Layout, flows: Flows, group: tuple[Stretch, ...], used: float, clean: bool) -> Finding:
    least = layout.limits["self-cleansing speed"]
    line = group[0].line
    pairs = [(stretch, run) for stretch in group if (run := _slowest(layout, stretch, flows)) is not None]
    stretch, run = min(pairs, key=lambda pair: run_speed(layout, pair[0], pair[1], flows))
    velocity = run_speed(layout, stretch, run, flows)
    flow = flows.stretches[stretch.id].flow
    part_full = velocity > 1.0001 * speed(flow, run.pipe.bore)
    size = sum(stretch.length for stretch in group)
    water = layout.water
    if part_full:
        ran, shear_words = "runs part-full at", ""
        cure = "more fall, a narrower pipe, or cleaning it on every round"
    else:
        shear = wall_shear(flow, run.pipe.bore, run.pipe.roughness, water.density, water.viscosity)
        ran = "runs at"
        is_shear, least_shear = (
            show(one, "shear", layout.units) for one in (shear, layout.limits["self-cleansing shear"])
        )
        shear_words = f" (wall shear {is_shear}, {least_shear} wanted)"
        narrower = math.sqrt(4.0 * abs(flow) / (math.pi * least))
        cures = *bore_or_less(narrower, run.pipe, layout.units, "at this flow"), "more flow"
        cure = f"{', '.join(cures)}, or cleaning it on every round"
    told, wanted = (show(one, "speed", layout.units) for one in (velocity, least))
    return finding(
        "slow-flow",
        (
            f"{show(size, 'length', layout.units)} of '{line}' ({steps_of(group)}) {ran} {told}"
            + (
                f" behind the solids filter. What that lets through settles slowly; all fish solids would below {wanted}{shear_words}."
                if clean
                else f": solids settle below {wanted}{shear_words}."
            )
        ),
        cure,
        level="advice" if clean else "warn",
        line=line,
        step=run.step,
        weight=weights()["slow-flow"].of(size / used, "milder" if clean else "usual"),
        start=group[0].start,
        stop=group[-1].stop,
    )


def _slowest(layout: Layout, stretch: Stretch, flows: Flows) -> Part | None:
    """The run of a stretch where the water is slowest, among those that are not steep."""
    return min(
        (
            part
            for part in stretch.parts
            if part.kind in ("run", "hose") and abs(part.end[2] - part.start[2]) <= STEEP * part.length
        ),
        key=lambda part: run_speed(layout, stretch, part, flows),
        default=None,
    )
