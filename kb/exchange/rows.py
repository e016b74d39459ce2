"""Read the rows of a table as case notes: match columns to fields by name, and turn cells into values."""

import contextlib
import csv
import hashlib
import io
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from kb.errors import NoteError, quoted
from kb.exchange.tables import ImportProblem, Row, open_table, unguarded
from kb.files import own_toml
from kb.notebook import PICTURES
from kb.notes.case import CASE_FIELDS, LIST_FIELDS, CaseNote
from kb.notes.family import FamilyNote
from kb.notes.models import squeeze, with_family

JOB_NOTE = "job_note"  # stands for no field: a column of free text from which fields are read
IMPORTED = "imported"  # extra field of an imported note: the digest of its row, to know it again

_WORDS = own_toml(__file__, "columns.toml")
_NAMES: Mapping[str, Sequence[str]] = _WORDS["names"]
_OUTCOMES = {said: outcome for outcome, sayings in _WORDS["outcomes"].items() for said in sayings}
_HOURS = re.compile(r"(?:^|[^a-z])(?:h|hrs?|hours?)(?:[^a-z]|$)")
_UNIT = re.compile(r"\(.*?\)|\b(?:in )?(?:min|mins|minutes|h|hrs?|hours)\.?$")
_DAY = re.compile(r"([0-9]{1,2})([./-])([0-9]{1,2})\2([0-9]{4})(?:[ T].*)?")
Progress = Callable[[int, int], None]
FIELDS = (*CASE_FIELDS, "body", JOB_NOTE)
FROM_TEXT = "read_from_text"  # extra field: what was read from free text, and how surely
SAMPLES = 3


class FieldRead(NamedTuple):
    """One field's value read from free text, and how sure it is, 0 to 1."""

    value: str | list[str]
    confidence: float


ReadText = Callable[[str], Mapping[str, FieldRead]]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """How the columns of a table become fields."""

    columns: Mapping[str, str]  # column of each field; a field not among FIELDS is kept as an extra one
    constants: Mapping[str, str] = field(default_factory=dict)  # values of fields without a column
    read_text: ReadText | None = None  # reads fields from the column of JOB_NOTE
    families: Sequence[FamilyNote] = ()  # fill in what they know of a row's model


def read_header(path: Path) -> list[str]:
    """Return the column names of a table. Raises: ImportProblem when it has none or cannot be read."""
    with open_table(path) as table:
        return table.header


def samples(path: Path) -> dict[str, list[str]]:
    """Return the first few cells of each column, without empty and repeated ones. Raises: ImportProblem."""
    with open_table(path) as table:
        found: dict[str, list[str]] = {column: [] for column in table.header if column}
        for row in islice(table.rows, 50):
            for column, cell in zip(table.header, () if row.reason else row.cells, strict=False):
                text = " ".join(unguarded(cell).split())
                if text and column and text not in found[column]:
                    found[column].append(text)
    return {column: seen[:SAMPLES] for column, seen in found.items()}


def read_rows(path: Path, plan: Plan, *, progress: Progress | None = None) -> Iterator[Row]:
    """Yield the rows of a table, each as a case note or with the reason why not. Raises: ImportProblem."""
    header = read_header(path)
    if unknown := [column for column in plan.columns.values() if column not in header]:
        known = ", ".join(map(quoted, header))
        raise ImportProblem(f"{path}: no column {quoted(unknown[0])}; map to one of {known}")
    tell = progress or (lambda read, size: None)
    places = {field: header.index(column) for field, column in plan.columns.items()}
    order = ""
    if "date" in places:
        with open_table(path) as table:
            order = day_order(cell for row in table.rows for cell in row.cells[places["date"] :][:1])
    with open_table(path) as table:
        for row in table.rows:
            yield row if row.reason else _with_note(row, plan, places, order)
            tell(row.read, table.size)
        tell(table.size, table.size)


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
        note = CaseNote.from_fields(with_family(values, plan.families))
        return replace(row, digest=digest, note=note, from_text=from_text)
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


def guess_mapping(header: Sequence[str], said: Mapping[str, str] | None = None) -> dict[str, str]:
    """Return the column of each field ("body" too), matched by name; the first column that fits is taken.

    A table with a column for every field was exported from a notebook: its other columns become extra fields.
    said: columns by field, which override the match; "" for no column.
    """
    bare = {column: _UNIT.sub("", column.casefold().strip()) for column in header if column}
    left = {column: squeeze(name) or squeeze(column) for column, name in bare.items()}
    mapping: dict[str, str] = {}
    for name, known in _NAMES.items():
        named = (column for each in known for column, squeezed in left.items() if squeezed == each)
        if column := next(named, ""):
            mapping[name] = column
            del left[column]
    if set(CASE_FIELDS) <= set(header):
        mapping |= {column: column for column in left if column != PICTURES}  # no import brings photographs
    mapping |= said or {}
    if JOB_NOTE not in mapping and "body" in mapping and "root_cause" not in mapping:
        mapping[JOB_NOTE] = mapping.pop("body")  # a table without a cause has it in its free text
    return {name: column for name, column in mapping.items() if column}


def day_order(days: Iterable[str]) -> str:
    """Return "dmy", "mdy" or "" (undecided) for the days of one column, such as 18/03/2026.

    Dots mean day first (common practice, no source). Otherwise a number above 12 decides. Where none does, or
    they disagree, the rows of the column are rejected rather than guessed at.
    """
    read = [match for day in days if (match := _DAY.fullmatch(day.strip()))]
    day_first = any(match[2] == "." or int(match[1]) > 12 for match in read)
    month_first = any(match[2] != "." and int(match[3]) > 12 >= int(match[1]) for match in read)
    return "" if day_first == month_first else "dmy" if day_first else "mdy"


def field_value(field: str, cell: str, *, column: str, order: str) -> Any:
    """Return a cell as a value for CaseNote.from_fields(). order: what day_order() returned."""
    text = cell.strip()
    if not text:
        return ""
    if field == "body":
        return cell  # blanks at the start make a code block
    if field in LIST_FIELDS:
        return split_list(text)
    if field in ("fix_time", "check_time") and re.fullmatch(r"[\d.,]+", text):
        return f"{text} h" if _HOURS.search(column.casefold()) else text
    if field == "outcome":
        return _OUTCOMES.get(" ".join(text.casefold().split()), text)
    if field == "date" and order and (match := _DAY.fullmatch(text)):
        day, month = (match[1], match[3]) if order == "dmy" else (match[3], match[1])
        return f"{match[4]}-{int(month):02d}-{int(day):02d}"
    if field not in CASE_FIELDS and text[0] in "[{":
        with contextlib.suppress(ValueError, RecursionError):
            return json.loads(text)
    return text


def join_list(items: Sequence[str]) -> str:
    """Return a list as one cell, "a; b"; split_list() gives the same list back."""
    if not any(character in item for item in items for character in ',;"\n'):
        return "; ".join(items)
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=";", lineterminator="").writerow(items)
    # The last ";" tells a list of one item with a comma from a list written with commas.
    return buffer.getvalue() + ";"


def split_list(cell: str) -> list[str]:
    """Return the items of a cell or a form's box: one a line, else separated by ";", else by commas."""
    mark = next((mark for mark in "\n;" if mark in cell), ",")
    parts = cell.split(mark)
    if mark == ";":
        with contextlib.suppress(csv.Error):
            parts = next(csv.reader(io.StringIO(cell), delimiter=";", skipinitialspace=True), [])
    return [part.strip() for part in parts if part.strip()]
