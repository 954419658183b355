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
        self.pipes = {number: Capsules(parts) for number, parts in inside.items() if parts}

    def of(self, line: str, place: Vector, faces: Vector, bore: float) -> float:
        """Give the way from a place on a line, in the direction `faces`, to the next pipe in the way of an opening of `bore` [m];
        infinite where none is known."""
        pipes = self.pipes.get(self.group[line])
        return math.inf if pipes is None else pipes.ahead(np.array(place), np.array(faces), bore / 2.0)


class Capsules:
    """Straight pipe as arrays: where each begins and ends, (n, 3) [m], its `length`, its direction and its `radius`."""

    def __init__(self, parts: list[Part]) -> None:
        self.start, self.end = (np.array([getattr(part, side) for part in parts]) for side in ("start", "end"))
        self.radius = np.array([(part.pipe.outside or part.pipe.bore) / 2.0 for part in parts])
        self.length = np.linalg.norm(self.end - self.start, axis=1)
        self.axis = (self.end - self.start) / self.length[:, None]

    def ahead(self, here: FloatArray, way: FloatArray, margin: float) -> float:
        """How far along a ray its distance from a pipe first falls to the pipe's radius and `margin` [m]; infinite where it never does.
        Pipe that begins or ends here is not in the way."""
        off, back, clear = here - self.start, here - self.end, self.radius + margin
        near, beyond = np.einsum("ij,ij->i", off, off), np.einsum("ij,ij->i", back, back)
        found = np.minimum(_ball(off @ way, near, clear), _ball(back @ way, beyond, clear))
        # The ray against the endless cylinder about the run's axis, both seen square to the axis.
        along, lies = self.axis @ way, np.einsum("ij,ij->i", off, self.axis)
        size, towards = way @ way - along**2, off @ way - lies * along
        root = towards**2 - size * (near - lies**2 - clear**2)
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.where((size > 1e-12) & (root >= 0.0), (-towards - np.sqrt(np.maximum(root, 0.0))) / size, np.inf)
            met = (t > 0.0) & (lies + t * along >= 0.0) & (lies + t * along <= self.length)
        found = np.where(met, np.minimum(found, t), found)
        return float(np.min(found[np.minimum(near, beyond) >= NEAR**2], initial=np.inf))


def _ball(along: FloatArray, square: FloatArray, radius: FloatArray) -> FloatArray:
    """How far along a ray, which begins `along` it beyond a ball's middle and whose distance from there is `square` [m²], it first meets the
    ball; infinite where it does not, or begins inside."""
    root = along**2 - square + radius**2
    first = -along - np.sqrt(np.maximum(root, 0.0))
    return np.where((root >= 0.0) & (first > 0.0), first, np.inf)
