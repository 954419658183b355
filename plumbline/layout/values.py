"""From nodes to values: each function reads one kind of value, and notes a fault instead of raising."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import cast

from .. import catalogue
from ..units import DIMENSIONS, Dimension, NotAQuantity, Units, quantity, show
from .faults import Faults, line_for, listed, nearest_words
from .kinds import OF_WATER, heading_of, is_a, plain, reads, slope_of, with_unit
from .model import Mark, Vector
from .nodes import Node
from .opening import NotAnOpening, opening_of
from .words import DIRECTIONS, END_KINDS, MAY_BE_EMPTY, NAMED, NOT_HERE, OPPOSITE, TRADE, Key, standing_for

__all__ = ["Fields", "Got", "Values"]

_RANGE: dict[str, tuple[float, float, str, str]] = {
    "length": (1e-5, 1e4, "0.01 mm", "10 km"),
    "area": (1e-4, 1e6, "1 cm^2", "1 km^2"),
    "flow": (1e-9, 100.0, "0.00006 L/min", "100 m^3/s"),
    "power": (1e-3, 1e7, "0.001 W", "10000 kW"),
    "temperature": (-273.15, 1e3, "", "1000 degC"),
    "angle": (1e-3, 100.0, "0.06 deg", "5730 deg"),
    "density": (1.0, 1e5, "1 kg/m^3", "100000 kg/m^3"),
    "viscosity": (1e-9, 1e3, "0.000000001 Pa s", "1000 Pa s"),
    "speed": (1e-6, 100.0, "0.001 mm/s", "100 m/s"),
    "pressure": (1e-6, 1e7, "0.000001 Pa", "100 bar"),
    "volume": (1e-6, 1e6, "1 mL", "1000000 m^3"),
    "mass": (1e-6, 1e6, "1 mg", "1000 t"),
    "mass rate": (1e-12, 1e3, "0.1 mg/day", "1 t/s"),
    "time": (1.0, 1e9, "1 s", "30 years"),
    "ratio": (1e-6, 1e9, "0.000001", "1000000000"),
}
"""Least value above zero and greatest size that make sense for plumbing, and how they are said: a slip of the pen, or a
number that would overflow further on, is stopped here."""

_EMPTY = (*NAMED, *MAY_BE_EMPTY, "end", "route", "readings")
"""What is noted where it is looked for, if it is left empty."""
_SHARE = Key("ratio", "its share of the direction", "1", low=0.0)
_READ = ("opening", "head", "slope", "aim", "choice", "code", "count", "switch")
"""What is read by the method of that name."""
_COLD_WATER = 1000.0 * 9.80665
"""Weight of cold water [N/m³]."""


@dataclass(frozen=True, slots=True)
class Got:
    """A value read, and the node it came from. `value` is None where it could not be read."""

    value: float | str | None
    node: Node

    @property
    def mark(self) -> Mark:
        """Its place."""
        return self.node.mark

    @property
    def number(self) -> float | None:
        """The value where it is a number."""
        return self.value if isinstance(self.value, float) else None

    @property
    def text(self) -> str | None:
        """The value where it is a text."""
        return self.value if isinstance(self.value, str) else None


class Fields(dict[str, Got]):
    """The values of a group by their words. `complete` is False where it holds a word that is not known, or none
    where a word goes: then what seems to be missing may be there."""

    complete: bool = True

    def number(self, word: str) -> float | None:
        """The number that is said by a word, None where it is left out or cannot be read."""
        return self[word].number if word in self else None

    def numbers(self, *words: str) -> tuple[float | None, ...]:
        """The numbers that are said by some words."""
        return tuple(self.number(word) for word in words)

    def text(self, word: str) -> str | None:
        """The text that is said by a word, likewise."""
        return self[word].text if word in self else None

    def node(self, word: str) -> Node | None:
        """What stands behind a word; None where it is left out or empty."""
        return self[word].node if word in self and not self[word].node.is_nothing else None


@dataclass(slots=True)
class Values:
    """Reads single values and flat groups of them against a table of keys. `units` are those to answer in."""

    faults: Faults
    units: Units

    def group(self, node: Node, what: str, expected: str) -> list[tuple[str, Node, Node]] | None:
        """The pairs of a group as (word, key node, value node), or None and a fault."""
        if node.pairs is None:
            self.faults.unread(node)
            found = f"{what} is left empty" if node.is_nothing else f"{what} is {node.what}"
            self.faults.add(node.mark, found, expected)
            return None
        return [(plain(key.text or ""), key, value) for key, value in node.pairs]

    def fields(self, node: Node, table: Mapping[str, Key], what: str, mark: Mark | None = None) -> Fields | None:
        """Read a flat group: unknown, missing and empty keys are faults; larger things come back unread.

        `mark` is the place of its name, if it has one.
        """
        pairs = self.group(node, what, f"a group of values: {listed(table, 'and')}")
        if pairs is None:
            return None
        got = Fields()
        got.complete = not node.torn
        meant: set[str] = set()
        torn = node.torn
        for word, key_node, value in pairs:
            key = table.get(word)
            if word in got:
                said = key_node.said or next(name.said or word for name, _ in node.pairs or () if name.text == word)
                found = f"'{said}' stands twice in {what}"
                self.faults.add(key_node.mark, found, f"one of them; it is another word for '{word}'")
            elif key is None:
                got.complete = False
                torn = torn or not word
                trade, own = TRADE.get(id(table), ""), self.own(value, table)
                some = " or ".join(f"{one}: {plain(value.text or '')}" for one in standing_for(word, table))
                self.faults.unknown(
                    *(key_node.mark, word, "word", table),
                    where=f" in {what}",
                    expected=NOT_HERE.get(word, ""),
                    trade=trade,
                    value=own,
                    more=f"write {some}" if some else "",
                )
                meant.update(nearest_words(word, table))
                meant.add(line_for(word, trade, ()).removeprefix("write ").partition(":")[0])
                self.faults.unread(key_node)
                self.faults.unread(value)
            elif key.takes != "switch" or word in END_KINDS or plain(value.text or "") != "no":
                got[word] = self.field(value, key, word, key_node.mark)
        for word, key in table.items():
            # Where a mistyped word may stand for the missing one, one fault is enough.
            if key.required and word not in got and word not in meant and not torn:
                expected = f"'{word}', {key.says}, for instance {word}: {key.example}"
                self.faults.add(mark or node.mark, f"{what} has no '{word}'", expected)
        return got

    @staticmethod
    def own(node: Node, table: Mapping[str, Key]) -> Callable[[str], str]:
        """The file's own value for a line to write, for each word of a table: "" where the word takes none of that kind."""
        return lambda word: plain(node.text or "") if word in table and reads(node, table[word]) else ""

    def field(self, node: Node, key: Key, word: str, mark: Mark) -> Got:
        """Read one value as its key says."""
        if node.is_nothing and key.takes != "switch":
            if key.takes not in _EMPTY:
                self.faults.add(mark, f"'{word}' has no value", f"{key.says}, for instance {word}: {key.example}")
            return Got(None, node)
        if key.takes in DIMENSIONS:
            chosen = plain(node.text or "") in key.choices
            return Got(key.choices[0] if chosen else self.number(node, key, word), node)
        if key.takes == "text":
            return Got(self.text(node, word, key.says), node)
        return Got(getattr(self, key.takes)(node, key, word) if key.takes in _READ else None, node)

    def number(self, node: Node, key: Key, word: str) -> float | None:
        """Read a quantity within the key's bounds."""
        dimension = cast(Dimension, key.takes)
        expected = DIMENSIONS[dimension][1]
        if node.text is None:
            self.faults.add(node.mark, f"'{word}' is {node.what}", expected)
            return None
        try:
            value = quantity(node.text, dimension)
        except NotAQuantity as error:
            hint = with_unit(node.text, dimension)
            self.faults.add(node.mark, str(error), f"{expected} ('{word}': {key.says})", hint=hint)
            return None
        bound, hint = self.bound(value, key, node.text.strip())
        if bound and word in OPPOSITE and value < 0.0:
            hint = f"to go the other way write {OPPOSITE[word]}: {node.text.strip().lstrip('-−')}"
        if bound:
            self.faults.add(node.mark, f"'{word}' is {node.text.strip()}", f"a value {bound}", hint=hint)
            return None
        return value

    def bound(self, value: float, key: Key, text: str) -> tuple[str, str]:
        """The bound that a value breaks, in words, and a hint; empty where it breaks none."""
        least, most, least_said, most_said = _RANGE[key.takes]
        low = key.low
        if low is not None and value < low and not key.above:
            return f"not below {self.said(low, key.takes)}", ""
        if key.above and value <= 0.0:
            return "above 0", ""
        if key.above and value < least:
            return f"not below {least_said}", ""
        if key.high is not None and value > key.high * (1.0 + 1e-12):
            hint = f"for {text} per cent write {text} %" if key.takes == "ratio" and "%" not in text else ""
            return f"not above {self.said(key.high, key.takes)}", hint
        return (f"of at most {most_said}, up or down", "") if abs(value) > most else ("", "")

    def said(self, value: float, takes: str) -> str:
        """A bound in words."""
        if value == 0.0 and takes != "temperature":
            return "0"
        if takes == "length":
            return show(value, "length", self.units)
        if takes == "angle":
            return f"{math.degrees(value):g} deg"
        unit = DIMENSIONS[cast(Dimension, takes)][0]
        return f"{value:g} {unit}".strip()

    def opening(self, node: Node, key: Key, word: str) -> float | None:
        """Read how far a valve is open: a share, words, or how far its handle is turned."""
        ratio = replace(key, takes="ratio", choices=())
        try:
            share = opening_of(plain(node.text or ""), (*key.choices, "lever")[0])
        except NotAnOpening as problem:
            self.faults.add(node.mark, f"'{word}' is {node.what}", str(problem))
            return None
        if share is None or not 0.0 <= share <= 1.0:
            return self.number(node, ratio, word)
        return share

    def head(self, node: Node, key: Key, word: str) -> float | None:
        """Read a head of cold water, as a length or as a pressure."""
        text = OF_WATER.sub("", node.text or "")
        node = node if node.text is None else replace(node, text=text)
        if is_a(text, "length") or not is_a(text, "pressure"):
            return self.number(node, replace(key, takes="length"), word)
        checked = self.number(node, replace(key, takes="pressure"), word)
        return None if checked is None else checked / _COLD_WATER

    def slope(self, node: Node, key: Key, word: str) -> float | None:
        """Read how steep a run is: 2 %, 1 in 50, 1:50, 20 mm/m, 1/4 in per ft, or an angle."""
        share = slope_of(node.text or "")
        if share is None:
            said = plain(node.text or "")
            expected = "how much on how far, for instance 2 %, 1 in 50 or 1/4 in per ft"
            hint = f"for {said} on each metre write {word}: {said}/m; for {said} on a whole 2 m {word}: {said} in 2 m"
            self.faults.add(node.mark, f"'{word}' is {node.what}", expected, hint=hint if is_a(said, "length") else "")
            return None
        if not 0.0 < share <= (key.high or math.inf) and (share or key.above):
            bare = re.fullmatch(r"\s*[\d.]+\s*", node.text or "")
            hint = f"for {node.text} per cent write {node.text} %" if bare else ""
            self.faults.add(node.mark, f"'{word}' is {node.text}", "a value above 0 and not above 1", hint=hint)
            return None
        return share

    def aim(self, node: Node, key: Key, word: str) -> float | None:
        """Read how far off the wall holes point: an angle, or words."""
        if plain(node.text or "") == "along the wall":
            return 0.0
        if node.text is not None and not re.match(r"\s*[-+.\d]", node.text):
            expected = "along the wall, or an angle off it such as 30 deg"
            self.faults.add(node.mark, f"'{word}' is '{node.text.strip()}'", expected)
            return None
        return self.number(node, Key("angle", key.says, key.example, low=key.low, high=key.high), word)

    def text(self, node: Node, word: str, says: str) -> str | None:
        """Read a name or a sentence, spaces trimmed."""
        if node.text is None or not node.text.strip():
            self.faults.unread(node)
            self.faults.add(node.mark, f"'{word}' is {node.what}", says)
            return None
        return plain(node.text)

    def choice(self, node: Node, key: Key, word: str) -> str | None:
        """Read one of a few words."""
        said = self.text(node, word, f"one of: {', '.join(key.choices)}")
        if said is not None and said not in key.choices:
            self.faults.unknown(node.mark, said, "word", key.choices, where=f" for '{word}'", more=key.says)
            return None
        return said

    def code(self, node: Node, _: Key, word: str) -> str | None:
        """Read the name of a plumbing code of the catalogue."""
        rows = catalogue.codes()
        said = self.text(node, word, f"one of: {', '.join(rows)}")
        if said is not None and said not in rows:
            self.faults.unknown(node.mark, said, "code", rows)
            return None
        return None if said is None else rows[said].name

    def count(self, node: Node, key: Key, word: str) -> float | None:
        """Read a whole number within the key's bounds, from 1 where it has none."""
        least, most = max(int(key.low or 1), 1), key.high or 1e6
        said = (node.text or "").strip()
        if not re.fullmatch(r"[0-9]{1,6}", said) or not least <= int(said) <= most:
            wanted = f"{least} or more" if key.high is None else f"from {least} to {most:g}"
            self.faults.add(node.mark, f"'{word}' is {node.what}", f"a whole number, {wanted}")
            return None
        return float(int(said))

    def switch(self, node: Node, _: Key, word: str) -> str | None:
        """Read `yes`, or nothing, which means the same."""
        if node.is_nothing or (node.text or "").strip() == "yes":
            return "yes"
        self.faults.add(node.mark, f"'{word}' is {node.what}", f"{word}: yes; leave it out where there is none")
        return None

    def items(self, node: Node, what: str, expected: str) -> tuple[Node, ...] | None:
        """The items of a list, or None and a fault."""
        if node.items is None:
            self.faults.unread(node)
            self.faults.add(node.mark, f"{what} is {node.what}", expected)
            return None
        return node.items

    def heading(self, node: Node, word: str, ways: Mapping[str, Vector] = DIRECTIONS) -> Vector | None:
        """Read a heading such as `up`, `up west`, or {up: 1, west: 2}; `ways` are what its words mean."""
        expected = f"one or two of {listed(DIRECTIONS)}, for instance up, or up west for a slanted one"
        parts: dict[str, float] = {}
        said: list[tuple[str, Node, Node | None]] = [
            (name, node, None) for name in (node.text or "").replace("+", " ").split()
        ]
        for name, at, value in said or [(plain(key.text or ""), key, value) for key, value in node.pairs or ()]:
            if name not in ways:
                self.faults.unknown(at.mark, name, "direction", DIRECTIONS)
                return None
            share = 1.0 if value is None else self.number(value, _SHARE, name)
            if share is None:
                return None
            parts[name] = share
        heading = heading_of(parts, ways)
        if heading is None:
            self.faults.add(node.mark, f"'{word}' is {node.what}", expected)
        return heading
