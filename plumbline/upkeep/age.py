"""Water age: how long ago the water in each stretch left the last vessel, by steady transport along the flow."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from ..catalogued import bore_or_less, finding
from ..findings import Finding, as_tuple
from ..hydraulics.flows import Flows
from ..layout.model import Layout, Stretch
from ..units import show
from .carried import run_speed
from .shear import speed, volume
from .words import adjoining, dry_lines, steps_of

__all__ = ["Age", "Stagnant", "hours", "old_water", "stagnant", "travel_time", "water_ages"]


@dataclass(frozen=True, slots=True)
class Age:
    """The water of one stretch. `enters` and `leaves` [s] since it left a vessel or was put in, at the end where it comes in and
    the one where it goes out; `volume` [m³] that flows or stands in it; `old` [m³] of that is older than the limit
    `water age`. Infinite where it stands, 0 and nothing where the pipe is empty."""

    enters: float
    leaves: float
    volume: float
    old: float


@dataclass(frozen=True, slots=True)
class Stagnant:
    """All pipe together [m³]: `volume` of water in it, `standing` of that without flow, and `old` of it, the standing
    included, older than the limit `water age`; `oldest` [s] is the greatest age among what flows, in the stretch `where`."""

    volume: float
    standing: float
    old: float
    oldest: float
    where: str | None


def travel_time(layout: Layout, stretch: Stretch, flows: Flows) -> float:
    """Give the time that water takes through a stretch, Σ L/V over its runs [s].

    V is that of the part-full stream in a drain with fall. Water leaves a spray bar all along; L/V at its inlet is then the
    mean over what leaves. Infinite where nothing flows.
    """
    if flows.stretches[stretch.id].flow == 0.0:
        return math.inf
    return sum(
        part.length / run_speed(layout, stretch, part, flows)
        for part in stretch.parts
        if part.is_pipe and part.length > 0.0
    )


def water_ages(layout: Layout, flows: Flows) -> dict[str, Age]:
    """Find the age of the water in every stretch, by id.

    At each point a = Σ Q (a + t)/Σ Q over all that comes in: streams mix fully, and water out of a vessel, or put in from
    outside, counts with age 0. The flow is steady; t is the time through a stretch, as plug flow. A pump passes its water on.

    Reference: steady transport on the flow graph; the mixing law is a water balance.
    """
    moving = [stretch for stretch in layout.stretches if flows.stretches[stretch.id].flow != 0.0]
    ends: dict[str, tuple[str, str]] = {}
    times: dict[str, float] = {}
    ways: list[tuple[str, str, float, float]] = []
    for stretch in moving:
        flow = flows.stretches[stretch.id].flow
        ends[stretch.id] = (stretch.tail, stretch.head) if flow > 0.0 else (stretch.head, stretch.tail)
        times[stretch.id] = travel_time(layout, stretch, flows)
        ways.append((*ends[stretch.id], abs(flow), times[stretch.id]))
    for name, duty in flows.pumps.items():
        if layout.pumps[name].vessel is None and duty.flow != 0.0:
            through = (f"{name}.in", f"{name}.out")
            ways.append((*(through if duty.flow > 0.0 else through[::-1]), abs(duty.flow), 0.0))
    at = _mixed(ways)
    dry, limit = dry_lines(layout, flows), layout.limits["water age"]
    found = {}
    for stretch in layout.stretches:
        if stretch.id in ends:
            enters = at[ends[stretch.id][0]]
            leaves, flow = enters + times[stretch.id], abs(flows.stretches[stretch.id].flow)
            old = flow * max(leaves - max(enters, limit), 0.0) if math.isfinite(enters) else flow * times[stretch.id]
            found[stretch.id] = Age(enters, leaves, flow * times[stretch.id], old)
        elif stretch.line in dry:
            found[stretch.id] = Age(0.0, 0.0, 0.0, 0.0)
        else:
            held = volume(stretch)
            found[stretch.id] = Age(math.inf, math.inf, held, held)
    return found


def stagnant(ages: Mapping[str, Age]) -> Stagnant:
    """Add up the water of all pipe by its age."""
    flowing = {name: one for name, one in ages.items() if math.isfinite(one.leaves) and one.volume > 0.0}
    where = max(flowing, key=lambda name: flowing[name].leaves, default=None)
    return Stagnant(
        volume=sum(one.volume for one in ages.values()),
        standing=sum(one.volume for one in ages.values() if not math.isfinite(one.leaves)),
        old=sum(one.old for one in ages.values()),
        oldest=0.0 if where is None else flowing[where].leaves,
        where=where,
    )


@as_tuple
def old_water(layout: Layout, flows: Flows, skip: Collection[str]) -> Iterator[Finding]:
    """Report pipe in which water that does move on grows older than the limit `water age`.

    `skip` are the ids of stretches that other findings call dead or standing; slower than the limit `dead leg flow` counts as
    standing too. Neighbouring stretches of one line are told as one.
    """
    limit, still = layout.limits["water age"], layout.limits["dead leg flow"]
    ages = water_ages(layout, flows)
    old = [
        stretch
        for stretch in layout.stretches
        if stretch.id not in skip
        and ages[stretch.id].old > 0.0
        and math.isfinite(ages[stretch.id].leaves)
        and speed(flows.stretches[stretch.id].flow, stretch.bore) >= still
    ]
    for group in adjoining(old):
        # The line may have been walked against the water.
        last = max(group, key=lambda stretch: ages[stretch.id].leaves)
        size = sum(ages[stretch.id].old for stretch in group)
        yield finding(
            "old-water",
            f"Water is {hours(ages[last.id].leaves)} on its way when it leaves '{group[0].line}' ({steps_of(group)}): "
            f"{show(size, 'volume', layout.units)} of it there are older than {hours(limit)}.",
            ", or ".join((*_narrower(layout, last, ages), "more flow")),
            line=group[0].line,
            step=next((part.step for part in last.parts if part.is_pipe), None),
            start=group[0].start,
            stop=group[-1].stop,
        )


def _narrower(layout: Layout, last: Stretch, ages: Mapping[str, Age]) -> tuple[str, ...]:
    """The bore at which the slowest line on the way would be through in the limit, all else as it is."""
    bore = last.bore * math.sqrt(layout.limits["water age"] / ages[last.id].leaves)
    pipe = next(part.pipe for part in last.parts if part.is_pipe)
    return bore_or_less(bore, pipe, layout.units, "all the way at this flow")


def hours(seconds: float) -> str:
    """Say a time in the unit that it is read in.

    >>> hours(40.0), hours(600.0), hours(9000.0)
    ('40 s', '10 min', '2.5 h')
    """
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


def _mixed(ways: list[tuple[str, str, float, float]]) -> dict[str, float]:
    """The age at every point [s], from ways (from, to, flow, time); infinite where the same water goes round for ever."""
    import networkx as nx

    names = list(dict.fromkeys(name for way in ways for name in way[:2]))
    number = {name: row for row, name in enumerate(names)}
    into = np.zeros(len(names))
    out = np.zeros(len(names))
    for tail, head, flow, _ in ways:
        out[number[tail]] += flow
        into[number[head]] += flow
    # What goes out beyond what comes in by pipe comes from a vessel or from outside, fresh.
    largest = max((flow for _, _, flow, _ in ways), default=0.0)
    fresh = np.maximum(out - into, 0.0)
    fresh[fresh <= 1e-9 * largest] = 0.0
    fed = {names[row] for row in range(len(names)) if fresh[row] > 0.0}
    onward: nx.DiGraph[str] = nx.DiGraph(way[:2] for way in ways)
    fed = set(nx.multi_source_dijkstra_path_length(onward, fed)) if fed else fed
    matrix, right = np.eye(len(names)), np.zeros(len(names))
    for tail, head, flow, time in ways:
        row = number[head]
        if head in fed:
            matrix[row, number[tail]] -= flow / (into[row] + fresh[row])
            right[row] += flow * time / (into[row] + fresh[row])
    age = np.linalg.solve(matrix, right) if names else right
    return {name: float(age[number[name]]) if name in fed else math.inf for name in names}
