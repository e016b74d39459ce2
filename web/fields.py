"""The front matter's fields as the faces say them: text for people, plain values for JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kb.case import CASE_FIELDS, CaseNote

from kb.durations import format_minutes

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
    fields: dict[str, Any] = {}
    for field in CASE_FIELDS:
        if field in ("check_time", "fix_time"):
            minutes = getattr(note, f"{field}_min")
            fields[field] = "" if minutes is None else format_minutes(minutes)
            continue
        value = getattr(note, field)
        if value is None:
            fields[field] = ""
        elif isinstance(value, tuple):
            fields[field] = list(value)
        else:
            fields[field] = str(value)
    return {**fields, **note.unknown, "body": note.body}


def say_value(value: Any) -> str:
    """Say any front matter value on one line, nested ones too."""
    if isinstance(value, Mapping):
        return "; ".join(f"{key}: {say_value(each)}" for key, each in value.items())
    if isinstance(value, (list, tuple)):
        return ", ".join(say_value(each) for each in value)
    return "" if value is None else str(value)


def shown_fields(note: CaseNote) -> list[tuple[str, str, str]]:
    """Return (field, heading, value) of everything the note says, empty fields and the body left out."""
    fields = case_as_json(note)
    fields.pop("body")
    return [(name, label(name), said) for name, value in fields.items() if (said := say_value(value))]
