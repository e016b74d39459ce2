"""The rules of blinks.toml: regular expressions in which each kind of word is one letter."""

import re
import tomllib
from collections.abc import Iterable
from functools import cache
from pathlib import Path

_TABLES = tomllib.loads(Path(__file__).with_name("blinks.toml").read_text(encoding="utf-8"))
_NAME = re.compile(r"[a-z]+")
# Kinds of what is in no list of words.
_MARKS = ("plus", "dash", "comma", "stop", "question")
_OTHER_KINDS = ("colour", "count", "one", "unsaid", "denied", "thing", "ish", "dots", "word", *_MARKS)

KIND_OF: dict[str, str] = {word: kind for kind, words in _TABLES["kinds"].items() for word in words.split()}
_KINDS = dict.fromkeys((*_TABLES["kinds"], *_OTHER_KINDS))
_LETTER_OF = {kind: chr(256 + place) for place, kind in enumerate(_KINDS)}


def letters(kinds: Iterable[str]) -> str:
    """Return one letter for each of some kinds."""
    return "".join(map(_LETTER_OF.__getitem__, kinds))


def _spread(kinds: str) -> str:
    """Return the letters of some kinds, of which some stand for several."""
    return "".join(_LETTER_OF.get(kind) or _spread(_TABLES["together"][kind]) for kind in kinds.split())


def _compiled(rule: str) -> re.Pattern[str]:
    return re.compile(_NAME.sub(lambda name: f"[{_spread(name[0])}]", rule), re.VERBOSE)


@cache
def _patterns(name: str) -> list[re.Pattern[str]]:
    rules = _TABLES["rules"].get(name, name)  # a kind is a rule by itself
    return [_compiled(rule) for rule in ([rules] if isinstance(rules, str) else rules)]


def fits(name: str, kinds: str) -> bool:
    """Tell whether one of the rules of a name fits somewhere in some kinds."""
    return any(pattern.search(kinds) for pattern in _patterns(name))


def reach(name: str, kinds: str) -> int:
    """Return how many kinds from the first on a rule takes in, 0 if it does not fit there."""
    match = _patterns(name)[0].match(kinds)
    return match.end() if match else 0


@cache
def joins() -> list[tuple[str, str, re.Pattern[str]]]:
    """Return how numbers are joined, what the pattern must have for it, and what stands between."""
    return [(joiner, needs, _compiled(rule)) for joiner, needs, rule in _TABLES["rules"]["between"]]
