"""Sets of pipe along a line, as closed intervals in metres: join, take away, measure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

__all__ = ["Interval", "Intervals", "by_line", "clip", "length", "subtract", "together", "union"]

Interval = tuple[float, float]
Intervals = tuple[Interval, ...]
"""Disjoint intervals (from, to) in rising order [m]."""


def union(intervals: Iterable[Interval]) -> Intervals:
    """Join intervals that touch or overlap, exactly as their floats say; empty ones are dropped.

    >>> union([(2.0, 3.0), (0.0, 1.0), (1.0, 1.5), (4.0, 4.0)])
    ((0.0, 1.5), (2.0, 3.0))
    """
    out: list[Interval] = []
    for low, high in sorted(intervals):
        if high <= low:
            continue
        if out and low <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], high))
        else:
            out.append((low, high))
    return tuple(out)


def by_line(pieces: Iterable[tuple[str, Interval]], lines: Iterable[str] = ()) -> dict[str, Intervals]:
    """Join pieces of pipe by the line that each is of; `lines` are named even where none is of them.

    >>> by_line([("feed", (1.0, 2.0)), ("feed", (0.0, 1.0))], ["drain"])
    {'drain': (), 'feed': ((0.0, 2.0),)}
    """
    found: dict[str, list[Interval]] = {name: [] for name in lines}
    for line, piece in pieces:
        found.setdefault(line, []).append(piece)
    return {line: union(some) for line, some in found.items()}


def together(pipes: Iterable[Mapping[str, Iterable[Interval]]], lines: Iterable[str] = ()) -> dict[str, Intervals]:
    """Join several sets of pipe, each by line."""
    return by_line(((line, piece) for pipe in pipes for line, some in pipe.items() for piece in some), lines)


def subtract(whole: Iterable[Interval], taken: Iterable[Interval], *, slack: float = 0.0) -> Intervals:
    """Give what is left of `whole` without `taken`; pieces no longer than `slack` [m] are dropped.

    >>> subtract([(0.0, 4.0)], [(1.0, 2.0), (3.5, 9.0)])
    ((0.0, 1.0), (2.0, 3.5))
    >>> subtract([(0.0, 1.0)], [(0.0, 0.9999999)], slack=1e-6)
    ()
    """
    cuts = union(taken)
    out: list[Interval] = []
    for start, stop in union(whole):
        low = start
        for cut_low, cut_high in cuts:
            if cut_high <= low or cut_low >= stop:
                continue
            out.append((low, cut_low))
            low = cut_high
        out.append((low, stop))
    return tuple((low, high) for low, high in out if high - low > slack)


def clip(intervals: Iterable[Interval], low: float, high: float) -> Intervals:
    """Give the part of `intervals` between `low` and `high`.

    >>> clip([(0.0, 2.0), (3.0, 5.0)], 1.0, 4.0)
    ((1.0, 2.0), (3.0, 4.0))
    """
    return union((max(low, start), min(high, stop)) for start, stop in intervals)


def length(intervals: Iterable[Interval]) -> float:
    """Measure disjoint intervals together [m].

    >>> length(((0.0, 1.5), (2.0, 3.0)))
    2.5
    """
    return float(sum(high - low for low, high in intervals))
