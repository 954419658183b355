"""Changes to pipe that leads nowhere: take it out at the tee, put a cap on the tee, or cut it short."""

from __future__ import annotations

from collections.abc import Iterator

from ..hydraulics.flows import Flows
from ..layout.model import Layout, Line, Tee
from ..upkeep.dead_legs import DeadLeg, by_shape
from .change import Change, Edit
from .place import faces_text, free_name, lay, outside_of
from .prices import Prices

__all__ = ["dead_lines", "idle_loops", "leg_changes"]

_SHORTER = 0.8
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
        joined = any(part.kind in ("tee", "wye") for part in line.parts)
        if (
            mine
            and abs(dead - line.length) < 1e-6
            and ends.count("tee") == 1
            and set(ends) <= {"tee", "cap", "plug"}
            and not joined
        ):
            out[name] = max(mine, key=lambda leg: leg.ratio)
    return out


def leg_changes(layout: Layout, prices: Prices) -> Iterator[Change]:
    """For every line that leads nowhere: a cap on its tee, a coupling in place of the tee, or a short stub with a cap."""
    limit = layout.limits["dead leg"]
    for name in dead_lines(layout):
        line = layout.lines[name]
        if line.hidden:
            continue
        end = line.start if line.start.kind == "tee" else line.end
        tee = layout.tees[end.name or ""]
        yield from _at_tee(layout, line, tee, prices)
        yield from _stub(layout, line, line.start.kind == "tee", limit, prices)


def _at_tee(layout: Layout, line: Line, tee: Tee, prices: Prices) -> Iterator[Change]:
    leg = next(one for one in tee.legs if one.line == line.name)
    money, minutes = prices.of("cap a tee", leg.pipe)
    if leg is tee.legs[2] and tee.kind == "tee":
        name = free_name(layout, f"{tee.id} cap")
        yield Change("cap a tee", line.name, 0, f"take '{line.name}' away and put a screwed cap on the branch of tee '{tee.id}'",
                     f"'{line.name}' taken away, cap on the tee",
                     (Edit("drop", line.name),
                      Edit("swap", tee.line, tee.step, (f"cap: {{id: {name}, faces: {faces_text(leg.heading)}}}",))),
                     money, minutes, name.strip("'"))  # fmt: skip
        money, minutes = prices.of("take out", leg.pipe)
        yield Change("take out", line.name, 0, f"take '{line.name}' away with tee '{tee.id}', and join the pipe with a coupling",
                     f"'{line.name}' taken away with its tee",
                     (Edit("drop", line.name), Edit("swap", tee.line, tee.step)), money, minutes)  # fmt: skip


def _stub(layout: Layout, line: Line, forward: bool, limit: float, prices: Prices) -> Iterator[Change]:
    """Cut a dead leg short and put a cap on what is left."""
    parts = line.parts if forward else line.parts[::-1]
    first = parts[0]
    at = round(_SHORTER * limit * first.pipe.bore, 2)
    if first.kind != "run" or first.step == 0 or at >= first.length or at < 2.0 * lay("tee", first.pipe):
        return
    end = line.end if forward else line.start
    name = free_name(layout, f"{line.name} stub")
    said = f"cap {name.strip(chr(39))}"
    swaps = tuple(
        Edit("swap", line.name, step) for step in dict.fromkeys(part.step for part in parts[1:]) if step != first.step
    )
    ending = () if end.kind == "cap" else (Edit("end", line.name, int(forward), (said,)),)
    money, minutes = prices.of("shorten", first.pipe)
    yield Change("shorten", line.name, first.step, f"cut '{line.name}' to {1000 * at:.0f} mm from its tee and put a screwed cap on it",
                 "cut short, with a cap", (Edit("cut", line.name, first.step, (), at), *swaps, *ending), money, minutes,
                 (end.name or "") if end.kind == "cap" else name.strip("'"))  # fmt: skip


def idle_loops(layout: Layout, flows: Flows, prices: Prices) -> Iterator[Change]:
    """For every line from one tee to another in which no water moves, a change that takes it out with both its tees."""
    for line in layout.lines.values():
        ends = (line.start, line.end)
        tees = [layout.tees.get(end.name or "") for end in ends]
        if any(end.kind != "tee" for end in ends) or any(part.kind in ("tee", "wye", "cap") for part in line.parts):
            continue
        still = all(
            flows.stretches[stretch.id].flow == 0.0 for stretch in layout.stretches if stretch.line == line.name
        )
        if (
            not still
            or any(tee is None or tee.kind != "tee" or tee.legs[2].line != line.name for tee in tees)
            or tees[0] is tees[1]
        ):
            continue
        swaps = tuple(Edit("swap", tee.line, tee.step) for tee in tees if tee is not None)
        outside = max((part.pipe for part in line.parts if part.is_pipe), key=outside_of)
        money, minutes = prices.of("take out", outside)
        yield Change("take out loop", line.name, 0,
                     f"take the idle '{line.name}' away with tees '{line.start.name}' and '{line.end.name}', and join the pipe with couplings",
                     f"'{line.name}' taken away with its tees", (Edit("drop", line.name), *swaps), 2 * money, 2 * minutes)  # fmt: skip
