"""Clients that never finish a request keep nobody waiting."""

import socket
from pathlib import Path

from web.server.listening import MOST_WAITING

from ..processes import serving

OPEN = 500


def test_500_half_open_requests_leave_room_for_an_ordinary_one(root: Path) -> None:
    with serving(root) as (server,):
        lines = []
        try:
            for number in range(OPEN):
                line = socket.create_connection(("127.0.0.1", server.port), timeout=10)
                lines.append(line)
                line.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Slow: " + str(number).encode())
            assert server.get("/api/search", q="went off with a pop")["cases"]
            # The server itself has hung up on most of them: those read as ended.
            ended = 0
            for line in lines[: OPEN - MOST_WAITING - 10]:
                line.settimeout(10)
                ended += line.recv(1) == b""
            assert ended == OPEN - MOST_WAITING - 10
        finally:
            for line in lines:
                line.close()
