"""What a clean sheet knows of a layout: what stays of its lines, names that are free, and pipe by the flow in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from .. import catalogue
from ..catalogue.rows import PipeRow
from ..check import CheckResult
from ..hydraulics.valve_service import adjustable
from ..layout.model import Line, Part, Vector
from ..layout.words import DIRECTIONS
from ..parts.passing import stated
from ..upkeep.tools import tools
from .place import free_name
from .script import read_script

__all__ = ["LEVEL", "OVER", "Head", "Sheet", "Stays", "plain", "series"]

PLAIN = frozenset(
    (
        "run",
        "elbow",
        "sweep",
        "bend",
        "bend 45",
        "bend 22.5",
        "cap",
        "union",
        "tee",
        "wye",
        "dry socket",
        "reducer",
        "expander",
        "check valve",
        "bulkhead",
    )
)
"""What may stand in a line that is laid anew besides valves: all of it can be left out, and valves and bulkheads are put in again where they are
needed."""

SPEED = 1.0
"""Pushed pipe is as wide as keeps the water under this [m/s]: fast enough to keep it clean, slow enough to cost little head
(common practice, no source)."""

OVER = 0.1
"""A pipe that ends in the air ends so far over its vessel's rim [m], where a hand sees what comes."""

LEVEL = tuple(way for way in DIRECTIONS.values() if way[2] == 0.0)


@dataclass(frozen=True)
class Head:
    """What stays of a line behind its pump or its way out, up to the last filter, lamp or the like that stands in it: the `steps` as the file
    has them, and the `place` and `heading` from which it is laid anew."""

    steps: tuple[str, ...]
    place: Vector
    heading: Vector


class Stays(Exception):  # noqa: N818 - a reason to leave pipe as it is, no fault
    """Pipe that stays as it is, and why."""


class Sheet:
    """A layout whose pipe is laid anew."""

    def __init__(self, result: CheckResult) -> None:
        self.layout, self.flows = result.layout, result.flows
        self.script = read_script(result.layout.text)
        self.names = set(result.layout.lines)
        self.ids: set[str] = set()
        self.least = min((tool.bore_min for tool in tools(result.layout.rods)), default=0.0)

    def head(self, line: Line) -> Head:
        """What of a pump's line stays as it is."""
        tee = next((part.step for part in line.parts if part.kind in ("tee", "wye")), math.inf)
        odd = [part for part in line.parts if part.step < tee and (not plain(part) or part.kind == "bulkhead")]
        apart = ("run", "hose", "spray bar", "reducer", "expander")
        known = line.name in self.script.lines and not self.script.lines[line.name].spread
        odd = [part for part in odd if part.at <= line.length / 2.0]
        last = odd[-1] if odd and known and not any(part.kind in apart for part in odd) else None
        if last is None:
            return Head((), line.parts[0].start, line.parts[0].heading_in)
        steps = self.script.lines[line.name].steps[: last.step]
        return Head(tuple(self.script.slice(step) for step in steps), last.end, last.heading_out)

    def refuse(self, line: Line, kept: Sequence[str]) -> None:
        """Raise where a line holds what cannot be laid anew behind what is kept of it."""
        odd = next((p.called for p in line.parts if (not plain(p) and p.step > len(kept)) or p.step == 0), None)
        if odd is not None:
            some = {"run": "has no steps", "spray bar": "has holes along it", "drip line": "has holes along it"}
            raise Stays(some.get(odd, f"has {'an' if odd[0] in 'aeiou' else 'a'} {odd}"))
        if line.name not in self.script.lines or self.script.lines[line.name].spread:
            raise Stays("stands in the file among several of its kind")
        if any(part.around for part in line.parts if part.step > len(kept)):
            raise Stays("lies where nobody gets at it, as the file says")

    def said(self, line: Line, side: str) -> str:
        """An end as the file has it."""
        return self.script.slice(self.script.lines[line.name].keys[side])

    def through(self, line: Line, side: Literal["from", "to"]) -> tuple[str, ...]:
        """The bulkhead that the file has where a line goes through a vessel's wall."""
        end = line.start if side == "from" else line.end
        has = end.kind == "vessel" and stated(line, side, line.start.kind == line.end.kind)
        return ("bulkhead",) if has else ()

    def first_row(self, line: Line, head: Head, row: PipeRow) -> PipeRow:
        """The pipe that a line begins with: that which it has where some of it stays."""
        pipe = any(part.is_pipe and part.step <= len(head.steps) for part in line.parts)
        return self.same_row(line) if pipe else row

    def same_row(self, line: Line) -> PipeRow:
        """The pipe of a line as it is."""
        rows = catalogue.pipes()
        if line.parts[0].pipe.name not in rows:
            raise Stays("is of pipe that the catalogue has not")
        return rows[line.parts[0].pipe.name]

    def by_speed(self, like: str, flow: float, speed: float = SPEED) -> PipeRow:
        """The smallest pipe of a series that keeps a flow [m³/s] under a speed [m/s] and that a rod at hand cleans."""
        rows = [row for row in series(like) if row.bore >= self.least - 1e-9] or series(like)
        return next((row for row in rows if flow <= speed * math.pi / 4.0 * row.bore**2), rows[-1])

    def free(self, name: str) -> str:
        """A name that nothing has yet, as the file says it."""
        said = free_name(self.layout, name)
        while said in self.ids:
            name = f"{name} again"
            said = free_name(self.layout, name)
        self.ids.add(said)
        return said

    def line_name(self, name: str) -> str:
        """A name that no line has yet."""
        while name in self.names:
            name = f"{name} again"
        self.names.add(name)
        return name


def plain(part: Part) -> bool:
    """Whether a part can be left out, or put in again where it is needed."""
    return part.kind in PLAIN or (adjustable(part) and part.runs is None)


def series(like: str) -> list[PipeRow]:
    """The pipes of a series, the smallest first; pvc where a line is of something that has none."""
    name = like if like in catalogue.pipes() and not like.startswith("hose") else "pvc 25"
    return sorted(catalogue.series(name), key=lambda row: row.bore)
