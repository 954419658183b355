"""Places to keep clear: boxes that pipe laid over, or anew, keeps out of."""

from __future__ import annotations

import pytest

from plumbline.check import check
from plumbline.errors import LayoutError
from plumbline.layout import layout_of
from plumbline.redesign.bends import straighter
from plumbline.redesign.clean_sheet import clean_sheet
from plumbline.redesign.prices import read_prices
from plumbline.redesign.ways import hits

JOG = """
vessels:
  sump: {base: 0 m, rim: 0.7 m, water: 0.5 m, area: 0.6 m^2, at: {east: 0 m, north: 0 m}}
  bed: {base: 0.9 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2, at: {east: 4 m, north: 0 m}, wants: 8 L/min}
keep clear:
  post: {east: POST, north: 0.8 m to 1.2 m}
pumps:
  lift: {in: sump, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
lines:
  riser: {pipe: pvc 25, from: lift, route: [up: 1.5 m, elbow, north: 1 m, elbow, east: 1 m, elbow, north: 0.5 m, elbow, east: 2 m, elbow, south: 0.5 m, elbow, east: 1 m, elbow, south: 1 m], to: bed}
  drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [down: 0.3 m, elbow, {west: 4 m, down: 90 mm}, elbow, down: 0.1 m], to: sump}
"""


def with_post(span: str) -> str:
    return JOG.replace("POST", span)


@pytest.mark.second_method
@pytest.mark.parametrize(("span", "free"), [("1.8 m to 2.2 m", False), ("-3 m to -2 m", True)])
def test_pipe_is_not_laid_over_to_where_a_post_stands(span: str, free: bool) -> None:
    """The way aside of half a metre goes round a post at 2 m east, 1 m north; without the post it is laid straight along 1 m north."""
    layout = layout_of(with_post(span))
    assert any(change.kind == "straighten" for change in straighter(layout, read_prices())) is free


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_a_clean_sheet_goes_round_what_is_kept_clear() -> None:
    layout = layout_of(JOG.replace("POST, north: 0.8 m to 1.2 m", "1.8 m to 2.2 m, north: -0.3 m to 0.3 m"))
    riser = clean_sheet(check(layout), read_prices()).layout.lines["riser"]
    runs = [(part.start, part.end) for part in riser.parts if part.is_pipe]
    assert not any(hits(a, b, layout.keep_clear["post"], 0.0) for a, b in runs)
    free = clean_sheet(check(layout_of(with_post("-3 m to -2 m"))), read_prices()).layout.lines["riser"]
    assert free.length < riser.length - 0.3


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("1.8 m to 2.2 m", "2 m", "'east' is '2 m'"),
        ("1.8 m to 2.2 m", "3 m to 1 m", "'east' is '3 m to 1 m'"),
        ("post:", "post: {north: 1 m to 2 m}\n  other:", "has no 'east'"),
    ],
)
def test_what_is_wrong_with_a_box_is_said(old: str, new: str, said: str) -> None:
    with pytest.raises(LayoutError) as found:
        layout_of(with_post("1.8 m to 2.2 m").replace(old, new))
    assert any(said in fault.found for fault in found.value.faults)


@pytest.mark.pinned
def test_boxes_want_places_for_the_vessels() -> None:
    text = (
        with_post("1.8 m to 2.2 m")
        .replace(", at: {east: 0 m, north: 0 m}", "")
        .replace(", at: {east: 4 m, north: 0 m}", "")
    )
    with pytest.raises(LayoutError) as found:
        layout_of(text)
    assert [fault.found for fault in found.value.faults] == ["there are places to keep clear, and no vessel has one"]
