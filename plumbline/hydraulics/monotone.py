"""A smooth curve through points that goes up and down only where they do: a piecewise cubic (Fritsch and Carlson) whose slopes are
Fritsch and Butland's weighted harmonic means, known as PCHIP.

References: Fritsch & Carlson, SIAM J. Numer. Anal. 17, 1980, 238; Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5, 1984, 300.
"""

from __future__ import annotations

import numpy as np

from .network import FloatArray

__all__ = ["interpolated", "slopes"]


def interpolated(x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
    """Give the curve's values.

    Parameters:
        x: (n,) places of the points, rising.
        y: (n, …) their values.
        at: (m,) where they are wanted, from the first place to the last.

    Returns:
        (m, …).

    >>> interpolated(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 1.0]), np.array([0.5, 1.5])).tolist()
    [0.6875, 1.0]
    """
    if len(x) == 1:
        return np.repeat(y, len(at), axis=0)
    left = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    step, slope = _along(np.diff(x)[left], y), slopes(x, y)
    t = _along(at - x[left], y) / step
    low, rise = y[left], y[left + 1] - y[left]
    out, into = step * slope[left], step * slope[left + 1]
    return np.asarray(low + t * (out + t * (3.0 * rise - 2.0 * out - into + t * (out + into - 2.0 * rise))))


def slopes(x: FloatArray, y: FloatArray) -> FloatArray:
    """Give the slopes at the points (n, …): weighted harmonic means inside, a limited three-point formula at the ends."""
    step = _along(np.diff(x), y)
    rise = np.diff(y, axis=0) / step
    if len(rise) == 1:
        return np.concatenate([rise, rise])
    left, right = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
    both, inner = rise[:-1] * rise[1:], np.zeros_like(rise[1:])
    np.divide((left + right) * both, left * rise[1:] + right * rise[:-1], out=inner, where=both > 0.0)
    ends = [_end(step[a], step[b], rise[a], rise[b]) for a, b in ((0, 1), (-1, -2))]
    return np.concatenate([ends[0][None], inner, ends[1][None]])


def _end(step: FloatArray, next_step: FloatArray, rise: FloatArray, next_rise: FloatArray) -> FloatArray:
    slope = ((2.0 * step + next_step) * rise - step * next_rise) / (step + next_step)
    turns = (rise * next_rise < 0.0) & (np.abs(slope) > 3.0 * np.abs(rise))
    return np.where(slope * rise <= 0.0, 0.0, np.where(turns, 3.0 * rise, slope))


def _along(row: FloatArray, y: FloatArray) -> FloatArray:
    """A row, to go with the first axis of y."""
    return row.reshape(-1, *[1] * (y.ndim - 1))
