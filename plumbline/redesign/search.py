"""The search: the cheapest set of changes that meets what is asked, by a master program and what checks teach it.

The master is a mixed-integer program (`cover.least`) over all changes: each is made or not, clashing ones not both; every atom of pipe is cleaned or
taken away; every dead end over the limit is cured. It knows nothing of water. Its cheapest answer is tried: if the water does not do what is
asked with that pipe, not even with every valve set afresh, that choice of pipe is ruled out; if it does with some valves and not with these, one
more valve is asked for. Where the water is right, what accesses clean is found anew with that pipe, the cheapest accesses for it are worked
out, and the whole set is written, read and checked. The master's bound rises with every round, and when it meets the cost of the best set
found, that set is proven cheapest.

Reference: Hooker and Ottosson (2003), Mathematical Programming 96, 33–60, logic-based Benders decomposition (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from ..check import CheckResult, check
from ..errors import PlumblineError
from ..layout.model import Layout
from ..upkeep.intervals import Intervals, subtract
from .buildable import builds, shortage
from .change import Change, changed
from .choices import Choices
from .clean_sheet import CleanSheet
from .cover import THERE, Answer, Cut, Provider, least
from .prices import Prices
from .settings import settle, taps_of
from .valves import set_valve
from .water import Settled, Unmet, Wanted, safely, unmet

__all__ = ["Redesign", "Targets", "search"]

SAME_COST = 1e-6
SAME_SHARE = 1e-5
SMALL = 1e-6
INNER = 8
"""How often the accesses for one choice of pipe are thought over again, where they spoil each other."""
DRY = 3
"""How often, where it is what the accesses cost in head that leaves a vessel short."""
CROWDED = 40
"""How often accesses that there is no room for beside each other are told apart."""
FEWEST = 25
PROOFS = 30
"""How many whole sets are checked before what is left in doubt stays so."""


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
    `stopped` tells that the search was ended early, `budget` that this is the best for so much money and not all that is asked. Where all pipe was
    laid afresh first, `sheet` is that; its changes come before the others."""

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
        """Whether no cheaper set of the changes tried meets what is asked."""
        return self.sheet is None and self.bound >= self.cost - SAME_COST

    @property
    def candidates(self) -> tuple[Change, ...]:
        """All changes that were looked at."""
        return self.choices.changes

    @property
    def gap(self) -> float:
        """How far the cost may be above the least, as a share of it."""
        return 0.0 if self.proven else (self.cost - self.bound) / self.cost


def search(
    layout: Layout,
    targets: Targets,
    prices: Prices,
    *,
    tries: int | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> Redesign | None:
    """Find the cheapest changes that meet the targets.

    Parameters:
        layout: as read from its file.
        targets: what is asked.
        prices: of changes.
        tries: how many choices of pipe and valves are solved, and sets checked, at most; left out, fewer the larger the layout.
        tell: called with what is being tried.

    Returns:
        The best set found, with a bound on what the cheapest can cost; None where none was found. An interruption from the keyboard ends the
        search with what there is, and goes on where there is nothing yet. There is no chance in it: the same layout gives the same answer.

    Raises:
        SolveError: where the layout as it stands has no flow.
    """
    tell("the layout as it stands")
    before = check(layout)
    hunt = _Hunt(before, targets, prices, tell)
    try:
        if hunt.good(before):
            hunt.best, hunt.bound = _Best((), before, 0.0), 0.0
            return hunt.answer()
        hunt.choices.begin()
        if tries is None:
            steps = sum(len(line.parts) for line in layout.lines.values())
            tries = max(FEWEST, min(80, 6000 // max(steps, 1)))
        hunt.run(tries)
        if hunt.best is None and hunt.fall_back():
            hunt.run(tries)
    except KeyboardInterrupt:
        hunt.stopped = True
        if hunt.best is None:
            raise
    return hunt.answer()


@dataclass(frozen=True)
class _Best:
    changes: tuple[Change, ...]
    result: CheckResult
    cost: float


class _Hunt:
    """A search under way."""

    def __init__(self, before: CheckResult, targets: Targets, prices: Prices, tell: Callable[[str], None]) -> None:
        self.before, self.layout = before, before.layout
        self.targets, self.prices, self.tell = targets, prices, tell
        self.wanted = targets.wanted(self.layout)
        self.choices = Choices(before, self.wanted, prices, cleaning=targets.cleanable > 0.0, tell=tell)
        self.share = targets.cleanable
        self.best: _Best | None = None
        self.bound = 0.0
        self.doubt = math.inf
        self.stopped = False
        self.tried = 0
        self.proofs = 0
        self.left: tuple[Unmet, ...] = ()
        self.cuts: list[Cut] = []
        self.crowded: list[Cut] = []
        self.short = shortage(self.layout)
        self.known: dict[tuple[frozenset[int], frozenset[str]], Settled] = {}
        self.warm: dict[str, float] = {}
        self.ways = _ways(before)

    # ------------------------------------------------------------------ rounds

    def run(self, tries: int) -> None:
        """Rounds of master and trial until the best is proven, nothing more is possible, or the tries are used up."""
        choices, start = self.choices, self.tried + self.proofs
        self.share = min(self.targets.cleanable, choices.most()) if choices.cleaning else 0.0
        everything = frozenset(choices.taps.values())
        begun: set[frozenset[int]] = set()
        while self.tried + self.proofs - start < tries:
            answer = least(choices.problem(self.share, self.cuts))
            if answer is None:
                self.bound = math.inf
                return
            self.bound = answer.bound
            if self.best is not None and self.bound >= self.best.cost - SAME_COST:
                return
            pipe = frozenset(choices.pipes) & answer.chosen
            taps = frozenset(name for n, name in choices.taps.items() if n in answer.chosen)
            lacking = self.asked(self.settled(pipe, everything))
            if lacking:
                self.cuts += self.without(pipe - choices.on_legs, lacking)
            elif self.best is None and choices.taps and pipe not in begun:
                # Something that does, before anything better is looked for.
                begun.add(pipe)
                opened = self.opened_up(pipe, everything)
                self.complete(pipe, everything if self.asked(self.settled(pipe, opened)) else opened)
            elif self.asked(self.settled(pipe, taps)):
                self.cuts += self.more_valves(pipe, taps, everything)
            else:
                self.complete(pipe, taps)

    def without(self, pipe: frozenset[int], lacking: Sequence[Unmet]) -> list[Cut]:
        """Something must be other than in a choice of pipe that does not do whatever the valves: where a vessel is short, some pipe on a way to it,
        since no other pipe brings it more."""
        cuts = []
        for one in lacking:
            lines = self.ways.get(one.place) if one.kind == "margin" else None
            if lines is not None:
                bears = {
                    n
                    for n in self.choices.pipes
                    if self.choices.changes[n].kind != "pipe" or self.choices.changes[n].line in lines
                }
                cuts.append(self.other(pipe & bears, among=bears))
        return cuts or [self.other(pipe)]

    def more_valves(self, pipe: frozenset[int], taps: frozenset[str], everything: frozenset[str]) -> list[Cut]:
        """More valves must be set with this choice of pipe: those without which it does not do even if all others are; or else some other."""
        number = {name: n for n, name in self.choices.taps.items()}
        here = pipe - self.choices.on_legs
        some = sorted(self.opened_up(pipe, everything) - taps)
        needed = [name for name in some if self.asked(self.settled(pipe, everything - {name}))]
        if needed:
            return [self.other(here, {number[name]: 1.0}) for name in sorted(needed)]
        return [self.other(here, {n: 1.0 for name, n in number.items() if name not in taps})]

    def opened_up(self, pipe: frozenset[int], everything: frozenset[str]) -> frozenset[str]:
        """The vessels whose valves stand further open than now, when all are set afresh."""
        got = self.settled(pipe, everything)
        valves = self.choices.offers.valves
        return frozenset(name for name in everything if got.set.get(name, 0.0) > valves[name].valve.part.opening + 0.01)

    def other(self, pipe: frozenset[int], more: dict[int, float] | None = None, among: set[int] | None = None) -> Cut:
        """Something must be other than in this choice of pipe (`among` some, dead ends left aside), or one of `more` must be made."""
        others = {n: -1.0 if n in pipe else 1.0 for n in self.choices.pipes
                  if n not in self.choices.on_legs and (among is None or n in among)}  # fmt: skip
        return Cut({**others, **(more or {})}, 1.0 - len(pipe))

    def settled(self, pipe: frozenset[int], taps: frozenset[str]) -> Settled:
        """The water with a choice of pipe and of valves to be set. Dead ends have no flow in them, and are left as they are."""
        key = (pipe - self.choices.on_legs, taps)
        if key not in self.known:
            made = [self.choices.changes[n] for n in sorted(key[0])]
            words = "; ".join(change.words for change in made) or "the pipe as it is"
            self.tell(words + (f"; {len(taps)} valves set" if taps else ""))
            self.tried += 1
            self.known[key] = self.settle(made, taps)
        return self.known[key]

    def settle(self, made: Sequence[Change], taps: frozenset[str], *, thorough: bool = False) -> Settled:
        """Set valves in a changed layout, and judge the water."""
        try:
            layout = changed(self.layout, made)
        except PlumblineError as error:
            return Settled({}, None, (Unmet("no layout", None, "", 1.0, str(error)),))
        new = {change.line for change in made if change.kind == "new valve"}
        flows = safely(layout) if taps or new else None
        valves = {} if flows is None else taps_of(layout, flows)
        free = {name: tap for name, tap in valves.items() if name in taps or tap.valve.line in new}
        return settle(layout, free, self.wanted, self.warm, thorough=thorough)

    def asked(self, got: Settled) -> tuple[Unmet, ...]:
        """What is unmet of what is still asked. Dead ends are the master's business."""
        return tuple(one for one in got.unmet if one.kind != "dead-leg" and not self.given_up(one))

    def given_up(self, one: Unmet) -> bool:
        """Whether something is not asked any more."""
        return (one.kind, one.place) in {(other.kind, other.place) for other in self.left}

    # ------------------------------------------------------------------ whole sets

    def complete(self, pipe: frozenset[int], taps: frozenset[str]) -> None:
        """The cheapest accesses for a choice of pipe and valves; the whole set checked."""
        choices = self.choices
        made = tuple(choices.changes[n] for n in sorted(pipe))
        inside = pipe | {n for n, name in choices.taps.items() if name in taps}
        outside = {n for n in (*choices.pipes, *choices.taps) if n not in inside}
        fixed = [Cut(dict.fromkeys(inside, 1.0), float(len(inside))), Cut(dict.fromkeys(outside, -1.0), 0.0)]
        settings = tuple(self.settings(made, taps, self.settled(pipe, taps)))
        learned = choices.exact(made, settings)
        # Most likely the accesses that are cheapest as far as is sure will do; then whatever may be cheaper.
        answer = self.built(fixed, made, learned.sure if learned else None)
        if answer is not None and (self.best is None or answer.cost < self.best.cost - SAME_COST):
            self.proof(answer, made, taps)
        perhaps = learned.perhaps if learned else None
        dry = 0
        for _ in range(INNER):
            answer = self.built(fixed, made, perhaps)
            if answer is None or (self.best is not None and answer.bound >= self.best.cost - SAME_COST):
                break
            got = self.proof(answer, made, taps)
            if got is True:
                break
            dry += got is False
            if dry == DRY or self.proofs >= PROOFS:
                self.doubt = min(self.doubt, max(self.bound, answer.bound))
                break
            fewer = (
                None
                if perhaps is None
                else _found_wanting(perhaps, answer.chosen, self.company(answer.chosen, got), got)
            )
            if fewer != perhaps:
                perhaps = fewer
                continue
            # These accesses together do not do; any others may.
            factors = {n: -1.0 if n in answer.chosen else 1.0 for n in choices.openings}
            fixed.append(Cut(factors, 1.0 - sum(1 for n in choices.openings if n in answer.chosen)))
        else:
            self.doubt = min(self.doubt, max(self.bound, answer.bound if answer is not None else 0.0))
        self.cuts.append(Cut({**dict.fromkeys(inside, -1.0), **dict.fromkeys(outside, 1.0)}, 1.0 - len(inside)))

    def built(
        self, fixed: Sequence[Cut], made: tuple[Change, ...], providers: tuple[Provider, ...] | None
    ) -> Answer | None:
        """The cheapest accesses that there is room for beside each other in the pipe that will be there."""
        for _ in range(CROWDED):
            answer = least(self.choices.problem(self.share, [*fixed, *self.crowded], providers, tasteful=True))
            crowd = frozenset() if answer is None else self.crowd(answer.chosen, made)
            if answer is None or not crowd:
                return answer
            self.crowded.append(Cut(dict.fromkeys(crowd, -1.0), 1.0 - len(crowd)))
            self.cuts.append(self.crowded[-1])
        return answer

    def crowd(self, chosen: frozenset[int], made: tuple[Change, ...]) -> frozenset[int]:
        """Accesses among those chosen, and the pipe chosen for their lines, that cannot all be built together: no fewer of them cannot; none
        where all can."""
        changes = self.choices.changes

        def fits(some: Sequence[int]) -> bool:
            try:
                return builds(changed(self.layout, (*made, *(changes[n] for n in some))), self.short)
            except PlumblineError:
                return False

        some = [n for n in self.choices.openings if n in chosen]
        if fits(some) or not fits(()):
            return frozenset()
        for n in tuple(some):
            rest = [other for other in some if other != n]
            if not fits(rest):
                some = rest
        lines = {edit.line for n in some for edit in changes[n].edits}
        return frozenset(some) | {n for n in self.choices.pipes if n in chosen and changes[n].line in lines}

    def company(self, chosen: frozenset[int], got: CheckResult | bool) -> frozenset[int]:
        """The accesses that could give a flush the little that it lacked: not yet made there, and in pipe that a pump pushes through where it is
        such pipe that was not scoured, since what falls freely leaves its flow alone."""
        changes = self.choices.changes
        places = {(changes[n].line, changes[n].step) for n in self.choices.openings if n in chosen}
        falls = {stretch.line for stretch in self.layout.stretches if self.before.flows.stretches[stretch.id].gravity}
        pushed = not isinstance(got, bool) and not falls & _missed(got).keys()
        return frozenset(
            n for n in self.choices.openings
            if (changes[n].line, changes[n].step) not in places and not (pushed and changes[n].line in falls)
        )  # fmt: skip

    def proof(self, answer: Answer, made: tuple[Change, ...], taps: frozenset[str]) -> CheckResult | bool:
        """Write, read and check a whole set; keep it where it meets what is asked. Where only cleaning does not, give the check."""
        self.proofs += 1
        openings = [self.choices.priced(self.choices.changes[n], made)
                    for n in self.choices.openings if n in answer.chosen]  # fmt: skip
        whole = [*made, *openings]
        self.tell(f"{len(whole)} changes together")
        got = self.settle(whole, taps)
        if got.flows is None or self.asked(got):
            return False
        changes = (*_opened(whole, got), *self.settings(whole, taps, got))
        try:
            after = changed(self.layout, changes)
            result = check(after)
        except PlumblineError:
            return False
        if not builds(after, self.short):
            return False
        if not self.good(result):
            return result
        cost = math.fsum(change.cost(self.prices.hour) for change in changes)
        if self.best is None or cost < self.best.cost - SAME_COST:
            self.best = _Best(changes, result, cost)
        return True

    def good(self, result: CheckResult) -> bool:
        """Whether a check finds all that is still asked."""
        fails = [finding for finding in result.findings if finding.level == "fail"]
        bad = [one for one in unmet(result.layout, result.flows, fails, self.wanted)
               if not self.given_up(one) and (one.kind != "dead-leg" or one.line in self.choices.offers.legs)]  # fmt: skip
        return not bad and result.upkeep.cleanable_fraction >= self.share - SAME_SHARE

    def settings(self, made: Sequence[Change], taps: frozenset[str], got: Settled) -> list[Change]:
        """The valves as they were set, as changes to the file."""
        after = taps_of(changed(self.layout, made), got.flows) if taps and got.flows is not None else {}
        out = []
        for name, tap in self.choices.offers.valves.items():
            opening = got.openings.get(after[name].valve.key) if name in taps and name in after else None
            if opening is not None and abs(opening - tap.valve.part.opening) > 1e-9:
                out.append(set_valve(self.layout, tap.valve.line, tap.valve.part.step, opening, self.prices))
        return out

    # ------------------------------------------------------------------ where nothing was found

    def fall_back(self) -> bool:
        """Take all that can be done, and less and less of it while it will do; True where something had to be given up, so that it is worth
        while to search again."""
        choices = self.choices
        largest: dict[str, int] = {}
        for n in choices.pipes:
            change = choices.changes[n]
            if n not in choices.on_legs and change.kind != "take out loop":
                rank = (change.step, change.money)
                held = largest.get(change.line)
                if held is None or rank >= (choices.changes[held].step, choices.changes[held].money):
                    largest[change.line] = n
        pipe = frozenset(largest.values())
        taps = frozenset(choices.taps.values())
        lacking = self.asked(self.settled(pipe, taps))
        if lacking:
            lacking = self.settle([choices.changes[n] for n in sorted(pipe)], taps, thorough=True).unmet
            as_is = {(one.kind, one.place) for one in choices.offers.unmet}
            self.left = tuple(one for one in lacking if (one.kind, one.place) in as_is and one.kind != "dead-leg")
            self.wanted = replace(self.wanted, but=frozenset(one.place for one in self.left if one.kind == "margin"))
            self.known.clear()
            self.cuts[:] = self.crowded
            self.doubt = math.inf
            return bool(self.left)
        for n in sorted(pipe, key=lambda n: -choices.costs[n]):
            if not self.asked(self.settled(pipe - {n}, taps)):
                pipe -= {n}
        legs = [min(group, key=lambda n: choices.costs[n]) for group in choices.legs if group]
        bound = self.bound
        self.complete(pipe | frozenset(legs), taps)
        self.bound = bound
        return False

    def answer(self) -> Redesign | None:
        """What was found."""
        if self.best is None:
            return None
        bound = min(self.bound, self.best.cost, self.doubt)
        return Redesign(self.before, self.best.result, self.targets, self.best.changes, self.best.cost, bound, self.left,
                        self.share, self.tried, self.choices, self.stopped)  # fmt: skip


def _ways(before: CheckResult) -> dict[str, frozenset[str]]:
    """The lines on the ways that water takes to each vessel, those to the vessels that it comes from included; none told of a vessel to which
    none comes."""
    direct: dict[str, set[str]] = {}
    sources: dict[str, set[str]] = {}
    for route in before.flows.routes:
        if route.vessel is not None:
            direct.setdefault(route.vessel, set()).update(part.line for part in route.losses)
            sources.setdefault(route.vessel, set()).add(route.source)
    out = {}
    for name in direct:
        seen, waiting = {name}, [name]
        while waiting:
            more = sources.get(waiting.pop(), set()) & before.layout.vessels.keys() - seen
            seen |= more
            waiting += more
        if all(
            vessel in direct or vessel not in before.flows.vessels or not before.flows.vessels[vessel].balanced
            for vessel in seen
        ):
            out[name] = frozenset().union(*(direct.get(vessel, set()) for vessel in seen))
    return out


def _missed(got: CheckResult) -> dict[str, Intervals]:
    """The pipe that cannot be cleaned."""
    left = {name: subtract([(0.0, line.length)], got.upkeep.cleanable.get(name, ()), slack=SMALL)
            for name, line in got.layout.lines.items()}  # fmt: skip
    return {name: pieces for name, pieces in left.items() if pieces}


def _found_wanting(
    perhaps: tuple[Provider, ...], chosen: frozenset[int], others: frozenset[int], got: CheckResult | bool
) -> tuple[Provider, ...]:
    """What may be cleaned: what was not when it was tried may be in more company only, since every access more costs the usual flow a little,
    and a flush gains by it."""
    if isinstance(got, bool):
        return perhaps
    missed = _missed(got)
    out = []
    for one in perhaps:
        kept: dict[str, Intervals] = {}
        doubted: dict[str, Intervals] = {}
        for line, pieces in one.pipe.items():
            kept[line] = subtract(pieces, missed.get(line, ()), slack=SMALL)
            doubted[line] = subtract(pieces, kept[line], slack=SMALL)
        if (one.number == THERE or one.number in chosen) and any(doubted.values()):
            out += [replace(one, pipe=kept), replace(one, pipe=doubted, needs=(*one.needs, others))]
        else:
            out.append(one)
    return tuple(out)


def _opened(made: Sequence[Change], got: Settled) -> list[Change]:
    """The changes, with new valves at the openings found."""
    lines = {line: opening for (line, _), opening in got.openings.items()}
    out = []
    for change in made:
        if change.kind != "new valve" or change.line not in lines:
            out.append(change)
            continue
        opening = lines[change.line]
        edit = replace(change.edits[0], texts=(f"ball valve: {{opening: {100.0 * opening:g} %}}",))
        out.append(replace(change, edits=(edit,), words=f"{change.words}, {opening:.0%} open"))
    return out
