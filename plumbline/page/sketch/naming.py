"""What the labels of a sketch say, and where they may stand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import pairwise

from ...findings import Finding
from ...layout.model import Line
from ...units import Units, show
from .drawn import Sketch
from .hulls import hull_of, seen_points
from .labels import Label, around, beside
from .letters import BOLD, text_width
from .strokes import Point, pump_places
from .trouble import bad_vessels, place_of_finding, subject_of_finding

__all__ = ["labels_wanted", "letters_for", "vessel_lines"]

LONGEST = 26
"""Letters of a name that a label shows; the rest is in its tooltip and in the tables."""

MANY = {False: 24, True: 8}
"""Outlines that a wide and a narrow sketch name in full; where there are more, each gets a letter and a list tells the names."""

_SAME = 14.0
"""Findings whose places are nearer than this on the same line show their badges side by side [px]."""

_IN_A_ROW = 4


def letters_for(scene: Sketch) -> dict[str, str]:
    """A letter for each vessel where a sketch has too many to name them in full: A to Z, then AA, AB and on."""
    if len(scene.outlines) <= MANY[scene.narrow]:
        return {}
    return {name: _letters(number) for number, name in enumerate(scene.result.layout.vessels)}


def _letters(number: int) -> str:
    return ("" if number < 26 else _letters(number // 26 - 1)) + chr(ord("A") + number % 26)


def labels_wanted(scene: Sketch) -> tuple[Label, ...]:
    """All labels that a sketch would like to show, of those with one key the last."""
    made = [*_vessels(scene), *_pumps(scene), *_numbers(scene)]
    if not scene.narrow and not scene.letters:
        made += [*_lines(scene), *_parts(scene)]
        if scene.view.level:
            made += _levels(scene)
    return tuple({label.key: label for label in made}.values())


def _cut(name: str) -> str:
    return name if len(name) <= LONGEST else name[: LONGEST - 1] + "…"


def _size(lines: tuple[str, ...], size: float) -> tuple[float, float]:
    return max(text_width(line, size) for line in lines) + 4.0, len(lines) * (size + 2.0) + 1.0


def _inside(scene: Sketch, outline: int, place: Point) -> Iterator[tuple[float, float, float]]:
    """Places on what can be seen of an outline, the nearest to a place cheapest."""
    return ((float(x), float(y), 0.02 * math.dist((x, y), place)) for x, y in seen_points(outline, scene.hulls))


def vessel_lines(scene: Sketch, name: str) -> tuple[str, ...]:
    """A vessel's name, and what it gets of what it wants."""
    units, vessel = scene.result.layout.units, scene.result.layout.vessels[name]
    if not vessel.wants or (scene.narrow and name not in bad_vessels(scene.result) and not scene.letters):
        return (_cut(name),)
    got = show(scene.result.flows.vessels[name].inflow, "flow", units, unit=False)
    return (_cut(name), f"{got} of {show(vessel.wants, 'flow', units)}")


def _vessels(scene: Sketch) -> Iterator[Label]:
    seen: dict[str, int] = {}
    for number, (box, _, _) in enumerate(scene.outlines):
        name = box.vessel
        seen[name] = seen.get(name, 0) + 1
        lines = (_cut(f"{name} again"),) if box.again else vessel_lines(scene, name)
        lines = (scene.letters[name],) if scene.letters else lines
        points = seen_points(number, scene.hulls)
        left, top, right, bottom = map(float, (*points.min(axis=0), *points.max(axis=0)))
        anchor = (float(points[0][0]), float(points[0][1]))
        width, height = _size(lines, scene.size)
        width = max(width, BOLD * text_width(lines[0], scene.size) + 4.0)
        beyond = ((x, y, 6.0 + cost) for x, y, cost in around(anchor, width, height, 60.0, far=200.0))
        choices = (*_inside(scene, number, anchor), *beside((left, top, right, bottom), width, height), *beyond)
        yield Label(
            f"vessel {name} {seen[name]}",
            lines,
            "vessel",
            name,
            width,
            height,
            anchor,
            choices,
            13.0,
            must=True,
            home=hull_of((x, y) for x, y in points.tolist()),
            over=frozenset({number}),
        )


def _pumps(scene: Sketch) -> Iterator[Label]:
    for name, place in pump_places(scene.result.layout, scene.strokes).items():
        if not scene.result.layout.fed_by(name):
            continue
        lines = (_cut(name),)
        width, height = BOLD * text_width(lines[0], scene.size) + 4.0, scene.size + 3.0
        over = scene.own([scene.result.layout.pumps[name].vessel])
        choices = around(place, width, height, 11.0)
        yield Label(f"pump {name}", lines, "pump", name, width, height, place, choices, 12.5, must=True, over=over)


def _numbers(scene: Sketch) -> Iterator[Label]:
    """The badges of all findings, those of one place together."""
    groups: list[tuple[str, Point, frozenset[int], list[int]]] = []
    for number, finding in enumerate(scene.result.findings, start=1):
        what, place, over = _place(scene, finding)
        # On narrow paper one place a line has to do: every badge of its own would ask for a leader of its own.
        same = (
            numbers
            for same, there, _, numbers in groups
            if same == what and (scene.narrow or scene.letters or math.dist(there, place) < _SAME)
        )
        if (numbers := next(same, None)) is not None:
            numbers.append(number)
        else:
            groups.append((what, place, over, [number]))
    for what, place, over, numbers in groups:
        across, high = max(scene.cell(number) for number in numbers)
        columns = min(len(numbers), _IN_A_ROW)
        width, height = columns * across, -(-len(numbers) // columns) * high
        levels = {scene.result.findings[number - 1].level for number in numbers}
        weight = 14.0 if "fail" in levels else 7.0 if "warn" in levels else 3.5
        choices = around(place, width, height, 8.0, far=120.0)
        if what in scene.result.layout.vessels:
            choices = (*(choice for outline in over for choice in _inside(scene, outline, place)), *choices)
        yield Label(
            f"finding {numbers[0]}",
            tuple(map(str, numbers)),
            "numbers",
            "",
            width,
            height,
            place,
            choices,
            weight,
            must=True,
            over=over,
            findings=tuple(numbers),
        )


def _place(scene: Sketch, finding: Finding) -> tuple[str, Point, frozenset[int]]:
    """What a finding is about, where its badge is drawn to, and on which outlines it may stand."""
    layout = scene.result.layout
    where = place_of_finding(scene.result, finding)
    if where is not None:
        line = layout.lines[where[0]]
        at_end = {0.0: line.start, line.length: line.end}.get(where[1])
        own = [at_end.name] if at_end is not None and finding.step is None else [line.start.name, line.end.name]
        return line.name, scene.strokes.place(*where), scene.own(own)
    kind, name = subject_of_finding(scene.result, finding) or ("", "")
    if kind == "pump":
        vessel = layout.pumps[name].vessel
        if name in (places := pump_places(layout, scene.strokes)):
            return name, places[name], scene.own([vessel])
        kind, name = "vessel", vessel or ""
    for number in sorted(scene.own([name]), key=lambda number: scene.outlines[number][0].again):
        x, y = seen_points(number, scene.hulls)[0]
        return name, (float(x), float(y)), frozenset({number})
    # It speaks of the whole layout: it stands at the edge, by the arrow that tells north.
    return "", (scene.compass[0], scene.compass[1] + 24.0), frozenset()


def _small(
    scene: Sketch,
    key: str,
    said: str,
    place: Point,
    choices: Iterable[tuple[float, float, float]],
    weight: float,
    look: str,
    line: Line,
    whole: str,
) -> Label:
    """A label of a line or of what is on it, which may stand on the vessels that the line joins, and be left out."""
    over = scene.own([line.start.name, line.end.name])
    width, height = _size((said,), scene.size - 1.0)
    return Label(key, (said,), look, whole, width, height, place, tuple(choices), weight, over=over)


def _lines(scene: Sketch) -> Iterator[Label]:
    for name, line in scene.result.layout.lines.items():
        said = _cut(f"{name} · {line.parts[0].pipe.name}")
        width, height = _size((said,), scene.size - 1.0)
        choices = [
            (x, y, cost + 30.0 / one.length)
            for one in scene.strokes.segments[name]
            if one.length >= 24.0
            for share in (0.5, 0.3, 0.7)
            for x, y, cost in around(one.point(share), width, height, 5.0, far=13.0)
        ]
        if choices:
            place = scene.strokes.place(name, 0.5 * line.length)
            choices += [(x, y, 3.0 + cost) for x, y, cost in around(place, width, height, 20.0, far=130.0)]
            yield _small(scene, f"line {name}", said, place, choices, 4.0, "line", line, name)


def _parts(scene: Sketch) -> Iterator[Label]:
    """Caps, unions and valves that have a name."""
    for line in scene.result.layout.lines.values():
        ends = [(line.end.name, line.length)] if line.end.kind == "cap" else []
        for name, at in [*((part.id, part.at) for part in line.parts if part.kind not in ("tee", "wye")), *ends]:
            if name is not None:
                place, said = scene.strokes.place(line.name, at), _cut(name)
                choices = around(place, *_size((said,), scene.size - 1.0), 9.0, far=110.0)
                yield _small(scene, f"part {name}", said, place, choices, 3.0, "part", line, name)


def _levels(scene: Sketch) -> Iterator[Label]:
    """Heights above the datum: of the water in each vessel, and of the pipe where it turns from rising to falling, or ends."""
    layout, units = scene.result.layout, scene.result.layout.units

    def tag(key: str, said: str, place: Point, over: frozenset[int], weight: float, whole: str) -> Label:
        width, height = _size((said,), scene.size - 1.5)
        choices = around(place, width, height, 5.0, far=16.0)
        return Label(key, (said,), "level", whole, width, height, place, choices, weight, led=False, over=over)

    for number, (box, _, water) in enumerate(scene.outlines):
        if not box.again:
            found = scene.result.flows.vessels[box.vessel].level
            level = _height_words(layout.vessels[box.vessel].level if found is None else found, units)
            whole = f"{box.vessel}: the water stands at {level}"
            yield tag(f"level {box.vessel}", f"▽ {level}", min(water), frozenset({number}), 2.6, whole)
    for name, line in layout.lines.items():
        over = scene.own([line.start.name, line.end.name])
        for at, height in _turning_heights(line):
            said = _height_words(height, units)
            whole = f"{name}: {said} above the datum"
            yield tag(f"height {name} {at:.3f}", said, scene.strokes.place(name, at), over, 2.2, whole)


def _height_words(height: float, units: Units) -> str:
    """A height above the datum, with its sign."""
    return f"{'+' if height > -5e-4 else ''}{show(height, 'length', units)}"


def _turning_heights(line: Line) -> list[tuple[float, float]]:
    """Where a line's height turns, and its ends: (along the line, height) [m], each height once."""
    points = [
        (0.0, line.start.place[2]),
        *((part.at + part.length, part.end[2]) for part in line.parts if part.length > 0.0),
    ]
    ways = [(high > low + 1e-6) - (high < low - 1e-6) for (_, low), (_, high) in pairwise(points)]
    kept: list[tuple[float, float]] = []
    for (at, height), before, after in zip(points, [math.nan, *ways], [*ways, math.nan], strict=True):
        if before != after and not any(abs(height - other) < 0.02 for _, other in kept):
            kept.append((at, height))
    return kept
