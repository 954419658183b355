"""A diagnosis on a terminal and as plain data: what is most likely wrong, what each suspect makes of the readings, what to do, and
what to read next. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from ..catalogue import causes, notes
from ..diagnose.causes import Cause
from ..diagnose.diagnosis import Diagnosis, Suspect
from ..diagnose.places import BUCKET, PATIENCE, Place
from ..diagnose.weigh import NextReading
from ..layout.model import Layout, Reading
from ..layout.readings import measure_for
from ..units import Units, show
from .plain import about, care, fields, heading, in_units, plain_table, points, view

__all__ = [
    "alike_words",
    "cure_words",
    "diagnosis_as_json",
    "diagnosis_view",
    "further_words",
    "headline",
    "letter_of",
    "reading_rows",
    "suspect_rows",
]

FEW = 6
"""So many suspects, and so many places to read next, are shown."""

WORTH = 0.05
"""A reading that tells less than so many bits is not worth the walk."""


@view
def diagnosis_view(
    found: Diagnosis, *, everything: bool = False, written: tuple[str, Suspect] | None = None
) -> Iterator[RenderableType]:
    """A diagnosis; `written` is the path of the file that what is learnt was written to, with its suspect."""
    shown = found.suspects if everything else found.suspects[:FEW]
    yield Text(f"{found.layout.name}: {headline(found)}", style="bold")
    yield heading("What was read, and what each would make of it")
    columns, rows = reading_rows(found, shown)
    yield plain_table("reading", *(f">{column}" for column in columns), rows=rows)
    if shown:
        yield heading("Suspects, the likeliest first")
        yield plain_table("", ">chance", "what", "between", rows=suspect_rows(found, shown))
        yield from points(alike_words(found))
        yield heading("What to do")
        yield from points(cure_words(shown[:3], shown))
    if found.next:
        yield heading("What to read next")
        yield from points(further_words(found))
    yield from care("diagnose", found.layout, notes("diagnose"))
    if written is not None:
        path, suspect = written
        said = suspect_words(suspect.cause, suspect.amount, found.layout)
        yield Text(f"\nWritten to {path}: your file, in which {said}.")


def reading_rows(found: Diagnosis, shown: Sequence[Suspect]) -> tuple[list[str], list[list[str]]]:
    """What was read, and what the file as written and each of the suspects `shown` would have it be: columns, and rows of one cell more."""
    units, rows = found.layout.units, []
    for number, reading in enumerate(found.readings):
        cells = [reading.value, found.written[number], *(one.values[number] for one in shown)]
        rows.append([place_words(reading), *(value_words(reading, cell, units) for cell in cells)])
    return ["read", "as written", *(letter_of(one.cause, shown) for one in shown)], rows


def suspect_rows(found: Diagnosis, shown: Sequence[Suspect]) -> list[tuple[str, str, str, str]]:
    """The letter, the chance, what it is and between which amounts, of each of the suspects `shown`; then those of the rest."""
    rows = []
    for one in shown:
        low, high = (amount_words(one.cause, amount, found.layout) for amount in (one.low, one.high))
        said = suspect_words(one.cause, one.amount, found.layout)
        rows.append((letter_of(one.cause, shown), f"{one.chance:.0%}", said, f"{low} and {high}"))
    rows.append(("", f"{found.chance:.0%}", "the file as written", ""))
    rest = 1.0 - sum(one.chance for one in shown) - found.chance
    return [*rows, *([("", f"{rest:.0%}", "all others together", "")] if rest >= 0.005 else [])]


def headline(found: Diagnosis) -> str:
    """The answer in a sentence."""
    groups = list(found.groups.values())
    if not found.explained:
        units = found.layout.units
        against = " and ".join(f"{place_words(one)}, {value_words(one, one.value, units)}," for one in found.against)
        hint = (
            f" Without {against} something would: read that again."
            if found.against
            else " Read the oddest again, or look for two things at once."
        )
        return f"nothing that was weighed explains the readings.{hint}"
    first = groups[0] if groups else []
    total = sum(one.chance for one in first)
    if found.nothing_shows >= total:
        said = "explains the readings" if found.fits else "is the likeliest"
        besides = f", with {len(found.silent)} things that would not show in them" if found.silent else ""
        return f"the file as written {said} ({found.nothing_shows:.0%}{besides})."
    said = suspect_words(first[0].cause, first[0].amount, found.layout)
    if len(first) == 1:
        return f"most likely {said} ({total:.0%})."
    return f"most likely {said}, or one of {len(first) - 1} more that these readings cannot tell from it ({total:.0%} together)."


def suspect_words(cause: Cause, amount: float, layout: Layout) -> str:
    """A cause as a sentence."""
    return causes()[cause.kind].says.format(where=cause.where, amount=amount_words(cause, amount, layout))


def amount_words(cause: Cause, amount: float, layout: Layout) -> str:
    """How bad it is, in the units of the file."""
    match cause.kind:
        case "narrowed" if cause.line is None:
            return f"{amount:.0%} of its bore"
        case "narrowed" | "plug" | "lets back" | "air" | "choked" | "size":
            return show(amount * cause.bore, "size", layout.units)
        case "leak":
            return show(amount, "size", layout.units)
        case "height" | "water" | "not topped up":
            return f"{show(abs(amount), 'length', layout.units)} {'higher' if amount > 0 else 'lower'}"
        case _:
            return f"{amount:.0%}"


def place_words(place: Place | Reading) -> str:
    """What is read where."""
    return {"flow": "flow at", "head": "clear hose at", "depth": "depth in", "power": "power of"}[
        place.what
    ] + f" '{place.where}'"


def value_words(place: Place | Reading, value: float, units: Units) -> str:
    """A reading as one reads it: litres by their seconds, and where nobody waits for a bucket to fill, what is caught in the end."""
    match place.what:
        case "flow" if isinstance(place, Place):
            bucket, _ = measure_for(BUCKET / 60.0, units)
            if _fills(value, units):
                return f"{bucket / value:.0f} s"
            caught = value * PATIENCE
            said = f"{show(caught, 'volume', units)} in {PATIENCE / 60.0:.0f} min"
            return said if caught > 0.01 * bucket else "next to nothing"
        case "flow":
            litres = getattr(place, "litres", 0.0) or BUCKET
            return f"{litres / value:.0f} s" if value * 3600.0 > litres else "nothing"
        case "power":
            return f"{value:.0f} W"
        case "opening":
            return f"{value:.0%} open"
        case "head" if value < 0.0:
            return "none"
        case _:
            return show(value, "length", units)


def _fills(flow: float, units: Units) -> bool:
    """Whether a flow [m³/s] fills a bucket while one waits."""
    return flow * PATIENCE >= measure_for(BUCKET / 60.0, units)[0]


def cure_words(leading: Sequence[Suspect], shown: Sequence[Suspect]) -> list[str]:
    """The cheapest cures of the leading suspects, each once."""
    by_cure: dict[str, list[str]] = {}
    for one in leading:
        by_cure.setdefault(one.cure.text, []).append(letter_of(one.cause, shown))
    return [f"{', '.join(letters)}: {text}." for text, letters in by_cure.items()]


def further_words(found: Diagnosis) -> list[str]:
    """The readings worth taking, or that none is."""
    worth = [one for one in found.next if one.bits >= WORTH][:3]
    if worth:
        return [next_words(found, one) for one in worth]
    return [
        "Nothing more that bucket, tape, clear hose or meter get at tells them apart: do the likeliest, and time the same ends again."
    ]


def next_words(found: Diagnosis, one: NextReading) -> str:
    """A reading to take, and what it would be under the two likeliest causes that it tells apart."""
    units, place = found.layout.units, one.place
    said = [(cause, value) for cause, value in zip(found.leading, one.expected, strict=False)]
    first = said[0]
    other = next((pair for pair in said[1:] if abs(pair[1] - first[1]) > one.sigma), None)
    fills = any(_fills(value, units) for _, value in (first, other or first))
    verb = {
        "flow": f"time {measure_for(BUCKET / 60.0, units)[1]} at '{place.where}'"
        if fills
        else f"hold a bucket under '{place.where}' for {PATIENCE / 60.0:.0f} min",
        "head": f"put a clear hose on '{place.where}'",
        "depth": f"measure the depth in '{place.where}'",
        "power": f"read the power of '{place.where}'",
        "opening": f"look how '{place.where}' stands",
    }[place.what]
    words = f"{verb}: {value_words(place, first[1], units)} if {_short(first[0])}"
    if other is not None:
        words += f", {value_words(place, other[1], units)} if {_short(other[0])}"
    return f"{words}; that tells {one.bits:.2f} bits"


def _short(cause: Cause) -> str:
    if cause.kind == "as written":
        return "the file is right"
    if cause.kind == "lets back":
        return f"{cause.where} lets back"
    if cause.kind in ("narrowed", "worn", "slowed", "choked", "not topped up"):
        return f"{cause.where} {'has' if cause.kind == 'narrowed' else 'is'} {cause.kind}"
    return f"it is the {cause.kind} at {cause.where}"


def alike_words(found: Diagnosis) -> Iterator[str]:
    """Which suspects the readings cannot tell apart."""
    shown = found.suspects[:FEW]

    def named(some: Sequence[Suspect]) -> tuple[list[str], str]:
        letters = [letter for one in some if (letter := letter_of(one.cause, shown))]
        more = len(some) - len(letters)
        return letters, f"{', '.join(letters)}{' and ' if letters and more else ''}{f'{more} more' if more else ''}"

    if found.silent:
        yield f"These readings cannot tell {named(found.silent)[1]} from the file as written."
    for letters, said in map(named, found.groups.values()):
        if len(letters) > 1:
            yield f"These readings cannot tell {said} apart."


def letter_of(cause: Cause, shown: Sequence[Suspect]) -> str:
    """The letter that stands for a suspect among those `shown`; "" for another."""
    number = next((n for n, one in enumerate(shown) if one.cause is cause), None)
    return "" if number is None else chr(ord("A") + number % 26)


# ---------------------------------------------------------------------- plain data


def diagnosis_as_json(found: Diagnosis, written: str | None = None) -> dict[str, Any]:
    """Return a diagnosis as plain data, every number finite or null: see `docs/json.md`."""
    return {
        **about(found.layout),
        "answer": headline(found),
        **fields(found, "fits explained"),
        "against": [place_words(one) for one in found.against],
        **fields(found, "as_written=chance nothing_shows"),
        "read": [_read(one, value) for one, value in zip(found.readings, found.written, strict=True)],
        "suspects": [_suspect(found, one) for one in found.suspects],
        "next": [
            fields(one, "measure=place.what where=place.where tells_bits=bits") | {"words": next_words(found, one)}
            for one in found.next
        ],
        "written": written,
    }


def _read(one: Reading, as_written: float) -> dict[str, Any]:
    numbers = {"value": one.value, "sigma": one.sigma, "as_written": as_written}
    unit = {"flow": "L/min", "power": "W"}.get(one.what, "m")
    return {"reading": place_words(one), "unit": unit} | {key: _scaled(one, value) for key, value in numbers.items()}


def _suspect(found: Diagnosis, one: Suspect) -> dict[str, Any]:
    values = zip(found.readings, one.values, strict=True)
    return {
        **fields(one.cause, "kind line step steps pump vessel"),
        "words": suspect_words(one.cause, one.amount, found.layout),
        **fields(one, "probability=chance group amount amount_low=low amount_high=high"),
        "readings": {place_words(place): _scaled(place, value) for place, value in values},
        **fields(one, "cure=cure.text access=cure.access"),
    }


def _scaled(place: Reading, value: float) -> Any:
    return next(iter(in_units({"flow_l_min" if place.what == "flow" else place.what: value}).values()))
