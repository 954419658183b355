"""Why a piece of pipe is not reached: for each access nearby, the first thing that stops the rod that gets
furthest. They are looked for from the gap outwards, so that a large layout costs no more than a small one."""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count
from typing import NamedTuple

from ..layout.model import Access, Layout, Rod
from ..units import show
from .intervals import Interval
from .reach import refusal
from .tools import cleans, goes_through, tools
from .track import SAME, Hurdle, Move, Piece, Track, blocks, bounds, pipe_of, runs_in
from .words import access_name, degrees

__all__ = ["Failure", "Neighbours", "entry_failure", "failures", "step_name"]

ASKED = 12
"""So many of the nearest accesses are asked."""

LONG_ROD = 30.0
"""Rods longer than this [m] are not for hands (common practice, no source)."""

CORD = "the cord finds no second opening to come out of"


@dataclass(frozen=True, slots=True)
class Failure:
    """How one access fails to clean a gap. `distance` [m] along the pipe from the access to the gap's far
    end, as near as it is from either side; `reason` a plain clause; `short_by` [m] where nothing but length
    is wanting, and the rod."""

    access: str
    distance: float
    reason: str
    short_by: float | None = None
    rod: Rod | None = None


class Way(NamedTuple):
    """The shortest way from an access to a piece of pipe, whatever stands on it: its `length` up to the piece's far end [m] and its moves."""

    length: float
    access: str
    moves: tuple[Move, ...]


def step_name(layout: Layout, line: str, step: int, name: str, here: str) -> str:
    """Name a fitting in the user's words, with its line where that is not `here`."""
    inside = any(part.step == step for part in layout.lines[line].parts)
    where = f"{name} at step {step}" if inside else f"{name} at the {'start' if step == 0 else 'end'}"
    return f"the {where}" if line == here else f"the {where} of '{line}'"


class Neighbours:
    """What leads to each piece of a track: `before` it the piece, or the id of the access, that a move comes from."""

    def __init__(self, track: Track) -> None:
        self.track = track
        self.doors = {door.id: door for door in track.doors}
        self.before: dict[Piece, list[tuple[Piece | str, Move]]] = defaultdict(list)
        for access, moves in track.entries.items():
            self.lead(access, moves)
        for piece, moves in track.onward.items():
            self.lead(piece, moves)

    def lead(self, source: Piece | str, moves: Iterable[Move]) -> None:
        """Note where moves lead to."""
        for move in moves:
            self.before[move.to].append((source, move))

    def nearest(self, piece: Piece) -> Iterator[Way]:
        """Give the shortest way from each access to a piece, the nearest first: Dijkstra, backward, past every hurdle."""
        order = count()
        todo: list[tuple[float, int, Piece | str, tuple[Move, ...]]] = [(self.length(piece), next(order), piece, ())]
        done: set[Piece | str] = set()
        while todo:
            so_far, _, here, moves = heapq.heappop(todo)
            if here in done:
                continue
            done.add(here)
            if isinstance(here, str):
                yield Way(so_far, here, moves)
                continue
            for source, move in self.before[here]:
                further = 0.0 if isinstance(source, str) else self.length(source)
                heapq.heappush(todo, (so_far + further, next(order), source, (move, *moves)))

    def length(self, piece: Piece) -> float:
        """The length of a piece [m]."""
        start, stop = bounds(self.track.layout, piece.line, piece.number)
        return stop - start


def failures(near: Neighbours, line: str, gap: Interval) -> tuple[Failure, ...]:
    """Tell for the accesses around `gap` [m along `line`] why no rod cleans it all, nearest first: at least for the nearest
    `ASKED` from either end of it, and for all that a rod of `LONG_ROD` would serve from.
    """
    layout = near.track.layout
    found: dict[str, list[tuple[Way, float]]] = defaultdict(list)
    for piece, end in _ends(layout, line, gap):
        start, stop = bounds(layout, line, piece.number)
        beyond = (stop - end) if piece.forward else (end - start)
        for number, way in enumerate(near.nearest(piece)):
            if number >= ASKED and way.length - beyond > LONG_ROD:
                break
            if _simple(way.moves):
                found[way.access].append((way, way.length - beyond))
    out = [_failure(near.track, near.doors[name], line, found[name]) for name in near.doors if name in found]
    return tuple(sorted((one for one in out if one is not None), key=lambda failure: round(failure.distance, 9)))


def entry_failure(track: Track, access: Access) -> str:
    """Tell why no rod goes in at an access at all."""
    layout = track.layout
    if not layout.rods:
        return "the layout has no rod"
    rods = [rod for rod in track.tools if refusal(track, rod, access) is None]
    if not rods:
        return next(why for rod in track.tools if (why := refusal(track, rod, access)) is not None)
    rods = [rod for rod in rods if not rod.cord]
    if not rods:
        return CORD
    reasons = []
    for move in track.entries[access.id]:
        for rod in rods:
            found = _walk(layout, rod, (move,), access.line, 0.0)
            if found is not None:
                reasons.append(found)
    return max(reasons, key=lambda found: found[0])[1] if reasons else "no pipe leads away from it"


def _failure(track: Track, access: Access, line: str, ways: Sequence[tuple[Way, float]]) -> Failure | None:
    layout = track.layout
    best: tuple[float, float, Failure] | None = None
    for (_, _, way), distance in ways:
        for rod in track.tools:
            refused = refusal(track, rod, access)
            found: tuple[float, str, float | None] | None
            if refused is not None:
                found = (-1.0, refused, None)
            elif rod.cord:
                found = (-0.5, CORD, None)
            else:
                found = _walk(layout, rod, way, line, distance)
            if found is None:
                continue
            failure = Failure(access_name(layout, access), distance, found[1], found[2], rod)
            # The rod that gets nearest to the gap's end tells the most.
            rank = (round(distance - found[0], 9), round(distance, 9))
            if best is None or rank < best[:2]:
                best = (*rank, failure)
    return best[2] if best else None


def _walk(
    layout: Layout, rod: Rod, way: tuple[Move, ...], here: str, distance: float
) -> tuple[float, str, float | None] | None:
    """Walk a rod along a way: how far it got, what stopped it, and by how much it is too short if that alone
    is wrong.

    `distance` is the whole way's length up to where it matters; 0 asks only about what comes first.
    """
    travelled, turned = 0.0, 0.0
    short: tuple[float, str, float | None] | None = None
    for number, move in enumerate(way):
        for place, hurdle in enumerate(move.hurdles):
            if blocks(rod, hurdle, turned):
                if short is not None:
                    return short[0], short[1], None
                entry = number == 0 and place == 0
                return travelled, _stopped(layout, rod, hurdle, turned, here=here, entry=entry), None
            turned += hurdle.turn
        part = pipe_of(layout, move.to)
        bore = part.pipe.bore
        if not goes_through(rod, bore) or (number + 1 == len(way) and not cleans(rod, bore)):
            if short is not None:
                return short[0], short[1], None
            what = f"the {show(bore, 'size', layout.units)} bore of "
            what += step_name(layout, move.to.line, part.step, "pipe", here)
            # In a bore that some brush cleans, it is the way there that asks for a smaller one.
            able = goes_through(rod, bore) and any(cleans(tool, bore) for tool in tools(layout.rods))
            return travelled, f"what gets there is too small to clean {what}" if able else f"no brush for {what}", None
        start, stop = bounds(layout, move.to.line, move.to.number)
        travelled += stop - start
        if short is None and min(travelled, distance) > rod.length:
            lack = show(distance - rod.length, "length", layout.units)
            short = (rod.length, f"rod too short by {lack}", distance - rod.length)
    return short


def _stopped(layout: Layout, rod: Rod, hurdle: Hurdle, turned: float, *, here: str, entry: bool) -> str:
    where = step_name(layout, hurdle.line, hurdle.step, hurdle.name, here)
    if hurdle.kind == "stop":
        return f"stopped by {where}"
    if hurdle.kind == "branch":
        return f"opens along the other leg of {where}" if entry else f"a rod goes straight on at {where}"
    if hurdle.kind == "curve" and hurdle.sharp > rod.bend + SAME:
        return (
            f"{where} bends {degrees(hurdle.sharp)} in the length of a sweep, more than the {degrees(rod.bend)} that the "
            f"{rod.name} passes"
        )
    if hurdle.sharp > rod.bend + SAME:
        limit = f"{degrees(hurdle.turn)}, more than the {degrees(rod.bend)} that the {rod.name} passes"
        if entry:
            square = "opens square to the pipe" if degrees(hurdle.turn) == "90°" else "opens across the pipe"
            return f"{square}: {limit}"
        return f"turned {limit}, at {where}" if hurdle.name == "tee" else f"{where} turns {limit}"
    total = f"{degrees(turned + hurdle.turn)}, more than the {degrees(rod.turns)} the rod takes in all"
    return f"turns add up to {total}, at {where}"


def _ends(layout: Layout, line: str, gap: Interval) -> tuple[tuple[Piece, float], ...]:
    """The pieces that lead up to a gap's two ends from inside it, with those ends [m]."""
    inside = [index for index, _, _ in runs_in(layout, line, gap)]
    return ((Piece(line, inside[-1], True), gap[1]), (Piece(line, inside[0], False), gap[0]))


def _simple(way: tuple[Move, ...]) -> bool:
    keys: list[Hashable] = []
    for move in way:
        keys.extend(hurdle.key for hurdle in move.hurdles)
        keys.append(("pipe", move.to.line, move.to.number))
    return len(keys) == len(set(keys))
