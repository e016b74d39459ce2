"""Changing single fields: what is not asked for stays byte for byte."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.case import CASE_FIELDS, CaseNote
from kb.notes.frontmatter import split
from kb.storage.editing import edit_fields, replace_body
from tests.kb.made_up_notes import CASE_TEXT, cases, texts, unhurried

COMMENTED = """---
# written at the bench
case:   20260318-k7f2
symptom:          # as the owner tells it
  - dead          # since teatime
  # then:
  - 'clicking'
shelf: "B4"       # ours

root_cause: >-
  PFC MOSFET
  shorted
fix_time:  0:55   # by the clock
parts: [ Q801,
   # a good one
   R812 ]         # stock
outcome: fixed
tech:
# the end
---
body  \n"""


@pytest.mark.parametrize(("changes", "lines"), [
    pytest.param({"fix_time": "1 h"}, {"fix_time:  0:55   # by the clock": "fix_time:  1 h   # by the clock"},
                 id="comment-behind-a-value"),
    pytest.param({"shelf": "it's"}, {'shelf: "B4"       # ours': "shelf: it's       # ours"}, id="unknown"),
    pytest.param({"tech": "RK"}, {"tech:": "tech: RK"}, id="empty-field-filled"),
    pytest.param({"outcome": ""}, {"outcome: fixed": "outcome:"}, id="field-emptied"),
    pytest.param({"outcome": None}, {"outcome: fixed": None}, id="line-taken-out"),
    pytest.param({"root_cause": "a: b"}, {"root_cause: >-\n  PFC MOSFET\n  shorted": "root_cause: 'a: b'"},
                 id="block-replaced"),
    pytest.param({"symptom": ["dead", "hum"]}, {"  - 'clicking'": "  - hum"}, id="item-replaced"),
    pytest.param({"symptom": ["dead", "hum", "clicking"]}, {"  # then:": "  # then:\n  - hum"}, id="between"),
    pytest.param({"symptom": ["clicking"]}, {"  - dead          # since teatime\n": ""}, id="item-taken-out"),
    pytest.param({"device": "LED TV"}, {"symptom:  ": "device: LED TV\nsymptom:  "}, id="new-field"),
    pytest.param({"case": "20260318-k7f2", "model": "", "bin": None}, {}, id="nothing-to-do"),
])  # fmt: skip
def test_change_touches_its_own_lines(changes: dict[str, object], lines: dict[str, str | None]) -> None:
    expected = COMMENTED
    for old, new in lines.items():
        assert old in expected
        expected = expected.replace(f"{old}\n", "") if new is None else expected.replace(old, new, 1)
    assert edit_fields(COMMENTED, changes, order=CASE_FIELDS) == expected


def test_remarks_within_a_replaced_list_are_kept() -> None:
    edited = edit_fields(COMMENTED, {"parts": ["F801"], "symptom": "hum"}, order=CASE_FIELDS)
    assert "# a good one\n" in edited
    assert "# then:\n" in edited
    assert "parts: [F801]         # stock\n" in edited


def test_carriage_returns_stay_and_are_used() -> None:
    text = COMMENTED.replace("\n", "\r\n")
    edited = edit_fields(text, {"fix_time": "1 h", "device": "LED TV", "root_cause": "x"}, order=CASE_FIELDS)
    assert edited.count("\n") == edited.count("\r\n")
    assert "device: LED TV\r\n" in edited
    assert replace_body(text, "one\ntwo").endswith("# the end\r\n---\r\none\r\ntwo\r\n")


def test_body_is_replaced_and_the_head_stays() -> None:
    head = COMMENTED.removesuffix("body  \n")
    assert replace_body(COMMENTED, "other") == f"{head}other\n"
    assert replace_body(COMMENTED, "") == head
    assert replace_body(head.removesuffix("\n"), "other") == f"{head}other\n"


@given(cases, st.data())
@unhurried(100)
def test_any_field_of_any_case_can_be_changed_alone(note: CaseNote, data: st.DataObject) -> None:
    text = note.as_text()
    key = data.draw(st.sampled_from([*CASE_FIELDS, *note.unknown, "a new one"]))
    value = data.draw(texts | st.lists(texts, max_size=3))
    before = {name: entry.value for name, entry in split(text, file="").entries.items()}
    edited = split(edit_fields(text, {key: value}, order=CASE_FIELDS), file="")
    after = {name: entry.value for name, entry in edited.entries.items()}
    assert (after.pop(key, "") or "") == (value or "")
    before.pop(key, None)
    assert after == before
    assert edited.body == split(text, file="").body


@given(cases)
@unhurried(50)
def test_saying_the_same_changes_nothing(note: CaseNote) -> None:
    text = note.as_text()
    assert edit_fields(text, note.as_fields(), order=CASE_FIELDS) == text


STYLES = [
    "tech: 'RK'", "tech: RK # me", "tech:", "tech: |\n  RK\n  JS", 'tech: "R\\\n  K"', "tech: R\n  K",
    "tech: [R,\n  K] # x", "tech: {a: 1}", "tech:\n- R\n- K", "tech:\n\n  RK", "tech: ''", '"tech": RK',
    "tech: >-\n\n  RK\n\n", "tech: # x\n  RK", "tech  : RK", "? tech\n: RK",
]  # fmt: skip


@pytest.mark.parametrize("style", STYLES)
@given(value=texts | st.lists(texts, max_size=3))
@unhurried(30)
def test_every_style_of_yaml_can_be_changed(style: str, value: str | list[str]) -> None:
    text = CASE_TEXT.replace("tech: RK", f"{style}\n# behind\nshelf: B4")
    edited = edit_fields(text, {"tech": value}, order=CASE_FIELDS)
    entries = split(edited, file="").entries
    assert (entries["tech"].value if "tech" in entries else "") == (value or "")
    assert entries["shelf"].value == "B4"
    assert "# behind\nshelf: B4\n" in edited
    assert edited.startswith(CASE_TEXT.partition("tech:")[0])
