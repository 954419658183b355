"""Energy and hydraulic grade lines: against the routes' ledgers, against the solver's own heads, and against Bernoulli's
equation walked by hand, with Colebrook's friction iterated here.

Every route of every layout is held to the invariants. No published values: a grade line is Bernoulli's equation, part by part, and
the parts' losses are tested against their sources elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.flows import Flows
from plumbline.hydraulics.grade import GradeLine, GradePoint, grade_lines, stretch_grade
from plumbline.layout import read_layout
from plumbline.layout.model import Layout
from plumbline.water import GRAVITY

ReadText = Callable[[str], Layout]
LAYOUTS = sorted(path.name for path in (Path(__file__).parent.parent / "layouts").glob("*.yaml"))


@cache
def solved(name: str) -> tuple[Layout, Flows, tuple[GradeLine, ...]]:
    layout = read_layout(Path(__file__).parent.parent / "layouts" / name)
    flows = find_flows(layout)
    return layout, flows, grade_lines(layout, flows)


# ---------------------------------------------------------------------- invariants


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", LAYOUTS)
def test_it_agrees_with_the_ledgers(name: str) -> None:
    """From first point to last the head changes by what the ledger says, pumps less losses; and by its lift."""
    _, flows, lines = solved(name)
    assert len(lines) == len(flows.routes)
    for route, line in zip(flows.routes, lines, strict=True):
        assert (line.source, line.end, line.vessel) == (route.source, route.end, route.vessel)
        change = line.points[-1].total - line.points[0].total
        assert change == pytest.approx(route.lift, abs=1e-9)
        assert change == pytest.approx(route.pumped - sum(part.loss for part in route.losses), abs=1e-9)


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", LAYOUTS)
def test_each_loss_of_the_ledger_is_a_step_down_of_the_line(name: str) -> None:
    _, flows, lines = solved(name)
    for route, line in zip(flows.routes, lines, strict=True):
        if any(point.vented for point in line.points):
            continue
        steps = {(b.after, b.line): a.total - b.total for a, b in pairwise(line.points)}
        for part in route.losses:
            if part.label.startswith(("tee", "wye", "falls freely")):
                continue
            assert steps[part.label, part.line] == pytest.approx(part.loss, abs=1e-9), (line.end, part.label)


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", LAYOUTS)
def test_it_falls_along_the_flow_but_at_pumps(name: str) -> None:
    """At a tee the faster stream may drive the slower one: Crane's coefficients go below zero there, by under a velocity
    head."""
    _, _, lines = solved(name)
    for line in lines:
        for before, here in pairwise(line.points):
            if here.after.startswith("pump "):
                continue
            speed_head = max(one.total - one.static for one in (before, here))
            allowed = speed_head if here.after.startswith(("tee ", "wye ")) else 1e-9
            assert here.total <= before.total + allowed, (line.end, here)


def bore(layout: Layout, point: GradePoint) -> float:
    """The bore of a point's line [m]."""
    return max(part.pipe.bore for part in layout.lines[point.line].parts)


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", LAYOUTS)
def test_the_way_only_goes_on_and_static_head_never_exceeds_total(name: str) -> None:
    layout, _, lines = solved(name)
    for line in lines:
        assert line.points[0].at == 0.0
        assert all(b.at >= a.at for a, b in pairwise(line.points))
        assert all(point.static <= point.total for point in line.points)
        assert all(point.pressure >= -0.5 * bore(layout, point) - 1e-9 for point in line.points if point.vented)
        walked = {point.line for point in line.points}
        assert line.points[-1].at <= sum(layout.lines[name].length for name in walked) + 1e-9


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", LAYOUTS)
def test_walked_up_from_its_lower_end_each_stretch_meets_the_head_at_its_upper(name: str) -> None:
    """The heads at both ends come from the solver; between them the parts' losses have to fit."""
    layout, flows, _ = solved(name)
    for stretch in layout.stretches:
        got = flows.stretches[stretch.id]
        if got.flow == 0.0 or not stretch.parts:
            continue
        places = stretch_grade(layout, flows, stretch)
        upper, known = (places[0], got.head_tail) if got.flow > 0.0 else (places[-1], got.head_head)
        assert upper[2] == pytest.approx(known, abs=1e-7), stretch.id


# ---------------------------------------------------------------------- Bernoulli by hand


def friction(flow: float, bore: float, length: float, roughness: float, nu: float) -> float:
    """Darcy–Weisbach with Colebrook–White, iterated from a guess: the plain way."""
    speed = flow / (math.pi / 4.0 * bore**2)
    reynolds = speed * bore / nu
    assert reynolds > 4000.0
    x = 8.0  # 1/√f
    for _ in range(60):
        x = -2.0 * math.log10(roughness / (3.7 * bore) + 2.51 * x / reynolds)
    return length / bore / x**2 * speed**2 / (2.0 * GRAVITY)


def speed_head(flow: float, bore: float) -> float:
    return (flow / (math.pi / 4.0 * bore**2)) ** 2 / (2.0 * GRAVITY)


BY_HAND = """
    water: {density: 998 kg/m^3, viscosity: 1.0e-3 Pa s}
    vessels:
      tank: {base: 0 m, water: 0.8 m}
      bed: {base: 1.5 m, water: 0.2 m}
    pumps:
      lift: {in: tank, height: 0.1 m, curve: [[0 L/min, 4.0 m], [30 L/min, 3.2 m], [60 L/min, 1.5 m]]}
    lines:
      riser:
        pipe: {bore: 24 mm, roughness: 0.01 mm}
        from: lift
        route:
          - up: 2.4 m
          - elbow: {K: 0.8}
          - east: 1.5 m
          - reducer: {to: {bore: 18 mm, roughness: 0.01 mm}, K: 0.3}
          - {east: 0.5 m, pipe: {bore: 18 mm, roughness: 0.01 mm}}
          - elbow: {K: 0.9}
          - {down: 0.6 m, pipe: {bore: 18 mm, roughness: 0.01 mm}}
        to: bed
"""


@pytest.mark.second_method
def test_a_pumped_route_by_hand(read_text: ReadText) -> None:
    layout = read_text(BY_HAND)
    flows = find_flows(layout)
    (line,) = grade_lines(layout, flows)
    q = flows.ends["riser.to"].flow
    nu, rough = 1.0e-3 / 998.0, 1e-5
    wide, narrow = speed_head(q, 0.024), speed_head(q, 0.018)
    heads = [0.8, 0.8 + flows.pumps["lift"].head]
    for lost in (
        friction(q, 0.024, 2.4, rough, nu),
        0.8 * wide,
        friction(q, 0.024, 1.5, rough, nu),
        0.3 * wide,
        friction(q, 0.018, 0.5, rough, nu),
        0.9 * narrow,
        friction(q, 0.018, 0.6, rough, nu),
        narrow,
    ):
        heads.append(heads[-1] - lost)
    assert heads[-1] == pytest.approx(1.9, abs=1e-8)  # the end of the pipe, above the water: what is left is its height
    heights = [0.8, 0.1, 2.5, 2.5, 2.5, 2.5, 2.5, 2.5, 1.9, 1.9]
    speeds = [0.0, wide, wide, wide, wide, narrow, narrow, narrow, narrow, 0.0]
    along = [0.0, 0.0, 2.4, 2.4, 3.9, 3.9, 4.4, 4.4, 5.0, 5.0]
    after = [
        "'tank'",
        "pump lift",
        "run at step 1",
        "elbow at step 2",
        "run at step 3",
        "reducer at step 4",
        "run at step 5",
        "elbow at step 6",
        "run at step 7",
        "speed lost at the end",
    ]
    assert [point.after for point in line.points] == after
    for name, values in (("total", heads), ("height", heights), ("at", along)):
        assert [getattr(point, name) for point in line.points] == pytest.approx(values, abs=1e-8), name
    assert [p.static for p in line.points] == pytest.approx(
        [h - v for h, v in zip(heads, speeds, strict=True)], abs=1e-8
    )
    lowest = min(line.points, key=lambda point: point.pressure)
    assert lowest.after == "elbow at step 6"
    assert lowest.pressure == pytest.approx(heads[7] - narrow - 2.5, abs=1e-8)
    assert lowest.pressure < 0.0


@pytest.mark.invariant
def test_a_line_walked_against_its_flow_has_the_same_grade_line(read_text: ReadText) -> None:
    """A siphon between two tanks, walked from its outlet and from its inlet."""
    head = """
    vessels:
      high: {base: 1 m, water: 1 m}
      low: {base: 0 m, water: 0.5 m}
    lines:
      siphon:
        pipe: {bore: 30 mm, roughness: 0.01 mm}
    """
    down = read_text(
        head
        + """
        from: {vessel: high, height: 0.2 m}
        route: [{up: 1.3 m}, elbow: {K: 0.8}, {east: 1 m}, elbow: {K: 0.7}, {down: 2.3 m}]
        to: {vessel: low, height: 0.2 m}
    """
    )
    up = read_text(
        head
        + """
        from: {vessel: low, height: 0.2 m}
        route: [{up: 2.3 m}, elbow: {K: 0.7}, {west: 1 m}, elbow: {K: 0.8}, {down: 1.3 m}]
        to: {vessel: high, height: 0.2 m}
    """
    )
    (one,), (other,) = (grade_lines(layout, find_flows(layout)) for layout in (down, up))
    assert one.end == "siphon.to"
    assert other.end == "siphon.from"

    def numbers(point: GradePoint) -> tuple[float, ...]:
        return point.at, point.height, point.total, point.static

    for a, b in zip(one.points, other.points, strict=True):
        assert numbers(a) == pytest.approx(numbers(b), abs=1e-9)
        assert a.after.split(" at ")[0] == b.after.split(" at ")[0]
    assert min(point.pressure for point in one.points) < -1.0
    # The last point is no step of the walk where the walk begins there.
    assert (one.points[-1].step, other.points[-1].step) == (5, 0)
    assert not any(point.vented for point in one.points)


@pytest.mark.invariant
def test_a_supply_begins_where_its_pipe_does(read_text: ReadText) -> None:
    layout = read_text("""
    vessels: {bed: {base: 0 m, water: 0.2 m}}
    lines:
      feed: {pipe: pvc 25, from: {draws: -6 L/min}, route: [{east: 1 m}, union, {east: 2 m, pipe: pvc 32}], to: bed}
    """)
    (line,) = grade_lines(layout, find_flows(layout))
    assert line.points[0].at == 0.0
    assert [(point.after, point.at) for point in line.points[-4:]] == [
        ("union 1 at step 2", 1.0),
        ("expander at step 3", 1.0),
        ("run at step 3", 3.0),
        ("speed lost at the end", 3.0),
    ]


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", LAYOUTS)
def test_no_point_is_said_twice_and_none_has_another_bore_without_a_reason(name: str) -> None:
    _, _, lines = solved(name)
    for line in lines:
        for a, b in pairwise(line.points):
            if b.after == "change of bore":
                assert abs(a.total - b.total) > 1e-9 or abs(a.static - b.static) > 1e-9


@pytest.mark.invariant
def test_pumps_in_series_are_two_steps_up(read_text: ReadText) -> None:
    layout = read_text("""
    vessels:
      pond: {base: 0 m, water: 1 m}
      header: {base: 4 m, water: 0.5 m}
    pumps:
      first: {curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
      second: {curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
    lines:
      suction: {pipe: pvc 32, from: {vessel: pond, height: 0.1 m}, route: [foot valve, {east: 1 m}], to: first}
      between: {pipe: pvc 25, from: first, route: [{up: 2 m}], to: second}
      rising: {pipe: pvc 25, from: second, route: [{up: 2.5 m}], to: header}
    """)
    flows = find_flows(layout)
    (line,) = grade_lines(layout, flows)
    ups = {b.after: b.total - a.total for a, b in pairwise(line.points) if b.total > a.total}
    assert ups == pytest.approx({f"pump {name}": flows.pumps[name].head for name in ("first", "second")}, abs=1e-9)
    assert [point.after for point in line.points[:3]] == ["'pond'", "entrance", "foot valve at step 1"]


@pytest.mark.invariant
def test_a_tee_with_a_stated_loss_takes_half_in_each_leg(read_text: ReadText) -> None:
    layout = read_text("""
    vessels:
      tank: {base: 0 m, water: 1 m}
      bed: {base: 1 m, water: 0.2 m}
    pumps: {lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}}
    lines:
      riser: {pipe: pvc 25, from: lift, route: [{up: 1.5 m}, tee: {id: t, K: 3}, {up: 0.2 m}], to: cap}
      feed: {pipe: pvc 25, from: t, route: [{east: 1 m}], to: bed}
    """)
    flows = find_flows(layout)
    (line,) = grade_lines(layout, flows)
    before, here = next((a, b) for a, b in pairwise(line.points) if b.after == "tee t")
    assert before.total - here.total == pytest.approx(3.0 * (here.total - here.static), abs=1e-9)


@pytest.mark.invariant
def test_a_drain_that_takes_air_in_is_nowhere_below_its_pipe(read_text: ReadText) -> None:
    """A flat stretch and a deep drop: without air the drop would pull on it."""
    layout = read_text("""
    vessels:
      source: {base: 2 m, water: 1 m}
      bed: {base: 1 m, water: 0.3 m, rim: 0.4 m, area: 1 m^2}
      sump: {base: -2 m, water: 0.5 m}
    lines:
      feed: {pipe: pvc 20, from: {vessel: source, height: 0.2 m}, route: [{east: 1 m}, elbow, {down: 0.7 m}], to: bed}
      drain:
        pipe: pvc 32
        from: {vessel: bed, standpipe: 0.3 m}
        route: [{down: 0.2 m}, elbow, {east: 3 m, down: 30 mm}, elbow, {down: 2 m}]
        to: sump
    """)
    flows = find_flows(layout)
    drain = next(line for line in grade_lines(layout, flows) if line.end == "drain.to")
    inside = [point for point in drain.points if point.vented]
    assert len(inside) >= 6
    # Nowhere under its floor, and lowest where it runs down the drop's last elbow.
    assert min(point.pressure + 0.5 * bore(layout, point) for point in inside) == pytest.approx(0.0, abs=1e-9)
    as_if_full = {
        name: replace(stretch, vented=False) if name.startswith("drain") else stretch
        for name, stretch in flows.stretches.items()
    }
    full = next(line for line in grade_lines(layout, replace(flows, stretches=as_if_full)) if line.end == "drain.to")
    assert min(point.pressure for point in full.points) < -1.0
