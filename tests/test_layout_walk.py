"""Walking a line: places, headings, turns, lengths and pipes of its steps. Invariants, worked by hand."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import pytest

from plumbline.errors import LayoutError
from plumbline.layout.model import Layout, Line, Part, Vector
from plumbline.layout.vectors import angle_between

approx = pytest.approx

ReadText = Callable[[str], Layout]

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
EAST, WEST = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)
NORTH, SOUTH = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)
HALF = math.sqrt(0.5)
TILT = 0.5 * math.atan(0.01)


def walk(read_text: ReadText, route: str, *, start: str = "tank", end: str = "open air", pipe: str = "pvc 25") -> Line:
    """One line out of a tank with its floor at the datum, by a route in one line of text."""
    text = "vessels: {tank: {base: 0 m, water: 1 m}, other: {base: -5 m, water: 0 m}}\n"
    text += f"lines: {{a: {{pipe: {pipe}, from: {start}, route: {route}, to: {end}}}}}\n"
    return read_text(text).lines["a"]


def near(vector: Vector | None, other: Vector) -> bool:
    return vector is not None and vector == approx(other, abs=1e-8)


def kinds(line: Line) -> list[str]:
    return [part.kind for part in line.parts]


def one(line: Line, kind: str) -> Part:
    (part,) = [part for part in line.parts if part.kind == kind]
    return part


# ---------------------------------------------------------------------- places and lengths


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("word", "heading"),
    [("up", UP), ("down", DOWN), ("north", NORTH), ("south", SOUTH), ("east", EAST), ("west", WEST)],
)
def test_each_direction_is_an_axis(read_text: ReadText, word: str, heading: Vector) -> None:
    line = walk(read_text, f"[{{{word}: 2 m}}]", start="{vessel: tank, height: 1 m}")
    assert near(line.parts[0].heading_in, heading)
    assert near(line.end.place, (2 * heading[0], 2 * heading[1], 1 + 2 * heading[2]))
    assert line.length == approx(2.0)


@pytest.mark.second_method
def test_the_steps_follow_one_another(read_text: ReadText) -> None:
    line = walk(read_text, "[{up: 1.5 m}, elbow, {east: 1.4 m}, sweep, {north: 60 cm}]")
    assert kinds(line) == ["run", "elbow", "run", "sweep", "run"]
    assert [part.step for part in line.parts] == [1, 2, 3, 4, 5]
    assert [part.at for part in line.parts] == approx([0.0, 1.5, 1.5, 2.9, 2.9])
    assert [part.length for part in line.parts] == approx([1.5, 0.0, 1.4, 0.0, 0.6])
    for before, after in zip(line.parts, line.parts[1:], strict=False):
        assert near(before.end, after.start)
        assert near(before.heading_out, after.heading_in)
    assert near(line.end.place, (1.4, 0.6, 1.5))
    assert near(line.start.heading, DOWN)
    assert near(line.end.heading, NORTH)
    assert line.length == approx(3.5)


@pytest.mark.second_method
def test_a_fall_needs_no_fitting(read_text: ReadText) -> None:
    line = walk(read_text, "[{west: 2.9 m, down: 60 mm}, {west: 1 m}]", start="{vessel: tank, height: 0.5 m}")
    assert kinds(line) == ["run", "run"]
    assert line.parts[0].length == approx(math.hypot(2.9, 0.06))
    assert line.end.place[2] == approx(0.44)


@pytest.mark.second_method
def test_a_diagonal_in_three_directions(read_text: ReadText) -> None:
    line = walk(read_text, "[{east: 2 m, north: 3 m, up: 6 m}]")
    assert line.length == approx(7.0)
    assert near(line.end.heading, (2 / 7, 3 / 7, 6 / 7))


@pytest.mark.second_method
def test_opposite_directions_in_one_run_take_from_each_other(read_text: ReadText) -> None:
    assert walk(read_text, "[{east: 2 m, west: 50 cm}]").length == approx(1.5)


@pytest.mark.pinned
def test_marks_point_into_the_file(read_text: ReadText) -> None:
    text = """\
    lines:
      a:
        pipe: pvc 25
        from: open air
        route:
          - up: 1 m
          - elbow
          - {east: 1 m}
        to: cap
    """
    line = read_text(text).lines["a"]
    marks = [line.mark, line.start.mark, *(part.mark for part in line.parts), line.end.mark]
    assert [(mark.line, mark.column) for mark in marks] == [(2, 3), (4, 11), (6, 9), (7, 9), (8, 9), (9, 9)]


# ---------------------------------------------------------------------- turns


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("route", "turns"),
    [
        ("[{up: 1 m}, elbow, {east: 1 m}]", [90]),
        ("[{up: 1 m}, sweep, {east: 1 m}]", [90]),
        ("[{up: 1 m}, bend 45, {up: 1 m, east: 1 m}]", [45]),
        ("[{up: 1 m}, bend 22.5, {up: 1 m, east: 0.4142136 m}]", [22.5]),
        ("[{up: 1 m}, bend: 30 deg, {up: 1.7320508 m, east: 1 m}]", [30]),
        ("[{up: 1 m}, bend 45, bend 45, {east: 1 m}]", [45, 45]),
        ("[{up: 1 m}, bend: 30 deg, bend: 30 deg, bend: 30 deg, {east: 1 m}]", [30, 30, 30]),
        ("[{up: 1 m}, bend 45, bend 22.5, bend 22.5, {east: 1 m}]", [45, 22.5, 22.5]),
        ("[{up: 1 m}, elbow, elbow, {down: 1 m}]", [90, 90]),
        ("[{up: 1 m}, elbow, {east: 1 m, down: 20 mm}]", [90.0]),
        ("[{up: 1 m}, union, elbow, ball valve, {east: 1 m}]", [0, 90, 0]),
        ("[{up: 1 m}, ball valve, {up: 1 m}]", [0]),
        ("[{up: 1 m}, cap, {east: 1 m}]", [90]),
        ("[{up: 1 m}, cap, {up: 1 m, east: 1 m}]", [45]),
        ("[{up: 1 m}, plug, {east: 1 m}]", [90]),
        ("[{up: 1 m}, fitting: {K: 2}, {east: 1 m}]", [90]),
        ("[{up: 1 m}, fitting: {K: 2}, {up: 1.7320508 m, east: 1 m}]", [30]),
        ("[{up: 1 m}, fitting: {K: 2}, cap, {east: 1 m}]", [0, 90]),
    ],
)
def test_turns_come_from_the_headings(read_text: ReadText, route: str, turns: list[float]) -> None:
    line = walk(read_text, route)
    fittings = [part for part in line.parts if not part.is_pipe]
    assert [math.degrees(part.turn) for part in fittings] == approx(turns, abs=1e-3)
    assert near(fittings[0].heading_in, line.parts[0].heading_out)
    assert near(fittings[-1].heading_out, line.parts[-1].heading_in)
    for part in fittings:
        size = math.hypot(*part.heading_in)
        assert size == approx(1.0)
        along = sum(a * b for a, b in zip(part.heading_in, part.heading_out, strict=True))
        # A stock fitting keeps its own turn where the walk differs from it by a fall.
        assert math.acos(max(-1.0, min(1.0, along))) == approx(part.turn, abs=math.radians(1.2))


@pytest.mark.second_method
def test_two_bends_share_a_corner_evenly_and_in_its_plane(read_text: ReadText) -> None:
    line = walk(read_text, "[{up: 1 m}, bend 45, bend 45, {east: 1 m}]")
    assert near(line.parts[1].heading_out, (HALF, 0.0, HALF))


@pytest.mark.second_method
def test_a_stated_angle_may_be_off_by_the_turn_tolerance(read_text: ReadText) -> None:
    """5° unless the file says otherwise: a sweep of 90° on a walk that turns 88.8° is a sweep of 90° all the same."""
    line = walk(read_text, "[{down: 0.5 m}, sweep, {west: 2.9 m, down: 60 mm}]", start="{vessel: tank, height: 1 m}")
    assert math.degrees(one(line, "sweep").turn) == approx(90)
    assert math.degrees(angle_between(line.parts[0].heading_out, line.parts[2].heading_in)) == approx(88.8148)


@pytest.mark.second_method
def test_the_ends_of_a_line_may_be_elbows(read_text: ReadText) -> None:
    """A turning fitting without a run beyond points down; one on a vertical pipe, north."""
    line = walk(read_text, "[elbow, {east: 1 m}, elbow]", start="{vessel: tank, height: 1 m}")
    assert [math.degrees(part.turn) for part in line.parts] == approx([90, 0, 90])
    assert near(line.start.heading, DOWN)
    assert near(line.end.heading, DOWN)
    line = walk(read_text, "[elbow, {down: 1 m}, elbow]", start="{vessel: tank, height: 1 m}")
    assert near(line.start.heading, NORTH)
    assert near(line.end.heading, NORTH)


@pytest.mark.second_method
def test_bends_at_the_ends_turn_less(read_text: ReadText) -> None:
    line = walk(read_text, "[bend 45, {east: 1 m}, bend: 30 deg]", start="{vessel: tank, height: 1 m}")
    assert near(line.start.heading, (-HALF, 0.0, -HALF))
    assert near(line.end.heading, (math.cos(math.pi / 6), 0.0, -0.5))


@pytest.mark.second_method
def test_straight_fittings_at_the_ends_go_on_straight(read_text: ReadText) -> None:
    line = walk(read_text, "[bulkhead, {east: 1 m}, ball valve]")
    assert near(line.start.heading, WEST)
    assert near(line.end.heading, EAST)


# ---------------------------------------------------------------------- hoses and spray bars


@pytest.mark.second_method
def test_a_hose_may_be_longer_than_from_end_to_end(read_text: ReadText) -> None:
    line = walk(read_text, "[{hose: {up: 1 m, east: 0.5 m, length: 1.5 m}}]")
    assert (line.parts[0].kind, line.parts[0].length, line.length) == ("hose", 1.5, 1.5)
    assert near(line.end.place, (0.5, 0.0, 1.0))
    assert walk(read_text, "[{hose: {up: 3 m, east: 4 m}}]").length == approx(5.0)


@pytest.mark.second_method
def test_a_hose_bends_by_itself(read_text: ReadText) -> None:
    assert kinds(walk(read_text, "[{up: 1 m}, {hose: {east: 1 m}}, {north: 1 m}]")) == ["run", "hose", "run"]


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("route", "turn", "into", "out"),
    [
        ("[{up: 1 m}, elbow, {hose: {east: 1 m, up: 1 m}}]", 90, UP, EAST),
        ("[{hose: {east: 1 m, up: 1 m}}, elbow, {up: 1 m}]", 90, EAST, UP),
        ("[{up: 1 m}, union, {hose: {east: 1 m}}]", 0, UP, UP),
        ("[{hose: {east: 1 m}}, union, {up: 1 m}]", 0, UP, UP),
        ("[{up: 1 m}, cap, {hose: {east: 1 m, up: 0.2 m}}]", 90, UP, EAST),
        ("[{up: 1 m}, cap, {hose: {east: 0.2 m, up: 1 m}}]", 0, UP, UP),
    ],
)
def test_a_hose_takes_the_heading_of_the_fitting_beside_it(
    read_text: ReadText, route: str, turn: float, into: Vector, out: Vector
) -> None:
    part = walk(read_text, route).parts[1]
    assert math.degrees(part.turn) == approx(turn)
    assert near(part.heading_in, into)
    assert near(part.heading_out, out)


@pytest.mark.second_method
def test_a_spray_bar_is_a_run_with_holes(read_text: ReadText) -> None:
    line = walk(read_text, "[{up: 2 m}, elbow, {spray bar: {east: 1 m, holes: 12, hole: 4 mm, in: tank}}]", end="plug")
    bar = line.parts[-1]
    assert (bar.kind, bar.length, bar.vessel) == ("spray bar", 1.0, "tank")
    assert bar.is_pipe
    assert dict(bar.details) == {"holes": 12.0, "hole": approx(0.004)}
    assert line.end.kind == "plug"


# ---------------------------------------------------------------------- pipes


@pytest.mark.second_method
def test_a_run_may_have_a_pipe_of_its_own(read_text: ReadText) -> None:
    """Of itself alone: the run after it is of the line's pipe again, and the changes of bore are put in and told."""
    text = "lines: {a: {pipe: pvc 25, from: open air, route: [{up: 1 m}, {up: 1 m, pipe: pvc 32}, {up: 1 m}], to: cap}}"
    layout = read_text(text)
    line = layout.lines["a"]
    assert [(part.kind, part.pipe.name, part.pipe_out.name) for part in line.parts] == [
        ("run", "pvc 25", "pvc 25"),
        ("expander", "pvc 25", "pvc 32"),
        ("run", "pvc 32", "pvc 32"),
        ("reducer", "pvc 32", "pvc 25"),
        ("run", "pvc 25", "pvc 25"),
    ]
    assert "a sudden expander from pvc 25 to pvc 32" in [default.what for default in layout.defaults]


@pytest.mark.second_method
def test_a_reducer_goes_on_in_its_pipe(read_text: ReadText) -> None:
    line = walk(
        read_text,
        "[{up: 1 m}, {reducer: pvc 20}, {up: 1 m}, elbow, {east: 1 m}, "
        "{expander: {to: pvc 32, angle: 15 deg}}, {east: 1 m}]",
    )
    assert [part.pipe.name[4:] for part in line.parts] == ["25", "25", "20", "20", "20", "20", "32"]
    assert one(line, "expander").pipe_out.name == "pvc 32"
    assert dict(one(line, "expander").details) == {"angle": approx(math.radians(15))}
    assert dict(one(line, "reducer").details) == {}


@pytest.mark.second_method
def test_a_reducer_takes_off_from_the_run_before_it(read_text: ReadText) -> None:
    line = walk(read_text, "[{up: 1 m, pipe: pvc 32}, {reducer: pvc 20}, {up: 1 m}]")
    assert [(part.kind, part.pipe.name) for part in line.parts] == [
        ("run", "pvc 32"),
        ("reducer", "pvc 32"),
        ("run", "pvc 20"),
    ]


@pytest.mark.second_method
def test_fittings_are_of_the_pipe_before_them(read_text: ReadText) -> None:
    line = walk(read_text, "[union, {up: 1 m, pipe: pvc 32}, elbow, {east: 1 m, pipe: pvc 32}]")
    assert {part.pipe.name for part in line.parts} == {"pvc 32"}


@pytest.mark.second_method
def test_the_pipe_may_stand_on_the_first_run_alone(read_text: ReadText) -> None:
    text = "lines: {a: {from: open air, route: [{up: 1 m, pipe: pvc 25}, elbow, {east: 1 m}], to: plug}}"
    assert {part.pipe.name for part in read_text(text).lines["a"].parts} == {"pvc 25"}


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("pipe", "bore", "roughness", "material"),
    [
        ("pvc 25", 0.0212, 1.5e-6, "pvc"),
        ("PVC  25", 0.0212, 1.5e-6, "pvc"),
        ("{bore: 80 mm, roughness: 0.2 mm}", 0.08, 0.0002, None),
        ("{bore: 26 mm, material: steel}", 0.026, 0.000046, "steel"),
        ("{bore: 26 mm}", 0.026, 1.5e-6, "pvc"),
        ("{bore: 3/4 in, roughness: 0 mm, outside: 1 in}", 0.01905, 0.0, None),
    ],
)
def test_a_pipe(read_text: ReadText, pipe: str, bore: float, roughness: float, material: str | None) -> None:
    found = walk(read_text, "[{up: 1 m}]", pipe=pipe).parts[0].pipe
    assert found.bore == approx(bore)
    assert found.roughness == approx(roughness)
    assert found.material == material


# ---------------------------------------------------------------------- fittings and their details


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("step", "kind", "opening", "loss", "kv", "name"),
    [
        ("ball valve", "ball valve", 1.0, None, None, None),
        ("ball valve: 40 %", "ball valve", 0.4, None, None, None),
        ("gate valve: {opening: 0.5, id: v1}", "gate valve", 0.5, None, None, "v1"),
        ("diaphragm valve: shut", "diaphragm valve", 0.0, None, None, None),
        ("butterfly valve: {opening: closed}", "butterfly valve", 0.0, None, None, None),
        ("ball valve: open", "ball valve", 1.0, None, None, None),
        ("ball valve: v9", "ball valve", 1.0, None, None, "v9"),
        ("check valve: {K: 0}", "check valve", 1.0, 0.0, None, None),
        ("strainer: {Kv: 24.7}", "strainer", 1.0, None, 24.7, None),
        ("fitting: {K: 24.7}", "fitting", 1.0, 24.7, None, None),
        ("fitting: {Kv: 3, id: filter head}", "fitting", 1.0, None, 3.0, "filter head"),
        ("flow meter: m1", "flow meter", 1.0, None, None, "m1"),
        ("union: {id: u1, K: 0.2}", "union", 1.0, 0.2, None, "u1"),
        ("water meter", "flow meter", 1.0, None, None, None),
        ("Non-return valve", "check valve", 1.0, None, None, None),
        ("elbow: ", "elbow", 1.0, None, None, None),
    ],
)
def test_a_fitting_with_its_details(
    read_text: ReadText, step: str, kind: str, opening: float, loss: float | None, kv: float | None, name: str | None
) -> None:
    after = "{east: 1 m}" if kind == "elbow" else "{up: 1 m}"
    part = walk(read_text, f"[{{up: 1 m}}, {{{step}}}, {after}]").parts[1]
    assert (part.kind, part.opening, part.loss, part.id) == (kind, approx(opening), loss, name)
    assert part.details.get("Kv") == kv


@pytest.mark.pinned
def test_nameless_caps_and_unions_get_names(read_text: ReadText) -> None:
    line = walk(read_text, "[{up: 1 m}, cap, {up: 1 m}, union, {up: 1 m}, cap, {up: 1 m}]", end="cap")
    assert [part.id for part in line.parts if not part.is_pipe] == ["cap 1", "union 1", "cap 2"]
    assert line.end.name == "cap 3"


# ---------------------------------------------------------------------- caps


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("route", "faces"),
    [
        ("[{up: 1 m}, cap: {faces: up}, {east: 1 m}]", UP),
        ("[{up: 1 m}, cap: {faces: west}, {east: 1 m}]", WEST),
        ("[{up: 1 m}, cap: up, {east: 1 m}]", UP),
        ("[{up: 1 m}, cap: {faces: north}, {east: 1 m}]", NORTH),
        ("[{east: 1 m}, cap: {faces: up west}, {east: 1 m}]", (-HALF, 0.0, HALF)),
        ("[{east: 1 m}, cap: {faces: {up: 3, west: 4}}, {east: 1 m}]", (-0.8, 0.0, 0.6)),
        ("[{east: 1 m}, cap: c7, {east: 1 m}]", UP),
        ("[{up: 1 m}, cap, {up: 1 m}]", NORTH),
        ("[{east: 1 m}, cap, {east: 1 m, down: 10 mm}]", (math.sin(TILT), 0.0, math.cos(TILT))),
        ("[{up: 1 m}, cap, {east: 2 m}]", WEST),
        ("[{up: 2 m}, cap, {east: 1 m}]", UP),
        ("[{up: 1 m}, cap, {east: 1 m}]", UP),
        ("[{down: 1 m}, cap, {east: 1 m}]", WEST),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_which_way_a_cap_faces(read_text: ReadText, route: str, faces: Vector) -> None:
    """As stated; else in line with the longer leg of a corner (of two alike the way that opens upwards), or up."""
    assert near(one(walk(read_text, route, start="{vessel: tank, height: 0.9 m}"), "cap").faces, faces)


@pytest.mark.second_method
@pytest.mark.parametrize("end", ["cap", "cap c2", "{cap: c2}"])
def test_a_cap_at_the_end_faces_along_the_pipe(read_text: ReadText, end: str) -> None:
    line = walk(read_text, "[{up: 2 m}, elbow, {north: 1 m}]", end=end)
    assert line.end.kind == "cap"
    assert near(line.end.heading, NORTH)


# ---------------------------------------------------------------------- lines without runs


@pytest.mark.second_method
@pytest.mark.parametrize("route", ["[]", "", "~", "[{fitting: {K: 2}}]", "[ball valve, union]", "[elbow]"])
def test_a_line_without_a_run(read_text: ReadText, route: str) -> None:
    """It has no length and no heading, but a pipe, and always a part."""
    line = walk(read_text, route, end="other" if "x" in route else "{draws: 1 L/min}")
    assert line.length == 0.0
    assert line.start.place == line.end.place
    assert line.start.heading == line.end.heading == (0.0, 0.0, 0.0)
    assert line.parts
    assert line.parts[0].pipe.name == "pvc 25"


@pytest.mark.second_method
def test_an_elbow_alone_still_turns(read_text: ReadText) -> None:
    assert math.degrees(walk(read_text, "[elbow]").parts[0].turn) == approx(90.0)


# ---------------------------------------------------------------------- units


@pytest.mark.second_method
def test_lengths_in_any_unit(read_text: ReadText) -> None:
    line = walk(read_text, "[{up: 5 ft 6 in}, elbow, {east: 3/4 in}, elbow, {up: 1 1/2 in}, elbow, {north: 2.5'}]")
    assert [part.length for part in line.parts if part.is_pipe] == approx([1.6764, 0.01905, 0.0381, 0.762])


FALLING = """vessels:
  sump: {base: 0 m, rim: 0.8 m, water: 0.4 m}
  bed: {again: 3, base: 1 m, rim: 0.3 m, water: 0.2 m}
lines:
  drop: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: rest}], to: collector}
  collector: {pipe: pvc 63, from: cleanout, route: [{manifold: {id: collector, west: 6 m, fall: 1 in 60, outlets: 3}}], to: {vessel: sump, height: 0.45 m}}
"""


@pytest.mark.second_method
@pytest.mark.parametrize("route", ["{down: rest}", "{down: 0.2 m}, {down: rest}", "{down: rest}, {down: 0.3 m}"])
def test_a_rest_is_what_is_left_between_two_heights(read_text: Callable[[str], Layout], route: str) -> None:
    """By hand: the collector ends at 0.45 m and its outlets stand 5, 3 and 1 m before that at 1 in 60; the crests at 1.2 m."""
    lines = read_text(FALLING.replace("{down: rest}", route)).lines
    for k, away in enumerate((5.0, 3.0, 1.0), 1):
        assert lines[f"drop {k}"].length == pytest.approx(1.2 - 0.45 - away / 60.0, abs=1e-9)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (", height: 0.45 m", "", "nothing tells how long the rest of line 'drop 1' is"),
        (
            "down: rest",
            "up: rest",
            "nothing is left for the rest of line 'drop 1': without it the walk comes out 0.67 m too high",
        ),
        ("{down: rest}", "{down: rest}, elbow, {west: 1 m}, elbow, {down: rest}", "a second rest in line 'drop 1'"),
        ("{manifold: {id", "{down: rest}, {manifold: {up: rest, id", "a manifold that takes up what is left"),
    ],
)
def test_a_rest_without_a_length_is_a_fault(read_text: Callable[[str], Layout], old: str, new: str, said: str) -> None:
    with pytest.raises(LayoutError, match=re.escape(said)):
        read_text(FALLING.replace(old, new))


@pytest.mark.pinned
def test_what_keeps_a_rest_from_its_length_is_the_fault(read_text: Callable[[str], Layout]) -> None:
    said = "line 'b' begins at the standpipe of 'bed', but the walk comes out 0.50 m too low"
    with pytest.raises(LayoutError, match=re.escape(said)):
        read_text(
            "vessels: {tank: {base: 0 m, water: 0.8 m}, bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}}\n"
            "lines:\n"
            "  a: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, to: {vessel: tank, height: 0.5 m}, "
            "route: [{down: 0.5 m}, elbow, {east: 1 m}, tee: t, {east: 1 m}, elbow, {down: rest}]}\n"
            "  b: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, to: t, route: [{north: 1 m}]}\n"
        )
