"""What the hydraulics found for a layout: plain frozen data in SI units, by the layout's own names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from ..layout.model import Pump, Stretch, Vessel
    from .assemble import Assembly
    from .network import Solution

__all__ = ["Duty", "DutyState", "EndFlow", "Flows", "PartLoss", "RouteLedger", "Solved", "StretchFlow", "VesselFlow"]

DutyState = Literal[
    "shut-off", "on curve", "below first point", "run-out", "backwards", "no path", "starved", "by its switch"
]


@dataclass(frozen=True, slots=True)
class StretchFlow:
    """One stretch. `flow` [m³/s] signed along the line, at its tail, and `flow_head` at its head, which differ where a bar in it
    lets water out; `velocity` [m/s] in its bore as if full, unsigned;
    `head_tail` and `head_head` [m] total heads inside the pipe at its two points, NaN where nothing fixes them;
    `loss` [m] head lost between them, in its own runs and fittings (what a tee or an end of the line takes is not in it),
    never negative; `gravity` True where no pump pushes; `vented` where it is a drain that takes air in, so that
    its heads are never below the pipe; `dry` where it stands empty.
    """

    flow: float
    velocity: float
    head_tail: float
    head_head: float
    loss: float
    flow_head: float = 0.0
    gravity: bool = False
    vented: bool = False
    dry: bool = False


@dataclass(frozen=True, slots=True)
class Duty:
    """One pump's duty point. `flow` [m³/s], `head` [m], `power` [W] from the mains if known, `useful` ρgQH [W];
    `curve` is what it works on, ((flow [m³/s], head [m]), …)."""

    flow: float
    head: float
    state: DutyState
    power: float | None
    useful: float
    curve: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class VesselFlow:
    """One vessel. `inflow` and `outflow` [m³/s] through all its lines and pumps; `wanted` [m³/s] or None;
    `level` [m above the datum] that it settles at, or that is asked about; None where it is held as stated;
    `balanced` True where it settles; `carries` [m³/s] what
    its ways out carry before it overtops, all carrying more alike, where that is known; `spilt` [m³/s] what runs over its
    rim."""

    inflow: float
    outflow: float
    wanted: float | None
    level: float | None = None
    balanced: bool = False
    carries: float | None = None
    spilt: float = 0.0

    @property
    def margin(self) -> float | None:
        """By what share it gets more than it wants; below nothing where that is less, None where it wants nothing."""
        return self.inflow / self.wanted - 1.0 if self.wanted else None

    @property
    def short(self) -> bool:
        """Whether it gets less than it wants, by more than rounding."""
        return self.margin is not None and self.margin < -1e-6


@dataclass(frozen=True, slots=True)
class EndFlow:
    """One line end. `height` [m] of the pipe there, `head` [m] total head inside the pipe, `flow` [m³/s] signed
    along the line."""

    height: float
    head: float
    flow: float


FREE_FALL = "falls freely, part-full"
"""What a ledger calls the head that water gives up in pipe that has air in it."""


@dataclass(frozen=True, slots=True)
class PartLoss:
    """What one part of a route costs. `label` in the user's words; `loss` [m of water]."""

    label: str
    line: str
    step: int
    loss: float


@dataclass(frozen=True, slots=True)
class RouteLedger:
    """Where the head goes from `source` to `end` ("LINE.to"): the static `lift` [m] and each part's loss; they add
    up to the heads of the pumps passed on the way, `pumped` [m]. `way` are the stretches with the flow, each with its downstream side."""

    source: str
    end: str
    vessel: str | None
    pumped: float
    lift: float
    losses: tuple[PartLoss, ...]
    way: tuple[tuple[Stretch, int], ...] = field(default=(), compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Solved:
    """A network with its solution, its links running as the water does."""

    assembly: Assembly
    solution: Solution


@dataclass(frozen=True, slots=True)
class Flows:
    """The whole answer. Keys are stretch ids, pump names, vessel names and "LINE.from" / "LINE.to".

    `mass_residual` [m³/s] and `head_residual` [m] are recomputed from the final numbers. `held` are the ids of stretches in which
    a check valve or a free end holds back reversed flow; `cut_off` those that no open path joins to any fixed head. `doubtful`
    are those in which air may as well get in as not: with it the flows are others. `solved` is the network that they were found on.
    Of indexing valves `turns` are the flows while each outlet has its turn; all else is then as in the turn in which most flows there.
    Of pipe that pumps push while their switch has them on, `while_on` are the flows then, by stretch; `stretches` has their mean. Of pipe in which
    water flows only while a clock or a switch has a pump off, they are the flows then.
    """

    stretches: Mapping[str, StretchFlow]
    pumps: Mapping[str, Duty]
    vessels: Mapping[str, VesselFlow]
    ends: Mapping[str, EndFlow]
    routes: tuple[RouteLedger, ...]
    held: frozenset[str]
    cut_off: frozenset[str]
    mass_residual: float
    head_residual: float
    steps: int
    doubtful: frozenset[str] = frozenset()
    solved: Solved | None = field(default=None, compare=False, repr=False)
    turns: tuple[Flows, ...] = ()
    while_on: Mapping[str, StretchFlow] = field(default_factory=dict)

    def stands(self, vessel: Vessel) -> float:
        """Where a vessel's water stands [m above the datum]: as stated where it is held there."""
        level = self.vessels[vessel.name].level
        return vessel.level if level is None else level

    def rests(self, pump: Pump) -> bool:
        """Whether a pump is there and does not run: it stands by, or its switch never comes to turn it on."""
        duty = self.pumps.get(pump.name)
        return pump.stands_by or (duty is not None and duty.state == "by its switch" and duty.flow <= 0.0)

    def out_of(self, point: str) -> float:
        """What comes out of the pipe at a line's end, "LINE.from" or "LINE.to"; below nothing what goes in [m³/s]."""
        flow = self.ends[point].flow
        return flow if point.endswith(".to") else -flow
