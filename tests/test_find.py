"""From a layout to its flows: what vessels, ends, valves and openings do. Invariants, and a second, plain way for each."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from conftest import ReadText
from scipy.optimize import brentq

from plumbline.errors import SolveError
from plumbline.hydraulics import newton
from plumbline.hydraulics.find import find_flows, settle
from plumbline.hydraulics.flows import Flows
from plumbline.hydraulics.judge import judge
from plumbline.hydraulics.steady import _holds_all
from plumbline.layout import layout_of
from plumbline.layout.model import Layout

LAYOUTS = Path(__file__).parent.parent / "layouts"

G = 9.80665
LPM = 60_000.0

PUMPED = """
water: 20 degC
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2, wants: 10 L/min}
pumps:
  lift: {in: tank, height: 0.1 m, curve: [[0 L/min, 3 m], [20 L/min, 2.2 m], [40 L/min, 0.4 m]]}
lines:
  riser:
    pipe: {bore: 20 mm, material: pvc}
    from: lift
    route: [{up: 1.3 m}, elbow, {east: 2 m}]
    to: bed
"""
DRAIN = """
  drain:
    pipe: {bore: 40 mm, material: pvc}
    from: {vessel: bed, standpipe: 0.2 m}
    route: [{down: 1.0 m}]
    to: tank
"""


@pytest.mark.second_method
def test_a_pumped_riser_against_a_plain_root_search(read_text: ReadText) -> None:
    """One riser, solved again with scipy and fluids, the curve from scipy's PCHIP and each loss written out."""
    from fluids.fittings import Darby3K
    from fluids.friction import Colebrook
    from scipy.interpolate import PchipInterpolator

    layout = read_text(PUMPED)
    flows = find_flows(layout)
    curve = PchipInterpolator([0, 20 / LPM, 40 / LPM], [3, 2.2, 0.4])
    bore, length, rough = 0.02, 3.3, layout.lines["riser"].parts[0].pipe.roughness
    nu = layout.water.viscosity / layout.water.density

    def excess(q: float) -> float:
        speed = q / (math.pi / 4 * bore**2)
        re = speed * bore / nu
        k = Darby3K(Di=bore, Re=re, name="Elbow, 90°, threaded, standard, (r/D = 1)") + 1.0
        f = Colebrook(re, rough / bore)
        return float(curve(q) - (1.4 - 0.8) - (f * length / bore + k) * speed**2 / (2 * G))

    q = brentq(excess, 5 / LPM, 40 / LPM, xtol=1e-14)
    # fluids takes the size of Darby's formula from the nominal bore; ours from the bore itself, as `losses` says.
    assert flows.stretches["riser.1"].flow == pytest.approx(q, rel=2e-3)
    assert flows.pumps["lift"].flow == flows.stretches["riser.1"].flow


def closes(layout: Layout, flows: Flows) -> None:
    """Every route's ledger adds up, and its losses are not negative but for tees."""
    for route in flows.routes:
        assert route.pumped == pytest.approx(route.lift + sum(part.loss for part in route.losses), abs=1e-9)
        assert all(part.loss >= -1e-12 or part.label.startswith(("tee", "wye")) for part in route.losses)


@pytest.mark.invariant
def test_a_standpipe_carries_what_its_vessel_receives(read_text: ReadText) -> None:
    layout = read_text(PUMPED + DRAIN)
    flows = find_flows(layout)
    assert flows.stretches["drain.1"].flow == pytest.approx(flows.stretches["riser.1"].flow, rel=1e-12)
    assert flows.vessels["bed"].balanced
    assert flows.vessels["tank"].inflow == pytest.approx(flows.vessels["tank"].outflow, rel=1e-12)
    closes(layout, flows)


@pytest.mark.invariant
def test_a_standpipe_written_from_its_other_end(read_text: ReadText) -> None:
    flows = find_flows(read_text(PUMPED + DRAIN))
    turned = DRAIN.replace("from: {vessel: bed, standpipe: 0.2 m}", "from: {vessel: tank, height: 0.2 m}")
    turned = turned.replace("{down: 1.0 m}", "{up: 1.0 m}").replace("to: tank", "to: {vessel: bed, standpipe: 0.2 m}")
    other = find_flows(read_text(PUMPED + turned))
    assert other.stretches["drain.1"].flow == pytest.approx(-flows.stretches["drain.1"].flow, rel=1e-12)


@pytest.mark.invariant
def test_two_standpipes_share_and_together_carry_all(read_text: ReadText) -> None:
    second = DRAIN.replace("drain:", "other:").replace("40 mm", "30 mm")
    flows = find_flows(read_text(PUMPED + DRAIN + second))
    shares = [flows.stretches[name].flow for name in ("drain.1", "other.1")]
    assert sum(shares) == pytest.approx(flows.stretches["riser.1"].flow, rel=1e-12)
    assert shares[0] > shares[1] > 0.0


@pytest.mark.invariant
def test_a_shut_drain_leaves_the_vessel_without_a_way_out(read_text: ReadText) -> None:
    shut = DRAIN.replace("[{down: 1.0 m}]", "[{down: 0.5 m}, ball valve: 0 %, {down: 0.5 m}]")
    flows = find_flows(read_text(PUMPED + shut))
    assert flows.stretches["drain.1"].flow == 0.0
    assert flows.vessels["bed"].inflow > 0.0
    assert flows.vessels["bed"].outflow == 0.0
    assert not flows.vessels["bed"].balanced


@pytest.mark.second_method
def test_a_header_finds_the_level_at_which_its_port_carries_what_it_gets(read_text: ReadText) -> None:
    """The level is found again by hand from the energy equation of the port's pipe."""
    layout = read_text(
        PUMPED
        + """
  port:
    pipe: {bore: 30 mm, material: pvc}
    from: {vessel: bed, height: 0 m}
    route: [{down: 0.1 m}]
    to: tank
""".replace("{down: 0.1 m}", "{down: 0.15 m}, {fitting: {K: 6}}")
    )
    flows = find_flows(layout)
    q = flows.stretches["riser.1"].flow
    assert flows.vessels["bed"].spilt == 0.0
    assert flows.stretches["port.1"].flow == pytest.approx(q, rel=1e-12)
    from fluids.friction import friction_factor

    pipe = layout.lines["port"].parts[0].pipe
    speed = q / (math.pi / 4 * pipe.bore**2)
    re = speed * pipe.bore / (layout.water.viscosity / layout.water.density)
    k = 0.5 + 6.0 + 1.0 + friction_factor(re, pipe.roughness / pipe.bore) * 0.15 / pipe.bore
    # The bed gives the tank what it loses, whose water then stands over the port's end.
    bed, tank = flows.vessels["bed"].level, flows.vessels["tank"].level
    assert tank == pytest.approx(0.8 + 2.0 * (1.2 - bed), abs=1e-9)
    assert tank > 0.85
    assert bed == pytest.approx(tank + k * speed**2 / (2 * G), abs=1e-4)


@pytest.mark.second_method
def test_what_a_port_does_not_carry_runs_over_the_rim(read_text: ReadText) -> None:
    """The port carries what its energy equation gives with the water at the rim; the rest runs over, no higher than the weir of all
    the rim's round asks for, BS EN 12056-3."""
    from fluids.friction import friction_factor

    layout = read_text(
        PUMPED
        + """
  port:
    pipe: {bore: 30 mm, material: pvc}
    from: {vessel: bed, height: 0 m}
    route: [{down: 0.15 m}, {fitting: {K: 20}}]
    to: tank
"""
    )
    flows = find_flows(layout)
    bed = flows.vessels["bed"]
    assert bed.inflow == pytest.approx(bed.outflow + bed.spilt, rel=1e-12)
    around = math.sqrt(4 * 2.0 / math.pi)
    over = (7500 * 1e3 * bed.spilt / (1e3 * around)) ** (2 / 3) / 1e3
    assert over < 1e-3
    assert 1.3 < bed.level < 1.3 + over
    pipe = layout.lines["port"].parts[0].pipe
    speed = bed.outflow / (math.pi / 4 * pipe.bore**2)
    re = speed * pipe.bore / (layout.water.viscosity / layout.water.density)
    k = 0.5 + 20.0 + 1.0 + friction_factor(re, pipe.roughness / pipe.bore) * 0.15 / pipe.bore
    tank = flows.vessels["tank"].level
    assert bed.level == pytest.approx(max(0.85, tank or 0.0) + k * speed**2 / (2 * G), abs=1e-4)


@pytest.mark.invariant
def test_without_an_area_a_level_is_held_as_stated(read_text: ReadText) -> None:
    text = PUMPED.replace("water: 0.2 m, area: 2 m^2", "water: 0.2 m")
    flows = find_flows(
        read_text(
            text
            + """
  port:
    pipe: {bore: 30 mm, material: pvc}
    from: {vessel: bed, height: 0 m}
    route: [{down: 0.15 m}]
    to: tank
"""
        )
    )
    assert flows.vessels["bed"].level is None
    assert flows.stretches["port.1"].flow > 1.2 * flows.stretches["riser.1"].flow


@pytest.mark.second_method
def test_an_opened_cap_is_the_ordinary_solver_with_an_open_end(read_text: ReadText) -> None:
    spur = """
  spur:
    pipe: {bore: 20 mm, material: pvc}
    from: t1
    route: [{north: 0.5 m}]
    to: END
"""
    text = PUMPED.replace("{up: 1.3 m}", "{up: 0.5 m}, tee: t1, {up: 0.8 m}") + spur
    opened = find_flows(read_text(text.replace("END", "cap c1")), opened=("c1",))
    written = find_flows(read_text(text.replace("END", "open air")))
    for name in ("riser.1", "riser.2", "spur.1"):
        assert opened.stretches[name].flow == pytest.approx(written.stretches[name].flow, rel=1e-9)
    assert written.stretches["spur.1"].flow > 0.0
    closed = find_flows(read_text(text.replace("END", "cap c1")))
    assert closed.stretches["spur.1"].flow == 0.0


@pytest.mark.invariant
def test_a_cap_in_the_run_opened_spills_there(read_text: ReadText) -> None:
    text = PUMPED.replace("{east: 2 m}", "{east: 1 m}, cap: {id: c1, faces: up}, {east: 1 m}")
    flows = find_flows(read_text(text), opened=("c1",))
    assert flows.stretches["riser.1"].flow > flows.stretches["riser.2"].flow


@pytest.mark.invariant
def test_a_check_valve_the_wrong_way_round_holds_all_water_back(read_text: ReadText) -> None:
    flows = find_flows(read_text(PUMPED.replace("{up: 1.3 m}", "{up: 1 m}, check valve, {up: 0.3 m}")))
    assert flows.stretches["riser.1"].flow > 0.0
    turned = """
  riser:
    pipe: {bore: 20 mm, material: pvc}
    from: bed
    route: [{west: 2 m}, elbow, {down: 0.3 m}, check valve, {down: 1.0 m}]
    to: t1
  feed:
    pipe: {bore: 20 mm, material: pvc}
    from: lift
    route: [{up: 0.1 m}, tee: t1, {east: 0.1 m}]
    to: cap c1
"""
    head = PUMPED.split("lines:", maxsplit=1)[0] + "lines:" + turned
    found = find_flows(
        read_text(head.replace("from: bed", "from: {vessel: bed, height: 0.5 m}").replace("rim: 0.3 m", "rim: 0.6 m"))
    )
    assert found.pumps["lift"].flow == pytest.approx(0.0, abs=1e-12)


@pytest.mark.invariant
def test_a_free_end_lets_no_water_in(read_text: ReadText) -> None:
    """A pipe end in the air above a bed cannot drain the bed back, however low its other end."""
    layout = read_text("""
vessels:
  bed: {base: 1 m, water: 0.2 m}
  sump: {base: 0 m, water: 0.3 m}
lines:
  hung: {pipe: {bore: 20 mm}, from: {vessel: bed, height: 0.25 m}, route: [{down: 1.0 m}], to: sump}
""")
    flows = find_flows(layout)
    assert flows.stretches["hung.1"].flow == 0.0
    assert flows.stretches["hung.1"].dry
    assert flows.held == set()


@pytest.mark.invariant
def test_a_free_end_that_would_draw_air_is_held(read_text: ReadText) -> None:
    """The main runs down past the branch, whose end hangs 0.8 m over the water that the main ends in; shut the main and it runs."""
    text = """
vessels:
  high: {base: 2 m, water: 0.5 m}
  low: {base: 0 m, water: 0.3 m}
lines:
  main: {pipe: {bore: 30 mm}, from: {vessel: high, height: 0 m}, route: [{down: 0.9 m}, tee: t, {down: 1 m}, VALVE], to: low}
  branch: {pipe: {bore: 30 mm}, from: t, route: [{east: 0.2 m}, elbow, {down: 0.1 m}], to: open air}
"""
    flows = find_flows(read_text(text.replace("VALVE", "ball valve: 100 %")))
    assert flows.stretches["main.2"].flow > 0.0
    assert (flows.stretches["branch.1"].flow, flows.held) == (0.0, {"branch.1"})
    shut = find_flows(read_text(text.replace("VALVE", "ball valve: 0 %")))
    assert shut.stretches["branch.1"].flow > 0.0
    assert shut.held == set()


@pytest.mark.second_method
def test_a_draw_and_a_supply_balance(read_text: ReadText) -> None:
    flows = find_flows(
        read_text("""
vessels: {tank: {base: 1 m, water: 0.5 m}}
lines:
  main:
    pipe: {bore: 20 mm}
    from: {vessel: tank, height: 0 m}
    route: [{down: 0.5 m}, tee: t1, {down: 0.5 m}]
    to: {draws: 6 L/min}
  top_up: {pipe: {bore: 20 mm}, from: t1, route: [{east: 1 m}], to: {draws: -4 L/min}}
""")
    )
    assert flows.stretches["main.1"].flow * LPM == pytest.approx(2.0, rel=1e-9)
    assert flows.stretches["main.2"].flow * LPM == pytest.approx(6.0, rel=1e-9)
    assert flows.stretches["top_up.1"].flow * LPM == pytest.approx(-4.0, rel=1e-9)


@pytest.mark.invariant
def test_a_draw_that_nothing_can_feed_is_an_error_in_plain_names(read_text: ReadText) -> None:
    layout = read_text("""
vessels: {tank: {base: 1 m, water: 0.5 m}}
lines:
  main:
    pipe: {bore: 20 mm}
    from: {vessel: tank, height: 0 m}
    route: [{down: 0.5 m}, ball valve: 0 %, {down: 0.5 m}]
    to: {draws: 6 L/min}
""")
    with pytest.raises(SolveError, match="main"):
        find_flows(layout)


@pytest.mark.second_method
def test_a_spray_bar_is_its_holes_as_one_orifice(read_text: ReadText) -> None:
    """Q = Cd n a √(2 g h) at the bar's middle height, found again by hand for a bar fed from a held level."""
    layout = read_text("""
water: 20 degC
vessels: {header: {base: 2 m, water: 0.5 m}}
lines:
  feed:
    pipe: {bore: 40 mm}
    from: {vessel: header, K: 0}
    route: [{down: 1 m}, spray bar: {down: 0.6 m, holes: 10, hole: 4 mm}]
    to: cap c1
""")
    flows = find_flows(layout)
    h = 2.5 - (2.0 - 1.0 - 0.3)
    ideal = 0.62 * 10 * math.pi / 4 * 0.004**2 * math.sqrt(2 * G * h)
    assert flows.stretches["feed.1"].flow == pytest.approx(ideal, rel=0.01)
    assert flows.stretches["feed.1"].flow < ideal


@pytest.mark.invariant
def test_a_stated_k_at_a_tee_is_lost_whole_by_a_stream_that_turns(read_text: ReadText) -> None:
    text = """
vessels: {{high: {{base: 2 m, water: 0 m}}, low: {{base: 0 m, water: 0 m}}}}
lines:
  main: {{pipe: {{bore: 20 mm}}, from: {{vessel: high, K: 0}}, route: [{{down: 1 m}}, {tee}, {{down: 0.5 m}}], to: cap c1}}
  side: {{pipe: {{bore: 20 mm}}, from: t1, route: [{{east: 1 m}}, {fitting}elbow, {{down: 1 m}}], to: {{vessel: low, K: 1}}}}
"""
    tee = find_flows(read_text(text.format(tee="tee: {id: t1, K: 4}", fitting="")))
    plain = find_flows(
        read_text(
            text.format(tee="tee: {id: t1, K: 0}", fitting="fitting: {K: 4}, {east: 0 m, down: 0 m}, ").replace(
                "{east: 0 m, down: 0 m}, ", ""
            )
        )
    )
    assert tee.stretches["side.1"].flow == pytest.approx(plain.stretches["side.1"].flow, rel=1e-9)


@pytest.mark.invariant
def test_residuals_are_at_rounding_level(read_text: ReadText) -> None:
    flows = find_flows(read_text(PUMPED + DRAIN))
    assert flows.head_residual < 1e-9
    assert flows.mass_residual < 1e-15


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("curve", "state"),
    [
        ("[[0 L/min, 0.5 m], [40 L/min, 0.1 m]]", "backwards"),
        ("[[0 L/min, 3 m], [8 L/min, 2.9 m]]", "run-out"),
        ("[[35 L/min, 1 m], [40 L/min, 0.4 m]]", "below first point"),
        ("[[0 L/min, 3 m], [20 L/min, 2.2 m], [40 L/min, 0.4 m]]", "on curve"),
    ],
)
def test_the_pump_says_where_on_its_curve_it_works(read_text: ReadText, curve: str, state: str) -> None:
    text = PUMPED.replace("[[0 L/min, 3 m], [20 L/min, 2.2 m], [40 L/min, 0.4 m]]", curve)
    if state == "backwards":
        # Both levels are held: else the bed would run down to the pipe's end, or the tank fill, and then nothing would move.
        text = text.replace("water: 0.8 m, area: 1 m^2", "water: 0.8 m")
        text = text.replace("to: bed", "to: {vessel: bed, height: 0.4 m}").replace(
            "rim: 0.3 m, water: 0.2 m, area: 2 m^2", "rim: 0.6 m, water: 0.5 m"
        )
    assert find_flows(read_text(text)).pumps["lift"].state == state


@pytest.mark.invariant
def test_a_header_whose_port_takes_more_than_comes_finds_its_level_at_the_port(read_text: ReadText) -> None:
    """Its standpipe stays dry, though it ends in the air and could not run backwards; the port carries what comes."""
    layout = read_text("""
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 2 m^2}
  header: {base: 2 m, rim: 0.6 m, water: 0.4 m, area: 0.5 m^2}
pumps: {lift: {in: tank, curve: [[0 L/min, 3 m], [10 L/min, 1 m]]}}
lines:
  riser: {pipe: pvc 25, from: lift, route: [up: 2.5 m], to: header}
  over: {pipe: pvc 40, from: {vessel: header, standpipe: 0.4 m}, route: [down: 1.0 m], to: tank}
  feed: {pipe: pvc 50, from: {vessel: header, height: 0.05 m}, route: [down: 1.2 m], to: tank}
""")
    flows = find_flows(layout)
    assert flows.stretches["over.1"].flow == 0.0
    assert flows.stretches["feed.1"].flow == pytest.approx(flows.stretches["riser.1"].flow, rel=1e-9)
    level = flows.vessels["header"].level
    assert level is not None
    assert 2.05 < level < 2.15


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize("at", [0.02, 0.1, 0.2])
def test_a_dry_pipe_elsewhere_makes_no_flow_doubtful(at: float) -> None:
    """The head in the dry overflow hangs on nothing; the flows do not ask for it. Where a union stands, little differs."""
    text = (LAYOUTS / "tangle.yaml").read_text(encoding="utf-8")
    run = "      - west: 0.6 m\n      - cap: {id: side cap"
    assert text.count(run) == 1

    def filter_level(at: float) -> float:
        walk = run.replace("- west: 0.6 m", f"- west: {at} m\n      - union\n      - west: {0.6 - at:.2f} m")
        return find_flows(layout_of(text.replace(run, walk))).vessels["swirl filter"].level

    assert filter_level(at) == pytest.approx(filter_level(0.3), abs=1e-6)


TAP = """
  tap line:
    pipe: {bore: 15 mm, material: pvc}
    from: tap
    route: [{north: 1 m}]
    to: {draws: DRAWN L/min}
"""


@pytest.mark.second_method
@pytest.mark.parametrize("drawn", [0.05, 0.5, 2.0])
def test_water_drawn_off_that_nothing_makes_good_holds_the_sump_and_says_when_it_is_down(
    read_text: ReadText, drawn: float
) -> None:
    """No level is steady: the flows are those of the sump as written, and 1 m² × (0.8 − 0.1) m last so long at what is drawn."""
    text = PUMPED.replace("{east: 2 m}", "{east: 1 m}, {tee: tap}, {east: 1 m}") + DRAIN
    layout = read_text(text + TAP.replace("DRAWN", str(drawn)))
    flows = find_flows(layout)
    assert flows.vessels["tank"].outflow - flows.vessels["tank"].inflow == pytest.approx(drawn / LPM, rel=1e-6)
    (told,) = [one.message for one in judge(layout, flows, None) if one.kind == "not-returned"]
    hours = 0.7 * 1000.0 / drawn / 60.0
    assert told.endswith(f"to the intake in {hours:.0f} hours or so.")
    undrawn = read_text(text + TAP.replace("DRAWN", "0"))
    assert not [one for one in judge(undrawn, find_flows(undrawn), None) if one.kind == "not-returned"]


@pytest.mark.second_method
def test_what_a_drain_could_carry_asks_nothing_of_a_suction_line(read_text: ReadText) -> None:
    """The same bed fed by a pump in the tank and by one beside it, whose narrow suction line would not carry ten times as much: the
    drain carries the same to within what the feeds differ."""
    inside = read_text(PUMPED + DRAIN)
    beside = read_text(
        (PUMPED + DRAIN).replace("in: tank, height: 0.1 m, ", "")
        + """
  suction:
    pipe: {bore: 20 mm, material: pvc}
    from: {vessel: tank, height: 0.1 m}
    route: [{east: 0.3 m}]
    to: lift
"""
    )
    carries = [find_flows(one).vessels["bed"].carries for one in (inside, beside)]
    assert None not in carries
    assert carries[1] == pytest.approx(carries[0], rel=1e-3)


@pytest.mark.second_method
def test_a_coned_sump_lasts_as_long_as_its_cone_holds(read_text: ReadText) -> None:
    """Drawn on by 2 L/min: from 0.8 m down to the intake at 0.1 m, wide 0.2 m² at the floor and 1 m² at 0.8 m in a straight line,
    the mean of 0.3 and 1 m² over 0.7 m is 455 L."""
    text = PUMPED.replace("{east: 2 m}", "{east: 1 m}, {tee: tap}, {east: 1 m}") + DRAIN + TAP.replace("DRAWN", "2")
    layout = read_text(text.replace("area: 1 m^2", "area: [[0 m, 0.2 m^2], [0.8 m, 1 m^2]]", 1))
    (told,) = [one.message for one in judge(layout, find_flows(layout), None) if one.kind == "not-returned"]
    assert told.endswith(f"to the intake in {0.7 * (0.3 + 1.0) / 2.0 * 1000.0 / 2.0 / 60.0:.0f} hours or so.")


LIFTED = """
vessels:
  tank: {{holds: fish, base: 0.3 m, rim: 1.1 m, water: 0.95 m, area: 1.2 m^2}}
  bed: {{holds: plants, base: 0.7 m, rim: 0.32 m, water: {bed}, area: 2.2 m^2}}
  sump: {{holds: sump, base: -0.3 m, rim: {rim}, water: 0.6 m, area: 1.0 m^2}}
pumps: {{lift: {{in: sump, height: 0.1 m, curve: {{highest head: 3.5 m, largest flow: 66 L/min}}}}}}
lines:
  main: {{pipe: pvc 32, from: lift, route: [{{up: 1.5 m}}, tee: t1, {{up: 0.2 m}}, elbow, {{east: 1.5 m}}, ball valve: half, elbow, {{down: 0.1 m}}], to: bed}}
  to tank: {{pipe: pvc 25, from: t1, route: [{{west: 1.5 m}}, ball valve: half, elbow, {{down: 0.1 m}}], to: tank}}
  lifting pipe: {{pipe: dwv 50, from: {{vessel: tank, height: 0.03 m}}, route: [{{up: 0.92 m}}, tee: top, {{east: 1 m}}, elbow, {{down: 0.5 m}}], to: sump}}
  breather: {{pipe: dwv 50, from: top, route: [{{up: 0.2 m}}], to: open air}}
  drain: {{pipe: pvc 40, from: {{vessel: bed, standpipe: 0.22 m}}, route: [{{down: 0.7 m}}], to: sump}}
"""


@pytest.mark.invariant
@pytest.mark.parametrize(("bed", "rim"), [("0.05 m", "0.7 m"), ("0.22 m", "0.7 m"), ("0.05 m", "0.61 m")])
def test_no_water_is_lost_over_a_rim_by_a_siphon_that_a_breather_breaks(
    read_text: ReadText, bed: str, rim: str
) -> None:
    """Were the pipe full, it would take 500 L out of the tank in minutes, and the sump has no room for them. The breather sees to it that it
    does not, so that all the water there was is still there; the sump's rim is not reached on the way to where the levels stay."""
    layout = read_text(LIFTED.format(bed=bed, rim=rim))
    flows = find_flows(layout)
    gained = {
        name: (vessel.area or 0.0) * (flows.vessels[name].level - vessel.level)
        for name, vessel in layout.vessels.items()
    }
    assert 0.0 < gained["tank"] < 0.02
    assert math.fsum(gained.values()) == pytest.approx(0.0, abs=1e-5)


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize("hole", [4, 5, 6, 8])
def test_water_that_hardly_moves_is_no_long_work(hole: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where plain steps go round between the corners of one-way laws, shorter ways lead on before the slowest is tried; the hose's
    litre a minute goes over the bed's rim or back to the sump."""
    text = (Path(__file__).parent / "data" / "hard" / "weak_pump_and_hose.yaml").read_text(encoding="utf-8")
    laws, plain = [0], newton.evaluate

    def counted(*given: object, **more: object) -> object:
        laws[0] += 1
        return plain(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(newton, "evaluate", counted)
    flows = find_flows(layout_of(text.replace("hole: 6 mm", f"hole: {hole} mm")), margins=False)
    assert laws[0] < 500
    assert flows.ends["hose.to"].flow * LPM == pytest.approx(-1.0)
    assert sum(flows.vessels[name].inflow for name in ("filter", "bed")) * LPM <= 1.0
    assert flows.mass_residual < 1e-12
    assert flows.head_residual < 1e-8


@pytest.mark.invariant
def test_what_ran_over_before_a_valve_was_throttled_is_there_again() -> None:
    """Begun from flows in which a bed ran over, the water is still all that the file writes: the answer is that of a cold start."""
    text = PUMPED.replace("{up: 1.3 m}, elbow", "{up: 1.3 m}, elbow, {east: 1 m}, {ball valve: {id: v, opening: OPEN}}")
    text += DRAIN.replace("40 mm", "16 mm") if "bore: 40 mm" in DRAIN else DRAIN
    wide, throttled = (layout_of(text.replace("OPEN", opening)) for opening in ("100 %", "10 %"))
    before = settle(wide)
    cold, near = settle(throttled), settle(throttled, near=before)
    for name, got in cold.flows.vessels.items():
        assert near.flows.vessels[name].inflow == pytest.approx(got.inflow, rel=1e-8, abs=1e-12)
        assert near.flows.vessels[name].level == pytest.approx(got.level, abs=1e-7)


@pytest.mark.second_method
def test_vessels_hold_all_the_water_where_one_has_what_another_lacks() -> None:
    """1 m² of tank 1 cm lower is 2 m² of bed 5 mm higher; 1 mm more or less of either is water that ran away or came."""
    layout = layout_of(PUMPED)
    assert _holds_all(layout, {"tank": 0.79, "bed": 1.205})
    for lower, higher in ((0.789, 1.205), (0.79, 1.206), (0.79, 1.2)):
        assert not _holds_all(layout, {"tank": lower, "bed": higher})
