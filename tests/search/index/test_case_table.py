"""Check the columns against the notes they come from."""

import datetime
import math
from typing import Any

import numpy as np
import pytest

from kb.notes.blinks import BlinkPattern
from kb.notes.case import CaseNote
from search.index.case_table import CaseTable
from search.index.documents import case_documents, cause_key, read_documents
from search.index.rows import join_rows, rows_of, unpack_rows
from search.reading.concepts import ConceptFinder, default_finder
from tests.search.tables import documents_from_cases, table_from_cases, table_of


def case(number: int, **fields: Any) -> CaseNote:
    """Return a case with some fields of its own."""
    return CaseNote.from_fields(
        {
            "case": f"202401{number:02d}-{number:04d}",
            "date": f"2024-01-{number:02d}",
            "device": "LED TV",
            "chassis_family": "HV-L2",
            "symptom": ["dead"],
            "root_cause": "PFC MOSFET shorted",
            "fix_time": "40 min",
            "outcome": "fixed",
            **fields,
        }
    )


@pytest.fixture
def cases() -> list[CaseNote]:
    return [
        case(1, make="Halvern", board="power supply", blinks="3 or 4", check_time="6 min"),
        case(2, root_cause="shorted PFC MOSFET", outcome="not fixed", model="HV-43L2"),
        case(3, make="Ostrel", device="monitor", chassis_family="OS-K5", root_cause="open LED strip"),
        case(4, root_cause="Shorted PFC MOSFET", blinks="6", comeback_of="20240101-0001", fix_time="1:20"),
        case(5, root_cause="open LED strip", make="Halvern", blinks="6"),
    ]


def test_columns_say_what_the_notes_say(cases: list[CaseNote]) -> None:
    table = table_from_cases(cases)
    assert table.size == 5
    assert table.ids == [note.case for note in cases]
    for row, note in enumerate(cases):
        assert table.note(row) == note
        assert table.date_days[row] == (note.date - datetime.date(1970, 1, 1)).days
        assert table.fix_time_min[row] == note.fix_time_min
        code = table.blink_code[row]
        assert (table.blink_patterns[code] if code >= 0 else None) == note.blinks
        assert table.comeback_of[row] == note.comeback_of
        for name in ("make", "device", "model", "board", "outcome"):
            code = getattr(table, name)[row]
            assert (getattr(table, f"{name}_names")[code] if code >= 0 else "") == getattr(note, name)
        assert table.family_names[table.family[row]] == note.chassis_family
    assert table.check_time_min[0] == 6
    assert all(math.isnan(minutes) for minutes in table.check_time_min[1:])
    assert table.readable.all()
    assert table.family.dtype == np.int32


def test_equal_blink_patterns_share_a_code(cases: list[CaseNote]) -> None:
    table = table_from_cases(cases)
    assert table.blink_code.tolist() == [0, -1, -1, 1, 1]
    assert table.blink_patterns == [BlinkPattern.parse("3 or 4"), BlinkPattern.parse("6")]


def test_causes_in_the_same_words_are_one_cause(cases: list[CaseNote]) -> None:
    table = table_from_cases(cases)
    assert len(table.cause_keys) == len(table.cause_names) == 2
    assert table.cause[0] == table.cause[1] == table.cause[3]
    assert table.cause[2] == table.cause[4] != table.cause[0]


@pytest.mark.parametrize(
    ("spellings", "name"),
    [
        pytest.param(["fan seized", "seized fan", "fan seized"], "fan seized", id="the-most-common"),
        pytest.param(["fan seized", "fan seized", "seized fan"], "fan seized", id="not-the-newest-alone"),
        pytest.param(["fan seized", "seized fan"], "seized fan", id="the-newest-of-a-tie"),
        pytest.param(["Seized fan", "Fan seized", "the fan seized"], "the fan seized", id="of-three"),
    ],
)
def test_a_cause_is_called_what_it_is_mostly_called(spellings: list[str], name: str) -> None:
    table = table_from_cases([case(day, root_cause=text) for day, text in enumerate(spellings, start=1)])
    assert table.cause_names == [name]
    assert set(table.cause.tolist()) == {0}


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        pytest.param("PFC MOSFET shorted", "shorted PFC MOSFETs", True, id="order-and-ending"),
        pytest.param("Fan seized", "the fan has seized", True, id="small-words"),
        pytest.param("Fan seized", "fan seized, fan worn", False, id="a-word-more"),
        pytest.param("12 V rectifier shorted", "12V rectifier shorted", True, id="unit-spaced"),
        pytest.param("LED strip 1 open", "LED strip 2 open", False, id="another-number"),
        pytest.param("?!", "?!", True, id="nothing-to-compare-by"),
        pytest.param("?!", "!!", False, id="nothing-in-common"),
    ],
)
def test_cause_key_compares_words_without_order(one: str, other: str, same: bool) -> None:
    finder = default_finder()
    assert (cause_key(one, finder) == cause_key(other, finder)) is same


def test_dead_rows_say_nothing_and_name_nothing(cases: list[CaseNote]) -> None:
    rows = rows_of(documents_from_cases(cases))
    table = CaseTable([rows], np.array([True, True, False, True, False]))
    assert table.size == 5
    assert table.cause_names == ["Shorted PFC MOSFET"]  # each spelling once: the newest
    assert table.family_names == ["HV-L2"]
    assert table.family.tolist() == [0, 0, -1, 0, -1]
    assert sorted(table.row_of.values()) == [0, 1, 3]


def test_comebacks_point_to_the_row_of_the_earlier_case(cases: list[CaseNote]) -> None:
    lost = case(6, comeback_of="20200101-none")
    assert table_from_cases([*cases, lost]).comeback_row.tolist() == [-1, -1, -1, 0, -1, -1]


def test_segments_joined_are_the_same_table(cases: list[CaseNote]) -> None:
    whole = table_from_cases(cases)
    parts = [rows_of(documents_from_cases(cases[:2])), rows_of(documents_from_cases(cases[2:]))]
    packed = [unpack_rows(rows.pack()) for rows in parts]
    for table in (CaseTable(packed), CaseTable([join_rows(packed)]), CaseTable([join_rows(parts)])):
        for name in ("ids", "cause_names", "cause_keys", "family_names", "blink_patterns", "comeback_of"):
            assert getattr(table, name) == getattr(whole, name)
        for name in ("cause", "family", "make", "outcome", "date_days", "fix_time_min"):
            assert getattr(table, name).tolist() == getattr(whole, name).tolist()
        assert [table.note(row) for row in range(5)] == cases


def test_rows_taken_are_the_rows_asked_for(cases: list[CaseNote]) -> None:
    vectors = np.arange(5 * 256, dtype=np.float16).reshape(5, 256)
    keep = np.array([False, True, False, True, True])
    taken = rows_of(documents_from_cases(cases), vectors).take(keep)
    table = CaseTable([unpack_rows(taken.pack())])
    assert [table.note(row) for row in range(3)] == [cases[1], cases[3], cases[4]]
    assert taken.vectors is not None
    assert taken.vectors.tolist() == vectors[keep].tolist()
    wanted = rows_of(documents_from_cases([cases[1], cases[3], cases[4]]))
    for row in range(3):
        words = [taken.word_names[code] for code in taken.words.row(row).tolist()]
        assert words == [wanted.word_names[code] for code in wanted.words.row(row).tolist()]


def test_an_empty_table_has_nothing() -> None:
    table = table_from_cases([])
    assert (table.size, table.ids, table.cause_names, table.blink_patterns) == (0, [], [], [])
    assert table.comeback_row.tolist() == []
    assert CaseTable([]).size == 0


@pytest.fixture
def finder() -> ConceptFinder:
    return default_finder()


def test_a_bad_note_is_a_row_of_words(finder: ConceptFinder) -> None:
    bad = "cases/2024/20240203-bad0.md", b"---\ndate: never\n---\nblue smoke\xff\n", (0, 0)
    (document,) = read_documents([bad], finder)
    table = table_of([document, *case_documents([case(1)], finder)])
    assert table.readable.tolist() == [False, True]
    assert (table.ids[0], table.cause[0], table.outcome[0]) == ("20240203-bad0", -1, -1)
    assert table.date_days[0] == (datetime.date(2024, 2, 3) - datetime.date(1970, 1, 1)).days
    assert math.isnan(table.fix_time_min[0])
    note = table.note(0)
    assert (note.case, note.device, note.symptom, note.blinks) == ("20240203-bad0", "", (), None)
    assert "blue smoke" in note.body
    assert "smoke" in document.terms["body"]
    assert table.cause_names == ["PFC MOSFET shorted"]


def test_every_text_of_a_note_can_be_searched(finder: ConceptFinder) -> None:
    note = case(
        1,
        complaint="aword",
        symptom=["bword"],
        root_cause="cword",
        fix="dword",
        parts=["eword"],
        board="fword",
        check="gword",
        proof="hword",
        make="iword",
        model="jword",
        shelf={"where": ["kword"]},
        body="lword",
    )
    terms = case_documents([note], finder)[0].terms
    wanted = {"complaint": "ab", "cause": "c", "fix": "defg", "body": "hijkl"}
    for field, letters in wanted.items():
        assert {f"{letter}word" for letter in letters} <= set(terms[field])


def test_phrases_do_not_run_from_one_field_into_the_next(finder: ConceptFinder) -> None:
    whole = case(1, complaint="it has no power", symptom=["x-ray"])
    notes = [case(1, complaint="it has no", symptom=["power"]), whole]
    apart, together = (document.terms["complaint"] for document in case_documents(notes, finder))
    assert "=no power" in together
    assert "=no power" not in apart
