"""What is at stake in pipe that cannot be cleaned: the water that it holds, and how surely it fouls."""

from __future__ import annotations

from collections.abc import Mapping

from ..hydraulics.flows import Flows
from ..hydraulics.stretches import pieces_by_line, pipes_joined
from ..layout.model import Layout
from .carried import CarryWord, carried
from .dead_legs import by_shape
from .intervals import Interval
from .shear import volume
from .ways import Side

__all__ = ["Stakes", "stakes", "unconnected"]

RISKS: Mapping[CarryWord, float] = {
    "silts": 1.0,
    "carries, settles when off": 0.5,
    "keeps itself clean": 0.25,
    "empty": 0.25,
}
"""How surely pipe fouls that nothing cleans, by what its water does; this project's own judgement: slime grows in all of it."""

CLEAN_SIDE = 0.5
"""What of that is left behind the solids filter; this project's own judgement."""


class Stakes:
    """How much pipe counts: its volume [m³] times its risk, as a share of the volume of all pipe in use.

    Pipe in use is what joins vessels or pumps and is no dead leg, so that the share does not change where a dead leg is cut shorter, and neither
    metres of thin pipe nor pipe that leads nowhere dilute it. Pipe that joins nothing counts for nothing.
    """

    def __init__(self, layout: Layout, risk: Mapping[str, float]) -> None:
        self.layout, self.risk = layout, risk
        apart = unconnected(layout)
        dead: dict[str, float] = {}
        for leg in by_shape(layout):
            for stretch, start, stop in leg.pieces:
                dead[stretch.id] = dead.get(stretch.id, 0.0) + volume(stretch, start, stop)
        joined = [stretch for stretch in layout.stretches if stretch.line not in apart]
        used = sum(max(volume(stretch) - dead.get(stretch.id, 0.0), 0.0) for stretch in joined)
        whole = sum(volume(stretch) for stretch in joined)
        self.used = used if used > 1e-9 * whole else whole
        self.apart = apart

    def share(self, line: str, gap: Interval) -> float:
        """What a piece of a line counts [m along it]."""
        if line in self.apart or self.used <= 0.0:
            return 0.0
        return (
            sum(
                self.risk.get(stretch.id, 1.0) * volume(stretch, max(gap[0], stretch.start), min(gap[1], stretch.stop))
                for stretch in pieces_by_line(self.layout)[line]
                if stretch.start < gap[1] and stretch.stop > gap[0]
            )
            / self.used
        )


def unconnected(layout: Layout) -> frozenset[str]:
    """The lines of pipe that joins no vessel, no pump and no draw."""
    pieces = pipes_joined(layout)
    fed = {
        pieces[name]
        for name, line in layout.lines.items()
        for end in (line.start, line.end)
        if end.kind in ("vessel", "pump", "draw")
    }
    fed |= {pieces[name] for name, line in layout.lines.items() if any(part.vessel is not None for part in line.parts)}
    return frozenset(name for name in layout.lines if pieces[name] not in fed) if fed else frozenset()


def stakes(layout: Layout, flows: Flows, sides: Mapping[str, Side | None]) -> Stakes:
    """Weigh a layout's pipe by what its water does in normal running and on which side of the solids filter it is."""
    classes = carried(layout, flows)
    return Stakes(
        layout,
        {name: RISKS[one.word] * (CLEAN_SIDE if sides.get(name) == "clean" else 1.0) for name, one in classes.items()},
    )
