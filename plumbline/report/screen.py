"""Puts what was found on the screen, plain where the output is no terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from io import StringIO
from typing import IO

from rich.console import Console, ConsoleOptions, Group, RenderableType
from rich.markup import escape
from rich.padding import Padding
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from ..check import CheckResult
from ..errors import PlumblineError
from ..streams import shown
from .plain import heading, points
from .terminal import check_view, verdict_view

__all__ = ["Screen", "code_on", "print_verdict", "put_on_screen", "telling", "whole_check"]

_PLAIN = 100
"""How wide what goes into a file or a pipe is."""


class Screen(Console):
    """A console of rich's on which no name of the user's can do anything but be read."""

    def __init__(self, *, stderr: bool = False, width: int | None = None, file: IO[str] | None = None) -> None:
        stream = sys.stderr if stderr else sys.stdout
        super().__init__(highlight=False, width=width, file=file or getattr(stream, "styled", stream))

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        """Yield the segments of a renderable, with what would steer the terminal told by its number."""
        _tell_numbers(renderable)
        for segment in super().render(renderable, options):
            yield segment if segment.control else Segment(shown(segment.text), segment.style)


def _tell_numbers(renderable: RenderableType) -> None:
    """Tell by its number what would steer the terminal, before room is made for it: in texts, and in the cells of tables."""
    if isinstance(renderable, Text):
        if shown(renderable.plain) != renderable.plain:
            renderable.plain = shown(renderable.plain)
    elif isinstance(renderable, Padding):
        _tell_numbers(renderable.renderable)
    elif isinstance(renderable, Table):
        for column in renderable.columns:
            for cell in column.cells:
                _tell_numbers(cell)


def put_on_screen(*views: RenderableType) -> None:
    """Print views; into a file or a pipe with a fixed width and without spaces at the ends of lines."""
    screen = Screen()
    if screen.is_terminal:
        screen.print(*views, sep="\n")
        return
    screen = Screen(width=_PLAIN, file=StringIO())
    screen.print(*views, sep="\n")
    for line in screen.file.getvalue().splitlines():  # type: ignore[attr-defined]
        print(line.rstrip())


def whole_check(result: CheckResult, *, everything: bool, defaults: bool) -> Group:
    """A check; `everything` leaves nothing out, `defaults` lists what the file left out."""
    told = [f"{default.where}: {default.what} ({default.source})" for default in result.defaults]
    views: list[RenderableType] = [check_view(result, everything=everything)]
    if defaults:
        views += [heading("Left out of the file, and taken"), *points(told or ["nothing"])]
    return Group(*views)


def print_verdict(found: CheckResult | PlumblineError, console: Console | None = None) -> None:
    """Print the verdict of a check, or what is wrong with its file, after the time of day."""
    from datetime import datetime

    screen = console or Screen()
    screen.print(Text(f"\n{datetime.now():%H:%M:%S}", style="dim"))
    screen.print(verdict_view(found) if isinstance(found, CheckResult) else Text(str(found)))


@contextmanager
def telling(what: str, *, quiet: bool = False) -> Iterator[Callable[..., None]]:
    """Give a function that shows what is being tried, in words, and how many of how many are done where that is known, on standard
    error; it shows nothing where that is no terminal."""
    console = Screen(stderr=True)
    if quiet or not console.is_terminal:
        yield lambda *_: None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.fields[what]}"), BarColumn(20), TimeElapsedColumn(), TextColumn("{task.description}"))
    with Progress(*columns, console=console, transient=True) as progress:
        task = progress.add_task("", total=None, what=escape(what))

        def tell(words: str, done: int | None = None, of: int | None = None) -> None:
            room = max(console.width - len(what) - 34, 10)
            said = escape(words if len(words) <= room else words[: room - 1] + "…")
            progress.update(task, description=said, completed=done, total=of)

        yield tell


def code_on(address: str) -> str:
    """An address as a QR code in block letters, light on dark as a terminal is, with the quiet edge that a reader needs.

    Reference: ISO/IEC 18004, by the library that writes it.
    """
    import segno

    out = StringIO()
    segno.make(address, error="l", micro=False).terminal(out, compact=True, border=2)
    return out.getvalue().rstrip("\n")
