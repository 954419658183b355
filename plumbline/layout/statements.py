"""What a file says, before anyone has walked it: one small record for each statement, in SI units, with its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..units import Units
from .model import Electricity, HoseSupply, Mark, Pipe, Pump, Reading, Rod, Siphon, Timer, Vector, Vessel, Water, Weir

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
    """A fitting with what was stated of it; `angle` [rad], `faces` a unit vector, `to` the pipe a reducer ends in, `room` [m]
    in front of a cap; `details` the other numbers by their words; `opens` and `port` which legs of a three-way valve are open, and how its ball is
    drilled."""

    kind: str
    mark: Mark
    id: str | None = None
    loss: float | None = None
    kv: float | None = None
    opening: float = 1.0
    angle: float | None = None
    faces: Vector | None = None
    to: Pipe | None = None
    room: float | None = None
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
class EndSaid:
    """Where a line begins or ends. `word` is a bare name whose kind is found later; else `kind` and `name`.

    `height` [m] above the vessel's floor; `standpipe` True where it is a crest, `sleeve` [m] the bore of a pipe around it;
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
    sleeve: float | None = None
    draw: float = 0.0
    loss: float | None = None
    room: float | None = None
    each: tuple[EndSaid, ...] = ()
    buried: bool = False
    siphon: Siphon | None = None
    float_valve: float | None = None
    supply: bool = False
    weir: Weir | None = None
    pulls_out: bool = False
    outlets: int = 0
    at_least: float = 0.0


@dataclass(frozen=True, slots=True)
class LineSaid:
    """A line as written: `pipe` its own, if any; an end is None where the file's was unreadable.

    `whole` is False where the route could not be read at all; `again` how often it stands; `ahead` how many steps stand before those
    of the file, because of what the line begins at.
    """

    name: str
    mark: Mark
    pipe: Pipe | None
    start: EndSaid | None
    steps: tuple[StepSaid, ...]
    end: EndSaid | None
    whole: bool = True
    again: int | None = None
    ahead: int = 0

    @property
    def wall(self) -> Weir | None:
        """The wall that its water runs over where it begins or ends, if one does."""
        return next((end.weir for end in (self.start, self.end) if end is not None and end.weir is not None), None)


@dataclass(frozen=True, slots=True)
class Said:
    """The whole file as said. `unsure` names the vessels and pumps of which some value could not be read.

    `complete` is False where a line could not be read at all, so that nothing can be said of what is not joined.
    """

    name: str
    water: Water
    vessels: Mapping[str, Vessel]
    pumps: Mapping[str, Pump]
    lines: Mapping[str, LineSaid]
    rods: tuple[Rod, ...]
    limits: Mapping[str, float]
    units: Units
    unsure: frozenset[str] = frozenset()
    complete: bool = True
    sureness: Mapping[str, float] = field(default_factory=dict)
    altitude: float = 0.0
    electricity: Electricity | None = None
    hose: HoseSupply | None = None
    code: str | None = None
    fouling: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    put_in: float | None = None
    readings: tuple[Reading, ...] = ()
    rows: Mapping[str, int] = field(default_factory=dict)
    """How many of them there are of each vessel that repeats, by the name that the file gives them together."""
