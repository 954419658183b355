"""The cheapest cure of each cause, and where to put the rod in."""

from __future__ import annotations

from dataclasses import dataclass

from ..catalogue import causes
from ..layout.model import Layout
from ..units import show
from ..upkeep import cures as openings
from ..upkeep.intervals import subtract, union
from ..upkeep.reach import Push, pushes, stopping_kinds
from ..upkeep.track import build_track
from ..upkeep.words import access_name
from .causes import Cause

__all__ = ["Cure", "Cures"]

SLACK = 0.02
"""Pipe that a rod leaves and that counts as reached [m]."""


@dataclass(frozen=True, slots=True)
class Cure:
    """What to do, in words, and the access to put a rod in at, None where there is none to put in."""

    text: str
    access: str | None = None


class Cures:
    """Finds cures in one layout; what the rods reach is worked out once."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._pushes: tuple[Push, ...] | None = None
        self._openings: openings.Cures | None = None

    def of(self, cause: Cause) -> Cure:
        """The cure of a cause."""
        text = causes()[cause.kind].cure
        if cause.kind not in ("narrowed", "plug") or cause.line is None:
            return Cure(text)
        return self.rodded(text, cause, cause.line)

    def rodded(self, text: str, cause: Cause, line: str) -> Cure:
        """The rod that reaches all of a place, by the access that takes the least length of it."""
        gap = (cause.start, max(cause.stop, cause.start + 1e-3))
        able = [push for push in self.pushes if not subtract([gap], union(push.covers.get(line, ())), slack=SLACK)]
        if not able:
            return Cure(f"{text}: {self.opening(line, gap)}")
        push = min(able, key=lambda one: self.length(one, line))
        name = next(access_name(self.layout, one) for one in self.layout.accesses if one.id == push.access)
        return Cure(
            f"{text}, with a {push.tool} put in at {name}, {show(self.length(push, line), 'length', self.layout.units)} deep",
            push.access,
        )

    @property
    def pushes(self) -> tuple[Push, ...]:
        """Every rod at every access."""
        if self._pushes is None:
            self._pushes = pushes(build_track(self.layout, stopping_kinds()))
        return self._pushes

    def length(self, push: Push, line: str) -> float:
        """How far a rod goes in to get through a line's pipe [m]."""
        return max((span.need for span in push.spans if span.line == line), default=0.0)

    def opening(self, line: str, gap: tuple[float, float]) -> str:
        """No rod at hand gets there from one opening: several, or what would let it."""
        reached = union(piece for push in self.pushes for piece in push.covers.get(line, ()))
        if not subtract([gap], reached, slack=SLACK):
            names = {one.id: access_name(self.layout, one) for one in self.layout.accesses}
            some = dict.fromkeys(names[push.access] for push in self.pushes if push.covers.get(line))
            return f"from more than one opening: {', '.join(some)}"
        if self._openings is None:
            self._openings = openings.Cures(build_track(self.layout, stopping_kinds()))
        return self._openings.cure(line, gap, ()).text
