"""Carry, stretch by stretch: whether solids stay in the water in normal running, and whether it lifts again what settled
while the pumps were off; pipe that is too slow, and pipe in which they settle while the pumps rest."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from ..catalogue import weights
from ..catalogued import bore_or_less, finding
from ..findings import Finding, as_tuple
from ..hydraulics.flows import Flows
from ..hydraulics.part_full import capacity, part_full_speed
from ..hydraulics.stretches import pipes_joined
from ..layout.model import Layout, Part, Stretch, hours_of
from ..units import show
from .dead_legs import length_in_use
from .shear import film_shear, settles, speed, wall_shear
from .ways import Side
from .words import adjoining, dry_lines, steps_of

__all__ = [
    "Carried",
    "CarryWord",
    "carried",
    "run_shear",
    "run_speed",
    "settles_off",
    "slow_flow",
    "systems",
    "wall_shear",
]

STEEP = math.sin(math.radians(45.0))
"""Runs steeper than this are not judged: nothing comes to rest on a wall."""

CarryWord = Literal["keeps itself clean", "carries, settles when off", "silts", "empty"]


@dataclass(frozen=True, slots=True)
class Carried:
    """One stretch in normal running, by its worst run. `velocity` [m/s] and `shear` [Pa] there, of the part-full stream in
    a drain; `fish` and `grit` tell whether fish solids and grit of 1 mm are carried; `rest` [h a day] for which no pump
    moves it; `run` that worst run, None where a stretch has no pipe."""

    word: CarryWord
    velocity: float
    shear: float
    fish: bool
    grit: bool
    rest: float
    run: Part | None


_RANK: Mapping[CarryWord, int] = {"silts": 0, "carries, settles when off": 1, "keeps itself clean": 2, "empty": 3}


def run_shear(layout: Layout, stretch: Stretch, run: Part, flows: Flows) -> float:
    """Give the wall shear in a run [Pa]: ρ g R S in the part-full stream of a drain with fall, else f ρ V²/8.

    R follows from the part-full speed by Manning's law, R = (D/4) (V/Vf)^1.5 with Vf of the pipe just full at its fall.
    """
    water, bore = layout.water, run.pipe.bore
    flow = flows.stretches[stretch.id].flow
    velocity = run_speed(layout, stretch, run, flows)
    if velocity <= 1.0001 * speed(flow, bore):
        return wall_shear(flow, bore, run.pipe.roughness, water.density, water.viscosity)
    fall = abs(run.start[2] - run.end[2]) / run.length
    full = capacity(bore, fall, run.pipe.roughness, water.viscosity / water.density) / (0.25 * math.pi * bore**2)
    return film_shear(0.25 * bore * (velocity / full) ** 1.5, fall, water.density)


def carried(layout: Layout, flows: Flows) -> dict[str, Carried]:
    """Class every stretch, by id.

    - *silts*: fish solids settle while the pumps run: slower than the limit `self-cleansing speed` where the pipe is no
      steeper than 45°; in steeper pipe that climbs, slower than the limit `settling speed`;
    - *carries, settles when off*: faster, but the wall shear is below the limit `scour shear`, so that what settled while
      the water stood is not surely lifted again;
    - *keeps itself clean*: that shear or more; or steep pipe, in which nothing comes to rest;
    - *empty*: a drain whose vessel receives nothing.
    """
    rest, dry = _rest(layout), dry_lines(layout, flows)
    found = {}
    for stretch in layout.stretches:
        if stretch.line in dry:
            found[stretch.id] = Carried("empty", 0.0, 0.0, False, False, 0.0, None)
            continue
        runs = [
            _run(layout, stretch, run, flows, rest[stretch.line])
            for run in stretch.parts
            if run.is_pipe and run.length > 0.0
        ]
        worst = min(runs, key=lambda one: (_RANK[one.word], one.velocity), default=None)
        found[stretch.id] = worst or _nothing(flows.stretches[stretch.id].velocity, rest[stretch.line])
    return found


@as_tuple
def settles_off(layout: Layout, flows: Flows, skip: Collection[str]) -> Iterator[Finding]:
    """Report pipe that carries its solids, but in which they settle every day while the pumps rest, and stay.

    Only where the file says that all pumps of a system rest for some of the day. `skip` are the ids of stretches that
    other findings speak of.
    """
    classes = carried(layout, flows)
    used = length_in_use(layout)
    for group in adjoining(
        stretch
        for stretch in layout.stretches
        if stretch.id not in skip
        and classes[stretch.id].word == "carries, settles when off"
        and classes[stretch.id].rest > 0.0
    ):
        worst = min((classes[stretch.id] for stretch in group), key=lambda one: one.shear)
        size = sum(stretch.length for stretch in group)
        yield finding(
            "settles-off",
            f"{show(size, 'length', layout.units)} of '{group[0].line}' ({steps_of(group)}) carries its solids at "
            f"{show(worst.velocity, 'speed', layout.units)}, but they settle in the {worst.rest:.3g} hours a day in which "
            f"no pump runs, and its wall shear of {show(worst.shear, 'shear', layout.units)} does not surely lift them again "
            f"({show(layout.limits['scour shear'], 'shear', layout.units)} does).",
            f"let the pump run all day, or flush or brush '{group[0].line}' on every round",
            line=group[0].line,
            step=None if worst.run is None else worst.run.step,
            weight=weights()["settles-off"].of(size / used * worst.rest / 24.0),
            start=group[0].start,
            stop=group[-1].stop,
        )


def _run(layout: Layout, stretch: Stretch, run: Part, flows: Flows, rest: float) -> Carried:
    limits = layout.limits
    velocity = run_speed(layout, stretch, run, flows)
    shear = run_shear(layout, stretch, run, flows)
    rise = (run.end[2] - run.start[2]) * (1.0 if flows.stretches[stretch.id].flow >= 0.0 else -1.0)
    steep = abs(rise) > STEEP * run.length
    grit = shear >= limits["scour shear"]
    if steep:
        fish = velocity >= limits["settling speed"] if rise > 0.0 else velocity > 0.0
        word: CarryWord = "keeps itself clean" if fish else "silts"
    else:
        fish = not settles(velocity, limits)
        word = "silts" if not fish else "keeps itself clean" if grit else "carries, settles when off"
    return Carried(word, velocity, shear, fish, grit and fish, rest, run)


def _nothing(velocity: float, rest: float) -> Carried:
    """A stretch without pipe of its own."""
    return Carried(
        "keeps itself clean" if velocity > 0.0 else "silts", velocity, 0.0, velocity > 0.0, False, rest, None
    )


def _rest(layout: Layout) -> dict[str, float]:
    """The hours a day for which no pump runs of the system that each line belongs to; 0 where none pumps."""
    rest: dict[str, float] = {}
    for system in systems(layout):
        pumps = [layout.pumps[name] for kind, name in system if kind == "pump" and not layout.pumps[name].stands_by]
        timers = [pump.runs for pump in pumps if pump.runs is not None and pump.hours == pump.runs.hours]
        hours = max([pump.hours for pump in pumps] or [24.0])
        if len(timers) > 1:  # they may take turns
            hours = max(hours, hours_of(timers))
        rest |= {name: 24.0 - hours for kind, name in system if kind == "line"}
    return rest


def systems(layout: Layout) -> list[set[tuple[str, str]]]:
    """The lines, vessels and pumps, by kind and name, of each system that shares no pipe, pump or vessel with the others."""
    import networkx as nx

    graph: nx.Graph[tuple[str, str]] = nx.Graph()
    first: dict[int, str] = {}
    for name, piece in pipes_joined(layout).items():
        graph.add_edge(("line", name), ("line", first.setdefault(piece, name)))
        line = layout.lines[name]
        ends = ((end.kind, end.name) for end in (line.start, line.end) if end.kind in ("vessel", "pump"))
        graph.add_edges_from((("line", name), (kind, str(end))) for kind, end in ends)
        graph.add_edges_from(
            (("line", name), ("vessel", part.vessel)) for part in line.parts if part.vessel is not None
        )
    for name, pump in layout.pumps.items():
        if pump.vessel is not None and ("pump", name) in graph:
            graph.add_edge(("pump", name), ("vessel", pump.vessel))
    return list(nx.connected_components(graph))


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
