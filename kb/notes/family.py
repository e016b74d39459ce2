"""One chassis family: its models, what to do before power, and what its blinks are said to mean."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from kb.errors import NoteError, quoted
from kb.notes import fields
from kb.notes.blinks import BlinkPattern
from kb.notes.durations import format_minutes
from kb.notes.frontmatter import split
from kb.notes.spelling import spell_field

FAMILY_FIELDS: tuple[str, ...] = (
    "chassis_family", "device", "make", "models", "opening_time", "before_power", "tell_owner", "while_open",
    "caution", "blink_meaning", "boards",
)  # fmt: skip
"""Keys of a family note's front matter, in the order they are written."""

FAMILY_ATTRIBUTES = {"opening_time": "opening_time_min"}
"""Attribute of a front matter key, where they differ."""

_KEYS = {attribute: key for key, attribute in FAMILY_ATTRIBUTES.items()}
_REMEDIES = {
    "chassis_family": "write the chassis family's name, as the case notes have it",
    "device": "write what it is, as in LED TV",
}
_MEANING_REMEDY = "write one pattern a line, as in 3: supply voltage missing"


def _to_meanings(value: Any) -> tuple[tuple[BlinkPattern, str], ...]:
    if value is None or value in ("", (), [], {}):
        return ()
    pairs = list(value.items()) if isinstance(value, Mapping) else value
    if not isinstance(pairs, list | tuple):
        raise ValueError(_MEANING_REMEDY)
    if not all(isinstance(pair, tuple | list) and len(pair) == 2 for pair in pairs):
        raise ValueError(_MEANING_REMEDY)
    meanings: dict[BlinkPattern, str] = {}
    for said, meaning in pairs:
        try:
            pattern = fields.to_pattern(said)
        except ValueError as error:
            raise ValueError(f"for {quoted(said)} {error}") from None
        if pattern is None or pattern in meanings:
            raise ValueError(f"{_MEANING_REMEDY}, each pattern once ({quoted(said)} is not)")
        meanings[pattern] = fields.tidy_text(meaning)
    return tuple(meanings.items())


def _to_unknown(value: Any) -> dict[str, Any]:
    return fields.plain_fields(value, FAMILY_FIELDS)


class FamilyNote(BaseModel):
    """Hold what a shop knows of one chassis family.

    models: model names, `*` for any ending. opening_time_min: minutes to open the set and close it again.
    blink_meaning: what the maker's service sheet says, by pattern. unknown: fields not known here.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    chassis_family: fields.RequiredText
    device: fields.RequiredText
    make: fields.Text = ""
    models: fields.Texts = ()
    opening_time_min: fields.Minutes = None
    before_power: fields.Texts = ()
    tell_owner: fields.Texts = ()
    while_open: fields.Texts = ()
    caution: fields.Names = ()
    blink_meaning: Annotated[tuple[tuple[Any, str], ...], BeforeValidator(_to_meanings)] = ()
    boards: fields.Texts = ()
    body: fields.Body = ""
    unknown: Annotated[dict[str, Any], BeforeValidator(_to_unknown)] = {}


def parse_family(text: str, *, file: str) -> FamilyNote:
    """Read a family note.

    Raises: NoteError with every problem at once, each with its line.
    """
    front = split(text, file=file)
    lines = {name: entry.line for name, entry in front.entries.items()} | {"body": front.body_line}
    note, faults = _build({name: entry.value for name, entry in front.entries.items()}, body=front.body)
    placed = fields.place(fields.believable(faults, front), file=file, lines=lines, otherwise=1)
    if note is None or placed or front.problems:
        raise NoteError([*front.problems, *placed])
    return note


def family_from_fields(given: Mapping[str, Any], *, body: str = "") -> FamilyNote:
    """Build a family note from front matter keys with text or JSON values, as a form has them.

    blink_meaning: a mapping, or a list of pairs. A key "body" is the body, unless one is given apart.
    Raises: NoteError with every problem at once (no file, line 0).
    """
    values = dict(given)
    inner = values.pop("body", "")
    note, faults = _build(values, body=body or inner)
    if note is None or faults:
        raise NoteError(fields.place(faults, file="", lines={}, otherwise=0))
    return note


def family_fields(note: FamilyNote) -> dict[str, Any]:
    """Return the note's fields as they are written: front matter keys in order, empty ones left out."""
    values: dict[str, Any] = {}
    for key in FAMILY_FIELDS:
        if key == "opening_time":
            if note.opening_time_min is not None:
                values[key] = format_minutes(note.opening_time_min)
        elif key == "blink_meaning":
            if note.blink_meaning:
                values[key] = {str(pattern): meaning for pattern, meaning in note.blink_meaning}
        elif value := getattr(note, key):
            values[key] = list(value) if isinstance(value, tuple) else value
    return values | note.unknown


def write_family(note: FamilyNote) -> str:
    """Return the note as markdown; reading it again gives an equal note."""
    head = "".join(spell_field(key, value) for key, value in family_fields(note).items())
    return f"---\n{head}---\n{note.body}\n" if note.body else f"---\n{head}---\n"


def _build(values: Mapping[str, Any], *, body: str) -> tuple[FamilyNote | None, list[tuple[str, str, str]]]:
    known: dict[str, Any] = {"body": body}
    unknown, faults = fields.keep_unknown(values, FAMILY_FIELDS)
    for key in FAMILY_FIELDS:
        if key in values:
            known["opening_time_min" if key == "opening_time" else key] = values[key]
    try:
        return FamilyNote(**known, unknown=unknown), faults
    except ValidationError as error:
        return None, [*fields.problems_of(error, names=_KEYS, remedies=_REMEDIES), *faults]
