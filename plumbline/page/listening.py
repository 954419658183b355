"""A web server of this machine's own that listens while a context lasts. The standard library's is enough for one person."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, ClassVar

from ..errors import PlumblineError

__all__ = ["LOOPBACK", "Handler", "listening"]

LOOPBACK = "127.0.0.1"
"""The address that is reached from this machine and no other."""


class Handler(BaseHTTPRequestHandler):
    """Answers with texts, each with some `headers_besides`, and says nothing on the terminal."""

    timeout = 30
    server_version, sys_version = "plumbline", ""
    headers_besides: ClassVar[Mapping[str, str]] = {}

    def answer(self, text: str, kind: str, status: int = 200) -> None:
        """Give a text of a media type."""
        self.send_response(status)
        self.send_header("Content-Type", f"{kind}; charset=utf-8")
        self.finish_head(text.encode("utf-8", "backslashreplace"))

    def finish_head(self, body: bytes) -> None:
        """End the headers, and give the body."""
        always = {"Content-Length": str(len(body)), "Cache-Control": "no-store"}
        for name, value in (*always.items(), *self.headers_besides.items()):
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        """Say nothing: the terminal is for what the command says."""


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of a browser that has gone before it had its answer, as a phone does that is put away."""
        if not isinstance(sys.exc_info()[1], ConnectionError | TimeoutError):
            super().handle_error(request, client_address)


@contextmanager
def listening(handler: type[Handler], address: str = LOOPBACK, port: int = 0) -> Iterator[int]:
    """Answer requests with a handler, each in a thread of its own, while the context lasts; yields the port, a free one for 0.

    Raises:
        PlumblineError: where the port cannot be had.
    """
    try:
        server = _Server((address, port), handler)
    except OSError as error:
        raise PlumblineError(f"Port {port} cannot be listened on: {error.strerror or error}.") from None
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True)
    thread.start()
    try:
        yield int(server.server_address[1])
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
