"""What the water does with a choice of pipe and of valves to be set: each is tried once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from ..errors import PlumblineError
from ..layout.model import Layout
from .change import Change, changed
from .choices import Choices
from .settings import settle, taps_of
from .valves import set_valve
from .water import Settled, Unmet, Wanted, safely

__all__ = ["Trial"]

Numbers = frozenset[int]
Names = frozenset[str]


class Trial:
    """Settles the water. Pipe is told by the numbers of its changes, valves by name; `left` is what is not asked any more, `tried` how many
    were solved."""

    def __init__(self, layout: Layout, choices: Choices, wanted: Wanted, tell: Callable[[str], None]) -> None:
        self.layout, self.choices, self.wanted, self.tell = layout, choices, wanted, tell
        self.left: tuple[Unmet, ...] = ()
        self.tried = 0
        self.known: dict[tuple[Numbers, Names], Settled] = {}
        self.warm: dict[str, float] = {}

    def settled(self, pipe: Numbers, taps: Names) -> Settled:
        """The water with a choice. What it does not feel is left as it is: the proof has it."""
        key = (pipe - self.choices.dry, taps)
        if key not in self.known:
            made = [self.choices.changes[n] for n in sorted(key[0])]
            words = "; ".join(change.words for change in made) or "the pipe as it is"
            self.tell(words + (f"; {len(taps)} valves set" if taps else ""))
            self.tried += 1
            self.known[key] = self.settle(made, taps)
        return self.known[key]

    def settle(self, made: Sequence[Change], taps: Names, *, thorough: bool = False) -> Settled:
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

    def lacking(self, pipe: Numbers, taps: Names) -> tuple[Unmet, ...]:
        """What is unmet with a choice of what is still asked."""
        return self.asked(self.settled(pipe, taps))

    def asked(self, got: Settled) -> tuple[Unmet, ...]:
        """What is unmet of what is still asked. Dead ends are the master's business."""
        return tuple(one for one in got.unmet if one.kind != "dead-leg" and not self.given_up(one))

    def given_up(self, one: Unmet) -> bool:
        """Whether something is not asked any more."""
        return (one.kind, one.place) in {(other.kind, other.place) for other in self.left}

    def give_up(self, lacking: Sequence[Unmet]) -> None:
        """Ask no more for what is lacking as it stands and cannot be had."""
        as_is = {(one.kind, one.place) for one in self.choices.offers.unmet}
        self.left = tuple(one for one in lacking if (one.kind, one.place) in as_is and one.kind != "dead-leg")
        self.wanted = replace(self.wanted, but=frozenset(one.place for one in self.left if one.kind == "margin"))
        self.known.clear()

    def opened_up(self, pipe: Numbers, taps: Names) -> Names:
        """The vessels whose valves stand further open than now, when all of some are set afresh."""
        got, valves = self.settled(pipe, taps), self.choices.offers.valves
        return frozenset(name for name in taps if got.set.get(name, 0.0) > valves[name].valve.part.opening + 0.01)

    def settings(self, made: Sequence[Change], taps: Names, got: Settled) -> list[Change]:
        """The valves as they were set, as changes to the file."""
        after = taps_of(changed(self.layout, made), got.flows) if taps and got.flows is not None else {}
        out = []
        for name, tap in self.choices.offers.valves.items():
            opening = got.openings.get(after[name].valve.key) if name in taps and name in after else None
            part = tap.valve.part
            if opening is not None and abs(opening - part.opening) > 1e-9:
                out.append(set_valve(self.layout, tap.valve.line, part.step, opening, self.choices.prices))
        return out
