"""The current that spray bars give a tank, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from ..catalogue import notes
from ..hydraulics.current_findings import fish_words, from_to, hole_words, long_words, slowly, turn_words
from ..hydraulics.hole_size import Drilled, HoleSize, TankAnswer
from ..hydraulics.tank_current import JetBar
from ..layout.model import Layout
from ..units import Units, drill_words, show
from .plain import about, care, fields, heading, in_units, plain_table, point, points, view

__all__ = ["current_as_json", "current_view"]


@view
def current_view(
    layout: Layout, answers: Sequence[TankAnswer], *, everything: bool = False
) -> Iterator[RenderableType]:
    """The current in each tank, with its spray bars hole by hole; those that tell most, or `everything`."""
    units = layout.units
    yield Text(f"{layout.name}: the current in its tanks", style="bold")
    if not answers:
        drill = drill_words(0.00635 if units.size == "in" else 0.006, units)
        yield from (Text(note.format(show(0.6096, "length", units), drill)) for note in notes("current without a bar"))
        return
    for number, answer in enumerate(answers):
        if number:
            yield Text()
        yield Text(verdict_words(layout, answer))
        yield heading(f"'{answer.current.vessel}'")
        yield plain_table("", "", rows=_numbers(layout, answer))
        for bar in answer.current.bars:
            yield heading(f"The bar at step {bar.step} of '{bar.line}'")
            yield point(_even(bar, units))
            yield _holes(bar, units, everything)
        yield from _do(layout, answer)
    yield heading("How sure")
    yield from points(notes("current"), style="dim")
    yield from care("current", layout)


def _numbers(layout: Layout, answer: TankAnswer) -> Iterator[tuple[str, str]]:
    units, current = layout.units, answer.current
    changed = "" if current.changed is None else f", the tank's whole water in {current.changed / 60.0:.0f} min"
    yield "water in", f"{show(answer.inflow, 'flow', units)}{changed}"
    yield "thrust along the wall", f"{current.thrust:.2f} N"
    if current.wetted is not None:
        shape = layout.vessels[current.vessel].shape or "round, as the file does not say"
        yield "floor and wall", f"{show(current.wetted, 'area', units)} ({shape})"
    if current.speed is not None:
        yield "mean current", from_to(current.speed, units)
    if current.fish is not None:
        swims, long = slowly(current.fish.speed, units), long_words(current.fish.length, units)
        yield "can swim for hours", f"{swims}, fish of {long}"
    least = layout.limits["tank current"]
    yield "moves solids", f"{slowly(least, units)} to {slowly(2.0 * least, units)}"


def _even(bar: JetBar, units: Units) -> str:
    first, last, most = bar.holes[0].flow, bar.holes[-1].flow, max(hole.flow for hole in bar.holes)
    even = bar.evenness
    share = f"{100.0 * even.likely:.0f} %"
    if round(100.0 * even.low) != round(100.0 * even.high):
        share = f"{100.0 * even.low:.0f} to {100.0 * even.high:.0f} %"
    keeps = bar.speed_heads >= 10.0
    rule = f"{'ten velocity heads or more' if keeps else 'under ten'}, so the pipe {'keeps it even' if keeps else 'makes it uneven'}"
    aim = {None: "the file does not say where they point", 0.0: "along the wall"}.get(
        bar.aim, f"{math.degrees(bar.aim or 0.0):.0f}° off the wall"
    )
    dry = sum(height > 0.0 for height in bar.bar.above)
    where = "in the air" if bar.in_air else f"{dry} in the air and the others under water" if dry else "under water"
    ends = f"the first gives {100.0 * first / most:.0f} % and the last {100.0 * last / most:.0f} % of the greatest"
    return (
        f"{len(bar.holes)} holes of {drill_words(bar.bar.hole, units)}, {aim}, {where}. The least gives {share} of the greatest; {ends}. "
        f"The holes take {bar.speed_heads:.0f} times the velocity head in the pipe: {rule}."
    )


def _holes(bar: JetBar, units: Units, everything: bool) -> Table:
    flows = [hole.flow for hole in bar.holes]
    telling = {0, len(flows) - 1, flows.index(min(flows)), flows.index(max(flows))}
    rows = (
        (
            str(number + 1),
            show(hole.flow, "flow", units, decimals=2),
            show(hole.speed, "speed", units),
            show(hole.head, "head", units),
        )
        for number, hole in enumerate(bar.holes)
        if everything or number in telling
    )
    return plain_table(">hole", ">flow", ">jet", ">head", rows=rows)


def _do(layout: Layout, answer: TankAnswer) -> Iterator[RenderableType]:
    units, size = layout.units, answer.size
    if size is not None or answer.turn is not None:
        yield heading(f"For {slowly(answer.wanted, units)}")
    if answer.turn is not None:
        yield point(turn_words(answer.turn))
    if size is not None:
        yield point(hole_words(layout, answer.current, size))
        rows = (
            (
                drill_words(one.hole, units),
                slowly(one.speed, units),
                one.verdict,
                show(one.inflow, "flow", units),
                show(one.jet, "speed", units),
            )
            for one in _drills(size)
        )
        yield plain_table(">hole", ">mean current", "", ">water in", ">fastest jet", rows=rows)


def _drills(size: HoleSize) -> list[Drilled]:
    """The drills to either side of the size that is wanted; the best one where none is."""
    return [one for one in (size.below, size.above) if one is not None] or [size.best]


def verdict_words(layout: Layout, answer: TankAnswer) -> str:
    """The verdict on a tank's current, in a sentence."""
    current = answer.current
    name = f"'{current.vessel}'"
    if current.speed is None:
        long = layout.vessels[current.vessel].shape == "long"
        why = "its shape is long: one bar does not turn it as one" if long else "the file does not give its 'area'"
        return f"How fast {name} turns cannot be said: {why}. Its jets push with {current.thrust:.2f} N."
    turns = f"{name} turns at {from_to(current.speed, layout.units)}"
    if not current.turns:
        turns = f"If its holes point along the wall, which the file does not say ('aim: along the wall'), {turns}"
    fish = "" if current.fish is None else fish_words(layout, current.fish)
    if answer.verdict == "too fast":
        return f"Too fast. {turns}: {fish}."
    if answer.verdict == "too slow":
        return f"Too slow. {turns}: solids stay where they fall."
    return f"Good. {turns}{': ' + fish if fish else ''}."


def current_as_json(layout: Layout, answers: Sequence[TankAnswer]) -> dict[str, Any]:
    """Give tank currents as plain data."""
    return {**about(layout), "tanks": {answer.current.vessel: _tank(layout, answer) for answer in answers}}


def _tank(layout: Layout, answer: TankAnswer) -> Mapping[str, Any]:
    current, size = answer.current, answer.size
    drill = "hole_mm current_m_s=speed verdict inflow_l_min jet_m_s"
    return {
        "verdict": answer.verdict or None,
        "answer": verdict_words(layout, answer),
        **fields(answer, "aim_stated=current.turns inflow_l_min"),
        **in_units({"thrust_n": current.thrust}),
        **fields(current, "wetted_m2"),
        "current_m_s": current.speed and fields(current.speed, "low likely high"),
        "fish": current.fish and fields(current.fish, "length_m known_from=known swims_m_s=speed"),
        "bars": [_bar(one) for one in current.bars],
        **in_units({"wanted_m_s": answer.wanted if current.speed is not None else None}),
        **fields(answer, "turn_off_wall_deg=turn hole_mm=size.exact"),
        "drills": [] if size is None else [fields(one, drill) for one in _drills(size)],
        **fields(answer, "take_mm=size.best.hole"),
    }


def _bar(bar: JetBar) -> dict[str, Any]:
    told = (
        "line step hole_mm=bar.hole aim_deg flow_l_min least_over_greatest=evenness.likely velocity_heads=speed_heads"
    )
    return fields(bar, told) | {"holes": [fields(hole, "flow_l_min jet_m_s=speed head_m") for hole in bar.holes]}
