"""The marks of the sketch, each a few strokes around a point, turned to lie along its pipe. Our own; the legend explains
those that occur."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from ... import catalogue
from .strokes import Point
from .xml import element, number

__all__ = ["SYMBOLS", "Symbol", "symbol_of", "trouble_mark"]

Draw = Callable[[Point, float], list[Element]]
"""Draws around the origin for a heading along the x axis; the second number is a valve's opening."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol: its name in the legend, half its size [px], and how it is drawn."""

    said: str
    half: float
    draw: Draw


def _path(d: str, kind: str = "solid") -> Element:
    return element("path", {"d": d, "class": kind})


def _circle(radius: float, kind: str = "open") -> Element:
    return element("circle", {"r": number(radius), "class": kind})


def _elbow(_: Point, __: float) -> list[Element]:
    return [element("rect", {"x": "-2.6", "y": "-2.6", "width": "5.2", "height": "5.2", "class": "solid"})]


def _nothing(_: Point, __: float) -> list[Element]:
    return []


def _tee(_: Point, __: float) -> list[Element]:
    return [_circle(3.6, "solid")]


def _wye(_: Point, __: float) -> list[Element]:
    return [_path("M-4.5 -3.8L4.5 0L-4.5 3.8Z")]


def _cap(faces: Point, _: float) -> list[Element]:
    """A stub out of the pipe, with a bar across its end."""
    x, y = faces
    tip = (11.0 * x, 11.0 * y)
    across = (-y * 5.0, x * 5.0)
    return [
        _path(f"M0 0L{number(tip[0])} {number(tip[1])}", "stub"),
        _path(f"M{number(tip[0] - across[0])} {number(tip[1] - across[1])}L{number(tip[0] + across[0])} "
              f"{number(tip[1] + across[1])}", "bar"),
    ]  # fmt: skip


def _plug(faces: Point, _: float) -> list[Element]:
    """Glued shut: a cross on a short stub."""
    x, y = faces
    return [
        _path(f"M0 0L{number(8 * x)} {number(8 * y)}", "stub"),
        element("rect", {"x": number(8 * x - 3.2), "y": number(8 * y - 3.2), "width": "6.4", "height": "6.4",
                         "class": "solid"}),
    ]  # fmt: skip


def _valve(_: Point, opening: float) -> list[Element]:
    """A disc and its handle: along the pipe when open, across it when shut, aslant in between."""
    angle = math.radians(90.0 * (1.0 - min(max(opening, 0.0), 1.0)))
    x, y = 8.5 * math.cos(angle), 8.5 * math.sin(angle)
    return [_circle(5.6), _path(f"M{number(-x)} {number(-y)}L{number(x)} {number(y)}", "bar")]


def _check(_: Point, __: float) -> list[Element]:
    return [_circle(6.0), _path("M-3 -3.4L3.8 0L-3 3.4Z")]


def _union(_: Point, __: float) -> list[Element]:
    return [_path("M-2 -5.5V5.5M2 -5.5V5.5", "bar")]


def _bulkhead(_: Point, __: float) -> list[Element]:
    return [_path("M-1.6 -5V5M1.6 -5V5M-4.5 -5V5", "bar thin")]


def _reducer(_: Point, __: float) -> list[Element]:
    return [_path("M-5 -5L5 -2.4V2.4L-5 5Z")]


def _expander(_: Point, __: float) -> list[Element]:
    return [_path("M5 -5L-5 -2.4V2.4L5 5Z")]


def _strainer(_: Point, __: float) -> list[Element]:
    return [_circle(5.6), _path("M-3 -3L3 3M-3 3L3 -3", "bar thin")]


def _meter(_: Point, __: float) -> list[Element]:
    return [_circle(5.6), _path("M0 0L2.6 -3.4", "bar"), _circle(1.3, "solid")]


def _coupling(_: Point, __: float) -> list[Element]:
    return [element("rect", {"x": "-4.5", "y": "-3.4", "width": "9", "height": "6.8", "class": "open"})]


def _barb(_: Point, __: float) -> list[Element]:
    """Teeth of a barb."""
    return [_path("M-5 -3.6L-1.6 0L-5 3.6ZM-0.6 -3.6L2.8 0L-0.6 3.6Z")]


def _filter(_: Point, __: float) -> list[Element]:
    """A vessel in the line, hatched."""
    box = element("rect", {"x": "-7.5", "y": "-6", "width": "15", "height": "12", "rx": "3", "class": "open"})
    return [box, _path("M-4.5 4.5L1.5 -4.5M-0.5 4.5L5.5 -4.5", "bar thin")]


def _unit(_: Point, __: float) -> list[Element]:
    box = element("rect", {"x": "-8", "y": "-4.5", "width": "16", "height": "9", "rx": "4.5", "class": "open"})
    return [box, _path("M-4.5 0H4.5", "bar thin")]


def _solenoid(_: Point, opening: float) -> list[Element]:
    """A valve with a coil on top."""
    return [
        *_valve(_, opening),
        element("rect", {"x": "-3", "y": "-11.5", "width": "6", "height": "5", "class": "solid"}),
    ]


def _other(_: Point, __: float) -> list[Element]:
    return [_path("M-5 0L0 -5L5 0L0 5Z", "open")]


def _standpipe(_: Point, __: float) -> list[Element]:
    return [_circle(4.0)]


def _notch(_: Point, __: float) -> list[Element]:
    """A wall, cut down in the middle."""
    return [_path("M-6 -4H-3L0 3L3 -4H6V6H-6Z", "open")]


def _open_end(_: Point, __: float) -> list[Element]:
    return [_path("M-4 -4V4", "bar thin")]


def _draw_off(_: Point, __: float) -> list[Element]:
    return [_path("M0 0H9M5 -4L10 0L5 4", "bar thin")]


def _pump(_: Point, __: float) -> list[Element]:
    letter = element("text", {"y": "4", "class": "letter", "text-anchor": "middle"})
    letter.text = "P"
    return [element("rect", {"x": "-9", "y": "-9", "width": "18", "height": "18", "rx": "5", "class": "pump"}), letter]


SYMBOLS: dict[str, Symbol] = {
    "elbow": Symbol("elbow (tight)", 4.0, _elbow),
    "sweep": Symbol("sweep", 3.0, _nothing),
    "bend": Symbol("bend", 2.0, _nothing),
    "tee": Symbol("tee", 4.0, _tee),
    "wye": Symbol("wye", 5.0, _wye),
    "cap": Symbol("cap, the way it opens", 12.0, _cap),
    "plug": Symbol("plug, glued", 11.0, _plug),
    "valve": Symbol("valve: handle along the pipe is open, across it shut", 9.0, _valve),
    "check": Symbol("check valve, the way it lets through", 6.5, _check),
    "union": Symbol("union", 6.0, _union),
    "bulkhead": Symbol("bulkhead", 6.0, _bulkhead),
    "reducer": Symbol("reducer, expander or nozzle", 5.5, _reducer),
    "expander": Symbol("reducer, expander or nozzle", 5.5, _expander),
    "strainer": Symbol("strainer or screen", 6.0, _strainer),
    "meter": Symbol("flow meter", 6.0, _meter),
    "coupling": Symbol("coupling", 5.0, _coupling),
    "barb": Symbol("barb, for hose", 5.5, _barb),
    "filter": Symbol("filter in the line", 8.0, _filter),
    "unit": Symbol("lamp, heater or the like in the line", 8.5, _unit),
    "solenoid": Symbol("solenoid valve, drawn as a valve", 11.5, _solenoid),
    "other": Symbol("other fitting", 5.5, _other),
    "standpipe": Symbol("standpipe's top", 4.5, _standpipe),
    "notch": Symbol("notch or weir in a wall", 6.0, _notch),
    "open end": Symbol("end in open air", 4.5, _open_end),
    "draw": Symbol("fixed draw or supply", 10.0, _draw_off),
    "pump": Symbol("pump", 10.0, _pump),
}
"""The symbols, in the legend's order."""


def symbol_of(kind: str) -> str:
    """The symbol of a fitting, by the catalogue's name."""
    return catalogue.fittings()[kind].symbol


def trouble_mark(trouble: str) -> list[Element]:
    """The mark of a trouble, around the origin: a shape of its own, so that colour is not needed."""
    match trouble:
        case "dead":
            return [element("rect", {"x": "-4.5", "y": "-4.5", "width": "9", "height": "9", "class": "mark-dead"}),
                    _path("M-2.4 0H2.4", "mark-ink")]  # fmt: skip
        case "uncleaned":
            return [_path("M-4.6 -4.6L4.6 4.6M-4.6 4.6L4.6 -4.6", "mark-uncleaned")]
        case "silts":
            return [_path("M-7 1.5Q-3.5 -4.5 0 1.5T7 1.5M-7 5.5Q-3.5 -0.5 0 5.5T7 5.5", "mark-silts")]
        case "under":
            return [element("circle", {"r": "5", "class": "mark-under"}), _path("M-2.6 0H2.6", "mark-ink-under")]
        case _:
            return [_path("M0 -6L5.6 4H-5.6Z", "mark-sharp")]
