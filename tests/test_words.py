"""The trade's words: what each part costs in a layout, what a rod does at it, what is bought for it and how it is drawn.

The catalogue's own numbers are held to their sources in test_catalogue.py; here are the laws by which a layout uses them.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from plumbline import catalogue
from plumbline.catalogue.reading import data
from plumbline.check import check
from plumbline.errors import LayoutError
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.fittings import part_k
from plumbline.layout import words
from plumbline.layout.model import Layout, Part
from plumbline.page.sketch.legend import SYMBOLS
from plumbline.parts.bill import bill_of
from plumbline.redesign.change import Change, Edit, Op, apply
from plumbline.redesign.script import CannotChange, read_script
from plumbline.upkeep.hoses import hose_turns
from plumbline.upkeep.openings import openings
from plumbline.upkeep.reach import reach, stopping_kinds
from plumbline.upkeep.track import build_track

ReadText = Callable[[str], Layout]
G = 9.80665


def line_of(read_text: ReadText, *steps: str, pipe: str = "pvc 25", to: str = "open air") -> Layout:
    route = "\n".join(f"      - {step}" for step in steps)
    return read_text(
        f"water: 20 degC\nvessels: {{tank: {{base: 3 m, water: 10 m}}}}\nlines:\n  a:\n    pipe: {pipe}\n"
        f"    from: {{vessel: tank, height: 0 m}}\n    route:\n{route}\n    to: {to}\n"
    )


def fitting_of(layout: Layout) -> Part:
    return next(part for part in layout.lines["a"].parts if not part.is_pipe)


def lost_in(layout: Layout, kind: str) -> tuple[float, float]:
    """What a part takes of the head [m], and the flow [m³/s]."""
    flows = find_flows(layout)
    (lost,) = [one.loss for one in flows.routes[0].losses if one.label.startswith(kind)]
    return lost, next(iter(flows.stretches.values())).flow


# What the maker states


@pytest.mark.invariant
@pytest.mark.parametrize(
    "kind",
    [
        kind
        for kind, details in words.fittings().items()
        if "loses" in details
        and kind
        not in ("bend", "reducer", "expander", "angle valve", "return bend", "elbow", "sweep", "bend 45", "bend 22.5")
    ],
)
def test_any_part_takes_a_loss_at_a_flow(read_text: ReadText, kind: str) -> None:
    """Head goes with the flow squared, whatever the pipe: 0.4 m at 40 L/min is 0.4 (Q/40)² m."""
    opening = ", opening: open" if "opening" in words.fittings()[kind] else ""
    for pipe in ("pvc 25", "pvc 40"):
        layout = line_of(
            read_text, "down: 1 m", f"{kind}: {{loses: 0.4 m, at: 40 L/min{opening}}}", "down: 1 m", pipe=pipe
        )
        lost, flow = lost_in(layout, kind)
        assert lost == pytest.approx(0.4 * (flow / (40 / 60000)) ** 2, rel=1e-9)


@pytest.mark.invariant
def test_a_loss_may_be_stated_as_a_pressure(read_text: ReadText) -> None:
    """0.1 bar of cold water is 1.0197 m of head."""
    part = fitting_of(line_of(read_text, "down: 1 m", "bead filter: {loses: 0.1 bar, at: 60 L/min}", "down: 1 m"))
    assert part.details["loses"] == pytest.approx(1e4 / (1000.0 * G))


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("bead filter", "the bead filter does not say what it takes of the head"),
        ("uv lamp: {id: lamp}", "for instance uv lamp: {loses: 0.4 m, at: 40 L/min}"),
        ("ball valve: {loses: 0.4 m}", "the ball valve has 'loses' without 'at'"),
        ("ball valve: {at: 4 L/min}", "the ball valve has 'at' without 'loses'"),
        ("ball valve: {loses: 0.4 m, at: 4 L/min, K: 2}", "both K and loses for the ball valve"),
        ("bead filter: {loses: 0.4 L, at: 4 L/min}", "'0.4 L' is a volume, not a length"),
        ("nozzle: {id: n}", "the nozzle does not say how wide its mouth is"),
        ("nozzle: 30 mm", "the nozzle is as wide as its pipe, pvc 25"),
        ("strainer: loaded", "how much of its open area dirt has closed"),
        ("strainer: 99 % clogged", "'clogged' is 99 %"),
    ],
)
def test_what_a_part_cannot_do_without(read_text: ReadText, step: str, said: str) -> None:
    with pytest.raises(LayoutError) as error:
        line_of(read_text, "down: 1 m", step)
    assert said in str(error.value)


# Dirt


@pytest.mark.invariant
def test_dirt_closes_a_strainer(read_text: ReadText) -> None:
    """The same flow through half of the area runs twice as fast, and loses four times as much."""
    clean, half = (
        part_k(fitting_of(line_of(read_text, "down: 1 m", f"strainer: {said}", "down: 1 m"))).forward
        for said in ("clean", "50 % clogged")
    )
    assert half == pytest.approx(4.0 * clean)
    filters = (
        part_k(
            fitting_of(
                line_of(
                    read_text,
                    "down: 1 m",
                    f"bead filter: {{loses: 0.4 m, at: 40 L/min, clogged: {share} %}}",
                    "down: 1 m",
                )
            )
        ).forward
        for share in (0, 50)
    )
    assert next(filters) * 4.0 == pytest.approx(next(filters))


# Narrow places


@pytest.mark.second_method
@pytest.mark.parametrize("stated", ["", ", bore: 12 mm"])
def test_a_barb_is_two_reducers_at_one_place(read_text: ReadText, stated: str) -> None:
    """Narrowing into its own bore and widening into the hose, as one would write it with a piece of that pipe."""
    inside = 12.0 if stated else 0.8 * 19.0
    barb = line_of(read_text, "down: 1 m", f"barb: {{id: b{stated}}}", "hose: {down: 1 m, pipe: hose 19 mm}")
    two = line_of(
        read_text,
        "down: 1 m",
        f"reducer: {{to: {{bore: {inside} mm, material: pvc}}}}",
        "expander: {to: {bore: 19 mm, material: hose}}",
        "hose: {down: 1 m, pipe: hose 19 mm}",
    )
    assert [part.kind for part in barb.lines["a"].parts] == ["run", "hose adapter", "hose"]
    flows = [next(iter(find_flows(layout).stretches.values())).flow for layout in (barb, two)]
    assert flows[0] == pytest.approx(flows[1], rel=1e-9)


@pytest.mark.invariant
def test_a_barb_narrows_and_a_wider_one_less(read_text: ReadText) -> None:
    def flow(step: str) -> float:
        layout = line_of(read_text, "down: 1 m", *([step] if step else []), "hose: {down: 1 m, pipe: hose 19 mm}")
        return next(iter(find_flows(layout).stretches.values())).flow

    assert flow("barb: 10 mm") < flow("barb") < flow("barb: 17 mm") < flow("")


@pytest.mark.invariant
def test_a_nozzle_s_jet_follows_torricelli(read_text: ReadText) -> None:
    """A nozzle at a wide pipe's end: 0.97 of √(2 g h) through its mouth, the head being what the pipe leaves of it."""
    layout = line_of(read_text, "down: 1 m", "nozzle: 8 mm", pipe="pvc 110")
    flow = next(iter(find_flows(layout).stretches.values())).flow
    ideal = math.pi / 4 * 0.008**2 * math.sqrt(2.0 * G * 11.0)
    assert flow / ideal == pytest.approx(0.97, abs=0.003)


# Rods, words, parts, symbols


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("step", "passes"),
    [
        ("full-bore ball valve", True),
        ("full-bore ball valve: shut", False),
        ("full-bore ball valve: 60 %", False),
        ("ball valve", True),
        ("coupling", True),
        ("rubber seal", True),
        ("barb: 18 mm", False),
        ("globe valve", False),
    ],
)
def test_what_a_rod_does_at_it(read_text: ReadText, step: str, passes: bool) -> None:
    layout = line_of(read_text, "down: 1 m", step, "down: 1 m")
    track = build_track(layout, stopping_kinds())
    assert all(
        passes == (hurdle.kind != "stop")
        for moves in track.onward.values()
        for move in moves
        for hurdle in move.hurdles
    )


@pytest.mark.invariant
@pytest.mark.parametrize("kind", words.fittings())
def test_each_fitting_has_its_mark_and_its_price_row(kind: str) -> None:
    row = catalogue.fittings()[kind]
    assert row.symbol in SYMBOLS
    assert kind in data("part_prices.yaml") or kind == "expander"  # bought as a reducer
    assert row.parts


@pytest.mark.invariant
def test_a_coupling_stands_in_the_parts_list_once(read_text: ReadText) -> None:
    bill = bill_of(line_of(read_text, "down: 1 m", "coupling", "down: 1 m", "rubber seal", "down: 0.2 m"))
    assert {item.kind: item.count for item in bill.items if item.kind in ("coupling", "rubber seal")} == {
        "coupling": 1,
        "rubber seal": 1,
    }


@pytest.mark.invariant
def test_a_purge_valve_stands_shut_and_says_so(read_text: ReadText) -> None:
    layout = line_of(read_text, "down: 1 m", "wash-out valve", "down: 1 m")
    assert fitting_of(layout).opening == 0.0
    assert any(default.what == "it stands shut" for default in layout.defaults)
    assert fitting_of(line_of(read_text, "down: 1 m", "wash-out valve: open", "down: 1 m")).opening == 1.0


# Hoses that bend, and pipe that nobody gets at


@pytest.mark.second_method
def test_a_hose_s_bends_cost_what_smooth_bends_do(read_text: ReadText) -> None:
    """Two bends of 90° by the catalogue's smooth bend, less the friction along their arcs, which the hose's length has already."""
    from fluids.fittings import bend_rounded
    from fluids.friction import friction_factor

    arc = friction_factor(Re=1e5, eD=0.0) * math.pi / 2 * (80 / 16)
    k = 2.0 * (bend_rounded(Di=0.016, angle=90.0, rc=0.08, Re=1e5, roughness=0.0, method="Rennels") - arc)
    bent = line_of(read_text, "hose: {down: 1 m, bends: 180 deg, radius: 80 mm}", pipe="hose 16 mm")
    plain = line_of(read_text, "hose: {down: 1 m}", f"fitting: {{K: {k}}}", pipe="hose 16 mm")
    flows = [next(iter(find_flows(layout).stretches.values())).flow for layout in (bent, plain)]
    assert flows[0] == pytest.approx(flows[1], rel=1e-9)
    lost, flow = lost_in(bent, "hose")
    assert lost == pytest.approx(
        sum(one.loss for one in find_flows(plain).routes[0].losses if one.label.startswith(("hose", "fitting")))
    )
    assert flow > 0.0


@pytest.mark.invariant
def test_tighter_bends_cost_more_and_a_left_out_radius_is_said(read_text: ReadText) -> None:
    def flow(more: str) -> float:
        layout = line_of(read_text, f"hose: {{down: 1 m, east: 10 m{more}}}", pipe="hose 16 mm")
        return next(iter(find_flows(layout).stretches.values())).flow

    assert (
        flow(", bends: 270 deg, radius: 20 mm")
        < flow(", bends: 270 deg, radius: 60 mm")
        < flow(", bends: 90 deg, radius: 60 mm")
        < flow("")
    )
    says = [
        default.what for default in line_of(read_text, "hose: {down: 1 m, bends: 90 deg}", pipe="hose 16 mm").defaults
    ]
    assert "its bends have a radius of five bores" in says


HIDDEN = ("{east: 3 m, buried: yes}", "{east: 3 m, behind: wall}", "{east: 3 m, under: slab}")


@pytest.mark.invariant
@pytest.mark.parametrize("run", HIDDEN)
def test_no_opening_is_put_where_nobody_gets_at_the_pipe(read_text: ReadText, run: str) -> None:
    """The same pipe in the open gets its union; and a corner whose runs are both hidden no capped tee."""
    for hidden in (True, False):
        first = run if hidden else "east: 3 m"
        second = run.replace("east", "south") if hidden else "south: 3 m"
        layout = line_of(read_text, first, "elbow", second, to="{plug: yes}")
        tried = openings(build_track(layout, stopping_kinds()), "a", (0.0, 6.0))
        assert [one for one in tried if one.fitting != "cap end"] == [] if hidden else tried
        swept = Change("sweep", "a", 2, "a sweep", "sweep", (Edit("swap", "a", 2, ("sweep",)),), 0.0, 0.0)
        if hidden:
            with pytest.raises(CannotChange, match="nobody gets at it"):
                apply(layout.text, [swept])
        else:
            assert "sweep" in apply(layout.text, [swept])


@pytest.mark.invariant
@pytest.mark.parametrize("run", HIDDEN)
def test_the_bend_at_a_hidden_run_s_end_is_hidden_and_a_valve_there_is_not(read_text: ReadText, run: str) -> None:
    """A bend stands where the run ends, in the ground or in the wall; a straight fitting may stand where it comes out."""
    layout = line_of(read_text, "down: 1 m", "elbow", run, "ball valve", "east: 1 m", to="{plug: yes}")
    parts = {part.step: part.around for part in layout.lines["a"].parts}
    assert [step for step in range(1, 6) if parts[step]] == [2, 3]
    tried = openings(build_track(layout, stopping_kinds()), "a", (0.0, 5.0))
    assert {one.step for one in tried if one.fitting != "cap end"} == {1, 5}
    said = read_script(layout.text).lines["a"]
    assert [step for step in range(1, 6) if said.out_of_reach(step)] == [2, 3]


@pytest.mark.invariant
@pytest.mark.parametrize("op", ["pipe", "drop"])
def test_a_line_with_hidden_pipe_is_neither_laid_anew_nor_taken_out(read_text: ReadText, op: Op) -> None:
    for run, refused in ((HIDDEN[0], True), ("hose: {east: 3 m, behind: wall}", True), ("east: 3 m", False)):
        layout = line_of(read_text, "down: 1 m", "elbow", run, to="{plug: yes}")
        change = Change(op, "a", 0, "", "", (Edit(op, "a", 0, ("pvc 32",)),), 0.0, 0.0)
        if refused:
            with pytest.raises(CannotChange, match="nobody gets at some of it"):
                apply(layout.text, [change])
        else:
            assert apply(layout.text, [change]) != layout.text


@pytest.mark.invariant
@pytest.mark.parametrize("kind", ["cap", "union"])
def test_an_opening_in_the_ground_is_none_and_one_at_its_edge_is(read_text: ReadText, kind: str) -> None:
    for after, hidden in (("{east: 1 m, buried: yes}", True), ("east: 1 m", False)):
        layout = line_of(read_text, "down: 1 m", "elbow", "{east: 1 m, buried: yes}", f"{kind}: c", after)
        assert ("c" in {access.id for access in layout.accesses}) is not hidden
        said = [one.message for one in check(layout).findings if one.kind == "blind-access" and "Nobody" in one.message]
        assert said == ([f"Nobody gets at {kind} 'c': it is buried, as the file says."] if hidden else [])


# Light and heat

LIT = "{down: 1 m, sunlit: yes, clear: yes}"


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ((LIT, "down: 1 m"), {"algae"}),
        (("{down: 1 m, sunlit: yes}",), set()),
        (("{down: 1 m, clear: yes}",), set()),
        (("hose: {down: 1 m, sunlit: yes, clear: yes, hot: 30 degC}",), {"algae"}),
        (("{down: 1 m, hot: 46 degC}",), {"hot-pipe"}),
        (("{down: 1 m, hot: 45 degC}",), set()),
        (("{down: 1 m, hot: 46 degC, pipe: cpvc 1 in sch 80}",), set()),
        (("{down: 1 m, hot: 41 degC, pipe: pe 25}",), {"hot-pipe"}),
        ((LIT, "gate valve: shut"), {"algae"}),
    ],
)
def test_light_and_heat_are_told_of(read_text: ReadText, steps: tuple[str, ...], said: set[str]) -> None:
    """Algae want both the light and a wall that it goes through, and water, which may stand; heat goes by what the pipe is made of."""
    findings = check(line_of(read_text, *steps)).findings
    assert {one.kind for one in findings} & {"algae", "hot-pipe"} == said


@pytest.mark.pinned
def test_heat_is_told_in_the_file_s_own_degrees(read_text: ReadText) -> None:
    layout = read_text(
        "vessels: {tank: {base: 9 ft, water: 3 ft}}\nlines: {a: {pipe: pvc 1 in sch 40, from: tank, route: "
        "[{down: 4 ft, hot: 140 degF}], to: open air}}\n"
    )
    (hot,) = [one for one in check(layout).findings if one.kind == "hot-pipe"]
    assert hot.message == (
        "'a' (step 1) gets 140 °F hot; pvc pipe is made for no more than 113 °F under pressure, and sags before that."
    )


# Hoses


HOSED = ("hose: {down: 0.5 m, east: 1 m}", "hose adapter: {to: pvc 20}", "east: 1 m")


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("route", "steps"),
    [
        (HOSED, [2]),
        ((*HOSED[:1], "hose clip", *HOSED[1:]), [3]),
        ((*HOSED[:1], "hose clip", "east: 1 m"), [2]),
        (("down: 0.5 m", "elbow", *HOSED[1:]), [3]),
        (("down: 0.5 m", "coupling", "down: 1 m"), []),
    ],
)
def test_a_hose_comes_off_its_barb_or_from_under_its_clip(
    read_text: ReadText, route: tuple[str, ...], steps: list[int]
) -> None:
    """Once where a clip sits over a barb; and a run of hose counts as a hose."""
    layout = line_of(read_text, *route, pipe="hose 25 mm")
    ends = [access for access in layout.accesses if access.kind == "hose end"]
    assert [access.step for access in ends] == steps
    assert all(part.kind != "union" for part in layout.lines["a"].parts)


@pytest.mark.second_method
def test_from_a_barb_a_rod_goes_into_the_hose_and_under_a_clip_both_ways(read_text: ReadText) -> None:
    """What it cleans, by hand: of the barbed line the metre of hose alone, and of the clipped one the pipe too."""
    text = """
        rods: {pole: {length: 3 m, bends up to: 10 deg, turns in all: 10 deg, bores: 10 mm to 60 mm}}
        vessels: {tank: {base: 3 m, water: 10 m}}
        lines:
          a:
            pipe: hose 25 mm
            from: {vessel: tank, height: 0 m}
            route: [hose: {down: 1 m}, FITTING, {down: 1 m, pipe: pvc 32}]
            to: plug
        """
    for fitting, cleaned in (("barb: {to: pvc 32}", (0.0, 1.0)), ("hose clip", (0.0, 2.0))):
        (piece,) = reach(read_text(text.replace("FITTING", fitting)))["a"]
        assert piece == pytest.approx(cleaned)


@pytest.mark.second_method
def test_a_hose_in_the_hand_turns_only_by_its_slack(read_text: ReadText) -> None:
    """1 m of way in 1.25 m of hose bulges by arccos 0.8; on its barb, which points square to the way, it turns |90° − φ| + φ there."""
    layout = line_of(read_text, "down: 1 m", "barb: {to: hose 25 mm}", "hose: {east: 1 m, length: 1.25 m}")
    slack = math.acos(0.8)
    (hose,) = hose_turns(layout, layout.lines["a"]).values()
    assert (hose.first, hose.last, hose.bulges) == pytest.approx((math.pi / 2, slack, slack))
    assert (hose.held(first=True).first, hose.held(first=True).last) == pytest.approx((slack, slack))
    assert hose.held(first=True).tight == pytest.approx(hose.tight * 2.0 * slack / (math.pi / 2 + slack))
    (way,) = build_track(layout, stopping_kinds()).entries["a step 2"]
    assert sum(hurdle.turn for hurdle in way.hurdles) == pytest.approx(slack)


@pytest.mark.invariant
def test_room_may_be_said_of_a_mouth_in_a_vessel(read_text: ReadText) -> None:
    text = """
        vessels: {bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}}
        lines: {a: {pipe: pvc 50, from: {vessel: bed, height: 0 m, room: 100 mm}, route: [{down: 0.5 m}], to: open air}}
        """
    assert [access.room for access in read_text(text).accesses] == [0.1, None]


@pytest.mark.invariant
def test_a_port_that_lies_in_gravel_is_no_opening(read_text: ReadText) -> None:
    text = (
        "vessels: {bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}}\nlines: {a: {pipe: pvc 50, from: {vessel: bed, height: 0 m%s}, "
        "route: [{down: 0.5 m}], to: open air}}\n"
    )
    assert [access.id for access in read_text(text % "").accesses] == ["a.from", "a.to"]
    assert [access.id for access in read_text(text % ", buried: yes").accesses] == ["a.to"]
