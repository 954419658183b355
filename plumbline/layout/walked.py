"""The lines of a file walked: all of them, with the `rest` of each taken from its ends' heights, or anew those that differ from a text read before."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from ..units import show
from .faults import Faults
from .join import places_of
from .model import Vector
from .names import Names
from .read import read_lines, read_whole
from .source import read_text
from .spread import spread
from .statements import LineSaid, RunSaid, Said, UnreadSaid
from .vectors import add
from .walk import Walked, walk_line

__all__ = ["walk_lines", "walked_again"]


def walk_lines(said: Said, faults: Faults) -> tuple[Said, dict[str, Walked]]:
    """Walk all lines, each `rest` being given its length first; what has none is a fault."""
    cut = {name: rests for name, line in said.lines.items() if (rests := _rests(line))}
    for name, rests in cut.items():
        if len(rests) > 1:
            first, second = (said.lines[name].steps[at].mark for at in rests[:2])
            expected = "one run of a line that takes up what is left"
            faults.add(second, f"a second rest in line '{name}'", expected, also=[first])
    apart = Faults(faults.file, faults.lines)
    if cut:
        drops = _drops(said, {name: rests[0] for name, rests in cut.items()}, apart)
        lines = {
            name: _with_rest(line, cut[name][0], drops.get(name), said, faults) if name in cut else line
            for name, line in said.lines.items()
        }
        said = replace(said, lines=lines)
    walked = {name: walk_line(line, said.limits, faults) for name, line in said.lines.items()}
    if not faults.found and any(line.broken for line in walked.values()):
        faults.found += apart.found  # what does not meet of the halves keeps a rest from its length
    return said, walked


def _rests(line: LineSaid) -> list[int]:
    return [k for k, step in enumerate(line.steps) if isinstance(step, RunSaid) and step.rest]


def _drops(said: Said, cut: Mapping[str, int], apart: Faults) -> dict[str, float]:
    """How far each rest goes up [m], of those between two heights: with each such line in two halves, all others lie where they lie.
    What then does not meet goes to `apart`."""
    scratch, halves = Faults(""), {}
    for name, line in said.lines.items():
        parts = [line]
        if (at := cut.get(name)) is not None:
            steps, numbers = line.steps[at + 1 :], line.numbers[at + 1 :]
            behind = replace(line, name=_far(name), steps=steps, start=None, numbers=numbers)
            parts = [replace(line, steps=line.steps[:at], end=None), behind]
        halves.update({half.name: walk_line(half, said.limits, scratch) for half in parts})
    places = places_of(said, halves, apart)
    # Of what has faults no more is said.
    drops: dict[str, float] = dict.fromkeys(cut, math.nan) if scratch.found or apart.found else {}
    for name in cut:
        near, far = ("line", name), ("line", _far(name))
        if near in places.sure and far in places.sure:
            drops[name] = places.of[far][2] - add(places.of[near], halves[name].displacement)[2]
    return drops


def _far(name: str) -> str:
    return f"{name}\n"  # no line of a file can be called so


def _with_rest(line: LineSaid, at: int, drop: float | None, said: Said, faults: Faults) -> LineSaid:
    """The line with its rest as long as it turned out; unread where it has no length."""
    run = line.steps[at]
    assert isinstance(run, RunSaid)
    if drop is not None and drop * run.rest > 1e-4:
        east, north, _ = run.displacement
        way: Vector = (east, north, drop)
        return replace(line, steps=(*line.steps[:at], replace(run, displacement=way), *line.steps[at + 1 :]))
    if drop is None:
        expected = "from: {vessel: bed, standpipe: 0.2 m} and to: {vessel: sump, height: 0.5 m}, or a tee of a line that has one"
        expected = f"heights at both of its ends, for instance {expected}"
        faults.add(run.mark, f"nothing tells how long the rest of line '{line.name}' is", expected)
    elif not math.isnan(drop):
        off, goes = ("low", "up") if run.rest < 0 else ("high", "down")
        over = f"{show(abs(drop), 'length', said.units)} too {off}"
        found = f"nothing is left for the rest of line '{line.name}': without it the walk comes out {over}"
        faults.add(run.mark, found, f"less on its other runs, or {goes}: rest")
    return replace(line, steps=(*line.steps[:at], UnreadSaid(run.mark, moves=True), *line.steps[at + 1 :]))


@dataclass(frozen=True)
class _Known:
    """What a text says, its lines walked, and the names in it."""

    said: Said
    walked: Mapping[str, Walked]
    names: Names


def walked_again(
    base: str, differ: Collection[str], lines: str, faults: Faults
) -> tuple[Said, dict[str, Walked]] | None:
    """Say and walk a text anew, from that which it was made of.

    Parameters:
        base: the text as it was.
        differ: the names of the lines of pipe that are otherwise, or gone.
        lines: the text of those that are otherwise, under `lines`.
        faults: those of the lines that differ; not all that a whole reading finds.

    Returns:
        As `walk_lines` gives them of the whole text, but for the marks of what differs or comes behind it. None where the text has to be read whole:
        where lines stand several times or take up what is left, and where parts are named by their number.
    """
    known = _known(base)
    if known is None:
        return None
    own = {name for line in differ for name in _names_of(known.said.lines[line])}
    names = Names(faults)
    names.taken = {name: mark for name, mark in known.names.taken.items() if name not in own}
    tree = read_text(lines, faults)
    new = read_lines(tree, known.said, names, faults)
    said = {name: new.get(name, line) for name, line in known.said.lines.items() if name in new or name not in differ}
    walked = {
        name: walk_line(line, known.said.limits, faults) if name in new else known.walked[name]
        for name, line in said.items()
    }
    return replace(known.said, lines=said), walked


@lru_cache(maxsize=4)
def _known(text: str) -> _Known | None:
    faults = Faults("")
    whole, names = read_whole(read_text(text, faults), faults)
    said = spread(whole, names, faults)
    same, walked = walk_lines(said, faults)
    apart = whole.lines.keys() != said.lines.keys() or any(
        whole.lines[name].steps != line.steps for name, line in said.lines.items()
    )
    if faults.found or whole.rows or apart or names.counts or same is not said:
        return None
    return _Known(said, walked, names)


def _names_of(line: LineSaid) -> set[str]:
    """The names that a line gives."""
    ends = {end.name for end in (line.start, line.end) if end is not None and end.kind == "cap" and end.name}
    return ends | {name for step in line.steps if (name := getattr(step, "id", None))}
