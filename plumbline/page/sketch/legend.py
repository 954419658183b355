"""What the lines, marks and symbols of a sketch mean: those that occur in it."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element

from .letters import text_width
from .naming import vessel_lines
from .symbols import SYMBOLS, trouble_mark
from .trouble import TROUBLES
from .xml import element, number

if TYPE_CHECKING:
    from .drawn import Sketch

__all__ = ["entries", "legend", "letter_list", "wrapped"]

_ROW = 20.0
_SAMPLE = 46.0


def entries(sketch: Sketch) -> list[tuple[str, list[Element]]]:
    """Each meaning that occurs, with its sample drawn around the origin."""
    out: list[tuple[str, list[Element]]] = [
        (said, [element("text", {"text-anchor": "middle", "y": "4", "class": "letter-key"}, text=letter)])
        for letter, said in letter_list(sketch)
    ]
    out += [
        ("pipe, and the way the water goes", [element("path", {"class": "pipe sound middling", "d": "M-18 0H18"}),
                                              element("path", {"class": "arrow", "d": "M-4.5 -4.2L5 0L-4.5 4.2Z"})]),
    ]  # fmt: skip
    if sketch.strokes.crossings:
        out.append(("passes behind", [element("path", {"class": "pipe sound middling", "d": "M-18 0H-6M6 0H18"}),
                                      element("path", {"class": "pipe sound middling", "d": "M0 -8V8"})]))  # fmt: skip
    if sketch.behind:
        out.append(
            ("pipe behind a vessel", [element("path", {"class": "pipe behind sound middling", "d": "M-18 0H18"})])
        )
    spans = {span.trouble for span in sketch.trouble.spans}
    marks = spans | {mark.trouble for mark in sketch.trouble.marks}
    for name, said in TROUBLES.items():
        if name in marks:
            line = [element("path", {"class": f"pipe middling {name}", "d": "M-18 0H18"})] if name in spans else []
            out.append((said, [*line, element("g", {"class": "mark"}, trouble_mark(name))]))
    levels = {finding.level for finding in sketch.result.findings}
    for level, said in (
        ("fail", "finding that fails, by its number"),
        ("warn", "finding to attend to"),
        ("advice", "advice"),
    ):
        if level in levels:
            group = element("g", {"class": f"number {level}"}, [
                element("rect", {"x": "-8", "y": "-8", "width": "16", "height": "16", "rx": "2" if level == "fail" else "8"}),
                element("text", {"y": "4", "text-anchor": "middle", "class": "label"}, text="1"),
            ])  # fmt: skip
            out.append((said, [group]))
    if any(vessel.wants for vessel in sketch.result.layout.vessels.values()):
        number_of = element("text", {"text-anchor": "middle", "y": "4"}, text="8 of 10")
        out.append(("what a vessel gets, of what it wants", [number_of]))
    used = {spot.symbol for spot in sketch.spots}
    said_already = set()
    for name, symbol in SYMBOLS.items():
        if name in used and symbol.said not in said_already:
            said_already.add(symbol.said)
            out.append((symbol.said, _sample(name)))
    if any(text.look == "level" for text in sketch.texts.values()):
        height = element("text", {"text-anchor": "middle", "y": "4", "class": "height"}, text="+1.05")
        out.append(("height above the datum; ▽ of the water", [height]))
    if any(box.again for box in sketch.placed.boxes):
        out.append(("“again”: a vessel drawn twice, for an end that comes out elsewhere", []))
    return out


def letter_list(sketch: Sketch) -> list[tuple[str, str]]:
    """The letters that stand for vessels, each with what it stands for."""
    return [(letter, ": ".join(vessel_lines(sketch, name))) for name, letter in sketch.letters.items()]


def _sample(name: str) -> list[Element]:
    symbol = SYMBOLS[name]
    if name in ("sweep", "bend"):
        way = "M-14 6H-4Q6 6 6 -4V-10" if name == "sweep" else "M-16 5H-2Q2 5 4.5 2.5L14 -7"
        return [element("path", {"class": "pipe sound middling", "d": way})]
    if name == "elbow":
        corner = element(
            "g", {"transform": "translate(5 5)"}, [element("g", {"class": "symbol"}, symbol.draw((1.0, 0.0), 1.0))]
        )
        return [element("path", {"class": "pipe sound middling", "d": "M-14 5H5V-9"}), corner]
    faces = (0.0, -1.0) if name == "cap" else (1.0, 0.0)
    drawn = element("g", {"class": "symbol"}, symbol.draw(faces, 0.5 if name == "valve" else 1.0))
    if name in ("pump", "standpipe", "notch", "open end", "draw", "plug"):
        return [drawn]
    return [element("path", {"class": "pipe sound middling", "d": "M-18 0H18"}), drawn]


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
    items = entries(sketch)
    rows: list[Element] = []
    x, y = 14.0, 8.0
    for said, sample in items:
        wide = _SAMPLE + text_width(said, size) + 18.0
        if x + wide > width - 8.0 and x > 14.0:
            x, y = 14.0, y + _ROW
        rows.append(element("g", {"transform": f"translate({number(x + 20.0)} {number(y + 8.0)})"}, sample))
        for line in wrapped(said, width - x - _SAMPLE - 8.0, size):
            rows.append(
                element("text", {"x": number(x + _SAMPLE), "y": number(y + 12.0), "font-size": number(size)}, text=line)
            )
            y += 14.0
        y -= 14.0
        x += wide
    return y + _ROW + 12.0, rows
