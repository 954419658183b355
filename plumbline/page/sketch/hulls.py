"""What a vessel covers of the paper: its outline as a convex shape, what lies on it, and what can still be seen of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["Hull", "hull_of", "on_hull", "seen_points"]

Hull = NDArray[np.float64]
"""Corners of a convex shape in order, (n, 2) [px]."""


def hull_of(points: Iterable[tuple[float, float]]) -> Hull:
    """The convex hull of points, by the monotone chain (A. M. Andrew, 1979, from memory).

    >>> hull_of([(0, 0), (2, 0), (1, 1), (2, 2), (0, 2)]).tolist()
    [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]]
    """
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return np.array(ordered, dtype=float).reshape(-1, 2)

    def chain(way: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        out: list[tuple[float, float]] = []
        for point in way:
            while len(out) > 1 and _turn(out[-2], out[-1], point) <= 0.0:
                out.pop()
            out.append(point)
        return out[:-1]

    return np.array(chain(ordered) + chain(ordered[::-1]), dtype=float)


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


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
    low, high = hull.min(axis=0), hull.max(axis=0)
    xs, ys = np.meshgrid(np.arange(low[0] + 3.0, high[0], step), np.arange(low[1] + 3.0, high[1], step))
    points = np.column_stack((xs.ravel(), ys.ravel()))
    dots = np.hstack((points - 2.5, points + 2.5))
    free = on_hull(dots, hull)
    for other in hulls[which + 1 :]:
        free &= ~on_hull(dots, other)
    middle = hull.mean(axis=0)
    seen = points[free]
    if not len(seen):
        return np.array([middle], dtype=float)
    order = np.argsort(np.hypot(*(seen - middle).T), kind="stable")
    return np.asarray(seen[order], dtype=float)
