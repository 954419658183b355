"""What a forecast of fouling comes to, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from ..units import Units, show
from ..upkeep.film import RATES
from ..upkeep.fouling import TOLD, Blame, Cleaning, Course, Fouling
from ..upkeep.words import access_name, listed, steps_of

if TYPE_CHECKING:
    from ..diagnose.pace import Pace

__all__ = [
    "access_words",
    "best_accesses",
    "focus",
    "fouling_words",
    "kept_words",
    "lost_by",
    "months_words",
    "pace_words",
    "place_words",
    "spread_words",
    "worst_stretches",
]


def fouling_words(result: Fouling) -> tuple[str, ...]:
    """The answer in a few sentences: who falls short when, what is to blame, and what cleaning wins back."""
    return (*_when(result), *_blame(result), *_cure(result))


def pace_words(pace: Pace) -> tuple[str, ...]:
    """How fast pipe fouls as it was read on visits."""
    if not pace.fits:
        return (
            "No rate of fouling explains what was read, so that what follows is not to be trusted: 'plumbline diagnose' weighs what else "
            "may be wrong.",
        )
    sure = (
        ""
        if pace.high - pace.low < 2.0
        else " That is hardly more than was known before: read again when pipe has fouled for longer."
    )
    return (
        f"As read, pipe here fouls at {_rate_words(pace.likely)}; nine times in ten it lies between {_rate_words(pace.low)} and "
        f"{_rate_words(pace.high)}. These are the slow, the likely and the fast rate below.{sure}",
    )


def _rate_words(place: float) -> str:
    """A place between the catalogue's rates."""
    far, share = "fast" if place > 0.0 else "slow", abs(place)
    if share < 0.05:
        return "the likely rate"
    if share > 1.05:
        return f"{share:.1f} times the way to the {far} rate"
    return f"the {far} rate" if share > 0.95 else f"{share:.0%} of the way from the likely rate to the {far} one"


def _when(result: Fouling) -> Iterator[str]:
    last = months_words(result.months[-1])
    dry = [one for one in result.courses.values() if one.short_after["likely"] == 0]
    units = result.layout.units
    for one in dry:
        end = show(one.likely[-1], "flow", units, unit=False)
        yield (
            f"'{one.vessel}' gets too little already, {show(one.likely[0], 'flow', units)} in clean pipe; after {last} it gets "
            f"{end}{spread_words(one, result.months[-1], units)}."
        )
    first = result.first
    wanting = [one for one in result.courses.values() if one.wanted]
    if first is not None:
        yield f"'{first.vessel}' falls under what it wants {_after(first.short_after, last)}."
        others = [one for one in wanting if one is not first and any(month for month in one.short_after.values())]
        if others:
            names = listed(f"'{one.vessel}'" for one in others)
            yield f"So {'does' if len(others) == 1 else 'do'} {names}."
    elif len(dry) < len(wanting):
        yield f"{'No other' if dry else 'No'} vessel falls under what it wants within {last}, at any rate."
    over = [one for one in result.courses.values() if any(month for month in one.overtops_after.values())]
    for one in over:
        yield f"'{one.vessel}' overtops {_after(one.overtops_after, last)}, as its drains foul."


def spread_words(course: Course, month: int, units: Units) -> str:
    """The range over the three rates in brackets, where it shows."""
    low, high = (show(flows[month], "flow", units, unit=False) for flows in (course.low, course.high))
    return "" if low == high else f" ({low} to {high})"


def _after(by_rate: Mapping[str, int | None], last: str) -> str:
    known = {rate: month for rate in RATES if (month := by_rate[rate]) is not None}
    never = [rate for rate in RATES if rate not in known]
    low, high = min(known.values()), max(known.values())
    text = f"after {months_words(low)}" if low == high else f"after {low} to {months_words(high)}"
    if not never:
        return text
    rates = f"the {listed(never)} rate{'s' if len(never) > 1 else ''}"
    one = f"at the {next(iter(known))} rate " if len(known) == 1 else ""
    return f"{one}{text}, but at {rates} not within {last}"


def _blame(result: Fouling) -> Iterator[str]:
    vessel = focus(result)
    if vessel is None:
        return
    units, worst = result.layout.units, result.worst(vessel)
    lost = lost_by(result, vessel)
    if worst is not None:
        gain = worst.gains[vessel]
        more = ", more than is lost, since slime elsewhere sends water here" if gain > 1.05 * lost else ""
        yield (
            f"At the likely rate '{vessel}' loses {show(lost, 'flow', units)} in {months_words(result.months[-1])}. Most to blame is "
            f"{place_words(result, worst.stretch)}: clean, it alone would give back {show(gain, 'flow', units)}{more}."
        )


def _cure(result: Fouling) -> Iterator[str]:
    vessel = focus(result)
    if vessel is None:
        return
    units, best, every = result.layout.units, result.best(vessel), result.all_cleaned
    lost = lost_by(result, vessel)
    if best is None or not told(best.gains[vessel], units):
        yield (
            "Cleaning all that rods and flushes reach wins none of it back: the pipe to blame cannot be reached. 'plumbline check' "
            "tells what would open it."
        )
        return
    yield (
        f"Cleaning from {access_words(result, best)} wins back {show(best.gains[vessel], 'flow', units)}; from all accesses "
        f"together {show(every.gains[vessel], 'flow', units)}."
    )
    if every.gains[vessel] < 0.5 * lost:
        yield "The rest is in pipe that nothing reaches: 'plumbline check' tells what would open it."


def lost_by(result: Fouling, vessel: str) -> float:
    """What a vessel has lost after the last month at the likely rate, as against new pipe [m³/s]."""
    return result.renewed[vessel] - result.courses[vessel].likely[-1]


def worst_stretches(result: Fouling, vessel: str, most: int) -> list[Blame]:
    """The stretches that would give a vessel most back, clean again alone; those that hardly give any are left out."""
    worst = sorted(result.blames, key=lambda one: -one.gains[vessel])
    return [one for one in worst if one.shares[vessel] >= 0.005][:most]


def best_accesses(result: Fouling, vessel: str, most: int) -> list[Cleaning]:
    """The accesses from which cleaning gives a vessel most back, where that shows in the figures."""
    best = sorted(result.cleanings, key=lambda one: -one.gains[vessel])
    return [one for one in best if told(one.gains[vessel], result.layout.units)][:most]


def focus(result: Fouling) -> str | None:
    """The vessel to speak of: the first that falls short; else the one that loses the largest share of its flow."""
    if result.first is not None:
        return result.first.vessel
    now = {name: one.likely[-1] for name, one in result.courses.items()}
    lost = {name: 1.0 - now[name] / new for name, new in result.renewed.items() if new > 0.0}
    wanting = [name for name in lost if result.courses[name].wanted] or list(lost)
    worst = max(wanting, key=lambda name: lost[name], default=None)
    return worst if worst is not None and lost[worst] >= 0.0005 else None


def place_words(result: Fouling, stretch_id: str) -> str:
    """A stretch in the user's words: its line and steps."""
    stretch = next(one for one in result.layout.stretches if one.id == stretch_id)
    alone = sum(one.line == stretch.line for one in result.layout.stretches) == 1
    return f"'{stretch.line}'" if alone else f"'{stretch.line}', {steps_of([stretch])}"


def access_words(result: Fouling, one: Cleaning) -> str:
    """An access in the user's words."""
    if not one.access:
        return "all of them"
    access = next((access for access in result.layout.accesses if access.id == one.access), None)
    return one.access if access is None else access_name(result.layout, access)


def told(gain: float, units: Units) -> bool:
    """Whether a gain shows in the figures."""
    return gain > TOLD and float(show(gain, "flow", units, unit=False)) > 0.0


def kept_words(result: Fouling) -> str:
    """How often what can be reached is cleaned."""
    if result.every is None:
        return "if nothing is cleaned"
    often = "every month" if result.every == 1 else f"every {result.every} months"
    return f"with all that can be reached cleaned {often}"


def months_words(count: int) -> str:
    """So many months.

    >>> months_words(1), months_words(24)
    ('1 month', '24 months')
    """
    return "1 month" if count == 1 else f"{count} months"
