"""Where the trouble is: the findings as pieces of pipe, corners and places that a picture can show."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ...catalogue import findings
from ...catalogue.reading import data
from ...check import CheckResult
from ...findings import Finding
from ...layout.model import Stretch
from ...report.words import without_water
from ...upkeep.reach import sharp_kinds

__all__ = [
    "TROUBLES",
    "Span",
    "Trouble",
    "bad_vessels",
    "place_of_finding",
    "span_of_finding",
    "subject_of_finding",
    "troubles",
]

TROUBLES: dict[str, str] = {name: row["said"] for name, row in data("symbols.yaml")["troubles"].items()}
"""The troubles that have a line or a mark of their own, in the order in which they win a pipe's line, and in words."""


@dataclass(frozen=True, slots=True)
class Span:
    """A piece of a line in trouble, `low` to `high` [m along it], or a corner where both are one."""

    trouble: str
    line: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Trouble:
    """All of it: pieces of pipe, and corners."""

    spans: tuple[Span, ...]
    marks: tuple[Span, ...]

    def words(self, stretch: Stretch) -> list[str]:
        """What troubles a stretch."""
        here = {
            span.trouble
            for span in self.spans
            if span.line == stretch.line and span.low < stretch.stop and span.high > stretch.start
        }
        return [said for name, said in TROUBLES.items() if name in here]


def troubles(result: CheckResult, *, bends: bool = True) -> Trouble:
    """Say which pipe and which corners are in trouble, of the kinds that the picture shows; sharp bends only with `bends`."""
    found: list[Span] = []
    for finding in result.findings:
        trouble, line = _drawn(finding, "drawn as"), result.layout.lines.get(finding.line or "")
        if not trouble or line is None:
            continue
        if trouble == "sharp":
            limit = result.layout.limits["sharp bend"] + 1e-6
            tight = (part for part in line.parts if part.kind in sharp_kinds() and part.turn > limit)
            found += [Span(trouble, line.name, part.at, part.at) for part in tight if bends]
        elif finding.kind in ("held-back", "cut-off"):
            still = result.flows.held if finding.kind == "held-back" else result.flows.cut_off
            found += [
                Span(trouble, line.name, one.start, one.stop)
                for one in result.layout.stretches
                if one.line == line.name and one.id in still
            ]
        else:
            found.append(Span(trouble, line.name, *(span_of_finding(result, finding) or (0.0, line.length))))
    spans = tuple(span for span in found if span.high > span.low + 1e-9)
    return Trouble(spans, tuple(span for span in found if span.high <= span.low + 1e-9))


def _drawn(finding: Finding, how: str) -> str:
    """How the picture shows a kind of finding, by the catalogue's row; "" where the row does not say."""
    return str(findings()[finding.kind].extra.get(how, ""))


def span_of_finding(result: CheckResult, finding: Finding) -> tuple[float, float] | None:
    """The pipe that a finding speaks of [m along its line]: as it says, or its step, or its whole line; None without a
    line."""
    line = result.layout.lines.get(finding.line or "")
    if line is None:
        return None
    if finding.start is not None and finding.stop is not None:
        return (finding.start, finding.stop)
    part = next((part for part in line.parts if part.step == finding.step), None)
    if part is None:
        return (0.0, line.length)
    return (part.at, part.at + (part.length if part.is_pipe else 0.0))


def place_of_finding(result: CheckResult, finding: Finding) -> tuple[str, float] | None:
    """The place that a finding's number stands at: its line and how far along it [m]."""
    span = span_of_finding(result, finding)
    if span is None or finding.line is None:
        return None
    # Some speak of the vessel that their line comes from, or goes to.
    end = {"start": 0.0, "end": result.layout.lines[finding.line].length}.get(_drawn(finding, "badge at"))
    if end is not None and finding.step is None:
        return (finding.line, end)
    return (finding.line, 0.5 * (span[0] + span[1]))


def subject_of_finding(result: CheckResult, finding: Finding) -> tuple[str, str] | None:
    """What a finding without a pipe speaks of: ("vessel", name) or ("pump", name); None where it is the whole layout. A finding
    that does not say it is taken at the first vessel or pump that its sentence names in quotes."""
    said = [("vessel", finding.vessel), ("pump", finding.pump)]
    for name in re.findall(r"'([^']+)'", finding.message):
        said += [
            ("vessel", name if name in result.layout.vessels else None),
            ("pump", name if name in result.layout.pumps else None),
        ]
    return next(((kind, name) for kind, name in said if name is not None), None)


def bad_vessels(result: CheckResult) -> set[str]:
    """Vessels that get too little or overtop, with the pumps on or off."""
    short = {name for name, got in result.flows.vessels.items() if got.short}
    over = {name for name, got in result.flows.vessels.items() if got.spilt > 0.0}
    cut = {row.vessel for row in result.cut.vessels if row.spilled > 0.0} if result.cut is not None else set()
    return short | over | cut | without_water(result)
