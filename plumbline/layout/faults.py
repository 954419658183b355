"""Collecting everything that is wrong with one file, so that it can be said in one go and in plain words."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NoReturn

from .. import catalogue
from ..errors import Fault, LayoutError
from .model import Default, Mark
from .nodes import Node

__all__ = ["Faults", "by_nearness", "line_for", "listed", "nearest_words"]


def nearest_words(word: str, words: Iterable[str]) -> tuple[str, ...]:
    """Return up to three words that may be meant, the likeliest first.

    Spaces, hyphens and case do not count. A slip is a letter added, left out, wrong, or swapped with its neighbour:
    one in a short word, two from five letters on, three from nine. Initials come before slips. A word may also stand for a longer one that begins
    with it or that has it as one of its words.

    >>> nearest_words("elbo", ["elbow", "sweep", "tee"]), nearest_words("pvc25", ["pvc 20", "pvc 25"])
    (('elbow',), ('pvc 25',))
    >>> nearest_words("gate", ["gate valve", "ball valve"]), nearest_words("aqueduct", ["elbow", "tee"])
    (('gate valve',), ())
    >>> nearest_words("bv", ["uv", "ball valve", "butterfly valve", "tee"])
    ('ball valve', 'butterfly valve')
    """
    known = list(dict.fromkeys(words))
    said = _bare(word)
    if not said:
        return ()
    initials = [
        other for other in known if len(said) > 1 and said == "".join(part[:1] for part in re.split(r"[\s-]+", other))
    ]
    if initials:
        return tuple(initials[:3])
    most = 1 if len(said) <= 4 else 2 if len(said) <= 8 else 3
    scored = [(_slips(said, _bare(other), most), other) for other in known]
    least = min((slips for slips, _ in scored), default=most + 1)
    if least <= most and least < len(said):
        return tuple(other for slips, other in scored if slips == least)[:3]
    longer = [other for other in known if len(said) >= 3 and _bare(other).startswith(said)]
    holding = [other for other in known if word.lower() in other.lower().split()]
    return tuple((longer or holding)[:3])


def by_nearness(word: str, words: Iterable[str], count: int) -> list[str]:
    """The `count` words that have most in common with one, in their own order where they are equally far."""
    said = _bare(word)
    return sorted(dict.fromkeys(words), key=lambda other: _slips(said, _bare(other), 99))[:count]


@lru_cache(maxsize=20_000)
def _bare(word: str) -> str:
    return re.sub(r"[\s_-]+", "", word.lower())[:40]


@lru_cache(maxsize=20_000)
def _slips(a: str, b: str, most: int) -> int:
    """How many slips lead from a to b (optimal string alignment), or more than `most` as soon as that is sure."""
    if abs(len(a) - len(b)) > most:
        return most + 1
    before: list[int] = []
    last = list(range(len(b) + 1))
    for i, letter in enumerate(a, 1):
        row = [i]
        for j, other in enumerate(b, 1):
            cost = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == b[j - 2] and a[i - 2] == other:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return most + 1
        before, last = last, row
    return last[-1]


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
    """Collects everything wrong with one file, and the values that it leaves out, `defaults`.

    `blurred` holds every word of the parts that could not be read: a name that stands among them may well exist, so
    nobody is told that it does not. `blind` holds the kinds of things ("vessel", "pump", "tee") of which some could
    not be read at all, so that any name may be one of them. `settled` are places of which enough has been said, `said_at` those where
    the file's own names are given.
    """

    file: str
    lines: list[str] = field(default_factory=list)
    found: list[Fault] = field(default_factory=list)
    blurred: set[str] = field(default_factory=set)
    blind: set[str] = field(default_factory=set)
    settled: set[Mark] = field(default_factory=set)
    said_at: dict[str, Mark] = field(default_factory=dict)
    defaults: list[Default] = field(default_factory=list)

    def add(self, mark: Mark, found: str, expected: str, *, hint: str = "", also: Iterable[Mark] = ()) -> None:
        """Note a fault at `mark`; `also` are other places that take part in it."""
        if len(self.found) > MOST_FAULTS or mark in self.settled:
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
                also=tuple((number, text) for number in numbers if (text := self.line(number))),
            )
        )

    def left_out(self, where: str, what: str, source: str) -> None:
        """Note a value that is taken since the file says none."""
        self.defaults.append(Default(where, what, source))

    def line(self, number: int) -> str:
        """The text of a line of the file; the end of a very long one is left out."""
        text = self.lines[number - 1].rstrip() if 0 < number <= len(self.lines) else ""
        return _clean(text if len(text) <= WIDEST + 20 else text[: WIDEST + 17] + "...")

    def unknown(
        self,
        mark: Mark,
        word: str,
        what: str,
        words: Iterable[str],
        *,
        where: str = "",
        expected: str = "",
        names: Collection[str] = (),
        trade: str = "",
        more: str = "",
        value: Callable[[str], str] = lambda _: "",
    ) -> None:
        """Note a word that is not among `words`, with the nearest ones as a hint; `where` says of what it is a part,
        and `expected` stands in for the list of the words.

        `names` are the kinds of things that the words name, if any: then nothing is noted where the word may be the
        name of one that could not be read. `trade` says where it stands ("step", "vessel", …): a word of the trade gets the line to write;
        `more` is the hint where nothing is near; `value` tells what a word of that line is to say, where the file has it.
        """
        row = word.rpartition(" ")[0]  # of what could not be read its outlets and rows could not be, either
        if names and (word in self.blurred or row in self.blurred or not self.blind.isdisjoint(names)):
            return
        known = list(dict.fromkeys(words))
        # What a word of the trade means comes before what it is spelt like.
        hint = _with_value(line_for(word, trade, known), value) if trade else ""
        near = nearest_words(word, known) if not hint and len(self.found) < MOST_FAULTS else ()
        hint = hint or (f"did you mean {listed([repr(one) for one in near])}?" if near else "")
        if not hint and ":" in word[:-1]:
            hint = "leave a space after the colon"
        hint = hint or more
        if not expected and known:
            rest = known if len(known) <= 14 else [*by_nearness(word, known, 8), f"… ({len(known)} in all)"]
            expected = f"one of: {', '.join(rest)}"
        expected = expected or "a name that the file has; it has none of the kind"
        shown = word if len(word) <= 40 else word[:37] + "..."
        found = f"unknown {what} '{shown}'{where}" if shown else f"nothing where a {what} goes{where}"
        also = [self.said_at[one] for one in near if one in self.said_at] if names else []
        self.add(mark, found, expected, hint=hint, also=also)

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
        # What is said once and stands several times has its fault once.
        unique: dict[tuple[int, int, str], Fault] = {}
        for f in self.found:
            unique.setdefault((f.line, f.column, re.sub(r"[\d.]+", "", f.found)), f)
        raise LayoutError(tuple(sorted(unique.values(), key=lambda f: (f.line, f.column))))


def line_for(word: str, where: str, known: Collection[str]) -> str:
    """The line to write for a word of the trade; "" for one that is none.

    >>> line_for("faucet", "step", ()), line_for("aqueduct", "step", ())
    ('write ball valve', '')
    >>> line_for("3/4 in elbow", "step", ("elbow",))
    'write elbow; its size is that of the pipe beside it, and no other word goes with it'
    """
    said = " ".join(re.split(r"[\s_-]+", word.lower().strip()))
    lines = catalogue.trade_words().get(where, {})
    for one in (said, said.removesuffix("s")):
        if one in lines:
            return f"write {lines[one]}"
    if where != "step":
        return ""
    tokens = said.split()
    for k in range(1, len(tokens)):
        last = " ".join(tokens[k:])
        if last in known:
            return f"write {last}; its size is that of the pipe beside it, and no other word goes with it"
        if last in lines:
            return f"write {lines[last]}"
    return ""


def _with_value(hint: str, value: Callable[[str], str]) -> str:
    """A line to write with the file's own value in it, where its example stands by itself."""
    found = re.match(r"write ([^:,;]+): (1 in \d+|[\d.]+ [^\s,;]+)(?![^\s,;])", hint)
    own = value(found[1]) if found else ""
    return hint[: found.start(2)] + own + hint[found.end(2) :] if found and own else hint


def _clean(text: str) -> str:
    """The text without tabs, line ends and characters that would move the cursor of a terminal."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else " " if c.isspace() else "\N{REPLACEMENT CHARACTER}" for c in text)
