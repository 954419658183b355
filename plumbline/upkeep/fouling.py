"""Fouling with time: what each vessel gets month by month as film and deposit grow, which stretch is to blame for what it
loses, and what cleaning each access's reach would win back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from ..findings import as_tuple
from ..hydraulics.find import settle
from ..hydraulics.flows import Flows
from ..hydraulics.together import side_by_side
from ..layout.model import Layout
from .film import RATES, Film, Growth, fouled_pipe, growth
from .flush import flushed
from .follow import Count, Followed, Progress, Reach, cleaned, follow, refit
from .fouled import Piece, fouled, inside, pieces_of
from .intervals import together
from .reach import Push, pushes, stopping_kinds
from .spills import spills
from .track import build_track

__all__ = ["MOST_MONTHS", "Blame", "Cleaning", "Course", "Fouling", "StretchFilm", "fouling"]

MOST_MONTHS = 600
"""Fifty years: more than pipe lasts."""

TOLD = 1e-9
"""Gains under this [m³/s], six hundred-thousandths of a litre a minute, are rounding."""


@dataclass(frozen=True, slots=True)
class Course:
    """One vessel, month by month from 0 (clean). `flows` what it receives [m³/s] by rate; `low` and `high` the least and most
    over the rates; `wanted` [m³/s] or None. `short_after` is the first month, by rate, in which it gets less than it wants, and
    `overtops_after` the first in which its drains no longer carry what it receives; None where that does not come."""

    vessel: str
    wanted: float | None
    flows: Mapping[str, tuple[float, ...]]
    low: tuple[float, ...]
    high: tuple[float, ...]
    short_after: Mapping[str, int | None]
    overtops_after: Mapping[str, int | None]

    @property
    def likely(self) -> tuple[float, ...]:
        """What it receives at the likely rate [m³/s]."""
        return self.flows["likely"]


@dataclass(frozen=True, slots=True)
class StretchFilm:
    """What is in a stretch after the last month at the likely rate, as means over its length: the film's `roughness` and
    `thickness` [m], the share of the section that a `deposit` fills, and the `bore` left, over the clean one."""

    stretch: str
    line: str
    roughness: float
    thickness: float
    deposit: float
    bore: float


@dataclass(frozen=True, slots=True)
class Blame:
    """What putting one stretch back clean, alone, gives each vessel after the last month at the likely rate: `gains` [m³/s] by
    vessel, below nothing where water goes elsewhere. `shares` are the gains over all gains above nothing."""

    stretch: str
    line: str
    gains: Mapping[str, float]
    shares: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Cleaning:
    """What cleaning the reach of one access (by id; "" for all of them together) gives each vessel after the last month at the
    likely rate, `gains` [m³/s]; `rodded` and `flushed` [m] of pipe. A rod takes film and deposit, a flush the deposit alone."""

    access: str
    rodded: float
    flushed: float
    gains: Mapping[str, float]


@dataclass(frozen=True)
class Fouling:
    """How a layout fouls. `months` are 0 to the last; `every` the months between cleanings of all that can be reached, None
    where nothing is cleaned. `courses` by vessel, `films` and `blames` one for each stretch, blames in the order of the layout; `cleanings` one
    for each access that reaches anything, and `all_cleaned` all of them together. `renewed` is what each vessel would get if all pipe were
    clean again."""

    layout: Layout
    months: tuple[int, ...]
    every: int | None
    courses: Mapping[str, Course]
    films: tuple[StretchFilm, ...]
    blames: tuple[Blame, ...]
    cleanings: tuple[Cleaning, ...]
    all_cleaned: Cleaning
    renewed: Mapping[str, float]

    @property
    def first(self) -> Course | None:
        """The vessel that falls under what it wants first, though it has enough when clean; None where none does."""
        falling = [one for one in self.courses.values() if any(month for month in one.short_after.values())]
        never = len(self.months)
        return min(
            falling,
            key=lambda one: [one.short_after[rate] or never for rate in ("likely", "fast", "slow")],
            default=None,
        )

    def worst(self, vessel: str) -> Blame | None:
        """The stretch whose film costs a vessel most; None where none costs it anything."""
        worst = max(self.blames, key=lambda one: one.gains[vessel], default=None)
        return worst if worst is not None and worst.shares[vessel] > 0.0 else None

    def best(self, vessel: str) -> Cleaning | None:
        """The access whose reach, cleaned, wins a vessel most back; None where none wins anything."""
        best = max(self.cleanings, key=lambda one: one.gains[vessel], default=None)
        return best if best is not None and best.gains[vessel] > TOLD else None


def fouling(
    layout: Layout,
    flushes: Mapping[str, Flows],
    *,
    months: int = 24,
    every: int | None = None,
    progress: Progress | None = None,
) -> Fouling:
    """Follow film and deposit month by month at three rates, with the flows solved anew each month.

    Each month's flows are those of the pipe as it is; with them film and deposit grow for a month.

    Parameters:
        flushes: for each access that can be opened, the flows with it open, in clean pipe
        months: how many, 0 to 600
        every: months between cleanings of all that rods and flushes reach; None cleans nothing
        progress: called after every solve with (done, of how many)

    Raises:
        ValueError: if the months are none that can be followed
        SolveError: if the layout has no steady flow, clean or fouled
    """
    if not 0 <= months <= MOST_MONTHS or (every is not None and every < 1):
        raise ValueError(f"months are 0 to {MOST_MONTHS}, and 1 or more between cleanings")
    clean = settle(layout, margins=False)
    spilled = spills(layout, clean.flows)
    rodded = _by_rod(pushes(build_track(layout, stopping_kinds(), spilled)))
    able = {name: flows for name, flows in flushes.items() if name not in spilled or spilled[name].flushes}
    scoured = flushed(layout, clean.flows, able)
    # A drain valve is no access for a rod, but opening it may scour.
    places = dict.fromkeys([*(access.id for access in layout.accesses), *scoured])
    useful = [one for one in places if rodded.get(one) or any(scoured.get(one, {}).values())]
    pieces = pieces_of(layout, (*rodded.values(), *scoured.values()))
    rod, flush = together(rodded.values()), together(scoured.values())
    # Not every stretch fouls; the bar then ends a little early, and is filled up.
    count = Count(len(RATES) * months + len(layout.stretches) + len(useful) + 1, progress)

    def cleaning_by_rote(month: int, films: tuple[Film, ...]) -> tuple[Film, ...]:
        return films if every is None or month % every else cleaned(pieces, films, rod, flush)

    def followed(name: str) -> Followed:
        return follow(layout, pieces, growth(layout, name), months, clean, count, cleaning=cleaning_by_rote)

    runs = dict(zip(RATES, side_by_side([partial(followed, name) for name in RATES]), strict=True))
    rate, likely = growth(layout, "likely"), runs["likely"]
    films, last = likely.films, likely.settled[-1]

    # Air that slime let in may leave with it.
    near = last if last.vented == clean.vented else clean

    def gains(new: Sequence[Film]) -> dict[str, float]:
        now = refit(fouled(layout, pieces, new, rate), near).flows
        count.one()
        return {name: got.inflow - last.flows.vessels[name].inflow for name, got in now.vessels.items()}

    def cleaning(access: str, rod: Reach, flush: Reach) -> Cleaning:
        by_rod, by_flush = (sum(p.stop - p.start for p in pieces if inside(p, reach)) for reach in (rod, flush))
        return Cleaning(access, by_rod, by_flush, gains(cleaned(pieces, films, rod, flush)))

    def renewed(stretch: str) -> dict[str, float]:
        return gains([Film() if p.stretch == stretch else f for p, f in zip(pieces, films, strict=True)])

    fouled_now = [*dict.fromkeys(p.stretch for p, film in zip(pieces, films, strict=True) if film != Film())]
    won = dict(zip(fouled_now, side_by_side([partial(renewed, one) for one in fouled_now]), strict=True))
    nothing = dict.fromkeys(layout.vessels, 0.0)
    back = {stretch.id: won.get(stretch.id, nothing) for stretch in layout.stretches}
    accesses = [("", rod, flush), *((one, rodded.get(one, {}), scoured.get(one, {})) for one in useful)]
    all_cleaned, *cleanings = side_by_side([partial(cleaning, *one) for one in accesses])
    result = Fouling(
        layout=layout,
        months=tuple(range(months + 1)),
        every=every,
        courses={name: _course(layout, name, runs) for name in layout.vessels},
        films=_films(layout, pieces, films, rate),
        blames=_blames(layout, back),
        cleanings=tuple(cleanings),
        all_cleaned=all_cleaned,
        renewed={name: got.inflow for name, got in clean.flows.vessels.items()},
    )
    count.all()
    return result


def _by_rod(done: Iterable[Push]) -> dict[str, Reach]:
    """What the rods at hand reach from each access."""
    by_access: dict[str, list[Reach]] = {}
    for push in done:
        by_access.setdefault(push.access, []).append(push.covers)
    return {access: together(covers) for access, covers in by_access.items()}


def _course(layout: Layout, name: str, runs: Mapping[str, Followed]) -> Course:
    vessel = layout.vessels[name]
    flows = {rate: tuple(one.flows.vessels[name].inflow for one in run.settled) for rate, run in runs.items()}
    wanted, rim = vessel.wants or None, None if vessel.rim is None else vessel.base + vessel.rim
    by_month = list(zip(*flows.values(), strict=True))

    def over(run: Followed) -> int | None:
        levels = [one.flows.vessels[name].level for one in run.settled]
        return next(
            (m for m, level in enumerate(levels) if level is not None and rim is not None and level > rim), None
        )

    def short(got: Sequence[float]) -> int | None:
        return None if wanted is None else next((m for m, flow in enumerate(got) if flow < wanted * (1.0 - 1e-6)), None)

    return Course(
        vessel=name,
        wanted=wanted,
        flows=flows,
        low=tuple(min(got) for got in by_month),
        high=tuple(max(got) for got in by_month),
        short_after={rate: short(got) for rate, got in flows.items()},
        overtops_after={rate: over(run) for rate, run in runs.items()},
    )


@as_tuple
def _films(layout: Layout, pieces: Sequence[Piece], films: Sequence[Film], rate: Growth) -> Iterator[StretchFilm]:
    for stretch in layout.stretches:
        mine = [(p, f, p.stop - p.start) for p, f in zip(pieces, films, strict=True) if p.stretch == stretch.id]
        total = sum(size for _, _, size in mine)
        if total <= 0.0:
            continue
        rough = sum(film.roughness * size for _, film, size in mine) / total
        settled = sum(film.deposit * size for _, film, size in mine) / total
        bore = (
            sum(fouled_pipe(p.part.pipe, film, rate).bore / p.part.pipe.bore * size for p, film, size in mine) / total
        )
        yield StretchFilm(stretch.id, stretch.line, rough, rate.thickness * rough, settled, bore)


def _blames(layout: Layout, back: Mapping[str, Mapping[str, float]]) -> tuple[Blame, ...]:
    lines = {stretch.id: stretch.line for stretch in layout.stretches}
    total = {name: sum(gain for gains in back.values() if (gain := gains[name]) > TOLD) for name in layout.vessels}

    def share(gain: float, vessel: str) -> float:
        return gain / total[vessel] if gain > TOLD else 0.0

    return tuple(
        Blame(stretch, lines[stretch], gains, {vessel: share(gain, vessel) for vessel, gain in gains.items()})
        for stretch, gains in back.items()
    )
