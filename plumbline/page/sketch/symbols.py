"""The marks of the sketch, each a few strokes around a point, turned to lie along its pipe. Our own; the legend explains
those that occur."""

from __future__ import annotations

import math
from dataclasses import dataclass
from xml.etree.ElementTree import Element, fromstring

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


_DISC = '<circle r="5.6" class="open"/>'
_VALVE = _DISC + '<path d="M{shut}L{open}" class="bar"/>'
_NARROWS = "reducer, expander or nozzle"

SYMBOLS: dict[str, Symbol] = {
    "elbow": Symbol("elbow (tight)", 4.0, '<rect x="-2.6" y="-2.6" width="5.2" height="5.2" class="solid"/>'),
    "sweep": Symbol("sweep", 3.0),
    "bend": Symbol("bend", 2.0),
    "tee": Symbol("tee", 4.0, '<circle r="3.6" class="solid"/>'),
    "wye": Symbol("wye", 5.0, '<path d="M-4.5 -3.8L4.5 0L-4.5 3.8Z" class="solid"/>'),
    "cap": Symbol(
        "cap, the way it opens", 12.0, '<path d="M0 0L{tip}" class="stub"/><path d="M{left}L{right}" class="bar"/>'
    ),
    "plug": Symbol(
        "plug, glued",
        11.0,
        '<path d="M0 0L{stop}" class="stub"/><rect x="{x}" y="{y}" width="6.4" height="6.4" class="solid"/>',
    ),
    "valve": Symbol("valve: handle along the pipe is open, across it shut", 9.0, _VALVE),
    "check": Symbol(
        "check valve, the way it lets through",
        6.5,
        '<circle r="6" class="open"/><path d="M-3 -3.4L3.8 0L-3 3.4Z" class="solid"/>',
    ),
    "union": Symbol("union", 6.0, '<path d="M-2 -5.5V5.5M2 -5.5V5.5" class="bar"/>'),
    "bulkhead": Symbol("bulkhead", 6.0, '<path d="M-1.6 -5V5M1.6 -5V5M-4.5 -5V5" class="bar thin"/>'),
    "reducer": Symbol(_NARROWS, 5.5, '<path d="M-5 -5L5 -2.4V2.4L-5 5Z" class="solid"/>'),
    "expander": Symbol(_NARROWS, 5.5, '<path d="M5 -5L-5 -2.4V2.4L5 5Z" class="solid"/>'),
    "strainer": Symbol("strainer or screen", 6.0, _DISC + '<path d="M-3 -3L3 3M-3 3L3 -3" class="bar thin"/>'),
    "meter": Symbol("flow meter", 6.0, _DISC + '<path d="M0 0L2.6 -3.4" class="bar"/><circle r="1.3" class="solid"/>'),
    "coupling": Symbol("coupling", 5.0, '<rect x="-4.5" y="-3.4" width="9" height="6.8" class="open"/>'),
    "barb": Symbol(
        "barb, for hose", 5.5, '<path d="M-5 -3.6L-1.6 0L-5 3.6ZM-0.6 -3.6L2.8 0L-0.6 3.6Z" class="solid"/>'
    ),
    "filter": Symbol(
        "filter in the line",
        8.0,
        '<rect x="-7.5" y="-6" width="15" height="12" rx="3" class="open"/>'
        '<path d="M-4.5 4.5L1.5 -4.5M-0.5 4.5L5.5 -4.5" class="bar thin"/>',
    ),
    "unit": Symbol(
        "lamp, heater or the like in the line",
        8.5,
        '<rect x="-8" y="-4.5" width="16" height="9" rx="4.5" class="open"/><path d="M-4.5 0H4.5" class="bar thin"/>',
    ),
    "solenoid": Symbol(
        "solenoid valve, drawn as a valve", 11.5, _VALVE + '<rect x="-3" y="-11.5" width="6" height="5" class="solid"/>'
    ),
    "other": Symbol("other fitting", 5.5, '<path d="M-5 0L0 -5L5 0L0 5Z" class="open"/>'),
    "standpipe": Symbol("standpipe's top", 4.5, '<circle r="4" class="open"/>'),
    "notch": Symbol("notch or weir in a wall", 6.0, '<path d="M-6 -4H-3L0 3L3 -4H6V6H-6Z" class="open"/>'),
    "open end": Symbol("end in open air", 4.5, '<path d="M-4 -4V4" class="bar thin"/>'),
    "draw": Symbol("fixed draw or supply", 10.0, '<path d="M0 0H9M5 -4L10 0L5 4" class="bar thin"/>'),
    "pump": Symbol(
        "pump",
        10.0,
        '<rect x="-9" y="-9" width="18" height="18" rx="5" class="pump"/>'
        '<text y="4" class="letter" text-anchor="middle">P</text>',
    ),
}
"""The symbols, in the legend's order."""

_MARKS = {
    "dead": '<rect x="-4.5" y="-4.5" width="9" height="9" class="mark-dead"/><path d="M-2.4 0H2.4" class="mark-ink"/>',
    "uncleaned": '<path d="M-4.6 -4.6L4.6 4.6M-4.6 4.6L4.6 -4.6" class="mark-uncleaned"/>',
    "silts": '<path d="M-7 1.5Q-3.5 -4.5 0 1.5T7 1.5M-7 5.5Q-3.5 -0.5 0 5.5T7 5.5" class="mark-silts"/>',
    "under": '<circle r="5" class="mark-under"/><path d="M-2.6 0H2.6" class="mark-ink-under"/>',
    "sharp": '<path d="M0 -6L5.6 4H-5.6Z" class="mark-sharp"/>',
}


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
    return _elements(_MARKS[trouble])


def _elements(svg: str) -> list[Element]:
    return list(fromstring(f"<g>{svg}</g>"))


def _pair(x: float, y: float) -> str:
    return f"{number(x)} {number(y)}"
