import datetime

import pytest

from kb.notes.case import CaseNote, Outcome
from search.causes.similar_causes import similar_causes
from search.index.case_table import CaseTable
from tests.search.tables import table_from_cases


def _table(*causes: str) -> CaseTable:
    return table_from_cases(
        [
            CaseNote(
                case=f"20260101-a{at:03d}",
                date=datetime.date(2026, 1, 1),
                device="LED TV",
                chassis_family="F",
                symptom=("dead",),
                root_cause=cause,
                fix_time_min=30,
                outcome=Outcome.FIXED,
            )
            for at, cause in enumerate(causes)
        ]
    )


@pytest.mark.parametrize(
    ("one", "other"),
    [
        pytest.param("LED strip open", "LED strip open circuit", id="one-word-more"),
        pytest.param("ribbon connector corroded", "ribbon conector corroded", id="misspelt"),
        pytest.param("standby capacitor dried out", "dried out standby capacitr", id="other-order"),
    ],
)
def test_causes_that_may_be_one_are_offered(one: str, other: str) -> None:
    (pair,) = similar_causes(_table(one, one, other, "speaker cone torn"))
    assert (pair.keep, pair.other) == (one, other)
    assert (pair.keep_cases, pair.other_cases) == (2, 1)
    assert pair.alike > 50


@pytest.mark.parametrize(
    ("one", "other"),
    [
        pytest.param("C801 leaky", "C802 leaky", id="another-part-number"),
        pytest.param("fuse open", "T-con board fuse open under load", id="much-more-is-said"),
        pytest.param("door switch worn", "drain pump blocked", id="nothing-in-common"),
        pytest.param("left speaker torn", "right speaker torn", id="another-side"),
    ],
)
def test_causes_that_are_two_are_left_alone(one: str, other: str) -> None:
    assert similar_causes(_table(one, other)) == []


def test_no_causes_give_no_pairs() -> None:
    assert similar_causes(_table()) == []


def test_at_most_so_many_are_offered_the_likest_first(monkeypatch: pytest.MonkeyPatch) -> None:
    table = _table("LED strip open", "LED strip open circuit", "speaker cone torn", "speaker conne torn")
    every = similar_causes(table)
    assert len(every) == 2
    assert [pair.alike for pair in every] == sorted((pair.alike for pair in every), reverse=True)
    monkeypatch.setattr("search.causes.similar_causes._MOST_OFFERED", 1)
    assert similar_causes(table) == every[:1]
