"""The shape of a file: texts, lists and groups of named values, each with its place."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..units import COMMON, Units, unit_of
from .model import Mark

__all__ = ["Node", "units_of", "whole_items", "whole_pairs", "whole_point"]


@dataclass(frozen=True, slots=True)
class Node:
    """A text, a list (`items`) or a group of named values (`pairs` of key and value), and its place.

    `torn` tells of a group that had a value whose name could not be read, so that nothing in it is surely missing. `start` and `stop`
    are where its text begins and ends in the file's, in characters, and `flow` tells that brackets hold it. `said` is what the file has where `text`
    is the language's own word for it. What a `*name` repeats is the
    very node that the `&name` stands before.
    """

    mark: Mark
    text: str | None = None
    items: tuple[Node, ...] | None = None
    pairs: tuple[tuple[Node, Node], ...] | None = None
    quoted: bool = False
    torn: bool = False
    start: int = 0
    stop: int = 0
    flow: bool = False
    said: str | None = None

    @property
    def children(self) -> tuple[Node, ...]:
        """What stands in it, words and values."""
        return (*(self.items or ()), *(node for pair in self.pairs or () for node in pair))

    @property
    def end(self) -> int:
        """Where its text ends, without the blanks and remarks that follow it."""
        return self.children[-1].end if self.children and not self.flow else self.stop

    @property
    def what(self) -> str:
        """What stands here, in a few words."""
        if self.text is not None:
            shown = self.text if len(self.text) <= 40 else self.text[:37] + "..."
            return f"'{shown}'" if shown.strip() else "nothing"
        if self.items is not None:
            return "an empty list" if not self.items else f"a list of {len(self.items)}"
        keys = ", ".join(f"'{(key.text or '')[:40]}'" for key, _ in (self.pairs or ())[:3])
        return f"a group of values, {keys}" if keys else "an empty group of values"

    @property
    def is_nothing(self) -> bool:
        """True where the file leaves the value out."""
        return self.text is not None and not self.quoted and self.text.strip() in ("", "~", "null", "Null", "NULL")


_WHOLE = re.compile(r"(?:.* )?[-+]?[0-9]+")
_DECIMALS = re.compile(r"[0-9]+(?![0-9.]).*", re.DOTALL)


def whole_pairs(children: Sequence[Node]) -> list[Node]:
    """Keys and values in braces, those together again that a decimal comma has torn in two: {water: 0,8 m} comes as water: 0, and 8 m with
    nothing behind it, which is never a word."""
    kept: list[Node] = []
    for key, value in zip(children[::2], children[1::2], strict=True):
        if kept and value.is_nothing and _torn(kept[-1], key):
            kept[-1] = _joined(kept[-1], key)
        else:
            kept += [key, value]
    return kept


def whole_items(children: Sequence[Node]) -> list[Node]:
    """The items of a list in brackets, likewise: [up: 1,5 m] comes as up: 1, and 5 m."""
    kept: list[Node] = []
    for item in children:
        pairs = kept[-1].pairs if kept else None
        if pairs and len(pairs) == 1 and _torn(pairs[0][1], item) and item.start == pairs[0][1].stop + 1:
            (key, value), before = pairs[0], kept[-1]
            kept[-1] = replace(before, pairs=((key, _joined(value, item)),), stop=item.stop)
        else:
            kept.append(item)
    return kept


def whole_point(node: Node) -> tuple[Node, ...]:
    """The two values of a point, likewise where there seem to be more of them: [2,5 m3/h, 3 m] comes as 2, 5 m3/h and 3 m."""
    items = list(node.items or ())
    k = 0
    while len(items) > 2 and k + 1 < len(items):
        if _torn(items[k], items[k + 1]) and items[k + 1].start == items[k].stop + 1:
            items[k : k + 2] = [_joined(items[k], items[k + 1])]
        k += 1
    return tuple(items)


def _torn(whole: Node, decimals: Node) -> bool:
    plain = not (whole.quoted or decimals.quoted)
    return plain and bool(_WHOLE.fullmatch(whole.text or "") and _DECIMALS.fullmatch(decimals.text or ""))


def _joined(whole: Node, decimals: Node) -> Node:
    return replace(whole, text=f"{whole.text},{decimals.text}", stop=decimals.stop)


_METRIC = ("m", "mm", "cm")
_FEET = ("ft", "foot", "feet", "in", "inch", "inches", "'", '"')
_SPELT = {
    "gal/min": ("gpm", "gallons/minute", "gallons/min"),
    "gal/h": ("gph", "gal/hr", "gal/hour", "gallons/hour"),
    "L/min": ("lpm", "l/min", "litres/min", "liters/min"),
    "L/h": ("lph", "l/h"),
    "L/s": (),
    "m^3/h": ("m3/h",),
}
_FLOWS = {word: flow for flow, others in _SPELT.items() for word in (flow, *others)}


def units_of(tree: Node) -> Units:
    """The units to show for a file: feet where it has more lengths in feet and inches, and its commonest flow."""
    used: Counter[str] = Counter()
    todo = [tree]
    while todo:
        node = todo.pop()
        if node.text is not None and node.text[:1] in "+-.0123456789":
            unit = unit_of(node.text).replace(" ", "")
            # In 5 ft 6 in the unit is all that follows the first number.
            used["ft" if unit.startswith(("ft", "feet", "foot", "'")) and unit not in COMMON["m^2"] else unit] += 1
        todo += node.items or ()
        for _, value in node.pairs or ():
            todo.append(value)
    imperial = sum(used[unit] for unit in _FEET) > sum(used[unit] for unit in _METRIC)
    if not any(used[unit] for unit in (*_FEET, *_METRIC)):
        imperial = any(used[unit] for unit in ("ft^2", "sqft", "sft", "lb/month", "lb/week", "gal", "degF", "F"))
    flows = [(count, -order, _FLOWS[unit]) for order, (unit, count) in enumerate(used.items()) if unit in _FLOWS]
    flow = max(flows)[2] if flows else "gal/min" if imperial else "L/min"
    if imperial:
        return Units(length="ft", size="in", flow=flow, speed="ft/s", volume="gal", area="ft^2", mass="lb", shear="psf")
    return Units(flow=flow)
