"""What a check tells other programs, held against sums done by hand and against what more of the same may not change."""

from __future__ import annotations

import math
import re
import textwrap
from typing import Any

import pytest

from plumbline import check
from plumbline.layout import layout_of
from plumbline.report.json import as_json


def told(text: str) -> dict[str, Any]:
    """A check as other programs get it."""
    return as_json(check(layout_of(textwrap.dedent(text))))


def of_kind(result: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [finding for finding in result["findings"] if finding["kind"] == kind]


# ---------------------------------------------------------------------- how long a vessel takes to fill

FILLING = """
vessels:
  trough: {{base: 1 m, rim: {rim} m, water: 0.1 m, area: {area} m^2}}
lines:
  supply: {{pipe: pvc 25, from: {{vessel: trough, height: {rim} m}}, route: [{{up: 0.5 m}}], to: {{draws: -{flow} L/min}}}}
"""


@pytest.mark.second_method
@pytest.mark.parametrize(("area", "rim", "flow"), [(2.0, 0.3, 12.0), (0.5, 0.4, 5.0), (6.0, 0.9, 16.0)])
def test_a_vessel_overtops_after_its_area_times_its_freeboard_over_what_comes(
    area: float, rim: float, flow: float
) -> None:
    """By hand: 2 m² x 0.2 m / 12 L/min = 33 minutes; nothing takes water out."""
    found = of_kind(told(FILLING.format(area=area, rim=rim, flow=flow)), "no-way-out")
    assert len(found) == 1
    minutes = re.search(r"overtops after (\d+) minutes", found[0]["message"])
    assert minutes is not None
    assert int(minutes[1]) == round(1000.0 * area * (rim - 0.1) / flow)


@pytest.mark.second_method
def test_a_vessel_that_fills_at_once_is_told_in_words() -> None:
    """0.02 m² x 0.2 m / 12 L/min is 20 seconds."""
    (found,) = of_kind(told(FILLING.format(area=0.02, rim=0.3, flow=12.0)), "no-way-out")
    assert "within a minute" in found["message"]


# ---------------------------------------------------------------------- the intakes of a sump

SUMP = """
vessels:
  sump: {{holds: sump, base: 0 m, rim: 0.9 m, water: 0.5 m, area: 0.2 m^2}}
  bed: {{base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2}}
  other: {{base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2}}
pumps:
{pumps}
lines:
{risers}
  drain: {{pipe: pvc 50, from: {{vessel: bed, standpipe: 0.2 m}}, route: [{{down: 0.3 m}}], to: sump}}
  second drain: {{pipe: pvc 50, from: {{vessel: other, standpipe: 0.2 m}}, route: [{{down: 0.3 m}}], to: sump}}
"""
CURVE = "curve: [[0 L/min, 3 m], [40 L/min, 0 m]]"


def sump(*pumps: tuple[str, float, str]) -> dict[str, Any]:
    """A sump with pumps, each with a name, the height of its intake, and where it lifts to."""
    said = [f"  {name}: {{in: sump, height: {height} m, {CURVE}}}" for name, height, _ in pumps]
    risers = [
        f"  from {name}: {{pipe: pvc 25, from: {name}, route: [{{up: 1.4 m}}, elbow, {{east: 6 m}}, elbow, {{down: 0.1 m}}], to: {to}}}"
        for name, _, to in pumps
    ]
    return told(SUMP.format(pumps="\n".join(said), risers="\n".join(risers)))


@pytest.mark.invariant
@pytest.mark.parametrize("height", [0.55, 0.47, 0.4])
def test_a_lower_second_pump_never_takes_an_uncovered_intake_away(height: float) -> None:
    """Above the water, above what is left of it once pipes are full, or so only where the sump was filled with the pumps off."""
    alone = of_kind(sump(("high", height, "bed")), "intake-uncovered")
    assert len(alone) == 1
    assert "'high'" in alone[0]["message"]
    for pumps in ((("high", height, "bed"), ("low", 0.02, "other")), (("low", 0.02, "other"), ("high", height, "bed"))):
        both = of_kind(sump(*pumps), "intake-uncovered")
        assert any("'high'" in finding["message"] for finding in both)


@pytest.mark.invariant
def test_a_low_intake_is_not_uncovered() -> None:
    """The pipe and the beds take 32 L at most of the 100 L in the sump."""
    assert not of_kind(sump(("low", 0.02, "bed")), "intake-uncovered")


# ---------------------------------------------------------------------- a sleeve around a standpipe

SLEEVED = """
water: 20 degC
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.5 m, area: 1 m^2}
  trough: {base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2}
lines:
  supply: {pipe: pvc 25, from: {vessel: trough, height: 0.25 m}, route: [{up: 0.5 m}], to: {draws: -21 L/min}}
  drain: {pipe: pvc 50, from: {vessel: trough, standpipe: 0.2 mSLEEVE}, route: [{down: 0.5 m}], to: tank}
"""
OUTSIDE = 0.050
"""The outside diameter of pvc 50, which is named by it: EN ISO 1452-2 [m]."""


@pytest.mark.slow(1)
@pytest.mark.second_method
def test_a_sleeve_around_a_pipe_of_the_catalogue_leaves_its_outside_free() -> None:
    """By hand: solids that sink at 1.7 cm/s come up with 21 L/min in a gap of 0.02059 m², which a sleeve of 169.5 mm leaves
    around 50 mm. Were the gap reckoned to the bore, it would be 168.3 mm."""
    widest = math.sqrt(0.021 / 60 / 0.017 * 4 / math.pi + OUTSIDE**2)
    assert widest == pytest.approx(0.1695, abs=5e-5)
    for sleeve, slow in ((widest - 0.0003, False), (widest + 0.0003, True)):
        found = of_kind(told(SLEEVED.replace("SLEEVE", f", sleeve: {1000 * sleeve:.2f} mm")), "slow-sleeve")
        assert bool(found) == slow


@pytest.mark.second_method
def test_a_sleeve_raises_the_water_by_what_the_gap_around_the_outside_takes() -> None:
    """1.5 velocity heads and the friction of the gap, over the height of the crest; smooth plastic, second way from `fluids`."""
    from fluids.friction import friction_factor

    sleeve = 0.06
    plain, sleeved = (
        told(SLEEVED.replace("SLEEVE", said))["vessels"]["trough"]["level_found_m"]
        for said in ("", f", sleeve: {1000 * sleeve:g} mm")
    )
    speed = 0.021 / 60 / (math.pi / 4 * (sleeve**2 - OUTSIDE**2))
    across = sleeve - OUTSIDE
    friction = friction_factor(Re=speed * across / 1.0034e-6, eD=1.5e-6 / across)
    by_hand = (1.5 + friction * 0.2 / across) * speed**2 / (2 * 9.80665)
    assert sleeved - plain == pytest.approx(by_hand, rel=0.01)


# ---------------------------------------------------------------------- a vessel that nothing joins


@pytest.mark.invariant
def test_a_vessel_joined_to_nothing_is_told_to_want_a_line_and_no_stronger_pump() -> None:
    text = """
    vessels:
      tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
      bed: {base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2, wants: 100 L/min}
      stray: {base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2, wants: 5 L/min}
    pumps:
      lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 0 m]]}
    lines:
      riser: {pipe: pvc 25, from: lift, route: [{up: 1.4 m}], to: bed}
      drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.3 m}], to: tank}
    """
    cures = {finding["message"].split("'")[1]: finding["cure"] for finding in of_kind(told(text), "too-little-water")}
    assert cures.keys() == {"bed", "stray"}
    assert cures["stray"] == "a line from a pump to 'stray'"
    assert cures["bed"] != cures["stray"].replace("stray", "bed")
