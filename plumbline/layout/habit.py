"""The file's own habit of units, so that it is answered in the units that it is written in."""

from __future__ import annotations

from collections import Counter

from ..units import COMMON, Units, unit_of
from .nodes import Node

__all__ = ["units_of"]

_METRIC = ("m", "mm", "cm")
_FEET = ("ft", "foot", "feet", "in", "inch", "inches", "'", '"')
_FLOWS = {
    "gpm": "gal/min", "gph": "gal/h", "lpm": "L/min", "l/min": "L/min", "lph": "L/h", "l/h": "L/h", "m3/h": "m^3/h", "gal/hr": "gal/h", "gal/hour": "gal/h",
    "gallons/hour": "gal/h", "gallons/minute": "gal/min", "gallons/min": "gal/min", "litres/min": "L/min", "liters/min": "L/min",
    **{flow: flow for flow in ("L/min", "L/h", "L/s", "m^3/h", "gal/min", "gal/h")},
}  # fmt: skip


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
