"""Which vessels never come to rest, since their water runs away for ever or comes for ever: they are held as written. And why there is no steady
flow, in the layout's own names.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping

import numpy as np

from ..errors import SolveError
from ..layout.model import Layout
from .assemble import Assembly
from .contents import content
from .filling import static_reach
from .fittings import is_one_way
from .islands import components
from .linear import inflow, outflow
from .network import BoolArray, IntArray, Network, Solution
from .stretches import BARE, only_out, pipes_joined, pushed, supplied
from .together import solve_from

__all__ = ["drawn_on", "drawn_too_high", "made_good", "never_settle", "solve_named"]

STILL_GOING = 1e-6
"""The share of the largest flow that a vessel may still store in the last step."""


def drawn_on(layout: Layout, assembly: Assembly, free: Collection[str], *, dry: bool = False) -> set[str]:
    """Find the vessels whose water is drawn on from outside by more than comes to it from there; those that pumps draw from, where
    there are any.

    Parameters:
        free: vessels whose level follows from the flows.
        dry: only where no reservoir gives the rest, so that they cannot but run dry.
    """
    joined = _joined(assembly.network)
    sources, sinks = _sources(layout, joined, assembly), _without_way_out(layout)
    hold: set[str] = set()
    for label, names in _groups(joined, assembly, free).items():
        here = joined == label
        draw = assembly.network.draw[here]
        if float(np.sum(draw)) - _supplied(layout, assembly, here) > 1e-9 * float(np.sum(np.abs(draw))) and not (
            dry and _fed_from_a_reservoir(assembly, here, sinks)
        ):
            hold |= sources.get(label, set()) & set(names) or set(names)
    return hold


def made_good(layout: Layout, assembly: Assembly, free: Collection[str]) -> dict[str, float]:
    """What goes to the air and to plants from each vessel whose level follows from the flows, as far as water from outside makes it good
    [m³/s]: of the rest, all that the file writes is there to begin with, and the day tells how it shrinks."""
    joined = _joined(assembly.network)
    sinks, losses = _without_way_out(layout), dict[str, float]()
    for label, names in _groups(joined, assembly, free).items():
        lost = sum(layout.vessels[name].loses for name in names)
        if lost <= 0.0:
            continue
        here = joined == label
        comes = _supplied(layout, assembly, here) - float(np.sum(assembly.network.draw[here]))
        share = 1.0 if _fed_from_a_reservoir(assembly, here, sinks) else min(max(comes, 0.0) / lost, 1.0)
        losses |= {name: share * layout.vessels[name].loses for name in names}
    return losses


def never_settle(layout: Layout, assembly: Assembly, solution: Solution, levels: Mapping[str, float]) -> set[str]:
    """Find the vessels to hold as written, since the water that they stand in runs away for ever, or comes for ever.

    Parameters:
        assembly, solution: after the last step in time.
        levels: at its end, of the vessels whose level follows from the flows [m above the datum].
    """
    network, flows = assembly.network, solution.flows
    largest = float(np.max(np.abs(flows), initial=0.0))
    gains, comes_in = -outflow(network, flows) - network.draw, inflow(network, flows)
    joined = _joined(network)
    sources, sinks = _sources(layout, joined, assembly), _without_way_out(layout)
    hold: set[str] = set()
    for label, names in _groups(joined, assembly, levels).items():
        vessels = [layout.vessels[name] for name in names]
        before = math.fsum(content(vessel, vessel.level) for vessel in vessels)
        after = math.fsum(content(vessel, levels[vessel.name]) for vessel in vessels)
        rising = {name for name in names if gains[assembly.vessels[name]] > STILL_GOING * largest + 1e-12}
        here, pumped = joined == label, sources.get(label, set()) & set(names)
        comes = bool(np.any(network.draw[here] < 0.0)) or _fed_from_a_reservoir(assembly, here, sinks)
        starved = any(
            pump.vessel in names  # the mouth of a suction line gives less and less
            and pump.leaves == pump.intake
            and assembly.over_intake(layout, pump.name, solution) < BARE
            for pump in map(layout.pumps.__getitem__, assembly.pumps)
        )
        full = {
            name
            for name in sinks & set(names)
            if starved or name in rising or float(flows[assembly.rims[name]] if name in assembly.rims else 0.0) > 1e-9
        }
        if full:
            hold |= full  # what comes there never goes away: its other vessels are told as if it had room
        elif rising:
            hold |= pumped or rising
        elif before - after > 1e-6 + 1e-6 * before and (starved or not (comes or pumped)):
            hold |= pumped or {
                vessel.name
                for vessel in vessels
                if vessel.level - levels[vessel.name] > 1e-6 and comes_in[assembly.vessels[vessel.name]] <= 1e-9
            }
    return hold


def _joined(network: Network) -> IntArray:
    """What hangs together by water, by node."""
    return components(len(network.draw), network.tail[~network.shut], network.head[~network.shut])


def _groups(joined: IntArray, assembly: Assembly, names: Iterable[str]) -> dict[int, list[str]]:
    groups: dict[int, list[str]] = defaultdict(list)
    for name in names:
        groups[int(joined[assembly.vessels[name]])].append(name)
    return groups


def _fed_from_a_reservoir(assembly: Assembly, here: BoolArray, sinks: Collection[str]) -> bool:
    """Whether a vessel among some nodes holds its level whatever flows, and gives water."""
    return any(
        here[node] and math.isfinite(assembly.network.fixed_head[node]) and name not in sinks
        for name, node in assembly.vessels.items()
    )


def _supplied(layout: Layout, assembly: Assembly, here: BoolArray) -> float:
    """What supplies give to some nodes at most [m³/s]."""
    return sum(-end.draw for point, end in layout.ends.items() if end.supply and here[assembly.nodes[point]])


def _sources(layout: Layout, joined: IntArray, assembly: Assembly) -> dict[int, set[str]]:
    """The vessels that pumps draw from, by the label of the pipework they are in."""
    found: dict[int, set[str]] = defaultdict(set)
    for name in assembly.drawn_from(layout):
        found[int(joined[assembly.vessels[name]])].add(name)
    return found


def _without_way_out(layout: Layout) -> frozenset[str]:
    """Vessels that a pump or a fall brings water to, and that no open pipe and no pump takes any from."""
    gives: set[str] = {pump.vessel for pump in layout.pumps.values() if pump.vessel is not None}
    gets: set[str] = {part.vessel for line in layout.lines.values() for part in line.parts if part.vessel is not None}
    pieces, outside = pipes_joined(layout), supplied(layout)
    fed = pushed(layout) | outside
    for line in layout.lines.values():
        shut = any(part.opening <= 0.0 for part in line.parts)
        for end, along in ((line.start, True), (line.end, False)):
            if end.kind != "vessel":
                continue
            checked = not along and any(is_one_way(part) for part in line.parts)
            falls = only_out(end) and not along  # what leaves a vessel at its floor lets water in once there is some
            if falls or pieces[line.name] in fed:
                gets.add(end.name or "")
            if not (shut or checked or falls or pieces[line.name] in outside):
                gives.add(end.name or "")
    return frozenset(gets - gives)


def solve_named(network: Network, assembly: Assembly, start: Solution | None, tolerance: float) -> Solution:
    """Solve, from the beginning where it fails from a start; an error is told in the layout's names."""
    try:
        return solve_from(network, start, tolerance)
    except SolveError as error:
        raise _in_plain_names(error, assembly) from None


def _in_plain_names(error: SolveError, assembly: Assembly) -> SolveError:
    """Put the layout's names in place of the solver's numbers."""
    link_names = {link.link: f"stretch '{name}'" for name, link in assembly.links.items()}
    link_names |= {link: f"pump '{name}'" for name, link in (*assembly.pumps.items(), *assembly.intakes.items())}
    node_names = {node: f"'{name}'" for name, node in assembly.nodes.items()}

    def named(text: str) -> str:
        text = re.sub(r"\blink (\d+)", lambda m: link_names.get(int(m[1]), m[0]), text)
        return re.sub(r"\bnode (\d+)", lambda m: node_names.get(int(m[1]), m[0]), text)

    return SolveError(named(str(error)), iterations=error.iterations, residual=error.residual, worst=named(error.worst))


def drawn_too_high(layout: Layout) -> SolveError | None:
    """What there is to say where water is drawn off at a place that no water comes up to."""
    reached = static_reach(layout)
    dry = [
        point.rpartition(".")[0]
        for point, end in layout.ends.items()
        if end.kind == "draw" and end.draw > 0.0 and point not in reached
    ]
    if not dry:
        return None
    return SolveError(
        f"water is drawn off at the end of line '{dry[0]}', and none comes there: started from dry, it "
        "stands lower than pipe on the way, whatever the pumps"
    )
