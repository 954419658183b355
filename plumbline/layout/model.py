"""What a layout is, once read and walked: plain frozen data in SI units.

Axes are the site's own: east, north, up; a point is (east, north, up) in metres, and a heading is a unit vector
in the same axes. Heights are above the site's datum. Angles are in radians.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import wraps
from typing import Any, Literal, TypeVar

from ..units import Units

__all__ = [
    "DAY",
    "STEEP_MOUTH",
    "Access",
    "AccessKind",
    "Airlift",
    "Default",
    "Electricity",
    "End",
    "EndKind",
    "EndStated",
    "Gutter",
    "HoseSupply",
    "Indexing",
    "Layout",
    "Leg",
    "LevelSwitch",
    "Line",
    "Mark",
    "Part",
    "Pipe",
    "Pump",
    "Reading",
    "ReadingKind",
    "Rod",
    "Siphon",
    "Stated",
    "Step",
    "Stretch",
    "Tee",
    "Timer",
    "Vector",
    "Vessel",
    "Water",
    "stated",
    "steps_said",
]

Vector = tuple[float, float, float]
"""East, north, up."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A place in the user's file; `line` and `column` count from 1."""

    line: int
    column: int


class Step(int):
    """The number of a step of a line as walked, from 1. It is told as the file counts: a manifold, a cross or a three-way valve is
    one step there and several of the walk.

    >>> step = Step(12, told=8)
    >>> f"at step {step}", step + 1, step == 12
    ('at step 8', 13, True)
    """

    told: int

    def __new__(cls, number: int, told: int) -> Step:
        """Count a step twice over: as walked, and as told."""
        step = super().__new__(cls, number)
        step.told = told
        return step

    def __getnewargs__(self) -> tuple[int, int]:  # type: ignore[override]
        return int(self), self.told

    def __str__(self) -> str:
        return str(self.told)

    def __format__(self, spec: str) -> str:
        return format(self.told, spec)


def steps_said(steps: Iterable[int]) -> str:
    """Some steps in a row as a reader is told of them.

    >>> steps_said([3]), steps_said([3, 5, 4]), steps_said([Step(12, 8), Step(14, 8)])
    ('step 3', 'steps 3 to 5', 'step 8')
    """
    row = sorted(steps)
    first, last = str(row[0]), str(row[-1])
    return f"step {first}" if first == last else f"steps {first} to {last}"


@dataclass(frozen=True, slots=True)
class Water:
    """The water in the system. `density` [kg/m³], dynamic `viscosity` [Pa·s], `temperature` [°C] if stated."""

    density: float
    viscosity: float
    temperature: float | None = None


@dataclass(frozen=True, slots=True)
class Electricity:
    """What pumping costs: `price` of one kilowatt-hour in `currency`; a pump that says nothing else runs `hours` a day."""

    price: float
    currency: str = ""
    hours: float = 24.0


@dataclass(frozen=True, slots=True)
class HoseSupply:
    """A garden hose to flush with: `pressure` [Pa] above the air's at its tap with nothing running, `flow` [m³/s] with its
    end free."""

    pressure: float
    flow: float


@dataclass(frozen=True, slots=True)
class Pipe:
    """A size of pipe. `bore` (inside diameter) [m], `outside` diameter [m] if known, `roughness` [m]."""

    name: str
    bore: float
    roughness: float
    outside: float | None = None
    material: str | None = None


@dataclass(frozen=True, slots=True)
class Gutter:
    """A channel between upright sides: `length` and `width` [m], and the `fall` of its floor to its outlet end [-]."""

    length: float
    width: float
    fall: float

    @property
    def areas(self) -> tuple[tuple[float, float], ...]:
        """Its free surface at heights above the floor at its outlet end: level water reaches up the fall."""
        drop, whole = self.length * self.fall, self.length * self.width
        return ((0.0, 0.0), (drop, whole)) if drop > 0.0 else ()


@dataclass(frozen=True, slots=True)
class Vessel:
    """A tank, bed, filter or sump.

    `base` inside floor above the datum [m]; `water` normal depth [m]; `rim` height of the rim above the floor [m];
    `area` free surface in plan [m²]; `wants` the flow it should get [m³/s]; `handles` the largest
    flow that it can take [m³/s]; `at` east and north [m]; `shape` in plan ("round",
    "square" or "long"), None where it is not said; `smallest_fish` the length of the smallest fish put in [m]. `areas` are
    ((height above the floor [m], free surface there [m²]), …) of one that is not as wide everywhere; `area` is then that at
    the normal depth. It `loses` [m³/s] to air and plants. A `gutter` has its heights over the floor at its outlet end.
    """

    name: str
    base: float
    water: float
    mark: Mark
    rim: float | None = None
    area: float | None = None
    wants: float | None = None
    holds: str | None = None
    at: tuple[float, float] | None = None
    handles: float | None = None
    shape: str | None = None
    smallest_fish: float | None = None
    areas: tuple[tuple[float, float], ...] = ()
    loses: float = 0.0
    gutter: Gutter | None = None

    @property
    def level(self) -> float:
        """Height of the water surface above the datum [m]."""
        return self.base + self.water


DAY = 86400.0
"""Seconds in a day."""


@dataclass(frozen=True, slots=True)
class Timer:
    """When something runs: for `on` [s], then not for `off` [s], and so on, the first time `after` [s] from midnight; or in
    `windows` of the day ((from, to), …) [s after midnight]. One that never runs has neither."""

    on: float = 0.0
    off: float = 0.0
    after: float = 0.0
    windows: tuple[tuple[float, float], ...] = ()

    @property
    def always(self) -> bool:
        """Whether it never stops."""
        return self.off <= 0.0 and not self.windows

    @property
    def never(self) -> bool:
        """Whether it never runs: what it is for stands by."""
        return self.on <= 0.0 and not self.windows

    @property
    def hours(self) -> float:
        """How long it runs in a day, taken over many [h]."""
        return hours_of([self]) if self.windows or self.on <= 0.0 else DAY / 3600.0 * self.on / (self.on + self.off)

    def runs(self, time: float) -> bool:
        """Whether it runs at a time [s after the first midnight]."""
        if self.windows:
            return any(begin <= time % DAY < end for begin, end in self.windows)
        return self.on > 0.0 and (time - self.after) % (self.on + self.off) < self.on

    def next(self, time: float) -> float:
        """When it next changes [s after the first midnight]; infinity where it never does."""
        if self.windows:
            moments = [moment for window in self.windows for moment in window]
            return min(time + ((moment - time) % DAY or DAY) for moment in moments)
        whole = self.on + self.off
        if self.on <= 0.0 or self.off <= 0.0:
            return float("inf")
        here = (time - self.after) % whole
        return time + (self.on - here if here < self.on else whole - here)


def hours_of(timers: Sequence[Timer]) -> float:
    """The hours of the first day in which one timer or another runs."""
    time = total = 0.0
    while time < DAY:
        then = min(DAY, *(timer.next(time + 1.0) for timer in timers))  # a second apart at least
        total += (then - time) * any(timer.runs(0.5 * (time + then)) for timer in timers)
        time = then
    return total / 3600.0


@dataclass(frozen=True, slots=True)
class LevelSwitch:
    """A float or level switch: a pump goes on as the water in `vessel` passes `on` and off as it passes `off` [m above the
    vessel's floor]; with `on` above `off` it empties the vessel, else it fills it."""

    vessel: str
    on: float
    off: float
    mark: Mark


@dataclass(frozen=True, slots=True)
class Siphon:
    """An automatic siphon over a crest: once primed it runs until the water is down at `breaks` [m above the vessel's floor].
    `bell` [m] is the bore of the bell over it, if stated."""

    breaks: float
    bell: float | None = None


@dataclass(frozen=True, slots=True)
class Airlift:
    """What makes a pump an airlift: `air` [m³/s] of free air, blown into the foot of an upright `riser` that is `length` [m]
    long up to its open top. `depth` [m] of the air inlet under the vessel's normal water."""

    air: float
    riser: Pipe
    length: float
    depth: float


@dataclass(frozen=True, slots=True)
class Pump:
    """A pump. `curve` is ((flow [m³/s], head [m]), …) with rising flow; `assumed` when only box data were given.

    `vessel` is where a submersible pump stands; None means that a line brings water `to` the pump.
    `height` [m] of its outlet above the vessel's floor; `power` [W], as drawn from the mains, if stated.
    `speed` is what it is set to, as a share of that on its maker's sheet; `curve` and `power` are those at that speed.
    `npsh` [m] is the net positive suction head that its maker asks for, if stated. It runs `hours` a day, or would if
    it did not stand by.
    An `airlift` states no curve, and its outlet is at the riser's top; its `power` is the air pump's. A timer says when it `runs`, and a `switch` by which level; with both, it needs both.
    """

    name: str
    curve: tuple[tuple[float, float], ...]
    mark: Mark
    vessel: str | None = None
    height: float = 0.0
    power: float | None = None
    assumed: bool = False
    speed: float = 1.0
    npsh: float | None = None
    hours: float = 24.0
    airlift: Airlift | None = None
    runs: Timer | None = None
    switch: LevelSwitch | None = None

    @property
    def stands_by(self) -> bool:
        """Whether it is there for another to fail, and never runs by itself."""
        return self.runs is not None and self.runs.never

    @property
    def intake(self) -> float:
        """Height of where the water comes in above the vessel's floor [m]: the outlet's, or the foot of an airlift's riser."""
        return self.height if self.airlift is None else self.height - self.airlift.length

    @property
    def leaves(self) -> float:
        """How deep water it leaves in its vessel, running as long as it may [m]: down to its intake, or to where its switch has it off."""
        own = self.switch is not None and self.switch.vessel == self.vessel and self.switch.on > self.switch.off
        return max(self.intake, self.switch.off) if self.switch is not None and own else self.intake


@dataclass(frozen=True, slots=True)
class Part:
    """One step of a line, walked: a run of pipe or a fitting.

    `kind` is "run", "hose" or the catalogue's fitting name ("elbow", "cap", "ball valve", …).
    `step` counts the route's steps from 1 (see `Step`). `start` and `end` are points; a fitting's are equal.
    `heading_in` and `heading_out` are unit vectors along the walk; `turn` [rad] is what the fitting
    is made for, where it comes in fixed turns (the walk may differ by the turn tolerance), else the angle between them.
    `length` is developed length [m], zero for a fitting: runs are measured between fittings' centres.
    `at` is how far along the line the part starts [m]. `pipe` is what the water comes from, `pipe_out` what it
    goes on in (they differ at a reducer). `loss` is a stated K, or None; `opening` is 0 (shut) to 1 (full open).
    `around` says where a part is out of reach ("buried", "behind the wall"), "" where a hand gets at it. `faces` is a unit vector out of an access; `vessel` what a spray bar's jets fall into. A drip line is a spray bar with `dripper` [m³/s]
    and `at` [Pa] in place of a `hole`. `details` keeps the other
    stated values, SI, with `sunlit`, `clear` and `past` where the file says so, and how `hot` it gets there [°C]. A valve that `runs` on a timer is open while that does, and shut otherwise.
    """

    kind: str
    step: int
    start: Vector
    end: Vector
    heading_in: Vector
    heading_out: Vector
    turn: float
    length: float
    at: float
    pipe: Pipe
    pipe_out: Pipe
    mark: Mark
    id: str | None = None
    loss: float | None = None
    opening: float = 1.0
    faces: Vector | None = None
    vessel: str | None = None
    details: Mapping[str, float] = field(default_factory=dict)
    around: str = ""
    runs: Timer | None = None

    @property
    def is_pipe(self) -> bool:
        """True for a run or a hose, false for a fitting."""
        return self.kind in ("run", "hose", "spray bar")

    @property
    def lit(self) -> bool:
        """Whether light falls on it and goes through its wall."""
        return self.is_pipe and {"sunlit", "clear"} <= self.details.keys()

    @property
    def stated(self) -> bool:
        """Whether the file states what the fitting loses."""
        return self.loss is not None or "Kv" in self.details or "loses" in self.details

    @property
    def called(self) -> str:
        """What its user calls it: its kind, or a drip line."""
        return "drip line" if "dripper" in self.details else self.kind


@dataclass(frozen=True, slots=True)
class Weir:
    """A wall that water runs over: the wall's `whole` edge, or a notch in it. `width` [m]; `angle` [rad] of a V, whose width is that
    100 mm over its point."""

    width: float
    angle: float | None = None
    whole: bool = False

    @property
    def called(self) -> str:
        """The word for it."""
        return "weir" if self.whole else "notch"

    @property
    def shape(self) -> Literal["notch", "weir", "v-notch"]:
        """Which of the three laws it has."""
        return "v-notch" if self.angle is not None else "weir" if self.whole else "notch"


EndKind = Literal["vessel", "pump", "tee", "cap", "plug", "open air", "draw", "indexing valve"]


NO_PIPE = "no pipe"
"""The name of the pipe of a line that has none: water falls over a crest into the next vessel."""

STEEP_MOUTH = 0.7
"""The share of a heading that goes up or down, from which water goes over a pipe's end from above and not sideways."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EndStated:
    """What the file states of an end, before and after it has its place.

    `sleeve` [m] is the bore of a wider pipe around a standpipe, open at the floor. `draw` [m³/s] is the flow taken there
    (negative: put in). `loss` is a stated K, or None. `room` [m] is the clear space in front of a cap, an open end or a mouth in a vessel, if
    stated. `buried` tells that it lies in a bed's gravel or clay. A standpipe may be an automatic `siphon`, or in its place a wall that water
    runs over, `weir`; one that `pulls_out` is lifted out of its socket by hand; a `float_valve` shuts where the water stands so high above the
    vessel's floor [m]. A draw that is a `supply` gives so much with nothing in its way, and less where there is.
    """

    sleeve: float | None = None
    draw: float = 0.0
    loss: float | None = None
    room: float | None = None
    buried: bool = False
    siphon: Siphon | None = None
    float_valve: float | None = None
    supply: bool = False
    weir: Weir | None = None
    pulls_out: bool = False


@dataclass(frozen=True, slots=True)
class End(EndStated):
    """Where a line begins or stops.

    `name` is the vessel's, pump's, tee's, cap's or indexing valve's; `place` the point; `heading` the unit vector *out of* the line.
    A vessel end has `port`: "standpipe" (or an overflow in the wall, which works as one: `in_wall`), "port" (in wall or
    floor), or "open" (the pipe just ends in the vessel); `submerged` tells whether it ends below the vessel's normal water.
    """

    kind: EndKind
    place: Vector
    heading: Vector
    mark: Mark
    name: str | None = None
    port: Literal["standpipe", "port", "open"] | None = None
    submerged: bool = False

    @property
    def called(self) -> str:
        """What a way out of a vessel by a crest is called."""
        if self.weir is not None:
            return self.weir.called
        return "siphon" if self.siphon is not None else "overflow" if self.in_wall else "standpipe"

    @property
    def in_wall(self) -> bool:
        """Whether water goes over this end sideways: an overflow in the wall, and no crest that looks up."""
        return (
            self.port == "standpipe" and self.weir is None and any(self.heading) and abs(self.heading[2]) < STEEP_MOUTH
        )


@dataclass(frozen=True, slots=True)
class Line:
    """A walk from one end to another. `parts` are the steps in order; `length` the developed length [m].

    There is always a part: a line without steps has one run of no length, step 0, which carries its pipe.
    """

    name: str
    start: End
    parts: tuple[Part, ...]
    end: End
    length: float
    mark: Mark

    def at(self, side: str) -> End:
        """Its end on a side, "from" or "to"."""
        return self.start if side == "from" else self.end

    def step_at(self, side: str) -> int:
        """The number of that end's step: 0, or one past the last."""
        return 0 if side == "from" else self.parts[-1].step + 1

    @property
    def hidden(self) -> bool:
        """Whether some of it lies where no hand gets at it."""
        return any(part.around for part in self.parts)


@dataclass(frozen=True, slots=True)
class Leg:
    """One of a tee's three legs: which `line` leaves the tee there, on which `side` of it.

    `side` is "before" (the line walks up to the tee here), "after" (the line goes on from it), "from" or "to" (the
    line's own end). `heading` is the unit vector out of the tee; `pipe` the pipe of that leg.
    """

    line: str
    side: Literal["before", "after", "from", "to"]
    heading: Vector
    pipe: Pipe


@dataclass(frozen=True, slots=True)
class Tee:
    """A tee or wye. `legs` are (run, run, branch); `angle` [rad] between the branch and the run leg `legs[1]`.

    The run legs are ordered so that `angle` is at most 90°: the branch leans towards `legs[1]`, so water
    that goes from `legs[0]` out at the branch turns through `angle`. `loss` is a stated K, or None. `cross` is 1 or 2 for the two
    tees that a cross is reckoned as; a `three_way` valve is a tee without a loss, whose legs hold what the valve costs.
    `outlet` numbers those that an indexing valve is reckoned as, one for each of its outlets that is not capped: their lines begin with it.
    """

    id: str
    kind: Literal["tee", "wye"]
    line: str
    step: int
    place: Vector
    legs: tuple[Leg, Leg, Leg]
    angle: float
    mark: Mark
    loss: float | None = None
    cross: int = 0
    three_way: bool = False
    outlet: int = 0

    @property
    def called(self) -> str:
        """What its user calls it, with its name: a cross is one thing, though it is reckoned as two tees."""
        if self.cross:
            return f"cross {self.id.rpartition(' ')[0]}"
        return f"{'three-way valve' if self.three_way else self.kind} {self.id}"


AccessKind = Literal["cap", "union", "hose end", "standpipe", "open end", "vessel"]


@dataclass(frozen=True, slots=True)
class Access:
    """A place where a rod can be put in, or where water can be let out.

    `kind` is "cap", "union", "hose end" (a hose that comes off its barb or spigot), "standpipe" (the socket of one that pulls out), "open end" or "vessel"; `line` and `at` [m along the line]
    say where; `faces` is the unit vector out of the opening, None for a union (which parts, and lets a rod in straight both ways), a hose and a standpipe.
    `bore` [m] of the opening; `step` of the route, 0 for the line's start and one past the last step for its end.
    `room` [m] is the clear space in front of the opening, where the file states it.
    """

    id: str
    kind: AccessKind
    line: str
    step: int
    at: float
    place: Vector
    faces: Vector | None
    bore: float
    room: float | None = None


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of a line between two neighbouring ends, tees, wyes or accesses.

    `id` is the line's name and a number from 1; `tail` and `head` name the two points (see `Layout.stretches`);
    `parts` are the runs and fittings in between, `start` and `stop` [m] their place along the line.
    A cap or union that stands at the boundary belongs to the stretch before it.
    """

    id: str
    line: str
    tail: str
    head: str
    start: float
    stop: float
    parts: tuple[Part, ...]
    bore: float

    @property
    def length(self) -> float:
        """Developed length [m]."""
        return self.stop - self.start


@dataclass(frozen=True, slots=True)
class Rod:
    """A rod, brush or cable. `length` [m]; `bend` the sharpest single turn it passes and `turns` the sum of
    turns it passes [rad]; it cleans bores from `bore_min` to `bore_max` [m].

    `brushes` are the heads that it may carry, one at a time, by diameter [m]; without, its own head does. `passes` [m] is the
    least bore that it goes through, `bore_min` where None. `room` [m] is the clear space that it takes in front of an
    opening, the limit `hand room` where None. A `cord` is pulled through from one opening to another.
    """

    name: str
    length: float
    bend: float
    turns: float
    bore_min: float
    bore_max: float
    brushes: tuple[float, ...] = ()
    passes: float | None = None
    room: float | None = None
    cord: bool = False


@dataclass(frozen=True, slots=True)
class Default:
    """A value that the file left out: `where` it is missing, `what` was taken, and `source` for taking it."""

    where: str
    what: str
    source: str


ReadingKind = Literal["flow", "head", "opening", "depth", "power", "cleaned"]


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing read on a visit. `value` and its standard deviation `sigma` in SI: a "flow" out of an end of a line [m³/s], the
    "head" in a clear hose over the pipe's axis behind a step [m], the "opening" that a valve was found at (0 to 1), the "depth" in a
    vessel [m], the "power" of a pump [W], or how long ago a line was "cleaned" [s]. `where` is the place as the file says it; `line`,
    `vessel` or `pump` what it is at; `step` of a line counts from 1, 0 is its start and −1 its end. `litres` [m³] were caught.
    """

    what: ReadingKind
    where: str
    value: float
    sigma: float
    mark: Mark
    line: str = ""
    step: int = -1
    vessel: str = ""
    pump: str = ""
    litres: float = 0.0


@dataclass(frozen=True, slots=True)
class Indexing:
    """An indexing valve: how many `outlets` it has, the `least` flow at which it turns [m³/s], and the `ways` out that are not capped, by
    the outlet's number: the (line, step) that is shut while it is not its turn."""

    outlets: int
    least: float
    ways: dict[int, tuple[str, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What a file states besides its lines. Mappings keep the file's order.

    `limits` are the catalogue's thresholds (SI), with the file's own values on top; `sureness` is how far the file says that its numbers
    may be out, by the catalogue's names (SI, relative where the catalogue's is); `fouling` is its own numbers for how pipe fouls, at the
    rates slow, likely and fast. `altitude` is the site's height above the sea [m]; `put_in` the weight of a fish when it is put in, by the
    file's wish [kg]. `readings` are what was read on a visit. `keep_clear` are boxes that pipe laid anew keeps out of, by name, each as its least and
    its greatest corner [m].
    """

    name: str
    water: Water
    vessels: Mapping[str, Vessel]
    pumps: Mapping[str, Pump]
    rods: tuple[Rod, ...]
    limits: Mapping[str, float]
    units: Units
    sureness: Mapping[str, float] = field(default_factory=dict)
    altitude: float = 0.0
    electricity: Electricity | None = None
    hose: HoseSupply | None = None
    code: str | None = None
    fouling: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    put_in: float | None = None
    readings: tuple[Reading, ...] = ()
    keep_clear: Mapping[str, tuple[Vector, Vector]] = field(default_factory=dict)


def stated(what: type[EndStated | Stated], of: EndStated | Stated) -> dict[str, Any]:
    """What is stated of an end or in a file, by the fields' names."""
    return {field.name: getattr(of, field.name) for field in fields(what)}


Worked = TypeVar("Worked")


def once(work: Callable[[Layout], Worked]) -> Callable[[Layout], Worked]:
    """Work something out once for a layout, which never changes, and keep it with that."""
    name = f"{work.__module__}.{work.__qualname__}"

    @wraps(work)
    def kept(layout: Layout) -> Worked:
        if name not in layout.kept:
            layout.kept[name] = work(layout)
        worked: Worked = layout.kept[name]
        return worked

    return kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout(Stated):
    """A whole layout, read and walked.

    `stretches` name their points: "LINE.from" and "LINE.to" for free ends, the tee's, cap's or union's id
    elsewhere, the pump's name with ".in" or ".out". `kept` is what has been worked out of it once.
    """

    path: str
    text: str
    lines: Mapping[str, Line]
    tees: Mapping[str, Tee]
    accesses: tuple[Access, ...]
    stretches: tuple[Stretch, ...]
    defaults: tuple[Default, ...] = ()
    kept: dict[str, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    @once
    def ends(self) -> Mapping[str, End]:
        """The two ends of each line, by "LINE.from" and "LINE.to"."""
        return {f"{name}.{side}": line.at(side) for name, line in self.lines.items() for side in ("from", "to")}

    def fed_by(self, pump: str) -> Line | None:
        """The line that begins at a pump; None where it feeds none."""
        return next(
            (line for line in self.lines.values() if line.start.kind == "pump" and line.start.name == pump), None
        )

    @property
    @once
    def indexing(self) -> Mapping[str, Indexing]:
        """The indexing valves, by name."""
        found: dict[str, Indexing] = {}
        for name, line in self.lines.items():
            for part in line.parts:
                if part.kind == "indexing valve":
                    new = Indexing(int(part.details["outlets"]), part.details["least"], {})
                    found.setdefault(part.id or "", new).ways[int(part.details["outlet"])] = (name, part.step)
        return found

    @property
    @once
    def timed(self) -> bool:
        """Whether something in it switches by the clock or by a level, so that steady running is not all there is."""
        parts = [part for line in self.lines.values() for part in line.parts]
        timers = [pump.runs for pump in self.pumps.values() if pump.runs is not None]
        timers += [part.runs for part in parts if part.runs is not None]
        return (
            any(end.siphon is not None or end.float_valve is not None for end in self.ends.values())
            or any(pump.switch is not None for pump in self.pumps.values())
            or any(timer.off > 0.0 or timer.windows for timer in timers)
        )
