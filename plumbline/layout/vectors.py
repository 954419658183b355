"""A few plain operations on points and headings (east, north, up)."""

from __future__ import annotations

import math

from .model import Vector

__all__ = ["NOWHERE", "add", "angle_between", "bent", "direction_words", "minus", "negative", "size", "turned", "unit"]

NOWHERE: Vector = (0.0, 0.0, 0.0)
"""The heading of a line that has no run to give it one."""

_UP: Vector = (0.0, 0.0, 1.0)
_NORTH: Vector = (0.0, 1.0, 0.0)


def add(a: Vector, b: Vector) -> Vector:
    """a + b."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def minus(a: Vector, b: Vector) -> Vector:
    """a − b."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def negative(a: Vector) -> Vector:
    """−a, without negative zeros."""
    return (0.0 - a[0], 0.0 - a[1], 0.0 - a[2])


def size(a: Vector) -> float:
    """Length of a vector."""
    return math.sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2])


def unit(a: Vector) -> Vector:
    """The unit vector along a; NOWHERE for a vector without length."""
    length = size(a)
    return (a[0] / length, a[1] / length, a[2] / length) if length > 1e-12 else NOWHERE


def angle_between(a: Vector, b: Vector) -> float:
    """Angle between two unit vectors [rad], accurate near 0 and 180°.

    >>> round(math.degrees(angle_between((1.0, 0.0, 0.0), (0.0, 0.0, 1.0))), 9)
    90.0
    """
    return 2.0 * math.atan2(size(minus(a, b)), size(add(a, b)))


def turned(a: Vector, b: Vector, share: float) -> Vector:
    """The heading a `share` (0 to 1) of the way round from a to b, along the arc between them."""
    whole = angle_between(a, b)
    if whole < 1e-9 or share in (0.0, 1.0):
        return a if share < 1.0 else b
    if whole > math.pi - 1e-9:
        return bent(a, share * whole, _UP)
    first, second = math.sin((1.0 - share) * whole), math.sin(share * whole)
    scale = math.sin(whole)
    return unit(tuple((first * x + second * y) / scale for x, y in zip(a, b, strict=True)))  # type: ignore[arg-type]


def bent(heading: Vector, angle: float, towards: Vector) -> Vector:
    """The heading turned by `angle` [rad] towards a direction; towards north, or else up, where the two are in line.

    >>> bent((1.0, 0.0, 0.0), math.pi / 2, (0.0, 0.0, -1.0))[2]
    -1.0
    """
    along = sum(x * y for x, y in zip(heading, towards, strict=True))
    across = unit(minus(towards, (along * heading[0], along * heading[1], along * heading[2])))
    if across == NOWHERE:
        return bent(heading, angle, _UP if abs(heading[1]) > 0.999 else _NORTH)
    c, s = math.cos(angle), math.sin(angle)
    return unit((c * heading[0] + s * across[0], c * heading[1] + s * across[1], c * heading[2] + s * across[2]))


def direction_words(a: Vector) -> str:
    """The direction of a vector in words: its axes, the largest part first, small ones left out.

    >>> direction_words((0.0, 0.0, -2.0)), direction_words((1.0, 0.0, 1.0))
    ('down', 'east and up')
    """
    names = (("west", "east"), ("south", "north"), ("down", "up"))
    largest = max(abs(value) for value in a)
    parts = sorted(
        ((abs(value), names[axis][value > 0]) for axis, value in enumerate(a) if abs(value) > 0.1 * largest),
        key=lambda part: -part[0],
    )
    return " and ".join(name for _, name in parts) or "nowhere"
