"""The walking page's own server: what it gives, to whom, and what it refuses.

Every request has to name a host that this was started for and to carry the key; what changes something also has to come from this very
page. A page of another site can do none of these.
"""

from __future__ import annotations

import hmac
import json
import secrets
import socket
import threading
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from importlib import resources
from typing import Any
from urllib.parse import parse_qs, urlsplit

from ...errors import PlumblineError
from ...layout import layout_of
from ..listening import LOOPBACK, Handler, listening
from .look import Seen, at_once, choices, seen, tried
from .session import Moved, Session
from .text import edited

__all__ = ["LOOPBACK", "Site", "local_address", "serve"]

_MOST_ASKED = 100_000
"""A tap is small; anything larger is none [bytes]."""

_SAFE = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src data:; connect-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
_FILES = {
    "/": ("templates/walk.html", "text/html"),
    "/walk.js": ("walk.js", "text/javascript"),
    "/walk.css": ("walk.css", "text/css"),
    "/page.css": ("page.css", "text/css"),
    "/sketch.css": ("sketch.css", "text/css"),
}


@dataclass
class Site:
    """A session and who may reach it: the `key`, and the `hosts` that a request may name, each with its port. An answer waits so long, `wait` [s],
    for a text's check; `asked` is the text that is being checked and what will come of it, one at a `turn`."""

    session: Session
    key: str = field(default_factory=lambda: secrets.token_urlsafe(18))
    hosts: frozenset[str] = frozenset()
    wait: float = 1.5
    asked: tuple[str, Future[Seen]] | None = None
    turn: threading.Lock = field(default_factory=threading.Lock)

    def state(self, error: str = "", fresh: bool = True) -> dict[str, Any]:
        """All that the page shows now; without the drawing where the page has it already."""
        session = self.session
        with session.lock:
            text = session.text
            said = {
                "mark": session.mark,
                "undo": len(session.before),
                "redo": len(session.after),
                "news": session.news,
                "error": error,
                "gone": session.gone,
            }
        look = self.look(text) if fresh else None
        return {**look.facts, **said, "svg": look.svg} if look else said

    def look(self, text: str) -> Seen:
        """What is seen of a text, without its verdict while that takes long."""
        if self.asked is None or self.asked[0] != text:
            self.asked = text, Future()
            threading.Thread(target=self.check, args=self.asked, daemon=True).start()
        try:
            return self.asked[1].result(self.wait)
        except TimeoutError:
            return at_once(text, self.session.path)

    def check(self, text: str, found: Future[Seen]) -> None:
        """Check a text, if it is still the one when its turn comes."""
        with self.turn:
            try:
                found.set_result((seen if text == self.session.text else at_once)(text, self.session.path))
            except BaseException as error:
                found.set_exception(error)

    def act(self, path: str, asked: dict[str, Any]) -> dict[str, Any]:
        """Carry out what a tap asks for; what stands in the way is told beside what is so."""
        session, mark = self.session, str(asked.get("mark"))
        try:
            if path == "/edit":
                session.edit(asked["edit"], mark)
            elif path in ("/undo", "/redo"):
                (session.undo if path == "/undo" else session.redo)(mark)
            else:
                with session.lock:
                    text = session.text
                return tried(layout_of(edited(text, asked["edit"]), session.path))
        except Moved as moved:
            return self.state(str(moved))
        except PlumblineError as error:
            return self.state(f"Not done: {str(error).removesuffix('.')}.")
        return self.state()

    def poll(self, mark: str) -> dict[str, Any]:
        """What is so now, in full where it is not what the page shows."""
        self.session.look()
        return self.state(fresh=self.session.mark != mark)


@contextmanager
def serve(site: Site, *, address: str = LOOPBACK, port: int = 0) -> Iterator[str]:
    """Serve a site, whose hosts are set here, while the context lasts: on the loopback's address, unless a phone is to reach it, and on a
    port, 0 for a free one; yields the address with the key in it.

    Raises:
        PlumblineError: where the port cannot be had.
    """
    with listening(_handler(site), address, port) as number:
        names = (address, "localhost") if address == LOOPBACK else (address,)
        site.hosts = frozenset(f"{name}:{number}" for name in names)
        yield f"http://{address}:{number}/?key={site.key}"


def local_address() -> str:
    """This machine's address in the local network.

    Raises:
        PlumblineError: where it has none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: connecting only asks which way a packet would go. 192.0.2.1 is kept free for examples (RFC 5737).
            probe.connect(("192.0.2.1", 9))
            found = str(probe.getsockname()[0])
        except OSError:
            found = LOOPBACK
    if found.startswith("127."):
        raise PlumblineError("This machine is in no network that a phone could reach it by.")
    return found


def _same(one: str, other: str) -> bool:
    return hmac.compare_digest(one.encode(), other.encode())


def _handler(site: Site) -> type[Handler]:
    class Walked(Handler):
        headers_besides = _SAFE

        def do_GET(self) -> None:  # noqa: N802 - the library's name
            """Give the page, its files, or what is so now."""
            parts = urlsplit(self.path)
            asked = parse_qs(parts.query)
            if self.headers.get("Host") not in site.hosts:
                self.refuse(403, "This page answers to its own address only.")
            elif parts.path == "/" and "key" in asked:
                self.let_in(asked["key"][0])
            elif not self.known():
                self.refuse(403, "This page wants the key: open it by the address that 'plumbline walk' printed.")
            elif parts.path in _FILES:
                name, kind = _FILES[parts.path]
                self.answer(resources.files("plumbline.page").joinpath(name).read_text(encoding="utf-8"), kind)
            elif parts.path == "/state":
                self.give(site.poll(asked.get("mark", [""])[0]))
            elif parts.path == "/choices":
                self.give(choices())
            else:
                self.refuse(404, "There is nothing here.")

        def do_POST(self) -> None:  # noqa: N802 - the library's name
            """Carry out a tap of this very page, and of no other."""
            host = self.headers.get("Host")
            from_here = (
                self.headers.get("Origin") == f"http://{host}"
                and self.headers.get("Sec-Fetch-Site", "same-origin") == "same-origin"
            )
            if host not in site.hosts or not from_here or not self.known():
                self.refuse(403, "Only this page itself may do that.")
            elif self.path not in ("/edit", "/undo", "/redo", "/try"):
                self.refuse(404, "There is nothing here.")
            elif (self.headers.get("Content-Type") or "").partition(";")[0] != "application/json":
                self.refuse(415, "A tap is told in JSON.")
            elif (asked := self.asked()) is None:
                self.refuse(400, "That is no tap.")
            else:
                self.give(site.act(self.path, asked))

        def asked(self) -> dict[str, Any] | None:
            try:
                size = int(self.headers.get("Content-Length") or "")
                asked = json.loads(self.rfile.read(size)) if 0 < size <= _MOST_ASKED else None
            except (ValueError, RecursionError):
                return None
            return asked if isinstance(asked, dict) and ("edit" in asked or self.path in ("/undo", "/redo")) else None

        def known(self) -> bool:
            """Whether the request carries the key, in the cookie that the first visit was given."""
            try:
                kept = SimpleCookie(self.headers.get("Cookie", "")).get(self.cookie)
            except CookieError:
                return False
            return kept is not None and _same(kept.value, site.key)

        @property
        def cookie(self) -> str:
            """Its name: with the port, which cookies do not tell apart."""
            return f"walk{self.server.server_address[1]}"  # type: ignore[index]

        def let_in(self, key: str) -> None:
            """Take the key out of the address, where it could be read over a shoulder, into a cookie that no script sees."""
            if not _same(key, site.key):
                self.refuse(403, "The key is another one: it is made anew each time 'plumbline walk' is started.")
                return
            self.send_response(303)
            self.send_header("Location", "/")
            self.send_header("Set-Cookie", f"{self.cookie}={site.key}; HttpOnly; SameSite=Strict; Path=/")
            self.finish_head(b"")

        def give(self, facts: dict[str, Any]) -> None:
            self.answer(json.dumps(facts, ensure_ascii=False, allow_nan=False), "application/json")

        def refuse(self, status: int, said: str) -> None:
            self.close_connection = True
            self.answer(said, "text/plain", status)

    return Walked
