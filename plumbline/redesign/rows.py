"""Changes to lines of a row, which the file writes once for all of them: each is made in every one, in the text once, and priced for all."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace

from ..layout.model import Layout
from .change import Change, Edit
from .script import read_script, row_of

__all__ = ["in_rows", "rows_of"]


def rows_of(layout: Layout) -> dict[str, tuple[str, ...]]:
    """The lines of each row, by the name that the file has for all of them."""
    script, found = read_script(layout.text), defaultdict[str, list[str]](list)
    for name in layout.lines:
        if name not in script.lines and row_of(name) in script.lines:
            found[row_of(name)].append(name)
    return {row: tuple(names) for row, names in found.items()}


def in_rows(layout: Layout, changes: Iterable[Change]) -> tuple[Change, ...]:
    """Give changes as they are made: one to a line of a row in all of the row, and once where its neighbours ask for the same. What would be done to one
    of a row and to another line at once is left out: the others would be another than it then."""
    rows = rows_of(layout)
    return tuple(dict.fromkeys(_made(layout, changes, rows))) if rows else tuple(changes)


def _made(layout: Layout, changes: Iterable[Change], rows: dict[str, tuple[str, ...]]) -> Iterator[Change]:
    for change in changes:
        lines = {edit.line for edit in change.edits}
        row = row_of(change.line)
        if change.row or not any(row_of(line) in rows and line in rows[row_of(line)] for line in lines):
            yield change
        elif lines == {change.line}:
            yield _in_all(layout, change, row, rows[row])


def _in_all(layout: Layout, change: Change, row: str, lines: tuple[str, ...]) -> Change:
    """A change to one line of a row made in all of them. What is numbered with the line in its words and texts is so in each of them."""
    line, count = layout.lines[change.line], len(lines)
    number = change.line.rpartition(" ")[2]
    own = {change.line, *(end.name for end in (line.start, line.end) if end.name)}

    def said(text: str) -> str:
        for name in own:
            base, _, last = name.rpartition(" ")
            text = text.replace(name, base) if last == number else text
        return re.sub(rf"'([^']+) {number}'", r"'\1'", text)

    edits = [
        Edit(edit.op, other, edit.step, tuple(map(said, edit.texts)), edit.at, edit.sides)
        for other in lines
        for edit in change.edits
    ]
    return replace(
        change,
        line=lines[0],
        words=f"{said(change.words)}: {count} times, in each of the row",
        note=said(change.note),
        edits=tuple(edits),
        money=round(count * change.money, 2),
        minutes=count * change.minutes,
        access=said(change.access),
        row=row,
    )
