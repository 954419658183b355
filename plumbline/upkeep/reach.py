"""Reach: the exact intervals of pipe that some rod, put in at some access, gets its brush through.

A rod goes in along the opening's axis and its tip follows the pipe's centreline. Every turn, the one at the
entry included, must be within the sharpest that the rod passes; all of them together within its total; the
way from the access within its length; every bore within its range. It never passes the same place twice. All
ways on are tried, so loops need nothing special and the answer is exact.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache

from ..findings import as_tuple
from ..layout.model import Access, Layout, Rod
from ..units import Units, show
from .cords import pulls
from .intervals import Intervals, subtract, together
from .left_shut import why_shut
from .spans import Span, covers, joined
from .tools import cleans, goes_through, least_bore
from .track import Move, Piece, Track, bounds, build_track, past, pipe_of

__all__ = [
    "Push",
    "Span",
    "covers",
    "hand_room",
    "pushes",
    "reach",
    "refusal",
    "sharp_kinds",
    "spread",
    "stopping_kinds",
]


@dataclass(frozen=True, slots=True)
class Push:
    """One rod put in at one access (by id), and the pipe that it cleans: `covers` by line, `spans` with the way and the
    length of rod that each piece takes. What is `beyond` is reached only with the access `drained` (see `Spill`).

    `brush` [m] is the brush on it, None where its head is its own. A cord is pulled through `to` another access, and `cord`
    [m] is how long it has to be; their spans tell how far the brush has come. `units` are the file's, to name it in.
    """

    access: str
    rod: str
    covers: Mapping[str, Intervals]
    spans: tuple[Span, ...] = ()
    brush: float | None = None
    to: str | None = None
    cord: float | None = None
    beyond: Mapping[str, Intervals] = field(default_factory=dict)
    units: Units = field(default_factory=Units)

    @property
    def tool(self) -> str:
        """The rod with the brush on it, in words.

        >>> Push("c1", "rod", {}, brush=0.04).tool
        'rod with a 40 mm brush'
        """
        return self.rod if self.brush is None else f"{self.rod} with a {show(self.brush, 'size', self.units)} brush"


@cache
def stopping_kinds() -> frozenset[str]:
    """Give the kinds of fitting that let no rod past however they are set, by the catalogue."""
    from ..catalogue import fittings

    return frozenset(name for name, fitting in fittings().items() if fitting.rod == "stops")


@cache
def sharp_kinds() -> frozenset[str]:
    """Give the kinds of fitting that turn tightly, by the catalogue; a plain bend counts where it turns far
    enough."""
    from ..catalogue import fittings

    return frozenset(name for name, fitting in fittings().items() if fitting.sharp) | {"bend"}


def refusal(track: Track, rod: Rod, access: Access) -> Callable[[], str] | None:
    """Tell why a rod cannot be put in at an access, before any turn, in words that are put together when asked for; None where it can."""
    units = track.layout.units
    if access.id in track.closed:
        return lambda: track.closed[access.id]
    spill = track.spills.get(access.id)
    if spill is not None and not spill.safe:
        return lambda: why_shut(track.layout, spill)
    needed = hand_room(track, rod)
    room = track.room.get(access.id)
    if room is not None and room < needed - 1e-9:
        return lambda: (
            f"{show(room, 'length', units)} of room in front of it, {show(needed, 'length', units)} wanted for the {rod.name}"
        )
    if access.bore < least_bore(rod) - 1e-9:
        return lambda: f"its {show(access.bore, 'size', units)} opening is too small for the rods"
    return None


def hand_room(track: Track, rod: Rod) -> float:
    """Give the clear space that a rod takes in front of an opening [m]."""
    return track.layout.limits["hand room"] if rod.room is None else rod.room


def spread(
    track: Track, rod: Rod, starts: Iterable[tuple[Move, float]], shut: Collection[Hashable] = ()
) -> tuple[Span, ...]:
    """Push a rod in and follow every way it can take, from the first moves on, each with how far into its piece the rod begins [m]: 0 except
    where it is put in mid-run. It passes nothing that is `shut` for it: a valve, by line and step, or a piece of
    pipe. Gives the pipe covered, a span for each way through a piece, by the least length of rod.

    The ways are simple paths: none passes a fitting twice. Their number can grow as 2ⁿ with n tees
    entered from the branch within the rod's total turning; each such turn costs at least 45° as a rule, so n
    stays small.
    """
    layout = track.layout
    # The nearest way through each piece is also the one that gets furthest into it.
    found: dict[Piece, Span] = {}
    todo: list[tuple[Move, float, float, float, frozenset[Hashable]]] = [
        (move, skip, 0.0, 0.0, frozenset(shut)) for move, skip in starts
    ]
    while todo:
        move, skip, near, turned, seen = todo.pop()
        passed = past(rod, move.hurdles, turned, seen)
        if passed is None or ("pipe", move.to.line, move.to.number) in seen:
            continue
        turned, seen = passed
        part = pipe_of(layout, move.to)
        if not goes_through(rod, part.pipe.bore):
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
        if cleans(rod, part.pipe.bore) and (move.to not in found or near < found[move.to].near):
            found[move.to] = span
        if whole and left > size:
            todo.extend((onward, 0.0, need, turned, seen) for onward in track.onward[move.to])
    return joined(found)


@as_tuple
def pushes(track: Track, tools: Iterable[Rod] | None = None) -> Iterator[Push]:
    """Put every rod in at every access, and pull every cord through between every two; those that get nowhere are left out.

    `tools` are the rods, a brush each; the track's own if left out.
    """
    bores = {part.pipe.bore for line in track.layout.lines.values() for part in line.parts if part.is_pipe}
    # A head that no pipe of the layout is for cleans nothing wherever it gets to.
    rods = [rod for rod in (track.tools if tools is None else tools) if any(cleans(rod, bore) for bore in bores)]
    for access in track.doors:
        for rod in rods:
            if rod.cord or refusal(track, rod, access) is not None:
                continue
            starts, spill = [(move, 0.0) for move in track.entries[access.id]], track.spills.get(access.id)
            spans = spread(track, rod, starts, spill.bars if spill else ())
            beyond: Mapping[str, Intervals] = {}
            if spill and spill.drained and spill.drained.bars != spill.bars:
                further = spread(track, rod, starts, spill.drained.bars)
                near = covers(spans)
                more = {line: subtract(some, near.get(line, ()), slack=1e-6) for line, some in covers(further).items()}
                beyond = {line: some for line, some in more.items() if some}
                spans = further if beyond else spans
            if spans:
                yield Push(
                    access.id, rod.name, covers(spans), spans, _brush(rod), beyond=beyond, units=track.layout.units
                )
    for rod in rods:
        if rod.cord:
            able = [door for door in track.doors if refusal(track, rod, door) is None]
            for pull in pulls(track, rod, able):
                made = covers(pull.spans)
                beyond = made if pull.drained else {}
                told = pull.spans, _brush(rod), pull.last, pull.length, beyond, track.layout.units
                yield Push(pull.first, rod.name, made, *told)


def _brush(rod: Rod) -> float | None:
    return rod.brushes[0] if len(rod.brushes) == 1 else None


def reach(layout: Layout, *, stopping: frozenset[str] | None = None) -> dict[str, Intervals]:
    """Give the pipe that rods reach, as intervals [m along the line] for every line. `stopping` are the kinds of fitting that let no rod past,
    the catalogue's if left out."""
    track = build_track(layout, stopping_kinds() if stopping is None else stopping)
    done = pushes(track)
    return together((push.covers for push in done), layout.lines)
