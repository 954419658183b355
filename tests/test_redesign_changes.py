"""Changes as edits of the text: what is written, read again, is the changed layout; comments and order stay; what does not fit is not
offered. Invariants throughout; nothing here has a published value."""

from __future__ import annotations

import math
import re
import textwrap
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from checks import checked

from plumbline.catalogue import pipes
from plumbline.catalogue.reading import data
from plumbline.check import check
from plumbline.errors import LayoutError, PlumblineError
from plumbline.layout import layout_of, read_layout
from plumbline.layout.model import Layout, Pipe
from plumbline.layout.vectors import minus, size
from plumbline.parts import bill_of
from plumbline.parts import difference as parts_difference
from plumbline.redesign.accesses import accesses
from plumbline.redesign.bends import BENDS, _corners, softer, straight_in, straighter
from plumbline.redesign.bent import as_was, gone_of
from plumbline.redesign.change import Change, Edit, _part, apply, changed, clash, quoted
from plumbline.redesign.offers import dead_lines, leg_changes
from plumbline.redesign.prices import Prices, read_prices
from plumbline.redesign.rows import in_rows, rows_of
from plumbline.redesign.script import CannotChange, read_script
from plumbline.redesign.sizes import larger, sizes
from plumbline.redesign.valves import check_valve_in, move_valve, new_valve, set_valve, siphon_break

LAYOUTS = sorted((Path(__file__).parent.parent / "layouts").glob("*.yaml"))
PRICES = read_prices()
NAMES = [path.stem for path in LAYOUTS]


def everything(layout: Layout) -> list[Change]:
    """Every change there is."""
    found = [
        *accesses(layout, PRICES),
        *softer(layout, PRICES),
        *straighter(layout, PRICES),
        *straight_in(layout, PRICES),
        *(one for name in dead_lines(layout) for one in leg_changes(layout, name, PRICES)),
    ]
    for line in layout.lines.values():
        pipe = line.parts[0].pipe
        found += sizes(layout, line, larger(layout, pipe), PRICES)
        made = (
            new_valve(line, PRICES),
            check_valve_in(layout, line, PRICES),
            siphon_break(layout, line, PRICES),
        )
        found += [change for change in made if change is not None]
        for part in line.parts:
            if part.kind in ("ball valve", "gate valve"):
                found.append(set_valve(layout, line.name, part.step, 0.35, PRICES))
                moved = move_valve(layout, line, part, PRICES)
                found += [] if moved is None else [moved]
    return [change for change in found if in_reach(layout, change)]


def in_reach(layout: Layout, change: Change) -> bool:
    """Whether a hand gets at it: only where the file says that something is around the pipe is a change refused for that, and where it is one
    of a row."""
    refused = ""
    try:
        apply(layout.text, [change])
    except CannotChange as error:
        refused = str(error)
    if refused and change.line not in read_script(layout.text).lines:
        assert "is one of a row that the file writes once" in refused
    elif refused:
        assert "nobody gets at" in refused
        assert any(part.around for part in layout.lines[change.line].parts)
    return not refused


@pytest.mark.second_method
def test_a_new_valve_for_a_bed_stands_behind_the_last_fork() -> None:
    """By hand: the feed's longest run, 2.6 m, stands before the fork, where a valve would rob both beds; behind it are 0.4 m."""
    layout = read_layout(Path(__file__).parent / "data" / "tangled" / "twin_drains.yaml")
    change = new_valve(layout.lines["feed"], PRICES)
    assert change is not None
    assert (change.step, change.edits[0].at) == (5, 0.2)


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("path", LAYOUTS, ids=NAMES)
def test_every_change_can_be_read_and_keeps_every_end_in_its_place(path: Path) -> None:
    layout = read_layout(path)
    changes = everything(layout)
    assert changes
    kept = 0
    for change in changes:
        after = changed(layout, [change])
        for name, line in after.lines.items():
            before = layout.lines[name]
            whole = before.start.kind != "plug" and before.end.kind != "plug" and change.kind != "shorten"
            if whole or change.line != name:
                kept += 1
                assert size(minus(line.start.place, before.start.place)) < 1e-9
                # What comes straight in ends over where it came down.
                away = minus(line.end.place, before.end.place)
                assert size((away[0], away[1], 0.0)) < 1e-9
                assert abs(away[2]) < 1e-9 or (change.kind.startswith("straight ") and away[2] > 0.0)
    assert kept


@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("path", LAYOUTS, ids=NAMES)
def test_only_lines_of_the_file_that_are_marked_differ(path: Path) -> None:
    layout = read_layout(path)
    for change in everything(layout):
        after = apply(layout.text, [change])
        kept = [line for line in after.splitlines() if "# changed: " not in line]
        old = layout.text.splitlines()
        at = 0
        for line in kept:  # in the old order, and nothing else
            at = old.index(line, at) + 1
        gone = [line for line in old if line not in kept]
        assert len(kept) + len(gone) <= len(old)
        assert "# changed: " in after
        for line in old:
            comment = line.partition("#")[2]
            assert comment in after


@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("path", LAYOUTS, ids=NAMES)
def test_all_changes_that_do_not_clash_can_be_made_at_once(path: Path) -> None:
    layout = read_layout(path)
    together: list[Change] = []
    for change in everything(layout):
        if change.kind not in BENDS and not any(clash(change, other) for other in together):
            together.append(change)
    after = changed(layout, together)
    named = {change.access for change in together if change.access}
    assert named <= {access.id for access in after.accesses}


def unmarked(layout: Layout) -> str:
    """All that a layout holds, but for the places of its lines in the file, and where it told that something was left out."""
    return re.sub(r"mark=Mark\([^)]*\)", "", repr(replace(layout, defaults=())))


@pytest.mark.few
@pytest.mark.second_method
@pytest.mark.parametrize("path", LAYOUTS, ids=NAMES)
def test_a_layout_of_which_some_lines_are_read_again_is_that_of_its_whole_text(path: Path) -> None:
    """Every change by itself, and one of each five of them together."""
    layout = read_layout(path)
    changes = everything(layout)
    together: list[Change] = []
    for change in changes[::5]:
        if not any(clash(change, other) for other in together):
            together.append(change)
    for some in ([[change] for change in changes[::3]] + [together]) if changes else []:
        assert unmarked(changed(layout, some)) == unmarked(layout_of(apply(layout.text, some), layout.path))


@pytest.mark.invariant
def test_what_is_wrong_in_a_line_read_again_is_told_with_its_place_in_the_whole_file() -> None:
    layout = layout_of(TEXT)
    wrong = Change("sweep", "first", 1, "", "", (Edit("swap", "first", 1, ("down: 3 lengths",)),), 0.0, 0.0)
    told = []
    for read in (lambda: changed(layout, [wrong]), lambda: layout_of(apply(TEXT, [wrong]))):
        with pytest.raises(LayoutError) as error:
            read()
        told.append(error.value.faults)
    assert told[0] == told[1]
    assert told[0][0].line == TEXT.splitlines().index("      - down: 1.2 m   # by the wall") + 1


TEXT = """\
# A note at the top.
water: 20 degC
vessels:
  a: {base: 0 m, water: 1 m}
  b: {base: -2 m, water: 0.5 m}
lines:
  first:   # the only one
    pipe: pvc 50
    from: a
    route:
      - down: 1.2 m   # by the wall
      - elbow         # tight
      - {east: 1.5 m, down: 35 mm}
      - ball valve: {id: tap, opening: 50 %}
      - east: 0.7 m
    to: b
"""


@pytest.mark.pinned
def test_a_changed_line_of_the_file_keeps_its_comment_and_is_marked() -> None:
    layout = layout_of(TEXT)
    change = next(one for one in accesses(layout, PRICES) if one.kind == "capped tee")
    assert [line for line in apply(TEXT, [change]).splitlines() if line not in TEXT.splitlines()] == [
        "      - cap: {id: first cap 2, faces: west}         # tight  # changed: capped tee in place of the elbow"
    ]


@pytest.mark.pinned
def test_a_run_is_cut_so_that_its_parts_add_up() -> None:
    change = Change("union", "first", 3, "", "union", (Edit("split", "first", 3, ("union: u",), 0.503),), 0, 0)
    after = apply(TEXT, [change])
    assert "- {east: 0.5 m, down: 12 mm}  # changed: union" in after
    assert "- {east: 1 m, down: 23 mm}  # changed: union" in after
    line = layout_of(after).lines["first"]
    assert line.length == pytest.approx(layout_of(TEXT).lines["first"].length, abs=1e-6)
    assert line.end.place == pytest.approx(layout_of(TEXT).lines["first"].end.place, abs=1e-9)


@pytest.mark.pinned
def test_the_same_edits_are_made_in_a_flow_list() -> None:
    text = "lines: {}\n".replace(
        "{}",
        "\n  a:\n    pipe: pvc 25\n    from: open air\n"
        "    route: [{down: 1 m}, elbow, {east: 1 m}, elbow, {down: 2 m}]   # all on one line\n    to: open air",
    )
    layout = layout_of(text)
    out = Change("x", "a", 0, "", "out", (Edit("swap", "a", 2), Edit("swap", "a", 3), Edit("swap", "a", 4)), 0, 0)
    after = apply(text, [out])
    assert "route: [{down: 1 m}, {down: 2 m}]   # all on one line  # changed: out\n" in after
    assert layout_of(after).lines["a"].length == 3.0
    last = Change("x", "a", 0, "", "end", (Edit("swap", "a", 4), Edit("swap", "a", 5)), 0, 0)
    assert "[{down: 1 m}, elbow, {east: 1 m}]" in apply(text, [last])
    added = Change(
        "x", "a", 0, "", "put in", (Edit("insert", "a", 6, ("ball valve",)), Edit("insert", "a", 1, ("union",))), 0, 0
    )
    assert "[union, {down: 1 m}, elbow, {east: 1 m}, elbow, {down: 2 m}, ball valve]" in apply(text, [added])
    assert layout.lines["a"].length == 4.0


@pytest.mark.pinned
def test_what_stands_in_two_places_by_a_name_is_not_changed() -> None:
    text = TEXT.replace("- elbow         # tight", "- &bend elbow").replace(
        "- east: 0.7 m", "- east: 0.7 m\n      - *bend\n      - down: 0.2 m"
    )
    layout = layout_of(text)
    turns = list(softer(layout, PRICES))
    assert len(turns) > 0
    for change in turns:
        with pytest.raises(CannotChange, match="repeated elsewhere"):
            apply(text, [change])


@pytest.mark.invariant
def test_line_ends_of_the_file_are_kept() -> None:
    text = TEXT.replace("\n", "\r\n")
    change = Change("union", "first", 1, "", "union", (Edit("split", "first", 1, ("union: u",), 0.5),), 0, 0)
    after = apply(text, [change])
    assert "\n" not in after.replace("\r\n", "")
    assert len(layout_of(after).accesses) == len(layout_of(text).accesses) + 1


@pytest.mark.invariant
def test_two_bends_are_not_offered_where_a_run_is_too_short_for_them() -> None:
    def kinds(run: str) -> set[str]:
        return {change.kind for change in softer(layout_of(TEXT.replace("down: 1.2 m ", f"down: {run} ")), PRICES)}

    assert kinds("110 mm") == {"two 45s"}
    assert kinds("20 mm") == set()


@pytest.mark.invariant
def test_two_changes_of_one_step_clash_and_others_do_not() -> None:
    layout = layout_of(TEXT)
    caps = [change for change in accesses(layout, PRICES) if change.kind == "capped tee"]
    bends = next(softer(layout, PRICES))
    union = next(change for change in accesses(layout, PRICES) if change.kind == "union")
    pipe = next(sizes(layout, layout.lines["first"], larger(layout, layout.lines["first"].parts[0].pipe), PRICES))
    assert len(caps) == 2
    assert clash(*caps)
    assert clash(caps[0], bends)
    assert not clash(caps[0], union)
    assert not clash(pipe, union)
    both = changed(layout, [pipe, union, caps[0]])
    assert all(part.pipe.name == "pvc 63" for part in both.lines["first"].parts)


BENT = {path.stem: path for path in sorted((Path(__file__).parent / "data" / "bent").glob("*.yaml"))}


def corners(layout: Layout, line: str) -> int:
    """How many fittings of a line turn."""
    return sum(part.turn > 0.1 and not part.is_pipe for part in layout.lines[line].parts)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("name", "line", "runs", "fewer", "less"),
    [("four_elbows", "drain", "step 5 and step 9", 4, 0.80), ("riser_jog", "riser", "step 3", 2, 0.60)],
)
def test_a_way_aside_is_taken_out_with_its_corners(name: str, line: str, runs: str, fewer: int, less: float) -> None:
    """By hand, from the drawing: which runs go, how many corners, and how much pipe. Both ends stay where they are."""
    layout = read_layout(BENT[name])
    (change,) = straighter(layout, PRICES)
    after = changed(layout, [change])
    assert f"take out {runs} with {fewer} corners" in change.words
    assert corners(layout, line) - corners(after, line) == fewer
    assert layout.lines[line].length - after.lines[line].length == pytest.approx(less, abs=2e-3)
    assert math.dist(layout.lines[line].end.place, after.lines[line].end.place) < 1e-6


@pytest.mark.invariant
def test_pipe_that_goes_past_something_stays_where_it_is() -> None:
    """The belly under the path could be laid straight, if the file did not say what it goes past."""
    text = BENT["belly"].read_text(encoding="utf-8")
    assert not list(straighter(layout_of(text), PRICES))
    (change,) = straighter(layout_of(text.replace(", past: path", "")), PRICES)
    assert "take out step 5 and step 9 with 4 corners" in change.words


@pytest.mark.invariant
def test_pipe_is_not_brought_through_a_wall_that_it_came_over() -> None:
    """The tangle's return goes over the sump's rim by 0.2 m; laid low it would come 50 mm under it, and is offered with a bulkhead only."""
    layout = read_layout(LAYOUTS[NAMES.index("tangle")])
    assert not [change for change in straighter(layout, PRICES) if change.line == "filter return"]
    through, over = (change for change in straight_in(layout, PRICES) if change.line == "filter return")
    assert "through its wall by a bulkhead" in through.words
    assert "over its rim" in over.words
    for change, height, gone in ((through, 0.05, 3), (over, 0.30, 1)):
        after = changed(layout, [change])
        assert after.lines["filter return"].end.place[2] == pytest.approx(height)
        assert corners(layout, "filter return") - corners(after, "filter return") == gone


@pytest.mark.second_method
@pytest.mark.parametrize("name", ["four_elbows", "riser_jog"])
def test_places_along_straightened_pipe_are_told_as_along_the_pipe_as_it_was(name: str) -> None:
    """By the runs that are in both: each begins and ends at the same places of the old line."""
    layout = read_layout(BENT[name])
    (change,) = straighter(layout, PRICES)
    line, after = layout.lines[change.line], changed(layout, [change]).lines[change.line]
    gone = gone_of(line, change)
    swapped = {edit.step for edit in change.edits if edit.op == "swap"}
    kept = [part for part in line.parts if part.is_pipe and part.step not in swapped]
    runs = [part for part in after.parts if part.is_pipe]
    assert len(kept) == len(runs)
    for old, new in zip(kept, runs, strict=True):
        (piece,) = as_was(line, [(new.at, new.at + new.length)], gone)
        assert piece == pytest.approx((old.at, old.at + min(old.length, new.length)), abs=2e-3)


STUB = """
vessels:
  tank: {holds: fish, base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
  bed: {holds: plants, base: 1 m, rim: 0.4 m, water: 0.2 m, area: 1 m^2}
pumps: {lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}}
lines:
  riser:
    pipe: pvc 25
    from: lift
    route: [{up: 1.6 m}, elbow, {east: 0.5 m}, wye: fork, {east: 0.5 m}, elbow, {down: 0.2 m}]
    to: bed
  spur: {pipe: pvc 25, from: fork, route: [{east: 0.6 m, north: 0.6 m}], to: plug}
  drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.5 m}], to: tank}
"""
"""A dead end on a wye, whose branch no cap closes: it is cut short. On a tee a cap in its place costs no more, and is offered instead."""


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_a_stub_is_cut_short_only_where_no_cap_goes_on_the_tee() -> None:
    layout = layout_of(STUB)
    (change,) = (one for one in everything(layout) if one.kind in ("shorten", "cap a tee", "take out"))
    assert change.kind == "shorten"
    assert "dead-leg" in {one.kind for one in check(layout).findings}
    assert "dead-leg" not in {one.kind for one in check(changed(layout, [change])).findings}
    apart = parts_difference(bill_of(layout), bill_of(changed(layout, [change])))
    assert {item.kind: len(item.places) for item in apart.buy} == data("changes.yaml")["shorten"]["buys"]
    assert not [one for one in everything(checked("tangle").layout) if one.kind == "shorten"]


CURES = [
    ("union", "hump"),
    ("union", "low-point"),
    ("cap a tee", "dead-leg"),
    ("take out", "dead-leg"),
    ("two 45s", "sharp-bend"),
]


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize(("kind", "cured"), CURES)
def test_a_change_cures_what_it_is_for(kind: str, cured: str) -> None:
    """It is made where the trouble is told of."""
    layout = checked("tangle").layout
    before = {(f.kind, f.line) for f in checked("tangle").findings}
    some = [change for change in everything(layout) if change.kind == kind and (cured, change.line) in before]
    assert any(
        cured in {said for said, _ in before - {(f.kind, f.line) for f in check(changed(layout, [change])).findings}}
        for change in some
    )


@pytest.mark.invariant
@pytest.mark.parametrize("kind", ["check valve", "siphon break"])
def test_a_siphon_is_held_or_broken(kind: str) -> None:
    layout = read_layout(LAYOUTS[NAMES.index("siphon")])
    change = next(change for change in everything(layout) if change.kind == kind)
    kinds = {finding.kind for finding in check(changed(layout, [change])).findings}
    assert not kinds & {"power-cut-overtops", "fish-left-shallow"}


@pytest.mark.pinned
def test_sizes_go_up_by_the_same_series_and_hose_gives_way_to_pipe() -> None:
    layout = read_layout(LAYOUTS[NAMES.index("tangle")])
    assert [row.name for row in larger(layout, layout.lines["main"].parts[0].pipe)] == ["pvc 32", "pvc 40"]
    hose = layout.lines["herb drain"].parts[0].pipe
    assert hose.name == "hose 13 mm"
    assert [row.name for row in larger(layout, hose, least=0.02)] == ["pvc 25", "pvc 32"]


def pipe_of(name: str) -> Pipe:
    row = pipes()[name]
    return Pipe(row.name, row.bore, 1.5e-6, row.outside)


@pytest.fixture
def own(tmp_path: Path) -> Callable[[str], Prices]:
    """Read prices from a text."""

    def read(text: str) -> Prices:
        path = tmp_path / ("own.csv" if text.startswith("item") else "own.yaml")
        path.write_text(textwrap.dedent(text), encoding="utf-8")
        return read_prices(path)

    return read


@pytest.mark.invariant
def test_prices_of_changes_may_be_the_users_own(own: Callable[[str], Prices]) -> None:
    pipe = Pipe("a pipe", 0.02, 0.0, 0.025)
    prices = own("union: {money: 9.5}\nlabour: {money an hour: 0}\n")
    assert prices.of("union", pipe) == (9.5, 15.0)
    assert prices.hour == 0.0
    # Money of the user's own stands in for nothing.
    prices.of("union", pipe)
    assert not prices.stood_in
    assert own("labour: 35\nunion: {minutes: 3, size: false}\n").hour == 35.0
    assert own("item,size,price,minutes\nlabour,,35,\nunion,,9.5,7\n").of("union", pipe) == (9.5, 7.0)
    assert own("item;size;price;minutes\nunion;;9,5;7,5\n").of("union", pipe) == (9.5, 7.5)
    with pytest.raises(PlumblineError, match="'onion' is no change, so that it has no 'money'; did you mean union"):
        own("onion: {money: 9.5}\n")
    with pytest.raises(
        PlumblineError, match="the money of 'union' is 'cheap'; a plain number, not below 0, is expected"
    ):
        own("union: {money: cheap}\n")


@pytest.mark.second_method
def test_a_change_costs_its_parts_where_the_file_prices_them(own: Callable[[str], Prices]) -> None:
    """By hand, from one file that serves a parts list too."""
    prices = own("""
        stock: 3 m
        pipe: {pvc 32: 6.00, pvc 40: {price: 10.00, length: 5 m}, minutes a metre: 2}
        union: {pvc 25: 4.20, minutes: 9}
        cap: {pvc 25: 3.10, pvc 32: 4.00}
        bend 45: {pvc 25: 0.80}
        elbow: {pvc 32: 1.00, pvc 40: 1.50}
        reducer: {pvc 25 x pvc 32: 0.70}
    """)
    small, middle, large = (pipe_of(name) for name in ("pvc 25", "pvc 32", "pvc 40"))
    assert prices.of("union", small) == (4.20, 9.0)
    assert prices.of("two 45s", small) == (1.60, 30.0)
    assert prices.of("capped tee", middle)[0] == 4.00
    laid = {"metres": 2.5, "fittings": ["elbow", "elbow", "cap"], "old": small}
    assert prices.of("pipe", middle, **laid) == (
        pytest.approx(2.5 * 2.0 + 2 * 1.00 + 4.00 + 2 * 0.70),
        pytest.approx(15 + 2.5 * 2 + 3 * 5),
    )
    assert not prices.stood_in
    # No price for a capped tee or a reducer of that size: a placeholder, and told as one.
    assert prices.of("pipe", large, **laid) == (
        PRICES.of("pipe", large, **laid)[0],
        pytest.approx(15 + 2.5 * 2 + 3 * 5),
    )
    assert prices.of("capped tee", large) == PRICES.of("capped tee", large)
    assert {kind for kind, _ in prices.stood_in} == {"pipe", "capped tee"}
    assert prices.of("set valve", small)[0] == 0.0


@pytest.mark.second_method
@pytest.mark.slow
def test_what_a_change_is_said_to_buy_is_what_the_parts_lists_differ_by() -> None:
    """But for a cap put on a tee that stays, which the file cannot say, a coupling where nothing new is to be seen, and fittings at the
    ends of a line that is laid anew."""
    rows = data("changes.yaml")
    tried = Counter[str]()
    for path in LAYOUTS:
        layout = read_layout(path)
        for change in everything(layout):
            if change.kind in (
                "pipe",
                "cap a tee",
                "take out",
                "straighten",
                "straight through the wall",
                "move valve",
            ):
                continue
            if tried[change.kind] > 10:
                continue
            tried[change.kind] += 1
            apart = parts_difference(bill_of(layout), bill_of(changed(layout, [change])))
            assert {item.kind: len(item.places) for item in apart.buy} == rows[change.kind]["buys"]
    assert min(tried[kind] for kind in ("union", "two 45s", "capped tee", "cap end", "straight over the rim")) >= 1


@pytest.mark.invariant
def test_placeholders_are_told_for_what_is_chosen_only(own: Callable[[str], Prices]) -> None:
    layout = read_layout(LAYOUTS[NAMES.index("tangle")])
    prices = own("union: {pvc 25: 4.20, minutes: 10}\n")
    offered = accesses(layout, prices)
    named = [change for change in offered if change.kind == "union" and change.money == 4.20]
    others = [change for change in offered if change.kind == "capped tee"]
    assert named
    assert others
    assert prices.placeholders(named) == ((), ())
    assert prices.placeholders([*named, *others]) == (("capped tee",), ("capped tee",))
    assert PRICES.placeholders(accesses(layout, PRICES)[:1])[0]


@pytest.mark.pinned
def test_odd_names_are_quoted() -> None:
    assert quoted("it's: 1") == "'it''s: 1'"
    assert quoted("no") == "'no'"


@pytest.mark.invariant
@pytest.mark.parametrize(
    "run", ["left: 2 m", "{right: 2 m, fall: 2 %}", "back: 2 m", "ahead: 2 m", "{east: 2 m, rise: 1 in 50}"]
)
def test_a_run_that_turns_is_parted_into_one_that_turns_and_one_that_goes_on(
    read_text: Callable[[str], Layout], run: str
) -> None:
    layout = read_text(
        "vessels: {tank: {base: 0 m, water: 1 m}}\nlines:\n  a:\n    pipe: pvc 25\n    from: tank\n    route:\n      - south: 1 m\n"
        f"      - elbow\n      - up: 1 m\n      - elbow\n      - {run}\n    to: open air\n"
    )
    step = layout.lines["a"].parts[-1].step
    change = Change("union", "a", step, "", "new", (Edit("split", "a", step, ("union: u",), 0.5),), 0.0, 0.0)
    after = changed(layout, [change])
    assert after.lines["a"].end.place == pytest.approx(layout.lines["a"].end.place, abs=1e-9)
    assert [part.kind for part in after.lines["a"].parts][-3:] == ["run", "union", "run"]


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("said", "at", "parts"),
    [
        ("2 ft 6 in", 0.75 * 0.3048, ("9 in", "1 ft 9 in")),
        ("1 1/2 ft", 0.5 * 0.3048, ("6 in", "1 ft")),
        ("18.5 in", 9.2 * 0.0254, ("9 in", "9.5 in")),
        ("3' 4 1/4\"", 1.0 * 0.3048, ("1 ft", "2 ft 4 1/4 in")),
        ("760 mm", 0.3, ("300 mm", "460 mm")),
    ],
)
def test_a_run_is_split_in_the_units_that_it_is_written_in(said: str, at: float, parts: tuple[str, str]) -> None:
    """By hand: to the nearest half inch or centimetre, and the two add up to the run."""
    text = f"lines:\n  a:\n    route:\n      - up: {said}\n"
    union = Change("union", "a", 1, "", "union", (Edit("split", "a", 1, ("union: u",), at),), 0.0, 0.0)
    written = [step.partition("  #")[0] for step in apply(text, [union]).splitlines()[3:]]
    assert written == [f"      - up: {parts[0]}", "      - union: u", f"      - up: {parts[1]}"]


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("run", "at", "parts"),
    [
        ("{west: 4 m, down: 80 mm}", 1.33, ("{west: 1.33 m, down: 27 mm}", "{west: 2.67 m, down: 53 mm}")),
        ("{west: 3 m, down: 0.1 m}", 1.0, ("{west: 1 m, down: 0.033 m}", "{west: 2 m, down: 0.067 m}")),
        ("{west: 9 ft, down: 2 1/4 in}", 0.9144, ("{west: 3 ft, down: 3/4 in}", "{west: 6 ft, down: 1 1/2 in}")),
        ("{west: 9 ft, down: 2 in}", 0.9144, ("{west: 3 ft, down: 11/16 in}", "{west: 6 ft, down: 1 5/16 in}")),
        ("{west: 2 m, down: 1 mm}", 0.6, ("west: 0.6 m", "{west: 1.4 m, down: 1 mm}")),
    ],
)
def test_a_fall_is_split_to_the_marks_of_a_tape(run: str, at: float, parts: tuple[str, str]) -> None:
    """By hand: to the nearest millimetre or sixteenth of an inch, and the two add up to the run."""
    text = f"lines:\n  a:\n    route:\n      - {run}\n"
    union = Change("union", "a", 1, "", "union", (Edit("split", "a", 1, ("union: u",), at),), 0.0, 0.0)
    written = [step.partition("  #")[0] for step in apply(text, [union]).splitlines()[3:]]
    assert written == [f"      - {parts[0]}", "      - union: u", f"      - {parts[1]}"]


@pytest.mark.invariant
def test_a_run_that_takes_up_what_is_left_is_cut_so_that_its_last_part_does() -> None:
    assert _part({"down": "rest", "pipe": "pvc 32"}, 0.0, 0.5) == {"down": "0.5 m", "pipe": "pvc 32"}
    assert _part({"down": "rest"}, 0.5, 0.8) == {"down": "0.3 m"}
    assert _part({"down": "rest"}, 0.8, None) == {"down": "rest"}
    with pytest.raises(CannotChange, match="goes to a side as well"):
        _part({"west": "1 m", "down": "rest"}, 0.0, 0.5)


ROW = """
vessels:
  sump: {base: 0 m, rim: 0.6 m, water: 0.4 m}
  bed: {again: 3, base: 1 m, rim: 0.3 m, water: 0.2 m}
lines:
  foot: {pipe: pvc 40, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.5 m}, elbow, {south: 1.2 m, down: 30 mm}, elbow, {down: 0.3 m}], to: sump}
  other: {pipe: pvc 40, from: {vessel: bed 1, height: 0.05 m}, route: [{down: 0.5 m}], to: open air}
"""


@pytest.mark.invariant
def test_what_is_found_for_one_of_a_row_is_one_change_to_all_of_it() -> None:
    """Once in the text, three times in the layout and in its price; lines of their own are left as they are."""
    layout = layout_of(ROW)
    found = list(accesses(layout, PRICES))
    made = in_rows(layout, found)
    own = [change for change in found if change.line == "other"]
    assert len(made) - len(own) == (len(found) - len(own)) // 3
    change = next(one for one in made if one.kind == "union" and one.step == 3)
    assert change.lines == ("foot 1", "foot 2", "foot 3")
    assert change.cost(20.0) == pytest.approx(3 * (5.0 * 40 / 25 + 15 / 3))
    text = apply(layout.text, [change])
    assert text.count("union:") == 1
    after = layout_of(text)
    assert {one.id for one in after.accesses if one.kind == "union"} == {*change.accesses}
    assert sorted(one.line for one in after.accesses if one.id in change.accesses) == ["foot 1", "foot 2", "foot 3"]
    assert set(own) <= set(made)


@pytest.mark.invariant
def test_what_joins_one_of_a_row_to_another_line_is_no_change() -> None:
    layout = layout_of(ROW)
    (one, *_) = (change for change in accesses(layout, PRICES) if change.line == "foot 2")
    both = replace(one, edits=(*one.edits, Edit("swap", "other", 1)))
    assert in_rows(layout, [both]) == ()
    with pytest.raises(CannotChange, match="one of a row"):
        apply(layout.text, [one])


@pytest.mark.invariant
def test_lines_that_are_named_as_those_of_a_row_are_no_row() -> None:
    text = """
vessels: {tank: {base: 0 m, water: 0.5 m}, bed: {again: 2, base: 1 m, water: 0.1 m}}
lines:
  feed: {pipe: pvc 25, from: {vessel: tank, height: 0 m}, route: [east: 1 m], to: {draws: 1 L/min}}
  feed 1: {pipe: pvc 25, from: {vessel: tank, height: 0.1 m}, route: [east: 1 m], to: {draws: 1 L/min}}
  drain: {pipe: pvc 25, from: {vessel: bed, standpipe: 0.1 m}, route: [down: 0.9 m], to: tank}
"""
    assert rows_of(layout_of(text)) == {"drain": ("drain 1", "drain 2")}


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("route", "gone"),
    [
        # A jog: both corners, as the runs before and after go one way.
        ("{east: 1 m}, elbow, {up: 0.3 m}, elbow, {east: 1 m}", (1, 3)),
        # From east to north by way of up: the corner before makes the turn, the one behind goes.
        ("{east: 1 m}, elbow, {up: 0.3 m}, elbow, {north: 1 m}", (3,)),
        # Back the way it came: no one corner turns as far.
        ("{east: 1 m}, elbow, {up: 0.3 m}, elbow, {west: 1 m}", None),
    ],
)
def test_the_corners_that_go_with_a_run(route: str, gone: tuple[int, ...] | None) -> None:
    layout = layout_of(f"""
vessels: {{tank: {{base: 0 m, water: 0.5 m}}}}
lines:
  feed: {{pipe: pvc 25, from: {{vessel: tank, height: 0 m}}, route: [{route}], to: {{draws: 1 L/min}}}}
""")
    assert _corners(layout.lines["feed"].parts, 2) == gone
