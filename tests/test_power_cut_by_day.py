"""Where a power cut comes to rest, beside the day's engine with all pumps off: another way to the same water, with another law of air."""

from __future__ import annotations

from pathlib import Path

import pytest

from plumbline import read_layout
from plumbline.day import follow_day
from plumbline.hydraulics.find import settle
from plumbline.hydraulics.power_cut import power_cut

LAYOUTS = Path(__file__).parent.parent / "layouts"
NAMES = [path.stem for path in sorted(LAYOUTS.glob("*.yaml"))]
QUICK = ("towers", "siphon", "round_tank", "nursery")


@pytest.mark.some(2)
@pytest.mark.second_method
@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=() if name in QUICK else pytest.mark.slow) for name in NAMES]
)
def test_the_water_comes_to_rest_where_a_day_without_pumps_ends(name: str) -> None:
    """Each vessel holds the same but for what runs down out of the pipes, of which the day knows nothing, and half a litre that runs over while
    a drain still brings what it held; over rims goes as much less. A siphon's mouth takes air in the day before it is bare, less than a bore over it,
    once the flow no longer sweeps that out."""
    layout = read_layout(LAYOUTS / f"{name}.yaml")
    if not layout.pumps or any(end.siphon is not None for end in layout.ends.values()):
        pytest.skip("nothing is pumped, or a siphon runs on in one and stands in the other")
    settled = settle(layout)
    settled = settled.turns[0] if settled.turns else settled
    rest = power_cut(layout, settled.flows)
    day = follow_day(layout, hours=24.0, levels=settled.levels, vented=settled.vented, off=frozenset(layout.pumps))
    mouths = sum(
        (layout.vessels[one.giver].area or 0.0)
        * layout.lines[one.line].parts[0 if one.side == "from" else -1].pipe.bore
        for one in rest.siphons
    )
    pipes = max(rest.drained, 0.0) + 5e-4 + mouths
    for row in rest.vessels:
        area, course = layout.vessels[row.vessel].area, day.vessels.get(row.vessel)
        if row.after is None or course is None or area is None:
            continue
        assert abs(row.after - course.level[-1]) * area < pipes + 1e-3 * area, row.vessel
        assert row.spilled == pytest.approx(course.spilt, abs=pipes), row.vessel
