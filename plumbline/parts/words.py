"""What parts are called, those of the catalogue and those that a layout implies."""

from __future__ import annotations

import math
from collections.abc import Mapping

from .. import catalogue

__all__ = ["OWN_KINDS", "part_kinds", "part_name"]

OWN_KINDS: Mapping[str, str] = {
    "reducing bush": "reducing bush",
    "adapter": "adapter from one pipe to another",
    "pump adapter": "pump adapter",
    "end cap": "screwed access cap on a pipe's end",
    "end plug": "glued cap on a pipe's end",
    "sleeve": "sleeve around a standpipe",
    "bell": "bell over a siphon's standpipe",
    "float valve": "float valve",
    "dry socket": "socket for a standpipe, left dry",
}
"""Kinds of parts that are no fittings of the language, and their names in a list."""


def part_kinds() -> tuple[str, ...]:
    """Every kind of part that a price file may name: fittings, and ends with a mark of their own, and what a layout implies."""
    return (
        *(name for name, row in catalogue.fittings().items() if row.place == "route" or row.symbol != "other"),
        *OWN_KINDS,
    )


def part_name(kind: str, turn: float = 0.0) -> str:
    """How a parts list calls a part; `turn` [rad] matters for bends of any angle, and for caps at a corner of 45°.

    >>> part_name("elbow"), part_name("bend", math.radians(30.0)), part_name("coupling")
    ('90° elbow', 'bend of 30°', 'coupling')
    """
    if kind in OWN_KINDS:
        return OWN_KINDS[kind]
    name = catalogue.fittings()[kind].parts
    degrees = math.degrees(turn)
    if kind == "bend":
        return f"bend of {degrees:.3g}°"
    if kind in ("cap", "plug") and 10.0 < degrees < 80.0:
        return name.replace("tee", "45° wye")
    return "reducer" if kind == "expander" else name
