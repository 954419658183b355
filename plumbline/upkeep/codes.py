"""Rules of plumbing codes on access to drains, where a file chooses one: spacing, turns, upper ends, size and clearance.

The drains are followed with the water, from their upper ends down. A cap, an open end, or a pipe end in a vessel that an arm
reaches is an access; so is a capped branch that leads straight to a tee of the drain. A union is none.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile

from .. import catalogue
from ..catalogue.reading import data
from ..catalogue.rows import CodeRow, CodeRule
from ..catalogued import finding
from ..findings import Finding
from ..hydraulics.flows import Flows
from ..layout.model import Access, Layout, Part, Stretch, Vector
from ..layout.vectors import angle_between
from ..units import show
from .draining import drains_of, parts_with_the_water, runs_forward, seen_from_above
from .words import access_name, degrees

__all__ = ["code_rules"]

HAIR = 1e-9
NOMINAL = 0.9
"""Bores of one nominal size differ by some per cent from series to series; within this share they count as the same."""


@dataclass(frozen=True, slots=True)
class _Here:
    """What lies behind a place, since the last access: `level` [m] of horizontal pipe, `along` [m] of all pipe (infinite
    without an access), horizontal turns `turned` [rad]; `origin` names where that begins, `starts` tells that it is an upper end
    without an access; `heading` of the pipe just passed; `served` tells that the upper end of this level pipe has been seen to."""

    level: float
    along: float
    turned: float
    origin: str
    starts: bool
    served: bool
    heading: Vector | None = None


def code_rules(layout: Layout, flows: Flows) -> tuple[Finding, ...]:
    """Report where the drains break the access rules of the code that the file chooses; nothing where it chooses none."""
    if layout.code is None:
        return ()
    walk = _Walk(layout, flows, catalogue.codes()[layout.code])
    return (*walk.follow(), *walk.sizes(), *walk.clearances())


class _Walk:
    """The drains of a layout, and one code's rules on them."""

    def __init__(self, layout: Layout, flows: Flows, code: CodeRow) -> None:
        self.layout = layout
        self.code = code
        self.rules: dict[str, CodeRule] = {rule.what: rule for rule in code.rules}
        drains = drains_of(layout, flows)
        self.lines = {stretch.line for stretch in drains}
        self.accesses = {
            access.id: access
            for access in layout.accesses
            if access.kind not in ("union", "hose end", "standpipe") and access.line in self.lines
        }
        self.stubs = dict(self._stubs(flows))
        stub_lines = {access.line for access in self.stubs.values()}
        self.ways: list[tuple[Stretch, bool]] = [
            (stretch, runs_forward(stretch, flows)) for stretch in drains if stretch.line not in stub_lines
        ]

    def _stubs(self, flows: Flows) -> Iterator[tuple[str, Access]]:
        """Tees that a capped branch without flow leads to, with its cap."""
        for name in self.lines:
            line = self.layout.lines[name]
            still = all(flows.stretches[s.id].flow == 0.0 for s in self.layout.stretches if s.line == name)
            if still and {line.start.kind, line.end.kind} == {"tee", "cap"}:
                tee, cap = (line.start, line.end) if line.start.kind == "tee" else (line.end, line.start)
                yield tee.name or "", self.accesses[cap.name or ""]

    # ------------------------------------------------------------------ along the water

    def follow(self) -> Iterator[Finding]:
        """Walk all drains downwards and hold them against the rules on spacing, turns and upper ends."""
        into: dict[str, list[_Here]] = defaultdict(list)
        waiting = self._order()
        for stretch, forward in waiting:
            tail, head = (stretch.tail, stretch.head) if forward else (stretch.head, stretch.tail)
            here, found = self._leave(tail, into[tail], stretch, forward)
            yield from found
            for part, heading_in, heading_out in parts_with_the_water(stretch, forward):
                here, found = self._pass(here, stretch, part, heading_in, heading_out, forward)
                yield from found
            into[head].append(here)
            if (
                head in self.accesses
                or head in self.stubs
                or not any(head == (one.tail if ahead else one.head) for one, ahead in self.ways)
            ):
                yield from self._spacing(here, head, stretch)

    def _order(self) -> list[tuple[Stretch, bool]]:
        """The ways, each after all that lead to its beginning; those on a ring in the file's order."""
        left, order = list(self.ways), []
        while left:
            ends = {stretch.head if forward else stretch.tail for stretch, forward in left}
            ready = [way for way in left if (way[0].tail if way[1] else way[0].head) not in ends] or left[:1]
            order += ready
            left = [way for way in left if way not in ready]
        return order

    def _leave(
        self, point: str, before: Sequence[_Here], stretch: Stretch, forward: bool
    ) -> tuple[_Here, list[Finding]]:
        """What lies behind a stretch's beginning: all that comes together there, or an access, or an upper end."""
        if point in self.accesses:
            heading = before[0].heading if before else None
            return _Here(0.0, 0.0, 0.0, self._name(point), False, True, heading), []
        if not before:
            return _Here(0.0, math.inf, 0.0, f"the upper end of '{stretch.line}'", True, False), []
        found: list[Finding] = []
        out = next((heading for _, heading, _ in parts_with_the_water(stretch, forward)), None)
        turned = []
        for here in before:
            if point in self.layout.tees and out is not None and here.heading is not None:
                taken, more = self._turn(here, here.heading, out, stretch, point)
                found += more
                turned.append(taken)
            else:
                turned.append(here)
        worst = max(turned, key=lambda here: here.level / self._apart(here))
        merged = replace(
            worst,
            along=max(here.along for here in turned),
            turned=max(here.turned for here in turned),
            served=True,
        )
        if point in self.stubs:
            cap = self.stubs[point]
            size = self.layout.lines[cap.line].length
            merged = replace(merged, level=size, along=size, turned=0.0, origin=self._name(point), starts=False)
        return merged, found

    def _pass(
        self, here: _Here, stretch: Stretch, part: Part, heading_in: Vector, heading_out: Vector, forward: bool
    ) -> tuple[_Here, list[Finding]]:
        found: list[Finding] = []
        if part.is_pipe:
            if self._is_level(heading_in):
                if not here.served:
                    found += self._upper_end(stretch, part, forward)
                here = replace(here, level=here.level + part.length, served=True)
            elif part.length > 0.0:
                here = replace(here, served=False)
            here = replace(here, along=here.along + part.length)
        elif part.kind != "cap":
            here, found = self._turn(here, heading_in, heading_out, stretch, part)
        return replace(here, heading=heading_out), found

    def _turn(
        self, here: _Here, heading_in: Vector, heading_out: Vector, stretch: Stretch, at: Part | str
    ) -> tuple[_Here, list[Finding]]:
        """Take a turn into account; only horizontal ones count."""
        if not (self._is_level(heading_in) and self._is_level(heading_out)):
            return here, []
        angle = angle_between(seen_from_above(heading_in), seen_from_above(heading_out))
        here = replace(here, turned=here.turned + angle)
        found = []
        if isinstance(at, str):
            tee = self.layout.tees[at]
            where, cure = f"{tee.kind} '{at}'", f"put a cap into '{stretch.line}' beside {tee.kind} '{at}'"
            place = next((part for part in stretch.parts if part.is_pipe), None)
        else:
            where, place = f"the {at.kind} at step {at.step} of '{stretch.line}'", at
            cure = f"put a capped tee in place of {where}"
        one, all_, units = self.rules.get("turn"), self.rules.get("turns"), self.layout.units
        if one is not None and angle > one.turn + HAIR and here.along > one.metres + HAIR:
            near = show(one.metres, "length", units)
            told = {"angle": degrees(angle), "where": where, "near": near, "cure": cure}
            found.append(self._broken("turn", stretch.line, place, **told))
            here = replace(here, along=0.0)
        if all_ is not None and here.turned > all_.turn + HAIR:
            told = {"origin": here.origin, "turned": degrees(here.turned), "most": degrees(all_.turn)}
            found.append(self._broken("turns", stretch.line, place, **told, where=where, cure=cure))
            here = replace(here, turned=0.0)
        return here, found

    def _spacing(self, here: _Here, head: str, stretch: Stretch) -> Iterator[Finding]:
        """Hold what lies behind an access, or the end of a drain, against the rule on spacing."""
        rule, apart = self.rules.get("spacing"), self._apart(here)
        if rule is None or here.level <= apart + HAIR:
            return
        most, between, level = (show(long, "length", self.layout.units) for long in (apart, rule.metres, here.level))
        more = math.ceil((here.level - apart) / rule.metres - HAIR)
        told = {
            "origin": here.origin,
            "end": self._name(head),
            "level": level,
            "most": most,
            "apart": between,
            "caps": "one cap" if more <= 1 else f"{more} caps",
            "first": "" if apart == rule.metres else f", the first no more than {most} from the upper end",
        }
        part = next((part for part in stretch.parts if part.is_pipe), None)
        yield self._broken("spacing", stretch.line, part, **told)

    def _name(self, point: str) -> str:
        """A place in the user's words."""
        access = self.accesses.get(point) or self.stubs.get(point)
        if access is None:
            return "where it ends"
        return f"'{access.id}'" if access.kind == "cap" else access_name(self.layout, access)

    def _upper_end(self, stretch: Stretch, part: Part, forward: bool) -> list[Finding]:
        """Hold the beginning of level pipe without an access there against the rule on upper ends."""
        rule = self.rules.get("upper end")
        parts = self.layout.lines[stretch.line].parts
        number = next(i for i, one in enumerate(parts) if one.step == part.step)
        onward = parts[number:] if forward else parts[number::-1]
        pipe = [one for one in onward if one.is_pipe and one.length > 0.0]
        level = sum(one.length for one in takewhile(lambda one: self._is_level(one.heading_in), pipe))
        if rule is None or level < rule.metres:
            return []
        before = parts[number - 1 : number] if forward else parts[number + 1 : number + 2]
        at = before[0] if before and not before[0].is_pipe else part
        where = (
            f"in place of the {at.kind} at step {at.step}"
            if at is not part
            else f"at the beginning of step {part.step}"
        )
        size = show(level, "length", self.layout.units)
        return [self._broken("upper end", stretch.line, at, level=size, where=where)]

    def _apart(self, here: _Here) -> float:
        rule = self.rules.get("spacing")
        if rule is None:
            return math.inf
        return rule.start if here.starts and rule.start is not None else rule.metres

    def _is_level(self, heading: Vector) -> bool:
        return abs(heading[2]) <= math.sin(self.code.level) + HAIR

    # ------------------------------------------------------------------ at each cap

    def sizes(self) -> Iterator[Finding]:
        """Hold each cap of the drains against the pipe that it serves."""
        rule, units = self.rules.get("size"), self.layout.units
        if rule is None:
            return
        for access in self._caps():
            served = self._served(access)
            largest = min(served, rule.size)
            if access.bore < NOMINAL * largest:
                bore, drain, wide = (show(size, "size", units) for size in (access.bore, served, largest))
                told = {"cap": access.id, "bore": bore, "served": drain, "largest": wide}
                yield self._broken("size", access.line, self._part(access), **told)

    def clearances(self) -> Iterator[Finding]:
        """Hold the room in front of each cap, where the file states it, against the rule."""
        rule, units = self.rules.get("clearance"), self.layout.units
        if rule is None:
            return
        for access in self._caps():
            clear = next((clear for pipe, clear in rule.rows if access.bore <= pipe), None)
            if clear is not None and access.room is not None and access.room < clear - HAIR:
                told = {"room": show(access.room, "size", units), "clear": show(clear, "size", units)}
                yield self._broken("clearance", access.line, self._part(access), cap=access.id, **told)

    def _caps(self) -> Iterator[Access]:
        return (access for access in self.accesses.values() if access.kind == "cap")

    def _served(self, access: Access) -> float:
        """The widest pipe that a cap leads to [m]: that of its own line, and of the drain whose tee its branch joins."""
        line = self.layout.lines[access.line]
        bores = [part.pipe.bore for part in line.parts if part.is_pipe]
        bores += [
            leg.pipe.bore
            for name, stub in self.stubs.items()
            if stub.id == access.id
            for leg in self.layout.tees[name].legs
        ]
        mid_line = 0.0 < access.at < line.length
        return access.bore if mid_line else max(bores, default=access.bore)

    def _part(self, access: Access) -> Part | None:
        return next((part for part in self.layout.lines[access.line].parts if part.step == access.step), None)

    def _broken(self, what: str, line: str, part: Part | None, **told: str) -> Finding:
        """What breaks a rule, by the catalogue's sentence and cure for it."""
        rule, row = self.rules[what], data("broken_rules.yaml")[what]
        said, do = (str(row[text]).format(line=line, **told) for text in ("message", "cure"))
        step = None if part is None else part.step
        cited, source = f"{said} ({self.code.cite(rule)}).", self.code.source_of(rule)
        return finding(str(row["kind"]), cited, do, line=line, step=step, rule=source)
