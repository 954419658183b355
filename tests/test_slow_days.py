"""The days of `water_days` say what the slow model says, and the plainest of them what a closed form says."""

from __future__ import annotations

import math
from functools import partial

import pytest
from slow_answers import course_of, recorded
from slow_reader import slow_system
from slow_water import LITRE_MIN
from water_days import DAYS, Course, Day, falls, followed


@pytest.mark.slow
@pytest.mark.second_method
@pytest.mark.parametrize("day", DAYS, ids=lambda day: day.name)
def test_the_days_say_what_the_slow_model_says(day: Day) -> None:
    course = Course(**recorded(day.name, partial(course_of, day.text, day.hours)))
    for said, found in (
        (day.course.lowest, course.lowest),
        (day.course.highest, course.highest),
        (day.course.ends, course.ends),
    ):
        for name, level in said.items():
            assert found[name] == pytest.approx(level, abs=0.003), name
    for name, count in day.course.floods.items():
        assert course.floods[name] == pytest.approx(count, abs=1), name
    for name, count in day.course.starts.items():
        assert course.starts[name] == count, name
    for name, hours in day.course.pump_hours.items():
        assert course.pump_hours[name] == pytest.approx(hours, rel=0.01), name
    for litres, found in ((day.course.added, course.added), (day.course.lost, course.lost)):
        assert litres is None or found == pytest.approx(litres, rel=0.03, abs=0.5)


@pytest.mark.slow
@pytest.mark.second_method
def test_a_siphon_bed_takes_as_long_as_two_integrals_say() -> None:
    """∫ A dh/(Qf(h) − Qi) down and A Δh/Qi up, each by itself: the time from break to break."""
    text = DAYS[0].text
    system = slow_system(text)
    siphon = next(way for way in system.ways if way.crest is not None)
    inflow, area = 12 * LITRE_MIN, 0.5
    catches = 0.3 * math.pi / 4 * 0.022**2 * math.sqrt(9.80665 * 0.022)
    top = 1.22 + (7500 * catches * 1e3 / 22) ** (2 / 3) / 1e3
    steps = 2000
    heights = [1.05 + (top - 1.05) * (n + 0.5) / steps for n in range(steps)]
    siphon.primed = True
    down = sum(area * (top - 1.05) / steps / (siphon.flow(h, siphon.second.height) - inflow) for h in heights)
    siphon.primed = False
    up = sum(area * (top - 1.05) / steps / (inflow - siphon.flow(h, siphon.second.height)) for h in heights)
    times: list[float] = []
    was = [False]

    def watch(t: float, now: object, flows: object) -> None:
        siphon_now = next(way for way in now.ways if way.crest is not None)
        if was[0] and not siphon_now.primed:
            times.append(t)
        was[0] = siphon_now.primed

    slow_system(text).run(1.2 * 3600, step=20.0, most=1e-3, watch=watch)
    assert times[-1] - times[0] == pytest.approx((up + down) * (len(times) - 1), rel=0.01)


@pytest.mark.slow
@pytest.mark.second_method
def test_steps_half_as_long_make_the_same_course() -> None:
    day = DAYS[3]
    coarse, fine = (followed(day.text, 2.0, most=most, step=step) for most, step in ((2e-3, 20.0), (1e-3, 10.0)))
    for name in coarse.lowest:
        assert coarse.lowest[name] == pytest.approx(fine.lowest[name], abs=0.002)
        assert coarse.highest[name] == pytest.approx(fine.highest[name], abs=0.002)
        assert abs(coarse.floods[name] - fine.floods[name]) <= 1


@pytest.mark.second_method
def test_falls_are_counted() -> None:
    assert falls([0.0, 1.0, 0.0, 0.9, 0.5, 0.9, 0.1]) == 2
    assert falls([0.5, 0.501, 0.5]) == 0
