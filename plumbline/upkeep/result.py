"""Upkeep: what can be cleaned in a layout, and what stands in the way. The stage's one entry point is
`look_after`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from ..findings import Finding
from ..hydraulics.flows import Flows
from ..layout.model import Layout, Stretch
from .age import old_water
from .bends import sharp_bends, turning
from .carried import settles_off, slow_flow
from .codes import code_rules
from .dead_legs import by_shape, dead_legs, standing_water
from .flush import flushed as flushed_by_access
from .intervals import Intervals, clip, length, together
from .left_shut import unsafe
from .reach import Push, Span, pushes, sharp_kinds, stopping_kinds
from .spills import Spill, spills
from .stakes import stakes
from .surroundings import surroundings
from .track import build_track
from .traps import humps, low_points
from .treatment import treatment
from .unreached import Gap, blind, unreached
from .ways import Side, sides

__all__ = ["Upkeep", "look_after"]


@dataclass(frozen=True, slots=True)
class Upkeep:
    """What can be cleaned. All pipe is given as intervals [m along the line] by line.

    `reached` by rods, `flushed` by opening an access with the pump on, `cleanable` by either; `pushes` tell
    it by access and rod, `flushes` by access opened. `cleanable_fraction` is of all pipe length, 0 to 1. `gaps` are what is
    left, each with its reasons and its cure. `sides` tells for each stretch, by id, on which side of the solids filter its water is,
    None where none runs or the system has no fish.
    `findings` in the order: unreachable, dead legs, standing water, slow flow, what settles when off, old water, bends, turning, low points,
    humps, blind accesses, code rules, order of treatment, openings that flood. `spills` tell by access what opening it lets out.
    """

    reached: Mapping[str, Intervals]
    flushed: Mapping[str, Intervals]
    cleanable: Mapping[str, Intervals]
    pushes: tuple[Push, ...]
    flushes: Mapping[str, Mapping[str, Intervals]]
    cleanable_fraction: float
    gaps: tuple[Gap, ...]
    findings: tuple[Finding, ...]
    sides: Mapping[str, Side | None]
    spills: Mapping[str, Spill] = field(default_factory=dict)

    def reached_m(self, stretch: Stretch) -> float:
        """Length of a stretch that some rod reaches [m]."""
        return length(clip(self.reached[stretch.line], stretch.start, stretch.stop))

    def rodded(self, stretch: Stretch) -> tuple[tuple[Push, Span], ...]:
        """The ways in which rods reach pipe of a stretch: each push with the part of the stretch that it brushes in one go,
        from the stretch's start on, the shortest rod first."""
        found = [
            (push, part)
            for push in self.pushes
            for span in push.spans
            if span.line == stretch.line and (part := span.clip(stretch.start, stretch.stop)) is not None
        ]
        return tuple(sorted(found, key=lambda one: (one[1].start, one[1].need, not one[1].forward)))

    def flushed_m(self, stretch: Stretch) -> float:
        """Length of a stretch that some flush scours [m]."""
        return length(clip(self.flushed[stretch.line], stretch.start, stretch.stop))


def look_after(layout: Layout, flows: Flows, flushes: Mapping[str, Flows]) -> Upkeep:
    """Find what can be cleaned and everything that makes it foul, from the flows in normal running and, for each access (by id) that can be
    opened to let water out, those with it open and the pump on."""
    spilled = spills(layout, flows)
    track = build_track(layout, stopping_kinds(), spilled)
    done = pushes(track)
    able = {name: one for name, one in flushes.items() if name not in spilled or spilled[name].flushes}
    scoured = flushed_by_access(layout, flows, able)
    reached = together((push.covers for push in done), layout.lines)
    flushed = together(scoured.values(), layout.lines)
    cleanable = together((reached, flushed), layout.lines)
    total = sum(line.length for line in layout.lines.values())
    legs = by_shape(layout)
    # Pipe that is cut off, or empty below a shut valve, has its own finding or none.
    told = [leg for leg in legs if not leg.drained and not all(s.id in flows.cut_off for s, _, _ in leg.pieces)]
    side = sides(layout, flows)
    left = unreached(track, cleanable, stakes(layout, flows, side))
    # A pump by its switch scours its pipe while it runs, however little that is in the mean.
    fastest = replace(flows, stretches={**flows.stretches, **flows.while_on})
    standing = standing_water(layout, fastest, legs)
    hanging = {stretch.id for leg in legs for stretch, _, _ in leg.pieces}
    findings = (
        *(gap.finding for gap in left),
        *dead_legs(layout, told),
        *standing,
        *slow_flow(layout, fastest, hanging, side),
        *settles_off(layout, flows, hanging),
        *old_water(layout, flows, hanging),
        *sharp_bends(layout, sharp_kinds()),
        *turning(layout, reached, left),
        *low_points(layout, flows),
        *humps(layout, flows),
        *blind(track, done, scoured),
        *code_rules(layout, flows),
        *treatment(layout, flows),
        *surroundings(layout, flows),
        *unsafe(layout, spilled),
    )
    share = sum(length(pieces) for pieces in cleanable.values()) / total if total > 0.0 else 1.0
    return Upkeep(reached, flushed, cleanable, done, scoured, min(share, 1.0), left, findings, side, spilled)
