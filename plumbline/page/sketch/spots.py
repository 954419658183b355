"""What stands on the pipe: symbols of fittings and ends, arrows, and marks of trouble, each with its place on paper."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ... import catalogue
from ...check import CheckResult
from ...layout.model import End, Line
from .strokes import Point, Strokes, pump_places
from .trouble import Trouble
from .views import View

__all__ = ["Spot", "arrows_of", "marks_of", "spots_of"]


@dataclass(frozen=True, slots=True)
class Spot:
    """A symbol on the paper: which, where, how it is turned [rad], the way it opens, and how far it is open."""

    symbol: str
    place: Point
    turn: float = 0.0
    faces: Point = (1.0, 0.0)
    opening: float = 1.0


def spots_of(result: CheckResult, strokes: Strokes, view: View) -> Iterator[Spot]:
    """The symbols of fittings, of the ends of lines, and of pumps."""

    def seen(way: tuple[float, float, float]) -> Point:
        x, y, _ = view(way)
        size = math.hypot(x, y)
        return (x / size, y / size) if size > 0.05 else (0.0, 0.0)

    for line in result.layout.lines.values():
        for part in line.parts:
            if part.is_pipe:
                continue
            place, (x, y) = strokes.place(line.name, part.at), strokes.heading(line.name, part.at)
            symbol = catalogue.fittings()[part.kind].symbol
            if symbol in ("cap", "plug"):
                yield Spot(symbol, place, 0.0, (x, y) if part.faces is None else seen(part.faces))
            else:
                yield Spot(symbol, place, math.atan2(y, x), opening=part.opening)
        yield from _end(strokes, line, line.start, 0.0, -1.0)
        yield from _end(strokes, line, line.end, line.length, 1.0)
    yield from (Spot("pump", place) for place in pump_places(result.layout, strokes).values())


def _end(strokes: Strokes, line: Line, end: End, at: float, sign: float) -> Iterator[Spot]:
    place, (x, y) = strokes.place(line.name, at), strokes.heading(line.name, at)
    turn = math.atan2(sign * y, sign * x)
    if end.kind in ("cap", "plug"):
        yield Spot(end.kind, place, 0.0, (sign * x, sign * y))
    elif end.kind == "indexing valve":
        yield Spot("valve", place, turn)
    elif end.kind == "open air":
        yield Spot("open end", place, turn)
    elif end.kind == "draw":
        yield Spot("draw", place, turn if end.draw >= 0.0 else turn + math.pi)
    elif end.port == "standpipe":
        yield Spot("notch" if end.weir else "standpipe", place)


def _clear(place: Point, taken: Sequence[Point]) -> float:
    """How far a place is from what stands already [px]."""
    return min((math.dist(place, one) for one in taken), default=99.0)


def arrows_of(result: CheckResult, strokes: Strokes, taken: Sequence[Point]) -> Iterator[Spot]:
    """An arrow the way the water goes, in the middle of the longest free piece of each stretch."""
    for stretch in result.layout.stretches:
        flow = result.flows.stretches[stretch.id].flow
        if abs(flow) < 1e-9:
            continue
        best: tuple[float, Point, float] | None = None
        for points in strokes.pieces(stretch.line, stretch.start, stretch.stop):
            for a, b in pairwise(points):
                length = math.dist(a, b)
                for share in (0.5, 0.35, 0.65):
                    place = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
                    longer = length >= 16.0 and (best is None or length > best[0] + 1e-6)
                    if longer and _clear(place, taken) >= 12.0:
                        best = (length, place, math.atan2(b[1] - a[1], b[0] - a[0]))
        if best is not None:
            yield Spot("arrow", best[1], best[2] + (math.pi if flow < 0.0 else 0.0))


def marks_of(strokes: Strokes, trouble: Trouble, taken: Sequence[Point]) -> Iterator[tuple[str, Point]]:
    """Where the marks of trouble stand: on the pipe, two where it is long, clear of each other and of symbols."""
    used = list(taken)
    for span in trouble.spans:
        long = sum(math.dist(a, b) for a, b in pairwise(strokes.trace(span.line, span.low, span.high))) > 170.0
        wanted = 2 if long else 1
        gaps = strokes.gaps.get(span.line, ())
        for share in (*((0.3, 0.7) if long else ()), 0.5, 0.38, 0.62, 0.26, 0.74, 0.14, 0.86):
            at = span.low + share * (span.high - span.low)
            place = strokes.place(span.line, at)
            if wanted and not any(low <= at <= high for low, high in gaps) and _clear(place, used) > 13.0:
                used.append(place)
                wanted -= 1
                yield span.trouble, place
    for mark in trouble.marks:
        where = _outside if mark.trouble == "sharp" else Strokes.place
        yield mark.trouble, where(strokes, mark.line, mark.low)


def _outside(strokes: Strokes, line: str, at: float) -> Point:
    """A place just outside a corner."""
    pieces = [one for one in strokes.segments[line] if one.length > 0.5]
    before = next((one for one in reversed(pieces) if one.at_b <= at + 1e-6), None)
    after = next((one for one in pieces if one.at_a >= at - 1e-6), None)
    x, y = strokes.place(line, at)
    if before is None or after is None:
        return (x + 9.0, y - 9.0)
    dx, dy = before.way[0] - after.way[0], before.way[1] - after.way[1]
    size = math.hypot(dx, dy) or 1.0
    return (x + 10.0 * dx / size, y + 10.0 * dy / size)
