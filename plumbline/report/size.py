"""What sizing found, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from .. import __version__
from ..catalogue import husbandry, notes
from ..catalogue.rows import SizeKind
from ..husbandry.read import Asked
from ..husbandry.sizing import Sizing
from ..husbandry.wish import Between
from ..start.sized import FirstLayout
from ..units import COMMON, Units, show, warmth
from .plain import care, fields, heading, plain_table, point, points, view

__all__ = ["size_as_json", "size_view"]

_DAY = 86_400.0
_SI: dict[SizeKind, tuple[float, str]] = {
    "mass rate": (1000.0 * _DAY, "g_day"),
    "mass": (1.0, "kg"),
    "area": (1.0, "m2"),
    "volume": (1000.0, "l"),
    "flow": (60_000.0, "l_min"),
    "number": (1.0, "count"),
    "ratio": (1.0, "ratio"),
    "water rate": (1000.0 * _DAY, "l_day"),
    "concentration": (1.0, "kg_m3"),
    "time": (1.0 / _DAY, "days"),
}
"""What takes each kind of number from SI to the unit that JSON names."""


@view
def size_view(
    asked: Asked, found: Sizing, *, sources: bool = False, first: FirstLayout | None = None, written: str | None = None
) -> Iterator[RenderableType]:
    """A sizing. `sources` lists every number that it stands on; `first` is a layout made for it and `written` the file that it is in."""
    units = asked.units
    yield Text(_asked_for(asked), style="bold")
    flow, between = _one(found.flow.likely, "flow", units), _range(found.flow, "flow", units)
    yield Text(f"{flow} through the fish tank ({between}): that is what its {found.governing} asks for.")
    yield from map(Text, found.notes)
    yield from (Text(f"Taken from the layout: {what}.", style="dim") for what in asked.taken)
    if first is not None:
        layout = first.result.layout
        verdict = "It checks clean" if first.result.verdict == "ok" else f"Its verdict is {first.result.verdict}"
        yield Text(
            f"\n'{written}' is a first layout for it: {', '.join(layout.vessels)}. {verdict}, {first.result.score.points:.0f} of 100 points.",
            style="bold",
        )
        yield from points(_to_buy(first, units))
    yield _table(found, units)
    yield from (Text(f"\n{note}", style="dim") for note in notes("size"))
    yield from care("size")
    if not sources:
        yield Text("--all shows where every number comes from.", style="dim")
        return
    yield heading("Where the numbers come from")
    for name in dict.fromkeys(name for row in found.rows for name in row.rows):
        row, own = husbandry()[name], found.wish.own.get(name)
        shown, said = (row.shown, _source(name)) if own is None else (f"{own:g} (SI)", "as you say")
        yield point(f"{name}: {shown}, {row.meaning}. {said}")


def _source(name: str) -> str:
    return f"{husbandry()[name].source} ({husbandry()[name].mark})"


def _to_buy(first: FirstLayout, units: Units) -> Iterator[str]:
    """What to buy for a layout that was made."""
    layout = first.result.layout
    yield (
        f"pump: {show(first.flow, 'flow', units)} against {show(first.head, 'head', units)} of head; that is what is wanted and "
        f"{layout.limits['margin']:.0%} for wear"
    )
    for name, vessel in layout.vessels.items():
        if vessel.holds == "solids filter":
            gets = show(first.result.flows.vessels[name].inflow, "flow", units)
            most = "" if vessel.handles is None else f", one that handles {show(vessel.handles, 'flow', units)} or more"
            yield f"{name}: it gets {gets} with the pump that stands in the layout{most}"
    for part in (part for line in layout.lines.values() for part in line.parts if part.kind == "spray bar"):
        hole, long = show(part.details["hole"], "size", units), show(part.length, "length", units)
        yield (
            f"spray bar: {part.details['holes']:.0f} holes of {hole} in {long} of pipe; it turns the tank at about "
            f"{100.0 * first.speed:.0f} cm/s"
        )


def _table(found: Sizing, units: Units) -> Table:
    table = plain_table("", ">likely", ">range", "from")
    subject = ""
    for row in found.rows:
        if row.subject != subject:
            subject = row.subject
            table.add_row()
            table.add_row(Text(subject, style="bold"))
        between = "" if row.value.low == row.value.high else _range(row.value, row.kind, units)
        name = Text(f"  {row.name}{'' if row.counts else ' (air stones give it)'}")
        table.add_row(name, _one(row.value.likely, row.kind, units), between, Text(row.rule, style="dim"))
    return table


def size_as_json(asked: Asked, found: Sizing, first: FirstLayout | None = None) -> dict[str, Any]:
    """A sizing as plain data, every number finite or null; with `first`, what a layout made for it needs."""
    layout = "verdict=result.verdict points=result.score.points pump_flow_l_min=flow pump_head_m=head current_m_s=speed"
    return {
        "plumbline": __version__,
        "flow_l_min": _numbers(found.flow, "flow"),
        **fields(found, "governing notes"),
        "taken": list(asked.taken),
        "rows": [
            {
                **fields(row, "subject name"),
                "unit": _SI[row.kind][1],
                **_numbers(row.value, row.kind),
                "rule": row.rule,
                "sources": {name: _source(name) for name in row.rows},
                "counts": row.counts,
            }
            for row in found.rows
        ],
        "first_layout": first and fields(first, layout),
    }


def _numbers(value: Between, kind: SizeKind) -> dict[str, float | None]:
    scale = _SI[kind][0]
    ends = (("low", value.low), ("likely", value.likely), ("high", value.high))
    return {name: end * scale if end < float("inf") else None for name, end in ends}


def _asked_for(asked: Asked) -> str:
    wish, units = asked.wish, asked.units
    parts = []
    if wish.fish is not None:
        parts.append(f"{show(wish.fish * 30.4375 * _DAY, 'mass', units)} of fish a month")
    for area, plants in ((wish.leafy, "leafy"), (wish.fruiting, "fruiting")):
        if area > 0.0:
            parts.append(f"{show(area, 'area', units)} of beds with {plants} plants")
    return f"{' and '.join(parts)}, at {warmth(wish.celsius, units)}"


def _range(value: Between, kind: SizeKind, units: Units) -> str:
    low = _one(value.low, kind, units, unit=False)
    high = _one(value.high, kind, units, unit=False) if value.high < float("inf") else "no flow is enough"
    return f"{low} to {high}"


def _one(value: float, kind: SizeKind, units: Units, *, unit: bool = True) -> str:
    """A number as its reader says it: two or three figures, no more than such rules know."""
    if kind in ("area", "volume", "flow"):
        return show(value, kind, units, unit=unit)
    if kind == "ratio":
        return f"{value:.0%}"
    if kind == "water rate":
        return show(value * _DAY, "volume", units, unit=unit) + (" a day" if unit else "")
    pounds = units.mass == "lb"
    scale, name = {
        "mass rate": (_DAY / COMMON["kg"]["lb"], "lb a day") if pounds else (1000.0 * _DAY, "g a day"),
        "mass": (1.0 / COMMON["kg"][units.mass], units.mass),
        "number": (1.0, ""),
        "concentration": (COMMON["m^3"]["gal"] / COMMON["kg"]["lb"], "lb/gal") if pounds else (1.0, "kg/m³"),
        "time": (1.0 / _DAY, "days"),
    }[kind]
    number = value * scale
    shown = f"{number:.0f}" if number >= 100.0 else f"{number:.3g}"
    return f"{shown} {name}".strip() if unit else shown
