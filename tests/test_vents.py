"""A drain that draws from a tank's floor and over a vented top: the solids go with the water, and the tank stays full."""

from __future__ import annotations

import itertools
from math import inf
from pathlib import Path

import networkx
import pytest
from conftest import ReadText
from fluids import friction_factor
from plain_mouths import brink_energy
from scipy.optimize import brentq

from plumbline.check import check
from plumbline.errors import SolveError
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.how_sure import how_sure
from plumbline.layout import read_layout
from plumbline.layout.model import Layout
from plumbline.layout.traps import air_held

LAYOUTS = Path(__file__).parent.parent / "layouts"

SYSTEM = """
water: 20 degC
vessels:
  sump: {base: -1 m, rim: 1 m, water: 0.6 m, area: 1 m^2}
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 3 m], [40 L/min, 0.5 m]]}
lines:
  riser:
    pipe: {bore: 40 mm, roughness: 0.0015 mm}
    from: lift
    route: [{up: 2.0 m}, elbow, {west: 0.5 m}]
    to: tank
  back:
    pipe: {bore: 47 mm, roughness: 0.0015 mm}
    from: {vessel: tank, height: 0.05 m}
    route: [{up: 0.75 m}, tee: top, {east: 0.5 m, down: 20 mm}, elbow, {down: 0.4 m}]
    to: sump
  vent:
    pipe: {bore: 47 mm, roughness: 0.0015 mm}
    from: top
    route: ROUTE
    to: open air
"""


@pytest.mark.invariant
def test_a_vent_that_looks_up_is_not_held_back(read_text: ReadText) -> None:
    found = check(read_text(SYSTEM.replace("ROUTE", "[up: 0.15 m]")))
    assert "held-back" not in {one.kind for one in found.findings}
    flows = found.flows
    assert flows.stretches["back.1"].flow == pytest.approx(flows.stretches["riser.1"].flow, rel=1e-9)
    assert flows.stretches["vent.1"].flow == 0.0
    # The water stands at the turn over the top, and not at the floor that it is drawn from.
    assert 0.8 <= flows.vessels["tank"].level < 0.86
    assert found.cut is not None
    assert "siphons-back" not in {one.kind for one in found.findings}


@pytest.mark.invariant
def test_an_end_that_looks_down_is_held_back(read_text: ReadText) -> None:
    found = check(read_text(SYSTEM.replace("ROUTE", "[{up: 0.15 m}, elbow, {north: 0.1 m}, elbow, {down: 0.1 m}]")))
    assert "held-back" in {one.kind for one in found.findings}


@pytest.mark.invariant
def test_without_its_vent_the_overflow_sucks_the_tank_down_at_a_power_cut(read_text: ReadText) -> None:
    vented = SYSTEM.replace("ROUTE", "[up: 0.15 m]")
    closed = vented.replace("to: open air", "to: cap")
    left: list[float | None] = []
    for text in (vented, closed):
        cut = check(read_text(text)).cut
        assert cut is not None
        left += [one.after for one in cut.vessels if one.vessel == "tank"]
    assert left[0] == pytest.approx(0.8, abs=0.03)
    assert left[1] is not None
    assert left[1] < 0.6


@pytest.mark.invariant
def test_water_that_is_lifted_does_not_gulp_like_a_drop(read_text: ReadText) -> None:
    layout = read_text(SYSTEM.replace("ROUTE", "[up: 0.15 m]"))
    flow = find_flows(layout).stretches["back.1"].flow
    told = [one for one in check(layout).findings if one.kind == "drain-gulps"]
    number = flow / (0.25 * 3.141592653589793 * 0.047**2) / (9.80665 * 0.047) ** 0.5
    assert 0.3 < number < 1.0
    assert [one.step for one in told] == [5]


@pytest.mark.slow(2)
@pytest.mark.invariant
def test_a_shut_leg_of_a_tee_costs_no_long_search(read_text: ReadText, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tee's loss has a kink where a leg that only lets water out carries none; plain Newton stalls there, and a march in time takes
    thirty times the work. All steps to the levels' rest take less than twice those of the same pipe with an elbow for the tee."""
    from plumbline.hydraulics import newton

    count = 0
    evaluate = newton.evaluate

    def counted(*args: object, **kwargs: object) -> newton.Point:
        nonlocal count
        count += 1
        return evaluate(*args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(newton, "evaluate", counted)
    text = SYSTEM.replace("ROUTE", "[up: 0.15 m]").replace("[40 L/min, 0.5 m]", "[FLOW L/min, 0.5 m]")
    plain = text.split("  vent:", maxsplit=1)[0].replace("tee: top, ", "elbow, ")
    for flow in range(20, 150, 10):
        count = 0
        flows = find_flows(read_text(text.replace("FLOW", str(flow))))
        assert flows.stretches["vent.1"].flow == 0.0
        with_vent, count = count, 0
        find_flows(read_text(plain.replace("FLOW", str(flow))))
        assert with_vent < 2 * count


GOOSENECK = """
water: 20 degC
vessels:
  sump: {base: 0 m, rim: 1 m, water: 0.6 m}
  bed: {base: 0 m, rim: 1 m, water: 0.3 m}
pumps: {lift: {in: sump, height: 0.1 m, curve: CURVE}}
lines:
  over: {pipe: {bore: 26 mm}, from: lift, route: [{up: 2 m}, elbow, {east: 0.4 m}, elbow, {down: 1.2 m}], to: bed}
"""


@pytest.mark.second_method
def test_a_gooseneck_too_slow_to_carry_its_air_is_no_siphon_and_said_to_be_in_doubt(read_text: ReadText) -> None:
    """With air at the top the pump lifts over its floor, 1.487 m, by the energy of the critical depth, 6.2 mm at 0.67 L/min:
    10 (1 − 1.4932/1.6) = 0.67 L/min, V/√(gD) 0.04, which carries no air down. Full, it would run at 0.3 to 1."""
    layout = read_text(GOOSENECK.replace("CURVE", "[[0 L/min, 1.6 m], [10 L/min, 0 m]]"))
    likely, held = find_flows(layout), find_flows(layout, siphons="held")
    assert likely.doubtful == {"over.1"}
    assert likely.pumps["lift"].flow * 60_000 == pytest.approx(0.668, rel=0.01)
    number = held.pumps["lift"].flow / (0.25 * 3.141592653589793 * 0.026**2) / (9.80665 * 0.026) ** 0.5
    assert 0.3 < number < 1.0
    strong = find_flows(read_text(GOOSENECK.replace("CURVE", "[[0 L/min, 4 m], [60 L/min, 0 m]]")))
    assert strong.doubtful == set()


@pytest.mark.second_method
def test_a_gooseneck_that_would_run_fast_but_begins_slow_is_in_doubt(read_text: ReadText) -> None:
    """With air at the top, its floor and the energy of the critical depth, 12.4 mm, are, friction aside, 1.4994 m over the sump: 40 (1 − 1.4994/1.6) = 2.52 L/min,
    V/√(gD) 0.16, which carries no air down. Full it runs at more than 1, so the range holds both, and 1.5 L/min, of which either is more, is enough all the same."""
    layout = read_text(GOOSENECK.replace("CURVE", "[[0 L/min, 1.6 m], [40 L/min, 0 m]]"))
    likely, held, broken = (find_flows(layout, siphons=said) for said in ("likely", "held", "broken"))
    assert likely.doubtful == {"over.1"}
    assert likely.pumps["lift"].flow == broken.pumps["lift"].flow
    assert likely.pumps["lift"].flow * 60_000 == pytest.approx(2.516, rel=0.03)
    number = held.pumps["lift"].flow / (0.25 * 3.141592653589793 * 0.026**2) / (9.80665 * 0.026) ** 0.5
    assert number > 1.0
    wanted = GOOSENECK.replace("CURVE", "[[0 L/min, 1.6 m], [40 L/min, 0 m]]").replace(
        "water: 0.3 m}", "water: 0.3 m, wants: 10 L/min}"
    )
    sure = how_sure(read_text(wanted)).vessels["bed"]
    assert sure.inflow.low < likely.pumps["lift"].flow < held.pumps["lift"].flow < sure.inflow.high
    assert sure.word not in ("surely", "probably")


@pytest.mark.invariant
def test_of_two_goosenecks_only_the_one_that_begins_slow_is_in_doubt(read_text: ReadText) -> None:
    """Each by its own pump: the strong one sweeps its air out from the start."""
    text = GOOSENECK.replace(
        "pumps: {lift: {in: sump, height: 0.1 m, curve: CURVE}}",
        """pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 1.6 m], [40 L/min, 0 m]]}
  strong: {in: sump, height: 0.1 m, curve: [[0 L/min, 4 m], [60 L/min, 0 m]]}""",
    )
    layout = read_text(
        text + text.splitlines()[-1].replace("over:", "other:").replace("from: lift", "from: strong") + "\n"
    )
    assert find_flows(layout).doubtful == {"over.1"}
    assert find_flows(layout, siphons="broken").stretches["other.1"].vented is False


@pytest.mark.second_method
def test_a_gooseneck_over_the_pumps_highest_head_gives_nothing_and_is_told_once(read_text: ReadText) -> None:
    """From 0.6 m a pump of 1.4 m lifts to 2.0 m, and the axis lies at 2.1 m."""
    found = check(read_text(GOOSENECK.replace("CURVE", "[[0 L/min, 1.4 m], [40 L/min, 0 m]]")))
    assert found.flows.pumps["lift"].flow == 0.0
    assert {one.kind for one in found.findings} & {"cannot-fill", "pump-shut-off"} == {"cannot-fill"}


UNDER = GOOSENECK.replace("rim: 1 m, water: 0.3 m", "rim: 1.4 m, water: 1.2 m, wants: 2 L/min")
"""The same, its end 0.3 m under the water of the bed: what air is in the hump cannot come up the far leg, nor leave by it."""


def number_of(flow: float, bore: float = 0.026) -> float:
    """V/√(gD)."""
    return flow / (0.25 * 3.141592653589793 * bore**2) / (9.80665 * bore) ** 0.5


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("curve", "aired"), [("[[0 L/min, 1.6 m], [10 L/min, 0 m]]", 0.668), ("[[0 L/min, 1.6 m], [40 L/min, 0 m]]", 2.516)]
)
def test_a_hump_whose_end_is_under_water_keeps_the_air_that_it_begins_with(
    read_text: ReadText, curve: str, aired: float
) -> None:
    """Dry pipe fills from the pump up to the hump and from the bed up to its water, and the air between has no way out but with the water. So it is
    lifted over the hump's floor as where the end hangs free, by hand as above, until someone draws the air off; then the levels' 0.6 m alone
    stand against it: 1.6 (1 − Q/Q₀) = 0.6 and what the pipe takes."""
    layout = read_text(UNDER.replace("CURVE", curve))
    likely, held, broken = (find_flows(layout, siphons=said) for said in ("likely", "held", "broken"))
    assert likely.doubtful == {"over.1"}
    assert likely.stretches["over.1"].vented
    assert likely.pumps["lift"].flow == broken.pumps["lift"].flow
    assert likely.pumps["lift"].flow * 60_000 == pytest.approx(aired, rel=0.03)
    full = float(curve.split("], [")[1].split(" ", maxsplit=1)[0]) / 60_000

    def short(flow: float) -> float:
        """What is left of the pump's head over the levels and the pipe: 3.6 m of it, a mouth (1) and two tight elbows (about 1 each)."""
        speed = flow / (0.25 * 3.141592653589793 * 0.026**2)
        friction = friction_factor(Re=998.2 * speed * 0.026 / 1.0016e-3, eD=0.0015 / 26.0)
        return 1.6 * (1 - flow / full) - 0.6 - (friction * 3.6 / 0.026 + 3.0) * speed**2 / 19.6133

    assert held.pumps["lift"].flow == pytest.approx(brentq(short, 1e-7, full), rel=0.02)
    sure = how_sure(layout).vessels["bed"]
    assert sure.inflow.low < likely.pumps["lift"].flow < held.pumps["lift"].flow < sure.inflow.high
    assert (sure.word in ("surely", "probably")) == (aired > 2.0)


@pytest.mark.second_method
def test_over_one_the_air_of_a_hump_is_swept_out_and_between_the_limits_it_is_in_doubt(read_text: ReadText) -> None:
    """With air at the top a pump of 1.6 m and Q₀ at its end gives some 0.067 Q₀; V/√(gD) = 0.3 at 4.83 L/min and 1 at 16.1."""
    for lift, most, doubtful, vented in ((1.6, 40, True, True), (1.6, 100, True, False), (4, 60, False, False)):
        layout = read_text(UNDER.replace("CURVE", f"[[0 L/min, {lift} m], [{most} L/min, 0 m]]"))
        likely, broken = find_flows(layout), find_flows(layout, siphons="broken")
        begins = find_flows(
            read_text(GOOSENECK.replace("CURVE", f"[[0 L/min, {lift} m], [{most} L/min, 0 m]]")), siphons="broken"
        )
        # What it begins with does not know of the far end: it is the flow of the gooseneck that hangs free.
        number = number_of(begins.pumps["lift"].flow)
        assert (number < 0.3, number < 1.0) == (vented, doubtful)
        assert ("over.1" in likely.doubtful, likely.stretches["over.1"].vented) == (doubtful, vented), most
        assert broken.stretches["over.1"].vented == doubtful


@pytest.mark.second_method
def test_a_hump_that_water_never_gets_over_is_told_and_runs_as_whoever_primes_it_has_it(read_text: ReadText) -> None:
    """From 0.6 m a pump of 1.4 m lifts to 2.0 m, and the axis lies at 2.1 m: who fills the pipe by hand has what the levels' 0.6 m leave, and is told so."""
    found = check(read_text(UNDER.replace("CURVE", "[[0 L/min, 1.4 m], [40 L/min, 0 m]]")))
    assert not found.flows.doubtful
    assert 10.0 < found.flows.pumps["lift"].flow * 60_000 < 40.0 * (1.0 - 0.6 / 1.4)
    assert {one.level for one in found.findings if one.kind == "cannot-fill"} == {"fail"}


@pytest.mark.invariant
def test_two_rims_on_one_tee_share_by_their_tops_while_air_is_in_them_and_by_the_far_levels_when_not(
    read_text: ReadText,
) -> None:
    """Air in both tops cuts the far ends off, so that like arms get alike though one tank stands 0.7 m lower; drawn full, the higher tank runs over into the lower."""
    text = UNDER.replace("CURVE", "[[0 L/min, 1.6 m], [40 L/min, 0 m]]")
    text = text.replace(
        "lines:",
        "lines:\n  other: {pipe: {bore: 26 mm}, from: t, route: [{west: 0.4 m}, elbow, {down: 1.2 m}], to: low}",
    )
    text = text.replace("{up: 2 m}, elbow, {east", "{up: 2 m}, tee: t, {east").replace(
        "  bed:", "  low: {base: 0 m, rim: 1.4 m, water: 0.5 m}\n  bed:"
    )
    # The lower tank's end is under its water too.
    text = text.replace("elbow, {down: 1.2 m}], to: low", "elbow, {down: 1.8 m}], to: low")
    layout = read_text(text)
    likely, held = find_flows(layout), find_flows(layout, siphons="held")
    arms = [likely.stretches[name].flow for name in ("over.2", "other.1")]
    assert likely.doubtful == {"over.1", "over.2", "other.1"}
    assert arms[0] == pytest.approx(arms[1], rel=1e-6)
    assert sum(arms) == pytest.approx(likely.pumps["lift"].flow, rel=1e-9)
    assert held.stretches["over.2"].flow < 0.0 < held.stretches["other.1"].flow


LIFTED = """
water: 20 degC
vessels:
  tank: {holds: fish, base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
  swirl: {holds: solids filter, base: 0 m, rim: 1 m, water: 0.4 m, area: 0.3 m^2}
  sump: {holds: sump, base: -1 m, rim: 0.9 m, water: 0.5 m, area: 1 m^2}
pumps: {lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 3 m], [FLOW L/min, 0 m]]}}
lines:
  riser: {pipe: {bore: 26 mm}, from: lift, route: [{up: 2 m}, elbow, {west: 0.5 m}], to: tank}
  over: {pipe: {bore: 46 mm}, from: {vessel: tank, height: 0.05 m}, route: [{up: 0.75 m}, TOP, {east: 0.6 m}, elbow, {down: 0.5 m}], to: swirl}
  on: {pipe: {bore: 110 mm}, from: {vessel: swirl, standpipe: 0.4 m}, route: [{down: 0.3 m}, elbow, {east: 0.5 m, down: 10 mm}], to: sump}
"""


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("top", "vented", "doubtful"),
    [("elbow", True, True), ("cap: {id: c, faces: up}", True, True), ("tee: t", True, False)],
)
def test_a_lift_from_a_tanks_floor_into_standing_water_holds_its_air_and_may_lose_it(
    read_text: ReadText, top: str, vented: bool, doubtful: bool
) -> None:
    """Slow water leaves the air in the top, and the tank stays full; once it is primed, by a rush or by hand, it draws the tank down to the water beyond. A
    shut cap is no vent. An open tee leaves no doubt."""
    vent = "\n  vent: {pipe: {bore: 46 mm}, from: t, route: [{up: 0.15 m}], to: open air}\n" if "tee" in top else ""
    layout = read_text(LIFTED.replace("FLOW", "20").replace("TOP", top) + vent)
    flows = find_flows(layout)
    assert 0.0 < number_of(flows.stretches["over.1"].flow, 0.046) < 0.3
    assert flows.stretches["over.1"].vented is vented
    assert bool(flows.doubtful) is doubtful
    assert flows.vessels["tank"].level == pytest.approx(0.8, abs=0.02)
    held = find_flows(layout, siphons="held")
    assert held.vessels["tank"].level == pytest.approx(0.43 if doubtful else 0.8, abs=0.03)
    # What a power cut does is taken at its worst.
    assert ("siphons-back" in {one.kind for one in check(layout).findings}) is doubtful


@pytest.mark.invariant
@pytest.mark.parametrize(("flow", "says"), [("20", None), ("75", "may fall"), ("170", "falls")])
def test_a_tank_that_its_overflow_may_draw_down_wants_an_open_tee(
    read_text: ReadText, flow: str, says: str | None
) -> None:
    """V/√(gD) over the top is under 0.3, between the limits and over 1; a standpipe in place of the port would leave the solids on the floor."""
    text = (
        LIFTED.replace("FLOW", flow)
        .replace("TOP", "elbow")
        .replace("rim: 1 m, water: 0.4 m", "rim: 2 m, water: 0.4 m")
        .replace("riser: {pipe: {bore: 26 mm}", "riser: {pipe: {bore: 60 mm}")
    )
    result = check(read_text(text))
    begins = find_flows(result.layout, siphons="broken").stretches["over.1"].flow
    number = number_of(begins, 0.046)
    assert (number < 0.3, 0.3 <= number < 1.0, number >= 1.0) == (says is None, says == "may fall", says == "falls")
    told = [one for one in result.findings if one.kind == "level-drops" and "'tank'" in one.message]
    assert len(told) == (says is not None)
    for one in told:
        assert one.message.startswith(f"The water of 'tank' {says} from 0.80 m to ")
        assert ("is in doubt" in one.message) is (says == "may fall")
        assert (one.level, one.line, one.cure) == (
            "fail",
            "over",
            "an open tee at the top of 'over', which lets air in",
        )


@pytest.mark.invariant
@pytest.mark.parametrize("rise", ["0", "20", "90"])
def test_pipe_whose_air_rises_into_the_vessel_that_it_leaves_is_full(read_text: ReadText, rise: str) -> None:
    """A drop from a port under water to an end under water is pulled, and holds no hump, or one of less than a bore: its air goes up as it fills, and past
    20 mm of 46 the water runs under it. A suction line that is not filled by hand gives nothing, and is taken as filled."""
    layout = read_text(
        """
water: 20 degC
vessels: {tank: {base: 2 m, water: 0.2 m}, sump: {base: 0 m, water: 0.5 m}, pond: {base: 0 m, water: 0.5 m}}
pumps: {lift: {curve: [[0 L/min, 4 m], [8 L/min, 0 m]]}}
lines:
  drop: {pipe: {bore: 46 mm}, from: {vessel: tank, height: 0.05 m}, route: [gate valve: 0.03, {east: 1.5 m, up: RISE mm}, elbow, {down: rest}], to: {vessel: sump, height: 0.3 m}}
  suction: {pipe: {bore: 46 mm}, from: {vessel: pond, height: 0.1 m}, route: [{up: 1.5 m}, elbow, {east: 1 m}, elbow, {down: 0.3 m}, elbow, {east: 0.2 m}], to: lift}
  out: {pipe: {bore: 46 mm}, from: lift, route: [{east: 0.2 m}, elbow, {down: 1 m}, fitting: {K: 50000}], to: sump}
""".replace("RISE", rise)
    )
    flows = find_flows(layout)
    for name in ("drop.1", "suction.1"):
        assert 0.0 < number_of(flows.stretches[name].flow, 0.046) < 0.3
    held = rise == "90"
    assert flows.doubtful == ({"drop.1"} if held else set())
    assert {name for name, one in flows.stretches.items() if one.vented} == flows.doubtful


@pytest.mark.second_method
@pytest.mark.parametrize("name", ["tangle", "nursery", "ring_main", "call_outs", "hill_pond"])
def test_the_air_that_a_place_holds_is_told_by_the_widest_way_out(name: str) -> None:
    """Of all ways to an opening the one whose lowest place is highest is that of the greatest spanning tree (networkx) of joints, each as high as its lower end."""
    layout = read_layout(LAYOUTS / f"{name}.yaml")
    graph = networkx.Graph()
    starts = {}
    for line in layout.lines.values():
        for index, part in enumerate(line.parts):
            here, there = (line.name, index), (line.name, index + 1)
            graph.add_edge(here, there, low=min(part.start[2], part.end[2]))
            starts[line.name, part.step, part.at] = here, part.start[2]
            if part.kind == "spray bar":
                graph.add_edge(here, "air", low=part.start[2])
                graph.add_edge(there, "air", low=part.end[2])
        for end, index in ((line.start, 0), (line.end, len(line.parts))):
            if end.kind in ("vessel", "open air", "draw"):
                graph.add_edge((line.name, index), "air", low=end.place[2])
            elif end.kind == "pump":
                graph.add_edge((line.name, index), end.name, low=end.place[2])
            elif end.kind == "tee":
                tee = layout.tees[end.name or ""]
                at = next(n for n, part in enumerate(layout.lines[tee.line].parts) if part.step == tee.step)
                graph.add_edge((line.name, index), (tee.line, at), low=tee.place[2])
    tree = networkx.maximum_spanning_tree(graph, weight="low")
    held = air_held(layout)
    assert held.keys() == starts.keys()
    for key, (place, height) in starts.items():
        way = networkx.shortest_path(tree, place, "air") if networkx.has_path(tree, place, "air") else None
        sill = min((tree.edges[pair]["low"] for pair in itertools.pairwise(way)), default=height) if way else -inf
        assert held[key] == pytest.approx(height - min(sill, height), abs=0.021), key


DRAWN = """
water: 20 degC
vessels:
  sump: {base: 0 m, rim: 1 m, water: 0.6 m}
  bed: {base: 0 m, rim: 1 m, water: 0.3 m}
pumps: {lift: {in: sump, height: 0.1 m, curve: [[0 L/min, HEAD m], [40 L/min, 0 m]]}}
lines:
  main: {pipe: {bore: 40 mm}, from: lift, route: [{up: 2 m}, elbow, {east: 0.5 m}, {tee: {id: t, K: 0}}, {east: 0.4 m, down: FALL m}, {tee: {id: u, K: 0}}, {up: 3 m}], to: open air}
  over: {pipe: {bore: 20 mm}, from: t, route: [{north: 0.3 m}, elbow, {down: 1.4 m}], to: bed}
  hose: {pipe: {bore: 20 mm}, from: u, route: [{north: 0.1 m}, elbow, {up: RISE m}], to: {draws: 1 L/min}}
"""


def drawn(read_text: ReadText, head: float, fall: float = 0.01, rise: float = 0.01) -> Layout:
    return read_text(DRAWN.replace("HEAD", str(head)).replace("FALL", str(fall)).replace("RISE", str(rise)))


@pytest.mark.second_method
def test_a_draw_beyond_air_gets_its_water_where_it_comes_up_to_it(read_text: ReadText) -> None:
    """A vent lets air to a tee whose spur falls; beyond it 1 L/min is drawn off. The water at the tee stands as high as the spur asks:
    its floor, 2.09 m, and the energy of the critical depth of what falls, friction aside: a pump of 40 (1 − (H − 0.6)/2) L/min against that."""
    flows = find_flows(drawn(read_text, 2.0))
    falls = 0.0
    for _ in range(50):
        falls = 40 * (1 - (1.49 + brink_energy(falls / 60_000, 0.02)) / 2.0) - 1.0
    assert flows.stretches["hose.1"].flow * 60_000 == pytest.approx(1.0, rel=1e-9)
    assert flows.stretches["over.1"].vented
    assert flows.stretches["over.1"].flow * 60_000 == pytest.approx(falls, rel=0.05)
    assert flows.pumps["lift"].flow == pytest.approx(flows.stretches["over.1"].flow + 1 / 60_000, rel=1e-9)


@pytest.mark.invariant
def test_a_draw_over_the_water_that_falls_before_it_is_refused_with_the_reason(read_text: ReadText) -> None:
    with pytest.raises(
        SolveError, match=r"air is in the pipe, and the water stands 0.4.* m too low to run on by stretch 'hose.1'"
    ):
        find_flows(drawn(read_text, 2.4, rise=0.5))


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_a_draw_that_no_pump_lifts_to_is_refused_with_the_reason(read_text: ReadText) -> None:
    with pytest.raises(SolveError, match="drawn off at the end of line 'hose', and none comes there"):
        find_flows(drawn(read_text, 1.4))


@pytest.mark.second_method
@pytest.mark.parametrize("tall", [0.3, 0.6])
def test_in_a_vent_at_a_risers_top_water_stands_no_higher_than_over_the_way_on(
    read_text: ReadText, tall: float
) -> None:
    """20 L/min in 21 mm go on over half a metre of level pipe and fall: 4 times V²/2g, 0.97 m/s, friction and the turn, 0.1 m at the most, are what stands in
    the vent. However tall it is there is no more in it, which is no dead leg of six bores."""
    text = f"""
vessels:
  bed: {{base: 0.8 m, rim: 0.35 m, water: 0.2 m, area: 1 m^2}}
  sump: {{base: 0 m, rim: 0.9 m, water: 0.5 m, area: 1 m^2}}
pumps: {{lift: {{in: sump, height: 0.05 m, curve: [[0 L/min, 60 m], [19.9 L/min, 8 m], [20.1 L/min, 0 m]]}}}}
lines:
  riser:
    pipe: pvc 25
    from: lift
    route: [{{up: 1.95 m}}, elbow, {{east: 0.5 m}}, tee: top, {{east: 0.5 m}}, elbow, {{down: 0.95 m}}]
    to: bed
  vent: {{pipe: pvc 20, from: top, route: [{{up: {tall} m}}], to: open air}}
  back: {{pipe: pvc 50, from: {{vessel: bed, standpipe: 0.2 m}}, route: [{{down: 0.6 m}}], to: sump}}
"""
    result = check(read_text(text))
    assert 0.0 < result.flows.stretches["vent.1"].head_tail - 2.0 < 0.1
    assert not [one for one in result.findings if one.kind in ("standing-water", "dead-leg")]
