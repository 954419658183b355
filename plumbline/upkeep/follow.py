"""Film and deposit followed month by month at one rate, with the flows solved anew each month."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from ..errors import SolveError
from ..hydraulics.find import Settled, nearby, settle
from ..hydraulics.flows import Flows
from ..layout.model import Layout, Stretch
from .carried import run_speed
from .film import Film, Growth, film_limit, fouled_pipe, grown, growth, silted
from .fouled import Piece, fouled, inside, pieces_of
from .intervals import Intervals
from .shear import settles, speed

__all__ = ["Count", "Followed", "Progress", "Reach", "cleaned", "follow", "if_left_alone", "refit"]

Reach = Mapping[str, Intervals]
"""Pipe by line, as intervals [m along the line]."""

Progress = Callable[[int, int], None]
"""Called with how many solves are done, of how many."""


SAME_LEVEL = 1e-7
"""Levels are found so near [m] that how sure the flows are can be told from them."""


class Count:
    """How many solves are done, told to whoever watches."""

    def __init__(self, total: int, progress: Progress | None) -> None:
        self.done, self.total, self.progress = 0, total, progress

    def one(self) -> None:
        """One more is done."""
        self.done += 1
        self._tell()

    def all(self) -> None:
        """All are done."""
        if self.done < self.total:
            self.done = self.total
            self._tell()

    def _tell(self) -> None:
        if self.progress is not None:
            self.progress(self.done, self.total)


@dataclass(frozen=True, slots=True)
class Followed:
    """One rate: the flows of each month from 0, and what is on the walls after the last."""

    settled: tuple[Settled, ...]
    films: tuple[Film, ...]


def follow(
    layout: Layout,
    pieces: Sequence[Piece],
    rate: Growth,
    months: int,
    clean: Settled,
    count: Count,
    *,
    cleaning: Callable[[int, tuple[Film, ...]], tuple[Film, ...]] = lambda _, films: films,
) -> Followed:
    """Let a layout, cut into pieces, foul for some months from the flows in clean pipe on; each month's are those of the pipe as it is then.

    `count` is told after every solve. `cleaning` is called with each month's number and its films, of each piece, and gives what a cleaning then
    leaves of them.
    """
    stretches = {stretch.id: stretch for stretch in layout.stretches}
    films: tuple[Film, ...] = (Film(),) * len(pieces)
    settled = [clean]
    for month in range(1, months + 1):
        flows = settled[-1].flows
        grown_on = tuple(
            _month(layout, stretches[piece.stretch], piece, film, rate, flows)
            for piece, film in zip(pieces, films, strict=True)
        )
        films = cleaning(month, grown_on)
        # Air that slime let in may leave with it.
        near = settled[-1] if films == grown_on or settled[-1].vented == clean.vented else clean
        settled.append(refit(fouled(layout, pieces, films, rate), near))
        count.one()
    return Followed(tuple(settled), films)


def if_left_alone(layout: Layout, months: int) -> tuple[Flows, ...]:
    """The flows of months 0 to the last at the likely rate, if nothing is cleaned; none where there is no steady flow, clean or fouled."""
    try:
        clean = settle(layout, margins=False)
        done = follow(layout, pieces_of(layout, ()), growth(layout, "likely"), months, clean, Count(months, None))
    except SolveError:
        return ()
    return tuple(one.flows for one in done.settled)


def refit(layout: Layout, near: Settled) -> Settled:
    """Solve a layout with other films, from flows near by, and the whole way only where air stands elsewhere than it did."""
    try:
        return nearby(layout, near, layout, same_level=SAME_LEVEL)
    except SolveError:
        return settle(layout, near=near, margins=False, same_level=SAME_LEVEL)


def cleaned(pieces: Sequence[Piece], films: Sequence[Film], rod: Reach, flush: Reach) -> tuple[Film, ...]:
    """Clean what is reached: a rod takes film and deposit, a flush the deposit alone."""

    def left(piece: Piece, film: Film) -> Film:
        if inside(piece, rod):
            return Film()
        return replace(film, deposit=0.0) if inside(piece, flush) else film

    return tuple(left(piece, film) for piece, film in zip(pieces, films, strict=True))


def _month(layout: Layout, stretch: Stretch, piece: Piece, film: Film, rate: Growth, flows: Flows) -> Film:
    """A month more of film and deposit, at the speed that the month begins with."""
    at = flows.stretches[stretch.id]
    if at.flow == 0.0 or piece.stop <= piece.start:
        return film
    run = replace(piece.part, pipe=fouled_pipe(piece.part.pipe, film, rate))
    runs = run_speed(layout, stretch, run, flows) if at.gravity else speed(at.flow, run.pipe.bore)
    limit = film_limit(runs, piece.part.pipe.bore, rate, lit=piece.part.lit)
    slow = settles(runs, layout.limits) and not piece.steep
    return Film(grown(film.roughness, limit, 1.0, rate), silted(film.deposit, 1.0, rate) if slow else film.deposit)
