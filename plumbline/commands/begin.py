"""Commands that begin a layout: a typical one, or one for so many fish and plants."""

from __future__ import annotations

import argparse
import sys

from .options import Commands, answer, asked_for

__all__ = ["add_to"]


def add_to(commands: Commands) -> None:
    """Add these commands to the parser."""
    new = commands.add_parser(
        "new", help="a commented layout of a typical system, to change: asks, or takes the options below"
    )
    new.add_argument("-o", metavar="NEW.yaml", dest="new", required=True, help="the layout to write")
    new.add_argument(
        "--system",
        choices=("beds", "filter", "raft", "manifold", "whole"),
        help="two beds and gravity return; overflow through a filter; that into a raft bed; one pump with a manifold; "
        "fish tank, filter, bed and sump",
    )
    new.add_argument("--name", help="of the layout")
    new.add_argument("--flow", metavar="FLOW", help="to each bed, or through the chain, for instance '15 L/min'")
    new.add_argument(
        "--distance", metavar="LENGTH", help="along the pipe from pump to beds, or between beds on a manifold"
    )
    new.add_argument("--height", metavar="LENGTH", help="of the beds' floor above the ground")
    new.add_argument("--beds", metavar="NUMBER", help="on a manifold")
    new.set_defaults(work=_new)

    size = commands.add_parser("size", help="from fish and plants to feed, stock, flow, oxygen and water used")
    size.add_argument("file", metavar="FILE", nargs="?", help="a file with a wish; it may be a whole layout")
    for word, key in _wish_options().items():
        size.add_argument(f"--{word.replace(' ', '-')}", metavar=f"'{key[0]}'", dest=f"wish {word}", help=key[1])
    size.add_argument("--all", action="store_true", help="also show where every number comes from")
    size.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    size.add_argument(
        "-o",
        metavar="NEW.yaml",
        dest="new",
        help="write those wants into a new file: the layout's own, or a first layout where there is none",
    )
    size.set_defaults(work=_size)


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
    said = {word: text for word in _wish_options() if (text := getattr(chosen, f"wish {word}")) is not None}
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


def _wish_options() -> dict[str, tuple[str, str]]:
    """What a wish may say on the command line, with an example and its meaning."""
    from ..layout import words

    taken = {**words.WISH, "water": words.WATER["temperature"], "altitude": words.LAYOUT["altitude"]}
    return {word: (key.example, key.says.replace("%", "%%")) for word, key in taken.items()}
