"""A text that differs from one read before in some lines of pipe alone: those are read, and the others taken as they were."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from .faults import Faults
from .names import Names
from .read import read_lines, read_whole
from .rest import walk_lines
from .source import read_text
from .spread import spread
from .statements import LineSaid, Said
from .walk import Walked, walk_line

__all__ = ["walked_again"]


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
