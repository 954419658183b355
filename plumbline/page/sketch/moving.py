"""What moves on the page's sketch: water that runs at the solved speed, and the rod that grows in from an opening. Still without a script."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element

from ...layout.model import Line
from ...units import show
from ...upkeep.intervals import length
from ...upkeep.words import access_name
from .drawn import Sketch
from .xml import element, polyline

__all__ = ["openings", "running"]

PIXELS_A_METRE = 60.0
"""How far a drop runs on paper while it runs a metre in the pipe, in every pipe alike, however long that is drawn."""

PERIOD = 18.0
"""From one drop to the next [px]."""


def running(sketch: Sketch) -> Iterator[Element]:
    """A row of drops for each stretch in which water flows; each takes the time of its period that the solved speed gives it."""
    for stretch in sketch.result.layout.stretches:
        got = sketch.result.flows.stretches[stretch.id]
        data = sketch.strokes.path(stretch.line, stretch.start, stretch.stop)
        if data and abs(got.flow) >= 1e-9 and got.velocity > 1e-4:
            seconds = PERIOD / (PIXELS_A_METRE * got.velocity)
            way = ";animation-direction:reverse" if got.flow < 0.0 else ""
            yield element(
                "path", class_="drops", d=data, style=f"animation-duration:{seconds:.2f}s{way}", data_stretch=stretch.id
            )


def openings(sketch: Sketch) -> Iterator[Element]:
    """For each opening that lets a rod in, the pipe that the best rod brushes, to grow from there, and a place to tap."""
    layout = sketch.result.layout
    marks = []
    for access in layout.accesses:
        by_rod = {push.rod: push.covers for push in sketch.result.upkeep.pushes if push.access == access.id}
        reached = {rod: sum(map(length, covers.values())) for rod, covers in by_rod.items()}
        rod = max(reached, key=lambda rod: reached[rod], default="")
        if not reached or reached[rod] <= 0.0:
            continue
        ends = []
        for line, pieces in by_rod[rod].items():
            for low, high in pieces:
                back = line == access.line and abs(high - access.at) < abs(low - access.at)
                points = sketch.strokes.trace(line, low, high)[:: -1 if back else 1]
                if len(points) > 1:
                    yield element("path", class_="rod", d=polyline(points), pathLength="1", data_opening=access.id)
                ends.append(_end_words(layout.lines[line], low if back else high, backwards=back))
        said = f"{access_name(layout, access)}: the {rod} brushes {show(reached[rod], 'length', layout.units)}; it gets to {'; and to '.join(ends)}."
        x, y = sketch.strokes.place(access.line, access.at)
        marks.append(
            element(
                "a",
                element("title", text=said),
                element("circle", class_="hit-opening", cx=x, cy=y, r=9),
                class_="opening",
                href="#reach",
                data_opening=access.id,
                data_said=said,
            )
        )
    yield from marks


def _end_words(line: Line, stop: float, *, backwards: bool) -> str:
    """Where a rod's way ends, by what stands there."""
    for part in reversed(line.parts) if backwards else line.parts:
        if not part.is_pipe and abs(part.at - stop) < 2e-3:
            return f"the {part.kind} at step {part.step} of '{line.name}'"
    if stop <= 2e-3 or stop >= line.length - 2e-3:
        return f"the {'start' if stop <= 2e-3 else 'end'} of '{line.name}'"
    run = next(
        (part for part in line.parts if part.is_pipe and part.at - 1e-6 <= stop <= part.at + part.length + 1e-6),
        line.parts[-1],
    )
    return f"the middle of the run at step {run.step} of '{line.name}', where its length or its bends are used up"
