"""The pipe on paper: each line as a stroke with its place along the line, and which stroke passes in front where two cross."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations, pairwise

from ...layout.model import Layout, Line
from ...upkeep.intervals import Interval, Intervals, by_line, subtract
from .places import Placed
from .views import View
from .xml import polyline

__all__ = ["Crossing", "Point", "Segment", "Strokes", "draw_strokes", "pump_places"]

Point = tuple[float, float]
"""Across and down the paper [px]."""

_Corner = tuple[float, float, float, float]
"""Across and down the paper [px], nearness to the eye, and place along the line [m]."""

_ROUND = {"sweep": 11.0, "bend 45": 6.0, "bend 22.5": 6.0, "bend": 6.0}
"""Radius with which a corner is rounded [px]; other corners are sharp."""

_GAP = 6.5
"""Half the gap in a pipe that passes behind another, where they cross square [px]."""


@dataclass(frozen=True, slots=True)
class Segment:
    """A straight piece of a line's stroke: places on paper [px], nearness to the eye, and place along the line [m]."""

    line: str
    a: Point
    b: Point
    near_a: float
    near_b: float
    at_a: float
    at_b: float

    @property
    def length(self) -> float:
        """On paper [px]."""
        return math.dist(self.a, self.b)

    @property
    def way(self) -> Point:
        """From `a` to `b`, as a unit vector."""
        return ((self.b[0] - self.a[0]) / self.length, (self.b[1] - self.a[1]) / self.length)

    def point(self, share: float) -> Point:
        """A place on paper, a share of the way from `a` to `b`."""
        return (self.a[0] + share * (self.b[0] - self.a[0]), self.a[1] + share * (self.b[1] - self.a[1]))


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where `behind` passes behind `front`, at `place` on paper."""

    front: Segment
    behind: Segment
    place: Point


@dataclass
class Strokes:
    """All strokes. `segments` by line in the order of the walk; `gaps` [m along the line] where a line passes behind."""

    segments: dict[str, list[Segment]]
    crossings: list[Crossing] = field(default_factory=list)
    gaps: dict[str, Intervals] = field(default_factory=dict)
    overlap: float = 0.0

    def every(self) -> list[Segment]:
        """The segments of all lines."""
        return [one for line in self.segments.values() for one in line]

    def place(self, line: str, at: float) -> Point:
        """Where a place along a line is on paper."""
        pieces = self.segments[line]
        one = next((one for one in pieces if at <= one.at_b + 1e-9), None)
        if one is None:
            return pieces[-1].b
        span = one.at_b - one.at_a
        return one.point(0.0 if span <= 1e-12 else min(max((at - one.at_a) / span, 0.0), 1.0))

    def heading(self, line: str, at: float) -> Point:
        """The way the stroke goes at a place along its line, as a unit vector; (1, 0) where it has no length."""
        seen = [one for one in self.segments[line] if one.length > 0.5]
        begun = [one for one in seen if one.at_a - 1e-9 <= at]
        last = begun[-1] if begun else seen[0] if seen else None
        best = next((one for one in begun if at < one.at_b - 1e-9), last)
        return (1.0, 0.0) if best is None else best.way

    def pieces(self, line: str, low: float, high: float) -> list[list[Point]]:
        """The visible pieces of a line between two places [m along it], without the gaps where it passes behind."""
        return [self.trace(line, *span) for span in subtract([(low, high)], self.gaps.get(line, ()))]

    def path(self, line: str, low: float, high: float) -> str:
        """The visible pieces of a line as path data; "" where nothing is to be seen."""
        return "".join(polyline(piece) for piece in self.pieces(line, low, high) if len(piece) > 1)

    def trace(self, line: str, low: float, high: float) -> list[Point]:
        """The stroke between two places along a line, gaps or not."""
        between = [one.b for one in self.segments[line] if low < one.at_b < high]
        points = [self.place(line, low), *between, self.place(line, high)]
        return [points[0], *(b for a, b in pairwise(points) if math.dist(a, b) > 1e-6)]


def pump_places(layout: Layout, strokes: Strokes) -> dict[str, Point]:
    """Where each pump stands that a line begins or ends at: by the line that it feeds, if any."""
    ends = [(line.end, line.name, line.length) for line in layout.lines.values()]
    ends += [(line.start, line.name, 0.0) for line in layout.lines.values()]
    return {end.name: strokes.place(line, at) for end, line, at in ends if end.kind == "pump" and end.name is not None}


def draw_strokes(layout: Layout, placed: Placed, view: View, scale: float, shift: Point) -> Strokes:
    """Project every line, as it was `placed`, and find the crossings. `scale` and `shift` [px] are of a drawn length of one and of the
    origin."""
    strokes = Strokes(
        {
            name: [
                Segment(name, a[:2], b[:2], a[2], b[2], a[3], b[3])
                for a, b in pairwise(_rounded(*_corners(line, placed, view, scale, shift)))
            ]
            for name, line in layout.lines.items()
        }
    )
    _cross(strokes)
    return strokes


def _corners(line: Line, placed: Placed, view: View, scale: float, shift: Point) -> tuple[list[_Corner], list[float]]:
    """The corners of a line, and the radius of each; one without length has the same corner twice."""

    def corner(number: int, at: float) -> _Corner:
        x, y, near = view(placed.points[line.name, number])
        return (x * scale + shift[0], y * scale + shift[1], near, at)

    flat, turns = [corner(0, 0.0)], [0.0]
    for part, (tail, head) in zip(line.parts, placed.skeleton.parts[line.name], strict=True):
        if tail != head:
            flat.append(corner(head, part.at + part.length))
            turns.append(0.0)
        elif part.kind in _ROUND and part.turn > 0.02:
            turns[-1] = _ROUND[part.kind]
    return (flat, turns) if len(flat) > 1 else (flat * 2, turns * 2)


def _rounded(flat: Sequence[_Corner], turns: Sequence[float]) -> Iterator[_Corner]:
    """The corners of a stroke, those of sweeps and bends replaced by a curve."""
    yield flat[0]
    for before, here, after, radius in zip(flat, flat[1:], flat[2:], turns[1:], strict=False):
        lengths = math.dist(before[:2], here[:2]), math.dist(here[:2], after[:2])
        cut = min(radius, 0.45 * lengths[0], 0.45 * lengths[1])
        if cut < 1.0:
            yield here
            continue
        start = tuple(h + (b - h) * cut / lengths[0] for h, b in zip(here, before, strict=True))
        stop = tuple(h + (a - h) * cut / lengths[1] for h, a in zip(here, after, strict=True))
        for t in (0.0, 0.25, 0.5, 0.75, 1.0):
            yield tuple(
                (1 - t) ** 2 * p + 2 * t * (1 - t) * q + t * t * r for p, q, r in zip(start, here, stop, strict=True)
            )  # type: ignore[misc]
    yield flat[-1]


def _cross(strokes: Strokes) -> None:
    """Find where strokes cross and where they lie on each other; cut the one behind."""
    cuts: list[tuple[str, Interval]] = []
    for one, other in combinations([one for one in strokes.every() if one.length > 1.0], 2):
        if (
            max(one.a[0], one.b[0]) < min(other.a[0], other.b[0]) - 6
            or max(other.a[0], other.b[0]) < min(one.a[0], one.b[0]) - 6
        ):
            continue
        met = _meet(one, other)
        if met is None:
            strokes.overlap += _shared(one, other)
            continue
        t, u, sine = met
        nearer = one.near_a + t * (one.near_b - one.near_a) - other.near_a - u * (other.near_b - other.near_a)
        if abs(nearer) < 1e-6:
            continue
        front, behind, w = (one, other, u) if nearer > 0.0 else (other, one, t)
        strokes.crossings.append(Crossing(front, behind, behind.point(w)))
        gap = _cut(strokes.segments[behind.line], behind, w, _GAP / max(sine, 0.4))
        cuts.append((behind.line, gap))
    strokes.gaps = by_line(cuts)


def _cut(pieces: Sequence[Segment], behind: Segment, share: float, half: float) -> Interval:
    """The gap [m along the line] of `half` [px] to either side of a place on a segment, round corners if need be."""
    index = pieces.index(behind)

    def end(onward: Sequence[Segment], here: float, way: int) -> float:
        left = half
        for number, one in enumerate(onward):
            room = (here if way < 0 else 1.0 - here) * one.length
            if left <= room or number == len(onward) - 1:
                t = here + way * (left / one.length if one.length > 0.0 else 0.0)
                break
            left, here = left - room, 1.0 if way < 0 else 0.0
        return one.at_a + min(max(t, 0.0), 1.0) * (one.at_b - one.at_a)

    return end(pieces[index::-1], share, -1), end(pieces[index:], share, 1)


def _meet(one: Segment, other: Segment) -> tuple[float, float, float] | None:
    """Where two segments cross inside both, and the sine of the angle between them."""
    ax, ay = one.b[0] - one.a[0], one.b[1] - one.a[1]
    bx, by = other.b[0] - other.a[0], other.b[1] - other.a[1]
    cross = ax * by - ay * bx
    sine = abs(cross) / (one.length * other.length)
    if sine < 0.05:
        return None
    cx, cy = other.a[0] - one.a[0], other.a[1] - one.a[1]
    t, u = (cx * by - cy * bx) / cross, (cx * ay - cy * ax) / cross
    edge, rim = 2.0 / one.length, 2.0 / other.length
    return (t, u, sine) if edge < t < 1.0 - edge and rim < u < 1.0 - rim else None


def _shared(one: Segment, other: Segment) -> float:
    """How long two segments lie on each other [px]."""
    ax, ay = one.way
    if abs(ax * (other.b[1] - other.a[1]) - ay * (other.b[0] - other.a[0])) > 0.05 * other.length:
        return 0.0
    if abs(ax * (other.a[1] - one.a[1]) - ay * (other.a[0] - one.a[0])) > 5.0:
        return 0.0
    low, high = sorted(ax * (point[0] - one.a[0]) + ay * (point[1] - one.a[1]) for point in (other.a, other.b))
    return max(min(high, one.length) - max(low, 0.0), 0.0)
