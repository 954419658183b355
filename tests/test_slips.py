"""Single slips of the pen in the jobs of the trade: each is read or told in plain words, and told at the line that it stands in.

A slip is a letter wrong, a unit off, a value or a line missing, a line indented otherwise, or two lines in each other's place. Invariants.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from plumbline.errors import LayoutError
from plumbline.layout import layout_of

JOBS = sorted((Path(__file__).parent / "jobs" / "trade").glob("*.yaml"))
LETTERS = "abcdefghijklmnopqrstuvwxyz"
UNIT = re.compile(r"(\d[\d.]*)\s*(mm|m2|m|L/h|L/min|gph|GPH|ft2|ft\^2|ft|in|W|deg|L/day|psi)\b")
Slip = tuple[list[str], set[int], str]
"""The lines with the slip, the numbers of those that may be pointed at, and what is missing, if a word is."""


def depth(text: str) -> int:
    return len(text) - len(text.lstrip())


def over(lines: list[str], at: int) -> set[int]:
    """The lines that a line stands under."""
    found, least = set(), depth(lines[at])
    for k in range(at - 1, -1, -1):
        if lines[k].strip() and not lines[k].lstrip().startswith("#") and depth(lines[k]) < least:
            found.add(k)
            least = depth(lines[k])
    return found


def misspelt(lines: list[str], at: int, dice: random.Random) -> Slip | None:
    words = list(re.finditer(r"[A-Za-z]{3,}", lines[at]))
    if not words:
        return None
    word = dice.choice(words)
    k, letter = dice.randrange(len(word[0])), dice.choice(LETTERS)
    said = word[0]
    new = dice.choice([said[:k] + letter + said[k:], said[:k] + said[k + 1 :], said[:k] + letter + said[k + 1 :]])
    return [*lines[:at], lines[at][: word.start()] + new + lines[at][word.end() :], *lines[at + 1 :]], {at}, ""


def unit_off(lines: list[str], at: int, dice: random.Random) -> Slip | None:
    amounts = list(UNIT.finditer(lines[at]))
    if not amounts:
        return None
    one, unit = dice.choice(amounts), dice.choice(["", " kg", " L/min", " degC", " m^2", " mn", " litre", " deg"])
    return [*lines[:at], lines[at][: one.start()] + one[1] + unit + lines[at][one.end() :], *lines[at + 1 :]], {at}, ""


def missing(lines: list[str], at: int, dice: random.Random) -> Slip | None:
    pairs = list(re.finditer(r"([A-Za-z][A-Za-z ]*): ([^,{}\[\]#]+)(, )?", lines[at]))
    if pairs and dice.random() < 0.6:
        one = dice.choice(pairs)
        new = lines[at][: one.start()] + lines[at][one.end() :]
        return [*lines[:at], new, *lines[at + 1 :]], {at, *over(lines, at)}, one[1]
    word = re.split("[:,]", lines[at].strip(" -"))[0]
    return lines[:at] + lines[at + 1 :], {at - 1, at, *over(lines, at)}, word


def indented(lines: list[str], at: int, dice: random.Random) -> Slip | None:
    new = " " * max(0, depth(lines[at]) + dice.choice([-2, -1, 1, 2])) + lines[at].lstrip()
    return None if new == lines[at] else ([*lines[:at], new, *lines[at + 1 :]], {at - 1, at, at + 1}, "")


def swapped(lines: list[str], at: int, dice: random.Random) -> Slip | None:
    if at + 1 >= len(lines) or lines[at] == lines[at + 1]:
        return None
    return [*lines[:at], lines[at + 1], lines[at], *lines[at + 2 :]], {at - 1, at, at + 1, at + 2}, ""


SLIPS: tuple[Callable[[list[str], int, random.Random], Slip | None], ...] = (
    misspelt,
    misspelt,
    unit_off,
    missing,
    indented,
    swapped,
)


def points_right(error: LayoutError, there: set[int], word: str) -> bool:
    said = {one.line - 1 for one in error.faults} | {line - 1 for one in error.faults for line, _ in one.also}
    return bool(said & there) or (bool(word) and any(word in one.found for one in error.faults))


def trials(path: Path, count: int) -> Counter[str]:
    """How many slips in a file were read, told at their line, and told elsewhere."""
    dice, found = random.Random(path.stem), Counter[str]()
    lines = path.read_text(encoding="utf-8").splitlines()
    written = [k for k, line in enumerate(lines) if line.strip() and not line.startswith(("#", "name:"))]
    while found.total() < count:
        slip = dice.choice(SLIPS)(lines, dice.choice(written), dice)
        if slip is None:
            continue
        try:
            layout_of("\n".join(slip[0]))
        except LayoutError as error:
            found["right" if points_right(error, *slip[1:]) else "elsewhere"] += 1
        else:
            found["read"] += 1
    return found


@pytest.mark.invariant
@pytest.mark.parametrize("count", [25, pytest.param(300, marks=pytest.mark.slow)])
def test_a_slip_is_told_at_its_line(count: int) -> None:
    """At least 95 in 100 of those that are told; that none ends in a traceback goes without a number."""
    found = sum((trials(path, count) for path in JOBS), Counter[str]())
    assert found["right"] > 2 * found["read"]
    assert found["elsewhere"] <= 0.05 * (found["right"] + found["elsewhere"])


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("gate valve: wshut", "the gate valve is said to be 'wshut'"),
        ("ball valve: half opne", "the ball valve is said to be 'half opne'"),
        ("ball valve: quater", "the ball valve is said to be 'quater'"),
        ("cap: esat", "the cap is said to face 'esat'"),
        ("strainer: 30 % clogedd", "the strainer is followed by '30 % clogedd'"),
        ("{manifold: {id: a, east: 1 m}}", "the manifold has no 'outlets'"),
        ("{spray bar: {up: 1 m, holes: 4, hole: 6 m}}", "holes as wide as their pipe, pvc 25"),
    ],
)
def test_a_misspelt_value_is_no_name(step: str, said: str) -> None:
    text = f"vessels: {{tank: {{base: 1 m, water: 0.5 m}}}}\nlines:\n  a:\n    pipe: pvc 25\n    from: tank\n    route:\n      - up: 1 m\n      - {step}\n    to: cap\n"
    with pytest.raises(LayoutError, match=re.escape(said)):
        layout_of(text)
