"""Write a value as YAML that a technician can read: plain where it may be, quoted where it must be."""

import re
from collections.abc import Mapping
from typing import Any

_NOT_PLAIN_START = frozenset("-?:,[]{}#&*!|>'\"%@` ")
_BRACKETS = frozenset(",[]{}?")
_NOT_PLAIN = re.compile(r":(?:\s|$)|\s#|[\t\n\x85\u2028\u2029\ufeff]|\s$|^(?:---|\.\.\.|=$|<<$)")
_NEEDS_ESCAPE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ufeff\ud800-\udfff\ufffe\uffff]")
_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t"}
_LONG_ITEM = 30  # characters; items this long read better one a line; chosen by us


def spell_field(key: str, value: Any) -> str:
    """Return one field as YAML. value: text, list or mapping; long ones take several lines."""
    name = spell(key)
    if isinstance(value, Mapping) and value:
        return f"{name}:\n" + "".join(f"  {spell(name)}: {spell(item)}\n" for name, item in value.items())
    if isinstance(value, list) and any(len(str(item)) > _LONG_ITEM for item in value):
        return f"{name}:\n" + "".join(f"  - {spell(item)}\n" for item in value)
    if isinstance(value, str) and "\n" in value and _fits_block(value):
        block = "".join(f"  {line}\n" if line else "\n" for line in value.split("\n"))
        return f"{name}: |-\n{block}"
    return f"{name}: {spell(value)}\n" if value != "" else f"{name}:\n"


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
    barred = _NOT_PLAIN.search(text) or _NEEDS_ESCAPE.search(text) or (inside and _BRACKETS & set(text))
    if not text or barred:
        return False
    return text[1:2].isalnum() if text[0] == "-" else text[0] not in _NOT_PLAIN_START


def _escape(character: str) -> str:
    plain = f"\\u{ord(character):04x}" if _NEEDS_ESCAPE.match(character) else character
    return _ESCAPES.get(character, plain)


def _fits_block(text: str) -> bool:
    lines = text.split("\n")
    if not lines[-1] or not lines[0] or lines[0][0].isspace():
        return False
    return all(line == line.rstrip() and not _NEEDS_ESCAPE.search(line) for line in lines)
