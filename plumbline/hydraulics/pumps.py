"""Pump curves: head against flow through the user's points, strictly falling and smooth, and said when left.

Between the points the curve is a monotone piecewise cubic (`monotone`). Three things are added:

* The head is tilted by a millionth of (highest head / largest flow) per unit flow, so that even a flat piece
  falls strictly: the points are met within a millionth of the highest head.
* Outside the points it goes on along a straight line with the end's own slope, or, where that is flatter,
  with the mean slope (highest head / largest flow), reached by a parabola over a tenth of the curve's width,
  without a corner. Such heads are guesses to keep the search for a solution going; `duty` says when an answer
  lies there.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from plumbline.hydraulics.monotone import slopes
from plumbline.hydraulics.network import FloatArray
from plumbline.layout.pumps import at_speed

__all__ = ["Duty", "Points", "PumpCurves", "at_speed"]

Points = tuple[tuple[float, float], ...]
"""((flow [m³/s], head [m]), …) with rising flow and falling head."""

Duty = Literal["shut-off", "on curve", "below first point", "run-out", "backwards"]
"""Where a pump works: at no flow, between its points, below the first, beyond the last, or run backwards."""

_TILT = 1e-6
_BLEND = 0.1
_STILL = 1e-6


class PumpCurves:
    """The curves of p pumps, made ready once and evaluated together.

    H(Q) = Σ a_k (Q − Q_j)^k, k = 0…3, in the piece j that Q falls in.

    Parameters:
        curves: p tuples of ((flow [m³/s], head [m]), …), at least two points each.

    Raises:
        ValueError: unless flows start at or above zero and rise, heads never rise, and the first head is above zero.

    Validity: see `duty`; the head has a continuous derivative, below zero everywhere.

    >>> curves = PumpCurves((((0.0, 3.0), (2.5e-4, 2.6), (5e-4, 1.7)),))
    >>> head, slope = curves.heads(np.array([2.5e-4]))
    >>> print(head.round(4), slope.round(0), curves.duty(np.array([6e-4])))
    [2.6] [-2215.] ('run-out',)

    Reference: that of `monotone`. The continuation outside the points: common practice, no source.
    """

    def __init__(self, curves: Sequence[Points]) -> None:
        pieces = [_pieces(points) for points in curves]
        most = max((len(start) for start, _ in pieces), default=1)
        self._start = np.full((len(pieces), most), np.inf)
        self._cubic = np.zeros((len(pieces), most, 4))
        self._first = np.array([points[0][0] for points in curves])
        self._last = np.array([points[-1][0] for points in curves])
        for i, (start, cubic) in enumerate(pieces):
            self._start[i, : len(start)] = start
            self._cubic[i, : len(start)] = cubic

    def heads(self, q: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Give each pump's head and its slope.

        Parameters:
            q: (p,) flow from inlet to outlet [m³/s], any sign.

        Returns:
            head : (p,) [m]
            slope : (p,) dH/dQ, always below zero [s/m²]
        """
        q = np.asarray(q, dtype=float)
        pump = np.arange(len(q))
        # piece 0 has no lower end and is measured from its upper one, which is piece 1's start
        piece = (q[:, None] >= self._start[:, 1:]).sum(axis=1)
        x = q - self._start[pump, piece]
        a = self._cubic[pump, piece]
        head = a[:, 0] + x * (a[:, 1] + x * (a[:, 2] + x * a[:, 3]))
        return head, a[:, 1] + x * (2.0 * a[:, 2] + x * 3.0 * a[:, 3])

    def duty(self, q: FloatArray) -> tuple[Duty, ...]:
        """Say where each pump works; flows within a millionth of the largest one count as none.

        Parameters:
            q: (p,) flow from inlet to outlet [m³/s], any sign.

        Returns:
            p words, see `Duty`.
        """
        return tuple(_duty(*flows) for flows in zip(q, self._first, self._last, strict=True))


def _duty(q: float, first: float, last: float) -> Duty:
    still = _STILL * last
    if abs(q) <= still:
        return "shut-off"
    if q < 0.0:
        return "backwards"
    if q < first - still:
        return "below first point"
    return "run-out" if q > last + still else "on curve"


def _pieces(points: Points) -> tuple[FloatArray, FloatArray]:
    """Pieces of one curve: where each starts, and its cubic from there; the first reaches back for ever."""
    q, h = (np.array(values, dtype=float) for values in zip(*points, strict=True))
    _check(q, h)
    mean = h[0] / q[-1]
    tilt = _TILT * mean
    slope = slopes(q, h) - tilt
    h = h - tilt * (q - q[0])

    step = np.diff(q)
    rise = np.diff(h) / step
    second = (3 * rise - 2 * slope[:-1] - slope[1:]) / step
    third = (slope[:-1] + slope[1:] - 2 * rise) / step**2
    inner = np.stack((h[:-1], slope[:-1], second, third), axis=1)
    width = _BLEND * (q[-1] - q[0])
    below, above = min(slope[0], -mean), min(slope[-1], -mean)
    curve_below, curve_above = (below - slope[0]) / (2 * width), (above - slope[-1]) / (2 * width)
    # a parabola from each end to the line's slope; with nothing to make up it is a straight piece
    foot = h[0] - width * (slope[0] + below) / 2
    toe = h[-1] + width * (slope[-1] + above) / 2
    start = np.concatenate(([q[0] - width, q[0] - width], q, [q[-1] + width]))
    cubic = np.concatenate(
        (
            [[foot, below, 0.0, 0.0], [foot, below, -curve_below, 0.0]],
            inner,
            [[h[-1], slope[-1], curve_above, 0.0], [toe, above, 0.0, 0.0]],
        )
    )
    return start, cubic


def _check(q: FloatArray, h: FloatArray) -> None:
    if len(q) < 2:
        raise ValueError("a pump's curve needs at least two points")
    if not (np.isfinite(q).all() and np.isfinite(h).all()):
        raise ValueError("a pump's curve needs numbers for flow and head")
    if q[0] < 0.0 or not (np.diff(q) > 0.0).all():
        raise ValueError("a pump's curve needs flows that start at or above zero and rise")
    if h[0] <= 0.0 or not (np.diff(h) <= 0.0).all():
        raise ValueError("a pump's curve needs heads that start above zero and never rise with the flow")
