"""What money buys: what each change wins alone and in company, the best sets for less money, and the one thing to do first."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from ..check import CheckResult, check
from ..errors import PlumblineError
from ..layout.model import Layout
from .change import Change, changed
from .cover import Cut, least, most
from .search import Redesign
from .shut_offs import SHUT_OFF

__all__ = ["Buy", "Standing", "Worth", "best_buys", "one_thing", "standing", "within", "worth"]

STEP = 0.75
"""The next best buy looked for costs at most this share of the one before."""

MOST = 6
"""How many best buys are looked for, with new pipe and without."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How a layout stands: `points` of the score, those of all three `marks` together, the share of pipe that is `cleanable`, the least `margin` of what a vessel wants (None where
    none wants anything), and how many findings `fail`."""

    points: float
    cleanable: float
    margin: float | None
    fail: int
    marks: float = 0.0


@dataclass(frozen=True)
class Worth:
    """What a change wins: how the layout stands with it `alone`, and how it would stand `without` it when all others are made; None where that
    cannot be made or has no flow."""

    change: Change
    alone: Standing | None
    without: Standing | None


@dataclass(frozen=True)
class Buy:
    """A set of changes that no other found beats in both cost and what it gives, with its check."""

    changes: tuple[Change, ...]
    cost: float
    result: CheckResult
    standing: Standing


def standing(result: CheckResult) -> Standing:
    """Tell how a layout stands by its check."""
    margins = [got.inflow / got.wanted - 1.0 for got in result.flows.vessels.values() if got.wanted]
    fail = sum(1 for finding in result.findings if finding.level == "fail")
    marks = sum(mark.points for mark in result.score.marks.values())
    return Standing(result.score.points, result.score.cleanable, min(margins, default=None), fail, marks)


def worth(redesign: Redesign, tell: Callable[[str], None] = lambda _: None) -> tuple[Worth, ...]:
    """Find what each change of a set wins, alone and in company, by a check of its own for each."""
    layout = redesign.before.layout
    out = []
    for change in redesign.changes:
        tell(f"worth of: {change.words}")
        rest = [other for other in redesign.changes if other is not change]
        out.append(Worth(change, _stands(layout, [change]), _stands(layout, rest)))
    return tuple(out)


def _stands(layout: Layout, changes: Sequence[Change]) -> Standing | None:
    try:
        return standing(check(changed(layout, changes)))
    except PlumblineError:
        return None


SMALL_CHANGE = 5.0
"""Money that nobody asks about: a change that is free is not worth infinitely more than one for this much."""


def one_thing(redesign: Redesign, worths: Sequence[Worth], hour: float = 0.0) -> Worth | None:
    """The change to make first where only one is made, by the harm that it alone undoes: first what leaves the fewest failures, of those what wins most
    points of all marks for its money; None where none wins any."""
    now = standing(redesign.before)

    def rank(one: Worth) -> tuple[int, float]:
        assert one.alone is not None
        return now.fail - one.alone.fail, (one.alone.marks - now.marks) / (SMALL_CHANGE + one.change.cost(hour))

    some = [one for one in worths if one.alone is not None and rank(one) > (0, 0.0)]
    return max(some, key=rank, default=None)


def best_buys(redesign: Redesign, hour: float, tell: Callable[[str], None] = lambda _: None) -> tuple[Buy, ...]:
    """Find the best sets for less money, cheapest first: with the pipe as it is, and with the pipe and valves of the redesign, the accesses
    that clean most for what they cost.

    Returns:
        Sets of which none is beaten by another found in cost, cleanable pipe, least margin (beyond what was asked it does not count) and
        failures together. The last is the redesign itself.
    """
    layout = redesign.before.layout
    found: list[Buy] = []
    for some in dict.fromkeys([(), tuple(redesign.changes), *_most_cleaned(redesign, hour, tell)]):
        tell(f"a check of {len(some)} changes")
        try:
            result = redesign.before if not some else check(changed(layout, some))
        except PlumblineError:
            continue
        found.append(Buy(some, math.fsum(change.cost(hour) for change in some), result, standing(result)))
    margin = redesign.targets.wanted(layout).margin
    own = next((one for one in found if one.changes == redesign.changes), None)
    kept = [
        one
        for one in found
        if not any(_beats(other, one, margin) for other in found)
        and (own is None or one is own or _gives(one, margin) != _gives(own, margin))
    ]
    return tuple(sorted(kept, key=lambda one: (round(one.cost, 6), one is own, one.standing.cleanable)))


def _most_cleaned(redesign: Redesign, hour: float, tell: Callable[[str], None]) -> Iterator[tuple[Change, ...]]:
    """For less and less money the accesses that clean most, with the pipe as it is and with that of the redesign."""
    choices = redesign.choices
    if not choices.cleaning or not choices.learned:
        return
    opens = [one for one in redesign.changes if one.access or one.kind == SHUT_OFF]
    water = tuple(one for one in redesign.changes if one not in opens or one.kind in ("shorten", "cap a tee"))
    numbers = {choices.number[change] for change in water if change in choices.number} & {*choices.pipes}
    exact = [one for one in choices.learned if one.wet and one.made == numbers] if water else []
    for learned, made in ((choices.learned[0], ()), *((one, water) for one in exact[-1:])):
        yield made
        fixed = [Cut({n: 1.0 if n in learned.made else -1.0 for n in choices.pipes}, float(len(learned.made)))]
        fixed += [Cut({n: -1.0}, 0.0) for n in (*choices.pipes, *choices.taps) if n not in learned.made]
        problem = replace(choices.problem(1.0, fixed, learned.sure, tasteful=True), cuts=fixed)
        budget = math.fsum(change.cost(hour) for change in opens)
        for _ in range(MOST):
            tell(f"the most that {budget:.0f} for new accesses cleans")
            spend = Cut({n: -choices.costs[n] for n in choices.openings}, -budget)
            share = most(replace(problem, cuts=[*fixed, spend]))
            answer = None if share is None else least(replace(problem, share=min(share - 1e-9, redesign.share)))
            some = () if answer is None else (choices.changes[n] for n in choices.openings if n in answer.chosen)
            chosen = tuple(choices.priced(change, made) for change in some)
            if not chosen:
                break
            yield (*made, *chosen)
            budget = STEP * math.fsum(change.cost(hour) for change in chosen)


def _gives(buy: Buy, margin: float) -> tuple[float, ...]:
    stands = buy.standing
    spare = 0.0 if stands.margin is None else min(stands.margin, margin)
    return (-buy.cost, round(stands.cleanable, 9), round(spare, 9), -float(stands.fail))


def _beats(one: Buy, other: Buy, margin: float) -> bool:
    a, b = _gives(one, margin), _gives(other, margin)
    return all(x >= y for x, y in zip(a, b, strict=True)) and a != b


def within(redesign: Redesign, buys: Sequence[Buy], budget: float) -> Redesign:
    """The best buy within a budget: with the fewest failures, then the most points; the redesign itself if it costs no more."""
    if redesign.cost <= budget + 1e-9:
        return redesign
    some = [buy for buy in buys if buy.cost <= budget + 1e-9]
    best = max(some, key=lambda buy: (-buy.standing.fail, buy.standing.points, -buy.cost))
    return replace(redesign, changes=best.changes, cost=best.cost, result=best.result, bound=0.0, budget=budget)
