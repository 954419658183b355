"""Turns the catalogue's data files into rows.

A file's row is a mapping by name. What stands in it under the name of a field of the row's class is taken as it is, and a key that
ends in a unit, `length_m`, `bend_deg`, `roughness_mm`, brings its number to SI.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import pi
from pathlib import Path
from typing import Any, TypeVar

from plumbline.catalogue.rows import (
    BrushRow,
    CodeRow,
    CodeRule,
    Constant,
    Crane,
    FindingRow,
    FittingRow,
    FromBores,
    Jet,
    Lay,
    LossLaw,
    NoLoss,
    NumberRow,
    PipeRow,
    RennelsBend,
    RodRow,
    Stated,
    ThreeK,
    Through,
    WeightRow,
)
from plumbline.catalogue.table import Table

__all__ = [
    "data",
    "read_brushes",
    "read_codes",
    "read_findings",
    "read_fittings",
    "read_numbers",
    "read_pipes",
    "read_rods",
    "read_rows",
    "read_weights",
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
    "three-K": (ThreeK, ("K1", "Ki", "Kd")),
    "crane": (Crane, ("N",)),
    "rennels bend": (RennelsBend, ("radius",)),
    "constant": (Constant, ("K",)),
    "reducer": (FromBores, ()),
    "stated": (Stated, ()),
    "none": (NoLoss, ()),
    "through": (Through, ("share",)),
    "jet": (Jet, ("K",)),
}
"""The ways to give a loss in fittings.yaml, with their numbers."""


def data(name: str) -> dict[str, Any]:
    """The mapping in the catalogue's data file `name`, as it stands; {} when there is no such file."""
    import yaml

    path = FOLDER / name
    if not path.exists():
        return {}
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    found = yaml.load(path.read_bytes(), Loader=loader)
    return found if isinstance(found, dict) else {}


def read_rows(kind: type[Row], rows: Mapping[str, Any]) -> Table[Row]:
    """Rows that stand in their file field by field."""
    return _table(_row(kind, row, name=name) for name, row in rows.items())


def _table(rows: Iterable[Row]) -> Table[Row]:
    """Rows by their first field, with the other spellings of those that have some."""
    made = ((next(iter(type(row).__annotations__)), row) for row in rows)
    return Table((getattr(row, field), getattr(row, "also", ()), row) for field, row in made)


def _row(made_as: type[Row], given: Mapping[str, Any], /, **made: Any) -> Row:
    """One row: what the file gives, and what is `made` from it otherwise."""
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


def _without(row: Mapping[str, Any], *keys: str) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key not in keys}


# ---------------------------------------------------------------------- numbers


def read_numbers(rows: Mapping[str, Any]) -> Table[NumberRow]:
    """Numbers in SI: each one `value`, or three, low, likely and high; `values` are three rates, slow, likely and fast."""
    return _table(_number(name, row) for name, row in rows.items())


def _number(name: str, row: Mapping[str, Any]) -> NumberRow:
    given, unit = row["values"] if "values" in row else row["value"], row["unit"]
    low, likely, high = (number * UNITS[unit] for number in (given if isinstance(given, list) else [given] * 3))
    shown = f"{given} {unit}"
    if isinstance(given, list):
        shown = f"{', '.join(f'{number:g}' for number in given)} {unit}" if "values" in row else _range(given, unit)
    rest = _without(row, "value", "values")
    return _row(NumberRow, rest, name=name, low=low, likely=likely, high=high, shown=shown)


def _range(values: Sequence[float], unit: str) -> str:
    low, likely, high = (f"{value:g}" for value in values)
    said = unit.replace("m2", "m²").replace("m3", "m³")
    number = likely if low == high else f"{low} to {high}"
    return number if unit == "1" else f"{number} {said}"


# ---------------------------------------------------------------------- what needs more than its fields


def read_pipes(series: Mapping[str, Any]) -> Table[PipeRow]:
    """The sizes of every series, each under its own name."""
    return _table(row for rows in series.values() for row in _sizes(rows))


_DN = ("dn {}", "pvc dn {}", "dn {} pvc")
"""How pipe is written by its nominal bore."""


def _sizes(series: Mapping[str, Any]) -> Iterator[PipeRow]:
    columns = series["columns"]
    for size, given in series["sizes"].items():
        row = given if isinstance(given, dict) else dict(zip(columns, given, strict=True))
        outside, wall = row.get("outside_mm"), row.get("wall_mm")
        bore = row["bore_mm"] if outside is None or wall is None else outside - 2 * wall
        yield PipeRow(
            name=series["name"].format(size=size),
            bore=bore * MILLIMETRE,
            outside=None if outside is None else outside * MILLIMETRE,
            wall=None if wall is None else wall * MILLIMETRE,
            material=series["material"],
            source=row.get("source", series["source"]).strip(),
            mark=row.get("mark", series["mark"]),
            also=(
                *(spelling.format(size=size) for spelling in series.get("also", ())),
                *(spelling.format(series["dn"][size]) for spelling in _DN if size in series.get("dn", ())),
            ),
        )


def read_fittings(rows: Mapping[str, Any]) -> Table[FittingRow]:
    """The fittings and the ends of lines."""
    return _table(_fitting(name, row) for name, row in rows.items())


def _fitting(name: str, row: Mapping[str, Any]) -> FittingRow:
    corner = row.get("loss at a corner")
    return _row(
        FittingRow,
        _without(row, "loss at a corner"),
        name=name,
        loss=_loss(row["loss"]),
        loss_at_corner=None if corner is None else _loss(corner),
        details=tuple(row.get("details", _OPENS if "opening" in row else _PLAIN)),
        lay=_row(Lay, row["lay"]) if row.get("lay") else None,
        parts=row.get("parts", name),
    )


def _loss(row: Mapping[str, Any]) -> LossLaw:
    law, names = LAWS[row["method"]]
    if set(row) != {"method", *names}:
        raise ValueError(f"the catalogue cannot read the loss {row!r}")
    made: LossLaw = law(*(float(row[name]) for name in names))
    return made


def read_brushes(rows: Mapping[str, Any]) -> Table[BrushRow]:
    """The brushes by their sizes."""
    sizes, least = rows["sizes_mm"], rows["least_share"]
    return _table(
        BrushRow(f"{size} mm", size * MILLIMETRE, (least * size * MILLIMETRE, size * MILLIMETRE),
                 rows["source"], rows["mark"])
        for size in sizes
    )  # fmt: skip


def read_rods(rows: Mapping[str, Any], brushes: Mapping[str, BrushRow]) -> Table[RodRow]:
    """The rods, brushes and cables; what those with heads to change clean is what their brushes clean together."""
    return _table(_rod(name, row, brushes) for name, row in rows.items())


def _rod(name: str, row: Mapping[str, Any], brushes: Mapping[str, BrushRow]) -> RodRow:
    heads = [brushes[f"{size} mm"] for size in row.get("brushes_mm", ())]
    bores = [bore for head in heads for bore in head.bores] or _si(row.get("bores_mm", [0.0]), MILLIMETRE)
    return _row(
        RodRow,
        row,
        name=name,
        bores=(min(bores), max(bores)),
        brushes=tuple(head.diameter for head in heads),
        passes=row["passes_mm"] * MILLIMETRE if "passes_mm" in row else min(bores),
    )


def read_codes(rows: Mapping[str, Any]) -> Table[CodeRow]:
    """The rules of plumbing codes on access."""
    return _table(
        _row(CodeRow, row, name=name, rules=tuple(_row(CodeRule, rule) for rule in row["rules"]))
        for name, row in rows.items()
    )


def read_weights(rows: Mapping[str, Any]) -> Table[WeightRow]:
    """What each kind of finding costs."""

    def other(row: Mapping[str, Any], case: str) -> tuple[float, str] | None:
        return (float(row[case]["weight"]), str(row[case]["when"])) if case in row else None

    return _table(
        _row(WeightRow, _without(row, "weight"), kind=kind, value=float(row["weight"]), worse=other(row, "worse"), milder=other(row, "milder"))
        for kind, row in rows.items()
    )  # fmt: skip


def read_findings(rows: Mapping[str, Any]) -> Table[FindingRow]:
    """The kinds of finding; fields beyond the known ones are kept in `extra`."""
    known = set(FindingRow.__annotations__)
    return _table(
        _row(FindingRow, {key: row[key] for key in row if key in known}, kind=kind,
             limits=tuple(row.get("limits") or ()), extra=_without(row, *known))
        for kind, row in rows.items()
    )  # fmt: skip
