"""Levels followed through time, exactly at each event.

V' = q(V), V the water in each vessel and q what it gains with the levels as they are, one solve of the network. The step is
the trapezoid rule to a part of it and the second backward difference on (TR-BDF2), both implicit, so that vessels that come level
in seconds do not hold up a day; it is second-order, damps what is fast, and keeps the sum of all water to rounding. The third
derivative that its own three rates give sets the length of the step. A step ends where something switches: clocks are known,
levels are found to a tenth of a millimetre and flows to a thousandth.

Reference: Bank et al. (1985), IEEE Trans. Electron Devices 32, 1992; Hosea and Shampine (1996), Appl. Numer. Math. 20, 21, for
the error's estimate (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from ..errors import SolveError
from ..hydraulics.network import FloatArray
from ..hydraulics.stretch_links import FLOAT_BAND
from ..hydraulics.stretches import (
    BARE,
    arrives,
    intakes,
    mouths,
    only_out,
    open_runs,
    pieces_by_line,
    pipes_joined,
    pushed,
    supplied,
)
from ..hydraulics.turns import shut_in
from ..layout.model import End, Layout, Timer
from ..water import GRAVITY
from .cycles import Cycles, Mark
from .moment import Moment, Switches, Waters
from .result import Course, Event, PumpCourse, VesselCourse, WaterAccount
from .turns import feeders

__all__ = ["CATCHES", "Watch", "follow_day"]

GAMMA = 2.0 - math.sqrt(2.0)
"""Where the trapezoid's part of a step ends, as a share of it."""

WEIGHTS = (math.sqrt(2.0) / 4.0, math.sqrt(2.0) / 4.0, 0.5 * GAMMA)
"""What the rates at the begin, at γ and at the end of a step count for in it."""

CLOSE = 3e-4
"""The error of a step's levels [m]."""

FIRST, LONGEST, SHORTEST = 20.0, 3600.0, 1e-3
"""The first step after a switch, and the longest and shortest step [s]."""

AT_AIR = 2.0
"""The longest step before air gets into pipe, which is let in where that begins [s]."""

TOLD_TO = 1.0
"""What is only told of is told to the second [s]."""

AT_EVENT = 1e-5
"""A tenth of how near to a level a step ends that something switches at [m], and no less far behind it."""

WELL_OVER = 1e-3
"""An intake that drew air does so until the water stands so far over it, and a vessel runs over until it stands so far under its rim [m];
a trickle would have it told time and again."""

CATCHES = 0.3
"""V/√(gD) of what runs over a siphon's crest at which it catches: from there on air is carried down and does not get back
(Wisner 1975, in Sanks). In doubt from 0.2 to 0.6, at which the crest's mouth is under water (BS EN 12056-3, h = D/2)."""

MOST_STEPS = 60_000


@dataclass(frozen=True)
class Watch:
    """Something to be told of, once, where `value`, of a moment's levels [m] or flows over `scale`, rises through nothing."""

    kind: str
    where: str
    value: Callable[[Moment], float]
    scale: float = 1.0


@dataclass
class _Trigger:
    """Something that switches where `value`, of a moment's levels and flows, rises through nothing; or that is only `told`."""

    value: Callable[[Moment], float]
    fire: Callable[[], None]
    scale: float = 1.0
    told: bool = False


@dataclass
class _Log:
    """What is written down on the way."""

    times: list[float] = field(default_factory=list)
    levels: list[FloatArray] = field(default_factory=list)
    ends: list[list[float]] = field(default_factory=list)
    inflows: list[list[float]] = field(default_factory=list)
    switches: list[Switches] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)


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


def _crossing(seen: Sequence[tuple[float, float]], aim: float) -> float:
    """When a value reaches an aim, by the parabola for time through three of (time [s], value), or the straight line between the two on
    either side of nothing where they do not rise.

    >>> round(_crossing([(1.0, -1.0), (2.0, 0.0), (3.0, 3.0)], 0.0), 9)
    2.0
    """
    over = next(i for i, (_, value) in enumerate(seen) if value >= 0.0)
    three = seen[over - 1 : over + 2] if over + 1 < len(seen) else seen[max(over - 2, 0) :]
    if len(three) < 3 or not three[0][1] < three[1][1] < three[2][1]:
        three = seen[over - 1 : over + 1]
    return sum(
        time * math.prod((aim - other) / (value - other) for _, other in three if other != value)
        for time, value in three
    )


class _Follower:
    def __init__(
        self,
        waters: Waters,
        levels: Mapping[str, float],
        off: frozenset[str],
        switches: Switches,
        watching: Sequence[Watch],
    ) -> None:
        self.layout = layout = waters.layout
        self.waters = waters
        self.watching = list(watching)
        self.time = 0.0
        self.volumes = self.waters.volumes(
            {name: levels.get(name, vessel.level) for name, vessel in layout.vessels.items()}
        )
        self.first = float(np.sum(self.volumes))
        self.dead = off
        self.log = _Log()
        self.areas = np.array([vessel.area or 1.0 for vessel in waters.vessels])
        spilt = [("spilt", name) for name in (*layout.vessels, *(f"cap {name}" for name in switches.opened))]
        per_pump = [(what, name) for name in layout.pumps for what in ("starved", "seconds", "starts")]
        self.sums: dict[tuple[str, str], float] = dict.fromkeys([("added", ""), ("lost", ""), *spilt, *per_pump], 0.0)
        self.steps = 0
        self.troubled: set[tuple[str, str]] = set()
        self.switched_off = {
            pump.name for pump in layout.pumps.values() if pump.switch is not None and not self.begins_on(pump.name)
        }
        self.switches = switches
        self.siphons = {point: end for point, end in layout.ends.items() if end.siphon is not None}
        self.draws = {point: end for point, end in layout.ends.items() if end.kind == "draw" and end.draw > 0.0}
        self.floats = {point: end for point, end in layout.ends.items() if end.float_valve is not None}
        for point, end in self.floats.items():
            if self.level(end.name or "") < self.shuts(end):
                self.switches = replace(self.switches, wide_open=self.switches.wide_open | {point})
        self.outlets = dict.fromkeys(layout.indexing, 0)
        self.fed: frozenset[str] = frozenset()
        self.lifted: set[str] = set()
        self.feeders = {name: feeders(layout, name) for name in layout.indexing}
        self.arrives = {name: arrives(layout, pieces).id for name, pieces in pieces_by_line(layout).items()}
        self.limits = dict(self.all_limits())
        self.clocks()
        self.cycles = Cycles(self.areas, [timer.on + timer.off for timer in self.timers() if timer.off > 0.0])
        self.sums_at: dict[float, FloatArray] = {}

    def timers(self) -> list[Timer]:
        timers = [pump.runs for pump in self.layout.pumps.values()]
        timers += [part.runs for line in self.layout.lines.values() for part in line.parts]
        return [timer for timer in timers if timer is not None]

    def begins_on(self, name: str) -> bool:
        switch = self.layout.pumps[name].switch
        assert switch is not None
        depth = self.level(switch.vessel) - self.layout.vessels[switch.vessel].base
        return depth >= switch.on if switch.on > switch.off else depth <= switch.on

    def level(self, vessel: str) -> float:
        """Where a vessel's water stands now [m above the datum]."""
        if vessel in self.waters.names:
            return float(self.waters.levels(self.volumes)[self.waters.names.index(vessel)])
        return self.layout.vessels[vessel].level

    def shuts(self, end: End) -> float:
        return self.layout.vessels[end.name or ""].base + (end.float_valve or 0.0)

    # ------------------------------------------------------------------ switches

    def clocks(self) -> None:
        """Set pumps and valves as the clock has them."""
        off = {
            pump.name
            for pump in self.layout.pumps.values()
            if pump.runs is not None and not pump.runs.runs(self.time + 1e-6)
        }
        off |= self.switched_off | self.dead
        shut = {
            (name, part.step)
            for name, line in self.layout.lines.items()
            for part in line.parts
            if part.runs is not None and not part.runs.runs(self.time + 1e-6)
        }
        stood = dict(self.outlets)
        shut |= self.turned(off, shut)
        for name in sorted(off ^ self.switches.off):
            on = name not in off
            if self.time > 0.0:
                self.sums["starts", name] += on
                self.tell("pump on" if on else "pump off", name, f"pump '{name}' goes {'on' if on else 'off'}")
        for line, step in sorted(shut ^ self.switches.shut):
            if self.time > 0.0:
                part = next(part for part in self.layout.lines[line].parts if part.step == step)
                if part.kind == "indexing valve":
                    continue
                name = f"'{part.id}'" if part.id else f"at step {step} of '{line}'"
                self.tell(
                    "valve shuts" if (line, step) in shut else "valve opens",
                    line,
                    f"the {part.kind} {name} {'shuts' if (line, step) in shut else 'opens'}",
                )
        for name, number in self.outlets.items():
            if number != stood[name] and self.time > 0.0:
                self.tell(f"turns to {number}", name, f"the indexing valve '{name}' goes on to outlet {number}")
        self.switches = replace(self.switches, off=frozenset(off), shut=frozenset(shut))

    def turned(self, off: set[str], shut: set[tuple[str, int]]) -> frozenset[tuple[str, int]]:
        """What indexing valves shut: each goes on to its next outlet as what feeds it starts again, if as much as it needs to turn has run
        since it last did or its outlet is capped, and stands there until then."""
        fed = set()
        for name, valve in self.layout.indexing.items():
            line, pumps = self.feeders[name]
            if (not pumps or pumps - off) and not any(place == line for place, _ in shut):
                fed.add(name)
                if name not in self.fed and (name in self.lifted or self.outlets[name] not in valve.ways):
                    self.outlets[name] = self.outlets[name] % valve.outlets + 1
                    self.lifted.discard(name)
        self.fed = frozenset(fed)
        return shut_in(self.layout, self.outlets)

    def next_clock(self) -> float:
        return min((timer.next(self.time + 1e-6) for timer in self.timers()), default=math.inf)

    def triggers(self) -> list[_Trigger]:
        """What levels and flows switch, as things stand."""
        return [
            *(
                self.breaks(*one) if one[0] in self.switches.primed else self.catches(*one)
                for one in self.siphons.items()
            ),
            *(self.float_valve(*one) for one in self.floats.items()),
            *(self.level_switch(pump.name) for pump in self.layout.pumps.values() if pump.switch is not None),
            *map(self.told, self.watching),
            *(
                _Trigger(past, lambda: None, told=True)
                for trouble, past in self.limits.items()
                if trouble not in self.troubled and self.matters(trouble, self.layout.pumps)
            ),
        ]

    def told(self, watch: Watch) -> _Trigger:
        def fire() -> None:
            self.watching.remove(watch)
            self.tell(watch.kind, watch.where, "")

        return _Trigger(watch.value, fire, watch.scale, told=True)

    def catches(self, point: str, end: End) -> _Trigger:
        _, stretch, side = mouths(self.layout)[point]
        bore = stretch.bore
        enough = CATCHES * math.sqrt(GRAVITY * bore) * 0.25 * math.pi * bore**2

        def over(moment: Moment) -> float:
            link = moment.assembly.links[stretch.id]
            flow = link.sign * float(moment.solution.flows[link.link])
            return ((-flow if side else flow) - enough) / enough

        return _Trigger(over, lambda: self.prime(point, end), 100.0)

    def breaks(self, point: str, end: End) -> _Trigger:
        height = self.layout.vessels[end.name or ""].base + (end.siphon.breaks if end.siphon is not None else 0.0)
        return _Trigger(lambda moment: height - self.at(moment, end.name or ""), lambda: self.prime(point, end))

    def prime(self, point: str, end: End) -> None:
        """A siphon catches, or lets go and has air in its pipe."""
        now, line = self.switches, point.rpartition(".")[0]
        starts = point not in now.primed
        ids = {stretch.id for stretch in self.layout.stretches if stretch.line == line}
        self.switches = replace(
            now, primed=now.primed ^ {point}, vented=now.vented - ids if starts else now.vented | ids
        )
        self.tell(
            "siphon starts" if starts else "siphon stops",
            end.name or "",
            f"the siphon in '{end.name}' {'catches' if starts else 'lets go'}",
        )

    def float_valve(self, point: str, end: End) -> _Trigger:
        shuts, is_open = self.shuts(end), point in self.switches.wide_open

        def past(moment: Moment) -> float:
            level = self.at(moment, end.name or "")
            return level - shuts if is_open else shuts - FLOAT_BAND - level

        def fire() -> None:
            self.switches = replace(self.switches, wide_open=self.switches.wide_open ^ {point})
            self.tell(
                "top-up shuts" if is_open else "top-up opens",
                end.name or "",
                f"the float valve in '{end.name}' {'shuts' if is_open else 'opens'}",
            )

        return _Trigger(past, fire)

    def level_switch(self, name: str) -> _Trigger:
        switch = self.layout.pumps[name].switch
        assert switch is not None
        base = self.layout.vessels[switch.vessel].base
        is_on = name not in self.switched_off
        height = base + (switch.off if is_on else switch.on)
        rising = (switch.on > switch.off) != is_on

        def past(moment: Moment) -> float:
            level = self.at(moment, switch.vessel)
            return level - height if rising else height - level

        def fire() -> None:
            self.switched_off ^= {name}
            self.clocks()

        return _Trigger(past, fire)

    def at(self, moment: Moment, vessel: str) -> float:
        """Where a vessel's water stands at a moment [m above the datum]."""
        return float(moment.solution.heads[moment.assembly.vessels[vessel]])

    def all_limits(self) -> Iterator[tuple[tuple[str, str], Callable[[Moment], float]]]:
        """What goes wrong as a level passes a height, and how far it is past that: rims and pumps' intakes."""
        for vessel in self.waters.vessels:
            if vessel.rim is not None:
                yield (
                    ("overtops", vessel.name),
                    partial(self.over, vessel.name, vessel.base + vessel.rim + AT_EVENT / 10.0),
                )
        for name, places in intakes(self.layout).items():
            if places and self.layout.fed_by(name) is not None:
                yield ("sucks air", name), partial(self.bared, name)

    def bared(self, pump: str, moment: Moment) -> float:
        """How far the water over a pump's intake is down past where it draws air [m]."""
        return BARE - moment.assembly.over_intake(self.layout, pump, moment.solution)

    def matters(self, trouble: tuple[str, str], pumps: Container[str]) -> bool:
        """Whether a height matters as things stand: an intake only while its pump, one of `pumps`, runs."""
        return trouble[0] == "overtops" or (trouble[1] in pumps and trouble[1] not in self.switches.off)

    def over(self, vessel: str, height: float, moment: Moment) -> float:
        return self.at(moment, vessel) - height

    # ------------------------------------------------------------------ steps

    def course(self, until: float, progress: Callable[[float], None] | None, near: Moment | None) -> Course:
        now = self.settle_air(self.here(near))
        self.write(now)
        for watch in [watch for watch in self.watching if watch.value(now) >= 0.0]:
            self.told(watch).fire()
        step = FIRST
        while self.time < until - 1e-9:
            if self.steps > MOST_STEPS:
                raise SolveError(
                    f"the day takes more than {MOST_STEPS} steps: something switches on and off without end"
                )
            limit = min(self.next_clock(), until) - self.time
            step = min(step, limit, max(self.until_short(now), 1.0) if self.draws else limit)
            taken = self.one(now, step)
            if taken is None:
                # Where there are no flows as the water stands now, no step is short enough.
                if step <= SHORTEST or self.one(now, SHORTEST) is None:
                    if not self.draw(self.short(2.0 * WELL_OVER)):
                        raise self.stuck()
                    now, step = self.here(now), FIRST
                    continue
                step = max(0.3 * step, SHORTEST)
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
            self.account(now, middle, end, step)
            self.lifted |= {
                name
                for name in self.fed
                if self.through(end, self.feeders[name][0]) >= self.layout.indexing[name].least
            }
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
            if self.draws:
                self.draw(self.short())
            if (trigger is not None and not trigger.told) or self.switches != before:
                self.write(end)
                now, grown = self.settle_air(self.here(end)), FIRST
                self.write(now)
                self.go_round(until)
            else:
                now = end
                self.write(now)
            self.watch(now)
            step = until if self.stands(now, until) else min(max(grown, SHORTEST), LONGEST)
        return self.whole(until)

    def sources(self, point: str) -> list[tuple[str, float]]:
        """What a draw's pipe takes water from now, vessels with the heights down to which it does: the intakes of pumps at work, which take what comes
        to them for as long as any does, and mouths."""
        groups = pipes_joined(self.layout)
        group = groups[point.rpartition(".")[0]]
        at_work = [
            name for name in self.layout.pumps.keys() - self.switches.off if group in pushed(self.layout, {name})
        ]
        return [(one.vessel, one.height - WELL_OVER) for name in at_work for one in intakes(self.layout)[name]] + [
            (end.name or "", end.place[2])
            for other, (end, _, _) in mouths(self.layout).items()
            if groups[other.rpartition(".")[0]] == group and not only_out(end)
        ]

    def short(self, by: float = 0.0) -> frozenset[str]:
        """The draws that no water comes to: all that their pipe takes water from is down to where it does, or as near to that as `by` [m], or, of one
        that has run dry, has not come well over it again."""
        supplies = supplied(self.layout)
        return frozenset(
            point
            for point in self.draws
            if pipes_joined(self.layout)[point.rpartition(".")[0]] not in supplies
            and all(
                self.level(vessel) <= height + (FLOAT_BAND if point in self.switches.undrawn else by)
                for vessel, height in self.sources(point)
            )
        )

    def until_short(self, now: Moment) -> float:
        """How long until what a draw takes its water from is down to there, as it falls now [s]."""
        rates = dict(zip(self.waters.names, (now.gains / self.areas).tolist(), strict=True))
        falls = (
            (self.level(vessel) - height, -rates[vessel])
            for point in self.draws
            for vessel, height in self.sources(point)
            if vessel in rates
        )
        return min((over / rate for over, rate in falls if over > 0.0 and rate * LONGEST > over), default=math.inf)

    def draw(self, undrawn: frozenset[str]) -> bool:
        changed = undrawn ^ self.switches.undrawn
        self.switches = replace(self.switches, undrawn=undrawn)
        for point in sorted(changed):
            line, comes = point.rpartition(".")[0], point not in undrawn
            said = "there is water again" if comes else "no water comes"
            self.tell(
                "draw gets water" if comes else "draw runs dry", line, f"{said} to the draw at the end of '{line}'"
            )
        return bool(changed)

    def stuck(self) -> SolveError:
        return SolveError(f"the water cannot be followed on from {self.time / 3600.0:.2f} h")

    def stands(self, now: Moment, until: float) -> bool:
        """Whether no level moves any more, to the end."""
        return float(np.max(np.abs(now.gains) / self.areas, initial=0.0)) * (until - self.time) < AT_EVENT

    def go_round(self, until: float) -> None:
        """Where a cycle has come round twice alike, write it down again as often as it fits, and go on behind it."""
        if not self.log.events or self.log.events[-1].time < self.time:
            return
        event = self.log.events[-1]
        windows = [timer.next(self.time + 1e-6) for timer in self.timers() if timer.windows]
        mark = Mark(self.time, self.volumes.copy(), self.switches, len(self.log.times), len(self.log.events))
        self.sums_at[mark.time] = np.array(list(self.sums.values()))
        found = self.cycles.at((event.kind, event.where), mark, min([until, *windows]) - 1e-6)
        if found is None:
            return
        log, period = self.log, found.end.time - found.begin.time
        levels = self.waters.levels(found.end.volumes) - self.waters.levels(found.begin.volumes)
        inside = slice(found.begin.moments, found.end.moments)
        times, stood, ends, inflows = log.times[inside], log.levels[inside], log.ends[inside], log.inflows[inside]
        switches = log.switches[inside]
        events = log.events[found.begin.events : found.end.events]
        for turn in range(1, found.times + 1):
            log.times += [time + turn * period for time in times]
            log.levels += [level + turn * levels for level in stood]
            log.ends += ends
            log.inflows += inflows
            log.switches += switches
            log.events += [replace(event, time=event.time + turn * period) for event in events]
        begin, end = self.sums_at[found.begin.time], self.sums_at[found.end.time]
        self.sums = dict(zip(self.sums, (end + found.times * (end - begin)).tolist(), strict=True))
        self.time += found.times * period
        self.volumes = found.end.volumes + found.times * (found.end.volumes - found.begin.volumes)
        self.sums_at.clear()

    next_clock_before = 0.0

    def here(self, near: Moment | None) -> Moment:
        """The moment as it stands: flows at the levels as they are."""
        self.next_clock_before = self.next_clock()
        self.draw(self.short())
        try:
            return self.waters.solve(self.switches, self.volumes, 1e-3, None if near is None else near.solution)
        except SolveError:
            if not self.draw(self.short(2.0 * WELL_OVER)):
                raise self.stuck() from None
            return self.here(near)

    def settle_air(self, now: Moment) -> Moment:
        """Let air in where it comes at once."""
        for _ in range(10):
            more = self.waters.aired(self.switches, now)
            if not more:
                break
            self.switches = replace(self.switches, vented=self.switches.vented | more)
            now = self.here(now)
        return now

    def one(self, now: Moment, step: float) -> tuple[Moment, Moment, float] | None:
        """A step on: the moments at γ and at its end, and its error over what is allowed; None where flows are not found."""
        try:
            half = 0.5 * GAMMA * step
            middle = self.waters.solve(self.switches, self.volumes + half * now.gains, half, now.solution)
            target = (middle.volumes - (1.0 - GAMMA) ** 2 * self.volumes) / (GAMMA * (2.0 - GAMMA))
            end = self.waters.solve(self.switches, target, (1.0 - GAMMA) / (2.0 - GAMMA) * step, middle.solution)
        except SolveError:
            return None
        k = (-3.0 * GAMMA**2 + 4.0 * GAMMA - 2.0) / (12.0 * (2.0 - GAMMA))
        bend = now.gains / GAMMA - middle.gains / (GAMMA * (1.0 - GAMMA)) + end.gains / (1.0 - GAMMA)
        before, after = self.waters.levels(self.volumes), self.waters.levels(end.volumes)
        error = float(np.max(np.abs(2.0 * k * step * bend) / self.areas, initial=0.0)) / CLOSE
        moved = float(np.max(np.abs(after - before), initial=0.0))
        return middle, end, max(error, moved / 0.1)

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
    ) -> tuple[float, Moment, Moment, _Trigger | None]:
        """A step, or the part of it up to where the first thing switches in it, and what that is."""
        first: _Trigger | None = None
        for trigger in self.triggers():
            if trigger.value(end) >= 0.0 and (found := self.cut(now, trigger, step, middle, end)) is not None:
                step, middle, end, first = (*found, trigger)
        return step, middle, end, first

    def cut(
        self, now: Moment, trigger: _Trigger, step: float, middle: Moment, end: Moment
    ) -> tuple[float, Moment, Moment] | None:
        """Find the step at which something switches: the root of a curve through what is known is tried next, or the middle where the last
        try left more than six tenths (after Dekker's safeguard: Brent, Algorithms for Minimization without Derivatives, 1973; from memory)."""
        soon, near = TOLD_TO if trigger.told else 1e-4, AT_EVENT * trigger.scale
        seen = [(0.0, trigger.value(now)), (GAMMA * step, trigger.value(middle)), (step, trigger.value(end))]
        if seen[0][1] >= 0.0:
            return step, middle, end
        width = math.inf
        for _ in range(30):
            over = next(i for i, (_, value) in enumerate(seen) if value >= 0.0)
            before, (after, value) = seen[over - 1][0], seen[over]
            if step == after and (after - before < soon or (value < near and not trigger.told)):
                break
            share = (_crossing(seen[max(over - 2, 0) : over + 2], near / 3.0) - before) / (after - before)
            share, width = (share if after - before < 0.6 * width else 0.5), after - before
            step = after if after - before < soon else before + min(max(share, 0.02), 0.98) * (after - before)
            taken = self.one(now, max(step, 1e-6))
            if taken is None:
                return None
            middle, end, _ = taken
            seen = sorted({**dict(seen), step: trigger.value(end)}.items())
            if max(value for _, value in seen) < 0.0:
                return None
        return step, middle, end

    # ------------------------------------------------------------------ the account

    def account(self, now: Moment, middle: Moment, end: Moment, step: float) -> None:
        """Add up what a step brought from outside and took away."""
        for weight, moment in zip(WEIGHTS, (now, middle, end), strict=True):
            added, lost = self.waters.outside(moment)
            self.sums["added", ""] += weight * step * added
            self.sums["lost", ""] += weight * step * lost
            caps = {f"cap {name}": moment.assembly.caps[name] for name in self.switches.opened}
            for name, link in (moment.assembly.rims | caps).items():
                self.sums["spilt", name] += weight * step * float(moment.solution.flows[link])
        for name in self.layout.pumps.keys() - self.switches.off:
            self.sums["seconds", name] += step
            self.sums["starved", name] += step * (name in end.assembly.pumps and self.bared(name, end) >= 0.0)

    def watch(self, now: Moment) -> None:
        """Tell of what goes wrong, once each time that it begins."""
        amiss = {
            trouble
            for trouble, past in self.limits.items()
            if self.matters(trouble, now.assembly.pumps)
            and past(now) >= (-WELL_OVER if trouble in self.troubled else 0.0)
        }
        words = {"overtops": "'{}' runs over its rim", "sucks air": "the intake of pump '{}' draws air"}
        for kind, name in sorted(amiss - self.troubled):
            self.tell(kind, name, words[kind].format(name))
        self.troubled = amiss

    def tell(self, kind: str, where: str, message: str) -> None:
        self.log.events.append(Event(self.time, kind, where, message))

    def through(self, moment: Moment, line: str) -> float:
        """What comes to a line's end [m³/s]."""
        link = moment.assembly.links[self.arrives[line]]
        return link.sign * float(moment.solution.flows[link.at(1)])

    def write(self, moment: Moment) -> None:
        self.log.times.append(self.time)
        self.log.levels.append(self.waters.levels(self.volumes))
        self.log.ends.append([self.through(moment, name) for name in self.layout.lines])
        self.log.inflows.append(self.waters.inflows(moment).tolist())
        self.log.switches.append(self.switches)

    def whole(self, until: float) -> Course:
        log = self.log
        levels = np.array(log.levels).reshape(len(log.times), len(self.waters.names))
        ends = np.array(log.ends).reshape(len(log.times), len(self.layout.lines))
        inflows = np.array(log.inflows).reshape(len(log.times), len(self.layout.vessels))
        end = float(np.sum(self.volumes))
        return Course(
            times=tuple(log.times),
            vessels={
                name: VesselCourse(tuple(levels[:, i].tolist()), self.sums["spilt", name])
                for i, name in enumerate(self.waters.names)
            },
            ends={f"{name}.to": tuple(ends[:, i].tolist()) for i, name in enumerate(self.layout.lines)},
            pumps={
                name: PumpCourse(
                    tuple(name not in switches.off for switches in log.switches),
                    round(self.sums["starts", name]),
                    self.sums["seconds", name],
                    self.sums["starved", name],
                )
                for name in self.layout.pumps
            },
            events=tuple(log.events),
            water=WaterAccount(self.first, end, self.sums["added", ""], self.sums["lost", ""]),
            period=self.cycles.period,
            steps=self.steps,
            inflows={name: tuple(inflows[:, i].tolist()) for i, name in enumerate(self.layout.vessels)},
            switches=tuple(log.switches),
            spilt={name: self.sums["spilt", f"cap {name}"] for name in self.switches.opened},
        )
