"""A sketch as SVG text: for a page that styles it, or to stand alone."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from importlib import resources
from itertools import pairwise
from xml.etree.ElementTree import Element

from ...layout.model import Stretch
from ...report.words import place_of
from ...units import show
from .drawn import Sketch
from .labels import PlacedLabel
from .legend import arrow_head, drawn, legend, trouble_mark, wrapped
from .moving import openings, running
from .places import stand_in_each_other
from .spots import Spot
from .strokes import Point
from .trouble import TROUBLES, bad_vessels, span_of_finding
from .xml import element, number, polyline, written

__all__ = ["caption", "drawing", "standalone", "still", "style", "walked"]

_WIDTHS = {"thin": 0.022, "middling": 0.034, "wide": 0.047, "broad": 0.058, "broadest": math.inf}
"""How wide a pipe is drawn, by the name of its look: below which bore [m]."""


def style() -> str:
    """The style sheet of sketches; it takes its colours from custom properties."""
    return resources.files("plumbline.page").joinpath("sketch.css").read_text(encoding="utf-8")


def standalone(sketch: Sketch) -> str:
    """A whole SVG file, with its style and its legend, on light paper."""
    size = sketch.size - 1.0
    extra, rows = legend(sketch, sketch.width)
    for line in wrapped(caption(sketch), sketch.width - 28.0, size):
        rows.append(element("text", x=14, y=extra + 6.0, font_size=size, text=line))
        extra += 15.0
    height = sketch.height + extra + 6.0
    root = _root(sketch, height)
    root.append(element("style", text=style()))
    root.append(element("rect", width=sketch.width, height=height, class_="paper"))
    root.extend(_contents(sketch))
    root.append(element("g", *rows, transform=f"translate(0 {number(sketch.height)})", class_="legend"))
    root.set("class", "sketch light")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + written(root) + "\n"


def caption(sketch: Sketch) -> str:
    """How the drawing was made, in a sentence."""
    kind = {"iso": "Isometric", "plan": "Plan"}.get(sketch.view.name, "Elevation")
    lengths = "To scale." if sketch.to_scale else "Not to scale: short pipe drawn longer, long pipe shorter."
    told = [
        f"'{one}' and '{other}' stand in each other by the places that the file gives them."
        for one, other in stand_in_each_other(sketch.result.layout)
    ]
    return " ".join([f"{kind}, {sketch.view.said}. {lengths}", *told])


def drawing(sketch: Sketch, *, anchors: Mapping[str, str]) -> str:
    """A sketch for a page, as an `svg` element; its pipe leads to `anchors` of the page, by stretch id."""
    root = _root(sketch, sketch.height)
    root.extend(_contents(sketch, anchors))
    return written(root)


def still(sketch: Sketch) -> Element:
    """A sketch that leads nowhere, as an `svg` element."""
    root = _root(sketch, sketch.height)
    root.extend(_contents(sketch))
    return root


def walked(sketch: Sketch, taps: Iterable[Element]) -> str:
    """A sketch with places to tap on it, as an `svg` element."""
    root = still(sketch)
    root.append(element("g", *taps, class_="taps"))
    return written(root)


def _root(sketch: Sketch, height: float) -> Element:
    return element(
        "svg",
        element("title", text=f"{sketch.result.layout.name}: {sketch.view.said}"),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(sketch.width)} {number(height)}",
        class_="sketch narrow" if sketch.narrow else "sketch",
        role="group",
        font_size=sketch.size,
        width=sketch.width,
        height=height,
        aria_label=f"Sketch of {sketch.result.layout.name}, {sketch.view.said}",
    )


def _contents(sketch: Sketch, anchors: Mapping[str, str] | None = None) -> Iterator[Element]:
    """All that is drawn, from the back; with `anchors` for a page, where pipe and badges lead on and water runs. A picture and the
    walk's page stand still."""
    links = anchors is not None
    shrunk = _shrunk(sketch)
    yield element("g", *_vessels(sketch), class_="vessels")
    yield element("g", *_lights(sketch), class_="lights")
    yield element("g", *_pipes(sketch, anchors), class_="pipes")
    if links:
        yield element("g", *running(sketch), class_="water-runs", aria_hidden="true")
    yield element("g", *(_spot(spot, shrunk) for spot in sketch.spots), class_="symbols")
    yield element("g", *(arrow_head(_there(spot, shrunk)) for spot in sketch.arrows), class_="arrows")
    yield element("g", *_marks(sketch), class_="marks")
    yield element("g", *(item for one in sketch.labels for item in _label(sketch, one, links)), class_="labels")
    yield _compass(sketch)
    if links:
        yield element("g", *openings(sketch), class_="openings")


def _vessels(sketch: Sketch) -> Iterator[Element]:
    bad = bad_vessels(sketch.result)
    for box, faces, water in sketch.outlines:
        kind = "vessel again" if box.again else "vessel"
        outlines = [polyline(face, close=True) for face in faces]
        yield element(
            "g",
            element("title", text=_vessel_words(sketch, box.vessel)),
            *(element("path", class_="body", d=outline) for outline in outlines),
            element("path", class_="water", d=polyline(water, close=True)),
            *(element("path", class_="wall", d=outline) for outline in outlines),
            class_=f"{kind} bad" if box.vessel in bad else kind,
        )


def _vessel_words(sketch: Sketch, name: str) -> str:
    units, got = sketch.result.layout.units, sketch.result.flows.vessels[name]
    said = f"{name}: gets {show(got.inflow, 'flow', units)}"
    return f"{said}, wants {show(got.wanted, 'flow', units)}" if got.wanted else said


def _lights(sketch: Sketch) -> Iterator[Element]:
    """The pipe that each finding speaks of, to be lit by the page."""
    for finding_number, finding in enumerate(sketch.result.findings, start=1):
        span = span_of_finding(sketch.result, finding)
        if span is None or finding.line is None:
            continue
        points, known = sketch.strokes.trace(finding.line, *span), str(finding_number)
        if len(points) == 1:
            yield element("circle", class_="light", data_finding=known, cx=points[0][0], cy=points[0][1], r=13)
        else:
            yield element("path", class_="light", data_finding=known, d=polyline(points))


def _pipes(sketch: Sketch, anchors: Mapping[str, str] | None) -> Iterator[Element]:
    for stretch in sketch.result.layout.stretches:
        points = sketch.strokes.trace(stretch.line, stretch.start, stretch.stop)
        if len(points) < 2:
            continue
        attributes = {"class_": "stretch", "data_stretch": stretch.id, "data_line": stretch.line}
        if anchors is not None:
            if told := " ".join(map(str, _findings_on(sketch, stretch))):
                attributes["data_findings"] = told
            if stretch.id in anchors:
                attributes["href"] = f"#{anchors[stretch.id]}"
        yield element(
            "g" if anchors is None else "a",
            element("title", text=_stretch_words(sketch, stretch)),
            element("path", class_="hit", d=polyline(points)),
            *_looks(sketch, stretch),
            **attributes,
        )


def _looks(sketch: Sketch, stretch: Stretch) -> Iterator[Element]:
    """The pieces of a stretch, each drawn by its trouble and by whether it is behind a vessel."""
    behind = sketch.behind.get(stretch.line, ())
    spans = [span for span in sketch.trouble.spans if span.line == stretch.line]
    ends = [*(at for span in spans for at in (span.low, span.high)), *(at for piece in behind for at in piece)]
    cuts = sorted({stretch.start, stretch.stop, *(at for at in ends if stretch.start < at < stretch.stop)})
    wide = next(name for name, most in _WIDTHS.items() if stretch.bore < most)
    for low, high in pairwise(cuts):
        middle = 0.5 * (low + high)
        here = {span.trouble for span in spans if span.low <= middle <= span.high}
        look = next((name for name in TROUBLES if name in here), "sound")
        hidden = " behind" if any(a <= middle <= b for a, b in behind) else ""
        if data := sketch.strokes.path(stretch.line, low, high):
            yield element("path", class_=f"pipe {wide}{hidden} {look}", d=data)
            if look == "sound" and not hidden:
                yield element("path", class_=f"shine {wide}", d=data)


def _findings_on(sketch: Sketch, stretch: Stretch) -> Iterator[int]:
    """The numbers of the findings that speak of a stretch."""
    for finding_number, finding in enumerate(sketch.result.findings, start=1):
        span = span_of_finding(sketch.result, finding)
        if finding.line == stretch.line and span and span[0] - 1e-9 <= stretch.stop and stretch.start <= span[1] + 1e-9:
            yield finding_number


def _stretch_words(sketch: Sketch, stretch: Stretch) -> str:
    """What a pipe's tooltip says."""
    units, got = sketch.result.layout.units, sketch.result.flows.stretches[stretch.id]
    said = f"{stretch.id}: {show(abs(got.flow), 'flow', units)}, {show(got.velocity, 'speed', units)}"
    return "; ".join([said, *sketch.trouble.words(stretch)])


def _there(spot: Spot, shrunk: str) -> str:
    turn = f" rotate({number(math.degrees(spot.turn))})" if abs(spot.turn) > 1e-3 or spot.symbol == "arrow" else ""
    return f"{_moved(spot.place)}{turn}{shrunk}"


def _moved(place: Point) -> str:
    return f"translate({number(place[0])} {number(place[1])})"


def _spot(spot: Spot, shrunk: str) -> Element:
    return element("g", *drawn(spot.symbol, spot.faces, spot.opening), class_="symbol", transform=_there(spot, shrunk))


def _shrunk(sketch: Sketch) -> str:
    """On narrow paper symbols are drawn smaller; the room kept for them stays."""
    return " scale(0.75)" if sketch.narrow else ""


def _marks(sketch: Sketch) -> Iterator[Element]:
    for trouble, place in sketch.marks:
        told = element("title", text=TROUBLES[trouble])
        yield element("g", told, *trouble_mark(trouble), class_="mark", transform=f"{_moved(place)}{_shrunk(sketch)}")


def _label(sketch: Sketch, placed: PlacedLabel, links: bool) -> Iterator[Element]:
    label = placed.label
    left, top, right, _ = placed.rect
    if placed.leader is not None:
        a, b, c, d = placed.leader
        yield element("path", class_="leader", d=polyline([(a, b), (c, d)]))
        if label.look == "vessel":
            yield element("circle", class_="leader-end", cx=a, cy=b, r=2)
    if label.findings:
        yield from _badges(sketch, placed, links)
        return
    size = sketch.size - {"line": 1.0, "part": 1.0, "level": 1.5}.get(label.look, 0.0)
    yield element(
        "g",
        *([element("title", text=label.whole)] if label.whole != label.lines[0] else []),
        *(
            element(
                "text",
                x=0.5 * (left + right),
                y=top + 0.5 + (row + 1) * (size + 2.0) - 0.3 * size,
                text_anchor="middle",
                class_="label second" if row else "label",
                font_size=size,
                text=line,
            )
            for row, line in enumerate(label.lines)
        ),
        class_=f"name {label.look}",
    )


def _badges(sketch: Sketch, placed: PlacedLabel, links: bool) -> Iterator[Element]:
    """The numbers of the findings of a place, side by side and in rows."""
    left, top, right, _ = placed.rect
    high = sketch.cell(1)[1]
    across = max(sketch.cell(finding_number)[0] for finding_number in placed.label.findings)
    columns = max(round((right - left) / across), 1)
    for k, finding_number in enumerate(placed.label.findings):
        x, y = left + (k % columns) * across, top + (k // columns) * high
        finding, known = sketch.result.findings[finding_number - 1], str(finding_number)
        where = place_of(finding)
        round_off = 2.0 if finding.level == "fail" else 0.5 * high
        yield element(
            "a" if links else "g",
            element("title", text=f"{finding.level}{f', {where}' if where else ''}: {finding.message}"),
            element("rect", x=x + 1.0, y=y + 1.0, width=across - 2.0, height=high - 2.0, rx=round_off),
            element(
                "text",
                x=x + 0.5 * across,
                y=y + 0.5 * high + 0.35 * sketch.size,
                text_anchor="middle",
                class_="label",
                text=known,
            ),
            class_=f"number {finding.level}",
            data_finding=known,
            **({"href": f"#finding-{known}"} if links else {}),
        )


def _compass(sketch: Sketch) -> Element:
    """Which way is north, or up."""
    letter, said = ("N", "north") if sketch.view.name in ("iso", "plan") else ("up", "up")
    x, y, _ = sketch.view((0.0, 1.0, 0.0) if letter == "N" else (0.0, 0.0, 1.0))
    size = math.hypot(x, y) / 17.0
    x, y = x / size, y / size
    turn = f" rotate({number(math.degrees(math.atan2(y, x)))})"
    return element(
        "g",
        element("title", text=said),
        element("path", class_="bar thin", d=polyline([(-0.4 * x, -0.4 * y), (0.7 * x, 0.7 * y)])),
        element("path", class_="solid", d="M-5 -3.5L4 0L-5 3.5Z", transform=f"{_moved((0.7 * x, 0.7 * y))}{turn}"),
        element("text", x=1.35 * x, y=1.35 * y + 4.0, text_anchor="middle", text=letter),
        class_="compass",
        transform=_moved(sketch.compass),
    )
