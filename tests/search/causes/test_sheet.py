"""The service sheet's meaning of a blink pattern is evidence for the causes it speaks of."""

import numpy as np
import pytest

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.causes.notebook_causes import NotebookCauses
from search.reading.complaint import read_complaint
from search.reading.concepts import default_finder
from search.stats.arrays import FloatArray
from tests.search.causes.test_notebook_causes import invented_notes, state_of

WASHER = FamilyNote(
    chassis_family="F-WM",
    device="washing machine",
    blink_meaning={"7": "door does not lock", "9": "water is not pumped out, drain pump stands"},
)


@pytest.fixture(scope="module")
def causes() -> NotebookCauses:
    return NotebookCauses.learn(state_of(invented_notes()), default_finder(), [WASHER])


def _chances(causes: NotebookCauses, blinks: str, family: str = "F-WM") -> FloatArray:
    said = read_complaint("", finder=default_finder(), blinks=BlinkPattern.parse(blinks), family=family)
    return causes.odds(said).probability


def test_a_meaning_raises_the_cause_it_speaks_of(causes: NotebookCauses) -> None:
    # No case has recorded either pattern.
    door, pump = (causes.table.cause_names.index(name) for name in ("door switch worn", "drain pump blocked"))
    seven, nine = _chances(causes, "7"), _chances(causes, "9")
    assert seven[door] > 1.5 * nine[door]
    assert nine[pump] > 1.5 * seven[pump]


def test_a_doubted_count_weighs_less_but_not_nothing(causes: NotebookCauses) -> None:
    pump = causes.table.cause_names.index("drain pump blocked")
    other, doubted, sure = (_chances(causes, blinks)[pump] for blinks in ("2", "about 8", "9"))
    assert other < doubted < sure


def test_a_sheet_speaks_for_its_own_family_alone(causes: NotebookCauses) -> None:
    without = NotebookCauses.learn(state_of(invented_notes()), default_finder())
    here, elsewhere = causes.with_families([]), causes
    assert np.allclose(_chances(here, "7", "F-TV"), _chances(elsewhere, "7", "F-TV"))
    assert not np.allclose(_chances(without, "7"), _chances(causes, "7"))
