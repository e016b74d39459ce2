"""The family note's form: how its boxes turn into the note's fields and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from werkzeug.datastructures import MultiDict

from kb.notes.family import FAMILY_FIELDS, FamilyNote
from web.forms.case_form import Texts, joined, split_items

# Sentences have commas of their own, so these are one a line; names go with commas.
LINE_FIELDS = frozenset({"before_power", "tell_owner", "while_open"})
NAME_FIELDS = frozenset({"models", "boards", "caution"})
HEADINGS = {
    "chassis_family": "Family",
    "device": "Device",
    "make": "Make",
    "models": "Models",
    "opening_time": "Time to open and close it",
    "before_power": "Before power",
    "tell_owner": "Tell the owner",
    "while_open": "While it is open",
    "caution": "Cautions",
    "blink_meaning": "What the service sheet says of its blinks",
    "boards": "Boards",
    "body": "In your own words",
}


def empty_family(name: str = "") -> Texts:
    """Return the form as it first opens."""
    return {**dict.fromkeys((*FAMILY_FIELDS, "body"), ""), "chassis_family": name}


def family_texts(note: FamilyNote) -> Texts:
    """Return what the form shows for a family note."""
    fields = note.as_fields()
    texts: Texts = {}
    for name in FAMILY_FIELDS:
        value = fields.get(name, "")
        if name in LINE_FIELDS:
            texts[name] = "\n".join(value)
        elif name in NAME_FIELDS:
            texts[name] = joined(list(value))
        elif name == "blink_meaning":
            texts[name] = "\n".join(f"{pattern}: {meaning}" for pattern, meaning in (value or {}).items())
        else:
            texts[name] = str(value)
    return {**texts, "body": note.body}


def family_texts_from_form(form: MultiDict[str, str]) -> Texts:
    """Return what was typed."""
    texts = {name: form.get(name, "").replace("\r\n", "\n") for name in (*FAMILY_FIELDS, "body")}
    texts["caution"] = joined([kind for kind in form.getlist("caution") if kind.strip()])
    boxes = LINE_FIELDS | NAME_FIELDS | {"body", "blink_meaning"}
    return {name: text if name in boxes else text.strip() for name, text in texts.items()}


def fields_from_family_texts(texts: Mapping[str, str]) -> dict[str, Any]:
    """Return the front matter's fields of what was typed, empty ones left out."""
    fields: dict[str, Any] = {}
    for name in FAMILY_FIELDS:
        text = texts[name]
        value: Any = text.strip()
        if name in LINE_FIELDS:
            value = [line.strip() for line in text.splitlines() if line.strip()]
        elif name in NAME_FIELDS:
            value = split_items(text)
        elif name == "blink_meaning":
            value = read_meanings(text)
        if value:
            fields[name] = value
    return fields


def read_meanings(text: str) -> list[tuple[str, str]]:
    """Read "pattern: meaning" lines; a line without a colon keeps its whole text as the pattern."""
    pairs = [line.partition(":") for line in text.splitlines() if line.strip()]
    return [(pattern.strip(), meaning.strip()) for pattern, _, meaning in pairs]


def changed_family_fields(texts: Mapping[str, str], base: Mapping[str, str]) -> dict[str, Any]:
    """Return only the fields that were typed over; an emptied one as ""."""
    fields = fields_from_family_texts(texts)
    changes = {name: fields.get(name, "") for name in FAMILY_FIELDS if texts[name] != base.get(name, "")}
    if isinstance(changes.get("blink_meaning"), list):
        changes["blink_meaning"] = dict(changes["blink_meaning"])
    return changes
