"""The names of a file's parts: each its own, or one made for it."""

from __future__ import annotations

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
        self.counts: dict[str, int] = {}

    def numbered(self, name: str, count: int, mark: Mark) -> int:
        """The number of one of a row of vessels, whose name with that number is taken."""
        self.take("vessel", f"{name} {count + 1}", mark)
        return count + 1

    def take(self, kind: str, said: str | None, mark: Mark) -> str:
        """The part's own name, or one made for it; a name taken before is a fault."""
        if said is None:
            while True:
                self.counts[kind] = self.counts.get(kind, 0) + 1
                said = f"{kind} {self.counts[kind]}"
                if said not in self.taken:
                    break
        elif said in words.RESERVED:
            self.faults.add(mark, f"a {kind} with the name '{said}'", f"another name: '{said}' is the end of a line")
        elif said in self.taken:
            self.twice.add(said)
            self.faults.add(
                mark,
                f"the name '{said}' is taken",
                "a name of its own for each vessel, pump, tee and cap",
                also=[self.taken[said]],
            )
        self.taken.setdefault(said, mark)
        self.faults.said_at.setdefault(said, mark)
        return said
