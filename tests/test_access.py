"""Rods as they are: what a brush cleans and goes through, room in front of an opening, how deep an arm reaches, and cords.

Worked by hand; no published values: what rods and brushes do is common practice, marked so where it is written down.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from builders import layout, rod, walk
from checks import upkeep_of
from conftest import ReadText

from plumbline.layout.model import Layout, Pipe, Rod
from plumbline.upkeep.access import closed_accesses, deep_pipe, ports_out_of_reach
from plumbline.upkeep.bends import turning
from plumbline.upkeep.openings import openings
from plumbline.upkeep.reach import pushes, reach
from plumbline.upkeep.room_ahead import RoomAhead
from plumbline.upkeep.track import build_track
from plumbline.upkeep.unreached import unreached

STOPS = frozenset({"gate valve", "ball valve", "check valve"})
WIDE = Pipe("52", 0.052, 0.0)
SET = replace(rod(), brushes=(0.03, 0.06))
CORD = replace(rod(9.0, 95.0, 360.0), name="cord", cord=True, room=0.15)


def reached(made: Layout) -> dict[str, list[tuple[float, float]]]:
    return {
        name: [(round(a, 9), round(b, 9)) for a, b in pieces] for name, pieces in reach(made, stopping=STOPS).items()
    }


def roomy(made: Layout, **rooms: float) -> Layout:
    """The layout with the room in front of some accesses stated."""
    return replace(
        made, accesses=tuple(replace(access, room=rooms.get(access.id, access.room)) for access in made.accesses)
    )


# Brushes.


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("start", "expected"),
    [
        # From the narrow end: the brush for it slides on through the wide pipe and leaves it, the other does not get in.
        ("narrow", [(0.0, 1.0)]),
        # From the wide end each does its own: the small one goes through the wide pipe first.
        ("wide", [(0.0, 2.0)]),
    ],
)
def test_one_brush_does_not_clean_two_bores(start: str, expected: list) -> None:
    route = [("east", 1.0), "expander", ("east", 1.0, WIDE)]
    ends = {"wide": ("vessel tank", "cap c"), "narrow": ("cap c", "vessel bed")}[start]
    line = walk("a", ends[0], route, ends[1])
    assert reached(layout(line, rods=[SET])) == {"a": expected}


@pytest.mark.pinned
def test_the_push_names_its_brush() -> None:
    line = walk("a", "vessel tank", [("east", 1.0), "expander", ("east", 1.0, WIDE)], "cap c")
    done = pushes(build_track(layout(line, rods=[SET]), STOPS))
    assert [(push.tool, push.covers["a"]) for push in done] == [
        ("brush with a 30 mm brush", ((0.0, 1.0),)),
        ("brush with a 60 mm brush", ((1.0, 2.0),)),
    ]


@pytest.mark.second_method
def test_a_tool_goes_through_wider_pipe_without_cleaning_it() -> None:
    wide = Pipe("80", 0.08, 0.0)
    line = walk(
        "a", "cap c", [("east", 1.0, wide), "reducer", ("east", 1.0)], "vessel bed", pipe=Pipe("26", 0.026, 0.0)
    )
    assert reached(layout(line, rods=[rod()])) == {"a": [(1.0, 2.0)]}


@pytest.mark.pinned
def test_a_brush_too_small_for_what_lies_behind_a_narrow_is_said_so() -> None:
    route = [("east", 1.0), "expander", ("east", 1.0, WIDE)]
    made = layout(walk("a", "cap c", route, "vessel bed"), rods=[SET])
    (gap,) = unreached(build_track(made, STOPS), reach(made, stopping=STOPS))
    assert gap.why[0].reason == "what gets there is too small to clean the 52 mm bore of the pipe at step 3"
    assert gap.volume == pytest.approx(math.pi / 4 * 0.052**2)


# Room in front of an opening.


@pytest.mark.second_method
@pytest.mark.parametrize(("room", "expected"), [(0.1, []), (0.456, []), (0.46, [(0.0, 3.0)])])
def test_a_cap_too_near_a_wall_is_no_access(room: float, expected: list) -> None:
    """The limit is 0.4572 m: International Plumbing Code 708, 18 in for pipe up to 6 in."""
    made = roomy(layout(walk("a", "cap c", [("east", 3.0)], "vessel bed"), rods=[rod()]), c=room)
    assert reached(made) == {"a": expected}


@pytest.mark.second_method
def test_a_tool_that_takes_less_room_goes_in() -> None:
    made = roomy(layout(walk("a", "cap c", [("east", 3.0)], "vessel bed"), rods=[replace(rod(), room=0.2)]), c=0.25)
    assert reached(made) == {"a": [(0.0, 3.0)]}


@pytest.mark.pinned
def test_the_reason_and_the_cure_speak_of_room() -> None:
    made = roomy(layout(walk("a", "cap c", [("east", 3.0)], "vessel bed"), rods=[rod()]), c=0.1)
    (gap,) = unreached(build_track(made, STOPS), reach(made, stopping=STOPS))
    assert gap.why[0].reason == "0.10 m of room in front of it, 0.46 m wanted for the brush"
    assert gap.finding.cure == "put a union into step 1, 1.50 m along 'a'"


@pytest.mark.second_method
def test_the_next_pipe_in_the_way_counts() -> None:
    """The cap looks north; 0.3 m that way the line comes back across, with half its bore and half the opening's off."""
    route = [
        ("east", 1.0),
        ("cap", {"id": "c", "faces": "north"}),
        ("east", 1.0),
        "elbow",
        ("north", 0.3),
        "elbow",
        ("west", 2.0),
    ]
    made = layout(walk("a", "plug", route, "plug"))
    assert build_track(made, STOPS).room["c"] == pytest.approx(0.3 - 0.026, abs=1e-12)
    away = replace(made.accesses[0], faces=(0.0, 0.0, 1.0))
    assert math.isinf(build_track(replace(made, accesses=(away,)), STOPS).room["c"])


@pytest.mark.second_method
def test_pipe_that_hangs_together_by_a_tee_counts_and_other_pipe_does_not() -> None:
    main = walk(
        "main",
        "plug",
        [("east", 1.0), ("cap", {"id": "c", "faces": "north"}), ("east", 1.0), ("tee", {"id": "t"}), ("east", 1.0)],
        "plug",
    )
    side = walk("side", "tee t", [("north", 0.3), "elbow", ("west", 2.0)], "plug", at=(2, 0, 0))
    loose = walk("loose", "plug", [("east", 3.0)], "plug", at=(0, 0.1, 0))
    assert build_track(layout(main, side, loose), STOPS).room["c"] == pytest.approx(0.3 - 0.026, abs=1e-12)
    plain = walk("main", "plug", [("east", 1.0), ("cap", {"id": "c", "faces": "north"}), ("east", 2.0)], "plug")
    assert math.isinf(build_track(layout(plain, loose), STOPS).room["c"])


@pytest.mark.second_method
def test_room_ahead_against_a_grazing_pipe() -> None:
    """A pipe 20 mm beside the opening's axis and in line with it: its end is met as a ball of the two radii's reach, 26 mm."""
    route = [("east", 1.0), "elbow", ("up", 0.02), "elbow", ("east", 1.0)]
    made = layout(walk("a", "plug", route, "plug"))
    met = RoomAhead(made).of("a", (0.5, 0.0, 0.02), (1.0, 0.0, 0.0), 0.026)
    assert met == pytest.approx(0.5 - math.sqrt(0.026**2 - 0.0), abs=1e-12)


MOUTH = """
    name: A mouth over a floor
    vessels:
      tank: {base: 0 m, water: 0.4 m, rim: 0.55 m, area: 0.16 m^2}
      top: {base: 0 m, water: 0.4 m, rim: 0.9 m}
    lines:
      a: {pipe: pvc 25, from: plug, route: [{down: 2 m}], to: {vessel: tank, height: 50 mm}}
      b: {pipe: pvc 25, from: plug, route: [{east: 2 m}], to: {vessel: tank, height: 0.2 m}}
      c: {pipe: pvc 25, from: plug, route: [{east: 2 m}], to: {vessel: top, height: 0.6 m}}
    rods:
      rod: {length: 3 m, bends up to: 22 deg, turns in all: 45 deg, bores: 15 mm to 50 mm, room: 0.3 m}
      wide: {length: 3 m, bends up to: 22 deg, turns in all: 45 deg, bores: 15 mm to 50 mm, room: 0.45 m}
"""


@pytest.mark.second_method
def test_what_stands_before_a_mouth_counts(read_text: ReadText) -> None:
    """The floor 50 mm under one that hangs down, the wall 0.4 m across from one in the wall, where the area is known."""
    made = read_text(MOUTH)
    assert build_track(made, STOPS).room == {"a.to": pytest.approx(0.05), "b.to": pytest.approx(0.4), "c.to": math.inf}
    track = build_track(made, STOPS)
    assert {(push.access, push.rod) for push in pushes(track)} == {("b.to", "rod"), ("c.to", "rod"), ("c.to", "wide")}
    round_one = replace(made, vessels={**made.vessels, "tank": replace(made.vessels["tank"], shape="round")})
    assert build_track(round_one, STOPS).room["b.to"] == pytest.approx(math.sqrt(4 * 0.16 / math.pi))


# What an arm reaches.

TANK = """
    name: Deep
    vessels:
      tank: {base: 0 m, water: 1.1 m, rim: 1.2 m, area: 1 m^2}
      bed: {base: 1.5 m, water: 0.2 m, rim: 0.3 m, area: 1 m^2}
    pumps:
      lift: {in: tank, height: 0.05 m, curve: [[0 L/min, 4 m], [40 L/min, 1 m]]}
    lines:
      riser:
        pipe: pvc 25
        from: lift
        route: [ROUTE]
        to: bed
      return:
        pipe: pvc 50
        from: {vessel: bed, standpipe: 0.2 m}
        route: [{down: 0.5 m}, elbow, {east: 1 m}, elbow, {down: 0.3 m}]
        to: {vessel: tank, height: 0.9 m}
"""


def deep(route: str, read_text: ReadText) -> Layout:
    return read_text(TANK.replace("ROUTE", route))


IN_THE_TANK = "{up: 0.3 m}, elbow, {east: 0.2 m}, elbow, {up: 1.4 m}, sweep, {east: 1 m}"


@pytest.mark.invariant
def test_no_capped_tee_is_advised_in_a_vessel_deeper_than_an_arm_reaches(read_text: ReadText) -> None:
    """The lower elbow stands 0.85 m below the rim. (Where the second stands, level with it, the file does not tell.)"""
    made = deep(IN_THE_TANK, read_text)
    tried = openings(build_track(made, STOPS), "riser", (0.0, made.lines["riser"].length))
    assert 2 not in {one.step for one in tried if one.fitting == "capped tee"}
    assert {6} <= {one.step for one in tried if one.fitting == "capped tee"}
    shallow = replace(made, limits={**made.limits, "arm reach": 0.9})
    again = openings(build_track(shallow, STOPS), "riser", (0.0, made.lines["riser"].length))
    assert 2 in {one.step for one in again if one.fitting == "capped tee"}


@pytest.mark.second_method
@pytest.mark.parametrize(("clean", "way"), [(0.0, "east and down"), (0.6, "east and down"), (-0.8, "up")])
def test_a_capped_tee_for_much_turning_opens_along_the_leg_with_more_unreached_pipe(
    clean: float, way: str, read_text: ReadText
) -> None:
    """The bend at step 6 has 0.61 m behind it and 1.01 m ahead: 0.01 and 1.01 where the first 0.6 m are reached, 0.61 and 0.21 where
    the last 0.8 m are. A rod that goes on up and west is put in from the east and below, one that goes
    down from above."""
    text = TANK.replace("ROUTE", OFFSET).replace("water: 1.1 m, rim: 1.2 m", "water: 0.7 m, rim: 1.05 m")
    made = read_text(text.replace("height: 0.9 m", "height: 0.7 m").replace("{down: 0.3 m}]", "{down: 0.5 m}]"))
    whole = made.lines["riser"].length
    reached = ((0.0, clean),) if clean >= 0.0 else ((whole + clean, whole),)
    (found,) = [one for one in turning(made, {"riser": reached}) if one.line == "riser"]
    assert found.cure == f"put a capped tee in place of the bend 45 at step 6, facing {way}"


OFFSET = (
    "{up: 0.2 m}, bend 45, {up: 0.15 m, east: 0.15 m}, bend 45, {up: 0.2 m}, bend 45, {up: 0.15 m, west: 0.15 m}, bend 45, "
    "{up: 0.8 m}"
)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("rim", "cure"),
    [
        (0.8, "put a capped tee in place of the bend 45 at step 4, facing down"),
        (1.05, "put a capped tee in place of the bend 45 at step 6, facing east and down"),
        (1.3, "put a capped tee in place of the bend 45 at step 8, facing west and up"),
        (1.5, "bring a bend of it, capped, to where a hand gets at it, or take this pipe out to clean it"),
    ],
)
def test_much_turning_is_cured_at_the_middle_bend_that_a_hand_gets_at(
    rim: float, cure: str, read_text: ReadText
) -> None:
    """Bends of 45° at 0.25, 0.40, 0.60 and 0.75 m; an arm reaches down to 0.20, 0.45, 0.70 and 0.90 m. The rod goes on along the leg
    with more pipe: 0.8 m above the last bend are less than what is behind it.
    """
    text = TANK.replace("ROUTE", OFFSET).replace("water: 1.1 m, rim: 1.2 m", f"water: 0.7 m, rim: {rim} m")
    text = text.replace("height: 0.9 m", "height: 0.7 m").replace("{down: 0.3 m}]", "{down: 0.5 m}]")
    (found,) = [one for one in turning(read_text(text), {}) if one.line == "riser"]
    assert found.cure == cure


@pytest.mark.second_method
def test_a_union_goes_where_a_hand_reaches_it(read_text: ReadText) -> None:
    """Step 1 rises from 0.05 to 1.55 m; 0.6 m is as deep as an arm goes, 0.55 m along."""
    made = deep("{up: 1.5 m}, sweep, {east: 1 m}", read_text)
    assert deep_pipe(made)["riser"] == (("tank", ((0.0, pytest.approx(0.55)),)),)
    tried = openings(build_track(made, STOPS), "riser", (0.0, 1.5))
    assert [one.at for one in tried if one.fitting == "union"] == [pytest.approx((0.55 + 1.5) / 2)]


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("route", "why"),
    [
        (
            "{up: 0.5 m}, {union: u}, {up: 1.0 m}, sweep, {east: 1 m}",
            {"u": "0.65 m below the rim of 'tank', where an arm reaches 0.60 m"},
        ),
        ("{up: 0.6 m}, {union: u}, {up: 0.9 m}, sweep, {east: 1 m}", {}),
        ("{up: 0.3 m}, bulkhead, {up: 0.2 m}, {union: u}, {up: 1.0 m}, sweep, {east: 1 m}", {}),
    ],
)
def test_a_union_under_water_is_no_access_beyond_an_arms_length(route: str, why: dict, read_text: ReadText) -> None:
    made = deep(route, read_text)
    assert closed_accesses(made) == why
    track = build_track(made, STOPS)
    assert any(push.access == "u" for push in pushes(track)) == (not why)


@pytest.mark.pinned
def test_a_port_too_deep_is_named_as_the_reason(read_text: ReadText) -> None:
    made = read_text(
        TANK.replace("ROUTE", "{up: 1.5 m}, sweep, {east: 1 m}")
        .replace("height: 0.9 m", "height: 0.4 m")
        .replace("{down: 0.3 m}]", "{down: 0.8 m}]")
    )
    assert [port.id for port in ports_out_of_reach(made)] == ["return.to"]
    gaps = unreached(build_track(made, STOPS), reach(made, stopping=STOPS))
    reasons = {failure.access: failure.reason for gap in gaps if gap.line == "return" for failure in gap.why}
    assert reasons["the end of 'return' in 'tank'"] == "0.80 m below the rim of 'tank', where an arm reaches 0.60 m"


# Cords.


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("route", "start", "end", "cord", "expected"),
    [
        pytest.param(
            [("up", 1.0), "elbow", ("east", 2.0)], "cap a1", "cap a2", CORD, [(0.0, 3.0)], id="round an elbow"
        ),
        pytest.param([("up", 1.0), "elbow", ("east", 2.0)], "cap a1", "vessel bed", CORD, [], id="one opening is none"),
        pytest.param(
            [("up", 1.0), "ball valve", ("up", 2.0)], "cap a1", "cap a2", CORD, [], id="no brush past a valve"
        ),
        pytest.param([("east", 9.1)], "cap a1", "cap a2", CORD, [], id="too short for all of it is too short"),
        pytest.param(
            [("up", 1.0), "elbow", ("east", 1.0), "elbow", ("up", 1.0), "elbow", ("east", 1.0), "elbow", ("up", 1.0)],
            "cap a1",
            "cap a2",
            replace(CORD, turns=math.radians(359)),
            [],
            id="four elbows are 360°",
        ),
        pytest.param(
            [("east", 1.0), ("cap", {"id": "c", "faces": "up"}), ("east", 2.0)],
            "vessel tank",
            "cap a2",
            CORD,
            [(1.0, 3.0)],
            id="out of a square cap",
        ),
        pytest.param(
            [("east", 1.0, WIDE), "reducer", ("east", 1.0)],
            "cap a1",
            "cap a2",
            replace(CORD, brushes=(0.03, 0.06)),
            [(1.0, 2.0)],
            id="only the brush that goes all the way",
        ),
    ],
)
def test_a_brush_on_a_cord(route: list, start: str, end: str, cord: Rod, expected: list) -> None:
    assert reached(layout(walk("a", start, route, end), rods=[cord])) == {"a": expected}


@pytest.mark.second_method
def test_a_cord_goes_into_a_branch_that_a_rod_goes_past() -> None:
    run = walk("run", "cap c1", [("east", 2.0), ("tee", {"id": "t"}), ("east", 1.0)], "plug")
    side = walk("side", "tee t", [("north", 1.0)], "cap c2", at=(2, 0, 0))
    assert reached(layout(run, side, rods=[CORD])) == {"run": [(0.0, 2.0)], "side": [(0.0, 1.0)]}
    assert reached(layout(run, side, rods=[replace(CORD, cord=False)]))["side"] == [(0.0, 1.0)]
    (push,) = pushes(build_track(layout(run, side, rods=[CORD]), STOPS))
    assert (push.access, push.to, push.cord) == ("c1", "c2", 3.0)
    assert [(s.line, s.forward, s.near, s.need) for s in push.spans] == [
        ("run", True, 0.0, 2.0),
        ("side", True, 2.0, 3.0),
    ]


@pytest.mark.second_method
def test_a_cord_wants_room_at_both_ends() -> None:
    made = layout(walk("a", "cap c1", [("east", 2.0)], "cap c2"), rods=[CORD])
    assert reached(roomy(made, c1=0.2, c2=0.2)) == {"a": [(0.0, 2.0)]}
    assert reached(roomy(made, c1=0.2, c2=0.1)) == {"a": []}


@pytest.mark.second_method
def test_both_ways_round_a_ring_are_pulled() -> None:
    ring = [
        ("east", 1.0),
        "elbow",
        ("north", 1.0),
        "elbow",
        ("west", 1.0),
        ("tee", {"id": "s"}),
        ("west", 1.0),
        "elbow",
        ("south", 1.0),
        "elbow",
        ("east", 1.0),
    ]
    line = walk("a", "cap c", [("north", 1.0), ("tee", {"id": "t"}), *ring], "tee t")
    out = walk("b", "tee s", [("north", 1.0)], "cap d", at=(0, 2, 0))
    done = pushes(build_track(layout(line, out, rods=[replace(CORD, turns=10.0)]), STOPS))
    assert sorted(push.cord for push in done) == [5.0, 5.0]
    assert reached(layout(line, out, rods=[replace(CORD, turns=10.0)])) == {"a": [(0.0, 7.0)], "b": [(0.0, 1.0)]}


@pytest.mark.pinned
def test_pipe_between_two_openings_is_cured_with_a_cord() -> None:
    wide = Pipe("46", 0.046, 0.0)
    made = layout(
        walk("a", "cap c1", [("up", 1.0), "elbow", ("east", 2.0), "elbow", ("up", 1.0)], "cap c2", pipe=wide),
        rods=[rod()],
    )
    (gap,) = unreached(build_track(made, STOPS), reach(made, stopping=STOPS))
    assert gap.finding.cure.startswith("pull a 50 mm brush through on a cord from c1 to c2, or ")


# The words of the language.


@pytest.mark.second_method
def test_room_and_rods_like_the_catalogues_are_read(read_text: ReadText) -> None:
    made = read_text("""
        lines:
          a: {pipe: pvc 32, from: {cap: c1, room: 150 mm}, route: [{east: 1 m}, {cap: {id: c2, faces: up, room: 80 mm}}, {east: 1 m}], to: {open air: yes, room: 2 m}}
        rods:
          long cord: {like: pull-through cord, length: 14 m}
          snake: {like: sprung cable, bores: 20 mm to 30 mm, room: 10 cm}
          own cord: {length: 5 m, bends up to: 90 deg, turns in all: 180 deg, bores: 20 to 30 mm, pulled through: yes}
    """)
    assert {access.id: access.room for access in made.accesses} == {"c1": 0.15, "c2": 0.08, "a.to": 2.0}
    cord, snake, own = made.rods
    assert (cord.name, cord.length, cord.cord, 0.05 in cord.brushes) == ("long cord", 14.0, True, True)
    assert (snake.length, snake.bore_max, snake.room, snake.cord) == (5.0, 0.03, 0.1, False)
    assert (own.cord, own.brushes, own.room) == (True, (), None)


HOOKED = "{east: 1 m}, elbow, {north: 0.6 m}, elbow, {west: 0.5 m}, elbow, {south: 0.3 m}"
BLIND = """
    vessels:
      sump: {base: 0 m, water: 0.5 m, rim: 0.8 m, area: 1 m^2}
      bed: {base: 1 m, water: 0.1 m, rim: 0.4 m, area: 1 m^2}
    pumps: {lift: {in: sump, curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}}
    lines:
      feed: {pipe: pvc 25, from: lift, route: [up: 2.2 m, tee: t, up: 0.3 m, elbow, east: 0.5 m, elbow, down: 0.1 m], to: bed}
      leg: {pipe: pvc 25, from: t, route: [ROUTE], to: cap x}
    rods: {rod: {length: 3 m, bends up to: 22.5 deg, turns in all: 45 deg, bores: 20 mm to 55 mm, room: ROOM}}
"""


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("route", "room", "said"),
    [
        ("{east: 1 m}, cap: {id: y, faces: north}, {east: 0.4 m}", "0.3 m", "No rod goes in at y: opens square"),
        (HOOKED, "0.6 m", "No rod goes in at x: 0.28 m of room in front"),
        (HOOKED, "0.2 m", ""),
    ],
)
def test_a_blind_cap_is_turned_along_its_pipe_or_to_where_there_is_room(
    read_text: ReadText, route: str, room: str, said: str
) -> None:
    """The hooked leg comes back to 0.3 m before its own first run, less half of a pipe and of the opening: no room for a rod that wants 0.6 m."""
    findings = upkeep_of(read_text(BLIND.replace("ROUTE", route).replace("ROOM", room))).findings
    blind = [one for one in findings if one.kind == "blind-access"]
    assert len(blind) == bool(said)
    for one in blind:
        assert one.message.startswith(said)
        assert one.cure.startswith(
            "turn it so that it opens along" if "square" in said else "turn it to where there is room"
        )
