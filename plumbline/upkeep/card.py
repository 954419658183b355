"""The wall card: the rounds of the routine, and how the owner sees with a bucket that one is due."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..findings import Finding
from ..hydraulics.filling import to_prime
from ..hydraulics.flows import Flows
from ..hydraulics.power_cut import PowerCut
from ..layout.model import Layout
from .carried import carried
from .flushing import Flushing
from .follow import if_left_alone
from .intervals import Intervals, by_line, together
from .result import Upkeep
from .routine import Routine, Visit, WashJob, plan_routine
from .spills import Spill
from .ways import Side

__all__ = ["AHEAD", "FOULING", "Bucket", "WallCard", "fouling_pipe", "settling_pipe", "wall_card", "wash_jobs"]

FOULING = ("slow-flow", "dead-leg", "standing-water", "low-point")
"""Kinds of finding that tell of pipe in which solids lie or water stands: it wants cleaning often."""

MOST = 0.8
"""Share of the cleanable pipe that a card aims at: a routine that really cleans four fifths of the pipe is worth having (common practice, no source)."""


AHEAD = 24
"""Months that are looked ahead for when an end will have slowed down."""


@dataclass(frozen=True, slots=True)
class Bucket:
    """A pipe's end over a vessel, where a bucket can be held under: the `flow` there [m³/s] when all is clean, and the
    flow `due` at which the vessel gets no more than it wants, None where it wants nothing or gets less already;
    after so many `months` without cleaning that is looked for (infinity: not within `AHEAD`), None where the layout's own rates of fouling are not
    known."""

    line: str
    vessel: str
    flow: float
    due: float | None
    months: float | None = None


@dataclass(frozen=True, slots=True)
class WallCard:
    """What the owner needs. `full` is a routine that cleans all that can be cleaned, None where this one does; `buckets`
    where to measure; `spills` what opening each access lets out; `two_sided` whether some pipe is before the solids filter and some behind it;
    `refill` the suction line of each pump that a round lets air into, so that it is to be filled by hand again, by the pump's name;
    `floods` the vessels that run over as the pumps stop: until that is cured no job is told, since a hand wants them off."""

    layout: Layout
    routine: Routine
    full: Routine | None
    buckets: tuple[Bucket, ...]
    two_sided: bool = False
    spills: Mapping[str, Spill] = field(default_factory=dict)
    refill: Mapping[str, str] = field(default_factory=dict)
    floods: tuple[str, ...] = ()

    @property
    def visits(self) -> tuple[Visit, ...]:
        """The rounds that can be made as the system stands."""
        return () if self.floods else self.routine.visits

    @property
    def left_shut(self) -> tuple[str, ...]:
        """The ids of what cannot be opened safely as the system stands, so that no job opens it."""
        return tuple(name for name, spill in self.spills.items() if not spill.safe)


def wall_card(
    layout: Layout,
    flows: Flows,
    upkeep: Upkeep,
    washes: Sequence[WashJob] = (),
    *,
    share: float = MOST,
    cut: PowerCut | None = None,
) -> WallCard:
    """Put the wall card of a checked layout together. `washes` are flushes that may be among the jobs; `share`, of the length that can be
    cleaned, is what the longest round has to clean at least; `cut` what the pumps stopping does."""
    told, settling = fouling_pipe(layout, upkeep.findings), settling_pipe(layout, flows, upkeep.sides)
    often = together((told, settling))
    dirty = _on_side(layout, upkeep.sides, "dirty")
    routine = plan_routine(layout, flows, upkeep.pushes, washes, often, share=share, first=dirty)
    full = plan_routine(layout, flows, upkeep.pushes, washes, often, first=dirty) if share < 1.0 else None
    if full is not None and full.cleaned < routine.cleaned + 1e-9:
        full = None
    two_sided = {"dirty", "clean"} <= set(upkeep.sides.values())
    refill = _refill(layout, flows, routine)
    rows = () if cut is None else cut.vessels
    floods = tuple(row.vessel for row in rows if row.spilled > 0.0 and row.before < (row.rim or 0.0) - 1e-6)
    # Where their stop floods the pumps stay on, and nothing runs down.
    spilled = {name: spill if cut is None or floods else spill.after(cut) for name, spill in upkeep.spills.items()}
    return WallCard(layout, routine, full, tuple(_buckets(layout, flows)), two_sided, spilled, refill, floods)


def _refill(layout: Layout, flows: Flows, routine: Routine) -> dict[str, str]:
    opened = {place for visit in routine.visits for job in visit.jobs for place in job.places}
    lines = {access.line for access in layout.accesses if access.id in opened and access.kind != "vessel"}
    return {
        pump: stretch.line for pump, suction, stretch, _, _ in to_prime(layout, flows) if lines.intersection(suction)
    }


def wash_jobs(found: Flushing) -> tuple[WashJob, ...]:
    """Give the flushes that may be jobs: those without a hose, of one opening or of two; with the pumps on, but where a standpipe is pulled."""
    return tuple(
        WashJob(
            opened=tuple(one.id for one in way.opened),
            name=" and ".join(one.label for one in way.opened),
            line=way.opened[0].line,
            at=way.opened[0].at,
            scours=way.scours,
            seconds=way.seconds,
            water=way.water,
        )
        for way in found.ways
        if way.hose is None and way.stopped == any(one.kind == "standpipe" for one in way.opened)
    )


def fouling_pipe(layout: Layout, findings: Sequence[Finding]) -> Mapping[str, Intervals]:
    """Give the pipe that wants cleaning often [m along the line], by line, as the findings have it."""
    return by_line(
        (
            one.line,
            (0.0 if one.start is None else one.start, layout.lines[one.line].length if one.stop is None else one.stop),
        )
        for one in findings
        if one.kind in FOULING and one.line is not None and one.line in layout.lines
    )


def settling_pipe(layout: Layout, flows: Flows, sides: Mapping[str, Side | None]) -> Mapping[str, Intervals]:
    """Give the pipe before the solids filter that does not keep itself clean [m along the line], by line.

    There the water has all the solids of the fish in it, so pipe wants cleaning often not only where they settle while the pumps run, but
    wherever the wall shear is below the limit `scour shear`, so that what once lies is not lifted again.
    """
    classes = carried(layout, flows)
    unclean = {name for name, one in classes.items() if one.word in ("silts", "carries, settles when off")}
    return _on_side(layout, {name: side for name, side in sides.items() if name in unclean}, "dirty")


def _on_side(layout: Layout, sides: Mapping[str, Side | None], side: Side) -> dict[str, Intervals]:
    pieces = (
        (stretch.line, (stretch.start, stretch.stop)) for stretch in layout.stretches if sides.get(stretch.id) == side
    )
    return by_line(pieces)


def _buckets(layout: Layout, flows: Flows) -> list[Bucket]:
    out = []
    # The catalogue's rates are mostly assumptions: dates are told by rates of the layout's own alone.
    later = if_left_alone(layout, AHEAD) if layout.fouling else ()
    for name, line in layout.lines.items():
        for side, end, sign in (("from", line.start, -1.0), ("to", line.end, 1.0)):
            if end.kind != "vessel" or end.submerged or end.name is None:
                continue
            flow = sign * flows.ends[f"{name}.{side}"].flow
            if flow <= 0.0:
                continue
            got = flows.vessels[end.name]
            wanted = got.wanted or 0.0
            due = flow * wanted / got.inflow if 0.0 < wanted < got.inflow else None
            course = [sign * one.ends[f"{name}.{side}"].flow for one in later]
            months = (
                None
                if due is None or not later
                else next((month for month, then in enumerate(course) if then < due), math.inf)
            )
            out.append(Bucket(name, end.name, flow, due, months))
    return out
