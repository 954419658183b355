"""No change that makes pipe more cleanable lowers what the score says of cleaning: random pipework, one change at a time, the
flows held as they are; and on whole layouts, solved anew, only less water can lower it."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest
from builders import flows, layout, rod, walk
from checks import checked
from test_reach_brute import TOOLS, Drawing, back, draw, lay, turn

from plumbline import check
from plumbline.findings import Finding
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.judge import judge
from plumbline.layout.model import Layout, Part
from plumbline.layout.pieces import accesses_of, stretches_of
from plumbline.layout.vectors import negative
from plumbline.score import tally
from plumbline.upkeep import Upkeep, look_after
from plumbline.upkeep.bends import turning
from plumbline.upkeep.dead_legs import by_shape, length_in_use

SPEEDS = (0.0, 0.02, 0.15, 0.4, 0.9)


def upkept(made: Layout, speeds: dict[str, float], flushed: set[str]) -> Upkeep:
    """Upkeep with flows held: speeds by line, and for some caps a flush of twice that, 0.8 m/s at least."""
    fast = {name: max(2.0 * speed, 0.8) if speed > 0.1 else speed for name, speed in speeds.items()}
    caps = {access.id for access in made.accesses if access.kind == "cap"} & flushed
    return look_after(made, flows(made, speeds), {cap: flows(made, fast) for cap in caps})


def points(findings: tuple[Finding, ...]) -> float:
    """The score as the ledger reckons it, without its rounding to tenths."""
    left = 1.0
    for one in findings:
        left *= 1.0 - one.weight
    return 100.0 * left


def dirty(made: Layout, care: Upkeep) -> float:
    """Length of pipe that nothing cleans [m]."""
    return sum(line.length for line in made.lines.values()) * (1.0 - care.cleanable_fraction)


def all_dead(made: Layout) -> bool:
    return {s.id for s in made.stretches} == {s.id for leg in by_shape(made) for s, _, _ in leg.pieces}


# ---------------------------------------------------------------------- one change


def opened(drawing: Drawing, dice: random.Random) -> str | None:
    """A capped tee for an elbow, facing along a leg; a union in straight pipe; a cap for a plug."""
    some = [node for node, what in drawing.at.items() if what in ("elbow", "joint", "plug")]
    if not some:
        return None
    node = dice.choice(sorted(some))
    what = drawing.at[node]
    drawing.at[node] = {"elbow": "cap", "joint": "union", "plug": "cap"}[what]
    if what == "elbow":
        drawing.faces[node] = back(dice.choice(sorted(drawing.legs[node])))
    return what


def swept(drawing: Drawing, dice: random.Random) -> str | None:
    some = [node for node, what in drawing.at.items() if what == "elbow"]
    if not some:
        return None
    node = dice.choice(sorted(some))
    drawing.at[node] = "sweep"
    return "sweep" if turn(*sorted(drawing.legs[node])) else None


def better_rod(made: Layout, dice: random.Random) -> Layout:
    """A longer rod, one that bends further, one for more bores, or one more."""
    (tool,) = made.rods
    some = [
        replace(tool, length=tool.length * dice.uniform(1.0, 3.0)),
        replace(tool, bend=tool.bend * 2.0, turns=tool.turns * 2.0),
        replace(tool, bore_min=0.005, bore_max=0.2),
    ]
    return replace(made, rods=(dice.choice(some),) if dice.random() < 0.75 else (tool, dice.choice(some)))


def shortened(made: Layout, dice: random.Random) -> Layout | None:
    """A dead leg of one line cut back: its last run, which ends in a plug or a cap, made shorter."""
    dead = {stretch.id for leg in by_shape(made) for stretch, _, _ in leg.pieces}
    ends = [
        s
        for s in made.stretches
        if s.id in dead
        and s.stop == made.lines[s.line].length
        and s.parts[-1].is_pipe
        and made.lines[s.line].end.kind in ("plug", "cap")
    ]
    if not ends:
        return None
    stretch = dice.choice(ends)
    line = made.lines[stretch.line]
    last = line.parts[-1]
    share = dice.uniform(0.1, 0.9)
    size = last.length * share
    place = tuple(a + share * (b - a) for a, b in zip(last.start, last.end, strict=True))
    part = replace(last, end=place, length=size)  # type: ignore[arg-type]
    length = last.at + size
    new = replace(line, parts=(*line.parts[:-1], part), length=length, end=replace(line.end, place=place))  # type: ignore[arg-type]
    return replace(
        made,
        lines={**made.lines, line.name: new},
        stretches=tuple(
            replace(s, stop=length, parts=(*s.parts[:-1], part)) if s.id == stretch.id else s for s in made.stretches
        ),
        accesses=tuple(
            replace(a, at=length, place=place) if a.line == line.name and a.at == line.length else a  # type: ignore[arg-type]
            for a in made.accesses
        ),
    )


@pytest.mark.invariant
@pytest.mark.slow
def test_nothing_that_helps_cleaning_lowers_the_score_on_random_pipework() -> None:
    dice = random.Random(7)
    seen: Counter[str] = Counter()
    while min(seen[one] for one in ("access", "rod", "sweep", "dead leg")) < 100:
        drawing, tool, seed = draw(dice, dice.random() < 0.3), dice.choice(TOOLS), dice.random()
        made = lay(drawing, random.Random(seed), tool)
        if made is None:
            continue
        before = made[0]
        speeds = {name: dice.choice(SPEEDS) for name in before.lines}
        flushed = {access.id for access in before.accesses if dice.random() < 0.3}
        change = dice.choice(("access", "access", "rod", "sweep", *["dead leg"] * 6))
        after: Layout | None = None
        if change in ("access", "sweep"):
            what = (opened if change == "access" else swept)(drawing, dice)
            again = None if what is None else lay(drawing, random.Random(seed), tool)
            after = None if again is None else again[0]
        else:
            after = (better_rod if change == "rod" else shortened)(before, dice)
        # Where all pipe leads nowhere, there is nothing in use to measure shares by.
        if after is None or (change == "dead leg" and all_dead(before)):
            continue
        was, now = upkept(before, speeds, flushed), upkept(after, speeds, flushed)
        if change == "access" and not dirty(after, now) < dirty(before, was) - 1e-9:
            # Not more cleanable: an opening that helps nothing may cost what it is, and so may one in a rod's way.
            seen["no help"] += 1
            continue
        assert points(now.findings) >= points(was.findings) * (1.0 - 1e-12), (change, seed, drawing)
        seen[change] += 1
        seen["better"] += points(now.findings) > points(was.findings) + 1e-9
    assert seen["better"] > 100, seen


@pytest.mark.invariant
@pytest.mark.slow
def test_pipe_in_use_is_the_same_however_long_its_dead_legs() -> None:
    dice = random.Random(8)
    tried = 0
    while tried < 100:
        made = lay(draw(dice, False), dice, rod())
        after = None if made is None else shortened(made[0], dice)
        if made is None or after is None or all_dead(made[0]):
            continue
        assert length_in_use(after) == pytest.approx(length_in_use(made[0]), rel=1e-9)
        tried += 1


@pytest.mark.invariant
@pytest.mark.parametrize("cut", [1, 2, 5])
def test_unreached_pipe_costs_the_same_in_one_piece_or_in_many(cut: int) -> None:
    from plumbline.catalogue import weights

    row = weights()["unreachable"]
    left = math.prod(1.0 - row.of(0.4 / cut) for _ in range(cut))
    assert left == pytest.approx(1.0 - row.of(0.4), rel=1e-12)


@pytest.mark.invariant
def test_an_access_between_bends_never_adds_to_what_the_turning_costs() -> None:
    """Six elbows, 540°; a union in any run leaves at most as much over the limit, also where both halves are over it."""
    route: list[object] = [("up", 1.0)]
    for way in ("east", "up", "east", "up", "east", "up"):
        route += ["elbow", (way, 1.0)]

    def cost(made: Layout) -> float:
        return 100.0 - points(turning(made, {}))

    whole = cost(layout(walk("a", "vessel tank", route, "vessel bed")))
    both = 0
    for at in range(0, len(route), 2):
        cut = [*route[:at], (route[at][0], 0.5), ("union", {"id": "u"}), (route[at][0], 0.5), *route[at + 1 :]]  # type: ignore[index]
        made = layout(walk("a", "vessel tank", cut, "vessel bed"))
        both += len(turning(made, {})) == 2
        assert cost(made) <= whole + 1e-9
    assert whole > 0.0
    assert both


@pytest.mark.invariant
@pytest.mark.parametrize("margin", [-0.3, -0.01, -1e-5, 0.05, 0.2])
def test_less_water_never_costs_less(read_text: Callable[[str], Layout], margin: float) -> None:
    """From too little over a thin margin to enough."""

    def cost(flow: float) -> float:
        text = f"""
        vessels:
          tank: {{base: 0 m, water: 0.85 m}}
          bed: {{base: 0.2 m, water: 0.2 m, wants: 10 L/min}}
        lines:
          feed: {{pipe: pvc 25, from: {{draws: -{flow} L/min, height: 1 m}}, route: [{{east: 1 m}}], to: bed}}
        """
        made = read_text(text)
        of = [one for one in judge(made, find_flows(made)) if one.kind in ("too-little-water", "thin-margin")]
        return 100.0 - points(tuple(of))

    assert cost(10.0 * (1.0 + margin)) >= cost(10.0 * (1.0 + margin + 0.02))


# ---------------------------------------------------------------------- whole layouts, solved anew


def with_part(site: Layout, line: str, index: int, change: Callable[[Part], Part]) -> Layout:
    old = site.lines[line]
    parts = tuple(change(part) if n == index else part for n, part in enumerate(old.parts))
    lines = {**site.lines, line: replace(old, parts=parts)}
    return replace(
        site,
        lines=lines,
        stretches=stretches_of(lines),
        accesses=accesses_of(lines, site.vessels, site.limits["arm reach"]),
    )


def capped(forward: bool) -> Callable[[Part], Part]:
    def change(part: Part) -> Part:
        faces = negative(part.heading_out) if forward else part.heading_in
        return replace(part, kind="cap", id="new cap", faces=faces)

    return change


CLEANING = {"unreachable", "turning", "sharp-bend", "blind-access", "dead-leg", "low-point", "hump"}
"""What is said of the pipe as it lies; the other kinds are of what flows."""


def of_flow(findings: tuple[Finding, ...]) -> float:
    """What the findings on the water leave of the score."""
    return tally([one for one in findings if one.kind not in CLEANING], 1.0).tenths


@pytest.mark.invariant
@pytest.mark.slow(40)
@pytest.mark.parametrize("name", ["tangle", "call_outs", "hill_pond"])
def test_on_a_whole_layout_only_the_water_can_lower_it(name: str) -> None:
    """An access costs a little head. Where that takes a vessel below its want, or a stretch below the speed that carries solids, the
    score may fall, and then it is a row on the water that says so."""
    before = checked(name)
    site = before.layout
    tried = 0
    for line in site.lines.values():
        for index, part in enumerate(line.parts):
            if part.kind != "elbow":
                continue
            changes: list[Callable[[Part], Part]] = [
                capped(True),
                capped(False),
                lambda part: replace(part, kind="sweep"),
            ]
            for number, change in enumerate(changes):
                after = check(with_part(site, line.name, index, change))
                easier = after.score.cleanable > before.score.cleanable + 1e-9
                if number < 2 and not easier:
                    continue
                tried += 1
                if after.score.tenths < before.score.tenths:
                    assert of_flow(after.findings) < of_flow(before.findings), (line.name, part.step, number)
    assert tried
