"""The job sheet for the owner."""

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

SHEET = "/cases/20260318-k7f2/sheet"


def lines(page: str) -> dict[str, str]:
    return dict(re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", page))


def test_sheet_says_what_was_wrong_done_and_proved_and_no_more(client: FlaskClient) -> None:
    page = client.get(SHEET).text
    said = lines(page)
    assert said["What was wrong"] == "PFC MOSFET shorted"
    assert said["What was done"] == "Q801, gate resistor R812 and the mains fuse replaced"
    assert said["Parts"] == "Q801 20N60C3, R812 10R"
    assert said["How it was tried"] == "two hours on a test picture"
    assert said["How it ended"] == "It is repaired."
    assert not {"Price", "Technician", "Check"} & set(said)
    assert "Watch the" not in page


@pytest.mark.parametrize(
    ("settings", "parts", "price"),
    [
        # 55 min at 48 an hour are 44; worked out by hand.
        pytest.param('labour_rate = 48\ncurrency = "crowns"', "", "44 crowns for the labour", id="labour"),
        pytest.param("labour_rate = 48", "12,50", "56.50, parts included", id="parts"),
        pytest.param("labour_rate = 48\nminimum_charge = 60", "", "60 for the labour", id="least"),
    ],
)
def test_price_follows_the_shops_settings(
    client: FlaskClient, root: Path, settings: str, parts: str, price: str
) -> None:
    (root / "shop.toml").write_text(settings)
    assert lines(client.get(SHEET, query_string={"parts_cost": parts}).text)["Price"] == price


def test_repair_that_failed_has_no_price(client: FlaskClient, root: Path) -> None:
    (root / "shop.toml").write_text("labour_rate = 48")
    path = root / "cases/2026/20260318-k7f2.md"
    path.write_text(path.read_text().replace("outcome: fixed", "outcome: not economic"))
    said = lines(client.get(SHEET).text)
    assert said["How it ended"] == "A repair would cost more than it is worth."
    assert "Price" not in said


@pytest.mark.parametrize("parts", ["soon", "-3", "nan", "1e999"])
def test_amount_that_is_none_is_told(client: FlaskClient, root: Path, parts: str) -> None:
    (root / "shop.toml").write_text("labour_rate = 48")
    response = client.get(SHEET, query_string={"parts_cost": parts})
    assert response.status_code == 422
    assert "write an amount such as 12.50" in response.text


def test_spoilt_settings_are_told_on_the_sheet(client: FlaskClient, root: Path) -> None:
    (root / "shop.toml").write_text("labour_rate = many")
    response = client.get(SHEET)
    assert response.status_code == 200
    assert "shop.toml" in response.text


def test_sheet_of_no_case(client: FlaskClient) -> None:
    assert client.get("/cases/20200101-zzzz/sheet").status_code == 404
