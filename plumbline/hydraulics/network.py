"""What the solver takes: a network as arrays, SI throughout, with no knowledge of layouts.

Nodes carry total heads, links carry flows. Link `l` goes from node `tail[l]` to node `head[l]`; its flow is positive
that way, and its energy equation is

    H[tail] − H[head] = loss_l(Q)

with loss_l the sum of pipe friction over its runs, `square`·Q² (`square_back` when Q < 0) signed with Q,
`linear`·Q, its share of the tees at its ends and its spray bar, less the head of its pump.

Where a link begins or ends at open water it has a law of more stages. Water that enters at its tail needs

    H[tail] = max( its stages' heads, max(H[head], tip) + loss_l(Q) )

with `stages` the mouth and the places that stand open to the air (see `stages`), and `tip_head` the height that the water
falls from where it leaves: a falling jet carries its water but not its head. A float valve at the head adds what its float
presses with, `LEVER` times as much as the level there stands over `float_at`. Such a link passes water only while that law
is met, either way by the end that it enters at, and otherwise exactly none.

A node may store water: what its level gains, `storage`·(H − `stored`), is taken from its balance.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..water import GRAVITY
from .stages import Stages, no_stages

if TYPE_CHECKING:
    from .spray_bar import Bar

__all__ = ["LEVER", "LISTS", "BoolArray", "FloatArray", "IntArray", "Network", "Solution", "make_network"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

LEVER = 1000.0
"""How much more than the water it stands in a float valve presses with: from open to shut against the head of mains in 20 mm."""


@dataclass(frozen=True)
class Network:
    """A network of n nodes, m links, r runs, t tees and p pumps.

    Nodes: `fixed_head` (n,) [m], NaN where the head is to be found; `draw` (n,) [m³/s], flow taken out there
    (a fixed-head node has no balance, its draw is ignored); `storage` (n,) [m²/s] area over time, from the level `stored`
    (n,) [m].
    Links: `tail`, `head` (m,) node numbers; `square`, `square_back` (m,) [s²/m⁵] and
    `linear` (m,) [s/m²], all ≥ 0; `one_way` (m,) True where water may only pass from tail to head;
    `shut` (m,) True where nothing passes; `open_ended` (m,) True where water passes by the law with stages, either way
    unless `one_way`; `tip_tail`, `tip_head` (m,) [m] heights that water falls from, −∞ where it goes on as it is.
    `float_at` (m,) [m] the level at the head end from which a float shuts the link, +∞ where none does. `stages` of the links.
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
    gravity: float = GRAVITY
    storage: FloatArray = field(default_factory=lambda: np.zeros(0))
    stored: FloatArray = field(default_factory=lambda: np.zeros(0))
    open_ended: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=bool))
    tip_tail: FloatArray = field(default_factory=lambda: np.zeros(0))
    tip_head: FloatArray = field(default_factory=lambda: np.zeros(0))
    float_at: FloatArray = field(default_factory=lambda: np.zeros(0))
    stages: Stages = field(default_factory=no_stages)
    bar_link: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    bars: tuple[Bar, ...] = ()

    @property
    def valves(self) -> BoolArray:
        """(m,) True for links that pass water from tail to head only, as they stand."""
        return self.one_way | self.open_ended

    @property
    def known(self) -> BoolArray:
        """(n,) True for nodes whose level something holds: a fixed head, or water stored there."""
        return np.isfinite(self.fixed_head) | (self.storage > 0.0)

    def above(self, datum: float) -> Network:
        """The same network with all heights counted from a datum [m]."""
        return replace(
            self,
            fixed_head=self.fixed_head - datum,
            stored=self.stored - datum,
            tip_tail=self.tip_tail - datum,
            tip_head=self.tip_head - datum,
            float_at=self.float_at - datum,
            stages=replace(self.stages, height=self.stages.height - datum),
        )

    def full(self, links: BoolArray) -> Network:
        """The same network with some (m,) links full of water, whatever air comes to them."""
        if not links.any():
            return self
        return replace(self, open_ended=self.open_ended & ~links, stages=self.stages.only(~links[self.stages.link]))

    def float_press(self, heads: FloatArray, link: int) -> float:
        """The head that a float valve at a link's head takes, since the water (n,) `heads` lifts its float; none where there is none [m]."""
        opens = float(self.float_at[link])
        return LEVER * max(float(heads[self.head[link]]) - opens, 0.0) if math.isfinite(opens) else 0.0

    def pressed(self, links: BoolArray) -> Network:
        """The same network with water under the floats of some (m,) links, and the other floats down, their valves wide open."""
        return replace(self, float_at=np.where(links, self.float_at, np.inf))

    def turned(self, links: BoolArray) -> Network:
        """The same network with some (m,) links running the other way."""
        if not links.any():
            return self

        def swap(a: Any, b: Any) -> tuple[Any, Any]:
            return np.where(links, b, a), np.where(links, a, b)

        tail, head = swap(self.tail, self.head)
        square, square_back = swap(self.square, self.square_back)
        tip_tail, tip_head = swap(self.tip_tail, self.tip_head)
        signs = np.where(links[self.tee_link], -self.tee_sign, self.tee_sign) if len(self.tee_link) else self.tee_sign
        stages = replace(self.stages, back=self.stages.back ^ links[self.stages.link])
        return replace(
            self,
            tail=tail,
            head=head,
            square=square,
            square_back=square_back,
            tip_tail=tip_tail,
            tip_head=tip_head,
            tee_sign=signs,
            stages=stages,
        )


@dataclass(frozen=True)
class Solution:
    """Heads and flows that satisfy a `Network`.

    `heads` (n,) [m], NaN where nothing fixes them; `flows` (m,) [m³/s] along the links as the network gives them; `closed` (m,)
    True for links that
    hold back reversed flow (their flow is exactly zero) and for shut links; `floating` (n,) True for nodes that no open path joins to a
    fixed head. `mass_residual` [m³/s] and `energy_residual` [m] are the largest over all nodes and open links,
    recomputed from the final numbers; `steps` the Newton steps taken in all, `factor_seconds`
    for the benchmark. `staged` (m,) True where a stage sets the head at the end that water enters by, and not what
    stands beyond; `falls` (m,) where water falls out at a tip; `turned` (m,) True for links that ran against the network's.
    """

    heads: FloatArray
    flows: FloatArray
    closed: BoolArray
    floating: BoolArray
    mass_residual: float
    energy_residual: float
    steps: int
    factor_seconds: float = 0.0
    staged: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=bool))
    falls: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=bool))
    turned: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=bool))


LISTS: Mapping[str, tuple[str, Any]] = {
    "draw": ("n", 0.0),
    "storage": ("n", 0.0),
    "stored": ("n", 0.0),
    "square": ("m", 0.0),
    "square_back": ("m", 0.0),
    "linear": ("m", 0.0),
    "one_way": ("m", False),
    "shut": ("m", False),
    "open_ended": ("m", False),
    "tip_tail": ("m", -np.inf),
    "tip_head": ("m", -np.inf),
    "float_at": ("m", np.inf),
    "run_bore": ("r", ()),
    "run_length": ("r", ()),
    "run_roughness": ("r", ()),
    "tee_sign": ("t", ()),
    "tee_bore": ("t", ()),
    "tee_angle": ("t", ()),
}
"""The lists of a network besides `fixed_head`: what they have a number for, and that of one that is left out."""


def make_network(
    *,
    fixed_head: ArrayLike,
    tail: ArrayLike,
    head: ArrayLike,
    pump_curves: Sequence[Sequence[tuple[float, float]]] = (),
    bars: Sequence[Bar] = (),
    stages: Stages | None = None,
    density: float = 998.207,
    viscosity: float = 1001.6e-6,
    gravity: float = GRAVITY,
    **lists: Any,
) -> Network:
    """Make a `Network` from lists, with everything that is left out absent, and the shapes checked.

    Parameters:
        as the fields of `Network`; a single number stands for one per node, link, run or tee. `square_back` is `square`
        unless given, and the water is at 20 °C.

    Raises:
        ValueError: if a list has the wrong length or names a node or link that is not there.
    """

    def places(values: ArrayLike, below: int) -> IntArray:
        found = np.asarray(values, dtype=np.int64)
        if found.size and not (found.min() >= 0 and found.max() < below):
            raise ValueError(f"number out of range: {below} there are, counted from 0, and {found.max()} is named")
        return found

    heads = np.asarray(fixed_head, dtype=np.float64)
    n = len(heads)
    tails, heads_at = places(tail, n), places(head, n)
    m = len(tails)
    runs, legs, pumps, barred = (places(lists.pop(f"{what}_link", ()), m) for what in ("run", "tee", "pump", "bar"))
    legs = legs.reshape(-1, 3)
    if len(pumps) != len(pump_curves):
        raise ValueError(f"{len(pumps)} pumps need as many curves, not {len(pump_curves)}")
    if len(barred) != len(bars):
        raise ValueError(f"{len(barred)} links with spray bars need as many bars, not {len(bars)}")
    if len(heads_at) != m:
        raise ValueError(f"{m} links need as many ends")
    lists.setdefault("square_back", lists.get("square", 0.0))
    count = {"n": n, "m": m, "r": len(runs), "t": len(legs)}
    rows: dict[str, Any] = {}
    for name, (of, usual) in LISTS.items():
        shape = (count[of], 3) if name in ("tee_sign", "tee_bore") else (count[of],)
        values = np.asarray(lists.pop(name, usual), dtype=bool if usual is False else np.float64)
        rows[name] = np.array(np.broadcast_to(values, shape)) if values.size or count[of] else np.zeros(shape)
    return Network(
        fixed_head=heads,
        tail=tails,
        head=heads_at,
        run_link=runs,
        tee_link=legs,
        pump_link=pumps,
        pump_curves=tuple(tuple((float(q), float(h)) for q, h in curve) for curve in pump_curves),
        density=density,
        viscosity=viscosity,
        gravity=gravity,
        stages=stages if stages is not None else no_stages(),
        bar_link=barred,
        bars=tuple(bars),
        **rows,
        **lists,
    )
