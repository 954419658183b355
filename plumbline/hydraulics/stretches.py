"""What a network asks of a stretch and of the places where stretches meet, which lines share one pressure, and what a sleeve takes."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..layout.model import NO_PIPE, STEEP_MOUTH, End, Layout, Part, Stretch, Tee, once
from ..water import GRAVITY
from .fittings import stretch_ks
from .friction import friction_factor
from .islands import components
from .loss_units import to_square
from .losses import reducer

__all__ = [
    "BARE",
    "Intake",
    "arrives",
    "end_bores",
    "end_lip",
    "floor",
    "height_of",
    "intakes",
    "lies",
    "lip",
    "meets",
    "mouths",
    "narrowing",
    "only_out",
    "open_runs",
    "partings",
    "pieces_by_line",
    "pipes_joined",
    "pump_sources",
    "pushed",
    "side_of",
    "sill",
    "sleeve_gap",
    "sleeve_squares",
    "stands",
    "supplied",
    "tee_stretch",
    "way_back",
]

LEVEL = 1e-3
"""Pipe whose ends differ by less than this is level [m]."""


def end_bores(stretch: Stretch) -> tuple[float, float]:
    """The bores at a stretch's tail and head [m]."""
    if not stretch.parts:
        return stretch.bore, stretch.bore
    return stretch.parts[0].pipe.bore, stretch.parts[-1].pipe_out.bore


def height_of(layout: Layout, point: str) -> float:
    """The height of a place of the network [m above the datum]: of the parts of a stretch at its ends."""
    for stretch, side in meets(layout).get(point, ()):
        if stretch.parts:
            return stretch.parts[-1].end[2] if side else stretch.parts[0].start[2]
    raise ValueError(f"no pipe begins or ends at '{point}'")


@once
def meets(layout: Layout) -> Mapping[str, Sequence[tuple[Stretch, int]]]:
    """What meets at each place: stretches, each with its side there, 0 its tail or 1 its head."""
    places: dict[str, list[tuple[Stretch, int]]] = defaultdict(list)
    for stretch in layout.stretches:
        places[stretch.tail].append((stretch, 0))
        places[stretch.head].append((stretch, 1))
    return dict(places)


@once
def pieces_by_line(layout: Layout) -> Mapping[str, Sequence[Stretch]]:
    """The stretches of each line, in the order of the walk."""
    pieces: dict[str, list[Stretch]] = {name: [] for name in layout.lines}
    for stretch in layout.stretches:
        pieces[stretch.line].append(stretch)
    return pieces


def arrives(layout: Layout, pieces: Sequence[Stretch]) -> Stretch:
    """The stretch that comes to a line's end, of those of the line in the order of its walk; to an indexing valve before its first outlet."""
    return next((one for one in pieces if one.head in layout.tees and layout.tees[one.head].outlet), pieces[-1])


def tee_stretch(pieces: Mapping[str, Sequence[Stretch]], tee: Tee, leg: int) -> Stretch:
    """The stretch that leaves a tee at one of its legs, which may be of a line that comes back to it."""
    of = tee.legs[leg]
    line = pieces[of.line]
    match of.side:
        case "from":
            return line[0]
        case "to":
            return line[-1]
        case "before":
            return next(stretch for stretch in line if stretch.head == tee.id)
        case _:
            return next(stretch for stretch in reversed(line) if stretch.tail == tee.id)


def narrowing(layout: Layout, point: str, bore: float) -> tuple[float, float]:
    """What a tee's run costs where it is narrower than the run on the tee's other side: for water that goes into the narrow leg,
    and that comes out of it [s²/m⁵]. The branch's bore is in the tee's own law; a K that is stated stands for all of it.

    Reference: a sudden change of bore, Rennels and Hudson, Pipe Flow, 2012, ch. 10 and 11.
    """
    tee = layout.tees.get(point)
    if tee is None or tee.loss is not None:
        return 0.0, 0.0
    runs = [leg.pipe.bore for leg in tee.legs[:2]]
    if bore >= max(runs) or bore not in runs:
        return 0.0, 0.0
    into, out = reducer(max(runs), bore)
    return to_square(into, max(runs)), to_square(out, max(runs))


def stands(part: Part, forward: bool) -> bool:
    """Whether water stands over the floor where it enters a part that air gets to: not where it falls into a drop, which pulls what
    the turn into it costs."""
    down = part.heading_in[2] if forward else -part.heading_out[2]
    return not (part.is_pipe and down < -STEEP_MOUTH)


def lies(part: Part) -> bool:
    """Whether water that has air over it runs along a part's floor: in pipe that lies more than it stands, and where it turns into such. A wall's
    edge is no pipe, and a spray bar's water leaves by its holes."""
    return _round(part) and min(abs(part.heading_in[2]), abs(part.heading_out[2])) <= STEEP_MOUTH


def _round(part: Part) -> bool:
    """Whether a part has a floor half a bore under its axis."""
    return part.kind != "spray bar" and part.pipe.name != NO_PIPE


def floor(part: Part, side: int) -> float:
    """The height of the lowest point of a part's bore at its beginning, 0, or its end, 1, as if it lay there [m]."""
    height, bore = side_of(part, side)
    return height - 0.5 * bore * _round(part)


def lip(part: Part, side: int) -> float:
    """The height that still water runs over at a part's beginning or end: its floor where it lies, its axis where it stands upright [m]."""
    return floor(part, side) if lies(part) else side_of(part, side)[0]


def sill(stretch: Stretch) -> float:
    """The height that water has to come over to run through a stretch [m]; as low as can be where it has no parts."""
    return max((lip(part, side) for part in stretch.parts for side in (0, 1)), default=-math.inf)


def end_lip(end: End, part: Part, side: int) -> float:
    """The same at a line's end, whose first or last part it is: what looks up or down, and a crest, are their own lip."""
    crest = end.weir is not None or (end.port == "standpipe" and not end.in_wall)
    return end.place[2] if crest or abs(end.heading[2]) > STEEP_MOUTH else lip(part, side)


def side_of(part: Part, side: int) -> tuple[float, float]:
    """The height of a part's axis and its bore at its beginning, 0, or its end, 1 [m]."""
    return (part.start[2], part.pipe.bore) if side == 0 else (part.end[2], part.pipe_out.bore)


@once
def open_runs(layout: Layout) -> frozenset[str]:
    """Find the stretches that air gets to by their own end, however much runs: ways out at a vessel's water that lie all the way to an end in the
    air, falling or climbing, which no drop before it fills."""
    found = set[str]()
    for name, pieces in pieces_by_line(layout).items():
        ends = (layout.lines[name].start, layout.lines[name].end)
        for near, far in (ends, ends[::-1]) if all(one.head not in layout.tees for one in pieces[:-1]) else ():
            if near.kind == "vessel" and only_out(far) and _lies(layout, pieces, near):
                found.update(one.id for one in pieces)
    return frozenset(found)


def _lies(layout: Layout, pieces: Sequence[Stretch], near: End) -> bool:
    """Whether a line's stretches lie, falling or climbing all along, from a mouth that the vessel's normal water does not drown."""
    parts = [part for one in pieces for part in one.parts]
    heights = [place[2] for part in parts for place in (part.start, part.end)]
    if heights and heights[0] < heights[-1]:
        heights.reverse()
    falls = all(after <= before + LEVEL for before, after in pairwise(heights))
    bores = end_bores(pieces[0])[0], end_bores(pieces[-1])[1]
    at_mouth = bores[0] if layout.lines[pieces[0].line].start is near else bores[1]
    open_mouth = near.place[2] + 0.5 * at_mouth >= layout.vessels[near.name or ""].level
    return falls and open_mouth and all(map(lies, parts))


def partings(layout: Layout, vented: Collection[str]) -> frozenset[str]:
    """Find the tees at which water with air over it may part: all that meets there has air in it, and two legs or more lead
    away from it by their fall.
    """
    return frozenset(
        point
        for point, legs in _at_tees(layout).items()
        if vented and all(one.id in vented for one in legs) and sum(_goes_on(layout, one, point) for one in legs) > 1
    )


def dry_arms(layout: Layout, vented: Collection[str], flows: Mapping[str, float]) -> frozenset[str]:
    """Find the arms that stand dry beside water with air over it, which comes into them once it stands over the tee's floor: legs that
    lead away by their fall from a tee whose other legs have air in them.

    Parameters:
        flows: by stretch id [m³/s].
    """
    found = set[str]()
    for point, legs in _at_tees(layout).items() if vented else ():
        dry = [one for one in legs if one.id not in vented]
        if len(dry) == 1 and flows[dry[0].id] == 0.0 and _goes_on(layout, dry[0], point):
            found.add(dry[0].id)
    return frozenset(found)


@once
def _at_tees(layout: Layout) -> Mapping[str, list[Stretch]]:
    """What meets at each tee, but for those that water falls straight through."""
    legs = {point: list({one.id: one for one, _ in meets(layout).get(point, ())}.values()) for point in layout.tees}
    return {point: some for point, some in legs.items() if not _falls_through(some, point)}


def _falls_through(legs: Sequence[Stretch], point: str) -> bool:
    """Whether water falls straight on through a tee, past its branch."""
    ups = [
        one.parts[0].heading_in[2] if one.tail == point else -one.parts[-1].heading_out[2] for one in legs if one.parts
    ]
    return max(ups, default=0.0) > STEEP_MOUTH and min(ups, default=0.0) < -STEEP_MOUTH


def _goes_on(layout: Layout, stretch: Stretch, point: str) -> bool:
    """Whether a stretch leads water away from a tee by its fall: nothing in it is shut, it ends no higher than it begins there, and nowhere
    stands over the tee's axis by more than a bore, which is about as high as water with air over it comes."""
    tee = layout.tees[point]
    axis, bore = tee.place[2], max(leg.pipe.bore for leg in tee.legs)
    if not stretch.parts:
        return True
    far = stretch.parts[-1].end if stretch.tail == point else stretch.parts[0].start
    line = layout.lines[stretch.line]
    shut = any(k.shut for k in stretch_ks(layout)[stretch.id]) or any(
        end.kind in ("cap", "plug") and math.dist(end.place, far) < LEVEL for end in (line.start, line.end)
    )
    low = all(max(one.start[2], one.end[2]) <= axis + bore for one in stretch.parts)
    return not shut and far[2] <= axis + LEVEL and low


def way_back(
    layout: Layout, flows: Mapping[str, float], pumps: Collection[str], stretch: Stretch, side: int
) -> list[tuple[Stretch, int]]:
    """Find the way from an outlet back to where its water comes from, along the larger stream where streams meet.

    Parameters:
        flows: by stretch id [m³/s].
        pumps: names of those at work.
        stretch, side: the outlet, 0 at a stretch's tail or 1 at its head.

    Returns:
        The stretches against the flow, each with its downstream side; the last begins at a vessel, a supply or a pump in a vessel.
    """
    at_point = meets(layout)

    def towards(stretch: Stretch, side: int) -> float:
        return flows[stretch.id] if side else -flows[stretch.id]

    way, seen = [(stretch, side)], {stretch.id}
    while True:
        point = way[-1][0].tail if way[-1][1] else way[-1][0].head
        pump = point.removesuffix(".out")
        if pump != point and pump in pumps:
            before = [] if layout.pumps[pump].vessel is not None else list(at_point.get(f"{pump}.in", ()))
        else:
            before = [(one, at) for one, at in at_point.get(point, ()) if one.id not in seen and towards(one, at) > 0.0]
        if not before:
            return way
        way.append(max(before, key=lambda item: towards(*item)))
        seen.add(way[-1][0].id)


BARE = 1e-4
"""A pump whose intake has so little water over it draws air: its vessel is down to it [m]."""


def only_out(end: End) -> bool:
    """Whether water can leave a line there but not enter it: an end in air. A standpipe is the other way round."""
    return (end.kind == "vessel" and not end.submerged and end.port == "open") or end.kind == "open air"


class Intake(NamedTuple):
    """Where a pump takes its water: the `vessel`, the `height` there [m above the datum], and the `point` at which its suction line begins,
    None where the pump stands in the vessel itself."""

    vessel: str
    height: float
    point: str | None


@once
def intakes(layout: Layout) -> Mapping[str, Sequence[Intake]]:
    """The intakes of each pump: its own in the vessel it stands in, or the mouths of its suction lines."""
    groups = pipes_joined(layout)
    sucks = {line.end.name: groups[name] for name, line in layout.lines.items() if line.end.kind == "pump"}
    under = [(point, end) for point, end in layout.ends.items() if end.kind == "vessel" and end.submerged]
    return {
        name: [
            Intake(end.name or "", end.place[2], point)
            for point, end in under
            if groups[point.rpartition(".")[0]] == sucks.get(name)
        ]
        if pump.vessel is None
        else [Intake(pump.vessel, layout.vessels[pump.vessel].base + pump.intake, None)]
        for name, pump in layout.pumps.items()
    }


@once
def pump_sources(layout: Layout) -> frozenset[str]:
    """The vessels that pumps draw from: those they stand in, and those their suction lines begin in."""
    return frozenset(one.vessel for found in intakes(layout).values() for one in found)


@once
def pipes_joined(layout: Layout) -> Mapping[str, int]:
    """Number the groups of lines that tees join: lines in one group share one pressure."""
    number = {name: at for at, name in enumerate(layout.lines)}
    joins = np.array(
        [(number[tee.legs[0].line], number[leg.line]) for tee in layout.tees.values() for leg in tee.legs[1:]],
        dtype=np.int64,
    ).reshape(-1, 2)
    labels = components(len(number), joins[:, 0], joins[:, 1]).tolist()
    order = {label: at for at, label in enumerate(dict.fromkeys(labels))}
    return {name: order[label] for name, label in zip(number, labels, strict=True)}


def pushed(layout: Layout, pumps: Collection[str] | None = None) -> set[int]:
    """The groups of lines that pumps push into (see `pipes_joined`), some by name or all."""
    groups, by = pipes_joined(layout), layout.pumps if pumps is None else pumps
    return {groups[name] for name, line in layout.lines.items() if line.start.kind == "pump" and line.start.name in by}


def supplied(layout: Layout) -> set[int]:
    """The groups of lines that water comes to from outside."""
    groups = pipes_joined(layout)
    given = (point for point, end in layout.ends.items() if end.kind == "draw" and end.draw < 0.0)
    return {groups[point.rpartition(".")[0]] for point in given}


@once
def mouths(layout: Layout) -> Mapping[str, tuple[End, Stretch, int]]:
    """The line ends that are in vessels, by "LINE.from" or "LINE.to", each with its stretch and its side there, 0 the tail or 1 the head."""
    return {
        f"{name}.{where}": (end, stretch, side)
        for name, pieces in pieces_by_line(layout).items()
        for where, end, stretch, side in (
            ("from", layout.lines[name].start, pieces[0], 0),
            ("to", layout.lines[name].end, pieces[-1], 1),
        )
        if end.kind == "vessel"
    }


def sleeve_squares(layout: Layout, flows: Mapping[str, float]) -> dict[str, float]:
    """Give what the way up between each standpipe and its sleeve takes: entrance, friction on the gap, and its speed.

    Parameters:
        flows: by stretch id [m³/s].

    Returns:
        By line end, the coefficient of Q² [s²/m⁵].
    """
    found: dict[str, float] = {}
    nu = layout.water.viscosity / layout.water.density
    for point, (end, stretch, side) in mouths(layout).items():
        gap = sleeve_gap(end, stretch, side)
        if gap is None:
            continue
        area, width = gap
        speed = max(abs(flows[stretch.id]), 1e-9) / area
        pipe = (stretch.parts[0].pipe if side == 0 else stretch.parts[-1].pipe_out) if stretch.parts else None
        rough = pipe.roughness if pipe is not None else 0.0
        height = end.place[2] - layout.vessels[end.name or ""].base
        k = 1.5 + float(friction_factor(speed * width / nu, rough / width)) * height / width
        found[point] = k / (2.0 * GRAVITY * area**2)
    return found


def sleeve_gap(end: End, stretch: Stretch, side: int) -> tuple[float, float] | None:
    """Give the area [m²] and the hydraulic diameter [m] of the gap between a standpipe and its sleeve; None without one.

    Area π/4 (Ds² − d²) and hydraulic diameter Ds − d, with d the pipe's outside diameter, or its bore where that is not
    known; a sleeve that is not wider than the pipe counts as a gap of a tenth of a millimetre.
    """
    if end.sleeve is None:
        return None
    outside = end_bores(stretch)[side]
    if stretch.parts:
        pipe = stretch.parts[0].pipe if side == 0 else stretch.parts[-1].pipe_out
        outside = pipe.outside or pipe.bore
    wide = max(end.sleeve, outside + 1e-4)
    return 0.25 * math.pi * (wide**2 - outside**2), wide - outside
