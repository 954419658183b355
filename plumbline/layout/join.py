"""Joining the walked lines: who meets whom, where everything stands, and whether the places agree."""

from __future__ import annotations

import math
from collections import defaultdict, deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from ..units import show
from .model import Default, End, Leg, Line, Mark, Part, Tee, Units, Vector, Vessel
from .source import Faults
from .statements import EndSaid, Said
from .vectors import NOWHERE, add, angle_between, direction_words, minus, negative, size
from .walk import Walked

__all__ = ["Joined", "join"]

Spot = tuple[str, str]
"""A point that lines share or begin at: ("line", name) for a line's start, ("tee", id), ("pump", name)."""


@dataclass(frozen=True, slots=True)
class Joined:
    """Lines in their places, and the tees that join them."""

    lines: Mapping[str, Line]
    tees: Mapping[str, Tee]


@dataclass(frozen=True, slots=True)
class _Tie:
    """`to` lies at `offset` from `fro`; `mark` and `words` say where the file claims it."""

    fro: Spot
    to: Spot
    offset: Vector
    mark: Mark
    words: str


@dataclass(frozen=True, slots=True)
class _Anchor:
    """The height (and the plan place, where the vessel's is given) of the point at `offset` from `spot`."""

    spot: Spot
    offset: Vector
    height: float
    mark: Mark
    words: str
    at: tuple[float, float] | None = None
    vessel: str | None = None


def join(said: Said, walked: Mapping[str, Walked], faults: Faults, defaults: list[Default]) -> Joined:
    """Resolve every end, place every line, and build the tees. What does not meet is a fault."""
    return _Joiner(said, walked, faults, defaults).whole()


class _Joiner:
    def __init__(
        self, said: Said, walked: Mapping[str, Walked], faults: Faults, defaults: list[Default]
    ) -> None:
        self.said = said
        self.walked = walked
        self.faults = faults
        self.defaults = defaults
        self.tolerance = said.limits["closure"]
        self.units: Units = said.units
        self.tee_parts: dict[str, tuple[str, Part]] = {
            part.id: (name, part)
            for name, line in walked.items()
            for part in line.parts
            if part.kind in ("tee", "wye") and part.id is not None
        }
        self.ties: list[_Tie] = []
        self.anchors: list[_Anchor] = []
        self.places: dict[Spot, Vector] = {}

    def whole(self) -> Joined:
        ends: dict[tuple[str, str], EndSaid] = {}
        for name, line in self.walked.items():
            for side, end in (("from", line.said.start), ("to", line.said.end)):
                if end is not None and (sure := self.resolve(end, name, side)) is not None:
                    ends[name, side] = sure
        self.pump_sides(ends)
        for (name, side), end in ends.items():
            self.pin(name, side, end)
        for tee, (name, part) in self.tee_parts.items():
            self.ties.append(_Tie(("line", name), ("tee", tee), part.start, part.mark,
                                  f"line '{name}' passes it at step {part.step}"))  # fmt: skip
        self.place()
        self.faults.stop()
        lines = {name: self.line(name, ends) for name in self.walked}
        tees = {tee: made for tee in self.tee_parts if (made := self.tee(tee, ends)) is not None}
        self.faults.stop()
        return Joined(lines, tees)

    # ------------------------------------------------------------------ ends

    def resolve(self, end: EndSaid, line: str, side: str) -> EndSaid | None:
        """Find out what a bare word names, and check what a mapping names."""
        said = self.said
        kinds: dict[str, Iterable[str]] = {"vessel": said.vessels, "pump": said.pumps, "tee": self.tee_parts}
        what = "start" if side == "from" else "end"
        if end.word is not None:
            for kind, names in kinds.items():
                if end.word in names:
                    return replace(end, kind=kind, name=end.word)
            names = [name for group in kinds.values() for name in group]
            self.faults.unknown(end.mark, end.word, f"{what} of line '{line}'", [*names, "cap", "plug", "open air"])
            return None
        if end.kind in kinds and end.name not in kinds[end.kind]:
            if end.name is not None:
                self.faults.unknown(end.mark, end.name, f"{end.kind} at the {what} of line '{line}'", kinds[end.kind])
            return None
        return end

    def pump_sides(self, ends: Mapping[tuple[str, str], EndSaid]) -> None:
        """Each pump feeds one line, and is fed by a vessel or by one line."""
        taken: dict[tuple[str, str], Mark] = {}
        for (line, side), end in ends.items():
            if end.kind != "pump" or end.name is None:
                continue
            pump = self.said.pumps[end.name]
            if side == "to" and pump.vessel is not None:
                self.faults.add(end.mark, f"line '{line}' ends at pump '{pump.name}', which stands in "
                                f"'{pump.vessel}'", "a pump without 'in', which takes a suction line")  # fmt: skip
            if (pump.name, side) in taken:
                verb = "fed by" if side == "to" else "feeding"
                self.faults.add(end.mark, f"pump '{pump.name}' is {verb} two lines", "one line, with a tee in it",
                                also=[taken[pump.name, side]])  # fmt: skip
            taken[pump.name, side] = end.mark
        for pump in self.said.pumps.values():
            if pump.vessel is None and ((pump.name, "from") in taken) != ((pump.name, "to") in taken):
                missing = "no line brings it water" if (pump.name, "from") in taken else "it feeds no line"
                self.faults.add(pump.mark, f"pump '{pump.name}': {missing}", "'in' with the vessel it stands in, or "
                                "one line to it and one from it")  # fmt: skip

    def pin(self, name: str, side: str, end: EndSaid) -> None:
        """What an end says about the line's place."""
        line = self.walked[name]
        offset = (0.0, 0.0, 0.0) if side == "from" else line.displacement
        here: Spot = ("line", name)
        what = f"line '{name}' {'begins' if side == 'from' else 'ends'}"
        if end.kind == "tee" and end.name is not None:
            self.ties.append(_Tie(here, ("tee", end.name), offset, end.mark, f"{what} there"))
        elif end.kind == "pump" and end.name is not None:
            self.ties.append(_Tie(here, ("pump", end.name), offset, end.mark, f"{what} there"))
            pump = self.said.pumps[end.name]
            if pump.vessel is not None and pump.vessel in self.said.vessels:
                vessel = self.said.vessels[pump.vessel]
                self.anchors.append(_Anchor(("pump", pump.name), NOWHERE, vessel.base + pump.height, end.mark,
                                            f"pump '{pump.name}' stands in '{vessel.name}'", vessel.at, vessel.name))  # fmt: skip
        elif end.kind == "vessel" and end.name is not None:
            self.pin_vessel(name, side, end, offset)
        elif end.height is not None:
            self.anchors.append(_Anchor(here, offset, end.height, end.mark, what))

    def pin_vessel(self, name: str, side: str, end: EndSaid, offset: Vector) -> None:
        vessel = self.said.vessels[end.name or ""]
        height = end.height
        if height is not None and vessel.rim is not None and height > vessel.rim:
            what = "crest of the standpipe" if end.standpipe else "port"
            self.faults.add(end.mark, f"the {what} in '{vessel.name}' is above its rim",
                            f"a height of at most {show(vessel.rim, 'length', self.units)}", also=[vessel.mark])  # fmt: skip
        if height is None and side == "from":
            height = 0.0
            self.defaults.append(Default(f"line '{name}'", f"it leaves '{vessel.name}' at the floor", "height 0"))
        if height is not None:
            what = f"line '{name}' {'begins' if side == 'from' else 'ends'} at its port in '{vessel.name}'"
            self.anchors.append(_Anchor(("line", name), offset, vessel.base + height, end.mark, what,
                                        vessel.at, vessel.name))  # fmt: skip
        else:
            # The walk alone says where it ends; in plan it is at the vessel.
            self.anchors.append(_Anchor(("line", name), offset, math.nan, end.mark, "", vessel.at, vessel.name))

    # ------------------------------------------------------------------ places

    def place(self) -> None:
        """Give every spot its place: walk the ties, then set each connected group by its anchors."""
        neighbours: dict[Spot, list[tuple[Spot, Vector]]] = defaultdict(list)
        for tie in self.ties:
            neighbours[tie.fro].append((tie.to, tie.offset))
            neighbours[tie.to].append((tie.fro, negative(tie.offset)))
        groups: list[dict[Spot, Vector]] = []
        group_of: dict[Spot, int] = {}
        for name in self.walked:
            start: Spot = ("line", name)
            if start in group_of:
                continue
            group: dict[Spot, Vector] = {start: (0.0, 0.0, 0.0)}
            queue = deque([start])
            while queue:
                spot = queue.popleft()
                for other, offset in neighbours[spot]:
                    if other not in group:
                        group[other] = add(group[spot], offset)
                        queue.append(other)
            group_of.update(dict.fromkeys(group, len(groups)))
            groups.append(group)
        for tie in self.ties:
            group = groups[group_of[tie.fro]]
            miss = minus(add(group[tie.fro], tie.offset), group[tie.to])
            if size(miss) > self.tolerance:
                what = f"{'pump' if tie.to[0] == 'pump' else 'tee'} '{tie.to[1]}'"
                self.faults.add(tie.mark, f"{tie.words}, but misses {what} by {show(size(miss), 'length', self.units)}: "
                                f"it comes out too far {direction_words(miss)}",
                                f"lines that meet within {show(self.tolerance, 'size', self.units)}",
                                also=self.tee_mark(tie.to))  # fmt: skip
        self.set_groups(groups, group_of)

    def tee_mark(self, spot: Spot) -> list[Mark]:
        return [self.tee_parts[spot[1]][1].mark] if spot[0] == "tee" else []

    def set_groups(self, groups: list[dict[Spot, Vector]], group_of: Mapping[Spot, int]) -> None:
        by_group: dict[int, list[_Anchor]] = defaultdict(list)
        for anchor in self.anchors:
            by_group[group_of[anchor.spot]].append(anchor)
        heights = {index: self.height(group, by_group[index]) for index, group in enumerate(groups)}
        plan: dict[str, tuple[float, float]] = {v.name: v.at for v in self.said.vessels.values() if v.at is not None}
        waiting = deque(range(len(groups)))
        patience = len(groups)
        while waiting:
            index = waiting.popleft()
            group, anchors = groups[index], by_group[index]
            known = next((a for a in anchors if a.vessel in plan), None)
            if known is None and patience > 0 and plan and any(a.vessel for a in anchors):
                waiting.append(index)
                patience -= 1
                continue
            patience = len(waiting)
            east, north = 0.0, 0.0
            if known is not None and known.vessel is not None:
                point = add(group[known.spot], known.offset)
                east, north = plan[known.vessel][0] - point[0], plan[known.vessel][1] - point[1]
            shift = (east, north, heights[index])
            for spot, point in group.items():
                self.places[spot] = add(point, shift)
            for anchor in anchors:
                if anchor.vessel is not None and anchor.vessel not in plan:
                    point = add(self.places[anchor.spot], anchor.offset)
                    plan[anchor.vessel] = (point[0], point[1])

    def height(self, group: Mapping[Spot, Vector], anchors: list[_Anchor]) -> float:
        """The height of a group, from its first anchor; the others must agree."""
        firm = [anchor for anchor in anchors if not math.isnan(anchor.height)]
        if not firm:
            name = next(spot[1] for spot in group if spot[0] == "line")
            self.defaults.append(Default(f"line '{name}'", "its walk begins at the site's datum",
                                         "neither of its ends has a height"))  # fmt: skip
            return 0.0
        first = firm[0]
        shift = first.height - add(group[first.spot], first.offset)[2]
        for anchor in firm[1:]:
            miss = add(group[anchor.spot], anchor.offset)[2] + shift - anchor.height
            if abs(miss) > self.tolerance:
                self.faults.add(anchor.mark, f"{anchor.words}, but the walk comes out "
                                f"{show(abs(miss), 'length', self.units)} too {'high' if miss > 0 else 'low'}",
                                f"heights that agree within {show(self.tolerance, 'size', self.units)} (the walk "
                                f"is set by this: {first.words})", also=[first.mark])  # fmt: skip
        return shift

    # ------------------------------------------------------------------ lines and tees

    def line(self, name: str, ends: Mapping[tuple[str, str], EndSaid]) -> Line:
        walked = self.walked[name]
        origin = self.places["line", name]
        parts = tuple(
            replace(part, start=add(part.start, origin), end=add(part.end, origin)) for part in walked.parts
        )
        start = self.end(name, ends[name, "from"], origin, negative(walked.first), walked.pipe_first.bore)
        end = self.end(name, ends[name, "to"], add(origin, walked.displacement), walked.last, walked.pipe_last.bore)
        return Line(name, start, parts, end, walked.length, walked.said.mark)

    def end(self, line: str, said: EndSaid, place: Vector, heading: Vector, bore: float) -> End:
        vessel = self.said.vessels.get(said.name or "") if said.kind == "vessel" else None
        port = None
        if vessel is not None:
            port = "standpipe" if said.standpipe else "port" if said.height is not None else "open"
            if place[2] < vessel.base - self.tolerance:
                low = vessel.base - place[2]
                self.faults.add(said.mark, f"line '{line}' comes out {show(low, 'length', self.units)} below the "
                                f"floor of '{vessel.name}'", "an end at or above the vessel's floor: the heights of "
                                "the walk and of the vessel do not agree", also=[vessel.mark])  # fmt: skip
        return End(
            kind=said.kind,  # type: ignore[arg-type]
            place=place,
            heading=heading,
            mark=said.mark,
            name=said.name,
            port=port,  # type: ignore[arg-type]
            submerged=vessel is not None and port != "standpipe" and under_water(place[2], vessel),
            draw=said.draw,
            loss=said.loss,
        )

    def tee(self, tee: str, ends: Mapping[tuple[str, str], EndSaid]) -> Tee | None:
        line, part = self.tee_parts[tee]
        joining = [key for key, end in ends.items() if end.kind == "tee" and end.name == tee]
        if len(joining) != 1:
            found = f"nothing joins {part.kind} '{tee}'" if not joining else f"{len(joining)} line ends join '{tee}'"
            hint = "for an opening to clean through, write cap instead" if not joining else ""
            self.faults.add(part.mark, found, "just one line from it or to it, at its third leg", hint=hint,
                            also=[ends[key].mark for key in joining])  # fmt: skip
            return None
        other, side = joining[0]
        walked = self.walked[other]
        legs = [
            Leg(line, "before", negative(part.heading_in), part.pipe),
            Leg(line, "after", part.heading_out, part.pipe_out),
            Leg(other, "from", walked.first, walked.pipe_first)
            if side == "from"
            else Leg(other, "to", negative(walked.last), walked.pipe_last),
        ]
        stated = part.loss if part.loss is not None else ends[other, side].loss
        return self.shape(tee, part, line, legs, stated)

    def shape(self, tee: str, part: Part, line: str, legs: list[Leg], stated: float | None) -> Tee | None:
        """Tell the through-run from the branch by the headings."""
        tolerance = self.said.limits["turn tolerance"]
        place = self.places["tee", tee]
        straight = [
            (legs[a], legs[b], legs[c])
            for a, b, c in ((0, 1, 2), (0, 2, 1), (1, 2, 0))
            if NOWHERE not in (legs[a].heading, legs[b].heading)
            and abs(angle_between(legs[a].heading, legs[b].heading) - math.pi) <= tolerance
        ]
        kind = "wye" if part.kind == "wye" else "tee"
        if not straight or legs[2].heading == NOWHERE:
            if stated is not None:
                return Tee(tee, kind, line, part.step, place, (legs[0], legs[1], legs[2]), math.pi / 2, part.mark, stated)  # type: ignore[arg-type]
            ways = ", ".join(direction_words(leg.heading) for leg in legs)
            self.faults.add(part.mark, f"no two legs of {kind} '{tee}' are in line (they go {ways})",
                            "a straight through-run and one branch, or a stated K")  # fmt: skip
            return None
        first, second, branch = straight[0]
        angle = angle_between(second.heading, branch.heading)
        if angle > math.pi / 2:
            first, second, angle = second, first, angle_between(first.heading, branch.heading)
        degrees = math.degrees(angle)
        wanted = (20.0, 75.0) if kind == "wye" else (90.0 - math.degrees(tolerance), 90.0 + math.degrees(tolerance))
        if stated is None and not wanted[0] - 1e-9 <= degrees <= wanted[1] + 1e-9:
            hint = f"for a branch that leaves {direction_words(branch.heading)} write wye" if kind == "tee" and (
                degrees > 20.0) else ""  # fmt: skip
            self.faults.add(part.mark, f"the branch of {kind} '{tee}' leaves at {degrees:.0f}°",
                            "90° for a tee, about 45° for a wye", hint=hint)  # fmt: skip
            return None
        return Tee(tee, kind, line, part.step, place, (first, second, branch), angle, part.mark, stated)  # type: ignore[arg-type]


def under_water(height: float, vessel: Vessel) -> bool:
    """Whether a pipe end at that height is below the vessel's normal water."""
    return height < vessel.level - 1e-9


