"""The command line. Exit status: 0 nothing worse than advice; 1 at least one finding that fails; 2 not a layout, not
solved, or not understood; 3 the program itself is at fault."""

from __future__ import annotations

import argparse
import os
import re
import sys
import traceback
from collections.abc import Sequence
from contextlib import suppress
from typing import NoReturn

from . import __version__
from .commands import add_to
from .errors import PlumblineError
from .streams import own_streams
from .threads import one_thread

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status. Whatever happens, the user gets a sentence and never a traceback."""
    with own_streams():
        try:
            status = _run(arguments)
            sys.stdout.flush()
            return status
        except PlumblineError as error:
            return _ended(str(error), 2)
        except EOFError:
            return _ended("stopped: no answer came", 2)
        except KeyboardInterrupt:
            return _ended("stopped", 130)
        except Exception as error:
            return _ended(_own_fault(error), 3)


def _run(arguments: Sequence[str] | None) -> int:
    parser = _parser()
    try:
        chosen = parser.parse_args(arguments)
    finally:
        sys.stdout.flush()
    if not hasattr(chosen, "work"):
        parser.print_help()
        return 2
    with one_thread():
        status: int = chosen.work(chosen)
    return status


def _ended(sentence: str, status: int) -> int:
    with suppress(PlumblineError):
        sys.stdout.flush()
    print(sentence, file=sys.stderr)
    sys.stderr.flush()
    return status


def _own_fault(error: Exception) -> str:
    """One sentence on what nobody foresaw, with the place in the program, and what to do with it."""
    own = os.path.dirname(__file__)
    frames = [frame for frame in traceback.extract_tb(error.__traceback__) if frame.filename.startswith(own)]
    where = f"{os.path.basename(frames[-1].filename)} line {frames[-1].lineno}" if frames else "a library"
    kind = type(error).__name__
    return (
        f"Plumbline {__version__} itself is at fault here ({kind} in {where}), not your file, and nothing it may have said so far "
        "counts: please send this sentence, the command and the layout to whoever gave you Plumbline."
    )


class _Parser(argparse.ArgumentParser):
    """Offers the nearest word for one that it does not know."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong in one sentence, and leave with status 2."""
        found = re.search(r"invalid choice: '(.*)' \(choose from (.*)\)$", message)
        if found is not None:
            from .layout.faults import nearest_words

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
    add_to(parser)
    return parser
