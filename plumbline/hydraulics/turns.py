"""An indexing valve feeds its outlets in turn, and timed valves open by the clock: the layout in each turn, and the flows of all turns in one
answer."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from ..layout.altered import with_parts
from ..layout.model import DAY, End, Layout, Part, Stretch
from .flows import Flows
from .stretches import pipes_joined, pushed
from .valve_service import with_openings

__all__ = ["all_turns", "in_turns", "open_together", "shut_in", "strongest"]

T = TypeVar("T")


def shut_in(layout: Layout, outlets: Mapping[str, int]) -> frozenset[tuple[str, int]]:
    """Give what indexing valves shut, as (line, step), while each stands at one of its outlets, by its name."""
    return frozenset(
        place
        for name, valve in layout.indexing.items()
        for number, place in valve.ways.items()
        if number != outlets[name]
    )


def in_turns(layout: Layout) -> tuple[Layout, ...]:
    """Give the layout in each turn of its indexing valves, capped outlets left out, and of its timed valves; none where there are none, or it
    is in a turn."""
    turns = _indexed(layout)
    together = open_together(layout)
    return tuple(_set(turn, places) for turn in turns or (layout,) for places in together) if together else turns


def _indexed(layout: Layout) -> tuple[Layout, ...]:
    valves = layout.indexing
    turns = {name: sorted(valve.ways) for name, valve in valves.items()}
    lines = {(line.name, part.step): part for line in layout.lines.values() for part in line.parts}
    if any(lines[place].opening <= 0.0 for valve in valves.values() for place in valve.ways.values()):
        return ()
    count = max((len(ways) for ways in turns.values()), default=1)
    at = [{name: ways[turn % len(ways)] for name, ways in turns.items()} for turn in range(count if count > 1 else 0)]
    return tuple(with_openings(layout, dict.fromkeys(shut_in(layout, outlets), 0.0)) for outlets in at)


MOST_TOGETHER = 12
"""So many ways in which timed valves stand open together are solved, those that last longest."""

MOST_CHANGES = 5000


def open_together(layout: Layout) -> tuple[frozenset[tuple[str, int]], ...]:
    """Give the timed valves that feed, by (line, step), as they stand open together at some time of the day, in each way in which they do, the
    longest first; none where what the file writes is all that there is. One that lets sludge out for a minute stays as it is written."""
    timers = {place: part.runs for place, part in _feeding(layout).items() if part.runs is not None}
    lasts: dict[frozenset[tuple[str, int]], float] = defaultdict(float)
    time = 0.0
    for _ in range(MOST_CHANGES if timers else 0):
        then = min(DAY, *(timer.next(time + 1e-6) for timer in timers.values()))
        lasts[frozenset(place for place, timer in timers.items() if timer.runs(time + 1e-3))] += then - time
        if then >= DAY:
            break
        time = then
    written = frozenset(place for place, part in _feeding(layout).items() if part.opening > 0.0)
    if not lasts or lasts.keys() == {written}:
        return ()
    return tuple(sorted(lasts, key=lambda places: (-lasts[places], sorted(places)))[:MOST_TOGETHER])


def _feeding(layout: Layout) -> dict[tuple[str, int], Part]:
    """The timed valves in pipework that a pump pushes, or that ends in a vessel of plants or one that wants water; but none that lets water out
    at the end of a branch in open air, to flush it."""
    pieces = pipes_joined(layout)
    fed = pushed(layout) | {pieces[name] for name, line in layout.lines.items() if _wants(layout, line.end)}
    return {
        (stretch.line, part.step): part
        for stretch in layout.stretches
        for part in stretch.parts
        if part.runs is not None
        and part.kind != "indexing valve"
        and pieces[stretch.line] in fed
        and not _lets_out(layout, stretch)
    }


def _lets_out(layout: Layout, stretch: Stretch) -> bool:
    ends = [layout.ends.get(point) for point in (stretch.tail, stretch.head)]
    return None in ends and any(end is not None and end.kind == "open air" for end in ends)


def _wants(layout: Layout, end: End) -> bool:
    vessel = layout.vessels.get(end.name or "") if end.kind == "vessel" else None
    return vessel is not None and (vessel.holds == "plants" or vessel.wants is not None)


def _set(layout: Layout, places: Collection[tuple[str, int]]) -> Layout:
    """The layout with just those of its timed valves open: as far as is written, or wide."""

    feeding = _feeding(layout)

    def turned(line: str, part: Part) -> Part:
        place = (line, part.step)
        return replace(part, opening=(part.opening or 1.0) * (place in places), runs=None) if place in feeding else part

    return with_parts(layout, lambda line, parts: tuple(turned(line, part) for part in parts))


def strongest(of: Sequence[Mapping[str, T]], size: Callable[[T], float]) -> dict[str, T]:
    """Give for each key that of the turns in which most flows."""
    return {
        key: max((one[key] for one in of if key in one), key=size)
        for key in dict.fromkeys(k for one in of for k in one)
    }


def all_turns(turns: Sequence[Flows]) -> Flows:
    """Join the flows of turns into one answer: each pipe, pump and vessel as in the turn in which most flows there.

    What a bed gets is what it gets while its turn lasts; balances hold within each of the `turns`, and not between them.
    """
    ends = strongest([one.ends for one in turns], lambda end: abs(end.flow))
    routes = {
        route.end: route
        for one in turns
        for route in one.routes
        if one.ends.get(route.end) in (ends.get(route.end), None)
    }
    return Flows(
        stretches=strongest([one.stretches for one in turns], lambda stretch: abs(stretch.flow)),
        pumps=strongest([one.pumps for one in turns], lambda duty: duty.flow),
        vessels=strongest([one.vessels for one in turns], lambda vessel: vessel.inflow),
        ends=ends,
        routes=tuple(routes.values()),
        held=_in_all(one.held for one in turns),
        cut_off=_in_all(one.cut_off for one in turns),
        mass_residual=max(one.mass_residual for one in turns),
        head_residual=max(one.head_residual for one in turns),
        steps=sum(one.steps for one in turns),
        doubtful=frozenset(name for one in turns for name in one.doubtful),
        turns=tuple(turns),
    )


def _in_all(sets: Iterable[frozenset[str]]) -> frozenset[str]:
    return frozenset.intersection(*sets)
