"""What a vessel's ways out carry before it overtops, all of them carrying so many times as much as now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..errors import SolveError
from ..layout.model import Layout
from .assemble import Assembly
from .linear import inflow
from .network import Network, Solution
from .solver import solve
from .stretches import pipes_joined, pushed

__all__ = ["spare_flows"]

MULTIPLES = (1.25, 2.0, 4.0, 10.0)
"""Multiples of today's flow that are tried."""

STEP = 1e7
"""A step in time long enough for all levels to settle [s]."""


def spare_flows(
    layout: Layout, assembly: Assembly, solution: Solution, levels: Mapping[str, float]
) -> dict[str, float]:
    """Find what the ways out of each vessel carry with its water at the rim, all supplies giving so many times as much.

    Parameters:
        levels: of the vessels that find their own [m above the datum].

    Returns:
        Flow by vessel [m³/s]: what they carry at the first multiple at which some of it runs over the rim. Vessels without a rim, those
        that receive nothing, those that pumps draw from and those for which it was not found are left out, and those with room for more than ten times as much are
        given as that.
    """
    drawn = assembly.drawn_from(layout)
    now = {name: _inflow(assembly, solution, name) for name in assembly.rims if name not in drawn}
    found = {name: comes - spilt for name, comes in now.items() if (spilt := _spilt(assembly, solution, name)) > 0.0}
    left = {name for name, comes in now.items() if comes > 1e-9} - found.keys()
    start = solution
    for factor in MULTIPLES:
        if not left:
            break
        try:
            start = solve(_given(layout, assembly, solution, levels, drawn, factor), start=start)
        except SolveError:
            return found
        for name in sorted(left):
            if (spilt := _spilt(assembly, start, name)) > 0.0:
                found[name] = max(_inflow(assembly, start, name) - spilt, now[name])
                left.discard(name)
    return found | {name: now[name] * MULTIPLES[-1] for name in left}


def _spilt(assembly: Assembly, solution: Solution, name: str) -> float:
    """What runs over a vessel's rim [m³/s]."""
    return float(solution.flows[assembly.rims[name]])


def _given(
    layout: Layout,
    assembly: Assembly,
    solution: Solution,
    levels: Mapping[str, float],
    drawn: frozenset[str],
    factor: float,
) -> Network:
    """The network with its pumps' flows given, so many times what they are, and their sources held: what comes to a pump is given too,
    so that its suction line need not carry it."""
    network = assembly.network
    shut, draw = network.shut.copy(), np.where(network.draw < 0.0, factor, 1.0) * network.draw
    fixed, storage, stored = network.fixed_head.copy(), network.storage.copy(), network.stored.copy()
    behind = _pushed(layout)
    for name, link in assembly.pumps.items():
        shut[link] = True
        flow = factor * solution.flows[link]
        draw[network.head[link]] -= flow
        if name in behind:
            draw[network.tail[link]] += flow
    shut[[*assembly.intakes.values(), *assembly.by_switch]] = True
    for name, level in levels.items():
        node = assembly.vessels[name]
        if name in drawn:
            fixed[node], storage[node] = level, 0.0
        else:
            storage[node], stored[node] = (layout.vessels[name].area or 1.0) / STEP, level
    return replace(network, shut=shut, draw=draw, fixed_head=fixed, storage=storage, stored=stored)


def _pushed(layout: Layout) -> set[str]:
    """Pumps that other pumps push water to."""
    groups, out = pipes_joined(layout), pushed(layout)
    return {
        line.end.name or "" for name, line in layout.lines.items() if line.end.kind == "pump" and groups[name] in out
    }


def _inflow(assembly: Assembly, solution: Solution, name: str) -> float:
    return float(inflow(assembly.network, solution.flows)[assembly.vessels[name]])
