"""A table of rows by name, looked up exactly."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import TypeVar

__all__ = ["Table", "normal"]

Row = TypeVar("Row")


@lru_cache(maxsize=20_000)
def normal(name: str) -> str:
    """The name as the catalogue matches it: lower case, one space between words and before a unit.

    >>> normal("  PVC   25 "), normal("25mm pvc"), normal('pvc 1"'), normal("1-1/2inch PVC")
    ('pvc 25', '25 mm pvc', 'pvc 1 in', '1 1/2 in pvc')
    >>> normal("hose 1.25 in"), normal('0.75" pvc'), normal("DN40"), normal("1½in pvc")
    ('hose 1 1/4 in', '3/4 in pvc', 'dn 40', '1 1/2 in pvc')
    """
    spelt = _MIXED.sub(" ", name.lower().translate(_FRACTIONS))
    spelt = _DECIMAL.sub(lambda found: f"{found[1] or ''} {_PARTS[found[2]]} in", _DN.sub("dn ", spelt))
    return " ".join(_UNIT.sub(lambda found: f" {_SPELT.get(found[1], found[1])} ", spelt).split())


_FRACTIONS = str.maketrans(
    {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅜": " 3/8", "⅝": " 5/8", "″": '"', "”": '"', "“": '"'}
)
_PARTS = {"25": "1/4", "5": "1/2", "50": "1/2", "75": "3/4", "375": "3/8", "625": "5/8"}
_DECIMAL = re.compile(r'(?:\b0*([1-9]\d*)|\b0*)?\.(25|50?|75|375|625)\s*(?:"|in(?:ch(?:es)?)?(?![a-z]))')
_DN = re.compile(r"\bdn(?=\d)")
_UNIT = re.compile(r'(?<=\d)\s*("|(?:mm|inches|inch|in)(?![a-z]))')
_MIXED = re.compile(r"(?<=\d)-(?=\d+/\d)")
_SPELT = {'"': "in", "inch": "in", "inches": "in"}


class Table(Mapping[str, Row]):
    """Rows by name, in the order of the data file.

    Iteration gives each row once, under its own name; lookup also takes the row's other spellings, in any
    case and with any runs of spaces, and nothing else. `words` are all spellings.

    >>> table = Table([("pvc 25", ("pvc 25 mm",), "row")])
    >>> table["PVC 25 mm"], list(table), "pvc25" in table
    ('row', ['pvc 25'], False)
    """

    def __init__(self, rows: Iterable[tuple[str, tuple[str, ...], Row]]) -> None:
        self._rows: dict[str, Row] = {}
        self._names: dict[str, str] = {}
        for name, also, row in rows:
            for word in map(normal, (name, *also)):
                if word in self._names:
                    raise ValueError(f"the catalogue has two rows called {word!r}")
                self._names[word] = name
            self._rows[name] = row

    def __getitem__(self, name: str) -> Row:
        return self._rows[name if name in self._rows else self._names[normal(name)]]

    def __contains__(self, name: object) -> bool:
        return isinstance(name, str) and (name in self._rows or normal(name) in self._names)

    def __iter__(self) -> Iterator[str]:
        return iter(self._rows)

    def __len__(self) -> int:
        return len(self._rows)

    @property
    def words(self) -> tuple[str, ...]:
        """Every spelling that lookup takes, in the order of the data file."""
        return tuple(self._names)
