"""How far it is, straight out of an opening, to the next pipe in the way."""

from __future__ import annotations

import math

import numpy as np

from ..hydraulics.network import FloatArray
from ..hydraulics.stretches import pipes_joined
from ..layout.model import Layout, Part, Vector

__all__ = ["RoomAhead"]

NEAR = 1e-6
"""Places nearer than this [m] are the same."""


class RoomAhead:
    """The straight pipe of a layout, as capsules: a segment with a radius. The file tells how lines stand against each other only
    where tees join them, so that each group of joined lines is looked at by itself."""

    def __init__(self, layout: Layout) -> None:
        self.group = pipes_joined(layout)
        inside: dict[int, list[Part]] = {}
        for name, line in layout.lines.items():
            inside.setdefault(self.group[name], []).extend(
                part for part in line.parts if part.kind in ("run", "spray bar") and part.length > 0.0
            )
        self.pipes = {number: _arrays(parts) for number, parts in inside.items() if parts}

    def of(self, line: str, place: Vector, faces: Vector, bore: float) -> float:
        """Give the way from a place on a line, in the direction `faces`, to the next pipe in the way of an opening of `bore` [m];
        infinite where none is known."""
        if self.group[line] not in self.pipes:
            return math.inf
        start, end, radius = self.pipes[self.group[line]]
        here, way = np.array(place), np.array(faces)
        apart = np.minimum(np.linalg.norm(start - here, axis=1), np.linalg.norm(end - here, axis=1)) >= NEAR
        return float(
            np.min(_first_hit(here, way, start[apart], end[apart], radius[apart] + bore / 2.0), initial=np.inf)
        )


def _arrays(parts: list[Part]) -> tuple[FloatArray, FloatArray, FloatArray]:
    start, end = (np.array([getattr(part, side) for part in parts]) for side in ("start", "end"))
    return start, end, np.array([(part.pipe.outside or part.pipe.bore) / 2.0 for part in parts])


def _first_hit(here: FloatArray, way: FloatArray, start: FloatArray, end: FloatArray, clear: FloatArray) -> FloatArray:
    """How far along a ray its distance from each segment first falls to `clear` (n,) [m]; infinite where it never does."""
    length = np.linalg.norm(end - start, axis=1)
    axis = (end - start) / length[:, None]
    off = here - start
    found = np.minimum(_ball(off, way, clear), _ball(here - end, way, clear))
    # The ray against the endless cylinder about the run's axis, both seen square to the axis.
    along, lies = axis @ way, np.sum(off * axis, axis=1)
    across, go = off - lies[:, None] * axis, way - along[:, None] * axis
    size, towards = np.sum(go * go, axis=1), np.sum(across * go, axis=1)
    root = towards**2 - size * (np.sum(across * across, axis=1) - clear**2)
    met = (size > 1e-12) & (root >= 0.0)
    t = np.full(len(start), np.inf)
    t[met] = (-towards[met] - np.sqrt(root[met])) / size[met]
    met &= (t > 0.0) & (lies + np.where(met, t, 0.0) * along >= 0.0) & (lies + np.where(met, t, 0.0) * along <= length)
    return np.where(met, np.minimum(found, t), found)


def _ball(off: FloatArray, way: FloatArray, radius: FloatArray) -> FloatArray:
    """How far along a ray from `off` (n, 3) of a ball's middle it first meets the ball; infinite where it does not, or begins inside."""
    middle = -off @ way
    root = middle**2 - np.sum(off * off, axis=1) + radius**2
    first = middle - np.sqrt(np.maximum(root, 0.0))
    return np.where((root >= 0.0) & (first > 0.0), first, np.inf)
