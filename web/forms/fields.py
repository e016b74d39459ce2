"""The front matter's fields as text for people and as plain values for JSON; two cases side by side."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from kb.notes.case import CASE_FIELDS, LIST_FIELDS, CaseNote
from kb.notes.family import FAMILY_FIELDS

# Headings of fields whose key does not say it well enough.
_HEADINGS = {
    "chassis_family": "Family",
    "complaint": "The owner said",
    "check": "Check that shows it",
    "caution": "Cautions",
    "tech": "Technician",
    "opening_time": "Time to open and close it",
    "tell_owner": "Tell the owner",
    "while_open": "While it is open",
    "blink_meaning": "What the service sheet says of its blinks",
    "body": "In your own words",
}
# In the order in which a technician asks what was found then and what now.
COMPARED = (
    "date", "model", "complaint", "symptom", "blinks", "root_cause", "board", "check", "fix", "parts",
    "proof", "outcome", "tech",
)  # fmt: skip


def label(field: str) -> str:
    """Return the heading of a field; an unknown field keeps its own name."""
    name = field.replace("_", " ")
    return _HEADINGS.get(field, name.capitalize() if field in (*CASE_FIELDS, *FAMILY_FIELDS) else name)


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


class Compared(NamedTuple):
    """One field of two cases; same: both say it, in the same words."""

    heading: str
    earlier: str
    now: str
    same: bool


def compare(earlier: CaseNote, now: CaseNote) -> list[Compared]:
    """Return the fields that either case fills in."""
    then, here = case_as_json(earlier), case_as_json(now)
    said = [(label(name), say_value(then[name]), say_value(here[name])) for name in COMPARED]
    return [Compared(*row, row[1].casefold() == row[2].casefold()) for row in said if row[1] or row[2]]
