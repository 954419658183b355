"""Which pipe passes behind a vessel, as the eye sees it: it is drawn lighter there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ...upkeep.intervals import Intervals, union
from .places import Box
from .strokes import Point, Strokes
from .views import View

__all__ = ["behind_vessels", "hidden"]

_STEP = 4.0
"""How far apart the places are that are looked at along a pipe [px]."""


def behind_vessels(
    strokes: Strokes, boxes: Sequence[Box], view: View, scale: float, shift: Point
) -> dict[str, Intervals]:
    """The pieces of each line behind a vessel [m along the line]; what is inside one can be seen through its wall.

    Parameters:
        strokes: the lines on paper.
        boxes: the vessels in space, in drawn lengths.
        view: that was looked from.
        scale: [px] of a drawn length of one.
        shift: [px] of the origin.

    Returns:
        Pieces by line, to the `_STEP`.
    """
    back = np.linalg.inv(np.array([view.right, view.up, view.near], dtype=float))
    out: dict[str, Intervals] = {}
    for line, segments in strokes.segments.items():
        spans: list[tuple[float, float]] = []
        for one in segments:
            count = max(int(one.length / _STEP), 1)
            shares = (np.arange(count) + 0.5) / count
            paper = np.outer(1.0 - shares, (*one.a, one.near_a)) + np.outer(shares, (*one.b, one.near_b))
            seen = (paper - np.array((*shift, 0.0))) * np.array((1.0 / scale, -1.0 / scale, 1.0))
            covered = hidden(seen @ back.T, boxes, view)
            step = (one.at_b - one.at_a) / count
            spans += [(one.at_a + k * step, one.at_a + (k + 1) * step) for k in np.flatnonzero(covered)]
        if spans:
            out[line] = union(spans)
    return out


def hidden(points: NDArray[np.float64], boxes: Sequence[Box], view: View) -> NDArray[np.bool_]:
    """Which points in space (n, 3) have a box between them and the eye: the slab method along the line of sight."""
    covered = np.zeros(len(points), dtype=bool)
    for box in boxes:
        enters, leaves = np.full(len(points), -np.inf), np.full(len(points), np.inf)
        for axis, way in enumerate(view.near):
            low, high = box.low[axis] - points[:, axis], box.high[axis] - points[:, axis]
            if abs(way) < 1e-12:
                leaves = np.where((low > 0.0) | (high < 0.0), -np.inf, leaves)
                continue
            enters = np.maximum(enters, np.minimum(low / way, high / way))
            leaves = np.minimum(leaves, np.maximum(low / way, high / way))
        covered |= (enters > 1e-6) & (enters < leaves)
    return covered
