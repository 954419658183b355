"""Values that a careless reader would swallow as names: what could be meant as a value is never a name."""

from __future__ import annotations

import re
from collections.abc import Collection

from .. import catalogue
from ..units import DIMENSIONS, Dimension, NotAQuantity, quantity
from .opening import NotAnOpening, is_share, opening_of
from .words import DIRECTIONS, FITTING_KEYS

__all__ = ["YES", "a_quantity", "no_name"]

YES = ("yes", "true", "on")
"""Words that say that a thing is there; as a name they say no more than the bare fitting."""
_NOTHING = ("no", "false", "none", "off", "null", "~")
_SIDEWAYS = {
    "sideways", "side", "upward", "upwards", "downward", "downwards", "horizontal", "vertical", "level", "left", "right",
    "ahead", "back", "forward", "forwards", "backward", "backwards", "front", "out", "in", "inward", "outward",
}  # fmt: skip
_LEGS = ("tee", "wye", "cross", "three-way valve")
"""Fittings whose value is always the name that other lines join them by."""
_NUMBER = re.compile(r"\s*[-+−.]?\s*(?!\d+(st|nd|rd|th)\b)[\d½¼¾⅛⅜⅝⅞]")
_LOSS = re.compile(r"(k|kv|cv)\s*[=:]?\s*(-?[.\d].*)", re.IGNORECASE)


def a_quantity(text: str) -> Dimension | None:
    """What kind of quantity a text is, with its unit; None where it is none.

    >>> a_quantity("45 deg"), a_quantity("40 %"), a_quantity("v 45")
    ('angle', 'ratio', None)
    """
    if not _NUMBER.match(text):
        return None
    for dimension in DIMENSIONS:
        try:
            quantity(text, dimension)
        except NotAQuantity:
            continue
        return dimension
    return None


def no_name(kind: str, details: Collection[str], text: str) -> str | None:
    """Why a text that stands after a fitting cannot be its name, as a hint of what to write; None where it may be one.

    Parameters:
        details: the words that may stand in its braces.

    >>> no_name("elbow", ("id", "K"), "45 deg"), no_name("elbow", ("id", "K"), "by the door")
    ('for a turn of 45 deg write bend: 45 deg', None)
    """
    low = text.lower()
    if low in _NOTHING:
        return f"leave the {kind} out where there is none"
    if low in YES:
        return f"write {kind}"
    said = re.split(r"[-+\s]+", low)
    if all(word in DIRECTIONS or word in _SIDEWAYS for word in said):
        return f"a {kind} needs no direction: the runs beside it say which way the pipe goes"
    loss = _LOSS.fullmatch(text)
    if loss and is_share(loss[2]):
        return f"write {kind}: {{{'K' if loss[1].lower() == 'k' else 'Kv'}: {loss[2]}}}"
    first, _, rest = text.partition(" ")
    if rest and first.rstrip(":=") in details and first.rstrip(":=") in FITTING_KEYS:
        return f"write {kind}: {{{first.rstrip(':=')}: {rest.lstrip('= ')}}}"
    if text in catalogue.pipes():
        return f"its size is that of the pipe beside it; for another pipe from here on write reducer: {text}, or expander: {text}"
    dimension = a_quantity(text)
    if dimension is None and "%" in text:
        return f"a name goes in braces, {kind}: {{id: {text}}}"
    if dimension == "angle":
        return f"for a turn of {text} write bend: {text}"
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
        return a_quantity(text) is not None or not re.search(r"[a-z]", re.sub(r"\b(half|quarters?|open|shut|closed|turns?|deg)\b",
                                                                             "", text.lower()))  # fmt: skip
