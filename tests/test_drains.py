"""Drains that take air in: the head they need, the level they leave, and when a vessel overtops."""

from __future__ import annotations

import itertools
import math

import pytest
from conftest import ReadText

from plumbline.check import check
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.how_sure import how_sure
from plumbline.hydraulics.stages import mouth_head

G = 9.80665


@pytest.mark.second_method
def test_flow_over_a_standpipe_of_bs_en_12056_3() -> None:
    """By the formulas of BS EN 12056-3 [M], worked out by hand: D 100, h 50 → 4.714 L/s both ways; D 100, h 30 → 2.191 L/s."""
    assert mouth_head("crest", 4.714e-3, 0.1) == pytest.approx(0.050, abs=2e-5)
    assert mouth_head("crest", 2.191e-3, 0.1) == pytest.approx(0.030, abs=2e-5)


@pytest.mark.invariant
def test_weir_and_orifice_meet_and_the_head_rises_with_the_flow() -> None:
    heads = [mouth_head("crest", 1e-5 * n, 0.04) for n in range(1, 200)]
    assert all(b > a for a, b in itertools.pairwise(heads))
    assert max(b - a for a, b in itertools.pairwise(heads)) < 5e-3
    assert mouth_head("crest", 0.0, 0.04) == 0.0


SYSTEM = """
water: 20 degC
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.5 m, area: 1 m^2}
  bed: {base: 3 m, rim: 0.35 m, water: 0.2 m, area: 2 m^2}
pumps:
  lift: {in: tank, curve: [[0 L/min, 4.5 m], [20 L/min, 4.0 m], [23 L/min, 0 m]]}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 3.6 m}, union], to: bed}
  drain:
    pipe: {bore: BORE mm, material: pvc}
    from: {vessel: bed, standpipe: 0.2 m}
    route: [{down: 0.3 m}, elbow, {west: 6 m, down: 60 mm}, elbow, {down: 2.3 m}]
    to: tank
"""


HIGH_RIM = SYSTEM.replace("rim: 0.35 m", "rim: 1 m").replace("{up: 3.6 m}", "{up: 4.0 m}")


@pytest.mark.second_method
def test_a_long_flat_drain_backs_up_however_far_it_falls_beyond(read_text: ReadText) -> None:
    """20 L/min through 7 m of 21 mm bore with 60 mm of fall: the drop after it does not pull, as the drain takes air in.

    By hand: the head at the start of the flat run is the pipe's height at its end, the velocity head and the friction of 7 m;
    above it stand the first elbow, 0.3 m of pipe and the entrance. The drop pulls what the turn into it costs, and no more.
    """
    from fluids.fittings import Darby3K
    from fluids.friction import friction_factor

    layout = read_text(HIGH_RIM.replace("BORE", "21").replace("west: 6 m", "west: 7 m"))
    flows = find_flows(layout)
    q = flows.stretches["riser.1"].flow
    assert flows.vessels["bed"].spilt == 0.0
    assert flows.stretches["drain.1"].flow == pytest.approx(q, rel=1e-12)
    bore, nu = 0.021, layout.water.viscosity / layout.water.density
    speed = q / (math.pi / 4 * bore**2)
    re = speed * bore / nu
    vh = speed**2 / (2 * G)
    elbow = Darby3K(Di=bore, Re=re, name="Elbow, 90°, threaded, standard, (r/D = 1)") * vh
    friction = friction_factor(re, 1.5e-6 / bore) / bore * vh
    foot = 3.2 - 0.3 - 0.06
    level = foot + vh + friction * math.hypot(7, 0.06) + elbow + friction * 0.3 + 0.78 * vh
    assert level > 3.2 + mouth_head("crest", q, bore) + 0.03  # else the crest would set it
    assert flows.vessels["bed"].level == pytest.approx(level, abs=1e-3)
    # With a rim 0.35 m high it is over that, by no more than the weir of the rim asks for, and the rest is on the ground.
    low = check(read_text(SYSTEM.replace("BORE", "21").replace("west: 6 m", "west: 7 m")))
    assert "overtops" in {finding.kind for finding in low.findings}
    bed = low.flows.vessels["bed"]
    assert bed.level == pytest.approx(3.35, abs=1e-3)
    assert bed.inflow == pytest.approx(bed.outflow + bed.spilt, rel=1e-12)
    assert bed.spilt > 0.0


@pytest.mark.invariant
def test_a_drain_with_room_leaves_the_water_at_its_crest(read_text: ReadText) -> None:
    layout = read_text(SYSTEM.replace("BORE", "57"))
    flows = find_flows(layout)
    q = flows.stretches["riser.1"].flow
    assert flows.vessels["bed"].level == pytest.approx(3.2 + mouth_head("crest", q, 0.057), abs=1e-9)
    assert "overtops" not in {finding.kind for finding in check(layout).findings}


@pytest.mark.invariant
def test_heads_in_a_vented_drain_are_never_below_the_pipe(read_text: ReadText) -> None:
    flows = find_flows(read_text(SYSTEM.replace("BORE", "57")))
    for end in ("drain.from", "drain.to"):
        assert flows.ends[end].head >= flows.ends[end].height
    ledger = next(route for route in flows.routes if route.end == "drain.to")
    assert ledger.lift + sum(part.loss for part in ledger.losses) == pytest.approx(ledger.pumped, abs=1e-9)
    assert all(part.loss >= -1e-9 for part in ledger.losses)


@pytest.mark.invariant
def test_a_submerged_outlet_backs_up_a_drain(read_text: ReadText) -> None:
    """With the drain's whole way under the level it ends in, the level above follows by losses alone."""
    text = """
water: 20 degC
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.5 m, area: 1 m^2}
  pond: {base: 0 m, rim: 2 m, water: 1.5 m}
  bed: {base: 1 m, rim: 1 m, water: 0.45 m, area: 2 m^2}
pumps: {lift: {in: tank, curve: [[0 L/min, 4.5 m], [20 L/min, 4.0 m], [23 L/min, 0 m]]}}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 2.6 m}, union], to: bed}
  drain: {pipe: {bore: 40 mm}, from: {vessel: bed, standpipe: 0.45 m}, route: [{down: 0.5 m}], to: pond}
"""
    flows = find_flows(read_text(text))
    assert flows.vessels["bed"].level is not None
    assert 1.5 < flows.vessels["bed"].level < 1.53


@pytest.mark.invariant
def test_two_drains_join_and_the_lower_need_rules(read_text: ReadText) -> None:
    text = (
        SYSTEM.replace("BORE", "57")
        + """
  other:
    pipe: {bore: 57 mm}
    from: {vessel: low, standpipe: 0.2 m}
    route: [{down: 0.2 m}, {fitting: {K: 0.1}}]
    to: open air
"""
    )
    text = text.replace("  bed:", "  low: {base: 1 m, rim: 0.5 m, water: 0.2 m, area: 1 m^2}\n  bed:")
    flows = find_flows(read_text(text))
    # A vessel that receives nothing stands at its crest, and its drain carries nothing.
    assert flows.vessels["low"].level == pytest.approx(1.2)
    assert flows.stretches["other.1"].flow == 0.0
    assert not [f for f in check(read_text(text)).findings if f.kind == "overtops" and "'low'" in f.message]


@pytest.mark.second_method
def test_the_pump_feels_the_level_that_the_drain_leaves(read_text: ReadText) -> None:
    """A feed that ends under the bed's water works against the level found, not the one stated, and from the level that the
    tank has left when the bed holds more."""
    text = SYSTEM.replace("BORE", "57").replace(
        "[{up: 3.6 m}, union], to: bed", "[{up: 3.1 m}, union], to: {vessel: bed, height: 0.1 m}"
    )
    layout = read_text(text)
    flows = find_flows(layout)
    level = flows.vessels["bed"].level
    assert level is not None
    assert level > 3.2 + 0.003
    # The route's lift is measured to that level.
    route = next(route for route in flows.routes if route.end == "riser.to")
    tank = flows.vessels["tank"].level
    assert tank is not None
    assert tank == pytest.approx(0.5 - 2.0 * (level - 3.2), abs=1e-9)
    assert route.lift == pytest.approx(level - tank, abs=1e-7)
    assert route.pumped == pytest.approx(route.lift + sum(part.loss for part in route.losses), abs=1e-9)
    # Stated at those levels from the first, the same flows come out.
    there = text.replace("water: 0.2 m, area: 2", f"water: {level - 3.0} m, area: 2").replace(
        "water: 0.5 m", f"water: {tank} m"
    )
    stated = find_flows(read_text(there))
    assert stated.stretches["riser.1"].flow == pytest.approx(flows.stretches["riser.1"].flow, rel=1e-9)


def kinds(read_text: ReadText, text: str) -> dict[str, str]:
    """The drain's findings: what each kind says."""
    found = check(read_text(text)).findings
    return {one.kind: one.message for one in found if one.line == "drain"}


@pytest.mark.pinned
def test_a_drain_that_climbs(read_text: ReadText) -> None:
    said = kinds(
        read_text,
        SYSTEM.replace("BORE", "57").replace("down: 60 mm", "up: 20 mm").replace("{down: 2.3 m}", "{down: 2.3 m}"),
    )
    assert "climbs 20 mm" in said["back-fall"]
    assert "too-flat" not in said


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("bore", "down", "flat"),
    [("57", 114, False), ("57", 111, True), ("80", 57.5, False), ("80", 55.0, True)],
)
def test_least_fall_of_ipc_table_704_1(read_text: ReadText, bore: str, down: float, flat: bool) -> None:
    """International Plumbing Code, Table 704.1 [L]: ¼ in per ft up to 2½ in, ⅛ in per ft from 3 in; over 6 m 125 and 62.5 mm by hand, of which nine
    tenths will do here."""
    said = kinds(read_text, SYSTEM.replace("BORE", bore).replace("down: 60 mm", f"down: {down} mm"))
    assert ("too-flat" in said) == flat


@pytest.mark.second_method
def test_a_drain_whose_fall_is_too_little_for_the_flow_runs_full(read_text: ReadText) -> None:
    """What backs up is the friction of the full pipe less its fall, worked out again with fluids."""
    from fluids.friction import friction_factor

    layout = read_text(HIGH_RIM.replace("BORE", "21"))
    q = find_flows(layout).stretches["drain.1"].flow
    nu = layout.water.viscosity / layout.water.density
    speed = q / (math.pi / 4 * 0.021**2)
    length = math.hypot(6, 0.06)
    loss = friction_factor(speed * 0.021 / nu, 1.5e-6 / 0.021) * length / 0.021 * speed**2 / (2 * G)
    said = kinds(read_text, HIGH_RIM.replace("BORE", "21"))
    assert f"backs up {1000 * (loss - 0.06):.0f} mm" in said["drain-full"]


@pytest.mark.second_method
@pytest.mark.parametrize(("bore", "gulps"), [("36", True), ("48", False)])
def test_a_drop_gulps_where_air_cannot_get_back_up(read_text: ReadText, bore: str, gulps: bool) -> None:
    """V/√(gD) over 0.3 carries air down; 21 L/min reach 0.3 in 46 mm, where the standpipe itself has room (34 mm)."""
    said = kinds(read_text, SYSTEM.replace("BORE", bore))
    assert ("drain-gulps" in said) == gulps
    assert "small-standpipe" not in said


@pytest.mark.second_method
@pytest.mark.parametrize(("bore", "narrow"), [("34", True), ("36", False)])
def test_a_standpipe_is_small_where_it_works_as_an_orifice(read_text: ReadText, bore: str, narrow: bool) -> None:
    """BS EN 12056-3 [M]: the weir ends at h = D/2, where Q = D^2.5/(7500·2^1.5): 21.2 L/min in 35 mm."""
    assert ("small-standpipe" in kinds(read_text, SYSTEM.replace("BORE", bore))) == narrow


@pytest.mark.second_method
def test_what_drains_carry_before_the_rim_is_where_the_level_reaches_it(read_text: ReadText) -> None:
    """The flow that the check gives is put down the drain as a supply, and the water stands at the rim within a tenth."""
    layout = read_text(SYSTEM.replace("BORE", "40"))
    flows = find_flows(layout)
    most = flows.vessels["bed"].carries
    assert most is not None
    assert most > 1.2 * flows.vessels["bed"].inflow

    def stands(flow: float) -> float:
        supply = (
            SYSTEM.replace("BORE", "40").split("pumps:")[0]
            + f"""lines:
  feed: {{pipe: {{bore: 80 mm}}, from: {{draws: -{flow * 60000} L/min, height: 4 m}}, route: [{{down: 0.5 m}}], to: bed}}
"""
            + "  drain:"
            + SYSTEM.replace("BORE", "40").split("  drain:")[1]
        )
        level = find_flows(read_text(supply)).vessels["bed"].level
        assert level is not None
        return level

    assert stands(most / 1.1) < 3.35 < stands(most * 1.1)


@pytest.mark.invariant
def test_a_vessel_close_to_its_rim_is_told(read_text: ReadText) -> None:
    layout = read_text(SYSTEM.replace("BORE", "40").replace("rim: 0.35 m, water: 0.2 m", "rim: 0.217 m, water: 0.2 m"))
    kinds = {finding.kind for finding in check(layout).findings}
    assert "thin-drain" in kinds
    assert "overtops" not in kinds


@pytest.mark.second_method
def test_a_sleeve_raises_the_water_by_what_its_gap_takes(read_text: ReadText) -> None:
    """1.5 velocity heads and the friction of the gap over the height of the crest, worked out again by hand."""
    from fluids.friction import friction_factor

    plain = SYSTEM.replace("BORE", "40")
    sleeved = plain.replace("standpipe: 0.2 m}", "standpipe: 0.2 m, sleeve: 50 mm}")
    layout = read_text(sleeved)
    with_it, without = find_flows(layout), find_flows(read_text(plain))
    q = with_it.stretches["drain.1"].flow
    speed = q / (math.pi / 4 * (0.05**2 - 0.04**2))
    nu = layout.water.viscosity / layout.water.density
    k = 1.5 + friction_factor(speed * 0.01 / nu, 1.5e-6 / 0.01) * 0.2 / 0.01
    raised = (with_it.vessels["bed"].level or 0.0) - (without.vessels["bed"].level or 0.0)
    assert raised == pytest.approx(k * speed**2 / (2 * G), rel=1e-3)


@pytest.mark.second_method
@pytest.mark.parametrize(("sleeve", "slow"), [("155 mm", False), ("170 mm", True)])
def test_a_sleeve_lifts_solids_that_sink_at_1_7_cm_a_second(read_text: ReadText, sleeve: str, slow: bool) -> None:
    """World Aquaculture Society abstract [L]: solids on trout farms sink at 1.7 cm/s; 21 L/min reach it in about 167 mm."""
    text = SYSTEM.replace("BORE", "40").replace("standpipe: 0.2 m}", f"standpipe: 0.2 m, sleeve: {sleeve}}}")
    assert ("slow-sleeve" in kinds(read_text, text)) == slow


@pytest.mark.pinned
def test_a_sleeve_needs_a_standpipe(read_text: ReadText) -> None:
    from plumbline import LayoutError

    with pytest.raises(LayoutError, match="a sleeve without a standpipe"):
        read_text(SYSTEM.replace("BORE", "40").replace("standpipe: 0.2 m}", "height: 0.2 m, sleeve: 50 mm}"))


@pytest.mark.invariant
def test_a_hole_in_the_floor_drains_without_sucking(read_text: ReadText) -> None:
    """A drop of a metre under the hole does not pull the water down below it: it stands as over a crest at the floor."""
    text = (
        SYSTEM.replace("BORE", "57")
        .replace("standpipe: 0.2 m", "height: 0 m")
        .replace("{down: 0.3 m}", "{down: 0.1 m}")
    )
    flows = find_flows(read_text(text))
    q = flows.stretches["riser.1"].flow
    assert flows.vessels["bed"].level == pytest.approx(3.0 + mouth_head("crest", q, 0.057), abs=1e-9)
    assert flows.stretches["drain.1"].vented


@pytest.mark.second_method
def test_a_port_into_pipe_that_runs_full_keeps_its_energy_balance(read_text: ReadText) -> None:
    """Pipe throttled below the water runs full: the level is that of the energy equation, and it takes no air."""
    text = SYSTEM.replace("BORE", "40").replace("standpipe: 0.2 m", "height: 0 m").replace("rim: 0.35 m", "rim: 3 m")
    text = text.replace("elbow, {down: 2.3 m}]", "elbow, {down: 2.3 m}, {fitting: {K: 800}}]")
    flows = find_flows(read_text(text))
    level = flows.vessels["bed"].level
    assert level is not None
    assert level > 3.1
    ledger = next(route for route in flows.routes if route.end == "drain.to")
    assert -ledger.lift == pytest.approx(sum(part.loss for part in ledger.losses if part.step), rel=0.05)
    assert not flows.stretches["drain.1"].vented


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["overflow.yaml", "courtyard.yaml", "terraces.yaml", "tangle.yaml"])
def test_water_is_conserved_round_the_whole_cycle(name: str) -> None:
    """What each vessel gets it gives on, or it runs over its rim, to 1e-9 of the largest flow; and a sump that cannot settle, as
    water runs away over a rim for ever, loses just that."""
    from pathlib import Path

    from plumbline import read_layout

    flows = find_flows(read_layout(Path(__file__).parent.parent / "layouts" / name))
    largest = max(got.inflow for got in flows.vessels.values())
    fed = [got for got in flows.vessels.values() if got.inflow > 0.0]
    assert len(fed) >= 2
    away = sum(got.spilt for got in fed)
    assert away >= 0.0
    for got in fed:
        if got.balanced:
            assert got.outflow + got.spilt == pytest.approx(got.inflow, abs=1e-9 * largest)
    unsettled = [got for got in fed if not got.balanced]
    assert len(unsettled) == (away > 0.0)
    assert sum(got.outflow - got.inflow for got in unsettled) == pytest.approx(away, abs=1e-9 * largest)


# ---------------------------------------------------------------------- drains that part


PARTS = """
water: 20 degC
vessels:
  tank: {base: 1 m, rim: 0.8 m, water: 0.65 m, area: 1 m^2}
  one: {base: 0.2 m, rim: 0.3 m, water: 0.1 m}
  other: {base: 0.2 m, rim: 0.3 m, water: 0.1 m}
lines:
  fed: {pipe: pvc 32, from: {draws: -FLOW L/min}, route: [{up: 2 m}], to: tank}
  out:
    pipe: {bore: 44 mm}
    from: {vessel: tank, standpipe: 0.6 m}
    route: [{down: 0.5 m}, elbow, {east: 0.6 m, down: 12 mm}, {tee: {id: split, K: 0}}, {east: 0.8 m, down: 30 mm}]
    to: one
  arm:
    pipe: {bore: BORE mm}
    from: split
    route: [ROUTE]
    to: other
"""


def parted(read_text: ReadText, flow: float, route: str, bore: float = 44.0) -> tuple[float, float]:
    """What goes by the run and by the arm [L/min]."""
    text = PARTS.replace("FLOW", str(flow)).replace("ROUTE", route).replace("BORE", str(bore))
    flows = find_flows(read_text(text))
    assert flows.stretches["arm.1"].vented or flows.stretches["arm.1"].flow == 0.0
    return tuple(flows.ends[f"{name}.to"].flow * 60_000 for name in ("out", "arm"))  # type: ignore[return-value]


def critical_energy(flow: float, bore: float) -> float:
    """Depth and velocity head at the critical depth in round pipe [m], A³ g = Q² T (Chow 1959, ch. 4), by bisection."""
    q = flow / 60_000

    def section(depth: float) -> tuple[float, float]:
        theta = 2.0 * math.acos(1.0 - 2.0 * depth / bore)
        return bore**2 / 8.0 * (theta - math.sin(theta)), bore * math.sin(theta / 2.0)

    low, high = 1e-9, bore * (1.0 - 1e-9)
    for _ in range(200):
        depth = 0.5 * (low + high)
        area, width = section(depth)
        low, high = (depth, high) if area**3 * 9.80665 < q**2 * width else (low, depth)
    return depth + (q / section(depth)[0]) ** 2 / (2.0 * 9.80665)


@pytest.mark.second_method
@pytest.mark.parametrize("flow", [6.0, 14.0, 24.0])
def test_a_drain_parts_by_depth(read_text: ReadText, flow: float) -> None:
    """At a level tee both arms take alike, however they fall beyond it; an arm whose floor lies higher takes what the critical depths
    of both, each over its own floor, leave it, and no more than nothing where the water does not come up to it."""
    for falls in (10, 30, 80):
        run, arm = parted(read_text, flow, f"{{north: 0.8 m, down: {falls} mm}}")
        assert run == pytest.approx(arm, rel=1e-6)
    for rise in (3, 8, 30):
        run, arm = parted(read_text, flow, f"{{up: {rise} mm}}, {{elbow: {{K: 0}}}}, {{north: 0.8 m, down: 40 mm}}")
        assert run + arm == pytest.approx(flow, rel=1e-6)
        low, high = 0.0, 0.5 * flow
        for _ in range(100):
            half = 0.5 * (low + high)
            over = 1e-3 * rise + critical_energy(half, 0.044) if half > 1e-9 else 1e-3 * rise
            low, high = (half, high) if critical_energy(flow - half, 0.044) > over else (low, half)
        assert arm == pytest.approx(high, abs=0.02 * flow)
        assert (arm < 1e-6) == (high < 1e-6)


@pytest.mark.second_method
def test_a_drop_in_a_drains_floor_takes_what_its_crest_lets_in(read_text: ReadText) -> None:
    """BS EN 12056-3 over a hole of the bore in the floor, Q = D h^1.5/7500 (L/s, mm), beside the run's critical energy over the same floor."""
    flow = 20.0
    run, arm = parted(read_text, flow, "{down: 0.6 m}")
    low, high = 0.0, flow
    for _ in range(100):
        half = 0.5 * (low + high)
        hole = (7500.0 * half / 60.0 / 44.0) ** (2.0 / 3.0) / 1e3
        low, high = (half, high) if critical_energy(flow - half, 0.044) > hole else (low, half)
    assert arm == pytest.approx(high, rel=0.03)
    assert run + arm == pytest.approx(flow, rel=1e-6)


@pytest.mark.invariant
def test_a_wider_arm_takes_more_and_none_takes_more_than_comes(read_text: ReadText) -> None:
    arms = [parted(read_text, 16.0, "{north: 0.8 m, down: 30 mm}", bore)[1] for bore in (30.0, 38.0, 44.0)]
    assert arms == sorted(arms)
    assert arms[0] < 8.0 < arms[2] + 1e-3
    layout = read_text(
        PARTS.replace("FLOW", "16").replace("ROUTE", "{north: 0.8 m, down: 30 mm}").replace("BORE", "44")
    )
    sure = how_sure(layout)
    for name in ("one", "other"):
        assert 0.0 < sure.vessels[name].inflow.low < sure.vessels[name].inflow.high < 16.0 / 60_000


@pytest.mark.invariant
def test_no_vessel_is_told_to_get_more_than_all_that_comes(read_text: ReadText) -> None:
    """Two arms that run full, with next to no loss: the heights of their ends, known to a centimetre, would move them by more than there is."""
    text = PARTS.replace("FLOW", "9").replace("ROUTE", "{north: 0.8 m, down: 30 mm}").replace("BORE", "44")
    text = text.replace(
        "one: {base: 0.2 m, rim: 0.3 m, water: 0.1 m}", "one: {base: 0.8 m, rim: 0.4 m, water: 0.30 m, area: 1 m^2}"
    )
    text = text.replace(
        "other: {base: 0.2 m, rim: 0.3 m, water: 0.1 m}", "other: {base: 0.8 m, rim: 0.4 m, water: 0.30 m, area: 1 m^2}"
    )
    text += (
        "  back: {pipe: {bore: 60 mm}, from: {vessel: one, standpipe: 0.3 m}, route: [{down: 0.5 m}], to: open air}\n"
    )
    text += (
        "  away: {pipe: {bore: 60 mm}, from: {vessel: other, standpipe: 0.3 m}, route: [{down: 0.5 m}], to: open air}\n"
    )
    sure = how_sure(read_text(text))
    for name in ("tank", "one", "other"):
        assert sure.vessels[name].inflow.high <= 9.0 / 60_000 * (1.0 + 1e-9)


GRAVITY_FED = """
vessels:
  tank: {base: 0.2 m, rim: 1.0 m, water: 0.85 m, area: 1.8 m^2}
  swirl: {base: 1.2 m, rim: 0.8 m, water: 0.55 m, area: 0.28 m^2}
  bed: {again: 4, base: 0.85 m, rim: 0.30 m, water: 0.20 m, area: 0.8 m^2}
pumps:
  lift: {in: tank, height: 0.10 m, curve: {highest head: 4 m, largest flow: FLOW L/min}}
lines:
  riser: {pipe: pvc 32, from: lift, route: [{up: 1.7 m}, sweep, {east: 1 m}], to: swirl}
  feed:
    pipe: pvc 50
    from: {vessel: swirl, overflow: 0.50 m}
    route: [{east: 0.3 m}, elbow, {down: 0.30 m}, elbow, {manifold: {id: head, east: 2 m, down: 20 mm, outlets: 4, spacing: 0.5 m}}]
    to: cap
  drop: {pipe: pvc 25, from: head, route: [{north: 0.3 m}, {ball valve: {opening: 70 %}}, {north: 0.2 m}, elbow, {down: 0.15 m}], to: bed}
  back: {pipe: pvc 40, from: {vessel: bed, standpipe: 0.20 m}, route: [{down: 0.2 m}], to: tank}
"""


@pytest.mark.invariant
def test_where_air_may_get_into_a_drop_or_not_a_little_more_water_stays_within_the_range(read_text: ReadText) -> None:
    """The manifold's water stands at its crown at the first drop. Where it covers the drop's mouth the drop is pulled by its fall; where it does
    not, air gets in, and a third less goes down it. Pumps that differ by a hundredth have it one way or the other."""
    layouts = [read_text(GRAVITY_FED.replace("FLOW", flow)) for flow in ("69.5", "70.2")]
    flows = [find_flows(layout) for layout in layouts]
    found = [one.vessels["bed 1"].inflow for one in flows]
    assert max(found) > 1.3 * min(found)
    for layout, one in zip(layouts, flows, strict=True):
        inflow = how_sure(layout, one).vessels["bed 1"].inflow
        assert inflow.low < min(found) < max(found) < inflow.high
