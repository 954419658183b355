"""A clean sheet: what it lays, against ways found by trying all, and what has to hold whatever the layout."""

from __future__ import annotations

import math
import random
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from plumbline.catalogue import weights
from plumbline.check import CheckResult, check
from plumbline.errors import PlumblineError
from plumbline.layout import layout_of, read_layout
from plumbline.layout.model import Layout
from plumbline.redesign.buildable import builds
from plumbline.redesign.clean_sheet import clean_sheet
from plumbline.redesign.prices import read_prices
from plumbline.redesign.search import Redesign, Targets, prove, search_afresh
from plumbline.redesign.sheet import OVER
from plumbline.redesign.ways import CORNER, STUB

LAYOUTS = Path(__file__).parent.parent / "layouts"
TANGLED = Path(__file__).parent / "data" / "tangled"
BENT = Path(__file__).parent / "data" / "bent"


@cache
def checked(name: str) -> CheckResult:
    return check(read_layout((TANGLED if name == "detour" else LAYOUTS) / f"{name}.yaml"))


@cache
def redesigned(name: str) -> Redesign:
    return search_afresh(checked(name).layout, Targets(), read_prices())


def corners(layout: Layout) -> int:
    """Turns of more than 5° in all lines, caps in the bend included."""
    return sum(
        1 for line in layout.lines.values() for part in line.parts if part.turn > math.radians(5.0) and not part.is_pipe
    )


def pipe(layout: Layout) -> float:
    return sum(line.length for line in layout.lines.values())


# ---------------------------------------------------------------------- what it does for a tangle


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize(
    "name", [*(pytest.param(name, marks=pytest.mark.slow) for name in ("tangle", "unbalanced")), "detour", "siphon"]
)
def test_a_clean_sheet_is_sound_shorter_straighter_and_can_be_built(name: str) -> None:
    before, found = checked(name), redesigned(name)
    assert before.verdict != "ok"
    assert {one.level for one in found.result.findings} <= {"advice", "warn"}
    assert not [one for one in found.result.findings if one.kind == "unreachable"]
    assert found.result.upkeep.cleanable_fraction == pytest.approx(1.0)
    assert corners(found.result.layout) < corners(before.layout)
    assert pipe(found.result.layout) < pipe(before.layout)
    assert builds(found.result.layout, {})
    assert found.result.score.points > before.score.points
    assert not found.proven
    assert prove(found).verdict == found.result.verdict


@pytest.mark.second_method
def test_the_detour_goes_up_along_and_in() -> None:
    """From the pump at −0.3 m to over the rim at 0.85 m + 0.1 m, and 3.3 m along: one corner, where there were nine."""
    layout = redesigned("detour").result.layout
    riser = layout.lines["riser"]
    rise = riser.end.place[2] - riser.start.place[2]
    vessel = layout.vessels[riser.end.name or ""]
    assert riser.end.place[2] == pytest.approx(vessel.base + (vessel.rim or 0.0) + OVER)
    assert riser.length == pytest.approx(rise + 3.3)
    assert sum(1 for part in riser.parts if part.turn > 0.1) == 1


@pytest.mark.invariant
@pytest.mark.slow
def test_every_drain_falls_and_every_vessel_keeps_its_ways_out() -> None:
    before, after = checked("tangle").layout, redesigned("tangle").result.layout
    least = after.limits["least fall"]
    for name, line in after.lines.items():
        if line.start.port != "standpipe":
            continue
        for part in line.parts:
            along = math.dist(part.start[:2], part.end[:2])
            if part.is_pipe and along > 0.05:
                assert (part.start[2] - part.end[2]) / along > least, name
    ways = [
        {
            (line.start.name, round(line.start.place[2], 9))
            for line in one.lines.values()
            if line.start.port == "standpipe"
        }
        for one in (before, after)
    ]
    assert ways[0] <= ways[1]


@pytest.mark.slow(3)
@pytest.mark.pinned
def test_what_stays_is_told_with_why_and_what_is_left_of_the_old_pipe() -> None:
    sheet = redesigned("unbalanced").sheet
    assert sheet is not None
    drains = "'strawberries drain', 'spinach drain', 'rocket drain' and 'cress drain'"
    assert sheet.kept == (f"{drains} stay as they are: each is as short and as straight as it can be.",)
    notes = list(sheet.notes(checked("unbalanced").layout))
    assert any(note.startswith("Of the old pipe ") and "pvc 25" in note for note in notes)
    with pytest.raises(PlumblineError, match=r"'feed' has holes along it; 'drain' is as short and as straight"):
        clean_sheet(checked("round_tank"), read_prices())


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("line", "why"),
    [
        (
            "from: pump, route: [up: 2 m, elbow, drip line: {east: 1 m, drippers: 4, dripper: 4 L/h, in: bed}], to: cap end x",
            "holes along it",
        ),
        (
            "from: pump, route: [up: 2 m, elbow, east: 1 m, tee: t, east: 1 m], to: bed}\n  vent: {pipe: pvc 20, from: t, route: [up: 1 m], to: open air",
            "outside",
        ),
        (
            "from: {vessel: sump, height: 0.1 m}, route: [west: 1 m], to: pump}\n  up: {pipe: pvc 25, from: pump, route: [up: 2 m, elbow, east: 1 m], to: bed",
            "as short and as straight",
        ),
    ],
)
def test_what_it_cannot_lay_it_says(line: str, why: str) -> None:
    text = f"""
name: One bed
vessels:
  sump: {{base: 0 m, water: 0.5 m, rim: 0.7 m, area: 1 m^2}}
  bed: {{base: 1 m, water: 0.2 m, rim: 0.4 m, area: 1 m^2, wants: 6 L/min}}
pumps:
  pump: {{{"" if "height: 0.1 m}" in line else "in: sump, "}curve: [[0 L/min, 4 m], [40 L/min, 2 m]]}}
lines:
  feed: {{pipe: pvc 25, {line}}}
  drain: {{pipe: pvc 50, from: {{vessel: bed, standpipe: 0.2 m}}, route: [down: 0.9 m, elbow, west: 1 m], to: sump}}
"""
    try:
        said = " ".join(clean_sheet(check(layout_of(text, "one.yaml")), read_prices()).kept)
    except PlumblineError as error:
        said = str(error)
    assert "'feed'" in said
    assert why in said


# ---------------------------------------------------------------------- the main, by trying all places


def farm(seed: int) -> str:
    """A pump and beds on one side of it, fed one by one from a daisy chain."""
    dice = random.Random(seed)
    beds = dice.randint(2, 4)
    places = [
        (round(0.6 * (n + 1) + dice.uniform(0.0, 0.3), 2), round(dice.choice((-1, 1)) * dice.uniform(0.4, 1.5), 2))
        for n in range(beds)
    ]
    text = ["name: Some beds", "vessels:", "  sump: {base: -0.5 m, water: 0.6 m, rim: 0.8 m, area: 2 m^2}"]
    text += [
        f"  bed {n}: {{base: 0.8 m, water: 0.2 m, rim: {dice.choice((0.3, 0.4))} m, area: 1 m^2, wants: {dice.choice((4, 6))} L/min}}"
        for n in range(beds)
    ]
    text += [
        "pumps:",
        "  pump: {in: sump, curve: [[0 L/min, 5 m], [60 L/min, 3 m], [120 L/min, 0.5 m]]}",
        "lines:",
        "  main:",
        "    pipe: pvc 32",
        "    from: pump",
        "    route:",
        "      - up: 2 m",
        "      - elbow",
    ]
    here = 0.0
    for n, (east, _) in enumerate(places[:-1]):
        text += [f"      - east: {east - here:.2f} m", f"      - tee: tee {n}"]
        here = east
    east, north = places[-1]
    text += [
        f"      - east: {east - here:.2f} m",
        "      - elbow",
        f"      - {'north' if north > 0 else 'south'}: {abs(north)} m",
        f"    to: bed {beds - 1}",
    ]
    for n, (_, north) in enumerate(places[:-1]):
        text.append(
            f"  feed {n}: {{pipe: pvc 25, from: tee {n}, route: [{'north' if north > 0 else 'south'}: {abs(north)} m], to: bed {n}}}"
        )
    for n in range(beds):
        text.append(
            f"  drain {n}: {{pipe: pvc 50, from: {{vessel: bed {n}, standpipe: 0.2 m}}, route: [down: 0.6 m, elbow, "
            f"{{west: {1 + n} m, down: 50 mm}}], to: sump}}"
        )
    return "\n".join(
        [*text, "rods:", "  pole: {length: 3 m, bends up to: 22 deg, turns in all: 45 deg, bores: 15 mm to 60 mm}"]
    )


def best_by_trying(layout: Layout) -> float:
    """The least worth of a riser, a straight main and straight spurs, the main tried at every centimetre across its way, both ways."""
    begin = layout.lines["main"].parts[0].start
    ends = [line.end.place for line in layout.lines.values() if line.end.kind == "vessel" and line.end.name != "sump"]
    tops = [layout.vessels[name].base + (layout.vessels[name].rim or 0.0) for name in layout.vessels if name != "sump"]
    height = max(max(tops) + OVER, begin[2] + 0.3)
    best = math.inf
    for axis in (0, 1):
        along = [end[axis] - begin[axis] for end in ends]
        if min(along) < -0.03 and max(along) > 0.03:
            continue
        for step in range(-300, 301):
            side = begin[1 - axis] + step / 100.0
            order = sorted(ends, key=lambda end: abs(end[axis] - begin[axis]))
            spurs = [abs(end[1 - axis] - side) for end in order]
            stops = [abs(end[axis] - begin[axis]) for end in order]
            if any(spur < 0.3 for spur in spurs[:-1]) or any(b - a < 0.15 for a, b in pairwise([0.0, *stops])):
                continue
            turns = 1 + (abs(side - begin[1 - axis]) > 1e-6) + (spurs[-1] > 1e-6)
            best = min(best, height - begin[2] + abs(side - begin[1 - axis]) + stops[-1] + sum(spurs) + CORNER * turns)
    return best


@pytest.mark.some(1)
@pytest.mark.second_method
@pytest.mark.parametrize("seed", [0, 1, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(2, 12))])
def test_no_straight_main_is_worth_less(seed: int) -> None:
    result = check(layout_of(farm(seed), "farm.yaml"))
    layout = clean_sheet(result, read_prices()).layout
    fed = [line for line in layout.lines.values() if line.start.kind in ("pump", "tee")]
    worth = sum(line.length for line in fed) + CORNER * sum(
        1 for line in fed for part in line.parts if part.kind == "elbow"
    )
    assert worth <= best_by_trying(result.layout) + 0.02
    after = check(layout)
    assert not [one for one in after.findings if one.level == "fail"]
    for name, vessel in layout.vessels.items():
        if vessel.wants:
            assert after.flows.vessels[name].inflow >= 1.1 * vessel.wants


ODD = """name: "lines: of it"
vessels:
  "lines: x": {base: 0 m, water: 0.5 m, rim: 0.7 m, area: 1 m^2}
  b: {base: 1 m, water: 0.2 m, rim: 0.4 m, area: 1 m^2, wants: 6 L/min}
pumps: {p: {in: "lines: x", curve: [[0 L/min, 4 m], [40 L/min, 2 m]]}}
KEY
  # goes with the old lines
  f: {pipe: pvc 25, from: p, route: [up: 2.5 m, elbow, east: 1 m, elbow, north: 1 m, elbow, west: 1 m, elbow, down: 0.5 m], to: b}
  d: {pipe: pvc 50, from: {vessel: b, standpipe: 0.2 m}, route: [down: 0.9 m, elbow, west: 1 m], to: "lines: x"}
rods:   # stays
  pole: {length: 3 m, bends up to: 22 deg, turns in all: 45 deg, bores: 15 mm to 60 mm}
"""


@pytest.mark.some(2)
@pytest.mark.invariant
@pytest.mark.parametrize("key", ["lines:", '"lines":   # mine', "'lines':"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_all_but_the_lines_stays_as_typed(key: str, newline: str) -> None:
    before = ODD.replace("KEY", key).replace("\n", newline)
    text = clean_sheet(check(layout_of(before, "odd.yaml")), read_prices()).layout.text
    head, _, tail = before.partition("  # goes with the old lines")
    first, _, rest = text.partition(newline)
    assert first == "# Laid afresh: 'f'. See that each way is free before anything is cut."
    assert rest.startswith(head)
    assert text.endswith(tail[tail.index("rods:") :])
    assert "goes with" not in text
    assert text.count("\n") == text.count(newline)


@pytest.mark.invariant
def test_what_the_file_opens_with_is_told_of_the_system_before() -> None:
    before = f"# Expect: fail.\n#\n#   - nine corners\n\n# by me\n{ODD.replace('KEY', 'lines:')}"
    text = clean_sheet(check(layout_of(before, "odd.yaml")), read_prices()).layout.text
    assert text.splitlines()[1:7] == [
        "# Of the system as it stood before it was said:",
        "#   Expect: fail.",
        "#",
        "#     - nine corners",
        "#",
        "#   by me",
    ]
    assert "\n# Expect" not in text
    assert "# goes" not in text
    assert "rods:   # stays" in text


@pytest.mark.invariant
def test_lines_in_brackets_are_told_of() -> None:
    lines = ODD.split("KEY")[1].split("rods:", maxsplit=1)[0].replace("  # goes with the old lines\n", "")
    inside = ", ".join(line.strip() for line in lines.strip().splitlines())
    text = ODD.split("KEY", maxsplit=1)[0] + f"lines: {{{inside}}}\n"
    with pytest.raises(PlumblineError, match="stand in brackets"):
        clean_sheet(check(layout_of(text, "odd.yaml")), read_prices())


# ---------------------------------------------------------------------- every layout that fails


FAILING = ("tangle", "siphon", "unbalanced", "low_cap", "nursery", "hill_pond", "call_outs")


@pytest.mark.invariant
@pytest.mark.slow
def test_these_are_the_layouts_that_fail() -> None:
    names = [path.stem for path in sorted(LAYOUTS.glob("*.yaml"))]
    assert sorted(FAILING) == [name for name in names if checked(name).verdict == "fail"]


@pytest.mark.invariant
@pytest.mark.slow(90)
@pytest.mark.parametrize("name", FAILING)
def test_a_layout_that_fails_becomes_sound_or_is_told_what_stands_against_it(name: str) -> None:
    why = {"low_cap": "'bottom' hangs on an end outside", "nursery": "'feed' and 'long feed' each has holes along it"}
    if name in why:
        with pytest.raises(PlumblineError, match=f"^Nothing is laid afresh here: .*{why[name]}"):
            redesigned(name)
        return
    found = redesigned(name)
    told = {(one.kind, one.place) for one in found.left}
    bad = [
        one
        for one in found.result.findings
        if one.level == "fail" or (one.level == "warn" and weights()[one.kind].mark == "cleaning")
    ]
    assert {(one.kind, one.line or one.vessel or one.kind) for one in bad} <= told
    if name in ("tangle", "siphon", "unbalanced"):
        assert bad == []


# ---------------------------------------------------------------------- systems as the trade builds them


SUCTION = """
name: Dry pump behind a tangle
vessels:
  tank: {holds: fish, base: 0 m, rim: 1.0 m, water: 0.85 m, area: 2 m^2}
  bed: {holds: plants, base: 1.1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2, wants: 20 L/min}
  rack: {holds: plants, base: 1.3 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2, wants: 10 L/min}
pumps:
  pump: {curve: [[0 L/min, 6 m], [60 L/min, 3 m], [100 L/min, 1 m]], power: 60 W}
lines:
  suction:
    pipe: pvc 40
    from: {vessel: tank, height: 0.2 m}
    route: [bulkhead, {east: 0.3 m}, elbow, {north: 0.4 m}, elbow, {east: 0.2 m}, ball valve: pump valve, {east: 0.1 m}, elbow,
            {south: 0.4 m}, elbow, {east: 0.2 m}]
    to: pump
  main:
    pipe: pvc 32
    from: pump
    route: [{east: 0.2 m}, check valve, {east: 0.3 m}, uv lamp: {loses: 5 cm, at: 40 L/min}, {east: 0.3 m}, elbow, {up: 1.9 m}, elbow,
            {north: 1 m}, tee: t, {north: 1 m}, elbow, {west: 1 m}]
    to: rack
  feed: {pipe: pvc 25, from: t, route: [{west: 0.5 m}, elbow, {down: 0.1 m}, elbow, {west: 0.6 m}, ball valve, {west: 0.1 m}], to: bed}
  bed drain:
    pipe: pvc 50
    from: {vessel: bed, height: 0.15 m}
    route: [bulkhead, {south: 0.4 m}, elbow, {down: 0.2 m}, elbow, {east: 0.4 m}, elbow, {south: 0.4 m, down: 10 mm}, elbow,
            {west: 0.4 m, down: 8 mm}, elbow, {down: 0.3 m}]
    to: tank
  rack drain: {pipe: pvc 50, from: {vessel: rack, standpipe: 0.2 m}, route: [{down: 0.5 m}, elbow, {south: 1 m, down: 20 mm}], to: tank}
"""


@pytest.mark.slow(2)
@pytest.mark.second_method
def test_suction_lamp_and_bulkheads_are_laid_anew_or_stay_where_they_stand() -> None:
    """By hand: the pump stands 0.3 + 0.2 + 0.1 + 0.2 = 0.8 m east of the tank's wall and level with its port, so its suction is one run of 0.8 m with
    the bulkhead and the valve; the lamp stays behind its 0.2 m, check valve and 0.3 m, and a hand on the riser goes up."""
    before = check(layout_of(SUCTION, "dry.yaml"))
    layout = clean_sheet(before, read_prices()).layout
    suction, main, drain = (layout.lines[name] for name in ("suction", "main", "bed drain"))
    assert [part.kind for part in suction.parts] == ["bulkhead", "run", "ball valve", "run"]
    assert suction.length == pytest.approx(0.8)
    # docs/redesign.md: what a pump draws from is so wide that the water stays under 0.6 m/s.
    assert abs(before.flows.ends["suction.to"].flow) / (math.pi / 4.0 * suction.parts[1].pipe.bore ** 2) < 0.6
    assert suction.end.place == pytest.approx(before.layout.lines["suction"].end.place)
    assert [part.kind for part in main.parts[:6]] == ["run", "check valve", "run", "uv lamp", "run", "elbow"]
    assert [part.length for part in main.parts[:5] if part.is_pipe] == pytest.approx([0.2, 0.3, STUB])
    assert drain.parts[0].kind == "bulkhead"
    assert not [one for one in check(layout).findings if one.level == "fail"]
    assert builds(layout, {})


PAIR = """
name: Two pumps
vessels:
  sump: {holds: sump, base: -0.5 m, rim: 0.8 m, water: 0.6 m, area: 3 m^2}
  a: {holds: plants, base: 0.8 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2, wants: 8 L/min}
  b: {holds: plants, base: 0.8 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2, wants: 8 L/min}
pumps:
  one: {in: sump, curve: [[0 L/min, 4 m], [30 L/min, 2 m], [50 L/min, 0.5 m]], power: 30 W}
  two: {in: sump, curve: [[0 L/min, 4 m], [30 L/min, 2 m], [50 L/min, 0.5 m]], power: 30 W}
lines:
  main:
    pipe: pvc 25
    from: one
    route: [{up: 0.5 m}, check valve, {up: 1.2 m}, elbow, {east: 0.5 m}, tee: join, {east: 0.5 m}, tee: t, {east: 1 m}, elbow, {north: 0.6 m},
            ball valve, {north: 0.2 m}]
    to: a
  second: {pipe: pvc 25, from: two, route: [{up: 0.5 m}, check valve, {up: 1.2 m}, elbow, {north: 0.4 m}], to: join}
  feed: {pipe: pvc 25, from: t, route: [{south: 0.6 m}, elbow, {down: 0.1 m}, elbow, {south: 0.3 m}, ball valve, {south: 0.1 m}], to: b}
  da: {pipe: pvc 50, from: {vessel: a, standpipe: 0.2 m}, route: [{down: 0.5 m}, elbow, {west: 1.5 m, down: 30 mm}], to: sump}
  db: {pipe: pvc 50, from: {vessel: b, standpipe: 0.2 m}, route: [{down: 0.5 m}, elbow, {west: 1.5 m, down: 30 mm}], to: sump}
"""


@pytest.mark.second_method
def test_a_feed_that_ends_under_water_comes_over_the_rim() -> None:
    """By hand: the rim of the tank stands at 0.3 + 0.95 m and the sump's pump at −0.6 + 0.1 m, so the feed goes up 1.75 m and OVER, along 1 m, and
    down to its end 0.15 m over the tank's floor."""
    before = checked("siphon").layout
    feed = clean_sheet(checked("siphon"), read_prices()).layout.lines["feed"]
    assert [part.length for part in feed.parts if part.is_pipe] == pytest.approx([1.75 + OVER, 1.0, 1.25 + OVER - 0.45])
    assert feed.end.place == pytest.approx(before.lines["feed"].end.place)


@pytest.mark.slow(2)
@pytest.mark.invariant
def test_two_pumps_join_in_one_riser_and_either_alone_feeds_all() -> None:
    layout = clean_sheet(check(layout_of(PAIR, "pair.yaml")), read_prices()).layout
    for line in layout.lines.values():
        if line.start.kind == "pump":
            assert next(part.kind for part in line.parts if not part.is_pipe) == "check valve"
    assert builds(layout, {})
    for still in ("one", "two"):
        alone = check(
            layout_of(
                layout.text.replace(f"  {still}: {{in: sump, ", f"  {still}: {{in: sump, runs: no, "), "pair.yaml"
            )
        )
        assert all(alone.flows.vessels[bed].inflow > 0.0 for bed in "ab")


@pytest.mark.invariant
@pytest.mark.slow
def test_a_ring_becomes_a_main_that_goes_both_ways() -> None:
    """Beds on both sides of the riser, with hardly more than the half of the ring's pipe, and every bed gets what it wants."""
    before = checked("ring_main").layout
    layout = clean_sheet(checked("ring_main"), read_prices()).layout
    fed = [sum(line.length for line in one.lines.values() if "drain" not in line.name) for one in (before, layout)]
    assert fed[1] < 0.6 * fed[0]
    result = check(layout)
    assert all(got.inflow >= got.wanted for got in result.flows.vessels.values() if got.wanted)
    assert builds(layout, {})


@pytest.mark.invariant
def test_a_file_in_feet_is_written_in_feet_and_inches() -> None:
    """Every run laid is whole sixteenths of an inch. By hand: from the outlet at 3 in the riser goes to OVER the planter's rim at 5 ft 6 in + 8 in."""
    layout = clean_sheet(checked("gallons"), read_prices()).layout
    lengths = [
        text for text in layout.text.partition("lines:")[2].partition("rods:")[0].split() if text in ("m", "mm", "cm")
    ]
    assert not lengths
    sixteenth = 0.0254 / 16.0
    rise = layout.lines["riser"].parts[0].length
    assert rise == pytest.approx((66 + 8 - 3) * 0.0254 + OVER, abs=sixteenth / 2.0)
    for name in ("riser", "rail planter feed"):
        for part in layout.lines[name].parts:
            assert part.length / sixteenth == pytest.approx(round(part.length / sixteenth), abs=1e-6)


@pytest.mark.second_method
@pytest.mark.slow
def test_beds_in_a_chain_get_a_main_with_short_spurs_and_drain_to_where_the_last_did() -> None:
    """As a plumber lays it: one riser, a tee for each bed but the last, and each bed's own way down to the tank."""
    layout = read_layout(BENT / "daisy_chain.yaml")
    lines = clean_sheet(check(layout), read_prices()).layout.lines
    beds = {"top", "middle", "low"}
    feeds = [line for line in lines.values() if line.end.name in beds]
    assert {line.end.name for line in feeds} == beds
    assert sorted(line.start.kind for line in feeds) == ["pump", "tee", "tee"]
    drains = {line.start.name: line.end.name for line in lines.values() if line.start.kind == "vessel"}
    assert drains == dict.fromkeys(beds, "tank")


@pytest.mark.invariant
@pytest.mark.slow
def test_a_chain_without_the_height_for_drains_of_their_own_stays() -> None:
    """The last bed's water only just comes up to the tank; the first's would have to go there too, with a fall over 40 m."""
    text = (BENT / "daisy_chain.yaml").read_text(encoding="utf-8")
    far = text.replace("{west: 1.0 m, down: 25 mm}", "{west: 40.0 m, down: 25 mm}")
    lines = clean_sheet(check(layout_of(far)), read_prices()).layout.lines
    drains = {line.start.name: line.end.name for line in lines.values() if line.start.kind == "vessel"}
    assert drains["top"] == "middle"
    assert drains["middle"] == "low"


@pytest.mark.invariant
def test_a_valve_named_after_its_bed_is_taken_for_no_opening() -> None:
    text = """
vessels:
  tank: {holds: fish, base: 0 m, rim: 0.9 m, water: 0.7 m, area: 2 m^2}
  first: {holds: plants, base: 1.0 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2, wants: 6 L/min}
  third: {holds: plants, base: 1.0 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2, wants: 6 L/min}
pumps: {pump: {in: tank, height: 0.05 m, curve: [[0 L/min, 2.8 m], [45 L/min, 0.8 m]]}}
lines:
  feed: {pipe: pvc 20, from: pump, route: [{up: 1.4 m}, elbow, {east: 1 m}, {tee: t}, {east: 1.2 m}], to: first}
  spur: {pipe: pvc 20, from: t, route: [{north: 1.2 m}, elbow, {east: 0.4 m}], to: third}
  drain one: {pipe: pvc 40, from: {vessel: first, standpipe: 0.2 m}, route: [{down: 0.3 m}, elbow, {west: 1.4 m, down: 40 mm}], to: tank}
  drain three: {pipe: pvc 40, from: {vessel: third, standpipe: 0.2 m}, route: [{down: 0.3 m}, elbow, {west: 1.4 m, down: 40 mm}], to: tank}
"""
    lines = clean_sheet(check(layout_of(text)), read_prices()).layout.lines
    assert {"first valve", "third valve"} <= {part.id for line in lines.values() for part in line.parts}


@pytest.mark.second_method
@pytest.mark.slow
def test_a_chain_whose_pump_cannot_feed_each_bed_by_itself_stays() -> None:
    """By hand: three beds want 15 L/min each, and over the 1.3 m to the highest the pump's curve leaves some 33 L/min of that, friction left aside."""
    text = (BENT / "daisy_chain.yaml").read_text(encoding="utf-8")
    weak = text.replace("[30 L/min, 2.8 m], [60 L/min, 1.2 m]", "[30 L/min, 1.6 m], [40 L/min, 0.5 m]")
    lines = clean_sheet(check(layout_of(weak)), read_prices()).layout.lines
    drains = {line.start.name: line.end.name for line in lines.values() if line.start.kind == "vessel"}
    assert drains == {"top": "middle", "middle": "low", "low": "tank"}
