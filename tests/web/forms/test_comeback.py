"""A set that came back, beside what was done the first time."""

from pathlib import Path

from flask.testing import FlaskClient

from kb.notes.case import CaseNote
from web.forms.note_form import compare

from ..conftest import CASES


def note(case_id: str) -> str:
    return f"---\n{CASES[case_id]}"


def test_compare_says_what_is_the_same_and_what_is_not() -> None:
    earlier = CaseNote.parse(note("20260318-k7f2"), file="20260318-k7f2.md")
    now = CaseNote.parse(note("20260402-m3xa"), file="20260402-m3xa.md")
    rows = {heading: said for heading, *said in compare(earlier, now)}
    assert rows["Root cause"][2]
    assert rows["Blinks"] == ["3 or 4", "3", False]
    assert rows["Parts"] == ["Q801 20N60C3, R812 10R", "", False]
    assert "Case" not in rows


def test_case_page_of_a_comeback_shows_then_and_now(client: FlaskClient) -> None:
    text = client.get("/cases/20260402-m3xa").text
    assert "Then and now</h2>" in text
    assert "15 days." in text
    assert "The same root cause was written down both times." in text
    assert "Went off with a pop at teatime" in text
    assert "Then and now" not in client.get("/cases/20260318-k7f2").text
    assert 'href="/cases/new?comeback=20260318-k7f2"' in client.get("/cases/20260318-k7f2").text


def test_case_page_stands_without_the_earlier_case(client: FlaskClient, root: Path) -> None:
    earlier = root / "cases/2026/20260318-k7f2.md"
    earlier.write_text("---\nbroken: [\n---\n", encoding="utf-8")
    for _ in range(2):
        response = client.get("/cases/20260402-m3xa")
        assert response.status_code == 200
        assert "Then and now" not in response.text
        earlier.unlink(missing_ok=True)
