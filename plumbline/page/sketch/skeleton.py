"""What of a layout is drawn: the corners of each line, which of them are one point, and what they hold on to.

Places in plan are the least certain thing in a file, so a picture may not simply use them: what is kept is the walk of each
line and which ends meet. Heights are kept as they are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from ...layout.model import End, Layout, Line, Vector

__all__ = ["Corner", "Grip", "Run", "Skeleton", "skeleton"]

Corner = tuple[str, int]
"""A line's name and a number from 0: where one of its runs begins or ends."""

_Spans = dict[str, list[tuple[int, int]]]
"""By line, the number of the corner before and after each of its parts."""


@dataclass(frozen=True, slots=True)
class Run:
    """A run between two corners of a line; `by` is its displacement [m]."""

    tail: Corner
    head: Corner
    by: Vector


@dataclass(frozen=True, slots=True)
class Grip:
    """A corner that is in a vessel. `side` is the way that the pipe goes, level and seen from the vessel, as a unit vector
    (east, north), or (0, 0) where it goes only up and down. `falls` says that water comes into the vessel there straight down, out of
    another one."""

    corner: Corner
    vessel: str
    side: tuple[float, float]
    falls: bool = False


@dataclass(frozen=True)
class Skeleton:
    """`points` [m] by corner as walked, `runs`, `ties` of corners that are one point, `grips` of vessels, and for each
    line the corner before and after each of its `parts`."""

    points: dict[Corner, Vector]
    runs: tuple[Run, ...]
    ties: tuple[tuple[Corner, Corner], ...]
    grips: tuple[Grip, ...]
    parts: _Spans

    @cached_property
    def rows(self) -> frozenset[Grip]:
        """Where several vessels fall into one, a gutter under towers for instance: it is as long as their row."""
        falls = Counter(grip.vessel for grip in self.grips if grip.falls)
        return frozenset(grip for grip in self.grips if grip.falls and falls[grip.vessel] > 1)


def skeleton(layout: Layout) -> Skeleton:
    """Take from a layout, read and walked, what its picture has to keep."""
    points: dict[Corner, Vector] = {}
    runs: list[Run] = []
    parts: _Spans = {}
    for name, line in layout.lines.items():
        points[name, 0] = line.start.place
        at, parts[name] = 0, []
        for part in line.parts:
            drawn = part.length > 0.0 and part.is_pipe
            parts[name].append((at, at + drawn))
            if drawn:
                by = (part.end[0] - part.start[0], part.end[1] - part.start[1], part.end[2] - part.start[2])
                runs.append(Run((name, at), (name, at + 1), by))
                at += 1
                points[name, at] = part.end
    ends = [
        (line, end, (name, parts[name][-1][1] if end is line.end and parts[name] else 0))
        for name, line in layout.lines.items()
        for end in (line.start, line.end)
    ]
    return Skeleton(points, tuple(runs), tuple(_ties(layout, ends, parts)), tuple(_grips(layout, ends, parts)), parts)


def _ties(layout: Layout, ends: list[tuple[Line, End, Corner]], parts: _Spans) -> Iterator[tuple[Corner, Corner]]:
    at_pump: dict[str, Corner] = {}
    for _, end, corner in ends:
        if end.name is None:
            continue
        if end.kind == "tee" and end.name in layout.tees:
            tee = layout.tees[end.name]
            index = next(i for i, part in enumerate(layout.lines[tee.line].parts) if part.step == tee.step)
            yield corner, (tee.line, parts[tee.line][index][0])
        elif end.kind == "pump":
            if end.name in at_pump:
                yield at_pump[end.name], corner
            at_pump[end.name] = corner


def _grips(layout: Layout, ends: list[tuple[Line, End, Corner]], parts: _Spans) -> Iterator[Grip]:
    for line, end, corner in ends:
        vessel = layout.pumps[end.name].vessel if end.kind == "pump" and end.name is not None else end.name
        if end.kind in ("vessel", "pump") and vessel is not None:
            side = _side(line, backwards=end is line.end)
            falls = end is line.end and line.start.kind == "vessel" and side == (0.0, 0.0)
            yield Grip(corner, vessel, side, falls)
    for name, line in layout.lines.items():
        for part, span in zip(line.parts, parts[name], strict=True):
            if part.vessel is not None:
                yield from (Grip((name, number), part.vessel, (0.0, 0.0)) for number in sorted(set(span)))


def _side(line: Line, *, backwards: bool) -> tuple[float, float]:
    """The first level way that the pipe takes, walked away from one of its ends."""
    for part in reversed(line.parts) if backwards else line.parts:
        east, north = part.end[0] - part.start[0], part.end[1] - part.start[1]
        size = (east * east + north * north) ** 0.5
        if part.is_pipe and size > 0.3 * part.length > 0.0:
            sign = -1.0 if backwards else 1.0
            return (sign * east / size, sign * north / size)
    return (0.0, 0.0)
