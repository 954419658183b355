"""How a finding on the flows is put together."""

from __future__ import annotations

from .. import catalogue
from ..findings import Finding, Level

__all__ = ["finding"]


def finding(kind: str, message: str, cure: str, *, line: str | None = None, step: int | None = None,
             weight: float | None = None, case: catalogue.WeightCase = "usual", level: Level | None = None) -> Finding:  # fmt: skip
    """Make a finding of a kind, with the catalogue's level, source and weight, in a `case` of it, unless others are given."""
    row = catalogue.findings()[kind]
    return Finding(kind, level or row.level, message, cure, row.source, line, step,
                   catalogue.weights()[kind].weight(case) if weight is None else weight)  # fmt: skip
