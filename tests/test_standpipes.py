"""Standpipes that pull out: the opening that they are, what runs out by it, and what it washes. By hand from each drawing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from conftest import ReadText

from plumbline.check import check
from plumbline.errors import LayoutError
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.opened import pulled
from plumbline.layout import layout_of
from plumbline.layout.model import Layout
from plumbline.mishaps.fault import faults_of
from plumbline.parts import bill_of
from plumbline.redesign.accesses import accesses
from plumbline.redesign.prices import read_prices
from plumbline.report.card import card_words
from plumbline.upkeep.card import wall_card, wash_jobs
from plumbline.upkeep.flushing import flush_ways
from plumbline.upkeep.spills import Spill, spills

SETTLER = """
vessels:
  tank: {holds: fish, base: 0.6 m, rim: 0.9 m, water: 0.8 m, area: 1.5 m^2}
  settler: {holds: solids filter, base: 0.5 m, rim: 0.8 m, water: 0.6 m, area: 0.3 m^2}
  sump: {holds: sump, base: -0.4 m, rim: 0.9 m, water: 0.5 m, area: 1.2 m^2}
pumps:
  lift: {in: sump, curve: [[0 L/min, 4 m], [60 L/min, 1 m]]}
lines:
  feed: {pipe: pvc 32, from: lift, route: [{up: 2.1 m}, elbow, {east: 1 m}, elbow, {down: 0.2 m}], to: tank}
  over: {pipe: pvc 63, from: {vessel: tank, overflow: 0.8 m}, route: [{east: 0.4 m, fall: 2 %}, elbow, {down: 0.2 m}], to: settler}
  settled:
    pipe: pvc 50
    from: {vessel: settler, standpipe: 0.6 m, pulls out: yes}
    route: [{down: 0.8 m}, elbow, {east: 1.5 m, fall: 1 in 60}, elbow, {down: 0.1 m}]
    to: sump
"""
LINK = """\
  link: {pipe: pvc 63, from: {vessel: tank, height: 0 m}, route: [{east: 0.3 m}, VALVE{east: 0.5 m}], to: {vessel: settler, height: 0.1 m}}
"""
NAME = "settled standpipe"


def spill_of(layout: Layout) -> Spill:
    return spills(layout, find_flows(layout))[NAME]


@pytest.mark.invariant
def test_the_socket_stands_on_the_floor_and_changes_no_flow(read_text: ReadText) -> None:
    """The walk comes out where it did, and the flows are those of a glued one, but for 0.04 V²/2g."""
    loose, glued = read_text(SETTLER), read_text(SETTLER.replace(", pulls out: yes", ""))
    (access,) = [one for one in loose.accesses if one.kind == "standpipe"]
    assert (access.id, access.at) == (NAME, pytest.approx(0.6))
    assert access.place[2] == pytest.approx(0.5)
    assert loose.lines["settled"].end == replace(glued.lines["settled"].end, mark=loose.lines["settled"].end.mark)
    assert sum(part.length for part in loose.lines["settled"].parts) == pytest.approx(loose.lines["settled"].length)
    assert find_flows(loose).vessels["settler"].level == pytest.approx(
        find_flows(glued).vessels["settler"].level, abs=1e-3
    )


@pytest.mark.second_method
def test_the_vessel_runs_down_to_its_socket(read_text: ReadText) -> None:
    """0.6 m on 0.3 m²: 180 L, for which the sump has 0.4 m of 1.2 m² over its 0.5 m."""
    spill = spill_of(read_text(SETTLER))
    assert [(one.vessel, one.below, one.volume) for one in spill.down] == [
        ("settler", pytest.approx(0.6), pytest.approx(0.18))
    ]
    assert spill.safe
    assert not spill.floods


@pytest.mark.second_method
def test_a_standpipe_that_turns_aside_drains_to_its_elbow(read_text: ReadText) -> None:
    """Its upright is 0.25 m, so the socket stands 0.35 m over the floor."""
    text = SETTLER.replace(
        "{down: 0.8 m}, elbow, {east: 1.5 m",
        "{down: 0.25 m}, elbow, {east: 0.4 m}, elbow, {down: 0.55 m}, elbow, {east: 1.5 m",
    )
    spill = spill_of(read_text(text))
    assert [one.below for one in spill.down] == [pytest.approx(0.25)]


@pytest.mark.second_method
def test_what_the_receiver_cannot_hold_goes_over_its_rim(read_text: ReadText) -> None:
    """A sump of 0.25 m² has room for some 100 L: the standpipe stays in, and the finding says what would run over."""
    layout = read_text(
        SETTLER.replace("rim: 0.9 m, water: 0.5 m, area: 1.2 m^2", "rim: 0.9 m, water: 0.5 m, area: 0.25 m^2")
    )
    spill = spill_of(layout)
    assert not spill.safe
    assert spill.floods.keys() == {"sump"}
    assert 0.03 < spill.floods["sump"] < 0.18
    result = check(layout)
    (told,) = [one for one in result.findings if one.kind == "floods-when-opened"]
    assert "cannot be pulled with the system full" in told.message
    assert "over the rim of 'sump' would run out onto the ground" in told.message
    assert NAME not in result.upkeep.flushes


@pytest.mark.second_method
@pytest.mark.parametrize(("valve", "shut", "safe"), [("", (), False), ("ball valve: keeper, ", ("'keeper'",), True)])
def test_fish_tanks_that_it_would_drain_are_shut_off_first(
    read_text: ReadText, valve: str, shut: tuple[str, ...], safe: bool
) -> None:
    """A pipe from the tank's floor at 0.6 m comes in at 0.6 m: 0.8 m of it would run out, if no valve kept it. The sump is high, as the tank stands
    lower with the link, and the sump has its water."""
    high = SETTLER.replace("rim: 0.9 m, water: 0.5 m", "rim: 1.3 m, water: 0.5 m")
    spill = spill_of(read_text(high + LINK.replace("VALVE", valve)))
    assert spill.safe == safe
    assert spill.shut == shut
    assert {one.vessel: pytest.approx(one.below) for one in spill.sources} == {"settler": 0.6, "tank": 0.8}


@pytest.mark.second_method
def test_pulled_in_a_fish_tank_it_is_not_safe(read_text: ReadText) -> None:
    layout = read_text(SETTLER.replace("holds: solids filter", "holds: fish"))
    assert not spill_of(layout).safe
    (told,) = [one for one in check(layout).findings if one.kind == "floods-when-opened"]
    assert told.cure == "leave it in while there are fish in the vessel"


@pytest.mark.second_method
def test_pulling_it_is_writing_a_port_at_its_foot(read_text: ReadText) -> None:
    """The flows with it pulled are those of the file with the drain at the floor, levels as in normal running."""
    layout = read_text(SETTLER)
    levels = {name: got.level for name, got in find_flows(layout).vessels.items() if got.level is not None}
    port = SETTLER.replace("standpipe: 0.6 m, pulls out: yes", "height: 0 m").replace("{down: 0.8 m}", "{down: 0.2 m}")
    found, said = (find_flows(one, levels=levels, stopped=True) for one in (pulled(layout, "settled"), read_text(port)))
    assert found.ends["settled.to"].flow == pytest.approx(
        said.ends["settled.to"].flow, rel=0.01
    )  # its socket costs 0.04 V²/2g
    assert found.ends["settled.to"].flow > 1.5e-3


@pytest.mark.second_method
def test_it_washes_the_drain_and_the_card_says_how(read_text: ReadText) -> None:
    layout = read_text(SETTLER)
    found = flush_ways(layout)
    way = next(way for way in found.ways if way.stopped)
    assert way.scours["settled"][-1][1] == pytest.approx(layout.lines["settled"].length)
    assert way.falls["settler"] > 0.0
    assert way.loses == 0.0
    result = check(layout)
    card = wall_card(layout, result.flows, result.upkeep, wash_jobs(found), share=1.0)
    jobs = [job for _, jobs in card_words(card).visits for job in jobs if "standpipe" in job]
    assert jobs[0].startswith(
        "Lift the standpipe out: 180 L of 'settler' run down its pipe. Let it run out down the pipe: cleans"
    )
    assert jobs[0].endswith("Push it home when all is done here.")
    assert all("Lift" not in job for job in jobs[1:])
    assert any("every standpipe back in its socket" in one for one in card_words(card).before)


@pytest.mark.pinned
def test_its_socket_is_bought_its_fall_out_is_a_mishap_and_no_union_is_put_in(read_text: ReadText) -> None:
    layout = read_text(SETTLER)
    assert ("dry socket", "pvc 50") in [(item.kind, item.size) for item in bill_of(layout).items]
    assert "standpipe out" in [fault.kind for fault in faults_of(layout)]
    changes = [
        change for change in accesses(layout, read_prices()) if change.kind == "union" and change.line == "settled"
    ]
    assert changes
    assert all(change.step != 1 for change in changes)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("end", "fault"),
    [
        ("{vessel: settler, height: 0.1 m, pulls out: yes}", "'pulls out' without a standpipe"),
        ("{vessel: settler, standpipe: 0.6 m, pulls out: 3}", "'pulls out' is '3'"),
    ],
)
def test_faults(read_text: ReadText, end: str, fault: str) -> None:
    with pytest.raises(LayoutError, match=fault):
        read_text(SETTLER.replace("{vessel: settler, standpipe: 0.6 m, pulls out: yes}", end))


@pytest.mark.pinned
def test_it_wants_a_socket_straight_under_it(read_text: ReadText) -> None:
    with pytest.raises(LayoutError, match="pulls out, but has no pipe straight down from its crest"):
        read_text(SETTLER.replace("[{down: 0.8 m}, elbow, ", "[elbow, ").replace("{down: 0.1 m}]", "{down: 0.9 m}]"))
    with pytest.raises(LayoutError, match="the standpipe at the end of line 'over' pulls out"):
        read_text(
            SETTLER.replace(
                "{down: 0.2 m}], to: settler", "{down: 0.2 m}], to: {vessel: settler, standpipe: 0.6 m, pulls out: yes}"
            )
        )


HOSE = """
vessels:
  tank: {holds: fish, base: 0.5 m, rim: 0.9 m, water: 0.8 m, area: 1 m^2}
  low: {holds: plants, base: 0 m, rim: 0.5 m, water: 0.3 m, area: 1 m^2}
lines:
  link:
    pipe: pvc 25
    from: {vessel: tank, height: 0.05 m}
    route: [{east: 0.5 m}, VALVE{east: 0.5 m}, barb, {hose: {east: 1 m, down: 0.3 m, pipe: hose 25 mm}}]
    to: low
"""


@pytest.mark.second_method
@pytest.mark.parametrize(("valve", "shut", "safe"), [("", (), False), ("ball valve: keeper, ", ("'keeper'",), True)])
def test_a_hose_that_comes_off_lets_out_what_stands_over_it(
    read_text: ReadText, valve: str, shut: tuple[str, ...], safe: bool
) -> None:
    """Its barb is level with the tank's port: 0.75 m of 1 m² run out, unless a valve keeps them back."""
    layout = read_text(HOSE.replace("VALVE", valve))
    (spill,) = [spill for name, spill in spills(layout, find_flows(layout)).items() if "step" in name]
    assert [(one.vessel, one.volume) for one in spill.sources] == [("tank", pytest.approx(0.75))]
    assert (spill.shut, spill.safe) == (shut, safe)


@pytest.mark.invariant
@pytest.mark.parametrize(("into", "told"), [(", in: tank", False), ("", True)])
def test_a_cap_that_hangs_in_a_vessel_wants_no_bucket(read_text: ReadText, into: str, told: bool) -> None:
    """The cap at the end of an upright bar: what stands in the pipe above runs into the tank that the bar hangs in."""
    layout = read_text(f"""
    vessels:
      sump: {{holds: sump, base: 0 m, rim: 1 m, water: 0.6 m, area: 1 m^2}}
      tank: {{holds: fish, base: 0.2 m, rim: 1.2 m, water: 1 m, area: 2 m^2}}
    pumps: {{lift: {{in: sump, curve: [[0 L/min, 4 m], [80 L/min, 1 m]]}}}}
    lines:
      feed:
        pipe: pvc 50
        from: lift
        route: [{{up: 1.8 m}}, elbow, {{east: 1 m}}, elbow, {{down: 0.5 m}}, spray bar: {{down: 0.6 m, holes: 8, hole: 8 mm{into}}}]
        to: cap foot
      back: {{pipe: dwv 75, from: {{vessel: tank, standpipe: 1 m}}, route: [{{down: 0.6 m}}], to: sump}}
    """)
    assert ("foot" in spills(layout, find_flows(layout))) is told


# ---------------------------------------------------------------------- a siphon in the middle of its run

COLLECTOR = """
vessels:
  tank: {base: 0 m, rim: 1.0 m, water: 0.75 m, area: 1.2 m^2}
  gravel: {holds: plants, base: 1.1 m, rim: 0.35 m, water: 0.05 m, area: 0.6 m^2}
  raft: {holds: plants, base: 1.1 m, rim: 0.30 m, water: 0.20 m, area: 1.5 m^2}
pumps:
  lift: {in: tank, height: 0.05 m, curve: [[0 L/min, 3 m], [40 L/min, 0.8 m]]}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 1.6 m}, elbow, {east: 0.5 m}, tee: t, {east: 0.8 m}], to: gravel}
  to raft: {pipe: pvc 25, from: t, route: [{north: 0.8 m}, {cap: {id: feed cap, faces: north}}, {down: 0.1 m}], to: raft}
  collector: {pipe: pvc 50, from: cap west end, route: [{east: 0.5 m}, tee: g, {east: 1.0 m}, tee: r, {east: 0.5 m}, elbow, {down: 0.15 m}], to: tank}
  bell: {pipe: pvc 25, from: {vessel: gravel, siphon: 0.22 m, breaks: 0.04 m}, route: [{down: rest}, elbow, {south: 0.2 m}CHECK], to: g}
  raft drain: {pipe: pvc 50, from: {vessel: raft, standpipe: 0.20 m}, route: [{down: 0.5 m}], to: r}
"""


@pytest.mark.slow(3)
@pytest.mark.invariant
def test_a_cap_under_a_siphon_waits_until_that_has_stopped(read_text: ReadText) -> None:
    """Two thirds of the bed, 108 L, run on by the siphon with the pump off, and out of the collector's cap if that is open; not by the cap of
    the feed, which stands higher, nor where a check valve holds it back."""
    layout = read_text(COLLECTOR.replace("CHECK", ""))
    result = check(layout)
    assert {name: spill.waits for name, spill in result.upkeep.spills.items()} == {
        "west end": ("gravel",),
        "feed cap": (),
    }
    card = wall_card(layout, result.flows, result.upkeep)
    said = " ".join(str(card_words(card)).split())
    assert "First wait until the siphon in 'gravel' has stopped." in said
    shut = read_text(COLLECTOR.replace("CHECK", ", {ball valve: {id: v, opening: 0 %}}, {south: 0.1 m}"))
    assert spills(shut, result.flows)["west end"].waits == ()


COUPLED = """
vessels:
  left: {holds: fish, base: 0 m, rim: 1 m, water: 0.9 m, area: 1 m^2}
  right: {holds: fish, base: 0 m, rim: 1 m, water: 0.9 m, area: 1 m^2}
lines:
  coupling:
    pipe: pvc 63
    from: {vessel: left, height: 0.15 m}
    route: [{east: 0.3 m}, ball valve, union: joint, {east: 0.3 m}]
    to: {vessel: right, height: 0.15 m}
  spout: {pipe: pvc 50, from: {vessel: right, overflow: 0.92 m}, route: [{east: 0.3 m}], to: open air}
"""


@pytest.mark.invariant
def test_a_valve_on_one_side_of_a_union_keeps_that_side_s_water_back_and_only_the_other_is_told_of() -> None:
    (found,) = (one for one in check(layout_of(COUPLED)).findings if one.kind == "floods-when-opened")
    assert "'right'" in found.message
    assert "'left'" not in found.message
    assert found.cure == "put a ball valve into the pipe between 'right' and joint, and shut it first"
