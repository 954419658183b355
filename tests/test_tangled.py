"""Six tangles as the trade builds them, each with what a plumber would say of it. No published values here: what each says is worked out by
hand from its drawing."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from plumbline.check import CheckResult, check
from plumbline.layout import read_layout
from plumbline.redesign.prices import read_prices
from plumbline.redesign.search import Targets, search
from plumbline.upkeep.intervals import length

TANGLED = Path(__file__).parent / "data" / "tangled"


pytestmark = pytest.mark.second_method


@cache
def checked(name: str) -> CheckResult:
    return check(read_layout(TANGLED / f"{name}.yaml"))


@pytest.mark.parametrize(
    ("name", "verdict"),
    [("ring", "attention"), ("hoses", "attention"), ("drowned", "fail"), ("backflow", "fail"), ("detour", "attention"),
     ("channels", "attention")],
)  # fmt: skip
def test_each_is_read_and_judged(name: str, verdict: str) -> None:
    assert checked(name).verdict == verdict


def test_rods_do_not_pass_the_looped_hose() -> None:
    """1.2 m of hose from a pipe that goes up to one that goes east, 0.5 m away, turns 2 · 65.4° + |90° − 65.4°| + 65.4° in all: more than any
    rod takes. From the union a rod gets up to it, from the bed only to the first elbow."""
    result = checked("hoses")
    reached = result.upkeep.reached["riser"]
    assert length(reached) < 0.6 * result.layout.lines["riser"].length
    assert any(low < 0.95 < high for low, high in reached)
    (gap,) = [one for one in result.upkeep.gaps if one.line == "riser" and one.start < 2.2 + 0.5 < one.stop]
    assert "hose" in " ".join(failure.reason for failure in gap.why)


def test_a_flood_that_comes_back_through_the_pump_is_cured() -> None:
    """The feed ends under the bed's water: a check valve after the pump or a hole under the surface ends the siphon."""
    found = search(checked("backflow").layout, Targets(cleanable=0.0), read_prices())
    assert found is not None
    assert not found.left
    assert {change.kind for change in found.changes} & {"check valve", "siphon break"}
    assert found.result.verdict != "fail"


def test_the_manifolds_cap_does_not_clean_what_it_draws_from() -> None:
    """Opened, the flush end takes the water from the channels: their outlets run slower, and nothing of them comes out at it."""
    flushes = checked("channels").upkeep.flushes["flush end"]
    assert {line for line, pieces in flushes.items() if pieces} <= {"manifold"}
