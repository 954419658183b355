"""What pumping costs, how a pump does at another speed, and how the pumps of a file compare in the same place.

Power and efficiency are the whole way from mains to water. The power is what the file states, the figure on the pump's
plate or a meter; a plate's figure is mostly above what the pump draws, and then the cost is an upper one.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from ..errors import SolveError
from ..findings import Finding
from ..layout.model import Electricity, Layout, Pump
from .find import find_flows
from .flows import Duty, Flows
from .judge import judge
from .pumps import at_speed

__all__ = [
    "DAYS",
    "SLOWEST",
    "Comparison",
    "RunningCost",
    "Trial",
    "compare_pumps",
    "in_place_of",
    "least_speed",
    "run_at",
    "running_cost",
    "running_costs",
]

DAYS = 365.0
"""Days of the year that a pump runs."""

SLOWEST = 0.3
"""Least share of full speed that is tried: below it the affinity laws say little (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class RunningCost:
    """What a pump at its duty point takes. `useful` ρgQH and `power` from the mains [W]; `efficiency` their ratio, above 1
    where the file's power or curve must be wrong; `energy` [kWh a year]; `per_volume` [kWh per m³ moved]; `money` a
    year in the file's currency. None where the file does not tell."""

    useful: float
    power: float | None
    efficiency: float | None
    energy: float | None
    per_volume: float | None
    money: float | None


@dataclass(frozen=True, slots=True)
class Trial:
    """One pump tried in the place of a working one. `own` where it is the one that works there now; `duty` None where no
    steady flow was found, with the reason in `why`; `inflows` [m³/s] of the vessels that want water; `least` the
    smallest inflow over want, less 1 (None where nothing is wanted), `thirsty` the vessel it is of; `fails` what else
    fails; `speed` the least share of full speed at which every vessel has its want and the margin, None where full speed
    does not do, `slowed` what it takes at that speed and `slowed_fails` what else fails then."""

    place: str
    pump: str
    own: bool
    duty: Duty | None
    cost: RunningCost | None
    inflows: Mapping[str, float]
    least: float | None
    thirsty: str | None
    fails: tuple[Finding, ...]
    speed: float | None = None
    slowed: RunningCost | None = None
    slowed_fails: tuple[Finding, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True)
class Comparison:
    """All pumps of a file tried in one place. `best` is the cheapest to run of those that give every vessel its want and
    the margin while nothing else fails; None where no power is stated or none does. `best_slowed` is the same with each
    at its own least speed."""

    place: str
    trials: tuple[Trial, ...]
    best: str | None
    best_slowed: str | None


# ---------------------------------------------------------------------- cost


def running_cost(duty: Duty, electricity: Electricity | None, hours: float | None = None) -> RunningCost:
    """Give what a pump takes in a year.

    η = ρgQH/P; E = P·t; money = E·price.

    Parameters:
        duty: flow, head and power from the mains.
        electricity: price of a kilowatt-hour, and how long pumps usually run; None where the price is not known.
        hours: that the pump runs each day; left out, as long as pumps usually do, or all of it [h].

    >>> water = Duty(flow=5e-4, head=2.0, state="on curve", power=40.0, useful=9.8)
    >>> cost = running_cost(water, Electricity(price=0.30, currency="EUR"))
    >>> round(cost.efficiency, 3), round(cost.energy, 1), round(cost.money, 2)
    (0.245, 350.4, 105.12)

    Reference: definitions.
    """
    power = duty.power
    if power is None:
        return RunningCost(duty.useful, None, None, None, None, None)
    if hours is None:
        hours = 24.0 if electricity is None else electricity.hours
    energy = power * hours * DAYS / 1000.0
    return RunningCost(
        useful=duty.useful,
        power=power,
        efficiency=duty.useful / power if power > 0.0 else None,
        energy=energy,
        per_volume=power / 3.6e6 / duty.flow if duty.flow > 0.0 else None,
        money=None if electricity is None else energy * electricity.price,
    )


def running_costs(layout: Layout, flows: Flows) -> dict[str, RunningCost]:
    """Give what each working pump takes, by its name."""
    return {
        name: running_cost(duty, layout.electricity, layout.pumps[name].hours) for name, duty in flows.pumps.items()
    }


# ---------------------------------------------------------------------- speed


def run_at(pump: Pump, speed: float) -> Pump:
    """Set a pump to a share of the speed on its maker's sheet.

    Q ∝ n, H ∝ n², P ∝ n³.

    Parameters:
        speed: n, 1 for that of its maker's sheet [-].

    Raises:
        ValueError: unless the speed is above zero.

    Validity: the same impeller, and efficiency from mains to water taken as unchanged: drives and small motors lose more when
    slow, so that far below full speed the power is higher than said.

    Reference: Crane Co., TP-410, 2009, example 7.33.
    """
    ratio = speed / pump.speed
    power = None if pump.power is None else pump.power * ratio**3
    return replace(pump, curve=at_speed(pump.curve, ratio), power=power, speed=speed)


def least_speed(layout: Layout, place: str) -> tuple[float, Flows] | None:
    """Find the least speed of a pump at which every vessel gets what it wants and the margin.

    Returns:
        The speed in whole hundredths of full speed, no less than `SLOWEST`, and the flows at it; None where nothing is wanted or
        the speed it is set to does not do, and for an airlift, which has none.
    """
    pump = layout.pumps[place]
    if pump.airlift is not None:
        return None
    vessels = _one_system(layout, place)

    def turned(hundredths: int) -> Layout:
        return replace(layout, pumps={**layout.pumps, place: run_at(pump, hundredths / 100.0)})

    def does(hundredths: int) -> bool:
        try:
            flows = find_flows(turned(hundredths), margins=False)
        except SolveError:
            return False
        least, _ = _least(flows, vessels)
        return least is not None and least >= layout.limits["margin"] and flows.pumps[place].flow > 0.0

    high, low = int(100.0 * pump.speed + 1e-9), round(100.0 * SLOWEST)
    if not does(high):
        return None
    while high > low:
        middle = (low + high) // 2
        if does(middle):
            high = middle
        else:
            low = middle + 1
    return high / 100.0, find_flows(turned(high))


# ---------------------------------------------------------------------- comparing


def compare_pumps(layout: Layout, *, speeds: bool = True) -> tuple[Comparison, ...]:
    """Try every idle pump of a file in the place of each working one, and the working one itself.

    Parameters:
        layout: read and walked; pumps that feed no line, or stand by, are the idle ones.
        speeds: whether to look for the least speed of each too.

    Returns:
        One comparison for each working pump, in the file's order; the other working pumps go on as they are.

    Raises:
        SolveError: when the layout as it is has no steady flow.
    """
    now = find_flows(layout)
    idle = [name for name in layout.pumps if name not in now.pumps]
    comparisons = []
    for place in now.pumps:
        spares = [name for name in idle if _alike(layout.pumps[place], layout.pumps[name])]
        trials = tuple(_trial(layout, place, name, speeds) for name in layout.pumps if name == place or name in spares)
        enough = [
            one for one in trials if one.least is not None and one.least >= layout.limits["margin"] and not one.fails
        ]
        best = min(enough, key=lambda trial: _power(trial.cost), default=None)
        slowed = min(
            (one for one in trials if one.slowed is not None and not one.slowed_fails),
            key=lambda trial: _power(trial.slowed),
            default=None,
        )
        comparisons.append(
            Comparison(
                place,
                trials,
                best.pump if best is not None and _power(best.cost) < float("inf") else None,
                slowed.pump if slowed is not None and _power(slowed.slowed) < float("inf") else None,
            )
        )
    return tuple(comparisons)


def in_place_of(layout: Layout, place: str, spare: str) -> Layout:
    """Put one pump in another's place: same vessel, height, lines, hours and switches. The name of the place stays; the other pump
    goes, but for one that stands by in a line of its own, which rests there."""
    if spare == place:
        return layout
    old, new = layout.pumps[place], layout.pumps[spare]
    put = replace(
        new, name=place, vessel=old.vessel, height=old.height, hours=old.hours, runs=old.runs, switch=old.switch
    )
    left = {name: pump for name, pump in layout.pumps.items() if name != spare or layout.fed_by(spare) is not None}
    return replace(layout, pumps={**left, place: put})


def _alike(one: Pump, other: Pump) -> bool:
    """An airlift's outlet is the top of its own riser: it takes the place of an airlift alone, of that height and vessel."""
    if one.airlift is None and other.airlift is None:
        return True
    same = one.vessel == other.vessel and abs(one.height - other.height) < 1e-6
    return one.airlift is not None and other.airlift is not None and same


def _trial(layout: Layout, place: str, spare: str, speeds: bool) -> Trial:
    changed = in_place_of(layout, place, spare)
    own = spare == place
    try:
        flows = find_flows(changed)
    except SolveError as error:
        return Trial(place, spare, own, None, None, {}, None, None, (), why=str(error))
    system = _one_system(changed, place)
    least, thirsty = _least(flows, system)
    slow = least_speed(changed, place) if speeds else None
    return Trial(
        place=place,
        pump=spare,
        own=own,
        duty=flows.pumps[place],
        cost=running_cost(flows.pumps[place], layout.electricity, layout.pumps[place].hours),
        inflows={name: got.inflow for name, got in flows.vessels.items() if got.wanted and name in system},
        least=least,
        thirsty=thirsty,
        fails=_fails(changed, flows, place, spare),
        speed=None if slow is None else slow[0],
        slowed=None
        if slow is None
        else running_cost(slow[1].pumps[place], layout.electricity, layout.pumps[place].hours),
        slowed_fails=() if slow is None else _fails(changed, slow[1], place, spare),
    )


def _one_system(layout: Layout, pump: str) -> frozenset[str]:
    """The names of the lines, vessels and pumps that pipe or vessels join to a pump: a file may hold several systems."""
    groups: list[set[str]] = []
    for name, line in layout.lines.items():
        tied = {name, *(part.vessel for part in line.parts if part.vessel)}
        for end in (line.start, line.end):
            if end.kind == "tee" and end.name is not None:
                tied.add(layout.tees[end.name].line)
            elif end.kind in ("vessel", "pump") and end.name is not None:
                tied.add(end.name)
        groups.append(tied)
    groups += [{one.name, one.vessel} for one in layout.pumps.values() if one.vessel is not None]
    system = {pump}
    while True:
        more = set().union(*(group for group in groups if group & system)) - system
        if not more:
            return frozenset(system)
        system |= more


def _least(flows: Flows, vessels: Collection[str]) -> tuple[float | None, str | None]:
    """The smallest inflow over want, less 1, and whose it is."""
    shares = {
        name: got.inflow / got.wanted - 1.0 for name, got in flows.vessels.items() if got.wanted and name in vessels
    }
    name = min(shares, key=lambda one: shares[one], default=None)
    return (None, None) if name is None else (shares[name], name)


def _power(cost: RunningCost | None) -> float:
    return float("inf") if cost is None or cost.power is None else cost.power


def _fails(layout: Layout, flows: Flows, place: str, spare: str) -> tuple[Finding, ...]:
    """What else fails in the pump's own system, said of the pump that is tried and not of the one whose place it takes."""
    old, new = f"'{place}'", f"'{spare}'"
    system = _one_system(layout, place)

    def concerns(one: Finding) -> bool:
        return one.line in system if one.line else any(f"'{name}'" in one.message for name in system)

    return tuple(
        replace(one, message=one.message.replace(old, new), cure=one.cure.replace(old, new))
        for one in judge(layout, flows)
        if one.level == "fail" and one.kind != "too-little-water" and concerns(one)
    )
