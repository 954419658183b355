"""Trials of the water: each choice of pipe and valves settled once, and what is unmet with it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from ..check import CheckResult
from ..errors import PlumblineError
from ..hydraulics import find
from ..layout.model import Layout
from .change import Change, changed
from .choices import Choices
from .settings import Goal, settle, taps_of
from .water import Settled, Unmet, Wanted, judged, safely

__all__ = ["Names", "Numbers", "Setting", "Trial", "ways_of"]

Numbers = frozenset[int]
Names = frozenset[str]
Setting = tuple[Goal | None, Settled]
"""Valves set, and what they were moved towards."""


class Trial:
    """Settles the water. Pipe is told by the numbers of its changes, valves by name; `left` is what is not asked any more, `tried` how many
    were solved, and `late` what only a whole check showed to be unmet with a choice, as what runs over once."""

    def __init__(self, layout: Layout, choices: Choices, wanted: Wanted, tell: Callable[[str], None]) -> None:
        self.layout, self.choices, self.wanted, self.tell = layout, choices, wanted, tell
        self.left: tuple[Unmet, ...] = ()
        self.tried = 0
        self.known: dict[tuple[Numbers, Names, bool], Settled] = {}
        self.late: dict[tuple[Numbers, Names, bool], tuple[Unmet, ...]] = {}
        self.moved: dict[tuple[tuple[Numbers, Names, bool], Goal | None], Settled] = {}
        self.warm: dict[str, float] = {}

    @cached_property
    def as_is(self) -> find.Settled | None:
        """The water as it stands, which others are found from."""
        return safely(self.layout)

    def settled(self, pipe: Numbers, taps: Names) -> Settled:
        """The water with a choice. What it does not feel is left as it is: the proof has it."""
        key = self.key(pipe, taps)
        if key not in self.known:
            made = [self.choices.changes[n] for n in sorted(key[0])]
            words = "; ".join(change.words for change in made) or "the pipe as it is"
            self.tell(words + (f"; {len(taps)} valves set" if taps else ""))
            self.tried += 1
            self.known[key] = self.settle(made, taps, tight=self.tight(pipe, taps))
        return self.known[key]

    def settings(
        self, pipe: Numbers, taps: Names, goals: Sequence[Goal | None] = ("stands", None)
    ) -> Iterator[Setting]:
        """The settings of the valves of a choice that does, moved towards some goals: those that are no vessel's own turned no further than they must be, which comes
        first, and as they were found; or all as far open, or shut, as the water lets them."""
        found, key = self.settled(pipe, taps), self.key(pipe, taps)
        made = [self.choices.changes[n] for n in sorted(key[0])]
        told: list[Mapping[str, float]] = []
        for goal in goals if found.set else (None,):
            if (key, goal) not in self.moved:
                same = goal is None or (goal == "stands" and not found.turned)
                self.moved[key, goal] = (
                    found if same else self.settle(made, taps, tight=key[2], first=found.set, goal=goal)
                )
            got = self.moved[key, goal]
            if got.set not in told:
                told.append(got.set)
                yield goal, got

    def tight(self, pipe: Numbers, taps: Names) -> bool:
        """Whether valves are to be closed as far as they may be: where a whole check found amiss, with these set as far open as may be, what steady
        running does not show."""
        return bool(taps) and (pipe - self.choices.dry, taps, False) in self.late

    def key(self, pipe: Numbers, taps: Names) -> tuple[Numbers, Names, bool]:
        """What a choice is known by."""
        return pipe - self.choices.dry, taps, self.tight(pipe, taps)

    def settle(
        self,
        made: Sequence[Change],
        taps: Names,
        *,
        thorough: bool = False,
        tight: bool = False,
        first: Mapping[str, float] | None = None,
        goal: Goal | None = None,
    ) -> Settled:
        """Set valves in a changed layout, and judge the water; the others are the same as in `settings.settle`."""
        try:
            layout = changed(self.layout, made)
        except PlumblineError as error:
            return Settled({}, None, (Unmet("no layout", None, "", 1.0, str(error)),))
        new = {line for change in made if change.kind == "new valve" for line in change.lines}
        near = safely(layout, self.as_is) if taps or new else None
        valves = {} if near is None else taps_of(layout, near.flows)
        free = {name: tap for name, tap in valves.items() if name in taps or tap.valve.line in new}
        return settle(
            layout, free, self.wanted, self.warm, near=near, thorough=thorough, tight=tight, first=first, goal=goal
        )

    def fewer(self, whole: Sequence[Change], got: Settled) -> Settled:
        """The water of a whole set with each valve left as it stands that may be, the others being set as they were: with accesses one less may do."""
        if got.flows is None:
            return got
        layout = changed(self.layout, whole)
        found = taps_of(layout, got.flows)
        for tap in (found[name] for name in self.choices.offers.valves if name in found):
            kept = {key: opening for key, opening in got.openings.items() if key not in tap.at(0.0)}
            less = got if len(kept) == len(got.openings) else judged(layout, kept, self.wanted)
            if less is not got and less.flows is not None and not self.asked(less.unmet):
                got = less
        return got

    def lacking(self, pipe: Numbers, taps: Names) -> tuple[Unmet, ...]:
        """What is unmet with a choice of what is still asked."""
        late = self.late.get(self.key(pipe, taps), ())
        return self.asked((*self.settled(pipe, taps).unmet, *late))

    def asked(self, some: Iterable[Unmet]) -> tuple[Unmet, ...]:
        """What is unmet of what is still asked. Dead ends are the master's business."""
        return tuple(one for one in some if one.kind != "dead-leg" and not self.given_up(one))

    def given_up(self, one: Unmet) -> bool:
        """Whether something is not asked any more."""
        return (one.kind, one.place) in {(other.kind, other.place) for other in self.left}

    def give_up(self, lacking: Iterable[Unmet]) -> bool:
        """Ask no more for what is lacking as it stands and cannot be had; tell whether there is any such."""
        as_is = {(one.kind, one.place) for one in self.choices.offers.unmet}
        more = {one.words: one for one in self.asked(lacking) if (one.kind, one.place) in as_is}
        self.left = (*self.left, *more.values())
        self.wanted = replace(self.wanted, but=frozenset(one.place for one in self.left if one.kind == "margin"))
        self.known.clear()
        self.moved.clear()
        return bool(more)

    def opened_up(self, pipe: Numbers, taps: Names) -> Names:
        """The vessels whose valves stand further open than now, when all of some are set afresh."""
        got, valves = self.settled(pipe, taps), self.choices.offers.valves
        return frozenset(name for name in taps if got.set.get(name, 0.0) > valves[name].valve.part.opening + 0.01)

    def written(self, whole: Sequence[Change], taps: Names, got: Settled) -> tuple[Change, ...]:
        """A whole set, with new valves and those set at the openings found."""
        return (*_opened(whole, got), *self.valves(whole, taps, got))

    def valves(self, made: Sequence[Change], taps: Names, got: Settled) -> list[Change]:
        """The valves as they were set, as changes to the file."""
        after = taps_of(changed(self.layout, made), got.flows) if taps and got.flows is not None else {}
        out = []
        for name, tap in self.choices.offers.valves.items():
            opening = got.openings.get(after[name].valve.key) if name in taps and name in after else None
            if opening is not None and abs(opening - tap.valve.part.opening) > 1e-9:
                out.append(self.choices.set(tap, opening))
        return out


def _opened(made: Sequence[Change], got: Settled) -> list[Change]:
    """The changes, with new valves at the openings found."""
    lines = {line: opening for (line, _), opening in got.openings.items()}
    out = []
    for change in made:
        opening = lines.get(change.line) if change.kind == "new valve" else None
        if opening is not None:
            texts = (f"ball valve: {{opening: {100.0 * opening:g} %}}",)
            edits = tuple(replace(edit, texts=texts) for edit in change.edits)
            change = replace(change, edits=edits, words=f"{change.words}, {opening:.0%} open")  # noqa: PLW2901
        out.append(change)
    return out


def ways_of(before: CheckResult) -> dict[str, frozenset[str]]:
    """The lines on the ways that water takes to each vessel, those to the vessels that it comes from included; none told of a vessel to which
    none comes."""
    direct: dict[str, set[str]] = {}
    sources: dict[str, set[str]] = {}
    for route in before.flows.routes:
        if route.vessel is not None:
            direct.setdefault(route.vessel, set()).update(part.line for part in route.losses)
            sources.setdefault(route.vessel, set()).add(route.source)
    found = before.flows.vessels
    known = {name for name in before.layout.vessels if name in direct or name not in found or not found[name].balanced}
    out = {}
    for name in direct:
        seen, waiting = {name}, [name]
        while waiting:
            more = sources.get(waiting.pop(), set()) & before.layout.vessels.keys() - seen
            seen |= more
            waiting += more
        if seen <= known:
            out[name] = frozenset().union(*(direct.get(vessel, set()) for vessel in seen))
    return out
