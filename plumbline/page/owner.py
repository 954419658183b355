"""The first sheet, for the owner alone: what to do, what it costs and whom to ask, in words that need no command and no formula."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from ..check import CheckResult
from ..hydraulics.pumping import running_costs
from ..report.card import every_words, minutes_words
from .sketch.trouble import span_of_finding

if TYPE_CHECKING:
    from ..upkeep.card import WallCard

__all__ = ["cost_words", "things_to_do"]

MOST = 3
"""Things to do on the first sheet; all of them follow on the trade's pages."""


def things_to_do(result: CheckResult) -> Iterator[dict[str, Any]]:
    """The worst few things, findings with one cure together: the number of the worst of them and its level, what is wrong, what to do, the
    numbers of the others, and whether the sketch can light its pipe."""
    groups: dict[str, list[int]] = {}
    for number, finding in enumerate(result.findings, start=1):
        if finding.level != "advice":
            groups.setdefault(finding.cure, []).append(number)
    for cure, (number, *more) in list(groups.items())[:MOST]:
        worst, do = result.findings[number - 1], _plainly(cure)
        yield {
            "number": number,
            "level": worst.level,
            "wrong": _plainly(worst.message),
            "do": f"{do[:1].upper()}{do[1:]}.",
            "more": more,
            "on_sketch": span_of_finding(result, worst) is not None,
        }


def _plainly(said: str) -> str:
    """A sentence without the clauses that name a command, and without formulas in brackets."""
    said = re.sub(r" \([^()]*(?:\([^()]*\)[^()]*)*[√²³][^()]*(?:\([^()]*\)[^()]*)*\)", "", said)
    return "; ".join(part for part in said.split("; ") if "'plumbline " not in part) or said


def cost_words(result: CheckResult, card: WallCard | None) -> Iterator[str]:
    """What the system costs to run: electricity and time."""
    electricity = result.layout.electricity
    for name, cost in running_costs(result.layout, result.flows).items():
        if cost.power is not None and cost.energy is not None:
            money = "" if cost.money is None or electricity is None else f", {cost.money:.0f} {electricity.currency}"
            yield f"{name} draws {cost.power:.0f} W: {cost.energy:.0f} kWh a year{money}."
    if card is not None and card.routine.visits:
        visit = card.routine.visits[0]
        yield f"Cleaning the pipe: {every_words(visit.every).lower()}, about {minutes_words(visit.minutes)}."
