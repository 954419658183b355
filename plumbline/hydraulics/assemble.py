"""From a layout to the solver's arrays: a stretch becomes a link, a place where stretches meet becomes a node.

A vessel is a node. One without an `area`, or whose level is given, holds its level whatever flows: a reservoir. Any other
stores what it gains. Each end of a line in a vessel is an open end, with the same law whatever it is called: water goes in
when it stands over the mouth, by weir, orifice and full pipe, and where it comes out above the water it falls. Pipe that air
gets to, `vented`, holds the water nowhere lower than it lies. A spray bar is the end of its link: what it asks for at a flow is
worked out hole by hole, and what lies behind it carries nothing.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..layout.model import Access, Layout, Stretch, Tee, Vessel
from .loss_units import to_square
from .network import BoolArray, FloatArray, Network, Solution, make_network
from .risers import curve_of
from .stages import HOLE_CD, stage_heads
from .stretch_links import Build, LinkOf, StretchLinks
from .stretches import height_of, intakes, mouths, partings, pieces_by_line, pump_sources, tee_stretch

__all__ = ["Assembly", "Supply", "assemble", "at_rest", "oriented"]


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
    those with losses of their own, in the network's order; `caps` the links of what runs out of opened caps; `by_switch` those of what pumps that a switch turns off do
    not give."""

    network: Network
    nodes: dict[str, int]
    links: dict[str, LinkOf]
    pumps: dict[str, int]
    intakes: dict[str, int]
    vessels: dict[str, int]
    rims: dict[str, int]
    tees: tuple[str, ...]
    caps: dict[str, int] = field(default_factory=dict)
    by_switch: tuple[int, ...] = ()

    def drawn_from(self, layout: Layout) -> frozenset[str]:
        """The vessels that pumps at work draw from."""
        return pump_sources(
            replace(layout, pumps={name: pump for name, pump in layout.pumps.items() if name in self.pumps})
        )

    def over_intake(self, layout: Layout, pump: str, solution: Solution) -> float:
        """How far the water that a pump draws on stands over what its intake, or the mouth of its suction line, asks for at its flow [m]: next to
        nothing (`BARE`) where it draws air, and without end where it is left out of the network, as an airlift is whose air has stopped."""
        network, stages = self.network, self.network.stages
        still, over = np.zeros(len(network.run_link) + 1), math.inf
        for vessel, _, point in intakes(layout)[pump]:
            node = self.vessels[vessel]
            if point is not None:
                _, stretch, side = mouths(layout)[point]
                link = self.links[stretch.id].at(side)
            elif pump in self.intakes:
                link = self.intakes[pump]
            else:
                continue
            back = network.head[link] == node
            flow = float(-solution.flows[link] if back else solution.flows[link])
            if solution.staged[link] and flow > 0.0:
                return 0.0
            at = stages.only((stages.link == link) & (stages.back == back))
            asked = stage_heads(at, np.full(len(at.link), flow), still, still, network.gravity)[0]
            over = min(over, float(solution.heads[node] - np.max(asked, initial=-math.inf)))
        return over

    def ways(self, vessel: str) -> list[tuple[int, float]]:
        """The links by which water comes into a vessel or leaves it, other than over its rim, each with the sign of what comes in."""
        network, node = self.network, self.vessels[vessel]
        aside = {*self.rims.values(), *self.by_switch}
        links = np.flatnonzero((network.tail == node) | (network.head == node)).tolist()
        return [(link, 1.0 if network.head[link] == node else -1.0) for link in links if link not in aside]

    def passes(self, vessel: str, flows: FloatArray) -> tuple[float, float]:
        """What comes into a vessel and what leaves it by its ways [m³/s], at the flows (m,) of the links."""
        gains = [sign * float(flows[link]) for link, sign in self.ways(vessel)]
        return sum(max(one, 0.0) for one in gains), sum(max(-one, 0.0) for one in gains)


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
    losses: Mapping[str, float] | None = None,
    drawn: Collection[str] = (),
    steady: bool = False,
) -> Assembly:
    """Build the network of a layout.

    Parameters:
        levels: of vessels that hold it, whatever they receive [m above the datum]; one without an area holds its stated
            level.
        stored: of all other vessels, area over the time in which the level moves [m²/s] and the level it moves from
            [m above the datum]; without it all levels are held.
        opened: ids of caps that stand open, so that water runs out there.
        stopped: pumps that stand still; water may pass through them.
        fed: water put in from outside, by id of the cap it comes in at.
        sleeves: what the sleeve around a standpipe takes, by line end [s²/m⁵].
        primed: line ends whose siphons run full.
        wide_open: line ends whose float valves are open; others are shut.
        leaks: diameters [m] of round sharp-edged holes in the pipe, by place.
        losses: what goes to the air and to plants, by vessel [m³/s].
        drawn: line ends over which the water stands, and whose full pipe draws on it.
        steady: a pump whose switch turns it off as its vessel falls, or another fills, holds it there, as it does over many starts; and
            a float valve gives what its vessel lacks.
    """
    build = Build()
    vessels, losses = {}, losses or {}
    for name, vessel in layout.vessels.items():
        if stored is not None and name in stored and not (levels and name in levels):
            area, level = stored[name]
            vessels[name] = build.node(f"vessel {name}", draw=losses.get(name, 0.0), storage=area, stored=level)
        else:
            vessels[name] = build.node(f"vessel {name}", (levels or {}).get(name, vessel.level))
    air, full, wide = frozenset(vented), frozenset(primed), frozenset(wide_open)
    stretches = StretchLinks(
        build, layout, vessels, air, sleeves or {}, full, wide, partings(layout, vented), frozenset(drawn), steady
    )
    links = {stretch.id: stretches.add(stretch) for stretch in layout.stretches}
    pumps, own = _pumps(build, layout, vessels, frozenset(stopped), steady)
    caps: dict[str, int] = {}
    for access in layout.accesses:
        if access.kind == "cap" and access.id in opened:
            caps[access.id] = _open(build, access)
        if access.kind == "cap" and fed and access.id in fed:
            _feed(build, access, fed[access.id])
    for point, hole in (leaks or {}).items():
        _leak(build, layout, point, hole)
    by_switch = tuple(_filled(build, layout, vessels)) if steady else ()
    rims = {name: _rim(build, layout.vessels[name], vessels[name]) for name in stored or () if layout.vessels[name].rim}
    lossy = tuple(name for name, tee in layout.tees.items() if tee.loss is None)
    pieces = pieces_by_line(layout)
    legs = [_tee_legs(pieces, links, layout.tees[name]) for name in lossy]
    runs = np.array(build.runs).reshape(-1, 4)
    network = make_network(
        fixed_head=build.fixed,
        draw=build.draw,
        storage=build.storage,
        stored=build.stored,
        **build.all_links(),  # type: ignore[arg-type]
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
        pump_curves=[curve_of(layout, layout.pumps[name]) for name in pumps],
        density=layout.water.density,
        viscosity=layout.water.viscosity,
    )
    return Assembly(network, build.nodes, links, pumps, own, vessels, rims, lossy, caps, by_switch)


def oriented(assembly: Assembly, turned: BoolArray) -> Assembly:
    """The same with links running as the water does, for those that were `turned` (m,)."""
    if not turned.any():
        return assembly
    links = {
        name: replace(link, sign=-link.sign) if turned[link.link] else link for name, link in assembly.links.items()
    }
    return replace(assembly, network=assembly.network.turned(turned), links=links)


def _rim(build: Build, vessel: Vessel, node: int) -> int:
    """What runs over a vessel's rim onto the ground."""
    height = vessel.base + (vessel.rim or 0.0)
    return _brim(build, vessel, node, height, build.node(f"rim {vessel.name}", height))


def _filled(build: Build, layout: Layout, vessels: Mapping[str, int]) -> Iterator[int]:
    """A pump whose switch turns it off as another vessel fills holds that one there: what it gives beyond that stays where it draws from."""
    for pump in layout.pumps.values():
        switch = pump.switch
        if switch is not None and pump.vessel not in (None, switch.vessel) and switch.off > switch.on:
            vessel = layout.vessels[switch.vessel]
            yield _brim(build, vessel, vessels[switch.vessel], vessel.base + switch.off, vessels[pump.vessel or ""])


def _brim(build: Build, vessel: Vessel, node: int, height: float, ground: int) -> int:
    """A weir, as round as a vessel is wide."""
    wide = math.sqrt(4.0 * (vessel.area or 1.0) / math.pi)
    link = build.link(node, ground, to_square(1.0, wide), one_way=True, open_ended=True)
    build.stage(link, False, height, "crest", wide, -1.0)
    return link


def _open(build: Build, access: Access) -> int:
    """What a cap lets out, as a link: water that leaves loses its velocity head."""
    node, outside = build.node(access.id), build.node(f"{access.id} opened", access.place[2])
    square = to_square(1.0, access.bore)
    return build.link(node, outside, square, square, one_way=True)


def _feed(build: Build, access: Access, supply: Supply) -> None:
    """What a cap takes in: a supply loses its own head as its flow squared, down to nothing at its largest flow."""
    node, source = build.node(access.id), build.node(f"{access.id} fed", access.place[2] + supply.head)
    square = supply.head / supply.flow**2
    build.link(source, node, square, square, one_way=True)


def _leak(build: Build, layout: Layout, point: str, hole: float) -> None:
    """A hole to the open air: Q = Cd A √(2gh), that is a K of 1/Cd² on the speed in the hole."""
    node, outside = build.node(point), build.node(f"{point} leak", height_of(layout, point))
    square = to_square(HOLE_CD**-2, hole)
    build.link(node, outside, square, square, one_way=True)


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
    build: Build, layout: Layout, vessels: Mapping[str, int], stopped: frozenset[str], steady: bool
) -> tuple[dict[str, int], dict[str, int]]:
    """A link for each pump that feeds a line; none of them is a pump's when it stands still. One that stands in a vessel has its
    intake as another: nothing comes to it while the water is lower."""
    links: dict[str, int] = {}
    own: dict[str, int] = {}
    for pump in layout.pumps.values():
        out = f"{pump.name}.out"
        if out not in build.nodes:
            continue
        still = pump.name in stopped
        if still and pump.airlift is not None:
            # An open pipe end over the vessel: water runs out there, and none comes up.
            starts = (line.start for line in layout.lines.values())
            top = next(end.place[2] for end in starts if end.kind == "pump" and end.name == pump.name)
            outside = build.node(f"{pump.name} open", top)
            square = to_square(1.0, pump.airlift.riser.bore)
            build.link(build.nodes[out], outside, square, square, one_way=True)
            continue
        inlet = build.node(f"{pump.name}.in")
        if pump.vessel is not None:
            height = layout.vessels[pump.vessel].base + (pump.leaves if steady else pump.intake)
            intake = build.link(vessels[pump.vessel], inlet, open_ended=True, tips=(height, -math.inf))
            build.stage(intake, False, height)
            own[pump.name] = intake
        square = at_rest(pump.curve) if still else 0.0
        link = build.link(inlet, build.nodes[out], square, square)
        if not still:
            links[pump.name] = link
    return links, own


def _tee_legs(
    pieces: Mapping[str, Sequence[Stretch]], links: Mapping[str, LinkOf], tee: Tee
) -> list[tuple[int, float, float]]:
    """For each leg of a tee: its link, +1 where the link's head end is at the tee, and its bore."""
    legs = []
    for number, leg in enumerate(tee.legs):
        link = links[tee_stretch(pieces, tee, number).id]
        at_head = leg.side in ("before", "to")
        legs.append((link.at(int(at_head)), link.sign if at_head else -link.sign, leg.pipe.bore))
    return legs
