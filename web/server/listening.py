"""Listen for requests, and let no client keep the others waiting."""

import select
from typing import Any

import waitress
from flask import Flask
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import WSGITask

from web.server.security import REACHED_AT

MOST_WAITING = 64  # connections of a client without a whole request; browsers open six; chosen by us
MOST_CONNECTIONS = 700 if hasattr(select, "poll") else 400  # below the open files most systems allow
THREADS = 8  # requests at once; chosen by us
IDLE_S = 20  # after which an unfinished request is dropped; chosen by us


class _Task(WSGITask):  # type: ignore[misc]  # waitress has no types
    """Tells the application at which of this computer's addresses it was reached."""

    def get_environment(self) -> dict[str, Any]:
        environ: dict[str, Any] = super().get_environment()
        environ[REACHED_AT] = self.channel.reached_at
        return environ


class _Channel(HTTPChannel):  # type: ignore[misc]
    """Closes the oldest connection of a client that has too many without a whole request."""

    task_class = _Task

    def __init__(self, server: Any, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:
        super().__init__(server, sock, addr, adj, map=map)
        self.reached_at = str(sock.getsockname()[0]).partition("%")[0]
        opened = [each for each in server.active_channels.values() if each.addr[0] == addr[0]]  # in order
        waiting = [each for each in opened if not each.requests and not each.will_close]
        for channel in waiting[:-MOST_WAITING]:
            channel.will_close = True


TcpWSGIServer.channel_class = _Channel


def listen(app: Flask, *, host: str, port: int, largest_request: int) -> Any:
    """Return a server that listens and waits to be run. largest_request: bytes. Raises: OSError."""
    return waitress.create_server(
        app, host=host, port=port, threads=THREADS, ident="benchlore", connection_limit=MOST_CONNECTIONS,
        asyncore_use_poll=hasattr(select, "poll"), channel_timeout=IDLE_S, cleanup_interval=5,
        # Requests are received whole before the application sees them. The limit is twice its own, so that
        # usually the application refuses: a browser whose connection is closed while it sends shows no page.
        max_request_body_size=2 * largest_request,
    )  # fmt: skip
