"""Turns the catalogue's data files into rows.

A file's row is a mapping by name. What stands in it under the name of a field of the row's class is taken as it is, and a key that
ends in a unit, `length_m`, `bend_deg`, `roughness_mm`, brings its number to SI.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from math import pi
from pathlib import Path
from typing import Any, TypeVar

from plumbline.catalogue import loss_laws, rows
from plumbline.catalogue.table import Table

__all__ = [
    "brush_rows",
    "code",
    "data",
    "finding_kind",
    "fitting",
    "number",
    "pipe_rows",
    "rod",
    "row",
    "table_of",
    "weight",
]

FOLDER = Path(__file__).parent
Row = TypeVar("Row")

DEGREE = pi / 180
MILLIMETRE = 1e-3
BY_KEY = {"m": 1.0, "mm": MILLIMETRE, "deg": DEGREE}
"""The units that a key may end in, as factors to SI."""

DAY, YEAR = 86400.0, 365.25 * 86400.0
UNITS = {
    **dict.fromkeys(("1", "m", "m/s", "m/m", "mm/mm", "s", "Pa", "diameters", "power", "V/√(gD)"), 1.0),
    **dict.fromkeys(("g/g", "kg", "kg/kg", "kg/m3", "m2/m3", "1/m2"), 1.0),
    **dict.fromkeys(("min", "months", "an hour"), 1.0),
    "%": 0.01,
    "mm": MILLIMETRE,
    "deg": DEGREE,
    "L": 1e-3,
    "g": 1e-3,
    "mg/L": 1e-3,
    "L/kg": 1e-3,
    "h": 3600.0,
    "d": DAY,
    "1/h": 1.0 / 3600.0,
    "1/d": 1.0 / DAY,
    "%/d": 0.01 / DAY,
    "g/m2/d": 1e-3 / DAY,
    "kg/m2/y": 1.0 / YEAR,
}
"""The units of the files of numbers, as factors to SI; minutes and months of work stay what they are."""

_PLAIN = ("id", "K", "Kv", "loses", "at")
_OPENS = ("id", "opening", *_PLAIN[1:])
"""The details of a fitting whose row names none."""

LAWS: dict[str, tuple[Any, tuple[str, ...]]] = {
    "three-K": (loss_laws.ThreeK, ("K1", "Ki", "Kd")),
    "crane": (loss_laws.Crane, ("N",)),
    "rennels bend": (loss_laws.RennelsBend, ("radius",)),
    "constant": (loss_laws.Constant, ("K",)),
    "reducer": (loss_laws.FromBores, ()),
    "stated": (loss_laws.Stated, ()),
    "none": (loss_laws.NoLoss, ()),
    "through": (loss_laws.Through, ("share",)),
    "jet": (loss_laws.Jet, ("K",)),
}
"""The ways to give a loss in fittings.yaml, with their numbers."""


@cache
def data(name: str) -> Mapping[str, Any]:
    """The mapping in the catalogue's data file `name`, as it stands, read once; {} when there is no such file."""
    import yaml

    path = FOLDER / name
    if not path.exists():
        return {}
    found = yaml.load(path.read_bytes(), Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    return found if isinstance(found, dict) else {}


def table_of(rows: Iterable[Row]) -> Table[Row]:
    """Rows by their first field, with the other spellings of those that have some."""
    made = ((next(iter(type(row).__annotations__)), row) for row in rows)
    return Table((getattr(row, field), getattr(row, "also", ()), row) for field, row in made)


def row(made_as: type[Row], given: Mapping[str, Any], /, **made: Any) -> Row:
    """One row: what the file gives, field by field, and what is `made` from it otherwise."""
    fields = made_as.__annotations__
    values = made.copy()
    for key, value in given.items():
        stem, _, unit = key.rpartition("_")
        field, factor = (stem, BY_KEY[unit]) if unit in BY_KEY else (key, 1.0)
        field = field.replace(" ", "_")
        if field not in made:
            values[field] = str(value) if fields.get(field) == "str" else _si(value, factor)
    return made_as(**values)


def _si(value: Any, factor: float) -> Any:
    """Numbers as floats in SI, lists as tuples; all else as it stands."""
    if isinstance(value, list):
        return tuple(_si(one, factor) for one in value)
    return value * factor if isinstance(value, int | float) and not isinstance(value, bool) else value


def _without(given: Mapping[str, Any], *keys: str) -> dict[str, Any]:
    return {key: value for key, value in given.items() if key not in keys}


# ---------------------------------------------------------------------- numbers


def number(name: str, given: Mapping[str, Any]) -> rows.NumberRow:
    """A number in SI: one `value`, or three, low, likely and high; `values` are three rates, slow, likely and fast."""
    values, unit = given["values"] if "values" in given else given["value"], given["unit"]
    low, likely, high = (one * UNITS[unit] for one in (values if isinstance(values, list) else [values] * 3))
    shown = f"{values} {unit}"
    if isinstance(values, list):
        shown = f"{', '.join(f'{one:g}' for one in values)} {unit}" if "values" in given else _range(values, unit)
    return row(
        rows.NumberRow, _without(given, "value", "values"), name=name, low=low, likely=likely, high=high, shown=shown
    )


def _range(values: Sequence[float], unit: str) -> str:
    low, likely, high = (f"{value:g}" for value in values)
    said = unit.replace("m2", "m²").replace("m3", "m³")
    number = likely if low == high else f"{low} to {high}"
    return number if unit == "1" else f"{number} {said}"


# ---------------------------------------------------------------------- what needs more than its fields


_DN = ("dn {}", "pvc dn {}", "dn {} pvc")
"""How pipe is written by its nominal bore."""


def pipe_rows(series: Mapping[str, Any]) -> Iterator[rows.PipeRow]:
    """The sizes of a series, each under its own name."""
    columns = series["columns"]
    for size, given in series["sizes"].items():
        size_row = given if isinstance(given, dict) else dict(zip(columns, given, strict=True))
        outside, wall = size_row.get("outside_mm"), size_row.get("wall_mm")
        bore = size_row["bore_mm"] if outside is None or wall is None else outside - 2 * wall
        yield rows.PipeRow(
            name=series["name"].format(size=size),
            bore=bore * MILLIMETRE,
            outside=None if outside is None else outside * MILLIMETRE,
            wall=None if wall is None else wall * MILLIMETRE,
            material=series["material"],
            source=size_row.get("source", series["source"]).strip(),
            mark=size_row.get("mark", series["mark"]),
            also=(
                *(spelling.format(size=size) for spelling in series.get("also", ())),
                *(spelling.format(series["dn"][size]) for spelling in _DN if size in series.get("dn", ())),
            ),
        )


def fitting(name: str, given: Mapping[str, Any]) -> rows.FittingRow:
    """A fitting, or the end of a line."""
    corner = given.get("loss at a corner")
    return row(
        rows.FittingRow,
        _without(given, "loss at a corner"),
        name=name,
        loss=_loss(given["loss"]),
        loss_at_corner=None if corner is None else _loss(corner),
        details=tuple(given.get("details", _OPENS if "opening" in given else _PLAIN)),
        lay=row(rows.Lay, given["lay"]) if given.get("lay") else None,
        parts=given.get("parts", name),
    )


def _loss(given: Mapping[str, Any]) -> loss_laws.LossLaw:
    law, names = LAWS[given["method"]]
    if set(given) != {"method", *names}:
        raise ValueError(f"the catalogue cannot read the loss {given!r}")
    made: loss_laws.LossLaw = law(*(float(given[name]) for name in names))
    return made


def brush_rows(given: Mapping[str, Any]) -> Iterator[rows.BrushRow]:
    """The brushes by their sizes."""
    least = given["least_share"]
    for size in given["sizes_mm"]:
        bores = (least * size * MILLIMETRE, size * MILLIMETRE)
        yield rows.BrushRow(f"{size} mm", size * MILLIMETRE, bores, given["source"], given["mark"])


def rod(name: str, given: Mapping[str, Any], brushes: Mapping[str, rows.BrushRow]) -> rows.RodRow:
    """A rod, brush or cable; what one with heads to change cleans is what its brushes clean together."""
    heads = [brushes[f"{size} mm"] for size in given.get("brushes_mm", ())]
    bores = [bore for head in heads for bore in head.bores] or _si(given.get("bores_mm", [0.0]), MILLIMETRE)
    return row(
        rows.RodRow,
        given,
        name=name,
        bores=(min(bores), max(bores)),
        brushes=tuple(head.diameter for head in heads),
        passes=given["passes_mm"] * MILLIMETRE if "passes_mm" in given else min(bores),
    )


def code(name: str, given: Mapping[str, Any]) -> rows.CodeRow:
    """A plumbing code with its rules on access."""
    return row(rows.CodeRow, given, name=name, rules=tuple(row(rows.CodeRule, rule) for rule in given["rules"]))


def weight(kind: str, given: Mapping[str, Any]) -> rows.WeightRow:
    """What a kind of finding costs."""
    others = {
        case: (float(given[case]["weight"]), str(given[case]["when"])) if case in given else None
        for case in ("worse", "milder")
    }
    return row(rows.WeightRow, _without(given, "weight"), kind=kind, value=float(given["weight"]), **others)


def finding_kind(kind: str, given: Mapping[str, Any]) -> rows.FindingRow:
    """A kind of finding; fields beyond the known ones are kept in `extra`."""
    known = set(rows.FindingRow.__annotations__)
    limits = tuple(given.get("limits") or ())
    return row(
        rows.FindingRow,
        {key: given[key] for key in given if key in known},
        kind=kind,
        limits=limits,
        extra=_without(given, *known),
    )
