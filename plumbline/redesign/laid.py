"""A line laid anew, and how it is written into the file: the walk through its places as steps, and the block of text."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..catalogue.rows import PipeRow
from ..errors import PlumblineError
from ..layout.model import Vector
from ..layout.rewrite import quoted
from .script import Script

__all__ = ["Laid", "walk", "written"]


@dataclass(frozen=True)
class Laid:
    """A line to be written: its ends as they stand in the file, its pipe, and its steps."""

    name: str
    row: PipeRow
    start: str
    steps: tuple[str, ...]
    end: str
    places: tuple[Vector, ...]

    @property
    def length(self) -> float:
        """Of its pipe [m]."""
        return sum(math.dist(a, b) for a, b in pairwise(self.places))


def walk(places: Sequence[Vector], *, tees: Mapping[int, str] | None = None, pipes: Sequence[PipeRow] = (),
          valve: str | None = None, check: bool = False) -> list[str]:  # fmt: skip
    """The steps of a walk through some places: an elbow where it turns, a tee where `tees` names one, a valve in the middle of the last
    long run, a check valve in that of the first, and the pipe of each run where it is not that of the first."""
    runs = [n for n in range(1, len(places)) if math.dist(places[n], places[n - 1]) > 1e-6]
    ahead = [n for n in runs if tees is None or n > max(tees, default=0)]
    valved = max(ahead, key=lambda n: math.dist(places[n], places[n - 1])) if valve is not None else None
    steps: list[str] = []
    went: list[float] | None = None
    for n in runs:
        goes = [b - a for a, b in zip(places[n - 1], places[n], strict=True)]
        if tees and n - 1 in tees:
            steps.append(f"tee: {tees[n - 1]}")
        elif went is not None and _turns(went, goes):
            steps.append("elbow")
        own = pipes[n - 1].name if pipes and pipes[n - 1].name != pipes[0].name else None
        inside = (["check valve"] if check and n == runs[0] else []) + (
            [valve] if valve is not None and n == valved else []
        )
        piece = _run([x / (1.0 + len(inside)) for x in goes], own)
        steps += [piece, *(text for one in inside for text in (one, piece))]
        went = goes
    return steps


def _turns(went: Sequence[float], goes: Sequence[float]) -> bool:
    return sum(a * b for a, b in zip(went, goes, strict=True)) < 0.9 * math.hypot(*went) * math.hypot(*goes)


def _run(vector: Sequence[float], pipe: str | None) -> str:
    words = [f"{plus if size > 0.0 else minus}: {abs(size):.4g} m"
             for size, (plus, minus) in zip(vector, (("east", "west"), ("north", "south"), ("up", "down")), strict=True)
             if abs(size) > 5e-5]  # fmt: skip
    if pipe is not None:
        words.append(f"pipe: {pipe}")
    return f"{{{', '.join(words)}}}"


def written(script: Script, laid: Iterable[Laid], kept: set[str]) -> str:
    """The text with the new lines in place of the old."""
    text = script.text
    first = min(line.key.start for line in script.lines.values())
    last = max(line.value.end for line in script.lines.values())
    # What was said between the old lines goes with them.
    begin = text.find("\n", script.opens) + 1
    indent = text[text.rfind("\n", 0, first) + 1 : first]
    if not 0 < begin <= first or indent.strip():
        raise PlumblineError(
            "The lines stand in brackets in the file: write each on lines of its own to have them laid afresh."
        )
    blocks = [_block(one, indent) for one in laid]
    blocks += [
        indent + script.text[line.key.start : line.value.end] for name, line in script.lines.items() if name in kept
    ]
    said = f"{indent}# Laid afresh: see that each way is free before anything is cut."
    new = "\n".join([said, *blocks])
    return text[:begin] + (new.replace("\r\n", "\n").replace("\n", "\r\n") if "\r\n" in text else new) + text[last:]


def _block(one: Laid, indent: str) -> str:
    inner = f"\n{indent}  "
    route = "".join(f"{inner}  - {step}" for step in one.steps)
    return f"{indent}{quoted(one.name)}:{inner}pipe: {one.row.name}{inner}from: {one.start}{inner}route:{route}{inner}to: {one.end}"
