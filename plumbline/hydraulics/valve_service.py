"""Which valve serves which vessel: the last valve with an opening on the way to that vessel, and to no other if possible.

A valve serves the places that no water can reach any more when it is shut. Nothing is solved here: the ways are those of
the pipes, and only the directions at ends under water are taken from flows found before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

from .. import catalogue
from ..catalogue.rows import OpeningRow
from ..layout.altered import with_parts
from ..layout.model import Layout, Part, Stretch
from .fittings import is_shut
from .flows import Flows
from .spray_bar import capped_bar
from .stretches import only_out

__all__ = ["Service", "Serving", "Valve", "adjustable", "find_service", "label", "opening_table", "with_openings"]


@dataclass(frozen=True, slots=True)
class Valve:
    """A valve with an opening: its `part`, the `line` it is in, its `stretch`, `towards` +1 where the water it serves
    with flows along the walk and −1 where it flows against it, and the places it serves: (vessel, point) `cuts` of
    vessels that want water, and how many `others` are cut off with them."""

    part: Part
    line: str
    stretch: str
    towards: float
    cuts: frozenset[tuple[str, str]]
    others: int
    behind: int

    @property
    def key(self) -> tuple[str, int]:
        """Line and step."""
        return self.line, self.part.step


@dataclass(frozen=True, slots=True)
class Serving:
    """For each vessel that wants water: the `valves` that serve it between them (none where there are none, with the
    reason in `why`), the `piece` of pipework it is fed from (−1 where no valve can matter), and whether water also comes
    to it `besides`, past those valves."""

    vessel: str
    valves: tuple[Valve, ...]
    piece: int
    why: str = ""
    besides: bool = False


@dataclass(frozen=True)
class Service:
    """Who serves whom. `servings` one for each vessel that wants water; `valves` every valve that serves any of them;
    `bypasses` those behind which nothing wants water but water can come out; `pieces` numbers the pieces of pipework
    that no pipe joins, by point; `givers` the vessels, by piece, that water runs out of into it by a port."""

    servings: tuple[Serving, ...]
    valves: tuple[Valve, ...]
    bypasses: tuple[Valve, ...]
    pieces: Mapping[str, int]
    givers: Mapping[int, frozenset[str]]


DRAINED = "it is fed by drains, which bring what comes down them"
PARTED = (
    "it is fed by a drain that parts: how its valves share out what comes down is not reckoned here; trim them with bucket and "
    "stopwatch"
)


@dataclass(frozen=True)
class _Ways:
    """The pipework as ways for water: what stands `next_to` each point, where water comes in (`sources`; `spilled` those
    that are standpipes; `givers` vessels by the points where it runs out of them), and where it comes out (`outlets`),
    into a vessel that wants it (`feeds`, by vessel)."""

    next_to: Mapping[str, tuple[tuple[str, str], ...]]
    sources: frozenset[str]
    spilled: frozenset[str]
    givers: Mapping[str, str]
    outlets: frozenset[str]
    feeds: Mapping[str, tuple[str, ...]]
    pieces: Mapping[str, int]


def adjustable(part: Part) -> bool:
    """Whether a part is a valve whose opening can be set."""
    return not part.is_pipe and catalogue.fittings()[part.kind].opening is not None


def opening_table(part: Part) -> OpeningRow:
    """The table of what an adjustable valve costs when partly open."""
    name = catalogue.fittings()[part.kind].opening
    assert name is not None
    return catalogue.openings()[name]


def label(line: str, part: Part) -> str:
    """A valve in the user's own words."""
    return f"'{part.id}'" if part.id else f"the {part.kind} at step {part.step} of line '{line}'"


def with_openings(layout: Layout, openings: Mapping[tuple[str, int], float]) -> Layout:
    """Return the layout with valves set otherwise.

    Parameters:
        openings: 0 (shut) to 1 (full open) by (line, step); other valves stay as they are.
    """

    def turned(line: str, part: Part) -> Part:
        key = (line, part.step)
        turns = adjustable(part) or part.runs is not None or part.kind == "indexing valve"
        return replace(part, opening=openings[key]) if key in openings and turns else part

    return with_parts(layout, lambda line, parts: tuple(turned(line, part) for part in parts))


def find_service(layout: Layout, flows: Flows) -> Service:
    """Find which valves serve which vessels.

    Parameters:
        layout: read and walked; vessels with `wants` are to be served.
        flows: steady flows of it, for the directions at ends under water.

    Returns:
        Who serves whom. A pipe behind a shut valve counts as no way, unless nothing else leads to some vessel.
    """
    ways = _ways(layout, flows)
    valves = tuple(_valves(layout, ways))
    serving = tuple(valve for valve in valves if valve.cuts)
    givers: dict[int, set[str]] = defaultdict(set)
    for point, vessel in ways.givers.items():
        givers[ways.pieces[point]].add(vessel)
    return Service(
        servings=tuple(_serving(ways, serving, vessel) for vessel in ways.feeds),
        valves=serving,
        bypasses=tuple(valve for valve in valves if not valve.cuts),
        pieces=ways.pieces,
        givers={piece: frozenset(names) for piece, names in givers.items()},
    )


# ---------------------------------------------------------------------- ways


def _ways(layout: Layout, flows: Flows) -> _Ways:
    feeds: dict[str, list[str]] = {name: [] for name, vessel in layout.vessels.items() if vessel.wants}
    sources, outlets, spilled = set(), set(), set()
    givers = {}
    for point, end in layout.ends.items():
        out = flows.out_of(point)
        if end.kind == "vessel" and end.port == "standpipe":
            sources.add(point)
            spilled.add(point)
        elif only_out(end) or out > 0.0 or (out == 0.0 and end.kind == "vessel" and point.endswith(".to")):
            outlets.add(point)
            if end.kind == "vessel" and end.name in feeds:
                feeds[end.name].append(point)
        elif out < 0.0 or (out == 0.0 and end.kind == "vessel"):
            sources.add(point)
            if end.kind == "vessel" and end.name is not None:
                givers[point] = end.name
    for stretch in layout.stretches:
        spray = capped_bar(layout, stretch)
        if spray is not None:
            outlets.add(stretch.head)
            if spray.vessel in feeds:
                feeds[spray.vessel].append(stretch.head)
    sources |= {f"{pump.name}.out" for pump in layout.pumps.values() if pump.vessel is not None}
    everything = _joins(layout, layout.stretches)
    open_ones = _joins(layout, [one for one in layout.stretches if not any(is_shut(part) for part in one.parts)])
    wet = _reach(open_ones, sources)
    dry = any(point not in wet for points in feeds.values() for point in points)
    return _Ways(
        next_to=everything if dry else open_ones,
        sources=frozenset(sources),
        spilled=frozenset(spilled),
        givers=givers,
        outlets=frozenset(outlets),
        feeds={name: tuple(dict.fromkeys(points)) for name, points in feeds.items()},
        pieces=_pieces(everything),
    )


def _joins(layout: Layout, stretches: Collection[Stretch]) -> dict[str, tuple[tuple[str, str], ...]]:
    """(neighbour, stretch id) by point; a pump in a line joins what stands before it and after it."""
    joins: dict[str, list[tuple[str, str]]] = defaultdict(list)
    pumps = [(f"{pump.name}.in", f"{pump.name}.out", "") for pump in layout.pumps.values() if pump.vessel is None]
    for tail, head, name in [(one.tail, one.head, one.id) for one in stretches] + pumps:
        joins[tail].append((head, name))
        joins[head].append((tail, name))
    return {point: tuple(there) for point, there in joins.items()}


def _reach(
    joins: Mapping[str, tuple[tuple[str, str], ...]], start: Collection[str], without: str | None = None
) -> set[str]:
    """The points that can be reached from others, `without` one stretch."""
    seen = set(start)
    waiting = list(seen)
    while waiting:
        for there, stretch in joins.get(waiting.pop(), ()):
            if there not in seen and (stretch != without or not stretch):
                seen.add(there)
                waiting.append(there)
    return seen


def _pieces(joins: Mapping[str, tuple[tuple[str, str], ...]]) -> dict[str, int]:
    pieces: dict[str, int] = {}
    for point in joins:
        if point not in pieces:
            pieces |= dict.fromkeys(_reach(joins, [point]), len(set(pieces.values())))
    return pieces


# ---------------------------------------------------------------------- valves


def _valves(layout: Layout, ways: _Ways) -> Iterator[Valve]:
    before = _reach(ways.next_to, ways.sources)
    for stretch in layout.stretches:
        parts = [part for part in stretch.parts if adjustable(part)]
        if not parts:
            continue
        lost = before - _reach(ways.next_to, ways.sources, without=stretch.id)
        cuts = frozenset((name, point) for name, points in ways.feeds.items() for point in points if point in lost)
        others = len(ways.outlets & lost) - len({point for _, point in cuts})
        if cuts or others:
            towards = 1.0 if stretch.head in lost else -1.0
            for part in parts:
                yield Valve(part, stretch.line, stretch.id, towards, cuts, others, len(lost))


def _serving(ways: _Ways, valves: Collection[Valve], vessel: str) -> Serving:
    if not ways.feeds[vessel]:
        return Serving(vessel, (), -1, "no line brings water to it")
    drains = {ways.pieces[point] for point in ways.spilled}
    feeds = [point for point in ways.feeds[vessel] if ways.pieces[point] not in drains]
    mine = [valve for valve in valves if any(name == vessel for name, _ in valve.cuts)]
    if not feeds:
        joined = {ways.pieces[point] for point in ways.feeds[vessel]}
        parts = sum(ways.pieces[point] in joined for point in ways.outlets) > len(ways.feeds[vessel])
        return Serving(vessel, (), -1, PARTED if parts and mine else DRAINED)
    piece, drained = ways.pieces[feeds[0]], len(feeds) < len(ways.feeds[vessel])
    whole = min((v for v in mine if {(vessel, point) for point in feeds} <= v.cuts), key=_rank, default=None)
    own = [
        min((v for v in mine if (vessel, point) in v.cuts and _alone(v)), key=_rank, default=None) for point in feeds
    ]
    each = {valve.key: valve for valve in own if valve is not None}
    if whole is not None and (_alone(whole) or not each):
        return Serving(vessel, (whole,), piece, besides=drained)
    if each:
        return Serving(vessel, tuple(each.values()), piece, besides=drained or None in own)
    return Serving(vessel, (), piece, "no valve with an opening stands on the way to it")


def _alone(valve: Valve) -> bool:
    return len({name for name, _ in valve.cuts}) == 1


def _rank(valve: Valve) -> tuple[int, int, int, float]:
    """The fewest vessels, then the fewest other outlets, then the last along the flow."""
    vessels = len({name for name, _ in valve.cuts})
    return vessels, valve.others, valve.behind, -valve.towards * valve.part.at
