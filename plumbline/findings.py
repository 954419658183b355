"""A finding: one thing worth saying about a layout, with its place, its reason and its cheapest cure."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import wraps
from typing import Literal, ParamSpec, TypeVar

__all__ = ["LEVELS", "Finding", "Level", "as_tuple"]

Given = ParamSpec("Given")
One = TypeVar("One")

Level = Literal["fail", "warn", "advice"]
LEVELS: tuple[Level, ...] = ("fail", "warn", "advice")


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    `kind` is a stable slug, a row of `catalogue/findings.yaml`; `level` says how much it matters; `line` and
    `step` (counted from 1) say where, None for the whole layout or the whole line; `message` and `cure` are plain
    sentences in the user's own names; `source` names the rule's source. `weight` is the share of the remaining
    score, 0 to 1, that it costs. `start` and `stop` [m along the line] bound the pipe it speaks of, if any; `more` is
    what only a reader who asks for everything wants. `vessel` and `pump` name what it speaks of where that is no pipe.
    """

    kind: str
    level: Level
    message: str
    cure: str
    source: str
    line: str | None = None
    step: int | None = None
    weight: float = 0.0
    start: float | None = None
    stop: float | None = None
    more: str = ""
    vessel: str | None = None
    pump: str | None = None


def as_tuple(told: Callable[Given, Iterator[One]]) -> Callable[Given, tuple[One, ...]]:
    """Let a function that tells one thing after the other give them all at once."""

    @wraps(told)
    def all_told(*args: Given.args, **kwargs: Given.kwargs) -> tuple[One, ...]:
        return tuple(told(*args, **kwargs))

    return all_told
