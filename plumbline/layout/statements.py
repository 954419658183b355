"""What a file says, before anyone has walked it: one small record for each statement, in SI units, with its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .model import EndStated, Mark, Pipe, Stated, Timer, Vector, Weir

__all__ = ["UNREAD_PIPE", "EndSaid", "FittingSaid", "LineSaid", "RunSaid", "Said", "StepSaid", "UnreadSaid"]

UNREAD_PIPE = Pipe("", 1.0, 0.0)
"""Stands for a pipe that could not be read: its fault is noted, and the walk goes on."""


@dataclass(frozen=True, slots=True)
class RunSaid:
    """A run, hose or spray bar: a displacement [m], and a pipe of its own if it has one.

    `vessel` names what a spray bar's jets fall into; `id` is a manifold's name; `around` says where it is out of
    reach ("buried", "behind the wall"), and `way` whether it turns left, right or back; `rest` is 1 or -1 where it goes up or down by what is
    left between its line's ends.
    """

    kind: str
    displacement: Vector
    mark: Mark
    pipe: Pipe | None = None
    details: Mapping[str, float] = field(default_factory=dict)
    vessel: str | None = None
    id: str | None = None
    around: str = ""
    way: str = ""
    rest: int = 0


@dataclass(frozen=True, slots=True)
class FittingSaid:
    """A fitting with what was stated of it; `angle` of a bend [rad], `faces` a unit vector, `to` the pipe a reducer ends in;
    `details` the other numbers by their words; `opens` and `port` which legs of a three-way valve are open, and how its ball is
    drilled."""

    kind: str
    mark: Mark
    id: str | None = None
    loss: float | None = None
    opening: float = 1.0
    angle: float | None = None
    faces: Vector | None = None
    to: Pipe | None = None
    details: Mapping[str, float] = field(default_factory=dict)
    opens: str | None = None
    port: str | None = None
    runs: Timer | None = None


@dataclass(frozen=True, slots=True)
class UnreadSaid:
    """A step that could not be read. `moves` tells that it may be a run, so that the walk is lost from there on."""

    mark: Mark
    moves: bool


StepSaid = RunSaid | FittingSaid | UnreadSaid


@dataclass(frozen=True, slots=True)
class EndSaid(EndStated):
    """Where a line begins or ends. `word` is a bare name whose kind is found later; else `kind` and `name`.

    `height` [m] above the vessel's floor; `standpipe` True where it is a crest;
    `overflow` True where it is the middle of an overflow in the wall; `outlets` of an indexing valve, which turns at no less than
    `at_least` [m³/s]. `each`: the ends of a line that stands several times.
    """

    mark: Mark
    kind: str | None = None
    name: str | None = None
    word: str | None = None
    height: float | None = None
    standpipe: bool = False
    overflow: bool = False
    each: tuple[EndSaid, ...] = ()
    outlets: int = 0
    at_least: float = 0.0

    @property
    def mouth(self) -> str:
        """What it opens by in a vessel; a siphon stands over a standpipe."""
        if self.weir is not None:
            return self.weir.called
        return "standpipe" if self.standpipe else "overflow" if self.overflow else "port"


@dataclass(frozen=True, slots=True)
class LineSaid:
    """A line as written: `pipe` its own, if any; an end is None where the file's was unreadable.

    `whole` is False where the route could not be read at all; `again` how often it stands; `numbers` those of its steps in the
    file, 0 for one that stands there because of what the line begins at.
    """

    name: str
    mark: Mark
    pipe: Pipe | None
    start: EndSaid | None
    steps: tuple[StepSaid, ...]
    end: EndSaid | None
    whole: bool = True
    again: int | None = None
    numbers: tuple[int, ...] = ()

    @property
    def wall(self) -> Weir | None:
        """The wall that its water runs over where it begins or ends, if one does."""
        return next((end.weir for end in (self.start, self.end) if end is not None and end.weir is not None), None)


@dataclass(frozen=True, slots=True)
class Said(Stated):
    """The whole file as said. `unsure` names the vessels and pumps of which some value could not be read.

    `complete` is False where a line could not be read at all, so that nothing can be said of what is not joined.
    """

    lines: Mapping[str, LineSaid]
    unsure: frozenset[str] = frozenset()
    complete: bool = True
    rows: Mapping[str, int] = field(default_factory=dict)
    """How many of them there are of each vessel that repeats, by the name that the file gives them together."""
