"""Servers and commands as processes of their own, and requests to them, for the tests of a whole siege."""

import http.client
import json
import re
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

PROGRAM = str(Path(sys.executable).with_name("benchlore"))  # as pip installs it
PATIENCE_S = 60.0  # how long to wait before calling a server dead: no figure that is ever reached in order


class Server:
    """One `benchlore serve` on a notebook, on a port of its own choice."""

    def __init__(self, root: Path) -> None:
        """Start the server; `port` waits until it listens."""
        command = [PROGRAM, "serve", "--notebook", str(root), "--port", "0"]
        out, err = subprocess.PIPE, subprocess.DEVNULL
        self.process = subprocess.Popen(command, stdout=out, stderr=err, text=True)
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        assert found, f"the server did not start: {line!r}"
        self.port = int(found[1])

    @contextmanager
    def connected(self) -> Iterator[http.client.HTTPConnection]:
        """Give a connection, which stays open from one request to the next."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        try:
            yield connection
        finally:
            connection.close()

    def get(self, path: str, **query: object) -> Any:
        """Return what the server answers: JSON read, a page as its text."""
        with self.connected() as connection:
            connection.request("GET", f"{path}?{urlencode(query)}" if query else path)
            response = connection.getresponse()
            body = response.read()
        assert response.status == 200, (path, response.status, body)
        return json.loads(body) if path.startswith("/api/") else body.decode()

    def kill(self) -> None:
        """End the server as a power cut would."""
        self.process.kill()
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()


@contextmanager
def serving(root: Path, count: int = 1) -> Iterator[list[Server]]:
    """Run servers on one notebook and end them afterwards."""
    servers: list[Server] = []
    try:
        for _ in range(count):
            servers.append(Server(root))
        yield servers
    finally:
        for server in servers:
            server.kill()


def post_case(connection: http.client.HTTPConnection, fields: dict[str, object]) -> str:
    """Save a case through the JSON interface and return its number once it is acknowledged."""
    headers = {"Content-Type": "application/json"}
    connection.request("POST", "/api/cases", json.dumps(fields), headers)
    response = connection.getresponse()
    body = response.read()
    assert response.status == 201, (response.status, body)
    return str(json.loads(body)["case"])


def command(root: Path, words: Sequence[str]) -> subprocess.CompletedProcess[str]:
    """Run one command of the program on a notebook."""
    line = [PROGRAM, words[0], "--notebook", str(root), *words[1:]]
    return subprocess.run(line, capture_output=True, text=True, timeout=PATIENCE_S, check=False)
