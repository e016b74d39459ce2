"""The write-up form's boxes and the note's fields."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from werkzeug.datastructures import MultiDict

from kb.exchange.rows import split_list
from kb.notes.case import CaseNote
from kb.notes.family import FamilyNote
from kb.notes.models import with_family
from web.forms import note_form
from web.forms.note_form import CASE_FORM, joined

from ..conftest import CASES, FAMILY

BLANK = CASE_FORM.empty(date="2026-07-01", outcome="fixed")
NOTE = CaseNote.parse("---\n" + CASES["20260318-k7f2"], file="cases/2026/20260318-k7f2.md")
FAMILIES = [FamilyNote.parse(FAMILY, file="families/hv-l2.md")]
items = st.text(st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1, max_size=12)


@given(st.lists(items.map(str.strip).filter(bool), max_size=5))
def test_items_written_into_a_box_are_read_back(said: list[str]) -> None:
    assert split_list(joined(said)) == said


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("dead, clicking", ["dead", "clicking"], id="commas"),
        pytest.param("no power; clicks", ["no power", "clicks"], id="semicolons"),
        pytest.param("dead\nclicks, then stops\n", ["dead", "clicks, then stops"], id="lines-keep-commas"),
        pytest.param("clicks, then stops\n", ["clicks, then stops"], id="one-line-ended"),
        pytest.param(" , ,", [], id="nothing"),
    ],
)
def test_box_reads_items(text: str, expected: list[str]) -> None:
    assert split_list(text) == expected


def test_form_gives_back_the_note_it_shows() -> None:
    texts = CASE_FORM.texts_of(NOTE)
    fields = CASE_FORM.fields(texts)
    again = CaseNote.from_fields({**fields, "case": NOTE.case, "body": texts["body"]})
    assert again == NOTE.model_copy(update={"unknown": {}})


def test_form_untouched_changes_nothing() -> None:
    texts = CASE_FORM.texts_of(NOTE)
    assert CASE_FORM.changes(texts, CASE_FORM.unpack(json.dumps(texts))) == {}


def test_form_reports_only_what_was_typed_over() -> None:
    base = CASE_FORM.texts_of(NOTE)
    typed = {**base, "fix_time": "1 h", "proof": "", "symptom": "dead, hot"}
    assert CASE_FORM.changes(typed, base) == {
        "fix_time": "1 h",
        "proof": "",
        "symptom": ["dead", "hot"],
    }


@pytest.mark.parametrize("packed", ["", "[]", "{}", '{"complaint": 3}', "not json"])
def test_form_ignores_a_spoilt_hidden_field(packed: str) -> None:
    assert CASE_FORM.unpack(packed) == {}


def test_model_fills_family_device_and_make() -> None:
    texts = {**BLANK, "model": "hv 43l2"}
    filled = with_family(texts, FAMILIES)
    assert (filled["chassis_family"], filled["device"], filled["make"]) == ("HV-L2", "LED TV", "Halvern")
    assert filled["model"] == "hv 43l2"


def test_what_was_typed_is_not_overruled_by_the_family() -> None:
    texts = {**BLANK, "chassis_family": "HV-L2", "device": "television"}
    assert with_family(texts, FAMILIES)["device"] == "television"


def test_unknown_family_is_left_as_typed() -> None:
    texts = {**BLANK, "chassis_family": "ZZ-99"}
    assert with_family(texts, FAMILIES) == texts


def test_write_up_like_another_leaves_out_what_is_its_own() -> None:
    texts = {**BLANK, **CASE_FORM.texts_of(NOTE, note_form.COPIED_FIELDS)}
    assert texts["root_cause"] == "PFC MOSFET shorted"
    assert texts["parts"] == "Q801 20N60C3, R812 10R"
    assert (texts["date"], texts["outcome"]) == ("2026-07-01", "fixed")
    assert not any(texts[name] for name in ("complaint", "fix_time", "proof", "comeback_of", "tech", "body"))


def test_form_reads_boxes_of_cautions_and_line_ends() -> None:
    form = MultiDict([("caution", "mains"), ("caution", "hot"), ("body", "one\r\ntwo"), ("device", " TV ")])
    texts = CASE_FORM.typed(form)
    assert (texts["caution"], texts["body"], texts["device"]) == ("mains, hot", "one\ntwo", "TV")
