"""A diagnosis on the sketch: pipe shaded by how likely it is to be at fault, and the letters of the leading suspects."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import count, pairwise
from xml.etree.ElementTree import Element

from ...diagnose.diagnosis import Diagnosis, Suspect
from ...report.diagnose import letter_of
from .drawn import Sketch
from .strokes import Point, pump_places
from .xml import element, polyline

__all__ = ["shaded"]

_FAINT = 0.15
"""How strong the shade of the least likely pipe is; the likeliest has 1."""

_NEAR = 17.0
"""Letters closer than this stand side by side [px]."""

_Span = tuple[str, float, float]
"""A line, and from where to where along it [m]."""


def shaded(sketch: Sketch, found: Diagnosis, shown: Sequence[Suspect]) -> Iterator[Element]:
    """What is laid over a sketch: each piece of pipe shaded by the chances of all suspects that it has part in, together, and the letters
    of those `shown` at their places."""
    spans = [(one.chance, span) for one in found.suspects for span in _spans(found, one)]
    for line in {line: None for _, (line, _, _) in spans}:
        here = [(chance, low, high) for chance, (name, low, high) in spans if name == line]
        for low, high in pairwise(sorted({at for _, *ends in here for at in ends})):
            chance = sum(chance for chance, a, b in here if a < high and low < b)
            if chance > 0.0:
                yield element(
                    "path",
                    class_="suspect",
                    d=polyline(sketch.strokes.trace(line, low, high)),
                    stroke_opacity=f"{_FAINT + (1.0 - _FAINT) * min(chance, 1.0):.2f}",
                )
    yield from _letters(
        [(letter_of(one.cause, shown), place) for one in shown for place in _places(sketch, found, one)]
    )


def _spans(found: Diagnosis, suspect: Suspect) -> list[_Span]:
    """The pipe that a suspect has part in: none of a pump or a vessel, all of it where all has narrowed."""
    cause = suspect.cause
    if cause.line is not None:
        return [(cause.line, cause.start, cause.stop)] if cause.stop > cause.start else []
    if cause.pump or cause.vessel:
        return []
    return [(one.line, one.start, one.stop) for one in found.layout.stretches if one.stop > one.start]


def _places(sketch: Sketch, found: Diagnosis, suspect: Suspect) -> Iterator[Point]:
    """Where a suspect's letter stands; nowhere for one that is everywhere."""
    cause = suspect.cause
    if cause.vessel:
        hull = next(
            hull for (box, _, _), hull in zip(sketch.outlines, sketch.hulls, strict=True) if box.vessel == cause.vessel
        )
        lowest = hull[hull[:, 1].argmax()]
        yield (float(lowest[0]), float(lowest[1]) - _NEAR)
    elif cause.pump:
        yield from [place for name, place in pump_places(found.layout, sketch.strokes).items() if name == cause.pump]
    elif cause.line is not None:
        yield sketch.strokes.place(cause.line, 0.5 * (cause.start + cause.stop))


def _letters(asked: Sequence[tuple[str, Point]]) -> Iterator[Element]:
    """Letters at their places; one that comes to stand on others goes beside them."""
    put: list[Point] = []
    for letter, place in asked:
        x, y = next(
            (x, y)
            for x, y in ((place[0] + k * _NEAR, place[1]) for k in count())
            if all(math.dist((x, y), other) >= _NEAR - 1e-6 for other in put)
        )
        put.append((x, y))
        yield element(
            "g",
            element("circle", cx=x, cy=y, r=8.0),
            element("text", x=x, y=y + 4.0, text_anchor="middle", text=letter),
            class_="suspect-letter",
        )
