"""A first layout for a wish of fish and plants: from what was sized to a whole system that checks clean."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..check import CheckResult, check
from ..errors import PlumblineError
from ..husbandry.read import Asked, wish_text
from ..husbandry.sizing import Sizing
from ..hydraulics.find import find_flows
from ..hydraulics.pumping import run_at
from ..hydraulics.tank_current import tank_currents
from ..layout import layout_of
from ..layout.model import Layout
from .making import Wish, begin

__all__ = ["FirstLayout", "begin_sized"]

BEDS = {"raft": "raft bed", "media": "grow bed"}
"""What the bed of each kind is called in the layout."""


@dataclass(frozen=True)
class FirstLayout:
    """A layout made for a wish: its `text`, what a check says of it, and what its pump must do: `flow` [m³/s], which is what is wanted
    and the margin, against `head` [m]; `speed` [m/s] is how fast its spray bar turns the tank."""

    text: str
    result: CheckResult
    flow: float
    head: float
    speed: float


def begin_sized(asked: Asked, found: Sizing) -> FirstLayout:
    """Make a whole system for a wish as it was `asked`, whose words are written into the layout, and the sizes `found` for it: fish tank, solids
    filter, bed and sump. Its verdict is "ok".

    Raises:
        PlumblineError: where the wish is outside what such a start is for.
    """
    wish = found.wish
    if wish.beds not in BEDS:
        raise PlumblineError(f"There is no first layout for {wish.beds}: only for {' and '.join(BEDS)} beds.")
    # Fish alone get the bed that their feed does for.
    area = wish.area or found.feed.likely / wish.number("leafy feed").likely
    text = begin(
        Wish(
            "whole",
            flow=round(found.flow.likely * 60_000.0, 1)
            / 60_000.0,  # to a tenth of a litre a minute, as the layout says it
            area=round(area, 2),
            tank=found.tank.likely,
            bed=BEDS[wish.beds],
            water=f"{wish.celsius:g} degC",
            wished=wish_text(asked.said),
            altitude=float(asked.said.get("altitude", 0.0)) or None,
        )
    )
    result = check(layout_of(text))
    (current,) = tank_currents(result.layout, result.flows)
    return FirstLayout(text, result, *_pump_for(result.layout), 0.0 if current.speed is None else current.speed.likely)


def _pump_for(layout: Layout) -> tuple[float, float]:
    """The flow and head at which the layout's one pump, run so fast as to give just what is wanted and the margin, works.

    Affinity laws move the pump along the system's own curve, so that what is found does not hang on the made-up pump.
    """
    from ..hydraulics.roots import root

    (name,) = layout.pumps
    wanted = max(vessel.wants or 0.0 for vessel in layout.vessels.values()) * (1.0 + layout.limits["margin"])

    def at(speed: float) -> tuple[float, float]:
        turned = replace(layout, pumps={name: run_at(layout.pumps[name], speed)})
        duty = find_flows(turned, margins=False).pumps[name]
        return duty.flow, duty.head

    fast = slow = 1.0
    while at(slow)[0] > wanted:
        fast, slow = slow, 0.98 * slow
    speed = root(lambda share: at(share)[0] - wanted, slow, fast, relative=1e-9)
    return at(speed)
