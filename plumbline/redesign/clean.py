"""What each access cleans, and what a change would add to it or take from it: found by the reach and flush engines themselves, in the
layout with the change made."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from ..errors import PlumblineError, SolveError
from ..hydraulics.find import find_flows
from ..hydraulics.flows import Flows
from ..hydraulics.opened import Opening, flows_with, openings
from ..hydraulics.together import side_by_side
from ..hydraulics.valve_service import adjustable, with_openings
from ..layout.model import Layout
from ..upkeep.flush import flushed
from ..upkeep.intervals import Interval, Intervals, subtract, union
from ..upkeep.reach import pushes, stopping_kinds
from ..upkeep.spills import Spill, spills
from ..upkeep.track import build_track, stops
from .change import Change, changed, clash
from .place import part_at
from .shut_offs import SHUT_OFF, held_by, names_of
from .water import levels_of

__all__ = ["Cleaned", "Effect", "Jointly", "Pipe", "Rodded", "batches", "cleaning", "effects", "merged", "rodded_with"]

Pipe = Mapping[str, Intervals]
"""Pipe by line, as intervals [m along the line]."""

Cleaned = Mapping[str, Pipe]
"""The pipe that each access cleans, by the access's id."""

SAME = 1e-6
"""Angles that differ by less [rad] are the same, as the reach engine has it."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What a change does to cleaning: the pipe that its own access cleans, or that accesses there are clean with it (`gains`); the pipe that they
    would if the water ran a little faster (`perhaps`, all of `gains` in it); and the pipe that an access no longer cleans (`losses`, by id)."""

    gains: Pipe
    perhaps: Pipe
    losses: Cleaned


@dataclass(frozen=True, slots=True)
class Jointly:
    """Pipe that an access (the change that makes it, or its id where it is there) cleans with other changes made
    besides, all of the `needs`; and that it perhaps
    does (see `Effect`)."""

    access: Change | str
    needs: tuple[Change, ...]
    gains: Pipe
    perhaps: Pipe


NEARLY = 0.02
"""Where the water lacks less than this share of the speed, or of the gain in speed, that scours, other changes may give the rest."""


def cleaning(
    layout: Layout, flows: Flows | None, only: Collection[str] | None = None, rods: Cleaned | None = None
) -> tuple[Cleaned, Cleaned]:
    """Give the pipe that each access cleans, by rod or by opening it, and the pipe that it perhaps cleans (see `Effect`). Without flows, by rod
    alone; and of some accesses `only`, where they are named; what `rods` clean may be known."""
    spilled = spills(layout, flows, only)
    by_rod = _joined(_rodded(layout, spilled)) if rods is None else rods
    found = {name: [pipe] for name, pipe in by_rod.items() if only is None or name in only}
    perhaps = {name: list(pipes) for name, pipes in found.items()}
    if flows is not None:
        ways = [one for one in openings(layout) if _lets_out(one, spilled) and (only is None or one.id in only)]
        scoured = side_by_side([partial(_flushed, layout, flows, opening) for opening in ways])
        for opening, (sure, maybe) in zip(ways, scoured, strict=True):
            _add(found, opening.id, sure)
            _add(perhaps, opening.id, maybe)
    return _joined(found), _joined(perhaps)


def effects(
    layout: Layout,
    flows: Flows | None,
    changes: Sequence[Change],
    *,
    made: Sequence[Change] = (),
    flush: dict[tuple[str, int], tuple[Pipe, Pipe]] | None = None,
    rods: dict[Hashable, Rodded] | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> tuple[tuple[Cleaned, Cleaned], dict[Change, Effect], list[Jointly]]:
    """Find what each change does to cleaning, with that change alone made besides those `made`, with which the flows are; without flows, to rods
    alone. `flush` is what opening a cap at a line's step scours, surely and perhaps, as far as it is known for this pipe; it is added to, as
    is what `rods` do, which know no valve's setting but whether it lets them through.

    Returns:
        What each access cleans before, and perhaps cleans; the effect of each change that can be made; and what is
        cleaned jointly: by a cord between two
        new accesses, or by an access that wants a new valve before it.

    Unions and caps at ends take nothing from other rods, and a capped tee takes nothing where no rod passes the bend in its place:
    such changes are made many at a time and told apart by their accesses. All others are made one by one.
    """
    tried = _Tried(layout, flows, tuple(made), tell, {} if rods is None else rods)
    bend = max((rod.bend for rod in layout.rods if not rod.cord), default=0.0)
    many: list[Change] = []
    single: list[Change] = []
    for change in changes:
        if change.kind == SHUT_OFF or any(clash(change, other) for other in made):
            continue
        harmless = change.kind in ("union", "cap end") or (
            change.kind == "capped tee" and part_at(layout.lines[change.line], change.step).turn > bend + SAME
        )
        (many if harmless else single).append(change)
    for batch in batches([change for change in many if change not in tried.rods.gains]):
        tell(f"rods at {len(batch)} new accesses")
        tried.batch(batch)
    gains = {change: tried.rods.gains[change] for change in many}
    found = {change: Effect(pipe, pipe, {}) for change, pipe in gains.items() if pipe is not None}
    flush = {} if flush is None else flush
    caps = [change for change in found if change.kind != "union"] if flows is not None else []
    new = {(change.line, change.step): change for change in caps if (change.line, change.step) not in flush}
    tell(f"{len(new)} caps opened, each by itself")
    flush |= zip(new, side_by_side([partial(tried.opened, change) for change in new.values()]), strict=True)
    for change in caps:
        by_rod, (sure, maybe) = found[change].gains, flush[change.line, change.step]
        found[change] = Effect(merged(by_rod, sure), merged(by_rod, maybe), {})
    for change in single:
        tell(change.words)
        effect = tried.alone(change)
        if effect is not None:
            found[change] = effect
    shut_offs = [one for one in changes if one.kind == SHUT_OFF and not any(clash(one, other) for other in made)]
    held = shut_offs and tried.rods.held
    jointly = [*tried.rods.pairs, *(tried.behind(batches(shut_offs)[0], [*many, *single]) if held else ())]
    return tried.before, {change: found[change] for change in changes if change in found}, jointly


def felt_by_rods(layout: Layout, made: Iterable[Change]) -> Hashable:
    """What tells a layout with changes `made` from others, as far as rods feel it: all but how far valves stand open that they do not pass."""
    passed = (
        (name, part.step)
        for name, line in layout.lines.items()
        for part in line.parts
        if adjustable(part) and not stops(part, stopping_kinds())
    )
    return frozenset(passed), frozenset(
        (change.kind, change.line, change.step) if change.kind == "new valve" else change
        for change in made
        if change.kind != "set valve"
    )


def rodded_with(
    layout: Layout,
    changes: Sequence[Change],
    made: Sequence[Change],
    settings: Sequence[Mapping[tuple[str, int], float]] = ({},),
) -> list[dict[str, Pipe]]:
    """Give the pipe that rods clean from each access with changes made: from those that are there, and from each of the `changes` that makes
    one; with each of some settings of valves, by line and step as they are without any change."""
    here = changed(layout, made) if made else layout
    known = frozenset(access.id for access in here.accesses)
    free = [change for change in changes if change.access and not any(clash(change, other) for other in made)]
    turned = [_turned(layout, here, setting) for setting in settings]
    found: list[dict[str, Pipe]] = [_joined(_rodded(one, spills(one))) for one in turned]
    for batch in batches(free):
        for some, after in _in_parts(layout, made, batch):
            for pipes, setting in zip(found, settings, strict=True):
                one = _turned(layout, after, setting)
                cleaned = _joined(_rodded(one, spills(one), known))
                pipes |= {name: cleaned.get(name, {}) for change in some for name in change.accesses}
    return found


def _turned(layout: Layout, after: Layout, setting: Mapping[tuple[str, int], float]) -> Layout:
    """A changed layout with valves set, by line and step as they were before: the same of the line's valves has another step there."""
    if not setting:
        return after

    def steps(one: Layout, line: str) -> list[int]:
        return [part.step for part in one.lines[line].parts if adjustable(part)] if line in one.lines else []

    there = {(line, step): dict(zip(steps(layout, line), steps(after, line), strict=False)) for line, step in setting}
    return with_openings(after, {(line, there[line, step].get(step, step)): at for (line, step), at in setting.items()})


def _in_parts(
    layout: Layout, made: Sequence[Change], some: Sequence[Change]
) -> Iterator[tuple[Sequence[Change], Layout]]:
    """Changes with the layout that they make besides those `made`: all of them, or by halves where they cannot be made together; none that cannot alone."""
    try:
        yield some, changed(layout, (*made, *some))
    except PlumblineError:
        half = len(some) // 2
        for part in (some[:half], some[half:]) if half else ():
            yield from _in_parts(layout, made, part)


@dataclass
class Rodded:
    """What rods do in a layout: the pipe that each access there cleans (`before`), that which new ones gain by change (None where it cannot be made), the `pairs`
    of new ones that a cord cleans between, and what all accesses clean with a change made `alone`. `held` are the accesses that water stands over which only
    valves keep back, each with those that do, by name: all that are there, and of new ones those tried."""

    before: Cleaned
    held: dict[str, frozenset[str]]
    gains: dict[Change, Pipe | None] = field(default_factory=dict)
    pairs: list[Jointly] = field(default_factory=list)
    alone: dict[Change, Cleaned] = field(default_factory=dict)


class _Tried:
    """A layout with some changes made, in which others are tried; `aside`, with pairs of new accesses left for whoever tries them all."""

    def __init__(
        self,
        layout: Layout,
        flows: Flows | None,
        made: tuple[Change, ...],
        tell: Callable[[str], None],
        known: dict[Hashable, Rodded],
        *,
        aside: bool = False,
    ) -> None:
        self.layout = layout
        self.made = made
        self.here = changed(layout, made) if made else layout
        self.flows = flows
        self.tell = tell
        self.cache = known
        self.known = frozenset(access.id for access in self.here.accesses)
        tell("what is clean so far")
        # Whether a standpipe that is pulled floods is found with the water alone.
        self.stays = frozenset(name for name, spill in spills(self.here, flows).items() if spill.floods)
        key = (felt_by_rods(self.here, made), aside)
        if key not in known:
            spilled = spills(self.here)
            known[key] = Rodded(_joined(_rodded(self.here, spilled)), held_by(self.here, spilled))
        self.rods = known[key]
        self.before = cleaning(self.here, flows, rods=self.but_those_that_stay(self.rods.before))

    def but_those_that_stay(self, cleaned: Cleaned) -> Cleaned:
        """What accesses clean, without those that stay shut since the water would flood."""
        return {name: pipe for name, pipe in cleaned.items() if name not in self.stays}

    def after(self, changes: Sequence[Change]) -> Layout | None:
        """The layout with more changes, None where they cannot be made."""
        try:
            return changed(self.layout, (*self.made, *changes))
        except PlumblineError:
            return None

    def batch(self, batch: Sequence[Change]) -> None:
        """What rods clean from the accesses of changes that do not meddle with each other; none of those that cannot be made."""
        self.rods.gains |= dict.fromkeys(batch)
        for some, after in _in_parts(self.layout, self.made, batch):
            between: dict[tuple[str, str], list[Pipe]] = {}
            cleaned = self.rodded(after, between)
            own = {name: change for change in some for name in change.accesses}
            self.rods.pairs += [
                Jointly(own[a], (own[b],), pipe, pipe)
                for (a, b), pipes in between.items()
                if a in own and b in own and own[a] is not own[b]
                for pipe in [merged(*pipes)]
            ]
            self.rods.gains |= {change: merged(*(cleaned.get(name, {}) for name in change.accesses)) for change in some}

    def opened(self, change: Change) -> tuple[Pipe, Pipe]:
        """The pipe that the water scours when a change's own cap is opened, and that which it perhaps scours."""
        after = self.after([change])
        ways = [] if after is None else [one for one in openings(after) if one.id in change.accesses]
        spilled = {} if after is None else spills(after, None, change.accesses)
        found = [self.scoured(after, way) for way in ways if after is not None and _lets_out(way, spilled)]
        return merged(*(sure for sure, _ in found)), merged(*(maybe for _, maybe in found))

    def scoured(self, after: Layout, opening: Opening) -> tuple[Pipe, Pipe]:
        """The pipe that is scoured through an opening of a changed layout."""
        assert self.flows is not None
        try:
            usual = find_flows(after, levels=levels_of(self.flows))
        except SolveError:
            return {}, {}
        return _flushed(after, usual, opening, self.flows)

    def alone(self, change: Change) -> Effect | None:
        """The effect of a change with everything that it may give or take."""
        after = self.after([change])
        if after is None:
            return None
        if change not in self.rods.alone:
            self.rods.alone[change] = self.rodded(after)
        all_of = self.but_those_that_stay(self.rods.alone[change])
        new = spills(after, None, change.accesses) if change.accesses else {}
        cleaned = list(all_of.values())
        perhaps = list(cleaned)
        for opening in openings(after) if self.flows is not None else ():
            if opening.kind == "cap" and opening.id not in self.known and _lets_out(opening, new):
                sure, maybe = self.scoured(after, opening)
                cleaned.append(sure)
                perhaps.append(maybe)
        losses: dict[str, Pipe] = {}
        for name, pipe in self.but_those_that_stay(self.rods.before).items():
            left = {line: subtract(some, all_of.get(name, {}).get(line, ()), slack=SAME) for line, some in pipe.items()}
            if any(left.values()):
                losses[name] = left
        return Effect(merged(*cleaned), merged(*perhaps), losses)

    def rodded(self, layout: Layout, between: dict[tuple[str, str], list[Pipe]] | None = None) -> Cleaned:
        """What rods clean in a changed layout, by access; which of them valves hold the water back from is noted. A cord that joins an access there to a new
        one counts for that where `between` is asked for."""
        spilled = spills(layout)
        self.rods.held.update(held_by(layout, spilled))
        known = self.known if between is not None else frozenset[str]()
        return _joined(_rodded(layout, spilled, known, between))

    def behind(self, shut_offs: Sequence[Change], changes: Sequence[Change]) -> Iterator[Jointly]:
        """What accesses that water is held back from, or has to be, clean with new valves before them."""
        self.tell("valves before what water stands over")
        held = self.rods.held
        some = [change for change in changes if not held.keys().isdisjoint(change.accesses)]
        kept = _Tried(self.layout, None, (*self.made, *shut_offs), self.tell, self.cache, aside=True)
        kept.flows = self.flows

        def needs(names: Iterable[str]) -> tuple[Change, ...]:
            ids = frozenset[str]().union(*(kept.rods.held.get(name, frozenset()) for name in names))
            return tuple(one for one in shut_offs if any(name in ids for name in names_of(one)))

        sure, perhaps = cleaning(kept.here, self.flows, held.keys() & self.known)
        for name, pipe in perhaps.items():
            if wanted := needs([name]):
                yield Jointly(name, wanted, sure.get(name, {}), pipe)
        for batch in batches(some):
            kept.batch([change for change in batch if change not in kept.rods.gains])
            for change in batch:
                rods = kept.rods.gains[change] or {}
                flush = kept.opened(change) if self.flows is not None and change.kind != "union" else ({}, {})
                if wanted := needs(change.accesses):
                    yield Jointly(change, wanted, merged(rods, flush[0]), merged(rods, flush[1]))


# ---------------------------------------------------------------------- rods


def _rodded(
    layout: Layout,
    spilled: Mapping[str, Spill],
    known: frozenset[str] = frozenset(),
    between: dict[tuple[str, str], list[Pipe]] | None = None,
) -> dict[str, list[Pipe]]:
    """The pipe that rods clean, by access. What a cord cleans goes with the new one of its two openings, and `between` two new ones."""
    found: dict[str, list[Pipe]] = {}
    for push in pushes(build_track(layout, stopping_kinds(), spilled)):
        name = push.access
        if push.to is not None and between is not None and known.isdisjoint((push.access, push.to)):
            between.setdefault((push.access, push.to), []).append(push.covers)
            continue
        if push.to is not None and push.to not in known and known:
            name = push.to
        _add(found, name, push.covers)
    return found


def _lets_out(opening: Opening, spilled: Mapping[str, Spill]) -> bool:
    """Whether an opening can be opened for a flush."""
    return opening.id not in spilled or spilled[opening.id].flushes


def batches(changes: Iterable[Change]) -> list[list[Change]]:
    """Put changes that do not clash together, as many as can be, at most one access to a step."""
    out: list[list[Change]] = []
    edited: list[set[tuple[str, int]]] = []
    for change in changes:
        places = {(edit.line, edit.step) for edit in change.edits}
        for batch, taken in zip(out, edited, strict=True):  # noqa: B007 - used after the loop
            if not places & taken:
                break
        else:
            batch, taken = [], set()
            out.append(batch)
            edited.append(taken)
        batch.append(change)
        taken |= places
    return out


# ---------------------------------------------------------------------- water


def _flushed(layout: Layout, flows: Flows, opening: Opening, before: Flows | None = None) -> tuple[Pipe, Pipe]:
    """The pipe that is scoured when something is opened, and the pipe that would be if the water ran a little faster. The levels are those of
    `before`, or else of the flows themselves."""
    opened = flows_with(layout, before or flows, (opening,))
    if opened is None:
        return {}, {}
    limits, less = layout.limits, 1.0 - NEARLY
    eased = {
        **limits,
        "scour speed": less * limits["scour speed"],
        "scour shear": less**2 * limits["scour shear"],
        "flush gain": limits["flush gain"] - NEARLY,
    }
    return (
        flushed(layout, flows, {opening.id: opened})[opening.id],
        flushed(replace(layout, limits=eased), flows, {opening.id: opened})[opening.id],
    )


# ---------------------------------------------------------------------- bookkeeping


def _add(found: dict[str, list[Pipe]], name: str, pipe: Pipe) -> None:
    if any(pipe.values()):
        found.setdefault(name, []).append(pipe)


def _joined(found: Mapping[str, Sequence[Pipe]]) -> dict[str, Pipe]:
    out: dict[str, Pipe] = {}
    for name, pipes in found.items():
        pieces: dict[str, list[Interval]] = {}
        for pipe in pipes:
            for line, some in pipe.items():
                pieces.setdefault(line, []).extend(some)
        out[name] = {line: union(some) for line, some in pieces.items()}
    return out


def merged(*pipes: Pipe) -> Pipe:
    """All of some pipe."""
    return _joined({"": pipes})[""]
