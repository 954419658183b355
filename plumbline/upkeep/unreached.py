"""Pipe that neither rod nor flush cleans: each piece with its reasons and the cheapest way to open it up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from ..findings import Finding
from ..layout.model import Layout, Part, Rod, Vector
from ..layout.vectors import direction_words, negative
from ..units import show
from .intervals import Interval, Intervals, clip, length, subtract, union
from .reach import Push, covers, fits, opening_fits, pushes, spread
from .track import Move, Piece, Track, bounds, moves_from
from .weights import WEIGHTS
from .why import Failure, entry_failure, failures, ways

__all__ = ["Opening", "blind", "gaps", "openings", "unreachable"]

SLACK = 1e-6
"""Gaps up to this [m] are rounding, not pipe."""

NEAREST = 3
"""How many accesses a message speaks of."""

_SOURCE = "geometry of rod and pipe; that what cannot be rodded or flushed fouls is common practice, no source"


@dataclass(frozen=True, slots=True)
class Opening:
    """A place where an access would help: `text` says what to do, `opens` [m] how much of the gap rods would
    then reach. `fitting` is what to put in, at `step` or, for a union, `at` [m along the line]; `faces` its
    heading."""

    fitting: Literal["cap end", "capped tee", "union"]
    step: int
    at: float
    faces: Vector | None
    text: str
    opens: float


def gaps(layout: Layout, cleanable: Mapping[str, Intervals]) -> tuple[tuple[str, Interval], ...]:
    """Give every piece of pipe that is not cleanable, as (line, interval)."""
    return tuple(
        (name, gap)
        for name, line in layout.lines.items()
        for gap in subtract([(0.0, line.length)], cleanable.get(name, ()), slack=SLACK)
    )


def unreachable(track: Track, cleanable: Mapping[str, Intervals]) -> tuple[Finding, ...]:
    """Report every gap in the cleanable pipe, with why the nearest accesses do not serve it and what
    would."""
    layout = track.layout
    total = sum(line.length for line in layout.lines.values())
    known = ways(track)
    out = []
    for name, gap in gaps(layout, cleanable):
        size = gap[1] - gap[0]
        why = failures(track, known, name, gap)
        steps = [part.step for part in layout.lines[name].parts if _touches(layout, name, part, gap)]
        out.append(
            Finding(
                kind="unreachable",
                level="warn",
                message=f"{_place(layout, name, gap, steps)} cannot be cleaned: {_reason(layout, why)}.",
                more="; ".join(f"{failure.access}: {failure.reason}" for failure in why[1:NEAREST]),
                cure=_cure(track, name, gap, why),
                source=_SOURCE,
                line=name,
                step=steps[0],
                weight=WEIGHTS["unreachable"].value * size / total,
                start=gap[0],
                stop=gap[1],
            )
        )
    return tuple(out)


def blind(track: Track, done: tuple[Push, ...], flushed: Mapping[str, Mapping[str, Intervals]]) -> tuple[Finding, ...]:
    """Report caps and unions that let no rod into any pipe and serve no flush."""
    out = []
    useful = {push.access for push in done} | {access for access, pipe in flushed.items() if any(pipe.values())}
    for access in track.layout.accesses:
        if access.kind not in ("cap", "union") or access.id in useful:
            continue
        out.append(
            Finding(
                kind="blind-access",
                level="advice",
                message=f"No rod goes in at {access.id}: {entry_failure(track, access)}.",
                cure=(
                    "turn it so that it opens along the pipe, or get a rod that passes its turn"
                    if any(opening_fits(rod, access) for rod in track.layout.rods)
                    else f"get a brush for bores of {show(access.bore, 'size', track.layout.units)}"
                ),
                source=_SOURCE,
                line=access.line,
                step=_step(track.layout, access.line, access.step),
                weight=WEIGHTS["blind-access"].value,
            )
        )
    return tuple(out)


def openings(track: Track, line: str, gap: Interval) -> tuple[Opening, ...]:
    """Try a new access at every place in or beside a gap; the one that opens most of it comes first.

    A capped tee goes in place of any fitting that turns, opening along either leg; a cap replaces a plug; a
    union goes into the middle of each run's unreached part. Among equals that is also the order of
    preference.
    """
    layout = track.layout
    found: list[Opening] = []
    walked = layout.lines[line]
    for forward, end in ((True, walked.start), (False, walked.end)):
        beside = gap[0] <= SLACK if forward else gap[1] >= walked.length - SLACK
        if end.kind == "plug" and beside:
            first = Piece(line, 0 if forward else len(walked.parts) - 1, forward)
            moves = moves_from(layout, track.stopping, first)
            text = f"put a cap in place of the plug at the {'start' if forward else 'end'}"
            step, at = (0, 0.0) if forward else (walked.parts[-1].step + 1, walked.length)
            found.append(Opening("cap end", step, at, end.heading, text, _opened(track, line, gap, moves)))
    for index, part in enumerate(walked.parts):
        turns = part.turn > 0.0 and not part.is_pipe and part.faces is None and part.kind not in ("tee", "wye")
        if turns and part.kind not in track.stopping and gap[0] - SLACK <= part.at <= gap[1] + SLACK:
            for forward in (True, False):
                leg = part.heading_out if forward else negative(part.heading_in)
                moves = moves_from(layout, track.stopping, Piece(line, index, forward).next())
                faces = negative(leg)
                way = direction_words(faces)
                text = f"put a capped tee in place of the {part.kind} at step {part.step}, facing {way}"
                opens = _opened(track, line, gap, moves)
                found.append(Opening("capped tee", part.step, part.at, faces, text, opens))
    for index, part in enumerate(walked.parts):
        start, stop = bounds(layout, line, index)
        low, high = max(start, gap[0]), min(stop, gap[1])
        if part.is_pipe and high - low > SLACK:
            middle = (low + high) / 2
            starts = [
                (Move((), Piece(line, index, True)), middle - start),
                (Move((), Piece(line, index, False)), stop - middle),
            ]
            text = f"put a union into step {part.step}, {show(middle, 'length', layout.units)} along '{line}'"
            found.append(Opening("union", part.step, middle, None, text, _most(track, line, gap, starts)))
    return tuple(sorted(found, key=lambda opening: -round(opening.opens, 6)))


def _opened(track: Track, line: str, gap: Interval, moves: Iterable[Move]) -> float:
    return _most(track, line, gap, [(move, 0.0) for move in moves])


def _most(track: Track, line: str, gap: Interval, starts: list[tuple[Move, float]]) -> float:
    pieces = [piece for rod in track.layout.rods for piece in covers(spread(track, rod, starts)).get(line, ())]
    return length(clip(union(pieces), *gap))


def _cure(track: Track, line: str, gap: Interval, why: tuple[Failure, ...]) -> str:
    layout = track.layout
    longer = [
        (failure.rod.length + failure.short_by, failure.access)
        for failure in why
        if failure.short_by is not None and failure.rod is not None
    ]
    words = []
    if longer:
        need, access = min(longer)
        words.append(f"use a rod at least {show(need, 'length', layout.units)} long at {access}")
    bores = {
        part.pipe.bore
        for part in layout.lines[line].parts
        if part.is_pipe and _touches(layout, line, part, gap) and not _any_fits(layout.rods, part.pipe.bore)
    }
    brush = " and ".join(show(bore, "size", layout.units) for bore in sorted(bores))
    if brush:
        # With brushes of every size at hand: does that alone open it, or does it want an access as well?
        track = fitted(track)
        if not layout.rods or _reached(track, line, gap):
            return f"get a brush for bores of {brush}"
    best = next((opening for opening in openings(track, line, gap) if opening.opens > SLACK), None)
    if best is not None:
        whole = best.opens >= gap[1] - gap[0] - SLACK
        part = "" if whole else f" (opens {show(best.opens, 'length', layout.units)} of it)"
        words.append((f"get a brush for bores of {brush}, and " if brush else "") + best.text + part)
    if words:
        return ", or ".join(words)
    return "take this piece out to clean it, with a union at each end"


def fitted(track: Track) -> Track:
    """The same pipe with rods whose brushes fit every bore."""
    rods = tuple(replace(rod, bore_min=0.0, bore_max=float("inf")) for rod in track.layout.rods)
    return replace(track, layout=replace(track.layout, rods=rods))


def _reached(track: Track, line: str, gap: Interval) -> bool:
    """Whether some rod now gets through the whole gap."""
    now = [piece for push in pushes(track) for piece in push.covers.get(line, ())]
    return not subtract([gap], union(now), slack=SLACK)


def _any_fits(rods: tuple[Rod, ...], bore: float) -> bool:
    return any(fits(rod, bore) for rod in rods)


def _reason(layout: Layout, why: tuple[Failure, ...]) -> str:
    if not layout.rods:
        return "the layout has no rod"
    if not why:
        return "no access leads to it"
    return f"{why[0].access}: {why[0].reason}"


def _place(layout: Layout, line: str, gap: Interval, steps: list[int]) -> str:
    size = show(gap[1] - gap[0], "length", layout.units)
    if gap[0] <= SLACK and gap[1] >= layout.lines[line].length - SLACK:
        return f"All {size} of '{line}'"
    where = f"step {steps[0]}" if len(steps) == 1 else f"steps {steps[0]} to {steps[-1]}"
    return f"{size} of '{line}' ({where})"


def _touches(layout: Layout, line: str, part: Part, gap: Interval) -> bool:
    start, stop = bounds(layout, line, layout.lines[line].parts.index(part))
    return part.is_pipe and max(start, gap[0]) < min(stop, gap[1])


def _step(layout: Layout, line: str, step: int) -> int | None:
    return step if any(part.step == step for part in layout.lines[line].parts) else None
