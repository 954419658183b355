"""A layout's text with valves set otherwise: only the openings change; comments, order and all else stay as typed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from ..errors import PlumblineError
from ..streams import shown
from .faults import Faults
from .kinds import plain
from .model import Mark
from .nodes import Node
from .opening import says_opening
from .source import layout_tree

__all__ = ["put_in", "quoted", "set_openings", "set_runs", "set_values", "set_word", "word_edit"]

_IN_BRACES = frozenset(",[]{}")
"""Characters that a plain text may hold outside braces but not inside."""


def set_openings(text: str, openings: Mapping[Mark, float]) -> str:
    """Set the openings of valves in a layout's text.

    Parameters:
        openings: 0 (shut) to 1 (full open) by the mark of the valve's step.

    Returns:
        The text, changed in those places only. Read it again before you trust it: a text that repeats steps by `*name`
        may not allow what is asked for.

    Raises:
        PlumblineError: where a step is not found.

    >>> print(set_openings("- ball valve   # by hand", {Mark(1, 3): 0.5}))
    - ball valve: {opening: 50 %}   # by hand
    """
    steps = _steps(text)
    shares = {mark: f"{round(100.0 * opening, 6):g} %" for mark, opening in openings.items()}
    return _edited(text, [_edit(text, _found(steps.get(mark), mark, "valve"), share) for mark, share in shares.items()])


def set_values(text: str, group: str, word: str, values: Mapping[str, str], what: str) -> str:
    """Set a word of vessels or pumps in a layout's text.

    Parameters:
        group: "vessels" or "pumps".
        word: of their words.
        values: what it says, by name.
        what: it is called in the error, with {} for the name.

    Returns:
        The text, changed in those places only. Read it again before you trust it.

    Raises:
        PlumblineError: where one of that name is not found.

    >>> print(set_values("vessels: {bed: {base: 1 m}}   # old", "vessels", "wants", {"bed": "14 L/min"}, "What '{}' wants"))
    vessels: {bed: {base: 1 m, wants: 14 L/min}}   # old
    """
    things = _value_of(layout_tree(text, Faults("")), group)
    edits = []
    for name, said in values.items():
        thing = _value_of(things, name)
        if thing is None or not thing.pairs:
            raise PlumblineError(f"{what.format(name)} cannot be set in the file: its values were not found there.")
        edits.append(word_edit(text, thing, word, said))
    return _edited(text, edits)


def set_runs(text: str, word: str, values: Mapping[Mark, str]) -> str:
    """Set a word of runs and hoses in a layout's text, by the marks of their steps.

    Raises:
        PlumblineError: where a step is not found.

    >>> print(set_runs("- up: 1 m   # clean", "bore left", {Mark(1, 3): "19 mm"}))
    - bore left: 19 mm
      up: 1 m   # clean
    """
    steps = _steps(text)
    edits = []
    for mark, said in values.items():
        step = _found(steps.get(mark), mark, "pipe")
        if step.pairs and step.pairs[0][1].pairs:
            step = step.pairs[0][1]  # a hose holds its words itself
        edits.append(word_edit(text, _found(step if step.pairs else None, mark, "pipe"), word, said))
    return _edited(text, edits)


def set_word(text: str, word: str, said: str) -> str:
    """Set a word of the whole layout in its text.

    >>> print(set_word("name: Yard   # ours", "fouling", "{film time: 2}"))
    fouling: {film time: 2}
    name: Yard   # ours
    """
    tree = layout_tree(text, Faults(""))
    assert tree is not None
    return _edited(text, [word_edit(text, tree, word, said)])


def put_in(text: str, path: Sequence[str], pair: str) -> str:
    """Put one more value into a group of a layout's text.

    Parameters:
        path: the words and names that lead to the group.
        pair: the word or name, and the value, as they are to stand.

    Returns:
        The text with it. Read it again before you trust it.

    Raises:
        PlumblineError: where there is no such group.

    >>> print(put_in("pumps: {lift: {in: tank}}   # new", ("pumps", "lift"), "height: 5 cm"))
    pumps: {lift: {in: tank, height: 5 cm}}   # new
    """
    group = layout_tree(text, Faults(""))
    for word in path:
        group = _value_of(group, word)
    if group is None or not group.pairs:
        raise PlumblineError(f"Nothing can be put into {' '.join(path)} in the file: it was not found there.")
    start, stop, new = _put_in(text, group, pair)
    return text[:start] + new + text[stop:]


def quoted(name: str) -> str:
    """A name as it may stand in the text, in quotes where it needs them.

    >>> quoted("main cap 4"), quoted("a: b")
    ('main cap 4', "'a: b'")
    """
    if shown(name) != name:
        # What is no text can stand only in double quotes, by its number.
        return '"' + shown(name.replace("\\", r"\\").replace('"', r"\"")) + '"'
    bare = re.fullmatch(r"(?!(?i:yes|no|on|off|true|false|null)$)[A-Za-z]([\w .-]*[\w.])?", name)
    return name if bare else "'" + name.replace("'", "''") + "'"


def _value_of(node: Node | None, word: str) -> Node | None:
    pairs = (node.pairs if node is not None else None) or ()
    return next((value for key, value in pairs if plain(key.text or "") == word), None)


def _steps(text: str) -> dict[Mark, Node]:
    """Every step of a text by its mark, with whatever else stands in a list."""
    steps: dict[Mark, Node] = {}
    waiting = [layout_tree(text, Faults(""))]
    seen: set[int] = set()
    while waiting:
        node = waiting.pop()
        if node is None or id(node) in seen:
            continue
        seen.add(id(node))
        steps.update((item.mark, item) for item in node.items or ())
        waiting += node.items or ()
        waiting += [value for _, value in node.pairs or ()]
    return steps


def _edited(text: str, edits: Iterable[tuple[int, int, str]]) -> str:
    """The text with what stands in some places written anew."""
    for start, stop, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[stop:]
    return text


def word_edit(text: str, group: Node, word: str, said: str) -> tuple[int, int, str]:
    """How to set a word of a group: from where to where, and what is written there, in its place or as one more."""
    old = _value_of(group, word)
    if old is None:
        return (
            _put_in(text, group, f"{word}: {said}") if group.pairs else (group.start, group.stop, f"{{{word}: {said}}}")
        )
    if old.pairs and any(key.start == old.start for key, value in group.pairs or () if value is old):
        # Its words stand beside it: what is written takes their place, unless others stand between.
        if any(old.start < key.start < old.stop for key, _ in group.pairs or ()):
            raise PlumblineError(
                f"'{word}' cannot be set in the file: its words stand apart there; put them into one group."
            )
        said = f"{word}: {said}"
    apart = "" if old.start < old.end or text[old.start - 1 : old.start].isspace() else " "
    return old.start, old.end, f"{apart}{said}"


def _put_in(text: str, group: Node, pair: str) -> tuple[int, int, str]:
    """How to put one more value into a group that has some."""
    assert group.pairs
    if group.flow:
        last = group.pairs[-1][1].end
        return last, last, f", {pair}"
    first = group.pairs[0][0]
    line_end = "\r\n" if "\r\n" in text else "\n"
    return first.start, first.start, f"{pair}{line_end}{' ' * (first.mark.column - 1)}"


def _found(step: Node | None, mark: Mark, what: str) -> Node:
    if step is None:
        raise PlumblineError(f"The {what} on line {mark.line} cannot be set in the file: its step was not found there.")
    return step


def _edit(text: str, step: Node, percent: str) -> tuple[int, int, str]:
    """What to put in place of which piece of the text."""
    if not step.pairs:
        return step.stop, step.stop, f": {{opening: {percent}}}"
    value = step.pairs[0][1]
    if value.text is not None:
        if value.start == value.stop:
            return value.start, value.stop, f" {{opening: {percent}}}"
        if says_opening(plain(value.text)):
            return value.start, value.stop, percent
        name = text[value.start : value.stop]
        if not value.quoted and _IN_BRACES & set(name):
            name = "'" + name.replace("'", "''") + "'"
        return value.start, value.stop, f"{{id: {name}, opening: {percent}}}"
    old = _value_of(value, "opening")
    if old is not None:
        return old.start, old.stop, percent
    if not value.pairs:
        return value.start, value.stop, f"{{opening: {percent}}}"
    return _put_in(text, value, f"opening: {percent}")
