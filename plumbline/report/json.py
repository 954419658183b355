"""The check as one JSON object, for other programs. The keys are promises: see `docs/json.md`."""

from __future__ import annotations

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
from .plain import finite

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
                "flow_l_min": finite(duty.flow * _FLOW),
                "head_m": finite(duty.head),
                "power_w": finite(duty.power),
                "useful_w": finite(duty.useful),
                "state": duty.state,
                "likely_l_min": None if sure is None else _range(sure.pumps[name].flow, _FLOW),
                "likely_head_m": None if sure is None else _range(sure.pumps[name].head, 1.0),
            }
            for name, duty in flows.pumps.items()
        },
        "vessels": {
            name: {
                "inflow_l_min": finite(got.inflow * _FLOW),
                "outflow_l_min": finite(got.outflow * _FLOW),
                "wanted_l_min": None if got.wanted is None else finite(got.wanted * _FLOW),
                "handles_l_min": None if (most := layout.vessels[name].handles) is None else finite(most * _FLOW),
                "likely_l_min": None if sure is None else _range(sure.vessels[name].inflow, _FLOW),
                "chance": None if sure is None else finite(sure.vessels[name].chance),
                "word": None if sure is None else sure.vessels[name].word,
                "level_m": finite(layout.vessels[name].level),
                "level_found_m": finite(got.level),
                "settles_m": finite(layout.vessels[name].level if got.level is None else got.level),
                "drains_carry_l_min": None if got.carries is None else finite(got.carries * _FLOW),
            }
            for name, got in flows.vessels.items()
        },
        "stretches": [
            {
                "id": stretch.id,
                "line": stretch.line,
                "from": stretch.tail,
                "to": stretch.head,
                "length_m": finite(stretch.length),
                "bore_mm": finite(stretch.bore * 1000.0),
                "flow_l_min": finite(flows.stretches[stretch.id].flow * _FLOW),
                "velocity_m_s": finite(flows.stretches[stretch.id].velocity),
                "head_loss_m": finite(flows.stretches[stretch.id].loss),
                "reached_m": finite(upkeep.reached_m(stretch)),
                "drain": flows.stretches[stretch.id].gravity,
                "side": upkeep.sides[stretch.id],
                "flushed_m": finite(upkeep.flushed_m(stretch)),
                "carry": _carry(carries[stretch.id]),
                "age_s": finite(ages[stretch.id].leaves) if ages[stretch.id].volume > 0.0 else None,
                "rodded": [
                    {
                        "access": push.access,
                        "rod": push.rod,
                        "from_m": finite(span.start - stretch.start),
                        "to_m": finite(span.stop - stretch.start),
                        "forward": span.forward,
                        "rod_m": finite(span.need),
                    }
                    for push, span in upkeep.rodded(stretch)
                ],
            }
            for stretch in layout.stretches
        ],
        "ends": {
            name: {
                "height_m": finite(end.height),
                "head_m": finite(end.head),
                "flow_l_min": finite(end.flow * _FLOW),
            }
            for name, end in flows.ends.items()
        },
        "routes": [
            {
                "source": route.source,
                "end": route.end,
                "vessel": route.vessel,
                "pumped_m": finite(route.pumped),
                "lift_m": finite(route.lift),
                "losses": [
                    {"label": part.label, "line": part.line, "step": part.step, "loss_m": finite(part.loss)}
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
                        "at_m": finite(point.at),
                        "height_m": finite(point.height),
                        "total_m": finite(point.total),
                        "static_m": finite(point.static),
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
            "cleanable_fraction": finite(result.score.cleanable),
            "worst": result.score.worst,
            "ledger": _ledger(result.score.ledger),
            "marks": {
                name: {"points": mark.points, "ledger": _ledger(mark.ledger)}
                for name, mark in result.score.marks.items()
            },
        },
        "residuals": {"mass_l_min": finite(flows.mass_residual * _FLOW), "head_m": finite(flows.head_residual)},
    }


def _stagnant(result: CheckResult, ages: Mapping[str, Age]) -> dict[str, Any]:
    layout = result.layout
    found = stagnant(ages)
    return {
        "limit_s": layout.limits["water age"],
        "water_l": finite(found.volume * _LITRES),
        "standing_l": finite(found.standing * _LITRES),
        "old_l": finite(found.old * _LITRES),
        "oldest_s": finite(found.oldest),
        "oldest_in": found.where,
        "dead_legs": [
            {
                "from": leg.root,
                "line": leg.pieces[0][0].line,
                "length_m": finite(leg.length),
                "bores": finite(leg.ratio),
                "bores_from_wall": finite(leg.ratio_from("wall")),
                "volume_l": finite(leg.volume * _LITRES),
                "drained": leg.drained,
                "met": leg.met(),
            }
            for leg in by_shape(layout)
        ],
    }


def _carry(one: Carried) -> dict[str, Any]:
    return {
        "class": one.word,
        "velocity_m_s": finite(one.velocity),
        "shear_pa": finite(one.shear),
        "fish_solids": one.fish,
        "grit": one.grit,
        "rest_h": finite(one.rest),
    }


def _power_cut(cut: PowerCut) -> dict[str, Any]:
    return {
        "drained_l": finite(cut.drained * _LITRES),
        "lost_l": finite(cut.lost * _LITRES),
        "vessels": {
            row.vessel: {
                "level_m": finite(row.before),
                "after_m": finite(row.after),
                "gains_l": None if row.gains is None else finite(row.gains * _LITRES),
                "spilled_l": finite(row.spilled * _LITRES),
            }
            for row in cut.vessels
        },
        "siphons": [
            {
                "from": siphon.giver,
                "to": siphon.receiver,
                "line": siphon.line,
                "pumps": list(siphon.pumps),
                "volume_l": None if siphon.volume is None else finite(siphon.volume * _LITRES),
                "down_to_m": finite(siphon.down_to),
                "ends": siphon.why,
            }
            for siphon in cut.siphons
        ],
        "starts": [
            {
                "vessel": start.vessel,
                "pump": start.pump,
                "intake_m": finite(start.intake),
                "takes_l": finite((start.pipes + start.vessels) * _LITRES),
                "standing_m": finite(start.standing),
                "running_m": finite(start.running),
                "from_stated_m": finite(start.from_normal),
            }
            for start in cut.starts
        ],
    }


def _range(found: Range, scale: float) -> list[float | None]:
    return [finite(found.low * scale), finite(found.high * scale)]


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
