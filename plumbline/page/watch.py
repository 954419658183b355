"""Check again on every save: the verdict on the terminal, and the page in a browser, which reloads by itself.

The page is served on this machine's loopback address only, to requests that name it, and nothing else is served.
"""

from __future__ import annotations

import os
import secrets
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from ..check import CheckResult, check
from ..errors import PlumblineError
from ..layout import read_layout
from .listening import LOOPBACK, Handler, listening
from .page import fault_page, page, waiting_page

__all__ = ["Live", "follow", "serve"]


@dataclass
class Live:
    """The page as it is now. `stamp` rises with every check; the open page asks for it and reloads when it has risen. `state` says
    what the page cannot show by itself: "checking", "lost" where the file is gone, or "checked"."""

    path: str
    html: str = ""
    stamp: int = 0
    state: str = "checking"
    lock: threading.Lock = field(default_factory=threading.Lock)
    run: str = field(default_factory=lambda: secrets.token_hex(4))

    @property
    def mark(self) -> str:
        """What tells this check from every other, those of an earlier run at the same address too."""
        return f"{self.run}.{self.stamp}"

    def __post_init__(self) -> None:
        self.html = self.html or waiting_page(os.path.basename(self.path))

    def lost(self) -> None:
        """The file is gone: the page goes on showing the last check, and says so."""
        with self.lock:
            self.state = "lost"

    def update(self) -> CheckResult | PlumblineError:
        """Read the file and check it again.

        Returns:
            The check, or what is wrong with the file; the page shows the one or the other.
        """
        found: CheckResult | PlumblineError
        with self.lock:
            self.state = "checking"
        try:
            found = check(read_layout(self.path))
            html = page(found, live=True)
        except PlumblineError as error:
            found = error
            html = fault_page(os.path.basename(self.path), str(error))
        with self.lock:
            self.html, self.stamp, self.state = html, self.stamp + 1, "checked"
        return found


@contextmanager
def serve(live: Live, port: int = 0) -> Iterator[str]:
    """Serve a live page on a port, 0 for a free one, while the context lasts; yields its address.

    Raises:
        PlumblineError: where the port cannot be had.
    """
    with listening(_handler(live), port=port) as number:
        yield f"http://{LOOPBACK}:{number}/"


def follow(
    live: Live, told: Callable[[CheckResult | PlumblineError], None], *, stop: threading.Event | None = None
) -> None:
    """Check the file now and after every save, until `stop` is set; each check, or what is wrong with the file, is `told`.

    The folder is watched and not the file, as many editors save by putting a new file in the old one's place.
    """
    from watchfiles import watch

    folder, name = os.path.split(os.path.abspath(live.path))
    told(live.update())
    for _ in watch(
        folder,
        watch_filter=lambda _, path: os.path.basename(path) == name,
        stop_event=stop,
        recursive=False,
        debounce=200,
        raise_interrupt=True,
    ):
        if os.path.exists(live.path):
            told(live.update())
        elif live.state != "lost":
            live.lost()
            told(PlumblineError(f"'{live.path}' is gone. It is checked again when it is back."))


def _handler(live: Live) -> type[Handler]:
    class Watched(Handler):
        def do_GET(self) -> None:  # noqa: N802 - the library's name
            """Give the page or its stamp; only under the loopback address's own name, so that no other site can read it."""
            if self.headers.get("Host", "").rpartition(":")[0] not in (LOOPBACK, "localhost"):
                self.send_error(403)
            elif self.path == "/":
                with live.lock:
                    # The page has to know which check it shows: the next one may be done before its script asks.
                    self.answer(live.html.replace("<html", f'<html data-stamp="{live.mark}"', 1), "text/html")
            elif self.path == "/stamp":
                with live.lock:
                    self.answer(f"{live.mark} {live.state}", "text/plain")
            else:
                self.send_error(404)

    return Watched
