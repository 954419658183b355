"""From one layout to another: what to buy, what comes out, what pipe to cut and what stays where it is."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from ..hydraulics.stretches import pipes_joined
from ..layout.model import Layout, Vector
from ..layout.vectors import NOWHERE, add, minus, size
from .model import Bill, Hose, Item, Piece, Place
from .plan import CutPlan, plan_of
from .sizes import outside_of, socket_depth
from .words import part_name

__all__ = ["Difference", "difference"]

_NEAR = 1e-3
"""Places that differ by less [m] are one place."""


@dataclass(frozen=True, slots=True)
class Difference:
    """What it takes to go from one layout to another.

    `buy` are parts that stand in the new layout where the old one has none of the kind and size; `out` those of the old that go.
    `pieces` are to be cut from new pipe, `shorter` are cut from pipe that stays in its place; `pipe_out` [m] of old pipe that goes,
    by the name of its size. `couplings`: see `difference`. `hoses` more, by size [m].
    """

    old: Bill
    new: Bill
    buy: tuple[Item, ...]
    out: tuple[Item, ...]
    pieces: tuple[Piece, ...]
    shorter: tuple[Piece, ...]
    pipe_out: tuple[tuple[str, float], ...]
    couplings: tuple[Item, ...]
    hoses: tuple[Hose, ...]

    @property
    def bill(self) -> Bill:
        """What to buy, as a bill: for `plan_of` and `cost_of`."""
        return replace(
            self.new,
            items=(*self.buy, *self.couplings),
            pieces=self.pieces,
            hoses=self.hoses,
            totals=(),
            notes=(),
            tight=tuple(piece for piece in self.new.tight if piece in self.pieces),
        )

    @property
    def pipe_in(self) -> tuple[tuple[str, float], ...]:
        """New pipe and hose [m], by the name of its size."""
        pipe = ((piece.pipe.name, piece.length) for piece in self.pieces)
        return _by_name((*pipe, *((hose.size, hose.length) for hose in self.hoses)))

    def plan(self, *, stock: float | None = None, kerf: float | None = None) -> CutPlan:
        """The new pieces, from the fewest stock lengths: see `plan_of`."""
        return plan_of(self.bill, stock=stock, kerf=kerf)


def difference(old: Bill, new: Bill, moved: Collection[str] = ()) -> Difference:
    """Tell what to buy to go from one layout to another on the same axes; lines that are `moved` take their parts and pipe along.

    Parts and pieces are compared by where they stand, to the millimetre, for glued fittings cannot be used again. A new piece that lies within
    an old one of the same pipe is cut from it where it is. Where such a piece keeps its end but the fitting there is replaced, the end is
    lost with the old socket: a coupling and a short piece of pipe are counted for it (common practice, no source), and nothing where the
    new piece ends a socket's depth or more short of the old end.
    """
    new = _as_lay(new, old.layout)
    buy, out = _apart(new.items, old.items, moved), _apart(old.items, new.items, moved)
    pieces: list[Piece] = []
    shorter: list[Piece] = []
    mended: dict[str, list[tuple[Piece, Place]]] = defaultdict(list)
    gone = {_spot(place.point) for item in out for place in item.places}
    by_pipe: dict[str, list[Piece]] = defaultdict(list)
    kept: dict[str, float] = defaultdict(float)
    for piece in old.pieces:
        by_pipe[piece.pipe.name].append(piece)
    for piece in new.pieces:
        # Pipe between two fittings at one place may have its like beside it: an old piece gives no more than there is of it.
        homes = [
            one
            for one in by_pipe[piece.pipe.name]
            if (_along(piece, one) if piece.line in moved else _within(piece, one))
            and kept[one.mark] + piece.length < one.length + (_LAID_OVER if piece.line in moved else _NEAR)
        ]
        if not homes:
            pieces.append(piece)
            continue
        # Lines without a place in plan may lie over each other: the one most like it, best of the same name, is it.
        lies = min(homes, key=lambda one: (abs(one.length - piece.length) > _NEAR, one.line != piece.line, one.length))
        kept[lies.mark] += piece.length
        if lies.length - piece.length > _NEAR:
            shorter.append(piece)
        for point, step in ((piece.start, piece.steps[:1]), (piece.end, piece.steps[-1:])):
            if _lost(piece, lies, point, gone):
                place = Place(piece.line, step[0] if step else 0, point, "the pipe's end is lost with the old fitting")
                mended[piece.pipe.name].append((piece, place))
    couplings = []
    for name, some in mended.items():
        pipe = some[0][0].pipe
        places = tuple(place for _, place in some)
        couplings.append(Item("coupling", part_name("coupling"), name, None, outside_of(pipe), places))
        pieces += [_stub(piece, place) for piece, place in some]
    return Difference(
        old, new, buy, out, tuple(pieces), tuple(shorter), _removed(old, kept), tuple(couplings), _more_hose(old, new)
    )


def _as_lay(new: Bill, old: Layout) -> Bill:
    """A bill with each line where it lay in an old layout: pipe that no vessel's place in plan holds lies wherever the file is begun, so that it is held by the
    first vessel or pump that it begins at in both."""
    groups, away = pipes_joined(new.layout), dict[int, Vector]()
    for name, line in new.layout.lines.items():
        was = old.lines[name].start if name in old.lines else line.start
        if (
            name in old.lines
            and line.start.kind in ("vessel", "pump")
            and (was.kind, was.name) == (line.start.kind, line.start.name)
        ):
            east, north, _ = minus(was.place, line.start.place)
            away.setdefault(groups[name], (east, north, 0.0))

    def lay(line: str, point: Vector) -> Vector:
        return add(point, away.get(groups.get(line, -1), NOWHERE))

    items = (
        replace(item, places=tuple(replace(place, point=lay(place.line, place.point)) for place in item.places))
        for item in new.items
    )
    pieces = (replace(one, start=lay(one.line, one.start), end=lay(one.line, one.end)) for one in new.pieces)
    return replace(new, items=tuple(items), pieces=tuple(pieces))


def _spot(point: Vector) -> tuple[int, int, int]:
    """A place to the millimetre. The offset keeps the round figures that people write away from the edges between two."""
    east, north, up = (math.floor(1000.0 * value + 0.337) for value in point)
    return (east, north, up)


def _key(item: Item, place: Place, moved: Collection[str]) -> tuple[str, str, str | tuple[int, int, int]]:
    return item.name, item.size, place.line if place.line in moved else _spot(place.point)


def _apart(these: Iterable[Item], those: Iterable[Item], moved: Collection[str]) -> tuple[Item, ...]:
    """Those of `these` that have no equal at the same place, or in the same line that is moved, among `those`."""
    there = Counter(_key(item, place, moved) for item in those for place in item.places)
    out = []
    for item in these:
        left = []
        for place in item.places:
            key = _key(item, place, moved)
            if there[key]:
                there[key] -= 1
            else:
                left.append(place)
        if left:
            out.append(replace(item, places=tuple(left)))
    return tuple(out)


def _within(piece: Piece, old: Piece) -> bool:
    """Whether a straight piece lies within another, ends included."""
    if piece.joint or old.joint:
        near = size(minus(piece.start, old.start)) < _NEAR and abs(piece.length - old.length) < _NEAR
        return piece.joint and old.joint and near
    whole = size(minus(old.end, old.start))
    if len(piece.steps) != 1 or len(old.steps) != 1:
        same = size(minus(piece.start, old.start)) < _NEAR and size(minus(piece.end, old.end)) < _NEAR
        return same and abs(piece.centres - old.centres) < _NEAR
    longer = piece.length > old.length + _NEAR
    return not longer and all(_between(point, old.start, old.end, whole) for point in (piece.start, piece.end))


_LAID_OVER = 0.005
"""What a piece that is moved may be longer by [m]: as much as its sockets give."""


def _along(piece: Piece, old: Piece) -> bool:
    """Whether a piece can be cut from another that is moved with its line."""
    return piece.line == old.line and piece.length < old.length + _LAID_OVER


def _between(point: Vector, start: Vector, end: Vector, whole: float) -> bool:
    return size(minus(point, start)) + size(minus(end, point)) < whole + 1e-6 + _NEAR**2 / max(whole, _NEAR)


def _lost(piece: Piece, old: Piece, point: Vector, gone: set[tuple[int, int, int]]) -> bool:
    """Whether the old pipe's end at this point was glued into a fitting that goes, and the new one still needs it."""
    ends = [(old.start, old.before), (old.end, old.after)]
    at = [offs for end, offs in ends if size(minus(point, end)) < _NEAR]
    if _spot(point) not in gone or not at or not piece.sockets:
        return False
    takes = piece.before if size(minus(point, piece.start)) < _NEAR else piece.after
    shorter = sum(off.length or 0.0 for off in takes) - sum(off.length or 0.0 for off in at[0])
    return shorter < (socket_depth(piece.pipe) or 0.0) - _NEAR


def _stub(piece: Piece, place: Place) -> Piece:
    """The short piece that makes up for an end lost in a socket: into the coupling and into the new fitting."""
    depth = socket_depth(piece.pipe) or outside_of(piece.pipe)
    note = "to a coupling, in place of the end lost in the old socket"
    ends = ((), (), place.point, place.point)
    return Piece(f"{piece.mark} stub", piece.line, (), piece.pipe, 2.0 * depth, *ends, 2, joint=True, note=note)


def _removed(old: Bill, kept: dict[str, float]) -> tuple[tuple[str, float], ...]:
    """Old pipe that goes [m], by its size; `kept` tells by a piece's mark how much of it stays."""
    gone = ((piece.pipe.name, piece.length - kept[piece.mark]) for piece in old.pieces)
    return _by_name((name, length) for name, length in gone if length > _NEAR)


def _by_name(lengths: Iterable[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
    """Lengths of one name together."""
    sums: dict[str, float] = defaultdict(float)
    for name, length in lengths:
        sums[name] += length
    return tuple(sums.items())


def _more_hose(old: Bill, new: Bill) -> tuple[Hose, ...]:
    """Hose that the old layout has not, by size; hose can be used again."""
    there, wanted = (dict(_by_name((hose.size, hose.length) for hose in bill.hoses)) for bill in (old, new))
    first = {hose.size: hose for hose in reversed(new.hoses)}
    more = ((name, length - there.get(name, 0.0)) for name, length in wanted.items())
    return tuple(replace(first[name], length=length) for name, length in more if length > _NEAR)
