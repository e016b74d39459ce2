"""The telephone's way in: a QR code that reads back, and a manifest for its home screen."""

from collections.abc import Callable
from urllib.parse import urljoin

import segno
from flask import Flask
from flask.testing import FlaskClient

ADDRESS = "http://192.168.7.2:8571/"


def test_page_shows_the_address_and_what_is_missing(make_app: Callable[..., Flask]) -> None:
    app = make_app()
    app.config["SHOP_ADDRESS"] = ADDRESS
    page = app.test_client().get("/phone").text
    assert ADDRESS in page
    assert "benchlore passphrase" in page


def test_page_of_one_computer_says_how_to_open_it_to_the_shop(client: FlaskClient) -> None:
    assert "--host 0.0.0.0" in client.get("/phone").text


def test_code_has_as_many_modules_as_the_standard_says(make_app: Callable[..., Flask]) -> None:
    # 24 bytes at level M need version 2, 25 modules a side (ISO/IEC 18004, table 7; from memory).
    app = make_app()
    app.config["SHOP_ADDRESS"] = ADDRESS
    response = app.test_client().get("/phone.svg")
    assert response.mimetype == "image/svg+xml"
    assert segno.make(ADDRESS, error="m").symbol_size(border=0) == (25, 25)
    assert "<script" not in response.text


def test_manifest_can_be_installed(client: FlaskClient) -> None:
    with client.get("/static/app.webmanifest") as sent:
        assert sent.mimetype == "application/manifest+json"
        manifest = sent.get_json(force=True)
    assert (manifest["start_url"], manifest["display"]) == ("/", "standalone")
    with client.get(urljoin("/static/app.webmanifest", manifest["icons"][0]["src"])) as icon:
        assert icon.status_code == 200
