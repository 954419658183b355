"""The ledger adds up, whatever the findings."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from plumbline.findings import Finding
from plumbline.score import tally

FINDING = Finding("dead-leg", "warn", "message", "cure", "source")
weights = st.lists(st.floats(0.0, 1.0), max_size=30)


def findings(some: list[float]) -> list[Finding]:
    return [replace(FINDING, weight=weight, step=index) for index, weight in enumerate(some)]


@given(weights)
def test_rows_add_up_to_exactly_the_points_lost(some: list[float]) -> None:
    score = tally(findings(some), 1.0)
    assert sum(row.tenths for row in score.ledger) == 1000 - score.tenths
    assert 0 <= score.tenths <= 1000
    assert all(row.tenths > 0 for row in score.ledger)


@given(weights, st.floats(0.0, 1.0))
def test_another_finding_never_raises_the_score(some: list[float], weight: float) -> None:
    assert tally(findings([*some, weight]), 1.0).tenths <= tally(findings(some), 1.0).tenths


@given(weights)
def test_the_score_is_the_product_of_what_each_leaves(some: list[float]) -> None:
    left = 1000.0
    for weight in some:
        left *= 1.0 - weight
    assert abs(tally(findings(some), 1.0).tenths - left) <= 0.5 + 1e-6


def test_nothing_to_say_is_a_hundred() -> None:
    assert tally([], 1.0).points == 100.0


def test_order_does_not_matter() -> None:
    some = findings([0.3, 0.1, 0.5, 0.02])
    assert tally(some, 1.0) == tally(some[::-1], 1.0)
