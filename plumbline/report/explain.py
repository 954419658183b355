"""What a word means: a kind of finding with its rule, its source and its limits; a word of the language, of the output or of the trade."""

from __future__ import annotations

import math
import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from .. import catalogue
from ..catalogue.rows import CauseRow, MaterialRow, PipeRow, RodRow
from ..errors import PlumblineError
from ..layout import words
from ..layout.faults import listed, nearest_words

__all__ = ["explain", "kinds", "listing"]


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
    found = [one for maker in (_finding, _term, _column, _fitting, _row, _key, _limit, _trade) for one in maker(said)]
    if not found:
        near = nearest_words(said, _all_words())
        hint = f" Did you mean '{near[0]}'?" if near else " 'plumbline explain' lists the kinds of finding."
        raise PlumblineError(f"There is no finding and no word called '{said}'.{hint}")
    return "\n\n".join("\n".join(_wrapped(line, 10) for line in lines) for lines in found)


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


def _pipe(row: PipeRow) -> str:
    return f"bore {row.bore * 1000:.1f} mm, {row.material}"


def _wall(row: MaterialRow) -> str:
    return f"roughness {row.roughness * 1000:g} mm"


def _rod(row: RodRow) -> str:
    """What a rod of the catalogue does."""
    heads = ", ".join(f"{size * 1000:g}" for size in row.brushes)
    bores = f"cleans bores of {row.bores[0] * 1000:g} to {row.bores[1] * 1000:g} mm"
    cleans = f"brushes of {heads} mm" if heads else bores
    way = ", pulled through from one opening to another" if row.cord else ""
    room = "" if row.room is None else f", takes {row.room * 1000:g} mm in front of an opening"
    return f"{row.length:g} m{way}, bends to {math.degrees(row.bend):g}°, {math.degrees(row.turns):g}° in all, {cleans}{room}"


def _number(row: Any) -> str:
    return f"{row.shown}: {row.meaning}"


def _cause(row: CauseRow) -> str:
    low, high = row.amounts
    amounts = f", {low:g} to {high:g}: {row.of}" if row.of else ""
    return f"share {row.share:g}{amounts}; {row.cure}"


def _row(word: str) -> Iterator[list[str]]:
    """A pipe, a material, a rod, a number or a plumbing code of the catalogue."""
    sorts: tuple[tuple[Mapping[str, Any], str, Callable[[Any], str]], ...] = (
        (catalogue.pipes(), "pipe", _pipe),
        (catalogue.materials(), "a material", _wall),
        (catalogue.rods(), "a rod", _rod),
    )
    for rows, sort, says in sorts:
        if word in rows:
            row = rows[word]
            hot = getattr(row, "hottest", None)
            heat = "" if hot is None else f", to be used under pressure up to {hot:g} °C: {row.because}"
            yield [f"{row.name} ({sort}): {says(row)}{heat}", *_source(row)]
    if word in catalogue.codes():
        title = catalogue.codes()[word].title
        yield [
            f"{word} (a plumbing code): {title}; 'plumbline names codes' lists the rules that are held against drains"
        ]


def _source(row: Any) -> list[str]:
    return ["", f"  Source  {row.source} ({row.mark})"]


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
    for sort, rows in (
        ("a threshold", catalogue.limits()),
        ("how sure", catalogue.uncertainty()),
        ("fouling", catalogue.fouling()),
    ):
        if word in rows:
            row = rows[word]
            yield [f"{row.name} ({sort}, {row.shown}): {row.meaning}", *_source(row)]


def _trade(word: str) -> Iterator[list[str]]:
    for where, lines in catalogue.trade_words().items():
        said = word.lower() if word.lower() in lines else word.lower().replace("-", " ")
        if said in lines:
            place = "at a line's end" if where.startswith("end") else f"in a {where}"
            yield [f"{word} ({place}): write {lines[said]}"]


# ---------------------------------------------------------------------- lists


def listing(what: str) -> str:
    """The catalogue's names of one sort, a line each, with what they stand for and their source."""
    rows = list(_listed(what))
    wide = max(len(name) for name, _, _ in rows)
    lines = [_wrapped(f"{name:<{wide}}  {says} ({source})", min(wide + 2, 30)) for name, says, source in rows]
    lines += [_wrapped(note, 0) for note in (catalogue.notes("codes") if what == "codes" else ())]
    return "\n".join(lines)


def _listed(what: str) -> Iterator[tuple[str, str, str]]:
    says: dict[str, Callable[[Any], str]] = {
        "pipes": _pipe,
        "materials": _wall,
        "fittings": lambda row: row.parts,
        "rods": _rod,
        "fouling": lambda row: f"{_number(row)}; {row.because}",
        "causes": _cause,
    }
    if what == "codes":
        for code in catalogue.codes().values():
            for rule in code.rules:
                source = f"{rule.source}; {rule.mark}; the code adopted where the system stands governs"
                yield code.name, f"{code.cite(rule)}: {rule.what}", source
        return
    for row in getattr(catalogue, what)().values():
        if what != "fittings" or row.place == "route":
            mark = f"; {row.mark}" if what in ("fouling", "causes") else ""
            yield row.name, says.get(what, _number)(row), f"{row.source}{mark}"


def _wrapped(line: str, indent: int) -> str:
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
