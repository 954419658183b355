"""Guards against mishaps, each an edit of the layout's own text, so that what is proven is what would be built; and which few take away most harm for
least money, with the proof: all mishaps again, with those guards in."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from .. import catalogue
from ..errors import PlumblineError
from ..layout import layout_of
from ..layout.model import Layout, Line, Pipe
from ..layout.rewrite import put_in, quoted
from ..redesign.change import Change, Edit, apply, clash
from ..redesign.prices import Prices
from ..redesign.sizes import larger, sizes
from ..redesign.valves import against_siphons
from ..units import show
from .fault import working
from .find import FISH, Mishap, Mishaps, find_mishaps
from .harm import Harm

__all__ = ["AIR", "Guard", "Guarded", "Taken", "choose_guards", "guarded", "guards_for"]

AIR = "air stones"
"""The guard that changes nothing in the water."""

OVER, FALL = 0.3, 0.02
"""A second way out has its crest so far up from the water to the rim, and its pipe so much fall; common practice, no source."""

KEEPS, SWINGS = 1.0 / 3.0, 0.05
"""A float switch leaves so much of the water over an intake, and turns on so much higher [m]; common practice, no source."""


@dataclass(frozen=True)
class Guard:
    """A guard: its `change`, priced, whose edits may be none; what is to be `put` into the text besides, (path, pair); and the mishaps that
    it is `against`."""

    change: Change
    put: tuple[tuple[tuple[str, ...], str], ...]
    against: tuple[Mishap, ...]


def guarded(layout: Layout, guards: Iterable[Guard]) -> Layout:
    """Read the layout with guards in it.

    Raises:
        CannotChange: where the text does not allow it.
        PlumblineError: where what comes out is no layout.
    """
    some = tuple(guards)
    text = apply(layout.text, (guard.change for guard in some))
    for guard in some:
        for path, pair in guard.put:
            text = put_in(text, path, pair)
    return layout_of(text, layout.path)


def guards_for(found: Mishaps, prices: Prices) -> Iterator[Guard]:
    """Give the guards that may help against the mishaps of a layout."""
    layout = found.running.layout
    for name in layout.vessels:
        floods = _with(found, "floor wet", name)
        for line in _drains(layout, name) if floods else ():
            yield from _second_way_out(found, line, floods, prices)
            yield from (Guard(change, (), floods) for change in _larger(layout, line, prices))
    back = tuple(one for one in found.harmful if one.fault.off and one.harms)
    yield from (
        Guard(change, (), back) for change in against_siphons(layout, layout.lines.values() if back else (), prices)
    )
    for name in working(layout):
        yield from _float_switch(found, name, prices)
    for line in layout.lines.values():
        yield from _standpipe(found, line, prices)
    yield from _air_stones(found, prices)


def _with(found: Mishaps, what: str, where: str) -> tuple[Mishap, ...]:
    return tuple(one for one in found.harmful if (what, where) in {harm.key for harm in one.harms})


def _drains(layout: Layout, vessel: str) -> Iterator[Line]:
    """The lines that bring a vessel's water to another one, or out, by its fall."""
    for line in layout.lines.values():
        if line.start.kind == "vessel" and line.start.name == vessel and line.end.kind in ("vessel", "open air"):
            yield line


def _larger(layout: Layout, line: Line, prices: Prices) -> Iterator[Change]:
    pipe = max((part.pipe for part in line.parts if part.is_pipe), key=lambda one: -one.bore)
    yield from sizes(layout, line, larger(layout, pipe)[:1], prices, parts_of=False)


def _second_way_out(found: Mishaps, line: Line, against: tuple[Mishap, ...], prices: Prices) -> Iterator[Guard]:
    layout = found.running.layout
    vessel = layout.vessels[line.start.name or ""]
    if vessel.rim is None or vessel.name not in found.running.course.vessels:
        return
    stands = found.running.course.vessels[vessel.name].highest - vessel.base
    height = round(stands + OVER * (vessel.rim - stands), 3)
    route = _way_down(vessel.base + height, line)
    if height - stands < 0.005 or route is None:
        return
    pipe = line.parts[0].pipe
    name = next(
        name
        for name in (f"{vessel.name} second way out{n}" for n in ("", *(f" {k}" for k in range(2, 99))))
        if name not in layout.lines
    )
    to = quoted(line.end.name or "") if line.end.kind == "vessel" else "open air"
    text = (
        f"{quoted(name)}: {{pipe: {_pipe_text(pipe)}, from: {{vessel: {quoted(vessel.name)}, standpipe: {height:g} m}}, "
        f"route: [{', '.join(route)}], to: {to}}}"
    )
    money, minutes = prices.of("second way out", pipe, metres=line.length, fittings=("elbow", "elbow"))
    words = (
        f"a second way out of '{vessel.name}': a standpipe of {pipe.name}, crest {show(height, 'length', layout.units)} over the floor, "
        f"to {to if line.end.kind != 'vessel' else repr(line.end.name)}"
    )
    change = Change("second way out", name, 0, words, "", (), money, minutes)
    yield Guard(change, ((("lines",), text),), against)


def _way_down(start: float, line: Line) -> list[str] | None:
    """The steps from a height to where a line ends; None where there is no fall for them."""
    drop = start - line.end.place[2]
    east, north = (line.end.place[axis] - line.start.place[axis] for axis in (0, 1))
    along = math.hypot(east, north)
    if along < 0.1:
        return [f"{{down: {drop:.4f} m}}"] if drop > 0.05 else None
    fall = max(FALL * along, 0.005)
    if drop < fall + 0.15:
        return None
    sides = [
        f"{word if size > 0 else other}: {abs(size):.4f} m"
        for size, word, other in ((east, "east", "west"), (north, "north", "south"))
        if abs(size) > 1e-4
    ]
    return [
        f"{{down: {drop - fall - 0.05:.4f} m}}",
        "elbow",
        f"{{{', '.join(sides)}, down: {fall:.4f} m}}",
        "elbow",
        "{down: 0.05 m}",
    ]


def _pipe_text(pipe: Pipe) -> str:
    if pipe.name in catalogue.pipes():
        return pipe.name
    return f"{{bore: {1e3 * pipe.bore:.6g} mm, roughness: {1e3 * pipe.roughness:.6g} mm}}"


def _float_switch(found: Mishaps, name: str, prices: Prices) -> Iterator[Guard]:
    """A float switch that stops a pump before its vessel is down to the intake, or a fish tank to half."""
    layout = found.running.layout
    pump = layout.pumps[name]
    vessel = layout.vessels.get(pump.vessel or "")
    against = _with(found, "pump dry", name) + (
        _with(found, "fish tank below half", vessel.name) if vessel is not None else ()
    )
    if pump.switch is not None or vessel is None or vessel.name not in found.running.course.vessels or not against:
        return
    stands = found.running.course.vessels[vessel.name].lowest - vessel.base
    off = pump.intake + KEEPS * (stands - pump.intake)
    if vessel.holds == "fish":
        off = max(off, 0.5 * vessel.water + 0.1 * stands)
    off = round(off, 2)
    if off + SWINGS >= stands:
        return
    pipe = next(
        line.parts[0].pipe for line in layout.lines.values() if line.start.kind == "pump" and line.start.name == name
    )
    pair = f"switch: {{vessel: {quoted(vessel.name)}, on above: {off + SWINGS:g} m, off below: {off:g} m}}"
    money, minutes = prices.of("float switch", pipe)
    words = (
        f"a float switch in '{vessel.name}' that stops pump '{name}' at {show(off, 'length', layout.units)} of water and starts it at "
        f"{show(off + SWINGS, 'length', layout.units)}"
    )
    yield Guard(
        Change("float switch", "", 0, words, "", (), money, minutes),
        ((("pumps", name), pair),),
        tuple({one.key: one for one in against}.values()),
    )


def _standpipe(found: Mishaps, line: Line, prices: Prices) -> Iterator[Guard]:
    """A standpipe where a line takes water low out of a fish tank: what runs off behind it leaves the fish their water."""
    layout, end = found.running.layout, line.start
    vessel = layout.vessels.get(end.name or "") if end.kind == "vessel" else None
    if vessel is None or vessel.holds != "fish" or end.port == "standpipe" or not line.parts or line.end.kind == "pump":
        return
    against = _with(found, "fish tank below half", vessel.name)
    height = round(0.75 * vessel.water, 2)
    up = vessel.base + height - end.place[2]
    if not against or up < 0.1 or vessel.name not in found.running.course.vessels:
        return
    pipe = line.parts[0].pipe
    money, minutes = prices.of("standpipe", pipe)
    words = f"a standpipe on '{line.name}' in '{vessel.name}', {show(height, 'length', layout.units)} high"
    steps = (f"down: {up:.4f} m", *(() if _goes_down(line) else ("elbow",)))
    edits = (
        Edit("end", line.name, 0, (f"{{vessel: {quoted(vessel.name)}, standpipe: {height:g} m}}",)),
        Edit("insert", line.name, 1, steps),
    )
    yield Guard(Change("standpipe", line.name, 1, words, "standpipe", edits, money, minutes), (), against)


def _goes_down(line: Line) -> bool:
    return line.parts[0].heading_in[2] < -0.99


def _air_stones(found: Mishaps, prices: Prices) -> Iterator[Guard]:
    against = tuple(one for one in found.harmful if any(harm.what == FISH[0] for harm in one.harms))
    if against and found.fish is not None:
        money, minutes = prices.of("air stones", Pipe("", 0.025, 0.0, 0.025))
        words = "air stones in the fish tank on another circuit, with a battery"
        yield Guard(Change(AIR, "", 0, words, "", (), money, minutes), (), against)


FEW = 5
"""How many guards are chosen at the most."""

WORTH = 0.03
"""A guard that takes away less than this share of all harm is not worth naming."""


@dataclass(frozen=True)
class Taken:
    """A guard that was chosen, its `cost`, and the harms that it takes away, alone, by mishap."""

    guard: Guard
    cost: float
    takes: tuple[tuple[Mishap, tuple[Harm, ...]], ...]


@dataclass(frozen=True)
class Guarded:
    """The guards, the one that gives most for its money first; all mishaps with all of them in, `proof`, None where there are none or they
    do not go together, with why; harm by likelihood `before` and `after`."""

    guards: tuple[Taken, ...]
    proof: Mishaps | None
    before: float
    after: float
    why: str = ""


Gone = dict[tuple[tuple[str, str], tuple[str, str]], float]
"""What harms are gone, by mishap and harm, with what each weighs."""


def choose_guards(
    found: Mishaps, prices: Prices, *, progress: Callable[[int, int, str], None] | None = None
) -> Guarded:
    """Choose guards, the one that takes away most for its money first, each tried alone on the mishaps that it is against.

    Parameters:
        found: the mishaps as it stands.
        progress: called with how many are done, of how many, and what is tried.

    Returns:
        The guards with the proof of all of them together.
    """
    before = sum(one.weight for one in found.mishaps)
    some = list(guards_for(found, prices))
    tried: list[tuple[Guard, Gone]] = []
    for number, guard in enumerate(some):
        if progress is not None:
            progress(number, len(some), guard.change.words)
        gone = _gone(found, guard)
        if sum(gone.values()) >= WORTH * before > 0.0:
            tried.append((guard, gone))
    chosen = _few(tried, prices, before)
    taken = tuple(Taken(guard, guard.change.cost(prices.hour), _told(found, gone)) for guard, gone in chosen)
    if not taken:
        return Guarded((), None, before, before)
    try:
        proof = find_mishaps(
            guarded(found.running.layout, [one.guard for one in taken]), hours=found.running.hours, progress=progress
        )
    except PlumblineError as error:
        return Guarded(taken, None, before, before, f"they cannot be tried together: {error}")
    return Guarded(taken, proof, before, _rest(proof, taken))


def _few(tried: list[tuple[Guard, Gone]], prices: Prices, before: float) -> list[tuple[Guard, Gone]]:
    """The best for its money of what is left, until the rest is not worth it."""
    chosen: list[tuple[Guard, Gone]] = []
    covered: set[object] = set()
    left = list(tried)

    def still(gone: Gone) -> float:
        return sum(weight for key, weight in gone.items() if key not in covered)

    while left and len(chosen) < FEW:
        guard, gone = max(left, key=lambda one: still(one[1]) / max(one[0].change.cost(prices.hour), 1.0))
        if still(gone) < WORTH * before:
            left.remove((guard, gone))
            continue
        chosen.append((guard, gone))
        covered |= set(gone)
        left = [one for one in left if one[0] is not guard and not clash(one[0].change, guard.change)]
    return chosen


def _gone(found: Mishaps, guard: Guard) -> Gone:
    """The harms that a guard takes away of the mishaps that it is against; none where it cannot be built or brings a new harm to running."""
    if guard.change.kind == AIR:
        return {
            (one.key, harm.key): _weighs(one, harm)
            for one in guard.against
            for harm in one.harms
            if harm.what == FISH[0]
        }
    try:
        after = find_mishaps(
            guarded(found.running.layout, [guard]), hours=found.running.hours, only=[one.key for one in guard.against]
        )
    except PlumblineError:
        return {}
    if {harm.key for harm in after.already} - {harm.key for harm in found.already}:
        return {}
    return _less(guard.against, {one.key: one for one in after.mishaps})


def _less(before: Iterable[Mishap], after: Mapping[tuple[str, str], Mishap]) -> Gone:
    gone: Gone = {}
    for one in before:
        then = after.get(one.key)
        if then is None or then.doubt:
            continue
        left = {harm.key for harm in then.harms}
        gone |= {(one.key, harm.key): _weighs(one, harm) for harm in one.harms if harm.key not in left}
    return gone


def _weighs(mishap: Mishap, harm: Harm) -> float:
    return mishap.weight * harm.weight / sum(one.weight for one in mishap.harms)


def _told(found: Mishaps, gone: Gone) -> tuple[tuple[Mishap, tuple[Harm, ...]], ...]:
    rows = ((one, tuple(harm for harm in one.harms if (one.key, harm.key) in gone)) for one in found.harmful)
    return tuple((one, harms) for one, harms in rows if harms)


def _rest(proof: Mishaps, taken: tuple[Taken, ...]) -> float:
    """The harm that is left; what air stones are there for does none."""
    air = any(one.guard.change.kind == AIR for one in taken)
    return sum(_weighs(one, harm) for one in proof.harmful for harm in one.harms if not (air and harm.what == FISH[0]))
