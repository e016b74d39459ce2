"""Split a note into its fields and its body, every value as the text that was typed, with its line.

YAML is read without any guess at types: `no`, `1:20` and `012` stay what they are.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import yaml

from kb.errors import NoteError, Problem, quoted

Value = str | list["Value"] | dict[str, "Value"]

_FENCE = re.compile(r"---[ \t]*")
_FIELD_LINE = re.compile(r"[^\s:#][^:]*:(?:\s|$)|\s+\S|- |-$|#")
_KEY = re.compile(r"([\w .-]+?)[ \t]*:(?:[ \t]+(.*))?$")
_SWALLOWED = re.compile(r"[ \t]+#[^ \t#]")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
# In the front matter YAML takes these for ends of lines as well, where an editor and git see none.
_CONTROL_IN_HEAD = re.compile(CONTROL.pattern[:-1] + "\x85\u2028\u2029]")
_MOST_PROBLEMS, DEEPEST = 200, 20  # chosen by us: no note has more, or nests further (test_frontmatter)


@dataclass(frozen=True, kw_only=True)
class Entry:
    """Hold one field of the front matter."""

    value: Value
    line: int  # that it starts on, 1-based


@dataclass(frozen=True, kw_only=True)
class FrontMatter:
    """Hold a note taken apart."""

    entries: dict[str, Entry]  # fields in the order they stand
    body: str  # everything after the closing line
    body_line: int  # that the body starts on, 1-based
    problems: tuple[Problem, ...]  # whatever could not be read; entries hold the rest
    broken: frozenset[str]  # names of fields that are there but could not be read
    complete: bool  # False without an end: a field that seems missing may only stand elsewhere


def decode_note(data: bytes, *, file: str) -> str:
    """Return the text of a note's bytes: UTF-8, a byte order mark and CRLF accepted.

    Raises: NoteError with one problem for every line that holds bytes which are not UTF-8.
    """
    try:
        return data.decode("utf-8").removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError:
        lines = re.split(rb"\r\n|\r|\n", data)
    problems = []
    for number, line in enumerate(lines, start=1):
        try:
            line.decode("utf-8")
        except UnicodeDecodeError as error:
            bad = line[error.start : error.end].hex(" ")
            found = f"byte {bad} is not UTF-8, in {quoted(line.decode('utf-8', errors='replace'))}"
            problems.append(Problem("note", found, "save the note as UTF-8", file=file, line=number))
    raise NoteError(problems)


def split(text: str, *, file: str) -> FrontMatter:
    """Take a note apart. Trouble is listed in the result's problems; nothing is raised."""
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    first = next((n for n, line in enumerate(lines) if line.strip()), None)
    if first is None or not _FENCE.fullmatch(lines[first]):
        unread = _Reader([], start=1, file=file)
        if first is None:
            unread.report(1, "note", "an empty file", "begin the note with a line ---, then fields, then ---")
            return unread.result(body_line=1)
        remedy = "begin the note with a line ---, then its fields, one a line"
        unread.report(first + 1, "note", quoted(lines[first]), remedy)
        return unread.result(body_line=first + 1)
    end = next((n for n in range(first + 1, len(lines)) if _FENCE.fullmatch(lines[n])), None)
    if end is None:
        stop = next((n for n in range(first + 1, len(lines)) if not _FIELD_LINE.match(lines[n])), len(lines))
        unclosed = _Reader(lines[first + 1 : stop], start=first + 2, file=file)
        found = f"front matter opened on line {first + 1} and never closed"
        unclosed.report(min(stop + 1, len(lines)), "note", found, "put a line --- after the last field")
        return unclosed.result(body_line=stop + 1)
    reader = _Reader(lines[first + 1 : end], start=first + 2, file=file)
    for number, line in enumerate(lines[end + 1 :], start=end + 2):
        if match := CONTROL.search(line):
            reader.report(number, "note", f"control character {match[0]!r}", "delete it")
    return reader.result(body="\n".join(lines[end + 1 :]), body_line=end + 2, complete=True)


class _Reader:
    """Read the lines between the two fences; on an error, field by field, so that every trouble is found."""

    def __init__(self, head: Sequence[str], *, start: int, file: str) -> None:
        self.head, self.start, self.file = head, start, file
        self.entries: dict[str, Entry] = {}
        self.problems: list[Problem] = []
        self.broken: set[str] = set()
        self.seen: set[int] = set()
        if self._compose(head, start) is not None:
            self._read_field_by_field()

    def result(self, *, body: str = "", body_line: int, complete: bool = False) -> FrontMatter:
        """Return what was read, with the body below it."""
        return FrontMatter(
            entries=self.entries, body=body, body_line=body_line, problems=tuple(self.problems),
            broken=frozenset(self.broken), complete=complete,
        )  # fmt: skip

    def report(self, line: int, name: str, found: str, remedy: str) -> None:
        """Note what is wrong on a line (1-based)."""
        if len(self.problems) < _MOST_PROBLEMS:
            self.problems.append(Problem(name, found, remedy, file=self.file, line=line))

    def _read_field_by_field(self) -> None:
        for offset, lines in _chunks(self.head):
            error = self._compose(lines, self.start + offset)
            if error is None:
                continue
            key = _KEY.match(lines[0].strip())
            name = key[1] if key else "note"
            if key:
                self.broken.add(name)
            found, remedy = _explain(error, lines, key)
            self.report(self.start + offset + _line_in(error, lines), name, found, remedy)

    def _compose(self, lines: Sequence[str], start: int) -> yaml.YAMLError | None:
        text = "\n".join(lines) + "\n"
        bad = next((n for n, line in enumerate(lines) if _CONTROL_IN_HEAD.search(line)), None)
        if bad is not None:
            return _Control(bad)
        try:
            node = yaml.compose(text, Loader=yaml.CBaseLoader)
        except yaml.YAMLError as error:
            return error
        if node is None:
            return None
        if not isinstance(node, yaml.MappingNode):
            return yaml.YAMLError("not a field")
        self._take(node, lines, start)
        return None

    def _take(self, node: yaml.MappingNode, lines: Sequence[str], start: int) -> None:
        for key, value in node.value:
            line = start + key.start_mark.line
            if not isinstance(key, yaml.ScalarNode) or not key.value.strip():
                self.report(line, "note", "a field without a name", "write name: value")
                continue
            name = key.value.strip()
            if CONTROL.search(name):
                found = f"the name {quoted(name)} holds characters that cannot be shown"
                self.report(line, "note", found, "write a plain name: value")
                continue
            if name in self.entries:
                found = f"written twice, first on line {self.entries[name].line}"
                self.report(line, name, found, "keep one of the two")
                continue
            converted = self._convert(value, name, line)
            self.entries[name] = Entry(value=converted, line=line)
            for part in _plain_scalars(value):
                rest = lines[part.end_mark.line][part.end_mark.column :]
                if _SWALLOWED.match(rest):
                    found = f"what follows the # in {quoted(rest)} is lost"
                    remedy = f"put the text in quotes: {_suggest(part.value + rest)}"
                    self.report(start + part.end_mark.line, name, found, remedy)

    def _convert(self, node: yaml.Node, name: str, line: int, depth: int = 0) -> Value:
        if isinstance(node, yaml.ScalarNode):
            return str(node.value)
        if depth >= DEEPEST:
            return self._unread(
                line, name, "lists or mappings nested too deeply", f"nest at most {DEEPEST} levels"
            )
        if id(node) in self.seen:  # an alias: the same node a second time, perhaps within itself
            remedy = "write the value out, or put a text that starts with * in quotes"
            return self._unread(line, name, "a YAML alias (*)", remedy)
        self.seen.add(id(node))
        if isinstance(node, yaml.SequenceNode):
            return [self._convert(item, name, line, depth + 1) for item in node.value]
        mapping: dict[str, Value] = {}
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode):
                self.report(line, name, "a key that is not one text", "write key: value")
            elif key.value.strip() in mapping:
                at = line + key.start_mark.line - node.start_mark.line
                self.report(at, name, f"{quoted(key.value)} written twice", "keep one of the two")
            else:
                mapping[key.value.strip()] = self._convert(value, name, line, depth + 1)
        return mapping

    def _unread(self, line: int, name: str, found: str, remedy: str) -> str:
        self.report(line, name, found, remedy)
        self.broken.add(name)
        return ""


class _Control(yaml.YAMLError):
    """A control character stands on a line (0-based) of the text."""

    def __init__(self, line: int) -> None:
        super().__init__("control character")
        self.line = line


def _chunks(head: Sequence[str]) -> Iterator[tuple[int, Sequence[str]]]:
    """Yield each top-level field with its continuation lines, and how many lines stand before it."""
    starts = [n for n, line in enumerate(head) if line.strip() and not re.match(r"[ #]|-(?: |$)", line)]
    loose = next((n for n, line in enumerate(head) if line.strip() and not line.startswith("#")), None)
    if loose is not None and loose not in starts:
        starts.insert(0, loose)
    for place, begin in enumerate(starts):
        end = starts[place + 1] if place + 1 < len(starts) else len(head)
        yield begin, head[begin:end]


def _explain(error: yaml.YAMLError, lines: Sequence[str], key: re.Match[str] | None) -> tuple[str, str]:
    """Return what stands there and what to write instead, for one field that YAML could not read."""
    first = lines[0]
    if isinstance(error, _Control):
        bad = _CONTROL_IN_HEAD.search(lines[error.line])
        return f"control character {bad[0] if bad else ''!r}", "delete it"
    if "nesting depth" in str(error):
        return "lists or mappings nested too deeply", f"nest at most {DEEPEST} levels"
    if "\t" in first[: len(first) - len(first.lstrip())] or re.match(r"[^:]*:\t", first):
        return f"a tab in {quoted(first)}", "use spaces, one after the colon"
    if any("\t" in line[: len(line) - len(line.lstrip())] for line in lines):
        return "a tab at the start of a line", "use spaces"
    if key is None:
        return quoted(first), "write name: value, with a colon and a space"
    value = (key[2] or "").strip()
    if value.startswith("[") and len(lines) == 1:
        return quoted(value), "close the list with ] and put texts holding : [ ] { } or # in quotes"
    if value and len(lines) == 1:
        return quoted(value), f"put the text in quotes: {key[1]}: {_suggest(value)}"
    return quoted(" ".join(lines)), "indent what belongs to the field, and put texts holding : or # in quotes"


def _suggest(value: str) -> str:
    return "'" + value.replace("'", "''") + "'"


def _line_in(error: yaml.YAMLError, lines: Sequence[str]) -> int:
    if isinstance(error, _Control):
        return error.line
    mark = getattr(error, "problem_mark", None)
    line: int = mark.line if mark is not None else 0
    # An unclosed bracket or quote is noticed at the end; the trouble begins where the field does.
    return 0 if line >= len(lines) else line


def _plain_scalars(node: yaml.Node) -> Iterator[yaml.ScalarNode]:
    if isinstance(node, yaml.ScalarNode):
        if not node.style and node.value:
            yield node
    elif isinstance(node, yaml.SequenceNode):
        for item in node.value:
            if isinstance(item, yaml.ScalarNode):
                yield from _plain_scalars(item)
