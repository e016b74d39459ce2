"""What needs attention, and one name for one cause."""

import re
from pathlib import Path

from flask.testing import FlaskClient

from web.pages.attention import NOTES_SHOWN

from ..notes import a_note


def add(root: Path, case_id: str, cause: str) -> Path:
    path = root / "cases/2026" / f"{case_id}.md"
    path.write_text(a_note(case=case_id, root_cause=cause).as_text())
    return path


def test_bad_note_is_listed_with_line_trouble_and_remedy(client: FlaskClient, root: Path) -> None:
    path = root / "cases/2026/20260620-c5pp.md"
    path.write_text(path.read_text().replace("25 min", "soonish"))
    text = client.get("/attention").text
    line = path.read_text().splitlines().index("fix_time: soonish") + 1
    assert "cases/2026/20260620-c5pp.md" in text
    assert f"Line {line}, <strong>fix_time</strong>" in text
    assert "soonish" in text


def test_family_without_a_note_is_listed(client: FlaskClient) -> None:
    assert "TN-W2" in client.get("/attention").text


def test_near_names_are_offered_shown_and_merged(client: FlaskClient, root: Path) -> None:
    one = add(root, "20260701-aaaa", "drain pump jammed solid")
    kept = add(root, "20260702-bbbb", "drain pump jammed")
    before = one.read_text()
    text = client.get("/attention").text
    links = re.findall(r'href="(/attention/merge\?[^"]+)"', text)
    link = next(
        each for each in links if "into=drain+pump+jammed&" in each or "into=drain%20pump%20jammed&" in each
    )
    shown = client.get(link.replace("&amp;", "&")).text
    assert "cases/2026/20260701-aaaa.md" in shown
    assert "Nothing is written yet" in shown
    assert one.read_text() == before
    form = {"into": "drain pump jammed", "from": "drain pump jammed solid"}
    assert client.post("/attention/merge", data=form).status_code == 302
    assert one.read_text() == before.replace("drain pump jammed solid", "drain pump jammed")
    assert "jammed solid" not in client.get("/attention").text
    assert kept.exists()


def test_merging_needs_two_names(client: FlaskClient) -> None:
    assert client.get("/attention/merge?into=fuse").status_code == 400
    assert client.post("/attention/merge", data={"into": "fuse", "from": "fuse"}).status_code == 400


def test_removed_case_is_listed_to_be_put_back(client: FlaskClient) -> None:
    client.post("/cases/20260620-c5pp/remove")
    assert "/removed/20260620-c5pp" in client.get("/attention").text


def test_long_list_is_cut_and_says_so(client: FlaskClient, root: Path) -> None:
    for number in range(NOTES_SHOWN + 2):  # and one note of the small notebook itself
        (root / f"cases/2026/20260101-{number:04d}.md").write_text("nothing")
    text = client.get("/attention").text
    assert f"in {NOTES_SHOWN + 3} notes" in text
    assert "And 3 more notes" in text


def test_photographs_of_no_case_are_told(client: FlaskClient, root: Path) -> None:
    for case_id in ("20260318-k7f2", "20200101-zzzz", "20200102-zzzz"):
        (root / "pictures" / case_id).mkdir(parents=True)
        if case_id != "20200102-zzzz":
            (root / "pictures" / case_id / "01.jpg").write_bytes(b"x")
    page = client.get("/attention").text
    assert "pictures/20200101-zzzz" in page
    assert "pictures/20260318-k7f2" not in page
    assert "pictures/20200102-zzzz" not in page  # an empty folder hides nothing
