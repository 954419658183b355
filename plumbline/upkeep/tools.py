"""The rods as they are put in: each with one brush on it, what that cleans and what it goes through."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from ..layout.model import Rod

__all__ = ["brush_for", "cleans", "every_brush", "goes_through", "heads", "least_bore", "tools"]


def heads(rod: Rod) -> tuple[Rod, ...]:
    """Give a rod once for each brush that it may carry, with what that brush cleans; itself where its head is its own.

    >>> rod = Rod("rod", 4.0, 0.4, 0.8, 0.0, 1.0, brushes=(0.03, 0.04))
    >>> [(one.brushes, round(one.bore_min, 6), one.bore_max) for one in heads(rod)]
    [((0.03,), 0.0225, 0.03), ((0.04,), 0.03, 0.04)]
    """
    from ..catalogue import brushes

    rows = {row.diameter: row for row in brushes().values()}
    if not rod.brushes:
        return (rod,)
    return tuple(
        replace(rod, bore_min=rows[size].bores[0], bore_max=rows[size].bores[1], passes=None, brushes=(size,))
        for size in rod.brushes
    )


def tools(rods: Iterable[Rod]) -> tuple[Rod, ...]:
    """Give the rods with every brush that they have, one at a time."""
    return tuple(tool for rod in rods for tool in heads(rod))


def every_brush(rods: Iterable[Rod]) -> tuple[Rod, ...]:
    """Give the rods as they are, and with every brush of the catalogue on each."""
    from ..catalogue import brushes

    sizes = tuple(row.diameter for row in brushes().values())
    return tuple(tool for rod in rods for tool in (*heads(rod), *heads(replace(rod, brushes=sizes))))


def brush_for(bore: float) -> float | None:
    """Give the diameter [m] of the smallest brush of the catalogue that cleans a bore [m]; None where there is none.

    >>> brush_for(0.017), brush_for(0.0262), brush_for(0.3)
    (0.02, 0.03, None)
    """
    from ..catalogue import brushes

    fitting = [row.diameter for row in brushes().values() if row.bores[0] - 1e-9 <= bore <= row.bores[1] + 1e-9]
    return min(fitting, default=None)


def least_bore(rod: Rod) -> float:
    """Give the least bore that a rod with its head goes through [m]."""
    return rod.bore_min if rod.passes is None else rod.passes


def cleans(rod: Rod, bore: float) -> bool:
    """Tell whether a rod's head cleans a bore [m]."""
    return goes_through(rod, bore) and rod.bore_min - 1e-9 <= bore <= rod.bore_max + 1e-9


def goes_through(rod: Rod, bore: float) -> bool:
    """Tell whether a rod's head goes through a bore [m], cleaning it or not: a brush slides along the floor of pipe wider
    than itself."""
    return bore >= least_bore(rod) - 1e-9
