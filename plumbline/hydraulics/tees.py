"""Head changes at tees and wyes, as one law that is continuous in the flow split, with its derivative.

A tee has two run legs and a branch. One leg carries the *combined* flow and the other two share it, so there
are six regimes: the combined leg is run 0, run 1 or the branch, and it divides or combines. Within a regime
everything depends on one number, the share u of the combined flow in one leg:

    H_j − H_c = −σ f_j(u) q_c²        σ = +1 dividing, −1 combining;  f = K/(2 g A_c²)

Sources of f, and what is added so that no regime ends in a step:

* **Combined leg a run** (four regimes): Crane TP-410 (2009) as in `fluids.fittings`. The steps inside its
  tables are replaced by the larger of the two pieces, rounded over a width of ±0.02 (`_larger`):
  C = max(0.9 (1 − r), 0.55), and G = max(1 − 0.6 r, 0.6) or max(1.1 − 0.7 r, 0.85) for wyes. The branch's K
  then leaves Crane's by at most 6.7 %, at shares between 0.33 and 0.7 only, and the run's by 0.0013.
* **Sharp side of a wye.** Crane's table F(30°…90°) is 2 cos θ within 0.008, the momentum theorem's term; it
  is carried on to turns past 90° as F(θ) = −F(180° − θ), and the dividing branch's J cos θ with its own
  cosine (J = 2). The turn is otherwise a tee's. Crane gives nothing past 90°.
* **Branch about to stop.** With no flow in the branch, dividing puts its head G velocity heads (1 to 1.1)
  below the run, and combining C (0.9 or 1), so the two are drawn to their mean over shares below 0.1, by
  0.05 V²/2g at most when the run bores are equal. With unequal ones the slower run's velocity head is used.
* **Combined leg the branch** (two regimes, which Crane does not have): each f is the parabola in the share
  of run 1 through three values: at both ends what Crane's regime next door gives when its run stops, and at
  the equal split Idelchik's symmetrical tee, combining 1 + a²/4, dividing 1 + 0.3 a²/4 (velocity of the
  branch, a = branch area over run area).

A node has one head, but no regime says where it lies among its legs. It is placed so that
Σ |q_i| drop_i = 0: then it is continuous when the combined leg changes. The lost power ρ g Σ q_i drop_i does
not depend on this choice as Σ q_i = 0.

Validity: bores of the two run legs alike (with unequal ones the run's own widening or narrowing is not
counted: put in a reducer), turbulent flow, angles of 30° to 90°; below 30° the table's last value is held.
Single coefficients may be negative: the faster stream gives energy to the slower one. What other published methods
make of it, and what that says of the uncertainty, is told in docs/methods/pipe.md.

References: Crane Co., *Flow of Fluids*, TP-410, 2009, ch. 2, equations for tees and wyes, as corrected by
its errata and written in `fluids.fittings`. Idelchik, *Handbook of Hydraulic Resistance*, 3rd ed.,
symmetrical tees with rectangular corners (from memory; 0.3 is for smooth welded tees, 1.5 for threaded iron
ones).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from plumbline.hydraulics.network import BoolArray, FloatArray, IntArray

from ..water import GRAVITY

__all__ = ["Tees", "drops", "ready_tees", "tee_drops"]

_ROUNDING = 0.02
_DEAD_SHARE = 0.1
_TABLE_DEGREES = (30.0, 45.0, 60.0, 90.0)
_TABLE_F = (1.74, 1.41, 1.0, 0.0)
_TEE_FROM = 75.0
"""Crane has wyes up to 60° and tees at 90°, parted half-way here. `fluids` does the same but for H and J,
which it parts at 60° itself, against its own notes: a 60° wye would change with the last bit of its angle."""


class _Turn(NamedTuple):
    """What Crane's coefficients depend on besides the split, for the combined run leg of each tee; all (t,), or (2, t) for either run leg.

    `area2` = β² = branch area over combined area; `h` Crane's H and `j` its J cos θ; `branch_f` and `run_f`
    its F; `wye` says whether its wye rules hold; `scale` = 1/(2 g A²) of the combined leg [s²/m⁵].
    """

    area2: FloatArray
    h: FloatArray
    j: FloatArray
    branch_f: FloatArray
    run_f: FloatArray
    wye: BoolArray
    scale: FloatArray

    def of(self, run: IntArray | int, tee: IntArray) -> _Turn:
        """For tees in each of which one run leg carries all."""
        return _Turn._make([values[run, tee] for values in self])


class Tees(NamedTuple):
    """What the losses of t tees need of their bores and angles: `turns` (2, t) for either run leg, and `scale` (t,) of the branch [s²/m⁵]."""

    turns: _Turn
    scale: FloatArray


def ready_tees(bore: FloatArray, angle: FloatArray, gravity: float = GRAVITY) -> Tees:
    """Make tees ready for `drops`, by what `tee_drops` takes."""
    scale = 8.0 / (np.pi**2 * gravity * bore**4)
    degrees = np.degrees(angle)
    sides = (_turn(bore, scale, degrees, 0), _turn(bore, scale, 180.0 - degrees, 1))
    return Tees(_Turn._make(np.stack(values) for values in zip(*sides, strict=True)), scale[:, 2])


class _Law(NamedTuple):
    """f and df/du [s²/m⁵] of the two legs that share the combined flow; u is the share of `first`."""

    first: FloatArray
    first_slope: FloatArray
    second: FloatArray
    second_slope: FloatArray


def tee_drops(
    q: FloatArray, bore: FloatArray, angle: FloatArray, gravity: float = GRAVITY
) -> tuple[FloatArray, FloatArray]:
    """Head of each leg of each tee above its node's head, and the derivative by the legs' flows.

    drop_i = H_i − H_node = −σ (f_i − Σ w_k f_k) q_c², w_k = |q_k|/Σ|q|; see the module for f. Flows that do
    not add up to zero are taken less their mean, so the law is as smooth off the plane Σ q = 0 as on it.

    Parameters:
        q: (t, 3) flow towards the tee in (run 0, run 1, branch) [m³/s].
        bore: (t, 3) [m].
        angle: (t,) turn from run 0 out at the branch, at most 90° [rad]: the branch leans towards run 1.
        gravity: [m/s²].

    Returns:
        drop : (t, 3) [m]
        slope : (t, 3, 3) with slope[:, i, j] = ∂drop_i/∂q_j [s/m²]; each row adds up to zero

    Both are zero where nothing flows. drop is continuous everywhere and homogeneous of degree 2; slope is
    continuous but at the six boundaries between regimes, where it is one of the two one-sided slopes.

    Example: Crane's example 7.35, 300 gpm in the run and 100 gpm from the branch of a 4 in tee, K −0.042 and 0.325:

    >>> gpm, bore = 6.30902e-5, 0.10226
    >>> q = gpm * np.array([[300.0, -400.0, 100.0]])
    >>> drop, _ = tee_drops(q, np.full((1, 3), bore), np.array([np.pi / 2]))
    >>> head = (q[0, 1] / (np.pi / 4 * bore**2)) ** 2 / (2 * 9.80665)
    >>> print(((drop[0] - drop[0, 1]) / head).round(3))
    [ 0.325  0.    -0.042]

    Reference: the module's.
    """
    bores, angles = np.asarray(bore, dtype=float), np.asarray(angle, dtype=float)
    return drops(np.asarray(q, dtype=float), ready_tees(bores, angles, gravity))


def drops(q: FloatArray, tees: Tees) -> tuple[FloatArray, FloatArray]:
    """As `tee_drops`, for tees that have been made ready."""
    flow = q - q.sum(axis=1, keepdims=True) / 3.0
    tee = np.arange(len(flow))
    combined = np.abs(flow).argmax(axis=1)
    bullhead = combined == 2
    first = np.where(bullhead, 1, 2)
    second = 3 - combined - first

    flow_c = flow[tee, combined]
    size = np.abs(flow_c)
    dividing = flow_c > 0.0
    share = np.minimum(np.maximum(-flow[tee, first] / np.where(dividing | (size > 0.0), flow_c, 1.0), 0.0), 1.0)

    f = np.empty((len(flow), 2))
    df = np.empty((len(flow), 2))
    for out in (True, False):
        alike = dividing if out else ~dividing
        where = np.flatnonzero(alike & ~bullhead)
        if len(where):
            run = combined[where]
            own, other = tees.turns.of(run, where), tees.turns.of(1 - run, where)
            _store(_regular(share[where], own, other, dividing=out), where, f, df)
        where = np.flatnonzero(alike & bullhead)
        if len(where):
            sides = (tees.turns.of(0, where), tees.turns.of(1, where))
            _store(_bullhead(share[where], sides, tees.scale[where], dividing=out), where, f, df)

    shares = np.stack((share, 1.0 - share), axis=1)
    mean = 0.5 * (shares * f).sum(axis=1)
    mean_slope = 0.5 * (f[:, 0] - f[:, 1] + (shares * df).sum(axis=1))
    g = np.empty_like(flow)
    dg = np.empty_like(flow)
    g[tee, combined], dg[tee, combined] = -mean, -mean_slope
    g[tee, first], dg[tee, first] = f[:, 0] - mean, df[:, 0] - mean_slope
    g[tee, second], dg[tee, second] = f[:, 1] - mean, df[:, 1] - mean_slope

    drop = -(flow_c * size)[:, None] * g
    slope = np.zeros((len(flow), 3, 3))
    slope[tee, :, combined] = -size[:, None] * (2.0 * g - share[:, None] * dg)
    slope[tee, :, first] = size[:, None] * dg
    slope -= slope.sum(axis=2, keepdims=True) / 3.0
    return drop, slope


def _store(law: _Law, where: IntArray, f: FloatArray, df: FloatArray) -> None:
    f[where, 0], f[where, 1] = law.first, law.second
    df[where, 0], df[where, 1] = law.first_slope, law.second_slope


def _turn(bore: FloatArray, scale: FloatArray, degrees: FloatArray, run: int) -> _Turn:
    """Gather what Crane's coefficients need when run leg `run` carries the combined flow."""
    sharp = degrees > 90.0
    acute = np.minimum(degrees, 180.0 - degrees)
    wye = degrees < _TEE_FROM
    table = np.interp(acute, _TABLE_DEGREES, _TABLE_F)
    branch_f = np.where(sharp, -table, table)
    run_f = np.where(wye, np.maximum(table, 1.0), np.where(sharp, -table, 0.0))
    area2 = (bore[:, 2] / bore[:, run]) ** 2
    # H = 0.3 and J = 0 for wide tees, else 1 and 2; past 90° the cosine's term comes back (see the module)
    blunt = ~wye & (area2 > 4.0 / 9.0)
    h = np.where(blunt, 0.3, 1.0)
    j = np.where(blunt & ~sharp, 0.0, 2.0 * np.cos(np.radians(degrees)))
    return _Turn(area2, h, j, branch_f, run_f, wye, scale[:, run])


def _larger(a: FloatArray, b: FloatArray | float) -> tuple[FloatArray, FloatArray]:
    """max(a, b) with the corner rounded by a parabola over |a − b| < 0.02, and its derivative by a."""
    weight = np.minimum(np.maximum((a - b + _ROUNDING) / (2.0 * _ROUNDING), 0.0), 1.0)
    return b + _ROUNDING * weight**2 + np.maximum(a - b - _ROUNDING, 0.0), weight


def _dividing(r: FloatArray, turn: _Turn) -> _Law:
    """Crane's K and dK/dr of (branch, run) when the branch takes the share r of the combined flow."""
    x = r / turn.area2
    narrow_g, narrow_weight = _larger(1.1 - 0.7 * r, 0.85)
    wide_g, wide_weight = _larger(1.0 - 0.6 * r, 0.6)
    narrow = turn.area2 <= 0.35
    square = np.where(turn.area2 > 2.0 / 3.0, 0.3, 0.0)
    g = np.where(turn.wye, np.where(narrow, narrow_g, wide_g), 1.0 + square * r**2)
    dg = np.where(turn.wye, np.where(narrow, -0.7 * narrow_weight, -0.6 * wide_weight), 2.0 * square * r)
    inner = 1.0 + turn.h * x**2 - turn.j * x
    inner_slope = (2.0 * turn.h * x - turn.j) / turn.area2
    # M = 2 (2r − 1) up to r = 0.5 and 0.3 (2r − 1) above, that is the smaller of the two
    s = 1.0 - 2.0 * r
    negative, weight = _larger(2.0 * s, 0.3 * s)
    small = turn.area2 <= 0.4
    m = np.where(small, 0.4, -negative)
    dm = np.where(small, 0.0, 4.0 * weight + 0.6 * (1.0 - weight))
    return _Law(g * inner, dg * inner + g * inner_slope, m * r**2, dm * r**2 + 2.0 * m * r)


def _combining(r: FloatArray, turn: _Turn) -> _Law:
    """Crane's K and dK/dr of (branch, run) when the branch brings the share r of the combined flow."""
    c, weight = _larger(0.9 * (1.0 - r), 0.55)
    narrow = turn.area2 <= 0.35
    c, dc = np.where(narrow, 1.0, c), np.where(narrow, 0.0, -0.9 * weight)
    inner = 1.0 + (r / turn.area2) ** 2 - 2.0 * (1.0 - r) ** 2 - turn.branch_f / turn.area2 * r**2
    inner_slope = 2.0 * r / turn.area2**2 + 4.0 * (1.0 - r) - 2.0 * turn.branch_f / turn.area2 * r
    linear = np.where(turn.wye, 2.0, 1.55)
    square = 1.0 + turn.run_f / turn.area2
    run, run_slope = linear * r - square * r**2, linear - 2.0 * square * r
    return _Law(c * inner, dc * inner + c * inner_slope, run, run_slope)


def _regular(u: FloatArray, own: _Turn, other: _Turn, *, dividing: bool) -> _Law:
    """f of (branch, other run) when the run leg `own` carries the combined flow; u is the branch's share."""
    law = _dividing(u, own) if dividing else _combining(u, own)
    upstream, downstream = (own, other) if dividing else (other, own)
    below_dividing = np.where(upstream.wye & (upstream.area2 <= 0.35), 1.1, 1.0)
    below_combining = np.where(downstream.area2 <= 0.35, 1.0, 0.9)
    common = 0.5 * (below_dividing + below_combining) * np.minimum(own.scale, other.scale)
    gap = common - below_dividing * own.scale if dividing else below_combining * own.scale - common
    near = np.maximum(1.0 - u / _DEAD_SHARE, 0.0)
    return _Law(
        law.first * own.scale + gap * near**2,
        law.first_slope * own.scale - gap * 2.0 * near / _DEAD_SHARE,
        law.second * own.scale,
        law.second_slope * own.scale,
    )


def _bullhead(u: FloatArray, turns: tuple[_Turn, _Turn], scale: FloatArray, *, dividing: bool) -> _Law:
    """f of (run 1, run 0) when the branch carries the combined flow, u being the share of run 1."""
    turn_0, turn_1 = turns
    whole = np.ones_like(u)
    crane = _combining if dividing else _dividing
    end_0, end_1 = crane(whole, turn_0), crane(whole, turn_1)
    live_0, dead_1 = end_0.first * turn_0.scale, (end_0.first - end_0.second) * turn_0.scale
    live_1, dead_0 = end_1.first * turn_1.scale, (end_1.first - end_1.second) * turn_1.scale
    share = 0.075 if dividing else 0.25
    first = _parabola(u, dead_1, (1.0 + share * turn_1.area2**2) * scale, live_1)
    second = _parabola(u, live_0, (1.0 + share * turn_0.area2**2) * scale, dead_0)
    return _Law(*first, *second)


def _parabola(u: FloatArray, start: FloatArray, middle: FloatArray, end: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Value and slope of the parabola through (0, start), (½, middle), (1, end).

    The middle is lifted where the parabola would dip below zero, as the tee would then make power: that is
    so for unequal run bores, and for flat wyes with a branch wider than the run.
    """
    lowest = 0.25 * (np.sqrt(np.maximum(start, 0.0)) - np.sqrt(np.maximum(end, 0.0))) ** 2
    middle = np.maximum(middle, lowest)
    value = start * (1.0 - u) * (1.0 - 2.0 * u) + 4.0 * middle * u * (1.0 - u) + end * u * (2.0 * u - 1.0)
    return value, start * (4.0 * u - 3.0) + 4.0 * middle * (1.0 - 2.0 * u) + end * (4.0 * u - 1.0)
