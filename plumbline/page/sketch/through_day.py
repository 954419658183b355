"""A day on the sketch: the water of each vessel, to be moved up and down as the hours go by."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ...day.result import Course
from ...units import show
from .drawn import Sketch
from .svg import still
from .xml import number, written

__all__ = ["moments", "movable"]

MOMENTS = 361
"""So many moments of a day can be looked at: every four minutes of 24 hours, or of a short cycle a few rounds all the closer."""


def movable(sketch: Sketch) -> str:
    """A sketch as an `svg` element in which each vessel's water is known by the vessel's name."""
    root = still(sketch)
    waters = [one for one in root.iter("path") if one.get("class") == "water"]
    for (box, _, _), water in zip(sketch.outlines, waters, strict=True):
        water.set("data-vessel", box.vessel)
    return written(root)


def moments(sketch: Sketch, course: Course) -> Mapping[str, Any]:
    """What a day shows at `MOMENTS` moments: the `clock` [h:min], of each vessel the `depth` in words and how far `down` from where it is
    drawn its water stands [px], and the `pumps` that run."""
    layout = sketch.result.layout
    begin, end, _ = course.window
    times = np.linspace(begin, end, MOMENTS)
    held = np.searchsorted(course.times, times, side="right") - 1
    boxes = {box.vessel: box for box, _, _ in reversed(sketch.outlines)}
    vessels = {}
    for name, followed in course.vessels.items():
        vessel, box = layout.vessels[name], boxes[name]
        levels = np.interp(times, course.times, followed.level)
        known = sketch.result.flows.vessels[name].level
        marks = sorted(
            {
                vessel.base: box.low[2],
                vessel.base + (vessel.rim or 1.15 * vessel.water): box.high[2],
                vessel.level if known is None else known: box.water,
            }.items()
        )
        drawn = np.interp(levels, [level for level, _ in marks], [height for _, height in marks])
        down = (box.water - drawn) * sketch.scale * sketch.view.up[2]
        vessels[name] = {
            "depth": [show(level - vessel.base, "length", layout.units) for level in levels],
            "down": [number(float(one)) for one in down],
        }
    return {
        "clock": [f"{int(time // 3600)}:{int(time % 3600 // 60):02d}" for time in times],
        "vessels": vessels,
        "pumps": [", ".join(name for name, one in course.pumps.items() if one.on[n]) for n in held.tolist()],
    }
