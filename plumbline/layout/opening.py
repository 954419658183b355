"""What a word after a fitting means: how far a valve is open, as people say it (`shut`, `half open`, `40 %`, `30 deg open`, `2 turns of 5`), and what
could be meant as a value and so is never a name.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection

from .. import catalogue
from ..units import DIMENSIONS, Dimension, as_quantity
from .faults import nearest_words
from .words import DIRECTIONS, FITTING_KEYS

__all__ = ["NOTHING", "YES", "NotAnOpening", "a_quantity", "is_share", "no_name", "opening_of", "says_opening"]

_OPEN, _SHUT = ("open", "opened"), ("shut", "closed")
_ALONE = {"open": 1.0, "opened": 1.0, "full": 1.0, "on": 1.0, "shut": 0.0, "closed": 0.0, "close": 0.0, "off": 0.0}
_SHARES = {
    **dict.fromkeys(("half", "halfway", "half way"), 0.5),
    **{"third": 1 / 3, "two thirds": 2 / 3, "quarter": 0.25, "three quarters": 0.75, "three quarter": 0.75},
}
_FILLING = {"fully", "wide", "completely", "turned", "all", "the", "way", "a"}
"""Words that add nothing beside another."""
_SPEAKS = re.compile(
    r"\b(half|halfway|quarters?|thirds?|open|opened|shut|closed|partly|partially|throttled|pinched|choked|"
    r"cracked|ajar|crack|bit|little|max|maximum|min|minimum|midway|locked|stuck|jammed|seized|isolated|o'?clock|notch|notches|normally)\b|\bon/off\b|^n[./]?[co]\.?$|"
    r"\d\s*(turns?|deg|%|per ?cent|pct)|^\d+([./]\d+)?(\s|$)"
)
"""By what a text speaks of an opening, though it may not say how far; a number by itself does too."""
_VOCABULARY = ("open", "shut", "closed", "half", "quarter", "third", "three", "turns")
_NUMBERS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8"}
_TURNS = re.compile(r"(?P<turned>[\d./\s½¼¾⅛]+?) ?(turns?)?( (out )?of (?P<most>[\d./\s½¼¾]+?))?( turns?)?")

SHARE = "a share of 0 to 100 %, or shut, quarter, half, open"


class NotAnOpening(ValueError):  # noqa: N818 - it reads as the sentence it carries
    """The text speaks of an opening that cannot be read; the message says what is expected."""


def is_share(text: str) -> bool:
    """Whether a text is a plain number or a percentage."""
    return as_quantity(text, "ratio") is not None


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
        share = as_quantity(rest, "ratio")
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
    angle = as_quantity(text, "angle") if "turn" not in text else None
    found = _TURNS.fullmatch(text) if "turn" in text else None
    turns, most = (as_quantity(found[key] or "", "ratio") for key in ("turned", "most")) if found else (None, None)
    if handle == "wheel" and (turns is not None or angle is not None):
        if turns is None or not most:
            raise NotAnOpening("a share, or how many turns it is open of all that it has, for instance 2 turns of 5")
        return turns / most
    if turns is not None:
        angle = 2.0 * math.pi * turns if most is None else 0.5 * math.pi * turns / (most or math.nan)
    if angle is None:
        return None
    share = angle / (0.5 * math.pi)
    if not -1e-9 <= share <= 1.0 + 1e-9:
        raise NotAnOpening("0 to 90 deg, a quarter of a turn, as its handle goes")
    if not counted and most is None and abs(share - 0.5) > 1e-9:
        raise NotAnOpening(f"which way that is counted: {text} open (from shut) or {text} shut (from open)")
    return min(max(share, 0.0), 1.0)


YES = ("yes", "true", "on")
"""Words that say that a thing is there; as a name they say no more than the bare fitting."""
NOTHING = ("no", "false", "none", "off", "null", "~")
_SIDEWAYS = re.compile(
    r"sideways|side|(up|down|for|back)wards?|(in|out)(ward)?|horizontal|vertical|level|left|right|ahead|back|front"
)
_LEGS = ("tee", "wye", "cross", "three-way valve")
"""Fittings whose value is always the name that other lines join them by."""
_NUMBER = re.compile(r"\s*[-+−.]?\s*(?!\d+(st|nd|rd|th)\b)[\d½¼¾⅛⅜⅝⅞]")
_LOSS = re.compile(r"(k|kv|cv)\s*[=:]?\s*(-?[.\d].*)", re.IGNORECASE)


def a_quantity(text: str) -> Dimension | None:
    """What kind of quantity a text is, with its unit; None where it is none.

    >>> a_quantity("45 deg"), a_quantity("40 %"), a_quantity("v 45")
    ('angle', 'ratio', None)
    """
    known = DIMENSIONS if _NUMBER.match(text) else ()
    return next((dimension for dimension in known if as_quantity(text, dimension) is not None), None)


def no_name(kind: str, details: Collection[str], text: str) -> str | None:
    """Why a text that stands after a fitting cannot be its name, as a hint of what to write; None where it may be one.

    Parameters:
        details: the words that may stand in its braces.

    >>> no_name("elbow", ("id", "K"), "45 deg"), no_name("elbow", ("id", "K"), "by the door")
    ('for a turn of 45 deg write bend: 45 deg', None)
    """
    low = text.lower()
    if low in NOTHING:
        name = f"; bare it means no, and as a name it stands in quotes, {kind}: '{text}'" if text.isalpha() else ""
        return f"leave the {kind} out where there is none{name}"
    if low in YES:
        return f"write {kind}"
    if not any(letter.isalnum() for letter in text):
        return f"write {kind}, or {kind}: {kind[0]}1 for its name"
    said = re.split(r"[-+\s]+", low)
    if all(word in DIRECTIONS or _SIDEWAYS.fullmatch(word) for word in said):
        return f"a {kind} needs no direction: the runs beside it say which way the pipe goes"
    stated = _LOSS.fullmatch(text)
    if stated and is_share(stated[2]):
        return f"write {kind}: {{{'K' if stated[1].lower() == 'k' else 'Kv'}: {stated[2]}}}"
    first, _, rest = text.partition(" ")
    if rest and first.rstrip(":=") in details and first.rstrip(":=") in FITTING_KEYS:
        return f"write {kind}: {{{first.rstrip(':=')}: {rest.lstrip('= ')}}}"
    if text in catalogue.pipes():
        return f"its size is that of the pipe beside it; for another pipe from here on write reducer: {text}, or expander: {text}"
    loss, at, flow = re.sub(r"\s*(@|\bat\b)\s*", "@", text).partition("@")
    if at and a_quantity(loss) and a_quantity(flow):
        return f"a {kind} takes no loss at a flow; write {kind}"
    dimension = a_quantity(text)
    if dimension is None and "%" in text:
        return f"a name goes in braces, {kind}: {{id: {text}}}"
    if dimension == "angle":
        return f"for a turn of {text} write bend: {text}"
    if dimension == "length" and not is_share(text):
        return f"its size is that of the pipe beside it: write {kind}; a name goes in braces, {kind}: {{id: {text}}}"
    if dimension is not None and not is_share(text):
        return f"a name goes in braces, {kind}: {{id: {text}}}"
    if not {"opening", *_LEGS} & {kind, *details} and _speaks_of_opening(text):
        return f"a {kind} has no opening; a name goes in braces, {kind}: {{id: {text}}}"
    return None


def _speaks_of_opening(text: str) -> bool:
    """Whether a text is nothing but an opening."""
    try:
        return opening_of(text, "lever") is not None and not is_share(text)
    except NotAnOpening:
        return a_quantity(text) is not None or not re.search(
            r"[a-z]", re.sub(r"\b(half|quarters?|open|shut|closed|turns?|deg)\b", "", text.lower())
        )
