"""The routine: the least work, in the order of the flow, and the wall card made of it."""

from __future__ import annotations

import json
from itertools import chain, combinations
from pathlib import Path

import pytest
from checks import checked
from conftest import ReadText
from hypothesis import example, given, settings
from hypothesis import strategies as st

from plumbline import CheckResult, check, read_layout
from plumbline.catalogue import routine_times
from plumbline.cli import main
from plumbline.layout.readings import measure_for
from plumbline.report.card import card_words
from plumbline.report.json import as_json
from plumbline.units import Units
from plumbline.upkeep.card import WallCard, wall_card, wash_jobs
from plumbline.upkeep.cover import least_jobs
from plumbline.upkeep.downstream import down_the_flow
from plumbline.upkeep.flushing import flush_ways
from plumbline.upkeep.intervals import length, subtract, union
from plumbline.upkeep.routine import WashJob, plan_routine

LAYOUTS = Path(__file__).parent.parent / "layouts"
TIMES = {name: row.value for name, row in routine_times().items()}


def card(name: str, **said: float) -> WallCard:
    result = checked(name)
    return wall_card(result.layout, result.flows, result.upkeep, **said)  # type: ignore[arg-type]


# ---------------------------------------------------------------------- the least work


@st.composite
def rounds(
    draw: st.DrawFn,
) -> tuple[list[float], list[set[int]], list[list[str]], dict[str, float], list[float], float]:
    pieces = draw(st.integers(1, 5))
    count = draw(st.integers(1, 7))
    opening = {name: draw(st.integers(0, 5)) * 1.0 for name in "abc"}
    cleans = [draw(st.sets(st.integers(0, pieces - 1), min_size=1)) for _ in range(count)]
    cleans[0] |= set(range(pieces)) - set().union(*cleans)
    places = [draw(st.lists(st.sampled_from("abc"), max_size=2, unique=True)) for _ in range(count)]
    minutes = [draw(st.integers(1, 9)) * 1.0 for _ in range(count)]
    lengths = [draw(st.integers(1, 9)) * 0.5 for _ in range(pieces)]
    return minutes, cleans, places, opening, lengths, draw(st.sampled_from([1.0, 0.8, 0.5]))


@pytest.mark.slow(1)
@pytest.mark.second_method
@given(rounds())
@example(([3.0, 2.0, 2.0, 1.0], [{0}, {0}, {0, 1}, {1, 2}], [[], [], [], []], {"a": 0.0}, [2.5, 0.5, 2.0], 0.5))
@settings(max_examples=120)
def test_no_choice_of_jobs_takes_less_time(
    given_round: tuple[list[float], list[set[int]], list[list[str]], dict[str, float], list[float], float],
) -> None:
    """Every choice is tried."""
    minutes, cleans, places, opening, lengths, share = given_round

    def time(chosen: tuple[int, ...]) -> float:
        return sum(minutes[n] for n in chosen) + sum(opening[p] for p in {p for n in chosen for p in places[n]})

    def enough(chosen: tuple[int, ...]) -> bool:
        clean = set().union(*(cleans[n] for n in chosen)) if chosen else set()
        return sum(lengths[n] for n in clean) >= share * sum(lengths) - 1e-9

    every = chain.from_iterable(combinations(range(len(minutes)), size) for size in range(len(minutes) + 1))
    best = min(time(chosen) for chosen in every if enough(chosen))
    found, proven = least_jobs(minutes, cleans, places, opening, lengths, share=share)
    assert proven
    assert enough(tuple(found))
    assert time(tuple(found)) == pytest.approx(best, abs=1e-6)


@pytest.mark.second_method
def test_what_is_given_is_kept_and_counts() -> None:
    minutes, cleans, places = [1.0, 5.0, 1.0], [{0}, {0, 1}, {1}], [["a"], ["a"], ["a"]]
    assert least_jobs(minutes, cleans, places, {"a": 1.0}, [1.0, 1.0])[0] == [0, 2]
    assert least_jobs(minutes, cleans, places, {"a": 1.0}, [1.0, 1.0], given=[1])[0] == [1]
    assert least_jobs(minutes, cleans, places, {"a": 1.0}, [], given=[2, 1])[0] == [1, 2]


# ---------------------------------------------------------------------- rounds on layouts

EVERY = sorted(path.stem for path in LAYOUTS.glob("*.yaml"))


@pytest.mark.some(1)
@pytest.mark.few
@pytest.mark.second_method
@pytest.mark.parametrize("name", EVERY)
def test_the_full_round_cleans_all_that_rods_reach(name: str) -> None:
    result = checked(name)
    routine = plan_routine(result.layout, result.flows, result.upkeep.pushes, [], {})
    assert routine.proven
    for line, reached in result.upkeep.reached.items():
        assert (
            length(
                subtract(
                    reached,
                    union((low, high) for job in routine.visits[-1].jobs for low, high in job.cleans.get(line, ())),
                    slack=1e-5,
                )
            )
            == 0.0
        )
    reach = sum(length(pieces) for pieces in result.upkeep.reached.values())
    whole = sum(line.length for line in result.layout.lines.values())
    assert routine.cleaned == pytest.approx(reach / whole, abs=1e-4)
    left = sum(length(pieces) for pieces in routine.left.values())
    assert left + routine.cleaned * whole == pytest.approx(whole, abs=1e-4)


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", EVERY)
def test_each_job_is_one_that_its_rod_can_do(name: str) -> None:
    result, found = checked(name), card(name)
    rods = {rod.name: rod for rod in result.layout.rods}
    for visit in found.routine.visits:
        for job in visit.jobs:
            assert job.kind == "rod"
            push = next(p for p in result.upkeep.pushes if (p.access, p.tool) == (job.places[0], job.tool))
            assert 0.0 < job.rod_m <= rods[push.rod].length + 1e-9
            for line, pieces in job.cleans.items():
                assert length(subtract(pieces, push.covers[line], slack=1e-5)) == 0.0
                for low, high in pieces:
                    needs = [
                        part.need
                        for span in push.spans
                        if span.line == line
                        if (part := span.clip(low, high)) is not None
                    ]
                    assert min(needs) <= job.rod_m + 1e-9


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("name", EVERY)
def test_rounds_follow_the_water_and_hold_the_shorter_ones(name: str) -> None:
    result, found = checked(name), card(name)
    order = down_the_flow(result.layout, result.flows)
    accesses = {access.id: access for access in result.layout.accesses}
    sides = result.upkeep.sides
    for visit in found.routine.visits:
        rank = []
        for job in visit.jobs:
            one = accesses[job.places[0]]
            here = {
                sides[s.id]
                for s in result.layout.stretches
                if s.line == one.line and s.start - 1e-6 <= one.at <= s.stop + 1e-6
            }
            rank.append(("dirty" not in here, order.at(one.line, one.at)))
        assert rank == sorted(rank)
    if len(found.routine.visits) == 2:
        short, long = found.routine.visits
        assert (short.every, long.every) == (TIMES["often"], TIMES["seldom"])
        assert short.minutes < long.minutes
        assert {(job.places, job.tool) for job in short.jobs} <= {(job.places, job.tool) for job in long.jobs}


@pytest.mark.invariant
def test_pipe_that_fouls_is_cleaned_every_month_as_far_as_rods_reach() -> None:
    result = checked("tangle")
    monthly = card("tangle").routine.visits[0]
    done: dict[str, list[tuple[float, float]]] = {}
    for job in monthly.jobs:
        for line, pieces in job.cleans.items():
            done.setdefault(line, []).extend(pieces)
    fouls = [one for one in result.findings if one.kind in ("slow-flow", "dead-leg", "standing-water", "low-point")]
    assert fouls
    for one in fouls:
        assert one.line is not None
        pipe = [
            (
                0.0 if one.start is None else one.start,
                result.layout.lines[one.line].length if one.stop is None else one.stop,
            )
        ]
        reached = subtract(pipe, subtract([(0.0, 1e3)], result.upkeep.reached[one.line]))
        assert length(subtract(reached, union(done.get(one.line, ())), slack=1e-5)) == 0.0


def monthly(result: CheckResult) -> set[str]:
    """The lines of which something is cleaned every month."""
    found = wall_card(result.layout, result.flows, result.upkeep).routine.visits
    return {line for visit in found if visit.every == TIMES["often"] for job in visit.jobs for line in job.cleans}


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_before_the_filter_all_pipe_that_settles_is_cleaned_every_month_and_behind_it_only_what_silts(
    tmp_path: Path,
) -> None:
    """By the limit of 0.867 Pa every run of the chain keeps itself clean; by one of 5 Pa none of the level ones does."""
    assert monthly(checked("overflow")) == set()
    path = tmp_path / "strict.yaml"
    text = (LAYOUTS / "overflow.yaml").read_text(encoding="utf-8")
    path.write_text(f"{text}\nlimits: {{scour shear: 5 Pa}}\n", encoding="utf-8")
    strict = check(read_layout(path))
    assert monthly(strict) == {"tank overflow"}
    path.write_text(
        path.read_text(encoding="utf-8").replace("holds: solids filter", "holds: biofilter"), encoding="utf-8"
    )
    assert monthly(check(read_layout(path))) == {"return", "tank overflow", "filter overflow", "biofilter overflow"}


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("name", EVERY)
def test_pipe_of_the_dirty_side_that_wants_cleaning_is_in_the_monthly_round(name: str) -> None:
    """Stretch by stretch, from what the check's JSON says of it: what a rod reaches of it is cleaned, but for what only an
    opening that would flood the place lets a rod into."""
    result = checked(name)
    told = card(name)
    found = told.routine.visits
    reached_safely: dict[str, list[tuple[float, float]]] = {}
    for push in (push for push in result.upkeep.pushes if not {push.access, push.to} & set(told.left_shut)):
        for line, pieces in push.covers.items():
            reached_safely.setdefault(line, []).extend(pieces)
    done: dict[str, list[tuple[float, float]]] = {}
    for job in (job for visit in found if visit.every == TIMES["often"] for job in visit.jobs):
        for line, pieces in job.cleans.items():
            done.setdefault(line, []).extend(pieces)
    for stretch, row in zip(result.layout.stretches, as_json(result)["stretches"], strict=True):
        if row["side"] == "dirty" and row["carry"]["class"] in ("silts", "carries, settles when off"):
            pipe = [(stretch.start, stretch.stop)]
            reached = subtract(pipe, subtract([(0.0, 1e3)], union(reached_safely.get(stretch.line, ()))))
            assert length(subtract(reached, union(done.get(stretch.line, ())), slack=1e-5)) == 0.0, stretch.id


@pytest.mark.slow(2)
@pytest.mark.pinned
def test_the_card_says_which_side_comes_first(capsys: pytest.CaptureFixture[str]) -> None:
    said = {}
    for name in ("overflow", "courtyard"):
        assert main(["card", str(LAYOUTS / f"{name}.yaml")]) == 0
        said[name] = " ".join(capsys.readouterr().out.split())
    assert (
        "in the order below: what comes before the solids filter first, so that it catches the dirt" in said["overflow"]
    )
    assert "in the order below: it follows the water, so that dirt goes on and not back" in said["courtyard"]


ONE_LINE = """
vessels:
  tank: {base: 0 m, water: 0.5 m, rim: 1 m}
  bed: {base: 1 m, water: 0.2 m, rim: 0.5 m, wants: 10 L/min}
pumps: {lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 0.5 m]]}}
lines:
  feed:
    pipe: pvc 25
    from: lift
    route: [{up: 0.5 m}, {union: u}, {up: 1.5 m}, {cap: {id: c, faces: west}}, {east: 3 m}]
    to: bed
"""


@pytest.mark.second_method
def test_a_round_by_hand(read_text: ReadText) -> None:
    """The union opens the riser both ways, 1.5 m of rod; the level pipe is brushed from its end in the bed without a cap to
    unscrew: (2 + 1.5 + 5) + (2 + 3 + 1) minutes."""
    layout = read_text(ONE_LINE)
    result = check(layout)
    routine = plan_routine(layout, result.flows, result.upkeep.pushes, [], {})
    (visit,) = routine.visits
    assert [(job.places, round(job.rod_m, 6)) for job in visit.jobs] == [(("u",), 1.5), (("feed.to",), 3.0)]
    assert [job.minutes for job in visit.jobs] == pytest.approx([8.5, 6.0])
    assert visit.minutes == pytest.approx(14.5)
    assert routine.cleaned == pytest.approx(1.0)
    # Three fifths need only the longer one.
    (short,) = plan_routine(layout, result.flows, result.upkeep.pushes, [], {}, share=0.6).visits
    assert [job.places for job in short.jobs] == [("feed.to",)]


@pytest.mark.second_method
def test_a_quick_flush_takes_the_place_of_rods_and_comes_last(read_text: ReadText) -> None:
    layout = read_text(ONE_LINE)
    result = check(layout)
    wash = WashJob(("c",), "'c'", "feed", 2.0, {"feed": ((0.0, 2.0),)}, 60.0, 0.04)
    routine = plan_routine(layout, result.flows, result.upkeep.pushes, [wash], {})
    (visit,) = routine.visits
    # The flush, 2 to set up and 1 to run, saves the union; the cap is open for it, and the rod goes in there too.
    assert [(job.kind, job.tool) for job in visit.jobs] == [
        ("rod", "brush on a stiff pole with a 25 mm brush"),
        ("flush", "'c'"),
    ]
    assert [job.places for job in visit.jobs] == [("c",), ("c",)]
    assert [job.minutes for job in visit.jobs] == pytest.approx([2 + 3 + 2, 2 + 1])
    assert visit.water == pytest.approx(0.04)
    slow = WashJob(("c",), "'c'", "feed", 2.0, {"feed": ((0.0, 2.0),)}, 600.0, 0.4)
    routine = plan_routine(layout, result.flows, result.upkeep.pushes, [slow], {})
    assert all(job.kind == "rod" for job in routine.visits[0].jobs)


@pytest.mark.second_method
def test_a_cord_is_pulled_all_the_way_with_both_its_ends_open(
    read_text: ReadText, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """4.5 m between the union and the bed through an elbow: (2 + 4.5 + 5 + 1) minutes, whatever part of it is wanted."""
    text = ONE_LINE.replace("cap: {id: c, faces: west}", "elbow") + "rods: {cord: {like: pull-through cord}}\n"
    layout = read_text(text)
    result = check(layout)
    (push,) = [push for push in result.upkeep.pushes if push.brush == 0.025]
    (visit,) = plan_routine(layout, result.flows, [push], [], {}).visits
    (job,) = visit.jobs
    assert (job.places, job.rod_m) == (("u", "feed.to"), pytest.approx(4.5))
    assert job.minutes == pytest.approx(12.5)
    path = tmp_path / "cord.yaml"
    path.write_text(text, encoding="utf-8")
    assert main(["card", str(path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "From union 'u' to the end of 'feed' in 'bed': pull the cord with a 25 mm brush through" in said


@pytest.mark.pinned
@pytest.mark.parametrize("share", [0.0, -0.1, 1.1])
def test_a_share_that_is_none_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="share"):
        card("courtyard", share=share)


@pytest.mark.second_method
@pytest.mark.slow
def test_the_way_down_the_flow_by_hand(read_text: ReadText) -> None:
    """Feed 5 m to the bed, its drain 1.2 m back; a spur of 2 m hangs on the feed after 1 m."""
    layout = read_text("""
vessels:
  tank: {base: 0 m, water: 0.5 m, rim: 1 m, area: 1 m^2}
  bed: {base: 1 m, water: 0.2 m, rim: 0.5 m, area: 1 m^2}
pumps: {lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 0.5 m]]}}
lines:
  feed: {pipe: pvc 25, from: lift, route: [{up: 1 m}, {tee: t}, {up: 1 m}, sweep, {east: 3 m}], to: bed}
  spur: {pipe: pvc 25, from: t, route: [{north: 2 m}], to: cap end}
  drain: {pipe: pvc 50, to: tank, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 1.2 m}]}
""")
    order = down_the_flow(layout, check(layout).flows)
    assert order.at("feed", 4.0) == pytest.approx(4.0)
    assert order.at("spur", 2.0) == pytest.approx(3.0)
    assert order.at("drain", 0.7) == pytest.approx(5.7)


# ---------------------------------------------------------------------- the card


TWO_PUMPS = """
vessels:
  pond: {{base: -1 m, water: 0.9 m, rim: 1.2 m, area: 4 m^2}}
  bed: {{base: 1 m, water: 0.2 m, rim: 0.5 m, area: 1 m^2}}
pumps:
  jet: {{curve: [[0 L/min, 6 m], [60 L/min, 2 m]]}}
  spare: {{in: pond, height: 0.1 m, curve: [[0 L/min, 4 m], [40 L/min, 1 m]], runs: no}}
lines:
  suction: {{pipe: pvc 32, from: {{vessel: pond, height: 0.3 m}}, route: [foot valve, {{up: {rise}}}, sweep, {{east: 1 m}}, union: priming union], to: jet}}
  feed: {{pipe: pvc 25, from: jet, route: [{{up: 1 m}}, check valve, {{up: 0.3 m}}, {{tee: t}}, {{up: 0.4 m}}, sweep, {{east: 1 m}}], to: bed}}
  aside: {{pipe: pvc 25, from: spare, route: [{{up: 2 m}}, check valve, {{up: 0.3 m}}, sweep, {{east: 0.5 m}}], to: t}}
  drain: {{pipe: pvc 50, to: pond, from: {{vessel: bed, standpipe: 0.2 m}}, route: [{{down: 1.2 m}}]}}
"""


@pytest.mark.invariant
@pytest.mark.parametrize(("rise", "primed"), [("0.8 m", True), ("0.4 m", False)])
def test_a_pump_whose_suction_a_round_opens_is_filled_before_it_is_plugged_in(
    read_text: ReadText, rise: str, primed: bool
) -> None:
    """Where the suction line stands over the pond's water of 0.9 m, opening it lets air in; where it lies under it, water comes by itself."""
    text = TWO_PUMPS.format(rise=rise)
    text = text if primed else text.replace("jet, route: [{up: 1 m}", "jet, route: [{up: 1.4 m}")
    result = check(read_text(text))
    made = wall_card(result.layout, result.flows, result.upkeep, share=1.0)
    opened = {place for visit in made.routine.visits for job in visit.jobs for place in job.places}
    assert ("priming union" in opened) or not primed
    assert made.refill == ({"jet": "suction"} if primed else {})
    said = " ".join(card_words(made).before)
    assert ("Fill 'suction' and the pump 'jet' by hand before it is plugged in again" in said) == primed


@pytest.mark.second_method
def test_a_union_under_water_is_opened_when_the_vessel_is_down_at_it(read_text: ReadText) -> None:
    """By hand: 0.60 m of water, the union 0.10 + 0.25 m over the floor: 0.25 m to take down. What is taken out is kept: tap water has chlorine."""
    layout = read_text("""
vessels:
  sump: {base: 0 m, water: 0.6 m, rim: 0.9 m, area: 1 m^2}
  bed: {base: 1 m, water: 0.2 m, rim: 0.5 m}
pumps: {lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 3 m], [40 L/min, 0.5 m]]}}
lines:
  feed: {pipe: pvc 25, from: lift, route: [{up: 0.25 m}, {union: low}, {up: 0.2 m}, check valve, {up: 1.2 m}], to: bed}
""")
    result = check(layout)
    made = wall_card(result.layout, result.flows, result.upkeep, share=1.0)
    said = [job for _, jobs in card_words(made).visits for job in jobs if "At union 'low'" in job]
    assert said
    assert all("First take 'sump' down by 0.25 m and keep that water." in job for job in said)


@pytest.mark.second_method
def test_a_header_that_empties_itself_is_waited_for(read_text: ReadText) -> None:
    """By hand: the barrel's port stands 0.1 m over its floor and the bed lies under it, so with the pump off 0.5 of its 0.6 m go by themselves. A
    valve that is shut keeps them there."""
    text = """
vessels:
  tank: {base: 0 m, water: 0.6 m, rim: 0.9 m, area: 2 m^2}
  barrel: {holds: header, base: 2 m, water: 0.6 m, rim: 0.8 m, area: 0.3 m^2}
  bed: {base: 1 m, water: 0.2 m, rim: 0.5 m, area: 2 m^2}
pumps: {lift: {in: tank, height: 0.1 m, curve: [[0 L/min, 5 m], [40 L/min, 1 m]]}}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 2.8 m}], to: barrel}
  over: {pipe: pvc 40, from: {vessel: barrel, standpipe: 0.6 m}, route: [{down: 2 m}], to: tank}
  feed: {pipe: pvc 25, from: {vessel: barrel, height: 0.1 m}, route: [{east: 0.4 m}, {union: low}, {east: 0.4 m}, elbow, {north: 0.4 m}, ball valve, {north: 0.1 m}], to: bed}
  drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.8 m}], to: tank}
"""
    for valve, first in (
        ("ball valve", "wait until 'barrel' has run down"),
        ("ball valve: shut", "take 'barrel' down"),
    ):
        result = check(read_text(text.replace("ball valve", valve)))
        made = wall_card(result.layout, result.flows, result.upkeep, share=1.0, cut=result.cut)
        said = [job for _, jobs in card_words(made).visits for job in jobs if "At union 'low'" in job]
        assert said
        assert all(f"First {first} by 0.50 m" in job for job in said)


@pytest.mark.invariant
def test_all_pumps_are_stopped_and_the_one_that_stands_by_is_not_started(read_text: ReadText) -> None:
    result = check(read_text(TWO_PUMPS.format(rise="0.8 m")))
    said = " ".join(card_words(wall_card(result.layout, result.flows, result.upkeep)).before)
    assert said.startswith("Switch all pumps off and pull their plugs ")
    assert "Plug the pumps in again, but not 'spare' that stands by, only when every cap and union is closed" in said
    alone = " ".join(card_words(card("tangle")).before)
    assert alone.startswith("Switch the pump off and pull its plug ")
    assert "Plug the pump in again only when" in alone


@pytest.mark.pinned
def test_the_card_of_the_tangle_can_be_taken_to_the_site(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["card", str(LAYOUTS / "tangle.yaml")]) == 0
    said = capsys.readouterr().out
    assert max(map(len, said.splitlines())) <= 100
    for words in (
        "Before you begin",
        "Every month: about",
        "Every 3 months with these besides: about",
        "[ ]",
        "pull its plug",
        "time what is caught of each",
        "What this card leaves out",
        "compressed air",
        "0.60 m in",
    ):
        assert words in said
    flow = checked("tangle").flows.vessels["herb trough"].inflow
    assert f"'herb feed' into 'herb trough'     12.9 L/min   10 L in {0.01 / flow:.0f} s" in said
    # It falls due when the trough gets no more than the 4 L/min it wants: 10 L in 150 s.
    assert f"{10 / 4 * 60:.0f} s" in said


@pytest.mark.slow(2)
@pytest.mark.pinned
def test_the_longer_round_is_offered(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["card", str(LAYOUTS / "courtyard.yaml")]) == 0
    short = capsys.readouterr().out
    assert "All that can be cleaned, 100% of the pipe, takes about 45 minutes (--share 100%)." in short
    assert main(["card", str(LAYOUTS / "courtyard.yaml"), "--share", "100%"]) == 0
    full = capsys.readouterr().out
    assert "Every 3 months: about 45 minutes" in full
    assert "--share" not in full
    assert full.count("[ ]") > short.count("[ ]")


@pytest.mark.slow(1)
@pytest.mark.pinned
def test_json_is_plain_and_complete(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["card", str(LAYOUTS / "tangle.yaml"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    found = card("tangle")
    assert said["cleaned_fraction"] == found.routine.cleaned
    assert [visit["minutes"] for visit in said["visits"]] == [visit.minutes for visit in found.routine.visits]
    assert said["visits"][0]["jobs"][0]["cleans"] == {"overflow": [[0.0, 0.9]]}
    assert {bucket["vessel"] for bucket in said["buckets"]} == {one.vessel for one in found.buckets}
    assert set(said["left"]) == set(found.routine.left)


@pytest.mark.pinned
@pytest.mark.parametrize("share", ["0", "120%", "-5%", "much", "3 m"])
def test_a_wrong_share_gets_one_sentence(share: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["card", str(LAYOUTS / "courtyard.yaml"), f"--share={share}"])
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert share in told.err


@pytest.mark.pinned
def test_pipe_that_nothing_reaches_gets_a_plain_answer(
    read_text: ReadText, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "shut.yaml"
    path.write_text(
        "vessels: {a: {base: 0 m, water: 1 m}, b: {base: 0 m, water: 0.5 m}}\n"
        "lines: {pipe: {pipe: {bore: 8 mm}, from: {vessel: a, height: 0.1 m}, route: [east: 1 m], to: b}}\n"
    )
    assert main(["card", str(path)]) == 0
    assert "No rod and no flush reaches any of the pipe" in capsys.readouterr().out


@pytest.mark.pinned
def test_a_bucket_is_asked_for_what_a_bucket_holds(capsys: pytest.CaptureFixture[str]) -> None:
    """187 m of 90 mm pipe hold far more, the riser some litres."""
    assert main(["card", str(LAYOUTS / "orchard.yaml")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert said.count("839 L run out of the pipe: see to it first where it may run.") == 2
    assert said.count("4.1 L run out of the pipe: hold a bucket under.") == 2
    assert said.count("run out of the pipe") == 4


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["bubbler", "overflow"])
def test_no_flush_takes_a_cap_off_that_water_stands_over(name: str) -> None:
    """With the pumps off, water would pour out of it before they are plugged in, and nothing stops it: neither the
    check, nor a list of flushes, nor a card has it."""
    result = checked(name)
    under_water = {place for place, spill in result.upkeep.spills.items() if spill.left and not spill.down}
    found = flush_ways(result.layout)
    assert under_water & {opening.id for opening, _ in found.shut}
    assert not any(under_water.intersection(one.id for one in way.opened) for way in found.ways)
    assert under_water.isdisjoint(result.upkeep.flushes)


@pytest.mark.invariant
def test_where_a_flush_is_a_job_its_water_is_led_off(read_text: ReadText) -> None:
    """A card with a flush through a cap says so once; one of rods alone does not."""
    words = "lead it to where water may run, away from people, plugs and cables."
    layout = read_text("""
vessels:
  tank: {base: 0 m, water: 0.5 m, rim: 0.9 m}
  bed: {base: 1 m, water: 0.2 m, rim: 0.5 m}
pumps: {lift: {in: tank, curve: [[0 L/min, 4 m], [70 L/min, 2 m]]}}
lines:
  feed: {pipe: pvc 25, from: lift, route: [{up: 1.1 m}, {tee: t}, {up: 0.5 m}, sweep, {east: 1 m}], to: bed}
  spur: {pipe: pvc 25, from: t, route: [{north: 1 m}, elbow, {west: 0.5 m}], to: cap end}
""")
    result = check(layout)
    made = wall_card(layout, result.flows, result.upkeep, wash_jobs(flush_ways(layout)), share=1.0)
    assert any(job.kind == "flush" for visit in made.routine.visits for job in visit.jobs)
    assert sum(words in line for line in card_words(made).before) == 1
    rods = wall_card(layout, result.flows, result.upkeep, share=1.0)
    assert not any(words in line for line in card_words(rods).before)


@pytest.mark.invariant
@pytest.mark.parametrize("units", [Units(), Units(volume="gal")])
def test_what_is_caught_takes_about_a_minute(units: Units) -> None:
    """From a dripper's 6 L/h to 10 L/min cup, jug and bucket lie a factor of ten apart at most: within √10 of a minute."""
    for flow in (1e-4 / 60.0 * 10.0 ** (step / 16.0) for step in range(33)):
        volume, _ = measure_for(flow, units)
        assert 60.0 / 10.0**0.51 < volume / flow < 60.0 * 10.0**0.51
    assert [measure_for(flow / 60000.0, Units())[0] for flow in (25.0, 0.07)] == [0.010, 0.0001]
