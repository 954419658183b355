"""The corners of a walk: which fitting between two runs makes how much of the turn, and whether they agree."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from .. import catalogue
from .faults import Faults, listed
from .model import Mark, Vector
from .statements import FittingSaid, RunSaid
from .vectors import NOWHERE, angle_between, bent, direction_words, negative, turned, unit

__all__ = ["Corner", "Turning", "headings_through"]

_DOWN: Vector = (0.0, 0.0, -1.0)


@dataclass(frozen=True, slots=True)
class Corner:
    """Headings into and out of a corner, and each fitting's turn [rad]. `sound` is False where a fault was noted."""

    into: Vector
    out: Vector
    turns: tuple[float, ...]
    sound: bool = True


def headings_through(corner: Corner) -> list[tuple[Vector, Vector]]:
    """Each fitting's headings in and out, the turn shared along the arc between the runs."""
    total = sum(corner.turns)
    if total <= 0.0:
        out = corner.out if corner.out != NOWHERE else corner.into
        return [(corner.into if corner.into != NOWHERE else out, out)] * len(corner.turns)
    bounds = [0.0]
    for turn in corner.turns:
        bounds.append(bounds[-1] + turn)
    ways = [turned(corner.into, corner.out, bound / total) for bound in bounds]
    return list(pairwise(ways))


@dataclass
class Turning:
    """A corner between two runs, `before` and `after` it, None at a line's end or where one could not be read: how the fittings there share
    its turn, no further off than `tolerance` [rad]. What they do not make goes to `faults` where it is `clear` what stands there, and so does a
    heading that had to be chosen."""

    fittings: Sequence[FittingSaid]
    before: RunSaid | None
    after: RunSaid | None
    line: str
    tolerance: float
    faults: Faults
    clear: bool

    def __post_init__(self) -> None:
        self.nominal = [_nominal(step) for step in self.fittings]
        self.fixed = sum(turn for turn in self.nominal if turn is not None)
        self.free = self.free_ones()
        self.into, self.out = (
            unit(run.displacement) if run is not None else NOWHERE for run in (self.before, self.after)
        )

    def free_ones(self) -> list[int]:
        """The fittings that may make what is left of the turn; a generic one only where there is no other."""
        free = [index for index, turn in enumerate(self.nominal) if turn is None]
        made = [index for index in free if _comes_in(self.fittings[index])]
        return made or free[:1]

    def corner(self) -> Corner:
        """The corner that they make."""
        if self.before is None or self.after is None:
            return self.at_an_end()
        if "hose" in (self.before.kind, self.after.kind):
            return self.at_a_hose()
        angle = angle_between(self.into, self.out)
        if not self.fittings or (self.fixed == 0.0 and not self.free):
            if angle > self.tolerance:
                return self.bare_corner(angle)
            return self.made([angle] + [0.0] * (len(self.fittings) - 1) if self.fittings else [])
        rest = angle - self.fixed
        if self.free:
            return self.with_free(angle, rest)
        if abs(rest) > self.tolerance:
            return self.contradiction(angle)
        return self.made([turn or 0.0 for turn in self.nominal])

    def made(self, turns: Sequence[float], sound: bool = True) -> Corner:
        """Its fittings with these turns [rad]."""
        return Corner(self.into, self.out, tuple(turns), sound)

    # ------------------------------------------------------------------ ends and hoses

    def at_an_end(self) -> Corner:
        """Where no run stands on one side, a turning fitting points down, or north if it cannot."""
        turns = [turn or 0.0 for turn in self.nominal]
        if self.into == NOWHERE and self.out != NOWHERE:
            self.into = negative(bent(negative(self.out), self.fixed, _DOWN)) if self.fixed > 0.0 else self.out
            if self.fixed > 0.0 and self.before is None:
                self.note(f"its first fitting is entered going {direction_words(self.into)}", "no run stands before it")
        elif self.out == NOWHERE and self.into != NOWHERE:
            self.out = bent(self.into, self.fixed, _DOWN) if self.fixed > 0.0 else self.into
            if self.fixed > 0.0 and self.after is None:
                self.note(f"its last fitting points {direction_words(self.out)}", "no run follows it")
        return self.made(turns)

    def at_a_hose(self) -> Corner:
        """A hose bends into whatever heading the fittings beside it have."""
        turns = [turn or 0.0 for turn in self.nominal]
        if self.free:
            angle = angle_between(self.into, self.out)
            ways = _comes_in(self.fittings[self.free[0]]) or (0.0,)
            near = min(ways, key=lambda way: abs(self.fixed + math.radians(way) - angle))
            turns[self.free[0]] = math.radians(near)
        kinds = [run.kind for run in (self.before, self.after) if run is not None]
        if kinds[0] == "hose" and kinds[1] != "hose":
            self.into = bent(self.out, sum(turns), self.into)
        else:
            self.out = bent(self.into, sum(turns), self.out)
        return self.made(turns)

    def note(self, what: str, why: str) -> None:
        """Note a heading that is chosen."""
        self.faults.left_out(f"line '{self.line}'", what, why)

    # ------------------------------------------------------------------ faults

    def tell(self, mark: Mark, found: str, expected: str, hint: str = "") -> None:
        """Note a fault, with the runs on both sides."""
        if self.clear and self.before is not None and self.after is not None:
            self.faults.add(mark, found, expected, hint=hint, also=[self.before.mark, self.after.mark])

    @property
    def ways(self) -> str:
        """From where to where the walk turns, in words."""
        return f"from {direction_words(self.into)} to {direction_words(self.out)}"

    def bare_corner(self, angle: float) -> Corner:
        """A turn that no fitting makes."""
        assert self.after is not None
        what = f"a corner without a fitting: the walk turns {_degrees(angle)}, {self.ways}"
        if angle > math.radians(175.0):
            what = f"the walk doubles back on itself, {self.ways}"
        hint, way = _maker(angle), self.after.way
        if way and self.before is not None and self.before.way == way:
            hint = f"'{way}' turns from the way you face; to go on as before write ahead"
        expected = "a fitting that turns, between the two runs: an elbow, a sweep, bends, a tee or a cap"
        self.tell(self.after.mark, what, expected, hint)
        return self.made([0.0] * len(self.fittings), sound=False)

    def with_free(self, angle: float, rest: float) -> Corner:
        """What is left of the turn is made by a fitting that may make any, or any that it comes in."""
        step = self.fittings[self.free[0]]
        turns = [turn or 0.0 for turn in self.nominal]
        if len(self.free) > 1 and rest > self.tolerance:
            other = self.fittings[self.free[1]]
            found = f"either the {step.kind} or the {other.kind} here could make the turn of {_degrees(rest)}"
            self.tell(other.mark, found, "a run between them, so that one stands at the corner")
            return self.made(turns, sound=False)
        turns[self.free[0]] = max(rest, 0.0)
        allowed = _comes_in(step)
        fits = not allowed or any(abs(rest - math.radians(way)) <= self.tolerance for way in allowed)
        if fits and rest > -self.tolerance:
            return self.made(turns)
        if rest <= -self.tolerance:
            return self.contradiction(angle)
        found = f"the {step.kind} would have to turn {_degrees(rest)}: the walk turns {_degrees(angle)}, {self.ways}"
        self.tell(step.mark, found, f"a turn that a {step.kind} comes in: {listed([f'{way:g}°' for way in allowed])}")
        return self.made(turns, sound=False)

    def contradiction(self, angle: float) -> Corner:
        """Fittings that turn otherwise than the walk."""
        turning = [step for step, turn in zip(self.fittings, self.nominal, strict=True) if turn]
        who, expected, hint = f"the {turning[0].kind} turns", "a fitting of the walk's own angle", _maker(angle)
        if len(turning) > 1:
            who, hint = "the fittings here turn together", ""
            expected = (
                "fittings that add up to the walk's own angle; two corners in different planes need a run between them"
            )
        found = f"{who} {_degrees(self.fixed)}, but the walk turns {_degrees(angle)}, {self.ways}"
        self.tell(turning[0].mark, found, expected, hint)
        return self.made([turn or 0.0 for turn in self.nominal], sound=False)


def _nominal(step: FittingSaid) -> float | None:
    """The turn a fitting is made with [rad]; None where the walk decides."""
    if catalogue.fittings()[step.kind].turns is not None:
        return None
    if step.kind == "bend":
        return step.angle or 0.0
    return catalogue.fittings()[step.kind].turn or 0.0


def _comes_in(step: FittingSaid) -> tuple[float, ...]:
    """The turns that a fitting is made in where the walk decides [deg]; none listed means any."""
    return catalogue.fittings()[step.kind].turns or ()


def _maker(angle: float) -> str:
    degrees = math.degrees(angle)
    if degrees > 175.0:
        return "to go back, use two corners with a run between them"
    if degrees < 5.0:
        return "leave it out, or turn the walk"
    for way, word in ((90.0, "elbow or sweep"), (45.0, "bend 45"), (22.5, "bend 22.5")):
        if abs(degrees - way) <= 5.0:
            return f"for a turn of {degrees:.0f}° write {word}"
    return f"for a turn of {degrees:.0f}° write bend: {degrees:.0f} deg"


def _degrees(angle: float) -> str:
    degrees = math.degrees(angle)
    return f"{degrees:.1f}°" if abs(degrees - round(degrees)) > 0.25 else f"{degrees:.0f}°"
