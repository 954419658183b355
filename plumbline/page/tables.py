"""The tables of the page, as texts ready to be set: rows of cells, with where their method stands. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ..check import CheckResult
from ..report import rows as plain
from ..report.day import BED_COLUMNS, bed_rows
from ..units import show
from ..upkeep.intervals import length
from ..upkeep.words import access_name
from .sketch.trouble import troubles

__all__ = ["Bad", "Table", "accesses", "after_cut", "beds", "ledger", "levels", "pipes", "score", "vessels"]


class Bad(str):
    """The text of a cell that tells of what fails."""

    __slots__ = ()
    look = "bad"


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its caption, its columns (one that begins with > is set to the right), its rows, whose first cell says what they are of, the
    method's anchor, and the page's `anchors` of rows, by what they are of, which the sketch lights."""

    caption: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    method: str
    anchors: Mapping[str, str] = field(default_factory=dict)


def _set(caption: str, columns: tuple[str, ...], rows: Iterable[plain.Row], method: str) -> Table:
    """Plain rows as a table. Their word, the verdict, stands where a column asks a question: first, for on a phone the rest has to be
    pushed into sight."""
    keys = [{"enough?": "word", "room": "word"}.get(column, column.lstrip(">")) for column in columns[1:]]

    def cell(row: plain.Row, key: str) -> str:
        return Bad(row.cells[key]) if row.bad and key in ("word", "margin") else row.cells[key]

    return Table(caption, columns, [(row.of, *(cell(row, key) for key in keys)) for row in rows], method)


def vessels(result: CheckResult) -> Table:
    """What each vessel gets and wants."""
    columns = ("vessel", "enough?", ">margin", ">gets", ">most likely", ">wants")
    return _set("What each vessel gets", columns, plain.vessel_rows(result), "range")


def levels(result: CheckResult) -> Table:
    """Where the water stands in vessels whose drains carry what they receive."""
    columns = ("vessel", "room", ">receives", ">could carry", ">stands at", ">rim at")
    return _set("Where the water stands", columns, plain.level_rows(result), "level")


def beds(result: CheckResult) -> Table:
    """How each bed floods and drains in the course of the day."""
    rows = bed_rows(result.layout, result.day) if result.day is not None else ()
    return _set("Flood and drain", ("vessel", *BED_COLUMNS), rows, "day")


def after_cut(result: CheckResult) -> Table:
    """Where the water comes to rest when all pumps stop."""
    columns = ("vessel", "room", ">now", ">then", ">rim at")
    return _set("Depths before and after", columns, plain.cut_rows(result), "cut")


def ledger(result: CheckResult) -> Table | None:
    """Where the head goes on the route that is worst off."""
    route = result.worst_route
    if route is None:
        return None
    rows = plain.ledger_rows(result, route, given="what the pump gives" if route.pumped > 0.0 else "in all", most=12)
    caption = f"From {route.source} to {route.vessel or route.end}, by {route.end}"
    return _set(caption, ("goes into", ">head", "line"), rows, "flow")


def accesses(result: CheckResult) -> Table:
    """What each access lets be cleaned."""
    layout, units, rows = result.layout, result.layout.units, []
    for access in layout.accesses:
        pushes = [push for push in result.upkeep.pushes if push.access == access.id]
        by_rod = {push.rod: sum(map(length, push.covers.values())) for push in pushes}
        best = max(by_rod.values(), default=0.0)
        rods = ", ".join(rod for rod, reached in by_rod.items() if reached >= best - 1e-9 and best > 0.0)
        flushed = sum(map(length, result.upkeep.flushes.get(access.id, {}).values()))
        reaches, scours = show(best, "length", units), show(flushed, "length", units) if flushed > 0.0 else ""
        rows.append(
            (access_name(layout, access), access.line, reaches if best or scours else Bad(reaches), rods, scours)
        )
    columns = ("opening", "line", ">a rod reaches", "with", ">a flush scours")
    return Table("What can be cleaned from each opening", columns, rows, "reach")


def pipes(result: CheckResult, anchors: Mapping[str, str]) -> Table:
    """Every stretch of pipe with its numbers; the sketch's pipes lead here."""
    units, trouble, rows = result.layout.units, troubles(result), []
    for stretch in result.layout.stretches:
        got = result.flows.stretches[stretch.id]
        reach = max(result.upkeep.reached_m(stretch), result.upkeep.flushed_m(stretch))
        cleaned, said = show(reach, "length", units), "; ".join(trouble.words(stretch))
        cells = (
            stretch.id,
            Bad(said) if said else "",
            stretch.parts[0].pipe.name if stretch.parts else "",
            show(stretch.bore, "size", units),
            show(stretch.length, "length", units),
            show(got.flow, "flow", units),
            show(got.velocity, "speed", units),
            show(got.loss, "head", units),
            Bad(cleaned) if reach < stretch.length - 1e-6 else cleaned,
        )
        rows.append(cells)
    columns = ("stretch", "trouble", "pipe", ">bore", ">length", ">flow", ">speed", ">head lost", ">can be cleaned")
    caption = "Every stretch of pipe; a flow below nothing runs against the walk"
    return Table(caption, columns, rows, "flow", anchors)


def score(result: CheckResult) -> Table:
    """The ledger of the score."""
    rows = [
        (row.of, row.cells["for"], row.cells["where"], row.cells["points"].replace("-", "−"))
        for row in plain.score_rows(result, most=None)
    ]
    return Table("What costs how many points", ("no.", "finding", "where", ">points"), rows, "score")
