"""From one layout to another: what is bought, what comes out, and what stays where it is; each case counted by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from plumbline import read_layout
from plumbline.layout.model import Layout
from plumbline.parts import Difference, bill_of, cost_of, difference

ReadText = Callable[[str], Layout]
LAYOUTS = Path(__file__).parent.parent / "layouts"
OLD = "lines:\n  a: {pipe: pvc 32, from: {draws: -1 L/min, height: 0 m}, route: [north: 2 m, elbow, east: 1 m, elbow, north: 1 m], to: open air}\n"


@pytest.fixture
def change(read_text: ReadText) -> Callable[..., Difference]:
    def made(*swaps: tuple[str, str], more: str = "") -> Difference:
        new = OLD
        for before, after in swaps:
            assert before in new
            new = new.replace(before, after, 1)
        return difference(bill_of(read_text(OLD)), bill_of(read_text(new + more)))

    return made


def told(items: tuple[object, ...]) -> list[tuple[str, int]]:
    return [(item.kind, item.count) for item in items]  # type: ignore[attr-defined]


@pytest.mark.invariant
@pytest.mark.parametrize("path", sorted(LAYOUTS.glob("*.yaml")), ids=lambda path: path.stem)
def test_from_a_layout_to_itself_there_is_nothing_to_buy(path: Path) -> None:
    one, other = bill_of(read_layout(path)), bill_of(read_layout(path))
    same = difference(one, other)
    assert (same.buy, same.out, same.pieces, same.shorter, same.pipe_out, same.couplings, same.hoses) == (
        (),
        (),
        (),
        (),
        (),
        (),
        (),
    )
    assert cost_of(same.bill, same.plan()).total == 0.0


@pytest.mark.second_method
def test_a_union_cut_into_a_run_needs_no_pipe(change: Callable[..., Difference]) -> None:
    made = change(("north: 2 m", "north: 1.2 m, union, north: 0.8 m"))
    assert told(made.buy) == [("union", 1)]
    assert (made.out, made.pieces, made.couplings) == ((), (), ())
    assert [piece.mark for piece in made.shorter] == ["a 1", "a 3"]


@pytest.mark.second_method
def test_of_two_like_pieces_between_fittings_at_one_place_one_was_there(read_text: ReadText) -> None:
    one, other = (
        OLD.replace("north: 2 m", f"north: 1 m, {fittings}, north: 1 m")
        for fittings in ("union, ball valve", "union, ball valve, union")
    )
    made = difference(bill_of(read_text(one)), bill_of(read_text(other)))
    assert told(made.buy) == [("union", 1)]
    assert [piece.joint for piece in made.pieces] == [True]
    assert made.couplings == ()


@pytest.mark.second_method
def test_a_sweep_for_an_elbow_takes_more_room_and_so_needs_no_coupling(change: Callable[..., Difference]) -> None:
    # The sweep takes 64 mm where the elbow took 17: 47 mm more, and the lost socket is 22 deep.
    made = change(("elbow", "sweep"))
    assert told(made.buy) == [("sweep", 1)]
    assert told(made.out) == [("elbow", 1)]
    assert (made.pieces, made.couplings) == ((), ())
    assert [piece.mark for piece in made.shorter] == ["a 1", "a 3"]


@pytest.mark.second_method
def test_a_capped_tee_for_an_elbow_needs_the_lost_ends_made_up(change: Callable[..., Difference]) -> None:
    # Both take 17 mm: the two ends that were glued into the elbow are gone with it.
    made = change(("elbow", "cap: {faces: north}"))
    assert told(made.buy) == [("cap", 1)]
    assert told(made.out) == [("elbow", 1)]
    assert told(made.couplings) == [("coupling", 2)]
    assert [round(1000 * piece.length) for piece in made.pieces] == [44, 44]
    costs = cost_of(made.bill, made.plan())
    assert {(row.kind, row.count) for row in costs.rows} == {("cap", 1.0), ("coupling", 2.0), ("pipe", 1.0)}


@pytest.mark.second_method
def test_pipe_of_another_size_is_all_new(change: Callable[..., Difference]) -> None:
    made = change(("pvc 32", "pvc 40"))
    assert told(made.buy) == [("elbow", 2)]
    assert told(made.out) == [("elbow", 2)]
    assert [piece.mark for piece in made.pieces] == ["a 1", "a 3", "a 5"]
    assert dict(made.pipe_out) == {"pvc 32": pytest.approx(4 - 4 * 0.017)}


@pytest.mark.second_method
def test_a_new_line_at_a_new_tee(change: Callable[..., Difference]) -> None:
    more = "  b: {pipe: pvc 25, from: t, route: [east: 0.5 m], to: open air}\n"
    made = change(("north: 2 m", "north: 1.2 m, tee: t, north: 0.8 m"), more=more)
    assert told(made.buy) == [("tee", 1)]
    assert [(piece.mark, piece.pipe.name) for piece in made.pieces] == [("b 1", "pvc 25")]
    assert made.couplings == ()


@pytest.mark.second_method
def test_pipe_taken_away(read_text: ReadText) -> None:
    long = OLD.replace("elbow, north: 1 m]", "elbow, north: 1 m, union, north: 0.5 m]")
    made = difference(bill_of(read_text(long)), bill_of(read_text(OLD)))
    assert made.buy == ()
    assert told(made.out) == [("union", 1)]
    # 0.5 m less half a union, 0.1·32 + 4 = 7.2 mm; the end at the union is plain pipe now, 7.2 mm short of where it is wanted.
    assert dict(made.pipe_out)["pvc 32"] == pytest.approx(0.5 - 0.0072 + 1.0 - 0.017 - 0.0072)
    assert [piece.mark for piece in made.pieces] == ["a 5"]


@pytest.mark.second_method
def test_more_hose_is_bought_and_less_is_not(read_text: ReadText) -> None:
    text = "lines:\n  a: {{pipe: hose 19 mm, from: {{draws: -1 L/min, height: 0 m}}, route: [north: {length} m], to: open air}}\n"
    short, long = (bill_of(read_text(text.format(length=length))) for length in (2, 3.5))
    assert [(hose.size, round(hose.length, 3)) for hose in difference(short, long).hoses] == [("hose 19 mm", 1.5)]
    assert difference(long, short).hoses == ()


@pytest.mark.invariant
def test_lines_in_another_order_need_nothing_new(read_text: ReadText) -> None:
    """Two pumps in a tank whose place the file does not give: the reading begins with the line that stands first."""
    head = "vessels: {tank: {base: 0 m, water: 1 m}}\npumps: {one: {in: tank, curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}, two: {curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}}\n"
    lines = [
        "  a: {pipe: pvc 25, from: one, route: [up: 1 m, elbow, east: 1 m, elbow, north: 0.5 m], to: tank}\n",
        "  b: {pipe: pvc 32, from: {vessel: tank, height: 0.1 m}, route: [west: 1 m, elbow, south: 0.7 m], to: two}\n",
        "  c: {pipe: pvc 25, from: two, route: [up: 1 m, elbow, north: 1 m, elbow, west: 0.5 m], to: tank}\n",
    ]
    bills = [bill_of(read_text(f"{head}lines:\n{''.join(some)}")) for some in (lines, lines[::-1])]
    made = difference(*bills)
    assert (made.buy, made.out, made.pieces, made.shorter, made.couplings) == ((), (), (), (), ())
