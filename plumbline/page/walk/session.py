"""A layout that is walked in: its text, all that it was before, and its file, which others may edit too."""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ...errors import PlumblineError
from ...files import new_file
from .text import NEW, edited

__all__ = ["Moved", "Session", "begin"]

_MOST_BYTES = 4_000_000


class Moved(PlumblineError):  # noqa: N818 - it reads as the sentence it carries
    """What was to be done was meant for a text that is no longer the one."""


@dataclass
class Session:
    """The text of a layout now, with what it was `before` and what was undone and can come back, `after`. `news` tells what became of
    the file by others; `lock` is held by whoever looks or edits."""

    path: str
    text: str
    before: list[str] = field(default_factory=list)
    after: list[str] = field(default_factory=list)
    news: str = ""
    gone: bool = False
    lock: threading.RLock = field(default_factory=threading.RLock)

    @property
    def mark(self) -> str:
        """What tells this text from every other."""
        return hashlib.sha256(self.text.encode("utf-8", "surrogatepass")).hexdigest()[:16]

    def look(self) -> None:
        """See whether the file was changed by another program: then what it holds is taken, and can be undone."""
        with self.lock:
            try:
                held = _read(self.path)
            except FileNotFoundError:
                if not self.gone:
                    self.gone, self.news = True, "The file is gone. The next tap writes it again."
                return
            self.gone = False
            if held != self.text:
                self._take(held)
                self.news = (
                    "Another program has changed the file. This is what it holds now; undo brings back what was here."
                )

    def edit(self, edit: Mapping[str, Any], mark: str) -> None:
        """Carry out an edit that was meant for the text of a `mark`, and save.

        Raises:
            Moved: where the text is another one by now.
            PlumblineError: where it cannot be done or saved; then nothing is changed.
        """
        with self.lock:
            self._meant(mark)
            new = edited(self.text, edit)
            if new != self.text:
                self._save(new)
                self._take(new)

    def undo(self, mark: str) -> None:
        """Go back to what the text was before the last edit."""
        self._go(self.before, self.after, mark)

    def redo(self, mark: str) -> None:
        """Carry out again what was undone last."""
        self._go(self.after, self.before, mark)

    def _go(self, texts: list[str], back: list[str], mark: str) -> None:
        with self.lock:
            self._meant(mark)
            if texts:
                self._save(texts[-1])
                back.append(self.text)
                self.text = texts.pop()

    def _meant(self, mark: str) -> None:
        self.news = ""
        was = self.text
        self.look()
        if self.text != was:
            raise Moved(self.news)
        if mark != self.mark:
            raise Moved("Another page has changed the layout meanwhile. This is how it is now; tap again.")

    def _take(self, text: str) -> None:
        self.before.append(self.text)
        self.after.clear()
        self.text = text

    def _save(self, text: str) -> None:
        new_file(self.path, "layout", over=True).write(text)
        self.gone = False


def begin(path: str) -> Session:
    """Open a layout to be walked in, or begin one; it is written with the first tap.

    Raises:
        PlumblineError: where the file cannot be read or written.
    """
    try:
        return Session(path, _read(path))
    except FileNotFoundError:
        new_file(path, "layout")
        name = os.path.splitext(os.path.basename(path))[0].replace("_", " ").replace("-", " ")
        return Session(
            path, edited(NEW.format(name="x"), {"do": "put", "kind": "site", "values": {"name": name}}), gone=True
        )


def _read(path: str) -> str:
    """The text of a file to the last sign, its line ends and its byte order mark as they are."""
    try:
        with open(path, "rb") as file:
            held = file.read(_MOST_BYTES + 1)
        if len(held) > _MOST_BYTES:
            raise PlumblineError(
                f"'{path}' is larger than {_MOST_BYTES // 1_000_000} MB: no layout that can be walked in."
            )
        return held.decode("utf-8")
    except FileNotFoundError:
        raise
    except UnicodeDecodeError:
        raise PlumblineError(f"'{path}' is not saved as UTF-8: save it so in an editor first.") from None
    except OSError as error:
        raise PlumblineError(f"'{path}' cannot be read: {error.strerror or error}.") from None
