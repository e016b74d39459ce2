"""Match the columns of somebody's CSV file to the fields of a case note, and cells to values."""

import contextlib
import csv
import io
import json
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from kb.notebook import PICTURES
from kb.notes.case import CASE_FIELDS, LIST_FIELDS
from kb.notes.models import squeeze

JOB_NOTE = "job_note"  # no field of a note: a column of free text that fields are read from
IMPORTED = "imported"  # the unknown field that tells a row already imported

_WORDS = tomllib.loads(Path(__file__).with_name("columns.toml").read_text(encoding="utf-8"))
_NAMES: Mapping[str, Sequence[str]] = _WORDS["names"]
_OUTCOMES = {said: outcome for outcome, sayings in _WORDS["outcomes"].items() for said in sayings}
_HOURS = re.compile(r"(?:^|[^a-z])(?:h|hrs?|hours?)(?:[^a-z]|$)")
_UNIT = re.compile(r"\(.*?\)|\b(?:in )?(?:min|mins|minutes|h|hrs?|hours)\.?$")
# A spreadsheet runs such a cell as a formula, and a note may come from anybody (OWASP, "CSV Injection").
_FORMULA = re.compile(r"'*[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]")  # full-width signs too
_DAY = re.compile(r"([0-9]{1,2})([./-])([0-9]{1,2})\2([0-9]{4})(?:[ T].*)?")


def guess_mapping(header: Sequence[str], said: Mapping[str, str] | None = None) -> dict[str, str]:
    """Return which column holds which field ("body" too), by their names; the first that fits is taken.

    A file with every field's own name was exported from a notebook: its other columns are unknown fields.
    said: columns by field, which count more; "" for no column.
    """
    bare = {column: _UNIT.sub("", column.casefold().strip()) for column in header if column}
    left = {column: squeeze(name) or squeeze(column) for column, name in bare.items()}
    mapping: dict[str, str] = {}
    for field, names in _NAMES.items():
        named = (column for name in names for column, squeezed in left.items() if squeezed == name)
        if column := next(named, ""):
            mapping[field] = column
            del left[column]
    if set(CASE_FIELDS) <= set(header):
        mapping |= {column: column for column in left if column != PICTURES}  # no import brings photographs
    mapping |= said or {}
    if JOB_NOTE not in mapping and "body" in mapping and "root_cause" not in mapping:
        mapping[JOB_NOTE] = mapping.pop("body")  # without fields of their own, they can only be in the text
    return {field: column for field, column in mapping.items() if column}


def day_order(days: Iterable[str]) -> str:
    """Return "dmy", "mdy" or "" (undecided) for the days of one column, such as 18/03/2026.

    Dots mean day first (common practice, no source), else a number above 12 decides. The rows of a column
    that never decides, or decides both ways, are rejected rather than guessed at.
    """
    read = [match for day in days if (match := _DAY.fullmatch(day.strip()))]
    day_first = any(match[2] == "." or int(match[1]) > 12 for match in read)
    month_first = any(match[2] != "." and int(match[3]) > 12 >= int(match[1]) for match in read)
    return "" if day_first == month_first else "dmy" if day_first else "mdy"


def field_value(field: str, cell: str, *, column: str, order: str) -> Any:
    """Return what a cell says, as CaseNote.from_fields() takes it. order: as day_order() says."""
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
    """Return the items of a cell: parted by ";", else one a line, else by commas."""
    mark = next((mark for mark in ";\n" if mark in cell), ",")
    parts = cell.split(mark)
    if mark == ";":
        with contextlib.suppress(csv.Error):
            parts = next(csv.reader(io.StringIO(cell), delimiter=";", skipinitialspace=True), [])
    return [part.strip() for part in parts if part.strip()]


def guarded(cell: str) -> str:
    """Return a cell with an apostrophe before what a spreadsheet would run; unguarded() takes it off."""
    return f"'{cell}" if _FORMULA.match(cell) else cell


def unguarded(cell: str) -> str:
    """Return a cell without the apostrophe that guarded(), or a spreadsheet, put before it."""
    return cell[1:] if cell[:1] == "'" and _FORMULA.match(cell[1:]) else cell
