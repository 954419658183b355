"""What a network asks of a stretch and of the places where stretches meet."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

from ..layout.model import STEEP_MOUTH, Layout, Part, Stretch, Tee
from .fittings import parts_k
from .loss_units import to_square
from .losses import reducer

__all__ = [
    "arrives",
    "end_bores",
    "height_of",
    "narrowing",
    "partings",
    "pieces_by_line",
    "stands",
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
    for stretch in layout.stretches:
        if stretch.parts and point in (stretch.tail, stretch.head):
            return stretch.parts[0].start[2] if point == stretch.tail else stretch.parts[-1].end[2]
    raise ValueError(f"no pipe begins or ends at '{point}'")


def pieces_by_line(layout: Layout) -> dict[str, list[Stretch]]:
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
    """Whether water stands at the axis where it enters a part that air gets to: not where it falls into a drop, which pulls what
    the turn into it costs."""
    down = part.heading_in[2] if forward else -part.heading_out[2]
    return not (part.is_pipe and down < -STEEP_MOUTH)


def partings(layout: Layout, vented: Collection[str]) -> frozenset[str]:
    """Find the tees at which water with air over it may part: all that meets there has air in it, and two legs or more lead
    away from it by their fall.

    Parameters:
        vented: ids of stretches that air gets to.
    """
    return frozenset(
        point for point, legs in _at_tees(layout).items() if vented
        and all(one.id in vented for one in legs) and sum(_goes_on(layout, one, point) for one in legs) > 1
    )  # fmt: skip


def dry_arms(layout: Layout, vented: Collection[str], flows: Mapping[str, float]) -> frozenset[str]:
    """Find the arms that stand dry beside water with air over it, which comes into them once it stands over the tee's floor: legs that
    lead away by their fall from a tee whose other legs have air in them.

    Parameters:
        vented: ids of stretches that air gets to.
        flows: by stretch id [m³/s].
    """
    found = set[str]()
    for point, legs in _at_tees(layout).items() if vented else ():
        dry = [one for one in legs if one.id not in vented]
        if len(dry) == 1 and flows[dry[0].id] == 0.0 and _goes_on(layout, dry[0], point):
            found.add(dry[0].id)
    return frozenset(found)


def _at_tees(layout: Layout) -> dict[str, list[Stretch]]:
    """What meets at each tee, but for those that water falls straight through."""
    legs: dict[str, list[Stretch]] = defaultdict(list)
    for stretch in layout.stretches:
        for point in {stretch.tail, stretch.head} & layout.tees.keys():
            legs[point].append(stretch)
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
    shut = any(k.shut for k in parts_k(stretch.parts)) or any(
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
    at_point: dict[str, list[tuple[Stretch, int]]] = defaultdict(list)
    for one in layout.stretches:
        at_point[one.tail].append((one, 0))
        at_point[one.head].append((one, 1))

    def towards(stretch: Stretch, side: int) -> float:
        return flows[stretch.id] if side else -flows[stretch.id]

    way, seen = [(stretch, side)], {stretch.id}
    while True:
        point = way[-1][0].tail if way[-1][1] else way[-1][0].head
        pump = point.removesuffix(".out")
        if pump != point and pump in pumps:
            before = [] if layout.pumps[pump].vessel is not None else at_point[f"{pump}.in"]
        else:
            before = [(one, at) for one, at in at_point[point] if one.id not in seen and towards(one, at) > 0.0]
        if not before:
            return way
        way.append(max(before, key=lambda item: towards(*item)))
        seen.add(way[-1][0].id)
