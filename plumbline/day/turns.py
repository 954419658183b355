"""What turns an indexing valve, and what is wrong with its turns."""

from __future__ import annotations

from collections.abc import Iterator

from ..catalogued import finding
from ..findings import Finding
from ..hydraulics.flows import Flows
from ..hydraulics.stretches import pipes_joined
from ..layout.faults import listed
from ..layout.model import Indexing, Layout
from ..units import show

__all__ = ["feeders", "judge_turns"]


def feeders(layout: Layout, valve: str) -> tuple[str, frozenset[str]]:
    """Give the line that ends at an indexing valve, and the pumps whose pipe it is."""
    line = next(
        name for name, one in layout.lines.items() if one.end.kind == "indexing valve" and one.end.name == valve
    )
    groups = pipes_joined(layout)
    return line, frozenset(
        one.start.name or ""
        for name, one in layout.lines.items()
        if one.start.kind == "pump" and groups[name] == groups[line]
    )


def judge_turns(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Say of indexing valves which never go on to the next outlet, and in which turns they feed nothing or too little to turn."""
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
    gets: dict[int, float] = {}
    for number, (outlet, _) in sorted(valve.ways.items()):
        begins = layout.lines[outlet].start.name == f"{name} {number}"
        gets[number] = abs(flows.ends[f"{outlet}.{'from' if begins else 'to'}"].flow)
    slow = [number for number, flow in gets.items() if flow < valve.least]
    if slow:
        where = f"outlet{'' if len(slow) == 1 else 's'} {listed([str(number) for number in slow], 'and')}"
        yield finding(
            "valve-never-turns",
            f"Only {show(min(gets[number] for number in slow), 'flow', layout.units)} flow in the turn of {where} of the indexing valve '{name}', "
            f"and it turns at no less than {show(valve.least, 'flow', layout.units)}: it may stay there, and the other beds get nothing.",
            "a larger pump, or less height and wider pipe behind that valve",
            line=valve.ways[slow[0]][0],
        )
