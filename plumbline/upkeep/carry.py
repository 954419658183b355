"""Carry: whether the water in normal running is fast enough that fish solids do not settle."""

from __future__ import annotations

import math
from collections.abc import Collection

from ..findings import Finding
from ..hydraulics.flows import Flows
from ..layout.model import Layout, Part, Stretch
from ..units import show
from .flush import speed
from .groups import adjoining, steps_of
from .weights import WEIGHTS

__all__ = ["slow_flow", "wall_shear"]

_SOURCE = "drain lines at least 0.3 m/s: Timmons and Ebeling, Recirculating Aquaculture (from memory)"


def wall_shear(flow: float, bore: float, roughness: float, density: float, viscosity: float) -> float:
    """Give the wall shear in full pipe, τ = f ρ V²/8.

    Parameters
    ----------
    flow : [m³/s], either sign
    bore : inside diameter [m]
    roughness : [m]
    density : ρ [kg/m³]
    viscosity : dynamic, μ [Pa·s]

    Returns
    -------
    shear stress [Pa]; 0 at rest

    >>> round(wall_shear(30 / 60000, 0.026, 1.5e-6, 998.0, 1.0e-3), 2)
    2.74

    Reference: White, *Fluid Mechanics*, eq. 6.11, f = 8τ/(ρV²) (from memory).
    """
    from ..hydraulics.friction import friction_factor

    if flow == 0.0:
        return 0.0
    velocity = speed(flow, bore)
    factor = float(friction_factor(density * velocity * bore / viscosity, roughness / bore))
    return factor * density * velocity**2 / 8.0


def slow_flow(layout: Layout, flows: Flows, skip: Collection[str]) -> tuple[Finding, ...]:
    """Report pipe in which water flows, but slower than the limit `self-cleansing speed`.

    Neighbouring stretches of one line are told as one, by the slowest run among them. `skip` are the ids of
    stretches that other findings speak of (dead legs, standing water). A gravity drain is judged as if it ran
    full; part-full water runs faster, so it may do better than this says.
    """
    least = layout.limits["self-cleansing speed"]
    still = layout.limits["dead leg flow"]
    slow = []
    for stretch in layout.stretches:
        run = _slowest(stretch)
        if run is None or stretch.id in skip:
            continue
        velocity = speed(flows.stretches[stretch.id].flow, run.pipe.bore)
        if still <= velocity < least:
            slow.append(stretch)
    total = sum(line.length for line in layout.lines.values())
    return tuple(_finding(layout, flows, group, total) for group in adjoining(slow))


def _finding(layout: Layout, flows: Flows, group: tuple[Stretch, ...], total: float) -> Finding:
    least = layout.limits["self-cleansing speed"]
    line = group[0].line
    pairs = [(flows.stretches[stretch.id].flow, run) for stretch in group if (run := _slowest(stretch)) is not None]
    flow, run = min(pairs, key=lambda pair: speed(pair[0], pair[1].pipe.bore))
    velocity = speed(flow, run.pipe.bore)
    water = layout.water
    shear = wall_shear(flow, run.pipe.bore, run.pipe.roughness, water.density, water.viscosity)
    wanted = layout.limits["self-cleansing shear"]
    size = sum(stretch.length for stretch in group)
    gravity = any(flows.stretches[stretch.id].gravity for stretch in group)
    note = " if it ran full; part-full it runs faster" if gravity else ""
    narrower = math.sqrt(4.0 * abs(flow) / (math.pi * least))
    return Finding(
        kind="slow-flow",
        level="warn",
        message=(
            f"{show(size, 'length', layout.units)} of '{line}' ({steps_of(group)}) runs at "
            f"{show(velocity, 'speed', layout.units)}{note}: solids settle below "
            f"{show(least, 'speed', layout.units)} (wall shear {shear:.2g} Pa, {wanted:.2g} Pa wanted)."
        ),
        cure=(
            f"a bore of {show(narrower, 'size', layout.units)} or less at this flow, more flow, or cleaning "
            "it on every round"
        ),
        source=_SOURCE,
        line=line,
        step=run.step,
        weight=WEIGHTS["slow-flow"].value * size / total,
        start=group[0].start,
        stop=group[-1].stop,
    )


def _slowest(stretch: Stretch) -> Part | None:
    """The run with the widest bore; in a spray bar the flow dwindles to nothing by design, so none is
    judged."""
    return max(
        (part for part in stretch.parts if part.kind in ("run", "hose")),
        key=lambda part: part.pipe.bore,
        default=None,
    )
