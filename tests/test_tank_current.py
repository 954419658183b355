"""How fast a spray bar turns its tank, what its fish can do, and which holes give the current that is wanted."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from conftest import ReadText
from scipy.optimize import brentq

from plumbline import catalogue
from plumbline.check import check
from plumbline.cli import main
from plumbline.errors import LayoutError
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.hole_size import (
    find_hole,
    judge_speed,
    least_speed,
    tank_answers,
    turned,
    wanted_speed,
    with_holes,
)
from plumbline.hydraulics.tank_current import mean_speed, safe_speed, swimmer, tank_currents, wetted_area
from plumbline.layout import read_layout
from plumbline.layout.model import Layout, Mark, Vessel

LAYOUTS = Path(__file__).parent.parent / "layouts"
TEXT = """
name: pond house
water: 20 degC
vessels:
  sump: {{base: -0.6 m, rim: 0.7 m, water: 0.5 m, area: 2 m^2}}
  tank: {{holds: fish, base: 0 m, rim: 0.9 m, water: 0.75 m, {tank}}}
pumps:
  lift: {{in: sump, curve: [[0 L/min, 2.6 m], [15 L/min, 2.1 m], [30 L/min, 1.2 m], [40 L/min, 0.4 m]]}}
lines:
  feed:
    pipe: pvc 40
    from: lift
    route: [check valve, up: 1.5 m, elbow, east: 1 m, elbow, down: 0.4 m, {{spray bar: {{down: 0.6 m, holes: 10, hole: {hole}, in: tank{aim}}}}}]
    to: cap foot
  drain: {{pipe: pvc 63, from: {{vessel: tank, standpipe: 0.75 m}}, route: [{{down: 1 m}}], to: sump}}
"""
TANK = "area: 1.5 m^2, smallest fish: 8 cm"
ALONG = ", aim: along the wall"


def text(tank: str = TANK, hole: str = "4 mm", aim: str = ALONG) -> str:
    return TEXT.format(tank=tank, hole=hole, aim=aim)


def kinds(layout: Layout) -> dict[str, str]:
    return {one.kind: one.level for one in check(layout).findings if one.kind.startswith("current-")}


# ---------------------------------------------------------------------- published values


@pytest.mark.second_method
@pytest.mark.parametrize(("length", "lengths_a_second"), [(5.0, 2.89), (10.0, 2.24), (20.0, 1.73), (30.0, 1.49)])
def test_the_speed_that_fish_can_hold(length: float, lengths_a_second: float) -> None:
    """5.25/L^0.37, L in cm (Timmons and Ebeling, from memory), by a table of powers."""
    assert safe_speed(0.01 * length) / (0.01 * length) == pytest.approx(lengths_a_second, abs=0.005)


@pytest.mark.second_method
def test_the_likely_drag_is_what_the_share_of_the_jets_speed_says() -> None:
    """Water turns at 0.15 to 0.20 of its jets' speed (Skybakmoen, as told by Timmons, Summerfelt and Vinci 1998, from memory): a round tank of
    3.66 m, 1 m deep, changed in half an hour by jets of 1.5 m/s. The catalogue's likely drag turns it within that."""
    area = math.pi / 4.0 * 3.66**2
    flow = area / 1800.0
    wetted = area + math.pi * 3.66
    drag = catalogue.tank_current()["tank drag"].likely
    assert 0.15 < mean_speed(1.5 * flow, flow, wetted, drag) / 1.5 < 0.20
    ends = [flow * 1.5 * (1.0 - share) / (wetted * (share * 1.5) ** 2) for share in (0.2, 0.15)]
    assert ends == pytest.approx([0.0035, 0.0067], abs=5e-5)


@pytest.mark.published
def test_crowded_fish_take_more_than_half_of_the_speed() -> None:
    """57 % less at 79 kg/m³ (Plew et al. 2015, J. Hydraul. Res. 53, 364, abstract [L]): the high drag, where little leaves with the water."""
    drag = catalogue.tank_current()["tank drag"]
    crowded, usual = (mean_speed(1e-3, 1e-9, 10.0, by) for by in (drag.high, drag.likely))
    assert crowded / usual == pytest.approx(0.43, abs=0.005)


# ---------------------------------------------------------------------- a second way


@pytest.mark.second_method
def test_the_tank_spun_up_in_time_comes_to_the_mean_speed() -> None:
    """ρ 𝒱 dV/dt = thrust − ρ Q V − ρ Ct A V², in small steps from still water until nothing changes."""
    pull, inflow, wetted, drag, volume = 1.3e-3, 3.3e-4, 4.8, 0.005, 1.1
    speed = 0.0
    for _ in range(40000):
        speed += 0.5 * (pull - inflow * speed - drag * wetted * speed**2) / volume
    assert mean_speed(pull, inflow, wetted, drag) == pytest.approx(speed, rel=1e-9)


@pytest.mark.second_method
def test_the_thrust_is_the_sum_over_all_jets(read_text: ReadText) -> None:
    layout = read_text(text())
    flows = find_flows(layout)
    (current,) = tank_currents(layout, flows)
    (bar,) = current.bars
    each = [hole.flow**2 / (0.62 * math.pi / 4.0 * 0.004**2) for hole in bar.holes]
    assert current.thrust == pytest.approx(layout.water.density * sum(each), rel=1e-12)
    assert sum(hole.flow for hole in bar.holes) == pytest.approx(flows.vessels["tank"].inflow, rel=1e-12)
    depth = (flows.vessels["tank"].level or 0.0) - 0.0
    assert current.wetted == pytest.approx(1.5 + 2.0 * math.sqrt(math.pi * 1.5) * depth)


@pytest.mark.slow(2)
@pytest.mark.second_method
def test_the_hole_that_gives_a_current_by_a_plain_search(read_text: ReadText) -> None:
    """scipy's bracketing on the diameter, each time with the file's own words changed and read again."""
    layout = read_text(text())
    (current,) = tank_currents(layout, find_flows(layout))
    size = find_hole(layout, current, 0.16)
    assert size is not None
    assert size.exact is not None

    def speed(hole: float) -> float:
        other = read_text(text(hole=f"{1000.0 * hole:.12g} mm"))
        (found,) = tank_currents(other, find_flows(other))
        assert found.speed is not None
        return found.speed.likely

    exact = brentq(lambda hole: speed(hole) - 0.16, 0.006, 0.012, xtol=1e-12)
    assert size.exact == pytest.approx(exact, rel=1e-7)
    assert size.below is not None
    assert size.above is not None
    assert size.below.hole <= exact <= size.above.hole
    assert size.above.hole - size.below.hole == pytest.approx(0.0005)
    assert size.below.speed == pytest.approx(speed(size.below.hole), rel=1e-9)
    most = max(speed(hole) for hole in np.arange(0.001, 0.0105, 0.0005))
    assert size.fastest.speed == pytest.approx(most, rel=1e-9)


@pytest.mark.invariant
def test_the_bar_turned_off_the_wall_gives_the_current(read_text: ReadText) -> None:
    layout = read_text(text())
    flows = find_flows(layout)
    (current,) = tank_currents(layout, flows)
    angle = turned(current, flows.vessels["tank"].inflow, 0.15)
    assert angle is not None
    other = read_text(text(aim=f", aim: {math.degrees(angle):.12f} deg"))
    (found,) = tank_currents(other, find_flows(other))
    assert found.speed is not None
    assert found.speed.likely == pytest.approx(0.15, rel=1e-9)
    assert turned(found, flows.vessels["tank"].inflow, 0.2) is None  # would have to push harder


# ---------------------------------------------------------------------- invariants


@pytest.mark.invariant
def test_more_drag_more_water_and_a_larger_tank_are_slower() -> None:
    usual = mean_speed(1e-3, 3e-4, 5.0, 0.005)
    assert mean_speed(1e-3, 3e-4, 5.0, 0.006) < usual
    assert mean_speed(1e-3, 4e-4, 5.0, 0.005) < usual
    assert mean_speed(1e-3, 3e-4, 6.0, 0.005) < usual
    assert mean_speed(2e-3, 3e-4, 5.0, 0.005) > usual
    assert mean_speed(0.0, 3e-4, 5.0, 0.005) == 0.0


@pytest.mark.second_method
def test_a_square_tank_has_more_wall_and_a_long_one_no_answer() -> None:
    one = Vessel("t", 0.0, 0.8, Mark(1, 1), area=4.0)
    assert wetted_area(replace(one, shape="square"), 0.8) == pytest.approx(4.0 + 8.0 * 0.8)
    assert (
        wetted_area(replace(one, shape="round"), 0.8)
        == wetted_area(one, 0.8)
        == pytest.approx(4.0 + 4.0 * math.sqrt(math.pi) * 0.8)
    )
    assert wetted_area(replace(one, shape="long"), 0.8) is None
    assert wetted_area(replace(one, area=None), 0.8) is None


@pytest.mark.invariant
def test_the_smallest_fish_is_asked_said_wished_or_usual(read_text: ReadText) -> None:
    said = read_text(text())
    tank = said.vessels["tank"]
    assert [getattr(swimmer(said, tank, length), "known", None) for length in (0.1, None)] == ["asked", "file"]
    wished = read_text(text("area: 1.5 m^2") + "wish: {fish: 5 kg/month, put in at: 20 g}\n")
    fish = swimmer(wished, wished.vessels["tank"])
    assert fish is not None
    assert fish.known == "wish"
    assert 2.1 * (100.0 * fish.length) ** 3 / 100.0 == pytest.approx(20.0)
    usual = read_text(text("area: 1.5 m^2"))
    fish = swimmer(usual, usual.vessels["tank"])
    assert fish is not None
    assert fish.known == "catalogue"
    assert swimmer(usual, usual.vessels["sump"]) is None


# ---------------------------------------------------------------------- findings


@pytest.mark.some(3)
@pytest.mark.invariant
@pytest.mark.parametrize(
    ("tank", "hole", "aim", "found"),
    [
        (TANK, "4 mm", ALONG, {"current-too-fast": "fail"}),
        (TANK, "4 mm", ", aim: 65 deg", {"current-too-fast": "advice"}),
        (TANK, "4 mm", "", {}),
        ("area: 1.5 m^2", "4 mm", ALONG, {"current-too-fast": "advice"}),
        ("area: 0.6 m^2", "4 mm", ALONG, {"current-too-fast": "warn"}),
        ("area: 1.5 m^2, smallest fish: 30 cm", "4 mm", ALONG, {}),
        ("area: 4 m^2, smallest fish: 30 cm", "10 mm", ALONG, {"current-too-slow": "advice"}),
        ("area: 8 m^2, smallest fish: 30 cm", "10 mm", ALONG, {"current-too-slow": "warn"}),
        ("area: 1.5 m^2, smallest fish: 8 cm, shape: long", "4 mm", ALONG, {}),
    ],
)
def test_only_a_bar_with_an_aim_is_judged(
    read_text: ReadText, tank: str, hole: str, aim: str, found: dict[str, str]
) -> None:
    assert kinds(read_text(text(tank, hole, aim))) == found


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_the_file_may_set_both_limits(read_text: ReadText) -> None:
    assert kinds(read_text(text() + "limits: {swimming: 100 %}\n")) == {"current-too-fast": "fail"}
    assert "current-too-fast" in kinds(
        read_text(text("area: 1.5 m^2, smallest fish: 15 cm") + "limits: {swimming: 60 %}\n")
    )
    slow = read_text(text("area: 1.5 m^2, smallest fish: 30 cm") + "limits: {tank current: 0.21 m/s}\n")
    (current,) = tank_currents(slow, find_flows(slow))
    assert least_speed(slow, current) == pytest.approx(0.21)
    assert judge_speed(slow, current) == "good"


@pytest.mark.invariant
@pytest.mark.slow
def test_the_cure_of_the_layout_cures_it(tmp_path: Path) -> None:
    """What the finding says to drill is drilled, or the bar turned as it says: then it is advice."""
    layout = read_layout(LAYOUTS / "nursery.yaml")
    (fast,) = [one for one in check(layout).findings if one.kind == "current-too-fast"]
    hole = re.search(r"drill the holes .* out to ([\d.]+) mm", fast.cure)
    angle = re.search(r"point (\d+)° off the wall", fast.cure)
    assert hole is not None
    assert angle is not None
    bar = layout.lines["feed"].parts[-1]
    assert kinds(with_holes(layout, [bar], float(hole[1]) / 1000.0))["current-too-fast"] == "advice"
    other = (
        (LAYOUTS / "nursery.yaml")
        .read_text()
        .replace("in: nursery, aim: along the wall", f"in: nursery, aim: {angle[1]} deg")
    )
    path = tmp_path / "turned.yaml"
    path.write_text(other, encoding="utf-8")
    assert kinds(read_layout(path))["current-too-fast"] == "advice"


@pytest.mark.invariant
def test_a_speed_out_of_reach_says_so(read_text: ReadText) -> None:
    layout = read_text(text())
    (current,) = tank_currents(layout, find_flows(layout))
    for wanted in (2.0, 0.02):
        size = find_hole(layout, current, wanted)
        assert size is not None
        assert size.exact is None
    assert 0.0 < wanted_speed(layout, current) < safe_speed(0.08)


@pytest.mark.pinned
def test_an_aim_is_words_or_an_angle(read_text: ReadText) -> None:
    assert read_text(text(aim=", aim: 30 deg")).lines["feed"].parts[-1].details["aim"] == pytest.approx(
        math.radians(30.0)
    )
    for wrong, said in (("sideways", "'aim' is 'sideways'"), ("120 deg", "'aim' is 120 deg"), ("30", "aim")):
        with pytest.raises(LayoutError, match=re.escape(said)):
            read_text(text(aim=f", aim: {wrong}"))


# ---------------------------------------------------------------------- the command


@pytest.mark.slow(1)
@pytest.mark.pinned
def test_the_command_says_the_verdict_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["current", str(LAYOUTS / "nursery.yaml")]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].startswith("Too fast. 'nursery' turns at about ")
    assert any(line.startswith("Too slow. 'rearing tank' turns at about ") for line in lines)
    assert main(["current", str(LAYOUTS / "round_tank.yaml"), "--all"]) == 0
    out = capsys.readouterr().out
    assert "Good. 'round tank' turns at about " in out
    assert re.search(r"^ +10 +2\.\d\d L/min", out, re.MULTILINE)


@pytest.mark.pinned
def test_the_command_without_a_bar_or_an_area(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["current", str(LAYOUTS / "courtyard.yaml")]) == 0
    assert "No capped spray bar blows into a vessel here." in capsys.readouterr().out
    path = tmp_path / "no_area.yaml"
    path.write_text(text("smallest fish: 8 cm"), encoding="utf-8")
    assert main(["current", str(path)]) == 0
    assert "How fast 'tank' turns cannot be said: the file does not give its 'area'." in " ".join(
        capsys.readouterr().out.split()
    )


@pytest.mark.second_method
def test_the_command_as_json_agrees_with_the_check(capsys: pytest.CaptureFixture[str]) -> None:
    main(["current", str(LAYOUTS / "round_tank.yaml"), "--json", "--want", "15 cm/s", "--fish-length", "6 cm"])
    tank = json.loads(capsys.readouterr().out)["tanks"]["round tank"]
    main(["check", str(LAYOUTS / "round_tank.yaml"), "--json"])
    checked = json.loads(capsys.readouterr().out)
    assert tank["inflow_l_min"] == pytest.approx(checked["vessels"]["round tank"]["inflow_l_min"])
    assert sum(hole["flow_l_min"] for hole in tank["bars"][0]["holes"]) == pytest.approx(tank["inflow_l_min"])
    assert tank["verdict"] == "too fast"  # for fish of 6 cm
    assert tank["fish"]["known_from"] == "asked"


@pytest.mark.pinned
@pytest.mark.parametrize("words", [["--want", "fast"], ["--want", "-1 m/s"], ["--fish-length", "8"], ["--want", "3 m"]])
def test_a_wrong_option_is_a_sentence(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["current", str(LAYOUTS / "round_tank.yaml"), *words])
    assert stop.value.code == 2
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_tanks_are_answered_in_the_order_of_the_file() -> None:
    answers = tank_answers(read_layout(LAYOUTS / "nursery.yaml"))
    assert [answer.current.vessel for answer in answers] == ["nursery", "rearing tank"]
