"""What moves on the page's sketch: water that runs at the solved speed, and the rod that grows in from an opening. Still without a script."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element

from ...layout.model import Access, Line
from ...units import show
from ...upkeep.intervals import length
from ...upkeep.words import access_name
from .drawn import Sketch
from .xml import element, number

__all__ = ["openings", "running"]

PIXELS_A_METRE = 60.0
"""How far a drop runs on paper while it runs a metre in the pipe, in every pipe alike, however long that is drawn."""

PERIOD = 18.0
"""From one drop to the next [px]."""


def running(sketch: Sketch) -> Iterator[Element]:
    """A row of drops for each stretch in which water flows; each takes the time of its period that the solved speed gives it."""
    for stretch in sketch.result.layout.stretches:
        got = sketch.result.flows.stretches[stretch.id]
        if abs(got.flow) < 1e-9 or got.velocity <= 1e-4:
            continue
        data = "".join(
            _path(piece) for piece in sketch.strokes.pieces(stretch.line, stretch.start, stretch.stop) if len(piece) > 1
        )
        if data:
            seconds = PERIOD / (PIXELS_A_METRE * got.velocity)
            way = ";animation-direction:reverse" if got.flow < 0.0 else ""
            yield element("path", {"class": "drops", "d": data, "style": f"animation-duration:{seconds:.2f}s{way}",
                                   "data-stretch": stretch.id})  # fmt: skip


def openings(sketch: Sketch) -> Iterator[Element]:
    """For each opening that lets a rod in, the pipe that the best rod brushes, to grow from there, and a place to tap."""
    layout = sketch.result.layout
    marks = []
    for access in layout.accesses:
        by_rod = {push.rod: push.covers for push in sketch.result.upkeep.pushes if push.access == access.id}
        if not by_rod:
            continue
        rod, covers = max(by_rod.items(), key=lambda pair: sum(length(pieces) for pieces in pair[1].values()))
        reached = sum(length(pieces) for pieces in covers.values())
        if reached <= 0.0:
            continue
        ends = []
        for line, pieces in covers.items():
            for low, high in pieces:
                back = line == access.line and abs(high - access.at) < abs(low - access.at)
                start, stop = (high, low) if back else (low, high)
                points = sketch.strokes.trace(line, low, high)
                if len(points) > 1:
                    yield element("path", {"class": "rod", "d": _path(points[::-1] if back else points), "pathLength": "1",
                                           "data-opening": access.id})  # fmt: skip
                ends.append(_end_words(layout.lines[line], stop, start))
        said = f"{access_name(layout, access)}: the {rod} brushes {show(reached, 'length', layout.units)}; it gets to {'; and to '.join(ends)}."
        marks.append(_mark(sketch, access, said))
    yield from marks


def _mark(sketch: Sketch, access: Access, said: str) -> Element:
    x, y = sketch.strokes.place(access.line, access.at)
    group = element("a", {"class": "opening", "href": "#reach", "data-opening": access.id, "data-said": said})
    group.append(element("title", text=said))
    group.append(element("circle", {"class": "hit-opening", "cx": number(x), "cy": number(y), "r": "9"}))
    return group


def _end_words(line: Line, stop: float, start: float) -> str:
    """Where a rod's way ends, by what stands there."""
    ahead = 1.0 if stop >= start else -1.0
    for part in line.parts if ahead > 0.0 else reversed(line.parts):
        if not part.is_pipe and abs(part.at - stop) < 2e-3:
            return f"the {part.kind} at step {part.step} of '{line.name}'"
    if stop <= 2e-3 or stop >= line.length - 2e-3:
        return f"the {'start' if stop <= 2e-3 else 'end'} of '{line.name}'"
    part = next(
        (part for part in line.parts if part.is_pipe and part.at - 1e-6 <= stop <= part.at + part.length + 1e-6),
        line.parts[-1],
    )
    return f"the middle of the run at step {part.step} of '{line.name}', where its length or its bends are used up"


def _path(points: list[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)
