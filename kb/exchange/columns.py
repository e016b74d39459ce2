"""Match the columns of somebody's CSV file to the fields of a case note, and cells to values."""

import csv
import io
import json
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from kb.notes.case import CASE_FIELDS, LIST_FIELDS
from kb.notes.models import squeeze

PICTURES = "pictures"  # the column that names a case's photographs, which no import brings along
IMPORTED = "imported"  # the unknown field that tells a row already imported

_WORDS = tomllib.loads(Path(__file__).with_name("columns.toml").read_text(encoding="utf-8"))
_NAMES: Mapping[str, Sequence[str]] = _WORDS["names"]
_OUTCOMES = {said: outcome for outcome, sayings in _WORDS["outcomes"].items() for said in sayings}
_HOURS = re.compile(r"(?:^|[^a-z])(?:h|hrs?|hours?)(?:[^a-z]|$)")
_UNIT = re.compile(r"\(.*?\)|\b(?:in )?(?:min|mins|minutes|h|hrs?|hours)\.?$")
# A spreadsheet runs such a cell as a formula, and a note may come from anybody (OWASP, "CSV Injection").
_FORMULA = re.compile(r"'*[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]")  # full-width signs too
_DAY = re.compile(r"([0-9]{1,2})([./-])([0-9]{1,2})\2([0-9]{4})(?:[ T].*)?")


def guess_mapping(header: Sequence[str]) -> dict[str, str]:
    """Return which column holds which field, by the columns' names; the first that fits is taken, once.

    Fields are front matter keys and "body". A file with every field's own name in it was exported from a
    notebook, and its other columns are the notes' unknown fields.
    """
    left = {column: _squeeze(column) for column in header if column}
    mapping: dict[str, str] = {}
    for field, names in _NAMES.items():
        for name in names:
            column = next((column for column, squeezed in left.items() if squeezed == name), None)
            if column is not None:
                mapping[field] = column
                del left[column]
                break
    if set(CASE_FIELDS) <= set(header):
        mapping.update({column: column for column in left if column != PICTURES})
    return mapping


def day_order(days: Iterable[str]) -> str:
    """Return "dmy", "mdy" or "" (undecided) for the days of one column, such as 18/03/2026.

    Dots mean day first (common practice, no source). With strokes or dashes, a number above 12 decides; a
    column that never decides, or decides both ways, stays undecided, and its rows are rejected rather than
    guessed at.
    """
    found = set()
    for day in days:
        if match := _DAY.fullmatch(day.strip()):
            first, second = int(match[1]), int(match[3])
            if match[2] == "." or first > 12:
                found.add("dmy")
            elif second > 12:
                found.add("mdy")
    return found.pop() if len(found) == 1 else ""


def field_value(field: str, cell: str, *, column: str, order: str) -> Any:
    """Return what a cell says, as CaseNote.from_fields() takes it.

    column: the column's name, which may tell the unit. order: of day and month, see day_order().
    """
    text = cell.strip()
    if not text:
        return ""
    if field == "body":
        return cell  # blanks at the start make a code block
    if field in LIST_FIELDS:
        return split_list(text)
    in_hours = field in ("fix_time", "check_time") and _HOURS.search(column.casefold())
    if in_hours and re.fullmatch(r"[\d.,]+", text):
        return f"{text} h"
    if field == "outcome":
        return _OUTCOMES.get(" ".join(text.casefold().split()), text)
    if field == "date" and order and (match := _DAY.fullmatch(text)):
        day, month = (match[1], match[3]) if order == "dmy" else (match[3], match[1])
        return f"{match[4]}-{int(month):02d}-{int(day):02d}"
    if field not in CASE_FIELDS and text[0] in "[{":
        try:
            return json.loads(text)
        except (ValueError, RecursionError):
            return text
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
    """Return the items of a cell: parted by ";", else one a line, else by commas."""
    if ";" in cell:
        try:
            parts = next(csv.reader(io.StringIO(cell), delimiter=";", skipinitialspace=True), [])
        except csv.Error:
            parts = cell.split(";")
    else:
        parts = cell.split("\n") if "\n" in cell else cell.split(",")
    return [part.strip() for part in parts if part.strip()]


def guarded(cell: str) -> str:
    """Return a cell with an apostrophe before what a spreadsheet would run; unguarded() takes it off."""
    return f"'{cell}" if _FORMULA.match(cell) else cell


def unguarded(cell: str) -> str:
    """Return a cell without the apostrophe that guarded(), or a spreadsheet, put before it."""
    return cell[1:] if cell[:1] == "'" and _FORMULA.match(cell[1:]) else cell


def _squeeze(column: str) -> str:
    return squeeze(_UNIT.sub("", column.casefold().strip())) or squeeze(column)
