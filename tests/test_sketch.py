"""The sketch: what is kept of the walk, who passes in front, and that no label hides anything.

No published values but the isometric's own: three axes at 120°, equally foreshortened (ISO 5456-3, from memory).
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path

import pytest
from checks import checked
from conftest import ReadText
from random_layouts import random_layout

from plumbline import check
from plumbline.check import CheckResult
from plumbline.cli import main
from plumbline.layout import layout_of
from plumbline.page.sketch import VIEWS, Sketch, sketch
from plumbline.page.sketch.draw import blocks
from plumbline.page.sketch.legend import letter_list
from plumbline.page.sketch.letters import text_width
from plumbline.page.sketch.places import SHORTEST, Placed, place, stand_in_each_other
from plumbline.page.sketch.svg import caption, standalone, style
from plumbline.page.sketch.trouble import TROUBLES, troubles
from plumbline.page.sketch.views import views_named

LAYOUTS = Path(__file__).parent.parent / "layouts"
NAMES = sorted(path.name for path in LAYOUTS.glob("*.yaml"))
SVG = "{http://www.w3.org/2000/svg}"


@cache
def drawn(name: str, view: str = "iso", width: float = 960.0) -> Sketch:
    return sketch(checked(name), view=view, width=width)


@cache
def placed(name: str) -> Placed:
    return place(checked(name).layout, levels={})


# ---------------------------------------------------------------------- views


@pytest.mark.published
def test_isometric_axes_are_120_degrees_apart_and_equally_long() -> None:
    """ISO 5456-3, isometric axonometry (from memory); as in pipe sketches, the vertical is upright."""
    for view in views_named("iso"):
        axes = [view(axis)[:2] for axis in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))]
        assert [math.hypot(*axis) for axis in axes] == pytest.approx([1.0, 1.0, 1.0])
        assert axes[2] == pytest.approx((0.0, -1.0))
        cosines = [a[0] * b[0] + a[1] * b[1] for i, a in enumerate(axes) for b in axes[i + 1 :]]
        assert all(abs(cosine) == pytest.approx(0.5) for cosine in cosines)
        # What is nearer to the eye is lower on the paper at the same height.
        assert view((view.near[0], view.near[1], 0.0))[1] > 0.0


@pytest.mark.invariant
@pytest.mark.parametrize("name", VIEWS)
def test_a_point_above_another_is_never_drawn_below_it(name: str) -> None:
    for view in views_named(name):
        assert view((0.3, 0.2, 2.0))[1] <= view((0.3, 0.2, 1.0))[1]


# ---------------------------------------------------------------------- places


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", NAMES)
def test_runs_keep_their_direction_and_can_be_seen(name: str) -> None:
    bones = placed(name).skeleton
    for run in bones.runs:
        a, b = placed(name).points[run.tail], placed(name).points[run.head]
        by = [q - p for p, q in zip(a, b, strict=True)]
        for axis in range(3):
            assert by[axis] * run.by[axis] >= 0.0
            assert (abs(by[axis]) < 1e-9) == (abs(run.by[axis]) < 1e-9) or abs(run.by[axis]) < 0.1 * math.hypot(*run.by)
        assert math.hypot(*by) >= 0.9 * SHORTEST


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", NAMES)
def test_ends_that_meet_are_drawn_at_one_point(name: str) -> None:
    layout, points = checked(name).layout, placed(name).points
    for one, other in placed(name).skeleton.ties:
        assert points[one] == pytest.approx(points[other], abs=1e-6)
    assert len(placed(name).skeleton.ties) >= len(layout.tees)


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", NAMES)
def test_heights_keep_their_order(name: str) -> None:
    got = placed(name)
    heights = sorted((got.skeleton.points[corner][2], got.points[corner][2]) for corner in got.points)
    for (low, drawn_low), (high, drawn_high) in pairwise(heights):
        if high - low > 1e-5:
            assert drawn_high > drawn_low
        else:
            assert drawn_high == pytest.approx(drawn_low, abs=1e-4)


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", NAMES)
def test_every_end_in_a_vessel_is_inside_its_outline(name: str) -> None:
    got = placed(name)
    assert {box.vessel for box in got.boxes} == set(checked(name).layout.vessels)
    for grip in got.skeleton.grips:
        x, y, _ = got.points[grip.corner]
        assert any(
            box.low[0] <= x <= box.high[0] and box.low[1] <= y <= box.high[1]
            for box in got.boxes
            if box.vessel == grip.vessel
        ), grip


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_to_scale_keeps_every_length() -> None:
    for name in ("tangle.yaml", "ring_main.yaml", "terraces.yaml"):
        got = place(checked(name).layout, levels={}, to_scale=True)
        unit = None
        for run in got.skeleton.runs:
            by = [q - p for p, q in zip(got.points[run.tail], got.points[run.head], strict=True)]
            unit = unit or math.hypot(*run.by) / math.hypot(*by)
            assert [one * unit for one in by] == pytest.approx(list(run.by), abs=2e-3)


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_a_file_with_one_line_and_no_length_is_drawn(read_text: ReadText) -> None:
    result = check(
        read_text("""
        name: bare
        water: 20 degC
        vessels: {a: {base: 1 m, water: 1 m}, b: {base: 0 m, water: 1 m}}
        lines: {only: {pipe: pvc 25, from: {vessel: a, height: 0.1 m}, route: [{down: 1 m}], to: {vessel: b, height: 0.1 m}}}
    """)
    )
    for view in VIEWS:
        ET.fromstring(standalone(sketch(result, view=view)))


# ---------------------------------------------------------------------- crossings


@pytest.mark.few
@pytest.mark.second_method
@pytest.mark.parametrize("name", NAMES)
def test_the_pipe_behind_has_the_gap(name: str) -> None:
    """Which passes in front, found again from the drawn places: by solving for the two points in space that the
    crossing hides behind each other."""
    scene = drawn(name)
    for crossing in scene.strokes.crossings:
        at = {}
        for which, segment in (("front", crossing.front), ("behind", crossing.behind)):
            t = math.dist(segment.a, crossing.place) / segment.length
            at[which] = segment.near_a + t * (segment.near_b - segment.near_a)
        assert at["front"] > at["behind"]
        for piece in scene.strokes.pieces(
            crossing.behind.line, 0.0, checked(name).layout.lines[crossing.behind.line].length
        ):
            for a, b in pairwise(piece):
                gap = min(
                    math.dist(crossing.place, (a[0] + k / 50 * (b[0] - a[0]), a[1] + k / 50 * (b[1] - a[1])))
                    for k in range(51)
                )
                same_line = crossing.front.line == crossing.behind.line
                assert gap > 5.0 or same_line, crossing
    if name == "tangle.yaml":
        assert len(scene.strokes.crossings) > 5


@pytest.mark.invariant
def test_a_pipe_over_another_is_in_front(read_text: ReadText) -> None:
    result = check(
        read_text("""
        name: cross
        water: 20 degC
        vessels:
          a: {base: 2 m, water: 1 m, at: {east: 0 m, north: 0 m}}
          b: {base: 1 m, water: 1 m, at: {east: 1 m, north: -1 m}}
          c: {base: 0 m, water: 1 m}
          d: {base: 0 m, water: 1 m}
        lines:
          high: {pipe: pvc 25, from: {vessel: a, height: 0.1 m}, route: [{east: 2 m}], to: {vessel: c, height: 2.1 m}}
          low: {pipe: pvc 25, from: {vessel: b, height: 0.1 m}, route: [{north: 2 m}], to: {vessel: d, height: 1.1 m}}
    """)
    )
    (crossing,) = sketch(result, view="plan", to_scale=True).strokes.crossings
    assert (crossing.front.line, crossing.behind.line) == ("high", "low")


# ---------------------------------------------------------------------- labels


def meets(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@pytest.mark.few
@pytest.mark.second_method
@pytest.mark.parametrize("width", [960.0, 360.0])
@pytest.mark.parametrize("name", NAMES)
def test_no_label_hides_another_or_a_pipe(name: str, width: float) -> None:
    """A second, plain way: rectangles by pairs, and points every half pixel along all pipe, hidden or not."""
    for view in ("iso", "plan", "south") if name == "tangle.yaml" else ("iso",):
        scene = drawn(name, view, width)
        rects = [one.rect for one in scene.labels]
        for i, one in enumerate(rects):
            assert 0 <= one[0] < one[2] <= scene.width
            assert 0 <= one[1] < one[3] <= scene.height
            assert not any(meets(one, other) for other in rects[i + 1 :])
            assert not any(meets(one, tuple(block)) for block in blocks(scene))
        for segment in scene.strokes.every():
            count = max(int(segment.length / 0.5), 1)
            for k in range(count + 1):
                x = segment.a[0] + k / count * (segment.b[0] - segment.a[0])
                y = segment.a[1] + k / count * (segment.b[1] - segment.a[1])
                for label, rect in zip(scene.labels, rects, strict=True):
                    assert not (rect[0] < x < rect[2] and rect[1] < y < rect[3]), (label.label.key, segment.line)


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("width", [960.0, 360.0])
@pytest.mark.parametrize("name", NAMES)
def test_vessels_and_pumps_are_named_and_every_finding_has_its_badge(name: str, width: float) -> None:
    told_on_paper(checked(name), drawn(name, "iso", width))


def told_on_paper(result: CheckResult, scene: Sketch) -> None:
    keys = {one.label.key for one in scene.labels}
    assert {f"vessel {vessel} 1" for vessel in result.layout.vessels} <= keys
    assert {f"pump {line.start.name}" for line in result.layout.lines.values() if line.start.kind == "pump"} <= keys
    badges = sorted(number for one in scene.labels for number in one.label.findings)
    assert badges == list(range(1, len(result.findings) + 1))


@pytest.mark.few
@pytest.mark.second_method
@pytest.mark.parametrize("width", [960.0, 360.0])
@pytest.mark.parametrize("name", NAMES)
def test_no_label_stands_on_another_vessel(name: str, width: float) -> None:
    for view in VIEWS if name in ("tangle.yaml", "ring_main.yaml") else ("iso",):
        clear_of_other_vessels(drawn(name, view, width))


@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("name", NAMES)
def test_no_vessel_is_drawn_in_another(name: str) -> None:
    apart(drawn(name, "iso", 360.0))


def apart(scene: Sketch) -> None:
    whole = [box for box in scene.placed.boxes if not box.again]
    for one, other in combinations(whole, 2):
        deep = [min(one.high[k], other.high[k]) - max(one.low[k], other.low[k]) for k in range(3)]
        assert min(deep) < 1e-6, (one.vessel, other.vessel, deep)


@pytest.mark.invariant
def test_vessels_that_the_file_places_in_each_other_are_told(read_text: ReadText) -> None:
    text = """\
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2, at: {east: 0 m, north: 0 m}}
  barrel: {base: 0 m, rim: 0.9 m, water: 0.8 m, area: 0.36 m^2, at: {east: 0.7 m, north: 0 m}}
lines:
  over: {pipe: pvc 50, from: {vessel: tank, overflow: 0.8 m}, route: [{east: 0.2 m}], to: barrel}
"""
    told = "'tank' and 'barrel' stand in each other by the places that the file gives them."
    layout = read_text(text)
    assert stand_in_each_other(layout) == [("tank", "barrel")]
    assert caption(sketch(check(layout), width=360.0)).endswith(told)
    for apart_by in ("east: 0.8 m, north: 0 m}", "east: 0 m, north: -0.8 m}"):
        assert stand_in_each_other(read_text(text.replace("east: 0.7 m, north: 0 m}", apart_by))) == []
    # One above the other is no fault.
    assert stand_in_each_other(read_text(text.replace("barrel: {base: 0 m", "barrel: {base: -1 m"))) == []


def clear_of_other_vessels(scene: Sketch) -> None:
    """A second, plain way: points in each label, and the ray rule for being inside a face of a vessel."""
    for one in scene.labels:
        left, top, right, bottom = one.rect
        points = [(left + i / 6 * (right - left), top + j / 4 * (bottom - top)) for i in range(7) for j in range(5)]
        for box, faces, _ in scene.outlines:
            inside = any(within(point, face) for face in faces for point in points)
            assert not inside or box.vessel in owners(scene, one.label.key), (one.label.key, box.vessel)


def within(point: tuple[float, float], face: tuple[tuple[float, float], ...]) -> bool:
    x, y = point
    crossed = False
    for (ax, ay), (bx, by) in zip(face, (*face[1:], face[0]), strict=True):
        if (ay > y + 1e-9) != (by > y + 1e-9):
            at = ax + (y + 1e-9 - ay) / (by - ay) * (bx - ax)
            if abs(at - x) < 1e-3:
                return False
            crossed ^= at > x
    return crossed


@pytest.mark.some(2)
@pytest.mark.second_method
@pytest.mark.parametrize("width", [960.0, 352.0])
@pytest.mark.parametrize("name", ["ring_main.yaml", "unbalanced.yaml", "tangle.yaml", "bypass.yaml"])
def test_a_name_without_a_line_to_it_stands_at_its_vessel(name: str, width: float) -> None:
    """By points along the edges of the vessel's faces: none of the rectangles around them is asked."""
    scene = drawn(name, "iso", width)
    bare = [one for one in scene.labels if one.label.look == "vessel" and one.leader is None]
    assert bare
    for one in bare:
        left, top, right, bottom = one.rect
        (outline,) = one.label.over
        faces = scene.outlines[outline][1]
        middle = (0.5 * (left + right), 0.5 * (top + bottom))
        edges = [
            (a[0] + k / 60 * (b[0] - a[0]), a[1] + k / 60 * (b[1] - a[1]))
            for face in faces
            for a, b in pairwise((*face, face[0]))
            for k in range(61)
        ]
        off = min(math.hypot(max(left - x, 0.0, x - right), max(top - y, 0.0, y - bottom)) for x, y in edges)
        assert off < 10.0 or any(within(middle, face) for face in faces), one.label.key


def owners(scene: Sketch, key: str) -> set[str | None]:
    """The vessels that a label may stand on, told from what it names."""
    layout, text = scene.result.layout, next(label for label in scene.wanted if label.key == key)
    lines = layout.lines
    if text.look == "vessel":
        return {text.whole}
    if text.look == "pump":
        return {layout.pumps[text.whole].vessel}
    if text.look in ("line", "part"):
        line = next(
            one
            for one in lines.values()
            if text.whole in (one.name, one.end.name, *(part.id for part in one.parts))
            and (text.look == "part" or one.name == text.whole)
        )
        return {line.start.name, line.end.name}
    if text.look == "level":
        if key.startswith("level "):
            return {key.removeprefix("level ")}
        line = lines[key.removeprefix("height ").rpartition(" ")[0]]
        return {line.start.name, line.end.name}
    out: set[str | None] = set()
    for number in text.findings:
        finding = scene.result.findings[number - 1]
        if finding.line is not None:
            return {lines[finding.line].start.name, lines[finding.line].end.name}
        named = set(re.findall("'([^']+)'", finding.message))
        out |= named | {layout.pumps[name].vessel for name in named if name in layout.pumps}
    return out


@pytest.mark.second_method
@pytest.mark.slow
@pytest.mark.parametrize("fives", range(5))
def test_no_label_of_layouts_made_at_random_stands_on_another_vessel(fives: int) -> None:
    for seed in range(5 * fives, 5 * fives + 5):
        result = check(layout_of(random_layout(seed)))
        scene = sketch(result, width=960.0 if seed % 2 else 360.0)
        clear_of_other_vessels(scene)
        told_on_paper(result, scene)


@pytest.mark.invariant
def test_a_finding_without_pipe_has_its_badge_at_its_vessel() -> None:
    result, scene = checked("unbalanced.yaml"), drawn("unbalanced.yaml")
    number = next(i for i, one in enumerate(result.findings, 1) if one.message.startswith("'cress' gets 0.0"))
    label = next(one.label for one in scene.labels if number in one.label.findings)
    assert any(
        box.vessel == "cress" and any(within(label.anchor, face) for face in faces) for box, faces, _ in scene.outlines
    )


@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("name", NAMES)
def test_each_width_shows_the_same_corner_and_the_caption_names_it(name: str) -> None:
    corners = {drawn(name, "iso", width).view for width in (352.0, 360.0, 920.0, 960.0)}
    assert len(corners) == 1
    (view,) = corners
    east, north = view.near[0], view.near[1]
    word = f"{'north' if north > 0 else 'south'}-{'east' if east > 0 else 'west'}"
    assert f"seen from the {word}" in caption(drawn(name, "iso", 352.0))
    # The arrow tells it too: north runs away from an eye in the south, up the paper.
    assert (view((0.0, 1.0, 0.0))[1] < 0.0) == (word.startswith("south"))


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["terraces.yaml", pytest.param("call_outs.yaml", marks=pytest.mark.slow)])
def test_many_vessels_have_letters_on_a_phone_and_a_list_tells_their_names(name: str) -> None:
    scene = drawn(name, "iso", 360.0)
    shown = {one.label.key: one.label.lines[0] for one in scene.labels}
    listed = dict(letter_list(scene))
    for number, vessel in enumerate(checked(name).layout.vessels):
        assert shown[f"vessel {vessel} 1"] == "ABCDEFGHIJKLMNOP"[number]
        assert listed["ABCDEFGHIJKLMNOP"[number]].startswith(vessel)
    assert not drawn("courtyard.yaml", "iso", 360.0).letters


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize("name", ["tangle.yaml", "ring_main.yaml", "courtyard.yaml"])
def test_heights_on_paper_are_those_of_the_file(name: str) -> None:
    layout, flows, scene = checked(name).layout, checked(name).flows, drawn(name)
    told = 0
    for one in scene.labels:
        text = one.label
        if text.look != "level":
            continue
        told += 1
        number = float(text.lines[0].replace("▽ ", "").split()[0])
        if one.label.key.startswith("level "):
            vessel = one.label.key.removeprefix("level ")
            level = flows.vessels[vessel].level
            assert number == pytest.approx(layout.vessels[vessel].level if level is None else level, abs=0.0051)
        else:
            line, at = one.label.key.removeprefix("height ").rsplit(" ", 1)
            heights = [(0.0, layout.lines[line].start.place[2])]
            heights += [(part.at + part.length, part.end[2]) for part in layout.lines[line].parts]
            assert number == pytest.approx(min(heights, key=lambda pair: abs(pair[0] - float(at)))[1], abs=0.0051)
    assert told >= 3


@pytest.mark.slow
@pytest.mark.second_method
@pytest.mark.parametrize("name", ["tangle.yaml", "ring_main.yaml", "terraces.yaml"])
def test_pipe_behind_a_vessel_is_told_by_marching_towards_the_eye(name: str) -> None:
    """A second, plain way: small steps from the pipe towards the eye, till they are outside of all."""
    scene = drawn(name)
    rays, differ = 0, 0
    for line, spans in scene.behind.items():
        segments = scene.strokes.segments[line]
        for one in segments:
            if one.length < 8.0:
                continue
            for share in (0.2, 0.5, 0.8):
                at = one.at_a + share * (one.at_b - one.at_a)
                start = back_to_space(
                    scene,
                    [a + share * (b - a) for a, b in zip((*one.a, one.near_a), (*one.b, one.near_b), strict=True)],
                )
                rays += 1
                differ += marched(scene, start) != any(low <= at <= high for low, high in spans)
    assert rays > 10
    # At the very edge of a vessel the two may differ by a step.
    assert differ <= 0.03 * rays


def back_to_space(scene: Sketch, seen: list[float]) -> list[float]:
    import numpy as np

    view = scene.view
    flat = [(seen[0] - scene.shift[0]) / scene.scale, -(seen[1] - scene.shift[1]) / scene.scale, seen[2]]
    return list(np.linalg.solve(np.array([view.right, view.up, view.near]), flat))


def marched(scene: Sketch, start: list[float]) -> bool:
    def holders(point: list[float]) -> set[int]:
        return {
            i
            for i, box in enumerate(scene.placed.boxes)
            if all(low < x < high for low, x, high in zip(box.low, point, box.high, strict=True))
        }

    inside = holders(start)
    for k in range(1, 2500):
        if holders([x + 0.005 * k * way for x, way in zip(start, scene.view.near, strict=True)]) - inside:
            return True
    return False


@pytest.mark.second_method
def test_no_letter_is_wider_than_counted() -> None:
    """Against the metrics of DejaVu Sans, as shipped with matplotlib."""
    from matplotlib import get_data_path
    from matplotlib.ft2font import FT2Font

    font = FT2Font(str(Path(get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"))
    font.set_size(100.0, 72.0)
    for code in (*range(0x20, 0x7F), *range(0xA1, 0x180), *range(0x391, 0x3A2), *range(0x410, 0x450), 0x2026, 0x2013):
        width = font.load_char(code).linearHoriAdvance / 65536.0
        assert text_width(chr(code), 100.0) >= width - 0.5, chr(code)


@pytest.mark.few
@pytest.mark.pinned
@pytest.mark.parametrize("name", NAMES)
def test_most_names_find_room(name: str) -> None:
    scene = drawn(name)
    names = [label.key for label in scene.wanted if label.look != "level"]
    shown = {one.label.key for one in scene.labels}
    assert sum(key in shown for key in names) >= 0.55 * len(names)


# ---------------------------------------------------------------------- trouble


@pytest.mark.invariant
def test_trouble_has_its_own_dashes_and_its_own_mark() -> None:
    """Colour-blind or printed in grey, each is told by its dashes or by its mark."""
    sheet = style()
    dashes = {
        name: re.search(rf"\.pipe\.{name} {{[^}}]*stroke-dasharray: ([\d. ]+)", sheet)
        for name in TROUBLES
        if name != "sharp"
    }
    assert all(dashes.values())
    assert len({found[1] for found in dashes.values() if found}) == len(dashes)
    from plumbline.page.sketch.legend import trouble_mark

    marks = {name: tuple(ET.tostring(one) for one in trouble_mark(name)) for name in TROUBLES}
    shapes = {re.sub(rb'class="[^"]*"', b"", b"".join(mark)) for mark in marks.values()}
    assert len(shapes) == len(TROUBLES)


@pytest.mark.pinned
def test_the_tangle_shows_what_is_wrong_where_it_is() -> None:
    spans = troubles(checked("tangle.yaml")).spans
    assert ("uncleaned", "tomato feed") in {(one.trouble, one.line) for one in spans}
    assert ("dead", "old bed feed") in {(one.trouble, one.line) for one in spans}
    assert ("silts", "overflow") in {(one.trouble, one.line) for one in spans}
    root = ET.fromstring(standalone(drawn("tangle.yaml")))
    by_stretch = {group.get("data-stretch"): group for group in root.iter(f"{SVG}g") if group.get("class") == "stretch"}
    assert set(by_stretch) == {one.id for one in checked("tangle.yaml").layout.stretches}
    first = next(one.id for one in checked("tangle.yaml").layout.stretches if one.line == "tomato feed")
    looks = {(path.get("class") or "").split()[-1] for path in by_stretch[first].iter(f"{SVG}path")}
    assert looks == {"hit", "uncleaned"}
    bad = [group for group in root.iter(f"{SVG}g") if "bad" in (group.get("class") or "").split()]
    fails = [one.message for one in checked("tangle.yaml").findings if one.level == "fail"]
    assert {(group[0].text or "").split(":")[0] for group in bad} == {message.split("'")[1] for message in fails}
    assert {"tomato bed", "herb trough"} <= {message.split("'")[1] for message in fails}


@pytest.mark.invariant
def test_a_sound_layout_shows_no_trouble() -> None:
    root = ET.fromstring(standalone(drawn("courtyard.yaml")))
    classes = {word for one in root.iter() for word in (one.get("class") or "").split()}
    assert not classes & {"bad", "fail", "warn", "mark", *TROUBLES}


@pytest.mark.invariant
def test_arrows_point_the_way_the_water_goes() -> None:
    scene = drawn("siphon.yaml")
    strokes = scene.strokes
    for stretch in checked("siphon.yaml").layout.stretches:
        flow = checked("siphon.yaml").flows.stretches[stretch.id].flow
        near = [
            one
            for one in scene.arrows
            if min(
                math.dist(
                    one.place, strokes.place(stretch.line, stretch.start + k / 400 * (stretch.stop - stretch.start))
                )
                for k in range(401)
            )
            < 1.5
        ]
        assert near, stretch.id
        for arrow in near:
            ahead = (arrow.place[0] + 4 * math.cos(arrow.turn), arrow.place[1] + 4 * math.sin(arrow.turn))

            def along(point: tuple[float, float], stretch: object = stretch) -> float:
                return min(
                    (
                        math.dist(
                            point, strokes.place(stretch.line, stretch.start + k / 400 * (stretch.stop - stretch.start))
                        ),
                        k,
                    )
                    for k in range(401)
                )[1]  # type: ignore[attr-defined]

            assert (along(ahead) - along(arrow.place)) * flow > 0.0


# ---------------------------------------------------------------------- safety


EVIL = """<script>alert(1)</script>" onload='x' & ]]>"""


def evil(read_text: ReadText) -> CheckResult:
    name = EVIL.replace("'", "''")
    return check(
        read_text(f"""
        name: '{name}'
        water: 20 degC
        vessels:
          '{name} tank': {{holds: fish, base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}}
          '{name} bed': {{holds: plants, base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2, wants: 100 L/min}}
        pumps:
          '{name} pump': {{in: '{name} tank', curve: [[0 L/min, 3 m], [20 L/min, 2 m], [40 L/min, 0.5 m]]}}
        lines:
          '{name} riser':
            pipe: pvc 25
            from: '{name} pump'
            route: [{{up: 1.4 m}}, {{cap: {{id: '{name} cap', faces: west}}}}, {{east: 1 m}}]
            to: '{name} bed'
          back:
            pipe: pvc 50
            from: {{vessel: '{name} bed', standpipe: 0.2 m}}
            route: [{{down: 0.3 m}}, elbow, {{west: 1 m}}]
            to: '{name} tank'
    """)
    )


@pytest.mark.invariant
def test_names_are_escaped(read_text: ReadText) -> None:
    result = evil(read_text)
    text = standalone(sketch(result))
    assert "<script" not in text
    assert "onload='x'" in text.replace("&quot;", '"')
    root = ET.fromstring(text)
    allowed = {"svg", "title", "style", "rect", "g", "path", "circle", "text"}
    assert {one.tag.removeprefix(SVG) for one in root.iter()} <= allowed
    assert not {key for one in root.iter() for key in one.attrib if key.startswith("on")}
    assert (root[0].text or "").startswith(EVIL)


# ---------------------------------------------------------------------- the command


@pytest.mark.pinned
def test_the_command_writes_whole_files_and_over_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out.svg"
    layout = str(LAYOUTS / "siphon.yaml")
    assert main(["sketch", layout, "-o", str(out)]) == 0
    first = out.read_text(encoding="utf-8")
    assert first == standalone(sketch(checked("siphon.yaml")))
    assert main(["sketch", layout, "-o", str(out), "--view", "south"]) == 2
    assert capsys.readouterr().err == f"'{out}' is there already. Give another name, or --force to write over it.\n"
    assert out.read_text(encoding="utf-8") == first
    assert main(["sketch", layout, "-o", str(out), "--view", "south", "--force"]) == 0
    assert "seen from the south" in out.read_text(encoding="utf-8")
    assert main(["sketch", layout, "-o", str(tmp_path / "no" / "out.svg")]) == 2
    assert "cannot be written" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["out.svg"]
    with pytest.raises(SystemExit):
        main(["sketch", layout, "-o", str(out), "--width", "nine"])
    assert "a whole number from 240 to 4000" in capsys.readouterr().err


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_the_same_file_always_gives_the_same_picture() -> None:
    assert standalone(sketch(checked("tangle.yaml"))) == standalone(drawn("tangle.yaml"))


# ---------------------------------------------------------------------- what stands before what


@pytest.mark.invariant
def test_a_row_of_towers_over_a_gutter_is_drawn_once_each_and_apart() -> None:
    path = Path(__file__).parent / "jobs" / "trade" / "15_tower_wall.yaml"
    boxes = place(layout_of(path.read_text(encoding="utf-8")), levels={}).boxes
    assert not any(box.again for box in boxes)
    towers = sorted((box for box in boxes if box.vessel.startswith("tower")), key=lambda box: box.low[0])
    assert [box.vessel for box in towers] == [f"tower {number}" for number in range(1, 13)]
    assert all(one.high[0] < other.low[0] for one, other in pairwise(towers))
    (gutter,) = (box for box in boxes if box.vessel == "gutter")
    for box in towers:
        middle = 0.5 * (box.low[0] + box.high[0])
        assert gutter.low[0] < middle < gutter.high[0]
        assert gutter.high[2] <= box.low[2]


@pytest.mark.few
@pytest.mark.second_method
@pytest.mark.parametrize("name", NAMES)
def test_a_vessel_before_another_is_drawn_over_it(name: str) -> None:
    """By rays of sight: where two vessels lie over each other on paper, the one drawn later is met first; those whose walks put them in
    each other are left out."""
    scene = drawn(name)
    for k, (box, faces, _) in enumerate(scene.outlines):
        points = [point for face in faces for point in face]
        left, right = min(x for x, _ in points), max(x for x, _ in points)
        top, bottom = min(y for _, y in points), max(y for _, y in points)
        for over, *_ in scene.outlines[k + 1 :]:
            if all(min(box.high[n], over.high[n]) - max(box.low[n], over.low[n]) > 1e-6 for n in range(3)):
                continue
            for i, j in ((i, j) for i in range(1, 12) for j in range(1, 12)):
                at = [left + i / 12 * (right - left), top + j / 12 * (bottom - top), 0.0]
                first, second = (sight(scene, back_to_space(scene, at), one.low, one.high) for one in (box, over))
                if first and second and not (first[0] < second[1] - 1e-6 and second[0] < first[1] - 1e-6):
                    assert second[1] >= first[1] - 1e-6, (box.vessel, over.vessel)


def sight(
    scene: Sketch, start: list[float], low: tuple[float, ...], high: tuple[float, ...]
) -> tuple[float, float] | None:
    """Where a ray towards the eye is in a box: from and to, the eye at the far end; None where it misses it."""
    enter, leave = -math.inf, math.inf
    for x, way, a, b in zip(start, scene.view.near, low, high, strict=True):
        cuts = sorted(((a - x) / way, (b - x) / way))
        enter, leave = max(enter, cuts[0]), min(leave, cuts[1])
    return (enter, leave) if enter < leave - 1e-9 else None
