"""From a layout to the solver's arrays: a stretch becomes a link, a place where stretches meet becomes a node.

A vessel is a node. One without an `area`, or whose level is given, holds its level whatever flows: a reservoir. Any other
stores what it gains. Each end of a line in a vessel is an open end, with the same law whatever it is called: water goes in
when it stands over the mouth, by weir, orifice and full pipe, and where it comes out above the water it falls. Pipe that air
gets to, `vented`, holds the water nowhere lower than it lies. A spray bar is the end of its link: what it asks for at a flow is
worked out hole by hole, and what lies behind it carries nothing.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..layout.model import STEEP_MOUTH, Access, End, Layout, Part, Stretch, Tee, Vessel
from .fittings import PartK, end_k, parts_k
from .losses import reducer, to_linear, to_square
from .network import BoolArray, Network, make_network
from .spray_bar import Bar, bar_of, capped_bar, hole_heights, open_bar, outside_head
from .stages import HOLE_CD, MOUTHS, Mouth, Stages

__all__ = [
    "Assembly",
    "LinkOf",
    "Supply",
    "assemble",
    "at_rest",
    "end_bores",
    "height_of",
    "narrowing",
    "oriented",
    "pieces_by_line",
    "sleeve_gap",
    "stands",
    "tee_stretch",
]


UNDER_BELL = 0.2
"""A siphon's mouth asks for nothing until so far under where it breaks, which comes first [m]."""

MAINS = 20.0
"""The head behind a supply, whose flow is stated with nothing in its way [m]; common practice, no source: mains give 2 to 5 bar."""

GROUPS = 24
"""A bar that water passes through is followed hole by hole up to so many, else in so many groups."""


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
class Supply:
    """Water put in from outside, by a hose: `head` [m] with its tap open and nothing running, `flow` [m³/s] with
    nothing against it."""

    head: float
    flow: float


@dataclass(frozen=True)
class Assembly:
    """A network and how to read it back. `nodes` numbers the places by name; `links` the stretches by id; `pumps` are
    the links of the pumps at work and `intakes` those of the pumps that stand in a vessel; `vessels` each vessel's node, `rims` the links of what
    runs over their rims; `tees`
    those with losses of their own, in the network's order; `caps` the links of what runs out of opened caps."""

    network: Network
    nodes: dict[str, int]
    links: dict[str, LinkOf]
    pumps: dict[str, int]
    intakes: dict[str, int]
    vessels: dict[str, int]
    rims: dict[str, int]
    tees: tuple[str, ...]
    caps: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class _Build:
    """The network as it grows."""

    nodes: dict[str, int] = field(default_factory=dict)
    fixed: list[float] = field(default_factory=list)
    draw: list[float] = field(default_factory=list)
    storage: list[float] = field(default_factory=list)
    stored: list[float] = field(default_factory=list)
    links: dict[str, list[float]] = field(default_factory=lambda: {key: [] for key in (
        "tail", "head", "square", "square_back", "linear", "one_way", "shut", "open_ended", "tip_tail", "tip_head")
    })  # fmt: skip
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

    def link(self, tail: int, head: int, square: float = 0.0, back: float = 0.0, linear: float = 0.0, *,
             one_way: bool = False, shut: bool = False, open_ended: bool = False,
             tips: tuple[float, float] = (-math.inf, -math.inf)) -> int:  # fmt: skip
        """A link between two nodes."""
        row = (tail, head, square, back, linear, one_way, shut, open_ended, *tips)
        for values, value in zip(self.links.values(), row, strict=True):
            values.append(value)
        return len(self.links["tail"]) - 1

    def stage(self, link: int, back: bool, height: float, mouth: Mouth = "plain", bore: float = 0.0, k: float = 0.0,
              square: float = 0.0, linear: float = 0.0, runs: tuple[int, int] = (0, 0)) -> None:  # fmt: skip
        """A stage of a link."""
        self.stages.append((link, back, height, MOUTHS.index(mouth), bore, k, square, linear, *runs))

    def all_stages(self) -> Stages:
        """The stages as arrays."""
        rows = np.array(self.stages, dtype=np.float64).reshape(-1, 10)
        whole = rows[:, [0, 3, 8, 9]].astype(np.int64)
        return Stages(whole[:, 0], rows[:, 1] > 0.0, rows[:, 2], whole[:, 1], rows[:, 4], rows[:, 5], rows[:, 6],
                      rows[:, 7], whole[:, 2], whole[:, 3])  # fmt: skip


def assemble(
    layout: Layout,
    *,
    levels: Mapping[str, float] | None = None,
    stored: Mapping[str, tuple[float, float]] | None = None,
    vented: Collection[str] = (),
    opened: Collection[str] = (),
    stopped: Collection[str] = (),
    fed: Mapping[str, Supply] | None = None,
    sleeves: Mapping[str, float] | None = None,
    primed: Collection[str] = (),
    wide_open: Collection[str] = (),
    leaks: Mapping[str, float] | None = None,
) -> Assembly:
    """Build the network of a layout.

    Parameters:
        layout: read and walked.
        levels: of vessels that hold it, whatever they receive [m above the datum]; one without an area holds its stated
            level.
        stored: of all other vessels, area over the time in which the level moves [m²/s] and the level it moves from
            [m above the datum]; without it all levels are held.
        vented: ids of stretches that air gets to.
        opened: ids of caps that stand open, so that water runs out there.
        stopped: pumps that stand still; water may pass through them.
        fed: water put in from outside, by id of the cap it comes in at.
        sleeves: what the sleeve around a standpipe takes, by line end [s²/m⁵].
        primed: line ends whose siphons run full.
        wide_open: line ends whose float valves are open; others are shut.
        leaks: diameters [m] of round sharp-edged holes in the pipe, by place.

    Returns:
        The network and the way back to the layout's names.
    """
    build = _Build()
    vessels = {}
    for name, vessel in layout.vessels.items():
        if stored is not None and name in stored and not (levels and name in levels):
            area, level = stored[name]
            vessels[name] = build.node(f"vessel {name}", storage=area, stored=level)
        else:
            vessels[name] = build.node(f"vessel {name}", (levels or {}).get(name, vessel.level))
    stretches = _Stretches(
        build, layout, vessels, frozenset(vented), sleeves or {}, frozenset(primed), frozenset(wide_open)
    )
    links = {stretch.id: stretches.add(stretch) for stretch in layout.stretches}
    pumps, intakes = _pumps(build, layout, vessels, frozenset(stopped))
    caps: dict[str, int] = {}
    for access in layout.accesses:
        if access.kind == "cap" and access.id in opened:
            caps[access.id] = _open(build, access)
        if access.kind == "cap" and fed and access.id in fed:
            _feed(build, access, fed[access.id])
    for point, hole in (leaks or {}).items():
        _leak(build, layout, point, hole)
    rims = {name: _rim(build, layout.vessels[name], vessels[name]) for name in stored or () if layout.vessels[name].rim}
    lossy = tuple(name for name, tee in layout.tees.items() if tee.loss is None)
    pieces = pieces_by_line(layout)
    legs = [_tee_legs(pieces, links, layout.tees[name]) for name in lossy]
    runs = np.array(build.runs).reshape(-1, 4)
    flags = ("one_way", "shut", "open_ended")
    network = make_network(
        fixed_head=build.fixed,
        draw=build.draw,
        storage=build.storage,
        stored=build.stored,
        **{key: np.array(values, dtype=bool) if key in flags else values
           for key, values in build.links.items()},  # type: ignore[arg-type]
        run_link=runs[:, 0].astype(np.int64),
        run_bore=runs[:, 1],
        run_length=runs[:, 2],
        run_roughness=runs[:, 3],
        stages=build.all_stages(),
        tee_link=[[link for link, _, _ in tee] for tee in legs],
        tee_sign=[[sign for _, sign, _ in tee] for tee in legs],
        tee_bore=[[bore for _, _, bore in tee] for tee in legs],
        tee_angle=[layout.tees[tee].angle for tee in lossy],
        bar_link=list(build.bars),
        bars=list(build.bars.values()),
        pump_link=list(pumps.values()),
        pump_curves=[layout.pumps[name].curve for name in pumps],
        density=layout.water.density,
        viscosity=layout.water.viscosity,
    )  # fmt: skip
    return Assembly(network, build.nodes, links, pumps, intakes, vessels, rims, lossy, caps)


class _Stretches:
    """Puts the stretches of a layout into a network."""

    def __init__(self, build: _Build, layout: Layout, vessels: Mapping[str, int], vented: frozenset[str],
                 sleeves: Mapping[str, float], primed: frozenset[str], wide_open: frozenset[str]) -> None:  # fmt: skip
        self.build = build
        self.layout = layout
        self.vessels = vessels
        self.vented = vented
        self.sleeves = sleeves
        self.primed = primed
        self.wide_open = wide_open
        self.nu = layout.water.viscosity / layout.water.density

    def add(self, stretch: Stretch) -> LinkOf:
        """A link for one stretch, with its stages."""
        layout, build, line = self.layout, self.build, self.layout.lines[stretch.line]
        starts, ends = stretch.tail == f"{line.name}.from", stretch.head == f"{line.name}.to"
        first = line.start if starts else None
        last = line.end if ends else None
        start_k, last_k = (end_k(end) if end is not None else (0.0, 0.0) for end in (first, last))
        spray = capped_bar(layout, stretch)
        tail, head = self.place(first, stretch.tail), self.place(last, stretch.head)
        tips = [self.tip(first), self.tip(last)]
        if spray is not None:
            head, tips[1] = self.outside(stretch, spray)
            last, last_k = None, (0.0, 0.0)
        parts = parts_k(stretch.parts)
        live = (
            parts if spray is None else parts[: stretch.parts.index(spray) + 1]
        )  # what lies behind a bar's end carries nothing
        bores = end_bores(stretch)
        stated = [0.5 * (layout.tees[name].loss or 0.0) if name in layout.tees else 0.0
                  for name in (stretch.tail, stretch.head)]  # fmt: skip
        entry = [to_square(k[0], bore) + self.sleeves.get(name, 0.0)
                 for k, bore, name in zip((start_k, last_k), bores, (stretch.tail, stretch.head), strict=True)]  # fmt: skip
        leave = [to_square(k[1], bore) for k, bore in zip((start_k, last_k), bores, strict=True)]
        at_tees = sum(to_square(k, bore) for k, bore in zip(stated, bores, strict=True))
        (into_tail, out_of_tail), (into_head, out_of_head) = (
            narrowing(layout, point, bore) for point, bore in zip((stretch.tail, stretch.head), bores, strict=True)
        )
        square = sum(to_square(k.forward, k.bore) for k in live) + at_tees + entry[0] + leave[1]
        back = sum(to_square(k.back, k.bore) for k in live) + at_tees + entry[1] + leave[0]
        square, back = square + into_tail + out_of_head, back + into_head + out_of_tail
        linear = sum(to_linear(k.laminar, k.bore, self.nu) for k in live)
        only_forward = any(k.one_way for k in live) or _in_air(last) or spray is not None
        only_back = _in_air(first)
        sign = -1.0 if only_back and not only_forward else 1.0
        vented = stretch.id in self.vented
        open_ended = (
            vented or any(end is not None and end.kind == "vessel" for end in (first, last)) or spray is not None
        )
        shut = any(k.shut for k in live) or (only_forward and only_back)
        shut |= any(end is not None and end.float_valve is not None and point not in self.wide_open
                    for end, point in ((first, stretch.tail), (last, stretch.head)))  # fmt: skip
        through = open_bar(layout, stretch)
        if through is not None:
            return self.with_holes(
                stretch, through, tail, head, parts, entry, leave, shut, (first, last), (start_k, last_k)
            )
        if sign < 0.0:
            tail, head, square, back, tips = head, tail, back, square, tips[::-1]
        link = build.link(tail, head, square, back, linear, one_way=only_forward or only_back, shut=shut,
                          open_ended=open_ended, tips=(tips[0], tips[1]))  # fmt: skip
        begun = len(build.runs)
        counts = [begun]
        for part in stretch.parts:
            if part.is_pipe and part is not spray and (spray is None or part.step < spray.step):
                build.runs.append((link, part.pipe.bore, part.length, part.pipe.roughness))
            counts.append(len(build.runs))
        for side, end in ((0, first), (1, last)):
            if end is not None and end.kind == "vessel":
                point = (stretch.tail, stretch.head)[side]
                self.mouth(link, (side == 1) == (sign > 0.0), end, bores[side], self.sleeves.get(point, 0.0),
                           point in self.primed)  # fmt: skip
        if vented:
            self.along(link, sign, stretch, parts, entry, counts)
        bar = None if spray is None else bar_of(layout, spray)
        if bar is not None:
            build.bars[link] = bar
        return LinkOf(link, sign, parts, start_k, last_k, bar)

    def with_holes(
        self,
        stretch: Stretch,
        spray: Part,
        tail: int,
        head: int,
        parts: Sequence[PartK],
        entry: Sequence[float],
        leave: Sequence[float],
        shut: bool,
        ends: tuple[End | None, End | None],
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
        before, links, outlets = tail, [], []
        for number, height in enumerate([*hole_heights(spray, groups), None]):
            here = head if height is None else build.node(f"{stretch.id} hole {number}")
            own = (stretch.parts[:where], parts[:where]) if number == 0 else (
                (stretch.parts[where + 1 :], parts[where + 1 :]) if height is None else ((), ()))  # fmt: skip
            square = sum(to_square(k.forward, k.bore) for k in own[1]) + (entry[0] if number == 0 else 0.0)
            back = sum(to_square(k.back, k.bore) for k in own[1]) + (leave[0] if number == 0 else 0.0)
            if height is None:
                square, back = square + leave[1], back + entry[1]
            if number == 0 or height is None:
                point = stretch.tail if number == 0 else stretch.head
                bore = end_bores(stretch)[0 if number == 0 else 1]
                into, out = narrowing(layout, point, bore)
                stated = to_square(0.5 * (layout.tees[point].loss or 0.0), bore) if point in layout.tees else 0.0
                square += stated + (into if number == 0 else out)
                back += stated + (out if number == 0 else into)
            tips = (self.tip(ends[0]) if number == 0 else -math.inf, self.tip(ends[1]) if height is None else -math.inf)
            end = ends[0] if number == 0 else ends[1] if height is None else None
            in_vessel = end is not None and end.kind == "vessel"
            linear = sum(to_linear(k.laminar, k.bore, self.nu) for k in own[1])
            link = build.link(before, here, square, back, linear, one_way=one_way or (height is None and _in_air(ends[1])),
                              shut=shut, open_ended=in_vessel, tips=tips)  # fmt: skip
            if in_vessel and end is not None:
                self.mouth(link, height is None, end, end_bores(stretch)[1 if height is None else 0], 0.0, False)
            for part in own[0]:
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
                outlets.append(build.link(here, outside, 1.0 / (2.0 * bar.gravity * per_hole**2), one_way=True,
                                          open_ended=vessel is not None, tips=(-math.inf, height)))  # fmt: skip
            before = here
        return LinkOf(links[0], 1.0, tuple(parts), ks[0], ks[1], None, links[-1], tuple(outlets))

    def place(self, end: End | None, name: str) -> int:
        """The node at one side of a stretch."""
        if end is None:
            return self.build.node(name)
        if end.kind == "vessel":
            return self.vessels[end.name or ""]
        if end.kind == "open air":
            return self.build.node(name, end.place[2])
        if end.supply:
            node, mains = self.build.node(name), self.build.node(f"{name} mains", end.place[2] + MAINS)
            square = MAINS / end.draw**2
            self.build.link(mains, node, square, square, one_way=True)
            return node
        return self.build.node(name, draw=end.draw)

    @staticmethod
    def tip(end: End | None) -> float:
        """How high water falls from where it leaves a line in a vessel [m]."""
        return end.place[2] if end is not None and end.kind == "vessel" else -math.inf

    def outside(self, stretch: Stretch, spray: Part) -> tuple[int, float]:
        """The node that a bar's heads count from, and the height of its lowest hole in air [m]."""
        height = outside_head(self.layout, spray)
        if spray.vessel is not None:
            return self.vessels[spray.vessel], -math.inf if height is None else height
        return self.build.node(f"spray {stretch.id}", height if height is not None else math.nan), -math.inf

    def mouth(self, link: int, back: bool, end: End, bore: float, sleeve: float, primed: bool) -> None:
        """The stage of a line's end in a vessel; a primed siphon draws until the water is down at its bell."""
        entrance = end_k(end)[0]
        if primed and end.siphon is not None:
            floor = self.layout.vessels[end.name or ""].base
            self.build.stage(link, back, floor + end.siphon.breaks - UNDER_BELL)
            return
        height, up = end.place[2], end.heading[2]
        if end.port == "standpipe":
            kind: Mouth = "overflow" if end.in_wall else "crest"
        elif up > STEEP_MOUTH:
            kind = "crest"
        else:
            kind = "plain" if up < -STEEP_MOUTH else "wall"
        if kind == "crest" and (end.port == "standpipe" or end.loss is None):
            entrance = -1.0
        square = sleeve + (to_square(1.0 + entrance, bore) if kind == "plain" else 0.0)
        self.build.stage(link, back, height, kind, bore, entrance, square)

    def along(self, link: int, sign: float, stretch: Stretch, parts: Sequence[PartK], entry: Sequence[float],
              counts: Sequence[int]) -> None:  # fmt: skip
        """The places of a stretch that air gets to: water stands there at the axis or over it, with its speed."""
        for side in (0, 1):
            back = (side == 1) == (sign > 0.0)
            square, linear = entry[side], 0.0
            order = range(len(parts)) if side == 0 else range(len(parts) - 1, -1, -1)
            for i in order:
                part, k = stretch.parts[i], parts[i]
                runs = (counts[0], counts[i]) if side == 0 else (counts[i + 1], counts[-1])
                height = (part.start if side == 0 else part.end)[2]
                bore = (part.pipe if side == 0 else part.pipe_out).bore
                if stands(part, side == 0):
                    self.build.stage(link, back, height, square=square + to_square(1.0, bore), linear=linear, runs=runs)
                square += to_square(k.forward if side == 0 else k.back, k.bore)
                linear += to_linear(k.laminar, k.bore, self.nu)
            if parts:
                part = stretch.parts[-1 if side == 0 else 0]
                height, bore = (part.end[2], part.pipe_out.bore) if side == 0 else (part.start[2], part.pipe.bore)
                self.build.stage(link, back, height, square=square + to_square(1.0, bore), linear=linear,
                                 runs=(counts[0], counts[-1]))  # fmt: skip


def narrowing(layout: Layout, point: str, bore: float) -> tuple[float, float]:
    """What a tee's run costs where it is narrower than the run on the tee's other side: for water that goes into the narrow leg,
    and that comes out of it [s²/m⁵]. The branch's bore is in the tee's own law; a K that is stated stands for all of it.

    Reference: a sudden change of bore, Rennels and Hudson, Pipe Flow, 2012, ch. 10 and 11.
    """
    tee = layout.tees.get(point)
    if tee is None or tee.loss is not None:
        return 0.0, 0.0
    runs = [leg.pipe.bore for leg in tee.legs[:2]]
    if bore >= max(runs) or bore not in runs:
        return 0.0, 0.0
    into, out = reducer(max(runs), bore)
    return to_square(into, max(runs)), to_square(out, max(runs))


def stands(part: Part, forward: bool) -> bool:
    """Whether water stands at the axis where it enters a part that air gets to: not where it falls into a drop, which pulls what
    the turn into it costs."""
    down = part.heading_in[2] if forward else -part.heading_out[2]
    return not (part.is_pipe and down < -STEEP_MOUTH)


def _in_air(end: End | None) -> bool:
    """Whether water can leave a line there and never come in."""
    return end is not None and end.kind == "open air"


def oriented(assembly: Assembly, turned: BoolArray) -> Assembly:
    """The same with links running as the water does, for those that were `turned` (m,)."""
    if not turned.any():
        return assembly
    links = {
        name: replace(link, sign=-link.sign) if turned[link.link] else link for name, link in assembly.links.items()
    }
    return replace(assembly, network=assembly.network.turned(turned), links=links)


def end_bores(stretch: Stretch) -> tuple[float, float]:
    """The bores at a stretch's tail and head [m]."""
    if not stretch.parts:
        return stretch.bore, stretch.bore
    return stretch.parts[0].pipe.bore, stretch.parts[-1].pipe_out.bore


def sleeve_gap(end: End, stretch: Stretch, side: int) -> tuple[float, float] | None:
    """Give the area [m²] and the hydraulic diameter [m] of the gap between a standpipe and its sleeve; None without one.

    Area π/4 (Ds² − d²) and hydraulic diameter Ds − d, with d the pipe's outside diameter, or its bore where that is not
    known; a sleeve that is not wider than the pipe counts as a gap of a tenth of a millimetre.
    """
    if end.sleeve is None:
        return None
    outside = end_bores(stretch)[side]
    if stretch.parts:
        pipe = stretch.parts[0].pipe if side == 0 else stretch.parts[-1].pipe_out
        outside = pipe.outside or pipe.bore
    wide = max(end.sleeve, outside + 1e-4)
    return 0.25 * math.pi * (wide**2 - outside**2), wide - outside


def _rim(build: _Build, vessel: Vessel, node: int) -> int:
    """What runs over a vessel's rim onto the ground: a weir, as round as the vessel is wide."""
    height = vessel.base + (vessel.rim or 0.0)
    ground = build.node(f"rim {vessel.name}", height)
    wide = math.sqrt(4.0 * (vessel.area or 1.0) / math.pi)
    link = build.link(node, ground, to_square(1.0, wide), one_way=True, open_ended=True)
    build.stage(link, False, height, "crest", wide, -1.0)
    return link


def _open(build: _Build, access: Access) -> int:
    """What a cap lets out, as a link: water that leaves loses its velocity head."""
    node, outside = build.node(access.id), build.node(f"{access.id} opened", access.place[2])
    square = to_square(1.0, access.bore)
    return build.link(node, outside, square, square, one_way=True)


def _feed(build: _Build, access: Access, supply: Supply) -> None:
    """What a cap takes in: a supply loses its own head as its flow squared, down to nothing at its largest flow."""
    node, source = build.node(access.id), build.node(f"{access.id} fed", access.place[2] + supply.head)
    square = supply.head / supply.flow**2
    build.link(source, node, square, square, one_way=True)


def _leak(build: _Build, layout: Layout, point: str, hole: float) -> None:
    """A hole to the open air: Q = Cd A √(2gh), that is a K of 1/Cd² on the speed in the hole."""
    node, outside = build.node(point), build.node(f"{point} leak", height_of(layout, point))
    square = to_square(HOLE_CD**-2, hole)
    build.link(node, outside, square, square, one_way=True)


def height_of(layout: Layout, point: str) -> float:
    """The height of a place of the network [m above the datum]: of the parts of a stretch at its ends."""
    for stretch in layout.stretches:
        if stretch.parts and point in (stretch.tail, stretch.head):
            return stretch.parts[0].start[2] if point == stretch.tail else stretch.parts[-1].end[2]
    raise ValueError(f"no pipe begins or ends at '{point}'")


def at_rest(curve: Sequence[tuple[float, float]]) -> float:
    """Give the resistance of a pump that stands still, a in h = a Q², for water that passes through it either way.

    By the affinity laws H = n² f(Q/n), so a curve that falls as H = H₀ − a Q² leaves −a Q² at n = 0. a is taken from the
    curve's first and last points.

    Parameters:
        curve: ((flow [m³/s], head [m]), …) with rising flow.

    Returns:
        a [s²/m⁵].

    >>> round(at_rest(((0.0, 3.0), (0.001, 1.0))) / 1e6, 9)
    2.0

    Reference: affinity laws, Crane TP-410 (as its Ex. 7.33 uses them); that they hold down to n = 0 is an assumption.
    """
    (first_flow, first_head), (last_flow, last_head) = curve[0], curve[-1]
    return (first_head - last_head) / (last_flow**2 - first_flow**2)


def _pumps(
    build: _Build, layout: Layout, vessels: Mapping[str, int], stopped: frozenset[str]
) -> tuple[dict[str, int], dict[str, int]]:
    """A link for each pump that feeds a line; none of them is a pump's when it stands still. One that stands in a vessel has its
    intake as another: nothing comes to it while the water is lower."""
    links: dict[str, int] = {}
    intakes: dict[str, int] = {}
    for pump in layout.pumps.values():
        out = f"{pump.name}.out"
        if out not in build.nodes:
            continue
        still = pump.name in stopped
        if still and pump.airlift is not None:
            # An open pipe end over the vessel: water runs out there, and none comes up.
            top = next(
                line.start.place[2]
                for line in layout.lines.values()
                if line.start.kind == "pump" and line.start.name == pump.name
            )
            outside = build.node(f"{pump.name} open", top)
            square = to_square(1.0, pump.airlift.riser.bore)
            build.link(build.nodes[out], outside, square, square, one_way=True)
            continue
        inlet = build.node(f"{pump.name}.in")
        if pump.vessel is not None:
            height = layout.vessels[pump.vessel].base + pump.intake
            intake = build.link(vessels[pump.vessel], inlet, open_ended=True, tips=(height, -math.inf))
            build.stage(intake, False, height)
            intakes[pump.name] = intake
        square = at_rest(pump.curve) if still else 0.0
        link = build.link(inlet, build.nodes[out], square, square)
        if not still:
            links[pump.name] = link
    return links, intakes


def pieces_by_line(layout: Layout) -> dict[str, list[Stretch]]:
    """The stretches of each line, in the order of the walk."""
    pieces: dict[str, list[Stretch]] = {name: [] for name in layout.lines}
    for stretch in layout.stretches:
        pieces[stretch.line].append(stretch)
    return pieces


def tee_stretch(pieces: Mapping[str, Sequence[Stretch]], tee: Tee, leg: int) -> Stretch:
    """The stretch that leaves a tee at one of its legs, which may be of a line that comes back to it."""
    of = tee.legs[leg]
    line = pieces[of.line]
    match of.side:
        case "from":
            return line[0]
        case "to":
            return line[-1]
        case "before":
            return next(stretch for stretch in line if stretch.head == tee.id)
        case _:
            return next(stretch for stretch in reversed(line) if stretch.tail == tee.id)


def _tee_legs(
    pieces: Mapping[str, Sequence[Stretch]], links: Mapping[str, LinkOf], tee: Tee
) -> list[tuple[int, float, float]]:
    """For each leg of a tee: its link, +1 where the link's head end is at the tee, and its bore."""
    legs = []
    for number, leg in enumerate(tee.legs):
        link = links[tee_stretch(pieces, tee, number).id]
        legs.append(
            (
                link.at(1 if leg.side in ("before", "to") else 0),
                link.sign if leg.side in ("before", "to") else -link.sign,
                leg.pipe.bore,
            )
        )
    return legs
