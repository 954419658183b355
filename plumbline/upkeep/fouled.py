"""A layout with film and deposit in its pipe: every run cut where a rod's reach ends, each piece with its own bore and wall."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from ..findings import as_tuple
from ..layout.model import Layout, Leg, Line, Part, Pipe, Stretch
from .carried import STEEP
from .film import Film, Growth, fouled_pipe
from .intervals import Intervals
from .track import bounds

__all__ = ["Piece", "fouled", "inside", "pieces_of"]


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of pipe that fouls alike: part `index` of `line`, from `start` to `stop` [m along the line], in a `stretch`.
    `steep` where nothing settles."""

    line: str
    index: int
    start: float
    stop: float
    stretch: str
    part: Part
    steep: bool


@as_tuple
def pieces_of(layout: Layout, reaches: Iterable[Mapping[str, Intervals]]) -> Iterator[Piece]:
    """Cut all pipe at the ends of what is reached; a spray bar, whose holes are counted along it, stays whole."""
    cuts: dict[str, set[float]] = {name: set() for name in layout.lines}
    for reach in reaches:
        for of, intervals in reach.items():
            cuts[of].update(end for interval in intervals for end in interval)
    stretch_of = {(s.line, part.step, part.at): s.id for s in layout.stretches for part in s.parts if part.is_pipe}
    for name, line in layout.lines.items():
        for index, part in enumerate(line.parts):
            if not part.is_pipe:
                continue
            low, high = bounds(layout, name, index)
            inner = sorted(cut for cut in cuts[name] if low + 1e-9 < cut < high - 1e-9)
            ends = [low, *([] if part.kind == "spray bar" else inner), high]
            steep = abs(part.end[2] - part.start[2]) > STEEP * part.length
            for start, stop in pairwise(ends):
                at = stretch_of[name, part.step, part.at]
                yield Piece(name, index, start, stop, at, _cut(part, start, stop, low, high), steep)


def inside(piece: Piece, reach: Mapping[str, Intervals]) -> bool:
    """Whether a piece lies in what is reached: its middle does, as it was cut at the ends."""
    middle = 0.5 * (piece.start + piece.stop)
    return any(low <= middle <= high for low, high in reach.get(piece.line, ()))


def fouled(layout: Layout, pieces: Sequence[Piece], films: Sequence[Film], rate: Growth) -> Layout:
    """Return the layout with what is on its walls.

    A fitting has the bore and wall of the pipe before it along the walk, or after it where a line begins with one; its K
    stays on the velocity head in that bore. A standing K or Kv is as stated. Tees have the bores of the pipe at their legs.
    """
    by_part: dict[tuple[str, int], list[Part]] = {}
    for piece, film in zip(pieces, films, strict=True):
        pipe = fouled_pipe(piece.part.pipe, film, rate)
        by_part.setdefault((piece.line, piece.index), []).append(replace(piece.part, pipe=pipe, pipe_out=pipe))
    lines: dict[str, Line] = {}
    moved: dict[tuple[str, int], tuple[Part, ...]] = {}
    for name, line in layout.lines.items():
        new: list[list[Part]] = []
        before: Pipe | None = None
        runs = [by_part.get((name, index), []) for index in range(len(line.parts))]
        for index, part in enumerate(line.parts):
            if part.is_pipe:
                new.append(runs[index])
                before = runs[index][-1].pipe
                continue
            after = next((run[0].pipe for run in runs[index + 1 :] if run), None)
            here = before or after or part.pipe
            changes = part.pipe_out.bore != part.pipe.bore or part.kind in ("tee", "wye")
            new.append([replace(part, pipe=here, pipe_out=(after or here) if changes else here)])
        lines[name] = replace(line, parts=tuple(part for parts in new for part in parts))
        moved |= {(name, index): tuple(parts) for index, parts in enumerate(new)}
    return replace(
        layout,
        lines=lines,
        stretches=tuple(_stretch(layout, stretch, moved) for stretch in layout.stretches),
        tees={
            name: replace(
                tee,
                legs=(
                    _leg(tee.legs[0], tee.step, lines),
                    _leg(tee.legs[1], tee.step, lines),
                    _leg(tee.legs[2], tee.step, lines),
                ),
            )
            for name, tee in layout.tees.items()
        },
    )


def _cut(part: Part, start: float, stop: float, low: float, high: float) -> Part:
    """The part between two places; the whole of it unchanged."""
    if start == low and stop == high:
        return part
    a, b = ((where - part.at) / part.length for where in (start, stop))
    first, last = (
        tuple(p + share * (q - p) for p, q in zip(part.start, part.end, strict=True)) for share in (a, min(b, 1.0))
    )
    return replace(part, start=first, end=last, length=stop - start, at=start)  # type: ignore[arg-type]


def _stretch(layout: Layout, stretch: Stretch, moved: Mapping[tuple[str, int], tuple[Part, ...]]) -> Stretch:
    place = {_key(part): index for index, part in enumerate(layout.lines[stretch.line].parts)}
    parts = tuple(part for old in stretch.parts for part in moved[stretch.line, place[_key(old)]])
    longest = max((part for part in parts if part.is_pipe), key=lambda part: part.length, default=None)
    return replace(stretch, parts=parts, bore=stretch.bore if longest is None else longest.pipe.bore)


def _key(part: Part) -> tuple[int, str, float]:
    """What tells a part from all others of its line: a reducer put in by the walk shares its run's step and place."""
    return part.step, part.kind, part.at


def _leg(leg: Leg, step: int, lines: Mapping[str, Line]) -> Leg:
    parts = lines[leg.line].parts
    match leg.side:
        case "before":
            pipes = [part.pipe for part in parts if part.step < step]
            pipe = pipes[-1] if pipes else leg.pipe
        case "after":
            pipes = [part.pipe for part in parts if part.step > step]
            pipe = pipes[0] if pipes else leg.pipe
        case "from":
            pipe = parts[0].pipe
        case _:
            pipe = parts[-1].pipe_out
    return replace(leg, pipe=pipe)
