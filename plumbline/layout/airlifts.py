"""An airlift as the file states it, and the curve that its riser and its air make."""

from __future__ import annotations

from dataclasses import replace

from . import words
from .model import Airlift, Default, Pump, Vessel, Water
from .nodes import Node
from .pipes import read_pipe
from .statements import UNREAD_PIPE
from .values import Fields, Values

__all__ = ["read_airlift", "with_curve"]

NOT_WITH = ("curve", "speed", "npsh")
"""A pump's words that mean nothing for an airlift."""


def read_airlift(
    pump: Pump, node: Node, got: Fields, values: Values, defaults: list[Default], vessel: Vessel | None
) -> Pump:
    """Read what makes a pump an airlift, and hold its riser against the water that it stands in.

    `got` are the pump's own values; `vessel` is None where it stands in none, or in one that could not be read.
    """
    faults, name = values.faults, pump.name
    said = values.fields(node, words.AIRLIFT, f"the airlift '{name}'")
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
    air, length = (said[word].number if word in said else None for word in ("air", "length"))
    riser = read_pipe(said["riser"].node, values, defaults) if "riser" in said else UNREAD_PIPE
    height = got["height"].number if "height" in got else None
    if air is None or length is None or riser is UNREAD_PIPE or height is None or vessel is None:
        return pump
    depth = vessel.water - (height - length)
    if height <= vessel.water:
        faults.add(got["height"].mark, f"the top of the airlift '{name}' is under the water of '{vessel.name}'",
                   f"a height above {_shown(values, vessel.water)}: the air has to leave where the water runs out",
                   also=[vessel.mark])  # fmt: skip
    elif height - length < -1e-9:
        faults.add(said["length"].mark, f"the air inlet of the airlift '{name}' lies {_shown(values, length - height)} below the floor of "
                   f"'{vessel.name}'", f"a length of at most its height, {_shown(values, height)}", also=[vessel.mark])  # fmt: skip
    elif depth <= 1e-9:
        faults.add(said["length"].mark, f"the air inlet of the airlift '{name}' is above the water of '{vessel.name}'",
                   f"a length of more than {_shown(values, height - vessel.water)}: the inlet has to be well under the water",
                   also=[vessel.mark])  # fmt: skip
    else:
        return replace(pump, airlift=Airlift(air, riser, length, depth, rated=pump.power is not None))
    return pump


def _shown(values: Values, length: float) -> str:
    return values.said(length, "length")


def with_curve(pump: Pump, water: Water, altitude: float, defaults: list[Default]) -> Pump:
    """Give an airlift its curve, and an estimate of its air pump's power where the file states none."""
    if pump.airlift is None:
        return pump
    # The one place where a stage uses a later one: the curve is data for every stage after this (docs/decisions.md).
    from ..hydraulics.risers import air_power, airlift_curve, surroundings

    around = surroundings(water, altitude)
    power = pump.power
    if power is None:
        power = air_power(pump.airlift, around).likely
        defaults.append(Default(f"pump '{pump.name}'", f"{power:.0f} W, an estimate for its air pump from air and depth",
                                "catalogue/airlift.yaml, efficiency 20 % (10 to 30 %), from memory"))  # fmt: skip
    return replace(pump, curve=airlift_curve(pump.airlift, around), power=power)
