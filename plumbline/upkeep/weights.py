"""What each kind of finding costs, in one place.

The score is 100·Π(1 − w) over all findings, so a weight w is the share of the remaining points that one
finding takes. No published scale exists for this: the weights are the project's own judgement, and what
matters is their order. A pipe that nothing cleans is the worst thing that can be said, because it fouls for
certain; standing water comes next; the rest makes fouling likelier or cleaning slower.
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["WEIGHTS", "Weight", "many"]


class Weight(NamedTuple):
    """A weight, 0 to 1, what it is `per`, and why it is so large or small."""

    value: float
    per: str
    reason: str


WEIGHTS: dict[str, Weight] = {
    "unreachable": Weight(
        0.8,
        "share of all pipe length",
        "nothing cleanable leaves a fifth of the points, for a system that does run",
    ),
    "dead-leg": Weight(0.05, "dead leg", "sludge and stale water collect, but in one place that can be cut away"),
    "standing-water": Weight(0.05, "place", "as a dead leg: the same water, with pipe on both sides of it"),
    "slow-flow": Weight(0.3, "share of all pipe length", "settled solids must be cleaned out more often"),
    "settles-off": Weight(
        0.05, "share of all pipe length and of the day", "what settles by night is mostly carried off in the morning"
    ),
    "old-water": Weight(0.01, "place", "it does move on; that it is slow has cost its points already"),
    "code-spacing": Weight(
        0.01, "place", "the code's own rule; that the pipe is not reached costs its points elsewhere"
    ),
    "code-turns": Weight(0.005, "turn", "as for spacing"),
    "code-upper-end": Weight(0.005, "line", "as for spacing"),
    "code-clearance": Weight(0.005, "cap", "a rod cannot be handled there"),
    "code-size": Weight(0.005, "cap", "a brush of the pipe's own size does not go in"),
    "turning": Weight(0.03, "pipe between two accesses", "hard to rod; halved again where a rod at hand does pass"),
    "sharp-bend": Weight(0.004, "bend", "each catches a little; ten of them cost four points"),
    "low-point": Weight(0.03, "low point", "cannot be drained; a third of it where the flow keeps it clean"),
    "hump": Weight(0.02, "hump", "gathered air chokes the flow; half where the flow carries some of it off"),
    "blind-access": Weight(0.005, "access", "money spent on an opening that no rod can use"),
}


def many(weight: float, count: int) -> float:
    """Give the weight of several equal findings told as one: 1 − (1 − w)ⁿ.

    >>> round(many(0.004, 10), 4)
    0.0393
    """
    return 1.0 - (1.0 - weight) ** count
