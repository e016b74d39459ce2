"""Bring cases in from a table, in batches, and take them out as CSV or JSON Lines."""

import csv
import io
import json
import re
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import nullcontext, suppress
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path
from typing import Any, TextIO

from kb.errors import NoteError
from kb.exchange.rows import IMPORTED, Plan, Progress, join_list, read_header, read_rows
from kb.exchange.tables import Row, guarded
from kb.notebook import CASES, PICTURES, Notebook
from kb.notes.case import CASE_FIELDS, LIST_FIELDS, CaseNote, new_case_id
from kb.storage import saving
from kb.storage.pictures import list_pictures
from kb.storage.writing import is_taken

BATCH = 500  # chosen by us: enough to share one wait for the disk; other benches wait half a second at most
SHOWN_REJECTS = 100  # in the report, chosen by us; the rejects file holds all
_IMPORTED_LINE = re.compile(rb"(?m)^" + IMPORTED.encode() + rb":[ ]*['\"]?([0-9a-f]{16})\b")


@dataclass(kw_only=True)
class ImportReport:
    """Say what an import did, or would do, with the rows of a table."""

    imported: int = 0
    already_there: int = 0
    rejected: int = 0
    rejects: list[tuple[int, str]] = field(default_factory=list)  # the first of them, as (line, reason)
    rejects_file: Path | None = None  # holds all rejected rows; None when none was written
    unused_columns: list[str]
    paths: list[str] = field(default_factory=list)  # notes written, relative to the notebook
    from_text: Counter[str] = field(default_factory=Counter)  # by field: rows where free text gave it


def import_table(
    nb: Notebook, path: Path, plan: Plan, *, dry_run: bool, progress: Progress | None = None,
    rejects: Path | None = None,
) -> ImportReport:  # fmt: skip
    """Import a table of any length.

    A row that is in the notebook already is skipped: it has the case number of a note, or the digest that a
    note keeps as `imported`. dry_run: write nothing. rejects: file for rows that make no note; None for
    NAME.rejects.csv beside the table. Raises: ImportProblem, WriteError; what was imported stays, and
    importing again goes on from there.
    """
    header, plan = read_header(path), replace(plan, families=list(nb.families().values()))
    rejected = _Rejects(None if dry_run else rejects or path.with_name(f"{path.stem}.rejects.csv"), header)
    cases, digests = _known(nb)
    used = plan.columns.values()
    report = ImportReport(unused_columns=[column for column in header if column and column not in used])

    def fresh() -> Iterator[CaseNote]:
        for row in read_rows(path, plan, progress=progress):
            if row.note is None:
                report.rejected += 1
                report.rejects += [(row.line, row.reason)] if report.rejected <= SHOWN_REJECTS else []
                rejected.add(row)
                continue
            name, seen = (row.note.case, cases) if row.note.case else (row.digest, digests)
            report.already_there += name in seen
            if name not in seen:
                seen.add(name)
                report.from_text.update(row.from_text)
                yield row.note

    notes = fresh()
    try:
        while batch := list(islice(notes, BATCH)):
            report.paths += [] if dry_run else _write(nb, batch, cases)
            report.imported = report.imported + len(batch) if dry_run else len(report.paths)
    finally:  # also when a full disk or a bad table ends the import
        rejected.write()
    report.rejects_file = rejected.file
    return report


class _Rejects:
    """The rejected rows of a table, written to a file a batch at a time. file: None until it is made."""

    def __init__(self, target: Path | None, header: Sequence[str]) -> None:
        """Prepare to write to a target, None for nowhere; header: the names of the columns."""
        self.file: Path | None = None
        self._target, self._columns, self._waiting = target, len(header), list[list[str]]()
        self._head = [*header, "rejected line", "rejected because"]

    def add(self, row: Row) -> None:
        """Keep a row to be written, with the reason why it was rejected."""
        missing = [""] * (self._columns - len(row.cells))
        self._waiting.append([*row.cells, *missing, str(row.line), row.reason])
        if len(self._waiting) >= BATCH:
            self.write()

    def write(self) -> None:
        """Write the rows that wait. Raises: WriteError."""
        if self._waiting and self._target:
            text = io.StringIO(newline="")
            csv.writer(text).writerows([*([] if self.file else [self._head]), *self._waiting])
            with saving.plain_errors(self._target), self._target.open("ab" if self.file else "wb") as stream:
                stream.write(text.getvalue().encode("utf-8", errors="surrogateescape"))
            self.file = self._target
        self._waiting.clear()


def export_cases(nb: Notebook, format: str, stream: TextIO) -> tuple[int, list[str]]:
    """Write every case to a stream; return their number, and the paths of bad notes, which are left out.

    format: "csv" (RFC 4180, open the stream with newline="") or "jsonl" (JSON Lines). In CSV, what a
    spreadsheet would run as a formula has an apostrophe before it, which an import takes off again.
    """
    count, left_out, columns = 0, [], dict.fromkeys((*CASE_FIELDS, "body"))
    # All columns are known only after the last note; until then the rows wait in a temporary file.
    with tempfile.TemporaryFile("w+", encoding="utf-8") if format == "csv" else nullcontext(stream) as lines:
        for relpath in _case_paths(nb):
            try:
                note = nb.read_case(relpath)
            except NoteError:
                left_out.append(relpath)
                continue
            pictured = [f"{PICTURES}/{note.case}/{name}" for name in list_pictures(nb, note.case)]
            row = {**({PICTURES: pictured} if pictured else {}), **note.as_fields(), "body": note.body}
            lines.write(json.dumps(row, ensure_ascii=False) + "\n")
            columns |= dict.fromkeys(row)
            count += 1
        if format == "csv":
            names = sorted(columns, key=lambda name: (name == PICTURES, name == "body"))
            writer = csv.writer(stream)
            writer.writerow(map(guarded, names))
            lines.seek(0)
            rows = map(json.loads, lines)
            writer.writerows([guarded(_cell(name, row.get(name, ""))) for name in names] for row in rows)
    return count, left_out


def _case_paths(nb: Notebook) -> list[str]:
    return [relpath for relpath in nb.scan() if relpath.startswith(f"{CASES}/")]


def _known(nb: Notebook) -> tuple[set[str], set[str]]:
    """Return the notebook's case numbers, and the digests of the table rows imported so far."""
    relpaths, digests = _case_paths(nb), set()
    for relpath in relpaths:
        with suppress(NoteError):
            if found := _IMPORTED_LINE.search(nb.read_bytes(relpath)):
                digests.add(found[1].decode("ascii"))
    return {Path(relpath).stem for relpath in relpaths}, digests


def _write(nb: Notebook, notes: Sequence[CaseNote], taken: set[str]) -> list[str]:
    """Write notes together and return their paths. taken: case numbers in use; new ones are added to it."""
    files: dict[str, bytes] = {}
    with saving.locked(nb):
        saving.clear_leftovers(nb)
        for note in notes:
            if not note.case:
                number = new_case_id(note.date, lambda number: number in taken or is_taken(nb, number))
                taken.add(number)
                note = note.model_copy(update={"case": number})
            relpath = f"{CASES}/{note.case[:4]}/{note.case}.md"
            if not (nb.root / relpath).exists():  # another bench may have brought it meanwhile
                files[relpath] = note.as_text().encode("utf-8")
        saving.replace_files({nb.root / relpath: data for relpath, data in files.items()})
    return list(files)


def _cell(name: str, value: Any) -> str:
    if name in (*LIST_FIELDS, PICTURES) and isinstance(value, list):
        return join_list(value)
    return json.dumps(value, ensure_ascii=False) if isinstance(value, Mapping) else str(value)
