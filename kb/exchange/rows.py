"""Read a CSV file row by row, each as a case note or with the reason why it is none."""

from __future__ import annotations

import contextlib
import csv
import hashlib
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from kb.errors import BenchloreError, NoteError, quoted
from kb.exchange.columns import IMPORTED, day_order, field_value, unguarded
from kb.notes.case import CASE_FIELDS, CaseNote

Progress = Callable[[int, int], None]


class ImportProblem(BenchloreError):  # noqa: N818 - the same word as for notes
    """Say why a CSV file cannot be imported at all."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """Hold one row of a CSV file. line: 1-based line it starts on. cells: as they stand. digest: of the
    cells.

    note: the case it makes, or None; reason: why it makes none.
    """

    line: int
    cells: tuple[str, ...]
    digest: str
    note: CaseNote | None
    reason: str = ""


def read_header(path: Path) -> list[str]:
    """Return the column names of a CSV file. Raises: ImportProblem when it has none or cannot be read."""
    with _opened(path) as table:
        return table.header


def read_rows(
    path: Path,
    mapping: Mapping[str, str],
    *,
    constants: Mapping[str, str] | None = None,
    progress: Progress | None = None,
) -> Iterator[Row]:
    """Yield the rows of a CSV file one by one, each as a case note or with the reason why it is none.

    mapping: column by field (front matter key, "body", or a name of its own for an unknown field); two
    fields may share a column. constants: values for fields that no column holds. progress: called with bytes
    read and bytes in all. Commas, semicolons and tabs are told apart by the header. The file is UTF-8.
    Raises: ImportProblem when the file cannot be read, or the mapping names a column it does not have.
    """
    header = read_header(path)
    unknown = [column for column in mapping.values() if column not in header]
    if unknown:
        known = ", ".join(map(quoted, header))
        raise ImportProblem(f"{path}: no column {quoted(unknown[0])}; map to one of {known}")
    places = {field: header.index(column) for field, column in mapping.items()}
    order = _day_order(path, places["date"]) if "date" in places else ""
    plan = _Plan(mapping=mapping, places=places, constants=constants or {}, order=order)
    with _opened(path) as table:
        while True:
            line = table.reader.line_num + 1
            try:
                cells = next(table.reader)
            except StopIteration:
                break
            except csv.Error as error:
                yield Row(line=line, cells=(), digest="", note=None, reason=f"row: not CSV ({error})")
                continue
            if any(cell.strip() for cell in cells):
                yield _row(line, cells, plan)
            if progress is not None:
                progress(table.binary.tell(), table.size)
    if progress is not None:
        progress(table.size, table.size)


@dataclass(frozen=True, kw_only=True)
class _Plan:
    """Say how the cells of a row become fields."""

    mapping: Mapping[str, str]
    places: Mapping[str, int]
    constants: Mapping[str, str]
    order: str


def _row(line: int, cells: Sequence[str], plan: _Plan) -> Row:
    raw = "\x1f".join(cells).encode("utf-8", errors="surrogateescape")
    digest = hashlib.sha256(raw).hexdigest()[:16]
    values: dict[str, Any] = dict(plan.constants)
    for field, place in plan.places.items():
        cell = unguarded(cells[place]) if place < len(cells) else ""
        value = field_value(field, cell, column=plan.mapping[field], order=plan.order)
        if value != "" or (field in CASE_FIELDS and field not in plan.constants):
            values[field] = value
    if any("\udc80" <= character <= "\udcff" for cell in cells for character in cell):
        reason = "row: bytes that are not UTF-8; save the file as UTF-8"
        return Row(line=line, cells=tuple(cells), digest=digest, note=None, reason=reason)
    if not values.get("case"):
        values[IMPORTED] = digest
    try:
        note = CaseNote.from_fields(values)
    except NoteError as error:
        reason = " | ".join(str(problem) for problem in error.problems)
        return Row(line=line, cells=tuple(cells), digest=digest, note=None, reason=reason)
    return Row(line=line, cells=tuple(cells), digest=digest, note=note)


def _day_order(path: Path, place: int) -> str:
    with _opened(path) as table:
        return day_order(row[place] for row in _passable(table.reader) if place < len(row))


def _passable(reader: Any) -> Iterator[list[str]]:
    while True:
        try:
            yield next(reader)
        except StopIteration:
            return
        except csv.Error:
            continue


@dataclass(frozen=True, kw_only=True)
class _Table:
    """Hold an open CSV file. reader: stands behind the header; binary: tells how far it was read."""

    reader: Any
    header: list[str]
    binary: BinaryIO
    size: int


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[_Table]:
    try:
        binary = path.open("rb")
    except OSError as error:
        raise ImportProblem(f"{path}: cannot be read ({error.strerror}); give a CSV file") from error
    size = binary.seek(0, io.SEEK_END)
    binary.seek(0)
    # Bytes that are not UTF-8 are carried through: their row is reported, and given back as it was.
    with io.TextIOWrapper(binary, encoding="utf-8-sig", errors="surrogateescape", newline="") as text:
        first = text.readline()
        text.seek(0)
        reader = csv.reader(text, delimiter=max(",;\t", key=first.count))
        try:
            header = [unguarded(column.strip()) for column in next(reader)]
        except (StopIteration, csv.Error):
            header = []
        if not any(header):
            raise ImportProblem(f"{path}:1: no column names; write them into the first line")
        yield _Table(reader=reader, header=header, binary=binary, size=size)
