"""The pipe of a line or a run: a size of the catalogue, or a bore with its wall."""

from __future__ import annotations

import re
from functools import cache

from .. import catalogue
from ..catalogue.rows import PipeRow
from ..units import show
from . import words
from .faults import by_nearness
from .kinds import plain
from .model import Pipe
from .nodes import Node
from .statements import UNREAD_PIPE
from .values import Values

__all__ = ["pipe_pattern", "read_pipe"]

ROUGHEST = 0.05
"""Largest roughness in bores: the end of Moody's diagram, beyond which pipe friction is not measured."""


_SAID = {
    **dict.fromkeys(("upvc", "pvc-u", "pvcu"), "pvc"),
    **dict.fromkeys(("hdpe", "mdpe", "ldpe", "poly", "polyethylene"), "pe"),
    **dict.fromkeys(("tubing", "tube"), "hose"),
}
_FILLING = ("pipe", "garden", "rubber", "vinyl", "silicone")
_PARTS = ("/2", "/4", "/8")
_WORD = re.compile(
    r"(?:sch|sdr|dn) ?[\d.]+|pn ?\d+|(?:\d+ )?\d+/\d+(?: in)?|\d+(?:\.\d+)?(?: mm| in)?|[^\W\d][^\W\d-]*(?:-u)?"
)


def _words(name: str) -> tuple[str, ...]:
    """A pipe's name as its words in one order, each as the catalogue has it; a size, a schedule or a class is one word.

    >>> _words('3/4" schedule 40 PVC') == _words("pvc sch 40 3/4 in"), _words("garden hose 19mm")
    (True, ('19 mm', 'hose'))
    """
    text = re.sub(r"\b(?:schedule|sch)\.?(?=\W|\d)\s*", "sch ", catalogue.normal(name))
    said = [text] if _WORD.sub("", text).strip() else _WORD.findall(text)
    known = (f"{word} in" if word.endswith(_PARTS) else _SAID.get(word, word) for word in said if word not in _FILLING)
    return tuple(sorted(dict.fromkeys(known)))


@cache
def _by_words() -> dict[tuple[str, ...], list[str]]:
    found: dict[tuple[str, ...], list[str]] = {}
    table = catalogue.pipes()
    for spelling in table.words:
        names = found.setdefault(_words(spelling), [])
        if table[spelling].name not in names:
            names.append(table[spelling].name)
    return found


def in_any_order(name: str) -> PipeRow | None:
    """The catalogue's one pipe whose name has the same words, in whatever order; None where there is none, or more than one.

    >>> row = in_any_order('3/4" sch 40 pvc')
    >>> row and row.name, in_any_order("1 in dwv")
    ('pvc 3/4 in sch 40', None)
    """
    names = _by_words().get(_words(name), [])
    return catalogue.pipes()[names[0]] if len(names) == 1 else None


_INCHES = r"[\"½¼¾″”]|[0-9][./-][0-9]|[0-9] ?[Ii]nch"


def pipe_pattern() -> str:
    """A regular expression that pipes' names have by their look, their words in any order: what it is of, with a size of the catalogue or one
    in inches; or DN."""
    said = {word for names in _by_words() for word in names}
    of = [*_SAID, *(word for word in said if word.isalpha() and word not in ("in", "mm"))]
    letters = ("".join(f"[{one.upper()}{one}]" if one.isalpha() else one for one in word) for word in sorted(of))
    sizes = sorted({word.partition(" ")[0] for word in said if word[0].isdigit()})
    size = rf"(^|[^0-9./])({'|'.join(map(re.escape, sizes))})($|[^0-9./])"
    return rf"^(?=.*({'|'.join(letters)}))(?=.*({_INCHES}|{size})).*$|^([Pp][Vv][Cc] )?[Dd][Nn] ?[0-9]+.*$"


def read_pipe(node: Node, values: Values) -> Pipe:
    """Read a pipe; UNREAD_PIPE, and a fault, where it cannot be read."""
    faults = values.faults
    if node.is_nothing:
        return UNREAD_PIPE  # the empty value was noted by whoever read its key
    if node.text is not None:
        word = plain(node.text)
        table = catalogue.pipes()
        row = table[word] if word in table else in_any_order(word)
        if row is None:
            near = ", ".join(by_nearness(word, table, 8))
            some = f"a pipe of the catalogue: {near}, … ({len(table)} in all); or {{bore: 26 mm, material: pvc}}"
            if word.lower().startswith("clear ") and in_any_order(word[5:]):
                hint = f"write pipe: {word[5:].strip()}, and clear: yes on its runs"
                faults.add(node.mark, f"unknown pipe '{word}'", "its size", hint=hint)
                return UNREAD_PIPE
            faults.unknown(node.mark, word, "pipe", table, expected=some)
            return UNREAD_PIPE
        return Pipe(row.name, row.bore, catalogue.materials()[row.material].roughness, row.outside, row.material)
    got = values.fields(node, words.PIPE, "the pipe")
    if got is None:
        return UNREAD_PIPE
    bore, roughness, outside = got.numbers("bore", "roughness", "outside")
    material = None
    if (said := got.node("material")) is not None:
        material, known = values.text(said, "material", "a material of the catalogue"), catalogue.materials()
        if material is None:
            return UNREAD_PIPE
        if material not in known:
            faults.unknown(said.mark, material, "material", known)
            return UNREAD_PIPE
        material = known[material].name
    if bore is None or any(word in got and got.number(word) is None for word in ("roughness", "outside")):
        return UNREAD_PIPE
    size = show(bore, "size", values.units, decimals=1).replace(".0 ", " ")
    if outside is not None and outside <= bore:
        found = f"an outside of {got['outside'].node.text} on a bore of {size}"
        faults.add(got["outside"].mark, found, "an outside larger than the bore", also=[got["bore"].mark])
        return UNREAD_PIPE
    if roughness is None:
        if material is None:
            material = "pvc"
            faults.left_out(f"pipe of {size} bore", "the roughness of pvc", "its material left out")
        roughness = catalogue.materials()[material].roughness
    if roughness > ROUGHEST * bore:
        expected = "at most 5 % of the bore, as far as pipe friction has been measured"
        faults.add(node.mark, f"a wall as rough as {roughness / bore:.0%} of the bore", expected)
        return UNREAD_PIPE
    return Pipe(f"{size} bore", bore, roughness, outside, material)
