"""The marks of the sketch, each a few strokes around a point, turned to lie along its pipe. Our own; the legend explains
those that occur."""

from __future__ import annotations

import math
from dataclasses import dataclass
from xml.etree.ElementTree import Element, fromstring

from ...catalogue.reading import data
from .strokes import Point
from .xml import number

__all__ = ["SYMBOLS", "Symbol", "drawn", "trouble_mark"]


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol: its name in the legend, half its size [px], and its SVG around the origin for a heading along the x axis; braces
    stand for what turns by itself (see `drawn`)."""

    said: str
    half: float
    svg: str = ""


SYMBOLS = {name: Symbol(**row) for name, row in data("symbols.yaml")["symbols"].items()}
"""The symbols, in the legend's order."""


def drawn(name: str, faces: Point = (1.0, 0.0), opening: float = 1.0) -> list[Element]:
    """A symbol around the origin: a cap or a plug on a stub the way it `faces`, a valve's handle along its pipe when open, across it
    when shut, aslant in between."""
    x, y = faces
    angle = math.radians(90.0 * (1.0 - min(max(opening, 0.0), 1.0)))
    handle = 8.5 * math.cos(angle), 8.5 * math.sin(angle)
    return _elements(
        SYMBOLS[name].svg.format(
            tip=_pair(11.0 * x, 11.0 * y),
            left=_pair(11.0 * x + 5.0 * y, 11.0 * y - 5.0 * x),
            right=_pair(11.0 * x - 5.0 * y, 11.0 * y + 5.0 * x),
            stop=_pair(8.0 * x, 8.0 * y),
            x=number(8.0 * x - 3.2),
            y=number(8.0 * y - 3.2),
            open=_pair(*handle),
            shut=_pair(-handle[0], -handle[1]),
        )
    )


def trouble_mark(trouble: str) -> list[Element]:
    """The mark of a trouble, around the origin: a shape of its own, so that colour is not needed."""
    return _elements(data("symbols.yaml")["troubles"][trouble]["svg"])


def _elements(svg: str) -> list[Element]:
    return list(fromstring(f"<g>{svg}</g>"))


def _pair(x: float, y: float) -> str:
    return f"{number(x)} {number(y)}"
