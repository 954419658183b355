"""How a finding is put together: what the catalogue says of its kind comes from there."""

from __future__ import annotations

from . import catalogue
from .catalogue.rows import WeightCase
from .findings import Finding, Level
from .layout.model import Pipe
from .units import Units, show

__all__ = ["bore_or_less", "bore_or_more", "finding"]

_NARROWEST = 0.013
"""Nobody lays narrower pipe [m] so that water carries solids through it: they stop it (common practice, no source)."""


def bore_or_more(bore: float, pipe: Pipe, units: Units) -> str:
    """A least bore [m], with the trade's size of the same kind of pipe that has it.

    >>> bore_or_more(0.030, Pipe("pvc 25", 0.0212, 0.0), Units())
    '30 mm bore or more (pvc 40)'
    """
    sold = [row.name for row in catalogue.series(pipe.name) if row.bore >= bore]
    return f"{show(bore, 'size', units)} bore or more" + (f" ({sold[0]})" if sold else "")


def bore_or_less(bore: float, pipe: Pipe, units: Units, where: str) -> tuple[str, ...]:
    """A largest bore [m], with the trade's size of the same kind of pipe that keeps under it, and `where` it is meant; nothing where that is
    so narrow that solids stop it.

    >>> bore_or_less(0.030, Pipe("pvc 25", 0.0212, 0.0), Units(), "in its place")
    ('a bore of 30 mm or less (pvc 32) in its place',)
    """
    if bore < _NARROWEST:
        return ()
    sold = [row.name for row in catalogue.series(pipe.name) if row.bore <= bore]
    return (f"a bore of {show(bore, 'size', units)} or less" + (f" ({sold[-1]})" if sold else "") + f" {where}",)


def finding(
    kind: str,
    message: str,
    cure: str,
    *,
    line: str | None = None,
    step: int | None = None,
    weight: float | None = None,
    case: WeightCase = "usual",
    level: Level | None = None,
    start: float | None = None,
    stop: float | None = None,
    more: str = "",
    rule: str | None = None,
    vessel: str | None = None,
    pump: str | None = None,
) -> Finding:
    """Make a finding of a kind, with the catalogue's source, and its level and weight, in a `case` of it, unless others are given.
    `rule` is the source of the rule of a plumbing code that it goes by, one of those of its kind."""
    row = catalogue.findings()[kind]
    return Finding(
        kind,
        level or row.level,
        message,
        cure,
        rule or row.source,
        line,
        step,
        catalogue.weights()[kind].weight(case) if weight is None else weight,
        start,
        stop,
        more,
        vessel,
        pump,
    )
