"""The ledger adds up, whatever the findings."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from checks import checked
from hypothesis import given
from hypothesis import strategies as st

from plumbline.findings import Finding
from plumbline.score import tally

FINDING = Finding("dead-leg", "warn", "message", "cure", "source")
weights = st.lists(st.floats(0.0, 1.0), max_size=30)


def findings(some: list[float]) -> list[Finding]:
    return [replace(FINDING, weight=weight, step=index) for index, weight in enumerate(some)]


@pytest.mark.invariant
@given(weights)
def test_rows_add_up_to_exactly_the_points_lost(some: list[float]) -> None:
    score = tally(findings(some), 1.0)
    assert sum(row.tenths for row in score.ledger) == 1000 - score.tenths
    assert 0 <= score.tenths <= 1000
    assert all(row.tenths > 0 for row in score.ledger)


@pytest.mark.invariant
@given(weights, st.floats(0.0, 1.0))
def test_another_finding_never_raises_the_score(some: list[float], weight: float) -> None:
    assert tally(findings([*some, weight]), 1.0).tenths <= tally(findings(some), 1.0).tenths


@pytest.mark.second_method
@given(weights)
def test_the_score_is_the_product_of_what_each_leaves(some: list[float]) -> None:
    left = 1000.0
    for weight in some:
        left *= 1.0 - weight
    assert abs(tally(findings(some), 1.0).tenths - left) <= 0.5 + 1e-6


@pytest.mark.invariant
def test_nothing_to_say_is_a_hundred() -> None:
    assert tally([], 1.0).points == 100.0


@pytest.mark.invariant
def test_order_does_not_matter() -> None:
    some = findings([0.3, 0.1, 0.5, 0.02])
    assert tally(some, 1.0) == tally(some[::-1], 1.0)


@pytest.mark.invariant
def test_what_another_row_of_the_line_has_paid_for_costs_nothing() -> None:
    held = replace(FINDING, kind="held-back", line="a", weight=0.05)
    still = [replace(FINDING, kind="standing-water", line=line, weight=0.05) for line in ("a", "b")]
    assert [row.finding for row in tally([held, *still], 1.0).ledger] == [held, still[1]]
    assert tally([still[0]], 1.0).points == 95.0


@pytest.mark.invariant
def test_the_score_is_the_worst_of_three_marks_and_each_ledger_adds_up() -> None:
    some = [
        replace(FINDING, kind=kind, weight=weight, line=kind)
        for kind, weight in (("overtops", 0.4), ("dead-leg", 0.05), ("unreachable", 0.3), ("too-little-water", 0.2))
    ]
    score = tally(some, 1.0)
    assert {name: mark.points for name, mark in score.marks.items()} == {
        "water": 80.0,
        "return": 60.0,
        "cleaning": 66.5,
    }
    assert (score.worst, score.points) == ("return", 60.0)
    assert [row.finding.kind for row in score.ledger] == ["overtops"]
    for mark in score.marks.values():
        assert sum(row.tenths for row in mark.ledger) == 1000 - mark.tenths


LAYOUTS = sorted((Path(__file__).parent.parent / "layouts").glob("*.yaml"))


@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_a_row_is_one_place_one_reason_and_one_cure(path: Path) -> None:
    score = checked(path).score
    rows = [row.finding for row in score.ledger]
    assert sum(row.tenths for row in score.ledger) == 1000 - score.tenths
    assert all(one.message.endswith(".") and one.cure for one in rows)
    # No reason twice in one place; rows of the whole layout tell themselves apart by what they say.
    seen = Counter((one.kind, one.line, one.step, one.start, one.message if one.line is None else "") for one in rows)
    assert max(seen.values(), default=1) == 1
