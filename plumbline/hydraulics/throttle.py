"""How much of what they want vessels can get, and what their valves then have to take: flows given, heads found.

All vessels fed from one piece of pipework get the same share s of what they want, or as nearly so as their valves allow.
s is the largest at which no valve would have to push.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cache

from ..errors import SolveError
from ..layout.model import Layout
from .find import find_flows
from .flows import Flows
from .roots import last_good
from .valve_heads import HARDLY, Unit, ValveHeads
from .valve_service import Service, with_openings

__all__ = ["Throttled", "throttle"]

MOST = 1e4
"""The largest share tried."""

NEAR = 1.002
"""How far from the last share the next is looked for first, as a factor."""

MOST_ROUNDS = 60
SETTLED = 1e-8
"""Levels [m] and shares are found in turn until none moves by more than this."""

FAIR = 0.3
"""Where valves serve more vessels than one, they are set for the one with the smallest share, unless that gets less than
this share of the others' mean: it is then beyond what such a valve can do for it."""


@dataclass(frozen=True)
class Throttled:
    """What was found. `openings` by (line, step) of the valves set; `flows` with them, by the ordinary solver; `aim` the
    share s by vessel; `units` the valves set together; `missing` [m] of head for vessels that water cannot get to;
    `limited` the vessel whose own supply, not its pipes, limits a piece; `settled` False where levels kept moving."""

    openings: Mapping[tuple[str, int], float]
    flows: Flows
    aim: Mapping[str, float]
    units: tuple[Unit, ...]
    missing: Mapping[str, float]
    limited: Mapping[int, str]
    settled: bool


def throttle(layout: Layout, service: Service, before: Flows) -> Throttled:
    """Find the openings that share the water as wanted, with as little throttling as that takes.

    Parameters:
        layout: with every valve that serves a vessel fully open.
        service: who serves whom.
        before: steady flows of it, or of it with its valves as they stand: to begin with its levels.

    Returns:
        The openings, and what the ordinary solver makes of them, without routes.

    Raises:
        SolveError: where the layout has no steady flow.
    """
    heads = ValveHeads(layout, service, before)
    heads.leave_out()
    aim = dict.fromkeys((unit.piece for unit in heads.units), HARDLY)
    openings: dict[tuple[str, int], float] = {}
    flows, settled = before, False
    for _ in range(MOST_ROUNDS):
        for pieces in heads.groups():
            _fill(heads, pieces, aim)
        openings = heads.openings(aim)
        flows = find_flows(with_openings(layout, openings), margins=False)
        moved = max(_share_out(heads, aim, flows), heads.stand(flows), _cap(heads, aim))
        settled = not moved > SETTLED
        if settled:
            break
    return Throttled(
        openings=openings,
        flows=flows,
        aim={name: aim[unit.piece] for unit in heads.units for name in unit.vessels},
        units=tuple(heads.units),
        missing=heads.missing,
        limited=heads.limited,
        settled=settled,
    )


def _fill(heads: ValveHeads, pieces: Collection[int], aim: dict[int, float]) -> None:
    """Raise the shares of a group together, leaving behind each piece that can go no further."""
    free = list(pieces)
    while free:
        share = _largest(heads, free, aim)
        aim |= dict.fromkeys(free, share)
        if len(free) == 1 or free[0] in heads.limited:
            break
        try:
            forced = heads.at({**aim, **dict.fromkeys(free, share * (1.0 + 1e-6))})
        except SolveError:
            break
        free = [piece for piece in free if heads.head_left(piece, forced) > 0.0]
    for piece in pieces:
        aim[piece] = min(_for_the_loose(heads, piece, aim), heads.caps.get(piece, MOST))


def _largest(heads: ValveHeads, pieces: Collection[int], aim: Mapping[int, float]) -> float:
    """The largest share that some pieces can all give, the others being as they are."""

    @cache
    def left(share: float) -> float:
        return heads.slack(pieces, {**aim, **dict.fromkeys(pieces, share)})

    low, high = HARDLY, 1.0
    near = min(aim[piece] for piece in pieces)
    if near > HARDLY and left(NEAR * near) <= 0.0 < left(near / NEAR):
        low, high = near / NEAR, NEAR * near
    while left(high) > 0.0 and high < MOST:
        low, high = high, 2.0 * high
    most = last_good(left, low, high)
    left(most * (1.0 + 1e-9))  # what is short just beyond it is what limits
    return most


def _for_the_loose(heads: ValveHeads, piece: int, aim: Mapping[int, float]) -> float:
    """The share at which a vessel without a valve gets as large a one, but not below 1; as it is where throttling does not help it."""

    def loose(share: float) -> float:
        return heads.loose_share(piece, {**aim, piece: share})

    most = aim[piece]
    if most <= 1.0 or loose(most) >= most or loose(1.0) <= loose(most) * (1.0 + 1e-6):
        return most
    return 1.0 if loose(1.0) < 1.0 else last_good(lambda share: loose(share) - share + 1e-12, 1.0, most)


def _cap(heads: ValveHeads, aim: Mapping[int, float]) -> float:
    """Hold a piece to its wants where another, fed from the same vessel without a standpipe, is short of its own: the
    level there then rises. Returns the largest change."""
    most = 0.0
    rising = {name for name in heads.limits if not heads.crests(name)}
    for piece, share in aim.items():
        shared = [other for other in aim if heads.givers(piece) & heads.givers(other) & rising]
        if share > 1.0 and any(aim[other] < 1.0 for other in shared) and piece not in heads.caps:
            heads.caps[piece] = 1.0
            most = max(most, share - 1.0)
    return most


def _share_out(heads: ValveHeads, aim: Mapping[int, float], flows: Flows) -> float:
    """Set what goes through valves that serve more places than one for the vessel with the smallest share; returns
    the largest change."""
    most = 0.0
    for place, unit in enumerate(heads.units):
        got = [flows.vessels[name].inflow / (aim[unit.piece] * heads.wants[name]) for name in unit.vessels]
        factor = unit.factor
        if len(got) == 1 and unit.besides:
            factor = max(factor + 1.0 - got[0], HARDLY)
        elif len(got) > 1 or any(valve.others for valve in unit.valves):
            factor = factor / min(got) if min(got) > FAIR * sum(got) / len(got) else factor
        heads.units[place] = replace(unit, factor=factor)
        most = max(most, abs(factor - unit.factor))
    return most
