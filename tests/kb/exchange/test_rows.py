"""Columns of somebody else's CSV file: guessed by name, and read as a case's fields."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.exchange.rows import day_order, field_value, guess_mapping, join_list, split_list
from kb.notes.case import CASE_FIELDS
from tests.kb.made_up_notes import unhurried


def test_columns_are_guessed_by_name() -> None:
    header = [
        "Job",
        "Repair date",
        "Brand",
        "Device type",
        "Chassis",
        "Symptoms",
        "Fault found",
        "Labour (h)",
        "RESULT",
    ]
    assert guess_mapping(header) == {
        "date": "Repair date",
        "make": "Brand",
        "device": "Device type",
        "chassis_family": "Chassis",
        "symptom": "Symptoms",
        "root_cause": "Fault found",
        "fix_time": "Labour (h)",
        "outcome": "RESULT",
    }


def test_own_name_of_a_field_goes_first() -> None:
    assert guess_mapping(["fault", "complaint"])["complaint"] == "complaint"
    assert guess_mapping(["notes", "body", "cause", "", ""]) == {"body": "body", "root_cause": "cause"}


def test_a_text_without_a_column_of_causes_is_read_for_fields() -> None:
    assert guess_mapping(["date", "notes"]) == {"date": "date", "job_note": "notes"}
    assert guess_mapping(["date", "notes"], {"date": "", "body": "notes", "root_cause": "date"}) == {
        "body": "notes",
        "root_cause": "date",
    }


def test_exported_file_maps_to_itself() -> None:
    header = [*CASE_FIELDS, "shelf", "body"]
    assert guess_mapping(header) == {column: column for column in header}


@pytest.mark.parametrize(("days", "order"), [
    pytest.param(["18/03/2026", "04/05/2026"], "dmy", id="day-above-twelve"),
    pytest.param(["03/18/2026", "04/05/2026"], "mdy", id="month-first"),
    pytest.param(["4.5.2026"], "dmy", id="dots"),
    pytest.param(["04/05/2026", "5-6-2026"], "", id="never-decided"),
    pytest.param(["18/03/2026", "03/18/2026"], "", id="decided-both-ways"),
    pytest.param(["2026-03-18", ""], "", id="standard"),
])  # fmt: skip
def test_order_of_day_and_month(days: list[str], order: str) -> None:
    assert day_order(days) == order


@pytest.mark.parametrize(("field", "cell", "column", "value"), [
    pytest.param("fix_time", "1.5", "Labour (h)", "1.5 h", id="unit-in-the-column"),
    pytest.param("fix_time", "1,5", "Hours", "1,5 h", id="decimal-comma"),
    pytest.param("fix_time", "45", "Labour (min)", "45", id="minutes"),
    pytest.param("fix_time", "45", "the bench", "45", id="h-within-a-word"),
    pytest.param("fix_time", "45 min", "Labour (h)", "45 min", id="unit-in-the-cell"),
    pytest.param("outcome", " NFF ", "x", "no fault found", id="no-fault"),
    pytest.param("outcome", "Repaired", "x", "fixed", id="repaired"),
    pytest.param("outcome", "sold", "x", "sold", id="something-else"),
    pytest.param("date", "8/3/2026", "x", "2026-03-08", id="day"),
    pytest.param("date", "18/03/2026 14:30", "x", "2026-03-18", id="day-and-time"),
    pytest.param("date", "2026-03-18", "x", "2026-03-18", id="standard"),
    pytest.param("symptom", "dead, clicking", "x", ["dead", "clicking"], id="list"),
    pytest.param("shelf", '{"bay": ["4"]}', "x", {"bay": ["4"]}, id="exported-mapping"),
    pytest.param("shelf", "[4", "x", "[4", id="only-a-bracket"),
    pytest.param("body", "[4]", "x", "[4]", id="body-is-text"),
])  # fmt: skip
def test_cell_is_read(field: str, cell: str, column: str, value: object) -> None:
    assert field_value(field, cell, column=column, order="dmy") == value


def test_undecided_day_is_left_to_be_reported() -> None:
    assert field_value("date", "04/05/2026", column="x", order="") == "04/05/2026"


items = st.text("abc ,;\"'", min_size=1, max_size=8).map(lambda text: " ".join(text.split())).filter(bool)


@given(st.lists(items, max_size=4))
@unhurried(200)
def test_list_in_a_cell_is_read_back(listed: list[str]) -> None:
    assert split_list(join_list(listed)) == listed
