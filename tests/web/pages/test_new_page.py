"""Writing up a repair."""

import datetime
import errno
import os
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from kb.notes.case import CaseNote

from ..notes import TYPED
from ..reading_pages import form_values


def written(root: Path) -> list[Path]:
    return sorted(
        set((root / "cases").rglob("*.md")) - {root / "cases/2026" / f"{stem}.md" for stem in KNOWN}
    )


KNOWN = ("20260318-k7f2", "20260402-m3xa", "20260511-q9tt", "20260620-c5pp")


def test_few_boxes_make_a_whole_note(client: FlaskClient, root: Path) -> None:
    response = client.post("/cases/new", data=TYPED)
    assert response.status_code == 302
    (path,) = written(root)
    note = CaseNote.parse(path.read_text(), file=f"cases/2026/{path.name}")
    assert (note.chassis_family, note.device, note.make) == ("HV-L2", "LED TV", "Halvern")
    assert (note.fix_time_min, note.body) == (40, "BD801 went **short**.")
    assert response.location.endswith(note.case)


def test_saved_case_is_found_at_once(client: FlaskClient) -> None:
    client.post("/cases/new", data=TYPED)
    assert "bridge rectifier shorted" in client.get("/?q=noise,+then+nothing+at+all").text


def test_saved_case_lets_the_browser_forget_its_draft(client: FlaskClient) -> None:
    text = client.post("/cases/new", data=TYPED, follow_redirects=True).text
    assert 'data-draft-done="new"' in text


def test_errors_stand_beside_their_boxes_and_in_a_summary(client: FlaskClient, root: Path) -> None:
    response = client.post("/cases/new", data={**TYPED, "fix_time": "soon", "symptom": "", "blinks": "many"})
    assert response.status_code == 422
    for name in ("fix_time", "symptom", "blinks"):
        assert f'id="e-{name}"' in response.text
        assert f'href="#f-{name}"' in response.text
    assert "kettle noise, then nothing at all" in response.text
    assert "BD801 went **short**." in response.text
    assert written(root) == []


def test_repair_written_up_twice_is_asked_about_first(client: FlaskClient, root: Path) -> None:
    client.post("/cases/new", data=TYPED)
    again = {**TYPED, "complaint": "Kettle noise then nothing at all"}
    response = client.post("/cases/new", data=again)
    assert response.status_code == 409
    assert "written up twice" in response.text
    assert len(written(root)) == 1
    assert client.post("/cases/new", data={**again, "all_the_same": "1"}).status_code == 302
    assert len(written(root)) == 2


def test_slip_is_asked_about_and_saved_all_the_same(client: FlaskClient, root: Path) -> None:
    typed = {**TYPED, "model": "HV-43L2", "chassis_family": "HV-L3", "device": "LED TV"}
    response = client.post("/cases/new", data=typed)
    assert (response.status_code, written(root)) == (409, [])
    assert "Is the family right? HV-43L2 is in the note of HV-L2." in response.text
    assert client.post("/cases/new", data={**typed, "all_the_same": "1"}).status_code == 302


def test_refused_form_still_says_what_was_guessed(client: FlaskClient) -> None:
    """Of a box that was typed over meanwhile it says no more that it is a guess."""
    form = form_values(client.get("/cases/new?note=HV-43L2+dead,+three+flashes,+55+min").text)
    assert {each.partition("|")[0] for each in form.getlist("look")} == {"symptom", "fix_time"}
    form["fix_time"] = "50 min"
    text = client.post("/cases/new", data={**form, "look": form.getlist("look")}).text
    assert "Check this: read from your line." in text.split('name="symptom"')[1].split("</div>")[0]
    assert text.count("Check this") == 1


@pytest.mark.parametrize(
    ("family", "model"), [("HV-43L2", "HV-43L2"), ("hv l2", ""), ("none", ""), ("washing machine", "")]
)
def test_model_typed_into_the_search_is_that_of_the_write_up(
    client: FlaskClient, family: str, model: str
) -> None:
    form = form_values(client.get("/cases/new", query_string={"q": "dead", "family": family}).text)
    assert form["model"] == model


def test_comeback_is_offered_and_saved_with_one_press(client: FlaskClient, root: Path) -> None:
    typed = {**TYPED, "model": "TW-7W2", "chassis_family": "TN-W2", "device": "washing machine"}
    typed |= {"complaint": "does not drain, smells of burning again", "root_cause": "drain pump jammed"}
    response = client.post("/cases/new", data=typed)
    assert response.status_code == 409
    assert "come back" in response.text
    assert 'name="comeback_of" value="20260620-c5pp"' in response.text
    assert client.post("/cases/new", data={**typed, "comeback_of": "20260620-c5pp"}).status_code == 302
    (path,) = written(root)
    assert "comeback_of: 20260620-c5pp" in path.read_text()


def test_form_opens_filled_from_a_search(client: FlaskClient) -> None:
    text = client.get("/cases/new?q=HV-43L2+dead+six+flashes&cause=mains+fuse+open").text
    assert "HV-43L2 dead six flashes</textarea>" in text
    for name, value in (("blinks", "6"), ("chassis_family", "HV-L2"), ("root_cause", "mains fuse open")):
        assert f'name="{name}" value="{value}"' in text


def test_form_knows_the_board_of_a_known_cause(client: FlaskClient) -> None:
    text = client.get("/cases/new?q=dead&cause=PFC+MOSFET+shorted").text
    assert 'name="board" value="power supply"' in text


def test_form_opens_filled_from_an_earlier_case(client: FlaskClient) -> None:
    text = client.get("/cases/new?from=20260318-k7f2").text
    assert 'name="root_cause" value="PFC MOSFET shorted"' in text
    assert f'name="date" value="{datetime.date.today()}"' in text
    assert "Owner counts" not in text


def test_form_refuses_an_unknown_earlier_case(client: FlaskClient) -> None:
    assert client.get("/cases/new?from=20200101-zzzz").status_code == 404


def test_nothing_typed_is_lost_when_the_folder_cannot_be_written(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    response = client.post("/cases/new", data=TYPED)
    assert response.status_code == 503
    assert "the disk is full; free some space and save again" in response.text
    assert "BD801 went **short**." in response.text


def test_preview_renders_markdown_harmlessly(client: FlaskClient) -> None:
    response = client.post("/preview", data={"body": "**hot** <script>alert(1)</script>"})
    assert "<strong>hot</strong>" in response.text
    assert "<script>" not in response.text


def test_write_up_from_a_search_starts_with_the_symptoms_that_were_read(client: FlaskClient) -> None:
    form = client.get("/cases/new?q=washing+machine+does+not+drain+and+smells+of+burning").text
    box = form.split('name="symptom"')[1].split("</textarea>")[0]
    assert "does not drain" in box
    assert "washing machine" not in box


def test_comeback_starts_with_the_set_but_not_with_what_was_found(client: FlaskClient) -> None:
    form = client.get("/cases/new?comeback=20260318-k7f2").text
    for value in ("20260318-k7f2", "HV-43L2", "HV-L2"):
        assert f'value="{value}"' in form, value
    assert "PFC MOSFET shorted" not in form
    assert "the mains fuse replaced" not in form
    assert client.get("/cases/new?comeback=20990101-none").status_code == 404


def test_initials_are_those_of_whoever_signed_in(client: FlaskClient) -> None:
    with client.session_transaction() as session:
        session["tech"] = "RK"
    for address in ("/cases/new", "/cases/new?q=HV-43L2+dead", "/cases/new?from=20260402-m3xa"):
        assert form_values(client.get(address).text)["tech"] == "RK"


def test_form_sent_twice_is_one_case(client: FlaskClient, root: Path) -> None:
    form = form_values(client.get("/cases/new").text)
    sent = {**TYPED, "once": form["once"]}
    first, again = client.post("/cases/new", data=sent), client.post("/cases/new", data=sent)
    assert (first.status_code, first.location) == (302, again.location)
    assert len(written(root)) == 1
