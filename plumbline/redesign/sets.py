"""Whole sets of changes: for a choice of pipe and valves the cheapest accesses, the set written, read and checked, and the best of them kept."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from ..check import CheckResult, check, flushes
from ..errors import PlumblineError
from ..findings import Finding
from ..layout import layout_of
from ..layout.model import Layout
from ..upkeep import Upkeep, look_after
from ..upkeep.carried import systems
from ..upkeep.intervals import Intervals, subtract
from .buildable import builds, shortage
from .change import Change, changed, clash
from .choices import Choices
from .clean import Pipe
from .cover import Answer, Cut, Provider, least
from .learned import Wanting
from .prices import Prices
from .settings import Goal
from .trial import Names, Numbers, Setting, Trial
from .water import Settled, Unmet, Wanted, unmet

__all__ = ["SAME_COST", "SAME_SHARE", "Best", "Sets"]

SAME_COST = 1e-6
SAME_SHARE = 1e-5
SMALL = 1e-6
INNER = 16
"""How often the accesses for one choice of pipe are thought over again, where they spoil each other."""
DRY = 3
"""How often, where it is what the accesses cost in head that leaves a vessel short."""
CROWDED = 40
"""How often accesses that there is no room for beside each other are told apart."""
PROOFS = 30
"""How many whole sets are checked before what is left in doubt stays so."""


@dataclass(frozen=True)
class Best:
    """A set that meets what is asked, with its check; its choice of `pipe`, by number, and the valves that are set, by name."""

    changes: tuple[Change, ...]
    result: CheckResult
    cost: float
    pipe: Numbers = frozenset()
    taps: Names = frozenset()


class Sets:
    """Whole sets of a search under way: the `best` so far, the `bound` that none can be below, and the `doubt`, what one left undecided may cost."""

    def __init__(
        self, before: CheckResult, wanted: Wanted, cleanable: float, prices: Prices, tell: Callable[[str], None]
    ) -> None:
        self.before, self.layout, self.prices, self.tell = before, before.layout, prices, tell
        self.choices = Choices(before, wanted, prices, cleaning=cleanable > 0.0, tell=tell)
        self.trial = Trial(self.layout, self.choices, wanted, tell)
        self.cleanable = self.share = cleanable
        self.best: Best | None = None
        self.bound, self.doubt = 0.0, math.inf
        self.proofs = 0
        self.cuts: list[Cut] = []
        self.crowded: list[Cut] = []
        self.short = shortage(self.layout)
        self.systems = [frozenset(name for kind, name in some if kind != "pump") for some in systems(before.layout)]

    def cheaper(self, cost: float) -> bool:
        """Whether a cost is below that of the best found."""
        return self.best is None or cost < self.best.cost - SAME_COST

    def complete(self, pipe: Numbers, taps: Names, goals: Sequence[Goal | None] = ("stands", None)) -> None:
        """The cheapest accesses for a choice of pipe and valves, with each setting of these that was found by some goals; the whole set checked."""
        # What lies beyond what the water asks the bound knows nothing of.
        least = self.bound if None in goals else 0.0
        for number, setting in enumerate(self.trial.settings(pipe, taps, goals)):
            if number and not (self.choices.cleaning and self.cheaper(least) and not self.trial.lacking(pipe, taps)):
                break
            self.opened(pipe, taps, setting)
        inside, outside = self.held(pipe, taps)
        factors = {n: -factor for cut in (inside, outside) for n, factor in cut.factors.items()}
        self.cuts.append(Cut(factors, 1.0 - inside.least))

    def opened(self, pipe: Numbers, taps: Names, setting: Setting) -> None:
        """The cheapest accesses for a choice of pipe and valves with one setting of these."""
        choices = self.choices
        made, settings = self.standing(pipe, taps, setting[1])
        fixed = self.held(pipe, taps)
        only = {n for n, name in choices.taps.items() if name in taps and setting[0] in ("open", "shut")}
        learned = choices.exact(made, settings, frozenset(only))
        # Most likely the accesses that are cheapest as far as is sure will do; then whatever may be cheaper.
        answer = self.built(fixed, made, learned.sure if learned else None)
        if answer is not None and self.cheaper(answer.cost):
            self.proof(answer, pipe, taps, setting)
        perhaps = learned.perhaps if learned else None
        dry = 0
        for _ in range(INNER):
            answer = self.built(fixed, made, perhaps)
            if answer is None or not self.cheaper(answer.bound) or self.trial.lacking(pipe, taps):
                break
            tight = self.trial.tight(pipe, taps)
            got = self.proof(answer, pipe, taps, setting)
            if got is True:
                break
            if self.trial.tight(pipe, taps) and not tight:
                continue  # the same once more, with the valves closed as far as they may be
            dry += got is False
            if dry == DRY or self.proofs >= PROOFS:
                self.doubt = min(self.doubt, max(self.bound, answer.bound))
                break
            if perhaps is not None and not isinstance(got, bool):
                choices.doubt(pipe, settings, answer.chosen, self.wanting(answer.chosen, pipe, taps, got))
                learned = choices.exact(made, settings)
                fewer = learned.perhaps if learned else None
                if fewer != perhaps:
                    perhaps = fewer
                    continue
            # These accesses together do not do; any others may.
            factors = {n: -1.0 if n in answer.chosen else 1.0 for n in choices.openings}
            fixed.append(Cut(factors, 1.0 - sum(1 for n in choices.openings if n in answer.chosen)))
        else:
            self.doubt = min(self.doubt, max(self.bound, answer.bound if answer is not None else 0.0))

    def standing(self, pipe: Numbers, taps: Names, settled: Settled) -> tuple[tuple[Change, ...], tuple[Change, ...]]:
        """The changes of a choice of pipe, and its valves as they are set."""
        made = tuple(self.choices.changes[n] for n in sorted(pipe))
        return made, tuple(change for change in self.trial.written(made, taps, settled) if change not in made)

    def held(self, pipe: Numbers, taps: Names) -> list[Cut]:
        """What holds the master to a choice of pipe and valves: that all of it is made, and that nothing else is."""
        inside = pipe | {n for n, name in self.choices.taps.items() if name in taps}
        outside = {n for n in (*self.choices.pipes, *self.choices.taps) if n not in inside}
        return [Cut(dict.fromkeys(inside, 1.0), float(len(inside))), Cut(dict.fromkeys(outside, -1.0), 0.0)]

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

    def wanting(self, chosen: Numbers, pipe: Numbers, taps: Names, missed: Pipe) -> Wanting:
        """Pipe that was `missed`, and the accesses that could give a flush the little that it lacked there: not
        yet made, in the same system, and in pipe that a pump pushes through
        where it is such pipe that was not scoured, since what falls freely leaves its flow alone."""
        near = frozenset[str]().union(*(some for some in self.systems if not some.isdisjoint(missed)))
        openings = ((n, self.choices.changes[n]) for n in self.choices.openings)
        places = [(n, line, change.step) for n, change in openings for line in change.lines if line in near]
        there = {(line, step) for n, line, step in places if n in chosen}
        falls = {stretch.line for stretch in self.layout.stretches if self.before.flows.stretches[stretch.id].gravity}
        pushed = not falls & missed.keys()
        others = (n for n, line, step in places if (line, step) not in there and not (pushed and line in falls))
        company = frozenset(others)
        if company and not self.helps(chosen, pipe, taps, company, missed):
            company = frozenset()
        return Wanting(self.choices.bent.along(missed, pipe), near, company)

    def helps(self, chosen: Numbers, pipe: Numbers, taps: Names, company: Numbers, missed: Pipe) -> bool:
        """Whether what is `missed` is flushed by those chosen, or there, with as much of the company as goes
        together: each access more costs the usual flow a little,
        so that with less of it nothing is either. True where that cannot be tried."""
        changes, numbers = self.choices.changes, sorted({*pipe, *(n for n in self.choices.openings if n in chosen)})
        whole = [changes[n] for n in numbers]
        own = {name for change in whole for name in change.accesses} | {one.id for one in self.layout.accesses}
        for other in (changes[n] for n in sorted(company)):
            if not any(clash(other, one) for one in whole):
                whole.append(other)
        self.tell(f"{len(whole)} changes for what a flush misses")
        got = self.trial.settle(whole, taps, tight=self.trial.tight(pipe, taps))
        if got.flows is None:
            return True
        try:
            after = changed(self.layout, self.trial.written(whole, taps, got))
            flushed = look_after(after, got.flows, flushes(after, got.flows)).flushes
        except PlumblineError:
            return True
        # Drain valves are named by line and step.
        done = [scoured for name, scoured in flushed.items() if name in own or ":" in name]
        left = {line: [piece for one in done for piece in one.get(line, ())] for line in missed}
        return any(subtract(pieces, subtract(pieces, left[line]), slack=SMALL) for line, pieces in missed.items())

    def proof(self, answer: Answer, pipe: Numbers, taps: Names, setting: Setting) -> bool | Pipe:
        """Write, read and check a whole set, its valves as they were set where they may stand so; keep it where it meets what is asked. Where only
        cleaning does not, give the pipe that it misses."""
        self.proofs += 1
        made = [self.choices.changes[n] for n in sorted(pipe)]
        chosen = (self.choices.changes[n] for n in self.choices.openings if n in answer.chosen)
        whole = [*made, *(self.choices.priced(change, made) for change in chosen)]
        self.tell(f"{len(whole)} changes together")
        goal, settled = setting
        got = self.trial.settle(whole, taps, tight=self.trial.tight(pipe, taps), first=settled.set, goal=goal)
        flows = got.flows
        if flows is None or self.trial.asked(got.unmet):
            return False
        missed: Pipe = {}
        # With a valve less first: but one that the water can do without may be set for what is to be cleaned.
        less = self.trial.fewer(whole, got)
        for final in (less,) if less is got else (less, got):
            flows = final.flows or flows
            changes = self.trial.written(whole, taps, final)
            try:
                after = changed(self.layout, changes)
                # The whole check takes several times as long.
                upkeep = look_after(after, flows, flushes(after, flows))
                if self.clean(upkeep, upkeep.findings):
                    # Read whole, so that what is found in it is told with its place in the file.
                    result = check(layout_of(after.text, after.path))
                    break
            except PlumblineError:
                return False
            missed = _missed(after, upkeep)
        else:
            return missed
        if not builds(after, self.short):
            return False
        if late := self.unmet(result):
            self.trial.late[self.trial.key(pipe, taps)] = late
            return False
        if not self.clean(result.upkeep, result.findings):
            return _missed(after, result.upkeep)
        cost = math.fsum(change.cost(self.prices.hour) for change in changes)
        if self.cheaper(cost):
            turned = {(change.line, change.step) for change in changes if change.kind == "set valve"}
            taps = frozenset(n for n, tap in self.choices.offers.valves.items() if tap.valve.key in turned)
            self.best = Best(changes, result, cost, pipe, taps)
        return True

    def good(self, result: CheckResult) -> bool:
        """Whether a check finds all that is still asked."""
        return not self.unmet(result) and self.clean(result.upkeep, result.findings)

    def unmet(self, result: CheckResult) -> tuple[Unmet, ...]:
        """What a check finds unmet of what is still asked, cleaning left aside."""
        fails = [finding for finding in result.findings if finding.level == "fail"]
        some = unmet(result.layout, result.flows, fails, self.trial.wanted)
        return tuple(
            one
            for one in some
            if not self.trial.given_up(one) and (one.kind != "dead-leg" or one.line in self.choices.offers.legs)
        )

    def clean(self, upkeep: Upkeep, findings: Iterable[Finding]) -> bool:
        """Whether as much can be cleaned as is asked, and no low point, hump or back-fall is found that can be cured."""
        traps = {(one.kind, one.line) for one in findings if one.level == "warn"} & self.choices.traps.keys()
        return not traps and upkeep.cleanable_fraction >= self.share - SAME_SHARE


def _missed(layout: Layout, upkeep: Upkeep) -> dict[str, Intervals]:
    left = {
        name: subtract([(0.0, line.length)], upkeep.cleanable.get(name, ()), slack=SMALL)
        for name, line in layout.lines.items()
    }
    return {name: pieces for name, pieces in left.items() if pieces}
