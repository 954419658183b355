"""What stands on the pipe: symbols of fittings and ends, arrows, and marks of trouble, each with its place on paper."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ...check import CheckResult
from ...layout.model import End, Line
from .strokes import Point, Strokes
from .symbols import symbol_of
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
    layout = result.layout

    def seen(way: tuple[float, float, float]) -> Point:
        x, y, _ = view(way)
        size = math.hypot(x, y)
        return (x / size, y / size) if size > 0.05 else (0.0, 0.0)

    for line in layout.lines.values():
        for part in line.parts:
            if part.is_pipe:
                continue
            place, (x, y) = strokes.place(line.name, part.at), strokes.heading(line.name, part.at)
            symbol = symbol_of(part.kind)
            faces = seen(part.faces) if part.faces is not None else (x, y)
            if symbol in ("cap", "plug"):
                yield Spot(symbol, place, 0.0, faces)
            else:
                yield Spot(symbol, place, math.atan2(y, x), (1.0, 0.0), part.opening)
        for end, at, sign in ((line.start, 0.0, -1.0), (line.end, line.length, 1.0)):
            yield from _end(result, strokes, line, end, at, sign)
    pumps = {}
    for line in layout.lines.values():
        for end, at in ((line.end, line.length), (line.start, 0.0)):
            if end.kind == "pump" and end.name is not None:
                pumps[end.name] = strokes.place(line.name, at)
    for place in pumps.values():
        yield Spot("pump", place)


def _end(result: CheckResult, strokes: Strokes, line: Line, end: End, at: float, sign: float) -> Iterator[Spot]:
    place, (x, y) = strokes.place(line.name, at), strokes.heading(line.name, at)
    out = (sign * x, sign * y)
    turn = math.atan2(out[1], out[0])
    if end.kind in ("cap", "plug"):
        yield Spot(end.kind, place, 0.0, out)
    elif end.kind == "indexing valve":
        yield Spot("valve", place, turn)
    elif end.kind == "open air":
        yield Spot("open end", place, turn)
    elif end.kind == "draw":
        yield Spot("draw", place, turn if end.draw >= 0.0 else turn + math.pi)
    elif end.port == "standpipe":
        yield Spot("standpipe", place)


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
                    clear = min((math.dist(place, one) for one in taken), default=99.0)
                    if length >= 16.0 and clear >= 12.0 and (best is None or length > best[0] + 1e-6):
                        best = (length, place, math.atan2(b[1] - a[1], b[0] - a[0]))
        if best is not None:
            yield Spot("arrow", best[1], best[2] + (math.pi if flow < 0.0 else 0.0))


def marks_of(strokes: Strokes, trouble: Trouble, taken: Sequence[Point]) -> Iterator[tuple[str, Point]]:
    """Where the marks of trouble stand: on the pipe, two where it is long, clear of each other and of symbols."""
    used = list(taken)
    for span in trouble.spans:
        points = strokes.trace(span.line, span.low, span.high)
        long = sum(math.dist(a, b) for a, b in pairwise(points))
        shares = (0.5, 0.38, 0.62, 0.26, 0.74, 0.14, 0.86)
        wanted = 2 if long > 170.0 else 1
        tries = [
            (span.low + share * (span.high - span.low)) for share in (shares if wanted == 1 else (0.3, 0.7, *shares))
        ]
        gaps = strokes.gaps.get(span.line, ())
        for at in tries:
            if wanted == 0:
                break
            place = strokes.place(span.line, at)
            hidden = any(low <= at <= high for low, high in gaps)
            if not hidden and min((math.dist(place, one) for one in used), default=99.0) > 13.0:
                used.append(place)
                wanted -= 1
                yield span.trouble, place
    for mark in trouble.marks:
        x, y = strokes.place(mark.line, mark.at)
        if mark.trouble == "sharp":
            yield mark.trouble, _outside(strokes, mark.line, mark.at)
        else:
            yield mark.trouble, (x, y)


def _outside(strokes: Strokes, line: str, at: float) -> Point:
    """A place just outside a corner."""
    pieces = [one for one in strokes.segments[line] if one.length > 0.5]
    before = next((one for one in reversed(pieces) if one.at_b <= at + 1e-6), None)
    after = next((one for one in pieces if one.at_a >= at - 1e-6), None)
    x, y = strokes.place(line, at)
    if before is None or after is None:
        return (x + 9.0, y - 9.0)
    ux, uy = (before.b[0] - before.a[0]) / before.length, (before.b[1] - before.a[1]) / before.length
    vx, vy = (after.b[0] - after.a[0]) / after.length, (after.b[1] - after.a[1]) / after.length
    dx, dy = ux - vx, uy - vy
    size = math.hypot(dx, dy) or 1.0
    return (x + 10.0 * dx / size, y + 10.0 * dy / size)
