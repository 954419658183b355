"""The head that every link of a network loses at given flows, with derivatives, all links at once."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from .friction import Runs, ready_runs, runs_loss
from .network import LEVER, BoolArray, FloatArray, IntArray, Network
from .pumps import PumpCurves
from .spray_bar import inlet_head
from .stages import MOUTHS, Stages, mouth_heads, stage_heads
from .tees import Tees, drops, ready_tees
from .weirs import WEIRS, drowned_head

__all__ = ["GUESSED_SPEED", "Laws", "Losses", "Needs", "build_laws", "first_losses", "losses", "median", "needs"]

GUESSED_SPEED = 0.5
"""Speed [m/s] at which the laws are made linear for the very first step. Any value of that order serves."""


MOST_KEPT = 2000
"""Links of the largest network whose laws are kept for the next solve; those of a larger one take little of its time."""

HARDLY = 1e-6
"""Stands for nothing in how a link feels the head beyond a fall: a place that water only falls to has a head all the same, which
rises once the pipe is full."""


@dataclass(frozen=True)
class Losses:
    """What m links lose at given flows.

    `head` (m,) [m] is H[tail] − H[head] as the link's law asks for it; `slope` (m,) [s/m²] its derivative by the
    link's own flow without the tees' share; `tee` (t, 3, 3) [s/m²] the tees' share, ∂ head of leg i / ∂ flow of
    leg j, signed along the links. `friction`, `steep` (r + 1,) the runs' friction and its slope, added up from the first.
    """

    head: FloatArray
    slope: FloatArray
    tee: FloatArray
    friction: FloatArray = field(default_factory=lambda: np.zeros(1))
    steep: FloatArray = field(default_factory=lambda: np.zeros(1))


@dataclass(frozen=True)
class Laws:
    """A network's laws made ready for use.

    `guess` (m,) [m³/s] is the size of flow expected in each link, and `secant` (m,) [s/m²] what it loses there per
    flow; `keeps` (m,) is True where a link's flow has to stay an unknown of its own, because its law depends on other links' flows, or
    because its loss may have no derivative to divide by; `stages` are those of the water that enters at the links' tails; `runs` and
    `tees` are what friction and the tees' losses need of the pipe; `floats` (f,) are the links with a float valve, and `weirs` tells whether any
    stage is a weir.
    """

    network: Network
    runs: Runs
    tees: Tees
    pumps: PumpCurves | None
    guess: FloatArray
    secant: FloatArray
    keeps: BoolArray
    stages: Stages
    floats: IntArray
    weirs: bool


def build_laws(network: Network) -> Laws:
    """Make a network's laws ready."""
    pipes = _Pipes(network, _same_laws(network))
    ready = _ready(pipes) if len(network.tail) <= MOST_KEPT else _ready.__wrapped__(pipes)
    stages = network.stages.only(~network.stages.back) if len(network.stages.link) else network.stages
    secant = ready.secant
    over = stages.only(secant[stages.link] <= 0.0)
    if len(over.link):
        # Where water falls over a wall, with no pipe behind it, the wall alone takes head.
        guess, secant = ready.guess[over.link], secant.copy()
        np.maximum.at(secant, over.link, mouth_heads(over.mouth, guess, over.bore, over.k, network.gravity)[0] / guess)
    floats = np.flatnonzero(np.isfinite(network.float_at))
    weirs = bool(np.isin(stages.mouth, [MOUTHS.index(shape) for shape in WEIRS]).any())
    return replace(ready, network=network, stages=stages, secant=secant, floats=floats, weirs=weirs)


@dataclass(frozen=True)
class _Pipes:
    """A network that counts as the same as another with the same `key`."""

    network: Network = field(compare=False)
    key: tuple[Hashable, ...]


def _same_laws(network: Network) -> tuple[Hashable, ...]:
    """All that a network's laws hang on, but for its stages: many solves differ in levels and in what is shut alone."""
    arrays = [
        network.run_link,
        network.run_bore,
        network.run_length,
        network.run_roughness,
        network.square,
        network.linear,
        network.open_ended,
        network.tee_link,
        network.tee_bore,
        network.tee_angle,
        network.pump_link,
        network.bar_link,
    ]
    if not (len(network.run_link) or len(network.pump_link)):
        arrays += [network.draw, network.fixed_head]
    water = (network.density, network.viscosity, network.gravity)
    return (*water, network.pump_curves, network.bars, *(values.tobytes() for values in arrays))


@lru_cache(maxsize=64)
def _ready(pipes: _Pipes) -> Laws:
    """The laws but for the stages."""
    network = pipes.network
    m = len(network.tail)
    nu = network.viscosity / network.density
    pumps = PumpCurves(network.pump_curves) if len(network.pump_link) else None
    guess = _guess_flows(network, m)
    runs = ready_runs(network.run_bore, network.run_length, network.run_roughness, nu, network.gravity)
    tees = ready_tees(network.tee_bore, network.tee_angle, network.gravity)
    no = np.zeros(m, dtype=bool)
    bare = Laws(network, runs, tees, pumps, guess, np.zeros(m), no, network.stages, np.flatnonzero(no), False)
    at_guess, at_rest = _passive(bare, guess), _passive(bare, np.zeros(m))
    secant = at_guess.head / guess
    keeps = at_rest.slope <= 1e-8 * _typical(secant)
    keeps[network.tee_link] = True
    keeps |= network.open_ended
    tee_loss = 0.5 * np.abs(guess[network.tee_link]) / (2.0 * network.gravity * _area(network.tee_bore) ** 2)
    secant = secant + _per_link(network.tee_link.ravel(), tee_loss.ravel(), m)
    return replace(bare, secant=secant, keeps=keeps)


def losses(laws: Laws, flows: FloatArray) -> Losses:
    """Give every link's loss and its derivatives.

    loss = Σ friction over the link's runs + `square`·Q·|Q| (`square_back` when Q < 0) + `linear`·Q + its share of the tees at its
    ends + what its spray bar asks for − its pump's head.

    Parameters:
        flows: (m,) [m³/s].
    """
    network = laws.network
    m = len(flows)
    passive = _passive(laws, flows)
    head, slope = passive.head, passive.slope
    if laws.pumps is not None:
        lift, falls = laws.pumps.heads(flows[network.pump_link])
        head = head - _per_link(network.pump_link, lift, m)
        slope = slope - _per_link(network.pump_link, falls, m)
    tee = np.zeros((len(network.tee_link), 3, 3))
    if len(tee):
        sign = network.tee_sign
        drop, by_flow = drops(sign * flows[network.tee_link], laws.tees)
        head = head + _per_link(network.tee_link.ravel(), (sign * drop).ravel(), m)
        tee = sign[:, :, None] * by_flow * sign[:, None, :]
    return Losses(head, slope, tee, passive.friction, passive.steep)


@dataclass(frozen=True)
class Needs:
    """What m links ask for at given heads. `head` (m,) [m] the head at the tail that meets the law; `slope` (m,) [s/m²] its
    derivative by the link's own flow; `feels` (m,) 1 where it follows the head at the link's head end, else `HARDLY`; `staged` (m,)
    True where a stage sets it; `falls` (m,) where the water falls out at a tip."""

    head: FloatArray
    slope: FloatArray
    feels: FloatArray
    staged: BoolArray
    falls: BoolArray


def needs(laws: Laws, heads: FloatArray, flows: FloatArray, found: Losses) -> Needs:
    """Give the head that each link's law asks for at its tail.

    max( the stages' heads, max(H[head], tip) + loss(Q) ) in an open-ended link, H[head] + loss(Q) in another. Where what a link asks
    for behind a weir stands over its crest, the weir is drowned and asks for more.

    Parameters:
        heads: (n,) [m].
        flows: (m,) [m³/s].
    """
    network = laws.network
    beyond = heads[network.head]
    falls = network.tip_head > beyond
    head = np.where(falls, network.tip_head, beyond) + found.head
    slope, staged = found.slope, np.zeros(len(flows), dtype=bool)
    stages = laws.stages
    if len(stages.link):
        asked, by_flow = stage_heads(stages, flows[stages.link], found.friction, found.steep, network.gravity)
        # The last one of each link, in rising order, is the largest.
        order = np.lexsort((asked, stages.link))
        last = order[np.append(np.diff(stages.link[order]) > 0, True)]
        last = last[asked[last] > head[stages.link[last]]]
        at = stages.link[last]
        head[at], staged[at] = asked[last], True
        slope = slope.copy()
        slope[at] = by_flow[last]
    feels = np.where(falls | staged, HARDLY, 1.0)
    if len(laws.floats):
        head[laws.floats] += LEVER * (beyond - network.float_at)[laws.floats]
        feels[laws.floats] += LEVER
    if laws.weirs:
        _drown(stages, beyond, network.tip_head, found, flows, (head, slope, feels, staged), network.gravity)
    return Needs(head, slope, feels, staged, falls & ~staged)


def _drown(
    stages: Stages,
    beyond: FloatArray,
    tip: FloatArray,
    found: Losses,
    flows: FloatArray,
    asked: tuple[FloatArray, FloatArray, FloatArray, BoolArray],
    gravity: float,
) -> None:
    """Put what drowned weirs ask for in place of what their links do, in `asked`: heads, slopes, feels and staged."""
    head, slope, feels, staged = asked
    for shape in WEIRS:
        weir = np.flatnonzero(stages.mouth == MOUTHS.index(shape))
        if not len(weir):
            continue
        behind = np.maximum(beyond, tip)[stages.link[weir]] + found.head[stages.link[weir]] - stages.height[weir]
        weir, behind = weir[behind > 0.0], behind[behind > 0.0]
        at = stages.link[weir]
        depth, by_flow, by_depth = drowned_head(
            shape, np.maximum(flows[at], 0.0), behind, stages.bore[weir], stages.k[weir], gravity
        )
        more = stages.height[weir] + depth > head[at]
        at, by_flow, by_depth = at[more], by_flow[more], by_depth[more]
        head[at], staged[at] = (stages.height[weir] + depth)[more], False
        slope[at] = by_flow + by_depth * found.slope[at]
        feels[at] = np.where(tip[at] > beyond[at], HARDLY, np.maximum(by_depth, HARDLY))


def first_losses(laws: Laws) -> Losses:
    """Give straight-line laws for the first step, as they stand at zero flow.

    A passive link loses `secant`·Q, so the line does not depend on which way the water goes; a pump follows its
    tangent at half of its curve's largest flow.

    Returns:
        The `Losses` of the straight lines at Q = 0.
    """
    network = laws.network
    m = len(laws.guess)
    head, slope = np.zeros(m), laws.secant.copy()
    if laws.pumps is not None:
        middle = np.array([0.5 * curve[-1][0] for curve in network.pump_curves])
        lift, falls = laws.pumps.heads(middle)
        head = head - _per_link(network.pump_link, lift - falls * middle, m)
        slope = slope - _per_link(network.pump_link, falls, m)
    none = np.zeros(len(network.run_link) + 1)
    return Losses(head, slope, np.zeros((len(network.tee_link), 3, 3)), none, none)


def _passive(laws: Laws, flows: FloatArray) -> Losses:
    """Friction, `square`, `linear` and spray bars: what depends on the link alone and opposes the flow."""
    network = laws.network
    m = len(flows)
    link = network.run_link
    lost, by_flow = runs_loss(flows[link], laws.runs)
    speed = np.abs(flows)
    square = np.where(flows < 0.0, network.square_back, network.square)
    head = _per_link(link, lost, m) + (square * speed + network.linear) * flows
    slope = _per_link(link, by_flow, m) + 2.0 * square * speed + network.linear
    for at, bar in zip(network.bar_link.tolist(), network.bars, strict=True):
        asked, by_its_flow = inlet_head(bar, float(flows[at]))
        head[at] += asked
        slope[at] += by_its_flow
    friction, steep = (np.concatenate([[0.0], np.cumsum(values)]) for values in (lost * np.sign(flows[link]), by_flow))
    return Losses(head, slope, np.zeros((0, 3, 3)), friction, steep)


def _guess_flows(network: Network, m: int) -> FloatArray:
    """The size of flow to expect in each link: its narrowest run at the guessed speed."""
    area = np.full(m, np.inf)
    np.minimum.at(area, network.run_link, _area(network.run_bore))
    known = np.isfinite(area)
    if known.any():
        typical = GUESSED_SPEED * median(area[known])
    elif len(network.pump_link):
        typical = median([0.5 * curve[-1][0] for curve in network.pump_curves])
    elif np.any(network.draw):
        typical = float(np.max(np.abs(network.draw)))
    else:
        fixed = network.fixed_head[np.isfinite(network.fixed_head)]
        spread = float(np.ptp(fixed)) if len(fixed) else 0.0
        square, linear = _typical(network.square), _typical(network.linear)
        typical = np.sqrt(spread / square) if square else spread / linear if linear else 0.0
    guess = np.where(known, GUESSED_SPEED * np.where(known, area, 0.0), typical)
    return np.where(guess > 0.0, guess, 1e-4)


def _typical(values: FloatArray) -> float:
    """The median of the positive values, 0 if there are none."""
    positive = values[values > 0.0]
    return median(positive) if len(positive) else 0.0


def median(values: FloatArray | list[float]) -> float:
    """The median, without what numpy's own loads for it."""
    row = np.sort(values)
    return float(row[(len(row) - 1) // 2] + row[len(row) // 2]) / 2.0


def _area(bore: FloatArray) -> FloatArray:
    return 0.25 * np.pi * bore**2


def _per_link(link: IntArray, values: FloatArray, m: int) -> FloatArray:
    return np.asarray(np.bincount(link, weights=values, minlength=m), dtype=np.float64)
