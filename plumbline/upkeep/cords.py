"""Cords: a brush pulled through all the pipe between two openings, after a cord that was floated or flushed there first."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from ..findings import as_tuple
from ..layout.model import Access, Rod
from .spans import Span, joined
from .spills import Spill
from .tools import cleans, goes_through
from .track import Hurdle, Move, Piece, Track, bounds, past, pipe_of

__all__ = ["Pull", "pulls"]


class Pull(NamedTuple):
    """One way from access `first` to access `last` (by id), `length` [m] of pipe, and what the brush cleans on it;
    whether either has to be `drained` for it (see
    `Spill`)."""

    first: str
    last: str
    length: float
    spans: tuple[Span, ...]
    drained: bool = False


class _Way(NamedTuple):
    length: float
    turned: float
    seen: frozenset[Hashable]
    pieces: tuple[Piece, ...]


@as_tuple
def pulls(track: Track, cord: Rod, doors: Sequence[Access]) -> Iterator[Pull]:
    """Give every way on which a brush can be pulled from one of the doors to another, each pair of doors in one order.

    The cord goes where the water takes it, so a tee does not stop it as it does a rod: it goes into a branch and out of
    one. What its brush has to get past is the same: no valve, no bore too small, no turn sharper than it passes, the ends'
    included, and all turns together and the whole length within the cord's own. Both doors stand open for it: no
    valve on the way is shut for either, and
    neither is a mouth that is plugged for the other, if not as they are first prepared then with both drained.

    All simple ways are tried. Between two openings there is one, and up to twice as many with each loop in between.
    """
    order = {door.id: number for number, door in enumerate(doors)}
    outs = _outs(track, doors)
    for door in doors:
        for way in _ways(track, cord, door):
            for other, hurdles in outs.get(way.pieces[-1], ()):
                if order[other] > order[door.id] and past(cord, hurdles, way.turned, way.seen) is not None:
                    spans = _spans(track, cord, way)
                    ends = [(track.spills.get(door.id), other), (track.spills.get(other), door.id)]
                    passed = way.seen.union(hurdle.key for hurdle in hurdles)
                    ready = [_free(ends, passed, drained) for drained in (False, True)]
                    if spans and any(ready):
                        yield Pull(door.id, other, way.length, spans, not ready[0])


def _free(ends: Iterable[tuple[Spill | None, str]], passed: frozenset[Hashable], drained: bool) -> bool:
    """Whether openings, each with the other end of the cord, leave it free what it has `passed`, prepared as they
    are first or `drained`."""
    some = [(spill.drained or spill if drained else spill, other) for spill, other in ends if spill is not None]
    return all(passed.isdisjoint(spill.bars) and other not in spill.plug for spill, other in some)


def _outs(track: Track, doors: Sequence[Access]) -> Mapping[Piece, list[tuple[str, tuple[Hurdle, ...]]]]:
    """The doors that a piece's far end leads out of: the ways in, walked backwards."""
    found: dict[Piece, list[tuple[str, tuple[Hurdle, ...]]]] = {}
    for door in doors:
        for move in track.entries[door.id]:
            back = move.to._replace(forward=not move.to.forward)
            found.setdefault(back, []).append((door.id, move.hurdles[::-1]))
    return found


def _ways(track: Track, cord: Rod, door: Access) -> Iterator[_Way]:
    """Every simple way in from a door, piece by piece."""
    start = _Way(0.0, 0.0, frozenset(), ())
    todo: list[tuple[_Way, Move]] = [(start, move) for move in track.entries[door.id]]
    while todo:
        way, move = todo.pop()
        passed = past(cord, move.hurdles, way.turned, way.seen)
        if passed is None or not goes_through(cord, pipe_of(track.layout, move.to).pipe.bore):
            continue
        low, high = bounds(track.layout, move.to.line, move.to.number)
        length = way.length + high - low
        if length > cord.length + 1e-9:
            continue
        now = _Way(length, *passed, (*way.pieces, move.to))
        yield now
        todo.extend((now, onward) for onward in track.onward[move.to])


def _spans(track: Track, cord: Rod, way: _Way) -> tuple[Span, ...]:
    found: dict[Piece, Span] = {}
    come = 0.0
    for piece in way.pieces:
        low, high = bounds(track.layout, piece.line, piece.number)
        if cleans(cord, pipe_of(track.layout, piece).pipe.bore):
            found[piece] = Span(piece.line, low, high, piece.forward, come, come + high - low)
        come += high - low
    return joined(found)
