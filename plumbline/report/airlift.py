"""An airlift in place of a pump, and an airlift at work: on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from ..catalogue import airlift as rows
from ..catalogue import notes
from ..hydraulics.airlift_duty import AirliftDuty, Sensitivity
from ..hydraulics.airlift_plan import AirliftPlan, Case, Option
from ..hydraulics.how_sure import Range
from ..hydraulics.risers import AirPower
from ..layout.model import Layout
from ..units import Units, show
from .plain import about, care, cautions_of, fields, heading, in_units, plain_table, point, points, view

__all__ = ["AtWork", "airlift_as_json", "airlift_view"]


@dataclass(frozen=True, slots=True)
class AtWork:
    """An airlift at its duty point, what its flow most likely is, and what changes do."""

    duty: AirliftDuty
    likely: Range | None
    changes: tuple[Sensitivity, ...]


@view
def airlift_view(layout: Layout, plans: Sequence[AirliftPlan], working: Sequence[AtWork]) -> Iterator[RenderableType]:
    """Plans of airlifts in the place of pumps, and airlifts at work."""
    units = layout.units
    yield Text(layout.name, style="bold")
    for one in working:
        yield heading(f"'{one.duty.name}'")
        yield Text(_at_work(one, units))
        yield _facts(one, layout)
        yield Text()
        yield _changes(one, units)
    for plan in plans:
        yield heading(f"'{plan.pump}'")
        yield Text(plan_sentence(plan, layout))
        case = plan.as_piped
        if case is not None and case.best is None and plan.lift_alone is not None and plan.lift_alone.best is not None:
            case = plan.lift_alone
        if case is not None:
            piped = "with the pipe as it is" if case is plan.as_piped else "with pipe so wide that it loses nothing"
            yield Text(
                f"\n{show(plan.flow, 'flow', units)} to {show(case.head, 'length', units)} above the water, {piped}; air "
                f"{show(plan.depth, 'length', units)} under it:"
            )
            yield _options(case, units)
        yield from _doubts(plan, layout)
    yield from care("airlift", layout, _notes())


def _at_work(one: AtWork, units: Units) -> str:
    duty = one.duty
    if duty.flow <= 1e-9:
        less = "Turn the air down first" if duty.past_best else "Let the air in deeper, or the water out lower"
        return f"Not as it stands: by the model it lifts nothing. {less}."
    flow, likely = show(duty.flow, "flow", units), ""
    if one.likely is not None:
        low = show(max(one.likely.low, 0.0), "flow", units, unit=False)
        likely = f" (most likely {low} to {show(one.likely.high, 'flow', units)})"
    if duty.past_best:
        return (
            f"Worth an experiment with less air: by the model it lifts {flow}{likely}, and it would lift more with about "
            f"{show(duty.best_air, 'flow', units)} of air in place of {show(duty.airlift.air, 'flow', units)}."
        )
    return f"Worth an experiment: it should lift {flow}{likely} to {show(duty.lift, 'length', units)} above the water."


def _facts(one: AtWork, layout: Layout) -> Table:
    duty, power, units = one.duty, one.duty.power, layout.units
    air, speed = show(duty.airlift.air, "flow", units), show(duty.speed, "speed", units)
    over = f"{show(duty.stands, 'length', units)} over the riser's end"
    stated = layout.pumps[duty.name].power
    # What the file states goes before the estimate.
    mains = "" if stated is None else f"{_few(stated)} W, as the file states; estimated, "
    rows = [
        ("air", f"{air}, {show(duty.airlift.depth, 'length', units)} under the water"),
        ("most head at this flow", f"with about {show(duty.best_air, 'flow', units)} of air"),
        ("submergence", f"{duty.airlift.depth / duty.airlift.length:.0%} of the riser"),
        (
            "regime",
            f"{duty.regime}: {duty.foot:.0%} air at the foot, {duty.top:.0%} at the top, where the mixture goes {speed}",
        ),
        ("in the open top", over if duty.stands > 0.005 else "runs free"),
        ("pressure at the air pump", f"about {power.pressure / 1000:.1f} kPa"),
        ("efficiency", f"{duty.efficiency:.0%} of the air's power reaches the water"),
        ("from the mains", f"{mains}{_watts(power)}"),
        *(("doubt", said) for said in duty.outside),
    ]
    return plain_table("what", "", rows=rows)


def _changes(one: AtWork, units: Units) -> Table:
    rows = []
    for change in one.changes:
        flow = "" if change.flow is None else show(change.flow, "flow", units)
        share = f"{change.flow / one.duty.flow - 1.0:+.0%}" if change.flow is not None and one.duty.flow > 1e-9 else ""
        rows.append((change.change, flow, change.why if change.flow is None else share))
    return plain_table("change", ">flow then", "", rows=rows)


def _options(case: Case, units: Units) -> Table:
    rows = []
    for one in case.options:
        does = ("", "", "", "", _falls_short(one, units))
        if one.airlift is not None and one.power is not None:
            power = f"{_few(one.power.likely)} W ({_few(one.power.low)} to {_few(one.power.high)})"
            year, best = f"{one.energy[1]:.0f} kWh", "best" if one is case.best else ""
            does = (show(one.airlift.air, "flow", units), power, year, f"{one.efficiency:.0%}", best)
        rows.append((one.pipe.name, *does))
    return plain_table("riser", ">air", ">from the mains", ">a year", ">efficiency", "", rows=rows)


def _falls_short(one: Option, units: Units) -> str:
    if one.most <= 0.0:
        return "lifts nothing so high"
    most = f"gives at most {show(one.most, 'flow', units)}"
    return most if one.most < one.flow else "only with air that breaks up its slugs"


def _doubts(plan: AirliftPlan, layout: Layout) -> Iterator[RenderableType]:
    best = plan.as_piped.best if plan.as_piped is not None else None
    if best is not None and best.power is not None:
        pressure = f"{best.power.pressure / 1000:.1f} kPa"
        yield point(
            f"Buy an air pump that gives {show(best.buy, 'flow', layout.units)} at {pressure}, not in free air."
        )
        yield from points(f"Doubt: {said}." for said in best.outside)
    if plan.stated and plan.vessel is not None and plan.depth >= layout.vessels[plan.vessel].water:
        yield point(f"'{plan.vessel}' is not so deep: the riser needs a pit or an upright blind pipe beside it.")


def plan_sentence(plan: AirliftPlan, layout: Layout) -> str:
    """Whether an airlift is worth trying in a pump's place, in a sentence or two."""
    units = layout.units
    if plan.as_piped is None:
        return f"No airlift in the place of '{plan.pump}': {plan.why}."
    flow, head = show(plan.flow, "flow", units), show(plan.as_piped.head, "head", units)
    best = plan.as_piped.best
    low, likely, high = plan.pump_power
    against = f"{likely:.0f} W" if plan.rated else f"about {likely:.0f} W ({low:.0f} to {high:.0f})"
    alone = None if plan.lift_alone is None else plan.lift_alone.best
    height = "" if plan.lift_alone is None else show(plan.lift_alone.head, "head", units)
    wide = f" With pipe so wide that it loses nothing it would have to come {height} high"
    if best is not None and best.airlift is not None and best.power is not None:
        first = {
            "worth trying": "Worth an experiment",
            "may do": "Worth an experiment, but not for the electricity",
            "costs more": "Not worth it for the electricity",
        }[plan.verdict]
        saves = ""
        if alone is not None and alone.power is not None and alone.power.likely < 0.8 * best.power.likely:
            saves = f"{wide}, and take {_watts(alone.power)}."
        return (
            f"{first}: a riser of {best.pipe.name} with {show(best.airlift.air, 'flow', units)} of air would do what '{plan.pump}' does, "
            f"{flow} at {head}, for {_watts(best.power)} from the mains in place of {against}.{saves}"
        )
    ratio, does = plan.depth / (plan.depth + plan.as_piped.head), ""
    if alone is not None and alone.airlift is not None and alone.power is not None:
        air = show(alone.airlift.air, "flow", units)
        does = f"{wide}: a riser of {alone.pipe.name} with {air} of air does that, for {_watts(alone.power)}."
    return (
        f"Not worth an experiment: no riser brings {flow} to {head} from {show(plan.depth, 'length', units)} of depth, which is {ratio:.0%} of its "
        f"length. So much water comes {show(plan.as_piped.highest, 'length', units)} high at most.{does}"
    )


def _notes() -> list[str]:
    """What to know of all figures, with the catalogue's numbers."""
    efficiency, line = rows()["air pump"].shown, rows()["air line"].shown
    return [note.format(efficiency=efficiency, line=line) for note in notes("airlift")]


def airlift_as_json(layout: Layout, plans: Sequence[AirliftPlan], working: Sequence[AtWork]) -> dict[str, Any]:
    """Return plans and airlifts at work as plain data, every number finite or null."""
    return {
        **about(layout),
        "in_place_of": {plan.pump: _plan(plan, layout) for plan in plans},
        "airlifts": {one.duty.name: _working(one) for one in working},
        "notes": _notes(),
        "cautions": dict(cautions_of("airlift", layout)),
    }


def _plan(plan: AirliftPlan, layout: Layout) -> dict[str, Any]:
    return {
        "verdict": plan.verdict,
        "sentence": plan_sentence(plan, layout),
        **fields(plan, "flow_l_min lift_m depth_m pump_power_w pump_power_stated=rated"),
        "as_piped": _case(plan.as_piped),
        "lift_alone": _case(plan.lift_alone),
    }


def _case(case: Case | None) -> dict[str, Any] | None:
    if case is None:
        return None
    return fields(case, "head_m best=best.pipe.name highest_m") | {"risers": [_option(one) for one in case.options]}


def _option(one: Option) -> dict[str, Any]:
    does = one.airlift is not None and one.power is not None
    return {
        **fields(one, "riser=pipe.name bore_mm=pipe.bore submergence=ratio"),
        "does": does,
        **fields(one, "most_l_min=most air_l_min=airlift.air"),
        **fields(one if does else None, "buy_l_min=buy"),
        "power": None if one.power is None else _power(one.power),
        **fields(one if does else None, "energy_kwh_year=energy efficiency regime"),
        "outside": list(one.outside),
    }


def _power(power: AirPower) -> dict[str, Any]:
    return fields(power, "pressure_kpa air_w") | in_units({"mains_w": (power.low, power.likely, power.high)})


def _working(one: AtWork) -> dict[str, Any]:
    duty, likely = one.duty, one.likely
    return {
        **fields(duty, "flow_l_min"),
        **in_units({"likely_l_min": None if likely is None else (max(likely.low, 0.0), likely.high)}),
        **fields(duty, "head_m lift_m stands_m air_l_min=airlift.air best_air_l_min past_best"),
        "submergence": duty.airlift.depth / duty.airlift.length,
        "regime": duty.regime,
        "void": [duty.foot, duty.top],
        **fields(duty, "top_speed_m_s=speed efficiency"),
        "power": _power(duty.power),
        "outside": list(duty.outside),
        "changes": [fields(change, "change flow_l_min") | {"why": change.why or None} for change in one.changes],
    }


def _watts(power: AirPower) -> str:
    return f"about {_few(power.likely)} W ({_few(power.low)} to {_few(power.high)})"


def _few(value: float) -> str:
    return f"{value:.0f}" if value >= 9.5 else f"{value:.1f}"
