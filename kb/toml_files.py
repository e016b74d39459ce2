"""Read a TOML file that somebody else may have written, at a cost bounded by its size."""

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kb.errors import NoteError, Problem
from kb.files import read_file

LARGEST_TOML_BYTES = 500_000  # chosen by us: read in less than half a second (tests/web/hostile)
_MOST_DOTS = 100  # in one line; a key of so many parts takes long, and no text of a shop has as many
_PLACE = re.compile(r" ?\(at line (\d+), column \d+\)| ?\(at end of document\)")


@dataclass(frozen=True, kw_only=True)
class TomlFile:
    """Hold a file's name, its text and its values."""

    name: str
    text: str = ""
    values: dict[str, Any]

    def line_of(self, key: str) -> int:
        """Return the 1-based line on which a key first stands; 1 when it is not found."""
        found = re.search(rf"(?m)^[ \t\[\"']*{re.escape(key)}(?![\w-])", self.text)
        return self.text.count("\n", 0, found.start()) + 1 if found else 1

    def problem(self, field: str, found: str, remedy: str, *, line: int = 0) -> Problem:
        """Return a problem of one key. line: where it stands; 0 to look for the key."""
        return Problem(field, found, remedy, file=self.name, line=line or self.line_of(field))


def read_toml(path: Path, *, example: str, trusted: bool = False) -> TomlFile:
    """Return a file; an empty one where there is none.

    example: what to write instead of what is no TOML. trusted: it is our own file, of any size.
    Raises: NoteError naming file, line, trouble and remedy.
    """

    def error(line: int, found: str, remedy: str) -> NoteError:
        return NoteError.of("file", found, remedy, file=path.name, line=line)

    most = -1 if trusted else LARGEST_TOML_BYTES + 1
    try:
        raw = path.read_bytes() if trusted else read_file(path, within=path.parent, most=most)
    except FileNotFoundError:
        return TomlFile(name=path.name, values={})
    except OSError as trouble:
        why = trouble.strerror or trouble
        raise error(1, f"cannot be read ({why})", "make it a readable file") from trouble
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
