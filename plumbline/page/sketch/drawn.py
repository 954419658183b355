"""A sketch as data: what stands where on the paper, ready to be written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ...check import CheckResult
from ...upkeep.intervals import Intervals
from .hulls import Hull
from .labels import Label, PlacedLabel
from .letters import BOLD, text_width
from .places import Box, Placed
from .spots import Spot
from .strokes import Point, Strokes
from .trouble import Trouble
from .views import View

__all__ = ["Outline", "Sketch"]

Outline = tuple[Box, tuple[tuple[Point, ...], ...], tuple[Point, ...]]
"""A vessel, its faces, and its water's surface [px]."""


@dataclass(frozen=True)
class Sketch:
    """A sketch ready to be written: paper of `width` × `height` [px], the `view`, and what stands on it. `outlines` are the vessels, back to
    front: box, faces, and the water's surface; `hulls` are what each covers of the paper; `behind` are the pieces of each line [m along it]
    behind a vessel; `wanted` are the labels that it would like to show, and `labels` those that found a place; `letters` stand
    for the names of vessels where these find no room."""

    result: CheckResult
    view: View
    placed: Placed
    strokes: Strokes
    trouble: Trouble
    spots: tuple[Spot, ...]
    arrows: tuple[Spot, ...]
    marks: tuple[tuple[str, Point], ...]
    outlines: tuple[Outline, ...]
    width: float
    height: float
    size: float
    narrow: bool
    scale: float
    shift: Point
    labels: tuple[PlacedLabel, ...] = ()
    wanted: tuple[Label, ...] = ()
    to_scale: bool = False
    compass: Point = (36.0, 34.0)
    behind: Mapping[str, Intervals] = field(default_factory=dict)
    hulls: tuple[Hull, ...] = ()
    letters: Mapping[str, str] = field(default_factory=dict)

    def cell(self, number: int) -> tuple[float, float]:
        """Width and height of a finding's badge [px]; a finger needs 24 on a phone (WCAG 2.2, 2.5.8, from memory)."""
        least = 24.0 if self.narrow else self.size + 8.0
        return max(BOLD * text_width(str(number), self.size) + 8.0, least), least

    def own(self, vessels: Iterable[str | None]) -> frozenset[int]:
        """The outlines of vessels, by their place in `outlines`."""
        names = set(vessels)
        return frozenset(i for i, (box, _, _) in enumerate(self.outlines) if box.vessel in names)
