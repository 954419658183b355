"""Reach: the exact intervals of pipe that some rod, put in at some access, gets its brush through.

A rod goes in along the opening's axis and its tip follows the pipe's centreline. Every turn, the one at the
entry included, must be within the sharpest that the rod passes; all of them together within its total; the
way from the access within its length; every bore within its range. It never passes the same place twice. All
ways on are tried, so loops need nothing special and the answer is exact.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from ..layout.model import Access, Layout, Rod
from .intervals import Intervals, union
from .track import SAME, Hurdle, Move, Piece, Track, bounds, build_track, pipe_of

__all__ = [
    "Push",
    "Span",
    "blocks",
    "covers",
    "fits",
    "opening_fits",
    "pushes",
    "reach",
    "sharp_kinds",
    "spread",
    "stopping_kinds",
]


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


@dataclass(frozen=True, slots=True)
class Push:
    """One rod put in at one access (by id), and the pipe that its brush gets through: `covers` by line, `spans` with the
    way and the length of rod that each piece takes."""

    access: str
    rod: str
    covers: Mapping[str, Intervals]
    spans: tuple[Span, ...] = ()


@cache
def stopping_kinds() -> frozenset[str]:
    """Give the kinds of fitting that let no rod past, by the catalogue."""
    from ..catalogue import fittings

    return frozenset(name for name, fitting in fittings().items() if fitting.rod == "stops")


@cache
def sharp_kinds() -> frozenset[str]:
    """Give the kinds of fitting that turn tightly, by the catalogue; a plain bend counts where it turns far
    enough."""
    from ..catalogue import fittings

    return frozenset(name for name, fitting in fittings().items() if fitting.sharp) | {"bend"}


def fits(rod: Rod, bore: float) -> bool:
    """Tell whether a rod's brush cleans a bore [m]."""
    return rod.bore_min - 1e-9 <= bore <= rod.bore_max + 1e-9


def opening_fits(rod: Rod, access: Access) -> bool:
    """Tell whether a rod's brush goes in at an access: the opening may be wider than its range, not
    narrower."""
    return access.bore >= rod.bore_min - 1e-9


def blocks(rod: Rod, hurdle: Hurdle, turned: float) -> bool:
    """Tell whether a hurdle stops a rod that has turned through `turned` [rad] before it."""
    if hurdle.kind in ("stop", "branch"):
        return True
    sharp = hurdle.kind == "turn" and hurdle.turn > rod.bend + SAME
    return sharp or turned + hurdle.turn > rod.turns + SAME


def spread(track: Track, rod: Rod, starts: Iterable[tuple[Move, float]]) -> tuple[Span, ...]:
    """Push a rod in and follow every way it can take.

    Parameters
    ----------
    track : the ways on
    rod : its length, turns and bores
    starts : first moves, each with how far into its piece the rod begins [m]: 0 except where it is put in
    mid-run

    Returns
    -------
    the pipe covered, a span for each way through a piece, by the least length of rod

    The ways are simple paths: none passes a fitting twice. Their number can grow as 2ⁿ with n tees
    entered from the branch within the rod's total turning; each such turn costs at least 45° as a rule, so n
    stays small.
    """
    layout = track.layout
    # The nearest way through each piece is also the one that gets furthest into it.
    found: dict[Piece, Span] = {}
    todo: list[tuple[Move, float, float, float, frozenset[Hashable]]] = [
        (move, skip, 0.0, 0.0, frozenset()) for move, skip in starts
    ]
    while todo:
        move, skip, near, turned, seen = todo.pop()
        passed = _pass(rod, move, turned, seen)
        if passed is None:
            continue
        turned, seen = passed
        part = pipe_of(layout, move.to)
        if not fits(rod, part.pipe.bore):
            continue
        line, _, forward = move.to
        start, stop = bounds(layout, line, move.to.number)
        size = stop - start - skip
        left = rod.length - near
        whole = left >= size
        need = near + size if whole else rod.length
        if forward:
            span = Span(line, start + skip, stop if whole else start + skip + left, True, near, need)
        else:
            span = Span(line, start if whole else stop - skip - left, stop - skip, False, near, need)
        if move.to not in found or near < found[move.to].near:
            found[move.to] = span
        if whole and left > size:
            todo.extend((onward, 0.0, need, turned, seen) for onward in track.onward[move.to])
    return _joined(found)


def _joined(found: Mapping[Piece, Span]) -> tuple[Span, ...]:
    """Spans of neighbouring pieces that the same push goes through one after the other, as one."""
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
    found: dict[str, list[tuple[float, float]]] = {}
    for span in spans:
        found.setdefault(span.line, []).append((span.start, span.stop))
    return {line: union(pieces) for line, pieces in found.items()}


def _pass(rod: Rod, move: Move, turned: float, seen: frozenset[Hashable]) -> tuple[float, frozenset[Hashable]] | None:
    """Take a move's hurdles; None where the rod stops on the way.

    Pipe lies between hurdles, so a rod that passes no hurdle twice takes no pipe twice.
    """
    for hurdle in move.hurdles:
        if hurdle.key in seen or blocks(rod, hurdle, turned):
            return None
        turned += hurdle.turn
    return turned, seen.union(hurdle.key for hurdle in move.hurdles)


def pushes(track: Track) -> tuple[Push, ...]:
    """Put every rod in at every access; those that get nowhere are left out."""
    out = []
    for access in track.layout.accesses:
        for rod in track.layout.rods:
            if not opening_fits(rod, access):
                continue
            spans = spread(track, rod, [(move, 0.0) for move in track.entries[access.id]])
            if spans:
                out.append(Push(access.id, rod.name, covers(spans), spans))
    return tuple(out)


def reach(layout: Layout, *, stopping: frozenset[str] | None = None) -> dict[str, Intervals]:
    """Give the pipe that rods reach, as intervals [m along the line] for every line.

    Parameters
    ----------
    layout : a walked layout, with its accesses and rods
    stopping : kinds of fitting that let no rod past; the catalogue's if left out
    """
    track = build_track(layout, stopping_kinds() if stopping is None else stopping)
    done = pushes(track)
    return {name: union(piece for push in done for piece in push.covers.get(name, ())) for name in layout.lines}
