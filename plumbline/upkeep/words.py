"""Small pieces of the sentences that findings are made of."""

from __future__ import annotations

import math
from collections.abc import Iterable

from ..layout.faults import listed as in_a_row
from ..layout.model import Access, Layout

__all__ = ["access_name", "degrees", "listed"]


def access_name(layout: Layout, access: Access) -> str:
    """Name a place where a rod goes in: a cap or union by its own name, an end of a line by where it is."""
    if access.kind in ("cap", "union"):
        return access.id
    if access.kind == "standpipe":
        return f"the standpipe of '{access.line}' in '{layout.lines[access.line].start.name}'"
    if access.kind == "hose end":
        return f"the hose end of '{access.line}' at step {access.step}"
    line = layout.lines[access.line]
    end = line.start if access.step == 0 else line.end
    where = f"in '{end.name}'" if access.kind == "vessel" else "in open air"
    return f"the end of '{line.name}' {where}"


def degrees(angle: float) -> str:
    """Write an angle [rad] in degrees, to half a degree and no further.

    >>> degrees(math.pi / 2), degrees(math.pi / 8)
    ('90°', '22.5°')
    """
    return f"{round(math.degrees(angle) * 2) / 2:g}°"


def listed(words: Iterable[str]) -> str:
    """Join words as a sentence does.

    >>> listed(["2"]), listed(["2", "4", "6"])
    ('2', '2, 4 and 6')
    """
    return in_a_row(words, "and")
