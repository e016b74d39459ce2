"""Revising, removing and bringing back."""

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from ..reading_pages import form_values

CASE = "20260318-k7f2"
ODD = """\
---
case: 20260318-k7f2
# the owner is a regular
date:   2026-03-18
device: LED TV
shelf: 4b
chassis_family: HV-L2
symptom: ["dead, then smoke"]
root_cause: PFC MOSFET shorted
fix_time: 0:55   # with coffee
outcome: fixed
---

Two  blanks,\ttabs and a trailing space:\x20
"""


def note_path(root: Path) -> Path:
    return root / "cases/2026" / f"{CASE}.md"


def test_saving_without_a_change_leaves_every_byte(client: FlaskClient, root: Path) -> None:
    note_path(root).write_bytes(ODD.encode())
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    assert client.post(f"/cases/{CASE}/edit", data=form).status_code == 302
    assert note_path(root).read_bytes() == ODD.encode()


def test_revising_one_field_leaves_the_rest(client: FlaskClient, root: Path) -> None:
    note_path(root).write_bytes(ODD.encode())
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["root_cause"] = "gate drive IC shorted"
    assert client.post(f"/cases/{CASE}/edit", data=form).status_code == 302
    expected = ODD.replace("PFC MOSFET shorted", "gate drive IC shorted")
    assert note_path(root).read_text() == expected
    assert "gate drive IC shorted" in client.get("/?q=gate+drive").text


@pytest.mark.parametrize("cause", ["relay welded", "PFC MOSFET shorted"])
def test_line_that_still_tells_of_the_old_cause_is_pointed_out(
    client: FlaskClient, root: Path, cause: str
) -> None:
    told = "| drain to source | 0.4 ohm | PFC MOSFET shorted: it was this |"
    note_path(root).write_text(ODD + told + "\n")
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["root_cause"], form["tech"] = cause, "AM"
    page = client.post(f"/cases/{CASE}/edit", data=form, follow_redirects=True).text
    assert told in note_path(root).read_text()
    assert ("still says “PFC MOSFET shorted: it was this”" in page) == (cause == "relay welded")


def test_unknown_fields_are_shown_as_kept(client: FlaskClient) -> None:
    assert "<dd>4b</dd>" in client.get(f"/cases/{CASE}/edit").text


def test_note_changed_meanwhile_is_not_overwritten(client: FlaskClient, root: Path) -> None:
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["proof"] = "four hours on a test picture"
    theirs = note_path(root).read_text().replace("tech: RK", "tech: AM")
    note_path(root).write_text(theirs)
    response = client.post(f"/cases/{CASE}/edit", data=form)
    assert response.status_code == 409
    assert note_path(root).read_text() == theirs
    merged = form_values(response.text)
    assert (merged["proof"], merged["tech"]) == ("four hours on a test picture", "AM")
    assert client.post(f"/cases/{CASE}/edit", data=merged).status_code == 302
    assert note_path(root).read_text() == theirs.replace("two hours", "four hours")


def test_field_that_both_changed_is_shown_twice(client: FlaskClient, root: Path) -> None:
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["proof"] = "four hours"
    note_path(root).write_text(note_path(root).read_text().replace("two hours on a test picture", "one day"))
    text = client.post(f"/cases/{CASE}/edit", data=form).text
    table = text[text.index("Both changed") : text.index("</table>")]
    assert "one day" in table
    assert "four hours" in table


def test_errors_keep_what_was_typed(client: FlaskClient, root: Path) -> None:
    before = note_path(root).read_bytes()
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["fix_time"] = "a while"
    response = client.post(f"/cases/{CASE}/edit", data=form)
    assert response.status_code == 422
    assert 'id="e-fix_time"' in response.text
    assert form_values(response.text)["fix_time"] == "a while"
    assert note_path(root).read_bytes() == before


def test_case_removed_meanwhile_can_be_saved_as_a_new_one(client: FlaskClient, root: Path) -> None:
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    client.post(f"/cases/{CASE}/remove")
    response = client.post(f"/cases/{CASE}/edit", data=form)
    assert response.status_code == 409
    assert 'action="/cases/new"' in response.text
    assert form_values(response.text)["root_cause"] == "PFC MOSFET shorted"


def test_removed_case_is_no_longer_found_and_comes_back_whole(client: FlaskClient, root: Path) -> None:
    before = note_path(root).read_bytes()
    answer = client.post(f"/cases/{CASE}/remove")
    assert client.get(f"/api/cases/{CASE}").status_code == 404
    assert f'action="/removed/{CASE}/restore"' in client.get(f"/cases/{CASE}").text  # its own page offers it
    assert f'href="/cases/{CASE}"' not in client.get("/?q=pop+at+teatime").text
    page = client.get(answer.location).text
    restore = page.split('action="/removed/')[1].split('"')[0]
    assert client.post(f"/removed/{restore}").status_code == 302
    assert note_path(root).read_bytes() == before
    assert f'href="/cases/{CASE}"' in client.get("/?q=pop+at+teatime").text


@pytest.mark.parametrize("path", ["/cases/20200101-zzzz/edit", "/cases/x/edit"])
def test_unknown_case_cannot_be_revised(client: FlaskClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_removing_an_unknown_case_is_said(client: FlaskClient) -> None:
    assert client.post("/cases/20200101-zzzz/remove").status_code == 404


def test_get_never_removes(client: FlaskClient, root: Path) -> None:
    assert client.get(f"/cases/{CASE}/remove").status_code == 405
    assert note_path(root).exists()


INDENTED = """\
---
  case: 20260318-k7f2
  date: 2026-03-18
  device: LED TV
  chassis_family: HV-L2
  symptom: [dead]
  root_cause: >-
    PFC MOSFET
    shorted
  fix_time: 55 min
  outcome: fixed
---
"""


def test_field_that_cannot_be_changed_alone_keeps_what_was_typed(client: FlaskClient, root: Path) -> None:
    note_path(root).write_text(INDENTED, encoding="utf-8")
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["root_cause"], form["proof"] = "relay stuck", "two days on the bench"
    response = client.post(f"/cases/{CASE}/edit", data=form)
    assert response.status_code == 422
    assert "change it in an editor" in response.text
    again = form_values(response.text)
    assert (again["root_cause"], again["proof"]) == ("relay stuck", "two days on the bench")
    put = client.put(f"/api/cases/{CASE}", json={"root_cause": "relay stuck"})
    assert put.status_code == 422
    assert "change it in an editor" in put.json["error"]["message"]  # type: ignore[index]
    assert note_path(root).read_text(encoding="utf-8") == INDENTED


def test_saving_says_what_changed(client: FlaskClient) -> None:
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["fix_time"], form["board"] = "1 h", ""
    page = client.post(f"/cases/{CASE}/edit", data=form, follow_redirects=True).text
    assert "Saved. Changed: Fix time: 55 min → 1 h; Board: power supply → nothing." in page


def test_saving_without_a_change_says_so(client: FlaskClient) -> None:
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    page = client.post(f"/cases/{CASE}/edit", data=form, follow_redirects=True).text
    assert "Saved. Nothing was changed." in page


def test_cautions_of_the_note_stand_before_the_fold_with_all_others(client: FlaskClient) -> None:
    boxes = client.get(f"/cases/{CASE}/edit").text.partition('id="f-caution"')[2].partition("</fieldset>")[0]
    chosen, others = boxes.split("<details>")
    assert re.findall('value="([a-z ]+)" checked', chosen) == ["mains", "stored charge"]
    assert 'value="fire risk">' in others
    assert "checked" not in others
