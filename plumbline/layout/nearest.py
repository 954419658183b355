"""The valid words nearest to a mistyped one: offered to the user, never taken in its place."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

__all__ = ["by_nearness", "nearest_words"]


def nearest_words(word: str, words: Iterable[str]) -> tuple[str, ...]:
    """Return up to three words that may be meant, the likeliest first.

    Spaces, hyphens and case do not count. A slip is a letter added, left out, wrong, or swapped with its neighbour:
    one in a short word, two from five letters on, three from nine. A word may also stand for a longer one that begins
    with it or that has it as one of its words.

    >>> nearest_words("elbo", ["elbow", "sweep", "tee"]), nearest_words("pvc25", ["pvc 20", "pvc 25"])
    (('elbow',), ('pvc 25',))
    >>> nearest_words("gate", ["gate valve", "ball valve"]), nearest_words("aqueduct", ["elbow", "tee"])
    (('gate valve',), ())
    """
    known = list(dict.fromkeys(words))
    said = _bare(word)
    if not said:
        return ()
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
