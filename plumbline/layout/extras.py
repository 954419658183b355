"""The rods at hand and the thresholds that a file sets: its own, or the catalogue's."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from .. import catalogue
from ..catalogue.rows import NumberRow, RodRow
from ..units import NotAQuantity, quantity, unit_of
from . import words
from .faults import Faults
from .kinds import plain
from .model import Electricity, HoseSupply, Mark, Rod, Vector
from .nodes import Node
from .opening import a_quantity
from .values import Fields, Values

__all__ = [
    "fouling_example",
    "limit_example",
    "limit_key",
    "read_clear",
    "read_electricity",
    "read_fouling",
    "read_hose",
    "read_limits",
    "read_rod",
    "read_sureness",
    "rod_of",
    "usual_rods",
]

ALL_HEIGHTS = (-1e4, 1e4)
"""Of a box that says none [m]."""

LIMIT_TAKES = {"m": "length", "mm": "length", "m/s": "speed", "h": "time", "Pa": "pressure", "deg": "angle"}
"""What a limit takes, by the unit of its row; all others are plain numbers."""


def limit_example(row: NumberRow) -> str:
    """How a file may state a threshold or an uncertainty: the catalogue's own value, with a unit only where one can be read."""
    return row.shown if row.unit in LIMIT_TAKES or row.unit == "%" else row.shown.split()[0]


def limit_key(row: NumberRow) -> words.Key:
    """What a file may state for a row of the catalogue. A film must have some time to grow in; any other number may be nothing."""
    return words.Key(
        LIMIT_TAKES.get(row.unit, "ratio"),
        row.meaning,
        limit_example(row),
        low=0.0,
        above=row.unit == "months",
        high=1.0 if row.unit == "%" else None,
    )


def usual_rods(faults: Faults) -> tuple[Rod, ...]:
    """The rods that are taken when a file names none."""
    rows = [row for row in catalogue.rods().values() if row.default]
    for row in rows:
        faults.left_out("rods", row.name, row.source)
    return tuple(rod_of(row) for row in rows)


def rod_of(row: RodRow) -> Rod:
    """A rod of the catalogue."""
    return Rod(row.name, row.length, row.bend, row.turns, *row.bores, row.brushes, row.passes, row.room, row.cord)


_ROD = ("length", "bends up to", "turns in all", "room", "bores")


def read_rod(name: str, mark: Mark, node: Node, values: Values) -> Rod | None:
    """Read a rod; None, and a fault, where it cannot be read."""
    similar = any(plain(key.text or "") == "like" for key, _ in node.pairs or ())
    fields = values.fields(node, words.ROD_LIKE if similar else words.ROD, f"rod '{name}'", mark)
    if fields is None:
        return None
    length, bend, turns, room = numbers = fields.numbers(*_ROD[:-1])
    bores = _bores(fields["bores"].node, values) if "bores" in fields else None
    if any(word in fields for word, value in zip(_ROD, (*numbers, bores), strict=True) if value is None):
        return None
    cord = "pulled through" in fields
    if not similar:
        if bores is None or length is None or bend is None or turns is None:
            return None
        return Rod(name, length, bend, turns, *bores, room=room, cord=cord)
    table = catalogue.rods()
    said = fields.text("like")
    if said is None or said not in table:
        if said is not None:
            values.faults.unknown(fields["like"].mark, said, "rod", table)
        return None
    base = rod_of(table[said])
    if bores is not None:
        base = replace(base, bore_min=bores[0], bore_max=bores[1], brushes=(), passes=None)
    said_too = {"length": length, "bend": bend, "turns": turns, "room": room}
    own: dict[str, Any] = {word: value for word, value in said_too.items() if value is not None}
    return replace(base, name=name, cord=base.cord or cord, **own)


def read_clear(name: str, mark: Mark, node: Node, values: Values) -> tuple[Vector, Vector] | None:
    """Read a box that pipe keeps out of, its least and its greatest corner [m]; None, and a fault, where it cannot be read."""
    fields = values.fields(node, words.TABLES["keep clear"], f"'{name}', to be kept clear,", mark) or Fields()
    spans = {word: _span(got.node, values, word, "two places, for instance 1 m to 2 m") for word, got in fields.items()}
    east, north, up = spans.get("east"), spans.get("north"), spans.get("up", ALL_HEIGHTS)
    if east is None or north is None or up is None:
        return None
    return (east[0], north[0], up[0]), (east[1], north[1], up[1])


def _bores(node: Node, values: Values) -> tuple[float, float] | None:
    span = _span(node, values, "bores", "two sizes, for instance 20 mm to 55 mm")
    if span is not None and span[0] <= 0.0:
        values.faults.add(node.mark, f"'bores' is {node.what}", "the smaller size first, and above 0")
        return None
    return span


def _span(node: Node, values: Values, word: str, expected: str) -> tuple[float, float] | None:
    """Two lengths with a `to` between them [m], the smaller first."""
    if node.is_nothing:
        return None
    parts = re.split(r"\s+to\s+", (node.text or "").strip()[:80])
    if len(parts) != 2:
        values.faults.add(node.mark, f"'{word}' is {node.what}", expected)
        return None
    try:
        # In 20 to 55 mm the unit holds for both.
        low, high = (quantity(part if unit_of(part) else f"{part} {unit_of(parts[1])}", "length") for part in parts)
    except NotAQuantity as error:
        values.faults.add(node.mark, str(error), expected)
        return None
    if not low <= high:
        smaller = "the smaller size first, and above 0" if word == "bores" else "the smaller first"
        values.faults.add(node.mark, f"'{word}' is {node.what}", smaller)
        return None
    return low, high


def read_limits(node: Node | None, values: Values) -> Mapping[str, float]:
    """The catalogue's thresholds, with the file's own on top."""
    rows = catalogue.limits()
    return {name: row.value for name, row in rows.items()} | _own(node, rows, "'limits'", "threshold", values)


def read_sureness(node: Node | None, values: Values) -> Mapping[str, float]:
    """How far the file says that its numbers may be out; what it leaves out is the catalogue's."""
    return _own(node, catalogue.uncertainty(), "'how sure'", "uncertainty", values)


def read_fouling(node: Node | None, values: Values) -> Mapping[str, tuple[float, float, float]]:
    """The file's own numbers for how pipe fouls, each for the rates slow, likely and fast: one number holds for all three."""
    own: dict[str, tuple[float, float, float]] = {}
    if node is None:
        return own
    rows = catalogue.fouling()
    for word, key, value in values.group(node, "'fouling'", "names of its numbers, each with its value") or []:
        if word not in rows:
            values.faults.unknown(key.mark, word, "number of the fouling model", rows)
            continue
        row = rows[word]
        example = f"for instance {word}: {fouling_example(row)}"
        nodes = (value,) if value.items is None else value.items
        if value.is_nothing or len(nodes) not in (1, 3):
            found = f"'{word}' has no value" if value.is_nothing else f"'{word}' is {value.what}"
            values.faults.add(key.mark, found, f"one value, or three for slow, likely and fast; {example}")
            continue
        numbers = [values.number(node, limit_key(row), word) for node in nodes]
        found_all = [number for number in numbers if number is not None]
        if len(found_all) == len(numbers):
            slow, likely, fast = found_all * 3 if len(found_all) == 1 else found_all
            own[row.name] = (slow, likely, fast)
    return own


def fouling_example(row: NumberRow) -> str:
    """How a file may state a number of the fouling model: the catalogue's own, for the three rates."""
    numbers = row.shown.removesuffix(f" {row.unit}").split(", ")
    unit = f" {row.unit}" if row.unit in LIMIT_TAKES or row.unit == "%" else ""
    return f"[{', '.join(f'{number}{unit}' for number in numbers)}]"


def read_electricity(node: Node | None, values: Values) -> Electricity | None:
    """What pumping costs, where the file says so."""
    fields = None if node is None else values.fields(node, words.TABLES["electricity"], "the electricity")
    if fields is None or (price := fields.number("price")) is None:
        return None
    hours, currency = fields.number("hours a day"), fields.text("currency")
    if "hours a day" not in fields:
        values.faults.left_out("electricity", "pumps run 24 hours a day", "hours a day left out")
    if currency is not None and a_quantity(currency) is not None:
        values.faults.add(
            fields["currency"].mark, f"'currency' is '{currency}'", words.TABLES["electricity"]["currency"].says
        )
    return Electricity(price, currency or "", 24.0 if hours is None else hours)


def read_hose(node: Node | None, values: Values) -> HoseSupply | None:
    """The hose to flush with, where the file names one."""
    fields = None if node is None else values.fields(node, words.TABLES["hose supply"], "the hose supply")
    pressure, flow = (fields or Fields()).numbers("pressure", "flow")
    return None if pressure is None or flow is None else HoseSupply(pressure, flow)


def _own(node: Node | None, rows: Mapping[str, NumberRow], group: str, what: str, values: Values) -> dict[str, float]:
    """The file's own values for rows of the catalogue."""
    own: dict[str, float] = {}
    if node is None:
        return own
    names = "uncertainties" if what == "uncertainty" else f"{what}s"
    for word, key, value in values.group(node, group, f"names of {names}, each with its value") or []:
        if word not in rows:
            values.faults.unknown(key.mark, word, what, rows)
            continue
        row = rows[word]
        if value.is_nothing:
            example = f"for instance {word}: {limit_example(row)}"
            values.faults.add(key.mark, f"'{word}' has no value", f"{row.meaning}; {example}")
            continue
        number = values.number(value, limit_key(row), word)
        if number is not None:
            own[row.name] = number
    return own
