"""The walking page's own server: what it gives, to whom, and what it refuses.

The standard library's server is enough for one person's taps. Every request has to name a host that this was started for and to carry the key;
what changes something also has to come from this very page. A page of another site can do none of these.
"""

from __future__ import annotations

import hmac
import json
import secrets
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from http.server import BaseHTTPRequestHandler
from importlib import resources
from typing import Any
from urllib.parse import parse_qs, urlsplit

from ...check import check
from ...errors import PlumblineError
from ...layout import layout_of
from ..listening import listening
from .look import answer, choices, seen
from .session import Moved, Session
from .text import edited

__all__ = ["Site", "local_address", "serve"]

LOOPBACK = "127.0.0.1"
_MOST_ASKED = 100_000
"""A tap is small; anything larger is none [bytes]."""

_POLICY = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src data:; connect-src 'self'; base-uri 'none'; "
           "form-action 'none'; frame-ancestors 'none'")  # fmt: skip
_FILES = {
    "/": ("templates/walk.html", "text/html"), "/walk.js": ("walk.js", "text/javascript"), "/walk.css": ("walk.css", "text/css"),
    "/page.css": ("page.css", "text/css"), "/sketch.css": ("sketch.css", "text/css"),
}  # fmt: skip


@dataclass
class Site:
    """A session and who may reach it: the `key`, and the `hosts` that a request may name, each with its port."""

    session: Session
    key: str = field(default_factory=lambda: secrets.token_urlsafe(18))
    hosts: frozenset[str] = frozenset()

    def state(self, error: str = "", fresh: bool = True) -> dict[str, Any]:
        """All that the page shows now; without the drawing where the page has it already."""
        session = self.session
        with session.lock:
            look = seen(session.text, session.path)
            said = {"mark": session.mark, "undo": len(session.before), "redo": len(session.after), "news": session.news, "error": error,
                    "gone": session.gone}  # fmt: skip
            return {**look.facts, **said, "svg": look.svg} if fresh else said

    def act(self, path: str, asked: dict[str, Any]) -> dict[str, Any]:
        """Carry out what a tap asks for; what stands in the way is told beside what is so."""
        session, mark = self.session, str(asked.get("mark"))
        try:
            if path == "/edit":
                session.edit(asked["edit"], mark)
            elif path == "/undo":
                session.undo(mark)
            elif path == "/redo":
                session.redo(mark)
            else:
                with session.lock:
                    text = session.text
                return answer(check(layout_of(edited(text, asked["edit"]), session.path)))
        except Moved as moved:
            return self.state(str(moved))
        except PlumblineError as error:
            said = str(error)
            return self.state(f"Not done: {said}{'' if said.endswith('.') else '.'}")
        return self.state()

    def poll(self, mark: str) -> dict[str, Any]:
        """What is so now, in full where it is not what the page shows."""
        self.session.look()
        return self.state(fresh=self.session.mark != mark)


@contextmanager
def serve(site: Site, *, address: str = LOOPBACK, port: int = 0) -> Iterator[str]:
    """Serve a site while the context lasts.

    Parameters:
        site: the session and its key; the hosts are set here.
        address: of the network to listen on: the loopback's, unless a phone is to reach it.
        port: to listen on; 0 takes a free one.

    Yields:
        The address with the key in it.

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


def _handler(site: Site) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        timeout = 30
        server_version, sys_version = "plumbline", ""

        def do_GET(self) -> None:
            """Give the page, its files, or what is so now."""
            parts = urlsplit(self.path)
            if self.headers.get("Host") not in site.hosts:
                self.refuse(403, "This page answers to its own address only.")
            elif parts.path == "/" and "key" in (asked := parse_qs(parts.query)):
                self.let_in(asked["key"][0])
            elif not self.known():
                self.refuse(403, "This page wants the key: open it by the address that 'plumbline walk' printed.")
            elif parts.path in _FILES:
                name, kind = _FILES[parts.path]
                self.answer(resources.files("plumbline.page").joinpath(name).read_text(encoding="utf-8"), kind)
            elif parts.path == "/state":
                self.give(site.poll(parse_qs(parts.query).get("mark", [""])[0]))
            elif parts.path == "/choices":
                self.give(choices())
            else:
                self.refuse(404, "There is nothing here.")

        def do_POST(self) -> None:
            """Carry out a tap of this very page, and of no other."""
            host, origin = self.headers.get("Host"), self.headers.get("Origin")
            if (
                host not in site.hosts
                or origin != f"http://{host}"
                or self.headers.get("Sec-Fetch-Site", "same-origin") != "same-origin"
                or not self.known()
            ):
                self.refuse(403, "Only this page itself may do that.")
            elif self.path not in ("/edit", "/undo", "/redo", "/try"):
                self.refuse(404, "There is nothing here.")
            elif (self.headers.get("Content-Type") or "").partition(";")[0] != "application/json":
                self.refuse(415, "A tap is told in JSON.")
            else:
                asked = self.asked()
                if asked is None:
                    self.refuse(400, "That is no tap.")
                else:
                    self.give(site.act(self.path, asked))

        def asked(self) -> dict[str, Any] | None:
            try:
                size = int(self.headers.get("Content-Length") or "")
                if not 0 < size <= _MOST_ASKED:
                    return None
                asked = json.loads(self.rfile.read(size))
            except (ValueError, RecursionError):
                return None
            return asked if isinstance(asked, dict) and ("edit" in asked or self.path in ("/undo", "/redo")) else None

        def known(self) -> bool:
            """Whether the request carries the key, in the cookie that the first visit was given."""
            try:
                kept = SimpleCookie(self.headers.get("Cookie", "")).get(self.cookie)
            except CookieError:
                return False
            return kept is not None and hmac.compare_digest(kept.value.encode(), site.key.encode())

        @property
        def cookie(self) -> str:
            """Its name: with the port, which cookies do not tell apart."""
            return f"walk{self.server.server_address[1]}"  # type: ignore[index]

        def let_in(self, key: str) -> None:
            """Take the key out of the address, where it could be read over a shoulder, into a cookie that no script sees."""
            if not hmac.compare_digest(key.encode(), site.key.encode()):
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

        def answer(self, text: str, kind: str, status: int = 200) -> None:
            self.send_response(status)
            self.send_header("Content-Type", f"{kind}; charset=utf-8")
            self.finish_head(text.encode("utf-8", "backslashreplace"))

        def finish_head(self, body: bytes) -> None:
            for name, value in (
                ("Content-Length", str(len(body))), ("Cache-Control", "no-store"), ("Content-Security-Policy", _POLICY),
                ("X-Content-Type-Options", "nosniff"), ("Referrer-Policy", "no-referrer"), ("X-Frame-Options", "DENY"),
                ("Cross-Origin-Resource-Policy", "same-origin"), ("Cross-Origin-Opener-Policy", "same-origin"),
            ):  # fmt: skip
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Say nothing: the terminal is for the address."""

    return Handler
