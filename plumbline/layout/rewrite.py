"""A layout's text with valves set otherwise: only the openings change; comments, order and all else stay as typed."""

from __future__ import annotations

from collections.abc import Mapping

import yaml

from ..errors import PlumblineError
from .model import Mark
from .opening import says_opening
from .values import plain

__all__ = ["set_openings", "set_wants"]

_IN_BRACES = frozenset(",[]{}")
"""Characters that a plain text may hold outside braces but not inside."""


def set_openings(text: str, openings: Mapping[Mark, float]) -> str:
    """Set the openings of valves in a layout's text.

    Parameters:
        text: of a layout that can be read.
        openings: 0 (shut) to 1 (full open) by the mark of the valve's step.

    Returns:
        The text, changed in those places only. Read it again before you trust it: a text that repeats steps by `*name`
        may not allow what is asked for.

    Raises:
        PlumblineError: where a step is not found.

    >>> print(set_openings("- ball valve   # by hand", {Mark(1, 3): 0.5}))
    - ball valve: {opening: 50 %}   # by hand
    """
    steps: dict[Mark, yaml.Node] = {}
    waiting = [yaml.compose(text, Loader=yaml.SafeLoader)]
    seen: set[int] = set()
    while waiting:
        node = waiting.pop()
        if node is None or id(node) in seen:
            continue
        seen.add(id(node))
        if isinstance(node, yaml.SequenceNode):
            for item in node.value:
                steps[Mark(item.start_mark.line + 1, item.start_mark.column + 1)] = item
            waiting += node.value
        elif isinstance(node, yaml.MappingNode):
            waiting += [value for _, value in node.value]
    edits = []
    for mark, opening in openings.items():
        if mark not in steps:
            raise PlumblineError(
                f"The valve on line {mark.line} cannot be set in the file: its step was not found there."
            )
        edits.append(_edit(text, steps[mark], _percent(opening)))
    for start, stop, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[stop:]
    return text


def set_wants(text: str, wants: Mapping[str, str]) -> str:
    """Set what vessels want in a layout's text.

    Parameters:
        text: of a layout that can be read.
        wants: a flow with its unit, by the vessel's name.

    Returns:
        The text, changed in those places only. Read it again before you trust it.

    Raises:
        PlumblineError: where a vessel is not found.

    >>> print(set_wants("vessels: {bed: {base: 1 m, water: 0.2 m}}   # the old one", {"bed": "14 L/min"}))
    vessels: {bed: {base: 1 m, water: 0.2 m, wants: 14 L/min}}   # the old one
    """
    vessels = _value_of(yaml.compose(text, Loader=yaml.SafeLoader), "vessels")
    edits = []
    for name, want in wants.items():
        vessel = _value_of(vessels, name)
        if not isinstance(vessel, yaml.MappingNode) or not vessel.value:
            raise PlumblineError(f"What '{name}' wants cannot be set in the file: its values were not found there.")
        old = _value_of(vessel, "wants")
        if old is not None:
            edits.append((old.start_mark.index, old.end_mark.index, want))
        elif vessel.flow_style:
            last = vessel.value[-1][1].end_mark.index
            edits.append((last, last, f", wants: {want}"))
        else:
            first = vessel.value[0][0].start_mark
            line_end = "\r\n" if "\r\n" in text else "\n"
            edits.append((first.index, first.index, f"wants: {want}{line_end}{' ' * first.column}"))
    for start, stop, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[stop:]
    return text


def _value_of(node: yaml.Node | None, word: str) -> yaml.Node | None:
    """The value of a word in a group."""
    if not isinstance(node, yaml.MappingNode):
        return None
    return next((value for key, value in node.value if " ".join(str(key.value).split()) == word), None)


def _percent(opening: float) -> str:
    return f"{round(100.0 * opening, 6):g} %"


def _edit(text: str, step: yaml.Node, percent: str) -> tuple[int, int, str]:
    """What to put in place of which piece of the text."""
    if isinstance(step, yaml.ScalarNode):
        return step.end_mark.index, step.end_mark.index, f": {{opening: {percent}}}"
    value = step.value[0][1]
    start, stop = value.start_mark.index, value.end_mark.index
    if isinstance(value, yaml.ScalarNode):
        if start == stop:
            return start, stop, f" {{opening: {percent}}}"
        if says_opening(plain(value.value)):
            return start, stop, percent
        name = text[start:stop]
        if value.style is None and _IN_BRACES & set(name):
            name = "'" + name.replace("'", "''") + "'"
        return start, stop, f"{{id: {name}, opening: {percent}}}"
    for key, old in value.value:
        if " ".join(key.value.split()) == "opening":
            return old.start_mark.index, old.end_mark.index, percent
    if not value.value:
        return start, stop, f"{{opening: {percent}}}"
    if value.flow_style:
        last = value.value[-1][1].end_mark.index
        return last, last, f", opening: {percent}"
    first = value.value[0][0].start_mark
    line_end = "\r\n" if "\r\n" in text else "\n"
    return first.index, first.index, f"opening: {percent}{line_end}{' ' * first.column}"
