"""The energy line and the hydraulic grade line along each route, as data: distance, height and heads at every part.

Total head falls along the flow, save at pumps, and at a tee where a faster stream drives a slower one. Static head is what
is left of it after the velocity head, and pressure head what is left after the pipe's own height: below zero, the water
is under less pressure than the air.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ..layout.model import NO_PIPE, End, Layout, Part, Stretch
from ..water import GRAVITY
from .fittings import end_k, stretch_ks, velocity_head
from .flows import Flows, RouteLedger
from .read_back import heads_along
from .routes import ledger_name
from .spray_bar import bar_of, capped_bar, end_head
from .stretches import end_bores

__all__ = ["GradeLine", "GradePoint", "Place", "grade_lines", "stretch_grade"]


_SAME = 1e-9
_FALL = 1e-6


@dataclass(frozen=True, slots=True)
class GradePoint:
    """One place on a route.

    `after` says what the water has just passed, in the words of the route's ledger; `line` and `step` say where that is.
    `at` [m] is the developed length from the source; `height` [m above the datum] the pipe's axis, or the water's surface in
    a vessel; `total` and `static` [m above the datum] the heads; `vented` is True in a drain that takes air in.
    """

    after: str
    line: str
    step: int
    at: float
    height: float
    total: float
    static: float
    vented: bool = False

    @property
    def pressure(self) -> float:
        """Pressure head over the air's [m of water]."""
        return self.static - self.height


@dataclass(frozen=True, slots=True)
class GradeLine:
    """One route from `source` to `end` ("LINE.to"), as in its `RouteLedger`. Two points with the same `at` make a step."""

    source: str
    end: str
    vessel: str | None
    points: tuple[GradePoint, ...]


Place = tuple[Part | None, float, float, float]
"""A side of a part in a stretch: the part before, or None at the tail; height, total head and static head [m above the datum]."""


def stretch_grade(layout: Layout, flows: Flows, stretch: Stretch) -> list[Place]:
    """Find the heads along one stretch.

    From its downstream end up: head before a part = head after it + what it loses; in a drain that takes air in not below
    the pipe's axis and the velocity head.

    Returns:
        Both sides of each part, in the order of the walk; where the bore changes without a part, a place stands twice; NaN where nothing fixes the heads. In still water, the head at its tail.
    """
    got = flows.stretches[stretch.id]
    forward = got.flow >= 0.0
    nu = layout.water.viscosity / layout.water.density
    spray = capped_bar(layout, stretch)
    bores = end_bores(stretch)
    halves = [
        0.0 if got.vented else _half_of_tee(layout, point) * velocity_head(got.flow, bore, GRAVITY)
        for point, bore in zip((stretch.tail, stretch.head), bores, strict=True)
    ]
    head = got.head_head + halves[1] if forward else got.head_tail + halves[0]
    bar = None if spray is None else bar_of(layout, spray)
    totals = heads_along(stretch, stretch_ks(layout)[stretch.id], got.flow, head, got.vented, nu, bar)
    if forward:
        totals.reverse()
    return _places(stretch, got.flow, totals)


def _places(stretch: Stretch, flow: float, totals: list[float]) -> list[Place]:
    if not stretch.parts:
        return []
    first = stretch.parts[0]
    before = velocity_head(flow, first.pipe.bore, GRAVITY)
    places: list[Place] = [(None, first.start[2], totals[0], totals[0] - before)]
    for part, start, stop in zip(stretch.parts, totals, totals[1:], strict=False):
        speed_in, speed_out = (velocity_head(flow, pipe.bore, GRAVITY) for pipe in (part.pipe, part.pipe_out))
        if abs(speed_in - before) > _SAME:
            places.append((places[-1][0], part.start[2], start, start - speed_in))
        places.append((part, part.end[2], stop, stop - speed_out))
        before = speed_out
    return places


def _half_of_tee(layout: Layout, point: str) -> float:
    """Half of a tee's stated K: each leg takes so much."""
    tee = layout.tees.get(point)
    return 0.5 * (tee.loss or 0.0) if tee is not None else 0.0


def grade_lines(layout: Layout, flows: Flows) -> tuple[GradeLine, ...]:
    """Follow the total and the static head along every route of `flows`.

    Returns:
        One line for each route, in the same order. From first point to last the total head changes by the heads of the pumps
        passed, less the losses of the route's ledger.

    At the closed end of a spray bar there is no velocity head left but in the jets; in a part-full drain that of the full pipe.
    """
    tracer = _Tracer(layout, flows)
    return tuple(tracer.follow(route) for route in flows.routes)


class _Tracer:
    def __init__(self, layout: Layout, flows: Flows) -> None:
        self.layout = layout
        self.flows = flows
        self.ends = layout.ends

    def follow(self, route: RouteLedger) -> GradeLine:
        points: list[GradePoint] = []
        first, out = route.way[0]
        self.begin(points, first, 1 - out)
        for stretch, side in route.way:
            self.along(points, stretch, side)
        self.finish(points, *route.way[-1])
        return GradeLine(route.source, route.end, route.vessel, tuple(points))

    # ------------------------------------------------------------------ the points

    def begin(self, points: list[GradePoint], stretch: Stretch, side: int) -> None:
        point = stretch.head if side else stretch.tail
        pump = self.layout.pumps.get(point.removesuffix(".out"))
        if pump is not None and pump.vessel is not None:
            level = self.flows.stands(self.layout.vessels[pump.vessel])
            points.append(GradePoint(f"'{pump.vessel}'", stretch.line, 0, 0.0, level, level, level))
            return
        end = self.end_at(stretch, side)
        if end is None or end.kind != "vessel":
            return
        name = end.name or ""
        level = self.flows.stands(self.layout.vessels[name])
        if self.flows.vessels[name].level is None:
            k, _ = end_k(end)
            level = self.inside(stretch, side) + k * self.speed_head(stretch, side)
        points.append(GradePoint(f"'{name}'", stretch.line, 0, 0.0, level, level, level))

    def along(self, points: list[GradePoint], stretch: Stretch, out: int) -> None:
        """A stretch in the direction of its flow, with the step at its upstream point."""
        places = stretch_grade(self.layout, self.flows, stretch)
        vented = self.flows.stretches[stretch.id].vented
        at = points[-1].at if points else 0.0
        # Over a siphon's crest water comes part-full, and not at the full pipe's speed: it has no more head than what stands before it.
        begins = self.end_at(stretch, 1 - out)
        most = points[-1].total if points and begins is not None and begins.siphon is not None else math.inf
        walked = places if out else places[::-1]
        for i, (before, height, total, static) in enumerate(walked):
            line, step = stretch.line, 0
            if i == 0:
                after, line, step = self.entering(stretch, 1 - out)
                fallen = self.fallen(points, stretch, 1 - out, total)
                if fallen is not None:
                    points.append(replace(fallen, line=line, at=at))
                    after = "falls freely, part-full"
                if not after and abs(points[-1].total - total) < _SAME and abs(points[-1].static - static) < _SAME:
                    continue
                after = after or "change of bore"
            elif before is walked[i - 1][0]:
                after = "change of bore"
            else:
                # A place knows the part before it in the walk; against the walk that is the one ahead.
                part = before if out else walked[i - 1][0]
                assert part is not None
                after, step = ledger_name(part), part.step
                at += part.length
            points.append(GradePoint(after, line, step, at, height, min(total, most), min(static, most), vented))

    def entering(self, stretch: Stretch, side: int) -> tuple[str, str, int]:
        """What stands at the upstream point of a stretch, and its line and step; "" for a mere joint."""
        point = stretch.head if side else stretch.tail
        pump = point.removesuffix(".out")
        if pump != point and pump in self.flows.pumps:
            return f"pump {pump}", stretch.line, 0
        tee = self.layout.tees.get(point)
        if tee is not None:
            return tee.called, tee.line, tee.step
        return "entrance" if self.end_at(stretch, side) is not None else "", stretch.line, 0

    def fallen(self, points: list[GradePoint], stretch: Stretch, side: int, total: float) -> GradePoint | None:
        """The place in a vessel's way out from which its water falls, where what stands over the mouth is more than goes in."""
        end = self.end_at(stretch, side)
        if end is None or not points:
            return None
        speed = self.speed_head(stretch, side)
        inside = points[-1].total - end_k(end)[0] * speed
        if inside - total <= _FALL:
            return None
        return GradePoint("entrance", stretch.line, 0, 0.0, end.place[2], inside, inside - speed, True)

    def finish(self, points: list[GradePoint], stretch: Stretch, out: int) -> None:
        """What lies outside the outlet: the water's surface, or the place where the jet has lost its speed."""
        end = self.end_at(stretch, out)
        spray = capped_bar(self.layout, stretch) if out else None
        if spray is not None:
            lost, step = end_head(bar_of(self.layout, spray), self.flows.stretches[stretch.id].flow), spray.step
        elif end is not None and end.kind in ("vessel", "open air"):
            # Water that falls over a wall has no pipe to lose its speed at.
            bare = bool(stretch.parts) and stretch.parts[0].pipe.name == NO_PIPE
            lost = 0.0 if bare else end_k(end)[1] * self.speed_head(stretch, out)
            step = stretch.parts[-1].step if out and stretch.parts else 0
        else:
            return
        outside = self.inside(stretch, out) - lost
        last = points[-1]
        points.append(GradePoint("speed lost at the end", stretch.line, step, last.at, outside, outside, outside))

    def end_at(self, stretch: Stretch, side: int) -> End | None:
        return self.ends.get(stretch.head if side else stretch.tail)

    def inside(self, stretch: Stretch, side: int) -> float:
        got = self.flows.stretches[stretch.id]
        return got.head_head if side else got.head_tail

    def speed_head(self, stretch: Stretch, side: int) -> float:
        return velocity_head(self.flows.stretches[stretch.id].flow, end_bores(stretch)[side], GRAVITY)
