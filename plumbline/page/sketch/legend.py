"""The marks of the sketch, each a few strokes around a point, turned to lie along its pipe; and what those that occur in it mean."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, fromstring

from ...catalogue.reading import data
from .letters import text_width
from .naming import vessel_lines
from .strokes import Point
from .trouble import TROUBLES
from .xml import element, number

if TYPE_CHECKING:
    from .drawn import Sketch

__all__ = ["SYMBOLS", "Symbol", "arrow_head", "drawn", "entries", "legend", "letter_list", "trouble_mark", "wrapped"]

_ROW = 20.0
_SAMPLE = 46.0


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


def arrow_head(there: str = "") -> Element:
    """The arrow that tells which way the water goes, moved there by a transformation."""
    return element("path", class_="arrow", d="M-4.5 -4.2L5 0L-4.5 4.2Z", **({"transform": there} if there else {}))


def entries(sketch: Sketch) -> Iterator[tuple[str, list[Element]]]:
    """Each meaning that occurs, with its sample drawn around the origin."""
    for letter, said in letter_list(sketch):
        yield said, [_words(letter, "letter-key")]
    yield "pipe, and the way the water goes", [_pipe(), arrow_head()]
    if sketch.strokes.crossings:
        yield "passes behind", [_pipe("M-18 0H-6M6 0H18"), _pipe("M0 -8V8")]
    if sketch.behind:
        yield "pipe behind a vessel", [_pipe(look="behind sound middling")]
    spans = {span.trouble for span in sketch.trouble.spans}
    marks = spans | {mark.trouble for mark in sketch.trouble.marks}
    for name, said in TROUBLES.items():
        if name in marks:
            line = [_pipe(look=f"middling {name}")] if name in spans else []
            yield said, [*line, element("g", *trouble_mark(name), class_="mark")]
    levels = {finding.level for finding in sketch.result.findings}
    for level, said in (
        ("fail", "finding that fails, by its number"),
        ("warn", "finding to attend to"),
        ("advice", "advice"),
    ):
        if level in levels:
            badge = element("rect", x=-8, y=-8, width=16, height=16, rx=2 if level == "fail" else 8)
            one = element("text", y=4, text_anchor="middle", class_="label", text="1")
            yield said, [element("g", badge, one, class_=f"number {level}")]
    if any(vessel.wants for vessel in sketch.result.layout.vessels.values()):
        yield "what a vessel gets, of what it wants", [_words("8 of 10")]
    used = {spot.symbol for spot in sketch.spots}
    told: dict[str, str] = {}
    for name, symbol in SYMBOLS.items():
        if name in used:
            told.setdefault(symbol.said, name)
    yield from ((said, _sample(name)) for said, name in told.items())
    if any(label.look == "level" for label in sketch.wanted):
        yield "height above the datum; ▽ of the water", [_words("+1.05", "height")]
    if any(box.again for box in sketch.placed.boxes):
        yield "“again”: a vessel drawn twice, for an end that comes out elsewhere", []


def letter_list(sketch: Sketch) -> list[tuple[str, str]]:
    """The letters that stand for vessels, each with what it stands for."""
    return [(letter, ": ".join(vessel_lines(sketch, name))) for name, letter in sketch.letters.items()]


def _words(said: str, look: str = "") -> Element:
    return element("text", text_anchor="middle", y=4, text=said, **({"class_": look} if look else {}))


def _pipe(d: str = "M-18 0H18", look: str = "sound middling") -> Element:
    return element("path", class_=f"pipe {look}", d=d)


def _sample(name: str) -> list[Element]:
    if name in ("sweep", "bend"):
        return [_pipe("M-14 6H-4Q6 6 6 -4V-10" if name == "sweep" else "M-16 5H-2Q2 5 4.5 2.5L14 -7")]
    faces = (0.0, -1.0) if name == "cap" else (1.0, 0.0)
    symbol = element("g", *drawn(name, faces, 0.5 if name == "valve" else 1.0), class_="symbol")
    if name == "elbow":
        return [_pipe("M-14 5H5V-9"), element("g", symbol, transform="translate(5 5)")]
    return [symbol] if name in ("pump", "standpipe", "notch", "open end", "draw", "plug") else [_pipe(), symbol]


def wrapped(text: str, width: float, size: float) -> list[str]:
    """A text in lines no wider than `width` [px].

    >>> wrapped("one two three", 50.0, 10.0)
    ['one two', 'three']
    """
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, size) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def legend(sketch: Sketch, width: float) -> tuple[float, list[Element]]:
    """The legend in columns below a drawing: its height, and its elements from the drawing's lower left."""
    size = sketch.size - 1.0
    rows: list[Element] = []
    x, y = 14.0, 8.0
    for said, sample in entries(sketch):
        wide = _SAMPLE + text_width(said, size) + 18.0
        if x + wide > width - 8.0 and x > 14.0:
            x, y = 14.0, y + _ROW
        rows.append(element("g", *sample, transform=f"translate({number(x + 20.0)} {number(y + 8.0)})"))
        lines = wrapped(said, width - x - _SAMPLE - 8.0, size)
        rows += [
            element("text", x=x + _SAMPLE, y=y + 12.0 + 14.0 * k, font_size=size, text=line)
            for k, line in enumerate(lines)
        ]
        x, y = x + wide, y + 14.0 * (len(lines) - 1)
    return y + _ROW + 12.0, rows
