"""A balance on a terminal and as plain data: how the valves are to stand, and what each vessel then gets. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from ..hydraulics.balance import Balance, ValveSetting, VesselShare
from ..units import show
from .care import care
from .plain import about, fields, headed, heading, in_units, plain_table, points

__all__ = ["BalanceView", "balance_as_json"]

CARE = (
    "An opening is worked out from a table for one valve of its kind, and yours may differ by half: set the valves near these, "
    "then trim them with bucket and stopwatch, the least throttled first."
)


@dataclass(frozen=True)
class BalanceView:
    """A rich renderable of a balance; `written` is the path of the file that it was written to."""

    result: Balance
    written: str | None = None

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        result = self.result
        yield headed(
            result.layout.name, _headline(result), "bold red" if result.fails or not result.enough else "bold green"
        )
        yield heading("Valves, least throttled first")
        yield self._valves()
        yield heading("What each vessel gets, solved with the valves so set")
        yield self._vessels()
        yield from self._notes()
        yield from care("balance", result.layout)
        if self.written is not None:
            yield Text(f"\nWritten to {self.written}: your file with these openings in it, the rest as you typed it.")

    def _valves(self) -> Table:
        rows = (
            (
                _named(one),
                _percent(one.before),
                _percent(one.after),
                "" if one.degrees is None else f"{one.degrees:.0f}°",
                _purpose(one),
            )
            for one in self.result.settings
        )
        return plain_table("valve", ">now", ">set to", ">from open", "for", rows=rows)

    def _vessels(self) -> Table:
        units = self.result.layout.units
        table = plain_table("vessel", ">wants", ">now", ">then", ">margin", "")
        for one in self.result.vessels:
            word = "" if one.enough else "too little"
            table.add_row(
                Text(one.name),
                show(one.wants, "flow", units),
                show(one.before, "flow", units),
                show(one.after, "flow", units),
                f"{round(one.share - 1.0, 2) + 0.0:+.0%}",
                Text(word, style="bold red"),
            )
        return table

    def _notes(self) -> Iterator[RenderableType]:
        notes = [f"With the valves so set: {one.message} [{one.kind}]" for one in self.result.fails]
        notes += [f"'{one.name}' has no valve set for it: {one.why}." for one in self.result.vessels if one.why]
        yield heading("Worth knowing")
        yield from points((*notes, *self.result.notes, CARE))


def _headline(result: Balance) -> str:
    short = [one for one in result.vessels if not one.enough]
    if not short:
        least = min(one.share for one in result.vessels)
        margin = f", with {least - 1.0:.0%} to spare" if least >= 1.005 else ""
        return f"every vessel gets what it wants{margin}" + (", but something else fails" if result.fails else "")
    worst = min(short, key=lambda one: one.share)
    missing = show(worst.wants - worst.after, "flow", result.layout.units)
    if len(short) == len(result.vessels) > 1 and max(one.share for one in short) - worst.share < 0.01:
        return f"it cannot give all that is wanted: every vessel gets {1.0 - worst.share:.0%} too little"
    others = "" if len(short) == 1 else f" and {len(short) - 1} more are short"
    return f"it cannot give all that is wanted: '{worst.name}' is {missing} short ({1.0 - worst.share:.0%}){others}"


def _named(one: ValveSetting) -> str:
    return one.label.strip("'") if one.label.startswith("'") else one.label


def _purpose(one: ValveSetting) -> str:
    return ", ".join(one.serves) if one.serves else "opened: nothing has to be held back there"


def _percent(opening: float) -> str:
    return "shut" if opening <= 0.0 else f"{100.0 * opening:.1f} %"


def balance_as_json(result: Balance) -> dict[str, Any]:
    """Return a balance as plain data, every number finite or null: see `docs/json.md`."""
    return {
        **about(result.layout),
        "enough": result.enough,
        "valves": [_valve(one) for one in result.settings],
        "vessels": {one.name: _vessel(one) for one in result.vessels},
        "pumps": {name: fields(duty, "flow_l_min", "head_m", "state") for name, duty in result.flows.pumps.items()},
        "fails": [fields(one, "kind", "message") for one in result.fails],
        "notes": list(result.notes),
        "residuals": in_units({"mass_l_min": result.flows.mass_residual, "head_m": result.flows.head_residual}),
    }


def _valve(one: ValveSetting) -> dict[str, Any]:
    return {
        "line": one.line,
        "step": one.step,
        "valve": one.label.strip("'"),
        "kind": one.kind,
        "opening_now": one.before,
        "opening": one.after,
        "degrees_from_open": one.degrees,
        "serves": list(one.serves),
        "file_line": one.mark.line,
        "file_column": one.mark.column,
    }


def _vessel(one: VesselShare) -> dict[str, Any]:
    return {
        **in_units({"wanted_l_min": one.wants, "inflow_now_l_min": one.before, "inflow_l_min": one.after}),
        **fields(one, "share", "enough"),
        "valves": [label.strip("'") for label in one.valves],
        "why_none": one.why or None,
    }
