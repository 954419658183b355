"""What of a layout is drawn: the corners of each line, which of them are one point, and what they hold on to.

Places in plan are the least certain thing in a file, so a picture may not simply use them: what is kept is the walk of each
line and which ends meet. Heights are kept as they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ...layout.model import End, Layout, Line, Vector

__all__ = ["Corner", "Grip", "Run", "Skeleton", "skeleton"]

Corner = tuple[str, int]
"""A line's name and a number from 0: where one of its runs begins or ends."""


@dataclass(frozen=True, slots=True)
class Run:
    """A run between two corners of a line; `by` is its displacement [m]."""

    tail: Corner
    head: Corner
    by: Vector


@dataclass(frozen=True, slots=True)
class Grip:
    """A corner that is in a vessel. `side` is the way that the pipe goes, level and seen from the vessel, as a unit vector
    (east, north), or (0, 0) where it goes only up and down; `pump` where a pump stands at it."""

    corner: Corner
    vessel: str
    side: tuple[float, float]
    pump: str | None = None


@dataclass(frozen=True)
class Skeleton:
    """`points` [m] by corner as walked, `runs`, `ties` of corners that are one point, `grips` of vessels, and for each
    line the corner before and after each of its parts."""

    points: dict[Corner, Vector]
    runs: tuple[Run, ...]
    ties: tuple[tuple[Corner, Corner], ...]
    grips: tuple[Grip, ...]
    parts: dict[str, tuple[tuple[int, int], ...]]


def skeleton(layout: Layout) -> Skeleton:
    """Take from a layout what its picture has to keep.

    Parameters:
        layout: read and walked.

    Returns:
        Corners, runs, ties and grips.
    """
    points: dict[Corner, Vector] = {}
    runs: list[Run] = []
    parts: dict[str, tuple[tuple[int, int], ...]] = {}
    for line in layout.lines.values():
        points[line.name, 0] = line.start.place
        at, spans = 0, []
        for part in line.parts:
            if part.length > 0.0 and part.is_pipe:
                points[line.name, at + 1] = part.end
                by = (part.end[0] - part.start[0], part.end[1] - part.start[1], part.end[2] - part.start[2])
                runs.append(Run((line.name, at), (line.name, at + 1), by))
                spans.append((at, at + 1))
                at += 1
            else:
                spans.append((at, at))
        parts[line.name] = tuple(spans)
    last = {name: max((span[1] for span in spans), default=0) for name, spans in parts.items()}
    return Skeleton(points, tuple(runs), tuple(_ties(layout, parts, last)), tuple(_grips(layout, last, parts)), parts)


def _ends(layout: Layout, last: dict[str, int]) -> Iterator[tuple[Line, End, Corner]]:
    for line in layout.lines.values():
        yield line, line.start, (line.name, 0)
        yield line, line.end, (line.name, last[line.name])


def _ties(
    layout: Layout, parts: dict[str, tuple[tuple[int, int], ...]], last: dict[str, int]
) -> Iterator[tuple[Corner, Corner]]:
    at_pump: dict[str, Corner] = {}
    for line, end, corner in _ends(layout, last):
        del line
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


def _grips(layout: Layout, last: dict[str, int], parts: dict[str, tuple[tuple[int, int], ...]]) -> Iterator[Grip]:
    for line, end, corner in _ends(layout, last):
        side = _side(line, backwards=corner[1] != 0 or end is line.end)
        if end.name is None:
            continue
        if end.kind == "vessel":
            yield Grip(corner, end.name, side)
        elif end.kind == "pump":
            vessel = layout.pumps[end.name].vessel
            if vessel is not None:
                yield Grip(corner, vessel, side, pump=end.name)
    for line in layout.lines.values():
        for part, span in zip(line.parts, parts[line.name], strict=True):
            if part.vessel is not None:
                yield Grip((line.name, span[0]), part.vessel, (0.0, 0.0))
                if span[1] != span[0]:
                    yield Grip((line.name, span[1]), part.vessel, (0.0, 0.0))


def _side(line: Line, *, backwards: bool) -> tuple[float, float]:
    """The first level way that the pipe takes, walked away from one of its ends."""
    for part in reversed(line.parts) if backwards else line.parts:
        east, north = part.end[0] - part.start[0], part.end[1] - part.start[1]
        size = (east * east + north * north) ** 0.5
        if part.is_pipe and size > 0.3 * part.length > 0.0:
            sign = -1.0 if backwards else 1.0
            return (sign * east / size, sign * north / size)
    return (0.0, 0.0)
