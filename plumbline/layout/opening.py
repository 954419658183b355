"""How far a valve is open, as people say it: `shut`, `half open`, `40 %`, `30 deg open`, `2 turns of 5`."""

from __future__ import annotations

import math
import re

from ..units import NotAQuantity, quantity
from .nearest import nearest_words

__all__ = ["NotAnOpening", "is_share", "opening_of", "says_opening"]

_OPEN, _SHUT = ("open", "opened"), ("shut", "closed")
_ALONE = {"open": 1.0, "opened": 1.0, "full": 1.0, "on": 1.0, "shut": 0.0, "closed": 0.0, "close": 0.0, "off": 0.0}
_SHARES = {
    "half": 0.5, "halfway": 0.5, "half way": 0.5, "third": 1 / 3, "two thirds": 2 / 3, "quarter": 0.25,
    "three quarters": 0.75, "three quarter": 0.75,
}  # fmt: skip
_FILLING = {"fully", "wide", "completely", "turned", "all", "the", "way", "a"}
"""Words that add nothing beside another."""
_SPEAKS = re.compile(r"\b(half|halfway|quarters?|thirds?|open|opened|shut|closed|partly|partially|throttled|pinched|choked|"
                     r"cracked|ajar|crack|bit|little|max|maximum|min|minimum|midway|locked|stuck|jammed|seized|isolated|o'?clock|notch|notches)\b|\bon/off\b|"
                     r"\d\s*(turns?|deg|%|per ?cent|pct)|^\d+([./]\d+)?(\s|$)")  # fmt: skip
"""By what a text speaks of an opening, though it may not say how far; a number by itself does too."""
_VOCABULARY = ("open", "shut", "closed", "half", "quarter", "third", "three", "turns")
_NUMBERS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8"}
_TURNS = re.compile(r"(?P<turned>[\d./\s½¼¾⅛]+?) ?(turns?)?( (out )?of (?P<most>[\d./\s½¼¾]+?))?( turns?)?")

SHARE = "a share of 0 to 100 %, or shut, quarter, half, open"


class NotAnOpening(ValueError):  # noqa: N818 - it reads as the sentence it carries
    """The text speaks of an opening that cannot be read; the message says what is expected."""


def is_share(text: str) -> bool:
    """Whether a text is a plain number or a percentage."""
    return _ratio(text) is not None


def says_opening(text: str) -> bool:
    """Whether a valve's one plain value says how far it is open, and is not its name."""
    for handle in ("lever", "wheel"):
        try:
            if opening_of(text, handle) is not None:
                return True
        except NotAnOpening:
            continue
    return False


def opening_of(text: str, handle: str) -> float | None:
    """How far a valve is open: 0 shut to 1 open, or a number outside for whoever checks its bounds; None where the text says
    nothing of an opening.

    Parameters:
        handle: "lever", which opens fully in 90°, "wheel", which takes some turns, or "switch", which is open or shut.

    Raises:
        NotAnOpening: where it speaks of an opening but does not say how far, or counted from where.

    >>> [opening_of(text, "lever") for text in ("off", "half-open", "1/4 shut", "40 %", "bed valve")]
    [0.0, 0.5, 0.75, 0.4, None]
    >>> round(opening_of("30 deg open", "lever"), 3), opening_of("2 turns of 5", "wheel")
    (0.333, 0.4)
    """
    low = re.sub(r"(?<=[a-z])-(?=[a-z])", " ", text.lower().replace("°", " deg")).strip(" .")
    said = [word for word in low.split() if word not in _FILLING]
    sides = [word for word in said if word in (*_OPEN, *_SHUT)]
    rest = " ".join(word for word in said if word not in sides)
    share: float | None
    if (
        rest in ("", "off", "on", "full", "close")
        and len({_ALONE[word] for word in said or ["x"] if word in _ALONE}) == 1
    ):
        return _ALONE[said[0]]
    if len(sides) > 1:
        share = None
    elif rest in _SHARES or rest.removeprefix("one ") in _SHARES:
        share = _SHARES[rest if rest in _SHARES else rest.removeprefix("one ")]
    else:
        rest = " ".join(_NUMBERS.get(word, word) for word in rest.split())
        share = _ratio(rest)
        if share is None:
            share = _turned(rest, handle, counted=bool(sides))
    if share is None:
        near = [nearest_words(word, _VOCABULARY) if word not in _FILLING else (word,) for word in low.split()]
        if _SPEAKS.search(low) or (near and all(near)):
            raise NotAnOpening(SHARE)
        return None
    share = 1.0 - share if sides and sides[0] in _SHUT else share
    if handle == "switch" and share not in (0.0, 1.0):
        raise NotAnOpening("open or shut: it is one or the other")
    return share


def _turned(text: str, handle: str, counted: bool) -> float | None:
    """The share that a handle is turned by, in degrees or turns; None where it is neither. `counted` tells that the text says from
    where."""
    try:
        angle = quantity(text, "angle") if "turn" not in text else math.nan
    except NotAQuantity:
        angle = math.nan
    found = _TURNS.fullmatch(text) if "turn" in text else None
    turns, most = (_ratio(found[key] or "") for key in ("turned", "most")) if found else (None, None)
    if handle == "wheel" and (turns is not None or not math.isnan(angle)):
        if turns is None or not most:
            raise NotAnOpening("a share, or how many turns it is open of all that it has, for instance 2 turns of 5")
        return turns / most
    if turns is not None:
        angle = 2.0 * math.pi * turns if most is None else 0.5 * math.pi * turns / (most or math.nan)
    if math.isnan(angle):
        return None
    share = angle / (0.5 * math.pi)
    if not -1e-9 <= share <= 1.0 + 1e-9:
        raise NotAnOpening("0 to 90 deg, a quarter of a turn, as its handle goes")
    if not counted and most is None and abs(share - 0.5) > 1e-9:
        raise NotAnOpening("which way that is counted, for instance 30 deg open (from shut) or 30 deg shut (from open)")
    return min(max(share, 0.0), 1.0)


def _ratio(text: str) -> float | None:
    try:
        return quantity(text, "ratio")
    except NotAQuantity:
        return None
