"""A day on the sketch: what the slider shows is what the day has."""

from __future__ import annotations

import json
from html import unescape
from re import search

import numpy as np
import pytest
from checks import checked

from plumbline.page.page import page
from plumbline.page.sketch import sketch
from plumbline.page.sketch.through_day import MOMENTS, moments, movable


@pytest.mark.some(1)
@pytest.mark.second_method
@pytest.mark.parametrize("name", ["siphon_bed", "timer_bed"])
def test_water_is_moved_to_where_a_plain_look_through_the_day_has_it(name: str) -> None:
    result = checked(name)
    day = result.day
    assert day is not None
    drawn = sketch(result, width=640.0)
    told = moments(drawn, day)
    assert set(told["vessels"]) == set(result.layout.vessels)
    seen = 0
    for k in range(0, MOMENTS, 17):
        # Cycles of 8 and of 30 minutes: three rounds of each.
        assert day.period is not None
        end = day.events[-1].time
        begin = end - 3 * day.period
        time = begin + k * (end - begin) / (MOMENTS - 1)
        hours, minutes = map(int, told["clock"][k].split(":"))
        assert 0.0 <= time - 3600 * hours - 60 * minutes < 60.0 + 1e-6
        after = next((n for n, other in enumerate(day.times) if other > time), len(day.times))
        running = [pump for pump, one in day.pumps.items() if one.on[after - 1]]
        assert told["pumps"][k] == ", ".join(running)
        for vessel, followed in day.vessels.items():
            if after == len(day.times):
                level = followed.level[-1]
            else:
                share = (time - day.times[after - 1]) / (day.times[after] - day.times[after - 1])
                level = followed.level[after - 1] + share * (followed.level[after] - followed.level[after - 1])
            depth = float(told["vessels"][vessel]["depth"][k].removesuffix(" m"))
            assert depth == pytest.approx(level - result.layout.vessels[vessel].base, abs=0.0051)
            seen += 1
    assert seen > 20


@pytest.mark.invariant
def test_an_empty_vessel_shows_its_water_on_the_floor_and_a_full_one_at_the_rim() -> None:
    result = checked("siphon_bed")
    day = result.day
    assert day is not None
    drawn = sketch(result, width=640.0)
    for box, _, _ in drawn.outlines:
        vessel = result.layout.vessels[box.vessel]
        assert vessel.rim is not None
        height = drawn.scale * drawn.view.up[2]
        told = moments(drawn, day)["vessels"][box.vessel]
        depths = np.array([float(one.removesuffix(" m")) for one in told["depth"]])
        down = np.array([float(one) for one in told["down"]])
        deeper = depths[:, None] - depths >= 0.02
        assert deeper.any()
        assert (down[:, None] < np.broadcast_to(down, deeper.shape))[deeper].all()
        assert down.max() <= (box.water - box.low[2]) * height + 0.1
        assert down.min() >= (box.water - box.high[2]) * height - 0.1


@pytest.mark.slow(2)
@pytest.mark.invariant
def test_the_page_holds_a_picture_whose_water_has_names() -> None:
    result = checked("siphon_bed")
    text = page(result)
    found = search(r'data-moments="([^"]*)"', text)
    assert found is not None
    told = json.loads(unescape(found[1]))
    assert len(told["clock"]) == len(told["pumps"]) == MOMENTS
    for name in result.layout.vessels:
        assert f'data-vessel="{name}"' in movable(sketch(result, width=640.0))
        assert len(told["vessels"][name]["down"]) == MOMENTS


@pytest.mark.slow(2)
@pytest.mark.invariant
def test_a_layout_in_which_nothing_switches_has_no_slider() -> None:
    assert 'id="hour"' not in page(checked("courtyard"))
