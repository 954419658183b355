"""How a layout fouls, on a terminal and as plain data. Computes nothing but which months to show."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.text import Text

from ..diagnose.pace import Pace
from ..units import show
from ..upkeep.film import RATES
from ..upkeep.fouling import Cleaning, Course, Fouling
from .diagnose import place_words as where_words
from .diagnose import value_words
from .fouling_words import (
    access_words,
    focus,
    fouling_words,
    kept_words,
    months_words,
    pace_words,
    place_words,
    spread_words,
    told,
)
from .plain import about, fields, heading, in_units, plain_table, point, points
from .screen import Screen

__all__ = ["FoulingView", "by_vessel", "fouling_as_json", "progress_on"]

ROWS = 12
"""About as many months are shown."""

MANY = 4
"""More vessels than this are shown a row each."""

ASSUMED = (
    "Slime grows on every wall that water flows past, up to a roughness that is less where the water is faster; it narrows and "
    "roughens the pipe. Where water is too slow to carry solids, they fill a share of the section. A rod takes both, a flush "
    "only what has settled. Fittings foul as the pipe before them. Strainers, pumps and beds are taken to stay clean.",
    "Hardly anything is published for fish water: the three rates span what is thought possible, from sewage and clean water. "
    "'plumbline names fouling' gives each number with its source; a layout may state its own under 'fouling'.",
)


@contextmanager
def progress_on(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """Give a bar on standard error to tell progress to, or None where that is no terminal; it goes when the work ends."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Screen(stderr=True), transient=True) as bar:
        task = bar.add_task(what)
        yield lambda done, total: bar.update(task, completed=done, total=total)


@dataclass(frozen=True)
class FoulingView:
    """A rich renderable of how a layout fouls; `pace` is what visits tell of its rate, `written` the path of the file that was written."""

    result: Fouling
    pace: Pace | None = None
    written: str | None = None

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        result = self.result
        yield Text(f"{result.layout.name}: how it fouls in {months_words(result.months[-1])}", style="bold")
        for sentence in (*(() if self.pace is None else pace_words(self.pace)), *fouling_words(result)):
            yield Text(sentence)
        if self.pace is not None:
            yield heading("What was read")
            yield _visits(self.pace)
        yield heading(f"What each vessel gets, {kept_words(result)}: likely (slow and fast rate)")
        yield self._by_month()
        if any(one.wanted for one in result.courses.values()):
            yield point("* less than it wants", style="dim")
        vessel = focus(result)
        if vessel is not None:
            yield heading(f"What '{vessel}' would get back, after {months_words(result.months[-1])} at the likely rate")
            yield self._stretches(vessel)
            yield Text()
            yield self._accesses(vessel)
        yield heading("Assumed")
        yield from points(ASSUMED)
        if self.written is not None:
            yield Text(f"\nWritten to {self.written}: your file, with these rates under 'fouling'.")

    def _by_month(self) -> RenderableType:
        result, units = self.result, self.result.layout.units
        shown = _shown(result)
        if len(shown) > MANY:
            columns, rows = by_vessel(result)
            told_rows = (
                (vessel, wants, *(f"{flow}{'*' if short else ' '}" for flow, short in flows), spread)
                for vessel, wants, flows, spread in rows
            )
            return plain_table(*columns, rows=told_rows)
        table = plain_table(">month", *(f">{one.vessel}" for one in shown))
        step = max(1, math.ceil(result.months[-1] / ROWS))
        wanted = [("" if one.wanted is None else show(one.wanted, "flow", units)) for one in shown]
        table.add_row("wants", *wanted, style="dim")
        for month in [m for m in result.months if m % step == 0 or m == result.months[-1]]:
            table.add_row(str(month), *(self._cell(one, month) for one in shown))
        return table

    def _cell(self, course: Course, month: int) -> Text:
        units = self.result.layout.units
        likely, spread = show(course.likely[month], "flow", units, unit=False), spread_words(course, month, units)
        short = _short(course, month)
        return Text(f"{likely}{'*' if short else ' '}{spread}", style="red" if short else "")

    def _stretches(self, vessel: str) -> RenderableType:
        units = self.result.layout.units
        films = {film.stretch: film for film in self.result.films}
        blames = sorted(self.result.blames, key=lambda one: -one.gains[vessel])
        rows = (
            (
                place_words(self.result, one.stretch),
                show(one.gains[vessel], "flow", units),
                f"{one.shares[vessel]:.0%}",
                show(films[one.stretch].thickness, "size", units, decimals=3 if units.size == "in" else 1),
                f"{films[one.stretch].deposit:.0%}",
            )
            for one in [one for one in blames if one.shares[vessel] >= 0.005][:5]
        )
        return plain_table("clean again, alone", ">gives back", ">share", ">slime", ">filled", rows=rows)

    def _accesses(self, vessel: str) -> RenderableType:
        units = self.result.layout.units
        some = sorted(self.result.cleanings, key=lambda one: -one.gains[vessel])
        best = [one for one in some if told(one.gains[vessel], units)][:5]
        rows = [
            (
                access_words(self.result, one),
                show(one.rodded, "length", units),
                show(one.flushed, "length", units),
                show(one.gains[vessel], "flow", units),
            )
            for one in (*best, self.result.all_cleaned)
        ]
        lost = self.result.renewed[vessel] - self.result.courses[vessel].likely[-1]
        rows.append(("all pipe new", "", "", show(lost, "flow", units)))
        return plain_table("cleaned from", ">by rod", ">by flush", ">gives back", rows=rows)


def _visits(pace: Pace) -> RenderableType:
    units = pace.layout.units
    rows = (
        (where_words(one), *(value_words(one, value, units) for value in (one.value, *values)))
        for one, *values in zip(pace.readings, pace.clean, pace.found, strict=True)
    )
    return plain_table("reading", ">read", ">if clean", ">as it fouls", rows=rows)


def by_vessel(result: Fouling) -> tuple[tuple[str, ...], list[tuple[str, str, list[tuple[str, bool]], str]]]:
    """Columns and rows of the vessels, those that want something alone where there are any: what each wants, what it gets in some months
    and whether that is too little, and the range at the end."""
    units, last = result.layout.units, result.months[-1]
    some = sorted({0, last, *(month for month in (1, 2, 3, 6, 12) if month < last)})
    rows = []
    for one in _shown(result):
        flows = [(show(one.likely[month], "flow", units, unit=False), _short(one, month)) for month in some]
        wants = "" if one.wanted is None else show(one.wanted, "flow", units)
        rows.append((one.vessel, wants, flows, spread_words(one, last, units).strip(" ()")))
    return ("vessel", ">wants", *(f">month {month}" for month in some), ">range at the end"), rows


def _short(course: Course, month: int) -> bool:
    return course.wanted is not None and course.likely[month] < course.wanted * (1.0 - 1e-6)


def _shown(result: Fouling) -> list[Course]:
    courses = list(result.courses.values())
    return [one for one in courses if one.wanted] or [one for one in courses if max(one.high) > 0.0]


# ---------------------------------------------------------------------- plain data


def fouling_as_json(result: Fouling, pace: Pace | None = None) -> dict[str, Any]:
    """Return how a layout fouls as plain data, every number finite or null: see `docs/json.md`."""
    first = result.first
    return {
        **about(result.layout),
        "months": list(result.months),
        "cleaned_every_months": result.every,
        "answer": list(fouling_words(result)),
        "pace": None if pace is None else fields(pace, "likely", "low", "high", "fits"),
        "first_short": None if first is None else first.vessel,
        "vessels": {name: _course(one, result.renewed[name]) for name, one in result.courses.items()},
        "stretches": [
            in_units({"id": blame.stretch, "line": blame.line, "gives_back_l_min": blame.gains, "share": blame.shares})
            | _film(result, blame.stretch)
            for blame in result.blames
        ],
        "accesses": [_cleaning(one) for one in result.cleanings],
        "all_accesses": _cleaning(result.all_cleaned),
    }


def _course(one: Course, renewed: float) -> dict[str, Any]:
    return in_units(
        {
            "wanted_l_min": one.wanted,
            "clean_l_min": renewed,
            **{f"{rate}_l_min": one.flows[rate] for rate in RATES},
            "low_l_min": one.low,
            "high_l_min": one.high,
            "short_after_months": one.short_after,
            "overtops_after_months": one.overtops_after,
        }
    )


def _film(result: Fouling, stretch: str) -> dict[str, Any]:
    film = next((one for one in result.films if one.stretch == stretch), None)
    if film is None:
        return dict.fromkeys(("film_roughness_mm", "film_thickness_mm", "deposit_share", "bore_left"))
    return in_units(
        {
            "film_roughness_mm": film.roughness,
            "film_thickness_mm": film.thickness,
            "deposit_share": film.deposit,
            "bore_left": film.bore,
        }
    )


def _cleaning(one: Cleaning) -> dict[str, Any]:
    return {
        "access": one.access or None,
        **fields(one, "rodded_m", "flushed_m"),
        **in_units({"gives_back_l_min": one.gains}),
    }
