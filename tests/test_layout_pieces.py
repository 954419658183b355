"""What a layout is cut into and what goes with it: stretches, accesses, rods, limits, water, units, defaults."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from plumbline import catalogue
from plumbline.errors import LayoutError
from plumbline.layout import read_layout
from plumbline.layout.model import Layout
from plumbline.layout.pieces import accesses_of

ReadText = Callable[[str], Layout]
approx = pytest.approx

TEXT = """\
name: Cut
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}
pumps:
  lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
lines:
  riser:
    pipe: pvc 25
    from: lift
    route:
      [{up: 1 m}, cap: c1, {east: 0.5 m}, union: u1, {east: 0.5 m}, tee: t, {up: 0.4 m, pipe: pvc 20}, cap: c2]
    to: bed
  spur: {pipe: pvc 32, from: t, route: [{east: 0.3 m}], to: open air}
  drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 1 m}], to: tank}
"""


@pytest.mark.second_method
def test_stretches_run_between_neighbouring_ends_tees_and_accesses(read_text: ReadText) -> None:
    layout = read_text(TEXT)
    assert [(s.id, s.tail, s.head) for s in layout.stretches] == [
        ("riser.1", "lift.out", "c1"),
        ("riser.2", "c1", "u1"),
        ("riser.3", "u1", "t"),
        ("riser.4", "t", "c2"),
        ("riser.5", "c2", "riser.to"),
        ("spur.1", "t", "spur.to"),
        ("drain.1", "drain.from", "drain.to"),
    ]
    assert [s.length for s in layout.stretches] == approx([1.0, 0.5, 0.5, 0.4, 0.0, 0.3, 1.0])


@pytest.mark.invariant
def test_stretches_cover_each_line_once_and_keep_every_part_but_tees(read_text: ReadText) -> None:
    layout = read_text(TEXT)
    for line in layout.lines.values():
        pieces = [s for s in layout.stretches if s.line == line.name]
        assert pieces[0].start == 0.0
        assert pieces[-1].stop == approx(line.length)
        assert [s.stop for s in pieces[:-1]] == [s.start for s in pieces[1:]]
        parts = [part for s in pieces for part in s.parts]
        assert parts == [part for part in line.parts if part.kind not in ("tee", "wye")]
        for s in pieces:
            assert sum(part.length for part in s.parts) == approx(s.length)


@pytest.mark.second_method
def test_a_cap_or_union_goes_with_the_stretch_before_it(read_text: ReadText) -> None:
    layout = read_text(TEXT)
    ends = [s.parts[-1].kind for s in layout.stretches if s.line == "riser" and s.parts]
    assert ends == ["cap", "union", "run", "cap"]


@pytest.mark.second_method
def test_a_stretch_has_the_bore_of_its_longest_part_or_of_what_is_before_it(read_text: ReadText) -> None:
    layout = read_text(TEXT)
    bores = {s.id: round(s.bore * 1000, 1) for s in layout.stretches}
    assert bores == {
        "riser.1": 21.2,
        "riser.2": 21.2,
        "riser.3": 21.2,
        "riser.4": 17.0,
        "riser.5": 17.0,
        "spur.1": 27.2,
        "drain.1": 42.6,
    }


@pytest.mark.second_method
def test_accesses(read_text: ReadText) -> None:
    """Caps, unions, open ends, and vessel ends within an arm's reach (0.6 m) of the rim: not the drain's at 0.2 m of
    1 m."""
    layout = read_text(TEXT)
    assert [(a.id, a.kind, a.line, a.step, round(a.at, 9)) for a in layout.accesses] == [
        ("c1", "cap", "riser", 2, 1.0),
        ("u1", "union", "riser", 4, 1.5),
        ("c2", "cap", "riser", 8, 2.4),
        ("riser.to", "vessel", "riser", 9, 2.4),
        ("spur.to", "open end", "spur", 2, 0.3),
        ("drain.from", "vessel", "drain", 0, 0.0),
    ]
    faces = {a.id: a.faces for a in layout.accesses}
    assert faces["c1"] == approx((0.0, 0.0, 1.0))
    assert faces["u1"] is None
    assert faces["spur.to"] == approx((1.0, 0.0, 0.0))
    assert faces["drain.from"] == approx((0.0, 0.0, 1.0))
    assert {a.id: round(a.bore * 1000, 1) for a in layout.accesses}["drain.from"] == 42.6


@pytest.mark.invariant
def test_the_arm_reaches_as_far_as_the_file_says(read_text: ReadText) -> None:
    assert "drain.to" not in [a.id for a in read_text(TEXT).accesses]
    assert "drain.to" in [a.id for a in read_text(TEXT + "limits: {arm reach: 80 cm}\n").accesses]


@pytest.mark.second_method
def test_without_a_rim_the_arm_reaches_from_the_water(read_text: ReadText) -> None:
    layout = read_text(TEXT.replace("rim: 1 m, ", ""))
    assert "drain.to" in [a.id for a in layout.accesses]
    assert "drain.to" not in [a.id for a in accesses_of(layout.lines, layout.vessels, 0.5)]


# ---------------------------------------------------------------------- rods, limits, water


@pytest.mark.second_method
def test_rods_of_the_file_stand_in_for_the_usual_ones(read_text: ReadText) -> None:
    usual = [row.name for row in catalogue.rods().values() if row.default]
    assert [rod.name for rod in read_text(TEXT).rods] == usual
    text = TEXT + "rods: {snake: {length: 16 ft, bends up to: 90 deg, turns in all: 270 deg, bores: 1 in to 4 in}}\n"
    (rod,) = read_text(text).rods
    assert (rod.name, rod.length) == ("snake", approx(4.8768))
    assert (rod.bend, rod.turns) == (approx(1.5707963), approx(4.7123890))
    assert (rod.bore_min, rod.bore_max) == (approx(0.0254), approx(0.1016))


@pytest.mark.second_method
def test_the_unit_of_two_bores_may_stand_once(read_text: ReadText) -> None:
    text = "rods: {brush: {length: 1 m, bends up to: 0 deg, turns in all: 0 deg, bores: 20 to 55 mm}}\n"
    assert read_text(TEXT + text).rods[0].bore_min == approx(0.02)


@pytest.mark.second_method
def test_limits_of_the_file_stand_over_the_catalogues(read_text: ReadText) -> None:
    usual = {name: row.value for name, row in catalogue.limits().items()}
    assert dict(read_text(TEXT).limits) == usual
    text = TEXT + "limits: {dead leg: 4, sharp bend: 30 deg, hand room: 12 in, margin: 20 %, scour speed: 2 ft/s}\n"
    limits = read_text(text).limits
    assert {name for name in usual if limits[name] != usual[name]} == {
        "dead leg",
        "sharp bend",
        "hand room",
        "margin",
        "scour speed",
    }
    assert limits["sharp bend"] == approx(0.5235988)
    assert limits["hand room"] == approx(0.3048)
    assert limits["margin"] == approx(0.2)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("text", "density", "viscosity"),
    [
        ("20 degC", 998.207, 1001.6e-6),
        ("68 degF", 998.207, 1001.6e-6),
        ("{temperature: 25 degC}", 997.048, 890.0e-6),
        ("{density: 998 kg/m^3, viscosity: 1.002e-3 Pa s}", 998.0, 1.002e-3),
        ("{temperature: 20 degC, density: 1000 kg/m^3}", 1000.0, 1001.6e-6),
        (None, 998.207, 1001.6e-6),
    ],
)
def test_water(read_text: ReadText, text: str | None, density: float, viscosity: float) -> None:
    """IAPWS-95 with R12-08 at 1 atm by the general library `iapws` 1.5.5; left out, water at 20 °C."""
    water = read_text(TEXT + (f"water: {text}\n" if text else "")).water
    assert water.density == approx(density, abs=6e-4)
    assert water.viscosity == approx(viscosity, abs=6e-8)


# ---------------------------------------------------------------------- the whole


@pytest.mark.pinned
def test_what_was_left_out_is_listed(read_text: ReadText) -> None:
    told = {(default.where, default.what) for default in read_text(TEXT).defaults}
    assert ("water", "20 °C") in told
    assert ("pump 'lift'", "its outlet at the vessel's floor") in told
    assert ("cap 'c1' in line 'riser'", "it faces up") in told
    full = read_text(TEXT + "water: 22 degC\n").defaults
    assert "water" not in {default.where for default in full}


@pytest.mark.pinned
def test_a_layout_without_a_name_has_its_files(tmp_path: Path) -> None:
    path = tmp_path / "back yard.yaml"
    path.write_text(TEXT.removeprefix("name: Cut\n"))
    layout = read_layout(path)
    assert (layout.name, layout.path) == ("back yard", str(path))
    assert layout.text == path.read_text()


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("text", "length", "flow"),
    [
        ("{up: 1 m}, elbow, {east: 3 ft}, elbow, {up: 2 m}", "m", "L/min"),
        ("{up: 1 ft}, elbow, {east: 3 ft 2 in}, elbow, {up: 2 m}", "ft", "gal/min"),
        ("{up: 1 in}, elbow, {east: 30 mm}", "m", "L/min"),
    ],
)
def test_answers_come_in_the_files_own_habit(read_text: ReadText, text: str, length: str, flow: str) -> None:
    units = read_text(f"lines: {{a: {{pipe: pvc 25, from: open air, route: [{text}], to: cap}}}}").units
    assert (units.length, units.flow) == (length, flow)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("draws", "flow"),
    [("2 gpm", "gal/min"), ("100 L/h", "L/h"), ("1 m3/h", "m^3/h"), ("2 imperial_gallon/min", "L/min")],
)
def test_flows_are_shown_in_the_commonest_unit(read_text: ReadText, draws: str, flow: str) -> None:
    text = f"lines: {{a: {{pipe: pvc 25, from: open air, route: [{{up: 1 m}}], to: {{draws: {draws}}}}}}}"
    assert read_text(text).units.flow == flow


@pytest.mark.invariant
def test_what_is_read_cannot_be_changed(read_text: ReadText) -> None:
    layout = read_text(TEXT)
    with pytest.raises(AttributeError):
        layout.name = "other"  # type: ignore[misc]


def long_text(steps: int) -> str:
    """A layout with that many steps in its one route."""
    route = "".join("      - {east: 0.5 m, down: 2 mm}\n      - union\n" for _ in range(steps // 2))
    return f"lines:\n  a:\n    pipe: pvc 25\n    from: open air\n    route:\n{route}    to: cap\n"


@pytest.mark.invariant
def test_a_layout_in_everyday_units_does_not_load_pint(tmp_path: Path) -> None:
    path = tmp_path / "layout.yaml"
    path.write_text(TEXT)
    code = (
        "import sys; from plumbline.layout import read_layout; read_layout(sys.argv[1]); "
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code, str(path)], check=False).returncode == 0


@pytest.mark.invariant
def test_a_file_of_a_thousand_steps_is_no_trouble(tmp_path: Path) -> None:
    path = tmp_path / "layout.yaml"
    path.write_text(long_text(1_000))
    assert len(read_layout(path).stretches) == 501


@pytest.mark.pinned
def test_one_fault_is_called_one(tmp_path: Path) -> None:
    path = tmp_path / "layout.yaml"
    path.write_text(TEXT.replace("up: 1 m", "up: 1"))
    with pytest.raises(LayoutError, match=r"\n\n1 fault; nothing was checked\.$"):
        read_layout(path)
