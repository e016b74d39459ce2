"""The page of one case."""

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from ..reading_pages import form_values

CASE = "20260318-k7f2"


@pytest.mark.parametrize(
    ("address", "heading"), [(f"/cases/{CASE}", "PFC MOSFET"), ("/families/HV-L2", "HV-L2")]
)
def test_cautions_come_before_anything_else(client: FlaskClient, address: str, heading: str) -> None:
    """Also before what is said of a save."""
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["fix"] = "Q801 replaced"
    client.post(f"/cases/{CASE}/edit", data=form)
    text = client.get(address).text
    main = text[text.index("<main") :]
    assert main.index('class="caution names"') < main.index("Saved. Changed:") < main.index(f">{heading}")
    assert "stored charge" in main


def test_case_page_shows_every_field_and_the_unknown_one(client: FlaskClient) -> None:
    text = client.get("/cases/20260318-k7f2").text
    for said in (
        "Q801 drain to source 0.4 ohm",
        "R812 10R",
        "two hours on a test picture",
        "55 min",
        "RK",
        "4b",
    ):
        assert said in text
    assert "<strong>R812</strong> open" in text


def test_comebacks_are_linked_both_ways(client: FlaskClient) -> None:
    assert 'href="/cases/20260402-m3xa"' in client.get("/cases/20260318-k7f2").text
    assert 'href="/cases/20260318-k7f2"' in client.get("/cases/20260402-m3xa").text


def test_unknown_case_is_said_in_plain_words(client: FlaskClient) -> None:
    response = client.get("/cases/20200101-zzzz")
    assert response.status_code == 404
    assert "There is no case 20200101-zzzz" in response.text


def test_case_id_cannot_lead_out_of_the_notebook(client: FlaskClient, root: Path) -> None:
    (root.parent / "secret.md").write_text("shop takings")
    for path in ("/cases/..%2F..%2Fsecret", "/cases/../../secret", "/api/cases/..%2Fsecret"):
        assert "takings" not in client.get(path).text


def test_bad_note_is_shown_as_it_stands(client: FlaskClient, root: Path) -> None:
    path = root / "cases/2026/20260620-c5pp.md"
    path.write_text(path.read_text().replace("fix_time: 25 min", "fix_time: soon"))
    text = client.get("/cases/20260620-c5pp", follow_redirects=True).text
    assert "fix_time: soon" in text
