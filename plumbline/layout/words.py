"""The words of the language: every key a layout may hold, what it takes and what it means.

One set of tables serves the reader, the published schema and the reference in the docs, so they cannot drift apart.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any

from ..catalogue.reading import data

__all__ = [
    "AIRLIFT",
    "BOX",
    "CLEAR",
    "DIRECTIONS",
    "DRIP",
    "ELECTRICITY",
    "END",
    "END_KINDS",
    "FITTING_KEYS",
    "GROUPS",
    "HEIGHTS",
    "HOLDS",
    "HOSE",
    "HOSE_SUPPLY",
    "LAYOUT",
    "LINE",
    "LONG_RUNS",
    "MANIFOLD",
    "NAMED",
    "NOT_HERE",
    "OPPOSITE",
    "PIPE",
    "PLACE",
    "PUMP",
    "READING",
    "RELATIVE",
    "RESERVED",
    "ROD",
    "ROD_LIKE",
    "RUN",
    "SPRAY",
    "TABLES",
    "TRADE",
    "VESSEL",
    "VISIT",
    "WATER",
    "WISH",
    "Key",
    "chosen",
    "fitting_called",
    "fitting_keys",
    "fittings",
    "proper",
    "standing_for",
]


@dataclass(frozen=True, slots=True)
class Key:
    """One key. `takes` is a dimension of `plumbline.units`, or "text", "choice", "switch", "count", "opening", "aim", "head", or the
    name of a larger thing that the reader knows ("end", "route", "pipe", …). An opening's choice is the handle. `low` is the least value; `above` forbids
    `low` itself. `also` are other words of the trade for it, read alike: one that
    stands under several keys is the one that its value and the words beside it leave. `alike` are other words for its choices, each with its choice."""

    takes: str
    says: str
    example: str
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    above: bool = False
    high: float | None = None
    also: tuple[str, ...] = ()
    alike: tuple[tuple[str, str], ...] = ()

    @property
    def means(self) -> str:
        """What it says, with the other words for it."""
        return f"{self.says} (also `{'`, `'.join(self.also)}`)" if self.also else self.says


DIRECTIONS: Mapping[str, tuple[float, float, float]] = {
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
    "north": (0.0, 1.0, 0.0),
    "south": (0.0, -1.0, 0.0),
    "east": (1.0, 0.0, 0.0),
    "west": (-1.0, 0.0, 0.0),
}

RELATIVE = ("ahead", "back", "left", "right")
"""Directions as one walks: they turn with the walk."""

_PAIRS = (("ahead", "back"), ("left", "right"), ("up", "down"), ("north", "south"), ("east", "west"))
OPPOSITE = {word: other for pair in _PAIRS for word, other in (pair, pair[::-1])}

RESERVED = ("cap", "plug", "open air")
"""Words that end a line, and so cannot be names."""

NOT_HERE = {"<<": "each value written out, not taken over from elsewhere"}
"""Words that mean something elsewhere, and what to do instead."""


@lru_cache(maxsize=4096)
def _normal(word: str) -> str:
    """A word without what people write differently: capitals, hyphens, a small word or an s at the end."""
    said = " ".join(word.lower().replace("-", " ").replace("_", " ").split())
    said = re.sub(r"(?<=\w) (at|is|of|the)$", "", said)
    return said if said.endswith("ss") else said.removesuffix("s")


def standing_for(word: str, table: Mapping[str, Key]) -> list[str]:
    """The words of a table that a word may stand for: itself alone, or those that it is another way to write, or another word, for.

    >>> standing_for("max head", BOX), standing_for("Largest-Flow", BOX), standing_for("depth", VESSEL), standing_for("elbow", BOX)
    (['highest head'], ['largest flow'], ['water', 'rim'], [])
    """
    if word in table:
        return [word]
    said = _normal(word)
    written = [own for own in table if _normal(own) == said]
    return written or [own for own, key in table.items() if any(_normal(other) == said for other in key.also)]


_SWITCH = {"yes": ("y", "true", "on", "ja"), "no": ("n", "false", "off", "nein")}


def chosen(said: str, key: Key) -> str | None:
    """The choice of a key that a text is another way to write, or another word, for; None where it is none. A switch has yes and no.

    >>> chosen("Swirl filters", VESSEL["holds"]), chosen("Y", RUN["buried"]), chosen("soap", VESSEL["holds"])
    ('solids filter', 'yes', None)
    """
    own = key.choices or tuple(_SWITCH)
    alike = key.alike or tuple((other, one) for one, others in _SWITCH.items() for other in others)
    return next(
        (choice for other, choice in (*zip(own, own, strict=True), *alike) if _normal(other) == _normal(said)), None
    )


def proper(word: str, table: Mapping[str, Key]) -> str:
    """The word of a table that a word stands for; the word itself where there is none."""
    return next(iter(standing_for(word, table)), word)


def _tables() -> dict[str, dict[str, Key]]:
    return {
        name: {
            str(word): Key(
                **{
                    **row,
                    **{several: tuple(row.get(several, ())) for several in ("choices", "also")},
                    "alike": _alike(row),
                }
            )
            for word, row in table.items()
        }
        for name, table in data("words.yaml").items()
    }


def _alike(row: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple((other, choice) for choice, others in row.get("alike", {}).items() for other in others)


_OWN = _tables()
LAYOUT, READING, WATER, ELECTRICITY, WISH, HOSE_SUPPLY = (
    _OWN[name] for name in ("layout", "reading", "water", "electricity", "wish", "hose supply")
)
VESSEL, GUTTER, CLEAR, PLACE, PUMP, RUNS, SWITCH, AIRLIFT, BOX = (
    _OWN[name] for name in ("vessel", "gutter", "clear", "place", "pump", "runs", "switch", "airlift", "box")
)
LINE, RUN, FITTING_KEYS, END, PIPE, ROD = (_OWN[name] for name in ("line", "run", "fitting", "end", "pipe", "rod"))
HOSE, MANIFOLD, SPRAY, DRIP = ({**RUN, **_OWN[name]} for name in ("hose", "manifold", "spray bar", "drip line"))

LONG_RUNS: Mapping[str, Mapping[str, Key]] = {
    "hose": HOSE,
    "manifold": MANIFOLD,
    "spray bar": SPRAY,
    "drip line": DRIP,
}
"""Runs that have words of their own beside those of a run."""

GROUPS: Mapping[str, Mapping[str, Key]] = {
    "curve": BOX,
    "airlift": AIRLIFT,
    "runs": RUNS,
    "level switch": SWITCH,
    "gutter": GUTTER,
    "place": PLACE,
    "pipe": PIPE,
    "end": END,
    "water": WATER,
    "electricity": ELECTRICITY,
    "wish": WISH,
    "hose supply": HOSE_SUPPLY,
    "readings": READING,
}
"""The words of the groups, or lists of groups, that a key may take, by what it takes."""

NAMED: Mapping[str, Mapping[str, Key]] = {"vessels": VESSEL, "pumps": PUMP, "lines": LINE, "rods": ROD}
"""The words of what a key holds by its names."""

HOLDS = VESSEL["holds"].choices

VISIT = {"readings": replace(LAYOUT["readings"], required=True)}
"""What a file of a visit holds."""


@cache
def fittings() -> Mapping[str, tuple[str, ...]]:
    """Each fitting's details, as the catalogue's row has them, a plain value in place of a mapping being the first of them; and
    whatever opens and shuts may do so by a timer."""
    from .. import catalogue

    return {
        name: (*row.details, *(("runs",) if "opening" in row.details else ()))
        for name, row in catalogue.fittings().items()
        if row.place == "route"
    }


def fitting_called(word: str) -> str | None:
    """The catalogue's own name of a fitting for any of its spellings; None for what may not stand in a route."""
    from .. import catalogue

    table = catalogue.fittings()
    if word not in table:
        return None
    return table[word].name if table[word].name in fittings() else None


@cache
def fitting_keys(kind: str) -> Mapping[str, Key]:
    """The keys of one fitting; its opening knows what the valve is opened by."""
    from .. import catalogue

    handle = catalogue.fittings()[kind].handle
    return {
        word: replace(FITTING_KEYS[word], choices=(handle,)) if word == "opening" else FITTING_KEYS[word]
        for word in fittings()[kind]
    }


END_KINDS = ("vessel", "pump", "tee", "cap", "plug", "open air", "draws", "supply", "indexing valve")
"""The words that say what an end is; just one of them."""

HEIGHTS = ("standpipe", "overflow", "siphon", "notch", "weir", "height")
"""The words of an end that say how high it is; at most one of them."""

ROD_LIKE = {word: replace(key, required=word == "like") for word, key in ROD.items()}
"""A rod that is like one of the catalogue's."""

TRADE = {id(_OWN[name]): name for name in ("vessel", "pump", "line", "end", "run")} | {
    id(BOX): "curve",
    id(HOSE): "run",
    id(MANIFOLD): "run",
    id(GUTTER): "run",
}
"""Where words of the trade are known, by the table that does not have them."""

TABLES: Mapping[str, Mapping[str, Key]] = {
    "layout": LAYOUT,
    "water": WATER,
    "electricity": ELECTRICITY,
    "wish": WISH,
    "hose supply": HOSE_SUPPLY,
    "keep clear": CLEAR,
    "vessel": VESSEL,
    "gutter": GUTTER,
    "place": PLACE,
    "pump": PUMP,
    "airlift": AIRLIFT,
    "box": BOX,
    "runs": RUNS,
    "switch": SWITCH,
    "line": LINE,
    "run": RUN,
    "hose": HOSE,
    "manifold": MANIFOLD,
    "spray bar": SPRAY,
    "drip line": DRIP,
    "fitting": FITTING_KEYS,
    "end": END,
    "pipe": PIPE,
    "rod": ROD,
    "reading": READING,
}
"""Every table by the name that the docs use."""
