"""One finished repair: what a case note says, read from markdown and written to it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import StrEnum
from pathlib import PurePosixPath
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from kb.errors import NoteError, Problem, quoted
from kb.notes import fields
from kb.notes.durations import format_minutes
from kb.notes.frontmatter import split
from kb.notes.ids import is_case_id
from kb.notes.spelling import spell_field


class Outcome(StrEnum):
    """Name how a repair ended."""

    FIXED = "fixed"
    NOT_FIXED = "not fixed"
    NOT_ECONOMIC = "not economic"
    NO_FAULT_FOUND = "no fault found"


CASE_FIELDS: tuple[str, ...] = (
    "case", "date", "device", "make", "model", "chassis_family", "complaint", "symptom", "blinks",
    "root_cause", "board", "check", "check_time", "fix", "parts", "fix_time", "proof", "outcome",
    "comeback_of", "caution", "tech",
)  # fmt: skip
"""Keys of a case note's front matter, in the order they are written."""

REQUIRED_CASE_FIELDS: tuple[str, ...] = (
    "case", "date", "device", "chassis_family", "symptom", "root_cause", "fix_time", "outcome",
)  # fmt: skip
"""Keys without which a case note is not complete."""

CASE_ATTRIBUTES = {"check_time": "check_time_min", "fix_time": "fix_time_min"}
"""Attribute of a front matter key, where they differ."""

_KEYS = {attribute: key for key, attribute in CASE_ATTRIBUTES.items()}
_REMEDIES = {
    "case": "write the day and four characters, as in 20260318-k7f2, the same as the file's name",
    "date": "write the day as 2026-03-18 (year-month-day)",
    "device": "write what it is, as in LED TV",
    "chassis_family": "write the chassis family, as on the family's own note",
    "symptom": "write a list of what was seen or heard, as in [dead, clicking]",
    "root_cause": "write what was wrong, or what you believe it was",
    "fix_time": 'write bench minutes as "55 min" or "1 h 20 min"',
    "outcome": f"write one of {', '.join(Outcome)}",
}
_MISREAD = str.maketrans("ilou", "110v")


def _to_case_id(value: Any) -> str:
    text = fields.tidy_text(value)
    if not text or is_case_id(text):
        return text
    mended = text.lower().translate(_MISREAD)
    if is_case_id(mended):
        raise ValueError(f"write {mended}, without the letters i, l, o and u, which are misread")
    raise ValueError(_REMEDIES["case"])


def _to_outcome(value: Any) -> Outcome:
    if isinstance(value, Outcome):
        return value
    text = re.sub(r"[\s_-]+", " ", fields.tidy_text(value)).casefold()
    if not text:
        raise ValueError("")
    try:
        return Outcome(text)
    except ValueError:
        raise ValueError(_REMEDIES["outcome"]) from None


def _to_unknown(value: Any) -> dict[str, Any]:
    return fields.plain_fields(value, CASE_FIELDS)


class CaseNote(BaseModel):
    """Hold one finished repair.

    Texts are "" and lists () when absent, numbers and patterns None. Times are hands-on bench minutes.
    case: "" until the note is first saved. unknown: fields this program does not know, kept as texts, lists
    and mappings of texts. body: free markdown, without blank lines at its ends.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    case: Annotated[str, BeforeValidator(_to_case_id)] = ""
    date: fields.RequiredDay
    device: fields.RequiredText
    make: fields.Text = ""
    model: fields.Text = ""
    chassis_family: fields.RequiredText
    complaint: fields.Text = ""
    symptom: fields.RequiredTexts
    blinks: fields.Pattern = None
    root_cause: fields.RequiredText
    board: fields.Text = ""
    check: fields.Text = ""
    check_time_min: fields.Minutes = None
    fix: fields.Text = ""
    parts: fields.Texts = ()
    fix_time_min: fields.RequiredMinutes
    proof: fields.Text = ""
    outcome: Annotated[Outcome, BeforeValidator(_to_outcome)]
    comeback_of: fields.Text = ""
    caution: fields.Names = ()
    tech: fields.Text = ""
    body: fields.Body = ""
    unknown: Annotated[dict[str, Any], BeforeValidator(_to_unknown)] = {}


def parse_case(text: str, *, file: str) -> CaseNote:
    """Read a case note. file: its path within the notebook, whose stem must be the case number.

    Raises: NoteError with every problem at once, each with its line.
    """
    front = split(text, file=file)
    lines = {name: entry.line for name, entry in front.entries.items()} | {"body": front.body_line}
    values = {name: entry.value for name, entry in front.entries.items()}
    note, faults = _build(values, body=front.body)
    stem = PurePosixPath(file).stem
    if note is not None and not note.case:
        faults.append(("case", fields.NOTHING, f"write {stem}" if is_case_id(stem) else _REMEDIES["case"]))
    elif note is not None and file and note.case != stem:
        faults.append(
            ("case", quoted(note.case), f"write {quoted(stem)}, or rename the file to {note.case}.md")
        )
    elif note is None and not values.get("case"):
        faults.insert(0, ("case", fields.NOTHING, _REMEDIES["case"]))
    placed = fields.place(fields.believable(faults, front), file=file, lines=lines, otherwise=1)
    if note is None or placed or front.problems:
        raise NoteError([*front.problems, *placed])
    return note


def case_from_fields(given: Mapping[str, Any], *, body: str = "") -> CaseNote:
    """Build a case note from front matter keys with text or JSON values, as a form or an import has them.

    A key "body" is the markdown body, unless one is given beside the fields. "case" may be absent.
    Raises: NoteError with every problem at once (no file, line 0).
    """
    values = dict(given)
    inner = values.pop("body", "")
    note, faults = _build(values, body=body or inner)
    if note is None or faults:
        raise NoteError(fields.place(faults, file="", lines={}, otherwise=0))
    return note


def case_fields(note: CaseNote) -> dict[str, Any]:
    """Return the note's fields as they are written: front matter keys in order, empty ones left out.

    Values are texts, lists of texts, and for unknown fields mappings too.
    """
    values: dict[str, Any] = {}
    for key in CASE_FIELDS:
        value = getattr(note, CASE_ATTRIBUTES.get(key, key))
        if value is None or value in ("", ()):
            continue
        if key in CASE_ATTRIBUTES:
            values[key] = format_minutes(value)
        else:
            values[key] = list(value) if isinstance(value, tuple) else str(value)
    return values | note.unknown


def write_case(note: CaseNote) -> str:
    """Return the note as markdown; reading it again gives an equal note.

    Raises: NoteError when it has no case number yet.
    """
    if not note.case:
        missing = Problem(file="", line=0, field="case", found=fields.NOTHING, remedy=_REMEDIES["case"])
        raise NoteError([missing])
    head = "".join(spell_field(key, value) for key, value in case_fields(note).items())
    return f"---\n{head}---\n{note.body}\n" if note.body else f"---\n{head}---\n"


def _build(values: Mapping[str, Any], *, body: str) -> tuple[CaseNote | None, list[tuple[str, str, str]]]:
    known: dict[str, Any] = {"body": body}
    known |= {CASE_ATTRIBUTES.get(key, key): values[key] for key in CASE_FIELDS if key in values}
    unknown, faults = fields.keep_unknown(values, CASE_FIELDS)
    try:
        return CaseNote(**known, unknown=unknown), faults
    except ValidationError as error:
        return None, [*fields.problems_of(error, names=_KEYS, remedies=_REMEDIES), *faults]
