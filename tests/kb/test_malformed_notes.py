"""Notes with something wrong in them: what is said about them stands in malformed_notes.md."""

import re
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.errors import NoteError, Problem
from kb.notes.case import CASE_FIELDS
from kb.notes.frontmatter import decode_note
from kb.storage.writing import kind_of
from tests.kb.made_up_notes import CASE_PATH, CASE_TEXT, texts, unhurried

FIXTURE = Path(__file__).with_name("malformed_notes.md")
PART = re.compile(
    r"^## (?P<title>.+)\n\n~~~ (?P<file>\S+)\n(?P<note>(?s:.*?))~~~\n\n"
    r"~~~ problems\n(?P<problems>(?s:.*?))~~~$",
    re.M,
)


class Part(NamedTuple):
    title: str
    file: str
    note: str
    problems: list[str]


def read_parts() -> list[Part]:
    def unescaped(text: str) -> str:
        return text.replace("\\t", "\t").replace("\\x07", "\x07")

    found = PART.finditer(FIXTURE.read_text(encoding="utf-8"))
    return [Part(m["title"], m["file"], unescaped(m["note"]), m["problems"].splitlines()) for m in found]


def problems_in(data: bytes, file: str) -> tuple[Problem, ...]:
    parse = kind_of(file).parse
    try:
        parse(decode_note(data, file=file), file=file)
    except NoteError as error:
        return error.problems
    return ()


def test_fixture_is_read_whole() -> None:
    assert len(read_parts()) == FIXTURE.read_text(encoding="utf-8").count("\n## ") >= 30


@pytest.mark.parametrize(
    "part", [pytest.param(part, id=part.title.replace(" ", "-")) for part in read_parts()]
)
def test_note_is_reported(part: Part) -> None:
    assert [str(problem) for problem in problems_in(part.note.encode("utf-8"), part.file)] == part.problems


def test_note_without_trouble_has_no_problems() -> None:
    assert problems_in(CASE_TEXT.encode("utf-8"), CASE_PATH) == ()


def test_bytes_that_are_not_utf8_are_reported_line_by_line() -> None:
    data = CASE_TEXT.encode("utf-8").replace(b"LED TV", b"L\xc9D TV").replace(b"Bulb", b"B\xfclb")
    found = problems_in(data, CASE_PATH)
    assert [problem.line for problem in found] == [4, 18]
    assert "byte c9 is not UTF-8" in found[0].found
    assert found[0].remedy == "save the note as UTF-8"


# Ways to spoil a good note, each so that a reader cannot take it for a good one.
HARM = {
    "case": ["20260318-koll", "7", "[a, b]", "{a: b}"],
    "date": ["2026-02-30", "yesterday", "18.3.26", "", "[2026-03-18]"],
    "device": ["", "[LED TV, radio]", "{a: b}", "a: b", "@ bench", "'open"],
    "chassis_family": ["", "[HV-L2]", "*", "`HV`"],
    "symptom": ["", "[]", "[dead", "{dead: 1}", "[{a: b}]", "a: b"],
    "root_cause": ["", "[a]", "Q801: shorted", "> 3 ohm", "%", "\"Q801\" shorted"],
    "fix_time": ["", "soon", "1:75", "-5", "99999", "[5]"],
    "check_time": ["later", "1:60", "[5]"],
    "blinks": ["2-3", "0", "often", "[3, 4]", "1000"],
    "outcome": ["", "mended", "[fixed]", "fixed!"],
    "caution": ["{mains: yes}", "[[a]]", "[a"],
}  # fmt: skip


@given(harm=st.sampled_from([(key, bad) for key, values in HARM.items() for bad in values]), data=st.data())
@unhurried(200)
def test_spoilt_field_is_reported_with_its_line(harm: tuple[str, str], data: st.DataObject) -> None:
    key, bad = harm
    lines = CASE_TEXT.split("\n")
    place = next(n for n, line in enumerate(lines) if line.startswith(f"{key}:"))
    lines[place] = f"{key}: {bad}".rstrip()
    more = st.sampled_from(["# a remark", "shelf: B4", "", "loan: [ladder, lamp]"])
    for line in data.draw(st.lists(more, unique=True)):
        lines.insert(1, line)
        place += 1
    found = problems_in("\n".join(lines).encode("utf-8"), CASE_PATH)
    assert (place + 1, key) in [(problem.line, problem.field) for problem in found]
    assert all(problem.found and problem.remedy for problem in found)


@given(data=st.data())
@unhurried(200)
def test_note_cut_or_scrambled_never_crashes_a_read(data: st.DataObject) -> None:
    whole = CASE_TEXT.encode("utf-8")
    fence = whole.index(b"\n---\n") + 1
    kind = data.draw(st.sampled_from(["cut", "bytes", "swap", "insert"]))
    at = data.draw(st.integers(0, fence - 1))
    if kind == "cut":
        spoilt = whole[:at]
    elif kind == "bytes":
        spoilt = whole[:at] + data.draw(st.binary(min_size=1, max_size=8)) + whole[at:]
    elif kind == "insert":
        spoilt = whole[:at] + data.draw(texts).encode("utf-8") + whole[at:]
    else:
        to = data.draw(st.integers(at, fence))
        spoilt = whole[to:] + whole[at:to] + whole[:at]
    found = problems_in(spoilt, CASE_PATH)
    count = spoilt.count(b"\n") + spoilt.count(b"\r") + 1
    assert all(1 <= problem.line <= count and problem.found and problem.remedy for problem in found)
    if kind == "cut":
        assert found


SCRAPS = st.sampled_from(
    ["---", "- a", "a: b", "\t", "x: [", "&a", "*a", "? b", ": c", "'", '"', "|", ">", "{", "}", "!!t", "%Y",
     "#", "date: 1", *CASE_FIELDS]
)  # fmt: skip


@given(st.text(max_size=200) | st.lists(SCRAPS).map("\n".join))
@unhurried(200)
def test_anything_at_all_is_reported(text: str) -> None:
    for file in (CASE_PATH, "families/hv-l2.md"):
        try:
            data = f"---\n{text}\n---\n".encode()
        except UnicodeEncodeError:
            data = text.encode("utf-8", errors="surrogatepass")
        found = problems_in(data, file)
        assert found
        assert all(problem.file == file and problem.line >= 1 for problem in found)
        assert found == tuple(sorted(found, key=lambda problem: problem.line))
