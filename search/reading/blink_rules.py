"""The rules of blinks.toml: regular expressions in which each kind of word is one letter."""

import re
import tomllib
from collections.abc import Iterable
from functools import cache
from pathlib import Path

_TABLES = tomllib.loads(Path(__file__).with_name("blinks.toml").read_text(encoding="utf-8"))
_NAME = re.compile(r"[a-z]+")
_OTHER_KINDS = (  # of what is in no list of words
    "colour", "count", "one", "unsaid", "denied", "thing", "ish", "dots",
    "plus", "dash", "comma", "stop", "question",
)  # fmt: skip

KIND_OF: dict[str, str] = {word: kind for kind, words in _TABLES["kinds"].items() for word in words.split()}
_LETTER_OF = {kind: chr(256 + place) for place, kind in enumerate((*_TABLES["kinds"], *_OTHER_KINDS))}


def letters(kinds: Iterable[str]) -> str:
    """Return one letter for each of some kinds."""
    return "".join(map(_LETTER_OF.__getitem__, kinds))


def _spread(kinds: str) -> str:
    """Return the letters of some kinds, of which some stand for several."""
    return "".join(_LETTER_OF.get(kind) or _spread(_TABLES["together"][kind]) for kind in kinds.split())


def _compiled(*rules: str) -> re.Pattern[str]:
    return re.compile(_NAME.sub(lambda name: f"[{_spread(name[0])}]", "|".join(rules)), re.VERBOSE)


@cache
def rule(name: str) -> re.Pattern[str]:
    """Return the rules of a name as one expression; a kind is a rule by itself."""
    rules = _TABLES["rules"].get(name, name)
    return _compiled(*([rules] if isinstance(rules, str) else rules))


def fits(name: str, kinds: str) -> bool:
    """Tell whether one of the rules of a name fits somewhere in some kinds."""
    return rule(name).search(kinds) is not None


# How numbers are joined, what the pattern must have for it, and what stands between.
JOINS = [(joiner, needs, _compiled(between)) for joiner, needs, between in _TABLES["rules"]["between"]]
