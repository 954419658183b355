"""What each stretch carries, and what settles while the pumps rest: by hand, by limits, and against published thresholds."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from builders import flows, layout, walk
from checks import checked
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from plumbline import catalogue
from plumbline.cli import main
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.part_full import capacity
from plumbline.layout.model import Layout
from plumbline.report.json import as_json
from plumbline.upkeep.carried import _rest, carried, run_shear, run_speed, settles_off
from plumbline.upkeep.shear import film_shear, wall_shear

ReadText = Callable[[str], Layout]
LAYOUTS = Path(__file__).parent.parent / "layouts"


def word(route: list, speed: float, **more) -> str:
    made = layout(walk("a", "vessel tank", route, "vessel bed"), **more)
    return carried(made, flows(made, speed))["a 1"].word


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("route", "speed", "expected"),
    [
        # A 26 mm pipe: 0.3 m/s is 0.37 Pa, 0.48 m/s is 0.85 Pa, 0.49 m/s is 0.88 Pa.
        ([("east", 2.0)], 0.0, "silts"),
        ([("east", 2.0)], 0.294, "silts"),
        ([("east", 2.0)], 0.301, "carries, settles when off"),
        ([("east", 2.0)], 0.48, "carries, settles when off"),
        ([("east", 2.0)], 0.49, "keeps itself clean"),
        # Upright pipe: only what sinks faster than the water climbs stays behind.
        ([("up", 2.0)], 0.016, "silts"),
        ([("up", 2.0)], 0.018, "keeps itself clean"),
        ([("down", 2.0)], 0.001, "keeps itself clean"),
        # The worst run is the stretch's.
        ([("up", 2.0), "elbow", ("east", 1.0)], 0.2, "silts"),
        ([("up", 2.0), "elbow", ("east", 1.0)], 0.4, "carries, settles when off"),
    ],
)
def test_classes_by_speed_and_shear(route: list, speed: float, expected: str) -> None:
    assert word(route, speed) == expected


@pytest.mark.invariant
def test_a_pipe_that_is_walked_and_run_backwards_is_the_same() -> None:
    up, down = (
        layout(walk("a", "vessel tank", [("up", 2.0)], "vessel bed")),
        layout(walk("a", "vessel bed", [("down", 2.0)], "vessel tank", at=(0, 0, 2))),
    )
    for speed in (0.016, 0.018):
        assert carried(up, flows(up, speed))["a 1"].word == carried(down, flows(down, -speed))["a 1"].word


@pytest.mark.invariant
def test_the_files_limits_decide() -> None:
    assert word([("east", 2.0)], 0.25, limits={"self-cleansing speed": 0.2}) == "carries, settles when off"
    assert word([("east", 2.0)], 0.35, limits={"scour shear": 0.4}) == "keeps itself clean"


@pytest.mark.second_method
@given(st.floats(0.02, 0.11), st.floats(0.005, 0.1), st.floats(0.05, 0.7))
def test_the_shear_of_a_part_full_drain_is_rho_g_r_s_of_its_own_section(bore: float, fall: float, depth: float) -> None:
    """R = A/P with area and wetted wall integrated over the section's height, and V/Vf = (R/Rf)^⅔: none of our formulas."""
    radius = bore / 2
    y = depth * bore
    area, _ = quad(lambda h: 2 * math.sqrt(max(radius**2 - (h - radius) ** 2, 0.0)), 0.0, y, epsabs=1e-14)
    wall = 2 * radius * math.acos(1 - y / radius)
    wet = area / wall
    nu, rough = 1e-6, 1.5e-6
    velocity = capacity(bore, fall, rough, nu) / (math.pi * radius**2) * (wet / (bore / 4)) ** (2 / 3)
    made = layout(walk("d", "vessel tank", [((1.0, 0.0, -fall), 3.0)], "vessel bed"))
    run = made.stretches[0].parts[0]
    object.__setattr__(run, "pipe", type(run.pipe)("x", bore, rough))
    object.__setattr__(made.stretches[0], "bore", bore)
    slope = (run.start[2] - run.end[2]) / run.length
    velocity *= capacity(bore, slope, rough, 1e-3 / 998) / capacity(bore, fall, rough, nu)
    running = flows(made, velocity * area / (math.pi * radius**2), gravity={"d 1"})
    assert run_speed(made, made.stretches[0], run, running) == pytest.approx(velocity, rel=1e-6)
    shear = run_shear(made, made.stretches[0], run, running)
    assert shear == pytest.approx(998 * 9.80665 * wet * slope, rel=1e-5)
    assert shear == pytest.approx(film_shear(wet, slope, 998.0), rel=1e-5)


# ---------------------------------------------------------------------- published thresholds


@pytest.mark.second_method
def test_the_speed_limit_asks_for_about_the_shear_that_lifts_faeces() -> None:
    """0.3 m/s (Timmons and Ebeling, from memory) in smooth pipe of 25 to 50 mm: 0.32 Pa (Carvajalino-Fernández 2020), ±25 %."""
    for bore in (0.025, 0.032, 0.05):
        shear = wall_shear(0.3 * math.pi / 4 * bore**2, bore, 1.5e-6, 998.0, 1e-3)
        assert shear == pytest.approx(0.32, rel=0.25)


@pytest.mark.second_method
def test_both_agree_with_what_keeps_settling_solids_afloat() -> None:
    """Solids that sink at 1.7 cm/s stay in suspension from a Rouse number w/(κu*) of 2.5 down (Rouse 1937; 2.5 from memory), so
    from τ = ρ (w/(2.5 κ))² = 0.29 Pa: between the published 0.06 and 0.32 Pa for lifting faeces, and near 0.3 m/s."""
    w = catalogue.limits()["settling speed"].value
    shear = 998 * (w / (2.5 * 0.4)) ** 2
    assert 0.06 < shear < 0.32
    assert shear == pytest.approx(catalogue.limits()["self-cleansing shear"].value, rel=0.15)


# ---------------------------------------------------------------------- hours on and off

DAY = """
vessels:
  tank: {base: 0 m, water: 0.5 m, area: 2 m^2, rim: 1 m}
  bed: {base: 0.8 m, water: 0.2 m, rim: 0.3 m, area: 1 m^2}
pumps:
  lift: {in: tank, curve: [[0 L/min, 3 m], [26 L/min, 0.6 m]], HOURS}
lines:
  feed: {pipe: pvc 40, from: lift, route: [{up: 1.1 m}, elbow, {east: 3 m}], to: bed}
  drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.2 m}], to: tank}
"""


@pytest.mark.invariant
@pytest.mark.parametrize(("said", "rest"), [("hours a day: 12", 12.0), ("hours a day: 24", 0.0), ("power: 30 W", 0.0)])
def test_what_settles_by_night_is_said_only_where_the_pump_rests(read_text: ReadText, said: str, rest: float) -> None:
    made = read_text(DAY.replace("HOURS", said))
    running = find_flows(made)
    one = carried(made, running)["feed.1"]
    assert (one.word, one.rest) == ("carries, settles when off", rest)
    found = settles_off(made, running, ())
    assert [each.line for each in found] == (["feed"] if rest else [])
    for each in found:
        assert f"in the {rest:g} hours a day in which no pump runs" in each.message
        total = sum(line.length for line in made.lines.values())
        assert each.weight == pytest.approx(1.0 - 0.95 ** (4.1 / total * rest / 24))
    assert settles_off(made, running, {"feed.1"}) == ()


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("lift", "other", "rest"),
    [
        ("runs: {from: 06:00, to: 18:00}", "runs: {from: 18:00, to: 06:00}", 0.0),
        ("runs: {on: 8 h, off: 8 h}", "runs: {on: 8 h, off: 8 h, after: 8 h}", 0.0),
        ("runs: {from: 06:00, to: 18:00}", "runs: {from: 12:00, to: 20:00}", 10.0),
        ("runs: {on: 15 min, off: 45 min}", "runs: {on: 10 min, off: 50 min, after: 10 min}", 16.0),
        ("hours a day: 8", "runs: no", 16.0),
        ("runs: no", "runs: no", 0.0),
    ],
)
def test_pumps_that_take_turns_leave_the_hours_in_which_none_runs_and_a_spare_one_fills_none(
    read_text: ReadText, lift: str, other: str, rest: float
) -> None:
    made = read_text(
        DAY.replace("HOURS", lift).replace(
            "lines:",
            f"  other: {{in: tank, curve: [[0 L/min, 3 m], [9 L/min, 0.6 m]], {other}}}\nlines:\n"
            "  more: {pipe: pvc 25, from: other, route: [{up: 1.1 m}, elbow, {east: 3 m}], to: bed}",
        )
    )
    assert list(_rest(made).values()) == pytest.approx([rest] * len(made.lines))


@pytest.mark.invariant
def test_another_pump_in_the_system_keeps_it_moving_and_one_elsewhere_does_not(read_text: ReadText) -> None:
    text = DAY.replace("HOURS", "hours a day: 8").replace(
        "lines:", "  night: {in: VESSEL, curve: [[0 L/min, 3 m], [9 L/min, 0.6 m]], hours a day: 20}\nlines:"
    )
    second = "  more: {pipe: pvc 25, from: night, route: [{up: 1.1 m}, elbow, {east: 3 m}], to: BED}\n"
    apart = (
        text.replace("pumps:", "  pit: {base: 0 m, water: 0.5 m}\n  box: {base: 0.9 m, water: 0.1 m}\npumps:") + second
    )
    joined = read_text(text.replace("VESSEL", "tank") + second.replace("BED", "bed"))
    other = read_text(apart.replace("VESSEL", "pit").replace("BED", "box"))
    assert carried(joined, find_flows(joined))["feed.1"].rest == 4.0
    swapped = {"lift": replace(joined.pumps["lift"], hours=20.0), "night": replace(joined.pumps["night"], hours=8.0)}
    joined = replace(joined, pumps=swapped)
    assert carried(joined, find_flows(joined))["feed.1"].rest == 4.0
    rests = carried(other, find_flows(other))
    assert (rests["feed.1"].rest, rests["drain.1"].rest, rests["more.1"].rest) == (16.0, 16.0, 4.0)


@pytest.mark.invariant
def test_an_empty_drain_is_called_empty(read_text: ReadText) -> None:
    made = read_text(
        DAY.replace("HOURS", "power: 30 W").replace(
            "[0 L/min, 3 m], [26 L/min, 0.6 m]", "[0 L/min, 0.4 m], [26 L/min, 0 m]"
        )
    )
    assert carried(made, find_flows(made))["drain.1"].word == "empty"


# ---------------------------------------------------------------------- in the reports


@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("path", sorted(LAYOUTS.glob("*.yaml")), ids=lambda path: path.stem)
def test_the_classes_and_the_finding_on_slow_flow_agree(path: Path) -> None:
    """What is told as slow is classed as silting; what is classed so and moves at all, in level pipe, is told."""
    result = checked(path)
    classes = carried(result.layout, result.flows)
    slow = [one for one in result.findings if one.kind == "slow-flow"]
    spans = [(one.line, one.start, one.stop) for one in slow]
    told = [
        stretch
        for stretch in result.layout.stretches
        if any(
            line == stretch.line and low - 1e-9 <= stretch.start and stretch.stop <= high + 1e-9
            for line, low, high in spans
            if low is not None and high is not None
        )
    ]
    assert bool(told) == bool(slow)
    for stretch in told:
        assert classes[stretch.id].word == "silts", stretch.id


@pytest.mark.pinned
def test_json_and_the_table_say_what_each_stretch_carries(capsys: pytest.CaptureFixture[str]) -> None:
    result = checked("orchard")
    rows = {row["id"]: row["carry"] for row in json.loads(json.dumps(as_json(result), allow_nan=False))["stretches"]}
    classes = carried(result.layout, result.flows)
    assert {name: row["class"] for name, row in rows.items()} == {name: one.word for name, one in classes.items()}
    assert {row["rest_h"] for row in rows.values()} == {0.0, 12.0}
    assert all(
        np.isfinite(row["shear_pa"]) and (row["rest_h"] == 0.0) == (row["class"] == "empty") for row in rows.values()
    )
    main(["check", str(LAYOUTS / "orchard.yaml"), "--all"])
    out = " ".join(capsys.readouterr().out.split())
    assert "Does it carry its solids" in out
    assert "carries, settles when off (12 h a day)" in out
    main(["check", str(LAYOUTS / "orchard.yaml")])
    assert "Does it carry its solids" not in capsys.readouterr().out
