"""Writing and revising a family note."""

from pathlib import Path

from flask.testing import FlaskClient

from kb.notes.family import FamilyNote

from ..reading_pages import form_values

TYPED = {
    "chassis_family": "TN-W2",
    "device": "washing machine",
    "make": "Tarnbrook",
    "models": "TW-7W2, TW-8W2",
    "opening_time": "8",
    "before_power": "tip it, look for water\nmeasure the heater to earth",
    "caution": "mains",
    "blink_meaning": "3: drain fault\n2+1: door, or its lock",
    "body": "Top first.",
}


def test_new_family_is_written_whole(client: FlaskClient, root: Path) -> None:
    assert client.post("/families/new", data=TYPED).status_code == 302
    (path,) = set((root / "families").iterdir()) - {root / "families/hv-l2.md"}
    note = FamilyNote.parse(path.read_text(), file=f"families/{path.name}")
    assert note.models == ("TW-7W2", "TW-8W2")
    assert note.before_power == ("tip it, look for water", "measure the heater to earth")
    assert [(str(pattern), says) for pattern, says in note.blink_meaning] == [
        ("3", "drain fault"),
        ("2+1", "door, or its lock"),
    ]
    assert note.opening_time_min == 8


def test_family_is_not_written_twice(client: FlaskClient, root: Path) -> None:
    response = client.post("/families/new", data={**TYPED, "chassis_family": "HV-L2"})
    assert response.status_code == 422
    assert 'id="e-chassis_family"' in response.text
    assert len(list((root / "families").iterdir())) == 1


def test_saving_a_family_without_a_change_leaves_every_byte(client: FlaskClient, root: Path) -> None:
    path = root / "families/hv-l2.md"
    before = path.read_bytes()
    form = form_values(client.get("/families/HV-L2/edit").text)
    assert client.post("/families/HV-L2/edit", data=form).status_code == 302
    assert path.read_bytes() == before


def test_revising_a_family_changes_what_answers_say(client: FlaskClient, root: Path) -> None:
    form = form_values(client.get("/families/HV-L2/edit").text)
    form["tell_owner"] = "leave it unplugged until it is here\r\nkeep it upright, please"
    assert client.post("/families/HV-L2/edit", data=form).status_code == 302
    assert "keep it upright, please" in client.get("/?q=dead&family=HV-L2").text
    note = FamilyNote.parse((root / "families/hv-l2.md").read_text(), file="families/hv-l2.md")
    assert note.tell_owner == ("leave it unplugged until it is here", "keep it upright, please")


def test_blink_meaning_that_is_no_pattern_is_said(client: FlaskClient) -> None:
    response = client.post("/families/new", data={**TYPED, "blink_meaning": "lots: of trouble"})
    assert response.status_code == 422
    assert 'id="e-blink_meaning"' in response.text
    assert "lots: of trouble" in response.text


def test_family_changed_meanwhile_is_not_overwritten(client: FlaskClient, root: Path) -> None:
    path = root / "families/hv-l2.md"
    form = form_values(client.get("/families/HV-L2/edit").text)
    form["opening_time"] = "15 min"
    theirs = path.read_text().replace("14 screws", "16 screws")
    path.write_text(theirs)
    response = client.post("/families/HV-L2/edit", data=form)
    assert response.status_code == 409
    assert path.read_text() == theirs
    merged = form_values(response.text)
    assert "16 screws" in merged["body"]
    assert client.post("/families/HV-L2/edit", data=merged).status_code == 302
    assert path.read_text() == theirs.replace("12 min", "15 min")


def test_unknown_family_cannot_be_revised(client: FlaskClient) -> None:
    assert client.get("/families/ZZ-9/edit").status_code == 404
