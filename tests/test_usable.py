"""What an opening can be used for, and with what preparation: small systems as the trade builds them, each worked
out by hand from its drawing.

The fish tank's floor stands 1 m up and its water 2 m; a port 50 mm over the floor lies 1.15 m under the rim, out
of an arm's reach. The rod is straight, 3 m
long, and takes no turn. No published values: what a hand does about water over an opening is common practice.
"""

from __future__ import annotations

from functools import cache

import pytest

from plumbline.check import CheckResult, check
from plumbline.layout import layout_of
from plumbline.report.card import job_words
from plumbline.upkeep.card import wall_card, wash_jobs
from plumbline.upkeep.flushing import flush_ways
from plumbline.upkeep.intervals import length
from plumbline.upkeep.left_shut import valve_between

pytestmark = pytest.mark.second_method

FISH = "{holds: fish, base: 1 m, rim: 1.2 m, water: 1 m, area: 2 m^2}"
HEADER = FISH.replace("fish", "header")
ROD = "rod: {length: 3 m, bends up to: 1 deg, turns in all: 1 deg, bores: 20 mm to 60 mm}"
CORD = "cord: {length: 5 m, bends up to: 95 deg, turns in all: 360 deg, bores: 20 mm to 60 mm, pulled through: yes}"
LOW = "{vessel: tank, height: 0.05 m}"


@cache
def checked(route: str, to: str = "cap c", start: str = LOW, tank: str = FISH, rods: str = ROD) -> CheckResult:
    return check(
        layout_of(f"""\
vessels:
  tank: {tank}
  other: {FISH}
lines:
  out: {{pipe: pvc 40, from: {start}, route: [{route}], to: {to}}}
rods: {{{rods}}}
""")
    )


def metres(result: CheckResult) -> tuple[float, float, float]:
    """Pipe that rods reach, that flushes scour, and the share that is cleanable."""
    care = result.upkeep
    sizes = [round(sum(length(some) for some in pipe.values()), 6) for pipe in (care.reached, care.flushed)]
    return sizes[0], sizes[1], round(care.cleanable_fraction, 6)


def told(result: CheckResult) -> list[str]:
    return [one.cure for one in result.findings if one.kind == "floods-when-opened"]


CASES = [
    # Nothing between the fish and the cap: whoever opens it stands in 1900 L.
    ("bare", {"route": "{east: 1 m}"}, (0.0, 0.0, 0.0), ((), (), ()), False),
    # Shut, the valve stops the rod too; opened again with the cap off, it flushes all from the tank's mouth on.
    ("valve", {"route": "{east: 0.3 m}, ball valve: v, {east: 0.7 m}"}, (0.7, 1.0, 1.0), (("'v'",), (), ()), True),
    # The valve that stands nearest to the water is the one to shut, so that a rod goes through the other.
    (
        "two valves",
        {"route": "{east: 0.3 m}, ball valve: v, {east: 0.4 m}, ball valve: w, {east: 0.3 m}"},
        (0.7, 1.0, 1.0),
        (("'v'",), (), ()),
        True,
    ),
    # Without fish the vessel is taken down; a flush that nothing stops is none.
    ("header", {"route": "{east: 1 m}", "tank": HEADER}, (1.0, 0.0, 1.0), ((), (), ("tank",)), False),
    # With a valve besides the rod still goes all the way, the header down and the valve open.
    (
        "header and valve",
        {"route": "{east: 0.3 m}, ball valve: v, {east: 0.7 m}", "tank": HEADER},
        (1.0, 1.0, 1.0),
        (("'v'",), (), ()),
        True,
    ),
    # A mouth 0.4 m under the rim is plugged by hand; from the tank a rod gets to the elbow, from the cap up to it.
    (
        "mouth within reach",
        {"route": "{east: 0.3 m}, elbow, {down: 1 m}", "start": "{vessel: tank, height: 0.8 m}"},
        (1.3, 0.0, 1.0),
        ((), ("out.from",), ()),
        False,
    ),
    # A plugged mouth lets no cord through, and one that is not lets the tank out.
    (
        "cord to a plugged mouth",
        {"route": "{east: 0.3 m}, elbow, {down: 1 m}", "start": "{vessel: tank, height: 0.8 m}", "rods": CORD},
        (0.0, 0.0, 0.0),
        ((), ("out.from",), ()),
        False,
    ),
    # A header is taken down instead, and its mouth is free.
    (
        "cord to a header's mouth",
        {
            "route": "{east: 0.3 m}, elbow, {down: 1 m}",
            "start": "{vessel: tank, height: 0.8 m}",
            "rods": CORD,
            "tank": HEADER,
        },
        (1.3, 0.0, 1.0),
        ((), ("out.from",), ()),
        False,
    ),
]


@pytest.mark.parametrize(
    ("drawn", "metres_", "prepared", "flushes"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_a_cap_below_a_vessel_is_good_for_what_a_hand_can_do_with_it(
    drawn: dict[str, str], metres_: tuple, prepared: tuple, flushes: bool
) -> None:
    result = checked(**drawn)
    assert metres(result) == metres_
    spill = result.upkeep.spills["c"]
    assert (spill.shut, spill.plug, tuple(one.vessel for one in spill.lower)) == prepared
    assert spill.flushes == flushes
    assert spill.safe == (drawn["route"] != "{east: 1 m}" or drawn.get("tank") == HEADER)
    assert bool(told(result)) != spill.safe


@pytest.mark.parametrize(
    ("route", "metres_", "safe"),
    [
        # Both tanks run out by the union; one valve keeps back one of them.
        ("{east: 0.5 m}, ball valve: v, {east: 0.5 m}, union: u, {east: 1 m}", (0.0, 0.0, 0.0), False),
        # Between two shut valves the union is good for a rod both ways, up to either.
        (
            "{east: 0.5 m}, ball valve: v, {east: 0.5 m}, union: u, {east: 0.5 m}, ball valve: w, {east: 0.5 m}",
            (1.0, 0.0, 0.5),
            True,
        ),
    ],
)
def test_what_joins_two_tanks_wants_a_valve_on_either_side(route: str, metres_: tuple, safe: bool) -> None:
    result = checked(route, "other")
    assert result.upkeep.spills["u"].safe == safe
    assert metres(result) == metres_
    assert bool(told(result)) != safe


def test_two_caps_behind_one_valve_are_good_together() -> None:
    """0.3 m to the valve, 0.4 m to a capped tee that opens up, down 0.6 m and along 0.5 m to a cap: rods do 0.6 +
    0.5 m of 1.8 m; the cord from one cap to the
    other the same 1.1 m; a flush does all of it."""
    route = "{east: 0.3 m}, ball valve: v, {east: 0.4 m}, cap: {id: b, faces: up}, {down: 0.6 m}, elbow, {east: 0.5 m}"
    for rods in (ROD, CORD):
        result = checked(route, rods=rods)
        assert metres(result) == (1.1, 1.8, 1.0)
        assert [result.upkeep.spills[name].shut for name in "bc"] == [("'v'",)] * 2
    assert metres(
        checked(route.replace("ball valve: v, ", "").replace("{east: 0.3 m}, {east: 0.4 m}", "{east: 0.7 m}"))
    ) == (0, 0, 0)


def test_a_purge_valve_to_the_open_air_is_a_flush_and_no_opening() -> None:
    """A hand shuts it again: all of the pipe is flushed, and a rod goes up from the open end to the shut valve."""
    assert metres(checked("{east: 0.7 m}, ball valve: {id: d, opening: 0}, {east: 0.3 m}", "open air")) == (
        0.3,
        1.0,
        1.0,
    )


def test_a_union_in_a_drain_that_is_dry_with_the_pump_off_wants_no_preparation() -> None:
    """Nothing stands over it but what drips: rods go in at the crest, at the union both ways, and at the end over
    the sump."""
    result = check(
        layout_of(f"""\
vessels:
  bed: {{holds: plants, base: 1 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2}}
  sump: {{base: -0.5 m, rim: 1 m, water: 0.6 m, area: 2 m^2}}
lines:
  drain:
    pipe: pvc 50
    from: {{vessel: bed, standpipe: 0.2 m}}
    route: [{{down: 0.5 m}}, elbow, {{west: 1 m, down: 20 mm}}, union: u, {{west: 1 m, down: 20 mm}}, elbow,
    {{down: 0.3 m}}]
    to: sump
rods: {{{ROD}}}
""")
    )
    spill = result.upkeep.spills["u"]
    assert (spill.sources, spill.shut, spill.plug, spill.lower) == ((), (), (), ())
    assert result.upkeep.cleanable_fraction == pytest.approx(1.0)


def test_the_card_flushes_a_fish_tank_by_the_valve_before_the_cap() -> None:
    """The valve shut, the cap off, the valve open until it runs clear, shut again, the cap on, and the valve as it
    was."""
    result = checked("{east: 0.3 m}, ball valve: v, {east: 0.7 m}")
    card = wall_card(result.layout, result.flows, result.upkeep, wash_jobs(flush_ways(result.layout)), share=1.0)
    (job,) = card.routine.visits[-1].jobs
    assert card.routine.cleaned == pytest.approx(1.0)
    said = job_words(card.layout, job, (), card.spills)
    assert said.startswith(
        "First shut 'v'. 0.9 L run out of the pipe: hold a bucket under. With the pump off open 'c'; plug in and open that valve until it runs clear, "
    )
    assert "or more; shut it again, unplug, and close up: cleans all of 'out'." in said
    assert said.endswith("Then open 'v' as it was.")


def test_the_card_takes_a_header_down_where_a_rod_goes_through_its_valve() -> None:
    """As far as the valve a rod goes with that shut; fish keep their water, and it stays so."""
    for tank, words in (
        (HEADER, "First take 'tank' down by 0.95 m and keep that water. {}, 1.00 m in; cleans all of 'out'."),
        (FISH, "First shut 'v'. {}, 0.70 m in; cleans 0.70 m of 'out'. Close it, then open 'v' as it was."),
    ):
        result = checked("{east: 0.3 m}, ball valve: v, {east: 0.7 m}", tank=tank)
        card = wall_card(result.layout, result.flows, result.upkeep)
        (job,) = card.routine.visits[-1].jobs
        rod = "0.9 L run out of the pipe: hold a bucket under. At cap 'c': the rod"
        assert job_words(card.layout, job, (), card.spills) == words.format(rod)


def test_where_nobody_gets_at_the_pipe_before_a_cap_no_valve_is_advised() -> None:
    """Under a slab as far as the cap, nothing can stand before it; with 0.2 m in the open a valve can, and bars
    the rod from what is under the slab."""
    hidden = checked("{east: 1 m, under: slab}")
    assert told(hidden) == ["move c to where a valve can stand before it, or leave it shut"]
    assert not any("valve" in one.cure for one in hidden.findings if one.kind == "unreachable")
    partly = checked("{east: 0.8 m, under: slab}, {east: 0.2 m}")
    cure = "put a ball valve into the pipe between 'tank' and c, and shut it first"
    assert told(partly) == [cure]
    assert [one.cure for one in partly.findings if one.kind == "unreachable"] == [f"{cure} (opens 0.20 m of it)"]


def test_water_of_two_vessels_wants_two_valves() -> None:
    assert (
        valve_between(["a", "b"], "c")
        == "put ball valves into the pipe between c and each of 'a' and 'b', and shut them first"
    )


def test_what_no_valve_keeps_back_is_told_with_the_cure() -> None:
    """Of the bare cap both findings say the same: a ball valve before it. An elbow above the tank's water takes a
    cap with nothing besides."""
    cure = "put a ball valve into the pipe between 'tank' and c, and shut it first"
    bare = checked("{east: 1 m}")
    assert told(bare) == [cure]
    assert [one.cure for one in bare.findings if one.kind == "unreachable"] == [cure]
    plugged = checked("{east: 1 m}, elbow, {south: 1 m}", "plug")
    (gap,) = [one.cure for one in plugged.findings if one.kind == "unreachable"]
    assert gap.endswith(
        " and put a ball valve into the pipe between 'tank' and it, and shut it first (opens 1.00 m of it)"
    )


@pytest.mark.slow(10)
@pytest.mark.parametrize("drawn", [case[1] for case in CASES], ids=[case[0] for case in CASES])
def test_a_full_bore_valve_more_never_makes_less_pipe_cleanable(drawn: dict[str, str]) -> None:
    """In the middle of each run in turn: what a rod passes open, and a hand may shut, takes nothing away that
    could be done without it."""
    before = checked(**drawn)
    runs = drawn["route"].split(", ")
    for number, run in enumerate(runs):
        if not run.startswith("{"):
            continue
        way, size = run.strip("{}").split(": ")
        half = f"{{{way}: {float(size.removesuffix(' m')) / 2} m}}"
        route = ", ".join([*runs[:number], half, "ball valve: more", half, *runs[number + 1 :]])
        after = checked(**{**drawn, "route": route})
        assert all(new >= old for new, old in zip(metres(after), metres(before), strict=True)), route
        assert after.score.marks["cleaning"].tenths >= before.score.marks["cleaning"].tenths
