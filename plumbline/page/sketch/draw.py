"""A check as a sketch: chooses the view, draws vessels, pipe, trouble, symbols and labels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations, permutations

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from ...check import CheckResult
from .drawn import Outline, Sketch
from .hulls import behind_vessels, hull_of
from .labels import place_labels
from .legend import SYMBOLS
from .naming import labels_wanted, letters_for
from .places import Box, Placed, place
from .spots import arrows_of, marks_of, spots_of
from .strokes import Point, draw_strokes
from .trouble import troubles
from .views import View, views_named

__all__ = ["NARROW", "Sketch", "sketch"]

NARROW = 600.0
"""Paper narrower than this [px] shows less: no names of lines and fittings, no sharp bends."""

USUAL = 960.0
"""The width of paper for which the corner is chosen [px]."""

SPREADS = (1.0, 1.35, 0.7)
"""How far apart the ends in a vessel are drawn: the next is tried where pipe comes to lie on pipe."""

_FEW = 6
"""Places with findings that narrow paper has room for beside the drawing."""

TALL = 1.4
"""Narrow paper is drawn higher by this factor: across there is no room, and down there is."""


def sketch(
    result: CheckResult, *, view: str = "iso", width: float = USUAL, to_scale: bool = False, corner: View | None = None
) -> Sketch:
    """Draw a check.

    Parameters:
        result: of a check.
        view: "iso", "plan", or the side that an elevation is seen from: "south", "north", "east", "west".
        width: of the paper [px]; below `NARROW` only vessels, pumps and the numbers of findings are named.
        to_scale: keep all lengths to scale, however short; otherwise they are eased.
        corner: to look from, that of another sketch which this one stands beside; left out, the clearest, which is the same for each
            width of paper: whoever talks about the picture sees the same one.

    Returns:
        What `plumbline.page.sketch.svg` writes.
    """
    named = views_named(view)
    if corner is None:
        corner = named[0] if len(named) == 1 else _clearest(result, named, USUAL, to_scale).view
    tall = TALL if width < NARROW and not to_scale else 1.0
    return _labelled(replace(_clearest(result, (corner,), width, to_scale, tall), to_scale=to_scale))


def _clearest(result: CheckResult, views: Sequence[View], width: float, to_scale: bool, tall: float = 1.0) -> Sketch:
    """The scene that is least hard to read, of some views and all spreads."""
    levels = {name: got.level for name, got in result.flows.vessels.items() if got.level is not None}
    scenes: list[Sketch] = []
    for spread in SPREADS:
        placed = place(result.layout, levels=levels, to_scale=to_scale, tall=tall, spread=spread)
        scenes += (_scene(result, placed, view, width) for view in views)
        best = min(scenes, key=_unclear)
        if best.strokes.overlap < 8.0:
            break
    return best


def _unclear(scene: Sketch) -> float:
    """How hard a view is to read: crossings, pipe on pipe, and vessels on vessels (as the rectangles around them, in units of
    a crossing: a tenth of the paper is ten), and how small it has to be drawn."""
    hidden = 0.0
    corners = [np.array([point for face in faces for point in face]) for _, faces, _ in scene.outlines]
    for one, other in combinations([(points.min(axis=0), points.max(axis=0)) for points in corners], 2):
        shared = np.minimum(one[1], other[1]) - np.maximum(one[0], other[0])
        hidden += float(np.prod(shared.clip(0.0)))
    crowded = 0.15 * scene.strokes.overlap + 100.0 * hidden / (scene.width * scene.height)
    return len(scene.strokes.crossings) + crowded - 0.1 * scene.scale


def _scene(result: CheckResult, placed: Placed, view: View, width: float) -> Sketch:
    """All but the labels."""
    narrow = width < NARROW
    crowded = len({finding.line or finding.message for finding in result.findings}) > _FEW
    margin = ((52.0, 56.0) if crowded else (26.0, 30.0)) if narrow else (80.0, 46.0)
    corners = [*placed.points.values(), *(corner for box in placed.boxes for corner in box.corners())]
    seen = np.array([view(corner)[:2] for corner in corners])
    (left, top), (right, bottom) = seen.min(axis=0).tolist(), seen.max(axis=0).tolist()
    wide, high = max(right - left, 0.5), max(bottom - top, 0.5)
    scale = min((width - 2 * margin[0]) / wide, 150.0, (1.5 if narrow else 1.15) * width / high)
    shift = (0.5 * width - 0.5 * (left + right) * scale, margin[1] - top * scale)
    height = high * scale + 2 * margin[1] + (60.0 if narrow else 30.0)
    strokes = draw_strokes(result.layout, placed, view, scale, shift)
    outlines = tuple(_outline(box, view, scale, shift) for box in _from_the_back(placed.boxes, view))
    trouble = troubles(result, bends=not narrow)
    spots = tuple(spots_of(result, strokes, view))
    taken = [spot.place for spot in spots]
    marks = tuple(marks_of(strokes, trouble, taken))
    arrows = tuple(arrows_of(result, strokes, [*taken, *(place for _, place in marks)]))
    return Sketch(
        result,
        view,
        placed,
        strokes,
        trouble,
        spots,
        arrows,
        marks,
        outlines,
        width,
        height,
        11.0 if narrow else 12.0,
        narrow,
        scale,
        shift,
    )


def _from_the_back(boxes: Sequence[Box], view: View) -> list[Box]:
    """Boxes in the order in which they are drawn: what a level or an upright plane parts, the farther side first; what none does, by
    their middles."""
    far = sorted(boxes, key=lambda box: sum(n * (a + b) for n, a, b in zip(view.near, box.low, box.high, strict=True)))
    order: nx.DiGraph[int] = nx.DiGraph()
    order.add_nodes_from(range(len(far)))
    for one, other in permutations(order, 2):
        if _before(far[other], far[one], view) and not _before(far[one], far[other], view):
            order.add_edge(one, other)
    try:
        return [far[number] for number in nx.lexicographical_topological_sort(order)]
    except nx.NetworkXUnfeasible:
        return far


def _before(one: Box, other: Box, view: View) -> bool:
    """Whether some plane square to an axis has the one on its near side and the other on its far side."""
    sides = zip(view.near, one.low, one.high, other.low, other.high, strict=True)
    return any(
        low >= top - 1e-9 if n > 0.0 else n < 0.0 and high <= bottom + 1e-9 for n, low, high, bottom, top in sides
    )


def _outline(box: Box, view: View, scale: float, shift: Point) -> Outline:
    """A vessel's faces and its water's surface on paper: as a box seen from above, or as a rectangle."""

    def paper(x: float, y: float, z: float) -> Point:
        across, down, _ = view((x, y, z))
        return (across * scale + shift[0], down * scale + shift[1])

    (x0, y0, z0), (x1, y1, z1) = box.low, box.high
    level = min(max(box.water, z0), z1)

    def slab(z: float) -> tuple[Point, ...]:
        return (paper(x0, y0, z), paper(x1, y0, z), paper(x1, y1, z), paper(x0, y1, z))

    if not view.level:
        return box, (slab(z1),), slab(level)
    walls = []
    for ax, ay, bx, by, out in (
        (x0, y0, x1, y0, (0.0, -1.0)),
        (x1, y0, x1, y1, (1.0, 0.0)),
        (x1, y1, x0, y1, (0.0, 1.0)),
        (x0, y1, x0, y0, (-1.0, 0.0)),
    ):
        if out[0] * view.near[0] + out[1] * view.near[1] > 0.0:
            walls.append((paper(ax, ay, z0), paper(bx, by, z0), paper(bx, by, z1), paper(ax, ay, z1)))
    if abs(view.near[2]) < 1e-9:
        ((a, b, _, _),) = walls
        top = paper(x0, y0, level)[1]
        return box, tuple(walls), (a, b, (b[0], top), (a[0], top))
    return box, (*walls, slab(z1)), slab(level)


# ---------------------------------------------------------------------- labels


def _labelled(scene: Sketch) -> Sketch:
    hulls = tuple(hull_of(point for face in faces for point in face) for _, faces, _ in scene.outlines)
    behind = behind_vessels(scene.strokes, scene.placed.boxes, scene.view, scene.scale, scene.shift)
    scene = replace(scene, compass=_compass(scene), hulls=hulls, behind=behind, letters=letters_for(scene))
    labels = labels_wanted(scene)
    segments, widths = _obstacles(scene)
    needed = [label for label in labels if label.must]
    crowd = sum(label.width * label.height for label in needed)
    step = max(40.0, 0.5 * crowd / scene.width)
    # Labels fill a third of the paper at most, half of which the drawing takes: with less there is no use in trying.
    first = max(math.ceil((3.0 * crowd / scene.width - 0.5 * scene.height) / step), 0)
    for more in range(first, first + 6):
        # Where there is no room for what has to be said, the paper grows.
        height = scene.height + step * more
        paper = (3.0, 3.0, scene.width - 3.0, height - 3.0)
        placed = place_labels(labels, segments, widths, blocks(scene), paper, hulls)
        if sum(one.label.must for one in placed) == len(needed):
            break
    used = [*(one.rect[3] for one in placed), *segments[:, [1, 3]].ravel(), *(y for hull in hulls for y in hull[:, 1])]
    height = min(height, float(max(*used, scene.compass[1] + 20.0)) + 14.0)
    return replace(scene, labels=tuple(placed), wanted=labels, height=height)


def _compass(scene: Sketch) -> Point:
    """The corner of the paper with the most room, the upper left before the others."""
    corners = [(x, y) for y in (34.0, scene.height - 64.0) for x in (36.0, scene.width - 36.0)]
    things = [point for _, faces, _ in scene.outlines for face in faces for point in face]
    for one in scene.strokes.every():
        steps = int(one.length / 10.0) + 1
        things += [one.point(k / steps) for k in range(steps + 1)]
    room = [min((math.dist(corner, thing) for thing in things), default=99.0) for corner in corners]
    roomy = next((number for number, free in enumerate(room) if free > 40.0), room.index(max(room)))
    return corners[roomy]


def _obstacles(scene: Sketch) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The pipe as drawn, (n, 4) [px], and its half widths: as wide as the style draws the widest pipe of the line, and a little air."""
    pieces = [one for one in scene.strokes.every() if one.length > 0.0]
    bores = {
        name: max((part.pipe.bore for part in line.parts), default=0.0)
        for name, line in scene.result.layout.lines.items()
    }
    table = np.array([[*one.a, *one.b] for one in pieces], dtype=float).reshape(-1, 4)
    return table, np.array([2.4 if bores[one.line] < 0.047 else 3.4 for one in pieces])


def blocks(scene: Sketch) -> NDArray[np.float64]:
    """Symbols, arrows and marks, (m, 4) of left, top, right, bottom [px]."""
    rows = []
    for spot in scene.spots:
        half = SYMBOLS[spot.symbol].half
        x, y = spot.place
        if spot.symbol in ("cap", "plug"):
            tip = (x + 11.0 * spot.faces[0], y + 11.0 * spot.faces[1])
            rows.append([min(x, tip[0]) - 4, min(y, tip[1]) - 4, max(x, tip[0]) + 4, max(y, tip[1]) + 4])
        else:
            rows.append([x - half, y - half, x + half, y + half])
    rows += [[x - 5, y - 5, x + 5, y + 5] for x, y in (spot.place for spot in scene.arrows)]
    x, y = scene.compass
    rows.append([x - 28.0, y - 28.0, x + 28.0, y + 28.0])
    rows += [[x - 6.5, y - 6.5, x + 6.5, y + 6.5] for _, (x, y) in scene.marks]
    return np.array(rows, dtype=float).reshape(-1, 4)
