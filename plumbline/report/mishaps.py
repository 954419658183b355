"""What can go wrong and what guards against it, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from ..catalogue import husbandry, notes
from ..husbandry.wish import Between
from ..mishaps import Guarded, Mishap, Mishaps
from ..mishaps.harm import FishAir, Harm
from ..units import Units, show
from .plain import about, care, cautions_of, fields, heading, in_units, plain_table, point, points, view

__all__ = ["mishaps_as_json", "mishaps_view", "worst_sentence"]

_MOST, _MOST_NAMED = 12, 4
_LEAST_LOST = 5e-5
"""Less water [m³] is not spoken of."""
_WHICH = "part kind line step"
_FISH_ROWS = ("stocking", "feeding rate", "fish oxygen", "feeding peak", "oxygen in tank", "oxygen of distress")


@view
def mishaps_view(found: Mishaps, guards: Guarded, *, everything: bool = False) -> Iterator[RenderableType]:
    """What can go wrong, in the order of harm, and what guards against it; with `everything` harmless mishaps too."""
    layout = found.running.layout
    yield Text(f"{layout.name}: what can go wrong", style="bold")
    yield Text(worst_sentence(found))
    for harm in found.already:
        yield Text(f"With nothing wrong {harm.words} already: that is not told again below.")
    shown = found.harmful if everything else found.harmful[:_MOST]
    if shown:
        yield heading("In the order of harm and likelihood")
        yield _table(shown, layout.units)
    if len(shown) < len(found.harmful):
        yield Text(f"… and {len(found.harmful) - len(shown)} more; --all shows them")
    yield from (Text(f"{_upper(one.words)}: {one.doubt}") for one in found.mishaps if one.doubt)
    quiet = [one for one in found.mishaps if not one.harms and not one.doubt]
    if quiet:
        yield Text(f"{len(quiet)} of {len(found.mishaps)} mishaps do no harm within {found.running.hours:g} h.")
    if everything:
        yield from points(one.words + (f": {one.fault.note}" if one.fault.note else "") for one in quiet)
    if found.fish is not None and any(one.air is not None for one in found.mishaps):
        yield from _fish(found.fish, layout.units)
    if guards.guards:
        yield from _guards(guards)
    yield from care("mishaps", layout, _notes(found))


def _table(shown: Sequence[Mishap], units: Units) -> Table:
    rows = (
        (
            one.words,
            one.harms[0].words,
            _after(one.harms[0].time),
            show(one.lost, "volume", units) if one.lost > _LEAST_LOST else "",
            _fish_have(one.air),
            one.likely,
        )
        for one in shown
    )
    return plain_table("what goes wrong", "first harm", ">after", ">lost", "fish have", "how often", rows=rows)


def _fish(fish: FishAir, units: Units) -> Iterator[RenderableType]:
    yield heading("What the fish have")
    start, limit = fish.start, fish.limit
    for name, stock in fish.stock.items():
        source = "by the file's wish" if fish.said else "taken, as the file has no wish for fish"
        mass = f"{show(stock.low, 'mass', units, unit=False)} to {show(stock.high, 'mass', units)}"
        yield point(
            f"'{name}': {mass} of fish, {source}; oxygen from {1e3 * start.likely:.0f} mg/L ({1e3 * start.low:.0f} to {1e3 * start.high:.1f}) "
            f"down to {1e3 * limit.likely:.0f} mg/L."
        )
    yield point(
        "The time is from when no water comes, or from when the power goes: most likely, and from all that is bad together to "
        "all that is good. No air stone runs, and nothing comes in over the surface."
    )
    rows = (husbandry()[name] for name in _FISH_ROWS)
    yield from points((f"{row.meaning}: {row.source}" for row in rows), style="dim")


def _guards(guards: Guarded) -> Iterator[RenderableType]:
    yield heading("Few guards that take most of it away, each tried alone, the one that gives most for its money first")
    for number, one in enumerate(guards.guards, 1):
        yield point(f"{number}. {one.guard.change.words}; costs {one.cost:.2f}")
        takes: dict[str, list[str]] = {}
        for mishap, harms in one.takes:
            takes.setdefault("; ".join(harm.words for harm in harms), []).append(mishap.words)
        yield from points((f"no more: {harms}, when {_some(mishaps)}" for harms, mishaps in takes.items()), by=5)
    if guards.proof is None:
        yield Text(f"Together: {guards.why}")
    else:
        yield Text(
            f"With all of them in, every mishap was followed again, those of the new parts too: {guards.after / guards.before:.0%} of the "
            "harm is left, by its weight and likelihood."
        )


def worst_sentence(found: Mishaps) -> str:
    """The worst mishap in a sentence."""
    hours = f"within {found.running.hours:g} h"
    if not found.harmful:
        return f"No single part that goes wrong does harm {hours}, as far as the file tells."
    worst = found.harmful[0]
    first = worst.harms[0]
    litres = show(worst.lost, "volume", found.running.layout.units)
    lost = f", and {litres} are lost {hours}" if worst.lost > _LEAST_LOST else ""
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
    return [*(f"{_upper(said)}." for said in found.unknown), *notes("mishaps")]


def mishaps_as_json(found: Mishaps, guards: Guarded) -> dict[str, Any]:
    """Mishaps and guards as plain data, every number finite or null; its keys are promised in docs/json.md."""
    layout, proof = found.running.layout, guards.proof
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
                    {**fields(mishap.fault, _WHICH), "harms": [_harm(harm) for harm in harms]}
                    for mishap, harms in one.takes
                ],
            }
            for one in guards.guards
        ],
        "proof": proof
        and fields(guards, "harm_before=before harm_after=after")
        | {"mishaps": [_mishap(one) for one in proof.harmful]},
        "unknown": list(found.unknown),
        "notes": _notes(found),
        "cautions": dict(cautions_of("mishaps", layout)),
    }


def _mishap(one: Mishap) -> dict[str, Any]:
    air = None if one.air is None else [value / 60.0 for value in (one.air.low, one.air.likely, one.air.high)]
    return {
        **fields(one.fault, _WHICH),
        "message": one.words,
        "first_harm": one.first and _harm(one.first),
        "harms": [_harm(harm) for harm in one.harms],
        **fields(one, "lost_l"),
        **in_units({"fish_have_min": air}),
        **fields(one, "likelihood=likely do"),
        "note": one.fault.note or None,
        "doubt": one.doubt or None,
    }


def _harm(harm: Harm) -> dict[str, Any]:
    return fields(harm, "what where") | {"after_min": harm.time / 60.0}
