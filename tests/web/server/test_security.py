"""Headers, hosts, origins and limits."""

from collections.abc import Callable

import pytest
from flask import Flask
from flask.testing import FlaskClient

from web.server.security import is_expected_host, is_foreign


@pytest.mark.parametrize("path", ["/", "/?q=dead", "/cases/20260318-k7f2", "/nowhere", "/api/search?q=dead"])
def test_every_response_carries_the_headers(client: FlaskClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"


@pytest.mark.parametrize(
    ("host", "reached_at", "expected"),
    [
        pytest.param("127.0.0.1:8571", "127.0.0.1", True, id="loopback"),
        pytest.param("[::1]:8571", "127.0.0.1", True, id="loopback-six"),
        pytest.param("localhost", "127.0.0.1", True, id="localhost"),
        pytest.param("LOCALHOST.:80", "127.0.0.1", True, id="root-dot"),
        pytest.param("evil.example:8571", "127.0.0.1", False, id="rebound-name"),
        pytest.param("192.168.1.9:8571", "127.0.0.1", False, id="lan-address-on-loopback"),
        pytest.param("192.168.1.9:8571", "192.168.1.9", True, id="lan-address-on-lan"),
        pytest.param("192.168.1.9:8571", "::ffff:192.168.1.9", True, id="lan-address-on-both-kinds-of-ip"),
        pytest.param("evil.example", "192.168.1.9", False, id="rebound-name-on-lan"),
        pytest.param("192.168.1.7:8571", "192.168.1.9", False, id="other-address-on-lan"),
        pytest.param("10.0.0.1", "", False, id="address-not-known"),
        pytest.param("bench-two:8571", "192.168.1.9", True, id="own-name"),
        pytest.param("localhost.evil.example", "127.0.0.1", False, id="looks-like-localhost"),
        pytest.param("[oops", "127.0.0.1", False, id="not-a-host"),
        pytest.param("", "127.0.0.1", False, id="nothing"),
    ],
)
def test_host_is_expected(host: str, reached_at: str, expected: bool) -> None:
    assert is_expected_host(host, reached_at=reached_at, names=("bench-two",)) is expected


def test_rebound_host_is_turned_away(client: FlaskClient) -> None:
    response = client.get("/", headers={"Host": "evil.example"})
    assert response.status_code == 421
    assert "Likely causes" not in response.text


@pytest.mark.parametrize(
    ("origin", "fetch_site", "foreign"),
    [
        pytest.param("", "", False, id="a-program"),
        pytest.param("http://bench:8571", "", False, id="old-browser"),
        pytest.param("http://bench:8571", "same-origin", False, id="own-script"),
        pytest.param("null", "same-origin", False, id="own-form"),
        pytest.param("null", "cross-site", True, id="sandboxed-frame"),
        pytest.param("null", "", True, id="old-browser-hiding-its-origin"),
        pytest.param("http://evil.example", "", True, id="other-site"),
        pytest.param("https://bench:8571", "", True, id="other-scheme"),
        pytest.param("http://[::1", "", True, id="no-address"),
        pytest.param("http://bench:8572", "same-site", True, id="other-port"),
        pytest.param("", "cross-site", True, id="other-site-hiding-its-origin"),
    ],
)
def test_write_is_foreign(origin: str, fetch_site: str, foreign: bool) -> None:
    assert is_foreign(origin, fetch_site, "bench:8571") is foreign


def test_form_without_token_changes_nothing(make_app: Callable[..., Flask]) -> None:
    client = make_app().test_client()
    response = client.post("/cases/20260318-k7f2/remove")
    assert response.status_code == 400
    assert "nothing was changed" in response.text
    assert client.get("/cases/20260318-k7f2").status_code == 200


def test_too_large_a_request_is_refused(client: FlaskClient) -> None:
    response = client.post("/preview", data={"body": "x" * (1024 * 1024 + 10)})
    assert response.status_code == 413
    assert "anything else 1 MB" in response.text
