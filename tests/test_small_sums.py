"""Small sums that much else rests on, each by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest
from builders import flows, layout, walk

from plumbline.diagnose.faulty import with_loss
from plumbline.layout import layout_of
from plumbline.layout.model import Vessel
from plumbline.mishaps.jets import across
from plumbline.parts import bill_of
from plumbline.redesign.buys import Buy, Standing, _gives, standing
from plumbline.upkeep.carried import systems
from plumbline.upkeep.carry_out import times_out
from plumbline.upkeep.fouled import _cut
from plumbline.upkeep.room_ahead import RoomAhead


@pytest.mark.second_method
def test_how_far_it_is_over_a_vessel() -> None:
    """A round one of 2 m across, a square one of 2 m on each side, corner to corner."""
    made = layout(walk("a", "vessel tank", [("east", 1.0)], "vessel bed")).vessels["tank"]
    wide: list[tuple[Any, float, float | None]] = [
        ("round", math.pi, 2.0),
        ("square", 4.0, 2.0 * math.sqrt(2.0)),
        ("long", 4.0, None),
    ]
    for shape, area, far in wide:
        assert across(replace(made, shape=shape, area=area)) == (None if far is None else pytest.approx(far))
    assert isinstance(made, Vessel)


@pytest.mark.second_method
def test_a_layout_stands_by_the_vessel_that_lacks_most() -> None:
    """12 of 10 and 9 of 10 L/min: a tenth is lacking."""
    vessels = {
        name: SimpleNamespace(inflow=got, wanted=want)
        for name, got, want in (("a", 12, 10), ("b", 9, 10), ("c", 5, None))
    }
    score = SimpleNamespace(points=50.0, cleanable=0.5, marks={})
    found = standing(cast(Any, SimpleNamespace(flows=SimpleNamespace(vessels=vessels), findings=(), score=score)))
    assert found.margin == pytest.approx(-0.1)


@pytest.mark.second_method
@pytest.mark.parametrize(("margin", "spare"), [(None, 0.0), (-0.2, -0.2), (0.05, 0.05), (0.3, 0.1)])
def test_more_spare_than_is_asked_for_is_no_gain(margin: float | None, spare: float) -> None:
    buy = Buy((), 5.0, cast(Any, None), Standing(50.0, 0.5, margin, 1))
    assert _gives(buy, 0.1) == (-5.0, 0.5, spare, -1.0)


@pytest.mark.invariant
def test_a_pump_joins_its_line_to_the_vessel_that_it_stands_in() -> None:
    made = layout_of("""
vessels: {tank: {base: 0 m, water: 0.5 m}, bed: {base: 1 m, water: 0.1 m}, other: {base: 0 m, water: 0.5 m}}
pumps:
  lift: {in: tank, curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}
  spare: {in: other, curve: [[0 L/min, 3 m], [20 L/min, 1 m]]}
lines: {feed: {pipe: pvc 25, from: lift, route: [up: 1.5 m], to: bed}}
""")
    assert systems(made) == [{("line", "feed"), ("pump", "lift"), ("vessel", "tank"), ("vessel", "bed")}]


@pytest.mark.second_method
def test_water_takes_its_length_over_its_speed() -> None:
    """3 m and then 2 m at 0.5 m/s, by a tee: 4 s from the tee."""
    made = layout(
        walk("a", "vessel tank", [("east", 3.0), ("tee", {"id": "t"}), ("east", 2.0)], "vessel bed"),
        walk("b", "tee t", [("north", 1.0)], "plug", at=(3.0, 0.0, 0.0)),
    )
    found = times_out(made, flows(made, {"a": 0.5, "b": 0.0}), {"a.to"})
    assert found == pytest.approx({"a 1": 4.0, "a 2": 0.0})


@pytest.mark.invariant
def test_pipe_that_ends_at_an_opening_is_not_in_its_way() -> None:
    """An elbow at the end of 2 m: out of it both ways the way is free, and from the side the pipe across stands 0.987 m off."""
    made = layout(walk("a", "vessel tank", [("east", 2.0), "elbow", ("north", 2.0)], "vessel bed"))
    room = RoomAhead(made)
    for place in ((2.0, 0.0, 0.0), (0.0, 0.0, 0.0), (2.0, 2.0, 0.0)):
        assert room.of("a", place, (0.0, 0.0, 1.0), 0.026) == math.inf
    across_it = room.of("a", (1.0, 1.0, 0.0), (1.0, 0.0, 0.0), 0.026)
    assert across_it == pytest.approx(1.0 - 0.026, abs=0.02)


@pytest.mark.second_method
def test_a_piece_of_a_run_lies_where_its_share_of_it_does() -> None:
    """From 0.5 to 1.5 m of 2 m that begin at 1 m on the line, rising 1 in 2."""
    (part,) = layout(walk("a", "vessel tank", [("east", 2.0)], "vessel bed")).lines["a"].parts
    part = replace(part, at=1.0, start=(0.0, 0.0, 0.0), end=(2.0, 0.0, 1.0))
    cut = _cut(part, 1.5, 2.5, 1.0, 3.0)
    assert (cut.start, cut.end, cut.length, cut.at) == ((0.5, 0.0, 0.25), (1.5, 0.0, 0.75), 1.0, 1.5)


@pytest.mark.pinned
def test_drippers_are_listed_as_their_maker_states() -> None:
    made = layout_of("""
vessels: {tank: {base: 0 m, water: 0.5 m}, towers: {base: 0 m, water: 0.1 m}}
pumps: {lift: {in: tank, curve: [[0 L/min, 20 m], [20 L/min, 1 m]]}}
lines:
  drip:
    pipe: pe 20
    from: lift
    route: [{up: 1 m}, elbow, {drip line: {east: 3 m, drippers: 12, dripper: 8 L/h, at: 1 bar, in: towers}}]
    to: plug
""")
    assert "12 drippers of 8 L/h at 1 bar" in repr(bill_of(made))


@pytest.mark.invariant
def test_a_loss_is_put_behind_a_run_and_before_a_fitting() -> None:
    made = layout(walk("a", "vessel tank", [("east", 2.0), "elbow", ("north", 1.0)], "vessel bed"))
    (stretch,) = made.stretches
    for index, kinds in (
        (0, ["run", "fitting", "elbow", "run"]),
        (1, ["run", "fitting", "elbow", "run"]),
        (2, ["run", "elbow", "run", "fitting"]),
    ):
        parts = with_loss(made, stretch, stretch.parts[index], 5.0).lines["a"].parts
        assert [part.kind for part in parts] == kinds
        (lump,) = (part for part in parts if part.kind == "fitting")
        assert (lump.at, lump.loss) == ({0: 2.0, 1: 2.0, 2: 3.0}[index], 5.0)
