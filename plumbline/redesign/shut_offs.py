"""Valves before what fish's water stands over: with one that is shut first, a cap or a union below the water can be opened."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from ..layout.model import Layout, Line, Part
from ..units import show
from ..upkeep.access import deep_pipe
from ..upkeep.runs_out import FILM
from ..upkeep.spills import Spill
from .accesses import CENTIMETRE, clear
from .change import Change, Edit
from .place import free_name
from .prices import Prices

__all__ = ["SHUT_OFF", "held_by", "names_of", "shut_offs"]

SHUT_OFF = "shut-off valve"


def shut_offs(layout: Layout, prices: Prices) -> Iterator[Change]:
    """For each way by which a vessel with fish can run out, by a mouth that no arm reaches, a ball valve in the first run of pipe from it that
    a hand gets at and that has room for one; none where a valve stands before that, or a tee, or pipe higher than the water."""
    reachable = {access.id for access in layout.accesses}
    deep = {name: [piece for _, some in found for piece in some] for name, found in deep_pipe(layout).items()}
    for line in layout.lines.values():
        for forward, end in ((True, line.start), (False, line.end)):
            inside = layout.pumps[end.name or ""].vessel if end.kind == "pump" else end.name
            vessel = layout.vessels.get(inside or "") if end.kind in ("pump", "vessel") else None
            shallow = vessel is None or end.place[2] > vessel.level - layout.limits["level drop"]
            reached = f"{line.name}.{'from' if forward else 'to'}" in reachable and end.kind == "vessel"
            if vessel is None or vessel.holds != "fish" or end.port == "standpipe" or shallow or reached:
                continue
            run = _first_run(line, forward, vessel.level, deep[line.name])
            if run is not None:
                yield _valve(layout, line, *run, forward, vessel.name, prices)


def _first_run(
    line: Line, forward: bool, level: float, deep: list[tuple[float, float]]
) -> tuple[Part, int, int] | None:
    """The run, and how far from its start a valve may stand in it at the least and at the most [cm]."""
    for part in line.parts if forward else reversed(line.parts):
        if part.kind in ("tee", "wye") or (part.start if forward else part.end)[2] > level - FILM:
            return None
        if not part.is_pipe and part.runs is None and part.opening < 1.0:
            return None
        if (
            part.kind != "run"
            or part.around
            or any(low < part.at + part.length and part.at < high for low, high in deep)
        ):
            continue
        before, after = (clear(line, part, "ball valve", ahead=ahead) for ahead in (False, True))
        low, high = math.ceil(before / CENTIMETRE), math.floor((part.length - after) / CENTIMETRE)
        if low <= high:
            return part, low, high
    return None


def _valve(
    layout: Layout, line: Line, run: Part, low: int, high: int, forward: bool, vessel: str, prices: Prices
) -> Change:
    at = (low if forward else high) * CENTIMETRE
    name = free_name(layout, f"{line.name} shut-off")
    far = show(at, "length", layout.units)
    words = (
        f"put a ball valve into step {run.step} of '{line.name}', {far} from its beginning, to shut before what is below "
        f"'{vessel}' is opened"
    )
    edit = Edit("split", line.name, run.step, (f"ball valve: {{id: {name}}}",), at)
    return prices.change(SHUT_OFF, line.name, run.step, run.pipe, words, "shut-off valve", edit)


def names_of(shut_off: Change) -> tuple[str, ...]:
    """The names of the valves that a change puts in: in a row they are numbered."""
    name = shut_off.edits[0].texts[0].partition("{id: ")[2].rstrip("}").strip("'")
    return tuple(f"{name} {n}" for n in range(1, len(shut_off.lines) + 1)) if shut_off.row else (name,)


def held_by(layout: Layout, spilled: Mapping[str, Spill]) -> dict[str, frozenset[str]]:
    """The accesses that water stands over which only valves keep back, with the names of those that do; none of
    one that nothing keeps it from."""
    held = {}
    for name, spill in spilled.items():
        bars = (spill.drained or spill).bars
        if bars or not spill.safe:
            parts = (part for line in layout.lines.values() for part in line.parts if (line.name, part.step) in bars)
            held[name] = frozenset(part.id for part in parts if part.id)
    return held
