"""A hostile client on the shop's network: nothing runs, gets out, is saved, or keeps a bench waiting."""

import contextlib
import json
import random
import re
import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from kb.attention import Attention
from kb.notebook import Notebook
from kb.notes.rendering import render_markdown
from search.index.documents import read_documents
from search.reading.complaint import LONGEST_COMPLAINT, read_complaint
from search.reading.concepts import default_finder
from web.views.state import LONGEST_NAME, LONGEST_Q, MOST_RULED_OUT

from ..notes import writing_addresses
from ..processes import PATIENCE_S, serving
from ..reading_pages import Page

CASE = "20260318-k7f2"
# Breaks out of a text, an attribute in either kind of quotes, a comment, a textarea and a script.
BREAKOUT = "\"'--></textarea></title></script><probe onclick=alert(1)><script>alert(1)</script>"


def harmless(response: TestResponse) -> None:
    """Check that a page holds nothing that a browser would run for a stranger."""
    assert response.status_code < 500, response.text[:300]
    if response.mimetype == "text/html":
        assert Page(response.text).harm() == []
    else:
        assert response.mimetype == "application/json"
        assert response.headers["X-Content-Type-Options"] == "nosniff"


def stays_here(response: TestResponse) -> None:
    """Check that a redirect leads to another page of this server."""
    assert not urlsplit(response.location).netloc
    assert response.location.startswith("/")
    assert not response.location.startswith(("//", "/\\"))


def test_breakout_would_be_noticed() -> None:
    """Hold the reader itself against pages that do harm."""
    for harm in (
        BREAKOUT,
        '<a href="java\nscript:alert(1)">',
        '<img src="x" onerror="alert(1)">',
        '<a href="//evil.example">',
        '<p style="x">',
    ):
        assert Page(f"<p>{harm}</p>").harm(), harm


REFLECTED = [
    ("/", "q"), ("/", "family"), ("/", "blinks"), ("/", "rule_out"), ("/", "limit"),
    ("/cases/new", "q"), ("/cases/new", "cause"),
    ("/cases/new", "note"), ("/cases/20260318-k7f2/sheet", "parts_cost"),
    ("/api/write-up", "complaint"), ("/api/write-up", "root_cause"),
    ("/cases/new", "from"), ("/cases/new", "comeback"),
    ("/families/", "find"), ("/families/", "name"), ("/families/new", "name"),
    ("/families/HV-L2", "model"), ("/families/HV-L2", "since"), ("/families/HV-L2", "parts_cost"),
    ("/attention/note", "file"), ("/attention/merge", "into"), ("/attention/merge", "from"),
    ("/api/search", "q"), ("/api/suggest", "field"), ("/api/suggest", "text"), ("/removed/x", "case_id"),
]  # fmt: skip
NASTY = {
    "breakout": BREAKOUT,
    "null": "a\0b",
    "surrogate": "%ED%A0%80",
    "not-utf8": "%FF%FE",
    "line-ends": "a\r\nSet-Cookie: b=c\r\n\r\n<probe>",
    "template": "{{7*7}}{% raw %}",
    "other-host": "//evil.example/",
}


@pytest.mark.parametrize("nasty", NASTY)
def test_what_a_url_says_is_only_shown(client: FlaskClient, nasty: str) -> None:
    said = NASTY[nasty]
    for path, name in REFLECTED:
        query = f"{name}={said}" if said.startswith("%") else {"q": "dead", name: said}
        response = client.get(path, query_string=query)
        harmless(response)
        assert not any("b=c" in cookie for cookie in response.headers.getlist("Set-Cookie"))
        if 300 <= response.status_code < 400:
            stays_here(response)


OUTSIDE = (
    "..%2f..%2fsecret", "%2e%2e/%2e%2e/secret", "..%5c..%5csecret", "%00", "%ff%fe", "....//secret",
    "/secret", "cases%2f..%2f..%2fsecret", "a%0d%0aSet-Cookie:%20b=c", "%2fetc%2fpasswd", "~", "CON",
)  # fmt: skip


READING = (
    "/cases/{}", "/cases/{}/edit", "/families/{}", "/families/{}/edit", "/api/cases/{}", "/api/families/{}",
    "/removed/{}", "/static/{}", "/attention/note?file={}", "/attention/note?file=cases/2026/{}",
    "/cases/new?from={}", "/cases/{}/sheet", "/import/{}", "/import/{}/rejected",
)  # fmt: skip
WRITING = ("/removed/{}/restore", "/cases/{}/remove", "/cases/{}/edit", "/families/{}/edit")


def test_no_address_leads_out_of_the_notebook(client: FlaskClient, root: Path) -> None:
    (root.parent / "secret").write_text("the secret", encoding="utf-8")
    (root.parent / "secret.md").write_text("the secret", encoding="utf-8")
    before = sorted(root.rglob("*.md"))
    for name in OUTSIDE:
        for place in READING:
            response = client.get(place.format(name), follow_redirects=True)
            assert response.status_code < 500, (place, name)
            assert "the secret" not in response.text, (place, name)
            assert "root:" not in response.text, (place, name)
            assert not any("b=c" in cookie for cookie in response.headers.getlist("Set-Cookie"))
        for place in WRITING:
            assert client.post(place.format(name), data={"complaint": "x"}).status_code < 500, (place, name)
        assert client.post("/attention/note", data={"file": f"../{name}", "text": "x"}).status_code == 404
    assert sorted(root.rglob("*.md")) == before
    assert (root.parent / "secret.md").read_text(encoding="utf-8") == "the secret"


@pytest.mark.parametrize(
    "name", ["../../evil", "/etc/evil", "..", "a\0b", "con.", "x" * 300, "é/..\\..\\x", "//evil.example"]
)
def test_family_name_makes_no_file_elsewhere(client: FlaskClient, root: Path, name: str) -> None:
    before = {path for path in root.parent.rglob("*") if ".benchlore" not in path.parts}
    response = client.post("/families/new", data={"chassis_family": name, "device": "clock"})
    assert response.status_code in (302, 422)
    fresh = {path for path in root.parent.rglob("*") if ".benchlore" not in path.parts} - before
    assert len(fresh) == (response.status_code == 302)
    assert all(path.parent == root / "families" and path.suffix == ".md" for path in fresh)
    if response.status_code == 302:
        stays_here(response)
        harmless(client.get(response.location, follow_redirects=True))


def json_bodies() -> Iterator[tuple[str, bytes]]:
    """Yield bodies that are no case, each with a name."""
    good: dict[str, Any] = {
        "date": "2026-06-21", "device": "tv", "chassis_family": "HV-L2", "symptom": ["dead"],
        "root_cause": "x", "fix_time": "5 min", "outcome": "fixed",
    }  # fmt: skip

    def put_in(field: str, value: str) -> bytes:
        return json.dumps({**good, field: "HERE"}).replace('"HERE"', value).encode()

    yield "deep lists", b"[" * 100_000 + b"]" * 100_000
    yield "deep objects", b'{"a":' * 20_000 + b"1" + b"}" * 20_000
    yield "deep field", put_in("shelf", "[" * 500 + "]" * 500)
    yield "deep symptom", put_in("symptom", "[" * 500 + "]" * 500)
    yield "no number", put_in("fix_time", "NaN")
    yield "endless", put_in("fix_time", "Infinity")
    yield "huge number", put_in("fix_time", "1" + "0" * 4000)
    yield "number too long to read", put_in("complaint", "1" + "0" * 5000)
    yield "half a character", put_in("complaint", r'"\ud800"')
    yield "half a character as a name", put_in("\ud800", '"x"')
    yield "null byte", put_in("complaint", r'"a\u0000b"')
    yield "not UTF-8", put_in("complaint", '"HERE2"').replace(b"HERE2", b"\xff\xfe")
    yield "a list", b"[]"
    yield "nothing", b""
    yield "null", b"null"
    yield "a number elsewhere", put_in("case", '"../../etc/x"')
    yield "a number for a number", put_in("case", "5")
    yield "a mapping for a list", put_in("symptom", '{"a": "b"}')
    yield "a list for a body", put_in("body", '["a"]')
    yield "a text of a megabyte", put_in("root_cause", '"' + "a" * 900_000 + '"')
    yield "a date of a megabyte", put_in("date", '"' + "1" * 900_000 + '"')
    yield "blinks of a megabyte", put_in("blinks", '"' + "2+" * 450_000 + '"')
    yield "more than a megabyte", put_in("body", '"' + "a" * 1_100_000 + '"')


def test_what_is_no_case_is_refused_and_not_saved(client: FlaskClient, root: Path) -> None:
    before = sorted(root.rglob("*.md"))
    for name, body in json_bodies():
        for send, path in ((client.post, "/api/cases"), (client.put, f"/api/cases/{CASE}")):
            response = send(path, data=body, content_type="application/json")
            assert response.status_code in (400, 413, 422), (
                name,
                path,
                response.status_code,
                response.text[:200],
            )
            message = response.json["error"]["message"]  # type: ignore[index]
            assert message, name
            assert len(response.data) < 10_000, (name, "a refusal repeats what was sent")
    assert sorted(root.rglob("*.md")) == before
    assert not [problem for problem in Attention(Notebook(root)).problems() if CASE in problem.file]


@pytest.mark.parametrize(
    "content_type",
    ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "",
     "text/html;application/json", "application/jsonp", "text/json"],
)  # fmt: skip
def test_only_json_is_taken_for_json(app: Flask, root: Path, content_type: str) -> None:
    """A form on a foreign page can send these without asking; only JSON needs the browser's permission."""
    before = sorted(root.rglob("*.md"))
    response = app.test_client().post("/api/cases", data="{}", content_type=content_type)
    assert response.status_code == 415
    assert sorted(root.rglob("*.md")) == before


def test_every_write_refuses_strangers(make_app: Callable[..., Flask], root: Path) -> None:
    app = make_app()
    client = app.test_client()
    before = {path: path.read_bytes() for path in root.rglob("*.md")}
    addresses = writing_addresses(app)
    assert len(addresses) >= 12
    for method, path in addresses:
        for headers in (
            {"Origin": "http://evil.example"},
            {"Origin": "null"},
            {"Origin": "http://localhost.evil.example"},
            {"Origin": "http://localhost@evil.example"},
            {"Origin": "https://localhost:1"},
            {"Sec-Fetch-Site": "cross-site"},
            {"Sec-Fetch-Site": "same-site"},
        ):
            response = client.open(path, method=method, json={"tech": "QQ"}, headers=headers)
            assert response.status_code == 403, (method, path, headers)
        response = client.open(path, method=method, json={"tech": "QQ"}, headers={"Host": "evil.example"})
        assert response.status_code == 421, (method, path)
        if not path.startswith("/api/"):
            assert client.open(path, method=method, data={"complaint": "x"}).status_code == 400, (
                method,
                path,
            )
    assert {path: path.read_bytes() for path in root.rglob("*.md")} == before


@pytest.mark.parametrize(
    "host",
    ["evil.example", "localhost.evil.example", "127.0.0.1.evil.example", "127.0.0.1@evil.example", "[::1",
     "10.0.0.7", "0x7f.1.evil.example", "localhost,evil.example"],
)  # fmt: skip
def test_reads_answer_no_foreign_name(client: FlaskClient, host: str) -> None:
    for path in ("/", "/api/search?q=dead", f"/cases/{CASE}", "/static/bench.css"):
        response = client.get(path, headers={"Host": host})
        assert response.status_code in (400, 421), path
        assert "PFC MOSFET" not in response.text
    assert client.get("/", headers={"Host": "localhost:8571"}).status_code == 200


def test_no_page_grows_with_what_is_asked(client: FlaskClient) -> None:
    """Ask for far more than anybody would: the program reads its share, says so, and the page stays small."""
    usual = len(client.get("/", query_string={"q": "dead", "blinks": "3"}).data)
    long = "went off with a pop " * 50_000
    many = " ".join(f"w{number}zz" for number in range(20_000))
    for text in (long, many, "a" * 1_000_000, "1 " * 500_000, "two flashes then " * 60_000):
        for path in ("/", "/api/search", "/cases/new", "/families/"):
            response = client.get(path, query_string={"q": text, "cause": text, "find": text})
            assert response.status_code == 200, path
            assert len(response.data) < 200_000 + usual, path
    answer = client.get("/api/search", query_string={"q": long}).json
    assert answer is not None
    assert len(answer["reading"]["text"]) <= LONGEST_Q
    assert any(f"{LONGEST_COMPLAINT:,} characters" in notice for notice in answer["notices"])
    assert answer["causes"][0]["root_cause"] == "PFC MOSFET shorted"
    for name in ("family", "blinks", "rule_out"):
        response = client.get("/api/search", query_string={"q": "dead", name: "3" * 1_000_000})
        assert response.status_code in (200, 422)
        assert len(response.data) < 10 * LONGEST_NAME + usual


def test_10000_rulings_out_are_bounded(client: FlaskClient) -> None:
    query = [("q", "dead"), *(("rule_out", f"cause {number}") for number in range(10_000))]
    answer = client.get("/api/search", query_string=query).json
    assert answer is not None
    assert 0 < sum("rules nothing out" in notice for notice in answer["notices"]) <= MOST_RULED_OUT
    assert client.get("/", query_string=query).status_code == 200


# What is sent, and the status it is answered with; none where the line is dropped.
NO_REQUESTS = {
    ("noise", ""): bytes(range(256)) * 40,
    ("no host", "421"): b"GET / HTTP/1.1\r\n\r\n",
    ("old", "421"): b"GET / HTTP/1.0\r\n\r\n",
    ("two hosts", "421"): b"GET / HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n",
    (
        "another host in the address",
        "421",
    ): b"GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\n\r\n",
    ("two lengths", "400"): b"POST /api/cases HTTP/1.1\r\nHost: localhost\r\n"
    b"Content-Length: 2\r\nContent-Length: 9\r\n\r\n{}",
    (
        "length and pieces",
        "400",
    ): b"POST /api/cases HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
    b"Content-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /x HTTP/1.1\r\n\r\n",
    (
        "less than nothing",
        "400",
    ): b"POST /api/cases HTTP/1.1\r\nHost: localhost\r\nContent-Length: -1\r\n\r\n{}",
    (
        "a terabyte",
        "413",
    ): b"POST /api/cases HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
    b"Content-Length: 1099511627776\r\n\r\n{}",
    ("endless header", "431"): b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"x" * 400_000 + b"\r\n\r\n",
    ("many headers", "431"): b"GET / HTTP/1.1\r\nHost: localhost\r\n" + b"X: y\r\n" * 60_000 + b"\r\n",
    ("endless address", "431"): b"GET /?q=" + b"a" * 400_000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n",
    ("null in the address", "404"): b"GET /cases/\0 HTTP/1.1\r\nHost: localhost\r\n\r\n",
    ("folded header", "200"): b"GET / HTTP/1.1\r\nHost: localhost\r\nOrigin: http://local\r\n host\r\n\r\n",
}


def answer_to(port: int, sent: bytes) -> bytes:
    """Send bytes, say that no more will come, and return all that is answered."""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S) as line:
        received = b""
        with contextlib.suppress(ConnectionError):  # the server may hang up before it has read everything
            line.sendall(sent)
            line.shutdown(socket.SHUT_WR)
            while part := line.recv(65536):
                received += part
        return received


def test_server_outlives_what_is_no_request(root: Path) -> None:
    before = sorted(root.rglob("*.md"))
    with serving(root) as (server,):
        for (name, status), sent in NO_REQUESTS.items():
            answer = answer_to(server.port, sent)
            assert answer.decode("latin-1").split(" ", 2)[1:2] == status.split(), name
            assert server.process.poll() is None, name
        idle = [
            socket.create_connection(("127.0.0.1", server.port)) for _ in range(20)
        ]  # more than its threads
        try:
            for line in idle:
                line.sendall(b"POST /api/cases HTTP/1.1\r\nHost: localhost\r\nContent-Length: 10\r\n\r\n{")
            assert server.get("/api/search", q="went off with a pop")["cases"]
        finally:
            for line in idle:
                line.close()
    assert sorted(root.rglob("*.md")) == before


NOTE = "---\ncase: 20260318-k7f2\ndate: 2026-03-18\n{}\n---\n{}\n"
READERS: dict[str, Callable[[str], object]] = {
    "markdown": render_markdown,
    "body": lambda text: read_note(NOTE.format("", text)),
    "field": lambda text: read_note(NOTE.format(f"fix: {text}", "")),
    "front matter": lambda text: read_note(NOTE.format(text, "")),
}
REPEATED = (
    "[", "![", "[a](", "*a **b ", "*_", "`", "<a:", "&#x", "> ", "- ", "* * ", "a\n=\n", "|a", "1. ",
    "[a]: b\n", "<!--", "1 ", "2+", "3 or ", "6 times ", "two long three short ", "half a dozen blinks ",
    "flash ", "x-", "HV-43L2 ",
    "'", '"', "{a: ", "? ", "&a ", "!!b ", "a: b\n", "\\", "\t", "a\u0301", "\U0001f600",
)  # fmt: skip


def read_note(text: str) -> object:
    return read_documents([("cases/2026/20260318-k7f2.md", text.encode(), (0, 0))], default_finder())


def grows_with_the_text(read: Callable[[str], object], piece: str) -> bool:
    """Tell whether 16 times the text takes about 16 times the work, with much room to spare.

    Work is the thread's own processor time, which does not run while others have the processor. Three times
    as much and 0.1 s are forgiven; a pattern that starts over at every character takes 256 times the work.
    """

    def work(length: int) -> float:
        text = piece * (length // len(piece))
        before = time.thread_time()
        read(text)
        return time.thread_time() - before

    return work(16_000) <= 48 * max(work(1000) for _ in range(2)) + 0.1


@pytest.mark.parametrize("reader", READERS)
def test_no_way_of_writing_makes_a_reader_slow(reader: str) -> None:
    read = READERS[reader]
    read("hums")  # what is made once for all texts is made now
    suspects = [piece for piece in REPEATED if not grows_with_the_text(read, piece)]
    assert not [piece for piece in suspects if not grows_with_the_text(read, piece)]  # twice is no accident


def test_a_pattern_that_starts_over_is_noticed() -> None:
    # Slow enough at every step that 256 times the work is far above what is forgiven.
    assert not grows_with_the_text(lambda text: re.search("x+w?y", text), "x")


def test_of_an_endless_complaint_no_more_is_read_than_an_owner_says() -> None:
    for piece in REPEATED:
        endless = piece * LONGEST_COMPLAINT
        read, wanted = read_complaint(endless), read_complaint(endless[:LONGEST_COMPLAINT])
        assert (read.terms, read.words, read.blinks) == (wanted.terms, wanted.words, wanted.blinks), piece


HEAP = [
    *("one", "two", "three", "6", "61", "999999", "0", "-1", "3rd", "half", "a", "dozen", "few", "or", "and"),
    *("flash", "flashes", "blink", "blinks", "flashing", "long", "short", "red", "green", "then", "pause"),
    *(",", ".", "+", "x2", "x", "times", "not", "no", "says", "maybe", "about", "light", "standby", "~"),
    *("(", ")", ":", "...", "\u0663", "\u00bd"),
]


def test_no_heap_of_words_stops_a_search(client: FlaskClient) -> None:
    """Throw words about blinking together in any order, and ask: an answer comes."""
    dice = random.Random(4)
    for number in range(400):
        piece = " ".join(dice.choices(HEAP, k=dice.randrange(1, 12)))
        said = piece * dice.choice([1, 1, 2, 70])
        read_complaint(said)
        if number % 20 == 0:
            assert client.get("/api/search", query_string={"q": said}).status_code == 200, said
    assert client.get("/api/search", query_string={"q": "flash " * 61}).status_code == 200


def test_origins_that_are_no_addresses_and_empty_conditions_change_nothing(
    client: FlaskClient, root: Path
) -> None:
    note = root / f"cases/2026/{CASE}.md"
    before = note.read_bytes()
    for headers, status in (
        ({"Origin": "http://[::1"}, 403),
        ({"Origin": "https://localhost"}, 403),
        ({"If-Match": ""}, 409),
        ({"If-Match": '""'}, 409),
    ):
        response = client.put(f"/api/cases/{CASE}", json={"tech": "QQ"}, headers=headers)
        assert response.status_code == status, (headers, response.text)
        assert note.read_bytes() == before
