"""Errors in plain words, never a traceback."""

import shutil
from pathlib import Path

import pytest
from flask.testing import FlaskClient


def test_unknown_page_is_said_plainly(client: FlaskClient) -> None:
    response = client.get("/nowhere")
    assert response.status_code == 404
    assert "no such page" in response.text


@pytest.mark.parametrize("path", ["/?q=dead", "/api/search?q=dead"])
def test_slip_of_our_own_shows_no_traceback(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    def slip(*_: object, **__: object) -> None:
        raise RuntimeError("the inner workings")

    monkeypatch.setattr("search.bench.Bench.answer", slip)
    response = client.get(path)
    assert response.status_code == 500
    assert "Traceback" not in response.text
    assert "inner workings" not in response.text
    assert "is lost" in response.text


@pytest.mark.parametrize("path", ["/?q=dead", "/attention", "/api/search?q=dead", "/cases/20260318-k7f2"])
def test_folder_removed_meanwhile_is_said_and_works_again(client: FlaskClient, root: Path, path: str) -> None:
    assert client.get(path).status_code == 200
    aside = root.with_name("aside")
    shutil.move(root, aside)
    response = client.get(path)
    assert response.status_code in (404, 503)
    assert "Traceback" not in response.text
    if root.exists():
        shutil.rmtree(root)
    shutil.move(aside, root)
    assert client.get(path).status_code == 200
