"""How trouble is told."""

import pickle

from kb.errors import BenchloreError, NoteError, Problem, quoted


def problem(line: int, file: str = "cases/a.md") -> Problem:
    return Problem(file=file, line=line, field="date", found='"soon"', remedy="write the day as 2026-03-18")


def test_problem_is_one_line() -> None:
    assert str(problem(3)) == 'cases/a.md:3: date: "soon"; write the day as 2026-03-18'
    assert str(problem(0, file="")) == 'date: "soon"; write the day as 2026-03-18'


def test_note_error_tells_every_problem_by_line() -> None:
    error = NoteError([problem(9), problem(2)])
    assert [found.line for found in error.problems] == [2, 9]
    assert str(error).count("\n") == 1
    assert isinstance(error, BenchloreError)


def test_note_error_passes_between_processes() -> None:
    assert pickle.loads(pickle.dumps(NoteError([problem(2)]))).problems == (problem(2),)


def test_quoted_is_short_and_on_one_line() -> None:
    assert quoted("a\n b") == '"a b"'
    assert quoted("x" * 100) == '"' + "x" * 57 + '..."'
