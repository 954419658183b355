"""The program's own input and output: what would steer a terminal is told by its number, what a terminal has no letter for is
written with others, and whoever stops listening ends nothing in a heap."""

from __future__ import annotations

import codecs
import os
import re
import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, TextIO

from .errors import PlumblineError

__all__ = ["STEERS", "Stream", "own_streams", "shown"]

STEERS = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ufff9-\ufffb\ud800-\udfff"
    "\U000e0000-\U000e007f]"
)
"""What moves the cursor, colours, turns the direction of writing or hides text, and halves of letters."""

_INSTEAD = {
    "…": "...",
    "—": "-",
    "–": "-",
    "−": "-",
    "×": "x",
    "·": "*",
    "•": "*",
    "°": " deg",
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "≤": "<=",
    "≥": ">=",
    "≈": "~",
    "→": "->",
    "←": "<-",
    "√": "sqrt",
    "π": "pi",
    "ρ": "rho",
    "ν": "nu",
    "ε": "eps",
    "Δ": "d",
    "τ": "tau",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
    "±": "+-",
    "⌀": "dia",
    "÷": "/",
    "ß": "ss",
    "²": "^2",
    "³": "^3",
}
"""What is written where an encoding has no such letter."""


def shown(text: str) -> str:
    r"""A text with everything that would steer a terminal told by its number.

    >>> shown("\x1b[31mred\u202e bed")
    '\\x1b[31mred\\u202e bed'
    """
    return STEERS.sub(lambda found: _number(ord(found[0])), text)


def _number(code: int) -> str:
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _nearest(error: UnicodeError) -> tuple[str, int]:
    """An error handler of codecs: letters that an encoding has, in place of those that it has not."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    out = []
    for letter in error.object[error.start : error.end]:
        plain = _INSTEAD.get(letter) or unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
        out.append(plain or "?")
    return "".join(out), error.end


codecs.register_error("plumbline", _nearest)


class Stream:
    """A text stream of the program's own. What is written to `styled` passes as it is: only rich writes there, and has escaped
    what comes from outside."""

    def __init__(self, under: TextIO | None, *, raw: bool = False, silent: bool = False) -> None:
        self.under, self.raw, self.silent = under, raw, silent
        self.gone = under is None and silent
        self.styled = self if raw else Stream(under, raw=True, silent=silent)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.under, name)

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self.under is not None and not self.under.closed and self.under.isatty()

    def write(self, text: str) -> int:
        """Write a text; nothing happens any more where nobody listens.

        Raises:
            PlumblineError: where there is no room, or the stream is closed.
        """
        self._do("write", text if self.raw else shown(text))
        return len(text)

    def flush(self) -> None:
        """Hand on what was written; see `write`."""
        self._do("flush")

    def _do(self, what: str, *given: str) -> None:
        if self.gone:
            return
        if self.under is None:
            if what == "write":
                raise PlumblineError("The answer cannot be written: standard output is closed.")
            return
        try:
            getattr(self.under, what)(*given)
        except BrokenPipeError:
            self._drop()
        except (OSError, ValueError) as error:
            self._drop()
            if not self.silent:
                reason = getattr(error, "strerror", None) or error
                raise PlumblineError(f"The answer cannot be written: {reason}.") from None

    def _drop(self) -> None:
        """Let what is still to be written go nowhere, at the end of the program too."""
        self.gone = True
        with suppress(OSError, ValueError):
            if self.under is not None:
                os.dup2(os.open(os.devnull, os.O_WRONLY), self.under.fileno())


@contextmanager
def own_streams() -> Iterator[None]:
    """Take the standard streams into hand while this lasts: into a file or a pipe it is UTF-8 that is written, on a terminal what
    that can show."""
    _fill_closed()
    before = sys.stdout, sys.stderr
    for stream in before:
        if hasattr(stream, "reconfigure"):
            if stream.isatty():
                stream.reconfigure(errors="plumbline")
            else:
                stream.reconfigure(encoding="utf-8", errors="backslashreplace")
    if sys.stdin is not None and hasattr(sys.stdin, "reconfigure"):
        with suppress(ValueError, OSError):
            sys.stdin.reconfigure(errors="replace")
    sys.stdout, sys.stderr = Stream(before[0]), Stream(before[1], silent=True)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def _fill_closed() -> None:
    """Open the standard places that are closed on nothing, so that no file of the user's comes to stand in one of them."""
    for place in (0, 1, 2):
        try:
            os.fstat(place)
        except OSError:
            with suppress(OSError):
                os.open(os.devnull, os.O_RDWR)
