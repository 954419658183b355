"""Whether pipe can fill at all, against a plain search, and the states of vessels and ends that are no steady service."""

from __future__ import annotations

import itertools

import pytest
from conftest import ReadText

from plumbline.check import check
from plumbline.findings import Finding
from plumbline.hydraulics.filling import highest, static_reach
from plumbline.layout.model import Layout

ARCH = """
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2}
pumps: {p: {in: tank, curve: [[0 L/min, 2.5 m], [20 L/min, 1.8 m], [45 L/min, 0.5 m]]}}
lines:
  arch: {pipe: pvc 25, from: p, route: [{up: TOP m}, sweep, {east: 1 m}, sweep, {down: FALL m}], to: bed}
  drain: {pipe: pvc 63, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 1 m}], to: tank}
"""


def found(read_text: ReadText, text: str, kind: str) -> list[Finding]:
    return [one for one in check(read_text(text)).findings if one.kind == kind]


@pytest.mark.second_method
@pytest.mark.parametrize(("top", "fills"), [(3.29, True), (3.31, False), (4.0, False)])
def test_a_pump_fills_pipe_up_to_its_shut_off_head(read_text: ReadText, top: float, fills: bool) -> None:
    """Level 0.8 m and 2.5 m of head: 3.3 m."""
    text = ARCH.replace("TOP", str(top)).replace("FALL", str(top - 1.4))
    assert bool(found(read_text, text, "cannot-fill")) != fills


@pytest.mark.second_method
def test_what_comes_by_gravity_fills_up_to_its_level(read_text: ReadText) -> None:
    text = """
vessels: {a: {base: 1 m, water: 0.5 m}, b: {base: 0 m, water: 0.2 m}}
lines: {over: {pipe: pvc 25, from: {vessel: a, height: 0.1 m}, route: [{up: RISE m}, elbow, {east: 1 m}, elbow, {down: 1.2 m}], to: b}}
"""
    assert not found(read_text, text.replace("RISE", "0.3"), "cannot-fill")
    assert found(read_text, text.replace("RISE", "0.6"), "cannot-fill")


@pytest.mark.second_method
def test_pumps_in_series_add_up(read_text: ReadText) -> None:
    text = """
vessels: {tank: {base: 0 m, water: 0.5 m}, top: {base: 4 m, water: 0.2 m}}
pumps:
  one: {in: tank, curve: [[0 L/min, 2.5 m], [40 L/min, 0.5 m]]}
  two: {curve: [[0 L/min, 2.5 m], [40 L/min, 0.5 m]]}
lines:
  low: {pipe: pvc 25, from: one, route: [{up: 1 m}], to: two}
  high: {pipe: pvc 25, from: two, route: [{up: RISE m}], to: top}
"""
    assert not found(read_text, text.replace("RISE", "4.4"), "cannot-fill")
    assert static_reach(read_text(text.replace("RISE", "4.4")))["high.to"] == pytest.approx(5.5)


def by_trying_all_ways(layout: Layout) -> dict[str, float]:
    """The same by plain exhaustion: let water on along any stretch until nothing changes."""
    heads: dict[str, float] = {}
    for pump in layout.pumps.values():
        if pump.vessel is not None:
            heads[f"{pump.name}.out"] = layout.vessels[pump.vessel].level + pump.curve[0][1]
    for line in layout.lines.values():
        for side, end in (("from", line.start), ("to", line.end)):
            if end.kind == "vessel" and (end.submerged or end.port == "standpipe"):
                level = end.place[2] if end.port == "standpipe" else layout.vessels[end.name or ""].level
                heads[f"{line.name}.{side}"] = level
    for _ in range(len(layout.stretches) + len(layout.pumps)):
        for stretch, turned in itertools.product(layout.stretches, (False, True)):
            shut = any(part.opening == 0.0 for part in stretch.parts)
            check_valve = any(part.kind in ("check valve", "foot valve") for part in stretch.parts)
            start, end = (stretch.head, stretch.tail) if turned else (stretch.tail, stretch.head)
            if start in heads and not shut and not (turned and check_valve) and highest(stretch) <= heads[start]:
                heads[end] = max(heads.get(end, -1e9), heads[start])
        for pump in layout.pumps.values():
            if f"{pump.name}.in" in heads:
                out = heads[f"{pump.name}.in"] + pump.curve[0][1]
                heads[f"{pump.name}.out"] = max(heads.get(f"{pump.name}.out", -1e9), out)
    return heads


@pytest.mark.second_method
@pytest.mark.parametrize("name", ["tangle", "ring_main", "terraces", "call_outs", "overflow", "gallons"])
def test_reach_of_water_by_exhaustion(name: str) -> None:
    from pathlib import Path

    from plumbline import read_layout

    layout = read_layout(Path(__file__).parent.parent / "layouts" / f"{name}.yaml")
    assert static_reach(layout) == pytest.approx(by_trying_all_ways(layout))


PORTED = ARCH.replace("TOP", "2.0").replace("FALL", "0.6").replace("standpipe: 0.2 m", "height: 0 m")


@pytest.mark.invariant
@pytest.mark.parametrize(("holds", "level"), [("plants", "warn"), ("fish", "fail")])
def test_a_vessel_that_drains_to_its_port(read_text: ReadText, holds: str, level: str) -> None:
    text = PORTED.replace("bed: {base", f"bed: {{holds: {holds}, base").replace(
        "rim: 0.3 m, water: 0.2 m", "rim: 0.6 m, water: 0.5 m"
    )
    text = text.replace("FALL", "0.3").replace("{down: 0.6 m}", "{down: 0.3 m}")
    (one,) = found(read_text, text, "level-drops")
    assert one.level == level
    assert "from 0.50 m to 0.0" in one.message


@pytest.mark.pinned
def test_water_that_runs_away_is_told_with_its_flow(read_text: ReadText) -> None:
    text = (
        ARCH.replace("TOP", "2.0")
        .replace("FALL", "0.6")
        .replace("[{down: 1 m}], to: tank", "[{down: 1 m}], to: open air")
    )
    (one,) = found(read_text, text, "runs-away")
    assert (one.line, one.level) == ("drain", "warn")
    assert "L/min run out at the end of 'drain'" in one.message
    assert not found(read_text, ARCH.replace("TOP", "2.0").replace("FALL", "0.6"), "runs-away")


@pytest.mark.pinned
def test_the_cure_for_a_vessel_without_water_names_the_shut_valve(read_text: ReadText) -> None:
    text = (
        ARCH.replace("TOP", "2.0")
        .replace("FALL", "0.6")
        .replace("sweep, {east", "sweep, {ball valve: {id: v1, opening: 0}}, {east")
    )
    text = text.replace("water: 0.2 m, area: 2 m^2", "water: 0.2 m, area: 2 m^2, wants: 5 L/min")
    (one,) = found(read_text, text, "too-little-water")
    assert one.cure == "open the ball valve 'v1' at step 3 of line 'arch'"


@pytest.mark.pinned
def test_the_cure_for_an_overfed_vessel_is_its_valve(read_text: ReadText) -> None:
    text = (
        ARCH.replace("TOP", "2.0")
        .replace("FALL", "0.6")
        .replace("sweep, {east", "sweep, {ball valve: {id: v1}}, {east")
    )
    text = text.replace("water: 0.2 m, area: 2 m^2", "water: 0.2 m, area: 2 m^2, wants: 5 L/min").replace(
        "pvc 63", "hose 13 mm"
    )
    (one,) = found(read_text, text, "overtops")
    assert one.cure.startswith("throttle the ball valve 'v1' at step 3 of line 'arch'")
    assert one.cure.endswith("; 'plumbline balance' tells how far")


@pytest.mark.pinned
def test_what_runs_over_a_rim_is_not_made_good_by_more_water(read_text: ReadText) -> None:
    text = ARCH.replace("pvc 63", "{bore: 24 mm}").replace("TOP", "2.2").replace("FALL", "0.8")
    (one,) = found(read_text, text, "level-drops")
    assert "as it runs over the rim of 'bed'" in one.message
    assert one.cure == "keep 'bed' from running over first"


BESIDE = """
vessels:
  pond: {holds: fish, base: -1 m, rim: 1.2 m, water: 1 m, area: 4 m^2}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2}
pumps: {p: {curve: [[0 L/min, 6 m], [60 L/min, 2 m]]}}
lines:
  suction: {pipe: pvc 40, from: {vessel: pond, height: 0.3 m}, route: [VALVE, {up: RISE m}, elbow, {east: 1 m}], to: p}
  press: {pipe: pvc 32, from: p, route: [{up: 2 m}, elbow, {east: 1 m}], to: bed}
  drain: {pipe: pvc 63, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 1.5 m}], to: pond}
"""


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("valve", "rise", "level"),
    [
        ("foot valve", 1.2, "advice"),
        ("check valve", 1.2, "advice"),
        ("union", 1.2, "warn"),
        ("union", 0.6, None),
        ("foot valve", 0.6, None),
    ],
)
def test_a_suction_line_above_its_water_is_filled_by_hand(
    read_text: ReadText, valve: str, rise: float, level: str | None
) -> None:
    """The pond stands at 0 m and the suction line leaves it at −0.7 m: a rise of more than 0.7 m ends above the water. No pump is said to
    stand before pipe that it cannot fill."""
    text = BESIDE.replace("VALVE", valve).replace("RISE", str(rise))
    told = found(read_text, text, "wants-priming")
    assert [one.level for one in told] == ([level] if level else [])
    assert all(one.pump == "p" and "'pond'" in one.message for one in told)
    assert all(one.cure.startswith("fill 'suction' by hand") for one in told)
    assert all(("put a foot valve at its end in 'pond'" in one.cure) == (valve == "union") for one in told)
    assert not found(read_text, text, "cannot-fill")


@pytest.mark.invariant
def test_beyond_a_pump_that_is_filled_by_hand_pipe_fills_to_its_shut_off_head(read_text: ReadText) -> None:
    text = BESIDE.replace("VALVE", "foot valve").replace("RISE", "1.2")
    assert not found(
        read_text,
        text.replace("{up: 2 m}, elbow, {east: 1 m}", "{up: 5.4 m}, elbow, {east: 1 m}, elbow, {down: 3 m}"),
        "cannot-fill",
    )
    assert found(
        read_text,
        text.replace("{up: 2 m}, elbow, {east: 1 m}", "{up: 5.6 m}, elbow, {east: 1 m}, elbow, {down: 3 m}"),
        "cannot-fill",
    )


@pytest.mark.invariant
def test_water_that_a_float_valve_holds_back_is_not_told_as_standing(read_text: ReadText) -> None:
    text = BESIDE.replace("VALVE", "foot valve").replace("RISE", "0.6") + (
        "  top-up: {pipe: pvc 20, from: {supply: 5 L/min, height: 1 m}, route: [{down: 0.7 m}], to: {vessel: pond, float valve: 0.9 m}}\n"
    )
    assert not found(read_text, text, "standing-water")
