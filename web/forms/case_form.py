"""The write-up form: which boxes come first, and what they open with."""

import datetime

from kb.notes.case import CASE_FIELDS, LIST_FIELDS, CaseNote, Outcome
from search.reading.complaint import Reading
from web.forms.note_form import NoteForm, Texts

# A write-up has to be done in a minute: these, with all that are needed, are asked first.
FIRST_FIELDS = (
    "complaint", "model", "chassis_family", "device", "symptom", "blinks", "root_cause", "fix_time",
    "date", "fix", "outcome",
)  # fmt: skip
MORE_FIELDS = tuple(name for name in CASE_FIELDS if name not in (*FIRST_FIELDS, "case"))
# What one repair shares with the next of its kind; the complaint, the times and the proof are its own.
COPIED_FIELDS = (
    "device", "make", "model", "chassis_family", "symptom", "root_cause", "board", "check", "check_time",
    "fix", "parts", "caution",
)  # fmt: skip
SAME_SET = ("device", "make", "model", "chassis_family", "caution")

CASE_FORM = NoteForm(
    kind=CaseNote,
    boxes=(*FIRST_FIELDS, *MORE_FIELDS),
    lists=frozenset(LIST_FIELDS),
    template="case_form.html",
)


def blank(today: datetime.date) -> Texts:
    """Return the form as it first opens."""
    return CASE_FORM.empty(date=today.isoformat(), outcome=Outcome.FIXED)


def texts_like(note: CaseNote, today: datetime.date) -> Texts:
    """Return a new write-up that starts from an earlier case."""
    return blank(today) | CASE_FORM.texts_of(note, COPIED_FIELDS)


def texts_of_comeback(earlier: CaseNote, today: datetime.date) -> Texts:
    """Return a new write-up of the same set: what it is, but not what was found in it then."""
    return blank(today) | CASE_FORM.texts_of(earlier, SAME_SET) | {"comeback_of": earlier.case}


def texts_from_reading(reading: Reading) -> Texts:
    """Return the boxes that a complaint fills."""
    of_set = {"model": reading.model, "chassis_family": reading.family, "make": reading.make}
    said = {"complaint": reading.text.strip(), "blinks": str(reading.blinks or "")}
    return {**said, **of_set, "device": reading.device}
