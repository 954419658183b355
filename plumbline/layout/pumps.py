"""A pump or an airlift as the file states it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from . import words
from .faults import Faults
from .kinds import reads
from .model import Airlift, Mark, Pump, Vessel
from .nodes import Node, whole_point
from .pipes import read_pipe
from .statements import UNREAD_PIPE
from .timing import read_runs, read_switch
from .values import Fields, Values

__all__ = ["at_speed", "box_curve", "read_airlift", "read_pump"]

NOT_WITH = ("curve", "speed", "npsh")
"""A pump's words that mean nothing for an airlift."""


def read_airlift(pump: Pump, node: Node, got: Fields, values: Values, vessel: Vessel | None) -> Pump:
    """Read what makes a pump an airlift, and hold its riser against the water that it stands in.

    `got` are the pump's own values; `vessel` is None where it stands in none, or in one that could not be read.
    """
    faults, name = values.faults, pump.name
    said = values.fields(node, words.TABLES["airlift"], f"the airlift '{name}'")
    if said is None:
        return pump
    for word in NOT_WITH:
        if word in got:
            why = "its riser and its air make it" if word == "curve" else "an airlift has none"
            faults.add(got[word].mark, f"the airlift '{name}' has a '{word}'", f"no '{word}': {why}")
    for word, why in (
        ("in", "the vessel that its riser stands in"),
        ("height", "of the riser's top above the vessel's floor"),
    ):
        if word not in got and got.complete:
            faults.add(pump.mark, f"the airlift '{name}' has no '{word}'", f"'{word}', {why}")
    air, length = said.numbers("air", "length")
    riser = read_pipe(said["riser"].node, values) if "riser" in said else UNREAD_PIPE
    height = got.number("height")
    if air is None or length is None or riser is UNREAD_PIPE or height is None or vessel is None:
        return pump
    depth, also = vessel.water - (height - length), [vessel.mark]
    mark, top, inlet = said["length"].mark, f"the top of the airlift '{name}'", f"the air inlet of the airlift '{name}'"
    if height <= vessel.water:
        why = "the air has to leave where the water runs out"
        expected = f"a height above {_shown(values, vessel.water)}: {why}"
        faults.add(got["height"].mark, f"{top} is under the water of '{vessel.name}'", expected, also=also)
    elif height - length < -1e-9:
        found = f"{inlet} lies {_shown(values, length - height)} below the floor of '{vessel.name}'"
        faults.add(mark, found, f"a length of at most its height, {_shown(values, height)}", also=also)
    elif depth <= 1e-9:
        least = f"a length of more than {_shown(values, height - vessel.water)}"
        expected = f"{least}: the inlet has to be well under the water"
        faults.add(mark, f"{inlet} is above the water of '{vessel.name}'", expected, also=also)
    else:
        return replace(pump, airlift=Airlift(air, riser, length, depth))
    return pump


def _shown(values: Values, length: float) -> str:
    return values.said(length, "length")


Curve = tuple[tuple[float, float], ...]

_EXPECTED = "points of flow and head, for instance [[0 L/min, 3 m], [15 L/min, 2.6 m], [40 L/min, 0.6 m]]"
_FLOW = words.Key("flow", "a flow of the curve", "15 L/min", low=0.0)
_HEAD = words.Key("head", "a head of the curve", "2.6 m", low=0.0)

_BOX_POINTS = 33


def box_curve(highest_head: float, largest_flow: float) -> Curve:
    """Points of the curve assumed for a pump whose box gives only its two end values.

    H = H₀ (1 − (Q/Q_max)²), at 33 evenly spaced flows.

    Parameters:
        highest_head: H₀, at no flow [m].
        largest_flow: Q_max, at no head [m³/s].

    Returns:
        Points, from which the solver's curve gives the parabola back within 0.00008 H₀.

    Raises:
        ValueError: unless both are above zero.

    Validity: an assumption; real pumps differ from it by some tenths of H₀ in the middle (from memory).

    >>> points = box_curve(3.0, 6e-4)
    >>> points[0], points[16], points[-1]
    ((0.0, 3.0), (0.0003, 2.25), (0.0006, 0.0))

    Reference: common practice, no source.
    """
    if not (highest_head > 0.0 and largest_flow > 0.0):
        raise ValueError("a pump's highest head and largest flow must both be above zero")
    shares = [i / (_BOX_POINTS - 1) for i in range(_BOX_POINTS)]
    return tuple((largest_flow * x, highest_head * (1.0 - x * x)) for x in shares)


def at_speed(points: Curve, ratio: float) -> Curve:
    """The same pump at another speed, by the affinity laws.

    Q ∝ n, H ∝ n² (and power ∝ n³).

    Parameters:
        points: ((flow [m³/s], head [m]), …).
        ratio: new speed over old [-].

    Returns:
        Points at the new speed.

    Raises:
        ValueError: unless the ratio is above zero.

    Validity: same impeller, efficiency taken as unchanged; poor at far lower speeds.

    >>> at_speed(((0.0, 4.0), (0.002, 1.0)), 0.5)
    ((0.0, 1.0), (0.001, 0.25))

    Reference: Crane Co., TP-410, 2009, example 7.33.
    """
    if not ratio > 0.0:
        raise ValueError("a pump's speed ratio must be above zero")
    return tuple((flow * ratio, head * ratio**2) for flow, head in points)


def read_pump(
    name: str,
    mark: Mark,
    node: Node,
    values: Values,
    vessels: Mapping[str, Vessel],
    unsure: Collection[str],
    usual_hours: float = 24.0,
) -> tuple[Pump, bool]:
    """Read a pump, and tell whether all of it could be read. `vessels` are those it may stand in, `unsure` those of them that could
    not be read whole; it runs `usual_hours` a day where neither it nor its timer says otherwise."""
    faults = values.faults
    got = values.fields(node, words.PUMP, f"pump '{name}'", mark)
    if got is None:
        return Pump(name, (), mark), False
    sure = got.complete
    curve: Curve = ()
    assumed = False
    if "curve" not in got and "airlift" not in got and got.complete:
        key = words.PUMP["curve"]
        faults.add(mark, f"pump '{name}' has no 'curve'", f"'curve', {key.says}, for instance curve: {key.example}")
    if (points := got.node("curve")) is not None:
        if points.pairs is not None:
            box = values.fields(points, words.BOX, f"the curve of pump '{name}'") or Fields()
            head, flow = box.numbers("highest head", "largest flow")
            if head is not None and flow is not None:
                curve, assumed = box_curve(head, flow), True
                faults.left_out(
                    f"pump '{name}'",
                    "a parabola from its highest head to its largest flow",
                    "common practice, no source",
                )
        else:
            curve = _points(name, points, values, faults)
    vessel = got.text("in")
    sure = sure and (vessel is not None or "in" not in got)
    if vessel is not None and vessel not in vessels:
        faults.unknown(got["in"].mark, vessel, "vessel", vessels, where=f" for pump '{name}'", names=("vessel",))
        vessel, sure = None, False
    height = got.number("height") if "height" in got else 0.0
    if "in" in got and "height" not in got and "airlift" not in got:
        faults.left_out(f"pump '{name}'", "its outlet at the vessel's floor", "height left out")
    if "in" not in got and "height" in got and "airlift" not in got and got.complete:
        faults.add(
            got["height"].mark,
            f"pump '{name}' has a height but stands in no vessel",
            "'in' with a vessel's name; or no height, and the end of the suction line tells it",
        )
    power, speed, npsh, hours = got.numbers("power", "speed", "npsh", "hours a day")
    if speed is not None and power is not None:
        power *= speed**3
    runs = read_runs(got["runs"].node, f"pump '{name}'", values) if "runs" in got else None
    if hours is None:
        hours = usual_hours if runs is None or runs.never else runs.hours
    pump = Pump(
        name,
        curve if speed is None else at_speed(curve, speed),
        mark,
        vessel,
        height or 0.0,
        power,
        assumed,
        1.0 if speed is None else speed,
        npsh,
        hours,
        runs=runs,
        switch=read_switch(got["switch"].node, name, values, vessels) if "switch" in got else None,
    )
    if (lifts := got.node("airlift")) is not None:
        stands = None if vessel is None or vessel in unsure else vessels[vessel]
        pump = read_airlift(pump, lifts, got, values, stands)
        sure = sure and pump.airlift is not None
    return pump, sure and height is not None


def _points(name: str, node: Node, values: Values, faults: Faults) -> Curve:
    """The points of a curve that falls; () and a fault for any other."""
    items = values.items(node, f"the curve of pump '{name}'", _EXPECTED)
    if items is None:
        return ()
    before, curve = len(faults.found), f"the curve of pump '{name}'"
    points: list[tuple[float, float]] = []
    marks: list[Mark] = []
    for item in items:
        pair = whole_point(item)
        if len(pair) != 2:
            faults.add(item.mark, f"a point of the curve is {item.what}", "a flow and a head, [15 L/min, 2.6 m]")
            continue
        if not reads(pair[0], _FLOW) and reads(pair[0], _HEAD) and reads(pair[1], _FLOW):
            pair = pair[::-1]
        q = values.number(pair[0], _FLOW, "flow")
        h = values.head(pair[1], _HEAD, "head")
        if q is None or h is None:
            continue
        if points and q <= points[-1][0]:
            faults.add(item.mark, f"{curve} is not sorted by flow", "each flow above the one before", also=marks[-1:])
        elif points and h > points[-1][1]:
            hint = "if the maker's curve has a hump, give the falling part"
            faults.add(item.mark, f"{curve} rises", "each head at most the one before", hint=hint, also=marks[-1:])
        points.append((q, h))
        marks.append(item.mark)
    if len(faults.found) > before or len(points) < len(items):
        return ()
    if len(points) < 2:
        hint = "if its box tells no more, write {highest head: 3 m, largest flow: 40 L/min}"
        count = ["no point", "one point"][len(points)]
        faults.add(node.mark, f"{curve} has {count}", "at least two points", hint=hint)
        return ()
    if points[0][1] <= points[-1][1]:
        faults.add(node.mark, f"{curve} does not fall", "a head that falls as the flow grows")
        return ()
    return tuple(points)
