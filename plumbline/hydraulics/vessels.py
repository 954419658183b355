"""What each vessel does to the water: hold its level, spill over a standpipe, or find its own level."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from ..layout.model import End, Layout

__all__ = ["Roles", "pipes_joined", "pump_sources", "vessel_roles"]


@dataclass(frozen=True, slots=True)
class Roles:
    """`spills`: vessels whose standpipes carry their surplus. `finds_level`: vessels whose level follows from their
    flows. `held`: vessels that were told to hold their level, whatever they receive. `dry`: vessels whose standpipes get no
    water. `backed`: vessels whose ports take air in or stand backed up, so that they carry the surplus like a standpipe, by the
    `ports`. All others hold their level too."""

    spills: frozenset[str]
    finds_level: frozenset[str]
    held: frozenset[str]
    dry: frozenset[str] = frozenset()
    backed: frozenset[str] = frozenset()
    ports: frozenset[End] = frozenset()


def vessel_roles(
    layout: Layout, held: Collection[str] = (), dry: Collection[str] = (), backed: Collection[str] = ()
) -> Roles:
    """Decide what each vessel does.

    Parameters:
        layout: read and walked.
        held: vessels to hold at their stated level in any case.
        dry: vessels whose water stays under their standpipes; their other outlets find the level.
        backed: vessels that find their level, and whose level is not that of full pipe under it: it is given otherwise.
    """
    groups = pipes_joined(layout)
    pumped = {group for line, group in groups.items() if layout.lines[line].start.kind == "pump"}
    sources = pump_sources(layout)
    standpipes, fed, drained = set(), set(), set()
    ports: dict[str, list[End]] = defaultdict(list)
    for line, end in _vessel_ends(layout):
        name, group = end.name or "", groups[line]
        if end.port == "standpipe":
            standpipes.add(name)
        elif not end.submerged or group in pumped:
            fed.add(name)
        else:
            drained.add(name)
            ports[name].append(end)
    for part in (part for line in layout.lines.values() for part in line.parts):
        if part.vessel is not None:
            fed.add(part.vessel)
    spills = frozenset(standpipes) - frozenset(held) - frozenset(dry)
    own = {
        name
        for name in fed & drained
        if layout.vessels[name].area is not None and name not in spills and name not in sources and name not in held
    }
    airy = frozenset(own & set(backed))
    outlets = frozenset(end for name in airy for end in ports[name])
    return Roles(spills | airy, frozenset(own - airy), frozenset(held), frozenset(dry), airy, outlets)


def pump_sources(layout: Layout) -> set[str]:
    """The vessels that pumps draw from: those they stand in, and those their suction lines begin in."""
    groups = pipes_joined(layout)
    sucking = {groups[name] for name, line in layout.lines.items() if line.end.kind == "pump"}
    sources = {pump.vessel for pump in layout.pumps.values() if pump.vessel is not None}
    sources |= {end.name or "" for line, end in _vessel_ends(layout) if groups[line] in sucking and end.submerged}
    return sources


def _vessel_ends(layout: Layout) -> Iterator[tuple[str, End]]:
    for line in layout.lines.values():
        for end in (line.start, line.end):
            if end.kind == "vessel":
                yield line.name, end


def pipes_joined(layout: Layout) -> dict[str, int]:
    """Number the groups of lines that tees join: lines in one group share one pressure."""
    group = {name: number for number, name in enumerate(layout.lines)}
    for tee in layout.tees.values():
        lines = {leg.line for leg in tee.legs}
        numbers = {group[name] for name in lines}
        group = {name: min(numbers) if number in numbers else number for name, number in group.items()}
    return group
