"""Places where something can be read, what solved flows make a reading there, and how the uncertain numbers move it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..catalogue import readings as reading_errors
from ..hydraulics.assemble import Assembly
from ..hydraulics.fittings import velocity_head
from ..hydraulics.flows import Flows
from ..hydraulics.grade import stretch_grade
from ..hydraulics.how_sure import sources_held
from ..hydraulics.network import FloatArray, Solution
from ..hydraulics.sensitivity import Tangent
from ..hydraulics.stretches import pump_sources
from ..hydraulics.turns import in_turns
from ..hydraulics.uncertain_numbers import uncertain_numbers
from ..hydraulics.valve_service import adjustable
from ..layout.model import Layout, Reading, ReadingKind, Stretch
from ..layout.readings import bucket_sigma, limit_to_sigma
from ..water import GRAVITY

__all__ = [
    "BUCKET",
    "Place",
    "Spread",
    "open_places",
    "openings_of",
    "place_of",
    "predicted",
    "reading_sigma",
    "spread",
    "stretch_at",
]

BUCKET = 0.010
"""What a mender times, unless another amount was caught [m³]."""

PATIENCE = 300.0
"""Nobody waits longer for a bucket [s] (common practice, no source); what is caught by then is what is read."""

LEAST_HEAD = 0.03
"""A clear hose shows no less head than this [m]."""

IDLE_SHARE = 0.6
"""What a pump takes with no flow, over what it takes as the file has it running (common practice, no source: small centrifugal
pumps take half to three quarters)."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place to read something, as `Reading` has it; `where` in the file's words."""

    what: ReadingKind
    where: str
    line: str = ""
    step: int = -1
    vessel: str = ""
    pump: str = ""


def place_of(reading: Reading) -> Place:
    """The place of a reading."""
    return Place(reading.what, reading.where, reading.line, reading.step, reading.vessel, reading.pump)


def open_places(layout: Layout, flows: Flows) -> tuple[Place, ...]:
    """Where a mender can take a reading: a bucket under each end that runs out free, a tape in each vessel that can rise and fall, a
    clear hose at each cap, a meter at each pump whose power is stated."""
    found: list[Place] = []
    for name, line in layout.lines.items():
        for side, end, step in (("from", line.start, 0), ("to", line.end, -1)):
            falls = end.kind == "open air" or (end.kind == "vessel" and not end.submerged and step == -1)
            if falls and end.port != "standpipe" and abs(flows.ends[f"{name}.{side}"].flow) > 0.0:
                found.append(Place("flow", f"{name}.{side}", name, step))
    found += [Place("depth", name, vessel=name) for name in layout.vessels if flows.vessels[name].balanced]
    steps = {name: max(part.step for part in line.parts) for name, line in layout.lines.items()}
    found += [
        Place("head", one.id, one.line, one.step if 0 < one.step <= steps[one.line] else 0 if one.step == 0 else -1)
        for one in layout.accesses
        if one.kind == "cap"
    ]
    reader = _Reader(layout, flows, layout, flows)
    found = [one for one in found if one.what != "head" or (reader.value(one) > LEAST_HEAD and _plain(layout, one))]
    found += [
        Place("power", name, pump=name) for name in layout.pumps if name in flows.pumps and flows.pumps[name].power
    ]
    return tuple(found)


def openings_of(layout: Layout) -> dict[Place, float]:
    """Every valve that can be looked at, and how far it is open as written [-]."""
    return {
        Place("opening", part.id or f"{name}.{part.step}", name, part.step): part.opening
        for name, line in layout.lines.items()
        for part in line.parts
        if adjustable(part) and part.runs is None
    }


def _plain(layout: Layout, place: Place) -> bool:
    """Whether no holes are drilled in the pipe beside a place: what they cost is not known well enough to read a head behind them."""
    return not any(part.kind == "spray bar" for part in stretch_at(layout, place)[0].parts)


def reading_sigma(place: Place, value: float) -> float:
    """How far a reading of that value would be out, by the catalogue: a standard deviation in SI."""
    if place.what == "flow":
        litres = min(abs(value) * PATIENCE, BUCKET)
        return bucket_sigma(litres, litres / abs(value) if litres else PATIENCE)
    limit = reading_errors()[place.what].value
    return max(limit_to_sigma(limit * value if place.what == "power" else limit), 1e-9)


# ---------------------------------------------------------------------- what is read


def predicted(layout: Layout, flows: Flows, places: Sequence[Place], before: Layout, usual: Flows) -> FloatArray:
    """What would be read at places with these flows of a layout; `before` is the layout as written, and `usual` its flows, at which
    each pump takes the power that it states.

    Returns:
        (k,) in SI.
    """
    reader = _Reader(layout, flows, before, usual)
    return np.array([reader.value(place) for place in places])


@dataclass(frozen=True)
class _Reader:
    layout: Layout
    flows: Flows
    before: Layout
    usual: Flows

    def value(self, place: Place) -> float:
        match place.what:
            case "flow":
                end = self.flows.ends[f"{place.line}.{'from' if place.step == 0 else 'to'}"]
                return max(-end.flow if place.step == 0 else end.flow, 0.0)
            case "depth":
                vessel, level = self.layout.vessels[place.vessel], self.flows.vessels[place.vessel].level
                return vessel.water if level is None else level - vessel.base
            case "power":
                return self.power(place.pump)
            case _:
                stretch, side = stretch_at(self.layout, place)
                return self.head(stretch, place, side)

    def power(self, name: str) -> float:
        """P = P₀ n³ (s + (1 − s) q): n the speed and q the flow at that speed, over those of the file as written."""
        pump, usual = self.layout.pumps[name], self.usual.pumps[name]
        speed = pump.speed / self.before.pumps[name].speed
        share = self.flows.pumps[name].flow / (usual.flow * speed) if usual.flow > 0.0 else 1.0
        return (usual.power or 0.0) * speed**3 * (IDLE_SHARE + (1.0 - IDLE_SHARE) * min(max(share, 0.0), 1.5))

    def head(self, stretch: Stretch, place: Place, side: int | None) -> float:
        """Static head over the pipe's axis behind a step [m]."""
        if side is not None:
            got = self.flows.stretches[stretch.id]
            part = stretch.parts[-1 if side else 0]
            total, flow = (got.head_head, got.flow_head) if side else (got.head_tail, got.flow)
            height, bore = (part.end[2], part.pipe_out.bore) if side else (part.start[2], part.pipe.bore)
            return total - velocity_head(flow, bore, GRAVITY) - height
        places = stretch_grade(self.layout, self.flows, stretch)
        behind = [row for row in places if row[0] is not None and row[0].step == place.step][-1]
        return behind[3] - behind[1]


def stretch_at(layout: Layout, place: Place) -> tuple[Stretch, int | None]:
    """The stretch that a place of a line is in, and the side of it, 0 or 1, where it is at one of its ends."""
    mine = [stretch for stretch in layout.stretches if stretch.line == place.line and stretch.parts]
    if place.step <= 0:
        return (mine[0], 0) if place.step == 0 else (mine[-1], 1)
    stretch = next(one for one in mine if any(part.step == place.step for part in one.parts))
    return stretch, 1 if stretch.parts[-1].step == place.step else None


# ---------------------------------------------------------------------- how sure that is


@dataclass(frozen=True)
class Spread:
    """How the uncertain numbers move readings: `moves` (k, p), a reading's change [SI] for one standard deviation of each, by their `names`;
    `sigmas` are the standard deviations, of those that were found."""

    names: tuple[str, ...]
    moves: FloatArray
    sigmas: Mapping[str, float]


def spread(layout: Layout, flows: Flows, places: Sequence[Place], names: Sequence[str] = ()) -> Spread:
    """Tell how far readings may be out because of what the layout's numbers may be out by.

    Parameters:
        names: the numbers, in the order wanted; others are left out. Left out, those that are found

    Returns:
        the moves, as `how_sure` has them for flows, by the derivative of the solution

    Raises:
        SolveError: where the flows have no single derivative

    A head inside a stretch moves between those of the stretch's ends, by its share of the loss. Of indexing valves each reading is one of
    the turn in which most flows at its place.
    """
    if flows.turns:
        first, *others = zip(in_turns(layout), flows.turns, strict=True)
        found = [spread(*first, places, names)]
        found += [spread(*one, places, found[0].names) for one in others]
        flowing = np.array([[_strength(layout, turn, place) for turn in flows.turns] for place in places])
        own = [found[turn].moves[row] for row, turn in enumerate(np.argmax(flowing, axis=1).tolist())]
        return replace(found[0], moves=np.array(own))
    assembly, solution = sources_held(layout, flows)
    tangent = Tangent(assembly.network, solution)
    numbers = uncertain_numbers(layout, assembly, solution)
    mover = _Mover(layout, flows, assembly, solution)
    rows = {}
    for number in numbers:
        d_head, d_flow = tangent.answer(number.energy)
        rows[number.name] = number.sigma * np.array(
            [mover.move(place, d_head, d_flow, number.name) for place in places]
        )
    known = tuple(names or rows)
    nothing = np.zeros(len(places))
    moves = np.array([rows.get(name, nothing) for name in known]).reshape(len(known), len(places)).T
    return Spread(known, moves, {number.name: number.sigma for number in numbers})


def _strength(layout: Layout, flows: Flows, place: Place) -> float:
    """How much flows at a place [m³/s]."""
    if place.what == "depth":
        return flows.vessels[place.vessel].inflow
    if place.what == "power":
        return flows.pumps[place.pump].flow
    return abs(flows.stretches[stretch_at(layout, place)[0].id].flow)


class _Mover:
    def __init__(self, layout: Layout, flows: Flows, assembly: Assembly, solution: Solution) -> None:
        self.layout = layout
        self.flows = flows
        self.assembly = assembly
        self.network = assembly.network
        self.falls = solution.falls | solution.staged
        self.heads = solution.heads

    def move(self, place: Place, d_head: FloatArray, d_flow: FloatArray, number: str) -> float:
        match place.what:
            case "flow":
                stretch, side = stretch_at(self.layout, place)
                of = self.assembly.links[stretch.id]
                return float(of.sign * d_flow[of.at(side or 0)]) * (-1.0 if place.step == 0 else 1.0)
            case "depth":
                return self.depth(place.vessel, d_head, number)
            case "power":
                link = self.assembly.pumps.get(place.pump)
                duty = self.flows.pumps[place.pump]
                if link is None or duty.flow <= 0.0:
                    return 0.0
                return (duty.power or 0.0) * (1.0 - IDLE_SHARE) * float(d_flow[link]) / duty.flow
            case _:
                return self.head(place, d_head, d_flow)

    def depth(self, name: str, d_head: FloatArray, number: str) -> float:
        """A vessel that pumps draw from is held in the derivative; it falls by what the others take up."""
        node, area = self.assembly.vessels[name], self.layout.vessels[name].area
        if not math.isfinite(self.network.fixed_head[node]):
            return float(d_head[node])
        others = [
            (self.layout.vessels[other].area or 0.0) * float(d_head[at])
            for other, at in self.assembly.vessels.items()
            if not math.isfinite(self.network.fixed_head[at])
        ]
        own = 1.0 if number == f"the water in '{name}'" else 0.0
        return own - sum(others) / (area * len(pump_sources(self.layout))) if area else own

    def head(self, place: Place, d_head: FloatArray, d_flow: FloatArray) -> float:
        stretch, side = stretch_at(self.layout, place)
        of = self.assembly.links[stretch.id]
        if of.bar is not None and side == 1:
            # Behind the holes of a bar the head over them goes with its flow squared.
            over = self.flows.stretches[stretch.id].head_head - stretch.parts[-1].end[2]
            flow = self.flows.stretches[stretch.id].flow
            return 2.0 * over * float(of.sign * d_flow[of.link]) / flow if flow else 0.0
        ends = [self.end(stretch, at, d_head, d_flow) if side in (None, at) else 0.0 for at in (0, 1)]
        if side is not None:
            return ends[side]
        share = self.share(stretch, place)
        return (1.0 - share) * ends[0] + share * ends[1]

    def end(self, stretch: Stretch, side: int, d_head: FloatArray, d_flow: FloatArray) -> float:
        """The static head at an end of a stretch moves with that of the node there; what lies between goes with the flow squared."""
        of, got = self.assembly.links[stretch.id], self.flows.stretches[stretch.id]
        link = of.at(side)
        if self.falls[link]:
            return 0.0  # where water falls out, what stands beyond does not count
        node = int((self.network.tail if (side == 0) == (of.sign > 0.0) else self.network.head)[link])
        total, flow = (got.head_head, got.flow_head) if side else (got.head_tail, got.flow)
        pipe = stretch.parts[-1].pipe_out if side else stretch.parts[0].pipe
        between = total - velocity_head(flow, pipe.bore, GRAVITY) - float(self.heads[node])
        more = float(of.sign * d_flow[link]) / flow if flow else 0.0
        return float(d_head[node]) + (2.0 * between * more if math.isfinite(between) else 0.0)

    def share(self, stretch: Stretch, place: Place) -> float:
        """How much of a stretch's loss lies before a step."""
        rows = stretch_grade(self.layout, self.flows, stretch)
        total = rows[0][2] - rows[-1][2]
        behind = [row for row in rows if row[0] is not None and row[0].step == place.step][-1]
        return min(max((rows[0][2] - behind[2]) / total, 0.0), 1.0) if abs(total) > 1e-9 else 0.5
