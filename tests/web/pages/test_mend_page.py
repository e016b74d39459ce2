"""Mending a note whose fields cannot be read."""

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from ..reading_pages import form_values

CASE = "cases/2026/20260620-c5pp.md"


def spoil(root: Path) -> str:
    """Spoil a note and return what it was before."""
    good = (root / CASE).read_text()
    (root / CASE).write_text(good.replace("fix_time: 25 min", "fix_time: soon"))
    return good


def test_bad_note_is_mended_in_place(client: FlaskClient, root: Path) -> None:
    good = spoil(root)
    text = client.get(f"/attention/note?file={CASE}").text
    assert "<strong>fix_time</strong>" in text
    form = form_values(text)
    form["text"] = form["text"].replace("fix_time: soon", "fix_time: 25 min")
    assert client.post("/attention/note", data=form).status_code == 302
    assert (root / CASE).read_text() == good
    assert "drain pump jammed" in client.get("/cases/20260620-c5pp").text


def test_note_that_is_still_bad_is_not_saved_and_nothing_is_lost(client: FlaskClient, root: Path) -> None:
    spoil(root)
    before = (root / CASE).read_text()
    form = form_values(client.get(f"/attention/note?file={CASE}").text)
    form["text"] = form["text"].replace("fix_time: soon", "fix_time: later")
    response = client.post("/attention/note", data=form)
    assert response.status_code == 422
    assert "fix_time: later" in form_values(response.text)["text"]
    assert (root / CASE).read_text() == before


def test_note_changed_meanwhile_is_shown_beside_what_was_typed(client: FlaskClient, root: Path) -> None:
    good = spoil(root)
    form = form_values(client.get(f"/attention/note?file={CASE}").text)
    form["text"] = form["text"].replace("fix_time: soon", "fix_time: 30 min")
    (root / CASE).write_text(good)
    response = client.post("/attention/note", data=form)
    assert response.status_code == 409
    assert (root / CASE).read_text() == good
    again = form_values(response.text)
    assert "fix_time: 30 min" in again["text"]
    assert client.post("/attention/note", data=again).status_code == 302
    assert "fix_time: 30 min" in (root / CASE).read_text()


def test_family_note_can_be_mended_too(client: FlaskClient, root: Path) -> None:
    path = root / "families/hv-l2.md"
    path.write_text(path.read_text().replace("opening_time: 12 min", "opening_time: a bit"))
    assert "/attention/note?file=families/hv-l2.md" in client.get("/attention").text
    form = form_values(client.get("/attention/note?file=families/hv-l2.md").text)
    form["text"] = form["text"].replace("a bit", "9 min")
    assert client.post("/attention/note", data=form).status_code == 302
    assert "opening_time: 9 min" in path.read_text()


def test_bytes_that_are_no_utf8_are_shown_but_not_offered_for_saving(client: FlaskClient, root: Path) -> None:
    (root / CASE).write_bytes((root / CASE).read_bytes() + b"caf\xe9\n")
    text = client.get(f"/attention/note?file={CASE}").text
    assert "Save it as UTF-8 in a text editor" in text
    assert "Save the note" not in text


@pytest.mark.parametrize(
    "file", ["", "../secret.md", "/etc/passwd", "cases/../../secret.md", ".benchlore/forms.key"]
)
def test_only_notes_can_be_opened(client: FlaskClient, root: Path, file: str) -> None:
    (root.parent / "secret.md").write_text("shop takings")
    assert client.get("/attention/note", query_string={"file": file}).status_code == 404
    assert client.post("/attention/note", data={"file": file, "text": "x"}).status_code == 404
