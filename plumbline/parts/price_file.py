"""A price file, YAML or CSV, into prices by part and size and what changes take; what is wrong in it is told in one sentence with
its place."""

from __future__ import annotations

import csv
import io
import math
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from .. import catalogue
from ..catalogue.reading import data
from ..errors import PlumblineError
from ..layout.faults import Faults, nearest_words
from ..layout.nodes import Node
from ..units import NotAQuantity, quantity
from .words import OWN_KINDS, part_kinds

__all__ = ["PriceFile", "PriceRow", "read_price_file", "size_word"]

MOST_BYTES = 2_000_000
_MOST = 1e9
_CHANGE_NUMBERS = ("money", "minutes", "metre", "fitting", "minutes a metre", "minutes a fitting")
_CHANGE_WORDS = (*_CHANGE_NUMBERS, "size", "parts", "buys")
"""What a row of `catalogue/changes.yaml` says of a change; `parts` and `buys` are not the user's to change, and passed over."""
_PIPE_WORDS = ("pipe", "hose")


@dataclass(frozen=True, slots=True)
class PriceRow:
    """The price of one part of a size, of one stock length of pipe, or of a metre of hose. `length` [m] is that of
    pipe, where the file says it; `where` says where it stands."""

    price: float
    where: str
    length: float | None = None


@dataclass(slots=True)
class PriceFile:
    """Prices by (kind, size), "pipe" and "hose" being kinds too; `stock` [m] where the file says what pipe is bought in; `notes`
    on rows that nothing here is called after. `changes` says by kind what the file states of changes, in the words of
    `catalogue/changes.yaml`, and `hour` what an hour of labour costs."""

    path: str
    currency: str = ""
    rows: dict[tuple[str, str], PriceRow] = field(default_factory=dict)
    stock: float | None = None
    notes: list[str] = field(default_factory=list)
    changes: dict[str, dict[str, float]] = field(default_factory=dict)
    hour: float | None = None

    def fault(self, where: str, what: str) -> PlumblineError:
        """What is wrong, with its place."""
        return PlumblineError(f"{self.path}{where}: {what}")

    def put(self, where: str, kind: str, size: str, price: str, length: str = "") -> None:
        """Take the price of a part of a size, as text."""
        word = _kind(kind)
        if word is None:
            near = nearest_words(kind, [*_PIPE_WORDS, *part_kinds(), *_changes()])
            hint = f" Did you mean {' or '.join(near)}?" if near else ""
            self.notes.append(f"{self.path}{where}: no part is called '{_short(kind)}'; its price is not used.{hint}")
            return
        key = (word, size_word(size))
        if key in self.rows:
            first = self.rows[key].where.replace(":", " line ")
            raise self.fault(where, f"a second price for {word} {key[1]}; the first is at{first}.")
        number = self.number(where, price, f"the price of {word} {key[1]}")
        long = self.length(where, length) if length.strip() else None
        if long is not None and word != "pipe":
            raise self.fault(where, f"a length for {word}; only pipe is bought by its length.")
        self.rows[key] = PriceRow(number, where, long)

    def number(self, where: str, text: str, what: str) -> float:
        """Read an amount of money or minutes."""
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if not 0.0 <= number <= _MOST:
            bound = "not below 0" if not number > _MOST else f"of at most {_MOST:.0f}"
            raise self.fault(where, f"{what} is '{_short(text)}'; a plain number, {bound}, is expected.")
        return number

    def change(self, where: str, kind: str, word: str, text: str) -> None:
        """Take what is said of a kind of change."""
        kinds = _changes()
        if kind not in kinds:
            near = nearest_words(kind, kinds)
            hint = f"did you mean {' or '.join(near)}?" if near else f"there are: {', '.join(kinds)}."
            raise self.fault(where, f"'{_short(kind)}' is no change, so that it has no '{word}'; {hint}")
        if word in self.changes.get(kind, {}):
            raise self.fault(where, f"a second '{word}' for the change '{kind}'.")
        if word == "size" and text not in ("true", "false"):
            raise self.fault(where, f"the size of '{kind}' is '{_short(text)}'; true or false is expected.")
        if word == "size":
            self.changes.setdefault(kind, {})[word] = float(text == "true")
        elif word in _CHANGE_NUMBERS:
            number = self.number(where, text, f"the {word} of '{kind}'")
            self.changes.setdefault(kind, {})[word] = number

    def labour(self, where: str, text: str) -> None:
        """Take the price of an hour."""
        if self.hour is not None:
            raise self.fault(where, "a second price for an hour of labour.")
        self.hour = self.number(where, text, "the price of an hour of labour")

    def length(self, where: str, text: str) -> float:
        """Read a length of pipe [m]."""
        try:
            length = quantity(text, "length")
        except NotAQuantity as wrong:
            raise self.fault(where, f"{wrong}; a length such as 3 m or 10 ft is expected.") from None
        if not 0.2 <= length <= 100.0:
            raise self.fault(where, f"a length of '{_short(text)}'; between 0.2 m and 100 m is expected.")
        return length


def read_price_file(path: str | os.PathLike[str]) -> PriceFile:
    """Read a price file: CSV where its name ends in .csv, else YAML. The form is told in `docs/parts.md`.

    Raises:
        PlumblineError: where the file cannot be read, a price is no number not below 0, or one part has two prices.
    """
    reading = PriceFile(os.fspath(path))
    read = _read_csv if reading.path.lower().endswith(".csv") else _read_yaml
    read(_text(reading.path), reading)
    return reading


def size_word(size: str) -> str:
    """The name of a size as the bill has it: catalogue names by any of their spellings, two joined by " x ", the larger first.

    >>> size_word("pvc 25mm"), size_word("pvc 25 × pvc 32")
    ('pvc 25', 'pvc 32 x pvc 25')
    """
    table = catalogue.pipes()
    parts = [part.strip() for part in size.replace("×", " x ").split(" x ")]
    names = [table[part].name if part in table else " ".join(part.split()) for part in parts]
    if len(names) == 2 and all(name in table for name in names):
        rows = [table[name] for name in names]
        names = [row.name for row in sorted(rows, key=lambda row: -(row.outside or 1.1 * row.bore))]
    return " x ".join(names)


def _changes() -> list[str]:
    """The kinds of changes that a redesign makes."""
    return [kind for kind in data("changes.yaml") if kind != "labour"]


def _kind(word: str) -> str | None:
    plain = " ".join(word.split()).lower()
    if plain in (*_PIPE_WORDS, *OWN_KINDS):
        return plain
    table = catalogue.fittings()
    if plain in table and table[plain].place == "route":
        name = table[plain].name
        return "reducer" if name == "expander" else name
    return None


def _text(path: str) -> str:
    try:
        with open(path, "rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise PlumblineError(f"The prices in '{path}' cannot be read: {reason}.") from None
    if len(raw) > MOST_BYTES:
        raise PlumblineError(f"The prices in '{path}' cannot be read: the file is larger than 2 MB.")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise PlumblineError(f"The prices in '{path}' cannot be read: the file is not saved as UTF-8.") from None


# ---------------------------------------------------------------------- CSV


def _read_csv(text: str, reading: PriceFile) -> None:
    """Columns item, size, price, and if wanted length, currency and minutes; semicolons with decimal commas are read too."""
    first = text.split("\n", 1)[0]
    mark = ";" if first.count(";") > first.count(",") else ","
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True))
    except csv.Error as error:
        raise reading.fault("", f"this is no CSV file: {error}.") from None
    head = [cell.strip().lower() for cell in rows[0]] if rows else []
    if not {"item", "size", "price"} <= set(head) or len(set(head) - {""}) < len([name for name in head if name]):
        columns = "item, size, price, and if wanted length, currency, minutes"
        raise reading.fault(":1", f"the first line names the columns: {columns}.")
    for number, row in enumerate(rows[1:], 2):
        if len(row) > len(head) and any(cell.strip() for cell in row):
            raise reading.fault(f":{number}", f"{len(row)} values in {len(head)} columns.")
        cells = dict(zip(head, (cell.strip() for cell in row), strict=False))
        if mark == ";":
            commas = {name: re.sub(r"\A(\d*),(\d*)\Z", r"\1.\2", cells.get(name, "")) for name in ("price", "minutes")}
            cells |= commas
        _csv_row(reading, f":{number}", cells)


def _csv_row(reading: PriceFile, where: str, cells: Mapping[str, str]) -> None:
    item, size, price, minutes, currency = (
        cells.get(name, "") for name in ("item", "size", "price", "minutes", "currency")
    )
    if minutes:
        reading.change(where, item, "minutes", minutes)
    if not price:
        return
    if currency and reading.currency and currency != reading.currency:
        both = f"prices in {currency} after prices in {reading.currency}"
        raise reading.fault(where, f"{both}; one currency is expected.")
    reading.currency = reading.currency or currency
    if item == "labour" and not size:
        reading.labour(where, price)
    elif item in _changes() and not size:
        reading.change(where, item, "money", price)
    else:
        reading.put(where, item, size, price, cells.get("length", ""))


# ---------------------------------------------------------------------- YAML


def _read_yaml(text: str, reading: PriceFile) -> None:
    """`currency`, `stock`, `labour`, and groups by kind of part, each by size, or by kind of change."""
    import yaml

    from ..layout.source import TooMuch, tree_of

    faults = Faults(reading.path)
    try:
        tree = tree_of(text, faults)
    except TooMuch as stop:
        raise reading.fault(f":{stop.mark.line}", f"{stop.found}.") from None
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        where = f":{mark.line + 1}" if mark is not None else ""
        raise reading.fault(where, f"this cannot be read as YAML; a price {_LIKE}") from None
    if faults.found:
        one = faults.found[0]
        raise reading.fault(f":{one.line}", f"{one.found}; expected {one.expected}.")
    if tree is None or not tree.pairs:
        raise reading.fault("", f"there are no prices; a {_LIKE}")
    for word, key, value in _pairs(tree):
        where = f":{key.mark.line}"
        if word in _LONE:
            _yaml_lone(reading, where, word, value)
        elif value.pairs is None:
            name = _short(word)
            raise reading.fault(where, f"'{name}' has no prices by size; {name}: {{pvc 25: 0.45}} is expected.")
        else:
            for size, size_key, price in _pairs(value):
                at = f":{size_key.mark.line}"
                if size in _CHANGE_WORDS:
                    reading.change(at, word, size, price.what if price.text is None else price.text)
                else:
                    _yaml_price(reading, at, word, size, price)


_LIKE = "list such as elbow: {pvc 25: 0.45} is expected."
_LONE = {
    "currency": "a word such as EUR",
    "stock": "a length such as 3 m",
    "labour": "the price of an hour, such as 30",
}


def _yaml_lone(reading: PriceFile, where: str, word: str, value: Node) -> None:
    said = _hour_of(value) if word == "labour" else value
    if said.text is None:
        raise reading.fault(where, f"'{word}' is {value.what}; {_LONE[word]} is expected.")
    if word == "currency":
        reading.currency = " ".join(said.text.split())
    elif word == "stock":
        reading.stock = reading.length(where, said.text)
    else:
        reading.labour(where, said.text)


def _hour_of(value: Node) -> Node:
    """The price of an hour: alone, or as the catalogue has it, {money an hour: 20}."""
    pairs = list(_pairs(value))
    return pairs[0][2] if [word for word, _, _ in pairs] == ["money an hour"] else value


def _yaml_price(reading: PriceFile, where: str, kind: str, size: str, node: Node) -> None:
    if node.text is not None:
        if not node.is_nothing:
            reading.put(where, kind, size, node.text)
        return
    said = {word: value.text for word, _, value in _pairs(node)}
    if not node.pairs or not {"price"} <= set(said) <= {"price", "length"} or None in said.values():
        like = "0.45, or {price: 6.40, length: 5 m} for pipe,"
        raise reading.fault(where, f"the price of '{_short(size)}' is not understood; {like} is expected.")
    reading.put(where, kind, size, said["price"] or "", said.get("length") or "")


def _pairs(node: Node) -> Iterator[tuple[str, Node, Node]]:
    for key, value in node.pairs or ():
        yield " ".join((key.text or "").split()), key, value


def _short(text: str) -> str:
    plain = "".join(c if c.isprintable() else " " for c in text)
    return plain if len(plain) <= 40 else plain[:37] + "..."
