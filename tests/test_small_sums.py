"""Small sums that much else rests on, each by hand."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from builders import flows, layout, walk

from plumbline.day.start import reached
from plumbline.day.told import bed_courses
from plumbline.diagnose.faulty import with_loss
from plumbline.hydraulics.contents import between, content, level_of, mean_area
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.hole_size import DRILLS, INCH_DRILLS
from plumbline.hydraulics.never_settles import _without_way_out
from plumbline.hydraulics.power_cut_findings import _overtops
from plumbline.layout import layout_of
from plumbline.layout.model import Vessel
from plumbline.mishaps import choose
from plumbline.mishaps.harm import _reaches
from plumbline.mishaps.jets import across
from plumbline.parts import bill_of
from plumbline.redesign.buys import Buy, Standing, _gives, standing
from plumbline.redesign.offers import _legs
from plumbline.redesign.prices import read_prices
from plumbline.upkeep.carried import systems
from plumbline.upkeep.carry_out import times_out
from plumbline.upkeep.fouled import _cut
from plumbline.upkeep.room_ahead import Capsules, RoomAhead


@pytest.mark.second_method
def test_how_far_it_is_over_a_vessel() -> None:
    """A round one of 2 m across, a square one of 2 m on each side, corner to corner."""
    made = layout(walk("a", "vessel tank", [("east", 1.0)], "vessel bed")).vessels["tank"]
    wide: list[tuple[Any, float, float | None]] = [
        ("round", math.pi, 2.0),
        ("square", 4.0, 2.0 * math.sqrt(2.0)),
        ("long", 4.0, None),
    ]
    for shape, area, far in wide:
        assert across(replace(made, shape=shape, area=area)) == (None if far is None else pytest.approx(far))
    assert isinstance(made, Vessel)


@pytest.mark.second_method
def test_a_layout_stands_by_the_vessel_that_lacks_most() -> None:
    """12 of 10 and 9 of 10 L/min: a tenth is lacking."""
    vessels = {
        name: SimpleNamespace(inflow=got, wanted=want)
        for name, got, want in (("a", 12, 10), ("b", 9, 10), ("c", 5, None))
    }
    score = SimpleNamespace(points=50.0, cleanable=0.5, marks={})
    found = standing(cast(Any, SimpleNamespace(flows=SimpleNamespace(vessels=vessels), findings=(), score=score)))
    assert found.margin == pytest.approx(-0.1)


@pytest.mark.second_method
@pytest.mark.parametrize(("margin", "spare"), [(None, 0.0), (-0.2, -0.2), (0.05, 0.05), (0.3, 0.1)])
def test_more_spare_than_is_asked_for_is_no_gain(margin: float | None, spare: float) -> None:
    buy = Buy((), 5.0, cast(Any, None), Standing(50.0, 0.5, margin, 1))
    assert _gives(buy, 0.1) == (-5.0, 0.5, spare, -1.0)


@pytest.mark.invariant
def test_a_pump_joins_its_line_to_the_vessel_that_it_stands_in() -> None:
    made = layout_of("""
vessels: {tank: {base: 0 m, water: 0.5 m}, bed: {base: 1 m, water: 0.1 m}, other: {base: 0 m, water: 0.5 m}}
pumps:
  lift: {in: tank, curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}
  spare: {in: other, curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}
lines: {feed: {pipe: pvc 25, from: lift, route: [up: 1.5 m], to: bed}}
""")
    assert systems(made) == [{("line", "feed"), ("pump", "lift"), ("vessel", "tank"), ("vessel", "bed")}]


@pytest.mark.second_method
def test_water_takes_its_length_over_its_speed() -> None:
    """3 m and then 2 m at 0.5 m/s, by a tee: 4 s from the tee."""
    made = layout(
        walk("a", "vessel tank", [("east", 3.0), ("tee", {"id": "t"}), ("east", 2.0)], "vessel bed"),
        walk("b", "tee t", [("north", 1.0)], "plug", at=(3.0, 0.0, 0.0)),
    )
    found = times_out(made, flows(made, {"a": 0.5, "b": 0.0}), {"a.to"})
    assert found == pytest.approx({"a 1": 4.0, "a 2": 0.0})


@pytest.mark.invariant
def test_pipe_that_ends_at_an_opening_is_not_in_its_way() -> None:
    """An elbow at the end of 2 m: out of it both ways the way is free, and from the side the pipe across stands 0.987 m off."""
    made = layout(walk("a", "vessel tank", [("east", 2.0), "elbow", ("north", 2.0)], "vessel bed"))
    room = RoomAhead(made)
    for place in ((2.0, 0.0, 0.0), (0.0, 0.0, 0.0), (2.0, 2.0, 0.0)):
        assert room.of("a", place, (0.0, 0.0, 1.0), 0.026) == math.inf
    across_it = room.of("a", (1.0, 1.0, 0.0), (1.0, 0.0, 0.0), 0.026)
    assert across_it == pytest.approx(1.0 - 0.026, abs=0.02)


@pytest.mark.second_method
def test_a_piece_of_a_run_lies_where_its_share_of_it_does() -> None:
    """From 0.5 to 1.5 m of 2 m that begin at 1 m on the line, rising 1 in 2."""
    (part,) = layout(walk("a", "vessel tank", [("east", 2.0)], "vessel bed")).lines["a"].parts
    part = replace(part, at=1.0, start=(0.0, 0.0, 0.0), end=(2.0, 0.0, 1.0))
    cut = _cut(part, 1.5, 2.5, 1.0, 3.0)
    assert (cut.start, cut.end, cut.length, cut.at) == ((0.5, 0.0, 0.25), (1.5, 0.0, 0.75), 1.0, 1.5)


@pytest.mark.pinned
def test_drippers_are_listed_as_their_maker_states() -> None:
    made = layout_of("""
vessels: {tank: {base: 0 m, water: 0.5 m}, towers: {base: 0 m, water: 0.1 m}}
pumps: {lift: {in: tank, curve: [[0 L/min, 20 m], [20 L/min, 1 m]]}}
lines:
  drip:
    pipe: pe 20
    from: lift
    route: [{up: 1 m}, elbow, {drip line: {east: 3 m, drippers: 12, dripper: 8 L/h, at: 1 bar, in: towers}}]
    to: plug
""")
    assert "12 drippers of 8 L/h at 1 bar" in repr(bill_of(made))


@pytest.mark.invariant
def test_a_loss_is_put_behind_a_run_and_before_a_fitting() -> None:
    made = layout(walk("a", "vessel tank", [("east", 2.0), "elbow", ("north", 1.0)], "vessel bed"))
    (stretch,) = made.stretches
    for index, kinds in (
        (0, ["run", "fitting", "elbow", "run"]),
        (1, ["run", "fitting", "elbow", "run"]),
        (2, ["run", "elbow", "run", "fitting"]),
    ):
        parts = with_loss(made, stretch, stretch.parts[index], 5.0).lines["a"].parts
        assert [part.kind for part in parts] == kinds
        (lump,) = (part for part in parts if part.kind == "fitting")
        assert (lump.at, lump.loss) == ({0: 2.0, 1: 2.0, 2: 3.0}[index], 5.0)


@pytest.mark.second_method
@pytest.mark.parametrize("seed", range(20))
def test_the_way_ahead_is_what_is_felt_along_the_ray(seed: int) -> None:
    """In steps of a tenth of a millimetre, the distance to each pipe's axis by the nearest of ten thousand places on it, against its outside, or its
    bore where no outside is known, and the opening's half."""
    dice = random.Random(seed)
    pipes = [
        SimpleNamespace(
            start=[dice.uniform(-1.0, 1.0) for _ in range(3)],
            end=[dice.uniform(-1.0, 1.0) for _ in range(3)],
            pipe=SimpleNamespace(outside=dice.choice([None, 0.2, 0.4]), bore=dice.choice([0.1, 0.3])),
        )
        for _ in range(3)
    ]
    here, way = np.array([dice.uniform(-2.0, -1.5), 0.0, 0.0]), np.array([1.0, dice.uniform(-0.3, 0.3), 0.0])
    way /= np.linalg.norm(way)
    ray = here + way * np.arange(0.0, 4.0, 1e-4)[:, None]
    met = math.inf
    for one in pipes:
        a, b = np.array(one.start), np.array(one.end)
        share = np.clip((ray - a) @ (b - a) / ((b - a) @ (b - a)), 0.0, 1.0)
        off = np.linalg.norm(ray - a - share[:, None] * (b - a), axis=1)
        near = off <= (one.pipe.outside or one.pipe.bore) / 2.0 + 0.05
        met = min(met, 1e-4 * int(np.argmax(near)) if near.any() else math.inf)
    assert met > 0.0
    assert Capsules(cast(Any, pipes)).ahead(here, way, 0.05) == (
        met if met == math.inf else pytest.approx(met, abs=2e-4)
    )


@pytest.mark.second_method
def test_drills_go_by_half_millimetres_and_by_sixty_fourths() -> None:
    halves = [Fraction(number, 2) for number in range(1, 100) if 1 <= Fraction(number, 2) <= 20]
    assert [1e3 * drill for drill in DRILLS] == pytest.approx([float(half) for half in halves])
    parts = [Fraction(n, 64) for n in range(1, 64) if Fraction("3/64") <= Fraction(n, 64) <= Fraction("25/32")]
    assert [drill / 0.0254 for drill in INCH_DRILLS] == pytest.approx([float(part) for part in parts])


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("course", "floods", "fills", "holds", "drains"),
    [
        # A tenth and nine tenths of a rise in 200 s lie 160 s apart, of a fall in 100 s 80 s; the first flood, begun half full, is not timed as it fills.
        ([(0, 5), (100, 10), (300, 10), (400, 0), (600, 0), (800, 10), (1100, 10), (1200, 0)], 1, 160, 280, 80),
        # Begun full: how long it had held is not known, nor is a drain that goes on at the end.
        ([(0, 10), (200, 10), (300, 0), (500, 0), (700, 10), (900, 10), (950, 6)], 1, 160, 232.5, 80),
        ([(0, 0), (200, 10), (300, 10)], 1, 160, None, None),
        ([(0, 10), (100, 10), (200, 0)], 0, None, None, 80),
    ],
)
def test_floods_are_timed_between_a_tenth_and_nine_tenths(
    course: list[tuple[float, float]], floods: int, fills: float | None, holds: float | None, drains: float | None
) -> None:
    times, levels = zip(*course, strict=True)
    bed = SimpleNamespace(level=levels, highest=10.0, lowest=0.0)
    made = SimpleNamespace(vessels={"bed": SimpleNamespace(holds="plants", base=0.0)}, pumps={})
    (found,) = bed_courses(cast(Any, made), cast(Any, SimpleNamespace(times=times, vessels={"bed": bed})))
    assert found.floods == floods
    assert (found.fills, found.holds, found.drains) == tuple(
        None if want is None else pytest.approx(want) for want in (fills, holds, drains)
    )


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("out", "stuck"),
    [
        ("from: {vessel: bed, height: 0.1 m}, route: [down: 0.5 m], to: sump", False),
        ("from: {vessel: bed, standpipe: 0.1 m}, route: [down: 0.5 m], to: sump", False),
        ("from: {vessel: bed, height: 0.1 m}, route: [down: 0.2 m, gate valve: shut, down: 0.3 m], to: sump", True),
        ("from: sump, route: [up: 1.1 m], to: {vessel: bed, height: 0.1 m}", False),
        ("from: sump, route: [up: 0.4 m, check valve, up: 0.7 m], to: {vessel: bed, height: 0.1 m}", True),
    ],
)
def test_a_vessel_keeps_what_it_gets_where_nothing_lets_it_out(out: str, stuck: bool) -> None:
    text = f"""
vessels: {{sump: {{base: 0 m, water: 0.5 m, area: 1 m^2}}, bed: {{base: 1 m, water: 0.1 m, area: 1 m^2}}}}
pumps: {{lift: {{in: sump, curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}}}}
lines:
  feed: {{pipe: pvc 25, from: lift, route: [up: 1.5 m], to: bed}}
  out: {{pipe: pvc 40, {out}}}
"""
    assert _without_way_out(layout_of(text)) == ({"bed"} if stuck else set())


@pytest.mark.invariant
@pytest.mark.parametrize("holds", ["fish", "sump"])
@pytest.mark.parametrize("intake", [0.05, 0.2])
@pytest.mark.parametrize("stands", [0.1, 0.14, 0.24, 0.29, 0.31, 0.6])
def test_a_float_switch_as_a_guard_turns_its_pump_off_over_the_intake_and_on_under_the_water(
    monkeypatch: pytest.MonkeyPatch, holds: str, intake: float, stands: float
) -> None:
    """Off a third of the way from the intake to the water, no lower in a fish tank than half of its 0.3 m; 5 cm higher on. None where that is not
    under the water."""
    vessel = SimpleNamespace(name="tank", holds=holds, base=1.0, water=0.3)
    pump = SimpleNamespace(vessel="tank", switch=None, intake=intake)
    line = SimpleNamespace(start=SimpleNamespace(kind="pump", name="lift"), parts=[SimpleNamespace(pipe=None)])
    made = SimpleNamespace(pumps={"lift": pump}, vessels={"tank": vessel}, lines={"feed": line}, units="metric")
    course = SimpleNamespace(vessels={"tank": SimpleNamespace(lowest=1.0 + stands)})
    found = SimpleNamespace(running=SimpleNamespace(layout=made, course=course))
    monkeypatch.setattr(choose, "_with", lambda *_: (SimpleNamespace(key="some"),))
    monkeypatch.setattr(choose, "show", lambda value, *_: f"{value:g}")
    guards = list(
        choose._float_switch(cast(Any, found), "lift", cast(Any, SimpleNamespace(of=lambda *_: (20.0, 30.0))))
    )
    off = intake + (stands - intake) / 3.0
    if holds == "fish":
        off = max(off, 0.15 + 0.1 * stands)
    off = round(off, 2)
    if not intake < off < stands - 0.05:
        assert not guards
        return
    ((path, pair),) = guards[0].put
    assert path == ("pumps", "lift")
    assert pair == f"switch: {{vessel: tank, on above: {off + 0.05:g} m, off below: {off:g} m}}"


@pytest.mark.invariant
def test_of_a_dead_ends_valves_the_shut_one_is_moved() -> None:
    """A leg to a bed with a valve that stands open, and one that is shut and makes the leg a dead one."""
    made = layout_of("""
vessels:
  sump: {base: 0 m, water: 0.5 m, area: 1 m^2}
  bed: {base: 1 m, water: 0.1 m, area: 1 m^2}
  low: {base: 0.5 m, water: 0.1 m, area: 1 m^2}
pumps: {lift: {in: sump, curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}}
lines:
  feed: {pipe: pvc 25, from: lift, route: [up: 1 m, tee: t, up: 1 m], to: bed}
  leg: {pipe: pvc 25, from: t, route: [east: 1 m, gate valve: 50 %, east: 1 m, ball valve: shut, east: 0.5 m, elbow, down: 0.2 m], to: low}
""")
    lacking = [SimpleNamespace(kind="dead-leg", line="leg"), SimpleNamespace(kind="too-little-water", line="feed")]
    found = _legs(made, cast(Any, lacking), read_prices())
    assert list(found) == ["leg"]
    assert [change.step for change in found["leg"]] == [4]


@pytest.mark.second_method
@pytest.mark.parametrize(("highest", "moved"), [(0.15, True), (0.185, True), (0.195, False), (0.3, False)])
def test_a_power_cut_begins_no_higher_than_the_water_comes_in_a_day(highest: float, moved: bool) -> None:
    """A bed that steady running has at 0.2 m: where the day's highest is more than 1 cm below that, all stand as at the day's worst moment."""
    steady = find_flows(
        layout_of("""
vessels: {sump: {base: 0 m, water: 0.5 m}, bed: {base: 0 m, water: 0.2 m}}
pumps: {lift: {in: sump, curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}}
lines: {feed: {pipe: pvc 25, from: lift, route: [up: 0.5 m], to: bed}}
""")
    )
    at = {"sump": 0.5, "bed": 0.2}
    steady = replace(steady, vessels={name: replace(one, level=at[name]) for name, one in steady.vessels.items()})
    vessels = {
        "sump": SimpleNamespace(level=(0.6, 0.4, 0.5), highest=0.6),
        "bed": SimpleNamespace(level=(0.0, 0.1, 0.05), highest=highest),
    }
    day = SimpleNamespace(times=(0.0, 60.0, 120.0), vessels=vessels, cut=SimpleNamespace(time=60.0))
    found = reached(steady, cast(Any, day))
    levels = {name: one.level for name, one in found.vessels.items()}
    assert levels == ({"sump": 0.4, "bed": 0.1} if moved else at)
    assert reached(steady, None) is reached(steady, cast(Any, SimpleNamespace(cut=None))) is steady


@pytest.mark.second_method
@pytest.mark.parametrize("depth", [-0.1, 0.05, 0.2, 0.35, 0.5, 0.75, 0.9, 1.2])
def test_a_vessel_of_four_widths_holds_what_its_slices_hold(depth: float) -> None:
    """A millionth of its height at a time, as wide as the table says between two of its heights; as wide as its ends beyond them."""
    made = layout(walk("a", "vessel tank", [("east", 1.0)], "vessel bed")).vessels["tank"]
    table = ((0.1, 0.2), (0.3, 1.0), (0.6, 0.5), (0.9, 2.0))
    vessel = replace(made, base=1.5, area=2.0, areas=table)
    slices = np.linspace(0.1, max(depth, 0.1), 100_001)
    wide = np.interp(slices, *zip(*table, strict=True))
    held = float(np.sum(0.5 * (wide[1:] + wide[:-1]) * np.diff(slices)))
    held += 0.2 * min(depth - 0.1, 0.0)
    assert content(vessel, 1.5 + depth) == pytest.approx(held, rel=1e-6)
    assert level_of(vessel, held) == pytest.approx(1.5 + depth, abs=1e-6)
    if not any(abs(depth - height) < 1e-3 for height, _ in table):
        assert mean_area(vessel, 1.5 + depth, 1.5 + depth) == pytest.approx(np.interp(depth, *zip(*table, strict=True)))
    assert between(vessel, 1.5, 1.5 + depth) == pytest.approx(held + 0.2 * 0.1, abs=1e-6)


@pytest.mark.second_method
def test_the_rim_that_a_power_cut_wants_is_higher_by_what_runs_over_on_the_area() -> None:
    """40 L fill 2 m² to the rim 20 mm over the water, and 500 L more are 250 mm."""
    made = layout(walk("a", "vessel tank", [("east", 1.0)], "vessel bed"))
    made = replace(made, vessels={**made.vessels, "tank": replace(made.vessels["tank"], base=0.0, area=2.0)})
    row = SimpleNamespace(vessel="tank", before=0.7, rim=0.72, spilled=0.5, gains=0.04)
    (one,) = _overtops(made, cast(Any, SimpleNamespace(siphons=())), cast(Any, row))
    assert one.cure == "room for 500 L more in 'tank': a rim 0.25 m higher, or so much less water in it"


@pytest.mark.second_method
@pytest.mark.parametrize("flow", [0.0, 2e-5])
def test_oxygen_falls_as_small_steps_of_its_balance_have_it(flow: float) -> None:
    """1 m³ with 7 g/m³ in it, of which fish use 0.5 g/min, and 4 g/m³ is the least they bear: with no water coming 6 min; and where some comes with 6 g/m³
    in it, a second at a time."""
    made = layout(walk("a", "vessel tank", [("east", 1.0)], "vessel bed")).vessels["tank"]
    vessel = replace(made, base=0.0, area=2.0)
    times = tuple(float(100 * i) for i in range(12))
    course = SimpleNamespace(
        times=times,
        vessels={"tank": SimpleNamespace(level=(0.5,) * 12)},
        inflows={"tank": (flow,) * 12},
    )
    left = _reaches(vessel, cast(Any, course), 100.0, 7.0, 6.0, 0.5 / 60.0, 4.0)
    seconds, oxygen = 0, 7.0
    while oxygen > 4.0:
        oxygen += flow * (6.0 - oxygen) - 0.5 / 60.0
        seconds += 1
    assert left == pytest.approx(seconds, abs=2.0)
    assert (seconds == 360) == (flow == 0.0)
