"""How fast pipe really fouls: where between the catalogue's slow and fast rates a system lies, from flows read some time after its last
cleaning."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from .. import catalogue
from ..catalogue.reading import YEAR
from ..errors import PlumblineError, SolveError
from ..hydraulics.find import Settled, settle
from ..hydraulics.monotone import interpolated
from ..hydraulics.network import FloatArray
from ..layout.model import Layout, Reading
from ..layout.rewrite import set_word
from ..upkeep.film import RATES, WORDS, Film, Growth, growth
from ..upkeep.follow import Count, follow
from ..upkeep.fouled import Piece, fouled, pieces_of
from .places import place_of, predicted, spread
from .weigh import chance_of_misfit, covariance

__all__ = ["Pace", "pace_of", "rate_at", "text_with_pace", "visit_of", "with_pace"]

MONTH = YEAR / 12.0
"""Seconds."""

FARTHEST = 1.5
"""Rates are looked for so far, where 0 is the likely rate, −1 the slow and 1 the fast one."""

TRIED = 9
"""Rates that the history of the pipe is followed at; in between it is interpolated."""

STEPS = 6
"""The history of each visit is followed in so many steps at the least, and never more than a month each."""

UNLIKELY = 0.01
"""Readings whose misfit comes less often than this, at the best rate, are not of fouling alone."""

_SURE = 1.6448536269514722
"""Standard deviations that hold nine tenths between them to either side. Slow and fast are taken to hold the rate nine times in ten, before anything is read."""


@dataclass(frozen=True)
class Pace:
    """Where a system's rate lies: `likely`, and `low` to `high`, nine times in ten, on a scale on which 0 is the likely rate of the
    catalogue, −1 the slow and 1 the fast one. `readings` are those weighed, with what clean pipe, `clean` (r,), and pipe fouled at the rate found,
    `found` (r,), would have them be [SI]; `fits` tells whether that explains them."""

    layout: Layout
    likely: float
    low: float
    high: float
    readings: tuple[Reading, ...]
    clean: tuple[float, ...]
    found: tuple[float, ...]
    fits: bool


def rate_at(layout: Layout, place: float) -> Growth:
    """Give a rate between the three of a layout: each number between its own three, by ratio where they are all above nothing.

    Parameters:
        layout: with its own numbers on top of the catalogue's.
        place: 0 is the likely rate, −1 the slow and 1 the fast one; beyond these it goes on.
    """
    three = [growth(layout, name) for name in RATES]

    def between(name: str) -> float:
        values = np.array([getattr(one, name) for one in three])
        ratio = bool((values > 0.0).all())
        slow, likely, fast = np.log(values) if ratio else values
        at = likely + place * ((fast - likely) if place > 0.0 else (likely - slow))
        return math.exp(at) if ratio else max(float(at), 0.0)

    rate = Growth(**{one.name: between(one.name) for one in fields(Growth)})
    return replace(rate, deposit_most=min(rate.deposit_most, 0.9))


def visit_of(layout: Layout) -> list[tuple[Reading, ...]]:
    """The layout's own readings as a visit, where they tell of its pace: something read, and since when pipe has fouled."""
    what = {one.what for one in layout.readings}
    return [layout.readings] if "cleaned" in what and what - {"cleaned", "opening"} else []


def pace_of(
    layout: Layout, visits: Sequence[Sequence[Reading]], *, tell: Callable[[int, int], None] | None = None
) -> Pace:
    """Find a system's own rate of fouling from the readings of one visit or more.

    Parameters:
        visits: of each what was read; its `cleaned` readings say how long before that which line was cleaned. A line that none speaks of is as
            long uncleaned as the one that is longest
        tell: called with how many solves are done, of how many

    Returns:
        the rate by Bayes' rule: what the three rates span holds it nine times in ten beforehand, and each reading is as sure as it is, with all
        numbers behind the flows the same in every visit

    Raises:
        PlumblineError: where nothing was read, no visit says when anything was cleaned, or the pipe has no steady flow at any rate
    """
    ages = [_ages(layout, visit) for visit in visits]
    read = [tuple(one for one in visit if one.what not in ("opening", "cleaned")) for visit in visits]
    if not any(read):
        raise PlumblineError(
            "There are no readings to learn from: a visit needs a flow, a depth, a head or a pump's power."
        )
    if not any(age > 0.0 for one in ages for age in one.values()):
        raise PlumblineError(
            "No visit says how long pipe has fouled: put '- {line: NAME, cleaned: 3 months}' among its readings, as long before the visit."
        )
    places = np.linspace(-FARTHEST, FARTHEST, TRIED)
    steps = [_steps(one) for one in ages]
    count = Count(TRIED * sum(steps), tell)
    history = _History(layout, settle(layout, margins=False), pieces_of(layout, ()), count)
    tried = [(place, history.seen(place, ages, read, steps)) for place in places.tolist()]
    count.all()
    known = [(place, *got) for place, got in tried if got is not None]
    if len(known) < 2:
        raise PlumblineError(
            "Fouled pipe has no steady flow at most of the rates tried, so that its rate cannot be told."
        )
    return _weighed(layout, history, known, [one for some in read for one in some])


def _weighed(
    layout: Layout,
    history: _History,
    known: Sequence[tuple[float, FloatArray, FloatArray]],
    readings: Sequence[Reading],
) -> Pace:
    at = np.linspace(known[0][0], known[-1][0], 301)
    values, moves = (
        interpolated(np.array([row[0] for row in known]), np.array([row[n] for row in known]), at) for n in (1, 2)
    )
    spreads = covariance(moves, np.array([one.sigma for one in readings]))
    lack = np.array([one.value for one in readings]) - values
    misfit = np.einsum("nr,nr->n", lack, np.linalg.solve(spreads, lack[:, :, None])[:, :, 0])
    weight = -0.5 * ((at * _SURE) ** 2 + misfit + np.linalg.slogdet(spreads)[1])
    whole = np.cumsum(np.exp(weight - weight.max()))
    low, likely, high = (float(at[int(np.searchsorted(whole / whole[-1], share))]) for share in (0.05, 0.5, 0.95))
    best = int(np.argmin(misfit))
    found = tuple(float(np.interp(likely, at, column)) for column in values.T)
    clean = tuple(history.clean_values(readings).tolist())
    fits = chance_of_misfit(float(misfit[best]), len(readings)) >= UNLIKELY
    return Pace(layout, likely, low, high, tuple(readings), clean, found, fits)


def _ages(layout: Layout, visit: Sequence[Reading]) -> dict[str, float]:
    """Months since each line was cleaned."""
    said = {one.line: one.value / MONTH for one in visit if one.what == "cleaned"}
    oldest = max(said.values(), default=0.0)
    return {name: said.get(name, oldest) for name in layout.lines}


def _steps(ages: Mapping[str, float]) -> int:
    oldest = max(ages.values(), default=0.0)
    return max(math.ceil(oldest), STEPS) if oldest > 0.0 else 0


@dataclass(frozen=True)
class _History:
    layout: Layout
    clean: Settled
    pieces: tuple[Piece, ...]
    count: Count

    def clean_values(self, readings: Sequence[Reading]) -> FloatArray:
        return predicted(
            self.layout, self.clean.flows, [place_of(one) for one in readings], self.layout, self.clean.flows
        )

    def seen(
        self, place: float, ages: Sequence[Mapping[str, float]], read: Sequence[Sequence[Reading]], steps: Sequence[int]
    ) -> tuple[FloatArray, FloatArray] | None:
        """What all visits would read at a rate, (r,), and how the numbers behind the flows move that, (r, p); None where there is no flow."""
        values, moves = [], []
        names = spread(self.layout, self.clean.flows, ()).names
        try:
            for one, some, of in zip(ages, read, steps, strict=True):
                layout, settled = self.visited(place, one, of)
                places = [place_of(reading) for reading in some]
                values.append(predicted(layout, settled.flows, places, self.layout, self.clean.flows))
                moves.append(spread(layout, settled.flows, places, names).moves)
        except SolveError:
            return None
        return np.concatenate(values), np.concatenate(moves)

    def visited(self, place: float, ages: Mapping[str, float], steps: int) -> tuple[Layout, Settled]:
        """The layout as a visit finds it: all pipe clean when the oldest was cleaned, each line again when it was."""
        if not steps:
            return self.layout, self.clean
        step = max(ages.values()) / steps
        whole = rate_at(self.layout, place)
        rate = replace(whole, months=whole.months / step, deposit=whole.deposit * step)
        fresh = {name: steps - round(age / step) for name, age in ages.items()}

        def cleaning(number: int, films: tuple[Film, ...]) -> tuple[Film, ...]:
            return tuple(
                Film() if fresh[piece.line] == number else film for piece, film in zip(self.pieces, films, strict=True)
            )

        done = follow(self.layout, self.pieces, rate, steps, self.clean, self.count, cleaning=cleaning)
        return fouled(self.layout, self.pieces, done.films, rate), done.settled[-1]


# ---------------------------------------------------------------------- what is learnt


def with_pace(pace: Pace) -> Layout:
    """The layout with the rates found in place of its own: slow, likely and fast are what the readings leave."""
    return replace(pace.layout, fouling=_numbers(pace))


def text_with_pace(pace: Pace) -> str:
    """The layout's text with the rates found under `fouling`, in place of what stands there.

    Raises:
        PlumblineError: where the text does not allow it.
    """

    def said(name: str, values: Sequence[float]) -> str:
        scale, unit = {"mm": (1e3, " mm"), "%": (100.0, " %")}.get(catalogue.fouling()[name].unit, (1.0, ""))
        return f"{name}: [{', '.join(f'{scale * value:.3g}{unit}' for value in values)}]"

    return set_word(pace.layout.text, "fouling", f"{{{', '.join(said(*item) for item in _numbers(pace).items())}}}")


def _numbers(pace: Pace) -> dict[str, tuple[float, float, float]]:
    low, likely, high = (rate_at(pace.layout, place) for place in (pace.low, pace.likely, pace.high))
    return {word: (getattr(low, name), getattr(likely, name), getattr(high, name)) for name, word in WORDS.items()}
