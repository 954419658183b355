"""Every layout in `layouts/` says at its top what to expect, and is held to it here; and what must not change the
flows of a layout, such as its units, its hand or the end from which a line is walked, does not.

No published values here: the known answers are statements about whole systems, so each is checked as a range or a
place, never by its digits.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
import yaml
from checks import checked
from test_day import POND
from water_days import DAYS

from plumbline import catalogue
from plumbline.check import CheckResult, check
from plumbline.cli import main
from plumbline.findings import Finding
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.flows import Flows
from plumbline.layout import read_layout

LAYOUTS = Path(__file__).parent.parent / "layouts"
LITRES_A_MINUTE = 60000.0


def recheck(text: str, folder: Path) -> CheckResult:
    """The check of a layout given as text."""
    path = folder / "changed.yaml"
    path.write_text(text, encoding="utf-8")
    return check(read_layout(path))


def flows_of(text: str, folder: Path) -> Flows:
    """The flows alone of a layout given as text."""
    path = folder / "changed.yaml"
    path.write_text(text, encoding="utf-8")
    return find_flows(read_layout(path), margins=False)


def text_of(name: str) -> str:
    return (LAYOUTS / name).read_text(encoding="utf-8")


def swap(text: str, *pairs: tuple[str, str]) -> str:
    """Change a text in places that must each be there just once."""
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


@dataclass(frozen=True)
class Known:
    """What the comment at the top of a layout says. `points` and `cleanable` are (least, most); `said` are (kind, line)
    pairs that must be found, line None for anywhere; `margins` the spare or missing share of what a vessel wants;
    `pumps` flows [L/min]."""

    verdict: str
    points: tuple[float, float]
    cleanable: tuple[float, float]
    said: tuple[tuple[str, str | None], ...] = ()
    margins: Mapping[str, tuple[float, float]] | None = None
    pumps: Mapping[str, tuple[float, float]] | None = None


TERRACE_BEDS = (
    "basil",
    "parsley",
    "thyme",
    "lettuce",
    "rocket",
    "chard",
    "beans",
    "peas",
    "cucumbers",
    "tomatoes",
    "peppers",
    "aubergines",
)
RING_BEDS = ("leeks", "chard", "cress", "beans", "mint")
ALL = (0.9999, 1.0)

KNOWN = {
    "courtyard.yaml": Known(
        "ok", (95, 100), ALL, margins={"north bed": (0.1, 0.3), "south bed": (0.1, 0.3)}, pumps={"lift": (37, 41)}
    ),
    "tangle.yaml": Known(
        "fail",
        (40, 50),
        (0.3, 0.8),
        said=(
            ("overtops", "herb drain"),
            ("too-little-water", "tomato feed"),
            ("thin-margin", "lettuce feed"),
            ("held-back", "spare overflow"),
            ("too-little-water", "main"),
            ("dead-leg", "old bed feed"),
            ("cut-off", "old bed feed"),
            ("low-point", "overflow"),
            ("hump", "filter return"),
            ("blind-access", "tomato feed"),
            ("unreachable", "tomato drain"),
            ("unreachable", "lettuce feed"),
            ("turning", "overflow"),
            ("turning", "tomato feed"),
            ("slow-flow", "overflow"),
            ("slow-flow", "filter return"),
            ("sharp-bend", "tomato feed"),
            ("sharp-bend", "main"),
        ),
        margins={
            "tomato bed": (-0.25, -0.12),
            "lettuce bed": (0.0, 0.1),
            "herb trough": (1.8, 2.6),
            "fish tank": (-0.25, -0.1),
        },
        pumps={"pond pump": (37, 43)},
    ),
    "call_outs.yaml": Known(
        "fail",
        (0, 10),
        (0.3, 0.9),
        said=(
            ("pump-shut-off", "attic riser"),
            ("pump-backwards", "old riser"),
            ("pump-run-out", "filter feed"),
            ("pump-below-first-point", "tray feed"),
            ("outside-range", "tray feed"),
            ("assumed-curve", "new bed feed"),
            ("no-way-out", None),
            ("not-returned", None),
            ("pump-idle", None),
            ("cannot-fill", "arch feed"),
            ("level-drops", None),
            ("runs-away", "ditch drain"),
            ("back-fall", "tray drain"),
            ("thin-drain", None),
        ),
        margins={"attic tank": (-1, -1)},
        pumps={"fountain pump": (0, 0), "old pump": (-6, -2), "stream pump": (80, 100), "dosing pump": (8, 10)},
    ),
    "ring_main.yaml": Known(
        "attention",
        (90, 98),
        ALL,
        said=(("slow-flow", "north half"), ("slow-flow", "south half")),
        margins=dict.fromkeys(RING_BEDS, (0.18, 0.28)),
        pumps={"west pump": (42, 46), "east pump": (42, 46)},
    ),
    "nursery.yaml": Known(
        "fail",
        (70, 82),
        (0.95, 0.97),
        said=(("current-too-fast", "feed"), ("current-too-slow", "long feed")),
        margins={"nursery": (0.9, 1.1), "rearing tank": (0.2, 0.6)},
        pumps={"lift": (18, 22), "second lift": (18, 24)},
    ),
    "round_tank.yaml": Known("ok", (95, 100), ALL, margins={"round tank": (0.3, 0.5)}, pumps={"lift": (26, 30)}),
    "hose_and_barbs.yaml": Known(
        "attention",
        (60, 80),
        (0.6, 0.75),
        said=(("slow-flow", "by-pass line"),),
        margins={"bed": (1.5, 1.9)},
        pumps={"pump": (29, 33)},
    ),
    "settler.yaml": Known(
        "attention",
        (94, 98),
        ALL,
        said=(("algae", "feed"), ("turning", "settled")),
        margins={"tank": (0.6, 0.9)},
        pumps={"lift": (50, 56)},
    ),
    "outside_chamber.yaml": Known(
        "attention",
        (70, 76),
        (0.4, 0.5),
        said=(("floods-when-opened", "bottom drain"), ("unreachable", "bottom drain")),
        margins={"round tank": (0.75, 0.95)},
        pumps={"pump": (105, 115)},
    ),
    "filter_line.yaml": Known(
        "attention",
        (65, 80),
        (0.05, 0.2),
        said=(("unreachable", "suction"),),
        margins={"raft": (1.8, 2.2)},
        pumps={"pump": (85, 95)},
    ),
    "towers.yaml": Known(
        "ok", (97, 100), ALL, margins={"gutter": (0.15, 0.33), "tank": (0.2, 0.5)}, pumps={"lift": (11, 14)}
    ),
    "five_kilos.yaml": Known(
        "ok",
        (97, 100),
        ALL,
        margins={"fish tank": (0.15, 0.25), "raft bed": (0.15, 0.25)},
        pumps={"return pump": (17, 19)},
    ),
    "gallons.yaml": Known(
        "ok", (95, 100), ALL, margins={"porch bed": (0.15, 0.25), "rail planter": (0.4, 0.55)}, pumps={"pump": (26, 29)}
    ),
    "overflow.yaml": Known("ok", (95, 100), ALL, margins={"fish tank": (0.25, 0.33)}, pumps={"return pump": (43, 47)}),
    "terraces.yaml": Known(
        "ok", (95, 100), ALL, margins=dict.fromkeys(TERRACE_BEDS, (0.1, 0.21)), pumps={"hill pump": (175, 185)}
    ),
    "marginal_pump.yaml": Known(
        "attention",
        (95, 99),
        ALL,
        said=(("thin-margin", "riser"), ("pump-idle", None), ("no-solids-filter", None)),
        margins={"bench bed": (0.02, 0.08)},
        pumps={"old pump": (20, 22)},
    ),
    "bubbler.yaml": Known(
        "ok",
        (99, 100),
        ALL,
        said=(("airlift-curve", "over"),),
        margins={"raft": (0.5, 0.7)},
        pumps={"bubbler": (18, 20)},
    ),
    "overblown.yaml": Known(
        "attention",
        (95, 98),
        ALL,
        said=(("too-much-air", "over"), ("airlift-curve", "over")),
        margins={"raft": (0.8, 1.0)},
        pumps={"blower": (14.5, 16)},
    ),
    "low_cap.yaml": Known(
        "fail",
        (55, 64),
        (0.4, 0.6),
        said=(("overtops", None), ("floods-when-opened", "bottom")),
        pumps={"pump": (44, 48)},
    ),
    "hill_pond.yaml": Known(
        "fail",
        (50, 62),
        (0.2, 0.4),
        said=(("suction-lift", "suction"), ("under-pressure", "rising main"), ("code-upper-end", "pool overflow")),
        margins={"pool": (0.5, 0.75)},
        pumps={"bank pump": (30, 35)},
    ),
    "siphon.yaml": Known(
        "fail",
        (5, 40),
        ALL,
        said=(
            ("siphons-back", "feed"),
            ("power-cut-overtops", "feed"),
            ("fish-left-shallow", "feed"),
            ("intake-uncovered", None),
        ),
        margins={"fish tank": (0.5, 0.6)},
        pumps={"sump pump": (45, 46.5)},
    ),
    "orchard.yaml": Known(
        "attention",
        (10, 45),
        (0.05, 0.15),
        said=(
            ("settles-off", "riser"),
            ("slow-flow", "nursery feed"),
            ("old-water", "nursery feed"),
            ("code-spacing", "nursery drain"),
            ("code-turns", "nursery drain"),
            ("code-size", "small eye"),
            ("code-clearance", "bed drain"),
        ),
        margins={"bed": (0.2, 0.35), "nursery": (0.05, 0.2)},
        pumps={"day pump": (34, 38)},
    ),
    "unbalanced.yaml": Known(
        "fail",
        (35, 50),
        ALL,
        said=(("too-little-water", "rocket feed"), ("held-back", "manifold")),
        margins={"strawberries": (1.2, 1.4), "spinach": (0.6, 0.9), "rocket": (-0.15, 0), "cress": (-1, -1)},
        pumps={"pump": (53, 57)},
    ),
    "bypass.yaml": Known(
        "attention",
        (93, 97),
        ALL,
        said=(("unfiltered-path", "side drain"), ("filter-overloaded", "tank overflow")),
        margins={"fish tank": (0.13, 0.25), "raft bed": (0.2, 0.35), "herb bed": (0.28, 0.4)},
        pumps={"return pump": (55, 60)},
    ),
    "siphon_bed.yaml": Known("ok", (95, 100), ALL, pumps={"lift": (15.5, 17.5)}),
    "indexing_valve.yaml": Known(
        "attention",
        (60, 99),
        (0.85, 0.92),
        margins={f"bed {n}": (0.9, 1.1) for n in range(1, 7)},
        pumps={"lift": (38, 40)},
    ),
    "timer_bed.yaml": Known("ok", (95, 100), ALL, pumps={"lift": (29, 33)}),
    "troughs.yaml": Known(
        "ok",
        (95, 100),
        ALL,
        margins=dict.fromkeys(("first", "second", "third", "fourth"), (0.6, 0.8)),
        pumps={"lift": (41, 44)},
    ),
    "wrong_way_round.yaml": Known(
        "attention",
        (94, 97),
        ALL,
        said=(("filter-after-plants", "riser"),),
        margins={"bed": (0.5, 0.7)},
        pumps={"lift": (30, 34)},
    ),
}

LONGEST = "indexing_valve.yaml"
"""Its day has six turns, so that its check takes as long as those of all others."""

QUICK = [name for name in KNOWN if name != LONGEST]
EACH = [*QUICK, pytest.param(LONGEST, marks=pytest.mark.slow)]


@pytest.mark.pinned
def test_every_layout_is_held_to_something_and_says_what() -> None:
    assert {path.name for path in LAYOUTS.glob("*.yaml")} == set(KNOWN)
    for name, known in KNOWN.items():
        above = text_of(name).split("name:")[0]
        assert all(line.startswith("#") for line in above.splitlines()), name
        assert f"# Expect: {known.verdict}, " in above, name


@pytest.mark.pinned
@pytest.mark.slow
@pytest.mark.parametrize("name", EACH)
def test_verdict_score_and_cleanable_share_are_as_said(name: str) -> None:
    result, known = checked(name), KNOWN[name]
    assert result.verdict == known.verdict
    assert known.points[0] <= result.score.points <= known.points[1]
    assert known.cleanable[0] <= result.upkeep.cleanable_fraction <= known.cleanable[1]


@pytest.mark.few
@pytest.mark.pinned
@pytest.mark.parametrize("name", EACH)
def test_water_and_pumps_are_as_said(name: str) -> None:
    result, known = checked(name), KNOWN[name]
    for vessel, (least, most) in (known.margins or {}).items():
        got = result.flows.vessels[vessel]
        assert got.wanted is not None
        assert least <= got.inflow / got.wanted - 1 <= most, vessel
    for pump, (least, most) in (known.pumps or {}).items():
        assert least <= result.flows.pumps[pump].flow * LITRES_A_MINUTE <= most, pump


@pytest.mark.pinned
@pytest.mark.parametrize("name", EACH)
def test_what_is_said_is_found_where_it_is_said(name: str) -> None:
    found = {(one.kind, one.line) for one in checked(name).findings}
    found |= {(kind, None) for kind, _ in found}
    assert set(KNOWN[name].said) <= found


@pytest.mark.invariant
@pytest.mark.parametrize("name", [name for name in QUICK if KNOWN[name].verdict == "ok"])
def test_a_sound_layout_has_no_more_than_advice(name: str) -> None:
    assert [one for one in checked(name).findings if one.level != "advice"] == []


@pytest.mark.invariant
@pytest.mark.parametrize("name", EACH)
def test_the_equations_are_satisfied(name: str) -> None:
    flows = checked(name).flows
    largest = max(abs(one.flow) for one in flows.stretches.values())
    assert flows.mass_residual <= 1e-9 * largest
    assert flows.head_residual <= 1e-6


# ---------------------------------------------------------------------- all kinds of finding together


VALVE = """
vessels:
  sump: {base: 0 m, rim: 0.9 m, water: 0.7 m, area: 0.9 m^2}
  bed: {base: 1 m, rim: 0.4 m, water: 0.1 m, area: 0.5 m^2}
pumps: {lift: {in: sump, curve: [[0 L/min, 4 m], [60 L/min, 1 m]], RUNS}}
lines:
  riser: {pipe: pvc 32, from: lift, route: [{up: 1.5 m}, elbow, {east: 0.8 m}], to: {indexing valve: turner, outlets: 2}}
  feed: {pipe: pvc 25, from: turner 1, route: [{north: 1 m}], to: bed}
  drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.6 m}], to: sump}
"""

SMALL = {
    "unbalanced": swap(
        POND,
        (" rim: 1 m,", ""),
        (" rim: 0.4 m,", ""),
        ("RUNS", ""),
        (
            "lines:\n",
            "lines:\n  tap: {pipe: pvc 20, from: {draws: -3 L/min, height: 1 m}, route: [{down: 0.1 m}], to: sump}\n",
        ),
    ),
    "drain-full": swap(
        POND,
        ("RUNS", ""),
        (
            "pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.6 m}]",
            "pvc 32, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.2 m}, sweep, {east: 6 m, down: 10 mm}, sweep, {down: 0.2 m}]",
        ),
    ),
    "hot-pipe": swap(POND, ("RUNS", ""), ("route: [{down: 0.6 m}]", "route: [{down: 0.6 m, hot: 60 degC}]")),
    "pump-starts-often": POND.replace("RUNS", ", runs: {on: 2 min, off: 2 min}"),
    "switch-never-trips": POND.replace("RUNS", ", switch: {vessel: sump, on above: 0.9 m, off below: 0.2 m}"),
    "bed-does-not-drain": swap(
        POND, ("RUNS", ", runs: {on: 15 min, off: 45 min}"), ("bed: {base", "bed: {holds: plants, base")
    ),
    "bed-stays-wet": swap(
        POND,
        ("RUNS", ", runs: {on: 2 h, off: 1 h}"),
        (
            "lines:\n",
            "lines:\n  foot: {pipe: {bore: 10 mm, material: pvc}, from: bed, route: [{down: 0.1 m}], to: sump}\n",
        ),
    ),
    "valve-never-turns": VALVE.replace(", RUNS", ""),
    "valve-turn-lost": VALVE.replace("RUNS", "runs: {on: 5 min, off: 5 min}"),
    "siphon-in-doubt": next(day.text for day in DAYS if day.name == "a siphon bed on a steady supply").replace(
        "-12", "-4.3"
    ),
    "siphon-trickles": next(day.text for day in DAYS if day.name == "a siphon that trickles on"),
    "siphon-runs-on": next(day.text for day in DAYS if day.name == "a siphon that runs on"),
    "sump-runs-dry": next(day.text for day in DAYS if day.name == "a sump too small for its bed"),
    "day-overtops": next(day.text for day in DAYS if day.name == "a float valve that sees the low sump of the flood"),
}
"""Kinds that no layout of the folder has, each with a small one that has it: most are of a day gone wrong."""


@cache
def of_kind(kind: str) -> tuple[Finding, ...]:
    """All findings of a kind, in the layouts of the folder or in its small one."""
    found = [one for name in QUICK for one in checked(name).findings if one.kind == kind]
    if kind in SMALL:
        assert not found, "a layout of the folder has it, too"
        with tempfile.TemporaryDirectory() as folder:
            found = [one for one in recheck(SMALL[kind], Path(folder)).findings if one.kind == kind]
    return tuple(found)


@pytest.mark.invariant
@pytest.mark.parametrize("kind", catalogue.findings())
def test_every_kind_of_finding_occurs(kind: str) -> None:
    assert of_kind(kind)


@pytest.mark.invariant
def test_no_finding_is_of_another_kind() -> None:
    assert {one.kind for name in QUICK for one in checked(name).findings} <= set(catalogue.findings())


@pytest.mark.slow(9)
@pytest.mark.invariant
def test_what_takes_longest_to_check_has_no_kind_of_its_own() -> None:
    assert {one.kind for one in checked(LONGEST).findings} <= set(catalogue.findings()) - SMALL.keys()


THINGS = re.compile(
    r"'[^']+'|\b(cap|capped tee|elbow|sweep|bends?|valve|union|pipe|pump|rod|brush|drain|vent|lines?|standpipe|port|"
    r"curve|bore|bucket|far end|K|Kv)\b"
)
MUSING = ("see ", "find ", "look ", "check ", "think ", "consider ")


@pytest.mark.invariant
@pytest.mark.parametrize("kind", catalogue.findings())
def test_some_cure_of_each_kind_is_concrete(kind: str) -> None:
    """It names a thing of the layout or a part, and is not just a wish to know more."""
    cures = {one.cure for one in of_kind(kind)}
    assert any(THINGS.search(cure) and not cure.lower().startswith(MUSING) for cure in cures), cures


# ---------------------------------------------------------------------- the stories in the comments


@pytest.mark.invariant
def test_the_cure_in_the_tangle_cures_it(tmp_path: Path) -> None:
    cured = swap(
        text_of("tangle.yaml"),
        ("  main:\n    pipe: pvc 25", "  main:\n    pipe: pvc 32"),
        ("  tomato feed:\n    pipe: pvc 20", "  tomato feed:\n    pipe: pvc 25"),
        ("pipe: hose 13 mm", "pipe: pvc 25"),
        ("ball valve: herb valve", "ball valve: {id: herb valve, opening: 45 %}"),
    )
    result = recheck(cured, tmp_path)
    assert result.verdict == "attention"
    assert not {"too-little-water", "thin-margin", "overtops"} & {one.kind for one in result.findings}
    assert result.score.points > checked("tangle.yaml").score.points


@pytest.mark.pinned
def test_the_ring_feeds_every_bed_from_one_pump(tmp_path: Path) -> None:
    text = text_of("ring_main.yaml")
    start = text.index("  south half:")
    stopped = text[start:].replace("- check valve", "- ball valve: {opening: 0}", 1)
    flows = flows_of(text[:start] + stopped, tmp_path)
    assert flows.pumps["east pump"].flow == 0.0
    for bed in RING_BEDS:
        wanted = flows.vessels[bed].wanted
        assert wanted is not None
        assert 0.6 < flows.vessels[bed].inflow / wanted < 0.8, bed


@pytest.mark.slow(1)
@pytest.mark.pinned
def test_the_chain_overtops_where_its_first_drain_is_too_small(tmp_path: Path) -> None:
    text = swap(text_of("overflow.yaml"), ("  tank overflow:\n    pipe: pvc 63", "  tank overflow:\n    pipe: pvc 32"))
    fails = {one.kind for one in recheck(text, tmp_path).findings if one.level == "fail"}
    # The sump has not enough for the fish tank to come up to its rim; with 320 L more it has.
    assert "sump-runs-dry" in fails
    assert "overtops" not in fails
    more = swap(text, ("rim: 0.75 m, water: 0.45 m", "rim: 0.75 m, water: 0.65 m"))
    fails_of = {(one.kind, one.line) for one in recheck(more, tmp_path).findings if one.level == "fail"}
    assert ("overtops", "tank overflow") in fails_of


@pytest.mark.pinned
def test_gallons_are_answered_in_feet_and_gallons(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(LAYOUTS / "gallons.yaml"), "--all"]) == 0
    said = capsys.readouterr().out
    assert re.search(r"\d gal/h", said)
    assert re.search(r"\d ft of head", said)
    assert not re.search(r"\d (m|mm|L|L/min|m/s)\b", said.split("Care")[0])


@pytest.mark.invariant
def test_the_terraces_are_large() -> None:
    layout = checked("terraces.yaml").layout
    assert sum(len(line.parts) for line in layout.lines.values()) >= 150
    assert sum(vessel.holds == "plants" for vessel in layout.vessels.values()) >= 10


# ---------------------------------------------------------------------- what changes nothing


def same_flows(one: Flows, other: Flows, rename: Callable[[str], str] = str, turned: str | None = None) -> None:
    """Compare the flows at all line ends, pumps and vessels, to one part in 10⁹ of the largest, and the heads at line
    ends. `rename` gives the names of the other, and `turned` is the line that it walks the other way."""
    scale = max(abs(end.flow) for end in one.ends.values())
    for name, end in one.ends.items():
        line, _, side = name.rpartition(".")
        sign = -1.0 if line == turned else 1.0
        there = f"{rename(line)}.{side if sign > 0 else {'from': 'to', 'to': 'from'}[side]}"
        assert other.ends[there].flow * sign == pytest.approx(end.flow, abs=1e-9 * scale, rel=0), name
        assert other.ends[there].head == pytest.approx(end.head, abs=1e-6, rel=0, nan_ok=True), name
    for name, pump in one.pumps.items():
        assert other.pumps[rename(name)].flow == pytest.approx(pump.flow, abs=1e-9 * scale, rel=0), name
    for name, vessel in one.vessels.items():
        assert other.vessels[rename(name)].inflow == pytest.approx(vessel.inflow, abs=1e-9 * scale, rel=0), name


def outside_pipe_names(text: str, change: Callable[[str], str]) -> str:
    """Change a text everywhere but in the names of pipes, whose sizes are names and not measures."""
    return re.sub(
        r"pipe: (?:pvc|hose) [^,}#\n]*|[^p]+|p",
        lambda found: found[0] if found[0].startswith("pipe:") else change(found[0]),
        text,
    )


FOOT, INCH, GALLON = 0.3048, 0.0254, 3.785411784
"""[m], [m] and [L], exact by definition; the US gallon is 231 in³."""

TO_FEET: dict[str, Callable[[float], str]] = {
    "m": lambda v: f"{v / FOOT!r} ft",
    "mm": lambda v: f"{v / (1000 * INCH)!r} in",
    "m^2": lambda v: f"{v / FOOT**2!r} ft^2",
    "L/min": lambda v: f"{v * 60 / GALLON!r} gal/h",
    "degC": lambda v: f"{v * 1.8 + 32!r} degF",
}

TO_METRES: dict[str, Callable[[float], str]] = {
    "ft": lambda v: f"{v * 1000 * FOOT!r} mm",
    "in": lambda v: f"{v * 100 * INCH!r} cm",
    "ft^2": lambda v: f"{v * FOOT**2!r} m^2",
    "gal/h": lambda v: f"{v * GALLON / 3600!r} L/s",
    "degF": lambda v: f"{(v - 32) / 1.8!r} degC",
}


def in_feet(text: str) -> str:
    number, unit = r"(-?\d+(?:\.\d+)?)", r"(m\^2|mm|m|L/min|degC)"
    return re.sub(rf"{number} {unit}(?![\w^/])", lambda got: TO_FEET[got[2]](float(got[1])), text)


def in_metres(text: str) -> str:
    number, unit = r"((?:\d+ )?\d+/\d+|\d+)", r"(ft\^2|ft|in|gal/h|degF)"

    def value(words: str) -> float:
        parts = (word.split("/") for word in words.split())
        return sum(float(part[0]) / float(part[-1] if len(part) > 1 else 1) for part in parts)

    text = re.sub(rf"(\d+) ft {number} in(?!\w)", lambda got: TO_METRES["in"](12 * float(got[1]) + value(got[2])), text)
    return re.sub(rf"{number} {unit}(?![\w^/])", lambda got: TO_METRES[got[2]](value(got[1])), text)


@pytest.mark.invariant
@pytest.mark.parametrize(("name", "convert"), [("courtyard.yaml", in_feet), ("gallons.yaml", in_metres)])
def test_the_units_of_the_file_change_no_flow(name: str, convert: Callable[[str], str], tmp_path: Path) -> None:
    converted = outside_pipe_names(text_of(name), convert)
    measures = re.sub(r"pipe: [^,}\n]*", "", yaml.safe_dump(yaml.safe_load(converted)))
    left = r"\d (m|mm|m\^2|L/min|degC)\b" if convert is in_feet else r"\d (ft|in|gal/h|degF)\b"
    assert not re.search(left, measures)
    same_flows(checked(name).flows, flows_of(converted, tmp_path))


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("name", EACH)
def test_the_mirror_image_has_the_same_flows(name: str, tmp_path: Path) -> None:
    swapped = {"east": "west", "west": "east"}

    def mirror(text: str) -> str:
        return re.sub(r"\b(east|west)\b", lambda found: swapped[found[0]], text)

    # Names that hold "east" or "west" are swapped along with the directions, so they are compared so too.
    same_flows(checked(name).flows, flows_of(mirror(text_of(name)), tmp_path), rename=mirror)


OPPOSITE = {"up": "down", "down": "up", "north": "south", "south": "north", "east": "west", "west": "east"}


def walked_back(name: str, result: CheckResult, line: str) -> str:
    """The text of a layout with a line walked from its other end; both ends in vessels keep their heights."""
    body = yaml.safe_load(text_of(name))
    said, walked = body["lines"][line], result.layout.lines[line]

    def end(where: object, at: object) -> object:
        vessel = result.layout.vessels.get(str(where))
        return {"vessel": where, "height": f"{at.place[2] - vessel.base!r} m"} if vessel else where  # type: ignore[attr-defined]

    said["from"], said["to"] = end(said["to"], walked.end), end(said["from"], walked.start)
    said["route"] = [
        {OPPOSITE.get(key, key): value for key, value in step.items()} if isinstance(step, dict) else step
        for step in reversed(said["route"])
    ]
    return yaml.safe_dump(body, sort_keys=False)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("courtyard.yaml", "south feed"),
        ("courtyard.yaml", "north return"),
        ("gallons.yaml", "planter drain"),
        ("gallons.yaml", "porch drain"),
        ("overflow.yaml", "filter overflow"),
        ("tangle.yaml", "tomato drain"),
    ],
)
def test_a_line_walked_from_its_other_end_has_the_same_flows(name: str, line: str, tmp_path: Path) -> None:
    result = checked(name)
    flows = flows_of(walked_back(name, result, line), tmp_path)
    start, end = result.layout.lines[line].start.place, read_layout(tmp_path / "changed.yaml").lines[line].end.place
    assert end[2] == pytest.approx(start[2], abs=1e-9)
    same_flows(result.flows, flows, turned=line)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("name", "run", "halves", "pipe"),
    [
        ("courtyard.yaml", "{east: 0.8 m, down: 10 mm}", ("{east: 0.4 m, down: 5 mm}",) * 2, "pvc 32"),
        (
            "courtyard.yaml",
            "{north: 1.0 m, down: 15 mm, pipe: pvc 25}",
            ("{north: 0.5 m, down: 7.5 mm, pipe: pvc 25}",) * 2,
            "pvc 25",
        ),
        ("gallons.yaml", "{east: 3 ft, down: 1/2 in}", ("{east: 1 ft 6 in, down: 1/4 in}",) * 2, "pvc 1 in"),
        (
            "gallons.yaml",
            "{west: 2 ft 3 in, down: 1 in}",
            ("{west: 1 ft 6 in, down: 2/3 in}", "{west: 9 in, down: 1/3 in}"),
            "pvc 1 1/4 in",
        ),
    ],
)
def test_a_lossless_tee_with_a_capped_spur_changes_no_flow(
    name: str, run: str, halves: tuple[str, str], pipe: str, tmp_path: Path
) -> None:
    across = "north" if "east" in run or "west" in run else "east"
    changed = swap(
        text_of(name), (f"- {run}", f"- {halves[0]}\n      - tee: {{id: spur tee, K: 0}}\n      - {halves[1]}")
    )
    spur = f"  spur: {{pipe: {pipe}, from: spur tee, route: [{{{across}: 0.1 m}}], to: cap}}\n"
    lines = changed.index("lines:\n") + len("lines:\n")
    flows = flows_of(changed[:lines] + spur + changed[lines:], tmp_path)
    assert flows.ends["spur.from"].flow == 0.0
    same_flows(checked(name).flows, flows)


POINTS = re.compile(r"(about|under|over)? ?(\d+)(?: to (\d+))? points")


@pytest.mark.pinned
@pytest.mark.parametrize("name", EACH)
def test_the_points_that_a_layouts_own_header_states_are_those_of_its_check(name: str) -> None:
    """'about' is within two points; a bare number is rounded; 'under' and 'over' hold, by no more than thirty points."""
    head = re.sub(r"\n#", "", (LAYOUTS / name).read_text(encoding="utf-8").partition("\nname:")[0])
    expected = re.search(r"Expect: (ok|attention|fail)", re.sub(r"\s+", " ", head))
    assert expected is not None
    result = checked(name)
    assert expected[1] == result.verdict
    stated = POINTS.search(re.sub(r"\s+", " ", head))
    if stated is None:
        assert name in ("bubbler.yaml", "overblown.yaml")
        return
    word, low, high = stated[1], float(stated[2]), stated[3]
    least, most = {"about": (low - 2.0, low + 2.0), "under": (low - 30.0, low), "over": (low, low + 30.0)}.get(
        word, (low - 0.5, low + 0.5)
    )
    if high is not None:
        least, most = low, float(high)
    assert least <= result.score.points <= most
