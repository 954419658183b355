"""A diagnosis on the sketch: the shade of pipe is the chance of all suspects that it has part in."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import pytest
from checks import LAYOUTS, checked

from plumbline.cli import main
from plumbline.diagnose.causes import Cause, causes_of
from plumbline.diagnose.diagnosis import Cure, Diagnosis, Suspect
from plumbline.hydraulics.find import find_flows
from plumbline.layout import layout_of
from plumbline.page.sketch import Sketch, sketch
from plumbline.page.sketch.suspects import shaded
from plumbline.page.sketch.xml import polyline
from plumbline.report.diagnose import suspect_rows


def suspect(chance: float, **place: Any) -> Suspect:
    cause = Cause("narrowed", "", (0.5, 1.0), lambda _: checked("courtyard").layout, **place)
    return Suspect(cause, chance, 0.7, 0.6, 0.8, (), 1, Cure(""))


def drawn(*suspects: Suspect) -> tuple[Sketch, list[Element]]:
    result = checked("courtyard")
    found = Diagnosis(result.layout, (), (), (), False, True, (), 0.0, suspects, (), ())
    scene = sketch(result, width=640.0)
    return scene, list(shaded(scene, found, suspects))


def strengths(items: list[Element]) -> dict[str, float]:
    return {str(item.get("d")): float(str(item.get("stroke-opacity"))) for item in items if item.tag == "path"}


@pytest.mark.second_method
def test_pipe_is_shaded_by_the_chances_of_all_that_it_has_part_in() -> None:
    scene, items = drawn(
        suspect(0.5, line="south feed", start=0.0, stop=0.8),
        suspect(0.2, line="south feed", start=0.4, stop=1.2),
        suspect(0.1, line="riser", start=0.0, stop=1.0),
    )
    by_hand = {
        ("south feed", 0.0, 0.4): 0.5,
        ("south feed", 0.4, 0.8): 0.7,
        ("south feed", 0.8, 1.2): 0.2,
        ("riser", 0.0, 1.0): 0.1,
    }
    expected = {polyline(scene.strokes.trace(*span)): 0.15 + 0.85 * chance for span, chance in by_hand.items()}
    assert strengths(items) == pytest.approx(expected, abs=0.006)


@pytest.mark.invariant
def test_a_suspect_that_is_everywhere_shades_all_pipe_and_has_no_letter() -> None:
    scene, items = drawn(suspect(1.0))
    assert {item.tag for item in items} == {"path"}
    assert set(strengths(items)) == {
        polyline(scene.strokes.trace(one.line, one.start, one.stop))
        for one in scene.result.layout.stretches
        if one.length > 0.0
    }
    assert set(strengths(items).values()) == {1.0}


@pytest.mark.invariant
def test_a_pump_a_vessel_and_a_leak_have_a_letter_where_they_stand() -> None:
    scene, items = drawn(
        suspect(0.4, pump="lift"), suspect(0.3, vessel="north bed"), suspect(0.2, line="riser", start=1.0, stop=1.0)
    )
    assert not strengths(items)
    places = [
        (float(str(circle.get("cx"))), float(str(circle.get("cy")))) for item in items for circle in item.iter("circle")
    ]
    assert ["".join(text.text or "" for text in item.iter("text")) for item in items] == ["A", "B", "C"]
    assert places[0] == pytest.approx(scene.strokes.place("riser", 0.0), abs=0.06)
    assert places[2] == pytest.approx(scene.strokes.place("riser", 1.0), abs=0.06)
    hull = next(
        hull for (box, _, _), hull in zip(scene.outlines, scene.hulls, strict=True) if box.vessel == "north bed"
    )
    assert (hull.min(axis=0) <= places[1]).all()
    assert (hull.max(axis=0) >= places[1]).all()


@pytest.mark.invariant
def test_letters_at_one_place_stand_side_by_side() -> None:
    _, items = drawn(*(suspect(0.1, line="riser", start=0.2, stop=0.6) for _ in range(4)))
    across = sorted(float(str(circle.get("cx"))) for item in items for circle in item.iter("circle"))
    assert all(b - a >= 16.0 for a, b in pairwise(across))


@pytest.mark.pinned
@pytest.mark.slow
@pytest.mark.usefixtures("worked_out_once")
def test_the_page_of_a_visit_says_what_diagnose_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    visit = ["--readings", str(LAYOUTS / "visits" / "courtyard.yaml")]
    main(["diagnose", str(LAYOUTS / "courtyard.yaml"), *visit])
    answer = " ".join(capsys.readouterr().out.split("What was read")[0].split()).partition(": most likely ")[2]
    out = tmp_path / "page.html"
    main(["page", str(LAYOUTS / "courtyard.yaml"), *visit, "-o", str(out)])
    text = out.read_text(encoding="utf-8").replace("&#39;", "'")
    assert f"Most likely {answer}" in text
    assert text.count('class="suspect-letter"') == 6


@pytest.mark.invariant
def test_the_chances_that_are_told_make_a_whole() -> None:
    suspects = tuple(suspect(chance, line="riser", start=0.0, stop=1.0, steps=(1,)) for chance in (0.4, 0.25, 0.1))
    found = Diagnosis(checked("courtyard").layout, (), (), (), False, True, (), 0.12, suspects, (), ())
    rows = suspect_rows(found, suspects[:2])
    assert [row[1] for row in rows] == ["40%", "25%", "12%", "23%"]
    assert [row[2] for row in rows][2:] == ["the file as written", "all others together"]


@pytest.mark.invariant
@pytest.mark.parametrize("first", ["main", "branch"])
def test_a_leak_at_a_tee_is_told_at_a_step_beside_it(first: str) -> None:
    """Whichever line the file has first: at the branch's first step, or at the one before the tee."""
    lines = {
        "main": "main: {pipe: pvc 25, from: lift, route: [{up: 1 m}, tee: t, {up: 0.5 m}, elbow, {east: 1 m}], to: bed}",
        "branch": "branch: {pipe: pvc 25, from: t, route: [{north: 1 m}, elbow, {up: 0.5 m}, elbow, {north: 1 m}], to: bed}",
    }
    order = sorted(lines, key=lambda name: name != first)
    layout = layout_of(
        "vessels: {tank: {base: 0 m, water: 0.8 m}, bed: {base: 1 m, water: 0.2 m}}\n"
        "pumps: {lift: {in: tank, curve: [[0 L/min, 4 m], [60 L/min, 1 m]]}}\n"
        "lines:\n  " + "\n  ".join(lines[name] for name in order) + "\n"
    )
    leak = next(one for one in causes_of(layout, find_flows(layout)) if one.kind == "leak" and one.leak == "t")
    assert (leak.line, leak.steps) == {"main": ("main", (1,)), "branch": ("branch", (1,))}[first]
