"""The hunt for the cheapest set: a master program, and what trials, of each choice of pipe and valves once, and checks teach it.

The master is a mixed-integer program (`cover.least`) over all changes: each is made or not, clashing ones not both; every atom of pipe is cleaned or
taken away; every dead end over the limit is cured. It knows nothing of water. Its cheapest answer is tried: if the water does not do what is
asked with that pipe, not even with every valve set afresh, that choice of pipe is ruled out; if it does with some valves and not with these, one
more valve is asked for. Where the water is right, what accesses clean is found anew with that pipe, the cheapest accesses for it are worked
out, and the whole set is written, read and checked. The master's bound rises with every round, and when it meets the cost of the best set
found, that set is proven cheapest of all that the master knows: of flushes that is what they do in pipe that was tried.

Reference: Hooker and Ottosson (2003), Mathematical Programming 96, 33–60, logic-based Benders decomposition (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from time import perf_counter

from ..check import CheckResult, check, flushes
from ..errors import PlumblineError
from ..findings import Finding
from ..layout.model import Layout
from ..upkeep import Upkeep, look_after
from ..upkeep.intervals import Intervals, subtract
from .buildable import builds, shortage
from .change import Change, changed
from .choices import Choices
from .clean import Pipe
from .cover import THERE, Answer, Cut, Provider, least
from .prices import Prices
from .trial import Names, Numbers, Trial, ways_of
from .water import Unmet, Wanted, unmet

__all__ = ["SAME_COST", "Best", "Hunt"]

SAME_COST = 1e-6
SAME_SHARE = 1e-5
SMALL = 1e-6
INNER = 8
"""How often the accesses for one choice of pipe are thought over again, where they spoil each other."""
DRY = 3
"""How often, where it is what the accesses cost in head that leaves a vessel short."""
CROWDED = 40
"""How often accesses that there is no room for beside each other are told apart."""
PROOFS = 30
"""How many whole sets are checked before what is left in doubt stays so."""


@dataclass(frozen=True)
class Best:
    """A set that meets what is asked, with its check."""

    changes: tuple[Change, ...]
    result: CheckResult
    cost: float


class Hunt:
    """A search under way: the `best` set so far, the `bound` that none can be below, and the `doubt`, what one left undecided may cost."""

    def __init__(
        self, before: CheckResult, wanted: Wanted, cleanable: float, prices: Prices, tell: Callable[[str], None]
    ) -> None:
        self.before, self.layout, self.prices, self.tell = before, before.layout, prices, tell
        self.choices = Choices(before, wanted, prices, cleaning=cleanable > 0.0, tell=tell)
        self.trial = Trial(self.layout, self.choices, wanted, tell)
        self.cleanable = self.share = cleanable
        self.best: Best | None = None
        self.bound, self.doubt = 0.0, math.inf
        self.end = self.empty = math.inf
        self.proofs = 0
        self.cuts: list[Cut] = []
        self.seen: set[Numbers] = set()
        self.crowded: list[Cut] = []
        self.short = shortage(self.layout)
        self.ways = ways_of(before)

    # ------------------------------------------------------------------ rounds

    def run(self, tries: int, end: float, empty: float) -> bool:
        """Rounds of master and trial until the best is proven, nothing more is possible, or the tries are used up; True where it was ended by
        the clock: at its `end` [s of `perf_counter`], or at `empty` with nothing found."""
        self.end, self.empty = end, empty
        choices, trial, start = self.choices, self.trial, self.trial.tried + self.proofs
        self.share = min(self.cleanable, choices.most(self.cuts)) if choices.cleaning else 0.0
        everything = frozenset(choices.taps.values())
        begun: set[Numbers] = set()
        while trial.tried + self.proofs - start < tries:
            answer = least(choices.problem(self.share, self.cuts))
            self.bound = math.inf if answer is None else answer.bound
            if answer is None or not self.cheaper(self.bound):
                if not self.beside(everything):
                    return False
                continue
            pipe = frozenset(choices.pipes) & answer.chosen
            taps = frozenset(name for n, name in choices.taps.items() if n in answer.chosen)
            lacking = trial.lacking(pipe, everything)
            if lacking:
                self.cuts += self.without(pipe - choices.dry, lacking)
            elif self.best is None and choices.taps and pipe not in begun:
                # Something that does, before anything better is looked for.
                begun.add(pipe)
                self.complete(pipe, self.fewest(pipe, everything))
            elif trial.lacking(pipe, taps):
                self.cuts += self.more_valves(pipe, taps, everything)
            else:
                self.complete(pipe, taps)
            if self.late():
                return True
        return False

    def fewest(self, pipe: Numbers, everything: Names) -> Names:
        """The valves that stand further open than now when all are set afresh, if those alone do; else all."""
        opened = self.trial.opened_up(pipe, everything)
        return everything if self.trial.lacking(pipe, opened) else opened

    def beside(self, everything: Names) -> bool:
        """Try what differs from the best set by the size of one line: what flushes scour there the master does not know. True where there was
        something to try."""
        best, costs, changes = self.best, self.choices.costs, self.choices.changes
        if best is None or not self.choices.cleaning:
            return False
        was = {n for n in self.choices.pipes if changes[n] in best.changes}
        others = [(n, m) for n in was for m in self.choices.pipes if m not in was
                  and changes[n].kind == changes[m].kind == "pipe" and changes[n].line == changes[m].line]  # fmt: skip
        some = [pipe for n, m in others if (pipe := frozenset(was - {n} | {m})) not in self.seen]
        for pipe in some:
            self.seen.add(pipe)
            dear = not self.cheaper(math.fsum(costs[n] for n in pipe))
            if not (dear or self.late() or self.trial.lacking(pipe, everything)):
                self.complete(pipe, self.fewest(pipe, everything))
        return bool(some)

    def late(self) -> bool:
        """Whether the time is up."""
        return perf_counter() > (self.empty if self.best is None else self.end)

    def cheaper(self, cost: float) -> bool:
        """Whether a cost is below that of the best found."""
        return self.best is None or cost < self.best.cost - SAME_COST

    def without(self, pipe: Numbers, lacking: Sequence[Unmet]) -> list[Cut]:
        """Something must be other than in a choice of pipe that does not do whatever the valves: where a vessel is short, some pipe on a way to it,
        since no other pipe brings it more."""
        cuts = []
        for one in lacking:
            lines = self.ways.get(one.place) if one.kind == "margin" else None
            if lines is not None:
                changes = ((n, self.choices.changes[n]) for n in self.choices.pipes)
                bears = {n for n, change in changes if change.kind != "pipe" or change.line in lines}
                cuts.append(self.other(pipe & bears, among=bears))
        return cuts or [self.other(pipe)]

    def more_valves(self, pipe: Numbers, taps: Names, everything: Names) -> list[Cut]:
        """More valves must be set with this choice of pipe: those without which it does not do even if all others are; or else some other."""
        number = {name: n for n, name in self.choices.taps.items()}
        here = pipe - self.choices.dry
        some = sorted(self.trial.opened_up(pipe, everything) - taps)
        needed = [name for name in some if self.trial.lacking(pipe, everything - {name})]
        if needed:
            return [self.other(here, {number[name]: 1.0}) for name in sorted(needed)]
        return [self.other(here, {n: 1.0 for name, n in number.items() if name not in taps})]

    def other(self, pipe: Numbers, more: dict[int, float] | None = None, among: Collection[int] | None = None) -> Cut:
        """Something must be other than in this choice of pipe (`among` some, dead ends left aside), or one of `more` must be made."""
        some = self.choices.pipes if among is None else sorted(among)
        others = {n: -1.0 if n in pipe else 1.0 for n in some if n not in self.choices.dry}
        return Cut({**others, **(more or {})}, 1.0 - len(pipe))

    # ------------------------------------------------------------------ whole sets

    def complete(self, pipe: Numbers, taps: Names) -> None:
        """The cheapest accesses for a choice of pipe and valves; the whole set checked."""
        choices = self.choices
        self.seen.add(pipe)
        made = tuple(choices.changes[n] for n in sorted(pipe))
        inside = pipe | {n for n, name in choices.taps.items() if name in taps}
        outside = {n for n in (*choices.pipes, *choices.taps) if n not in inside}
        fixed = [Cut(dict.fromkeys(inside, 1.0), float(len(inside))), Cut(dict.fromkeys(outside, -1.0), 0.0)]
        valves = self.trial.written(made, taps, self.trial.settled(pipe, taps))
        learned = choices.exact(made, tuple(change for change in valves if change not in made))
        # Most likely the accesses that are cheapest as far as is sure will do; then whatever may be cheaper.
        answer = self.built(fixed, made, learned.sure if learned else None)
        if answer is not None and self.cheaper(answer.cost):
            self.proof(answer, pipe, taps)
        perhaps = learned.perhaps if learned else None
        dry = 0
        for _ in range(INNER):
            answer = self.built(fixed, made, perhaps)
            if answer is None or not self.cheaper(answer.bound) or self.trial.lacking(pipe, taps):
                break
            got = self.proof(answer, pipe, taps)
            if got is True:
                break
            dry += got is False
            if dry == DRY or self.proofs >= PROOFS or self.late():
                self.doubt = min(self.doubt, max(self.bound, answer.bound))
                break
            fewer = perhaps
            if perhaps is not None and not isinstance(got, bool):
                company, missed = self.company(answer.chosen, got), self.choices.bent.along(got, pipe)
                fewer = _found_wanting(perhaps, answer.chosen, company, missed)
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

    def crowd(self, chosen: Numbers, made: tuple[Change, ...]) -> Numbers:
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

    def company(self, chosen: Numbers, missed: Pipe) -> Numbers:
        """The accesses that could give a flush the little that it lacked where pipe is `missed`: not yet made there, and in pipe that a pump pushes through where it is
        such pipe that was not scoured, since what falls freely leaves its flow alone."""
        places = [(n, self.choices.changes[n].line, self.choices.changes[n].step) for n in self.choices.openings]
        there = {(line, step) for n, line, step in places if n in chosen}
        falls = {stretch.line for stretch in self.layout.stretches if self.before.flows.stretches[stretch.id].gravity}
        pushed = not falls & missed.keys()
        return frozenset(n for n, line, step in places if (line, step) not in there and not (pushed and line in falls))

    def proof(self, answer: Answer, pipe: Numbers, taps: Names) -> bool | Pipe:
        """Write, read and check a whole set; keep it where it meets what is asked. Where only cleaning does not, give the pipe that it misses."""
        self.proofs += 1
        made = [self.choices.changes[n] for n in sorted(pipe)]
        chosen = (self.choices.changes[n] for n in self.choices.openings if n in answer.chosen)
        whole = [*made, *(self.choices.priced(change, made) for change in chosen)]
        self.tell(f"{len(whole)} changes together")
        got = self.trial.settle(whole, taps)
        if got.flows is None or self.trial.asked(got.unmet):
            return False
        changes = self.trial.written(whole, taps, got)
        try:
            after = changed(self.layout, changes)
            # The whole check takes several times as long.
            upkeep = look_after(after, got.flows, flushes(after, got.flows))
            if not self.clean(upkeep, upkeep.findings):
                return _missed(after, upkeep)
            result = check(after)
        except PlumblineError:
            return False
        if not builds(after, self.short):
            return False
        if late := self.unmet(result):
            self.trial.late[pipe - self.choices.dry, taps] = late
            return False
        if not self.clean(result.upkeep, result.findings):
            return _missed(after, result.upkeep)
        cost = math.fsum(change.cost(self.prices.hour) for change in changes)
        if self.cheaper(cost):
            self.best = Best(changes, result, cost)
        return True

    def good(self, result: CheckResult) -> bool:
        """Whether a check finds all that is still asked."""
        return not self.unmet(result) and self.clean(result.upkeep, result.findings)

    def unmet(self, result: CheckResult) -> tuple[Unmet, ...]:
        """What a check finds unmet of what is still asked, cleaning left aside."""
        fails = [finding for finding in result.findings if finding.level == "fail"]
        some = unmet(result.layout, result.flows, fails, self.trial.wanted)
        return tuple(one for one in some if not self.trial.given_up(one)
                     and (one.kind != "dead-leg" or one.line in self.choices.offers.legs))  # fmt: skip

    def clean(self, upkeep: Upkeep, findings: Iterable[Finding]) -> bool:
        """Whether as much can be cleaned as is asked, and no low point, hump or back-fall is found that can be cured."""
        traps = {(one.kind, one.line) for one in findings if one.level == "warn"} & self.choices.traps.keys()
        return not traps and upkeep.cleanable_fraction >= self.share - SAME_SHARE

    # ------------------------------------------------------------------ where nothing was found

    def fall_back(self) -> bool:
        """Take all that can be done, and less and less of it while it will do; True where something had to be given up, so that it is worth
        while to search again."""
        choices, trial = self.choices, self.trial
        pipe, taps = self.largest(), frozenset(choices.taps.values())
        if not trial.lacking(pipe, taps):
            self.whittle(pipe, taps)
            if self.best is not None or not trial.late:
                return False
            self.complete(self.with_cures(pipe), taps)
        lacking = trial.lacking(pipe, taps)
        if self.best is not None or not lacking:
            return False
        made = [choices.changes[n] for n in sorted(pipe)]
        if not trial.give_up((*trial.settle(made, taps, thorough=True).unmet, *lacking)):
            return False
        self.cuts[:] = self.crowded
        self.doubt = math.inf
        return True

    def whittle(self, pipe: Numbers, taps: Names) -> None:
        """Less and less of a choice of pipe while it will do, the dearest first; then the accesses for what is left."""
        for n in sorted(pipe, key=lambda n: -self.choices.costs[n]):
            if not self.trial.lacking(pipe - {n}, taps):
                pipe -= {n}
        self.complete(self.with_cures(pipe), taps)

    def with_cures(self, pipe: Numbers) -> Numbers:
        """A choice of pipe with the cheapest cure of each dead end, and of what only pipe cures."""
        traps = (group for group in self.choices.traps.values() if group <= {*self.choices.pipes})
        for group in (*filter(None, self.choices.legs), *traps):
            if not pipe & group:
                pipe |= {min(group, key=lambda n: self.choices.costs[n])}
        return pipe

    def ask_less(self) -> bool:
        """Whether with less of the pipe cleanable, though with more than now, there is a set that was not found wanting yet."""
        most = self.choices.most(self.cuts)
        return self.before.upkeep.cleanable_fraction + SAME_SHARE < most < self.share - SAME_SHARE

    def in_the_way(self) -> Iterator[str]:
        """What stood in the way where nothing was found: what the water lacks with all that can be done to it, else what cannot be cleaned or cured
        in pipe that brings the water."""
        lacking = self.trial.lacking(self.largest(), frozenset(self.choices.taps.values()))
        yield from dict.fromkeys(one.words for one in lacking)
        if not lacking:
            most = self.choices.most(self.cuts)
            yield f"With the water right no more than {most:.0%} of the pipe can be cleaned, where {self.share:.0%} is asked, as far as was looked."
        asked = [
            one for one in self.choices.offers.unmet if one.kind == "dead-leg" and one.line in self.choices.offers.legs
        ]
        yield from (one.words for one in asked if not lacking)

    def largest(self) -> Numbers:
        """For each line the change that does most to it."""
        found: dict[str, tuple[int, float, int]] = {}
        for n in self.choices.pipes:
            change = self.choices.changes[n]
            if n not in self.choices.on_legs and n not in self.choices.bends and change.kind != "take out loop":
                rank = (change.step, change.money, n)
                found[change.line] = max(found.get(change.line, rank), rank)
        return frozenset(n for _, _, n in found.values())


def _missed(layout: Layout, upkeep: Upkeep) -> dict[str, Intervals]:
    left = {name: subtract([(0.0, line.length)], upkeep.cleanable.get(name, ()), slack=SMALL)
            for name, line in layout.lines.items()}  # fmt: skip
    return {name: pieces for name, pieces in left.items() if pieces}


def _found_wanting(
    perhaps: tuple[Provider, ...], chosen: Numbers, others: Numbers, missed: Pipe
) -> tuple[Provider, ...]:
    """What may be cleaned: what was `missed` when it was tried may be in more company only, since every access more costs the usual flow a
    little, and a flush gains by it."""
    out = []
    for one in perhaps:
        kept = {line: subtract(pieces, missed.get(line, ()), slack=SMALL) for line, pieces in one.pipe.items()}
        doubted = {line: subtract(pieces, kept[line], slack=SMALL) for line, pieces in one.pipe.items()}
        if (one.number == THERE or one.number in chosen) and any(doubted.values()):
            out += [replace(one, pipe=kept), replace(one, pipe=doubted, needs=(*one.needs, others))]
        else:
            out.append(one)
    return tuple(out)
