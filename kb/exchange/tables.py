"""Open somebody's table, row by row: CSV, or the first sheet of an xlsx or ods workbook."""

import contextlib
import csv
import datetime
import io
import re
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple, TextIO

from kb.errors import BenchloreError
from kb.notes.case import CaseNote

WORKBOOKS = frozenset({".xlsx", ".ods"})
# A spreadsheet runs such a cell as a formula, and anybody may have written it (OWASP, "CSV Injection").
_FORMULA = re.compile(r"'*[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]")  # full-width signs too
_NOT_UTF8 = re.compile("[\udc80-\udcff]")  # how Python carries such bytes through
_SAVE_AS = "bytes that are not UTF-8; save the file as UTF-8, or take it as xlsx or ods"
LARGEST_WORKBOOK = 100_000_000  # bytes when unpacked, as it is read whole; chosen by us (test_tables)


class ImportProblem(BenchloreError):  # noqa: N818 - the same word as for notes
    """A table cannot be imported at all; the message says why."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row of a table: the case it makes, or the reason why it makes none."""

    line: int  # where it starts in the file or the sheet, 1-based
    read: int = 0  # how much of Table.size has been read, for progress bars
    cells: tuple[str, ...] = ()
    digest: str = ""  # of the cells
    note: CaseNote | None = None
    reason: str = ""
    from_text: tuple[str, ...] = ()  # fields that were read from free text


class Table(NamedTuple):
    """An open table."""

    header: list[str]  # the columns' names
    rows: Iterator[Row]  # the rows that are not empty, without their case yet; can be read once
    size: int  # bytes of a CSV file, lines of a sheet


@contextlib.contextmanager
def open_table(path: Path) -> Iterator[Table]:
    """Open a table. The first line of a CSV file tells what separates its cells. Raises: ImportProblem."""
    try:
        # Bytes that are not UTF-8 are kept, so that their row can be rejected and written out unchanged.
        with path.open(encoding="utf-8-sig", errors="surrogateescape", newline="") as text:
            table = _sheet(path) if path.suffix.lower() in WORKBOOKS else _csv_table(text)
            if not any(table.header):
                raise ImportProblem(f"{path}:1: no column names; write them into the first line")
            if _NOT_UTF8.search("".join(table.header)):
                raise ImportProblem(f"{path}:1: {_SAVE_AS}")
            yield table
    except OSError as error:
        why = error.strerror or error
        raise ImportProblem(f"{path}: cannot be read ({why}); give a CSV, xlsx or ods file") from error


def _csv_table(text: TextIO) -> Table:
    size = text.seek(0, io.SEEK_END)
    text.seek(0)
    first = text.readline()
    text.seek(0)
    reader = csv.reader(text, delimiter=max(",;\t", key=first.count))
    header: list[str] = []
    with contextlib.suppress(StopIteration, csv.Error):
        header = _names(next(reader))
    return Table(header=header, rows=_csv_rows(reader, text.buffer), size=size)


def _csv_rows(reader: Any, binary: Any) -> Iterator[Row]:
    while True:
        line, cells, reason = reader.line_num + 1, (), ""
        try:
            cells = tuple(next(reader))
        except StopIteration:
            return
        except csv.Error as error:
            reason = f"row: not CSV ({error}); mend its quotes in an editor"
        if _NOT_UTF8.search("".join(cells)):
            reason = f"row: {_SAVE_AS}"
        if reason or any(map(str.strip, cells)):
            yield Row(line=line, read=binary.tell(), cells=cells, reason=reason)


def _sheet(path: Path) -> Table:
    from python_calamine import CalamineError, load_workbook  # here: only workbooks need it

    data = io.BytesIO(path.read_bytes())
    try:
        with zipfile.ZipFile(data) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
        if unpacked > LARGEST_WORKBOOK:
            most = f"{LARGEST_WORKBOOK // 1_000_000} MB"
            raise ImportProblem(f"{path}: unpacks to more than {most}; save it as CSV")
        data.seek(0)
        rows = load_workbook(data).get_sheet_by_index(0).to_python(skip_empty_area=False)
    except (zipfile.BadZipFile, CalamineError, ValueError, IndexError) as error:
        raise ImportProblem(f"{path}: not a workbook that can be read ({error}); save it as CSV") from error
    lines = [tuple(map(_cell_text, row)) for row in rows] or [()]
    numbered = (Row(line=number, read=number, cells=cells) for number, cells in enumerate(lines[1:], start=2))
    full = (row for row in numbered if any(map(str.strip, row.cells)))
    return Table(header=_names(lines[0]), rows=full, size=len(lines))


def _cell_text(value: Any) -> str:
    """Return a cell of a sheet as it would be typed."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, datetime.datetime):
        return value.date().isoformat()
    if isinstance(value, datetime.time):
        value = datetime.timedelta(hours=value.hour, minutes=value.minute)
    if isinstance(value, datetime.timedelta):
        minutes = round(value.total_seconds() / 60)
        return f"{minutes // 60}:{minutes % 60:02d}"
    return str(value)


def _names(cells: Iterable[str]) -> list[str]:
    return [unguarded(cell.strip()) for cell in cells]


def guarded(cell: str) -> str:
    """Return a cell with an apostrophe before what a spreadsheet would run as a formula."""
    return f"'{cell}" if _FORMULA.match(cell) else cell


def unguarded(cell: str) -> str:
    """Return a cell without the apostrophe that guarded(), or a spreadsheet, put before it."""
    return cell[1:] if cell[:1] == "'" and _FORMULA.match(cell[1:]) else cell
