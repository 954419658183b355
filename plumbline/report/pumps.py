"""The pumps of a file compared, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from ..hydraulics.pumping import Comparison, RunningCost, Trial
from ..layout.model import Layout
from ..units import show
from .care import care
from .plain import about, fields, heading, in_units, plain_table, point

__all__ = ["PumpsView", "pumps_as_json"]

_NOTES = (
    "Power is what the file states; a plate's figure is mostly more than the pump draws, and the cost then an upper one.",
    "Least speed: every vessel has what it wants and the margin, by the affinity laws, for a pump that can be set; power by "
    "the cube of speed, which a slow drive or a small motor falls short of.",
)


_ESTIMATED = (
    "An airlift's power is an estimate where the file states none: 'plumbline airlift' tells how far it may be out."
)


@dataclass(frozen=True)
class PumpsView:
    """A rich renderable of comparisons."""

    layout: Layout
    comparisons: Sequence[Comparison]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield Text(self.layout.name, style="bold")
        if not self.comparisons:
            yield Text("No pump feeds a line.")
        for one in self.comparisons:
            place = f"'{one.place}'" if len(one.trials) == 1 else f"In the place of '{one.place}'"
            yield heading(f"{place}")
            yield Text(self._answer(one))
            yield self._pumps(one)
            yield Text()
            yield self._running(one)
            if any(len(trial.inflows) > 1 for trial in one.trials):
                yield Text()
                yield self._vessels(one)
            yield from self._fails(one)
        if self.comparisons:
            estimated = any(pump.airlift is not None and not pump.airlift.rated for pump in self.layout.pumps.values())
            yield from care("pumps", self.layout, (*_NOTES, *([_ESTIMATED] if estimated else [])))

    def _answer(self, one: Comparison) -> str:
        lone = len(one.trials) == 1
        spare = "The file names no spare pump to compare it with. " if lone else ""
        margin = self.layout.limits["margin"]
        if all(trial.least is None for trial in one.trials):
            return f"{spare}No vessel states what it wants, so {'it cannot' if lone else 'none of them can'} be called enough."
        does = [trial for trial in one.trials if trial.least is not None and trial.least >= margin]
        said = "It is enough" if lone else f"'{one.best}' is enough and the cheapest to run"
        best = next((trial for trial in one.trials if trial.pump == one.best), None)
        if best is not None:
            said = f"{spare}{said}{self._yearly(best.cost)}."
        elif any(not trial.fails for trial in does):
            return f"{spare}{'It is' if lone else 'Some are'} enough, but the file states no power to {'tell the cost' if lone else 'choose the cheapest'} by."
        elif does:
            said = f"{spare}{'It gives' if lone else 'Some give'} every vessel what it wants with {margin:.0%} to spare, but something else fails."
        else:
            said = f"{spare}{'It does not give' if lone else 'None gives'} every vessel what it wants with {margin:.0%} to spare."
        slowed = next((trial for trial in one.trials if trial.pump == one.best_slowed), None)
        if (
            slowed is not None
            and slowed.speed is not None
            and (best is None or slowed.pump != best.pump or self._slower(slowed))
        ):
            said += f" '{slowed.pump}' at {slowed.speed:.0%} speed would do{' too' if best is not None else ''}{self._yearly(slowed.slowed)}."
        return said

    def _slower(self, trial: Trial) -> bool:
        """Whether a pump's least speed is below the one that it is set to now."""
        return trial.speed is not None and trial.speed < self.layout.pumps[trial.pump].speed - 0.005

    def _yearly(self, cost: RunningCost | None) -> str:
        if cost is None or cost.energy is None:
            return ""
        return f", at {self._money(cost)} a year" if cost.money is not None else f", at {cost.energy:.0f} kWh a year"

    def _money(self, cost: RunningCost) -> str:
        assert cost.money is not None
        currency = self.layout.electricity.currency if self.layout.electricity is not None else ""
        return f"{cost.money:.0f} {currency}".rstrip()

    def _pumps(self, one: Comparison) -> Table:
        """What each pump gives, and whether that is enough."""
        table = plain_table("pump", ">gives", ">at head", "")
        for trial in one.trials:
            name = Text(trial.pump)
            if trial.own:
                name.append(" (now)", style="dim")
            if trial.duty is None:
                table.add_row(name, "", "", Text(trial.why))
                continue
            table.add_row(
                name,
                show(trial.duty.flow, "flow", self.layout.units),
                show(trial.duty.head, "head", self.layout.units),
                Text(self._word(trial)),
            )
        return table

    def _running(self, one: Comparison) -> Table:
        """What each takes; a column that would be empty is left out."""
        heads = ("pump", ">from the mains", ">into the water", ">efficiency", ">a year", ">least speed", ">a year then")
        rows = [self._cells(trial) for trial in one.trials]
        kept = [i for i in range(len(heads)) if any(row[i] for row in rows)]
        return plain_table(*(heads[i] for i in kept), rows=([row[i] for i in kept] for row in rows))

    def _cells(self, trial: Trial) -> tuple[str, ...]:
        cost, slowed = trial.cost, trial.slowed
        if cost is None:
            return (trial.pump, *[""] * 6)
        return (
            trial.pump,
            "" if cost.power is None else f"{cost.power:.0f} W",
            f"{cost.useful:.1f} W",
            "" if cost.efficiency is None else f"{cost.efficiency:.0%}",
            self._year(cost),
            "" if trial.speed is None else f"{trial.speed:.0%}",
            "" if slowed is None else self._year(slowed),
        )

    def _year(self, cost: RunningCost) -> str:
        if cost.energy is None:
            return ""
        return f"{cost.energy:.0f} kWh" if cost.money is None else self._money(cost)

    def _word(self, trial: Trial) -> str:
        assert trial.duty is not None
        word = ""
        if trial.cost is not None and trial.cost.efficiency is not None and trial.cost.efficiency > 1.0:
            word = "; more in the water than from the mains: its power or its curve is wrong"
        if trial.duty.state in ("shut-off", "backwards"):
            return {"shut-off": "moves nothing", "backwards": "water runs back through it"}[trial.duty.state] + word
        if trial.least is None:
            return trial.duty.state + word
        if trial.least < -1e-6:
            return f"too little: '{trial.thirsty}' {trial.least:+.0%}" + word
        if trial.fails:
            return f"enough, but {trial.fails[0].kind}" + word
        enough = "enough" if trial.least >= self.layout.limits["margin"] else "just enough"
        return f"{enough}: '{trial.thirsty}' {trial.least:+.0%}" + word

    def _vessels(self, one: Comparison) -> Table:
        units = self.layout.units
        rows = (
            (
                name,
                *(
                    "" if flow is None else show(flow, "flow", units)
                    for flow in (vessel.wants or 0.0, *(trial.inflows.get(name) for trial in one.trials))
                ),
            )
            for name, vessel in self.layout.vessels.items()
            if any(name in trial.inflows for trial in one.trials)
        )
        return plain_table("vessel", ">wants", *(f">{trial.pump}" for trial in one.trials), rows=rows)

    def _fails(self, one: Comparison) -> Iterator[RenderableType]:
        for trial in one.trials:
            for found in trial.fails:
                yield point(f"With '{trial.pump}': {found.message} [{found.kind}]")


def pumps_as_json(layout: Layout, comparisons: Sequence[Comparison]) -> dict[str, Any]:
    """Return the comparisons as plain data, every number finite or null."""
    electricity = layout.electricity
    return {
        **about(layout),
        "electricity": None
        if electricity is None
        else {"price_kwh": electricity.price, "currency": electricity.currency, "hours_a_day": electricity.hours},
        "places": {
            one.place: {
                "hours_a_day": layout.pumps[one.place].hours,
                **fields(one, "best", "best_slowed"),
                "pumps": {trial.pump: _trial(trial) for trial in one.trials},
            }
            for one in comparisons
        },
    }


def _trial(trial: Trial) -> dict[str, Any]:
    duty = ("flow_l_min", "head_m", "state")
    return {
        "now": trial.own,
        **(dict.fromkeys(duty) if trial.duty is None else fields(trial.duty, *duty)),
        "cost": _cost(trial.cost),
        "vessels": in_units({"_l_min": trial.inflows})["_l_min"],
        "least_margin": trial.least,
        "fails": [fields(one, "kind", "message") for one in trial.fails],
        "least_speed": trial.speed,
        "cost_at_least_speed": _cost(trial.slowed),
        "why_not": trial.why or None,
    }


def _cost(cost: RunningCost | None) -> dict[str, Any] | None:
    if cost is None:
        return None
    energy = in_units({"energy_kwh_year": cost.energy, "energy_kwh_m3": cost.per_volume, "money_year": cost.money})
    return fields(cost, "useful_w", "power_w", "efficiency") | energy
