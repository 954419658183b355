"""The tables of a check as plain rows, which the terminal and the page each set in their own way. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..check import CheckResult
from ..hydraulics.flows import RouteLedger
from ..hydraulics.gutters import depth_at_inlet
from ..units import Shown, show
from .words import enough_words, gets_enough, place_of, range_words, without_water

__all__ = ["Row", "cut_rows", "ledger_rows", "level_rows", "score_rows", "vessel_rows"]


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the thing named `of`: its texts by column, whether it tells of what fails, and whether it is only for those who ask
    for everything."""

    of: str
    cells: dict[str, str]
    bad: bool = False
    minor: bool = False


def vessel_rows(result: CheckResult) -> Iterator[Row]:
    """What each vessel gets and gives, and whether that is enough; `word` is what it holds where it wants nothing."""
    units, dry = result.layout.units, without_water(result)
    for name, vessel in result.layout.vessels.items():
        got = result.flows.vessels[name]
        holds = "no water" if name in dry else vessel.holds or ""
        cells = {
            "gets": show(got.inflow, "flow", units),
            "gives": show(got.outflow, "flow", units) if got.outflow > 0.0 else "",
            "most likely": range_words(result, name),
            "wants": show(vessel.wants, "flow", units) if vessel.wants else "",
            "margin": "" if got.margin is None else f"{got.margin:+.0%}",
            "word": enough_words(result, name) if vessel.wants else holds,
        }
        idle = got.inflow <= 0.0 and got.outflow <= 0.0 and not vessel.wants and name not in dry
        yield Row(name, cells, bad=name in dry or gets_enough(result, name) == "too little", minor=idle)


def level_rows(result: CheckResult) -> Iterator[Row]:
    """Where the water stands in the vessels whose drains carry what they receive, and how far that is under the rim."""
    units = result.layout.units
    for name, vessel in result.layout.vessels.items():
        got = result.flows.vessels[name]
        if got.level is None or got.outflow <= 0.0:
            continue
        depth, over = got.level - vessel.base, vessel.rim is not None and got.spilt > 0.0
        course = result.day.vessels.get(name) if result.day is not None else None
        if course is not None and course.highest < got.level:  # a turn ends before its water stands so high
            depth, over = course.highest - vessel.base, over and course.spilt > 0.0
        said: Shown = "length" if vessel.gutter is None else "size"
        word = "" if vessel.rim is None else f"{show(max(vessel.rim - depth, 0.0), said, units)} to spare"
        high = depth_at_inlet(result.layout, vessel, got)
        cells = {
            "receives": show(got.inflow, "flow", units),
            "could carry": "" if got.carries is None else show(got.carries, "flow", units, decimals=0),
            "stands at": show(depth, said, units),
            "rim at": "" if vessel.rim is None else show(vessel.rim, said, units),
            "word": f"overtops: {show(got.spilt, 'flow', units)} over its rim"
            if over
            else word
            if high is None
            else f"{word}; {show(high, 'size', units)} deep at its inlet end",
        }
        yield Row(name, cells, bad=over)


def cut_rows(result: CheckResult) -> Iterator[Row]:
    """Where the water comes to rest when all pumps stop; minor where none comes and none siphons out."""
    units, cut = result.layout.units, result.cut
    siphoned = {siphon.giver for siphon in cut.siphons} if cut is not None else set()
    for row in cut.vessels if cut is not None else ():
        if row.after is None:
            continue
        base = result.layout.vessels[row.vessel].base
        word = "" if row.rim is None else f"{show(row.rim - row.after, 'length', units)} to spare"
        if row.vessel in siphoned and row.after < row.before:
            word = "siphons out"
        if row.spilled > 0.0:
            word = f"overtops: {show(row.spilled, 'volume', units)} over its rim"
        cells = {
            "now": show(row.before - base, "length", units),
            "then": show(row.after - base, "length", units),
            "rim at": "" if row.rim is None else show(row.rim - base, "length", units),
            "word": word,
        }
        yield Row(
            row.vessel, cells, bad=row.spilled > 0.0, minor=row.after <= row.before and row.vessel not in siphoned
        )


def ledger_rows(result: CheckResult, route: RouteLedger, *, given: str, most: int | None) -> Iterator[Row]:
    """Where the head goes on a route: the lift, the `most` largest losses, the others as one, and what is `given`."""
    units = result.layout.units
    losses = sorted(route.losses, key=lambda part: -part.loss)
    shown = losses if most is None else losses[:most]
    rest = losses[len(shown) :]
    parts = [("lift" if route.lift >= 0.0 else "fall", route.lift, "")]
    parts += [(part.label, part.loss, part.line) for part in shown]
    parts += [(f"{len(rest)} smaller losses", sum(part.loss for part in rest), "")] if rest else []
    for label, head, line in [*parts, (given, route.pumped, "")]:
        yield Row(label, {"head": show(head, "head", units), "line": line})


def score_rows(result: CheckResult, *, most: int | None) -> Iterator[Row]:
    """What costs how many points of each mark, of a finding's number, the `most` dearest and the others as one; and what is left."""
    numbers = {id(finding): str(number) for number, finding in enumerate(result.findings, start=1)}
    for name, mark in result.score.marks.items():
        rows = mark.ledger if most is None else mark.ledger[:most]
        for row in rows:
            cells = {"points": f"-{row.points:.1f}", "for": row.finding.kind, "where": place_of(row.finding)}
            yield Row(numbers.get(id(row.finding), ""), cells)
        if rest := mark.ledger[len(rows) :]:
            yield Row(
                "",
                {
                    "points": f"-{sum(row.tenths for row in rest) / 10:.1f}",
                    "for": f"{len(rest)} smaller ones",
                    "where": "",
                },
            )
        more = f"{result.score.cleanable:.0%} of the pipe can be cleaned" if name == "cleaning" else ""
        yield Row(f"left for the {name}", {"points": f"{mark.points:.1f}", "for": "", "where": more})
