"""A sketch as data: what stands where on the paper, ready to be written."""

from __future__ import annotations

from dataclasses import dataclass

from ...check import CheckResult
from .labels import Label, PlacedLabel
from .places import Box, Placed
from .spots import Spot
from .strokes import Point, Strokes
from .trouble import Trouble
from .views import View

__all__ = ["Sketch", "Text"]


@dataclass(frozen=True, slots=True)
class Text:
    """A label's lines and look: "vessel", "pump", "fail", "warn", "line" or "part"; `whole` is the name uncut; `finding`
    the number of a finding from 1."""

    label: Label
    lines: tuple[str, ...]
    look: str
    whole: str
    finding: int | None = None


@dataclass(frozen=True)
class Sketch:
    """A sketch ready to be written: paper of `width` × `height` [px], the `view`, and what stands on it."""

    result: CheckResult
    view: View
    placed: Placed
    strokes: Strokes
    trouble: Trouble
    spots: tuple[Spot, ...]
    arrows: tuple[Spot, ...]
    marks: tuple[tuple[str, Point], ...]
    labels: tuple[PlacedLabel, ...]
    texts: dict[str, Text]
    outlines: tuple[tuple[Box, tuple[tuple[Point, ...], ...], tuple[Point, ...]], ...]
    width: float
    height: float
    size: float
    narrow: bool
    scale: float
    to_scale: bool = False
    compass: Point = (36.0, 34.0)
