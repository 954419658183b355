"""The order of treatment: fish, solids filter, plants. The second way is to walk every simple path of random pipework, and to push dirt
from place to place until nothing changes; no published values exist for such a rule, but for the order itself.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import pytest
from builders import flows as made_flows
from builders import layout as made_layout
from builders import walk
from checks import checked

from plumbline import catalogue, check, read_layout
from plumbline.check import CheckResult
from plumbline.cli import main
from plumbline.errors import LayoutError
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.flows import Duty, Flows
from plumbline.layout.model import Layout
from plumbline.upkeep.carried import slow_flow
from plumbline.upkeep.shear import wall_shear
from plumbline.upkeep.treatment import order_of_treatment, treatment
from plumbline.upkeep.ways import Side, sides, water_ways

ReadText = Callable[[str], Layout]
LAYOUTS = Path(__file__).parent.parent / "layouts"
KINDS = {"unfiltered-path", "filter-after-plants", "no-solids-filter", "filter-overloaded"}


def changed(name: str, old: str, new: str, folder: Path) -> CheckResult:
    """The check of a layout with one of its lines changed."""
    text = (LAYOUTS / name).read_text(encoding="utf-8")
    assert text.count(old) == 1, old
    path = folder / name
    path.write_text(text.replace(old, new), encoding="utf-8")
    return check(read_layout(path))


def told(result: CheckResult) -> list[tuple[str, str | None]]:
    return sorted((one.kind, one.line) for one in result.findings if one.kind in KINDS)


# ---------------------------------------------------------------------- every simple path of random pipework


@dataclass(frozen=True)
class Arc:
    """Water runs from `one` to `other` through `length` metres of the stretch `id`; no stretch where it is a pump."""

    one: str
    other: str
    length: float
    id: str | None


@dataclass(frozen=True)
class Made:
    """Random pipework with made-up flows, and the same told again as plain arcs. `ties` join what is one system."""

    layout: Layout
    flows: Flows
    arcs: tuple[Arc, ...]
    ties: tuple[tuple[str, str], ...]


HOLDS = ("fish", "fish", "plants", "plants", "solids filter", "sump", "biofilter", None)


def made_up(seed: int) -> Made:
    """Lines between vessels, some of them through a tee from which another line branches off, or a pump; water runs through each one
    way, or the other, or not at all."""
    pick = random.Random(seed)
    names = [f"v{n}" for n in range(pick.randint(3, 6))]
    holds = {name: pick.choice(HOLDS) for name in names}
    lines, speeds, arcs, ties = [], {}, [], []

    def run(stretch: str, tail: str, head: str, length: float) -> None:
        speed = pick.choice((0.5, 0.5, 0.5, -0.5, -0.5, 0.0))
        speeds[stretch] = speed
        ties.append((tail, head))
        if speed:
            arcs.append(Arc(*((tail, head) if speed > 0 else (head, tail)), length, stretch))

    pumps = {}
    for number in range(pick.randint(3, 8)):
        name, tail, head = f"L{number}", *pick.sample(names, 2)
        a, b, c = (float(pick.randint(1, 9)) for _ in range(3))
        shape = pick.choice(("plain", "plain", "tee", "pump"))
        if shape == "tee":
            tee, side = f"t{number}", pick.choice(names)
            lines.append(
                walk(name, f"vessel {tail}", [("east", a), ("tee", {"id": tee}), ("east", b)], f"vessel {head}")
            )
            lines.append(walk(f"{name} branch", f"tee {tee}", [("north", c)], f"vessel {side}", at=(a, 0.0, 0.0)))
            run(f"{name} 1", tail, tee, a)
            run(f"{name} 2", tee, head, b)
            run(f"{name} branch 1", tee, side, c)
        elif shape == "pump":
            pump = f"p{number}"
            lines.append(walk(name, f"pump {pump}", [("up", a)], f"vessel {head}"))
            run(f"{name} 1", f"{pump} out", head, a)
            ties.append((tail, f"{pump} out"))
            pumps[pump] = (tail, pick.choice((1e-3, 1e-3, -1e-3, 0.0)))
            if pumps[pump][1]:
                ends = (tail, f"{pump} out") if pumps[pump][1] > 0 else (f"{pump} out", tail)
                arcs.append(Arc(*ends, 0.0, None))
        else:
            lines.append(walk(name, f"vessel {tail}", [("east", a)], f"vessel {head}"))
            run(f"{name} 1", tail, head, a)
    layout = made_layout(*lines)
    empty = layout.vessels[next(name for name in layout.vessels if name != "tank")]
    vessels = {name: replace(empty, name=name, holds=holds[name]) for name in names}
    layout = replace(
        layout,
        vessels=vessels,
        pumps={name: replace(pump, vessel=pumps[name][0]) for name, pump in layout.pumps.items()},
    )
    flows = replace(
        made_flows(layout, speeds),
        pumps={name: Duty(flow, 1.0, "on curve", None, 0.0) for name, (_, flow) in pumps.items()},
    )
    return Made(layout, flows, tuple(arcs), tuple(ties))


def paths(arcs: tuple[Arc, ...], start: str, stop: str, seen: tuple[str, ...] = ()) -> Iterator[tuple[Arc, ...]]:
    """Every way from a place to another that comes to no place twice."""
    if start == stop:
        yield ()
        return
    for arc in arcs:
        if arc.one == start and arc.other not in (*seen, start):
            for rest in paths(arcs, arc.other, stop, (*seen, start)):
                yield (arc, *rest)


def between(path: tuple[Arc, ...]) -> set[str]:
    """The places that a way comes through, its two ends left out."""
    return {arc.other for arc in path[:-1]}


def together(made: Made) -> dict[str, frozenset[str]]:
    """The system of each place, by joining what is tied until nothing changes."""
    group = {place: {place} for place in made.layout.vessels}
    for one, other in made.ties:
        joined = group.setdefault(one, {one}) | group.setdefault(other, {other})
        for place in joined:
            group[place] = joined
    return {place: frozenset(joined) for place, joined in group.items()}


def holding(made: Made, what: str, system: frozenset[str]) -> list[str]:
    return [name for name, vessel in made.layout.vessels.items() if vessel.holds == what and name in system]


SEEDS = range(400)


@pytest.mark.invariant
def test_random_pipework_shows_every_case() -> None:
    """Else the comparisons below would be of nothing with nothing."""
    kinds: dict[str, int] = {}
    both = 0
    for seed in SEEDS:
        made = made_up(seed)
        both += set(sides(made.layout, made.flows).values()) == {"dirty", "clean", None}
        for one in treatment(made.layout, made.flows):
            kinds[one.kind] = kinds.get(one.kind, 0) + 1
    assert both > 20
    assert set(kinds) == KINDS - {"filter-overloaded"}
    assert min(kinds.values()) >= 10, kinds


@pytest.mark.second_method
def test_beds_are_unfiltered_where_some_simple_path_passes_no_filter() -> None:
    for seed in SEEDS:
        made = made_up(seed)
        ways = water_ways(made.layout, made.flows)
        found = {bed: way for order in order_of_treatment(made.layout, ways) for bed, way in order.unfiltered}
        for system in set(together(made).values()):
            filters = set(holding(made, "solids filter", system))
            for bed in holding(made, "plants", system):
                open_ways = [
                    path
                    for fish in holding(made, "fish", system)
                    for path in paths(made.arcs, fish, bed)
                    if not between(path) & filters
                ]
                assert (bed in found) == bool(open_ways), (seed, bed)
                if open_ways:
                    way = found[bed]
                    length = sum(ways.edges[one, other]["length"] for one, other in pairwise(way))
                    assert length == min(sum(arc.length for arc in path) for path in open_ways), (seed, bed)
                    assert made.layout.vessels[way[0][1]].holds == "fish"
                    assert not {node[1] for node in way} & filters


def expected(made: Made) -> list[tuple[str, ...]]:
    """The findings by their rules, read off all simple paths: (kind, beds)."""
    out: list[tuple[str, ...]] = []
    without: list[str] = []
    systems = together(made)
    for system in dict.fromkeys(systems[name] for name in made.layout.vessels):
        fish, beds, filters = (holding(made, what, system) for what in ("fish", "plants", "solids filter"))
        unfiltered = [
            bed
            for bed in beds
            if any(not between(path) & set(filters) for one in fish for path in paths(made.arcs, one, bed))
        ]
        before = any(
            any(paths(made.arcs, one, middle)) and not between(path) & set(fish)
            for middle in filters
            for one in fish
            for bed in beds
            for path in paths(made.arcs, middle, bed)
        )
        after = any(
            not between(path) & set(fish)
            for middle in filters
            for bed in beds
            for path in paths(made.arcs, bed, middle)
        )
        if not filters:
            without += unfiltered
        elif unfiltered and after and not before:
            out.append(("filter-after-plants", *unfiltered))
        else:
            out += [("unfiltered-path", bed) for bed in unfiltered]
    return sorted([*out, *([("no-solids-filter", *without)] if without else [])])


@pytest.mark.second_method
def test_each_finding_stands_where_its_rule_holds_on_all_simple_paths() -> None:
    for seed in SEEDS:
        made = made_up(seed)
        got = []
        for one in treatment(made.layout, made.flows):
            before = (
                one.message.split(":")[0] if one.kind == "unfiltered-path" else one.message.split(" first, as by ")[0]
            )
            beds = [
                name
                for name, vessel in made.layout.vessels.items()
                if vessel.holds == "plants" and f"'{name}'" in before
            ]
            got.append((one.kind, *beds))
        assert sorted(got) == expected(made), seed


@pytest.mark.second_method
def test_sides_by_all_simple_paths_and_by_pushing_dirt_on() -> None:
    for seed in SEEDS:
        made = made_up(seed)
        got = sides(made.layout, made.flows)
        systems = together(made)
        holds = {name: vessel.holds for name, vessel in made.layout.vessels.items()}
        filters = {name for name, what in holds.items() if what == "solids filter"}
        fish = [name for name, what in holds.items() if what == "fish"]
        dirty = dict.fromkeys(systems, False)
        while True:
            after = {
                place: holds.get(place) == "fish"
                or (place not in filters and any(dirty[arc.one] for arc in made.arcs if arc.other == place))
                for place in dirty
            }
            if after == dirty:
                break
            dirty = after
        running = {arc.id: arc for arc in made.arcs if arc.id is not None}
        assert set(got) >= set(running)
        for stretch, side in got.items():
            if stretch not in running or not any(one in systems[running[stretch].one] for one in fish):
                assert side is None, (seed, stretch)
                continue
            start = running[stretch].one
            by_path = start not in filters and any(
                not between(path) & filters for one in fish for path in paths(made.arcs, one, start)
            )
            assert side == ("dirty" if by_path else "clean"), (seed, stretch)
            assert by_path == dirty[start], (seed, stretch)


# ---------------------------------------------------------------------- by hand, on solved layouts


@pytest.mark.second_method
def test_the_sides_of_a_chain_of_overflows() -> None:
    """Only the pipe from the fish to the filter is dirty; the sump gets filtered water and passes on that; the shut waste stands."""
    got = checked("overflow.yaml").upkeep.sides
    assert {line: side for stretch, side in got.items() for line in [stretch.rpartition(".")[0]]} == {
        "return": "clean",
        "tank overflow": "dirty",
        "filter overflow": "clean",
        "biofilter overflow": "clean",
        "waste": None,
    }


@pytest.mark.invariant
def test_water_that_mixes_in_the_sump_is_dirty_and_shutting_the_way_cleans_it(tmp_path: Path) -> None:
    before = checked("bypass.yaml").upkeep.sides
    after = changed(
        "bypass.yaml", "{id: side valve, opening: 30 %}", "{id: side valve, opening: 0}", tmp_path
    ).upkeep.sides
    mixed = {"return", "herb feed", "herb overflow"}
    assert {stretch.rpartition(".")[0] for stretch in before if before[stretch] != after[stretch]} == mixed | {
        "side drain"
    }
    assert {before[stretch] for stretch in before if stretch.rpartition(".")[0] in mixed} == {"dirty"}
    assert {after[stretch] for stretch in after if stretch.rpartition(".")[0] in mixed} == {"clean"}
    assert {after[stretch] for stretch in after if stretch.startswith("side drain")} == {None}


@pytest.mark.invariant
def test_without_fish_nothing_has_a_side() -> None:
    assert set(checked("terraces.yaml").upkeep.sides.values()) == {None}


@pytest.mark.invariant
def test_water_out_of_a_spray_bar_is_followed(read_text: ReadText) -> None:
    result = check(
        read_text("""
        vessels:
          tank: {holds: fish, base: 0 m, rim: 1 m, water: 0.8 m}
          bed: {holds: plants, base: 1.2 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2}
        pumps:
          lift: {in: tank, curve: [[0 L/min, 4 m], [30 L/min, 2 m], [40 L/min, 1 m]]}
        lines:
          riser:
            pipe: pvc 25
            from: lift
            route: [{up: 1.6 m}, elbow, {east: 1 m}, {spray bar: {east: 0.6 m, holes: 12, hole: 4 mm, in: bed}}]
            to: plug
          drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.5 m}], to: tank}
        """)
    )
    assert set(result.upkeep.sides.values()) == {"dirty"}
    assert told(result) == [("no-solids-filter", None)]


# ---------------------------------------------------------------------- each finding comes and goes with a line of the file


@pytest.mark.pinned
def test_the_way_past_the_filter_is_named() -> None:
    (found,) = [one for one in checked("bypass.yaml").findings if one.kind == "unfiltered-path"]
    assert found.message == (
        "Water from the fish gets to 'herb bed' past the solids filter: 'fish tank' -> line 'side drain' -> 'sump' -> "
        "pump 'return pump' -> line 'return' -> line 'herb feed' -> 'herb bed'."
    )
    assert found.cure == (
        "lead what runs in line 'side drain' through 'solids filter' before it goes on to 'herb bed', or shut that way"
    )
    assert (found.level, found.line) == ("warn", "side drain")


@pytest.mark.some(3)
@pytest.mark.invariant
@pytest.mark.parametrize(
    ("name", "old", "new", "before", "after"),
    [
        (
            "bypass.yaml",
            "{id: side valve, opening: 30 %}",
            "{id: side valve, opening: 0}",
            [("filter-overloaded", "tank overflow"), ("unfiltered-path", "side drain")],
            [("filter-overloaded", "tank overflow")],
        ),
        (
            "bypass.yaml",
            ", handles: 16 L/min}",
            ", handles: 25 L/min}",
            [("filter-overloaded", "tank overflow"), ("unfiltered-path", "side drain")],
            [("unfiltered-path", "side drain")],
        ),
        (
            "bypass.yaml",
            "herb bed: {holds: plants",
            "herb bed: {holds: biofilter",
            [("filter-overloaded", "tank overflow"), ("unfiltered-path", "side drain")],
            [("filter-overloaded", "tank overflow")],
        ),
        (
            "bypass.yaml",
            "solids filter: {holds: solids filter",
            "solids filter: {holds: biofilter",
            [("filter-overloaded", "tank overflow"), ("unfiltered-path", "side drain")],
            [("filter-overloaded", "tank overflow"), ("no-solids-filter", None)],
        ),
        (
            "wrong_way_round.yaml",
            "bed: {holds: plants",
            "bed: {holds: biofilter",
            [("filter-after-plants", "riser")],
            [],
        ),
        (
            "wrong_way_round.yaml",
            "fish tank: {holds: fish",
            "fish tank: {holds: sump",
            [("filter-after-plants", "riser")],
            [],
        ),
        (
            "wrong_way_round.yaml",
            ", handles: 40 L/min}",
            ", handles: 30 L/min}",
            [("filter-after-plants", "riser")],
            [("filter-after-plants", "riser"), ("filter-overloaded", "bed drain")],
        ),
        (
            "marginal_pump.yaml",
            "bench bed: {holds: plants",
            "bench bed: {holds: biofilter",
            [("no-solids-filter", None)],
            [],
        ),
    ],
)
def test_one_line_brings_or_cures_it(name: str, old: str, new: str, before: list, after: list, tmp_path: Path) -> None:
    assert told(checked(name)) == before
    assert told(changed(name, old, new, tmp_path)) == after


@pytest.mark.invariant
def test_two_vessels_that_change_places_put_the_filter_first(tmp_path: Path) -> None:
    text = (LAYOUTS / "wrong_way_round.yaml").read_text(encoding="utf-8")
    path = tmp_path / "swapped.yaml"
    path.write_text(
        text.replace("holds: plants", "holds: X")
        .replace("holds: solids filter", "holds: plants")
        .replace("holds: X", "holds: solids filter"),
        encoding="utf-8",
    )
    assert told(check(read_layout(path))) == []


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["courtyard.yaml", "gallons.yaml"])
def test_a_small_system_of_media_beds_stays_sound(name: str) -> None:
    """FAO Fisheries and Aquaculture Technical Paper 589, chapter 4: media beds are filters, mechanical and biological."""
    result = checked(name)
    (found,) = [one for one in result.findings if one.kind in KINDS]
    assert (found.kind, found.level, result.verdict) == ("no-solids-filter", "advice", "ok")


@pytest.mark.invariant
def test_a_layout_in_the_order_of_the_fao_paper_has_nothing_to_say(tmp_path: Path) -> None:
    """Fish tank, mechanical filter, biofilter, plants: FAO Fisheries and Aquaculture Technical Paper 589, chapter 4."""
    result = changed("overflow.yaml", "sump: {holds: sump", "sump: {holds: plants", tmp_path)
    assert told(result) == []
    assert result.verdict == "ok"


# ---------------------------------------------------------------------- what is stricter before the filter


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("side", "level", "weight"), [("dirty", "warn", 0.3), (None, "warn", 0.3), ("clean", "advice", 0.1)]
)
def test_slow_water_is_advice_where_it_has_passed_a_filter(side: Side | None, level: str, weight: float) -> None:
    """The whole pipe in use is slow, so the finding costs the whole weight of its case."""
    made = made_layout(walk("return", "vessel bed", [("east", 3)], "vessel tank"))
    (found,) = slow_flow(made, made_flows(made, 0.12), (), {"return 1": side})
    assert (found.level, found.weight) == (level, pytest.approx(weight))
    assert ("behind the solids filter" in found.message) == (side == "clean")


@pytest.mark.invariant
def test_slow_pipe_is_told_in_two_where_dirty_water_joins_it() -> None:
    made = made_layout(
        walk("main", "vessel filter", [("east", 1), ("tee", {"id": "t"}), ("east", 2)], "vessel sump"),
        walk("bypass", "vessel tank", [("south", 1)], "tee t", at=(1.0, 1.0, 0.0)),
    )
    found = slow_flow(made, made_flows(made, 0.12), (), {"main 1": "clean", "main 2": "dirty", "bypass 1": "dirty"})
    assert sorted((one.line, one.start, one.stop, one.level) for one in found) == [
        ("bypass", 0.0, 1.0, "warn"),
        ("main", 0.0, 1.0, "advice"),
        ("main", 1.0, 3.0, "warn"),
    ]


@pytest.mark.invariant
def test_a_filter_in_the_tangle_forgives_its_slow_return(tmp_path: Path) -> None:
    def levels(result: CheckResult) -> dict[str | None, str]:
        return {one.line: one.level for one in result.findings if one.kind == "slow-flow"}

    assert levels(checked("tangle.yaml")) == {"overflow": "warn", "filter return": "advice"}
    without = changed("tangle.yaml", "swirl filter: {holds: solids filter", "swirl filter: {holds: biofilter", tmp_path)
    assert levels(without) == {"overflow": "warn", "filter return": "warn"}


@pytest.mark.second_method
def test_what_a_filter_of_a_tenth_of_a_millimetre_lets_through_sinks_slowly() -> None:
    """Stokes' law, v = g (ρs − ρ) d²/(18 μ), at 20 °C (density and viscosity by IAPWS), for the densest fish solids, 1190 kg/m³ (World Aquaculture
    Society abstract): a sixteenth of the 1.7 cm/s that the limits hold for fish solids; and u* = V √(f/8) at 0.1 m/s keeps such grains up
    throughout, Rouse number v/(0.4 u*) under 0.8 (from memory), in all pipe that is sold for this."""
    sinks = 9.80665 * (1190.0 - 998.2) * 0.1e-3**2 / (18.0 * 1.0016e-3)
    assert sinks == pytest.approx(1.04e-3, rel=5e-3)
    assert catalogue.limits()["settling speed"].value / sinks == pytest.approx(16, abs=0.5)
    for bore in (0.02, 0.05, 0.1):
        drag = math.sqrt(wall_shear(0.1 * math.pi / 4 * bore**2, bore, 1.5e-6, 998.2, 1.0016e-3) / 998.2)
        assert sinks / (0.4 * drag) < 0.8, bore


# ---------------------------------------------------------------------- what a filter handles


@pytest.mark.pinned
def test_an_overloaded_filter_is_told_with_its_numbers() -> None:
    result = checked("bypass.yaml")
    (found,) = [one for one in result.findings if one.kind == "filter-overloaded"]
    got = result.flows.vessels["solids filter"].inflow * 60_000.0
    assert f"'solids filter' gets {got:.1f} L/min and handles 16.0 L/min at most" in found.message
    assert f"{got / 16.0 - 1.0:.0%} too much" in found.message
    assert found.cure.startswith(
        f"send {got - 16.0:.1f} L/min less through it, or put a second filter beside 'solids filter'"
    )


@pytest.mark.invariant
@pytest.mark.parametrize(("share", "over"), [(0.999, True), (1.001, False)])
def test_just_what_it_gets_is_not_too_much(share: float, over: bool, tmp_path: Path) -> None:
    got = checked("bypass.yaml").flows.vessels["solids filter"].inflow * 60_000.0
    result = changed("bypass.yaml", "handles: 16 L/min", f"handles: {got * share!r} L/min", tmp_path)
    assert ("filter-overloaded" in {one.kind for one in result.findings}) == over


@pytest.mark.pinned
@pytest.mark.parametrize("said", ["0 L/min", "-3 L/min", "40 L", "much"])
def test_what_is_no_flow_is_refused(said: str, tmp_path: Path) -> None:
    with pytest.raises(LayoutError, match="handles"):
        changed("bypass.yaml", "handles: 16 L/min", f"handles: {said}", tmp_path)


# ---------------------------------------------------------------------- what is printed


@pytest.mark.pinned
def test_json_tells_side_and_what_a_vessel_handles(capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", str(LAYOUTS / "bypass.yaml"), "--json"])
    found = json.loads(capsys.readouterr().out)
    assert {one["id"]: one["side"] for one in found["stretches"]} == checked("bypass.yaml").upkeep.sides
    assert {
        name: one["handles_l_min"] for name, one in found["vessels"].items() if one["handles_l_min"] is not None
    } == {"solids filter": pytest.approx(16.0)}


@pytest.mark.pinned
def test_the_table_of_stretches_tells_the_side(capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", str(LAYOUTS / "overflow.yaml"), "--all"])
    rows = capsys.readouterr().out.split("Does it carry its solids")[1].splitlines()
    said = {row.split("  ")[0].strip(): "dirty" in row for row in rows if "overflow " in row and "steps" in row}
    assert said == {"tank overflow": True, "filter overflow": False, "biofilter overflow": False}


@pytest.mark.invariant
@pytest.mark.slow(30)
@pytest.mark.parametrize("name", ["bypass.yaml", "wrong_way_round.yaml"])
def test_the_redesign_goes_on_where_it_can_do_nothing_about_them(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its changes are of pipe; that the treatment is in the wrong order is still said of what it writes."""
    new = tmp_path / "new.yaml"
    assert main(["redesign", str(LAYOUTS / name), "--margin", "70%", "-o", str(new)]) in (0, 2)
    capsys.readouterr()
    if new.exists():
        assert told(check(read_layout(new)))


INLINE = """\
vessels:
  tank: {{holds: fish, base: 0 m, rim: 1.2 m, water: 1 m, area: 2 m^2}}
  bed: {{holds: plants, base: 1.3 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2}}
pumps: {{lift: {{in: tank, curve: [[0 L/min, 6 m], [60 L/min, 1 m]]}}}}
lines:
  feed: {{pipe: pvc 32, from: lift, route: [{{up: 0.5 m}}, {part}, {{up: 1 m}}, elbow, {{east: 1 m}}], to: bed}}
  {more}
  drain: {{pipe: pvc 50, from: {{vessel: bed, standpipe: 0.2 m}}, route: [{{down: 0.4 m}}], to: tank}}
"""


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("part", "kinds"),
    [
        ("bead filter: {loses: 0.4 m, at: 40 L/min}", set()),
        ("drum filter: {id: drum, loses: 0.4 m, at: 40 L/min}", set()),
        ("uv lamp: {loses: 0.4 m, at: 40 L/min}", {"no-solids-filter"}),
        ("strainer", {"no-solids-filter"}),
        ("media tower: {loses: 0.4 m, at: 40 L/min}", {"no-solids-filter"}),
    ],
)
def test_a_filter_that_takes_solids_out_counts_where_it_stands(read_text: ReadText, part: str, kinds: set[str]) -> None:
    layout = read_text(INLINE.format(part=part, more=""))
    flows = find_flows(layout)
    asked = {"no-solids-filter", "unfiltered-path", "filter-after-plants"}
    assert {finding.kind for finding in treatment(layout, flows)} & asked == kinds
    assert sides(layout, flows)["drain.1"] == ("clean" if not kinds else "dirty")


@pytest.mark.invariant
def test_a_way_round_a_filter_in_the_line_is_told(read_text: ReadText) -> None:
    """A by-pass from before the filter to the bed."""
    text = INLINE.format(
        part="tee: {id: t, K: 0}, {up: 0.1 m}, bead filter: {id: beads, loses: 0.4 m, at: 40 L/min}",
        more="round: {pipe: pvc 32, from: t, route: [{west: 0.2 m}, elbow, {up: 1.2 m}], to: bed}",
    )
    layout = read_text(text)
    (told,) = [one for one in treatment(layout, find_flows(layout)) if one.kind == "unfiltered-path"]
    assert "round" in told.message
    assert "'beads'" in told.cure
