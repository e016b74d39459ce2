"""Earlier cases that a new write-up may repeat: the same case typed twice, or the same set come back."""

import datetime
from typing import NamedTuple

from rapidfuzz import fuzz, utils

from kb.notes.case import CaseNote
from search.bench import Bench

# All chosen by us; tests/web/forms/test_alike.py would notice.
SAME_WORDS = 92.0  # per cent: one complaint typed twice differs by a slip of the finger
LIKE_WORDS = 70.0  # per cent: one fault told twice by the same owner
ASKED_ABOUT_DAYS = 180
DOUBLE_DAYS = 3  # one repair is written up twice within days, not weeks
LOOKED_AT = 20


class Alike(NamedTuple):
    """An earlier case to look at before saving: the same set come back, or the same repair."""

    earlier: CaseNote
    comeback: bool

    @property
    def says(self) -> str:
        """Return the question to put to the technician."""
        return f"Is this the same {'set, come back' if self.comeback else 'repair, written up twice'}?"


def find_alike(bench: Bench, note: CaseNote) -> list[Alike]:
    """Return the earlier cases that this one may repeat, possible doubles first."""
    asked = note.complaint or ", ".join(note.symptom)
    answer = bench.answer(asked, family=note.chassis_family, blinks=str(note.blinks or ""), limit=LOOKED_AT)
    found, known = [each.note for each in answer.cases if each.note], (note.case, note.comeback_of)
    others = [each for each in found if each.case not in known and _same_kind(note, each)]
    doubles = [each for each in others if _is_double(note, each)]
    again = [each for each in others if each not in doubles and _is_comeback(note, each)]
    return [*(Alike(each, False) for each in doubles), *(Alike(each, True) for each in again)]


def _same_kind(note: CaseNote, earlier: CaseNote) -> bool:
    """Tell whether both are sets of one model, or of one family where a model is not given."""
    if note.model and earlier.model:
        return note.model.casefold() == earlier.model.casefold()
    return note.chassis_family.casefold() == earlier.chassis_family.casefold()


def _is_double(note: CaseNote, earlier: CaseNote) -> bool:
    """Tell whether the two look like one repair, written up twice."""
    if not _same_cause(note, earlier) or abs(note.date - earlier.date) > datetime.timedelta(days=DOUBLE_DAYS):
        return False
    if note.complaint and earlier.complaint:
        return _likeness(note, earlier) >= SAME_WORDS
    return set(earlier.symptom) == set(note.symptom)


def _is_comeback(note: CaseNote, earlier: CaseNote) -> bool:
    """Tell whether the earlier set may be this one: a like fault within half a year."""
    if note.comeback_of or not 0 < (note.date - earlier.date).days <= ASKED_ABOUT_DAYS:
        return False
    return _likeness(note, earlier) >= LIKE_WORDS or _same_cause(note, earlier)


def _same_cause(note: CaseNote, earlier: CaseNote) -> bool:
    return bool(note.root_cause) and note.root_cause.casefold() == earlier.root_cause.casefold()


def _likeness(note: CaseNote, earlier: CaseNote) -> float:
    """Return how alike the two complaints are, in per cent, whatever the order of their words."""
    if not note.complaint or not earlier.complaint:
        return 0.0
    return fuzz.token_sort_ratio(note.complaint, earlier.complaint, processor=utils.default_process)
