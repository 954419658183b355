"""What the flows mean: does the pump lift enough, and does the water come back. Findings in the user's own names."""

from __future__ import annotations

from collections.abc import Iterator

from .. import catalogue
from ..findings import Finding, Level
from ..layout.model import Layout, Vessel
from ..units import show
from .flows import Flows, RouteLedger, VesselFlow
from .vessels import pump_sources

__all__ = ["WEIGHTS", "judge", "worst_route"]

WEIGHTS = {
    "too-little-water": 0.5, "thin-margin": 0.02, "pump-shut-off": 0.6, "pump-backwards": 0.6, "pump-run-out": 0.03,
    "overtops": 0.4, "no-way-out": 0.4, "unbalanced": 0.05, "not-returned": 0.05, "held-back": 0.05, "cut-off": 0.03,
}  # fmt: skip
"""Share of the remaining score that each kind costs; a shortage costs its own share of 0.5. The project's own judgement: a
system that does not deliver or that floods is worth less than half a sound one, whatever else is right with it."""


def judge(layout: Layout, flows: Flows) -> tuple[Finding, ...]:
    """Say what is wrong, or nearly so, with the flows of a layout.

    Parameters:
        layout: read and walked.
        flows: its steady flows.

    Returns:
        The findings, in no special order.
    """
    found: list[Finding] = []
    for findings in (_pumps(layout, flows), _wants(layout, flows), _balances(layout, flows), _ways(layout, flows),
                     _ranges(layout, flows)):  # fmt: skip
        found += findings
    return tuple(found)


def _finding(kind: str, message: str, cure: str, *, line: str | None = None, step: int | None = None,
             weight: float | None = None, level: Level | None = None) -> Finding:  # fmt: skip
    row = catalogue.findings()[kind]
    return Finding(kind, level or row.level, message, cure, row.source, line, step,
                   WEIGHTS.get(kind, 0.0) if weight is None else weight)  # fmt: skip


# ---------------------------------------------------------------------- pumps


def _pumps(layout: Layout, flows: Flows) -> Iterator[Finding]:
    units = layout.units
    for pump in layout.pumps.values():
        duty = flows.pumps.get(pump.name)
        line = next((name for name, one in layout.lines.items() if one.start.name == pump.name
                     and one.start.kind == "pump"), None)  # fmt: skip
        if duty is None:
            yield _finding("pump-idle", f"Pump '{pump.name}' feeds no line.", "Begin a line at it, or take it out of the "
                           "file.")  # fmt: skip
            continue
        if pump.assumed:
            yield _finding(
                "assumed-curve",
                f"The curve of pump '{pump.name}' is assumed: a parabola between the two numbers on its box.",
                "Time how long it takes to fill a bucket at two heights, and write both into the curve.",
                line=line,
            )
        highest, last = pump.curve[0][1], pump.curve[-1]
        if duty.state == "backwards":
            yield _finding("pump-backwards", f"Water runs backwards through pump '{pump.name}': its highest head, "
                           f"{show(highest, 'length', units)}, is less than what stands against it.",
                           f"Put a check valve after '{pump.name}', and a pump with more head in its place.", line=line)  # fmt: skip
        elif duty.state == "shut-off":
            yield _finding("pump-shut-off", f"Pump '{pump.name}' moves no water: what stands against it is more than its "
                           f"highest head, {show(highest, 'length', units)}.",
                           _shut_off_cure(layout, pump.name), line=line)  # fmt: skip
        elif duty.state == "run-out":
            yield _finding("pump-run-out", f"Pump '{pump.name}' gives {show(duty.flow, 'flow', units)}, beyond the last point "
                           f"of its curve ({show(last[0], 'flow', units)}): the flow shown is drawn on past what its maker says.",
                           "Throttle it with a valve, or give more of its curve.", line=line)  # fmt: skip
        elif duty.state == "below first point":
            yield _finding("pump-below-first-point", f"Pump '{pump.name}' gives {show(duty.flow, 'flow', units)}, below the "
                           f"first point of its curve ({show(pump.curve[0][0], 'flow', units)}).",
                           "Give its head at no flow as the first point of the curve.", line=line)  # fmt: skip


def _shut_off_cure(layout: Layout, pump: str) -> str:
    shut = [part for line in layout.lines.values() for part in line.parts if part.opening <= 0.0]
    if shut:
        return f"Open the {shut[0].kind} at line {shut[0].mark.line} of the file, or if it is open, lower the lift."
    return f"A pump with more head in place of '{pump}', or beds that stand lower."


# ---------------------------------------------------------------------- what vessels want


def _wants(layout: Layout, flows: Flows) -> Iterator[Finding]:
    units = layout.units
    margin = layout.limits["margin"]
    for name, vessel in layout.vessels.items():
        got = flows.vessels[name]
        if not vessel.wants:
            continue
        short = 1.0 - got.inflow / vessel.wants
        route = _feeding(flows, name)
        line = route.end.rpartition(".")[0] if route else None
        amounts = f"'{name}' gets {show(got.inflow, 'flow', units)} of the {show(vessel.wants, 'flow', units)} it wants"
        if short > 1e-6:
            yield _finding("too-little-water", f"{amounts}: {short:.0%} too little.", _more_water(layout, flows, route, name),
                           line=line, weight=WEIGHTS["too-little-water"] * min(short, 1.0))  # fmt: skip
        elif -short < margin:
            yield _finding("thin-margin", f"{amounts}, a margin of {-short:.0%}: less than the {margin:.0%} that wear and "
                           "fouling ask for.", _more_water(layout, flows, route, name), line=line)  # fmt: skip


def _feeding(flows: Flows, vessel: str) -> RouteLedger | None:
    """The route with the greatest lift among those that end in a vessel."""
    routes = [route for route in flows.routes if route.vessel == vessel]
    return max(routes, key=lambda route: route.lift, default=None)


def _more_water(layout: Layout, flows: Flows, route: RouteLedger | None, vessel: str) -> str:
    """The cheapest way to more water that the ledger shows."""
    units = layout.units
    if route is None:
        return f"Join '{vessel}' to a pump with an open line." if not flows.routes else (
            f"Find what keeps the water from '{vessel}': a shut valve, or a pump that cannot lift so high.")  # fmt: skip
    largest = max(route.losses, key=lambda part: part.loss, default=None)
    friction = sum(part.loss for part in route.losses)
    if largest is None or route.pumped <= 0.0:
        return "A larger pipe, or more fall."
    place = f"{largest.label} of line '{largest.line}'"
    others = [name for name, got in flows.vessels.items()
              if name != vessel and got.wanted and got.inflow > 1.1 * got.wanted and layout.vessels[name].holds != "fish"]  # fmt: skip
    if others:
        return f"Throttle the line to '{others[0]}', which gets more than it wants."
    if friction > 0.3 * route.pumped:
        return (f"Make the {place} easier first, it takes {show(largest.loss, 'length', units)} of the "
                f"{show(route.pumped, 'length', units)} that the pump gives; a larger pipe does most.")  # fmt: skip
    return (f"A pump with more head: {show(max(route.lift, 0.0), 'length', units)} of the {show(route.pumped, 'length', units)} "
            "that this one gives goes into lift alone.")  # fmt: skip


# ---------------------------------------------------------------------- balances


def _balances(layout: Layout, flows: Flows) -> Iterator[Finding]:
    sources = pump_sources(layout)
    scale = max((abs(got.inflow) for got in flows.vessels.values()), default=0.0)
    for name, vessel in layout.vessels.items():
        got = flows.vessels[name]
        if got.balanced:
            yield from _overtops(layout, name, vessel, got)
            continue
        if vessel.area is None or max(got.inflow, got.outflow) <= 1e-6 * scale:
            continue
        surplus = got.inflow - got.outflow
        if name in sources:
            if surplus < -0.01 * max(got.inflow, got.outflow):
                yield _finding("not-returned", f"'{name}' gives {show(got.outflow, 'flow', layout.units)} and gets "
                               f"{show(got.inflow, 'flow', layout.units)} back: it is pumped down.",
                               "Write down the lines that bring the water back, or add what is missing.")  # fmt: skip
        elif got.outflow <= 1e-6 * scale:
            yield _finding("no-way-out", f"'{name}' receives {show(got.inflow, 'flow', layout.units)} and no open pipe takes "
                           f"any out{_fills_in(vessel, surplus)}.", f"A standpipe or a port with a drain line from '{name}', "
                           "and no shut valve in it.")  # fmt: skip
        elif abs(surplus) > 0.01 * max(got.inflow, got.outflow):
            way = "rises" if surplus > 0.0 else "falls"
            yield _finding("unbalanced", f"The level of '{name}' {way}: it gets {show(got.inflow, 'flow', layout.units)} and "
                           f"loses {show(got.outflow, 'flow', layout.units)} with its water as stated.",
                           "A standpipe at the wanted level, so that just what comes in goes out.")  # fmt: skip


def _fills_in(vessel: Vessel, surplus: float) -> str:
    if vessel.area is None or vessel.rim is None or surplus <= 0.0:
        return ""
    minutes = vessel.area * (vessel.rim - vessel.water) / surplus / 60.0
    return f": it overtops after {minutes:.0f} minutes" if minutes >= 1.0 else ": it overtops within a minute"


def _overtops(layout: Layout, name: str, vessel: Vessel, got: VesselFlow) -> Iterator[Finding]:
    if vessel.rim is None or got.level is None or got.level <= vessel.base + vessel.rim:
        return
    above = show(got.level - vessel.base - vessel.rim, "length", layout.units)
    drains = [line for line, one in layout.lines.items() if one.start.name == name or one.end.name == name]
    yield _finding("overtops", f"'{name}' overtops: for its drain to carry {show(got.outflow, 'flow', layout.units)}, the "
                   f"water would stand {above} above the rim.",
                   "A larger drain, or a second one beside it.", line=next((line for line in drains
                   if layout.lines[line].start.name == name and layout.lines[line].start.port == "standpipe"), None))  # fmt: skip


# ---------------------------------------------------------------------- ways shut or held


def _ways(layout: Layout, flows: Flows) -> Iterator[Finding]:
    told: set[tuple[str, str]] = set()
    for stretch in layout.stretches:
        line = layout.lines[stretch.line]
        if stretch.id in flows.held and ("held-back", line.name) not in told:
            told.add(("held-back", line.name))
            valve = next((part for part in stretch.parts if part.kind in ("check valve", "foot valve")), None)
            if valve is not None:
                what, cure = (
                    f"the {valve.kind} at step {valve.step}",
                    "See why the water wants to run back here: the head ",
                )
                cure += "beyond the valve is higher than before it."
            else:
                what, cure = "its end in the air", "Lower the rest of the line, or put the end under water."
            yield _finding("held-back", f"Nothing flows in line '{line.name}': {what} holds back water that would run the "
                           "other way.", cure, line=line.name, step=valve.step if valve else None)  # fmt: skip
        if stretch.id in flows.cut_off and ("cut-off", line.name) not in told:
            told.add(("cut-off", line.name))
            yield _finding("cut-off", f"No water can reach line '{line.name}': shut valves part it from every pump and vessel.",
                           "Open a valve, or take the line out.", line=line.name)  # fmt: skip


def _ranges(layout: Layout, flows: Flows) -> Iterator[Finding]:
    nu = layout.water.viscosity / layout.water.density
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
                yield _finding("outside-range", f"The loss of the {part.kind} at step {part.step} of line '{stretch.line}' is "
                               f"less sure than usual: {why}.", "Give its K or Kv, if the maker tells.", line=stretch.line,
                               step=part.step)  # fmt: skip


def worst_route(layout: Layout, flows: Flows) -> RouteLedger | None:
    """The pumped route to the vessel with the least margin; where none states a want, the one with the most head lost."""
    pumped = [route for route in flows.routes if route.pumped > 0.0]
    wanting = [route for route in pumped if route.vessel is not None and layout.vessels[route.vessel].wants]
    if wanting:
        return min(wanting, key=lambda route: flows.vessels[route.vessel or ""].inflow
                   / (layout.vessels[route.vessel or ""].wants or 1.0))  # fmt: skip
    return max(pumped, key=lambda route: route.pumped, default=None)
