"""From a layout file to a `Layout`: read as text, said word by word, walked, joined and cut into stretches.

    text ─ source ─▶ nodes ─ read ─▶ statements ─ walk ─▶ walked lines ─ join ─▶ lines and tees ─ pieces ─▶ Layout

Everything wrong with a file is found in one pass and raised together. Each stage goes on with what the one before it
could read, and keeps quiet about what depends on the rest, so that one slip makes one fault.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping
from dataclasses import replace

from ..errors import LayoutError
from . import words
from .faults import Faults
from .join import join
from .model import Layout, Reading, Stated, stated
from .nodes import Node
from .pieces import accesses_of, stretches_of
from .read import read_statements
from .readings import place_readings, read_readings
from .source import read_source, read_text
from .statements import Said
from .values import Values
from .walk import Walked
from .walked import walk_lines, walked_again

__all__ = ["is_visit", "layout_of", "layout_with", "read_layout", "read_visit"]


def read_layout(path: str | os.PathLike[str]) -> Layout:
    """Read a layout file.

    Parameters:
        path: a YAML file in the language of `docs/language.md`.

    Returns:
        The layout, walked and joined, in SI units.

    Raises:
        LayoutError: with every fault of the file, each with its line, column and what was expected.
    """
    return _layout(os.fspath(path), *read_source(path))


def read_visit(path: str | os.PathLike[str], layout: Layout) -> tuple[Reading, ...]:
    """Read a file of a visit: a block of `readings` and nothing else, as a layout may hold one.

    Parameters:
        layout: that the readings are of.

    Raises:
        LayoutError: with every fault of the file.
    """
    _, tree, faults = read_source(path)
    values = Values(faults, layout.units)
    fields = values.fields(tree, words.VISIT, "the visit")
    said = read_readings(None if fields is None else fields.node("readings"), values)
    placed = place_readings(said, layout.lines, layout.vessels, layout.pumps, faults)
    faults.stop()
    return placed


def is_visit(path: str | os.PathLike[str]) -> bool:
    """Tell whether a file is one of a visit: it has `readings` and no `lines`."""
    try:
        _, tree, _ = read_source(path)
    except LayoutError:
        return False
    said = {key.text for key, _ in tree.pairs or ()}
    return "readings" in said and "lines" not in said


def layout_of(text: str, path: str | os.PathLike[str] = "") -> Layout:
    """Read a layout from a text in memory, just as `read_layout` reads it from a file.

    Raises:
        LayoutError: as `read_layout`.

    >>> layout_of("lines: {a: {pipe: pvc 25, from: open air, route: [{down: 1 m}], to: open air}}").lines["a"].length
    1.0
    """
    faults = Faults(os.fspath(path))
    return _layout(os.fspath(path), text, read_text(text, faults), faults)


def layout_with(text: str, path: str, base: Layout, differ: Collection[str], lines: str) -> Layout:
    """Read a text that differs from a layout's in some lines of pipe alone: those are read, and the others taken as they were.

    Parameters:
        text: the whole, as it is now.
        differ: the names of the lines that are otherwise, or gone.
        lines: the text of those that are otherwise, under `lines`.

    Returns:
        The layout that `layout_of` reads, but for the marks that tell where in the file a line stands, and what it is told to leave out.

    Raises:
        LayoutError: as `read_layout`.
    """
    faults = Faults(path)
    try:
        again = walked_again(base.text, differ, lines, faults)
        if again is not None and not faults.found:
            return replace(_joined(path, text, *again, faults), defaults=base.defaults)
    except LayoutError:
        pass  # told by the whole reading, with the places that its faults have in the file
    return layout_of(text, path)


def _layout(path: str, text: str, tree: Node, faults: Faults) -> Layout:
    return _joined(path, text, *walk_lines(read_statements(tree, faults), faults), faults)


def _joined(path: str, text: str, said: Said, walked: Mapping[str, Walked], faults: Faults) -> Layout:
    joined = join(said, walked, faults)
    readings = place_readings(said.readings, joined.lines, said.vessels, said.pumps, faults)
    faults.stop()
    return Layout(
        path=path,
        text=text,
        lines=joined.lines,
        tees=joined.tees,
        accesses=accesses_of(joined.lines, said.vessels, said.limits["arm reach"]),
        stretches=stretches_of(joined.lines),
        defaults=tuple(faults.defaults),
        **stated(Stated, said) | {"readings": readings},
    )
