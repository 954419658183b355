"""Where a rod can go from each piece of pipe, and what it meets on the way: the layout as a rod sees it.

A piece is one run of pipe, taken in one direction. From its far end a rod goes on to other pieces through the
fittings in between; each fitting is a hurdle that a given rod takes or not. Nothing here knows a rod's sizes.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

from ..catalogue import fittings
from ..layout.model import Access, Layout, Part, Rod, Tee, Vector, once
from ..layout.pieces import BARB, beside, is_hose
from ..layout.vectors import angle_between, negative
from .access import closed_accesses, deep_pipe, free_room, ports_out_of_reach
from .hoses import hose_turns
from .intervals import Interval, Intervals, union
from .room_ahead import RoomAhead
from .runs_out import Pipes
from .spills import Spill, spills
from .tools import tools

__all__ = [
    "Hurdle",
    "Move",
    "Piece",
    "Track",
    "blocks",
    "bounds",
    "build_track",
    "moves_from",
    "past",
    "pipe_of",
    "runs_in",
    "stops",
]

TIE = math.radians(10.0)
"""Ways on that differ by less than this [rad] are equally straight, so that a pipe's fall does not decide."""

HurdleKind = Literal["turn", "stop", "branch", "curve"]

FULL = 0.995
"""A valve open so far is full open."""

SAME = 1e-6
"""Angles nearer than this [rad] are the same: rounding in the walk, far under what a saw cuts."""


class Piece(NamedTuple):
    """A run of pipe in one direction: `number` counts the line's parts from 0."""

    line: str
    number: int
    forward: bool

    def next(self) -> Piece:
        """The line's next part in this direction, whatever it is."""
        return self._replace(number=self.number + (1 if self.forward else -1))


@dataclass(frozen=True, slots=True)
class Hurdle:
    """A fitting on a rod's way. `kind` is "turn" (a `turn` [rad], zero if straight), "stop" (nothing passes)
    or "branch" (the rod would have to be steered off its straight way, by `turn`), or "curve" (a hose bends
    by `turn`, of which `tight` [rad] within the length of a sweep). `name` is the fitting's word; `key` tells it from all others."""

    kind: HurdleKind
    turn: float
    line: str
    step: int
    name: str
    key: Hashable
    tight: float | None = None

    @property
    def sharp(self) -> float:
        """The sharpest of its turns [rad]."""
        return self.turn if self.tight is None else self.tight


@dataclass(frozen=True)
class Move:
    """One way on: through `hurdles`, in order, into the piece `to`."""

    hurdles: tuple[Hurdle, ...]
    to: Piece

    @cached_property
    def passed(self) -> tuple[Hashable, ...]:
        """What tells all that it passes from all else."""
        return (*(hurdle.key for hurdle in self.hurdles), ("pipe", self.to.line, self.to.number))


@dataclass(frozen=True, slots=True)
class Track:
    """All ways on. `onward` from each piece, `entries` from each door by its id (its entry turn is the first hurdle).

    `doors` are the layout's accesses and the ports that no arm reaches; `closed` says why no hand gets at some of
    them; `spills` what has to be done before one is
    opened, and whether it can be opened at all; and `room` [m] how much clear space is in front of those where
    that is known. `tools` are the rods at hand, a brush each.
    `ahead` tells how far any other opening would be from the next pipe, and `deep` which pipe of each line stands deeper in a
    vessel than an arm reaches. `pipes` are the ways that water comes back by.
    """

    layout: Layout
    stopping: frozenset[str]
    onward: Mapping[Piece, tuple[Move, ...]]
    entries: Mapping[str, tuple[Move, ...]]
    doors: tuple[Access, ...]
    closed: Mapping[str, str]
    spills: Mapping[str, Spill]
    room: Mapping[str, float]
    tools: tuple[Rod, ...]
    ahead: RoomAhead
    deep: Mapping[str, Intervals]
    pipes: Pipes


def pipe_of(layout: Layout, piece: Piece) -> Part:
    """Give the part that a piece is."""
    return layout.lines[piece.line].parts[piece.number]


def bounds(layout: Layout, line: str, index: int) -> tuple[float, float]:
    """Give where a part starts and stops along its line [m], such that neighbours share the very same
    float."""
    parts = layout.lines[line].parts
    last = index + 1 == len(parts)
    return parts[index].at, layout.lines[line].length if last else parts[index + 1].at


def runs_in(layout: Layout, line: str, gap: Interval) -> list[tuple[int, Part, Interval]]:
    """Give the runs of pipe that lie in a gap [m along `line`], or partly so: number, part, and what of it is in the gap."""
    found = []
    for index, part in enumerate(layout.lines[line].parts):
        start, stop = bounds(layout, line, index)
        low, high = max(start, gap[0]), min(stop, gap[1])
        if part.is_pipe and low < high:
            found.append((index, part, (low, high)))
    return found


def blocks(rod: Rod, hurdle: Hurdle, turned: float) -> bool:
    """Tell whether a hurdle stops a rod that has turned through `turned` [rad] before it; the water takes a cord into branches too."""
    if hurdle.kind == "stop" or (hurdle.kind == "branch" and not rod.cord):
        return True
    return hurdle.sharp > rod.bend + SAME or turned + hurdle.turn > rod.turns + SAME


def past(
    rod: Rod, hurdles: Sequence[Hurdle], turned: float, seen: frozenset[Hashable]
) -> tuple[float, frozenset[Hashable]] | None:
    """Take a rod past hurdles: how far it has turned then, and what it has passed; None where it stops on the way.

    Pipe lies between hurdles, so a rod that passes no hurdle twice takes no pipe twice.
    """
    for hurdle in hurdles:
        if hurdle.key in seen or blocks(rod, hurdle, turned):
            return None
        turned += hurdle.turn
    return turned, seen.union(hurdle.key for hurdle in hurdles)


def stops(part: Part, stopping: Collection[str]) -> bool:
    """Whether a part lets no rod past: of a kind that is `stopping`; or a valve whose ball leaves the whole bore free when open, by the
    catalogue, unless it stands full open and has no loss of its own stated, which would tell of a narrower ball.
    """
    if part.kind in stopping:
        return True
    if part.is_pipe or fittings()[part.kind].rod != "passes open":
        return False
    return part.opening < FULL or part.stated


def build_track(layout: Layout, stopping: Collection[str], spilled: Mapping[str, Spill] | None = None) -> Track:
    """Find all ways on in a layout. `stopping` are the kinds of fitting that let no rod past; `spilled` is what
    its openings let out, where that is known already.

    Straight through a tee or capped tee there is no choice: a rod that comes along the run goes on along the
    run, it cannot be steered into the branch. From the branch it may go into either leg of the run, through
    the angle between them. A cap seen from inside is the third leg of its fitting, and a rod that runs into
    it stops.
    """
    kinds = frozenset(stopping)
    onward = {
        piece: tuple(_after(layout, kinds, piece))
        for name, line in layout.lines.items()
        for index, part in enumerate(line.parts)
        if part.is_pipe
        for piece in (Piece(name, index, True), Piece(name, index, False))
    }
    doors = (*layout.accesses, *ports_out_of_reach(layout))
    entries = {access.id: tuple(_entries(layout, kinds, access)) for access in doors}
    ahead = RoomAhead(layout)
    deep = {line: union(piece for _, pipe in found for piece in pipe) for line, found in deep_pipe(layout).items()}
    return Track(
        layout,
        kinds,
        onward,
        entries,
        doors,
        closed_accesses(layout),
        spills(layout) if spilled is None else spilled,
        free_room(layout, ahead),
        tools(layout.rods),
        ahead,
        deep,
        Pipes(layout),
    )


def _after(layout: Layout, stopping: frozenset[str], piece: Piece) -> Iterator[Move]:
    """The ways on from a piece's far end; where runs meet without a fitting, pipe bent a little in place is a
    hurdle."""
    parts = layout.lines[piece.line].parts
    to = piece.next()
    passed = _hose(layout, piece, entered=False)
    if 0 <= to.number < len(parts) and parts[to.number].is_pipe:
        first, second = sorted((piece.number, to.number))
        bent = angle_between(parts[first].heading_out, parts[second].heading_in)
        step = parts[second].step
        if "hose" not in (parts[first].kind, parts[second].kind):
            passed = (Hurdle("turn", bent, piece.line, step, "joint", (piece.line, "joint", step)),)
    yield from moves_from(layout, stopping, to, passed)


def moves_from(layout: Layout, stopping: frozenset[str], to: Piece, passed: tuple[Hurdle, ...] = ()) -> Iterator[Move]:
    """Follow a line from a part, in a direction, to the next pipe, on through any tee, collecting what is
    passed.

    `to` names the part as a piece does, but it may be a fitting, or lie just beyond the line's end.
    """
    line, index, forward = to
    parts = layout.lines[line].parts
    if not 0 <= index < len(parts):
        end = layout.lines[line].end if forward else layout.lines[line].start
        if end.kind == "tee" and end.name is not None:
            leg = (line, "to" if forward else "from")
            yield from _through_tee(layout, stopping, layout.tees[end.name], leg, passed)
        return
    part = parts[index]
    if part.is_pipe:
        yield Move((*passed, *_hose(layout, to, entered=True)), to)
        return
    if part.kind in ("tee", "wye") and (line, part.step) in _tees_at(layout):
        tee, _ = _tees_at(layout)[line, part.step]
        yield from _through_tee(layout, stopping, tee, (line, "before" if forward else "after"), passed)
        return
    key = (line, part.step)
    if any(hurdle.key == key for hurdle in passed):
        return
    kind: HurdleKind = "turn"
    if stops(part, stopping):
        kind = "stop"
    elif part.faces is not None:
        back, ahead = (negative(part.heading_in), part.heading_out)
        came, goes = (back, ahead) if forward else (ahead, back)
        kind = _way(came, goes, part.faces)
    name = f"{part.kind} '{part.id}'" if kind == "stop" and part.id is not None else part.kind
    hurdles = (*passed, Hurdle(kind, part.turn, line, part.step, name, key))
    soft = angle_between(part.heading_in, part.heading_out) - part.turn
    if soft > SAME:
        # The walk may turn a little more than the fitting says.
        hurdles = (*hurdles, Hurdle("curve", soft, line, part.step, "joint", (line, "joint", part.step), soft))
    yield from moves_from(layout, stopping, to.next(), hurdles)


def _hose(layout: Layout, piece: Piece, *, entered: bool, held: bool = False) -> tuple[Hurdle, ...]:
    """What a hose turns between the end that a rod goes in at (`entered`), or comes out at, and its middle; nothing for other pipe.
    `held`: that end is off its barb, in the hand."""
    line = layout.lines[piece.line]
    part = line.parts[piece.number]
    if part.kind != "hose" or piece.number not in (turns := hose_turns(layout, line)):
        return ()
    first = entered == piece.forward
    hose = turns[piece.number].held(first=first) if held else turns[piece.number]
    key = (piece.line, "hose", piece.number, first)
    return (Hurdle("curve", hose.first if first else hose.last, piece.line, part.step, "hose", key, hose.tight),)


def _through_tee(
    layout: Layout, stopping: frozenset[str], tee: Tee, leg: tuple[str, str], passed: tuple[Hurdle, ...]
) -> Iterator[Move]:
    """Go on from one leg of a tee, named by its line and side, into the other two."""
    key = ("tee", tee.id)
    if any(hurdle.key == key for hurdle in passed):
        return
    came = next(n for n, one in enumerate(tee.legs) if (one.line, one.side) == leg)
    for goes, on in enumerate(tee.legs):
        if goes == came:
            continue
        third = tee.legs[3 - came - goes]
        kind = _way(tee.legs[came].heading, on.heading, third.heading)
        turn = angle_between(negative(tee.legs[came].heading), on.heading)
        hurdle = Hurdle(kind, turn, tee.line, tee.step, tee.kind, key)
        parts = layout.lines[on.line].parts
        if on.side in ("from", "to"):
            to = Piece(on.line, 0, True) if on.side == "from" else Piece(on.line, len(parts) - 1, False)
        else:
            _, at = _tees_at(layout)[tee.line, tee.step]
            to = Piece(on.line, at, on.side == "after").next()
        yield from moves_from(layout, stopping, to, (*passed, hurdle))


@once
def _tees_at(layout: Layout) -> Mapping[tuple[str, int], tuple[Tee, int]]:
    """The tees by their line and step, each with the number of its part in that line; of two at one step the first."""
    steps = {name: [part.step for part in line.parts] for name, line in layout.lines.items()}
    return {
        (one.line, one.step): (one, steps[one.line].index(one.step)) for one in reversed(list(layout.tees.values()))
    }


def _way(came: Vector, goes: Vector, third: Vector) -> HurdleKind:
    """Tell whether a rod goes by itself from leg `came` to leg `goes`, when there is a `third` leg (all
    headings point out of the fitting). It does not where `came` and `third` are the fitting's straightest
    pair."""
    to_goes = angle_between(negative(came), goes)
    to_third = angle_between(negative(came), third)
    other = angle_between(negative(goes), third)
    straightest = to_third <= min(to_goes, other) + TIE and to_third < to_goes - TIE
    return "branch" if straightest else "turn"


def _entries(layout: Layout, stopping: frozenset[str], access: Access) -> Iterator[Move]:
    """The ways in at an access, each with its entry turn as the first hurdle."""
    line = layout.lines[access.line]
    index = next(
        (
            n
            for n, part in enumerate(line.parts)
            if (part.step, part.at, part.is_pipe) == (access.step, access.at, False)
        ),
        None,
    )
    if index is None:
        forward = access.step == 0
        end = line.start if forward else line.end
        key: Hashable = ("end", access.line, access.step)
        turn = 0.0 if access.faces is None else angle_between(access.faces, end.heading)
        entry = Hurdle("turn", turn, access.line, access.step, access.kind, key)
        to = Piece(access.line, 0 if forward else len(line.parts) - 1, forward)
        yield from moves_from(layout, stopping, to, (entry,))
        return
    part = line.parts[index]
    back, ahead = negative(part.heading_in), part.heading_out
    for forward, leg, other in ((True, ahead, back), (False, back, ahead)):
        if part.kind == BARB and not any(is_hose(one) for one in beside(line, index, forward)):
            continue  # a rod goes into the hose that came off, and not through the barb
        kind: HurdleKind = "turn"
        turn = 0.0
        if access.faces is not None:
            turn = angle_between(negative(access.faces), leg)
            kind = _way(access.faces, leg, other)
        entry = Hurdle(kind, turn, access.line, access.step, access.kind, (access.line, access.step))
        moves = moves_from(layout, stopping, Piece(access.line, index, forward).next(), (entry,))
        yield from (_in_hand(layout, move) if access.kind == "hose end" else move for move in moves)


def _in_hand(layout: Layout, move: Move) -> Move:
    """A way into a hose that has come off: its end points as the hand holds it."""
    held = {hurdle.key: hurdle for hurdle in _hose(layout, move.to, entered=True, held=True)}
    return Move(tuple(held.get(hurdle.key, hurdle) for hurdle in move.hurdles), move.to)
