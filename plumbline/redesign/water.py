"""Whether the water does what is asked once pipe and valves are changed: valves are set afresh as far as that takes, and the flows judged.

Setting valves. A valve that serves one vessel alone and is given free is closed until its vessel gets just what it should with its margin: with D
the head lost in the valve's stretch, h the velocity head at the valve and r the share of its flow that is to be left, K grows by
(D/h)(1/r² − 1), which would be exact if the heads at the stretch's ends stayed; a few rounds do. What one vessel does not take is left to
the others, so this gives the others as much as they can have. Openings are then rounded up to what a hand can set.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..errors import PlumblineError, SolveError
from ..findings import Finding
from ..hydraulics.find import find_flows
from ..hydraulics.flows import Flows
from ..hydraulics.judge import judge
from ..hydraulics.power_cut import power_cut
from ..hydraulics.power_cut_findings import judge_power_cut
from ..hydraulics.serving import Valve, adjustable, find_service, opening_table, with_openings
from ..hydraulics.valve_units import opening_for
from ..layout.model import Layout
from ..upkeep.dead_legs import by_shape, dead_legs

__all__ = ["Settled", "Unmet", "Wanted", "failures", "levels_of", "own_valves", "safely", "settle", "unmet"]

GRAVITY = 9.80665
ROUNDINGS = (0.05, 0.01)
"""Openings are rounded up to a twentieth, or where that gives too much away to a hundredth: about what a handle can be set to."""

ROUNDS = 20
NEAR = 0.003
"""Valves are set until each vessel gets within this share of what it should."""

_ENOUGH = 1e-9


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked of the water: the `margin` above what each vessel wants, `but` for some; no dead leg over the limit (`legs`). No finding that
    fails, always."""

    margin: float
    legs: bool = True
    but: frozenset[str] = frozenset()

    def aims(self, layout: Layout) -> dict[str, float]:
        """What each vessel should get [m³/s]."""
        return {name: (1.0 + self.margin) * vessel.wants for name, vessel in layout.vessels.items()
                if vessel.wants and name not in self.but}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Unmet:
    """Something asked for that is not so: the `kind` of finding, or "margin"; its `line`; `place` the vessel or line; and `lacks`, a size
    by which two of a kind can be told apart in harm."""

    kind: str
    line: str | None
    place: str
    lacks: float
    words: str


@dataclass(frozen=True)
class Settled:
    """Water that was settled: the `openings` of the valves set, by (line, step) of the layout judged and by the vessel served (`set`), its `flows`,
    and what is `unmet`."""

    openings: Mapping[tuple[str, int], float]
    flows: Flows | None
    unmet: tuple[Unmet, ...]
    set: Mapping[str, float] = field(default_factory=dict)


def own_valves(layout: Layout, flows: Flows) -> dict[str, Valve]:
    """Give for each vessel that wants water the one valve that serves it and nothing else, if there is one."""
    if not any(vessel.wants for vessel in layout.vessels.values()):
        return {}
    out = {}
    for one in find_service(layout, flows).servings:
        if (
            len(one.valves) == 1
            and {name for name, _ in one.valves[0].cuts} == {one.vessel}
            and adjustable(one.valves[0].part)
        ):
            out[one.vessel] = one.valves[0]
    return out


def settle(
    layout: Layout,
    free: Mapping[str, Valve],
    wanted: Wanted,
    levels: Mapping[str, float],
    warm: dict[str, float] | None = None,
    *,
    thorough: bool = False,
) -> Settled:
    """Set the valves that are free, and judge what comes of it.

    Parameters:
        layout: with its changes made.
        free: the valves that may be set, by the vessel that each serves.
        wanted: what is asked.
        levels: where the water stands, near enough, to begin with [m above the datum].
        warm: what the valves took in a layout much like it, K beyond open by vessel, to begin from; it is kept up.
        thorough: whether to judge everything even where some vessel is short.

    Returns:
        The openings and what is unmet with them. Where no setting will do, those that came nearest.
    """
    aims = wanted.aims(layout)
    free = {name: valve for name, valve in free.items() if name in aims}
    if not free:
        return _judged(layout, {}, wanted)
    extra = dict(warm or {})
    best: Settled | None = None
    try:
        for openings, flows in _throttled(layout, free, aims, levels, extra):
            short = [name for name, aim in aims.items() if flows.vessels[name].inflow < (1.0 - 2.0 * NEAR) * aim]
            if short:
                if thorough and best is None:
                    best = _judged(layout, openings, wanted)
                return best or Settled(openings, flows, tuple(_short(layout, flows, name, wanted) for name in short))
            if warm is not None:
                warm.update(extra)
            for rounding in ROUNDINGS:
                near = {
                    key: min(1.0, round(math.ceil(value / rounding - 1e-6) * rounding, 6))
                    for key, value in openings.items()
                }
                got = _judged(layout, near, wanted)
                if best is None or len(got.unmet) < len(best.unmet):
                    best = got
                if not got.unmet:
                    return replace(got, set={name: near[valve.key] for name, valve in free.items()})
    except SolveError as error:
        best = best or Settled({}, None, (Unmet("no steady flow", None, "", 1.0, str(error)),))
    assert best is not None
    return best


def _throttled(
    layout: Layout,
    free: Mapping[str, Valve],
    aims: Mapping[str, float],
    levels: Mapping[str, float],
    extra: dict[str, float],
) -> Iterator[tuple[dict[tuple[str, int], float], Flows]]:
    """Openings, with their flows: the first at which every vessel gets its aim, if there are any, and the least at which each vessel with a
    free valve still does."""
    openings = {}
    for name, valve in free.items():
        table = opening_table(valve.part)
        openings[valve.key] = opening_for(extra.setdefault(name, 0.0), table.points, table.shut_at)
    met = False
    for _ in range(ROUNDS):
        flows = find_flows(with_openings(layout, openings), levels=levels)
        if not met and all(flows.vessels[name].inflow >= aim for name, aim in aims.items()):
            met = True
            yield dict(openings), flows
        moved = False
        for name, valve in free.items():
            left = _left(flows, name, valve, aims[name])
            if left is None and extra[name] > 0.0:
                extra[name], openings[valve.key], moved = 0.0, 1.0, True
            if left is None or abs(left - 1.0) <= NEAR or (left > 1.0 and extra[name] == 0.0):
                continue
            stretch = flows.stretches[valve.stretch]
            speed = abs(stretch.flow) / (math.pi / 4.0 * valve.part.pipe.bore**2)
            change = stretch.loss / (speed**2 / (2.0 * GRAVITY)) * (1.0 / left**2 - 1.0)
            extra[name] = max(extra[name] + change, 0.0)
            table = opening_table(valve.part)
            openings[valve.key] = opening_for(extra[name], table.points, table.shut_at)
            moved = True
        if not moved:
            break
    yield openings, flows


def _left(flows: Flows, name: str, valve: Valve, aim: float) -> float | None:
    """The share of a valve's flow that is to be left; None where nothing flows."""
    got, through = flows.vessels[name].inflow, abs(flows.stretches[valve.stretch].flow)
    if got <= 0.0 or through <= 0.0:
        return None
    # What comes to the vessel past the valve cannot be throttled here.
    return max(aim - (got - through), 0.05 * through) / through


def _short(layout: Layout, flows: Flows, name: str, wanted: Wanted) -> Unmet:
    wants = layout.vessels[name].wants or 1.0
    got = flows.vessels[name].inflow
    lacks = (1.0 + wanted.margin) - got / wants
    return Unmet(
        "margin", None, name, lacks, f"'{name}' has {got / wants - 1.0:+.0%} where {wanted.margin:+.0%} is asked."
    )


def _judged(layout: Layout, openings: Mapping[tuple[str, int], float], wanted: Wanted) -> Settled:
    turned = with_openings(layout, openings)
    try:
        flows = find_flows(turned)
    except SolveError as error:
        return Settled(openings, None, (Unmet("no steady flow", None, "", 1.0, str(error)),))
    return Settled(openings, flows, unmet(turned, flows, failures(turned, flows), wanted))


def failures(layout: Layout, flows: Flows) -> list[Finding]:
    """The findings about water that fail, with the pumps on and with them off."""
    found = list(judge(layout, flows))
    try:
        cut = power_cut(layout, flows) if flows.pumps else None
    except SolveError:
        cut = None
    if cut is not None:
        found += judge_power_cut(layout, flows, cut)
    return [finding for finding in found if finding.level == "fail"]


def unmet(layout: Layout, flows: Flows, fails: Sequence[Finding], wanted: Wanted) -> tuple[Unmet, ...]:
    """Tell what is asked for and not so."""
    out = [Unmet(one.kind, one.line, one.line or one.kind, one.weight, one.message) for one in fails]
    for name, aim in wanted.aims(layout).items():
        if flows.vessels[name].inflow < aim * (1.0 - _ENOUGH):
            out.append(_short(layout, flows, name, wanted))
    if wanted.legs:
        told = [
            leg
            for leg in by_shape(layout)
            if not leg.drained and not all(s.id in flows.cut_off for s, _, _ in leg.pieces)
        ]
        out += [Unmet("dead-leg", one.line, one.line or "", 1.0, one.message) for one in dead_legs(layout, told)]
    return tuple(out)


def levels_of(flows: Flows) -> dict[str, float]:
    """Where the water stands in the vessels whose level was found."""
    return {name: got.level for name, got in flows.vessels.items() if got.level is not None}


def safely(layout: Layout, levels: Mapping[str, float] | None = None) -> Flows | None:
    """The flows of a layout, None where there are none. With `levels` only roughly, with the water standing there."""
    try:
        return find_flows(layout, levels=levels)
    except PlumblineError:
        return None
