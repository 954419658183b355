"""Walks as people walk: left and right, falls and rises, several lines at one place, rows that repeat.

Second methods: each is written again in the long way, with compass words and one statement for each pipe.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from plumbline.errors import LayoutError
from plumbline.layout.model import Layout
from plumbline.layout.values import slope_of

ReadText = Callable[[str], Layout]


def walked(read_text: ReadText, *steps: str) -> Layout:
    route = "\n".join(f"      - {step}" for step in steps)
    return read_text("vessels: {tank: {base: 0 m, water: 0.5 m}}\nlines:\n  a:\n    pipe: pvc 25\n    from: tank\n"
                     f"    route:\n{route}\n    to: open air\n")  # fmt: skip


def places(layout: Layout) -> list[tuple[float, ...]]:
    return [tuple(round(x, 9) for x in part.end) for part in layout.lines["a"].parts]


@pytest.mark.second_method
@pytest.mark.parametrize(("mine", "compass"), [
    (["ahead: 1 m", "elbow", "left: 2 m", "elbow", "left: 3 m"], ["north: 1 m", "elbow", "west: 2 m", "elbow", "south: 3 m"]),
    (["up: 1 m", "elbow", "right: 2 m", "elbow", "up: 1 m", "elbow", "back: 1 m"],
     ["up: 1 m", "elbow", "east: 2 m", "elbow", "up: 1 m", "elbow", "west: 1 m"]),
    (["south: 1 m", "elbow", "left: 2 m", "elbow", "right: 1 m"], ["south: 1 m", "elbow", "east: 2 m", "elbow", "south: 1 m"]),
    (["east: 1 m", "bend 45", "{ahead: 1 m, left: 1 m}", "bend 45", "{left: 0.5 m, ahead: 0.5 m}"],
     ["east: 1 m", "bend 45", "{east: 1 m, north: 1 m}", "bend 45", "north: 0.707106781 m"]),
    (["west: 1 m", "elbow", "down: 1 m", "cap: ahead", "left: 1 m"], ["west: 1 m", "elbow", "down: 1 m", "cap: west", "south: 1 m"]),
    (["east: 1 m", "hose: {left: 1 m, length: 1.2 m}", "ahead: 1 m"], ["east: 1 m", "hose: {north: 1 m, length: 1.2 m}", "north: 1 m"]),
])  # fmt: skip
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
@pytest.mark.parametrize(("text", "share"), [("2 %", 0.02), ("1 in 50", 0.02), ("1:50", 0.02), ("1 to 50", 0.02), ("20 mm/m", 0.02),
                                             ("2 cm per m", 0.02), ("1/4 in per ft", 0.25 / 12), ('1/4" per foot', 0.25 / 12),
                                             ("0.02", 0.02), ("2 deg", math.tan(math.radians(2)))])  # fmt: skip
def test_a_slope_in_every_way(read_text: ReadText, text: str, share: float) -> None:
    assert slope_of(text) == pytest.approx(share, rel=1e-12)
    for word, sign in (("fall", -1.0), ("rise", 1.0)):
        end = walked(read_text, f"{{east: 3 m, north: 4 m, {word}: {text}}}").lines["a"].parts[0].end
        assert end == pytest.approx((3.0, 4.0, sign * 5.0 * share), rel=1e-12)


@pytest.mark.pinned
@pytest.mark.parametrize(("step", "said"), [
    ("{east: 1 m, fall: steep}", "'fall' is 'steep'"), ("{east: 1 m, fall: 2}", "for 2 per cent write 2 %"),
    ("{east: 1 m, fall: 2 %, down: 1 cm}", "'fall' and 'down' for one run"), ("{east: 1 m, fall: 2 %, rise: 1 %}", "'fall' and 'rise'"),
    ("{up: 1 m, fall: 2 %}", "'fall' and 'up' for one run"), ("{fall: 2 %}", "a run with a fall that goes to no side"),
    ("{east: 1 m, fall: 1 in 0}", "'fall' is '1 in 0'"), ("{left: -1 m}", "to go the other way write right: 1 m"),
])  # fmt: skip
def test_a_slope_that_cannot_be(read_text: ReadText, step: str, said: str) -> None:
    with pytest.raises(LayoutError) as error:
        walked(read_text, step)
    assert said in str(error.value)
