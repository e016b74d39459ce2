"""Bringing in an old list: understood first, imported then, and never twice."""

import csv
import io
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from tests.messy_workbook import write_messy_workbook

HEADER = "Day,Type,Family,Symptoms,Cause,Minutes,Result,Shelf"
GOOD = "2026-03-18,LED TV,HV-L2,dead,PFC MOSFET shorted,55,repaired,4b"
BAD = "soon,LED TV,HV-L2,dead,PFC MOSFET shorted,55,repaired,4b"


def upload(client: FlaskClient, data: bytes, name: str = "old jobs.csv") -> str:
    response = client.post("/import", data={"table": (io.BytesIO(data), name)})
    assert response.status_code == 302, response.text
    return response.location


def cases(root: Path) -> int:
    return len(list((root / "cases").rglob("*.md")))


def test_list_is_understood_before_anything_is_imported(client: FlaskClient, root: Path) -> None:
    before = cases(root)
    page = client.get(upload(client, "\n".join([HEADER, GOOD, BAD]).encode())).text
    assert "old_jobs.csv" in page
    assert '<option value="root_cause" selected>' in page
    assert "PFC MOSFET shorted" in page
    assert "<strong>1 row</strong> to import" in page
    assert "Line 3: date: " in page
    assert cases(root) == before


def test_import_follows_the_selects_and_adds_nothing_the_second_time(client: FlaskClient, root: Path) -> None:
    before = cases(root)
    address = upload(client, "\n".join([HEADER, GOOD, BAD]).encode())
    fields = ("date", "device", "chassis_family", "symptom", "root_cause", "fix_time", "outcome", "tech")
    selects = {f"c{place}": field for place, field in enumerate(fields)}
    page = client.post(address, data=selects, follow_redirects=True).text
    assert "1 case imported" in page
    assert cases(root) == before + 1
    assert any("tech: 4b" in path.read_text() for path in (root / "cases").rglob("*.md"))
    (rejected,) = csv.DictReader(io.StringIO(client.get(f"{address}/rejected").text))
    assert rejected["rejected line"] == "3"
    client.post(address, data=selects)
    assert cases(root) == before + 1


def test_what_no_column_holds_is_said_once_for_the_list(client: FlaskClient) -> None:
    page = client.get(
        upload(client, b"Date,Model,Fault,Cause,Time\n2026-03-18,HV-43L2,dead,fuse open,20\n")
    ).text
    assert "Every case needs Symptom, Outcome, and no column" in page
    assert "Every case needs" not in client.get(upload(client, "\n".join([HEADER, GOOD]).encode())).text


def test_field_chosen_twice_is_told_and_nothing_is_imported(client: FlaskClient, root: Path) -> None:
    before = cases(root)
    address = upload(client, "\n".join([HEADER, GOOD]).encode())
    page = client.post(address, data={"c0": "date", "c1": "date"}, follow_redirects=True)
    assert page.status_code == 422
    assert "Both Day and Type are taken for Date" in page.text
    assert cases(root) == before


@pytest.mark.parametrize(
    ("data", "name"),
    [
        pytest.param(b"", "empty.csv", id="empty"),
        pytest.param(b"not a workbook", "list.xlsx", id="no-workbook"),
        pytest.param(b"\n\n", "../../up.csv", id="no-names"),
        pytest.param("Gerät;Fehler\nTV;tot\n".encode("latin-1"), "old.csv", id="no-utf-8"),
    ],
)
def test_file_that_is_no_list_is_refused_by_its_own_name(
    client: FlaskClient, root: Path, data: bytes, name: str
) -> None:
    response = client.post("/import", data={"table": (io.BytesIO(data), name)})
    assert response.status_code == 422
    assert str(root) not in response.text
    assert not list(root.parent.glob("up*"))


def test_row_that_is_not_utf_8_is_named_and_the_others_come_in(client: FlaskClient, root: Path) -> None:
    before = cases(root)
    address = upload(client, f"{HEADER}\n{GOOD}1\n".encode() + f"{GOOD}é\n".encode("latin-1"))
    assert "save the file as UTF-8, or take it as xlsx or ods" in client.get(address).text
    client.post(address, data={})
    assert cases(root) == before + 1


@pytest.mark.parametrize("token", ["..", "0" * 32, "x"])
def test_list_that_is_not_kept(client: FlaskClient, token: str) -> None:
    assert client.get(f"/import/{token}").status_code == 404
    assert client.post(f"/import/{token}").status_code == 404


def test_only_the_newest_lists_are_kept(client: FlaskClient) -> None:
    first, *others = [upload(client, f"{HEADER}\n{GOOD}{number}".encode()) for number in range(6)]
    assert client.get(first).status_code == 404
    assert client.get(others[-1]).status_code == 200


def test_messy_workbook_comes_in_once_with_its_rejects(client: FlaskClient, root: Path) -> None:
    before = cases(root)
    path = root.parent / "jobs.xlsx"
    bad = write_messy_workbook(path, 200)
    address = upload(client, path.read_bytes(), "jobs.xlsx")
    for _ in range(2):
        page = client.post(address, data={}, follow_redirects=True).text
        assert cases(root) == before + 200 - bad
    assert f"{bad} rows</strong> left out" in page
    rejects = list(csv.DictReader(io.StringIO(client.get(f"{address}/rejected").text)))
    assert len(rejects) == bad
    assert all("some time in spring" in row["rejected because"] for row in rejects)
