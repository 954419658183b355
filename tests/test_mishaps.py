"""Single parts gone wrong: six systems as the trade builds them, with what each mishap does worked out by hand; the same mishap put into the
text by hand and followed by the slow model; and what is always so."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest
from slow_reader import slow_system
from slow_water import System

from plumbline.day import follow_day
from plumbline.hydraulics.find import find_flows
from plumbline.husbandry.between import Between
from plumbline.layout.model import Layout
from plumbline.mishaps import Mishap, Mishaps, find_mishaps
from plumbline.mishaps.air import fish_air, lasts
from plumbline.mishaps.fault import Fault, faults_of, lengths_of
from plumbline.mishaps.jets import lands
from plumbline.mishaps.running import run

ReadText = Callable[[str], Layout]
WATER = "water: {density: 998 kg/m^3, viscosity: 1.002e-3 Pa s}\n"
PIPE = "{bore: 26 mm, roughness: 0.0015 mm}"
WIDE = "{bore: 50 mm, roughness: 0.0015 mm}"


@dataclass(frozen=True)
class Case:
    """A system, the mishap, and by hand: the first harm, where, after how many minutes; `others` likewise, and litres lost. `by` says how."""

    name: str
    by: str
    text: str
    mishap: tuple[str, str]
    what: str
    where: str
    after: float
    within: float = 0.02
    others: dict[tuple[str, str], float] = field(default_factory=dict)
    lost: float | None = None


SUMP = "  sump: {holds: sump, base: -1 m, rim: 0.9 m, water: 0.6 m, area: 1.5 m^2}\n"
STEADY = "curve: [[0 L/min, 500 m], [19.98 L/min, 400 m], [19.99 L/min, 300 m], [20.01 L/min, 0 m]]"
"""A pump that gives 20 L/min whatever it lifts, to a thousandth."""

TANK_OVER_SUMP = (
    WATER
    + "vessels:\n"
    + SUMP
    + "  tank: {holds: fish, base: 0 m, rim: 0.9 m, water: 0.8 m, area: 1 m^2}\n"
    + f"pumps:\n  lift: {{in: sump, height: 0.1 m, {STEADY}}}\n"
    + "lines:\n"
    + f"  feed: {{pipe: {PIPE}, from: lift, route: [up: 2 m, elbow: {{K: 0.9}}, east: 1 m], to: {{vessel: tank, K: 1}}}}\n"
    + f"  return: {{pipe: {WIDE}, from: {{vessel: tank, standpipe: 0.79 m, K: 0.5}}, route: [{{down: 1.2 m}}], to: {{vessel: sump, K: 1}}}}\n"
)
"""20 L/min run over a standpipe of 50 mm: (7500 · 0.3333/50)^(2/3) = 13.6 mm over its crest (BS EN 12056-3), so the tank settles at 0.8036 m,
0.0964 m under its rim, and the sump gives 3.6 L for it."""

CASES = (
    Case(
        "a stone in the fish tank's standpipe",
        "0.0964 m of 1 m² at 20 L/min: 4.8 min. The sump, at 0.5976 m, is down to 0.1 m after 746 L; till then all but 96 L run over.",
        TANK_OVER_SUMP, ("standpipe blocked", "return"), "floor wet", "tank", 4.82, 0.03,
        {("pump dry", "lift"): 37.3}, lost=650.0,
    ),
    Case(
        "the pump stops over a tank that cannot run back",
        "The feed ends in the air and the return at its crest: only the water stops coming, at once; nothing is lost.",
        TANK_OVER_SUMP, ("pump stopped", "lift"), "no water to the fish", "tank", 0.0, lost=0.0,
    ),
    Case(
        "a hose comes off at the pump, which stands in the fish tank",
        "20 L/min onto the floor from 0.8 m of 1 m², to which the bed gives 6.4 L of its 200 before and 13.6 L after: 420 L are half of it, in 21 min; "
        "the outlet at 0.05 m is bare after 770 L, 38.5 min.",
        WATER + "vessels:\n  tank: {holds: fish, base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}\n"
        "  bed: {holds: plants, base: 1.2 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2}\n"
        f"pumps:\n  lift: {{in: tank, height: 0.05 m, {STEADY}}}\n"
        "lines:\n"
        "  feed: {pipe: hose 25, from: lift, route: [hose: {up: 1.6 m}, elbow, {east: 1 m}], to: bed}\n"
        f"  return: {{pipe: {WIDE}, from: {{vessel: bed, standpipe: 0.18 m, K: 0.5}}, route: [{{down: 0.4 m}}], to: {{vessel: tank, K: 1}}}}\n",
        ("hose off", "feed"), "floor wet", "feed", 0.0, 0.02,
        {("fish tank below half", "tank"): 21.0, ("pump dry", "lift"): 38.5}, lost=770.0,
    ),
    Case(
        "a top-up that sticks open",
        "5 L/min into 1.5 m² from 0.6 m: it runs over at 0.9 m after 450 L, 90 min; in 12 h 3600 L came, 3150 L ran over.",
        WATER + "vessels:\n  sump: {holds: sump, base: 0 m, rim: 0.9 m, water: 0.6 m, area: 1.5 m^2}\n"
        "lines:\n"
        f"  top-up: {{pipe: {PIPE}, from: {{supply: 5 L/min, height: 1.3 m}}, route: [{{down: 0.2 m}}], to: {{vessel: sump, float valve: 0.6 m}}}}\n",
        ("top-up stuck open", "top-up"), "floor wet", "sump", 90.0, 0.03, lost=3150.0,
    ),
    Case(
        "the power goes and the feed runs back",
        "The feed's mouth is at 0.3 m in the tank and the pump lets water through: 15.5 L/min run back till it draws air at (1 + 1) V²/2g, 24 mm, over "
        "the mouth. Before, the return had 15.8 mm over its crest, 6.0 L more than written; so 482 L come, and the sump has room for 26.",
        WATER + "vessels:\n  sump: {holds: sump, base: -1 m, rim: 0.65 m, water: 0.6 m, area: 0.4 m^2}\n"
        "  tank: {holds: fish, base: 0 m, rim: 0.9 m, water: 0.8 m, area: 1 m^2}\n"
        "pumps:\n  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 4 m], [40 L/min, 0 m]]}\n"
        "lines:\n"
        f"  feed: {{pipe: {PIPE}, from: lift, route: [up: 1.9 m, elbow: {{K: 0.9}}, east: 1 m, elbow: {{K: 0.9}}, down: 0.7 m], to: {{vessel: tank, K: 1}}}}\n"
        f"  return: {{pipe: {WIDE}, from: {{vessel: tank, standpipe: 0.79 m, K: 0.5}}, route: [{{down: 1.2 m}}], to: {{vessel: sump, K: 1}}}}\n",
        ("power away", "power"), "no water to the fish", "tank", 0.0,
        others={("fish tank below half", "tank"): math.nan, ("floor wet", "sump"): math.nan}, lost=456.0,
    ),
    Case(
        "the timer of a flooded bed sticks off",
        "The pump runs 10 min and rests 20: the bed misses its water from the 20 min on that it is used to wait.",
        WATER + "vessels:\n  sump: {holds: sump, base: 0 m, rim: 0.9 m, water: 0.6 m, area: 0.8 m^2}\n"
        "  bed: {holds: plants, base: 1 m, rim: 0.4 m, water: 0 m, area: 0.5 m^2}\n"
        f"pumps:\n  lift: {{in: sump, height: 0.1 m, {STEADY}, runs: {{on: 10 min, off: 20 min}}}}\n"
        "lines:\n"
        f"  riser: {{pipe: {PIPE}, from: lift, route: [up: 1.5 m, elbow: {{K: 0.9}}, east: 1 m], to: {{vessel: bed, K: 1}}}}\n"
        f"  foot: {{pipe: {PIPE}, from: {{vessel: bed, height: 0 m, K: 0.5}}, route: [{{down: 0.3 m}}], to: {{vessel: sump, K: 1}}}}\n",
        ("timer stuck off", "lift"), "no water to a bed", "bed", 20.0,
    ),
)  # fmt: skip


def of(found: Mishaps, kind: str, place: str) -> Mishap:
    """The mishap of a kind in a line, of a pump or of the power."""
    return next(one for one in found.mishaps if one.fault.kind == kind and place in (one.fault.line, one.fault.key))


@pytest.mark.second_method
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_mishap_does_what_it_does_by_hand(case: Case, read_text: ReadText) -> None:
    found = find_mishaps(read_text(case.text))
    mishap = of(found, *case.mishap)
    assert mishap.first is not None
    assert (mishap.first.what, mishap.first.where) == (case.what, case.where)
    assert mishap.first.time / 60.0 == pytest.approx(case.after, rel=case.within, abs=0.01)
    times = {(harm.what, harm.where): harm.time / 60.0 for harm in mishap.harms}
    for harm, after in case.others.items():
        assert math.isnan(after) or times[harm] == pytest.approx(after, rel=0.02), harm
        assert harm in times
    if case.lost is not None:
        assert mishap.lost * 1e3 == pytest.approx(case.lost, rel=0.02, abs=0.1)
