"""What a power cut means: water that siphons back, vessels that overtop, fish left in too little, intakes in the air."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from ..catalogued import finding
from ..findings import Finding
from ..layout.model import Layout
from ..units import show
from .flows import Flows
from .power_cut import PowerCut, Siphon, StartUp, VesselCut

__all__ = ["judge_power_cut"]

LEAST_FALL = 1e-3
"""A siphon that lowers its vessel by less than this is not worth a word [m]."""


def judge_power_cut(
    layout: Layout, flows: Flows, result: PowerCut, *, told: Collection[str] = ()
) -> tuple[Finding, ...]:
    """Say what is wrong, or nearly so, when all pumps stop, and when they start again.

    Parameters:
        result: where the water comes to rest, from `power_cut`.
        told: vessels of which it is told already that they run over.
    """
    rows = {row.vessel: row for row in result.vessels}
    found: list[Finding] = []
    for siphon in result.siphons:
        found += _siphon(layout, rows, siphon)
    for row in result.vessels:
        if row.vessel not in told:
            found += _overtops(layout, result, row)
        found += _shallow(layout, result, row)
    for start in result.starts:
        if start.pump in flows.pumps:
            found += _starts(layout, result, start)
    return tuple(found)


def _siphon(layout: Layout, rows: dict[str, VesselCut], siphon: Siphon) -> Iterator[Finding]:
    units = layout.units
    giver = layout.vessels[siphon.giver]
    # A bridge between two vessels is meant to bring them level; a pump's pipe is not.
    least = LEAST_FALL if siphon.pumps else layout.limits["level drop"]
    if rows[siphon.giver].before - siphon.down_to < least:
        return
    into = f"into '{siphon.receiver}'" if siphon.receiver is not None else "out onto the ground"
    depth = f"{show(max(siphon.down_to - giver.base, 0.0), 'length', units)} deep"
    if siphon.volume is None:
        amount = f"until it is at most down to {depth}; how much that is is not known without an area"
    else:
        amount = f"{show(siphon.volume, 'volume', units)}, until it is {depth} and {siphon.why}"
    if not siphon.pumps:
        does = f"line '{siphon.line}' siphons '{siphon.giver}' out over its own top {into}"
    elif siphon.onward:
        does = f"'{siphon.giver}' runs on through pump '{siphon.pumps[0]}' {into}"
    else:
        way = "through pump" if siphon.passes else "through the pipe of pump"
        does = f"line '{siphon.line}' siphons '{siphon.giver}' back {way} '{siphon.pumps[0]}' {into}"
    yield finding("siphons-back", f"When the pumps stop, {does}: {amount}.", _all_ways(siphon), line=siphon.line)


def _one_way(siphon: Siphon) -> str:
    """The first thing that keeps a siphon from running."""
    if not siphon.pumps:
        return f"an open tee at the top of '{siphon.line}', which lets air in"
    if siphon.onward:
        end = siphon.end.rpartition(".")[0]
        return f"an open tee in '{end}' above the water of '{siphon.giver}', which lets air in"
    return f"a check valve {'after' if siphon.passes else 'towards'} pump '{siphon.pumps[0]}'"


def _all_ways(siphon: Siphon) -> str:
    if not siphon.pumps:
        return _one_way(siphon)
    if siphon.onward:
        return f"{_one_way(siphon)}; a check valve does not hold water that runs the pump's own way"
    return (
        f"{_one_way(siphon)}; or the end of '{siphon.line}' above the water of '{siphon.giver}'; or a small hole in "
        f"'{siphon.line}' just under that water, which lets air in"
    )


def _overtops(layout: Layout, result: PowerCut, row: VesselCut) -> Iterator[Finding]:
    if row.spilled <= 0.0 or row.rim is None or row.before >= row.rim - 1e-6:
        return
    units = layout.units
    got = row.spilled + (row.gains or 0.0)
    back = [s for s in result.siphons if s.receiver == row.vessel and s.volume]
    shares = [f"{show(s.volume or 0.0, 'volume', units)} of it siphoned from '{s.giver}'" for s in back]
    told = f", {' and '.join(shares)}" if shares else ", out of pipes and of vessels that drain down"
    area = layout.vessels[row.vessel].area or 0.0
    lower = row.spilled / area if area > 0.0 else 0.0
    stands = row.before - layout.vessels[row.vessel].base
    room = f"room for {show(row.spilled, 'volume', units)} more in '{row.vessel}'"
    if 0.0 < lower < stands:
        room += f": a rim {show(lower, 'length', units)} higher, or so much less water in it"
    largest = max(back, key=lambda s: s.volume or 0.0, default=None)
    # A siphon stopped is a cure only where it brings as much as goes over the rim.
    enough = largest is not None and (largest.volume or 0.0) >= row.spilled
    yield finding(
        "power-cut-overtops",
        f"When the pumps stop, '{row.vessel}' receives {show(got, 'volume', units)}{told}; it has room for "
        f"{show(got - row.spilled, 'volume', units)}, and {show(row.spilled, 'volume', units)} go over its rim.",
        _one_way(largest) if largest is not None and enough else room,
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
    back = max((s for s in result.siphons if s.giver == row.vessel), key=lambda s: s.volume or 0.0, default=None)
    port = f"a standpipe in place of the low port in '{row.vessel}', as high as the water that the fish need"
    yield finding(
        "fish-left-shallow",
        f"When the pumps stop, the fish in '{row.vessel}' are left with {show(depth, 'length', units)} of water, {share:.0%} of "
        f"the usual {show(vessel.water, 'length', units)}.",
        port if back is None else _one_way(back),
        line=None if back is None else back.line,
    )


def _starts(layout: Layout, result: PowerCut, start: StartUp) -> Iterator[Finding]:
    """An intake in the air: as the water stands, after a power cut that lost water, or at the first start."""
    units = layout.units
    vessel = layout.vessels[start.vessel]
    intake = show(start.intake - vessel.base, "length", units)

    def falls(level: float) -> str:
        return "runs empty" if level <= vessel.base else f"falls to {show(level - vessel.base, 'length', units)}"

    takes = show(start.pipes + start.vessels, "volume", units)
    gone = result.lost + sum(row.spilled for row in result.vessels)
    deep, milder = show(vessel.water, "length", units), False
    if vessel.level <= start.intake:
        said = (
            f"The intake of pump '{start.pump}' is {intake} above the floor of '{start.vessel}', and the water only {deep} deep: it "
            "draws air."
        )
        cure = f"more water in '{start.vessel}', or pump '{start.pump}' lower"
    elif start.running is not None and start.running <= start.intake:
        why = f"{show(gone, 'volume', units)} are lost" if gone > 0.0 else "water stays elsewhere"
        siphon = max(result.siphons, key=lambda s: s.volume or 0.0, default=None)
        stop = "keep the water from getting lost" if siphon is None else _one_way(siphon)
        said = (
            f"In a power cut {why}. When the pumps start again, pipes and vessels take {takes}, '{start.vessel}' "
            f"{falls(start.running)}, and pump '{start.pump}', its intake at {intake}, draws air."
        )
        cure = f"{stop}; till then fill up '{start.vessel}' before pump '{start.pump}' is started"
    elif start.from_normal is not None and start.from_normal <= start.intake:
        milder = True
        said = (
            f"If '{start.vessel}' is filled to its {deep} with the pumps off, it {falls(start.from_normal)} when they start, as pipes "
            f"and vessels take {takes}: pump '{start.pump}', its intake at {intake}, draws air."
        )
        cure = f"fill '{start.vessel}' up again once pump '{start.pump}' runs, or {takes} more water before it starts"
    else:
        return
    yield finding(
        "intake-uncovered", said, cure, level="warn" if milder else None, case="milder" if milder else "usual"
    )
