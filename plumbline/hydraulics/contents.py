"""How much water a vessel holds at a level, and how wide it is there."""

from __future__ import annotations

import itertools
import math

from ..layout.model import Vessel

__all__ = ["between", "content", "level_of", "mean_area", "moved"]

LEAST = 1e-6
"""The area that stands for none at all [m²], so that a level always says how much there is."""


def content(vessel: Vessel, level: float) -> float:
    """Give the water in a vessel with an area at a level [m above the datum], in m³.

    Below the floor it goes on as at the floor, so that the level says how much is missing.
    """
    depth = level - vessel.base
    table = vessel.areas
    if not table:
        return (vessel.area or 0.0) * depth
    whole, below, wide = 0.0, table[0][0], table[0][1]
    if depth <= below:
        return max(wide, LEAST) * (depth - below)
    for height, area in table[1:]:
        top = min(depth, height)
        share = (top - below) / (height - below)
        whole += (top - below) * (wide + 0.5 * share * (area - wide))
        if depth <= height:
            return whole
        below, wide = height, area
    return whole + wide * (depth - below)


def mean_area(vessel: Vessel, before: float, after: float) -> float:
    """Give the area that a vessel's level moves over from one level to another: what it gains over how far it rises [m²]."""
    if not vessel.areas:
        return vessel.area or LEAST
    if abs(after - before) < 1e-9:
        middle = 0.5 * (before + after)
        return max((content(vessel, middle + 1e-6) - content(vessel, middle - 1e-6)) / 2e-6, LEAST)
    return max((content(vessel, after) - content(vessel, before)) / (after - before), LEAST)


def between(vessel: Vessel, low: float, high: float) -> float:
    """Give what a vessel with an area takes up from one level to another [m³]."""
    return mean_area(vessel, low, high) * (high - low)


def moved(vessel: Vessel, level: float, volume: float) -> float:
    """Give where the water of a vessel with an area stands once it has so much more than at a level [m above the datum]."""
    if not vessel.areas:
        return level + volume / (vessel.area or LEAST)
    return level_of(vessel, content(vessel, level) + volume)


def level_of(vessel: Vessel, volume: float) -> float:
    """Give where so much water stands in a vessel with an area [m above the datum]: `content` turned round."""
    table = vessel.areas
    if not table:
        return vessel.base + volume / (vessel.area or LEAST)
    if volume <= 0.0:
        return vessel.base + table[0][0] + volume / max(table[0][1], LEAST)
    left = volume
    for (below, wide), (above, wider) in itertools.pairwise(table):
        whole = 0.5 * (above - below) * (wide + wider)
        if left <= whole:
            grow = (wider - wide) / (above - below)
            depth = 2.0 * left / (wide + math.sqrt(max(wide**2 + 2.0 * grow * left, 0.0)))
            return vessel.base + below + depth
        left -= whole
    return vessel.base + table[-1][0] + left / max(table[-1][1], LEAST)
