"""Random systems of joined vessels, as layouts: three to seven vessels in one or two storeys, one supply or one pump, several ways
out, often several in one vessel, vents, rings, bars fed from both ends. The slow model has the answer.

Only what books agree on is drawn: joins and ports stay drowned, standpipes follow BS EN 12056-3, every K is stated. A system whose
answer would hang on more (a port that takes air, a pump that sucks air, a vessel that runs over) is thrown away and the next
is drawn. No pipe stands higher than its end, so no siphon is in doubt.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

from slow_answers import recorded
from slow_reader import by_end, slow_system
from slow_water import LITRE_MIN, Check, System, Way, speed_head, wall_head

MEETING = 0.9  # height of the tee of a shared drain

__all__ = ["Answer", "random_answer", "random_text", "solved_system"]


@dataclass(frozen=True)
class Answer:
    """A layout, and in steady running its flows [L/min] by line's end and levels [m above the datum] by vessel."""

    text: str
    flows: dict[str, float]
    levels: dict[str, float]


def random_answer(seed: int) -> Answer:
    """The first fit system that a seed gives."""
    found = recorded(f"system {seed}", lambda: solved_system(seed))
    return Answer(random_text(f"{seed}.{found['attempt']}"), found["flows"], found["levels"])


def solved_system(seed: int) -> dict[str, Any]:
    """Which of the systems that a seed gives is the first fit one, and its answer, worked out by the slow model."""
    for attempt in range(200):
        text = random_text(f"{seed}.{attempt}")
        try:
            system = slow_system(text)
            flows = system.settle()
        except ArithmeticError:
            continue
        if _fit(system, flows):
            ends = {end: q / LITRE_MIN for end, q in by_end(system, flows).items()}
            levels = {name: v.level for name, v in system.vessels.items()}
            return {"attempt": attempt, "flows": ends, "levels": levels}
    raise AssertionError(f"no system for seed {seed}")


def _fit(system: System, flows: dict[str, float]) -> bool:
    for vessel in system.vessels.values():
        if not vessel.floor + 0.03 < vessel.level < vessel.floor + vessel.rim - 0.02:
            return False
    for way in system.ways:
        q = flows[way.name]
        if any(isinstance(part, Check) for part in way.parts) and abs(q) < 1e-6 and way.first.kind == "wall":
            return False  # what is shut off behind a check valve stands as its past left it
        for end, into in ((way.first, q), (way.second, -q)):
            free = (
                end is way.second and end.height > system.vessels[end.at].level + 0.05 if end.kind == "wall" else False
            )
            if end.kind == "wall" and not free and system.vessels[end.at].level < end.height + 0.6 * end.bore:
                return False
            if end.kind == "wall" and into > 0:
                full = system.vessels[end.at].level - end.height
                if wall_head(into, end.bore, end.enters) > full - 1e-4:
                    return False
            if end.kind == "standpipe" and into < -1e-9:
                return False
        if way.second.at == "meeting" and not _clear(system, flows, way):
            return False
        if way.first.kind == "intake" and system.vessels[way.first.at].level < way.first.height + 0.02:
            return False
    return True


def _clear(system: System, flows: dict[str, float], way: Way) -> bool:
    """Whether a branch of the shared drain plainly takes air at its mouth, with air at the tee, or the tee is plainly full."""
    below = next(w for w in system.ways if w.first.at == "meeting")
    into, total, bore = flows[way.name], flows[below.name], way.first.bore
    full = system.heads["meeting"] > MEETING + speed_head(total, bore) + 0.03
    needs = below.asked(total, system.vessels[below.second.at].level)
    free = needs < MEETING - 0.05 and way.asked(into, MEETING) == way.asked(into, -10.0)
    return into > -1e-9 and (full or free)


@dataclass
class _Draft:
    """What is being written."""

    dice: random.Random
    vessels: dict[str, str] = field(default_factory=dict)
    pumps: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    bases: dict[str, float] = field(default_factory=dict)

    def vessel(self, name: str, base: float, rim: float, water: float) -> None:
        area = self.dice.choice([0.3, 0.5, 0.8, 1.2, 2.0])
        self.bases[name] = base
        self.vessels[name] = f"{{base: {base} m, rim: {rim} m, water: {water:.3f} m, area: {area} m^2}}"

    def line(self, name: str, bore: int, start: str, route: str, end: str) -> None:
        pipe = f"{{bore: {bore} mm, roughness: 0.0015 mm}}"
        self.lines.append(f"  {name}: {{pipe: {pipe}, from: {start}, route: [{route}], to: {end}}}")

    def text(self) -> str:
        head = ["water: {density: 998 kg/m^3, viscosity: 1.002e-3 Pa s}", "vessels:"]
        head += [f"  {name}: {said}" for name, said in self.vessels.items()]
        return "\n".join([*head, *(["pumps:", *self.pumps] if self.pumps else []), "lines:", *self.lines]) + "\n"


def random_text(seed: str) -> str:
    """A layout from a seed, fit or not."""
    dice = random.Random(seed)
    draft = _Draft(dice)
    closed = dice.random() < 0.55
    low = [f"low {n}" for n in range(dice.randint(2, 5))]
    high = [
        f"high {n}" for n in range(dice.randint(1 if closed else 0, max(1, 6 - len(low)) if closed else 7 - len(low)))
    ][:3]
    if len(low) + len(high) < 3:
        low.append(f"low {len(low)}")
    for name in low:
        base = dice.choice([0.0, 0.0, -0.1, 0.05])
        draft.vessel(name, base, 1.0 - base, dice.uniform(0.35, 0.55) - base)
    for name in high:
        draft.vessel(name, 1.2, 0.5, dice.uniform(0.1, 0.25))
    _joins(draft, low, "low join")
    if len(high) > 1 and dice.random() < 0.5:
        _joins(draft, high, "high join")
    sharing = dice.sample(high, 2) if len(high) > 1 and dice.random() < 0.5 else []
    if sharing:
        _shared(draft, sharing, dice.choice(low))
    for name in high:
        if name not in sharing or dice.random() < 0.3:
            _falls(draft, name, low)
    feeds = dice.sample(high, dice.randint(1, len(high))) if high else [dice.choice(low)]
    if closed:
        source = dice.choice(low)
        most, flow = dice.uniform(2.5, 4.0), dice.choice([40, 60, 80])
        draft.pumps.append(
            f"  lift: {{in: {source}, height: 0.05 m, curve: [[0 L/min, {most:.2f} m], [{flow} L/min, 0 m]]}}"
        )
        _feed(draft, "lift", draft.bases[source] + 0.05, feeds)
        if high and dice.random() < 0.3:
            other = dice.choice(low)
            draft.pumps.append(f"  second: {{in: {other}, height: 0.05 m, curve: [[0 L/min, 2.6 m], [30 L/min, 0 m]]}}")
            draft.line(
                "second feed",
                21,
                "second",
                f"up: {1.85 - draft.bases[other]:.2f} m, check valve: {{K: 2}}, elbow: {{K: 0.9}}, east: 0.4 m",
                f"{{vessel: {dice.choice(high)}, K: 1}}",
            )
    else:
        supply = dice.choice([8, 15, 25, 40])
        _feed(draft, f"{{draws: -{supply} L/min, height: 1.9 m}}", 1.9, feeds)
    if not closed and dice.random() < 0.4:
        thirsty = dice.choice(low)
        draft.line(
            "drink",
            13,
            f"{{vessel: {thirsty}, height: {0.05 - draft.bases[thirsty]:.2f} m, K: 0.5}}",
            "north: 0.1 m",
            "{draws: 2 L/min}",
        )
    if not closed or dice.random() < 0.5:
        lowest = 0.7 if closed else dice.uniform(0.25, 0.45)  # in a closed loop a safety standpipe that stays dry
        for n in range(dice.randint(1, 3)):
            crest = lowest + dice.choice([0.0, 0.0, 0.004, 0.01, 0.1])
            bore = dice.choice([34, 43, 57])
            where = dice.choice(low)
            draft.line(
                f"out {n}",
                bore,
                f"{{vessel: {where}, standpipe: {crest - draft.bases[where]:.3f} m, K: 0.5}}",
                f"down: {crest + dice.uniform(0.1, 0.4):.3f} m",
                "{open air: yes, K: 1}",
            )
    return draft.text()


def _joins(draft: _Draft, names: list[str], called: str) -> None:
    """Pipes low down that join vessels in a tree, sometimes with one more that closes a ring, walked either way."""
    dice = draft.dice
    pairs = [(names[dice.randrange(n)], names[n]) for n in range(1, len(names))]
    if len(names) > 2 and dice.random() < 0.4:
        pairs.append(tuple(dice.sample(names, 2)))  # type: ignore[arg-type]
    for n, pair in enumerate(pairs):
        a, b = dice.sample(pair, 2)
        length = dice.uniform(0.2, 3.0)
        height = 0.1 - draft.bases[a] if draft.bases[a] < 1 else 0.05
        check = ", check valve: {K: 2}, east: 0.1 m" if dice.random() < 0.1 else ""
        draft.line(
            f"{called} {n}",
            dice.choice([34, 43, 57]),
            f"{{vessel: {a}, height: {height:.2f} m, K: 1}}",
            f"east: {length:.2f} m{check}",
            f"{{vessel: {b}, K: 1}}",
        )


def _falls(draft: _Draft, name: str, low: list[str]) -> None:
    """One to three standpipes of an upper vessel down to lower ones, equal, nearly so, or one for safety; sometimes a narrow port
    beside them."""
    dice = draft.dice
    crest = dice.uniform(0.12, 0.25)
    for n in range(dice.randint(1, 3)):
        height = crest + (0.0 if n == 0 else dice.choice([0.0, 0.003, 0.008, 0.1]))
        draft.line(
            f"{name} fall {n}",
            dice.choice([34, 43, 57]),
            f"{{vessel: {name}, standpipe: {height:.3f} m, K: 0.5}}",
            f"down: {dice.uniform(0.4, 1.2):.2f} m",
            f"{{vessel: {dice.choice(low)}, K: 1}}",
        )
    if dice.random() < 0.35:
        draft.line(
            f"{name} port",
            dice.choice([9, 11, 13]),
            f"{{vessel: {name}, height: 0.03 m, K: 0.5}}",
            f"east: {dice.uniform(0.5, 2):.2f} m",
            f"{{vessel: {dice.choice(low)}, K: 1}}",
        )


def _shared(draft: _Draft, names: list[str], receiver: str) -> None:
    """One drain for two upper vessels, their standpipes meeting at a tee: wide enough for both, or so narrow that it fills."""
    dice = draft.dice
    bore = dice.choice([57, 57, 16, 21])
    first, second = (dice.uniform(0.12, 0.25) for _ in names)
    drop = 1.2 - MEETING
    draft.line(
        "shared",
        bore,
        f"{{vessel: {names[0]}, standpipe: {first:.3f} m, K: 0.5}}",
        f"down: {first + drop:.3f} m, tee: {{id: meeting, K: 0}}, down: {dice.uniform(0.2, 0.5):.2f} m",
        f"{{vessel: {receiver}, K: 1}}",
    )
    draft.line(
        "joining",
        bore,
        f"{{vessel: {names[1]}, standpipe: {second:.3f} m, K: 0.5}}",
        f"down: {second + drop:.3f} m, elbow: {{K: 0.9}}, west: 0.5 m",
        "meeting",
    )


def _feed(draft: _Draft, start: str, height: float, feeds: list[str]) -> None:
    """From the pump or the supply up to 1.9 m and to one to three vessels: straight, by a vented top, by tees, by a ring that closes
    on a tee of its own line, or by a drip line fed from both ends."""
    dice = draft.dice
    rise = f"up: {1.9 - height:.2f} m" if height < 1.9 else "east: 0.3 m"
    corner = "elbow: {K: 0.9}, " if height < 1.9 else ""
    bore = dice.choice([21, 26])
    loss = dice.choice([0, 0, 1.2])

    def tee(name: str) -> str:
        return f"tee: {{id: {name}, K: {loss}}}"

    kind = dice.choice(["tees", "ring", "vented", "drip"])
    if kind == "drip":
        vessel, count = feeds[0], dice.randint(3, 6)
        bar = f"drip line: {{east: 1.5 m, drippers: {count}, dripper: {dice.choice([200, 400])} L/h, at: 1 bar, in: {vessel}}}"
        draft.line(
            "feed", bore, start, f"{rise}, {corner}{tee('split')}, east: 1.5 m, elbow: {{K: 0.9}}, north: 1 m", "meet"
        )
        draft.lines[-1] = draft.lines[-1].replace(f"{corner}tee", f"{corner}east: 0.5 m, tee")
        draft.line("bar", 16, "split", f"north: 1 m, elbow: {{K: 0.9}}, {bar}, {tee('meet')}, east: 0.1 m", "plug")
        if len(feeds) > 1:
            draft.lines[-1] = draft.lines[-1].replace("to: plug", f"to: {{vessel: {feeds[1]}, K: 1}}")
        return
    if kind == "vented":
        draft.line("feed", bore, start, f"{rise}, {tee('top')}, east: 1 m", f"{{vessel: {feeds[0]}, K: 1}}")
        if height >= 1.9:
            draft.lines[-1] = draft.lines[-1].replace("east: 1 m]", "east: 1.01 m]")
        draft.line("vent", bore, "top", f"up: {dice.uniform(0.6, 2.5):.2f} m", "open air")
        return
    outs = ", ".join(f"{tee(f't{n}')}, east: {dice.uniform(0.3, 1.5):.2f} m" for n in range(1, len(feeds)))
    if kind == "tees":
        draft.line(
            "feed",
            bore,
            start,
            f"{rise}, {corner}east: 0.5 m{', ' + outs if outs else ''}",
            f"{{vessel: {feeds[0]}, K: 1}}",
        )
    else:
        side, depth = 3.0, dice.uniform(0.5, 1.5)
        tees = "".join(f"{tee(f't{n}')}, east: {side / (len(feeds) + 1):.3f} m, " for n in range(len(feeds)))
        route = (
            f"{rise}, {corner}east: 0.5 m, {tee('near')}, east: {side / (len(feeds) + 1):.3f} m, {tees}elbow: {{K: 0.9}}, "
            f"north: {depth:.2f} m, elbow: {{K: 0.9}}, west: {side:.3f} m, elbow: {{K: 0.9}}, south: {depth:.2f} m"
        )
        draft.line("feed", bore, start, route, "near")
    for n, name in enumerate(feeds):
        if kind == "tees" and n == 0:
            continue
        draft.line(
            f"feed {n}",
            dice.choice([16, 21]),
            f"t{n}",
            f"south: {dice.uniform(0.3, 1.5):.2f} m",
            f"{{vessel: {name}, K: 1}}",
        )
