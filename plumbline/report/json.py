"""The check as one JSON object, for other programs. The keys are promises: see `docs/json.md`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..check import CheckResult
from ..hydraulics.grade import grade_lines
from ..hydraulics.how_sure import Range
from ..hydraulics.power_cut import PowerCut
from ..score import LedgerRow
from ..upkeep.age import Age, stagnant, water_ages
from ..upkeep.carried import carried
from ..upkeep.dead_legs import by_shape
from .plain import about, fields, in_units

__all__ = ["as_json"]


def as_json(result: CheckResult) -> dict[str, Any]:
    """Return the check as plain data, every number finite or null."""
    layout, flows, score = result.layout, result.flows, result.score
    ages = water_ages(layout, flows)
    return {
        **about(layout),
        "verdict": result.verdict,
        "code": layout.code,
        "pumps": _pumps(result),
        "vessels": _vessels(result),
        "stretches": _stretches(result, ages),
        "ends": {name: fields(end, "height_m", "head_m", "flow_l_min") for name, end in flows.ends.items()},
        "routes": [
            fields(route, "source", "end", "vessel", "pumped_m", "lift_m")
            | {"losses": [fields(part, "label", "line", "step", "loss_m") for part in route.losses]}
            for route in flows.routes
        ],
        "grade_lines": [
            fields(line, "source", "end", "vessel")
            | {
                "points": [
                    fields(point, "after", "line", "step", "at_m", "height_m", "total_m", "static_m")
                    for point in line.points
                ]
            }
            for line in grade_lines(layout, flows)
        ],
        "power_cut": None if result.cut is None else _power_cut(result.cut),
        "stagnant": _stagnant(result, ages),
        "findings": [
            fields(one, "kind", "level", "line", "step", "message", "cure", "source", "more") for one in result.findings
        ],
        "score": {
            "points": score.points,
            "cleanable_fraction": score.cleanable,
            "worst": score.worst,
            "ledger": _ledger(score.ledger),
            "marks": {
                name: {"points": mark.points, "ledger": _ledger(mark.ledger)} for name, mark in score.marks.items()
            },
        },
        "residuals": in_units({"mass_l_min": flows.mass_residual, "head_m": flows.head_residual}),
    }


def _pumps(result: CheckResult) -> dict[str, Any]:
    sure = None if result.sure is None else result.sure.pumps
    return {
        name: fields(duty, "flow_l_min", "head_m", "power_w", "useful_w", "state")
        | in_units(
            {
                "likely_l_min": None if sure is None else _ends(sure[name].flow),
                "likely_head_m": None if sure is None else _ends(sure[name].head),
            }
        )
        for name, duty in result.flows.pumps.items()
    }


def _vessels(result: CheckResult) -> dict[str, Any]:
    out = {}
    for name, got in result.flows.vessels.items():
        vessel = result.layout.vessels[name]
        sure = None if result.sure is None else result.sure.vessels[name]
        out[name] = in_units(
            {
                "inflow_l_min": got.inflow,
                "outflow_l_min": got.outflow,
                "wanted_l_min": got.wanted,
                "handles_l_min": vessel.handles,
                "likely_l_min": None if sure is None else _ends(sure.inflow),
                "chance": None if sure is None else sure.chance,
                "word": None if sure is None else sure.word,
                "level_m": vessel.level,
                "level_found_m": got.level,
                "settles_m": vessel.level if got.level is None else got.level,
                "drains_carry_l_min": got.carries,
            }
        )
    return out


def _stretches(result: CheckResult, ages: Mapping[str, Age]) -> list[dict[str, Any]]:
    upkeep, carries, out = result.upkeep, carried(result.layout, result.flows), []
    for stretch in result.layout.stretches:
        got, one, age = result.flows.stretches[stretch.id], carries[stretch.id], ages[stretch.id]
        out.append(
            in_units(
                {
                    "id": stretch.id,
                    "line": stretch.line,
                    "from": stretch.tail,
                    "to": stretch.head,
                    "length_m": stretch.length,
                    "bore_mm": stretch.bore,
                    "flow_l_min": got.flow,
                    "velocity_m_s": got.velocity,
                    "head_loss_m": got.loss,
                    "reached_m": upkeep.reached_m(stretch),
                    "drain": got.gravity,
                    "side": upkeep.sides[stretch.id],
                    "flushed_m": upkeep.flushed_m(stretch),
                    "carry": {
                        "class": one.word,
                        **fields(one, "velocity_m_s", "shear_pa"),
                        "fish_solids": one.fish,
                        **fields(one, "grit", "rest_h"),
                    },
                    "age_s": age.leaves if age.volume > 0.0 else None,
                    "rodded": [
                        fields(push, "access", "rod")
                        | in_units(
                            {
                                "from_m": span.start - stretch.start,
                                "to_m": span.stop - stretch.start,
                                "forward": span.forward,
                                "rod_m": span.need,
                            }
                        )
                        for push, span in upkeep.rodded(stretch)
                    ],
                }
            )
        )
    return out


def _stagnant(result: CheckResult, ages: Mapping[str, Age]) -> dict[str, Any]:
    found = stagnant(ages)
    return in_units(
        {
            "limit_s": result.layout.limits["water age"],
            "water_l": found.volume,
            "standing_l": found.standing,
            "old_l": found.old,
            "oldest_s": found.oldest,
            "oldest_in": found.where,
            "dead_legs": [
                in_units(
                    {
                        "from": leg.root,
                        "line": leg.pieces[0][0].line,
                        "length_m": leg.length,
                        "bores": leg.ratio,
                        "bores_from_wall": leg.ratio_from("wall"),
                        "volume_l": leg.volume,
                        "drained": leg.drained,
                        "met": leg.met(),
                    }
                )
                for leg in by_shape(result.layout)
            ],
        }
    )


def _power_cut(cut: PowerCut) -> dict[str, Any]:
    return {
        **fields(cut, "drained_l", "lost_l"),
        "vessels": {
            row.vessel: in_units(
                {"level_m": row.before, "after_m": row.after, "gains_l": row.gains, "spilled_l": row.spilled}
            )
            for row in cut.vessels
        },
        "siphons": [
            {
                "from": siphon.giver,
                "to": siphon.receiver,
                **fields(siphon, "line", "pumps", "volume_l", "down_to_m"),
                "ends": siphon.why,
            }
            for siphon in cut.siphons
        ],
        "starts": [
            fields(start, "vessel", "pump", "intake_m")
            | in_units(
                {
                    "takes_l": start.pipes + start.vessels,
                    "standing_m": start.standing,
                    "running_m": start.running,
                    "from_stated_m": start.from_normal,
                }
            )
            for start in cut.starts
        ],
    }


def _ends(found: Range) -> tuple[float, float]:
    return found.low, found.high


def _ledger(rows: Iterable[LedgerRow]) -> list[dict[str, Any]]:
    return [
        {
            "points": row.points,
            **fields(row.finding, "kind", "line", "step"),
            "reason": row.finding.message,
            "cure": row.finding.cure,
        }
        for row in rows
    ]
