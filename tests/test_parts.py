"""Parts and pieces: two layouts counted by hand, laying lengths against the standards' tables, and lines put together again from their
pieces."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plumbline import catalogue, read_layout
from plumbline.layout.model import Layout, Line, Pipe, Vector
from plumbline.layout.vectors import add, minus, size, unit
from plumbline.layout.words import OPPOSITE
from plumbline.parts import Bill, bill_of, plan_of
from plumbline.parts.cuts import cut_line
from plumbline.parts.sizes import alike, joints, lay_of, socket_depth, tee_fit
from plumbline.parts.walk_of_line import Stands, walk_of
from plumbline.parts.words import part_kinds

ReadText = Callable[[str], Layout]
LAYOUTS = Path(__file__).parent.parent / "layouts"
EVERY = sorted(LAYOUTS.glob("*.yaml"))
HEAD = """\
name: a bench
vessels:
  tub: {base: 0 m, water: 0.3 m, rim: 0.5 m, area: 1 m^2}
  bed: {base: 1 m, water: 0.2 m, rim: 0.3 m, area: 1 m^2}
pumps:
  p: {in: tub, curve: [[0 L/min, 4 m], [40 L/min, 1 m]]}
lines:
"""


def counts(bill: Bill) -> dict[tuple[str, str], int]:
    return {(item.kind, item.size): item.count for item in bill.items}


def cut(bill: Bill, mark: str) -> float:
    """A piece's length [mm], to a hundredth."""
    (piece,) = [piece for piece in bill.pieces if piece.mark == mark]
    return round(1000.0 * piece.length, 2)


# ---------------------------------------------------------------------- counted by hand


@pytest.mark.second_method
def test_the_courtyard_counted_by_hand() -> None:
    bill = bill_of(read_layout(LAYOUTS / "courtyard.yaml"))
    assert counts(bill) == {
        ("bend 45", "pvc 25"): 4,  # two before each bed
        ("bend 45", "pvc 63"): 4,  # two in each return
        ("tee", "pvc 32"): 1,  # the riser comes in at its branch, so that the run is of 32 too,
        ("reducing bush", "pvc 32 x pvc 25"): 2,  # with a bush for each bed's pipe
        ("cap", "pvc 32"): 1,
        ("cap", "pvc 63"): 2,
        ("union", "pvc 32"): 1,
        ("union", "pvc 25"): 2,
        ("bulkhead", "pvc 63"): 2,  # under each standpipe
        ("pump adapter", "pvc 32"): 1,
    }
    assert {item.kind for item in bill.items if item.implied} == {"reducing bush", "bulkhead", "pump adapter"}
    assert {row.pipe.name: row.pieces for row in bill.totals} == {"pvc 63": 10, "pvc 32": 3, "pvc 25": 8}
    walked = {row.pipe.name: round(row.walked, 3) for row in bill.totals}
    # 1.0 + 0.55 + √(0.8² + 0.01²); 2 (0.2 + √(1 + 0.015²) + 0.06 √2 + 0.03); 2 (0.35 + √(1.2² + 0.03²) + 0.08 √2 + 0.1)
    assert walked == {"pvc 32": 2.350, "pvc 25": 2.630, "pvc 63": 3.527}
    # Union 0.1·32 + 4 = 7.2; capped tee and tee 16 + 1 = 17; union 0.1·25 + 4 = 6.5; bend 0.21·25 + 1 = 6.25; a bush from 32 to 25
    # stands 22 − 18.5 = 3.5 out of the tee.
    assert cut(bill, "riser 3") == 550 - 7.2 - 17
    assert cut(bill, "riser 7") == pytest.approx(200 - (17 + 3.5) - 6.5)
    assert cut(bill, "riser 13") == 30 - 6.25
    assert cut(bill, "north return 1a") == 220
    assert cut(bill, "north return 1b") == 130 - 32.5


@pytest.mark.second_method
def test_the_tangle_counted_by_hand() -> None:
    bill = bill_of(read_layout(LAYOUTS / "tangle.yaml"))
    assert counts(bill) == {
        ("elbow", "pvc 25"): 3,  # main 2, herb feed 1
        ("elbow", "pvc 50"): 7,  # overflow 2, filter return 4, lettuce drain 1
        ("elbow", "pvc 40"): 2,  # tomato drain, spare overflow
        ("elbow", "pvc 20"): 4,  # tomato feed
        ("elbow", "hose 13 mm"): 1,
        ("tee", "pvc 25"): 3,  # herb, lettuce, old bed
        ("tee", "pvc 25 x pvc 20"): 1,  # tomato
        ("tee", "pvc 50 x pvc 40"): 1,  # drain
        ("cap", "pvc 50"): 1,
        ("ball valve", "pvc 25"): 4,
        ("check valve", "pvc 40"): 1,
        ("union", "pvc 25"): 1,
        ("union", "pvc 20"): 1,
        ("end plug", "pvc 25"): 1,
        ("sleeve", "188 mm bore"): 1,
        ("pump adapter", "pvc 25"): 1,
        # Fish tank (through its wall), swirl filter from below and out again, lettuce bed; tomato bed, sump, fish tank; herb trough.
        ("bulkhead", "pvc 50"): 4,
        ("bulkhead", "pvc 40"): 3,
        ("bulkhead", "hose 13 mm"): 1,
    }
    # 1.8+1+.3+.5+.6+.6+.5+.3, .5+.6+.8, 1.8+.1, .15+.3+.3
    assert {row.pipe.name: round(row.walked, 2) for row in bill.totals}["pvc 25"] == 10.15
    assert sum(hose.length for hose in bill.hoses) == pytest.approx(0.2 + math.hypot(3.0, 0.02))
    # Ball valve 0.55·25 + 18 = 31.75, elbow and tee 12.5 + 1.
    assert cut(bill, "main 13") == 500 - 13.5 - 31.75
    assert cut(bill, "main 5") == 300 - 13.5 - 13.5
    assert cut(bill, "filter return 1a") == 700
    assert cut(bill, "filter return 1b") == 50 - 26


# ---------------------------------------------------------------------- published


@pytest.mark.published
@pytest.mark.parametrize(
    ("outside", "depth"),
    [(20, 16), (25, 18.5), (32, 22), (40, 26), (50, 31), (63, 37.5), (75, 43.5), (90, 51), (110, 61)],
)
def test_socket_depth_iso_727_1(outside: float, depth: float) -> None:
    # Length of sockets, ISO 727-1, table of the metric series [M]
    assert socket_depth(Pipe("", 0.02, 0.0, outside / 1000.0)) == pytest.approx(depth / 1000.0, abs=5e-5)


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "inches", "deeper"),
    [
        ("pvc 1/2 in", 0.688, -0.8),
        ("pvc 3/4 in", 0.719, 1.1),
        ("pvc 1 in", 0.875, 0.5),
        ("pvc 1 1/4 in", 0.938, 3.3),
        ("pvc 1 1/2 in", 1.094, 2.3),
        ("pvc 2 in", 1.156, 6.8),
    ],
)
def test_socket_depth_astm_d2466(name: str, inches: float, deeper: float) -> None:
    # ASTM D2466, least socket depth [M], and by how many mm the metric rule, which is used, is deeper.
    row = catalogue.pipes()[name]
    depth = socket_depth(Pipe(name, row.bore, 0.0, row.outside))
    assert depth is not None
    assert 1000.0 * depth - 25.4 * inches == pytest.approx(deeper, abs=0.05)


@pytest.mark.invariant
def test_every_row_of_joints_says_its_source() -> None:
    for row in joints().values():
        assert row["source"]
        assert row["mark"] in ("looked up", "from memory")


# ---------------------------------------------------------------------- pieces and walks


@pytest.mark.invariant
@pytest.mark.parametrize("path", EVERY, ids=lambda path: path.stem)
def test_pieces_and_allowances_make_up_each_line(path: Path) -> None:
    layout = read_layout(path)
    bill = bill_of(layout)
    for name, line in layout.lines.items():
        some = [piece for piece in bill.pieces if piece.line == name]
        hoses = sum(hose.length for hose in bill.hoses if hose.line == name)
        between = sum(piece.centres for piece in some if not piece.joint)
        assert between + hoses == pytest.approx(line.length, abs=1e-9)
        plain = line.length == pytest.approx(
            sum(piece.length for piece in some) + hoses + allowances(layout, line), abs=1e-9
        )
        # A line with two bends at one place is shorter than its walk, which goes round the corner.
        assert plain or corner_cut(line)


def allowances(layout: Layout, line: Line) -> float:
    """What a line's fittings take of its walk, from the catalogue's rows, where they are known."""
    tees = {(leg.line, leg.side): (tee, leg) for tee in layout.tees.values() for leg in tee.legs}
    taken = 0.0
    for part in line.parts:
        row = None if part.is_pipe else catalogue.fittings()[part.kind]
        if row is not None and part.kind not in ("tee", "wye", "reducer", "expander") and row.lay and part.pipe.outside:
            # A union in the very mouth has nothing in its other socket, and a dry socket on a floor the bulkhead.
            last = (part is line.parts[-1] and (line.name, "to") not in tees) or part.kind == "dry socket"
            taken += (1.0 if last else 2.0) * row.lay.length(part.pipe.outside)
        if part.kind == "tee":
            mine = layout.tees[part.id or ""]
            # Of an indexing valve, which stands at its line's end, only the socket of its inlet.
            sides = ("before", "after") if not mine.outlet else ("before",) if mine.outlet == 1 else ()
            taken += sum(leg_takes(tee_fit(mine).legs[line.name, side]) for side in sides)
        if part.kind in ("reducer", "expander") and (line.name, part.step) in BUSHES:
            taken += (part.pipe.outside or 0.0) / 2.0 - (part.pipe_out.outside or 0.0) / 2.0
    for side in ("from", "to"):
        if (line.name, side) in tees:
            tee, _ = tees[line.name, side]
            taken += leg_takes(tee_fit(tee).legs[line.name, side])
    return taken


BUSHES = {("main", 15), ("manifold", 13)}
"""Reducers of the repository's layouts that stand in a tee's socket."""


def leg_takes(length: float | None) -> float:
    return length or 0.0


def corner_cut(line: Line) -> bool:
    pairs = pairwise(line.parts)
    return any(not one.is_pipe and not other.is_pipe and one.turn > 0.2 and other.turn > 0.2 for one, other in pairs)


def built(layout: Layout, stands: Stands) -> Vector:
    """Where a line ends when it is put together from its pieces, each fitting with the stops where its sockets have them."""
    line = stands.line
    ways = {part.step: part for part in line.parts if not part.is_pipe}
    pieces = list(cut_line(stands).pieces)
    here = line.start.place
    for k, stack in enumerate(stands.stacks):
        real = [one for one in stack if one.socket] or list(stack[:1])
        for one, other in pairwise(real):
            here = moved(
                here, ways[one.step].heading_out, (one.after or 0.0) + (other.before or 0.0) + pieces.pop(0).length
            )
        if k < len(stands.segments):
            follows = [one for one in stands.stacks[k + 1] if one.socket] or list(stands.stacks[k + 1][:1])
            length = real[-1].after + pieces.pop(0).length + follows[0].before  # type: ignore[operator]
            here = moved(here, unit(minus(stands.segments[k].end, stands.segments[k].start)), length)
    return here


def moved(point: Vector, way: Vector, length: float) -> Vector:
    return add(point, (way[0] * length, way[1] * length, way[2] * length))


CORNERS = (
    ("elbow",),
    ("sweep",),
    ("bend 45", "bend 45"),
    ("bend 22.5", "bend 22.5", "bend 45"),
    ("union", "elbow"),
    ("elbow", "ball valve"),
    ("union", "elbow", "gate valve"),
    ("union", "bend 45", "bend 45", "ball valve"),
)
STRAIGHTS = (("union",), ("ball valve",), ("union", "ball valve", "union"), ("check valve", "union"))


@pytest.mark.invariant
@given(
    st.lists(
        st.tuples(
            st.sampled_from(("up", "north", "east", "west")),
            st.integers(400, 3000),
            st.sampled_from(CORNERS + STRAIGHTS),
        ),
        min_size=1,
        max_size=6,
    )
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40)
def test_a_line_put_together_from_its_pieces_ends_where_the_walk_does(
    read_text: ReadText, legs: list[tuple[str, int, tuple[str, ...]]]
) -> None:
    route, way = [], "north"
    for turn, length, fittings in legs:
        new = way
        if fittings not in STRAIGHTS:
            new = (
                "up"
                if turn in (way, OPPOSITE[way]) and way != "up"
                else "north"
                if turn in (way, OPPOSITE[way])
                else turn
            )
        route += [f"      - {way}: {length} mm", *(f"      - {fitting}" for fitting in fittings)]
        way = new
    layout = read_text(
        HEAD
        + "  a:\n    pipe: pvc 32\n    from: {draws: -1 L/min, height: 1 m}\n    route:\n"
        + "\n".join(route)
        + f"\n      - {way}: 500 mm\n    to: open air\n"
    )
    line = layout.lines["a"]
    stands = walk_of(layout, line, {})
    three = any(len([one for one in stack if one.fixed]) > 2 for stack in stands.stacks)
    if three:
        assert any("no room" in note for note in bill_of(layout).notes)
    else:
        assert size(minus(built(layout, stands), line.end.place)) < 1e-9


@pytest.mark.second_method
def test_two_45s_at_one_place_stand_apart_by_two_sockets(read_text: ReadText) -> None:
    layout = read_text(
        HEAD
        + "  a: {pipe: pvc 32, from: {draws: -1 L/min, height: 1 m}, route: [north: 1 m, bend 45, bend 45, east: 1 m], to: open air}\n"
    )
    bill = bill_of(layout)
    lay, depth = 0.21 * 32 + 1.0, 22.0
    apart = 2 * lay + 2 * depth
    assert cut(bill, "a 3") == 2 * depth
    assert cut(bill, "a 1") == pytest.approx(1000 - lay - apart / math.sqrt(2.0), abs=0.006)
    assert bill.pieces[1].joint


@pytest.mark.invariant
def test_two_unlike_bends_at_one_place_end_where_the_walk_does(read_text: ReadText) -> None:
    layout = read_text(
        HEAD + "  a: {pipe: pvc 32, from: {draws: -1 L/min, height: 1 m}, to: open air, "
        "route: [north: 1 m, bend 22.5, bend 45, {north: 0.38268343 m, east: 0.92387953 m}]}\n"
    )
    line = layout.lines["a"]
    stands = walk_of(layout, line, {})
    # The bends turn by what they are made for, the walk by what is written: 1e-8 of a metre apart.
    assert size(minus(built(layout, stands), line.end.place)) < 1e-7
    before, _, after = (piece.centres - piece.length for piece in cut_line(stands).pieces)
    assert before > after


# ---------------------------------------------------------------------- what is implied, and what is not known


def one_line(read_text: ReadText, line: str) -> Bill:
    return bill_of(read_text(HEAD + line))


def implied(bill: Bill) -> dict[tuple[str, str], str]:
    return {
        (item.kind, item.size): "; ".join(place.why for place in item.places) for item in bill.items if item.implied
    }


@pytest.mark.second_method
def test_a_pipe_over_the_rim_needs_no_bulkhead(read_text: ReadText) -> None:
    bill = one_line(
        read_text, "  a: {pipe: pvc 25, from: p, route: [up: 1.5 m, elbow, east: 1 m, elbow, down: 0.1 m], to: bed}\n"
    )
    assert implied(bill) == {("pump adapter", "pvc 25"): "pump 'p' feeds 'a'"}


@pytest.mark.second_method
def test_a_pipe_under_the_rim_goes_through_the_wall(read_text: ReadText) -> None:
    bill = one_line(read_text, "  a: {pipe: pvc 25, from: p, route: [up: 0.3 m, elbow, east: 1 m], to: open air}\n")
    assert implied(bill)["bulkhead", "pvc 25"] == "'a' goes through the wall of 'tub'"
    assert bill.notes == (
        "'a' goes through the wall of 'tub'; where, the file does not say: cut the piece there to fit the bulkhead.",
    )


@pytest.mark.second_method
def test_a_pipe_from_below_goes_through_the_floor_and_is_cut_there(read_text: ReadText) -> None:
    bill = one_line(
        read_text,
        "  a: {pipe: pvc 25, from: {draws: -5 L/min, height: 0.4 m}, route: [east: 1 m, elbow, up: 0.7 m], to: bed}\n",
    )
    assert implied(bill)["bulkhead", "pvc 25"] == "'a' goes through the floor of 'bed'"
    assert [(piece.mark, round(piece.centres, 3)) for piece in bill.pieces] == [
        ("a 1", 1.0),
        ("a 3a", 0.6),
        ("a 3b", 0.1),
    ]
    assert bill.pieces[1].unknown == bill.pieces[2].unknown == ("bulkhead of 'bed'",)


@pytest.mark.second_method
def test_a_pipe_that_comes_from_aside_goes_through_the_wall_and_not_the_floor(read_text: ReadText) -> None:
    bill = one_line(read_text, "  a: {pipe: pvc 25, from: p, route: [up: 1.2 m, elbow, east: 1 m], to: bed}\n")
    assert implied(bill)["bulkhead", "pvc 25"] == "'a' goes through the wall of 'bed'"
    assert len(bill.pieces) == 2


@pytest.mark.second_method
def test_a_bulkhead_in_the_file_is_not_counted_twice(read_text: ReadText) -> None:
    bill = one_line(
        read_text,
        "  a: {pipe: pvc 50, from: {vessel: bed, height: 0.1 m}, route: [bulkhead, east: 1 m, elbow, down: 0.9 m], to: tub}\n",
    )
    assert counts(bill) == {("bulkhead", "pvc 50"): 1, ("elbow", "pvc 50"): 1}
    assert not implied(bill)


@pytest.mark.second_method
def test_a_port_is_a_bulkhead(read_text: ReadText) -> None:
    bill = one_line(
        read_text,
        "  a: {pipe: pvc 50, from: {vessel: bed, height: 0.1 m}, route: [east: 1 m, elbow, down: 0.9 m], to: tub}\n",
    )
    assert implied(bill) == {("bulkhead", "pvc 50"): "'a' has a port in 'bed'"}


@pytest.mark.second_method
def test_one_bulkhead_in_the_file_stands_for_the_nearer_of_two_ports(read_text: ReadText) -> None:
    ends = "from: {vessel: bed, height: 0.1 m}, to: {vessel: tub, height: 0.1 m}"
    bill = one_line(read_text, f"  a: {{pipe: pvc 50, {ends}, route: [bulkhead, east: 1 m, elbow, down: 1 m]}}\n")
    assert bill.count("bulkhead") == 2
    assert implied(bill) == {("bulkhead", "pvc 50"): "; 'a' has a port in 'tub'"}


@pytest.mark.second_method
def test_a_line_that_stays_in_its_vessel_needs_no_bulkhead(read_text: ReadText) -> None:
    bill = one_line(
        read_text, "  a: {pipe: pvc 25, from: p, route: [up: 0.2 m, elbow, east: 0.3 m, elbow, down: 0.1 m], to: tub}\n"
    )
    assert bill.count("bulkhead") == 0


@pytest.mark.pinned
def test_without_a_rim_the_file_does_not_say_how_a_pipe_gets_in(read_text: ReadText) -> None:
    head = HEAD.replace("rim: 0.5 m, ", "").replace("rim: 0.3 m, ", "")
    bill = bill_of(read_text(head + "  a: {pipe: pvc 25, from: p, route: [up: 1.2 m, elbow, east: 1 m], to: bed}\n"))
    assert bill.count("bulkhead") == 0
    assert [note[:53] for note in bill.notes] == [
        "Whether 'a' goes through the wall of 'tub' or over it",
        "Whether 'a' goes through the wall of 'bed' or over it",
    ]


@pytest.mark.second_method
def test_an_expander_in_a_socket_is_a_bush_too(read_text: ReadText) -> None:
    text = (
        "  a: {pipe: pvc 25, from: p, route: [up: 1.5 m, {expander: {to: pvc 32}}, elbow, east: 0.5 m], to: open air}\n"
    )
    bill = one_line(read_text, text)
    assert bill.count("reducing bush", "pvc 32 x pvc 25") == 1
    assert bill.count("elbow", "pvc 32") == 1
    assert bill.pieces[0].length == pytest.approx(1.5 - 0.017 - 0.0035)


@pytest.mark.second_method
def test_one_kind_of_pipe_in_a_tee_of_another_needs_an_adapter(read_text: ReadText) -> None:
    text = (
        "  a: {pipe: pvc 25, from: p, route: [up: 1 m, tee: t, up: 1 m], to: open air}\n"
        "  b: {pipe: pe 25, from: t, route: [east: 1 m], to: open air}\n"
    )
    bill = one_line(read_text, text)
    assert counts(bill) == {("tee", "pvc 25"): 1, ("adapter", "pvc 25 x pe 25"): 1, ("pump adapter", "pvc 25"): 1}


@pytest.mark.second_method
def test_a_change_of_pipe_is_a_reducer_and_in_a_socket_a_bush(read_text: ReadText) -> None:
    text = "  a: {pipe: pvc 32, from: p, route: [up: 1 m, {up: 0.5 m, pipe: pvc 25}, {expander: {to: pvc 32}}, up: 0.3 m, elbow, {east: 0.5 m, pipe: pvc 25}], to: open air}\n"
    bill = one_line(read_text, text)
    assert counts(bill)["reducer", "pvc 32 x pvc 25"] == 2
    assert counts(bill)["reducing bush", "pvc 32 x pvc 25"] == 1
    assert implied(bill)["reducer", "pvc 32 x pvc 25"].strip("; ") == "the pipe of 'a' changes at step 2"
    last = bill.pieces[-1]
    # Elbow of 32: 17 mm, and the bush 22 − 18.5 mm beyond.
    assert last.length == pytest.approx(0.5 - 0.017 - 0.0035)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("run", "branch", "size", "adapters"),
    [
        (("pvc 32", "pvc 32"), "pvc 32", "pvc 32", []),
        (("pvc 32", "pvc 32"), "pvc 25", "pvc 32 x pvc 25", []),
        (("pvc 32", "pvc 25"), "pvc 25", "pvc 32 x pvc 25", [("reducing bush", "pvc 32 x pvc 25", 1)]),
        (("pvc 25", "pvc 25"), "pvc 32", "pvc 32", [("reducing bush", "pvc 32 x pvc 25", 2)]),
        (("pvc 32", "hose 19 mm"), "pvc 25", "pvc 32 x pvc 25", [("hose adapter", "pvc 32 x hose 19 mm", 1)]),
        (("hose 19 mm", "hose 19 mm"), "hose 19 mm", "hose 19 mm", []),
    ],
)
def test_the_tee_to_buy(
    read_text: ReadText, run: tuple[str, str], branch: str, size: str, adapters: list[tuple[str, str, int]]
) -> None:
    text = (
        f"  a: {{pipe: {run[0]}, from: p, route: [up: 1 m, tee: t, {{up: 1 m, pipe: {run[1]}}}], to: open air}}\n"
        f"  b: {{pipe: {branch}, from: t, route: [east: 1 m], to: open air}}\n"
    )
    bill = one_line(read_text, text)
    assert bill.count("tee") == bill.count("tee", size) == 1
    found = [(item.kind, item.size, item.count) for item in bill.items if item.kind not in ("tee", "pump adapter")]
    assert found == adapters


@pytest.mark.second_method
def test_hose_needs_tails_on_rigid_pipe_and_is_not_in_the_cutting_list(read_text: ReadText) -> None:
    text = "  a: {pipe: pvc 25, from: p, route: [up: 1 m, {hose: {east: 1 m, length: 1.3 m}}, east: 0.5 m, elbow, {hose: {up: 1 m, pipe: hose 19 mm}}], to: open air}\n"
    layout_text = text.replace("{hose: {up", "{hose: {up")
    bill = one_line(read_text, layout_text)
    assert counts(bill) == {
        ("elbow", "pvc 25"): 1,
        ("hose adapter", "pvc 25 x hose"): 2,
        ("hose adapter", "pvc 25 x hose 19 mm"): 1,
        ("pump adapter", "pvc 25"): 1,
    }
    assert [(hose.size, round(hose.length, 3)) for hose in bill.hoses] == [
        ("hose for pvc 25", 1.3),
        ("hose 19 mm", 1.0),
    ]
    assert [piece.mark for piece in bill.pieces] == ["a 1", "a 3"]


@pytest.mark.second_method
@pytest.mark.parametrize("barb", ["barb, ", ""])
def test_a_barb_that_the_file_states_is_the_one_that_is_implied(read_text: ReadText, barb: str) -> None:
    """Counted by hand: hose on a tee and on a valve in its way wants one barb at each; stated or not, nobody buys two for one end."""
    text = (
        "  a: {pipe: pvc 25, from: p, route: [up: 1 m, tee: t, up: 1 m], to: open air}\n"
        f"  b: {{pipe: hose 19 mm, from: t, route: [{barb}hose: {{east: 1 m}}], to: open air}}\n"
    )
    bill = one_line(read_text, text)
    assert counts(bill) == {
        ("tee", "pvc 25"): 1,
        ("hose adapter", "pvc 25 x hose 19 mm"): 1,
        ("pump adapter", "pvc 25"): 1,
    }
    assert sum(item.implied for item in bill.items if item.kind == "hose adapter") == (0 if barb else 1)
    pump = one_line(read_text, f"  a: {{pipe: hose 19 mm, from: p, route: [{barb}hose: {{up: 1 m}}], to: open air}}\n")
    assert counts(pump) == {("hose adapter" if barb else "pump adapter", "hose 19 mm"): 1}


@pytest.mark.second_method
def test_an_airlift_has_a_riser_and_no_pump_adapter(read_text: ReadText) -> None:
    """Counted by hand: the line begins at the open top with its elbow; the riser of 0.87 m is bought besides."""
    bill = bill_of(
        read_text("""
    vessels:
      barrel: {base: 0 m, rim: 1.0 m, water: 0.85 m}
      raft: {base: 0.66 m, rim: 0.30 m, water: 0.24 m}
    pumps: {bubbler: {in: barrel, height: 1.02 m, airlift: {air: 9 L/min, riser: pvc 40, length: 0.87 m}}}
    lines: {over: {pipe: pvc 40, from: bubbler, route: [elbow, {east: 0.6 m}], to: raft}}
    """)
    )
    assert counts(bill) == {("elbow", "pvc 40"): 1}
    (note,) = [note for note in bill.notes if "bubbler" in note]
    assert note.startswith(
        "The riser of airlift 'bubbler' is not in the list: 0.87 m of pvc 40, its open top, and the air hose"
    )


@pytest.mark.second_method
def test_fittings_too_close_for_their_sockets_are_told(read_text: ReadText) -> None:
    line = "  a: {{pipe: pvc 32, from: {{draws: -1 L/min, height: 1 m}}, route: [north: 1 m, elbow, east: {gap} mm, elbow, north: 1 m], to: open air}}\n"
    # Two elbows: 17 mm each, and 22 mm of pipe in each socket.
    assert [piece.mark for piece in one_line(read_text, line.format(gap=76)).tight] == ["a 3"]
    assert not one_line(read_text, line.format(gap=78)).tight
    nothing = one_line(read_text, line.format(gap=30))
    assert "a 3" not in [sawn.mark for row in plan_of(nothing).sizes for bar in row.bars for sawn in bar.pieces]


@pytest.mark.second_method
def test_where_nothing_is_known_of_a_fitting_the_length_between_centres_stands(read_text: ReadText) -> None:
    bill = one_line(
        read_text,
        "  a: {pipe: pvc 32, from: {draws: -1 L/min, height: 1 m}, route: [north: 1 m, strainer, north: 0.7 m, elbow, up: 1 m], to: open air}\n",
    )
    piece = bill.pieces[1]
    assert piece.unknown == ("strainer",)
    assert piece.length == pytest.approx(0.7 - 0.017)


@pytest.mark.pinned
@pytest.mark.parametrize(("angle", "told"), [(15.0, False), (30.0, False), (60.0, False), (20.0, True), (16.0, True)])
def test_a_bend_that_is_not_sold_everywhere_is_told(read_text: ReadText, angle: float, told: bool) -> None:
    """Common practice, no source: bends of 15, 30 and 60° beside those of 22.5, 45 and 90°."""
    turn = math.radians(angle)
    bill = one_line(
        read_text,
        "  a: {pipe: pvc 32, from: {draws: -1 L/min, height: 1 m}, "
        f"route: [north: 1 m, bend: {angle:g} deg, {{north: {math.cos(turn):.6f} m, east: {math.sin(turn):.6f} m}}], to: open air}}\n",
    )
    assert any("is not sold everywhere" in note for note in bill.notes) == told


@pytest.mark.invariant
@pytest.mark.parametrize("path", EVERY, ids=lambda path: path.stem)
def test_the_widest_pipe_is_listed_first(path: Path) -> None:
    widths = [row.pipe.outside or row.pipe.bore for row in bill_of(read_layout(path)).totals]
    assert widths == sorted(widths, reverse=True)


@pytest.mark.second_method
def test_a_bend_is_counted_by_its_angle(read_text: ReadText) -> None:
    bill = one_line(
        read_text,
        "  a: {pipe: pvc 32, from: {draws: -1 L/min, height: 1 m}, route: [north: 1 m, bend: 30 deg, {north: 0.866 m, east: 0.5 m}, bend: 30 deg, north: 1 m], to: open air}\n",
    )
    (item,) = bill.items
    assert (item.name, item.count) == ("bend of 30°", 2)
    assert item.turn == pytest.approx(math.radians(30), abs=1e-3)


@pytest.mark.pinned
def test_a_spray_bar_says_what_to_drill(read_text: ReadText) -> None:
    bill = one_line(
        read_text,
        "  a: {pipe: pvc 25, from: p, route: [up: 1.5 m, elbow, {spray bar: {east: 0.6 m, holes: 12, hole: 4 mm, in: bed}}], to: cap end}\n",
    )
    assert bill.pieces[-1].note == "drill 12 holes of 4 mm"
    assert bill.count("end cap", "pvc 25") == 1


@pytest.mark.pinned
def test_one_who_works_in_inches_drills_in_sixty_fourths(read_text: ReadText) -> None:
    head = "vessels: {bed: {base: 0 ft, water: 1 ft}}\npumps: {p: {in: bed, curve: {highest head: 12 ft, largest flow: 600 gph}}}\nlines:\n"
    line = "  a: {pipe: pvc 1 in sch 40, from: p, route: [up: 5 ft, elbow, {spray bar: {east: 2 ft, holes: 12, hole: 15/64 in, in: bed}}], to: cap end}\n"
    assert bill_of(read_text(head + line)).pieces[-1].note == "drill 12 holes of 15/64 in"


@pytest.mark.second_method
def test_runs_in_a_row_of_one_pipe_are_one_piece(read_text: ReadText) -> None:
    bill = one_line(read_text, "  a: {pipe: pvc 25, from: p, route: [up: 1 m, up: 0.5 m], to: open air}\n")
    assert [(piece.mark, piece.steps, piece.centres) for piece in bill.pieces] == [("a 1", (1, 2), 1.5)]


@pytest.mark.second_method
def test_sizes_that_fit_each_other() -> None:
    pipes = {name: Pipe(row.name, row.bore, 0.0, row.outside, row.material) for name, row in catalogue.pipes().items()}
    assert alike(pipes["pvc 50"], pipes["pvc 50 pn10"])
    assert not alike(pipes["pvc 32"], pipes["pe 32"])
    assert not alike(pipes["pvc 25"], pipes["pvc 32"])
    assert lay_of("cap", pipes["pvc 32"], math.radians(45.0)) is None


# ---------------------------------------------------------------------- the plan


@pytest.mark.invariant
@pytest.mark.parametrize("path", EVERY, ids=lambda path: path.stem)
def test_the_plan_saws_every_piece_once_and_rounds_by_half_a_millimetre(path: Path) -> None:
    bill = bill_of(read_layout(path))
    plan = plan_of(bill)
    sawn: dict[str, list[float]] = {}
    for row in plan.sizes:
        assert row.proven
        for bar in row.bars:
            used = sum(one.length for one in bar.pieces) + plan.kerf * (len(bar.pieces) - 1)
            assert used <= row.stock + 1e-9
            assert bar.offcut == pytest.approx(max(row.stock - used - plan.kerf, 0.0), abs=plan.grid)
            for one in bar.pieces:
                sawn.setdefault(one.piece.mark, []).append(one.length)
    without = [piece for piece in bill.pieces if piece.length < 0.0]
    assert set(without) <= set(bill.tight)
    assert [piece.mark for piece in without] == (["waste 2"] if path.stem == "overflow" else [])
    for piece in set(bill.pieces) - set(without):
        gaps = 0.003 * (len(sawn[piece.mark]) - 1)
        assert sum(sawn[piece.mark]) + gaps == pytest.approx(piece.length, abs=plan.grid / 2 + 1e-9)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("run", "lengths"), [(3.0, [3000]), (3.001, [2948, 50]), (5.0, [3000, 1997]), (9.1, [3000, 3000, 3000, 91])]
)
def test_a_run_longer_than_the_stock_is_joined_with_couplings(
    read_text: ReadText, run: float, lengths: list[int]
) -> None:
    bill = one_line(
        read_text,
        f"  a: {{pipe: pvc 25, from: {{draws: -1 L/min, height: 1 m}}, route: [north: {run} m], to: open air}}\n",
    )
    plan = plan_of(bill, stock=3.0, kerf=0.003)
    found = sorted((round(1000 * one.length) for bar in plan.sizes[0].bars for one in bar.pieces), reverse=True)
    assert found == lengths
    assert sum(item.count for item in plan.couplings) == len(lengths) - 1
    assert sum(lengths) + 3 * (len(lengths) - 1) == round(1000 * run)


@pytest.mark.pinned
def test_a_stock_too_short_for_a_run_in_pieces_is_an_error(read_text: ReadText) -> None:
    bill = one_line(read_text, "  a: {pipe: pvc 25, from: p, route: [up: 1 m], to: open air}\n")
    with pytest.raises(ValueError, match="too short for a run in several pieces"):
        plan_of(bill, stock=0.09)


@pytest.mark.invariant
def test_a_file_in_feet_is_cut_to_sixteenths() -> None:
    plan = plan_of(bill_of(read_layout(LAYOUTS / "gallons.yaml")))
    for row in plan.sizes:
        assert row.stock == pytest.approx(10 * 0.3048)
        for bar in row.bars:
            for one in bar.pieces:
                sixteenths = one.length / 0.0254 * 16
                assert sixteenths == pytest.approx(round(sixteenths))


@pytest.mark.invariant
def test_marks_are_unique() -> None:
    for path in EVERY:
        marks = [piece.mark for piece in bill_of(read_layout(path)).pieces]
        assert len(marks) == len(set(marks))


@pytest.mark.invariant
def test_every_kind_of_part_has_a_placeholder() -> None:
    from plumbline.catalogue.reading import data

    made = data("part_prices.yaml")
    assert {kind for kind in part_kinds() if kind != "expander"} | {"pipe", "hose"} == set(made)


@pytest.mark.invariant
def test_a_float_valve_and_a_bell_are_bought(read_text: ReadText) -> None:
    """By a siphon without a stated bell, as a loop has none, there is nothing to count."""
    text = """
    vessels:
      sump: {base: 0 m, rim: 0.8 m, water: 0.6 m, area: 0.5 m^2}
      bed: {base: 1 m, rim: 0.35 m, water: 0.05 m, area: 0.5 m^2}
    pumps: {lift: {in: sump, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}}
    lines:
      riser: {pipe: pvc 25, from: lift, route: [{up: 1.5 m}, elbow, {east: 1 m}], to: bed}
      siphon: {pipe: pvc 25, from: {vessel: bed, siphon: 0.22 m, breaks: 0.05 m, bell: 75 mm}, route: [{down: 0.9 m}], to: sump}
      top-up: {pipe: pvc 20, from: {supply: 10 L/min, height: 1.2 m}, route: [{down: 0.5 m}], to: {vessel: sump, float valve: 0.5 m}}
    """
    bought = counts(bill_of(read_text(text)))
    assert (bought["float valve", "pvc 20"], bought["bell", "75 mm bore"]) == (1, 1)
    assert not {kind for kind, _ in counts(bill_of(read_text(text.replace(", bell: 75 mm", ""))))} & {"bell"}


@pytest.mark.second_method
def test_an_indexing_valve_is_bought_once_however_many_outlets_it_has(read_text: ReadText) -> None:
    bill = bill_of(
        read_text("""
    vessels:
      sump: {base: 0 m, rim: 0.8 m, water: 0.6 m}
      bed: {again: 4, base: 1 m, rim: 0.35 m, water: 0.1 m}
    pumps: {lift: {in: sump, curve: [[0 L/min, 5 m], [60 L/min, 1 m]]}}
    lines:
      riser: {pipe: pvc 32, from: lift, route: [{up: 1.5 m}, elbow, {east: 1 m}], to: {indexing valve: turner, outlets: 4, at least: 20 L/min}}
      feed: {again: 4, pipe: pvc 25, from: turner, route: [{north: 1 m}, elbow, {down: 0.2 m}], to: bed}
    """)
    )
    assert bill.count("indexing valve") == 1
    assert bill.count("tee") == 0
    assert bill.count("elbow") == 5
