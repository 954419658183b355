"""Turns the catalogue's data files into rows. The files' keys name their units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import pi
from pathlib import Path
from typing import Any

from plumbline.catalogue.rows import (
    AirliftRow,
    BrushRow,
    CauseRow,
    CodeRow,
    CodeRule,
    Constant,
    Crane,
    DeadLegRow,
    FindingRow,
    FittingRow,
    FoulingRow,
    FromBores,
    HusbandryRow,
    Jet,
    Lay,
    LimitRow,
    LossLaw,
    MaterialRow,
    NoLoss,
    OpeningRow,
    PipeRow,
    RennelsBend,
    RodRow,
    Stated,
    ThreeK,
    Through,
    UncertaintyRow,
    WeightRow,
)
from plumbline.catalogue.table import Table

__all__ = [
    "data",
    "read_airlift",
    "read_brushes",
    "read_causes",
    "read_codes",
    "read_dead_legs",
    "read_findings",
    "read_fittings",
    "read_fouling",
    "read_husbandry",
    "read_limits",
    "read_materials",
    "read_openings",
    "read_pipes",
    "read_rods",
    "read_uncertainty",
    "read_weights",
]

DEGREE = pi / 180
MILLIMETRE = 1e-3
FOLDER = Path(__file__).parent

UNITS = {
    "m": 1.0,
    "mm": MILLIMETRE,
    "m/s": 1.0,
    "h": 3600.0,
    "Pa": 1.0,
    "deg": DEGREE,
    "%": 0.01,
    "m/m": 1.0,
    "diameters": 1.0,
    "an hour": 1.0,
    "min": 1.0,
    "months": 1.0,
    "V/√(gD)": 1.0,
    "power": 1.0,
    "mm/mm": 1.0,
    "s": 1.0,
    "L": 1e-3,
}
"""The units that limits.yaml, uncertainty.yaml, fouling.yaml and readings.yaml may use, as factors to SI; months stay months."""

DAY, YEAR = 86400.0, 365.25 * 86400.0
HUSBANDRY_UNITS = {
    "1": 1.0,
    "%": 0.01,
    "g/g": 1.0,
    "kg/kg": 1.0,
    "g": 1e-3,
    "kg": 1.0,
    "m": 1.0,
    "d": DAY,
    "h": 3600.0,
    "1/h": 1.0 / 3600.0,
    "1/d": 1.0 / DAY,
    "%/d": 0.01 / DAY,
    "1/m2": 1.0,
    "g/m2/d": 1e-3 / DAY,
    "kg/m2/y": 1.0 / YEAR,
    "kg/m3": 1.0,
    "mg/L": 1e-3,
    "m2/m3": 1.0,
    "L/kg": 1e-3,
}
"""The units that husbandry.yaml may use, as factors to SI: kg, m and s."""

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


def read_pipes(series: Mapping[str, Any]) -> Table[PipeRow]:
    """The sizes of every series, each under its own name."""
    return Table((row.name, row.also, row) for rows in series.values() for row in _sizes(rows))


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


def read_materials(rows: Mapping[str, Any]) -> Table[MaterialRow]:
    """The pipe walls."""
    made = (
        MaterialRow(
            name=name,
            roughness=row["roughness_mm"] * MILLIMETRE,
            uncertainty=row["uncertainty"],
            source=row["source"],
            mark=row["mark"],
            also=_words(row),
            hottest=row.get("hottest"),
            because=row.get("because", ""),
        )
        for name, row in rows.items()
    )
    return Table((row.name, row.also, row) for row in made)


def read_fittings(rows: Mapping[str, Any]) -> Table[FittingRow]:
    """The fittings and the ends of lines."""
    made = (_fitting(name, row) for name, row in rows.items())
    return Table((row.name, row.also, row) for row in made)


def _fitting(name: str, row: Mapping[str, Any]) -> FittingRow:
    corner, lay, bounds = row.get("loss at a corner"), row.get("lay"), row.get("range", {})
    turn, branch = row.get("turn"), row.get("branch")
    bores, reynolds = bounds.get("bore_mm"), bounds.get("reynolds")
    return FittingRow(
        name=name,
        place=row.get("place", "route"),
        loss=_loss(row["loss"]),
        source=row["source"],
        mark=row["mark"],
        turn=None if turn is None else turn * DEGREE,
        tolerance=row.get("tolerance", 0) * DEGREE,
        branch=None if branch is None else branch * DEGREE,
        sharp=row.get("sharp"),
        loss_at_corner=None if corner is None else _loss(corner),
        opening=row.get("opening"),
        handle=row.get("handle", "lever"),
        details=tuple(row.get("details", _OPENS if "opening" in row else _PLAIN)),
        turns=tuple(float(way) for way in row["comes in"]) if "comes in" in row else None,
        symbol=row.get("symbol", "other"),
        stands=float(row.get("stands", 1.0)),
        solids=row.get("solids", False),
        through_wall=row.get("through a wall", False),
        rod=row.get("rod", "stops"),
        one_way=row.get("one way", False),
        access=row.get("access", False),
        lay=None if lay is None else _lay(lay),
        parts=row.get("parts", name),
        uncertainty=row.get("uncertainty", 0.0),
        because=row.get("because", ""),
        bores=None if bores is None else (bores[0] * MILLIMETRE, bores[1] * MILLIMETRE),
        reynolds=None if reynolds is None else (float(reynolds[0]), float(reynolds[1])),
        also=_words(row),
    )


def _lay(row: Mapping[str, Any]) -> Lay:
    return Lay(float(row["outside"]), row["plus_mm"] * MILLIMETRE, row["source"], row["mark"])


def _loss(row: Mapping[str, Any]) -> LossLaw:
    law, names = LAWS[row["method"]]
    if set(row) != {"method", *names}:
        raise ValueError(f"the catalogue cannot read the loss {row!r}")
    made: LossLaw = law(*(float(row[name]) for name in names))
    return made


def read_openings(rows: Mapping[str, Any]) -> Table[OpeningRow]:
    """The tables for partly open valves."""
    made = (
        OpeningRow(
            name=name,
            valve=row["valve"],
            opening=row["opening"],
            points=tuple((float(opening), float(k)) for opening, k in row["points"]),
            shut_at=float(row["shut_at"]),
            uncertainty=row["uncertainty"],
            because=row["because"],
            source=row["source"],
            mark=row["mark"],
            areas=tuple(float(area) for area in row.get("areas", ())),
            marks=tuple(row.get("marks", ())),
        )
        for name, row in rows.items()
    )
    return Table((row.name, (), row) for row in made)


def read_brushes(rows: Mapping[str, Any]) -> Table[BrushRow]:
    """The brushes by their sizes."""
    made = (
        BrushRow(
            name=f"{size} mm",
            diameter=size * MILLIMETRE,
            bores=(rows["least_share"] * size * MILLIMETRE, size * MILLIMETRE),
            source=rows["source"],
            mark=rows["mark"],
        )
        for size in rows["sizes_mm"]
    )
    return Table((row.name, (), row) for row in made)


def read_rods(rows: Mapping[str, Any], brushes: Mapping[str, BrushRow]) -> Table[RodRow]:
    """The rods, brushes and cables; what those with heads to change clean is what their brushes clean together."""
    made = []
    for name, row in rows.items():
        heads = [brushes[f"{size} mm"] for size in row.get("brushes_mm", ())]
        stated = [size * MILLIMETRE for size in row.get("bores_mm", ())]
        least = min((head.bores[0] for head in heads), default=stated[0] if stated else 0.0)
        most = max((head.bores[1] for head in heads), default=stated[1] if stated else 0.0)
        made.append(RodRow(
            name=name,
            length=float(row["length_m"]),
            bend=row["bend_deg"] * DEGREE,
            turns=row["turns_deg"] * DEGREE,
            bores=(least, most),
            brushes=tuple(head.diameter for head in heads),
            passes=row["passes_mm"] * MILLIMETRE if "passes_mm" in row else least,
            room=row["room_mm"] * MILLIMETRE if "room_mm" in row else None,
            cord=row.get("cord", False),
            default=row.get("default", False),
            source=row["source"],
            mark=row["mark"],
        ))  # fmt: skip
    return Table((row.name, (), row) for row in made)


def read_limits(rows: Mapping[str, Any]) -> Table[LimitRow]:
    """The thresholds, in SI."""
    made = (
        LimitRow(
            name=name,
            value=row["value"] * UNITS[row["unit"]],
            shown=f"{row['value']} {row['unit']}",
            unit=row["unit"],
            meaning=row["meaning"],
            source=row["source"],
            mark=row["mark"],
            others=row.get("others", ""),
        )
        for name, row in rows.items()
    )
    return Table((row.name, (), row) for row in made)


def read_codes(rows: Mapping[str, Any]) -> Table[CodeRow]:
    """The rules of plumbing codes on access."""
    made = (
        CodeRow(
            name=name,
            title=row["title"],
            edition=row["edition"],
            level=row["level_deg"] * DEGREE,
            rules=tuple(_code_rule(rule) for rule in row["rules"]),
            also=_words(row),
        )
        for name, row in rows.items()
    )
    return Table((row.name, row.also, row) for row in made)


def _code_rule(row: Mapping[str, Any]) -> CodeRule:
    start = row.get("from_start")
    return CodeRule(
        what=row["what"],
        section=str(row["section"]),
        source=row["source"],
        mark=row["mark"],
        metres=float(row.get("metres", 0.0)),
        degrees=row.get("degrees", 0.0) * DEGREE,
        size=row.get("mm", 0.0) * MILLIMETRE,
        start=None if start is None else float(start),
        rows=tuple((pipe * MILLIMETRE, clear * MILLIMETRE) for pipe, clear in row.get("rows", ())),
    )


def read_dead_legs(rows: Mapping[str, Any]) -> Table[DeadLegRow]:
    """What standards allow a branch without flow."""
    made = (
        DeadLegRow(name, float(row["diameters"]), row["from"], row["source"], row["mark"]) for name, row in rows.items()
    )
    return Table((row.name, (), row) for row in made)


def read_uncertainty(rows: Mapping[str, Any]) -> Table[UncertaintyRow]:
    """How far numbers may be out, in SI."""
    made = (
        UncertaintyRow(
            name=name,
            value=row["value"] * UNITS[row["unit"]],
            shown=f"{row['value']} {row['unit']}",
            unit=row["unit"],
            meaning=row["meaning"],
            one=row["one"],
            because=row["because"],
            source=row["source"],
            mark=row["mark"],
            own=row.get("own", ""),
        )
        for name, row in rows.items()
    )
    return Table((row.name, (), row) for row in made)


def read_causes(rows: Mapping[str, Any]) -> Table[CauseRow]:
    """What may have happened to a system, with shares that need not be one together."""
    made = (
        CauseRow(
            name=name,
            share=float(row["share"]),
            amounts=(amounts[0], amounts[-1]),
            of=row.get("of", ""),
            says=row["says"],
            cure=row["cure"],
            source=row["source"],
            mark=row["mark"],
        )
        for name, row in rows.items()
        if (amounts := [float(amount) for amount in row.get("amounts", [0.0])])
    )
    return Table((row.name, (), row) for row in made)


def read_fouling(rows: Mapping[str, Any]) -> Table[FoulingRow]:
    """How pipe fouls with time, at three rates."""
    made = (
        FoulingRow(
            name=name,
            values=(values[0], values[1], values[2]),
            shown=", ".join(f"{value:g}" for value in row["values"]) + f" {row['unit']}",
            unit=row["unit"],
            meaning=row["meaning"],
            because=row["because"],
            source=row["source"],
            mark=row["mark"],
            others=row.get("others", ""),
        )
        for name, row in rows.items()
        if (values := [value * UNITS[row["unit"]] for value in row["values"]])
    )
    return Table((row.name, (), row) for row in made)


def read_airlift(rows: Mapping[str, Any]) -> Table[AirliftRow]:
    """What the airlift's arithmetic takes, in SI."""
    made = []
    for name, row in rows.items():
        low, likely, high = (float(value) * UNITS[row["unit"]] for value in row["value"])
        made.append(
            AirliftRow(
                name=name,
                low=low,
                likely=likely,
                high=high,
                shown=_range_shown(row["value"], row["unit"]),
                meaning=row["meaning"],
                because=row["because"],
                source=row["source"],
                mark=row["mark"],
            )
        )
    return Table((row.name, (), row) for row in made)


def read_husbandry(rows: Mapping[str, Any]) -> Table[HusbandryRow]:
    """What sizing starts from, in SI."""
    made = []
    for name, row in rows.items():
        factor = HUSBANDRY_UNITS[row["unit"]]
        low, likely, high = (float(value) * factor for value in row["value"])
        made.append(
            HusbandryRow(
                name=name,
                low=low,
                likely=likely,
                high=high,
                shown=_range_shown(row["value"], row["unit"]),
                meaning=row["meaning"],
                source=row["source"],
                mark=row["mark"],
                own=row.get("own", ""),
            )
        )
    return Table((row.name, (), row) for row in made)


def _range_shown(values: Sequence[float], unit: str) -> str:
    low, likely, high = (f"{value:g}" for value in values)
    said = unit.replace("m2", "m²").replace("m3", "m³")
    number = likely if low == high else f"{low} to {high}"
    return number if unit == "1" else f"{number} {said}"


def read_weights(rows: Mapping[str, Any]) -> Table[WeightRow]:
    """What each kind of finding costs."""

    def other(row: Mapping[str, Any], case: str) -> tuple[float, str] | None:
        return (float(row[case]["weight"]), str(row[case]["when"])) if case in row else None

    made = (
        WeightRow(
            kind=kind,
            value=float(row["weight"]),
            per=row["per"],
            reason=row["reason"],
            worse=other(row, "worse"),
            milder=other(row, "milder"),
            unless=tuple(row.get("unless", ())),
            mark=row["mark"],
        )
        for kind, row in rows.items()
    )
    return Table((row.kind, (), row) for row in made)


def read_findings(rows: Mapping[str, Any]) -> Table[FindingRow]:
    """The kinds of finding; fields beyond the known ones are kept in `extra`."""
    known = {"title", "level", "rule", "source", "mark", "limits"}
    made = (
        FindingRow(
            kind=kind,
            title=row.get("title", kind),
            level=row.get("level", "advice"),
            rule=row.get("rule", ""),
            source=row.get("source", ""),
            mark=row.get("mark", "from memory"),
            limits=tuple(row.get("limits") or ()),
            extra={key: value for key, value in row.items() if key not in known},
        )
        for kind, row in rows.items()
    )
    return Table((row.kind, (), row) for row in made)


def _words(row: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(str(word) for word in row.get("also", ()))
