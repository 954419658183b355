"""The least work that keeps the pipe clean: which access, which rod or flush, in which order, and how often.

Pipe is cut at every place where some job begins or ends. Each job, a rod at an access or a flush, cleans some of the pieces; jobs at
one access share the trouble of opening it. The set of jobs that cleans all that can be cleaned in the least time
is a set cover with fixed charges, solved exactly as a mixed-integer program (HiGHS, by scipy). First for the pipe
that wants cleaning often, then, with those jobs given, for the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

from ..catalogue import routine_times
from ..hydraulics.flows import Flows
from ..layout.model import Layout
from .cover import least_jobs
from .downstream import down_the_flow
from .intervals import Intervals, by_line, clip, length, subtract, together
from .reach import Push

__all__ = ["Job", "Routine", "Visit", "WashJob", "plan_routine"]

SAME = 1e-6
"""Pipe shorter than this [m] is rounding."""

Piece = tuple[str, float, float]
"""Pipe of one line from one place to another [m along the line]."""


_OPENS = {"cap": "open cap", "union": "open union", "hose end": "open hose", "standpipe": "pull standpipe"}
"""What opening a sort of access takes, by its row of the catalogue."""


@dataclass(frozen=True, slots=True)
class WashJob:
    """A flush that could be one of the jobs: the ids of what is `opened`, and how the user calls them, `name`; what it
    `scours` [m along the line] by line, its `seconds` and its `water` [m³]. The first of `opened` is at (`line`, `at`)."""

    opened: tuple[str, ...]
    name: str
    line: str
    at: float
    scours: Mapping[str, Intervals]
    seconds: float
    water: float


@dataclass(frozen=True, slots=True)
class Job:
    """One job: with the rod `tool` pushed in for `rod_m` [m] at one access, or a cord of that length pulled through between
    two, or a flush, named by its `tool`, that takes `water` [m³]. `places` are the ids of what stands open for it; `cleans` is the pipe that no earlier job of the visit
    cleans [m along the line]; `minutes` it takes, the opening of what no earlier job has opened included;
    `drained` that it wants the other preparation of its
    places (see `Spill`)."""

    kind: Literal["rod", "flush"]
    places: tuple[str, ...]
    tool: str
    rod_m: float
    water: float
    cleans: Mapping[str, Intervals]
    minutes: float
    drained: bool = False

    @property
    def length(self) -> float:
        """Pipe cleaned [m]."""
        return sum(length(pieces) for pieces in self.cleans.values())


@dataclass(frozen=True, slots=True)
class Visit:
    """The jobs of one round in their order, `every` so many months."""

    every: float
    jobs: tuple[Job, ...]

    @property
    def minutes(self) -> float:
        """All of it [min]."""
        return sum(job.minutes for job in self.jobs)

    @property
    def water(self) -> float:
        """Water lost in flushes [m³]."""
        return sum(job.water for job in self.jobs)


@dataclass(frozen=True, slots=True)
class Routine:
    """The rounds, the more frequent first; the later one holds the earlier one's jobs. `cleaned` is the share of all pipe
    length that the last cleans, `left` the pipe that it does not clean; `proven` whether no shorter round exists."""

    visits: tuple[Visit, ...]
    cleaned: float
    left: Mapping[str, Intervals]
    proven: bool


@dataclass(frozen=True, slots=True)
class _Job:
    """A job that may be done. `places` are what has to be opened for it; `pieces` what it cleans and the rod it
    takes, those `beyond` only with them drained."""

    kind: Literal["rod", "flush"]
    places: tuple[str, ...]
    tool: str
    at: tuple[str, float]
    pieces: Mapping[Piece, float]
    minutes: float
    water: float
    beyond: frozenset[Piece] = frozenset()


def plan_routine(
    layout: Layout,
    flows: Flows,
    pushes: Sequence[Push],
    washes: Sequence[WashJob],
    often: Mapping[str, Intervals],
    *,
    share: float = 1.0,
    first: Mapping[str, Intervals] | None = None,
) -> Routine:
    """Plan the rounds that keep a layout clean with the least work.

    Parameters
    ----------
    often : pipe that wants cleaning often [m along the line], by line; all of it that can be is cleaned in every round
    share : of the length that can be cleaned, what the longest round has to clean at least, 0 to 1
    first : pipe [m along the line], by line, whose accesses come first in each round

    Raises
    ------
    ValueError
        unless the share is above 0 and at most 1

    Validity: times are common practice; each rod is counted as pushed in as far as it has to go for what it is needed for.
    """
    if not 0.0 < share <= 1.0:
        raise ValueError("the share of pipe to clean lies above 0 and is at most 1")
    times = {name: row.value for name, row in routine_times().items()}
    pieces = _pieces(layout, pushes, washes, often)
    jobs = _jobs(layout, pushes, washes, pieces, times)
    cleanable = {piece for job in jobs for piece in job.pieces}
    wanted = [piece for piece in pieces if piece in cleanable and _inside(piece, often)]
    order = down_the_flow(layout, flows)
    kinds = {access.id: access.kind for access in layout.accesses}
    places = dict.fromkeys(place for job in jobs for place in job.places)
    opening = {place: times[_OPENS.get(kinds.get(place, ""), "open end")] for place in places}
    pulled = frozenset(place for place, kind in kinds.items() if kind == "standpipe")

    def rank(job: _Job) -> tuple[Any, ...]:
        """Flushes last, before that what is at pipe that comes `first`, and else down the flow. Where a standpipe is pulled its vessel runs
        out at once, so that this flush comes before any rod."""
        line, at = job.at
        late = not any(low - SAME <= at <= high + SAME for low, high in (first or {}).get(line, ()))
        washes_last = job.kind == "flush" and pulled.isdisjoint(job.places)
        return washes_last, late, order.at(line, at), job.places, job.kind, job.tool

    visits: list[Visit] = []
    chosen: list[int] = []
    proven = True
    for every, needed, part in (
        (times["often"], wanted, 1.0),
        (times["seldom"], [piece for piece in pieces if piece in cleanable], share),
    ):
        if not needed:
            continue
        number = {piece: n for n, piece in enumerate(needed)}
        chosen, sure = least_jobs(
            [job.minutes for job in jobs],
            [{number[piece] for piece in job.pieces if piece in number} for job in jobs],
            [job.places for job in jobs],
            opening,
            [high - low for _, low, high in needed],
            share=part,
            given=chosen,
        )
        proven = proven and sure
        visit = Visit(every, tuple(_in_order(sorted((jobs[n] for n in chosen), key=rank), needed, opening, times)))
        if not visits or visit.jobs != visits[-1].jobs:  # the same jobs need not be told twice
            visits.append(visit)
    done = together(job.cleans for job in (visits[-1].jobs if visits else ()))
    left = {name: subtract([(0.0, line.length)], done.get(name, ()), slack=SAME) for name, line in layout.lines.items()}
    total = sum(line.length for line in layout.lines.values())
    cleaned = sum(length(found) for found in done.values()) / total if total > 0.0 else 1.0
    return Routine(tuple(visits), min(cleaned, 1.0), {line: found for line, found in left.items() if found}, proven)


def _pieces(
    layout: Layout, pushes: Sequence[Push], washes: Sequence[WashJob], often: Mapping[str, Intervals]
) -> list[Piece]:
    """All pipe, cut wherever some job begins or ends."""
    cuts: dict[str, set[float]] = {name: {0.0, line.length} for name, line in layout.lines.items()}
    for push in pushes:
        for span in push.spans:
            cuts[span.line] |= {span.start, span.stop}
    for pipe in (*(push.beyond for push in pushes), *(wash.scours for wash in washes), often):
        for name, found in pipe.items():
            cuts[name] |= {end for interval in found for end in interval}
    out = []
    for name, places in cuts.items():
        rising = sorted(place for place in places if 0.0 <= place <= layout.lines[name].length)
        out += [(name, low, high) for low, high in pairwise(rising) if high - low > SAME]
    return out


def _inside(piece: Piece, pipe: Mapping[str, Intervals]) -> bool:
    name, low, high = piece
    return length(clip(pipe.get(name, ()), low, high)) > 0.5 * (high - low)


def _jobs(
    layout: Layout,
    pushes: Sequence[Push],
    washes: Sequence[WashJob],
    pieces: Sequence[Piece],
    times: Mapping[str, float],
) -> list[_Job]:
    """Every job that cleans something. A rod is as many jobs as there are lengths to push it in for, so that no more
    rod is counted than is needed."""
    accesses = {access.id: access for access in layout.accesses}
    of_line: dict[str, list[Piece]] = {}
    for piece in pieces:
        of_line.setdefault(piece[0], []).append(piece)
    jobs = []
    for push in pushes:
        needs: dict[Piece, float] = {}
        for span in push.spans:
            for piece in of_line[span.line]:
                part = span.clip(piece[1], piece[2])
                if part is not None and part.stop - part.start > piece[2] - piece[1] - SAME:
                    needs[piece] = min(needs.get(piece, float("inf")), part.need)
        access = accesses[push.access]
        places: tuple[str, ...] = (push.access,)
        if push.cord is not None and push.to is not None:
            # A cord goes all the way whatever is wanted of it, and out at another place.
            needs, places = dict.fromkeys(needs, push.cord), (push.access, push.to)
        for rod_m in sorted(set(needs.values())):
            minutes = _rod_minutes(rod_m, times)
            within = {piece: need for piece, need in needs.items() if need <= rod_m}
            beyond = frozenset(piece for piece in within if _inside(piece, push.beyond))
            jobs.append(_Job("rod", places, push.tool, (access.line, access.at), within, minutes, 0.0, beyond))
    for wash in washes:
        within = {piece: 0.0 for piece in pieces if _inside(piece, wash.scours)}
        if within:
            minutes = times["flush"] + wash.seconds / 60.0
            jobs.append(_Job("flush", wash.opened, wash.name, (wash.line, wash.at), within, minutes, wash.water))
    return jobs


def _in_order(
    ranked: Sequence[_Job], needed: Sequence[Piece], opening: Mapping[str, float], times: Mapping[str, float]
) -> Iterator[Job]:
    """The jobs of a visit, each with what it is there for: the pipe that no earlier one cleans."""
    left, opened = set(needed), set[str]()
    parts: dict[tuple[tuple[str, ...], str], tuple[_Job, dict[Piece, float]]] = {}
    for job in ranked:
        mine = left & set(job.pieces)
        left -= mine
        if mine:
            # One rod put in twice at one place, once for each of two rounds, goes in once.
            _, needs = parts.setdefault((job.places, job.tool), (job, {}))
            needs.update({piece: job.pieces[piece] for piece in mine})
    for job, needs in parts.values():
        rod = max(needs.values()) if job.kind == "rod" else 0.0
        minutes = _rod_minutes(rod, times) if job.kind == "rod" else job.minutes
        minutes += sum(opening[place] for place in job.places if place not in opened)
        cleans = by_line(((name, (low, high)) for name, low, high in needs), sorted({name for name, _, _ in needs}))
        drained = not job.beyond.isdisjoint(needs)
        yield Job(job.kind, job.places, job.tool, rod, job.water, cleans, minutes, drained)
        opened |= set(job.places)


def _rod_minutes(metres: float, times: Mapping[str, float]) -> float:
    """How long a rod takes that goes in so far [min]."""
    return times["rod"] + times["rod a metre"] * metres
