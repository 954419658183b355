"""From nodes to values: each function reads one kind of value, and notes a fault instead of raising."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import cast

from ..units import DIMENSIONS, Dimension, NotAQuantity, quantity, unit_of
from .model import Mark, Units, Vector
from .source import Faults, Node
from .words import DIRECTIONS, Key

__all__ = ["Got", "Values", "heading_of"]


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


@dataclass(slots=True)
class Values:
    """Reads scalars and flat mappings against a table of keys; remembers the units that the file uses."""

    faults: Faults
    used: Counter[tuple[str, str]] = field(default_factory=Counter)

    def mapping(self, node: Node, what: str, expected: str) -> list[tuple[str, Node, Node]] | None:
        """The pairs of a mapping as (key, key node, value node), or None and a fault."""
        if node.pairs is None:
            self.faults.add(node.mark, f"{what} is {node.what}", expected)
            return None
        return [(key.text or "", key, value) for key, value in node.pairs]

    def fields(self, node: Node, table: Mapping[str, Key], what: str) -> dict[str, Got] | None:
        """Read a flat mapping: unknown, missing and empty keys are faults; larger things come back unread."""
        pairs = self.mapping(node, what, "a mapping with " + ", ".join(table))
        if pairs is None:
            return None
        got: dict[str, Got] = {}
        for word, key_node, value in pairs:
            key = table.get(word)
            if key is None:
                self.faults.unknown(key_node.mark, word, f"key of {what}", table)
            else:
                got[word] = self.field(value, key, word, key_node.mark)
        for word, key in table.items():
            if key.required and word not in got:
                self.faults.add(node.mark, f"{what} has no '{word}'",
                                f"'{word}', {key.says}, for instance {word}: {key.example}")  # fmt: skip
        return got

    def field(self, node: Node, key: Key, word: str, mark: Mark) -> Got:
        """Read one value as its key says."""
        if node.is_nothing and key.takes != "switch":
            if key.takes not in ("end", "route", "vessels", "pumps", "lines", "rods", "limits"):
                self.faults.add(mark, f"'{word}' has no value", f"{key.says}, for instance {key.example}")
            return Got(None, node)
        if key.takes in DIMENSIONS:
            return Got(self.number(node, key, word), node)
        if key.takes == "text":
            return Got(self.text(node, word, key.says), node)
        if key.takes == "choice":
            return Got(self.choice(node, word, key.choices), node)
        if key.takes == "count":
            return Got(self.count(node, word), node)
        if key.takes == "switch" and node.text is None:
            self.faults.add(node.mark, f"'{word}' is {node.what}", "yes, or nothing")
        return Got(None, node)

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
            self.faults.add(node.mark, str(error), f"{expected} ('{word}': {key.says})")
            return None
        self.used[dimension, unit_of(node.text)] += 1
        low, high = key.low, key.high
        if low is not None and (value < low or (key.above and value == low)):
            least = "more than" if key.above else "not below"
            hint = ""
            if word in DIRECTIONS:
                opposite = next(w for w, v in DIRECTIONS.items() if all(a == -b for a, b in zip(
                    v, DIRECTIONS[word], strict=True)))  # fmt: skip
                hint = f"to go the other way write {opposite}: {node.text.strip().lstrip('-')}"
            self.faults.add(node.mark, f"'{word}' is {node.text.strip()}", f"a value {least} {low:g}", hint=hint)
            return None
        if high is not None and value > high:
            most = "180 deg" if dimension == "angle" else f"{high:g}"
            self.faults.add(node.mark, f"'{word}' is {node.text.strip()}", f"a value not above {most}")
            return None
        return value

    def text(self, node: Node, word: str, says: str) -> str | None:
        """Read a name or a sentence, spaces trimmed."""
        if node.text is None or not node.text.strip():
            self.faults.add(node.mark, f"'{word}' is {node.what}", says)
            return None
        return " ".join(node.text.split())

    def choice(self, node: Node, word: str, choices: tuple[str, ...]) -> str | None:
        """Read one of a few words."""
        said = self.text(node, word, f"one of {', '.join(choices)}")
        if said is not None and said not in choices:
            self.faults.unknown(node.mark, said, f"word for '{word}'", choices)
            return None
        return said

    def count(self, node: Node, word: str) -> float | None:
        """Read a whole number from 1."""
        if node.text is None or not re.fullmatch(r"\d{1,6}", node.text.strip()) or int(node.text) < 1:
            self.faults.add(node.mark, f"'{word}' is {node.what}", "a whole number, 1 or more")
            return None
        return float(int(node.text))

    def items(self, node: Node, what: str, expected: str) -> tuple[Node, ...] | None:
        """The items of a list, or None and a fault."""
        if node.items is None:
            self.faults.add(node.mark, f"{what} is {node.what}", expected)
            return None
        return node.items

    def heading(self, node: Node, word: str) -> Vector | None:
        """Read a heading such as `up`, `up west`, or {up: 1, west: 2}."""
        expected = "one or two of " + ", ".join(DIRECTIONS) + ", for instance up, or up west for a slanted one"
        parts: dict[str, float] = {}
        if node.text is not None:
            for name in node.text.replace("+", " ").split():
                if name not in DIRECTIONS:
                    self.faults.unknown(node.mark, name, "direction", DIRECTIONS)
                    return None
                parts[name] = 1.0
        elif node.pairs is not None:
            for key, value in node.pairs:
                if key.text not in DIRECTIONS:
                    self.faults.unknown(key.mark, key.text or "", "direction", DIRECTIONS)
                    return None
                try:
                    parts[key.text] = abs(quantity(value.text or "", "ratio"))
                except NotAQuantity as error:
                    self.faults.add(value.mark, str(error), "a plain number")
                    return None
        heading = heading_of(parts)
        if heading is None:
            self.faults.add(node.mark, f"'{word}' is {node.what}", expected)
        return heading

    def units(self) -> Units:
        """The units to show: the file's own habit, where it has one."""
        metric = sum(n for (kind, unit), n in self.used.items() if kind == "length" and unit in ("m", "mm", "cm"))
        feet = sum(n for (kind, unit), n in self.used.items() if kind == "length" and unit.startswith(("ft", "in",
                   "foot", "feet")))  # fmt: skip
        imperial = feet > metric
        flows = Counter({unit: n for (kind, unit), n in self.used.items() if kind == "flow"})
        names = {"gpm": "gal/min", "lpm": "L/min", "l/min": "L/min", "l/h": "L/h", "L/hr": "L/h", "m3/h": "m^3/h",
                 "gph": "gal/h", "lph": "L/h", "l/s": "L/s", "L / min": "L/min"}  # fmt: skip
        flow = "gal/min" if imperial else "L/min"
        if flows:
            most = flows.most_common(1)[0][0]
            most = names.get(most, most)
            flow = most if most in ("L/min", "L/h", "m^3/h", "gal/min", "gal/h", "L/s") else flow
        if imperial:
            return Units(length="ft", size="in", flow=flow, speed="ft/s", volume="gal", area="ft^2")
        return Units(flow=flow)


def heading_of(parts: Mapping[str, float]) -> Vector | None:
    """The unit vector of a sum of directions, None where they cancel or there are none.

    >>> heading_of({"up": 1.0})
    (0.0, 0.0, 1.0)
    """
    total = [0.0, 0.0, 0.0]
    for word, amount in parts.items():
        for axis, step in enumerate(DIRECTIONS[word]):
            total[axis] += amount * step
    size = math.sqrt(sum(value * value for value in total))
    if size < 1e-12:
        return None
    return (total[0] / size, total[1] / size, total[2] / size)
