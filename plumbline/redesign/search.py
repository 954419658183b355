"""The search: the cheapest set of changes that meets what is asked, of a layout as it stands or with its pipe laid anew first. And its proof: the
changed layout's text, read again and checked in full; and old and new held against each other."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from ..catalogue import weights
from ..check import CheckResult, check
from ..deadline import TimeUp, minutes_from_now, until
from ..errors import PlumblineError
from ..files import NewFile
from ..findings import Finding
from ..layout import layout_of
from ..layout.model import Layout
from .change import Change, apply
from .choices import Choices
from .clean_sheet import CleanSheet, clean_sheet
from .hunt import MOST_TURNED, Hunt
from .prices import Prices
from .sets import SAME_COST, Best
from .water import Unmet, Wanted, unmet_of

__all__ = ["Difference", "NothingFoundError", "Redesign", "Targets", "difference", "prove", "search", "search_afresh"]

FEWEST, MOST, STEPS = 25, 80, 6000
"""Left to itself the search tries STEPS over the layout's steps, but no fewer and no more; so many again each time that something is given up, AGAIN times
at most."""

AGAIN = 5


@dataclass(frozen=True, slots=True)
class Targets:
    """What is asked: every vessel what it wants with a `margin` (None: the layout's limit), a share `cleanable` of the pipe, no dead `legs` over the
    limit, and no finding that fails."""

    margin: float | None = None
    cleanable: float = 1.0
    legs: bool = True

    def wanted(self, layout: Layout) -> Wanted:
        """What is asked of the water."""
        return Wanted(layout.limits["margin"] if self.margin is None else self.margin, self.legs)


@dataclass(frozen=True)
class Redesign:
    """A set of changes. `cost` in money, labour at the price of an hour; `bound` is what no set of the changes tried can be below; `left` is what
    no change tried cures, so that it was not asked any more; `share` of the pipe that was asked to be cleaned, less than the target where no
    change can clean more. `result` is the check of the changed layout, `before` that of the layout as it stands. `tried` choices of pipe
    and valves were solved, out of the changes among the `choices`;
    `stopped` tells that the search was ended early; `budget` that this is the best for so much
    money and not all that is asked. Where all pipe was laid afresh first, `sheet` is that; its changes come before the others."""

    before: CheckResult
    result: CheckResult
    targets: Targets
    changes: tuple[Change, ...]
    cost: float
    bound: float
    left: tuple[Unmet, ...]
    share: float
    tried: int
    choices: Choices = field(repr=False)
    stopped: bool = False
    budget: float | None = None
    sheet: CleanSheet | None = None

    @property
    def base(self) -> Layout:
        """The layout whose text the changes speak of."""
        return self.before.layout if self.sheet is None else self.sheet.layout

    @property
    def proven(self) -> bool:
        """Whether no cheaper set of the changes tried meets what is asked, each flush being what it was found to be in pipe that was tried, and each valve set as the
        water asks it, or where they were `turned` in this set's pipe as far open or shut as the water lets it."""
        return self.sheet is None and not self.stopped and self.bound >= self.cost - SAME_COST

    @property
    def turned(self) -> bool:
        """Whether valves were tried as far open and as far shut as the water lets them, in this set's pipe."""
        return len(self.choices.taps) <= MOST_TURNED

    @property
    def candidates(self) -> tuple[Change, ...]:
        """All changes that were looked at."""
        return self.choices.changes

    @property
    def gap(self) -> float:
        """How far the cost may be above the least, as a share of it."""
        return max(self.cost - self.bound, 0.0) / self.cost if self.cost > self.bound + SAME_COST else 0.0


class NothingFoundError(PlumblineError):
    """No set of changes was found; the sentence says what stood in the way."""


def search(
    layout: Layout,
    targets: Targets,
    prices: Prices,
    *,
    tries: int | None = None,
    minutes: float = math.inf,
    tell: Callable[[str], None] = lambda _: None,
) -> Redesign:
    """Find the cheapest changes that meet the targets.

    Parameters:
        tries: how many choices of pipe and valves are solved, and sets checked, at most; left out, fewer the larger the layout.
        minutes: after which nothing more is tried, whatever was found by then, counted from the beginning; the check of the layout as it stands is always made.
        tell: called with what is being tried.

    Returns:
        The best set found, with a bound on what the cheapest can cost. An interruption from the keyboard ends the
        search with what there is, and is passed on where there is nothing yet. There is neither chance nor clock in it: unless it is ended early, the same layout
        gives the same answer, however busy the machine.

    Raises:
        NothingFoundError: where no set was found; it says what stood in the way, or how far it came in its time.
        SolveError: where the layout as it stands has no flow.
    """
    tell("the layout as it stands")
    end, stopped, hunt = minutes_from_now(minutes), False, None
    before = check(layout)
    try:
        with until(end):
            hunt = Hunt(before, targets.wanted(layout), targets.cleanable, prices, tell)
            _hunted(hunt, layout, tries)
            if hunt.best is None:
                raise NothingFoundError(
                    f"No set of the changes tried meets what is asked. {' '.join(hunt.in_the_way())}"
                )
    except TimeUp:
        stopped = True
    except KeyboardInterrupt:
        stopped = True
        if hunt is None or hunt.best is None:
            raise
    if hunt is None or hunt.best is None:
        raise NothingFoundError(
            f"No set of changes was found in {minutes:g} minutes, and whether there is one is not known: "
            f"{'nothing was tried' if hunt is None else hunt.so_far()}."
        )
    best = hunt.best
    bound, found = min(hunt.bound, best.cost, hunt.doubt), {(one.kind, one.line) for one in best.result.findings}
    return Redesign(
        before,
        best.result,
        targets,
        best.changes,
        best.cost,
        bound,
        (*hunt.trial.left, *(one for one in hunt.choices.uncured if (one.kind, one.line) in found)),
        hunt.share,
        hunt.trial.tried,
        hunt.choices,
        stopped,
    )


def _hunted(hunt: Hunt, layout: Layout, tries: int | None) -> None:
    """Find the best set, giving up what cannot be had where nothing is found."""
    if hunt.good(hunt.before):
        hunt.best = Best((), hunt.before, 0.0)
        return
    hunt.choices.begin()
    steps = sum(len(line.parts) for line in layout.lines.values())
    most = max(FEWEST, min(MOST, STEPS // max(steps, 1))) if tries is None else tries
    hunt.run(most)
    for _ in range(AGAIN):
        if hunt.best is not None or not (hunt.fall_back() or hunt.ask_less()):
            break
        hunt.run(most)
    hunt.exchange()


def search_afresh(
    layout: Layout,
    targets: Targets,
    prices: Prices,
    *,
    minutes: float = math.inf,
    tell: Callable[[str], None] = lambda _: None,
) -> Redesign:
    """Lay the pipe of a layout anew, and find the cheapest changes with which that meets the targets; else as `search`.

    Returns:
        The redesign, held against the layout as it stands.

    Raises:
        PlumblineError: where nothing can be laid anew, or what is laid does not meet what is asked; it says what stands against it.
        SolveError: where the layout as it stands has no flow.
    """
    tell("the layout as it stands")
    end = minutes_from_now(minutes)
    before = check(layout)
    tell("a clean sheet")
    try:
        with until(end):
            sheet = clean_sheet(before, prices)
            found = search(sheet.layout, targets, prices, minutes=minutes, tell=tell)
    except TimeUp:
        raise PlumblineError(
            f"{minutes:g} minutes were up before the pipe was laid afresh and checked; no change to it was tried."
        ) from None
    except NothingFoundError as why:
        raise PlumblineError(
            f"Laid afresh it was not found to meet what is asked, whatever is changed then. {why}"
        ) from None
    # A clean sheet owes pipe without warnings on cleaning: those that are left are told.
    warned = (one for one in found.result.findings if one.level == "warn" and weights()[one.kind].mark == "cleaning")
    left = tuple(unmet_of(one) for one in warned)
    return replace(
        found,
        before=before,
        changes=(*sheet.changes, *found.changes),
        bound=0.0,
        sheet=sheet,
        cost=found.cost + sheet.cost(prices.hour),
        left=(*found.left, *left),
    )


SAME = 1e-6
"""Two checks of the same text agree to this."""


@dataclass(frozen=True)
class Difference:
    """Old against new: the findings `gone` and `come`. One is the same as another if kind and line are, whatever the numbers in it."""

    gone: tuple[Finding, ...]
    come: tuple[Finding, ...]


def difference(before: CheckResult, after: CheckResult) -> Difference:
    """Hold two checks against each other."""
    return Difference(_beyond(before.findings, after.findings), _beyond(after.findings, before.findings))


def _beyond(some: Iterable[Finding], others: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings of one list that the other has not, as many as there are more of a kind in a line, the least first to stay."""
    left = Counter((finding.kind, finding.line) for finding in others)
    out = []
    for finding in some:
        if left[finding.kind, finding.line] > 0:
            left[finding.kind, finding.line] -= 1
        else:
            out.append(finding)
    return tuple(out)


def prove(redesign: Redesign, file: NewFile | None = None) -> CheckResult:
    """Read and check the text of a redesign anew, write it to a new file if one is given, whole or not at all, and give the check.

    Raises:
        PlumblineError: where that does not find what the redesign claims, or the file cannot be written; then nothing is written.
    """
    text = apply(redesign.base.text, redesign.changes)
    result = _checked(redesign, check(layout_of(text, redesign.base.path if file is None else file.path)))
    if file is not None:
        file.write(text)
    return result


def _checked(redesign: Redesign, result: CheckResult) -> CheckResult:
    claimed = redesign.result
    vessels = claimed.flows.vessels
    same = (
        result.verdict == claimed.verdict
        and result.score.marks.keys() == claimed.score.marks.keys()
        and all(mark.tenths == claimed.score.marks[name].tenths for name, mark in result.score.marks.items())
        and abs(result.upkeep.cleanable_fraction - claimed.upkeep.cleanable_fraction) < SAME
        and result.flows.vessels.keys() == vessels.keys()
        and all(
            abs(got.inflow - vessels[name].inflow) <= SAME * max(vessels[name].inflow, SAME)
            for name, got in result.flows.vessels.items()
        )
    )
    if not same:
        raise PlumblineError(
            "What was written does not check as it should; it was not kept. Make the changes in the file by hand."
        )
    return result
