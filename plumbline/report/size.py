"""What sizing found, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from .. import __version__
from ..catalogue import husbandry
from ..catalogue.rows import SizeKind
from ..husbandry.between import Between
from ..husbandry.read import Asked
from ..husbandry.sizing import Sizing
from ..start.sized import FirstLayout
from ..units import COMMON, Units, show, warmth
from .care import care
from .plain import heading, point, points

__all__ = ["SizeView", "size_as_json"]

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


@dataclass(frozen=True)
class SizeView:
    """A rich renderable of a sizing. `sources` lists every number that it stands on; `first` is a layout made for it and
    `written` the file that it is in."""

    asked: Asked
    found: Sizing
    sources: bool = False
    first: FirstLayout | None = None
    written: str | None = None

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        found, units = self.found, self.asked.units
        yield Text(_asked_for(self.asked), style="bold")
        flow = _one(found.flow.likely, "flow", units)
        yield Text(
            f"{flow} through the fish tank ({_range(found.flow, 'flow', units)}): that is what its {found.governing} "
            "asks for."
        )
        for note in found.notes:
            yield Text(note)
        for what in self.asked.taken:
            yield Text(f"Taken from the layout: {what}.", style="dim")
        if self.first is not None:
            yield from self._first(self.first)
        yield self._table()
        yield Padding(
            Text(
                "The likely number is the rule's middle; the range takes all that is not sure at its worst together. "
                "Watch the fish, and measure ammonia and oxygen.",
                style="dim",
            ),
            (1, 0, 0, 0),
        )
        yield from care("size")
        if self.sources:
            yield from self._sources()
        else:
            yield Text("--all shows where every number comes from.", style="dim")

    def _first(self, first: FirstLayout) -> Iterator[RenderableType]:
        """The layout that was made: what to buy for it."""
        layout, units = first.result.layout, self.asked.units
        verdict = "It checks clean" if first.result.verdict == "ok" else f"Its verdict is {first.result.verdict}"
        yield Text(
            f"\n'{self.written}' is a first layout for it: {', '.join(layout.vessels)}. {verdict}, "
            f"{first.result.score.points:.0f} of 100 points.",
            style="bold",
        )
        rows = [
            f"pump: {show(first.flow, 'flow', units)} against {show(first.head, 'head', units)} of head; that is what is wanted and "
            f"{layout.limits['margin']:.0%} for wear"
        ]
        for name, vessel in layout.vessels.items():
            if vessel.holds == "solids filter":
                gets = first.result.flows.vessels[name].inflow
                most = (
                    ""
                    if vessel.handles is None
                    else f", one that handles {show(vessel.handles, 'flow', units)} or more"
                )
                rows.append(
                    f"{name}: it gets {show(gets, 'flow', units)} with the pump that stands in the layout{most}"
                )
        for line in layout.lines.values():
            for part in line.parts:
                if part.kind == "spray bar":
                    rows.append(
                        f"spray bar: {part.details['holes']:.0f} holes of {show(part.details['hole'], 'size', units)} in "
                        f"{show(part.length, 'length', units)} of pipe; it turns the tank at about {100.0 * first.speed:.0f} cm/s"
                    )
        yield from points(rows)

    def _table(self) -> Table:
        units = self.asked.units
        table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False, header_style="dim")
        for column, side in (("", "left"), ("likely", "right"), ("range", "right"), ("from", "left")):
            table.add_column(column, justify="right" if side == "right" else "left", overflow="fold")
        subject = ""
        for row in self.found.rows:
            if row.subject != subject:
                subject = row.subject
                table.add_row()
                table.add_row(Text(subject, style="bold"))
            likely = _one(row.value.likely, row.kind, units)
            between = "" if row.value.low == row.value.high else _range(row.value, row.kind, units)
            name = row.name if row.counts else f"{row.name} (air stones give it)"
            table.add_row(Text(f"  {name}"), likely, between, Text(row.rule, style="dim"))
        return table

    def _sources(self) -> Iterator[RenderableType]:
        used = dict.fromkeys(name for row in self.found.rows for name in row.rows)
        yield heading("Where the numbers come from")
        for name in used:
            row = husbandry()[name]
            said = "as you say" if name in self.found.wish.own else f"{row.source} ({row.mark})"
            shown = f"{self.found.wish.own[name]:g} (SI)" if name in self.found.wish.own else row.shown
            yield point(f"{name}: {shown}, {row.meaning}. {said}")


def size_as_json(asked: Asked, found: Sizing, first: FirstLayout | None = None) -> dict[str, Any]:
    """A sizing as plain data, every number finite or null; with `first`, what a layout made for it needs."""
    return {
        "plumbline": __version__,
        "flow_l_min": _numbers(found.flow, "flow"),
        "governing": found.governing,
        "notes": list(found.notes),
        "taken": list(asked.taken),
        "rows": [
            {
                "subject": row.subject,
                "name": row.name,
                "unit": _SI[row.kind][1],
                **_numbers(row.value, row.kind),
                "rule": row.rule,
                "sources": {name: f"{husbandry()[name].source} ({husbandry()[name].mark})" for name in row.rows},
                "counts": row.counts,
            }
            for row in found.rows
        ],
        "first_layout": None
        if first is None
        else {
            "verdict": first.result.verdict,
            "points": first.result.score.points,
            "pump_flow_l_min": first.flow * 60_000.0,
            "pump_head_m": first.head,
            "current_m_s": first.speed,
        },
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
        what = {"area": "area", "volume": "volume", "flow": "flow"}[kind]
        shown = show(value, what, units, unit=False)  # type: ignore[arg-type]
        name = show(value, what, units).removeprefix(shown)  # type: ignore[arg-type]
        return shown + name if unit else shown
    if kind == "ratio":
        return f"{value:.0%}"
    if kind == "water rate":
        shown = show(value * _DAY, "volume", units, unit=unit)
        return f"{shown} a day" if unit else shown
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
