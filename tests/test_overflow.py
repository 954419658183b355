"""Overflows in a wall: how high the water stands over them, what is said of them, and what is a fault."""

from __future__ import annotations

import itertools
import math

import pytest
from conftest import ReadText
from plain_mouths import brink_energy, critical_depth
from scipy.optimize import minimize_scalar

from plumbline.check import check
from plumbline.errors import LayoutError
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.fittings import end_k
from plumbline.hydraulics.stages import HOLE_CD, mouth_head
from plumbline.parts import bill_of
from plumbline.parts.passing import Passage, passage

G = 9.80665

SYSTEM = """
water: 20 degC
vessels:
  sump: {base: -1 m, rim: 1 m, water: 0.6 m, area: 1 m^2}
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 3 m], [LARGE L/min, 0.5 m]]}
lines:
  riser:
    pipe: {bore: 40 mm, roughness: 0.0015 mm}
    from: lift
    route: [{up: 2.0 m}, elbow, {west: 0.5 m}]
    to: tank
  back:
    pipe: {bore: BORE mm, roughness: 0.0015 mm}
    from: {vessel: tank, MOUTH}
    route: [{east: 0.5 m, down: 20 mm}, elbow, {down: 0.8 m}]
    to: sump
"""


def system(mouth: str = "overflow: 0.8 m", bore: str = "57", largest: str = "30") -> str:
    return SYSTEM.replace("MOUTH", mouth).replace("BORE", bore).replace("LARGE", largest)


def energy(depth: float, flow: float, bore: float) -> float:
    theta = 2.0 * math.acos(1.0 - 2.0 * depth / bore)
    return depth + (flow / ((theta - math.sin(theta)) * bore**2 / 8.0)) ** 2 / (2.0 * G)


@pytest.mark.second_method
@pytest.mark.parametrize("flow", [1e-5, 1e-4, 5e-4, 1e-3, 2e-3])
def test_critical_depth_is_that_of_least_energy(flow: float) -> None:
    """A plain second way: the depth at which the energy over the invert is least, searched for."""
    bore = 0.06
    found = minimize_scalar(
        energy, args=(flow, bore), bounds=(1e-4, bore * (1 - 1e-9)), method="bounded", options={"xatol": 1e-10}
    )
    assert critical_depth(flow, bore) == pytest.approx(found.x, abs=2e-6)
    orifice = (flow / (HOLE_CD * math.pi / 4 * bore**2)) ** 2 / (2 * G)
    assert mouth_head("overflow", flow, bore, 0.0) == pytest.approx(
        max(found.fun - bore / 2, orifice if found.fun > bore else -bore), rel=1e-6
    )


@pytest.mark.second_method
@pytest.mark.parametrize("flow", [1e-3, 2e-3, 3e-3, 4e-3, 5e-3, 6e-3, 8e-3])
def test_inlet_control_of_culverts_of_hds_5(flow: float) -> None:
    """FHWA HDS-5, table A.1 [L], round concrete with a square edge in a headwall, level: HW/D = Hc/D + 0.0098 X² while it is a
    weir (X to 1.93), 0.0398 X² + 0.67 when drowned (X from 2.21), with X = 1.811 Q/(A √D) in SI; a line between."""
    bore = 0.1
    x = 1.811 * flow / (math.pi / 4 * bore**2 * math.sqrt(bore))
    # The manual's limits are 3.5 and 4.0 of Q/(A √D) in feet, in which 1.811 Q/(A √D) in SI is the same number.
    weir = energy(critical_depth(flow, bore), flow, bore) / bore + 0.0098 * x**2
    drowned = 0.0398 * x**2 + 0.67
    share = min(max((x - 3.5) / 0.5, 0.0), 1.0)
    head = weir + share * (drowned - weir)
    assert 0.5 + mouth_head("overflow", flow, bore, 0.5) / bore == pytest.approx(head, abs=0.15)


@pytest.mark.invariant
def test_the_head_over_an_overflow_rises_with_the_flow_and_never_jumps() -> None:
    heads = [mouth_head("overflow", 1e-5 * n, 0.05, 0.5) for n in range(400)]
    assert heads[0] == -0.025
    assert all(0.0 < b - a < 0.008 for a, b in itertools.pairwise(heads))


@pytest.mark.invariant
def test_an_overflow_leaves_the_water_about_at_its_middle(read_text: ReadText) -> None:
    layout = read_text(system())
    flows = find_flows(layout)
    end = layout.lines["back"].start
    assert end.in_wall
    flow = flows.stretches["back.1"].flow
    assert flow == pytest.approx(flows.stretches["riser.1"].flow, rel=1e-12)
    assert end_k(end)[0] == pytest.approx(0.5, abs=0.08)
    # The critical depth is read from a table whose steps of 1.03e-3 rad leave at most θ² D/8 of it, 8e-9 m.
    assert flows.vessels["tank"].level == pytest.approx(
        0.8 + mouth_head("overflow", flow, 0.057, end_k(end)[0]), abs=8e-9
    )
    assert abs(flows.vessels["tank"].level - 0.8) < 0.02
    assert not [one for one in check(layout).findings if one.kind in ("no-way-out", "small-standpipe", "overtops")]


@pytest.mark.second_method
def test_pipe_that_backs_up_lifts_the_water_further(read_text: ReadText) -> None:
    """25 m of flat pipe: the water has at its end the energy of its critical depth over the floor, and before it what friction and the mouth lose,
    by hand; 3 m ask for less than the mouth, so there the mouth sets the level."""
    from fluids.friction import friction_factor

    free = find_flows(read_text(system(largest="120")))
    levels = {}
    for length in (3, 25):
        far = system(largest="120").replace("{east: 0.5 m, down: 20 mm}", f"{{east: {length} m, down: 20 mm}}")
        layout = read_text(far)
        flows = find_flows(layout)
        q = flows.stretches["back.1"].flow
        speed, nu = q / (math.pi / 4 * 0.057**2), layout.water.viscosity / layout.water.density
        friction = friction_factor(speed * 0.057 / nu, 1.5e-6 / 0.057) * math.hypot(length, 0.02) / 0.057
        brink = 0.78 - 0.5 * 0.057 + brink_energy(q, 0.057)
        pipe = brink + (end_k(layout.lines["back"].start)[0] + friction) * speed**2 / (2 * G)
        mouth = 0.8 + mouth_head("overflow", q, 0.057, end_k(layout.lines["back"].start)[0])
        assert (pipe > mouth) == (length == 25)
        levels[length] = flows.vessels["tank"].level
        assert levels[length] == pytest.approx(max(pipe, mouth), abs=1e-4)
    assert levels[25] > free.vessels["tank"].level + 0.003


@pytest.mark.pinned
def test_a_narrow_overflow_is_told_with_the_bore_that_does(read_text: ReadText) -> None:
    layout = read_text(system(bore="30"))
    made = next(one for one in check(layout).findings if one.kind == "small-standpipe")
    assert made.message.startswith("The overflow of 'back' in 'tank' is narrow for ")
    assert "over its middle, above its top edge, and it gulps." in made.message
    wide = float(made.cure.split(" of ")[1].split(" mm")[0])
    flow = find_flows(layout).stretches["back.1"].flow
    assert mouth_head("overflow", flow, (wide + 0.6) / 1000, 0.5) < 0.5 * (wide + 0.6) / 1000
    assert mouth_head("overflow", flow, (wide - 1.5) / 1000, 0.5) > 0.5 * (wide - 1.5) / 1000


@pytest.mark.invariant
def test_a_port_written_at_the_water_is_an_overflow(read_text: ReadText) -> None:
    """The same hole in the same wall, whatever it is called: as long as it is not drowned, the same level."""
    port, overflow = (check(read_text(system(f"{word}: 0.8 m"))) for word in ("height", "overflow"))
    assert "no-way-out" not in {one.kind for one in (*port.findings, *overflow.findings)}
    assert port.flows.stretches["back.1"].flow == pytest.approx(overflow.flows.stretches["back.1"].flow, rel=1e-9)
    assert port.flows.vessels["tank"].level == pytest.approx(overflow.flows.vessels["tank"].level, abs=1e-9)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("mouth", "said"),
    [
        ("overflow: 0.8 m, height: 0.8 m", "both an overflow and a height"),
        ("standpipe: 0.8 m, overflow: 0.8 m", "both a standpipe and an overflow"),
        ("overflow: 1.2 m", "the overflow in 'tank' is above its rim"),
        ("overflow: 0.8 m, sleeve: 90 mm", "a sleeve without a standpipe"),
    ],
)
def test_faults(read_text: ReadText, mouth: str, said: str) -> None:
    with pytest.raises(LayoutError) as told:
        read_text(system(mouth))
    assert said in str(told.value)


@pytest.mark.pinned
def test_an_overflow_goes_through_the_wall_sideways(read_text: ReadText) -> None:
    with pytest.raises(LayoutError) as told:
        read_text(system().replace("[{east: 0.5 m, down: 20 mm}, elbow, {down: 0.8 m}]", "[{down: 0.8 m}]"))
    assert "the overflow of 'tank' goes through its wall downwards" in str(told.value)
    assert "or 'standpipe' for a pipe that stands in the water" in str(told.value)


@pytest.mark.pinned
def test_an_overflow_is_of_a_vessel(read_text: ReadText) -> None:
    with pytest.raises(LayoutError) as told:
        read_text(system().replace("to: sump", "to: {plug: yes, overflow: 0.8 m}"))
    assert "'overflow' with a plug" in str(told.value)


@pytest.mark.invariant
def test_an_overflow_has_its_fitting_where_the_line_begins(read_text: ReadText) -> None:
    """No part of the line is inside the vessel: its bulkhead sits at the line's end, as a port's does."""
    layout = read_text(system())
    assert passage(layout, layout.lines["back"], "from") == Passage("end", "tank")
    assert "'back' has a port in 'tank'" in {place.why for one in bill_of(layout).items for place in one.places}
    standing = read_text(
        system("standpipe: 0.8 m").replace("{east: 0.5 m, down: 20 mm}, elbow, {down: 0.8 m}", "{down: 1.2 m}")
    )
    assert passage(standing, standing.lines["back"], "from") != Passage("end", "tank")


@pytest.mark.invariant
def test_a_port_that_takes_air_does_not_suck_as_a_siphon(read_text: ReadText) -> None:
    """Its mouth is not full and the water in the drop is too slow to sweep the air out, V/√(gD) under 1: the drop pulls on nothing,
    and the port stands as high as that of a drop a third as long."""
    levels = []
    for drop in ("0.8 m", "0.25 m"):
        layout = read_text(system("height: 0.8 m", largest="80").replace("{down: 0.8 m}", f"{{down: {drop}}}"))
        flows = find_flows(layout)
        number = flows.stretches["back.1"].flow / (math.pi / 4 * 0.057**2) / math.sqrt(G * 0.057)
        assert 0.3 < number < 1.0
        assert flows.stretches["back.1"].vented
        levels.append(flows.vessels["tank"].level)
    assert levels[0] == pytest.approx(levels[1], abs=1e-6)
