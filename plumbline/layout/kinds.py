"""What kind of value a text is: a quantity, a head, a slope, a heading."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from ..units import DIMENSIONS, Dimension, NotAQuantity, as_quantity, quantity
from .faults import listed
from .model import Vector
from .nodes import Node
from .words import DIRECTIONS, Key

__all__ = ["OF_WATER", "heading_of", "is_a", "plain", "reads", "slope_of", "with_unit"]

OF_WATER = re.compile(r"(?<=[\w'\"])(?: of)? ?(?:head|water(?: column| gauge)?|h2o|w\.?[cg]\.?)$", re.IGNORECASE)
"""What stands behind the unit of a head that is told as a column of water."""


def plain(text: str) -> str:
    """The text with its runs of spaces made one.

    >>> plain("  ball   valve ")
    'ball valve'
    """
    return " ".join(text.split())


def reads(node: Node, key: Key) -> bool:
    """Whether a value is of the kind that a key takes, be it in its bounds or not.

    >>> from plumbline.layout.model import Mark
    >>> [reads(Node(Mark(1, 1), text=said), Key("slope", "", "")) for said in ("2 %", "1 in 50", "40 mm", "kerb")]
    [True, True, False, False]
    """
    text = plain(node.text or "")
    if key.takes == "slope":
        return slope_of(text) is not None
    text = OF_WATER.sub("", text) if key.takes == "head" else text
    kinds = {"head": ("length", "pressure"), "areas": ("area",)}.get(key.takes, (key.takes,))
    known = [kind for kind in kinds if kind in DIMENSIONS]
    return any(is_a(text, kind) for kind in known) if known else node.text is None or key.takes == "text"


def with_unit(text: str, dimension: Dimension) -> str:
    """What to write for a number that has no unit, or one for degrees of any scale; "" for any other.

    >>> with_unit("22", "temperature"), with_unit("19 degrees", "temperature"), with_unit("3 kg", "length")
    ('write 22 degC or 22 degF', 'write 19 degC or 19 degF', '')
    """
    said = re.fullmatch(
        r"\s*([-+]?[\d.,/ ]*\d)\s*" + (r"(?:deg|degrees?|°)?\s*" if dimension == "temperature" else ""), text
    )
    units = re.findall(r"\d ([^\s,]+)", DIMENSIONS[dimension][1])
    return f"write {listed(f'{said[1]} {unit}' for unit in units)}" if said and units else ""


def is_a(text: str, dimension: Dimension) -> bool:
    """Whether a text is a quantity of that dimension."""
    return as_quantity(text, dimension) is not None


def slope_of(text: str) -> float | None:
    """How steep a slope is, as a share; None where a text says none.

    >>> [slope_of(text) for text in ("2 %", "1 in 50", "1:50", "20 mm/m", "2 cm per m", "steep")]
    [0.02, 0.02, 0.02, 0.02, 0.02, None]
    >>> [round(slope_of(text), 6) for text in ("1/4 in per ft", "1 deg", "30 mm in 3 m", "2 in over 8 ft", "1 in in 4 ft")]
    [0.020833, 0.017455, 0.01, 0.020833, 0.020833]
    """
    said = plain(text)
    found = re.fullmatch(r"(.+?)\s*(?:\bin\b|:|\bto\b)\s*([\d.]+)", said)
    parts = re.fullmatch(r"(.+?)\s*(?:/|\bper\b|\bto the\b)\s*(m|metre|meter|ft|foot|yd)", said)
    whole = re.fullmatch(r"(.+?)\s*\b(?:in|over|on|per)\s+(\d.*)", said)
    try:
        if found:
            return quantity(found[1], "ratio") / quantity(found[2], "ratio")
        if parts:
            return quantity(parts[1], "length") / quantity(f"1 {parts[2]}", "length")
        if whole:
            return quantity(whole[1], "length") / quantity(whole[2], "length")
        if said.endswith(("deg", "°")):
            return math.tan(quantity(said, "angle"))
        return quantity(said, "ratio")
    except (NotAQuantity, ZeroDivisionError):
        return None


def heading_of(parts: Mapping[str, float], ways: Mapping[str, Vector] = DIRECTIONS) -> Vector | None:
    """The unit vector of a sum of directions, None where they cancel or there are none.

    >>> heading_of({"up": 1.0})
    (0.0, 0.0, 1.0)
    """
    total = [0.0, 0.0, 0.0]
    for word, amount in parts.items():
        for axis, step in enumerate(ways[word]):
            total[axis] += amount * step
    size = math.sqrt(sum(value * value for value in total))
    if size < 1e-12:
        return None
    return (total[0] / size, total[1] / size, total[2] / size)
