"""A drain that draws from a tank's floor and over a vented top: the solids go with the water, and the tank stays full."""

from __future__ import annotations

import pytest
from conftest import ReadText
from plain_mouths import brink_energy

from plumbline.check import check
from plumbline.errors import SolveError
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.how_sure import how_sure
from plumbline.layout.model import Layout

SYSTEM = """
water: 20 degC
vessels:
  sump: {base: -1 m, rim: 1 m, water: 0.6 m, area: 1 m^2}
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 3 m], [40 L/min, 0.5 m]]}
lines:
  riser:
    pipe: {bore: 40 mm, roughness: 0.0015 mm}
    from: lift
    route: [{up: 2.0 m}, elbow, {west: 0.5 m}]
    to: tank
  back:
    pipe: {bore: 47 mm, roughness: 0.0015 mm}
    from: {vessel: tank, height: 0.05 m}
    route: [{up: 0.75 m}, tee: top, {east: 0.5 m, down: 20 mm}, elbow, {down: 0.4 m}]
    to: sump
  vent:
    pipe: {bore: 47 mm, roughness: 0.0015 mm}
    from: top
    route: ROUTE
    to: open air
"""


@pytest.mark.invariant
def test_a_vent_that_looks_up_is_not_held_back(read_text: ReadText) -> None:
    found = check(read_text(SYSTEM.replace("ROUTE", "[up: 0.15 m]")))
    assert "held-back" not in {one.kind for one in found.findings}
    flows = found.flows
    assert flows.stretches["back.1"].flow == pytest.approx(flows.stretches["riser.1"].flow, rel=1e-9)
    assert flows.stretches["vent.1"].flow == 0.0
    # The water stands at the turn over the top, and not at the floor that it is drawn from.
    assert 0.8 <= flows.vessels["tank"].level < 0.86
    assert found.cut is not None
    assert "siphons-back" not in {one.kind for one in found.findings}


@pytest.mark.invariant
def test_an_end_that_looks_down_is_held_back(read_text: ReadText) -> None:
    found = check(read_text(SYSTEM.replace("ROUTE", "[{up: 0.15 m}, elbow, {north: 0.1 m}, elbow, {down: 0.1 m}]")))
    assert "held-back" in {one.kind for one in found.findings}


@pytest.mark.invariant
def test_without_its_vent_the_overflow_sucks_the_tank_down_at_a_power_cut(read_text: ReadText) -> None:
    vented = SYSTEM.replace("ROUTE", "[up: 0.15 m]")
    closed = vented.replace("to: open air", "to: cap")
    left: list[float | None] = []
    for text in (vented, closed):
        cut = check(read_text(text)).cut
        assert cut is not None
        left += [one.after for one in cut.vessels if one.vessel == "tank"]
    assert left[0] == pytest.approx(0.8, abs=0.03)
    assert left[1] is not None
    assert left[1] < 0.6


@pytest.mark.invariant
def test_water_that_is_lifted_does_not_gulp_like_a_drop(read_text: ReadText) -> None:
    layout = read_text(SYSTEM.replace("ROUTE", "[up: 0.15 m]"))
    flow = find_flows(layout).stretches["back.1"].flow
    told = [one for one in check(layout).findings if one.kind == "drain-gulps"]
    number = flow / (0.25 * 3.141592653589793 * 0.047**2) / (9.80665 * 0.047) ** 0.5
    assert 0.3 < number < 1.0
    assert [one.step for one in told] == [5]


@pytest.mark.slow(2)
@pytest.mark.invariant
def test_a_shut_leg_of_a_tee_costs_no_long_search(read_text: ReadText, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tee's loss has a kink where a leg that only lets water out carries none; plain Newton stalls there, and a march in time takes
    thirty times the work. All steps to the levels' rest take less than twice those of the same pipe with an elbow for the tee."""
    from plumbline.hydraulics import newton

    count = 0
    evaluate = newton.evaluate

    def counted(*args: object, **kwargs: object) -> newton.Point:
        nonlocal count
        count += 1
        return evaluate(*args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(newton, "evaluate", counted)
    text = SYSTEM.replace("ROUTE", "[up: 0.15 m]").replace("[40 L/min, 0.5 m]", "[FLOW L/min, 0.5 m]")
    plain = text.split("  vent:", maxsplit=1)[0].replace("tee: top, ", "elbow, ")
    for flow in range(20, 150, 10):
        count = 0
        flows = find_flows(read_text(text.replace("FLOW", str(flow))))
        assert flows.stretches["vent.1"].flow == 0.0
        with_vent, count = count, 0
        find_flows(read_text(plain.replace("FLOW", str(flow))))
        assert with_vent < 2 * count


GOOSENECK = """
water: 20 degC
vessels:
  sump: {base: 0 m, rim: 1 m, water: 0.6 m}
  bed: {base: 0 m, rim: 1 m, water: 0.3 m}
pumps: {lift: {in: sump, height: 0.1 m, curve: CURVE}}
lines:
  over: {pipe: {bore: 26 mm}, from: lift, route: [{up: 2 m}, elbow, {east: 0.4 m}, elbow, {down: 1.2 m}], to: bed}
"""


@pytest.mark.second_method
def test_a_gooseneck_too_slow_to_carry_its_air_is_no_siphon_and_said_to_be_in_doubt(read_text: ReadText) -> None:
    """With air at the top the pump lifts over its floor, 1.487 m, by the energy of the critical depth, 6.2 mm at 0.67 L/min:
    10 (1 − 1.4932/1.6) = 0.67 L/min, V/√(gD) 0.04, which carries no air down. Full, it would run at 0.3 to 1."""
    layout = read_text(GOOSENECK.replace("CURVE", "[[0 L/min, 1.6 m], [10 L/min, 0 m]]"))
    likely, held = find_flows(layout), find_flows(layout, siphons="held")
    assert likely.doubtful == {"over.1"}
    assert likely.pumps["lift"].flow * 60_000 == pytest.approx(0.668, rel=0.01)
    number = held.pumps["lift"].flow / (0.25 * 3.141592653589793 * 0.026**2) / (9.80665 * 0.026) ** 0.5
    assert 0.3 < number < 1.0
    strong = find_flows(read_text(GOOSENECK.replace("CURVE", "[[0 L/min, 4 m], [60 L/min, 0 m]]")))
    assert strong.doubtful == set()


@pytest.mark.second_method
def test_a_gooseneck_that_would_run_fast_but_begins_slow_is_in_doubt(read_text: ReadText) -> None:
    """With air at the top, its floor and the energy of the critical depth, 12.4 mm, are, friction aside, 1.4994 m over the sump: 40 (1 − 1.4994/1.6) = 2.52 L/min,
    V/√(gD) 0.16, which carries no air down. Full it runs at more than 1, so the range holds both, and 1.5 L/min, of which either is more, is enough all the same."""
    layout = read_text(GOOSENECK.replace("CURVE", "[[0 L/min, 1.6 m], [40 L/min, 0 m]]"))
    likely, held, broken = (find_flows(layout, siphons=said) for said in ("likely", "held", "broken"))
    assert likely.doubtful == {"over.1"}
    assert likely.pumps["lift"].flow == broken.pumps["lift"].flow
    assert likely.pumps["lift"].flow * 60_000 == pytest.approx(2.516, rel=0.03)
    number = held.pumps["lift"].flow / (0.25 * 3.141592653589793 * 0.026**2) / (9.80665 * 0.026) ** 0.5
    assert number > 1.0
    wanted = GOOSENECK.replace("CURVE", "[[0 L/min, 1.6 m], [40 L/min, 0 m]]").replace(
        "water: 0.3 m}", "water: 0.3 m, wants: 10 L/min}"
    )
    sure = how_sure(read_text(wanted)).vessels["bed"]
    assert sure.inflow.low < likely.pumps["lift"].flow < held.pumps["lift"].flow < sure.inflow.high
    assert sure.word not in ("surely", "probably")


@pytest.mark.invariant
def test_of_two_goosenecks_only_the_one_that_begins_slow_is_in_doubt(read_text: ReadText) -> None:
    """Each by its own pump: the strong one sweeps its air out from the start."""
    text = GOOSENECK.replace(
        "pumps: {lift: {in: sump, height: 0.1 m, curve: CURVE}}",
        """pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 1.6 m], [40 L/min, 0 m]]}
  strong: {in: sump, height: 0.1 m, curve: [[0 L/min, 4 m], [60 L/min, 0 m]]}""",
    )
    layout = read_text(
        text + text.splitlines()[-1].replace("over:", "other:").replace("from: lift", "from: strong") + "\n"
    )
    assert find_flows(layout).doubtful == {"over.1"}
    assert find_flows(layout, siphons="broken").stretches["other.1"].vented is False


@pytest.mark.second_method
def test_a_gooseneck_over_the_pumps_highest_head_gives_nothing_and_is_told_once(read_text: ReadText) -> None:
    """From 0.6 m a pump of 1.4 m lifts to 2.0 m, and the axis lies at 2.1 m."""
    found = check(read_text(GOOSENECK.replace("CURVE", "[[0 L/min, 1.4 m], [40 L/min, 0 m]]")))
    assert found.flows.pumps["lift"].flow == 0.0
    assert {one.kind for one in found.findings} & {"cannot-fill", "pump-shut-off"} == {"cannot-fill"}


DRAWN = """
water: 20 degC
vessels:
  sump: {base: 0 m, rim: 1 m, water: 0.6 m}
  bed: {base: 0 m, rim: 1 m, water: 0.3 m}
pumps: {lift: {in: sump, height: 0.1 m, curve: [[0 L/min, HEAD m], [40 L/min, 0 m]]}}
lines:
  main: {pipe: {bore: 40 mm}, from: lift, route: [{up: 2 m}, elbow, {east: 0.5 m}, {tee: {id: t, K: 0}}, {east: 0.4 m, down: FALL m}, {tee: {id: u, K: 0}}, {up: 3 m}], to: open air}
  over: {pipe: {bore: 20 mm}, from: t, route: [{north: 0.3 m}, elbow, {down: 1.4 m}], to: bed}
  hose: {pipe: {bore: 20 mm}, from: u, route: [{north: 0.1 m}, elbow, {up: RISE m}], to: {draws: 1 L/min}}
"""


def drawn(read_text: ReadText, head: float, fall: float = 0.01, rise: float = 0.01) -> Layout:
    return read_text(DRAWN.replace("HEAD", str(head)).replace("FALL", str(fall)).replace("RISE", str(rise)))


@pytest.mark.second_method
def test_a_draw_beyond_air_gets_its_water_where_it_comes_up_to_it(read_text: ReadText) -> None:
    """A vent lets air to a tee whose spur falls; beyond it 1 L/min is drawn off. The water at the tee stands as high as the spur asks:
    its floor, 2.09 m, and the energy of the critical depth of what falls, friction aside: a pump of 40 (1 − (H − 0.6)/2) L/min against that."""
    flows = find_flows(drawn(read_text, 2.0))
    falls = 0.0
    for _ in range(50):
        falls = 40 * (1 - (1.49 + brink_energy(falls / 60_000, 0.02)) / 2.0) - 1.0
    assert flows.stretches["hose.1"].flow * 60_000 == pytest.approx(1.0, rel=1e-9)
    assert flows.stretches["over.1"].vented
    assert flows.stretches["over.1"].flow * 60_000 == pytest.approx(falls, rel=0.05)
    assert flows.pumps["lift"].flow == pytest.approx(flows.stretches["over.1"].flow + 1 / 60_000, rel=1e-9)


@pytest.mark.invariant
def test_a_draw_over_the_water_that_falls_before_it_is_refused_with_the_reason(read_text: ReadText) -> None:
    with pytest.raises(
        SolveError, match=r"air is in the pipe, and the water stands 0.4.* m too low to run on by stretch 'hose.1'"
    ):
        find_flows(drawn(read_text, 2.4, rise=0.5))


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_a_draw_that_no_pump_lifts_to_is_refused_with_the_reason(read_text: ReadText) -> None:
    with pytest.raises(SolveError, match="drawn off at the end of line 'hose', and none comes there"):
        find_flows(drawn(read_text, 1.4))


@pytest.mark.second_method
@pytest.mark.parametrize("tall", [0.3, 0.6])
def test_in_a_vent_at_a_risers_top_water_stands_no_higher_than_over_the_way_on(
    read_text: ReadText, tall: float
) -> None:
    """20 L/min in 21 mm go on over half a metre of level pipe and fall: 4 times V²/2g, 0.97 m/s, friction and the turn, 0.1 m at the most, are what stands in
    the vent. However tall it is there is no more in it, which is no dead leg of six bores."""
    text = f"""
vessels:
  bed: {{base: 0.8 m, rim: 0.35 m, water: 0.2 m, area: 1 m^2}}
  sump: {{base: 0 m, rim: 0.9 m, water: 0.5 m, area: 1 m^2}}
pumps: {{lift: {{in: sump, height: 0.05 m, curve: [[0 L/min, 60 m], [19.9 L/min, 8 m], [20.1 L/min, 0 m]]}}}}
lines:
  riser:
    pipe: pvc 25
    from: lift
    route: [{{up: 1.95 m}}, elbow, {{east: 0.5 m}}, tee: top, {{east: 0.5 m}}, elbow, {{down: 0.95 m}}]
    to: bed
  vent: {{pipe: pvc 20, from: top, route: [{{up: {tall} m}}], to: open air}}
  back: {{pipe: pvc 50, from: {{vessel: bed, standpipe: 0.2 m}}, route: [{{down: 0.6 m}}], to: sump}}
"""
    result = check(read_text(text))
    assert 0.0 < result.flows.stretches["vent.1"].head_tail - 2.0 < 0.1
    assert not [one for one in result.findings if one.kind in ("standing-water", "dead-leg")]
