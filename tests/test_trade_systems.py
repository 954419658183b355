"""Systems as the trade builds them, two or three things in company, each with its sum by hand."""

from __future__ import annotations

import math

import pytest
from conftest import ReadText

from plumbline.check import check
from plumbline.day import follow_day, whole_day
from plumbline.day.told import what_goes_wrong
from plumbline.hydraulics.find import find_flows

G = 9.80665


def stiff(flow: float) -> str:
    """The curve of a pump that gives so much, to a tenth of a litre a minute, whatever stands against it [L/min]."""
    return f"curve: [[0 L/min, 60 m], [{flow - 0.1} L/min, 8 m], [{flow + 0.1} L/min, 0 m]]"


SUCTION = f"""
vessels:
  bed: {{holds: plants, base: 1 m, rim: 0.5 m, water: 0 m, area: 1 m^2}}
  sump: {{holds: sump, base: 0 m, rim: 0.9 m, water: 0.5 m, area: 0.5 m^2}}
pumps: {{lift: {{{stiff(20.0)}}}}}
lines:
  suction: {{pipe: pvc 32, from: {{vessel: sump, height: 0.2 m}}, route: [{{east: 0.5 m}}], to: lift}}
  riser: {{pipe: pvc 25, from: lift, route: [{{up: 1.3 m}}, elbow, {{east: 0.6 m}}], to: bed}}
  back: {{pipe: pvc 50, from: {{vessel: bed, standpipe: 0.35 m}}, route: [{{down: 0.8 m}}], to: sump}}
"""


@pytest.mark.second_method
def test_a_suction_line_draws_air_as_its_mouth_comes_up(read_text: ReadText) -> None:
    """20 L/min in 27.2 mm are 0.575 m/s; the hole in the wall asks for 1.5 V²/2g, 25 mm over its axis. Down to there are 137 L, 6.8 minutes; the bed takes
    350 L before it gives any back, so that the sump stays there. A pump in the sump itself draws air at its outlet, 150 L down."""
    text = SUCTION
    flow = follow_day(read_text(text), hours=0.02).ends["riser.to"][0]
    head = 1.5 * (flow / (0.25 * math.pi * 0.0272**2)) ** 2 / (2.0 * G)
    inside = text.replace("lift: {", "lift: {in: sump, height: 0.2 m, ").replace(
        text[text.index("  suction:") : text.index("  riser:")], ""
    )
    for line, level in ((text, 0.2 + head), (inside, 0.2)):
        layout = read_text(line)
        course = follow_day(layout, hours=0.5)
        (drawn,) = [one.time for one in course.events if one.kind == "sucks air"]
        assert drawn == pytest.approx(0.5 * (0.5 - level) / flow, abs=4.0)
        assert "sump-runs-dry" in {one.kind for one in what_goes_wrong(layout, course)}
        assert "sump-runs-dry" in {one.kind for one in check(layout).findings}


BELL = f"""
vessels:
  bed: {{holds: plants, base: 1.0 m, rim: 0.35 m, water: 0.05 m, area: 0.5 m^2}}
  sump: {{holds: sump, base: 0 m, rim: 0.7 m, water: 0.55 m, area: 0.5 m^2}}
pumps: {{lift: {{in: sump, height: 0.05 m, {stiff(70.0)}}}}}
lines:
  riser: {{pipe: pvc 40, from: lift, route: [{{up: 1.45 m}}, elbow, {{east: 0.6 m}}], to: bed}}
  siphon: {{pipe: pvc 25, from: {{vessel: bed, siphon: 0.22 m, breaks: 0.05 m}}, route: [{{down: 0.7 m}}], to: sump}}
  over: {{pipe: pvc 40, from: {{vessel: bed, overflow: 0.27 m}}, route: [{{west: 0.2 m, down: 5 mm}}, elbow, {{down: 0.7 m}}], to: sump}}
"""


@pytest.mark.second_method
def test_a_siphon_that_its_inflow_outruns_leaves_the_rest_to_the_overflow_beside_it(read_text: ReadText) -> None:
    """70 L/min come, and the siphon's 21.2 mm carry what Bernoulli says from the bed's water to its end at 0.52 m, with 0.78 at a mouth that stands in, all of
    the velocity head at the end and f = 0.0208 over 0.7 m; it never lets go, and the bed does not run over."""
    layout = read_text(BELL)
    course = whole_day(layout, hours=2.0)
    level, siphon, over = course.vessels["bed"].level[-1], course.ends["siphon.to"][-1], course.ends["over.to"][-1]
    k = 1.0 + 0.78 + 0.0208 * 0.7 / 0.0212
    assert siphon == pytest.approx(0.25 * math.pi * 0.0212**2 * math.sqrt(2.0 * G * (level - 0.52) / k), rel=0.01)
    assert siphon + over == pytest.approx(course.ends["riser.to"][-1], rel=1e-4)
    kinds = {one.kind for one in what_goes_wrong(layout, course)}
    assert "siphon-runs-on" in kinds
    assert "day-overtops" not in kinds


FLOAT = f"""
vessels:
  bed: {{holds: plants, base: 1.0 m, rim: 0.35 m, water: 0.05 m, area: 0.5 m^2}}
  sump: {{holds: sump, base: 0 m, rim: 0.62 m, water: 0.5 m, area: 0.4 m^2}}
pumps: {{lift: {{in: sump, height: 0.05 m, {stiff(16.0)}}}}}
lines:
  riser: {{pipe: pvc 25, from: lift, route: [{{up: 1.45 m}}, elbow, {{east: 0.6 m}}], to: bed}}
  siphon: {{pipe: pvc 25, from: {{vessel: bed, siphon: 0.22 m, breaks: 0.05 m}}, route: [{{down: 0.5 m}}], to: sump}}
  top: {{pipe: pvc 20, from: {{supply: 10 L/min, height: 1.2 m}}, route: [{{down: 0.5 m}}], to: {{vessel: sump, float valve: 0.45 m}}}}
"""


@pytest.mark.slow(2)
@pytest.mark.second_method
def test_a_float_valve_beside_a_siphon_tops_up_in_every_flood_what_runs_over_after_it(read_text: ReadText) -> None:
    """A flood is 0.5 m² of 0.17 m and the 6.6 mm at which 21.2 mm catch, 88.3 L, 5.5 minutes of 16 L/min. From its rim the sump falls 76 L to 0.43 m, where the
    float opens with 0.77 min of the flood to go: 7.9 L, and the sump is 11 mm lower yet. The siphon brings some 44 L/min, so that 0.45 m is
    reached 20 s later: 3.3 L more. All 11.2 L of it run over the rim, 7 times an hour, and so it goes on."""
    layout = read_text(FLOAT)
    course = whole_day(layout, hours=6.0)
    opens = [one.time for one in course.events if one.kind == "top-up opens"][2:]
    shuts = [one.time for one in course.events if one.kind == "top-up shuts"][2:]
    tops_up = [(shut - open_) * 10.1 / 60.0 for open_, shut in zip(opens, shuts, strict=False)]
    assert tops_up == pytest.approx([11.2] * len(tops_up), abs=0.4)
    rounds = (course.times[-1] - opens[0]) / (opens[1] - opens[0])
    assert 1000.0 * course.water.lost == pytest.approx(11.2 * (rounds + 1.0), rel=0.05)
    assert "day-overtops" in {one.kind for one in what_goes_wrong(layout, course)}


JOINED = f"""
vessels:
  a: {{holds: fish, base: 0 m, rim: 0.9 m, water: 0.6 m, area: 1 m^2}}
  b: {{holds: sump, base: 0 m, rim: 0.7 m, water: 0.6 m, area: 1 m^2}}
  bed: {{holds: plants, base: 1.0 m, rim: 0.5 m, water: 0.3 m, area: 1 m^2}}
pumps: {{lift: {{in: b, height: 0.05 m, {stiff(20.0)}}}}}
lines:
  join: {{pipe: pvc 63, from: {{vessel: a, height: 0.05 m}}, route: [{{west: 0.4 m}}], to: b}}
  riser: {{pipe: pvc 25, from: lift, route: [check valve, {{up: 1.55 m}}, elbow, {{east: 0.4 m}}], to: bed}}
  drain: {{pipe: pvc 25, from: bed, route: [gate valve: {{opening: 30 %}}, {{down: 0.3 m}}], to: a}}
"""


@pytest.mark.second_method
def test_the_lower_rim_of_two_joined_vessels_is_that_of_both_in_a_power_cut(read_text: ReadText) -> None:
    """1500 L in all. The bed runs out by its floor, both stand at 0.7 m, and 100 L are over, with what the level end of the riser, 0.4 m behind a check valve,
    and the drain's 0.3 m held, which is taken as full since it may pull."""
    layout = read_text(JOINED)
    result = check(layout)
    cut, flows = result.cut, find_flows(layout, margins=False)
    assert cut is not None
    rows = {one.vessel: one for one in cut.vessels}
    assert [rows[name].after for name in ("a", "b", "bed")] == pytest.approx([0.7, 0.7, 1.0], abs=1e-9)
    stood = sum((flows.vessels[name].level or 0.0) - layout.vessels[name].base for name in ("a", "b", "bed"))
    assert stood == pytest.approx(1.5, abs=1e-6)
    assert rows["b"].spilled == pytest.approx(0.1 + 0.25 * math.pi * 0.0212**2 * (0.4 + 0.3), abs=1e-6)
    assert [one.line for one in result.findings if one.kind == "power-cut-overtops"] == [None]
