"""All mishaps of a layout: every single part gone wrong, one at a time, followed through time and put in the order of harm."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import partial

from ..day import Course
from ..errors import PlumblineError, SolveError
from ..husbandry.wish import Between
from ..hydraulics.together import side_by_side
from ..layout.model import Layout
from .fault import Fault, faults_of, working
from .harm import FishAir, Harm, fish_air, harms_of, lasts, lost, table
from .jets import JETS, jet_faults
from .running import Running, nothing_wrong, run

__all__ = ["HOURS", "Mishap", "Mishaps", "find_mishaps"]

HOURS = 12.0
"""For how long a mishap is followed: a night [h]."""

FISH = ("no water to the fish", "fish tank below half")


@dataclass(frozen=True)
class Mishap:
    """A fault and what comes of it: its `harms`, the first one first, and `lost` [m³], the water beside the vessels. `air` [s] is how long
    the fish have oxygen, from when no water comes to them, or from when the power is away; None where that is not in question. `doubt` says what cannot be told."""

    fault: Fault
    harms: tuple[Harm, ...]
    lost: float
    air: Between | None = None
    doubt: str = ""

    @property
    def first(self) -> Harm | None:
        """The first harm."""
        return self.harms[0] if self.harms else None

    @property
    def likely(self) -> str:
        """How often it happens: often, sometimes or seldom."""
        return str(table()["kinds"][self.fault.kind]["likely"])

    @property
    def weight(self) -> float:
        """Its harm by its likelihood."""
        return float(table()["likelihood"][self.likely]) * sum(harm.weight for harm in self.harms)

    @property
    def words(self) -> str:
        """What has gone wrong, in words."""
        return str(table()["kinds"][self.fault.kind]["says"]).format(part=self.fault.part)

    @property
    def do(self) -> str:
        """What to do at once."""
        return str(table()["kinds"][self.fault.kind]["do"])

    @property
    def key(self) -> tuple[str, str]:
        """What tells it from others of the layout, and of the layout with guards in it."""
        return self.fault.kind, self.fault.key


@dataclass(frozen=True)
class Mishaps:
    """Every mishap, the worst first. `already` are the harms that are there with nothing wrong; `followed` how many courses were followed;
    `unknown` what cannot be told for want of a number in the file."""

    running: Running
    mishaps: tuple[Mishap, ...]
    already: tuple[Harm, ...]
    fish: FishAir | None
    followed: int
    unknown: tuple[str, ...]

    @property
    def harmful(self) -> tuple[Mishap, ...]:
        """Those that do harm."""
        return tuple(one for one in self.mishaps if one.harms)


def find_mishaps(
    layout: Layout,
    *,
    hours: float = HOURS,
    only: Collection[tuple[str, str]] | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> Mishaps:
    """Find what each single part going wrong does.

    Parameters:
        hours: for how long each mishap is followed.
        only: the keys of the mishaps to look at; left out, all.
        progress: called with how many are done, of how many, and what is tried.

    Returns:
        Every mishap, in the order of harm.

    Raises:
        PlumblineError: where nothing moves the water, or no vessel says how large it is.
        SolveError: where the layout has no steady flow, or none was found.
    """
    _enough(layout)
    running = run(layout, hours)
    already = harms_of(running, nothing_wrong(layout), running.course)
    jets = jet_faults(running) if only is None or {kind for kind, _ in only} & set(JETS) else ()
    faults = [*faults_of(layout), *jets]
    fish = fish_air(layout)
    asked = [fault for fault in faults if only is None or (fault.kind, fault.key) in only]
    brought = {fault.after for fault in asked}
    done = itertools.count()

    def tell(fault: Fault) -> None:
        if progress is not None:
            progress(next(done), len(asked), fault.part)

    courses = _courses(running, [*asked, *(one for one in faults if one.kind in brought)], tell)
    found = [_mishap(running, courses, fault, faults, already, fish) for fault in asked]
    followed = sum(course is not running.course for course in courses.values())
    return Mishaps(running, tuple(sorted(found, key=_order)), already, fish, followed, tuple(_unknown(running)))


def _enough(layout: Layout) -> None:
    if not layout.pumps and not any(
        end.kind == "draw" for line in layout.lines.values() for end in (line.start, line.end)
    ):
        raise PlumblineError(
            "Nothing moves the water in this file, no pump and no supply: there is nothing to go wrong with it."
        )
    if not any(vessel.area is not None for vessel in layout.vessels.values()):
        raise PlumblineError(
            "No vessel in this file has an area: how long anything takes cannot be told. Write one, for instance area: 1.1 m^2"
        )


Courses = Mapping[tuple[object, ...], Course | SolveError]
"""The courses of faults by their effect, each followed once; or why there is none."""


def _courses(running: Running, faults: Iterable[Fault], tell: Callable[[Fault], None]) -> Courses:
    some: dict[tuple[object, ...], Fault] = {}
    for fault in faults:
        some.setdefault(fault.effect, fault)

    def course(fault: Fault) -> Course | SolveError:
        tell(fault)
        moment = running.known_moment(fault)
        try:
            return running.follow(fault, moment) if fault.after or running.changed(moment) else running.course
        except SolveError as error:
            return error

    return dict(zip(some, side_by_side([partial(course, fault) for fault in some.values()]), strict=True))


def _mishap(
    running: Running,
    courses: Courses,
    fault: Fault,
    faults: Iterable[Fault],
    already: tuple[Harm, ...],
    fish: FishAir | None,
) -> Mishap:
    course = courses[fault.effect]
    if isinstance(course, SolveError):
        return Mishap(fault, (), 0.0, doubt=f"what comes of it cannot be told: {course}")
    besides, before = already, 0.0
    if fault.after:
        other = next(one for one in faults if one.kind == fault.after)
        without = courses[other.effect]
        if not isinstance(without, SolveError):
            besides, before = harms_of(running, other, without), lost(running, other, without)
    harms = harms_of(running, fault, course, besides)
    return Mishap(
        fault, harms, max(lost(running, fault, course) - before, 0.0), _air(running, fault, course, harms, fish)
    )


def _air(
    running: Running, fault: Fault, course: Course, harms: tuple[Harm, ...], fish: FishAir | None
) -> Between | None:
    ends = {harm.where: harm.time for harm in harms if harm.what == FISH[0]}
    if fish is None:
        return None
    if fault.kind == "power away":
        ends = dict.fromkeys(fish.stock, 0.0)
    times = [
        lasts(fish, running.layout.vessels[name], course, time) for name, time in ends.items() if name in fish.stock
    ]
    times = [time for time in times if math.isfinite(time.likely)]
    return min(times, key=lambda time: time.likely, default=None)


def _order(mishap: Mishap) -> tuple[float, float, str, str]:
    """By harm and likelihood, then the soonest first."""
    return -mishap.weight, mishap.first.time if mishap.first else math.inf, mishap.fault.kind, mishap.fault.part


def _unknown(running: Running) -> Iterable[str]:
    """What the file does not say, and what cannot be told for that; and pumps that do not run at all."""
    layout = running.layout
    for name in working(layout):
        if not any(running.course.pumps[name].on):
            yield f"pump '{name}' does not run within {running.hours:g} h with nothing wrong: what its standing still does cannot be told"
    lacking: Mapping[str, list[str]] = {
        "area": [name for name, vessel in layout.vessels.items() if vessel.area is None],
        "rim": [name for name, vessel in layout.vessels.items() if vessel.area is not None and vessel.rim is None],
    }
    means = {"area": "how fast it fills or empties", "rim": "when it runs over"}
    for word, names in lacking.items():
        if names:
            said = ", ".join(f"'{name}'" for name in names)
            yield f"{said} {'has' if len(names) == 1 else 'have'} no {word} in the file: {means[word]} cannot be told"
    if not any(vessel.holds == "fish" for vessel in layout.vessels.values()):
        yield "no vessel in the file holds fish: what they would have cannot be told"
