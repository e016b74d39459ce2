"""Write a value as YAML that a technician can read: plain where it may be, quoted where it must be."""

import re
from collections.abc import Mapping
from typing import Any

_NOT_PLAIN_START = frozenset("-?:,[]{}#&*!|>'\"%@` ")
_NOT_PLAIN = re.compile(r":(?:\s|$)|\s#|[\t\n\x85\u2028\u2029\ufeff]|\s$|^(?:---|\.\.\.|=$|<<$)")
_NEEDS_ESCAPE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ufeff\ud800-\udfff\ufffe\uffff]")
_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t"}
_LONG_ITEM = 30  # chosen by us: characters from which the items of a list read better one a line


def spell_field(key: str, value: Any) -> str:
    """Return one field of a front matter as YAML, ending in a newline.

    value: text, list or mapping. A text of several lines becomes a literal block where YAML can hold it; long
    items of a list, and those of a mapping, stand one a line.
    """
    name = spell(key)
    if isinstance(value, Mapping) and value:
        return f"{name}:\n" + "".join(f"  {spell(name)}: {spell(item)}\n" for name, item in value.items())
    if isinstance(value, list) and any(len(str(item)) > _LONG_ITEM for item in value):
        return f"{name}:\n" + "".join(f"  - {spell(item)}\n" for item in value)
    if value == "":
        return f"{name}:\n"
    if isinstance(value, str) and "\n" in value and _fits_block(value):
        block = "".join(f"  {line}\n" if line else "\n" for line in value.split("\n"))
        return f"{name}: |-\n{block}"
    return f"{name}: {spell(value)}\n"


def spell(value: Any, *, inside: bool = False) -> str:
    """Return a text, list or mapping on one line of YAML. inside: True within brackets."""
    if isinstance(value, Mapping):
        pairs = (f"{spell(key, inside=True)}: {spell(item, inside=True)}" for key, item in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(spell(item, inside=True) for item in value) + "]"
    text = str(value)
    if _is_plain(text, inside=inside):
        return text
    if not _NEEDS_ESCAPE.search(text) and ("'" not in text or '"' in text):
        return "'" + text.replace("'", "''") + "'"
    return '"' + "".join(map(_escape, text)) + '"'


def _is_plain(text: str, *, inside: bool) -> bool:
    if not text or _NOT_PLAIN.search(text) or _NEEDS_ESCAPE.search(text):
        return False
    if inside and any(character in ",[]{}?" for character in text):
        return False
    if text[0] == "-":
        return text[1:2].isalnum()
    return text[0] not in _NOT_PLAIN_START


def _escape(character: str) -> str:
    if character in _ESCAPES:
        return _ESCAPES[character]
    return f"\\u{ord(character):04x}" if _NEEDS_ESCAPE.match(character) else character


def _fits_block(text: str) -> bool:
    lines = text.split("\n")
    return (
        not any(_NEEDS_ESCAPE.search(line) for line in lines)
        and bool(lines[0].strip())
        and bool(lines[-1])
        and not lines[0][0].isspace()
        and all(line == line.rstrip() for line in lines)
    )
