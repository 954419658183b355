"""The commands: each a few lines from a chosen file to a view of what was found. They load what they need when they run."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from typing import Any

from ..catalogue.reading import data
from . import change, judge, options

__all__ = ["add_to"]

WORK = {**judge.WORK, **change.WORK}


def add_to(parser: argparse.ArgumentParser) -> None:
    """Add every command to the program's parser, as the catalogue has it."""
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    table = data("commands.yaml")
    usual = table["usual"]
    for name, told in table.items():
        if name == "usual":
            continue
        one = commands.add_parser(name, help=told["says"])
        for word, given in told.get("takes", {}).items():
            for argument, details in _wish() if word == "wish" else [(word, usual[word] if given is None else given)]:
                _add(one, argument, details)
        one.set_defaults(work=WORK[name])


def _wish() -> Iterator[tuple[str, Mapping[str, str]]]:
    for word, (example, says) in options.wish_options().items():
        yield f"--{word.replace(' ', '-')}", {"metavar": f"'{example}'", "dest": f"wish {word}", "help": says}


def _add(parser: argparse.ArgumentParser, word: str, given: str | Mapping[str, Any]) -> None:
    """Add one argument; a per cent sign means nothing in its help."""
    details: dict[str, Any] = {"action": "store_true", "help": given} if isinstance(given, str) else dict(given)
    if "help" in details:
        details["help"] = details["help"].replace("%", "%%")
    if "type" in details:
        details["type"] = options.READERS[details["type"]]
    parser.add_argument(word, **details)
