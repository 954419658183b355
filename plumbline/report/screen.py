"""Puts a check on the screen, plain where the output is no terminal."""

from __future__ import annotations

from io import StringIO

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.text import Text

from ..check import CheckResult
from .terminal import CheckView

__all__ = ["print_check", "put_on_screen"]


def put_on_screen(view: RenderableType) -> None:
    """Print a view; into a file or a pipe with a fixed width and without spaces at the ends of lines."""
    screen = Console(highlight=False, soft_wrap=False)
    if screen.is_terminal:
        screen.print(view)
        return
    screen = Console(highlight=False, soft_wrap=False, width=100, file=StringIO())
    screen.print(view)
    for line in screen.file.getvalue().splitlines():  # type: ignore[attr-defined]
        print(line.rstrip())


def print_check(result: CheckResult, *, everything: bool, defaults: bool, console: Console | None = None) -> None:
    """Print a check; `everything` leaves nothing out, `defaults` lists what the file left out."""
    screen = console or Console(highlight=False, soft_wrap=False)
    if console is None and not screen.is_terminal:
        # Into a file or a pipe: a fixed width, and no spaces at the ends of lines.
        screen = Console(highlight=False, soft_wrap=False, width=100, file=StringIO())
        print_check(result, everything=everything, defaults=defaults, console=screen)
        for line in screen.file.getvalue().splitlines():  # type: ignore[attr-defined]
            print(line.rstrip())
        return
    screen.print(CheckView(result, everything=everything))
    if defaults:
        screen.print(Text("\nLeft out of the file, and taken", style="bold underline"))
        for default in result.layout.defaults:
            screen.print(Padding(Text(f"{default.where}: {default.what} ({default.source})"), (0, 0, 0, 2)))
        if not result.layout.defaults:
            screen.print(Padding(Text("nothing"), (0, 0, 0, 2)))
