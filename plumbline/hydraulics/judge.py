"""What the flows mean: does the pump lift enough, and does the water come back. Findings in the user's own names."""

from __future__ import annotations

import math
from collections.abc import Iterator

from .. import catalogue
from ..catalogued import finding
from ..findings import Finding
from ..layout.altered import with_vessel
from ..layout.model import Layout, Line, Part, Pump
from ..units import show
from .airlift_duty import judge_airlifts
from .balances import balances, part_name, ranges, runs_away, throttle, ways
from .contents import content
from .current_findings import judge_currents
from .drain_findings import judge_drains
from .filling import judge_filling
from .find import find_flows
from .fittings import is_shut
from .flows import FREE_FALL, Flows, RouteLedger
from .how_sure import HowSure
from .pressure import pressures
from .stretches import intakes, pipes_joined, pushed

__all__ = ["judge", "worst_route"]

LIVING = ("fish", "plants")
"""What a vessel holds that dies without water, whether or not the file says how much it wants."""


def judge(layout: Layout, flows: Flows, sure: HowSure | None = None) -> tuple[Finding, ...]:
    """Say what is wrong, or nearly so, with the flows of a layout."""
    found: list[Finding] = []
    for findings in (
        _pumps(layout, flows),
        judge_airlifts(layout, flows),
        _wants(layout, flows, sure),
        _handles(layout, flows),
        balances(layout, flows),
        judge_drains(layout, flows),
        judge_filling(layout, flows),
        runs_away(layout, flows),
        ways(layout, flows),
        ranges(layout, flows),
        pressures(layout, flows),
        judge_currents(layout, flows),
    ):
        found += findings
    return tuple(found)


# ---------------------------------------------------------------------- pumps


def _starved(layout: Layout, pump: Pump, line: str | None) -> Finding:
    """A pump whose vessel runs dry while the others fill: how much water is wanting."""
    (name, height, _), *_ = intakes(layout)[pump.name]
    vessel, units = layout.vessels[name], layout.units
    there = content(vessel, vessel.level) - content(vessel, height)
    full = find_flows(with_vessel(layout, name, area=None, areas=()), margins=False)
    wanted = math.fsum(
        content(other, got.level) - content(other, other.level)
        for other in layout.vessels.values()
        if (got := full.vessels[other.name]).level is not None
    )
    more = show(max(wanted - there, 0.0), "volume", units)
    return finding(
        "sump-runs-dry",
        f"'{name}' runs dry: {show(max(there, 0.0), 'volume', units)} stand over the intake of pump '{pump.name}', and the other "
        f"vessels take up {show(max(wanted, 0.0), 'volume', units)} before they run over.",
        f"{more} more in the system, a larger '{name}', or less to fill",
        line=line,
    )


def _pumps(layout: Layout, flows: Flows) -> Iterator[Finding]:
    units = layout.units
    for pump in layout.pumps.values():
        duty = flows.pumps.get(pump.name)
        feeds = layout.fed_by(pump.name)
        line = None if feeds is None else feeds.name
        if duty is None and pump.stands_by:
            back = 0.0 if feeds is None else -flows.ends[f"{line}.from"].flow
            if back > 1e-6 * max(one.inflow for one in flows.vessels.values()):
                yield finding(
                    "pump-backwards",
                    f"{show(back, 'flow', units)} run backwards through pump '{pump.name}', which stands by.",
                    f"put a check valve after '{pump.name}', or let '{line}' end above the water",
                    line=line,
                )
            continue
        if duty is None:
            yield finding(
                "pump-idle", f"Pump '{pump.name}' feeds no line.", "begin a line at it, or take it out of the file"
            )
            continue
        if pump.airlift is not None:
            continue  # see airlift_duty
        if pump.assumed:
            yield finding(
                "assumed-curve",
                f"The curve of pump '{pump.name}' is assumed: a parabola between the two numbers on its box.",
                "time how long it takes to fill a bucket at two heights, and write both into the curve",
                line=line,
            )
        highest, last = pump.curve[0][1], pump.curve[-1]
        if duty.state == "starved":
            if not layout.timed:  # what switches through the day is followed through it
                yield _starved(layout, pump, line)
        elif duty.state == "backwards":
            yield finding(
                "pump-backwards",
                f"Water runs backwards through pump '{pump.name}': its highest head, "
                f"{show(highest, 'length', units)}, is less than what stands against it.",
                f"put a check valve after '{pump.name}', and a pump with more head in its place",
                line=line,
            )
        elif duty.state == "shut-off" and line not in {one.line for one in judge_filling(layout, flows)}:
            yield finding(
                "pump-shut-off",
                f"Pump '{pump.name}' moves no water: what stands against it is more than its "
                f"highest head, {show(highest, 'length', units)}.",
                _shut_off_cure(layout, pump.name),
                line=line,
            )
        elif duty.state == "run-out":
            yield finding(
                "pump-run-out",
                f"Pump '{pump.name}' gives {show(duty.flow, 'flow', units)}, beyond the last point "
                f"of its curve ({show(last[0], 'flow', units)}): the flow shown is drawn on past what its maker says.",
                "throttle it with a valve, or give more of its curve",
                line=line,
            )
        elif duty.state == "below first point":
            yield finding(
                "pump-below-first-point",
                f"Pump '{pump.name}' gives {show(duty.flow, 'flow', units)}, below the "
                f"first point of its curve ({show(pump.curve[0][0], 'flow', units)}).",
                "give its head at no flow as the first point of the curve",
                line=line,
            )


def _shut_off_cure(layout: Layout, pump: str) -> str:
    for line in layout.lines.values():
        for part in line.parts:
            if part.opening <= 0.0:
                return f"{_open(layout, line, part)}; if that is not it, lower the lift"
    return f"a pump with more head in place of '{pump}', or beds that stand lower"


# ---------------------------------------------------------------------- what vessels want


def _wants(layout: Layout, flows: Flows, sure: HowSure | None) -> Iterator[Finding]:
    units = layout.units
    margin = layout.limits["margin"]
    for name, vessel in layout.vessels.items():
        got = flows.vessels[name]
        if not vessel.wants:
            dry = _dry_feed(layout, flows, name) if vessel.holds in LIVING and got.inflow <= 0.0 else None
            if dry is not None:
                yield finding(
                    "too-little-water",
                    f"'{name}' gets no water: nothing comes out of line '{dry}', which a pump feeds.",
                    _some_water(layout, flows, name),
                    line=dry,
                    weight=_shortage(1.0),
                    vessel=name,
                )
            continue
        short = 1.0 - got.inflow / vessel.wants
        route = _feeding(flows, name)
        line = route.end.rpartition(".")[0] if route else None
        amounts = f"'{name}' gets {show(got.inflow, 'flow', units)} of the {show(vessel.wants, 'flow', units)} it wants"
        word, most_likely = "", ""
        if sure is not None and sure.vessels[name].word is not None:
            word = sure.vessels[name].word or ""
            spread = sure.vessels[name].inflow
            if spread.high > 0.0:
                low, high = show(spread.low, "flow", units, unit=False), show(spread.high, "flow", units)
                most_likely = f" Most likely it is {low} to {high}."
        if short > 1e-6:
            yield finding(
                "too-little-water",
                f"{amounts}: {short:.0%} too little.{most_likely}",
                _more_water(layout, flows, route, name),
                line=line,
                weight=_shortage(min(short, 1.0)),
                vessel=name,
            )
        elif -short < margin or word in ("doubtful", "no"):
            yield finding(
                "thin-margin",
                f"{amounts}, a margin of {-short:.0%}: "
                + (
                    f"less than the {margin:.0%} that wear and fouling ask for."
                    if -short < margin
                    else "not enough to be sure of it."
                )
                + most_likely,
                _more_water(layout, flows, route, name),
                line=line,
                vessel=name,
            )


def _dry_feed(layout: Layout, flows: Flows, vessel: str) -> str | None:
    """A line that should bring a vessel water from a pump that runs, and does not, though nothing in it is shut."""
    groups = pipes_joined(layout)
    running = pushed(layout, {name for name, duty in flows.pumps.items() if duty.flow > 0.0})
    feeds = (
        line
        for line in layout.lines.values()
        if line.end.kind == "vessel"
        and line.end.name == vessel
        and line.end.port != "standpipe"
        and not any(is_shut(part) for part in line.parts)
    )
    return next((line.name for line in feeds if groups[line.name] in running), None)


def _handles(layout: Layout, flows: Flows) -> Iterator[Finding]:
    units = layout.units
    for name, vessel in layout.vessels.items():
        got = flows.vessels[name].inflow
        if vessel.handles is None or got <= vessel.handles * (1.0 + 1e-6):
            continue
        route = _feeding(flows, name)
        what = "filter" if vessel.holds == "solids filter" else "vessel"
        yield finding(
            "filter-overloaded",
            f"'{name}' gets {show(got, 'flow', units)} and handles {show(vessel.handles, 'flow', units)} at most, as its maker "
            f"states: {got / vessel.handles - 1.0:.0%} too much.",
            f"send {show(got - vessel.handles, 'flow', units)} less through it, or put a second {what} beside '{name}', or a larger "
            "one in its place",
            line=route.end.rpartition(".")[0] if route else None,
        )


def _shortage(short: float) -> float:
    """What a shortage costs: its share, and what a thin margin does, so that less water never costs less."""
    weights = catalogue.weights()
    return 1.0 - (1.0 - weights["thin-margin"].value) * (1.0 - weights["too-little-water"].value * short)


def _feeding(flows: Flows, vessel: str) -> RouteLedger | None:
    routes = [route for route in flows.routes if route.vessel == vessel]
    return max(routes, key=lambda route: route.lift, default=None)


def _more_water(layout: Layout, flows: Flows, route: RouteLedger | None, vessel: str) -> str:
    """The cheapest way to more water that the ledger shows."""
    units = layout.units
    if route is None:
        return _some_water(layout, flows, vessel)
    taker = _takes_too_much(layout, flows, vessel)
    if taker is not None:
        return taker
    # What falls with air around it costs no head that a wider pipe would spare.
    losses = [part for part in route.losses if part.label != FREE_FALL]
    largest = max(losses, key=lambda part: part.loss, default=None)
    if largest is None or route.pumped <= 0.0:
        return "a larger pipe, or more fall"
    for part in route.losses:
        if part.label == FREE_FALL and part.loss > largest.loss and layout.lines[part.line].end.kind == "pump":
            return (
                f"more water in '{route.source}', or a wider way back to it: it stands so low that air comes into '{part.line}' with its water, and "
                "the pump gets no more than runs in"
            )
    if sum(part.loss for part in losses) > 0.3 * route.pumped:
        return (
            f"make the {largest.label} of line '{largest.line}' easier first, it takes "
            f"{show(largest.loss, 'length', units)} of the {show(route.pumped, 'length', units)} that the pump gives; a "
            "larger pipe does most"
        )
    return (
        f"a pump with more head: {show(max(route.lift, 0.0), 'length', units)} of the "
        f"{show(route.pumped, 'length', units)} that this one gives goes into lift alone"
    )


def _open(layout: Layout, line: Line, part: Part) -> str:
    """What to do about a shut part. A three-way valve shuts a line that begins or ends at its side, but stands in the line that it is walked in."""
    if part.step:
        return f"open the {part_name(part)} at step {part.step} of line '{line.name}'"
    end = line.start if part is line.parts[0] else line.end
    tee = layout.tees.get(end.name or "")
    if tee is None:
        return f"open the valve at the end of '{line.name}'"
    name = f"the three-way valve '{tee.id}'" if tee.three_way else tee.called
    return f"turn {name}, at step {tee.step} of line '{tee.line}', so that it opens to '{line.name}'"


def _some_water(layout: Layout, flows: Flows, vessel: str) -> str:
    """What to see to where a vessel gets no water at all."""
    weak = [name for name, duty in flows.pumps.items() if duty.state in ("shut-off", "backwards")]
    lines = [line for line in layout.lines.values() if line.end.name == vessel and line.end.port != "standpipe"]
    for line in lines:
        for part in line.parts:
            if not part.is_pipe and is_shut(part):
                return _open(layout, line, part)
    if weak:
        return f"see to pump '{weak[0]}' first"
    return (
        f"see to line '{lines[0].name}' first, in which nothing flows" if lines else f"a line from a pump to '{vessel}'"
    )


def _takes_too_much(layout: Layout, flows: Flows, vessel: str) -> str | None:
    """The vessel whose surplus would cover at least half of what this one lacks, and the valve to throttle it with."""
    margin = 1.0 + layout.limits["margin"]
    wanted = flows.vessels[vessel].wanted or 0.0
    lacking = margin * wanted - flows.vessels[vessel].inflow
    spare = {
        name: got.inflow - margin * got.wanted
        for name, got in flows.vessels.items()
        if name != vessel and got.wanted and got.inflow > margin * got.wanted
    }
    name = max(spare, key=lambda one: spare[one], default=None)
    if name is None or spare[name] < 0.5 * lacking:
        return None
    return throttle(layout, flows, name)


def worst_route(layout: Layout, flows: Flows) -> RouteLedger | None:
    """The route to the vessel with the least margin; where none states a want, the pumped one with the most head."""
    wanting = [route for route in flows.routes if route.vessel is not None and layout.vessels[route.vessel].wants]
    if wanting:
        return min(
            wanting,
            key=lambda route: (
                flows.vessels[route.vessel or ""].inflow / (layout.vessels[route.vessel or ""].wants or 1.0)
            ),
        )
    return max((route for route in flows.routes if route.pumped > 0.0), key=lambda route: route.pumped, default=None)
