"""Why a piece of pipe is not reached: for each access nearby, the first thing that stops the rod that gets
furthest. They are looked for from the gap outwards, so that a large layout costs no more than a small one."""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
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

ASKED = 6
"""So many of the nearest accesses are asked: twice as many as are spoken of, since a way round a ring may turn out the nearer."""

LONG_ROD = 15.0
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
    """What leads to each piece of a track: `before` it the piece, or the id of the access, that a move comes from, and how long that is [m]."""

    def __init__(self, track: Track) -> None:
        self.track = track
        self.doors = {door.id: door for door in track.doors}
        self.refused: dict[str, list[Callable[[], str] | None]] = {}
        self.before: dict[Piece, list[tuple[Piece | str, Move, float]]] = defaultdict(list)
        for access, moves in track.entries.items():
            self.lead(access, moves, 0.0)
        for piece, moves in track.onward.items():
            self.lead(piece, moves, self.length(piece))

    def lead(self, source: Piece | str, moves: Iterable[Move], length: float) -> None:
        """Note where moves lead to."""
        for move in moves:
            self.before[move.to].append((source, move, length))

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
            for source, move, length in self.before[here]:
                if source not in done:
                    heapq.heappush(todo, (so_far + length, next(order), source, (move, *moves)))

    def refusals(self, access: Access) -> list[Callable[[], str] | None]:
        """Why each tool of the track does not go in at an access, None where it does."""
        if access.id not in self.refused:
            self.refused[access.id] = [refusal(self.track, rod, access) for rod in self.track.tools]
        return self.refused[access.id]

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
    out = [_failure(near, near.doors[name], line, found[name]) for name in near.doors if name in found]
    return tuple(sorted((one for one in out if one is not None), key=lambda failure: round(failure.distance, 9)))


def entry_failure(track: Track, access: Access) -> str:
    """Tell why no rod goes in at an access at all."""
    layout = track.layout
    if not layout.rods:
        return "the layout has no rod"
    rods = [rod for rod in track.tools if refusal(track, rod, access) is None]
    if not rods:
        return next(why() for rod in track.tools if (why := refusal(track, rod, access)) is not None)
    rods = [rod for rod in rods if not rod.cord]
    if not rods:
        return CORD
    walked = [_walk(layout, rod, (move,), access.line, 0.0) for move in track.entries[access.id] for rod in rods]
    halt = max((halt for halt in walked if halt is not None), key=lambda halt: halt.at, default=None)
    return "no pipe leads away from it" if halt is None else halt.why()


class Halt(NamedTuple):
    """Where a rod stops: how far in [m], why, told when asked, and by how much it is too short if that alone is wrong [m]."""

    at: float
    why: Callable[[], str]
    short_by: float | None = None


def _failure(near: Neighbours, access: Access, line: str, ways: Sequence[tuple[Way, float]]) -> Failure | None:
    """Of the ways from an access and all tools, the failure of the one that gets nearest to the gap's end, which tells the most."""
    tools = list(zip(near.track.tools, near.refusals(access), strict=True))
    able = [rod for rod, refused in tools if refused is None and not rod.cord]
    out = next(((rod, _kept_out(rod, refused)) for rod, refused in tools if refused is None and rod.cord), None)
    out = out or next(((rod, _kept_out(rod, refused)) for rod, refused in tools if refused is not None), None)
    best: tuple[tuple[float, float], Halt, float, Rod] | None = None
    for (_, _, way), distance in ways:
        walked = [(rod, _walk(near.track.layout, rod, way, line, distance)) for rod in able]
        for rod, halt in walked if out is None else [*walked, out]:
            if halt is None:
                continue
            rank = (round(distance - halt.at, 9), round(distance, 9))
            if best is None or rank < best[0]:
                best = rank, halt, distance, rod
    if best is None:
        return None
    _, halt, distance, rod = best
    return Failure(access_name(near.track.layout, access), distance, halt.why(), halt.short_by, rod)


def _kept_out(rod: Rod, refused: Callable[[], str] | None) -> Halt:
    """Where a rod that does not go in stops: a cord half a metre before the opening, so that it is told sooner than what is refused."""
    return Halt(-0.5, lambda: CORD) if refused is None else Halt(-1.0, refused)


def _walk(layout: Layout, rod: Rod, way: tuple[Move, ...], here: str, distance: float) -> Halt | None:
    """Walk a rod along a way: where it stops, if it does.

    `distance` is the whole way's length up to where it matters; 0 asks only about what comes first.
    """
    travelled, turned = 0.0, 0.0
    short: Halt | None = None
    for number, move in enumerate(way):
        for place, hurdle in enumerate(move.hurdles):
            if blocks(rod, hurdle, turned):
                if short is not None:
                    return short._replace(short_by=None)
                entry = number == 0 and place == 0
                return Halt(travelled, partial(_stopped, layout, rod, hurdle, turned, here=here, entry=entry))
            turned += hurdle.turn
        bore = pipe_of(layout, move.to).pipe.bore
        if not goes_through(rod, bore) or (number + 1 == len(way) and not cleans(rod, bore)):
            if short is not None:
                return short._replace(short_by=None)
            return Halt(travelled, partial(_unbrushed, layout, rod, move.to, here))
        start, stop = bounds(layout, move.to.line, move.to.number)
        travelled += stop - start
        if short is None and min(travelled, distance) > rod.length:
            lack = distance - rod.length
            short = Halt(rod.length, partial(_too_short, layout, lack), lack)
    return short


def _too_short(layout: Layout, lack: float) -> str:
    return f"rod too short by {show(lack, 'length', layout.units)}"


def _unbrushed(layout: Layout, rod: Rod, piece: Piece, here: str) -> str:
    part = pipe_of(layout, piece)
    bore = part.pipe.bore
    what = f"the {show(bore, 'size', layout.units)} bore of {step_name(layout, piece.line, part.step, 'pipe', here)}"
    # In a bore that some brush cleans, it is the way there that asks for a smaller one.
    able = goes_through(rod, bore) and any(cleans(tool, bore) for tool in tools(layout.rods))
    return f"what gets there is too small to clean {what}" if able else f"no brush for {what}"


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
    passed = [key for move in way for key in move.passed]
    return len(passed) == len(set(passed))
