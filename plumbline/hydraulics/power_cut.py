"""All pumps stop together: what siphons back, what drains down, where the water stands then, and what starting again takes.

The course in time is not followed, only where the water comes to rest. The rules:

- Full pipe is a siphon: water goes over any hump in it, from a vessel to a lower vessel or a lower end.
- Air comes in at every opening that is above the water. It comes as far as the water in the pipe has fallen: to a place
  once the giving water stands no higher than the lowest point on the air's way there (`air_reach`).
- Where air has come, water only runs over: it passes there while it stands higher than the pipe does.
- So a vessel gives until its water is down to its pipe's end, to where air breaks the siphon, or to the level of what
  receives. Gravity pipe goes before pumped pipe, then the highest water first, each to the lowest that it reaches.
- A vessel that is as full as a gravity pipe lets it be passes on what it gets; one full to its rim spills it.
- What stands in the pipe runs down where air can follow it, and water runs back into empty pipe below it.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..layout.model import Layout
from .contents import between, moved
from .flows import Flows
from .resting import Rest, come_to_rest
from .stores import SAME
from .stretches import intakes, pump_sources

__all__ = ["PowerCut", "Siphon", "StartUp", "VesselCut", "power_cut"]


@dataclass(frozen=True, slots=True)
class VesselCut:
    """One vessel. `before` and `after` are its levels [m above the datum], `after` None where it cannot be known for want
    of an `area`; `gains` [m³] is what it has more of, negative where it gives; `rim` [m above the datum] if known; `spilled`
    [m³] over its rim."""

    vessel: str
    before: float
    after: float | None
    gains: float | None
    rim: float | None
    spilled: float


@dataclass(frozen=True, slots=True)
class Siphon:
    """Water that goes from `giver` to `receiver` (None: onto the ground) through the pipe of stopped `pumps`, or over a hump
    in a drain (then `pumps` is empty): in at the end `side` ("from", "to", "spray") of `line`, out at `end`. `volume` [m³] and the level
    that the giver falls to, `down_to` [m above the datum]; volume None, and `down_to` the lowest it can be, where areas
    are not known. `passes` where it goes through a pump itself, `onward` where it comes from the vessel that the pump
    stands in and goes the pump's own way. `why`: what ends it."""

    giver: str
    receiver: str | None
    line: str
    side: str
    end: str
    pumps: tuple[str, ...]
    volume: float | None
    down_to: float
    passes: bool
    onward: bool
    why: str


@dataclass(frozen=True, slots=True)
class StartUp:
    """What starting does to a vessel that pumps draw from. `pipes` and `vessels` [m³] are what the pipes, and the vessels
    that had drained down, take up, in all of the water that this vessel belongs to; levels above the datum [m]: `standing` before,
    `running` after, `from_normal` what it would fall to if it were filled to its stated depth before the start;
    `intake` the highest intake in it, of pump `pump`. None where an `area` is wanting."""

    vessel: str
    pump: str
    intake: float
    pipes: float
    vessels: float
    standing: float | None
    running: float | None
    from_normal: float | None


@dataclass(frozen=True, slots=True)
class PowerCut:
    """What all pumps stopping does, and their starting again. `drained` [m³] ran down out of the pipes; `lost` [m³] ran
    out onto the ground by open ends; `water_before` and `water_after` [m³] are all that stands in vessels with an area
    and in pipes, what left them included."""

    vessels: tuple[VesselCut, ...]
    siphons: tuple[Siphon, ...]
    starts: tuple[StartUp, ...]
    drained: float
    lost: float
    water_before: float
    water_after: float


def power_cut(layout: Layout, flows: Flows) -> PowerCut:
    """Find where the water comes to rest when all pumps stop, and what it takes to start again.

    Parameters:
        flows: its steady flows, with the levels that its drains need.

    Returns:
        Rows for the vessels, the siphons and the vessels that pumps draw from.

    Raises:
        SolveError: when the water never comes to rest.

    Validity: water stands still or moves slowly, so that surges, and air carried along, are
    left out. Draws stop with the pumps.
    """
    rest = come_to_rest(layout, flows)
    rows = tuple(_row(layout, rest, name) for name in layout.vessels)
    return PowerCut(
        vessels=rows,
        siphons=_siphons(rest),
        starts=_starts(layout, rest, rows),
        drained=rest.drained,
        lost=rest.lost,
        water_before=rest.water_before,
        water_after=rest.water(),
    )


def _row(layout: Layout, rest: Rest, name: str) -> VesselCut:
    vessel = layout.vessels[name]
    rim = None if vessel.rim is None else vessel.base + vessel.rim
    before, known = rest.before[name], name not in rest.unknown
    after = rest.levels[name] if known else None
    gains = None if vessel.area is None or after is None else between(vessel, before, after)
    return VesselCut(name, before, after, gains, rim, rest.spilled.get(name, 0.0))


# ---------------------------------------------------------------------- siphons


def _siphons(rest: Rest) -> tuple[Siphon, ...]:
    rows = []
    for (giver, number, first, last), volume in rest.given.items():
        group = rest.groups[number]
        inlet, outlet = group.openings[first], group.openings[last]
        ending = rest.stopped[giver, number, first, last]
        down_to = rest.levels[giver] if volume is not None else ending.height
        if not group.pumps and rest.top(number, first, last) <= max(down_to, ending.height) + SAME:
            continue
        pump = inlet.pump or outlet.pump
        rows.append(
            Siphon(
                giver=giver,
                receiver=outlet.vessel,
                line=inlet.line,
                side=inlet.side,
                end=f"{outlet.line}.{outlet.side}",
                pumps=group.pumps if pump is None else (pump,),
                volume=volume,
                down_to=down_to,
                passes=pump is not None,
                onward=inlet.pump is not None,
                why=ending.why,
            )
        )
    return tuple(rows)


# ---------------------------------------------------------------------- starting


def _starts(layout: Layout, rest: Rest, rows: tuple[VesselCut, ...]) -> tuple[StartUp, ...]:
    row_of = {row.vessel: row for row in rows}
    sources = pump_sources(layout)
    out = []
    for system in _systems(layout, rest):
        drawn = [name for name in layout.vessels if name in sources and name in system]
        others = [row_of[name] for name in layout.vessels if name in system and name not in sources]
        pipes = sum(rest.drained_from[number] for number in range(len(rest.groups)) if rest.joined[number] & system)
        raised = sum(max(-(row.gains or 0.0), 0.0) for row in others)
        gained = [row_of[name].gains for name in drawn]
        known = all(row.gains is not None or row.before == row.after for row in others) and None not in gained
        area = sum(layout.vessels[name].area or 0.0 for name in drawn)
        for name in drawn:
            if (lowest := _intake(layout, name)) is None:
                continue
            pump, intake = lowest
            row = row_of[name]
            running = from_normal = None
            if known and area > 0.0:
                vessel = layout.vessels[name]
                share = (vessel.area or 0.0) / area
                missing = pipes + raised - sum(gain or 0.0 for gain in gained)
                running = moved(vessel, row.before, -missing * share)
                from_normal = moved(vessel, vessel.level, -(pipes + raised) * share)
            out.append(StartUp(name, pump, intake, pipes, raised, row.after, running, from_normal))
    return tuple(out)


def _intake(layout: Layout, vessel: str) -> tuple[str, float] | None:
    """The highest intake in a vessel, and its pump; None where switches have all of them off before the water comes down to them."""
    found = [
        (one.height, name)
        for name, places in intakes(layout).items()
        for one in places
        if one.vessel == vessel and layout.pumps[name].leaves == layout.pumps[name].intake
    ]
    height, name = max(found, default=(0.0, ""))
    return (name, height) if name else None


def _systems(layout: Layout, rest: Rest) -> list[set[str]]:
    systems: list[set[str]] = [{name} for name in layout.vessels]
    for number in range(len(rest.groups)):
        joined = rest.joined[number]
        touching = [system for system in systems if system & joined]
        systems = [system for system in systems if not system & joined]
        if touching:
            systems.append(set().union(*touching))
    return systems
