"""Outlets that jet: the fellows of one clog, it takes more than its share, and its water may land past the bed.

A jet that leaves sideways at v from h above where it lands comes v √(2h/g) far, air left aside (any textbook of mechanics). A bed is as far
across as a round or a square one of its area, and an outlet stands somewhere over it: past the whole of that it surely lands beside.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace

from ..day.moment import Moment, Waters
from ..hydraulics.spray_bar import bar_of
from ..hydraulics.stretches import only_out, pipes_joined
from ..layout.altered import with_end, with_part
from ..layout.model import STEEP_MOUTH, Layout, Line, Part, Vessel
from ..units import show
from ..water import GRAVITY
from .fault import Fault, lengths_of
from .running import Running, first_moment

__all__ = ["JETS", "jet_faults", "lands"]

JETS = ("spray holes blocked", "outlet jets")
"""The kinds of fault that are given here."""


def lands(speed: float, height: float) -> float:
    """How far a level jet comes [m], at a speed [m/s], until it is `height` [m] lower.

    >>> round(lands(2.0, 0.5), 3)
    0.639
    """
    return speed * math.sqrt(2.0 * max(height, 0.0) / GRAVITY)


def across(vessel: Vessel) -> float | None:
    """How far it is over a vessel at the most, from wall to wall [m]: a round one's diameter, a square one's diagonal; None where its area or
    its shape does not tell."""
    if vessel.area is None or vessel.shape == "long":
        return None
    return math.sqrt(4.0 * vessel.area / math.pi) if vessel.shape == "round" else math.sqrt(2.0 * vessel.area)


def jet_faults(running: Running) -> Iterator[Fault]:
    """Give the faults of outlets whose fellows clog: open ends that share a feed, and the last hole of each spray bar."""
    layout = running.layout
    for line in layout.lines.values():
        for part in line.parts:
            if part.kind == "spray bar":
                yield _last_hole(layout, line, part)
    feeds: dict[int, list[Line]] = defaultdict(list)
    pieces = pipes_joined(layout)
    for name, line in layout.lines.items():
        if line.end.kind == "vessel" and only_out(line.end):
            feeds[pieces[name]].append(line)
    last = {one[-1].line: one[-1].id for one in lengths_of(layout)}
    for fellows in feeds.values():
        for line in fellows if len(fellows) > 1 else ():
            if abs(line.end.heading[2]) < STEEP_MOUTH:
                yield _last_end(running, line, frozenset(last[one.name] for one in fellows if one is not line))


def _last_hole(layout: Layout, line: Line, part: Part) -> Fault:
    """All holes of a bar blocked but one."""
    said = f"{part.called} at step {part.step} of '{line.name}'"
    one = {**part.details, "holes": 1.0}
    changed = with_part(layout, line.name, part, details=one)
    fault = Fault("spray holes blocked", f"the {said}", line.name, part.step, f"{line.name} {part.step}", changed)
    vessel = layout.vessels.get(part.vessel or "")
    middle = 0.5 * (part.start[2] + part.end[2])
    if vessel is None or middle <= vessel.level:
        return fault
    moment = first_moment(Waters(changed))
    stretch = next(
        one for one in changed.stretches if one.line == line.name and any(p.kind == "spray bar" for p in one.parts)
    )
    bar = bar_of(layout, part)
    flow = _through(moment, stretch.id)
    speed = flow / (bar.cd * 0.25 * math.pi * bar.hole**2)
    beside = with_part(layout, line.name, part, details=one, vessel=None)
    return _landing(fault, vessel, lands(speed, middle - _surface(vessel)), beside)


def _last_end(running: Running, line: Line, fellows: frozenset[str]) -> Fault:
    """All ends that share a feed blocked but one."""
    layout = running.layout
    said = f"the end of '{line.name}' in '{line.end.name}'"
    fault = Fault("outlet jets", said, line.name, None, line.name, layout, blocked=fellows)
    vessel = layout.vessels[line.end.name or ""]
    stretch = [one for one in layout.stretches if one.line == line.name][-1]
    bore = stretch.parts[-1].pipe_out.bore if stretch.parts else stretch.bore
    speed = _through(running.moment_with(fault), stretch.id) / (0.25 * math.pi * bore**2)
    beside = with_end(layout, line.name, "end", kind="open air", name=None, port=None)
    return _landing(fault, vessel, lands(speed, line.end.place[2] - _surface(vessel)), beside)


def _through(moment: Moment, stretch: str) -> float:
    return abs(float(moment.solution.flows[moment.assembly.links[stretch].at(1)]))


def _surface(vessel: Vessel) -> float:
    """What a jet has to clear [m above the datum]: the rim, or the water where no rim is stated."""
    return vessel.level if vessel.rim is None else vessel.base + vessel.rim


def _landing(fault: Fault, vessel: Vessel, far: float, beside: Layout) -> Fault:
    """A jet with what to say of where it lands; `beside` is the layout in which it surely does so past its vessel."""
    wide, units = across(vessel), beside.units
    comes = f"its jet passes over the rim {show(far, 'length', units)} on"
    if wide is None:
        return replace(fault, note=f"{comes}; whether '{vessel.name}' is so wide cannot be told")
    fault = replace(fault, note=f"{comes}; '{vessel.name}' is at most {show(wide, 'length', units)} across")
    return replace(fault, layout=beside, spills=(f"{fault.line}.to",)) if far > wide else fault
