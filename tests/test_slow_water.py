"""The slow model against closed forms and printed values, so that it may be held against the program."""

from __future__ import annotations

import json
import math
from itertools import pairwise

import pytest
import slow_water
from fluids.friction import friction_factor as fluids_friction_factor
from slow_answers import RECORD, SYSTEMS, model
from slow_reader import by_end, slow_system
from slow_water import (
    DENSITY,
    LITRE_MIN,
    NU,
    VISCOSITY,
    Check,
    Crest,
    End,
    G,
    Holes,
    Loss,
    Pump,
    Run,
    Shutter,
    System,
    Vessel,
    Way,
    area_of,
    float_switch,
    float_valve,
    friction_factor,
    speed_head,
    standpipe_head,
    timer,
    wall_head,
)
from water_cases import CASES, Case
from water_days import solved_day
from water_systems import random_answer, solved_system


def drowned(at: str, height: float, bore: float, enters: float = 0.5) -> End:
    """An end without a law of its own, such as a pump's or a hole under much water."""
    return End("intake", at, height, bore, enters)


def air(height: float, bore: float, leaves: float = 1.0) -> End:
    return End("air", "", height, bore, leaves=leaves)


@pytest.mark.parametrize("re", [4000, 1e4, 1e5, 1e6])
@pytest.mark.parametrize("relative", [0.0, 1e-4, 1e-2])
@pytest.mark.second_method
def test_colebrook_against_the_fluids_library(re: float, relative: float) -> None:
    assert friction_factor(re, relative) == pytest.approx(fluids_friction_factor(re, relative), rel=1e-9)


@pytest.mark.invariant
def test_friction_has_no_jump() -> None:
    for re in (2300.0, 4000.0):
        low, high = (friction_factor(re * (1 + d), 1e-3) * re**2 for d in (-1e-9, 1e-9))
        assert high == pytest.approx(low, rel=1e-6)


@pytest.mark.published
def test_standpipe_of_bs_en_12056() -> None:
    """BS EN 12056-3 (from memory): D 100 mm, h 50 mm carries 4.714 L/s, h 30 mm 2.191 L/s."""
    assert standpipe_head(4.714e-3, 0.1) == pytest.approx(0.050, rel=1e-3)
    assert standpipe_head(2.191e-3, 0.1) == pytest.approx(0.030, rel=1e-3)


@pytest.mark.invariant
def test_a_mouth_in_a_wall_rises_all_the_way() -> None:
    """And its weir's foot is the critical depth of a slow stream: from the elements of a circle, y/D 0.25 has A/D² 0.1535,
    T/D 0.8660, so Q/√(gD⁵) = √(0.1535³/0.8660) = 0.0646 (Chow 1959, table of section factors, from memory)."""
    heads = [wall_head(q * 1e-5, 0.05, 0.5) for q in range(1, 500)]
    assert all(b > a for a, b in pairwise(heads))
    assert wall_head(0.0646 * math.sqrt(G * 0.1**5), 0.1, 0.0) + 0.05 == pytest.approx(
        0.025 + 0.1535 / 0.866 / 20, rel=2e-3
    )


@pytest.mark.second_method
def test_emptying_by_torricelli() -> None:
    """Through a hole the level falls from h1 to h2 in 2A(√h1 − √h2)/(C a √2g) (Torricelli; any textbook)."""
    bore, area, k = 0.02, 0.5, 1.7
    vessel = Vessel(0.0, area, 1.0)
    tank = System({"tank": vessel}, [Way("hole", drowned("tank", 0.0, bore, k - 1), air(0.0, bore))])
    c = area_of(bore) * math.sqrt(2 * G / k)
    tank.run(2 * area * (1 - 0.5) / c, step=0.25)
    assert vessel.level == pytest.approx(0.25, abs=2e-4)
    assert tank.water() + tank.lost == pytest.approx(area, rel=1e-12)


@pytest.mark.second_method
def test_falling_head_through_a_long_pipe() -> None:
    """Quasi-steady emptying by a long pipe with V²/2g (1 + K + fL/D) = h: 2A(√h1 − √h2)/(a √(2g/(1.5 + fL/D))) with f held,
    as textbooks do; here the pipe is so rough and the flow so fast that f moves little, and is taken at the mean."""
    bore, area, length, roughness = 0.05, 2.0, 30.0, 2.5e-3
    vessel = Vessel(0.0, area, 3.0)
    tank = System(
        {"tank": vessel},
        [Way("pipe", drowned("tank", 0.0, bore), air(0.0, bore), [Run(length, bore, roughness)])],
    )
    f = friction_factor(60_000, roughness / bore)
    c = area_of(bore) * math.sqrt(2 * G / (1.5 + f * length / bore))
    tank.run(2 * area * (math.sqrt(3.0) - math.sqrt(1.5)) / c, step=0.5)
    assert vessel.level == pytest.approx(1.5, abs=0.005)


@pytest.mark.second_method
def test_two_joined_tanks_come_level() -> None:
    """Tanks of areas A and B joined by a pipe of loss K: the difference z goes as √z0 − √z = t C (1/A + 1/B)/2."""
    bore, k = 0.04, 1.5
    left, right = Vessel(0.0, 1.0, 0.9), Vessel(0.0, 3.0, 0.5)
    pair = System(
        {"left": left, "right": right},
        [Way("join", drowned("left", 0.1, bore), drowned("right", 0.1, bore))],
    )
    c = area_of(bore) * math.sqrt(2 * G / k)
    pair.run((math.sqrt(0.4) - math.sqrt(0.1)) / (c * (1 + 1 / 3) / 2), step=0.1)
    assert left.level - right.level == pytest.approx(0.1, abs=2e-4)
    assert pair.water() == pytest.approx(0.9 + 1.5, rel=1e-12)
    pair.settle()
    assert left.level == pytest.approx(0.6, abs=1e-6)
    assert right.level == pytest.approx(0.6, abs=1e-6)


@pytest.mark.published
def test_three_reservoirs(monkeypatch: pytest.MonkeyPatch) -> None:
    """White, Fluid Mechanics, Ex. 6.18 (inputs from memory): 52.8 m³/h leave the junction, 47.0 and 5.8 come; it stands at
    34.53 m after a few rounds of hand iteration; ν is 1.02e-6."""
    monkeypatch.setattr(slow_water, "NU", 1.02e-6)
    sizes = {"a": (100.0, 0.08, 0.24e-3, 20.0), "b": (150.0, 0.06, 0.12e-3, 100.0), "c": (80.0, 0.04, 0.2e-3, 40.0)}
    ways = [
        Way(n, End("intake", n, 0, d, 0.0, 0.0), End("place", "j"), [Run(length, d, e)])
        for n, (length, d, e, _) in sizes.items()
    ]
    three = System({n: Vessel(0.0, 1.0, z, held=True) for n, (*_, z) in sizes.items()}, ways, ("j",))
    heads = {"j": 40.0}
    flows = {n: q * 3600 for n, q in three.flows(three.levels(), heads).items()}
    assert flows["a"] == pytest.approx(-52.8, abs=0.05)
    assert flows["b"] == pytest.approx(47.0, abs=0.05)
    assert flows["c"] == pytest.approx(5.8, abs=0.05)
    assert heads["j"] == pytest.approx(34.53, abs=0.015)


@pytest.mark.invariant
def test_two_equal_standpipes_share() -> None:
    bed = Vessel(1.0, 1.0, 1.15, supply=20 * LITRE_MIN)
    ways = [Way(n, End("standpipe", "bed", 1.2, 0.043), air(0.5, 0.043), [Run(0.7, 0.043)]) for n in ("left", "right")]
    flows = System({"bed": bed}, ways).settle()
    assert flows["left"] == pytest.approx(10 * LITRE_MIN, rel=1e-7)
    assert flows["right"] == pytest.approx(10 * LITRE_MIN, rel=1e-7)
    assert bed.level == pytest.approx(1.2 + standpipe_head(10 * LITRE_MIN, 0.043), abs=1e-9)


@pytest.mark.invariant
def test_an_open_vent_lifts_the_water_to_it() -> None:
    """A straight pump curve against a vent's height alone: H0 (1 − Q/Qm) = lift, less the pipe's loss."""
    sump, bed = Vessel(0.0, 1.0, 0.5, held=True), Vessel(0.5, 1.0, 0.7, held=True)
    for vent, lift in ((2.0, 1.5), (None, 0.5)):
        crest = [Crest(vent)] if vent else []
        way = Way(
            "riser",
            drowned("sump", 0.1, 0.026),
            End("drowned", "bed", 1.0, 0.026, leaves=0.0),
            [Pump([(0, 2.0), (40 * LITRE_MIN, 0.0)]), *crest],
        )
        flow = System({"sump": sump, "bed": bed}, [way]).flows({"sump": 0.5, "bed": 0.7})["riser"]
        head = 2.0 * (1 - flow / (40 * LITRE_MIN)) - 0.5 * speed_head(flow, 0.026)
        assert head == pytest.approx(lift, abs=1e-9)


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_water_is_kept_through_a_day_of_everything() -> None:
    """A bell siphon, a timer, a float switch and a float valve: what is in vessels, added and lost add up to 1e-9."""
    pump = Pump([(0, 3.0), (30 * LITRE_MIN, 0.0)])
    back = Pump([(0, 3.0), (30 * LITRE_MIN, 0.0)])
    shut = Shutter()
    vessels = {
        "sump": Vessel(0.0, [(0.0, 0.3), (0.3, 0.5)], 0.4, rim=0.6),
        "bed": Vessel(1.0, 0.8, 1.1, rim=0.3),
        "pit": Vessel(-1.0, 0.2, -0.7),
    }
    ways = [
        Way("feed", drowned("sump", 0.05, 0.02), End("drowned", "bed", 1.3, 0.02), [pump, Check(), Run(2.0, 0.02)]),
        Way("siphon", End("siphon", "bed", bore=0.026), air(0.5, 0.026), [Run(0.8, 0.026)], crest=1.2, breaks=1.03),
        Way("leak", drowned("bed", 1.0, 0.004), End("drowned", "sump", 0.5, 0.004), [shut]),
        Way("spill", End("wall", "sump", 0.5, 0.05), End("drowned", "pit", 0.4, 0.05)),
        Way("lift", drowned("pit", -0.9, 0.02), End("drowned", "sump", 0.55, 0.02), [back, Run(2.0, 0.02)]),
    ]
    devices = [
        timer([pump], 900, 1800),
        timer([shut], 1000, 777),
        float_switch([back], "pit", -0.8, -0.6, on_above=True),
        float_valve(vessels["sump"], "sump", 0.3, 5 * LITRE_MIN),
    ]
    system = System(vessels, ways, devices=devices)
    start, seen = system.water(), []
    system.run(6 * 3600, step=5.0, watch=lambda t, s, f: seen.append(s.water() + s.lost - s.added))
    assert max(abs(w - start) for w in seen) < 1e-9 * start
    assert system.added > 0.05
    assert system.lost > 0.05


@pytest.mark.invariant
def test_halving_the_step_changes_little() -> None:
    """A siphon bed's cycles: the fifth break comes at the same time to a part in three hundred."""
    times = []
    for step in (1.0, 0.5):
        bed = Vessel(1.0, 0.5, 1.0, rim=0.3, supply=8 * LITRE_MIN)
        way = Way("siphon", End("siphon", "bed", bore=0.02), air(0.4, 0.02), [Run(0.9, 0.02)], crest=1.2, breaks=1.03)
        system, broke, was = System({"bed": bed}, [way]), [], [False]

        def watch(t: float, s: System, f: dict, way: Way = way, broke: list = broke, was: list = was) -> None:
            if was[0] and not way.primed:
                broke.append(t)
            was[0] = way.primed

        system.run(4 * 3600, step=step, watch=watch)
        times.append(broke[4])
    assert times[0] == pytest.approx(times[1], rel=1 / 300)


@pytest.mark.slow(2)
@pytest.mark.second_method
def test_settling_is_where_small_steps_end() -> None:
    """Three joined troughs with a supply and a standpipe: implicit steps and small explicit ones end alike."""

    def troughs() -> System:
        vessels = {
            "a": Vessel(0.0, 0.5, 0.34, supply=12 * LITRE_MIN),
            "b": Vessel(0.0, 0.5, 0.32),
            "c": Vessel(0.0, 0.5, 0.30),
        }
        join = [Run(0.3, 0.043)]
        ways = [
            Way("ab", drowned("a", 0.1, 0.043), drowned("b", 0.1, 0.043), join),
            Way("bc", drowned("b", 0.1, 0.043), drowned("c", 0.1, 0.043), join),
            Way("out", End("standpipe", "c", 0.3, 0.043), air(-0.3, 0.043), [Run(0.6, 0.043)]),
        ]
        return System(vessels, ways)

    fast, slow = troughs(), troughs()
    flows = fast.settle()
    slow.run(3 * 3600, step=0.5)
    assert all(q == pytest.approx(12 * LITRE_MIN, rel=1e-6) for q in flows.values())
    for name, vessel in fast.vessels.items():
        assert slow.vessels[name].level == pytest.approx(vessel.level, abs=1e-5)
    assert fast.vessels["c"].level == pytest.approx(0.3 + standpipe_head(12 * LITRE_MIN, 0.043), abs=1e-8)


@pytest.mark.invariant
def test_the_water_is_that_of_the_cases() -> None:
    assert NU == VISCOSITY / DENSITY
    assert Loss(1.0, 0.05).rise(1e-3, 0.0) == pytest.approx(speed_head(1e-3, 0.05))
    assert Holes(1e-4, 10.0).rise(5e-5, 0.0) == pytest.approx(2.5)


@pytest.mark.second_method
@pytest.mark.parametrize("case", [case for case in CASES if case.slow], ids=lambda case: case.name)
def test_the_cases_say_what_the_slow_model_says(case: Case) -> None:
    """To what is printed of each number; the tolerances of a case are for others."""
    system = slow_system(case.text, airy=case.airy, vented=case.vented)
    water = system.water()
    flows = {end: q / LITRE_MIN for end, q in by_end(system, system.settle()).items()}
    for end, flow in case.flows.items():
        assert flows[end] == pytest.approx(flow, rel=2e-3, abs=2e-3), end
    for vessel, level in case.levels.items():
        assert system.vessels[vessel].level == pytest.approx(
            level, abs=max(1e-3, case.level_within if case.level_within > 0.01 else 0)
        ), vessel
    closed = not any(way.second.kind == "air" for way in system.ways) and not system.draws
    if closed and not any(vessel.held for vessel in system.vessels.values()):
        assert system.water() == pytest.approx(water, rel=1e-9)


@pytest.mark.second_method
@pytest.mark.parametrize("case", [case for case in CASES if case.both], ids=lambda case: case.name)
def test_what_is_in_doubt_is_answered_both_ways(case: Case) -> None:
    end, broken, full = case.both
    for airy, flow in (((end.rpartition(".")[0],), broken), ((), full)):
        system = slow_system(case.text, airy=airy)
        assert by_end(system, system.settle())[end] / LITRE_MIN == pytest.approx(flow, rel=2e-3)


@pytest.mark.second_method
@pytest.mark.parametrize("seed", [0, 1, 2, 5, 6, 8])
def test_random_systems_are_at_rest_by_brackets_too(seed: int) -> None:
    """Flows found one by one in brackets from the settled levels and heads, not by Newton's method, leave each vessel and each
    inner place as it is. (Not so beside a vent, where the head is the vent's height whatever flows.)"""
    system = slow_system(random_answer(seed).text)
    system.settle()
    levels, heads = system.levels(), system.heads
    flows = {way.name: system._one(way, levels, heads) for way in system.ways}
    assert max(abs(gain) for gain in system.net(levels, flows).values()) < 0.01 * LITRE_MIN
    assert max([abs(system._excess(place, levels, heads)) for place in system.places], default=0.0) < 0.01 * LITRE_MIN


@pytest.mark.invariant
def test_a_closed_loop_keeps_its_water() -> None:
    system = slow_system(random_answer(6).text)
    water = system.water()
    system.settle()
    assert system.water() == pytest.approx(water, abs=1e-6)


@pytest.mark.invariant
def test_the_record_is_of_the_model_as_it_is() -> None:
    """Else `python tests/slow_answers.py` writes it anew; until then each answer is worked out where it is asked for."""
    assert json.loads(RECORD.read_text(encoding="utf-8"))["model"] == model()


@pytest.mark.second_method
@pytest.mark.slow
def test_the_record_says_what_the_model_says() -> None:
    answers = json.loads(RECORD.read_text(encoding="utf-8"))["answers"]
    for seed in SYSTEMS[::12]:
        kept, found = answers[f"system {seed}"], solved_system(seed)
        assert kept["attempt"] == found["attempt"]
        assert kept["flows"] == pytest.approx(found["flows"], rel=1e-6, abs=1e-6)
        assert kept["levels"] == pytest.approx(found["levels"], rel=1e-6)
    kept, found = answers["day 2"], solved_day(2)
    assert kept["attempt"] == found["attempt"]
    for what, value in kept["course"].items():
        assert value == pytest.approx(found["course"][what], rel=1e-6, abs=1e-6), what
