"""Change single fields of a note's text and leave every other byte as it stands.

The places come from the YAML parser's own marks. Each change is read back before it counts: the field must
say what was asked for, and every other field what it said before.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import yaml

from kb.errors import BenchloreError
from kb.notes.fields import plain_value
from kb.notes.frontmatter import Value, split
from kb.notes.spelling import spell, spell_field

_FENCE = re.compile(r"---[ \t]*(?:\r\n|\r|\n)?")
_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+$")

# A field's name and value, and its lines: the first, and the one after the last.
_Span = tuple[yaml.Node, yaml.Node, int, int]


class EditError(BenchloreError):
    """A field cannot be changed without touching others; the note is as it was."""


def edit_fields(text: str, changes: Mapping[str, Any], *, order: Sequence[str]) -> str:
    """Return the note's text with the given fields changed.

    changes: by front matter key; a text, list or mapping to write, "" or [] to leave the key with nothing in
    it, None to take it out. order: keys in writing order; a new key goes where it belongs among those.
    The note must be readable as YAML. Raises: EditError.
    """
    for key, value in changes.items():
        wanted = None if value is None else plain_value(value)
        entries = split(text, file="").entries
        if wanted is None and key not in entries:
            continue
        if key in entries and wanted == entries[key].value:
            continue
        if key not in entries and wanted in ("", [], {}):
            continue
        text = _edit_one(text, key, "" if wanted in ([], {}) else wanted, order)
    return text


def replace_body(text: str, body: str) -> str:
    """Return the note's text with another body, in the note's own kind of line ends."""
    lines = _LINE.findall(text)
    _, end = _fences(lines)
    newline = _newline(lines)
    head = "".join(lines[: end + 1])
    if not head.endswith(("\n", "\r")):
        head += newline
    return head + (body.replace("\n", newline) + newline if body else "")


def _edit_one(text: str, key: str, wanted: Value | None, order: Sequence[str]) -> str:
    lines = _LINE.findall(text)
    begin, end = _fences(lines)
    head = _Head(lines=lines[begin + 1 : end], newline=_newline(lines))
    for edited in head.ways(key, wanted, order):
        result = "".join([*lines[: begin + 1], *edited, *lines[end:]])
        if _says(result, text, key, wanted):
            return result
    raise EditError(f"{key}: cannot be changed without touching other fields; change it in an editor")


def _says(result: str, before: str, key: str, wanted: Value | None) -> bool:
    """Tell whether the result says what is wanted, and everything else as it was, in the old order."""
    new, old = split(result, file=""), split(before, file="")
    if new.body != old.body or len(new.problems) > len(old.problems):
        return False
    got = {name: entry.value for name, entry in new.entries.items()}
    kept = {name: entry.value for name, entry in old.entries.items()}
    if got.pop(key, None) != wanted:
        return False
    kept.pop(key, None)
    return list(got.items()) == list(kept.items())


@dataclass(frozen=True, kw_only=True)
class _Head:
    """Hold the lines between the fences, with their line ends, and edit one field."""

    lines: list[str]
    newline: str

    def ways(self, key: str, wanted: Value | None, order: Sequence[str]) -> list[list[str]]:
        """Return edited lines, the smallest change first; the first that reads back right is taken."""
        spans = self._spans()
        if key not in spans:
            return [self._insert(key, wanted, spans, order)]
        name, value, start, stop = spans[key]
        kept = _comments(self.lines[start:stop])
        if wanted is None:
            return [self._with(start, stop, kept)]
        ways = []
        if isinstance(value, yaml.SequenceNode) and not value.flow_style and isinstance(wanted, list):
            ways.append(self._with(start, stop, self._items(value, wanted, start, stop)))
        elif _is_spliceable(value):
            ways.append(self._splice(name, value, wanted))
        comments = kept if isinstance(value, yaml.CollectionNode) else []
        ways.append(self._with(start, stop, [*self._spelled(key, wanted), *comments]))
        return ways

    def _with(self, start: int, stop: int, lines: Sequence[str]) -> list[str]:
        return [*self.lines[:start], *lines, *self.lines[stop:]]

    def _spans(self) -> dict[str, _Span]:
        """Return each field's nodes and lines; comments and blank lines after it belong to what follows."""
        node = yaml.compose(
            "\n".join(line.rstrip("\r\n") for line in self.lines) + "\n", Loader=yaml.CBaseLoader
        )
        if not isinstance(node, yaml.MappingNode):
            return {}
        starts = [name.start_mark.line for name, _ in node.value]
        spans: dict[str, _Span] = {}
        for place, (name, value) in enumerate(node.value):
            stop = starts[place + 1] if place + 1 < len(starts) else len(self.lines)
            while stop > starts[place] + 1 and re.match(r"\s*$|#", self.lines[stop - 1]):
                stop -= 1
            spans.setdefault(str(name.value).strip(), (name, value, starts[place], stop))
        return spans

    def _insert(
        self, key: str, wanted: Value | None, spans: Mapping[str, _Span], order: Sequence[str]
    ) -> list[str]:
        earlier = order[: order.index(key)] if key in order else list(spans)
        at = max((spans[name][3] for name in earlier if name in spans), default=0)
        return self._with(at, at, self._spelled(key, wanted))

    def _splice(self, name: yaml.Node, value: yaml.Node, wanted: Value | None) -> list[str]:
        """Put the new value between the old one's marks, so that a comment behind it stays."""
        begin, end = value.start_mark, value.end_mark
        spelled = spell(wanted) if wanted != "" else ""
        if isinstance(value, yaml.ScalarNode) and not value.value and not value.style:
            line = self.lines[name.end_mark.line]
            colon = line.index(":", name.end_mark.column) + 1
            spliced = f"{line[:colon]} {spelled}{line[colon:]}"
            return self._with(name.end_mark.line, name.end_mark.line + 1, [spliced])
        first, last = self.lines[begin.line], self.lines[end.line] if end.line < len(self.lines) else ""
        head, tail = first[: begin.column], last[end.column :]
        if not spelled:
            head = head.rstrip()
        within = self.lines[begin.line + 1 : end.line + 1] if isinstance(value, yaml.CollectionNode) else ()
        comments = [line.lstrip() for line in _comments(within)]
        spliced = head + spelled + (tail or self.newline)
        return self._with(begin.line, min(end.line + 1, len(self.lines)), [spliced, *comments])

    def _items(self, value: yaml.SequenceNode, wanted: list[Value], start: int, stop: int) -> list[str]:
        """Rewrite a list of one item a line; items that stay keep their own lines and comments."""
        starts = [item.start_mark.line for item in value.value] + [stop]
        indent = " " * value.start_mark.column
        lines = self.lines[start : starts[0]]
        old: list[tuple[Value, list[str]]] = []
        for place, item in enumerate(value.value):
            block = self.lines[starts[place] : starts[place + 1]]
            old.append((str(item.value) if isinstance(item, yaml.ScalarNode) else "", block))
        for text in wanted:
            match = next((place for place, (said, _) in enumerate(old) if said == text), None)
            if match is None:
                lines.append(f"{indent}- {spell(text)}{self.newline}")
                continue
            lines += [*_comments(passed for _, block in old[:match] for passed in block), *old[match][1]]
            del old[: match + 1]
        return [*lines, *_comments(passed for _, block in old for passed in block)]

    def _spelled(self, key: str, wanted: Value | None) -> list[str]:
        return [line + self.newline for line in spell_field(key, wanted).removesuffix("\n").split("\n")]


def _comments(lines: Iterable[str]) -> list[str]:
    return [line for line in lines if line.lstrip().startswith("#")]


def _is_spliceable(value: yaml.Node) -> bool:
    """Tell whether a value stands between its marks as it would on one line: not in a block of its own."""
    if isinstance(value, yaml.ScalarNode):
        return value.style not in ("|", ">")
    return isinstance(value, yaml.CollectionNode) and bool(value.flow_style)


def _fences(lines: Sequence[str]) -> tuple[int, int]:
    """Return the lines (0-based) of the opening and the closing fence of a note that has both."""
    found = [number for number, line in enumerate(lines) if _FENCE.fullmatch(line.removeprefix("\ufeff"))][:2]
    if len(found) < 2:
        raise EditError("the front matter has no end; put a line --- after the last field")
    return found[0], found[1]


def _newline(lines: Sequence[str]) -> str:
    first = lines[0] if lines else "\n"
    return "\r\n" if first.endswith("\r\n") else "\n"
