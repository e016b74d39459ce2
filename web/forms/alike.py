"""Earlier cases that a new write-up may repeat: the same case typed twice, or the same set come back."""

import datetime
from dataclasses import dataclass

from rapidfuzz import fuzz, utils

from kb.notes.case import CaseNote
from search.bench import Bench

# All chosen by us; tests/web/forms/test_alike.py would notice.
SAME_WORDS = 92.0  # per cent: one complaint typed twice differs by a slip of the finger
LIKE_WORDS = 70.0  # per cent: one fault told twice by the same owner
ASKED_ABOUT_DAYS = 180
DOUBLE_DAYS = 3  # one repair is written up twice within days, not weeks
LOOKED_AT = 20


@dataclass(frozen=True, kw_only=True)
class Alike:
    """An earlier case to look at before saving: the same set come back, or the same repair."""

    earlier: CaseNote
    comeback: bool

    @property
    def says(self) -> str:
        """Return the question to put to the technician."""
        what = "set, come back" if self.comeback else "repair, written up twice"
        return f"Is this the same {what}?"


def word_likeness(one: str, other: str) -> float:
    """Return how alike two complaints are, in per cent, whatever the order of their words."""
    if not one or not other:
        return 0.0
    return fuzz.token_sort_ratio(one, other, processor=utils.default_process)


def find_alike(bench: Bench, note: CaseNote) -> list[Alike]:
    """Return the earlier cases that this one may repeat, possible doubles first."""
    asked = note.complaint or ", ".join(note.symptom)
    answer = bench.answer(asked, family=note.chassis_family, blinks=str(note.blinks or ""), limit=LOOKED_AT)
    others = [hit.note for hit in answer.cases if hit.note]
    others = [each for each in others if each.case not in (note.case, note.comeback_of)]
    doubles = [Alike(earlier=each, comeback=False) for each in others if is_double(note, each)]
    again = [each for each in others if not is_double(note, each) and is_comeback(note, each)]
    return [*doubles, *(Alike(earlier=each, comeback=True) for each in again)]


def same_set_kind(note: CaseNote, earlier: CaseNote) -> bool:
    """Tell whether both are sets of one model, or of one family where a model is not given."""
    if note.model and earlier.model:
        return note.model.casefold() == earlier.model.casefold()
    return note.chassis_family.casefold() == earlier.chassis_family.casefold()


def is_double(note: CaseNote, earlier: CaseNote) -> bool:
    """Tell whether the two look like one repair, written up twice."""
    if not same_set_kind(note, earlier) or not same_cause(note, earlier):
        return False
    if abs(note.date - earlier.date) > datetime.timedelta(days=DOUBLE_DAYS):
        return False
    if note.complaint and earlier.complaint:
        return word_likeness(note.complaint, earlier.complaint) >= SAME_WORDS
    return set(earlier.symptom) == set(note.symptom)


def is_comeback(note: CaseNote, earlier: CaseNote) -> bool:
    """Tell whether the earlier set may be this one: same kind, a like fault, within half a year."""
    if note.comeback_of or not same_set_kind(note, earlier):
        return False
    if not datetime.timedelta() < note.date - earlier.date <= datetime.timedelta(days=ASKED_ABOUT_DAYS):
        return False
    return word_likeness(note.complaint, earlier.complaint) >= LIKE_WORDS or same_cause(note, earlier)


def same_cause(note: CaseNote, earlier: CaseNote) -> bool:
    """Tell whether both name one cause; a note still being typed may name none."""
    return bool(note.root_cause) and note.root_cause.casefold() == earlier.root_cause.casefold()
