"""What a blink count means by the service sheet and by the notes, in the family that was said."""

import pytest

from kb.terms import load_vocabulary
from search.families.case_group import BlinkFigures, blinks_said
from search.index.case_table import CaseTable
from search.reading.complaint import read_complaint
from search.stats.intervals import Share
from tests.search.tables import table_from_cases

from ..small_shop import REPAIRS, family_notes, repair

VOCABULARY = load_vocabulary()


@pytest.fixture(scope="module")
def table() -> CaseTable:
    return table_from_cases([repair(case, fields) for case, fields in REPAIRS.items()], vocabulary=VOCABULARY)


def records(table: CaseTable, said: str, family: str) -> tuple[BlinkFigures, ...]:
    families = family_notes()
    reading = read_complaint(said, families=list(families.values()), family=family)
    return blinks_said(table, families, reading.blinks, reading.family)


def test_count_has_its_meaning_and_its_cases(table: CaseTable) -> None:
    (record,) = records(table, "dark, six flashes", "HV-L2")
    assert (record.pattern, record.service_sheet, record.cases) == ("6", "backlight protection", 4)
    assert record.causes == (("LED strip open circuit", Share(count=4, total=4)),)
    (cause,) = record.as_json()["causes"]
    assert (cause["root_cause"], cause["cases"], cause["share"]) == ("LED strip open circuit", 4, 1.0)


def test_each_count_of_a_doubt_is_told_by_itself(table: CaseTable) -> None:
    # bbb1 recorded 3, bbb2 "3 or 4": both may have been 3, only one may have been 4.
    three, four = records(table, "three or four flashes", "HV-L2")
    assert (three.pattern, three.service_sheet, three.causes) == (
        "3",
        "",
        (("PFC MOSFET shorted", Share(count=2, total=2)),),
    )
    assert (four.pattern, four.service_sheet, four.causes) == (
        "4",
        "",
        (("PFC MOSFET shorted", Share(count=1, total=1)),),
    )


@pytest.mark.parametrize(
    ("said", "family"),
    [
        pytest.param("dark, nine flashes", "HV-L2", id="count-of-which-nothing-is-known"),
        pytest.param("dark", "HV-L2", id="no-count"),
        pytest.param("six flashes", "", id="no-family"),
        pytest.param("six flashes", "QX-99", id="family-that-nobody-knows"),
        pytest.param("six flashes", "BW-M7", id="count-of-another-family"),
    ],
)
def test_nothing_is_told_where_nothing_is_known(table: CaseTable, said: str, family: str) -> None:
    assert records(table, said, family) == ()


def test_family_without_a_note_has_its_cases(table: CaseTable) -> None:
    (record,) = records(table, "five flashes", "CV-I6")
    assert (record.service_sheet, record.cases, record.causes) == (
        "",
        2,
        (("IGBT shorted", Share(count=2, total=2)),),
    )
