"""Changes at low points and humps: a drain, a vent."""

from __future__ import annotations

from collections.abc import Iterator

from ..layout.model import Layout, Part
from ..layout.vectors import negative
from ..upkeep.traps import trapped
from .accesses import capped_tee
from .change import Change, Edit
from .place import free_name, lay
from .prices import Prices

__all__ = ["drains_and_vents"]


def drains_and_vents(layout: Layout, prices: Prices) -> Iterator[Change]:
    """For every low point and hump over the limits a capped tee: in place of the bend there, facing as far down or up as it can; or in
    the straight pipe, facing down or up."""
    for kind, air, limit in (("drain", False, "low point depth"), ("vent", True, "hump height")):
        for trap in trapped(layout, air=air):
            if trap.depth <= layout.limits[limit] or not trap.step:
                continue
            line = layout.lines[trap.line]
            part = [one for one in line.parts if one.step == trap.step][-1]
            sign = 1.0 if air else -1.0
            if not part.is_pipe:
                ways = sorted((True, False), key=lambda forward: -sign * _faces(part, forward))
                made = (capped_tee(layout, line, part, prices, forward=forward, kind=kind) for forward in ways)
                yield from [change for change in made if change is not None][:1]
            elif part.kind == "run" and part.at > 0.0 and part.length > 2.0 * lay("cap", part.pipe):
                money, minutes = prices.of(kind, part.pipe)
                name = free_name(layout, f"{line.name} {kind} {part.step}")
                way = "up" if air else "down"
                yield Change(kind, line.name, part.step, f"put a capped tee as a {kind} before step {part.step} of '{line.name}', "
                             f"facing {way}", f"capped tee as a {kind}",
                             (Edit("insert", line.name, part.step, (f"cap: {{id: {name}, faces: {way}}}",)),),
                             money, minutes, name.strip("'"))  # fmt: skip


def _faces(part: Part, forward: bool) -> float:
    """How far up a capped tee would face."""
    return (negative(part.heading_out) if forward else part.heading_in)[2]
