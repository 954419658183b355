"""Walking a line: every step gets its place, its heading and its turn, from the line's own start at (0, 0, 0)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from .. import catalogue
from .model import Default, Mark, Part, Pipe, Vector
from .source import Faults
from .statements import FittingSaid, LineSaid, RunSaid, StepSaid
from .vectors import NOWHERE, add, angle_between, bent, direction_words, negative, size, turned, unit

__all__ = ["Walked", "walk_line"]

_FLEXIBLE: Mapping[str, tuple[float, ...]] = {
    "tee": (0.0, 90.0), "wye": (0.0, 45.0, 135.0), "cap": (0.0, 90.0, 45.0), "fitting": (),
}  # fmt: skip
"""Fittings that take their turn from the walk, and the turns they come in [deg]; none listed means any."""


@dataclass(frozen=True, slots=True)
class Walked:
    """A line walked from (0, 0, 0). `first` and `last` are its headings at start and end, NOWHERE where it has no run."""

    said: LineSaid
    parts: tuple[Part, ...]
    first: Vector
    last: Vector
    displacement: Vector
    length: float
    pipe_first: Pipe
    pipe_last: Pipe


def walk_line(said: LineSaid, limits: Mapping[str, float], faults: Faults, defaults: list[Default]) -> Walked | None:
    """Walk a line; None where its pipe is not known."""
    return _Walk(said, limits, faults, defaults).whole()


class _Walk:
    def __init__(
        self, said: LineSaid, limits: Mapping[str, float], faults: Faults, defaults: list[Default]
    ) -> None:
        self.said = said
        self.faults = faults
        self.defaults = defaults
        self.tolerance = limits["turn tolerance"]
        self.here: Vector = NOWHERE
        self.along = 0.0
        self.parts: list[Part] = []

    def whole(self) -> Walked | None:
        steps = self.said.steps
        pipes = self.pipes(steps)
        if pipes is None:
            return None
        runs = [index for index, step in enumerate(steps) if isinstance(step, RunSaid)]
        headings = {index: unit(steps[index].displacement) for index in runs}  # type: ignore[union-attr]
        before: int | None = None
        for after in [*runs, None]:
            group = range(0 if before is None else before + 1, len(steps) if after is None else after)
            self.corner(before, group, after, headings, pipes)
            if after is not None:
                self.run(after, headings[after], pipes[after])
                before = after
        return Walked(
            said=self.said,
            parts=tuple(self.parts),
            first=self.parts[0].heading_in if self.parts else NOWHERE,
            last=self.parts[-1].heading_out if self.parts else NOWHERE,
            displacement=self.here,
            length=self.along,
            pipe_first=self.parts[0].pipe if self.parts else pipes[-1],
            pipe_last=self.parts[-1].pipe_out if self.parts else pipes[-1],
        )

    # ------------------------------------------------------------------ pipes

    def pipes(self, steps: Sequence[StepSaid]) -> dict[int, Pipe] | None:
        """The pipe at each step (the one before it, for a fitting); key −1 is the line's own."""
        current = self.said.pipe
        pipes: dict[int, Pipe] = {}
        unknown = False
        for index, step in enumerate(steps):
            if isinstance(step, RunSaid):
                pipe = step.pipe or current
                if pipe is None:
                    self.faults.add(step.mark, f"line '{self.said.name}' does not say what pipe this run is of",
                                    "'pipe' on the line, for instance pipe: pvc 25, or on the run")  # fmt: skip
                    unknown = True
                    continue
                current = current or pipe
                pipes[index] = pipe
            elif step.to is not None:
                if current is not None:
                    pipes[index] = current
                current = step.to
        if unknown:
            return None
        first = self.said.pipe or next(iter(pipes.values()), current)
        if first is None:
            self.faults.add(self.said.mark, f"line '{self.said.name}' does not say what pipe it is of",
                            "'pipe' on the line, for instance pipe: pvc 25")  # fmt: skip
            return None
        latest = pipes.get(0, first)
        for index, step in enumerate(steps):
            pipes.setdefault(index, latest)
            latest = step.to if isinstance(step, FittingSaid) and step.to is not None else pipes[index]
        pipes[-1] = first
        return pipes

    # ------------------------------------------------------------------ runs

    def run(self, index: int, heading: Vector, pipe: Pipe) -> None:
        step = self.said.steps[index]
        assert isinstance(step, RunSaid)
        self.change_of_bore(index, heading, pipe, step.mark)
        length = step.details.get("length", size(step.displacement))
        end = add(self.here, step.displacement)
        self.parts.append(
            Part(step.kind, index + 1, self.here, end, heading, heading, 0.0, length, self.along, pipe, pipe,
                 step.mark, vessel=step.vessel, details=step.details)
        )  # fmt: skip
        self.here = end
        self.along += length

    def change_of_bore(self, index: int, heading: Vector, pipe: Pipe, mark: Mark) -> None:
        """Where two runs of unlike pipe meet without a reducer, put in a sudden one, and say so."""
        if not self.parts or self.parts[-1].pipe_out.bore == pipe.bore:
            return
        before = self.parts[-1].pipe_out
        kind = "reducer" if pipe.bore < before.bore else "expander"
        self.defaults.append(
            Default(f"line '{self.said.name}', step {index + 1}", f"a sudden {kind} from {before.name} to {pipe.name}",
                    "the pipe changes and no fitting is given")
        )  # fmt: skip
        self.parts.append(
            Part(kind, index + 1, self.here, self.here, heading, heading, 0.0, 0.0, self.along, before, pipe, mark)
        )

    # ------------------------------------------------------------------ corners

    def corner(
        self, before: int | None, group: range, after: int | None, headings: Mapping[int, Vector],
        pipes: Mapping[int, Pipe],
    ) -> None:  # fmt: skip
        """Place the fittings between two runs, and share the turn among them."""
        fittings = [step for index in group if isinstance(step := self.said.steps[index], FittingSaid)]
        nominal = [self.nominal(step) for step in fittings]
        fixed = sum(turn for turn in nominal if turn is not None)
        into, out = self.headings(before, after, headings, fixed)
        turns = self.share(before, after, fittings, nominal, fixed, into, out)
        total = sum(turns)
        passed = 0.0
        for index, step, turn in zip(group, fittings, turns, strict=True):
            start = turned(into, out, passed / total) if total > 0.0 else into
            passed += turn
            end = turned(into, out, passed / total) if total > 0.0 else (out if out != NOWHERE else into)
            self.fitting(index, step, start, end, turn, pipes[index])

    def nominal(self, step: FittingSaid) -> float | None:
        """The turn a fitting is made with [rad]; None where the walk decides."""
        if step.kind in _FLEXIBLE:
            return None
        if step.angle is not None and step.kind == "bend":
            return step.angle
        return catalogue.fittings()[step.kind].turn or 0.0

    def headings(
        self, before: int | None, after: int | None, headings: Mapping[int, Vector], fixed: float
    ) -> tuple[Vector, Vector]:
        """Headings into and out of a corner; at a line's end without a run beyond, one is taken."""
        into = headings[before] if before is not None else NOWHERE
        out = headings[after] if after is not None else NOWHERE
        where = f"line '{self.said.name}'"
        if into == NOWHERE and out != NOWHERE:
            into = bent(out, fixed, (0.0, 0.0, 1.0))
            if fixed > 0.0:
                into = negative(bent(negative(out), fixed, (0.0, 0.0, -1.0)))
                self.defaults.append(Default(where, f"its first fitting is entered going {direction_words(into)}",
                                             "no run stands before it"))  # fmt: skip
        elif out == NOWHERE and into != NOWHERE:
            out = bent(into, fixed, (0.0, 0.0, -1.0)) if fixed > 0.0 else into
            if fixed > 0.0:
                self.defaults.append(Default(where, f"its last fitting points {direction_words(out)}",
                                             "no run follows it"))  # fmt: skip
        return into, out

    def share(
        self, before: int | None, after: int | None, fittings: Sequence[FittingSaid], nominal: Sequence[float | None],
        fixed: float, into: Vector, out: Vector,
    ) -> list[float]:  # fmt: skip
        """Each fitting's share of the turn; a corner that the fittings do not make is a fault."""
        steps = self.said.steps
        angle = angle_between(into, out) if into != NOWHERE else 0.0
        free = [index for index, turn in enumerate(nominal) if turn is None]
        turns = [turn if turn is not None else 0.0 for turn in nominal]
        if before is None or after is None:
            return turns
        marks = [steps[before].mark, steps[after].mark]
        said = f"{direction_words(steps[before].displacement)} to {direction_words(steps[after].displacement)}"  # type: ignore[union-attr]
        if not fittings or (fixed == 0.0 and not free):
            soft = any(isinstance(steps[i], RunSaid) and steps[i].kind == "hose" for i in (before, after))
            if angle > self.tolerance and not soft:
                what = f"a corner without a fitting: the walk turns {math.degrees(angle):.0f}°, from {said}"
                if angle > math.radians(175.0):
                    what = f"the walk doubles back on itself, from {said}"
                self.faults.add(marks[1], what, "an elbow, a sweep, bends, a tee or a cap between the two runs",
                                also=marks[:1])  # fmt: skip
            return [angle if i == 0 and angle <= self.tolerance else 0.0 for i in range(len(fittings))]
        rest = angle - fixed
        if free:
            makes = self.allowed(fittings[free[0]], rest)
            turns[free[0]] = max(rest, 0.0)
            if makes and rest > -self.tolerance:
                return turns
            step = fittings[free[0]]
            found = (f"the {step.kind} would have to turn {math.degrees(rest):.0f}°: the walk turns "
                     f"{math.degrees(angle):.0f}°, from {said}")  # fmt: skip
            ways = " or ".join(f"{turn:.0f}°" for turn in _FLEXIBLE[step.kind]) or "any turn"
            self.faults.add(step.mark, found, f"a {step.kind} comes in {ways}", also=marks)
            return turns
        if abs(rest) > self.tolerance:
            step = next(s for s, turn in zip(fittings, nominal, strict=True) if turn)
            together = "together " if len([t for t in nominal if t]) > 1 else ""
            name = step.kind if not together else "fittings here"
            found = (f"the {name} {'turn' if together else 'turns'} {together}{math.degrees(fixed):g}°, but the walk "
                     f"turns {math.degrees(angle):.0f}° here, from {said}")  # fmt: skip
            self.faults.add(step.mark, found, "runs and fittings that agree; two corners in different planes need a "
                            "run between them", also=marks)  # fmt: skip
            return turns
        return [turn * angle / fixed for turn in turns]

    def allowed(self, step: FittingSaid, turn: float) -> bool:
        ways = _FLEXIBLE[step.kind]
        return not ways or any(abs(turn - math.radians(way)) <= self.tolerance for way in ways)

    # ------------------------------------------------------------------ fittings

    def fitting(self, index: int, step: FittingSaid, into: Vector, out: Vector, turn: float, pipe: Pipe) -> None:
        after = step.to or pipe
        kind = step.kind
        if kind in ("reducer", "expander") and step.to is not None:
            right = "reducer" if after.bore < pipe.bore else "expander"
            if after.bore == pipe.bore or right != kind:
                what = "does not change the bore" if after.bore == pipe.bore else f"is an {right}" if (
                    right == "expander") else f"is a {right}"  # fmt: skip
                self.faults.add(step.mark, f"the {kind} from {pipe.name} to {after.name} {what}",
                                f"a {'smaller' if kind == 'reducer' else 'larger'} pipe to go on in")  # fmt: skip
        details = {} if step.kv is None else {"Kv": step.kv}
        if step.angle is not None and kind in ("reducer", "expander"):
            details["angle"] = step.angle
        part = Part(kind, index + 1, self.here, self.here, into, out, turn, 0.0, self.along, pipe, after, step.mark,
                    id=step.id, loss=step.loss, opening=step.opening, details=details)  # fmt: skip
        self.parts.append(replace(part, faces=self.faces(step, part)) if kind == "cap" else part)

    def faces(self, step: FittingSaid, part: Part) -> Vector | None:
        """Which way a cap opens: as stated, or along the leg it most helps."""
        into, out = part.heading_in, part.heading_out
        corner = part.turn > math.radians(10.0)
        if step.faces is None:
            faces = negative(out) if corner else bent(out, math.pi / 2, (0.0, 0.0, 1.0)) if out != NOWHERE else None
            if faces is not None:
                self.defaults.append(Default(f"cap '{step.id}' in line '{self.said.name}'",
                                             f"it faces {direction_words(faces)}", "'faces' left out"))  # fmt: skip
            return faces
        for leg in (negative(into), out):
            if out != NOWHERE and angle_between(step.faces, leg) < math.radians(20.0):
                ways = [negative(out), into] if corner else []
                hint = " or ".join(direction_words(way) for way in ways)
                self.faults.add(step.mark, f"cap '{step.id}' faces {direction_words(step.faces)}, where the pipe runs",
                                f"a way that is free, for instance {hint}" if hint else "a way square to the pipe or "
                                "slanted back from it")  # fmt: skip
                break
        return step.faces
