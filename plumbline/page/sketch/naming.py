"""What the labels of a sketch say, and where they may stand."""

from __future__ import annotations

from collections.abc import Iterator

from ...units import show
from .drawn import Sketch, Text
from .labels import Label, Rect, around, beside
from .letters import BOLD, text_width
from .trouble import bad_vessels, place_of_finding

__all__ = ["label_texts", "numbered"]

LONGEST = 26
"""Letters of a name that a label shows; the rest is in its tooltip and in the tables."""

_NUMBERS = {False: 14, True: 9}
"""How many findings of level fail or warn carry their number in a wide and in a narrow sketch."""


def numbered(scene: Sketch) -> list[int]:
    """The findings whose numbers the sketch shows, by their place in the list: the worst, and no advice."""
    found = scene.result.findings
    chosen = [
        i for i, one in enumerate(found) if one.level != "advice" and place_of_finding(scene.result, one) is not None
    ]
    return chosen[: _NUMBERS[scene.narrow]]


def label_texts(scene: Sketch) -> dict[str, Text]:
    """All labels that a sketch would like to show, by key."""
    made = [*_vessels(scene), *_pumps(scene), *_numbers(scene)]
    if not scene.narrow:
        made += [*_lines(scene), *_parts(scene)]
    return {text.label.key: text for text in made}


def _cut(name: str) -> str:
    return name if len(name) <= LONGEST else name[: LONGEST - 1] + "…"


def _size(lines: tuple[str, ...], size: float) -> tuple[float, float]:
    return max(text_width(line, size) for line in lines) + 4.0, len(lines) * (size + 2.0) + 1.0


def _vessels(scene: Sketch) -> Iterator[Text]:
    layout, flows = scene.result.layout, scene.result.flows
    seen: dict[str, int] = {}
    bad = bad_vessels(scene.result)
    for box, faces, _ in scene.outlines:
        name = box.vessel
        seen[name] = seen.get(name, 0) + 1
        lines: tuple[str, ...] = (_cut(name),)
        vessel = layout.vessels[name]
        if box.again:
            lines = (_cut(f"{name} again"),)
        elif vessel.wants and (not scene.narrow or name in bad):
            got = show(flows.vessels[name].inflow, "flow", layout.units, unit=False)
            lines = (_cut(name), f"{got} of {show(vessel.wants, 'flow', layout.units)}")
        points = [point for face in faces for point in face]
        rect: Rect = (
            min(x for x, _ in points),
            min(y for _, y in points),
            max(x for x, _ in points),
            max(y for _, y in points),
        )
        width, height = _size(lines, scene.size)
        width = max(width, BOLD * text_width(lines[0], scene.size) + 4.0)
        middle = (0.5 * (rect[0] + rect[2]), 0.5 * (rect[1] + rect[3]))
        choices = (
            *beside(rect, width, height),
            *((x, y, 6.0 + cost) for x, y, cost in around(middle, width, height, 60.0, far=200.0)),
        )
        label = Label(f"vessel {name} {seen[name]}", width, height, middle, choices, 9.0, must=True, home=rect)
        yield Text(label, lines, "vessel", name)


def _pumps(scene: Sketch) -> Iterator[Text]:
    layout = scene.result.layout
    for line in layout.lines.values():
        for end, at in ((line.start, 0.0), (line.end, line.length)):
            if end.kind == "pump" and end.name is not None and (end is line.start):
                place = scene.strokes.place(line.name, at)
                lines = (_cut(end.name),)
                width, height = BOLD * text_width(lines[0], scene.size) + 4.0, scene.size + 3.0
                yield Text(Label(f"pump {end.name}", width, height, place, around(place, width, height, 11.0), 8.0, must=True),
                           lines, "pump", end.name)  # fmt: skip


def _numbers(scene: Sketch) -> Iterator[Text]:
    for index in numbered(scene):
        finding = scene.result.findings[index]
        where = place_of_finding(scene.result, finding)
        assert where is not None
        place = scene.strokes.place(*where)
        text = str(index + 1)
        width, height = max(BOLD * text_width(text, scene.size) + 8.0, scene.size + 6.0), scene.size + 6.0
        weight = 12.0 if finding.level == "fail" else 7.0
        label = Label(
            f"finding {index + 1}", width, height, place, around(place, width, height, 8.0, far=90.0), weight, must=True
        )
        yield Text(label, (text,), finding.level, finding.message, index + 1)


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
            yield Text(
                Label(f"line {line.name}", width, height, place, tuple(choices), 4.0, led=False),
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
            choices = around(place, width, height, 9.0, far=62.0)
            yield Text(Label(f"part {name}", width, height, place, choices, 3.0), (text,), "part", name)
