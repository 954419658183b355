"""The pieces of pipe of a line: each run between the centres of its fittings, less what the fittings take up."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from itertools import pairwise

from .model import Hose, Off, Piece
from .sizes import is_hose, socket_depth
from .walk_of_line import Element, Segment, Stands

__all__ = ["Cut", "cut_line", "lacks", "settle"]

_SLACK = 1e-3


@dataclass(frozen=True, slots=True)
class Settled:
    """What a stack takes of the pipe before and after it, the short pieces within it, and whether there is room for it."""

    before: tuple[Off, ...]
    after: tuple[Off, ...]
    joints: tuple[tuple[Element, Element, float], ...]
    room: bool = True


@dataclass(frozen=True, slots=True)
class Cut:
    """A line's pieces and hoses, those pieces for which there is no room, and what to say of it."""

    pieces: tuple[Piece, ...]
    hoses: tuple[Hose, ...]
    tight: tuple[Piece, ...]
    notes: tuple[str, ...]


def settle(stack: tuple[Element, ...]) -> Settled:
    """Tell how fittings that stand at one place of the walk share the pipe around it.

    Two sockets are joined by a short piece of two socket depths; a bush goes into its neighbour. One that turns or branches keeps
    its place and the others move along the pipe; where none does, they stand with their middle there. Of two that turn, by θ₁ and
    θ₂, the line between their centres, of length s, is the third side of the triangle over the corner of the walk, so that they
    stand s sin θ₂ / sin(θ₁+θ₂) before it and s sin θ₁ / sin(θ₁+θ₂) behind it. With more of them, or one that turns right at a
    tee or a port, the walk has no room for them.
    """
    # An open end beside a fitting is that fitting's own mouth.
    stack = tuple(one for one in stack if one.socket) or stack[:1]
    if not stack:
        return Settled((), (), ())
    first, last = stack[0], stack[-1]
    before, after = Off(first.name, first.before), Off(last.name, last.after)
    if len(stack) == 1:
        return Settled((before,), (after,), ())
    gaps: list[float | None] = []
    joints: list[tuple[Element, Element, float]] = []
    for one, other in pairwise(stack):
        gap = _gap(one, other)
        between = None if gap is None or one.after is None or other.before is None else one.after + gap + other.before
        gaps.append(between)
        if gap and between is not None:
            joints.append((one, other, between))
    fixed = [k for k, one in enumerate(stack) if one.fixed]
    if not fixed:
        fixed = [k for k, one in enumerate(stack) if one.loose][:1]
    shifts, room = _shifts(stack, gaps, fixed)
    beside = [" and ".join(one.name for one in some) for some in (stack[1:], stack[:-1])]
    takes = [
        () if shift == 0.0 else (Off(f"{name} beside it", shift),) for name, shift in zip(beside, shifts, strict=True)
    ]
    return Settled((before, *takes[0]), (after, *takes[1]), tuple(joints), room)


def _gap(one: Element, other: Element) -> float | None:
    """From stop to stop between two neighbours [m]; None where it is not known."""
    if not (one.socket and other.socket) or one.bush or other.bush:
        return 0.0
    if is_hose(one.pipe_after):
        return None
    depth = socket_depth(one.pipe_after)
    return None if depth is None else 2.0 * depth


def _shifts(
    stack: tuple[Element, ...], gaps: list[float | None], fixed: list[int]
) -> tuple[tuple[float | None, float | None], bool]:
    """How far the first and the last centre stand from the place [m], None where it is not known, and whether there is room."""

    def span(low: int, high: int) -> float | None:
        some = gaps[low:high]
        return None if None in some else sum(one or 0.0 for one in some)

    end = len(stack) - 1
    if not fixed:
        whole = span(0, end)
        half = None if whole is None else whole / 2.0
        return (half, half), True
    if len(fixed) == 1:
        return (span(0, fixed[0]), span(fixed[0], end)), True
    turns = [stack[k].turn for k in fixed]
    apart = span(fixed[0], fixed[-1])
    if len(fixed) > 2 or min(turns) <= 0.0 or sum(turns) > math.radians(170.0):
        return (None, None), False
    if apart is None:
        return (None, None), True
    first, second = (apart * math.sin(turn) / math.sin(sum(turns)) for turn in reversed(turns))
    ahead, behind = span(0, fixed[0]), span(fixed[1], end)
    return (None if ahead is None else ahead + first, None if behind is None else behind + second), True


def cut_line(stands: Stands) -> Cut:
    """Cut a line: a piece for each segment and each joint, hoses apart."""
    name = stands.line.name
    settled = [settle(stack) for stack in stands.stacks]
    pieces: list[Piece] = []
    hoses: list[Hose] = []
    notes: list[str] = []
    for k, stack in enumerate(stands.stacks):
        if not settled[k].room:
            some = ", ".join(one.name for one in stack)
            notes.append(
                f"Line '{name}', step {stack[-1].step}: {some} stand at one place, and the walk leaves no room between "
                "them. Measure there."
            )
        pieces += [_joint(name, joint) for joint in settled[k].joints]
        if k < len(stands.segments):
            segment = stands.segments[k]
            if segment.hose:
                size = segment.pipe.name if is_hose(segment.pipe) else f"hose for {segment.pipe.name}"
                hoses.append(Hose(size, name, segment.steps, segment.centres))
            else:
                pieces.append(_piece(name, segment, settled[k], settled[k + 1], stack, stands.stacks[k + 1]))
    marked = _marked(pieces)
    return Cut(tuple(marked), tuple(hoses), tuple(piece for piece in marked if lacks(piece) > 0.0), tuple(notes))


def _joint(line: str, joint: tuple[Element, Element, float]) -> Piece:
    one, other, between = joint
    ends = ((Off(one.name, one.after),), (Off(other.name, other.before),), one.point, other.point)
    note = f"between {one.name} and {other.name}"
    return Piece(f"{line} {other.step}", line, (), one.pipe_after, between, *ends, 2, joint=True, note=note)


def _piece(
    line: str, segment: Segment, here: Settled, there: Settled, stack: tuple[Element, ...], after: tuple[Element, ...]
) -> Piece:
    sockets = sum(1 for side in (stack[-1:], after[:1]) if side and side[0].socket)
    step = segment.steps[0] if segment.steps else 0
    ends = (here.after, there.before, segment.start, segment.end)
    return Piece(
        f"{line} {step}", line, segment.steps, segment.pipe, segment.centres, *ends, sockets, note=segment.note
    )


def _marked(pieces: list[Piece]) -> list[Piece]:
    """Give pieces of one mark a letter each."""
    counts = Counter(piece.mark for piece in pieces)
    seen: Counter[str] = Counter()
    out = []
    for piece in pieces:
        if counts[piece.mark] > 1:
            letter = chr(ord("a") + seen[piece.mark]) if seen[piece.mark] < 26 else f"-{seen[piece.mark] + 1}"
            seen[piece.mark] += 1
            piece = replace(piece, mark=f"{piece.mark}{letter}")  # noqa: PLW2901
        out.append(piece)
    return out


def lacks(piece: Piece) -> float:
    """What a piece lacks to reach into its sockets [m]; above nothing where the fittings beside it cannot stand so near."""
    depth = socket_depth(piece.pipe)
    least = _SLACK if depth is None or piece.unknown else piece.sockets * depth
    return max(least - _SLACK - piece.length, 0.0)
