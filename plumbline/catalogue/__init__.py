"""Pipe sizes, materials, fittings, rods and thresholds, each with its source: data files and their loaders.

Every loader reads its file at the first call and keeps the rows. Lookup is exact, save for case and runs of
spaces: an unknown name is never quietly taken for another.

>>> pipe = pipes()["pvc 25"]
>>> round(pipe.bore * 1000, 1), pipe.mark
(21.2, 'looked up')
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cache, partial
from typing import Any, TypeVar

from plumbline.catalogue import reading
from plumbline.catalogue.reading import data, table_of
from plumbline.catalogue.rows import CauseRow, DeadLegRow, MaterialRow, OpeningRow, PipeRow, SizeRow
from plumbline.catalogue.table import Table, normal

__all__ = [
    "Table",
    "airlift",
    "brushes",
    "causes",
    "cautions_at",
    "codes",
    "columns",
    "dead_legs",
    "findings",
    "fittings",
    "fouling",
    "husbandry",
    "limits",
    "materials",
    "normal",
    "notes",
    "openings",
    "pipes",
    "readings",
    "rods",
    "routine_times",
    "series",
    "sizing",
    "sources",
    "tank_current",
    "terms",
    "trade_words",
    "uncertainty",
    "weights",
]


Row = TypeVar("Row")


def _table(file: str, make: Callable[[str, Any], Row]) -> Callable[[], Table[Row]]:
    """What reads the rows of a data file at the first call."""
    return cache(lambda: table_of(make(name, given) for name, given in data(file).items()))


def _plain(kind: type[Row], file: str) -> Callable[[], Table[Row]]:
    return _table(file, lambda name, given: reading.row(kind, given, name=name))


fittings = _table("fittings.yaml", reading.fitting)
"""The fittings and the ends of lines."""
brushes = cache(lambda: table_of(reading.brush_rows(data("brushes.yaml"))))
"""The brushes by their sizes."""
rods = _table("rods.yaml", lambda name, given: reading.rod(name, given, brushes()))
"""The rods, brushes and cables."""
codes = _table("codes.yaml", reading.code)
"""The rules of plumbing codes on access."""
findings = _table("findings.yaml", reading.finding_kind)
"""The kinds of finding."""
weights = _table("weights.yaml", reading.weight)
"""What each kind of finding costs."""
materials = _plain(MaterialRow, "materials.yaml")
"""The pipe walls."""
openings = _plain(OpeningRow, "openings.yaml")
"""What partly open valves cost."""
dead_legs = _plain(DeadLegRow, "dead_legs.yaml")
"""What standards allow a branch without flow."""
causes = _plain(CauseRow, "causes.yaml")
"""What may have happened to a system that does not run as its file says."""
limits = _table("limits.yaml", reading.number)
"""The thresholds, in SI."""
uncertainty = _table("uncertainty.yaml", reading.number)
"""How far the numbers that a check starts from may be out, in SI."""
fouling = _table("fouling.yaml", reading.number)
"""How pipe fouls with time, at three rates."""
airlift = _table("airlift.yaml", reading.number)
"""What the airlift's arithmetic takes from elsewhere, in SI."""
husbandry = _table("husbandry.yaml", reading.number)
"""What sizing from fish and plants starts from, in SI."""
sizing = _plain(SizeRow, "sizing.yaml")
"""The numbers that sizing gives."""
tank_current = _table("tank_current.yaml", reading.number)
"""What the current in a tank rests on, in SI."""
routine_times = _table("routine.yaml", reading.number)
"""How long the jobs of a cleaning round take [min], and how often pipe wants it [months]."""
readings = _table("readings.yaml", reading.number)
"""How far a reading on site may be out, in SI."""


pipes = cache(lambda: table_of(size for series in data("pipes.yaml").values() for size in reading.pipe_rows(series)))
"""The pipe sizes."""
terms = partial(data, "terms.yaml")
"""Words of the output in plain English."""
columns = partial(data, "columns.yaml")
"""The headings of tables in plain English."""
trade_words = partial(data, "trade_words.yaml")
"""Words of the trade that the language says otherwise, with the line to write, by where they stand."""


def series(name: str) -> tuple[PipeRow, ...]:
    """The catalogue's pipe of the same kind as one of its names, in rising order of bore; none for another name.

    >>> [row.name for row in series("pvc 25")][:3]
    ['pvc 20', 'pvc 25', 'pvc 32']
    >>> [row.name for row in series("pvc 3/4 in sch 40")][:4]
    ['pvc 1/2 in sch 40', 'pvc 3/4 in sch 40', 'pvc 1 in sch 40', 'pvc 1 1/4 in sch 40']
    """
    table = pipes()
    if name not in table:
        return ()
    pattern = re.sub(r"\d[\d /]*(?= |$)", r"[\\d /]+", re.escape(name).replace(r"\ ", " "), count=1)
    rows = [row for other, row in table.items() if re.fullmatch(pattern, other)]
    return tuple(sorted(rows, key=lambda row: row.bore))


def sources(kind: str) -> tuple[str, ...]:
    """Every source that a finding of a kind may name: its row's, or those of the rules of codes that it speaks of."""
    row = findings()[kind]
    told = row.extra.get("rules of codes")
    if not isinstance(told, list):
        return (row.source,)
    return tuple(code.source_of(rule) for code in codes().values() for rule in code.rules if rule.what in told)


def notes(output: str) -> tuple[str, ...]:
    """What is to be known of an output's figures, from notes.yaml.

    >>> notes("rounds")[0].partition(":")[0]
    'What is due is counted from the day on which each file was last changed'
    """
    return tuple(data("notes.yaml")[output])


def cautions_at(output: str, *, hose: bool = False, airlift: bool = False) -> Mapping[str, str]:
    """The cautions of the work that an output sends someone to, by hazard.

    Parameters:
        output: a word of cautions.yaml, for instance "parts".
        hose, airlift: whether the layout has one.

    >>> list(cautions_at("size"))
    ['drinking water', 'power cut', 'weight', 'authority']
    """
    there = {None, *(("hose",) if hose else ()), *(("airlift",) if airlift else ())}
    rows = data("cautions.yaml").items()
    return {hazard: str(row["says"]) for hazard, row in rows if output in row["at"] and row.get("where") in there}
