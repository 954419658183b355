"""Where a new access would help: every place in or beside a gap, tried with the rods at hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from ..layout.model import Rod, Vector
from ..layout.vectors import direction_words, negative
from ..units import show
from .intervals import Interval, clip, length, subtract, union
from .left_shut import valve_between
from .reach import hand_room, spread
from .runs_out import Spot, spot_in
from .spans import covers
from .spills import Guard, guard
from .tools import cleans
from .track import Move, Piece, Track, bounds, moves_from, runs_in, stops

__all__ = ["SLACK", "Opening", "openings"]

SLACK = 1e-6
"""Gaps up to this [m] are rounding, not pipe."""


@dataclass(frozen=True, slots=True)
class Opening:
    """A place where an access would help: `text` says what to do, `opens` [m] how much of the gap rods would
    then reach. `fitting` is what to put in, at `step` or, for a union, `at` [m along the line]; `faces` its
    heading. A valve has to keep the water of some `vessels` from it."""

    fitting: Literal["cap end", "capped tee", "union"]
    step: int
    at: float
    faces: Vector | None
    text: str
    opens: float
    vessels: tuple[str, ...] = ()


def openings(track: Track, line: str, gap: Interval) -> tuple[Opening, ...]:
    """Try a new access at every place in or beside a gap; the one that opens most of it comes first.

    A capped tee goes in place of any fitting that turns, opening along either leg; a cap replaces a plug; a
    union goes into the middle of each run's unreached part. Among equals that is also the order of
    preference, but one that wants a valve before it comes after those that do not. None is put where it would
    stand in a vessel deeper than an arm reaches, without room for a hand in front, or where the file
    says that pipe is buried, behind something or under it.
    """
    layout = track.layout
    found: list[Opening] = []
    walked = layout.lines[line]
    deep = track.deep[line]
    rods = _useful(track, line, gap)
    for forward, end in ((True, walked.start), (False, walked.end)):
        beside = gap[0] <= SLACK if forward else gap[1] >= walked.length - SLACK
        if end.kind == "plug" and beside:
            first = Piece(line, 0 if forward else len(walked.parts) - 1, forward)
            moves = tuple(moves_from(layout, track.stopping, first))
            text = f"put a cap in place of the plug at the {'start' if forward else 'end'}"
            step, at = (0, 0.0) if forward else (walked.parts[-1].step + 1, walked.length)
            point = f"{line}.{'from' if forward else 'to'}"
            kept = guard(track.pipes, Spot(line, end.place[2], point), at)
            opens = _opened(track, line, gap, moves, rods, kept)
            found.append(Opening("cap end", step, at, end.heading, text + _kept_from(kept), opens, kept.vessels))
    for index, part in enumerate(walked.parts):
        turns = part.turn > 0.0 and not part.is_pipe and part.faces is None and part.kind not in ("tee", "wye")
        dry = not part.around and not any(low <= part.at <= high for low, high in deep)
        if turns and dry and not stops(part, track.stopping) and gap[0] - SLACK <= part.at <= gap[1] + SLACK:
            kept = guard(track.pipes, spot_in(track.pipes, line, index, part.start), part.at)
            for forward in (True, False):
                leg = part.heading_out if forward else negative(part.heading_in)
                moves = tuple(moves_from(layout, track.stopping, Piece(line, index, forward).next()))
                faces = negative(leg)
                opens = _opened(track, line, gap, moves, rods, kept)
                if opens:
                    room = track.ahead.of(line, part.start, faces, part.pipe.bore)
                    fitting = [rod for rod in rods if room >= hand_room(track, rod)]
                    opens = opens if fitting == rods else _opened(track, line, gap, moves, fitting, kept)
                way = direction_words(faces)
                text = f"put a capped tee in place of the {part.kind} at step {part.step}, facing {way}"
                text += _kept_from(kept)
                found.append(Opening("capped tee", part.step, part.at, faces, text, opens, kept.vessels))
    for index, part, inside in runs_in(layout, line, gap):
        start, stop = bounds(layout, line, index)
        for low, high in () if part.around else subtract([inside], deep, slack=SLACK):
            middle = (low + high) / 2
            starts = [
                (Move((), Piece(line, index, True)), middle - start),
                (Move((), Piece(line, index, False)), stop - middle),
            ]
            share = (middle - start) / (stop - start)
            place = tuple(a + share * (b - a) for a, b in zip(part.start, part.end, strict=True))
            kept = guard(track.pipes, spot_in(track.pipes, line, index, place), middle)  # type: ignore[arg-type]
            what = "cut the hose and put a hose joiner" if part.kind == "hose" else "put a union"
            text = f"{what} into step {part.step}, {show(middle, 'length', layout.units)} along '{line}'"
            opens, text = _most(track, line, gap, starts, rods, kept), text + _kept_from(kept)
            found.append(Opening("union", part.step, middle, None, text, opens, kept.vessels))
    return tuple(sorted(found, key=lambda opening: (-round(opening.opens, 6), len(opening.vessels))))


def _kept_from(kept: Guard) -> str:
    return f" and {valve_between(kept.vessels, 'it')}" if kept.vessels else ""


def _useful(track: Track, line: str, gap: Interval) -> list[Rod]:
    """The rods that clean some bore in the gap, by themselves: a cord wants two openings."""
    bores = {part.pipe.bore for _, part, _ in runs_in(track.layout, line, gap)}
    return [rod for rod in track.tools if not rod.cord and any(cleans(rod, bore) for bore in bores)]


def _opened(track: Track, line: str, gap: Interval, moves: Iterable[Move], rods: list[Rod], kept: Guard) -> float:
    return _most(track, line, gap, [(move, 0.0) for move in moves], rods, kept)


def _most(
    track: Track, line: str, gap: Interval, starts: list[tuple[Move, float]], rods: list[Rod], kept: Guard
) -> float:
    if not kept.possible:
        return 0.0
    pieces = [piece for rod in rods for piece in covers(spread(track, rod, starts, kept.bars)).get(line, ())]
    return length(clip(union(pieces), *gap))
