"""What switches through a day: clocks, floats and levels, siphons, indexing valves, draws; and what is told of on the way."""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from ..hydraulics.stretch_links import FLOAT_BAND
from ..hydraulics.stretches import BARE, intakes, mouths
from ..hydraulics.turns import shut_in
from ..layout.model import End, Timer
from ..water import GRAVITY
from .draws import WELL_OVER, short
from .log import Log
from .moment import Moment, Switches, Waters
from .result import Event
from .steps import AT_EVENT, Trigger, Watch
from .turns import feeders

__all__ = ["CATCHES", "Switching"]

CATCHES = 0.3
"""V/√(gD) of what runs over a siphon's crest at which it catches: from there on air is carried down and does not get back
(Wisner 1975, in Sanks). In doubt from 0.2 to 0.6, at which the crest's mouth is under water (BS EN 12056-3, h = D/2)."""


@dataclass(frozen=True)
@dataclass
class Switching:
    """All that switches and remembers at one `time` [s], with the `volumes` of the water [m³]: `switches` as they stand; `log`, where it is told."""

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
        self.volumes = waters.volumes({name: levels.get(name, vessel.level) for name, vessel in layout.vessels.items()})
        self.log = Log(waters, switches.opened, self.volumes)
        self.dead = off
        self.troubled: set[tuple[str, str]] = set()
        self.switched_off = {
            pump.name for pump in layout.pumps.values() if pump.switch is not None and not self.begins_on(pump.name)
        }
        self.siphons = {point: end for point, end in layout.ends.items() if end.siphon is not None}
        self.floats = {point: end for point, end in layout.ends.items() if end.float_valve is not None}
        low = {point for point, end in self.floats.items() if self.level(end.name or "") < self.shuts(end)}
        self.switches = replace(switches, wide_open=switches.wide_open | low)
        self.outlets = dict.fromkeys(layout.indexing, 0)
        self.fed: frozenset[str] = frozenset()
        self.lifted: set[str] = set()
        self.feeders = {name: feeders(layout, name) for name in layout.indexing}
        self.limits = dict(self.all_limits())
        self.clocks()

    def timers(self) -> list[Timer]:
        """All timers there are."""
        timers = [pump.runs for pump in self.layout.pumps.values()]
        timers += [part.runs for line in self.layout.lines.values() for part in line.parts]
        return [timer for timer in timers if timer is not None]

    def begins_on(self, name: str) -> bool:
        """Whether a pump's switch has it on as the water stands at the start."""
        switch = self.layout.pumps[name].switch
        assert switch is not None
        depth = self.level(switch.vessel) - self.layout.vessels[switch.vessel].base
        return depth >= switch.on if switch.on > switch.off else depth <= switch.on

    def level(self, vessel: str) -> float:
        """Where a vessel's water stands now [m above the datum]."""
        if vessel in self.waters.names:
            return float(self.waters.levels(self.volumes)[self.waters.names.index(vessel)])
        return self.layout.vessels[vessel].level

    def at(self, moment: Moment, vessel: str) -> float:
        """Where a vessel's water stands at a moment [m above the datum]."""
        return float(moment.solution.heads[moment.assembly.vessels[vessel]])

    def shuts(self, end: End) -> float:
        """The level at which a float valve shuts [m above the datum]."""
        return self.layout.vessels[end.name or ""].base + (end.float_valve or 0.0)

    # ------------------------------------------------------------------ clocks

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
                self.log.sums["starts", name] += on
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

    def lift(self, moment: Moment) -> None:
        """Note which indexing valves get enough to turn as their inflow next stops."""
        self.lifted |= {
            name
            for name in self.fed
            if self.log.through(moment, self.feeders[name][0]) >= self.layout.indexing[name].least
        }

    def next_clock(self) -> float:
        """When a clock next switches something [s]."""
        return min((timer.next(self.time + 1e-6) for timer in self.timers()), default=math.inf)

    # ------------------------------------------------------------------ levels and flows

    def triggers(self) -> list[Trigger]:
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
                Trigger(past, lambda: None, told=True)
                for trouble, past in self.limits.items()
                if trouble not in self.troubled and self.matters(trouble, self.layout.pumps)
            ),
        ]

    def told(self, watch: Watch) -> Trigger:
        """What tells of something that is watched, once."""

        def fire() -> None:
            self.watching.remove(watch)
            self.tell(watch.kind, watch.where, "")

        return Trigger(watch.value, fire, watch.scale, told=True)

    def catches(self, point: str, end: End) -> Trigger:
        """What lets a siphon catch: enough over its crest."""
        _, stretch, side = mouths(self.layout)[point]
        bore = stretch.bore
        enough = CATCHES * math.sqrt(GRAVITY * bore) * 0.25 * math.pi * bore**2

        def over(moment: Moment) -> float:
            link = moment.assembly.links[stretch.id]
            flow = link.sign * float(moment.solution.flows[link.link])
            return ((-flow if side else flow) - enough) / enough

        return Trigger(over, lambda: self.prime(point, end), 100.0)

    def breaks(self, point: str, end: End) -> Trigger:
        """What lets a siphon go: the level at which air gets in."""
        height = self.layout.vessels[end.name or ""].base + (end.siphon.breaks if end.siphon is not None else 0.0)
        return Trigger(lambda moment: height - self.at(moment, end.name or ""), lambda: self.prime(point, end))

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

    def float_valve(self, point: str, end: End) -> Trigger:
        """What shuts or opens a float valve."""
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

        return Trigger(past, fire)

    def level_switch(self, name: str) -> Trigger:
        """What turns a pump on or off by its switch."""
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

        return Trigger(past, fire)

    def draw(self, by: float = 0.0) -> bool:
        """Leave draws that no water comes to without any, or that it comes `by` so much nearer to [m]; say whether that is new."""
        undrawn = short(self.layout, self.switches, self.level, by)
        changed = undrawn ^ self.switches.undrawn
        self.switches = replace(self.switches, undrawn=undrawn)
        for point in sorted(changed):
            line, comes = point.rpartition(".")[0], point not in undrawn
            said = "there is water again" if comes else "no water comes"
            self.tell(
                "draw gets water" if comes else "draw runs dry", line, f"{said} to the draw at the end of '{line}'"
            )
        return bool(changed)

    # ------------------------------------------------------------------ what goes wrong

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
        """How far a vessel's water stands over a height [m]."""
        return self.at(moment, vessel) - height

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
        """Tell of an event, now."""
        self.log.events.append(Event(self.time, kind, where, message))
