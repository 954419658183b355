"""What the flows are said to mean: each finding of the pumped side appears where its rule holds, and not otherwise."""

from __future__ import annotations

import pytest
from conftest import ReadText

from plumbline import catalogue
from plumbline.check import CheckResult, check
from plumbline.findings import Finding
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.judge import judge
from plumbline.layout import layout_of

SYSTEM = """
water: 20 degC
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2, wants: WANTS}
pumps:
  lift: {in: tank, height: 0.1 m, curve: CURVE}
lines:
  riser:
    pipe: {bore: 20 mm, material: pvc}
    from: lift
    route: [{up: 1.3 m}, sweep, {east: 2 m}, EXTRA]
    to: bed
  drain:
    pipe: {bore: DRAIN mm, material: pvc}
    from: {vessel: bed, standpipe: 0.2 m}
    route: [{down: 0.2 m}, VALVE, {down: 0.8 m}]
    to: tank
"""
CURVE = "[[0 L/min, 3 m], [20 L/min, 2.2 m], [40 L/min, 0.4 m]]"


def system(
    wants: str = "10 L/min", curve: str = CURVE, extra: str = "union", drain: str = "40", valve: str = "union"
) -> str:
    text = SYSTEM.replace("WANTS", wants).replace("CURVE", curve).replace("EXTRA", extra)
    return text.replace("DRAIN", drain).replace("VALVE", valve)


def of_kind(result: CheckResult, kind: str) -> list[Finding]:
    return [finding for finding in result.findings if finding.kind == kind]


@pytest.mark.some(5)
@pytest.mark.invariant
@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        (system(wants="60 L/min"), "too-little-water", "'bed' gets"),
        (system(wants="30 L/min"), "thin-margin", "a margin of"),
        (system(curve="[[0 L/min, 0.5 m], [40 L/min, 0.4 m]]", extra="check valve"), "pump-shut-off", "moves no water"),
        (system(curve="[[0 L/min, 3 m], [8 L/min, 2.9 m]]"), "pump-run-out", "beyond the last point"),
        (system(curve="[[35 L/min, 1 m], [40 L/min, 0.4 m]]"), "pump-below-first-point", "below the first point"),
        (system(curve="{highest head: 3 m, largest flow: 40 L/min}"), "assumed-curve", "is assumed"),
        (system(drain="8"), "overtops", "run over the rim"),
        (system(valve="ball valve: 0 %"), "no-way-out", "it overtops after"),
        (system(valve="ball valve: 0 %"), "not-returned", "pumped down"),
        (
            system().replace("  lift:", "  spare: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 0 m]]}\n  lift:"),
            "pump-idle",
            "feeds no line",
        ),
    ],
)
def test_a_finding_where_its_rule_holds(read_text: ReadText, text: str, kind: str, said: str) -> None:
    found = of_kind(check(read_text(text)), kind)
    assert len(found) == 1
    assert said in found[0].message
    assert found[0].cure
    assert found[0].level == catalogue.findings()[kind].level
    assert found[0].source == catalogue.findings()[kind].source


@pytest.mark.invariant
def test_a_sound_system_has_none_of_them(read_text: ReadText) -> None:
    kinds = {finding.kind for finding in check(read_text(system())).findings}
    assert not kinds & {
        "too-little-water",
        "thin-margin",
        "pump-shut-off",
        "pump-backwards",
        "pump-run-out",
        "pump-below-first-point",
        "pump-idle",
        "assumed-curve",
        "overtops",
        "no-way-out",
        "unbalanced",
        "not-returned",
        "held-back",
        "cut-off",
        "outside-range",
    }


@pytest.mark.invariant
def test_water_that_runs_back_through_the_pump(read_text: ReadText) -> None:
    """A submerged inlet above a weak pump: without a check valve the bed drains back through it."""
    text = system(curve="[[0 L/min, 0.3 m], [40 L/min, 0.1 m]]").replace("to: bed", "to: {vessel: bed, height: 0.4 m}")
    text = text.replace("rim: 0.3 m, water: 0.2 m", "rim: 0.6 m, water: 0.5 m").replace(
        "standpipe: 0.2 m", "standpipe: 0.5 m"
    )
    text = text.replace("water: 0.8 m, area: 1 m^2", "water: 0.8 m, area: 2 m^2")
    # It does so until the bed is down to the lower edge of the pipe's mouth, and the tank has what it lost.
    result = check(read_text(text))
    assert len(of_kind(result, "pump-shut-off")) == 1
    assert result.flows.vessels["bed"].level == pytest.approx(1.39, abs=1e-6)
    assert result.flows.vessels["tank"].level == pytest.approx(0.8 + 0.11, abs=1e-6)
    # Between waters that stay where they are it goes on for ever.
    held = text.replace("water: 0.8 m, area: 2 m^2", "water: 0.8 m").replace(
        "water: 0.5 m, area: 2 m^2", "water: 0.5 m"
    )
    assert len(of_kind(check(read_text(held)), "pump-backwards")) == 1


@pytest.mark.invariant
def test_the_shortage_sets_the_weight(read_text: ReadText) -> None:
    little, much = (of_kind(check(read_text(system(wants=w))), "too-little-water")[0] for w in ("35 L/min", "70 L/min"))
    assert 0.0 < little.weight < much.weight < 0.5


@pytest.mark.invariant
def test_a_margin_of_your_own(read_text: ReadText) -> None:
    text = system(wants="30 L/min")
    assert of_kind(check(read_text(text)), "thin-margin")
    own = "limits: {margin: 1 %}\n"
    # 4 % to spare is enough by that, but not enough to be sure of, as long as the numbers are no better known.
    (doubt,) = of_kind(check(read_text(text + own)), "thin-margin")
    assert "not enough to be sure of it" in doubt.message
    known = "how sure: {pump curve: 1 %, friction: 1 %, roughness: 1 %, K: 1 %, bore: 0.1 %, heights: 1 mm, water levels: 1 mm}\n"
    assert not of_kind(check(read_text(text + own + known)), "thin-margin")


@pytest.mark.invariant
def test_cut_off_pipe_is_told_once_a_line(read_text: ReadText) -> None:
    text = (
        system(extra="union")
        + """
  dry:
    pipe: {bore: 20 mm}
    from: cap c1
    route: [{east: 1 m}, union, {east: 1 m}]
    to: cap c2
"""
    )
    found = of_kind(check(read_text(text)), "cut-off")
    assert [finding.line for finding in found] == ["dry"]


@pytest.mark.invariant
def test_a_bore_outside_the_source_is_told(read_text: ReadText) -> None:
    text = system().replace("bore: 20 mm", "bore: 8 mm")
    found = of_kind(check(read_text(text)), "outside-range")
    assert any("sweep" in finding.message for finding in found)


TOWER = """
vessels:
  sump: {holds: sump, base: 0 m, rim: 0.8 m, water: 0.6 m, area: 1 m^2}
  tank: {holds: fish, base: 0.3 m, rim: 1 m, water: 0.8 m, area: 1 m^2}
  tower: {holds: plants, base: 1.5 m, rim: 1.5 m, water: 0 m, area: 0.1 m^2}
pumps: {lift: {in: sump, curve: [[0 L/min, 4 m], [60 L/min, 1 m]]}}
lines:
  main: {pipe: pvc 32, from: lift, route: [{up: 1 m}, tee: t, {up: 0.3 m}, ball valve: 30 %, elbow, {east: 1 m}], to: tank}
  to tower: {pipe: pvc 20, from: t, route: [{north: 1 m}, elbow, {up: TOP}, ball valve: VALVE, {up: 0.1 m}, elbow, {north: 0.2 m}], to: tower}
  back: {pipe: dwv 75, from: {vessel: tank, standpipe: 0.8 m}, route: [{down: 1 m}], to: sump}
  drain: {pipe: dwv 50, from: {vessel: tower, height: 0 m}, route: [{down: 1 m}], to: sump}
"""


def without_water_told(read_text: ReadText, top: str, valve: str = "open", extra: str = "") -> list[str]:
    layout = read_text(
        TOWER.replace("TOP", top).replace("VALVE", valve).replace("area: 0.1 m^2", f"area: 0.1 m^2{extra}")
    )
    return [one.vessel or "" for one in judge(layout, find_flows(layout)) if one.kind == "too-little-water"]


@pytest.mark.invariant
def test_plants_that_say_nothing_of_what_they_want_and_get_nothing_are_told(read_text: ReadText) -> None:
    """The tower's pipe goes higher than the pump lifts. Not told: a tower that gets some, one whose
    valve is shut, and, twice, one that says what it wants."""
    assert without_water_told(read_text, "3.2 m") == ["tower"]
    assert without_water_told(read_text, "1 m") == []
    assert without_water_told(read_text, "3.2 m", "shut") == []
    assert without_water_told(read_text, "3.2 m", "open", ", wants: 1 L/min") == ["tower"]


SUCKS_AIR = """
vessels:
  sump: {base: 0 m, rim: 0.9 m, water: 0.7 m, area: 1 m^2}
  tank: {holds: fish, base: 0.5 m, rim: 1.2 m, water: 1.05 m, area: 3 m^2, wants: 80 L/min}
pumps: {inline: {curve: [[0 L/h, 9 m], [4000 L/h, 7.5 m], [8000 L/h, 4 m], [10000 L/h, 1 m]]}}
lines:
  suction: {pipe: pvc 50, from: {vessel: sump, height: 0.15 m}, route: [{east: 0.6 m}], to: inline}
  pressure: {pipe: pvc 50, from: inline, route: [{up: 1.9 m}, elbow, {north: 1 m}, elbow, {down: 0.1 m}], to: tank}
  back:
    pipe: pvc 40
    from: {vessel: tank, overflow: 1.05 m}
    route: [{west: 1.6 m, fall: 1 in 80}, elbow, {south: 1 m, fall: 1 in 80}, elbow, {down: 0.7 m}]
    to: sump
"""
"""The tank fills until its narrow return takes all, and the sump goes down to where its port draws air."""


@pytest.mark.invariant
def test_a_suction_that_draws_air_wants_water_and_no_wider_pipe() -> None:
    (found,) = (one for one in check(layout_of(SUCKS_AIR)).findings if one.kind == "too-little-water")
    assert found.cure.startswith("more water in 'sump', or a wider way back to it")
    assert "air comes into 'suction'" in found.cure
    wide = SUCKS_AIR.replace("pvc 40", "pvc 90")
    assert not [one for one in check(layout_of(wide)).findings if one.kind == "too-little-water"]
