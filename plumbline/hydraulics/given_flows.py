"""The flows of a layout with some of them given: what head is left over where valves are to hold them to it.

A stretch whose flow is given is cut in two at its end: water is drawn off at the cut and put in again behind it. The two
heads at the cut then differ by what a valve there would have to take. All else is the ordinary network: same laws, same
tees, same solver.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..layout.model import Layout
from .assemble import Assembly, assemble, oriented
from .network import LISTS, Network, Solution
from .solver import solve

__all__ = ["Forced", "Rig", "rig"]


@dataclass(frozen=True)
class Forced:
    """A layout solved with given flows: what is left over at each of them, `surplus` [m] by stretch id; `inflow`
    [m³/s] by vessel; `spare` [m³/s] by vessel that feeds others: what is left of its inflow for its standpipes."""

    surplus: Mapping[str, float]
    inflow: Mapping[str, float]
    spare: Mapping[str, float]
    solution: Solution


@dataclass(frozen=True)
class Rig:
    """A layout whose `stretches` are cut, ready to be solved with flows given there; `held` vessels and `levels` as given.
    `behind` is the link that goes on behind each cut, `plain` how many nodes the layout has without the cuts."""

    layout: Layout
    assembly: Assembly
    network: Network
    stretches: tuple[str, ...]
    behind: Mapping[str, int]
    plain: int
    held: frozenset[str]

    def solve(self, given: Mapping[str, float], start: Solution | None = None) -> Forced:
        """Solve with these flows.

        Parameters:
            given: flow [m³/s] signed along the line, by stretch id, for all that are cut.
            start: an earlier solution with the same stretches cut, to begin from.

        Raises:
            SolveError: where the given flows cannot be, or none were found.
        """
        assembly, k = self.assembly, len(self.stretches)
        flow = np.array([assembly.links[stretch].sign * given[stretch] for stretch in self.stretches])
        draw = self.network.draw.copy()
        draw[self.plain : self.plain + k], draw[self.plain + k :] = flow, -flow
        network = replace(self.network, draw=draw)
        fits = start is not None and len(start.heads) == len(draw) and len(start.flows) == len(network.tail)
        solution = solve(network, start=start if fits else None)
        surplus = {}
        for stretch in self.stretches:
            cut = network.head[assembly.links[stretch].link]
            surplus[stretch] = float(solution.heads[cut] - solution.heads[network.tail[self.behind[stretch]]])
            if assembly.links[stretch].sign * given[stretch] < 0.0:
                surplus[stretch] = -surplus[stretch]
        inflow, spare = _received(self.layout, replace(assembly, network=network), solution, self.held)
        return Forced(surplus, inflow, spare, solution)


def rig(
    layout: Layout,
    given: Mapping[str, float],
    *,
    levels: Mapping[str, float],
    vented: Collection[str] = (),
    held: Collection[str] = (),
) -> Rig:
    """Cut a layout's stretches, so that their flows can be given.

    Parameters:
        layout: read and walked; nothing in the cut stretches is shut.
        given: flow along the line, of which only the sign counts here, by id of the stretches to cut. The cut is where the water
            leaves them.
        levels: where the water stands in vessels whose level is not as stated [m above the datum]; all are held there.
        held: those of the vessels of which it is asked what they get beyond what they give.
    """
    assembly = assemble(layout, levels=levels, vented=vented)
    turned = np.zeros(len(assembly.network.tail), dtype=bool)
    turned[[assembly.links[name].link for name, flow in given.items() if assembly.links[name].sign * flow < 0.0]] = True
    assembly = oriented(assembly, turned)
    network, behind = _cut(assembly, given)
    return Rig(layout, assembly, network, tuple(given), behind, len(assembly.network.draw), frozenset(held))


def _cut(assembly: Assembly, stretches: Collection[str]) -> tuple[Network, dict[str, int]]:
    """Cut stretches at their links' heads; by stretch the link that goes on behind the cut. Nothing is drawn off there yet."""
    network = assembly.network
    n, m, k = len(network.fixed_head), len(network.tail), len(stretches)
    here = np.array([assembly.links[stretch].link for stretch in stretches], dtype=np.int64)
    before, after, link = n + np.arange(k), n + k + np.arange(k), m + np.arange(k)
    head, tip_head = network.head.copy(), network.tip_head.copy()
    # A tee at the head keeps the link before the cut as its leg: the same flow goes through both.
    head[here], tip_head[here] = before, -np.inf
    more: dict[str, Any] = {
        name: np.concatenate([getattr(network, name), np.full(2 * k if of == "n" else k, usual)])
        for name, (of, usual) in LISTS.items()
        if of in ("n", "m")
    }
    more["open_ended"][m:] = np.isfinite(network.tip_head[here])
    more["tip_head"] = np.concatenate([tip_head, network.tip_head[here]])
    stages = network.stages.only(~(network.stages.back & np.isin(network.stages.link, here)))
    cut = replace(
        network,
        fixed_head=np.concatenate([network.fixed_head, np.full(2 * k, np.nan)]),
        tail=np.concatenate([network.tail, after]),
        head=np.concatenate([head, network.head[here]]),
        stages=stages,
        **more,
    )
    return cut, dict(zip(stretches, link.tolist(), strict=True))


def _received(
    layout: Layout, assembly: Assembly, solution: Solution, held: Collection[str]
) -> tuple[dict[str, float], dict[str, float]]:
    """What comes into each vessel, and what those that are `held` get beyond what they give by anything but standpipes [m³/s]."""
    passes = {name: assembly.passes(name, solution.flows) for name in layout.vessels}
    spare, ends = {name: passes[name][0] - passes[name][1] for name in held}, layout.ends
    for stretch in layout.stretches:
        link = assembly.links[stretch.id]
        flow = float(link.sign * solution.flows[link.link])
        for point, out in ((stretch.tail, -flow), (stretch.head, flow)):
            end = ends.get(point)
            if end is not None and end.port == "standpipe" and end.name in spare:
                spare[end.name] -= out
    return {name: comes for name, (comes, _) in passes.items()}, spare
