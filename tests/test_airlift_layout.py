"""An airlift in a layout: how it is written, what it gives, what is said of it, and what happens when its air stops."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from scipy.optimize import brentq

from plumbline import LayoutError, catalogue, check, read_layout
from plumbline.cli import main
from plumbline.diagnose.faulty import with_curve
from plumbline.diagnose.places import Place, predicted, spread
from plumbline.hydraulics.airlift import free_flow, isothermal_power, riser_heads
from plumbline.hydraulics.airlift_duty import airlift_duty, sensitivities, settled
from plumbline.hydraulics.airlift_plan import plan_airlift
from plumbline.hydraulics.find import find_flows, nearby, settle
from plumbline.hydraulics.friction import friction_loss
from plumbline.hydraulics.how_sure import how_sure
from plumbline.hydraulics.power_cut import power_cut
from plumbline.hydraulics.pumping import compare_pumps, least_speed
from plumbline.hydraulics.risers import air_power, airlift_curve, as_riser, curve_of, power_of, surroundings
from plumbline.layout.model import Airlift, Layout, Pipe
from plumbline.layout.schema import layout_schema
from plumbline.redesign.drawer import Drawer
from plumbline.redesign.sheet import Stays
from plumbline.report.words import duty_words

ReadText = Callable[[str], Layout]
LAYOUTS = Path(__file__).parent.parent / "layouts"
AIR = "{air: 9 L/min, riser: pvc 40, length: 0.87 m}"
TEXT = """
    water: 22 degC
    vessels:
      barrel: {base: 0 m, rim: 1.0 m, water: 0.85 m, area: 0.7 m^2}
      raft: {base: 0.66 m, rim: 0.30 m, water: 0.24 m, area: 1.5 m^2, wants: 12 L/min}
    pumps:
      bubbler: {in: barrel, height: 0.97 m, airlift: AIR}
    lines:
      over: {pipe: pvc 40, from: bubbler, route: [ROUTE], to: raft}
      back:
        pipe: pvc 63
        from: {vessel: raft, standpipe: 0.24 m}
        route: [{down: 0.2 m}, elbow, {west: 0.6 m, down: 20 mm}]
        to: barrel
"""


def raft(air: str = AIR, route: str = "{east: 0.6 m, down: 6 mm}", **more: str) -> str:
    text = TEXT.replace("AIR", air).replace("ROUTE", route)
    for old, new in more.items():
        text = text.replace(old.replace("_", " "), new)
    return text


def faults(read_text: ReadText, text: str) -> str:
    with pytest.raises(LayoutError) as caught:
        read_text(text)
    return str(caught.value)


# ---------------------------------------------------------------------- reading


@pytest.mark.second_method
def test_an_airlift_is_read(read_text: ReadText) -> None:
    pump = read_text(raft()).pumps["bubbler"]
    assert pump.airlift is not None
    assert pump.airlift.air == pytest.approx(9 / 60_000)
    assert pump.airlift.riser.name == "pvc 40"
    assert pump.airlift.depth == pytest.approx(0.75)
    assert pump.intake == pytest.approx(0.10)
    assert pump.vessel == "barrel"


@pytest.mark.second_method
def test_its_curve_is_the_risers(read_text: ReadText) -> None:
    layout = read_text(raft())
    pump = layout.pumps["bubbler"]
    assert pump.airlift is not None
    assert curve_of(layout, pump) == airlift_curve(pump.airlift, surroundings(layout.water, 0.0))
    assert check(layout).flows.pumps["bubbler"].curve == curve_of(layout, pump)
    high = read_text("altitude: 2000 m\n" + raft().replace("\n    ", "\n"))
    assert curve_of(high, high.pumps["bubbler"]) != curve_of(layout, pump)


@pytest.mark.second_method
def test_its_power_is_estimated_and_said_so(read_text: ReadText) -> None:
    layout = read_text(raft())
    pump = layout.pumps["bubbler"]
    still = layout.water.density * 9.80665 * 0.75
    power = float(isothermal_power(9 / 60_000, still + 2000.0, 101_325.0)) / 0.20
    assert power_of(layout, pump) == check(layout).flows.pumps["bubbler"].power == pytest.approx(power)
    (said,) = [one for one in check(layout).defaults if one.where == "pump 'bubbler'"]
    assert said.what == "7 W, an estimate for its air pump from air and depth"
    stated = read_text(raft().replace("airlift:", "power: 12 W, airlift:"))
    assert check(stated).flows.pumps["bubbler"].power == 12.0
    assert not [one for one in check(stated).defaults if one.where == "pump 'bubbler'"]


@pytest.mark.invariant
def test_the_range_of_its_power_brackets_the_estimate(read_text: ReadText) -> None:
    layout = read_text(raft())
    airlift = layout.pumps["bubbler"].airlift
    assert airlift is not None
    power = air_power(airlift, surroundings(layout.water, 0.0))
    assert power.low < power.likely < power.high
    assert power.pressure == pytest.approx(layout.water.density * 9.80665 * 0.75 + 2000.0)
    assert power.high / power.low == pytest.approx(3.0, rel=0.45)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("old", "new", "said", "expected"),
    [
        ("air: 9 L/min", "air: 0 L/min", "'air' is 0 L/min", "a value above 0"),
        ("air: 9 L/min", "air: -1 L/min", "'air' is -1 L/min", "a value above 0"),
        (
            "air: 9 L/min, ",
            "",
            "the airlift 'bubbler' has no 'air'",
            "'air', free air, as an air pump's sheet gives it at the depth of the inlet, for instance air: 20 L/min",
        ),
        (
            "riser: pvc 40, ",
            "",
            "the airlift 'bubbler' has no 'riser'",
            "'riser', the pipe that air and water rise in, for instance riser: pvc 40",
        ),
        ("riser: pvc 40", "riser: pvc 41", "unknown pipe 'pvc 41'", "a pipe of the catalogue"),
        (
            "length: 0.87 m",
            "length: 1.2 m",
            "the air inlet of the airlift 'bubbler' lies 0.23 m below the floor of 'barrel'",
            "a length of at most its height, 0.97 m",
        ),
        (
            "length: 0.87 m",
            "length: 0.1 m",
            "the air inlet of the airlift 'bubbler' is above the water of 'barrel'",
            "a length of more than 0.12 m: the inlet has to be well under the water",
        ),
        (
            "height: 0.97 m, ",
            "",
            "the airlift 'bubbler' has no 'height'",
            "'height', of the riser's top above the vessel's floor",
        ),
        (
            "height: 0.97 m",
            "height: 0.80 m",
            "the top of the airlift 'bubbler' is under the water of 'barrel'",
            "a height above 0.85 m: the air has to leave where the water runs out",
        ),
        ("in: barrel, ", "", "the airlift 'bubbler' has no 'in'", "'in', the vessel that its riser stands in"),
        (
            "airlift:",
            "curve: [[0 L/min, 3 m], [40 L/min, 1 m]], airlift:",
            "the airlift 'bubbler' has a 'curve'",
            "no 'curve': its riser and its air make it",
        ),
        ("airlift:", "speed: 80 %, airlift:", "the airlift 'bubbler' has a 'speed'", "no 'speed': an airlift has none"),
        ("airlift:", "npsh: 2 m, airlift:", "the airlift 'bubbler' has a 'npsh'", "no 'npsh': an airlift has none"),
        (
            f"airlift: {AIR}",
            "power: 5 W",
            "pump 'bubbler' has no 'curve'",
            "'curve', points of flow and head, or what its box prints; needed, but for an airlift, for instance curve: [[0 L/min, 3 m], [40 L/min, 0.6 m]]",
        ),
        (AIR, "20 L/min", "the airlift 'bubbler' is '20 L/min'", "a group of values: air, riser and length"),
    ],
)
def test_what_is_wrong_is_said(read_text: ReadText, old: str, new: str, said: str, expected: str) -> None:
    text = raft()
    assert old in text
    told = faults(read_text, text.replace(old, new))
    assert said in told
    assert f"expected {expected}" in told


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("air: 9 L/min, ", ""),
        ("length: 0.87 m", "length: 1.2 m"),
        ("height: 0.97 m, ", ""),
        ("in: barrel, ", ""),
        ("riser: pvc 40", "riser: pvc 41"),
        ("water: 0.85 m", "water: 0.85"),
    ],
)
def test_one_slip_makes_one_fault(read_text: ReadText, old: str, new: str) -> None:
    assert faults(read_text, raft().replace(old, new)).count("expected ") == 1


@pytest.mark.invariant
@pytest.mark.parametrize(
    "air",
    [
        "{air: 6000 L/min, riser: pvc 20, length: 0.87 m}",
        "{air: 0.0001 L/min, riser: pvc 110, length: 0.87 m}",
        "{air: 9 L/min, riser: {bore: 1 mm}, length: 0.87 m}",
        "{air: 9 L/min, riser: {bore: 3 m}, length: 0.97 m}",
        "{air: 400 L/min, riser: pvc 40, length: 0.121 m}",
    ],
)
def test_the_oddest_airlift_is_checked_without_a_slip(read_text: ReadText, air: str) -> None:
    result = check(read_text(raft(air)))
    assert np.isfinite(result.flows.pumps["bubbler"].flow)


@pytest.mark.invariant
def test_the_schema_takes_a_curve_or_an_airlift_and_not_both() -> None:
    schema = Draft202012Validator(layout_schema())
    pump: dict[str, Any] = {
        "in": "barrel",
        "height": "0.97 m",
        "airlift": {"air": "9 L/min", "riser": "pvc 40", "length": "0.87 m"},
    }
    layout = {"pumps": {"bubbler": pump}, "lines": {"over": {"from": "bubbler", "to": "open air"}}}
    assert schema.is_valid(layout)
    both = {**pump, "curve": [["0 L/min", "3 m"], ["40 L/min", "1 m"]]}
    assert not schema.is_valid({**layout, "pumps": {"bubbler": both}})
    assert not schema.is_valid({**layout, "pumps": {"bubbler": {"in": "barrel"}}})
    assert not schema.is_valid({**layout, "pumps": {"bubbler": {**pump, "airlift": {"air": "9 L/min"}}}})


# ---------------------------------------------------------------------- what it gives


@pytest.mark.second_method
def test_the_duty_point_is_where_riser_and_pipe_meet(read_text: ReadText) -> None:
    """Against one equation in one unknown: the riser's head is the lift, the pipe's friction and its velocity head."""
    layout = read_text(raft())
    airlift = layout.pumps["bubbler"].airlift
    assert airlift is not None
    riser = as_riser(airlift, surroundings(layout.water, 0.0))
    pipe = layout.lines["over"].parts[0]
    found = find_flows(layout)
    level = found.vessels["barrel"].level
    assert level < 0.85, "what the raft stands above its standpipe's lip by has come out of the barrel"

    def missing(q: float) -> float:
        lost, _ = friction_loss(
            q, pipe.pipe.bore, pipe.length, pipe.pipe.roughness, layout.water.viscosity / layout.water.density, 9.80665
        )
        speed = (q / (0.25 * np.pi * pipe.pipe.bore**2)) ** 2 / (2 * 9.80665)
        return float(riser_heads(q, airlift.air, **riser).head) - (0.97 - 0.006 - level) - float(lost) - speed

    bubbler = found.pumps["bubbler"]
    assert bubbler.flow == pytest.approx(brentq(missing, 1e-6, 1e-3), rel=1e-3)
    assert bubbler.state == "on curve"


@pytest.mark.invariant
def test_a_pipe_that_falls_away_draws_no_more_out_of_an_open_top(read_text: ReadText) -> None:
    falls = read_text(raft(route="{east: 0.6 m, down: 60 mm}"))
    airlift = falls.pumps["bubbler"].airlift
    assert airlift is not None
    free = free_flow(airlift.air, **as_riser(airlift, surroundings(falls.water, 0.0)))
    result = check(falls)
    assert free < result.flows.pumps["bubbler"].flow < 1.005 * free
    assert not [one for one in result.findings if one.kind == "pump-run-out"]


@pytest.mark.invariant
def test_more_air_gives_more_water_until_it_gives_less(read_text: ReadText) -> None:
    flows = [
        find_flows(read_text(raft(AIR.replace("9 L", f"{air} L")))).pumps["bubbler"].flow
        for air in (3, 9, 30, 100, 300, 900)
    ]
    best = int(np.argmax(flows))
    assert 2 <= best <= 4
    assert flows[: best + 1] == sorted(flows[: best + 1])
    assert flows[best:] == sorted(flows[best:], reverse=True)


@pytest.mark.second_method
def test_its_flow_is_unsure_by_a_third(read_text: ReadText) -> None:
    layout = read_text(
        raft(route="{east: 0.6 m, down: 60 mm}")
    )  # the open top runs free, so that the pipe matters little
    sure = how_sure(layout).pumps["bubbler"].flow
    assert sure.sigma / sure.value == pytest.approx(0.60 / 3**0.5, rel=0.03)
    assert sure.causes[0].what == "the curve of pump 'bubbler'"
    own = read_text("how sure: {airlift: 10 %}\n" + raft(route="{east: 0.6 m, down: 60 mm}").replace("\n    ", "\n"))
    assert how_sure(own).pumps["bubbler"].flow.sigma == pytest.approx(sure.sigma * 10 / 60, rel=0.1)


@pytest.mark.invariant
def test_what_still_water_it_holds_up_is_not_unsure(read_text: ReadText) -> None:
    """At no flow an error of the flow is none: a lift above its highest head stays one."""
    layout = read_text(raft(AIR.replace("9 L", "1 L"), route="{up: 0.5 m}, elbow, {east: 0.6 m}"))
    assert find_flows(layout).pumps["bubbler"].state == "shut-off"
    working = read_text(raft())
    names = [one.name for one in how_sure(working).numbers]
    assert "the curve of pump 'bubbler', its flow" in names
    assert "the curve of pump 'bubbler', its head" not in names


# ---------------------------------------------------------------------- what is said of it


def kinds(layout: Layout) -> dict[str, str]:
    return {one.kind: one.message for one in check(layout).findings}


@pytest.mark.pinned
def test_its_model_is_always_mentioned(read_text: ReadText) -> None:
    said = kinds(read_text(raft()))["airlift-curve"]
    assert said.startswith(
        "What airlift 'bubbler' gives is a model's, which was a third off measured ones (root mean square): "
    )
    # The raft takes 27 mm more than at rest out of the barrel: 0.75 m of depth less that, over 0.87 m.
    assert "a submergence of 83% of the riser is not among those that were tested" in said
    plain = read_text(raft("{air: 9 L/min, riser: {bore: 25 mm}, length: 0.36 m}"))
    assert "tested;" not in kinds(plain)["airlift-curve"].replace("the one short riser that was tested", "")
    assert "how sure" not in said


@pytest.mark.invariant
def test_nothing_of_it_is_said_of_a_pump(read_text: ReadText) -> None:
    said = kinds(read_layout(LAYOUTS / "courtyard.yaml"))
    assert "airlift-curve" not in said
    assert "too-much-air" not in said


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("air", "too_much"), [("9 L/min", False), ("60 L/min", False), ("110 L/min", False), ("400 L/min", True)]
)
def test_too_much_air_is_said_past_the_best(read_text: ReadText, air: str, too_much: bool) -> None:
    layout = read_text(raft(AIR.replace("9 L/min", air)))
    assert ("too-much-air" in kinds(layout)) is too_much
    duty = airlift_duty(layout, find_flows(layout), "bubbler")
    assert duty.past_best is too_much
    flows = find_flows(layout)
    riser = as_riser(duty.airlift, surroundings(layout.water, 0.0))
    less, now = riser_heads(flows.pumps["bubbler"].flow, [0.9 * duty.airlift.air, duty.airlift.air], **riser).head
    assert (less > now) is np.bool_(too_much)


@pytest.mark.pinned
def test_too_little_air_moves_nothing_and_is_told_to_go_deeper(read_text: ReadText) -> None:
    result = check(read_text(raft(AIR.replace("9 L", "0.5 L"))))
    (found,) = [one for one in result.findings if one.kind == "pump-shut-off"]
    assert found.message.startswith(
        "By its model airlift 'bubbler' moves no water: with no flow the mixture holds up 0.0"
    )
    assert found.cure == "air let in deeper, or 'bubbler' lower; more air lifts higher only up to a point"


@pytest.mark.second_method
def test_regime_efficiency_and_air_are_those_of_the_riser(read_text: ReadText) -> None:
    layout = read_text(raft())
    flows = find_flows(layout)
    duty = airlift_duty(layout, flows, "bubbler")
    level = flows.stands(layout.vessels["barrel"])
    rho_g = layout.water.density * 9.80665
    assert duty.regime == "slug"
    assert duty.lift == pytest.approx(0.97 - level)
    assert duty.stands == pytest.approx(max(duty.head - (0.97 - level), 0.0), abs=1e-9)
    assert duty.efficiency == pytest.approx(
        rho_g * duty.flow * duty.head / float(isothermal_power(9 / 60_000, rho_g * (level - 0.10), 101_325.0))
    )
    assert 0.0 < duty.foot < duty.top < 0.83


@pytest.mark.second_method
@pytest.mark.parametrize("fill", ["0.24 m", "0.20 m"])
def test_the_water_in_the_open_top_stands_as_high_as_the_line_s_head(read_text: ReadText, fill: str) -> None:
    """What the raft takes to run over is missing in the barrel: 1.5 m² of 0.04 m and more out of 0.7 m². The head at which the line
    begins is the top's own height and what stands over it."""
    layout = read_text(raft().replace("water: 0.24 m, area: 1.5", f"water: {fill}, area: 1.5"))
    flows = find_flows(layout)
    duty = airlift_duty(layout, flows, "bubbler")
    fell = layout.vessels["barrel"].level - flows.stands(layout.vessels["barrel"])
    assert duty.airlift.depth == pytest.approx(0.75 - fell, abs=1e-9)
    assert (fell > 0.08) is (fill == "0.20 m")
    assert duty.stands == pytest.approx(max(flows.ends["over.from"].head - 0.97, 0.0), abs=1e-6)
    view = duty_words(settled(layout, flows, "bubbler"), flows.pumps["bubbler"], layout.units)
    assert f"{duty.airlift.depth:.2f} m under the water" in view


@pytest.mark.pinned
def test_a_stated_power_goes_before_the_estimate(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "raft.yaml"
    for power, said in (
        ("", "from the mains about"),
        (", power: 30 W", "from the mains 30 W, as the file states; estimated, about"),
    ):
        path.write_text(raft(AIR + power).replace("\n    ", "\n"), encoding="utf-8")
        assert main(["airlift", str(path)]) == 0
        assert said in " ".join(capsys.readouterr().out.split())


@pytest.mark.second_method
def test_sensitivities_are_those_of_layouts_written_out(read_text: ReadText) -> None:
    layout = read_text(raft("{air: 9 L/min, riser: pvc 40, length: 0.77 m}"))
    rows = {one.change: one for one in sensitivities(layout, find_flows(layout), "bubbler")}
    written = {
        "10 % more air": "{air: 9.9 L/min, riser: pvc 40, length: 0.77 m}",
        "air inlet 10 % deeper": "{air: 9 L/min, riser: pvc 40, length: 0.835 m}",
        "riser of pvc 32": "{air: 9 L/min, riser: pvc 32, length: 0.77 m}",
        "riser of pvc 50": "{air: 9 L/min, riser: pvc 50, length: 0.77 m}",
    }
    assert set(rows) == set(written)
    for change, air in written.items():
        assert rows[change].flow == pytest.approx(find_flows(read_text(raft(air))).pumps["bubbler"].flow, rel=1e-9)


@pytest.mark.pinned
def test_a_floor_in_the_way_of_a_deeper_inlet_is_told(read_text: ReadText) -> None:
    layout = read_text(raft("{air: 9 L/min, riser: {bore: 36 mm}, length: 0.95 m}"))
    rows = {one.change: one for one in sensitivities(layout, find_flows(layout), "bubbler")}
    assert rows["air inlet 10 % deeper"].flow is None
    assert rows["air inlet 10 % deeper"].why == "the floor is in the way"
    assert rows["riser a fifth narrower"].flow != rows["riser a fifth wider"].flow


# ---------------------------------------------------------------------- with the air off

BACK = """
    water: 22 degC
    vessels:
      barrel: {base: 0 m, rim: 1.0 m, water: 0.60 m, area: 20 m^2}
      raft: {base: 0.50 m, rim: 0.60 m, water: 0.35 m, area: 1.5 m^2}
    pumps:
      PUMP
    lines:
      over: {pipe: pvc 40, from: mover, route: [ROUTE], to: raft}
      back:
        pipe: pvc 63
        from: {vessel: raft, standpipe: 0.35 m}
        route: [{down: 0.1 m}, elbow, {west: 0.6 m, down: 20 mm}]
        to: barrel
"""
"""Water in the raft stands 0.85 m up, the end of the pipe that feeds it 0.55 m, and the airlift's open top 0.75 m."""


@pytest.mark.second_method
def test_an_open_riser_siphons_down_to_its_top_and_no_lower(read_text: ReadText) -> None:
    """With the air off the raft runs back over the open top, whose pipe goes off level 0.75 m up and lets still water go down to its floor, half a
    bore lower; a submersible pump's pipe, over the same height, goes on as a siphon until its end comes out at 0.55 m."""
    bubbles = "mover: {in: barrel, height: 0.75 m, airlift: {air: 20 L/min, riser: pvc 40, length: 0.65 m}}"
    pump = "mover: {in: barrel, height: 0.05 m, curve: [[0 L/min, 1 m], [40 L/min, 0.2 m]]}"
    after, bore = {}, 0.0
    for word, what, route in (
        ("airlift", bubbles, "{east: 0.6 m}, elbow, {down: 0.2 m}"),
        ("pump", pump, "{up: 0.7 m}, elbow, {east: 0.6 m}, elbow, {down: 0.2 m}"),
    ):
        layout = read_text(BACK.replace("PUMP", what).replace("ROUTE", route))
        cut = power_cut(layout, find_flows(layout))
        (row,) = [one for one in cut.vessels if one.vessel == "raft"]
        assert row.after is not None
        after[word], bore = row.after, layout.lines["over"].parts[0].pipe.bore
    assert after["airlift"] == pytest.approx(0.75 - bore / 2.0, abs=0.0005)
    assert after["pump"] < 0.70


@pytest.mark.invariant
def test_with_the_air_off_no_water_comes_up_a_riser(read_text: ReadText) -> None:
    """A vessel lower than the riser's top gets nothing; a higher one gives water over it."""
    layout = read_text(raft(route="{east: 0.6 m, down: 60 mm}"))
    flows = find_flows(layout)
    still = find_flows(layout, levels={"raft": 0.90, "barrel": 0.85}, stopped=True)
    assert flows.stretches["over.1"].flow > 0.0
    assert still.stretches["over.1"].flow == 0.0
    route = "{east: 0.6 m}, elbow, {down: 0.2 m}"
    mover = "mover: {in: barrel, height: 0.75 m, airlift: {air: 20 L/min, riser: pvc 40, length: 0.65 m}}"
    high = read_text(BACK.replace("PUMP", mover).replace("ROUTE", route))
    cut_off = BACK.replace("pumps:\n      PUMP", "").replace("from: mover", "from: {open air: yes, height: 0.75 m}")
    levels = {"raft": 0.85, "barrel": 0.60}
    back = find_flows(high, levels=levels, stopped=True).stretches["over.1"].flow
    open_end = (
        find_flows(read_text(cut_off.replace("ROUTE", route)), levels=levels, stopped=True).stretches["over.1"].flow
    )
    assert back < 0.0
    assert back == pytest.approx(open_end, rel=1e-6)


# ---------------------------------------------------------------------- among pumps


@pytest.mark.invariant
def test_no_speed_is_sought_for_an_airlift_and_no_pump_tried_in_its_place(read_text: ReadText) -> None:
    text = raft().replace(
        "    lines:", "      spare: {in: barrel, curve: [[0 L/min, 1 m], [40 L/min, 0.2 m]]}\n    lines:"
    )
    layout = read_text(text)
    assert least_speed(layout, "bubbler") is None
    (one,) = compare_pumps(layout)
    assert [trial.pump for trial in one.trials] == ["bubbler"]
    twin = text.replace(
        "spare: {in: barrel, curve: [[0 L/min, 1 m], [40 L/min, 0.2 m]]}",
        "spare: {in: barrel, height: 0.97 m, airlift: {air: 12 L/min, riser: pvc 40, length: 0.87 m}}",
    )
    (one,) = compare_pumps(read_text(twin))
    assert [trial.pump for trial in one.trials] == ["bubbler", "spare"]
    assert one.trials[1].duty is not None
    assert one.trials[0].duty is not None
    assert one.trials[1].duty.flow > one.trials[0].duty.flow


# ---------------------------------------------------------------------- in the place of a pump

LOW = """
    water: 20 degC
    vessels:
      tank: {base: 0 m, rim: 1.0 m, water: WATER m, area: 1 m^2}
      bed: {base: 0.7 m, rim: 0.3 m, water: 0.15 m, area: 1 m^2, wants: 10 L/min}
    pumps:
      lift: {in: tank, height: 0.05 m, power: POWER W, curve: [[0 L/min, 1.5 m], [40 L/min, 0.1 m]]}
    lines:
      riser: {pipe: pvc 40, from: lift, route: [{up: 0.95 m}, elbow, {east: 0.5 m}, ball valve: 40 %], to: bed}
      back: {pipe: pvc 63, from: {vessel: bed, standpipe: 0.15 m}, route: [{down: 0.3 m}, elbow, {west: 0.5 m, down: 20 mm}], to: tank}
"""


def low(water: str = "0.9", power: str = "25") -> str:
    return LOW.replace("WATER", water).replace("POWER", power)


@pytest.mark.second_method
@pytest.mark.slow
def test_the_least_air_is_the_least(read_text: ReadText) -> None:
    """By free flow over a riser of that height, scanned anew: with that air the flow comes, with 2 % less it does not, and with
    none of many lesser airs."""
    layout = read_text(low())
    flows = find_flows(layout)
    plan = plan_airlift(layout, flows, "lift")
    assert plan.as_piped is not None
    assert plan.depth == pytest.approx(0.85)
    assert plan.as_piped.head == flows.pumps["lift"].head
    able = [one for one in plan.as_piped.options if one.airlift is not None]
    assert len(able) >= 3
    for one in able:
        assert one.airlift is not None
        riser = as_riser(one.airlift, surroundings(layout.water, 0.0))
        assert riser["length"] == pytest.approx(0.85 + plan.as_piped.head)
        assert free_flow(one.airlift.air, **riser) == pytest.approx(plan.flow, rel=2e-3)
        lesser = [free_flow(float(air), **riser) for air in one.airlift.air * np.linspace(0.02, 0.98, 25)]
        assert max(lesser) < plan.flow
        assert riser_heads(plan.flow, one.airlift.air, **riser).top <= 0.75


@pytest.mark.invariant
@pytest.mark.slow
def test_no_size_is_said_to_do_it_with_air_that_breaks_up_its_slugs() -> None:
    layout = read_layout(LAYOUTS / "marginal_pump.yaml")
    plan = plan_airlift(layout, find_flows(layout), "old pump", depth=0.6)
    case = plan.as_piped
    assert case is not None
    around = surroundings(layout.water, layout.altitude)
    froth = [one for one in case.options if one.airlift is None and one.most > plan.flow]
    assert froth
    for one in froth:
        riser = as_riser(Airlift(0.0, one.pipe, plan.depth + case.head, plan.depth), around)
        airs = np.geomspace(0.02, 30.0, 400) * 0.25 * np.pi * one.pipe.bore**2
        found = riser_heads(plan.flow, airs, **riser)
        enough = found.head >= case.head
        assert enough.any()
        assert (found.top[enough] > 0.75).all()


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_the_best_riser_takes_the_least_power(read_text: ReadText) -> None:
    plan = plan_airlift(layout := read_text(low()), find_flows(layout), "lift")
    assert plan.as_piped is not None
    assert plan.as_piped.best is not None
    assert plan.as_piped.best.power is not None
    powers = [one.power.likely for one in plan.as_piped.options if one.power is not None]
    assert plan.as_piped.best.power.likely == min(powers)
    low_, likely, high = plan.as_piped.best.energy
    assert likely == pytest.approx(plan.as_piped.best.power.likely * 8.76)
    assert low_ < likely < high
    assert plan.as_piped.best.buy == pytest.approx(1.2 * plan.as_piped.best.airlift.air)  # type: ignore[union-attr]
    # By hand: what the water gains against what compresses the air at its inlet's depth, at one temperature.
    weight = layout.water.density * 9.80665
    air = plan.as_piped.best.airlift.air * 101_325.0 * math.log1p(weight * plan.depth / 101_325.0)  # type: ignore[union-attr]
    assert plan.as_piped.best.efficiency == pytest.approx(weight * plan.flow * plan.as_piped.head / air, rel=1e-6)


@pytest.mark.second_method
@pytest.mark.slow
def test_a_riser_that_falls_short_gives_at_most_what_is_said(read_text: ReadText) -> None:
    layout = read_text(low("0.5"))
    plan = plan_airlift(layout, find_flows(layout), "lift")
    assert plan.as_piped is not None
    around = surroundings(layout.water, 0.0)
    short = [one for one in plan.as_piped.options if one.airlift is None and one.most > 0.0]
    assert short
    for one in short:
        riser = as_riser(Airlift(0.0, one.pipe, plan.depth + plan.as_piped.head, plan.depth), around)
        area = 0.25 * np.pi * one.pipe.bore**2
        scanned = max(free_flow(float(air), **riser) for air in np.geomspace(0.02, 30.0, 120) * area)
        assert one.most == pytest.approx(scanned, rel=5e-3)
        assert one.most < plan.flow


@pytest.mark.pinned
@pytest.mark.slow
@pytest.mark.parametrize(
    ("water", "power", "verdict"),
    [
        ("0.9", "400", "worth trying"),
        ("0.9", "25", "costs more"),
        ("0.25", "25", "does not lift"),
        ("0.04", "25", "no place"),
    ],
)
def test_the_verdict_weighs_power_against_power(read_text: ReadText, water: str, power: str, verdict: str) -> None:
    layout = read_text(
        low(water, power).replace("height: 0.05 m", "height: 0.01 m").replace("up: 0.95 m", "up: 0.99 m")
    )
    plan = plan_airlift(layout, find_flows(layout), "lift")
    assert plan.verdict == verdict


@pytest.mark.invariant
@pytest.mark.slow
def test_between_the_two_it_may_do(read_text: ReadText) -> None:
    layout = read_text(low())
    best = plan_airlift(layout, find_flows(layout), "lift").as_piped.best  # type: ignore[union-attr]
    assert best is not None
    assert best.power is not None
    same = read_text(low(power=f"{best.power.likely:.0f}"))
    assert plan_airlift(same, find_flows(same), "lift").verdict == "may do"


@pytest.mark.second_method
def test_without_a_stated_power_the_pumps_is_estimated(read_text: ReadText) -> None:
    layout = read_text(low().replace("power: 25 W, ", ""))
    flows = find_flows(layout)
    plan = plan_airlift(layout, flows, "lift")
    assert not plan.rated
    assert plan.pump_power == pytest.approx([flows.pumps["lift"].useful / share for share in (0.25, 0.12, 0.05)])


@pytest.mark.invariant
@pytest.mark.slow
def test_where_none_does_the_highest_lift_is_told(read_text: ReadText) -> None:
    layout = read_text(low("0.25").replace("height: 0.05 m", "height: 0.01 m").replace("up: 0.95 m", "up: 0.99 m"))
    plan = plan_airlift(layout, find_flows(layout), "lift")
    assert plan.as_piped is not None
    assert plan.as_piped.best is None
    assert 0.0 < plan.as_piped.highest < plan.as_piped.head
    # By a scan: the greatest of 400 heads at which some air brings the flow up in one of the sizes, its slugs still whole.
    around, most = surroundings(layout.water, layout.altitude), catalogue.airlift()["churn void"].likely

    def brings(pipe: Pipe, head: float) -> bool:
        airs = np.geomspace(1e-5, 1.0, 1500)
        riser = as_riser(Airlift(0.0, pipe, plan.depth + head, plan.depth), around)
        mixed = riser_heads(plan.flow, airs, **riser)
        return bool(((mixed.head >= head) & (mixed.top <= most)).any())

    heads = np.linspace(plan.as_piped.head, 0.01, 400)
    highest = next(float(head) for head in heads if any(brings(one.pipe, float(head)) for one in plan.as_piped.options))
    assert plan.as_piped.highest == pytest.approx(highest, abs=0.01)


# ---------------------------------------------------------------------- the command


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main(["airlift", *arguments])
    out = capsys.readouterr()
    return status, " ".join(out.out.split()), out.err


@pytest.mark.pinned
@pytest.mark.slow
def test_the_command_begins_with_the_answer(capsys: pytest.CaptureFixture[str]) -> None:
    status, said, _ = run(capsys, str(LAYOUTS / "bubbler.yaml"))
    assert status == 0
    assert said.startswith("Raft on bubbles 'bubbler' Worth an experiment: it should lift 19.0 L/min")
    assert "An air pump stands above the water line, or has a check valve in its hose" in said
    _, said, _ = run(capsys, str(LAYOUTS / "overblown.yaml"))
    assert said.startswith("Overblown raft 'blower' Worth an experiment with less air")
    _, said, _ = run(capsys, str(LAYOUTS / "courtyard.yaml"))
    assert said.startswith("Two-bed courtyard 'lift' Not worth it for the electricity: a riser of pvc 63")
    _, said, _ = run(capsys, str(LAYOUTS / "tangle.yaml"))
    assert said.startswith(
        "Six summers of additions 'pond pump' Not worth an experiment: no riser brings 39.9 L/min to 2.70 m from 0.40 m of depth, which is 13% of its length."
    )
    _, said, _ = run(capsys, str(LAYOUTS / "hill_pond.yaml"))
    assert "No airlift in the place of 'bank pump': it stands in no vessel" in said


@pytest.mark.invariant
@pytest.mark.slow
def test_a_deeper_inlet_takes_less_air(capsys: pytest.CaptureFixture[str]) -> None:
    def air(*more: str) -> float:
        main(["airlift", str(LAYOUTS / "courtyard.yaml"), "--json", *more])
        plan = json.loads(capsys.readouterr().out)["in_place_of"]["lift"]
        return float(min(one["air_l_min"] for one in plan["as_piped"]["risers"] if one["does"]))

    assert air("--depth", "2 m") < 0.6 * air()
    _, said, _ = run(capsys, str(LAYOUTS / "courtyard.yaml"), "--depth", "2 m")
    assert "is not so deep: the riser needs a pit or an upright blind pipe beside it." in said


@pytest.mark.pinned
@pytest.mark.parametrize("depth", ["deep", "0 m", "-1 m"])
def test_a_depth_that_is_none_gets_a_sentence(capsys: pytest.CaptureFixture[str], depth: str) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["airlift", str(LAYOUTS / "courtyard.yaml"), "--depth", depth])
    told = capsys.readouterr()
    assert (told.out, told.err.count("\n")) == ("", 1)
    assert f"argument --depth: '{depth}' is " in told.err


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["courtyard.yaml", "--pump", "left"], "Pump 'left' is not in the file. There are: lift."),
        (["siphon.yaml", "--pump", "nothing"], "Pump 'nothing' is not in the file."),
    ],
)
def test_a_slip_gets_a_sentence(capsys: pytest.CaptureFixture[str], arguments: list[str], said: str) -> None:
    name, *more = arguments
    status, out, error = run(capsys, str(LAYOUTS / name), *more)
    assert status == 2
    assert out == ""
    assert said in error
    assert "Traceback" not in error


@pytest.mark.pinned
def test_the_check_of_an_airlift_warns_of_its_air_pump_and_that_of_a_pump_does_not(
    capsys: pytest.CaptureFixture[str],
) -> None:
    main(["check", str(LAYOUTS / "bubbler.yaml")])
    assert "An air pump stands above the water line" in " ".join(capsys.readouterr().out.split())
    main(["check", str(LAYOUTS / "courtyard.yaml")])
    assert "An air pump" not in capsys.readouterr().out


@pytest.mark.second_method
def test_a_riser_of_a_stated_bore_is_used_as_stated(read_text: ReadText) -> None:
    layout = read_text(raft("{air: 9 L/min, riser: {bore: 33 mm, roughness: 0.1 mm}, length: 0.87 m}"))
    airlift = layout.pumps["bubbler"].airlift
    assert airlift is not None
    assert (airlift.riser.bore, airlift.riser.roughness) == (pytest.approx(0.033), pytest.approx(1e-4))
    smooth = replace(airlift, riser=Pipe("33", 0.033, 1e-6))
    around = surroundings(layout.water, 0.0)
    assert free_flow(airlift.air, **as_riser(airlift, around)) < free_flow(airlift.air, **as_riser(smooth, around))


# ---------------------------------------------------------------------- where another asks for what a file of an airlift does not state


@pytest.mark.second_method
def test_a_reading_of_its_air_pumps_power_moves_as_its_flow_does(read_text: ReadText) -> None:
    """The power is an estimate: the derivative against a central difference of the curve's flow, beside a barrel that keeps its level."""
    layout, step = read_text(raft().replace(", area: 0.7 m^2", "")), 1e-3
    near, place = settle(layout, margins=False), Place("power", "bubbler", pump="bubbler")
    moved, name = spread(layout, near.flows, [place]), "the curve of pump 'bubbler', its flow"
    more, less = (
        predicted(changed, nearby(changed, near, layout).flows, [place], layout, near.flows)[0]
        for changed in (with_curve(layout, "bubbler", 1.0 + by, 1.0) for by in (step, -step))
    )
    by_hand = (more - less) / (2.0 * step) * moved.sigmas[name]
    assert moved.moves[0, moved.names.index(name)] == pytest.approx(by_hand, rel=0.01)
    assert by_hand > 0.1


@pytest.mark.invariant
def test_rafts_that_it_feeds_one_through_the_other_keep_their_feed(read_text: ReadText) -> None:
    """A clean sheet asks whether it lifts enough for each by itself, and leaves what runs as the airlift lets it."""
    chain = raft(route="{east: 1 m, down: 6 mm}").replace(
        "area: 0.7 m^2}", "area: 0.7 m^2, at: {east: 0 m, north: 0 m}}"
    )
    chain = chain.replace("wants: 12 L/min}", "wants: 6 L/min, holds: plants, at: {east: 1.6 m, north: 0 m}}")
    second = "raft two: {base: 0.4 m, rim: 0.3 m, water: 0.24 m, area: 1.5 m^2, wants: 6 L/min, holds: plants, at: {east: 3.6 m, north: 0 m}}"
    on = "on: {pipe: pvc 63, from: {vessel: raft, standpipe: 0.24 m}, route: [{down: 0.1 m}, elbow, {east: 2 m, down: 20 mm}], to: raft two}"
    chain = chain.replace("    pumps:", f"      {second}\n    pumps:").replace(
        "      back:", f"      {on}\n      back:"
    )
    chain = chain.replace("from: {vessel: raft, standpipe: 0.24 m}\n", "from: {vessel: raft two, standpipe: 0.24 m}\n")
    chain = chain.replace("{west: 0.6 m, down: 20 mm}", "{west: 2.6 m, down: 20 mm}")
    drawer = Drawer(check(read_text(chain)))
    (feed,) = [line for line in drawer.layout.lines.values() if line.start.kind == "pump"]
    with pytest.raises(Stays, match=r"airlift|water for beds"):
        drawer.unchained([feed])
