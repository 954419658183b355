"""Spans: pipe that one rod cleans in one go, with the way it takes and how long it has to be."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from .intervals import Intervals, by_line
from .track import Piece

__all__ = ["Span", "covers", "joined"]


@dataclass(frozen=True, slots=True)
class Span:
    """Pipe of one line that a rod's brush gets through in one go, on the shortest way to it.

    `start` and `stop` [m along the line]; `forward` where the brush moves the way the line walks. `near` [m] of rod are
    in when the brush comes to the span, `need` [m] when it has gone through it: a rod that long does.
    """

    line: str
    start: float
    stop: float
    forward: bool
    near: float
    need: float

    def clip(self, low: float, high: float) -> Span | None:
        """Give the part between `low` and `high` [m along the line]; None where there is none.

        >>> Span("riser", 0.0, 3.0, True, 1.0, 4.0).clip(2.0, 5.0)
        Span(line='riser', start=2.0, stop=3.0, forward=True, near=3.0, need=4.0)
        """
        start, stop = max(low, self.start), min(high, self.stop)
        if stop <= start:
            return None
        before, after = start - self.start, self.stop - stop
        first, last = (before, after) if self.forward else (after, before)
        return Span(self.line, start, stop, self.forward, self.near + first, self.need - last)


def joined(found: Mapping[Piece, Span]) -> tuple[Span, ...]:
    """Join the spans of neighbouring pieces that the same push goes through one after the other."""
    out: list[Span] = []
    for piece in sorted(found, key=lambda piece: (piece.line, piece.forward, piece.number)):
        span = found[piece]
        if span.stop <= span.start:
            continue
        last = out[-1] if out else None
        if last is not None and (last.line, last.forward) == (span.line, span.forward) and last.stop == span.start:
            first, then = (last, span) if span.forward else (span, last)
            if abs(first.need - then.near) < 1e-9:
                out[-1] = Span(span.line, last.start, span.stop, span.forward, first.near, then.need)
                continue
        out.append(span)
    return tuple(out)


def covers(spans: Iterable[Span]) -> dict[str, Intervals]:
    """Give the pipe of spans as intervals [m along the line] by line."""
    return by_line((span.line, (span.start, span.stop)) for span in spans)
