"""The front matter's fields as the faces say them: text for people, plain values for JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kb.exchange.columns import LIST_FIELDS as LIST_FIELDS
from kb.notes.case import CASE_FIELDS, CaseNote

LABELS = {
    "case": "Case",
    "date": "Date",
    "device": "Device",
    "make": "Make",
    "model": "Model",
    "chassis_family": "Family",
    "complaint": "The owner said",
    "symptom": "Symptom",
    "blinks": "Blinks",
    "root_cause": "Root cause",
    "board": "Board",
    "check": "Check that shows it",
    "check_time": "Check time",
    "fix": "Fix",
    "parts": "Parts",
    "fix_time": "Fix time",
    "proof": "Proof",
    "outcome": "Outcome",
    "comeback_of": "Comeback of",
    "caution": "Cautions",
    "tech": "Technician",
}


def label(field: str) -> str:
    """Return the heading of a field; an unknown field keeps its own name."""
    return LABELS.get(field, field.replace("_", " "))


def case_as_json(note: CaseNote) -> dict[str, Any]:
    """Return the front matter's fields, unknown ones too, and the body, as `PUT /api/cases/ID` takes them."""
    empty: dict[str, Any] = {name: [] if name in LIST_FIELDS else "" for name in CASE_FIELDS}
    return {**empty, **note.as_fields(), "body": note.body}


def say_value(value: Any) -> str:
    """Say any front matter value on one line, nested ones too."""
    if isinstance(value, Mapping):
        return "; ".join(f"{key}: {say_value(each)}" for key, each in value.items())
    if isinstance(value, (list, tuple)):
        return ", ".join(say_value(each) for each in value)
    return "" if value is None else str(value)


def shown_fields(note: CaseNote) -> list[tuple[str, str, str]]:
    """Return (field, heading, value) of everything the note says, empty fields and the body left out."""
    return [(name, label(name), say_value(value)) for name, value in note.as_fields().items()]
