"""The water through the day: closed forms of emptying and filling vessels, clocks, switches and siphons, and what is always so.

Torricelli's and the falling head's times follow from V' = −q(h) by separation: textbook results, worked out anew here.
"""

from __future__ import annotations

import io
import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console
from water_days import DAYS, Day, falls, random_day

from plumbline import read_layout
from plumbline.cli import main
from plumbline.day import Course, follow_day, steps
from plumbline.day.cycles import Cycles, Mark
from plumbline.day.moment import Switches
from plumbline.day.told import bed_courses, what_goes_wrong
from plumbline.errors import LayoutError
from plumbline.hydraulics.contents import content
from plumbline.hydraulics.find import find_flows
from plumbline.layout.model import Layout
from plumbline.report.day import DayView

ReadText = Callable[[str], Layout]
LAYOUTS = Path(__file__).parent.parent / "layouts"
G = 9.80665
WATER = "water: {density: 1000 kg/m^3, viscosity: 1e-3 Pa s}\n"
THICK = "water: {density: 1000 kg/m^3, viscosity: 0.2 Pa s}\n"


def level_at(course: Course, vessel: str, time: float) -> float:
    return float(np.interp(time, course.times, course.vessels[vessel].level))


# ---------------------------------------------------------------------- emptying and filling


@pytest.mark.second_method
@pytest.mark.parametrize(("flow", "water"), [(2.0, 0.29), (5.0, 0.2), (10.0, 0.26)])
def test_a_bed_runs_over_when_it_is_full(read_text: ReadText, flow: float, water: float) -> None:
    """(rim - water) A / q; where the water comes to the rim its level rises no more, so that what has it cross the rim ends in a bend."""
    layout = read_text(
        f"""\
vessels:
  bed: {{base: 0 m, rim: 0.3 m, water: {water} m, area: 1.5 m^2}}
lines:
  tap: {{pipe: pvc 25, from: {{draws: -{flow} L/min, height: 1 m}}, route: [{{down: 0.5 m}}], to: bed}}
"""
    )
    (over,) = [event.time for event in follow_day(layout, hours=1).events if event.kind == "overtops"]
    assert over == pytest.approx((0.3 - water) * 1.5 / (flow / 60000.0), abs=2.0)


@pytest.mark.second_method
def test_a_tank_empties_as_torricelli_says(read_text: ReadText) -> None:
    """A √h' = −a √(2g/K) √h / √A: with all loss in one fitting, √h falls evenly."""
    layout = read_text(
        WATER
        + """\
vessels:
  tank: {base: 1 m, water: 1 m, area: 0.5 m^2}
lines:
  hole: {pipe: {bore: 20 mm, roughness: 0 mm}, from: {vessel: tank, K: 0}, route: [{down: 0.02 m}, fitting: {K: 3000}, {down: 0.02 m}], to: {open air: yes, K: 1}}
"""
    )
    course = follow_day(layout, hours=6)
    bore = 0.25 * math.pi * 0.020**2
    rate = bore * math.sqrt(G / (2.0 * 3001.0)) / 0.5
    assert len(course.times) > 8
    for time, level in zip(course.times, course.vessels["tank"].level, strict=True):
        assert level - 0.96 == pytest.approx((math.sqrt(1.04) - rate * time) ** 2, abs=5e-4)


@pytest.mark.second_method
def test_a_falling_head_in_a_long_pipe_dies_away_evenly(read_text: ReadText) -> None:
    """Poiseuille: q = π g D⁴ h / (128 ν L), so h = h₀ e^(−t/τ)."""
    layout = read_text(
        THICK
        + """\
vessels:
  tank: {base: 0 m, water: 1.5 m, area: 0.2 m^2}
  lake: {base: 0 m, water: 0.5 m}
lines:
  pipe: {pipe: {bore: 25 mm, roughness: 0 mm}, from: {vessel: tank, height: 0.1 m, K: 0}, route: [{east: 20 m}], to: {vessel: lake, height: 0.1 m, K: 0}}
"""
    )
    course = follow_day(layout, hours=3)
    tau = 0.2 * 128.0 * 2e-4 * 20.0 / (math.pi * G * 0.025**4)
    assert math.exp(-course.times[-1] / tau) < 0.3
    for time, level in zip(course.times, course.vessels["tank"].level, strict=True):
        assert level - 0.5 == pytest.approx(math.exp(-time / tau), abs=5e-4)


@pytest.mark.second_method
def test_two_tanks_come_level_in_the_time_that_the_closed_form_gives(read_text: ReadText) -> None:
    """√Δ falls evenly, at a √(2g/K) (1/A₁ + 1/A₂)/2, and from its end on they stand level."""
    layout = read_text(
        WATER
        + """\
vessels:
  one: {base: 0 m, water: 1.0 m, area: 1 m^2}
  other: {base: 0 m, water: 0.4 m, area: 0.5 m^2}
lines:
  join: {pipe: {bore: 40 mm, roughness: 0 mm}, from: {vessel: one, height: 0.1 m, K: 0}, route: [{east: 0.1 m}, fitting: {K: 500}], to: {vessel: other, height: 0.1 m, K: 0}}
"""
    )
    course = follow_day(layout, hours=2)
    rate = 0.25 * math.pi * 0.04**2 * math.sqrt(2.0 * G / 500.0) * (1.0 + 2.0) / 2.0
    last = math.sqrt(0.6) / rate
    assert last < 0.5 * course.times[-1]
    for time, one, other in zip(course.times, course.vessels["one"].level, course.vessels["other"].level, strict=True):
        assert one - other == pytest.approx((math.sqrt(0.6) - rate * min(time, last)) ** 2, abs=1e-3)
    assert course.vessels["one"].level[-1] == pytest.approx(0.8, abs=1e-4)
    assert course.vessels["other"].level[-1] == pytest.approx(0.8, abs=1e-4)


@pytest.mark.second_method
def test_a_coned_tank_fills_by_the_volume_of_its_cone(read_text: ReadText) -> None:
    """The area grows evenly from 0.1 to 0.5 m² over 0.4 m: V(h) = 0.1 h + 0.5 h²."""
    layout = read_text(
        WATER
        + """\
vessels:
  cone: {base: 0 m, rim: 1 m, water: 0 m, area: [[0 m, 0.1 m^2], [0.4 m, 0.5 m^2]]}
lines:
  tap: {pipe: pvc 25, from: {draws: -2 L/min, height: 1.2 m}, route: [{east: 0.5 m}], to: cone}
"""
    )
    course = follow_day(layout, hours=0.5)
    for time, level in zip(course.times, course.vessels["cone"].level, strict=True):
        volume = 2e-3 / 60.0 * time
        assert level == pytest.approx(-0.1 + math.sqrt(0.01 + 2.0 * volume), abs=1e-6)
    assert course.water.added == pytest.approx(0.06, rel=1e-9)


# ---------------------------------------------------------------------- clocks, switches, float valves

POND = """\
water: 20 degC
vessels:
  sump: {base: 0 m, rim: 1 m, water: 0.6 m, area: 1 m^2}
  bed: {base: 1 m, rim: 0.4 m, water: 0.05 m, area: 0.5 m^2}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]RUNS}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 1.5 m}, elbow, {east: 1 m}], to: bed}
  drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.6 m}], to: sump}
"""


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize(
    ("runs", "changes"),
    [
        ("{on: 7 min, off: 13 min}", [7, 20, 27, 40, 47, 60]),
        ("{on: 10 min, off: 20 min, after: 5 min}", [5, 15, 35, 45]),
        ("[{from: 00:10, to: 00:25}, {from: 00:40, to: 00:50}]", [10, 25, 40, 50]),
    ],
)
def test_timers_switch_at_their_times(read_text: ReadText, runs: str, changes: list[float]) -> None:
    course = follow_day(read_text(POND.replace("RUNS", f", runs: {runs}")), hours=1)
    switched = [one for one in course.events if one.kind in ("pump on", "pump off")]
    assert [one.time / 60.0 for one in switched] == pytest.approx(changes, abs=1e-9)
    for time, on in zip(course.times, course.pumps["lift"].on, strict=True):
        inside = [change for change in changes if 60.0 * change < time - 1e-6]
        if all(abs(time - 60.0 * change) > 1e-6 for change in changes):
            first_on = switched[0].kind == "pump off"
            assert on == (first_on if len(inside) % 2 == 0 else not first_on)
    times = [0.0, *(60.0 * change for change in changes), 3600.0]
    lit = times[0:] if switched[0].kind == "pump off" else times[1:]
    ran = sum(stop - start for start, stop in zip(lit[::2], lit[1::2], strict=False))
    assert course.pumps["lift"].seconds == pytest.approx(ran, abs=1e-6)


@pytest.mark.invariant
@pytest.mark.parametrize(("most", "told"), [(11.9, True), (12.1, False)])
def test_a_pump_that_starts_more_often_than_the_limit_is_told(read_text: ReadText, most: float, told: bool) -> None:
    """2 min on and 3 min off: twelve starts an hour, by the clock."""
    layout = read_text(POND.replace("RUNS", ", runs: {on: 2 min, off: 3 min}"))
    layout = replace(layout, limits={**layout.limits, "pump starts": most})
    kinds = [one.kind for one in what_goes_wrong(layout, follow_day(layout, hours=5.0))]
    assert ("pump-starts-often" in kinds) == told


@pytest.mark.invariant
def test_a_level_switch_trips_at_its_heights(read_text: ReadText) -> None:
    text = POND.replace("RUNS", ", switch: {vessel: sump, on above: 0.5 m, off below: 0.45 m}")
    layout = read_text(text.replace("standpipe: 0.2 m", "height: 0 m").replace("pvc 50", "pvc 20"))
    course = follow_day(layout, hours=2)
    tripped = [one for one in course.events if one.kind in ("pump on", "pump off")]
    assert len(tripped) > 4
    for one in tripped:
        level = level_at(course, "sump", one.time)
        assert level == pytest.approx(0.5 if one.kind == "pump on" else 0.45, abs=2e-4)


@pytest.mark.invariant
def test_a_float_valve_keeps_its_height_and_its_litres(read_text: ReadText) -> None:
    """What a tank loses is what comes in, but for what its own level says."""
    layout = read_text("""\
        water: 20 degC
        vessels:
          tank: {base: 0 m, rim: 1 m, water: 0.5 m, area: 1 m^2, loses: 240 L/day}
        lines:
          top-up: {pipe: pvc 20, from: {supply: 2 L/min, height: 1.2 m}, route: [{down: 0.3 m}], to: {vessel: tank, float valve: 0.5 m}}
        """)
    course = follow_day(layout, hours=24)
    assert course.water.lost == pytest.approx(0.240, rel=1e-6)
    assert 0.479 < course.vessels["tank"].lowest < course.vessels["tank"].highest < 0.501
    assert course.water.end - course.water.start == pytest.approx(course.water.added - course.water.lost, abs=1e-9)


# ---------------------------------------------------------------------- siphons


@pytest.mark.some(1)
@pytest.mark.second_method
@pytest.mark.parametrize("inflow", [8.0, 12.0, 16.0])
def test_a_siphon_bed_goes_round_as_two_integrals_say(read_text: ReadText, inflow: float) -> None:
    """Up: A dh/(Q − weir); down: A dh/(√(2g(h−z)/K) a − Q), with all loss of the full pipe in stated K.

    The weir is that of a full circle, Q [L/s] = h^1.5 D/7500 in mm, BS EN 12056-3's, and it catches at V/√(gD) = 0.3."""
    crest, low, bore, area = 0.22, 0.05, 0.022, 0.5
    layout = read_text(
        WATER
        + f"""\
vessels:
  bed: {{base: 1.0 m, rim: 0.4 m, water: 0.05 m, area: 0.5 m^2}}
lines:
  feed: {{pipe: pvc 32, from: {{draws: -{inflow} L/min, height: 1.6 m}}, route: [{{east: 0.5 m}}], to: bed}}
  siphon: {{pipe: {{bore: 22 mm, roughness: 0 mm}}, from: {{vessel: bed, siphon: {crest} m, breaks: {low} m, K: 0}}, route: [{{down: 0.35 m}}, fitting: {{K: 9}}, {{down: 0.35 m}}], to: {{open air: yes, K: 1}}}}
"""
    )
    course = follow_day(layout, hours=3)
    q, wide = inflow / 60_000.0, 0.25 * math.pi * bore**2
    catches = 0.3 * math.sqrt(G * bore) * wide
    top = crest + (7500.0 * catches * 1e3 / (bore * 1e3)) ** (2.0 / 3.0) / 1e3
    heights = low + (top - low) * (np.arange(20_000) + 0.5) / 20_000
    step = (top - low) / 20_000
    weir = np.maximum(heights - crest, 0.0) ** 1.5 * 1e3**1.5 * bore * 1e3 / 7500.0 / 1e3
    up = float(np.sum(area * step / (q - weir)))

    def full(height: float) -> float:
        """The pipe's flow, by Blasius' friction for 0.7 m of smooth pipe with the ten heads of its fitting and its end."""
        speed = 1.0
        for _ in range(60):
            friction = 0.3164 / (speed * bore / 1e-6) ** 0.25
            speed = math.sqrt(2.0 * G * (height + 0.48) / (10.0 + friction * 0.7 / bore))
        return wide * speed

    down = sum(area * step / (full(height) - q) for height in heights[::20]) * 20.0
    stops = [one.time for one in course.events if one.kind == "siphon stops"]
    starts = [one.time for one in course.events if one.kind == "siphon starts"]
    assert starts[0] == pytest.approx(up, rel=0.01)
    assert float(np.mean(np.diff(stops))) == pytest.approx(up + down, rel=0.02)


@pytest.mark.second_method
@pytest.mark.slow
@pytest.mark.parametrize(
    "known", [*DAYS, *range(6)], ids=lambda known: known.name if isinstance(known, Day) else f"random {known}"
)
def test_a_day_is_what_the_slow_model_makes_of_it(read_text: ReadText, known: Day | int) -> None:
    """The slow model knows no network: it is written for the tests. It says of a pump that is on at midnight that it starts."""
    day = known if isinstance(known, Day) else random_day(known)
    course = follow_day(read_text(day.text), hours=day.hours)
    for name, level in day.course.lowest.items():
        assert course.vessels[name].lowest == pytest.approx(level, abs=day.level_within), name
    for name, level in day.course.highest.items():
        assert course.vessels[name].highest == pytest.approx(level, abs=day.level_within), name
    for name, level in day.course.ends.items():
        if not day.name.startswith(("siphon", "timer", "switch")):
            assert course.vessels[name].level[-1] == pytest.approx(level, abs=day.level_within), name
    for name, count in day.course.floods.items():
        assert falls(list(course.vessels[name].level)) == pytest.approx(count, abs=1 + 0.05 * count), name
    for name, hours in day.course.pump_hours.items():
        assert course.pumps[name].seconds / 3600.0 == pytest.approx(hours, rel=day.within), name
    for name, count in day.course.starts.items():
        assert course.pumps[name].starts == pytest.approx(count, abs=1 + 0.05 * count), name
    for litres, found in ((day.course.added, course.water.added), (day.course.lost, course.water.lost)):
        if litres is not None:
            assert found * 1e3 == pytest.approx(litres, rel=day.within, abs=1.0)


# ---------------------------------------------------------------------- what is always so


@pytest.mark.some(2)
@pytest.mark.invariant
@pytest.mark.parametrize("name", ["siphon_bed", "timer_bed", "troughs", "courtyard", "overflow"])
def test_water_is_conserved_at_every_moment_written_down(name: str) -> None:
    """These layouts are closed: all water is in vessels, to 1e-9 of it."""
    layout = read_layout(LAYOUTS / f"{name}.yaml")
    course = follow_day(layout, hours=4)
    assert sum(one.spilt for one in course.vessels.values()) == 0.0
    assert course.water.added == pytest.approx(0.0, abs=1e-9 * course.water.start)
    whole = course.water.start
    for moment in range(len(course.times)):
        there = math.fsum(content(layout.vessels[name], one.level[moment]) for name, one in course.vessels.items())
        assert there == pytest.approx(whole, rel=1e-9)


@pytest.mark.invariant
def test_water_that_comes_and_goes_is_in_the_account(read_text: ReadText) -> None:
    """A supply, an evaporation, a rim that spills and an open end, together: end = start + added − lost."""
    layout = read_text("""\
        water: 20 degC
        vessels:
          high: {base: 1 m, rim: 0.3 m, water: 0.2 m, area: 0.3 m^2, loses: 50 L/day}
          low: {base: 0 m, rim: 0.8 m, water: 0.3 m, area: 0.5 m^2}
        lines:
          tap: {pipe: pvc 25, from: {draws: -9 L/min, height: 1.6 m}, route: [{east: 0.5 m}], to: high}
          port: {pipe: {bore: 10 mm, material: pvc}, from: {vessel: high, height: 0.05 m}, route: [{down: 0.5 m}], to: low}
          out: {pipe: pvc 20, from: {vessel: low, height: 0.1 m}, route: [{east: 0.5 m}], to: open air}
        """)
    course = follow_day(layout, hours=5)
    water = course.water
    assert course.vessels["high"].spilt > 0.0
    assert water.added == pytest.approx(9e-3 * 300.0, rel=1e-6)
    assert water.end == pytest.approx(water.start + water.added - water.lost, rel=1e-9)


def printed(layout: Layout, course: Course) -> str:
    console = Console(width=100, record=True, file=io.StringIO())
    console.print(DayView(layout, course))
    return console.export_text()


@pytest.mark.slow(3)
@pytest.mark.invariant
@pytest.mark.parametrize("name", ["siphon_bed", "timer_bed"])
def test_half_the_error_allowed_changes_nothing_that_is_printed(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    layout = read_layout(LAYOUTS / f"{name}.yaml")
    whole = printed(layout, follow_day(layout, hours=6))
    monkeypatch.setattr(steps, "CLOSE", 0.5 * steps.CLOSE)
    assert printed(layout, follow_day(layout, hours=6)) == whole


@pytest.mark.invariant
@pytest.mark.parametrize("moved", [-0.1, 0.0, 0.06])
def test_steady_running_is_where_the_day_ends_up(read_text: ReadText, moved: float) -> None:
    """From any start with the same water: here so much moved from the sump into the bed."""
    text = POND.replace("RUNS", "")
    started = text.replace("water: 0.05 m", f"water: {0.15 + moved:.3f} m")
    started = started.replace("water: 0.6 m", f"water: {0.6 - 0.5 * (0.10 + moved):.4f} m")
    course = follow_day(read_text(started), hours=12)
    steady = find_flows(read_text(text))
    for name, one in course.vessels.items():
        assert one.level[-1] == pytest.approx(steady.vessels[name].level, abs=2e-4)


# ---------------------------------------------------------------------- what is said


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_a_bed_on_a_timer_is_timed_between_its_usual_lowest_and_highest() -> None:
    """31 L/min fill 8 tenths of 0.8 m² · 0.21 m less what the foot takes, so a little longer than 4.4 min."""
    layout = read_layout(LAYOUTS / "timer_bed.yaml")
    (bed,) = bed_courses(layout, follow_day(layout, hours=6))
    assert bed.floods == 12
    assert bed.fills is not None
    assert bed.fills > 0.8 * 0.8 * 0.21 / 31.0 * 1e3 * 60.0
    assert bed.fills < 600.0


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize(
    ("day", "kind"),
    [
        ("a siphon that trickles on", "siphon-trickles"),
        ("a siphon that runs on", "siphon-runs-on"),
        ("a sump too small for its bed", "sump-runs-dry"),
        ("a float valve that sees the low sump of the flood", "day-overtops"),
    ],
)
def test_what_goes_wrong_is_found(read_text: ReadText, day: str, kind: str) -> None:
    one = next(one for one in DAYS if one.name == day)
    layout = read_text(one.text)
    found = {finding.kind: finding for finding in what_goes_wrong(layout, follow_day(layout, hours=one.hours))}
    assert kind in found
    assert found[kind].level == "fail"
    assert found[kind].cure


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("siphon_bed", "Nothing overtops, no intake draws air, and every siphon starts and stops."),
        ("courtyard", "Nothing overtops, and no intake draws air."),
    ],
)
def test_a_sound_day_speaks_of_siphons_where_there_are_some(
    name: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["day", str(LAYOUTS / f"{name}.yaml"), "--hours", "1"]) == 0
    assert capsys.readouterr().out.splitlines()[1] == said


@pytest.mark.invariant
def test_json_has_the_keys_that_are_promised(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["day", str(LAYOUTS / "siphon_bed.yaml"), "--hours", "1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    moments = len(told["times_s"])
    assert told["times_s"][0] == 0.0
    assert told["times_s"][-1] == pytest.approx(3600.0)
    for vessel in told["vessels"].values():
        assert len(vessel["level_m"]) == moments
        assert vessel["lowest_m"] == min(vessel["level_m"])
        assert vessel["highest_m"] == max(vessel["level_m"])
    assert set(told["ends"]) == {"riser.to", "siphon.to"}
    assert all(len(end["flow_l_min"]) == moments for end in told["ends"].values())
    assert set(told["pumps"]["lift"]) >= {"on", "starts", "hours"}
    assert told["pumps"]["lift"]["on"] == [True] * moments
    assert told["pumps"]["lift"]["hours"] == pytest.approx(1.0)
    assert set(told["events"][0]) == {"time_s", "kind", "where", "message"}
    assert set(told["water_l"]) == {"start", "end", "added", "lost"}


@pytest.mark.invariant
def test_levels_are_above_the_datum(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["day", str(LAYOUTS / "siphon_bed.yaml"), "--hours", "0.1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["vessels"]["bed"]["level_m"][0] == pytest.approx(1.05)


# ---------------------------------------------------------------------- bad input


BAD = [
    ("standpipe: 0.2 m", "siphon: 0.2 m, breaks: 0.25 m", "the siphon breaks at 0.25 m, no lower than its crest"),
    ("standpipe: 0.2 m", "siphon: 0.2 m", "a siphon that does not say where it breaks"),
    ("standpipe: 0.2 m", "standpipe: 0.2 m, breaks: 0.05 m", "'breaks' without a siphon"),
    ("RUNS", ", runs: {from: 06:00, to: 06:00}", "never runs"),
    ("RUNS", ", runs: {on: 5 min}", "does not say how long it is off"),
    ("RUNS", ", switch: {vessel: sump, on above: 0.3 m, off below: 0.5 m}", "fights itself"),
    ("RUNS", ", switch: {vessel: sump, on above: 1.5 m, off below: 0.5 m}", "can never turn it on"),
    ("RUNS", ", switch: {vessel: pond, on above: 0.5 m, off below: 0.3 m}", "pond"),
    ("area: 0.5 m^2", "area: [[0.2 m, 0.5 m^2], [0.1 m, 1 m^2]]", "not sorted by height"),
]


@pytest.mark.invariant
@pytest.mark.parametrize(("old", "new", "said"), BAD, ids=[said for _, _, said in BAD])
def test_what_cannot_work_is_one_plain_fault_with_its_line(read_text: ReadText, old: str, new: str, said: str) -> None:
    text = POND.replace(old, new).replace("RUNS", "")
    with pytest.raises(LayoutError) as caught:
        read_text(text)
    (fault,) = caught.value.faults
    assert said in str(fault)
    assert new.strip(", ") in text.splitlines()[fault.line - 1]


@pytest.mark.second_method
def test_what_runs_over_once_and_settles_is_told_as_that(read_text: ReadText) -> None:
    """Two tanks come level: 0.5 · 0.9 + 0.3 · 0.2 = 0.51 m³ over 0.8 m², and the rim of the small one at 0.6 m keeps 0.48 m³: 30 L run over, but for
    what goes to the air meanwhile."""
    layout = read_text(
        "vessels:\n"
        "  high: {base: 0 m, rim: 1.0 m, water: 0.9 m, area: 0.5 m^2, loses: 5 L/day}\n"
        "  low: {base: 0 m, rim: 0.6 m, water: 0.2 m, area: 0.3 m^2}\n"
        "lines:\n"
        "  join: {pipe: pvc 32, from: {vessel: high, height: 0.05 m}, route: [east: 1 m], to: low}\n"
    )
    course = follow_day(layout, hours=24.0)
    assert course.vessels["low"].spilt == pytest.approx(0.030, abs=0.002)
    message = next(one.message for one in what_goes_wrong(layout, course) if one.kind == "day-overtops")
    assert message.startswith("'low' runs over its rim once at 00:0")
    assert message.endswith(" L in all, and not again in 24 h.")


@pytest.mark.second_method
def test_a_sleeve_takes_as_much_in_the_day_as_in_steady_running(read_text: Callable[[str], Layout]) -> None:
    """After an hour the levels are those of the check. The gap of the sleeve takes 5 mm of the tank's head: without it the tank would stand lower."""
    text = """
    vessels:
      sump: {holds: sump, base: 0 m, rim: 1 m, water: 0.7 m, area: 1.5 m^2}
      fish: {holds: fish, base: 0.3 m, rim: 1 m, water: 0.85 m, area: 2 m^2}
    pumps: {lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 5 m], [50 L/min, 3.6 m], [90 L/min, 1 m]]}}
    lines:
      riser: {pipe: pvc 40, from: lift, route: [{up: 1.6 m}, elbow, {east: 1 m}], to: fish}
      over: {pipe: dwv 75, from: {vessel: fish, standpipe: 0.85 m, sleeve: 110 mm}, route: [{down: 0.3 m}, elbow, {west: 1 m, fall: 1 %}], to: sump}
    """
    layout = read_text(text)
    steady = find_flows(layout).vessels
    course = follow_day(layout, hours=1.0)
    for name, one in course.vessels.items():
        assert one.level[-1] == pytest.approx(steady[name].level, abs=1e-6), name
    bare = find_flows(read_text(text.replace(", sleeve: 110 mm", ""))).vessels
    assert (steady["fish"].level or 0.0) - (bare["fish"].level or 0.0) > 0.003


TAP = """
vessels:
  sump: {base: 0 m, rim: 0.6 m, water: 0.3 m, area: 0.4 m^2}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2}
pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 3 m], [20 L/min, 1.5 m]], runs: {on: 10 min, off: 20 min}}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 1.3 m}, elbow, {east: 0.3 m}, tee: t, {east: 0.3 m}], to: bed}
  tap: {pipe: pvc 20, from: t, route: [{north: 0.5 m}], to: {draws: 2 L/min}}
  drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.8 m}], to: sump}
"""


@pytest.mark.second_method
def test_a_draw_gets_nothing_while_the_pump_that_brings_it_rests(read_text: ReadText) -> None:
    """10 minutes of every 30, for an hour: two times ten at 2 L/min."""
    course = follow_day(read_text(TAP), hours=0.99)
    assert course.water.lost == pytest.approx(0.040, abs=1e-6)
    turns = [(round(one.time), one.kind) for one in course.events if one.where == "tap"]
    assert turns == [(600, "draw runs dry"), (1800, "draw gets water"), (2400, "draw runs dry")]


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("pumps", "line", "litres", "flow"),
    [
        ("pumps: {lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 2.6 m], [42 L/min, 1 m]]}}", "from: lift, route: [{up: 1 m}]", 175.0, 10.0),
        ("", "from: {vessel: sump, height: 0.05 m}, route: [{east: 1 m}]", 175.0, 10.0),
        ("", "from: sump, route: [{down: 0.2 m}, elbow, {east: 1 m}]", 200.0, 1.0),
    ],
    ids=["pumped", "by a port", "by the floor"],
)  # fmt: skip
def test_a_draw_runs_dry_with_its_sump_and_the_day_goes_on(
    read_text: ReadText, pumps: str, line: str, litres: float, flow: float
) -> None:
    """0.4 m on half a square metre are 200 L, of which 25 stand under an intake at 0.05 m."""
    layout = read_text(f"""
vessels: {{sump: {{holds: sump, base: 0 m, rim: 0.9 m, water: 0.4 m, area: 0.5 m^2}}}}
{pumps}
lines: {{draw: {{pipe: pvc 25, {line}, to: {{draws: {flow} L/min}}}}}}
""")
    course = follow_day(layout, hours=6.0)
    (dry,) = [one for one in course.events if one.kind == "draw runs dry"]
    assert dry.time / 60.0 == pytest.approx(litres / flow, rel=3e-3)
    assert 1000.0 * course.water.lost == pytest.approx(litres, rel=3e-3)
    assert course.times[-1] == pytest.approx(6 * 3600.0)


@pytest.mark.second_method
def test_a_round_in_which_a_thing_happens_twice_is_known() -> None:
    """At 0, 10, 35, 45 and 70 s, the water alike at 0, 35 and 70: a round of 35 s, of which ten more fit into the 355 s behind it."""
    cycles = Cycles(np.array([1.0]), [])
    found = [
        cycles.at(("siphon starts", "bed"), Mark(time, np.array([depth]), Switches(), 0, 0), 425.0)
        for time, depth in ((0.0, 0.2), (10.0, 0.3), (35.0, 0.2), (45.0, 0.3), (70.0, 0.2))
    ]
    assert found[:4] == [None] * 4
    assert found[4] is not None
    assert (found[4].begin.time, found[4].end.time, found[4].times) == (35.0, 70.0, 10)
    assert cycles.period == 35.0


@pytest.mark.second_method
def test_a_draw_goes_on_while_a_pump_down_to_its_intake_brings_what_comes(read_text: ReadText) -> None:
    """5 L/min come into a sump that stands at the pump's intake: 2 of them are drawn off, 120 L in an hour, and 3 go to the bed."""
    layout = read_text("""
vessels:
  sump: {base: 0 m, rim: 0.6 m, water: 0.06 m, area: 0.5 m^2}
  bed: {base: 1 m, rim: 0.4 m, water: 0 m, area: 1 m^2}
pumps: {lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 2.6 m], [42 L/min, 1 m]]}}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 1 m}, tee: t, {up: 0.4 m}, elbow, {east: 0.4 m}], to: bed}
  tap: {pipe: pvc 25, from: t, route: [{east: 1 m}], to: {draws: 2 L/min}}
  rain: {pipe: pvc 20, from: {supply: 5 L/min, height: 1.2 m}, route: [{down: 0.5 m}], to: sump}
""")
    course = follow_day(layout, hours=1.0)
    assert not [one for one in course.events if one.kind.startswith("draw")]
    assert course.water.lost == pytest.approx(0.120, rel=1e-6)
    assert course.vessels["bed"].level[-1] - 1.0 == pytest.approx(0.005 + course.water.added - 0.120, abs=2e-4)
