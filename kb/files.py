"""Read files that somebody else may have written, and write files that nobody else may read."""

import errno
import os
import re
import stat
import tomllib
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, TypeVar

from platformdirs import user_cache_path
from pydantic import AfterValidator, ConfigDict, Field, TypeAdapter, ValidationError

from kb.errors import NoteError, Problem, quoted

# Opening must neither block on a pipe, nor take over a terminal, nor follow a link.
# A system may lack any of these.
_WANTED = ("O_NONBLOCK", "O_NOCTTY", "O_NOFOLLOW", "O_BINARY")
_FLAGS = os.O_RDONLY | sum(getattr(os, name, 0) for name in _WANTED)

LARGEST_TOML_BYTES = 500_000  # chosen by us: read in less than half a second (tests/web/hostile)
_MOST_DOTS = 100  # in one line: parsing a key with more parts takes long, and no shop writes one
_PLACE = re.compile(r" ?\(at line (\d+), column \d+\)| ?\(at end of document\)")

Tidy = Annotated[str, AfterValidator(lambda text: " ".join(text.split()))]
Text = Annotated[Tidy, Field(min_length=1)]
Texts = Annotated[tuple[Text, ...], AfterValidator(lambda texts: tuple(dict.fromkeys(texts)))]
SomeTexts = Annotated[Texts, Field(min_length=1)]
Record = TypeVar("Record")


def cache_folder() -> Path:
    """Return this program's cache folder in the user's account, for what can be made again."""
    return user_cache_path("benchlore", appauthor=False)


def read_file(path: Path, *, within: Path | None = None, most: int = -1) -> bytes:
    """Return the first `most` bytes of a plain file, by default all. Raises: OSError.

    within: follow a link that stays inside this folder; without it no link is followed.
    """
    try:
        handle = os.open(path, _FLAGS)
    except OSError as error:
        if error.errno != errno.ELOOP or within is None:
            raise
        target = Path(os.path.realpath(path))
        if not target.is_relative_to(os.path.realpath(within)):
            raise OSError(errno.ELOOP, "a link that leads out of the notebook", str(path)) from None
        handle = os.open(target, _FLAGS)
    with os.fdopen(handle, "rb") as stream:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "not a plain file", str(path))
        return stream.read(most)


def read_private(path: Path) -> str:
    """Return the line that write_private() wrote, "" when the file is missing."""
    try:
        return read_file(path, most=1_000).decode("ascii", errors="replace").strip()
    except OSError:
        return ""


def write_private(path: Path, text: str) -> None:
    """Write one line of ASCII to a new file that its owner alone may read. Raises: OSError if it exists."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="ascii") as stream:
        stream.write(text + "\n")


@dataclass(frozen=True, kw_only=True)
class TomlFile:
    """Hold a TOML file: its name, its text and its values."""

    name: str
    text: str = ""
    values: dict[str, Any]

    def problem(self, key: str, found: str, remedy: str, *, first: int = 1, last: int = -1) -> Problem:
        """Return a problem of one key. first, last: the lines in which to look for the key."""
        begins = re.compile(rf"[ \t\[\"']*{re.escape(key)}(?![\w-])")
        lines = enumerate(f"{self.text}\n".split("\n")[first - 1 : last], first)
        line = next((number for number, line in lines if begins.match(line)), first)
        return Problem(key, found, remedy, file=self.name, line=line)


def own_toml(module: str, name: str) -> dict[str, Any]:
    """Return the values of a TOML file of this program. module: `__file__` of the module beside it."""
    return tomllib.loads(Path(module).with_name(name).read_text(encoding="utf-8"))


def read_records(
    path: Path, heading: str, kind: type[Record], *, example: str, trusted: bool
) -> tuple[Record, ...]:
    """Return the tables [[heading]] of a TOML file as records of a dataclass, `kind`. Raises: NoteError."""
    file, remedy = read_toml(path, example=example, trusted=trusted), f"write {example}"
    if other := next((key for key in file.values if key != heading), None):
        raise NoteError([file.problem(other, f"not a {heading}", remedy)])
    records: Any = TypeAdapter(tuple[kind, ...], config=ConfigDict(extra="forbid"))  # type: ignore[valid-type]
    try:
        return tuple(records.validate_python(file.values.get(heading, ())))
    except ValidationError as error:
        fault = error.errors(include_url=False)[0]
    number, key = (*fault["loc"], heading, heading)[:2]
    found = "missing" if fault["type"] == "missing" else quoted(fault["input"])
    if fault["type"] == "unexpected_keyword_argument":
        found, remedy = f"not a key of a {heading}", f"use only {', '.join(kind.__annotations__)}"
    elif fault["type"] == "string_type" and len(fault["loc"]) == 2:
        remedy = "write one text in quotes"
    elif len(fault["loc"]) > 2 or (fault["type"] == "tuple_type" and fault["loc"]):
        remedy = f'write a list of texts, {key} = ["one", "another"]'
    opened = re.compile(rf"\s*\[\[\s*{heading}\b")
    headings = [n for n, line in enumerate(file.text.split("\n"), 1) if opened.match(line)]
    ends = pairwise([*headings, file.text.count("\n") + 2])
    parts: dict[int | str, tuple[int, int]] = dict(enumerate(ends))
    first, after = parts.get(number, (1, 0))
    raise NoteError([file.problem(str(key), found, remedy, first=first, last=after - 1)])


def read_toml(path: Path, *, example: str, trusted: bool = False) -> TomlFile:
    """Return a TOML file, an empty one when it is missing. Raises: NoteError.

    example: what the error tells to write. trusted: a file of this program, read without limits.
    """

    def error(line: int, found: str, remedy: str) -> NoteError:
        return NoteError.of("file", found, remedy, file=path.name, line=line)

    most = -1 if trusted else LARGEST_TOML_BYTES + 1
    try:
        raw = path.read_bytes() if trusted else read_file(path, within=path.parent, most=most)
    except FileNotFoundError:
        return TomlFile(name=path.name, values={})
    except OSError as trouble:
        found = f"cannot be read ({trouble.strerror or trouble})"
        raise error(1, found, "make it a readable file") from trouble
    if len(raw) == most:
        found = f"larger than {LARGEST_TOML_BYTES:,} bytes"
        raise error(1, found, "make it shorter; until then it is left out")
    try:
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as trouble:
        line = raw.count(b"\n", 0, trouble.start) + 1
        raise error(line, "bytes that are not UTF-8", "save the file as UTF-8") from trouble
    dotted = next((n for n, line in enumerate(text.split("\n"), 1) if line.count(".") > _MOST_DOTS), None)
    if dotted:
        raise error(dotted, f"more than {_MOST_DOTS} dots in one line", f"write {example}")
    try:
        return TomlFile(name=path.name, text=text, values=tomllib.loads(text))
    except tomllib.TOMLDecodeError as trouble:
        place = _PLACE.search(str(trouble))
        line = int(place[1]) if place and place[1] else text.rstrip().count("\n") + 1
        found = f"not TOML ({_PLACE.sub('', str(trouble))})"
        raise error(line, found, f"write {example}") from trouble
    except (RecursionError, ValueError) as trouble:  # a number of thousands of digits is a ValueError
        raise error(1, "brackets nested too deeply, or a number too long", f"write {example}") from trouble
