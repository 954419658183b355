"""Walks as people walk: left and right, falls and rises, several lines at one place, rows that repeat.

Second methods: each is written again in the long way, with compass words and one statement for each pipe.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from plumbline.check import check
from plumbline.errors import LayoutError
from plumbline.hydraulics import losses
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.how_sure import how_sure
from plumbline.layout.kinds import slope_of
from plumbline.layout.model import Layout
from plumbline.parts.bill import bill_of
from plumbline.redesign.script import CannotChange, read_script

ReadText = Callable[[str], Layout]


def walked(read_text: ReadText, *steps: str) -> Layout:
    route = "\n".join(f"      - {step}" for step in steps)
    return read_text(
        "vessels: {tank: {base: 0 m, water: 0.5 m}}\nlines:\n  a:\n    pipe: pvc 25\n    from: tank\n"
        f"    route:\n{route}\n    to: open air\n"
    )


def places(layout: Layout) -> list[tuple[float, ...]]:
    return [tuple(round(x, 9) for x in part.end) for part in layout.lines["a"].parts]


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("mine", "compass"),
    [
        (
            ["ahead: 1 m", "elbow", "left: 2 m", "elbow", "left: 3 m"],
            ["north: 1 m", "elbow", "west: 2 m", "elbow", "south: 3 m"],
        ),
        (
            ["up: 1 m", "elbow", "right: 2 m", "elbow", "up: 1 m", "elbow", "back: 1 m"],
            ["up: 1 m", "elbow", "east: 2 m", "elbow", "up: 1 m", "elbow", "west: 1 m"],
        ),
        (
            ["south: 1 m", "elbow", "left: 2 m", "elbow", "right: 1 m"],
            ["south: 1 m", "elbow", "east: 2 m", "elbow", "south: 1 m"],
        ),
        (
            ["east: 1 m", "bend 45", "{ahead: 1 m, left: 1 m}", "bend 45", "{left: 0.5 m, ahead: 0.5 m}"],
            ["east: 1 m", "bend 45", "{east: 1 m, north: 1 m}", "bend 45", "north: 0.707106781 m"],
        ),
        (
            ["west: 1 m", "elbow", "down: 1 m", "cap: ahead", "left: 1 m"],
            ["west: 1 m", "elbow", "down: 1 m", "cap: west", "south: 1 m"],
        ),
        (
            ["east: 1 m", "hose: {left: 1 m, length: 1.2 m}", "ahead: 1 m"],
            ["east: 1 m", "hose: {north: 1 m, length: 1.2 m}", "north: 1 m"],
        ),
    ],
)
def test_left_and_right_turn_with_the_walk(read_text: ReadText, mine: list[str], compass: list[str]) -> None:
    one, other = walked(read_text, *mine), walked(read_text, *compass)
    assert places(one) == places(other)
    assert [part.faces for part in one.lines["a"].parts] == [part.faces for part in other.lines["a"].parts]


@pytest.mark.invariant
def test_a_walk_that_begins_to_the_left_says_where_it_faces(read_text: ReadText) -> None:
    says = [default.what for default in walked(read_text, "up: 1 m", "elbow", "left: 2 m").defaults]
    assert "it begins facing north" in says
    assert "it begins facing north" not in [
        d.what for d in walked(read_text, "east: 1 m", "elbow", "left: 2 m").defaults
    ]


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("2 %", 0.02),
        ("1 in 50", 0.02),
        ("1:50", 0.02),
        ("1 to 50", 0.02),
        ("20 mm/m", 0.02),
        ("2 cm per m", 0.02),
        ("1/4 in per ft", 0.25 / 12),
        ('1/4" per foot', 0.25 / 12),
        ("0.02", 0.02),
        ("2 deg", math.tan(math.radians(2))),
    ],
)
def test_a_slope_in_every_way(read_text: ReadText, text: str, share: float) -> None:
    assert slope_of(text) == pytest.approx(share, rel=1e-12)
    for word, sign in (("fall", -1.0), ("rise", 1.0)):
        end = walked(read_text, f"{{east: 3 m, north: 4 m, {word}: {text}}}").lines["a"].parts[0].end
        assert end == pytest.approx((3.0, 4.0, sign * 5.0 * share), rel=1e-12)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("{east: 1 m, fall: steep}", "'fall' is 'steep'"),
        ("{east: 1 m, fall: 2}", "for 2 per cent write 2 %"),
        ("{east: 1 m, fall: 2 %, down: 1 cm}", "'fall' and 'down' for one run"),
        ("{east: 1 m, fall: 2 %, rise: 1 %}", "'fall' and 'rise'"),
        ("{up: 1 m, fall: 2 %}", "'fall' and 'up' for one run"),
        ("{fall: 2 %}", "what belongs to one run stands together in its braces: {ahead: 2 m, fall: 2 %}"),
        ("{east: 1 m, fall: 1 in 0}", "'fall' is '1 in 0'"),
        ("{left: -1 m}", "to go the other way write right: 1 m"),
    ],
)
def test_a_slope_that_cannot_be(read_text: ReadText, step: str, said: str) -> None:
    with pytest.raises(LayoutError) as error:
        walked(read_text, step)
    assert said in str(error.value)


# Several lines at one place, and rows


CROSS = """\
water: 20 degC
vessels:
  tank: {{base: 3 m, water: 10 m}}
  {vessels}
lines:
  main:
    pipe: pvc 32
    from: {{vessel: tank, height: 0 m}}
    route: [{{down: 1 m}}, {joint}, {{down: 1 m}}]
    to: open air
  left: {{pipe: pvc 25, from: {first}, route: [{{west: 1 m}}], to: open air}}
  right: {{pipe: pvc 25, from: {second}, route: [{{east: 1 m}}], to: open air}}
"""


def flows_of(layout: Layout) -> dict[str, float]:
    return {name: one.flow for name, one in find_flows(layout).stretches.items()}


@pytest.mark.second_method
def test_a_cross_is_two_tees_at_one_place(read_text: ReadText) -> None:
    """Against two tees with a millimetre of pipe between them, whose friction is nothing beside their losses."""
    cross = flows_of(read_text(CROSS.format(vessels="", joint="cross: x", first="x", second="x")))
    tees = flows_of(read_text(CROSS.format(vessels="", joint="tee: a, {down: 0.1 mm}, tee: b", first="a", second="b")))
    assert cross["left.1"] == pytest.approx(tees["left.1"], rel=1e-3)
    assert cross["right.1"] == pytest.approx(tees["right.1"], rel=1e-3)
    assert cross["main.3"] == pytest.approx(tees["main.3"], rel=1e-3)


@pytest.mark.invariant
def test_a_cross_is_bought_as_one_and_is_less_sure_than_tees(read_text: ReadText) -> None:
    layout = read_text(CROSS.format(vessels="", joint="cross: x", first="x", second="x"))
    assert {item.kind: item.count for item in bill_of(layout).items if item.kind in ("tee", "cross")} == {"cross": 1}
    assert all(piece.length > 0.9 for piece in bill_of(layout).pieces)
    two = read_text(CROSS.format(vessels="", joint="tee: a, {down: 0.1 mm}, tee: b", first="a", second="b"))
    wide, narrow = (
        {number.name: number.sigma for number in how_sure(one, find_flows(one)).numbers} for one in (layout, two)
    )
    assert wide["the losses of crosses"] == pytest.approx(2.0 * narrow["the losses of tees"])


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ("x", "open air", "not two lines join cross 'x'"),
        ("x 1", "x 1", "not two lines join cross 'x'"),
    ],
)
def test_a_cross_wants_two_lines(read_text: ReadText, first: str, second: str, said: str) -> None:
    with pytest.raises(LayoutError) as error:
        read_text(CROSS.format(vessels="", joint="cross: x", first=first, second=second))
    assert said in str(error.value)


@pytest.mark.second_method
def test_a_manifold_is_its_runs_and_tees(read_text: ReadText) -> None:
    head = "water: 20 degC\nvessels: {tank: {base: 3 m, water: 10 m}}\nlines:\n  main:\n    pipe: pvc 32\n    from: {vessel: tank, height: 0 m}\n"
    short = read_text(
        head + "    route: [{manifold: {id: m, east: 2 m, outlets: 3, spacing: 0.5 m}}]\n    to: cap\n"
        "  drop: {pipe: pvc 20, from: m, route: [{down: 1 m}], to: open air}\n"
    )
    long = read_text(
        head
        + "    route: [{east: 0.5 m}, tee: a, {east: 0.5 m}, tee: b, {east: 0.5 m}, tee: c, {east: 0.5 m}]\n    to: cap\n"
        + "".join(
            f"  drop {k}: {{pipe: pvc 20, from: {t}, route: [{{down: 1 m}}], to: open air}}\n"
            for k, t in ((1, "a"), (2, "b"), (3, "c"))
        )
    )
    assert list(short.lines) == ["main", "drop 1", "drop 2", "drop 3"]
    assert [tuple(round(x, 9) for x in tee.place) for tee in short.tees.values()] == [
        tuple(round(x, 9) for x in tee.place) for tee in long.tees.values()
    ]
    assert flows_of(short) == pytest.approx(flows_of(long), rel=1e-9)


CHANGEOVER = """
vessels:
  sump: {base: 0 m, rim: 0.6 m, water: 0.45 m, area: 1 m^2}
  east bed: {holds: plants, base: 0.9 m, rim: 0.3 m, water: 0.2 m, area: 1.5 m^2, wants: 10 L/min}
  west bed: {holds: plants, base: 0.9 m, rim: 0.3 m, water: 0.2 m, area: 1.5 m^2, wants: 10 L/min}
pumps: {lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 3.6 m], [40 L/min, 1 m]]}}
lines:
  feed:
    pipe: pvc 25
    from: lift
    route: [{up: 1.3 m}, {three-way valve: {id: swap, opens: OPENS, port: L}}, {east: 1 m}, elbow, {down: 0.1 m}]
    to: east bed
  west feed: {pipe: pvc 25, from: swap, route: [{west: 1 m}, elbow, {down: 0.1 m}], to: west bed}
  east drain: {pipe: pvc 40, from: {vessel: east bed, standpipe: 0.2 m}, route: [{down: 0.5 m}], to: sump}
  west drain: {pipe: pvc 40, from: {vessel: west bed, standpipe: 0.2 m}, route: [{down: 0.5 m}], to: sump}
"""


@pytest.mark.invariant
def test_an_l_port_come_to_by_its_side_is_told_what_it_can_open_and_that_is_read(read_text: ReadText) -> None:
    with pytest.raises(LayoutError) as error:
        read_text(CHANGEOVER.replace("OPENS", "both"))
    assert "what it opens: ahead, or side" in str(error.value)
    for opens in ("ahead", "side"):
        assert read_text(CHANGEOVER.replace("OPENS", opens)).tees


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("opens", "cure"), [("ahead", "so that it opens to 'west feed'"), ("side", "step 2 of line 'feed'")]
)
def test_a_bed_behind_a_three_way_valve_that_is_turned_away_is_told_where_that_stands(
    read_text: ReadText, opens: str, cure: str
) -> None:
    (found,) = (one for one in check(read_text(CHANGEOVER.replace("OPENS", opens))).findings if one.level == "fail")
    assert cure in found.cure
    assert "at step 2 of line 'feed'" in found.cure


TOWERS = """\
vessels:
  sump: {base: 0 m, water: 0.5 m}
  tower: {again: 3, base: 0.5 m, water: 0.05 m}
lines:
  header:
    pipe: pe 25
    from: {vessel: sump, height: 0.1 m}
    route: [{up: 1.5 m}, elbow, {manifold: {id: m, east: 3 m, outlets: 3}}]
    to: cap
  drop: {pipe: pe 16, from: m, route: [{down: 0.3 m}, ball valve: v, {down: 0.2 m}], to: tower}
  drain: {pipe: pvc 25, from: {vessel: tower, standpipe: 0.05 m}, route: [{down: 0.3 m}], to: sump}
"""


@pytest.mark.invariant
def test_rows_repeat_with_their_names_numbered(read_text: ReadText) -> None:
    layout = read_text(TOWERS)
    assert [*layout.vessels] == ["sump", "tower 1", "tower 2", "tower 3"]
    assert [*layout.lines] == ["header", "drop 1", "drop 2", "drop 3", "drain 1", "drain 2", "drain 3"]
    assert [line.end.name for line in layout.lines.values()][1:4] == ["tower 1", "tower 2", "tower 3"]
    assert [part.id for line in layout.lines.values() for part in line.parts if part.kind == "ball valve"] == [
        "v 1",
        "v 2",
        "v 3",
    ]
    easts = [
        round(layout.lines[f"drop {k}"].start.place[0] - layout.lines["drop 1"].start.place[0], 9) for k in (1, 2, 3)
    ]
    assert easts == [0.0, 1.0, 2.0]


@pytest.mark.invariant
def test_a_line_may_begin_at_each_of_several_places(read_text: ReadText) -> None:
    layout = read_text("""\
        vessels: {a: {base: 1 m, water: 0.3 m}, b: {base: 1 m, water: 0.3 m}, sump: {base: 0 m, water: 0.3 m}}
        lines:
          drain: {pipe: pvc 50, from: [{vessel: a, standpipe: 0.3 m}, {vessel: b, standpipe: 0.3 m}], route: [{down: 0.8 m}], to: sump}
        """)
    assert {name: (line.start.name, line.end.name) for name, line in layout.lines.items()} == {
        "drain 1": ("a", "sump"),
        "drain 2": ("b", "sump"),
    }


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("again: 3", "again: 4", "line 'drop' would stand 3 and 4 times"),
        ("outlets: 3", "outlets: 3, spacing: 2 m", "3 outlets do not fit on manifold 'm'"),
        ("to: tower}", "to: towers}", "unknown name 'towers'"),
        ("sump: {base", "drop 1: {base: 0 m, water: 0.1 m}\n  sump: {base", None),
    ],
)
def test_a_row_that_does_not_fit(read_text: ReadText, old: str, new: str, said: str | None) -> None:
    if said is None:
        assert read_text(TOWERS.replace(old, new)).lines
        return
    with pytest.raises(LayoutError) as error:
        read_text(TOWERS.replace(old, new))
    assert said in str(error.value)


TURN = """\
water: 20 degC
vessels: {{tank: {{base: 3 m, water: 10 m}}}}
lines:
  main:
    pipe: pvc 25
    from: {{vessel: tank, height: 0 m}}
    route: [{{down: 1 m}}, three-way valve: {{id: turn, {said}}}, {after}]
    to: open air
  side: {{pipe: pvc 25, from: turn, route: [{side}], to: open air}}
"""


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("opens", "ahead", "side"),
    [
        ("ahead", True, False),
        ("side", False, True),
        ("both", True, True),
        ("shut", False, False),
        ("ahead to side", False, False),
    ],
)
def test_a_three_way_valve_opens_the_legs_that_it_says(
    read_text: ReadText, opens: str, ahead: bool, side: bool
) -> None:
    layout = read_text(TURN.format(said=f"opens: {opens}", after="{down: 1 m}", side="{east: 1 m}"))
    flows = flows_of(layout)
    assert (flows["main.2"] > 1e-6, flows["side.1"] > 1e-6) == (ahead, side)
    assert {item.kind: item.count for item in bill_of(layout).items if "valve" in item.kind or item.kind == "tee"} == {
        "three-way valve": 1
    }


@pytest.mark.second_method
@pytest.mark.parametrize(("opens", "k1", "ki"), [("ahead", 300.0, 0.14), ("side", 500.0, 0.41)])
def test_a_three_way_valve_costs_what_the_table_says(read_text: ReadText, opens: str, k1: float, ki: float) -> None:
    """The same pipe with that K written out as a fitting; the rest of the valve costs nothing."""
    layout = read_text(TURN.format(said=f"opens: {opens}", after="{down: 1 m}", side="{east: 1 m}"))
    leg = "main.2" if opens == "ahead" else "side.1"
    flow = flows_of(layout)[leg]
    bore = layout.lines["main"].parts[0].pipe.bore
    reynolds = flow / (math.pi / 4 * bore) / (layout.water.viscosity / layout.water.density)
    k = losses.three_k(bore, k1, ki, 4.0)[0] + k1 / reynolds
    plain = read_text(
        TURN.replace("three-way valve: {{id: turn, {said}}}", "tee: {{id: turn, K: 0}}")
        .format(
            after="{down: 1 m}" if opens == "ahead" else "ball valve: shut, {down: 1 m}",
            side=f"fitting: {{K: {k}}}, {{east: 1 m}}" if opens == "side" else "ball valve: shut, {east: 1 m}",
        )
        .replace("{down: 1 m}]", f"fitting: {{K: {k}}}, {{down: 1 m}}]" if opens == "ahead" else "{down: 1 m}]")
    )
    assert flows_of(plain)[leg] == pytest.approx(flow, rel=1e-9)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("said", "after", "side", "fault"),
    [
        ("opens: ahead, port: L", "{down: 1 m}", "{east: 1 m}", "has an L port, which does not open those legs"),
        ("opens: side, port: L", "{down: 1 m}", "{east: 1 m}", None),
        ("opens: ahead, port: L", "{east: 1 m}", "{west: 1 m}", None),
        ("opens: side, port: L", "{east: 1 m}", "{west: 1 m}", None),
        ("opens: ahead to side, port: L", "{east: 1 m}", "{west: 1 m}", "has an L port"),
        ("opens: both, port: L", "{east: 1 m}", "{west: 1 m}", "has an L port"),
        ("port: L", "{down: 1 m}", "{east: 1 m}", "a three-way valve that does not say where it points"),
    ],
)
def test_an_l_port_joins_its_side_to_one_end(
    read_text: ReadText, said: str, after: str, side: str, fault: str | None
) -> None:
    text = TURN.format(said=said, after=after, side=side)
    if fault is None:
        assert read_text(text).tees
        return
    with pytest.raises(LayoutError) as error:
        read_text(text)
    assert fault in str(error.value)


@pytest.mark.invariant
def test_a_redesign_counts_steps_as_the_text_does_and_a_row_once(read_text: ReadText) -> None:
    """A manifold is one step however many outlets it has; of a row's lines none stands in the text by itself."""
    layout = read_text(TOWERS)
    script = read_script(layout.text)
    (step,) = {int(str(part.step)) for part in layout.lines["header"].parts if part.kind == "tee"}
    assert [key.text for key, _ in script.step("header", step).pairs or ()] == ["manifold"]
    with pytest.raises(CannotChange, match="among several"):
        script.step("drop 2", 1)


HOSE_AT_A_TEE = """
vessels: {tank: {base: 0 m, water: 0.7 m}, bed: {base: 0.9 m, rim: 0.3 m, water: 0.2 m}}
pumps: {lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}}
lines:
  feed:
    pipe: hose 19 mm
    from: lift
    route: [{up: 0.9 m}, barb, tee: split, barb, {hose: {up: 0.5 m, east: 1 m, length: 1.4 m}}]
    to: bed
  by-pass: {pipe: hose 19 mm, from: split, route: [{WAY: 0.1 m}, elbow, {down: 0.4 m}], to: tank}
"""


@pytest.mark.invariant
def test_a_hose_takes_the_way_that_is_left_at_a_tee(read_text: ReadText) -> None:
    """It would turn east, as its far end lies; where the by-pass goes there the hose goes on upwards, and its barb with it."""
    layout = read_text(HOSE_AT_A_TEE.replace("WAY", "east"))
    tee = layout.tees["split"]
    assert {(leg.line, leg.side) for leg in tee.legs[:2]} == {("feed", "before"), ("feed", "after")}
    after = [part for part in layout.lines["feed"].parts if part.step in (3, 4)]
    assert [part.heading_out for part in after] == [pytest.approx((0.0, 0.0, 1.0))] * 2
    assert [part.turn for part in after] == [0.0, 0.0]
    turned = read_text(HOSE_AT_A_TEE.replace("WAY", "west"))
    assert {(leg.line, leg.side) for leg in turned.tees["split"].legs[:2]} == {("feed", "after"), ("by-pass", "from")}


@pytest.mark.pinned
def test_a_walk_to_the_left_that_runs_into_the_pipe_is_told_where_left_is(read_text: ReadText) -> None:
    with pytest.raises(LayoutError, match="a line begins facing north, so that its left is west"):
        read_text(
            "vessels: {a: {base: 1 m, water: 1 m}, b: {base: 0 m, water: 1 m}}\nlines:\n"
            "  main: {pipe: pvc 25, from: a, route: [{east: 1 m}, tee: t1, {east: 1 m}, elbow, {down: 1 m}], to: b}\n"
            "  side: {pipe: pvc 25, from: t1, route: [{left: 1 m}], to: open air}\n"
        )


@pytest.mark.pinned
def test_a_cross_and_a_three_way_valve_are_called_what_they_are(read_text: ReadText) -> None:
    layout = read_text(
        "vessels: {a: {base: 1 m, water: 1 m}, b: {base: 0 m, water: 1 m}, c: {base: 0 m, water: 0.5 m}}\nlines:\n"
        "  main: {pipe: pvc 25, from: a, route: [{east: 1 m}, cross: x, {east: 1 m}, three-way valve: {id: turn, opens: both}, "
        "{east: 1 m}, elbow, {down: 1 m}], to: b}\n"
        "  one: {pipe: pvc 25, from: x, route: [{north: 1 m}, elbow, {down: 0.8 m}], to: c}\n"
        "  two: {pipe: pvc 25, from: x, route: [{south: 1 m}], to: open air}\n"
        "  three: {pipe: pvc 25, from: turn, route: [{south: 1 m}], to: open air}\n"
    )
    assert [tee.called for tee in layout.tees.values()] == ["cross x", "cross x", "three-way valve turn"]
    losses = {part.label for route in find_flows(layout).routes for part in route.losses}
    assert "cross x" in losses
    assert not any(label.startswith("tee") for label in losses)
