"""One finished repair: what a case note says, read from markdown and written to it."""

import datetime
import re
import secrets
from collections.abc import Callable, Mapping
from enum import StrEnum
from pathlib import PurePosixPath
from typing import Annotated, Any, Self, get_origin

from pydantic import BeforeValidator, Field

from kb.errors import quoted
from kb.notes import durations, fields
from kb.notes.note import NOTHING, Fault, Note

# Crockford's base32 leaves out i, l, o and u, which are misread on a label. https://www.crockford.com/base32.html
ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"

_CASE_ID = re.compile(rf"[0-9]{{8}}-[{ALPHABET}]{{4}}")
_TRIES = 1_000  # so many draws all hit taken numbers only if nearly all the million of a day are taken


class Outcome(StrEnum):
    """Name how a repair ended."""

    FIXED = "fixed"
    NOT_FIXED = "not fixed"
    NOT_ECONOMIC = "not economic"
    NO_FAULT_FOUND = "no fault found"


_CASE_REMEDY = "write the day and four characters, as in 20260318-k7f2, the same as the file's name"
_OUTCOME_REMEDY = f"write one of {', '.join(Outcome)}"
_MISREAD = str.maketrans("ilou", "110v")


def new_case_id(date: datetime.date, is_taken: Callable[[str], bool]) -> str:
    """Return a free case number for a day, one of 32**4. Raises: RuntimeError when none is left."""
    for _ in range(_TRIES):
        candidate = f"{date:%Y%m%d}-" + "".join(secrets.choice(ALPHABET) for _ in range(4))
        if not is_taken(candidate):
            return candidate
    raise RuntimeError(f"no free case number is left for {date.isoformat()}")


def is_case_id(text: str) -> bool:
    """Tell whether a text is a case number such as 20260318-k7f2 (a real date, then Crockford base32)."""
    try:
        return bool(_CASE_ID.fullmatch(text) and datetime.date.fromisoformat(text[:8]))
    except ValueError:
        return False


def _to_case_id(value: Any) -> str:
    text = fields.tidy_text(value)
    if not text or is_case_id(text):
        return text
    mended = text.lower().translate(_MISREAD)
    if is_case_id(mended):
        raise ValueError(f"write {mended}, without the letters i, l, o and u, which are misread")
    raise ValueError(_CASE_REMEDY)


def _to_outcome(value: Any) -> Outcome | None:
    text = re.sub(r"[\s_-]+", " ", fields.tidy_text(value)).casefold()
    try:
        return Outcome(text) if text else None
    except ValueError:
        raise ValueError(_OUTCOME_REMEDY) from None


class CaseNote(Note):
    """Hold one finished repair. case: "" until the note is first saved."""

    case: Annotated[str, BeforeValidator(_to_case_id)] = Field(default="", description=_CASE_REMEDY)
    date: fields.RequiredDay = Field(description=fields.DAY_REMEDY)
    device: fields.RequiredText = Field(description="write what it is, as in LED TV")
    make: fields.Text = ""
    model: fields.Text = ""
    chassis_family: fields.RequiredText = Field(
        description="write the chassis family, as on the family's own note"
    )
    complaint: fields.Text = ""
    symptom: fields.RequiredTexts = Field(
        description="write a list of what was seen or heard, as in [dead, clicking]"
    )
    blinks: fields.Pattern = None
    root_cause: fields.RequiredText = Field(description="write what was wrong, or what you believe it was")
    board: fields.Text = ""
    check: fields.Text = ""
    check_time_min: fields.Minutes = Field(default=None, alias="check_time")
    fix: fields.Text = ""
    parts: fields.Texts = ()
    fix_time_min: fields.RequiredMinutes = Field(alias="fix_time", description=durations.REMEDY)
    proof: fields.Text = ""
    outcome: Annotated[Outcome, fields.required(_to_outcome)] = Field(description=_OUTCOME_REMEDY)
    comeback_of: fields.Text = ""
    caution: fields.Names = ()
    tech: fields.Text = ""

    @classmethod
    def _faults_of_place(cls, note: Self | None, values: Mapping[str, Any], *, file: str) -> list[Fault]:
        """Return what is wrong with the case number, which must be the stem of the file's name."""
        case, stem = note.case if note else values.get("case"), PurePosixPath(file).stem
        if not case:
            return [("case", NOTHING, f"write {stem}" if is_case_id(stem) else _CASE_REMEDY)]
        if note and file and case != stem:
            return [("case", quoted(case), f"write {quoted(stem)}, or rename the file to {case}.md")]
        return []


# Keys of a case note's front matter: all in writing order, the required ones, and those that hold lists.
CASE_FIELDS: tuple[str, ...] = tuple(CaseNote.KEYS)
_DECLARED = {key: CaseNote.model_fields[name] for key, name in CaseNote.KEYS.items()}
REQUIRED_CASE_FIELDS = ("case", *(key for key, field in _DECLARED.items() if field.is_required()))
LIST_FIELDS = tuple(key for key, field in _DECLARED.items() if get_origin(field.annotation) is tuple)
