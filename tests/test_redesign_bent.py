"""Tangles that a mender meets, each with what a plumber does to it, told at the top of its file: the search comes to the same, or says why not."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from plumbline import read_layout
from plumbline.redesign.buildable import shortage
from plumbline.redesign.change import apply, changed
from plumbline.redesign.hung import hung
from plumbline.redesign.prices import read_prices
from plumbline.redesign.search import Redesign, Targets, search

BENT = Path(__file__).parent / "data" / "bent"

pytestmark = [pytest.mark.second_method, pytest.mark.slow]


@cache
def redesigned(name: str) -> Redesign:
    found = search(read_layout(BENT / f"{name}.yaml"), Targets(), read_prices())
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("name", "kinds", "cost"),
    [
        # 8.00 in couplings and 40 minutes; two accesses, which it takes otherwise, are 30.00.
        ("four_elbows", ["straighten"], 8.0 + 40 / 3),
        # A capped tee at the jog is 15.33, laying it straight 17.33.
        ("riser_jog", ["capped tee"], 7.0 + 25 / 3),
        # The path stays: one opening, at the low place.
        ("belly", ["capped tee"], 7.0 + 25 / 3),
        # No opening fits into the 50 mm before the wall.
        ("sharp_corner", ["two 45s"], 10.0 + 30 / 3),
        # The coupling, and an opening on either side of where the valve was.
        ("held_back", ["take out check valve", "union", "union"], 4.0 + 20 / 3 + 2 * (10.0 + 15 / 3)),
        # 4.00 for each 25 mm of pipe, 20 minutes and 5 a metre.
        ("sagging", ["hang anew"], 8.0 + (20 + 5 * 2.2) / 3),
        ("shelf", ["hang anew"], 8.0 + (20 + 5 * 1.0) / 3),
        # 0.508 m down and 0.8 m along, a capped tee and a tee of twice 25 mm; unions in its runs would be 15.00 each.
        ("round_the_bench", ["lay afresh"], 2 * (4.0 + 2 * 1.308 + 4.0 * 2) + round(20 + 5 * 1.308 + 8 * 2, 1) / 3),
        # Ten minutes, and nothing to buy.
        ("at_the_rim", ["shorter standpipe"], 10 / 3),
        # The doorway stays: openings, one of them at the top.
        ("hump", ["union", "union", "union"], 3 * (10.0 + 15 / 3)),
    ],
)
def test_the_cheapest_cure_is_what_a_plumber_does(name: str, kinds: list[str], cost: float) -> None:
    found = redesigned(name)
    assert [change.kind for change in found.changes] == kinds
    assert found.cost == pytest.approx(cost, abs=0.01)
    assert found.proven
    assert found.result.verdict != "fail"
    assert found.result.upkeep.cleanable_fraction == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("hump", "hump"),
        ("held_back", "no-way-out"),
        ("sagging", "back-fall"),
        ("shelf", "back-fall"),
        ("at_the_rim", "overtops"),
    ],
)
def test_what_it_is_for_is_cured(name: str, kind: str) -> None:
    found = redesigned(name)
    assert kind in {one.kind for one in found.before.findings if one.level != "advice"}
    assert kind not in {one.kind for one in found.result.findings if one.level != "advice"}


def test_a_standpipe_sawn_shorter_leaves_its_drain_where_it_is() -> None:
    """19 mm over it by BS EN 12056-3 (from memory), Q = D h^1.5/7500, at 0.75 L/s in 69 mm: at the rim less 20 mm."""
    found = redesigned("at_the_rim")
    before, after = found.before.layout.lines["return"], found.result.layout.lines["return"]
    assert after.end.place == pytest.approx(before.end.place)
    assert before.length - after.length == pytest.approx(0.035)
    got = found.result.flows.vessels["bed"]
    assert got.level is not None
    assert 0.01 < 1.3 - got.level < 0.03


@pytest.mark.parametrize(("name", "step", "falls", "whole"), [("sagging", 3, 51, 2.2), ("shelf", 3, 23, 1.0)])
def test_what_is_hung_anew_has_one_fall_and_the_rest_stays(name: str, step: int, falls: int, whole: float) -> None:
    """1/48 and a tenth, to the next millimetre, over the length as it lay."""
    before, after = redesigned(name).before.layout.lines["return"], redesigned(name).result.layout.lines["return"]
    level = [part for part in after.parts if part.is_pipe and abs(part.heading_in[2]) < 0.5]
    drops = [round(1000 * (part.start[2] - part.end[2])) for part in level]
    assert sum(drops) == falls
    assert all(
        drop / part.length == pytest.approx(falls / whole, abs=1.0) for drop, part in zip(drops, level, strict=True)
    )
    assert after.end.place == pytest.approx(before.end.place)
    assert level[0].step == step


@pytest.mark.parametrize(
    ("name", "kinds", "most"),
    [
        ("dead_leg_and_flood", ["pipe", "cap a tee", "union", "union", "set valve"], 9.0 + 27.14 + 11.4 + 10.0 + 1.67),
        (
            "daisy_chain",
            ["straight over the rim", "new valve", "union", "union", "union"],
            5.0 + 22.03 + 11.4 + 13.0 + 13.0,
        ),
        ("three_at_once", ["hang anew", "cap a tee", "shorter standpipe"], 18.67 + 9.0 + 3.34),
        ("valve_and_way_round", ["straighten", "take out check valve", "union", "union"], 18.46 + 10.67 + 11.4 + 15.0),
    ],
)
def test_two_or_three_troubles_at_once_cost_no_more_than_by_hand(name: str, kinds: list[str], most: float) -> None:
    found = redesigned(name)
    assert [change.kind for change in found.changes] == kinds
    assert found.cost <= most + 0.01
    assert not found.left
    assert found.result.verdict != "fail"
    assert found.result.upkeep.cleanable_fraction == pytest.approx(1.0)


@pytest.mark.parametrize(
    "name",
    [
        "dead_leg_and_flood",
        "daisy_chain",
        "three_at_once",
        "valve_and_way_round",
    ],
)
def test_the_parts_list_finds_room_for_what_is_changed(name: str) -> None:
    assert shortage(redesigned(name).result.layout).keys() <= shortage(redesigned(name).before.layout).keys()


def test_a_line_of_a_row_is_changed_with_all_of_the_row_in_the_text_once_and_priced_for_all() -> None:
    """Laid straight it is 3.20 for couplings and 40 minutes, four times; no brush fits 17 mm, and each of two pieces wants an opening of 10.00."""
    found = redesigned("row")
    costs = [(change.kind, change.row, round(change.cost(20.0), 2)) for change in found.changes]
    assert ("straighten", "drop", 66.13) in costs
    assert [kind for kind, row, cost in costs if row == "drop"] == ["straighten", "pipe", "union", "union"]
    assert [cost for kind, row, cost in costs if kind == "union" and row] == [40.0, 40.0]
    assert found.result.upkeep.cleanable_fraction == pytest.approx(1.0)
    text = apply(found.before.layout.text, found.changes)
    assert text.count("union: drop union 11") == 1
    assert [one.id for one in found.result.layout.accesses if one.id.startswith("drop union 11")] == [
        f"drop union 11 {n}" for n in (1, 2, 3, 4)
    ]


@pytest.mark.parametrize(
    ("file", "said"),
    [
        (
            "courtyard",
            "hang steps 3 to 5 of 'return' anew, with one even fall of 51 mm over 2.20 m, and make step 7 31 mm shorter",
        ),
        (
            "gallons",
            "hang steps 3 to 5 of 'return' anew, with one even fall of 2 in over 7' 2 3/4\", and make step 7 1 1/4 in shorter",
        ),
    ],
)
def test_pipe_hung_anew_is_told_in_the_units_of_the_file(file: str, said: str) -> None:
    layout = replace(
        read_layout(BENT / "sagging.yaml"), units=read_layout(BENT.parents[2] / "layouts" / f"{file}.yaml").units
    )
    (change,) = hung(layout, layout.lines["return"], read_prices(), drains=True)
    assert change.words == said


def test_a_collector_that_climbs_is_hung_anew_through_its_tees() -> None:
    """By hand: it climbs 20 mm over 3.2 m and is to fall by a tenth over the least, 1.1 · 20.833 mm/m · 3.2 m = 73.3 mm, to the millimetre above; so the drop
    at its end goes up by 94 mm. Tee cb comes to lie 23 mm under where the collector begins, 3 mm lower than it was, and ca 51 mm, so much lower; the beds'
    drops take that up."""
    layout = read_layout(BENT / "collector.yaml")
    (change,) = hung(layout, layout.lines["collector"], read_prices(), drains=True)
    assert change.words.startswith(
        "hang steps 3 to 7 of 'collector' anew, with one even fall of 74 mm over 3.20 m, and make step 9 94 mm shorter"
    )
    assert change.cost(20.0) == pytest.approx(2 * 4 + (20 + 5 * 3.2) / 60 * 20, abs=0.01)
    after = changed(layout, [change])
    for tee, lower in (("cb", 0.003), ("ca", 0.051)):
        was, now = layout.tees[tee].place, after.tees[tee].place
        assert now[:2] == pytest.approx(was[:2])
        assert was[2] - now[2] == pytest.approx(lower, abs=1e-9)
    for bed, lower in (("drain a", 0.051), ("drain b", 0.003)):
        before, drop = layout.lines[bed].parts[-1], after.lines[bed].parts[-1]
        assert drop.length - before.length == pytest.approx(lower, abs=1e-9)
        assert after.lines[bed].start.place == pytest.approx(layout.lines[bed].start.place)
    assert after.lines["collector"].end.place == pytest.approx(layout.lines["collector"].end.place)
    assert not any(part.is_pipe and part.end[2] > part.start[2] for part in after.lines["collector"].parts)
