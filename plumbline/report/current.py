"""The current that spray bars give a tank, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.text import Text

from ..hydraulics.current_findings import fish_words, from_to, hole_words, long_words, slowly, turn_words
from ..hydraulics.hole_size import Drilled
from ..hydraulics.tank_current import JetBar
from ..layout.model import Layout
from ..tank_answer import TankAnswer
from ..units import drill_words, show
from .care import care
from .plain import about, fields, heading, in_units, plain_table, point, points

__all__ = ["CurrentView", "current_as_json"]

NO_BAR = (
    "No capped spray bar blows into a vessel here. One is a step of a line's route, for instance "
    "'spray bar: {{down: {}, holes: 12, hole: {}, in: tank, aim: along the wall}}'."
)

NOTES = (
    "The mean speed is where the jets' thrust is used up by the drag of floor and wall, and by the water that leaves. That drag "
    "may be less than half of the likely one, in a smooth tank with few fish, or five times as much in a crowded one: so the range. Near the wall the water is "
    "faster, near the middle slower.",
    "What fish can swim for hours is about 2.2 of their lengths a second at 10 cm (4 in) and 1.7 at 20 cm (8 in; Timmons and Ebeling, from memory): the smallest "
    "fish counts, and it grows out of it. 15 to 30 cm/s (1/2 to 1 ft/s) moves solids to the middle (the same, from memory); small tanks do with less.",
    "Measure it: time a float, or a grape that just sinks, once round, half way between wall and middle.",
)


@dataclass(frozen=True)
class CurrentView:
    """A rich renderable of tank currents."""

    layout: Layout
    answers: Sequence[TankAnswer]
    everything: bool = False

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield Text(f"{self.layout.name}: the current in its tanks", style="bold")
        if not self.answers:
            units = self.layout.units
            yield Text(
                NO_BAR.format(
                    show(0.6096, "length", units), drill_words(0.00635 if units.size == "in" else 0.006, units)
                )
            )
            return
        for number, answer in enumerate(self.answers):
            if number:
                yield Text()
            yield Text(verdict_words(self.layout, answer))
            yield heading(f"'{answer.current.vessel}'")
            yield self._numbers(answer)
            for bar in answer.current.bars:
                yield heading(f"The bar at step {bar.step} of '{bar.line}'")
                yield point(self._even(bar))
                yield self._holes(bar)
            yield from self._do(answer)
        yield heading("How sure")
        yield from points(NOTES, style="dim")
        yield from care("current", self.layout)

    def _numbers(self, answer: TankAnswer) -> RenderableType:
        units, current = self.layout.units, answer.current
        rows: list[tuple[str, str]] = []
        rows.append(("water in", f"{show(answer.inflow, 'flow', units)}{_changed(current.changed)}"))
        rows.append(("thrust along the wall", f"{current.thrust:.2f} N"))
        if current.wetted is not None:
            shape = self.layout.vessels[current.vessel].shape
            round_ = " (round, as the file does not say)" if shape is None else f" ({shape})"
            rows.append(("floor and wall", f"{show(current.wetted, 'area', units)}{round_}"))
        if current.speed is not None:
            rows.append(("mean current", from_to(current.speed, units)))
        if current.fish is not None:
            rows.append(
                (
                    "can swim for hours",
                    f"{slowly(current.fish.speed, units)}, fish of {long_words(current.fish.length, units)}",
                )
            )
        least, most = self.layout.limits["tank current"], 2.0 * self.layout.limits["tank current"]
        rows.append(("moves solids", f"{slowly(least, units)} to {slowly(most, units)}"))
        return plain_table("", "", rows=rows)

    def _even(self, bar: JetBar) -> str:
        first, last = bar.holes[0].flow, bar.holes[-1].flow
        most = max(hole.flow for hole in bar.holes)
        even = bar.evenness
        share = f"{100.0 * even.likely:.0f} %"
        if round(100.0 * even.low) != round(100.0 * even.high):
            share = f"{100.0 * even.low:.0f} to {100.0 * even.high:.0f} %"
        rule = (
            "ten velocity heads or more, so the pipe keeps it even"
            if bar.speed_heads >= 10.0
            else "under ten, so the pipe makes it uneven"
        )
        aim = {None: "the file does not say where they point", 0.0: "along the wall"}.get(
            bar.aim, f"{math.degrees(bar.aim or 0.0):.0f}° off the wall"
        )
        dry = sum(height > 0.0 for height in bar.bar.above)
        where = "in the air" if bar.in_air else f"{dry} in the air and the others under water" if dry else "under water"
        ends = f"the first gives {100.0 * first / most:.0f} % and the last {100.0 * last / most:.0f} % of the greatest"
        return (
            f"{len(bar.holes)} holes of {drill_words(bar.bar.hole, self.layout.units)}, {aim}, {where}. The least gives {share} of "
            f"the greatest; {ends}. The holes take {bar.speed_heads:.0f} times the velocity head in the pipe: {rule}."
        )

    def _holes(self, bar: JetBar) -> RenderableType:
        flows = [hole.flow for hole in bar.holes]
        n = len(flows)
        shown = range(n) if self.everything else sorted({0, n - 1, flows.index(min(flows)), flows.index(max(flows))})
        holes = ((i + 1, bar.holes[i]) for i in shown)
        units = self.layout.units
        rows = (
            (
                str(i),
                show(hole.flow, "flow", units, decimals=2),
                show(hole.speed, "speed", units),
                show(hole.head, "head", units),
            )
            for i, hole in holes
        )
        return plain_table(">hole", ">flow", ">jet", ">head", rows=rows)

    def _do(self, answer: TankAnswer) -> RenderResult:
        if answer.size is None and answer.turn is None:
            return
        yield heading(f"For {slowly(answer.wanted, self.layout.units)}")
        if answer.turn is not None:
            yield point(turn_words(answer.turn))
        if answer.size is not None:
            size = answer.size
            yield point(hole_words(self.layout, answer.current, size))
            table = plain_table(">hole", ">mean current", "", ">water in", ">fastest jet")
            for one in [one for one in (size.below, size.above) if one is not None] or [size.best]:
                table.add_row(
                    drill_words(one.hole, self.layout.units),
                    slowly(one.speed, self.layout.units),
                    one.verdict,
                    show(one.inflow, "flow", self.layout.units),
                    show(one.jet, "speed", self.layout.units),
                )
            yield table


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
    current, size, fish = answer.current, answer.size, answer.current.fish
    return in_units(
        {
            "verdict": answer.verdict or None,
            "answer": verdict_words(layout, answer),
            "aim_stated": current.turns,
            "inflow_l_min": answer.inflow,
            "thrust_n": current.thrust,
            "wetted_m2": current.wetted,
            "current_m_s": None if current.speed is None else fields(current.speed, "low", "likely", "high"),
            "fish": None
            if fish is None
            else in_units({"length_m": fish.length, "known_from": fish.known, "swims_m_s": fish.speed}),
            "bars": [_bar(one) for one in current.bars],
            "wanted_m_s": answer.wanted if current.speed is not None else None,
            "turn_off_wall_deg": answer.turn,
            "hole_mm": None if size is None else size.exact,
            "drills": []
            if size is None
            else [_drill(one) for one in (size.below, size.above) if one is not None] or [_drill(size.best)],
            "take_mm": None if size is None else size.best.hole,
        }
    )


def _bar(bar: JetBar) -> dict[str, Any]:
    return {
        **fields(bar, "line", "step"),
        **in_units({"hole_mm": bar.bar.hole, "aim_deg": bar.aim, "flow_l_min": bar.flow}),
        "least_over_greatest": bar.evenness.likely,
        "velocity_heads": bar.speed_heads,
        "holes": [
            in_units({"flow_l_min": hole.flow, "jet_m_s": hole.speed, "head_m": hole.head}) for hole in bar.holes
        ],
    }


def _drill(one: Drilled) -> dict[str, Any]:
    return in_units(
        {
            "hole_mm": one.hole,
            "current_m_s": one.speed,
            "verdict": one.verdict,
            "inflow_l_min": one.inflow,
            "jet_m_s": one.jet,
        }
    )


def _changed(seconds: float | None) -> str:
    return "" if seconds is None else f", the tank's whole water in {seconds / 60.0:.0f} min"
