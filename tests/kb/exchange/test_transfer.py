"""Cases in from CSV, and out as CSV and JSON Lines."""

import csv
import io
import json
import os
import tracemalloc
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given

from kb.exchange.rows import Plan, guess_mapping, read_header, read_rows
from kb.exchange.tables import ImportProblem
from kb.exchange.transfer import export_cases, import_table
from kb.notebook import PICTURES, Notebook, open_demo
from kb.notes.case import CASE_FIELDS, CaseNote
from kb.storage import saving
from kb.storage.pictures import add_pictures
from kb.storage.saving import WriteError
from tests.kb.made_up_notes import CASE_ID, CASE_PATH, CASE_TEXT, cases, empty_notebook, put, unhurried
from tests.kb.storage.test_pictures import picture
from tests.messy_workbook import write_messy_workbook

HEADER = ["Job", "Day", "Type", "Brand", "Family", "Symptoms", "Cause", "Minutes", "Result"]
GOOD = [
    "1",
    "18/03/2026",
    "LED TV",
    "Halvern",
    "HV-L2",
    "dead, clicking",
    "PFC MOSFET shorted",
    "55",
    "repaired",
]


def table(path: Path, *rows: Sequence[str], delimiter: str = ",") -> Path:
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, delimiter=delimiter).writerows([HEADER, *rows])
    return path


def by_name(header: list[str], **constants: str) -> Plan:
    return Plan(columns=guess_mapping(header), constants=constants)


def changed(**cells: str) -> list[str]:
    return [cells.get(name, cell) for name, cell in zip(HEADER, GOOD, strict=True)]


def all_cases(nb: Notebook) -> list[CaseNote]:
    return [nb.read_case(path) for path in nb.scan() if path.startswith("cases/")]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_rows_become_cases(nb: Notebook, tmp_path: Path, delimiter: str) -> None:
    path = table(tmp_path / "old.csv", GOOD, changed(Job="2", Symptoms="hum"), delimiter=delimiter)
    mapping = guess_mapping(read_header(path)) | {"job": "Job"}
    report = import_table(nb, path, Plan(columns=mapping), dry_run=False)
    assert (report.imported, report.already_there, report.rejected) == (2, 0, 0)
    assert report.rejects_file is None
    assert list(report.paths) == sorted(report.paths) or set(report.paths) == set(nb.scan())
    first = next(note for note in all_cases(nb) if note.unknown["job"] == "1")
    assert first.symptom == ("dead", "clicking")
    assert (first.date.isoformat(), first.fix_time_min, first.outcome) == ("2026-03-18", 55, "fixed")


def test_family_that_the_notebook_knows_is_filled_in_by_the_model(nb: Notebook, tmp_path: Path) -> None:
    family = "---\nchassis_family: HV-L2\ndevice: LED TV\nmake: Halvern\nmodels: [HV-43L2]\n---\n"
    put(nb, "families/hv-l2.md", family)
    path = tmp_path / "old.csv"
    path.write_text("Date,Model,Symptom,Cause,Time,Outcome\n2026-03-18,hv 43l2,dead,fuse open,20,fixed\n")
    assert import_table(nb, path, by_name(read_header(path)), dry_run=False).imported == 1
    note = all_cases(nb)[0]
    assert (note.chassis_family, note.device, note.make, note.model) == (
        "HV-L2",
        "LED TV",
        "Halvern",
        "hv 43l2",
    )


def test_dry_run_writes_nothing(nb: Notebook, tmp_path: Path) -> None:
    path = table(tmp_path / "old.csv", GOOD, changed(Result="sold"))
    report = import_table(nb, path, by_name(HEADER), dry_run=True)
    assert (report.imported, report.rejected, report.unused_columns) == (1, 1, ["Job"])
    assert nb.scan() == {}
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["bench", "old.csv"]


def test_bad_rows_are_told_with_their_line_and_can_be_mended(nb: Notebook, tmp_path: Path) -> None:
    long = changed(Job="3", Symptoms="dead\nand\nburnt")
    path = table(tmp_path / "old.csv", GOOD, long, changed(Job="4", Day="31/02/2026", Result="sold"), ["5"])
    with path.open("ab") as stream:
        stream.write(b"6,18/03/2026,T\xc9,x,y,z,w,5,fixed\r\n")
    report = import_table(nb, path, by_name(HEADER), dry_run=False)
    assert (report.imported, report.rejected) == (2, 3)
    assert [line for line, _ in report.rejects] == [6, 7, 8]
    assert "no such day" in report.rejects[0][1]
    assert "outcome:" in report.rejects[0][1]
    assert "not UTF-8" in report.rejects[2][1]
    assert report.rejects_file == tmp_path / "old.rejects.csv"
    written = report.rejects_file.read_bytes()
    assert b"T\xc9" in written
    mended = written.replace(b"31/02/2026", b"2026-02-28").replace(b"sold", b"fixed")
    report.rejects_file.write_bytes(mended)
    again = import_table(
        nb,
        report.rejects_file,
        by_name(HEADER),
        dry_run=False,
        rejects=tmp_path / "rest.csv",
    )
    assert (again.imported, again.rejected) == (1, 2)
    assert len(all_cases(nb)) == 3


def test_importing_again_adds_nothing(nb: Notebook, tmp_path: Path) -> None:
    path = table(tmp_path / "old.csv", GOOD, changed(Job="2"), GOOD)
    first = import_table(nb, path, by_name(HEADER), dry_run=False)
    assert (first.imported, first.already_there) == (2, 1)
    second = import_table(nb, path, by_name(HEADER), dry_run=False)
    assert (second.imported, second.already_there) == (0, 3)
    table(path, GOOD, changed(Job="2"), changed(Job="7"))
    third = import_table(nb, path, by_name(HEADER), dry_run=False)
    assert (third.imported, third.already_there) == (1, 2)


def test_row_with_a_number_keeps_it(nb: Notebook, tmp_path: Path) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    path = tmp_path / "own.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        export_cases(nb, "csv", stream)
    assert import_table(nb, path, by_name(read_header(path)), dry_run=False).already_there == 1
    other = empty_notebook(tmp_path / "other")
    assert import_table(other, path, by_name(read_header(path)), dry_run=False).imported == 1
    assert other.read_bytes(CASE_PATH) == nb.read_bytes(CASE_PATH)


def test_fields_that_no_column_holds_can_be_given(nb: Notebook, tmp_path: Path) -> None:
    path = tmp_path / "short.csv"
    path.write_text("day,symptom,cause,tech\n2026-03-18,dead,fuse,\n", encoding="utf-8")
    constants = {"tech": "RK", "device": "radio", "chassis_family": "X", "fix_time": "5", "outcome": "fixed"}
    report = import_table(nb, path, by_name(read_header(path), **constants), dry_run=False)
    assert report.imported == 1
    assert (all_cases(nb)[0].device, all_cases(nb)[0].tech) == ("radio", "RK")


def test_two_fields_may_share_a_column(tmp_path: Path) -> None:
    path = table(tmp_path / "old.csv", GOOD)
    row = next(iter(read_rows(path, Plan(columns=guess_mapping(HEADER) | {"complaint": "Symptoms"}))))
    assert row.note is not None
    assert (row.note.complaint, row.note.symptom) == ("dead, clicking", ("dead", "clicking"))


@pytest.mark.parametrize(("data", "said"), [
    pytest.param(None, "cannot be read", id="no-file"),
    pytest.param(b"", "no column names", id="empty"),
    pytest.param(b"\xef\xbb\xbf\r\n", "no column names", id="only-a-mark"),
    pytest.param(b"a,b\r\n1,2\r\n", 'no column "Day"', id="no-such-column"),
])  # fmt: skip
def test_file_that_cannot_be_imported_is_told(
    nb: Notebook, tmp_path: Path, data: bytes | None, said: str
) -> None:
    path = tmp_path / "x.csv"
    if data is not None:
        path.write_bytes(data)
    with pytest.raises(ImportProblem, match=said):
        import_table(nb, path, Plan(columns={"date": "Day"}), dry_run=False)


def test_progress_reaches_the_end(nb: Notebook, tmp_path: Path) -> None:
    path = table(tmp_path / "old.csv", *[changed(Job=str(number)) for number in range(600)])
    seen: list[tuple[int, int]] = []
    report = import_table(
        nb,
        path,
        by_name(HEADER),
        dry_run=False,
        progress=lambda done, total: seen.append((done, total)),
    )
    size = path.stat().st_size
    assert report.imported == 600
    assert seen == sorted(seen)
    assert len({done for done, _ in seen}) > 2
    assert seen[-1] == (size, size)
    assert not [entry for entry in (nb.root / "cases/2026").iterdir() if entry.suffix != ".md"]


def test_import_stopped_by_a_full_disk_goes_on_later(
    nb: Notebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    good = [changed(Job=str(number)) for number in range(700)]
    path = table(tmp_path / "old.csv", changed(Result="sold"), *good)
    real, calls = saving.os.replace, []

    def full(source: Path, target: Path) -> None:
        calls.append(target)
        if len(calls) > 600:
            raise OSError(28, "No space left on device")
        real(source, target)

    with monkeypatch.context() as broken:
        broken.setattr(saving.os, "replace", full)
        with pytest.raises(WriteError, match="the disk is full"):
            import_table(nb, path, by_name(HEADER), dry_run=False)
    assert "sold" in (tmp_path / "old.rejects.csv").read_text(encoding="utf-8")
    (tmp_path / "old.rejects.csv").unlink()
    assert len(all_cases(nb)) == 600
    report = import_table(nb, path, by_name(HEADER), dry_run=False)
    assert (report.imported, report.already_there) == (100, 600)
    assert not [entry for entry in (nb.root / "cases/2026").iterdir() if entry.suffix != ".md"]


def test_export_as_csv_brings_every_case_of_the_demo_back(tmp_path: Path) -> None:
    demo, other = open_demo(tmp_path), empty_notebook(tmp_path / "other")
    path = tmp_path / "all.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        written, left_out = export_cases(demo, "csv", stream)
    assert left_out == []
    imported = import_table(other, path, by_name(read_header(path)), dry_run=False)
    assert imported.imported == written == len(all_cases(demo))
    assert all_cases(other) == all_cases(demo)


def test_export_as_json_lines_can_be_built_into_cases(tmp_path: Path) -> None:
    demo, stream = open_demo(tmp_path), io.StringIO()
    export_cases(demo, "jsonl", stream)
    lines = stream.getvalue().splitlines()
    assert [CaseNote.from_fields(json.loads(line)) for line in lines] == all_cases(demo)


@pytest.mark.parametrize("kind", ["csv", "jsonl"])
def test_export_holds_few_rows_at_a_time(nb: Notebook, kind: str) -> None:
    size, number = 200_000, 40
    for case_id in [f"20260318-{each:04d}" for each in range(number)]:
        put(nb, f"cases/2026/{case_id}.md", CASE_TEXT.replace(CASE_ID, case_id) + "x" * size)
    tracemalloc.start()
    with open(os.devnull, "w", encoding="utf-8", newline="") as stream:
        assert export_cases(nb, kind, stream) == (number, [])
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < size * number / 2


def test_export_leaves_bad_notes_out_and_names_them(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    put(nb, "cases/2026/20260319-aaaa.md", "nothing")
    stream = io.StringIO()
    assert export_cases(nb, "csv", stream) == (1, ["cases/2026/20260319-aaaa.md"])
    assert stream.getvalue().splitlines()[0] == ",".join([*CASE_FIELDS, "body"])


@given(cases.map(lambda note: note.model_copy(update={"unknown": {}})))
@unhurried(40)
def test_any_case_survives_export_and_import(tmp_path: Path, note: CaseNote) -> None:
    one = Notebook(_fresh(tmp_path / "one"))
    put(one, f"cases/2026/{note.case}.md", note.as_text())
    path = tmp_path / "one.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        export_cases(one, "csv", stream)
    rows = list(read_rows(path, by_name(read_header(path))))
    assert [row.note for row in rows] == [note]


def _fresh(folder: Path) -> Path:
    for path in folder.glob("cases/*/*.md"):
        path.unlink()
    folder.mkdir(exist_ok=True)
    return folder


def exported(nb: Notebook, kind: str) -> str:
    stream = io.StringIO(newline="")
    export_cases(nb, kind, stream)
    return stream.getvalue()


def test_photographs_are_named_in_exports_and_left_by_imports(nb: Notebook, tmp_path: Path) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    case_id = Path(CASE_PATH).stem
    before = exported(nb, "csv")
    assert PICTURES not in before.splitlines()[0].split(",")
    add_pictures(nb, case_id, [("a.jpg", picture())])
    names = [f"pictures/{case_id}/01.jpg"]
    assert json.loads(exported(nb, "jsonl").splitlines()[0])[PICTURES] == names
    (tmp_path / "out.csv").write_text(exported(nb, "csv"), encoding="utf-8")
    (row,) = csv.DictReader(io.StringIO(exported(nb, "csv")))
    assert row[PICTURES] == names[0]
    other = empty_notebook(tmp_path / "other")
    plan = Plan(columns=guess_mapping(read_header(tmp_path / "out.csv")))
    import_table(other, tmp_path / "out.csv", plan, dry_run=False)
    (note,) = all_cases(other)
    assert PICTURES not in note.unknown


def test_messy_workbook_of_1200_rows_comes_in_once_and_lists_its_rejects(
    nb: Notebook, tmp_path: Path
) -> None:
    bad = write_messy_workbook(tmp_path / "jobs.xlsx", 1_200)
    plan = by_name(read_header(tmp_path / "jobs.xlsx"))
    first = import_table(nb, tmp_path / "jobs.xlsx", plan, dry_run=False)
    assert (first.imported, first.already_there, first.rejected) == (1_200 - bad, 0, bad)
    assert first.rejects_file is not None
    with first.rejects_file.open(newline="") as stream:
        assert len(list(csv.DictReader(stream))) == bad
    again = import_table(nb, tmp_path / "jobs.xlsx", plan, dry_run=False)
    assert (again.imported, again.already_there) == (0, 1_200 - bad)
