"""One finished repair: what a case note says, read from markdown and written to it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import StrEnum
from pathlib import PurePosixPath
from typing import Annotated, Any, ClassVar, Self

from pydantic import BeforeValidator

from kb.errors import NoteError, Problem, quoted
from kb.notes import fields
from kb.notes.ids import is_case_id
from kb.notes.note import Fault, Note


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


class CaseNote(Note):
    """Hold one finished repair. case: "" until the note is first saved."""

    KEYS: ClassVar[tuple[str, ...]] = CASE_FIELDS
    ATTRIBUTES: ClassVar[Mapping[str, str]] = {"check_time": "check_time_min", "fix_time": "fix_time_min"}
    REMEDIES: ClassVar[Mapping[str, str]] = _REMEDIES

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

    def as_text(self) -> str:
        """Return the note as markdown. Raises: NoteError when it has no case number yet."""
        if not self.case:
            missing = Problem(file="", line=0, field="case", found=fields.NOTHING, remedy=_REMEDIES["case"])
            raise NoteError([missing])
        return super().as_text()

    @classmethod
    def _faults_of_place(
        cls, note: Self | None, values: Mapping[str, Any], faults: list[Fault], *, file: str
    ) -> list[Fault]:
        """Add what is wrong with the case number, which must be the stem of the file's name."""
        stem = PurePosixPath(file).stem
        if note is None:
            missing = [("case", fields.NOTHING, _REMEDIES["case"])] if not values.get("case") else []
            return [*missing, *faults]
        if not note.case:
            remedy = f"write {stem}" if is_case_id(stem) else _REMEDIES["case"]
            return [*faults, ("case", fields.NOTHING, remedy)]
        if file and note.case != stem:
            remedy = f"write {quoted(stem)}, or rename the file to {note.case}.md"
            return [*faults, ("case", quoted(note.case), remedy)]
        return faults
