"""The whole diagnosis: from a layout and readings to suspects with their cheapest cures, and to what to read next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..catalogue import causes
from ..catalogue import readings as reading_errors
from ..errors import PlumblineError
from ..hydraulics.find import settle
from ..hydraulics.network import FloatArray
from ..hydraulics.risers import power_of
from ..hydraulics.valve_service import with_openings
from ..layout.model import Layout, Reading
from ..layout.readings import limit_to_sigma
from ..units import show
from ..upkeep import cures as openings
from ..upkeep.intervals import subtract, union
from ..upkeep.reach import Push, pushes, stopping_kinds
from ..upkeep.track import build_track
from ..upkeep.words import access_name
from .answers import Answers, CauseSolver
from .causes import Cause, causes_of
from .places import Place, open_places, openings_of, place_of
from .weigh import NextReading, Seen, Weighed, chance_of, covariance, further, weigh, weighed

__all__ = ["Cure", "Cures", "Diagnosis", "Suspect", "ask", "diagnose", "told"]

SLACK = 0.02
"""Pipe that a rod leaves and that counts as reached [m]."""


@dataclass(frozen=True, slots=True)
class Cure:
    """What to do, in words, and the access to put a rod in at, None where there is none to put in."""

    text: str
    access: str | None = None


class Cures:
    """Finds cures in one layout; what the rods reach is worked out once."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._pushes: tuple[Push, ...] | None = None
        self._openings: openings.Cures | None = None

    def of(self, cause: Cause) -> Cure:
        """The cure of a cause."""
        text = causes()[cause.kind].cure
        if cause.kind not in ("narrowed", "plug") or cause.line is None:
            return Cure(text)
        return self.rodded(text, cause, cause.line)

    def rodded(self, text: str, cause: Cause, line: str) -> Cure:
        """The rod that reaches all of a place, by the access that takes the least length of it."""
        # A plug is no longer than a point: a rod has to come up to it.
        gap = (cause.start - SLACK, cause.stop + SLACK) if cause.kind == "plug" else (cause.start, cause.stop)
        able = [push for push in self.pushes if not subtract([gap], union(push.covers.get(line, ())), slack=SLACK)]
        if not able:
            return Cure(f"{text}: {self.opening(line, gap)}")
        push = min(able, key=lambda one: self.length(one, line))
        name = next(access_name(self.layout, one) for one in self.layout.accesses if one.id == push.access)
        return Cure(
            f"{text}, with a {push.tool} put in at {name}, {show(self.length(push, line), 'length', self.layout.units)} deep",
            push.access,
        )

    @property
    def pushes(self) -> tuple[Push, ...]:
        """Every rod at every access."""
        if self._pushes is None:
            self._pushes = pushes(build_track(self.layout, stopping_kinds()))
        return self._pushes

    def length(self, push: Push, line: str) -> float:
        """How far a rod goes in to get through a line's pipe [m]."""
        return max((span.need for span in push.spans if span.line == line), default=0.0)

    def opening(self, line: str, gap: tuple[float, float]) -> str:
        """No rod at hand gets there from one opening: several, or what would let it."""
        reached = union(piece for push in self.pushes for piece in push.covers.get(line, ()))
        if not subtract([gap], reached, slack=SLACK):
            names = {one.id: access_name(self.layout, one) for one in self.layout.accesses}
            some = dict.fromkeys(names[push.access] for push in self.pushes if push.covers.get(line))
            return f"from more than one opening: {', '.join(some)}"
        if self._openings is None:
            self._openings = openings.Cures(build_track(self.layout, stopping_kinds()))
        return self._openings.cure(line, gap, ()).text


FITS = 0.05
"""The file as written explains the readings where a misfit as large comes by chance at least so often."""

EXPLAINED = 0.001
"""Nothing explains them where the best of all causes has a misfit that comes less often than this."""

SAME = 2.0
"""Causes whose readings are closer than this, in squared standard deviations, cannot be told apart by them: twice the logarithm of their Bayes
factor is as much on the mean, and less than 2 is "not worth more than a bare mention" (Kass and Raftery, Journal of the American Statistical
Association 90, 1995, 773; from memory)."""

TOLD = 0.005
"""Causes less likely than this are not told one by one."""


@dataclass(frozen=True)
class Suspect:
    """A cause with its `chance`; its likeliest `amount`, and the range `low` to `high` that holds it nine times in ten; what it would have
    each reading be, `values` (r,) [SI]. `group` is the number, from 1, of those that the readings cannot tell from it, and 0 where they cannot
    tell it from the file as written."""

    cause: Cause
    chance: float
    amount: float
    low: float
    high: float
    values: tuple[float, ...]
    group: int
    cure: Cure


@dataclass(frozen=True)
class Diagnosis:
    """What the readings say. `layout` is as found, with its valves as they were seen; `readings` those that are weighed, and `written`
    (r,) what the file as written would have them be, with `sigma` (r,) of the readings and of all behind them together. `fits` tells
    whether the file explains them, `explained` whether anything does; `against` are readings without which something would.
    `chance` is that of the file as written; `suspects` the likeliest first."""

    layout: Layout
    readings: tuple[Reading, ...]
    written: tuple[float, ...]
    sigma: tuple[float, ...]
    fits: bool
    explained: bool
    against: tuple[Reading, ...]
    chance: float
    suspects: tuple[Suspect, ...]
    next: tuple[NextReading, ...]
    leading: tuple[Cause, ...]

    @property
    def silent(self) -> tuple[Suspect, ...]:
        """The suspects that the readings cannot tell from the file as written."""
        return tuple(one for one in self.suspects if one.group == 0)

    @property
    def nothing_shows(self) -> float:
        """The chance of the file as written and of all that the readings cannot tell from it."""
        return self.chance + sum(one.chance for one in self.silent)

    @property
    def groups(self) -> dict[int, list[Suspect]]:
        """The other suspects by group, the likeliest group first."""
        found: dict[int, list[Suspect]] = {}
        for one in self.suspects:
            if one.group:
                found.setdefault(one.group, []).append(one)
        return dict(sorted(found.items(), key=lambda item: -sum(one.chance for one in item[1])))


def diagnose(
    layout: Layout, readings: Sequence[Reading] | None = None, *, tell: Callable[[int, int], None] | None = None
) -> Diagnosis:
    """Weigh what may have happened to a layout against what was read on a visit.

    Parameters:
        readings: of a visit; the layout's own where left out
        tell: called with how many causes are solved, and of how many

    Raises:
        PlumblineError: where nothing was read that can be weighed
        SolveError: where the layout as written has no steady flow

    One thing at a time is taken to have happened. Air is taken to stand where it does in the layout as written.
    """
    said = tuple(layout.readings if readings is None else readings)
    read = tuple(one for one in said if one.what not in ("opening", "cleaned"))
    if not read:
        raise PlumblineError(
            "There are no readings to weigh: put a 'readings' block into the file, or into a file for --readings."
        )
    found_open = {(one.line, one.step): one.value for one in said if one.what == "opening"}
    layout = with_openings(layout, found_open) if found_open else layout
    solver, answers = ask(layout, read, said, tell)
    return told(solver, answers, read)


def ask(
    layout: Layout, read: Sequence[Reading], said: Sequence[Reading], tell: Callable[[int, int], None] | None = None
) -> tuple[CauseSolver, list[Answers]]:
    """Solve every cause of a layout for the places of readings, whatever was read there, and for those that might be read next."""
    near = settle(layout, margins=False)
    places = _places(read, open_places(layout, near.flows))
    extra = np.array([_beside(layout, place) for place in places])
    own = np.array([*(one.sigma for one in read), *[0.0] * (len(places) - len(read))])
    solver = CauseSolver(layout, near, places, len(read), np.hypot(own, extra), tell)
    for one, value in zip(read, solver.values, strict=False):
        if not np.isfinite(value):
            raise PlumblineError(
                f"Nothing fixes the head at '{one.where}' as the file is written, so that the reading there cannot be weighed."
            )
    return solver, solver.all(causes_of(layout, near.flows, said))


def told(solver: CauseSolver, answers: Sequence[Answers], read: tuple[Reading, ...]) -> Diagnosis:
    """Weigh solved causes against readings at their places."""
    extra = np.array([_beside(solver.layout, place) for place in solver.places])
    own = np.array([one.sigma for one in read])
    seen = Seen(np.array([one.value for one in read]), np.hypot(own, extra[: len(read)]))
    found = weigh(solver, answers, seen)
    more = further(found, seen, solver.places, extra, range(len(read), len(solver.places)), openings_of(solver.layout))
    return _told(solver, read, seen, found, more)


def _places(read: Sequence[Reading], others: Sequence[Place]) -> tuple[Place, ...]:
    """The places of the readings, and then those that might be read too."""
    mine = [place_of(one) for one in read]
    known = {(one.what, one.line, one.step, one.vessel, one.pump) for one in mine}
    return (*mine, *(one for one in others if (one.what, one.line, one.step, one.vessel, one.pump) not in known))


def _beside(layout: Layout, place: Place) -> float:
    """What has a reading out besides its own error and the numbers behind the flows [SI]."""
    if place.what != "power":
        return 0.0
    return limit_to_sigma(reading_errors()["stated power"].value * (power_of(layout, layout.pumps[place.pump]) or 0.0))


def _told(
    solver: CauseSolver, read: tuple[Reading, ...], seen: Seen, found: list[Weighed], more: tuple[NextReading, ...]
) -> Diagnosis:
    written = next(one for one in found if one.answers.cause.kind == "as written")
    best = max(chance_of(one, len(read)) for one in found)
    cures = Cures(solver.layout)
    suspects = _suspects([written, *(one for one in found if one is not written and one.chance >= TOLD)], seen, cures)
    return Diagnosis(
        layout=solver.layout,
        readings=read,
        written=tuple(solver.values[: len(read)].tolist()),
        sigma=tuple(solver.still[: len(read)].tolist()),
        fits=chance_of(written, len(read)) >= FITS,
        explained=best >= EXPLAINED,
        against=() if best >= EXPLAINED else _against(found, read, seen),
        chance=written.chance,
        suspects=suspects,
        next=more,
        leading=tuple(one.answers.cause for one in found),
    )


def _against(found: Sequence[Weighed], read: Sequence[Reading], seen: Seen) -> tuple[Reading, ...]:
    """The readings without which something would explain the others."""

    def best(number: int) -> float:
        return max(chance_of(weighed(one.answers, seen.without(number)), len(read) - 1) for one in found)

    return tuple(one for number, one in enumerate(read) if len(read) > 1 and best(number) >= FITS)


def _suspects(found: Sequence[Weighed], seen: Seen, cures: Cures) -> tuple[Suspect, ...]:
    """The likeliest first, each with the group of those that make the same readings; the first of all is the file as written."""
    rows = range(len(seen.values))
    means = [one.answers.value(np.array([one.best]), rows)[0] for one in found]
    groups: list[int] = []
    leaders: list[int] = []
    for number, mean in enumerate(means):
        alike = [group for group, leader in enumerate(leaders) if _same(found[leader], means[leader], mean, seen)]
        leaders += [] if alike else [number]
        groups.append(alike[0] if alike else len(leaders) - 1)
    told = list(zip(found, means, groups, strict=True))[1:]
    return tuple(
        Suspect(
            one.answers.cause,
            one.chance,
            one.answers.cause.amount(one.best),
            *_range(one),
            tuple(mean.tolist()),
            group,
            cures.of(one.answers.cause),
        )
        for one, mean, group in told
    )


def _same(leader: Weighed, mean: FloatArray, other: FloatArray, seen: Seen) -> bool:
    moves = leader.answers.move(np.array([leader.best]), range(len(seen.values)))[0]
    apart = mean - other
    return float(apart @ np.linalg.solve(covariance(moves, seen.sigma), apart)) < SAME


def _range(one: Weighed) -> tuple[float, float]:
    """The amounts that hold nine tenths of the weight between them."""
    whole = np.cumsum(one.weights)
    ends = [
        one.answers.cause.amount(float(one.at[min(int(np.searchsorted(whole, share)), len(whole) - 1)]))
        for share in (0.05, 0.95)
    ]
    return min(ends), max(ends)
