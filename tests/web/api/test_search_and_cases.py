"""The JSON interface."""

from pathlib import Path

import pytest
from flask.testing import FlaskClient

CASE = "20260318-k7f2"
NEW = {
    "date": "2026-07-01",
    "device": "LED TV",
    "chassis_family": "HV-L2",
    "symptom": ["dead"],
    "root_cause": "bridge rectifier shorted",
    "fix_time": "40 min",
    "outcome": "fixed",
    "shelf": "9",
    "body": "Short across BD801.",
}


def test_search_answers_with_all_its_parts(client: FlaskClient) -> None:
    answer = client.get("/api/search?q=dead+three+flashes&family=HV-L2").get_json()
    wanted = {"reading", "causes", "not_in_notebook", "checks", "expected_minutes", "bench_time_min", "cases"}
    wanted |= {"before_power", "tell_owner", "while_open", "caution", "took_ms"}
    assert wanted <= answer.keys()
    assert answer["before_power"] == ["measure Q801 drain to source cold"]
    assert CASE in [case["case"] for case in answer["cases"]]


def test_search_tells_the_owner_of_the_hazards_of_a_device_without_cases(client: FlaskClient) -> None:
    answer = client.get("/api/search?q=the+iron+gave+me+a+shock").get_json()
    assert answer["caution"][:2] == ["burn or shock", "earth missing"]
    assert "Cool any burn" in answer["tell_owner"][0]
    assert "doctor" in answer["tell_owner"][1]
    assert [line for line in answer["tell_owner"][:3] if line.startswith("Nobody touches its metal again")]


def test_case_is_given_with_its_unknown_fields(client: FlaskClient) -> None:
    case = client.get(f"/api/cases/{CASE}").get_json()
    assert case["parts"] == ["Q801 20N60C3", "R812 10R"]
    assert (case["fix_time"], case["blinks"], case["shelf"]) == ("55 min", "3 or 4", "4b")
    assert case["body"].startswith("Found **R812** open.")


def test_errors_have_one_form(client: FlaskClient) -> None:
    for response, status in (
        (client.get("/api/cases/20200101-zzzz"), 404),
        (client.get("/api/suggest?field=weather"), 400),
        (client.get("/api/nowhere"), 404),
        (client.delete(f"/api/cases/{CASE}"), 405),
        (client.post("/api/cases", data="date=2026"), 415),
        (client.post("/api/cases", data="[]", content_type="application/json"), 400),
        (client.post("/api/cases", data="{", content_type="application/json"), 400),
    ):
        assert response.status_code == status
        assert response.get_json().keys() == {"error"}
        assert response.get_json()["error"].keys() == {"message", "fields"}


def test_new_case_is_saved_and_found_at_once(client: FlaskClient, root: Path) -> None:
    response = client.post("/api/cases", json=NEW)
    assert response.status_code == 201
    case_id = response.get_json()["case"]
    text = (root / "cases/2026" / f"{case_id}.md").read_text()
    assert "shelf: 9" in text or "shelf: '9'" in text
    found = client.get("/api/search?q=bridge+rectifier").get_json()["cases"]
    assert found[0]["case"] == case_id


def test_faulty_case_is_refused_with_the_fields_at_fault(client: FlaskClient, root: Path) -> None:
    before = sorted(root.rglob("*.md"))
    response = client.post("/api/cases", json={**NEW, "fix_time": "soon", "outcome": "maybe"})
    assert response.status_code == 422
    assert response.get_json()["error"]["fields"].keys() == {"fix_time", "outcome"}
    assert sorted(root.rglob("*.md")) == before


def test_case_is_not_written_over_an_earlier_one(client: FlaskClient, root: Path) -> None:
    before = (root / f"cases/2026/{CASE}.md").read_bytes()
    response = client.post("/api/cases", json={**NEW, "case": CASE})
    assert response.status_code == 422
    assert response.get_json()["error"]["fields"].keys() == {"case"}
    assert (root / f"cases/2026/{CASE}.md").read_bytes() == before


def test_put_changes_only_what_is_given(client: FlaskClient, root: Path) -> None:
    path = root / f"cases/2026/{CASE}.md"
    expected = path.read_text().replace("tech: RK", "tech: JS")
    assert client.put(f"/api/cases/{CASE}", json={"tech": "JS"}).status_code == 200
    assert path.read_text() == expected


@pytest.mark.parametrize("cause", ["relay welded", "PFC MOSFET shorted"])
def test_put_tells_of_the_old_cause_in_the_text(client: FlaskClient, root: Path, cause: str) -> None:
    told = "| drain to source | 0.4 ohm | PFC MOSFET shorted: it was this |"
    path = root / f"cases/2026/{CASE}.md"
    path.write_text(f"{path.read_text()}\n{told}\n")
    said = client.put(f"/api/cases/{CASE}", json={"root_cause": cause}).get_json()
    assert told in path.read_text()
    assert ("still says “PFC MOSFET shorted: it was this”" in said["notice"]) == (cause == "relay welded")


def test_put_that_mends_an_unreadable_note_has_nothing_to_tell(client: FlaskClient, root: Path) -> None:
    path = root / f"cases/2026/{CASE}.md"
    path.write_text(path.read_text().replace("outcome: fixed", "outcome: perhaps"))
    said = client.put(f"/api/cases/{CASE}", json={"outcome": "fixed"})
    assert said.get_json() == {"case": CASE, "notice": ""}


def test_put_of_what_was_read_changes_no_byte(client: FlaskClient, root: Path) -> None:
    path = root / f"cases/2026/{CASE}.md"
    before = path.read_bytes()
    read = client.get(f"/api/cases/{CASE}")
    headers = {"If-Match": read.headers["ETag"]}
    assert client.put(f"/api/cases/{CASE}", json=read.get_json(), headers=headers).status_code == 200
    assert path.read_bytes() == before


def test_put_over_a_changed_note_is_refused(client: FlaskClient, root: Path) -> None:
    path = root / f"cases/2026/{CASE}.md"
    tag = client.get(f"/api/cases/{CASE}").headers["ETag"]
    path.write_text(path.read_text().replace("RK", "AM"))
    response = client.put(f"/api/cases/{CASE}", json={"tech": "JS"}, headers={"If-Match": tag})
    assert response.status_code == 409
    assert "AM" in path.read_text()


def test_put_names_the_field_at_fault(client: FlaskClient) -> None:
    response = client.put(f"/api/cases/{CASE}", json={"fix_time": "soon"})
    assert response.status_code == 422
    assert response.get_json()["error"]["fields"].keys() == {"fix_time"}
