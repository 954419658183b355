"""The reference tables of the language, as Markdown, from the tables that the reader uses."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from plumbline import catalogue
from plumbline.layout import words
from plumbline.layout.extras import fouling_example, limit_example

__all__ = ["TABLE_NAMES", "reference_table"]

_OTHERS = ("fittings", "other words", "pipes", "materials", "limits", "uncertainty", "fouling numbers")
TABLE_NAMES = (*words.TABLES, *_OTHERS)
"""Every table that `reference_table` makes."""


def reference_table(name: str) -> str:
    """Return one table of the reference, for instance that of a vessel's words.

    Raises:
        KeyError: for a name that is not in `TABLE_NAMES`.
    """
    return _MAKERS[name]() if name in _MAKERS else _keys(name)


def _rows(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, ("---",) * len(head), *rows))


def _quoted(some: Iterable[str]) -> str:
    return ", ".join(f"`{word}`" for word in some)


def _keys(name: str) -> str:
    rows = []
    for word, key in words.TABLES[name].items():
        says = key.says + (f": {', '.join(key.choices)}" if key.choices else "")
        rows.append((f"`{word}`" + (" (needed)" if key.required else ""), says, f"`{word}: {key.example}`"))
    return _rows(("word", "what it says", "example"), rows)


def _others() -> str:
    """Other words for the words of the language, those of a run once for all that are runs."""
    rows: dict[tuple[str, str], list[str]] = {}
    for name, table in words.TABLES.items():
        for word, key in table.items():
            if name != "run" and key is words.RUN.get(word):
                continue
            alike = {
                f"{word}: {choice}": [other for other, one in key.alike if one == choice] for choice in key.choices
            }
            for said, others in {word: key.also, **alike}.items():
                if others:
                    rows.setdefault((f"`{said}`", _quoted(others)), []).append(name)
    return _rows(
        ("word", "read alike"), [(f"{word} of {', '.join(names)}", also) for (word, also), names in rows.items()]
    )


def _fittings() -> str:
    table = catalogue.fittings()
    rows = [(f"`{word}`", _quoted(keys), _quoted(table[word].also)) for word, keys in words.fittings().items()]
    return _rows(("fitting", "its details, the first also as a plain value", "also written"), rows)


def _pipes() -> str:
    groups: dict[tuple[str, str], list[str]] = {}
    for row in catalogue.pipes().values():
        groups.setdefault((row.material, row.source), []).append(row.name)
    rows = [(_quoted(names), material, " ".join(source.split())) for (material, source), names in groups.items()]
    return _rows(("names", "material", "sizes from"), rows)


def _materials() -> str:
    some = catalogue.materials().values()
    rows = [(f"`{row.name}`", f"{row.roughness * 1000:g} mm", _quoted(row.also)) for row in some]
    return _rows(("material", "roughness", "also written"), rows)


def _limits() -> str:
    some = catalogue.limits().values()
    rows = [(f"`{row.name}`", row.meaning, f"`{row.name}: {limit_example(row)}`") for row in some]
    return _rows(("threshold", "what it means", "as it is unless you set it"), rows)


def _uncertainty() -> str:
    own = "; the catalogue's own rows have figures of their own"
    rows = [
        (f"`{row.name}`", row.meaning + (own if row.own else ""), row.one, f"`{row.name}: {limit_example(row)}`")
        for row in catalogue.uncertainty().values()
    ]
    return _rows(("number", "what it is of", "what shares one error", "as it is unless you set it"), rows)


def _fouling() -> str:
    some = catalogue.fouling().values()
    rows = [(f"`{row.name}`", row.meaning, row.mark, f"`{row.name}: {fouling_example(row)}`") for row in some]
    usual = "as it is, slow, likely and fast, unless you set it"
    return _rows(("number", "what it is", "how well known", usual), rows)


_MAKERS = dict(zip(_OTHERS, (_fittings, _others, _pipes, _materials, _limits, _uncertainty, _fouling), strict=True))
