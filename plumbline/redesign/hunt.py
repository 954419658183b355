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
from collections.abc import Callable, Collection, Iterator, Sequence

from ..check import CheckResult
from ..hydraulics.stretches import pipes_joined
from .cover import Cut, least
from .prices import Prices
from .sets import SAME_SHARE, Best, Sets
from .trial import Names, Numbers, ways_of
from .water import Unmet, Wanted

__all__ = ["MOST_TURNED", "Hunt"]

MOST_TURNED = 12
"""Where more valves than these may be set none is turned further than the water asks."""


class Hunt(Sets):
    """A search under way: whole sets, and the rounds of master and trial that ask for them."""

    def __init__(
        self, before: CheckResult, wanted: Wanted, cleanable: float, prices: Prices, tell: Callable[[str], None]
    ) -> None:
        super().__init__(before, wanted, cleanable, prices, tell)
        self.ways = ways_of(before)

    # ------------------------------------------------------------------ rounds

    def run(self, tries: int) -> None:
        """Rounds of master and trial until the best is proven, nothing more is possible, or the tries are used up."""
        choices, trial, start = self.choices, self.trial, self.trial.tried + self.proofs
        self.share = min(self.cleanable, choices.most(self.cuts)) if choices.cleaning else 0.0
        everything = frozenset(choices.taps.values())
        begun: set[Numbers] = set()
        while trial.tried + self.proofs - start < tries:
            answer = least(choices.problem(self.share, self.cuts))
            self.bound = math.inf if answer is None else answer.bound
            if answer is None or not self.cheaper(self.bound):
                return
            pipe = frozenset(choices.pipes) & answer.chosen
            taps = frozenset(name for n, name in choices.taps.items() if n in answer.chosen)
            lacking = trial.lacking(pipe, everything)
            if lacking:
                self.cuts += self.without(pipe - choices.dry, lacking)
            elif self.best is None and choices.taps and pipe not in begun:
                begun.add(pipe)
                self.first(pipe, everything)
            elif trial.lacking(pipe, taps):
                self.cuts += self.more_valves(pipe, taps, everything)
            else:
                self.complete(pipe, taps)

    def without(self, pipe: Numbers, lacking: Sequence[Unmet]) -> list[Cut]:
        """Something must be other than in a choice of pipe that does not do whatever the valves: where a vessel is short, some pipe on a way to it,
        since no other pipe brings it more; else pipe of the same system, where no valve is set in it."""
        cuts = []
        for one in lacking:
            lines, kinds = self.ways.get(one.place) if one.kind == "margin" else None, {"pipe"}
            if lines is None:
                lines, kinds = self.system(one.place, pipe), {"pipe", "new valve"}
            if lines is not None:
                changes = ((n, self.choices.changes[n]) for n in self.choices.pipes)
                bears = {n for n, change in changes if change.kind not in kinds or not lines.isdisjoint(change.lines)}
                cuts.append(self.other(pipe & bears, among=bears))
        return cuts or [self.other(pipe)]

    def system(self, place: str, pipe: Numbers) -> frozenset[str] | None:
        """The system that a line or vessel is in, which nothing in another is felt by; None where a valve is set in it, for which all are tried at once."""
        found = [some for some in self.systems if place in some]
        made = (self.choices.changes[n] for n in pipe)
        lines = {change.line for change in made if change.kind == "new valve"}
        lines |= {tap.valve.line for tap in self.choices.offers.valves.values()}
        return found[0] if len(found) == 1 and not found[0] & lines else None

    def first(self, pipe: Numbers, everything: Names) -> None:
        """Something that does, before anything better is looked for; then the same pipe with the fewest valves."""
        self.complete(pipe, everything)
        fewer = self.fewer_valves(pipe, everything) if self.best is not None else everything
        if fewer != everything:
            self.complete(pipe, fewer)

    def fewer_valves(self, pipe: Numbers, taps: Names) -> Names:
        """Valves of which none can be left as it stands with this choice of pipe, the others set for it."""
        for name in sorted(taps):
            if not self.trial.lacking(pipe, taps - {name}):
                taps -= {name}
        return taps

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

    # ------------------------------------------------------------------ other sizes beside the best set's

    def exchange(self) -> None:
        """Try the best set with one change of pipe in it left out, or another size, or another length, of the same line, until none is cheaper: in pipe that no
        round tried what is there may scour more. And its valves turned further than the water asks."""
        everything = frozenset(self.choices.taps.values())
        tried: set[Numbers] = set()
        last: Best | None = None
        while self.best is not last:
            last = self.best
            while (pipe := next((one for one in self.beside() if one not in tried), None)) is not None:
                tried.add(pipe)
                assert self.best is not None
                some = (one for one in (self.best.taps, everything) if not self.trial.lacking(pipe, one))
                taps = next(some, None)
                if taps is None:
                    continue
                made, settings = self.standing(pipe, taps, next(self.trial.settings(pipe, taps))[1])
                likely = self.choices.likely(made, settings, self.best.changes)
                answer = self.built(self.held(pipe, taps), made, likely.perhaps if likely else None)
                # With all valves set some may be spared.
                spare = sum(
                    self.choices.costs[n] for n, name in self.choices.taps.items() if name in taps - self.best.taps
                )
                if answer is not None and self.cheaper(answer.cost - spare):
                    self.complete(pipe, self.fewer_valves(pipe, taps) if spare else taps)
            self.turn()

    def turn(self) -> None:
        """Try the best set's pipe with its valves, and with all that may be set, as far open and as far shut as the water lets them: what is opened may scour
        more, and a rod pass."""
        best = self.best
        if best is None or len(self.choices.taps) > MOST_TURNED:
            return
        for taps in dict.fromkeys((best.taps, frozenset(self.choices.taps.values()))):
            if taps and not self.trial.lacking(best.pipe, taps):
                self.complete(best.pipe, taps, ("open", "shut"))

    def beside(self) -> Iterator[Numbers]:
        """Choices of pipe with one change of size in the best left out, or another, of the same pipe or as far along the line, that does not cost more by what all
        accesses do in the pipe that tees join to it."""
        best, choices, joined = self.best, self.choices, pipes_joined(self.layout)
        if best is None:
            return
        sized = [n for n in choices.pipes if choices.changes[n].kind == "pipe"]
        for n in sorted(best.pipe & {*sized}):
            now = choices.changes[n]
            yield best.pipe - {n}
            here = (one for one in best.changes if one.access and joined[one.line] == joined[now.line])
            saved = math.fsum(one.cost(self.prices.hour) for one in here)
            for other in sized:
                change, pipe = choices.changes[other], best.pipe - {n} | {other}
                alike = change.step == now.step or change.edits[0].texts == now.edits[0].texts
                if other not in best.pipe and change.line == now.line and alike:
                    clash = any(group <= pipe for group in choices.clashes)
                    if not clash and choices.costs[other] - choices.costs[n] < saved:
                        yield pipe

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
        # What only a whole check shows, as what runs over once in a day: in whatever choice it was the least.
        lacking = lacking or min(self.trial.late.values(), key=len, default=())
        yield from dict.fromkeys(one.words for one in lacking)
        if not lacking:
            most = self.choices.most(self.cuts)
            if most < self.share and f"{most:.0%}" != f"{self.share:.0%}":
                yield f"With the water right no more than {most:.0%} of the pipe can be cleaned, where {self.share:.0%} is asked, as far as was looked."
            else:
                yield "The water can be put right, and the pipe be cleaned, each by itself; no set was found that does both."
        asked = [
            one for one in self.choices.offers.unmet if one.kind == "dead-leg" and one.line in self.choices.offers.legs
        ]
        yield from (one.words for one in asked if not lacking)

    def so_far(self) -> str:
        """How much was tried."""
        return (
            f"{len(self.choices.changes)} changes were looked at, with {self.trial.tried} of their choices of pipe and valves solved and {self.proofs} of the "
            "whole sets checked, and no other was tried"
        )

    def largest(self) -> Numbers:
        """For each line the change that does most to it."""
        found: dict[str, tuple[int, float, int]] = {}
        for n in self.choices.pipes:
            change = self.choices.changes[n]
            if n not in self.choices.on_legs and n not in self.choices.bends and change.kind != "take out loop":
                rank = (change.step, change.money, n)
                found[change.line] = max(found.get(change.line, rank), rank)
        return frozenset(n for _, _, n in found.values())
