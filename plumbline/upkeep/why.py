"""Why a piece of pipe is not reached: for each access nearby, the first thing that stops the rod that gets
furthest."""

from __future__ import annotations

import heapq
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from itertools import count
from typing import NamedTuple

from ..layout.model import Access, Layout, Rod
from ..units import show
from .intervals import Interval
from .reach import blocks, refusal
from .tools import cleans, goes_through, tools
from .track import SAME, Hurdle, Move, Piece, Track, bounds, pipe_of
from .words import access_name, degrees

__all__ = ["Failure", "entry_failure", "failures", "step_name", "ways"]

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


class Ways(NamedTuple):
    """The shortest ways from an access, whatever stands on them: `cost` is the length up to each piece's far end [m],
    `before` the piece that leads to it (None at the access) and the move in between."""

    cost: Mapping[Piece, float]
    before: Mapping[Piece, tuple[Piece | None, Move]]


def step_name(layout: Layout, line: str, step: int, name: str, here: str) -> str:
    """Name a fitting in the user's words, with its line where that is not `here`."""
    inside = any(part.step == step for part in layout.lines[line].parts)
    where = f"{name} at step {step}" if inside else f"{name} at the {'start' if step == 0 else 'end'}"
    return f"the {where}" if line == here else f"the {where} of '{line}'"


def ways(track: Track) -> dict[str, Ways]:
    """Give the shortest ways from every access, by its id."""
    return {door.id: _ways(track, door) for door in track.doors}


def failures(track: Track, known: Mapping[str, Ways], line: str, gap: Interval) -> tuple[Failure, ...]:
    """Tell for every access from which pipe leads to `gap` [m along `line`] why no rod cleans it all, nearest first.

    `known` are the track's `ways`.
    """
    out = []
    for access in track.doors:
        failure = _failure(track, access, known[access.id], line, gap)
        if failure is not None:
            out.append(failure)
    return tuple(sorted(out, key=lambda failure: failure.distance))


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


def _failure(track: Track, access: Access, known: Ways, line: str, gap: Interval) -> Failure | None:
    layout = track.layout
    cost, before = known
    best: tuple[float, float, Failure] | None = None
    for piece, end in _ends(layout, line, gap):
        if piece not in cost:
            continue
        way = _way_to(before, piece)
        if not _simple(way):
            continue
        start, stop = bounds(layout, line, piece.number)
        distance = cost[piece] - ((stop - end) if piece.forward else (end - start))
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
            rank = (distance - found[0], distance)
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
    able_tools = tools(layout.rods)
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
            able = goes_through(rod, bore) and any(cleans(tool, bore) for tool in able_tools)
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
        return (f"{where} bends {degrees(hurdle.sharp)} in the length of a sweep, more than the {degrees(rod.bend)} that the "
                f"{rod.name} passes")  # fmt: skip
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
    inside = [
        index
        for index, part in enumerate(layout.lines[line].parts)
        if part.is_pipe and bounds(layout, line, index)[0] < gap[1] and bounds(layout, line, index)[1] > gap[0]
    ]
    return ((Piece(line, inside[-1], True), gap[1]), (Piece(line, inside[0], False), gap[0]))


def _ways(track: Track, access: Access) -> Ways:
    """Dijkstra from an access, past every hurdle."""
    cost: dict[Piece, float] = {}
    before: dict[Piece, tuple[Piece | None, Move]] = {}
    order = count()
    todo: list[tuple[float, int, Piece | None, Move]] = []

    def offer(so_far: float, last: Piece | None, move: Move) -> None:
        start, stop = bounds(track.layout, move.to.line, move.to.number)
        heapq.heappush(todo, (so_far + stop - start, next(order), last, move))

    for move in track.entries[access.id]:
        offer(0.0, None, move)
    while todo:
        reached, _, last, move = heapq.heappop(todo)
        if move.to in cost:
            continue
        cost[move.to] = reached
        before[move.to] = (last, move)
        for onward in track.onward[move.to]:
            offer(reached, move.to, onward)
    return Ways(cost, before)


def _way_to(before: Mapping[Piece, tuple[Piece | None, Move]], piece: Piece) -> tuple[Move, ...]:
    moves = []
    at: Piece | None = piece
    while at is not None:
        at, move = before[at]
        moves.append(move)
    return tuple(reversed(moves))


def _simple(way: tuple[Move, ...]) -> bool:
    keys: list[Hashable] = []
    for move in way:
        keys.extend(hurdle.key for hurdle in move.hurdles)
        keys.append(("pipe", move.to.line, move.to.number))
    return len(keys) == len(set(keys))
