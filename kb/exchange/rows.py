"""Read a table row by row, each as a case note or with the reason why it is none."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any

from kb.errors import NoteError, quoted
from kb.exchange.columns import IMPORTED, day_order, field_value, unguarded
from kb.exchange.tables import ImportProblem, Line, open_table
from kb.notes.case import CASE_FIELDS, CaseNote

Progress = Callable[[int, int], None]
JOB_NOTE = "job_note"  # no field of a note: a column of free text that fields are read from
FIELDS = (*CASE_FIELDS, "body", JOB_NOTE)
FROM_TEXT = "read_from_text"  # the unknown field that names what was read from free text, and how surely
SAMPLES = 3


@dataclass(frozen=True, kw_only=True)
class FieldRead:
    """One field's value read from free text, and how sure that is, 0 to 1."""

    value: str | list[str]
    confidence: float


ReadText = Callable[[str], Mapping[str, FieldRead]]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """How the columns of a table become fields."""

    columns: Mapping[str, str]  # by field: a key of FIELDS, or a name of its own for an unknown field
    constants: Mapping[str, str] = field(default_factory=dict)  # for fields that no column holds
    read_text: ReadText | None = None  # reads fields from the column of JOB_NOTE


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row of a table, as the case it makes or with the reason why it makes none."""

    line: int  # where it starts
    cells: tuple[str, ...]
    digest: str = ""  # of the cells
    note: CaseNote | None = None
    reason: str = ""
    from_text: tuple[str, ...] = ()  # fields that were read from free text


def read_header(path: Path) -> list[str]:
    """Return the column names of a table. Raises: ImportProblem when it has none or cannot be read."""
    with open_table(path) as table:
        return table.header


def samples(path: Path) -> dict[str, list[str]]:
    """Return the first few different cells of each column that say something. Raises: ImportProblem."""
    with open_table(path) as table:
        found: dict[str, list[str]] = {column: [] for column in table.header if column}
        for line in islice(table.lines, 50):
            for column, cell in zip(table.header, () if line.fault else line.cells, strict=False):
                text = " ".join(unguarded(cell).split())
                seen = found.get(column, [])
                if text and text not in seen and len(seen) < SAMPLES:
                    seen.append(text)
    return found


def read_rows(path: Path, plan: Plan, *, progress: Progress | None = None) -> Iterator[Row]:
    """Yield the rows of a table one by one, each as a case note or with the reason why it is none.

    Args:
        progress: called with how much was read, and how much there is.

    Raises:
        ImportProblem: when the table cannot be read, or the plan names a column it does not have.
    """
    header = read_header(path)
    unknown = [column for column in plan.columns.values() if column not in header]
    if unknown:
        known = ", ".join(map(quoted, header))
        raise ImportProblem(f"{path}: no column {quoted(unknown[0])}; map to one of {known}")
    places = {field: header.index(column) for field, column in plan.columns.items()}
    order = _day_order(path, places["date"]) if "date" in places else ""
    with open_table(path) as table:
        for line in table.lines:
            yield _row(line, plan, places, order)
            if progress is not None:
                progress(table.place(), table.size)
    if progress is not None:
        progress(table.size, table.size)


def _row(line: Line, plan: Plan, places: Mapping[str, int], order: str) -> Row:
    if line.fault:
        return Row(line=line.number, cells=line.cells, reason=f"row: {line.fault}")
    raw = "\x1f".join(line.cells).encode("utf-8", errors="surrogateescape")
    digest = hashlib.sha256(raw).hexdigest()[:16]
    values: dict[str, Any] = dict(plan.constants)
    for name, place in places.items():
        cell = unguarded(line.cells[place]) if place < len(line.cells) else ""
        value = field_value(name, cell, column=plan.columns[name], order=order)
        if value != "" or (name in CASE_FIELDS and name not in plan.constants):
            values[name] = value
    read = _fill_from_text(values, plan.read_text)
    if not values.get("case"):
        values[IMPORTED] = digest
    try:
        note = CaseNote.from_fields(values)
    except NoteError as error:
        reason = " | ".join(str(problem) for problem in error.problems)
        return Row(line=line.number, cells=line.cells, digest=digest, reason=reason, from_text=read)
    return Row(line=line.number, cells=line.cells, digest=digest, note=note, from_text=read)


def _fill_from_text(values: dict[str, Any], read_text: ReadText | None) -> tuple[str, ...]:
    """Fill empty fields from the free text, which becomes the body; what a column says is kept."""
    text = values.pop(JOB_NOTE, "")
    if not text or read_text is None:
        return ()
    values["body"] = values.get("body") or text
    found = {name: each for name, each in read_text(text).items() if not values.get(name)}
    values.update({name: each.value for name, each in found.items()})
    if found:
        values[FROM_TEXT] = {name: f"{each.confidence:.0%}" for name, each in found.items()}
    return tuple(found)


def _day_order(path: Path, place: int) -> str:
    with open_table(path) as table:
        return day_order(line.cells[place] for line in table.lines if place < len(line.cells))
