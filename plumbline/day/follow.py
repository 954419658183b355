"""Levels followed through time, exactly at each event.

A step (see `steps`) ends where something switches (see `switching`): clocks are known, levels are found to a tenth of a millimetre and flows to a
thousandth. Air is let into pipe on the way as it comes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from ..errors import SolveError
from ..hydraulics.stretches import open_runs
from ..layout.model import Layout
from .cycles import Cycles, Mark
from .draws import WELL_OVER, draws, until_short
from .moment import Moment, Switches, Waters
from .result import Course
from .steps import AT_EVENT, Step, Trigger, Watch, cut_at, step_on
from .switching import Switching

__all__ = ["follow_day"]

FIRST, LONGEST, SHORTEST = 20.0, 3600.0, 1e-3
"""The first step after a switch, and the longest and shortest step [s]."""

AT_AIR = 2.0
"""The longest step before air gets into pipe, which is let in where that begins [s]."""

MOST_STEPS = 60_000


def follow_day(
    layout: Layout,
    *,
    hours: float = 24.0,
    levels: Mapping[str, float] | None = None,
    vented: frozenset[str] = frozenset(),
    off: frozenset[str] = frozenset(),
    primed: frozenset[str] = frozenset(),
    blocked: frozenset[str] = frozenset(),
    opened: frozenset[str] = frozenset(),
    watching: Sequence[Watch] = (),
    waters: Waters | None = None,
    near: Moment | None = None,
    progress: Callable[[float], None] | None = None,
) -> Course:
    """Follow the water of a layout through time.

    Parameters:
        hours: for how long, from midnight.
        levels: where it begins in vessels that do not begin as stated [m above the datum].
        vented: ids of stretches that air is in from the start.
        off: pumps that stand still throughout, as in a power cut.
        primed: line ends whose siphons run at the start.
        blocked: ids of stretches that nothing passes.
        opened: ids of caps that stand open.
        watching: what to tell of; a step ends where it comes.
        waters: of this layout, to save making its network again; with all that is opened among its caps.
        near: a moment of the same network to begin the search from; it only saves time.
        progress: called now and then with the share that is done.

    Raises:
        SolveError: where flows cannot be found at some time.
    """
    at_rest = {point.rpartition(".")[0] for point, end in layout.ends.items() if end.siphon is not None} - {
        point.rpartition(".")[0] for point in primed
    }
    dry = {stretch.id for stretch in layout.stretches if stretch.line in at_rest}
    switches = Switches(vented=vented | dry | open_runs(layout), primed=primed, blocked=blocked, opened=opened)
    follower = _Follower(waters or Waters(layout, opened), levels or {}, off, switches, watching)
    return follower.course(3600.0 * hours, progress, near)


class _Follower(Switching):
    cycles: Cycles
    steps = 0
    next_clock_before = 0.0
    tried_at = -1.0

    def course(self, until: float, progress: Callable[[float], None] | None, near: Moment | None) -> Course:
        self.cycles = Cycles(self.waters.areas, [one.on + one.off for one in self.timers() if one.off > 0.0])
        now = self.settle_air(self.here(near))
        self.log.write(self.time, self.volumes, now, self.switches)
        for watch in [watch for watch in self.watching if watch.value(now) >= 0.0]:
            self.told(watch).fire()
        step = FIRST
        while self.time < until - 1e-9:
            if self.steps > MOST_STEPS:
                raise SolveError(
                    f"the day takes more than {MOST_STEPS} steps: something switches on and off without end"
                )
            limit = min(self.next_clock(), until) - self.time
            step = min(step, limit, self.until_dry(now))
            taken = self.one(now, step)
            if taken is None:
                # Where there are no flows as the water stands now, no step is short enough.
                if step > SHORTEST and self.one(now, SHORTEST) is not None:
                    step = max(0.3 * step, SHORTEST)
                    continue
                now, step = self.a_moment_on(now), 1.0
                continue
            middle, end, error = taken
            if error > 1.0 and step > SHORTEST:
                step = max(SHORTEST, step * max(0.2, 0.9 * error ** (-1.0 / 3.0)))
                continue
            if error <= 1.0:
                more = self.waters.aired(self.switches, end) if self.differs(now, end) else frozenset()
                if more and step > AT_AIR:
                    step = max(0.3 * step, AT_AIR)
                    continue
                if more:
                    self.switches = replace(self.switches, vented=self.switches.vented | more)
                    now = self.here(now)
                    continue
            step, middle, end, trigger = self.first_fired(now, middle, end, step)
            at_work = self.layout.pumps.keys() - self.switches.off
            dry = [name for name in at_work & end.assembly.pumps.keys() if self.bared(name, end) >= 0.0]
            self.log.account((now, middle, end), step, at_work, dry)
            self.lift(end)
            self.time += step
            self.volumes = end.volumes
            self.steps += 1
            if progress is not None and self.steps % 50 == 0:
                progress(self.time / until)
            grown = step * min(3.0, 0.9 * max(error, 1e-6) ** (-1.0 / 3.0))
            if trigger is not None:
                trigger.fire()
            for watch in [watch for watch in self.watching if watch.value(end) >= 0.0]:
                self.told(watch).fire()
            before = self.switches
            if self.time >= self.next_clock_before - 1e-6:
                self.clocks()
            if draws(self.layout):
                self.draw()
            if (trigger is not None and not trigger.told) or self.switches != before:
                self.log.write(self.time, self.volumes, end, self.switches)
                now, grown = self.settle_air(self.here(end)), FIRST
                self.log.write(self.time, self.volumes, now, self.switches)
                self.go_round(until)
            else:
                now = end
                self.log.write(self.time, self.volumes, now, self.switches)
            self.watch(now)
            step = until if self.stands(now, until) else min(max(grown, SHORTEST), LONGEST)
        return self.log.whole(self.volumes, self.cycles.period, self.steps)

    def stuck(self) -> SolveError:
        return SolveError(f"the water cannot be followed on from {self.time / 3600.0:.2f} h")

    def until_dry(self, now: Moment) -> float:
        """How long a step may be before a draw that water comes to runs dry [s]."""
        if not draws(self.layout):
            return math.inf
        falls = dict(zip(self.waters.names, (-now.gains / self.waters.areas).tolist(), strict=True))
        return max(until_short(self.layout, self.switches, self.level, falls), 1.0)

    def stands(self, now: Moment, until: float) -> bool:
        """Whether no level moves any more, to the end."""
        return float(np.max(np.abs(now.gains) / self.waters.areas, initial=0.0)) * (until - self.time) < AT_EVENT

    def go_round(self, until: float) -> None:
        """Where a cycle has come round twice alike, write it down again as often as it fits, and go on behind it."""
        log = self.log
        if not log.events or log.events[-1].time < self.time:
            return
        event = log.events[-1]
        windows = [timer.next(self.time + 1e-6) for timer in self.timers() if timer.windows]
        log.mark_sums(self.time)
        mark = Mark(self.time, self.volumes.copy(), self.switches, len(log.times), len(log.events))
        found = self.cycles.at((event.kind, event.where), mark, min([until, *windows]) - 1e-6)
        if found is None:
            return
        log.repeat(found)
        self.time += found.times * (found.end.time - found.begin.time)
        self.volumes = found.end.volumes + found.times * (found.end.volumes - found.begin.volumes)

    def here(self, near: Moment | None) -> Moment:
        """The moment as it stands: flows at the levels as they are."""
        self.next_clock_before = self.next_clock()
        self.draw()
        try:
            return self.waters.solve(self.switches, self.volumes, 1e-3, None if near is None else near.solution)
        except SolveError:
            return self.a_moment_on(near)

    def a_moment_on(self, near: Moment | None) -> Moment:
        """The moment where no step is short enough: a pump down to its intake gives what comes to it in a second, and a draw what there is, or nothing."""
        start = None if near is None else near.solution
        for tried in (self.tried_at == self.time, False):
            try:
                late = self.waters.solve(self.switches, self.volumes, 1.0, start)
            except SolveError:
                late = None
            if late is not None and draws(self.layout) and not tried and self.one(late, 1.0) is not None:
                self.tried_at = self.time
                return late
            if not self.draw(2.0 * WELL_OVER):
                break
        raise self.stuck() from None

    def settle_air(self, now: Moment) -> Moment:
        """Let air in where it comes at once."""
        for _ in range(10):
            more = self.waters.aired(self.switches, now)
            if not more:
                break
            self.switches = replace(self.switches, vented=self.switches.vented | more)
            now = self.here(now)
        return now

    def one(self, now: Moment, step: float) -> Step | None:
        """A step on from here."""
        return step_on(self.waters, self.switches, now, self.volumes, step)

    def differs(self, one: Moment, other: Moment) -> bool:
        """Whether the water goes other ways at two moments, or keeps air from coming up against it at one of them alone."""
        a, b = one.solution, other.solution
        return not (
            np.array_equal(a.closed, b.closed)
            and np.array_equal(a.staged, b.staged)
            and np.array_equal(np.sign(a.flows), np.sign(b.flows))
            and self.waters.carries(one) == self.waters.carries(other)
        )

    def first_fired(
        self, now: Moment, middle: Moment, end: Moment, step: float
    ) -> tuple[float, Moment, Moment, Trigger | None]:
        """A step, or the part of it up to where the first thing switches in it, and what that is."""
        first: Trigger | None = None
        for trigger in self.triggers():
            if (
                trigger.value(end) >= 0.0
                and (found := cut_at(trigger, now, step, middle, end, partial(self.one, now))) is not None
            ):
                step, middle, end, first = (*found, trigger)
        return step, middle, end, first
