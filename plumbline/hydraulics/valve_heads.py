"""A layout with its valves open and flows given where they are to be: one state of it, and what that leaves over."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from ..errors import SolveError
from ..layout.model import Layout
from .flows import Flows
from .given_flows import Forced, Rig, rig
from .loss_units import to_square
from .network import Solution
from .stretches import pump_sources
from .valve_service import Service, Serving, Valve, opening_table

__all__ = ["HARDLY", "Unit", "ValveHeads", "opening_for", "units_of"]


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
        units.append(Unit(valves, vessels, also, ones[0].piece, tuple(shares), any(one.besides for one in ones)))
    return units


HARDLY = 1e-4
"""The share of what they want at which all are held to see whether water can get to a vessel at all."""

IMPOSSIBLE = -1e3
"""Stands for the head left over [m] where the flows asked for cannot be at all."""

KEPT = 0.005
"""The share of what a vessel receives that is to go on running down its standpipe, so that it is seen to be full."""

FLOW_AS_HEAD = 1e4
"""Puts what is left over at a standpipe [m³/s] on a par with heads [m]; only its sign matters."""


class ValveHeads:
    """The layout with its valves open, and flows given where they are to be."""

    def __init__(self, layout: Layout, service: Service, flows: Flows) -> None:
        self.layout = layout
        self.service = service
        self.wants = {name: vessel.wants or 0.0 for name, vessel in layout.vessels.items()}
        self.units = units_of(layout, service.servings, flows)
        self.missing: dict[str, float] = {}
        self.limited: dict[int, str] = {}
        self.caps: dict[int, float] = {}
        self.dry: set[str] = set()
        """Vessels that give more than they get, whatever is done here."""
        self.last: Solution | None = None
        self.rig: Rig | None = None
        self.state: object = None
        """What `rig` was made for."""
        self.levels: dict[str, float] = {}
        self.vented: frozenset[str] = frozenset()
        self.limits: frozenset[str] = frozenset()
        """Vessels that feed something set here and give no more than they get."""
        self.stand(flows)

    def stand(self, flows: Flows) -> float:
        """Take over where the water stands in `flows`; vessels that feed something set here are to stand at their stated level, or
        their standpipes' crest, at least. Returns how far levels moved [m]."""
        levels = {name: got.level for name, got in flows.vessels.items() if got.level is not None}
        self.limits = frozenset(self.givers() & levels.keys() - pump_sources(self.layout))
        for name in self.limits - self.dry:
            # Drawn down while its valves stood too wide: they are to be set so that it is full.
            levels[name] = max(levels[name], self.layout.vessels[name].level, *self.crests(name))
        moved = max((abs(level - self.levels.get(name, level)) for name, level in levels.items()), default=0.0)
        if levels.keys() != self.levels.keys():
            moved = float("inf")
        self.levels = levels
        self.vented = frozenset(name for name, got in flows.stretches.items() if got.vented)
        return moved

    def crests(self, vessel: str) -> list[float]:
        """The heights of a vessel's standpipes [m above the datum]."""
        ends = self.layout.ends.values()
        return [end.place[2] for end in ends if end.port == "standpipe" and end.name == vessel]

    def givers(self, piece: int | None = None) -> set[str]:
        """Vessels that feed the pieces in which something is set, or one of them."""
        pieces = {unit.piece for unit in self.units} if piece is None else {piece}
        return {name for one in pieces for name in self.service.givers.get(one, ())}

    def at(self, aim: Mapping[int, float]) -> Forced:
        """Solve with a share s given in each piece."""
        given = {
            valve.stretch: valve.towards * share * aim[unit.piece] * unit.amount(self.wants)
            for unit in self.units
            for valve, share in zip(unit.valves, unit.shares, strict=True)
        }
        rigged = self.rigged(given)
        try:
            forced = rigged.solve(given, self.last)
        except SolveError:
            if self.last is None:
                raise
            self.last = None
            forced = rigged.solve(given)
        self.last = forced.solution
        return forced

    def rigged(self, given: Mapping[str, float]) -> Rig:
        """The layout cut there, with the water as it stands now."""
        ways = tuple((name, flow < 0.0) for name, flow in given.items())
        state = (ways, self.limits, self.vented, tuple(sorted(self.levels.items())))
        if state != self.state or self.rig is None:
            self.rig = rig(self.layout, given, levels=self.levels, vented=self.vented, held=self.limits)
            self.state = state
        return self.rig

    def slack(self, pieces: Collection[int], aim: Mapping[int, float]) -> float:
        """The least that is left over in some pieces, as head [m]; below nothing where the shares cannot be."""
        try:
            forced = self.at(aim)
        except SolveError:
            self.last = None
            return IMPOSSIBLE
        least = min(self.head_left(piece, forced) for piece in pieces)
        spare, scarce = min(((self.spare(piece, forced), piece) for piece in pieces), default=(least, -1))
        if spare < least:
            self.limited |= {piece: self.scarcest(scarce, forced) for piece in pieces}
        else:
            for piece in pieces:
                self.limited.pop(piece, None)
        return max(min(least, spare), IMPOSSIBLE)

    def head_left(self, piece: int, forced: Forced) -> float:
        """The least head left over at a valve of a piece [m]."""
        return min(forced.surplus[valve.stretch] for unit in self.units if unit.piece == piece for valve in unit.valves)

    def spare(self, piece: int, forced: Forced) -> float:
        """The least that runs down the standpipes of a piece's givers beyond what is to be kept, put as a head."""
        name = self.scarcest(piece, forced)
        return float("inf") if name == "" else FLOW_AS_HEAD * self.left(name, forced)

    def scarcest(self, piece: int, forced: Forced) -> str:
        """The giver of a piece with the least to spare; "" where none has a standpipe."""
        givers = [name for name in sorted(self.givers(piece) - self.dry) if name in forced.spare]
        return min(givers, key=lambda name: self.left(name, forced), default="")

    def left(self, name: str, forced: Forced) -> float:
        """What a giver gets beyond what it gives and is to keep [m³/s]."""
        return forced.spare[name] - (KEPT * forced.inflow[name] if self.crests(name) else 0.0)

    def loose_share(self, piece: int, aim: Mapping[int, float]) -> float:
        """The smallest share among the vessels of a piece that have no valve; without end where it has none."""
        loose = [one.vessel for one in self.service.servings if one.piece == piece and not one.valves]
        forced = self.at(aim)
        return min((forced.inflow[name] / self.wants[name] for name in loose), default=math.inf)

    def groups(self) -> list[list[int]]:
        """The pieces in which something is set, those together that share a giver whose supply may not do for all."""
        groups: list[list[int]] = []
        for piece in dict.fromkeys(unit.piece for unit in self.units):
            scarce = self.givers(piece) & self.limits
            joined = [group for group in groups if any(self.givers(other) & scarce for other in group)]
            groups = [group for group in groups if group not in joined]
            groups.append([piece, *(other for group in joined for other in group)])
        return groups

    def leave_out(self) -> None:
        """Leave out the vessels that water cannot get to even when the others take next to nothing."""
        while self.units:
            aim = dict.fromkeys((unit.piece for unit in self.units), HARDLY)
            try:
                forced = self.at(aim)
            except SolveError:
                if not self._drop_what_cannot_be():
                    raise
                continue
            for name in self.givers() - self.dry:
                if forced.spare.get(name, 0.0) < 0.0:
                    self.dry.add(name)
                    break
            else:
                worst = min(
                    (valve for unit in self.units for valve in unit.valves), key=lambda v: forced.surplus[v.stretch]
                )
                if forced.surplus[worst.stretch] > 0.0:
                    return
                self._drop(worst, -forced.surplus[worst.stretch])

    def _drop(self, valve: Valve, missing: float) -> None:
        """Leave a valve open, and let its vessels take what they get."""
        self.last = None
        unit = next(one for one in self.units if valve in one.valves)
        left = [(v, share) for v, share in zip(unit.valves, unit.shares, strict=True) if v is not valve]
        place = self.units.index(unit)
        if left:
            whole = sum(share for _, share in left)
            shares = tuple(share / whole for _, share in left)
            self.units[place] = replace(unit, valves=tuple(v for v, _ in left), shares=shares)
        else:
            del self.units[place]
            self.missing |= dict.fromkeys(unit.vessels, missing)

    def _drop_what_cannot_be(self) -> bool:
        """Drop the first valve whose flow alone cannot be; False where there is none."""
        for unit in self.units:
            for valve in unit.valves:
                try:
                    given = {valve.stretch: valve.towards * HARDLY * unit.amount(self.wants)}
                    rig(self.layout, given, levels=self.levels, vented=self.vented).solve(given)
                except SolveError:
                    self._drop(valve, float("nan"))
                    return True
        return False

    def openings(self, aim: Mapping[int, float]) -> dict[tuple[str, int], float]:
        """The openings at which the valves take what is left over."""
        if not self.units:
            return {}
        forced = self.at(aim)
        found = {}
        for unit in self.units:
            for valve, share in zip(unit.valves, unit.shares, strict=True):
                flow = share * aim[unit.piece] * unit.amount(self.wants)
                extra = forced.surplus[valve.stretch] / (to_square(1.0, valve.part.pipe.bore) * flow**2)
                table = opening_table(valve.part)
                found[valve.key] = opening_for(extra, table.points, table.shut_at)
        return found
