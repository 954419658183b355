"""A web server of this machine's own that listens while a context lasts."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from ..errors import PlumblineError

__all__ = ["listening"]


@contextmanager
def listening(handler: type[BaseHTTPRequestHandler], address: str, port: int = 0) -> Iterator[int]:
    """Answer requests with a handler while the context lasts.

    Parameters:
        handler: of each request, in a thread of its own.
        address: of the network to listen on.
        port: to listen on; 0 takes a free one.

    Yields:
        The port.

    Raises:
        PlumblineError: where the port cannot be had.
    """
    try:
        server = ThreadingHTTPServer((address, port), handler)
    except OSError as error:
        raise PlumblineError(f"Port {port} cannot be listened on: {error.strerror or error}.") from None
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True)
    thread.start()
    try:
        yield int(server.server_address[1])
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
