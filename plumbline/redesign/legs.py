"""Changes to pipe that leads nowhere: take it out at the tee, put a cap on the tee, or cut it short."""

from __future__ import annotations

from collections.abc import Iterator

from ..hydraulics.flows import Flows
from ..layout.model import Layout, Line, Tee
from ..parts.sizes import outside_of
from ..upkeep.dead_legs import DeadLeg, by_shape
from .change import Change, Edit
from .place import faces_text, free_name, lay
from .prices import Prices

__all__ = ["dead_lines", "idle_loops", "leg_changes"]

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
    """For a line that leads nowhere: a cap on its tee, a coupling in place of the tee, or a short stub with a cap."""
    line = layout.lines[name]
    if not line.hidden:
        end = line.start if line.start.kind == "tee" else line.end
        yield from _at_tee(layout, line, layout.tees[end.name or ""], prices)
        yield from _stub(layout, line, line.start.kind == "tee", prices)


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
