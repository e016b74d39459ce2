"""Split a note into its body and its fields, each value as it was typed and with its line."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

import yaml

from kb.errors import NoteError, Problem, quoted

Value = str | list["Value"] | dict[str, "Value"]

_FENCE = re.compile(r"---[ \t]*")
_FIELD_LINE = re.compile(r"[^\s:#][^:]*:(?:\s|$)|\s+\S|- |-$|#")
_KEY = re.compile(r"([\w .-]+?)[ \t]*:(?:[ \t]+(.*))?$")
_SWALLOWED = re.compile(r"[ \t]+#[^ \t#]")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
# In the front matter YAML sees a line end in these, too, while editors and git do not.
_CONTROL_IN_HEAD = re.compile(CONTROL.pattern[:-1] + "\x85\u2028\u2029]")
_MOST_PROBLEMS, DEEPEST = 200, 20  # chosen by us: more than any note needs (test_frontmatter)
_CONTROL_SAID = "control character "
_ALIAS = ("a YAML alias (*)", "write the value out, or put a text that starts with * in quotes")
_TOO_DEEP = ("lists or mappings nested too deeply", f"nest at most {DEEPEST} levels")


class _Loader(yaml.CBaseLoader):
    def resolve(self, *node: object) -> str:
        """Leave every value a text: finding its type would take a tenth of the reading time."""
        return ""


class Entry(NamedTuple):
    """Hold one field of the front matter."""

    value: Value
    line: int  # where it starts, 1-based
    node: yaml.Node  # the value; its marks count lines from the first below the opening ---


@dataclass(kw_only=True)
class FrontMatter:
    """Hold a note taken apart. After an error the head is read field by field, to find every problem."""

    file: str
    head_line: int = 1  # first line below the opening ---, 1-based
    entries: dict[str, Entry] = field(default_factory=dict)  # fields in their order
    body: str = ""  # everything after the closing ---
    body_line: int = 1  # where the body starts, 1-based
    problems: list[Problem] = field(default_factory=list)  # of what could not be read
    broken: set[str] = field(default_factory=set)  # names of fields that are there but could not be read
    complete: bool = False  # False without a closing ---: a missing field may stand further down
    _seen: set[int] = field(default_factory=set)  # lists and mappings met so far

    def report(self, line: int, name: str, found: str, remedy: str) -> None:
        """Add the problem of a line (1-based)."""
        if len(self.problems) < _MOST_PROBLEMS:
            self.problems.append(Problem(name, found, remedy, file=self.file, line=line))

    def read(self, head: Sequence[str]) -> None:
        """Take in every field that can be read, and report the others."""
        if self._compose(head, self.head_line) is None:
            return
        for offset, lines in _chunks(head):
            start = self.head_line + offset
            if (error := self._compose(lines, start)) is None:
                continue
            if key := _KEY.match(lines[0].strip()):
                self.broken.add(key[1])
            mark = getattr(error, "problem_mark", None)
            # YAML notices an unclosed bracket or quote at the end; the mistake is where the field begins.
            at = mark.line if mark is not None and mark.line < len(lines) else 0
            self.report(start + at, key[1] if key else "note", *_explain(error, lines, key))

    def _compose(self, lines: Sequence[str], start: int) -> yaml.YAMLError | None:
        for number, line in enumerate(lines):
            if bad := _CONTROL_IN_HEAD.search(line):
                mark = yaml.Mark("", 0, number, 0, "", 0)
                return yaml.MarkedYAMLError(problem=f"{_CONTROL_SAID}{bad[0]!r}", problem_mark=mark)
        try:
            node = yaml.compose("\n".join(lines) + "\n", Loader=_Loader)
        except yaml.YAMLError as error:
            return error
        if isinstance(node, yaml.MappingNode):
            self._take(node, lines, start)
        return None if node is None or isinstance(node, yaml.MappingNode) else yaml.YAMLError("not a field")

    def _take(self, node: yaml.MappingNode, lines: Sequence[str], start: int) -> None:
        for key, value in node.value:
            line = start + key.start_mark.line
            name = key.value.strip() if isinstance(key, yaml.ScalarNode) else ""
            if not name:
                self.report(line, "note", "a field without a name", "write name: value")
            elif CONTROL.search(name):
                found = f"the name {quoted(name)} holds characters that cannot be shown"
                self.report(line, "note", found, "write a plain name: value")
            elif known := self.entries.get(name):
                self.report(line, name, f"written twice, first on line {known.line}", "keep one of the two")
            else:
                converted = self._convert(value, name, line)
                self.entries[name] = Entry(value=converted, line=line, node=value)
                for part in value.value if isinstance(value, yaml.SequenceNode) else [value]:
                    self._report_swallowed(part, name, lines, start)

    def _report_swallowed(self, node: yaml.Node, name: str, lines: Sequence[str], start: int) -> None:
        """Report text behind a # that YAML drops as a comment, though it may belong to the value."""
        if isinstance(node, yaml.ScalarNode) and not node.style and node.value:
            rest = lines[node.end_mark.line][node.end_mark.column :]
            if _SWALLOWED.match(rest):
                remedy = f"put the text in quotes: {_suggest(node.value + rest)}"
                found = f"what follows the # in {quoted(rest)} is lost"
                self.report(start + node.end_mark.line, name, found, remedy)

    def _convert(self, node: yaml.Node, name: str, line: int, depth: int = 0) -> Value:
        if isinstance(node, yaml.ScalarNode):
            return str(node.value)
        if depth >= DEEPEST or id(node) in self._seen:  # seen before: an alias, which may contain itself
            self.report(line, name, *(_TOO_DEEP if depth >= DEEPEST else _ALIAS))
            self.broken.add(name)
            return ""
        self._seen.add(id(node))
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


def decode_note(data: bytes, *, file: str) -> str:
    """Return a note's UTF-8 text with "\\n" for line ends. Raises: NoteError with every bad line."""
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
    front, first = FrontMatter(file=file), next((n for n, line in enumerate(lines) if line.strip()), None)
    if first is None:
        front.report(1, "note", "an empty file", "begin the note with a line ---, then fields, then ---")
        return front
    front.body_line = first + 1
    if not _FENCE.fullmatch(lines[first]):
        remedy = "begin the note with a line ---, then its fields, one a line"
        front.report(first + 1, "note", quoted(lines[first]), remedy)
        return front
    front.head_line = first + 2
    end = next((n for n in range(first + 1, len(lines)) if _FENCE.fullmatch(lines[n])), None)
    if end is None:
        stop = next((n for n in range(first + 1, len(lines)) if not _FIELD_LINE.match(lines[n])), len(lines))
        front.body_line = stop + 1
        front.read(lines[first + 1 : stop])
        found = f"front matter opened on line {first + 1} and never closed"
        front.report(min(stop + 1, len(lines)), "note", found, "put a line --- after the last field")
        return front
    front.read(lines[first + 1 : end])
    for number, line in enumerate(lines[end + 1 :], start=end + 2):
        if match := CONTROL.search(line):
            front.report(number, "note", f"control character {match[0]!r}", "delete it")
    front.body, front.body_line, front.complete = "\n".join(lines[end + 1 :]), end + 2, True
    return front


def _chunks(head: Sequence[str]) -> Iterator[tuple[int, Sequence[str]]]:
    """Yield how many lines stand before each top-level field, and all lines of that field."""
    starts = [n for n, line in enumerate(head) if line.strip() and not re.match(r"[ #]|-(?: |$)", line)]
    loose = next((n for n, line in enumerate(head) if line.strip() and not line.startswith("#")), None)
    if loose is not None and loose not in starts:
        starts.insert(0, loose)
    for begin, end in pairwise([*starts, len(head)]):
        yield begin, head[begin:end]


def _explain(error: yaml.YAMLError, lines: Sequence[str], key: re.Match[str] | None) -> tuple[str, str]:
    """Return what stands there and what to write instead, for one field that YAML could not read."""
    first = lines[0]
    said = str(getattr(error, "problem", "") or error)
    if said.startswith(_CONTROL_SAID):
        return said, "delete it"
    if "nesting depth" in said:
        return _TOO_DEEP
    if re.match(r"\s*\t|[^:]*:\t", first):
        return f"a tab in {quoted(first)}", "use spaces, one after the colon"
    if any(re.match(r"\s*\t", line) for line in lines):
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
