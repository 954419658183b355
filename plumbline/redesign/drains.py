"""The new lines of what drains."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from ..catalogue.rows import PipeRow
from ..hydraulics.part_full import capacity
from ..hydraulics.valve_service import adjustable
from ..layout.model import End, Layout, Line, Vector
from ..upkeep.access import brim
from .laid import Laid, grid_of, walk
from .router import bodies
from .sheet import LEVEL, OVER, Sheet, Stays, series
from .ways import STUB, on, way_round

__all__ = ["Drains"]

SPARE = 1.5
"""What drains are sized for, of what they get."""


class Drains(Sheet):
    """Lays drains."""

    def drains(self, ends: Sequence[tuple[Line, str, End]]) -> list[Laid]:
        """A line of its own from each way out to where the water goes."""
        out: list[tuple[Line, str, End]] = []
        into: list[tuple[Line, str, End]] = []
        for line, side, end in ends:
            flow = self.flows.ends[f"{line.name}.{side}"].flow * (1.0 if side == "from" else -1.0)
            leaves = flow > 0.0 or (flow == 0.0 and end.port == "standpipe")
            (out if leaves else into).append((line, side, end))
        if not out:
            raise Stays("drains nothing")
        if len(into) != 1:
            raise Stays("shares out the water of a vessel and no pump's" if len(out) == 1 < len(into)
                        else "carries water to and fro, or nowhere")  # fmt: skip
        return [self.drain(*one, into[0], number) for number, one in enumerate(out)]

    def drain(self, line: Line, side: str, end: End, goes: tuple[Line, str, End], number: int) -> Laid:
        """Down, along with a steady fall, and down again."""
        if end.port == "open":
            raise Stays("begins at an open end")
        sink_line, sink_side, sink = goes
        flow = abs(self.flows.ends[f"{line.name}.{side}"].flow)
        least = self.layout.limits["least fall"]
        start, (east, north, foot) = end.place, sink.place
        # Water comes out of a standpipe's foot downwards, and of a wall sideways.
        sideways = abs(end.heading[2]) < 0.5
        x, y, z = on(start, end.heading, -STUB) if sideways else start
        dx, dy, aside = east - x, north - y, STUB * number
        dx, dy = (dx, dy + aside) if abs(dx) >= abs(dy) else (dx + aside, dy)
        pipe = line.parts[0].pipe if side == "from" else line.parts[-1].pipe
        row = _by_fall(self.layout, pipe.name, flow * SPARE, least)
        blocks = bodies(self.layout, [end.name or "", sink.name or ""])
        way = way_round((x, y, foot), LEVEL, (x + dx, y + dy, foot), LEVEL, blocks, row.bore)
        if way is None:
            raise Stays("has vessels in its way")
        legs = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(way)]
        # To the next mark of the tape, so that rounding takes nothing from the fall.
        grid = grid_of(self.layout.units)
        falls = [grid * math.ceil(least * 1.1 * (abs(a) + abs(b)) / grid - 1e-6) for a, b in legs]
        # Over the rim and in, without another corner, where there is the height for it.
        rim = brim(self.layout.vessels[sink.name or ""]) + OVER
        if sink.port == "open" and not sink.submerged and z - sum(falls) - max(rim, foot) > 0.1:
            foot = max(rim, foot)
        height = z - foot - sum(falls)
        comes_down = sink.heading[2] < -0.5 and foot == sink.place[2]
        last = min(0.3, height / 2.0) if comes_down else 0.0
        first = height - last
        if first < 0.1:
            raise Stays("has no height to be laid with a fall")
        places: list[Vector] = [*([start] if sideways else []), (x, y, z), (x, y, z - first)]
        for (a, b), fall in zip(legs, falls, strict=True):
            places.append((places[-1][0] + a, places[-1][1] + b, places[-1][2] - fall))
        if last:
            places.append((*places[-1][:2], places[-1][2] - last))
        valve = next((part.step for part in line.parts if adjustable(part) and part.turn < 0.1), None)
        as_is = None if valve is None else self.script.slice(self.script.lines[line.name].steps[valve - 1])
        steps = (*self.through(line, "from" if side == "from" else "to"), *walk(places, self.layout.units, valve=as_is),
                 *self.through(sink_line, "from" if sink_side == "from" else "to"))  # fmt: skip
        return Laid(line.name, row, self.said(line, side), steps, self.said(sink_line, sink_side), tuple(places))


def _by_fall(layout: Layout, like: str, flow: float, fall: float) -> PipeRow:
    """The smallest pipe of a series that carries a flow [m³/s] part-full, and no smaller than a drain is."""
    nu = layout.water.viscosity / layout.water.density
    rows = [row for row in series(like) if row.bore >= 0.03]
    return next((row for row in rows if capacity(row.bore, fall, 1e-5, nu) >= flow), rows[-1])
