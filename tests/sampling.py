"""The slow, plain way to say how sure flows are: change the numbers, solve again, many times over."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from unittest.mock import patch

import numpy as np

from plumbline import catalogue
from plumbline.hydraulics import fittings
from plumbline.hydraulics import stretch_links as linking
from plumbline.hydraulics.assemble import Assembly, assemble, oriented
from plumbline.hydraulics.fittings import PartK, end_k, part_k
from plumbline.hydraulics.flows import Flows
from plumbline.hydraulics.how_sure import sources_held
from plumbline.hydraulics.network import FloatArray, Network, Solution
from plumbline.hydraulics.risers import curve_of
from plumbline.hydraulics.solver import solve
from plumbline.hydraulics.spray_bar import Bar, bar_of
from plumbline.hydraulics.stretches import narrowing
from plumbline.layout.model import End, Layout, Line, Part, Pipe

PLURALS = {
    "22.5° bends": "bend 22.5",
    "45° bends": "bend 45",
    "flush entrances": "entrance flush",
    "re-entrant entrances": "entrance re-entrant",
    "exits": "exit",
}


def kind_of(plural: str) -> str:
    return PLURALS.get(plural, plural.removesuffix("s"))


class Sampler:
    """Solves a layout's network with its numbers changed by so much each, by the names that `uncertain_numbers` gives.

    K's are changed where parts and ends get theirs, bores, walls and pumps in the layout, heights and tees in the arrays.
    """

    def __init__(self, layout: Layout, flows: Flows) -> None:
        self.layout = layout
        self.plain, self.solution = sources_held(layout, flows)
        self.vented: list[str] = []
        self.levels = {name: got.level for name, got in flows.vessels.items() if got.level is not None}
        fresh = self.fresh(layout)
        # Pipe that air is in has stages of its own.
        here, there = (
            np.bincount(made.network.stages.link, minlength=len(fresh.network.tail)) for made in (self.plain, fresh)
        )
        self.vented = [name for name, of in fresh.links.items() if here[of.link] > there[of.link]]
        self.turned = fresh.network.tail != self.plain.network.tail
        parts = [part for line in layout.lines.values() for part in line.parts]
        self.pipes = {pipe.name: pipe for part in parts for pipe in (part.pipe, part.pipe_out)}

    def fresh(self, layout: Layout) -> Assembly:
        """Assembled anew, all levels free that the flows found."""
        stored = {name: (1.0, level) for name, level in self.levels.items()}
        return assemble(layout, stored=stored, vented=self.vented)

    def assembled(self, layout: Layout) -> Assembly:
        """Assembled anew, running as the water does and with the levels that it was solved with."""
        made, plain = oriented(self.fresh(layout), self.turned), self.plain.network
        network = replace(made.network, fixed_head=plain.fixed_head, storage=plain.storage, stored=plain.stored)
        return replace(made, network=network)

    def solve(self, change: Mapping[str, float]) -> Solution:
        """Solve with each number changed: relative, or in metres for heights."""
        return solve(self.network(change), start=self.solution)

    def network(self, change: Mapping[str, float]) -> Network:
        unknown = set(change)

        def get(name: str) -> float:
            unknown.discard(name)
            return change.get(name, 0.0)

        def pipe(old: Pipe) -> Pipe:
            wall = f"the roughness of {old.material}" if old.material else ""
            rougher = get(wall if wall in change else f"the roughness of {old.name}")
            return replace(
                old, bore=old.bore * (1.0 + get(f"the bore of {old.name}")), roughness=old.roughness * (1.0 + rougher)
            )

        def part(old: Part) -> Part:
            return replace(old, pipe=pipe(old.pipe), pipe_out=pipe(old.pipe_out))

        lines: dict[str, Line] = {}
        for name, line in self.layout.lines.items():
            lines[name] = replace(line, parts=tuple(map(part, line.parts)))
        by_bore = {pipe.bore: pipe for pipe in self.pipes.values()}
        stretches = tuple(
            replace(one, parts=tuple(map(part, one.parts)), bore=pipe(by_bore[one.bore]).bore)
            for one in self.layout.stretches
        )
        pumps = {}
        for name, pump in self.layout.pumps.items():
            wider, higher = (1.0 + get(f"the curve of pump '{name}', its {what}") for what in ("flow", "head"))
            pumps[name] = replace(pump, curve=tuple((q * wider, h * higher) for q, h in curve_of(self.layout, pump)))
        stated_ends = {
            id(end): f"the stated loss at the {side} of line '{name}'"
            for name, line in lines.items()
            for side, end in (("start", line.start), ("end", line.end))
        }
        tees = {
            name: tee
            if tee.loss is None
            else replace(tee, loss=tee.loss * (1.0 + get(f"the stated loss of {tee.kind} '{name}'")))
            for name, tee in self.layout.tees.items()
        }
        changed = replace(self.layout, tees=tees, lines=lines, stretches=stretches, pumps=pumps)

        def new_part_k(new: Part) -> PartK:
            old = replace(new, pipe=self.pipes[new.pipe.name], pipe_out=self.pipes[new.pipe_out.name])
            k = part_k(old)
            if old.is_pipe:
                return replace(k, bore=new.pipe.bore)
            full = part_k(replace(old, opening=1.0))
            wider = (
                new.pipe.bore / old.pipe.bore
                if old.pipe.bore <= old.pipe_out.bore
                else new.pipe_out.bore / old.pipe_out.bore
            )
            stated = next(
                (n for n in change if n.startswith(f"the stated loss of the {old.kind} at step {old.step} of ")), ""
            )
            kinds = {kind_of(m[1]): n for n in change if (m := re.match(r"the K of (.*)", n))}
            own = 1.0 + get(stated if old.stated else kinds.get(old.kind, ""))
            opens = {kind_of(m[1]): n for n in change if (m := re.match(r"the openings of (.*)", n))}
            more = 1.0 + get(opens.get(old.kind, ""))
            return replace(
                k,
                forward=own * full.forward + more * (k.forward - full.forward),
                back=own * full.back + more * (k.back - full.back),
                laminar=own * k.laminar,
                bore=old.pipe.bore * (1.0 if old.stated and old.loss is None else wider),
            )

        def new_end_k(end: End) -> tuple[float, float]:
            entering, leaving = end_k(end)
            inlet = "flush" if end.port == "port" or end.in_wall else "re-entrant"
            if end.loss is not None:
                own = 1.0 + get(stated_ends[id(end)])
                return entering * own, leaving * own
            return (entering * (1.0 + get(f"the K of {inlet} entrances")), leaving * (1.0 + get("the K of exits")))

        def new_bar(within: Layout, new: Part) -> Bar:
            bar = bar_of(within, new)
            line = next(one.line for one in within.stretches if any(part is new for part in one.parts))
            holes = f"the holes of the spray bar at step {new.step} of line '{line}'"
            return replace(bar, cd=bar.cd / math.sqrt(1.0 + get(holes)), friction=1.0 + get("the friction law"))

        def new_narrowing(_: Layout, point: str, bore: float) -> tuple[float, float]:
            for leg in self.layout.tees[point].legs[:2] if point in self.layout.tees else ():
                if pipe(leg.pipe).bore == bore:
                    own = (1.0 + get("the K of reducers")) * (leg.pipe.bore / bore) ** 4
                    into, out = narrowing(self.layout, point, leg.pipe.bore)
                    return own * into, own * out
            return 0.0, 0.0

        with (
            patch.object(linking, "narrowing", new_narrowing),
            patch.object(fittings, "part_k", new_part_k),
            patch.object(linking, "end_k", new_end_k),
            patch.object(linking, "bar_of", new_bar),
        ):
            network = self.assembled(changed).network
        fixed, tail, head, height = (
            values.copy() for values in (network.fixed_head, network.tip_tail, network.tip_head, network.stages.height)
        )
        for name, of in self.plain.links.items():
            up = get(f"the height of '{name}'")
            tail[of.link], head[of.link] = tail[of.link] + up, head[of.link] + up
            height[network.stages.link == of.link] += up
        for name, node in self.plain.nodes.items():
            if name.startswith("vessel "):
                vessel = name.removeprefix("vessel ")
                fixed[node] += get(f"the floor of '{vessel}'") + get(f"the water in '{vessel}'")
            else:
                fixed[node] += get(f"the height of {name}")
        bores = self.plain.network.tee_bore.copy()
        toward: FloatArray = network.tee_sign * self.solution.flows[network.tee_link]
        for row, name in enumerate(self.plain.tees):
            tee = self.layout.tees[name]
            legs = tee.legs[int(np.argmax(np.abs(toward[row])))]
            bores[row] *= (1.0 + get(f"the bore of {legs.pipe.name}")) * (
                1.0 + get(f"the losses of {tee.kind}s")
            ) ** -0.25
        length = network.run_length * (1.0 + get("the friction law"))
        assert not unknown, f"nothing is called {sorted(unknown)}"
        # Where a stage sets the head, its height alone is taken to be out.
        plain = self.plain.network
        still = self.solution.staged[network.stages.link]
        assert np.array_equal(plain.stages.link, network.stages.link)
        kept = {
            name: np.where(still, getattr(plain.stages, name), getattr(network.stages, name))
            for name in ("bore", "k", "square", "linear")
        }
        stages = replace(network.stages, height=height, **kept)
        staged = self.solution.staged[network.run_link]
        return replace(
            network,
            fixed_head=fixed,
            tip_tail=tail,
            tip_head=head,
            stages=stages,
            tee_bore=bores,
            run_length=np.where(staged, plain.run_length, length),
            run_bore=np.where(staged, plain.run_bore, network.run_bore),
            run_roughness=np.where(staged, plain.run_roughness, network.run_roughness),
        )


def spread(values: FloatArray) -> tuple[float, float]:
    """Standard deviation of a sample, and the standard error of that relative to itself, from the sample's kurtosis."""
    away = values - values.mean()
    square = float(np.mean(away**2))
    kurtosis = float(np.mean(away**4)) / square**2
    return math.sqrt(square), math.sqrt((kurtosis - 1.0) / (4.0 * len(values)))


def limits_of(name: str) -> float:
    """How far a number of the catalogue may be out."""
    return catalogue.uncertainty()[name].value
