"""The course of a day, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from rich.console import Console, ConsoleOptions, RenderResult
from rich.table import Table
from rich.text import Text

from ..day.result import Course
from ..day.told import bed_courses, what_goes_wrong
from ..layout.model import Layout
from ..units import show
from .plain import about, fields, in_units, plain_table, point
from .rows import Row

__all__ = ["BED_COLUMNS", "DayView", "bed_rows", "day_as_json", "minutes_words"]

BED_COLUMNS = (">floods", ">fills in", ">stands", ">drains in", ">deepest")

_BARS = "▁▂▃▄▅▆▇█"
_WIDE = 40
_BESIDE = 42
"""Columns that the numbers take beside a row of bars, at most."""
_AS_SHOWN = 2e-3
"""Levels that differ by less are one and the same on the screen [m]."""
_MOST_EVENTS = 20
_WATER = ("start", "end", "added", "lost")


@dataclass(frozen=True)
class DayView:
    """A rich renderable of a day's course."""

    layout: Layout
    course: Course
    everything: bool = False

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        layout, course, units = self.layout, self.course, self.layout.units
        yield Text(f"{layout.name}: {_hours(course.times[-1])} from midnight", style="bold")
        wrong = what_goes_wrong(layout, course)
        for finding in wrong:
            yield point(f"{finding.level:<5} {finding.message}")
            yield point(f"do: {finding.cure}", by=8)
        if not wrong:
            siphons = any(end.siphon is not None for end in layout.ends.values())
            sound = (
                ", no intake draws air, and every siphon starts and stops." if siphons else ", and no intake draws air."
            )
            yield Text(f"Nothing overtops{sound}")
        if course.period is not None:
            yield Text(f"It goes round every {minutes_words(course.period)}.")
        yield Text("\nLevels, depth of water from the lowest to the highest", style="bold")
        yield self._levels(options.max_width)
        beds = list(bed_rows(layout, course))
        if beds:
            yield Text("\nFlood and drain", style="bold")
            yield plain_table("vessel", *BED_COLUMNS, rows=((row.of, *row.cells.values()) for row in beds))
        if course.pumps:
            yield Text("\nPumps", style="bold")
            rows = (
                (name, _hours(pump.seconds), str(pump.starts), minutes_words(pump.starved) if pump.starved else "")
                for name, pump in course.pumps.items()
            )
            yield plain_table("pump", ">runs", ">starts", ">draws air", rows=rows)
        start, end, added, lost = (show(getattr(course.water, what), "volume", units) for what in _WATER)
        yield Text(f"\nWater: {start} at the start, {end} at the end; {added} came in from outside, {lost} went out.")
        events = course.events if self.everything else course.events[:_MOST_EVENTS]
        if events:
            yield Text("\nWhat happens", style="bold")
        yield from (Text(f"  {_clock(event.time)}  {event.message}") for event in events)
        if len(events) < len(course.events):
            yield Text(f"  … and {len(course.events) - len(events)} more; --all shows them")

    def _levels(self, width: int) -> Table:
        course, rows = self.course, []
        begin, end, said = course.window
        wide = max(min(_WIDE, width - _BESIDE - max(map(len, course.vessels), default=0)), 12)
        for name, vessel in course.vessels.items():
            row = [name]
            for level in (vessel.lowest, vessel.highest):
                row.append(show(level - self.layout.vessels[name].base, "length", self.layout.units))
                row.append(_clock(_first(course.times, vessel.level, level)))
            rows.append([*row, _small(course.times, vessel.level, (begin, end), wide)])
        return plain_table("vessel", ">lowest", ">at", ">highest", ">at", said, rows=rows)


def _first(times: tuple[float, ...], levels: tuple[float, ...], level: float) -> float:
    """When a level first comes as near to a height as is shown [s]."""
    away = [abs(one - level) for one in levels]
    at = next(i for i, one in enumerate(away) if one < _AS_SHOWN)
    if at == 0:
        return times[0]
    share = (away[at - 1] - _AS_SHOWN) / (away[at - 1] - away[at])
    return times[at - 1] + share * (times[at] - times[at - 1])


def bed_rows(layout: Layout, course: Course) -> Iterator[Row]:
    """How each bed floods and drains in the course of a day, by the names of `BED_COLUMNS`."""
    for bed in bed_courses(layout, course):
        times = ["" if time is None else minutes_words(time) for time in (bed.fills, bed.holds, bed.drains)]
        texts = (str(bed.floods), *times, show(bed.deepest, "length", layout.units))
        yield Row(bed.vessel, dict(zip((column.lstrip(">") for column in BED_COLUMNS), texts, strict=True)))


def _clock(seconds: float) -> str:
    """A time of the day, with the day's number from the second on."""
    days, rest = divmod(round(seconds), 86400)
    text = f"{rest // 3600:02d}:{rest % 3600 // 60:02d}"
    return f"day {days + 1} {text}" if days and rest else "24:00" if days == 1 else f"{24 * days}:00" if days else text


def minutes_words(seconds: float) -> str:
    """A length of time in the unit that suits it."""
    if seconds < 100:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 6000 else f"{seconds / 3600.0:.1f} h"


def _hours(seconds: float) -> str:
    return f"{seconds / 3600.0:.4g} h"


def _small(times: tuple[float, ...], values: tuple[float, ...], span: tuple[float, float], wide: int) -> str:
    """A row of small bars, each at the middle of its piece of the time, between the lowest and the highest."""
    moments = span[0] + (span[1] - span[0]) * (np.arange(wide) + 0.5) / wide
    low, high = min(values), max(values)
    shares = (np.interp(moments, times, values) - low) / max(high - low, 1e-4)
    return "".join(_BARS[min(int(share * len(_BARS)), len(_BARS) - 1)] for share in shares)


def day_as_json(layout: Layout, course: Course) -> dict[str, Any]:
    """The course as plain data; its keys are promised in docs/json.md."""
    return {
        **about(layout),
        **fields(course, "times_s"),
        "vessels": {name: fields(one, "level_m lowest_m highest_m spilt_l") for name, one in course.vessels.items()},
        "ends": {name: in_units({"flow_l_min": flows}) for name, flows in course.ends.items()},
        "pumps": {
            name: fields(one, "on starts") | {"hours": one.seconds / 3600.0} | fields(one, "draws_air_s=starved")
            for name, one in course.pumps.items()
        },
        "events": [fields(one, "time_s kind where message") for one in course.events],
        "beds": [
            fields(one, "vessel floods fills_s stands_s=holds drains_s deepest_m")
            for one in bed_courses(layout, course)
        ],
        **fields(course, "period_s"),
        "water_l": {name: getattr(course.water, name) * 1e3 for name in _WATER},
        "findings": [
            fields(one, "kind level line step message cure source") for one in what_goes_wrong(layout, course)
        ],
    }
