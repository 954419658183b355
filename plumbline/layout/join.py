"""Joining the walked lines: who meets whom, where everything stands, and what tees they make.

The file may already have faults: then everything that can still be judged is, and nothing else.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

from .. import catalogue
from ..units import show
from .ends import EXPECTED
from .faults import Faults
from .model import STEEP_MOUTH, End, EndStated, Leg, Line, Mark, Part, Tee, Vector, stated
from .places import Anchor, Finder, Places, Spot, Tie
from .spread import WAYS
from .statements import EndSaid, RunSaid, Said
from .tees import Joining, shape_tee
from .vectors import add, negative
from .walk import Walked

__all__ = ["Joined", "join", "places_of"]

_HERE: Vector = (0.0, 0.0, 0.0)
_L_PORT = 2.0


@dataclass(frozen=True, slots=True)
class Joined:
    """Lines in their places, and the tees that join them."""

    lines: Mapping[str, Line]
    tees: Mapping[str, Tee]


def join(said: Said, walked: Mapping[str, Walked], faults: Faults) -> Joined:
    """Resolve every end, place every line, and build the tees.

    Raises:
        LayoutError: when what does not meet, or anything before it, is a fault.
    """
    return _Joiner(said, walked, faults).whole()


def places_of(said: Said, walked: Mapping[str, Walked], faults: Faults) -> Places:
    """Where lines and tees stand, of lines that may lack an end."""
    return _Joiner(said, walked, faults).places()[0]


OUTSIDE = ("open air", "{open air: yes, buried: yes}")
"""What words for what lies outside stand for, as the catalogue's words of the trade have it."""


class _Joiner:
    def __init__(self, said: Said, walked: Mapping[str, Walked], faults: Faults) -> None:
        self.said = said
        self.walked = walked
        self.faults = faults
        self.tee_parts: dict[str, tuple[str, Part]] = {
            part.id: (name, part)
            for name, line in walked.items()
            for part in line.parts
            if part.kind in ("tee", "wye") and part.id is not None
        }
        self.ends: dict[tuple[str, str], EndSaid] = {}
        self.joining: dict[str, list[tuple[str, str]]] = defaultdict(list)
        self.ties: list[Tie] = []
        self.anchors: list[Anchor] = []
        self.straightened: dict[tuple[str, float], Vector] = {}

    def places(self) -> tuple[Places, bool]:
        """Everything's place, and whether every end is known."""
        for name, line in self.walked.items():
            for side, end in (("from", line.said.start), ("to", line.said.end)):
                if end is not None and end.pulls_out and not line.broken:
                    self.check_socket(name, side, end)
                if end is not None and (sure := self.resolve(end, name, side)) is not None:
                    self.ends[name, side] = sure
                    if sure.kind == "tee":
                        self.joining[sure.name or ""].append((name, side))
        all_known = self.said.complete and len(self.ends) == 2 * len(self.walked)
        self.pump_sides(all_known)
        for (name, side), end in self.ends.items():
            if not self.walked[name].broken:
                self.pin(name, side, end)
        for tee, (name, part) in self.tee_parts.items():
            if not self.walked[name].broken:
                passes = f"line '{name}' passes"
                joins = self.joining_mark(tee)
                self.ties.append(Tie(("line", name), ("tee", tee), part.start, part.mark, passes, joins))
        sound = [name for name, line in self.walked.items() if not line.broken]
        starts, closure = [("line", name) for name in sound], self.said.limits["closure"]
        finder = Finder(starts, self.ties, self.anchors, self.said.vessels, closure, self.said.units, self.faults)
        return finder.whole(), all_known

    def whole(self) -> Joined:
        places, all_known = self.places()
        for (name, side), end in self.ends.items():
            if ("line", name) in places.of:
                self.check_floor(name, side, end, places)
        tees = {tee: made for tee in self.tee_parts if (made := self.tee(tee, places, all_known)) is not None}
        self.faults.stop()
        return Joined({name: self.line(name, places) for name in self.walked}, tees)

    # ------------------------------------------------------------------ ends

    def resolve(self, end: EndSaid, line: str, side: str) -> EndSaid | None:
        """Find out what a bare word names, and check what a mapping names."""
        kinds = {"vessel": self.said.vessels, "pump": self.said.pumps, "tee": self.tee_parts}
        where = f"the {'start' if side == 'from' else 'end'} of line '{line}'"
        if end.word is not None:
            for kind, group in kinds.items():
                if end.word in group:
                    return replace(end, kind=kind, name=end.word)
            first, _, rest = end.word.partition(" ")
            if first in kinds and rest:
                self.faults.blurred.add(rest)
                self.faults.add(
                    end.mark,
                    f"{where} is '{end.word}'",
                    EXPECTED,
                    hint=f"write {{{first}: {rest}}}, or just {rest}",
                )
                return None
            # What lies outside is one thing whatever it is called; of a file with a vessel, pump or tee of that name it is that.
            outside = catalogue.trade_words()["ends at"].get(end.word.lower(), "")
            if side == "to" and outside in OUTSIDE:
                buried = "buried" in outside
                self.faults.left_out(
                    f"line '{line}'",
                    f"it runs out in {'the ground' if buried else 'open air'}",
                    f"to: {end.word}, and nothing in the file is called so",
                )
                return replace(end, kind="open air", buried=buried)
            names = [name for group in kinds.values() for name in group]
            self.faults.unknown(
                end.mark,
                end.word,
                "name",
                [*names, "cap", "plug", "open air"],
                where=f" at {where}",
                names=tuple(kinds),
                trade="ends at",
                more=self.for_a_tee(end.word),
            )
            self.faults.blurred.add(end.word)
            return None
        known = kinds.get(end.kind or "")
        if known is not None and (end.name is None or end.name not in known):
            if end.name is not None:
                kind = end.kind or ""
                self.faults.unknown(end.mark, end.name, kind, known, where=f" at {where}", names=(kind,))
            return None
        return end

    def for_a_tee(self, name: str) -> str:
        """What to write where lines meet at a name that no tee has."""
        said = {line: (walked.said.end, walked.said.start) for line, walked in self.walked.items()}
        ends, starts = (
            [line for line, some in said.items() if (end := some[k]) is not None and end.word == name] for k in (0, 1)
        )
        if not (ends and starts and len(ends) + len(starts) > 2):
            return f"for a tee of that name write tee: {name} into the route that it stands in"
        into, on = next(((a, b) for a in ends for b in starts if a != b), (ends[0], starts[0]))
        return (
            f"to meet there at a tee, '{into}' and '{on}' are one line: write tee: {name} behind the last step of '{into}', then the steps "
            f"of '{on}' and its to:; what else meets there begins or ends at {name}"
        )

    def check_socket(self, line: str, side: str, end: EndSaid) -> None:
        """A standpipe that pulls out stands in a socket straight under its crest."""
        if side == "to":
            found = f"the standpipe at the end of line '{line}' pulls out"
            self.faults.add(end.mark, found, "a line that begins at its standpipe's crest")
        elif not any(part.kind == "dry socket" for part in self.walked[line].parts):
            found = f"the standpipe of line '{line}' pulls out, but has no pipe straight down from its crest"
            expected = "a run straight down, to the socket that it stands in"
            self.faults.add(end.mark, found, expected, hint="for instance route: [{down: 0.5 m}, elbow, …]")

    def pump_sides(self, all_known: bool) -> None:
        """Each pump feeds one line, and is fed by a vessel or by one line."""
        taken: dict[tuple[str, str], Mark] = {}
        for (line, side), end in self.ends.items():
            if end.kind != "pump" or end.name is None:
                continue
            pump = self.said.pumps[end.name]
            if side == "to" and pump.vessel is not None:
                found = f"line '{line}' ends at pump '{pump.name}', which stands in '{pump.vessel}'"
                self.faults.add(end.mark, found, "a pump without 'in', which takes a suction line", also=[pump.mark])
            elif (pump.name, side) in taken:
                found = f"pump '{pump.name}' is {'fed by' if side == 'to' else 'feeding'} two lines"
                self.faults.add(end.mark, found, "one line, with a tee in it", also=[taken[pump.name, side]])
            taken.setdefault((pump.name, side), end.mark)
        for pump in self.said.pumps.values():
            if not all_known or pump.name in self.said.unsure or pump.vessel is not None:
                continue
            if (pump.name, "to") not in taken:
                expected = "'in' with the vessel it stands in, or a suction line that ends at it"
                self.faults.add(pump.mark, f"no line brings pump '{pump.name}' water", expected)
            elif (pump.name, "from") not in taken:
                self.faults.add(pump.mark, f"pump '{pump.name}' feeds no line", f"one line with from: {pump.name}")

    def pin(self, name: str, side: str, end: EndSaid) -> None:
        """What an end says about the line's place."""
        offset = _HERE if side == "from" else self.walked[name].displacement
        here: Spot = ("line", name)
        what = f"line '{name}' {'begins' if side == 'from' else 'ends'}"
        if end.kind == "tee" and end.name is not None:
            other = self.tee_parts[end.name][1].mark
            self.ties.append(Tie(here, ("tee", end.name), offset, end.mark, f"{what} at", other))
        elif end.kind == "pump" and end.name is not None:
            pump = self.said.pumps[end.name]
            self.ties.append(Tie(here, ("pump", end.name), offset, end.mark, f"{what} at", pump.mark))
            if pump.vessel is not None and not {pump.name, pump.vessel} & self.said.unsure:
                vessel = self.said.vessels[pump.vessel]
                why = f"pump '{pump.name}' stands in '{vessel.name}'"
                self.anchors.append(Anchor(here, offset, vessel.base + pump.height, end.mark, why, vessel.name))
        elif end.kind == "vessel" and end.name is not None:
            if end.name not in self.said.unsure:
                self.pin_vessel(name, side, end, offset, what)
        elif end.height is not None:
            self.anchors.append(Anchor(here, offset, end.height, end.mark, f"{what} at a stated height"))

    def pin_vessel(self, name: str, side: str, end: EndSaid, offset: Vector, what: str) -> None:
        vessel = self.said.vessels[end.name or ""]
        height = end.height
        if height is not None and vessel.rim is not None and height > vessel.rim:
            what = "crest of the standpipe" if end.mouth == "standpipe" else end.mouth
            found, most = f"the {what} in '{vessel.name}' is above its rim", self.shown(vessel.rim)
            self.faults.add(end.mark, found, f"a height of at most {most}", also=[vessel.mark])
            return
        around = max(end.sleeve or 0.0, (end.siphon.bell or 0.0) if end.siphon else 0.0)
        if vessel.area is not None and math.pi / 4.0 * around**2 > vessel.area:
            found = f"what stands over the standpipe is wider than '{vessel.name}'"
            self.faults.add(end.mark, found, "its bore, for instance bell: 110 mm")
        heading = self.walked[name].first if side == "from" else self.walked[name].last
        if end.overflow and abs(heading[2]) >= STEEP_MOUTH:
            found = f"the overflow of '{vessel.name}' goes through its wall {'down' if side == 'from' else 'up'}wards"
            expected = "a run to the side first, through the wall; or 'standpipe' for a pipe that stands in the water"
            self.faults.add(end.mark, found, expected)
            return
        if height is None and side == "from":
            height = 0.0
            self.faults.left_out(f"line '{name}'", f"it leaves '{vessel.name}' at the floor", "no height given")
        port = "floor" if end.mouth == "port" and end.height is None else end.mouth
        # A bare `to` has no height of its own: the walk alone says where it ends; in plan it is at the vessel.
        level = math.nan if height is None else vessel.base + height
        self.anchors.append(
            Anchor(("line", name), offset, level, end.mark, f"{what} at the {port} of '{vessel.name}'", vessel.name)
        )

    def check_floor(self, name: str, side: str, end: EndSaid, places: Places) -> None:
        """A line cannot end in a vessel below its floor."""
        if end.kind != "vessel" or end.name in self.said.unsure or end.height is not None or side == "from":
            return
        if ("line", name) not in places.sure and self.faults.found:
            return
        vessel = self.said.vessels[end.name or ""]
        low = vessel.base - add(places.of["line", name], self.walked[name].displacement)[2]
        if low > self.said.limits["closure"]:
            found = f"line '{name}' comes out {self.shown(low)} below the floor of '{vessel.name}'"
            expected = "an end at or above the vessel's floor: the heights of the walk and of the vessel do not agree"
            self.faults.add(end.mark, found, expected, also=[vessel.mark])

    def shown(self, length: float) -> str:
        return show(length, "length", self.said.units)

    # ------------------------------------------------------------------ lines and tees

    def line(self, name: str, places: Places) -> Line:
        walked = self.walked[name]
        origin = places.of["line", name]
        parts = tuple(
            self.into_hose(name, replace(part, start=add(part.start, origin), end=add(part.end, origin)))
            for part in walked.parts
        )
        start = self.end(self.ends[name, "from"], origin, negative(walked.first))
        end = self.end(self.ends[name, "to"], add(origin, walked.displacement), walked.last)
        return Line(name, start, parts, end, walked.length, walked.said.mark)

    def end(self, said: EndSaid, place: Vector, heading: Vector) -> End:
        vessel = self.said.vessels.get(said.name or "") if said.kind == "vessel" else None
        port = None
        if vessel is not None:
            spills = said.standpipe or said.overflow
            port = "standpipe" if spills else "port" if said.height is not None else "open"
        return End(
            kind=said.kind,  # type: ignore[arg-type]
            place=place,
            heading=heading,
            mark=said.mark,
            name=said.name,
            port=port,  # type: ignore[arg-type]
            submerged=vessel is not None and port != "standpipe" and place[2] < vessel.level - 1e-9,
            **stated(EndStated, said),
        )

    def goes_on_in_hose(self, line: str, tee: Part) -> bool:
        """Whether hose follows a tee in its line, with nothing but straight fittings between."""
        behind = self.walked[line].parts[self.walked[line].parts.index(tee) + 1 :]
        pipe = next((part for part in behind if part.is_pipe), None)
        return pipe is not None and pipe.kind == "hose" and not any(part.turn for part in behind[: behind.index(pipe)])

    def into_hose(self, line: str, part: Part) -> Part:
        """A fitting beside hose, pointing as the tee there turned out to."""
        ahead = self.straightened.get((line, part.at))
        if ahead is None or part.is_pipe:
            return part
        is_tee = part.kind in ("tee", "wye")
        return replace(part, heading_in=part.heading_in if is_tee else ahead, heading_out=ahead, turn=0.0)

    def joining_mark(self, tee: str) -> Mark:
        keys = self.joining[tee]
        return self.ends[keys[0]].mark if keys else self.tee_parts[tee][1].mark

    def tee(self, tee: str, places: Places, all_known: bool) -> Tee | None:
        line, part = self.tee_parts[tee]
        keys = self.joining[tee]
        if tee in self.said.unsure or (not keys and not all_known):
            return None
        if len(keys) != 1:
            self.not_joined(tee, part, keys)
            return None
        other, side = keys[0]
        joined = self.walked[other]
        if tee in self.walked[line].doubtful or self.walked[line].broken or joined.broken:
            return None
        end, own = self.ends[keys[0]], self.goes_on_in_hose(line, part)
        if part.loss is not None and end.loss is not None and part.loss != end.loss:
            self.faults.add(end.mark, f"a second K for {part.kind} '{tee}'", "one of them", also=[part.mark])
        if side == "from":
            leg = Leg(other, "from", joined.first, joined.pipe_first)
            way = next((step.way for step in joined.said.steps if isinstance(step, RunSaid)), "")
            joining = Joining(leg, joined.loose_first, own, end.mark, way)
        else:
            leg = Leg(other, "to", negative(joined.last), joined.pipe_last)
            joining = Joining(leg, joined.loose_last, own, end.mark)
        loss = end.loss if part.loss is None else part.loss
        tolerance = self.said.limits["turn tolerance"]
        shaped = shape_tee(tee, part, line, places.of["tee", tee], joining, loss, tolerance, self.faults)
        if shaped is None:
            return None
        ahead = next(one.heading for one in shaped.legs if (one.line, one.side) == (line, "after"))
        if ahead != part.heading_out:
            self.straightened[line, part.at] = ahead
        if part.details.get("three-way") == _L_PORT:
            self.l_port(shaped, part)
        return replace(
            shaped,
            cross=int(part.details.get("cross", 0.0)),
            three_way="three-way" in part.details,
            outlet=int(part.details.get("outlet", 0.0)),
        )

    def not_joined(self, tee: str, part: Part, keys: list[tuple[str, str]]) -> None:
        """A tee that not just one line joins, and a cross that not two do."""
        also = [self.ends[key].mark for key in keys]
        if "cross" in part.details:
            cross = tee.rpartition(" ")[0]
            expected = f"two lines with from: {cross} or to: {cross}, one at each side of it"
            self.faults.add(part.mark, f"not two lines join cross '{cross}'", expected, also=also)
            return
        count = f"{len(keys)} line ends join" if keys else "nothing joins"
        expected = f"just one line with from: {tee} or to: {tee}, at its third leg"
        hint = "" if keys else "for an opening to clean through, write cap instead"
        self.faults.add(part.mark, f"{count} {part.kind} '{tee}'", expected, hint=hint, also=also)

    def l_port(self, tee: Tee, part: Part) -> None:
        """The ball of an L port joins the side port to one of the two that are in line, and never those two."""
        shown = {"before": "came", "after": "ahead"}
        legs = [shown.get(leg.side if leg.line == tee.line else "", "side") for leg in tee.legs]
        joins = {
            word: [float(dict(zip(("came", "ahead", "side"), ways, strict=True))[leg]) for leg in legs]
            for word, ways in WAYS.items()
        }
        fits = ([1.0, 0.0, 1.0], [0.0, 1.0, 1.0], [0.0, 0.0, 0.0])
        ways = [part.details[leg] for leg in legs]
        if ways not in fits:
            able = [word for word, opened in joins.items() if opened in fits and any(opened)]
            found = f"three-way valve '{tee.id}' has an L port, which does not open those legs"
            expected = "the side leg and one of the two that are in line; a T port opens any two, or all three"
            hint = f"write port: T; or, if it is an L, what it opens: {', or '.join(able)}"
            self.faults.add(part.mark, found, expected, hint=hint if ways[:2] != [0.0, 0.0] else "")
