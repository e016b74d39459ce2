"""Tables from elsewhere: workbooks written by other libraries, and files that only look like workbooks."""

import datetime
import zipfile
from pathlib import Path

import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table as OdfTable
from odf.table import TableCell, TableRow
from odf.text import P
from openpyxl import Workbook

from kb.exchange import tables
from kb.exchange.rows import JOB_NOTE, FieldRead, Plan, read_rows, samples
from kb.exchange.tables import ImportProblem, open_table

HEADER = ["Day", "Type", "Family", "Symptoms", "Cause", "Minutes", "Result"]
ROW = ["2026-03-18", "LED TV", "HV-L2", "dead, clicking", "PFC MOSFET shorted", "55", "fixed"]
FIELDS = ("date", "device", "chassis_family", "symptom", "root_cause", "fix_time", "outcome")
PLAN = Plan(columns=dict(zip(FIELDS, HEADER, strict=True)))


def xlsx(path: Path) -> Path:
    book = Workbook()
    assert book.active is not None
    book.active.append(HEADER)
    book.active.append([])
    book.active.append([datetime.date(2026, 3, 18), *ROW[1:5], 55, "fixed"])
    book.save(path)
    return path


def ods(path: Path) -> Path:
    document = OpenDocumentSpreadsheet()
    sheet = OdfTable(name="jobs")
    for cells in (HEADER, [""] * len(HEADER), ROW):
        row = TableRow()
        for text in cells:
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=text))
            row.addElement(cell)
        sheet.addElement(row)
    document.spreadsheet.addElement(sheet)
    document.save(str(path))
    return path


@pytest.mark.parametrize(("write", "name"), [(xlsx, "jobs.xlsx"), (ods, "jobs.ods")])
def test_workbook_reads_like_the_same_table_in_csv(write: object, name: str, tmp_path: Path) -> None:
    assert callable(write)
    (row,) = read_rows(write(tmp_path / name), PLAN)
    assert row.note is not None, row.reason
    assert row.line == 3
    assert row.cells == tuple(ROW)
    assert (row.note.fix_time_min, row.note.symptom) == (55, ("dead", "clicking"))


def test_times_and_yes_or_no_are_read_as_they_are_shown(tmp_path: Path) -> None:
    book = Workbook()
    assert book.active is not None
    book.active.append(["took", "done", "rate"])
    book.active.append([datetime.time(1, 20), True, 2.5])
    book.save(tmp_path / "times.xlsx")
    with open_table(tmp_path / "times.xlsx") as table:
        assert [row.cells for row in table.rows] == [("1:20", "yes", "2.5")]


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04 not a zip", b"a,b\n1,2\n"], ids=["empty", "cut", "csv"])
def test_file_that_is_no_workbook_is_refused_with_what_to_do(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "jobs.xlsx"
    path.write_bytes(data)
    with pytest.raises(ImportProblem, match="save it as CSV"), open_table(path):
        pass


def test_workbook_that_unpacks_to_too_much_is_not_unpacked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * (tables.LARGEST_WORKBOOK + 1))
    assert path.stat().st_size < 1_000_000
    with pytest.raises(ImportProblem, match="unpacks to more than 100 MB"), open_table(path):
        pass


def test_samples_show_what_stands_in_each_column(tmp_path: Path) -> None:
    path = tmp_path / "jobs.csv"
    path.write_text("Day,Job\n2026-01-01,hum\n2026-01-01,\n2026-01-02,dead\n", encoding="utf-8")
    assert samples(path) == {"Day": ["2026-01-01", "2026-01-02"], "Job": ["hum", "dead"]}


def test_free_text_fills_only_what_no_column_says(tmp_path: Path) -> None:
    path = tmp_path / "jobs.csv"
    path.write_text("Day,Type,Cause,Job\n2026-01-01,radio,fuse,the text\n", encoding="utf-8")
    found = {
        "root_cause": FieldRead(value="another", confidence=0.4),
        "chassis_family": FieldRead(value="X", confidence=0.9),
        "symptom": FieldRead(value=["dead"], confidence=0.6),
        "fix_time": FieldRead(value="20 min", confidence=0.8),
        "outcome": FieldRead(value="fixed", confidence=0.6),
    }
    columns = {"date": "Day", "device": "Type", "root_cause": "Cause", JOB_NOTE: "Job"}
    (row,) = read_rows(path, Plan(columns=columns, read_text=lambda text: found))
    assert row.note is not None, row.reason
    assert (row.note.root_cause, row.note.body, row.note.fix_time_min) == ("fuse", "the text", 20)
    assert row.from_text == ("chassis_family", "symptom", "fix_time", "outcome")
    assert row.note.unknown["read_from_text"]["fix_time"] == "80%"
