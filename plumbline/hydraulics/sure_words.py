"""How sure the flows are, in words."""

from __future__ import annotations

from typing import Literal

from ..units import Units, show
from .how_sure import Range, VesselSureness

__all__ = ["causes_in_words", "range_in_words", "vessel_in_words"]


def range_in_words(found: Range, what: Literal["flow", "length"], units: Units) -> str:
    """A range as a report says it.

    >>> from plumbline.hydraulics.how_sure import Range
    >>> range_in_words(Range(2.5e-4, 1e-5, 2.3e-4, 2.7e-4, ()), "flow", Units())
    '13.8 to 16.2 L/min'
    """
    return f"{show(found.low, what, units, unit=False)} to {show(found.high, what, units)}"


def causes_in_words(found: Range, most: int = 3) -> str:
    """What a range mostly comes from.

    >>> from plumbline.hydraulics.how_sure import Cause, Range
    >>> causes_in_words(Range(1.0, 0.1, 0.8, 1.2, (Cause("the curve of pump 'lift'", 0.7), Cause("the K of elbows", 0.2))))
    "mostly from the curve of pump 'lift' and the K of elbows"
    """
    named = [cause.what for cause in found.causes[:most]]
    if not named:
        return ""
    return "mostly from " + (f"{', '.join(named[:-1])} and {named[-1]}" if len(named) > 1 else named[0])


def vessel_in_words(name: str, sure: VesselSureness, units: Units) -> str:
    """Whether a vessel gets what it wants, in a sentence; "" where it wants nothing.

    >>> from plumbline.hydraulics.how_sure import Cause, Range, VesselSureness
    >>> inflow = Range(2.5e-4, 1e-5, 2.3e-4, 2.7e-4, (Cause("the heights", 0.9),))
    >>> vessel_in_words("bed", VesselSureness(inflow, 14 / 60000, 0.95, "probably"), Units())
    "'bed' probably gets the 14.0 L/min it wants: 15.0, most likely 13.8 to 16.2 L/min, mostly from the heights."
    """
    if sure.word is None or sure.wanted is None:
        return ""
    wanted = f"the {show(sure.wanted, 'flow', units)} it wants"
    said = {
        "surely": f"'{name}' surely gets {wanted}",
        "probably": f"'{name}' probably gets {wanted}",
        "doubtful": f"It is doubtful whether '{name}' gets {wanted}",
        "no": f"'{name}' does not get {wanted}",
    }[sure.word]
    if sure.inflow.value == 0.0 and sure.inflow.sigma == 0.0:
        return f"{said}: nothing comes{', but it is close' if sure.word == 'doubtful' else ''}."
    because = causes_in_words(sure.inflow)
    return (
        f"{said}: {show(sure.inflow.value, 'flow', units, unit=False)}, most likely {range_in_words(sure.inflow, 'flow', units)}"
        + (f", {because}" if because else "")
        + "."
    )
