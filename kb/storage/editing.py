"""Change single fields of a note's text and leave every other byte as it stands.

The YAML parser's own marks tell where each field stands. Each change is read back before it counts: the field
must say what was asked for, and every other field what it said before.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain, pairwise
from typing import Any

import yaml

from kb.errors import NoteError
from kb.notes.frontmatter import FrontMatter, Value, split
from kb.notes.yaml_text import spell, spell_field

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+$")


def edit_fields(text: str, changes: Mapping[str, Any], *, order: Sequence[str]) -> str:
    """Return the text of a note with some fields changed; its head must be readable YAML.

    changes: by key; "" or [] empties a field, None removes its key. order: all keys in writing order; a new
    key is put in its place among them. Raises: NoteError when a field cannot be changed by itself.
    """
    for key, value in changes.items():
        front, wanted = split(text, file=""), "" if value in ([], {}) else value
        entry = front.entries.get(key)
        if value == (entry and entry.value) or (entry is None and wanted == ""):
            continue
        for lines in _Head(text, front).ways(key, wanted, order):
            result = "".join(lines)
            if _says(split(result, file=""), front, key, wanted):
                text = result
                break
        else:
            found = "cannot be changed without touching other fields"
            raise NoteError.of(key, found, "change it in an editor")
    return text


def replace_body(text: str, body: str) -> str:
    """Return the note's text with another body, with line ends as in the rest of the note."""
    head = _Head(text, split(text, file=""))
    kept = "".join(head.all_lines[: head.end + 1])
    kept += "" if kept.endswith(("\n", "\r")) else head.newline
    return kept + (body.replace("\n", head.newline) + head.newline if body else "")


def _says(new: FrontMatter, old: FrontMatter, key: str, wanted: Value | None) -> bool:
    """Tell whether the field says what is wanted, and all others what they said, in the old order."""
    got = {name: entry.value for name, entry in new.entries.items()}
    kept = [(name, entry.value) for name, entry in old.entries.items() if name != key]
    says_it = got.pop(key, None) == wanted and list(got.items()) == kept
    return says_it and new.body == old.body and len(new.problems) <= len(old.problems)


class _Head:
    """The lines between the two ---, with their line ends; one field of them can be edited."""

    def __init__(self, text: str, front: FrontMatter) -> None:
        if not front.complete:
            remedy = "put a line --- after the last field"
            raise NoteError.of("note", "the front matter has no end", remedy)
        self.all_lines = _LINE.findall(text)
        self.begin, self.end = front.head_line - 1, front.body_line - 2
        self.lines = self.all_lines[self.begin : self.end]
        self.newline = "\r\n" if self.all_lines[0].endswith("\r\n") else "\n"
        self.entries = front.entries
        # By field: its first line, and the line after its last.
        self.spans: dict[str, tuple[int, int]] = {}
        starts = [entry.line - front.head_line for entry in front.entries.values()]
        for name, start, stop in zip(front.entries, starts, [*starts[1:], len(self.lines)], strict=True):
            # Comments and blank lines after a field belong to what follows.
            while stop > start + 1 and re.match(r"\s*$|#", self.lines[stop - 1]):
                stop -= 1
            self.spans[name] = (start, stop)

    def ways(self, key: str, wanted: Value | None, order: Sequence[str]) -> Iterator[list[str]]:
        """Yield edited notes, the smallest change first; the first that reads back right is taken."""
        if key not in self.spans:
            earlier = order[: order.index(key)] if key in order else list(self.spans)
            at = max((self.spans[name][1] for name in earlier if name in self.spans), default=0)
            yield self._with(at, at, self._spelled(key, wanted))
            return
        start, stop = self.spans[key]
        kept, value = _comments(self.lines[start:stop]), self.entries[key].node
        if wanted is None:
            yield self._with(start, stop, kept)
            return
        listed, block = isinstance(value, yaml.CollectionNode), getattr(value, "style", "") in ("|", ">")
        if isinstance(value, yaml.SequenceNode) and not value.flow_style and isinstance(wanted, list):
            yield self._with(start, stop, self._items(value, wanted, start, stop))
        elif getattr(value, "flow_style", not block):
            yield self._splice(value, wanted)
        yield self._with(start, stop, [*self._spelled(key, wanted), *(kept if listed else [])])

    def _with(self, start: int, stop: int, lines: Sequence[str]) -> list[str]:
        """Return the whole note with some lines of the head replaced."""
        return [*self.all_lines[: self.begin + start], *lines, *self.all_lines[self.begin + stop :]]

    def _splice(self, value: yaml.Node, wanted: Value | None) -> list[str]:
        """Replace only the value itself, so that a comment behind it stays."""
        begin, end = value.start_mark, value.end_mark
        spelled = spell(wanted) if wanted != "" else ""
        first, last = self.lines[begin.line], self.lines[end.line] if end.line < len(self.lines) else ""
        head, tail = first[: begin.column], last[end.column :]
        head = re.sub(r":$", ": ", head) if spelled else head.rstrip()
        within = self.lines[begin.line + 1 : end.line + 1] if isinstance(value, yaml.CollectionNode) else ()
        comments = [line.lstrip() for line in _comments(within)]
        spliced = head + spelled + (tail or self.newline)
        return self._with(begin.line, min(end.line + 1, len(self.lines)), [spliced, *comments])

    def _items(self, value: yaml.SequenceNode, wanted: list[Value], start: int, stop: int) -> list[str]:
        """Rewrite a list with one item a line; unchanged items keep their lines and comments."""
        starts = [item.start_mark.line for item in value.value] + [stop]
        indent = " " * value.start_mark.column
        lines = self.lines[start : starts[0]]
        blocks = [self.lines[begin:end] for begin, end in pairwise(starts)]
        said = [str(item.value) if isinstance(item, yaml.ScalarNode) else "" for item in value.value]
        for text in wanted:
            if text not in said:
                lines.append(f"{indent}- {spell(text)}{self.newline}")
                continue
            at = said.index(text)
            lines += [*_comments(chain(*blocks[:at])), *blocks[at]]
            del said[: at + 1], blocks[: at + 1]
        return [*lines, *_comments(chain(*blocks))]

    def _spelled(self, key: str, wanted: Value | None) -> list[str]:
        return [line + self.newline for line in spell_field(key, wanted).removesuffix("\n").split("\n")]


def _comments(lines: Iterable[str]) -> list[str]:
    return [line for line in lines if line.lstrip().startswith("#")]
