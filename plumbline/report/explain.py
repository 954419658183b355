"""What a word means: a kind of finding with its rule, its source and its limits; a word of the language, of the output or of the trade."""

from __future__ import annotations

import math
import re
import shutil
import sys
import textwrap
from collections.abc import Iterator
from typing import Any

from .. import catalogue
from ..catalogue.rows import RodRow
from ..errors import PlumblineError
from ..layout import words
from ..layout.faults import listed, nearest_words

__all__ = ["explain", "kinds", "rod_words", "wrapped"]


def kinds() -> str:
    """All kinds of finding, a line each."""
    rows = catalogue.findings().values()
    wide = max(len(row.kind) for row in rows)
    return "\n".join(f"{row.kind:<{wide}}  {row.level:<6}  {row.title}" for row in rows)


def explain(word: str) -> str:
    """What a word means: a kind of finding with its rule, source, limits and doubts; a fitting, a pipe, a key of the language, a
    threshold; or a word of the output or of the trade. One that is several things gets all of them.

    Raises:
        PlumblineError: for a word that is none of these, with the nearest one.
    """
    said = " ".join(word.split())
    found = [
        one for maker in (_finding, _term, _column, _fitting, _pipe, _tool, _key, _limit, _trade) for one in maker(said)
    ]
    if not found:
        near = nearest_words(said, _all_words())
        hint = f" Did you mean '{near[0]}'?" if near else " 'plumbline explain' lists the kinds of finding."
        raise PlumblineError(f"There is no finding and no word called '{said}'.{hint}")
    return "\n\n".join("\n".join(wrapped(line, 10) for line in lines) for lines in found)


def _all_words() -> list[str]:
    keys = (
        one
        for table in words.TABLES.values()
        for word, key in table.items()
        for one in (word, *key.also, *dict(key.alike))
    )
    trade = (word for some in catalogue.trade_words().values() for word in some)
    tables = (
        catalogue.findings(),
        catalogue.terms(),
        catalogue.columns(),
        catalogue.fittings().words,
        catalogue.limits(),
        keys,
        trade,
    )
    return list(dict.fromkeys(word for some in tables for word in some))


def _finding(kind: str) -> Iterator[list[str]]:
    rows = catalogue.findings()
    if kind not in rows:
        return
    row = rows[kind]
    out = [
        f"{row.kind} ({row.level}): {row.title}",
        "",
        f"  Rule    It is said when {row.rule}",
        f"  Source  {row.source} ({row.mark})",
    ]
    if catalogue.sources(kind) != (row.source,):
        out += [f"  Code    {source}" for source in catalogue.sources(kind)]
    for name in row.limits:
        limit = catalogue.limits()[name]
        others = f"; others: {limit.others}" if limit.others else ""
        out.append(
            f"  Limit   {name}: {limit.shown}, {limit.meaning}. {limit.source} ({limit.mark}){others}. "
            f"To set your own: limits: {{{name}: …}}"
        )
    doubt = row.extra.get("doubt")
    if doubt and doubt != "none":
        out.append(f"  Doubt   {doubt}.")
    yield out


def _term(word: str) -> Iterator[list[str]]:
    terms = catalogue.terms()
    for one in (
        word.lower(),
        word.lower().removesuffix("s"),
        word.lower().removesuffix("es"),
        word.lower().replace("-", " "),
    ):
        if one in terms:
            yield [f"{one}: {terms[one]}"]
            return


def _column(heading: str) -> Iterator[list[str]]:
    """A heading of a table, whatever number stands in it."""
    columns = catalogue.columns()
    bare = re.sub(r"^\d+ | \d+$", "", heading)
    if bare in columns:
        yield [f"{heading} (over a column): {columns[bare]}"]


def _sourced(said: str, row: Any) -> list[str]:
    return [said, "", f"  Source  {row.source} ({row.mark})"]


def _tool(word: str) -> Iterator[list[str]]:
    """A material, a rod or a plumbing code of the catalogue."""
    if word in catalogue.materials():
        wall = catalogue.materials()[word]
        heat = "" if wall.hottest is None else f", to be used under pressure up to {wall.hottest:g} °C: {wall.because}"
        yield _sourced(f"{word} (a material): roughness {wall.roughness * 1000:g} mm{heat}", wall)
    if word in catalogue.rods():
        row = catalogue.rods()[word]
        yield _sourced(f"{row.name} (a rod): {rod_words(row)}", row)
    if word in catalogue.codes():
        code = catalogue.codes()[word]
        yield [
            f"{word} (a plumbing code): {code.title}; 'plumbline names codes' lists the rules that are held against drains"
        ]


def rod_words(row: RodRow) -> str:
    """What a rod of the catalogue does."""
    heads = ", ".join(f"{size * 1000:g}" for size in row.brushes)
    cleans = (
        f"brushes of {heads} mm" if heads else f"cleans bores of {row.bores[0] * 1000:g} to {row.bores[1] * 1000:g} mm"
    )
    way = ", pulled through from one opening to another" if row.cord else ""
    return (
        f"{row.length:g} m{way}, bends to {math.degrees(row.bend):g}°, {math.degrees(row.turns):g}° in all, {cleans}"
        + ("" if row.room is None else f", takes {row.room * 1000:g} mm in front of an opening")
    )


def _fitting(word: str) -> Iterator[list[str]]:
    table = catalogue.fittings()
    if word not in table or table[word].place != "route":
        return
    row = table[word]
    also = f", also written {', '.join(row.also)}" if row.also else ""
    rods = {
        "passes": "goes through it",
        "stops": "stops at it",
        "passes open": "goes through it while it is fully open",
    }
    sure = f", ±{row.uncertainty:.0%}: {row.because}" if row.uncertainty else ""
    yield [
        f"{row.name} (a fitting{also}): {row.parts}",
        "",
        f"  Details {', '.join(row.details)}",
        f"  Loss    {row.source} ({row.mark}){sure}",
        f"  Rods    a rod {rods[row.rod]}",
    ]


def _pipe(word: str) -> Iterator[list[str]]:
    table = catalogue.pipes()
    if word in table:
        row = table[word]
        yield _sourced(f"{row.name} (pipe): bore {row.bore * 1000:.1f} mm, {row.material}", row)


def _key(word: str) -> Iterator[list[str]]:
    """A key of the language, wherever it stands; alike ones once."""
    if word in words.TABLES:
        yield [f"{word}: it takes {listed(words.TABLES[word], 'and')}"]
    told: dict[tuple[str, str], list[str]] = {}
    for name, table in words.TABLES.items():
        for key, one in table.items():
            if (choice := dict(one.alike).get(word, word)) in one.choices:
                yield [f"{word} (a choice of {key}, in {name}{f', {choice}' * (choice != word)}): {one.says}"]
        if (own := words.proper(word, table)) in table:
            told.setdefault((table[own].means.replace("`", "'"), f"{own}: {table[own].example}"), []).append(name)
    for (says, example), names in told.items():
        yield [f"{word} (a word of {', '.join(names)}): {says}. For instance {example}"]


def _limit(word: str) -> Iterator[list[str]]:
    for what, rows in (
        ("a threshold", catalogue.limits()),
        ("how sure", catalogue.uncertainty()),
        ("fouling", catalogue.fouling()),
    ):
        if word in rows:
            row = rows[word]
            yield _sourced(f"{row.name} ({what}, {row.shown}): {row.meaning}", row)


def _trade(word: str) -> Iterator[list[str]]:
    for where, lines in catalogue.trade_words().items():
        said = word.lower() if word.lower() in lines else word.lower().replace("-", " ")
        if said in lines:
            place = "at a line's end" if where.startswith("end") else f"in a {where}"
            yield [f"{word} ({place}): write {lines[said]}"]


def wrapped(line: str, indent: int) -> str:
    """A line broken to the width of the terminal, or to 100 columns in a file or a pipe."""
    wide = shutil.get_terminal_size().columns if sys.stdout.isatty() else 100
    return textwrap.fill(
        line,
        max(wide, 40),
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
        drop_whitespace=True,
        replace_whitespace=False,
    )
