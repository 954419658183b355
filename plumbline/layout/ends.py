"""Where a line begins or ends, as the file states it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from . import words
from .faults import Faults
from .kinds import plain
from .model import Mark, Siphon, Weir
from .names import Names
from .nodes import Node
from .opening import YES, no_name
from .statements import EndSaid
from .values import Fields, Values

__all__ = ["EXPECTED", "read_end"]

EXPECTED = "a vessel, a pump, a tee, cap, plug, open air, or {draws: 2 L/min}"


def read_end(node: Node, what: str, values: Values, names: Names, mark: Mark) -> EndSaid | None:
    """Read an end; None, and a fault, where it cannot be read. `mark` is the place of its key."""
    faults = values.faults
    if node.is_nothing or (node.text is not None and not node.text.strip()):
        faults.add(mark, f"the {what} is left empty", EXPECTED)
        return None
    if node.text is not None:
        return _in_a_word(node, plain(node.text), what, values, names)
    if node.items:
        each = [read_end(item, what, values, names, item.mark) for item in node.items]
        ends = tuple(end for end in each if end is not None)
        return EndSaid(node.mark, each=ends) if len(ends) == len(each) else None
    if node.pairs is None:
        faults.unread(node)
        faults.add(node.mark, f"the {what} is {node.what}", f"just one of: {EXPECTED}")
        return None
    got = values.fields(node, words.END, f"the {what}")
    if got is None:
        return None
    kinds = [word for word in words.END_KINDS if word in got]
    if len(kinds) == 1:
        return _in_a_group(node, kinds[0], got, what, values, names)
    faults.unread(node)
    if got.complete or kinds:
        said = f"is both a {kinds[0]} and a {kinds[1]}" if kinds else f"is {node.what}"
        faults.add(node.mark, f"the {what} {said}", f"just one of: {EXPECTED}")
    return None


def _in_a_word(node: Node, word: str, what: str, values: Values, names: Names) -> EndSaid | None:
    """An end said by one word: open air, a plug, a cap with or without its name, or the name of something."""
    kind = None if word in names.taken else words.fitting_called(word)
    if word == "open air" or kind == "plug":
        return EndSaid(node.mark, kind=kind or word)
    if word.startswith("cap ") or kind == "cap":
        said = word[4:] if word.startswith("cap ") else ""
        return EndSaid(node.mark, kind="cap", name=_cap_name(said, node, values, names))
    if word.startswith("draws "):
        values.faults.unread(node)
        hint = f"write {{{word.replace(' ', ': ', 1)}}}"
        values.faults.add(node.mark, f"the {what} is '{word}'", EXPECTED, hint=hint)
        return None
    return EndSaid(node.mark, word=word)


_ONLY = {
    **{word: (("vessel",), f"'{word}' only where it means something: with a vessel") for word in words.HEIGHTS},
    "height": (
        ("vessel", "open air", "draws", "supply", "plug", "cap"),
        "'height' only where it means something: with a vessel",
    ),
    "room": (
        ("vessel", "cap", "open air"),
        "'room' only in front of an opening: in a vessel, with a cap or open air",
    ),
    "buried": (
        ("vessel", "open air"),
        "'buried' only with a vessel or open air; on a run for pipe in the ground",
    ),
    "float valve": (("vessel",), "'float valve' only where the line ends in a vessel"),
}
"""Words that only some kinds of end have, with those, and what is expected."""

_WANTS = {
    "pulls out": (
        ("standpipe", "siphon"),
        "'pulls out' without a standpipe",
        "'standpipe' too, with the height of its crest",
    ),
    "sleeve": (("standpipe",), "a sleeve without a standpipe", "'standpipe' too: a sleeve stands around one"),
}
"""Words that want one of some others beside them, what is told where it is wanting, and what is expected."""


def _in_a_group(node: Node, kind: str, got: Fields, what: str, values: Values, names: Names) -> EndSaid | None:
    """An end of a kind, with what is said of it."""
    faults = values.faults
    stands = "standpipe" in got or "siphon" in got
    heights = [word for word in words.HEIGHTS if word in got]
    height = got[heights[0]].number if heights else None
    _go_together(kind, got, heights, faults)
    weir = _weir(got, faults)
    sound = [
        got.complete,
        *(got[word].value is not None for word in (kind, *heights)),
        _over_the_floor(kind, got, faults),
        _siphon_stands(got, height, faults),
        weir is not None or not ("notch" in got or "weir" in got),
        _valve_turns(got, what, faults),
    ]
    name = got[kind].text if kind not in ("plug", "open air") else None
    if kind == "cap":
        name = _cap_name(name or "", got[kind].node, values, names)
    if not all(sound):
        faults.unread(node)
        return None
    return EndSaid(
        node.mark,
        kind="draw" if kind in ("draws", "supply") else kind,
        name=name,
        height=height,
        standpipe=stands or weir is not None,
        overflow="overflow" in got,
        sleeve=got.number("sleeve") if "standpipe" in got else None,
        draw=(got.number("draws") or 0.0) - (got.number("supply") or 0.0),
        loss=got.number("K"),
        room=got.number("room"),
        buried="buried" in got,
        siphon=Siphon(got.number("breaks") or 0.0, got.number("bell")) if "siphon" in got else None,
        supply=kind == "supply",
        weir=weir,
        pulls_out="pulls out" in got and stands,
        outlets=int(got.number("outlets") or 0),
        at_least=got.number("at least") or 0.0,
        float_valve=got.number("float valve") if kind == "vessel" else None,
    )


def _go_together(kind: str, got: Fields, heights: Sequence[str], faults: Faults) -> None:
    """Tell of words that do not go with the kind of end, or with each other."""
    at = {"draws": "a draw", "open air": kind}.get(kind, f"a {kind}")
    for word, (kinds, expected) in _ONLY.items():
        if word in got and kind not in kinds:
            said = "a float valve" if word == "float valve" else f"'{word}'"
            faults.add(got[word].mark, f"{said} with {at}", expected)
    for word, (others, found, expected) in _WANTS.items():
        if word in got and not any(other in got for other in others):
            faults.add(got[word].mark, found, expected)
    if len(heights) > 1:
        first, other = (f"{'an' if word == 'overflow' else 'a'} {word}" for word in heights[:2])
        faults.add(got[heights[1]].mark, f"both {first} and {other}", "one of them", also=[got[heights[0]].mark])
    if "pulls out" in got and "buried" in got:
        expected = "one of them: where a guard keeps the gravel off it, no gravel lies over it"
        also = [got["pulls out"].mark]
        faults.add(got["buried"].mark, "a standpipe that pulls out and is buried", expected, also=also)


def _over_the_floor(kind: str, got: Fields, faults: Faults) -> bool:
    """Whether a port stands no lower than its vessel's floor."""
    if kind != "vessel" or (got.number("height") or 0.0) >= 0.0:
        return True
    height = got["height"]
    faults.add(height.mark, f"'height' is {height.node.text}", "a value not below 0, which is the vessel's floor")
    return False


def _weir(got: Fields, faults: Faults) -> Weir | None:
    """The wall that water runs over at an end, if one is said; None too where it cannot be read."""
    said = next((word for word in ("notch", "weir") if word in got), None)
    sizes = [word for word in ("width", "angle") if word in got]
    if said is None:
        expected = "'notch' or 'weir' too, with the height of its crest"
        for word in sizes:
            faults.add(got[word].mark, f"'{word}' without a notch or a weir", expected)
        return None
    if sizes not in ((["width"],) if said == "weir" else (["width"], ["angle"])):
        found = "with both a width and an angle" if len(sizes) > 1 else "that does not say how wide it is"
        wants = "'width'" if said == "weir" else "'width', or the 'angle' of a V-notch"
        expected = f"{wants}, for instance {{vessel: tank, {said}: 0.2 m, width: 100 mm}}"
        faults.add(got[said].mark, f"a {said} {found}", expected)
        return None
    size = got[sizes[0]].number
    if size is None:
        return None
    if sizes == ["angle"]:
        return Weir(0.2 * math.tan(size / 2.0), angle=size)
    return Weir(size, whole=said == "weir")


def _siphon_stands(got: Fields, crest: float | None, faults: Faults) -> bool:
    """Whether a siphon says where it breaks, and under its crest."""
    for word in ("breaks", "bell"):
        if word in got and "siphon" not in got:
            faults.add(got[word].mark, f"'{word}' without a siphon", "'siphon' too, with the height of its crest")
            return False
    if "siphon" not in got:
        return True
    siphon = got["siphon"].mark
    if "breaks" not in got:
        expected = "'breaks' with the height above the floor at which it lets go, for instance breaks: 0.05 m"
        faults.add(siphon, "a siphon that does not say where it breaks", expected)
        return False
    breaks = got["breaks"].number
    if breaks is not None and crest is not None and breaks >= crest:
        found = f"the siphon breaks at {got['breaks'].node.text}, no lower than its crest"
        faults.add(got["breaks"].mark, found, "a height under the crest's", also=[siphon])
        return False
    return breaks is not None


def _valve_turns(got: Fields, what: str, faults: Faults) -> bool:
    """Whether an indexing valve stands at the end of its feed, and says how many outlets it has."""
    for word in ("outlets", "at least"):
        if word in got and "indexing valve" not in got:
            faults.add(got[word].mark, f"'{word}' without an indexing valve", "'indexing valve' too, with its name")
            return False
    if "indexing valve" not in got:
        return True
    mark = got["indexing valve"].mark
    if what.startswith("start"):
        expected = (
            "its name and the number of the outlet, for instance from: turner 1; the valve stands where its feed ends"
        )
        faults.add(mark, f"the {what} is an indexing valve", expected)
        return False
    if "outlets" not in got:
        found = "an indexing valve that does not say how many outlets it has"
        faults.add(mark, found, "'outlets', for instance outlets: 6")
        return False
    return got["outlets"].number is not None


def _cap_name(said: str, node: Node, values: Values, names: Names) -> str:
    """The name of a cap at a line's end: `yes` only says that it is there, and no other value is a name."""
    if said.lower() in YES:
        said = ""
    hint = no_name("cap", ("id", "faces", "room", "K"), said) if said else None
    if hint is not None:
        hint = "a cap at a line's end opens straight out of the pipe" if "direction" in hint else ""
        values.faults.add(node.mark, f"the cap is called '{said}'", "a name with a letter in it, or none", hint=hint)
    return names.take("cap", said or None, node.mark)
