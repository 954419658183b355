"""How a finding on the flows is put together, and what each kind costs."""

from __future__ import annotations

from .. import catalogue
from ..findings import Finding, Level

__all__ = ["WEIGHTS", "finding"]

WEIGHTS = {
    "too-little-water": 0.5, "thin-margin": 0.02, "pump-shut-off": 0.6, "pump-backwards": 0.6, "pump-run-out": 0.03,
    "overtops": 0.4, "thin-drain": 0.03, "cannot-fill": 0.6, "level-drops": 0.2, "runs-away": 0.05, "slow-sleeve": 0.005, "back-fall": 0.03, "too-flat": 0.005, "drain-full": 0.04, "drain-gulps": 0.005, "small-standpipe": 0.01, "no-way-out": 0.4, "unbalanced": 0.05, "not-returned": 0.05, "held-back": 0.05, "cut-off": 0.03, "under-pressure": 0.02, "suction-lift": 0.05,
    "siphons-back": 0.05, "power-cut-overtops": 0.3, "fish-left-shallow": 0.4, "intake-uncovered": 0.2,
}  # fmt: skip
"""Share of the remaining score that each kind costs; a shortage costs its own share of 0.5. The project's own judgement: a
system that does not deliver or that floods is worth less than half a sound one, whatever else is right with it."""


def finding(kind: str, message: str, cure: str, *, line: str | None = None, step: int | None = None,
             weight: float | None = None, level: Level | None = None) -> Finding:  # fmt: skip
    """Make a finding of a kind, with the catalogue's level and source and this table's weight unless others are given."""
    row = catalogue.findings()[kind]
    return Finding(kind, level or row.level, message, cure, row.source, line, step,
                   WEIGHTS.get(kind, 0.0) if weight is None else weight)  # fmt: skip
