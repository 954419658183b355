"""What changes cost: by the user's own price file, and by the placeholders of `catalogue/changes.yaml` where it has no price."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ..catalogue.reading import data
from ..layout.model import Pipe
from ..parts.price_file import PriceFile, read_price_file, size_word
from ..parts.sizes import outside_of
from .change import Change, Edit

__all__ = ["Prices", "read_prices"]

_BASE = 0.025


@dataclass(frozen=True)
class Prices:
    """Prices by kind of change; `hour` is what an hour of labour costs; `file` the user's own. `stood_in` gathers the
    kinds of change, each with the money, where that is a placeholder's."""

    rows: Mapping[str, Mapping[str, Any]]
    hour: float
    file: PriceFile | None = None
    stood_in: set[tuple[str, float]] = field(default_factory=set, compare=False)

    def of(
        self, kind: str, pipe: Pipe, *, metres: float = 0.0, fittings: Iterable[str] = (), old: Pipe | None = None
    ) -> tuple[float, float]:
        """Money and minutes of a change.

        Parameters:
            kind: a row of `catalogue/changes.yaml`.
            pipe: that it is made in.
            metres: of that pipe laid anew [m].
            fittings: the kinds of those that are laid anew with it.
            old: the pipe that it is put in place of.

        Returns:
            What its parts cost by the user's file, where that prices all of them and says no money for the change itself; else the
            money of the row, in proportion to the larger outside diameter if the row says so. And its minutes.

        >>> read_prices().of("union", Pipe("a pipe", 0.045, 0.0, 0.050))
        (10.0, 15.0)
        """
        row, fittings = self.rows[kind], tuple(fittings)
        minutes = row["minutes"] + row.get("minutes a metre", 0.0) * metres
        minutes += row.get("minutes a fitting", 0.0) * len(fittings)
        money = None if self._stated(kind) else self._of_parts(row, pipe, metres, fittings, old)
        if money is None:
            outside = max(outside_of(one) for one in (pipe, old) if one is not None)
            size = outside / _BASE if row.get("size") else 1.0
            money = size * (row["money"] + row.get("metre", 0.0) * metres + row.get("fitting", 0.0) * len(fittings))
            money = round(float(money), 2)
            if not self._stated(kind) and money > 0.0:
                self.stood_in.add((kind, money))
        return round(float(money), 2), round(float(minutes), 1)

    def change(
        self, kind: str, line: str, step: int, pipe: Pipe, words: str, note: str, *edits: Edit, access: str = ""
    ) -> Change:
        """A change in a pipe with its price; `access` may be quoted, as the file says it."""
        return Change(kind, line, step, words, note, edits, *self.of(kind, pipe), access.strip("'"))

    def _stated(self, kind: str) -> bool:
        return self.file is not None and "money" in self.file.changes.get(kind, {})

    def _of_parts(
        self, row: Mapping[str, Any], pipe: Pipe, metres: float, fittings: tuple[str, ...], old: Pipe | None
    ) -> float | None:
        """What the parts of a change cost by the user's file; None where it has no price for one of them."""
        file = self.file
        if file is None:
            return None
        parts = [(kind, pipe.name, count) for kind, count in row["buys"].items() if kind != "reducer"]
        if old is not None and old.name != pipe.name:
            size = size_word(f"{old.name} x {pipe.name}")
            parts += [("reducer", size, count) for kind, count in row["buys"].items() if kind == "reducer"]
        parts += [("reducer" if kind == "expander" else kind, pipe.name, 1) for kind in fittings]
        money = 0.0
        for kind, size, count in parts:
            priced = file.rows.get((kind, size))
            if priced is None:
                return None
            money += count * priced.price
        if metres:
            sold = file.rows.get(("pipe", pipe.name))
            length = None if sold is None else sold.length or file.stock
            if sold is None or length is None:
                return None
            money += metres * sold.price / length
        return money

    def placeholders(self, changes: Iterable[Change]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Of some changes, the kinds for whose money, and those for whose minutes, placeholders stand in."""
        changes = tuple(changes)
        own = {} if self.file is None else self.file.changes
        priced = dict.fromkeys(change.kind for change in changes if (change.kind, change.money) in self.stood_in)
        timed = dict.fromkeys(change.kind for change in changes if "minutes" not in own.get(change.kind, {}))
        return tuple(priced), tuple(timed) if self.hour > 0.0 else ()


def read_prices(path: str | os.PathLike[str] | None = None, hour: float | None = None) -> Prices:
    """Read the prices of changes.

    Parameters:
        path: a price file of the user's own, as for a parts list; what it leaves out keeps its placeholders.
        hour: what an hour of labour costs; 0 for one's own work.

    Raises:
        PlumblineError: as `read_price_file`.
    """
    rows = data("changes.yaml")
    labour = float(rows["labour"]["money an hour"])
    rows = {kind: row for kind, row in rows.items() if kind != "labour"}
    file = None if path is None else read_price_file(path)
    if file is not None:
        rows = {kind: {**row, **file.changes.get(kind, {})} for kind, row in rows.items()}
        labour = labour if file.hour is None else file.hour
    return Prices(rows, labour if hour is None else hour, file)
