"""A typical system from a few answers: pipe chosen by the speed in it, a pump tried until the whole checks clean.

The systems are common practice, no source. What is written is a layout to change, not a design.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib import resources
from itertools import product

from .. import catalogue
from ..catalogue import pipes
from ..check import CheckResult, check
from ..errors import PlumblineError
from ..hydraulics.find import find_flows
from ..hydraulics.flows import Flows
from ..hydraulics.hole_size import DRILLS
from ..hydraulics.stages import HOLE_CD
from ..hydraulics.tank_current import wetted_area
from ..layout import layout_of
from ..layout.kinds import plain
from ..layout.model import Layout, Mark, Vessel
from ..layout.rewrite import quoted
from ..water import GRAVITY

__all__ = ["SYSTEMS", "Range", "System", "Wish", "begin"]

_LITRE_A_MINUTE = 1.0 / 60_000.0
_SIZES = (20, 25, 32, 40, 50, 63, 75, 90)
"""Metric pressure pipe, as sold everywhere that has metres."""

_TANK_DEPTH = 0.80
"""Of the water in a fish tank [m]: as deep as an arm cleans (common practice, no source)."""

_ABOVE = 1.1
"""A tank is turned this much faster than its solids ask for."""

_NEAR = 0.06
"""Holes whose area is this near to what was worked out, as a share, will do."""

_CLOGS = 0.004
"""Smaller holes in a bar clog soon [m] (common practice, no source)."""

_LEAST, _BEST = 0.38, 0.9
"""Speeds [m/s]: from what keeps pipe clean to what costs little head (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Range:
    """What an answer may be, SI, and the answer taken where none is given."""

    least: float
    most: float
    usual: float


@dataclass(frozen=True, slots=True)
class System:
    """A typical system: what it is, its template, and what may be asked of it. `lift` [m] from the water that the pump
    stands in to its pipe's highest place, with beds at no height."""

    title: str
    template: str
    flow: Range
    distance: Range
    lift: float
    height: Range | None = None
    beds: Range | None = None
    area: Range | None = None
    tank: Range | None = None


SYSTEMS: dict[str, System] = {
    "beds": System(
        "Pump to two beds, and back by gravity",
        "beds.txt",
        Range(12, 30, 15),
        Range(0.4, 2.0, 0.8),
        -0.1,
        Range(0.85, 1.6, 0.9),
    ),
    "filter": System("Overflow through a filter", "chain.txt", Range(25, 60, 40), Range(0.5, 2.5, 1.6), 1.6),
    "raft": System(
        "Overflow through a filter into a raft bed", "chain.txt", Range(25, 60, 40), Range(0.5, 2.5, 1.6), 1.6
    ),
    "manifold": System(
        "One pump, one manifold",
        "manifold.txt",
        Range(12, 20, 12),
        Range(0.8, 1.6, 1.4),
        0.4,
        Range(0.6, 1.4, 0.8),
        Range(2, 6, 4),
    ),
    "whole": System(
        "Fish tank, solids filter, bed and sump",
        "whole.txt",
        Range(6, 60, 15),
        Range(0.8, 2.5, 1.6),
        1.56,
        area=Range(1.0, 20.0, 6.0),
        tank=Range(0.25, 4.0, 0.9),
    ),
}


@dataclass(frozen=True, slots=True)
class Wish:
    """What is wanted: the `system`, `flow` [m³/s] to each bed or through the chain, `distance` [m] along the pipe, `height`
    [m] of the beds' floor, how many `beds`, and the layout's `name`; of a whole system the `area` of its bed [m²], the water in its
    `tank` [m³], what `bed` is called, the `water` as its file says it, the site's `altitude` [m] and the `wished` line that it was sized by. None
    takes what is usual."""

    system: str
    flow: float | None = None
    distance: float | None = None
    height: float | None = None
    beds: int | None = None
    name: str | None = None
    area: float | None = None
    tank: float | None = None
    bed: str = "raft bed"
    water: str = "24 degC"
    altitude: float | None = None
    wished: str | None = None


def begin(wish: Wish) -> str:
    """Make a layout's text, commented, for a wish; read and checked, its verdict is "ok".

    Raises:
        PlumblineError: where an answer is outside what the system's template is for, or where no pump and pipe tried make
            it clean.
    """
    system = SYSTEMS[wish.system]
    flow = _within("flow", None if wish.flow is None else wish.flow / _LITRE_A_MINUTE, system.flow, "L/min")
    distance = _within("distance", wish.distance, system.distance, "m")
    height = _within("height", wish.height, system.height, "m", wish.system)
    beds = int(_within("beds", wish.beds, system.beds, "", wish.system))
    area = _within("bed area", wish.area, system.area, "m²", wish.system)
    tank = _within("tank", wish.tank, system.tank, "m³", wish.system)
    whole, jets = _of_the_whole(wish, flow, area, tank) if system.tank else ({}, 0.0)
    for values in _tries(system, flow, distance, height, beds, jets=jets):
        text = _filled(wish, system, {**values, **whole})
        try:
            layout = layout_of(text)
            if _enough(layout, find_flows(layout)) and _is_clean(check(layout)):
                return text
        except PlumblineError:
            continue
    raise PlumblineError("No pipe and pump tried make that system clean. Ask for other heights, distances or flows.")


def _enough(layout: Layout, flows: Flows) -> bool:
    """Whether every vessel gets what it wants with the margin: soon told, and what most tries fail by."""
    least = 1.0 + layout.limits["margin"]
    return all(flows.vessels[name].inflow >= least * (vessel.wants or 0.0) for name, vessel in layout.vessels.items())


def _is_clean(result: CheckResult) -> bool:
    """Whether a check has nothing worse than advice to say, and the tank turns."""
    return result.verdict == "ok" and "current-too-slow" not in {one.kind for one in result.findings}


def _within(what: str, value: float | None, allowed: Range | None, unit: str, system: str = "") -> float:
    if allowed is None:
        if value is not None:
            raise PlumblineError(f"A system '{system}' asks for no {what}.")
        return 0.0
    if value is None:
        return allowed.usual
    if not allowed.least - 1e-9 <= value <= allowed.most + 1e-9:
        told = f"{value:g} beds are" if what == "beds" else f"{f'A {what} of {value:.4g} {unit}'.rstrip()} is"
        said = f"{allowed.least:g} to {allowed.most:g} {unit}".rstrip()
        raise PlumblineError(f"{told} outside what this start is for: {said}.")
    return value


def _tries(
    system: System, flow: float, distance: float, height: float, beds: int, jets: float
) -> Iterator[Mapping[str, object]]:
    """What to put into the template, the smallest pump first; `jets` [m] is the head that the holes of a bar take."""
    whole = flow * (beds or (2 if system.template == "beds.txt" else 1))
    lift = system.lift + height + jets
    for head, share, drain in product((1.15, 1.35, 1.6, 2.0, 2.6, 3.4), (1.6, 2.2), _drains(flow)):
        shut_off = math.ceil((lift + 0.3) * head * 10.0) / 10.0
        largest = math.ceil(whole * share)
        yield {
            "flow": f"{flow:g} L/min",
            "distance": distance,
            "height": height,
            "beds": beds,
            "curve": _curve(shut_off, largest),
            "riser": _pipe(1.15 * whole, least=25 if system.template == "whole.txt" else 20),
            "branch": _pipe(1.15 * flow),
            "drain": drain,
            "mains": [_pipe(1.15 * flow * (beds - bed)) for bed in range(max(beds, 1))],
            "openings": ["100 %"] * max(beds, 1),
            "top": height + 0.37 - 0.305,
            "step": distance / 100.0,
            "raft": "raft bed" in system.title,
        }


def _of_the_whole(wish: Wish, flow: float, area: float, tank: float) -> tuple[Mapping[str, object], float]:
    """What the template of a whole system has besides, sizes from the bed and the tank, with the bar that turns the tank; and the head
    [m] that its holes take."""
    plan = tank / _TANK_DEPTH
    holes, hole, jets = _bar(1.1 * flow * _LITRE_A_MINUTE, Vessel("tank", 0.0, _TANK_DEPTH, Mark(1, 1), area=plan))
    values: Mapping[str, object] = {
        "area": f"{area:.3g} m^2",
        "tank": f"{plan:.3g} m^2",
        "sump": f"{max(0.8, 0.12 * area):.2g} m^2",
        "bed": wish.bed,
        "water": wish.water,
        "altitude": wish.altitude,
        "wish": wish.wished,
        "holes": holes,
        "hole": f"{1000.0 * hole:g} mm",
        "handles": f"{math.ceil(1.5 * flow / 5.0) * 5} L/min",
    }
    return values, jets


def _bar(flow: float, tank: Vessel) -> tuple[int, float, float]:
    """How many holes, of which drill [m], turn a round tank a little faster than its solids ask for, and the head that they take [m].

    From the impulse that a mean speed V needs, Σqv = Q V + Ct A V², with all jets alike; the check follows them hole by hole.
    """
    rows, limits = catalogue.tank_current(), catalogue.limits()
    speed = _ABOVE * limits["tank current"].value
    wetted = wetted_area(tank, tank.water) or 0.0
    jet = speed + rows["tank drag"].likely * wetted * speed**2 / flow

    area = 4.0 * flow / (math.pi * HOLE_CD * jet)  # the holes' number times the square of their diameter
    pairs = [(holes, hole) for holes in range(12, 5, -1) for hole in DRILLS if hole >= _CLOGS]
    off = {(holes, hole): abs(holes * hole**2 / area - 1.0) for holes, hole in pairs}
    # A hole every 50 mm if that comes near enough; else fewer.
    holes, hole = next((pair for pair in pairs if off[pair] < _NEAR), min(pairs, key=off.__getitem__))
    return holes, hole, jet**2 / (2.0 * GRAVITY)


def _curve(shut_off: float, largest: float) -> str:
    """Five points of a parabola, as a pump's sheet has them."""
    points = [(share * largest, shut_off * (1.0 - share**2)) for share in (0.0, 0.25, 0.5, 0.75, 0.95)]
    return "[" + ", ".join(f"[{flow:.0f} L/min, {head:.2f} m]" for flow, head in points) + "]"


def _pipe(flow: float, least: int = 20) -> str:
    """The narrowest pipe in which a flow [L/min] costs little head; where it would then be too slow to stay clean, the widest in which
    it is not. Not under the size `least`, which a brush fits."""
    rows = pipes()

    def speed(size: int) -> float:
        return flow * _LITRE_A_MINUTE / (math.pi / 4.0 * rows[f"pvc {size}"].bore ** 2)

    clean = [size for size in _SIZES if speed(size) >= _LEAST]
    calm = [size for size in clean if speed(size) <= _BEST]
    return f"pvc {max(least, calm[0] if calm else clean[-1] if clean else _SIZES[0])}"


def _drains(flow: float) -> tuple[str, ...]:
    """Sizes for what runs back, the likely ones first."""
    if flow <= 20.0:
        return ("pvc 50", "pvc 63")
    return ("pvc 63", "pvc 50") if flow <= 40.0 else ("pvc 63", "pvc 75")


def _filled(wish: Wish, system: System, values: Mapping[str, object]) -> str:
    from jinja2 import Environment, StrictUndefined

    environment = Environment(
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True
    )
    template = resources.files("plumbline.start").joinpath(system.template).read_text(encoding="utf-8")
    name = system.title if wish.name is None else quoted(plain(wish.name))
    return environment.from_string(template).render(
        values, title=system.title, name=name, m="{:.2f} m".format, mm=lambda value: f"{1000.0 * value:.0f} mm"
    )
