"""Reading a layout costs in line with its size: four times the layout, four times the lines of the program run."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import FrameType
from typing import Any

import pytest

from plumbline.errors import LayoutError
from plumbline.layout import layout_of


def elbows(number: int) -> str:
    steps = "".join(f"      - {'north' if n % 2 else 'east'}: 0.1 m\n      - elbow\n" for n in range(number))
    return f"lines:\n  a:\n    pipe: pvc 25\n    from: open air\n    route:\n{steps}    to: open air\n"


def manifold(number: int) -> str:
    steps = "".join(f"      - east: 0.1 m\n      - tee: t{n}\n" for n in range(number))
    legs = "".join(
        f"  l{n}: {{pipe: pvc 20, from: t{n}, route: [north: 0.3 m, union], to: open air}}\n" for n in range(number)
    )
    return f"lines:\n  a:\n    pipe: pvc 25\n    from: open air\n    route:\n{steps}      - east: 1 m\n    to: open air\n{legs}"


def vessels(number: int) -> str:
    them = "".join(f"  v{n}: {{base: 0 m, water: 0.5 m, rim: 1 m}}\n" for n in range(number))
    pipes = "".join(
        f"  l{n}: {{pipe: pvc 20, from: {{vessel: v{n}, height: 0.1 m}}, route: [north: 0.3 m], "
        f"to: {{vessel: v{(n * 7 + 1) % number}, height: 0.1 m}}}}\n"
        for n in range(number)
    )
    return f"vessels:\n{them}lines:\n{pipes}"


def work(text: str) -> int:
    """How many lines of the program are run to read a text."""
    lines = 0

    def trace(_frame: FrameType, event: str, _more: Any) -> Any:
        nonlocal lines
        lines += event == "line"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        layout_of(text)
    finally:
        sys.settrace(before)
    return lines


@pytest.mark.invariant
@pytest.mark.parametrize("made", [elbows, manifold, vessels])
def test_four_times_the_layout_is_four_times_the_work(made: Callable[[int], str]) -> None:
    layout_of(made(10))  # tables are loaded once
    once, more = work(made(50)), work(made(200))
    assert 3.0 < more / once < 4.4


@pytest.mark.invariant
def test_more_steps_than_any_system_has_are_refused_before_they_cost_anything() -> None:
    with pytest.raises(LayoutError, match="more than 100000 values"):
        layout_of("lines:\n  a:\n    route:\n" + "      - east: 0.1 m\n" * 100_000)
