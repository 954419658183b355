"""Does the water come back: vessels that overtop, run dry or do not hold their level, and pipe that lets nothing pass."""

from __future__ import annotations

from collections.abc import Iterator

from .. import catalogue
from ..catalogued import finding
from ..findings import Finding
from ..layout.model import DAY, STEEP_MOUTH, Layout, Line, Part, Stretch, Vessel
from ..units import show
from .contents import between
from .fittings import is_shut
from .flows import Flows, VesselFlow
from .gutters import depth_at_inlet
from .stretches import intakes, mouths, only_out, pipes_joined, pump_sources, pushed

__all__ = ["balances", "part_name", "ranges", "runs_away", "throttle", "ways"]

# ---------------------------------------------------------------------- balances

DROWNS = 0.9
"""h₂/h₁ over a weir up to which what it carries was measured (see `weirs.drowned_head`)."""

_TRICKLE = 1e-4
"""The share of what a vessel gets under which what runs over its rim has come to its end."""


FILLED = "an overflow to the drain, or a float valve on what comes in"
"""The cure of a vessel that more comes to from outside than goes."""


def balances(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Vessels that overtop, that nothing drains, or that gain or lose with their level as stated."""
    sources = pump_sources(layout)
    drawn = any(end.kind == "draw" and end.draw > 0.0 for end in layout.ends.values())
    scale = max((abs(got.inflow) for got in flows.vessels.values()), default=0.0)
    yield from _dwindles(layout)
    for name, vessel in layout.vessels.items():
        got = flows.vessels[name]
        if got.balanced:
            yield from _overtops(layout, flows, name, vessel, got)
            yield from _drops(layout, flows, name, vessel, got)
            continue
        if vessel.area is None or max(got.inflow, got.outflow) <= 1e-6 * scale:
            continue
        surplus = got.inflow - got.outflow
        if name in sources and layout.timed:
            continue  # what switches through the day is followed through it
        if name in sources:
            if surplus < -_TRICKLE * max(got.inflow, got.outflow):
                yield finding(
                    "not-returned",
                    f"'{name}' gives {show(got.outflow, 'flow', layout.units)} and gets "
                    f"{show(got.inflow, 'flow', layout.units)} back: it is pumped down{_runs_dry_in(layout, vessel, -surplus)}.",
                    f"write down the lines that bring the water back to '{name}'; if there is none, add a return, or a "
                    "top-up for what is drawn off",
                )
            elif surplus > 0.01 * max(got.inflow, got.outflow):
                yield finding(
                    "unbalanced",
                    f"'{name}' gains {show(surplus, 'flow', layout.units)} that nothing takes away "
                    f"again{_fills_in(vessel, surplus)}.",
                    FILLED,
                    level="fail",
                )
        elif got.outflow <= 1e-6 * scale:
            yield finding(
                "no-way-out",
                f"'{name}' receives {show(got.inflow, 'flow', layout.units)} and no open pipe takes "
                f"any out{_fills_in(vessel, surplus)}.",
                f"a standpipe or a port with a drain line from '{name}', and no shut valve in it",
            )
        elif abs(surplus) > 0.01 * max(got.inflow, got.outflow):
            way = "rises" if surplus > 0.0 else "falls"
            yield finding(
                "unbalanced",
                f"The level of '{name}' {way}: it gets {show(got.inflow, 'flow', layout.units)} and "
                f"loses {show(got.outflow, 'flow', layout.units)} with its water as stated.",
                "a standpipe at the wanted level, so that just what comes in goes out"
                if surplus > 0.0 or not drawn
                else f"{show(-surplus, 'flow', layout.units)} more from outside, or so much less drawn off",
            )


def _dwindles(layout: Layout) -> Iterator[Finding]:
    """A supply that gives less than goes to the air and to plants."""
    lost = sum(vessel.loses for vessel in layout.vessels.values())
    comes = -sum(end.draw for end in layout.ends.values() if end.kind == "draw")
    held = any(vessel.area is None for vessel in layout.vessels.values())
    if held or lost <= comes or not any(end.supply for end in layout.ends.values()):
        return
    a_day, given = (show(DAY * max(flow, 0.0), "volume", layout.units) for flow in (lost, comes))
    yield finding(
        "not-returned",
        f"{a_day} a day go to the air and to plants, and no more than {given} a day come in from outside: the water dwindles.",
        "a larger supply",
    )


def _runs_dry_in(layout: Layout, vessel: Vessel, loss: float) -> str:
    """How long it takes down to the highest intake in a vessel, as it begins at its stated level."""
    heights = [one.height for found in intakes(layout).values() for one in found if one.vessel == vessel.name]
    if vessel.area is None or not heights or vessel.level <= max(heights):
        return ""
    there = between(vessel, max(heights), vessel.level)
    hours = there / loss / 3600.0
    time = f"{hours:.0f} hours" if hours >= 3.0 else f"{60.0 * hours:.0f} minutes"
    return f", to the intake in {time} or so"


def _fills_in(vessel: Vessel, surplus: float) -> str:
    if vessel.area is None or vessel.rim is None or surplus <= 0.0:
        return ""
    minutes = vessel.area * (vessel.rim - vessel.water) / surplus / 60.0
    return f": it overtops after {minutes:.0f} minutes" if minutes >= 1.0 else ": it overtops within a minute"


def _overtops(layout: Layout, flows: Flows, name: str, vessel: Vessel, got: VesselFlow) -> Iterator[Finding]:
    if vessel.rim is None or got.level is None or layout.timed:
        return  # what switches through the day is followed through it
    high = depth_at_inlet(layout, vessel, got)
    if high is not None and high > vessel.rim:
        yield finding(
            "overtops",
            f"'{name}' overtops at its inlet end: the water stands {show(high, 'size', layout.units)} deep there, to run "
            "down as fast as it comes.",
            "more fall, or a wider gutter",
        )
    if got.spilt <= 0.0:
        margin = layout.limits["margin"]
        if got.carries is not None and got.carries < (1.0 + margin) * got.inflow:
            yield finding(
                "thin-drain",
                f"'{name}' is close to its rim: its drains carry about {show(got.carries, 'flow', layout.units)} before it "
                f"overtops, and it gets {show(got.inflow, 'flow', layout.units)}.",
                f"a larger drain from '{name}', or a second one beside it",
            )
        return
    drain = next(
        (
            point.rpartition(".")[0]
            for point, end in layout.ends.items()
            if end.name == name and end.port == "standpipe"
        ),
        None,
    )
    too_much = got.wanted and got.inflow > (1.0 + layout.limits["margin"]) * got.wanted
    over = (
        f"{show(got.spilt, 'flow', layout.units)} run over the rim."
        if got.spilt > _TRICKLE * got.inflow
        else "It runs over until so much water is lost that no more comes than goes."
    )
    # A pump's vessel that water from outside fills has no drain to be made larger.
    filled = drain is None and name in pump_sources(layout) and any(end.supply for end in layout.ends.values())
    cure = (
        FILLED if filled else throttle(layout, flows, name) if too_much else "a larger drain, or a second one beside it"
    )
    yield finding(
        "overtops",
        f"'{name}' overtops: it gets {show(got.inflow, 'flow', layout.units)}, and with the water at its rim no more than "
        f"{show(got.outflow, 'flow', layout.units)} go out. {over}",
        cure,
        line=drain,
    )


def _drops(layout: Layout, flows: Flows, name: str, vessel: Vessel, got: VesselFlow) -> Iterator[Finding]:
    """A vessel whose ports empty it below its stated water. Where it receives nothing, that is told elsewhere."""
    if got.level is None or got.outflow <= 0.0 or vessel.level - got.level <= layout.limits["level drop"]:
        return
    units = layout.units
    left = show(max(got.level - vessel.base, 0.0), "length", units)
    fish = vessel.holds == "fish"
    if name in pump_sources(layout):
        if layout.timed:
            return  # its lowest level is the day's
        shallow = fish and got.level - vessel.base < layout.limits["fish depth"] * vessel.water
        over = next((repr(other) for other, one in flows.vessels.items() if one.spilt > 0.0), None)
        more = show((vessel.area or 0.0) * (vessel.level - got.level), "volume", units)
        yield finding(
            "level-drops",
            f"The water of '{name}' falls from {show(vessel.water, 'length', units)} to {left}, as "
            f"{f'it runs over the rim of {over}' if over else 'the other vessels fill to where they drain'}"
            f"{', and the fish are left with that' if fish else ''}.",
            f"keep {over} from running over first" if over else f"{more} more water in the system, or less to fill",
            level="fail" if shallow else "advice",
            case="usual" if shallow else "milder",
        )
        return
    over_top = _over_a_top(layout, flows, name, vessel)
    doubtful = over_top is not None and any(
        stretch.id in flows.doubtful for stretch in layout.stretches if stretch.line == over_top
    )
    why = (
        f"whether '{over_top}' runs full over its top and draws on it is in doubt"
        if doubtful
        else "its drains carry all it gets at that level"
    )
    yield finding(
        "level-drops",
        f"The water of '{name}' {'may fall' if doubtful else 'falls'} from {show(vessel.water, 'length', units)} to {left}: {why}"
        f"{'' if not fish else ', and the fish would be left with that' if doubtful else ', and the fish are left with that'}.",
        f"an open tee at the top of '{over_top}', which lets air in"
        if over_top
        else f"a standpipe of {show(vessel.water, 'length', units)} in '{name}' in place of the port",
        line=over_top,
        level="fail" if fish else None,
    )


def _over_a_top(layout: Layout, flows: Flows, name: str, vessel: Vessel) -> str | None:
    """The line that draws a vessel's water over a top which stands about as high as that is stated: an overflow that takes its water lower down."""
    for end, stretch, side in mouths(layout).values():
        flow = flows.stretches[stretch.id].flow
        top = max(max(part.start[2], part.end[2]) for part in layout.lines[stretch.line].parts)
        if end.name == name and (-flow if side else flow) > 0.0 and top > vessel.level - layout.limits["level drop"]:
            return stretch.line
    return None


def runs_away(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Water that comes out at an end in open air, more of it than comes in from outside."""
    away = {point: flows.out_of(point) for point, end in layout.ends.items() if end.kind == "open air"}
    comes = -sum(min(end.draw, 0.0) for end in layout.ends.values())
    if 0.0 < sum(away.values()) <= 1.01 * comes:
        return
    largest = max((abs(got.flow) for got in flows.stretches.values()), default=0.0)
    for point, out in away.items():
        name = point.rpartition(".")[0]
        if out > 1e-6 * largest:
            yield finding(
                "runs-away",
                f"{show(out, 'flow', layout.units)} run out at the end of '{name}' in open air, and do not come back.",
                f"close the end of '{name}' with a cap, or lead it to a vessel",
                line=name,
                level="warn" if layout.pumps else "advice",
            )


# ---------------------------------------------------------------------- ways shut or held


def ways(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Lines in which nothing flows because something holds it back or shuts it off; each line is told once."""
    told: set[str] = set()
    silent = _told_otherwise(layout, flows)
    for stretch in layout.stretches:
        line = layout.lines[stretch.line]
        valve = next((part for part in stretch.parts if part.kind in ("check valve", "foot valve")), None)
        against = _against(layout, stretch) if valve is not None else ""
        if line.name in told or line.name in silent:
            continue
        kind, step = "held-back", None if valve is None else valve.step
        if against and valve is not None:
            said = f"Nothing can ever flow in line '{line.name}': the {valve.kind} at step {step} {against}."
            cure = f"turn the {valve.kind} at step {step} round"
        elif stretch.id in flows.held and valve is not None:
            said = f"Nothing flows in line '{line.name}': the {valve.kind} at step {step} holds back water that would run the other way."
            cure = (
                f"see whether the {valve.kind} at step {step} is the wrong way round; if not, the line is too weak for what stands "
                "against it"
            )
        elif stretch.id in flows.held and not _is_vent(line):
            said = (
                f"Nothing comes out of line '{line.name}': where it joins, the water is under less pressure than the air, so its end "
                "would draw air in."
            )
            cure = f"lower the end of '{line.name}', or throttle what draws the water past it"
        elif stretch.id in flows.cut_off:
            shut = next((part for part in line.parts if is_shut(part)), None)
            kind, step = "cut-off", None if shut is None else shut.step
            said = (
                f"No water can reach {show(stretch.length, 'length', layout.units)} of line '{line.name}': shut valves part it from "
                "every pump and vessel."
            )
            cure = "open the valve that parts it off" if shut is None else f"open the {part_name(shut)} at step {step}"
            cure += ", or take the pipe beyond it out"
        else:
            continue
        told.add(line.name)
        yield finding(kind, said, cure, line=line.name, step=step)


def _is_vent(line: Line) -> bool:
    """Whether a line ends looking up in open air: it is there to let air in, and held back from letting water out."""
    return any(end.kind == "open air" and end.heading[2] > STEEP_MOUTH for end in (line.start, line.end))


def _against(layout: Layout, stretch: Stretch) -> str:
    """How a check valve in a stretch stands against the only way that water can take; "" where it does not."""
    line = layout.lines[stretch.line]
    if stretch.tail == f"{line.name}.from" and only_out(line.start):
        return "points away from an end in the air, where no water comes in"
    if stretch.head == f"{line.name}.to" and line.end.port == "standpipe":
        return "points up into the standpipe, which water only comes down"
    return ""


def _told_otherwise(layout: Layout, flows: Flows) -> set[str]:
    """Lines in which nothing flows for a reason that has its own finding, or that the file states: the pump moves nothing or stands by, or no
    water comes to the vessel that they drain."""
    groups = pipes_joined(layout)
    dead = pushed(layout, {name for name, duty in flows.pumps.items() if duty.state in ("shut-off", "backwards")})
    dry = {
        point.rpartition(".")[0]
        for point, end in layout.ends.items()
        if end.port == "standpipe" and flows.vessels[end.name or ""].inflow <= 0.0
    }
    waits = {
        name
        for name, line in layout.lines.items()
        if line.start.kind == "pump" and flows.rests(layout.pumps[line.start.name or ""])
    }
    # What a float valve holds back comes when it is wanted.
    waits |= {
        name
        for name, line in layout.lines.items()
        if any(end.float_valve is not None for end in (line.start, line.end))
    }
    return {name for name, group in groups.items() if group in dead} | dry | waits


def ranges(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Fittings whose loss is taken outside what its source was measured for; each kind is told once."""
    nu = layout.water.viscosity / layout.water.density
    yield from _drowned(layout, flows)
    told: set[str] = set()
    rows = catalogue.fittings()
    for stretch in layout.stretches:
        flow = abs(flows.stretches[stretch.id].flow)
        for part in stretch.parts:
            if part.is_pipe or part.loss is not None or "Kv" in part.details or part.kind in told:
                continue
            row, bore = rows[part.kind], part.pipe.bore
            reynolds = 4.0 * flow / (3.141592653589793 * bore * nu)
            why = ""
            if row.bores is not None and not row.bores[0] <= bore <= row.bores[1]:
                why = f"its bore, {show(bore, 'size', layout.units)}, is outside what the source of its loss was measured for"
            elif row.reynolds is not None and flow > 0.0 and not row.reynolds[0] <= reynolds <= row.reynolds[1]:
                why = f"the flow in it is slow (Reynolds number {reynolds:.0f}), outside what the source of its loss speaks for"
            if why:
                told.add(part.kind)
                yield finding(
                    "outside-range",
                    f"The loss of the {part.kind} at step {part.step} of line '{stretch.line}' is "
                    f"less sure than usual: {why}.",
                    "give its K or Kv, if the maker tells",
                    line=stretch.line,
                    step=part.step,
                )


def _drowned(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Weirs whose water hardly falls any more: how much less they carry was not measured there."""
    for line in layout.lines.values():
        for end, other in ((line.start, line.end), (line.end, line.start)):
            level = flows.vessels[other.name or ""].level if other.kind == "vessel" else None
            before = flows.vessels[end.name or ""].level if end.weir is not None else None
            if level is None or before is None or level - end.place[2] <= DROWNS * abs(before - end.place[2]):
                continue
            over = show(level - end.place[2], "size", layout.units)
            yield finding(
                "outside-range",
                f"The {end.called} of '{line.name}' in '{end.name}' is drowned: the water of '{other.name}' stands "
                f"{over} over its crest. That it carries less for it is counted, and less sure: nobody measured a weir so far under water.",
                "lower water behind it, or a higher crest",
                line=line.name,
            )


def part_name(part: Part) -> str:
    """A part by its kind, and by its own name where it has one."""
    return f"{part.called} '{part.id}'" if part.id else part.called


def throttle(layout: Layout, flows: Flows, vessel: str) -> str:
    """How to give a vessel less, that gets more than it wants: the valve on its own line, or a new one."""
    got = flows.vessels[vessel]
    units = layout.units
    why = f"'{vessel}' gets {show(got.inflow, 'flow', units)} and wants {show(got.wanted or 0.0, 'flow', units)}"
    rows = catalogue.fittings()
    for line in layout.lines.values():
        if line.end.name != vessel or line.end.port == "standpipe":
            continue
        for part in line.parts:
            if not part.is_pipe and rows[part.kind].opening:
                return f"throttle the {part_name(part)} at step {part.step} of line '{line.name}': {why}; 'plumbline balance' tells how far"
    return f"put a valve into the line to '{vessel}' and throttle it: {why}"
