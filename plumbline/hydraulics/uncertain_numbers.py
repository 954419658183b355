"""The numbers that a layout's flows rest on, how far each may be out, and what each does to the energy equations.

A number that is common to many parts is one unknown, since its error is the same in all of them: the K of all elbows comes from
one source, the pipe of one size from one maker's die. Taking each part's error by itself would let them average out, and promise
too much. K's are taken to stay as they are when a bore is out, since they go by nominal size and a fitting is moulded; the
speed that they work on follows the bore.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from .. import catalogue
from ..layout.model import End, Layout, Line, Part, Pipe, Stretch
from .assemble import Assembly
from .fittings import part_k
from .friction import friction_loss
from .loss_units import to_linear, to_square
from .network import FloatArray, Solution
from .pumps import PumpCurves
from .spray_bar import Bar, inlet_head
from .stretches import narrowing
from .tees import tee_drops

__all__ = ["HEAD_SHARE", "LIMITS_TO_SIGMA", "UncertainNumber", "uncertain_numbers"]

LIMITS_TO_SIGMA = 1.0 / math.sqrt(3.0)
"""Standard deviation over greatest error, where any error up to that is as likely (JCGM 100:2008, 4.3.7, from memory)."""

HEAD_SHARE = 0.8
"""How far a pump's head may be out, over how far its flow may: 8 % and 10 % (ISO 9906:2012, pumps under 10 kW)."""

_STEP = 1e-4


@dataclass(frozen=True)
class UncertainNumber:
    """One number that may be out. `name` is its own and `cause` what a report calls it, which some share; `row` is its row of
    the catalogue's uncertainties. `sigma` is its standard deviation, relative or in metres. Derivatives by it, at the flows as
    they are: `energy` (m,) [m] of what each link's energy equation lacks, `pump_head` (p,) [m] of the pumps' heads."""

    name: str
    cause: str
    row: str
    sigma: float
    energy: FloatArray
    pump_head: FloatArray


def uncertain_numbers(layout: Layout, assembly: Assembly, solution: Solution) -> tuple[UncertainNumber, ...]:
    """List the numbers that may be out.

    Parameters:
        assembly: its network, with links running as the water does.

    Returns:
        Each number with its standard deviation and its derivatives; numbers that nothing feels are left out.
    """
    gather = _Gather(layout, assembly, solution)
    for stretch in layout.stretches:
        gather.stretch(stretch)
    gather.friction()
    gather.tees()
    gather.pumps()
    gather.heights()
    return gather.whole()


class _Gather:
    def __init__(self, layout: Layout, assembly: Assembly, solution: Solution) -> None:
        self.layout = layout
        self.assembly = assembly
        self.network = assembly.network
        self.q = solution.flows
        self.solution = solution
        self.nu = self.network.viscosity / self.network.density
        self.rows = catalogue.uncertainty()
        self.found: dict[str, tuple[str, str, float]] = {}
        self.by_link: dict[str, FloatArray] = {}
        self.by_pump: dict[str, FloatArray] = {}
        self.runs: list[tuple[int, Part]] = []
        self.bores: dict[str, tuple[Pipe, list[tuple[int, float]]]] = {}

    def add(
        self,
        name: str,
        row: str,
        links: Iterable[tuple[int, float]],
        *,
        own: float | None = None,
        cause: str = "",
        share: float = 1.0,
    ) -> None:
        """Add losses: by how much [m] each link loses more per unit of the number, which may be out (a `share` of) what the file says, else
        its own row of a table, else as usual."""
        if name not in self.found:
            limit = self.layout.sureness.get(row, self.rows[row].value if own is None else own)
            self.found[name] = (cause or name, row, share * limit * LIMITS_TO_SIGMA)
            self.by_link[name] = np.zeros(len(self.q))
            self.by_pump[name] = np.zeros(len(self.network.pump_link))
        for link, loss in links:
            # Where a stage sets the head, it is the height alone that counts.
            if row == "heights" or not self.solution.staged[link]:
                self.by_link[name][link] -= loss

    def whole(self) -> tuple[UncertainNumber, ...]:
        return tuple(
            UncertainNumber(name, cause, row, sigma, self.by_link[name], self.by_pump[name])
            for name, (cause, row, sigma) in self.found.items()
            if sigma > 0.0 and (np.any(self.by_link[name]) or np.any(self.by_pump[name]))
        )

    # ------------------------------------------------------------------ parts, one by one

    def stretch(self, stretch: Stretch) -> None:
        of = self.assembly.links[stretch.id]
        link = of.at(0)
        for part, k in zip(stretch.parts, of.parts, strict=True):
            q = float(self.q[link])
            along = of.sign * q > 0.0
            if part.kind == "spray bar" and of.bar is not None:
                self.bar(part, stretch, link, of.bar, of.sign * q)
            elif part.kind == "spray bar" and of.holes:
                costs = [(hole, float(self.network.square[hole] * self.q[hole] ** 2)) for hole in of.holes]
                self.add(_holes(part, stretch), "holes", costs)
                link = of.at(1)
            elif part.is_pipe:
                self.runs.append((link, part))
                if k.forward:
                    bends = to_square(k.forward, k.bore) * q * abs(q)
                    own = catalogue.fittings()["bend"].uncertainty
                    self.add("the bends of hoses", "K", [(link, bends)], own=own)
            else:
                linear = to_linear(k.laminar, k.bore, self.nu) * q
                square = to_square(k.forward if along else k.back, k.bore) * q * abs(q)
                self.fitting(part, stretch, link, square, linear, along)
        self.ends(stretch)

    def bar(self, part: Part, stretch: Stretch, link: int, bar: Bar, flow: float) -> None:
        """What a spray bar asks for, by its holes and its pipe, by central differences. A hole's cost goes with 1/Cd²."""

        def slope(change: Callable[[float], Bar]) -> float:
            up, down = (inlet_head(change(1.0 + step), flow)[0] for step in (_STEP, -_STEP))
            return (up - down) / (2.0 * _STEP)

        holes = slope(lambda by: replace(bar, cd=bar.cd / math.sqrt(by)))
        self.add(_holes(part, stretch), "holes", [(link, holes)])
        rubs = slope(lambda by: replace(bar, friction=bar.friction * by))
        self.add("the friction law", "friction", [(link, rubs)])
        name, own = _wall(part.pipe)
        rougher = slope(lambda by: replace(bar, roughness=bar.roughness * by))
        self.add(name, "roughness", [(link, rougher)], own=own)
        self.bore(part.pipe, link, slope(lambda by: replace(bar, bore=bar.bore * by)))

    def fitting(self, part: Part, stretch: Stretch, link: int, square: float, linear: float, along: bool) -> None:
        """What a fitting's K costs, by its full-open part and by what its opening adds."""
        row = catalogue.fittings()[part.kind]
        added = 0.0
        if part.opening < 1.0 and row.opening is not None and square:
            full = part_k(replace(part, opening=1.0))
            now = part_k(part)
            share = (full.forward / now.forward) if along else (full.back / now.back)
            added, square = (1.0 - share) * square, share * square
            own = catalogue.openings()[row.opening].uncertainty
            self.add(f"the openings of {_many(part.kind)}", "openings", [(link, added)], own=own)
        if part.stated:
            name = f"the stated loss of the {part.kind} at step {part.step} of line '{stretch.line}'"
            self.add(name, "K", [(link, square + linear)])
        else:
            self.add(f"the K of {_many(part.kind)}", "K", [(link, square + linear)], own=row.uncertainty)
        if part.loss is None and part.stated:
            square = 0.0  # a flow factor, or a head at a flow, knows no bore
        narrow = min(part.pipe, part.pipe_out, key=lambda pipe: pipe.bore)  # whose speed a reducer's loss goes with
        self.bore(narrow, link, -4.0 * (square + added) - 3.0 * linear)

    def ends(self, stretch: Stretch) -> None:
        """What a stretch's ends cost, and a stated K of a tee there."""
        of = self.assembly.links[stretch.id]
        line = self.layout.lines[stretch.line]
        for side, (point, end, (entering, leaving)) in enumerate(
            ((stretch.tail, line.start, of.start), (stretch.head, line.end, of.end))
        ):
            link = of.at(side)
            q = float(self.q[link])
            along = of.sign * q > 0.0
            pipe = _pipe_at(line, stretch, side)
            tee = self.layout.tees.get(point)
            if tee is not None:
                loss = to_square(0.5 * (tee.loss or 0.0), pipe.bore) * q * abs(q)
                self.add(f"the stated loss of {tee.kind} '{tee.id}'", "K", [(link, loss)])
                into, out = narrowing(self.layout, point, pipe.bore)
                change = (into if along == (side == 0) else out) * q * abs(q)
                if change:
                    own = catalogue.fittings()["reducer"].uncertainty
                    self.add("the K of reducers", "K", [(link, change)], own=own)
                self.bore(pipe, link, -4.0 * (loss + change))
            elif point == f"{line.name}.{'to' if side else 'from'}" and not (of.bar and side == 1):
                enters = along == (side == 0)
                loss = to_square(entering if enters else leaving, pipe.bore) * q * abs(q)
                if loss:
                    self.end(line.name, side, end, enters, link, loss)
                    self.bore(pipe, link, -4.0 * loss)

    def end(self, line: str, side: int, end: End, enters: bool, link: int, loss: float) -> None:
        if end.loss is not None:
            self.add(f"the stated loss at the {'end' if side else 'start'} of line '{line}'", "K", [(link, loss)])
            return
        kind = "exit" if not enters else "entrance flush" if end.port == "port" else "entrance re-entrant"
        self.add(f"the K of {_many(kind)}", "K", [(link, loss)], own=catalogue.fittings()[kind].uncertainty)

    def bore(self, pipe: Pipe, link: int, loss: float) -> None:
        """Note what a link loses more per relative change of a pipe's bore."""
        self.add(f"the bore of {pipe.name}", "bore", [(link, loss)])

    # ------------------------------------------------------------------ all at once

    def friction(self) -> None:
        """Friction in all runs by its law, by roughness and by bore, the last two by central differences."""
        if not self.runs:
            return
        link = np.array([link for link, _ in self.runs])
        pipes = np.array([(part.pipe.bore, part.length, part.pipe.roughness) for _, part in self.runs])
        bore, length, rough = pipes.T

        def lost(wider: float, rougher: float) -> FloatArray:
            found, _ = friction_loss(self.q[link], bore * wider, length, rough * rougher, self.nu, self.network.gravity)
            return found

        now = lost(1.0, 1.0)
        by_bore = (lost(1.0 + _STEP, 1.0) - lost(1.0 - _STEP, 1.0)) / (2.0 * _STEP)
        by_rough = (lost(1.0, 1.0 + _STEP) - lost(1.0, 1.0 - _STEP)) / (2.0 * _STEP)
        self.add("the friction law", "friction", zip(link, now, strict=True))
        for (at, part), wider, rougher in zip(self.runs, by_bore, by_rough, strict=True):
            self.bore(part.pipe, at, float(wider))
            name, own = _wall(part.pipe)
            self.add(name, "roughness", [(at, float(rougher))], own=own)

    def tees(self) -> None:
        """The tees' coefficients, and the bores that set the speeds they work on."""
        network = self.network
        if not self.assembly.tees:
            return
        toward = network.tee_sign * self.q[network.tee_link]
        drops, _ = tee_drops(toward, network.tee_bore, network.tee_angle, network.gravity)
        lost = network.tee_sign * drops
        for row, name in enumerate(self.assembly.tees):
            tee = self.layout.tees[name]
            links = list(zip(network.tee_link[row].tolist(), lost[row].tolist(), strict=True))
            limit = "crosses" if tee.cross else "wyes" if tee.kind == "wye" else "tees"
            self.add(f"the losses of {limit}", limit, links)
            combined = int(np.argmax(np.abs(toward[row])))
            for link, loss in links:
                self.bore(tee.legs[combined].pipe, link, -4.0 * loss)

    def pumps(self) -> None:
        """H(Q) becomes (1 + a) H(Q/(1 + b)): a and b are two numbers of one curve; an airlift has b alone."""
        names = list(self.assembly.pumps)
        if not names:
            return
        flows = self.q[self.network.pump_link]
        heads, slopes = PumpCurves(self.network.pump_curves).heads(flows)
        for number, name in enumerate(names):
            pump = self.layout.pumps[name]
            row = "airlift" if pump.airlift is not None else "pump box" if pump.assumed else "pump curve"
            cause = f"the curve of pump '{name}'"
            link = self.assembly.pumps[name]
            for what, share, more in (
                # what still water an airlift holds up is sure; what is measured, and off, is its flow
                ("head", 0.0 if pump.airlift is not None else HEAD_SHARE, float(heads[number])),
                ("flow", 1.0, float(-flows[number] * slopes[number])),
            ):
                key = f"{cause}, its {what}"
                self.add(key, row, [(link, -more)], cause=cause, share=share)
                self.by_pump[key][number] = more

    def heights(self) -> None:
        """Levels held, and the heights of ends in the air and of crests that the water runs over."""
        network = self.network
        levels = {self.assembly.vessels[name]: name for name in self.layout.vessels}
        names = {node: name for name, node in self.assembly.nodes.items()}
        # Where water falls, or a stage sets the head, what stands beyond does not count; and water that does not get to an end in
        # the air is held back by its height all the same.
        held = self.solution.closed & (network.tip_head > self.solution.heads[network.head])
        apart = self.solution.falls | self.solution.staged | held
        for node in np.flatnonzero(np.isfinite(network.fixed_head)).tolist():
            rises = np.where(network.tail == node, -1.0, 0.0) + np.where((network.head == node) & ~apart, 1.0, 0.0)
            links = [(int(link), float(rises[link])) for link in np.flatnonzero(rises)]
            vessel = levels.get(node)
            where = f"the floor of '{vessel}'" if vessel is not None else f"the height of {names[node]}"
            self.add(where, "heights", links, cause="the heights")
            if vessel is not None:
                self.add(f"the water in '{vessel}'", "water levels", links, cause="the water levels")
        ids = {of.link: name for name, of in self.assembly.links.items()}
        for link in np.flatnonzero(apart).tolist():
            if link in ids:
                self.add(f"the height of '{ids[link]}'", "heights", [(link, 1.0)], cause="the heights")


def _wall(pipe: Pipe) -> tuple[str, float | None]:
    """What shares one roughness with a pipe, and how far it may be out by its material's row."""
    rows = catalogue.materials()
    if pipe.material in rows and pipe.material is not None and rows[pipe.material].roughness == pipe.roughness:
        return f"the roughness of {pipe.material}", rows[pipe.material].uncertainty
    return f"the roughness of {pipe.name}", None


def _holes(bar: Part, stretch: Stretch) -> str:
    """What a bar's holes are called."""
    return f"the holes of the spray bar at step {bar.step} of line '{stretch.line}'"


def _many(kind: str) -> str:
    """A kind of fitting in the plural.

    >>> [_many(kind) for kind in ("elbow", "bend 22.5", "entrance flush", "exit")]
    ['elbows', '22.5° bends', 'flush entrances', 'exits']
    """
    first, _, last = kind.partition(" ")
    if first == "bend" and last:
        return f"{last}° bends"
    return f"{last} entrances" if first == "entrance" else f"{kind}s"


def _pipe_at(line: Line, stretch: Stretch, side: int) -> Pipe:
    """The pipe at a stretch's tail or head; a stretch without parts is of the pipe before it."""
    if stretch.parts:
        return stretch.parts[0].pipe if side == 0 else stretch.parts[-1].pipe_out
    before = [part for part in line.parts if part.at + part.length <= stretch.start + 1e-9]
    return before[-1].pipe_out if before else line.parts[0].pipe
