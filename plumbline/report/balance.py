"""A balance on a terminal and as plain data: how the valves are to stand, and what each vessel then gets. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from ..catalogue import notes
from ..hydraulics.balance import Balance, ValveSetting, VesselShare
from ..units import show
from .plain import about, care, fields, headed, heading, plain_table, points, view

__all__ = ["balance_as_json", "balance_view"]


@view
def balance_view(result: Balance, written: str | None = None) -> Iterator[RenderableType]:
    """A balance; `written` is the path of the file that it was written to."""
    units = result.layout.units
    style = "bold red" if result.fails or not result.enough else "bold green"
    yield headed(result.layout.name, _headline(result), style)
    yield heading("Valves, least throttled first")
    valves = (
        (
            _named(one),
            _percent(one.before),
            _percent(one.after),
            "" if one.degrees is None else f"{one.degrees:.0f}°",
            ", ".join(one.serves) or "opened: nothing has to be held back there",
        )
        for one in result.settings
    )
    yield plain_table("valve", ">now", ">set to", ">from open", "for", rows=valves)
    yield heading("What each vessel gets, solved with the valves so set")
    vessels = (
        (
            one.name,
            show(one.wants, "flow", units),
            show(one.before, "flow", units),
            show(one.after, "flow", units),
            f"{round(one.share - 1.0, 2) + 0.0:+.0%}",
            Text("" if one.enough else "too little", style="bold red"),
        )
        for one in result.vessels
    )
    yield plain_table("vessel", ">wants", ">now", ">then", ">margin", "", rows=vessels)
    yield heading("Worth knowing")
    yield from points(f"With the valves so set: {one.message} [{one.kind}]" for one in result.fails)
    yield from points(f"'{one.name}' has no valve set for it: {one.why}." for one in result.vessels if one.why)
    yield from points((*result.notes, *notes("balance")))
    yield from care("balance", result.layout)
    if written is not None:
        yield Text(f"\nWritten to {written}: your file with these openings in it, the rest as you typed it.")


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


def _percent(opening: float) -> str:
    return "shut" if opening <= 0.0 else f"{100.0 * opening:.1f} %"


def balance_as_json(result: Balance) -> dict[str, Any]:
    """Return a balance as plain data, every number finite or null: see `docs/json.md`."""
    setting = (
        "opening_now=before opening=after degrees_from_open=degrees serves file_line=mark.line file_column=mark.column"
    )
    return {
        **about(result.layout),
        "enough": result.enough,
        "valves": [
            fields(one, "line step") | {"valve": one.label.strip("'")} | fields(one, "kind", setting)
            for one in result.settings
        ],
        "vessels": {one.name: _vessel(one) for one in result.vessels},
        "pumps": {name: fields(duty, "flow_l_min head_m state") for name, duty in result.flows.pumps.items()},
        "fails": [fields(one, "kind message") for one in result.fails],
        "notes": list(result.notes),
        "residuals": fields(result.flows, "mass_l_min=mass_residual head_m=head_residual"),
    }


def _vessel(one: VesselShare) -> dict[str, Any]:
    return {
        **fields(one, "wanted_l_min=wants inflow_now_l_min=before inflow_l_min=after share enough"),
        "valves": [label.strip("'") for label in one.valves],
        "why_none": one.why or None,
    }
