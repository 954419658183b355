"""From a layout to the solver's arrays: a stretch becomes a link, a place where stretches meet becomes a node.

What a vessel does to the water is decided here:

- Without an `area` its level is held as stated, whatever flows: a reservoir.
- A vessel that a pump draws from is held too: the rest of the water is measured from it.
- A standpipe carries whatever its vessel receives, less what is drawn from it otherwise: the level stays at the crest.
- A vessel with an area that is fed, and that drains by a port, finds the level at which its drains carry what it gets.
- Water that falls freely into a vessel brings its flow but not its head.
- A spray bar is the end of its link: what it asks for at a flow is worked out hole by hole, and what lies behind it carries nothing.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..layout.model import Access, End, Layout, Part, Stretch
from .fittings import PartK, end_k, part_k
from .islands import components
from .losses import to_linear, to_square
from .network import BoolArray, Network, make_network
from .spray_bar import Bar, bar_of, capped_bar, outside_head
from .vessels import Roles, vessel_roles

__all__ = ["Assembly", "LinkOf", "Supply", "assemble", "at_rest", "end_bores", "only_out", "reaches_a_level"]


@dataclass(frozen=True, slots=True)
class LinkOf:
    """How a stretch stands in the network: its `link`, `sign` −1 where the link runs against the walk, the parts'
    coefficients, and those of its two ends for water entering and leaving there; the spray `bar` that it ends in."""

    link: int
    sign: float
    parts: tuple[PartK, ...]
    start: tuple[float, float]
    end: tuple[float, float]
    bar: Bar | None = None


@dataclass(frozen=True, slots=True)
class Supply:
    """Water put in from outside, by a hose: `head` [m] with its tap open and nothing running, `flow` [m³/s] with
    nothing against it."""

    head: float
    flow: float


@dataclass(frozen=True)
class Assembly:
    """A network and how to read it back. `nodes` numbers the places by name; `links` the stretches by id; `pumps` are
    the links of the pumps at work; `vessels` the (level node, balance node) of each vessel."""

    network: Network
    nodes: dict[str, int]
    links: dict[str, LinkOf]
    pumps: dict[str, int]
    vessels: dict[str, tuple[int, int]]
    roles: Roles
    tees: tuple[str, ...]


@dataclass(slots=True)
class _Build:
    """The network as it grows."""

    nodes: dict[str, int] = field(default_factory=dict)
    fixed: list[float] = field(default_factory=list)
    draw: list[float] = field(default_factory=list)
    links: dict[str, list[float]] = field(default_factory=lambda: {
        key: [] for key in ("tail", "head", "tail_mass", "head_mass", "square", "square_back", "linear", "one_way", "shut")
    })  # fmt: skip
    runs: list[tuple[int, float, float, float]] = field(default_factory=list)
    bars: dict[int, Bar] = field(default_factory=dict)

    def node(self, name: str, head: float = math.nan, draw: float = 0.0) -> int:
        """The node of that name, made when first asked for."""
        if name not in self.nodes:
            self.nodes[name] = len(self.fixed)
            self.fixed.append(head)
            self.draw.append(draw)
        return self.nodes[name]

    def link(self, tail: tuple[int, int], head: tuple[int, int], square: float = 0.0, back: float = 0.0,
             linear: float = 0.0, one_way: bool = False, shut: bool = False) -> int:  # fmt: skip
        """A link between (energy node, balance node) pairs."""
        row = (tail[0], head[0], tail[1], head[1], square, back, linear, one_way, shut)
        for values, value in zip(self.links.values(), row, strict=True):
            values.append(value)
        return len(self.links["tail"]) - 1


def assemble(
    layout: Layout,
    *,
    opened: Collection[str] = (),
    held: Collection[str] = (),
    dry: Collection[str] = (),
    levels: Mapping[str, float] | None = None,
    stopped: bool = False,
    fed: Mapping[str, Supply] | None = None,
    backed: Collection[str] = (),
) -> Assembly:
    """Build the network of a layout.

    Parameters:
        layout: read and walked.
        opened: ids of caps that stand open, so that water runs out there.
        held: vessels to hold at their stated level, with their standpipes shut, whatever they receive.
        dry: vessels whose water stays under their standpipes, which are shut.
        levels: where the water stands in vessels whose level is not as stated [m above the datum].
        stopped: all pumps stand still, and water may pass through them.
        fed: water put in from outside, by id of the cap it comes in at.
        backed: vessels whose ports carry what they receive as a standpipe does, their level being among `levels`.

    Returns:
        The network and the way back to the layout's names.
    """
    build = _Build()
    roles = vessel_roles(layout, held, dry, backed)
    vessels = {
        name: _vessel_nodes(build, roles, name, (levels or {}).get(name, vessel.level))
        for name, vessel in layout.vessels.items()
    }
    links = {stretch.id: _stretch(build, layout, roles, vessels, stretch) for stretch in layout.stretches}
    pumps = _pumps(build, layout, vessels, stopped)
    for access in layout.accesses:
        if access.kind == "cap":
            _open(build, access, access.id in opened, (fed or {}).get(access.id))
    lossy = tuple(name for name, tee in layout.tees.items() if tee.loss is None)
    legs = [_tee_legs(layout, links, tee) for tee in lossy]
    runs = np.array(build.runs).reshape(-1, 4)
    network = make_network(
        fixed_head=build.fixed,
        draw=build.draw,
        **{key: np.array(values, dtype=bool) if key in ("one_way", "shut") else values
           for key, values in build.links.items()},  # type: ignore[arg-type]
        run_link=runs[:, 0].astype(np.int64),
        run_bore=runs[:, 1],
        run_length=runs[:, 2],
        run_roughness=runs[:, 3],
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
    return Assembly(network, build.nodes, links, pumps, vessels, roles, lossy)


def _vessel_nodes(build: _Build, roles: Roles, name: str, stands: float) -> tuple[int, int]:
    if name in roles.finds_level:
        node = build.node(f"vessel {name}")
        return node, node
    level = build.node(f"vessel {name}", stands)
    return level, build.node(f"spill {name}") if name in roles.spills else level


def _stretch(
    build: _Build, layout: Layout, roles: Roles, vessels: dict[str, tuple[int, int]], stretch: Stretch
) -> LinkOf:
    line = layout.lines[stretch.line]
    starts, ends = stretch.tail == f"{line.name}.from", stretch.head == f"{line.name}.to"
    first = _end_nodes(build, layout, roles, vessels, line.start, stretch.tail) if starts else None
    last = _end_nodes(build, layout, roles, vessels, line.end, stretch.head) if ends else None
    tail = first or (build.node(stretch.tail),) * 2
    head = last or (build.node(stretch.head),) * 2
    start_k = end_k(line.start) if starts else (0.0, 0.0)
    last_k = end_k(line.end) if ends else (0.0, 0.0)
    parts = tuple(part_k(part) for part in stretch.parts)
    shut = any(k.shut for k in parts) or (
        (starts and _is_dry(roles, line.start)) or (ends and _is_dry(roles, line.end))
    )
    forward_only = any(k.one_way for k in parts) or (ends and only_out(line.end))
    back_only = starts and only_out(line.start)
    spray = capped_bar(layout, stretch)
    if spray is not None:
        head = _spray_nodes(build, layout, vessels, spray)
        last_k = (0.0, 0.0)
        forward_only = True
    bore_in, bore_out = end_bores(stretch)
    square = sum(to_square(k.forward, k.bore) for k in parts) + _stated_at_tees(layout, stretch, bore_in, bore_out)
    back = sum(to_square(k.back, k.bore) for k in parts) + _stated_at_tees(layout, stretch, bore_in, bore_out)
    square += to_square(start_k[0], bore_in) + to_square(last_k[1], bore_out)
    back += to_square(start_k[1], bore_in) + to_square(last_k[0], bore_out)
    nu = layout.water.viscosity / layout.water.density
    linear = sum(to_linear(k.laminar, k.bore, nu) for k in parts)
    sign = -1.0 if back_only and not forward_only else 1.0
    if sign < 0.0:
        tail, head, square, back = head, tail, back, square
    link = build.link(tail, head, square, back, linear, forward_only or back_only, shut or (forward_only and back_only))
    for part in stretch.parts:
        if part.is_pipe and part is not spray:
            build.runs.append((link, part.pipe.bore, part.length, part.pipe.roughness))
    bar = None if spray is None else bar_of(layout, spray)
    if bar is not None:
        build.bars[link] = bar
    return LinkOf(link, sign, parts, start_k, last_k, bar)


def end_bores(stretch: Stretch) -> tuple[float, float]:
    """The bores at a stretch's tail and head [m]."""
    if not stretch.parts:
        return stretch.bore, stretch.bore
    return stretch.parts[0].pipe.bore, stretch.parts[-1].pipe_out.bore


def _stated_at_tees(layout: Layout, stretch: Stretch, bore_in: float, bore_out: float) -> float:
    """The stated K of the tees at a stretch's ends: half of it in each leg, on the leg's own speed, so that a stream which
    goes from one leg to another alone loses the whole of it."""
    square = 0.0
    for name, bore in ((stretch.tail, bore_in), (stretch.head, bore_out)):
        if name in layout.tees:
            square += to_square(0.5 * (layout.tees[name].loss or 0.0), bore)
    return square


def only_out(end: End) -> bool:
    """Whether water can leave a line there but not enter it: an end in air. A standpipe is the other way round."""
    return (end.kind == "vessel" and not end.submerged and end.port != "standpipe") or end.kind == "open air"


def _is_dry(roles: Roles, end: End) -> bool:
    return end.port == "standpipe" and end.name in roles.held | roles.dry


def _end_nodes(
    build: _Build, layout: Layout, roles: Roles, vessels: dict[str, tuple[int, int]], end: End, name: str
) -> tuple[int, int]:
    """The (energy, balance) nodes at a line's free end."""
    if end.kind == "vessel":
        level, balance = vessels[end.name or ""]
        if end.port == "standpipe":
            return (balance, balance) if end.name in roles.spills else (level, level)
        if end in roles.ports:
            return balance, balance
        return (level, balance) if end.submerged else (build.node(name, end.place[2]), balance)
    if end.kind == "open air":
        return (build.node(name, end.place[2]),) * 2
    return (build.node(name, draw=end.draw),) * 2


def _spray_nodes(build: _Build, layout: Layout, vessels: dict[str, tuple[int, int]], spray: Part) -> tuple[int, int]:
    """The (energy, balance) nodes that a bar's heads count from."""
    height = outside_head(layout, spray)
    level, balance = vessels[spray.vessel] if spray.vessel is not None else (-1, -1)
    if height is None:
        return level, balance
    node = build.node(f"spray {spray.mark.line}", height)
    return node, node if spray.vessel is None else balance


def _open(build: _Build, access: Access, opened: bool, supply: Supply | None) -> None:
    """What a cap lets out or takes in: water that leaves loses its velocity head; a supply loses its own head as its
    flow squared, down to nothing at its largest flow."""
    if opened:
        node, outside = build.node(access.id), build.node(f"{access.id} opened", access.place[2])
        square = to_square(1.0, access.bore)
        build.link((node, node), (outside, outside), square, square, one_way=True)
    if supply is not None:
        node, source = build.node(access.id), build.node(f"{access.id} fed", access.place[2] + supply.head)
        square = supply.head / supply.flow**2
        build.link((source, source), (node, node), square, square, one_way=True)


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


def _pumps(build: _Build, layout: Layout, vessels: dict[str, tuple[int, int]], stopped: bool) -> dict[str, int]:
    """A link for each pump that feeds a line; none of them is a pump's when they stand still."""
    links = {}
    for pump in layout.pumps.values():
        out = f"{pump.name}.out"
        if out not in build.nodes:
            continue
        if stopped and pump.airlift is not None:
            # An open pipe end over the vessel: water runs out there, and none comes up.
            top = next(
                line.start.place[2]
                for line in layout.lines.values()
                if line.start.kind == "pump" and line.start.name == pump.name
            )
            outside = build.node(f"{pump.name} open", top)
            square = to_square(1.0, pump.airlift.riser.bore)
            build.link((build.nodes[out],) * 2, (outside, outside), square, square, one_way=True)
            continue
        inlet = build.node(f"{pump.name}.in")
        tail = vessels[pump.vessel] if pump.vessel is not None else (inlet, inlet)
        square = at_rest(pump.curve) if stopped else 0.0
        link = build.link(tail, (build.nodes[out],) * 2, square, square)
        if not stopped:
            links[pump.name] = link
    return links


def _tee_legs(layout: Layout, links: dict[str, LinkOf], tee: str) -> list[tuple[int, float, float]]:
    """For each leg of a tee: its link, +1 where the link's head end is at the tee, and its bore."""
    legs = []
    for leg in layout.tees[tee].legs:
        comes = leg.side in ("before", "to")
        stretch = next(s for s in layout.stretches if s.line == leg.line and (s.head if comes else s.tail) == tee)
        link = links[stretch.id]
        legs.append((link.link, link.sign if comes else -link.sign, leg.pipe.bore))
    return legs


def reaches_a_level(assembly: Assembly) -> BoolArray:
    """(n,) True for nodes that some chain of open links joins to a fixed head."""
    network = assembly.network
    use = ~network.shut
    label = components(len(network.fixed_head), network.tail[use], network.head[use])
    return np.isin(label, label[np.isfinite(network.fixed_head)])
