"""What is wrong, or nearly so, with the drains: back-fall, too little fall, pipe that fills, drops that gulp."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from ..catalogued import bore_or_more, finding
from ..findings import Finding
from ..layout.model import Layout, Part, Stretch
from ..units import show
from ..water import GRAVITY
from .air import drowned_mouths
from .fittings import end_k
from .flows import Flows
from .friction import friction_loss
from .part_full import capacity
from .roots import root
from .stages import mouth_head
from .stretches import mouths, sleeve_gap

__all__ = ["climbs", "judge_drains"]

STEEP = math.sin(math.radians(45.0))
"""Runs that fall or rise more steeply than this are drops, not drains laid to a fall."""

SLACK = 0.9
"""A tape measure and a pipe clip are not finer than a tenth of a fall."""

LARGE = 0.0735
"""Bore from which the fall of large drains is enough: International Plumbing Code, Table 704.1, 3 in and over [m]."""


def judge_drains(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Judge the pipe in which no pump pushes and water flows, one finding a line and kind."""
    told: set[tuple[str, str]] = set()
    for made in _standpipes(layout, flows):
        # A narrow standpipe tells of its drop, too.
        told |= {(made.line or "", made.kind), (made.line or "", "drain-gulps")}
        yield made
    yield from _holes(layout, flows)
    for stretch in layout.stretches:
        got, line = flows.stretches[stretch.id], layout.lines[stretch.line]
        if not got.vented or got.flow == 0.0 or line.start.siphon is not None or line.end.siphon is not None:
            continue  # an automatic siphon is meant to run full, and to gulp
        for part in stretch.parts:
            if not part.is_pipe or part.length <= 0.0:
                continue
            if _is_steep(part) and (part.end[2] - part.start[2]) * got.flow > 0.0:
                continue  # water that is lifted takes no air with it
            found = (
                _drop(layout, stretch, part, got.flow) if _is_steep(part) else _laid(layout, stretch, part, got.flow)
            )
            if found is not None and (stretch.line, found.kind) not in told:
                told.add((stretch.line, found.kind))
                yield replace(found, line=stretch.line, step=part.step)


def _is_steep(part: Part) -> bool:
    return abs(part.end[2] - part.start[2]) > STEEP * part.length


def _falls(part: Part, flow: float) -> float:
    """How far a run falls the way its water goes [m]."""
    return (part.start[2] - part.end[2]) * (1.0 if flow > 0.0 else -1.0)


def climbs(part: Part, flow: float) -> bool:
    """Whether a run of a drain that is laid to a fall climbs the way its water goes."""
    return part.is_pipe and not _is_steep(part) and _falls(part, flow) < -1e-6


def _laid(layout: Layout, stretch: Stretch, part: Part, flow: float) -> Finding | None:
    """A run laid to a fall: does it fall the right way, enough, and does its fall carry the flow."""
    units, bore = layout.units, part.pipe.bore
    drop = _falls(part, flow)
    place = f"{show(part.length, 'length', units)} of '{stretch.line}' at step {part.step}"
    if climbs(part, flow):
        return finding(
            "back-fall",
            f"{place} climbs {show(-drop, 'size', units)} the way the water has to go: it "
            "stands full there, and what settles stays.",
            f"lower the far end of step {part.step} by {show(-2.0 * drop, 'size', units)} or more",
        )
    least = layout.limits["least fall" if bore < LARGE else "least fall of large drains"]
    backs_up = _fall_for(layout, part, flow) * part.length - drop
    if backs_up > bore:
        carries = "it has no fall"
        if drop > 1e-6:
            nu = layout.water.viscosity / layout.water.density
            most = capacity(part.pipe.bore, drop / part.length, part.pipe.roughness, nu)
            carries = f"its fall carries {show(most, 'flow', units)}"
        return finding(
            "drain-full",
            f"{place} runs full: {carries} and {show(abs(flow), 'flow', units)} come, so the water backs up "
            f"{show(backs_up, 'size', units)} before it, and the drain may gulp and run as a siphon by turns.",
            f"a larger pipe there, or a fall of {show(backs_up + drop, 'size', units)} over it",
        )
    if drop < SLACK * least * part.length * (1.0 - 1e-6):
        falls = f"falls {show(drop, 'size', units)}, 1 in {part.length / drop:.0f}" if drop > 1e-6 else "has no fall"
        return finding(
            "too-flat",
            f"{place} {falls}: less than the 1 in {1.0 / least:.0f} that a part-full drain is laid to, so solids may stay.",
            f"lower the far end of step {part.step} by {show(least * part.length - drop, 'size', units)}",
        )
    return None


def _fall_for(layout: Layout, part: Part, flow: float) -> float:
    """The fall at which a run carries a flow, running just full [-]."""
    nu = layout.water.viscosity / layout.water.density
    lost, _ = friction_loss(abs(flow), part.pipe.bore, 1.0, part.pipe.roughness, nu, GRAVITY)
    return float(lost)


def _drop(layout: Layout, stretch: Stretch, part: Part, flow: float) -> Finding | None:
    """A vertical drop: whether air can get back up it against the water."""
    bore, units = part.pipe.bore, layout.units
    speed = abs(flow) / (0.25 * math.pi * bore**2)
    wave = math.sqrt(GRAVITY * bore)
    escapes, clears = layout.limits["escape speed for air"], layout.limits["clear speed for air"]
    if not escapes < speed / wave < clears:
        return None
    wide = (abs(flow) / (0.25 * math.pi * escapes * math.sqrt(GRAVITY))) ** 0.4
    return finding(
        "drain-gulps",
        f"The drop at step {part.step} of '{stretch.line}' takes air down with the water and cannot let it back up: at "
        f"{show(speed, 'speed', units)} the water is faster than air can rise against it ({show(escapes * wave, 'speed', units)}) and too slow to "
        f"sweep it out ({show(clears * wave, 'speed', units)}). It gurgles, and may choke and gulp.",
        f"a drop of {bore_or_more(wide, part.pipe, units)}, or a vent at its top",
    )


def _holes(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Holes in floors over which the water stands, above a drop that may run full and pull."""
    units = layout.units
    for point in drowned_mouths(layout, {name: got.flow for name, got in flows.stretches.items()}):
        end, line = layout.ends[point], point.rpartition(".")[0]
        if end.port == "standpipe":
            continue  # it is told that it is narrow
        over = flows.stands(layout.vessels[end.name or ""]) - end.place[2]
        yield finding(
            "drop-may-pull",
            f"The water of '{end.name}' stands {show(over, 'length', units)} over the hole in its floor by which '{line}' begins, if the hole alone "
            "says how much runs out. The drop below carries air down with it, and may run full and pull: then the water stands next to nothing over the "
            f"hole, and '{end.name}' drains sooner.",
            f"a vent at the top of the drop of '{line}', so that the hole alone counts; or a way in that holds the water back, as a standpipe with a small "
            "hole at its foot does; and try it",
            line=line,
        )


def _standpipes(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Standpipes so narrow that the water stands over them more than half their bore: they work as an orifice."""
    units = layout.units
    for point, (end, stretch, side) in mouths(layout).items():
        got, line = flows.stretches[stretch.id], point.rpartition(".")[0]
        into = -got.flow if side else got.flow
        if end.port != "standpipe" or end.siphon or end.weir or into <= 0.0 or not got.vented or not stretch.parts:
            continue
        gap = sleeve_gap(end, stretch, side)
        if gap is not None and into / gap[0] < layout.limits["settling speed"]:
            yield finding(
                "slow-sleeve",
                f"The sleeve of the standpipe in '{end.name}' draws the water up at "
                f"{show(into / gap[0], 'speed', units, decimals=3)}: solids that sink "
                "faster stay on the floor.",
                f"a narrower sleeve around the standpipe of '{line}', or more flow",
                line=line,
            )
        pipe = stretch.parts[-1].pipe_out if side else stretch.parts[0].pipe
        bore = pipe.bore
        mouth, limit, head, wide = _over_wall(into, bore, end_k(end)[0]) if end.in_wall else _over_crest(into, bore)
        if head <= 0.5 * bore:
            continue
        yield finding(
            "small-standpipe",
            f"The {mouth} of '{line}' in '{end.name}' is narrow for {show(into, 'flow', units)}: the water stands "
            f"{show(head, 'size', units)} over its {limit}, and it gulps.",
            f"{'an' if end.in_wall else 'a'} {mouth} of {bore_or_more(wide, pipe, units)}",
            line=line,
            step=None if side else 1,
        )


def _over_crest(flow: float, bore: float) -> tuple[str, str, float, float]:
    """What a standpipe is called, what its limit is, the head over its crest, and the bore at which it is half of it [m]."""
    wide = (7500.0 * flow * 1e3 * 2.0**1.5) ** 0.4 / 1e3
    return "standpipe", "crest, more than half its bore", mouth_head("crest", flow, bore), wide


def _over_wall(flow: float, bore: float, entrance: float) -> tuple[str, str, float, float]:
    """The same of an overflow in a wall, whose limit is its top edge."""

    def over(wide: float) -> float:
        return mouth_head("overflow", flow, wide, entrance) - 0.5 * wide

    # Half the bore is more than the head from some bore on; the flow's own scale of length brackets it.
    scale = (flow**2 / GRAVITY) ** 0.2
    return (
        "overflow",
        "middle, above its top edge",
        mouth_head("overflow", flow, bore, entrance),
        root(over, 0.5 * scale, 5.0 * scale),
    )
