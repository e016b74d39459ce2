"""The errors a notebook can raise, each able to say where the trouble is and what to write instead."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

_LONGEST_QUOTE = 60  # chosen by us: enough to find the place, short enough for one line of a terminal


class BenchloreError(Exception):
    """Base class of the errors whose message is meant for a technician."""


@dataclass(frozen=True)
class Problem:
    """Say what is wrong at one place of one note."""

    field: str  # name in the front matter, or "note" when the whole note is meant
    found: str  # what stands there
    remedy: str  # what to write instead
    file: str = ""  # path relative to the notebook, "" when the fields did not come from a file
    line: int = 0  # 1-based; 0 when there is no file

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}: " if self.file else ""
        return f"{place}{printable(self.field)}: {self.found}; {self.remedy}"


class NoteError(BenchloreError):
    """List every problem of one file."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(sorted(problems, key=lambda p: (p.file, p.line)))
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n".join(map(str, self.problems))

    @classmethod
    def of(cls, field: str, found: str, remedy: str, *, file: str = "", line: int = 0) -> Self:
        """Return the error of a single problem."""
        return cls([Problem(field, found, remedy, file=file, line=line)])


class NotebookError(BenchloreError):
    """A folder cannot be opened as a notebook; the message says what to do."""


def printable(text: str) -> str:
    """Return a text with every character that cannot be shown escaped as in Python."""
    return "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in text)


def quoted(value: object) -> str:
    """Return a value as messages show it: in quotes, on one line, shortened when long."""
    text = printable(" ".join(str(value).split()))
    if len(text) > _LONGEST_QUOTE:
        text = text[: _LONGEST_QUOTE - 3].rstrip() + "..."
    return f'"{text}"'


def say_count(number: int, one: str, many: str = "") -> str:
    """Say a number of things: "1 case", "1,200 cases"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"
