"""What a vessel covers of the paper: its outline as a convex shape, what lies on it, what can still be seen of it, and the pipe
behind it, which is drawn lighter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from ...upkeep.intervals import Interval, Intervals, by_line
from .places import Box
from .strokes import Point, Strokes
from .views import View

__all__ = ["Hull", "behind_vessels", "hull_of", "on_hull", "seen_points"]

Hull = NDArray[np.float64]
"""Corners of a convex shape in order, (n, 2) [px]."""

_STEP = 4.0
"""How far apart the places are that are looked at along a pipe [px]."""


def hull_of(points: Iterable[Point]) -> Hull:
    """The convex hull of points; of points in a row, their two ends.

    >>> hull_of([(0, 0), (2, 0), (1, 1), (2, 2), (0, 2)]).tolist()
    [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]]
    """
    from scipy.spatial import ConvexHull, QhullError

    table = np.unique(np.array(list(points), dtype=float).reshape(-1, 2), axis=0)
    try:
        corners: Hull = table[ConvexHull(table).vertices]
    except (QhullError, ValueError):
        corners = table[[0, -1]]
    return corners


def on_hull(rects: NDArray[np.float64], hull: Hull) -> NDArray[np.bool_]:
    """Which rectangles (n, 4) share room with a convex shape: those that neither a side of theirs nor one of its own parts
    from it."""
    low, high = hull.min(axis=0), hull.max(axis=0)
    met = (rects[:, 0] < high[0]) & (rects[:, 2] > low[0]) & (rects[:, 1] < high[1]) & (rects[:, 3] > low[1])
    near = np.flatnonzero(met)
    if len(near):
        left, top, right, bottom = rects[near].T
        parted = np.zeros(len(near), dtype=bool)
        for (x0, y0), (x1, y1) in zip(hull, np.roll(hull, -1, axis=0), strict=True):
            # The corner of the rectangle that lies farthest to the inner side of this edge is outside, too.
            x = left if y1 > y0 else right
            y = bottom if x1 > x0 else top
            parted |= (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) <= 0.0
        met[near[parted]] = False
    return np.asarray(met)


def seen_points(which: int, hulls: Sequence[Hull], step: float = 6.0) -> NDArray[np.float64]:
    """Points of a shape that none of the later shapes, which are drawn over it, covers: (n, 2), the innermost first; of a
    shape that is covered all over, its middle."""
    hull = hulls[which]
    low, high, middle = hull.min(axis=0), hull.max(axis=0), hull.mean(axis=0)
    xs, ys = np.meshgrid(np.arange(low[0] + 3.0, high[0], step), np.arange(low[1] + 3.0, high[1], step))
    points = np.column_stack((xs.ravel(), ys.ravel()))
    dots = np.hstack((points - 2.5, points + 2.5))
    free = on_hull(dots, hull)
    for other in hulls[which + 1 :]:
        free &= ~on_hull(dots, other)
    seen = points[free] if free.any() else middle[None, :]
    return np.asarray(seen[np.argsort(np.hypot(*(seen - middle).T), kind="stable")], dtype=float)


def behind_vessels(
    strokes: Strokes, boxes: Sequence[Box], view: View, scale: float, shift: Point
) -> dict[str, Intervals]:
    """The pieces of each line behind a vessel [m along it], to the `_STEP`; what is inside one can be seen through its wall. `scale` and
    `shift` [px] are of a drawn length of one and of the origin."""
    back = np.linalg.inv(np.array([view.right, view.up, view.near], dtype=float))
    out: list[tuple[str, Interval]] = []
    for one in strokes.every():
        count = max(int(one.length / _STEP), 1)
        shares = (np.arange(count) + 0.5) / count
        paper = np.outer(1.0 - shares, (*one.a, one.near_a)) + np.outer(shares, (*one.b, one.near_b))
        seen = (paper - np.array((*shift, 0.0))) * np.array((1.0 / scale, -1.0 / scale, 1.0))
        step = (one.at_b - one.at_a) / count
        covered = np.flatnonzero(_hidden(seen @ back.T, boxes, view))
        out += [(one.line, (one.at_a + k * step, one.at_a + (k + 1) * step)) for k in covered]
    return by_line(out)


def _hidden(points: NDArray[np.float64], boxes: Sequence[Box], view: View) -> NDArray[np.bool_]:
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
