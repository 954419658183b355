"""The cutting plan: pieces rounded to what a saw and a tape can do, long runs split, and all cut from the fewest stock lengths."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..layout.model import Pipe
from ..units import Units
from .model import Bill, Item, Piece, Place
from .sizes import coupling_gap, joints, outside_of, socket_depth
from .stock import Way, pack
from .words import part_name

__all__ = ["Bar", "CutPlan", "CutSize", "Sawn", "grid_of", "plan_of", "usual_kerf", "usual_stock"]

_INCH = 0.0254
MOST_STOCKS = 200
"""Stock lengths in one run, beyond which it is not split: nobody glues so many."""


@dataclass(frozen=True, slots=True)
class Sawn:
    """One cut piece: the `piece` of the bill, its `length` [m] as it is sawn, and which `part` of how many it is where the run
    is longer than the stock (1 of 1 otherwise)."""

    piece: Piece
    length: float
    part: int = 1
    of: int = 1

    @property
    def mark(self) -> str:
        """What to write on it."""
        return self.piece.mark if self.of == 1 else f"{self.piece.mark} ({self.part} of {self.of})"


@dataclass(frozen=True, slots=True)
class Bar:
    """One stock length: the pieces sawn from it, the longest first, and the `offcut` [m] that is left, the kerfs taken off."""

    pieces: tuple[Sawn, ...]
    offcut: float


@dataclass(frozen=True, slots=True)
class CutSize:
    """All of one pipe: from lengths of `stock` [m], `bars` of them; no way of cutting these pieces needs fewer than `bound`."""

    pipe: Pipe
    stock: float
    bars: tuple[Bar, ...]
    bound: int
    way: Way

    @property
    def cut(self) -> float:
        """All pieces together [m]."""
        return sum(sawn.length for bar in self.bars for sawn in bar.pieces)

    @property
    def proven(self) -> bool:
        """True where no way of cutting these pieces needs fewer lengths."""
        return len(self.bars) == self.bound


@dataclass(frozen=True, slots=True)
class CutPlan:
    """How all pipe of a bill is cut: `kerf`, rounded up to the grid, and `grid` [m] (all lengths are whole numbers of it), and the `couplings` that long
    runs need beyond the bill."""

    kerf: float
    grid: float
    sizes: tuple[CutSize, ...]
    couplings: tuple[Item, ...]


def grid_of(units: Units) -> float:
    """To what pieces are rounded [m]: 1 mm, or 1/16 in for a file in feet."""
    return _INCH / 16.0 if units.length == "ft" else 0.001


def usual_stock(units: Units) -> float:
    """The stock length that is taken where none is stated [m]: 3 m, or 10 ft."""
    row = joints()["stock length"]
    return float(row["feet"]) * 0.3048 if units.length == "ft" else float(row["metres"])


def usual_kerf() -> float:
    """What a saw cut takes where it is not stated [m]."""
    return float(joints()["kerf"]["plus_mm"]) / 1000.0


def plan_of(
    bill: Bill,
    *,
    stock: float | None = None,
    kerf: float | None = None,
    stocks: Mapping[str, float] | None = None,
    seconds: float = 10.0,
) -> CutPlan:
    """Cut a bill's pieces from lengths of `stock` [m], or for pipe of some names of `stocks`, with a `kerf` [m], looking for fewer lengths for some
    `seconds` a size. Pieces are rounded to the nearest of the grid, stock down and the kerf up; those without a length are left out.

    Raises:
        ValueError: where the stock is no longer than the shortest piece that a split run may have, or not above the kerf.
    """
    units = bill.layout.units
    grid = grid_of(units)
    usual = usual_stock(units) if stock is None else stock
    cut = grid * math.ceil((usual_kerf() if kerf is None else kerf) / grid - 1e-6)
    by_size: dict[str, list[Piece]] = {}
    for piece in bill.pieces:
        if round(piece.length / grid) > 0:
            by_size.setdefault(piece.pipe.name, []).append(piece)
    sizes, splits = [], []
    for name, pieces in by_size.items():
        length = (stocks or {}).get(name, usual)
        sawn = [one for piece in pieces for one in _sawn(piece, length, grid)]
        splits += [one for one in sawn if one.part > 1]
        sizes.append(_packed(pieces[0].pipe, sawn, length, cut, grid, seconds))
    sizes.sort(key=lambda size: (-outside_of(size.pipe), size.pipe.name))
    return CutPlan(cut, grid, tuple(sizes), _couplings(splits))


def _sawn(piece: Piece, stock: float, grid: float) -> list[Sawn]:
    """A piece as it is sawn; one longer than the stock in several, with couplings between: all but the last whole lengths."""
    whole, room = round(piece.length / grid), math.floor(stock / grid + 1e-6)
    if whole <= room:
        return [Sawn(piece, whole * grid)]
    gap = round(coupling_gap() / grid)
    depth = socket_depth(piece.pipe) or 0.0
    least = math.ceil(max(float(joints()["shortest piece"]["plus_mm"]) / 1000.0, 2.0 * depth) / grid)
    if room <= 2 * least:
        raise ValueError("the stock length is too short for a run in several pieces")
    count = math.ceil((whole + gap) / (room + gap))
    if count > MOST_STOCKS:
        raise ValueError(f"a run of {count} stock lengths")
    lengths = [room] * (count - 1)
    last = whole - sum(lengths) - gap * (count - 1)
    if last < least:
        lengths[-1] -= least - last
        last = least
    return [Sawn(piece, length * grid, k + 1, count) for k, length in enumerate([*lengths, last])]


def _packed(pipe: Pipe, sawn: list[Sawn], stock: float, kerf: float, grid: float, seconds: float) -> CutSize:
    room = math.floor(stock / grid + 1e-6)
    saw = round(kerf / grid)
    packing = pack([round(one.length / grid) for one in sawn], room, saw, seconds=seconds)
    bars = []
    for numbers in packing.bins:
        used = sum(round(sawn[k].length / grid) for k in numbers)
        left = room - used - saw * (len(numbers) - 1)
        bars.append(Bar(tuple(sawn[k] for k in numbers), max(left - saw, 0) * grid))
    return CutSize(pipe, stock, tuple(bars), packing.bound, packing.way)


def _couplings(splits: Iterable[Sawn]) -> tuple[Item, ...]:
    found: dict[str, list[Sawn]] = {}
    for one in splits:
        found.setdefault(one.piece.pipe.name, []).append(one)
    return tuple(
        Item("coupling", part_name("coupling"), name, None, outside_of(some[0].piece.pipe), tuple(map(_joint, some)))
        for name, some in found.items()
    )


def _joint(sawn: Sawn) -> Place:
    piece = sawn.piece
    why = f"run longer than a stock length, {sawn.of} pieces"
    return Place(piece.line, piece.steps[0] if piece.steps else 0, piece.start, why)
