"""Roots of functions of one number that are dear to work out, without loading a library for it."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["last_good", "root"]

BACK = (0.0, 1e-12, 1e-11, 1e-10, 1e-9, 1e-8, 1e-6)
"""How far before a root a place is looked for at which the function is not below nothing, as shares of the root."""


def root(function: Callable[[float], float], low: float, high: float, *, relative: float = 1e-12) -> float:
    """Find a root between two places where a function has opposite signs.

    Parameters:
        function: continuous.
        low, high: places with opposite signs.
        relative: accuracy, as a share of the root.

    Returns:
        The place, of the two last ones around the root, where the function is the smaller.

    Raises:
        ValueError: if the signs are alike.

    >>> f"{root(lambda x: x * x - 2.0, 1.0, 2.0):.12f}"
    '1.414213562373'

    Reference: Chandrupatla (1997), "A new hybrid quadratic/bisection algorithm", Advances in Engineering Software 28 (from memory).
    """
    a, b = low, high
    at_a, at_b = function(a), function(b)
    if (at_a > 0.0) == (at_b > 0.0) and at_a != 0.0 and at_b != 0.0:
        raise ValueError("no change of sign between the two places")
    c, at_c = a, at_a
    # The straight line between the ends, but for one that only stands for "impossible".
    share = at_a / (at_a - at_b) if 0.01 < abs(at_b) / max(abs(at_a), 1e-300) < 100.0 else 0.5
    while True:
        best, least = (a, at_a) if abs(at_a) < abs(at_b) else (b, at_b)
        close = relative * abs(best) / abs(b - a) if b != a else 1.0
        if least == 0.0 or close > 0.5:
            return best
        x = a + min(max(share, close), 1.0 - close) * (b - a)
        at_x = function(x)
        if (at_x > 0.0) == (at_a > 0.0):
            c, at_c = a, at_a
        else:
            c, b, at_c, at_b = b, a, at_b, at_a
        a, at_a = x, at_x
        share = 0.5
        xi, phi = (a - b) / (c - b), (at_a - at_b) / (at_c - at_b)
        if phi * phi < xi and (1.0 - phi) ** 2 < 1.0 - xi:
            share = at_a / (at_b - at_a) * at_c / (at_b - at_c)
            share += (c - a) / (b - a) * at_a / (at_c - at_a) * at_b / (at_c - at_b)


def last_good(left: Callable[[float], float], low: float, high: float) -> float:
    """Find the last place, between one where something is left over and one where it is not, at which it still is.

    Parameters:
        left: what is left over, falling.
        low, high: the two places, above 0.

    Returns:
        `high` if something is left there, `low` if nothing is left there; else just before the root.

    >>> round(last_good(lambda x: 3.0 - x, 1.0, 4.0), 9)
    3.0
    """
    if left(high) > 0.0:
        return high
    if left(low) <= 0.0:
        return low
    found = root(left, low, high)
    for back in BACK:
        if left(found * (1.0 - back)) >= 0.0:
            return found * (1.0 - back)
    return low
