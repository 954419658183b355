"""Walking a line: every step gets its place, its heading and its turn, from the line's own start at (0, 0, 0)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from .. import catalogue
from ..catalogue.loss_laws import FromBores, Jet, Through
from .corners import Turning, headings_through
from .faults import Faults
from .model import NO_PIPE, Mark, Part, Pipe, Step, Vector
from .statements import UNREAD_PIPE, FittingSaid, LineSaid, RunSaid, UnreadSaid
from .vectors import NOWHERE, add, angle_between, bent, direction_words, negative, size, unit

__all__ = ["Walked", "walk_line"]

_UP: Vector = (0.0, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Walked:
    """A line walked from (0, 0, 0). `first` and `last` are its headings at start and end, NOWHERE where it has no run.

    `loose_first` and `loose_last` tell that the heading there was not walked: a hose bends, and a fitting with no run
    before it may point anywhere. `broken` tells that a run could not be read, so that places are lost; `doubtful` are
    the ids of tees at corners with a fault.
    """

    said: LineSaid
    parts: tuple[Part, ...]
    first: Vector
    last: Vector
    displacement: Vector
    length: float
    pipe_first: Pipe
    pipe_last: Pipe
    loose_first: bool = False
    loose_last: bool = False
    broken: bool = False
    doubtful: frozenset[str] = frozenset()


def walk_line(said: LineSaid, limits: Mapping[str, float], faults: Faults) -> Walked:
    """Walk a line. A corner that the fittings do not make, or a line without a pipe, goes to `faults`."""
    return _Walk(said, limits, faults).whole()


class _Walk:
    def __init__(self, said: LineSaid, limits: Mapping[str, float], faults: Faults) -> None:
        self.said = said
        self.faults = faults
        self.tolerance = limits["turn tolerance"]
        self.here: Vector = (0.0, 0.0, 0.0)
        self.along = 0.0
        self.parts: list[Part] = []
        self.laid = (UNREAD_PIPE, UNREAD_PIPE)
        self.doubtful: set[str] = set()

    def whole(self) -> Walked:
        steps = self.said.steps
        pipes, first_pipe = self.pipes()
        lost = [i for i, step in enumerate(steps) if isinstance(step, UnreadSaid) and step.moves]
        moves = sorted([*lost, *(i for i, step in enumerate(steps) if isinstance(step, RunSaid))])
        before: int | None = None
        for after in [*moves, None]:
            between = range(0 if before is None else before + 1, len(steps) if after is None else after)
            self.corner(before, between, after, pipes)
            if after is not None and isinstance(step := steps[after], RunSaid):
                self.run(after, step, pipes[after])
            before = after
        if not self.parts:
            # A line always has a part, so that its pipe is known: here a run of no length.
            self.lay(first_pipe, first_pipe)
            self.parts.append(self.part("run", -1, (NOWHERE, NOWHERE), 0.0, (first_pipe, first_pipe), self.said.mark))
        return Walked(
            said=self.said,
            parts=tuple(self.parts),
            first=self.parts[0].heading_in,
            last=self.parts[-1].heading_out,
            displacement=self.here,
            length=self.along,
            pipe_first=self.laid[0],
            pipe_last=self.laid[1],
            loose_first=self.loose(self.parts),
            loose_last=self.loose(self.parts[::-1]),
            broken=not self.said.whole or bool(lost),
            doubtful=frozenset(self.doubtful),
        )

    @staticmethod
    def loose(parts: list[Part]) -> bool:
        """Whether the heading of the first of the parts was not walked."""
        for part in parts:
            if part.kind == "hose":
                return True
            if part.is_pipe:
                return False
            if part.turn > 0.0:
                return True
        return False

    def number(self, index: int) -> int:
        """The number of a step; 0 for what stands at the line's start because of what it begins at."""
        numbers = self.said.numbers
        number = max(index + 1 - numbers.count(0), 0)
        return Step(number, numbers[index]) if number and numbers[index] != number else number

    def part(
        self, kind: str, index: int, ways: tuple[Vector, Vector], turn: float, pipes: tuple[Pipe, Pipe], mark: Mark
    ) -> Part:
        """A part of no length, here."""
        return Part(kind, self.number(index), self.here, self.here, *ways, turn, 0.0, self.along, *pipes, mark)

    # ------------------------------------------------------------------ pipes

    def pipes(self) -> tuple[list[Pipe], Pipe]:
        """The pipe at each step (the one before it, for a fitting), and the line's first."""
        current = self.said.pipe
        known: list[Pipe | None] = []
        latest: Pipe | None = None
        for step in self.said.steps:
            if isinstance(step, RunSaid):
                if step.pipe is None and current is None:
                    found = f"line '{self.said.name}' does not say what pipe this run is of"
                    expected = "'pipe' on the line, for instance pipe: pvc 25, or on the run"
                    self.faults.add(step.mark, found, expected, also=[self.said.mark])
                    current = UNREAD_PIPE
                latest = step.pipe or current
                current = current or latest
            known.append(latest)
            if isinstance(step, FittingSaid) and step.to is not None:
                if latest is None:
                    known = [pipe or self.said.pipe for pipe in known]
                current = latest = step.to
        first = next((pipe for pipe in known if pipe is not None), self.said.pipe)
        if first is None and not self.said.steps and (wall := self.said.wall) is not None:
            first = Pipe(NO_PIPE, wall.width, 0.0)
        if first is None:
            found = f"line '{self.said.name}' does not say what pipe it is of"
            self.faults.add(self.said.mark, found, "'pipe' on the line, for instance pipe: pvc 25")
            first = UNREAD_PIPE
        return [pipe or first for pipe in known], first

    # ------------------------------------------------------------------ runs

    def run(self, index: int, step: RunSaid, pipe: Pipe) -> None:
        heading = unit(step.displacement)
        self.change_of_bore(index, heading, pipe, step.mark)
        length = step.details.get("length", size(step.displacement))
        end = add(self.here, step.displacement)
        left = self.left_of(step, pipe)
        if step.details.get("hole", 0.0) >= pipe.bore and pipe is not UNREAD_PIPE:
            self.faults.add(step.mark, f"holes as wide as their pipe, {pipe.name}", "holes narrower than the pipe")
        standing = self.standpipe(heading, length) if step.kind == "run" else None
        self.lay(pipe, pipe)
        whole = replace(
            self.part(step.kind, index, (heading, heading), 0.0, (left, left), step.mark),
            end=end,
            length=length,
            vessel=step.vessel,
            details=step.details,
            around=step.around,
        )
        self.parts += [whole] if standing is None else _from_its_socket(whole, standing, f"{self.said.name} standpipe")
        self.here = end
        self.along += length

    def standpipe(self, heading: Vector, length: float) -> float | None:
        """How much of a line's first run [m] is a standpipe that pulls out: down to the floor, or to the run's end above it."""
        start = self.said.start
        if self.parts or start is None or not start.pulls_out or heading[2] > -1.0 + 1e-9:
            return None  # a line that does not begin straight down has no socket: see join
        return min(length, start.height or length)

    def left_of(self, step: RunSaid, pipe: Pipe) -> Pipe:
        """What slime and sludge have left of a run's pipe. They taper off, so that no change of bore is counted at their ends."""
        left = step.details.get("bore left", pipe.bore)
        if left > pipe.bore and pipe is not UNREAD_PIPE:
            self.faults.add(
                step.mark, f"more bore is left than {pipe.name} has", f"at most {1000.0 * pipe.bore:.4g} mm"
            )
        return replace(pipe, bore=min(left, pipe.bore)) if "bore left" in step.details else pipe

    def lay(self, first: Pipe, last: Pipe) -> None:
        """Note the pipe that the line begins in, and that it has come to, as they were new."""
        self.laid = (self.laid[0] if self.parts else first, last)

    def change_of_bore(self, index: int, heading: Vector, pipe: Pipe, mark: Mark) -> None:
        """Where two runs of unlike pipe meet without a reducer, put in a sudden one, and say so."""
        before = self.laid[1]
        if not self.parts or before.bore == pipe.bore or UNREAD_PIPE in (before, pipe):
            return
        if self.parts[-1].kind in ("tee", "wye") or _joins_bores(self.parts[-1]):
            # A tee has its own bore on each leg, and a barb one inside; their losses know them.
            self.parts[-1] = replace(self.parts[-1], pipe_out=pipe)
            return
        kind = "reducer" if pipe.bore < before.bore else "expander"
        where, what = f"line '{self.said.name}', step {self.number(index)}", f"a sudden {kind} from {before.name}"
        self.faults.left_out(where, f"{what} to {pipe.name}", "the pipe changes and no fitting is given")
        self.parts.append(self.part(kind, index, (heading, heading), 0.0, (before, pipe), mark))

    # ------------------------------------------------------------------ fittings

    def corner(self, before: int | None, between: range, after: int | None, pipes: list[Pipe]) -> None:
        steps = self.said.steps
        fittings = [(index, step) for index in between if isinstance(step := steps[index], FittingSaid)]
        sides = [None if side is None else steps[side] for side in (before, after)]
        clear = len(fittings) == len(between) and not any(isinstance(side, UnreadSaid) for side in sides)
        runs = [side if isinstance(side, RunSaid) else None for side in sides]
        corner = Turning(
            [step for _, step in fittings], runs[0], runs[1], self.said.name, self.tolerance, self.faults, clear
        ).corner()
        lengths = [0.0 if run is None else size(run.displacement) for run in runs]
        sound = clear and corner.sound
        arounds = [run.around for run in runs if run is not None]
        for (index, step), ways, turn in zip(fittings, headings_through(corner), corner.turns, strict=True):
            self.fitting(index, step, ways, turn, pipes[index], (lengths[0], lengths[1]), sound)
            self.parts[-1] = replace(self.parts[-1], around=_around(step.kind, arounds))
            if not sound and step.id is not None:
                self.doubtful.add(step.id)

    def fitting(
        self,
        index: int,
        step: FittingSaid,
        ways: tuple[Vector, Vector],
        turn: float,
        pipe: Pipe,
        lengths: tuple[float, float],
        sound: bool,
    ) -> None:
        law = catalogue.fittings()[step.kind].loss
        after = step.to or pipe
        if isinstance(law, FromBores) and UNREAD_PIPE not in (after, pipe):
            self.check_bores(step, pipe, after)
        if isinstance(law, Jet) and "bore" in step.details:
            after = self.jet(index, step, pipe)
        self.lay(pipe, after)
        part = replace(
            self.part(step.kind, index, ways, turn, (pipe, after), step.mark),
            id=step.id,
            loss=step.loss,
            opening=step.opening,
            details=step.details,
            runs=step.runs,
        )
        if step.kind == "cap":
            part = replace(part, faces=self.faces(step, part, lengths, sound))
        self.parts.append(part)

    def jet(self, index: int, step: FittingSaid, pipe: Pipe) -> Pipe:
        """The mouth of a nozzle, which ends its line."""
        bore = step.details["bore"]
        if any(isinstance(other, RunSaid) for other in self.said.steps[index + 1 :]):
            self.faults.add(
                step.mark, f"pipe goes on behind the {step.kind}", f"the {step.kind} as the last step of its line"
            )
        if bore >= pipe.bore:
            self.faults.add(
                step.mark, f"the {step.kind} is as wide as its pipe, {pipe.name}", "a mouth narrower than the pipe"
            )
        return replace(pipe, name=f"{1000.0 * bore:.3g} mm {step.kind}", bore=bore, outside=None)

    def check_bores(self, step: FittingSaid, pipe: Pipe, after: Pipe) -> None:
        right = "reducer" if after.bore < pipe.bore else "expander"
        if after.bore == pipe.bore:
            what, hint = "does not change the bore", ""
        elif right != step.kind:
            what, hint = f"goes to a {'smaller' if right == 'reducer' else 'larger'} bore", f"write {right}"
        else:
            return
        found = f"the {step.kind} from {pipe.name} to {after.name} {what}"
        wanted = "smaller" if step.kind == "reducer" else "larger"
        self.faults.add(step.mark, found, f"a {wanted} pipe to go on in", hint=hint)

    def faces(self, step: FittingSaid, part: Part, lengths: tuple[float, float], sound: bool) -> Vector | None:
        """Which way a cap opens: as stated; else in line with the longer leg of a corner, or square to the pipe."""
        into, out = part.heading_in, part.heading_out
        corner = part.turn > math.radians(10.0)
        if out == NOWHERE:
            return step.faces
        if step.faces is None:
            faces = bent(unit(add(into, out)), math.pi / 2, _UP)
            if corner:
                # In line with either leg, the longer one; of two alike the way that opens upwards.
                longer = lengths[1] - lengths[0]
                choices = sorted((into, negative(out)), key=lambda way: (way[2], way[1], way[0]))
                faces = choices[1] if abs(longer) < 1e-9 else negative(out) if longer > 0.0 else into
            where = f"cap '{step.id}' in line '{self.said.name}'"
            self.faults.left_out(where, f"it faces {direction_words(faces)}", "'faces' left out")
            return faces
        if sound and any(angle_between(step.faces, leg) < math.radians(20.0) for leg in (negative(into), out)):
            ways = sorted((negative(out), into), key=lambda way: -way[2]) if corner else []
            found = f"cap '{step.id}' faces {direction_words(step.faces)}, where the pipe runs"
            expected = f"a way that is free, in line with a leg: {' or '.join(direction_words(way) for way in ways)}"
            hint = "" if corner else f"for instance faces: {direction_words(bent(into, math.pi / 2, _UP))}"
            expected = expected if corner else "a way square to the pipe, or slanted"
            self.faults.add(step.mark, found, expected, hint=hint)
        return step.faces


def _from_its_socket(run: Part, standing: float, name: str) -> list[Part]:
    """The standpipe, the socket that it stands in, and what is left of the run under it."""
    foot = add(run.start, (0.0, 0.0, -standing))
    left = run.length - standing
    over, under = replace(run, end=foot, length=standing), replace(run, start=foot, length=left, at=run.at + standing)
    socket = replace(under, kind="dry socket", id=name, end=foot, length=0.0, details={}, vessel=None)
    return [over, socket, *([under] if left > 1e-9 else [])]


def _around(kind: str, beside: Sequence[str]) -> str:
    """Where a fitting is out of reach: a bend with either of its runs, since both end in it; any other with both."""
    if not beside or not (all(beside) or catalogue.fittings()[kind].bends):
        return ""
    return next((around for around in beside if around), "")


def _joins_bores(part: Part) -> bool:
    """Whether a part joins pipe of one bore to pipe of another, as a barb does."""
    return not part.is_pipe and isinstance(catalogue.fittings()[part.kind].loss, Through)
