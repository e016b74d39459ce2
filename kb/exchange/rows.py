"""Read a table row by row, each as a case note or with the reason why it is none."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from kb.errors import NoteError, quoted
from kb.exchange.columns import IMPORTED, JOB_NOTE, day_order, field_value, unguarded
from kb.exchange.tables import ImportProblem, Row, open_table
from kb.notes.case import CASE_FIELDS, CaseNote

Progress = Callable[[int, int], None]
FIELDS = (*CASE_FIELDS, "body", JOB_NOTE)
FROM_TEXT = "read_from_text"  # the unknown field that names what was read from free text, and how surely
SAMPLES = 3


class FieldRead(NamedTuple):
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


def read_header(path: Path) -> list[str]:
    """Return the column names of a table. Raises: ImportProblem when it has none or cannot be read."""
    with open_table(path) as table:
        return table.header


def samples(path: Path) -> dict[str, list[str]]:
    """Return the first few different cells of each column that say something. Raises: ImportProblem."""
    with open_table(path) as table:
        found: dict[str, list[str]] = {column: [] for column in table.header if column}
        for row in islice(table.rows, 50):
            for column, cell in zip(table.header, () if row.reason else row.cells, strict=False):
                text = " ".join(unguarded(cell).split())
                if text and column and text not in found[column]:
                    found[column].append(text)
    return {column: seen[:SAMPLES] for column, seen in found.items()}


def read_rows(path: Path, plan: Plan, *, progress: Progress | None = None) -> Iterator[Row]:
    """Yield the rows of a table one by one, each as a case note or with the reason why it is none.

    progress: called with how much was read, and how much there is.
    Raises: ImportProblem when the table cannot be read, or the plan names a column it does not have.
    """
    header = read_header(path)
    if unknown := [column for column in plan.columns.values() if column not in header]:
        known = ", ".join(map(quoted, header))
        raise ImportProblem(f"{path}: no column {quoted(unknown[0])}; map to one of {known}")
    places = {field: header.index(column) for field, column in plan.columns.items()}
    order = ""
    if "date" in places:
        with open_table(path) as table:
            order = day_order(cell for row in table.rows for cell in row.cells[places["date"] :][:1])
    with open_table(path) as table:
        for row in table.rows:
            yield row if row.reason else _with_note(row, plan, places, order)
            if progress is not None:
                progress(row.read, table.size)
        if progress is not None:
            progress(table.size, table.size)


def _with_note(row: Row, plan: Plan, places: Mapping[str, int], order: str) -> Row:
    digest = hashlib.sha256("\x1f".join(row.cells).encode("utf-8", errors="surrogateescape")).hexdigest()[:16]
    values: dict[str, Any] = dict(plan.constants)
    for name, place in places.items():
        cell = unguarded(row.cells[place]) if place < len(row.cells) else ""
        value = field_value(name, cell, column=plan.columns[name], order=order)
        if value != "" or (name in CASE_FIELDS and name not in plan.constants):
            values[name] = value
    from_text = _fill_from_text(values, plan.read_text)
    if not values.get("case"):
        values[IMPORTED] = digest
    try:
        return replace(row, digest=digest, note=CaseNote.from_fields(values), from_text=from_text)
    except NoteError as error:
        return replace(row, reason=" | ".join(map(str, error.problems)))


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
