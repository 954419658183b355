"""The command line. Exit status: 0 nothing worse than advice; 1 at least one finding that fails; 2 not a layout, not
solved, or not understood."""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Sequence
from typing import NoReturn

from . import __version__
from .commands import begin, change, judge, pump, reference
from .errors import PlumblineError
from .threads import one_thread

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status."""
    parser = _parser()
    chosen = parser.parse_args(arguments)
    if not hasattr(chosen, "work"):
        parser.print_help()
        return 2
    try:
        with one_thread():
            status: int = chosen.work(chosen)
        sys.stdout.flush()
        return status
    except PlumblineError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:
        # Whoever reads has closed the pipe; nothing more is to be said, not even at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130


class _Parser(argparse.ArgumentParser):
    """Offers the nearest word for one that it does not know."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong in one sentence, and leave with status 2."""
        found = re.search(r"invalid choice: '(.*)' \(choose from (.*)\)$", message)
        if found is not None:
            from .layout.nearest import nearest_words

            word, known = found[1], re.findall(r"[\w-]+", found[2])
            near = nearest_words(word, known)
            hint = f"Did you mean '{near[0]}'?" if near else f"There are: {', '.join(known)}."
            message = f"'{word}' is not known here. {hint}"
        print(f"{self.prog}: {message} ('{self.prog} --help' tells more)", file=sys.stderr)
        sys.exit(2)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="plumbline",
        description="Checks the plumbing of a small aquaponic system, written down by walking its pipe.",
    )
    parser.add_argument("--version", action="version", version=f"plumbline {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    for group in (begin, judge, pump, change, reference):
        group.add_to(commands)
    return parser
