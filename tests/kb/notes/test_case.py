"""Case notes: read, written, and built from a form's fields."""

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.errors import NoteError
from kb.notes.blinks import BlinkPattern
from kb.notes.case import CASE_FIELDS, REQUIRED_CASE_FIELDS, CaseNote, Outcome
from tests.kb.made_up_notes import CASE_ID, CASE_PATH, CASE_TEXT, cases, new_case, unhurried


def test_case_is_read() -> None:
    note = CaseNote.parse(CASE_TEXT, file=CASE_PATH)
    assert note.case == CASE_ID
    assert note.date == datetime.date(2026, 3, 18)
    assert note.symptom == ("dead", "blinking standby light")
    assert note.blinks == BlinkPattern.parse("3 or 4")
    assert (note.check_time_min, note.fix_time_min) == (6, 55)
    assert note.parts == ("Q801 20N60C3", "R812 10R")
    assert note.outcome is Outcome.FIXED
    assert note.caution == ("mains", "stored charge")
    assert (note.model, note.comeback_of, note.unknown) == ("", "", {})
    assert note.body == "Bulb limiter lit fully, then not at all."


def test_case_in_canonical_spelling_is_written_as_it_stands() -> None:
    assert CaseNote.parse(CASE_TEXT, file=CASE_PATH).as_text() == CASE_TEXT


def test_one_text_counts_as_a_list_of_one() -> None:
    assert new_case(symptom="dead, with a hum", caution="Mains").symptom == ("dead, with a hum",)


@pytest.mark.parametrize(
    ("said", "outcome"),
    [("Fixed", Outcome.FIXED), ("NOT FIXED", Outcome.NOT_FIXED), ("not_economic", Outcome.NOT_ECONOMIC),
     ("No  fault found", Outcome.NO_FAULT_FOUND)],
)  # fmt: skip
def test_outcome_forgives_capitals_and_blanks(said: str, outcome: Outcome) -> None:
    assert new_case(outcome=said).outcome is outcome


def test_caution_is_kept_in_small_letters_once() -> None:
    assert new_case(caution=["Mains", "mains", "Stored Charge"]).caution == ("mains", "stored charge")


@pytest.mark.parametrize("said", ["none", "No", "-", "n/a", ""])
def test_no_blinks(said: str) -> None:
    assert new_case(blinks=said).blinks is None


def test_unknown_fields_are_kept() -> None:
    text = CASE_TEXT.replace("tech: RK\n", "tech: RK\nshelf: B4\nloan: {set: [spare, remote]}\n")
    note = CaseNote.parse(text, file=CASE_PATH)
    assert note.unknown == {"shelf": "B4", "loan": {"set": ["spare", "remote"]}}
    assert CaseNote.parse(note.as_text(), file=CASE_PATH) == note


def test_json_values_become_texts() -> None:
    note = new_case(fix_time=55, shelf=4, loan=True, weight=12.5, seal=None)
    assert note.fix_time_min == 55
    assert note.unknown == {"shelf": "4", "loan": "true", "weight": "12.5", "seal": ""}


def test_body_may_come_among_the_fields() -> None:
    assert new_case(body="\n\nseen\r\nand heard\n\n").body == "seen\nand heard"


def test_every_fault_of_a_form_is_told_at_once() -> None:
    with pytest.raises(NoteError) as caught:
        CaseNote.from_fields({"fix_time": "soon", "device": ["a"], "shelf": "\x01", "complaint": True})
    fields = {problem.field for problem in caught.value.problems}
    assert fields == {*REQUIRED_CASE_FIELDS, "shelf", "complaint"} - {"case"}
    assert all(
        problem.line == 0 and str(problem).startswith(problem.field) for problem in caught.value.problems
    )


@pytest.mark.parametrize("key", REQUIRED_CASE_FIELDS)
def test_required_field_is_missed(key: str) -> None:
    text = "".join(line for line in CASE_TEXT.splitlines(True) if not line.startswith(f"{key}:"))
    with pytest.raises(NoteError) as caught:
        CaseNote.parse(text, file=CASE_PATH)
    assert [(problem.field, problem.found) for problem in caught.value.problems] == [(key, "nothing")]


@pytest.mark.parametrize("surrogate", ["\ud800", "a\udfffb"])
def test_text_that_cannot_be_saved_is_refused(surrogate: str) -> None:
    with pytest.raises(NoteError, match="delete the control character"):
        new_case(complaint=surrogate)


def test_empty_fields_are_left_out() -> None:
    assert list(new_case().as_fields()) == [key for key in REQUIRED_CASE_FIELDS if key != "case"]


@given(cases)
@unhurried(150)
def test_case_written_is_read_back(note: CaseNote) -> None:
    assert CaseNote.parse(note.as_text(), file=f"cases/2026/{note.case}.md") == note


@given(cases)
@unhurried(60)
def test_case_taken_apart_is_put_together_again(note: CaseNote) -> None:
    assert CaseNote.from_fields({**note.as_fields(), "body": note.body}) == note


@given(cases, st.sampled_from(["\n", "\r\n", "\r"]), st.sampled_from(["", "\ufeff"]))
@unhurried(60)
def test_line_ends_do_not_matter(note: CaseNote, newline: str, mark: str) -> None:
    text = mark + note.as_text().replace("\n", newline)
    assert CaseNote.parse(text, file=f"{note.case}.md") == note


def test_fields_are_all_there() -> None:
    assert {"check_time_min" if key == "check_time" else "fix_time_min" if key == "fix_time" else key
            for key in CASE_FIELDS} | {"body", "unknown"} == set(CaseNote.model_fields)  # fmt: skip
