"""What a day's course means: floods and drains of each bed, and what goes wrong, with the numbers and the cheapest cure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from statistics import median

from ..catalogued import finding
from ..findings import Finding
from ..hydraulics.contents import content
from ..hydraulics.stretches import intakes
from ..layout.model import End, Layout
from ..units import show
from ..water import GRAVITY
from .result import Course
from .switching import CATCHES

__all__ = ["BedCourse", "bed_courses", "overtops", "what_goes_wrong"]

SHALLOW = 0.02
"""A bed that swings by less than this stands, and does not flood and drain [m]."""

REACHED = 1e-4
"""A level that comes so near to a switch's height turns it [m]: steps end there to a hundredth of a millimetre."""

DOUBTFUL = (0.2, 0.6)
"""V/√(gD) over a siphon's crest between which it is in doubt whether it catches (see `switching.CATCHES`)."""


@dataclass(frozen=True, slots=True)
class BedCourse:
    """A vessel that floods and drains: how many `floods`; how long one `fills`, `holds` near its top and `drains`, the middle one
    of them all [s], None where none was whole; how `deepest` [m] the water stands."""

    vessel: str
    floods: int
    fills: float | None
    holds: float | None
    drains: float | None
    deepest: float


def bed_courses(layout: Layout, course: Course) -> tuple[BedCourse, ...]:
    """Give the floods of each vessel with plants whose level swings.

    A flood fills from a tenth of the swing between its usual lowest and highest to nine tenths, holds above that, and drains back
    to a tenth.
    """
    return tuple(
        _bed(layout, course, name)
        for name, vessel in layout.vessels.items()
        if vessel.holds in ("plants", None)
        and name in course.vessels
        and course.vessels[name].highest - course.vessels[name].lowest > SHALLOW
        and _is_bed(layout, name)
    )


def _is_bed(layout: Layout, name: str) -> bool:
    """Whether a vessel is no pump's: a sump swings too, but does not flood."""
    return all(pump.vessel != name for pump in layout.pumps.values())


def _bed(layout: Layout, course: Course, name: str) -> BedCourse:
    levels, times = course.vessels[name].level, course.times
    low, high = _usual(levels)
    foot, top = low + 0.1 * (high - low), low + 0.9 * (high - low)
    fills: list[float] = []
    holds: list[float] = []
    drains: list[float] = []
    left_foot = reached_top = left_top = math.nan
    above = levels[0] >= top
    for (t0, a), (t1, b) in zip(
        zip(times, levels, strict=True), zip(times[1:], levels[1:], strict=False), strict=False
    ):
        for height, rising in ((foot, True), (top, True), (top, False), (foot, False)):
            if not (a < height <= b if rising else a >= height > b):
                continue
            moment = t0 + (t1 - t0) * (height - a) / (b - a)
            if height == foot and rising:
                left_foot, reached_top = moment, math.nan
            elif height == top and rising and not above:
                reached_top, above = moment, True
                if not math.isnan(left_foot):
                    fills.append(moment - left_foot)
                left_foot = math.nan
            elif height == top and not rising and above:
                left_top, above = moment, False
                if not math.isnan(reached_top):
                    holds.append(moment - reached_top)
            elif height == foot and not rising and not math.isnan(left_top):
                drains.append(moment - left_top)
                left_top = math.nan
    filled, held, drained = (median(one) if one else None for one in (fills, holds, drains))
    return BedCourse(name, len(fills), filled, held, drained, course.vessels[name].highest - layout.vessels[name].base)


def _usual(levels: Sequence[float]) -> tuple[float, float]:
    """The middle one of the lowest levels between floods, and of the highest of them, each beyond the middle of all [m]."""
    middle = 0.5 * (min(levels) + max(levels))
    ends: dict[bool, list[float]] = {False: [], True: []}
    for above, stay in groupby(levels, lambda level: level > middle):
        heights = list(stay)
        ends[above].append(max(heights) if above else min(heights))
    return median(ends[False]), median(ends[True])


def what_goes_wrong(layout: Layout, course: Course) -> tuple[Finding, ...]:
    """Say what goes wrong in a day.

    Returns:
        Findings, the worst first.
    """
    over = [one for name in course.vessels for one in overtops(layout, course, name)]
    found = [
        *over,
        *_cut(layout, course),
        *_runs_dry(layout, course),
        *_siphons(layout, course),
        *_starts(layout, course),
        *_switches(layout, course),
        *_beds(layout, course),
    ]
    order = ("fail", "warn", "advice")
    return tuple(sorted(found, key=lambda one: (order.index(one.level), -one.weight)))


def overtops(layout: Layout, course: Course, name: str) -> Iterator[Finding]:
    """Say of a vessel that it runs over its rim, and when."""
    vessel = course.vessels[name]
    if vessel.spilt <= 1e-5:
        return
    times = [event.time for event in course.events if event.kind == "overtops" and event.where == name]
    when, rim = times[0] if times else 0.0, layout.vessels[name].rim
    once = len(times) < 2 and rim is not None and vessel.level[-1] < layout.vessels[name].base + rim
    comes, less = _from_outside(layout, course.water.added, vessel.spilt, {})
    yield finding(
        "day-overtops",
        f"'{name}' runs over its rim{' once' if once else ', first'} at {_clock(when)}: {show(vessel.spilt, 'volume', layout.units)} in "
        f"{'all, and not again in ' if once else ''}{course.times[-1] / 3600.0:.3g} h{comes}.",
        f"a way out of '{name}' that takes it: an overflow under its rim, or a larger drain; or {less}",
        vessel=name,
    )


def _from_outside(layout: Layout, added: float, spilt: float, rests: Mapping[str, float]) -> tuple[str, str]:
    """What to say of water that came in from outside where it is half of what runs over, or more; and what would be less. `rests` are levels
    after a power cut [m above the datum]."""
    if added < 0.5 * spilt:
        return "", "less water in the system"
    floats = [(end.name or "", end.float_valve) for end in layout.ends.values() if end.float_valve is not None]
    for name, height in floats:
        vessel = layout.vessels[name]
        if rests.get(name, math.inf) < vessel.base + height - REACHED:
            less = f"a top-up that does not run into '{name}', which drains while the pumps stand, so that its float valve stays open"
            break
    else:
        less = (
            f"the float valve in '{floats[0][0]}' lower, so that it stays shut while water stands elsewhere that comes back"
            if floats
            else "less water from outside"
        )
    return f", and {show(added, 'volume', layout.units)} come in from outside meanwhile", less


def _cut(layout: Layout, course: Course) -> Iterator[Finding]:
    cut = course.cut
    if cut is None:
        return
    for name, spilt in cut.spilt.items():
        comes, less = _from_outside(layout, cut.added, spilt, cut.levels)
        yield finding(
            "power-cut-overtops",
            f"If the power fails at {_clock(cut.time)}, when most water stands in the other vessels, '{name}' runs over: "
            f"{show(spilt, 'volume', layout.units)} over its rim in the {cut.hours:g} h after it{comes}.",
            f"a higher rim or a larger '{name}', or an overflow from it to the drain; or {less}",
            vessel=name,
        )


def _runs_dry(layout: Layout, course: Course) -> Iterator[Finding]:
    for name, pump in course.pumps.items():
        if pump.starved <= 1.0:
            continue
        vessel = intakes(layout)[name][0].vessel
        when = next((event.time for event in course.events if event.kind == "sucks air" and event.where == name), 0.0)
        missing = _missing(layout, course, name)
        yield finding(
            "sump-runs-dry",
            f"The intake of pump '{name}' draws air, first at {_clock(when)}: '{vessel}' is pumped down to it, and stays so for "
            f"{pump.starved / 60.0:.0f} min of {course.times[-1] / 3600.0:.3g} h.",
            f"a larger '{vessel}', by {show(missing, 'volume', layout.units)} or more over its intake; or less to fill at a time"
            if missing > 0.0
            else f"more water in '{vessel}', a lower intake, or less to fill at a time",
        )


def _missing(layout: Layout, course: Course, pump: str) -> float:
    """How much more water the beds would take up before their drains run [m³]; none where that is not known."""
    wanted = 0.0
    for line in layout.lines.values():
        end = line.start
        if (
            end.kind != "vessel"
            or end.port != "standpipe"
            or end.name not in course.vessels
            or not _is_bed(layout, end.name or "")
        ):
            continue
        vessel = layout.vessels[end.name or ""]
        wanted += max(end.place[2] - course.vessels[vessel.name].highest, 0.0) * (vessel.area or 0.0)
    return wanted


def _siphons(layout: Layout, course: Course) -> Iterator[Finding]:
    for line in layout.lines.values():
        for side, end in (("from", line.start), ("to", line.end)):
            if end.siphon is not None and end.name in course.vessels:
                yield from _siphon(layout, course, line.name, side, end)


def _siphon(layout: Layout, course: Course, line: str, side: str, end: End) -> Iterator[Finding]:
    name = end.name or ""
    starts = [event.time for event in course.events if event.kind == "siphon starts" and event.where == name]
    stops = [event.time for event in course.events if event.kind == "siphon stops" and event.where == name]
    level = course.vessels[name].level
    flows = course.ends[f"{line}.to"]
    bore = next(one for one in layout.stretches if one.line == line).bore
    full = math.sqrt(GRAVITY * bore) * 0.25 * math.pi * bore**2
    most = max(
        (abs(flow) for flow, height in zip(flows, level, strict=True) if height >= end.place[2] - 1e-3), default=0.0
    )
    units = layout.units
    over = max(level) > end.place[2] + 1e-4
    if not starts and over:
        kind = "siphon-trickles"
        said = (
            f"The siphon in '{name}' never starts: {show(most, 'flow', units)} trickle over its crest, and in "
            f"{show(bore, 'size', units)} of bore it takes {show(CATCHES * full, 'flow', units)} or so to catch."
        )
        cure = f"more flow to '{name}', or a standpipe of smaller bore in its siphon"
    elif not starts and max(level) - max(level[: _half(course)]) < REACHED:
        kind, stands = "siphon-trickles", show(max(level) - layout.vessels[name].base, "length", units)
        said = (
            f"The siphon in '{name}' never starts: its crest stands at {show(end.place[2] - layout.vessels[name].base, 'length', units)}, and the "
            f"water at {stands} at the highest."
        )
        cure = f"its crest under {stands}, or whatever lets the water out of '{name}' there higher"
    elif len(starts) > len(stops) and course.times[-1] - starts[-1] > max(1800.0, 3.0 * _longest(starts, stops)):
        kind, depth = "siphon-runs-on", show(level[-1] - layout.vessels[name].base, "length", units)
        said = (
            f"The siphon in '{name}' started at {_clock(starts[-1])} and never lets go: what comes in keeps up with it, and the "
            f"water stands at {depth}, over the {show(end.siphon.breaks if end.siphon else 0.0, 'length', units)} where it breaks."
        )
        cure = f"less flow to '{name}', or a larger bore or a longer fall in '{line}'"
    elif DOUBTFUL[0] * full < (comes := _comes(layout, course, name, end.place[2], starts)) < DOUBTFUL[1] * full:
        kind = "siphon-in-doubt"
        said = (
            f"Whether the siphon in '{name}' catches is in doubt: {show(comes, 'flow', units)} come to run over its crest, and siphons of "
            f"{show(bore, 'size', units)} bore catch somewhere between {show(DOUBTFUL[0] * full, 'flow', units)} and "
            f"{show(DOUBTFUL[1] * full, 'flow', units)}."
        )
        cure = f"more flow to '{name}', a smaller standpipe, or a bend or a dip at the foot of its drop; and try it"
    else:
        return
    yield finding(kind, said, cure, line=line)


def _half(course: Course) -> int:
    """How many of a day's times are in its first half, at least one."""
    return max(sum(time < 0.5 * course.times[-1] for time in course.times), 1)


def _comes(layout: Layout, course: Course, name: str, crest: float, starts: Sequence[float]) -> float:
    """What comes to a vessel as its water nears a siphon's crest, the middle one of all floods [m³/s]."""
    times, levels, vessel = course.times, course.vessels[name].level, layout.vessels[name]
    gains = []
    for start in starts:
        at = max((i for i, time in enumerate(times) if i > 0 and time < start and levels[i] <= crest), default=0)
        if at and times[at] > times[at - 1]:
            gains.append((content(vessel, levels[at]) - content(vessel, levels[at - 1])) / (times[at] - times[at - 1]))
    return median(gains) if gains else 0.0


def _longest(starts: list[float], stops: list[float]) -> float:
    return max((stop - start for start, stop in zip(starts, stops, strict=False)), default=0.0)


def _starts(layout: Layout, course: Course) -> Iterator[Finding]:
    most = layout.limits["pump starts"]
    hours = course.times[-1] / 3600.0
    for name, pump in course.pumps.items():
        if pump.starts / hours > most:
            yield finding(
                "pump-starts-often",
                f"Pump '{name}' starts {pump.starts / hours:.0f} times an hour: most small pumps are made for {most:.0f} or so.",
                f"a wider gap between the heights at which the switch of '{name}' goes on and off, or longer times on its timer",
            )


def _switches(layout: Layout, course: Course) -> Iterator[Finding]:
    """Switches that never turn their pump on in a day, or never off again."""
    for name, pump in layout.pumps.items():
        switch = pump.switch
        if switch is None or switch.vessel not in course.vessels:
            continue
        # Of a pump that fills a vessel all is as of one that empties it, upside down.
        side, base = (1.0 if switch.on > switch.off else -1.0), layout.vessels[switch.vessel].base
        depths = [side * (level - base) for level in course.vessels[switch.vessel].level]
        on = next((i for i, depth in enumerate(depths) if depth >= side * switch.on - REACHED), None)
        never = "on" if on is None else "off"
        height, nearest = (switch.on, max(depths)) if on is None else (switch.off, min(depths[on:]))
        if on is not None and nearest <= side * switch.off + REACHED:
            continue
        goes = "highest" if (never == "on") == (side > 0.0) else "lowest"
        yield finding(
            "switch-never-trips",
            f"The switch of pump '{name}' never turns it {never}: that it does at {show(height, 'length', layout.units)}, and '{switch.vessel}' stands at "
            f"{show(side * nearest, 'length', layout.units)} at the {goes}.",
            f"a height {'under' if goes == 'highest' else 'over'} {show(side * nearest, 'length', layout.units)} to go {never} at"
            + (f", if '{name}' is not there for another pump to fail" if never == "on" else ""),
        )


def _beds(layout: Layout, course: Course) -> Iterator[Finding]:
    longest = layout.limits["flooded"]
    for bed in bed_courses(layout, course):
        if bed.holds is not None and bed.holds > longest and not _meant_full(layout, course, bed.vessel):
            yield finding(
                "bed-stays-wet",
                f"'{bed.vessel}' stands flooded for {bed.holds / 60.0:.0f} min at a time: roots want air after "
                f"{longest / 60.0:.0f} min or so.",
                "a shorter time on the pump's timer, or a larger drain",
            )
    for name, vessel in layout.vessels.items():
        if (
            vessel.holds != "plants"
            or name not in course.vessels
            or not _timed(layout)
            or _meant_full(layout, course, name)
            or any(end.siphon is not None and end.name == name for end in layout.ends.values())
        ):
            continue
        # The first flood from what is written is none of those that come round.
        later = [
            level
            for time, level in zip(course.times, course.vessels[name].level, strict=True)
            if time > 0.5 * course.times[-1]
        ]
        if max(later) - min(later) > SHALLOW or max(later) - vessel.base <= SHALLOW:
            continue
        yield finding(
            "bed-does-not-drain",
            f"'{name}' does not drain between its floods: it stands between {show(min(later) - vessel.base, 'length', layout.units)} "
            f"and {show(max(later) - vessel.base, 'length', layout.units)} while the pump rests, too.",
            f"a hole near the floor of '{name}', at the foot of its standpipe, or a longer rest for the pump",
        )


def _meant_full(layout: Layout, course: Course, name: str) -> bool:
    """Whether a bed is written as full as it comes to be, or half so: rafts float on it."""
    vessel = layout.vessels[name]
    return vessel.water >= 0.5 * (course.vessels[name].highest - vessel.base)


def _timed(layout: Layout) -> bool:
    return any(pump.runs is not None and pump.runs.off > 0.0 for pump in layout.pumps.values())


def _clock(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 3600:02d}:{whole % 3600 // 60:02d}"
