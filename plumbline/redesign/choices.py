"""All changes that a search may choose from, numbered, and what is known of each: the master program is made of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace

from ..check import CheckResult
from ..errors import PlumblineError
from ..hydraulics.drain_findings import climbs
from ..hydraulics.flows import Flows
from ..hydraulics.stretches import pipes_joined
from ..layout.model import Layout
from ..layout.traps import trapped
from ..upkeep.intervals import subtract
from ..upkeep.reach import stopping_kinds
from ..upkeep.track import stops
from .accesses import accesses
from .bends import BENDS, WALKS, softer
from .bent import BentLines
from .buildable import can_be_built
from .change import Change, changed, clash
from .clean import Cleaned, Pipe, Rodded, batches, effects, merged, rodded_with
from .cover import THERE, Atom, Cut, Problem, Provider, atoms, most
from .learned import Learned, Wanting
from .offers import TRAPS, offers
from .place import part_at
from .prices import Prices
from .rows import in_rows
from .settings import Tap
from .shut_offs import shut_offs
from .sizes import priced_in
from .valves import set_valve
from .water import Unmet, Wanted, safely, unmet_of

__all__ = ["Choices"]


class Choices:
    """The changes, in this order: `pipes` (of pipe, dead ends and new valves), `taps` (valves to be set, by number the name of each),
    `openings` (accesses, and valves before them). `on_legs` are those of the pipes that take dead ends away,
    `bends` those that take
    corners out, `bent` the lines in which they do. The water does not feel those that are `dry`, such as bends of what falls by itself."""

    def __init__(
        self, before: CheckResult, wanted: Wanted, prices: Prices, *, cleaning: bool, tell: Callable[[str], None]
    ) -> None:
        self.layout = layout = before.layout
        self.prices = prices
        self.before = before
        self.cleaning = cleaning
        self.tell = tell
        self.offers = offers(before, wanted, prices, brushes=cleaning)
        ways_in = (*accesses(layout, prices), *shut_offs(layout, prices)) if cleaning else ()
        openings = can_be_built(layout, in_rows(layout, ways_in), batches)
        offered = (*self.offers.changes, *in_rows(layout, self.softened(openings) if cleaning else ()))
        pipes = can_be_built(layout, offered, lambda some: [[one] for one in some])
        valves = [self.set(tap, tap.valve.part.opening) for tap in self.offers.valves.values()]
        self.changes: tuple[Change, ...] = (
            *pipes,
            *valves,
            *openings,
        )
        self.costs = [change.cost(prices.hour) for change in self.changes]
        self.number = {change: n for n, change in enumerate(self.changes)}
        self.pipes = tuple(range(len(pipes)))
        self.taps = {len(pipes) + n: name for n, name in enumerate(self.offers.valves)}
        self.openings = tuple(range(len(pipes) + len(valves), len(self.changes)))
        self.legs = [
            frozenset(self.number[one] for one in some if one in self.number) for some in self.offers.legs.values()
        ]
        self.on_legs: frozenset[int] = frozenset().union(*self.legs)
        self.bends = {n: self.changes[n] for n in self.pipes if self.changes[n].kind in WALKS}
        pushed = {stretch.line for stretch in layout.stretches if not before.flows.stretches[stretch.id].gravity}
        self.soft = frozenset(n for n, change in self.bends.items() if change.kind == "two 45s")
        self.dry = (
            self.on_legs
            | self.soft
            | {n for n, change in self.bends.items() if change.kind in BENDS and change.line not in pushed}
        )
        loops = [n for n in self.pipes if self.changes[n].kind == "take out loop"]
        self.access_at = {access.id: (access.line, access.at) for access in layout.accesses}
        self.drops = {n: pipe for n in sorted({*self.on_legs, *loops}) if (pipe := self.takes_away(self.changes[n]))}
        self.clashes = clashes(self.changes)
        self.bent = BentLines(layout, self.bends)
        self.together = [
            (frozenset({a, p}), more)
            for p in self.pipes
            for a in self.openings
            if (new := priced_in(self.changes[a], self.changes[p], prices)) is not None
            and (more := new.cost(prices.hour) - self.costs[a]) > 0.0
        ]
        self.traps, self.uncured = self.trap_cures() if cleaning else ({}, ())
        groups = (*self.legs, *self.traps.values())
        self.cures = [Cut(dict.fromkeys(group, 1.0), 1.0) for group in groups if group]
        self.taste = [1.0 + self.oddness(change) for change in self.changes]
        self.learned: list[Learned] = []
        self.flushes: dict[tuple[frozenset[int], frozenset[Change]], dict[tuple[str, int], tuple[Pipe, Pipe]]] = {}
        self.rods: dict[Hashable, Rodded] = {}
        self.doubts: list[tuple[tuple[frozenset[int], frozenset[Change]], frozenset[int], Wanting]] = []
        self.behind: dict[str, tuple[tuple[int, Pipe], ...]] = {}
        self._atoms: tuple[Atom, ...] | None = None

    def set(self, tap: Tap, opening: float) -> Change:
        """A valve set to an opening, 0 shut to 1 full open."""
        (change,) = in_rows(
            self.layout, [set_valve(self.layout, tap.valve.line, tap.valve.part.step, opening, self.prices)]
        )
        return change

    def begin(self) -> None:
        """Learn what each access cleans with the pipe as it is, and with pipe that no brush fits laid anew in the least size that one does."""
        if self.cleaning:
            self.learn((), self.before.flows)
            first = (some[0] for some in self.offers.bores.values() if some)
            anew = [change for change in dict.fromkeys(first) if change in self.number]
            for some in dict.fromkeys(
                [(), *self.bent.rounds(self.clashes, self.soft), *self.bent.rounds(self.clashes)]
            ):
                bent = [self.changes[n] for n in some]
                made = (*(one for one in anew if not any(clash(one, other) for other in bent)), *bent)
                # What cannot be made together, as a line led into one that is hung anew, is told apart where it is chosen.
                with suppress(PlumblineError):
                    if made:
                        self.learn(made, None)

    def softened(self, openings: Sequence[Change]) -> Iterator[Change]:
        """Two 45s for elbows of lines with pipe that no opening lets a rod into: anywhere else a union does as much for less."""
        clean = [*self.before.upkeep.cleanable.items()]
        clean += [item for pipe in rodded_with(self.layout, openings, ())[0].values() for item in pipe.items()]
        left = {
            name
            for name, line in self.layout.lines.items()
            if name not in self.offers.bores
            and subtract(
                [(0.0, line.length)], [piece for one, some in clean if one == name for piece in some], slack=1e-6
            )
        }
        return (change for change in softer(self.layout, self.prices) if change.line in left)

    def trap_cures(self) -> tuple[dict[tuple[str, str], frozenset[int]], tuple[Unmet, ...]]:
        """For each low point, hump and back-fall of which the check warns the changes that cure it alone, by kind and line; and those that none
        cures."""
        cures: dict[tuple[str, str], frozenset[int]] = {}
        uncured, joined = [], pipes_joined(self.layout)
        for one in self.before.findings:
            if one.kind not in TRAPS or one.level != "warn" or one.line is None:
                continue
            # What is hung anew, or loses a rise, lets the lines that join it run empty too.
            near = {name for name, number in joined.items() if number == joined[one.line]}
            some = [n for n in (*self.pipes, *self.openings) if one.line in self.changes[n].lines]
            some += [n for n in self.bends if n not in some and near.intersection(self.changes[n].lines)]
            good = frozenset(
                n for n in some if not self.deep(changed(self.layout, [self.changes[n]]), one.kind, one.line)
            )
            if good:
                cures[one.kind, one.line] = good
            else:
                uncured.append(unmet_of(one))
        return cures, tuple(uncured)

    def deep(self, layout: Layout, kind: str, line: str) -> int:
        """How many low points or humps of which the check would warn, or runs that climb as the water goes, a line has once it is changed."""
        if kind == "back-fall":
            flow = self.before.flows.ends[f"{line}.from"].flow
            return sum(climbs(part, flow) for part in layout.lines[line].parts)
        limit = layout.limits["low point depth" if kind == "low-point" else "hump height"]
        return sum(trap.line == line and trap.depth > limit for trap in trapped(layout, air=kind == "hump"))

    def learn(
        self,
        made: tuple[Change, ...],
        flows: Flows | None,
        settings: tuple[Change, ...] = (),
        *,
        only: frozenset[int] = frozenset(),
        scoured: dict[tuple[str, int], tuple[Pipe, Pipe]] | None = None,
    ) -> Learned:
        """Find what accesses clean with some changes made and valves set, by rods alone where no flows are given. Where it is said what each new one
        `scoured` when it was opened in other pipe, that is taken and not kept."""
        numbers = frozenset(self.number[change] for change in made)
        some = [self.changes[n] for n in (*self.openings, *sorted(self.on_legs - numbers))]
        before, found, jointly = effects(
            self.layout,
            flows,
            some,
            made=_standing(made, settings),
            flush=scoured or (None if flows is None else self.scoured(numbers, settings)),
            rods=self.rods,
            tell=self.tell,
        )
        before, found, jointly = self.bent.as_was(numbers, before, found, jointly)
        # An access that a choice of pipe brings along, such as a stub's cap, is there once that is chosen.
        own = {name: self.number[change] for change in made for name in change.accesses}
        at = {name: line for name, (line, _) in self.access_at.items()}
        losses: dict[str, list[tuple[int, Pipe]]] = {}
        for change, effect in found.items():
            for name, pipe in effect.losses.items():
                losses.setdefault(name, []).append((self.number[change], pipe))
        if not settings and (flows is None or not made):
            self.past_valves(some, made)
        set_already = {(change.line, change.step) for change in settings}
        shut = {
            name: tuple(
                (n, pipe) for n, pipe in lost if (self.changes[n].line, self.changes[n].step) not in set_already
            )
            for name, lost in self.behind.items()
        }
        rows: list[tuple[list[Provider], Cleaned, bool]] = [([], before[0], False), ([], before[1], True)]
        for out, cleaned, perhaps in rows:
            some_at: list[tuple[Provider, tuple[str, float] | None]] = []
            there: list[tuple[str, Pipe, tuple[frozenset[int], ...]]] = [
                (name, pipe, ()) for name, pipe in cleaned.items()
            ]
            for joint in jointly:
                needs = tuple(frozenset({self.number[change]}) for change in joint.needs)
                pipe = joint.perhaps if perhaps else joint.gains
                if isinstance(joint.access, str):
                    there.append((joint.access, pipe, needs))
                else:
                    one = Provider(self.number[joint.access], pipe, needs)
                    some_at.append((one, self.place(joint.access)))
            for name, pipe, needs in there:
                lost = (
                    *losses.get(name, ()),
                    *((n, pipe) for n, gone in self.drops.items() if at.get(name) in gone),
                    *shut.get(name, ()),
                )
                some_at.append((Provider(own.get(name, THERE), pipe, needs, lost), self.access_at.get(name)))
            for change, effect in found.items():
                pipe = effect.perhaps if perhaps else effect.gains
                lost = tuple(one for name in change.accesses for one in shut.get(name, ()))
                one = Provider(self.number[change], pipe, (), lost)
                some_at.append((one, self.place(change)))
            out.extend(piece for one, place in some_at for piece in self.bent.beyond(one, place, numbers))
        found_out = Learned(numbers, flows is not None, tuple(rows[0][0]), tuple(rows[1][0]), frozenset(settings), only)
        for key, chosen, wanting in self.doubts:
            if self.pipework(numbers, settings, wanting.near) == key:
                found_out = found_out.less(chosen, wanting)
        if scoured is None:
            self.learned.append(found_out)
            self._atoms = None
        return found_out

    def scoured(self, numbers: frozenset[int], settings: Sequence[Change]) -> dict[tuple[str, int], tuple[Pipe, Pipe]]:
        """What new openings are known to scour with a choice of pipe and valves set: with others set, or where what the water does not feel is other, that is so in
        pipework that none of it stands in."""
        key = numbers, frozenset(settings)
        found = self.flushes.get(key)
        if found is None:
            found, joined = {}, pipes_joined(self.layout)
            for (made, set_too), some in self.flushes.items():
                if made - self.dry == numbers - self.dry and bool(set_too) == bool(settings):
                    other = [self.changes[n] for n in made ^ numbers] + [*(settings if set_too != key[1] else ())]
                    near = {joined[line] for change in other for line in change.lines}
                    found |= {place: pipes for place, pipes in some.items() if joined[place[0]] not in near}
            self.flushes[key] = found
        return found

    def doubt(self, pipe: frozenset[int], settings: Iterable[Change], chosen: frozenset[int], wanting: Wanting) -> None:
        """Note what was found wanting with a choice of pipe and valves and the accesses `chosen`: so it is with
        all that are the same near it."""
        key = self.pipework(pipe, settings, wanting.near)
        self.doubts.append((key, chosen, wanting))
        self.learned = [
            one if self.pipework(one.made, one.settings, wanting.near) != key else one.less(chosen, wanting)
            for one in self.learned
        ]
        self._atoms = None

    def pipework(
        self, made: Iterable[int], settings: Iterable[Change], near: frozenset[str]
    ) -> tuple[frozenset[int], frozenset[Change]]:
        """A choice of pipe, by number, and how valves are set, as far as they are in some lines."""
        pipe = frozenset(n for n in made if not near.isdisjoint(self.changes[n].lines))
        return pipe, frozenset(one for one in settings if one.line in near)

    def place(self, change: Change) -> tuple[str, float]:
        """Where a change is made: its line, and how far along it [m]."""
        line = self.layout.lines[change.line]
        first = next((part.at for part in line.parts if part.step >= change.step), line.length)
        return change.line, first + (change.edits[0].at if change.edits[0].op == "split" else 0.0)

    def past_valves(self, some: Sequence[Change], made: tuple[Change, ...]) -> None:
        """Find the pipe that rods reach through valves that stand full open, by access, with the number that sets the valve: with that it is
        lost."""
        joined = pipes_joined(self.layout)
        near = {joined[line] for change in made for line in change.lines}
        taps = {
            n: tap
            for n, name in self.taps.items()
            for tap in [self.offers.valves[name]]
            if not stops(tap.valve.part, stopping_kinds()) and (not made or joined[tap.valve.line] in near)
        }
        if not taps:
            return
        beside = {joined[tap.valve.line] for tap in taps.values()}
        some = [change for change in some if any(joined[line] in beside for line in change.lines)]
        usual, *found = rodded_with(self.layout, some, made, [{}, *(tap.at(0.5) for tap in taps.values())])
        for n, rods in zip(taps, found, strict=True):
            for name, gone in _beyond(usual, rods).items():
                self.behind[name] = (*self.behind.get(name, ()), (n, gone))

    def priced(self, change: Change, made: Iterable[Change]) -> Change:
        """A change with the price that it has in the pipe that is there once others are `made`."""
        return next((new for one in made if (new := priced_in(change, one, self.prices)) is not None), change)

    def exact(
        self, made: tuple[Change, ...], settings: tuple[Change, ...] = (), only: frozenset[int] = frozenset()
    ) -> Learned | None:
        """Learn what accesses clean with a choice of pipe and valves set, and what others may where `only` these are chosen."""
        if not self.cleaning:
            return None
        numbers = frozenset(self.number[change] for change in made)
        for one in self.learned:
            if one.made == numbers and one.wet and one.settings == frozenset(settings):
                return one
        return self.learn(made, self.flows_with(made, settings), settings, only=only)

    def likely(
        self, made: tuple[Change, ...], settings: tuple[Change, ...], openings: Iterable[Change]
    ) -> Learned | None:
        """The same in pipe that was not tried, of what is there and of some `openings` alone; any other new one is taken to scour what it did in any pipe
        that was."""
        if not self.cleaning:
            return None
        scoured: dict[tuple[str, int], tuple[Pipe, Pipe]] = {}
        for place, (sure, perhaps) in (one for found in self.flushes.values() for one in found.items()):
            before = scoured.get(place, ({}, {}))
            scoured[place] = merged(before[0], sure), merged(before[1], perhaps)
        for one in openings:
            scoured.pop((one.line, one.step), None)
        return self.learn(made, self.flows_with(made, settings), settings, scoured=scoured)

    def flows_with(self, made: Sequence[Change], settings: Sequence[Change]) -> Flows | None:
        """The water with changes made and valves set; None where none settles."""
        water = safely(changed(self.layout, _standing(made, settings)))
        return None if water is None else water.flows

    def atoms(self, just: Sequence[Provider] | None = None) -> tuple[Atom, ...]:
        """All pipe, cut where what cleans it changes: `just` as it was learned with one choice of pipe; or as it may be with any, so that the
        master asks for no more than it must. What was learned with some pipe is then taken to hold with any; but in lines where no brush fits
        the pipe as it is, only if they are laid anew."""
        lengths = {name: line.length for name, line in self.layout.lines.items()} if self.cleaning else {}
        drops = [*self.drops.items(), *self.bent.gone.items()]
        if just is not None:
            return atoms(lengths, just, drops)
        if self._atoms is None:
            self._atoms = atoms(lengths, [part for one in self.learned for part in self.apart(one)], drops)
        return self._atoms

    def apart(self, learned: Learned) -> Iterator[Provider]:
        """What may be cleaned, with lines that were laid anew apart, each with the changes that lay it."""
        laid = (self.changes[n] for n in learned.made if self.changes[n].kind == "pipe")
        anew = {line for change in laid for line in change.lines} & self.offers.bores.keys()
        more = tuple(frozenset({n}) for n in sorted(learned.only))
        for one in (replace(provider, needs=(*provider.needs, *more)) for provider in learned.perhaps):
            usual = {line: pieces for line, pieces in one.pipe.items() if line not in anew}
            yield Provider(one.number, usual, one.needs, one.lost if not learned.made else self.dropped(one.lost))
            for line in sorted(anew & one.pipe.keys()):
                any_of = frozenset(self.number[change] for change in self.offers.bores[line] if change in self.number)
                yield Provider(one.number, {line: one.pipe[line]}, (*one.needs, any_of), self.dropped(one.lost))

    def dropped(self, lost: Sequence[tuple[int, Pipe]]) -> tuple[tuple[int, Pipe], ...]:
        """Of what is lost, that which goes with pipe that is taken away, or with a valve that is set."""
        return tuple((n, pipe) for n, pipe in lost if n in self.drops or n in self.taps)

    def most(self, cuts: Sequence[Cut] = ()) -> float:
        """The share of pipe that can be cleaned at most, with whatever changes the `cuts` leave."""
        chosen = most(Problem(self.costs, self.atoms(), 1.0, None, self.clashes, [*self.cures, *cuts]))
        return 1.0 if chosen is None or chosen > 1.0 - 1e-7 else chosen - 1e-9

    def problem(
        self, share: float, cuts: Sequence[Cut], just: Sequence[Provider] | None = None, *, tasteful: bool = False
    ) -> Problem:
        """The master as it stands; or `just` with what was learned with one choice of pipe."""
        pipe = self.atoms(just) if share > 0.0 else ()
        return Problem(
            self.costs, pipe, share, self.taste if tasteful else None, self.clashes, [*self.cures, *cuts], self.together
        )

    def oddness(self, change: Change) -> float:
        """A union near a run's end is as good as in its middle, but looks odd; under the water of its line's vessels it floods what is under it."""
        if change.kind != "union":
            return 0.0
        line = self.layout.lines[change.line]
        run, at = part_at(line, change.step), change.edits[0].at
        pumps = (self.layout.pumps.get(end.name or "") for end in (line.start, line.end) if end.kind == "pump")
        names = {end.name for end in (line.start, line.end)} | {pump.vessel for pump in pumps if pump is not None}
        levels = [vessel.level for name, vessel in self.layout.vessels.items() if name in names]
        under = run.start[2] + at * run.heading_in[2] < max(levels, default=-math.inf)
        return 0.01 * abs(at / run.length - 0.5) + 0.1 * under

    def takes_away(self, change: Change) -> Pipe:
        """The pipe that a change takes away."""
        out: dict[str, tuple[tuple[float, float], ...]] = {}
        for edit in change.edits:
            if edit.op == "drop":
                out[edit.line] = ((0.0, self.layout.lines[edit.line].length),)
            elif edit.op == "cut" and change.kind == "shorten":
                line = self.layout.lines[edit.line]
                forward = line.start.kind == "tee"
                out[edit.line] = ((edit.at, line.length),) if forward else ((0.0, line.length - edit.at),)
        return out


def _beyond(some: Cleaned, others: Cleaned) -> dict[str, Pipe]:
    """What accesses clean beyond what they do otherwise."""
    out = {
        name: {
            line: left
            for line, pieces in pipe.items()
            if (left := subtract(pieces, others.get(name, {}).get(line, ()), slack=1e-6))
        }
        for name, pipe in some.items()
    }
    return {name: pipe for name, pipe in out.items() if pipe}


def _standing(made: Iterable[Change], settings: Sequence[Change]) -> tuple[Change, ...]:
    """What is made, with new valves as they are set."""
    new = {(change.line, change.step) for change in settings if change.kind == "new valve"}
    kept = (change for change in made if change.kind != "new valve" or (change.line, change.step) not in new)
    return (*kept, *settings)


def clashes(changes: Sequence[Change]) -> list[frozenset[int]]:
    """Pairs of changes that clash, by number."""
    by_line: dict[str, list[int]] = {}
    for n, change in enumerate(changes):
        for line in dict.fromkeys(edit.line for edit in change.edits):
            by_line.setdefault(line, []).append(n)
    out = {
        frozenset((a, b))
        for some in by_line.values()
        for i, a in enumerate(some)
        for b in some[i + 1 :]
        if clash(changes[a], changes[b])
    }
    return sorted(out, key=sorted)
