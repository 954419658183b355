"""Lines that meet: tees and wyes, closure, pumps, vessels and their ports, heights and places. Worked by hand."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable
from pathlib import Path

import pytest

from plumbline.check import check
from plumbline.errors import LayoutError
from plumbline.layout import read_layout
from plumbline.layout.model import Layout, Tee, Vector

ReadText = Callable[[str], Layout]
approx = pytest.approx

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
EAST, WEST = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)
NORTH, SOUTH = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)


def near(vector: Vector, other: Vector) -> bool:
    return vector == approx(other, abs=1e-8)


def joined(read_text: ReadText, main: str, side: str, *, start: str = "t", end: str = "plug") -> Tee:
    """A line of its own from the datum by the route `main`, with tee or wye `t`, and another line at it."""
    text = f"""\
    lines:
      main: {{pipe: pvc 50, from: open air, route: {main}, to: cap}}
      side: {{pipe: pvc 25, from: {start}, route: {side}, to: {end}}}
    """
    return read_text(text).tees["t"]


def legs(tee: Tee) -> list[tuple[str, str, str]]:
    return [(leg.line, leg.side, leg.pipe.name) for leg in tee.legs]


# ---------------------------------------------------------------------- tees


@pytest.mark.second_method
def test_a_branch_square_to_a_straight_run(read_text: ReadText) -> None:
    tee = joined(read_text, "[{east: 1 m}, tee: t, {east: 2 m}]", "[{north: 1 m}]")
    assert legs(tee) == [("main", "before", "pvc 50"), ("main", "after", "pvc 50"), ("side", "from", "pvc 25")]
    assert [leg.heading for leg in tee.legs] == [approx(WEST), approx(EAST), approx(NORTH)]
    assert (tee.kind, tee.line, tee.step, tee.loss) == ("tee", "main", 2, None)
    assert math.degrees(tee.angle) == approx(90.0)
    assert near(tee.place, (1.0, 0.0, 0.0))


@pytest.mark.second_method
def test_a_line_that_ends_at_the_tee(read_text: ReadText) -> None:
    tee = joined(read_text, "[{east: 1 m}, tee: t, {east: 2 m}]", "[{south: 1 m}]", start="plug", end="t")
    assert legs(tee)[2] == ("side", "to", "pvc 25")
    assert near(tee.legs[2].heading, NORTH)


@pytest.mark.second_method
@pytest.mark.parametrize("before", [True, False])
def test_the_walk_may_turn_at_the_tee(read_text: ReadText, before: bool) -> None:
    """Then the other line makes the through-run with one of the walk's legs, and the walk's other leg is the branch."""
    side = "[{east: 1 m}]" if before else "[{down: 1 m}]"
    tee = joined(read_text, "[{east: 1 m}, tee: t, {up: 2 m}]", side)
    run = {leg.side for leg in tee.legs[:2]}
    assert run == ({"before", "from"} if before else {"after", "from"})
    assert tee.legs[2].side == ("after" if before else "before")
    assert math.degrees(tee.angle) == approx(90.0)


@pytest.mark.second_method
def test_a_tee_with_smaller_pipe_beyond_it_has_its_own_bore_on_each_leg(read_text: ReadText) -> None:
    tee = joined(read_text, "[{east: 1 m}, tee: t, {east: 2 m, pipe: pvc 32}]", "[{north: 1 m}]")
    assert [name for _, _, name in legs(tee)] == ["pvc 50", "pvc 32", "pvc 25"]


@pytest.mark.second_method
def test_a_tee_a_little_off_the_square(read_text: ReadText) -> None:
    """A branch that falls, within the turn tolerance of 5°."""
    tee = joined(read_text, "[{east: 1 m, down: 20 mm}, tee: t, {east: 2 m, down: 40 mm}]", "[{down: 1 m}]")
    assert math.degrees(tee.angle) == approx(90 - math.degrees(math.atan(0.02)))
    assert tee.legs[1].side == "after"


@pytest.mark.invariant
@pytest.mark.parametrize("text", ["tee: {id: t, K: 0}", "tee: {id: t, K: 1.5}"])
def test_a_tee_with_a_stated_loss_may_have_any_shape(read_text: ReadText, text: str) -> None:
    tee = joined(read_text, f"[{{east: 1 m}}, {text}, {{east: 2 m}}]", "[{north: 1 m, east: 0.2 m}]")
    assert tee.loss == float(text.rsplit(maxsplit=1)[-1].rstrip("}"))
    y = joined(read_text, f"[{{east: 1 m}}, {text}, {{north: 2 m}}]", "[{east: 1 m, south: 1 m}]")
    assert [leg.side for leg in y.legs] == ["before", "after", "from"]


@pytest.mark.invariant
def test_a_stated_loss_may_stand_at_the_line_that_joins(read_text: ReadText) -> None:
    assert joined(read_text, "[{east: 1 m}, tee: t, {east: 1 m}]", "[{up: 1 m}]", start="{tee: t, K: 0}").loss == 0.0


@pytest.mark.invariant
def test_a_line_may_close_on_its_own_tee(read_text: ReadText) -> None:
    text = """\
    lines:
      ring:
        pipe: pvc 25
        from: open air
        route: [{east: 1 m}, tee: t, {east: 1 m}, elbow, {north: 1 m}, elbow, {west: 1 m}, elbow, {south: 1 m}]
        to: t
    """
    tee = read_text(text).tees["t"]
    assert [(leg.line, leg.side) for leg in tee.legs] == [("ring", "before"), ("ring", "after"), ("ring", "to")]
    assert near(tee.legs[2].heading, NORTH)


# ---------------------------------------------------------------------- wyes


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("side", "towards"),
    [("[{east: 1 m, north: 1 m}]", "after"), ("[{west: 1 m, north: 1 m}]", "before")],
)
def test_a_wye_leans_towards_one_of_its_run_legs(read_text: ReadText, side: str, towards: str) -> None:
    tee = joined(read_text, "[{east: 1 m}, wye: t, {east: 2 m}]", side)
    assert (tee.kind, tee.legs[1].side, tee.legs[2].side) == ("wye", towards, "from")
    assert math.degrees(tee.angle) == approx(45.0)


@pytest.mark.second_method
def test_a_wye_joined_by_a_line_that_ends_there(read_text: ReadText) -> None:
    """A branch that comes in slanting with the walk leans back, towards the leg before."""
    tee = joined(read_text, "[{east: 1 m}, wye: t, {east: 2 m}]", "[{east: 1 m, south: 1 m}]", start="plug", end="t")
    assert tee.legs[1].side == "before"
    assert math.degrees(tee.angle) == approx(45.0)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("route", "side", "branch"),
    [
        ("[{east: 1 m}, wye: t, {east: 1 m, north: 1 m}]", "[{east: 1 m}]", "after"),
        ("[{east: 1 m}, wye: t, {west: 1 m, north: 1 m}]", "[{east: 1 m}]", "after"),
        ("[{east: 1 m, north: 1 m}, wye: t, {east: 1 m}]", "[{west: 1 m}]", "before"),
    ],
)
def test_the_walk_may_turn_at_a_wye(read_text: ReadText, route: str, side: str, branch: str) -> None:
    tee = joined(read_text, route, side)
    assert tee.legs[2].side == branch
    assert math.degrees(tee.angle) == approx(45.0)


# ---------------------------------------------------------------------- hoses and bare fittings at tees


@pytest.mark.second_method
def test_a_hose_fits_itself_to_the_tee(read_text: ReadText) -> None:
    tee = joined(read_text, "[{east: 1 m}, tee: t, {east: 2 m}]", "[{hose: {north: 1 m, east: 1 m}}]")
    assert near(tee.legs[2].heading, NORTH)
    wye = joined(read_text, "[{east: 1 m}, wye: t, {east: 2 m}]", "[{hose: {north: 1 m, west: 0.1 m}}]")
    assert math.degrees(wye.angle) == approx(45.0)
    assert wye.legs[1].side == "before"
    turned = joined(read_text, "[{east: 1 m}, tee: t, {up: 2 m}]", "[{hose: {east: 1 m, up: 0.3 m}}]")
    assert near(turned.legs[1].heading, EAST) or near(turned.legs[0].heading, EAST)
    along = joined(read_text, "[{east: 1 m}, tee: t, {east: 2 m}]", "[{hose: {east: 1 m}}]")
    assert math.degrees(along.angle) == approx(90.0)


@pytest.mark.second_method
def test_an_elbow_on_the_tee_itself_fits_it_too(read_text: ReadText) -> None:
    tee = joined(read_text, "[{north: 1 m}, tee: t, {north: 2 m}]", "[elbow, {up: 1 m}]")
    assert math.degrees(tee.angle) == approx(90.0)
    tee = joined(read_text, "[{north: 1 m}, tee: t, {north: 2 m}]", "[bend 22.5, {east: 1 m}]")
    assert math.degrees(tee.angle) == approx(90.0)
    tee = joined(read_text, "[{north: 1 m}, tee: t, {north: 2 m}]", "[{east: 1 m}, bend 22.5]", start="plug", end="t")
    assert math.degrees(tee.angle) == approx(90.0)


# ---------------------------------------------------------------------- lines without runs between tees


@pytest.mark.second_method
def test_fittings_alone_between_two_tees(read_text: ReadText) -> None:
    text = """\
    lines:
      main:
        pipe: pvc 25
        from: open air
        route: [{east: 1 m}, tee: {id: a, K: 0}, tee: {id: b, K: 0}, {east: 1 m}]
        to: cap
      by: {pipe: pvc 25, from: a, route: [fitting: {K: 2}], to: b}
    """
    layout = read_text(text)
    assert layout.tees["a"].place == layout.tees["b"].place
    assert [(s.id, s.tail, s.head, s.length) for s in layout.stretches if s.line == "by"] == [("by.1", "a", "b", 0.0)]
    assert [part.loss for part in layout.lines["by"].parts] == [2.0]


@pytest.mark.invariant
def test_parallel_hoses_between_two_tees(read_text: ReadText) -> None:
    """Pipes of different length between the same points, as books set them."""
    text = """\
    lines:
      one:
        pipe: {bore: 80 mm}
        from: open air
        route: [{east: 1 m}, tee: {id: a, K: 0}, {hose: {east: 80 m, length: 100 m}}, tee: {id: b, K: 0}, {east: 1 m}]
        to: open air
      two: {pipe: {bore: 60 mm}, from: {tee: a}, to: {tee: b}, route: [{hose: {east: 80 m, length: 150 m}}]}
    """
    layout = read_text(text)
    assert layout.lines["two"].length == 150.0
    assert layout.lines["one"].length == 102.0


@pytest.mark.second_method
@pytest.mark.parametrize("route", ["[]", "[fitting: {K: 2}]", "[ball valve: 40 %]"])
def test_lines_without_a_run_between_vessels(read_text: ReadText, route: str) -> None:
    text = f"""\
    vessels: {{a: {{base: 1 m, water: 1 m}}, b: {{base: 1 m, water: 0.5 m}}}}
    lines:
      x: {{pipe: pvc 25, from: {{vessel: a, K: 0}}, route: {route}, to: {{vessel: b, height: 0 m, K: 0}}}}
    """
    layout = read_text(text)
    assert layout.lines["x"].end.place[2] == approx(1.0)
    assert (layout.lines["x"].start.loss, layout.lines["x"].end.loss) == (0.0, 0.0)
    assert layout.stretches[0].bore == approx(0.0212)


# ---------------------------------------------------------------------- closure


LOOP = """\
lines:
  main: {{pipe: pvc 25, from: open air, route: [{{east: 1 m}}, tee: a, {{east: 1 m}}, tee: b, {{east: 1 m}}], to: cap}}
  loop:
    {{pipe: pvc 25, from: a, route: [{{north: 1 m}}, elbow, {{{middle}}}, elbow, {{south: {back}}}], to: b}}
"""


@pytest.mark.invariant
def test_a_loop_closes_within_the_tolerance(read_text: ReadText) -> None:
    assert set(read_text(LOOP.format(middle="east: 1.014 m", back="1.014 m")).tees) == {"a", "b"}


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("middle", "back", "miss"),
    [
        ("east: 1.2 m", "1 m", "0.20 m: the walk comes out too far east"),
        ("east: 0.9 m", "1 m", "0.10 m: the walk comes out too far west"),
        ("east: 1 m", "1.5 m", "0.50 m: the walk comes out too far south"),
        ("east: 1 m, up: 30 mm", "1 m", "0.03 m: the walk comes out too far up"),
        ("east: 1.3 m", "1.4 m", "0.50 m: the walk comes out too far south and east"),
    ],
)
def test_a_loop_that_does_not_close_says_by_how_much_and_which_way(
    tmp_path: Path, middle: str, back: str, miss: str
) -> None:
    path = tmp_path / "layout.yaml"
    path.write_text(LOOP.format(middle=middle, back=back))
    with pytest.raises(LayoutError) as caught:
        read_layout(path)
    (fault,) = caught.value.faults
    assert fault.found == f"line 'loop' ends at tee 'b', but misses it by {miss}"
    assert fault.also[0][0] == 2


@pytest.mark.invariant
def test_the_closure_may_be_set(read_text: ReadText) -> None:
    text = LOOP.format(middle="east: 1.2 m", back="1 m") + "limits: {closure: 250 mm}\n"
    assert read_text(text).limits["closure"] == approx(0.25)


# ---------------------------------------------------------------------- vessels, ports and heights


VESSELS = """\
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}
"""


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("end", "height", "port", "submerged"),
    [
        ("tank", 0.0, "open", True),
        ("{vessel: tank}", 0.0, "open", True),
        ("{vessel: tank, height: 0.1 m}", 0.1, "port", True),
        ("{vessel: tank, height: 0.9 m}", 0.9, "port", False),
        ("{vessel: bed, standpipe: 0.2 m}", 1.2, "standpipe", False),
        ("{vessel: bed, standpipe: 0.1 m}", 1.1, "standpipe", False),
        ("{vessel: bed, height: 0 m}", 1.0, "port", True),
        ("bed", 1.0, "open", True),
    ],
)
def test_where_a_line_leaves_a_vessel(read_text: ReadText, end: str, height: float, port: str, submerged: bool) -> None:
    """A bare name leaves at the floor; a standpipe's walk begins at its crest."""
    text = f"{VESSELS}lines: {{a: {{pipe: pvc 25, from: {end}, route: [{{down: 0.1 m}}], to: open air}}}}"
    line = read_text(text).lines["a"]
    assert line.start.kind == "vessel"
    assert line.start.place[2] == approx(height)
    assert (line.start.port, line.start.submerged) == (port, submerged)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("run", "height", "submerged"),
    [("up: 1.3 m", 1.3, False), ("up: 1.1 m", 1.1, True), ("up: 1.2 m", 1.2, False), ("up: 2 m", 2.0, False)],
)
def test_the_walk_alone_says_where_a_bare_to_ends(
    read_text: ReadText, run: str, height: float, submerged: bool
) -> None:
    """Above the water it falls freely, below it ends submerged, at the water's own level it just falls."""
    text = f"{VESSELS}lines: {{a: {{pipe: pvc 25, from: tank, route: [{{{run}}}], to: bed}}}}"
    line = read_text(text).lines["a"]
    assert line.end.place[2] == approx(height)
    assert (line.end.port, line.end.submerged) == ("open", submerged)


@pytest.mark.invariant
def test_a_vessel_needs_only_base_and_water(read_text: ReadText) -> None:
    line = "lines: {x: {pipe: pvc 25, from: a, route: [{down: 1 m}], to: open air}}"
    vessel = read_text(f"vessels: {{a: {{base: 2 m, water: 0.5 m}}}}\n{line}").vessels["a"]
    assert (vessel.base, vessel.water, vessel.level) == (2.0, 0.5, 2.5)
    assert (vessel.rim, vessel.area, vessel.wants, vessel.holds, vessel.at) == (None,) * 5


@pytest.mark.invariant
def test_a_vessel_may_be_full_to_the_rim(read_text: ReadText) -> None:
    line = "lines: {x: {pipe: pvc 25, from: a, route: [{down: 1 m}], to: open air}}"
    assert read_text(f"vessels: {{a: {{base: 1 m, rim: 0.5 m, water: 0.5 m}}}}\n{line}").vessels["a"].water == 0.5


@pytest.mark.invariant
def test_a_vessel_may_be_dry(read_text: ReadText) -> None:
    line = "lines: {x: {pipe: pvc 25, from: open air, route: [{down: 1 m}], to: {vessel: a, height: 0 m}}}"
    layout = read_text(f"vessels: {{a: {{base: 1 m, water: 0 m}}}}\n{line}")
    assert layout.vessels["a"].level == 1.0
    assert not layout.lines["x"].end.submerged


@pytest.mark.second_method
def test_all_that_a_vessel_may_say(read_text: ReadText) -> None:
    text = """\
    vessels:
      a: {base: -0.3 m, rim: 1 m, water: 0.5 m, area: 2 m2, wants: 14 L/min, holds: solids filter,
          at: {west: 2 m, north: 1 m}}
    lines: {x: {pipe: pvc 25, from: a, route: [{down: 1 m}], to: open air}}
    """
    vessel = read_text(text).vessels["a"]
    assert (vessel.area, vessel.wants, vessel.holds) == (2.0, approx(14 / 60000), "solids filter")
    assert (vessel.at, vessel.base) == ((-2.0, 1.0), -0.3)


@pytest.mark.second_method
def test_heights_run_through_tees_and_the_file_needs_no_plan(read_text: ReadText) -> None:
    text = (
        VESSELS
        + """\
pumps: {lift: {in: tank, height: 0.05 m, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 1.5 m}, tee: t, {up: 0.5 m}], to: cap}
  side: {pipe: pvc 25, from: t, route: [{east: 1 m, down: 40 mm}], to: bed}
"""
    )
    layout = read_text(text)
    assert layout.tees["t"].place[2] == approx(1.55)
    assert layout.lines["side"].end.place == approx((1.0, 0.0, 1.51))


@pytest.mark.second_method
def test_a_stated_place_moves_the_pipework(read_text: ReadText) -> None:
    text = (
        VESSELS.replace("area: 1 m^2", "area: 1 m^2, at: {east: 10 m, south: 5 m}")
        + """\
lines:
  over: {pipe: pvc 25, from: tank, route: [{up: 2 m}, elbow, {east: 3 m}], to: bed}
  back: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 1 m}], to: open air}
"""
    )
    layout = read_text(text)
    assert layout.lines["over"].start.place == approx((10.0, -5.0, 0.0))
    assert layout.lines["back"].start.place == approx((13.0, -5.0, 1.2))


@pytest.mark.pinned
def test_a_line_that_no_height_reaches_begins_at_the_datum_and_says_so(read_text: ReadText) -> None:
    layout = read_text("lines: {x: {pipe: pvc 25, from: open air, route: [{up: 1 m}], to: cap}}")
    assert layout.lines["x"].start.place == (0.0, 0.0, 0.0)
    assert "its walk begins at the site's datum" in [default.what for default in layout.defaults]


# ---------------------------------------------------------------------- other ends


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("end", "kind", "name", "draw", "loss"),
    [
        ("open air", "open air", None, 0.0, None),
        ("{open air: yes, K: 0}", "open air", None, 0.0, 0.0),
        ("{open air: }", "open air", None, 0.0, None),
        ("plug", "plug", None, 0.0, None),
        ("{plug: yes}", "plug", None, 0.0, None),
        ("cap c9", "cap", "c9", 0.0, None),
        ("{cap: c9}", "cap", "c9", 0.0, None),
        ("{draws: 6 L/min}", "draw", None, 1e-4, None),
        ("{draws: 0 L/min}", "draw", None, 0.0, None),
        ("{draws: -6 L/min, K: 1}", "draw", None, -1e-4, 1.0),
    ],
)
@pytest.mark.parametrize("side", ["from", "to"])
def test_ends_of_every_other_kind(
    read_text: ReadText, side: str, end: str, kind: str, name: str | None, draw: float, loss: float | None
) -> None:
    start, stop = (end, "tank") if side == "from" else ("tank", end)
    text = f"{VESSELS}lines: {{a: {{pipe: pvc 25, from: {start}, route: [{{up: 1 m}}], to: {stop}}}}}"
    line = read_text(text).lines["a"]
    found = line.start if side == "from" else line.end
    assert (found.kind, found.name, found.loss) == (kind, name, loss)
    assert found.draw == approx(draw)


@pytest.mark.second_method
def test_open_air_at_a_stated_height(read_text: ReadText) -> None:
    text = "lines: {x: {pipe: pvc 25, from: {open air: yes, height: 2 m}, route: [{down: 0.5 m}], to: open air}}"
    assert read_text(text).lines["x"].end.place[2] == approx(1.5)


@pytest.mark.second_method
def test_one_word_may_be_written_out(read_text: ReadText) -> None:
    text = (
        VESSELS
        + """\
pumps: {lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}}
lines:
  a: {pipe: pvc 25, from: {pump: lift, K: 0.2}, route: [{up: 1 m}, tee: t, {up: 1 m}], to: {vessel: bed}}
  b: {pipe: pvc 25, from: {tee: t}, route: [{north: 1 m}], to: {cap: c}}
"""
    )
    layout = read_text(text)
    assert layout.lines["a"].start.kind == "pump"
    assert layout.lines["a"].start.loss == 0.2
    assert layout.lines["b"].start.name == "t"


# ---------------------------------------------------------------------- pumps


CURVE = "curve: [[0 L/min, 3 m], [40 L/min, 1 m]]"


@pytest.mark.second_method
def test_a_submersible_pump(read_text: ReadText) -> None:
    text = VESSELS + f"pumps: {{lift: {{in: tank, height: 5 cm, {CURVE}, power: 45 W}}}}\n"
    layout = read_text(text + "lines: {a: {pipe: pvc 25, from: lift, route: [{up: 1.2 m}], to: bed}}")
    pump = layout.pumps["lift"]
    assert (pump.vessel, pump.height, pump.power, pump.assumed) == ("tank", 0.05, 45.0, False)
    assert pump.curve == (approx((0.0, 3.0)), approx((40 / 60000, 1.0)))
    assert layout.lines["a"].start.place[2] == approx(0.05)


@pytest.mark.second_method
def test_a_pump_with_a_suction_line_and_another_in_series(read_text: ReadText) -> None:
    text = (
        VESSELS
        + f"""\
pumps: {{one: {{{CURVE}}}, two: {{{CURVE}}}}}
lines:
  suction: {{pipe: pvc 32, from: {{vessel: tank, height: 0.1 m}}, route: [{{east: 1 m}}], to: one}}
  between: {{pipe: pvc 25, from: one, route: [{{up: 0.5 m}}], to: two}}
  riser: {{pipe: pvc 25, from: two, route: [{{up: 0.7 m}}], to: bed}}
"""
    )
    layout = read_text(text)
    assert layout.lines["between"].start.place == approx((1.0, 0.0, 0.1))
    assert layout.lines["riser"].end.place[2] == approx(1.3)
    assert [(s.tail, s.head) for s in layout.stretches] == [
        ("suction.from", "one.in"),
        ("one.out", "two.in"),
        ("two.out", "riser.to"),
    ]


@pytest.mark.second_method
def test_pumps_in_parallel(read_text: ReadText) -> None:
    text = (
        VESSELS
        + f"""\
pumps: {{one: {{in: tank, {CURVE}}}, two: {{in: tank, {CURVE}}}}}
lines:
  riser: {{pipe: pvc 25, from: one, route: [{{up: 1 m}}, tee: t, {{up: 0.5 m}}], to: bed}}
  other: {{pipe: pvc 25, from: two, route: [{{up: 1 m}}, elbow, {{east: 0.5 m}}], to: t}}
"""
    )
    layout = read_text(text)
    assert layout.lines["other"].start.place == approx((-0.5, 0.0, 0.0))
    assert near(layout.tees["t"].legs[2].heading, WEST)


@pytest.mark.second_method
def test_a_pump_of_which_only_the_box_is_known(read_text: ReadText) -> None:
    """A parabola from the highest head to the largest flow; the output says that it is assumed."""
    text = VESSELS + "pumps: {lift: {in: tank, curve: {highest head: 3 m, largest flow: 40 L/min}}}\n"
    layout = read_text(text + "lines: {a: {pipe: pvc 25, from: lift, route: [{up: 1.2 m}], to: bed}}")
    curve = layout.pumps["lift"].curve
    assert layout.pumps["lift"].assumed
    assert curve[0] == approx((0.0, 3.0))
    assert curve[-1] == approx((40 / 60000, 0.0))
    for flow, head in curve:
        assert head == approx(3.0 * (1 - (flow / (40 / 60000)) ** 2))
    assert "a parabola from its highest head to its largest flow" in [default.what for default in layout.defaults]


# ---------------------------------------------------------------------- mirrored and turned round


TEXT = """\
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2, at: {east: 1 m, north: 2 m}}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}
lines:
  riser:
    pipe: pvc 25
    from: {vessel: tank, height: 0.1 m}
    route:
      - up: 1.4 m
      - sweep
      - east: 2 m
      - cap: c1
      - {east: 0.5 m, down: 10 mm}
      - wye: y
      - {east: 1 m, down: 20 mm}
      - bend 45
      - bend 45
      - {south: 1 m}
      - cap: c3
      - {down: 0.27 m}
    to: {vessel: bed, height: 0.2 m}
  spur:
    pipe: pvc 25
    from: y
    route: [{east: 0.8 m, south: 0.6 m}]
    to: cap c2
"""


@pytest.mark.invariant
def test_mirrored_in_plan(read_text: ReadText) -> None:
    """East and west exchanged: the same places mirrored, the same lengths, turns, angles and heights."""
    swap = TEXT.replace("east", "EAST").replace("west", "east").replace("EAST", "west")
    one, two = read_text(TEXT), read_text(swap)

    def flip(vector: Vector) -> Vector:
        return (-vector[0], vector[1], vector[2])

    for name, line in one.lines.items():
        other = two.lines[name]
        assert other.length == approx(line.length)
        assert near(flip(other.end.place), line.end.place)
        for part, image in zip(line.parts, other.parts, strict=True):
            assert near(flip(image.end), part.end)
            assert near(flip(image.heading_out), part.heading_out)
            assert image.turn == approx(part.turn)
            assert part.faces is None or (image.faces is not None and near(flip(image.faces), part.faces))
    assert two.tees["y"].angle == approx(one.tees["y"].angle)
    assert [leg.side for leg in two.tees["y"].legs] == [leg.side for leg in one.tees["y"].legs]


def turned_round(text: str) -> str:
    """The line `riser` walked from its other end."""
    opposite = {"up": "down", "down": "up", "east": "west", "west": "east", "north": "south", "south": "north"}
    head, _, rest = text.partition("    route:\n")
    steps, _, tail = rest.partition("    to:")
    end, _, after = tail.partition("\n")
    lines = [
        " ".join(
            opposite.get(word.strip("{:"), word.strip("{:")).join(word.split(word.strip("{:")))
            if word.strip("{:") in opposite
            else word
            for word in line.split(" ")
        )
        for line in steps.splitlines()[::-1]
    ]
    start = head.rpartition("    from:")
    return f"{start[0]}    from:{end}\n    route:\n" + "\n".join(lines) + f"\n    to:{start[2]}{after}"


@pytest.mark.invariant
def test_a_line_walked_from_its_other_end(read_text: ReadText) -> None:
    """The same places, turns, faces and stretches, in reverse; the tee keeps its run, branch and angle."""
    one, two = read_text(TEXT), read_text(turned_round(TEXT))
    line, back = one.lines["riser"], two.lines["riser"]
    assert back.length == approx(line.length)
    assert near(back.start.place, line.end.place)
    assert near(back.start.heading, line.end.heading)
    for part, image in zip(line.parts, back.parts[::-1], strict=True):
        assert image.kind == part.kind
        assert near(image.start, part.end)
        assert near(image.heading_in, (-part.heading_out[0], -part.heading_out[1], -part.heading_out[2]))
        assert image.turn == approx(part.turn)
        assert image.at == approx(line.length - part.at - part.length)
        assert part.faces is None or (image.faces is not None and near(image.faces, part.faces))
    stretches = [[s for s in layout.stretches if s.line == "riser"] for layout in (one, two)]
    assert [s.length for s in stretches[1]] == approx([s.length for s in stretches[0][::-1]])
    ends = [
        ("riser.to" if s.tail == "riser.from" else s.tail, "riser.from" if s.head == "riser.to" else s.head)
        for s in stretches[1]
    ]
    assert [(head, tail) for tail, head in ends] == [(s.tail, s.head) for s in stretches[0][::-1]]
    tee, turned = one.tees["y"], two.tees["y"]
    assert turned.angle == approx(tee.angle)
    exchange = {"before": "after", "after": "before", "from": "from"}
    assert [exchange[leg.side] for leg in turned.legs] == [leg.side for leg in tee.legs]
    assert near(turned.place, tee.place)


@pytest.mark.invariant
def test_a_file_in_feet_is_the_same_layout(read_text: ReadText) -> None:
    """Every number of the courtyard in other units: the same places within the digits written."""
    line = "lines: {a: {pipe: pvc 25, from: tank, route: [{up: 1.524 m}, elbow, {east: 0.3048 m}], to: bed}}"
    metric = read_text(VESSELS + line)
    feet = read_text(
        textwrap.dedent("""\
        vessels:
          tank: {base: 0 ft, rim: 3.28084 ft, water: 31.496063 in, area: 10.7639104 ft^2}
          bed: {base: 3 ft 3.3700787 in, rim: 11.8110236 in, water: 7.87401575 in}
        lines: {a: {pipe: pvc 25, from: tank, route: [{up: 5 ft}, elbow, {east: 12 in}], to: bed}}
        """)
    )
    assert feet.lines["a"].end.place == approx(metric.lines["a"].end.place)
    assert feet.vessels["tank"].area == approx(metric.vessels["tank"].area)
    assert feet.vessels["bed"].level == approx(metric.vessels["bed"].level)
    assert (feet.units.length, feet.units.size, feet.units.flow, feet.units.volume) == ("ft", "in", "gal/min", "gal")
    assert metric.units.length == "m"


@pytest.mark.pinned
def test_a_name_that_begins_with_a_kind_of_end_is_a_name(read_text: ReadText) -> None:
    """A tee called 'pump tee' is that tee, and no pump written wrongly."""
    layout = read_text("""
vessels: {tank: {base: 0 m, water: 0.5 m}}
lines:
  main: {pipe: pvc 20, from: {vessel: tank, height: 0 m}, route: [{east: 1 m}, tee: pump tee, {east: 1 m}], to: cap}
  spur: {pipe: pvc 20, from: pump tee, route: [{north: 0.1 m}], to: cap}
""")
    assert layout.lines["spur"].start.name == "pump tee"


@pytest.mark.invariant
@pytest.mark.parametrize(
    "odd",
    [
        "from: t1, route: [up: 1 m, elbow, east: 1 m, elbow, down: 1 m, elbow, west: 1 m, tee: t1, west: 0.3 m], to: open air",
        "from: open air, route: [east: 0.3 m, tee: t1, east: 1 m, elbow, up: 1 m, elbow, west: 1 m, elbow, down: 1 m], to: t1",
        "from: t1, route: [{tee: {id: t1, K: 1}}, hose: {east: 1 m}], to: open air",
    ],
)
def test_a_line_may_start_or_end_at_its_own_tee(odd: str, read_text: ReadText) -> None:
    """A ring on itself, which moves no water."""
    layout = read_text(f"lines:\n  odd: {{pipe: pvc 25, {odd}}}\n")
    assert [leg.line for leg in layout.tees["t1"].legs] == ["odd"] * 3
    assert all(abs(one.flow) < 1e-9 for one in check(layout).flows.stretches.values())
