"""How a finding is put together: what the catalogue says of its kind comes from there."""

from __future__ import annotations

from .. import catalogue
from ..findings import Finding, Level

__all__ = ["finding"]


def finding(kind: str, message: str, cure: str, *, line: str | None = None, step: int | None = None,
            weight: float | None = None, case: catalogue.WeightCase = "usual", level: Level | None = None,
            start: float | None = None, stop: float | None = None, more: str = "", rule: str | None = None) -> Finding:  # fmt: skip
    """Make a finding of a kind, with the catalogue's source, and its level and weight, in a `case` of it, unless others are given.
    `rule` is the source of the rule of a plumbing code that it goes by, one of those of its kind."""
    row = catalogue.findings()[kind]
    return Finding(kind, level or row.level, message, cure, rule or row.source, line, step,
                   catalogue.weights()[kind].weight(case) if weight is None else weight, start, stop, more)  # fmt: skip
