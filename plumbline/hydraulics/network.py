"""What the solver takes: a network as arrays, SI throughout, with no knowledge of layouts.

Nodes carry total heads, links carry flows. Link `l` goes from node `tail[l]` to node `head[l]`; its flow is positive
that way, and its energy equation is

    H[tail] − H[head] = loss_l(Q)

with loss_l the sum of pipe friction over its runs, `square`·Q² (`square_back` when Q < 0) signed with Q,
`linear`·Q, its share of the tees at its ends and its spray bar, less the head of its pump.

A falling jet carries its water but not its head: so each link end names two nodes, one for the energy (`tail`,
`head`) and one for the water balance (`tail_mass`, `head_mass`). They are the same except where water drops freely into
a vessel or spills into a standpipe.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    from .spray_bar import Bar

__all__ = ["BoolArray", "FloatArray", "IntArray", "Network", "Solution", "make_network"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Network:
    """A network of n nodes, m links, r runs, t tees and p pumps.

    Nodes: `fixed_head` (n,) [m], NaN where the head is to be found; `draw` (n,) [m³/s], flow taken out there
    (a fixed-head node has no balance, its draw is ignored).
    Links: `tail`, `head`, `tail_mass`, `head_mass` (m,) node numbers; `square`, `square_back` (m,) [s²/m⁵] and
    `linear` (m,) [s/m²], all ≥ 0; `one_way` (m,) True where water may only pass from tail to head;
    `shut` (m,) True where nothing passes.
    Runs: `run_link` (r,), `run_bore`, `run_length`, `run_roughness` (r,) [m].
    Tees: `tee_link` (t, 3) the links of (run, run, branch); `tee_sign` (t, 3) +1 where the link's head end is at
    the tee and −1 where its tail end is; `tee_bore` (t, 3) [m]; `tee_angle` (t,) [rad], see `layout.model.Tee`.
    Pumps: `pump_link` (p,), whose flow is positive from inlet to outlet; `pump_curves`, p tuples of
    ((flow [m³/s], head [m]), …).
    Spray bars: `bar_link` (b,) the links that end in them; `bars` the b bars.
    Water: `density` [kg/m³], `viscosity` [Pa·s]; `gravity` [m/s²].
    """

    fixed_head: FloatArray
    draw: FloatArray
    tail: IntArray
    head: IntArray
    tail_mass: IntArray
    head_mass: IntArray
    square: FloatArray
    square_back: FloatArray
    linear: FloatArray
    one_way: BoolArray
    shut: BoolArray
    run_link: IntArray
    run_bore: FloatArray
    run_length: FloatArray
    run_roughness: FloatArray
    tee_link: IntArray
    tee_sign: FloatArray
    tee_bore: FloatArray
    tee_angle: FloatArray
    pump_link: IntArray
    pump_curves: tuple[tuple[tuple[float, float], ...], ...]
    density: float
    viscosity: float
    gravity: float = 9.80665
    bar_link: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    bars: tuple[Bar, ...] = ()


@dataclass(frozen=True)
class Solution:
    """Heads and flows that satisfy a `Network`.

    `heads` (n,) [m], NaN where nothing fixes them; `flows` (m,) [m³/s]; `closed` (m,) True for one-way links that
    hold back reversed flow (their flow is exactly zero) and for shut links; `floating` (n,) True for nodes that no open path joins to a
    fixed head. `mass_residual` [m³/s] and `energy_residual` [m] are the largest over all nodes and open links,
    recomputed from the final numbers; `steps` the Newton steps taken in all, `factor_seconds` and `solve_seconds`
    for the benchmark.
    """

    heads: FloatArray
    flows: FloatArray
    closed: BoolArray
    floating: BoolArray
    mass_residual: float
    energy_residual: float
    steps: int
    factor_seconds: float = 0.0
    solve_seconds: float = 0.0


def make_network(
    *,
    fixed_head: ArrayLike,
    tail: ArrayLike,
    head: ArrayLike,
    draw: ArrayLike = 0.0,
    tail_mass: ArrayLike | None = None,
    head_mass: ArrayLike | None = None,
    square: ArrayLike = 0.0,
    square_back: ArrayLike | None = None,
    linear: ArrayLike = 0.0,
    one_way: ArrayLike = False,
    shut: ArrayLike = False,
    run_link: ArrayLike = (),
    run_bore: ArrayLike = (),
    run_length: ArrayLike = (),
    run_roughness: ArrayLike = (),
    tee_link: ArrayLike = (),
    tee_sign: ArrayLike = (),
    tee_bore: ArrayLike = (),
    tee_angle: ArrayLike = (),
    pump_link: ArrayLike = (),
    pump_curves: Sequence[Sequence[tuple[float, float]]] = (),
    bar_link: ArrayLike = (),
    bars: Sequence[Bar] = (),
    density: float = 998.207,
    viscosity: float = 1001.6e-6,
    gravity: float = 9.80665,
) -> Network:
    """Make a `Network` from lists, with everything that is left out absent, and the shapes checked.

    Parameters
    ----------
    as the fields of `Network`; a single number stands for one per node, link, run or tee. `tail_mass` and `head_mass` are
    `tail` and `head` unless given, `square_back` is `square`, and the water is at 20 °C.

    Returns
    -------
    the `Network`

    Raises
    ------
    ValueError
        if a list has the wrong length or names a node or link that is not there
    """

    def numbers(values: ArrayLike, *shape: int) -> FloatArray:
        return np.array(np.broadcast_to(np.asarray(values, dtype=np.float64), shape))

    def places(values: ArrayLike, below: int) -> IntArray:
        found = np.asarray(values, dtype=np.int64)
        if found.size and not (found.min() >= 0 and found.max() < below):
            raise ValueError(f"number out of range: {below} there are, counted from 0, and {found.max()} is named")
        return found

    heads = np.asarray(fixed_head, dtype=np.float64)
    n = len(heads)
    tails = places(tail, n)
    m = len(tails)
    runs, legs, pumps = places(run_link, m), places(tee_link, m).reshape(-1, 3), places(pump_link, m)
    barred = places(bar_link, m)
    r, t = len(runs), len(legs)
    if len(pumps) != len(pump_curves):
        raise ValueError(f"{len(pumps)} pumps need as many curves, not {len(pump_curves)}")
    if len(barred) != len(bars):
        raise ValueError(f"{len(barred)} links with spray bars need as many bars, not {len(bars)}")
    ends = [places(values, n) for values in (head, head if head_mass is None else head_mass)]
    ends.append(tails if tail_mass is None else places(tail_mass, n))
    if any(len(end) != m for end in ends):
        raise ValueError(f"{m} links need as many ends")
    return Network(
        fixed_head=heads,
        draw=numbers(draw, n),
        tail=tails,
        head=ends[0],
        tail_mass=ends[2],
        head_mass=ends[1],
        square=numbers(square, m),
        square_back=numbers(square if square_back is None else square_back, m),
        linear=numbers(linear, m),
        one_way=np.array(np.broadcast_to(np.asarray(one_way, dtype=bool), m)),
        shut=np.array(np.broadcast_to(np.asarray(shut, dtype=bool), m)),
        run_link=runs,
        run_bore=numbers(run_bore, r),
        run_length=numbers(run_length, r),
        run_roughness=numbers(run_roughness, r),
        tee_link=legs,
        tee_sign=numbers(tee_sign, t, 3) if t else np.zeros((0, 3)),
        tee_bore=numbers(tee_bore, t, 3) if t else np.zeros((0, 3)),
        tee_angle=numbers(tee_angle, t) if t else np.zeros(0),
        pump_link=pumps,
        pump_curves=tuple(tuple((float(q), float(h)) for q, h in curve) for curve in pump_curves),
        density=density,
        viscosity=viscosity,
        gravity=gravity,
        bar_link=barred,
        bars=tuple(bars),
    )
