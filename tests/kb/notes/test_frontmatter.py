"""Splitting a note: values as they were typed, with their lines."""

import pytest

from kb.errors import NoteError
from kb.notes.frontmatter import decode_note, split


def values(head: str) -> dict[str, object]:
    front = split(f"---\n{head}\n---\n", file="n.md")
    assert not front.problems
    return {name: entry.value for name, entry in front.entries.items()}


# YAML 1.1 would take these for truth values, base 60 and octal numbers, nothing, days and fractions (from
# memory): https://yaml.org/type/bool.html and, beside it, int.html, null.html, timestamp.html, float.html
@pytest.mark.parametrize(
    "typed",
    [
        "no",
        "Yes",
        "on",
        "off",
        "y",
        "1:20",
        "012",
        "0x1F",
        "1_000",
        "~",
        "null",
        "2026-03-18",
        "1e3",
        ".inf",
        "=",
    ],
)
def test_value_stays_what_was_typed(typed: str) -> None:
    assert values(f"a: {typed}\nb: [{typed}]") == {"a": typed, "b": [typed]}


def test_parts_of_a_note_and_their_lines() -> None:
    front = split("---\n# a remark\na: 1\n\nb:\n  - x\n---\n\nbody\n---\nmore\n", file="n.md")
    assert {name: (entry.value, entry.line) for name, entry in front.entries.items()} == {
        "a": ("1", 3),
        "b": (["x"], 5),
    }
    assert front.body == "\nbody\n---\nmore\n"
    assert front.body_line == 8


def test_byte_order_mark_and_carriage_returns_are_accepted() -> None:
    text = decode_note("\ufeff---\r\na: é\r\n---\r\nbody\r\n".encode(), file="n.md")
    front = split(text, file="n.md")
    assert front.entries["a"].value == "é"
    assert front.body == "body\n"
    assert not front.problems


def test_blank_lines_before_the_first_fence_are_accepted() -> None:
    assert split("\n\n---\na: 1\n---\n", file="n.md").entries["a"].line == 4


def test_old_carriage_returns_count_as_lines() -> None:
    assert split("---\ra: 1\r---\rbody", file="n.md").entries["a"].line == 2


def test_every_line_with_bad_bytes_is_reported() -> None:
    with pytest.raises(NoteError) as caught:
        decode_note(b"---\r\na: \xff\r\n---\r\nok\r\n\xfe\xfe\r\n", file="n.md")
    assert [(problem.line, problem.found[:7]) for problem in caught.value.problems] == [
        (2, "byte ff"),
        (5, "byte fe"),
    ]


def test_alias_within_itself_does_not_hang() -> None:
    front = split("---\na: &x [*x]\nb: &y [1, 2]\nc: [*y, *y]\n---\n", file="n.md")
    assert {problem.field for problem in front.problems} == {"a", "c"}


@pytest.mark.parametrize("depth", [30, 3000])
def test_deep_nesting_is_reported_with_its_line(depth: int) -> None:
    front = split(f"---\na: 1\nb: {'[' * depth}{']' * depth}\n---\n", file="n.md")
    assert [(problem.line, problem.field) for problem in front.problems] == [(3, "b")]
    assert front.entries["a"].value == "1"


def test_one_bad_field_does_not_hide_the_others() -> None:
    front = split("---\na: 1\nb: c: d\ne: [x\nf: 2\n---\n", file="n.md")
    assert {name: entry.value for name, entry in front.entries.items()} == {"a": "1", "f": "2"}
    assert front.broken == {"b", "e"}
    assert [problem.line for problem in front.problems] == [3, 4]


def test_control_character_in_the_body_is_reported() -> None:
    front = split("---\na: 1\n---\nok\nbell \x07\n", file="n.md")
    assert [(problem.line, problem.field) for problem in front.problems] == [(5, "note")]
