"""Valves that are set together, and the opening at which a valve takes a given head."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..layout.model import Layout
from .flows import Flows
from .valve_service import Serving, Valve

__all__ = ["Unit", "opening_for", "units_of"]


@dataclass(frozen=True)
class Unit:
    """Valves set together for some vessels. `shares` of the flow go through each; `also` are other vessels behind the
    same valves that have valves of their own; `besides` tells that water also comes to them past these valves; `factor`
    is what goes through over what the vessels want."""

    valves: tuple[Valve, ...]
    vessels: tuple[str, ...]
    also: tuple[str, ...]
    piece: int
    shares: tuple[float, ...]
    besides: bool
    factor: float = 1.0

    def amount(self, wants: Mapping[str, float]) -> float:
        """The flow through its valves at s = 1 [m³/s]."""
        return self.factor * sum(wants[name] for name in (*self.vessels, *self.also))


def opening_for(extra: float, points: tuple[tuple[float, float], ...], shut_at: float = 0.0) -> float:
    """Give the opening at which a valve costs so much more than when it is fully open.

    1/√(1 + e) is linear between the table's rows, e = K(opening) − K(1): the inverse of `losses.valve_opening`.

    Parameters:
        extra: e, K beyond that of the open valve, on the velocity head of its bore [-], 0 or more.
        points: the table's rows (opening, K).
        shut_at: opening at and below which nothing passes.

    Returns:
        Opening, `shut_at` to 1 (full open).

    >>> gate = ((1.0, 0.15), (0.75, 0.26), (0.5, 2.1), (0.25, 17.0))
    >>> round(opening_for(2.1 - 0.15, gate), 9)
    0.5

    Reference: the table's own.
    """
    rows = sorted(points)
    openings = [shut_at, *(opening for opening, _ in rows)]
    passing: list[float] = [0.0, *((1.0 + k - rows[-1][1]) ** -0.5 for _, k in rows)]
    wanted: float = (1.0 + max(extra, 0.0)) ** -0.5
    for i in range(1, len(passing)):
        if wanted <= passing[i]:
            share = (wanted - passing[i - 1]) / (passing[i] - passing[i - 1])
            return openings[i - 1] + share * (openings[i] - openings[i - 1])
    return 1.0


def units_of(layout: Layout, servings: tuple[Serving, ...], flows: Flows) -> list[Unit]:
    """Group the vessels by the valves that serve them; several valves of one vessel share its flow as they do when open."""
    by_valves: dict[tuple[tuple[str, int], ...], list[Serving]] = {}
    for one in servings:
        if one.valves:
            by_valves.setdefault(tuple(valve.key for valve in one.valves), []).append(one)
    units = []
    for ones in by_valves.values():
        valves = ones[0].valves
        vessels = tuple(one.vessel for one in ones)
        behind = {name for valve in valves for name, _ in valve.cuts}
        also = tuple(name for name in layout.vessels if name in behind and name not in vessels)
        through = [max(valve.towards * flows.stretches[valve.stretch].flow, 0.0) for valve in valves]
        shares = [one / sum(through) for one in through] if min(through) > 0.0 else [1.0 / len(valves)] * len(valves)
        units.append(Unit(valves, vessels, also, ones[0].piece, tuple(shares),
                          any(one.besides for one in ones)))  # fmt: skip
    return units
