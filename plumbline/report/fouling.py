"""How a layout fouls, on a terminal and as plain data. Computes nothing but which months to show."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from ..catalogue import notes
from ..diagnose.pace import Pace
from ..units import Units, show
from ..upkeep.film import RATES
from ..upkeep.fouling import Cleaning, Course, Fouling
from .diagnose import place_words as where_words
from .diagnose import value_words
from .fouling_words import (
    access_words,
    best_accesses,
    focus,
    fouling_words,
    kept_words,
    lost_by,
    months_words,
    pace_words,
    place_words,
    spread_words,
    worst_stretches,
)
from .plain import about, fields, heading, in_units, plain_table, point, points, view

__all__ = ["by_vessel", "fouling_as_json", "fouling_view"]

ROWS = 12
"""About as many months are shown."""

MANY = 4
"""More vessels than this are shown a row each."""


@view
def fouling_view(result: Fouling, pace: Pace | None = None, written: str | None = None) -> Iterator[RenderableType]:
    """How a layout fouls; `pace` is what visits tell of its rate, `written` the path of the file that was written."""
    last, vessel = months_words(result.months[-1]), focus(result)
    yield Text(f"{result.layout.name}: how it fouls in {last}", style="bold")
    yield from map(Text, (*(() if pace is None else pace_words(pace)), *fouling_words(result)))
    if pace is not None:
        yield heading("What was read")
        yield _visits(pace)
    yield heading(f"What each vessel gets, {kept_words(result)}: likely (slow and fast rate)")
    yield _by_month(result)
    if any(one.wanted for one in result.courses.values()):
        yield point("* less than it wants", style="dim")
    if vessel is not None:
        yield heading(f"What '{vessel}' would get back, after {last} at the likely rate")
        yield _stretches(result, vessel)
        yield Text()
        yield _accesses(result, vessel)
    yield heading("Assumed")
    yield from points(notes("fouling"))
    if written is not None:
        yield Text(f"\nWritten to {written}: your file, with these rates under 'fouling'.")


def _by_month(result: Fouling) -> Table:
    units, shown = result.layout.units, _shown(result)
    if len(shown) > MANY:
        columns, by_name = by_vessel(result)
        rows = (
            (vessel, wants, *(f"{flow}{'*' if short else ' '}" for flow, short in flows), spread)
            for vessel, wants, flows, spread in by_name
        )
        return plain_table(*columns, rows=rows)
    table = plain_table(">month", *(f">{one.vessel}" for one in shown))
    step = max(1, math.ceil(result.months[-1] / ROWS))
    wanted = [("" if one.wanted is None else show(one.wanted, "flow", units)) for one in shown]
    table.add_row("wants", *wanted, style="dim")
    for month in [m for m in result.months if m % step == 0 or m == result.months[-1]]:
        table.add_row(str(month), *(_cell(one, month, units) for one in shown))
    return table


def _cell(course: Course, month: int, units: Units) -> Text:
    likely, short = show(course.likely[month], "flow", units, unit=False), _short(course, month)
    return Text(f"{likely}{'*' if short else ' '}{spread_words(course, month, units)}", style="red" if short else "")


def _stretches(result: Fouling, vessel: str) -> Table:
    units = result.layout.units
    films = {film.stretch: film for film in result.films}
    rows = (
        (
            place_words(result, one.stretch),
            show(one.gains[vessel], "flow", units),
            f"{one.shares[vessel]:.0%}",
            show(films[one.stretch].thickness, "size", units, decimals=3 if units.size == "in" else 1),
            f"{films[one.stretch].deposit:.0%}",
        )
        for one in worst_stretches(result, vessel, 5)
    )
    return plain_table("clean again, alone", ">gives back", ">share", ">slime", ">filled", rows=rows)


def _accesses(result: Fouling, vessel: str) -> Table:
    units = result.layout.units
    rows = [
        (
            access_words(result, one),
            show(one.rodded, "length", units),
            show(one.flushed, "length", units),
            show(one.gains[vessel], "flow", units),
        )
        for one in (*best_accesses(result, vessel, 5), result.all_cleaned)
    ]
    rows.append(("all pipe new", "", "", show(lost_by(result, vessel), "flow", units)))
    return plain_table("cleaned from", ">by rod", ">by flush", ">gives back", rows=rows)


def _visits(pace: Pace) -> Table:
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
    films = {film.stretch: film for film in result.films}
    film = "film_roughness_mm=roughness film_thickness_mm=thickness deposit_share=deposit bore_left=bore"
    return {
        **about(result.layout),
        **fields(result, "months cleaned_every_months=every"),
        "answer": list(fouling_words(result)),
        "pace": pace and fields(pace, "likely low high fits"),
        **fields(result, "first_short=first.vessel"),
        "vessels": {name: _course(one, result.renewed[name]) for name, one in result.courses.items()},
        "stretches": [
            fields(blame, "id=stretch line gives_back_l_min=gains share=shares")
            | fields(films.get(blame.stretch), film)
            for blame in result.blames
        ],
        "accesses": [_cleaning(one) for one in result.cleanings],
        "all_accesses": _cleaning(result.all_cleaned),
    }


def _course(one: Course, renewed: float) -> dict[str, Any]:
    return {
        **fields(one, "wanted_l_min"),
        **in_units({"clean_l_min": renewed, **{f"{rate}_l_min": one.flows[rate] for rate in RATES}}),
        **fields(one, "low_l_min high_l_min short_after_months=short_after overtops_after_months=overtops_after"),
    }


def _cleaning(one: Cleaning) -> dict[str, Any]:
    return {"access": one.access or None, **fields(one, "rodded_m flushed_m gives_back_l_min=gains")}
