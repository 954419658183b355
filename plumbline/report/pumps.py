"""The pumps of a file compared, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from ..catalogue import notes
from ..hydraulics.pumping import Comparison, RunningCost, Trial
from ..layout.model import Layout
from ..units import show
from .plain import about, care, fields, heading, in_units, plain_table, points, view

__all__ = ["pumps_as_json", "pumps_view"]


@view
def pumps_view(layout: Layout, comparisons: Sequence[Comparison]) -> Iterator[RenderableType]:
    """The pumps of a file, each with what may stand in its place."""
    units = layout.units
    yield Text(layout.name, style="bold")
    if not comparisons:
        yield Text("No pump feeds a line.")
        return
    for one in comparisons:
        yield heading(f"'{one.place}'" if len(one.trials) == 1 else f"In the place of '{one.place}'")
        yield Text(_answer(layout, one))
        yield plain_table("pump", ">gives", ">at head", "", rows=(_gives(layout, trial) for trial in one.trials))
        yield Text()
        yield _running(layout, one)
        if any(len(trial.inflows) > 1 for trial in one.trials):
            yield Text()
            flows = {
                name: (vessel.wants or 0.0, *(trial.inflows.get(name) for trial in one.trials))
                for name, vessel in layout.vessels.items()
                if any(name in trial.inflows for trial in one.trials)
            }
            rows = (
                (name, *("" if q is None else show(q, "flow", units) for q in some)) for name, some in flows.items()
            )
            yield plain_table("vessel", ">wants", *(f">{trial.pump}" for trial in one.trials), rows=rows)
        for trial in one.trials:
            yield from points(f"With '{trial.pump}': {found.message} [{found.kind}]" for found in trial.fails)
    estimated = any(pump.airlift is not None and pump.power is None for pump in layout.pumps.values())
    yield from care("pumps", layout, (*notes("pumps"), *(notes("pumps with an airlift") if estimated else ())))


def _answer(layout: Layout, one: Comparison) -> str:
    lone, margin = len(one.trials) == 1, layout.limits["margin"]
    spare = "The file names no spare pump to compare it with. " if lone else ""
    if all(trial.least is None for trial in one.trials):
        return (
            f"{spare}No vessel states what it wants, so {'it cannot' if lone else 'none of them can'} be called enough."
        )
    does = [trial for trial in one.trials if trial.least is not None and trial.least >= margin]
    best = next((trial for trial in one.trials if trial.pump == one.best), None)
    wanted = f"every vessel what it wants with {margin:.0%} to spare"
    if best is not None:
        enough = "It is enough" if lone else f"'{one.best}' is enough and the cheapest to run"
        said = f"{spare}{enough}{_yearly(layout, best.cost)}."
    elif any(not trial.fails for trial in does):
        return f"{spare}{'It is' if lone else 'Some are'} enough, but the file states no power to {'tell the cost' if lone else 'choose the cheapest'} by."
    elif does:
        said = f"{spare}{'It gives' if lone else 'Some give'} {wanted}, but something else fails."
    else:
        said = f"{spare}{'It does not give' if lone else 'No pump gives'} {wanted}."
    slowed = next((trial for trial in one.trials if trial.pump == one.best_slowed and trial.speed is not None), None)
    # At the speed that it is set to now it is said already.
    if slowed is None or (slowed is best and (slowed.speed or 0.0) >= layout.pumps[slowed.pump].speed - 0.005):
        return said
    too = " too" if best is not None else ""
    return f"{said} '{slowed.pump}' at {slowed.speed:.0%} speed would do{too}{_yearly(layout, slowed.slowed)}."


def _year(layout: Layout, cost: RunningCost | None) -> str:
    """What a year costs, in money where the file tells what electricity costs; "" where that is not known."""
    if cost is None or cost.energy is None:
        return ""
    currency = layout.electricity.currency if layout.electricity is not None else ""
    return f"{cost.energy:.0f} kWh" if cost.money is None else f"{cost.money:.0f} {currency}".rstrip()


def _yearly(layout: Layout, cost: RunningCost | None) -> str:
    year = _year(layout, cost)
    return f", at {year} a year" if year else ""


def _gives(layout: Layout, trial: Trial) -> tuple[str | Text, ...]:
    """What a pump gives, and whether that is enough."""
    name = Text.assemble(trial.pump, (" (now)" if trial.own else "", "dim"))
    if trial.duty is None:
        return name, "", "", trial.why
    flow, head = show(trial.duty.flow, "flow", layout.units), show(trial.duty.head, "head", layout.units)
    too_good = trial.cost is not None and trial.cost.efficiency is not None and trial.cost.efficiency > 1.0
    doubt = "; more in the water than from the mains: its power or its curve is wrong" if too_good else ""
    return name, flow, head, _word(layout, trial, trial.duty.state) + doubt


def _word(layout: Layout, trial: Trial, state: str) -> str:
    if state in ("shut-off", "backwards"):
        return {"shut-off": "moves nothing", "backwards": "water runs back through it"}[state]
    if trial.least is None:
        return state
    thirsty = f"'{trial.thirsty}' {trial.least:+.0%}"
    if trial.least < -1e-6:
        return f"too little: {thirsty}"
    if trial.fails:
        return f"enough, but {trial.fails[0].kind}"
    return f"{'enough' if trial.least >= layout.limits['margin'] else 'just enough'}: {thirsty}"


def _running(layout: Layout, one: Comparison) -> Table:
    """What each takes; a column that would be empty is left out."""
    heads = ("pump", ">from the mains", ">into the water", ">efficiency", ">a year", ">least speed", ">a year then")
    rows = [(trial.pump, *(_takes(layout, trial, trial.cost) if trial.cost else [""] * 6)) for trial in one.trials]
    kept = [i for i in range(len(heads)) if any(row[i] for row in rows)]
    return plain_table(*(heads[i] for i in kept), rows=([row[i] for i in kept] for row in rows))


def _takes(layout: Layout, trial: Trial, cost: RunningCost) -> tuple[str, ...]:
    return (
        "" if cost.power is None else f"{cost.power:.0f} W",
        f"{cost.useful:.1f} W",
        "" if cost.efficiency is None else f"{cost.efficiency:.0%}",
        _year(layout, cost),
        "" if trial.speed is None else f"{trial.speed:.0%}",
        _year(layout, trial.slowed),
    )


def pumps_as_json(layout: Layout, comparisons: Sequence[Comparison]) -> dict[str, Any]:
    """Return the comparisons as plain data, every number finite or null."""
    electricity = layout.electricity
    return {
        **about(layout),
        "electricity": electricity and fields(electricity, "price_kwh=price currency hours_a_day=hours"),
        "places": {
            one.place: {
                "hours_a_day": layout.pumps[one.place].hours,
                **fields(one, "best best_slowed"),
                "pumps": {trial.pump: _trial(trial) for trial in one.trials},
            }
            for one in comparisons
        },
    }


def _trial(trial: Trial) -> dict[str, Any]:
    return {
        **fields(trial, "now=own flow_l_min=duty.flow head_m=duty.head state=duty.state"),
        "cost": _cost(trial.cost),
        "vessels": in_units({"_l_min": trial.inflows})["_l_min"],
        "least_margin": trial.least,
        "fails": [fields(one, "kind message") for one in trial.fails],
        "least_speed": trial.speed,
        "cost_at_least_speed": _cost(trial.slowed),
        "why_not": trial.why or None,
    }


def _cost(cost: RunningCost | None) -> dict[str, Any] | None:
    told = "useful_w power_w efficiency energy_kwh_year=energy energy_kwh_m3=per_volume money_year=money"
    return None if cost is None else fields(cost, told)
