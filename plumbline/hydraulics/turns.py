"""An indexing valve feeds its outlets in turn: the layout in each turn, and the flows of all turns in one answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TypeVar

from ..layout.model import Layout
from .flows import Flows
from .valve_service import with_openings

__all__ = ["all_turns", "in_turns", "shut_in", "strongest"]

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
    """Give the layout in each turn of its indexing valves, capped outlets left out; none where there are none, or it is in a turn."""
    valves = layout.indexing
    turns = {name: sorted(valve.ways) for name, valve in valves.items()}
    lines = {(line.name, part.step): part for line in layout.lines.values() for part in line.parts}
    if any(lines[place].opening <= 0.0 for valve in valves.values() for place in valve.ways.values()):
        return ()
    count = max((len(ways) for ways in turns.values()), default=1)
    at = [{name: ways[turn % len(ways)] for name, ways in turns.items()} for turn in range(count if count > 1 else 0)]
    return tuple(with_openings(layout, dict.fromkeys(shut_in(layout, outlets), 0.0)) for outlets in at)


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
