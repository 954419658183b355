"""Ways to look at a layout: the pipe sketch's isometric view from any of four corners, the plan, and four elevations."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ...layout.model import Vector

__all__ = ["VIEWS", "View", "views_named"]


@dataclass(frozen=True, slots=True)
class View:
    """A parallel projection: `right` and `up` take a point to the paper, `near` tells how near to the eye it is; `said`
    in words."""

    name: str
    right: Vector
    up: Vector
    near: Vector
    said: str

    def __call__(self, point: Vector) -> tuple[float, float, float]:
        """Across, down and nearness, as SVG counts: y grows downwards."""
        x, y, near = (sum(a * b for a, b in zip(row, point, strict=True)) for row in (self.right, self.up, self.near))
        return x, -y, near

    @property
    def level(self) -> bool:
        """Whether the view shows heights: all but the plan."""
        return self.up[2] > 0.0


def _isometric(corner: str, east: int, north: int) -> View:
    """The trade's isometric, seen from a corner (the signs of its `east` and `north`) and from above: the vertical upright, both
    level axes at 30° to the horizontal, all three at the same scale; what runs away from the eye runs up the paper."""
    across, up = math.cos(math.radians(30.0)), math.sin(math.radians(30.0))
    right = (-north * across, east * across, 0.0)
    return View("iso", right, (-east * up, -north * up, 1.0), (east, north, 1.0), f"seen from the {corner}, from above")


def _elevation(side: str, right: Vector, near: Vector) -> tuple[View, ...]:
    return (View(side, right, (0.0, 0.0, 1.0), near, f"seen from the {side}"),)


_VIEWS: dict[str, tuple[View, ...]] = {
    "iso": (
        _isometric("south-west", -1, -1),
        _isometric("south-east", 1, -1),
        _isometric("north-west", -1, 1),
        _isometric("north-east", 1, 1),
    ),
    "plan": (View("plan", (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), "seen from above, north at the top"),),
    "south": _elevation("south", (1.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
    "north": _elevation("north", (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    "east": _elevation("east", (0.0, 1.0, 0.0), (1.0, 0.0, 0.0)),
    "west": _elevation("west", (0.0, -1.0, 0.0), (-1.0, 0.0, 0.0)),
}

VIEWS = tuple(_VIEWS)
"""The names of the views."""


def views_named(name: str) -> tuple[View, ...]:
    """The views of a name: four corners for "iso", of which the clearest is drawn, and one for the others."""
    return _VIEWS[name]
