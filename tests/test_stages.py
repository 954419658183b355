"""What water asks for at a mouth, and where levels come to rest: against the formulas of one mouth, and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from conftest import ReadText
from plain_mouths import crest_head, overflow_head

from plumbline.check import check
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.stages import MOUTHS, TRICKLE, mouth_heads

G = 9.80665
LPM = 60_000.0
BORES = (0.02, 0.05, 0.11)


def over(kind: str, flows: np.ndarray, bore: float, k: float) -> tuple[np.ndarray, np.ndarray]:
    n = len(flows)
    return mouth_heads(np.full(n, MOUTHS.index(kind)), flows, np.full(n, bore), np.full(n, k), G)  # type: ignore[arg-type]


def flows_for(bore: float) -> np.ndarray:
    """From just over a trickle to a mouth well drowned."""
    return np.geomspace(1.01 * TRICKLE, 3.0, 400) * math.sqrt(G * bore**5)


@pytest.mark.second_method
@pytest.mark.parametrize("bore", BORES)
def test_all_mouths_at_once_are_one_mouth_at_a_time(bore: float) -> None:
    """The depths of critical flow come from a table of steps of 1.03e-3 rad: within θ² D/8 of them, 1.3e-7 D."""
    flows = flows_for(bore)
    crests, _ = over("crest", flows, bore, -1.0)
    assert crests == pytest.approx([crest_head(q, bore) for q in flows], rel=1e-12)
    holes, _ = over("overflow", flows, bore, 0.5)
    plain = np.array([overflow_head(q, bore, 0.5) for q in flows])
    # Over 0.985 of the round the table ends, and the depth stays as it is: by then the hole asks for more.
    assert np.max(np.abs(holes - plain)) < 5e-7 * bore + 1e-6 * float(np.max(plain))


@pytest.mark.second_method
@pytest.mark.parametrize("bore", BORES)
@pytest.mark.parametrize(("kind", "k"), [("crest", -1.0), ("crest", 0.5), ("wall", 0.5), ("overflow", 0.5)])
def test_a_mouths_slope_is_that_of_its_head(kind: str, k: float, bore: float) -> None:
    """Central differences a millionth apart, but at the corner from weir to hole, where the slope is one side's or the other's, and in the
    table, whose straight pieces are as far apart as a thousandth of its length: there a hundredth."""
    flows = flows_for(bore)
    step = 1e-6 * flows
    up, down = over(kind, flows + step, bore, k)[0], over(kind, flows - step, bore, k)[0]
    _, slope = over(kind, flows, bore, k)
    off = np.abs((up - down) / (2.0 * step) - slope) > 0.01 * slope + 1e-3 * bore / flows
    assert np.count_nonzero(off) <= 1
    assert np.all(slope >= 0.0)


@pytest.mark.invariant
@pytest.mark.parametrize("bore", BORES)
@pytest.mark.parametrize(("kind", "k"), [("crest", -1.0), ("crest", 0.5), ("wall", 0.5), ("overflow", 0.5)])
def test_from_weir_to_hole_the_head_never_falls_nor_jumps(kind: str, k: float, bore: float) -> None:
    """Between flows a thousandth apart the head moves by less than a hundredth of the bore, and it begins at the lip."""
    flows = np.concatenate([[0.0], np.geomspace(1e-3 * TRICKLE, 1.0, 20_000) * math.sqrt(G * bore**5)])
    heads, _ = over(kind, flows, bore, k)
    assert heads[0] == (0.0 if kind == "crest" else -0.5 * bore)
    assert np.all(np.diff(heads) >= -1e-12)
    # BS EN 12056-3's weir and hole meet at h = D/2, since 7500·2^1.5 = 15000·√2.
    assert np.max(np.diff(heads)) < 0.01 * bore


JOINED = """
water: 20 degC
vessels:
  first: {base: 0 m, rim: 2 m, water: 1.2 m, area: A m^2}
  second: {base: 0.1 m, rim: 2 m, water: 0.3 m, area: 0.7 m^2}
  third: {base: -0.2 m, rim: 2 m, water: 0.5 m, area: 1.9 m^2}
lines:
  one: {pipe: {bore: 43 mm}, from: {vessel: first, height: 0.2 m}, route: [east: 1 m], to: second}
  two: {pipe: {bore: 27 mm}, from: {vessel: third, height: 0.4 m}, route: [west: 3 m], to: second}
"""


@pytest.mark.second_method
@pytest.mark.parametrize("area", [0.4, 1.0, 5.0])
def test_joined_vessels_come_level_with_all_their_water(read_text: ReadText, area: float) -> None:
    """Σ A h / Σ A, whatever the joins."""
    flows = find_flows(read_text(JOINED.replace("A m^2", f"{area} m^2")))
    level = (area * 1.2 + 0.7 * 0.4 + 1.9 * 0.3) / (area + 0.7 + 1.9)
    for name, got in flows.vessels.items():
        # The last step in time leaves so little that its stored flow is under what is printed.
        assert got.level == pytest.approx(level, abs=1e-6), name
    assert all(abs(one.flow) * LPM < 1e-3 for one in flows.stretches.values())


STARVED = """
water: 20 degC
vessels:
  sump: {base: 0 m, rim: 1 m, water: 0.3 m, area: 0.5 m^2}
  bed: {base: 1 m, rim: 0.6 m, water: 0 m, area: 2 m^2}
pumps: {lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 3 m], [40 L/min, 0 m]]}}
lines:
  riser: {pipe: {bore: 26 mm}, from: lift, route: [{up: 1.7 m}, elbow, {east: 1 m}], to: bed}
  back: {pipe: {bore: 57 mm}, from: {vessel: bed, standpipe: 0.5 m}, route: [{down: 1.2 m}], to: sump}
"""


@pytest.mark.second_method
def test_a_sump_that_cannot_fill_the_bed_runs_down_to_the_intake(read_text: ReadText) -> None:
    """Over the intake stand 0.5 m² · 0.2 m = 100 L, and to its crest the bed takes 2 m² · 0.5 m = 1000 L; with its crest at 30 mm it
    takes 60 L and what stands over the crest."""
    result = check(read_text(STARVED))
    assert result.flows.pumps["lift"].state == "starved"
    (told,) = [one for one in result.findings if one.kind == "sump-runs-dry"]
    assert "100.0 L stand over the intake" in told.message
    low = find_flows(
        read_text(STARVED.replace("standpipe: 0.5 m", "standpipe: 0.03 m").replace("down: 1.2 m", "down: 0.73 m"))
    )
    assert low.pumps["lift"].state == "on curve"
    q = low.stretches["back.1"].flow
    assert low.vessels["bed"].level == pytest.approx(1.03 + crest_head(q, 0.057), abs=1e-6)
    assert low.vessels["sump"].level == pytest.approx(0.3 - 2.0 / 0.5 * (low.vessels["bed"].level - 1.0), abs=1e-6)


@pytest.mark.second_method
@pytest.mark.parametrize("count", [1, 2, 3])
def test_equal_standpipes_share_evenly(read_text: ReadText, count: int) -> None:
    """Each takes its part, and the water stands over them as for that part by BS EN 12056-3."""
    drains = "".join(
        f"  back {n}: {{pipe: {{bore: 43 mm}}, from: {{vessel: bed, standpipe: 0.2 m}}, route: [{{down: 0.8 m}}], to: sump}}\n"
        for n in range(count)
    )
    text = (
        STARVED.split("  back:", maxsplit=1)[0].replace("water: 0 m", "water: 0.2 m").replace("rim: 1 m", "rim: 0.6 m")
    )
    flows = find_flows(read_text(text + drains))
    part = flows.pumps["lift"].flow / count
    for n in range(count):
        assert flows.stretches[f"back {n}.1"].flow == pytest.approx(part, rel=1e-9)
    assert flows.vessels["bed"].level == pytest.approx(1.2 + crest_head(part, 0.043), abs=1e-8)
