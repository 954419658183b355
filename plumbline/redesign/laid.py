"""A line laid anew, and how it is written into the file: the walk through its places as steps, and the block of text."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..catalogue.rows import PipeRow
from ..errors import PlumblineError
from ..layout.model import Vector
from ..layout.rewrite import quoted
from ..layout.words import DIRECTIONS
from ..units import Units
from .place import inches_text
from .script import Script

__all__ = ["Laid", "grid_of", "walk", "written"]

ROOM = 0.17
"""A check valve stands so far before the first turn [m]: high, so that there is room above the water for a union before it."""

BEFORE = "Of the system as it stood before it was said:"


@dataclass(frozen=True)
class Laid:
    """A line to be written: its ends as they stand in the file, its pipe, and its steps, of which the first `kept` stay as they are; `places`
    are those that the rest leads through."""

    name: str
    row: PipeRow
    start: str
    steps: tuple[str, ...]
    end: str
    places: tuple[Vector, ...]
    kept: int = 0

    @property
    def length(self) -> float:
        """Of its pipe [m]."""
        return sum(math.dist(a, b) for a, b in pairwise(self.places))

    @property
    def fittings(self) -> list[str]:
        """The kinds of what stands in it, without what stays."""
        kinds = (step.lstrip("{").split(":")[0] for step in self.steps[self.kept :])
        return [kind for kind in kinds if kind not in DIRECTIONS]


def grid_of(units: Units) -> float:
    """To what pipe is laid [m]: a millimetre, or a sixteenth of an inch in a file in feet."""
    return 0.0254 / 16.0 if units.length == "ft" else 0.001


def walk(
    places: Sequence[Vector],
    units: Units,
    *,
    tees: Mapping[int, str] | None = None,
    pipes: Sequence[PipeRow] = (),
    valve: str | None = None,
    check: bool = False,
) -> list[str]:
    """The steps of a walk through some places: an elbow where it turns, a tee where `tees` names one, a valve in the middle of the last
    long run, a check valve in that of the first, and the pipe of each run where it is not that of the first. Places are set to what a tape
    shows, each by itself, so that what is rounded does not add up."""
    runs = [n for n in range(1, len(places)) if math.dist(places[n], places[n - 1]) > 1e-6]
    ahead = [n for n in runs if tees is None or n > max(tees, default=0)]
    valved = max(ahead, key=lambda n: math.dist(places[n], places[n - 1])) if valve is not None else None
    grid = grid_of(units)
    steps: list[str] = []
    went: list[float] | None = None
    for n in runs:
        goes = [b - a for a, b in zip(places[n - 1], places[n], strict=True)]
        if tees and n - 1 in tees:
            steps.append(f"tee: {tees[n - 1]}")
        elif went is not None and _turns(went, goes):
            steps.append("elbow")
        own = pipes[n - 1].name if pipes and pipes[n - 1].name != pipes[0].name else None
        inside = ["check valve"] if check and n == runs[0] else []
        inside += [valve] if valve is not None and n == valved else []
        cuts = [k / (1 + len(inside)) for k in range(len(inside) + 2)]
        if inside == ["check valve"] and math.hypot(*goes) > 4.0 * ROOM:
            cuts[1] = 1.0 - ROOM / math.hypot(*goes)
        ends = [
            [(a - o + cut * g) / grid for a, o, g in zip(places[n - 1], places[0], goes, strict=True)] for cut in cuts
        ]
        pieces = [
            _run([round(b) - round(a) for a, b in zip(*both, strict=True)], units, own) for both in pairwise(ends)
        ]
        steps += [pieces[0], *(text for one in zip(inside, pieces[1:], strict=True) for text in one)]
        went = goes
    return steps


def _turns(went: Sequence[float], goes: Sequence[float]) -> bool:
    return sum(a * b for a, b in zip(went, goes, strict=True)) < 0.9 * math.hypot(*went) * math.hypot(*goes)


def _run(vector: Sequence[int], units: Units, pipe: str | None) -> str:
    """A run of so many of the grid, each way."""
    feet = units.length == "ft"
    ways = (("east", "west"), ("north", "south"), ("up", "down"))
    words = [
        f"{way[size < 0]}: {inches_text(abs(size) / 16.0) if feet else f'{abs(size) / 1000.0:g} m'}"
        for size, way in zip(vector, ways, strict=True)
        if size
    ]
    if pipe is None and len(words) == 1:
        return words[0]
    return f"{{{', '.join([*words, *([] if pipe is None else [f'pipe: {pipe}'])])}}}"


def written(script: Script, laid: Sequence[Laid], gone: Iterable[str]) -> str:
    """The text with the new lines in place of those that are gone, and what its opening remarks say told as of the system before."""
    first = min(line.key.start for line in script.lines.values())
    last = max(line.value.end for line in script.lines.values())
    # What was said between the old lines goes with them.
    begin = script.text.find("\n", script.opens) + 1
    indent = script.text[script.text.rfind("\n", 0, first) + 1 : first]
    if not 0 < begin <= first or indent.strip():
        raise PlumblineError(
            "The lines stand in brackets in the file: write each on lines of its own to have them laid afresh."
        )
    blocks = [_block(one, indent) for one in laid]
    blocks += [indent + script.slice_of(name) for name in script.lines if name not in set(gone)]
    head, rest = _opening(script.text[:begin])
    said = ", ".join(f"'{one.name}'" for one in laid)
    told = [f"# Laid afresh: {said}. See that each way is free before anything is cut.", *head]
    text = "\n".join([*told, rest + "\n".join(blocks)]) + script.text[last:]
    return text.replace("\r\n", "\n").replace("\n", "\r\n") if "\r\n" in script.text else text


def _opening(text: str) -> tuple[list[str], str]:
    """The remarks that a file opens with, told as of the system before, and what follows them."""
    found = re.match(r"(?:[ \t]*(?:#[^\n]*)?\r?\n)*", text)
    remarks = found[0] if found is not None else ""
    lines = [line.strip().removeprefix("#") for line in remarks.strip().splitlines()]
    return ([f"# {BEFORE}", *(f"#  {line}".rstrip() for line in lines), ""] if lines else []), text[len(remarks) :]


def _block(one: Laid, indent: str) -> str:
    inner = f"\n{indent}  "
    route = "".join(f"{inner}  - {step}" for step in one.steps)
    return f"{indent}{quoted(one.name)}:{inner}pipe: {one.row.name}{inner}from: {one.start}{inner}route:{route}{inner}to: {one.end}"
