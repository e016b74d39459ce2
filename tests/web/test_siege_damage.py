"""A running server over damaged files of its own, and one that is sent more than it may take."""

import contextlib
import random
import socket
from pathlib import Path
from typing import Any

from search.learning import STILL_LEARNING
from tests.search.index.test_case_index import damage
from tests.search.notebooks import small_notebook
from tests.search.test_bench_siege import kept_files, notes_in, the_same
from web.app import LARGEST_FORMS

from .processes import PATIENCE_S, Server, serving

ASKED = ("set is dead", "six blinks, no picture", "")
MOST_ASKED = 2_000  # times, while the server learns; far more than it takes
PIECE = b"10000\r\n" + b"a" * 0x10000 + b"\r\n"  # 64 KiB, as HTTP/1.1 sends a body in pieces (RFC 9112, 7.1)


def answers_of(server: Server) -> list[Any]:
    """Return what a server answers once it has learned, but for the time it took."""
    for _ in range(MOST_ASKED):
        said = [server.get("/api/search", q=text, limit=40) for text in ASKED]
        if not any(STILL_LEARNING in answer["notices"] for answer in said):
            break
    for answer in said:
        del answer["took_ms"]
    return said


def test_damage_under_a_running_server_changes_no_answer(tmp_path: Path) -> None:
    root = small_notebook(tmp_path / "shop", 24).root
    dice = random.Random(20261125)
    notes = notes_in(root)
    right: list[Any] = []
    for place in range(4):  # each server after the first starts on what was damaged last
        with serving(root) as (server,):
            right = right or answers_of(server)
            for number in range(15):
                assert the_same(answers_of(server), right), (place, number)
                files = kept_files(root)
                for path in dice.sample(files, dice.choice([1, 1, 2, len(files)])):
                    damage(path, dice)
            assert "attention" in server.get("/attention")
    assert notes_in(root) == notes


def test_endless_body_is_cut_off(tmp_path: Path) -> None:
    """Send a body in pieces without end: it is refused long before it fills memory or disk."""
    sent, answer, most = 0, b"", 3 * max(LARGEST_FORMS.values())
    with serving(small_notebook(tmp_path).root) as (server,):
        with (
            socket.create_connection(("127.0.0.1", server.port), timeout=PATIENCE_S) as line,
            contextlib.suppress(ConnectionError),  # it hangs up while more is on the way
        ):
            line.sendall(
                b"POST /api/cases HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
                b"Transfer-Encoding: chunked\r\n\r\n"
            )
            while sent < most:
                line.sendall(PIECE)
                sent += len(PIECE)
            answer = line.recv(1000)
        assert sent < most
        assert not answer.startswith(b"HTTP/1.1 2")
        assert server.get("/api/search", q="dead")["cases"]
