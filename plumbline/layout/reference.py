"""The reference tables of the language, as Markdown, from the tables that the reader uses."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from .. import catalogue
from . import words
from .extras import fouling_example, limit_example

__all__ = ["TABLE_NAMES", "reference_table"]

TABLE_NAMES = (
    *words.TABLES,
    "fittings",
    "other words",
    "pipes",
    "materials",
    "limits",
    "uncertainty",
    "fouling numbers",
)
"""Every table that `reference_table` makes."""


def reference_table(name: str) -> str:
    """Return one table of the reference, for instance that of a vessel's words.

    Raises:
        KeyError: for a name that is not in `TABLE_NAMES`.

    >>> print(reference_table("water").splitlines()[2])
    | `temperature` | of the water | `temperature: 22 degC` |
    """
    return _MAKERS[name]() if name in _MAKERS else _keys(name)


def _rows(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, ("---",) * len(head), *rows))


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
            if name == "run" or key is not words.RUN.get(word):
                if key.also:
                    rows.setdefault((f"`{word}`", ", ".join(f"`{other}`" for other in key.also)), []).append(name)
                for choice in key.choices:
                    others = ", ".join(f"`{other}`" for other, one in key.alike if one == choice)
                    if others:
                        rows.setdefault((f"`{word}: {choice}`", others), []).append(name)
    return _rows(
        ("word", "read alike"), [(f"{word} of {', '.join(names)}", also) for (word, also), names in rows.items()]
    )


def _fittings() -> str:
    table = catalogue.fittings()
    rows = []
    for word, keys in words.fittings().items():
        also = ", ".join(f"`{other}`" for other in table[word].also)
        rows.append((f"`{word}`", ", ".join(f"`{key}`" for key in keys), also))
    return _rows(("fitting", "its details, the first also as a plain value", "also written"), rows)


def _pipes() -> str:
    groups: dict[tuple[str, str], list[str]] = {}
    for row in catalogue.pipes().values():
        groups.setdefault((row.material, row.source), []).append(f"`{row.name}`")
    rows = [(", ".join(names), material, " ".join(source.split())) for (material, source), names in groups.items()]
    return _rows(("names", "material", "sizes from"), rows)


_OWN = "; the catalogue's own rows have figures of their own"
_MAKERS: dict[str, Callable[[], str]] = {
    "fittings": _fittings,
    "other words": _others,
    "pipes": _pipes,
    "materials": lambda: _rows(
        ("material", "roughness", "also written"),
        [
            (f"`{row.name}`", f"{row.roughness * 1000:g} mm", ", ".join(f"`{other}`" for other in row.also))
            for row in catalogue.materials().values()
        ],
    ),
    "limits": lambda: _rows(
        ("threshold", "what it means", "as it is unless you set it"),
        [(f"`{row.name}`", row.meaning, f"`{row.name}: {limit_example(row)}`") for row in catalogue.limits().values()],
    ),
    "uncertainty": lambda: _rows(
        ("number", "what it is of", "what shares one error", "as it is unless you set it"),
        [
            (f"`{row.name}`", row.meaning + (_OWN if row.own else ""), row.one, f"`{row.name}: {limit_example(row)}`")
            for row in catalogue.uncertainty().values()
        ],
    ),
    "fouling numbers": lambda: _rows(
        ("number", "what it is", "how well known", "as it is, slow, likely and fast, unless you set it"),
        [
            (f"`{row.name}`", row.meaning, row.mark, f"`{row.name}: {fouling_example(row)}`")
            for row in catalogue.fouling().values()
        ],
    ),
}
