"""Small pieces of the sentences that findings are made of."""

from __future__ import annotations

import math

__all__ = ["degrees", "listed"]


def degrees(angle: float) -> str:
    """Write an angle [rad] in degrees, to half a degree and no further.

    >>> degrees(math.pi / 2), degrees(math.pi / 8)
    ('90°', '22.5°')
    """
    return f"{round(math.degrees(angle) * 2) / 2:g}°"


def listed(words: list[str]) -> str:
    """Join words as a sentence does.

    >>> listed(["2"]), listed(["2", "4", "6"])
    ('2', '2, 4 and 6')
    """
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
