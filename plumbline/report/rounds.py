"""A mender's rounds, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from .. import __version__
from ..catalogue import notes
from ..rounds import Due, Stop
from .plain import fields, heading, plain_table, point, view
from .words import level_word

__all__ = ["rounds_as_json", "rounds_view"]

_STYLES = {"fail": "bold red", "attention": "bold yellow", "ok": "bold green", "unread": "bold magenta"}


@view
def rounds_view(stops: Sequence[Stop]) -> Iterator[RenderableType]:
    """The rounds: every system in one table, and what is worst about those that want something."""
    yield Text(_sentence(stops), style="bold")
    named = Counter(stop.name for stop in stops)
    rows: Iterator[Iterable[str | Text]] = (
        (
            stop.name if named[stop.name] == 1 else f"{stop.name} ({stop.file})",
            Text(
                "cannot be read" if stop.verdict == "unread" else level_word(stop.verdict), style=_STYLES[stop.verdict]
            ),
            f"{stop.since:%Y-%m-%d}",
            "; ".join(_due(due) for due in stop.due),
            ", ".join(stop.carry),
        )
        for stop in stops
    )
    yield plain_table("system", "verdict", "since", "due", "carry", rows=rows)
    troubled = [stop for stop in stops if stop.why]
    if troubled:
        yield heading("Worst first")
    for stop in troubled:
        yield point(f"{stop.name} ({stop.file}): {stop.why}")
        if stop.do:
            yield point(f"{'' if stop.verdict == 'unread' else 'do: '}{stop.do}", by=6)
    yield from (Text(f"\n{note}", style="dim") for note in notes("rounds"))


def _sentence(stops: Sequence[Stop]) -> str:
    counts = Counter[str](stop.verdict for stop in stops)
    words = {
        "fail": ("fails", "fail"),
        "unread": ("cannot be read",) * 2,
        "attention": ("wants attention", "want attention"),
        "ok": ("is sound", "are sound"),
    }
    told = [
        f"{count} {one if count == 1 else several}"
        for verdict, (one, several) in words.items()
        if (count := counts[verdict])
    ]
    due = sum(any(one.months >= 0.0 for one in stop.due) for stop in stops)
    systems = "1 system" if len(stops) == 1 else f"{len(stops)} systems"
    return f"{systems}: {', '.join(told)}; at {due} something is due."


def _due(due: Due) -> str:
    when = "now" if due.months < 0.5 else f"since {due.months:.0f} months"
    if due.months < 0.0:
        when = f"in {max(math.ceil(-due.months), 1)} months" if due.months < -1.0 else "within a month"
    minutes = "" if due.minutes is None else f", {due.minutes:.0f} min"
    return f"{due.what} {when}{minutes}"


def rounds_as_json(stops: Sequence[Stop]) -> dict[str, Any]:
    """The rounds as plain data; its keys are promised in docs/json.md."""
    return {
        "plumbline": __version__,
        "systems": [
            {
                **fields(stop, "file name verdict"),
                "since": stop.since.isoformat(),
                "points": None if stop.verdict == "unread" else stop.points,
                "why": stop.why or None,
                "do": stop.do or None,
                "due": [fields(due, "what every_months=every months_over=months minutes") for due in stop.due],
                "carry": list(stop.carry),
            }
            for stop in stops
        ],
        "note": " ".join(notes("rounds")),
    }
