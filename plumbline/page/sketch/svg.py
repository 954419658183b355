"""A sketch as SVG text: for a page that styles it, or to stand alone."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from importlib import resources
from itertools import pairwise
from xml.etree.ElementTree import Element

from ...layout.model import Stretch
from ...report.words import place_of
from ...units import show
from .drawn import Sketch, Text
from .labels import PlacedLabel
from .legend import legend, wrapped
from .moving import openings, running
from .spots import Spot
from .strokes import Point
from .symbols import SYMBOLS, trouble_mark
from .trouble import TROUBLES, bad_vessels, span_of_finding
from .xml import element, number, written

__all__ = ["caption", "drawing", "polyline", "standalone", "style", "walked"]


def style() -> str:
    """The style sheet of sketches; it takes its colours from custom properties."""
    return resources.files("plumbline.page").joinpath("sketch.css").read_text(encoding="utf-8")


def standalone(sketch: Sketch) -> str:
    """A whole SVG file, with its style and its legend, on light paper."""
    extra, rows = legend(sketch, sketch.width)
    for line in wrapped(caption(sketch), sketch.width - 28.0, sketch.size - 1.0):
        rows.append(
            element("text", {"x": "14", "y": number(extra + 6.0), "font-size": number(sketch.size - 1.0)}, text=line)
        )
        extra += 15.0
    extra += 6.0
    height = sketch.height + extra
    root = _root(sketch, height)
    root.append(element("style", text=style()))
    root.append(element("rect", {"width": number(sketch.width), "height": number(height), "class": "paper"}))
    root.extend(_contents(sketch, links=False))
    root.append(element("g", {"transform": f"translate(0 {number(sketch.height)})", "class": "legend"}, rows))
    root.set("class", "sketch light")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + written(root) + "\n"


def caption(sketch: Sketch) -> str:
    """How the drawing was made, in a sentence."""
    kind = {"iso": "Isometric", "plan": "Plan"}.get(sketch.view.name, "Elevation")
    lengths = "To scale." if sketch.to_scale else "Not to scale: short pipe drawn longer, long pipe shorter."
    return f"{kind}, {sketch.view.said}. {lengths}"


def drawing(sketch: Sketch, *, anchors: dict[str, str]) -> str:
    """A sketch for a page.

    Parameters:
        sketch: to be drawn.
        anchors: by stretch id, the page's anchor that its pipe links to.

    Returns:
        An `svg` element.
    """
    root = _root(sketch, sketch.height)
    root.extend(_contents(sketch, links=True, anchors=anchors))
    return written(root)


def walked(sketch: Sketch, taps: Iterable[Element]) -> str:
    """A sketch with places to tap on it, as an `svg` element."""
    root = _root(sketch, sketch.height)
    root.extend(_contents(sketch, links=False))
    root.append(element("g", {"class": "taps"}, taps))
    return written(root)


def _root(sketch: Sketch, height: float) -> Element:
    root = element("svg", {
        "xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {number(sketch.width)} {number(height)}",
        "class": "sketch narrow" if sketch.narrow else "sketch", "role": "group", "font-size": number(sketch.size),
        "width": number(sketch.width), "height": number(height),
        "aria-label": f"Sketch of {sketch.result.layout.name}, {sketch.view.said}",
    })  # fmt: skip
    root.append(element("title", text=f"{sketch.result.layout.name}: {sketch.view.said}"))
    return root


def _contents(sketch: Sketch, *, links: bool, anchors: dict[str, str] | None = None) -> Iterator[Element]:
    yield element("g", {"class": "vessels"}, _vessels(sketch))
    yield element("g", {"class": "lights"}, _lights(sketch))
    yield element("g", {"class": "pipes"}, _pipes(sketch, links, anchors or {}))
    if links:
        # Only the page moves: a picture and the walk's page stand still.
        yield element("g", {"class": "water-runs", "aria-hidden": "true"}, running(sketch))
    yield element("g", {"class": "symbols"}, (_spot(spot, _shrunk(sketch)) for spot in sketch.spots))
    yield element("g", {"class": "arrows"}, (_arrow(spot, _shrunk(sketch)) for spot in sketch.arrows))
    yield element("g", {"class": "marks"}, _marks(sketch))
    yield element(
        "g", {"class": "labels"}, (item for placed in sketch.labels for item in _label(sketch, placed, links))
    )
    yield _compass(sketch)
    if links:
        yield element("g", {"class": "openings"}, openings(sketch))


def polyline(points: Iterable[Point], *, close: bool = False) -> str:
    """Path data through points."""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points) + ("Z" if close else "")


def _vessels(sketch: Sketch) -> Iterator[Element]:
    bad = bad_vessels(sketch.result)
    for box, faces, water in sketch.outlines:
        kind = "vessel again" if box.again else "vessel"
        group = element("g", {"class": f"{kind} bad" if box.vessel in bad else kind})
        group.append(element("title", text=vessel_words(sketch, box.vessel)))
        for face in faces:
            group.append(element("path", {"class": "body", "d": polyline(face, close=True)}))
        group.append(element("path", {"class": "water", "d": polyline(water, close=True)}))
        for face in faces:
            group.append(element("path", {"class": "wall", "d": polyline(face, close=True)}))
        yield group


def vessel_words(sketch: Sketch, name: str) -> str:
    """A vessel's name and what it gets."""
    layout, got = sketch.result.layout, sketch.result.flows.vessels[name]
    said = f"{name}: gets {show(got.inflow, 'flow', layout.units)}"
    return f"{said}, wants {show(got.wanted, 'flow', layout.units)}" if got.wanted else said


def _lights(sketch: Sketch) -> Iterator[Element]:
    """The pipe that each finding speaks of, to be lit by the page."""
    for index, finding in enumerate(sketch.result.findings):
        span = span_of_finding(sketch.result, finding)
        if span is None or finding.line is None:
            continue
        points = sketch.strokes.trace(finding.line, *span)
        if len(points) == 1:
            ((x, y),) = points
            yield element("circle", {"class": "light", "data-finding": str(index + 1), "cx": number(x), "cy": number(y),
                                     "r": "13"})  # fmt: skip
        else:
            yield element("path", {"class": "light", "data-finding": str(index + 1), "d": polyline(points)})


def _pipes(sketch: Sketch, links: bool, anchors: dict[str, str]) -> Iterator[Element]:
    for stretch in sketch.result.layout.stretches:
        behind = sketch.behind.get(stretch.line, ())
        ends = [at for span in sketch.trouble.spans if span.line == stretch.line for at in (span.low, span.high)]
        ends += [at for piece in behind for at in piece]
        cuts = sorted({stretch.start, stretch.stop, *(at for at in ends if stretch.start < at < stretch.stop)})
        drawn = []
        for low, high in pairwise(cuts):
            look = _trouble_at(sketch, stretch.line, 0.5 * (low + high))
            data = "".join(
                polyline(piece) for piece in sketch.strokes.pieces(stretch.line, low, high) if len(piece) > 1
            )
            if data:
                wide = _width(stretch.bore)
                hidden = " behind" if any(a <= 0.5 * (low + high) <= b for a, b in behind) else ""
                drawn.append(element("path", {"class": f"pipe {wide}{hidden} {look or 'sound'}", "d": data}))
                if look is None and not hidden:
                    drawn.append(element("path", {"class": f"shine {wide}", "d": data}))
        points = sketch.strokes.trace(stretch.line, stretch.start, stretch.stop)
        if len(points) < 2:
            continue
        attributes = {"class": "stretch", "data-stretch": stretch.id, "data-line": stretch.line}
        told = _findings_on(sketch, stretch)
        if links and told:
            attributes |= {"data-findings": " ".join(map(str, told))}
        if links and stretch.id in anchors:
            attributes |= {"href": f"#{anchors[stretch.id]}"}
        group = element("a" if links else "g", attributes)
        group.append(element("title", text=stretch_words(sketch, stretch)))
        group.append(element("path", {"class": "hit", "d": polyline(points)}))
        group.extend(drawn)
        yield group


def _findings_on(sketch: Sketch, stretch: Stretch) -> list[int]:
    """The numbers of the findings that speak of a stretch."""
    out = []
    for k, finding in enumerate(sketch.result.findings, start=1):
        span = span_of_finding(sketch.result, finding)
        if (
            finding.line == stretch.line
            and span is not None
            and span[0] <= stretch.stop + 1e-9
            and span[1] >= stretch.start - 1e-9
        ):
            out.append(k)
    return out


def _width(bore: float) -> str:
    """How wide a pipe of a bore [m] is drawn, by the name of its look."""
    return next(
        (
            name
            for name, most in (("thin", 0.022), ("middling", 0.034), ("wide", 0.047), ("broad", 0.058))
            if bore < most
        ),
        "broadest",
    )


def _trouble_at(sketch: Sketch, line: str, at: float) -> str | None:
    here = {span.trouble for span in sketch.trouble.spans if span.line == line and span.low <= at <= span.high}
    return next((name for name in TROUBLES if name in here), None)


def stretch_words(sketch: Sketch, stretch: Stretch) -> str:
    """What a pipe's tooltip says."""
    units, got = sketch.result.layout.units, sketch.result.flows.stretches[stretch.id]
    said = f"{stretch.id}: {show(abs(got.flow), 'flow', units)}, {show(got.velocity, 'speed', units)}"
    here = {span.trouble for span in sketch.trouble.spans if span.line == stretch.line and span.low < stretch.stop
            and span.high > stretch.start}  # fmt: skip
    return "; ".join([said, *(words for name, words in TROUBLES.items() if name in here)])


def _spot(spot: Spot, shrunk: str) -> Element:
    x, y = spot.place
    turn = f" rotate({number(math.degrees(spot.turn))})" if abs(spot.turn) > 1e-3 else ""
    drawn = SYMBOLS[spot.symbol].draw(spot.faces, spot.opening)
    return element("g", {"class": "symbol", "transform": f"translate({number(x)} {number(y)}){turn}{shrunk}"}, drawn)


def _shrunk(sketch: Sketch) -> str:
    """On narrow paper symbols are drawn smaller; the room kept for them stays."""
    return " scale(0.75)" if sketch.narrow else ""


def _arrow(spot: Spot, shrunk: str) -> Element:
    x, y = spot.place
    return element("path", {"class": "arrow", "d": "M-4.5 -4.2L5 0L-4.5 4.2Z",
                            "transform": f"translate({number(x)} {number(y)}) rotate({number(math.degrees(spot.turn))}){shrunk}"})  # fmt: skip


def _marks(sketch: Sketch) -> Iterator[Element]:
    for trouble, (x, y) in sketch.marks:
        group = element("g", {"class": "mark", "transform": f"translate({number(x)} {number(y)}){_shrunk(sketch)}"})
        group.append(element("title", text=TROUBLES[trouble]))
        group.extend(trouble_mark(trouble))
        yield group


def _label(sketch: Sketch, placed: PlacedLabel, links: bool) -> Iterator[Element]:
    text = sketch.texts[placed.label.key]
    left, top, right, _ = placed.rect
    if placed.leader is not None:
        a, b, c, d = placed.leader
        yield element("path", {"class": "leader", "d": polyline([(a, b), (c, d)])})
        if text.look == "vessel":
            yield element("circle", {"class": "leader-end", "cx": number(a), "cy": number(b), "r": "2"})
    middle = 0.5 * (left + right)
    if text.findings:
        yield from _badges(sketch, text, placed, links)
        return
    size = sketch.size - {"line": 1.0, "part": 1.0, "level": 1.5}.get(text.look, 0.0)
    group = element("g", {"class": f"name {text.look}"})
    if text.whole != text.lines[0]:
        group.append(element("title", text=text.whole))
    for row, line in enumerate(text.lines):
        group.append(element("text", {
            "x": number(middle), "y": number(top + 0.5 + (row + 1) * (size + 2.0) - 0.3 * size), "text-anchor": "middle",
            "class": "label" if row == 0 else "label second", "font-size": number(size),
        }, text=line))  # fmt: skip
    yield group


def _badges(sketch: Sketch, text: Text, placed: PlacedLabel, links: bool) -> Iterator[Element]:
    """The numbers of the findings of a place, side by side and in rows."""
    left, top, right, _ = placed.rect
    high = sketch.cell(1)[1]
    across = max(sketch.cell(number)[0] for number in text.findings)
    columns = max(round((right - left) / across), 1)
    for k, finding_number in enumerate(text.findings):
        x, y = left + (k % columns) * across, top + (k // columns) * high
        finding = sketch.result.findings[finding_number - 1]
        where = place_of(finding)
        group = element("a" if links else "g", {"class": f"number {finding.level}", "data-finding": str(finding_number)}
                        | ({"href": f"#finding-{finding_number}"} if links else {}))  # fmt: skip
        group.append(element("title", text=f"{finding.level}{f', {where}' if where else ''}: {finding.message}"))
        group.append(element("rect", {
            "x": number(x + 1.0), "y": number(y + 1.0), "width": number(across - 2.0), "height": number(high - 2.0),
            "rx": "2" if finding.level == "fail" else number(0.5 * high),
        }))  # fmt: skip
        group.append(element("text", {"x": number(x + 0.5 * across), "y": number(y + 0.5 * high + 0.35 * sketch.size),
                                      "text-anchor": "middle", "class": "label"}, text=str(finding_number)))  # fmt: skip
        yield group


def _compass(sketch: Sketch) -> Element:
    """Which way is north, or up."""
    view = sketch.view
    way, letter = ((0.0, 1.0, 0.0), "N") if view.name in ("iso", "plan") else ((0.0, 0.0, 1.0), "up")
    x, y, _ = view(way)
    size = math.hypot(x, y)
    x, y = x / size * 17.0, y / size * 17.0
    angle = math.degrees(math.atan2(y, x))
    group = element(
        "g", {"class": "compass", "transform": f"translate({number(sketch.compass[0])} {number(sketch.compass[1])})"}
    )
    group.append(element("title", text="north" if letter == "N" else "up"))
    group.append(element("path", {"class": "bar thin", "d": polyline([(-0.4 * x, -0.4 * y), (0.7 * x, 0.7 * y)])}))
    group.append(element("path", {"class": "solid", "d": "M-5 -3.5L4 0L-5 3.5Z",
                                  "transform": f"translate({number(0.7 * x)} {number(0.7 * y)}) rotate({number(angle)})"}))  # fmt: skip
    group.append(
        element("text", {"x": number(1.35 * x), "y": number(1.35 * y + 4.0), "text-anchor": "middle"}, text=letter)
    )
    return group
