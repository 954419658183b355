"""The shape of a file: texts, lists and groups of named values, each with its place."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from ..units import COMMON, Units, unit_of
from .model import Mark

__all__ = ["Node", "units_of"]


@dataclass(frozen=True, slots=True)
class Node:
    """A text, a list (`items`) or a group of named values (`pairs` of key and value), and its place.

    `torn` tells of a group that had a value whose name could not be read, so that nothing in it is surely missing. `start` and `stop`
    are where its text begins and ends in the file's, in characters, and `flow` tells that brackets hold it. What a `*name` repeats is the
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


_METRIC = ("m", "mm", "cm")
_FEET = ("ft", "foot", "feet", "in", "inch", "inches", "'", '"')
_FLOWS = {
    "gpm": "gal/min",
    "gph": "gal/h",
    "lpm": "L/min",
    "l/min": "L/min",
    "lph": "L/h",
    "l/h": "L/h",
    "m3/h": "m^3/h",
    "gal/hr": "gal/h",
    "gal/hour": "gal/h",
    "gallons/hour": "gal/h",
    "gallons/minute": "gal/min",
    "gallons/min": "gal/min",
    "litres/min": "L/min",
    "liters/min": "L/min",
    **{flow: flow for flow in ("L/min", "L/h", "L/s", "m^3/h", "gal/min", "gal/h")},
}


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
    flows = [(count, -order, _FLOWS[unit]) for order, (unit, count) in enumerate(used.items()) if unit in _FLOWS]
    flow = max(flows)[2] if flows else "gal/min" if imperial else "L/min"
    if imperial:
        return Units(length="ft", size="in", flow=flow, speed="ft/s", volume="gal", area="ft^2")
    return Units(flow=flow)
