"""Days of water: beds that flood and drain by siphon or by timer, float valves, float switches, with what the slow model makes
of them.

Each layout is followed for some hours from its written state, pumps and valves with `runs: {on, off}` beginning on at time 0.
Inflows to siphons are such that no book doubts that they catch and break: V/√(gD) over the crest above 1, and under half
of what the full siphon carries where it breaks. When they catch is in doubt, from 0.2 to 0.6 of it: 0.3 is taken, where air no longer
escapes upstream (Wisner 1975); a float valve opens 20 mm below where it shuts (common practice, no source). What is compared is what is not a matter of a step: extremes, counts, amounts.
"""

from __future__ import annotations

import math
import random
import re
from dataclasses import asdict, dataclass, field
from typing import Any

from slow_answers import recorded
from slow_reader import slow_system
from slow_water import G, System, Vessel, area_of

__all__ = ["DAYS", "Course", "Day", "followed", "random_day", "solved_day"]


@dataclass(frozen=True)
class Course:
    """What came of some hours: lowest and highest level of each vessel [m above the datum], how often its water fell through the
    middle between them, how often each pump started and for how many hours it ran, litres added and lost, and where each
    level ends."""

    lowest: dict[str, float] = field(default_factory=dict)
    highest: dict[str, float] = field(default_factory=dict)
    floods: dict[str, int] = field(default_factory=dict)
    starts: dict[str, int] = field(default_factory=dict)
    pump_hours: dict[str, float] = field(default_factory=dict)
    added: float | None = None
    lost: float | None = None
    ends: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Day:
    """A layout, for how long it is followed, what comes of it, and why; `level_within` [m] and `within` (a share) say how near."""

    name: str
    why: str
    text: str
    hours: float
    course: Course
    level_within: float = 0.006
    within: float = 0.03


def followed(text: str, hours: float, *, most: float = 2e-3, step: float = 20.0) -> Course:
    """A layout's hours by the slow model, in steps that move no level by more than `most`."""
    system = slow_system(text)
    seen: dict[str, list[float]] = {name: [] for name in system.vessels}
    names = re.findall(r"^  (\S[^:]*): \{in:", text, re.M)
    pumps = dict(zip(names, (p for w in system.ways for p in w.parts if type(p).__name__ == "Pump"), strict=True))
    was = dict.fromkeys(names, False)
    starts, on, before = dict.fromkeys(names, 0), dict.fromkeys(names, 0.0), [0.0]

    def watch(t: float, now: System, flows: dict[str, float]) -> None:
        for name, vessel in now.vessels.items():
            seen[name].append(vessel.level)
        for name, pump in pumps.items():
            on[name] += (t - before[0]) * was[name]
            starts[name] += pump.on and not was[name]
            was[name] = pump.on
        before[0] = t

    system.run(hours * 3600, step=step, most=most, watch=watch)
    for name in names:
        on[name] += (hours * 3600 - before[0]) * was[name]
    lowest, highest = ({n: pick(levels) for n, levels in seen.items()} for pick in (min, max))
    return Course(
        lowest,
        highest,
        {n: falls(levels) for n, levels in seen.items()},
        starts,
        {n: seconds / 3600 for n, seconds in on.items()},
        system.added * 1e3,
        system.lost * 1e3,
        system.levels(),
    )


def falls(levels: list[float]) -> int:
    """How often a level fell from above three quarters of its reach to below a quarter."""
    low, high = min(levels), max(levels)
    count, up = 0, False
    for level in levels:
        if level > low + 0.75 * (high - low):
            up = True
        elif up and level < low + 0.25 * (high - low):
            count, up = count + 1, False
    return count if high - low > 0.02 else 0


def pipe(bore: int) -> str:
    """A smooth pipe."""
    return f"{{bore: {bore} mm, roughness: 0.0015 mm}}"


HEAD = "water: {density: 998 kg/m^3, viscosity: 1.002e-3 Pa s}\n"


def random_day(seed: int) -> Day:
    """One of: siphon beds over a sump; timer beds over a sump; a pit emptied by a float switch. Some lose water, some are topped up by a
    float valve. Siphons of several beds drift against each other, and with them how low the sump falls: so these are followed for
    half as long, in steps of a quarter; what six hours in the usual steps leave in doubt is more than the 6 mm that are asked."""
    found = recorded(f"day {seed}", lambda: solved_day(seed))
    kind, hours, text = _drawn(seed, found["attempt"])
    return Day(f"{kind} {seed}", "slow model", text, hours, Course(**found["course"]))


def _drawn(seed: int, attempt: int) -> tuple[str, float, str]:
    dice = random.Random(f"day {seed}.{attempt}")
    kind = ("siphon", "timer", "switch")[seed % 3]
    text = {"siphon": _siphons, "timer": _timers, "switch": _switch}[kind](dice)
    return kind, 3.0 if kind == "siphon" else 6.0, text


def solved_day(seed: int) -> dict[str, Any]:
    """Which of the days that a seed gives is the first fit one, and its course, worked out by the slow model."""
    for attempt in range(100):
        kind, hours, text = _drawn(seed, attempt)
        course = followed(text, hours)
        if _fit(slow_system(text), course):
            if kind == "siphon":
                course = followed(text, hours, most=5e-4, step=5.0)
            return {"attempt": attempt, "course": asdict(course)}
    raise AssertionError(f"no day for seed {seed}")


def _fit(system: System, course: Course) -> bool:
    def keeps(name: str, vessel: Vessel) -> bool:
        low = vessel.floor + (0.12 if name == "sump" else -1)
        return low < course.lowest[name] and course.highest[name] < vessel.floor + vessel.rim - 0.02

    siphons = [way for way in system.ways if way.crest is not None]
    flows, levels = system.flows(system.levels()), system.levels()
    for way in siphons:
        inflow = next(flows[w.name] for w in system.ways if w.second.at == way.first.at)
        way.primed = True
        carries = way.flow(way.breaks + 1e-6, levels[way.second.at])
        fast = inflow / area_of(way.first.bore) / math.sqrt(G * way.first.bore)
        if fast < 1.05 or inflow > 0.45 * carries or course.floods[way.first.at] < 3:
            return False
    return all(keeps(name, vessel) for name, vessel in system.vessels.items())


def _top_up(dice: random.Random, depth: float) -> str:
    return f"  top-up: {{pipe: {pipe(16)}, from: {{supply: {dice.choice([2, 6])} L/min, height: 0.95 m}}, route: [{{down: 0.1 m}}], to: {{vessel: sump, float valve: {depth:.2f} m}}}}\n"


def _siphons(dice: random.Random) -> str:
    """One to three beds, each fed by its own pipe off one riser and drained by its own bell siphon."""
    count = dice.randint(1, 3)
    sump_area = dice.choice([0.6, 1.0, 1.5])
    water = dice.uniform(0.4, 0.6)
    text = HEAD + "vessels:\n"
    text += f"  sump: {{base: 0 m, rim: 0.9 m, water: {water:.3f} m, area: {sump_area} m^2}}\n"
    for n in range(count):
        loses = dice.choice(["", ", loses: 20 L/day"])
        text += f"  bed {n}: {{base: 1.0 m, rim: 0.4 m, water: {dice.uniform(0.06, 0.15):.3f} m, area: {dice.choice([0.4, 0.6, 1.0])} m^2{loses}}}\n"
    text += (
        f"pumps:\n  lift: {{in: sump, height: 0.05 m, curve: [[0 L/min, 4 m], [{22 * count} L/min, 0 m]]}}\nlines:\n"
    )
    tees = "".join(f"tee: {{id: t{n}, K: 0}}, east: 0.7 m, " for n in range(1, count))
    text += f"  riser: {{pipe: {pipe(26)}, from: lift, route: [up: 1.55 m, elbow: {{K: 0.9}}, {tees}east: 0.5 m], to: {{vessel: bed 0, K: 1}}}}\n"
    for n in range(1, count):
        text += f"  feed {n}: {{pipe: {pipe(26)}, from: t{n}, route: [north: 0.7 m], to: {{vessel: bed {n}, K: 1}}}}\n"
    for n in range(count):
        crest, breaks, bore = dice.uniform(0.18, 0.26), dice.uniform(0.03, 0.06), dice.choice([20, 22])
        text += (
            f"  siphon {n}: {{pipe: {pipe(bore)}, from: {{vessel: bed {n}, siphon: {crest:.3f} m, breaks: {breaks:.3f} m, K: 0.5}}, "
            f"route: [{{down: {crest + 0.4:.3f} m}}], to: {{vessel: sump, K: 1}}}}\n"
        )
    return text + (_top_up(dice, water - 0.08) if dice.random() < 0.5 else "")


def _timers(dice: random.Random) -> str:
    """One or two beds that a pump on a timer floods, each with a standpipe and a drain hole, which empties it in the pause, wholly or
    in part."""
    count = dice.randint(1, 2)
    water = dice.uniform(0.45, 0.65)
    text = HEAD + "vessels:\n"
    text += f"  sump: {{base: 0 m, rim: 0.9 m, water: {water:.3f} m, area: {dice.choice([0.8, 1.2])} m^2}}\n"
    for n in range(count):
        text += f"  bed {n}: {{base: 1.0 m, rim: 0.4 m, water: 0.05 m, area: {dice.choice([0.4, 0.6, 0.9])} m^2}}\n"
    on, off = dice.choice([(15, 45), (20, 25), (10, 20)])
    text += f"pumps:\n  lift: {{in: sump, height: 0.05 m, curve: [[0 L/min, 4 m], [{30 * count} L/min, 0 m]], runs: {{on: {on} min, off: {off} min}}}}\nlines:\n"
    tees = "".join(f"tee: {{id: t{n}, K: 0}}, east: 0.7 m, " for n in range(1, count))
    text += f"  riser: {{pipe: {pipe(26)}, from: lift, route: [up: 1.55 m, elbow: {{K: 0.9}}, {tees}east: 0.5 m], to: {{vessel: bed 0, K: 1}}}}\n"
    for n in range(1, count):
        text += f"  feed {n}: {{pipe: {pipe(26)}, from: t{n}, route: [north: 0.7 m], to: {{vessel: bed {n}, K: 1}}}}\n"
    for n in range(count):
        hole = dice.choice([7, 8, 10])
        text += f"  hole {n}: {{pipe: {pipe(hole)}, from: {{vessel: bed {n}, height: 0 m, K: 0.5}}, route: [{{down: 0.1 m}}], to: {{vessel: sump, K: 1}}}}\n"
        text += f"  over {n}: {{pipe: {pipe(43)}, from: {{vessel: bed {n}, standpipe: {dice.uniform(0.15, 0.25):.3f} m, K: 0.5}}, route: [{{down: 0.5 m}}], to: {{vessel: sump, K: 1}}}}\n"
    return text + (_top_up(dice, water - 0.15) if dice.random() < 0.4 else "")


def _switch(dice: random.Random) -> str:
    """A header that runs into a pit by a port, and a pump in the pit that a float switch turns, back into the header."""
    low = dice.uniform(0.15, 0.25)
    text = HEAD + "vessels:\n"
    text += f"  sump: {{base: 0 m, rim: 0.9 m, water: {low + 0.1:.3f} m, area: {dice.choice([0.3, 0.5])} m^2}}\n"
    text += f"  header: {{base: 1.0 m, rim: 1.0 m, water: {dice.uniform(0.4, 0.6):.3f} m, area: {dice.choice([0.8, 1.5])} m^2}}\n"
    text += (
        f"pumps:\n  lift: {{in: sump, height: 0.05 m, curve: [[0 L/min, 4 m], [{dice.choice([40, 60])} L/min, 0 m]], "
        f"switch: {{vessel: sump, on above: {low + 0.2:.3f} m, off below: {low:.3f} m}}}}\nlines:\n"
    )
    text += f"  riser: {{pipe: {pipe(26)}, from: lift, route: [up: 2.0 m, elbow: {{K: 0.9}}, east: 0.5 m], to: {{vessel: header, K: 1}}}}\n"
    text += f"  port: {{pipe: {pipe(dice.choice([10, 13]))}, from: {{vessel: header, height: 0.05 m, K: 0.5}}, route: [{{east: 1 m}}], to: {{vessel: sump, K: 1}}}}\n"
    return text


def _supplied(litres: str, bore: int) -> str:
    """A bed on a steady supply, drained by a bell siphon with half a metre of fall under its floor."""
    return HEAD + (
        "vessels:\n"
        "  bed: {base: 1.0 m, rim: 0.4 m, water: 0.05 m, area: 0.5 m^2}\n"
        "lines:\n"
        f"  feed: {{pipe: {pipe(30)}, from: {{draws: -{litres} L/min, height: 1.6 m}}, route: [{{east: 0.5 m}}], to: bed}}\n"
        f"  siphon: {{pipe: {pipe(bore)}, from: {{vessel: bed, siphon: 0.22 m, breaks: 0.05 m, K: 0.5}}, "
        "route: [{down: 0.7 m}], to: {open air: yes, K: 1}}\n"
    )


def _over_a_sump(sump: str, bed: str, more: str = "", pump: str = "") -> str:
    """A siphon bed over a sump."""
    return HEAD + (
        "vessels:\n"
        f"  sump: {{base: 0 m, {sump}}}\n"
        f"  bed: {{base: 1.0 m, {bed}}}\n"
        "pumps:\n"
        f"  lift: {{in: sump, height: 0.10 m, curve: [[0 L/min, 4 m], [20 L/min, 0 m]]{pump}}}\n"
        "lines:\n"
        f"  riser: {{pipe: {pipe(26)}, from: lift, route: [up: 1.5 m, elbow: {{K: 0.9}}, east: 0.5 m], to: {{vessel: bed, K: 1}}}}\n"
        f"  siphon: {{pipe: {pipe(22)}, from: {{vessel: bed, siphon: 0.22 m, breaks: 0.05 m, K: 0.5}}, "
        f"route: [{{down: 0.6 m}}], to: {{vessel: sump, K: 1}}}}\n"
        f"{more}"
    )


DAYS: tuple[Day, ...] = (
    Day(
        "a siphon bed on a steady supply",
        "It fills from the break to the crest in 0.17 m · 0.5 m²/12 L/min = 7.1 min, and drains by the full pipe less 12 L/min.",
        _supplied("12", 22),
        6.0,
        Course({"bed": 1.05}, {"bed": 1.228}, {"bed": 37}, added=4320.0),
    ),
    Day(
        "a siphon that trickles on",
        "3 L/min in 43 mm run at V/√(gD) = 0.05 over the crest, a standpipe for ever: (7500 · 0.05/43)^(2/3) = 4.2 mm.",
        _supplied("3", 43),
        6.0,
        Course({}, {"bed": 1.2242}, {"bed": 0}, added=1080.0, ends={"bed": 1.2242}),
        level_within=0.002,
    ),
    Day(
        "a siphon that runs on",
        "The full pipe carries less where it breaks than the 52 L/min that come, and more at the crest: the level stays between.",
        _supplied("52", 22),
        2.0,
        Course({}, {"bed": 1.228}, {"bed": 0}, ends={"bed": 1.0959}),
        level_within=0.006,
    ),
    Day(
        "a siphon bed over its sump",
        "What the bed takes the sump gives: 0.17 m · 0.6 m² = 102 L are 0.128 m of 0.8 m².",
        _over_a_sump("rim: 0.8 m, water: 0.5 m, area: 0.8 m^2", "rim: 0.4 m, water: 0.05 m, area: 0.6 m^2"),
        6.0,
        Course({"sump": 0.3665, "bed": 1.05}, {"sump": 0.5, "bed": 1.228}, {"bed": 33}, {}, {"lift": 6.0}, 0.0, 0.0),
    ),
    Day(
        "a float valve that sees the low sump of the flood",
        "The valve opens as the bed fills, at its lowest; when the siphon lets go, what came in has no room: by then the sump holds what "
        "it held and what was added.",
        _over_a_sump(
            "rim: 0.70 m, water: 0.60 m, area: 0.4 m^2",
            "rim: 0.4 m, water: 0.05 m, area: 0.8 m^2",
            f"  top-up: {{pipe: {pipe(13)}, from: {{supply: 6 L/min, height: 0.9 m}}, route: [{{down: 0.1 m}}], to: {{vessel: sump, float valve: 0.55 m}}}}\n",
        ),
        3.0,
        Course({"sump": 0.366}, {"sump": 0.7035}, {"bed": 12}, {}, {}, 510.2, 444.8),
        level_within=0.01,
        within=0.03,
    ),
    Day(
        "a sump too small for its bed",
        "The bed wants 170 L from its floor to its crest, over the intake there are 90: the pump sucks air, and the bed never comes to its crest.",
        _over_a_sump("rim: 0.60 m, water: 0.40 m, area: 0.3 m^2", "rim: 0.4 m, water: 0.05 m, area: 1.0 m^2"),
        3.0,
        Course({"sump": 0.10}, {"sump": 0.40, "bed": 1.14}, {"bed": 0}),
        level_within=0.01,
    ),
    Day(
        "a siphon bed on a timer",
        "The bed keeps its part-fill over the pause, so floods are not turns of the timer.",
        _over_a_sump(
            "rim: 0.8 m, water: 0.5 m, area: 0.8 m^2",
            "rim: 0.4 m, water: 0.05 m, area: 0.6 m^2",
            pump=", runs: {on: 5 min, off: 10 min}",
        ),
        6.0,
        Course(
            {"sump": 0.3659, "bed": 1.05},
            {"sump": 0.5, "bed": 1.228},
            {"bed": 12},
            {"lift": 24},
            {"lift": 2.0},
            0.0,
            0.0,
        ),
    ),
    Day(
        "a siphon bed by the clock",
        "From 06:00 to 18:00 is half the day, and one start.",
        _over_a_sump(
            "rim: 0.8 m, water: 0.5 m, area: 0.8 m^2",
            "rim: 0.4 m, water: 0.05 m, area: 0.6 m^2",
            pump=', runs: {from: "06:00", to: "18:00"}',
        ),
        24.0,
        Course(
            {"sump": 0.3665, "bed": 1.05},
            {"sump": 0.5, "bed": 1.228},
            {"bed": 68},
            {"lift": 1},
            {"lift": 12.0},
            0.0,
            0.0,
        ),
    ),
    Day(
        "a siphon bed over a sump that narrows to its foot",
        "As over a plain sump, by the table of areas: the same litres make more of a fall where it is narrow.",
        _over_a_sump(
            "rim: 0.8 m, water: 0.5 m, area: [[0 m, 0.2 m^2], [0.6 m, 1.0 m^2]]",
            "rim: 0.4 m, water: 0.05 m, area: 0.6 m^2",
        ),
        6.0,
        Course({"sump": 0.3622, "bed": 1.05}, {"sump": 0.5, "bed": 1.228}, {"bed": 33}, {}, {"lift": 6.0}, 0.0, 0.0),
    ),
)
