"""A line on the terminal that tells what is being tried, while something takes its time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.markup import escape

from .screen import Screen

__all__ = ["telling"]


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
