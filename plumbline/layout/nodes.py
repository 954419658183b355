"""The shape of a file: texts, lists and groups of named values, each with its place."""

from __future__ import annotations

from dataclasses import dataclass

from .model import Mark

__all__ = ["Node"]


@dataclass(frozen=True, slots=True)
class Node:
    """A text, a list (`items`) or a group of named values (`pairs` of key and value), and its place.

    `torn` tells of a group that had a value whose name could not be read, so that nothing in it is surely missing. `start` and `stop`
    are where its text begins and ends in the file's, in characters, and `flow` tells that brackets hold it. What a `*name` repeats is the
    very node that the `&name` stands before.
    """

    mark: Mark
    text: str | None = None
    items: tuple[Node, ...] | None = None
    pairs: tuple[tuple[Node, Node], ...] | None = None
    quoted: bool = False
    torn: bool = False
    start: int = 0
    stop: int = 0
    flow: bool = False

    @property
    def children(self) -> tuple[Node, ...]:
        """What stands in it, words and values."""
        return (*(self.items or ()), *(node for pair in self.pairs or () for node in pair))

    @property
    def end(self) -> int:
        """Where its text ends, without the blanks and remarks that follow it."""
        return self.children[-1].end if self.children and not self.flow else self.stop

    @property
    def what(self) -> str:
        """What stands here, in a few words."""
        if self.text is not None:
            shown = self.text if len(self.text) <= 40 else self.text[:37] + "..."
            return f"'{shown}'" if shown.strip() else "nothing"
        if self.items is not None:
            return "an empty list" if not self.items else f"a list of {len(self.items)}"
        keys = ", ".join(f"'{(key.text or '')[:40]}'" for key, _ in (self.pairs or ())[:3])
        return f"a group of values, {keys}" if keys else "an empty group of values"

    @property
    def is_nothing(self) -> bool:
        """True where the file leaves the value out."""
        return self.text is not None and not self.quoted and self.text.strip() in ("", "~", "null", "Null", "NULL")
