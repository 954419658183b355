"""An indexing valve feeds its outlets in turn: the layout in each turn, and the flows of all turns in one answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

from ..catalogued import finding
from ..findings import Finding
from ..layout.model import Indexing, Layout
from ..units import show
from .flows import Flows
from .valve_service import with_openings
from .vessels import pipes_joined

__all__ = ["all_turns", "feeders", "in_turns", "judge_turns", "shut_in", "strongest"]

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


def feeders(layout: Layout, valve: str) -> tuple[str, frozenset[str]]:
    """Give the line that ends at an indexing valve, and the pumps whose pipe it is."""
    line = next(
        name for name, one in layout.lines.items() if one.end.kind == "indexing valve" and one.end.name == valve
    )
    groups = pipes_joined(layout)
    return line, frozenset(one.start.name or "" for name, one in layout.lines.items()
                           if one.start.kind == "pump" and groups[name] == groups[line])  # fmt: skip


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


def judge_turns(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Say of indexing valves which never go on to the next outlet, and in which turns they feed nothing or too little to turn.

    Parameters:
        layout, flows: as solved.
    """
    for name, valve in layout.indexing.items():
        line, pumps = feeders(layout, name)
        one = layout.lines[line]
        rests = any(layout.pumps[pump].runs or layout.pumps[pump].switch for pump in pumps)
        if not (rests or one.start.siphon or any(part.runs for part in one.parts)):
            what = f"pump '{min(pumps)}'" if pumps else f"the water in '{line}'"
            yield finding(
                "valve-never-turns",
                f"The indexing valve '{name}' never goes on to its next outlet, since {what} never stops: one outlet is fed all day, and the "
                "others get nothing.",
                f"a timer on {what if pumps else f'a valve in {line!r}'}, for instance runs: {{on: 10 min, off: 5 min}}",
                line=line,
            )
        yield from _lost_turns(layout, flows, name, valve, line)


def _lost_turns(layout: Layout, flows: Flows, name: str, valve: Indexing, line: str) -> Iterator[Finding]:
    capped = valve.outlets - len(valve.ways)
    if capped:
        yield finding(
            "valve-turn-lost",
            f"{capped} of the {valve.outlets} outlets of the indexing valve '{name}' {'is' if capped == 1 else 'are'} capped: in such a turn "
            "nothing flows, and the pump pushes against a cap.",
            f"let '{name}' turn through {len(valve.ways)} outlets only, if it can be set so",
            line=line,
        )
    for number, (outlet, _) in sorted(valve.ways.items()):
        begins = layout.lines[outlet].start.name == f"{name} {number}"
        flow = abs(flows.ends[f"{outlet}.{'from' if begins else 'to'}"].flow)
        if flow < valve.least:
            yield finding(
                "valve-turn-lost",
                f"{show(flow, 'flow', layout.units)} flow in the turn of outlet {number} of the indexing valve '{name}', and it turns at no less "
                f"than {show(valve.least, 'flow', layout.units)}.",
                "a larger pump, or less height and wider pipe to that bed",
                line=outlet,
            )
