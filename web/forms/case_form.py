"""The write-up form: which fields come first, and how they turn into a note's fields and back."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterable, Mapping
from typing import Any

from werkzeug.datastructures import MultiDict

from kb.notes.case import CaseNote
from kb.notes.family import FamilyNote
from kb.notes.models import find_family
from search.reading.complaint import Reading
from web.forms.fields import LIST_FIELDS, case_as_json, label

# A write-up has to be done in a minute: these are asked first, the rest is folded away.
FIRST_FIELDS = (
    "complaint",
    "symptom",
    "blinks",
    "model",
    "chassis_family",
    "root_cause",
    "fix_time",
    "fix",
    "outcome",
)
MORE_FIELDS = (
    "date",
    "device",
    "make",
    "board",
    "check",
    "check_time",
    "parts",
    "proof",
    "comeback_of",
    "caution",
    "tech",
)
FORM_FIELDS = FIRST_FIELDS + MORE_FIELDS
# What one repair shares with the next of its kind; the complaint, the times and the proof are its own.
COPIED_FIELDS = (
    "device",
    "make",
    "model",
    "chassis_family",
    "symptom",
    "root_cause",
    "board",
    "check",
    "check_time",
    "fix",
    "parts",
    "caution",
)
Texts = dict[str, str]


def empty_texts(today: datetime.date) -> Texts:
    """Return the form as it first opens."""
    return {**dict.fromkeys(FORM_FIELDS, ""), "date": today.isoformat(), "outcome": "fixed", "body": ""}


def texts_of(note: CaseNote) -> Texts:
    """Return what the form shows for a note."""
    fields = case_as_json(note)
    texts = {name: joined(fields[name]) if name in LIST_FIELDS else fields[name] for name in FORM_FIELDS}
    return {**texts, "body": note.body}


def joined(items: list[str]) -> str:
    """Write a list into one box: with commas, or one a line where an item has a comma itself."""
    if any("," in item for item in items):
        return "\n".join(items) + "\n"
    return ", ".join(items)


def split_items(text: str) -> list[str]:
    """Read a list out of one box: one a line, or on a single line with commas between."""
    parts = text.splitlines() if "\n" in text else text.split(",")
    return [part.strip() for part in parts if part.strip()]


def texts_from_form(form: MultiDict[str, str]) -> Texts:
    """Return what was typed; line ends as the notes have them, the cautions' boxes as one list."""
    texts = {name: form.get(name, "").replace("\r\n", "\n") for name in (*FORM_FIELDS, "body")}
    texts["caution"] = joined([kind for kind in form.getlist("caution") if kind.strip()])
    return {
        name: text if name == "body" or name in LIST_FIELDS else text.strip() for name, text in texts.items()
    }


def fields_from_texts(texts: Mapping[str, str]) -> dict[str, Any]:
    """Return the front matter's fields of what was typed, empty ones left out."""
    fields: dict[str, Any] = {}
    for name in FORM_FIELDS:
        value: Any = split_items(texts[name]) if name in LIST_FIELDS else texts[name].strip()
        if value:
            fields[name] = value
    return fields


def changed_fields(texts: Mapping[str, str], base: Mapping[str, str]) -> dict[str, Any]:
    """Return only the fields that were typed over; an emptied one as ""."""
    fields = fields_from_texts(texts)
    return {name: fields.get(name, "") for name in FORM_FIELDS if texts[name] != base.get(name, "")}


def with_family(texts: Mapping[str, str], families: Iterable[FamilyNote]) -> Texts:
    """Fill family, device and make from the family's note when the technician left them out."""
    filled = dict(texts)
    said = filled["chassis_family"] or filled["model"]
    match = find_family(said, list(families)) if said else None
    if match is None:
        return filled
    if match.exact or not filled["chassis_family"]:
        filled["chassis_family"] = match.family.chassis_family
    filled["device"] = filled["device"] or match.family.device
    filled["make"] = filled["make"] or match.family.make
    return filled


def texts_like(note: CaseNote, today: datetime.date) -> Texts:
    """Return a new write-up that starts from an earlier case."""
    earlier = texts_of(note)
    return {**empty_texts(today), **{name: earlier[name] for name in COPIED_FIELDS}}


def texts_from_reading(reading: Reading, cause: str, today: datetime.date) -> Texts:
    """Return a new write-up that starts from a search and, perhaps, the cause that it proved to be."""
    return {
        **empty_texts(today),
        "complaint": reading.text.strip(),
        "blinks": str(reading.blinks or ""),
        "model": reading.model,
        "chassis_family": reading.family,
        "make": reading.make,
        "device": reading.device,
        "root_cause": cause,
    }


def pack(texts: Mapping[str, str]) -> str:
    """Write the form's texts as one hidden field, so that the next save knows what was typed over."""
    return json.dumps(texts, ensure_ascii=False)


def unpack(packed: str, names: Iterable[str] = FORM_FIELDS) -> Texts | None:
    """Read the hidden field back; None when it is not what this program wrote for these fields."""
    try:
        texts = json.loads(packed)
    except (ValueError, RecursionError):
        return None
    if not isinstance(texts, dict) or not all(isinstance(texts.get(name), str) for name in names):
        return None
    return {name: str(text) for name, text in texts.items()}


def headings() -> dict[str, str]:
    """Return the label of each box."""
    return {name: label(name) for name in FORM_FIELDS} | {"body": "In your own words"}
