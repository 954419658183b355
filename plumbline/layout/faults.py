"""Collecting everything that is wrong with one file, so that it can be said in one go and in plain words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NoReturn

from ..errors import Fault, LayoutError
from .model import Mark
from .nearest import by_nearness, nearest_words
from .nodes import Node

__all__ = ["Faults", "listed"]

MOST_FAULTS = 200
WIDEST = 160


def listed(words: Iterable[str], last: str = "or") -> str:
    """Words in a row, as one says them.

    >>> listed(["up", "down", "east"])
    'up, down or east'
    """
    row = list(words)
    return f"{', '.join(row[:-1])} {last} {row[-1]}" if len(row) > 1 else "".join(row)


@dataclass(slots=True)
class Faults:
    """Collects everything wrong with one file.

    `blurred` holds every word of the parts that could not be read: a name that stands among them may well exist, so
    nobody is told that it does not.
    """

    file: str
    lines: list[str] = field(default_factory=list)
    found: list[Fault] = field(default_factory=list)
    blurred: set[str] = field(default_factory=set)

    def add(self, mark: Mark, found: str, expected: str, *, hint: str = "", also: Iterable[Mark] = ()) -> None:
        """Note a fault at `mark`; `also` are other places that take part in it."""
        if len(self.found) > MOST_FAULTS:
            return
        if len(self.found) == MOST_FAULTS:
            found, expected, hint, also = "more faults than are listed here", "those above put right first", "", ()
        numbers = sorted({place.line for place in also} - {mark.line})
        self.found.append(
            Fault(
                file=self.file,
                line=mark.line,
                column=mark.column,
                text=self.line(mark.line) if mark.column <= WIDEST else "",
                found=_clean(found),
                expected=_clean(expected),
                hint=_clean(hint),
                also=tuple((number, self.line(number)) for number in numbers),
            )
        )

    def line(self, number: int) -> str:
        """The text of a line of the file; the end of a very long one is left out."""
        text = self.lines[number - 1].rstrip() if 0 < number <= len(self.lines) else ""
        return _clean(text if len(text) <= WIDEST + 20 else text[: WIDEST + 17] + "...")

    def unknown(
        self, mark: Mark, word: str, what: str, words: Iterable[str], *, also_said: str = "", name: bool = False
    ) -> None:
        """Note a word that is not among `words`, with the nearest ones as a hint.

        `name` tells that the words are names of this file: then nothing is noted if the name stands in a part that
        could not be read.
        """
        if name and word in self.blurred:
            return
        known = list(dict.fromkeys(words))
        near = nearest_words(word, known) if len(self.found) < MOST_FAULTS else ()
        hint = f"did you mean {listed([repr(one) for one in near])}?" if near else ""
        if not near and ":" in word[:-1]:
            hint = "leave a space after the colon"
        rest = known if len(known) <= 14 else [*by_nearness(word, known, 8), f"… ({len(known)} in all)"]
        expected = f"one of: {', '.join(rest)}" if known else "a name that the file has; it has none of the kind"
        shown = word if len(word) <= 40 else word[:37] + "..."
        self.add(mark, f"unknown {what} '{shown}'" if shown else f"no word where the {what} goes", expected + also_said,
                 hint=hint)  # fmt: skip

    def unread(self, node: Node) -> None:
        """Remember every word of a part that could not be read."""
        todo = [node]
        while todo:
            one = todo.pop()
            if one.text is not None:
                self.blurred.add(" ".join(one.text.split()))
            todo += one.items or ()
            for key, value in one.pairs or ():
                todo += (key, value)

    def stop(self) -> None:
        """Raise what was found, in file order, if anything was."""
        if self.found:
            self.fail()

    def fail(self) -> NoReturn:
        """Raise what was found, in file order."""
        unique = {(f.line, f.column, f.found): f for f in self.found}
        raise LayoutError(tuple(sorted(unique.values(), key=lambda f: (f.line, f.column))))


def _clean(text: str) -> str:
    """The text without tabs, line ends and characters that would move the cursor of a terminal."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else " " if c.isspace() else "\N{REPLACEMENT CHARACTER}" for c in text)
