"""Which changes of pipe, valves and dead ends are worth trying: those that bear on something asked for and not so. Pipe that leads nowhere is taken
out at its tee, capped there, or cut short."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..check import CheckResult
from ..hydraulics.flows import Flows
from ..layout.model import Layout, Line, Tee
from ..parts.sizes import outside_of
from ..upkeep.dead_legs import DeadLeg, by_shape
from ..upkeep.intervals import subtract
from ..upkeep.tools import cleans, tools
from .bends import straight_in, straighter
from .change import Change, Edit
from .hung import hung
from .joined import joined
from .place import faces_text, free_name, lay
from .prices import Prices
from .rows import in_rows
from .settings import Tap, taps_of
from .sizes import larger, sizes
from .valves import against_siphons, check_valves_out, move_valve, new_valve, shorter_standpipe
from .water import Unmet, Wanted, unmet

__all__ = ["TRAPS", "Offers", "dead_lines", "idle_loops", "leg_changes", "offers", "unbrushed"]

SHORTER = 0.8
"""A stub is cut to this share of what is allowed, so that a saw's width does not matter."""


def dead_lines(layout: Layout) -> dict[str, DeadLeg]:
    """Give every line that is dead from a tee to its end, with its longest dead leg: nothing but plugs, caps and shut valves in it,
    nothing that joins it."""
    legs = by_shape(layout)
    out = {}
    for name, line in layout.lines.items():
        mine = [leg for leg in legs if any(stretch.line == name for stretch, _, _ in leg.pieces)]
        dead = sum(stop - start for leg in mine for stretch, start, stop in leg.pieces if stretch.line == name)
        ends = (line.start.kind, line.end.kind)
        alone = ends.count("tee") == 1 and set(ends) <= {"tee", "cap", "plug"} and not _joined(line)
        if mine and alone and abs(dead - line.length) < 1e-6:
            out[name] = max(mine, key=lambda leg: leg.ratio)
    return out


def _joined(line: Line) -> bool:
    return any(part.kind in ("tee", "wye") for part in line.parts)


def leg_changes(layout: Layout, name: str, prices: Prices) -> Iterator[Change]:
    """For a line that leads nowhere: a cap on its tee, a coupling in place of the tee, or a short stub with a cap where that saves something."""
    line = layout.lines[name]
    if not line.hidden:
        end = line.start if line.start.kind == "tee" else line.end
        away = list(_at_tee(layout, line, layout.tees[end.name or ""], prices))
        yield from away
        for stub in _stub(layout, line, line.start.kind == "tee", prices):
            # A cap on the tee itself leaves no leg at all.
            if not any(one.access and one.money <= stub.money and one.minutes <= stub.minutes for one in away):
                yield stub


def _at_tee(layout: Layout, line: Line, tee: Tee, prices: Prices) -> Iterator[Change]:
    leg = next(leg for leg in tee.legs if leg.line == line.name)
    if leg is not tee.legs[2] or tee.kind != "tee":
        return
    name, drop = free_name(layout, f"{tee.id} cap"), Edit("drop", line.name)
    cap = Edit("swap", tee.line, tee.step, (f"cap: {{id: {name}, faces: {faces_text(leg.heading)}}}",))
    words = f"take '{line.name}' away and put a screwed cap on the branch of tee '{tee.id}'"
    note = f"'{line.name}' taken away, cap on the tee"
    yield prices.change("cap a tee", line.name, 0, leg.pipe, words, note, drop, cap, access=name)
    words = f"take '{line.name}' away with tee '{tee.id}', and join the pipe with a coupling"
    note, join = f"'{line.name}' taken away with its tee", Edit("swap", tee.line, tee.step)
    yield prices.change("take out", line.name, 0, leg.pipe, words, note, drop, join)


def _stub(layout: Layout, line: Line, forward: bool, prices: Prices) -> Iterator[Change]:
    """Cut a dead leg short and put a cap on what is left."""
    first, *rest = line.parts if forward else line.parts[::-1]
    at = round(SHORTER * layout.limits["dead leg"] * first.pipe.bore, 2)
    if first.kind != "run" or first.step == 0 or at >= first.length or at < 2.0 * lay("tee", first.pipe):
        return
    end = line.end if forward else line.start
    name = free_name(layout, f"{line.name} stub").strip("'")
    gone = [Edit("swap", line.name, step) for step in dict.fromkeys(part.step for part in rest) if step != first.step]
    ending = [] if end.kind == "cap" else [Edit("end", line.name, int(forward), (f"cap {name}",))]
    words = f"cut '{line.name}' to {1000 * at:.0f} mm from its tee and put a screwed cap on it"
    edits = (Edit("cut", line.name, first.step, (), at), *gone, *ending)
    access = (end.name or "") if end.kind == "cap" else name
    yield prices.change(
        "shorten", line.name, first.step, first.pipe, words, "cut short, with a cap", *edits, access=access
    )


def idle_loops(layout: Layout, flows: Flows, prices: Prices) -> Iterator[Change]:
    """For every line from one tee to another in which no water moves, a change that takes it out with both its tees."""
    for line in layout.lines.values():
        ends = (line.start, line.end)
        if any(end.kind != "tee" for end in ends) or _joined(line) or any(part.kind == "cap" for part in line.parts):
            continue
        tees = [layout.tees[end.name or ""] for end in ends]
        moves = any(flows.stretches[s.id].flow != 0.0 for s in layout.stretches if s.line == line.name)
        branch = all(tee.kind == "tee" and tee.legs[2].line == line.name for tee in tees)
        if moves or not branch or tees[0] is tees[1]:
            continue
        money, minutes = prices.of("take out", max((p.pipe for p in line.parts if p.is_pipe), key=outside_of))
        edits = (Edit("drop", line.name), *(Edit("swap", tee.line, tee.step) for tee in tees))
        words = f"take the idle '{line.name}' away with tees '{tees[0].id}' and '{tees[1].id}', and join the pipe with couplings"
        note = f"'{line.name}' taken away with its tees"
        yield Change("take out loop", line.name, 0, words, note, edits, 2 * money, 2 * minutes)


HEAVY = 0.05
"""A line that takes less than this share of what a route loses is not worth a larger pipe."""

OVERTOPS = ("overtops", "day-overtops", "power-cut-overtops")

AFTER_A_CUT = ("power-cut-overtops", "siphons-back", "fish-left-shallow", "intake-uncovered")


TRAPS = ("low-point", "hump", "back-fall")


@dataclass(frozen=True)
class Offers:
    """What may be done to the water: `changes`; `legs`, for each dead end over the limit those that cure it; `valves` that may be set, by
    name; `bores`, for each line in which no brush fits those that give it a bore that one does; and what is `unmet` as it stands."""

    changes: tuple[Change, ...]
    legs: dict[str, tuple[Change, ...]]
    valves: dict[str, Tap]
    bores: dict[str, tuple[Change, ...]]
    unmet: tuple[Unmet, ...]


def unbrushed(layout: Layout) -> dict[str, float]:
    """The lines in which some pipe fits no brush, with the least bore that one fits [m] if that is larger."""
    rods = tools(layout.rods)
    least = min((rod.bore_min for rod in rods), default=0.0)
    out = {}
    for name, line in layout.lines.items():
        pipes = [part.pipe for part in line.parts if part.is_pipe]
        if layout.rods and any(not any(cleans(rod, pipe.bore) for rod in rods) for pipe in pipes):
            out[name] = least
    return out


def offers(result: CheckResult, wanted: Wanted, prices: Prices, *, brushes: bool = True) -> Offers:
    """Gather the changes to try for the water, and with `brushes` those that lay pipe anew which no brush fits."""
    layout = result.layout
    fails = [finding for finding in result.findings if finding.level == "fail"]
    lacking = unmet(layout, result.flows, fails, wanted)
    bores = unbrushed(layout) if brushes else {}
    found: list[Change] = [*_bends(result, prices), *_elsewhere(result, lacking, prices)] if brushes else []
    by_line: dict[str, tuple[Change, ...]] = {}
    for name in dict.fromkeys([*bores, *_lines(result, lacking)]):
        line = layout.lines[name]
        pipe = max((part.pipe for part in line.parts if part.is_pipe), key=lambda one: -one.bore)
        some = tuple(sizes(layout, line, larger(layout, pipe, bores.get(name, 0.0)), prices))
        by_line[name] = some
        found += some
    whole = {name: tuple(one for one in by_line[name] if _whole(layout, one)) for name in bores}
    legs: dict[str, tuple[Change, ...]] = {}
    if any(one.kind == "dead-leg" for one in lacking):
        legs = _legs(layout, lacking, prices)
        found += [change for some in legs.values() for change in some]
    valves = taps_of(layout, result.flows) if any(one.kind != "dead-leg" for one in lacking) else {}
    if valves or any(one.kind in ("margin", "overtops") for one in lacking):
        found += _new_valves(result, valves, wanted, prices)
    if any(one.kind not in ("dead-leg", "margin", *AFTER_A_CUT) for one in lacking):
        found += check_valves_out(layout, result.flows, prices)
    if any(one.kind in AFTER_A_CUT for one in lacking):
        found += against_siphons(layout, (line for line in layout.lines.values() if line.start.kind == "pump"), prices)
    found += _sawn(result, lacking, prices)
    if brushes:
        for loop in idle_loops(layout, result.flows, prices):
            found.append(loop)
            # Water stands in it: taking it out cures its dead legs too.
            if loop.line in legs:
                legs[loop.line] = (*legs[loop.line], loop)
    legs = {name: made for name, some in legs.items() if (made := in_rows(layout, some))}
    whole = {name: in_rows(layout, some) for name, some in whole.items()}
    return Offers(in_rows(layout, found), legs, valves, whole, lacking)


def _sawn(result: CheckResult, lacking: Sequence[Unmet], prices: Prices) -> Iterator[Change]:
    """Standpipes sawn shorter, of vessels that overtop."""
    over = {one.place for one in lacking if one.kind in OVERTOPS}
    for line in result.layout.lines.values():
        got = result.flows.vessels.get(line.start.name or "") if over & {line.name, line.start.name} else None
        change = None if got is None else shorter_standpipe(result.layout, line, got.inflow, prices)
        yield from () if change is None else (change,)


def _bends(result: CheckResult, prices: Prices) -> Iterator[Change]:
    """Bends to be taken out of lines that are not clean, or that hold water or air."""
    layout, clean = result.layout, result.upkeep.cleanable
    left = {
        name for name, line in layout.lines.items() if subtract([(0.0, line.length)], clean.get(name, ()), slack=1e-6)
    }
    traps = {one.line for one in result.findings if one.kind in TRAPS and one.line is not None}
    for change in (*straighter(layout, prices), *straight_in(layout, prices)):
        if change.line in left | traps:
            yield change
    ways = {name: [result.flows.stretches[one.id] for one in layout.stretches if one.line == name] for name in traps}
    for name in sorted(traps):
        falls = all(way.gravity and way.flow >= 0.0 for way in ways[name])
        yield from hung(layout, layout.lines[name], prices, drains=falls)


def _elsewhere(result: CheckResult, lacking: Sequence[Unmet], prices: Prices) -> Iterator[Change]:
    """Lines laid to another end: those that fail or feed what is short, those that no brush fits, and those where a union in each run that is not
    clean would cost more."""
    layout, narrow = result.layout, unbrushed(result.layout)
    ill = {one.line or one.place for one in lacking} | {one.place for one in lacking}
    for change in joined(result, narrow, prices):
        line = layout.lines[change.line]
        clean = result.upkeep.cleanable.get(line.name, ())
        dirty = (one for one in line.parts if one.is_pipe and subtract([(one.at, one.at + one.length)], clean))
        unions = sum(prices.change("union", line.name, 0, one.pipe, "", "").cost(prices.hour) for one in dirty)
        if line.name in narrow or ill & {line.name, line.end.name} or change.cost(prices.hour) < unions:
            yield change


def _whole(layout: Layout, change: Change) -> bool:
    return change.step == layout.lines[change.line].parts[-1].step


def _lines(result: CheckResult, lacking: Sequence[Unmet]) -> Iterator[str]:
    """Lines whose size bears on what is lacking: those that fail, and those that take head on the way to a vessel that is short."""
    short = {one.place for one in lacking if one.kind == "margin"}
    for one in lacking:
        if one.line is not None and one.kind in ("overtops", "too-little-water"):
            yield one.line
    for route in result.flows.routes:
        if route.vessel not in short:
            continue
        lost = sum(part.loss for part in route.losses)
        by_line: dict[str, float] = defaultdict(float)
        for part in route.losses:
            by_line[part.line] += part.loss
        yield from (line for line, loss in by_line.items() if line in result.layout.lines and loss > HEAVY * lost)


def _legs(layout: Layout, lacking: Sequence[Unmet], prices: Prices) -> dict[str, tuple[Change, ...]]:
    lines = {one.line for one in lacking if one.kind == "dead-leg" and one.line is not None}
    dead: dict[str, DeadLeg] = dead_lines(layout)
    out: dict[str, tuple[Change, ...]] = {}
    for name in lines:
        if name in dead:
            out[name] = tuple(leg_changes(layout, name, prices))
        else:
            line = layout.lines[name]
            shut = (part for part in line.parts if part.opening <= 0.0)
            out[name] = tuple(change for part in shut if (change := move_valve(layout, line, part, prices)) is not None)
    return {name: some for name, some in sorted(out.items()) if some}


def _new_valves(result: CheckResult, valves: dict[str, Tap], wanted: Wanted, prices: Prices) -> Iterator[Change]:
    """A valve for each vessel that gets more than it should and has none of its own."""
    layout = result.layout
    for name, vessel in layout.vessels.items():
        enough = (1.0 + wanted.margin) * (vessel.wants or 0.0)
        if not vessel.wants or name in valves or result.flows.vessels[name].inflow <= enough:
            continue
        lines = [
            line
            for line in layout.lines.values()
            if line.end.name == name and line.end.kind == "vessel" and line.start.kind in ("tee", "pump")
        ]
        if len(lines) == 1 and (change := new_valve(lines[0], prices)) is not None:
            yield change
