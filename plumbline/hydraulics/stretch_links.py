"""A stretch becomes a link, with what its ends and the places that air gets to ask for; a bar that water passes through, several."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..layout.model import NO_PIPE, STEEP_MOUTH, End, Layout, Part, Stretch, Weir
from .fittings import PartK, end_k, stretch_ks
from .loss_units import to_linear, to_square
from .network import FloatArray
from .spray_bar import Bar, bar_of, capped_bar, hole_heights, open_bar, outside_head
from .stages import MOUTHS, Mouth, Stages
from .stretches import end_bores, end_lip, floor, lies, narrowing, side_of, stands
from .weirs import notch_numbers

__all__ = ["FLOAT_BAND", "Build", "LinkOf", "StretchLinks"]


LINK = (
    "tail",
    "head",
    "square",
    "square_back",
    "linear",
    "one_way",
    "shut",
    "open_ended",
    "tip_tail",
    "tip_head",
    "float_at",
)
"""What a network has for each link, in the order of `Build.links`."""

STAGE = (np.int64, np.bool_, float, np.int64, float, float, float, float, np.int64, np.int64)
"""What the numbers of a stage are, in the order of `Stages`."""


@dataclass(slots=True)
class Build:
    """The network as it grows."""

    nodes: dict[str, int] = field(default_factory=dict)
    fixed: list[float] = field(default_factory=list)
    draw: list[float] = field(default_factory=list)
    storage: list[float] = field(default_factory=list)
    stored: list[float] = field(default_factory=list)
    links: list[tuple[float, ...]] = field(default_factory=list)
    runs: list[tuple[int, float, float, float]] = field(default_factory=list)
    stages: list[tuple[float, ...]] = field(default_factory=list)
    bars: dict[int, Bar] = field(default_factory=dict)

    def node(
        self, name: str, head: float = math.nan, draw: float = 0.0, storage: float = 0.0, stored: float = 0.0
    ) -> int:
        """The node of that name, made when first asked for."""
        if name not in self.nodes:
            self.nodes[name] = len(self.fixed)
            self.fixed.append(head)
            self.draw.append(draw)
            self.storage.append(storage)
            self.stored.append(stored)
        return self.nodes[name]

    def link(
        self,
        tail: int,
        head: int,
        square: float = 0.0,
        back: float = 0.0,
        linear: float = 0.0,
        *,
        one_way: bool = False,
        shut: bool = False,
        open_ended: bool = False,
        tips: tuple[float, float] = (-math.inf, -math.inf),
        float_at: float = math.inf,
    ) -> int:
        """A link between two nodes."""
        self.links.append((tail, head, square, back, linear, one_way, shut, open_ended, *tips, float_at))
        return len(self.links) - 1

    def stage(
        self,
        link: int,
        back: bool,
        height: float,
        mouth: Mouth = "plain",
        bore: float = 0.0,
        k: float = 0.0,
        square: float = 0.0,
        linear: float = 0.0,
        runs: tuple[int, int] = (0, 0),
    ) -> None:
        """A stage of a link."""
        self.stages.append((link, back, height, MOUTHS.index(mouth), bore, k, square, linear, *runs))

    def all_links(self) -> dict[str, FloatArray]:
        """The links as arrays, by the names that a network has for them."""
        return dict(zip(LINK, np.array(self.links, dtype=np.float64).reshape(-1, len(LINK)).T, strict=True))

    def all_stages(self) -> Stages:
        """The stages as arrays."""
        columns = np.array(self.stages, dtype=np.float64).reshape(-1, len(STAGE)).T
        return Stages(*(column.astype(kind) for column, kind in zip(columns, STAGE, strict=True)))


UNDER_BELL = 0.2
"""A siphon's mouth asks for nothing until so far under where it breaks, which comes first [m]."""

FLOAT_BAND = 0.02
"""How far a float valve lets the water down from where it shuts before it is open [m]; common practice, no source."""

MAINS = 20.0
"""The head behind a supply, whose flow is stated with nothing in its way [m]; common practice, no source: mains give 2 to 5 bar."""

GROUPS = 24
"""A bar that water passes through is followed hole by hole up to so many, else in so many groups."""


Ends = tuple[End | None, End | None]
"""The ends of a line that a stretch has at its tail and its head, None where it goes on."""


@dataclass(frozen=True, slots=True)
class LinkOf:
    """How a stretch stands in the network: its `link`, `sign` −1 where the link runs against the walk, the parts'
    coefficients, and those of its two ends for water entering and leaving there; the spray `bar` that it ends in. One with a bar
    that water passes through has a link at its head's end too, `last`, and those of its `holes` by the vessel they fall into."""

    link: int
    sign: float
    parts: tuple[PartK, ...]
    start: tuple[float, float]
    end: tuple[float, float]
    bar: Bar | None = None
    last: int = -1
    holes: tuple[int, ...] = ()

    def at(self, side: int) -> int:
        """Its link at its tail, 0, or at its head, 1."""
        return self.last if side == 1 and self.last >= 0 else self.link


@dataclass(frozen=True, slots=True)
class StretchLinks:
    """Puts the stretches of a layout into a network."""

    build: Build
    layout: Layout
    vessels: Mapping[str, int]
    vented: frozenset[str]
    sleeves: Mapping[str, float]
    primed: frozenset[str]
    wide_open: frozenset[str]
    partings: frozenset[str]
    drawn: frozenset[str] = frozenset()
    steady: bool = False

    @property
    def nu(self) -> float:
        """Kinematic viscosity [m²/s]."""
        return self.layout.water.viscosity / self.layout.water.density

    def add(self, stretch: Stretch) -> LinkOf:
        """A link for one stretch, with its stages."""
        layout, build, line = self.layout, self.build, self.layout.lines[stretch.line]
        first = line.start if stretch.tail == f"{line.name}.from" else None
        last = line.end if stretch.head == f"{line.name}.to" else None
        wall = _wall(stretch, (first, last))
        start_k, last_k = (end_k(end) if end is not None and wall is None else (0.0, 0.0) for end in (first, last))
        spray = capped_bar(layout, stretch)
        outs = [self.out(end, stretch, side) for side, end in enumerate((first, last))]
        tail, head = self.place(first, stretch.tail, outs[0]), self.place(last, stretch.head, outs[1])
        tips = [out if _in_vessel(end) else -math.inf for end, out in zip((first, last), outs, strict=True)]
        if spray is not None:
            head, tips[1] = self.outside(stretch, spray)
            last, last_k = None, (0.0, 0.0)
        parts = stretch_ks(layout)[stretch.id]
        # What lies behind a bar's end carries nothing.
        live = parts if spray is None else parts[: stretch.parts.index(spray) + 1]
        entry, costs = self.costs(stretch, (start_k, last_k))
        only_forward, only_back = _one_way(live, (first, last), sprays=spray is not None)
        shut = any(k.shut for k in live) or (only_forward and only_back) or self.floats_shut(stretch, (first, last))
        through = open_bar(layout, stretch)
        if through is not None:
            ends, ks = (first, last), (start_k, last_k)
            return self.with_holes(stretch, through, (tail, head), tips, parts, costs, shut, ends, ks)
        square = sum(to_square(k.forward, k.bore) for k in live) + costs[0][0] + costs[1][1]
        back = sum(to_square(k.back, k.bore) for k in live) + costs[1][0] + costs[0][1]
        vented = stretch.id in self.vented
        sign = -1.0 if only_back and not only_forward else 1.0
        if sign < 0.0:
            tail, head, square, back, tips = head, tail, back, square, tips[::-1]
        link = build.link(
            tail,
            head,
            square,
            back,
            sum(to_linear(k.laminar, k.bore, self.nu) for k in live),
            one_way=only_forward or only_back,
            shut=shut,
            open_ended=vented or spray is not None or _in_vessel(first) or _in_vessel(last),
            tips=(tips[0], tips[1]),
            float_at=self.float_at((first, last)),
        )
        counts = self.pipe(link, stretch, spray)
        self.mouths(link, sign, stretch, (first, last), wall)
        if vented:
            self.along(link, sign, stretch, parts, entry, counts)
        bar = None if spray is None else bar_of(layout, spray)
        if bar is not None:
            build.bars[link] = bar
        return LinkOf(link, sign, parts, start_k, last_k, bar)

    def costs(
        self, stretch: Stretch, ks: tuple[tuple[float, float], ...]
    ) -> tuple[list[float], list[tuple[float, float]]]:
        """What water pays at a stretch's tail and head [s²/m⁵]: into the pipe alone; and, with what a tee there takes, going in and
        coming out."""
        bores, points = end_bores(stretch), (stretch.tail, stretch.head)
        entry = [
            to_square(k[0], bore) + self.sleeves.get(point, 0.0)
            for k, bore, point in zip(ks, bores, points, strict=True)
        ]
        costs = [
            self.passing(point, bore, into, to_square(k[1], bore))
            for point, bore, into, k in zip(points, bores, entry, ks, strict=True)
        ]
        return entry, costs

    def floats_shut(self, stretch: Stretch, ends: Ends) -> bool:
        """Whether a float valve holds a stretch shut: at a moment, unless it hangs wide open."""
        return not self.steady and any(
            end is not None and _floats(end) and point not in self.wide_open
            for end, point in zip(ends, (stretch.tail, stretch.head), strict=True)
        )

    def float_at(self, ends: Ends) -> float:
        """The level at which a float valve at an end opens [m above the datum], ∞ without one."""
        return next((self.opens(end) for end in ends if end is not None and _floats(end)), math.inf)

    def pipe(self, link: int, stretch: Stretch, spray: Part | None) -> list[int]:
        """Put a stretch's pipe into its link, up to the bar that it ends in; how many runs there are before each part, and after all."""
        counts = [len(self.build.runs)]
        for part in stretch.parts:
            if part.is_pipe and part is not spray and (spray is None or part.step < spray.step):
                self.build.runs.append((link, part.pipe.bore, part.length, part.pipe.roughness))
            counts.append(len(self.build.runs))
        return counts

    def mouths(self, link: int, sign: float, stretch: Stretch, ends: Ends, wall: Weir | None) -> None:
        """Give a link the mouths of the ends that are in vessels."""
        for side, end in enumerate(ends):
            if end is not None and end.kind == "vessel":
                point = (stretch.tail, stretch.head)[side]
                at_head, sleeve = (side == 1) == (sign > 0.0), self.sleeves.get(point, 0.0)
                self.mouth(
                    link,
                    at_head,
                    end,
                    end_bores(stretch)[side],
                    sleeve,
                    point in self.primed,
                    wall,
                    drawn=point in self.drawn,
                )

    def passing(self, point: str, bore: float, into: float, out: float) -> tuple[float, float]:
        """What water pays that goes in at one side of a stretch, and that comes out there, with its share of a tee's [s²/m⁵]."""
        tee = self.layout.tees.get(point)
        stated = to_square(0.5 * (tee.loss or 0.0), bore) if tee is not None else 0.0
        narrow, wide = narrowing(self.layout, point, bore)
        return into + stated + narrow, out + stated + wide

    def with_holes(
        self,
        stretch: Stretch,
        spray: Part,
        places: tuple[int, int],
        tips: Sequence[float],
        parts: Sequence[PartK],
        costs: Sequence[tuple[float, float]],
        shut: bool,
        ends: Ends,
        ks: tuple[tuple[float, float], tuple[float, float]],
    ) -> LinkOf:
        """Pipe with a bar that water passes through: a link between each two of its groups of holes, and one for each group.

        A group lets out Cd a √(2g h) for each of its holes, h its total head over the hole: the speed past a hole is left out,
        which is right where water comes from both ends and next to nothing runs past the middle.
        """
        build, layout = self.build, self.layout
        holes = round(spray.details["holes"])
        groups = min(holes, GROUPS)
        where = stretch.parts.index(spray)
        bar = bar_of(layout, spray)
        per_hole = bar.cd * 0.25 * math.pi * bar.hole**2 * holes / groups
        one_way = any(k.one_way for k in parts)
        before, links, outlets = places[0], [], []
        for number, height in enumerate([*hole_heights(spray, groups), None]):
            here = places[1] if height is None else build.node(f"{stretch.id} hole {number}")
            side = 1 if height is None else 0 if number == 0 else None
            own = slice(0, 0) if side is None else slice(where + 1, None) if side else slice(where)
            square = sum(to_square(k.forward, k.bore) for k in parts[own])
            back = sum(to_square(k.back, k.bore) for k in parts[own])
            end = None if side is None else ends[side]
            if side is not None:
                square, back = square + costs[side][side], back + costs[side][1 - side]
            in_vessel = end is not None and end.kind == "vessel"
            linear = sum(to_linear(k.laminar, k.bore, self.nu) for k in parts[own])
            link = build.link(
                before,
                here,
                square,
                back,
                linear,
                one_way=one_way or (side == 1 and _in_air(end)),
                shut=shut,
                open_ended=in_vessel,
                tips=(-math.inf if side is None or side else tips[0], tips[1] if side else -math.inf),
            )
            if in_vessel and end is not None and side is not None:
                self.mouth(link, side == 1, end, end_bores(stretch)[side], 0.0, False)
            for part in stretch.parts[own]:
                if part.is_pipe:
                    build.runs.append((link, part.pipe.bore, part.length, part.pipe.roughness))
            gap = spray.length / groups * (1.0 if 0 < number < groups else 0.5)
            build.runs.append((link, spray.pipe.bore, gap, spray.pipe.roughness))
            links.append(link)
            if height is not None:
                vessel = spray.vessel
                outside = (
                    self.vessels[vessel] if vessel is not None else build.node(f"{stretch.id} air {number}", height)
                )
                outlets.append(
                    build.link(
                        here,
                        outside,
                        1.0 / (2.0 * bar.gravity * per_hole**2),
                        one_way=True,
                        open_ended=vessel is not None,
                        tips=(-math.inf, height),
                    )
                )
            before = here
        return LinkOf(links[0], 1.0, tuple(parts), ks[0], ks[1], None, links[-1], tuple(outlets))

    def out(self, end: End | None, stretch: Stretch, side: int) -> float:
        """How high water stands where it leaves a line: at the axis of full pipe, on the floor of pipe with air in it, where the stage there
        says how high it stands [m]."""
        if end is None:
            return -math.inf
        aired = stretch.id in self.vented and bool(stretch.parts)
        return end_lip(end, stretch.parts[-side], side) if aired else end.place[2]

    def place(self, end: End | None, name: str, out: float) -> int:
        """The node at one side of a stretch, where water leaves at a height `out` [m]."""
        if end is None:
            return self.build.node(name)
        if end.kind == "vessel":
            return self.vessels[end.name or ""]
        if end.kind == "open air":
            return self.build.node(name, out)
        if end.supply:
            node, mains = self.build.node(name), self.build.node(f"{name} mains", end.place[2] + MAINS)
            square, line = MAINS / end.draw**2, self.layout.lines[name.rpartition(".")[0]]
            # A float valve holds water back by itself, and two that do in a row part the pipe between them from both heads.
            floats = line.start.float_valve is not None or line.end.float_valve is not None
            self.build.link(mains, node, square, square, one_way=not floats)
            return node
        return self.build.node(name, draw=end.draw)

    def opens(self, end: End) -> float:
        """The level up to which a float valve is open, and over which it shuts little by little as it runs steadily [m]; through the
        day it is open or shut."""
        return (
            self.layout.vessels[end.name or ""].base + (end.float_valve or 0.0) - FLOAT_BAND
            if self.steady
            else math.inf
        )

    def outside(self, stretch: Stretch, spray: Part) -> tuple[int, float]:
        """The node that a bar's heads count from, and the height of its lowest hole in air [m]."""
        height = outside_head(self.layout, spray)
        if spray.vessel is not None:
            return self.vessels[spray.vessel], -math.inf if height is None else height
        return self.build.node(f"spray {stretch.id}", height if height is not None else math.nan), -math.inf

    def mouth(
        self,
        link: int,
        back: bool,
        end: End,
        bore: float,
        sleeve: float,
        primed: bool,
        wall: Weir | None = None,
        *,
        drawn: bool = False,
    ) -> None:
        """The stage of a line's end in a vessel; a primed siphon draws until the water is down at its bell, and at a `drawn` mouth the full
        pipe does, down to where air gets in. Over a `wall` water runs from either side."""
        entrance = end_k(end)[0]
        if primed and end.siphon is not None:
            floor = self.layout.vessels[end.name or ""].base
            self.build.stage(link, back, floor + end.siphon.breaks - UNDER_BELL)
            return
        height, up = end.place[2], end.heading[2]
        weir = end.weir or wall
        if weir is not None:
            floor = self.layout.vessels[end.name or ""].base
            wide, deep = notch_numbers(weir.angle) if weir.angle is not None else (weir.width, height - floor)
            self.build.stage(link, back, height, weir.shape, wide, deep)
            return
        if end.port == "standpipe":
            kind: Mouth = "siphon" if end.siphon is not None else "overflow" if end.in_wall else "crest"
        elif up > STEEP_MOUTH:
            kind = "crest"
        else:
            kind = "plain" if up < -STEEP_MOUTH else "wall"
        if drawn and kind == "crest":
            kind = "siphon"
        if kind == "crest" and (end.port == "standpipe" or end.loss is None):
            entrance = -1.0
        square = sleeve + (to_square(1.0 + entrance, bore) if kind == "plain" else 0.0)
        self.build.stage(link, back, height, kind, bore, entrance, square)

    def along(
        self,
        link: int,
        sign: float,
        stretch: Stretch,
        parts: Sequence[PartK],
        entry: Sequence[float],
        counts: Sequence[int],
    ) -> None:
        """The places of a stretch that air gets to. Where water parts at a tee the depth says what each arm takes, and a drop takes water as a
        hole in the tee's floor does."""
        for side in (0, 1):
            back = (side == 1) == (sign > 0.0)
            parted = (stretch.tail, stretch.head)[side] in self.partings
            square, linear = entry[side], 0.0
            for i in range(len(parts)) if side == 0 else range(len(parts) - 1, -1, -1):
                part, k = stretch.parts[i], parts[i]
                runs = (counts[0], counts[i]) if side == 0 else (counts[i + 1], counts[-1])
                if stands(part, side == 0):
                    self.air(link, back, part, side, square, linear, runs)
                elif parted and part is stretch.parts[-side]:
                    height, bore = side_of(part, side)
                    self.build.stage(link, back, height - 0.5 * bore, "crest", bore, -1.0, square)
                square += to_square(k.forward if side == 0 else k.back, k.bore)
                linear += to_linear(k.laminar, k.bore, self.nu)
            if parts:
                self.air(link, back, stretch.parts[side - 1], 1 - side, square, linear, (counts[0], counts[-1]))

    def air(
        self,
        link: int,
        back: bool,
        part: Part,
        side: int,
        square: float,
        linear: float,
        runs: tuple[int, int],
    ) -> None:
        """The stage of a side of a part that air gets to: over its floor the energy of the critical depth, of which no stream under its crown has
        less; where it stands upright, the water's speed, since it runs out over the floor of what lies next to it."""
        height, bore = side_of(part, side)
        if lies(part):
            self.build.stage(link, back, height, "wall", bore, 0.0, square, linear, runs)
        else:
            more = to_square(1.0, bore)
            self.build.stage(link, back, floor(part, side), square=square + more, linear=linear, runs=runs)


def _wall(stretch: Stretch, ends: Ends) -> Weir | None:
    """The wall over which water falls from its crest into the next vessel, with no pipe to go into, nor to leave."""
    weirs = [end.weir for end in ends if end is not None and end.weir]
    return weirs[0] if weirs and stretch.parts[0].pipe.name == NO_PIPE else None


def _one_way(live: Sequence[PartK], ends: Ends, *, sprays: bool) -> tuple[bool, bool]:
    """Whether water can only go along the walk, and whether only against it."""
    first, last = ends
    forward = any(k.one_way for k in live) or sprays or _in_air(last) or (last is not None and _floats(last))
    return forward, _in_air(first) or (first is not None and _floats(first))


def _floats(end: End) -> bool:
    """Whether a float valve is at an end."""
    return end.float_valve is not None


def _in_vessel(end: End | None) -> bool:
    """Whether a line ends in a vessel there."""
    return end is not None and end.kind == "vessel"


def _in_air(end: End | None) -> bool:
    """Whether water can leave a line there and never come in."""
    return end is not None and end.kind == "open air"
