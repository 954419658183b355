"""The check as one JSON object, for other programs. The keys are promises: see `docs/json.md`."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from .. import __version__
from ..check import CheckResult
from ..hydraulics.grade import grade_lines
from ..hydraulics.how_sure import Range
from ..hydraulics.power_cut import PowerCut
from ..score import LedgerRow
from ..upkeep.age import Age, stagnant, water_ages
from ..upkeep.carried import Carried, carried
from ..upkeep.dead_legs import by_shape

__all__ = ["as_json"]

_FLOW = 60_000.0
"""L/min in one m³/s."""

_LITRES = 1000.0
"""L in one m³."""


def as_json(result: CheckResult) -> dict[str, Any]:
    """Return the check as plain data, every number finite or null."""
    layout, flows, upkeep, sure = result.layout, result.flows, result.upkeep, result.sure
    carries = carried(layout, flows)
    ages = water_ages(layout, flows)
    return {
        "layout": layout.name,
        "plumbline": __version__,
        "verdict": result.verdict,
        "code": layout.code,
        "pumps": {
            name: {
                "flow_l_min": _number(duty.flow * _FLOW),
                "head_m": _number(duty.head),
                "power_w": _number(duty.power),
                "useful_w": _number(duty.useful),
                "state": duty.state,
                "likely_l_min": None if sure is None else _range(sure.pumps[name].flow, _FLOW),
                "likely_head_m": None if sure is None else _range(sure.pumps[name].head, 1.0),
            }
            for name, duty in flows.pumps.items()
        },
        "vessels": {
            name: {
                "inflow_l_min": _number(got.inflow * _FLOW),
                "outflow_l_min": _number(got.outflow * _FLOW),
                "wanted_l_min": None if got.wanted is None else _number(got.wanted * _FLOW),
                "handles_l_min": None if (most := layout.vessels[name].handles) is None else _number(most * _FLOW),
                "likely_l_min": None if sure is None else _range(sure.vessels[name].inflow, _FLOW),
                "chance": None if sure is None else _number(sure.vessels[name].chance),
                "word": None if sure is None else sure.vessels[name].word,
                "level_m": _number(layout.vessels[name].level),
                "level_found_m": _number(got.level),
                "settles_m": _number(layout.vessels[name].level if got.level is None else got.level),
                "drains_carry_l_min": None if got.carries is None else _number(got.carries * _FLOW),
            }
            for name, got in flows.vessels.items()
        },
        "stretches": [
            {
                "id": stretch.id,
                "line": stretch.line,
                "from": stretch.tail,
                "to": stretch.head,
                "length_m": _number(stretch.length),
                "bore_mm": _number(stretch.bore * 1000.0),
                "flow_l_min": _number(flows.stretches[stretch.id].flow * _FLOW),
                "velocity_m_s": _number(flows.stretches[stretch.id].velocity),
                "head_loss_m": _number(flows.stretches[stretch.id].loss),
                "reached_m": _number(upkeep.reached_m(stretch)),
                "drain": flows.stretches[stretch.id].gravity,
                "side": upkeep.sides[stretch.id],
                "flushed_m": _number(upkeep.flushed_m(stretch)),
                "carry": _carry(carries[stretch.id]),
                "age_s": _number(ages[stretch.id].leaves) if ages[stretch.id].volume > 0.0 else None,
                "rodded": [
                    {
                        "access": push.access,
                        "rod": push.rod,
                        "from_m": _number(span.start - stretch.start),
                        "to_m": _number(span.stop - stretch.start),
                        "forward": span.forward,
                        "rod_m": _number(span.need),
                    }
                    for push, span in upkeep.rodded(stretch)
                ],
            }
            for stretch in layout.stretches
        ],
        "ends": {
            name: {
                "height_m": _number(end.height),
                "head_m": _number(end.head),
                "flow_l_min": _number(end.flow * _FLOW),
            }
            for name, end in flows.ends.items()
        },
        "routes": [
            {
                "source": route.source,
                "end": route.end,
                "vessel": route.vessel,
                "pumped_m": _number(route.pumped),
                "lift_m": _number(route.lift),
                "losses": [
                    {"label": part.label, "line": part.line, "step": part.step, "loss_m": _number(part.loss)}
                    for part in route.losses
                ],
            }
            for route in flows.routes
        ],
        "grade_lines": [
            {
                "source": line.source,
                "end": line.end,
                "vessel": line.vessel,
                "points": [
                    {
                        "after": point.after,
                        "line": point.line,
                        "step": point.step,
                        "at_m": _number(point.at),
                        "height_m": _number(point.height),
                        "total_m": _number(point.total),
                        "static_m": _number(point.static),
                    }
                    for point in line.points
                ],
            }
            for line in grade_lines(layout, flows)
        ],
        "power_cut": None if result.cut is None else _power_cut(result.cut),
        "stagnant": _stagnant(result, ages),
        "findings": [
            {
                "kind": finding.kind,
                "level": finding.level,
                "line": finding.line,
                "step": finding.step,
                "message": finding.message,
                "cure": finding.cure,
                "source": finding.source,
                "more": finding.more,
            }
            for finding in result.findings
        ],
        "score": {
            "points": result.score.points,
            "cleanable_fraction": _number(result.score.cleanable),
            "worst": result.score.worst,
            "ledger": _ledger(result.score.ledger),
            "marks": {
                name: {"points": mark.points, "ledger": _ledger(mark.ledger)}
                for name, mark in result.score.marks.items()
            },
        },
        "residuals": {"mass_l_min": _number(flows.mass_residual * _FLOW), "head_m": _number(flows.head_residual)},
    }


def _stagnant(result: CheckResult, ages: Mapping[str, Age]) -> dict[str, Any]:
    layout = result.layout
    found = stagnant(ages)
    return {
        "limit_s": layout.limits["water age"],
        "water_l": _number(found.volume * _LITRES),
        "standing_l": _number(found.standing * _LITRES),
        "old_l": _number(found.old * _LITRES),
        "oldest_s": _number(found.oldest),
        "oldest_in": found.where,
        "dead_legs": [
            {
                "from": leg.root,
                "line": leg.pieces[0][0].line,
                "length_m": _number(leg.length),
                "bores": _number(leg.ratio),
                "bores_from_wall": _number(leg.ratio_from("wall")),
                "volume_l": _number(leg.volume * _LITRES),
                "drained": leg.drained,
                "met": leg.met(),
            }
            for leg in by_shape(layout)
        ],
    }


def _carry(one: Carried) -> dict[str, Any]:
    return {
        "class": one.word,
        "velocity_m_s": _number(one.velocity),
        "shear_pa": _number(one.shear),
        "fish_solids": one.fish,
        "grit": one.grit,
        "rest_h": _number(one.rest),
    }


def _power_cut(cut: PowerCut) -> dict[str, Any]:
    return {
        "drained_l": _number(cut.drained * _LITRES),
        "lost_l": _number(cut.lost * _LITRES),
        "vessels": {
            row.vessel: {
                "level_m": _number(row.before),
                "after_m": _number(row.after),
                "gains_l": None if row.gains is None else _number(row.gains * _LITRES),
                "spilled_l": _number(row.spilled * _LITRES),
            }
            for row in cut.vessels
        },
        "siphons": [
            {
                "from": siphon.giver,
                "to": siphon.receiver,
                "line": siphon.line,
                "pumps": list(siphon.pumps),
                "volume_l": None if siphon.volume is None else _number(siphon.volume * _LITRES),
                "down_to_m": _number(siphon.down_to),
                "ends": siphon.why,
            }
            for siphon in cut.siphons
        ],
        "starts": [
            {
                "vessel": start.vessel,
                "pump": start.pump,
                "intake_m": _number(start.intake),
                "takes_l": _number((start.pipes + start.vessels) * _LITRES),
                "standing_m": _number(start.standing),
                "running_m": _number(start.running),
                "from_stated_m": _number(start.from_normal),
            }
            for start in cut.starts
        ],
    }


def _range(found: Range, scale: float) -> list[float | None]:
    return [_number(found.low * scale), _number(found.high * scale)]


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value) + 0.0


def _ledger(rows: Iterable[LedgerRow]) -> list[dict[str, Any]]:
    return [
        {
            "points": row.points,
            "kind": row.finding.kind,
            "line": row.finding.line,
            "step": row.finding.step,
            "reason": row.finding.message,
            "cure": row.finding.cure,
        }
        for row in rows
    ]
