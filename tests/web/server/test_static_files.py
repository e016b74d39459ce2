"""Styles and scripts are fetched once and asked for again only when they change."""

import re

from flask.testing import FlaskClient


def test_each_static_file_of_a_page_has_its_checksum_and_is_kept(client: FlaskClient) -> None:
    addresses = re.findall(r'(?:href|src)="(/static/[^"]+)"', client.get("/").text)
    assert "/static/bench.css" in {address.partition("?")[0] for address in addresses}
    for address in addresses:
        assert re.search(r"\?v=[0-9a-f]{8}$", address), address
        with client.get(address) as response:
            assert "immutable" in response.headers["Cache-Control"], address


def test_static_file_without_a_checksum_or_that_is_not_there_is_not_kept(client: FlaskClient) -> None:
    for address in ("/static/bench.css", "/static/nothing.css?v=00000000"):
        with client.get(address) as response:
            assert "immutable" not in response.headers.get("Cache-Control", ""), address
