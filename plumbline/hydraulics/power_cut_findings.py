"""What a power cut means: water that siphons back, vessels that overtop, fish left in too little, intakes in the air."""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import Finding
from ..layout.model import Layout
from ..units import show
from .flows import Flows
from .power_cut import PowerCut, Siphon, StartUp, VesselCut
from .saying import finding

__all__ = ["judge_power_cut"]

LEAST_FALL = 1e-3
"""A siphon that lowers its vessel by less than this is not worth a word [m]."""


def judge_power_cut(layout: Layout, flows: Flows, result: PowerCut) -> tuple[Finding, ...]:
    """Say what is wrong, or nearly so, when all pumps stop, and when they start again.

    Parameters:
        layout: read and walked.
        flows: its steady flows.
        result: where the water comes to rest, from `power_cut`.

    Returns:
        The findings, in no special order.
    """
    rows = {row.vessel: row for row in result.vessels}
    found: list[Finding] = []
    for siphon in result.siphons:
        found += _siphon(layout, rows, siphon)
    for row in result.vessels:
        found += _overtops(layout, result, row)
        found += _shallow(layout, result, row)
    for start in result.starts:
        if start.pump in flows.pumps:
            found += _starts(layout, result, start)
    return tuple(found)


def _siphon(layout: Layout, rows: dict[str, VesselCut], siphon: Siphon) -> Iterator[Finding]:
    units = layout.units
    giver = layout.vessels[siphon.giver]
    before = rows[siphon.giver].before
    if before - siphon.down_to < LEAST_FALL:
        return
    into = f"into '{siphon.receiver}'" if siphon.receiver is not None else "out onto the ground"
    pump = siphon.pumps[0]
    way = f"through pump '{pump}'" if siphon.passes else f"through the pipe of pump '{pump}'"
    depth = f"{show(max(siphon.down_to - giver.base, 0.0), 'length', units)} deep"
    if siphon.volume is None:
        amount = f"until it is at most down to {depth}; how much that is is not known"
    else:
        amount = f"{show(siphon.volume, 'volume', units)}, until it is {depth} and {siphon.why}"
    if siphon.onward:
        message = f"When the pumps stop, '{siphon.giver}' runs on {way} {into}: {amount}."
    else:
        message = f"When the pumps stop, line '{siphon.line}' siphons '{siphon.giver}' back {way} {into}: {amount}."
    yield finding("siphons-back", message, _break_it(layout, siphon), line=siphon.line)


def _break_it(layout: Layout, siphon: Siphon) -> str:
    """How to keep a siphon from running."""
    units = layout.units
    surface = show(layout.vessels[siphon.giver].level, "length", units)
    hole = (
        f"a hole of a few millimetres drilled into '{siphon.line}' just under the surface of '{siphon.giver}', which "
        "lets air in"
    )
    if siphon.onward:
        end = siphon.end.rpartition(".")[0]
        return (
            f"lead '{end}' up over {surface}, the water of '{siphon.giver}', with an open tee at the top; a check valve "
            "does not hold water that runs the pump's own way"
        )
    where = f"after pump '{siphon.pumps[0]}'" if siphon.passes else f"in line '{siphon.line}'"
    return f"a check valve {where}; or the end of '{siphon.line}' above {surface}, the water of '{siphon.giver}'; or {hole}"


def _overtops(layout: Layout, result: PowerCut, row: VesselCut) -> Iterator[Finding]:
    if row.spilled <= 0.0 or row.rim is None or row.before >= row.rim - 1e-6:
        return
    units = layout.units
    got = row.spilled + (row.gains or 0.0)
    back = [s for s in result.siphons if s.receiver == row.vessel and s.volume]
    shares = [f"{show(s.volume or 0.0, 'volume', units)} of it siphon back from '{s.giver}'" for s in back]
    told = f", {' and '.join(shares)}" if shares else ", out of pipes and of vessels that drain down"
    area = layout.vessels[row.vessel].area or 0.0
    lower = row.spilled / area if area > 0.0 else 0.0
    stands = row.before - layout.vessels[row.vessel].base
    room = f"room for {show(row.spilled, 'volume', units)} more in '{row.vessel}'"
    if 0.0 < lower < stands:
        room += f": a rim {show(lower, 'length', units)} higher, or so much less water in it"
    largest = max(back or [s for s in result.siphons if (s.volume or 0.0) >= row.spilled], key=lambda s: s.volume or 0.0,
                  default=None)  # fmt: skip
    stop = _break_it(layout, largest) if largest is not None else room
    yield finding(
        "power-cut-overtops",
        f"When the pumps stop, '{row.vessel}' receives {show(got, 'volume', units)}{told}; it has room for "
        f"{show(got - row.spilled, 'volume', units)} and overtops: {show(row.spilled, 'volume', units)} go over its rim.",
        stop,
        line=back[0].line if back else None,
    )


def _shallow(layout: Layout, result: PowerCut, row: VesselCut) -> Iterator[Finding]:
    vessel = layout.vessels[row.vessel]
    if vessel.holds != "fish" or row.after is None or vessel.water <= 0.0 or row.after >= row.before:
        return
    depth = max(row.after - vessel.base, 0.0)
    share = depth / vessel.water
    if share >= layout.limits["fish depth"]:
        return
    units = layout.units
    back = [s for s in result.siphons if s.giver == row.vessel]
    cure = (
        _break_it(layout, back[0])
        if back
        else f"a standpipe in place of the low port in '{row.vessel}', as high as the water that the fish need"
    )
    yield finding(
        "fish-left-shallow",
        f"When the pumps stop, the fish in '{row.vessel}' are left with {show(depth, 'length', units)} of water, {share:.0%} of "
        f"the usual {show(vessel.water, 'length', units)}.",
        cure,
        line=back[0].line if back else None,
    )


def _starts(layout: Layout, result: PowerCut, start: StartUp) -> Iterator[Finding]:
    """An intake in the air: as the water stands, after a power cut that lost water, or at the first start."""
    units = layout.units
    vessel = layout.vessels[start.vessel]
    intake = show(start.intake - vessel.base, "length", units)

    def depth(level: float) -> str:
        return "empty" if level <= vessel.base else f"{show(level - vessel.base, 'length', units)} deep"

    takes = show(start.pipes + start.vessels, "volume", units)
    gone = result.lost + sum(row.spilled for row in result.vessels)
    if vessel.level <= start.intake:
        yield finding(
            "intake-uncovered",
            f"The intake of pump '{start.pump}' is {intake} above the floor of '{start.vessel}', where the water is "
            f"{depth(vessel.level)}: it draws air.",
            f"more water in '{start.vessel}', or pump '{start.pump}' lower",
        )
    elif start.running is not None and start.running <= start.intake:
        why = f"{show(gone, 'volume', units)} are lost" if gone > 0.0 else "the water stays elsewhere"
        yield finding(
            "intake-uncovered",
            f"After a power cut {why}: started again, with {takes} to fill pipes and vessels, '{start.vessel}' is "
            f"{depth(start.running)}, and pump '{start.pump}', with its intake at {intake}, draws air.",
            f"keep the water from getting lost; till then fill up '{start.vessel}' before pump '{start.pump}' is started",
        )
    elif start.from_normal is not None and start.from_normal <= start.intake:
        yield finding(
            "intake-uncovered",
            f"Filled to its usual {depth(vessel.level)} with the pumps off, '{start.vessel}' falls until it is "
            f"{depth(start.from_normal)} when they start, with {takes} to fill pipes and vessels: pump '{start.pump}', with its "
            f"intake at {intake}, draws air.",
            f"fill '{start.vessel}' up again once pump '{start.pump}' runs, or {takes} more water before it starts",
            level="warn",
            weight=0.02,
        )
