"""Level pipe that has air in it, in steady running, through the day and after a power cut.

Water that runs off level pipe has at least the energy of its critical depth over the pipe's floor: E = y + A/2T where Q² T = g A³
(Chow, Open-Channel Hydraulics, 1959, ch. 3 and 4 [M]; at the brink itself it stands at some 0.72 of that depth, and has that energy a few depths
before). Still water stands at the lowest point of the lip that it runs over: the pipe's floor.

By hand, of 20 L/min in 100 mm: Q/√(g D⁵) = 0.0337; y = 17.9 mm (θ 1.747, A 954 mm², T 76.7 mm) gives it, and A/2T = 6.2 mm, so E = 24.1 mm. In 50 mm it is 0.190:
y = 21.9 mm (θ 2.889, A 825 mm², T 49.6 mm), A/2T = 8.3 mm, E = 30.2 mm.
"""

from __future__ import annotations

import math

import pytest
from conftest import ReadText
from plain_mouths import critical_energy as energy
from scipy.optimize import brentq

from plumbline.day.follow import follow_day
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.flows import Flows
from plumbline.hydraulics.grade import stretch_grade
from plumbline.hydraulics.power_cut import PowerCut, power_cut
from plumbline.hydraulics.stretches import open_runs
from plumbline.layout.model import Layout

LITRE_MIN = 1.0 / 60000.0

RIG = """
water: 20 degC
vessels:
  sump: {base: -1 m, rim: 2 m, water: 0.6 m, area: 4 m^2}
  tank: {base: 0 m, rim: 2 m, water: 1.6 m, area: 2 m^2}
pumps: {lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 60 m], [20.8 L/min, 0 m]]}}
lines:
  riser: {pipe: {bore: 26 mm}, from: lift, route: [check valve, {up: 2.8 m}, elbow, {east: 0.4 m}, elbow, {down: 0.02 m}], to: tank}
"""

LEVEL = "  level: {pipe: {bore: 100 mm}, from: {vessel: tank, overflow: 1.6 m, K: 0}, route: [{east: 0.5 m}, elbow, {down: 1.5 m}], to: sump}\n"
FALLING = (
    LEVEL.replace("level:", "falling:").replace("east: 0.5 m", "west: 0.5 m, down: 20 mm").replace("1.5 m", "1.48 m")
)
NARROW = LEVEL.replace("level:", "narrow:").replace("100 mm", "50 mm").replace("east", "west")
"""A port with the same axis, 25 mm higher at its floor."""
VENTED = LEVEL.replace("{east: 0.5 m}", "{east: 0.2 m}, {tee: {id: t, K: 0}}, {east: 0.3 m}") + (
    "  vent: {pipe: {bore: 50 mm}, from: t, route: [{up: 0.6 m}], to: open air}\n"
)
OVER = """\
  over: {pipe: {bore: 100 mm}, from: {vessel: tank, height: 0.5 m, K: 0}, route: [{east: 0.2 m}, elbow, {up: 1.1 m}, elbow, {east: 0.2 m}, {tee: {id: t, K: 0}}, {east: 0.3 m}, elbow, {down: 1.5 m}], to: sump}
  vent: {pipe: {bore: 50 mm}, from: t, route: [{up: 0.6 m}], to: open air}
"""
"""Out low down and up over a hump whose level top, its axis at 1.6 m, has a vent: no siphon."""

BRANCH = """\
  level: {pipe: {bore: 100 mm}, from: {vessel: tank, overflow: 1.6 m, K: 0}, route: [{east: 0.5 m}, {tee: {id: t, K: 0}}, {east: 0.1 m}], to: plug}
  drop: {pipe: {bore: 100 mm}, from: t, route: [{down: 1.5 m}], to: sump}
"""
"""A tee in place of the elbow, with its branch down."""
FREE = LEVEL.replace(", elbow, {down: 1.5 m}", "")
"""Its level end hangs in the air over the sump."""


def ran(read_text: ReadText, drains: str) -> tuple[Layout, Flows, PowerCut]:
    layout = read_text(RIG + drains)
    flows = find_flows(layout)
    assert flows.stretches["riser.1"].flow / LITRE_MIN == pytest.approx(20.0, abs=0.5)
    return layout, flows, power_cut(layout, flows)


def running(flows: Flows, vessel: str = "tank") -> float:
    level = flows.vessels[vessel].level
    assert level is not None
    return level


def rest(cut: PowerCut, vessel: str = "tank") -> float:
    level = next(row.after for row in cut.vessels if row.vessel == vessel)
    assert level is not None
    return level


@pytest.mark.second_method
def test_energy_of_the_critical_depth_by_hand() -> None:
    """The sums in the head of this file: y tried until Q² T = g A³ is met."""
    assert energy(20.0 * LITRE_MIN, 0.1) == pytest.approx(0.0241, abs=1e-4)
    assert energy(20.0 * LITRE_MIN, 0.05) == pytest.approx(0.0302, abs=1e-4)


@pytest.mark.second_method
@pytest.mark.parametrize(
    "drains", [LEVEL, FALLING, FREE, BRANCH, VENTED, OVER], ids=["level", "falling", "free", "branch", "vented", "hump"]
)
def test_one_way_out_runs_at_the_critical_depth_over_its_floor_and_rests_at_its_floor(
    read_text: ReadText, drains: str
) -> None:
    """20 L/min over a floor at 1.55 m: 1.574 m; friction of half a metre in 100 mm is 0.02 mm, of the hump's elbows 0.1 mm."""
    layout, flows, cut = ran(read_text, drains)
    level = 1.55 + energy(flows.stretches["riser.1"].flow, 0.1)
    assert running(flows) == pytest.approx(level, abs=3e-4)
    assert rest(cut) == pytest.approx(1.55, abs=1e-6)
    course = follow_day(layout, hours=1.0)
    assert course.vessels["tank"].level[-1] == pytest.approx(level, abs=5e-4)


@pytest.mark.second_method
@pytest.mark.parametrize(("bore", "up"), [(100, 1), (100, 60), (50, 20)])
def test_a_way_out_that_climbs_to_its_open_end_runs_over_the_floor_there(
    read_text: ReadText, bore: int, up: int
) -> None:
    """A millimetre of climb is a millimetre more, and not half a bore: 20 L/min stand E over the floor of the end, 24.1 mm in 100 and 30.2 mm in 50 mm, and at
    rest the water stands at that floor. Friction of half a metre in 50 mm full is 0.6 mm."""
    climbs = FREE.replace("100 mm", f"{bore} mm").replace("east: 0.5 m", f"east: 0.5 m, up: {up} mm")
    _, flows, cut = ran(read_text, climbs)
    floor = 1.6 + up / 1000.0 - bore / 2000.0
    assert running(flows) == pytest.approx(floor + energy(flows.stretches["riser.1"].flow, bore / 1000.0), abs=7e-4)
    assert rest(cut) == pytest.approx(floor, abs=1e-6)


@pytest.mark.second_method
def test_the_grade_line_is_nowhere_under_the_critical_depths_energy(read_text: ReadText) -> None:
    """At the elbow 20 L/min has 24.1 mm over the floor, of which the full pipe's speed is 0.1 mm."""
    layout, flows, _ = ran(read_text, LEVEL)
    (stretch,) = (one for one in layout.stretches if one.line == "level")
    places = stretch_grade(layout, flows, stretch)
    brink = next(total for part, _, total, _ in places if part is not None and part.kind == "run")
    assert brink == pytest.approx(1.55 + energy(flows.stretches["level.1"].flow, 0.1), abs=1e-6)


@pytest.mark.second_method
def test_a_level_way_out_and_a_falling_one_share_alike(read_text: ReadText) -> None:
    _, flows, cut = ran(read_text, LEVEL + FALLING)
    half = 0.5 * flows.stretches["riser.1"].flow
    assert flows.stretches["level.1"].flow == pytest.approx(half, rel=0.01)
    assert running(flows) == pytest.approx(1.55 + energy(half, 0.1), abs=2e-4)
    assert rest(cut) == pytest.approx(1.55, abs=1e-6)


@pytest.mark.second_method
def test_two_level_ways_out_of_unlike_bore_share_by_the_depth_over_their_own_floors(read_text: ReadText) -> None:
    """The narrow one's floor is 25 mm higher, over what the wide one asks for by itself: it stays dry."""
    _, flows, cut = ran(read_text, LEVEL + NARROW)
    assert flows.stretches["narrow.1"].flow == 0.0
    assert running(flows) == pytest.approx(1.5741, abs=3e-4)
    assert rest(cut) == pytest.approx(1.55, abs=1e-6)


@pytest.mark.second_method
def test_two_level_ways_out_of_unlike_bore_that_both_run(read_text: ReadText) -> None:
    """A wide one 15 mm higher has its floor 10 mm under the narrow one's: what goes over each by its own depth is 20 L/min."""
    wide = LEVEL.replace("overflow: 1.6 m", "overflow: 1.615 m").replace("1.5 m}]", "1.515 m}]")
    _, flows, cut = ran(read_text, wide + NARROW)
    pumped = flows.stretches["riser.1"].flow

    def over(level: float, floor: float, bore: float) -> float:
        return float(brentq(lambda q: energy(q, bore) - (level - floor), 1e-9, 1e-3)) if level > floor else 0.0

    level = float(brentq(lambda h: over(h, 1.565, 0.1) + over(h, 1.575, 0.05) - pumped, 1.5651, 1.6))
    assert running(flows) == pytest.approx(level, abs=2e-4)
    assert flows.stretches["narrow.1"].flow == pytest.approx(over(level, 1.575, 0.05), rel=0.02)
    assert rest(cut) == pytest.approx(1.565, abs=1e-6)


LOW = """\
  low: {pipe: {bore: 100 mm}, from: {vessel: tank, height: 0.4 m, K: 0}, route: [{east: 2 m}], to: {vessel: next, height: 0.4 m}}
  back: {pipe: {bore: 100 mm}, from: {vessel: next, overflow: 1.2 m, K: 0}, route: [{east: 0.5 m}, elbow, {down: 1.5 m}], to: sump}
"""


@pytest.mark.second_method
def test_level_pipe_under_water_is_full_and_its_floor_says_nothing(read_text: ReadText) -> None:
    """Two tanks joined low down stand level but for what full pipe loses, 0.1 mm, and rest level at the floor of the second's overflow."""
    drains = "  next: {base: 0 m, rim: 2 m, water: 1.2 m, area: 1 m^2}\npumps"
    layout = read_text(RIG.replace("pumps", drains) + LOW)
    flows = find_flows(layout)
    speed = flows.stretches["low.1"].flow / (math.pi / 4 * 0.1**2)
    assert running(flows, "next") == pytest.approx(1.15 + energy(flows.stretches["back.1"].flow, 0.1), abs=3e-4)
    assert 0.0 < running(flows) - running(flows, "next") < 3.0 * speed**2 / 19.6133
    assert not flows.stretches["low.1"].vented
    cut = power_cut(layout, flows)
    assert rest(cut) == pytest.approx(1.15, abs=2e-4)
    assert rest(cut, "next") == pytest.approx(1.15, abs=2e-4)


@pytest.mark.second_method
def test_a_level_drain_whose_end_is_under_water_rests_with_what_it_ends_in(read_text: ReadText) -> None:
    """Its floor, 1.55 m, is under the water of the pool that it ends in, which a standpipe holds at 1.7 m."""
    pool = "  pool: {base: 1 m, rim: 1 m, water: 0.7 m, area: 1 m^2}\npumps"
    drains = (
        "  level: {pipe: {bore: 100 mm}, from: {vessel: tank, height: 1.6 m, K: 0}, route: [{east: 0.5 m}], to: {vessel: pool, height: 0.6 m}}\n"
        "  back: {pipe: {bore: 100 mm}, from: {vessel: pool, standpipe: 0.7 m}, route: [{down: 1.2 m}], to: sump}\n"
    )
    layout = read_text(RIG.replace("pumps", pool) + drains)
    flows = find_flows(layout)
    assert 1.7 < running(flows, "pool") < running(flows) < running(flows, "pool") + 5e-4
    assert not flows.stretches["level.1"].vented
    cut = power_cut(layout, flows)
    assert rest(cut) == pytest.approx(1.7, abs=2e-4)


@pytest.mark.some(2)
@pytest.mark.invariant
@pytest.mark.parametrize("bore", [100, 40, 32])
def test_an_eye_in_a_level_way_out_with_an_open_end_changes_no_level(read_text: ReadText, bore: int) -> None:
    """The line is of two stretches then, and air comes in by the end to both, however much runs."""
    free = FREE.replace("100 mm", f"{bore} mm")
    eye = free.replace("{east: 0.5 m}", "{east: 0.2 m}, {cap: {id: eye, faces: up, K: 0}}, {east: 0.3 m}")
    assert eye != free
    plain, flows, cut = ran(read_text, free)
    layout, with_eye, cut_with_eye = ran(read_text, eye)
    assert open_runs(plain) == {"level.1"}
    assert open_runs(layout) == {"level.1", "level.2"}
    assert running(with_eye) == pytest.approx(running(flows), abs=1e-6)
    assert rest(cut_with_eye) == pytest.approx(rest(cut), abs=1e-9)
    assert {with_eye.stretches[name].vented for name in open_runs(layout)} == {flows.stretches["level.1"].vented}


@pytest.mark.invariant
def test_air_comes_by_its_own_end_to_no_way_out_that_sags_drops_or_lies_under_water(read_text: ReadText) -> None:
    """Nor to one with a tee, whose other lines say where its air is. One that is walked from its open end is the same."""

    def of(line: str) -> frozenset[str]:
        return open_runs(read_text(RIG + line))

    assert of(FREE.replace("east: 0.5 m", "east: 0.5 m, down: 20 mm")) == {"level.1"}
    walked = FREE.replace("from: {vessel: tank, overflow: 1.6 m, K: 0}", "from: open air").replace("east", "west")
    walked = walked.replace("to: sump", "to: {vessel: tank, overflow: 1.6 m, K: 0}")
    assert of(walked) == {"level.1"}
    assert of(walked.replace("west: 0.5 m", "west: 0.5 m, up: 20 mm")) == {"level.1"}
    sags = "{east: 0.2 m, down: 50 mm}, bend 22.5, {east: 0.3 m, up: 20 mm}"
    assert of(FREE.replace("{east: 0.5 m}", sags.replace("bend 22.5", "fitting: {K: 0}"))) == frozenset()
    assert of(FREE.replace("east: 0.5 m", "east: 0.5 m, up: 20 mm")) == {"level.1"}
    assert of(LEVEL) == frozenset()
    assert of(FREE.replace("overflow: 1.6 m", "height: 1.4 m")) == frozenset()
    assert of(VENTED.replace(", elbow, {down: 1.5 m}", "")) == frozenset()
