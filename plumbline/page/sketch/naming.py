"""What the labels of a sketch say, and where they may stand."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ...findings import Finding
from ...layout.model import Line
from ...units import Units, show
from .drawn import Sketch, Text
from .hulls import seen_points
from .labels import Label, Rect, around, beside
from .letters import BOLD, text_width
from .strokes import Point
from .trouble import bad_vessels, place_of_finding, subject_of_finding

__all__ = ["label_texts", "letters_for", "vessel_lines"]

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


def label_texts(scene: Sketch) -> dict[str, Text]:
    """All labels that a sketch would like to show, by key."""
    made = [*_vessels(scene), *_pumps(scene), *_numbers(scene)]
    if not scene.narrow and not scene.letters:
        made += [*_lines(scene), *_parts(scene)]
        if scene.view.level:
            made += _levels(scene)
    return {text.label.key: text for text in made}


def _cut(name: str) -> str:
    return name if len(name) <= LONGEST else name[: LONGEST - 1] + "…"


def _size(lines: tuple[str, ...], size: float) -> tuple[float, float]:
    return max(text_width(line, size) for line in lines) + 4.0, len(lines) * (size + 2.0) + 1.0


def vessel_lines(scene: Sketch, name: str) -> tuple[str, ...]:
    """A vessel's name, and what it gets of what it wants."""
    layout = scene.result.layout
    vessel = layout.vessels[name]
    if not vessel.wants or (scene.narrow and name not in bad_vessels(scene.result) and not scene.letters):
        return (_cut(name),)
    got = show(scene.result.flows.vessels[name].inflow, "flow", layout.units, unit=False)
    return (_cut(name), f"{got} of {show(vessel.wants, 'flow', layout.units)}")


def _vessels(scene: Sketch) -> Iterator[Text]:
    seen: dict[str, int] = {}
    for number, (box, _, _) in enumerate(scene.outlines):
        name = box.vessel
        seen[name] = seen.get(name, 0) + 1
        if scene.letters:
            lines: tuple[str, ...] = (scene.letters[name],)
        elif box.again:
            lines = (_cut(f"{name} again"),)
        else:
            lines = vessel_lines(scene, name)
        points = seen_points(number, scene.hulls)
        (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
        home: Rect = (float(left), float(top), float(right), float(bottom))
        width, height = _size(lines, scene.size)
        width = max(width, BOLD * text_width(lines[0], scene.size) + 4.0)
        anchor = (float(points[0][0]), float(points[0][1]))
        inside = ((float(x), float(y), 0.02 * math.dist((x, y), anchor)) for x, y in points)
        choices = (
            *inside,
            *beside(home, width, height),
            *((x, y, 6.0 + cost) for x, y, cost in around(anchor, width, height, 60.0, far=200.0)),
        )
        label = Label(f"vessel {name} {seen[name]}", width, height, anchor, choices, 13.0, must=True, home=home,
                      over=frozenset({number}))  # fmt: skip
        yield Text(label, lines, "vessel", name)


def _pumps(scene: Sketch) -> Iterator[Text]:
    for name, place in pump_places(scene).items():
        lines = (_cut(name),)
        width, height = BOLD * text_width(lines[0], scene.size) + 4.0, scene.size + 3.0
        over = scene.own([scene.result.layout.pumps[name].vessel])
        yield Text(Label(f"pump {name}", width, height, place, around(place, width, height, 11.0), 12.5, must=True, over=over),
                   lines, "pump", name)  # fmt: skip


def pump_places(scene: Sketch) -> dict[str, Point]:
    """Where each pump that feeds a line stands."""
    return {
        line.start.name: scene.strokes.place(line.name, 0.0)
        for line in scene.result.layout.lines.values()
        if line.start.kind == "pump" and line.start.name is not None
    }


def _numbers(scene: Sketch) -> Iterator[Text]:
    """The badges of all findings, those of one place together."""
    groups: list[tuple[str, Point, frozenset[int], list[int]]] = []
    for number, finding in enumerate(scene.result.findings, start=1):
        what, place, over = _place(scene, finding)
        for same, there, _, numbers in groups:
            # On narrow paper one place a line has to do: every badge of its own would ask for a leader of its own.
            if same == what and (scene.narrow or scene.letters or math.dist(there, place) < _SAME):
                numbers.append(number)
                break
        else:
            groups.append((what, place, over, [number]))
    for what, place, over, numbers in groups:
        cells = [scene.cell(number) for number in numbers]
        across = max(width for width, _ in cells)
        columns = min(len(cells), _IN_A_ROW)
        width, height = columns * across, -(-len(cells) // columns) * cells[0][1]
        levels = {scene.result.findings[number - 1].level for number in numbers}
        weight = 14.0 if "fail" in levels else 7.0 if "warn" in levels else 3.5
        choices = around(place, width, height, 8.0, far=120.0)
        if what in scene.result.layout.vessels:
            points = [point for number in over for point in seen_points(number, scene.hulls)]
            choices = (*((float(x), float(y), 0.02 * math.dist((x, y), place)) for x, y in points), *choices)
        label = Label(f"finding {numbers[0]}", width, height, place, choices, weight, must=True, over=over)
        yield Text(label, tuple(map(str, numbers)), "numbers", "", tuple(numbers))


def _place(scene: Sketch, finding: Finding) -> tuple[str, Point, frozenset[int]]:
    """What a finding is about, where its badge is drawn to, and on which outlines it may stand."""
    layout = scene.result.layout
    where = place_of_finding(scene.result, finding)
    if where is not None:
        line = layout.lines[where[0]]
        at_end = {0.0: line.start, line.length: line.end}.get(where[1])
        own = [at_end.name] if at_end is not None and finding.step is None else [line.start.name, line.end.name]
        return line.name, scene.strokes.place(*where), scene.own(own)
    subject = subject_of_finding(scene.result, finding)
    if subject is not None and subject[0] == "pump":
        places = pump_places(scene)
        if subject[1] in places:
            return subject[1], places[subject[1]], scene.own([layout.pumps[subject[1]].vessel])
        subject = ("vessel", layout.pumps[subject[1]].vessel or "")
    if subject is not None:
        for number in sorted(scene.own([subject[1]]), key=lambda number: scene.outlines[number][0].again):
            x, y = seen_points(number, scene.hulls)[0]
            return subject[1], (float(x), float(y)), frozenset({number})
    # It speaks of the whole layout: it stands at the edge, by the arrow that tells north.
    return "", (scene.compass[0], scene.compass[1] + 24.0), frozenset()


def _lines(scene: Sketch) -> Iterator[Text]:
    size = scene.size - 1.0
    for line in scene.result.layout.lines.values():
        text = _cut(f"{line.name} · {line.parts[0].pipe.name}")
        width, height = _size((text,), size)
        choices = []
        for one in scene.strokes.segments[line.name]:
            if one.length < 24.0:
                continue
            for share in (0.5, 0.3, 0.7):
                middle = (one.a[0] + share * (one.b[0] - one.a[0]), one.a[1] + share * (one.b[1] - one.a[1]))
                choices += [
                    (x, y, cost + 30.0 / one.length) for x, y, cost in around(middle, width, height, 5.0, far=13.0)
                ]
        if choices:
            place = scene.strokes.place(line.name, 0.5 * line.length)
            choices += [(x, y, 3.0 + cost) for x, y, cost in around(place, width, height, 20.0, far=130.0)]
            over = scene.own([line.start.name, line.end.name])
            yield Text(
                Label(f"line {line.name}", width, height, place, tuple(choices), 4.0, over=over),
                (text,),
                "line",
                line.name,
            )


def _parts(scene: Sketch) -> Iterator[Text]:
    """Caps, unions and valves that have a name."""
    size = scene.size - 1.0
    for line in scene.result.layout.lines.values():
        ends = [(line.end.name, line.length)] if line.end.kind == "cap" else []
        for name, at in [*((part.id, part.at) for part in line.parts if part.kind not in ("tee", "wye")), *ends]:
            if name is None:
                continue
            place = scene.strokes.place(line.name, at)
            text = _cut(name)
            width, height = _size((text,), size)
            choices = around(place, width, height, 9.0, far=110.0)
            over = scene.own([line.start.name, line.end.name])
            yield Text(Label(f"part {name}", width, height, place, choices, 3.0, over=over), (text,), "part", name)


def _levels(scene: Sketch) -> Iterator[Text]:
    """Heights above the datum: of the water in each vessel, and of the pipe where it turns from rising to falling, or ends."""
    layout, units, size = scene.result.layout, scene.result.layout.units, scene.size - 1.5

    def tag(key: str, said: str, place: Point, over: frozenset[int], weight: float, name: str) -> Text:
        width, height = _size((said,), size)
        choices = around(place, width, height, 5.0, far=16.0)
        return Text(Label(key, width, height, place, choices, weight, led=False, over=over), (said,), "level", name)

    for number, (box, _, water) in enumerate(scene.outlines):
        if not box.again:
            level = scene.result.flows.vessels[box.vessel].level
            level = layout.vessels[box.vessel].level if level is None else level
            left = min(water)
            yield tag(f"level {box.vessel}", f"▽ {height_words(level, units)}", left, frozenset({number}), 2.6,
                      f"{box.vessel}: the water stands at {height_words(level, units)}")  # fmt: skip
    for line in layout.lines.values():
        for at, height in turning_heights(line):
            over = scene.own([line.start.name, line.end.name])
            yield tag(f"height {line.name} {at:.3f}", height_words(height, units), scene.strokes.place(line.name, at), over, 2.2,
                      f"{line.name}: {height_words(height, units)} above the datum")  # fmt: skip


def height_words(height: float, units: Units) -> str:
    """A height above the datum, with its sign."""
    return f"{'+' if height > -5e-4 else ''}{show(height, 'length', units)}"


def turning_heights(line: Line) -> list[tuple[float, float]]:
    """Where a line's height turns, and its ends: (along the line, height) [m], each height once."""
    points = [(0.0, line.start.place[2])]
    points += [(part.at + part.length, part.end[2]) for part in line.parts if part.length > 0.0]
    kept: list[tuple[float, float]] = []
    for k, (at, height) in enumerate(points):
        inner = 0 < k < len(points) - 1
        rises, goes_on = height - points[k - 1][1], points[min(k + 1, len(points) - 1)][1] - height
        if inner and (rises > 1e-6) == (goes_on > 1e-6) and (rises < -1e-6) == (goes_on < -1e-6):
            continue
        if not any(abs(height - other) < 0.02 for _, other in kept):
            kept.append((at, height))
    return kept
