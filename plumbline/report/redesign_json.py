"""A redesign as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from .. import __version__
from ..check import CheckResult
from ..findings import Finding
from ..redesign.buys import Buy, Standing, Worth
from ..redesign.change import Change
from ..redesign.search import Difference, Redesign

__all__ = ["redesign_as_json"]

_FLOW = 60_000.0
"""L/min in one m³/s."""

PROVEN_OVER = "sets of the changes tried, each flush taken as in pipe that was tried"


def redesign_as_json(
    redesign: Redesign,
    difference: Difference,
    worths: Sequence[Worth],
    buys: Sequence[Buy],
    first: Worth | None,
    *,
    hour: float,
    placeholders: bool,
    written: str | None,
) -> dict[str, Any]:
    """Give a redesign as one JSON object; see `docs/json.md`."""
    return {
        "layout": redesign.before.layout.name,
        "plumbline": __version__,
        "written": written,
        "placeholder_prices": placeholders,
        "money_an_hour": hour,
        "cost": round(redesign.cost, 2),
        "bound": round(redesign.bound, 2),
        "proven": redesign.proven,
        "proven_over": PROVEN_OVER if redesign.proven else None,
        "gap": None if redesign.budget is not None or redesign.sheet is not None else redesign.gap,
        "stopped": redesign.stopped,
        "budget": redesign.budget,
        "candidates": len(redesign.candidates),
        "solved": redesign.tried,
        "not_cured": [{"kind": one.kind, "line": one.line, "message": one.words} for one in redesign.left],
        "changes": [
            {**_change(one.change), "alone": _standing(one.alone), "without": _standing(one.without)}
            for one in worths or [Worth(change, None, None) for change in redesign.changes]
        ],
        "first": None if first is None else first.change.words,
        "old": _result(redesign.before),
        "new": _result(redesign.result),
        "gone": [_finding(finding) for finding in difference.gone],
        "come": [_finding(finding) for finding in difference.come],
        "best_buys": [
            {"cost": round(buy.cost, 2), "changes": [change.words for change in buy.changes], **(_standing(buy.standing) or {})}
            for buy in buys
        ],
    }  # fmt: skip


def _change(change: Change) -> dict[str, Any]:
    return {
        "kind": change.kind,
        "line": change.line,
        "step": change.step,
        "words": change.words,
        "money": change.money,
        "minutes": change.minutes,
        "access": change.access or None,
    }


def _standing(stands: Standing | None) -> dict[str, Any] | None:
    if stands is None:
        return None
    return {
        "points": stands.points,
        "cleanable_fraction": stands.cleanable,
        "least_margin": stands.margin,
        "fail": stands.fail,
    }


def _result(result: CheckResult) -> dict[str, Any]:
    flows = result.flows
    return {
        "verdict": result.verdict,
        "points": result.score.points,
        "cleanable_fraction": result.score.cleanable,
        "pumps": {name: {"flow_l_min": duty.flow * _FLOW, "head_m": duty.head} for name, duty in flows.pumps.items()},
        "vessels": {
            name: {
                "inflow_l_min": got.inflow * _FLOW,
                "wanted_l_min": None if got.wanted is None else got.wanted * _FLOW,
            }
            for name, got in flows.vessels.items()
        },
        "findings": len(result.findings),
        "fail": sum(finding.level == "fail" for finding in result.findings),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "kind": finding.kind,
        "level": finding.level,
        "line": finding.line,
        "step": finding.step,
        "message": finding.message,
    }
