"""The whole job, in one screen: from a layout to a verdict.

text ─ layout/ ─▶ Layout ─ hydraulics/ ─▶ Flows ─ upkeep/ ─▶ Upkeep ─▶ check ─▶ CheckResult ─ report/
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Literal, TypeVar

from .day import Course, whole_day
from .day.start import judge_start, reached
from .day.told import what_goes_wrong
from .day.turns import judge_turns
from .errors import SolveError
from .findings import LEVELS, Finding
from .hydraulics.find import find_flows
from .hydraulics.flows import Flows, RouteLedger
from .hydraulics.how_sure import HowSure, how_sure
from .hydraulics.judge import judge, worst_route
from .hydraulics.opened import flows_with, openings
from .hydraulics.power_cut import PowerCut, power_cut
from .hydraulics.power_cut_findings import judge_power_cut
from .hydraulics.risers import estimates
from .hydraulics.together import side_by_side
from .hydraulics.turns import in_turns
from .layout.model import Default, Layout
from .score import Score, tally
from .threads import one_thread
from .upkeep import Upkeep, look_after

__all__ = ["CheckResult", "Verdict", "check"]

Verdict = Literal["ok", "attention", "fail"]
Found = TypeVar("Found")


@dataclass(frozen=True)
class CheckResult:
    """What a check found. `findings` are in order of harm; `verdict` is "fail" with any finding of level fail,
    "attention" with any warning, else "ok". `sure` is None where the flows have no single derivative; `cut` is what all
    pumps stopping does, None where nothing is pumped or the water never comes to rest; `day` the course of a day, where something
    in the layout changes through it."""

    layout: Layout
    flows: Flows
    sure: HowSure | None
    cut: PowerCut | None
    day: Course | None
    upkeep: Upkeep
    findings: tuple[Finding, ...]
    score: Score
    verdict: Verdict

    @property
    def defaults(self) -> tuple[Default, ...]:
        """What the file left out and was taken, or estimated."""
        return (*self.layout.defaults, *estimates(self.layout))

    @property
    def worst_route(self) -> RouteLedger | None:
        """The route whose vessel has the least margin, with its head ledger."""
        return worst_route(self.layout, self.flows)


@one_thread()
def check(layout: Layout) -> CheckResult:
    """Check a layout: does the pump lift enough, does the water come back, and can every pipe be cleaned.

    Raises:
        SolveError: when the layout has no steady flow, or none was found.
    """
    flows = find_flows(layout)
    sure = _if_found(lambda: _how_sure(layout, flows))
    day = _if_found(lambda: whole_day(layout, flows)) if layout.timed else None
    cut = _if_found(lambda: _power_cut(layout, flows, day))
    upkeep = look_after(layout, flows, flushes(layout, flows))
    # A cut in the course of the day comes at the day's worst moment: what it makes run over is told there.
    told = () if day is None or day.cut is None else tuple(day.cut.spilt)
    stopped = () if cut is None else judge_power_cut(layout, flows, cut, told=told)
    timely = () if day is None else what_goes_wrong(layout, day)
    if not layout.timed:
        timely = _if_found(lambda: tuple(judge_start(layout, flows))) or ()
    findings = sorted(
        (*judge(layout, flows, sure), *stopped, *timely, *judge_turns(layout, flows), *upkeep.findings), key=_harm
    )
    levels = {finding.level for finding in findings}
    verdict: Verdict = "fail" if "fail" in levels else "attention" if "warn" in levels else "ok"
    score = tally(findings, upkeep.cleanable_fraction)
    return CheckResult(layout, flows, sure, cut, day, upkeep, tuple(findings), score, verdict)


def _if_found(work: Callable[[], Found]) -> Found | None:
    """What comes of some work, None where its flows are not found."""
    try:
        return work()
    except SolveError:
        return None


def _how_sure(layout: Layout, flows: Flows) -> HowSure | None:
    if any(duty.state in ("starved", "by its switch") for duty in flows.pumps.values()):
        return None  # it gives what comes to it, to the last of it, and not what its curve says
    return how_sure(layout, flows)


def _power_cut(layout: Layout, flows: Flows, day: Course | None) -> PowerCut | None:
    turns = zip(in_turns(layout), flows.turns, strict=True) if flows.turns else [(layout, flows)]
    cuts = [power_cut(one, reached(found, day)) for one, found in turns] if flows.pumps else []
    return max(cuts, key=lambda cut: cut.lost + sum(row.spilled for row in cut.vessels), default=None)


def _harm(finding: Finding) -> tuple[int, float, str, str, str]:
    """Order of harm; equal findings by kind, place and words, so that the same file always gives the same list."""
    return (LEVELS.index(finding.level), -finding.weight, finding.kind, finding.line or "", finding.message)


def flushes(layout: Layout, flows: Flows) -> Mapping[str, Flows]:
    """The flows with each cap or drain valve opened in turn, the pumps on and the levels as in normal running; one whose
    opening has no steady flow is left out."""
    ways = openings(layout)
    found = side_by_side([partial(flows_with, layout, flows, (one,)) for one in ways])
    return {one.id: opened for one, opened in zip(ways, found, strict=True) if opened is not None}
