"""The tables of the page, as texts ready to be set: rows of cells, with where their method stands. Computes nothing."""

from __future__ import annotations

from dataclasses import dataclass

from ..check import CheckResult
from ..day.told import bed_courses
from ..report.day import minutes_words
from ..report.words import enough_words, place_of, range_words, room_left, without_water
from ..units import show
from ..upkeep.intervals import length
from ..upkeep.words import access_name
from .sketch.trouble import TROUBLES, troubles

__all__ = ["Cell", "Row", "Table", "accesses", "after_cut", "ledger", "levels", "pipes", "score", "vessels"]


@dataclass(frozen=True, slots=True)
class Cell:
    """A text, and "bad" where it tells of what fails."""

    text: str
    look: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A row: what it is of, its cells, and the page's anchor of it, if it has one; `stretch` where it is of a stretch."""

    head: str
    cells: tuple[Cell, ...]
    anchor: str = ""
    stretch: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its caption, its columns (one that begins with > is set to the right), its rows, and the method's anchor."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    method: str


def _cells(*texts: str) -> tuple[Cell, ...]:
    return tuple(Cell(text) for text in texts)


def vessels(result: CheckResult) -> Table:
    """What each vessel gets and wants."""
    layout, units = result.layout, result.layout.units
    rows = []
    dry = without_water(result)
    for name, vessel in layout.vessels.items():
        got = result.flows.vessels[name]
        margin, word = "", "no water" if name in dry else vessel.holds or ""
        if vessel.wants:
            share = got.inflow / vessel.wants - 1.0
            margin, word = f"{share:+.0%}", enough_words(result, name, share)
        wants = show(vessel.wants, "flow", units) if vessel.wants else ""
        bad = "bad" if word.startswith(("too little", "no water")) else ""
        rows.append(Row(name, (Cell(word, bad), Cell(margin, bad),
                               *_cells(show(got.inflow, "flow", units), range_words(result, name), wants))))  # fmt: skip
    # The verdict comes first: on a phone the rest has to be pushed into sight.
    columns = ("vessel", "enough?", ">margin", ">gets", ">most likely", ">wants")
    return Table("What each vessel gets", columns, tuple(rows), "range")


def levels(result: CheckResult) -> Table:
    """Where the water stands in vessels whose drains carry what they receive."""
    units = result.layout.units
    rows = []
    for name, vessel in result.layout.vessels.items():
        got = result.flows.vessels[name]
        if got.level is None or got.outflow <= 0.0:
            continue
        depth = got.level - vessel.base
        carries = "" if got.carries is None else show(got.carries, "flow", units, decimals=0)
        rim = "" if vessel.rim is None else show(vessel.rim, "length", units)
        word, bad = room_left(result.layout, result.flows, name)
        rows.append(Row(name, (Cell(word, "bad" if bad else ""),
                               *_cells(show(got.inflow, "flow", units), carries, show(depth, "length", units), rim))))  # fmt: skip
    columns = ("vessel", "room", ">receives", ">could carry", ">stands at", ">rim at")
    return Table("Where the water stands", columns, tuple(rows), "level")


def beds(result: CheckResult) -> Table:
    """How each bed floods and drains in the course of the day."""
    rows = []
    for bed in bed_courses(result.layout, result.day) if result.day is not None else ():
        times = ("" if time is None else minutes_words(time) for time in (bed.fills, bed.holds, bed.drains))
        rows.append(Row(bed.vessel, _cells(str(bed.floods), *times, show(bed.deepest, "length", result.layout.units))))
    columns = ("vessel", ">floods", ">fills in", ">stands", ">drains in", ">deepest")
    return Table("Flood and drain", columns, tuple(rows), "day")


def after_cut(result: CheckResult) -> Table:
    """Where the water comes to rest when all pumps stop."""
    units = result.layout.units
    rows = []
    for row in result.cut.vessels if result.cut is not None else ():
        if row.after is None:
            continue
        base = result.layout.vessels[row.vessel].base
        rim, word, bad = "", "", ""
        if row.rim is not None:
            rim = show(row.rim - base, "length", units)
            bad = "bad" if row.spilled > 0.0 else ""
            over = f"overtops: {show(row.spilled, 'volume', units)} over its rim"
            word = over if bad else f"{show(row.rim - row.after, 'length', units)} to spare"
        rows.append(Row(row.vessel, (Cell(word, bad),
                                     *_cells(show(row.before - base, "length", units), show(row.after - base, "length", units), rim))))  # fmt: skip
    return Table("Depths before and after", ("vessel", "room", ">now", ">then", ">rim at"), tuple(rows), "cut")


def ledger(result: CheckResult) -> Table | None:
    """Where the head goes on the route that is worst off."""
    route, units = result.worst_route, result.layout.units
    if route is None:
        return None
    rows = [Row("lift" if route.lift >= 0.0 else "fall", _cells(show(route.lift, "head", units), ""))]
    losses = sorted(route.losses, key=lambda part: -part.loss)
    rows += [Row(part.label, _cells(show(part.loss, "head", units), part.line)) for part in losses[:12]]
    rest = losses[12:]
    if rest:
        rows.append(Row(f"{len(rest)} smaller losses", _cells(show(sum(one.loss for one in rest), "head", units), "")))
    rows.append(
        Row("what the pump gives" if route.pumped > 0.0 else "in all", _cells(show(route.pumped, "head", units), ""))
    )
    return Table(f"From {route.source} to {route.vessel or route.end}, by {route.end}", ("goes into", ">head", "line"),
                 tuple(rows), "flow")  # fmt: skip


def accesses(result: CheckResult) -> Table:
    """What each access lets be cleaned."""
    units = result.layout.units
    rows = []
    for access in result.layout.accesses:
        by_rod = {push.rod: sum(length(pieces) for pieces in push.covers.values()) for push in result.upkeep.pushes
                  if push.access == access.id}  # fmt: skip
        best = max(by_rod.values(), default=0.0)
        rods = ", ".join(rod for rod, got in by_rod.items() if got >= best - 1e-9 and best > 0.0)
        flushed = sum(length(pieces) for pieces in result.upkeep.flushes.get(access.id, {}).values())
        rows.append(Row(access_name(result.layout, access), (
            Cell(access.line), Cell(show(best, "length", units), "" if best > 0.0 or flushed > 0.0 else "bad"),
            Cell(rods), Cell(show(flushed, "length", units) if flushed > 0.0 else ""),
        )))  # fmt: skip
    columns = ("opening", "line", ">a rod reaches", "with", ">a flush scours")
    return Table("What can be cleaned from each opening", columns, tuple(rows), "reach")


def pipes(result: CheckResult, anchors: dict[str, str]) -> Table:
    """Every stretch of pipe with its numbers; the sketch's pipes lead here."""
    units, trouble = result.layout.units, troubles(result)
    rows = []
    for stretch in result.layout.stretches:
        got = result.flows.stretches[stretch.id]
        cleaned = max(result.upkeep.reached_m(stretch), result.upkeep.flushed_m(stretch))
        here = {span.trouble for span in trouble.spans if span.line == stretch.line and span.low < stretch.stop
                and span.high > stretch.start}  # fmt: skip
        said = "; ".join(words for name, words in TROUBLES.items() if name in here)
        rows.append(Row(stretch.id, (
            Cell(said, "bad" if said else ""),
            *_cells(stretch.parts[0].pipe.name if stretch.parts else "", show(stretch.bore, "size", units),
                    show(stretch.length, "length", units), show(got.flow, "flow", units), show(got.velocity, "speed", units),
                    show(got.loss, "head", units)),
            Cell(show(cleaned, "length", units), "bad" if cleaned < stretch.length - 1e-6 else ""),
        ), anchor=anchors[stretch.id], stretch=stretch.id))  # fmt: skip
    columns = ("stretch", "trouble", "pipe", ">bore", ">length", ">flow", ">speed", ">head lost", ">can be cleaned")
    return Table("Every stretch of pipe; a flow below nothing runs against the walk", columns, tuple(rows), "flow")


def score(result: CheckResult) -> Table:
    """The ledger of the score."""
    numbers = {id(finding): index + 1 for index, finding in enumerate(result.findings)}
    rows = []
    for name, mark in result.score.marks.items():
        rows += [Row(f"{numbers.get(id(row.finding), '')}", _cells(row.finding.kind, place_of(row.finding), f"−{row.points:.1f}"))
                 for row in mark.ledger]  # fmt: skip
        rows.append(Row(f"left for the {name}", _cells("", "", f"{mark.points:.1f}")))
    return Table("What costs how many points", ("no.", "finding", "where", ">points"), tuple(rows), "score")
