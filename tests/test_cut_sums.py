"""Power cuts added up by hand: what each vessel falls to, what each pipe holds and where it runs."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest
from checks import LAYOUTS
from conftest import ReadText
from slow_power_cut import stream_share

from plumbline import read_layout
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.power_cut import PowerCut, power_cut
from plumbline.layout.model import Layout


def bore(layout: Layout, line: str) -> float:
    return layout.lines[line].parts[0].pipe.bore


def section(layout: Layout, line: str) -> float:
    """The area of a line's pipe [m²]."""
    return 0.25 * math.pi * bore(layout, line) ** 2


def gains(cut: PowerCut) -> Mapping[str, float]:
    """What each vessel has more of [m³]."""
    return {one.vessel: one.gains or 0.0 for one in cut.vessels}


def after(cut: PowerCut) -> Mapping[str, float]:
    """Where the water of each vessel stands [m above the datum]."""
    return {one.vessel: one.after if one.after is not None else math.nan for one in cut.vessels}


def stream(layout: Layout, line: str, flow: float, *runs: tuple[float, float]) -> float:
    """What part-full runs of a line hold, each a length and the drop on it [m³]."""
    part, nu = layout.lines[line].parts[0], layout.water.viscosity / layout.water.density
    shares = [stream_share(flow, part, drop / length, nu) * length for length, drop in runs]
    return section(layout, line) * sum(shares)


RING = """
vessels:
  high: {base: 1.3 m, rim: 0.35 m, water: 0.2 m, area: 0.5 m^2}
  low: {base: 0.9 m, rim: 0.35 m, water: 0.2 m, area: 0.5 m^2}
  sump: {base: 0 m, rim: 0.8 m, water: 0.5 m, area: 1 m^2}
pumps: {lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 6 m], [60 L/min, 4 m], [90 L/min, 0 m]]}}
lines:
  ring:
    pipe: pvc 32
    from: lift
    route: [{up: 1.35 m}, elbow, {west: 1 m}, tee: t0, {north: 1 m}, elbow, {west: 1 m}, tee: t1, {west: 1 m}, elbow, {south: 1 m}, tee: t2,
            {south: 1 m}, elbow, {east: 1 m}, tee: t3, {east: 1 m}, elbow, {north: 1 m}]
    to: t0
  up: {pipe: pvc 32, from: t1, route: [{up: 0.3 m}], to: high}
  down: {pipe: pvc 32, from: t2, route: [{west: 0.4 m}, elbow, {down: 0.1 m}], to: low}
  spur: {pipe: pvc 32, from: t3, route: [{south: 0.5 m}], to: plug}
"""


@pytest.mark.second_method
def test_a_level_ring_main_runs_empty_by_whatever_way_there_is(read_text: ReadText) -> None:
    """Air comes in at both beds and goes all round over the water that leaves: 9 m of level pipe, a blind spur of 0.5 m, the feeds' 0.3, 0.4 and 0.1 m,
    and the riser down to the sump's new level. Nothing of it has to climb."""
    layout = read_text(RING)
    found = find_flows(layout, levels={})
    cut = power_cut(layout, found)
    level = after(cut)["sump"]
    assert cut.drained == pytest.approx(section(layout, "ring") * (9.0 + 0.5 + 0.3 + 0.4 + 0.1 + 1.4 - level), abs=1e-9)
    assert sum(gains(cut).values()) == pytest.approx(cut.drained, abs=1e-9)


ONE = "  one: {pipe: pvc 50, from: first, route: [check valve, {up: 1.8 m}, elbow, {east: 2 m}], to: trough}\n"
TWO = """  two: {pipe: pvc 25, from: second, route: [check valve, {up: 1.45 m}, tee: top, {east: 0.3 m}, tee: parts, {east: 0.3 m}, elbow, {down: 0.4 m}], to: trough}
  side: {pipe: pvc 25, from: parts, route: [{north: 0.3 m}, elbow, {down: 0.4 m}], to: pool}
  over: {pipe: pvc 25, from: top, route: [{up: 0.1 m}, elbow, {north: 0.3 m}], to: bed}
"""
AT_ONCE = """
vessels:
  sump: {base: 0 m, rim: 0.9 m, water: 0.5 m, area: 2 m^2}
  pool: {base: 1 m, rim: 0.9 m, water: 0.22 m, area: 2 m^2}
  bed: {base: 1.3 m, rim: 0.9 m, water: 0.1 m, area: 2 m^2}
  trough: {base: 1 m, rim: 0.5 m, water: 0.2 m, area: 0.05 m^2}
pumps:
  first: {in: sump, height: 0.05 m, curve: [[0 L/min, 5 m], [60 L/min, 1 m]]}
  second: {in: sump, height: 0.05 m, curve: [[0 L/min, 5 m], [60 L/min, 1 m]]}
lines:
"""


@pytest.mark.second_method
@pytest.mark.parametrize("lines", [ONE + TWO, TWO + ONE])
def test_all_pipes_begin_to_drain_at_once(read_text: ReadText, lines: str) -> None:
    """As the pumps stop the trough is the lowest that 'two' comes out at, 20 mm under the pool, and gets 0.6 m of it that lie, all of 'over', by which the air
    comes, and its own leg; the pool its leg alone. That 2 m of 'one', which is the higher, bring the trough up over the pool meanwhile comes too late:
    it stands up in its leg again. The check valves hold the risers."""
    layout = read_text(AT_ONCE + lines)
    cut = power_cut(layout, find_flows(layout, levels={}))
    pipe, one = section(layout, "two"), section(layout, "one") * 2.0
    level = 1.2 + (one + pipe * (0.6 + 0.1 + 0.3 + 0.3)) / (0.05 + pipe)
    assert after(cut)["trough"] == pytest.approx(level, abs=1e-9)
    assert gains(cut)["pool"] == pytest.approx(pipe * (0.3 + 1.5 - after(cut)["pool"]), abs=1e-9)
    assert cut.drained == pytest.approx(gains(cut)["pool"] + gains(cut)["trough"], abs=1e-9)


@pytest.mark.second_method
def test_a_bed_that_a_deeper_feed_draws_on_while_the_pump_runs_siphons_out_as_it_stops(read_text: ReadText) -> None:
    """The drop to the pool pulls so hard on the manifold that water is drawn up out of the bed, by the end of its feed under water: more than that mouth lets
    through, but up over it and so full. As the pump stops all of it that stands over that end, 0.6 m² of 90 mm, goes by the riser to the sump."""
    layout = read_text("""
vessels:
  sump: {base: 0 m, rim: 0.9 m, water: 0.59 m, area: 1 m^2}
  pool: {base: 0.807 m, rim: 3 m, water: 0.309 m, area: 0.6 m^2}
  bed: {base: 1.565 m, rim: 0.495 m, water: 0.445 m, area: 0.6 m^2}
pumps: {lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 9 m], [60 L/min, 5 m]]}}
lines:
  main: {pipe: pvc 40, from: lift, route: [{up: 1.95 m}, elbow, {east: 0.5 m}, tee: t0, {east: 0.5 m}, tee: t1, {east: 0.4 m}, elbow, {down: 1.2 m}], to: pool}
  deep: {pipe: pvc 40, from: t0, route: [{north: 0.3 m}, elbow, {down: 1.032 m}], to: pool}
  feed: {pipe: pvc 40, from: t1, route: [{north: 0.3 m}, elbow, {down: 0.08 m}], to: bed}
""")
    flows = find_flows(layout, levels={})
    assert flows.ends["feed.to"].flow < 0.0
    cut = power_cut(layout, flows)
    assert after(cut)["bed"] == pytest.approx(1.92, abs=1e-6)
    assert gains(cut)["sump"] > 0.6 * 0.09


@pytest.mark.second_method
def test_what_runs_back_in_a_fish_tank_filter_and_bed() -> None:
    """layouts/five_kilos.yaml. The tank falls to the floor of its overflow's level pipe, behind 0.75 m of upright, the filter to that of the hole in
    its wall, the bed to its crest. The return lets air in at its bar's upper end, 17 mm over the tank's water: full but for what stands under
    the sump's water, and in the bar under the tank's. The vent's foot and the overflows hold a stream."""
    layout = read_layout(LAYOUTS / "five_kilos.yaml")
    flows = find_flows(layout)
    cut = power_cut(layout, flows)
    half = 0.5 * bore(layout, "tank overflow")
    rests = {"fish tank": 0.35 + 0.05 + 0.75 - half, "solids filter": 0.25 + 0.68 - half, "raft bed": 0.45 + 0.30}
    for name, level in rests.items():
        assert after(cut)[name] == pytest.approx(level, abs=1e-9)
        vessel = layout.vessels[name]
        assert gains(cut)[name] == pytest.approx((vessel.area or 0.0) * (level - (flows.vessels[name].level or 0.0)))
    foot = after(cut)["sump"] - (-0.55 + 0.08)
    in_bar = rests["fish tank"] - (-0.55 + 0.08 + 0.75 + 1.2 - 0.02 - 0.28 - 0.6)
    return_pipe = 0.75 + 1.2 + math.hypot(1.6, 0.02) + 0.28 + 0.6 - foot - in_bar
    full = section(layout, "return") * return_pipe
    flow = flows.pumps["return pump"].flow
    slant, short = math.hypot(0.06, 0.06), math.hypot(0.08, 0.08)
    streams = [
        stream(layout, "tank overflow", flow, (0.1, 0.003), (1.4, 0.036), (slant, 0.06)),
        stream(layout, "filter overflow", flow, (1.54, 0.04), (slant, 0.06)),
        stream(layout, "bed overflow", flow, (0.62, 0.62), (short, 0.08), (1.48, 0.038)),
    ]
    assert cut.drained == pytest.approx(full + sum(streams), rel=0.01)
    assert gains(cut)["sump"] == pytest.approx(cut.drained - sum(gains(cut)[name] for name in rests), rel=1e-9)


@pytest.mark.second_method
def test_what_runs_back_on_tuesday_and_wednesday() -> None:
    """layouts/call_outs.yaml. The long bed gives what stands over its crest, the riser 1 m of level pipe and what stands over the carp tank's water; the
    drain's 0.1 m hold a stream. The moving bed gives down to the floor of the hole in its wall, the feed 0.8 m of level pipe and what
    stands over the trout's water, the return its 0.5 m, which runs full and level."""
    layout = read_layout(LAYOUTS / "call_outs.yaml")
    flows = find_flows(layout)
    cut = power_cut(layout, flows)
    rest, was = after(cut), {name: one.level or 0.0 for name, one in flows.vessels.items()}
    bed = 3.0 * (was["long bed"] - 1.2)
    riser = section(layout, "new riser") * (1.0 + 1.4 - rest["carp tank"])
    drops = stream(layout, "long bed drain", flows.vessels["long bed"].inflow, (0.1, 0.1))
    assert rest["long bed"] == pytest.approx(1.2, abs=1e-9)
    assert gains(cut)["carp tank"] == pytest.approx(bed + riser + drops, abs=3e-6)
    floor = 0.2 + 0.65 - 0.5 * bore(layout, "filter return")
    feed = section(layout, "filter feed") * (0.8 + 1.15 - rest["trout tank"])
    back = section(layout, "filter return") * 0.5
    assert rest["moving bed"] == pytest.approx(floor, abs=1e-9)
    assert gains(cut)["trout tank"] == pytest.approx(0.5 * (was["moving bed"] - floor) + feed + back, abs=1e-9)
