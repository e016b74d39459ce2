"""The small word lists of reading, from words.toml beside this module."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path


@cache
def word_lists() -> Mapping[str, Mapping[str, str]]:
    """Return every list by section and name; the words of a list have white space between them."""
    lists: dict[str, dict[str, str]] = tomllib.loads(
        (Path(__file__).parent / "words.toml").read_text(encoding="utf-8")
    )
    return lists


def word_sets(section: str) -> dict[str, frozenset[str]]:
    """Return the lists of a section as sets, by name."""
    return {name: frozenset(words.split()) for name, words in word_lists()[section].items()}
