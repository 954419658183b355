"""Which pipe drains, and how the water goes through it, for rules that follow a drain from its upper end down."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..hydraulics.flows import Flows
from ..hydraulics.stretches import pipes_joined
from ..layout.model import Layout, Part, Stretch, Vector
from ..layout.vectors import negative

__all__ = ["drains_of", "parts_with_the_water", "runs_forward", "seen_from_above"]


def drains_of(layout: Layout, flows: Flows) -> list[Stretch]:
    """The stretches of pipe that drains: where no pump pushes, and where a standpipe or air lets the water fall. Pipe that runs full
    under a vessel's head is a supply."""
    pieces = pipes_joined(layout)
    falling = {pieces[stretch.line] for stretch in layout.stretches if flows.stretches[stretch.id].vented}
    falling |= {pieces[name] for name, line in layout.lines.items() if "standpipe" in (line.start.port, line.end.port)}
    return [one for one in layout.stretches if flows.stretches[one.id].gravity and pieces[one.line] in falling]


def runs_forward(stretch: Stretch, flows: Flows) -> bool:
    """Whether the water goes the way the line is walked; without flow, whether that is down."""
    flow = flows.stretches[stretch.id].flow
    if flow != 0.0 or not stretch.parts:
        return flow >= 0.0
    return stretch.parts[0].start[2] >= stretch.parts[-1].end[2]


def parts_with_the_water(stretch: Stretch, forward: bool) -> Iterator[tuple[Part, Vector, Vector]]:
    """A stretch's parts with the water, each with the headings that it is entered and left by."""
    for part in stretch.parts if forward else reversed(stretch.parts):
        if forward:
            yield part, part.heading_in, part.heading_out
        else:
            yield part, negative(part.heading_out), negative(part.heading_in)


def seen_from_above(heading: Vector) -> Vector:
    """A heading seen from above."""
    size = math.hypot(heading[0], heading[1])
    return (heading[0] / size, heading[1] / size, 0.0)
