"""The check as one JSON object, for other programs. The keys are promises: see `docs/json.md`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..check import CheckResult
from ..hydraulics.grade import grade_lines
from ..hydraulics.power_cut import PowerCut
from ..layout.model import Stretch
from ..score import LedgerRow
from ..upkeep.age import Age, stagnant, water_ages
from ..upkeep.carried import Carried, carried
from ..upkeep.dead_legs import by_shape
from .plain import about, fields, in_units

__all__ = ["as_json"]


def as_json(result: CheckResult) -> dict[str, Any]:
    """Return the check as plain data, every number finite or null."""
    layout, flows, score = result.layout, result.flows, result.score
    ages, carries = water_ages(layout, flows), carried(layout, flows)
    return {
        **about(layout),
        **fields(result, "verdict code=layout.code"),
        "pumps": _pumps(result),
        "vessels": _vessels(result),
        "stretches": [_stretch(result, one, carries[one.id], ages[one.id]) for one in layout.stretches],
        "ends": {name: fields(end, "height_m head_m flow_l_min") for name, end in flows.ends.items()},
        "routes": [
            fields(route, "source end vessel pumped_m lift_m")
            | {"losses": [fields(part, "label line step loss_m") for part in route.losses]}
            for route in flows.routes
        ],
        "grade_lines": [
            fields(line, "source end vessel")
            | {"points": [fields(one, "after line step at_m height_m total_m static_m") for one in line.points]}
            for line in grade_lines(layout, flows)
        ],
        "power_cut": None if result.cut is None else _power_cut(result.cut),
        "stagnant": _stagnant(result, ages),
        "findings": [fields(one, "kind level line step message cure source more") for one in result.findings],
        "score": {
            **fields(score, "points cleanable_fraction=cleanable worst"),
            "ledger": _ledger(score.ledger),
            "marks": {
                name: {"points": mark.points, "ledger": _ledger(mark.ledger)} for name, mark in score.marks.items()
            },
        },
        "residuals": fields(flows, "mass_l_min=mass_residual head_m=head_residual"),
    }


def _pumps(result: CheckResult) -> dict[str, Any]:
    sure = {} if result.sure is None else result.sure.pumps
    return {
        name: fields(duty, "flow_l_min head_m power_w useful_w state")
        | fields(sure.get(name), "likely_l_min=flow.ends likely_head_m=head.ends")
        for name, duty in result.flows.pumps.items()
    }


def _vessels(result: CheckResult) -> dict[str, Any]:
    sure = {} if result.sure is None else result.sure.vessels
    return {
        name: fields(got, "inflow_l_min outflow_l_min wanted_l_min")
        | fields(vessel, "handles_l_min")
        | fields(sure.get(name), "likely_l_min=inflow.ends chance word")
        | fields(vessel, "level_m")
        | fields(got, "level_found_m=level")
        | in_units({"settles_m": vessel.level if got.level is None else got.level})
        | fields(got, "drains_carry_l_min=carries")
        for name, vessel in result.layout.vessels.items()
        for got in [result.flows.vessels[name]]
    }


def _stretch(result: CheckResult, stretch: Stretch, carries: Carried, age: Age) -> dict[str, Any]:
    got, upkeep = result.flows.stretches[stretch.id], result.upkeep
    return {
        **fields(stretch, "id line from=tail to=head length_m bore_mm"),
        **fields(got, "flow_l_min velocity_m_s head_loss_m=loss"),
        "reached_m": upkeep.reached_m(stretch),
        "drain": got.gravity,
        "side": upkeep.sides[stretch.id],
        "flushed_m": upkeep.flushed_m(stretch),
        "carry": fields(carries, "class=word velocity_m_s shear_pa fish_solids=fish grit rest_h"),
        **in_units({"age_s": age.leaves if age.volume > 0.0 else None}),
        "rodded": [
            fields(push, "access rod")
            | in_units({"from_m": span.start - stretch.start, "to_m": span.stop - stretch.start})
            | fields(span, "forward rod_m=need")
            for push, span in upkeep.rodded(stretch)
        ],
    }


def _stagnant(result: CheckResult, ages: Mapping[str, Age]) -> dict[str, Any]:
    return {
        **in_units({"limit_s": result.layout.limits["water age"]}),
        **fields(stagnant(ages), "water_l=volume standing_l old_l oldest_s oldest_in=where"),
        "dead_legs": [
            fields(leg, "from=root")
            | {"line": leg.pieces[0][0].line}
            | fields(leg, "length_m bores=ratio")
            | in_units({"bores_from_wall": leg.ratio_from("wall")})
            | fields(leg, "volume_l drained")
            | {"met": leg.met()}
            for leg in by_shape(result.layout)
        ],
    }


def _power_cut(cut: PowerCut) -> dict[str, Any]:
    return {
        **fields(cut, "drained_l lost_l"),
        "vessels": {row.vessel: fields(row, "level_m=before after_m gains_l spilled_l") for row in cut.vessels},
        "siphons": [
            fields(siphon, "from=giver to=receiver line pumps volume_l down_to_m ends=why") for siphon in cut.siphons
        ],
        "starts": [
            fields(start, "vessel pump intake_m")
            | in_units({"takes_l": start.pipes + start.vessels})
            | fields(start, "standing_m running_m from_stated_m=from_normal")
            for start in cut.starts
        ],
    }


def _ledger(rows: Iterable[LedgerRow]) -> list[dict[str, Any]]:
    told = "points kind=finding.kind line=finding.line step=finding.step reason=finding.message cure=finding.cure"
    return [fields(row, told) for row in rows]
