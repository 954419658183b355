"""Lines from which bends are taken out: what is gone of them, and where along them a place is that was found in what is left."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from ..layout.model import Layout, Line
from ..upkeep.intervals import Interval, Intervals, subtract, union
from .change import Change
from .clean import Cleaned, Effect, Jointly, Pipe
from .cover import Provider

__all__ = ["BentLines", "as_was", "gone_of"]

CLOSE = 2e-3
"""Places nearer than this [m] are the same: pipe that takes over another's fall is as little longer."""


SLIVER = 1e-6
"""Pieces no longer than this [m] are rounding, not pipe."""


class BentLines:
    """The lines that some changes, by number, take bends out of: the pipe that is `gone` with each, and the `places` of its corners [m]."""

    def __init__(self, layout: Layout, bends: Mapping[int, Change]) -> None:
        self.lines = layout.lines
        self.of = {n: change.lines for n, change in bends.items()}
        self.gone: dict[int, dict[str, Intervals]] = {
            n: {line: gone_of(self.lines[line], change) for line in change.lines} for n, change in bends.items()
        }
        self.places = {n: places_of(self.lines[change.line], change) for n, change in bends.items()}

    def rounds(self, clashes: Iterable[frozenset[int]], but: Collection[int] = ()) -> list[tuple[int, ...]]:
        """Sets of the changes, `but` for some, of which none clash, such that each two of a line that can be made together are in one."""
        numbers = [n for n in self.of if n not in but]
        apart = {pair for pair in clashes if pair <= {*numbers}}
        out: list[tuple[int, ...]] = []
        for first in numbers:
            for second in (n for n in numbers if n >= first and self.of[n] == self.of[first]):
                some = {first, second}
                if some in apart or any(some <= {*other} for other in out):
                    continue
                for n in numbers:
                    if not any(frozenset((n, other)) in apart for other in some):
                        some.add(n)
                out.append(tuple(sorted(some)))
        return out

    def beyond(self, one: Provider, at: tuple[str, float] | None, made: Collection[int]) -> Iterator[Provider]:
        """What an access `at` a place cleans with bends taken out, each piece with those that stand between it and the access; where that is in
        another line, any of them."""
        usual = dict(one.pipe)
        for line in dict.fromkeys(line for n in self.of if n in made for line in self.of[n]):
            bends = {n: self.places[n] for n in self.of if n in made and line in self.of[n]}
            pieces = usual.pop(line, ())
            for low, high in pairwise(sorted({0.0, *(x for places in bends.values() for x in places), math.inf})):
                some = tuple((max(a, low), min(b, high)) for a, b in pieces if min(b, high) - max(a, low) > SLIVER)
                needs = [frozenset(bends)]
                if at is not None and at[0] == line:
                    near, far = sorted((at[1], max(low, min(high, at[1]))))
                    between = (
                        n for n, places in bends.items() if any(near - SLIVER <= x <= far + SLIVER for x in places)
                    )
                    needs = [frozenset({n}) for n in between] if near < far else []
                if some:
                    yield replace(one, pipe={line: some}, needs=(*one.needs, *needs))
        yield replace(one, pipe=usual)

    def along(self, pipe: Pipe, made: Collection[int]) -> Pipe:
        """Pipe found with some changes made, along the lines as they are."""
        gone: dict[str, Intervals] = {}
        for n in self.gone.keys() & {*made}:
            gone |= {line: union((*gone.get(line, ()), *some)) for line, some in self.gone[n].items()}
        return {
            line: as_was(self.lines[line], some, gone[line]) if line in gone else some for line, some in pipe.items()
        }

    def as_was(
        self,
        made: Collection[int],
        before: tuple[Cleaned, Cleaned],
        found: Mapping[Change, Effect],
        jointly: Iterable[Jointly],
    ) -> tuple[tuple[Cleaned, Cleaned], dict[Change, Effect], list[Jointly]]:
        """The same of all that `effects` finds."""

        def each(cleaned: Cleaned) -> Cleaned:
            return {name: self.along(pipe, made) for name, pipe in cleaned.items()}

        effects = {
            change: Effect(self.along(effect.gains, made), self.along(effect.perhaps, made), each(effect.losses))
            for change, effect in found.items()
        }
        both = [
            replace(one, gains=self.along(one.gains, made), perhaps=self.along(one.perhaps, made)) for one in jointly
        ]
        return (each(before[0]), each(before[1])), effects, both


def gone_of(line: Line, change: Change) -> tuple[tuple[float, float], ...]:
    """The pipe of a line that a change takes out of its walk, as intervals [m along it as it is]."""
    out = []
    for edit in change.edits:
        part = next((one for one in line.parts if one.step == edit.step and one.is_pipe), None)
        if part is not None and edit.line == line.name and edit.op in ("swap", "lay"):
            out.append((part.at + (edit.at if edit.op == "lay" else 0.0), part.at + part.length))
    return tuple(sorted(piece for piece in out if piece[1] > piece[0]))


def places_of(line: Line, change: Change) -> tuple[float, ...]:
    """The places of the corners of a line that a change takes out or softens [m along it as it is]."""
    steps = {edit.step for edit in change.edits if edit.line == line.name and edit.op == "swap"}
    return tuple(part.at for part in line.parts if part.step in steps and not part.is_pipe)


def as_was(line: Line, pieces: Iterable[Interval], gone: Sequence[Interval]) -> Intervals:
    """Pipe of a line from which some is `gone`, as intervals along the line as it was [m].

    >>> from ..layout import layout_of
    >>> line = layout_of("lines: {a: {pipe: pvc 50, from: plug, route: [{up: 4 m}], to: plug}}").lines["a"]
    >>> as_was(line, [(0.5, 1.0), (1.0, 2.0)], [(1.0, 2.0)])
    ((0.5, 1.0), (2.0, 3.0))
    """
    marks = [part.at for part in line.parts] + [line.length] + [x for piece in gone for x in piece]

    def was(place: float) -> float:
        for low, high in gone:
            if place > low + CLOSE:
                place += high - low
        near = min(marks, key=lambda mark: abs(mark - place))
        return near if abs(near - place) < CLOSE else place

    return subtract([(was(low), was(high)) for low, high in pieces], gone)
