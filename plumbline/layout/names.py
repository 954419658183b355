"""The names of a file's parts: each its own, or one made for it."""

from __future__ import annotations

from itertools import count

from . import words
from .faults import Faults
from .model import Mark

__all__ = ["Names"]


class Names:
    """The names of a file: each vessel, pump, tee, cap and union has one of its own."""

    def __init__(self, faults: Faults) -> None:
        self.faults = faults
        self.taken: dict[str, Mark] = {}
        self.twice: set[str] = set()
        self.counts: dict[str, count[int]] = {}

    def take(self, kind: str, said: str | None, mark: Mark) -> str:
        """The part's own name, or one made for it; a name taken before is a fault."""
        if said is None:
            numbers = self.counts.setdefault(kind, count(1))
            said = next(name for number in numbers if (name := f"{kind} {number}") not in self.taken)
        elif said in words.RESERVED:
            self.faults.add(mark, f"a {kind} with the name '{said}'", f"another name: '{said}' is the end of a line")
        elif said in self.taken:
            self.twice.add(said)
            expected = "a name of its own for each vessel, pump, tee and cap"
            self.faults.add(mark, f"the name '{said}' is taken", expected, also=[self.taken[said]])
        self.taken.setdefault(said, mark)
        self.faults.said_at.setdefault(said, mark)
        return said
