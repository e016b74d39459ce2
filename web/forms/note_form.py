"""A note as a form: headings of its fields, the texts of its boxes, and fields from typed texts."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from werkzeug.datastructures import MultiDict

from kb.exchange.rows import split_list
from kb.notes.case import CASE_FIELDS, LIST_FIELDS, CaseNote
from kb.notes.family import FAMILY_FIELDS, FamilyNote
from kb.notes.note import Note
from search.reading.complaint import Reading

Texts = dict[str, str]

_HEADINGS = {  # of fields whose key is not clear by itself
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
COMPARED = (  # in the order in which a technician compares then and now
    "date", "model", "complaint", "symptom", "blinks", "root_cause", "board", "check", "fix", "parts",
    "proof", "outcome", "tech",
)  # fmt: skip


def label(field: str) -> str:
    """Return the heading of a field; an unknown field keeps its own name."""
    name = field.replace("_", " ")
    return _HEADINGS.get(field, name.capitalize() if field in (*CASE_FIELDS, *FAMILY_FIELDS) else name)


def case_as_json(note: CaseNote) -> dict[str, Any]:
    """Return all fields, unknown ones too, and the body, as `PUT /api/cases/ID` takes them."""
    empty: dict[str, Any] = {name: [] if name in LIST_FIELDS else "" for name in CASE_FIELDS}
    return {**empty, **note.as_fields(), "body": note.body}


def say_value(value: Any) -> str:
    """Return any front matter value as one line."""
    if isinstance(value, Mapping):
        return "; ".join(f"{key}: {say_value(each)}" for key, each in value.items())
    if isinstance(value, (list, tuple)):
        return ", ".join(say_value(each) for each in value)
    return "" if value is None else str(value)


def compare(earlier: CaseNote, now: CaseNote) -> list[tuple[str, str, str, bool]]:
    """Return (heading, earlier, now, whether equal) for each field that either case has."""
    then, here = case_as_json(earlier), case_as_json(now)
    said = [(label(name), say_value(then[name]), say_value(here[name])) for name in COMPARED]
    return [(*row, row[1].casefold() == row[2].casefold()) for row in said if row[1] or row[2]]


@dataclass(frozen=True, kw_only=True)
class NoteForm:
    """The boxes of one kind of note."""

    kind: type[Note]
    boxes: tuple[str, ...]  # the fields shown, in order, without the body
    lists: frozenset[str]  # lists of names, written with commas
    lines: frozenset[str] = frozenset()  # lists of sentences, written one a line
    pairs: frozenset[str] = frozenset()  # mappings, written "key: value", one a line
    template: str

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of the boxes, the body last."""
        return (*self.boxes, "body")

    def empty(self, **known: str) -> Texts:
        """Return the texts of a new form, with what is known already."""
        return {**dict.fromkeys(self.names, ""), **known}

    def texts_of(self, note: Note, names: Collection[str] = ()) -> Texts:
        """Return the texts of the boxes for a note. names: of some boxes; empty for all."""
        fields = {**note.as_fields(), "body": note.body}
        return {name: self._text(name, fields.get(name, "")) for name in names or self.names}

    def typed(self, form: MultiDict[str, str]) -> Texts:
        """Return what was typed, with the notes' line ends; ticked cautions become one list."""
        texts = {name: form.get(name, "").replace("\r\n", "\n") for name in self.names}
        texts["caution"] = joined([kind for kind in form.getlist("caution") if kind.strip()])
        as_typed = self.lists | self.lines | self.pairs | {"body"}
        return {name: text if name in as_typed else text.strip() for name, text in texts.items()}

    def fields(self, texts: Mapping[str, str]) -> dict[str, Any]:
        """Return what was typed as fields, without empty ones."""
        found = {name: self._value(name, texts[name]) for name in self.boxes}
        return {name: value for name, value in found.items() if value}

    def changes(self, texts: Mapping[str, str], base: Mapping[str, str]) -> dict[str, Any]:
        """Return only the fields that differ from `base`; an emptied one as ""."""
        fields = self.fields(texts)
        return {name: fields.get(name, "") for name in self.boxes if texts[name] != base.get(name, "")}

    def unpack(self, packed: str) -> Texts:
        """Read the hidden texts of a form; {} if they are not from this program and for these boxes."""
        try:
            texts = json.loads(packed)
        except (ValueError, RecursionError):
            return {}
        right = isinstance(texts, dict) and all(isinstance(texts.get(name), str) for name in self.boxes)
        return {name: str(text) for name, text in texts.items()} if right else {}

    def _text(self, name: str, value: Any) -> str:
        if name in self.lists:
            return joined(list(value))
        if name in self.pairs:
            value = [f"{key}: {each}" for key, each in (value or {}).items()]
        return "\n".join(value) if name in self.lines | self.pairs else str(value)

    def _value(self, name: str, text: str) -> Any:
        if name in self.lists:
            return split_list(text)
        lines = [line.strip() for line in text.splitlines() if line.strip()]
        if name in self.lines:
            return lines
        if name in self.pairs:  # a line without a colon becomes a key, which is then reported
            return [(key.strip(), value.strip()) for key, _, value in (line.partition(":") for line in lines)]
        return text.strip()


FAMILY_FORM = NoteForm(
    kind=FamilyNote,
    boxes=FAMILY_FIELDS,
    lists=frozenset({"models", "boards", "caution"}),
    lines=frozenset({"before_power", "tell_owner", "while_open"}),  # sentences contain commas
    pairs=frozenset({"blink_meaning"}),
    template="family_form.html",
)


# Asked first, so that a write-up takes a minute; all required fields are among them.
FIRST_FIELDS = (
    "complaint", "model", "chassis_family", "device", "symptom", "blinks", "root_cause", "fix_time",
    "date", "fix", "outcome",
)  # fmt: skip
MORE_FIELDS = tuple(name for name in CASE_FIELDS if name not in (*FIRST_FIELDS, "case"))
# Copied to the next repair of its kind; the complaint, the times and the proof are not.
COPIED_FIELDS = (
    "device", "make", "model", "chassis_family", "symptom", "root_cause", "board", "check", "check_time",
    "fix", "parts", "caution",
)  # fmt: skip
# Copied for a set that came back: the same set, but not what was found in it.
SAME_SET = ("device", "make", "model", "chassis_family", "caution")

CASE_FORM = NoteForm(
    kind=CaseNote,
    boxes=(*FIRST_FIELDS, *MORE_FIELDS),
    lists=frozenset(LIST_FIELDS),
    template="case_form.html",
)


def texts_from_reading(reading: Reading) -> Texts:
    """Return the texts of the boxes that a complaint fills."""
    of_set = {"model": reading.model, "chassis_family": reading.family, "make": reading.make}
    said = {"complaint": reading.text.strip(), "blinks": str(reading.blinks or "")}
    return {**said, **of_set, "device": reading.device}


def joined(items: list[str]) -> str:
    """Write a list as split_list() reads it: with commas, or on lines if an item has a comma."""
    if any(mark in item for item in items for mark in ",;"):
        return "\n".join(items) + "\n"
    return ", ".join(items)
