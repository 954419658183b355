"""What can go wrong and what guards against it, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from ..catalogue import husbandry
from ..husbandry.between import Between
from ..mishaps import Guarded, Mishap, Mishaps
from ..mishaps.harm import Harm
from ..units import show
from .care import care, cautions_of
from .plain import about, fields, heading, in_units, point, points

__all__ = ["MishapsView", "mishaps_as_json", "worst_sentence"]

_MOST, _MOST_NAMED = 12, 4
_FISH_ROWS = ("stocking", "feeding rate", "fish oxygen", "feeding peak", "oxygen in tank", "oxygen of distress")


@dataclass(frozen=True)
class MishapsView:
    """A rich renderable of mishaps and guards."""

    found: Mishaps
    guards: Guarded
    everything: bool = False

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        found = self.found
        layout = found.running.layout
        yield Text(f"{layout.name}: what can go wrong", style="bold")
        yield Text(worst_sentence(found))
        for harm in found.already:
            yield Text(f"With nothing wrong {harm.words} already: that is not told again below.")
        if found.harmful:
            yield heading("In the order of harm and likelihood")
            yield self._table()
        yield from self._harmless()
        yield from self._fish()
        yield from self._guards()
        yield from care("mishaps", layout, _notes(found))

    def _table(self) -> Table:
        table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False)
        for head in ("what goes wrong", "first harm", "after", "lost", "fish have", "how often"):
            table.add_column(head, justify="right" if head in ("after", "lost") else "left", overflow="fold")
        shown = self.found.harmful if self.everything else self.found.harmful[:_MOST]
        for one in shown:
            first = one.first
            assert first is not None
            table.add_row(
                Text(one.words),
                Text(first.words),
                _after(first.time),
                self._lost(one),
                _fish_have(one.air),
                Text(one.likely),
            )
        return table

    def _lost(self, one: Mishap) -> str:
        return show(one.lost, "volume", self.found.running.layout.units) if one.lost > 5e-5 else ""

    def _harmless(self) -> Iterator[RenderableType]:
        found = self.found
        more = len(found.harmful) - _MOST
        if more > 0 and not self.everything:
            yield Text(f"… and {more} more; --all shows them")
        doubts = [one for one in found.mishaps if one.doubt]
        quiet = [one for one in found.mishaps if not one.harms and not one.doubt]
        for one in doubts:
            yield Text(f"{_upper(one.words)}: {one.doubt}")
        if quiet:
            yield Text(f"{len(quiet)} of {len(found.mishaps)} mishaps do no harm within {found.running.hours:g} h.")
        if self.everything:
            for one in quiet:
                yield point(one.words + (f": {one.fault.note}" if one.fault.note else ""))

    def _fish(self) -> Iterator[RenderableType]:
        fish = self.found.fish
        if fish is None or not any(one.air is not None for one in self.found.mishaps):
            return
        yield heading("What the fish have")
        units = self.found.running.layout.units
        for name, stock in fish.stock.items():
            source = "by the file's wish" if fish.said else "taken, as the file has no wish for fish"
            yield point(
                f"'{name}': {show(stock.low, 'mass', units, unit=False)} to {show(stock.high, 'mass', units)} of fish, {source}; oxygen from {1e3 * fish.start.likely:.0f} mg/L "
                f"({1e3 * fish.start.low:.0f} to {1e3 * fish.start.high:.1f}) down to {1e3 * fish.limit.likely:.0f} mg/L."
            )
        yield point(
            "The time is from when no water comes, or from when the power goes: most likely, and from all that is bad together to "
            "all that is good. No air stone runs, and nothing comes in over the surface."
        )
        rows = (husbandry()[name] for name in _FISH_ROWS)
        yield from points((f"{row.meaning}: {row.source}" for row in rows), style="dim")

    def _guards(self) -> Iterator[RenderableType]:
        guards = self.guards
        if not guards.guards:
            return
        yield Text(
            "\nFew guards that take most of it away, each tried alone, the one that gives most for its money first",
            style="bold underline",
        )
        for number, one in enumerate(guards.guards, 1):
            yield point(f"{number}. {one.guard.change.words}; costs {one.cost:.2f}")
            takes: dict[str, list[str]] = {}
            for mishap, harms in one.takes:
                takes.setdefault("; ".join(harm.words for harm in harms), []).append(mishap.words)
            for harms_said, mishaps in takes.items():
                yield point(f"no more: {harms_said}, when {_some(mishaps)}", by=5)
        if guards.proof is None:
            yield Text(f"Together: {guards.why}")
            return
        left = guards.after / guards.before
        yield Text(
            f"With all of them in, every mishap was followed again, those of the new parts too: {left:.0%} of the harm is left, by its "
            "weight and likelihood."
        )


def worst_sentence(found: Mishaps) -> str:
    """The worst mishap in a sentence."""
    if not found.harmful:
        return f"No single part that goes wrong does harm within {found.running.hours:g} h, as far as the file tells."
    worst = found.harmful[0]
    first = worst.first
    assert first is not None
    lost = ""
    if worst.lost > 5e-5:
        litres = show(worst.lost, "volume", found.running.layout.units)
        lost = f", and {litres} are lost within {found.running.hours:g} h"
    when = "at once" if first.time < 30.0 else f"after {_after(first.time)}"
    return f"The worst: {worst.words}. {_upper(first.words)} {when}{lost}."


def _some(mishaps: Sequence[str]) -> str:
    more = len(mishaps) - _MOST_NAMED
    return ", or ".join([*mishaps[:_MOST_NAMED], *([f"in {more} mishaps more"] if more > 0 else [])])


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def _after(seconds: float) -> str:
    minutes = seconds / 60.0
    return "at once" if seconds < 30.0 else f"{minutes:.0f} min" if minutes < 100.0 else f"{minutes / 60.0:.1f} h"


def _fish_have(air: Between | None) -> str:
    if air is None:
        return ""
    low, high = (f"{value / 60.0:.0f}" if math.isfinite(value) else "ever" for value in (air.low, air.high))
    return f"{air.likely / 60.0:.0f} min ({low} to {high})"


def _notes(found: Mishaps) -> list[str]:
    """What to know of all of it."""
    return [
        *(f"{_upper(said)}." for said in found.unknown),
        "How often a thing happens, what harm weighs and how a guard is set are common practice, no source; prices are placeholders "
        "without a price file of your own.",
        "One part goes wrong at a time. Air stones count by what they are for; all else is followed through time with the guard in the layout.",
    ]


def mishaps_as_json(found: Mishaps, guards: Guarded) -> dict[str, Any]:
    """Mishaps and guards as plain data, every number finite or null; its keys are promised in docs/json.md."""
    layout = found.running.layout
    return {
        **about(layout),
        "hours": found.running.hours,
        "worst": worst_sentence(found),
        "mishaps": [_mishap(one) for one in found.mishaps],
        "already": [_harm(harm) for harm in found.already],
        "guards": [
            {
                "change": one.guard.change.words,
                "cost": round(one.cost, 2),
                "takes_away": [
                    {**_which(mishap), "harms": [_harm(harm) for harm in harms]} for mishap, harms in one.takes
                ],
            }
            for one in guards.guards
        ],
        "proof": None
        if guards.proof is None
        else {
            "harm_before": guards.before,
            "harm_after": guards.after,
            "mishaps": [_mishap(one) for one in guards.proof.harmful],
        },
        "unknown": list(found.unknown),
        "notes": _notes(found),
        "cautions": dict(cautions_of("mishaps", layout)),
    }


def _which(one: Mishap) -> dict[str, Any]:
    return fields(one.fault, "part", "kind", "line", "step")


def _mishap(one: Mishap) -> dict[str, Any]:
    air = one.air
    return {
        **_which(one),
        "message": one.words,
        "first_harm": None if one.first is None else _harm(one.first),
        "harms": [_harm(harm) for harm in one.harms],
        "lost_l": 1e3 * one.lost,
        **in_units(
            {"fish_have_min": None if air is None else [value / 60.0 for value in (air.low, air.likely, air.high)]}
        ),
        "likelihood": one.likely,
        "do": one.do,
        "note": one.fault.note or None,
        "doubt": one.doubt or None,
    }


def _harm(harm: Harm) -> Mapping[str, Any]:
    return {**fields(harm, "what", "where"), "after_min": harm.time / 60.0}
