"""Water age: by hand for a chain, by a water balance over whole layouts, and against a tracer followed through the pipes in
small steps of time; dead legs against each standard."""

from __future__ import annotations

import json
import math
from collections import deque
from collections.abc import Callable
from pathlib import Path

import pytest
from builders import flows as made_flows
from builders import layout as made_layout
from builders import walk
from checks import checked
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbline import catalogue, read_layout
from plumbline.cli import main
from plumbline.hydraulics.find import find_flows
from plumbline.layout.model import Layout, Pipe
from plumbline.report.json import as_json
from plumbline.upkeep.age import _mixed, hours, old_water, stagnant, travel_time, water_ages
from plumbline.upkeep.carried import dry_lines
from plumbline.upkeep.dead_legs import by_shape

ReadText = Callable[[str], Layout]
LAYOUTS = sorted((Path(__file__).parent.parent / "layouts").glob("*.yaml"))
AREA = math.pi / 4 * 0.0212**2  # pvc 25

CHAIN = """
vessels:
  north tank: {base: 0 m, water: 0.9 m}
  south tank: {base: 0 m, water: 0.9 m}
  bed: {base: 1.2 m, water: 0.2 m, rim: 0.3 m}
pumps:
  north pump: {in: north tank, curve: [[0 L/min, 4 m], [30 L/min, 3 m], [70 L/min, 1 m]]}
  south pump: {in: south tank, curve: [[0 L/min, 4 m], [20 L/min, 3 m], [50 L/min, 1 m]]}
lines:
  north: {pipe: pvc 25, from: north pump, route: [{up: 1.6 m}, {tee: {id: t, K: 0.5}}, {east: 3 m}], to: bed}
  south: {pipe: pvc 25, from: south pump, route: [{up: 1.6 m}, elbow, {north: 7 m}], to: t}
"""


@pytest.mark.second_method
def test_two_streams_meet_and_mix_by_their_flows(read_text: ReadText) -> None:
    """a = (Q₁ t₁ + Q₂ t₂)/(Q₁ + Q₂) + V₃/(Q₁ + Q₂), each t = V/Q."""
    made = read_text(CHAIN)
    flows = find_flows(made)
    ages = water_ages(made, flows)
    one, two = flows.stretches["north.1"].flow, flows.stretches["south.1"].flow
    assert min(one, two) > 0.0
    first, second = 1.6 * AREA / one, 8.6 * AREA / two
    assert ages["north.1"].leaves == pytest.approx(first, rel=1e-9)
    assert ages["south.1"].leaves == pytest.approx(second, rel=1e-9)
    met = (one * first + two * second) / (one + two)
    assert ages["north.2"].enters == pytest.approx(met, rel=1e-9)
    assert ages["north.2"].leaves == pytest.approx(met + 3.0 * AREA / (one + two), rel=1e-9)


@pytest.mark.second_method
def test_a_vessel_makes_the_water_new_and_a_pump_in_the_line_does_not(read_text: ReadText) -> None:
    suction = (
        CHAIN[: CHAIN.index("pumps:")]
        + """
pumps:
  lift: {curve: [[0 L/min, 4 m], [30 L/min, 3 m], [70 L/min, 1 m]]}
lines:
  sucked: {pipe: pvc 25, from: {vessel: north tank, height: 0.1 m}, route: [{east: 2 m}], to: lift}
  pushed: {pipe: pvc 25, from: lift, route: [{up: 1.6 m}], to: bed}
  drain: {pipe: pvc 32, from: {vessel: bed, height: 0 m}, route: [{down: 0.1 m}, elbow, {east: 1 m}, elbow, {down: 0.1 m}], to: south tank}
"""
    )
    made = read_text(suction)
    flows = find_flows(made)
    ages = water_ages(made, flows)
    flow = flows.pumps["lift"].flow
    assert ages["pushed.1"].enters == pytest.approx(2.0 * AREA / flow, rel=1e-9)
    assert ages["pushed.1"].leaves == pytest.approx(3.6 * AREA / flow, rel=1e-9)
    assert ages["drain.1"].enters == 0.0


@pytest.mark.invariant
def test_walking_the_pipe_the_other_way_changes_no_age() -> None:
    along = made_layout(walk("a", "vessel tank", [("east", 4.0)], "vessel bed"))
    one, back = (water_ages(along, made_flows(along, speed))["a 1"] for speed in (0.4, -0.4))
    assert (one.enters, one.leaves) == (back.enters, back.leaves) == (0.0, pytest.approx(10.0))


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_what_leaves_takes_along_as_much_age_as_the_pipe_gives(path: Path) -> None:
    """Σ Q a over all that leaves pipe = Σ Q t over all pipe: the balance of age over the whole layout."""
    made = read_layout(path)
    flows = find_flows(made)
    ages = water_ages(made, flows)
    gained = sum(
        abs(flows.stretches[s.id].flow) * travel_time(made, s, flows)
        for s in made.stretches
        if flows.stretches[s.id].flow
    )
    net: dict[str, float] = {}
    age_at: dict[str, float] = {}
    for stretch in made.stretches:
        flow = flows.stretches[stretch.id].flow
        head, tail = (stretch.head, stretch.tail) if flow > 0 else (stretch.tail, stretch.head)
        if flow:
            net[head] = net.get(head, 0.0) + abs(flow)
            net[tail] = net.get(tail, 0.0) - abs(flow)
            age_at[tail] = ages[stretch.id].enters
            if head not in age_at:
                age_at[head] = ages[stretch.id].leaves  # an end that only takes in: one stretch comes there
    for name, duty in flows.pumps.items():
        if made.pumps[name].vessel is None:
            net[f"{name}.in"] = net.get(f"{name}.in", 0.0) - duty.flow
            net[f"{name}.out"] = net.get(f"{name}.out", 0.0) + duty.flow
    left = sum(flow * age_at[name] for name, flow in net.items() if flow > 1e-12)
    assert left == pytest.approx(gained, rel=1e-6)


# ---------------------------------------------------------------------- against a tracer


def follow_tracer(
    ways: list[tuple[str, str, float, int]], fresh: dict[str, float], most: int = 200_000
) -> dict[str, float]:
    """Mark all fresh water from step 0 on, push it cell by cell through each way (as many cells as steps), mix at the points;
    the age at a point is how long the mark is missed there, Σ (1 − c)."""
    cells = [deque([0.0] * delay) for *_, delay in ways]
    points = {name for way in ways for name in way[:2]}
    into = {name: fresh.get(name, 0.0) + sum(flow for _, head, flow, _ in ways if head == name) for name in points}
    age = dict.fromkeys(points, 0.0)
    for _ in range(most):
        marked = {name: fresh.get(name, 0.0) for name in points}
        for (_, head, flow, _), pipe in zip(ways, cells, strict=True):
            marked[head] += flow * pipe[0]
        strength = {name: marked[name] / into[name] for name in points}
        missed = {name: 1.0 - strength[name] for name in points}
        if max(missed.values()) < 1e-12:
            return age
        for name in points:
            age[name] += missed[name]
        for (tail, _, _, _), pipe in zip(ways, cells, strict=True):
            pipe.popleft()
            pipe.append(strength[tail])
    raise AssertionError("the mark never came through")


@pytest.mark.second_method
@settings(max_examples=60)
@given(st.data())
def test_a_tracer_takes_as_long_through_random_networks_loops_included(data: st.DataObject) -> None:
    size = data.draw(st.integers(3, 7))
    names = [f"n{i}" for i in range(size)]
    ways = [
        (names[i - 1], names[i], data.draw(st.floats(0.5, 5.0)), data.draw(st.integers(1, 9))) for i in range(1, size)
    ]
    for _ in range(data.draw(st.integers(0, 6))):
        i, j = data.draw(st.integers(0, size - 1)), data.draw(st.integers(0, size - 1))
        if i != j:
            ways.append((names[i], names[j], data.draw(st.floats(0.1, 2.0)), data.draw(st.integers(1, 9))))
    out = {name: sum(q for tail, _, q, _ in ways if tail == name) for name in names}
    into = {name: sum(q for _, head, q, _ in ways if head == name) for name in names}
    fresh = {name: out[name] - into[name] for name in names if out[name] - into[name] > 1e-6 * max(out.values())}
    found = _mixed([(tail, head, flow, float(delay)) for tail, head, flow, delay in ways])
    if any(math.isinf(age) for age in found.values()):
        return  # water that only goes round: the next test's
    for name, age in follow_tracer(ways, fresh).items():
        assert found[name] == pytest.approx(age, rel=1e-6, abs=1e-6), name


@pytest.mark.second_method
def test_water_that_only_goes_round_is_as_old_as_can_be() -> None:
    found = _mixed([("a", "b", 1.0, 5.0), ("b", "a", 1.0, 5.0), ("tank", "c", 1.0, 2.0)])
    assert found == {"a": math.inf, "b": math.inf, "tank": 0.0, "c": pytest.approx(2.0)}


@pytest.mark.second_method
def test_a_tracer_through_the_ring_main() -> None:
    """The whole layout, in steps of a twentieth of a second; each stretch's time is rounded to them, so 2 % or a tenth of a second."""
    made = read_layout(LAYOUTS[[path.stem for path in LAYOUTS].index("ring_main")])
    flows = find_flows(made)
    step = 0.05
    ways, fresh = [], {}
    for stretch in made.stretches:
        flow = flows.stretches[stretch.id].flow
        if flow:
            tail, head = (stretch.tail, stretch.head) if flow > 0 else (stretch.head, stretch.tail)
            ways.append((tail, head, abs(flow), max(round(travel_time(made, stretch, flows) / step), 1)))
    for name in {way[0] for way in ways}:
        extra = sum(q for tail, _, q, _ in ways if tail == name) - sum(q for _, head, q, _ in ways if head == name)
        if extra > 1e-9:
            fresh[name] = extra
    traced = follow_tracer(ways, fresh)
    ages = water_ages(made, flows)
    running = [stretch for stretch in made.stretches if flows.stretches[stretch.id].flow]
    assert running
    for stretch in running:
        tail = stretch.tail if flows.stretches[stretch.id].flow > 0 else stretch.head
        assert ages[stretch.id].enters == pytest.approx(traced[tail] * step, rel=0.02, abs=0.1), stretch.id


# ---------------------------------------------------------------------- old and standing water


@pytest.mark.second_method
@pytest.mark.parametrize(("limit", "share"), [(20.0, 0.0), (10.0, 0.5), (5.0, 0.75), (0.0, 1.0)])
def test_the_part_of_a_pipe_that_is_older_than_the_limit(limit: float, share: float) -> None:
    """10 m at 0.5 m/s: 20 s; the water a metre further is two seconds older."""
    made = made_layout(walk("a", "vessel tank", [("east", 10.0)], "vessel bed"), limits={"water age": limit})
    one = water_ages(made, made_flows(made, 0.5))["a 1"]
    assert one.volume == pytest.approx(10 * math.pi / 4 * 0.026**2)
    assert one.old == pytest.approx(share * one.volume, abs=1e-12)


@pytest.mark.invariant
def test_water_that_comes_in_old_is_old_all_along() -> None:
    line = walk("a", "vessel tank", [("east", 10.0), ("union", {"id": "u"}), ("east", 5.0)], "vessel bed")
    made = made_layout(line, limits={"water age": 15.0})
    ages = water_ages(made, made_flows(made, 0.5))
    assert ages["a 1"].old == pytest.approx(0.25 * ages["a 1"].volume)
    assert ages["a 2"].old == pytest.approx(ages["a 2"].volume)


@pytest.mark.invariant
def test_standing_water_counts_as_old_and_empty_pipe_as_none(read_text: ReadText) -> None:
    made = read_text(
        CHAIN.replace(
            "to: bed}\n  south", "to: bed}\n  spur: {pipe: pvc 25, from: u, route: [{north: 1 m}], to: plug}\n  south"
        ).replace("{east: 3 m}", "{east: 1 m}, {tee: u}, {east: 2 m}")
    )
    ages = water_ages(made, find_flows(made))
    assert ages["spur.1"].leaves == math.inf
    assert ages["spur.1"].old == pytest.approx(AREA)
    found = stagnant(ages)
    assert (found.standing, found.old) == (pytest.approx(AREA), pytest.approx(AREA))
    assert found.volume == pytest.approx(14.2 * AREA)
    assert found.oldest == max(one.leaves for one in ages.values() if math.isfinite(one.leaves))
    assert ages[found.where or ""].leaves == found.oldest


@pytest.mark.invariant
def test_a_drain_without_water_holds_none() -> None:
    made = read_layout(LAYOUTS[[path.stem for path in LAYOUTS].index("unbalanced")])
    flows = find_flows(made)
    ages = water_ages(made, flows)
    dry = [stretch for stretch in made.stretches if stretch.line in dry_lines(made, flows)]
    assert dry
    assert all(ages[stretch.id].volume == 0.0 for stretch in dry)


@pytest.mark.second_method
def test_the_finding_speaks_of_moving_water_alone() -> None:
    made = made_layout(walk("a", "vessel tank", [("east", 200.0)], "vessel bed"))
    for speed, said in ((0.0, 0), (0.009, 0), (0.011, 1), (0.0277, 1), (0.0278, 0)):
        found = old_water(made, made_flows(made, speed), ())
        assert len(found) == said, speed
    (one,) = old_water(made, made_flows(made, 0.02), ())
    assert one.message.startswith("Water is 2.8 h on its way when it leaves 'a' (step 1): ")
    # 200 m at 0.02 m/s is 10,000 s, 2,800 of them over the limit: 56 m of 26 mm pipe, 29.7 L; 26·√0.72 = 22 mm does it.
    assert "29.7 L" in one.message
    assert one.cure.startswith("a bore of 22 mm or less")
    assert old_water(made, made_flows(made, 0.02), {"a 1"}) == ()


@pytest.mark.pinned
def test_times_are_said_as_they_are_read() -> None:
    assert [hours(x) for x in (3.2, 89.0, 91.0, 5399.0, 5401.0)] == ["3 s", "89 s", "2 min", "90 min", "1.5 h"]


# ---------------------------------------------------------------------- dead legs, by each standard


@pytest.mark.published
def test_the_standards_are_as_they_are_quoted() -> None:
    """FDA 6 diameters from the axis, WHO 3 (TRS 970) and 1.5 (TRS 929), all at second hand; ASME BPE 2 from the wall (memory)."""
    rows = {row.name: (row.diameters, row.start) for row in catalogue.dead_legs().values()}
    assert rows == {
        "FDA 1993": (6.0, "axis"),
        "WHO TRS 970": (3.0, "wall"),
        "ASME BPE": (2.0, "wall"),
        "WHO TRS 929": (1.5, "wall"),
    }
    assert rows["FDA 1993"][0] == catalogue.limits()["dead leg"].value


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("bores", "met"),
    [
        # The main is as wide as the branch: its wall is half a bore from its axis.
        (1.9, (True, True, True, True)),
        (2.1, (True, True, True, False)),
        (2.6, (True, True, False, False)),
        (3.6, (True, False, False, False)),
        (6.1, (False, False, False, False)),
    ],
)
def test_a_branch_against_each_standard(bores: float, met: tuple[bool, ...]) -> None:
    run = walk("run", "vessel tank", [("east", 2.0), ("tee", {"id": "t1"}), ("east", 1.0)], "vessel bed")
    side = walk("side", "tee t1", [("north", bores * 0.026)], "plug", at=(2, 0, 0))
    (leg,) = by_shape(made_layout(run, side))
    assert tuple(leg.met().values()) == met
    assert leg.ratio_from("wall") == pytest.approx(bores - 0.5)


@pytest.mark.second_method
def test_the_wall_is_that_of_the_pipe_in_use() -> None:
    wide = Pipe("52", 0.052, 1.5e-6)
    run = walk("run", "vessel tank", [("east", 2.0), ("tee", {"id": "t1"}), ("east", 1.0)], "vessel bed", pipe=wide)
    side = walk("side", "tee t1", [("north", 0.26)], "plug", at=(2, 0, 0))
    (leg,) = by_shape(made_layout(run, side))
    assert (leg.ratio, leg.ratio_from("wall")) == (pytest.approx(10.0), pytest.approx(9.0))


# ---------------------------------------------------------------------- in the reports


@pytest.mark.pinned
def test_json_tells_the_age_of_each_stretch_and_of_all_pipe() -> None:
    result = checked("tangle")
    data = json.loads(json.dumps(as_json(result), allow_nan=False))
    ages = water_ages(result.layout, result.flows)
    for row in data["stretches"]:
        age = ages[row["id"]]
        assert row["age_s"] == (pytest.approx(age.leaves) if age.volume > 0.0 and math.isfinite(age.leaves) else None)
    told = data["stagnant"]
    assert told["limit_s"] == 7200.0
    assert told["standing_l"] == pytest.approx(
        1000 * sum(one.volume for one in ages.values() if math.isinf(one.leaves))
    )
    assert [leg["met"]["FDA 1993"] for leg in told["dead_legs"]] == [False, False]


@pytest.mark.pinned
def test_the_table_is_for_those_who_ask_for_all(capsys: pytest.CaptureFixture[str]) -> None:
    path = str(next(path for path in LAYOUTS if path.stem == "orchard"))
    main(["check", path, "--all"])
    said = " ".join(capsys.readouterr().out.split())
    assert "How old the water gets in the pipe The pipe holds" in said
    assert "h out of its last vessel, in 'nursery feed'." in said
    assert "are older than 2.0 h." in said
    main(["check", path])
    assert "How old the water" not in capsys.readouterr().out
