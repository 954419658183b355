"""The words of the language: every key a layout may hold, what it takes and what it means.

One set of tables serves the reader, the published schema and the reference in the docs, so they cannot drift apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

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
    "HEIGHTS",
    "HOLDS",
    "HOSE",
    "HOSE_SUPPLY",
    "LAYOUT",
    "LINE",
    "MANIFOLD",
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
    "fitting_keys",
    "fittings",
    "proper",
]


@dataclass(frozen=True, slots=True)
class Key:
    """One key. `takes` is a dimension of `plumbline.units`, or "text", "choice", "switch", "count", "opening", "aim", "head", or the
    name of a larger thing that the reader knows ("end", "route", "pipe", …). An opening's choice is the handle. `low` is the least value; `above` forbids
    `low` itself. `also` are other words of the trade for it, read alike."""

    takes: str
    says: str
    example: str
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    above: bool = False
    high: float | None = None
    also: tuple[str, ...] = ()

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


def proper(word: str, table: Mapping[str, Key]) -> str:
    """The word of a table that a word stands for: itself, or the one that it is another word for.

    >>> proper("max head", BOX), proper("highest head", BOX), proper("elbow", BOX)
    ('highest head', 'highest head', 'elbow')
    """
    return word if word in table else next((own for own, key in table.items() if word.lower() in key.also), word)


def _tables() -> dict[str, dict[str, Key]]:
    rows = data("words.yaml")
    return {
        name: {
            str(word): Key(**{**row, **{several: tuple(row.get(several, ())) for several in ("choices", "also")}})
            for word, row in table.items()
        }
        for name, table in rows.items()
    }


_OWN = _tables()
LAYOUT, READING, WATER, ELECTRICITY, WISH, HOSE_SUPPLY = (
    _OWN[name] for name in ("layout", "reading", "water", "electricity", "wish", "hose supply")
)
VESSEL, GUTTER, CLEAR, PLACE, PUMP, RUNS, SWITCH, AIRLIFT, BOX = (
    _OWN[name] for name in ("vessel", "gutter", "clear", "place", "pump", "runs", "switch", "airlift", "box")
)
LINE, RUN, FITTING_KEYS, END, PIPE, ROD = (_OWN[name] for name in ("line", "run", "fitting", "end", "pipe", "rod"))
HOSE, MANIFOLD, SPRAY, DRIP = ({**RUN, **_OWN[name]} for name in ("hose", "manifold", "spray bar", "drip line"))

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


def fitting_keys(kind: str) -> dict[str, Key]:
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
