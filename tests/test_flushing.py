"""Ways to flush: the network with caps, drain valves or a hose, against the ordinary solver with the same thing written by
hand as an open end, a pipe or a vessel; wall shear against its definitions; and what the command says."""

from __future__ import annotations

import importlib
import io
import json
import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from builders import flows, walk
from builders import layout as built
from checks import cautions
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console, RenderableType

import plumbline
from plumbline import catalogue, check, read_layout
from plumbline.cli import main
from plumbline.errors import LayoutError
from plumbline.hydraulics.assemble import at_rest
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.friction import friction_factor
from plumbline.hydraulics.opened import flows_with, openings
from plumbline.layout.model import HoseSupply, Layout
from plumbline.report.flush import flush_view
from plumbline.upkeep.card import wash_jobs
from plumbline.upkeep.flush import flushed
from plumbline.upkeep.flushing import Flush, flush_ways
from plumbline.upkeep.intervals import length, subtract
from plumbline.upkeep.shear import film_shear, speed, wall_shear

ReadText = Callable[[str], Layout]
LAYOUTS = Path(__file__).parent.parent / "layouts"
L_MIN = 1.0 / 60_000.0
BORE = 0.0212  # pvc 25
G = 9.80665

SYSTEM = """
water: {density: 998 kg/m^3, viscosity: 1.0e-3 Pa s}
TOP
vessels:
  tank: {base: 0 m, water: 0.9 m, area: 2 m^2}
  bed: {base: 1.2 m, water: 0.2 m, rim: 0.3 m, area: 1 m^2}
pumps:
  lift: {in: tank, curve: [[0 L/min, 4 m], [30 L/min, 3 m], [70 L/min, 1 m]]}
lines:
  riser:
    pipe: pvc 25
    from: lift
    route: [{up: 1.6 m}, {tee: {id: t, K: 0.4}}, {east: 3 m}]
    to: bed
  spur:
    pipe: pvc 25
    from: t
    route: [{north: 2 m}, SPUR]
    to: END
  return:
    pipe: pvc 50
    from: {vessel: bed, standpipe: 0.2 m}
    route: [{down: 0.6 m}, elbow, {west: 3 m, down: 60 mm}]
    to: tank
"""


def system(end: str = "cap wash", spur: str = "{north: 0.5 m}", top: str = "") -> str:
    return SYSTEM.replace("END", end).replace("SPUR", spur).replace("TOP", top)


def area(bore: float = BORE) -> float:
    return math.pi / 4 * bore**2


def state(layout: Layout, ids: str, *, stopped: bool = False, hose: str | None = None):
    by_id = {one.id: one for one in openings(layout)}
    found = flows_with(
        layout,
        find_flows(layout),
        [by_id[name] for name in ids.split()],
        stopped=stopped,
        hose_at=None if hose is None else by_id[hose],
    )
    assert found is not None
    return found


def as_usual(layout: Layout) -> dict[str, float]:
    """Where the water stands in normal running, as it still does when something has just been opened."""
    return {name: got.level for name, got in find_flows(layout).vessels.items() if got.level is not None}


def same(one, other, names: dict[str, str] | None = None) -> None:
    """Flows agree to a part in 10⁹; `names` gives the other's ids."""
    scale = max(abs(flow.flow) for flow in one.stretches.values())
    assert scale > 0.0
    for name, flow in one.stretches.items():
        there = (names or {}).get(name, name)
        assert other.stretches[there].flow == pytest.approx(flow.flow, abs=1e-9 * scale, rel=0), name


# ---------------------------------------------------------------------- states, each written by hand too


@pytest.mark.second_method
def test_an_opened_end_cap_is_an_end_in_open_air(read_text: ReadText) -> None:
    capped = read_text(system())
    opened = state(capped, "wash")
    same(opened, find_flows(read_text(system("open air")), levels=as_usual(capped)))
    assert opened.stretches["spur.1"].flow > 20 * L_MIN


@pytest.mark.second_method
def test_an_opened_cap_in_mid_line_is_a_tee_with_an_open_stub(read_text: ReadText) -> None:
    cap = read_text(system("cap far", "{cap: {id: wash, faces: up, K: 0.3}}, {north: 1 m}, elbow, {down: 1 m}"))
    by_hand = (
        system("cap far", "{fitting: {K: 0.3}}, {tee: {id: hole, K: 0}}, {north: 1 m}, elbow, {down: 1 m}")
        + """
  stub: {pipe: pvc 25, from: hole, route: [{up: 0.001 mm}], to: open air}
"""
    )
    opened, hand = state(cap, "wash"), find_flows(read_text(by_hand), levels=as_usual(cap))
    # The stub's micrometre of friction and height is all that is between them.
    for name in ("riser.1", "riser.2", "spur.1", "return.1"):
        assert opened.stretches[name].flow == pytest.approx(hand.stretches[name].flow, rel=1e-6)
    assert hand.stretches["stub.1"].flow == pytest.approx(opened.stretches["spur.1"].flow, rel=1e-6)


@pytest.mark.second_method
def test_a_drain_valve_opened_is_the_layout_with_it_open(read_text: ReadText) -> None:
    shut = read_text(system("open air", "{ball valve: {id: drain valve, opening: 0}}"))
    (one,) = openings(shut)
    assert (one.kind, one.label) == ("valve", "'drain valve'")
    same(state(shut, one.id), find_flows(read_text(system("open air", "ball valve")), levels=as_usual(shut)))


@pytest.mark.invariant
def test_a_shut_valve_that_leads_to_no_open_end_is_no_drain_valve(read_text: ReadText) -> None:
    assert openings(read_text(system("plug", "{ball valve: {opening: 0}}"))) == ()


@pytest.mark.second_method
def test_with_the_pump_off_the_vessel_drains_through_it(read_text: ReadText) -> None:
    """The stopped pump by hand: a port with no entrance loss and a fitting of K = a·2gA²."""
    text = (
        system("cap wash", "elbow, {down: 1.4 m}")
        .replace("water: 0.9 m, area", "water: 1.8 m, area")
        .replace("rim: 0.3 m", "rim: 0.9 m")
    )
    layout = read_text(text)
    k = at_rest(layout.pumps["lift"].curve) * 2 * G * area() ** 2
    pumps = text[text.index("pumps:") : text.index("lines:")]
    hand = read_text(
        text.replace(pumps, "")
        .replace("from: lift", "from: {vessel: tank, height: 0 m, K: 0}")
        .replace("[{up: 1.6 m}", f"[{{fitting: {{K: {k!r}}}}}, {{up: 1.6 m}}")
        .replace("cap wash", "open air")
    )
    opened, other = state(layout, "wash", stopped=True), find_flows(hand, levels=as_usual(layout))
    assert opened.pumps == {}
    same(opened, other)
    assert opened.stretches["spur.1"].flow > 5 * L_MIN


@pytest.mark.invariant
@pytest.mark.parametrize("level", ["0.9 m", "0.2 m"])
def test_with_the_pump_off_nothing_comes_uphill(read_text: ReadText, level: str) -> None:
    """But what still stands over the standpipe's crest runs down it."""
    layout = read_text(system().replace("water: 0.9 m, area", f"water: {level}, area"))
    stopped = state(layout, "wash", stopped=True)
    assert stopped.stretches["return.1"].flow > 0.0
    assert all(one.flow == 0.0 for name, one in stopped.stretches.items() if name != "return.1")


@pytest.mark.second_method
def test_a_hose_is_a_vessel_at_its_head_behind_a_loss(read_text: ReadText) -> None:
    """H = p/ρg less H (Q/Qmax)²: K = H/Qmax²·2gA² in front of a vessel that stands p/ρg above the cap."""
    layout = read_text(system(top="hose supply: {pressure: 2 bar, flow: 25 L/min}"))
    assert layout.hose == HoseSupply(2e5, pytest.approx(25 * L_MIN))
    head = 2e5 / (998 * G)
    cap = next(access for access in layout.accesses if access.id == "wash")
    k = head / (25 * L_MIN) ** 2 * 2 * G * area() ** 2
    fed = state(layout, "", stopped=True, hose="wash")
    mains = f"  mains: {{base: {cap.place[2]!r} m, water: {head!r} m}}\npumps"
    text = system("{vessel: mains, height: 0 m, K: 0}", f"{{north: 0.5 m}}, {{fitting: {{K: {k!r}}}}}").replace(
        "pumps", mains, 1
    )
    pumps = text[text.index("pumps:") : text.index("lines:")]
    resting = at_rest(layout.pumps["lift"].curve) * 2 * G * area() ** 2
    hand = find_flows(
        read_text(
            text.replace(pumps, "")
            .replace("from: lift", "from: {vessel: tank, height: 0 m, K: 0}")
            .replace("[{up: 1.6 m}", f"[{{fitting: {{K: {resting!r}}}}}, {{up: 1.6 m}}")
        ),
        levels=as_usual(layout),
    )
    for name in ("riser.1", "riser.2", "spur.1"):
        assert fed.stretches[name].flow == pytest.approx(hand.stretches[name].flow, rel=1e-9), name
    assert -25 * L_MIN < fed.stretches["spur.1"].flow < -15 * L_MIN


PORT = """
vessels:
  tank: {base: 0 m, water: 0.9 m, area: 2 m^2, rim: 2 m}
  bed: {base: 1.2 m, water: WATER, AREA}
pumps:
  lift: {in: tank, curve: [[0 L/min, 4 m], [30 L/min, 3 m], [70 L/min, 1 m]]}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 2.5 m}, elbow, {east: 3 m}, elbow, {down: 0.1 m}], to: bed}
  drain: {pipe: pvc 40, from: {vessel: bed, height: 0 m}, route: [{down: 0.5 m}, {tee: {id: t, K: 0.5}}, {fitting: {K: 30}}, {down: 0.1 m}],
          to: tank}
  spur: {pipe: pvc 40, from: t, route: [{east: 0.5 m}], to: END}
"""


@pytest.mark.second_method
def test_a_vessel_that_finds_its_own_level_keeps_it_while_a_cap_is_open(read_text: ReadText) -> None:
    """By hand: a reservoir at the level found, as a vessel without an area is, and so is the tank."""
    text = PORT.replace("END", "cap wash")
    layout = read_text(text.replace("WATER", "0.3 m").replace("AREA", "area: 1 m^2, rim: 1 m"))
    usual = find_flows(layout)
    level = usual.vessels["bed"].level
    assert level is not None
    assert abs(level - 1.5) > 0.01
    opened = state(layout, "wash")
    hand = PORT.replace("END", "open air").replace("WATER", f"{level - 1.2!r} m").replace("AREA", "rim: 1 m")
    hand = hand.replace("water: 0.9 m, area: 2 m^2", f"water: {usual.vessels['tank'].level!r} m")
    same(opened, find_flows(read_text(hand)))
    # It gives more than it gets, as it does until its level has fallen.
    assert opened.vessels["bed"].outflow > 1.05 * opened.vessels["bed"].inflow


@pytest.mark.second_method
@given(st.floats(1e-5, 1e-2), st.floats(0.5, 20.0))
def test_a_parabola_at_no_speed_is_its_own_resistance(flow: float, head: float) -> None:
    """H = H₀ (1 − (Q/Q₁)²) at speed n is n² H₀ − H₀ (Q/Q₁)²."""
    points = tuple((flow * share, head * (1 - share**2)) for share in (0.0, 0.3, 0.7, 1.0))
    assert at_rest(points) == pytest.approx(head / flow**2, rel=1e-9)


# ---------------------------------------------------------------------- what each way scours, and what it costs


def way(found, *ids: str, stopped: bool = False, hose: str | None = None) -> Flush:
    (one,) = [
        one
        for one in (*found.ways, *found.idle)
        if [each.id for each in one.opened] == list(ids)
        and one.stopped == stopped
        and (None if one.hose is None else one.hose.id) == hose
    ]
    return one


@pytest.mark.second_method
def test_water_time_and_speed_by_hand(read_text: ReadText) -> None:
    layout = read_text(system())
    one = way(flush_ways(layout), "wash")
    flow = find_flows(read_text(system("open air")), levels=as_usual(layout)).stretches["spur.1"].flow
    assert one.loses == pytest.approx(flow, rel=1e-9)
    spur = one.stretches["spur.1"]
    assert spur.velocity == pytest.approx(flow / area(), rel=1e-9)
    assert spur.seconds == pytest.approx(3 * 2.5 * area() / flow, rel=1e-9)
    assert spur.scoured == pytest.approx(2.5)
    assert one.seconds == pytest.approx(max(x.seconds for x in one.stretches.values() if x.scoured and x.seconds))
    assert one.water == pytest.approx(flow * one.seconds, rel=1e-9)
    # What the pump draws comes out of the tank, less what still comes back.
    back = state(layout, "wash").stretches["return.1"].flow
    drawn = state(layout, "wash").pumps["lift"].flow
    assert one.falls["tank"] == pytest.approx((drawn - back) * one.seconds / 2.0, rel=1e-9)


@pytest.mark.invariant
def test_shear_decides_where_speed_alone_would_do(read_text: ReadText) -> None:
    assert way(flush_ways(read_text(system())), "wash").length > 2.0
    hard = read_text(system(top="limits: {scour shear: 20 Pa}"))
    assert flush_ways(hard).ways == ()


@pytest.mark.pinned
@pytest.mark.parametrize(("more", "counts"), [(1.09, False), (1.11, True)])
def test_a_flush_counts_where_it_makes_the_water_run_a_tenth_faster(more: float, counts: bool) -> None:
    """Common practice, no source: at least 10 % faster than usual. Here both speeds would scour."""
    made = built(walk("a", "vessel tank", [("east", 3.0)], "cap c"))
    usual = flows(made, 2.0)
    opened = {"c": flows(made, 2.0 * more)}
    assert flushed(made, usual, opened)["c"].get("a", ()) == (((0.0, 3.0),) if counts else ())


@pytest.mark.second_method
@pytest.mark.parametrize(("share", "counts"), [(0.99, True), (1.01, False)])
def test_the_table_counts_as_hastened_what_gains_the_limit(read_text: ReadText, share: float, counts: bool) -> None:
    """The limit set just under, and just over, what opening the cap really gains in the riser under the tee."""
    usual = find_flows(read_text(system()))
    opened = find_flows(read_text(system("open air")), levels=as_usual(read_text(system())))
    gain = opened.pumps["lift"].flow / usual.pumps["lift"].flow - 1.0
    assert gain > 0.1
    top = f"limits: {{flush gain: {100.0 * gain * share:.6f} %}}"
    one = way(flush_ways(read_text(system(top=top))), "wash")
    assert one.stretches["riser.1"].hastened == counts


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["unbalanced.yaml"])
def test_two_at_once_are_kept_only_where_they_add_pipe(name: str) -> None:
    """Taken in their order, each pair or hose scours pipe that no way before it did."""
    done: dict[str, list[tuple[float, float]]] = {}
    for one in flush_ways(read_layout(LAYOUTS / name)).ways:
        added = sum(length(subtract(pieces, done.get(line, ()))) for line, pieces in one.scours.items())
        assert added > 1e-6 or len(one.opened) == 1
        for line, pieces in one.scours.items():
            done.setdefault(line, []).extend(pieces)
    assert done


TWO = """
water: {density: 998 kg/m^3, viscosity: 1.0e-3 Pa s}
vessels: {high: {base: 3.1 m, water: 1 m}, low: {base: 0 m, water: 0.5 m}}
lines:
  main: {pipe: pvc 50, from: {vessel: high, height: 0 m}, route: [{down: 3 m}, elbow, {east: 4 m}, {tee: t}, {east: 1 m},
         {ball valve: {opening: 20 %}}], to: {vessel: low, height: 0.1 m}}
  side: {pipe: pvc 20, from: t, route: [{north: 0.1 m}, ball valve: stop, {north: 0.9 m}, {tee: u}, {north: 1 m}],
  to: cap near}
  twig: {pipe: pvc 20, from: u, route: [{east: 1 m}], to: cap far}
limits: {scour speed: SPEED}
"""


@pytest.mark.slow
@pytest.mark.invariant
def test_two_at_once_where_one_is_not_enough(read_text: ReadText) -> None:
    """The main's speed with either cap open, and with both: the limit between them asks for both."""
    layout = read_text(TWO.replace("SPEED", "0.7 m/s"))
    one, two, both = (state(layout, ids).stretches["main.1"].velocity for ids in ("near", "far", "near far"))
    between = 0.5 * (max(one, two) + both)
    assert both > 1.05 * max(one, two)
    wanting = read_text(TWO.replace("SPEED", f"{between!r} m/s"))
    found = flush_ways(wanting)
    pair = way(found, "near", "far")
    assert pair.stretches["main.1"].scoured == pytest.approx(7.0)
    assert way(found, "near").stretches["main.1"].scoured == 0.0
    enough = flush_ways(read_text(TWO.replace("SPEED", f"{0.98 * min(one, two)!r} m/s")))
    assert all(len(each.opened) == 1 for each in (*enough.ways, *enough.idle))


@pytest.mark.invariant
def test_a_hose_and_an_open_cap_scour_what_the_hose_alone_cannot(read_text: ReadText) -> None:
    text = TWO.replace("SPEED", "0.7 m/s") + "hose supply: {pressure: 3 bar, flow: 20 L/min}\n"
    found = flush_ways(read_text(text))
    alone = way(found, stopped=True, hose="near")
    assert alone.loses == 0.0
    assert alone.brings > 15 * L_MIN
    assert alone.stretches["twig.1"].velocity == 0.0
    pairs = [each for each in found.ways if each.hose is not None and each.opened]
    assert pairs
    assert all(each.brings > 0.0 for each in pairs)
    assert any(each.stretches["twig.1"].scoured == pytest.approx(1.0) for each in pairs)


@pytest.mark.invariant
def test_what_no_way_scours_is_named_with_the_best_that_can_be_had(read_text: ReadText) -> None:
    layout = read_text(TWO.replace("SPEED", "0.7 m/s").replace("cap far", "plug"))
    found = flush_ways(layout)
    twig = next(weak for weak in found.weak if weak.line == "twig")
    assert (twig.best, twig.velocity, length(twig.pieces)) == (None, 0.0, pytest.approx(1.0))
    total = sum(line.length for line in layout.lines.values())
    assert found.scoured + sum(length(weak.pieces) for weak in found.weak) == pytest.approx(total)


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize("name", ["courtyard.yaml", "tangle.yaml", "unbalanced.yaml", "overflow.yaml"])
def test_every_way_of_the_layouts_is_sound(name: str) -> None:
    found = flush_ways(read_layout(LAYOUTS / name))
    limits = found.layout.limits
    for one in (*found.ways, *found.idle):
        assert one.loses >= -1e-12
        assert (one.length > 0.0) == (one in found.ways)
        for stretch in found.layout.stretches:
            washed = one.stretches[stretch.id]
            bores = {part.pipe.bore for part in stretch.parts if part.is_pipe and part.length > 0}
            if washed.scoured > 0.0 and len(bores) == 1:
                assert washed.velocity >= limits["scour speed"]
                assert washed.shear >= limits["scour shear"]
                assert washed.hastened


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_the_check_and_the_command_agree_on_single_caps() -> None:
    """`flushed_m` of the check is what single openings scour with the pumps on."""
    layout = read_layout(LAYOUTS / "unbalanced.yaml")
    found, upkeep = flush_ways(layout), check(layout).upkeep
    for stretch in layout.stretches:
        best = max(one.stretches[stretch.id].scoured for one in (*found.ways, *found.idle) if not one.stopped)
        assert upkeep.flushed_m(stretch) == pytest.approx(best, abs=1e-9)


@pytest.mark.invariant
def test_the_check_solves_no_more_than_one_state_an_opening(monkeypatch: pytest.MonkeyPatch) -> None:
    layout = read_layout(LAYOUTS / "unbalanced.yaml")
    solved: list[int] = []
    module = importlib.import_module("plumbline.check")
    counted = module.flows_with
    monkeypatch.setattr(module, "flows_with", lambda *a, **k: (solved.append(1), counted(*a, **k))[1])
    check(layout)
    assert len(solved) == len(openings(layout))


# ---------------------------------------------------------------------- shear


@pytest.mark.second_method
@given(st.floats(0.01, 0.2), st.floats(0.05, 3.0))
def test_shear_is_what_the_friction_pulls_on_the_wall(bore: float, velocity: float) -> None:
    """τ π D L = ρ g h A with h = f L/D V²/2g, so τ = ρ g (D/4) (h/L): the same as ρ g R S with R = D/4."""
    flow, roughness = velocity * math.pi / 4 * bore**2, 1.5e-6
    factor = float(friction_factor(998 * velocity * bore / 1e-3, roughness / bore))
    slope = factor / bore * velocity**2 / (2 * G)
    shear = wall_shear(flow, bore, roughness, 998.0, 1e-3)
    assert shear == pytest.approx(film_shear(bore / 4, slope, 998.0), rel=1e-9)
    assert speed(-flow, bore) == pytest.approx(velocity)


@pytest.mark.second_method
@pytest.mark.parametrize("velocity", [0.3, 0.7, 2.0])
@pytest.mark.parametrize("bore", [0.0212, 0.0466, 0.1036])
def test_shear_with_the_friction_factor_of_a_general_library(bore: float, velocity: float) -> None:
    """f ρ V²/8 with f from `fluids` (Colebrook, solved exactly)."""
    import fluids

    factor = fluids.friction_factor(998 * velocity * bore / 1e-3, 1.5e-6 / bore)
    shear = wall_shear(velocity * math.pi / 4 * bore**2, bore, 1.5e-6, 998.0, 1e-3)
    assert shear == pytest.approx(factor * 998 * velocity**2 / 8, rel=1e-6)


@pytest.mark.published
def test_the_limit_for_grit_is_the_printed_one() -> None:
    """0.0181 lb/ft² for 1 mm sand, printed as 0.867 N/m² (ASCE Manual 60 / WEF FD-5 [L, at second hand]): 1 lbf/ft² = 47.88 Pa."""
    row = catalogue.limits()["scour shear"]
    assert row.value == pytest.approx(0.0181 * 47.880259, abs=0.0005)
    assert "ASCE" in row.source


@pytest.mark.second_method
def test_scour_speed_and_scour_shear_ask_for_about_the_same() -> None:
    """0.7 m/s (BS EN 752) in smooth pipe of 20 to 150 mm gives the 1 to 2 Pa of Yao (from memory), over 0.867 Pa for grit."""
    for bore in (0.02, 0.05, 0.1, 0.15):
        assert 1.0 <= wall_shear(0.7 * math.pi / 4 * bore**2, bore, 1.5e-6, 998.0, 1e-3) <= 2.0


# ---------------------------------------------------------------------- the command


def told(tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, *more: str) -> str:
    path = tmp_path / "layout.yaml"
    path.write_text(text, encoding="utf-8")
    assert main(["flush", str(path), *more]) == 0
    return capsys.readouterr().out


@pytest.mark.pinned
def test_the_table_says_what_to_open_what_it_costs_and_what_it_does(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = told(tmp_path, capsys, system())
    loses = way(flush_ways(read_layout(tmp_path / "layout.yaml")), "wash").loses / L_MIN
    assert f"'wash', pumps on: loses {loses:.1f} L/min, for " in out
    assert "scours 2.50 m of 'spur' (steps 1 to 2)" in out
    assert "Not scoured by any of them" in out
    assert "Never put compressed air into plastic pipe" in out
    assert "cross-connection" not in out


@pytest.mark.pinned
def test_a_hose_never_goes_without_its_caution(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = told(tmp_path, capsys, system(top="hose supply: {pressure: 3 bar, flow: 20 L/min}"))
    assert "the hose at 'wash', pumps off: brings " in out
    for word in ("cross-connection", "backflow", "chlorine", "Local codes"):
        assert word in out


@pytest.mark.pinned
def test_no_way_is_ever_by_compressed_air() -> None:
    """The words stand in the catalogue once, as a caution with the better way."""
    assert "Test and flush with water" in " ".join(cautions()["compressed air"].split())
    for path in (Path(plumbline.__file__).parent).rglob("*.py"):
        assert "compressed air" not in path.read_text(encoding="utf-8").replace('"compressed air"', ""), path


@pytest.mark.pinned
def test_json_has_every_stretch_of_every_way(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = json.loads(told(tmp_path, capsys, system(), "--json"))
    layout = read_layout(tmp_path / "layout.yaml")
    assert data["hose"] is None
    assert [one["open"] for one in data["ways"]] == [["wash"]]
    for one in (*data["ways"], *data["idle"]):
        assert set(one["stretches"]) == {stretch.id for stretch in layout.stretches}
    assert data["ways"][0]["stretches"]["spur.1"]["scoured_m"] == pytest.approx(2.5)
    assert "better" not in data
    assert data["cautions"] == dict(catalogue.cautions_at("flush"))


@pytest.mark.pinned
def test_a_layout_without_caps_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "There is no cap and no drain valve to open, and no standpipe that pulls out." in told(
        tmp_path, capsys, system("plug")
    )


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ("{pressure: 3 bar}", "flow"),
        ("{pressure: 3 m, flow: 20 L/min}", "pressure"),
        ("{pressure: 0 bar, flow: 20 L/min}", "0 bar"),
        ("20 L/min", "the hose supply is"),
    ],
)
def test_a_hose_supply_that_cannot_be(read_text: ReadText, said: str, fault: str) -> None:
    with pytest.raises(LayoutError, match=fault):
        read_text(system(top=f"hose supply: {said}"))


@pytest.mark.second_method
@pytest.mark.slow
def test_the_wall_card_takes_flushes_with_the_pumps_on(capsys: pytest.CaptureFixture[str]) -> None:
    layout = read_layout(LAYOUTS / "unbalanced.yaml")
    jobs = wash_jobs(flush_ways(layout))
    assert [job.opened for job in jobs] == [
        ("riser top",),
        ("manifold end",),
        ("strawberries corner",),
        ("spinach corner",),
    ]
    end = next(one for one in flush_ways(layout).ways if one.opened[0].id == "manifold end")
    assert (jobs[1].scours, jobs[1].seconds, jobs[1].water) == (end.scours, end.seconds, end.water)
    assert main(["card", str(LAYOUTS / "unbalanced.yaml")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert (
        f"With the pump off open 'manifold end'; plug in until it runs clear, {end.water * 1000:.1f} L or more" in said
    )


HEADER = """
vessels:
  tank: {base: 0 m, water: 0.8 m}
  bed: {base: 1.2 m, water: 0.2 m}
pumps: {lift: {in: tank, curve: [[0 L/min, 5 m], [80 L/min, 3 m]]}}
lines:
  riser: {pipe: pvc 32, from: lift, route: [{up: 1 m}], to: j}
  header: {pipe: pvc 32, from: cap near, route: [{north: 0.3 m}, tee: j, {north: 0.7 m}, tee: k, {north: 0.5 m}], to: cap far}
  feed: {pipe: pvc 32, from: k, route: [{up: 0.9 m}], to: bed}
  idle: {pipe: pvc 50, from: {vessel: bed, height: 0.1 m}, route: [{down: 1 m}], to: cap low}
"""


@pytest.mark.second_method
def test_the_screen_names_the_steps_that_a_flush_scours_and_what_it_hastens(read_text: ReadText) -> None:
    """By hand: the near cap scours the header's first step and the far one its last, beside what leads there; with the pump off the
    header hangs over the tank, so that neither hastens anything."""
    found = flush_ways(read_text(HEADER))
    said = rendered(flush_view(found))
    assert "scours 0.30 m of 'header' (step 1)" in said
    assert re.search(r"scours 1\.20 m of 'header' \(steps 3 to 5\)|scours 0\.50 m of 'header' \(step 5\)", said)
    assert any(way.stopped for way in found.idle)
    for way in found.idle:
        hastens = any(one.hastened for one in way.stretches.values())
        (row,) = re.findall(rf"^'{way.opened[0].id}' .*pumps {'off' if way.stopped else 'on'}.*$", said, re.MULTILINE)
        assert row.endswith("nothing") is not hastens


@pytest.mark.invariant
@pytest.mark.parametrize("stopped", [False, True])
def test_pumps_off_is_said_of_what_is_done_with_the_pumps_off(read_text: ReadText, stopped: bool) -> None:
    """A way that hastens some pipe without scouring it, and the same with the pumps in the other state."""
    feeble = HEADER.replace("[80 L/min, 3 m]", "[12 L/min, 1.9 m]").replace("[0 L/min, 5 m]", "[0 L/min, 2.3 m]")
    found = flush_ways(read_text(feeble))
    one = next(weak for weak in found.weak if weak.best is not None)
    assert one.best is not None
    said = rendered(flush_view(replace(found, weak=(replace(one, best=replace(one.best, stopped=stopped)),))))
    (row,) = re.findall(rf"^{one.line} .*$", said.partition("Not scoured")[2], re.MULTILINE)
    assert row.rstrip().endswith(f"'{one.best.opened[0].id}'{', pumps off' if stopped else ''}")


def rendered(view: RenderableType) -> str:
    console = Console(file=io.StringIO(), width=160)
    console.print(view)
    return console.file.getvalue()  # type: ignore[attr-defined]
