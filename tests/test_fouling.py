"""Fouling with time: published roughness, limits and invariants, and the plain way: write the fouled pipe into a file and read
it again, month by month."""

from __future__ import annotations

import importlib
import itertools
import json
import math
import re
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbline import LayoutError, catalogue, read_layout
from plumbline.check import flushes
from plumbline.cli import main
from plumbline.hydraulics.find import Settled, find_flows, settle
from plumbline.hydraulics.friction import friction_factor
from plumbline.layout.model import Layout, Pipe
from plumbline.upkeep.film import RATES, Film, Growth, film_limit, fouled_pipe, grown, growth, silted
from plumbline.upkeep.follow import cleaned
from plumbline.upkeep.fouled import fouled, inside, pieces_of
from plumbline.upkeep.fouling import Fouling, fouling

ReadText = Callable[[str], Layout]
_folder = tempfile.TemporaryDirectory()
LAYOUTS = Path(__file__).parent.parent / "layouts"
MAINS = Growth(0.3e-3, 2.34, 1.5e-3, 1.0, 2.0, 0.005, 0.35)
"""Sewage mains, "normal"."""

TREE = """
vessels:
  tank: {{base: 0 m, water: 0.85 m}}
  near: {{base: 1.0 m, water: 0.2 m, wants: 9 L/min}}
  far: {{base: 1.1 m, water: 0.2 m, wants: 12.6 L/min}}
pumps:
  lift: {{in: tank, curve: [[0 L/min, 3.0 m], [15 L/min, 2.6 m], [30 L/min, 1.7 m], [40 L/min, 0.6 m]]}}
lines:
  main:
    pipe: {main}
    from: lift
    route: [{{up: 1.6 m}}, elbow, {{east: 3 m, pipe: {main}}}, {{tee: t}}, {{east: 4 m, pipe: {far}}}, elbow, {{north: 2 m, pipe: {far2}}}]
    to: far
  branch:
    pipe: {near}
    from: t
    route: [{{south: 2.5 m}}, elbow, {{east: 1 m, pipe: {near}}}]
    to: near
fouling: {{{fouling}}}
rods: {{none: {{length: 1 mm, bends up to: 1 deg, turns in all: 1 deg, bores: 90 mm to 99 mm}}}}
"""
CLEAN = dict.fromkeys(("main", "far", "far2", "near"), "{bore: 20 mm, roughness: 0.0015 mm}")


def tree(read_text: ReadText, numbers: str = "", pipes: Mapping[str, str] = CLEAN) -> Layout:
    return read_text(TREE.format(fouling=numbers, **pipes))


def foul(layout: Layout, **more: int) -> Fouling:
    return fouling(layout, flushes(layout, find_flows(layout)), **more)  # type: ignore[arg-type]


# ---------------------------------------------------------------------- published


@pytest.mark.published
@pytest.mark.parametrize(
    ("speed", "printed"),
    [(1.0, 0.30), (1.5, 0.15), (2.0, 0.06)],
    ids=str,
)
def test_mains_are_as_in_the_wallingford_tables(speed: float, printed: float) -> None:
    """HR Wallingford, Tables for the hydraulic design of pipes, rising mains, "normal", mm (from memory). They print 0.03, 0.06,
    0.15, 0.3, 0.6, 1.5, 3 and nothing between: a value stands for all from half to twice it."""
    assert 0.7 * printed < film_limit(speed, 0.5, MAINS) * 1e3 < 1.43 * printed


@pytest.mark.published
@pytest.mark.parametrize(("speed", "printed"), [(0.75, 0.6), (1.2, 0.15)])
def test_plastic_sewers_are_as_in_the_wallingford_tables(speed: float, printed: float) -> None:
    """The same tables, plastic slimed to half depth, "normal", mm (from memory)."""
    assert 0.7 * printed < film_limit(speed, 0.5, MAINS) * 1e3 < 1.43 * printed


@pytest.mark.second_method
def test_the_likely_film_drags_as_a_low_slime_does() -> None:
    """Skin friction 50 % up under a low, jelly-like film, 310 % up under long filamentous algae: Andrewartha et al. (2008), WSEAS
    Trans. Fluid Mech. 3, 201 (looked up; a canal's wall). The roughness alone, at 1 m/s in 20 to 27 mm pipe."""
    layout = read_layout(LAYOUTS / "hill_pond.yaml")
    more = {}
    for rate in RATES:
        k = film_limit(1.0, 0.0236, growth(layout, rate))
        clean, slimed = (float(friction_factor(23_600.0, rough / 0.0236)) for rough in (1.5e-6, k))
        more[rate] = slimed / clean - 1.0
    assert more["likely"] == pytest.approx(0.5, abs=0.15)
    assert 0.0 < more["slow"] < 0.5 < more["fast"] < 3.1


@pytest.mark.published
def test_the_fast_film_in_the_light_drags_as_long_algae_do() -> None:
    """Long filaments cost 310 % more friction, a low slime 50 % (Andrewartha et al. 2008; looked up): in smooth pipe of 25 mm at Re 30,000 the slime's
    roughness times the fast factor gives that to a twentieth, by Colebrook's law. What is rougher than Moody's chart is cut off in use."""

    def drag(rough: float) -> float:
        from fluids import friction_factor as colebrook

        return float(colebrook(Re=3e4, eD=rough) / colebrook(Re=3e4, eD=0.0))

    low, high = 1e-5, 0.05
    for _ in range(60):
        low, high = (0.5 * (low + high), high) if drag(0.5 * (low + high)) < 1.5 else (low, 0.5 * (low + high))
    assert drag(low * catalogue.fouling()["film in the light"].values[2]) == pytest.approx(4.1, rel=0.05)


LIT = """
vessels: {tank: {base: 0 m, water: 1 m}, bed: {base: 1 m, rim: 0.3 m, water: 0.2 m, wants: 5 L/min}}
pumps: {lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}}
lines:
  feed: {pipe: hose 19 mm, from: lift, route: [{up: 1.4 m}, elbow, {east: 3 m AROUND}], to: bed}
  back: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.4 m}], to: tank}
"""


@pytest.mark.invariant
def test_clear_pipe_in_the_sun_fouls_faster_and_neither_alone_does(read_text: ReadText) -> None:
    """At the slow rate it is slime as elsewhere; at the others it loses more of the flow."""
    last = {}
    for around in ("", ", sunlit: yes", ", clear: yes", ", sunlit: yes, clear: yes"):
        layout = read_text(LIT.replace(" AROUND", around))
        last[around] = {rate: flows[-1] for rate, flows in fouling(layout, {}, months=12).courses["bed"].flows.items()}
    plain, lit = last[""], last[", sunlit: yes, clear: yes"]
    assert last[", sunlit: yes"] == last[", clear: yes"] == plain
    assert lit["slow"] == plain["slow"]
    assert lit["likely"] < 0.99 * plain["likely"]
    assert lit["fast"] < 0.99 * plain["fast"]


@pytest.mark.second_method
def test_the_fast_film_is_full_grown_in_three_weeks() -> None:
    """Friction settled after 480 to 500 h in synthetic wastewater: Cowle, thesis, Cardiff University, section 3.8 (looked up)."""
    rate = growth(read_layout(LAYOUTS / "hill_pond.yaml"), "fast")
    months = 490.0 / (365.25 * 24.0 / 12.0)
    assert 0.90 < grown(0.0, 1.0, months, rate) < 0.99


# ---------------------------------------------------------------------- the laws


@pytest.mark.invariant
@given(st.floats(0.01, 4.0), st.floats(0.01, 4.0), st.floats(0.01, 0.2))
def test_faster_water_leaves_less_film(a: float, b: float, bore: float) -> None:
    slow, fast = sorted((a, b))
    assert film_limit(fast, bore, MAINS) <= film_limit(slow, bore, MAINS) <= min(MAINS.most, 0.05 * bore)


@pytest.mark.invariant
@given(st.floats(0.0, 1e-3), st.floats(0.0, 1e-3), st.floats(0.0, 50.0))
def test_a_film_goes_towards_its_limit_and_not_past_it(film: float, limit: float, months: float) -> None:
    now = grown(film, limit, months, MAINS)
    assert min(film, limit) - 1e-18 <= now <= max(film, limit) + 1e-18
    # Two halves are the whole.
    half = grown(film, limit, months / 2, MAINS)
    assert grown(half, limit, months / 2, MAINS) == pytest.approx(now, rel=1e-12, abs=1e-18)


@pytest.mark.invariant
def test_a_deposit_stops_at_its_limit_and_a_larger_one_stays() -> None:
    assert silted(0.0, 10.0, MAINS) == pytest.approx(0.05)
    assert silted(0.34, 10.0, MAINS) == 0.35
    assert silted(0.5, 10.0, MAINS) == 0.5


@pytest.mark.invariant
@given(st.floats(0.004, 0.2), st.floats(0.0, 0.05), st.floats(0.0, 0.5), st.sampled_from(RATES))
def test_pipe_never_closes_nor_gets_rougher_than_the_law_knows(
    bore: float, film: float, deposit: float, rate: str
) -> None:
    """Whatever grows, some bore is left and Colebrook's law still speaks for it."""
    row = growth(LAYOUT, rate)
    pipe = fouled_pipe(Pipe("p", bore, 1.5e-6), Film(min(film * bore, row.most), deposit), row)
    assert 0.5 * bore < pipe.bore <= bore
    assert pipe.roughness <= max(0.05 * pipe.bore, 1.5e-6) * (1 + 1e-12)
    assert (pipe.bore < bore) == (film > 0.0 or deposit > 0.0) or film * bore < 1e-15 or deposit < 1e-15


LAYOUT = read_layout(LAYOUTS / "hill_pond.yaml")

# ---------------------------------------------------------------------- the plain way


def plain(read_text: ReadText, numbers: str, rate: Growth, months: int) -> list[dict[str, float]]:
    """Month by month with the pipe written into the file and the file read again: three stretches, each of one pipe."""
    films = dict.fromkeys(CLEAN, 0.0)
    out = []
    for _month in range(months + 1):
        pipes = {}
        for name, k in films.items():
            bore = 0.02 - 2 * rate.thickness * k
            pipes[name] = f"{{bore: {bore * 1e3!r} mm, roughness: {min(0.0015e-3 + k, 0.05 * bore) * 1e3!r} mm}}"
        layout = tree(read_text, numbers, pipes)
        flows = find_flows(layout)
        out.append({name: got.inflow for name, got in flows.vessels.items()})
        stretch = {"main": "main.1", "far": "main.2", "far2": "main.2", "near": "branch.1"}
        for name in films:
            bore = 0.02 - 2 * rate.thickness * films[name]
            speed = abs(flows.stretches[stretch[name]].flow) / (math.pi / 4 * bore**2)
            limit = min(rate.roughness / speed**rate.power, rate.most, 0.05 * 0.02)
            films[name] = limit + (films[name] - limit) * math.exp(-1.0 / rate.months)
    return out


@pytest.mark.some(1)
@pytest.mark.second_method
@pytest.mark.parametrize("rate", RATES)
def test_reading_the_fouled_pipe_from_a_file_each_month_gives_the_same(read_text: ReadText, rate: str) -> None:
    numbers = "deposit a month: 0"
    clean = tree(read_text, numbers)
    months = 8
    slow_way = plain(read_text, numbers, growth(clean, rate), months)
    courses = foul(clean, months=months).courses
    for vessel in ("near", "far"):
        assert courses[vessel].flows[rate] == pytest.approx([month[vessel] for month in slow_way], rel=1e-7)
    assert slow_way[-1]["far"] < 0.97 * slow_way[0]["far"]


FLAT = """
vessels:
  tank: {{base: 0 m, water: 0.85 m}}
  bed: {{base: 0.2 m, water: 0.2 m}}
pumps:
  lift: {{in: tank, height: 0.5 m, curve: [[0 L/min, 0.3 m], [8 L/min, 0.2 m], [15 L/min, 0 m]]}}
lines:
  main: {{pipe: "{pipe}", from: lift, route: [{{east: 30 m}}], to: bed}}
fouling: {{film roughness: 0 mm, deposit a month: 3 %, deposit at most: 50 %}}
"""


@pytest.mark.second_method
def test_deposit_narrows_the_pipe_as_a_file_would_say(read_text: ReadText) -> None:
    """Wide, slow, level pipe and no film: after five months the deposit fills 15 % of the section."""
    wide, left = "{bore: 60 mm, roughness: 0.0015 mm}", 60.0 * math.sqrt(1.0 - 0.15)
    got = foul(read_text(FLAT.format(pipe=wide).replace('"', "")), months=5).courses["bed"].likely
    narrow = f"{{bore: {left!r} mm, roughness: 0.0015 mm}}"
    flows = find_flows(read_text(FLAT.format(pipe=narrow).replace('"', "")))
    assert got[-1] == pytest.approx(flows.vessels["bed"].inflow, rel=1e-9)
    assert got[-1] < got[0]


@pytest.mark.second_method
def test_a_deposit_ends_where_the_water_over_it_is_fast_enough(read_text: ReadText) -> None:
    """At 46 L/min in 60 mm the speed reaches the limit, 0.3 m/s, when a tenth of the section is filled."""
    text = FLAT.replace("[8 L/min, 0.2 m], [15 L/min, 0 m]", "[15 L/min, 0.2 m], [30 L/min, 0 m]")
    result = foul(read_text(text.format(pipe="{bore: 60 mm, roughness: 0.0015 mm}").replace('"', "")), months=20)
    (film,) = result.films
    speed = result.courses["bed"].likely[-1] / (math.pi / 4 * 0.06**2 * (1.0 - film.deposit))
    # A month's deposit is 3 %, so that is how far it can go past the limit.
    assert 0.3 <= speed < 0.3 / 0.97
    assert film.deposit < 0.2


# ---------------------------------------------------------------------- invariants


@pytest.mark.invariant
def test_rates_of_nothing_change_nothing(read_text: ReadText) -> None:
    result = foul(tree(read_text, "film roughness: 0 mm, deposit a month: 0"), months=3)
    for course in result.courses.values():
        for got in (course.low, course.likely, course.high):
            assert got == pytest.approx([course.likely[0]] * 4, rel=1e-12)
    assert result.first is None
    assert result.worst("far") is None
    assert all(film.bore == 1.0 and film.roughness == 0.0 for film in result.films)


@pytest.mark.invariant
@settings(max_examples=8)
@given(st.floats(0.01, 1.0), st.floats(0.1, 3.0), st.floats(0.1, 10.0), st.floats(0.0, 0.1))
def test_fouling_never_gives_the_pump_more_to_do(film: float, thick: float, months: float, silt: float) -> None:
    """Tees without loss, pipe in the shape of a tree: what the pump moves never rises from month to month while films grow."""
    text = TREE.format(
        fouling=f"film roughness: {film} mm, film thickness: {thick}, film time: {months}, deposit a month: {silt}, "
        "film falls with speed: 0",
        **CLEAN,
    ).replace("{tee: t}", "{tee: {id: t, K: 0}}")
    path = Path(_folder.name) / "tree.yaml"
    path.write_text(text, encoding="utf-8")
    result = foul(read_layout(path), months=4)
    for rate in RATES:
        total = [sum(one) for one in zip(*(result.courses[v].flows[rate] for v in ("near", "far")), strict=True)]
        assert all(after <= before * (1 + 1e-9) for before, after in itertools.pairwise(total))


@pytest.mark.invariant
def test_all_pipe_put_back_gives_the_first_month_again() -> None:
    layout = read_layout(LAYOUTS / "tangle.yaml")
    pieces = pieces_of(layout, [])
    rate = growth(layout, "likely")
    clean = settle(layout, margins=False)
    slimy = settle(fouled(layout, pieces, [Film(1e-4, 0.05)] * len(pieces), rate), near=clean, margins=False)
    again = settle(fouled(layout, pieces, [Film()] * len(pieces), rate), near=slimy, margins=False)
    for name, got in clean.flows.vessels.items():
        assert again.flows.vessels[name].inflow == pytest.approx(got.inflow, rel=1e-8)
        assert abs(slimy.flows.vessels[name].inflow - got.inflow) > 1e-6


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_cleaning_every_month_what_all_rods_reach_keeps_reached_pipe_clean() -> None:
    layout = read_layout(LAYOUTS / "courtyard.yaml")
    result = foul(layout, months=3, every=1)
    never = foul(layout, months=3)
    wanting = [name for name, one in result.courses.items() if one.wanted]
    assert all(result.courses[n].likely[-1] >= never.courses[n].likely[-1] - 1e-12 for n in wanting)
    assert any(result.courses[n].likely[-1] > never.courses[n].likely[-1] + 1e-7 for n in wanting)
    assert all(abs(gain) < 1e-8 for gain in result.all_cleaned.gains.values())


@pytest.mark.invariant
def test_cutting_pipe_where_a_reach_ends_changes_no_flow() -> None:
    layout = read_layout(LAYOUTS / "tangle.yaml")
    cuts = {"tomato feed": ((0.3, 1.1), (2.0, 2.05)), "overflow": ((0.1, 2.0),), "main": ((0.7, 3.3),)}
    whole, cut = pieces_of(layout, []), pieces_of(layout, [cuts])
    assert len(cut) == len(whole) + 8
    rate = growth(layout, "likely")
    films = {name: Film(2e-4, 0.1) for name in layout.lines}
    one, two = (find_flows(fouled(layout, some, [films[p.line] for p in some], rate)) for some in (whole, cut))
    for name, got in one.vessels.items():
        assert two.vessels[name].inflow == pytest.approx(got.inflow, rel=1e-9)
    assert [p.stop - p.start for p in cut if p.line == "tomato feed" and inside(p, {"tomato feed": ((0.3, 1.1),)})] == [
        pytest.approx(0.8)
    ]


@pytest.mark.second_method
def test_blame_and_gain_are_what_putting_it_back_by_hand_gives(read_text: ReadText) -> None:
    """One stretch's pipe clean in a file of its own, the others as fouled."""
    numbers = "deposit a month: 0, film falls with speed: 0, film roughness: 0.2 mm, film time: 0.01, film thickness: 1"
    result = foul(tree(read_text, numbers), months=1)
    dirty = dict.fromkeys(CLEAN, "{bore: 19.6 mm, roughness: 0.2015 mm}")
    now = find_flows(tree(read_text, "", dirty)).vessels["far"].inflow
    assert result.courses["far"].likely[-1] == pytest.approx(now, rel=1e-6)
    for blame in result.blames:
        names = {"main.1": ["main"], "main.2": ["far", "far2"], "branch.1": ["near"]}[blame.stretch]
        part = find_flows(tree(read_text, "", dirty | {name: CLEAN[name] for name in names})).vessels["far"].inflow
        assert blame.gains["far"] == pytest.approx(part - now, rel=1e-4, abs=1e-10)
    gains = {blame.stretch: blame.gains["far"] for blame in result.blames}
    assert gains["main.1"] > 0.0 > gains["branch.1"]
    assert sum(blame.shares["far"] for blame in result.blames) == pytest.approx(1.0)
    worst = result.worst("far")
    assert worst is not None
    assert worst.stretch == max(gains, key=lambda one: gains[one])


@pytest.mark.invariant
def test_the_first_to_fall_short_is_named_with_its_months(read_text: ReadText) -> None:
    result = foul(tree(read_text), months=12)
    first = result.first
    assert first is not None
    course = result.courses[first.vessel]
    for rate in RATES:
        month, wanted = course.short_after[rate], course.wanted or 0.0
        flows = course.flows[rate]
        assert month is None or (flows[month] < wanted <= flows[month - 1])
        assert month is not None or min(flows) >= wanted * (1 - 1e-6)
    months = [course.short_after[rate] or 99 for rate in RATES]
    assert months == sorted(months, reverse=True)


@pytest.mark.pinned
def test_of_two_that_fall_short_the_first_is_named(read_text: ReadText) -> None:
    text = TREE.format(fouling="", **CLEAN).replace("wants: 9 L/min", "wants: 13.75 L/min")
    result = foul(read_text(text), months=12)
    months = {name: one.short_after["likely"] for name, one in result.courses.items()}
    assert (months["near"], months["far"]) == (1, 6)
    assert result.first is result.courses["near"]


@pytest.mark.second_method
def test_a_rod_takes_film_and_deposit_and_a_flush_the_deposit_alone() -> None:
    layout = read_layout(LAYOUTS / "hill_pond.yaml")
    pieces = pieces_of(layout, [])
    lines = list(layout.lines)
    whole = {name: ((0.0, line.length),) for name, line in layout.lines.items()}
    slimy = [Film(1e-4, 0.2)] * len(pieces)
    after = cleaned(pieces, slimy, {lines[0]: whole[lines[0]]}, {lines[1]: whole[lines[1]]})
    for piece, film in zip(pieces, after, strict=True):
        assert film == {lines[0]: Film(), lines[1]: Film(1e-4, 0.0)}.get(piece.line, Film(1e-4, 0.2))


@pytest.mark.invariant
def test_water_that_stands_fouls_nothing() -> None:
    films = {film.stretch: film for film in foul(read_layout(LAYOUTS / "tangle.yaml"), months=1).films}
    assert films["old bed feed.1"].bore == films["spare overflow.1"].bore == 1.0
    assert films["main.1"].bore < 1.0


# ---------------------------------------------------------------------- the file's own numbers


@pytest.mark.pinned
def test_the_file_may_set_its_own_numbers(read_text: ReadText) -> None:
    layout = tree(read_text, "film time: [4, 2, 1], film roughness: 0.1 mm, deposit a month: [0, 1 %, 2 %]")
    assert [growth(layout, rate).months for rate in RATES] == [4.0, 2.0, 1.0]
    assert [growth(layout, rate).roughness for rate in RATES] == [1e-4] * 3
    assert [growth(layout, rate).deposit for rate in RATES] == [0.0, 0.01, 0.02]
    assert growth(layout, "fast").most == pytest.approx(1.5e-3)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("film tim: 3", "film time"),
        ("film time: 0", "above 0"),
        ("film time: [1, 2]", "one value, or three"),
        ("film time: ~", "has no value"),
        ("deposit at most: 300 %", "not above 1"),
        ("film roughness: 3", "unit"),
    ],
)
def test_a_slip_in_them_is_a_fault(read_text: ReadText, said: str, expected: str) -> None:
    with pytest.raises(LayoutError) as error:
        tree(read_text, said)
    assert expected in str(error.value)


@pytest.mark.pinned
@pytest.mark.parametrize("more", [{"months": -1}, {"months": 601}, {"every": 0}])
def test_months_that_cannot_be_are_refused(more: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="months"):
        foul(LAYOUT, **more)


@pytest.mark.invariant
def test_progress_is_told_to_the_end(read_text: ReadText) -> None:
    told: list[tuple[int, int]] = []
    layout = tree(read_text)
    fouling(layout, {}, months=2, progress=lambda done, total: told.append((done, total)))
    assert [done for done, _ in told] == list(range(1, len(told) + 1))
    assert told[-1][0] == told[-1][1]


# ---------------------------------------------------------------------- the command


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["fouling", *arguments]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def written(tmp_path: Path, numbers: str = "", **wants: str) -> str:
    path = tmp_path / "tree.yaml"
    text = TREE.format(fouling=numbers, **CLEAN)
    for name, flow in wants.items():
        text = text.replace({"near": "wants: 9 L/min", "far": "wants: 12.6 L/min"}[name], f"wants: {flow}")
    path.write_text(text, encoding="utf-8")
    return str(path)


@pytest.mark.pinned
def test_the_answer_comes_first(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    lines = said(capsys, written(tmp_path), "--months", "12").replace("\n", " ")
    assert lines.startswith("tree: how it fouls in 12 months 'far' falls under what it wants after 1 to 6 months")
    assert "but at the slow rate not within 12 months" in lines
    assert "Most to blame is 'main', steps 5 to 7: clean, it alone would give back" in lines
    assert "the pipe to blame cannot be reached" in lines
    assert lines.index("falls under") < lines.index("month ") < lines.index("Assumed")


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("numbers", "wants", "expected"),
    [
        ("", {"far": "5 L/min"}, "No vessel falls under what it wants within 6 months, at any rate."),
        (
            "",
            {"far": "20 L/min"},
            "'far' gets too little already, 14.9 L/min in clean pipe; after 6 months it gets 12.5 (",
        ),
        (
            "film time: [90, 90, 1]",
            {},
            "at the fast rate after 1 month, but at the slow and likely rates not within 6 months",
        ),
        (
            "film time: 0.2",
            {},
            "'far' falls under what it wants after 1 to 2 months, but at the slow rate not within 6 months.",
        ),
    ],
)
def test_what_it_says(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, numbers: str, wants: dict[str, str], expected: str
) -> None:
    out = said(capsys, written(tmp_path, numbers, **wants), "--months", "6")
    assert expected in " ".join(out.split())


@pytest.mark.slow(2)
@pytest.mark.invariant
def test_a_screen_of_many_vessels_keeps_its_width(capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, str(LAYOUTS / "ring_main.yaml"), "--months", "2")
    assert max(map(len, out.splitlines())) <= 100
    assert all(line == line.rstrip() for line in out.splitlines())
    rows = [line for line in out.splitlines() if re.match(r"cress +[0-9]", line)]
    assert len(rows) == 1


@pytest.mark.pinned
def test_json_holds_the_months_and_the_blame(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    got = json.loads(said(capsys, written(tmp_path), "--months", "3", "--clean-every", "2", "--json"))
    assert got["months"] == [0, 1, 2, 3]
    assert got["cleaned_every_months"] == 2
    for one in got["vessels"].values():
        by_rate = [one[f"{rate}_l_min"] for rate in RATES]
        assert one["low_l_min"] == [min(month) for month in zip(*by_rate, strict=True)]
        assert one["high_l_min"] == [max(month) for month in zip(*by_rate, strict=True)]
    assert {one["id"] for one in got["stretches"]} == {"main.1", "main.2", "branch.1"}
    assert got["all_accesses"]["access"] is None


@pytest.mark.pinned
@pytest.mark.parametrize("months", ["0", "601", "two", "-3", "1.5"])
def test_months_that_cannot_be_are_refused_in_a_sentence(capsys: pytest.CaptureFixture[str], months: str) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["fouling", "any.yaml", f"--months={months}"])
    assert stop.value.code == 2
    assert f"'{months}' is no number of months from 1 to 600" in capsys.readouterr().err


@pytest.mark.pinned
def test_stopping_it_leaves_no_traceback(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("plumbline.upkeep.fouling.refit", interrupted)
    assert main(["fouling", str(LAYOUTS / "hill_pond.yaml"), "--months", "2"]) == 130
    assert capsys.readouterr() == ("", "stopped\n")


@pytest.mark.pinned
def test_names_tells_how_well_each_number_is_known(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["names", "fouling"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    for row in catalogue.fouling().values():
        assert row.name in out
    assert "no published figure found; assumption" in out


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_air_that_slime_let_in_may_leave_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where air stands elsewhere than in clean pipe, what a cleaning wins is looked for from clean pipe on; from month to month it stays."""
    months_of, gains_of = (importlib.import_module(f"plumbline.upkeep.{name}") for name in ("follow", "fouling"))
    layout, plain = read_layout(LAYOUTS / "courtyard.yaml"), months_of.refit
    aired, begun = frozenset({layout.stretches[0].id}), []

    def month(fouled: Layout, near: Settled) -> Settled:
        begun.append(near.vented)
        return replace(plain(fouled, replace(near, vented=near.vented - aired)), vented=near.vented | aired)

    usual = fouling(layout, {}, months=3)
    monkeypatch.setattr(months_of, "refit", month)
    monkeypatch.setattr(gains_of, "refit", lambda fouled, near: begun.append(near.vented) or plain(fouled, near))
    result = fouling(layout, {}, months=3)
    assert sum(aired <= one for one in begun) == 3 * 2
    assert not any(aired <= one for one in begun[3 * 3 :])
    assert result.all_cleaned.gains == pytest.approx(usual.all_cleaned.gains, abs=1e-9)

    begun.clear()
    fouling(layout, {}, months=3, every=2)
    assert sum(aired <= one for one in begun) == 3
