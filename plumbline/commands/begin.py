"""Commands that begin a layout: a typical one, or one for so many fish and plants."""

from __future__ import annotations

import argparse
import sys

from .options import answer, asked_for, wish_options

__all__ = ["WORK"]


def _new(chosen: argparse.Namespace) -> int:
    from ..files import new_file
    from ..start import begin
    from ..start.asking import wish_from

    file = new_file(chosen.new, "layout")
    asks = sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()
    given = {key: getattr(chosen, key) for key in ("system", "name", "flow", "distance", "height", "beds")}
    if given["name"] is not None:
        # Bytes that are no letters come from the command line as halves of letters.
        given["name"] = given["name"].encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    file.write(begin(wish_from(given, ask=asks)))
    print(f"'{chosen.new}' is written; it checks clean. 'plumbline check {chosen.new}' tells about it.")
    return 0


def _size(chosen: argparse.Namespace) -> int:
    from ..husbandry import size
    from ..husbandry.read import read_wish
    from ..report.size import size_as_json, size_view

    file = asked_for(chosen.new, "layout", chosen)
    said = {word: text for word in wish_options() if (text := getattr(chosen, f"wish {word}")) is not None}
    asked = read_wish(chosen.file, said)
    found = size(asked.wish, asked.units)
    first = None
    if file is not None and asked.layout is not None:
        from ..write import write_wants

        write_wants(asked, found, file)
    elif file is not None:
        from ..start import begin_sized

        first = begin_sized(asked, found)
        file.write(first.text)
    return answer(
        chosen,
        lambda: size_as_json(asked, found, first),
        lambda: size_view(asked, found, sources=chosen.all, first=first, written=chosen.new),
    )


WORK = {"new": _new, "size": _size}
"""What does the work of each."""
