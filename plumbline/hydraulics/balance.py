"""Valve openings that give every vessel what it wants, with no more throttling than that takes.

The flow through each vessel's own valve is given: a share s of what the vessel wants, the same s for all that are fed
from one piece of pipework. The head left over there is what the valve has to take, K = 2 g A² Δh/Q² on top of its loss
when open, and its table turned round gives the opening. s is the largest at which nothing is left over somewhere: there
the valve stands fully open. The answer is then solved again as an ordinary layout with those openings: what is reported
are the flows of that second solution, never those that were given.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..errors import PlumblineError
from ..findings import Finding
from ..layout.faults import listed
from ..layout.model import Layout, Mark
from ..units import show
from .find import find_flows
from .flows import Flows
from .judge import judge
from .throttle import Throttled, throttle
from .turns import in_turns
from .valve_service import Service, Serving, Valve, find_service, label, opening_table, with_openings

__all__ = ["ENOUGH", "Balance", "ValveSetting", "VesselShare", "balance"]

ROUNDING = 0.001
"""Openings are rounded to this: 0.1 %, or 0.09° of a quarter turn, finer than any handle is set."""

ENOUGH = 0.005
"""A vessel that gets its wants less this share of them counts as served: rounding an opening can cost that much."""


@dataclass(frozen=True, slots=True)
class ValveSetting:
    """How a valve is to stand. `line` and `step` say where, `label` in the user's words, `mark` where in the file;
    `before` and `after` are openings, 0 shut to 1 full open; `degrees` from full open, for a quarter-turn valve;
    `serves` the vessels it is set for, none where it is opened so as not to stand in their way."""

    line: str
    step: int
    kind: str
    label: str
    mark: Mark
    before: float
    after: float
    degrees: float | None
    serves: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class VesselShare:
    """What a vessel that wants water gets. `wants`, `before` (as the valves stand now) and `after` [m³/s], both of the
    ordinary solver; `valves` the labels of those set for it; `aim` the share of its wants aimed at, None and the reason
    in `why` where nothing is set for it."""

    name: str
    wants: float
    before: float
    after: float
    valves: tuple[str, ...]
    aim: float | None
    why: str = ""

    @property
    def share(self) -> float:
        """What it gets over what it wants."""
        return self.after / self.wants

    @property
    def enough(self) -> bool:
        """Whether it gets what it wants, to half a percent."""
        return self.share >= 1.0 - ENOUGH


@dataclass(frozen=True)
class Balance:
    """A balance. `layout` has the openings in it, `flows` are its flows by the ordinary solver; `settings` are the valves
    that are set or moved, least throttled first; `vessels` those that want water, in the file's order; `notes` plain
    sentences on what else should be known."""

    layout: Layout
    flows: Flows
    settings: tuple[ValveSetting, ...]
    vessels: tuple[VesselShare, ...]
    fails: tuple[Finding, ...]
    notes: tuple[str, ...]

    @property
    def enough(self) -> bool:
        """Whether every vessel gets what it wants, to half a percent."""
        return all(vessel.enough for vessel in self.vessels)

    @property
    def openings(self) -> Mapping[tuple[str, int], float]:
        """The opening of every valve that is set or moved, by (line, step)."""
        return {(one.line, one.step): one.after for one in self.settings}


def balance(layout: Layout, *, rounding: float = ROUNDING) -> Balance:
    """Work out valve openings that give every vessel what it wants, and prove them.

    Vessels fed from one piece of pipework all get the same share of what they want, as much as the pump or the fall gives; a
    share below 1 says by how much it cannot. A vessel without a valve of its own takes what it gets: for its sake the others
    are throttled further, until its share is as large as theirs, but not below what they want.

    Parameters:
        rounding: openings are rounded to multiples of it; 0 leaves them as found.

    Raises:
        PlumblineError: where no vessel states what it wants, or none of them has a valve to set.
        SolveError: where the layout has no steady flow.
    """
    if not any(vessel.wants for vessel in layout.vessels.values()):
        raise PlumblineError(
            "No vessel says what it wants, so there is nothing to balance: give each bed its flow, for "
            "instance wants: 14 L/min."
        )
    before = find_flows(layout)
    turns = [_Turn.of(*one) for one in _own_turns(layout, before)]
    servings = [one for turn in turns for one in turn.service.servings]
    if not any(one.valves for one in servings):
        bare = [one.vessel for one in servings if one.piece >= 0]
        to = "each of them" if len(bare) == len(servings) else _listed(tuple(bare))
        cure = f"\nPut a ball valve into the line to {to}." if bare else ""
        raise PlumblineError(
            "No valve can be set for any vessel that wants water:\n"
            + "\n".join(f"  {one.vessel}: {one.why}" for one in servings)
            + cure
        )
    # A valve that all turns share stands for the one that it hinders most.
    openings: dict[tuple[str, int], float] = {}
    for turn in turns:
        for key, opening in turn.openings(rounding).items():
            openings[key] = max(opening, openings.get(key, 0.0))
    done = with_openings(layout, openings)
    flows = find_flows(done)
    vessels = tuple(_share(layout, one, turn.found, before, flows) for turn in turns for one in turn.service.servings)
    order = list(layout.vessels)
    return Balance(
        layout=done,
        flows=flows,
        settings=_settings(turns, openings),
        vessels=tuple(sorted(vessels, key=lambda one: order.index(one.name))),
        fails=tuple(one for one in judge(done, flows) if one.level == "fail" and one.kind != "too-little-water"),
        notes=tuple(note for turn in turns for note in _notes(layout, turn.service, turn.found, flows, vessels)),
    )


@dataclass(frozen=True)
class _Turn:
    """Who serves whom while one outlet of each indexing valve has its turn, and what was found for them; all there is without such valves."""

    service: Service
    found: Throttled

    @classmethod
    def of(cls, layout: Layout, before: Flows) -> _Turn:
        """Find it. From the levels as they stand: with all valves open a header may fall so low that its highest beds get nothing."""
        service = find_service(layout, before)
        set_for = {one.vessel for one in service.servings if one.valves}
        service = replace(service, valves=tuple(v for v in service.valves if {name for name, _ in v.cuts} & set_for))
        if not service.valves:
            return cls(service, Throttled({}, before, {}, (), {}, {}, True))
        return cls(
            service, throttle(with_openings(layout, {valve.key: 1.0 for valve in service.valves}), service, before)
        )

    def openings(self, rounding: float) -> dict[tuple[str, int], float]:
        exact = {valve.key: 1.0 for valve in self.service.valves} | dict(self.found.openings)
        return _rounded(self.service, exact, self.found, rounding)


def _own_turns(layout: Layout, before: Flows) -> Iterator[tuple[Layout, Flows]]:
    """Each turn of the indexing valves, in which those vessels alone want water that get most in it."""
    if not before.turns:
        yield layout, before
        return
    best = {
        name: max(range(len(before.turns)), key=lambda i, name=name: before.turns[i].vessels[name].inflow)  # type: ignore[misc]
        for name in layout.vessels
    }
    for number, (turn, flows) in enumerate(zip(in_turns(layout), before.turns, strict=True)):
        wants = {name: vessel.wants if best[name] == number else None for name, vessel in layout.vessels.items()}
        yield (
            replace(turn, vessels={name: replace(one, wants=wants[name]) for name, one in turn.vessels.items()}),
            flows,
        )


def _rounded(
    service: Service, exact: Mapping[tuple[str, int], float], found: Throttled, rounding: float
) -> dict[tuple[str, int], float]:
    """The nearest multiples, but none at which nothing passes; downwards where more would run the supply dry."""
    if rounding <= 0.0:
        return dict(exact)
    scarce = {
        key for unit in found.units if unit.piece in found.limited for key in (valve.key for valve in unit.valves)
    }
    near = {}
    for valve in service.valves:
        steps = exact[valve.key] / rounding
        whole = int(steps) if valve.key in scarce and steps < 1.0 / rounding else round(steps)
        while whole * rounding <= opening_table(valve.part).shut_at:
            whole += 1
        near[valve.key] = min(round(whole * rounding, 12), 1.0)
    return near


def _settings(turns: Sequence[_Turn], openings: Mapping[tuple[str, int], float]) -> tuple[ValveSetting, ...]:
    serves: dict[tuple[str, int], tuple[str, ...]] = {}
    for unit in (unit for turn in turns for unit in turn.found.units):
        for valve in unit.valves:
            serves[valve.key] = (*serves.get(valve.key, ()), *unit.vessels)
    settings = []
    for valve in {valve.key: valve for turn in turns for valve in turn.service.valves}.values():
        part, after = valve.part, openings[valve.key]
        if valve.key not in serves and after == part.opening:
            continue
        degrees = 90.0 * (1.0 - after) if "angle/90" in opening_table(part).opening else None
        settings.append(
            ValveSetting(
                valve.line,
                part.step,
                part.kind,
                label(valve.line, part),
                part.mark,
                part.opening,
                after,
                degrees,
                serves.get(valve.key, ()),
            )
        )
    return tuple(sorted(settings, key=lambda one: -one.after))


def _share(layout: Layout, one: Serving, found: Throttled, before: Flows, flows: Flows) -> VesselShare:
    name, why = one.vessel, one.why
    if name in found.missing:
        head = found.missing[name]
        more = f": {show(head, 'head', layout.units)} of head is missing" if math.isfinite(head) else ""
        why = f"water cannot get to it, however far the others are shut{more}"
    valves = tuple(
        label(valve.line, valve.part) for unit in found.units if name in unit.vessels for valve in unit.valves
    )
    wants = layout.vessels[name].wants or 0.0
    return VesselShare(
        name, wants, before.vessels[name].inflow, flows.vessels[name].inflow, valves, found.aim.get(name), why
    )


# ---------------------------------------------------------------------- what else should be known


def _notes(
    layout: Layout, service: Service, found: Throttled, flows: Flows, vessels: tuple[VesselShare, ...]
) -> Iterator[str]:
    for unit in found.units:
        if len(unit.vessels) > 1:
            yield (
                f"{_listed(unit.vessels)} share {listed([label(v.line, v.part) for v in unit.valves], 'and')}: it "
                "is set for the one with the smallest share; a valve on the way to each would even them out."
            )
    for giver in dict.fromkeys(found.limited.values()):
        yield f"'{giver}' gives no more than it gets: what feeds it sets the limit, not the pipes that leave it."
    short = {unit.piece for unit in found.units for name in unit.vessels if found.aim[name] < 1.0 - ENOUGH}
    wasteful = set()
    for valve in service.bypasses:
        lost = abs(flows.stretches[valve.stretch].flow)
        if lost > 0.0 and service.pieces[_point(layout, valve)] in short:
            wasteful.add(service.pieces[_point(layout, valve)])
            name = label(valve.line, valve.part)
            yield (
                f"{name[0].upper()}{name[1:]} lets {show(lost, 'flow', layout.units)} go where nothing wants it: shut it "
                "further and the others get more."
            )
    enough = {one.name for one in vessels if one.enough}
    settable = {one.piece for one in service.servings} - {-1, *wasteful, *found.limited}
    lacking = tuple(one.vessel for one in service.servings if one.piece in settable and one.vessel not in enough)
    if lacking:
        yield (
            f"No valve can give {_listed(lacking)} more: that takes a stronger pump, wider or shorter pipe on the way, or "
            "less height."
        )
    if not found.settled:
        yield "The levels kept moving with the valves: the openings are the nearest found, and the flows are true for them."


def _point(layout: Layout, valve: Valve) -> str:
    return next(stretch.tail for stretch in layout.stretches if stretch.id == valve.stretch)


def _listed(names: Sequence[str]) -> str:
    return listed([f"'{name}'" for name in names], "and")
