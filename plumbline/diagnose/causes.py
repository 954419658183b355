"""What may have happened to a system: each cause one named change of the layout, by one amount.

The kinds, their shares before anything is read and the ranges of their amounts are rows of `catalogue/causes.yaml`.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from .. import catalogue
from ..catalogue.reading import YEAR
from ..hydraulics.fittings import is_one_way
from ..hydraulics.flows import Flows
from ..hydraulics.valve_service import adjustable, label, opening_table
from ..layout.model import Layout, Part, Pump, Reading, Stretch, steps_said
from ..layout.traps import trapped
from ..upkeep.shear import settles
from ..water import GRAVITY
from .faulty import (
    can_narrow,
    filled,
    hole_loss,
    leaked_back,
    narrowed,
    not_topped_up,
    opened,
    raised,
    resized,
    with_curve,
    with_loss,
)
from .places import place_of, stretch_at

__all__ = ["Cause", "causes_of"]

STEEP = ("plug", "air", "choked", "valve", "narrowed", "leak", "lets back")
"""Kinds whose amounts lie closer together where a hole or a bore is small, and its loss steep; they begin with a third more."""

LEAST_WATER = 0.02
"""A vessel without a drop is seen; in one that is looked into stands so much at the least [m]."""

SLOW = 2.0
"""Pipe too slow to carry its solids narrows so much more often (common practice, no source)."""

_LODGES = ("strainer", "foot valve", "check valve", "reducer", "elbow", "tee", "wye")
"""Where a plug lodges first (common practice, no source)."""


@dataclass(frozen=True)
class Cause:
    """One cause, of a `kind` that is a row of the catalogue. `changed` gives the layout with it, by its amount; `share` its chance before anything is read, all together one. Its
    place: `line` with the `steps` that it takes up, `from_` and `to` [m along the line]; `pump` or `vessel`. `bore` [m] is what an amount
    that is a share of a bore is of; `leak` the point of the network that leaks."""

    kind: str
    where: str
    amounts: tuple[float, float]
    changed: Callable[[float], Layout] = field(repr=False, compare=False)
    share: float = 1.0
    line: str | None = None
    steps: tuple[int, ...] = ()
    start: float = 0.0
    stop: float = 0.0
    pump: str | None = None
    vessel: str | None = None
    bore: float = 0.0
    leak: str | None = None

    @property
    def step(self) -> int | None:
        """The first step that it takes up."""
        return self.steps[0] if self.steps else None

    def leaks(self, at: float) -> dict[str, float] | None:
        """The hole that it makes at a place in its range, by the point of the network."""
        return {self.leak: self.amount(at)} if self.leak else None

    @property
    def rough(self) -> tuple[float, ...]:
        """Where in its range it is solved first; in between, closer where the readings bend."""
        return (0.0, 1 / 3, 2 / 3, 1.0) if self.kind in STEEP else (0.0, 0.5, 1.0)

    def amount(self, at: float) -> float:
        """The amount at a place in its range, from 0, mild, to 1, bad; each place is as likely as another."""
        low, high = self.amounts
        return float(low * (high / low) ** at if self.kind in STEEP else low + (high - low) * at)


def causes_of(layout: Layout, flows: Flows, readings: Sequence[Reading] = ()) -> tuple[Cause, ...]:
    """List what may have happened to a layout, "as written" first.

    Parameters:
        layout: as found on the visit, with its valves as they were seen.
        readings: of the visit; a head read within a stretch parts its plugs, a cleaning makes pipe less likely to be narrow.

    Returns:
        Causes with their shares; pipe in which no water runs has none.
    """
    found = list(_Finder(layout, flows, readings).whole())
    rows = catalogue.causes()
    weights: dict[str, float] = defaultdict(float)
    for cause in found:
        weights[cause.kind] += cause.share
    kinds = [kind for kind, weight in weights.items() if weight > 0.0]
    total = sum(rows[kind].share for kind in kinds)
    return tuple(
        replace(cause, share=cause.share / weights[cause.kind] * rows[cause.kind].share / total)
        for cause in found
        if cause.share > 0.0
    )


class _Finder:
    def __init__(self, layout: Layout, flows: Flows, readings: Sequence[Reading]) -> None:
        self.layout = layout
        self.flows = flows
        self.readings = readings
        self.by_line: dict[str, list[Stretch]] = defaultdict(list)
        for stretch in layout.stretches:
            if any(map(can_narrow, stretch.parts)):
                self.by_line[stretch.line].append(stretch)
        # pipe in which no water runs has no cause
        self.running = [one for some in self.by_line.values() for one in some if flows.stretches[one.id].flow]

    def whole(self) -> Iterator[Cause]:
        yield self.cause("as written", "", lambda _: self.layout)
        yield from self.narrowed()
        for stretch in self.running:
            yield from self.plugs(stretch)
        yield from self.valves()
        yield from self.checks()
        yield from self.air()
        for name, duty in self.flows.pumps.items():
            if duty.flow > 0.0:
                yield from self.pump(self.layout.pumps[name])
        yield from self.leaks()
        yield from self.figures()

    def cause(self, kind: str, where: str, changed: Callable[[float], Layout], **more: object) -> Cause:
        return replace(Cause(kind, where, catalogue.causes()[kind].amounts, changed), **more)  # type: ignore[arg-type]

    # ------------------------------------------------------------------ pipe

    def narrowed(self) -> Iterator[Cause]:
        """Each stretch; each line of several; and all pipe."""
        by_line: dict[str, list[Stretch]] = defaultdict(list)
        for stretch in self.running:
            by_line[stretch.line].append(stretch)
            yield self.narrow(self.words(stretch), [stretch])
        for name, some in by_line.items():
            if len(some) > 1:
                yield self.narrow(f"all of '{name}'", some)
        if len(by_line) > 1:
            yield replace(self.narrow("all pipe", self.running), line=None, steps=())

    def narrow(self, where: str, some: Sequence[Stretch]) -> Cause:
        # Pipe cleaned a year ago is as likely to have narrowed as is usual; sooner, less, in proportion (common practice, no source).
        slow = settles(min(self.flows.stretches[one.id].velocity for one in some), self.layout.limits)
        ages = [one.value / YEAR for one in self.readings if one.what == "cleaned" and one.line == some[0].line]
        return replace(self.bores("narrowed", where, some), share=(SLOW if slow else 1.0) * min([1.0, *ages]))

    def bores(self, kind: str, where: str, some: Sequence[Stretch]) -> Cause:
        """The pipe of some stretches with another bore."""
        runs = [(one.line, part) for one in some for part in one.parts if can_narrow(part)]
        keys = {(line, part.step, part.at) for line, part in runs}
        longest = max((part for _, part in runs), key=lambda part: part.length)
        return self.cause(
            kind,
            where,
            partial(narrowed, self.layout, keys),
            line=some[0].line,
            steps=tuple(part.step for _, part in runs),
            start=some[0].start,
            stop=some[-1].stop,
            bore=longest.pipe.bore,
        )

    def plugs(self, stretch: Stretch) -> Iterator[Cause]:
        """A plug in each piece of a stretch between places where a head was read."""
        for parts in self.pieces(stretch):
            at = _lodges(parts)
            share = 1.0 / len(self.pieces(stretch))
            where = f"{self.words(stretch)} at the {at.called}" if not at.is_pipe else self.steps(stretch.line, parts)
            yield self.hole("plug", where, stretch, at, share=share)

    def pieces(self, stretch: Stretch) -> list[list[Part]]:
        cuts = {
            one.step
            for one in self.readings
            if one.what == "head" and stretch_at(self.layout, place_of(one)) == (stretch, None)
        }
        found: list[list[Part]] = [[]]
        for part in stretch.parts:
            found[-1].append(part)
            if part.step in cuts:
                found.append([])
        return [some for some in found if some]

    def hole(self, kind: str, where: str, stretch: Stretch, at: Part, **more: object) -> Cause:
        """A cause that leaves a hole at a part, or behind it."""
        return self.at_part(
            kind, where, stretch.line, at, lambda share: with_loss(self.layout, stretch, at, hole_loss(share)), **more
        )

    def at_part(
        self, kind: str, where: str, line: str, part: Part, changed: Callable[[float], Layout], **more: object
    ) -> Cause:
        """A cause that one part is the place of."""
        stop = part.at + part.length
        place = {"line": line, "steps": (part.step,), "start": part.at, "stop": stop, "bore": part.pipe.bore}
        return self.cause(kind, where, changed, **place, **more)

    def valves(self) -> Iterator[Cause]:
        seen = {(one.line, one.step) for one in self.readings if one.what == "opening"}
        for name, line in self.layout.lines.items():
            for part in line.parts:
                # One that is mostly shut, and opens by its clock, is looked at as it stands in its turn.
                turns = part.runs is None or part.opening > 0.0 or len(self.flows.turns) > 1
                if adjustable(part) and turns and (name, part.step) not in seen:
                    amounts = (1.0, max(opening_table(part).shut_at + 0.03, 0.06))
                    change = partial(opened, self.layout, (name, part.step))
                    yield self.at_part("valve", label(name, part), name, part, change, amounts=amounts)

    def checks(self) -> Iterator[Cause]:
        """Check valves that keep water back: those in pipe in which none runs."""
        for stretch in self.layout.stretches:
            for part in stretch.parts:
                if is_one_way(part) and not self.flows.stretches[stretch.id].flow:
                    change = partial(leaked_back, self.layout, stretch.line, part)
                    yield self.at_part("lets back", label(stretch.line, part), stretch.line, part, change)

    def air(self) -> Iterator[Cause]:
        """Humps without a vent, unless the stream clears them."""
        at_step: dict[tuple[str, int | None], tuple[Stretch, Part]] = {
            (one.line, part.step): (one, part) for one in self.running for part in reversed(one.parts)
        }
        for trap in trapped(self.layout, air=True):
            if (trap.line, trap.step) not in at_step or trap.depth <= self.layout.limits["hump height"]:
                continue
            stretch, part = at_step[trap.line, trap.step]
            got = self.flows.stretches[stretch.id]
            if (
                got.velocity / math.sqrt(GRAVITY * part.pipe.bore) < self.layout.limits["clear speed for air"]
                and not got.vented
            ):
                yield self.hole("air", f"the hump of '{trap.line}' at step {trap.step}", stretch, part)

    def leaks(self) -> Iterator[Cause]:
        """At each place where two stretches meet, where pipe is full and under pressure."""
        points: dict[str, list[Stretch]] = defaultdict(list)
        for stretch in self.layout.stretches:
            for point in (stretch.tail, stretch.head):
                points[point].append(stretch)
        for point, some in points.items():
            got = [self.flows.stretches[one.id] for one in some]
            heads = [
                (one.head_tail if s.tail == point else one.head_head)
                - (s.parts[0].start if s.tail == point else s.parts[-1].end)[2]
                for s, one in zip(some, got, strict=True)
                if s.parts
            ]
            if len(some) > 1 and not any(one.vented or one.dry for one in got) and min(heads, default=0.0) > 0.02:
                first = some[0]
                at, end = (first.start, 0) if first.tail == point else (first.stop, -1)
                yield self.cause(
                    "leak",
                    f"'{point}'",
                    lambda _: self.layout,
                    line=first.line,
                    leak=point,
                    start=at,
                    stop=at,
                    steps=(first.parts[end].step,) if first.parts else (),
                )

    # ------------------------------------------------------------------ pumps, and figures in the file

    def pump(self, pump: Pump) -> Iterator[Cause]:
        name, where = pump.name, f"pump '{pump.name}'"

        curve = partial(with_curve, self.layout, name)
        yield self.cause("curve", where, lambda by: curve(by, 1.0), pump=name)
        if pump.airlift is not None:
            return
        yield self.cause("worn", where, lambda by: curve(1.0, by), pump=name)
        yield self.cause("slowed", where, lambda by: curve(by, by**2, by), pump=name)
        first = next((one for one in self.running if one.tail == f"{name}.out"), None)
        if first is not None:
            yield replace(self.hole("choked", where, first, first.parts[0], pump=name))

    def figures(self) -> Iterator[Cause]:
        for name in dict.fromkeys(one.line for one in self.running):
            sized = self.bores("size", f"'{name}'", self.by_line[name])
            yield replace(sized, changed=partial(resized, self.layout, name), steps=())
        sources = {pump.vessel for pump in self.layout.pumps.values() if pump.vessel is not None}
        for name, vessel in self.layout.vessels.items():
            got = self.flows.vessels[name]
            if got.inflow > 0.0 and name not in sources:
                yield self.cause("height", f"'{name}'", partial(raised, self.layout, name), vessel=name)
            topped_up = any(
                line.end.name == name and line.end.float_valve is not None for line in self.layout.lines.values()
            )
            low, high = catalogue.causes()["water"].amounts
            # What is let in is as much as is wanted, so that there is no less while its float valve works.
            low = 0.0 if topped_up else max(low, LEAST_WATER - vessel.water)
            high = min(high, (vessel.rim or math.inf) - vessel.water)
            if name in sources and low < high:
                change = partial(filled, self.layout, name)
                yield self.cause("water", f"'{name}'", change, vessel=name, amounts=(low, high))
            mild, bad = catalogue.causes()["not topped up"].amounts
            bad = max(bad, LEAST_WATER - vessel.water)
            if topped_up and bad < mild:
                change = partial(not_topped_up, self.layout, name)
                yield self.cause("not topped up", f"'{name}'", change, vessel=name, amounts=(mild, bad))

    # ------------------------------------------------------------------ words

    def words(self, stretch: Stretch) -> str:
        """A stretch in the user's words."""
        alone = sum(one.line == stretch.line for one in self.layout.stretches) == 1
        return f"'{stretch.line}'" if alone else self.steps(stretch.line, stretch.parts)

    @staticmethod
    def steps(line: str, parts: Sequence[Part]) -> str:
        return f"'{line}', {steps_said(part.step for part in parts)}"


def _lodges(parts: Sequence[Part]) -> Part:
    """Where among some parts a plug lodges."""
    order = {kind: number for number, kind in enumerate(_LODGES)}
    return min(parts, key=lambda part: order.get(part.kind, len(order)))
