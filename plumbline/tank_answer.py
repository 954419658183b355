"""The whole answer on each tank that spray bars turn: its current, the verdict, and what would give the current wanted."""

from __future__ import annotations

from dataclasses import dataclass

from .hydraulics.find import find_flows
from .hydraulics.hole_size import HoleSize, find_hole, judge_speed, turned, wanted_speed
from .hydraulics.tank_current import TankCurrent, tank_currents
from .layout.model import Layout

__all__ = ["TankAnswer", "tank_answers"]


@dataclass(frozen=True)
class TankAnswer:
    """A tank's `current`; the `verdict` on it, "too fast", "too slow", "good" or "" where nothing can be said; the tank's `inflow` [m³/s];
    the speed `wanted` [m/s], the hole `size` that gives it, and the `turn` off the wall that does [rad], where they were looked for."""

    current: TankCurrent
    verdict: str
    inflow: float
    wanted: float
    size: HoleSize | None
    turn: float | None


def tank_answers(layout: Layout, *, wanted: float | None = None, length: float | None = None) -> tuple[TankAnswer, ...]:
    """Find the current of each tank that spray bars blow into, and a cure where it is bad or another is wanted.

    Parameters:
        layout: read and walked
        wanted: likely mean speed to look for [m/s]; left out, one that suits, where the verdict is not good
        length: of the smallest fish [m], in place of what the file says

    Returns:
        one for each tank

    Raises:
        SolveError: when the layout has no steady flow
    """
    flows = find_flows(layout, margins=False)
    answers = []
    for current in tank_currents(layout, flows, length=length):
        verdict = judge_speed(layout, current)
        inflow = flows.vessels[current.vessel].inflow
        speed = wanted_speed(layout, current) if wanted is None else wanted
        look = current.speed is not None and (wanted is not None or verdict != "good")
        answers.append(
            TankAnswer(
                current=current,
                verdict=verdict,
                inflow=inflow,
                wanted=speed,
                size=find_hole(layout, current, speed, length=length) if look else None,
                turn=turned(current, inflow, speed) if look else None,
            )
        )
    return tuple(answers)
