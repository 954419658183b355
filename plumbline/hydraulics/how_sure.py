"""How sure the flows are: each as a range, from what each number behind them may be out by, and a verdict in words.

σ² = Σ (dQ/dp · σ_p)² over independent numbers p, with dQ/dp from the matrix that Newton's method ends with. This is a straight
line through the answer: good while the ranges are small against the flows themselves, and blind to a check valve or a jet
that would open or shut within the range, or a standpipe that would run dry. Those are named in `tipping`.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..errors import SolveError
from ..layout.model import Layout
from .assemble import Assembly
from .find import find_flows
from .flows import Flows
from .network import FloatArray, Solution
from .pumps import PumpCurves
from .risers import curve_of
from .sensitivity import Tangent
from .stretches import pump_sources
from .turns import in_turns, strongest
from .uncertain_numbers import UncertainNumber, uncertain_numbers

__all__ = [
    "DOUBTFUL",
    "PROBABLY",
    "SURELY",
    "Cause",
    "HowSure",
    "PumpSureness",
    "Range",
    "VesselSureness",
    "Word",
    "how_sure",
    "sources_held",
    "word_of",
]

Word = Literal["surely", "probably", "doubtful", "no"]

SURELY, PROBABLY, DOUBTFUL = 0.975, 0.8, 0.2
"""Least chance of each word. 0.975: the wanted flow lies below the range of ±2σ. 0.8 and 0.2: four in five, and one in
five; common practice, no source. Below one in five a buyer should not count on it: "no"."""

WIDTH = 2.0
"""Half the range, in standard deviations: about 95 % (95.4 % where errors are normal)."""

FEWEST = 0.05
"""Causes of less than this share of a variance are not worth naming."""


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause of a range: `what` in plain words, and its `share` of the variance, 0 to 1."""

    what: str
    share: float


@dataclass(frozen=True, slots=True)
class Range:
    """A number and how far it may be out, SI. `low` and `high` are about 95 % (±2σ); `causes` the largest first,
    together with the small ones all of the variance."""

    value: float
    sigma: float
    low: float
    high: float
    causes: tuple[Cause, ...]

    @property
    def ends(self) -> tuple[float, float]:
        """From the lowest to the highest."""
        return self.low, self.high


@dataclass(frozen=True, slots=True)
class VesselSureness:
    """One vessel's `inflow` [m³/s]; where it states what it `wanted` [m³/s], the `chance` of getting that much or more, and
    the `word` for it. Where nothing comes at all, the chance is at most what is given."""

    inflow: Range
    wanted: float | None = None
    chance: float | None = None
    word: Word | None = None


@dataclass(frozen=True, slots=True)
class PumpSureness:
    """One pump's duty: `flow` [m³/s] and `head` [m]."""

    flow: Range
    head: Range


@dataclass(frozen=True)
class HowSure:
    """`vessels` and `pumps` by name. `tipping` are the ids of stretches in which a check valve or an end in the air may
    as well be in its other state, or a standpipe run dry: near them the ranges say too little. `numbers` are all that may be out."""

    vessels: Mapping[str, VesselSureness]
    pumps: Mapping[str, PumpSureness]
    tipping: tuple[str, ...]
    numbers: tuple[UncertainNumber, ...]


def how_sure(layout: Layout, flows: Flows | None = None) -> HowSure:
    """Say how sure the flows of a layout are.

    Parameters:
        flows: its steady flows with all caps shut, as `find_flows` gives them; left out, they are found.

    Raises:
        SolveError: where the flows have no single derivative.
        ValueError: where the flows are plainly not those of the layout: by its pumps' curves and its stretches.

    Levels of vessels with standpipes are taken as known to within `water levels`, whatever flows: they follow the flow by
    millimetres. Lengths, stated draws and the water's temperature are taken as they are.

    Reference: JCGM 100:2008, 5.1.2, combined standard uncertainty of independent quantities (from memory).
    """
    flows = flows or find_flows(layout)
    if flows.turns:
        return _all_turns([how_sure(one, found) for one, found in zip(in_turns(layout), flows.turns, strict=True)])
    assembly, solution = sources_held(layout, flows)
    network, q = assembly.network, solution.flows
    tangent = Tangent(network, solution)
    numbers = uncertain_numbers(layout, assembly, solution)
    answers = [tangent.answer(number.energy) for number in numbers]
    sigmas = np.array([number.sigma for number in numbers])
    d_head = np.array([head for head, _ in answers]).reshape(len(numbers), len(network.draw)) * sigmas[:, None]
    d_flow = np.array([flow for _, flow in answers]).reshape(len(numbers), len(q)) * sigmas[:, None]
    tipping = dict(_tipping(layout, assembly, tangent, numbers, d_head, d_flow))
    pumps = dict(_pumps(assembly, flows, numbers, d_flow, q))
    whole = _all_that_comes(layout, pumps)
    vessels = {}
    for name, vessel in layout.vessels.items():
        into = [(link, sign, sign * q[link] > 0.0) for link, sign in assembly.ways(name)]
        moves = sum((sign * d_flow[:, link] for link, sign, on in into if on), np.zeros(len(numbers)))
        inflow = _range(flows.vessels[name].inflow, moves, numbers, least=0.0)
        inflow = replace(inflow, high=min(inflow.high, max(whole, inflow.value)))
        most = max((tipping.get(link, 0.0) for link, _, on in into if not on), default=0.0)
        vessels[name] = _vessel(inflow, vessel.wants, most)
    if flows.doubtful:
        vessels, pumps = _both(layout, flows, vessels, pumps)
    doubtful = {link for link, chance in tipping.items() if chance >= 1.0 - SURELY}
    ids = tuple(name for name, link in assembly.links.items() if link.link in doubtful)
    return HowSure(vessels, pumps, ids, numbers)


def _all_that_comes(layout: Layout, pumps: Mapping[str, PumpSureness]) -> float:
    """What pumps and supplies may give together [m³/s], which no vessel can get more than; without an end where one that is held as
    written may give by itself."""
    if any(vessel.area is None for name, vessel in layout.vessels.items() if name not in pump_sources(layout)):
        return math.inf
    return sum(one.flow.high for one in pumps.values()) + sum(max(-end.draw, 0.0) for end in layout.ends.values())


def _all_turns(turns: Sequence[HowSure]) -> HowSure:
    """Of indexing valves, each vessel and pump as in the turn in which most flows there."""
    tipping = tuple(dict.fromkeys(name for one in turns for name in one.tipping))
    return HowSure(
        strongest([one.vessels for one in turns], lambda vessel: vessel.inflow.value),
        strongest([one.pumps for one in turns], lambda pump: pump.flow.value),
        tipping,
        turns[0].numbers,
    )


def sources_held(layout: Layout, flows: Flows) -> tuple[Assembly, Solution]:
    """The network that the flows were found on, with the vessels that pumps draw from, and that nothing runs out of by itself, held where they
    settled: the level of any other follows its ways out."""
    solved = flows.solved
    if solved is None:
        raise ValueError("these flows were not found on a network")
    curves = tuple(curve_of(layout, layout.pumps[name]) for name in solved.assembly.pumps if name in layout.pumps)
    if curves != solved.assembly.network.pump_curves or solved.assembly.links.keys() != {
        one.id for one in layout.stretches
    }:
        raise ValueError("these flows are not those of the layout")
    network = solved.assembly.network
    fixed, storage = network.fixed_head.copy(), network.storage.copy()
    gives = {layout.ends[point].name for point in layout.ends if flows.out_of(point) < 0.0}
    for name in pump_sources(layout) - gives:
        node = solved.assembly.vessels[name]
        fixed[node], storage[node] = solved.solution.heads[node], 0.0
    return replace(solved.assembly, network=replace(network, fixed_head=fixed, storage=storage)), solved.solution


def _both(
    layout: Layout, flows: Flows, vessels: Mapping[str, VesselSureness], pumps: Mapping[str, PumpSureness]
) -> tuple[dict[str, VesselSureness], dict[str, PumpSureness]]:
    """The ranges stretched over what flows if the siphons that are in doubt do otherwise than was taken."""
    broken = any(flows.stretches[name].vented for name in flows.doubtful)
    try:
        other = find_flows(layout, siphons="held" if broken else "broken", margins=False)
    except SolveError:
        return dict(vessels), dict(pumps)
    what = "air in pipe that falls"
    wider = {}
    for name, one in vessels.items():
        inflow = _stretched(one.inflow, other.vessels[name].inflow, what)
        word, chance = one.word, one.chance
        if one.wanted and chance is not None and inflow is not one.inflow:
            # Which of the two it is nobody knows: as likely the one as the other.
            chance = 0.5 * (chance + float(other.vessels[name].inflow >= one.wanted))
            word = word_of(chance)
        wider[name] = VesselSureness(inflow, one.wanted, chance, word)
    duties = {
        name: PumpSureness(
            _stretched(one.flow, other.pumps[name].flow, what), _stretched(one.head, other.pumps[name].head, what)
        )
        for name, one in pumps.items()
    }
    return wider, duties


def _stretched(given: Range, value: float, cause: str) -> Range:
    """A range that holds another value with as much about it."""
    low, high = given.value - given.low, given.high - given.value
    if abs(value - given.value) <= 1e-3 * abs(given.value):
        return given
    moved = (value - given.value) ** 2
    whole = moved + given.sigma**2
    others = (replace(one, share=one.share * given.sigma**2 / whole) for one in given.causes)
    causes = (Cause(cause, moved / whole), *others)
    share = abs(value / given.value) if given.value else 1.0
    return Range(
        given.value,
        math.sqrt(whole),
        min(given.low, value - share * low),
        max(given.high, value + share * high),
        tuple(sorted((one for one in causes if one.share >= FEWEST), key=lambda one: -one.share)),
    )


def _tipping(
    layout: Layout,
    assembly: Assembly,
    tangent: Tangent,
    numbers: Sequence[UncertainNumber],
    d_head: FloatArray,
    d_flow: FloatArray,
) -> Iterator[tuple[int, float]]:
    """For each one-way link and each standpipe that spills, the chance that it is in its other state than found."""
    network = assembly.network
    for link in np.flatnonzero(network.valves & ~network.shut).tolist():
        tail, head = network.tail[link], network.head[link]
        if tangent.open_links[link]:
            margin, moves = abs(float(tangent.flows[link])), d_flow[:, link]
        else:
            own = np.array([number.energy[link] * number.sigma for number in numbers])
            margin = float(tangent.at_rest[link] - tangent.heads[tail])
            moves = d_head[:, tail] - d_head[:, head] + own
        sigma = math.sqrt(float(moves @ moves))
        if sigma > 0.0 and math.isfinite(margin):
            yield link, _normal(-margin / sigma)


def _pumps(
    assembly: Assembly, flows: Flows, numbers: Sequence[UncertainNumber], d_flow: FloatArray, q: FloatArray
) -> Iterator[tuple[str, PumpSureness]]:
    if not assembly.pumps:
        return
    links = list(assembly.pumps.values())
    _, slopes = PumpCurves(assembly.network.pump_curves).heads(q[links])
    for row, (name, link) in enumerate(assembly.pumps.items()):
        own = np.array([number.pump_head[row] * number.sigma for number in numbers])
        duty, head = flows.pumps[name], own + slopes[row] * d_flow[:, link]
        yield name, PumpSureness(_range(duty.flow, d_flow[:, link], numbers), _range(duty.head, head, numbers))


def _range(value: float, moves: FloatArray, numbers: Sequence[UncertainNumber], least: float = -math.inf) -> Range:
    """A range from how far each number moves a value, in quadrature; and its causes, those of one name together."""
    squares: dict[str, float] = defaultdict(float)
    for number, move in zip(numbers, moves, strict=True):
        squares[number.cause] += float(move) ** 2
    whole = sum(squares.values())
    sigma = math.sqrt(whole)
    ordered = sorted(squares.items(), key=lambda item: -item[1])
    causes = tuple(Cause(what, square / whole) for what, square in ordered if square >= FEWEST * whole > 0.0)
    return Range(value, sigma, max(value - WIDTH * sigma, least), value + WIDTH * sigma, causes)


def _vessel(inflow: Range, wanted: float | None, most: float) -> VesselSureness:
    if not wanted:
        return VesselSureness(inflow, wanted)
    if inflow.value == 0.0 and inflow.sigma == 0.0:
        chance = most
    elif inflow.sigma == 0.0:
        chance = float(inflow.value >= wanted)
    else:
        chance = _normal((inflow.value - wanted) / inflow.sigma)
    return VesselSureness(inflow, wanted, chance, word_of(chance))


def word_of(chance: float) -> Word:
    """The word for a chance.

    >>> [word_of(chance) for chance in (0.98, 0.9, 0.5, 0.1)]
    ['surely', 'probably', 'doubtful', 'no']
    """
    words: tuple[tuple[float, Word], ...] = ((SURELY, "surely"), (PROBABLY, "probably"), (DOUBTFUL, "doubtful"))
    return next((word for least, word in words if chance >= least), "no")


def _normal(z: float) -> float:
    """Chance that a standard normal number is below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))
